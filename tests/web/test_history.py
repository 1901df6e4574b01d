"""History: every change, the record as it stood, taking back."""

from datetime import datetime, timedelta

from ironlace.record import Question

from .conftest import words


def ask(bench, slug, text, days_ago, name=None):
    at = datetime.now().astimezone() - timedelta(days=days_ago)
    if name is None:
        return bench.records.add(slug, Question(asks=text), at=at)
    return bench.records.change(slug, name, Question(asks=text), at=at)


def test_every_change_is_shown_with_what_was_before(person, slug, bench):
    ask(bench, slug, "Who made it?", 3)
    ask(bench, slug, "Who cast it?", 1, "question 1")
    page = person.get(f"/machine/{slug}/history")
    assert "question 1 was added: Who made it?" in words(page)
    assert "<del>Who made it?</del>" in page.text
    assert "<ins>Who cast it?</ins>" in page.text


def test_the_record_is_read_as_it_stood_on_a_day(person, slug, bench):
    ask(bench, slug, "Who made it?", 3)
    ask(bench, slug, "Who cast it?", 1, "question 1")
    day = (datetime.now().astimezone() - timedelta(days=2)).date().isoformat()
    then = words(person.get(f"/machine/{slug}/as-it-stood?on={day}"))
    assert "Who made it?" in then
    assert "Who cast it?" not in then
    long_ago = words(person.get(f"/machine/{slug}/as-it-stood?on=2001-01-01"))
    assert "Nothing stood in the record yet." in long_ago
    assert person.get(f"/machine/{slug}/as-it-stood?on=soon").status_code == 422
    assert person.get(f"/machine/{slug}/as-it-stood?on=9999-12-31").status_code in (200, 422)


def test_a_change_is_taken_back_and_that_too(person, slug, bench):
    ask(bench, slug, "Who made it?", 3)
    ask(bench, slug, "Who cast it?", 1, "question 1")
    first, second = (change.number for change in bench.records.changes(slug))
    person.post(f"/machine/{slug}/history/{second}/undo")
    assert bench.records.read(slug).named("question 1").asks == "Who made it?"
    third = bench.records.changes(slug)[-1].number
    page = person.post(f"/machine/{slug}/history/{third}/undo", {"back": "entry"})
    assert bench.records.read(slug).named("question 1").asks == "Who cast it?"
    assert "went back to what it was before change" in words(page)
    conflict = person.post(f"/machine/{slug}/history/{first}/undo")
    assert conflict.status_code == 409
    assert "undo that one first" in words(conflict)
    assert person.post(f"/machine/{slug}/history/99999/undo").status_code == 404


def test_a_long_history_is_leafed_through(person, slug, bench):
    for index in range(50):
        ask(bench, slug, f"Question of {index}", 0)
    page = person.get(f"/machine/{slug}/history")
    assert "Question of 49" in words(page)
    assert "Question of 3 " not in words(page)
    further = page.text.split('rel="next" href="')[1].split('"')[0]
    assert "Question of 3" in words(person.get(further))
