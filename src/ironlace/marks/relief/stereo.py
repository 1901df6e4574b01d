"""Slopes and albedo of many places from their light under several torches.

Light of a place that faces the camera is taken as one unit: what comes in is divided by what an
upright place would send back under each torch, so that near torches, uneven beams and exposures are
gone and one set of directions serves a small tile. Least squares (Woodham, 1980); the robust method
leaves out, place by place, the torches from which its own surface turns away, and weighs down what
the rest contradict (Cauchy's weights, with a spread of each place's own).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.relief.gentle import PAIRS, GentleLight, gentle_light, raise_powers

F32 = NDArray[np.float32]

DONE = np.float32(0.005)
"""Radians by which a step may turn a normal for the next to turn it by hardly anything."""
WIDE = np.float32(2.0)
"""Spreads at which a torch's light has half its weight (Cauchy's 2.4 is the usual one)."""
AT_ONCE = 4608
"""Places that are solved at once: with 24 torches their scratch fits a processor's own cache."""
DARK = np.float32(1e12)
"""Light of a torch that does not shine on a place, against 1 or so where it does: its square, and
one over that, are numbers of single precision yet."""
HOLD = np.float32(0.15)
"""Weight, in torches, of the albedo thereabouts: it decides where shadows leave little to go by."""


@dataclass(frozen=True)
class Found:
    """Surface of n places.

    Attributes
    ----------
    normals
        3 x n unit vectors; zero where unknown.
    albedo
        n; light of the place if it faced the torch.
    rest
        n; robust spread of what is left unexplained, as a share of the albedo.
    """

    normals: F32
    albedo: F32
    rest: F32


def least_squares(light: NDArray[np.floating], directions: NDArray[np.floating]) -> Found:
    """Lambert's law by plain least squares, in the precision of the light.

    Parameters
    ----------
    light
        Torches x places.
    directions
        Torches x 3, unit vectors times each torch's strength.
    """
    kind = light.dtype if light.dtype == np.float64 else np.float32
    solver = np.linalg.pinv(directions.astype(np.float64)).astype(kind)
    scaled = solver @ light
    albedo = np.sqrt((scaled * scaled).sum(0))
    scaled /= np.maximum(albedo, 1e-12)
    return Found(scaled, albedo, np.zeros(0, np.float32))


def robust(light: F32, directions: F32, *, dark: float = 0.0, rounds: int = 6) -> Found:
    """Lambert's law with shadows and highlights as outliers.

    Parameters
    ----------
    light
        Torches x places.
    directions
        Torches x 3, unit vectors times each torch's strength.
    dark
        Light at or below which a place is taken to be in shadow.
    """
    torches = len(directions)
    products = _products(directions)
    weight = (light > dark).astype(np.float32)
    lit = weight.copy()
    few = weight.sum(0) < 3
    weight[:, few] = 1.0
    scaled = _weighted(light, directions, products, weight)
    rest = np.zeros(light.shape[1], np.float32)
    for turn in range(rounds):
        told = directions @ scaled
        off = light - told
        size = np.sqrt((scaled * scaled).sum(0))
        weight = lit * (told > 0.01 * size)
        count = np.maximum(weight.sum(0), 1.0)
        # the spread of the better half: outliers do not widen it
        rest = np.sqrt((weight * np.minimum(off * off, 9 * rest * rest if turn else np.inf)).sum(0)
                       / count)  # fmt: skip
        scale = np.maximum(rest, 0.004 * size + 1e-9)
        weight /= 1.0 + (off / scale) ** 2
        few = (weight > 0.05).sum(0) < 3
        weight[:, few] = lit[:, few] + 0.01
        scaled = _weighted(light, directions, products, weight)
    albedo = np.sqrt((scaled * scaled).sum(0))
    normals = scaled / np.maximum(albedo, 1e-12)
    unknown = ((lit.sum(0) < 3) & (torches > 3)) | (normals[2] <= 0.05) | (albedo <= 1e-9)
    normals[:, unknown] = 0.0
    return Found(normals, albedo, rest / np.maximum(albedo, 1e-9))


