"""Every command that writes, sent to places that cannot be: one sentence, exit code 2."""

import inspect
import re
import shutil
from pathlib import Path

import pytest
import typer

from ironlace.cli import main
from ironlace.cli.program import program

CARE = (Path(__file__).parents[2] / "docs" / "care.md").read_text(encoding="utf-8")
OIL = re.search(r"```toml\n# plan\.toml\n(.*?)```", CARE, re.DOTALL).group(1)
PLAN = """
title = "Head"
[[point]]
number = 1
at = [80, 10]
does = "spool"
known = "seen"
"""
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="50mm" viewBox="0 0 60 50">'
    '<path fill-rule="evenodd" fill="#b89040" d="M5 5H55V45H5Z M12 12H48V38H12Z"/></svg>'
)
TABLE = "mark,date,place\nA 100,1881,Here\nA 200,1883,There\n"
FILES = {
    "ornament process": "ornament process film-laser --out {out}.toml",
    "ornament card": "ornament card --out {out}.svg",
    "ornament limits": "ornament limits film-laser --line 0.3 --web 0.4 --tongue 3 --disc 0.5 "
    "--hole 20.1 --piece 19.9 --out {out}.toml",
    "ornament strip": "ornament strip --out {out}.pdf",
    "ornament chart": "ornament chart --out {out}.pdf",
    "ornament print": "ornament print {drawing} --out {out}.pdf",
    "ornament film": "ornament film {drawing} --dpi 100 --out {out}.png",
    "ornament wrapped": "ornament wrapped {drawing} --radius 40 --out {out}.svg",
    "ornament dxf": "ornament dxf {drawing} --out {out}.dxf",
    "ornament regrade": "ornament regrade {drawing} {drawing} --out {out}.svg",
    "running disc": "running disc --out {out}.svg",
    "survey publish": "survey publish {table} --out {out}.zip --title T --compiled-by W "
    "--issued 2025-06-01",
    "survey join": "survey join {table} {table} --out {out}.csv",
    "survey as-before": "survey as-before {out}",
    "survey tray thanks": "survey tray thanks head --out {out}.txt",
    "care oil": "care oil {oil} --calendar {out}.ics",
    "backup": "backup {out}.zip",
    "check": "check --json {out}.json",
}
"""What each command that writes a file is called with; `{out}` is the place that cannot be."""
FOLDERS = {
    "new": "new {out}",
    "demo": "demo {out} --no-serve",
    "restore": "restore {saved} {out}",
    "pack": "pack head --out {out}",
    "bag": "bag head --out {out}",
    "film": "film head --out {out}",
    "site": "site head --out {out}",
    "ornament stencil": "ornament stencil {drawing} --process film-laser --out {out}",
    "running threading": "running threading {plan} --out {out}",
    "survey call": "survey call head --out {out}",
}
"""The same of those that make a folder."""
LONG = {
    "marks relief": "folder_for_relief(out)",
    "marks view": "write_bytes(out",
    "marks read": "write_text(report",
    "marks photo": "write_text(report",
    "ornament lens": "write_text(out",
    "ornament trace": "write_text(out",
    "running seam": "write_bytes(picture",
    "stand base": "write_bytes(drawing",
    "stand outline": "write_bytes(out",
    "survey club table": "write_text(out",
    "survey releases": "write_bytes(out",
}
"""Those whose work takes long: that they write by what refuses is read in them."""
DEAR = {"site", "ornament print", "ornament strip", "ornament chart", "ornament stencil"}
"""Those that make all of it before they write: sent to one place each."""
NOT_FILES = {"ornament sheet", "ornament sheets", "survey merge", "survey club history"}
"""Earlier names of commands above, and one whose report is a number."""
WRITES = {"out", "report", "picture", "drawing", "calendar", "card"}
"""Parameters that name a file or folder to write."""


