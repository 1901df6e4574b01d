"""Photographs made measurable: lens, camera, linear light, surfaces, the scale strip, laying flat.

Below the study rooms, which may not import each other: ornament, marks, running and stand all
measure from photographs.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
