import json
import subprocess
import sys

import numpy as np
import pytest
import typer
from PIL import Image

from ironlace.cli import main
from ironlace.cli.program import program, with_json_files


@pytest.fixture
def run(capsys, monkeypatch):
    """Run the command line in this process; returns exit code, output, and what went to stderr."""

    def run(*words):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main([str(word) for word in words])
        out, err = capsys.readouterr()
        code = end.value.code
        return (0 if code is None else code), out, err

    return run


@pytest.fixture
def shop(tmp_path, run, monkeypatch):
    assert run("new", tmp_path / "shop")[0] == 0
    monkeypatch.setenv("IRONLACE_WORKSHOP", str(tmp_path / "shop"))
    return tmp_path / "shop"


def write(path, content):
    path.write_text(content if isinstance(content, str) else json.dumps(content))
    return path


def test_a_machine_is_told_from_first_entry_to_undoing(shop, run, tmp_path):
    assert run("machine", "new", "Head from the attic")[1].strip() == "head-from-the-attic"
    entries = write(tmp_path / "e.json", [{"kind": "question", "asks": "who?"}] * 2)
    code, out, _ = run("machine", "add", "head-from-the-attic", entries, "--json")
    assert (code, json.loads(out)) == (0, {"added": ["question 1", "question 2"]})
    run("machine", "withdraw", "head-from-the-attic", "question 1")
    shown = json.loads(run("machine", "show", "head-from-the-attic", "--json")[1])
    assert list(shown["entries"]) == ["question 2"]
    assert shown["next"].startswith("Photograph it as found")
    history = json.loads(run("machine", "history", "head-from-the-attic", "--json")[1])["changes"]
    assert run("machine", "undo", "head-from-the-attic", history[-1]["number"])[0] == 0
    shown = json.loads(run("machine", "show", "head-from-the-attic", "--json")[1])
    assert sorted(shown["entries"]) == ["question 1", "question 2"]
    then = run("machine", "show", "head-from-the-attic", "--as-of", "1999-12-31", "--json")[1]
    assert json.loads(then)["entries"] == {}


def test_photographs_check_backup_and_restore(shop, run, tmp_path):
    run("machine", "new", "Head")
    rng = np.random.default_rng(1)
    Image.fromarray(rng.integers(0, 255, (40, 60, 3), dtype=np.uint8)).save(tmp_path / "a.jpg")
    code, out, _ = run(
        "photograph", "add", "head", tmp_path / "a.jpg", "--role", "as found", "--json"
    )
    assert code == 0
    assert json.loads(out)["photographs"][0]["name"] == "photograph 1"
    assert json.loads(run("check", "--json")[1])["sound"]
    code, out, _ = run("backup", tmp_path / "b.zip", "--json", tmp_path / "b.json")
    assert code == 0
    assert json.loads((tmp_path / "b.json").read_text())["files"] == 3
    code, out, _ = run("restore", tmp_path / "b.zip", tmp_path / "again", "--json")
    assert (code, json.loads(out)["originals"]) == (0, 1)
    assert run("check", "--workshop", tmp_path / "again")[0] == 0


def test_of_several_photographs_all_are_taken_in_or_none(shop, run, tmp_path):
    """Exit code 2 says that nothing was changed, whichever of the files cannot be used."""
    run("machine", "new", "Head")
    for shade in (10, 90):
        Image.new("RGB", (40, 30), (shade,) * 3).save(tmp_path / f"{shade}.png")
    (tmp_path / "text.jpg").write_text("no picture")
    good, bad = [tmp_path / "10.png", tmp_path / "90.png"], tmp_path / "text.jpg"
    for files in ([*good, bad], [bad, *good], [*good, tmp_path / "none.jpg"], [good[0], tmp_path]):
        assert run("photograph", "add", "head", *files, "--role", "part")[0] == 2
        assert json.loads(run("machine", "show", "head", "--json")[1])["entries"] == {}
    assert not list((shop / "originals").glob("*/*"))
    assert run("photograph", "add", "head", *good, "--role", "part")[0] == 0


