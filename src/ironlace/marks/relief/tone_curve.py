"""The curve by which a telephone gave its numbers, where it is not the one that was taken.

Photometric stereo needs numbers in proportion to light. A curve that lifts contrast makes slopes
too steep, and what is left of the torch's fall-off looks like a bend of the plate.

*Shape.* Albedo does not change from photograph to photograph: the logarithm of the light is a part
of the place and a smooth field of the photograph. A curve shows as a contrast of the plate's own
pattern that hangs on how bright the photograph is there. No law of light and no exposure is needed,
as where one scene is exposed several times (Mitsunaga and Nayar, 1999).

*Steepness.* A power of the light changes no such thing (the exponential ambiguity: Grossberg and
Nayar, 2003). It shows in how the light falls off over the plate, for the torches' places are known,
and from photograph to photograph where the exposure was held. The lights being known is what makes
a response known in photometric stereo at all (Mongkulmann, Okabe and Sato, 2011).

*Mapping by neighbourhood.* No curve undoes what lifts a place for its dark neighbours. The balls'
shadows wander from photograph to photograph; where the plate beside one is brighter for it,
numbers were so mapped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import scipy  # its parts load when they are first asked for
from numpy.typing import NDArray

from ironlace.marks.capture.lights import Light
from ironlace.marks.relief.beams import BY_CHANCE, CoarseGrid, directions_on

F64 = NDArray[np.float64]

SHEENS = (10.0, 30.0)
"""Exponents of the sheens that each place may have of its own, see `reflectance`."""
FARTHEST = 15.0
"""Logarithm of light beyond which it is none that a photograph can hold."""
FIELD_HOLD = 0.1
"""Cells' worth by which a photograph's field is held to none, where few of its cells serve."""
OWN_HOLD = 0.05
"""Photographs' worth by which a place's own slopes and sheen are held to none."""
FEWEST = 8
"""Photographs from which a curve is looked for: each place has five unknowns of its own."""
MOST_CELLS = 40_000
"""Cells times photographs that are looked at; more tell no more."""
DEPARTS = (0.05, 3.5)
"""Departure of the steepness, at the ends of the plate's light from its middle, and the same over
its doubt, from which a curve is taken to be another."""
UNKNOWN = 0.1
"""Doubt of that departure from which nothing is known of a curve."""
BY_NEIGHBOURHOOD = 0.4
"""Doubt of slopes where places were brightened for what lies beside them: trials had them 0.9 to
1.9 times the true ones."""
POWER_SD = (0.1, 0.2)
"""Doubt of the steepness as a whole before anything is looked at: where its shape is that of the
curve taken, and where it is another's or is not known. The standards for pictures differ among
themselves by 0.1. A judgement."""
FLAT_RAD = 0.012
"""How far a plate that is not bent may still be, from middle to end, in tilt of its normal."""
BENT_UNSURE = 0.5
"""Share of a bend about one axis that may be taken for fall-off, either way. A judgement."""
SHINE_SD = 0.1
"""Doubt of the power by which a plate's light falls off with the torch's height: metal's lobe."""
OTHER_UNSURE = 0.7
"""Doubt of how light falls off, for each share of other light: half a third of it may be wrong
either way where it comes from one side. A judgement."""
HELD = 0.5
"""Share of the fall-off from photograph to photograph that must be seen for the exposure to have
been held."""
APART = (2.5, 2.0)
"""Standard deviations by which two witnesses may contradict one another, and by which the
steepness as a whole must depart to be taken out."""
BESIDE_TOLD = (0.06, 4.0)
"""Share by which the plate is brighter beside a shadow, and the same over its doubt, from which
numbers are taken to have been mapped by neighbourhood."""


@dataclass(frozen=True)
class Cells:
    """Light of a coarse grid, as the numbers tell it.

    Attributes
    ----------
    light
        Photographs x cells, linear by the curve that was taken.
    use
        Photographs x cells: neither ball, nor shadow of one, nor white.
    shade
        Photographs x cells: how much of a cell's wide surroundings lies in a ball's shadow, 0 to 1.
    grid
        Their places.
    lights
        Torch of each photograph.
    shares
        Of each photograph, the share of light that is not the torch's.
    """

    light: F64
    use: NDArray[np.bool_]
    shade: F64
    grid: CoarseGrid
    lights: Sequence[Light]
    shares: F64


