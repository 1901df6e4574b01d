"""Figures of which one side alone was struck, for the punch was held askew or the blow was light.

What is left of a 4 without its left side is a 1, and of a 7 without its bar as well: whole figures
fit it, surely and wrongly. A punch held askew goes in less deep from one side to the other, until
it does not touch: its depth falls off linearly across the figure. So a place shallower than its
fellows is also laid with figures whose depth falls off so, towards each side, and what fits better
than any whole figure by that was half struck. Which figure it was is then told by those, and less
surely: half of a figure is left of others too.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logsumexp

from ironlace.marks.reading.bare_metal import likelihood
from ironlace.marks.reading.known_shapes import held_down, norms, shift_logs, windows_of
from ironlace.marks.reading.strikes import PATCH, Slopes, slopes_of
from ironlace.marks.reading.struck_over import strike_height

_SIDES = tuple((float(np.cos(a)), float(np.sin(a))) for a in np.arange(8) * np.pi / 4)
"""Ways, x right and y down, in which the depth falls off."""
_WHERE = (
    *("right side", "right side and the foot", "foot", "left side and the foot"),
    *("left side", "left side and the head", "head", "right side and the head"),
)
"""What is lacking where it falls off so."""
_ENDS = (0.35, 0.5, 0.7, 1.0)
"""Share of the figure at which nothing more was struck."""
_IN_STROKE = 0.15
"""Share of its depth from which a spot belongs to the figure."""
_SELDOM = 0.02
"""Chance that a figure was half struck, before it is looked at (judged)."""
_SHALLOW = 0.67
"""Share of its fellows' depth above which a place is not asked. Of 40 half struck figures of five
tuning faces the deepest had 0.48 but for two, of 158 sound ones on eleven plates the shallowest
0.51, on a plate planed by 0.6 (`bench/marks_misstruck.py`'s maker, seeds 5101 to 5209, and
`struck_plates.py`, seed 88100)."""
_HALF_DEEP, _HALF_SPREAD = -1.4, 0.7
"""Logarithm of the share of their fellows' depth that half struck figures have, and its spread: the
same 40."""
_SOUND_SPREAD, _TAIL = 0.3, 6.0
"""Spread of that of sound figures that is taken at least, and how much depth counts at most."""
_FEWEST = 4
"""Digits below which there is no usual depth."""
_SURE, _NEITHER = 0.1, 0.1
"""Power to which likelihoods of figures count of which half is left, and the chance that they tell
nothing: of the same 40, 0.65 are stated and 0.82 right with given shapes, 0.48 and 0.72 without,
none over 0.8 and wrong; with 0.15 and none, which lose least, 0.05 are over 0.9 and wrong."""
_MOST = 50.0
"""Logarithm that a fit may gain at most: beyond it the chance is one."""


@dataclass(frozen=True)
class HalfStruck:
    """Whether one place was half struck.

    Attributes
    ----------
    chance
        That it was.
    p
        Chance of each figure if it was.
    lacking
        Which part would be lacking, in words.
    share
        Its depth over its fellows'.
    """

    chance: float
    p: NDArray[np.float64]
    lacking: str = ""
    share: float = 1.0


def half_struck(
    held: Sequence[Slopes],
    laid: Sequence[NDArray[np.float32]],
    strikes: NDArray[np.float32],
    glyph_of: NDArray[np.int64],
    depths: Sequence[float],
    slopes: float,
) -> tuple[HalfStruck, ...]:
    """Whether each place was half struck.

    Parameters
    ----------
    held
        Places, slopes held down, shape of `WIDE`.
    laid
        Correlation of each strike at every shift, for each place.
    strikes, glyph_of
        Templates x 2 x 60 x 48, each of norm 1, and the number of each one's figure.
    depths
        Of the places, mm.
    slopes
        Independent slopes of a place that count.
    """
    figures = int(glyph_of.max()) + 1
    shares, odds = _beside_fellows(np.asarray(depths, dtype=np.float64))
    found = []
    for wide, one, share, by_depth in zip(held, laid, shares, odds, strict=True):
        if share > _SHALLOW:
            found.append(HalfStruck(0.0, np.full(figures, 1 / figures), share=float(share)))
            continue
        whole, half = _fits(wide, one[: len(strikes)], strikes, glyph_of, figures)
        of_whole, of_half = likelihood(whole, slopes), likelihood(half, slopes)
        by_figure = logsumexp(of_half, axis=1) - np.log(of_half.shape[1])
        gain = min(float(logsumexp(by_figure) - logsumexp(of_whole)), _MOST)
        told = _SURE * np.logaddexp(by_figure, of_whole)
        p = np.exp(told - logsumexp(told))
        best = int(of_half.max(axis=0).argmax())
        found.append(
            HalfStruck(
                float(expit(np.log(_SELDOM) + gain + by_depth)),
                (1 - _NEITHER) * p + _NEITHER / figures,
                _WHERE[best // len(_ENDS)],
                float(share),
            )
        )
    return tuple(found)


def _beside_fellows(
    depths: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Each depth over the median, and what that tells for a half struck figure, in logarithms."""
    if len(depths) < _FEWEST:
        return np.ones(len(depths)), np.zeros(len(depths))
    logs = np.log(np.maximum(depths, 1e-4))
    off = logs - np.median(logs)
    spread = max(1.48 * float(np.median(np.abs(off))), _SOUND_SPREAD)
    half = -0.5 * ((off - _HALF_DEEP) / _HALF_SPREAD) ** 2 - np.log(_HALF_SPREAD)
    sound = -0.5 * (off / spread) ** 2 - np.log(spread)
    # nothing is shallower than half struck: what is, is so as well
    half = np.where(off < _HALF_DEEP, -np.log(_HALF_SPREAD), half)
    return np.exp(off), np.clip(half - sound, -_TAIL, _TAIL)


