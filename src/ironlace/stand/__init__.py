"""What the machine stands on and is turned by: base, crank, belt and wheels.

>>> from ironlace.stand import ANALYSES
>>> [analysis.key for analysis in ANALYSES]
['belt-length', 'base', 'works-depth', 'head-balance', 'crank-hold', 'crank-holds', 'touches']
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
