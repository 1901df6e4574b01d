"""What the machine stands on and is turned by: belt and wheels so far.

>>> from ironlace.stand import ANALYSES
>>> [analysis.key for analysis in ANALYSES]
['belt-length']
"""

from ironlace.stand.belt_length import BELT_LENGTH

ANALYSES = (BELT_LENGTH,)

__all__ = ["ANALYSES", "BELT_LENGTH"]
