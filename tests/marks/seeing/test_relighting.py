import numpy as np
import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.relief.reflectance import Lobe
from ironlace.marks.seeing.relighting import UNKNOWN, Torch, relit
from ironlace.photographs.linear_light import decode
from lit_surfaces import matt_pictures, sphere_cap

MATT = Lobe(0.0, 10.0)


def test_a_matt_sphere_is_lit_by_lamberts_law():
    _, normals, inside = sphere_cap(121, 90, 50)
    for torch in (Torch(30, 40), Torch(200, 70)):
        (true,) = matt_pictures(normals, np.array([torch.direction]), albedo=1.0)
        shown = decode(relit(normals.astype(np.float32), None, 1.0, MATT, torch) / 255.0)
        lit = inside & (true > 0.05)
        ratio = shown[lit] / true[lit]
        assert np.ptp(ratio) / ratio.mean() < 0.05  # eight bits in the dark


def test_the_torch_stands_where_it_is_said_to():
    _, normals, _ = sphere_cap(121, 90, 50)
    normals = normals.astype(np.float32)
    for azimuth, brighter, darker in (
        (0, np.s_[60, 100], np.s_[60, 20]),
        (90, np.s_[20, 60], np.s_[100, 60]),
        (180, np.s_[60, 20], np.s_[60, 100]),
        (270, np.s_[100, 60], np.s_[20, 60]),
    ):
        shown = relit(normals, None, 1.0, Lobe(1.0, 12.0), Torch(azimuth, 30))
        assert shown[brighter] > int(shown[darker]) + 20


def test_flat_metal_is_as_bright_whatever_the_torch_and_stains_show():
    flat = np.zeros((4, 6, 3), np.float32)
    flat[..., 2] = 1
    flat[0, 0] = 0
    albedo = np.full((4, 6), 120, np.uint8)
    albedo[2] = 40
    for elevation in (10, 45, 90):
        shown = relit(flat, albedo, 120.0, Lobe(2.0, 20.0), Torch(10, elevation))
        assert abs(int(shown[1, 3]) - 129) < 2  # 0.22 of white, on the curve
        assert shown[2, 3] < 90
        assert shown[0, 0] == UNKNOWN


@pytest.mark.parametrize("place", [(0, 0), (0, 91), (float("nan"), 20)])
def test_a_torch_below_the_plate_is_refused(place):
    with pytest.raises(MarksError, match="an elevation from 3 to 90 is needed"):
        Torch(*place)
