"""What the account holds of a record, in words."""

import pytest

from ironlace.dossier.account.blocks import (
    Cautions,
    Heading,
    Item,
    Matter,
    Plates,
    Remark,
    Rivals,
    Says,
    Tabular,
    YearSpan,
    all_blocks,
)
from ironlace.dossier.account.findings_as_blocks import FindingWords
from ironlace.dossier.account.record_to_account import ORDER, account_of
from ironlace.evidence.grades import Grade


def items(account, key):
    """The entries of a section, in order."""
    section = account.section(key)
    assert section is not None, key
    return [block for block in all_blocks(section.blocks) if isinstance(block, Item)]


def within(item, kind):
    """The blocks of one kind in an entry."""
    return [block for block in all_blocks([item]) if isinstance(block, kind)]


def test_statements_come_by_topic_with_rivals_marked(full_account) -> None:
    section = full_account.section("what-it-is")
    topics = [block.words for block in section.blocks if isinstance(block, Heading)]
    assert topics[:2] == ["kind of machine", "maker"]
    (rivals,) = [block for block in section.blocks if isinstance(block, Rivals)]
    assert [item.margin.grade for item in rivals.items] == [Grade.INFERRED, Grade.CONJECTURED]
    assert within(rivals.items[0], Says) == [Says("Calder Vane Works")]
    assert within(rivals.items[0], Remark) == [Remark("Claimed by the previous owner")]


def test_the_same_said_twice_is_no_rivalry(make_record) -> None:
    said = {"kind": "statement", "about": "maker", "says": "Pell Works"}
    account = account_of(
        make_record([said | {"grade": "seen"}, said | {"grade": "inferred"}]), {}, {}
    )
    assert not any(isinstance(block, Rivals) for block in account.blocks())
    assert account.summary == (("maker", "Pell Works", Grade.SEEN),)


def test_a_date_of_making_is_in_words(full_account) -> None:
    assert Says("about April 1893") in list(full_account.blocks())


def test_first_page_admits_rivals_and_takes_the_date_from_the_finding(full_account) -> None:
    summary = {topic: (says, grade) for topic, says, grade in full_account.summary}
    assert summary["maker"] == ("2 rival statements, see within", Grade.CONJECTURED)
    assert summary["date of making"] == (
        "between April 1893 and February 1894 (90\u00a0%)",
        Grade.INFERRED,
    )


def test_a_mark_stands_glyph_by_glyph(full_account) -> None:
    row = items(full_account, "marks")[1].blocks[0]
    assert [(cell.signs, cell.under, cell.doubtful, cell.gap) for cell in row.glyphs] == [
        (("4",), "", False, False),
        ((" ",), "gap", False, True),
        (("1",), "", True, False),
        (("3", "8"), "3 or 8", False, False),
        ((), "unread", False, False),
        (("·",), "dot", False, False),
        (("★",), "star", False, False),
    ]
    assert row.spoken == "4, gap, 1 (doubtful), 3 or 8, unread, dot, star"


def test_what_was_not_said_is_told_as_unsaid(make_record) -> None:
    mark = {"kind": "mark", "reads": "12", "where": "bed", "grade": "seen"}
    part = {"kind": "part", "name": "shuttle", "state": "damaged", "grade": "seen"}
    report = {"kind": "report", "name": "coast", "reads": "12", "grade": "conjectured"}
    account = account_of(make_record([mark, part, report]), {}, {})
    (told,) = items(account, "marks")
    assert within(told, Remark) == [Remark("How it was put on: not said")]
    (told,) = items(account, "condition")
    assert within(told, Remark) == [
        Remark("Damaged · how soon: not judged · does it belong: not known")
    ]
    (table,) = [b for b in account.section("reports").blocks if isinstance(b, Tabular)]
    assert table.rows[0].cells[1].words == "Not said"


def test_vouchers_point_to_entries_that_are_there(full_account) -> None:
    maker = next(item for item in items(full_account, "what-it-is") if item.name == "statement 2")
    vouchers = maker.margin.vouchers
    assert vouchers[0].entry == "source 1"
    assert vouchers[0].says.startswith("source 1, Price list of the Calder Vane Works: page 14")
    assert vouchers[1].says == "person: kept private"
    (source,) = items(full_account, "sources")
    assert source.margin.references.names == ("statement 2",)


@pytest.mark.parametrize(
    ("number", "cells"),
    [
        (0, ["31.6 ± 0.1", "1.2441 ± 0.0039"]),
        (1, ["38.89 ± 0.40", "1 17/32 ± 1/64"]),
        (2, ["55 ± 5 gf"]),
        (3, ["312", "12.2835"]),
        (4, ["7.938", "5/16"]),
    ],
)
def test_lengths_stand_both_ways(full_account, number, cells) -> None:
    (table,) = full_account.section("measurements").blocks
    assert [cell.words for cell in table.rows[number].cells[1:-1]] == cells


def test_a_converted_length_is_marked_as_such(full_account) -> None:
    (table,) = full_account.section("measurements").blocks
    assert [cell.look for cell in table.rows[0].cells[1:3]] == ["figure", "converted"]
    assert [cell.look for cell in table.rows[1].cells[1:3]] == ["converted", "figure"]


def test_date_finding_stands_on_a_scale_of_years(full_account) -> None:
    (date,) = items(full_account, "date")
    (span,) = within(date, YearSpan)
    assert (span.first_year, span.last_year) == (1890, 1900)
    assert span.low == pytest.approx((3 + 90 / 366) / 10, abs=0.002)
    assert span.high == pytest.approx((4 + 58 / 366) / 10, abs=0.002)


