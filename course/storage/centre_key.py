"""The secret part of a centre's key: a file of its own beside the ledger, which no bundle, backup or paper ever holds.

It stays in the centre's folder, where the vault is too, so that moving the folder moves it, and whoever is given a copy
of the ledger alone cannot sign as the centre. It can be replaced; see `course.actions.keys`.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from course.errors import RefusedError, StorageError
from course.storage.database import sync_folder
from course.storage.faults import reason

FILE = "centre.key"
_NEXT = "centre.key.next"
"""The next key, until the ledger has said that it takes the place of the other one."""
FILES = (FILE, _NEXT)
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


def read_keys(folder: Path) -> tuple[SigningKey, ...]:
    """Return the key in a centre's folder; two where replacing it was interrupted, none where there is none.

    Raises:
        RefusedError: the file is there and is no key.
        StorageError: it cannot be read.
    """
    return tuple(read_key_file(folder / name) for name in FILES if (folder / name).exists())


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
        f"{file} is no key of a centre: it was cut, or something else is in it. Put its copy there, or say that the "
        "key is lost: course key FOLDER --lost. Nothing was changed."
    )


def write_key(file: Path, key: SigningKey) -> None:
    """Write a key so that its owner alone can read it, whole or not at all.

    Raises:
        StorageError: it cannot be written.
    """
    beside = file.with_name(f".{file.name}.new")
    try:
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
