"""Theories put together from parts by browser, without a script."""

import re
from html import unescape

import pytest

from ironlace.web.pages.theories import KINDS

from .conftest import typed, words

MINE = "works: letter, ring, year, dot, number in year | weight 2, thought of before"


@pytest.fixture
def marked(person, slug):
    mark = {"reads": "C°94.118", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    return slug


def line_on(page):
    found = re.search(r"<code>([^<]*)</code>", page.text)
    return unescape(found[1]) if found else None


def form_of(page):
    """What a browser would send of the page's form, without the button pressed."""
    fields = {}
    for tag in re.findall(r"<input[^>]*>", page.text):
        name = re.search(r'name="([^"]*)"', tag)
        if name and ("checkbox" not in tag or " checked" in tag):
            fields[name[1]] = unescape(re.search(r'value="([^"]*)"', tag)[1])
    for name, inside in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', page.text):
        fields[name] = re.search(r'value="([^"]*)" selected', inside)[1]
    return fields


def test_a_line_is_shown_as_parts_and_goes_back_the_same(person, marked):
    schemes = f"number overall\n{MINE}"
    page = person.get(f"/machine/{marked}/dating/theory", params={"schemes": schemes, "at": "2"})
    assert page.status_code == 200
    assert line_on(page) == MINE
    assert "On this machine's mark it reads: letter C, 1894, number 118 of that year." in words(
        page
    )
    assert typed(page, "name") == "works"
    used = person.get(
        f"/machine/{marked}/dating/theory",
        params=form_of(page) | {"do": "use"},
    )
    assert used.status_code == 303
    after = person.get(used.headers["location"])
    assert typed(after, "schemes").strip() == schemes
    assert "What the numbers say" in words(after)


def test_parts_are_chosen_moved_and_taken_out(person, marked):
    address = f"/machine/{marked}/dating/theory"
    fields = {"rows": "3", "what-0": "dot", "what-1": "year", "what-2": "number year"}
    page = person.get(address, params=fields)
    assert line_on(page) == "dot, year, number in year"
    assert "cannot be read off this machine's mark" in words(page)
    page = person.get(address, params=form_of(page) | {"do": "up-1"})
    assert line_on(page) == "year, dot, number in year"
    page = person.get(address, params=form_of(page) | {"do": "before-0"})
    page = person.get(address, params=form_of(page) | {"what-0": "letter", "letters-0": "A B"})
    assert line_on(page) == "letter A B, year, dot, number in year"
    page = person.get(address, params=form_of(page) | {"letters-0": "B C", "start-1": "1880"})
    assert line_on(page) == "letter B C, year counted from 1880, dot, number in year"
    page = person.get(address, params=form_of(page) | {"do": "out-1", "idle": "yes"})
    assert line_on(page) == "letter B C, dot, number in year; dots without meaning"


@pytest.mark.parametrize("kind", [kind for kind, _ in KINDS if kind])
def test_every_kind_can_be_chosen(person, slug, kind):
    fields = {"rows": "2", "what-0": kind, "what-1": "code", "letters-0": "7", "sometimes-0": "yes"}
    page = person.get(f"/machine/{slug}/dating/theory", params=fields)
    # a constant asks for its characters only once it is chosen, so it may be told first
    assert page.status_code in (200, 422)
    assert kind.split()[0] in (line_on(page) or words(page))


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"rows": "1", "what-0": "dot"}, "has no part that says anything"),
        ({"rows": "2", "what-0": "year", "what-1": "year"}, "names year twice"),
        ({"rows": "1", "what-0": "moon"}, "is not a part of a mark"),
        ({"rows": "1", "what-0": "number overall", "figures-0": "x"}, "is no part of a mark"),
        ({"rows": "1", "what-0": "week", "name": "a: b"}, "part a line"),
        ({"rows": "1", "what-0": "week", "weight": "much"}, "weight much"),
        ({"rows": "1", "what-0": "week", "weight": "0"}, "above nought"),
        ({"rows": "2", "what-0": "", "do": "use"}, "No part is chosen"),
        ({"at": "7", "schemes": "number overall"}, "no theory on line 7"),
        ({"at": "1", "schemes": "moon, tide"}, "Line 1 cannot be read: 'moon'"),
        ({"from": "moon"}, "no part of a mark known here"),
    ],
)
def test_what_makes_no_theory_is_told_and_nothing_is_lost(person, slug, fields, says):
    answer = person.get(f"/machine/{slug}/dating/theory", params=fields)
    assert answer.status_code == 422
    assert says in words(answer)
    if "what-0" in fields and fields["what-0"] in dict(KINDS):
        sent = form_of(answer)
        assert sent["what-0"] == fields["what-0"]


def test_a_line_that_cannot_be_read_is_named_with_the_reason(person, slug):
    report = {"name": "a", "reads": "12", "grade": "seen", "how": "told", "counts": "yes"}
    person.post(f"/machine/{slug}/entries/report", report)
    schemes = "number overall\nmoon, tide"
    answer = person.get(f"/machine/{slug}/dating", params={"compare": "yes", "schemes": schemes})
    assert answer.status_code == 422
    said = words(answer)
    assert "Line 2" in said
    assert "It cannot be read: 'moon'" in said
    assert typed(answer, "schemes").strip() == schemes


def test_the_theories_kept_last_stand_in_the_box_again(person, marked):
    table = {"table": "id,mark\na,C°92.38\nb,C°93.94\n", "line": ["0", "1"]}
    person.post(f"/machine/{marked}/dating/table/keep", table)
    person.post(f"/machine/{marked}/dating/keep", {"schemes": MINE})
    page = person.get(f"/machine/{marked}/dating")
    assert typed(page, "schemes").strip() == MINE
    assert "These were kept with finding 1" in words(page)
    emptied = person.get(f"/machine/{marked}/dating", params={"schemes": ""})
    assert typed(emptied, "schemes") == ""
