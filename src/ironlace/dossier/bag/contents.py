"""What a bag holds: the pack, the originals, every finding with its inputs, and how to read them.

The pack decides what may leave; what is added here is made from the same account, so that there is
one rule for both.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from ironlace.care.cautions import process_cautions
from ironlace.dossier.account.blocks import Cautions
from ironlace.dossier.account.whole import Account
from ironlace.dossier.bag.citing import citation, datacite
from ironlace.dossier.bag.crate import write_crate
from ironlace.dossier.bag.manifests import copied_with_checksums
from ironlace.dossier.bag.words import bag_readme, cautions_text
from ironlace.dossier.bag.writing import close_bag
from ironlace.dossier.errors import BagRefusedError
from ironlace.dossier.folder_in_place import folder_in_place
from ironlace.dossier.pack import StencilsShown, fill_pack, is_pack
from ironlace.dossier.plain_page import write_plain_page
from ironlace.dossier.record_file import record_schema
from ironlace.dossier.words import plain_file_name
from ironlace.evidence.findings import Finding
from ironlace.evidence.progress import Progress, unheard
from ironlace.record.entries import DrawingEntry, FindingEntry
from ironlace.survey.sharing.open_data import Published

SURVEY_FILE = "reports.csv"


@dataclass(frozen=True, slots=True)
class OriginalFile:
    """An original that goes in: the entry it belongs to, what it shows, its checksum, its place."""

    entry: str
    shows: str
    sha256: str
    path: Path

    @property
    def file(self) -> str:
        """Its path in the payload."""
        return f"originals/{plain_file_name(self.entry, self.shows)}{self.path.suffix.lower()}"


@dataclass(frozen=True, slots=True)
class BagMatter:
    """What goes into a bag besides the pack.

    Attributes
    ----------
    originals
        The files that go in as they came.
    held_back
        Names of the entries whose originals stay out.
    inputs_held_back
        By the name of a finding's entry: which of its inputs are not in the bag as they were.
    survey
        The reports as a table with its description, None when there are none.
    packed_by
        Who packs it, as they wish to be named; empty when it was not said.
    """

    originals: Sequence[OriginalFile] = ()
    held_back: Sequence[str] = ()
    inputs_held_back: Mapping[str, Sequence[str]] | None = None
    survey: Published | None = None
    packed_by: str = ""


def write_bag(
    account: Account,
    folder: Path,
    *,
    made: datetime,
    matter: BagMatter,
    stencils: Sequence[StencilsShown] = (),
    without: Sequence[str] = (),
    progress: Progress | None = None,
) -> Path:
    """Write the bag of an account into a folder, whole or not at all, and return the folder.

    Raises
    ------
    FolderTakenError
        When the folder holds anything but a bag that this module wrote.
    BagRefusedError
        When an original is not what its checksum says.
    DossierError
        When a page, picture or drawing cannot be made.
    """
    progress = progress or unheard
    with folder_in_place(folder, is_our_bag, "a package written by Ironlace") as making:
        data = making / "data"
        data.mkdir()
        known = _write_originals(data, matter, progress)  # first: one that is spoilt ends it here
        fill_pack(
            account,
            data,
            made=made,
            stencils=stencils,
            progress=lambda stage, done: progress(stage, 0.2 + 0.6 * done),
        )
        _drop_empty_folders(data)
        write_plain_page(account, data)
        _write_findings(account, data, matter)
        _write_words(account, data, matter, stencils, without, made)
        write_crate(account, data, made=made, packed_by=matter.packed_by)
        about = {
            "Source-Organization": matter.packed_by,
            "External-Description": account.title,
            "External-Identifier": account.slug,
            "Bagging-Date": f"{made.astimezone(UTC):%Y-%m-%d}",
            "Bag-Software-Agent": f"Ironlace {account.colophon.version}",
        }
        close_bag(
            making, about, known=known, progress=lambda stage, done: progress(stage, 0.8 + done / 5)
        )
    progress("the package is ready", 1.0)
    return folder


def is_our_bag(folder: Path) -> bool:
    """Whether a folder is a bag that this module wrote, with nothing beside it."""
    names = {path.name for path in folder.iterdir()}
    ours = {"data", "bagit.txt", "bag-info.txt"}
    beside = {n for n in names - ours if not n.startswith(("manifest-sha", "tagmanifest-sha"))}
    return ours <= names and not beside and is_pack(folder / "data")


def finding_file(name: str) -> str:
    """The file that tells a finding with its inputs, in the payload."""
    return f"findings/{name.replace(' ', '-')}.json"


def _write_originals(
    data: Path, matter: BagMatter, progress: Progress
) -> dict[str, tuple[str, ...]]:
    """Copy the originals, hashed as they are copied; their checksums by path in the bag."""
    known: dict[str, tuple[str, ...]] = {}
    if matter.originals:
        (data / "originals").mkdir()
    for count, one in enumerate(matter.originals):
        progress("copying the originals", 0.2 * count / len(matter.originals))
        checksums = copied_with_checksums(one.path, data / one.file)
        if checksums[0] != one.sha256:
            raise BagRefusedError(
                f"The original of {one.entry} is not what it was: run 'ironlace check', then "
                "restore it from a backup."
            )
        known[f"data/{one.file}"] = checksums
    return known


def _drop_empty_folders(folder: Path) -> None:
    """Remove folders that hold nothing, as a site's pictures may: no manifest names one."""
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir() and not any(path.iterdir()):
            path.rmdir()


