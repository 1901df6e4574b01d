"""The questions that this room answers, in the order in which they are asked."""

from ironlace.evidence.analyses import Declared
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
