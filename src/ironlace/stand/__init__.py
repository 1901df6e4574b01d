"""What the machine stands on and is turned by: base, crank, belt and wheels.

>>> from ironlace.stand import ANALYSES
>>> [analysis.key for analysis in ANALYSES]
['belt-length', 'base', 'works-depth', 'head-balance', 'crank-hold', 'crank-holds', 'touches']
"""

from ironlace.stand.base_analysis import BASE
from ironlace.stand.belt_length import BELT_LENGTH
from ironlace.stand.crank_analysis import CRANK_HOLD
from ironlace.stand.crank_holds import CRANK_HOLDS
from ironlace.stand.touches import TOUCHES
from ironlace.stand.weighing_analysis import HEAD_BALANCE
from ironlace.stand.works_analysis import WORKS_DEPTH

ANALYSES = (BELT_LENGTH, BASE, WORKS_DEPTH, HEAD_BALANCE, CRANK_HOLD, CRANK_HOLDS, TOUCHES)

__all__ = [
    "ANALYSES",
    "BASE",
    "BELT_LENGTH",
    "CRANK_HOLD",
    "CRANK_HOLDS",
    "HEAD_BALANCE",
    "TOUCHES",
    "WORKS_DEPTH",
]
