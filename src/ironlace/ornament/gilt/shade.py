"""How much of the usual light falls on each place: less lies in a shadow.

Neither the lamp nor what keeps it off is known. What is known is how bright japan is beside gilt of
full strength, for there the light is as it should be; where japan is darker than anywhere beside
such gilt, less light may fall. It may also be that less is mirrored there, so that this tells only
how weakly gilt could shine, never that it does: by it gilt is looked for more faintly, and where
even so it could not be told, the place is called too dark. Gilt of full strength on ground as dark
speaks for all ground as dark.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]

SIGNAL: Final = np.array([0.42, 0.52, 0.06], dtype=np.float32)
"""Weights of red, green and blue in the brightness that places edges: gold has little blue."""
FULL_STRENGTH: Final = 0.5
"""Of its usual amount, gilt from which it stands in full light. A judgement."""
DARKEST_LIT: Final = 10.0
"""Percentile of the japan beside gilt of full strength that is the darkest such japan: some of
it stands in the rim of a shadow. A judgement."""
LEAST_FULL: Final = 60
"""Places of gilt of full strength below which nothing is said of light."""
ROOM: Final = 0.7
"""Of the darkest lit japan, what counts as lit as well: japan is uneven. A judgement."""
DEEPER: Final = 2.0
"""Power by which gilt darkens faster than japan: what is mirrored and the foot of a camera's tone
curve hold japan up. Tuned on shadows thrown on drawings (`bench/photographs_in_shadow.py`)."""
LEAST_SHADE: Final = 0.01
"""No place is taken for darker: it is blind by then."""
DEEP_SHADOW: Final = 0.35
"""Share of the usual light below which it is asked whether fine lines are lost. A judgement."""
FINE_KEEPS: Final = 0.35
"""Of the light of gilt, what a hairline of 0.3 mm keeps in a photograph as sharp as most."""
FINE_OVER_NOISE: Final = 15.0
"""Times the noise under which such lines come and go (tuned with the power above)."""
HARDLY_FALLEN: Final = 0.85
"""Of the darkest lit japan, below which faint gilt is taken to stand in shadow. A judgement."""
NEIGHBOURHOOD_MM: Final = 6.0
"""Gilt speaks for the light so far around it (one standard deviation). A judgement."""
LEAST_FAINT: Final = 3e-4
"""Amount of faint gilt per mm2 of its neighbourhood, of full gilt 1, that is worth asking."""
STEP_OF_8_BITS: Final = 1.0 / (255.0 * 12.92)
"""Linear light of one step of 8 bits near black (sRGB, IEC 61966-2-1)."""
STEPS_OF_GROUND: Final = 4.0
"""Steps of 8 bits of light that lit japan must show to be told from shaded japan. A judgement."""
CALM_MM: Final = 0.5
"""Japan is averaged over some of this, for its grain; shadows are hardly sharper."""


def light_left(
    share: F32,
    ground: F32,
    amount: F32,
    usual: F32,
    white: F32,
    seen: NDArray[np.bool_],
    scale: float,
) -> tuple[F32, F32]:
    """Share of the usual light that may be all there is, 1 where nothing speaks for less, (h, w).

    The second is how bright japan is beside the darkest that is surely lit, at most 1.

    Parameters
    ----------
    share, ground
        Light as a share of white, and what of it is standing ground, (h, w, 3).
    amount
        Amount of gilt by colour, about 1 on full gilt, (h, w).
    usual
        How bright gilt stands there beside where it faces the camera, (h, w).
    white
        Linear light of white paper there, (h, w, 3).
    seen
        Where the surface is seen, (h, w).
    scale
        Pixels to the mm.
    """
    # gilt on it is left out: it would be taken for light
    level = np.minimum(share, ground * np.float32(1.3) + np.float32(0.0005)) @ SIGNAL
    level = _mean_of_seen(np.asarray(level, np.float32), seen, CALM_MM * scale)
    full = seen & (amount > FULL_STRENGTH * usual)
    even = np.ones_like(usual)
    if int(full.sum()) < LEAST_FULL:
        return even, even
    lit = float(np.percentile((level / usual)[full], DARKEST_LIT))
    if lit * float(np.median((white @ SIGNAL)[full])) < STEPS_OF_GROUND * STEP_OF_8_BITS:
        return even, even
    fallen = np.clip(level / np.maximum(lit * usual, 1e-6), LEAST_SHADE, 1.0)
    left = np.maximum(np.minimum(fallen / ROOM, 1.0) ** DEEPER, LEAST_SHADE)
    return np.asarray(left, np.float32), np.asarray(fallen, np.float32)


def fine_lines_drown(left: F32, light: F32, noise: F32) -> NDArray[np.bool_]:
    """Where a shadow is so deep that hairlines may be lost in the noise, though gilt is found.

    ``left`` is as `light_left` tells, ``light`` how bright gilt stands there and ``noise`` that of
    the amount of gilt, (h, w) each.
    """
    return np.asarray((left < DEEP_SHADOW) & (FINE_KEEPS * light < FINE_OVER_NOISE * noise))


def light_by_faint_gilt(amount: F32, sure: NDArray[np.bool_], fallen: F32, scale: float) -> F32:
    """Light by how faint gilt stands where japan is darker; infinite where none says so, (h, w).

    Where japan mirrors more than it scatters it hardly darkens in a shadow, and gilt does.

    Parameters
    ----------
    amount
        Amount of gilt by colour, about 1 on full gilt, (h, w).
    sure
        Where it has the colour of gilt and stands out of the noise, however faint, (h, w).
    fallen
        How bright japan is there, as `light_left` tells, (h, w).
    scale
        Pixels to the mm.
    """
    darker = fallen < HARDLY_FALLEN
    weight = np.where(sure & darker, np.clip(amount, 0.0, 1.0), 0.0).astype(np.float32)
    shrink = max(1, round(NEIGHBOURHOOD_MM * scale / 4.0))
    h, w = amount.shape
    size = (max(2, w // shrink), max(2, h // shrink))

    def near(values: F32) -> F32:
        small = cv2.resize(values, size, interpolation=cv2.INTER_AREA)
        sigma = NEIGHBOURHOOD_MM * scale / shrink
        return cv2.resize(cv2.GaussianBlur(small, (0, 0), sigma), (w, h))  # type: ignore[return-value]

    # the stronger of it counts for more: rims of strokes are fainter, and gilt of full
    # strength among it says that the light is good
    mass, strength = near(weight), near(weight * weight)
    told = darker & (mass * scale**2 > LEAST_FAINT)
    found = np.maximum(strength / np.maximum(mass, 1e-9), LEAST_SHADE)
    return np.asarray(np.where(told, found, np.inf), np.float32)


def _mean_of_seen(values: F32, seen: NDArray[np.bool_], sigma: float) -> F32:
    """Values averaged nearby over what is seen; as they are elsewhere."""
    mask = seen.astype(np.float32)
    held = cv2.GaussianBlur(values * mask, (0, 0), sigma)
    return np.asarray(held / np.maximum(cv2.GaussianBlur(mask, (0, 0), sigma), 1e-3), np.float32)
