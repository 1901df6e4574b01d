"""The commands of care: the contract's names, and refusals that leave nothing behind."""

import json
import re
import tomllib
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from ironlace.care.change_gears import GearsAsked, change_gears
from ironlace.care.oil_plan import OilPlan, oil_plan
from ironlace.care.screw_photograph import ScrewCase
from ironlace.care.step_words import cautions_due
from ironlace.cli import main
from ironlace.cli.case_files import read_case

GEARS = 'lead = "8 tpi"\npitch_mm = 0.75\ngears = [20, 30, 40, 45, 60, 127]\nengaged_mm = 6.0\n'
OIL = """
[oil]
viscosity_40_mm2_s = 22.0
viscosity_100_mm2_s = 4.3
density_kg_m3 = 860
surface_tension_N_m = 0.030
temperature_C = 20
[[felt]]
name = "needle-bar felt"
size_mm = [30, 10, 5]
porosity = 0.8
wick_up_mm = 30
pore_radius_um = 20
tortuosity = 2
[[point]]
name = "needle bar"
drops = 1
every_hours = 8
every_months = 1
last = 2026-01-31
hours_per_week = 2
"""


def run(*words):
    """Exit code of a command."""
    try:
        main([str(word) for word in words])
    except SystemExit as ended:
        return ended.code or 0
    return 0