@pytest.fixture(scope="module")
def given(tmp_path_factory):
    """A workshop with a machine, and one small file of each kind that the commands read."""
    folder = tmp_path_factory.mktemp("given")
    names = {"drawing": "d.svg", "table": "t.csv", "plan": "plan.toml", "oil": "oil.toml"}
    paths = {name: folder / file for name, file in names.items()}
    paths["drawing"].write_text(DRAWING, encoding="utf-8")
    paths["table"].write_text(TABLE, encoding="utf-8")
    paths["plan"].write_text(PLAN, encoding="utf-8")
    paths["oil"].write_text(OIL, encoding="utf-8")
    paths |= {"shop": folder / "shop", "saved": folder / "saved.zip"}
    there = ["--workshop", str(paths["shop"])]
    for words in (["new", there[1]], ["machine", "new", "Head", *there]):
        assert ended(words) == 0
    assert ended(["backup", str(paths["saved"]), *there]) == 0
    return paths


def ended(words):
    with pytest.raises(SystemExit) as end:
        main(words)
    return end.value.code or 0


def places(folder, *, of_folder):
    """Places that cannot be, below `folder` and where the system makes none."""
    (folder / "file").write_text("mine", encoding="utf-8")
    yield folder / "file" / "below"
    yield folder / ("x" * 300)
    yield Path("/dev/null/below")
    if Path("/proc/self").exists():
        yield Path("/proc/none-makes-this")
    if of_folder:
        yield folder / "file"


@pytest.mark.parametrize("name", [*FILES, *FOLDERS])
def test_a_place_that_cannot_be_is_refused_in_one_sentence(
    name, given, tmp_path, capsys, monkeypatch
):
    monkeypatch.setenv("IRONLACE_WORKSHOP", str(given["shop"]))
    whole = FILES.get(name) or FOLDERS[name]
    every = list(places(tmp_path, of_folder=name in FOLDERS))
    for place in every[min(3, len(every) - 1) :][:1] if name in DEAR else every:
        capsys.readouterr()
        words = [word.format(out=place, **given) for word in whole.split()]
        assert ended(words) == 2, (name, place)
        out, err = capsys.readouterr()
        assert (out, len(err.splitlines())) == ("", 1), (name, place, out, err)
        assert err.startswith("ironlace: "), (name, err)
        assert [one.name for one in tmp_path.iterdir()] == ["file"], (name, place)
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("name", FILES)
def test_a_folder_where_a_file_is_wanted_is_refused(name, given, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("IRONLACE_WORKSHOP", str(given["shop"]))
    words = [word.format(out=tmp_path / "taken", **given) for word in FILES[name].split()]
    (place,) = [Path(word) for word in words if "taken" in word]
    (place / "kept").mkdir(parents=True)
    capsys.readouterr()
    assert ended(words) == 2
    _, err = capsys.readouterr()
    assert (len(err.splitlines()), err[:10]) == (1, "ironlace: ")
    assert [one.name for one in tmp_path.rglob("*")] == [place.name, "kept"]


def test_a_folder_that_vanishes_meanwhile_is_told(given, tmp_path, capsys, monkeypatch):
    from ironlace.dossier.film import files

    def gone(*_, **__):
        shutil.rmtree(tmp_path)
        (tmp_path / "notes").read_text(encoding="utf-8")

    monkeypatch.setenv("IRONLACE_WORKSHOP", str(given["shop"]))
    monkeypatch.setattr(files, "write_film", gone)
    assert ended(["film", "head", "--out", str(tmp_path / "notes")]) == 2
    assert "see that its folder is there" in capsys.readouterr().err


def test_a_file_of_the_programs_own_that_is_missing_is_a_fault(monkeypatch):
    from ironlace.cli import program as rooms

    def broken(_word):
        (Path(rooms.__file__).parent / "none.toml").read_text(encoding="utf-8")

    monkeypatch.setattr(rooms, "program", broken)
    with pytest.raises(FileNotFoundError):
        main(["check"])


def commands(group, path=()):
    for name, one in group.commands.items():
        if hasattr(one, "commands"):
            yield from commands(one, (*path, name))
        else:
            yield " ".join((*path, name)), one


def test_every_command_that_writes_is_tried():
    known = {*FILES, *FOLDERS, *LONG, *NOT_FILES}
    for name, command in commands(typer.main.get_command(program())):
        if WRITES & {one.name for one in command.params}:
            assert name in known, name


@pytest.mark.parametrize("name", LONG)
def test_what_takes_long_writes_by_what_refuses(name):
    command = dict(commands(typer.main.get_command(program())))[name]
    assert LONG[name] in inspect.getsource(inspect.unwrap(command.callback))
