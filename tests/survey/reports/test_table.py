import csv
import dataclasses
import io

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey.errors import ReportsError
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import (
    DatedEvidence,
    DatedKind,
    Report,
    Seen,
    read_reports,
    read_rows,
    reports_from_rows,
    write_reports,
)


def test_only_id_and_mark_are_needed():
    table = read_reports("id,mark\nA,4.96.217\nB,1?.95.30\n")
    assert [str(r.mark) for r in table.reports] == ["4·96·217", "1?·95·30"]
    assert table.set_aside == ()


def test_nothing_is_dropped_without_a_reason():
    text = (
        "id,mark,seen\n"
        "A,4.96.217,photograph\n"
        ",5.96.1,told\n"
        "B,,told\n"
        "A,5.95.3,told\n"
        "C,4.9(6.2,told\n"
        "D,5.95.3,told,extra\n"
        "E,5.95.3,by post\n"
    )
    table = read_reports(text)
    assert [r.id for r in table.reports] == ["A", "E"]
    assert [row.line for row in table.set_aside] == [3, 4, 5, 6, 7]
    assert "stands already on line 2" in table.set_aside[2].reason
    assert "quote cells" in table.set_aside[4].reason
    assert dict(table.set_aside[3].row)["mark"] == "4.9(6.2"
    assert "by post" in table.remarks[0] and table.reports[1].other == (("seen", "by post"),)
    assert len(table.reports) + len(table.set_aside) == 7


def test_line_numbers_follow_quoted_line_breaks():
    table = read_reports('id,mark,note\nA,4.96.217,"two\nlines"\nB,,x\n')
    assert table.reports[0].note == "two\nlines"
    assert table.set_aside[0].line == 4


def test_tabs_semicolons_and_a_byte_order_mark():
    for mark in "\t;":
        table = read_reports(f"\ufeffid{mark}mark\nA{mark}4.96.217\n")
        assert table.reports[0].id == "A"


def test_other_headers_by_mapping_and_by_common_names():
    table = read_reports("no,number,who\n7,4.96.217,x\n", headers={"no": "id", "number": "mark"})
    assert table.reports[0].id == "7" and table.reports[0].other == (("who", "x"),)
    assert read_reports("Report,Serial number\n7,4.96.217\n").reports[0].id == "7"


def test_dated_evidence_and_dates_kept_as_text():
    table = read_reports(
        "id,mark,sighted,dated,dated_kind,evidence\n"
        "A,4.96.217,2021-05,1896-06,sold,receipt\n"
        "B,5.96.3,last May,1896,perhaps,letter\n"
    )
    a, b = table.reports
    assert a.dated == DatedEvidence(EdtfDate.parse("1896-06"), DatedKind.SOLD, "receipt")
    assert b.dated is None and dict(b.other)["dated"] == "1896"
    assert dict(b.other)["sighted"] == "last May"
    assert len(table.remarks) == 3


def test_dates_in_a_table_are_read_as_people_write_them():
    rows = (
        "A,4.96.217,12 June 1886\nB,5.96.3,25 Dec. 1889\nC,5.96.4,April 1885\nD,5.96.5,3/4/1886\n"
    )
    table = read_reports(f"id,mark,sighted\n{rows}")
    sighted = [report.sighted.text if report.sighted else None for report in table.reports]
    assert sighted == ["1886-06-12", "1889-12-25", "1885-04", None]
    understood, asked = table.remarks
    assert "12 June 1886" in understood
    assert "which is the month?" in asked


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("name,number plate\nA,B\n", "no 'id' column"),
        ("id,note\nA,B\n", "no 'mark' column"),
        ('id,mark\nA,"4.96\n', "quotation mark"),
        ("id,mark,note,note\nA,4,x,y\n", "Two columns"),
    ],
)
def test_a_table_that_cannot_be_read(text, says):
    with pytest.raises(ReportsError, match=says):
        read_reports(text)


_WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zs", "Zl", "Zp", "Cf"]),
    min_size=1,
    max_size=12,
)
_REPORTS = st.builds(
    Report,
    id=_WORDS,
    mark=st.from_regex(r"[0-9?]{0,2}[0-9]([.°][0-9]{1,3}){0,2}", fullmatch=True).map(parse_marking),
    seen=st.none() | st.sampled_from(list(Seen)),
    sighted=st.none() | st.sampled_from(["2020", "2019-05~"]).map(EdtfDate.parse),
    variant=st.just("") | _WORDS,
    place=st.just("") | _WORDS,
    machine=st.just("") | _WORDS,
    dated=st.none()
    | st.builds(
        DatedEvidence,
        st.sampled_from(["1896", "1893-04/1894"]).map(EdtfDate.parse),
        st.sampled_from(list(DatedKind)),
        st.just("") | _WORDS,
    ),
    note=st.just("") | _WORDS,
    other=st.just(()) | _WORDS.map(lambda w: (("owner's list", w),)),
)


@given(st.lists(_REPORTS, unique_by=lambda r: r.id, min_size=1, max_size=5))
def test_written_reports_read_back_the_same(reports):
    # a mark of noughts alone stands for none, and is set aside
    assume(all(str(report.mark).strip("0") for report in reports))
    table = read_reports(write_reports(reports))
    assert table.reports == tuple(reports)
    assert not table.set_aside


@pytest.mark.parametrize(
    ("evidence", "kind"),
    [
        ("dated receipt", "sold"),
        ("Patent plate", "not before"),
        ("family photograph", "not after"),
        ("inspector's slip", "at"),
        ("", "at"),
    ],
)
def test_a_date_without_a_kind_is_judged_by_its_evidence_and_told(evidence, kind):
    table = read_reports(f"id,mark,dated,evidence\nA,4.96.217,1896,{evidence}\n")
    assert table.reports[0].dated.kind == kind
    assert table.remarks == (
        f"Line 2: what the date '1896' says is not given; it is taken as '{kind}'.",
    )


@pytest.mark.parametrize(
    ("word", "seen"),
    [("photo", "photograph"), ("Photo", "photograph"), ("in hand", "handled"),
     ("advert", "listing"),
     ("by word", "told"), ("book", "print"), ("handled", "handled")],
)  # fmt: skip
def test_how_a_report_is_known_may_be_said_in_everyday_words(word, seen):
    table = read_reports(f"id,mark,seen\nA,4.96.217,{word}\n")
    assert str(table.reports[0].seen) == seen
    assert not table.remarks


def test_dates_are_read_as_people_write_them_and_it_is_said():
    rows = "A,4.96.217,12 June 1886,25 Dec. 1889\nB,4.96.218,April 1885,\nC,4.96.219,2019-05,\n"
    table = read_reports(f"id,mark,sighted,dated\n{rows}")
    assert [r.sighted.text for r in table.reports] == ["1886-06-12", "1885-04", "2019-05"]
    assert table.reports[0].dated.date.text == "1889-12-25"
    (said,) = [remark for remark in table.remarks if "as they were written" in remark]
    assert "'12 June 1886' as 12 June 1886" in said
    assert "2019" not in said
    assert read_reports(write_reports(table.reports)).reports == table.reports


def test_a_date_that_may_be_two_days_is_kept_as_text_and_told():
    table = read_reports("id,mark,sighted\nA,4.96.217,11/12/1887\n")
    assert table.reports[0].sighted is None
    assert "which is the month" in table.remarks[0]


@pytest.mark.parametrize("mark", ["Nov-86", "nov-1986", "11-Nov-86", "4-Nov", "1986-11-01"])
def test_a_mark_that_a_spreadsheet_made_a_date_of_does_not_count(mark):
    table = read_reports(f"id,mark\nA,{mark}\nB,11-86\n")
    assert [r.id for r in table.reports] == ["B"]
    assert "looks like a date that a spreadsheet made" in table.set_aside[0].reason
    assert mark in table.set_aside[0].reason


