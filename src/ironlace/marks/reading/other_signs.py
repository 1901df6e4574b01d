"""Whether a place shows the figure that fits it best, or something else.

Something always fits best: a letter that looks like a figure, one of two figures struck one over
the other, a scratch. Four things tell such a place. Another figure fits what the best one leaves,
beyond how figures fit bare metal of the plate. A letter drawn by us fits as well as the figure. Two
figures struck one over the other fit better than one (`struck_over`). And more is left over than
where the plate's other digits lie. The first three need no fellows, so that they hold where half of
a row is something else. What they say together was fitted on tuning plates by logistic regression
(Cox, 1958).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.known_shapes import shift_logs
from ironlace.marks.reading.numeral_styles import TALL
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import Slopes
from ironlace.marks.reading.struck_over import Pairs, window

_FEWEST = 6
"""Digits below which a plate tells nothing of how much its figures leave."""
_NEAR = 9.0
"""Shifts less probable than this, in logarithms, are not looked at."""
_LEAST = 0.07
"""Spread of what figures leave that is taken at least, in logarithms."""
_MOST = (-3.0, 8.0)
"""Spreads that count at most, of less and of more."""
_TOO_DEEP = ((4.0, 0.3), (2.0, 0.42))
"""Times its fellows' median, and depth in mm, from both of which on a place is no strike: figure
punches so high go a quarter of a millimetre deep, one twice as deep as another (common practice, no
source), and a relief may be half too steep. Of 54 made plates the deepest digit was 3.8 times the
median up to wear 0.8, none so deep; screw holes 0.8 mm deep are told as 0.5."""
_HOLE = 6.0
"""Log-odds of that."""
_MAYBE = 5.0
"""Log-likelihood of a pair from which a person is told to look for one. By cuts of ours, of three
faces struck by a V-nosed punch, 57 sound figures had 3.9 at most, and 20 of 24 struck over had 5.3
to 14.8 (`bench/marks_misstruck.py`, seed 81)."""
_BOX = (TALL, 30)
"""Rows and columns that a figure takes up, steps of the reading grid."""
_UNSEEN = (0.08, 0.4)
"""Share of a figure that may lie outside the picture, or be unknown to the relief, and the share
from which nothing is told of it: half a 7 is a 1, and a 5 without its foot may be a 3 (judged)."""


@dataclass(frozen=True)
class Judge:
    """Weights of `signs_of` and, last, what is added: of a pair, and of another sign.

    Logistic regression with three outcomes, of 48 tuning plates (449 sound places, 61 pairs and 57
    letters; `bench/marks_other_signs.py fit`), left out plate by plate.
    """

    pair: tuple[float, float, float, float, float]
    sign: tuple[float, float, float, float, float]
    most: float = np.inf
    """Log-likelihood of a pair that counts at most."""


GIVEN = Judge((21.1, 0.0, 0.4, 26.5, -1.8), (12.1, 27.2, 0.7, 0.0, 2.25))
"""Where the shapes struck are given; what is added is 0.7 more than fitted (judged: at as much as
fitted a pair and a letter of 17 each were missed on another maker's plates that had been told by
three signs, and of 128 sound places none was in doubt either way)."""
CUTS = Judge((23.9, 0.0, 0.2, 28.5, -2.75), (7.7, 33.5, 0.5, 0.0, 1.2), 2.8)
"""Where cuts of ours are laid, which fit no strike in full. Two of them may account for one figure
of a face unlike ours, so a pair takes 0.2 of a place at most: enough that no one of two figures is
over 0.9, and too little to lose a figure (judged on a heavy face with slabs, where a sound 1 was
told as a 1 and a 4 with 0.9)."""


@dataclass(frozen=True)
class Oddities:
    """How odd each place is.

    Attributes
    ----------
    second
        How well another figure fits what the best one leaves, beyond its fit to bare metal.
    letter
        Fit of the best letter less that of the best figure.
    left
        Logarithm of the norm of what the best figure leaves.
    pair
        Fit of the best two figures struck one over the other less that of the best figure.
    figures
        The numbers of those two.
    """

    second: NDArray[np.float64]
    letter: NDArray[np.float64]
    left: NDArray[np.float64]
    pair: NDArray[np.float64]
    figures: tuple[tuple[int, int], ...]


def signs_of(odd: Oddities) -> NDArray[np.float64]:
    """Second figure, letter, what is left over in spreads of the fellows, pair; places x 4."""
    more = np.zeros(len(odd.left))
    if len(more) >= _FEWEST:
        off = odd.left - np.median(odd.left)
        spread = np.hypot(1.48 * float(np.median(np.abs(off))), _LEAST)
        more = np.clip(off / spread, *_MOST)
    return np.column_stack([odd.second, odd.letter, more, odd.pair])


def odds_of_others(odd: Oddities, judge: Judge) -> NDArray[np.float64]:
    """Log-likelihood of a pair, and of another sign, less that of one figure; places x 2."""
    told = _in_full(odd, judge)
    told[:, 0] = np.minimum(told[:, 0], judge.most)
    return told


def _in_full(odd: Oddities, judge: Judge) -> NDArray[np.float64]:
    by = np.array([judge.pair, judge.sign]).T
    return np.asarray(signs_of(odd) @ by[:-1] + by[-1])


def maybe_pairs(odd: Oddities, judge: Judge) -> NDArray[np.bool_]:
    """Where a pair is likely enough to be told to a person, whatever of it counts in chances."""
    pair, sign = _in_full(odd, judge).T
    return np.asarray((pair > _MAYBE) & (pair > sign))


def either_of(odds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log-likelihood that each place shows something else: a pair as soon as another sign."""
    return np.asarray(np.logaddexp(*odds.T) - np.log(2))


