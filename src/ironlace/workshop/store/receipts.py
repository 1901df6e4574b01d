"""Receipts for what a device sends that may send it again: kept once, answered alike each time."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256

from sqlalchemy import select
from sqlalchemy.orm import Session

from ironlace.evidence.errors import ConflictError
from ironlace.record.entries import Entry
from ironlace.workshop.store.database import Database
from ironlace.workshop.store.records import Records
from ironlace.workshop.store.tables import ReceiptRow


@dataclass(frozen=True, slots=True)
class Sending:
    """One thing sent, under a key that its sender made for it alone and uses again when unsure.

    `still_welcome` raises when the sender may no longer send; it is asked inside the transaction,
    so that nothing is kept for one who was shown out meanwhile.
    """

    key: str
    still_welcome: Callable[[], None]


@dataclass(frozen=True, slots=True)
class Receipt:
    """What came of a sending: its entry, and whether that stood in the record before."""

    entry: str
    again: bool


def digest_of(*told: str) -> str:
    """A checksum of what was sent, by which a key used for two things is found out."""
    return sha256("\0".join(told).encode()).hexdigest()


def receipt_in(session: Session, key: str, digest: str) -> Receipt | None:
    """Return the receipt of an earlier sending under a key, None when there was none.

    Raises ConflictError when something else was sent under that key.
    """
    row = session.get(ReceiptRow, key)
    if row is None:
        return None
    if row.sha256 != digest:
        raise ConflictError(
            "Something else was sent under the same key before: nothing was changed. Take it in "
            "again as a new one."
        )
    return Receipt(row.entry, row.again)


def write_receipt_in(
    session: Session, record_id: int, key: str, digest: str, receipt: Receipt
) -> None:
    """Write the receipt in the transaction that keeps what was sent."""
    session.add(
        ReceiptRow(
            key=key,
            record_id=record_id,
            sha256=digest,
            entry=receipt.entry,
            again=receipt.again,
            made_at=datetime.now(UTC),
        )
    )


def keep_once(
    database: Database, records: Records, slug: str, entry: Entry, sending: Sending, by: str = ""
) -> Receipt:
    """Keep an entry that was sent, unless it was kept before; the answer is the same both times.

    Raises ConflictError when something else was sent under the same key.
    """
    digest = digest_of(slug, entry.model_dump_json())
    with database.writing() as session:
        sending.still_welcome()
        earlier = receipt_in(session, sending.key, digest)
        if earlier is not None:
            return earlier
        receipt = Receipt(records.add_in(session, slug, entry, by), again=False)
        write_receipt_in(session, records.id_in(session, slug), sending.key, digest, receipt)
    return receipt


def names_sent(database: Database, records: Records, slug: str) -> list[str]:
    """Names of the entries of a record that were sent by a device, in order of their coming."""
    with database.reading() as session:
        query = (
            select(ReceiptRow.entry)
            .where(ReceiptRow.record_id == records.id_in(session, slug), ~ReceiptRow.again)
            .order_by(ReceiptRow.made_at)
        )
        return list(session.scalars(query))
