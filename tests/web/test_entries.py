"""Forms: what is typed is kept, what is wrong is told, what was there before is not lost."""

import re

import pytest

from ironlace.record import EntryKind
from ironlace.web.entry_forms import FORMS

from .conftest import jpeg, typed, words

GOOD = {
    "statement": {"about": "maker", "says": "a works marked B", "grade": "conjectured"},
    "mark": {"reads": "B°93.(4)[38]2", "where": "slide plate", "grade": "seen"},
    "lettering": {
        "says": "THE LITTLE WONDER,\nPat. Aug. 4, 1868.",
        "where": "badge",
        "grade": "seen",
    },
    "readings": {
        "what": "height of the bar",
        "table-text": "angle [deg]; height [mm]\n0; 12,50\n10; 12,95\n20;",
        "table-with_what": "height: dial gauge, ± 0.02",
        "table-struck": "row 2, height: 12.59, figures swapped (R. Bell)",
        "grade": "measured",
    },
    "part": {"name": "face plate", "state": "damaged", "grade": "seen"},
    "measurement": {"what": "stroke", "reads": "31.6 ± 0.1 mm", "grade": "measured"},
    "treatment": {
        "what": "oiled",
        "stage": "done",
        "aim": "preventive conservation",
        "undoing": "nothing to undo",
        "materials": "oil\n\nrag ",
        "hazards": "running parts",
    },
    "provenance": {"event": "bought", "grade": "seen", "private": "yes"},
    "source": {"title": "A letter", "sort": "letter"},
    "report": {"name": "coast", "reads": "B°92.117", "grade": "seen", "counts": "yes"},
    "outlay": {"what": "oil", "cost": "4,90", "currency": "EUR"},
    "rate": {
        "one": "gbp",
        "worth": "1,1712",
        "currency": "EUR",
        "date": "4 May 1893",
        "by": "a bank's note",
    },
    "question": {"asks": "Who made it?"},
    "trial": {"changed": "oil", "to": "one drop", "screw": "2.5", "date": "4 May 1893"},
}


def test_every_kind_that_is_written_by_hand_is_tried_here():
    assert set(GOOD) == {kind.value for kind in FORMS} - {"photograph"}


@pytest.mark.parametrize("kind", GOOD)
def test_a_kind_is_added_shown_listed_changed_and_withdrawn(person, slug, bench, kind):
    base = f"/machine/{slug}/entries/{kind}"
    assert person.get(f"{base}/new").status_code == 200
    shown = person.post(base, GOOD[kind])
    assert shown.status_code == 200
    assert f"Kept: {kind} 1" in words(shown)
    assert f"{kind} 1" in words(person.get(base))
    entry = bench.records.read(slug).named(f"{kind} 1")
    form = person.get(f"{base}/1/change")
    last_seen = typed(form, "last_seen")
    changed = person.post(
        f"{base}/1/change", {**GOOD[kind], "note": "On second sight.", "last_seen": last_seen}
    )
    assert "On second sight." in words(changed)
    after = bench.records.read(slug).named(f"{kind} 1")
    assert after == entry.model_copy(update={"note": "On second sight."})
    withdrawn = person.post(f"{base}/1/withdraw", {"last_seen": typed(changed, "last_seen")})
    assert "was withdrawn" in words(withdrawn)
    assert bench.records.read(slug).count(EntryKind(kind)) == 0


