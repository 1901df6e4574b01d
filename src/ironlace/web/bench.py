"""What every page stands on: the open workshop, its jobs, the gate, the limits."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from threading import Lock, Thread, current_thread
from typing import Annotated, TypeVar, cast
from urllib.parse import unquote

from fastapi import Depends
from starlette.requests import Request

from ironlace.web.tokens import Gate
from ironlace.workshop import Workshop
from ironlace.workshop.work.jobs import Jobs

MB = 1_000_000
"""Bytes of a megabyte, as disks are sold."""

_REMEMBERED = 24
"""What one page of a survey puts together (five answers, each under two names), twice over."""
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Limits:
    """How much is taken in at once, in bytes and files."""

    photograph: int = 500 * MB
    request: int = 8_000 * MB
    fields: int = 2 * MB
    files: int = 400


class Bench:
    """An open workshop as the pages see it."""

    def __init__(self, workshop: Workshop, gate: Gate, limits: Limits) -> None:
        self.workshop = workshop
        self.records = workshop.records
        self.photographs = workshop.photographs
        self.jobs = Jobs(workshop.database)
        self.gate = gate
        self.limits = limits
        # views of one picture are made once, even when a page asks for several at a time
        self._making = [Lock() for _ in range(16)]
        self._remembered: OrderedDict[Hashable, object] = OrderedDict()
        self._remembering = Lock()
        self._ahead: dict[Hashable, Thread] = {}

    def making(self, sha256: str) -> Lock:
        """The lock under which views of one picture are made."""
        return self._making[int(sha256[:2], 16) % len(self._making)]

    def remembered(self, key: Hashable, make: Callable[[], _T]) -> _T:
        """Return what was made for a key a moment ago, else make it; only the last few are held.

        Where work is being done ahead for the key, it is waited for, not done beside it.
        """
        with self._remembering:
            ahead = self._ahead.get(key)
        if ahead is not None and ahead is not current_thread():  # which asks for it itself
            ahead.join()
        with self._remembering:
            if key in self._remembered:
                self._remembered.move_to_end(key)
                return cast(_T, self._remembered[key])
        made = make()
        self.remember(key, made)
        return made

    def remember(self, key: Hashable, made: object) -> None:
        """Hold what was made for a key, for a while."""
        with self._remembering:
            self._remembered[key] = made
            while len(self._remembered) > _REMEMBERED:
                self._remembered.popitem(last=False)

    def recall(self, key: Hashable) -> object | None:
        """Return what is still held for a key, None when it is not."""
        with self._remembering:
            return self._remembered.get(key)

    def ahead(self, key: Hashable, work: Callable[[], object]) -> None:
        """Have work done while a page is looked at, on a thread of its own; one at a time to a key.

        What is worth keeping of it the work remembers itself. A fault in it keeps nobody from the
        page: whoever needs the work does it then for themselves, and is told.
        """

        def done() -> None:
            try:
                work()
            finally:
                with self._remembering:
                    self._ahead.pop(key, None)

        with self._remembering:
            if key in self._ahead:
                return
            thread = self._ahead[key] = Thread(target=done, name="ahead", daemon=True)
            thread.start()  # before anybody can wait for it


def bench_of(request: Request) -> Bench:
    """The bench that answers a request."""
    found = request.app.state.bench
    assert isinstance(found, Bench)
    return found


def hand_of(request: Request) -> str:
    """The name that goes with changes made from this browser."""
    return unquote(str(request.state.hand))[:200]


BenchDep = Annotated[Bench, Depends(bench_of)]
HandDep = Annotated[str, Depends(hand_of)]
