"""What the account holds of a record, in words."""

import pytest

from ironlace.dossier.account.blocks import (
    Cautions,
    EvidenceMap,
    Heading,
    Item,
    Matter,
    Pairs,
    Plates,
    References,
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
        (1, ["31.6 ± 0.1", "1.244 ± 0.004"]),
        (3, ["38.9 ± 0.4", "1 17/32 ± 1/64"]),
        (4, ["55 ± 5 gf"]),
        (5, ["312", "12.28"]),
        (6, ["7.9", "5/16"]),
    ],
)
def test_lengths_stand_both_ways(full_account, number, cells) -> None:
    (table,) = full_account.section("measurements").blocks
    assert [cell.words for cell in table.rows[number].cells[1:-1]] == cells


def test_a_converted_length_is_marked_as_such(full_account) -> None:
    (table,) = full_account.section("measurements").blocks
    assert [cell.look for cell in table.rows[1].cells[1:3]] == ["figure", "converted"]
    assert [cell.look for cell in table.rows[3].cells[1:3]] == ["converted", "figure"]


@pytest.mark.parametrize(
    ("reads", "inches"),
    [
        ("0.90 ± 0.01 mm", "0.0354 ± 0.0004"),
        ("0.60 ± 0.01 mm", "0.0236 ± 0.0004"),
        ("2.040 ± 0.003 mm", "0.0803 ± 0.0001"),
        ("37.0 ± 0.1 mm", "1.457 ± 0.004"),
        ("344 ± 0.5 mm", "13.543 ± 0.020"),
        ("1.5 cm", "0.59"),
        ("31,6 mm", "1.244"),
    ],
)
def test_inches_have_as_many_places_as_their_error_bears(make_record, reads, inches) -> None:
    entry = {"kind": "measurement", "what": "x", "reads": reads, "grade": "measured"}
    (table,) = account_of(make_record([entry]), {}, {}).section("measurements").blocks
    assert table.rows[0].cells[2].words == inches


def test_measurements_stand_by_part_and_say_once_what_is_alike(make_record) -> None:
    def reading(what, part, instrument="calliper", date="2025-03-22"):
        return {"kind": "measurement", "what": what, "part": part, "reads": "12 mm",
                "grade": "measured", "instrument": instrument, "date": date}  # fmt: skip

    record = make_record(
        [
            reading("bed length", "bed", "rule"),
            reading("shuttle diameter", "shuttle"),
            reading("bed width", "Bed", "rule"),
            reading("mass", ""),
            reading("tension disc diameter", "tension discs"),
            reading("bedding depth", "bed", "gauge"),
        ]
    )
    (table,) = account_of(record, {}, {}).section("measurements").blocks
    assert [row.cells[0].words for row in table.rows] == [
        "Bed", "Length", "Width", "Bedding depth",
        "Shuttle", "Diameter",
        "Tension discs", "Diameter",
        "Of no part in particular", "Mass",
    ]  # fmt: skip
    assert [row.head for row in table.rows] == [n in (0, 4, 6, 8) for n in range(10)]
    assert table.rows[0].cells[0].below == ("22 March 2025",)
    known = [(row.cells[-1].words, row.cells[-1].down, row.cells[-1].again)
             for row in table.rows[1:4]]  # fmt: skip
    assert known == [("rule", 2, False), ("rule", 1, True), ("gauge", 1, False)]


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
    assert [found.key for found in account.sections] == [key, "method"]
    (item,) = items(account, key)
    assert item.heading == "How long is the belt?"
    (note,) = items(account, "method")
    assert item.margin.note == note.name == "note on finding 1"
    assert within(note, Matter) == [
        Matter("M.", "Method."),
        Matter("Slip: 0.02; steps: 3.", "With."),
    ]


def test_what_was_taken_for_granted_is_called_as_it_was_asked(make_record) -> None:
    words = FindingWords("Belt?", "stand", asked={"slip": ("Slip of the belt", "%")})
    record = make_record([worked_out()])
    account = account_of(record, {}, {}, finding_words={"length of belt": words})
    (note,) = items(account, "method")
    assert Matter("Slip of the belt: 0.02 %; steps: 3.", "With.") in note.blocks


def test_a_finding_is_told_in_three_lines_and_the_rest_stands_in_the_note(make_record) -> None:
    said = "G·94 627: 1894, if the number tells the year: 68 %; otherwise no date (inferred). "
    said += "By 5 reports, No. 2 is likely. Ask for a dated one. A fourth sentence. A fifth."
    finding = {
        "about": "date of making",
        "value": "1894",
        "interval": {"low": "1862-10", "high": "1918-03", "coverage": 0.9},
        "sentence": said,
        "method": {"name": "ironlace.survey: m", "published": "Bayes"},
        "version": "0.9.9",
    }
    account = account_of(make_record([{"kind": "finding", "finding": finding}]), {}, {})
    (date,) = items(account, "date")
    assert within(date, Says)[0].words.startswith("1894, if the number tells the year: 68")
    assert within(date, Matter) == [
        Matter("By 5 reports, No. 2 is likely.\n\nAsk for a dated one.")
    ]
    assert "0.9.9" not in repr(date) and "Bayes" not in repr(date)
    (note,) = items(account, "method")
    assert within(note, Matter)[0] == Matter(said)
    assert within(note, Matter)[1] == Matter("M. Bayes.", "Method.")
    assert note.margin.lines[0] == "Version 0.9.9"


