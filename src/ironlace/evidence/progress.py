"""How long work says how far it has come."""

from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called with the name of the step at hand and the share of the whole that is done, 0 to 1."""


def unheard(_step: str, _share: float) -> None:
    """Take a report of progress that nobody waits for."""
