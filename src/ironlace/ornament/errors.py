"""What can go wrong between a photograph and a drawing, one sentence each."""

from __future__ import annotations

from ironlace.evidence.errors import IronlaceError


class OrnamentError(IronlaceError):
    """Parent of every refusal of the ornament room."""


class LayoutError(OrnamentError):
    """A strip layout cannot be read or does not make sense."""


class LensError(OrnamentError):
    """A lens description cannot be read or does not fit the photograph."""


class StripNotFoundError(OrnamentError):
    """Too little of the scale strip is seen in a photograph."""


class SurfaceError(OrnamentError):
    """The shape of the surface cannot be found from what the photograph shows."""


class GiltError(OrnamentError):
    """No gilt can be told from the ground."""


class DrawingError(OrnamentError):
    """A drawing cannot be read, or is not a set of closed curves."""


class ReworkError(OrnamentError):
    """A change by hand cannot be made as it was asked."""
