"""Closing a bag: the tag files that stand beside its payload, after RFC 8493."""

from collections.abc import Mapping
from pathlib import Path

from ironlace.dossier.bag.manifests import ALGORITHMS, checksums_of, files_below, manifest_text
from ironlace.dossier.errors import DossierError
from ironlace.evidence.progress import Progress, unheard

BAGIT = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def close_bag(
    folder: Path,
    about: Mapping[str, str],
    *,
    known: Mapping[str, tuple[str, ...]] | None = None,
    progress: Progress | None = None,
) -> None:
    """Write the tag files of a folder whose ``data/`` is filled; each file is read once.

    Parameters
    ----------
    about
        What bag-info.txt says, by its labels; what is empty is left out. The Payload-Oxum comes to
        it by itself.
    known
        By path in the bag, the checksums of files that were hashed as they were written.

    Raises
    ------
    DossierError
        When something below is no plain file.
    """
    progress = progress or unheard
    files = list(files_below(folder / "data"))
    for path, _, fault in files:
        if fault:
            raise DossierError(f"data/{path} {fault}: the bag cannot be made of it.")
    payload: dict[str, tuple[str, ...]] = {}
    for count, (path, place, _) in enumerate(files):
        progress("taking checksums", count / len(files))
        payload[f"data/{path}"] = (known or {}).get(f"data/{path}") or checksums_of(place)
    size = sum(place.stat().st_size for _, place, _ in files)
    lines = {**about, "Payload-Oxum": f"{size}.{len(files)}"}
    info = "".join(f"{k}: {' '.join(v.split())}\n" for k, v in lines.items() if v.strip())
    _write(folder / "bagit.txt", BAGIT)
    _write(folder / "bag-info.txt", info)
    _write_manifests(folder, "manifest", payload)
    tags = {p: checksums_of(place) for p, place, _ in files_below(folder) if "/" not in p}
    _write_manifests(folder, "tagmanifest", tags)


def _write_manifests(folder: Path, stem: str, files: Mapping[str, tuple[str, ...]]) -> None:
    for at, algorithm in enumerate(ALGORITHMS):
        text = manifest_text({path: checksums[at] for path, checksums in files.items()})
        _write(folder / f"{stem}-{algorithm}.txt", text)


def _write(path: Path, text: str) -> None:
    path.write_bytes(text.encode("utf-8"))
