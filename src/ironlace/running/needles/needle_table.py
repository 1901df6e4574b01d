"""The open table of needles: dimensions, each with its source and grade."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ironlace.evidence.grades import Grade, weakest
from ironlace.running.errors import RunningError

_DIMENSIONS = ("shank", "butt_to_eye", "overall")
_SHAPES = ("round", "flatted", "unknown")
_MOST_MM = 200.0
"""No needle of a sewing machine is longer."""


@dataclass(frozen=True, slots=True)
class Dimension:
    """A length in mm with what vouches for it."""

    mm: float
    grade: Grade
    source: str


@dataclass(frozen=True, slots=True)
class Needle:
    """One row of the table: name, words, shape of the shank, dimensions, sizes made."""

    name: str
    words: str
    shape: str
    shank: Dimension
    butt_to_eye: Dimension
    overall: Dimension | None
    sizes: tuple[int, ...]

    @property
    def grade(self) -> Grade:
        """That of its weakest dimension."""
        return weakest([self.shank.grade, self.butt_to_eye.grade])


def needle_table(text: str) -> tuple[Needle, ...]:
    """Read a table of needles from TOML.

    Raises RunningError when it is no TOML, or a row lacks a dimension, its source or its grade.
    """
    try:
        read = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RunningError(f"The table of needles cannot be read as TOML: {error}.") from error
    rows = read.get("needle")
    if not isinstance(rows, list) or not rows:
        raise RunningError("The table of needles has no [[needle]]: list one needle at least.")
    return tuple(_needle(row, at) for at, row in enumerate(rows, 1))


def own_table() -> tuple[Needle, ...]:
    """The table that comes with the program."""
    return needle_table(own_text())


def own_text() -> str:
    """The table that comes with the program, as it is written."""
    from importlib.resources import files

    return files(__package__ or "").joinpath("needles.toml").read_text(encoding="utf-8")


def _needle(row: Any, at: int) -> Needle:
    if not isinstance(row, dict) or not str(row.get("name", "")).strip():
        raise RunningError(f"Needle {at} of the table has no name: give it one.")
    name = str(row["name"])[:60]
    shape = str(row.get("shape", "unknown"))
    if shape not in _SHAPES:
        raise RunningError(
            f"'{name}' has a shank of shape '{shape[:20]}': use {', '.join(_SHAPES)}."
        )
    found = {key: _dimension(row, name, key) for key in _DIMENSIONS if key in row}
    for key in ("shank", "butt_to_eye"):
        if key not in found:
            raise RunningError(f"'{name}' has no {key}: give mm, grade and source.")
    sizes = row.get("sizes", [])
    if not isinstance(sizes, list) or not all(isinstance(s, int) and 20 <= s <= 400 for s in sizes):
        raise RunningError(f"The sizes of '{name}' are no list of needle sizes such as [80, 90].")
    return Needle(
        name,
        str(row.get("words", ""))[:80],
        shape,
        found["shank"],
        found["butt_to_eye"],
        found.get("overall"),
        tuple(sizes),
    )


def _dimension(row: Mapping[str, Any], name: str, key: str) -> Dimension:
    given = row[key]
    if not isinstance(given, dict) or not {"mm", "grade", "source"} <= set(given):
        raise RunningError(f"{key} of '{name}' needs mm, grade and source.")
    try:
        grade = Grade(given["grade"])
        mm = float(given["mm"])
    except (ValueError, TypeError) as error:
        raise RunningError(
            f"{key} of '{name}' cannot be used: mm is a number, grade one of {', '.join(Grade)}."
        ) from error
    if not 0.0 < mm < _MOST_MM:
        raise RunningError(f"{key} of '{name}' is {mm:g} mm: give a length of a needle.")
    return Dimension(mm, grade, str(given["source"])[:300])