def test_a_place_that_cannot_be_is_refused_in_a_sentence(shop, run, tmp_path):
    """A file in the way of a folder, and a name too long for the disk."""
    run("machine", "new", "Head")
    (tmp_path / "file").write_text("mine")
    below, long = tmp_path / "file" / "below", tmp_path / ("x" * 300)
    for words in (
        ("film", "head", "--out", below),
        ("new", below),
        ("new", long),
        ("survey", "as-before", below),
        ("backup", f"{long}.zip"),
    ):
        code, out, err = run(*words)
        assert (code, out, len(err.splitlines())) == (2, "", 1), words
        assert err.startswith("ironlace: "), words
    assert (tmp_path / "file").read_text() == "mine"


def test_json_nested_without_end_is_refused_as_any_other(shop, run, tmp_path):
    run("machine", "new", "Head")
    deep = tmp_path / "deep.json"
    deep.write_text("[" * 100_000 + "]" * 100_000)
    code, _, err = run("machine", "add", "head", deep)
    assert (code, "is not JSON" in err) == (2, True)
    code, _, err = run("running", "seams", deep, deep)
    assert (code, "not the JSON of a measured seam" in err) == (2, True)


def test_a_package_goes_on_in_another_workshop(shop, run, tmp_path):
    run("machine", "new", "Head")
    there, bag = ("--workshop", tmp_path / "there"), tmp_path / "bag"
    run("new", tmp_path / "there")
    code, _, err = run("take-in", tmp_path, *there)
    assert (code, "bagit.txt lies in" in err) == (2, True)
    assert run("bag", "head", "--out", bag, "--private")[0] == 0
    for half in (("--happened", "sold"), ("--owner", "A. Hand", "--grade", "seen")):
        code, _, err = run("take-in", bag, *half, *there)
        assert (code, "what happened and how you know it" in err) == (2, True)
    code, out, _ = run("take-in", bag, "--happened", "sold", "--grade", "seen", "--json", *there)
    told = json.loads(out)
    assert (code, told["machine"], told["provenance"]) == (0, "head", "provenance 1")
    assert "The change of owner is not" in run("take-in", bag, *there)[1]


def test_a_spoilt_workshop_ends_the_check_with_1(shop, run, tmp_path):
    run("machine", "new", "Head")
    Image.new("RGB", (9, 9)).save(tmp_path / "a.png")
    run("photograph", "add", "head", tmp_path / "a.png", "--role", "mark")
    original = next((shop / "originals").glob("*/*"))
    original.chmod(0o644)
    original.write_bytes(b"x")
    code, out, err = run("check")
    assert code == 1
    assert "checksum differs" in out
    assert "1 thing(s) wrong" in err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("machine", "show", "nothing"), "no machine 'nothing'"),
        (("machine", "add", "head", "{dir}/none.json"), "no file"),
        (("machine", "add", "head", "{dir}/bad.json"), "not JSON"),
        (("machine", "add", "head", "{dir}/half.json"), "'asks' is missing"),
        (("machine", "add", "head", "{dir}/many.json"), "Entry 2 of 2 (outlay): 'lots' does not"),
        (("machine", "change", "head", "question 7", "{dir}/one.json"), "no question 7"),
        (("machine", "undo", "head", "99"), "no change 99"),
        (("machine", "show", "head", "--as-of", "yesterday"), "is not a date: write it like"),
        (("photograph", "add", "head", "{dir}/none.jpg", "--role", "mark"), "no file"),
        (("photograph", "add", "head", "{dir}/half.json", "--role", "mark"), "not a photograph"),
        (("photograph", "add", "head", "{dir}/half.json", "--role", "art"), "Invalid value"),
        (("restore", "{dir}/half.json", "{dir}/new"), "not a whole backup"),
        (("backup", "{dir}/half.json"), "there already"),
        (("new", "{dir}"), "not an empty folder"),
        (("check", "--workshop", "{dir}"), "no workshop"),
        (("survey", "compare", "{dir}/half.json"), ""),
        (("survey", "date", "{dir}/reports.csv", "--of", "(1"), "never closes"),
        (("ornament", "trace", "{dir}/none.jpg", "--out", "{dir}/o.svg"), "no file"),
        (("ornament", "trace", "{dir}/blank.png", "--out", "{dir}/o.svg"), "marker"),
        (("ornament", "sheet", "{dir}/half.json", "--out", "{dir}/o.pdf"), ""),
        (("nonsense",), "No such command"),
    ],
)
def test_bad_input_ends_with_2_and_one_sentence(shop, run, tmp_path, words, says):
    run("machine", "new", "Head")
    write(tmp_path / "bad.json", "{")
    write(tmp_path / "half.json", {"kind": "question"})
    one = {"kind": "question", "asks": "who?"}
    write(tmp_path / "one.json", one)
    write(tmp_path / "many.json", [one, {"kind": "outlay", "what": "wax", "hours": "lots"}])
    write(tmp_path / "reports.csv", "id,mark\na,12\n")
    Image.new("RGB", (800, 600), "grey").save(tmp_path / "blank.png")
    before = sorted(p.name for p in tmp_path.iterdir())
    code, out, err = run(*(word.format(dir=tmp_path) for word in words))
    assert code == 2, (out, err)
    assert says in err
    if not says.startswith(("Invalid", "No such")):
        assert len(err.strip().splitlines()) == 1
    assert sorted(p.name for p in tmp_path.iterdir()) == before


