"""How the machine runs: motion and timing, thread tension, needles and thread.

Angles of the hand wheel are degrees at the edge and radians inside; heights are millimetres,
upwards; tensions are gram-force, as a spring scale gives them.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
