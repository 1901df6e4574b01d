"""A relief's folder as anything may have left it."""

import json

import numpy as np
import pytest
from PIL import Image

from ironlace.evidence.errors import IronlaceError
from ironlace.workshop.marks.plate_views import View, relief_is_whole, view_of

TOLD = {
    "mm_per_px": 0.1,
    "scale_known": True,
    "frames": [{"file": "a.jpg", "used": True}],
    "lobe": {"strength": 0.5, "exponent": 12},
}


@pytest.fixture
def relief(tmp_path):
    normals = np.zeros((70, 90, 3), np.float32)
    normals[..., 2] = 1
    np.save(tmp_path / "normals.npy", normals)
    np.save(tmp_path / "height.npy", np.zeros((70, 90), np.float32))
    noise = np.random.default_rng(5).integers(0, 255, (70, 90), np.uint8)
    Image.fromarray(noise).save(tmp_path / "albedo.png")
    (tmp_path / "relief.json").write_text(json.dumps(TOLD))
    return tmp_path


FILES = ("normals.npy", "height.npy", "albedo.png", "relief.json")


def test_a_whole_relief_is_told_as_whole_and_seen(relief):
    assert relief_is_whole(relief)
    assert view_of(relief, View()).told["pixels"] == [90, 70]


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("left", [None, 0, 0.5])
def test_a_file_missing_or_cut_short_is_no_whole_relief(relief, name, left):
    content = (relief / name).read_bytes()
    (relief / name).unlink()
    if left is not None:
        (relief / name).write_bytes(content[: int(left * len(content))])
    assert not relief_is_whole(relief)
    with pytest.raises(IronlaceError, match="relief"):
        view_of(relief, View())


@pytest.mark.parametrize(
    "changed",
    [
        {"lobe": {"strength": "much"}},
        {"lobe": {"exponent": None}},
        {"lobe": 3},
        {"frames": ["a.jpg"]},
        {"frames": 3},
        {"mm_per_px": "fine"},
    ],
)
def test_a_document_that_tells_otherwise_is_refused_in_a_sentence(relief, changed):
    (relief / "relief.json").write_text(json.dumps(TOLD | changed))
    with pytest.raises(IronlaceError, match="make it anew"):
        view_of(relief, View())


@pytest.mark.parametrize("shape", [(), (7,), (70, 90), (70, 90, 2), (70, 90, 3, 1), (60, 90, 3)])
def test_normals_of_another_shape_are_refused_in_a_sentence(relief, shape):
    np.save(relief / "normals.npy", np.zeros(shape, np.float32))
    with pytest.raises(IronlaceError, match=r"make (it|the relief) anew"):
        view_of(relief, View())
