"""The workshop and a machine's page."""

import re
from collections import Counter
from datetime import UTC, datetime

from ironlace.evidence import Grade
from ironlace.record import (
    EntryKind,
    Measurement,
    Photograph,
    PhotographRole,
    Question,
    Record,
    Statement,
    Topic,
    job_of,
)
from ironlace.record.entries import to_keep
from ironlace.workshop.store.tables import ChangeRow, EntryRow

from .conftest import typed, words


def test_a_machine_is_made_named_and_named_again(person, bench):
    page = person.post("/machines", {"title": "The attic's head"})
    assert "The attic's head" in words(page)
    person.post("/machine/the-attic-s-head/name", {"title": "Head no. 2"})
    assert "Head no. 2" in words(person.get("/"))


def test_a_machine_without_a_name_is_refused_on_the_same_page(person):
    answer = person.post("/machines", {"title": " "})
    assert answer.status_code == 422
    assert "A machine needs a name" in words(answer)
    answer = person.post("/machines", {"title": "x" * 301})
    assert typed(answer, "title") == "x" * 301


def test_the_next_thing_of_the_job_is_on_the_page_with_its_form_and_cautions(person, slug):
    page = person.get(f"/machine/{slug}")
    said = words(page)
    assert "Photograph it as found" in said
    assert "Caution, lifting" in said
    assert 'type="file"' in page.text


def test_each_step_can_be_opened_and_offers_what_it_adds(person, slug):
    steps, _ = job_of(Record(slug, "x"))
    for step in steps:
        page = person.get(f"/machine/{slug}?step={step.key}")
        assert step.next in words(page)
        if step.adds not in (EntryKind.PHOTOGRAPH, EntryKind.DRAWING):
            assert f'action="/machine/{slug}/entries/{step.adds.value}"' in page.text


def test_a_step_that_asks_for_photographs_leads_to_changing_that_entry(person, slug):
    treatment = {
        "what": "oiled",
        "aim": "restoration",
        "undoing": "nothing to undo",
        "stage": "done",
    }
    person.post(f"/machine/{slug}/entries/treatment", treatment)
    page = person.get(f"/machine/{slug}?step=treat")
    assert "Name them in treatment 1" in words(page)
    assert 'name="what"' not in page.text
    link = re.search(r'href="([^"]*/treatment/1/change[^"#]*)#f-before"', page.text)
    form = person.get(link[1])
    assert re.search(r'<details class="more" open>.*id="f-before"', form.text, re.DOTALL)
    assert 'value="oiled"' in form.text


def test_a_machine_made_by_a_slip_is_put_away_and_brought_back(person, slug, bench):
    home = person.post(f"/machine/{slug}/put-away")
    assert "1 machine put away" in words(home)
    assert 'class="machine-line"' not in home.text
    page = person.get(f"/machine/{slug}")
    assert "was put away on" in words(page)
    back = person.post(f"/machine/{slug}/put-away", {"back": "yes"})
    assert "was put away" not in words(back)
    assert 'class="machine-line"' in person.get("/").text
    assert bench.records.put_away_at(slug) is None


def test_the_form_on_the_page_leads_back_to_it(person, slug):
    page = person.post(f"/machine/{slug}/entries/question", {"asks": "Who?", "back": "machine"})
    assert "The job in its order" in words(page)
    assert "Kept: question 1 (Who?)" in words(page)


def test_a_kept_note_says_only_what_stands(person, slug):
    page = person.get(f"/machine/{slug}?kept=question+9,<b>,statement+x")
    assert "Kept" not in words(page)


def take_in(bench, slug, role, seed):
    photograph = Photograph(sha256=f"{seed:064x}", role=role, caption=f"picture {seed}")
    return bench.records.add(slug, photograph)


def heads(page):
    return re.search(r'<div class="glance-photograph">.*?</div>', page.text, re.DOTALL)[0]


