"""What the machine stands on and is turned by: base, crank, belt and wheels.

>>> from ironlace.stand import ANALYSES
>>> [analysis.key for analysis in ANALYSES]
['belt-length', 'works-depth', 'head-balance', 'crank-hold']
"""

from ironlace.stand.belt_length import BELT_LENGTH
from ironlace.stand.crank_analysis import CRANK_HOLD
from ironlace.stand.weighing_analysis import HEAD_BALANCE
from ironlace.stand.works_analysis import WORKS_DEPTH

ANALYSES = (BELT_LENGTH, WORKS_DEPTH, HEAD_BALANCE, CRANK_HOLD)

__all__ = ["ANALYSES", "BELT_LENGTH", "CRANK_HOLD", "HEAD_BALANCE", "WORKS_DEPTH"]
