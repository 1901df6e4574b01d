from .store.folder import Workshop
from .store.records import Records, RecordSummary

__all__ = ["RecordSummary", "Records", "Workshop"]
