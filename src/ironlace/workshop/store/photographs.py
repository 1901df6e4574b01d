"""Photographs in a workshop: taken in with their entry, and shown in handy sizes."""

import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from PIL import Image
from sqlalchemy import select
from sqlalchemy.orm import Session

from ironlace.evidence.errors import NotFoundError
from ironlace.record.choices import PhotographRole
from ironlace.record.entries import Photograph
from ironlace.workshop.store.aside import aside
from ironlace.workshop.store.database import Database
from ironlace.workshop.store.intake import (
    Examined,
    IntakeError,
    examine,
    is_heavy,
    upright_srgb,
)
from ironlace.workshop.store.originals import Incoming, Store, write_whole
from ironlace.workshop.store.receipts import (
    Receipt,
    Sending,
    digest_of,
    receipt_in,
    write_receipt_in,
)
from ironlace.workshop.store.records import Records
from ironlace.workshop.store.tables import EntryRow, OriginalRow

VIEW_SIZES = (320, 800, 1600, 3200)
"""Longest sides in pixels of the copies that pages show: card, phone, page, large screen."""
_QUALITY = 86
"""JPEG quality of those copies. Common practice, no source."""
_COPY_BYTES = 1 << 20
"""Bytes read at a time; only time and memory depend on it."""


@dataclass(frozen=True, slots=True)
class Original:
    """A file in the store."""

    sha256: str
    size: int
    media_type: str
    width: int | None
    height: int | None
    focal_mm: float | None
    focal_35mm: float | None
    taken: str | None
    came_as: str
    path: Path


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What came of taking a photograph in: its entry, and whether it was here before."""

    name: str
    sha256: str
    again: bool


class Photographs:
    """Taking in, finding and showing photographs."""

    def __init__(self, database: Database, store: Store, records: Records, derived: Path) -> None:
        self._database = database
        self._store = store
        self._records = records
        self._derived = derived

    def look_at(self, path: Path) -> None:
        """See that a file can be taken in, and take nothing in: several go in all or none.

        Raises NotFoundError where there is no file, IntakeError where it is no whole photograph.
        """
        if not path.is_file():
            raise NotFoundError(f"There is no file {path}: check its name.")
        examined_aside(path, path.name)

    def take_in_file(
        self,
        slug: str,
        path: Path,
        role: PhotographRole,
        caption: str = "",
        *,
        rights: str = "",
        credit: str = "",
        published: bool = True,
        limit: int = 2_000_000_000,
        by: str = "",
        at: datetime | None = None,
    ) -> TakenIn:
        """Take in a photograph from a file on this machine."""
        if not path.is_file():
            raise NotFoundError(f"There is no file {path}: check its name.")
        with (
            path.open("rb") as source,
            self._store.receive(limit, path.name) as receiving,
        ):
            while piece := source.read(_COPY_BYTES):
                receiving.write(piece)
            return self.take_in(
                slug,
                receiving.whole(),
                path.name,
                role,
                caption,
                rights=rights,
                credit=credit,
                published=published,
                by=by,
                at=at,
            )

    def take_in(
        self,
        slug: str,
        incoming: Incoming,
        came_as: str,
        role: PhotographRole,
        caption: str = "",
        *,
        rights: str = "",
        credit: str = "",
        published: bool = True,
        by: str = "",
        at: datetime | None = None,
        sending: Sending | None = None,
    ) -> TakenIn:
        """Take in a photograph that has come in whole: examine it, keep it, make its entry.

        The same picture in the same record is recognised and not entered twice. One that comes
        again under the key of its `sending` is answered as it was the first time, even when its
        entry was withdrawn since.

        Raises
        ------
        IntakeError
            When it is not a whole photograph; nothing of it is kept then.
        """
        self._records.last_change(slug)  # a record that does not exist is refused before the work
        digest = digest_of(slug, incoming.sha256)
        examined = examined_aside(incoming.path, came_as)
        entry = Photograph(
            sha256=incoming.sha256,
            role=role,
            caption=caption,
            rights=rights,
            credit=credit,
            published=published,
            date=examined.taken[:10] if examined.taken else None,
        )
        with self._database.writing() as session:
            if sending is not None:
                sending.still_welcome()
                receipt = receipt_in(session, sending.key, digest)
                if receipt is not None:
                    return TakenIn(receipt.entry, incoming.sha256, receipt.again)
            name = self._standing(session, slug, incoming.sha256)
            again = name is not None
            self.keep_in(session, incoming, examined, came_as, at)
            if name is None:
                name = self._records.add_in(session, slug, entry, by, at)
            if sending is not None:
                record_id = self._records.id_in(session, slug)
                write_receipt_in(session, record_id, sending.key, digest, Receipt(name, again))
        return TakenIn(name, incoming.sha256, again)

    def keep_in(
        self,
        session: Session,
        incoming: Incoming,
        examined: Examined,
        came_as: str,
        at: datetime | None = None,
    ) -> None:
        """Put a file into the store as part of a transaction.

        The file moves before the transaction ends: broken off in between, a file is left that no
        row names, which harms nothing; the reverse would be a row without its file.
        """
        known = session.get(OriginalRow, incoming.sha256)
        if known is not None:
            self._store.keep(incoming, known.suffix)  # puts right what was lost or spoilt
            return
        self._store.keep(incoming, examined.suffix)
        session.add(_row_of(incoming.sha256, incoming.size, examined, came_as, at))

    def borrow(self, path: Path, sha256: str, examined: Examined) -> None:
        """Know an original where it lies, without a copy; for a workshop that is thrown away."""
        place = self._store.place(sha256, examined.suffix)
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            place.symlink_to(path)
        except OSError:  # a system, or a disk, that has no links
            shutil.copyfile(path, place)
        with self._database.writing() as session:
            session.add(_row_of(sha256, path.stat().st_size, examined, path.name, None))

    def original(self, sha256: str) -> Original:
        """Return where an original lies and what is known of its file."""
        with self._database.reading() as session:
            row = session.get(OriginalRow, sha256)
            if row is None:
                raise NotFoundError(f"There is no original {sha256[:12]} in this workshop.")
            return self._original(row)

    def originals(self, checksums: Iterable[str]) -> dict[str, Original]:
        """Return the originals of many checksums at once; unknown ones are left out."""
        wanted = list(dict.fromkeys(checksums))
        found: dict[str, Original] = {}
        with self._database.reading() as session:
            for start in range(0, len(wanted), 500):
                query = select(OriginalRow).where(
                    OriginalRow.sha256.in_(wanted[start : start + 500])
                )
                found |= {row.sha256: self._original(row) for row in session.scalars(query)}
        return found

    def view(self, sha256: str, size: int) -> Path:
        """Return a JPEG in sRGB, upright, at most `size` pixels on its longer side.

        It is made when first asked for, and again when `derived/` was thrown away.
        """
        if size not in VIEW_SIZES:
            raise NotFoundError(f"There is no view of {size} px: use one of {VIEW_SIZES}.")
        place = self._derived / "views" / sha256[:2] / sha256 / f"{size}.jpg"
        if not place.is_file():
            original = self.original(sha256)
            if not original.media_type.startswith("image/") or original.width is None:
                raise IntakeError(f"{original.came_as} is not a picture.")
            picture = _small(original.path, original.came_as)
            # making one size costs mostly the decoding, so make them all at once
            for edge in sorted(VIEW_SIZES, reverse=True):
                picture.thumbnail((edge, edge))
                out = BytesIO()
                picture.save(out, "JPEG", quality=_QUALITY, optimize=True, progressive=True)
                write_whole(place.with_name(f"{edge}.jpg"), out.getvalue())
        return place

    def _original(self, row: OriginalRow) -> Original:
        return Original(
            row.sha256,
            row.size,
            row.media_type,
            row.width,
            row.height,
            row.focal_mm,
            row.focal_35mm,
            row.taken,
            row.came_as,
            self._store.find(row.sha256, row.suffix),
        )

    def _standing(self, session: Session, slug: str, sha256: str) -> str | None:
        """Name of the photograph in a record that shows this file already."""
        record_id = self._records.id_in(session, slug)
        query = select(EntryRow.key).where(
            EntryRow.record_id == record_id,
            EntryRow.kind == "photograph",
            EntryRow.entry["sha256"].as_string() == sha256,
        )
        key = session.scalar(query)
        return None if key is None else f"photograph {key}"


def _row_of(
    sha256: str, size: int, examined: Examined, came_as: str, at: datetime | None
) -> OriginalRow:
    return OriginalRow(
        sha256=sha256,
        size=size,
        suffix=examined.suffix,
        media_type=examined.media_type,
        width=examined.width,
        height=examined.height,
        focal_mm=examined.focal_mm,
        focal_35mm=examined.focal_35mm,
        taken=examined.taken,
        came_as=came_as[:300],
        added_at=at or datetime.now(UTC),
    )


_SMALLER = "export it smaller, or as a JPEG"


def examined_aside(path: Path, came_as: str) -> Examined:
    """Look a file over, aside when it is heavy."""
    if is_heavy(path, came_as):
        return aside(examine, path, came_as, what=came_as, instead=_SMALLER)
    return examine(path, came_as)


def _small(path: Path, came_as: str) -> Image.Image:
    """The largest view of a photograph, made aside when it is heavy."""
    if is_heavy(path, came_as):
        return aside(upright_srgb, path, max(VIEW_SIZES), what=came_as, instead=_SMALLER)
    return upright_srgb(path, max(VIEW_SIZES))
