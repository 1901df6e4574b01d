"""The payload of a bag described for research archives: RO-Crate Metadata Specification 1.1 (2020).

It says what the record says. A licence that nobody gave is said to be not given.
"""

import json
import mimetypes
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ironlace.dossier.account.whole import Account
from ironlace.dossier.bag.manifests import files_below
from ironlace.record.entries import Photograph

CRATE_FILE = "ro-crate-metadata.json"
_CONTEXT = "https://w3id.org/ro/crate/1.1/context"
_CONFORMS_TO = "https://w3id.org/ro/crate/1.1"
_NO_LICENCE = "No licence is given in the record: ask whoever handed it over."
_NAMES = {
    "README.txt": "What each file is, and how to read it",
    "record.json": "The record, entry by entry",
    "record.schema.json": "JSON Schema of the record",
    "dossier-a4.pdf": "The account to print, A4",
    "dossier-letter.pdf": "The account to print, Letter",
    "site/index.html": "The account as web pages",
    "site/machine.jsonld": "The machine as Linked Art",
    "account.html": "The account on one bare page",
    "cautions.txt": "Cautions",
    "datacite.json": "How it is registered, DataCite 4.5",
    "CITATION.cff": "How to cite it",
    "survey/reports.csv": "Reports of other machines",
}
_MEDIA = {
    ".jsonld": "application/ld+json",
    ".cff": "application/yaml",
    ".csv": "text/csv",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".toml": "application/toml",
    ".woff2": "font/woff2",
}


def write_crate(account: Account, data: Path, *, made: datetime, packed_by: str) -> None:
    """Write the description beside the files it describes, which must all be there."""
    root: dict[str, Any] = {
        "@id": "./",
        "@type": "Dataset",
        "name": f"Record of {account.title}",
        "description": f"The record of a sewing machine, {account.title}, with what it rests on.",
        "identifier": account.slug,
        "datePublished": f"{made.astimezone(UTC):%Y-%m-%d}",
        "license": _NO_LICENCE,
    }
    people: list[dict[str, Any]] = []
    if packed_by.strip():
        root["publisher"] = {"@id": "#packed-by"}
        named = " ".join(packed_by.split())
        people.append({"@id": "#packed-by", "@type": "Organization", "name": named})
    photographs = {name.replace(" ", "-"): entry for name, entry in account.record.of(Photograph)}
    files = [_file(path, place, photographs) for path, place, _ in files_below(data)]
    root["hasPart"] = [{"@id": file["@id"]} for file in files]
    descriptor = {
        "@id": CRATE_FILE,
        "@type": "CreativeWork",
        "conformsTo": {"@id": _CONFORMS_TO},
        "about": {"@id": "./"},
    }
    told = {"@context": _CONTEXT, "@graph": [descriptor, root, *files, *people]}
    text = json.dumps(told, ensure_ascii=False, indent=1)
    (data / CRATE_FILE).write_bytes(
        (text.encode("utf-8", "replace").decode("utf-8") + "\n").encode("utf-8")
    )


def _file(path: str, place: Path, photographs: dict[str, Photograph]) -> dict[str, Any]:
    media = _MEDIA.get(place.suffix) or mimetypes.guess_type(place.name)[0]
    told: dict[str, Any] = {
        "@id": path,
        "@type": "File",
        "name": _NAMES.get(path, place.name),
        "contentSize": str(place.stat().st_size),
    }
    if media:
        told["encodingFormat"] = media
    if path.startswith("originals/photograph-"):
        entry = photographs.get("-".join(place.stem.split("-")[:2]))
        said = {} if entry is None else {"description": entry.caption, "license": entry.rights,
                                         "creditText": entry.credit}  # fmt: skip
        told |= {key: words for key, words in said.items() if words}
    return told
