"""What the machine stands on and is turned by."""

from ironlace.evidence.analyses import Declared

ANALYSES: tuple[Declared, ...] = ()

__all__ = ["ANALYSES"]