def test_a_date_is_told_once_and_a_month_as_one_month(make_record) -> None:
    finding = {
        "about": "date of making",
        "value": "1888-02",
        "interval": {"low": "1888-02", "high": "1888-02", "coverage": 0.9},
        "method": {"name": "m"},
        "version": "1",
    }
    account = account_of(make_record([{"kind": "finding", "finding": finding}]), {}, {})
    (date,) = items(account, "date")
    assert within(date, Says) == [Says("In February 1888 (90\u00a0%)", large=True)]
    assert not [one for one in within(date, Remark) if "single value" in one.words]


def test_open_interval_has_an_open_end(make_record) -> None:
    finding = {
        "about": "date of making",
        "value": None,
        "interval": {"low": None, "high": "1899", "coverage": 0.9},
        "method": {"name": "by hand"},
        "version": "1",
    }
    account = account_of(make_record([{"kind": "finding", "finding": finding}]), {}, {})
    (date,) = items(account, "date")
    assert within(date, Says) == [Says("Up to 1899 (90\u00a0%)", large=True)]
    assert within(date, YearSpan)[0].low is None


def test_a_finding_nobody_announces_stands_with_what_else_was_worked_out(full_account) -> None:
    (made,) = items(full_account, "worked-out")
    assert made.heading == "Number made"
    assert within(made, Remark) == [Remark("Best single value: 1840 machines")]
    assert within(made, Says) == [Says("Between 1100 and 3900 machines (90\u00a0%)", large=True)]


def worked_out(**more):
    return {
        "kind": "finding",
        "finding": {
            "about": "length of belt",
            "value": 812.4,
            "unit": "mm",
            "method": {"name": "m", "parameters": {"asked": {"slip": 0.02}, "steps": 3}},
            "version": "1",
            **more,
        },
    }


@pytest.mark.parametrize(
    ("section", "key"),
    [("made", "date"), ("stand", "stand"), ("care", "care"), ("running", "running"),
     ("ornament", "ornament"), ("marks", "marks"), ("", "worked-out"), ("else", "worked-out")],
)  # fmt: skip
def test_a_finding_stands_in_the_section_its_analysis_names(make_record, section, key) -> None:
    words = {"length of belt": FindingWords("How long is the belt?", section)}
    account = account_of(make_record([worked_out()]), {}, {}, finding_words=words)
    assert [found.key for found in account.sections] == [key]
    (item,) = items(account, key)
    assert item.heading == "How long is the belt?"
    assert "Slip: 0.02" in item.margin.lines and "Steps: 3" in item.margin.lines


def test_several_results_are_a_table_with_unit_interval_and_grade(make_record) -> None:
    results = [
        {"name": "length", "value": 812.4, "unit": "mm", "grade": "inferred",
         "interval": {"low": 810.0, "high": 815.0, "coverage": 0.9}},
        {"name": "turns of the wheel", "value": 3, "grade": "measured"},
    ]  # fmt: skip
    account = account_of(make_record([worked_out(results=results)]), {}, {})
    (table,) = within(items(account, "worked-out")[0], Tabular)
    assert [[cell.words for cell in row.cells] for row in table.rows] == [
        ["Length", "812.4 mm", "between 810 and 815 mm (90\u00a0%)", ""],
        ["Turns of the wheel", "3", "none given", ""],
    ]
    assert [row.cells[-1].grade for row in table.rows] == [Grade.INFERRED, Grade.MEASURED]


@pytest.mark.parametrize("stale", [True, "measurement 3 has been changed since."])
def test_a_stale_finding_says_so_first(make_record, stale) -> None:
    words = {"finding 1": FindingWords("How long is the belt?", "stand", stale)}
    account = account_of(make_record([worked_out(), worked_out()]), {}, {}, finding_words=words)
    first = items(account, "stand")[0].blocks[0]
    assert isinstance(first, Remark)
    assert first.strong == "Out of date."
    assert first.words == stale or (stale is True and "worked out again" in first.words)
    assert not any("Out of date" in repr(block) for block in items(account, "worked-out"))


def test_cautions_come_with_the_treatment(full_account) -> None:
    (cautions,) = within(items(full_account, "treatments")[0], Cautions)
    assert [hazard for hazard, _, _ in cautions.cautions] == [
        "solvents and varnish",
        "drying-oil rags",
    ]


def test_photographs_before_and_after_stand_side_by_side(full_account) -> None:
    (plates,) = within(items(full_account, "treatments")[0], Plates)
    assert plates.columns == (("before", ("photograph 4",)), ("after", ("photograph 5",)))


def test_what_must_not_be_missed_begins_the_section(full_account) -> None:
    assert full_account.section("condition").blocks[0] == Remark("Old motor lead.", "Act now:")
    assert within(items(full_account, "condition")[3], Remark) == [
        Remark("getting worse · addition", "Act now ·")
    ]


def test_answered_questions_follow_the_open_ones(full_account) -> None:
    still_open, answered = items(full_account, "questions")
    assert within(answered, Matter) == [Matter("Steel: report 2 shows one with rust.")]
    assert within(still_open, Matter)[0].label == "What would answer it."


def test_sections_come_in_their_order_and_the_rest_are_named_as_absent(full_account) -> None:
    keys = [section.key for section in full_account.sections]
    assert keys == [key for key in ORDER if key in keys]
    assert full_account.absent == ()


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
    assert account.sections == account.plates == account.summary == ()
    assert account.absent[:3] == ("What it is", "The marks", "When it was made, and how many")
    assert account.document["entries"] == {}


def test_history_is_in_the_document_of_a_private_account_only(full_record, history) -> None:
    public = account_of(full_record, {}, {}, changes=history)
    private = account_of(full_record, {}, {}, changes=history, private=True)
    assert "changes" not in public.document
    assert len(private.document["changes"]) == len(history)
