"""What a form offers to choose from: photographs by their pictures, sources by their names."""

from dataclasses import dataclass

from ironlace.record import EntryKind, Photograph, Record, SourceEntry
from ironlace.record.entry_fields import Control
from ironlace.web.entry_forms import EntryForm

_SHOWN = 24
"""Photographs to tick by their pictures; others are named by number."""

_SOURCES = 200
"""Photographs offered as sources: a longer list nobody scrolls through."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The latest photographs (name, entry), how many there are, and the record's sources."""

    pictures: tuple[tuple[str, Photograph], ...] = ()
    total: int = 0
    sources: tuple[tuple[str, str], ...] = ()


def choices_of(record: Record, spec: EntryForm | None) -> Choice:
    """Gather what a form offers; nothing for a form that names nothing."""
    if spec is None:
        return Choice()
    controls = {field.control for field in spec.fields}
    pictures: list[tuple[str, Photograph]] = []
    if Control.PICTURES in controls:
        pictures = list(record.of(Photograph))
    sources: list[tuple[str, str]] = []
    if Control.SOURCES in controls:
        sources = [(name, f"{name}: {s.title}") for name, s in record.of(SourceEntry)]
        latest = list(record.of(Photograph))[-_SOURCES:]
        sources += [(n, f"{n}: {p.in_brief()}") for n, p in reversed(latest)]
    return Choice(
        tuple(pictures[: -_SHOWN - 1 : -1]),
        record.count(EntryKind.PHOTOGRAPH) if pictures else 0,
        tuple(sources),
    )
