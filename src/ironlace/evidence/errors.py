"""The parent of every error that a person can put right."""

from collections.abc import Iterator
from contextlib import contextmanager


class IronlaceError(Exception):
    """Something came in that cannot be used.

    The message is one sentence that says what came, what was needed and what to do. The command
    line prints it and ends with exit code 2; the web answers with `http_status`.
    """

    http_status: int = 422


class NotFoundError(IronlaceError):
    """A record, entry, photograph or job of that name is not in this workshop."""

    http_status = 404


class ConflictError(IronlaceError):
    """The thing was changed, or is in use, since it was last read."""

    http_status = 409


@contextmanager
def spoilt_as(refused: type[IronlaceError], says: str) -> Iterator[None]:
    """Refuse a file that a library stumbles over, whatever it stumbles with.

    For readers of formats whose libraries raise anything at all at a spoilt file: within it any
    fault but a refusal of ours or want of memory becomes the refusal given, with its cause.
    """
    try:
        yield
    except (IronlaceError, MemoryError):
        raise
    except Exception as error:
        raise refused(says) from error
