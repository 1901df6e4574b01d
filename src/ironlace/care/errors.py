"""What can be wrong with what is asked of the care room."""

from ironlace.evidence.errors import IronlaceError


class CareError(IronlaceError):
    """Something that cannot be oiled, cut, read or shown as it was given."""
