"""Care of the machine and of the person at work on it.

>>> from ironlace.care import ANALYSES
>>> [analysis.key for analysis in ANALYSES][:4]
['oiling', 'oil-viscosity', 'screw', 'machine-threads']
"""

from ironlace.care.cautions import Caution, Hazard, called_for, caution_for
from ironlace.care.gears_analysis import THREAD_GEARS
from ironlace.care.machine_threads import MACHINE_THREADS
from ironlace.care.oil_analysis import OIL_VISCOSITY
from ironlace.care.oiling_analysis import OILING
from ironlace.care.screw_analysis import SCREW
from ironlace.care.spare_screw import SPARE_SCREW
from ironlace.care.thread_analysis import THREAD_FORM

ANALYSES = (OILING, OIL_VISCOSITY, SCREW, MACHINE_THREADS, THREAD_FORM, THREAD_GEARS, SPARE_SCREW)

__all__ = ["ANALYSES", "Caution", "Hazard", "called_for", "caution_for"]
