"""What a person should know of a plate's digits before any chance, in words, worst first."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ironlace.marks.reading.half_struck import HalfStruck
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.read_together import Together
from ironlace.marks.reading.which_way import (
    MIRRORED,
    RAISED,
    TURNED,
    Lies,
    Ways,
    places_said,
    rows_otherwise,
    ways_said,
)

_ODD = 0.8
"""Chance that a place shows something else from which that is said; a pit may spoil a figure."""
_LIKE = 0.3
"""Likeness of what is struck to the figures laid, below which it is said (`likeness`,
`like_by_both`): scripts have 0.07 to 0.26, the lowest of 66 plates of faces near ours 0.32."""
_OVERLAPS = 0.5
"""Distance of two figures, in their heights, below which their strokes overlap: the narrowest that
we draw are 0.44 wide, and a row is struck half as far apart again (common practice, no source)."""
_LIES = {TURNED: "upside down", MIRRORED: "mirrored", RAISED: "raised than sunk"}
_CLEAR = 0.5
"""Chance from which a plate's digits count as readable."""


@dataclass(frozen=True, slots=True)
class DigitsTold:
    """What all digits tell, how well the best strikes fit (median), and which way all lies.

    `judged` is whether the plate has enough bare metal to judge them by, `like` how like the
    figures that were laid what is struck is, 0 to 1. `pairs` names the two figures that may
    stand one over the other, where that is likelier than another sign; `maybe` where a person
    should look for them. `lies` is how each place lies by itself, `held` see `PlateRead.face_held`,
    `half` whether each was half struck.
    """

    read: Together
    fit: float
    ways: Ways
    judged: bool
    like: float
    pairs: tuple[str, ...]
    maybe: tuple[bool, ...]
    lies: tuple[Lies, ...]
    held: float | None
    half: tuple[HalfStruck, ...]

    @property
    def clear(self) -> bool:
        """Whether they stand out of bare metal, as far as that can be told."""
        return not self.judged or self.read.left >= _CLEAR

    def laid_otherwise(self) -> NDArray[np.float64]:
        """Chance that each place lies another way by itself.

        Half of an 8 is a mirrored 3; but a punch held the other way round strikes as deep as any.
        """
        other = np.array([1 - one.chance for one in self.lies])
        return other * (1 - np.array([one.chance for one in self.half])) if self.half else other


def remarks(
    told: DigitsTold,
    digits: Sequence[Place],
    lacks: NDArray[np.float64],
    edges: tuple[NDArray[np.float64], NDArray[np.float64]],
    mm_per_px: float,
) -> tuple[str, ...]:
    """What a person should know of the digits, worst first.

    Parameters
    ----------
    lacks
        Share of each that is not seen.
    edges
        Share of each beyond an edge of the casting, and how far the metal falls there, mm.
    """
    return (
        *_of_figures(told, digits),
        *_cut_off(lacks, digits),
        *_at_edges(*edges, digits),
        *_overlapping(digits, mm_per_px),
    )


def _of_figures(told: DigitsTold, digits: Sequence[Place]) -> list[str]:
    """What figures laid over all places tell."""
    said = []
    if told.clear and told.like < _LIKE:
        said.append(
            "The face is unlike ours, or the shapes given are not those struck: much of what is "
            "struck is in none of the figures laid over it. Of made plates of such faces every "
            "other figure that was named was wrong. Label clear strikes (--labels), or give the "
            "punches' shapes (--shapes)."
        )
    said += ways_said(told.ways, len(digits)) if told.clear else []
    if not told.judged:
        said.append(
            "There is too little bare metal about the digits to judge them by: how sure they are "
            "is taken from other plates. Photograph more of the plate."
        )
    elif not told.clear:
        said.append(
            "The digits fit no better than bare metal of this plate does: by them nothing can be "
            "read, and the chances say so."
        )
    if told.clear and told.ways.chance >= _CLEAR:
        wrong = rows_otherwise(told.ways, [d.row for d in digits])
        said += [
            f"Row {row + 1} from the top fits much better {_LIES[way]}, and the others do not: "
            "nothing is told of its digits. Look which way it was struck."
            for row, (way, chance) in wrong.items()
            if chance < _CLEAR
        ]
        said += [
            places_said(one, _named([d]))
            for d, one, other in zip(digits, told.lies, told.laid_otherwise(), strict=True)
            if other > _CLEAR and wrong.get(d.row, ("", 1.0))[1] >= _CLEAR
        ]
        said += _half_struck(told, digits)
        said += _struck_over(told, digits)
        said += _strangers(told.read, digits, told.pairs)
    return said