def test_several_entries_are_added_all_or_none(shop, run, tmp_path):
    run("machine", "new", "Head")
    mixed = [{"kind": "question", "asks": "who?"}, {"kind": "question"}]
    assert run("machine", "add", "head", write(tmp_path / "m.json", mixed))[0] == 2
    assert json.loads(run("machine", "show", "head", "--json")[1])["entries"] == {}


def test_a_pack_says_what_it_replaces_and_writes_over_nothing_else(shop, run, tmp_path):
    run("machine", "new", "Head")
    out = tmp_path / "pack"
    code, told, _ = run("pack", "head", "--out", out, "--json")
    assert (code, json.loads(told)) == (0, {"pack": str(out), "replaced": None})
    code, told, _ = run("pack", "head", "--out", out)
    assert code == 0
    assert "It replaces the one that was there: Head, made on " in told
    (out / "letter.txt").write_text("To the next owner")
    code, _, err = run("pack", "head", "--out", out)
    assert code == 2
    assert "is already there and is not a pack written by Ironlace and nothing else" in err
    assert (out / "letter.txt").is_file()


def test_a_machine_is_put_away_and_brought_back(shop, run):
    run("machine", "new", "Head")
    assert run("machine", "put-away", "head")[0] == 0
    (told,) = json.loads(run("machine", "list", "--json")[1])["machines"]
    assert told["put_away"]
    assert "put away" in run("machine", "list")[1]
    assert run("machine", "bring-back", "head")[0] == 0
    (told,) = json.loads(run("machine", "list", "--json")[1])["machines"]
    assert told["put_away"] is None
    assert run("machine", "put-away", "no-such")[0] == 2


def test_the_survey_speaks_and_tells_json(run, tmp_path):
    rows = "id,mark\na,B°93·217\nb,B°91·120\nc,A°95·88\nd,B°92·45\n"
    reports = write(tmp_path / "r.csv", rows)
    schemes = write(tmp_path / "s.txt", "by year: letter, ring, year, dot, number in year\n")
    code, out, _ = run("survey", "compare", reports, "--schemes", schemes, "--json")
    assert code == 0
    assert {s["name"] for s in json.loads(out)["schemes"]} >= {"by year"}
    code, out, _ = run("survey", "date", reports, "--of", "B°93·217", "--schemes", schemes)
    assert code == 0
    assert "1893" in out


def test_the_strip_is_written_with_its_layout(run, tmp_path):
    code, _, _ = run(
        "ornament", "strip", "--out", tmp_path / "s.pdf", "--layout", tmp_path / "l.csv"
    )
    assert code == 0
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "l.csv").read_text().startswith("dictionary,id,corner,x_mm,y_mm")


