"""What is asked for: read from words, from a measurement, from JSON; refused in one sentence."""

from dataclasses import dataclass
from typing import Annotated, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.analyses import (
    Ask,
    AskedError,
    Known,
    asked_as_dict,
    asked_fields,
    asked_from,
    grade_of,
    same_results,
)
from ironlace.evidence.findings import Finding, Interval, Method, Result
from ironlace.evidence.grades import Grade


@dataclass(frozen=True)
class Everything:
    gap: Annotated[float, Ask("Gap", unit="mm", low=0.0, high=100.0)]
    known: Annotated[Known, Ask("Stroke", unit="mm")]
    count: Annotated[int, Ask("Stitches", low=1)] = 3
    share: Annotated[float, Ask("Share", low=0.0, high=1.0)] = 0.5
    way: Annotated[Literal["open", "crossed"], Ask("Way")] = "open"
    plain: Annotated[bool, Ask("Plain")] = False
    note: Annotated[str, Ask("Note", long=True)] = ""
    free: Annotated[float | None, Ask("Free")] = None
    slip: Annotated[Known | None, Ask("Slip", unit="%")] = None
    places: Annotated[tuple[tuple[float, float], ...], Ask("Places", pointed=True)] = ()


def read(**given_):
    return asked_from(Everything, {"gap": "2", "known": "31.6 ± 0.1 mm", **given_})


def test_words_are_read_by_the_type_beside_them():
    said = read(gap="1/4 in", count="12", share="0,25", way="crossed", plain="yes", slip="2 ± 1")
    assert said.gap == pytest.approx(6.35)
    assert (said.count, said.share, said.way, said.plain) == (12, 0.25, "crossed", True)
    assert said.known == Known(31.6, 0.1, "mm", Grade.CONJECTURED)
    assert said.slip == Known(2.0, 1.0, "%")


def test_an_empty_value_is_the_default_and_an_unticked_box_is_no():
    said = read(count="", slip=" ", plain="")
    assert (said.count, said.slip, said.plain) == (3, None, False)


def test_what_was_asked_comes_back_from_its_plain_values():
    said = read(slip="3", places=[[1.0, 2.0], [3.5, 4.0]], note="a\nb")
    assert asked_from(Everything, asked_as_dict(said)) == said


@given(st.floats(0.001, 99.0), st.floats(0.001, 5.0))
def test_a_quantity_typed_back_is_the_same_quantity(value, error):
    said = read(known=f"{value!r} ± {error!r} mm")
    field = next(one for one in asked_fields(Everything) if one.name == "known")
    again = read(known=field.as_typed(said.known))
    assert again.known.value == pytest.approx(said.known.value, rel=1e-9)
    assert again.known.error == pytest.approx(said.known.error, rel=1e-9)


@pytest.mark.parametrize(
    ("wrong", "field", "says"),
    [
        ({"gap": ""}, "gap", "'Gap' is missing: fill it in."),
        ({"gap": "101"}, "gap", "'Gap' of 101 mm cannot be: give 0 to 100 mm."),
        ({"gap": "nan"}, "gap", "'nan' is not a quantity"),
        ({"count": "0"}, "count", "'Stitches' of 0 cannot be: give 1 or more."),
        ({"count": "many"}, "count", "'many' for 'Stitches' is not a number: write it like 12."),
        ({"share": "nan"}, "share", "cannot be: give 0 to 1"),
        ({"free": "nan"}, "free", "'Free' of nan cannot be: give a number."),
        ({"free": "-inf"}, "free", "'Free' of -inf cannot be: give a number."),
        ({"count": "-" + "9" * 400}, "count", "cannot be: give 1 or more"),
        ({"way": "round"}, "way", "'round' is no choice for 'Way': use one of open, crossed."),
        ({"known": "9 kg"}, "known", "'Stroke' is asked for in mm, and '9 kg' measures something"),
        ({"colour": "red"}, "colour", "'colour' is not asked for here"),
        ({"places": [["a", 1]]}, "places", "'Places': "),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(wrong, field, says):
    with pytest.raises(AskedError) as caught:
        read(**wrong)
    assert says in str(caught.value)
    assert caught.value.field == field
    assert "\n" not in str(caught.value)


def test_a_grade_is_no_better_than_the_weakest_of_what_went_in():
    strong = Known(1.0, 0.1, "mm", Grade.MEASURED)
    assert grade_of((strong,), Grade.INFERRED) is Grade.INFERRED
    assert grade_of((strong, Known(1.0, 0.1, "mm")), Grade.INFERRED) is Grade.CONJECTURED


def finding(value, *more, grade=Grade.INFERRED, low=0.0):
    results = tuple(Result(name=f"r{n}", value=v, grade=grade) for n, v in enumerate(more))
    interval = Interval(low=low, high=10.0, coverage=0.9)
    method = Method(name="m")
    said = {"about": "a", "value": value, "version": "0", "method": method}
    return Finding(**said, interval=interval, grade=grade, results=results)


@pytest.mark.parametrize(
    ("again", "says"),
    [
        (finding(1.0, 1.0, 2.0), ""),
        (finding(1.0 + 1e-12, 1.0, 2.0), ""),
        (finding(1.1, 1.0, 2.0), "comes out as 1.1, not 1.0"),
        (finding(1.0, 1.0, 2.5), "'r1' comes out as 2.5, not 2"),
        (finding(1.0, 1.0), "comes out with 1 results, not 2"),
        (finding(1.0, 1.0, 2.0, grade=Grade.CONJECTURED), "is now conjectured, not inferred"),
        (finding(1.0, 1.0, 2.0, low=0.5), "comes out as 1.0"),
    ],
)
def test_findings_are_compared_result_by_result(again, says):
    said = same_results(finding(1.0, 1.0, 2.0), again)
    assert said.startswith(says) if says else said == ""
