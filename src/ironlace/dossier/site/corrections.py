"""What an account said before and says no more, since when, and what came in that changed it.

It is told from the record's own history of findings, so a site that was lost, or was never written
in between, loses nothing. Days are told, not hours; whose hand it was is not told at all.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from ironlace.dossier.account.findings_as_blocks import FindingWords, headline_of, sentences
from ironlace.dossier.privacy import REPORTS_READ
from ironlace.evidence.findings import DATE_FINDING, Finding
from ironlace.evidence.grades import Grade
from ironlace.evidence.wording import capital, listed
from ironlace.record.entries import Entry, EntryKind, FindingEntry, Mark, ReportEntry
from ironlace.record.entry_fields import words_of
from ironlace.record.history import Change, Record

_SENTENCES = 3
"""Of what was said: as many as an account tells of a finding."""
_ENTRY = re.compile(r"[a-z]+ \d+")
"""What an entry is called; other inputs are called by what they are, such as `drawing`."""
_MOST_REASONS = 12
"""Reports that one correction names; of more, how many others (a judgement)."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a finding said at one time: its answer, the sentences on it, the grade."""

    words: str
    more: tuple[str, ...]
    grade: Grade


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a finding says something else now: words, and the entry they begin with ('' if none)."""

    words: str
    entry: str = ""


@dataclass(frozen=True, slots=True)
class Correction:
    """A finding that says something else than before.

    Attributes
    ----------
    name, question
        The finding, and what it answers.
    number
        The change of the record that made it so: what tells two corrections apart.
    before, now
        What was said; `now` is None when nothing is said any more.
    since
        The day (UTC) since when.
    at
        The moment, for the order.
    because
        What changed it.
    """

    name: str
    question: str
    number: int
    before: Told
    now: Told | None
    since: date
    at: datetime
    because: tuple[Reason, ...]

    @property
    def same_answer(self) -> bool:
        """Whether the answer stayed, and only how sure it is, or why, is said otherwise."""
        return self.now is not None and self.now.words == self.before.words

    @property
    def anchor(self) -> str:
        """Where it stands on its page."""
        return f"correction-{self.number}"


@dataclass(frozen=True, slots=True)
class Addition:
    """What came into the record on one day (UTC), in words; `number` is its first change."""

    day: date
    words: str
    number: int
    first: bool


def corrections_of(
    versions: Sequence[Change],
    changes: Sequence[Change],
    told: Record,
    words: Mapping[str, FindingWords],
) -> tuple[Correction, ...]:
    """List what was corrected, the latest first.

    Parameters
    ----------
    versions
        Every version of the findings that may be told: `privacy.findings_over_time`.
    changes
        The record's whole history, to see what came in between.
    told
        The record as strangers read it: who sent a report is told only where it stands there.
    words
        How findings are announced, by entry or by what they are about.
    """
    found: list[Correction] = []
    before: dict[str, Change] = {}
    for change in versions:
        earlier = before.get(change.name)
        if isinstance(change.entry, FindingEntry):
            before[change.name] = change
        else:
            before.pop(change.name, None)
        if earlier is None or not isinstance(earlier.entry, FindingEntry):
            continue
        was = earlier.entry.finding
        now = change.entry.finding if isinstance(change.entry, FindingEntry) else None
        if now is not None and not _says_otherwise(was, now):
            continue
        announced = words.get(change.name) or words.get(was.about) or FindingWords()
        found.append(
            Correction(
                change.name,
                "When was it made?"
                if was.about == DATE_FINDING
                else announced.question or capital(was.about),
                change.number,
                _told(was),
                None if now is None else _told(now),
                change.made_at.astimezone(UTC).date(),
                change.made_at,
                tuple(_reasons(was, now, changes, (earlier.number, change.number), told)),
            )
        )
    return tuple(sorted(found, key=lambda one: (one.at, one.number), reverse=True))


def _told(finding: Finding) -> Told:
    said = tuple(sentences(finding.sentence)[:_SENTENCES])
    headline = headline_of(finding)
    if len(finding.results) > 1 and finding.about != DATE_FINDING:
        headline = "; ".join(f"{one.name}: {one.in_words()}" for one in finding.results[:4])
    if not headline and said:
        headline, said = said[0], said[1:]
    return Told(capital(headline) or "A result without a value", said, finding.grade)


def _says_otherwise(was: Finding, now: Finding) -> bool:
    """Whether a reader is told something else; a new version's other wording is no correction."""
    old, new = _told(was), _told(now)
    if (old.words, old.grade) != (new.words, new.grade):
        return True
    return old.more != new.more and (was.version == now.version or was.inputs != now.inputs)


