import json

import numpy as np
import pytest
import typer
from typer.testing import CliRunner

from ironlace.cli.stencil_commands import add_to
from ironlace.evidence.errors import IronlaceError
from ironlace.ornament.stencils import read_process
from sheet_rings import rings_of_sheet

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="50mm" viewBox="0 0 60 50">'
    '<path fill-rule="evenodd" fill="#b89040" d="M5 5H55V45H5Z M12 12H48V38H12Z"/></svg>'
)


@pytest.fixture
def run():
    app = typer.Typer()
    add_to(app)

    def invoke(*words):
        return CliRunner().invoke(app, [str(w) for w in words])

    return invoke


@pytest.fixture
def drawing(tmp_path):
    file = tmp_path / "frame.svg"
    file.write_text(SVG, encoding="utf-8")
    return file


@pytest.mark.parametrize("hold", ["bridges", "split"])
def test_sheets_are_written_with_their_report(run, drawing, tmp_path, hold):
    out, report = tmp_path / "out", tmp_path / "report.json"
    result = run(
        "sheets", drawing, "--process", "film-laser", "--hold", hold, "--out", out,
        "--film", 300, "--json", report,
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    told = json.loads(report.read_text(encoding="utf-8"))
    names = sorted(p.name for p in out.iterdir())
    count = len(told["sheets"])
    assert count == (1 if hold == "bridges" else 2)
    kinds = ("dxf", "hpgl", "png", "svg")
    wanted = [f"sheet-{n}.{kind}" for n in range(1, count + 1) for kind in kinds]
    beside = ["cutting.csv", "falls.csv", "falls.svg", "laying.pdf", "laying.txt", "process.toml"]
    assert names == sorted([*wanted, *beside])
    assert (out / "falls.csv").read_text(encoding="utf-8").splitlines()[1].startswith("1,island,")
    assert (out / "laying.pdf").read_bytes().startswith(b"%PDF")
    assert read_process((out / "process.toml").read_text(encoding="utf-8")).name == told["process"]
    assert told["islands"] == 1
    assert all(s["pieces"] == 1 for s in told["sheets"])
    assert "Every sheet is in one piece" in result.output
    # whoever makes them again can check every file
    again = tmp_path / "again"
    run("sheets", drawing, "--process", "film-laser", "--hold", hold, "--out", again, "--film", 300)
    assert {p.name: p.read_bytes() for p in again.iterdir()} == {
        p.name: p.read_bytes() for p in out.iterdir()
    }


def test_an_edited_process_file_is_used(run, drawing, tmp_path):
    mine = tmp_path / "mine.toml"
    assert run("process", "film-knife", "--out", mine).exit_code == 0
    text = mine.read_text(encoding="utf-8").replace("Polyester film, cut by a knife", "My film")
    mine.write_text(text, encoding="utf-8")
    result = run("sheets", drawing, "--process", mine, "--out", tmp_path / "out", "--json", "-")
    assert json.loads(result.output)["process"].startswith("My film")


def test_the_processes_are_listed_and_the_card_written(run, tmp_path):
    assert "film-laser" in run("process").output
    card = tmp_path / "card.svg"
    assert run("card", "--out", card).exit_code == 0
    assert card.read_text(encoding="utf-8").startswith("<svg")


def test_a_folder_with_something_in_it_is_left_alone(run, drawing, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    (out / "mine.txt").write_text("keep", encoding="utf-8")
    result = run("sheets", drawing, "--process", "film-laser", "--out", out)
    assert isinstance(result.exception, IronlaceError)
    assert [p.name for p in out.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize(
    ("text", "process"), [("<svg/>", "film-laser"), (SVG, "no-such.toml"), ("plain", "film-knife")]
)
def test_nothing_is_left_when_it_fails(run, tmp_path, text, process):
    file = tmp_path / "bad.svg"
    file.write_text(text, encoding="utf-8")
    result = run("sheets", file, "--process", process, "--out", tmp_path / "out")
    assert isinstance(result.exception, IronlaceError)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.svg"]


@pytest.mark.parametrize(
    "words",
    [
        ("--bed", "50x50", "--bed-overlap", "nan"),
        ("--bed", "50x50", "--bed-overlap", "-2"),
        ("--bed", "50x50", "--bed-margin", "-3"),
        ("--trap", "nan"),
        ("--trap", "-1"),
        ("--trap", "50"),
        ("--feature", "screw hole,900,10"),
    ],
)
def test_measures_that_cannot_be_are_refused(run, drawing, tmp_path, words):
    out = tmp_path / "out"
    result = run("sheets", drawing, "--process", "film-laser", "--out", out, *words)
    assert isinstance(result.exception, IronlaceError) and not out.exists()
    assert ("give" in str(result.exception) and "cannot" in str(result.exception)) or "off" in str(
        result.exception
    )


def test_dots_finer_than_the_least_opening_are_told(run, tmp_path):
    dots = "".join(f'<circle cx="{x}" cy="5" r="{r}"/>' for x, r in ((5, 0.15), (9, 0.1), (20, 3)))
    file = tmp_path / "dots.svg"
    file.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="10mm" '
        f'viewBox="0 0 30 10">{dots}</svg>',
        encoding="utf-8",
    )
    result = run("sheets", file, "--process", "film-laser", "--out", tmp_path / "out")
    assert "2 places narrower than the least opening" in result.output


def test_a_failure_while_writing_leaves_no_folder(run, drawing, tmp_path, monkeypatch):
    from ironlace.ornament.stencils import files

    def broken(sheet):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "sheet_dxf", broken)
    result = run("sheets", drawing, "--process", "film-laser", "--out", tmp_path / "out")
    assert isinstance(result.exception, IronlaceError)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["frame.svg"]


def test_tiles_fit_the_bed_and_overlap(run, drawing, tmp_path):
    out = tmp_path / "out"
    result = run(
        "sheets", drawing, "--process", "card-hand", "--out", out, "--bed", "50x60",
        "--bed-margin", 8, "--bed-overlap", 2, "--json", "-",
    )  # fmt: skip
    told = json.loads(result.output)
    assert len(told["tiles"]) == 2
    for tile in told["tiles"]:
        assert tile["pieces"] == 1
        assert tile["size_mm"][0] <= 50
        assert tile["size_mm"][1] <= 60
    rings = [rings_of_sheet(p.read_text()) for p in sorted(out.glob("part-*.svg"))]
    left, right = (np.concatenate(r) for r in rings)
    assert left[:, 0].max() - right[:, 0].min() == pytest.approx(2.0, abs=1e-3)


def test_a_cone_and_features_reach_the_sheet(run, drawing, tmp_path):
    out = tmp_path / "out"
    result = run(
        "sheets", drawing, "--process", "film-laser", "--out", out, "--surface", "cone",
        "--radius", 60, "--half-angle", 8, "--axis", 90, "--at", "30,25",
        "--feature", "oil hole,30,0",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    svg = (out / "sheet-1.svg").read_text(encoding="utf-8")
    assert "<title>oil hole</title>" in svg
    assert "along the axis" in svg
    # a sector's edge has many corners, a plane's few
    assert svg.split('id="edge"')[1].split("</g>")[0].count("L") > 150


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--bed", "300"], "300x200"),
        (["--bed", "0x10"], "cannot be"),
        (["--bed", "40x40", "--bed-margin", 20], "smaller margin"),
        (["--surface", "cylinder"], "needs its radius"),
        (["--surface", "cone", "--radius", 30], "half angle"),
        (["--surface", "cylinder", "--radius", 30, "--axis", "nan"], "no direction or place"),
        (["--surface", "cone", "--radius", 30, "--half-angle", 5, "--at", "3"], "two numbers"),
        (["--feature", "12,3"], "NAME,X,Y"),
    ],
)
def test_what_cannot_be_read_is_told_and_nothing_is_left(run, drawing, tmp_path, words, says):
    result = run("sheets", drawing, "--process", "film-laser", "--out", tmp_path / "out", *words)
    assert isinstance(result.exception, IronlaceError)
    assert says in str(result.exception)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["frame.svg"]


def test_a_cut_card_sets_the_limits(run, tmp_path):
    mine = tmp_path / "mine.toml"
    told = run(
        "limits", "film-laser", "--line", 0.3, "--web", 0.5, "--tongue", 10, "--disc", 0.4,
        "--hole", 20.07, "--piece", 19.91, "--out", mine, "--json", "-",
    )  # fmt: skip
    assert told.exit_code == 0, told.output
    process = read_process(mine.read_text(encoding="utf-8"))
    assert process.least_web_mm == 0.5
    assert process.sources["kerf_mm"] == "own test card"
    assert json.loads(told.output)["from_card"]["least_opening_mm"] == 0.3
