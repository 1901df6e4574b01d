"""Checking a bag: every fault is named, and nothing is believed that has one.

After RFC 8493, section 3, and stricter: manifests of both checksums, tag manifests, and the
spelling they were written in are asked for, so that no byte of a bag can change unseen.
"""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ironlace.dossier.bag.manifests import (
    ALGORITHMS,
    MOST_MANIFEST,
    checksums_of,
    files_below,
    read_manifest,
    shown,
)
from ironlace.dossier.bag.writing import BAGIT
from ironlace.evidence.progress import Progress, unheard

_TAG_FILES = (
    "bag-info.txt",
    "bagit.txt",
    *(f"{stem}-{a}.txt" for stem in ("manifest", "tagmanifest") for a in ALGORITHMS),
)
_OXUM = re.compile(r"^Payload-Oxum: (\d{1,18})\.(\d{1,12})$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class BagChecked:
    """What was found in a bag: a sentence for each fault, and how much was looked at.

    `sha256` holds the checksum of each file of the payload by its path in the bag; it is empty when
    there is a fault.
    """

    faults: tuple[str, ...]
    files: int
    bytes: int
    sha256: Mapping[str, str]


@dataclass(slots=True)
class _Looked:
    """What is on the disk and what the manifests say, as far as it was looked at."""

    folder: Path
    here: dict[str, Path] = field(default_factory=dict)
    listed: dict[str, dict[str, dict[str, str]]] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)


def looks_like_a_bag(folder: Path) -> bool:
    """Whether a folder holds anything by which a bag is known, be it whole or not."""
    return folder.is_dir() and any((folder / name).exists() for name in _TAG_FILES)


def check_bag(folder: Path, progress: Progress | None = None) -> BagChecked:
    """Check a bag: its tag files, every checksum, and that nothing is missing or was added.

    Nothing outside the folder is read, whatever the manifests say, and no link is followed.
    """
    looked = _Looked(folder)
    for path, place, fault in files_below(folder):
        if fault:
            looked.faults.append(f"{shown(path)} {fault}.")
        else:
            looked.here[path] = place
    looked.faults += _alike(looked.here)
    _check_tags(looked)
    _check_oxum(looked)
    for stem in ("manifest", "tagmanifest"):
        _compare_lists(looked, stem)
    _check_files(looked, progress or unheard)
    payload = [place for path, place in looked.here.items() if path.startswith("data/")]
    faults = tuple(dict.fromkeys(looked.faults))
    size = sum(place.stat().st_size for place in payload)
    return BagChecked(
        faults, len(payload), size, {} if faults else looked.listed["manifest"]["sha256"]
    )


def _alike(here: Mapping[str, Path]) -> list[str]:
    """Names that some disk or some eye takes for one another."""
    same = defaultdict(list)
    for path in here:
        same[unicodedata.normalize("NFC", path).casefold()].append(path)
    return [
        f"{shown(paths[0])} and {shown(paths[1])} are one name to some disks."
        for paths in same.values()
        if len(paths) > 1
    ]


def _check_tags(looked: _Looked) -> None:
    """Read the tag files that every bag of ours has."""
    for name in _TAG_FILES:
        if name not in looked.here:
            looked.faults.append(f"{name} is missing.")
    if "fetch.txt" in looked.here:
        looked.faults.append("fetch.txt asks for files from elsewhere: nothing is fetched.")
    bagit = looked.here.get("bagit.txt")
    if bagit is not None and _start_of(bagit) != BAGIT.encode():
        looked.faults.append("bagit.txt does not say BagIt 1.0 in UTF-8 as it should.")
    for stem in ("manifest", "tagmanifest"):
        looked.listed[stem] = {}
        for algorithm in ALGORITHMS:
            name = f"{stem}-{algorithm}.txt"
            place = looked.here.get(name)
            if place is None:
                continue
            if place.stat().st_size > MOST_MANIFEST:
                looked.faults.append(f"{name} is too long to be a manifest.")
                continue
            of_payload = stem == "manifest"
            read, faults = read_manifest(place.read_bytes(), name, algorithm, of_payload=of_payload)
            looked.listed[stem][algorithm] = read
            looked.faults += faults


