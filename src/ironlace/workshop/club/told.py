"""What of a report a club is told, and back: the same that a public copy tells of it.

What a person calls the machine, notes, sources and other readings stay at home. A report that is
the second sighting of another names it by the club's number.
"""

from collections.abc import Mapping
from typing import Any, Final

from pydantic import ValidationError

from ironlace.dossier.privacy import public_copy
from ironlace.evidence.errors import IronlaceError
from ironlace.record.choices import Channel
from ironlace.record.entries import EntryKind, ReportEntry, in_one_sentence
from ironlace.record.entry_fields import fields_of
from ironlace.record.history import Record, key_of

_AT_HOME: Final = frozenset({"name", "note", "sources", "other_readings", "same_as"})
_TOLD: Final = tuple(field.name for field in fields_of(ReportEntry) if field.name not in _AT_HOME)
_OFFERED: Final = "sent:"
"""Before the key of a report that was sent in and has no number of the club yet."""


class ToldError(IronlaceError):
    """What a club holds is no report that this program can read."""


def told_of(survey: Record) -> dict[int, dict[str, Any]]:
    """What a club is told of each report of a survey, by its key here; of whom it is not yet.

    `same_as` is left out: only who knows the club's numbers can say it.
    """
    public, _ = public_copy(survey)
    return {key_of(name)[1]: _told(entry) for name, entry in public.of(ReportEntry)}


def _told(entry: ReportEntry) -> dict[str, Any]:
    dumped = entry.model_dump(mode="json", include=set(_TOLD))
    return {name: dumped[name] for name in _TOLD}


def sighted_again(survey: Record) -> dict[int, int]:
    """Of which report, by key, each second sighting is; of its own where it is another machine."""
    reports = list(survey.of(ReportEntry))
    named = {entry.name: name for name, entry in reversed(reports)} | {n: n for n, _ in reports}
    return {
        key_of(name)[1]: key_of(named[entry.same_as])[1]
        for name, entry in reports
        if entry.same_as in named
    }


def told_in_words(told: Mapping[str, Any] | None) -> str:
    """What a club is told of a report, for a person to look at.

    >>> told_in_words({"reads": "4·96·217", "how": "told", "dated": "1897", "dated_is": "sold"})
    '4·96·217, told, sold 1897'
    """
    if told is None:
        return "withdrawn"
    said = [str(told.get(name) or "") for name in ("reads", "how")]
    if told.get("how") == Channel.UNSAID.value:
        said.pop()
    said.append(str(told.get("grade") or ""))
    if told.get("strings"):
        said.append(f"in full: {told['strings']}")
    if told.get("dated"):
        by = f" ({told['dated_by']})" if told.get("dated_by") else ""
        said.append(f"{told.get('dated_is') or 'at'} {told['dated']}{by}")
    if told.get("sighted"):
        said.append(f"sighted {told['sighted']}")
    said += [str(told.get(name) or "") for name in ("variant", "place")]
    if told.get("reporter"):
        said.append(f"reported by {told['reporter']}")
    if str(told.get("same_as", "")).isdigit():
        said.append(f"the same machine as {told['same_as']}")
    if told.get("counts") is False:
        said.append("does not count")
    return ", ".join(one for one in said if one)


def same_as(number: int | None, offered: str | None = None) -> str:
    """How a report names the one that it is a second sighting of."""
    if number is not None:
        return str(number)
    return "" if offered is None else f"{_OFFERED}{offered}"


def offered_in(told: Mapping[str, Any]) -> str | None:
    """The key of what was sent in that a report names, None where it names no such."""
    said = str(told.get("same_as", ""))
    return said.removeprefix(_OFFERED) if said.startswith(_OFFERED) else None


def entry_from(
    told: Mapping[str, Any], was: ReportEntry | None, name: str, same: str
) -> ReportEntry:
    """A report as it is kept here: what the club says of it, and what was only known here.

    Parameters
    ----------
    was
        The report as it stands here, None where it is new.
    name
        What it is called where it is new.
    same
        What it is a second sighting of, by its name here; empty for none.

    Raises ToldError when it is none that can be read.
    """
    if not isinstance(told, Mapping):
        raise ToldError("it is no report")
    said = {field: told[field] for field in _TOLD if field in told}
    try:
        if was is None:
            return ReportEntry(name=name, same_as=same, **said)
        if not said.get("place") and was.place:
            said["place"] = was.place  # told to nobody, and not forgotten here
        if not said.get("reporter") and was.reporter:
            said["reporter"] = was.reporter
        kept = was.model_dump(mode="json") | said | {"same_as": same}
        return ReportEntry.model_validate(kept)
    except ValidationError as error:
        raise ToldError(f"it cannot be read here ({in_one_sentence(error)})") from error
    except IronlaceError as error:
        raise ToldError(f"it cannot be read here ({error})") from error


def report_name(key: int) -> str:
    """The name of an entry that is a report."""
    return f"{EntryKind.REPORT.value} {key}"
