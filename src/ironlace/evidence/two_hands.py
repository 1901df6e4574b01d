"""Work done by two threads at once, each of which keeps to one core.

A library of linear algebra sets threads of its own to every product of matrices. Two workers whose
products each call upon two threads wait for one another: 24 photographs were laid to one another in
15 processor seconds where one thread each took 8 (`bench/marks_relief.py speed`).
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

from threadpoolctl import threadpool_limits


@contextmanager
def two_hands(count: int = 2) -> Iterator[ThreadPoolExecutor]:
    """A pool of so many workers, two if nothing is said.

    Products of matrices keep to one thread in the whole process meanwhile, and have their threads
    back when the last of the work is done.
    """
    with threadpool_limits(1, user_api="blas"), ThreadPoolExecutor(count) as pool:
        yield pool
