"""The import contracts name every room that there is."""

from importlib import import_module
from tomllib import loads

from sources import ROOT, SRC

CONTRACTS = loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
LAYERS, PURE = CONTRACTS["contracts"]
NOT_PURE = {"cli", "web", "workshop", "dossier", "record"}
"""The rooms that keep, tell and show; every other is a study room or lies below them."""


def rooms():
    return {path.parent.name for path in SRC.glob("*/__init__.py")}


def test_every_room_has_its_floor():
    assert LAYERS["exhaustive"]
    assert LAYERS["containers"] == ["ironlace"]
    floors = [word.strip() for floor in LAYERS["layers"] for word in floor.split("|")]
    stand = {word for word in floors if not word.startswith("(")}
    may_come = {word.strip("()") for word in floors} - stand
    assert rooms() - may_come == stand
    assert len(floors) == len(set(floors))


def test_every_room_that_keeps_nothing_is_pure():
    assert set(PURE["source_modules"]) == {f"ironlace.{room}" for room in rooms() - NOT_PURE}


def test_no_pure_room_knows_a_room_that_keeps():
    assert {f"ironlace.{room}" for room in NOT_PURE} <= set(PURE["forbidden_modules"])


def test_what_is_forbidden_can_be_imported():
    # a word misspelt there would forbid nothing
    for module in PURE["forbidden_modules"]:
        import_module(module)
