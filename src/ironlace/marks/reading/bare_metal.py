"""How well bare metal of the same plate fits, by which every digit's fit is judged.

How many slopes of a place are independent hangs on grain, rust and the relief's noise, and is not
the same on two plates; nor is how well a shape fits where nothing was struck. Both are measured
where the plate is bare: one over the mean square of the fits is the first, their best the second.
The bare metal's spectrum also tells at which size of detail a shape stands out best (the matched
filter for coloured noise: North, 1943).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.known_shapes import WIDE, held_down, norms, windows_of
from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import Slopes

_FEWEST = 5
"""Bare places below which the plate's own metal is no measure."""
_MOST = 12
"""Bare places that are looked at."""
_FREE = {"digit": (38.0, 56.0), "gap": (32.0, 42.0)}
"""Steps of the reading grid, across and down, that a bare place lies off a digit or a gap."""
_BEYOND = 110.0
"""Steps beyond the outermost places in which bare metal is sought."""
_UNKNOWN = 0.2
"""Share of a place that may be unknown, or steeper than metal worn by hand."""
_STEEP = 1.2
"""Slope of a ball or an edge: no ground."""
_RINGS = 24
"""Rings of frequency in which the spectrum is told."""
_LEAST = 3e-3
"""Least power of a ring against the strongest: below it the measure itself is noise."""
_IN_FIGURE, _FALLS = 0.45, 4.0
"""Share of what is struck that the best figure holds at least where the face is like it, and the
power by which less counts then. Of 14 plates of faces near our cuts 0.51 at least; of open letters
and of a script 0.22 to 0.29, and half of the script's figures were read wrongly and surely."""
_OUT = (0.26, 0.36)
"""Share of a place's slopes that was struck, from which that is looked at, and in full."""
_PAD = 16
"""Steps of nothing about a patch that is filtered."""


@dataclass(frozen=True)
class BareMetal:
    """Bare places of a plate, slopes held down to its grain; their power by frequency; where."""

    patches: tuple[Slopes, ...]
    power: NDArray[np.float64]
    at: tuple[tuple[float, float], ...] = ()

    def __bool__(self) -> bool:
        return len(self.patches) >= _FEWEST


def bare_metal(
    relief: ReliefSlopes, places: Sequence[Place], grain: float, rng: np.random.Generator
) -> BareMetal:
    """Look for places where nothing was struck; a plate may have too few."""
    per = float(np.median([p.height_px for p in places if p.kind == "digit"])) / TALL
    rows, columns = relief.slopes.shape[1:]
    half = np.array([WIDE[1], WIDE[0]]) / 2 * per
    marks = np.array([(p.x_px, p.y_px) for p in places])
    free = np.array([_FREE[p.kind] for p in places]) * per
    low = np.maximum(marks.min(axis=0) - _BEYOND * per, half)
    high = np.minimum(marks.max(axis=0) + _BEYOND * per, np.array([columns, rows]) - half)
    found: list[Slopes] = []
    at: list[tuple[float, float]] = []
    for x, y in rng.uniform(low, np.maximum(high, low), (60 * _MOST, 2)):
        if not (np.abs(marks - (x, y)) > free).any(axis=1).all():
            continue
        wide = relief.patch(float(x), float(y), per, WIDE)
        size = np.hypot(*wide)
        if (size == 0).mean() > _UNKNOWN or (size > _STEEP).mean() > _UNKNOWN:
            continue
        found.append(held_down(wide, grain))
        at.append((float(x), float(y)))
        if len(found) == _MOST:
            break
    return BareMetal(tuple(found), _power(found), tuple(at))


def _power(patches: Sequence[Slopes]) -> NDArray[np.float64]:
    """Power by frequency, mean 1; flat where nothing is known."""
    if not patches:
        return np.ones(_RINGS)
    window = np.hanning(WIDE[0])[:, None] * np.hanning(WIDE[1])[None, :]
    whole = np.mean([(np.abs(np.fft.fft2(p * window)) ** 2).sum(axis=0) for p in patches], axis=0)
    away = np.hypot(np.fft.fftfreq(WIDE[0])[:, None], np.fft.fftfreq(WIDE[1])[None, :])
    ring = np.minimum((away * 2 * _RINGS).astype(int), _RINGS - 1).ravel()
    power = np.bincount(ring, whole.ravel(), _RINGS) / np.bincount(ring, minlength=_RINGS)
    power = np.convolve(np.pad(power, 1, mode="edge"), [0.25, 0.5, 0.25], "valid")
    power = np.maximum(power, _LEAST * power.max())
    return np.asarray(power / power.mean())


def evened(slopes: NDArray[np.float32], power: NDArray[np.float64]) -> NDArray[np.float32]:
    """Slopes filtered so that bare metal shows all sizes of detail alike; last two axes."""
    rows, columns = slopes.shape[-2] + 2 * _PAD, slopes.shape[-1] + 2 * _PAD
    away = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(columns)[None, :])
    middles = (np.arange(_RINGS) + 0.5) / (2 * _RINGS)
    gain = np.interp(away, middles, power) ** -0.5
    whole = np.fft.irfft2(np.fft.rfft2(slopes, (rows, columns)) * gain, (rows, columns))
    return np.asarray(whole[..., : slopes.shape[-2], : slopes.shape[-1]], dtype=np.float32)


