"""Care of the machine and of the person at work on it.

>>> from ironlace.care import ANALYSES
>>> [analysis.key for analysis in ANALYSES]
['thread-form', 'oil-viscosity']
"""

from ironlace.care.cautions import Caution, Hazard, called_for, caution_for
from ironlace.care.oil_analysis import OIL_VISCOSITY
from ironlace.care.thread_analysis import THREAD_FORM

ANALYSES = (THREAD_FORM, OIL_VISCOSITY)

__all__ = ["ANALYSES", "Caution", "Hazard", "called_for", "caution_for"]
