"""What can go wrong between a photograph and a drawing, one sentence each."""

from __future__ import annotations

from ironlace.evidence.errors import IronlaceError


class OrnamentError(IronlaceError):
    """Parent of every refusal of the ornament room."""


class GiltError(OrnamentError):
    """No gilt can be told from the ground."""


class DrawingError(OrnamentError):
    """A drawing cannot be read, or is not a set of closed curves."""


class ReworkError(OrnamentError):
    """A change by hand cannot be made as it was asked."""
