"""What an analysis answers: results with their grades, sentences, tables, plots, files.

One shape for every room, so that page, command, account and package tell an answer the same way.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, overload

from ironlace.evidence.findings import Result


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under headings, all in words."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot and its text equivalent.

    Attributes
    ----------
    title
        What it shows.
    svg
        The drawing, without XML prologue, to be put into a page.
    sentences
        The same in words.
    table
        The same as a table: first row the headers.
    """

    title: str
    svg: str
    sentences: tuple[str, ...]
    table: tuple[tuple[str, ...], ...]


class PlotsWhenSeen(Sequence[Plot]):
    """Plots that are drawn when somebody first looks at them: a command never does.

    >>> plots = PlotsWhenSeen(lambda: [Plot("Dots", "<svg/>", ("One dot.",), (("n",), ("1",)))])
    >>> [plot.title for plot in plots], len(plots)
    (['Dots'], 1)
    """

    def __init__(self, draw: Callable[[], Sequence[Plot]]) -> None:
        self._draw = draw

    @cached_property
    def _drawn(self) -> tuple[Plot, ...]:
        return tuple(self._draw())

    @overload
    def __getitem__(self, at: int) -> Plot: ...
    @overload
    def __getitem__(self, at: slice) -> tuple[Plot, ...]: ...
    def __getitem__(self, at: int | slice) -> Plot | tuple[Plot, ...]:
        """The plot, or plots, at a place."""
        return self._drawn[at]

    def __len__(self) -> int:
        return len(self._drawn)


@dataclass(frozen=True, slots=True)
class MadeFile:
    """A file that comes of an answer; its content is made when it is asked for.

    `on_paper` says that it is a drawing (SVG in mm) that is wanted on paper at true scale too.
    """

    name: str
    media_type: str
    words: str
    content: Callable[[], bytes]
    on_paper: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of an analysis.

    Attributes
    ----------
    results
        The values, each with unit, interval and grade; the first is the answer to the question.
    sentences
        The answer in plain words; the first three must do for someone who reads no further, and
        whatever could make the answer wrong stands among them.
    figures
        Every figure as plain values (JSON), as `--json` writes them.
    tables, plots, files
        What else there is to see and to take along.
    """

    results: tuple[Result, ...]
    sentences: tuple[str, ...]
    figures: Mapping[str, Any] = field(default_factory=dict)
    tables: tuple[Table, ...] = ()
    plots: Sequence[Plot] = ()
    files: tuple[MadeFile, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Plain values for JSON: the figures, the results, the sentences."""
        return {
            **self.figures,
            "results": [result.model_dump(mode="json") for result in self.results],
            "sentences": list(self.sentences),
        }