@dataclass(frozen=True)
class BentLight:
    """Torches over a tile of metal that throws back a lobe beside its matt share.

    A place of scaled normal b sends back m·b + c |b| (n·h)^s, over what an upright place does; its
    answer to b is m + s c (n·h)^(s-1) h + (1 - s) c (n·h)^s n, and b times that is the light again.

    Attributes
    ----------
    matt, half
        Torches x 3: m, and h, the unit vector halfway to the camera.
    gloss
        Torches x 3: s c h.
    sheen
        Torches: c, the lobe's strength over what an upright place sends back.
    upright
        Torches x 3: the answer of an upright place.
    exponent
        Of the lobe, s.
    """

    matt: F32
    half: F32
    gloss: F32
    sheen: F32
    upright: F32
    exponent: float

    @staticmethod
    def over(
        towards: F32, strength: float, exponent: float, beside: F32 | None = None
    ) -> BentLight:
        """From unit directions to the torches, torches x 3, and the lobe (see `reflectance`).

        `beside` is the share of an upright place's light that is not the torch's: light from all
        round, which gentle slopes answer as one from straight above.
        """
        half = towards + np.array([0.0, 0.0, 1.0], np.float32)
        half /= np.linalg.norm(half, axis=1, keepdims=True)
        c = half[:, 2:]
        one = towards[:, 2:] + strength * c**exponent
        if beside is not None:
            even = (beside / (1 - beside))[:, None] * one
            towards = towards + even * np.array([0.0, 0.0, 1.0], np.float32)
            one = one + even
        matt, sheen = towards / one, strength / one
        gloss = exponent * sheen * half
        upright = matt + c ** (exponent - 1) * gloss
        upright[:, 2:] += (1 - exponent) * c**exponent * sheen
        parts = [np.asarray(x, dtype=np.float32) for x in (matt, half, gloss, sheen[:, 0], upright)]
        return BentLight(parts[0], parts[1], parts[2], parts[3], parts[4], exponent)

    @cached_property
    def first(self) -> F32:
        """The six products of an upright place's answer, and ones to count by; 7 x torches."""
        ones = np.ones((1, len(self.upright)), np.float32)
        return np.vstack([_products(self.upright), ones])

    @cached_property
    def both(self) -> F32:
        """`matt` and `half` one below the other, for one product with a normal."""
        return np.vstack([self.matt, self.half])

    @cached_property
    def squares(self) -> F32:
        """The six products of the answer's parts m and g: of mm, of both, of gg; 6 x 3 torches."""
        matt, gloss = self.matt, self.gloss
        mixed = [matt[:, i] * gloss[:, j] + matt[:, j] * gloss[:, i] for i, j in PAIRS]
        return np.hstack([_products(matt), np.stack(mixed), _products(gloss)])

    @cached_property
    def answer(self) -> F32:
        """Parts m and g of the answer beside each other, 3 x 2 torches."""
        return np.ascontiguousarray(np.hstack([self.matt.T, self.gloss.T]))

    @cached_property
    def own(self) -> F32:
        """How much of the answer lies along the normal itself, over (n·h)^s; torches."""
        return np.asarray((1 - self.exponent) * self.sheen, dtype=np.float32)

    @cached_property
    def own_answer(self) -> F32:
        """`answer` times `own`, 3 x 2 torches."""
        return self.answer * np.tile(self.own, 2)


class Scratch:
    """Memory that is used again: asking for it anew costs as much as the arithmetic in it."""

    def __init__(self) -> None:
        self._held: dict[str, F32] = {}

    def rows(self, name: str, rows: int, places: int) -> F32:
        """An array of rows x places, its content undefined, the same memory for the same name."""
        wanted = rows * places
        held = self._held.get(name)
        if held is None or len(held) < wanted:
            held = self._held[name] = np.empty(wanted, np.float32)
        return held[:wanted].reshape(rows, places)


