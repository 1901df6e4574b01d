from datetime import UTC, datetime
from decimal import Decimal

import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.written_dates import read_date
from ironlace.record import (
    ENTRY_KINDS,
    EntryKind,
    Mark,
    Measurement,
    Outlay,
    parse_entries,
    parse_entry,
)
from ironlace.record.choices import NOT_TOLD
from ironlace.record.entries import kept_entry, to_keep
from ironlace.record.entry_fields import Control, fields_of

SHA = "0" * 64


def test_every_kind_has_its_model_and_says_its_own_name():
    assert set(ENTRY_KINDS) == set(EntryKind)
    for kind, model in ENTRY_KINDS.items():
        assert model.model_fields["kind"].default == kind.value


def test_a_mark_keeps_dots_and_doubts():
    mark = parse_entry(
        {"kind": "mark", "reads": "b°93.[38](7)?", "where": "slide plate", "grade": "seen"}
    )
    assert isinstance(mark, Mark)
    assert mark.reads == "B°93·[38](7)?"


def test_a_measurement_keeps_what_was_written():
    reading = parse_entry(
        {"kind": "measurement", "what": "stroke", "reads": "1 1/4 in", "grade": "measured"}
    )
    assert isinstance(reading, Measurement)
    assert reading.reads == "1 1/4 in"
    assert reading.measured.to("mm").value == 31.75


def test_hours_are_exact_decimals():
    outlay = parse_entry({"kind": "outlay", "what": "cleaning", "hours": "0.1"})
    assert isinstance(outlay, Outlay)
    assert str(outlay.hours) == "0.1"


@pytest.mark.parametrize(
    ("payload", "says"),
    [
        ({}, "does not say its kind"),
        ({"kind": "spell"}, "no entry of that kind"),
        ({"kind": "question"}, "'asks' is missing"),
        ({"kind": "question", "asks": "  "}, "'asks' is empty"),
        ({"kind": "question", "asks": "x" * 301}, "'asks' is too long: use 300 characters"),
        ({"kind": "mark", "reads": "(12", "where": "bed", "grade": "seen"}, "never closes"),
        ({"kind": "mark", "reads": "12", "where": "bed"}, "'grade' is missing"),
        ({"kind": "mark", "reads": "12", "where": "bed", "grade": "sure"}, "'grade'"),
        ({"kind": "outlay", "what": "x"}, "'cost': an outlay needs hours, a cost or both"),
        ({"kind": "outlay", "what": "x", "cost": "12"}, "'currency': a cost needs its currency"),
        (
            {"kind": "outlay", "what": "x", "cost": "12", "currency": "euro"},
            "three letters of ISO 4217",
        ),
        ({"kind": "outlay", "what": "x", "hours": -1}, "'hours' cannot be '-1': give 0 or more"),
        ({"kind": "outlay", "what": "x", "hours": "many"}, "'many' does not tell hours"),
        ({"kind": "outlay", "what": "x", "hours": [1]}, "'hours' should be a number such as 2.5"),
        ({"kind": "outlay", "what": "x", "hours": "0.125"}, "'hours' is finer than a hundredth"),
        ({"kind": "outlay", "what": "x", "cost": "12 €"}, "write the figure alone"),
        ({"kind": "question", "asks": 5}, "'asks' should be text, and '5' came"),
        ({"kind": "mark", "reads": "1", "where": "b", "grade": "x"}, "use seen, measured, inferr"),
        (5, "The entry should be an object with names"),
        (
            {"kind": "statement", "about": "date of making", "says": "soon", "grade": "seen"},
            "is not a date: write it like",
        ),
        ({"kind": "photograph", "sha256": "abc", "role": "mark"}, "'sha256'"),
        (
            {"kind": "question", "asks": "who?", "colour": "red"},
            "'colour' is no field",
        ),
        (
            {"kind": "treatment", "what": "wax", "aim": "restoration", "undoing": "can be undone"},
            "'how to undo': a treatment that can be undone says how",
        ),
    ],
)
def test_a_bad_entry_is_refused_in_one_sentence(payload, says):
    with pytest.raises(IronlaceError) as refusal:
        parse_entry(payload)
    message = str(refusal.value)
    assert says in message
    assert message.endswith(".")
    assert "\n" not in message
    for words_of_a_library in ("nput should be", "valid decimal", "the entry'", "Extra inputs"):
        assert words_of_a_library not in message


