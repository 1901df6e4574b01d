"""What a stranger writes into record.json is a history, or refused in one sentence."""

from datetime import UTC, datetime

import pytest

from ironlace.dossier.errors import BagRefusedError
from ironlace.dossier.record_file import changes_in
from ironlace.record import parse_entry

NOW = datetime(2031, 5, 4, tzinfo=UTC)
QUESTION = {"kind": "question", "asks": "Whose?"}
SOUND = {
    "number": 1,
    "made_at": "2031-05-03T08:00:00+00:00",
    "made_by": "A. Hand",
    "of": "question 1",
    "entry": QUESTION,
    "undoes": None,
}


def test_a_sound_change_is_read():
    (change,) = changes_in({"changes": [SOUND]}, NOW)
    assert (change.number, change.name, change.made_by) == (1, "question 1", "A. Hand")
    assert change.entry == parse_entry(QUESTION)


@pytest.mark.parametrize(
    ("field", "odd"),
    [
        ("number", [1]), ("number", "1"), ("number", 1.5), ("number", 0), ("number", 10**30),
        ("made_by", 7), ("made_by", None),
        ("made_at", 5), ("made_at", "never"), ("made_at", "0001-01-01T00:00:00+14:00"),
        ("of", "question 99999999999999999999"), ("of", "question -1"), ("of", "spoon 1"),
        ("of", ["question 1"]),
        ("entry", 7), ("entry", {"kind": "spoon"}),
        ("undoes", {}), ("undoes", "1"), ("undoes", -1), ("undoes", 10**30),
        ("more", 1),
    ],
)  # fmt: skip
def test_what_no_program_of_ours_wrote_is_refused(field, odd):
    with pytest.raises(BagRefusedError, match=r"record\.json does not hold a record"):
        changes_in({"changes": [SOUND | {field: odd}]}, NOW)


@pytest.mark.parametrize("changes", ["abc", {"a": 1}, [1], [SOUND, None]])
def test_changes_that_are_no_list_of_changes_are_refused(changes):
    with pytest.raises(BagRefusedError):
        changes_in({"changes": changes}, NOW)
