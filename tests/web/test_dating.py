"""Dating by browser: a table looked over, theories compared, the date kept."""

from ironlace.record import EntryKind

from .conftest import typed, words

TABLE = """id,mark,seen,place,dated,dated_kind,evidence
coast,B°92.117,photograph,north,,,
school,B°93.402,handled,,,,
widow,B°94.88,told,,1895,not after,bill of sale
broken,[,photograph,,,,
"""


def test_a_table_is_looked_over_before_it_counts(person, slug, bench):
    page = person.post(f"/machine/{slug}/dating/table", {"table": TABLE})
    assert page.status_code == 200
    said = words(page)
    assert "B°92·117" in said
    assert "Line 5" in said
    assert bench.records.read(slug).entries == {}
    kept = person.post(
        f"/machine/{slug}/dating/table/keep",
        {"table": typed(page, "table").removeprefix("\n"), "line": ["0", "2"]},
    )
    assert "Kept, 2 entries" in words(kept)
    names = [entry.name for entry in bench.records.read(slug).entries.values()]
    assert names == ["coast", "widow"]
    again = words(person.post(f"/machine/{slug}/dating/table", {"table": TABLE}))
    assert "kept already as report 1" in again


def test_a_table_may_come_as_a_file(person, slug):
    files = {"file": ("r.csv", TABLE.encode("utf-8-sig"))}
    assert "B°94·88" in words(person.post(f"/machine/{slug}/dating/table", files=files))
    latin = {"file": ("r.csv", TABLE.encode("latin-1"))}
    answer = person.post(f"/machine/{slug}/dating/table", files=latin)
    assert answer.status_code == 422
    assert "UTF-8" in words(answer)


def test_a_table_that_cannot_be_read_is_kept_in_the_form(person, slug):
    broken = 'id;mark;note\n1;2;"3'
    answer = person.post(f"/machine/{slug}/dating/table", {"table": broken})
    assert answer.status_code == 422
    assert "quotation mark" in words(answer)
    assert typed(answer, "table") == broken
    assert person.post(f"/machine/{slug}/dating/table", {"table": ""}).status_code == 422


def test_theories_are_compared_and_the_date_kept_once(person, slug, bench):
    mark = {"reads": "B°93.431", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    person.post(f"/machine/{slug}/dating/table/keep", {"table": TABLE, "line": ["0", "1", "2"]})
    mine = "letter, ring, year, dot, number in year\nletter, ring, code, dot, code"
    page = person.get(f"/machine/{slug}/dating", params={"compare": "yes", "schemes": mine})
    assert page.status_code == 200
    assert "What the numbers say" in words(page)
    assert "running number in each year" in words(page)
    for _ in range(2):
        kept = person.post(f"/machine/{slug}/dating/keep", {"schemes": mine})
        assert kept.status_code == 200
    record = bench.records.read(slug)
    assert record.count(EntryKind.FINDING) == 1
    finding = record.named("finding 1").finding
    assert finding.method.parameters["asked"]["schemes"] == mine
    assert "date of making" in words(person.get(f"/machine/{slug}"))


DATED = {
    11237: 1881,
    12856: 1882,
    14418: 1883,
    15983: 1894,
    17729: 1885,
    19346: 1886,
    20944: 1887,
    22463: 1888,
}
"""Numbers by year, one of them ten years out."""


def test_a_date_that_does_not_fit_is_told_before_what_bears_the_answer(person, slug):
    mark = {"reads": "16402", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    rows = "".join(f"m{n},{n},photograph,at,{year},receipt\n" for n, year in DATED.items())
    table = f"id,mark,seen,dated_kind,dated,evidence\n{rows}"
    keep = {"table": table, "line": [str(i) for i in range(len(DATED))]}
    person.post(f"/machine/{slug}/dating/table/keep", keep)
    asked = {"compare": "yes", "schemes": "number overall\ncode"}
    page = person.get(f"/machine/{slug}/dating", params=asked).text
    above, _, drawer = page[page.index('id="found"') :].partition("<details")
    doubt = "Look again at 15983 made 1894"
    assert above.index("verdict") < above.index(doubt) < above.index("reports, ")
    assert doubt not in drawer


def test_dates_and_readings_of_one_person_are_told_before_what_bears_the_answer(person, slug):
    rows = "".join(f"m{n},{n},photograph,at,{year},A. Quill\n" for n, year in DATED.items())
    table = f"id,mark,seen,dated_kind,dated,reporter\n{rows}"
    keep = {"table": table, "line": [str(i) for i in range(len(DATED))]}
    person.post(f"/machine/{slug}/dating/table/keep", keep)
    asked = {"compare": "yes", "schemes": "number overall\ncode"}

    def above():
        page = person.get(f"/machine/{slug}/dating", params=asked).text
        return page[page.index('id="found"') :].partition("<details")[0]

    assert "Nearly all reports that say by whom are one person" in above()
    mark = {"reads": "16402", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    assert "dates are one person" in above()
    assert "Quill" not in above()


def test_a_theory_that_cannot_be_read_is_told_and_kept(person, slug):
    person.post(f"/machine/{slug}/entries/report", {"name": "a", "reads": "12", "grade": "seen"})
    answer = person.get(
        f"/machine/{slug}/dating", params={"compare": "yes", "schemes": "moon, dot, tide"}
    )
    assert answer.status_code == 422
    assert "moon, dot, tide" in answer.text


def test_without_any_number_there_is_nothing_to_compare(person, slug):
    answer = person.get(f"/machine/{slug}/dating", params={"compare": "yes"})
    assert answer.status_code == 422
    assert "read this machine's mark first" in words(answer)


def test_what_else_the_numbers_say_with_plots_in_words(person, slug, bench):
    from ironlace.workshop.survey.reports_of_record import read_report_entries

    rows = ["a,C°92·38,2019,", "b,C°93·94,2020,", "c,C°94·183,2021,", "d,C°94·183,2024,c"]
    entries, _ = read_report_entries("id,mark,sighted,machine\n" + "\n".join(rows))
    bench.records.add_all(slug, entries)
    query = "schemes=letter, ring, year, dot, number in year"
    page = person.get(f"/machine/{slug}/dating/more?at_once=yes&{query}")
    assert page.status_code == 200
    said = words(page)
    assert "How many were made?" in said
    assert "4 sightings of 3 machines" in said
    assert "The same as a table" in said
    plot = person.get(f"/machine/{slug}/dating/plot/0?{query}")
    assert plot.headers["content-type"].startswith("image/svg+xml")
    assert "<script" not in plot.text
    assert person.get(f"/machine/{slug}/dating/plot/99?{query}").status_code == 404


def test_nothing_to_say_without_reports_is_told(person, slug):
    answer = person.get(f"/machine/{slug}/dating/more")
    assert answer.status_code == 422
    assert "read this machine's mark first" in words(answer).replace("’", "'")
