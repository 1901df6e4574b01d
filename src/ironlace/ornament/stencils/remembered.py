"""Answers about single shapes, kept by the shape: what a change leaves as it was costs nothing.

Only what follows from a shape alone, to the last bit, may be remembered so: then it makes no
difference whether an answer is remembered or worked out.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import Any, Final, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray

from ironlace.evidence.arrays import Ints

_MOST: Final = 30_000
"""Answers kept to one question: some ten changes of an ornament of 2,000 islands, 100 MB."""


Told = TypeVar("Told")


class Remembered:
    """Answers to questions about shapes.

    >>> known = Remembered()
    >>> circles = np.array([shapely.Point(0, 0).buffer(r) for r in (1, 2)])
    >>> areas = known.each(("area",), circles, lambda new: list(shapely.area(new)))
    >>> [round(float(area), 1) for area in areas]
    [3.1, 12.5]
    >>> bool(known.each(("area",), circles[:1], lambda new: list(new))[0] > 3.0)
    True
    """

    def __init__(self) -> None:
        self._answers: dict[tuple[Any, ...], dict[Any, Any]] = {}

    def each(
        self,
        question: tuple[Any, ...],
        shapes: NDArray[np.object_],
        work: Callable[[NDArray[np.object_]], Sequence[Told]],
    ) -> list[Told]:
        """The answer for each shape; ``work`` gives those of the shapes that are new.

        Parameters
        ----------
        question
            What is asked, with every number that the answer rests on besides the shape.
        """
        return self.by(question, shapely.to_wkb(shapes).tolist(), lambda new: work(shapes[new]))

    def pairs(
        self,
        question: tuple[Any, ...],
        shapes: NDArray[np.object_],
        one: Ints,
        two: Ints,
        work: Callable[[NDArray[np.object_], NDArray[np.object_]], Sequence[Told]],
    ) -> list[Told]:
        """The answer for each pair of shapes; ``work`` gives those of the pairs that are new.

        Parameters
        ----------
        question
            As of `each`.
        one, two
            Numbers of the shapes of each pair, (n,).
        """
        keys = shapely.to_wkb(shapes).tolist()
        both = [(keys[a], keys[b]) for a, b in zip(one.tolist(), two.tolist(), strict=True)]
        return self.by(question, both, lambda new: work(shapes[one[new]], shapes[two[new]]))

    def by(
        self,
        question: tuple[Any, ...],
        keys: Sequence[Hashable],
        work: Callable[[list[int]], Sequence[Told]],
    ) -> list[Told]:
        """The answer for each key; ``work`` gives those for the numbers of the keys that are new.

        Parameters
        ----------
        question
            As of `each`.
        keys
            All that an answer rests on besides.
        """
        known = self._answers.get(question, {})
        new = [n for n, key in enumerate(keys) if key not in known]
        found = dict(zip((keys[n] for n in new), work(new), strict=True)) if new else {}
        # never changed in place: two threads may ask at once
        if found:
            self._answers[question] = {**({} if len(known) > _MOST else known), **found}
        return [found[key] if key in found else known[key] for key in keys]
