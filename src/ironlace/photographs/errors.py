"""What can go wrong between a photograph and its flat picture, one sentence each."""

from ironlace.evidence.errors import IronlaceError


class PhotographsError(IronlaceError):
    """Parent of every refusal of the photographs room."""


class LayoutError(PhotographsError):
    """A strip layout cannot be read or does not make sense."""


class LensError(PhotographsError):
    """A lens description cannot be read or does not fit the photograph."""


class StripNotFoundError(PhotographsError):
    """Too little of the scale strip is seen in a photograph."""


class SurfaceError(PhotographsError):
    """The shape of the surface cannot be found from what the photograph shows."""
