from .declared import ANALYSES
from .errors import RunningError
from .motion.motion_told import MOTION
from .needles.needle_fit import NEEDLE_FIT
from .needles.thread_sizes import THREAD_SIZE
from .needles.thread_use import THREAD_USE
from .seam.balance_analysis import BALANCE
from .seam.seam_analysis import SEAM
from .seam.two_seams_analysis import TWO_SEAMS
from .tension.tension_told import TENSION
from .thread.thread_told import THREAD
from .trials.trials_told import TRIALS

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
