"""Private data: sealed before they reach the ledger, with a key per owner that is kept here and nowhere else.

Erasing an owner deletes the key: every hash stays valid, every count true, and nobody can read the text again. A
tombstone stays and beats an older vault. Copies of the vault made before, papers and exported files are beyond reach.

Source of the cipher: RFC 5297, AES-SIV with a 64-byte key. It needs no random number per message, so the same content
of the same event is the same bytes, and a form that is sent twice is one event.
"""

from __future__ import annotations

import base64
import contextlib
import os
import threading
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import orjson
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESSIV

from course.errors import DamageError, RefusedError
from course.moments import now, stored
from course.record.chain import canonical
from course.record.events import SECRETS, Sealed
from course.record.facts import SealedPiece
from course.storage.database import SQLITE
from course.storage.faults import FAULTS, not_saved, unreadable

FILE = "vault.db"
_TABLES = (
    (
        "CREATE TABLE IF NOT EXISTS owner_key(owner TEXT PRIMARY KEY, key BLOB NOT NULL CHECK(length(key)=64), "
        "made_at TEXT NOT NULL) STRICT"
    ),
    "CREATE TABLE IF NOT EXISTS forgotten(owner TEXT PRIMARY KEY, at TEXT NOT NULL) STRICT",
    # a laptop that did not have an owner's key may have made another one before the two vaults met
    (
        "CREATE TABLE IF NOT EXISTS further_key(owner TEXT NOT NULL, key BLOB NOT NULL CHECK(length(key)=64), "
        "made_at TEXT NOT NULL, PRIMARY KEY(owner, key)) STRICT"
    ),
)
_KEY = "SELECT key FROM owner_key WHERE owner=? AND owner NOT IN (SELECT owner FROM forgotten)"
BY_EVENT = "by_event"
CONTESTED = "contested"


def seal_with(key: bytes, owner: str, kind: str, event: str, private: Mapping[str, Any]) -> str:
    """Return the sealed bytes of a private part, in base64, bound to its owner, kind and event."""
    return base64.b64encode(AESSIV(key).encrypt(canonical(dict(private)), [_bound_to(owner, kind, event)])).decode()


def open_with(key: bytes, owner: str, kind: str, event: str, data: str) -> dict[str, Any]:
    """Return the private part that was sealed.

    Raises:
        DamageError: the bytes, or what they are bound to, are not what was sealed.
    """
    try:
        plain = AESSIV(key).decrypt(base64.b64decode(data, validate=True), [_bound_to(owner, kind, event)])
    except (InvalidTag, ValueError) as error:
        raise DamageError(
            f"The private part of event {event} does not open with its owner's key: one of them was changed."
        ) from error
    opened: dict[str, Any] = orjson.loads(plain)
    return opened


def without_secrets(private: dict[str, Any]) -> dict[str, Any]:
    """Return opened private fields, as of a fact or an event, without hashes of passwords and PINs."""
    plain = {name: value for name, value in private.items() if name not in SECRETS}
    if BY_EVENT in plain:
        plain[BY_EVENT] = {event: without_secrets(part) for event, part in plain[BY_EVENT].items()}
    return plain


