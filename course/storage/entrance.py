"""Who is signed in, and how often somebody guessed wrongly: a small file of its own, in no backup, bundle or ledger.

Of a session's token only the SHA-256 is kept: who reads the file cannot sign in with it. Time is counted, not read:
each call adds what the clock went on since the last one, or what a steady clock of this process says if that is more.
So a clock that goes back ends no session, and while the program runs prolongs none and shortens no wait; what passed
while the program was shut and the clock was turned back is not known and not counted.

That a session was used is written down every half minute at most. In between its answer is remembered, for as long as
nothing but this object wrote the file: SQLite counts changes in it, and what ends a session here forgets it at once.
"""

from __future__ import annotations

import contextlib
import hashlib
import math
import os
import secrets
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

from course.moments import now
from course.storage.database import SQLITE
from course.storage.faults import FAULTS, not_saved

FILE = "entrance.db"
IDLE_SECONDS, ABSOLUTE_SECONDS = 2 * 3600, 12 * 3600
"""A session ends after two hours unused and after a day's work at the latest (our own choice, common practice)."""
LONGEST_WAIT_SECONDS = 300
NOTED_SECONDS = 30
"""How often at most it is written down that a session was used."""
FORGOTTEN_AFTER_SECONDS = 24 * 3600
"""A name or address with no wrong guess for a day starts anew."""
TOGETHER_FREE, TOGETHER_SECONDS = 30, 5
"""Wrong guesses at the door, at whomever and from wherever, that are free; how soon one comes back (our own choice)."""
KNOWN_SECONDS = 30 * 24 * 3600
"""How long an address from which somebody signed in does not wait for what others guess elsewhere: at many names, or at
that person's own, where whoever never stops guessing would else take each turn that comes."""
Strength = Literal["password", "pin"]
_TABLES = (
    (
        "CREATE TABLE IF NOT EXISTS passed(one INTEGER PRIMARY KEY CHECK(one=1), clock REAL NOT NULL, "
        "seconds REAL NOT NULL) STRICT"
    ),
    (
        "CREATE TABLE IF NOT EXISTS session(token TEXT PRIMARY KEY, person TEXT NOT NULL, strength TEXT NOT NULL, "
        "started REAL NOT NULL, seen REAL NOT NULL, grounds TEXT NOT NULL) STRICT"
    ),
    # it has another name than in earlier versions, whose table did not say when the guess before was
    (
        "CREATE TABLE IF NOT EXISTS guessed(what TEXT PRIMARY KEY, count INTEGER NOT NULL, at REAL NOT NULL, "
        "before REAL NOT NULL) STRICT"
    ),
    (
        "CREATE TABLE IF NOT EXISTS together(one INTEGER PRIMARY KEY CHECK(one=1), level REAL NOT NULL, "
        "at REAL NOT NULL) STRICT"
    ),
    "CREATE TABLE IF NOT EXISTS known(what TEXT PRIMARY KEY, at REAL NOT NULL) STRICT",
)

_steady_before: dict[tuple[Path, Callable[[], float]], float] = {}
"""What the steady clock said as time was last counted in a file, by whichever object of this process: time that one of
two has counted is not counted by the other again."""


@dataclass(frozen=True)
class Session:
    """Somebody who is signed in, and by what."""

    person: str
    strength: Strength
    grounds: str = ""
    """What signing in rested on, as whoever began the session wrote it; once that is otherwise the session is ended."""


@dataclass(frozen=True)
class _Remembered:
    """A session with what both clocks said when the file was last asked about it."""

    session: Session
    clock: float
    steady: float
    for_seconds: float
    """How long it is remembered."""


