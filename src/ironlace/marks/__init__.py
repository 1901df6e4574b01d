"""What is struck in the metal: relief from photographs under a moved light, digits, dots, pits.

One convention throughout: places in pixels are x right and y down, pixel centres at integers and
the first pixel's centre at (0, 0); places in millimetres are X right, Y up, Z towards the camera,
with the origin at the picture's centre on the plate. Normals are in that second frame.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
