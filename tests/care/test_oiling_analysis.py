"""The oiling plan as it is asked for: a table of places, the days, what is refused."""

from datetime import date, timedelta

import pytest

from ironlace.care.errors import CareError
from ironlace.care.oiling_analysis import OILING, OilingAsked
from ironlace.evidence.analyses import Known, Nothing, asked_from
from ironlace.evidence.progress import Steps

HEAD = "place,kind,drops,every_hours,every_months,last,holds_ml,x_px,y_px\n"


def answered(rows, **more):
    asked = asked_from(OilingAsked, {"places": HEAD + rows, **more})
    return OILING.answer(OILING.work(OILING.inputs(), asked, Steps()))


def test_what_is_due_first_stands_first_with_its_number_and_drops():
    answer = answered(
        "shuttle race,felt,2,,6,1894-01-31,0.4,,\nneedle bar,hole,1,8,3,1894-01-31,,812,340\n",
        hours_per_week="2",
    )
    due = date(1894, 1, 31) + timedelta(days=28)  # 8 hours at 2 a week are four weeks
    assert answer.sentences[0] == f"Oil first: 2 needle bar, 1 drop. Due {due}."
    assert answer.figures["points"][0]["due"] == "1894-07-31"
    assert answer.figures["points"][1]["at_px"] == [812.0, 340.0]
    assert [r.value for r in answer.results] == ["1894-02-28", "1894-07-31"]
    assert "holds 0.4 ml" in repr(answer.tables)


def test_hours_without_a_week_are_said_not_to_count():
    answer = answered("bush,,1,8,3,1894-01-31,,,\n")
    assert "1 place (1) are not counted" in answer.sentences[1]
    assert answer.figures["points"][0]["due_by"] == "months"


def test_an_oil_of_which_only_the_grade_is_known_is_told_as_a_range():
    answer = answered("bush,,1,,3,1894-01-31,,,\n", grade="22", temperature="18", oil="clear")
    low, _, high = answer.figures["viscosity_mm2_s"]
    # 51 to 75, as published beside the grade
    assert low == pytest.approx(51, abs=1)
    assert high == pytest.approx(75, abs=1)
    assert "anything from" in answer.sentences[2]


def test_nothing_said_of_the_oil_gives_no_figure():
    assert answered("bush,,1,,3,1894-01-31,,,\n").figures["viscosity_mm2_s"] is None


def test_tabs_serve_as_well_as_commas():
    asked = OilingAsked("place\tlast\tevery_months\nbush\t1894-01-31\t1\n")
    found = OILING.work(OILING.inputs(), asked, Steps())
    assert found.found.points[0].due == date(1894, 2, 28)


@pytest.mark.parametrize(
    ("rows", "more", "says"),
    [
        ("", {}, "0 places"),
        ("bush,,1,,3,,,,\n", {}, "'bush' was last oiled ''"),
        ("bush,,1,,,1894-01-31,,,\n", {}, "has no rule"),
        ("bush,,1.5,,3,1894-01-31,,,\n", {}, "whole number"),
        ("bush,spout,1,,3,1894-01-31,,,\n", {}, "'spout'"),
        ("bush,,1,,3,1894-01-31,,5,\n", {}, "both x_px and y_px"),
        ("bush,,nan,,3,1894-01-31,,,\n", {}, "'nan'"),
        ("bush,,1,,3,1894-01-31,,,\nBush,,1,,3,1894-01-31,,,\n", {}, "Places 1 and 2"),
        ("bush, left,,1,,3,1894-01-31,,,\n", {}, "10 cells under 9"),
        ("bush,,1,,3,1894-01-31,,,\n", {"grade": "22"}, "temperature"),
        ("bush,,1,,3,1894-01-31,,,\n", {"grade": "23", "temperature": "18"}, "no grade '23'"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(rows, more, says):
    with pytest.raises(CareError) as caught:
        answered(rows, **more)
    assert says in str(caught.value)


def test_a_table_without_its_headings_is_refused():
    with pytest.raises(CareError, match="headings"):
        OILING.work(OILING.inputs(), OilingAsked("bush,1,3,1894-01-31\n"), Steps())


def test_a_felt_is_told_with_a_wide_time_and_with_none_where_the_oil_is_not_known():
    table = "place,last,every_months,felt_mm,wick_mm\nrace,1894-03-01,1,30x10x5,30\n"
    warm = Known(18.0, None, "°C")
    told = OILING.work(
        Nothing(),
        OilingAsked(table, temperature=warm, viscosity_at_forty=22.0, viscosity_at_hundred=4.3),
        Steps(),
    )
    (felt,) = OILING.answer(told).figures["felt"]
    assert felt["holds_ml"] == pytest.approx(1.2)
    assert felt["wick_s"][2] > 4 * felt["wick_s"][0]
    # the two figures give one number (ASTM D341)
    assert isinstance(OILING.answer(told).figures["viscosity_mm2_s"], float)
    bare = OILING.work(Nothing(), OilingAsked(table), Steps())
    (felt,) = OILING.answer(bare).figures["felt"]
    assert felt["wick_s"] is None


@pytest.mark.parametrize(
    ("cells", "more", "says"),
    [
        ("30x10,30", {}, "three sizes"),
        (",30", {}, "no size of its felt"),
        (",", {"viscosity_at_forty": 22.0}, "temperature"),
    ],
)
def test_a_felt_or_oil_that_cannot_be_is_refused(cells, more, says):
    table = f"place,last,every_months,felt_mm,wick_mm\nrace,1894-03-01,1,{cells}\n"
    with pytest.raises(CareError, match=says):
        OILING.work(Nothing(), OilingAsked(table, **more), Steps())


DOUBTED = {
    "runs over": ("cup,cup,60,,3,1894-01-31,0.2,,\n", "it runs over"),
    "a year miswritten": (
        "a,,1,,3,1894-01-31,,,\nb,,1,,3,1849-01-31,,,\nc,,1,,3,1894-02-02,,,\n",
        "was the year miswritten",
    ),
}


@pytest.mark.parametrize("how", DOUBTED)
def test_what_a_place_cannot_have_is_told_first(how):
    rows, says = DOUBTED[how]
    assert says in answered(rows).sentences[0]


def test_a_felt_in_centimetres_is_asked_about():
    head = "place,every_months,last,felt_mm\n"
    asked = asked_from(OilingAsked, {"places": f"{head}felt,3,1894-01-31,2x1x0.4\n"})
    said = OILING.answer(OILING.work(Nothing(), asked, Steps())).sentences
    assert "were its sizes in cm" in said[0]