@pytest.fixture
def told(tmp_path):
    def tell(command, text, *more, name="case.toml"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        out = tmp_path / "out.json"
        code = run("care", command, tmp_path / name, "--json", out, *more)
        return code, json.loads(out.read_text("utf-8")) if out.exists() else None

    return tell


def test_gears(told):
    code, found = told("gears", GEARS)
    assert code == 0
    first = found["trains"][0]
    assert set(first) == {
        "drivers", "driven", "pitch_mm", "error_ppm", "error_over_engaged_mm", "meshes",
    }  # fmt: skip
    assert (first["drivers"], first["driven"], first["error_ppm"]) == ([30], [127], 0.0)
    assert found["good_enough"]


def test_oil_with_calendar_and_card(told, tmp_path):
    ics, pdf = tmp_path / "due.ics", tmp_path / "card.pdf"
    code, found = told("oil", OIL, "--calendar", ics, "--card", pdf)
    assert code == 0
    assert found["viscosity_mm2_s"] == pytest.approx(54.29, abs=0.01)
    assert found["grade"] == 22
    low, value, high = found["felt"][0]["wick_s"]
    assert value == pytest.approx(4 * 148.5, rel=1e-3)
    assert high / low >= 4
    assert found["felt"][0]["holds_ml"] == pytest.approx(1.2)
    assert found["points"] == [{"name": "needle bar", "due": "2026-02-28", "due_by": "months"}]
    assert b"DTSTART;VALUE=DATE:20260228\r\n" in ics.read_bytes()
    assert pdf.read_bytes().startswith(b"%PDF")


def test_a_grade_alone_gives_a_range(told):
    plain = OIL.replace("viscosity_40_mm2_s = 22.0\nviscosity_100_mm2_s = 4.3", 'grade = "VG 22"')
    _, found = told("oil", plain)
    low, value, high = found["viscosity_mm2_s"]
    assert low < 54.29 < high
    assert low < value < high


def test_a_felt_in_centimetres_and_a_year_far_from_the_others_are_doubted(told):
    assert told("oil", OIL)[1]["doubts"] == []
    spoilt = OIL.replace("[30, 10, 5]", "[3, 1, 0.5]") + "".join(
        f'[[point]]\nname = "{name}"\nevery_months = 1\nlast = {day}\n'
        for name, day in (("race", "2026-02-02"), ("cup", "2016-02-01"))
    )
    code, found = told("oil", spoilt)
    assert code == 0
    assert "were its sizes in cm" in found["doubts"][0]
    assert "cup (2016-02-01) stands years" in found["doubts"][1]


def test_thin_oil_has_no_viscosity_and_says_why(told):
    thin = OIL.replace("4.3", "1.4").replace("22.0", "4.6")
    _, found = told("oil", thin)
    assert found["viscosity_mm2_s"] is None
    assert "D341" in found["why"]
    assert found["felt"][0]["wick_s"] is None


def test_cautions(told):
    steps = 'id,text\na,"Sand the japan, then lay gold size."\nb,Wash it without sanding.\n'
    code, found = told("cautions", steps, name="steps.csv")
    assert code == 0
    assert found["steps"] == [
        {"id": "a", "cautions": ["lead", "solvents"]},
        {"id": "b", "cautions": []},
    ]


@pytest.mark.parametrize(
    ("command", "text", "says"),
    [
        ("gears", GEARS.replace("[20, 30, 40, 45, 60, 127]", "[40]"), "a pair"),
        ("gears", GEARS.replace("8 tpi", "eight"), "lead"),
        ("oil", OIL.replace("4.3", "30.0"), "changed round"),
        ("oil", OIL.replace("viscosity_40_mm2_s = 22.0", "grade = 20"), "ISO 3448"),
        ("oil", OIL.replace("porosity = 0.8", "porosity = 80"), "porosity"),
        ("cautions", "text\nSand it.\n", "'id'"),
        ("cautions", "id,text\n", "no steps"),
    ],
)
def test_bad_input_is_refused_in_a_sentence_and_nothing_is_written(
    told, tmp_path, capsys, command, text, says
):
    ics = tmp_path / "due.ics"
    more = ("--calendar", ics) if command == "oil" else ()
    code, found = told(command, text, *more)
    assert code == 2
    assert found is None
    assert not ics.exists()
    said = capsys.readouterr().err
    assert says in said
    assert said.count("\n") == 1


def test_a_calendar_without_a_folder_leaves_nothing(told, tmp_path):
    code, found = told("oil", OIL, "--calendar", tmp_path / "none" / "due.ics")
    assert code == 2
    assert found is None


def test_a_photograph_without_a_card_is_refused(told, tmp_path, capsys):
    Image.fromarray(np.full((300, 400, 3), 200, np.uint8)).save(tmp_path / "bare.png")
    from ironlace.photographs import strip_sheet

    (tmp_path / "card.csv").write_text(strip_sheet("strip").layout.to_csv(), encoding="utf-8")
    (tmp_path / "case.toml").write_text("caliper_mm = 4.7\naxis_above_card_mm = 2.4\n")
    out = tmp_path / "out.json"
    words = ["care", "screw", tmp_path / "bare.png", "--strip", tmp_path / "card.csv"]
    assert run(*words, "--case", tmp_path / "case.toml", "--json", out) == 2
    assert "markers" in capsys.readouterr().err
    assert not out.exists()


def test_the_days_are_days(told):
    _, found = told("oil", OIL)
    assert date.fromisoformat(found["points"][0]["due"]) == date(2026, 2, 28)


PAGE = (Path(__file__).parents[2] / "docs" / "care.md").read_text(encoding="utf-8")
EXAMPLES = dict(re.findall(r"```toml\n# ([a-z]+)\.toml\n(.*?)```", PAGE, re.DOTALL))


def kept(tmp_path, name):
    file = tmp_path / f"{name}.toml"
    file.write_text(EXAMPLES[name], encoding="utf-8")
    return file


def test_the_plan_of_the_manual(tmp_path):
    found = oil_plan(read_case(kept(tmp_path, "plan"), OilPlan))
    assert found.viscosity.grade == 22
    assert found.felts[0].wick_s
    assert found.points[0].due_by == "hours"


def test_the_screw_of_the_manual(tmp_path):
    case = read_case(kept(tmp_path, "case"), ScrewCase)
    assert case.camera_distance_mm == 260
    # what stands there as a choice can be chosen
    chosen = re.sub(r"^# ((?:lens|shares) =)", r"\1", EXAMPLES["case"], flags=re.MULTILINE)
    (tmp_path / "chosen.toml").write_text(chosen, encoding="utf-8")
    assert read_case(tmp_path / "chosen.toml", ScrewCase).shares.none == 2


def test_the_gears_of_the_manual(tmp_path):
    assert change_gears(read_case(kept(tmp_path, "gears"), GearsAsked)).good_enough


def test_every_example_is_toml_and_the_steps_say_what_they_show():
    assert set(EXAMPLES) == {"plan", "case", "gears"}
    assert all(tomllib.loads(text) for text in EXAMPLES.values())
    first, second = re.findall(r'^\d,"(.*)"$', PAGE, re.MULTILINE)
    assert [hazard.short for hazard in cautions_due(first)] == ["lead", "solvents", "moving"]
    assert cautions_due(second) == ()


@pytest.mark.parametrize(
    ("command", "text", "key", "given"),
    [
        (
            "gears",
            GEARS,
            "thread-gears",
            {"lead": "8 tpi", "thread": "0.75 mm", "gears": "20,30,40,45,60,127", "engaged": "6"},
        ),
        (
            "oil",
            OIL.replace("[oil]", '[oil]\nname = "clear oil"'),
            "oiling",
            {
                "places": "place,drops,every_hours,every_months,last,felt_mm,wick_mm\n"
                "needle bar,1,8,1,2026-01-31,30x10x5,30",
                "hours_per_week": "2",
                "oil": "clear oil",
                "temperature": "20",
                "viscosity_at_forty": "22.0",
                "viscosity_at_hundred": "4.3",
            },
        ),
    ],
)
def test_a_whole_case_is_told_in_the_sentences_of_its_page(
    tmp_path, capsys, command, text, key, given
):
    from ironlace.evidence.analyses import Nothing, asked_from
    from ironlace.evidence.progress import Steps
    from ironlace.workshop.analyses import analysis_named

    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    assert run("care", command, tmp_path / "case.toml") == 0
    said = " ".join(capsys.readouterr().out.split())
    analysis = analysis_named(key)
    asked = asked_from(analysis.asked, given)
    answer = analysis.answer(analysis.work(Nothing(), asked, Steps()))
    assert said.startswith(" ".join(answer.sentences[:3]))


def test_a_screw_by_command_is_told_as_on_its_page():
    from ironlace.care.screw_analysis import (
        ScrewAsked,
        ScrewPicture,
        as_measured,
        case_of,
        screw,
        screw_answer,
    )
    from ironlace.evidence.analyses import Known
    from ironlace.evidence.progress import Steps
    from photographed_screws import photographed_m5

    shot = photographed_m5()
    asked = ScrewAsked(
        Known(shot.caliper_mm, 0.02, "mm"),
        distance=Known(shot.distance_mm, None, "mm"),
        layout=shot.layout_csv,
    )
    worked = screw(ScrewPicture(lambda: shot.image), asked, Steps())
    page = screw_answer(worked)
    command = screw_answer(as_measured(case_of(asked), worked.measured))
    assert command.sentences == page.sentences
    assert dict(command.figures) == dict(page.figures)