def test_the_photograph_of_the_whole_heads_its_page_and_stands_in_the_list(person, slug, bench):
    take_in(bench, slug, PhotographRole.MARK, 1)
    page = person.get(f"/machine/{slug}")
    assert "No photograph shows the whole machine yet" in heads(page)
    assert "<img" not in person.get("/").text and "none of the whole machine" in words(
        person.get("/")
    )
    take_in(bench, slug, PhotographRole.AS_FOUND, 2)
    take_in(bench, slug, PhotographRole.AS_FOUND, 3)
    assert 'alt="picture 2"' in heads(person.get(f"/machine/{slug}"))
    whole = take_in(bench, slug, PhotographRole.WHOLE, 4)
    take_in(bench, slug, PhotographRole.WHOLE, 5)
    assert 'alt="picture 5"' in heads(person.get(f"/machine/{slug}"))
    assert f"/view/{5:064x}/320" in person.get("/").text
    bench.records.change(slug, "photograph 5", None)
    assert 'alt="picture 4"' in heads(person.get(f"/machine/{slug}")) and whole == "photograph 4"
    assert f"/view/{4:064x}/320" in person.get("/").text


def test_a_machine_at_a_glance_tells_counts_and_the_latest_with_the_rows_behind(
    person, slug, bench
):
    for at in range(3):
        bench.records.add(slug, Measurement(what=f"bar {at}", reads="3.5 mm", grade=Grade.MEASURED))
    bench.records.add(slug, Question(asks="Who had it?"))
    page = person.get(f"/machine/{slug}")
    said = words(page)
    assert "3 measurements" in said and "bar 2" in said and "bar 1" not in said
    assert f'href="/machine/{slug}/entries/measurement"' in page.text
    assert '<details class="tag">' in page.text  # what is next is named; its form is a touch away
    for asked in ("?step=condition", "?kept=question+1"):
        assert '<details class="tag" open>' in person.get(f"/machine/{slug}{asked}").text
    whole = words(person.get(f"/machine/{slug}/whole"))
    for entry in ("bar 0", "bar 1", "bar 2", "Who had it?"):
        assert entry in whole


def test_the_whole_record_is_leafed_only_when_huge(person, slug, bench):
    fill(bench, slug, large_record())
    first = person.get(f"/machine/{slug}/whole")
    assert "Leaf 1 of 3" in words(first) and "7 000 kept" in words(first).replace("\u202f", " ")
    assert "Leaf 3 of 3" in words(person.get(f"/machine/{slug}/whole?page=3"))


def test_a_name_is_shown_as_it_was_given(person, slug):
    assert '<h1 class="as-named">' in person.get(f"/machine/{slug}").text
    assert '<h1 class="as-named">workshop</h1>' in person.get("/").text


def large_record():
    for index in range(2000):
        yield Photograph(sha256=f"{index:064x}", role=PhotographRole.PART, caption=f"{index}")
    for index in range(2500):
        reads = f"{index + 1}.5 ± 0.1 mm"
        yield Measurement(what=f"part {index}", reads=reads, grade=Grade.MEASURED)
        yield Statement(about=Topic.OTHER, says=f"thing {index}", grade=Grade.SEEN)


def fill(bench, slug, entries):
    """Write entries as `Records.add` does, all at once."""
    at = datetime.now(UTC)
    keys = Counter()
    with bench.workshop.database.writing() as session:
        record_id = bench.records.id_in(session, slug)
        for number, entry in enumerate(entries, 1):
            keys[entry.kind] += 1
            shared = {
                "record_id": record_id,
                "kind": entry.kind,
                "key": keys[entry.kind],
                "entry": to_keep(entry),
            }
            session.add(ChangeRow(number=number, made_at=at, made_by="", **shared))
            session.add(EntryRow(first_change=number, last_change=number, **shared))


def test_a_large_machine_is_shown_on_short_pages(person, slug, bench):
    """2,000 photographs and 5,000 facts; how fast they open is measured by bench/web_speed.py."""
    fill(bench, slug, large_record())
    addresses = (
        f"/machine/{slug}",
        f"/machine/{slug}/photographs",
        f"/machine/{slug}/entries/measurement",
        f"/machine/{slug}/entries/mark/new",
        f"/machine/{slug}/history",
        f"/machine/{slug}/ornament",
    )
    for address in addresses:
        page = person.get(address)
        assert page.status_code == 200
        assert len(page.text) < 200_000


def test_lists_are_leafed_through(person, slug, bench):
    with bench.workshop.database.writing() as session:
        for index in range(130):
            bench.records.add_in(session, slug, Question(asks=f"Question of {index}"))
    first = words(person.get(f"/machine/{slug}/entries/question"))
    assert "Leaf 1 of 3" in first
    assert "Question of 129" in first
    last = words(person.get(f"/machine/{slug}/entries/question?page=99"))
    assert "Leaf 3 of 3" in last
    assert "Question of 0" in last
