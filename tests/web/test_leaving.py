"""What leaves, on its page: each thing with its reason, changed one by one, kept with its date."""

import re

import pytest

from ironlace.dossier.privacy import Audience
from ironlace.workshop.hand_over.chosen import choice_for, said_of

from .conftest import jpeg, words

STRANGERS, OWNER = Audience.STRANGERS, Audience.NEXT_OWNER


@pytest.fixture
def page(person, slug):
    person.post(f"/machine/{slug}/photographs", files={"files": ("a.jpg", jpeg(1))})
    report = {"name": "the coast head", "reads": "91·044", "grade": "seen", "place": "Thole",
              "reporter": "A. Quill", "how": "handled"}  # fmt: skip
    person.post(f"/machine/{slug}/entries/report", report)
    step = {"event": "bought of A. Quill", "private": "yes", "grade": "seen"}
    person.post(f"/machine/{slug}/entries/provenance", step)
    person.post(f"/machine/{slug}/entries/question", {"asks": "Did a. quill ask?"})
    return f"/machine/{slug}/leaving"


def shown(answer):
    """The form as a browser would send it back: what is shown, and what is ticked."""
    keys = re.findall(r'name="shown" value="([^"]*)"', answer.text)
    ticked = re.findall(r'name="leaves" value="([^"]*)" checked', answer.text)
    return {"shown": keys, "leaves": [key for key in ticked if key in keys]}


def test_each_thing_has_its_reason_and_careful_defaults(person, page):
    told = person.get(page)
    said = words(told)
    assert "report 1: reporter: A. Quill stays: it can tell strangers" in said
    assert "provenance 1: bought of A. Quill stays: marked as private" in said
    assert "history: who changed what" in said and "never goes to strangers" in said
    assert "report 1: reporter (“A. Quill”) stands in question 1" in said
    form = shown(told)
    assert "report 1: place" in form["shown"] and "report 1: place" not in form["leaves"]
    assert {"report 1", "question 1", "photograph 1: original"} <= set(form["leaves"])
    assert "history" not in form["shown"]


def test_one_by_one_is_kept_for_one_audience_with_hand_and_date(person, page, slug, bench):
    form = shown(person.get(page))
    form["leaves"] = [key for key in form["leaves"] if key != "question 1"] + ["report 1: place"]
    answer = person.post(page, {"whom": "strangers", **form})
    assert answer.status_code == 200
    (said,) = said_of(bench.workshop, slug, STRANGERS)
    assert said.said == {"report 1: place": "leaves", "question 1": "stays"}
    assert "question 1 stays, report 1: place leaves" in words(answer)
    assert choice_for(bench.workshop, slug, private=True).changed == {}
    # sent again as it stands, nothing new is kept; the other way, it is as usual again
    person.post(page, {"whom": "strangers", **shown(person.get(page))})
    assert len(said_of(bench.workshop, slug, STRANGERS)) == 1
    form = shown(person.get(page))
    person.post(page, {**form, "leaves": [*form["leaves"], "question 1"]})
    assert choice_for(bench.workshop, slug).changed == {"report 1: place": True}


def test_a_whole_group_at_once_for_the_next_owner(person, page, slug, bench):
    told = person.get(f"{page}?whom=next+owner")
    assert "Nothing is held back." in words(told)
    group = "reports of other machines: Reported by"
    person.post(page, {"whom": "next owner", "all": f"stays:{group}", **shown(told)})
    assert choice_for(bench.workshop, slug, private=True).changed == {"report 1: reporter": False}
    assert choice_for(bench.workshop, slug).changed == {}
    told = person.get(f"{page}?whom=next+owner&group={group}")
    assert "report 1: reporter: A. Quill stays: by your choice" in words(told)


def test_the_pack_tells_and_leaves_by_the_same_choice(person, page, slug, bench):
    form = shown(person.get(page))
    leaves = [key for key in form["leaves"] if key != "question 1"] + ["provenance 1"]
    person.post(page, {**form, "leaves": leaves})
    told = words(person.get(f"/machine/{slug}/pack"))
    assert "By your choice: 1 question: held back by your choice" in told
    assert "step of provenance" not in told


def test_a_record_with_many_things_is_leafed_through(person, slug, bench):
    from ironlace.record import parse_entry

    many = [
        parse_entry({"kind": "report", "name": f"head {n:04d}", "reads": "91·044", "grade": "seen"})
        for n in range(450)
    ]
    bench.records.add_all(slug, many)
    page = f"/machine/{slug}/leaving"
    told = person.get(page)
    assert len(shown(told)["shown"]) <= 2 * 12
    assert "All 450, one by one" in words(told)
    group = "reports of other machines: What you call that machine"
    last = person.get(f"{page}?group={group}&start=400")
    assert shown(last)["shown"] == [f"report {n}: name" for n in range(401, 451)]
