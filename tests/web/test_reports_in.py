"""Reports taken in by browser: tables of any headings, spreadsheets, other surveys, pasted text."""

import io
import re

import pytest
from openpyxl import Workbook

from ironlace.record import EntryKind, ReportEntry
from ironlace.survey.reports.table import read_reports
from ironlace.survey.sharing.open_data import About
from ironlace.survey.sharing.survey_zip import zipped
from ironlace.web.pages import reports_in

from .conftest import typed, words

FOREIGN = (
    "Serial No.;Owner;E-mail;Town;Model;Colour of lining\n"
    "C°92.38;A. Person;a@b.example;Northport;long arm;gold\n"
    "C°93.94;B. Person;b@b.example;Southport;;silver\n"
    ";C. Person;;;;\n"
)


def reports(bench, slug):
    return [entry for _, entry in bench.records.read(slug).of(ReportEntry)]


def chosen(page):
    """What each column is taken as on the page that asks."""
    return [
        re.search(r'<option value="([^"]*)" selected', select)[1]
        for select in re.findall(r'<select[^>]*name="taken_as".*?</select>', page.text, re.S)
    ]


def test_a_records_own_names_are_guessed_rightly(person, slug):
    table = "reads,how,dated,dated_is,dated_by,colour\nC°92.38,told,1896,sold,receipt,black\n"
    page = person.post(f"/machine/{slug}/dating/table", {"table": table})
    assert chosen(page) == ["mark", "seen", "dated", "dated_kind", "evidence", "as a note"]


def test_unknown_headings_are_asked_about_with_a_first_guess(person, slug, bench):
    page = person.post(f"/machine/{slug}/dating/table", {"table": FOREIGN})
    assert page.status_code == 200
    said = words(page)
    assert "Which column is what?" in said
    assert "Holds C°92.38, C°93.94." in said
    assert chosen(page) == ["mark", "not taken", "not taken", "place", "variant", "as a note"]
    assert "It may tell who people are" in said
    over = person.post(
        f"/machine/{slug}/dating/table", {"table": typed(page, "table"), "taken_as": chosen(page)}
    )
    said = words(over)
    assert "Line 4" in said
    assert "stays out" in said
    assert "Person" not in over.text.partition("<tbody>")[2]
    assert reports(bench, slug) == []
    fields = {"table": typed(over, "table"), "taken_as": chosen(page), "line": ["0", "1"]}
    person.post(f"/machine/{slug}/dating/table/keep", fields)
    first, second = reports(bench, slug)
    assert (first.name, first.reads, first.place) == ("line 2", "C°92·38", "Northport")
    assert first.variant == "long arm"
    assert first.note == "Colour of lining: gold"
    assert first.reporter == second.reporter == ""


def test_a_column_of_people_may_be_taken_but_stays_private(person, slug, bench):
    fields = {
        "table": FOREIGN,
        "taken_as": ["mark", "reporter", "not taken", "place", "variant", "not taken"],
        "line": ["0"],
    }
    person.post(f"/machine/{slug}/dating/table/keep", fields)
    (entry,) = reports(bench, slug)
    assert entry.reporter == "A. Person"
    assert "Person" not in entry.note + entry.name


@pytest.mark.parametrize(
    ("taken_as", "says"),
    [
        (["not taken"] * 6, "No column is taken as the number"),
        (["mark", "mark", "note", "place", "variant", "not taken"], "are both taken as"),
        (["mark"], "6 columns and 1 were laid out"),
        (["mark", "sorcery", "note", "place", "variant", "not taken"], "choose from the list"),
    ],
)
def test_columns_laid_out_wrongly_are_told_and_nothing_is_lost(person, slug, bench, taken_as, says):
    answer = person.post(f"/machine/{slug}/dating/table", {"table": FOREIGN, "taken_as": taken_as})
    assert answer.status_code == 422
    assert says in words(answer)
    assert "Which column is what?" in words(answer)
    assert typed(answer, "table").strip() == FOREIGN.strip()
    kept = person.post(
        f"/machine/{slug}/dating/table/keep",
        {"table": FOREIGN, "taken_as": taken_as, "line": ["0"]},
    )
    assert kept.status_code == 422
    assert reports(bench, slug) == []


