"""Examples that several kinds give, and readings that stand beside what was read."""

from collections.abc import Callable

from pydantic import ValidationInfo

from ironlace.evidence.errors import IronlaceError
from ironlace.record.entry_types import KEPT

BENCH_DAY = "4 May 2024"
OLD_DAY = "about April 1893"


def read_otherwise(
    write: Callable[[str, str], str], lines: tuple[str, ...], info: ValidationInfo
) -> tuple[str, ...]:
    """Lines of other readings, each written anew beside what the entry reads; kept ones as kept.

    Raises ValueError, as pydantic wants it, where a line cannot be read.
    """
    if info.context is KEPT:
        return lines
    try:
        return tuple(write(line, info.data.get("reads", "")) for line in lines)
    except IronlaceError as error:
        raise ValueError(str(error)) from error
