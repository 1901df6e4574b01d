from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.record import Change, EntryKind, Question, record_at, restored_by_undoing
from ironlace.record.history import key_of

START = datetime(2025, 3, 1, 9, tzinfo=UTC)
texts = st.one_of(st.none(), st.sampled_from(["who?", "when?", "where?", "how many?"]))
writes = st.lists(st.tuples(st.integers(1, 4), texts), max_size=25)


def changes_of(written):
    return [
        Change(
            number,
            START + timedelta(days=number),
            "",
            EntryKind.QUESTION,
            key,
            None if text is None else Question(asks=text),
        )
        for number, (key, text) in enumerate(written, 1)
    ]


@given(writes, st.integers(0, 26))
def test_the_record_of_a_day_is_what_had_been_written_by_then(written, day):
    changes = changes_of(written)
    then = record_at("m", "M", changes, START + timedelta(days=day))
    assert then.entries == record_at("m", "M", changes[:day]).entries


@given(writes.filter(bool))
def test_undoing_the_last_change_restores_the_record_before_it(written):
    changes = changes_of(written)
    last, before = restored_by_undoing(changes, len(changes))
    undone = Change(len(changes) + 1, START, "", last.kind, last.key, before, undoes=last.number)
    assert (
        record_at("m", "M", [*changes, undone]).entries == record_at("m", "M", changes[:-1]).entries
    )


def test_a_change_with_later_ones_on_it_is_not_undone_silently():
    changes = changes_of([(1, "who?"), (1, "when?")])
    with pytest.raises(ConflictError, match="change 2"):
        restored_by_undoing(changes, 1)


def test_a_change_that_never_was_cannot_be_undone():
    with pytest.raises(NotFoundError):
        restored_by_undoing([], 3)


@pytest.mark.parametrize("name", ["photograph", "photo 3", "photograph x", ""])
def test_a_name_that_names_nothing(name):
    with pytest.raises(NotFoundError):
        key_of(name)
