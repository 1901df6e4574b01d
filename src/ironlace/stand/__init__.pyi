from .base_analysis import BASE
from .belt_length import BELT_LENGTH
from .crank_analysis import CRANK_HOLD
from .crank_holds import CRANK_HOLDS
from .declared import ANALYSES
from .touches import TOUCHES
from .weighing_analysis import HEAD_BALANCE
from .works_analysis import WORKS_DEPTH

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
