"""The questions that this room answers, in the order in which they are asked."""

from ironlace.care.gears_analysis import THREAD_GEARS
from ironlace.care.machine_threads import MACHINE_THREADS
from ironlace.care.oil_analysis import OIL_VISCOSITY
from ironlace.care.oiling_analysis import OILING
from ironlace.care.screw_analysis import SCREW
from ironlace.care.spare_screw import SPARE_SCREW
from ironlace.care.thread_analysis import THREAD_FORM
from ironlace.evidence.analyses import Declared

ANALYSES: tuple[Declared, ...] = (
    OILING,
    OIL_VISCOSITY,
    SCREW,
    MACHINE_THREADS,
    THREAD_FORM,
    THREAD_GEARS,
    SPARE_SCREW,
)
