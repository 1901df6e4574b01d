"""What can go wrong between a drawing and its sheets, one sentence each."""

from __future__ import annotations

from ironlace.ornament.errors import OrnamentError


class StencilError(OrnamentError):
    """Parent of every refusal on the way from a drawing to sheets."""


class ProcessError(StencilError):
    """A process file cannot be read or does not make sense."""


class OutlineError(StencilError):
    """An SVG cannot be read as filled outlines in mm."""


class HoldingError(StencilError):
    """Sheets that hold together cannot be made with this process."""
