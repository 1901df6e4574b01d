import json

import pytest
import typer
from typer.testing import CliRunner

from ironlace.cli.stencil_commands import add_to
from ironlace.evidence.errors import IronlaceError

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
    wanted = [f"sheet-{n}.{kind}" for n in range(1, count + 1) for kind in ("dxf", "png", "svg")]
    assert names == sorted([*wanted, "cutting.csv", "laying.txt"])
    assert told["islands"] == 1
    assert all(s["pieces"] == 1 for s in told["sheets"])
    assert "Every sheet is in one piece" in result.output


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


def test_a_failure_while_writing_leaves_no_folder(run, drawing, tmp_path, monkeypatch):
    from ironlace.ornament.stencils.sheets import Sheet

    def broken(self):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Sheet, "dxf", broken)
    result = run("sheets", drawing, "--process", "film-laser", "--out", tmp_path / "out")
    assert isinstance(result.exception, IronlaceError)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["frame.svg"]
