"""Ironlace: a bench for restoring and studying japanned cast-iron sewing machines.

Every statement carries its evidence: a grade, a source and an uncertainty.
"""

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("ironlace")
except PackageNotFoundError:  # run from a source tree that was never installed
    __version__ = "0+source"

__all__ = ["__version__"]
