"""Each thing that would leave with an account, and why another is held back: told before it goes.

It is told by the choice that the copy itself is cut by (`ironlace.dossier.privacy.Choice`), so the
list and what is written cannot part. A thing has a key that a person can write: ``report 3`` for an
entry, ``report 3: place`` for a field of it, ``mark 1: who vouches``, ``photograph 2: original``,
``history``.
"""

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ironlace.dossier.privacy import (
    HISTORY,
    ORIGINAL,
    VOUCHERS,
    WHY_HISTORY,
    WHY_PERSON,
    WHY_RESTS,
    Choice,
    is_empty,
    is_unnamed_person,
    rests_on_held,
    why_field,
)
from ironlace.evidence.wording import listed
from ironlace.record.entries import Entry, Photograph
from ironlace.record.entry_fields import Control, fields_of, words_of
from ironlace.record.history import Change, Record

_SHORTEST = 4
"""Letters of words that are looked for elsewhere: shorter ones stand everywhere by chance."""
_NEEDS_ENTRY = "its entry stays, and it with it"
_WHAT_LONGEST = 120
"""Characters of what a thing says that stand in the list."""


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that leaves or stays.

    Attributes
    ----------
    key
        How it is called, as a person writes it.
    group
        What it is one of, such as ``steps of provenance``.
    what
        What it says, shortly.
    why
        Why it is held back, or would be; empty for what nobody need fear for.
    usual, leaves
        Whether it leaves if nothing is said, and whether it leaves as it was chosen.
    fixed
        Why it cannot be chosen, empty when it can.
    words
        The words of it that must not stand elsewhere when it is held back.
    also_in
        Of what is held back: things that leave and say the same words.
    """

    key: str
    group: str
    what: str
    why: str
    usual: bool
    leaves: bool
    fixed: str = ""
    words: tuple[str, ...] = ()
    also_in: tuple[str, ...] = ()


OriginalLooked = Callable[[str, Photograph], tuple[bool, str]]
"""Of a photograph's name and entry: whether its original leaves usually, and what else it holds."""


def things_of(
    record: Record, choice: Choice, changes: Sequence[Change], original: OriginalLooked
) -> tuple[Thing, ...]:
    """List every thing of a record that leaves or stays by a choice, in the order of the record."""
    usual = replace(choice, changed={})
    things: list[Thing] = []
    # as it would be if nothing was said of the findings themselves
    said = {key: word for key, word in choice.changed.items() if not key.startswith("finding ")}
    rests = rests_on_held(record, replace(choice, changed=said))
    for name, entry in record.by_name.items():
        things += _of_entry(name, entry, choice, usual, original, rests.get(name, ()))
    if choice.private:
        things += _withdrawn(record, changes, choice, usual)
    things.append(_history(choice))
    return _said_elsewhere(record, tuple(things))


def _of_entry(
    name: str,
    entry: Entry,
    choice: Choice,
    usual: Choice,
    original: OriginalLooked,
    rests: tuple[str, ...],
) -> Iterator[Thing]:
    group = words_of(type(entry)).many
    leaves = choice.entry_leaves(name, entry) and (name in choice.changed or not rests)
    why, plain = usual.why_hidden(entry), replace(usual, hours_and_costs=True).why_hidden(entry)
    if rests:
        why = f"{WHY_RESTS}: {listed(list(rests))}"
    yield Thing(
        name, group, _short(entry.in_brief()), why, not why, leaves,
        words=tuple(_words_in(entry)) if why and (plain or not usual.hours_and_costs) else (),
    )  # fmt: skip
    parts: list[Thing] = []
    for field in fields_of(type(entry)):
        value = getattr(entry, field.name)
        key = f"{name}: {field.name}"
        if field.words.private and not is_empty(value):
            told = value if isinstance(value, str) else str(len(value))
            parts.append(
                Thing(
                    key, f"{group}: {field.label}", _short(told), why_field(entry, field),
                    usual.field_leaves(name, entry, field),
                    choice.field_leaves(name, entry, field),
                    words=(value,) if isinstance(value, str) else (),
                )
            )  # fmt: skip
        elif field.control is Control.SOURCES:
            persons = [one.says for one in value if is_unnamed_person(one)]
            if persons:
                parts.append(
                    Thing(
                        f"{name}: {VOUCHERS}", "persons who vouch", _short("; ".join(persons)),
                        WHY_PERSON, usual.vouchers_leave(name), choice.vouchers_leave(name),
                        words=tuple(persons),
                    )
                )  # fmt: skip
    if isinstance(entry, Photograph):
        bare, holds = original(name, entry)
        kept = usual.private or bare
        key = f"{name}: {ORIGINAL}"
        what = _short(entry.in_brief())
        parts.append(Thing(key, "original files", what, holds, kept, choice.changed.get(key, kept)))
    # of an entry that stays nothing leaves, whatever was said of its parts
    yield from parts if leaves else (replace(p, leaves=False, fixed=_NEEDS_ENTRY) for p in parts)


