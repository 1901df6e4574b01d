import numpy as np
import pytest

from ironlace.marks.capture.capturing import CaptureAsked, GivenBall
from ironlace.marks.capture.frames import Frames
from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import light_at
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.errors import MarksError
from ironlace.marks.relief.other_light import other_light, shadow_places
from ironlace.marks.relief.plate_relief import plate_of
from strange_light import Room, photographed

ROOM = Room(
    ambient=0.3, shape=(210, 330), mm_per_px=0.09, count=9, balls=((-11.0, 5.6), (11.0, -5.6))
)


@pytest.fixture(scope="module")
def taken():
    return photographed(np.random.default_rng(21), ROOM)


def asked(taken, places):
    balls = [GivenBall(Circle(*ball), 3.0) for ball in taken.balls_px]
    return CaptureAsked(balls=balls, lights=[light_at(place) for place in places])


def frames(taken):
    return Frames(tuple(f"{n}.jpg" for n in range(len(taken.frames))), tuple(taken.frames))


def test_light_left_on_is_taken_out_and_said_and_one_wrong_torch_left_out_by_name(taken):
    places = taken.lights_mm.copy()
    places[4, :2] *= -1.0
    found, relief = plate_of(frames(taken), asked(taken, places), workers=2, encoding="srgb")
    assert found.why[4]
    assert found.used == [0, 1, 2, 3, 5, 6, 7, 8]
    assert relief.notices[0].startswith("Light other than the torch's was on")
    assert "4.jpg" in relief.notices[1]
    assert 0.2 < relief.other.usual < 0.4
    known = taken.bare & (relief.normals[..., 2] > 0)
    told, true = (n[known][:, :2] / n[known][:, 2:] for n in (relief.normals, taken.normals))
    gentle = np.abs(true).max(1) < 0.4
    steep = (told[gentle] * true[gentle]).sum() / (true[gentle] ** 2).sum()
    assert 0.8 < steep < 1.2  # 0.6 while it was taken for the torch's


def test_torches_that_throw_no_such_shadows_are_refused(taken):
    mirrored = taken.lights_mm * np.array([1.0, -1.0, 1.0])
    with pytest.raises(MarksError, match="shadows do not lie where"):
        plate_of(frames(taken), asked(taken, mirrored), workers=2, encoding="srgb")


def test_a_steady_light_is_parted_from_one_that_goes_with_the_torch():
    upright = np.array([0.1, 0.15, 0.2, 0.3, 0.4, 0.25])
    near = np.zeros(6)
    lamp = other_light(0.03 / upright, near, upright)
    assert lamp.along < 0.01
    assert lamp.shares == pytest.approx(0.03 / upright)
    assert "other than the torch's" in lamp.told()
    second = other_light(np.full(6, 0.25), near, upright)
    assert second.steady < 0.01
    assert second.doubtful
    assert second.told().startswith("Another light goes with the torch")
    dark = other_light(np.array([0.02, 0.03, np.nan, 0.02, 0.01, 0.02]), near, upright)
    assert dark.told() == ""
    assert not dark.misplaced.any()
    assert dark.shares[2] == pytest.approx(0.02, abs=0.01)


def test_one_photograph_whose_shadow_is_lit_or_lies_beside_is_named():
    upright = np.linspace(0.1, 0.3, 6)
    shares, beside = np.full(6, 0.02), np.full(6, 0.05)
    shares[1], beside[4] = 0.7, 0.6
    assert list(np.flatnonzero(other_light(shares, beside, upright).misplaced)) == [1, 4]


def test_places_in_shadow_and_beside_it_lie_so():
    plate = PlateFrame((120, 200), 0.1, True)
    ball, torch = Circle(100.0, 60.0, 20.0), np.array([-90.0, 40.0, 110.0])
    within, without = shadow_places(light_at(torch), (ball,), plate)
    middle = np.array([*plate.to_mm(ball.x, ball.y), 2.0])

    def miss(y, x):
        places = np.stack([*plate.to_mm(x, y), np.zeros(len(x))], 1)
        way = torch - places
        way /= np.linalg.norm(way, axis=1, keepdims=True)
        return np.linalg.norm(np.cross(middle - places, way), axis=1) / 0.1

    assert len(within[0]) > 100
    assert miss(*within).max() < 16.5
    assert miss(*without).min() > 20.5
    assert miss(*without).max() < 26.5
