"""What the account says of a record, in words."""

import pytest

from ironlace.dossier.record_to_account import account_of
from ironlace.evidence.grades import Grade


def test_statements_come_by_topic_with_rivals_marked(full_account) -> None:
    topics = {topic.topic: topic for topic in full_account.topics}
    assert topics["maker"].rivals
    assert [said.evidence.grade for said in topics["maker"].statements] == [
        Grade.INFERRED,
        Grade.CONJECTURED,
    ]
    assert not topics["finish and ornament"].rivals
    assert len(topics["finish and ornament"].statements) == 2


def test_the_same_said_twice_is_no_rivalry(make_record) -> None:
    said = {"kind": "statement", "about": "maker", "says": "Pell Works"}
    account = account_of(
        make_record([said | {"grade": "seen"}, said | {"grade": "inferred"}]), {}, {}
    )
    assert not account.topics[0].rivals
    assert account.summary == (("maker", "Pell Works", Grade.SEEN),)


def test_first_page_admits_rivals_and_takes_the_date_from_the_finding(full_account) -> None:
    summary = {topic: (says, grade) for topic, says, grade in full_account.summary}
    assert summary["maker"] == ("2 rival statements, see within", Grade.CONJECTURED)
    assert summary["date of making"] == (
        "between April 1893 and February 1894 (90\u00a0%)",
        Grade.INFERRED,
    )


def test_mark_is_told_glyph_by_glyph(full_account) -> None:
    second = full_account.marks[1]
    assert [(cell.signs, cell.under, cell.doubtful, cell.gap) for cell in second.glyphs] == [
        (("4",), "", False, False),
        ((" ",), "gap", False, True),
        (("1",), "", True, False),
        (("3", "8"), "3 or 8", False, False),
        ((), "unread", False, False),
        (("·",), "dot", False, False),
        (("★",), "star", False, False),
    ]
    assert second.spoken == "4, gap, 1 (doubtful), 3 or 8, unread, dot, star"


def test_vouchers_point_to_entries_that_are_there(full_account) -> None:
    maker = next(topic for topic in full_account.topics if topic.topic == "maker")
    vouchers = maker.statements[0].evidence.vouchers
    assert vouchers[0].entry == "source 1"
    assert vouchers[0].says.startswith("source 1, Price list of the Calder Vane Works: page 14")
    assert vouchers[1].says == "person: kept private"
    assert full_account.sources[0].vouches_for == ("statement 2",)


@pytest.mark.parametrize(
    ("number", "mm", "inches"),
    [
        (0, "31.6 ± 0.1", "1.2441 ± 0.0039"),
        (1, "38.89 ± 0.40", "1 17/32 ± 1/64"),
        (2, "", ""),
        (3, "312", "12.2835"),
        (4, "7.938", "5/16"),
    ],
)
def test_lengths_are_told_both_ways(full_account, number, mm, inches) -> None:
    reading = full_account.readings[number]
    assert (reading.mm, reading.inches) == (mm, inches)


def test_date_finding_stands_on_a_scale_of_years(full_account) -> None:
    span = full_account.dates[0].span
    assert span is not None
    assert (span.first_year, span.last_year) == (1890, 1900)
    assert span.low == pytest.approx((3 + 90 / 366) / 10, abs=0.002)
    assert span.high == pytest.approx((4 + 58 / 366) / 10, abs=0.002)


def test_open_interval_has_an_open_end(make_record) -> None:
    finding = {
        "about": "date of making",
        "value": None,
        "interval": {"low": None, "high": "1899", "coverage": 0.9},
        "method": {"name": "by hand"},
        "version": "1",
    }
    account = account_of(make_record([{"kind": "finding", "finding": finding}]), {}, {})
    assert account.dates[0].interval == "up to 1899 (90\u00a0%)"
    assert account.dates[0].span is not None
    assert account.dates[0].span.low is None


def test_other_findings_tell_their_unit(full_account) -> None:
    (made,) = full_account.findings
    assert made.value == "1840 machines"
    assert made.interval == "between 1100 and 3900 machines (90\u00a0%)"


def test_cautions_come_with_the_treatment(full_account) -> None:
    assert [c.hazard for c in full_account.treatments[0].cautions] == [
        "solvents and varnish",
        "drying-oil rags",
    ]


def test_colophon_counts_changes_and_fingerprints_findings(full_account, history) -> None:
    colophon = full_account.colophon
    assert colophon.changes == len(history)
    assert colophon.findings == 3
    assert len(colophon.fingerprint) == 64


def test_fingerprint_changes_with_a_finding_and_not_with_a_note(make_record) -> None:
    def fingerprint(value: int, note: str) -> str:
        finding = {"about": "n", "value": value, "method": {"name": "m"}, "version": "1"}
        record = make_record([{"kind": "finding", "finding": finding, "note": note}])
        return account_of(record, {}, {}).colophon.fingerprint

    assert fingerprint(1, "a") == fingerprint(1, "b")
    assert fingerprint(1, "a") != fingerprint(2, "a")


def test_lead_picture_is_the_whole_machine_and_at_hand(full_account, full_record, pictures) -> None:
    assert full_account.lead == "photograph 1"
    without = {name: file for name, file in pictures.items() if name != "photograph 1"}
    assert account_of(full_record, without, {}).lead == "photograph 2"
    assert account_of(full_record, {}, {}).lead == ""


def test_an_empty_record_makes_an_empty_account(make_record) -> None:
    account = account_of(make_record([]), {}, {})
    assert account.topics == account.marks == account.plates == account.summary == ()
    assert account.document["entries"] == {}


def test_history_is_in_the_document_of_a_private_account_only(full_record, history) -> None:
    public = account_of(full_record, {}, {}, changes=history)
    private = account_of(full_record, {}, {}, changes=history, private=True)
    assert "changes" not in public.document
    assert len(private.document["changes"]) == len(history)