def test_the_columns_can_be_looked_at_again(person, slug):
    over = person.post(f"/machine/{slug}/dating/table", {"table": "id,mark\nA,C°92.38\n"})
    again = person.post(
        f"/machine/{slug}/dating/table",
        {"table": typed(over, "table"), "taken_as": ["id", "mark"], "ask": "columns"},
    )
    assert chosen(again) == ["id", "mark"]


def test_a_spreadsheet_comes_in_with_its_own_line_numbers(person, slug, bench):
    book = Workbook()
    for row in (["Number", "Seen in"], ["C°92.38", "a\nshed"], [], ["[", "barn"], [40217, "loft"]):
        book.active.append(row)
    held = io.BytesIO()
    book.save(held)
    files = {"file": ("list.xlsx", held.getvalue())}
    page = person.post(f"/machine/{slug}/dating/table", files=files)
    assert chosen(page)[0] == "mark"
    fields = {"table": typed(page, "table"), "taken_as": ["mark", "place"]}
    over = person.post(f"/machine/{slug}/dating/table", fields)
    assert "Line 4 ([, barn)" in words(over)
    person.post(f"/machine/{slug}/dating/table/keep", fields | {"line": ["0", "1"]})
    assert [(r.name, r.reads, r.place) for r in reports(bench, slug)] == [
        ("line 2", "C°92·38", "a shed"),
        ("line 5", "40217", "loft"),
    ]


@pytest.mark.parametrize("data", [b"\xff\xfe\x00\x01", b"PK\x03\x04 nothing of use", b""])
def test_a_file_that_is_no_table_gets_one_sentence(person, slug, data):
    answer = person.post(f"/machine/{slug}/dating/table", files={"file": ("x.bin", data)})
    assert answer.status_code == 422


def published(text):
    about = About("Invented survey", "A Club", "2026-01-05")
    return zipped(read_reports(text).reports, about)


def test_another_survey_comes_in_with_its_citation_and_its_conflicts(person, slug, bench):
    ours = "id,mark,sighted,place\nA1,C°92.38,2019,\nA2,C°93.94,2020,coast\n"
    person.post(f"/machine/{slug}/dating/table/keep", {"table": ours, "line": ["0", "1"]})
    theirs = (
        "id,mark,sighted,place\nA1,C°92.38,2021,inland\nA2,C°93.95,2020,\nB7,C°94.183,2022,\n"
        "B8,C°92.83,2022,\n"
    )
    files = {"file": ("survey.zip", published(theirs))}
    page = person.post(f"/machine/{slug}/dating/table", files=files)
    assert page.status_code == 200
    said = words(page)
    assert "Cite this survey as: A Club. Invented survey. 4 reports" in said
    assert "kept already as report 1" in said
    assert "Sighted on: take 2021 in the place of 2019" in said
    assert "Place: take inland, where yours says nothing" in said
    assert "perhaps the same machine as report 1: two neighbouring figures changed round" in said
    assert len(reports(bench, slug)) == 2
    fields = {
        "table": typed(page, "table"),
        "taken_as": re.findall(r'name="taken_as" value="([^"]+)"', page.text)[:11],
        "line": ["1", "2"],
        "take": ["0 place"],
    }
    person.post(f"/machine/{slug}/dating/table/keep", fields)
    kept = reports(bench, slug)
    assert [(r.reads, r.sighted, r.place) for r in kept] == [
        ("C°92·38", "2019", "inland"),
        ("C°93·94", "2020", "coast"),
        ("C°93·95", "2020", ""),
        ("C°94·183", "2022", ""),
    ]


THREAD = """Anna: mine reads C°92·38 on the bed, paid $120 for it in 1998!
Bert: lovely. Serial 40217 here, 11 inches long.
"""