@dataclass(frozen=True)
class ToneCurve:
    """What the curve is against the one that was taken.

    The logarithm of the true light rises with that of the light as it was taken by
    power x (1 + change x (light - middle)).

    Attributes
    ----------
    change, middle, power
        See above; 0, anything, 1 for the curve that was taken.
    bends, bends_doubt
        By how much steepness departs from that in the middle at the ends of the plate's light, as
        seen, and its doubt, standard deviation; infinite where nothing tells.
    doubt
        Of `power`, standard deviation.
    held
        Whether the exposure was held from photograph to photograph.
    beside
        Share by which the plate is brighter beside a ball's shadow.
    by_neighbourhood
        Whether that is too much for one curve.
    """

    change: float = 0.0
    middle: float = 0.5
    power: float = 1.0
    bends: float = 0.0
    bends_doubt: float = np.inf
    doubt: float = POWER_SD[1]
    held: bool = False
    beside: float = 0.0
    by_neighbourhood: bool = False

    @property
    def is_other(self) -> bool:
        """Whether it is another than was taken, and is taken out."""
        return self.change != 0.0 or self.power != 1.0

    @property
    def known(self) -> bool:
        """Whether the photographs tell how contrast changes with brightness."""
        return self.bends_doubt < UNKNOWN and (self.change != 0.0 or abs(self.bends) < DEPARTS[0])

    @property
    def slopes_doubt(self) -> float:
        """Of all slopes alike, as a share, standard deviation."""
        if self.by_neighbourhood:
            return BY_NEIGHBOURHOOD
        bends = 0.0 if self.change else min(max(self.bends_doubt, abs(self.bends)), POWER_SD[1])
        return float(np.hypot(self.doubt, bends / 2))

    def undone(self, table: NDArray[np.float32]) -> NDArray[np.float32]:
        """Linear light of each number, from that by the curve that was taken; 1 stays 1."""
        if not self.is_other:
            return table
        light = np.log(np.maximum(table.astype(np.float64), 1e-7))
        true = self.power * _curved(light, self.change, self.middle)[0]
        out = np.exp(true - true[-1])
        out[table <= 0] = 0.0
        return np.asarray(out, dtype=np.float32)

    def figures(self) -> dict[str, float | bool]:  # dict: figures by name, as JSON has them
        """What is told of it by number, alike in a page's answer and in `relief.json`."""
        return {
            "change": round(self.change, 4),
            "middle": round(self.middle, 4),
            "power": round(self.power, 4),
            "slopes_doubt": round(self.slopes_doubt, 4),
            "known": self.known,
            "beside_shadows": round(self.beside, 4),
            "by_neighbourhood": self.by_neighbourhood,
        }

    def told(self) -> str:
        """What a person should know of it; empty where it is the curve that was taken."""
        if self.by_neighbourhood:
            return (
                "The telephone or a program brightened places by what lies beside them: the plate "
                f"is {100 * self.beside:.0f} % brighter beside the balls' shadows. No curve undoes "
                "that, and slopes and depths are to be doubted: switch off every enhancement "
                "(high dynamic range, clarity, local contrast) and photograph again."
            )
        much = f"{100 * self.slopes_doubt:.0f} %"
        if not self.is_other:
            if self.known:
                return ""
            return (
                "Whether a telephone's tone curve lies in these photographs could not be told: all "
                f"slopes alike may be some {much} off for it. Hold the exposure, vary the torch's "
                f"distance, and take {FEWEST} or more."
            )
        how = "changes contrast with brightness" if self.change else "is steeper or flatter"
        sure = "" if self.held else " (the exposure was not held, so less is known of it)"
        return (
            f"The photographs' tone curve is not the usual one: it {how}. It was found from the "
            f"plate itself{sure} and is taken out, which leaves all slopes alike in doubt by some "
            f"{much}. Photograph without enhancements, or raw."
        )


