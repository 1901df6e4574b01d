"""How to cite a record, filled from what it says; what nobody said stands there as unsaid.

CITATION.cff is after the Citation File Format 1.2.0 (Druskat and others, 2021), datacite.json after
the DataCite Metadata Schema 4.5 (DataCite Metadata Working Group, 2024) in its JSON form. Both ask
for an author; none is invented.
"""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from ironlace.dossier.account.whole import Account
from ironlace.record.entries import Photograph, SourceEntry

UNSAID = "(:unav)"
"""The schema's code for what is unavailable, possibly unknown (DataCite 4.5, appendix 3)."""
_NOT_NAMED = "not named by whoever packed it"
_NOT_SAID = "not said in the record"
_CITED_AS = {
    "document": "generic",
    "letter": "personal-communication",
    "patent": "patent",
    "advertisement": "generic",
    "person": "personal-communication",
    "web page": "website",
    "other": "generic",
}
"""By the sort of a source: the type of a reference in a citation file."""


def citation(account: Account, made: datetime, packed_by: str) -> str:
    """CITATION.cff: whoever packs it is its author, when named; else that it was not said."""
    name = _one_line(packed_by) or _NOT_NAMED
    said: dict[str, Any] = {
        "cff-version": "1.2.0",
        "message": "If you use this record, please cite it as below.",
        "type": "dataset",
        "title": _title(account),
        "authors": [{"name": name}],
        "date-released": _day(made),
        "version": _version(account, made),
        "abstract": _abstract(account),
        "keywords": ["sewing machine", "restoration", "japanned cast iron"],
    }
    if account.colophon.findings:
        said["identifiers"] = [
            {
                "type": "other",
                "value": account.colophon.fingerprint,
                "description": "Fingerprint of all computed results together (SHA-256)",
            }
        ]
    sources = list(_sources(account))
    if sources:
        said["references"] = sources
    return "".join(f"{line}\n" for line in _yaml(said))


def datacite(account: Account, made: datetime, packed_by: str) -> dict[str, Any]:  # dict: JSON
    """The fields by which data are registered, without an identifier: that a registry gives."""
    name = _one_line(packed_by)
    told: dict[str, Any] = {
        "schemaVersion": "http://datacite.org/schema/kernel-4",
        "types": {"resourceTypeGeneral": "Dataset", "resourceType": "Record of a sewing machine"},
        "titles": [{"title": _title(account), "lang": "en"}],
        "creators": [{"name": name} if name else {"name": UNSAID}],
        "publisher": {"name": name or UNSAID},
        "publicationYear": f"{made.astimezone(UTC):%Y}",
        "language": "en",
        "version": _version(account, made),
        "subjects": [{"subject": "sewing machine"}, {"subject": "restoration"}],
        "dates": _dates(account, made),
        "descriptions": [{"description": _abstract(account), "descriptionType": "Abstract"}],
        "rightsList": [{"rights": words} for words in _rights(account)],
        "alternateIdentifiers": [
            {"alternateIdentifier": account.slug, "alternateIdentifierType": "Name of the record"}
        ],
        "formats": ["application/pdf", "text/html", "application/json"],
    }
    if account.colophon.findings:
        told["alternateIdentifiers"].append(
            {
                "alternateIdentifier": account.colophon.fingerprint,
                "alternateIdentifierType": "SHA-256 of all computed results together",
            }
        )
    return told


def _title(account: Account) -> str:
    return f"Record of {_one_line(account.title)}"


def _one_line(words: str) -> str:
    return " ".join(words.split())


def _day(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%d}"


def _version(account: Account, made: datetime) -> str:
    """The record as it stood on a day, which is what makes two packages differ."""
    return f"as of {_day(account.colophon.last_change or account.colophon.as_of or made)}"


def _abstract(account: Account) -> str:
    """What the first page says, each statement with its grade; what it does not say, as unsaid."""
    told = [f"{topic}: {says} ({grade.value})" for topic, says, grade in account.summary]
    if not told:
        return f"The record of one sewing machine. What it is: {_NOT_SAID}."
    grades = "Each statement carries its grade: seen, measured, inferred or conjectured."
    return _one_line(f"The record of one sewing machine. {'; '.join(told)}. {grades}")


def _dates(account: Account, made: datetime) -> list[dict[str, str]]:
    dates = [{"date": _day(made), "dateType": "Issued"}]
    if account.colophon.last_change:
        day = _day(account.colophon.last_change)
        dates.append({"date": day, "dateType": "Updated", "dateInformation": "last change told"})
    return dates


def _rights(account: Account) -> Iterator[str]:
    """What the record says of rights: of the whole nothing, of photographs what each one says."""
    yield f"Rights in the whole: {_NOT_SAID} {UNSAID}"
    told: dict[str, list[str]] = {}
    for name, photograph in account.record.of(Photograph):
        told.setdefault(_one_line(photograph.rights), []).append(name)
    for words, names in told.items():
        yield f"{', '.join(names)}: {words or f'{_NOT_SAID} {UNSAID}'}"


def _sources(account: Account) -> Iterator[dict[str, Any]]:
    """The sources that statements point to; who wrote them the record does not say."""
    for name, source in account.record.of(SourceEntry):
        told: dict[str, Any] = {
            "type": _CITED_AS[source.sort],
            "title": _one_line(source.title),
            "authors": [{"name": _NOT_SAID}],
        }
        where = _one_line(source.where)
        dated = f"dated {source.date}" if source.date else f"date {_NOT_SAID}"
        told["notes"] = "; ".join(part for part in (name, source.sort, dated, where) if part)
        yield told


def _yaml(value: dict[str, Any], indent: str = "") -> Iterator[str]:
    """Lines of YAML 1.2 whose every text is a JSON string, which YAML reads as it stands."""
    for key, inner in value.items():
        if not isinstance(inner, list):
            yield f"{indent}{key}: {_text(inner)}"
            continue
        yield f"{indent}{key}:"
        for one in inner:
            if isinstance(one, dict):
                lines = list(_yaml(one, f"{indent}    "))
                yield f"{indent}  - {lines[0].strip()}"
                yield from lines[1:]
            else:
                yield f"{indent}  - {_text(one)}"


def _text(words: str) -> str:
    clean = words.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(clean, ensure_ascii=not clean.isprintable())
