"""What can be wrong with what the running of a machine is worked out from."""

from ironlace.evidence.errors import IronlaceError


class RunningError(IronlaceError):
    """Readings that cannot bear an answer about how a machine runs."""
