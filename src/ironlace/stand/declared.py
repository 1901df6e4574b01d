"""The questions that this room answers, in the order in which they are asked."""

from ironlace.evidence.analyses import Declared
from ironlace.stand.base_analysis import BASE
from ironlace.stand.belt_length import BELT_LENGTH
from ironlace.stand.crank_analysis import CRANK_HOLD
from ironlace.stand.crank_holds import CRANK_HOLDS
from ironlace.stand.touches import TOUCHES
from ironlace.stand.weighing_analysis import HEAD_BALANCE
from ironlace.stand.works_analysis import WORKS_DEPTH

ANALYSES: tuple[Declared, ...] = (
    BELT_LENGTH,
    BASE,
    WORKS_DEPTH,
    HEAD_BALANCE,
    CRANK_HOLD,
    CRANK_HOLDS,
    TOUCHES,
)
