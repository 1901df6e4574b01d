"""Answers about single shapes, kept by the shape: what a change leaves as it was costs nothing.

Only what follows from a shape alone, to the last bit, may be remembered so: then it makes no
difference whether an answer is remembered or worked out.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field
from itertools import count
from typing import Any, Final, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Ints

_MOST: Final = 30_000
"""Answers kept to one question: some ten changes of an ornament of 2,000 islands."""

_MOST_SHAPES: Final = 100_000
"""Shapes that have a number: some hundred changes of an ornament of 2,000 islands, 300 MB."""

_MOST_PLACES: Final = 64, 3 * _MOST_SHAPES
"""Regions and arrays, and shapes, that are known by where they lie, before those are forgotten that
nobody holds any more."""


Told = TypeVar("Told")


@dataclass(frozen=True, eq=False)
class _Known:
    """All that is remembered. Two threads may ask at once, so that no answer is ever taken out.

    ``shapes`` are a number and a shape by its bytes; ``numbers`` are the same numbers by where a
    shape lies in memory, ``arrays`` those of arrays so, and ``regions`` the parts of regions, each
    for as long as somebody holds it.
    """

    answers: dict[tuple[Any, ...], dict[Any, Any]] = field(default_factory=dict)
    shapes: dict[bytes, tuple[int, shapely.Geometry]] = field(default_factory=dict)
    numbers: dict[int, tuple[weakref.ref[Any], int]] = field(default_factory=dict)
    arrays: dict[int, tuple[weakref.ref[Any], list[int]]] = field(default_factory=dict)
    regions: dict[int, tuple[weakref.ref[Any], NDArray[np.object_]]] = field(default_factory=dict)
    last: dict[tuple[Any, ...], Any] = field(default_factory=dict)


class Remembered:
    """Answers to questions about shapes.

    Each shape has a number, the same for shapes that are the same to the last bit. To find it takes
    all of its corners, unless it is the very thing that was asked about before: `parts` of what was
    made by `region` are.

    >>> known = Remembered()
    >>> circles = np.array([shapely.Point(0, 0).buffer(r) for r in (1, 2)])
    >>> areas = known.each(("area",), circles, lambda new: list(shapely.area(new)))
    >>> [round(float(area), 1) for area in areas]
    [3.1, 12.5]
    >>> bool(known.each(("area",), circles[:1], lambda new: list(new))[0] > 3.0)
    True
    >>> known.parts(known.region(circles))[1] is circles[1]
    True
    """

    def __init__(self) -> None:
        self._known = _Known()
        self._next = count()

    def numbers(self, shapes: NDArray[np.object_]) -> list[int]:
        """A number for each shape, which names it to the last bit."""
        if len(self._known.shapes) > _MOST_SHAPES:
            # numbers go on rising: what is under way meanwhile finds no wrong answer
            self._known = _Known()
        known = self._known
        told_before = _found(known.arrays, shapes)
        if told_before is not None:
            return told_before
        get = known.numbers.get
        # as of `_found`, without a call for each of tens of thousands
        out: list[Any] = [
            found[1] if (found := get(id(shape))) is not None and found[0]() is shape else None
            for shape in shapes.tolist()
        ]
        new = [n for n, number in enumerate(out) if number is None]
        if new:
            _forget_gone(known.numbers, _MOST_PLACES[1])
            for n, told in zip(new, shapely.to_wkb(shapes[new]).tolist(), strict=True):
                shape = shapes[n]
                if told not in known.shapes:
                    known.shapes.setdefault(told, (next(self._next), shape))
                out[n] = known.shapes[told][0]
                known.numbers[id(shape)] = (weakref.ref(shape), out[n])
        if not shapes.flags.writeable:
            _forget_gone(known.arrays, _MOST_PLACES[0])
            known.arrays[id(shapes)] = (weakref.ref(shapes), out)
        return out

    def parts(self, region: MultiPolygon) -> NDArray[np.object_]:
        """The polygons of a region, (n,), not to be written to."""
        parts = _found(self._known.regions, region)
        if parts is None:
            parts = self._noted(region, np.asarray(shapely.get_parts(region), dtype=object))
        return parts

    def region(self, polygons: Sequence[Polygon] | NDArray[np.object_]) -> MultiPolygon:
        """Polygons as a region, whose `parts` they are; those without area are left out."""
        parts = np.empty(len(polygons), dtype=object)
        parts[:] = list(polygons)
        parts = parts[~np.asarray(shapely.is_empty(parts), np.bool_)]
        whole = MultiPolygon() if len(parts) == 0 else shapely.multipolygons(parts)
        assert isinstance(whole, MultiPolygon)
        self._noted(whole, parts)
        return whole

    def _noted(self, region: MultiPolygon, parts: NDArray[np.object_]) -> NDArray[np.object_]:
        parts.flags.writeable = False
        _forget_gone(self._known.regions, _MOST_PLACES[0])
        self._known.regions[id(region)] = (weakref.ref(region), parts)
        return parts

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
        return self.by(question, self.numbers(shapes), lambda new: work(shapes[new]))

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
        keys = np.array(self.numbers(shapes), dtype=np.int64)
        # one number is hashed sooner than two; none comes near so many shapes
        both = (keys[one] << 32) + keys[two]
        return self.by(
            question, both.tolist(), lambda new: work(shapes[one[new]], shapes[two[new]])
        )

    def groups(
        self,
        question: tuple[Any, ...],
        shapes: NDArray[np.object_],
        groups: Sequence[Ints],
        work: Callable[[list[int]], Sequence[Told]],
    ) -> list[Told]:
        """The answer for each group of shapes; ``work`` gives those for the numbers of new groups.

        Parameters
        ----------
        question
            As of `each`.
        groups
            Numbers of the shapes of each, in an order that the answer may rest on.
        """
        keys = np.array(self.numbers(shapes), dtype=np.int64)
        ends = np.cumsum([len(group) for group in groups]).tolist()
        every = keys[np.concatenate([np.zeros(0, np.int64), *groups])].tolist()
        told = [tuple(every[a:b]) for a, b in zip([0, *ends], ends, strict=False)]
        return self.by(question, told, work)

    def last(self, question: tuple[Any, ...]) -> Any:
        """What was told to a question the last time, to begin from; None the first time."""
        return self._known.last.get(question)

    def tell(self, question: tuple[Any, ...], told: Any) -> None:
        """Keep what is to be begun from the next time that a question is asked."""
        self._known.last[question] = told

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
        answers = self._known.answers
        known = answers.setdefault(question, {})
        new = [n for n, key in enumerate(keys) if key not in known]
        if new:
            found = dict(zip((keys[n] for n in new), work(new), strict=True))
            if len(known) > _MOST:
                known = {key: known[key] for key in keys if key in known}
                answers[question] = known
            known.update(found)
        return [known[key] for key in keys]


def _found(by_place: dict[int, tuple[weakref.ref[Any], Told]], shape: Any) -> Told | None:
    """What is told of a shape by where it lies; None if another lay there."""
    found = by_place.get(id(shape))
    return found[1] if found is not None and found[0]() is shape else None


def _forget_gone(by_place: dict[int, tuple[weakref.ref[Any], Any]], most: int) -> None:
    """Take out shapes that nobody holds any more, once there are many."""
    if len(by_place) > most:
        for place, (held, _) in list(by_place.items()):
            if held() is None:
                by_place.pop(place, None)