def _fits(
    wide: Slopes,
    laid: NDArray[np.float32],
    strikes: NDArray[np.float32],
    glyph_of: NDArray[np.int64],
    figures: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Best fit of each figure whole, and half struck; figures, figures x ways of falling off."""
    logs = shift_logs()
    near = np.flatnonzero(logs > logs.max() - 9.0)  # as far as strikes are looked at elsewhere
    tops = laid[:, near].max(axis=1)
    under, size = windows_of(wide)[:, near], norms(wide).ravel()[near]
    whole = np.zeros(figures)
    half = np.zeros((figures, len(_SIDES) * len(_ENDS)))
    for figure in range(figures):
        ours = np.flatnonzero(glyph_of == figure)
        best = int(ours[tops[ours].argmax()])
        whole[figure] = max(float(tops[best]), 0.0)
        halves = falling_off(strike_height(strikes[best]))
        fit = ((halves.reshape(len(halves), -1) @ under) / size).max(axis=1)
        half[figure] = np.maximum(fit, 0.0)
    return whole, half


def falling_off(height: NDArray[np.float64]) -> NDArray[np.float32]:
    """Slopes of a strike whose depth falls off to each side; (sides x ends) x 2 x 60 x 48, norm 1.

    Parameters
    ----------
    height
        Of the whole strike: 0 outside, -1 where it is deepest.
    """
    rows, columns = np.nonzero(height < -_IN_STROKE)
    down, right = np.mgrid[: PATCH[0], : PATCH[1]]
    made = []
    for x, y in _SIDES:
        along = x * right + y * down
        low, high = along[rows, columns].min(), along[rows, columns].max()
        for end in _ENDS:
            rise = np.clip((along - low) / max(end * (high - low), 1e-9), 0.0, None)
            left = slopes_of(-np.minimum(height + rise, 0.0).astype(np.float32))
            left = held_down(left, float(np.abs(left).max()) / 8)
            made.append(left / max(float(np.linalg.norm(left)), 1e-9))
    return np.stack(made)