def _withdrawn(
    record: Record, changes: Sequence[Change], choice: Choice, usual: Choice
) -> Iterator[Thing]:
    """Entries that no longer stand: the history tells them all the same."""
    of_old = [c for c in changes if c.name not in record.by_name]
    last = {c.name: c.entry for c in of_old if c.entry is not None}
    told = choice.changed.get(HISTORY, True)
    for name, entry in last.items():
        why = usual.why_hidden(entry)
        yield Thing(
            name, "withdrawn entries, in the history", _short(entry.in_brief()), why, not why,
            told and choice.entry_leaves(name, entry), fixed="" if told else "the history stays",
        )  # fmt: skip


def _history(choice: Choice) -> Thing:
    what = "who changed what, and when, with what stood there before"
    if not choice.private:
        fixed = "it would tell what is held back, so it never goes to strangers"
        return Thing(HISTORY, "the record as a whole", what, WHY_HISTORY, False, False, fixed)
    leaves = choice.changed.get(HISTORY, True)
    return Thing(HISTORY, "the record as a whole", what, WHY_HISTORY, True, leaves)


def _words_in(entry: Entry) -> Iterator[str]:
    """The texts that a person wrote in an entry that is hidden as a whole: its free lines."""
    for field in fields_of(type(entry)):
        found = getattr(entry, field.name)
        if field.control in (Control.LINE, Control.TEXT) and isinstance(found, str) and found:
            yield found


def _said_elsewhere(record: Record, things: tuple[Thing, ...]) -> tuple[Thing, ...]:
    """The same things, what is held back knowing which others say its words."""
    held = {
        words.casefold(): thing.key
        for thing in things
        if not thing.leaves
        for words in (" ".join(w.split()) for w in thing.words)
        if len(words) >= _SHORTEST
    }
    if not held:
        return things
    found: dict[str, list[str]] = {}
    leaving = {thing.key for thing in things if thing.leaves}
    texts = [("the machine’s name", record.title)]
    for name, entry in record.by_name.items():
        if name in leaving:
            texts += [(name, text) for text in _open_texts(name, entry, leaving)]
    rarest = _by_rarest_word(held)
    for name, text in texts:
        for words in _said_in(" ".join(text.split()).casefold(), rarest):
            places = found.setdefault(held[words], [])
            if name not in places:
                places.append(name)
    return tuple(replace(t, also_in=tuple(found.get(t.key, ()))) for t in things)


_WORD = re.compile(r"\w+")


def _by_rarest_word(held: Mapping[str, str]) -> dict[str, list[tuple[str, int]]]:
    """What is looked for with where its rarest word begins in it, by that word.

    Thousands of names are then as quick as one, though all of them begin with a common word.
    """
    said = Counter(word for words in held for word in _WORD.findall(words))
    rarest: dict[str, list[tuple[str, int]]] = {}
    for words in held:
        found = min(_WORD.finditer(words), key=lambda word: said[word[0]], default=None)
        if found:
            rarest.setdefault(found[0], []).append((words, found.start()))
    return rarest


def _said_in(text: str, rarest: Mapping[str, list[tuple[str, int]]]) -> Iterator[str]:
    """Which of the words looked for a text says, as whole words."""
    for word in _WORD.finditer(text):
        for words, before in rarest.get(word[0], ()):
            at = word.start() - before
            if at >= 0 and text.startswith(words, at) and _stands_alone(text, at, words):
                yield words


def _stands_alone(text: str, at: int, words: str) -> bool:
    """Whether words in a text are no part of longer ones."""
    after = at + len(words)
    begins = not (words[0].isalnum() and at and text[at - 1].isalnum())
    return begins and not (words[-1].isalnum() and text[after : after + 1].isalnum())


def _open_texts(name: str, entry: Entry, leaving: set[str]) -> Iterator[str]:
    """Every text of an entry that leaves, but for fields that are chosen by themselves."""
    for field in fields_of(type(entry)):
        if field.words.private:
            continue
        if field.control is Control.SOURCES and f"{name}: {VOUCHERS}" not in leaving:
            continue
        yield from _strings(getattr(entry, field.name))


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _strings(inner)
    elif isinstance(value, (list, tuple)):
        for inner in value:
            yield from _strings(inner)


def _short(words: str) -> str:
    line = " ".join(words.split())
    return line if len(line) <= _WHAT_LONGEST else f"{line[: _WHAT_LONGEST - 1]}…"