def test_numbers_in_a_text_count_only_when_picked(person, slug, bench):
    page = person.post(f"/machine/{slug}/dating/pasted", {"thread": THREAD})
    said = words(page)
    assert "4 numbers were found" in said or "5 numbers were found" in said
    assert "mine reads C°92·38 on the bed" in said
    assert "Looks like a price." in said
    assert "Looks like a year." in said
    assert not re.search(r'name="pick"[^>]*checked', page.text)
    assert reports(bench, slug) == []
    at = {value: key for key, value in re.findall(r'name="reads-(\d+)" value="([^"]+)"', page.text)}
    assert "C°92·38" in at or "92·38" in at
    serial = at["40217"]
    fields = {
        "thread": THREAD,
        "pick": [serial],
        f"reads-{serial}": "4·02·17",
        f"name-{serial}": "the lovely one",
        "how": "listing",
        "source": "a thread of 2026",
    }
    person.post(f"/machine/{slug}/dating/pasted/keep", fields)
    (entry,) = reports(bench, slug)
    assert (entry.name, entry.reads) == ("the lovely one", "4·02·17")
    assert entry.how.value == "listing"
    assert entry.note == "a thread of 2026"
    stored = str(bench.records.read(slug).entries)
    assert "Bert" not in stored
    assert "inches" not in stored
    again = words(
        person.post(f"/machine/{slug}/dating/pasted", {"thread": "Serial 4·02·17 it was"})
    )
    assert "Reads as report 1" in again


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({}, "No number is picked"),
        ({"pick": ["0", "1"], "reads-1": "[["}, "'[[' cannot be kept"),
    ],
)
def test_what_was_picked_wrongly_is_told_and_nothing_is_lost(person, slug, bench, fields, says):
    fields = {"thread": THREAD, "name-0": "the first", **fields}
    answer = person.post(f"/machine/{slug}/dating/pasted/keep", fields)
    assert answer.status_code == 422
    assert says in words(answer)
    assert typed(answer, "name-0") == "the first"
    assert bench.records.read(slug).count(EntryKind.REPORT) == 0


@pytest.mark.parametrize("thread", ["", "no figures at all"])
def test_text_without_numbers_is_told(person, slug, thread):
    answer = person.post(f"/machine/{slug}/dating/pasted", {"thread": thread})
    assert answer.status_code == 422
    assert (typed(answer, "thread") or "").strip() == thread


def test_what_does_not_read_is_put_right_where_it_is_shown(person, slug, bench):
    table = "id,mark,dated\nA,Nov-86,\nB,C°92.38,12 June 1886\n"
    page = person.post(f"/machine/{slug}/dating/table", {"table": table})
    said = words(page)
    assert "looks like a date that a spreadsheet made" in said
    assert "made 12 June 1886" in said
    assert typed(page, "right-2") == "Nov-86"
    fields = {"table": typed(page, "table"), "taken_as": ["id", "mark", "dated"]}
    again = person.post(f"/machine/{slug}/dating/table", fields | {"right-2": "11-86"})
    assert "looks like a date" not in words(again)
    assert "11-86" in words(again)
    kept = fields | {"table": typed(again, "table"), "line": ["0", "1"]}
    person.post(f"/machine/{slug}/dating/table/keep", kept)
    assert [(r.name, r.reads) for r in reports(bench, slug)] == [("A", "11-86"), ("B", "C°92·38")]


def test_equal_and_swapped_numbers_of_one_table_are_pointed_out(person, slug, bench):
    table = "id,mark\nA,C°92.38\nB,C°92.83\nC,C°92.38\nD,C°95.611\n"
    page = person.post(f"/machine/{slug}/dating/table", {"table": table})
    said = words(page)
    assert "perhaps the same machine as line 2 of this table: two neighbouring figures" in said
    assert "perhaps the same machine as line 2 of this table: same mark" in said
    assert typed(page, "right-3") == "C°92·83"
    assert typed(page, "right-5") is None
    fields = {"table": typed(page, "table"), "taken_as": ["id", "mark"], "line": ["1"]}
    # put right and kept in one press: it is looked over first, and nothing is kept
    first = person.post(f"/machine/{slug}/dating/table/keep", fields | {"right-3": "C°92.85"})
    assert "Nothing is kept yet" in words(first)
    assert reports(bench, slug) == []
    fields["table"] = typed(first, "table")
    person.post(f"/machine/{slug}/dating/table/keep", fields | {"right-4": "C°92·38"})
    assert [r.reads for r in reports(bench, slug)] == ["C°92·85"]


