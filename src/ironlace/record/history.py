"""A record and its history: changes in, the record at any moment out."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import TypeVar

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.record.entries import Entry, EntryKind

_E = TypeVar("_E")
Key = tuple[EntryKind, int]


@dataclass(frozen=True, slots=True)
class Change:
    """One change: what an entry became, when, by whose hand.

    `entry` is None when the entry was withdrawn. `undoes` is the number of the change that this
    one takes back, or None.
    """

    number: int
    made_at: datetime
    made_by: str
    kind: EntryKind
    key: int
    entry: Entry | None
    undoes: int | None = None

    @property
    def name(self) -> str:
        """How the entry is called, such as `photograph 12`."""
        return f"{self.kind.value} {self.key}"


@dataclass(frozen=True)
class Record:
    """A machine's record as it stands at one moment.

    `entries` maps (kind, number) to the entry, in the order in which they first came.
    """

    slug: str
    title: str
    entries: dict[Key, Entry] = field(default_factory=dict)
    as_of: datetime | None = None

    def of(self, model: type[_E]) -> Iterator[tuple[str, _E]]:
        """Yield the name and entry of each entry of one model, in order."""
        for name, entry in self._by_model.get(model, ()):
            if isinstance(entry, model):  # always so; it tells the type checker
                yield name, entry

    @cached_property
    def by_name(self) -> dict[str, Entry]:
        """Each entry by its name, such as `photograph 12`, in order."""
        return {f"{kind} {key}": entry for (kind, key), entry in self.entries.items()}

    @cached_property
    def _by_model(self) -> dict[type, list[tuple[str, Entry]]]:
        # a page asks for a dozen models in turn: one pass over a large record serves them all
        found: dict[type, list[tuple[str, Entry]]] = {}
        for name, entry in self.by_name.items():
            found.setdefault(type(entry), []).append((name, entry))
        return found

    def named(self, name: str) -> Entry:
        """Return the entry of a name such as `photograph 12`.

        Raises NotFoundError when there is none.
        """
        entry = self.entries.get(key_of(name))
        if entry is None:
            raise NotFoundError(f"There is no {name} in the record of {self.title}.")
        return entry

    def count(self, kind: EntryKind) -> int:
        """How many entries of a kind there are."""
        return sum(1 for found, _ in self.entries if found is kind)


def key_of(name: str) -> Key:
    """Split a name such as `photograph 12` into kind and number."""
    kind, _, number = name.partition(" ")
    try:
        return EntryKind(kind), int(number)
    except ValueError as error:
        raise NotFoundError(
            f"'{name}' does not name an entry: write its kind and number, such as 'photograph 12'."
        ) from error


def record_at(
    slug: str, title: str, changes: Iterable[Change], moment: datetime | None = None
) -> Record:
    """Fold changes into the record as it stood at a moment (None: now).

    `changes` must be in the order of their numbers.
    """
    entries: dict[Key, Entry] = {}
    for change in changes:
        if moment is not None and change.made_at > moment:
            continue
        place = (change.kind, change.key)
        if change.entry is None:
            entries.pop(place, None)
        else:
            entries[place] = change.entry
    return Record(slug, title, entries, moment)


def restored_by_undoing(changes: Sequence[Change], number: int) -> tuple[Change, Entry | None]:
    """Find what undoing a change would restore.

    Returns
    -------
    change
        The change to undo.
    entry
        What its entry was before it, None if it did not exist.

    Raises
    ------
    NotFoundError
        When no change has that number.
    ConflictError
        When the same entry has been changed again since: that change must be undone first, or a
        later fact would vanish silently.
    """
    target = next((change for change in changes if change.number == number), None)
    if target is None:
        raise NotFoundError(f"There is no change {number} in this record's history.")
    before: Entry | None = None
    for change in changes:
        if (change.kind, change.key) != (target.kind, target.key):
            continue
        if change.number < number:
            before = change.entry
        elif change.number > number:
            latest = max(c.number for c in changes if (c.kind, c.key) == (target.kind, target.key))
            raise ConflictError(
                f"{target.name} has been changed since (change {latest}): undo that one first."
            )
    return target, before