def _start_of(place: Path) -> bytes:
    """As much of a tag file as can be right, and one byte more."""
    with place.open("rb") as file:
        return file.read(len(BAGIT) + 1)


def _check_oxum(looked: _Looked) -> None:
    place = looked.here.get("bag-info.txt")
    if place is None:
        return
    if place.stat().st_size > MOST_MANIFEST:
        looked.faults.append("bag-info.txt is too long.")
        return
    said = _OXUM.findall(place.read_bytes().decode("utf-8", "replace"))
    if len(said) != 1:
        looked.faults.append("bag-info.txt does not say the Payload-Oxum, once.")
        return
    sizes = [p.stat().st_size for path, p in looked.here.items() if path.startswith("data/")]
    size, count = int(said[0][0]), int(said[0][1])
    if (size, count) != (sum(sizes), len(sizes)):
        looked.faults.append(
            f"Payload-Oxum says {size} bytes in {count} files; there are {sum(sizes)} in "
            f"{len(sizes)}."
        )


def _compare_lists(looked: _Looked, stem: str) -> None:
    """Both manifests must name the same files."""
    lists = looked.listed[stem]
    if len(lists) < len(ALGORITHMS):
        return
    first, second = (lists[algorithm] for algorithm in ALGORITHMS)
    for path in sorted(first.keys() ^ second.keys()):
        there, not_there = ALGORITHMS if path in first else reversed(ALGORITHMS)
        looked.faults.append(
            f"{shown(path)} stands in {stem}-{there}.txt and not in {stem}-{not_there}.txt."
        )


def _check_files(looked: _Looked, progress: Progress) -> None:
    """Every file that is listed is there as it was, and no other."""
    listed = {path for lists in looked.listed.values() for read in lists.values() for path in read}
    known = listed | {f"tagmanifest-{algorithm}.txt" for algorithm in ALGORITHMS}
    missing = sorted(listed - looked.here.keys())
    added: dict[str, tuple[str, ...]] = {}
    for count, (path, place) in enumerate(looked.here.items()):
        progress("comparing checksums", count / len(looked.here))
        if path in listed:
            _check_file(looked, path, checksums_of(place))
        elif path not in known:
            added[path] = checksums_of(place)
    for path in missing:
        looked.faults.append(_of_missing(looked, path, added))
    looked.faults += [f"{shown(path)} was added: no manifest names it." for path in added]


def _check_file(looked: _Looked, path: str, found: tuple[str, ...]) -> None:
    stem = "manifest" if path.startswith("data/") else "tagmanifest"
    for algorithm, checksum in zip(ALGORITHMS, found, strict=True):
        expected = looked.listed[stem].get(algorithm, {}).get(path)
        if expected not in (None, checksum):
            looked.faults.append(
                f"{shown(path)} is not what {stem}-{algorithm}.txt says: it was changed."
            )


def _of_missing(looked: _Looked, path: str, added: dict[str, tuple[str, ...]]) -> str:
    """What to say of a file that is not there: renamed, spelt otherwise, or gone."""
    plain = unicodedata.normalize("NFC", path)
    for other, checksums in list(added.items()):
        expected = [lists.get(path) for lists in looked.listed["manifest"].values()]
        if unicodedata.normalize("NFC", other) == plain:
            del added[other]
            return (
                f"{shown(path)} is missing; {shown(other)} is the same name in another spelling "
                "(Unicode NFC and NFD)."
            )
        if any(checksum in expected for checksum in checksums):
            del added[other]
            return f"{shown(path)} is missing; it is there as {shown(other)}: renamed."
    return f"{shown(path)} is missing."