@pytest.mark.parametrize("remark", ["=cmd|' /C calc'!A0", "+1", "-2+3", "@SUM(A1)"])
def test_no_cell_leaves_as_a_formula_and_it_comes_back_as_it_was(remark):
    table = read_reports("id,mark,note\nA,4.96.217,x\n")
    report = dataclasses.replace(table.reports[0], note=remark)
    text = write_reports([report])
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    assert not [cell for cell in cells if cell[:1] in "=+-@" and cell]
    assert read_reports(text).reports[0].note == remark


def test_a_long_table_of_something_else_is_refused_at_once():
    words = "".join(f"{i},how do you do {i}\n" for i in range(2_500))
    with pytest.raises(ReportsError, match="the right column"):
        read_reports(f"id,mark\n{words}")
    rng = np.random.default_rng(5)
    signs = list("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ .-")
    junk = "".join(f"{i},X{''.join(rng.choice(signs, 15))}1\n" for i in range(2_500))
    with pytest.raises(ReportsError, match="too many ways"):
        read_reports(f"id,mark\n{junk}")
    good = "".join(f"{i},{i % 12 + 1}.{80 + i % 15}.{i}\n" for i in range(2_500))
    assert len(read_reports(f"id,mark\n{good}").reports) == 2_500


@pytest.mark.parametrize("slip", ["1895-31", "1895-25", "1895-41~"])
def test_a_slip_in_a_date_is_asked_about_and_not_read_as_a_part_of_the_year(slip):
    table = read_reports(f"id,mark,sighted\nA,4.96.217,{slip}\n")
    assert table.reports[0].sighted is None
    assert "is a slip" in table.remarks[0]


@pytest.mark.parametrize("text", ["", "\n \n", '""\n', "\ufeff"])
def test_a_table_without_headings_is_refused(text):
    with pytest.raises(ReportsError, match="must name the columns"):
        read_reports(text)
    with pytest.raises(ReportsError, match="must name the columns"):
        read_rows(text)


def test_a_table_read_row_by_row_is_the_same_as_its_rows_read_at_once():
    text = (
        "\ufeffid;mark;dated;evidence;owner\r\n"
        'A;4.96.217;June 1896;receipt;x\r\n"B\n2";"\'=3";;;\r\n\r\n'
        "C;[1]896.4;;;\r\nD;96.4;bosh;;\r\nE;97.5;;;y\r\nE;98.1;;;\r\nF;1;2;3;4;5\r\n"
    )
    table = read_reports(text)
    assert table == reports_from_rows(*read_rows(text))
    assert [row.line for row in table.set_aside] == [3, 6, 9, 10]
    assert [report.id for report in table.reports] == ["A", "D", "E"]


@pytest.mark.parametrize("header", ["date", "known_date", "Year bought", "receipt", "Datum"])
def test_a_column_that_looks_like_dates_and_is_not_weighed_is_named(header):
    rows = "\na,3320,bill of 1883\nb,1204,1880\nc,99,"
    (said,) = read_reports(f"id,mark,{header}{rows}").ahead
    assert f"'{header}' has 2 years and is kept but not weighed" in said
    named = read_reports(f"id,mark,{header}{rows}", headers={header: "dated"}).ahead
    assert not any("not weighed" in remark for remark in named)
    assert not read_reports("id,mark,finish\na,3320,patent 1883\n").ahead
    assert not read_reports("id,mark,entered\na,3320,1999\nb,1204,2003\n").ahead


@pytest.mark.parametrize("header", ["dated_is", "dated is", "Dated Kind"])
def test_dates_under_a_heading_that_only_resembles_theirs_are_asked_about(header):
    table = read_reports(f"id,mark,{header}\na,3320,1883-04\nb,1204,1880\n")
    (said,) = table.ahead
    assert f"'{header}' has 2 years and is read as what a date says" in said
    assert "head it 'dated'" in said