@pytest.mark.parametrize(
    ("kind", "wrong", "field", "says"),
    [
        ("mark", {"reads": "4[9"}, "reads", "never closes it"),
        ("measurement", {"reads": "about an inch"}, "reads", "is not a quantity"),
        ("measurement", {"date": "last spring"}, "date", "is not a date: write it like"),
        (
            "statement",
            {"about": "date of making", "says": "old"},
            "says",
            "is not a date: write it like",
        ),
        ("statement", {"grade": ""}, "grade", "missing"),
        ("treatment", {"undoing": "can be undone"}, "how_to_undo", "'How to undo it': a treatment"),
        ("treatment", {"stage": ""}, "stage", "'Done or intended' is missing: choose one"),
        ("readings", {"table-text": ""}, "table", "'The readings': there is no table"),
        (
            "readings",
            {"table-text": "a [mm]\nx"},
            "table",
            "'The readings': row 1, 'a': 'x' is not",
        ),
        ("readings", {"table-with_what": "width: rule"}, "table", "names no column of the table"),
        ("readings", {"table-struck": "x"}, "table", "does not say what is struck out"),
        ("mark", {"other_readings": "B 1: given up"}, "other_readings", "without a reason"),
        ("mark", {"reads": "THE WONDER, 12"}, "reads", "keep words as lettering"),
        ("rate", {"one": "pounds"}, "one", "three letters, such as GBP, or of an hour"),
        ("rate", {"worth": "1,171"}, "worth", "could be two figures: write 1171 or 1.1710"),
        ("rate", {"currency": "GBP"}, "currency", "says nothing: name two"),
        ("outlay", {"cost": "4.90", "currency": ""}, "currency", "ISO 4217"),
        ("outlay", {"hours": "1h99", "cost": "9"}, "hours", "write 59 at most"),
        ("outlay", {"hours": "1", "cost": "1 or 2"}, "cost", "is not an amount"),
        ("outlay", {"cost": ""}, "cost", "hours, a cost or both"),
        ("outlay", {"hours": "many"}, "hours", "write 2.5, 2,5, 1h30, 1:30 or 90 min"),
        ("question", {"asks": " "}, "asks", "is empty"),
        ("mark", {"photographs-more": "3"}, "photographs", "There is no photograph 3"),
        ("mark", {"photographs-more": "one"}, "photographs", "does not number"),
        ("mark", {"photographs-more": "9-1"}, "photographs", "runs backwards"),
        ("statement", {"says": "x" * 301}, "says", "300"),
    ],
)
def test_a_wrong_field_is_told_in_a_sentence_and_what_was_typed_is_kept(
    person, slug, bench, kind, wrong, field, says
):
    note = "Typed with <care> & patience"
    answer = person.post(f"/machine/{slug}/entries/{kind}", {**GOOD[kind], "note": note, **wrong})
    assert answer.status_code == 422
    assert says in words(answer)
    assert typed(answer, "note") == note
    for name, value in wrong.items():
        if name != "grade" and typed(answer, name) is not None:
            assert typed(answer, name) == value.strip()
    if field:
        assert f'href="#f-{field}"' in answer.text
        assert f'id="f-{field}"' in answer.text
    assert bench.records.read(slug).entries == {}


@pytest.mark.parametrize("kind", GOOD)
def test_a_new_form_has_nothing_chosen_that_claims_evidence(person, slug, kind):
    page = person.get(f"/machine/{slug}/entries/{kind}/new").text
    assert not re.search(r'name="grade"[^>]*checked', page)
    for claim in ("struck", "none foreseen", "photograph seen", "seen", "measured"):
        assert f'value="{claim}" selected' not in page
        assert f'value="{claim}" checked' not in page


@pytest.mark.parametrize("kind", ["mark", "part", "report", "provenance", "measurement"])
def test_a_form_without_a_grade_is_refused_by_the_name_of_the_field(person, slug, bench, kind):
    given = {name: value for name, value in GOOD[kind].items() if name != "grade"}
    answer = person.post(f"/machine/{slug}/entries/{kind}", given)
    assert answer.status_code == 422
    assert "'How you know it' is missing" in words(answer)
    assert 'href="#f-grade"' in answer.text
    assert bench.records.read(slug).entries == {}


def test_what_was_not_said_is_shown_as_unsaid(person, slug):
    mark = person.post(f"/machine/{slug}/entries/mark", GOOD["mark"])
    assert "How it was put on not said" in words(mark)
    part = person.post(f"/machine/{slug}/entries/part", GOOD["part"])
    assert "How soon not judged" in words(part)
    report = person.post(f"/machine/{slug}/entries/report", GOOD["report"])
    assert "How it reached you not said" in words(report)


def test_a_change_made_meanwhile_is_a_conflict_that_keeps_what_was_typed(person, slug):
    base = f"/machine/{slug}/entries/question"
    person.post(base, {"asks": "Who?"})
    seen = typed(person.get(f"{base}/1/change"), "last_seen")
    person.post(f"{base}/1/change", {"asks": "Who made it?", "last_seen": seen})
    answer = person.post(f"{base}/1/change", {"asks": "Whose?", "last_seen": seen})
    assert answer.status_code == 409
    assert typed(answer, "asks") == "Whose?"
    assert "Who made it?" in words(answer)
    again = person.post(
        f"{base}/1/change", {"asks": "Whose?", "last_seen": typed(answer, "last_seen")}
    )
    assert again.status_code == 200
    assert "Whose?" in words(again)


def test_withdrawing_what_was_changed_meanwhile_is_a_conflict(person, slug, bench):
    base = f"/machine/{slug}/entries/question"
    shown = person.post(base, {"asks": "Who?"})
    person.post(f"{base}/1/change", {"asks": "Who made it?"})
    answer = person.post(f"{base}/1/withdraw", {"last_seen": typed(shown, "last_seen")})
    assert answer.status_code == 409
    assert bench.records.read(slug).count(EntryKind.QUESTION) == 1