@dataclass(frozen=True)
class Overlaid:
    """Correlation of every template with every place, and with bare metal, at every shift.

    `slopes` is how many independent slopes a place holds; nan where no bare metal tells.
    """

    places: tuple[NDArray[np.float32], ...]
    bare: tuple[NDArray[np.float32], ...]
    slopes: float


def overlaid(
    strikes: NDArray[np.float32],
    places: Sequence[Slopes],
    bare: BareMetal,
    *,
    even: float = 0.0,
) -> Overlaid:
    """Lay strikes over places and over bare metal.

    Parameters
    ----------
    strikes
        Templates x 2 x 60 x 48.
    places
        Slopes held down, shape of `WIDE`.
    even
        How far both are seen through the filter of `evened`: 0 not, 1 until bare metal shows all
        sizes of detail alike.
    """
    seen, ground = list(places), list(bare.patches)
    if even:
        power = bare.power**even
        strikes = evened(strikes, power)
        seen, ground = [evened(p, power) for p in seen], [evened(p, power) for p in ground]
        # the least norm of `norms` holds for slopes as they were
        size = float(np.sqrt(np.mean(np.square(bare.patches)) / np.mean(np.square(ground))))
        seen, ground = [size * p for p in seen], [size * p for p in ground]
    flat = strikes.reshape(len(strikes), -1)
    flat = flat / np.maximum(np.linalg.norm(flat, axis=1, keepdims=True), 1e-9)

    def laid(patch: Slopes) -> NDArray[np.float32]:
        return np.asarray((flat @ windows_of(patch)) / norms(patch).ravel(), dtype=np.float32)

    on_bare = tuple(laid(p) for p in ground)
    square = float(np.median([np.mean(one[::5] ** 2) for one in on_bare])) if on_bare else np.nan
    return Overlaid(tuple(laid(p) for p in seen), on_bare, 1 / max(square, 1e-6))


def parted(over: Overlaid, first: int) -> tuple[Overlaid, Overlaid]:
    """What the first templates show, and what the others do."""
    one, other = (
        Overlaid(
            tuple(laid[part] for laid in over.places),
            tuple(laid[part] for laid in over.bare),
            over.slopes,
        )
        for part in (slice(first), slice(first, None))
    )
    return one, other


def best_fits(over: Overlaid, starts: NDArray[np.int64]) -> NDArray[np.float64]:
    """How well each shape fits each place at best, 0 to 1; places x shapes.

    Parameters
    ----------
    starts
        Where each shape's templates begin.
    """
    fits = np.array([np.maximum.reduceat(one.max(axis=1), starts) for one in over.places])
    return np.asarray(np.maximum(fits, 0.0), dtype=np.float64)


def struck_and_held(
    places: Sequence[Slopes], bare: BareMetal, fits: NDArray[np.float64]
) -> tuple[float, float]:
    """Share of a place that was struck, and how much of that the figures that fit best hold.

    What a place holds beyond bare metal was struck. The second is nan where nothing stands out.
    """
    if not bare:
        return 0.0, float("nan")
    ground = float(np.median([np.mean(norms(p) ** 2) for p in bare.patches]))
    struck = float(np.median([1 - ground / float(np.mean(norms(p) ** 2)) for p in places]))
    held = float(np.median(fits**2)) / struck if struck > 0 else float("nan")
    return struck, held


def likeness(places: Sequence[Slopes], bare: BareMetal, fits: NDArray[np.float64]) -> float:
    """How like what is struck is to the figures that fit it best, 1 unless much is left over.

    Of faces like those laid half of what was struck at least is in the figure that fits best;
    strokes that lie where that has none speak for a wrong figure as loudly as for the right one.
    Where little stands out, as of planed strikes, that says nothing.
    """
    struck, held = struck_and_held(places, bare, fits)
    if struck <= _OUT[0]:
        return 1.0
    part = min((struck - _OUT[0]) / (_OUT[1] - _OUT[0]), 1.0)
    return float(min(held / _IN_FIGURE, 1.0) ** (_FALLS * part))


def face_held(places: Sequence[Slopes], bare: BareMetal, fits: NDArray[np.float64]) -> float | None:
    """Share of what is struck that the best figures hold, 0 to 1; None where too little is."""
    struck, held = struck_and_held(places, bare, fits)
    return float(np.clip(held, 0.0, 1.0)) if struck >= _OUT[1] else None


def likelihood(
    fits: NDArray[np.float64], slopes: float | NDArray[np.float64]
) -> NDArray[np.float64]:
    """Log-likelihood of shapes by their fits, amplitude and size of the residual left free."""
    return np.asarray(-0.5 * slopes * np.log1p(-(np.clip(fits, 0.0, 0.999) ** 2)))


def moderated(
    fits: NDArray[np.float64], slopes: float | NDArray[np.float64], off: float
) -> NDArray[np.float64]:
    """Power to which likelihoods of figures count where the face's own cuts were not drawn.

    Parameters
    ----------
    fits
        How well the best shape fits each place, 0 to 1.
    slopes
        Independent slopes that count.
    off
        Spread by which a cut's fit differs from that of the punch struck, figure by figure.

    A fit off by so little moves the log-likelihood by `off` times its slope there. Averaged over
    that, chances are those of a logistic flattened by its spread (MacKay, 1992).
    """
    r = np.clip(fits, 0.0, 0.95)
    spread = off * slopes * r / (1 - r**2)
    return np.asarray(1 / np.sqrt(1 + np.pi / 8 * spread**2))