def _write_findings(account: Account, data: Path, matter: BagMatter) -> None:
    """Each finding as a file of its own: what it says, how, and where each of its inputs lies."""
    findings: list[tuple[str, Finding]] = []
    findings += [(name, entry.finding) for name, entry in account.record.of(FindingEntry)]
    findings += [(name, entry.finding) for name, entry in account.record.of(DrawingEntry)]
    lies = {one.sha256: one.file for one in matter.originals}
    if findings:
        (data / "findings").mkdir()
    for name, finding in findings:
        held = set((matter.inputs_held_back or {}).get(name, ()))
        inputs = [
            {
                "name": of,
                "sha256": sha,
                "file": None if of in held else lies.get(sha, "record.json"),
                "held_back": of in held,
            }
            for of, sha in finding.inputs.items()
        ]
        told = {
            "entry": name,
            "fingerprint": finding.fingerprint(),
            "inputs": inputs,
            "finding": finding.model_dump(mode="json"),
        }
        _write_json(data / finding_file(name), told)


def _write_words(
    account: Account,
    data: Path,
    matter: BagMatter,
    stencils: Sequence[StencilsShown],
    without: Sequence[str],
    made: datetime,
) -> None:
    _write_json(data / "record.schema.json", record_schema())
    if matter.survey is not None:
        (data / "survey").mkdir()
        table = data / "survey" / SURVEY_FILE
        table.write_bytes(matter.survey.csv.encode())
        table.with_name(f"{SURVEY_FILE}-metadata.json").write_bytes(matter.survey.metadata.encode())
    blocks = [block for block in account.blocks() if isinstance(block, Cautions)]
    said = [caution for block in blocks for caution in block.cautions]
    laying = [line for one in stencils for line in process_cautions(one.made.report["cautions"])]
    texts = {
        "cautions.txt": cautions_text(account.title, said, laying),
        "CITATION.cff": citation(account, made, matter.packed_by),
    }
    for name, text in texts.items():
        if text:
            (data / name).write_bytes(text.encode("utf-8"))
    _write_json(data / "datacite.json", datacite(account, made, matter.packed_by))
    there = {path.name for path in data.iterdir()} | {"README.txt"}
    readme = bag_readme(account, made, stencils, without, there, held_back=matter.held_back)
    (data / "README.txt").write_bytes(readme.encode("utf-8"))


def _write_json(path: Path, value: object) -> None:
    text = json.dumps(value, ensure_ascii=False, indent=1)
    path.write_bytes((text.encode("utf-8", "replace").decode("utf-8") + "\n").encode("utf-8"))
