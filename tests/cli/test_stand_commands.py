"""The stand's commands on whole cases: those of the manual, and bad ones."""

import json
import re
from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest
import typer
from typer.testing import CliRunner

from ironlace.cli.stand_commands import add_to
from ironlace.evidence.errors import IronlaceError
from photographed_beds import photograph

MANUAL = Path(__file__).parents[2] / "docs" / "stand.md"


@pytest.fixture
def run():
    app = typer.Typer()
    add_to(app)

    def invoke(*words):
        return CliRunner().invoke(app, [str(word) for word in words])

    return invoke


@pytest.fixture
def manual(tmp_path):
    """The folder of the example files that the manual shows."""
    text = MANUAL.read_text(encoding="utf-8")
    for name, body in re.findall(r"```(?:toml|csv) (\S+)\n(.*?)```", text, re.DOTALL):
        (tmp_path / name).write_text(body, encoding="utf-8")
    return tmp_path


KEYS = {
    "base": "works_depth_mm deepest_point deepest_wheel_deg inner_depth_mm height_mm height_set_by "
    "side_least_mm side_point misread mass_g cg_mm edges seconds",
    "crank": "torque_peak_Nm pull_each_N slip_safety peel_safety verdict peg_force_N next_reading",
    "belt": "length_mm ratio stitches_per_min same_direction wrap_small_deg",
}


@pytest.mark.parametrize("command", KEYS)
def test_the_manuals_example_runs_and_every_key_is_there(run, manual, command):
    out = manual / "out.json"
    result = run(command, manual / f"{command}.toml", "--json", out)
    assert result.exit_code == 0, result.output
    told = json.loads(out.read_text(encoding="utf-8"))
    assert set(KEYS[command].split()) <= set(told)
    assert "Caution" in result.output
    again = run(command, manual / f"{command}.toml", "--json", "-")
    same = json.loads(again.output)
    assert {k: v for k, v in same.items() if k != "seconds"} == {
        k: v for k, v in told.items() if k != "seconds"
    }


def test_the_manuals_figures(run, manual):
    base = json.loads(run("base", manual / "base.toml", "--json", "-").output)
    assert base["misread"] == [{"point": "shuttle lever", "wheel_deg": 240.0}]
    assert base["height_set_by"] == "works"
    assert base["mass_g"][0] < 12_670 < base["mass_g"][2]
    assert len(base["edges"]) == 4
    belt = json.loads(run("belt", manual / "belt.toml", "--json", "-").output)
    assert belt["ratio"] == pytest.approx(4.0765, abs=1e-4)
    assert belt["stitches_per_min"] == pytest.approx(90 * belt["ratio"] * 0.98)
    assert belt["same_direction"] is True
    crank = json.loads(run("crank", manual / "crank.toml", "--json", "-").output)
    assert crank["verdict"] == "needs a peg against a spoke"