def test_rows_that_are_counted_where_the_marks_should_stand_are_asked_about():
    rows = [(f"r{i}", 4000 + 317 * i) for i in range(1, 7)]
    swapped = "\n".join(["mark,id", *(f"{name.upper()},{number}" for name, number in rows)])
    (said,) = read_reports(swapped).ahead
    assert "'mark' the rows are counted from 1 to 6" in said
    sound = "\n".join(["id,mark", *(f"{name},{number}" for name, number in rows)])
    assert not read_reports(sound).ahead
    few_made = "\n".join(["id,mark", *(f"head {i},{i}" for i in range(1, 7))])
    assert not read_reports(few_made).ahead


def test_the_names_that_a_records_own_reports_have_are_read_as_the_tables():
    row = "\nA,4.96.217,told,1896,sold,receipt\n"
    own = read_reports("id,mark,seen,dated,dated_kind,evidence" + row)
    assert read_reports("id,reads,how,dated,dated_is,dated_by" + row).reports == own.reports
    assert own.reports[0].dated.kind == "sold"


def _dated(*cells):
    rows = "".join(f'{i},{i}.96.217,"{cell}",at\n' for i, cell in enumerate(cells, 1))
    return read_reports("id,mark,dated,dated_kind\n" + rows)


def test_dates_that_are_not_read_are_told_ahead_of_all_else():
    """As people write dates that do not count; none of them takes the table with it."""
    lost = (
        "3/4/1896",
        "0",
        "1.5.95",
        "1896-02-30",
        "1900-02-29",
        "29.2.1895",
        "XXXX",
        "00/00/1896",
    )
    for cell in lost:
        table = _dated(cell, "1896-04")
        assert len(table.reports) == 2 and table.reports[0].dated is None
        assert f"line 2, '{cell}'" in table.ahead[0]
        told = Reports.from_table(table).told_with(["first", "second", "third"])
        assert told.index(table.ahead[0]) < told.index("third")
    many = _dated(*lost).ahead[0]
    assert many.startswith("8 dates") and "and 5 more" in many


def test_what_says_that_no_date_is_known_is_not_told_as_lost():
    none = ("", "-", "?", "n/a", "unknown", "undated", "not known")
    assert _dated(*none, "1896-04", "29/2/1896").ahead == ()


def test_a_kind_taken_for_granted_is_told_ahead_of_all_else():
    rows = "1,4.96.217,1896,\n2,5.96.218,1896,receipt\n3,6.96.219,,\n"
    ahead = read_reports("id,mark,dated,evidence\n" + rows).ahead
    assert [("'at': line 2" in one, "'sold': line 3" in one) for one in ahead] == [
        (True, False),
        (False, True),
    ]


def test_numbers_kept_as_decimal_fractions_lose_what_the_program_added():
    numbers = (217, 30412, 9000)
    table = read_reports("id,mark\n" + "".join(f"L{n},{n}.0\n" for n in numbers) + "E,\n")
    assert [str(r.mark) for r in table.reports] == [str(n) for n in numbers]
    assert "All 3 numbers end in '.0'" in table.ahead[0]
    struck = read_reports("id,mark\nA,217.0\nB,30412.0\nC,4.96.0\n")
    assert [str(r.mark) for r in struck.reports] == ["217·0", "30412·0", "4·96·0"]
    assert struck.ahead == ()


def test_noughts_typed_for_an_unknown_number_are_no_machine():
    cells = ("0", "00000", "0.0", "0,00")
    table = read_reports(
        "id,mark\nA,217\nB,318\n" + "".join(f'{i},"{c}"\n' for i, c in enumerate(cells))
    )
    assert [r.id for r in table.reports] == ["A", "B"]
    assert {row.why for row in table.set_aside} == {"noughts in place of a number"}
    assert len(read_reports("id,mark\nA,4.96.000\nB,00?\n").reports) == 2
