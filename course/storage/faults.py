"""What a database or a disk complains of, in plain words."""

from __future__ import annotations

import errno
import os

from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as NoneFreeError

from course.errors import BusyError, CourseError, DamageError, StorageError
from course.storage import postgresql
from course.storage.database import SQLITE

_NO_ROOM = "the disk is full. Make room on it, then do it again"
_NOT_WRITABLE = (
    "the folder or a file in it cannot be written. Check whose it is and whether the disk is "
    "read-only, then do it again"
)
_IN_USE = "another program holds the database. Close it, then do it again"
_TROUBLE = "the disk reports a fault. Check it, copy the folder elsewhere, and do it again there"
_NO_DATABASE = "the file is no whole database any more. Restore the newest backup into an empty folder"
_CODES = {
    5: _IN_USE,
    6: _IN_USE,
    8: _NOT_WRITABLE,
    10: _TROUBLE,
    11: _NO_DATABASE,
    13: _NO_ROOM,
    14: _NOT_WRITABLE,
    26: _NO_DATABASE,
}
_CODE_OF_TEXT = {"database or disk is full": 13}
"""The online backup tells its complaints by text alone."""
_DAMAGED = (11, 26)
FAULTS = (DBAPIError, NoneFreeError, SQLITE.Error, OSError, UnicodeDecodeError)
"""What the database, its driver and the system raise; a bit that turned round can make text unreadable."""
_ERRNOS = {
    errno.ENOSPC: _NO_ROOM,
    errno.EDQUOT: _NO_ROOM,
    errno.EFBIG: "the file has reached the greatest size allowed here. Lift the limit or move the folder, then "
    "do it again",
    errno.EROFS: _NOT_WRITABLE,
    errno.EACCES: _NOT_WRITABLE,
    errno.EPERM: _NOT_WRITABLE,
    errno.EIO: _TROUBLE,
}


def not_saved(error: BaseException) -> CourseError:
    """Return the error to raise when something could not be saved; other errors for people pass as they are."""
    if isinstance(error, BusyError):
        return BusyError(f"NOT saved: a{error.sentence[1:]}")
    if isinstance(error, CourseError):
        return error
    return StorageError(f"NOT saved: {reason(error)}. What was saved before is kept.")


def unreadable(error: BaseException, what: str) -> CourseError:
    """Return the error to raise when something could not be opened or read; `what` begins the sentence.

    Raises:
        KeyboardInterrupt: the driver only complains of being left in the middle of an answer, by Ctrl-C.
    """
    if isinstance(error, CourseError):
        return error
    if _broken_off(error):
        raise KeyboardInterrupt from error
    damaged = isinstance(error, UnicodeDecodeError) or _code(error) in _DAMAGED or postgresql.damaged(error)
    kind = DamageError if damaged else StorageError
    return kind(f"{what}: {reason(error)}. Nothing was changed.")


def reason(error: BaseException) -> str:
    """Tell an error of the database or the system as part of a sentence, with the way out."""
    if _broken_off(error):
        return "it was broken off (Ctrl-C). Look whether it is there, then do it again"
    if isinstance(error, OSError) and error.errno is not None:
        plain = os.strerror(error.errno)
        return _ERRNOS.get(error.errno, f"the system says {plain!r}")
    if isinstance(error, UnicodeDecodeError):
        return _NO_DATABASE
    if isinstance(error, NoneFreeError):
        return "too many are reading at once. Do it again"
    told = _CODES.get(_code(error)) or postgresql.reason(error)
    if told:
        return told
    inner = _inner(error)
    return f"the program met a fault of its own ({type(inner).__name__}: {inner}). Please report it"


def _broken_off(error: BaseException | None) -> bool:
    """Whether Ctrl-C is at the bottom of it: a driver that is left in the middle of an answer complains on top."""
    while error is not None and not isinstance(error, KeyboardInterrupt):
        error = error.__context__
    return error is not None


def _inner(error: BaseException) -> BaseException:
    if isinstance(error, DBAPIError) and error.orig is not None:
        return error.orig
    return error


def _code(error: BaseException) -> int:
    """The primary result code of SQLite, 0 when there is none (extended codes keep it in the low byte).

    A full disk also makes taking back a half-done save complain; the first complaint is the one to tell.
    """
    code = 0
    cause: BaseException | None = error
    while cause is not None:
        inner = _inner(cause)
        found = int(getattr(inner, "sqlite_errorcode", _CODE_OF_TEXT.get(str(inner), 0))) & 0xFF
        code = found if found in _CODES else code
        cause = cause.__context__
    return code
