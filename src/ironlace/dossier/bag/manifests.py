"""Manifests of a bag: checksums and paths, written one way and read strictly.

After RFC 8493, The BagIt File Packaging Format (V1.0), Kunze and others (2018), section 2.1.3: a
line is a checksum, white space and a path in which line ends and percent signs are encoded.
"""

import hashlib
import re
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path

ALGORITHMS = ("sha256", "sha512")
"""The checksums of every bag; RFC 8493 asks for the second and for one that many tools know."""
BLOCK = 1 << 20
"""Bytes read at a time; only time and memory depend on it."""
MOST_MANIFEST = 100_000_000
"""Bytes of a manifest: half a million files. A bound on what is read whole."""

_LINE = re.compile(r"([0-9a-f]+)  ([^\r\n]+)")
_ENCODED = {"\r": "%0D", "\n": "%0A", "%": "%25"}
_DECODED = {code: sign for sign, code in _ENCODED.items()}
_DRIVE = re.compile(r"[A-Za-z]:")


def checksums_of(path: Path) -> tuple[str, ...]:
    """The checksums of a file in the order of `ALGORITHMS`, from one pass over it."""
    with path.open("rb") as file:
        return _hashed(iter(lambda: file.read(BLOCK), b""))


def copied_with_checksums(source: Path, target: Path) -> tuple[str, ...]:
    """Copy a file to where none is; its checksums, from the same pass over it."""
    with source.open("rb") as file, target.open("xb") as copy:

        def copied() -> Iterator[bytes]:
            while block := file.read(BLOCK):
                copy.write(block)
                yield block

        return _hashed(copied())


def _hashed(blocks: Iterator[bytes]) -> tuple[str, ...]:
    digests = [hashlib.new(algorithm) for algorithm in ALGORITHMS]
    for block in blocks:
        for digest in digests:
            digest.update(block)
    return tuple(digest.hexdigest() for digest in digests)


def encoded(path: str) -> str:
    r"""A path as a manifest writes it.

    >>> encoded("data/100 %\n.txt")
    'data/100 %25%0A.txt'
    """
    return re.sub(r"[\r\n%]", lambda sign: _ENCODED[sign[0]], path)


def decoded(path: str) -> str:
    r"""A path as it is on the disk.

    >>> decoded("data/100 %25%0a.txt")
    'data/100 %\n.txt'
    """
    return re.sub(r"%(?:0[AaDd]|25)", lambda code: _DECODED[code[0].upper()], path)


def why_not_inside(path: str) -> str:
    """Why a decoded path may not be followed, empty when it stays within its bag.

    >>> why_not_inside("data/record.json")
    ''
    >>> why_not_inside("data/../../record.json")
    'leads out of the bag'
    """
    if path.startswith(("/", "~", "\\")) or _DRIVE.match(path):
        return "leads out of the bag"
    parts = path.split("/")
    if ".." in parts:
        return "leads out of the bag"
    if "" in parts or "." in parts or "\\" in path:
        return "is no plain path"
    if any(unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp") for sign in path):
        return "holds a sign that cannot be seen"
    return ""


def manifest_text(checksums: Mapping[str, str]) -> str:
    """A manifest of checksums by decoded path, in the order of the paths."""
    return "".join(f"{checksums[path]}  {encoded(path)}\n" for path in sorted(checksums))


def shown(path: str) -> str:
    """A path for a sentence, with every sign that is not plain spelt out."""
    return path if path.isascii() and path.isprintable() else ascii(path)[1:-1]


def read_manifest(
    content: bytes, name: str, algorithm: str, *, of_payload: bool
) -> tuple[dict[str, str], list[str]]:
    """Read a manifest: checksums by decoded path, and a sentence for each fault.

    A path that is refused is not among the checksums, so that nobody follows it.
    """
    found: dict[str, str] = {}
    faults: list[str] = []
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError:
        return {}, [f"{name} is not UTF-8 text."]
    for number, line in enumerate(text.split("\n")[:-1], 1):
        words = _LINE.fullmatch(line)
        if words is None or len(words[1]) != hashlib.new(algorithm).digest_size * 2:
            faults.append(
                f"{name}, line {number} is not a {algorithm.upper()} checksum, two spaces, a path."
            )
            continue
        path = decoded(words[2])
        why = _why_refused(path, words[2], of_payload=of_payload)
        if why:
            faults.append(f"{name}, line {number}: {shown(path)} {why}.")
        elif path in found:
            faults.append(f"{name}, line {number}: {shown(path)} stands there twice.")
        else:
            found[path] = words[1]
    if not text.endswith("\n"):
        faults.append(f"{name} is cut off: its last line does not end.")
    if not faults and manifest_text(found) != text:
        faults.append(f"{name} is not in the order, or not in the spelling, it was written in.")
    return found, faults


def _why_refused(path: str, written: str, *, of_payload: bool) -> str:
    if encoded(path) != written.replace("%0a", "%0A").replace("%0d", "%0D"):
        return "has a percent sign that is not encoded"
    why = why_not_inside(path)
    if why:
        return why
    if of_payload != path.startswith("data/"):
        return "does not lie in data/" if of_payload else "is no tag file"
    return ""


def files_below(folder: Path) -> Iterator[tuple[str, Path, str]]:
    """Everything below a folder but folders that hold something: its path, place, and fault.

    The path is that of a manifest. The fault is empty for a plain file; nothing else is followed.
    """
    yield from _below(folder, "")


def _below(folder: Path, before: str) -> Iterator[tuple[str, Path, str]]:
    for place in sorted(folder.iterdir()):
        path = f"{before}{place.name}"
        if place.is_symlink():
            yield path, place, "is a link: a bag holds files only"
        elif place.is_dir():
            inside = list(_below(place, f"{path}/"))
            if not inside:
                yield path, place, "is an empty folder, which no manifest names"
            yield from inside
        elif place.is_file():
            yield path, place, ""
        else:
            yield path, place, "is neither a file nor a folder"
