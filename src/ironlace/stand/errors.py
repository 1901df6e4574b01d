"""What can be wrong with what a stand is worked out from."""

from ironlace.evidence.errors import IronlaceError


class StandError(IronlaceError):
    """Measures that no stand or drive can have."""