def _reasons(
    was: Finding,
    now: Finding | None,
    changes: Sequence[Change],
    between: tuple[int, int],
    told: Record,
) -> Iterator[Reason]:
    """What came in between two versions of a finding that it was worked out from."""
    if now is None:
        yield Reason("it was withdrawn")
        return
    moved = {
        name
        for name in was.inputs.keys() | now.inputs.keys()
        if was.inputs.get(name) != now.inputs.get(name)
    }
    names = sorted(moved - REPORTS_READ)
    said = [
        Reason(f"{name} {_input_moved(name, was, now)}", name)
        if _ENTRY.fullmatch(name)
        else Reason(f"the {name} {_input_moved(name, was, now)}")
        for name in names
    ]
    if moved & REPORTS_READ:
        said += _of_reports(changes, between, told)
    if said:
        yield from said[:_MOST_REASONS]
        if len(said) > _MOST_REASONS:
            yield Reason(f"and {len(said) - _MOST_REASONS} more")
    elif was.version != now.version:
        yield Reason(f"it was worked out again by another version, {now.version}")
    else:
        yield Reason("it was worked out again, other things being taken for granted")


def _input_moved(name: str, was: Finding, now: Finding) -> str:
    if name not in was.inputs:
        return "was taken into account"
    return "was changed" if name in now.inputs else "is no longer taken into account"


def _of_reports(
    changes: Sequence[Change], between: tuple[int, int], told: Record
) -> Iterator[Reason]:
    first, last = between
    then: dict[str, Entry | None] = {}
    now: dict[str, Entry | None] = {}
    for change in changes:
        if change.number >= last:
            break
        if change.kind in (EntryKind.REPORT, EntryKind.MARK):
            now[change.name] = change.entry
            if change.number < first:
                then[change.name] = change.entry
    for name, entry in now.items():
        earlier = then.get(name)
        if entry == earlier:
            continue
        if isinstance(entry, Mark) or isinstance(earlier, Mark):
            if name in told.by_name:
                yield Reason(
                    f"{name} was read {'again' if earlier else 'for the first time'}", name
                )
        elif (moved := _report_moved(earlier, entry)) != "":
            yield Reason(f"{name}{_who_and_what(name, told)} {moved}", name)


def _report_moved(earlier: Entry | None, entry: Entry | None) -> str:
    """What became of a report, empty where no figure can have changed by it."""
    counted_before = isinstance(earlier, ReportEntry) and earlier.counts
    counts = isinstance(entry, ReportEntry) and entry.counts
    if counts and not counted_before:
        return "came in" if earlier is None else "counts now"
    if counted_before and not counts:
        return "was withdrawn" if entry is None else "is doubted and no longer counts"
    return "was changed" if counts else ""


def _who_and_what(name: str, told: Record) -> str:
    """A report's number and, only where they agreed to it, who sent it."""
    entry = told.by_name.get(name)
    if not isinstance(entry, ReportEntry):
        return ""
    by = f", from {entry.reporter}" if entry.reporter else ""
    return f" ({entry.reads}{by})"


def additions_of(changes: Sequence[Change], told: Record) -> tuple[Addition, ...]:
    """What came in on each day and still stands to be read, the latest day first."""
    days: dict[date, dict[str, Change]] = {}
    seen: set[str] = set()
    for change in changes:
        if change.name in told.by_name and change.entry is not None and change.name not in seen:
            seen.add(change.name)
            days.setdefault(change.made_at.astimezone(UTC).date(), {})[change.name] = change
    found = []
    for at, (day, came) in enumerate(sorted(days.items())):
        kinds: dict[type, int] = {}
        for change in came.values():
            kinds[type(change.entry)] = kinds.get(type(change.entry), 0) + 1
        said = [
            f"{number} {words_of(model).one if number == 1 else words_of(model).many}"
            for model, number in kinds.items()
        ]
        number = min(change.number for change in came.values())
        found.append(Addition(day, capital(listed(said)), number, at == 0))
    return tuple(reversed(found))
