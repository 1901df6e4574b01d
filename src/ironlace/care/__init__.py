"""Care of the machine and of the person at work on it."""

from ironlace.care.cautions import Caution, Hazard, called_for, caution_for

__all__ = ["Caution", "Hazard", "called_for", "caution_for"]
