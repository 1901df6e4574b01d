"""Findings of declared analyses: kept, replaced, gone stale, computed again."""

import re
from dataclasses import dataclass
from typing import Annotated

import pytest

from ironlace.evidence.analyses import (
    Analysis,
    Ask,
    AskedError,
    Known,
    KnownTable,
    Nothing,
    grade_of,
)
from ironlace.evidence.answers import Answer
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.record import FindingEntry, Measurement, parse_entry
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.verify import verify_record


@dataclass(frozen=True)
class Gap:
    across: Annotated[Known, Ask("Across the gap", unit="mm", low=0.0, high=50.0, example="2 mm")]


def twice(_inputs, asked, _steps):
    return asked


def twice_answer(asked):
    grade = grade_of((asked.across,), Grade.INFERRED)
    error = asked.across.error or 0.0
    value = asked.across.value
    width = Interval(low=value - 2 * error, high=value + 2 * error, coverage=0.95)
    return Answer(
        (
            Result(name="gap", value=value, unit="mm", interval=width, grade=grade),
            Result(name="twice the gap", value=2 * value, unit="mm", grade=grade),
        ),
        (f"The gap is {value:g} mm.",),
    )


TWICE = Analysis(
    key="twice",
    about="twice the gap",
    question="How wide is twice the gap?",
    section="stand",
    inputs=Nothing,
    asked=Gap,
    work=twice,
    answer=twice_answer,
    method="doubling",
    published="",
)


@pytest.fixture(autouse=True)
def with_twice(monkeypatch):
    monkeypatch.setattr(analyses, "ALL", (*analyses.ALL, TWICE))


@pytest.fixture
def measured(workshop, slug):
    entry = Measurement(what="gap", reads="3.0 ± 0.1 mm", grade=Grade.MEASURED)
    return workshop.records.add(slug, entry)


def worked(workshop, slug, **given):
    record = workshop.records.read(slug)
    asked = analyses.asked_for(TWICE, record, given)
    return analyses.work_out(workshop, record, TWICE, asked)


def test_a_measurement_brings_value_doubt_grade_and_checksum(workshop, slug, measured):
    found = worked(workshop, slug, across=measured)
    known = found.asked.across
    assert (known.value, known.error, known.grade, known.source) == (
        3.0,
        0.1,
        Grade.MEASURED,
        measured,
    )
    finding = found.finding()
    assert finding.inputs[measured] == known.checksum
    assert finding.grade is Grade.INFERRED
    assert [r.name for r in finding.results] == ["gap", "twice the gap"]


def test_what_was_typed_in_without_a_measurement_is_conjectured(workshop, slug):
    assert worked(workshop, slug, across="3 mm").finding().grade is Grade.CONJECTURED


def test_an_inch_reading_is_taken_in_mm(workshop, slug):
    name = workshop.records.add(slug, Measurement(what="gap", reads="1/8 in", grade=Grade.MEASURED))
    assert worked(workshop, slug, across=name).asked.across.value == pytest.approx(3.175)


def test_keeping_again_replaces_the_earlier_finding(workshop, slug, measured):
    first = analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    second = analyses.keep(workshop, slug, worked(workshop, slug, across="4 mm"))
    assert first == second
    assert len(list(workshop.records.read(slug).of(FindingEntry))) == 1
    assert len(workshop.records.changes(slug, first)) == 2


def test_keeping_the_same_again_changes_nothing(workshop, slug, measured):
    name = analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    assert len(workshop.records.changes(slug, name)) == 1


def test_a_changed_measurement_makes_its_finding_stale_at_once(workshop, slug, measured):
    name = analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    assert analyses.stale_findings(workshop, workshop.records.read(slug)) == {}
    changed = Measurement(what="gap", reads="3.4 ± 0.1 mm", grade=Grade.MEASURED)
    workshop.records.change(slug, measured, changed)
    why = analyses.stale_findings(workshop, workshop.records.read(slug))
    assert why == {name: f"Since this was worked out, {measured} changed: work it out again."}


def test_a_note_on_the_measurement_does_not_make_it_stale(workshop, slug, measured):
    analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    entry = workshop.records.read(slug).named(measured)
    workshop.records.change(slug, measured, entry.model_copy(update={"note": "by daylight"}))
    assert analyses.stale_findings(workshop, workshop.records.read(slug)) == {}


def test_a_withdrawn_measurement_makes_it_stale(workshop, slug, measured):
    name = analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    workshop.records.change(slug, measured, None)
    why = analyses.stale_findings(workshop, workshop.records.read(slug))
    assert why == {name: f"{measured} was withdrawn since this was worked out."}


def test_verify_computes_it_on_the_record_of_then_and_says_that_it_is_stale(
    workshop, slug, measured
):
    name = analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    changed = Measurement(what="gap", reads="3.4 ± 0.1 mm", grade=Grade.MEASURED)
    workshop.records.change(slug, measured, changed)
    (verified,) = verify_record(workshop, slug)
    assert (verified.name, verified.same) == (name, True)
    assert "changed: work it out again" in verified.stale


