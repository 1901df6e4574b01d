"""Colour that a picture keeps more coarsely than its light, and what that does to hairlines.

Files that are sent about keep colour at a half to a sixteenth of the picture's size (ITU-T T.81:
components may be sampled apart), and what takes noise away smears it. A hairline of gilt beside
wide ground has then hardly any colour of its own, and a grey ground beside gilt has some. How
coarse it is shows in the picture: the colour of strokes is their light, spread. Known so, it is
undone: over so small a place what shines has one colour, so each pixel is given that which
the spread colour and the light spread as far have together.

It is asked and mended in the numbers of a picture (sRGB), in which colour and light are kept apart.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.photographs.linear_light import decode, encode

F32 = NDArray[np.float32]
Bools = NDArray[np.bool_]

LUMA: Final = np.array([0.299, 0.587, 0.114], dtype=np.float32)
"""Weights of red, green and blue numbers in that which keeps light (ITU-R BT.601)."""
SPREADS_MM: Final = (0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.3)
"""Standard deviations that are tried; colour kept at half the size of a usual photograph is spread
over 0.1 to 0.2 mm, at an eighth over 0.5."""
COARSE_MM: Final = 0.3
"""From here on colour is called coarse: a hairline of 0.3 mm keeps 0.4 of its own. A judgement."""
BETTER: Final = 0.004
"""By which it must agree better than if it were spread over the least that is tried. A judgement:
six usual pictures agree best at 0.15 to 0.2 mm, one of colour kept at an eighth by 0.05."""
COLOURED: Final = 0.1
"""Red less blue of bare japan, in numbers of 1, from which it has a colour of its own: what strokes
take away of that is no spread of theirs, and nothing is told. A judgement: 0.34 on red."""
STANDS_OUT: Final = 0.3
"""Of the brightest strokes, light from which a stroke is asked. A judgement."""
AROUND_MM: Final = 1.0
"""So far around strokes colour is looked at. A judgement."""
LEAST_NUMBER: Final = 0.02
"""Light in numbers, of 1, that is added below, so that noise has no colour: five steps of 8 bits.
A judgement."""
MOST_STRONGER: Final = 4.0
"""Times by which a stroke's colour is strengthened at the most; so much is a hairline's of 0.2 mm
under colour spread over 0.3 mm."""

_TABLE: Final = encode(np.arange(65_536) / 65_535.0).astype(np.float32)


def colour_spread_mm(
    share: F32, seen: Bools, scale: float, ground_of: Callable[[F32], F32]
) -> float:
    """Over how much (one standard deviation, mm) colour is spread beside light; 0 if hardly.

    Parameters
    ----------
    share
        Light as a share of white, (h, w, 3).
    seen
        Where the surface is seen, (h, w).
    scale
        Pixels to the mm.
    ground_of
        Takes everything narrow off numbers (h, w, 3), and gives what is left.
    """
    light, colour = _stroke_numbers(share, ground_of)
    apart = np.asarray(colour[..., 0] - colour[..., 1], np.float32)
    if not seen.any():
        return 0.0
    strokes = light > STANDS_OUT * float(np.percentile(light[seen][::7], 98))
    bare = np.median(_numbers(share[seen & ~strokes][::7]), axis=0)
    if abs(float(bare[0] - bare[2])) > COLOURED:
        return 0.0
    size = 2 * max(1, round(AROUND_MM * scale)) + 1
    near = cv2.dilate((strokes & seen).astype(np.uint8), np.ones((size, size), np.uint8))
    where = (near > 0) & seen
    held = apart[where]
    if not held.any():
        return 0.0
    agree = []
    for spread in SPREADS_MM:
        wide = cv2.GaussianBlur(light, (0, 0), spread * scale)[where]
        agree.append(float((held * wide).sum() / np.sqrt((wide * wide).sum() + 1e-12)))
        # past the best both agree less and less
        if len(agree) > 2 and agree[-1] < agree[-2] < agree[-3]:
            break
    whole = float(np.sqrt((held * held).sum()))
    best = int(np.argmax(agree))
    found = SPREADS_MM[best]
    # red over blue falls with light where the ground is blue: nothing of gilt is told by it
    if found < COARSE_MM or agree[best] < agree[0] + BETTER * whole:
        return 0.0
    return found


def with_fine_colour(
    share: F32, spread_mm: float, scale: float, ground_of: Callable[[F32], F32]
) -> F32:
    """Light whose strokes have the colour that was spread, (h, w, 3).

    ``spread_mm`` is as `colour_spread_mm` tells; the rest as there.
    """
    light, colour = _stroke_numbers(share, ground_of)
    wide = cv2.GaussianBlur(light, (0, 0), spread_mm * scale)
    times = np.clip((light + LEAST_NUMBER) / (wide + LEAST_NUMBER), 0.0, MOST_STRONGER)
    more = colour * (times - 1.0)[..., None]
    code = _numbers(share)
    red, blue = code[..., 0] + more[..., 0], code[..., 2] + more[..., 1]
    # light stays as it is: what red and blue gain green gives
    whole = code @ LUMA
    green = (whole - LUMA[0] * red - LUMA[2] * blue) / LUMA[1]
    # beyond white stays as it was
    out = np.asarray(decode(np.clip(np.dstack([red, green, blue]), 0.0, 1.0)), np.float32)
    over = (share > 1.0).any(axis=2)
    out[over] = share[over]
    return out


def _stroke_numbers(share: F32, ground_of: Callable[[F32], F32]) -> tuple[F32, F32]:
    """Of strokes over their ground the light (h, w), and red and blue less light (h, w, 2)."""
    code = _numbers(share)
    light = code @ LUMA
    # light and red rise in strokes of gilt and blue falls; a coloured ground has colour of its own
    strokes = np.dstack([light, code[..., 0] - light, light - code[..., 2]])
    strokes -= ground_of(strokes)
    colour = np.dstack([strokes[..., 1], -strokes[..., 2]])
    return np.ascontiguousarray(strokes[..., 0]), np.asarray(colour, np.float32)


def _numbers(share: F32) -> F32:
    """Numbers (sRGB, 0 to 1) of shares of white, from a table: a power of each takes far longer."""
    steps = np.clip(share, 0.0, 1.0) * np.float32(len(_TABLE) - 1)
    return np.take(_TABLE, (steps + np.float32(0.5)).astype(np.uint16))
