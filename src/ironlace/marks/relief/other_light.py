"""Light that is not the torch's: it is all that lights a ball's own shadow.

Ball and torch are known, so where the ball hides the torch is known too. What light is left there
came from elsewhere: a lamp, a window, a second torch, a wall or a sleeve that throws the torch's
light back, or haze in the lens. Taken for the torch's it makes slopes too gentle, and its even
share looks like a bend of the plate. Where little light is left, torch and ball are proved to stand
where they were found.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.capture.geometry import PlateFrame
from ironlace.marks.capture.lights import Light
from ironlace.marks.capture.outlines import Circle
from ironlace.marks.relief.ball_shadows import in_the_way, places_in_the_way

DEEP = (4.0, 0.12)
"""Pixels, or share of the radius, by which a place must lie inside a shadow's edge: a torch has
some width."""
CLEAR = 1.1
"""Radii of a ball within which the plate is not looked at: the ball's blur, and its foot."""
FEWEST = 60
"""Pixels of shadow that tell its light."""
FINE = 60.0
"""Rows across a ball's radius on which its shadow is looked at; more tell no more."""
MOST = 1500
"""Pixels that are looked at; more tell no more."""
TOLD = 0.12
"""Share of other light from which it is said: a dark room has 0.02 to 0.08."""
MUCH = 0.45
"""Share of other light from which slopes are a matter of guessing: half of them is not seen."""
BESIDE = (0.1, 0.3)
"""Radii of a ball outside the edge of its shadow, within which the plate must be lit."""
MISPLACED = 0.35
"""Share of those places in the dark from which the shadow does not lie where the torch was told to
throw it: a shadow a tenth of the ball's radius off, some 4 degrees, darkens a quarter of them."""
THROWN_BACK = 0.1
"""Share of other light that goes with the torch from which slopes are to be doubted: a second torch
of a quarter, opposite the first, left them 2 degrees wrong on average in a trial."""
MOSTLY = 0.5
"""Share of photographs with misplaced shadows from which balls or torches are wrong as a whole."""
APART = 0.15
"""Share by which a photograph's other light may differ from what the rest lead one to expect."""


@dataclass(frozen=True)
class OtherLight:
    """What shone beside the torch.

    Attributes
    ----------
    shares
        For each photograph used, the share of an upright place's light that is not the torch's; as
        the rest lead one to expect where no shadow lies on the plate.
    measured
        The same where a shadow tells it, nan elsewhere.
    misplaced
        For each photograph used, whether the shadow lies elsewhere than the torch would throw it.
    steady, along
        Mean share that is the same for all photographs, and share that goes with the torch.
    """

    shares: NDArray[np.float64]
    measured: NDArray[np.float64]
    misplaced: NDArray[np.bool_]
    steady: float
    along: float

    @property
    def known(self) -> bool:
        """Whether any shadow told it."""
        return bool(np.isfinite(self.measured).any())

    @property
    def usual(self) -> float:
        """The share in the middle one of the photographs."""
        return float(np.median(self.shares))

    @property
    def doubtful(self) -> bool:
        """Whether slopes are to be doubted for it."""
        return self.usual > MUCH or self.along > THROWN_BACK

    def told(self) -> str:
        """What a person should know of it; empty where the room was dark."""
        much = f"{100 * self.usual:.0f} % of the plate's light, as the balls' own shadows show"
        if self.along > THROWN_BACK:
            return (
                f"Another light goes with the torch: {much}. A second torch, or a bright wall, "
                "card or sleeve, lights the plate from another side, and slopes and depths are to "
                "be doubted: take it away and photograph again."
            )
        if self.usual <= TOLD:
            return ""
        doubt = " So little is left of the torch that depths are to be doubted." * self.doubtful
        return (
            f"Light other than the torch's was on: {much}. Its even share is taken out; a lamp or "
            f"window at one side still tilts the slopes. Darken the room.{doubt}"
        )


Places = tuple[NDArray[np.int64], NDArray[np.int64]]
"""Rows and columns."""


def shadow_places(
    light: Light, balls: tuple[Circle, ...], plate: PlateFrame
) -> tuple[Places, Places]:
    """Places deep in a ball's shadow, and such as lie just beside the balls' shadows; thinned."""
    inner: list[NDArray[np.int64]] = []
    outer: list[NDArray[np.int64]] = []
    for ball in balls:
        deep = max(DEEP[0], DEEP[1] * ball.r)
        step = max(int(ball.r / FINE), 1)
        window = in_the_way(light, ball, plate, BESIDE[1] * ball.r, step=step)
        if window is None:
            continue
        top, left, wide = window
        y, x = np.nonzero(wide)
        near = np.stack([top + step * y, left + step * x])
        inner.append(near[:, places_in_the_way(light, ball, plate, -deep, *near)])
        outer.append(near)
    lit = _thinned(outer, balls)
    for ball in balls:
        if len(lit[0]):
            dark = places_in_the_way(light, ball, plate, BESIDE[0] * ball.r, *lit)
            lit = lit[0][~dark], lit[1][~dark]
    return _thinned(inner, balls), lit


def _thinned(found: list[NDArray[np.int64]], balls: tuple[Circle, ...]) -> Places:
    """Places on the plate itself, neither on a ball nor at its foot."""
    if not found:
        return np.empty(0, int), np.empty(0, int)
    y, x = np.concatenate(found, axis=1)
    free = np.ones(len(y), bool)
    for ball in balls:
        free &= (x - ball.x) ** 2 + (y - ball.y) ** 2 > (CLEAR * ball.r + DEEP[0]) ** 2
    y, x = y[free], x[free]
    step = max(len(y) // MOST, 1)
    return y[::step], x[::step]


def no_other_light(count: int) -> OtherLight:
    """Nothing is known of other light in so many photographs, and none is taken out."""
    unknown = np.full(count, np.nan)
    return OtherLight(np.zeros(count), unknown, np.zeros(count, bool), 0.0, 0.0)


def other_light(
    measured: NDArray[np.float64], beside: NDArray[np.float64], upright: NDArray[np.float64]
) -> OtherLight:
    """Part what shone beside the torch into a steady light and one that goes with the torch.

    Parameters
    ----------
    measured
        Share of other light in each photograph, nan where it is not known.
    beside
        Share of places beside the shadows that are as dark, nan where it is not known.
    upright
        Mean light of the plate in each photograph.
    """
    from scipy.optimize import nnls

    seen = np.isfinite(measured)
    if not seen.any():
        return no_other_light(len(measured))
    inverse = upright.mean() / upright
    design = np.stack([inverse, np.ones_like(inverse)], 1)
    weight = np.ones(int(seen.sum()))
    steady = along = 0.0
    for _ in range(6):
        solved, _ = nnls(design[seen] * weight[:, None], measured[seen] * weight)
        steady, along = float(solved[0]), float(solved[1])
        rest = np.abs(measured[seen] - design[seen] @ solved)
        spread = max(1.4826 * float(np.median(rest)), 0.01)
        weight = 1.0 / np.sqrt(1.0 + (rest / (2 * spread)) ** 2)
    expected = design @ np.array([steady, along])
    apart = measured - expected
    shares = np.clip(np.where(np.abs(apart) < APART, measured, expected), 0.0, 0.9)
    misplaced = (beside > MISPLACED) | (apart > APART)
    return OtherLight(shares, measured, misplaced, steady, along)
