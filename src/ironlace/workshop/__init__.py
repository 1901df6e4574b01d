"""Where it is kept: one folder with a database, the originals, and what is derived from them."""

from ironlace.workshop.folder import Workshop
from ironlace.workshop.records import Records, RecordSummary

__all__ = ["RecordSummary", "Records", "Workshop"]
