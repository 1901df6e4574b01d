"""The survey's abilities by browser: assumptions, pairs, tables, pasted text, theories, a zip."""

import json
import re
from html import unescape

import pytest

from ironlace.cli import main
from ironlace.record import EntryKind
from ironlace.survey import ANALYSES, Assumptions
from ironlace.web.assumption_form import asked_of
from ironlace.workshop.survey.reports_of_record import read_report_entries, reports_of

from .conftest import typed, words

MINE = "letter, ring, year, dot, number in year\nletter, ring, code, dot, code"
ROWS = "id,mark\na,C°92·38\nb,C°93·94\nc,C°94·183\nd,C°94·138\n"


@pytest.fixture
def surveyed(bench, slug):
    entries, _ = read_report_entries(ROWS)
    bench.records.add_all(slug, entries)
    return slug


def test_only_what_was_moved_is_asked_for():
    asked = asked_of({"misread_rate": "5", "worn_rate": "5", "doubt": "", "first_year": "1850"})
    assert asked.moved == {"misread_rate": "5"}
    assert asked.read().assumptions() == Assumptions(misread_rate=0.05)


def test_moved_assumptions_move_the_answer_and_are_kept_with_the_date(person, surveyed, bench):
    person.post(
        f"/machine/{surveyed}/entries/mark",
        {"reads": "C°94·201", "where": "bed", "grade": "seen", "purpose": "serial number"},
    )
    plain = {"compare": "yes", "schemes": MINE}
    moved = plain | {"hindsight_factor": "200", "misread_rate": "12,5"}
    usual = person.get(f"/machine/{surveyed}/dating", params=plain)
    other = person.get(f"/machine/{surveyed}/dating", params=moved)
    assert usual.status_code == other.status_code == 200
    assert usual.text.count("<meter") == other.text.count("<meter")
    assert words(usual) != words(other)
    assert typed(other, "hindsight_factor") == "200"
    assert "2 moved" in words(other)
    person.post(f"/machine/{surveyed}/dating/keep", moved)
    kept = bench.records.read(surveyed).named("finding 1").finding
    asked = kept.method.parameters["asked"]
    assert (asked["misread_rate"], asked["hindsight_factor"]) == (12.5, 200)
    more = person.get(f"/machine/{surveyed}/dating/more", params=moved | {"at_once": "yes"})
    assert "hindsight_factor=200" in more.text
    assert "Out of date." not in words(person.get(f"/machine/{surveyed}/dating"))
    person.post(
        f"/machine/{surveyed}/entries/report", {"name": "e", "reads": "C°95·12", "grade": "seen"}
    )
    assert "Out of date." in words(person.get(f"/machine/{surveyed}/dating"))


TAKEN = {
    "hindsight_factor": "60",
    "worn_rate": "12",
    "first_year": "1870",
    "last_year": "1915",
    "misread_rate": "6",
    "junk_rate": "7",
}


@pytest.mark.parametrize("taken", [{}, TAKEN, *({name: TAKEN[name]} for name in TAKEN)])
def test_page_and_command_ask_the_same_and_answer_alike(person, surveyed, taken, tmp_path, capsys):
    table = tmp_path / "reports.csv"
    table.write_text(ROWS)
    options = [w for n, v in taken.items() for w in (f"--{n.replace('_', '-')}", v)]
    with pytest.raises(SystemExit):
        main(["survey", "compare", str(table), *options, "--json"])
    told = json.loads(capsys.readouterr().out)
    page = person.get(f"/machine/{surveyed}/dating", params={"compare": "yes", **taken})
    for sentence in told["sentences"][:2]:
        assert " ".join(sentence.split()) in words(page)
    for name in TAKEN:
        assert typed(page, name) == taken.get(name, typed(page, name))


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("misread_rate", "90"),
        ("misread_rate", "nan"),
        ("worn_rate", "often"),
        ("first_year", "1893.5"),
        ("hindsight_factor", "0"),
        ("highest_number", "1e400"),
        ("uneven_output", "-1"),
    ],
)
def test_a_bad_assumption_gets_one_sentence_and_stays_typed(person, surveyed, name, text):
    asked = {"compare": "yes", "schemes": MINE, name: text}
    answer = person.get(f"/machine/{surveyed}/dating", params=asked)
    assert answer.status_code == 422
    assert typed(answer, name) == text
    assert 'class="field-fault"' in answer.text
    assert 'aria-invalid="true"' in answer.text
    assert MINE.splitlines()[1] in typed(answer, "schemes")
    kept = person.post(f"/machine/{surveyed}/dating/keep", asked)
    assert kept.status_code == 422


