"""A disk that is watched: every write, sync and deletion of SQLite and of the head witness passes through here.

SQLite reaches files through a table of functions (sqlite.org, "The SQLite OS Interface or VFS"). Here its usual one is
copied and those that change a file are put behind ours, in the very library that the program uses: so the program runs
as it is. Limits: bytes only; names of new files count as kept, and a disk that lies about a sync is not met.
"""

from __future__ import annotations

import ctypes
import errno
import importlib
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

from course.storage import witness
from course.storage.database import SQLITE

FULL, FAULT_AT_WRITE, FAULT_AT_SYNC, READ_ONLY = 13, 10 | (3 << 8), 10 | (4 << 8), 8
"""SQLite's codes: no room, a write that failed, a sync that failed, no write allowed (sqlite.org, "Result Codes")."""
_NAME = b"watched"
_VFS_BYTES, _METHODS_BYTES = 168, 152
_X_NAME, _X_OPEN, _X_DELETE = 24, 40, 48
_X_CLOSE, _X_WRITE, _X_TRUNCATE, _X_SYNC = 8, 24, 32, 40
_pointer, _int, _long, _text = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64, ctypes.c_char_p
_OPEN = ctypes.CFUNCTYPE(_int, _pointer, _pointer, _pointer, _int, _pointer)
_DELETE = ctypes.CFUNCTYPE(_int, _pointer, _pointer, _int)
_CLOSE = ctypes.CFUNCTYPE(_int, _pointer)
_WRITE = ctypes.CFUNCTYPE(_int, _pointer, _pointer, _int, _long)
_TRUNCATE = ctypes.CFUNCTYPE(_int, _pointer, _long)
_SYNC = ctypes.CFUNCTYPE(_int, _pointer, _int)


class Act(NamedTuple):
    """One thing that was done to a file; `told` is none: from there on somebody was told that it is saved."""

    what: str
    file: str
    at: int = 0
    data: bytes = b""


def _word(at: int) -> int:
    return ctypes.c_uint64.from_address(at).value


class WatchedDisk:
    """What was done to every file since the beginning, and what is to fail.

    Attributes:
        acts: all that was done, in order.
        fails: asked before each act; gives SQLite's code of what is to go wrong, 0 for nothing.
    """

    def __init__(self) -> None:
        self.acts: list[Act] = []
        self.fails: Callable[[Act], int] = lambda _: 0
        self._library = ctypes.CDLL(importlib.import_module(SQLITE.__name__.rpartition(".")[0] + "._sqlite3").__file__)
        self._library.sqlite3_vfs_find.restype = _pointer
        self._library.sqlite3_vfs_find.argtypes = [_text]
        self._library.sqlite3_vfs_register.argtypes = [_pointer, _int]
        self._library.sqlite3_vfs_unregister.argtypes = [_pointer]
        self._usual = self._library.sqlite3_vfs_find(None)
        self._own = ctypes.create_string_buffer(ctypes.string_at(self._usual, _VFS_BYTES), _VFS_BYTES)
        self._kept: list[Any] = [ctypes.create_string_buffer(_NAME)]  # what C points to must not be cleared away
        self._files: dict[int, str] = {}
        self._methods: dict[int, Any] = {}
        self._set(self._own, _X_NAME, ctypes.addressof(self._kept[0]))
        self._open = _OPEN(_word(self._usual + _X_OPEN))
        self._delete = _DELETE(_word(self._usual + _X_DELETE))
        self._put(self._own, _X_OPEN, _OPEN(self._opened))
        self._put(self._own, _X_DELETE, _DELETE(self._deleted))

    @contextmanager
    def in_use(self) -> Iterator[WatchedDisk]:
        """Have every connection that is opened from now on, and the head witness, pass through here."""
        self._library.sqlite3_vfs_register(ctypes.addressof(self._own), 1)
        try:
            with (
                mock.patch.object(witness, "_write_all", self._witness_written(witness._write_all)),
                mock.patch.object(witness, "sync_file", self._witness_synced(witness.sync_file)),
            ):
                yield self
        finally:
            self._library.sqlite3_vfs_unregister(ctypes.addressof(self._own))

    def told(self, what: str) -> None:
        """Note that somebody was told that it is saved."""
        self.acts.append(Act("told", what))

    def _set(self, table: Any, at: int, address: int | None) -> None:
        ctypes.c_uint64.from_address(ctypes.addressof(table) + at).value = address or 0

    def _put(self, table: Any, at: int, function: Any) -> None:
        self._kept.append(function)
        self._set(table, at, ctypes.cast(function, _pointer).value)

    def _done(self, act: Act) -> int:
        failed = self.fails(act)
        if not failed:
            self.acts.append(act)
        return failed

    def _opened(self, _: int, name: int | None, file: int, flags: int, out: int | None) -> int:
        code: int = self._open(self._usual, name, file, flags, out)  # the very name: it is kept, not copied
        if code == 0 and name:
            usual = _word(file)
            if usual not in self._methods:
                self._methods[usual] = self._watching(usual)
            self._files[file] = os.fsdecode(ctypes.string_at(name))
            ctypes.c_uint64.from_address(file).value = ctypes.addressof(self._methods[usual])
        return code

    def _watching(self, usual: int) -> Any:
        """A table of functions of an open file, like the usual one but for those that change it."""
        table = ctypes.create_string_buffer(ctypes.string_at(usual, _METHODS_BYTES), _METHODS_BYTES)
        close, write = _CLOSE(_word(usual + _X_CLOSE)), _WRITE(_word(usual + _X_WRITE))
        truncate, sync = _TRUNCATE(_word(usual + _X_TRUNCATE)), _SYNC(_word(usual + _X_SYNC))
        named = self._files

        def closed(file: int) -> int:
            named.pop(file, None)
            return int(close(file))

        def written(file: int, data: int, length: int, at: int) -> int:
            act = Act("write", named[file], at, ctypes.string_at(data, length))
            return self._done(act) or int(write(file, data, length, at))

        def truncated(file: int, size: int) -> int:
            return self._done(Act("truncate", named[file], size)) or int(truncate(file, size))

        def synced(file: int, flags: int) -> int:
            return self._done(Act("sync", named[file])) or int(sync(file, flags))

        self._put(table, _X_CLOSE, _CLOSE(closed))
        self._put(table, _X_WRITE, _WRITE(written))
        self._put(table, _X_TRUNCATE, _TRUNCATE(truncated))
        self._put(table, _X_SYNC, _SYNC(synced))
        return table

    def _deleted(self, _: int, name: int, at_once: int) -> int:
        act = Act("delete", os.fsdecode(ctypes.string_at(name)), at_once)
        return self._done(act) or int(self._delete(self._usual, name, at_once))

    def _witness_written(self, real: Callable[[int, bytes], None]) -> Callable[[int, bytes], None]:
        def write(descriptor: int, data: bytes) -> None:
            act = Act("write", _path(descriptor), os.lseek(descriptor, 0, os.SEEK_END), data)
            if self._done(act):
                os.write(descriptor, data[: len(data) // 2])  # as much as there was room for
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            real(descriptor, data)

        return write

    def _witness_synced(self, real: Callable[[int], None]) -> Callable[[int], None]:
        def sync(descriptor: int) -> None:
            if self._done(Act("sync", _path(descriptor))):
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            real(descriptor)

        return sync


def _path(descriptor: int) -> str:
    return str(Path(f"/proc/self/fd/{descriptor}").readlink())
