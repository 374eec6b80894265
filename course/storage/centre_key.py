"""The secret part of a centre's key: kept apart from the ledger, in this machine's own notes, a folder for each centre.

Whoever is given a centre's folder, whole or on a stick, cannot sign as the centre; no bundle, backup or paper holds the
key either. To another machine it goes by its copy. It can be replaced; see `course.actions.keys`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from course.errors import RefusedError, StorageError
from course.storage.database import sync_folder
from course.storage.device import state_folder
from course.storage.faults import reason

FILE = "centre.key"
_NEXT = "centre.key.next"
"""The next key, until the ledger has said that it takes the place of the other one."""
FILES = (FILE, _NEXT)
_ASIDE = f"{FILE}.{'[0-9a-f]' * 16}"
"""A second key that was found in a centre's folder, by the beginning of its public part."""
_MOVED = (
    "The centre's key lay in its folder, where a copy of the folder takes it along. It is now among this machine's own "
    "notes, and papers are signed as before. Copies of the folder from before still hold it: if somebody else may have "
    "one, replace the key (course key FOLDER --lost). To bring it to another machine: course key FOLDER --copy FILE "
    "here, --put-back FILE there."
)
_HEAD = "loopledger-centre-key 1"


@dataclass(frozen=True)
class SigningKey:
    """A key that can sign. It shows its public part alone."""

    public: str
    secret: bytes = field(repr=False, compare=False)

    def sign(self, data: bytes) -> str:
        """Return the signature over these bytes, as 128 hex digits: the same each time (RFC 8032)."""
        return Ed25519PrivateKey.from_private_bytes(self.secret).sign(data).hex()


def key_from(secret: bytes) -> SigningKey:
    """Return the key that 32 secret bytes make."""
    return SigningKey(Ed25519PrivateKey.from_private_bytes(secret).public_key().public_bytes_raw().hex(), secret)


def new_key() -> SigningKey:
    """Return a key that nobody had before."""
    return key_from(Ed25519PrivateKey.generate().private_bytes_raw())


def key_folder(centre_id: str) -> Path:
    """Return where this machine keeps the key of a centre."""
    return state_folder() / "keys" / centre_id


def key_files(folder: Path) -> list[Path]:
    """Return the files with a key in a folder, the one in use first."""
    return [*(folder / name for name in FILES if (folder / name).exists()), *sorted(folder.glob(_ASIDE))]


def read_keys(*folders: Path) -> Iterator[SigningKey]:
    """Yield the keys in these folders, one after another: what comes after the key that is wanted is not read.

    Raises:
        RefusedError: a file is there and is no key.
        StorageError: it cannot be read.
    """
    for folder in folders:
        yield from map(read_key_file, key_files(folder))


def read_key_file(file: Path) -> SigningKey:
    """Return the key that a file holds; errors as in `read_keys`."""
    try:
        lines = file.read_text("ascii").split("\n")
        if lines[0] == _HEAD:
            return key_from(bytes.fromhex(lines[1]))
    except (ValueError, IndexError):
        pass
    except OSError as error:
        raise StorageError(f"{file} cannot be read: {reason(error)}. Nothing was changed.") from error
    raise RefusedError(
        f"{file} is no key of a centre: it was cut, or something else is in it. Put the key back from its copy "
        "(course key FOLDER --put-back FILE), or say that it is lost (--lost). Nothing was changed."
    )


def write_key(file: Path, key: SigningKey) -> None:
    """Write a key so that its owner alone can read it, whole or not at all.

    Raises:
        StorageError: it cannot be written.
    """
    beside = file.with_name(f".{file.name}.new")
    try:
        _make_folder(file.parent)
        beside.unlink(missing_ok=True)
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="ascii") as handle:
            handle.write(f"{_HEAD}\n{key.secret.hex()}\n")
            handle.flush()
            os.fsync(handle.fileno())
        beside.replace(file)
        sync_folder(file.parent)
    except OSError as error:
        raise StorageError(f"The key cannot be kept in {file.parent}: {reason(error)}. Nothing was changed.") from error


def _make_folder(folder: Path) -> None:
    """Make a folder that its owner alone reads, and all that it lies in, so that a power cut takes none of it away."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(exist_ok=True, mode=0o700)
        sync_folder(one.parent)


def set_apart(folder: Path, apart: Path) -> str:
    """Move a key that lies in a centre's folder to where keys are kept; return what to tell of it, if anything.

    It is on the disk in its new place before the old file goes; where another key has that place, it lies beside it.
    What cannot be moved stays and is read where it lies.
    """
    found = [folder / name for name in FILES if (folder / name).exists()]
    try:
        for file in found:
            key = read_key_file(file)
            write_key(_place(apart / file.name, key), key)
            file.unlink()
            sync_folder(folder)
    except (RefusedError, StorageError, OSError):
        return ""
    return _MOVED if found else ""


def _place(file: Path, key: SigningKey) -> Path:
    """Where a key can be written without one being lost; one that cannot be read there is none's."""
    try:
        free = not file.exists() or read_key_file(file) == key
    except (RefusedError, StorageError):
        free = False
    return file if free else file.with_name(f"{FILE}.{key.public[:16]}")


def lay_ready(folder: Path, key: SigningKey) -> None:
    """Keep a key beside the one in use until `take_over`."""
    write_key(folder / _NEXT, key)


def take_over(folder: Path) -> None:
    """Let the key that lies ready be the one in use.

    Raises:
        StorageError: it cannot be moved; it is read where it lies.
    """
    try:
        (folder / _NEXT).replace(folder / FILE)
        sync_folder(folder)
    except OSError as error:
        raise StorageError(f"The key in {folder} cannot be moved to its place: {reason(error)}.") from error
