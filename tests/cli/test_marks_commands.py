import json

import numpy as np
import pytest
from PIL import Image

from ironlace.cli.program import main
from lit_surfaces import ball_scene


def run(*words):
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    return ended.value.code or 0


@pytest.fixture(scope="module")
def photographed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plate")
    scene = ball_scene(
        np.random.default_rng(5),
        shape=(300, 460),
        mm_per_px=0.075,
        places=((60.4, 55.3), (398.8, 243.6)),
        count=9,
        finer=2,
        gamma=2.2,
    )
    files = []
    for number, frame in enumerate(scene.frames):
        files.append(folder / f"{number:02d}.jpg")
        Image.fromarray(frame).save(files[-1], quality=94)
    return scene, files


def test_a_relief_is_written_as_scripts_expect_it(photographed, tmp_path):
    scene, files = photographed
    out = tmp_path / "relief"
    words = ["--ball-mm", 6, "--out", out, "--json", tmp_path / "a.json"]
    assert run("marks", "relief", *files, *words) == 0
    normals, height = np.load(out / "normals.npy"), np.load(out / "height.npy")
    assert normals.shape == (300, 460, 3)
    assert (normals.dtype, height.dtype, height.shape) == (np.float32, np.float32, (300, 460))
    with Image.open(out / "albedo.png") as albedo:
        assert albedo.size == (460, 300)
    told = json.loads((out / "relief.json").read_text(encoding="utf-8"))
    assert told == json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))
    assert told["scale_known"]
    assert told["mm_per_px"] == pytest.approx(0.075, rel=0.01)
    assert {"x", "y", "r_px", "r_mm"} <= set(told["balls"][0])
    assert [one["file"] for one in told["frames"]] == [file.name for file in files]
    for one, light in zip(told["frames"], scene.lights_mm, strict=True):
        assert one["used"]
        assert one["why"] == ""
        assert np.linalg.norm(np.array(one["light_mm"]) - light) < 0.12 * np.linalg.norm(light)
        assert len(one["shift_px"]) == 2
        assert {"turn_deg", "gain"} <= set(one)
    assert told["slope_gain"]["low"] <= told["slope_gain"]["value"] <= told["slope_gain"]["high"]
    assert told["missing_quadrants"] == []
    assert told["coverage"] >= 0.99
    assert told["seconds"] > 0
    assert all(len(one["sha256"]) == 64 for one in told["frames"])
    view = ["marks", "view", out, "--torch", "90,20", "--px", 200, "--out", tmp_path / "lit.png"]
    assert run(*view) == 0
    with Image.open(tmp_path / "lit.png") as picture:
        assert picture.size == (200, 130)
        said = json.loads(picture.text["Ironlace view"])
    assert (said["torch_azimuth_deg"], said["look"]) == (90, "raking")
    assert said["photographs"][0]["sha256"] == told["frames"][0]["sha256"]
    assert run(*view) == 2  # it is there already
    # made again, it takes the place of the first
    assert run("marks", "relief", *files, "--ball-mm", 6, "--out", out) == 0


def test_a_folder_with_something_else_in_it_is_left_alone(photographed, tmp_path, capsys):
    (tmp_path / "letter.txt").write_text("dear")
    assert run("marks", "relief", *photographed[1], "--out", tmp_path) == 2
    assert "already there" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--torch", "90"], "is not AZIMUTH,ELEVATION"),
        (["--torch", "90,1"], "an elevation from 3 to 90 is needed"),
        (["--px", "8"], "A view of 8 pixels shows nothing"),
        ([], "There is no whole relief in"),
    ],
)
def test_a_view_that_cannot_be_is_refused(tmp_path, capsys, words, says):
    assert run("marks", "view", tmp_path, "--out", tmp_path / "lit.png", *words) == 2
    assert says in capsys.readouterr().err.replace("\n", " ")
    assert list(tmp_path.iterdir()) == []


def test_typed_lights_and_angles(photographed, tmp_path):
    scene, files = photographed
    azimuth = np.degrees(np.arctan2(scene.lights_mm[:, 1], scene.lights_mm[:, 0]))
    height = np.degrees(np.arcsin(scene.lights_mm[:, 2] / np.linalg.norm(scene.lights_mm, axis=1)))
    rows = [f"{f.name},{a:.3f},{h:.3f}" for f, a, h in zip(files, azimuth, height, strict=True)]
    table = tmp_path / "lights.csv"
    table.write_text("file,azimuth_deg,elevation_deg\n" + "\n".join(rows) + "\n")
    out = tmp_path / "relief"
    assert run("marks", "relief", *files, "--lights", table, "--out", out) == 0
    told = json.loads((out / "relief.json").read_text(encoding="utf-8"))
    assert "light_dir" in told["frames"][0]
    assert told["scale_known"] is False


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--lights", "no.csv"], "no.csv"),
        (["--uncalibrated", "--lights", "no.csv"], "more than one was given"),
        (["--ball-mm", "-3"], "above 0 mm"),
    ],
)
def test_bad_options_end_with_2_and_write_nothing(photographed, tmp_path, capsys, words, said):
    out = tmp_path / "relief"
    assert run("marks", "relief", *photographed[1], *words, "--out", out) == 2
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_photographs_of_two_sizes_end_with_2(photographed, tmp_path, capsys):
    Image.fromarray(np.zeros((20, 30), np.uint8)).save(tmp_path / "small.png")
    files = [*photographed[1][:3], tmp_path / "small.png"]
    assert run("marks", "relief", *files, "--out", tmp_path / "relief") == 2
    assert "small.png is 30 x 20" in capsys.readouterr().err


def test_the_check_tells_each_photograph(photographed, tmp_path, capsys):
    file = tmp_path / "check.json"
    assert run("marks", "check", *photographed[1], "--json", file) == 0
    told = json.loads(file.read_text(encoding="utf-8"))
    assert told["enough"] is True
    assert told["missing_quadrants"] == []
    assert {"file", "sharp", "moved_px", "saturated", "ball_radius_px"} <= set(told["frames"][0])
    assert "They will do." in capsys.readouterr().out
