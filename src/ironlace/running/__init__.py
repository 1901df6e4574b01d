"""How the machine runs: motion and timing, thread tension, needles and thread.

Angles of the hand wheel are degrees at the edge and radians inside; heights are millimetres,
upwards; tensions are gram-force, as a spring scale gives them.
"""

from ironlace.evidence.analyses import Declared
from ironlace.running.errors import RunningError
from ironlace.running.motion.motion_told import MOTION
from ironlace.running.needles.needle_fit import NEEDLE_FIT
from ironlace.running.needles.thread_sizes import THREAD_SIZE
from ironlace.running.needles.thread_use import THREAD_USE
from ironlace.running.seam.balance_analysis import BALANCE
from ironlace.running.seam.seam_analysis import SEAM
from ironlace.running.seam.two_seams_analysis import TWO_SEAMS
from ironlace.running.tension.tension_told import TENSION
from ironlace.running.thread.thread_told import THREAD
from ironlace.running.trials.trials_told import TRIALS

ANALYSES: tuple[Declared, ...] = (
    MOTION,
    THREAD,
    TENSION,
    NEEDLE_FIT,
    THREAD_SIZE,
    THREAD_USE,
    SEAM,
    TWO_SEAMS,
    BALANCE,
    TRIALS,
)

__all__ = [
    "ANALYSES",
    "BALANCE",
    "MOTION",
    "NEEDLE_FIT",
    "SEAM",
    "TENSION",
    "THREAD",
    "THREAD_SIZE",
    "THREAD_USE",
    "TRIALS",
    "TWO_SEAMS",
    "RunningError",
]