def test_json_may_stand_before_another_word():
    assert with_json_files(["a", "--json", "b.csv"]) == ["a", "--json", "-", "b.csv"]
    assert with_json_files(["a", "--json", "-", "b"]) == ["a", "--json", "-", "b"]


def test_the_program_runs_as_a_module_and_bears_a_closed_pipe():
    done = subprocess.run(
        [sys.executable, "-m", "ironlace", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("Ironlace ")


def test_a_drawing_goes_to_dxf_and_comes_back_from_an_editor(run, tmp_path):
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm" viewBox="0 0 20 20">'
        '<g id="gold"><path d="M2 2 L18 2 L18 18 L2 18 Z"/></g></svg>'
    )
    drawing = write(tmp_path / "d.svg", svg)
    code, out, _ = run("ornament", "dxf", drawing, "--out", tmp_path / "d.dxf", "--json")
    assert (code, json.loads(out)["outlines"]) == (0, 1)
    assert "SPLINE" in (tmp_path / "d.dxf").read_text()
    code, out, _ = run(
        "ornament", "regrade", drawing, drawing, "--out", tmp_path / "n.svg", "--json"
    )
    assert code == 0
    assert sum(json.loads(out)["length_by_grade_mm"].values()) == pytest.approx(64, abs=0.1)
    assert run("ornament", "agree", drawing, tmp_path / "n.svg")[0] == 0


def test_a_rubbing_is_traced_and_measured_places_are_read(run, tmp_path, darkroom):
    rng = np.random.default_rng(3)
    ornament = darkroom.scrollwork(rng, (6, 6, 64, 40), scrolls=3)
    paint = darkroom.painted(ornament, (70.0, 46.0), 300 / 25.4)
    grey = np.clip(225 - 0.75 * paint + rng.normal(0, 3, paint.shape), 0, 255).astype(np.uint8)
    Image.fromarray(np.dstack([grey] * 3)).save(tmp_path / "r.png")
    words = ("ornament", "trace", tmp_path / "r.png", "--out", tmp_path / "r.svg")
    code, out, _ = run(*words, "--dpi", "300", "--rubbing", "--json")
    assert code == 0
    told = json.loads(out)
    assert told["scan"]["dpi"] == 300
    assert told["drawing"]["length_mm"] == pytest.approx(ornament.gilt.length, rel=0.04)
    for more, says in (
        (("--rubbing",), "add --dpi"),
        (("--dpi", "2"), "give 50 to 9600"),
        (("--places", write(tmp_path / "p.csv", "x_px,y_px\n1,2\n")), "need the columns"),
        (
            ("--places", write(tmp_path / "q.csv", "x_px,y_px,x_mm,y_mm\n1,2,0,0\n9,9,4,4\n")),
            "at least 4",
        ),
        (("--dpi", "300", "--places", tmp_path / "q.csv"), "by itself"),
    ):
        code, _, err = run(*words, *more)
        assert code == 2
        assert says in err


def test_a_pack_leaves_out_only_what_is_a_drawing(shop, run, tmp_path):
    run("machine", "new", "Head from the attic")
    out = tmp_path / "pack"
    told = run("pack", "head-from-the-attic", "--out", out, "--without", "drawing 3")
    assert told[0] == 2
    assert "drawing 3" in told[2]
    assert not out.exists()


@pytest.mark.parametrize("room", ["marks", "ornament", "running", "survey", "care"])
def test_a_room_by_itself_has_the_commands_it_has_among_all(room):
    alone = typer.main.get_group(program(room)).commands
    among_all = typer.main.get_group(program()).commands
    assert list(alone) == [room]
    names = alone[room].list_commands(None)
    assert names == among_all[room].list_commands(None)
    assert len(names) == len(set(names)) > 1


def test_a_command_of_ornament_loads_no_workshop_and_no_database():
    loads = (
        "import sys; from ironlace.cli.program import program; program('ornament'); "
        "print([n for n in ('sqlalchemy', 'pint', 'ironlace.workshop') if n in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", loads], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"
