"""Ornament: photograph -> flat -> gathered evidence -> drawing.

>>> from ironlace.ornament import trace_photographs
>>> from ironlace.photographs import strip_sheet
>>> layout = strip_sheet("frame").layout
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
