"""The account of a machine, as the next owner and other researchers hold it in their hands.

A record goes in, with viewing copies of its photographs and its drawings; out come a printed
dossier, a web site without scripts, sheets at true scale, and the pack that holds them all.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
