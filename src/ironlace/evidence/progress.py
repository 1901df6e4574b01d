"""How long work says how far it has come, and keeps what it has done so far."""

from collections.abc import Callable
from typing import Any, TypeVar

from numpy.typing import NDArray

Progress = Callable[[str, float], None]
"""Called with the name of the step at hand and the share of the whole that is done, 0 to 1."""

Arrays = dict[str, NDArray[Any]]
"""What a step is kept as."""

_T = TypeVar("_T")


def unheard(_step: str, _share: float) -> None:
    """Take a report of progress that nobody waits for."""


class Steps:
    """The steps of long work: this one reports to nobody and keeps nothing.

    A job in a workshop hands in one that does both, so that it goes on after a crash where it was.
    It is called as any `Progress` is.
    """

    def __call__(self, step: str, share: float) -> None:
        """Report the step at hand and the share of the whole that is done."""

    def kept(
        self,
        name: str,
        make: Callable[[], _T],
        to_arrays: Callable[[_T], Arrays],  # noqa: ARG002
        from_arrays: Callable[[Arrays], _T],  # noqa: ARG002
    ) -> _T:
        """Return a step's result: made now, or as it was kept under its name.

        Parameters
        ----------
        make
            Makes it.
        to_arrays, from_arrays
            Turn it into named arrays and back.
        """
        del name
        return make()