class Entrance:
    """The sessions and wrong guesses of one centre. Safe to share between threads.

    Args:
        folder: where the file is kept; it is made if missing, for its owner's eyes only.
        clock: gives the moment in UTC.
        steady: gives seconds that never run backwards, from any beginning.

    Raises:
        StorageError: the file cannot be opened or written; this goes for every call.
    """

    def __init__(
        self, folder: Path, clock: Callable[[], datetime] = now, steady: Callable[[], float] = time.monotonic
    ) -> None:
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as error:
            raise not_saved(error) from error
        self.file = folder / FILE
        self._clock, self._steady = clock, steady
        _steady_before.setdefault((self.file, steady), steady())
        self._lock = threading.Lock()
        self._remembered: dict[tuple[str, bool], _Remembered] = {}
        self._counter: bytes | None = None
        with self._changing():
            pass

    def begin(self, person: str, strength: Strength, instead_of: str | None = None, grounds: str = "") -> str:
        """Begin a session and return its token, always a new one; the session it replaces ends at once.

        One by PIN goes on with the limit of the one that it replaces: a day's work after a password was given.
        """
        token = secrets.token_urlsafe(32)
        with self._changing() as (connection, moment):
            started = moment
            if instead_of is not None:
                gone = "DELETE FROM session WHERE token=? RETURNING started"
                for (before,) in connection.execute(gone, (_kept(instead_of),)).fetchall():
                    started = before if strength == "pin" else moment
                self._remembered.clear()
            row = (_kept(token), person, strength, started, moment, grounds)
            connection.execute("INSERT INTO session VALUES(?, ?, ?, ?, ?, ?)", row)
        return token

    def who(self, token: str, *, used: bool = True) -> Session | None:
        """Return whose token this is; None once it ended or if there never was one.

        Args:
            token: as it was given out.
            used: note that somebody used it. What a page asks by itself, with nobody there, keeps no session going.
        """
        kept = _kept(token)
        with self._lock:
            known = self._still_known((kept, used))
        if known is not None:
            return known
        with self._changing() as (connection, moment):
            connection.execute(
                "DELETE FROM session WHERE ? - seen >= ? OR ? - started >= ?",
                (moment, IDLE_SECONDS, moment, ABSOLUTE_SECONDS),
            )
            if used:
                connection.execute("UPDATE session SET seen=? WHERE token=?", (moment, kept))
            asked = "SELECT person, strength, grounds, started, seen FROM session WHERE token=?"
            rows = connection.execute(asked, (kept,)).fetchall()
            self._remembered.pop((kept, used), None)
            found = None
            for *row, started, seen in rows:
                found = Session(*row)
                left = min(NOTED_SECONDS, started + ABSOLUTE_SECONDS - moment, seen + IDLE_SECONDS - moment)
                self._remembered[kept, used] = _Remembered(found, self._clock().timestamp(), self._steady(), left)
        return found

    def end(self, token: str) -> None:
        """End one session at once."""
        with self._changing() as (connection, _):
            connection.execute("DELETE FROM session WHERE token=?", (_kept(token),))
            self._remembered.clear()

    def end_all_of(self, person: str) -> int:
        """End every session of a person at once, such as when a role changes; return how many there were."""
        with self._changing() as (connection, _):
            ended: int = connection.execute("DELETE FROM session WHERE person=?", (person,)).rowcount
            self._remembered.clear()
        return ended

    def guess(self, account: str, address: str, *, at_door: bool = False) -> int:
        """Return how many whole seconds to wait before a guess is looked at; 0: look at it now.

        One that is looked at counts as wrong until `right` is called, so that many at once get no more looks than one
        after the other. One that has to wait is not counted: who keeps on asking waits no longer for it.

        Args:
            account: what is guessed at.
            address: where the guess comes from.
            at_door: nobody is signed in there yet. Only then the guesses of all together slow each one down, and not
                where somebody signed in from that address before.
        """
        with self._changing() as (connection, moment):
            connection.execute("DELETE FROM guessed WHERE ? - at >= ?", (moment, FORGOTTEN_AFTER_SECONDS))
            connection.execute("DELETE FROM known WHERE ? - at >= ?", (moment, KNOWN_SECONDS))
            counted = _counted(connection, account, address)
            asked = "SELECT count, at FROM guessed WHERE what IN (?, ?)"
            rows = connection.execute(asked, counted).fetchall()
            own = max((_wait(count) - (moment - at) for count, at in rows), default=0.0)
            left = math.ceil(max(own, _wait_together(connection, moment, address) if at_door else 0.0))
            if left > 0:
                return left
            for what in counted:
                connection.execute(
                    "INSERT INTO guessed VALUES(?, 1, ?, ?) "
                    "ON CONFLICT(what) DO UPDATE SET count=count+1, before=at, at=excluded.at",
                    (what, moment, moment),
                )
            if at_door:
                _count_together(connection, moment, 1)
        return 0

    def right(self, account: str, address: str, *, at_door: bool = False) -> None:
        """Take back the guess that was right, and forget the wrong ones at this account, or at it from this address.

        Those of the address stay: an account of one's own would clear them. But it is as if this one had not been: on a
        tablet that goes from hand to hand each right one would else make the next one wait, and the wrong ones would
        never be a day old. The address is known from then on.
        """
        with self._changing() as (connection, moment):
            at_account, from_address = _counted(connection, account, address)
            connection.execute("DELETE FROM guessed WHERE what=?", (at_account,))
            connection.execute("UPDATE guessed SET count=count-1, at=before WHERE what=?", (from_address,))
            known = [_together(account, address)]
            if at_door:
                _count_together(connection, moment, -1)
                known.append(from_address)
            for what in known:
                connection.execute("INSERT OR REPLACE INTO known VALUES(?, ?)", (what, moment))

    @contextlib.contextmanager
    def _changing(self) -> Iterator[tuple[Any, float]]:
        """One change, on the disk when this ends; with it the seconds that have passed since the file was made."""
        try:
            with self._lock:
                os.close(os.open(self.file, os.O_RDWR | os.O_CREAT, 0o600))
                before = self._change_counter()
                with contextlib.closing(SQLITE.connect(str(self.file), isolation_level=None)) as connection:
                    for pragma in ("busy_timeout=10000", "journal_mode=DELETE", "secure_delete=ON"):
                        connection.execute(f"PRAGMA {pragma}")
                    connection.execute("BEGIN IMMEDIATE")
                    for table in _TABLES:
                        connection.execute(table)
                    yield connection, self._passed(connection)
                    connection.execute("COMMIT")
                self._counter = self._change_counter()
                if before is None or self._counter != (int.from_bytes(before) + 1).to_bytes(4):
                    self._remembered.clear()  # somebody else wrote in between
        except FAULTS as error:
            raise not_saved(error) from error

    def _still_known(self, kept: tuple[str, bool]) -> Session | None:
        found = self._remembered.get(kept)
        if found is None:
            return None
        if self._counter is None or self._change_counter() != self._counter:
            self._remembered.clear()
            return None
        apart = (self._clock().timestamp() - found.clock, self._steady() - found.steady)
        return found.session if all(abs(seconds) < found.for_seconds for seconds in apart) else None

    def _change_counter(self) -> bytes | None:
        """SQLite's count of changes, at offset 24 of the file (sqlite.org, "Database File Format", 1.3.7).

        Asked only while no connection of this object is open: closing the file would let go of its locks.
        """
        try:
            with self.file.open("rb") as opened:
                opened.seek(24)
                return opened.read(4)
        except OSError:
            return None

    def _passed(self, connection: Any) -> float:
        clock, steady = self._clock().timestamp(), self._steady()
        before, seconds = connection.execute("SELECT clock, seconds FROM passed").fetchone() or (clock, 0.0)
        mine = (self.file, self._steady)
        total: float = seconds + max(0.0, clock - before, steady - _steady_before.get(mine, steady))
        _steady_before[mine] = steady
        connection.execute("INSERT OR REPLACE INTO passed VALUES(1, ?, ?)", (clock, total))
        return total


