"""What every room's intervals have in common."""

from typing import Final

NINETY: Final = 1.645
"""Half of the middle 90 % of a normal law, in standard deviations (any table of it)."""
