"""Reading what came from outside in a process of its own, which may be ended and take no more.

A file that is small on the disk may ask for all memory or never come to its end, and a decoder in C
may break off and take its process with it. What is read aside costs the bench one sentence.
"""

import os
import pickle
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar, cast

from ironlace.evidence.errors import IronlaceError

MEMORY: Final = 1_400_000_000
"""Bytes that reading may take: 200 million pixels decode to 800 million. A judgement."""
SECONDS: Final = 30.0
"""Time that reading may take on the computer's clock. A judgement."""
_Answer = TypeVar("_Answer")
_IS, _REFUSED, _TOO_MUCH, _FAULT = "is", "refused", "too much", "fault"


class TooHeavyError(IronlaceError):
    """Something that came from outside asks for more memory or time than reading may take."""

    http_status = 413


class ReaderFaultError(RuntimeError):
    """The reader met a fault of its own; its last words are the program's to log."""


def aside(
    function: Callable[..., _Answer],
    *args: object,
    what: str,
    instead: str,
    memory: int = MEMORY,
    seconds: float = SECONDS,
) -> _Answer:
    """Return ``function(*args)``, computed in a process that is ended where it takes too much.

    Parameters
    ----------
    function
        Stands at the top of a module; arguments and answer go through ``pickle``.
    what, instead
        Subject of the refusal ("dial.png") and what to do instead ("export it smaller").
    memory
        In bytes, beyond what the program itself takes. Held where the system lets a process be
        limited (Linux; others hold it in part or not at all).
    seconds
        On the computer's clock.

    Raises
    ------
    TooHeavyError
        When it took more, or the reader broke off.
    IronlaceError
        The refusal of the function itself.
    ReaderFaultError
        When the function failed otherwise.
    """
    asked = pickle.dumps((function, args, memory, 2 * seconds))
    with subprocess.Popen(
        [sys.executable, "-W", "ignore", "-c", f"from {__name__} import answer; answer()"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
    ) as process:
        try:
            told, _ = process.communicate(asked, timeout=seconds)
        except subprocess.TimeoutExpired as error:
            raise TooHeavyError(
                f"{what} was not read within {seconds:.0f} seconds, so it was let go: {instead}."
            ) from error
        finally:
            process.kill()  # does nothing to one that has ended
    if not told:
        raise TooHeavyError(f"The reader broke off at {what}: {instead}.")
    kind, answer = pickle.loads(told)  # noqa: S301  (written by our own process)
    if kind == _IS:
        return cast(_Answer, answer)
    if kind == _REFUSED:
        raise answer
    if kind == _TOO_MUCH:
        raise TooHeavyError(
            f"{what} takes more than {memory / 1e9:.1f} GB of memory to read: {instead}."
        )
    raise ReaderFaultError(answer)


def _answered(function: Callable[..., object], args: tuple[object, ...]) -> tuple[str, Any]:
    try:
        return _IS, function(*args)
    except IronlaceError as error:
        return _REFUSED, error
    except MemoryError:
        return _TOO_MUCH, ""
    except Exception as error:  # noqa: BLE001  (told to the program that waits, which logs it)
        return (_TOO_MUCH, "") if _for_want_of_memory(error) else (_FAULT, repr(error))


def _for_want_of_memory(error: BaseException | None) -> bool:
    """Whether an error came of memory refused, as C libraries tell it."""
    while error is not None:
        if isinstance(error, MemoryError) or "insufficient memory" in str(error).lower():
            return True
        error = error.__cause__ or error.__context__
    return False


def _held_to(memory: int) -> None:
    """Let this process take no more than so many bytes beyond what it has."""
    try:
        import resource
    except ImportError:  # a system without limits: time is still held
        return
    try:
        has = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    except OSError:  # no such account of a process here
        has = 0
    most = has + memory
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    if hard != resource.RLIM_INFINITY:
        most = min(most, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def answer() -> None:
    """Be the process that reads: take what is asked from standard input, answer on the output."""
    function, args, memory, seconds = pickle.load(sys.stdin.buffer)  # noqa: S301  (our own program)
    # should the program that waits be gone, nobody ends this process from outside
    ending = threading.Timer(seconds, os._exit, (1,))
    ending.daemon = True
    ending.start()
    out = sys.stdout.buffer
    sys.stdout = sys.stderr  # what a library prints is not part of the answer
    _held_to(memory)
    out.write(pickle.dumps(_answered(function, args)))
    out.flush()
