"""Digits read by the shapes of their own punches: the strike of each laid over the place.

The shapes come from drawings, or from the machine's own clear strikes. Each is struck and worn in
several ways, laid over the place at every shift, at several sizes and turns, and compared by the
normalised correlation of slopes whose steepness is held down to the plate's grain. The likelihood
is that of a Gaussian residual whose size is not known, in which the amplitude of the template is
fitted: proportional to (1 - r²)^(-n/2).
"""

from collections.abc import Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.numeral_styles import EDGE, TALL
from ironlace.marks.reading.relief_slopes import seen_along
from ironlace.marks.reading.strikes import PATCH, Blow, Ink, Slopes, depth_left, placed, slopes_of

_ASKEW = 0.14
"""Share by which a punch held askew strikes deeper at one side (judged)."""
_TILTS = (
    (0.0, 0.0),
    *((_ASKEW * float(np.cos(a)), _ASKEW * float(np.sin(a))) for a in np.arange(8) * np.pi / 4),
)
_SIZES = (0.95, 1.0, 1.05)
"""Sizes at which a strike is laid: punches and places are a few per cent off."""
_TURNS = (-0.03, 0.0, 0.03)
"""Turns, radians: a punch held by hand stands some 2 degrees askew."""
_POSES = tuple((size, turn) for size in _SIZES for turn in _TURNS)
_WORN_SOFT = tuple(
    (Blow(2.5, flank, 0.0, planed=False, blur=blur, rounded=True),)
    for flank, blur in ((2.0, 0.6), (5.0, 1.0), (8.0, 1.6))
)
_PLANED = (Blow(2.5, 4.0, 0.6, planed=True, blur=0.5, rounded=True),)
_SLIVERS = tuple(
    tuple(Blow(2.5, 4.0, w, planed=True, blur=0.5, askew=t, rounded=True) for t in _TILTS)
    for w in (0.8, 0.9, 0.95)
)
_WAYS_WORN = (
    *((blows, _POSES) for blows in (*_WORN_SOFT, _PLANED)),
    *((blows, ((1.0, 0.0),)) for blows in _SLIVERS),
)
"""Ways in which a whole plate may have been worn, and the poses at which each is laid: worn soft,
planed, planed to the deepest. Of the last only slivers are left, which side of a figure they lie on
hangs on how askew it was struck, and a little turn moves none of them far."""
REACH = 7
"""Steps a figure may lie off its place: 0.35 mm."""
_WELL_PLACED, _MISPLACED = 1.5, 1.2
"""Steps that a place drawn to its row is off as a rule, and how soon more grows improbable: off by
1.1 along and across on tuning plates of places good to 0.15 mm, 1.5 as given (`row_of_places`)."""
_BARE = 2.0
"""Norm taken at least: where the relief knows next to nothing, nothing fits."""
_FULL = 0.8
"""A shape lower than this share of the tallest is tried at full height too."""