def curve_of(cells: Cells, fall_off: float) -> ToneCurve:
    """Find the curve from the light of a coarse grid.

    Parameters
    ----------
    fall_off
        Power of the sine of the torch's elevation by which the plate's light mostly falls off.
    """
    kept = _thinned(cells)
    photographs = len(kept.light)
    if photographs < FEWEST or kept.use.sum() < 40 * photographs:
        return ToneCurve()
    told = np.log(np.maximum(kept.light, 1e-5))
    low, high = np.percentile(kept.light[kept.use], [5, 95])
    middle = float(kept.light[kept.use].mean())
    shape = _shape(kept, told, middle)
    half = float(high - low) / 2
    bends, bends_doubt = shape.change * half, shape.doubt * half
    shaped = abs(bends) > max(DEPARTS[0], DEPARTS[1] * bends_doubt)
    if not shaped:  # fields and the rest by the curve that was taken
        shape = _shape(kept, told, middle, steps=0)
    shape = _plainly(kept, told, middle, shape)
    plain = not shaped and bends_doubt < UNKNOWN
    power, doubt, held = _power(kept, shape, fall_off, POWER_SD[0 if plain else 1])
    beside, beside_doubt = _beside(kept, shape)
    mapped = beside > max(BESIDE_TOLD[0], BESIDE_TOLD[1] * beside_doubt)
    if mapped:  # a curve would undo what was done to wide parts alone, and spoil the fine ones
        return ToneCurve(
            bends=bends, bends_doubt=bends_doubt, doubt=POWER_SD[1], held=held, beside=beside,
            by_neighbourhood=True,
        )  # fmt: skip
    # without a shape to prove a curve, two witnesses must agree on its steepness
    if not shaped and (not held or abs(power - 1) < APART[1] * doubt):
        power = 1.0
    return ToneCurve(shape.change, middle, power, bends, bends_doubt, doubt, held, beside)


