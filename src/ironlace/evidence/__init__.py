"""Grades, sources, findings, quantities, uncertain dates and marks as read.

The one room that every other room may import.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