def _kept(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _counted(connection: Any, account: str, address: str) -> tuple[str, str]:
    """Whose wrong guesses hold one up: those at the account, from an address it is known at those from there alone."""
    # hashed, so that a mistyped name or a password in the wrong field is not kept to be read
    both = _together(account, address)
    return both if _is_known(connection, both) else _kept(f"account {account}"), _kept(f"address {address}")


def _together(account: str, address: str) -> str:
    return _kept(f"account {account} at address {address}")


def _is_known(connection: Any, what: str) -> bool:
    return connection.execute("SELECT 1 FROM known WHERE what=?", (what,)).fetchone() is not None


def _wait(count: int) -> float:
    """Three wrong guesses are free; then 1, 2, 4 ... seconds, to five minutes, never for good (common practice)."""
    return 0.0 if count < 3 else min(2.0 ** min(count - 3, 20), LONGEST_WAIT_SECONDS)


def _level(connection: Any, moment: float) -> float:
    """How many wrong guesses of all together have not come back yet."""
    level, at = connection.execute("SELECT level, at FROM together").fetchone() or (0.0, moment)
    return max(0.0, float(level) - (moment - at) / TOGETHER_SECONDS)


def _count_together(connection: Any, moment: float, more: int) -> None:
    level = max(0.0, _level(connection, moment) + more)
    connection.execute("INSERT OR REPLACE INTO together VALUES(1, ?, ?)", (level, moment))


def _wait_together(connection: Any, moment: float, address: str) -> float:
    """Seconds to wait for what all guessed together: one guess in so many, however many ask."""
    if _is_known(connection, _kept(f"address {address}")):
        return 0.0
    return (_level(connection, moment) - (TOGETHER_FREE - 1)) * TOGETHER_SECONDS