def _thinned(cells: Cells) -> Cells:
    step = max(int(np.ceil(cells.light.size / MOST_CELLS)), 1)
    some = slice(step // 2, None, step)
    grid = CoarseGrid(
        cells.grid.x.ravel()[some][None], cells.grid.y.ravel()[some][None], cells.grid.shape_px
    )
    return Cells(
        cells.light[:, some], cells.use[:, some], cells.shade[:, some], grid, cells.lights,
        cells.shares,
    )  # fmt: skip


@dataclass(frozen=True)
class _Shape:
    """Change of steepness with the light, its doubt; fields, photographs x 6; what is left."""

    change: float
    doubt: float
    fields: F64
    rest: F64
    weight: F64


def _curved(told: F64, change: float, middle: float) -> tuple[F64, F64]:
    """Logarithm of the true light and its steepness, 1 in the middle."""
    light = np.exp(told)
    return told + change * (light - middle * told), 1 + change * (light - middle)


def _shape(cells: Cells, told: F64, middle: float, steps: int = 5) -> _Shape:
    """Gauss and Newton on the change of steepness; places and fields are projected out.

    What is told is compared with a fit in its own terms (not those of the light): an error in the
    light grows with the steepness, and the flattest curve would always seem best.
    """
    basis, own = cells.grid.polynomials(), _own(cells)
    use = cells.use.astype(float)
    weight = use.copy()
    bounds = (-0.8 / (1 - middle), 0.8 / middle)
    change, doubt = 0.0, np.inf
    for step in range(steps + 1):
        light, local = _curved(told, change, middle)
        heavy = weight / local**2
        fit, fields, over = _fitted(light, heavy, own, basis)
        rest = (light - fit) / local
        spread = 1.4826 * float(np.median(np.abs(rest[cells.use]))) + 1e-4
        weight = use / (1 + (rest / (2.5 * spread)) ** 2)
        if step == steps:
            break
        seen = told - rest
        rising = np.exp(np.minimum(seen, 0.5)) - middle * seen
        bent = _freed(rising, heavy, over, basis)
        lever = _freed(_exposed(cells, fit, use), heavy, over, basis)
        each = (heavy * lever * (light - fit)).sum(1)
        square = float((heavy * lever * bent).sum())
        change = float(np.clip(change - each.sum() / square, *bounds))
        # photographs, not cells, are what there is many of (White, 1980, by photographs)
        doubt = float(np.sqrt((each**2).sum()) / abs(square))
    return _Shape(change, doubt, fields, light - fit, weight)


def _exposed(cells: Cells, fit: F64, use: F64) -> F64:
    """How bright each photograph is for no reason of its torch's height, times the plate's pattern.

    What brightens a plate because the torch stood higher brings out its shine as well, which looks
    like a curve. What brightens it for the torch's distance or the exposure does not.
    """
    total = np.maximum(use.sum(0), 1e-9)
    pattern = (use * fit).sum(0) / total
    level = (use * (fit - pattern)).sum(1) / np.maximum(use.sum(1), 1e-9)
    high = np.array([light.direction[2] for light in cells.lights])
    half = np.sqrt((1 + high) / 2)
    design = np.column_stack([np.ones_like(high), np.log(high), *(half**one for one in SHEENS)])
    level = level - design @ np.linalg.lstsq(design, level, rcond=None)[0]
    return np.asarray(level[:, None] * (pattern - pattern[total > 1].mean()))


def _plainly(cells: Cells, told: F64, middle: float, shape: _Shape) -> _Shape:
    """The same with nothing of a place's own but its albedo: fields then hold all of the torch."""
    light, local = _curved(told, shape.change, middle)
    basis, plain = cells.grid.polynomials(), np.ones((1, *told.shape))
    fit, fields, _ = _fitted(light, shape.weight / local**2, plain, basis)
    return replace(shape, fields=fields, rest=light - fit)


def _own(cells: Cells) -> F64:
    """What each place may answer by itself: matt, by its slopes, by sheens.

    Parts x photographs x cells.
    """
    parts = []
    for light in cells.lights:
        way = directions_on(cells.grid, light)[0].reshape(-1, 3)
        half = way + np.array([0.0, 0.0, 1.0])
        glance = half[:, 2] / np.linalg.norm(half, axis=1)
        parts.append([way[:, 2], way[:, 0], way[:, 1], *(glance**one for one in SHEENS)])
    return np.array(parts).transpose(1, 0, 2)


def _fitted(light: F64, weight: F64, own: F64, basis: F64, rounds: int = 6) -> tuple[F64, F64, F64]:
    """Fit logarithms of light by what a place answers and a quadratic field of each photograph.

    By turns. Returns the fit; the fields' coefficients, photographs x 6; the parts of a place's
    answer over its whole, by which it is free to change.
    """
    squares = _squares_of(basis, weight)
    fields = np.zeros((len(light), basis.shape[1]))
    for turn in range(rounds + 1):
        seen = np.exp(np.clip(light - fields @ basis.T, -FARTHEST, FARTHEST))
        over = own / seen
        solved = _solved_places(over, weight, np.ones_like(light))
        whole = np.maximum((solved.T[:, None, :] * over).sum(0), 0.2)
        place = np.log(whole * seen)
        if turn < rounds:
            right = (weight * (light - place)) @ basis
            fields = np.linalg.solve(squares, right[..., None])[..., 0]
            fields -= fields.mean(0)
    return place + fields @ basis.T, fields, over / whole


def _freed(column: F64, weight: F64, over: F64, basis: F64, rounds: int = 6) -> F64:
    """What is left of a column where places and fields are free to change, by turns."""
    squares = _squares_of(basis, weight)
    left = column
    for _ in range(rounds):
        solved = _solved_places(over, weight, left)
        left = left - (solved.T[:, None, :] * over).sum(0)
        fields = np.linalg.solve(squares, ((weight * left) @ basis)[..., None])[..., 0]
        left = left - fields @ basis.T
    return left


def _squares_of(basis: F64, weight: F64) -> F64:
    squares = np.einsum("ci,kc,cj->kij", basis, weight, basis, optimize=True)
    return np.asarray(squares + FIELD_HOLD * np.eye(basis.shape[1]))


def _solved_places(over: F64, weight: F64, right: F64) -> F64:
    """Least squares of each place by itself, all but its matt part held; cells x parts."""
    heavy = over * weight
    squares = np.einsum("ikc,jkc->cij", heavy, over, optimize=True)
    squares += np.diag([1e-6, *[OWN_HOLD] * (len(over) - 1)])
    return np.asarray(np.linalg.solve(squares, (heavy * right).sum(1).T[..., None])[..., 0])


def _power(
    cells: Cells, shape: _Shape, fall_off: float, before: float
) -> tuple[float, float, bool]:
    """Steepness as a whole, its doubt, and whether the exposure was held."""
    basis = cells.grid.polynomials()
    told, ways = [], []
    for light in cells.lights:
        towards, fall = directions_on(cells.grid, light)
        told.append((fall * towards[..., 2]).ravel())
        ways.append(light.direction)
    upright = np.array(told)
    share = cells.shares[:, None]
    upright = (1 - share) * upright + share * upright.mean()
    expected = np.linalg.lstsq(basis, np.log(upright).T, rcond=None)[0].T
    expected -= expected.mean(0)
    way = np.array(ways)
    response = way[:, :2] / way[:, 2:] * (1 - share)
    reach = np.array([np.abs(cells.grid.x).max(), np.abs(cells.grid.y).max()])
    answer = response - response.mean(0)
    within = _within(shape.fields[:, 1:3], expected[:, 1:3], answer, reach / reach.max())
    bright = shape.fields[:, 0] + np.log(1 - cells.shares)  # of the torch alone
    between = _between(cells.lights, bright, fall_off)
    unsure = OTHER_UNSURE * float(np.median(cells.shares))
    within = (within[0], float(np.hypot(within[1], unsure)))
    found = [(1.0, before), within]
    held = between is not None
    if between is not None:
        off = abs(np.log(between[0] / within[0])) if within[0] > 0 else np.inf
        held = off < APART[0] * np.hypot(between[1] / between[0], within[1] / max(within[0], 0.1))
        if held:
            found.append((between[0], float(np.hypot(between[1], unsure))))
    # seen fall-off over the true one: the true light is the told one to one over it
    heavy = np.array([1 / doubt**2 for _, doubt in found])
    seen = float(np.array([value for value, _ in found]) @ heavy / heavy.sum())
    seen = max(seen, 0.3)
    return 1 / seen, float(heavy.sum() ** -0.5) / seen, held


def _within(fields: F64, expected: F64, response: F64, reach: F64) -> tuple[float, float]:
    """Fall-off seen over the plate against the torches', and its doubt.

    A plate may be bent about one axis besides, as sheet and plate are; a curve looks like a bend
    about both.
    """
    if float((expected**2).mean()) < 1e-6:
        return 1.0, 1e3  # torches whose distance is not known have no fall-off
    count = len(fields)
    seen = fields.T.ravel()

    ratio = float(np.sqrt((response**2).mean() / (expected**2).mean()))

    def fit(columns: list[F64]) -> tuple[float, float, float, float]:
        design = np.stack(columns, 1)
        solved = np.linalg.lstsq(design, seen, rcond=None)[0]
        rest = seen - design @ solved
        square = float(rest @ rest)
        free = max(2 * count - 2 - design.shape[1], 1)
        doubt = np.sqrt(square / free * np.linalg.pinv(design.T @ design)[0, 0])
        return float(solved[0]), float(doubt), square, abs(float(solved[-1]))

    flat = fit([expected.T.ravel()])
    bent = []
    for angle in np.arange(0.0, np.pi, np.pi / 18):
        along = np.array([np.cos(angle), np.sin(angle)])
        bow = np.outer(along * reach, response @ along)
        bent.append(fit([expected.T.ravel(), bow.ravel()]))
    least = min(bent, key=lambda one: one[2])
    free = max(2 * count - 5, 1)
    gain = (flat[2] - least[2]) / 2 / max(least[2] / free, 1e-12)
    if gain > scipy.special.fdtri(2, free, 1 - BY_CHANCE):
        # logarithms of light are no straight line over a strong bend
        return least[0], float(np.hypot(least[1], BENT_UNSURE * least[3] * ratio))
    # what a flat plate may still be looks like so much fall-off
    return flat[0], float(np.hypot(flat[1], FLAT_RAD * ratio))


def _between(lights: Sequence[Light], bright: F64, fall_off: float) -> tuple[float, float] | None:
    """Fall-off seen from photograph to photograph against the torches', and its doubt.

    None where the exposure was not held, or nothing can be told.
    """
    columns = [np.ones(len(lights)), np.log([light.direction[2] for light in lights])]
    if all(np.isfinite(light.distance) for light in lights):
        columns.append(np.log([light.distance for light in lights]))
    design = np.stack(columns, 1)
    if len(design) <= design.shape[1] + 2:
        return None
    solved = np.linalg.lstsq(design, bright, rcond=None)[0]
    rest = bright - design @ solved
    variance = float(rest @ rest) / (len(design) - design.shape[1])
    doubt = np.sqrt(variance * np.linalg.pinv(design.T @ design)[1, 1])
    seen, sd = float(solved[1]) / fall_off, float(doubt) / fall_off
    if seen < HELD or sd > 0.2:
        return None
    return seen, float(np.hypot(sd, SHINE_SD * seen))


def _beside(cells: Cells, shape: _Shape) -> tuple[float, float]:
    """Share by which the plate is brighter for a ball's shadow near by, and its doubt."""
    basis = cells.grid.polynomials()
    near = _freed(cells.shade, shape.weight, np.ones((1, *cells.shade.shape)), basis)
    each = (shape.weight * near * shape.rest).sum(1)
    square = float((shape.weight * near * near).sum())
    if square < 1e-6:
        return 0.0, np.inf
    much = float(each.sum()) / square
    doubt = (
        float(np.sqrt(((each - much * (shape.weight * near * near).sum(1)) ** 2).sum())) / square
    )
    return much, doubt


def shade_near(shaded: NDArray[np.bool_], radius_cells: float) -> F64:
    """How much of each cell's wide surroundings is shaded, from the shaded cells of a grid."""
    return np.asarray(
        cv2.GaussianBlur(shaded.astype(np.float32), (0, 0), max(radius_cells, 1.0)),
        dtype=np.float64,
    )