def test_old_figures_are_told_in_words_with_their_units(make_record) -> None:
    value = {
        "sheets": 2, "bridge_mm2": 35.6991, "covered": 0.954216, "touch_in_minutes": 56.5,
        "posterior": 0.907891, "stroke_mm": 31.64159, "svg": "ab" * 32, "closed": True,
    }  # fmt: skip
    account = account_of(make_record([worked_out(value=value, unit="")]), {}, {})
    (pairs,) = within(items(account, "worked-out")[0], Pairs)
    assert pairs.rows == (
        ("Sheets", "2"),
        ("Area of the bridges", "35.7 mm²"),
        ("Share covered when laid true", "95.4\u00a0%"),
        ("Touching in by hand", "56.5 min"),
        ("Chance", "90.8\u00a0%"),
        ("Stroke", "31.64 mm"),
        ("Closed", "yes"),
    )


def test_a_share_among_results_is_told_in_a_hundred(make_record) -> None:
    results = [
        {"name": "share of the drawing covered when laid true", "value": 0.954216,
         "grade": "inferred"},
        {"name": "area of the bridges", "value": 35.6991, "unit": "mm²", "grade": "inferred"},
    ]  # fmt: skip
    account = account_of(make_record([worked_out(results=results)]), {}, {})
    (table,) = within(items(account, "worked-out")[0], Tabular)
    assert [row.cells[1].words for row in table.rows] == ["95.4\u00a0%", "35.699 mm²"]
    # no interval at all: no column for it, and the grade they share is said once
    assert table.heads == ("What", "Value", "Grade")
    assert [(row.cells[-1].down, row.cells[-1].again) for row in table.rows] == [
        (2, False), (1, True)
    ]  # fmt: skip


def test_nothing_left_empty_and_no_raw_figure_stands_in_a_note(make_record) -> None:
    parameters = {"asked": {"schemes": "", "of": None, "posterior": 0.907891, "more": {}}}
    finding = worked_out(method={"name": "m", "parameters": parameters})
    (note,) = items(account_of(make_record([finding]), {}, {}), "method")
    assert within(note, Matter)[1] == Matter("Chance: 90.8\u00a0%.", "With.")


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
    assert all("Product data sheets, local codes" in rests for _, _, rests in cautions.cautions)


def test_no_caution_on_rags_where_the_oil_is_a_mineral_one(make_record) -> None:
    treatment = {"kind": "treatment", "what": "Oiled", "aim": "examination",
                 "undoing": "nothing to undo", "materials": ["light mineral oil"],
                 "hazards": ["running parts", "drying-oil rags"]}  # fmt: skip
    (item,) = items(account_of(make_record([treatment]), {}, {}), "treatments")
    (cautions,) = within(item, Cautions)
    assert [hazard for hazard, _, _ in cautions.cautions] == ["running parts"]


def test_photographs_before_and_after_stand_side_by_side(full_account) -> None:
    (plates,) = within(items(full_account, "treatments")[0], Plates)
    assert plates.columns == (("before", ("photograph 4",)), ("after", ("photograph 5",)))


def test_a_photograph_is_shown_where_it_comes_first_and_named_after_that(
    make_record, pictures
) -> None:
    sha = "ab" * 32
    shot = {"kind": "photograph", "sha256": sha, "role": "mark"}
    mark = {"kind": "mark", "reads": "7", "where": "bed", "grade": "seen"}
    treatment = {
        "kind": "treatment",
        "what": "x",
        "aim": "examination",
        "undoing": "nothing to undo",
    }
    record = make_record(
        [
            shot | {"role": "as found"}, shot, shot,
            mark | {"photographs": ["photograph 2"]},
            mark | {"photographs": ["photograph 2"]},
            treatment | {"before": ["photograph 1"], "after": ["photograph 3"]},
        ]
    )  # fmt: skip
    account = account_of(record, pictures, {})
    assert account.lead == "photograph 1"
    shown = [plates for plates in account.blocks() if isinstance(plates, Plates)]
    assert [(plates.columns, plates.elsewhere) for plates in shown] == [
        ((("", ("photograph 2",)),), ()),
        ((), (("", ("photograph 2",)),)),
        ((("after", ("photograph 3",)),), (("before", ("photograph 1",)),)),
    ]


def test_a_photograph_that_vouches_for_an_entry_is_not_named_twice(make_record) -> None:
    sha = "ab" * 32
    shot = {"kind": "photograph", "sha256": sha, "role": "part"}
    part = {"kind": "part", "name": "Bed", "grade": "seen",
            "photographs": ["photograph 1", "photograph 2"],
            "sources": [{"kind": "photograph", "entry": "photograph 1"}]}  # fmt: skip
    (item,) = items(account_of(make_record([shot, shot, part]), {}, {}), "condition")
    assert [r.names for r in within(item, References)] == [("photograph 2",)]


def test_a_drawing_of_another_hand_has_no_map(full_account) -> None:
    assert not [b for b in full_account.blocks() if isinstance(b, EvidenceMap)]


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
    private = account_of(full_record, {}, {}, changes=history, private=True, hours_and_costs=True)
    assert "changes" not in public.document
    assert len(private.document["changes"]) == len(history)
    unasked = account_of(full_record, {}, {}, changes=history, private=True)
    kinds = {change["of"].split()[0] for change in unasked.document["changes"]}
    assert {change.kind.value for change in history} - kinds == {"outlay"}
