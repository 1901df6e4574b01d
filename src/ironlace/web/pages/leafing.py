"""Long lists, a leaf at a time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Generic, TypeVar

from fastapi import Depends
from starlette.requests import Request

_T = TypeVar("_T")


@dataclass(frozen=True)
class Leaf(Generic[_T]):
    """One leaf of a long list; leaves are counted from 1."""

    items: Sequence[_T]
    number: int
    of: int
    total: int


def leaf_of(items: Sequence[_T], number: int, size: int) -> Leaf[_T]:
    """Return a leaf; a number beyond the last gives the last.

    >>> leaf_of(list(range(25)), 3, 10).items
    [20, 21, 22, 23, 24]
    >>> leaf_of([], 1, 10).of
    1
    """
    count = max(1, -(-len(items) // size))
    at = min(max(1, number), count)
    return Leaf(items[(at - 1) * size : at * size], at, count, len(items))


def leaf_number(request: Request) -> int:
    """Which leaf an address asks for; the first when it does not say."""
    text = request.query_params.get("page", "")
    return int(text) if text.isdecimal() and len(text) < 9 else 1


LeafDep = Annotated[int, Depends(leaf_number)]
