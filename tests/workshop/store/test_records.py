from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.record import Question, Statement, Topic, record_at
from ironlace.workshop import Workshop
from ironlace.workshop.store.tables import PutAwayRow

START = datetime(2025, 3, 1, 9, tzinfo=UTC)


def asks(text):
    return Question(asks=text)


def test_entries_are_numbered_and_numbers_never_given_again(workshop, slug):
    records = workshop.records
    assert records.add(slug, asks("who?")) == "question 1"
    assert records.add(slug, asks("when?")) == "question 2"
    records.change(slug, "question 2", None)
    assert records.add(slug, asks("where?")) == "question 3"


def test_a_record_can_be_read_as_it_stood(workshop, slug):
    records = workshop.records
    records.add(slug, asks("who?"), at=START)
    records.change(slug, "question 1", asks("who made it?"), at=START + timedelta(days=2))
    records.change(slug, "question 1", None, at=START + timedelta(days=4))
    at = [records.read(slug, START + timedelta(days=day)).entries for day in (-1, 1, 3, 5)]
    assert [[e.asks for e in found.values()] for found in at] == [
        [],
        ["who?"],
        ["who made it?"],
        [],
    ]


def test_undoing_brings_back_what_was_there(workshop, slug):
    records = workshop.records
    records.add(slug, asks("who?"))
    records.change(slug, "question 1", None)
    last = records.changes(slug)[-1].number
    assert records.undo(slug, last) == "question 1"
    assert records.read(slug).named("question 1").asks == "who?"
    assert records.changes(slug)[-1].undoes == last


def test_an_undoing_can_be_undone(workshop, slug):
    records = workshop.records
    records.add(slug, asks("who?"))
    first = records.changes(slug)[0].number
    records.undo(slug, first)
    assert not records.read(slug).entries
    records.undo(slug, records.changes(slug)[-1].number)
    assert records.read(slug).named("question 1").asks == "who?"


def test_two_people_do_not_overwrite_each_other(workshop, slug):
    records = workshop.records
    records.add(slug, asks("who?"))
    seen = records.last_change_of(slug, "question 1")
    records.change(slug, "question 1", asks("who made it?"), last_seen=seen)
    with pytest.raises(ConflictError):
        records.change(slug, "question 1", asks("who sold it?"), last_seen=seen)
    assert records.read(slug).named("question 1").asks == "who made it?"


def test_slugs_are_plain_and_never_shared(workshop):
    made = [workshop.records.create(t) for t in ("Höhn & Söhne № 3", "hohn sohne 3", "···")]
    assert made == ["hohn-sohne-no-3", "hohn-sohne-3", "machine"]
    assert workshop.records.create("hohn sohne 3") == "hohn-sohne-3-2"


def test_another_open_workshop_sees_the_change(workshop, slug):
    with Workshop.open(workshop.folder) as other:
        assert not other.records.read(slug).entries
        workshop.records.add(slug, asks("who?"))
        assert len(other.records.read(slug).entries) == 1


@pytest.mark.parametrize("name", ["question 1", "nothing 1", "question"])
def test_what_is_not_there_cannot_be_changed(workshop, slug, name):
    with pytest.raises(NotFoundError):
        workshop.records.change(slug, name, asks("who?"))


def test_an_entry_stays_of_its_kind(workshop, slug):
    workshop.records.add(slug, asks("who?"))
    statement = Statement(about=Topic.MAKER, says="not known", grade="conjectured")
    with pytest.raises(IronlaceError, match="cannot become"):
        workshop.records.change(slug, "question 1", statement)


def test_a_machine_without_a_name_is_refused(workshop):
    with pytest.raises(IronlaceError, match="needs a name"):
        workshop.records.create("  ")
    assert workshop.records.all() == []


def test_a_machine_is_put_away_and_brought_back_and_each_time_is_kept(workshop):
    records = workshop.records
    slip, other = records.create("A slip"), records.create("The other")
    records.add(slip, asks("who?"))
    assert records.put_away_at(slip) is None
    records.put_away(slip, by="R")
    assert [(one.slug, one.put_away is None) for one in records.all()] == [
        (other, True),
        (slip, False),
    ]
    assert records.put_away_at(slip) is not None
    assert records.put_away_at(other) is None
    assert records.read(slip).named("question 1").asks == "who?"
    with Workshop.open(workshop.folder) as fresh:
        assert fresh.records.put_away_at(slip) is not None
    records.put_away(slip, away=False, by="R")
    assert records.put_away_at(slip) is None
    assert {one.put_away for one in records.all()} == {None}
    with workshop.database.reading() as session:
        kept = [(row.away, row.made_by) for row in session.scalars(select(PutAwayRow))]
    assert kept == [(True, "R"), (False, "R")]
    with pytest.raises(NotFoundError):
        records.put_away("nothing")


actions = st.lists(
    st.tuples(st.sampled_from(["add", "change", "withdraw", "undo"]), st.integers(0, 30)),
    max_size=20,
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(actions)
def test_what_stands_is_always_the_fold_of_the_history(workshop, done):
    slug = workshop.records.create("random")
    records = workshop.records
    for action, number in done:
        names = [f"{kind.value} {key}" for kind, key in records.read(slug).entries]
        changes = records.changes(slug)
        if action == "add" or not changes:
            records.add(slug, asks(f"{number}?"))
        elif action == "undo":
            try:
                records.undo(slug, changes[number % len(changes)].number)
            except ConflictError:
                continue
        elif names:
            entry = asks(f"{number} again?") if action == "change" else None
            records.change(slug, names[number % len(names)], entry)
    changes = records.changes(slug)
    fold = record_at(slug, "random", changes).entries
    # read on after each write, so what is in memory was never read whole; its order holds too
    assert list(records.read(slug).entries.items()) == list(fold.items())
    for change in changes[:: max(1, len(changes) // 4)]:
        then = record_at(slug, "random", changes, change.made_at)
        assert list(records.read(slug, change.made_at).entries.items()) == list(
            then.entries.items()
        )
    with Workshop.open(workshop.folder) as fresh:
        assert fresh.records.read(slug).entries == fold