def test_a_base_is_drawn_and_printed_true(run, manual):
    for ending, begins in (("svg", b"<svg"), ("dxf", b"  0"), ("pdf", b"%PDF")):
        file = manual / f"base.{ending}"
        assert run("base", manual / "base.toml", "--drawing", file).exit_code == 0
        assert file.read_bytes().startswith(begins)
    with pypdfium2.PdfDocument(manual / "base.pdf") as document:
        page = np.asarray(document[0].render(scale=600 / 72, grayscale=True).to_pil())
        sheet = document[1].render(scale=600 / 72, grayscale=True, crop=(0, 350, 0, 230))
        plan = np.asarray(sheet.to_pil())
    # the bar to check: from the middle of one end stroke to the middle of the other, 100.0 mm
    foot = page[-945:-590] < 128  # it stands 31 mm above the edge of the paper
    ends = (0, 0)
    for row in foot:
        dark = np.flatnonzero(row)
        for run_of in np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1):
            if len(run_of) > ends[1] - ends[0]:
                ends = (run_of[0], run_of[-1])
    strokes = []
    for end in ends:
        near = np.arange(end - 20, end + 21)
        tall = foot[:, near].sum(axis=0)
        strokes.append(near[tall > 0.7 * tall.max()].mean())
    assert (strokes[1] - strokes[0]) * 25.4 / 600 == pytest.approx(100.0, abs=0.1)
    # and the plan on the next: outside, inside of the walls and opening of the straight left side
    row = np.flatnonzero(plan[len(plan) // 2] < 128)
    met = [(one[0] + one[-1]) / 2 for one in np.split(row, np.flatnonzero(np.diff(row) > 1) + 1)]
    away = np.subtract.outer(met, met) * 25.4 / 600
    assert any(np.abs(one - 9.7).min() < 0.05 and np.abs(one - 21.9).min() < 0.05 for one in away.T)


def refused(run, *words):
    result = run(*words)
    assert isinstance(result.exception, IronlaceError), result.output
    return str(result.exception)


SLIPS = [
    ("base", "base.toml", "ledge_mm", "legde_mm", "did you mean 'ledge_mm'"),
    ("base", "base.toml", "tilt_deg = 19", "tilt_deg = 40", "refused for safety"),
    ("base", "base.toml", "[4117, 8559]", "[4117, 9559]", "it is one head"),
    ("base", "base.toml", "reading_g = 2442", "reading_g = 9000", "outside the head"),
    ("base", "base.toml", "-83.0]", "60.0]", "falls over by itself"),
    ("base", "works.csv", ",,-85.0,31.5,-33.4", ",,-85.0,31.5,33.4", "above the seat"),
    ("base", "works.csv", "z_mm", "depth", "has no column 'z_mm'"),
    ("base", "outline.csv", "x_mm,y_mm\n", "x_mm,y_mm\n-200,-300\n300,300\n", "crosses itself"),
    ("crank", "crank.toml", "gap_mm = 0.35", "gap_mm = 0", "gap of 0 mm"),
    ("crank", "crank.toml", "high = 0.30", "high = 1.3", "friction from 0.12 to 1.3"),
    ("crank", "crank.toml", "low = 0.12", "low = 0.42", "friction from 0.42 to 0.3"),
    ("crank", "crank.toml", '"grey iron"', '"wood"', '"grey iron" or "steel"'),
    ("crank", "crank.toml", "radius_mm = 70.7", "radius_mm = 7070", "from 5 to 1000 mm"),
    ("crank", "crank.toml", "pull_N = [[4.3,", "pull_N = [[430,", "read in gf"),
    ("belt", "belt.toml", "centres_mm = 600", "centres_mm = 180", "would touch"),
    ("belt", "belt.toml", '"open"', '"crosed"', '"open" or "crossed"'),
    ("belt", "belt.toml", "_diameter_mm = 4.76", "_diameter_mm = 76", "is 76|of 76"),
    ("belt", "belt.toml", "slip_percent = 2", "slip_percent = -2", "from 0 to 30"),
]


@pytest.mark.parametrize(("command", "file", "good", "bad", "says"), SLIPS)
def test_a_bad_case_is_refused_and_nothing_is_written(run, manual, command, file, good, bad, says):
    text = (manual / file).read_text(encoding="utf-8")
    assert good in text
    (manual / file).write_text(
        text.replace(good, bad, 2 if good == "-83.0]" else 1), encoding="utf-8"
    )
    out = manual / "out.json"
    sentence = refused(run, command, manual / f"{command}.toml", "--json", out)
    assert re.search(says, sentence), sentence
    assert sentence.endswith((".", "?"))
    assert not out.exists()


def test_other_endings_and_folders_are_refused_before_the_work(run, manual):
    case = manual / "base.toml"
    assert "none of .svg" in refused(run, "base", case, "--drawing", manual / "base.png")
    assert "no paper" in refused(
        run, "base", case, "--drawing", manual / "base.pdf", "--paper", "a9"
    )
    gone = manual / "gone" / "base.svg"
    assert "folder" in refused(run, "base", case, "--drawing", gone)
    assert "no file" in refused(run, "base", manual / "none.toml")


def test_an_outline_is_found_in_a_photograph(run, tmp_path):
    picture, csv, matrix, dist, rim, outline = photograph(
        np.random.default_rng(3), 1500, 1125, 30.0
    )
    cv2.imwrite(str(tmp_path / "bed.png"), picture)
    (tmp_path / "layout.csv").write_text(csv, encoding="utf-8")
    (tmp_path / "case.toml").write_text(
        f'rim_above_sheet_mm = {rim}\nseen_from = "above"\n'
        f"lens = {{ matrix = {matrix.tolist()}, distortion = {dist.tolist()} }}\n",
        encoding="utf-8",
    )
    words = ["--strip", tmp_path / "layout.csv", "--case", tmp_path / "case.toml"]
    out, told = tmp_path / "outline.csv", tmp_path / "out.json"
    result = run("outline", tmp_path / "bed.png", *words, "--out", out, "--json", told)
    assert result.exit_code == 0, result.output
    found = np.loadtxt(out, delimiter=",", skiprows=1)
    assert np.allclose(found.min(axis=0), outline.min(axis=0), atol=0.3)
    assert np.allclose(np.ptp(found, axis=0), json.loads(told.read_text())["size_mm"], atol=0.01)
    assert "no file" in refused(run, "outline", tmp_path / "x.png", *words, "--out", out)