def test_verify_notices_a_result_that_comes_out_otherwise(workshop, slug, measured):
    name = analyses.keep(workshop, slug, worked(workshop, slug, across=measured))
    entry = workshop.records.read(slug).named(name)
    wrong = entry.finding.results[1].model_copy(update={"value": 7.0})
    finding = entry.finding.model_copy(update={"results": (entry.finding.results[0], wrong)})
    workshop.records.change(slug, name, FindingEntry(finding=finding))
    (verified,) = verify_record(workshop, slug)
    assert verified.same is False
    assert "twice the gap" in verified.says


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, "'Across the gap' is missing: fill it in."),
        ({"across": "51"}, "'Across the gap' of 51 mm cannot be: give 0 to 50 mm."),
        ({"across": "3 °C"}, "asked for in mm"),
        ({"across": "measurement 9"}, "There is no measurement 9"),
        ({"across": "wide"}, "'wide' is not a quantity"),
        ({"width": "3"}, "'width' is not asked for here"),
    ],
)
def test_a_value_that_cannot_be_is_refused_in_one_sentence(workshop, slug, given, says):
    record = workshop.records.read(slug)
    with pytest.raises(AskedError, match=re.escape(says)) as caught:
        analyses.asked_for(TWICE, record, given)
    assert caught.value.field == next(iter(given), "across")


@dataclass(frozen=True)
class Motion:
    read: Annotated[
        KnownTable,
        Ask("Motion of the needle bar", columns={"angle": "deg", "height": "mm"}),
    ]


def highest_answer(asked):
    heights = [value for value in asked.read.column("height").values if value is not None]
    grade = grade_of((asked.read,), Grade.INFERRED)
    return Answer(
        (Result(name="highest", value=max(heights), unit="mm", grade=grade),),
        (f"The bar stands {max(heights):g} mm high at most.",),
    )


HIGHEST = Analysis(
    key="highest-of-bar",
    about="highest of the bar",
    question="How high does the needle bar stand?",
    section="running",
    inputs=Nothing,
    asked=Motion,
    work=twice,
    answer=highest_answer,
    method="greatest of the readings",
    published="",
)
TABLE = {"text": "angle of the wheel [deg]; height [in]; dial\n0; 1/2; 1\n10; 1; 2\n20; ; 3"}


@pytest.fixture
def motion(workshop, slug, monkeypatch):
    monkeypatch.setattr(analyses, "ALL", (*analyses.ALL, HIGHEST))
    entry = parse_entry({"kind": "readings", "what": "bar", "grade": "measured", "table": TABLE})
    return workshop.records.add(slug, entry)


def test_a_table_of_readings_brings_its_columns_in_the_units_asked_for(workshop, slug, motion):
    record = workshop.records.read(slug)
    asked = analyses.asked_for(HIGHEST, record, {"read": motion})
    angle, height = asked.read.columns
    assert (angle.name, angle.unit, angle.values) == ("angle", "deg", (0.0, 10.0, 20.0))
    assert (height.name, height.unit, height.values) == ("height", "mm", (12.7, 25.4, None))
    assert (asked.read.grade, asked.read.source) == (Grade.MEASURED, "readings 1")
    worked = analyses.work_out(workshop, record, HIGHEST, asked)
    assert list(worked.inputs) == ["readings 1"]
    name = analyses.keep(workshop, slug, worked)
    (verified,) = verify_record(workshop, slug)
    assert verified.same is True
    # a figure put right makes the finding stale; a note does not
    kept = workshop.records.read(slug).named(motion)
    workshop.records.change(slug, motion, kept.model_copy(update={"note": "Again."}))
    assert analyses.stale_findings(workshop, workshop.records.read(slug)) == {}
    righted = parse_entry(
        {**kept.model_dump(mode="json"), "table": {"text": TABLE["text"].replace("; 1;", "; 2;")}}
    )
    workshop.records.change(slug, motion, righted)
    assert (
        "readings 1 changed" in analyses.stale_findings(workshop, workshop.records.read(slug))[name]
    )


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("readings 9", "There is no readings 9"),
        ("angle [deg]\theight [cN]\n0\t1", "needs the column height [mm]"),
        ("angle [deg]\twidth [mm]\n0\t1", "needs a column height [mm], and the table has angle"),
        ("angle [deg]\theight\n0\t1", "say its unit"),
        ("12 mm", "headings and no rows"),
    ],
)
def test_a_table_that_does_not_serve_is_refused_in_a_sentence(workshop, slug, motion, given, says):
    with pytest.raises(AskedError) as told:
        analyses.asked_for(HIGHEST, workshop.records.read(slug), {"read": given})
    assert says in str(told.value)
    assert told.value.field == "read"


def test_a_pasted_table_is_conjectured(workshop, slug, motion):
    record = workshop.records.read(slug)
    asked = analyses.asked_for(HIGHEST, record, {"read": "angle [deg]\theight [mm]\n0\t1\n9\t2"})
    assert (asked.read.grade, asked.read.source) == (Grade.CONJECTURED, "")