class Vault:
    """The keys of one centre. Safe to share between threads.

    Args:
        folder: the centre's folder.
        write: whether keys may be made and erased; otherwise the file is only read, and may be missing.
        erased: owners whose key is never used, whatever the file holds: an older vault may have been put back.

    Raises:
        StorageError: the file cannot be opened.
    """

    def __init__(self, folder: Path, *, write: bool, erased: Collection[str] = ()) -> None:
        self.file = folder / FILE
        self._write = write
        self._erased = frozenset(erased)
        self._lock = threading.Lock()
        self._keys: dict[str, bytes] = {}
        self._further: dict[str, tuple[bytes, ...]] = {}
        if write:
            with self._changing():
                pass

    def seal(self, owner: str, kind: str, event: str, private: Mapping[str, Any]) -> Sealed:
        """Seal a private part; a new owner's key is on the disk before this returns.

        Raises:
            RefusedError: the owner's private data were erased, or the text is not plain JSON.
            StorageError: the key could not be kept.
        """
        try:
            return Sealed(of=owner, data=seal_with(self._key_for(owner), owner, kind, event, private))
        except ValueError as error:
            raise RefusedError(f"{kind}: the private part {error}") from error

    def open_pieces(self, pieces: Iterable[SealedPiece]) -> dict[str, Any]:
        """Return the private fields of a fact, as they stand after corrections.

        The fields are those of the event that founds it. `by_event` holds each event's own private part, so that a
        reason or note is found with the event it was given for. A piece whose key was erased, or is not in this vault,
        is left out. `contested` is there when two live corrections disagree and names the fields; they keep what was
        first said until a person settles it.

        Raises:
            DamageError: a piece was changed.
        """
        known = tuple(pieces)
        by_event = {piece.event: self.open_one(piece.of, piece.kind, piece.event, piece.data) for piece in known}
        by_event = {event: plain for event, plain in by_event.items() if plain}
        contested: set[str] = set()
        for (event, name), values in _private_claims(known, by_event).items():
            if len(values) == 1:
                by_event[event] = by_event.get(event, {}) | {name: values[0]}
            else:
                contested.add(name)
        fields: dict[str, Any] = {}
        for piece in known:
            if piece.founding:
                fields = by_event.get(piece.event, {}) | fields
        return fields | {BY_EVENT: by_event} | ({CONTESTED: tuple(sorted(contested))} if contested else {})

    def open_one(self, owner: str, kind: str, event: str, data: str) -> dict[str, Any]:
        """Return one private part, empty when its key was erased or is not here."""
        key = self._known_key(owner)
        if key is None:
            return {}
        try:
            return open_with(key, owner, kind, event, data)
        except DamageError:
            for other in self._further_keys(owner):
                with contextlib.suppress(DamageError):
                    return open_with(other, owner, kind, event, data)
            raise

    def knows(self, owner: str) -> bool:
        """Whether the owner has a key here."""
        return self._known_key(owner) is not None

    def is_forgotten(self, owner: str) -> bool:
        """Whether the owner's private data were erased."""
        return owner in self._erased or bool(self._rows("SELECT 1 FROM forgotten WHERE owner=?", (owner,)))

    def forgotten(self) -> list[str]:
        """Every owner whose private data were erased."""
        return sorted({*self._erased, *(row[0] for row in self._rows("SELECT owner FROM forgotten", ()))})

    def forget(self, owner: str) -> None:
        """Erase an owner's key for good.

        Raises:
            StorageError: it could not be erased.
        """
        with self._lock:
            with self._changing() as connection:
                connection.execute("INSERT OR IGNORE INTO forgotten VALUES(?, ?)", (owner, stored(now())))
                connection.execute("DELETE FROM owner_key WHERE owner=?", (owner,))
                connection.execute("DELETE FROM further_key WHERE owner=?", (owner,))
            self._keys.pop(owner, None)
            self._further.pop(owner, None)

    def take_tombstones(self, owners: Iterable[str]) -> bool:
        """Erase the keys of owners that were erased elsewhere, or that came back since; tell whether there was one."""
        known = {row[0] for row in self._rows("SELECT owner FROM forgotten", ())}
        back = {row[0] for row in self._rows("SELECT owner FROM owner_key JOIN forgotten USING (owner)", ())}
        new = sorted({*owners, *back} - (known - back))
        for owner in new:
            self.forget(owner)
        return bool(new)

    def write_anew(self) -> None:
        """Write the file anew without the places where something was deleted.

        Raises:
            StorageError: it could not be written; it is as it was.
        """
        try:
            with self._lock, contextlib.closing(self._open()) as connection:
                connection.execute("VACUUM")
        except FAULTS as error:
            raise not_saved(error) from error

    def all_keys(self) -> list[tuple[str, bytes]]:
        """Every owner's keys, to be handed to another laptop of the same centre: whoever has them can read all."""
        first = self._rows("SELECT owner, key FROM owner_key ORDER BY owner", ())
        return [*first, *self._further_rows("SELECT owner, key FROM further_key ORDER BY owner, key", ())]

    def take_keys(self, keys: Iterable[tuple[str, bytes]]) -> int:
        """Take over keys of another laptop; return how many were new. A tombstone here wins over any key.

        Raises:
            StorageError: they could not be kept.
        """
        taken = 0
        with self._lock, self._changing() as connection:
            for owner, key in keys:
                if connection.execute("SELECT 1 FROM forgotten WHERE owner=?", (owner,)).fetchone():
                    continue
                known = connection.execute("SELECT key FROM owner_key WHERE owner=?", (owner,)).fetchone()
                if known and known[0] == key:
                    continue
                into = "further_key" if known else "owner_key"
                done = connection.execute(f"INSERT OR IGNORE INTO {into} VALUES(?, ?, ?)", (owner, key, stored(now())))
                taken += done.rowcount
                self._further.pop(owner, None)
        return taken

    def _further_keys(self, owner: str) -> tuple[bytes, ...]:
        with self._lock:
            if owner not in self._further:
                rows = self._further_rows("SELECT key FROM further_key WHERE owner=? ORDER BY key", (owner,))
                self._further[owner] = tuple(row[0] for row in rows)
            return self._further[owner]

    def _further_rows(self, asked: str, values: tuple[str, ...]) -> list[tuple[Any, ...]]:
        """As `_rows`; a vault of an earlier version that is only read has no such table."""
        there = self._rows("SELECT 1 FROM sqlite_schema WHERE name='further_key'", ())
        return self._rows(asked, values) if there else []

    def _key_for(self, owner: str) -> bytes:
        key = self._known_key(owner)
        if key:
            return key
        with self._lock, self._changing() as connection:
            gone = connection.execute("SELECT 1 FROM forgotten WHERE owner=?", (owner,)).fetchone()
            if gone or owner in self._erased:
                raise RefusedError(
                    "This person's private data were erased, so no name or free text about them can be added. "
                    "Nothing was saved."
                )
            connection.execute(
                "INSERT OR IGNORE INTO owner_key VALUES(?, ?, ?)", (owner, AESSIV.generate_key(512), stored(now()))
            )
        return self._known_key(owner) or self._key_for(owner)

    def _known_key(self, owner: str) -> bytes | None:
        if owner in self._erased:
            return None
        with self._lock:
            if owner not in self._keys:
                for row in self._rows(_KEY, (owner,)):
                    self._keys[owner] = row[0]
            return self._keys.get(owner)

    def _rows(self, asked: str, values: tuple[str, ...]) -> list[tuple[Any, ...]]:
        if not self.file.exists():
            return []
        try:
            with contextlib.closing(self._open()) as connection:
                rows: list[tuple[Any, ...]] = connection.execute(asked, values).fetchall()
                return rows
        except FAULTS as error:
            raise unreadable(error, f"{FILE} cannot be read") from error

    def _open(self) -> Any:
        if not self._write:
            mode = "mode=ro" if os.access(self.file.parent, os.W_OK) else "immutable=1"
            address = f"{self.file.resolve().as_uri()}?{mode}"
            return SQLITE.connect(address, uri=True, isolation_level=None)
        connection = SQLITE.connect(str(self.file), isolation_level=None)
        for pragma in ("busy_timeout=10000", "journal_mode=DELETE", "synchronous=EXTRA", "secure_delete=ON"):
            connection.execute(f"PRAGMA {pragma}")
        return connection

    @contextlib.contextmanager
    def _changing(self) -> Iterator[Any]:
        """One change to the file, on the disk when this ends, or not made at all."""
        if not self._write:
            raise RefusedError("The ledger is open for reading only. Nothing was saved.")
        try:
            os.close(os.open(self.file, os.O_RDWR | os.O_CREAT, 0o600))
            with contextlib.closing(self._open()) as connection:
                connection.execute("BEGIN IMMEDIATE")
                for table in _TABLES:
                    connection.execute(table)
                yield connection
                connection.execute("COMMIT")
        except FAULTS as error:
            raise not_saved(error) from error


def _private_claims(
    pieces: Sequence[SealedPiece], by_event: Mapping[str, Mapping[str, Any]]
) -> dict[tuple[str, str], list[Any]]:
    """What live corrections make of (event, private field); one that replaces another does so in its own fields."""
    changes = [
        (piece, by_event.get(piece.event, {}).get("private_change", {}))
        for piece in pieces
        if piece.corrects is not None
    ]
    replaced = {(earlier, name) for piece, change in changes for earlier in piece.replaces for name in change}
    claims: dict[tuple[str, str], list[Any]] = {}
    for piece, change in changes:
        for name, value in change.items():
            values = claims.setdefault((str(piece.corrects), name), [])
            if (piece.event, name) not in replaced and value not in values:
                values.append(value)
    return {key: values for key, values in claims.items() if values}


def _bound_to(owner: str, kind: str, event: str) -> bytes:
    return f"{owner}|{kind}|{event}".encode()