def _cut_off(lacks: NDArray[np.float64], digits: Sequence[Place]) -> list[str]:
    """Places of which part is not seen."""
    at = [d for d, lack in zip(digits, lacks, strict=True) if lack > 0]
    if not at:
        return []
    return [
        f"{_named(at)}: part of it lies outside the picture, or where the relief knows nothing. "
        "What is left may fit another figure as well: its chances are spread."
    ]


def _at_edges(
    beyond: NDArray[np.float64], falls: NDArray[np.float64], digits: Sequence[Place]
) -> list[str]:
    """Places through which an edge of the casting runs."""
    at = [k for k, share in enumerate(beyond) if share > 0]
    if not at:
        return []
    return [
        f"{_named([digits[k] for k in at])}: the metal falls away there by {max(falls[at]):.1f} mm "
        "and does not rise again, as at the casting's edge or a large hole. What is left of the "
        "figure may fit another as well: its chances are spread."
    ]


def _overlapping(digits: Sequence[Place], mm_per_px: float) -> list[str]:
    """Neighbours in a row that stand so near that their strokes run into each other."""
    said = []
    for row in sorted({d.row for d in digits}):
        line = sorted((d for d in digits if d.row == row), key=lambda d: d.x_px)
        for one, next_ in pairwise(line):
            apart_px = float(np.hypot(next_.x_px - one.x_px, next_.y_px - one.y_px))
            if apart_px < _OVERLAPS * min(one.height_px, next_.height_px):
                said.append(
                    f"{_named([one, next_])}: they stand {apart_px * mm_per_px:.1f} mm apart and "
                    "overlap, so that each is read through strokes of the other. Look which was "
                    "struck last, and whether one was meant to stand for the other."
                )
    return said


def _half_struck(told: DigitsTold, digits: Sequence[Place]) -> list[str]:
    """Places of which one side alone was struck; half a figure of a bare place is its grain."""
    return [
        f"{_named([d])}: {one.share:.0%} as deep as its fellows, and fits best with the "
        f"{one.lacking} lacking: struck askew or lightly, so that half of the figure is not there? "
        "Look for what is left of it. Its chances are those of half a figure."
        for d, one, empty in zip(digits, told.half, told.read.empty, strict=False)  # none unasked
        if one.chance > _CLEAR >= empty
    ]


def _struck_over(told: DigitsTold, digits: Sequence[Place]) -> list[str]:
    """Places where two figures may be struck one over the other, and which they may be."""
    said = []
    for d, pair, p, maybe in zip(digits, told.pairs, told.read.other, told.maybe, strict=True):
        over = f"{pair} one over the other fit better than any figure alone"
        if pair and p > _CLEAR:
            said.append(
                f"{_named([d])}: may be struck over. {over}: look which was meant. Its chances "
                "are spread."
            )
        elif pair and maybe:
            said.append(
                f"{_named([d])}: look whether it was struck over. {over}; but two cuts of ours may "
                "also account for one figure of another face, and little of its chances is spread."
            )
    return said


def _strangers(read: Together, digits: Sequence[Place], pairs: Sequence[str]) -> list[str]:
    """Places that hold another sign than was asked for, or none; pairs have their own words."""
    said = []
    one_sign = np.where([bool(pair) for pair in pairs], 0.0, read.other)
    for chance, sure, words in (
        (
            read.strange,
            _CLEAR,
            "a letter of ours fits better than any glyph asked for: name what may stand there "
            "(--glyphs, with its shapes), and look whether the shapes are those struck. Its "
            "chances are spread.",
        ),
        (
            one_sign,
            _ODD,
            "a letter fits as well as the best figure, another figure fits what that leaves, or "
            "more is left over than of its fellows: another sign, a figure struck twice, or "
            "damage? Its chances are spread.",
        ),
        (
            read.empty,
            _CLEAR,
            "the metal is as bare as beside the digits: was anything struck there? Its chances "
            "are spread.",
        ),
    ):
        at = [d for d, p in zip(digits, chance, strict=True) if p > sure]
        if at:
            said.append(f"{_named(at)}: {words}")
    return said


def _named(digits: Sequence[Place]) -> str:
    rows = sorted({d.row for d in digits})
    told = [
        f"row {row + 1} from the top, digit "
        + ", ".join(str(d.index + 1) for d in digits if d.row == row)
        for row in rows
    ]
    return "; ".join(told).capitalize()
