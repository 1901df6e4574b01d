"""What is asked of stencil sheets, and what is told of them."""

import json
from dataclasses import replace

import pytest

from ironlace.evidence.analyses import asked_as_dict, asked_from
from ironlace.ornament.stencils import (
    SHEETS,
    FilledDrawing,
    SheetsAsked,
    StencilError,
    first_asked,
    plan_set,
    prepare,
    surface_of,
)
from ironlace.ornament.stencils.files import files_of, tiled

DRAWING = FilledDrawing(
    "drawing 1",
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="50mm" viewBox="0 0 60 50">'
    '<path fill-rule="evenodd" d="M5 5H55V45H5Z M12 12H48V38H12Z"/></svg>',
)
LINE, PLACE = (1.0, 2.0, 3.0, 4.0), (5.0, 6.0, 0.5)


@pytest.fixture(scope="module")
def made():
    return plan_set(DRAWING, first_asked("drawing 1", "film-laser"))


def test_what_falls_out_is_told_once_of_a_drawing_and_is_what_it_is_afresh(made):
    asked = made.asked
    prepared = prepare(DRAWING.svg, asked.of_process, asked.hold)
    first = plan_set(DRAWING, asked, prepared=prepared)
    line = first.bridges[0]["line"]
    place = ((line[0] + line[2]) / 2.0, (line[1] + line[3]) / 2.0, 1.0)
    then = plan_set(DRAWING, replace(asked, forbidden=(place,)), prepared=prepared)
    assert first.bridges != then.bridges
    assert then.falls_svg is first.falls_svg
    assert (then.flaws, then.falls_svg) == (made.flaws, made.falls_svg)
    renamed = plan_set(replace(DRAWING, name="drawing 2"), asked, prepared=prepared)
    assert "What falls out of drawing 2" in renamed.falls_svg


def test_what_was_asked_comes_back_from_json():
    asked = SheetsAsked(
        "drawing 1", first_asked("x").process, "split", 0.2,
        {"kind": "cone", "radius_mm": 60.0, "half_angle_deg": 8.0}, True, (LINE,), (LINE,),
        (PLACE,), 7,
    )  # fmt: skip
    plain = json.loads(json.dumps(asked.as_dict()))
    assert SheetsAsked.from_dict(plain) == asked
    assert asked_from(SheetsAsked, plain) == asked
    assert asked_as_dict(asked) == asked.as_dict()
    # a job's own words beside it are left alone
    assert SheetsAsked.from_dict({**plain, "by": "A.", "only_look": True}) == asked


@pytest.mark.parametrize(
    "wrong",
    [
        {},
        {"process": ""},
        {"locked": [[1.0, 2.0]]},
        {"forbidden": [[1.0, 2.0]]},
        {"hold": "glue"},
        {"trap_mm": "wide"},
    ],
)
def test_what_cannot_be_read_is_told_in_one_sentence(wrong):
    plain = first_asked("drawing 1").as_dict()
    with pytest.raises(StencilError, match="plan them again"):
        SheetsAsked.from_dict({**plain, **wrong} if wrong else {})


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"kind": "sphere"}, "plane, cylinder or cone"),
        ({"kind": "cylinder"}, "needs its radius"),
        ({"kind": "cylinder", "radius_mm": 0.5}, "give 1 to 10000 mm"),
        ({"kind": "cone", "radius_mm": 60.0, "half_angle_deg": 60.0}, "between 0 and 60"),
        ({"kind": "cone", "radius_mm": 60.0}, "between 0 and 60"),
    ],
)
def test_a_surface_that_cannot_be_is_refused(told, said):
    with pytest.raises(StencilError, match=said):
        surface_of(told)


def test_the_answer_holds_each_figure_with_unit_and_grade(made):
    answer = SHEETS.answer(made)
    values = {r.name: (r.value, r.unit, str(r.grade)) for r in answer.results}
    assert values["sheets to cut"] == (1, "", "inferred")
    assert values["islands that would fall out"] == (1, "", "inferred")
    assert values["area of the bridges"] == (made.report["bridge_mm2"], "mm²", "inferred")
    assert answer.sentences[0].startswith("For drawing 1: 1 sheet")
    assert answer.figures == made.report
    assert len(answer.tables[0].rows) == len(made.flaws)
    assert answer.plots[0].svg.startswith("<svg")
    assert {f.name for f in answer.files} == {f.name for f in files_of(made)}


def test_a_finding_agrees_with_itself_and_not_with_another(made):
    asked = first_asked("drawing 1", "film-laser")
    finding = SHEETS.finding(asked, SHEETS.answer(made), {}, "1")
    assert SHEETS.same(finding, finding) == ""
    other = finding.model_copy(
        update={
            "results": tuple(
                r.model_copy(update={"value": 9}) if r.name == "bridges" else r
                for r in finding.results
            )
        }
    )
    assert SHEETS.same(other, finding) == f"bridges come out as {len(made.bridges)}, not 9"
    assert SHEETS.subject(SHEETS.asked_of(finding)) == "drawing 1"


def test_files_are_listed_once_with_what_is_asked_for(made):
    names = [f.name for f in files_of(made)]
    assert len(names) == len(set(names)) == 8
    more = {f.name: f for f in files_of(made, film_dpi=300, tiles=tiled(made.sheets, "50x70"),
                                        laying_pdf=lambda: b"%PDF")}  # fmt: skip
    assert more["sheet-1.png"].content().startswith(b"\x89PNG")
    assert more["laying.pdf"].content() == b"%PDF"
    assert {f.media_type for f in more.values()} >= {"image/png", "application/pdf"}
    assert sum(name.startswith("part-") and name.endswith(".svg") for name in more) == 2
    whole = tiled(made.sheets, "300x300")
    assert [f.name for f in files_of(made, tiles=whole)] == names


@pytest.mark.parametrize(("bed", "said"), [("300", "300x200"), ("0x9", "cannot be")])
def test_a_bed_that_cannot_be_is_refused(bed, said):
    with pytest.raises(StencilError, match=said):
        tiled((), bed)