def test_of_several_entries_the_refusal_says_which():
    good = {"kind": "question", "asks": "Who made it?"}
    assert len(parse_entries([good, good])) == 2
    with pytest.raises(IronlaceError, match=r"Entry 2 of 3 \(mark\): 'grade' is missing"):
        parse_entries([good, {"kind": "mark", "reads": "12", "where": "bed"}, good])
    with pytest.raises(IronlaceError, match=r"Entry 1 of 2: There is no entry of that kind"):
        parse_entries([{"kind": "spell"}, good])
    with pytest.raises(IronlaceError, match="Entry 2 of 2: The entry should be"):
        parse_entries([good, 7])
    with pytest.raises(IronlaceError, match=r"\A'asks' is missing"):
        parse_entries([{"kind": "question"}])


def test_an_outlay_is_read_as_people_write_it_and_kept_exactly():
    outlay = {"kind": "outlay", "what": "wax", "hours": "1h30", "cost": "12,50", "currency": "eur"}
    entry = parse_entry(outlay)
    assert (str(entry.hours), str(entry.cost), entry.currency) == ("1.50", "12.50", "EUR")
    assert kept_entry(to_keep(entry)) == entry
    assert kept_entry({"kind": "outlay", "what": "wax", "hours": "1.25"}).hours == Decimal("1.25")


UNSAID = [
    ({"kind": "mark", "reads": "12", "where": "bed"}, "technique", "not said", "struck"),
    ({"kind": "part", "name": "shuttle"}, "risk", "not judged", "none foreseen"),
    ({"kind": "report", "name": "coast", "reads": "12"}, "how", "not said", "photograph seen"),
]


@pytest.mark.parametrize(("payload", "field", "unsaid", "before"), UNSAID)
def test_what_was_not_said_is_kept_as_unsaid_and_what_was_kept_before_keeps_its_meaning(
    payload, field, unsaid, before
):
    payload = {**payload, "grade": "seen"}
    entry = parse_entry(payload)
    assert getattr(entry, field) == unsaid
    assert to_keep(entry)[field] == unsaid
    assert kept_entry(to_keep(entry)) == entry
    # what was kept before left out what was the default then
    old = kept_entry(payload)
    assert getattr(old, field) == before
    assert to_keep(old)[field] == before
    said = parse_entry({**payload, field: before})
    assert kept_entry(to_keep(said)) == said == old


@pytest.mark.parametrize("model", ENTRY_KINDS.values())
def test_no_default_claims_how_a_thing_is_known(model):
    for field in fields_of(model):
        assert field.required or field.control is not Control.GRADE
        if field.words.kept_without:
            assert field.default in NOT_TOLD


def test_several_people_may_read_one_mark_differently():
    mark = {"kind": "mark", "reads": "b.12", "where": "bed", "grade": "seen"}
    read = parse_entry({**mark, "other_readings": ["b.(7)2: under another lamp", "b.19"]})
    assert read.other_readings == ("B·(7)2: under another lamp", "B·19")
    assert kept_entry(to_keep(read)) == read
    with pytest.raises(IronlaceError, match="'other readings': '#' in '1#' is not part of the"):
        parse_entry({**mark, "other_readings": ["1#: misread"]})


@pytest.mark.parametrize("model", ENTRY_KINDS.values())
def test_a_date_shown_as_an_example_reads_and_can_have_been(model):
    for field in fields_of(model):
        if field.control is Control.DATE and field.words.example:
            latest = read_date(field.words.example).latest
            assert latest is not None
            assert latest <= datetime.now(UTC).date()


def test_dates_are_taken_as_people_write_them():
    step = {"kind": "provenance", "event": "sold", "grade": "seen"}
    for written, kept in (
        ("12 June 1886", "1886-06-12"),
        ("week 14 of 1887", "1887-04-04/1887-04-10"),
        ("before 1890", "../1889"),
    ):
        assert parse_entry({**step, "date": written}).date == kept


def test_an_empty_date_is_no_date():
    assert parse_entry(
        {"kind": "photograph", "sha256": SHA, "role": "mark", "date": " "}
    ).date is None  # fmt: skip