def holes(depths: Sequence[float]) -> NDArray[np.float64]:
    """Log-likelihood that a hole lies at each place, by its depth beside its fellows', mm."""
    deep = np.asarray(depths, dtype=np.float64)
    usual = float(np.median(deep)) if len(deep) else 0.0
    hole = [(deep > times * usual) & (deep > mm) for times, mm in _TOO_DEEP]
    return np.where(np.any(hole, axis=0), _HOLE, -np.inf)


def unseen(relief: ReliefSlopes, digits: Sequence[Place]) -> NDArray[np.float64]:
    """Chance that each digit cannot be told because part of it is not seen, 0 to 1."""
    boxes = [relief.patch(d.x_px, d.y_px, d.height_px / TALL, _BOX) for d in digits]
    lacks = np.array([float((np.abs(box).max(axis=0) == 0).mean()) for box in boxes])
    return untold(lacks)


def untold(lacks: NDArray[np.float64]) -> NDArray[np.float64]:
    """Chance that a digit cannot be told of which such a share is not there to be seen.

    >>> untold(np.array([0.08, 0.24, 0.5])).round(6).tolist()
    [0.0, 0.5, 1.0]
    """
    return np.clip((lacks - _UNSEEN[0]) / (_UNSEEN[1] - _UNSEEN[0]), 0.0, 1.0)


def oddities_of(
    held: Sequence[Slopes],
    laid: Sequence[NDArray[np.float32]],
    bare: Sequence[NDArray[np.float32]],
    strikes: NDArray[np.float32],
    glyph_of: NDArray[np.int64],
    second: NDArray[np.bool_],
) -> Oddities:
    """How odd each place is.

    Parameters
    ----------
    held
        Places, slopes held down.
    laid
        Correlation of each strike, and after them of each letter, at every shift, for each place.
    bare
        The same of bare metal; where there is none second figures are taken beside their median.
    strikes, glyph_of
        Templates x 2 x 60 x 48, each of norm 1, and the number of each one's glyph.
    second
        Which of them are laid over what the best leaves.
    """
    logs = shift_logs()
    near = logs > logs.max() - _NEAR
    told, figures = [], []
    pairs, count = Pairs(strikes, glyph_of, second), len(strikes)
    for wide, r in zip(held, laid, strict=True):
        best = np.where(near, r[:count], -1.0)
        i, j = divmod(int(best.argmax()), best.shape[1])
        left = wide[window(j)].copy()
        left -= float((strikes[i] * left).sum()) * strikes[i]
        pair = pairs.best(wide, r)
        beyond = float(r[count:, near].max(initial=-1.0)) - float(best[i, j])
        size = max(float(np.linalg.norm(left)), 1e-3)
        told.append((pair.second, beyond, float(np.log(size)), pair.gain))
        figures.append(pair.figures)
    one, letter, rest, both = np.array(told, dtype=np.float64).reshape(-1, 4).T
    of_bare = [float(b[:count][second][:, near].max()) for b in bare]
    usual = float(np.mean(of_bare)) if of_bare else float(np.median(one)) if len(one) else 0.0
    return Oddities(one - usual, letter, rest, both, tuple(figures))
