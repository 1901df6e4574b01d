"""Where it is kept: one folder with a database, the originals, and what is derived from them."""

from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.records import Records, RecordSummary

__all__ = ["RecordSummary", "Records", "Workshop"]
