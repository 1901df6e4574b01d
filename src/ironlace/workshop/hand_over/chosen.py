"""What leaves is chosen: kept in the workshop as changes with their date, one choice per audience.

Page and command list and change it here, and whatever is written asks here.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from ironlace.dossier.bag.bare_picture import is_bare_picture
from ironlace.dossier.bag.beside_picture import beside_picture
from ironlace.dossier.leaving import Thing, things_of
from ironlace.dossier.privacy import ORIGINAL, Audience, Choice, copy_for
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.wording import listed
from ironlace.record import Photograph, Record
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.tables import LeavingRow

LEAVES, STAYS, USUAL = "leaves", "stays", "usual"
"""What may be said of a thing; `usual` takes back what was said before."""
_NAMED = 3
"""Unknown keys that a refusal names."""


class ChoiceError(IronlaceError):
    """Something was chosen that cannot be."""


@dataclass(frozen=True, slots=True)
class Said:
    """One change of the choice: when, by whose hand, and what it said by key."""

    made_at: datetime
    made_by: str
    said: dict[str, str]


def choice_for(
    workshop: Workshop, slug: str, *, private: bool = False, hours_and_costs: bool = False
) -> Choice:
    """The choice by which something is written: what is usual for whom, and what was said."""
    audience = Audience.NEXT_OWNER if private else Audience.STRANGERS
    changed: dict[str, bool] = {}
    for one in said_of(workshop, slug, audience):
        for key, word in one.said.items():
            changed.pop(key, None)
            if word != USUAL:
                changed[key] = word == LEAVES
    return Choice(audience, hours_and_costs, changed)


def told_to_strangers(workshop: Workshop, record: Record) -> Record:
    """What of a record leaves for strangers, as it was chosen."""
    return copy_for(record, choice_for(workshop, record.slug))[0]


def said_of(workshop: Workshop, slug: str, audience: Audience) -> list[Said]:
    """Every change of the choice, the first one first."""
    with workshop.database.reading() as session:
        record_id = workshop.records.id_in(session, slug)
        query = (
            select(LeavingRow)
            .where(LeavingRow.record_id == record_id, LeavingRow.audience == audience.value)
            .order_by(LeavingRow.id)
        )
        return [Said(row.made_at, row.made_by, dict(row.said)) for row in session.scalars(query)]


def things(
    workshop: Workshop, slug: str, choice: Choice, *, look_into: Collection[str] | None = None
) -> tuple[Thing, ...]:
    """List what leaves and what stays, with reasons, by a choice; see `Thing`.

    Parameters
    ----------
    look_into
        Names of the photographs whose originals are read to say whether they are bare; None for
        all of them. Of others that is not known, and so they are told to stay.
    """
    record = workshop.records.read(slug)
    files = workshop.photographs.originals([one.sha256 for _, one in record.of(Photograph)])

    def original(name: str, entry: Photograph) -> tuple[bool, str]:
        file = files.get(entry.sha256)
        if file is None:
            return False, "its file is missing from the store"
        looked = look_into is None or name in look_into
        return _looked(file.path) if looked else (False, "")

    changes = workshop.records.whole_history(slug) if choice.private else []
    return things_of(record, choice, changes, original)


@lru_cache(maxsize=4096)
def _looked(path: Path) -> tuple[bool, str]:
    """Whether an original is bare, and what else it holds; it never changes, being named by it."""
    if is_bare_picture(path):
        return True, ""
    holds = beside_picture(path)
    return False, f"its file also holds {listed(holds)}" if holds else _PERHAPS


_PERHAPS = "its file may hold more than its picture"


def original_leaves(choice: Choice, entry: str, path: Path, shown: set[str]) -> bool:
    """Whether an original goes along.

    To strangers usually when its file holds no more than the account shows of it.

    Parameters
    ----------
    shown
        Names of the drawings that the account shows.
    """
    said = choice.changed.get(f"{entry}: {ORIGINAL}")
    if said is not None:
        return said
    if choice.private or entry in shown:
        return True
    return entry.startswith("photograph ") and is_bare_picture(path)


def choose(
    workshop: Workshop,
    slug: str,
    audience: Audience,
    said: Mapping[str, Any],
    *,
    by: str = "",
    at: datetime | None = None,
) -> Said:
    """Keep a change of the choice, whole or not at all.

    Parameters
    ----------
    said
        By the key of a thing: ``leaves``, ``stays`` or ``usual``.

    Raises
    ------
    ChoiceError
        When a key names nothing in the record, cannot be chosen, or is given another word.
    """
    words = {str(key): str(word) for key, word in said.items()}
    odd = [key for key, word in words.items() if word not in (LEAVES, STAYS, USUAL)]
    if odd:
        raise ChoiceError(
            f"“{odd[0][:80]}” is said to be “{words[odd[0]][:40]}”: write {LEAVES}, {STAYS} or "
            f"{USUAL}."
        )
    if not words:
        raise ChoiceError("Nothing was chosen: name at least one thing, as the list calls it.")
    choice = choice_for(workshop, slug, private=audience is Audience.NEXT_OWNER)
    known = {thing.key: thing for thing in things(workshop, slug, choice, look_into=())}
    unknown = [key for key in words if key not in known and words[key] != USUAL]
    if unknown:
        more = f" and {len(unknown) - _NAMED} more" if len(unknown) > _NAMED else ""
        raise ChoiceError(
            f"The record has nothing called {listed([f'“{k[:80]}”' for k in unknown[:_NAMED]])}"
            f"{more}: write the keys as the list has them, such as “report 3: place”."
        )
    if known.get("history") and known["history"].fixed and "history" in words:
        raise ChoiceError(f"The history cannot be chosen: {known['history'].fixed}.")
    with workshop.database.writing() as session:
        return _keep(workshop, session, slug, audience, words, by, at or datetime.now(UTC))


def _keep(
    workshop: Workshop,
    session: Session,
    slug: str,
    audience: Audience,
    words: dict[str, str],
    by: str,
    at: datetime,
) -> Said:
    row = LeavingRow(
        record_id=workshop.records.id_in(session, slug),
        audience=audience.value,
        said=words,
        made_at=at,
        made_by=by,
    )
    session.add(row)
    return Said(at, by, words)


def as_listed(found: Sequence[Thing]) -> dict[str, list[dict[str, Any]]]:  # dict: JSON
    """The list as JSON values: what leaves, and what is held back and why."""
    out: dict[str, list[dict[str, Any]]] = {"leaves": [], "held_back": []}
    for thing in found:
        told: dict[str, Any] = {"key": thing.key, "group": thing.group, "what": thing.what}
        if thing.why:
            told["why"] = thing.why
        if thing.leaves != thing.usual and not thing.fixed:
            told["chosen"] = True
        if thing.fixed:
            told["fixed"] = thing.fixed
        if thing.also_in:
            told["also_in"] = list(thing.also_in)
        out["leaves" if thing.leaves else "held_back"].append(told)
    return out
