"""What can go wrong between photographs of a mark and what is read there."""

from ironlace.evidence.errors import IronlaceError


class MarksError(IronlaceError):
    """Parent of every refusal of the marks room."""
