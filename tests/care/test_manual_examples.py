"""The whole example files of the manual's page on care can be used as they stand."""

import re
import tomllib
from pathlib import Path

from ironlace.care.change_gears import GearsAsked, change_gears
from ironlace.care.oil_plan import OilPlan, oil_plan
from ironlace.care.screw_photograph import ScrewCase
from ironlace.care.step_words import cautions_due
from ironlace.cli.case_files import read_case

PAGE = (Path(__file__).parents[2] / "docs" / "care.md").read_text(encoding="utf-8")
EXAMPLES = dict(re.findall(r"```toml\n# ([a-z]+)\.toml\n(.*?)```", PAGE, re.DOTALL))


def kept(tmp_path, name):
    file = tmp_path / f"{name}.toml"
    file.write_text(EXAMPLES[name], encoding="utf-8")
    return file


def test_the_plan(tmp_path):
    found = oil_plan(read_case(kept(tmp_path, "plan"), OilPlan))
    assert found.viscosity.grade == 22
    assert found.felts[0].wick_s
    assert found.points[0].due_by == "hours"


def test_the_screw(tmp_path):
    case = read_case(kept(tmp_path, "case"), ScrewCase)
    assert case.camera_distance_mm == 260
    # what stands there as a choice can be chosen
    chosen = re.sub(r"^# ((?:lens|shares) =)", r"\1", EXAMPLES["case"], flags=re.MULTILINE)
    (tmp_path / "chosen.toml").write_text(chosen, encoding="utf-8")
    assert read_case(tmp_path / "chosen.toml", ScrewCase).shares.none == 2


def test_the_gears(tmp_path):
    assert change_gears(read_case(kept(tmp_path, "gears"), GearsAsked)).good_enough


def test_every_example_is_toml_and_the_steps_say_what_they_show():
    assert set(EXAMPLES) == {"plan", "case", "gears"}
    assert all(tomllib.loads(text) for text in EXAMPLES.values())
    first, second = re.findall(r'^\d,"(.*)"$', PAGE, re.MULTILINE)
    assert [hazard.short for hazard in cautions_due(first)] == ["lead", "solvents", "moving"]
    assert cautions_due(second) == ()