def robust_with_lobe(
    light: F32,
    torches: BentLight,
    *,
    dark: F32,
    rounds: int = 6,
    scratch: Scratch | None = None,
) -> Found:
    """As `robust`, for metal that throws back a lobe beside its matt share.

    Weighted steps of Gauss and Newton, each place with weights and directions of its own; a place
    whose normal hardly moved is done, and only the others go on.

    Parameters
    ----------
    light
        Torches x places, against what an upright place of the albedo thereabouts sends back.
    dark
        Torches: light at or below which a place is taken to be in shadow.
    scratch
        Memory for one tile after the other.
    """
    scratch = scratch or Scratch()
    dark = dark[:, None]
    gentle = gentle_light(torches)
    places = light.shape[1]
    bright, count = _shone_on(light, dark)
    unknown = count < 3
    normals, size = np.empty((3, places), np.float32), np.empty(places, np.float32)
    rest, moved = np.empty_like(size), np.full_like(size, np.inf)
    near = np.full(places, gentle is not None)

    def step(where: NDArray[np.intp] | slice, near_: bool) -> None:
        now = normals[:, where], size[where]
        if gentle is not None and near_:
            after, near[where] = _gentle_step(
                _picked(bright, where), count[where], *now, gentle, scratch
            )
        else:
            some = _picked(light, where)
            after = _bent_step(some, some > dark, *now, torches, scratch)
        normals[:, where], size[where], rest[where], moved[where] = after

    for part in _parts(places):
        normals[:, part], size[part] = _parted(_from_upright(bright[:, part], torches, scratch))
        step(part, True)
    for _ in range(rounds - 1):
        going = moved > DONE
        going &= ~unknown
        if np.count_nonzero(near & going) < BLOCK:
            near[:] = False  # so few are quicker done beside the steep ones
        for gentle_ones in (True, False):
            these = np.flatnonzero(going & (near == gentle_ones))
            for part in _parts(len(these)) if len(these) else ():
                step(these[part], gentle_ones)
    unknown |= (normals[2] <= 0.05) | (size <= 2e-3)
    normals[:, unknown] = 0.0
    return Found(normals, size, rest)


def _shone_on(light: F32, dark: F32) -> tuple[F32, NDArray[np.uint8]]:
    """Light, `DARK` where a torch does not shine; how many torches shine on each place."""
    lit = light > dark
    bright = light.copy()
    bright[~lit] = DARK  # few: a third of the time of looking which to take for each
    return bright, lit.sum(0, dtype=np.uint8)


def _picked(light: F32, where: NDArray[np.intp] | slice) -> F32:
    return light[:, where] if isinstance(where, slice) else np.take(light, where, axis=1)