def test_years_the_wrong_way_round_are_told(person, surveyed):
    asked = {"compare": "yes", "first_year": "1920", "last_year": "1900"}
    answer = person.get(f"/machine/{surveyed}/dating", params=asked)
    assert answer.status_code == 422
    assert "1920 to 1900" in words(answer)


def test_a_likely_pair_is_settled_with_one_press(person, surveyed, bench):
    page = words(person.get(f"/machine/{surveyed}/dating"))
    assert "c (report 3)" in page
    assert "two neighbouring figures changed round" in page
    pressed = {"first": "report 3", "later": "report 4"}
    after = person.post(f"/machine/{surveyed}/dating/same", pressed)
    assert "Kept: report 4" in words(after)
    assert "Perhaps one machine" not in words(after)
    record = bench.records.read(surveyed)
    report = record.named("report 4")
    assert (report.same_as, report.counts) == ("c", False)
    reports = reports_of(record)
    assert [r.id for r in reports.counted] == ["a", "b", "c"]
    assert reports.machines == ("a", "b", "c", "c")


def test_a_pair_with_this_machine_is_a_second_sighting_of_it(person, surveyed, bench):
    mark = {"reads": "C°92·83", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{surveyed}/entries/mark", mark)
    pressed = {"first": "this machine", "later": "report 1"}
    assert "this machine" in words(person.post(f"/machine/{surveyed}/dating/same", pressed))
    reports = reports_of(bench.records.read(surveyed))
    assert reports.machines[:2] == ("this machine", "this machine")


def test_the_same_mark_is_joined_and_told_and_can_be_parted(person, surveyed, bench):
    bench.records.add_all(surveyed, read_report_entries("id,mark\ne,C°93·94\n")[0])
    page = person.get(f"/machine/{surveyed}/dating", params={"compare": "yes", "schemes": MINE})
    said = words(page)
    joined = "1 report counted as a second sighting of a machine already reported: e of b"
    assert joined in said
    assert "e of b (same mark), report 5" in said
    assert "5 kept, 4 of them count" in said
    pressed = {"later": "report 5", "apart": "yes"}
    after = words(person.post(f"/machine/{surveyed}/dating/same", pressed))
    assert "5 kept, 5 of them count" in after
    assert "Second sightings" not in after
    report = bench.records.read(surveyed).named("report 5")
    assert (report.same_as, report.counts) == ("e", True)


def test_each_further_answer_is_kept_from_its_page(person, surveyed, bench):
    bench.records.add_all(surveyed, read_report_entries("id,mark\ne,C°93·94\n")[0])
    page = person.get(
        f"/machine/{surveyed}/dating/more", params={"schemes": MINE, "at_once": "yes"}
    )
    assert page.status_code == 200
    for number, key in enumerate(("compare", "count", "survivors", "next"), 1):
        form = page.text.split(f'/work-out/{key}/keep"')[1].split("</form>")[0]
        fields = dict(re.findall(r'name="([a-z_]+)" value="([^"]*)"', form))
        fields.pop("token")
        kept = person.post(f"/machine/{surveyed}/work-out/{key}/keep", fields)
        assert kept.status_code == 200, key
        finding = bench.records.read(surveyed).named(f"finding {number}").finding
        assert finding.about == next(one.about for one in ANALYSES if one.key == key)
        assert finding.value
        assert finding.method.parameters["asked"].get("schemes", MINE) == MINE


@pytest.mark.parametrize(
    ("first", "later"),
    [("report 1", "report 1"), ("report 99", "report 1"), ("report 1", "nonsense"), ("", "")],
)
def test_a_pair_that_is_none_changes_nothing(person, surveyed, bench, first, later):
    before = bench.records.last_change(surveyed)
    answer = person.post(
        f"/machine/{surveyed}/dating/same", {"first": first, "later": later}, follow=False
    )
    assert 400 <= answer.status_code < 500
    assert bench.records.last_change(surveyed) == before


def test_a_report_being_typed_moves_the_odds_without_being_kept(person, surveyed, bench):
    address = f"/machine/{surveyed}/dating/as-typed"
    asked = {"schemes": MINE, "reads": "C°95·211"}
    before = bench.records.last_change(surveyed)
    answer = person.get(address, params=asked).json()
    assert "With this report, " in answer["says"]
    assert all(0 <= move["after"] <= 1 for move in answer["moves"])
    odd = person.get(address, params=asked | {"reads": "C°·"}).json()
    assert odd["moves"] != answer["moves"]
    assert bench.records.last_change(surveyed) == before
    assert bench.records.read(surveyed).count(EntryKind.REPORT) == 4
    bad = person.get(address, params=asked | {"reads": "["}, headers={"accept": "application/json"})
    assert bad.status_code == 422
    assert bad.json()["error"]["says"]


def test_the_further_answers_come_one_by_one(person, surveyed):
    address = f"/machine/{surveyed}/dating/more"
    page = person.get(address, params={"schemes": MINE})
    places = [unescape(at) for at in re.findall(r'data-later="([^"]*)"', page.text)]
    assert len(places) == 4
    assert "/keep" not in page.text
    said = [words(person.get(at)) for at in places]
    assert "Ask next for" in said[0] or "Nothing more is needed" in said[0]
    whole = words(person.get(address, params={"schemes": MINE, "at_once": "yes"}))
    assert all(part in whole for part in said)
    brief = person.get(address, params={"schemes": MINE, "part": "ask"})
    assert re.match("Ask next for |Nothing more is needed", words(brief))
    assert person.get(address, params={"part": "moon"}).status_code == 404


def test_another_site_sets_nothing_to_work(person, surveyed, monkeypatch):
    def never(*_args, **_more):
        raise AssertionError("worked")

    monkeypatch.setattr("ironlace.web.pages.dating.just_worked", never)
    foreign = {"sec-fetch-site": "cross-site"}
    dating = f"/machine/{surveyed}/dating"
    for address in (
        f"{dating}?compare=yes",
        f"{dating}/more?part=next",
        f"{dating}/more?at_once=yes",
        f"{dating}/plot/0",
        f"{dating}/as-typed?reads=C%C2%B095%C2%B7211",
    ):
        answer = person.get(address, headers=foreign)
        assert answer.status_code in (200, 404)
    # and it would have: asked from the bench itself, it sets to work
    assert person.get(f"{dating}/more?part=next").status_code == 500


def test_what_compares_stands_above_the_reports_and_the_answer_in_its_place(person, surveyed):
    before = person.get(f"/machine/{surveyed}/dating").text
    asking = before.index('<button form="theories">Compare the theories')
    assert asking < before.index('id="reports"') < before.index('id="compare"')
    assert re.search('<form method="get"[^>]*id="theories"', before)
    after = person.get(f"/machine/{surveyed}/dating", params={"compare": "yes"}).text
    assert after.index('id="found"') < after.index('id="reports"') < after.index('id="compare"')
    assert '<button form="theories">' not in after


def test_below_one_report_there_is_no_button_to_compare(person, slug):
    mark = {"reads": "C°92·83", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    page = person.get(f"/machine/{slug}/dating")
    assert "Compare them on" not in words(page)
    assert "Compare the theories on" not in words(page)
    assert "add a report of another machine first" in words(page)


def test_the_answer_is_told_in_words_and_its_figures_lie_in_a_drawer(person, surveyed):
    mark = {"reads": "C°94·201", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{surveyed}/entries/mark", mark)
    page = person.get(f"/machine/{surveyed}/dating", params={"compare": "yes"}).text
    answer = page[page.index('id="found"') : page.index('id="reports"')]
    above, _, drawer = answer.partition("<details")
    assert '<span class="verdict-date">1894' in above
    assert "grade-word" in above
    assert "others of the list together" in above
    assert "<table" not in above and "<table" in drawer
    assert "letter, year, number within the year" in drawer
    assert "letter-year-count" not in page
    assert not re.search(r"\d{4}-\d{2}", above.partition("</p>")[0])