def shapes_from_pictures(pictures: Mapping[str, NDArray[np.float64]]) -> dict[str, tuple[Ink, ...]]:
    """Shapes on the reading grid out of pictures of ink (1) on paper (0), one for each glyph.

    Pictures share one scale; the tallest ink is a digit's height. What is lower, as in old-style
    figures, comes twice: as it is, and at full height.

    Raises MarksError when there is none, or one has no ink.
    """
    if not pictures:
        raise MarksError(
            "There are no shapes of glyphs: give one black-on-white picture for each, "
            "named by its glyph, such as 0.png."
        )
    cut = {}
    for glyph, picture in pictures.items():
        ink = np.asarray(picture, dtype=np.float32)
        rows, cols = np.flatnonzero(ink.max(axis=1) > 0.5), np.flatnonzero(ink.max(axis=0) > 0.5)
        if not len(rows):
            raise MarksError(f"The shape of '{glyph}' has no ink: draw it black on white.")
        cut[glyph] = ink[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    tallest = max(ink.shape[0] for ink in cut.values())
    shapes = {}
    for glyph, ink in cut.items():
        sizes = [TALL / tallest]
        if ink.shape[0] < _FULL * tallest:
            sizes.append(TALL / ink.shape[0])
        shapes[glyph] = tuple(_at_scale(ink, size) for size in sizes)
    return shapes


def _at_scale(ink: Ink, size: float) -> Ink:
    shape = (max(2, round(ink.shape[1] * size)), max(2, round(ink.shape[0] * size)))
    way = cv2.INTER_AREA if size < 1 else cv2.INTER_LINEAR
    small = cv2.resize(ink, shape, interpolation=way)
    return np.pad(small, EDGE).astype(np.float32)


def held_down(slopes: Slopes, grain: float) -> Slopes:
    """Slopes by direction, none longer than one: beyond a few grains all count alike."""
    size = np.sqrt((slopes**2).sum(axis=0, keepdims=True) + (2.5 * grain) ** 2)
    return np.asarray(slopes / size, dtype=np.float32)


class ShapeReader:
    """Reads places by given shapes; keeps the strikes it has made of them.

    Attributes
    ----------
    glyphs
        In the order of all that is told.
    strikes
        Every glyph struck in all ways, sizes and turns; templates x 2 x 60 x 48, each of norm 1.
    starts
        Where each glyph's begin among them.
    glyph_of, way_of
        Number of each template's glyph, and of the way it was worn.
    upright
        Whether a template is of a whole figure, upright and of its own size.
    """

    def __init__(
        self, shapes: Mapping[str, tuple[Ink, ...]], along: tuple[float, float] | None = None
    ) -> None:
        self.glyphs = tuple(sorted(shapes))
        made = [[_struck(ink, along) for ink in shapes[glyph]] for glyph in self.glyphs]
        each = [np.concatenate(strikes) for strikes in made]
        self.strikes = np.concatenate(each)
        self.starts = np.cumsum([0] + [len(one) for one in each[:-1]])
        self.glyph_of = np.repeat(np.arange(len(each)), [len(one) for one in each])
        ways = np.repeat(
            np.arange(len(_WAYS_WORN)), [len(blows) * len(poses) for blows, poses in _WAYS_WORN]
        )
        self.way_of = np.concatenate([np.tile(ways, len(strikes)) for strikes in made])
        upright = np.concatenate([
            np.full(len(blows) * len(poses), len(poses) > 1)
            & np.tile([pose == (1.0, 0.0) for pose in poses], len(blows))
            for blows, poses in _WAYS_WORN
        ])  # fmt: skip
        self.upright = np.concatenate([np.tile(upright, len(strikes)) for strikes in made])

    def fits(self, wide: Slopes, grain: float) -> dict[str, float]:
        """How well each glyph fits a place, the best correlation found, 0 to 1.

        Parameters
        ----------
        wide
            Slopes of the place with `REACH` steps more on every side.
        """
        data = held_down(wide, grain)
        flat = self.strikes.reshape(len(self.strikes), -1)
        laid = ((flat @ windows_of(data)) / norms(data).ravel()).max(axis=1)
        best = np.maximum.reduceat(laid, self.starts)
        return {g: max(float(r), 0.0) for g, r in zip(self.glyphs, best, strict=True)}


def plain_strikes(
    shapes: Mapping[str, tuple[Ink, ...]], along: tuple[float, float] | None = None
) -> NDArray[np.float32]:
    """Each shape once, worn soft, upright; templates x 2 x 60 x 48, each of norm 1."""
    (blow,) = _WORN_SOFT[1]
    return np.stack(
        [
            _template(depth_left(ink, blow), along, 1.0, 0.0)
            for inks in shapes.values()
            for ink in inks
        ]
    )


def _template(
    depth: NDArray[np.float32], along: tuple[float, float] | None, size: float, turn: float
) -> NDArray[np.float32]:
    laid = seen_along(slopes_of(placed(depth, turn=turn, scale=size)), along)
    # of a strike it counts where flanks are steep: as of a place, by direction
    template = held_down(laid, float(np.abs(laid).max()) / 8)
    return np.asarray(template / max(float(np.linalg.norm(template)), 1e-9), dtype=np.float32)


def _struck(ink: Ink, along: tuple[float, float] | None) -> NDArray[np.float32]:
    """One shape struck in all ways, sizes and turns; templates x 2 x 60 x 48."""
    made = []
    for blows, poses in _WAYS_WORN:
        for blow in blows:
            depth = depth_left(ink, blow)
            made += [_template(depth, along, size, turn) for size, turn in poses]
    return np.stack(made)


WIDE = (PATCH[0] + 2 * REACH, PATCH[1] + 2 * REACH)
"""Rows and columns of the patch that `ShapeReader` takes."""


def windows_of(data: Slopes) -> NDArray[np.float32]:
    """What lies under a template at every shift; shape (2 * 60 * 48, shifts).

    A product with many templates at once takes a fifteenth of the time of laying each by itself.
    """
    return laid_out(data).T


def laid_out(data: Slopes, step: int = 1) -> NDArray[np.float32]:
    """What lies under a template at every so-many-th shift; shape (shifts, 2 * 60 * 48).

    Shifts come first, for rows of a window are copied whole: twice as fast as the other way.
    """
    cut = np.lib.stride_tricks.sliding_window_view(data, PATCH, axis=(1, 2))[:, ::step, ::step]
    return np.ascontiguousarray(cut.transpose(1, 2, 0, 3, 4)).reshape(-1, 2 * PATCH[0] * PATCH[1])


def norms(data: Slopes) -> NDArray[np.float32]:
    """Norm of the data under a template at each shift."""
    power = cv2.boxFilter((data**2).sum(axis=0), -1, PATCH[::-1], normalize=False)
    size = np.sqrt(np.maximum(power, _BARE**2))
    top, left = PATCH[0] // 2, PATCH[1] // 2
    return np.asarray(
        size[top : top + 2 * REACH + 1, left : left + 2 * REACH + 1], dtype=np.float32
    )


def shift_logs() -> NDArray[np.float64]:
    """Log-probability of each shift, in the order of `windows_of`."""
    at = np.arange(-REACH, REACH + 1)
    far = np.hypot(*np.meshgrid(at, at)).ravel()
    logs = -0.5 * (np.clip(far - _WELL_PLACED, 0, None) / _MISPLACED) ** 2
    return np.asarray(logs - np.logaddexp.reduce(logs))
