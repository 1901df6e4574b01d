"""Care of the machine and of the person at work on it.

>>> from ironlace.care import ANALYSES
>>> [analysis.key for analysis in ANALYSES][:4]
['oiling', 'oil-viscosity', 'screw', 'machine-threads']
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
