"""A drawing on the bench: its paths by number, and the changes made to it by hand.

A change names the paths it takes away and those it puts there, and nothing else, so any change can
be taken back, in turn, to the very beginning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np

from ironlace.evidence.grades import Grade
from ironlace.ornament.errors import ReworkError
from ironlace.ornament.outline.drawing import BlindPlace, ClosedPath, Drawing, FilledPlace
from ironlace.ornament.outline.regrade import DRAWN

MOST_PATHS: Final = 20_000
"""Outlines in one drawing. A bound on time; the densest demo ornament has some 400."""


@dataclass(frozen=True)
class Evidence:
    """What a hand change stands on: conjecture, unless the person points at something better."""

    grade: Grade = Grade.CONJECTURED
    source: str = DRAWN


@dataclass(frozen=True)
class DrawnChange:
    """Paths taken away and put there; the numbers of new ones follow on the highest before.

    ``before`` holds what stood under each number that is taken away or replaced.
    """

    before: Mapping[int, ClosedPath]
    after: Mapping[int, ClosedPath]

    @property
    def back(self) -> DrawnChange:
        """The change that undoes this one."""
        return DrawnChange(self.after, self.before)

    def as_dict(self) -> dict[str, Any]:
        """The change as plain lists, ready for JSON; read back by `from_dict`."""
        return {
            "before": {str(n): path_as_dict(p) for n, p in self.before.items()},
            "after": {str(n): path_as_dict(p) for n, p in self.after.items()},
        }

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> DrawnChange:
        """The inverse of `as_dict`."""
        return cls(
            {int(n): path_from_dict(p) for n, p in told["before"].items()},
            {int(n): path_from_dict(p) for n, p in told["after"].items()},
        )


@dataclass(frozen=True)
class Workpiece:
    """A drawing whose paths carry numbers that stay the same from change to change."""

    paths: Mapping[int, ClosedPath]
    bounds_mm: tuple[float, float, float, float]
    colours: Mapping[str, tuple[int, int, int]] = field(default_factory=dict)
    next_number: int = 0
    blind: tuple[BlindPlace, ...] = ()
    filled: tuple[FilledPlace, ...] = ()

    @classmethod
    def of(cls, drawing: Drawing) -> Workpiece:
        """Number a drawing's paths in their order."""
        paths = dict(enumerate(drawing.paths))
        return cls(
            paths,
            drawing.bounds_mm,
            dict(drawing.colours),
            len(paths),
            drawing.blind,
            drawing.filled,
        )

    def drawing(self) -> Drawing:
        """The drawing as it stands."""
        paths = tuple(self.paths[n] for n in sorted(self.paths))
        return Drawing(paths, self.bounds_mm, self.colours, self.blind, self.filled)

    def path(self, number: int) -> ClosedPath:
        """One path.

        Raises
        ------
        ReworkError
            When there is none of that number.
        """
        found = self.paths.get(number)
        if found is None:
            raise ReworkError(f"There is no outline {number} any more: choose one that is drawn.")
        return found

    def with_change(self, change: DrawnChange) -> Workpiece:
        """The workpiece after a change."""
        paths = {n: p for n, p in self.paths.items() if n not in change.before}
        paths.update(change.after)
        if len(paths) > MOST_PATHS:
            raise ReworkError(f"More than {MOST_PATHS} outlines are more than a drawing can hold.")
        highest = max([self.next_number, *(n + 1 for n in change.after)])
        return replace(self, paths=paths, next_number=highest)

    def replacing(self, number: int, path: ClosedPath) -> DrawnChange:
        """The change that puts another path in a path's place."""
        return DrawnChange({number: self.path(number)}, {number: path})

    def exchanging(self, gone: Iterable[int], new: Iterable[ClosedPath]) -> DrawnChange:
        """The change that takes some paths away and puts others there, under new numbers."""
        before = {n: self.path(n) for n in gone}
        after = {self.next_number + k: p for k, p in enumerate(new)}
        return DrawnChange(before, after)


def path_as_dict(path: ClosedPath) -> dict[str, Any]:  # dict: plain JSON for the page
    """A path as plain lists: its curves as eight figures each, in mm."""
    return {
        "layer": path.layer,
        "curves": [[float(f"{v:.10g}") for v in c] for c in path.curves.reshape(-1, 8)],
        "grades": [str(g) for g in path.grades],
        "sources": list(path.sources),
    }


def path_from_dict(told: Mapping[str, Any]) -> ClosedPath:
    """The inverse of `path_as_dict`."""
    return ClosedPath(
        np.array(told["curves"], np.float64).reshape(-1, 4, 2),
        tuple(Grade(g) for g in told["grades"]),
        tuple(str(s) for s in told["sources"]),
        str(told["layer"]),
    )