def test_sources_and_photographs_are_kept_with_an_entry(person, slug, bench):
    files = {"files": ("a.jpg", jpeg())}
    person.post(f"/machine/{slug}/photographs", {"role": "mark"}, files=files)
    person.post(
        f"/machine/{slug}/entries/mark",
        {
            **GOOD["mark"],
            "photographs": "photograph 1",
            "source-kind": "photograph",
            "source-entry": "photograph 1",
            "source-says": "lamp from the left",
        },
    )
    entry = bench.records.read(slug).named("mark 1")
    assert entry.photographs == ("photograph 1",)
    assert entry.sources[0].in_words() == "photograph photograph 1: lamp from the left"
    form = person.get(f"/machine/{slug}/entries/mark/1/change")
    assert 'value="photograph 1" checked' in form.text
    assert typed(form, "source-says") == "lamp from the left"


def test_a_mark_is_shown_glyph_by_glyph_with_its_doubts(person, slug):
    page = person.post(f"/machine/{slug}/entries/mark", GOOD["mark"])
    assert "B, ring, 9, 3, dot, 4 (doubtful), 3 or 8, 2" in words(page)
    assert page.text.count('class="glyph glyph-') == 8


def test_a_length_is_shown_both_ways_and_a_date_in_words(person, slug):
    page = person.post(f"/machine/{slug}/entries/measurement", GOOD["measurement"])
    assert "31.6 ± 0.1 mm (1.2441 ± 0.0039 in)" in words(page)
    page = person.post(
        f"/machine/{slug}/entries/statement",
        {"about": "date of making", "says": "1893-04~", "grade": "inferred"},
    )
    assert "about April 1893 (1893-04~)" in words(page)


def test_a_grade_is_a_word_and_a_line_pattern(person, slug):
    for grade, dashed in (("seen", False), ("conjectured", True)):
        page = person.post(
            f"/machine/{slug}/entries/statement", {**GOOD["statement"], "grade": grade}
        )
        head = page.text.split('class="known-as"')[1].split("</p>")[0]
        assert f">{grade}<" in head
        assert ("stroke-dasharray" in head) is dashed


def test_text_that_looks_like_markup_stays_text(person, slug):
    page = person.post(f"/machine/{slug}/entries/question", {"asks": "<script>alert(1)</script>"})
    assert "<script>alert" not in page.text


def test_computed_entries_have_no_form(person, slug):
    assert person.get(f"/machine/{slug}/entries/finding/new").status_code == 404
    assert person.get(f"/machine/{slug}/entries/drawing/new").status_code == 404
    assert person.get(f"/machine/{slug}/entries/nonsense").status_code == 404


def test_what_is_being_written_is_read_back(person):
    glyphs = person.get("/reading", params={"sort": "marking", "text": "B°9?"}).json()
    assert [g["kind"] for g in glyphs["glyphs"]] == ["letter", "punch", "figure", "unread"]
    date = person.get("/reading", params={"sort": "date", "text": "189X"}).json()
    assert date["says"] == "some year in the 1890s (kept as 189X)"
    length = person.get("/reading", params={"sort": "quantity", "text": "1 1/4 in"}).json()
    assert length["says"] == "1.25 in (31.75 mm)"


def test_the_name_of_the_hand_goes_with_each_change(person, slug, bench):
    person.post("/care/hand", {"hand": "  Ünal, at the lathe "})
    person.post(f"/machine/{slug}/entries/question", GOOD["question"])
    assert bench.records.changes(slug)[-1].made_by == "Ünal, at the lathe"


def test_a_form_that_is_too_long_is_refused(person, slug, limits):
    answer = person.post(
        f"/machine/{slug}/entries/question", {"asks": "x", "note": "y" * limits.fields}
    )
    assert answer.status_code == 413


def test_a_finding_says_on_its_page_that_its_measurement_has_changed(person, slug, bench):
    measured = person.post(
        f"/machine/{slug}/entries/measurement",
        {"what": "centres", "reads": "500 ± 2 mm", "grade": "measured"},
    )
    person.post(
        f"/machine/{slug}/work-out/belt-length/keep",
        {
            "driver": "280 ± 1 mm",
            "driven": "70 ± 0.5 mm",
            "centres": "measurement 1",
            "thickness": "5 mm",
            "way": "open",
        },
    )
    page = person.get(f"/machine/{slug}/entries/finding/1")
    assert "Out of date." not in words(page)
    assert "Results" in words(page)
    person.post(
        f"/machine/{slug}/entries/measurement/1/change",
        {
            "what": "centres",
            "reads": "520 ± 2 mm",
            "grade": "measured",
            "last_seen": typed(measured, "last_seen"),
        },
    )
    page = person.get(f"/machine/{slug}/entries/finding/1")
    assert "Out of date. Since this was worked out, measurement 1 changed" in words(page)
