"""What disk and database refuse, as a sentence: one place for pages, commands and work in hand."""

import errno
import sqlite3
from collections.abc import Iterator
from typing import Final

from ironlace.evidence.errors import IronlaceError, NotFoundError


class NoRoomError(IronlaceError):
    """The disk is full, or what a person may use of it is."""

    http_status = 507


class NotNowError(IronlaceError):
    """The workshop cannot be read or written at the moment."""

    http_status = 503


class NoSuchPlaceError(IronlaceError):
    """A place that was asked for cannot be one."""


NO_ROOM: Final = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
"""Errors of the system that say that nothing more can be written."""
_NOT_LET: Final = frozenset({errno.EROFS, errno.EACCES, errno.EPERM})
_NO_SUCH_PLACE: Final = frozenset(
    {errno.ENOTDIR, errno.EISDIR, errno.EEXIST, errno.ENAMETOOLONG, errno.ELOOP}
)
"""A place that was asked for and cannot be: a file stands in its way, its name is too long. That a
file is not there (ENOENT) is not among them, since it may be one of ours."""
_TOO_MANY: Final = frozenset({errno.EMFILE, errno.ENFILE, errno.ENOMEM})
_FULL = "The disk is full: free some space, then do this again. Nothing of it was kept."
_NOT_WRITABLE = (
    "The workshop's folder does not let itself be written to: copy it to a disk you can write on, "
    "or put its permissions right."
)
_UNREADABLE = (
    "The disk could not be read or written: free some space if it is full; if it is not, back up "
    "what can be read, then look at the disk."
)
_DAMAGED = "The database is damaged: run 'ironlace check', and restore a backup."
_HELD = "Another program holds the workshop's database: close it, then do this again."
_OF_SQLITE: Final[dict[str, tuple[type[IronlaceError], str]]] = {
    "FULL": (NoRoomError, _FULL),
    "READONLY": (NotNowError, _NOT_WRITABLE),
    "BUSY": (NotNowError, _HELD),
    "LOCKED": (NotNowError, _HELD),
    "CANTOPEN": (
        NotNowError,
        "The workshop's database cannot be opened: was its folder moved, or its disk taken out?",
    ),
    "IOERR": (NotNowError, _UNREADABLE),
    "CORRUPT": (NotNowError, _DAMAGED),
    "NOTADB": (NotNowError, _DAMAGED),
}
"""By the middle of SQLite's name of its result (SQLITE_IOERR_WRITE): the refusal, its sentence."""


def in_words(error: BaseException) -> IronlaceError | None:
    """The refusal that a fault of disk or database comes to; None when it is neither.

    >>> in_words(OSError(errno.ENOSPC, "No space left on device")).http_status
    507
    >>> in_words(ValueError("a slip of ours")) is None
    True
    """
    for one in _chain(error):
        if isinstance(one, IronlaceError):
            return one
        if isinstance(one, OverflowError) and "SQLite" in str(one):
            return NotFoundError("There is nothing of that number here: it is larger than any.")
        if isinstance(one, sqlite3.Error):
            middle = (getattr(one, "sqlite_errorname", None) or "").split("_")
            found = _OF_SQLITE.get(middle[1]) if len(middle) > 1 else None
            if found is not None:
                refusal, says = found
                return refusal(says)
        if isinstance(one, OSError) and one.errno is not None:
            if one.errno in NO_ROOM:
                return NoRoomError(_FULL)
            if one.errno in _NOT_LET:
                where = f" ({one.filename})" if one.filename else ""
                return NotNowError(f"The system does not allow it{where}: see who may write there.")
            if one.errno in _NO_SUCH_PLACE and one.filename:
                return NoSuchPlaceError(
                    f"{one.filename} cannot be written ({one.strerror}): choose another place."
                )
            if one.errno == errno.EIO:
                return NotNowError(_UNREADABLE)
            if one.errno in _TOO_MANY:
                return NotNowError("The computer is short of memory or open files: try again.")
    return None


def _chain(error: BaseException) -> Iterator[BaseException]:
    """An error, what it wraps and what it came of, each once."""
    seen: set[int] = set()
    waiting: list[BaseException | None] = [error]
    while waiting:
        one = waiting.pop(0)
        if not isinstance(one, BaseException) or id(one) in seen:
            continue
        seen.add(id(one))
        yield one
        waiting += [getattr(one, "orig", None), one.__cause__]