def _parts(places: int) -> list[slice]:
    """Places in parts that the cache of a processor holds, none of them small."""
    count = max(round(places / AT_ONCE), 1)
    ends = [places * k // count for k in range(count + 1)]
    return [slice(a, b) for a, b in pairwise(ends)]


def _parted(scaled: F32) -> tuple[F32, F32]:
    """Unit normals that face the camera, and sizes, of scaled normals."""
    np.maximum(scaled[2], 1e-3, out=scaled[2])
    size = np.sqrt(np.einsum("ij,ij->j", scaled, scaled))
    return scaled / size, size


def _from_upright(light: F32, torches: BentLight, scratch: Scratch) -> F32:
    """A first step from an upright place, with what can be neither shadow nor highlight.

    `light` is `DARK` where a torch does not shine.
    """
    first = light > 0.5
    first &= light < 2.0
    weight = scratch.rows("power", *light.shape)
    np.copyto(weight, first)
    sums = product(torches.first, weight, scratch.rows("sums", 7, weight.shape[1]))
    few = np.flatnonzero(sums[6] < 4)
    if len(few):
        lit = (light[:, few] < DARK).astype(np.float32)
        weight[:, few] = lit
        sums[:, few] = product(torches.first, lit, np.empty((7, len(few)), np.float32))
    weight *= light
    right = scratch.rows("right", 3, weight.shape[1])
    return solved(sums[:6], product(torches.upright.T, weight, right))


def _bent_step(
    light: F32,
    lit: NDArray[np.bool_],
    unit: F32,
    size: F32,
    torches: BentLight,
    scratch: Scratch,
) -> tuple[F32, F32, F32, F32]:
    """One weighted step of Gauss and Newton.

    Returns
    -------
    tuple
        Unit normals, 3 x places; their albedo; the spread of what had been left unexplained; by how
        much the normals moved, radians.
    """
    n, places = light.shape
    both = product(torches.both, unit, scratch.rows("both", 2 * n, places))
    facing, glance = both[:n], both[n:]
    np.maximum(glance, 1e-3, out=glance)
    power = np.log(glance, out=scratch.rows("power", n, places))
    power *= torches.exponent - 1
    np.exp(power, out=power)  # (n·h)^(s-1)
    shine = np.multiply(glance, power, out=glance)  # (n·h)^s
    # light and its parts, each times the weight, then times the power
    parts = scratch.rows("parts", 3 * n, places)
    weight, once, twice = parts[:n], parts[n : 2 * n], parts[2 * n :]
    np.multiply(shine, torches.sheen[:, None], out=once)
    once += facing
    rest = _weights(light, lit, (facing, once), size, weight)
    np.multiply(weight, power, out=once)
    np.multiply(once, power, out=twice)
    sums = product(torches.squares, parts, scratch.rows("sums", 6, places))
    twice = facing
    told = parts[: 2 * n]
    shone = np.multiply(weight, shine, out=facing)
    weight *= light
    once *= light
    right = product(torches.answer, told, scratch.rows("right", 3, places))
    weight = np.multiply(shone, light, out=weight)
    right += unit * (torches.own @ weight + HOLD)
    np.copyto(weight, shone)
    np.multiply(shone, power, out=once)
    cross = product(torches.own_answer, told, scratch.rows("cross", 3, places))
    shone *= shine
    own = torches.own**2 @ shone + HOLD
    for row, (i, j) in enumerate(PAIRS):
        sums[row] += cross[i] * unit[j] + cross[j] * unit[i] + own * unit[i] * unit[j]
    after, albedo = _parted(solved(sums, right))
    moved = after - unit
    return after, albedo, rest, np.sqrt(np.einsum("ij,ij->j", moved, moved))


def _gentle_step(
    light: F32,
    count: NDArray[np.uint8],
    unit: F32,
    size: F32,
    gentle: GentleLight,
    scratch: Scratch,
) -> tuple[tuple[F32, F32, F32, F32], NDArray[np.bool_]]:
    """As `_bent_step`, by polynomials, with whether each place is gentle enough for them.

    A place that is not stays where it was, and is said to have moved far.

    Parameters
    ----------
    light
        `DARK` where a torch does not shine: so far off what is told that its weight is nothing,
        which spares looking whether it shines.
    count
        Torches that shine on each place.
    """
    n, places = light.shape
    u, v = unit[:2] / gentle.reach
    near = u * u + v * v < 1
    terms = scratch.rows("terms", gentle.told.shape[1], places)
    terms[0] = size
    raise_powers(terms, u, v)
    off = product(gentle.told, terms, scratch.rows("off", n, places))
    np.subtract(light, off, out=off)
    squares = np.multiply(off, off, out=scratch.rows("squares", n, places))
    most = 0.04 * size * size
    held = np.minimum(squares, most, out=scratch.rows("held", n, places))
    shone = count.astype(np.float32)
    spread = np.maximum(held.sum(0) - (n - shone) * most, 0.0) / np.maximum(shone, 1.0)
    wide = np.maximum(WIDE**2 * spread, (0.01 * size) ** 2)
    squares += wide
    weight = np.divide(wide, squares, out=held)
    sums = product(gentle.products, weight, scratch.rows("sums", len(gentle.products), places))
    near &= sums[-1] >= 1.0
    sums = _steered(sums[:-1], u, v)
    weight *= off
    right = product(gentle.answers, weight, scratch.rows("right", len(gentle.answers), places))
    right = _steered(right, u, v)
    sums[5] += HOLD
    right += (HOLD * (1 - size)) * unit
    after, albedo = _parted(unit * size + solved(sums, right))
    near &= after[0] ** 2 + after[1] ** 2 < gentle.reach**2
    moved = after - unit
    far = np.sqrt(np.einsum("ij,ij->j", moved, moved))
    steep = np.flatnonzero(~near)
    after[:, steep], albedo[steep], far[steep] = unit[:, steep], size[steep], np.inf
    return (after, albedo, np.sqrt(spread) / size, far), near


BLOCK = 512
"""Places in one product of matrices: small enough for a library of linear algebra to keep to one
thread (OpenBLAS splits from 262,144 multiplications; the plate's tiles already have a thread for
each core, and threads that wait for one another cost five times the arithmetic)."""


def product(matrix: F32, rows: F32, out: F32) -> F32:
    """`matrix` @ `rows` into `out`, block by block of the places."""
    whole = rows.shape[1] // BLOCK * BLOCK
    if whole:
        np.matmul(matrix, _blocks(rows, whole), out=_blocks(out, whole))
    if whole < rows.shape[1]:
        np.matmul(matrix, rows[:, whole:], out=out[:, whole:])
    return out


def _blocks(rows: F32, whole: int) -> F32:
    """The same memory as blocks x rows x `BLOCK`."""
    return rows[:, :whole].reshape(len(rows), -1, BLOCK).transpose(1, 0, 2)


def _steered(parts: F32, u: F32, v: F32) -> F32:
    """Parts as they are, and by how much they gain with u and with v, put together."""
    count = len(parts) // 3
    fixed, with_u, with_v = parts[:count], parts[count : 2 * count], parts[2 * count :]
    with_u *= u
    with_v *= v
    fixed += with_u
    fixed += with_v
    return fixed


def _weights(
    light: F32, lit: NDArray[np.bool_], told: tuple[F32, F32], size: F32, weight: F32
) -> F32:
    """Weight of each torch at each place (Cauchy's), and the spread of what is unexplained.

    Parameters
    ----------
    told
        Matt share, and all that the place as it is would send back, over its albedo; overwritten.
    weight
        To be filled.
    """
    on = told[0] > 0.02
    on |= light > 0.3  # what is lit has not turned away, whatever the model says
    on &= lit
    np.copyto(weight, on)
    off = np.multiply(light, 1 / size, out=told[0])
    off -= told[1]
    np.multiply(off, off, out=off)
    square = np.minimum(off, 0.04, out=told[1])
    square *= weight
    rest = np.sqrt(square.sum(0) / np.maximum(weight.sum(0), 1.0))
    off *= 1.0 / np.maximum(WIDE * rest, 0.01) ** 2
    off += 1.0
    weight /= off
    few = weight.sum(0) < 1.0
    if few.any():
        weight[:, few] = lit[:, few] + np.float32(0.01)
    return np.asarray(rest, dtype=np.float32)


def _products(directions: F32) -> F32:
    """The six products of each direction's parts, 6 x torches."""
    return np.stack([directions[:, i] * directions[:, j] for i, j in PAIRS])


def _weighted(light: F32, directions: F32, products: F32, weight: F32) -> F32:
    """Weighted least squares at each place, 3 x places (normal equations, Cramer's rule)."""
    return solved(products @ weight, directions.T @ (weight * light))


FLAT = 1e-9
"""A determinant below so much of the trace's cube is noise of single precision (2^-23 times the
ridge of 1e-6 and some): the directions lie in a line, or nearly."""


def solved(sums: F32, right: F32) -> F32:
    """Solve symmetric 3 x 3 systems by Cramer's rule: six parts each, and the right sides.

    A system that its parts do not determine comes out as zeros, which no surface is.
    """
    a, b, c, d, e, f = sums
    x, y, z = right
    trace = a + d + f
    ridge = 1e-6 * trace + 1e-12
    a, d, f = a + ridge, d + ridge, f + ridge
    # symmetric matrix [[a b c] [b d e] [c e f]]
    m00, m01, m02 = d * f - e * e, c * e - b * f, b * e - c * d
    m11, m12, m22 = a * f - c * c, b * c - a * e, a * d - b * b
    determinant = a * m00 + b * m01 + c * m02
    known = determinant > FLAT * (trace * trace * trace)
    scale = known / np.where(known, determinant, 1.0)
    out = np.empty((3, *determinant.shape), np.float32)
    for k, (i, j, m) in enumerate(((m00, m01, m02), (m01, m11, m12), (m02, m12, m22))):
        np.multiply(i * x + j * y + m * z, scale, out=out[k])
    return out