def test_a_column_of_whom_a_report_came_from_is_not_taken(person, slug):
    page = person.post(
        f"/machine/{slug}/dating/table", {"table": "Serial;from;seen\nC°92.38;Ann Other;photo\n"}
    )
    assert chosen(page) == ["mark", "not taken", "seen"]


def test_what_is_built_like_the_own_number_is_ticked_and_its_date_proposed(person, slug, bench):
    mark = {"reads": "G.94 627", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    thread = "Ann: G.86 214, receipt 14 May 1889. Bert: paid $120 in 1998, mine is G.91 38."
    page = person.post(f"/machine/{slug}/dating/pasted", {"thread": thread})
    ticked = re.findall(r'name="pick" value="(\d+)"[^>]*checked', page.text)
    assert [typed(page, f"reads-{at}") for at in ticked] == ["G·86 214", "G·91 38"]
    assert "Built like this machine’s own number." in words(page)
    first = ticked[0]
    assert typed(page, f"dated-{first}") == "14 May 1889"
    fields = {"thread": thread, "pick": ticked, f"dated-{first}": "14 Mai 1889"}
    wrong = person.post(
        f"/machine/{slug}/dating/pasted/keep", fields | {f"dated_is-{first}": "sold"}
    )
    assert wrong.status_code == 422
    assert "cannot be kept" in words(wrong)
    fields[f"dated-{first}"] = "14 May 1889"
    person.post(f"/machine/{slug}/dating/pasted/keep", fields | {f"dated_is-{first}": "sold"})
    kept = [(r.reads, r.dated, r.dated_is, r.dated_by) for r in reports(bench, slug)]
    assert kept == [("G·86 214", "1889-05-14", "sold", "receipt"), ("G·91 38", None, "", "")]


def test_any_cell_of_a_faulty_line_is_put_right_where_it_is_shown(person, slug, bench):
    table = "id,mark,seen,dated\n,C°92.38,photo,1886\nB,C°95.83,carrier pigeon,1887\n"
    page = person.post(f"/machine/{slug}/dating/table", {"table": table})
    assert typed(page, "cell-2-0") == ""
    assert typed(page, "cell-3-2") == "carrier pigeon"
    fields = {"table": typed(page, "table"), "taken_as": ["id", "mark", "seen", "dated"]}
    again = person.post(f"/machine/{slug}/dating/table", fields | {"cell-2-0": "A"})
    assert "The id is empty" in words(page)
    assert "The id is empty" not in words(again)
    fields["table"] = typed(again, "table")
    first = person.post(
        f"/machine/{slug}/dating/table/keep", fields | {"cell-3-2": "photo", "line": ["0", "1"]}
    )
    assert "Nothing is kept yet" in words(first)
    fields["table"] = typed(first, "table")
    person.post(f"/machine/{slug}/dating/table/keep", fields | {"line": ["0", "1"]})
    assert [(r.name, r.how.value) for r in reports(bench, slug)] == [
        ("A", "photograph seen"),
        ("B", "photograph seen"),
    ]


def test_a_column_full_of_names_is_not_taken_unless_said(person, slug):
    rows = "R. Bell,C°92.38\nMrs Anna Fitter,C°92.83\nJ. van Loon,C°95.611\n"
    page = person.post(f"/machine/{slug}/dating/table", {"table": f"via,number\n{rows}"})
    assert "It may tell who people are" in words(page)
    from_places = rows.replace("R. Bell", "12 off")
    page = person.post(f"/machine/{slug}/dating/table", {"table": f"town,number\n{from_places}"})
    assert "It may tell who people are" not in words(page)


@pytest.mark.parametrize("step", ["table", "table/keep"])
def test_a_table_of_too_many_rows_is_refused_before_it_is_looked_over(
    person, slug, bench, monkeypatch, step
):
    monkeypatch.setattr(reports_in, "_MOST_ROWS", 10)
    rows = "".join(f"r{n},{n % 12 + 1}.96.{n}\n" for n in range(11))
    answer = person.post(f"/machine/{slug}/dating/{step}", {"table": "id,mark\n" + rows})
    assert answer.status_code == 422
    assert "11 rows: take it in in parts of at most 10" in words(answer)
    assert reports(bench, slug) == []
