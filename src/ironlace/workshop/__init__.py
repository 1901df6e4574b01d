"""Where it is kept: one folder with a database, the originals, and what is derived from them."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
