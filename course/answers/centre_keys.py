"""The keys of a centre: which one signs papers now, which ones did before, and how that ended."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from course.access import Act, Sight
from course.answers.days import day_words
from course.asker import question
from course.errors import NotFoundError, RefusedError, StorageError
from course.record.centre_key import CentreKey, KeyFile, grouped
from course.record.facts import Centre
from course.storage.centre_key import SigningKey, read_keys, write_key
from course.storage.ledger import Ledger
from course.storage.lookup import needed

ELSEWHERE = (
    "The centre's key is not on this machine: bring it by its copy (course key FOLDER --copy FILE where it is, "
    "--put-back FILE here), or say that it is lost and let another take its place (--lost)."
)
"""Why nothing is signed here, and the two ways on."""
_MOST_BYTES = 2**20


@question(Sight.CHECK)
def centre_keys(ledger: Ledger) -> tuple[CentreKey, ...]:
    """Return every key that the ledger knows, the oldest first."""
    return needed(ledger, Centre, ledger.centre_id, "centre").keys


@question(Sight.CHECK)
def paper_key(ledger: Ledger) -> SigningKey | None:
    """Return the key that signs papers here; as `signing_key`, and None where its file is damaged.

    Printing goes on without a key, also on a boat: the paper says that it is not signed, and Health says why.
    """
    try:
        return signing_key(ledger)
    except (RefusedError, StorageError):
        return None


@question(Sight.CHECK)
def signing_key(ledger: Ledger) -> SigningKey | None:
    """Return the key on this machine; None where there is none, or one that the ledger does not know or has replaced.

    Raises:
        RefusedError: the key's file is no key.
        StorageError: it cannot be read.
    """
    in_use = {one.public for one in centre_keys(ledger) if one.ended is None}
    return next((key for key in read_keys(ledger.key_folder, ledger.folder) if key.public in in_use), None)


@question(Sight.CHECK)
def why_unsigned(ledger: Ledger) -> str:
    """Return why papers are not signed here, and what to do; empty where they are, or where no key was ever made."""
    in_use = any(one.ended is None for one in centre_keys(ledger))
    return f"This paper is not signed. {ELSEWHERE}" if in_use and paper_key(ledger) is None else ""


def key_lines(keys: tuple[CentreKey, ...]) -> tuple[str, ...]:
    """Tell each key: its fingerprint, since when, and how its time ended."""
    return tuple(f"{grouped(key.fingerprint)}: {_told(key)}." for key in keys)


def _told(key: CentreKey) -> str:
    since = f"since {day_words(date.fromisoformat(key.since))}"
    if key.ended is None or key.ended_day is None:
        return f"{since}, in use"
    until = day_words(date.fromisoformat(key.ended_day))
    if key.ended == "kept":
        return f"{since}, replaced on {until}; what it signed before holds"
    return f"{since}, lost on {until}: a paper that it signed for a later event is not to be trusted"


@question(Sight.CHECK)
def public_keys(ledger: Ledger) -> bytes:
    """Return the centre's public keys as a file for whoever checks papers without its ledger."""
    return KeyFile(centre=ledger.centre_id, keys=centre_keys(ledger)).written()


def read_key_list(file: Path) -> tuple[CentreKey, ...]:
    """Return the public keys that a centre gave out as a file.

    Raises:
        RefusedError: it is no such file.
        NotFoundError: it cannot be read.
    """
    try:
        return keys_in(file.read_bytes()[: _MOST_BYTES + 1], str(file))
    except OSError as error:
        raise NotFoundError(f"{file} cannot be read ({error.strerror}).") from error


def keys_in(content: bytes, name: str = "The file") -> tuple[CentreKey, ...]:
    """Return the public keys that the bytes of such a file hold.

    Raises:
        RefusedError: they are none.
    """
    try:
        return KeyFile.model_validate_json(content[:_MOST_BYTES]).keys
    except ValueError as error:
        raise RefusedError(
            f"{name} holds no public keys of a centre. Ask it for them: course key FOLDER --export."
        ) from error


@question(Act.KEY)
def copy_key(ledger: Ledger, file: Path) -> None:
    """Write the secret key to a file, to be kept in a safe place.

    Raises:
        RefusedError: it is not on this machine, the file is there already, or would go along with the centre's folder.
        StorageError: it cannot be written.
    """
    key = paper_key(ledger)
    if key is None:
        raise RefusedError(f"There is nothing to copy. {ELSEWHERE} Nothing was written.")
    if file.exists():
        raise RefusedError(f"{file} is there already. Name another file. Nothing was written.")
    if ledger.folder in file.resolve().parents:
        raise RefusedError(
            f"{file} is in the centre's folder: whoever is given a copy of the folder could sign as the centre. Name a "
            "file elsewhere. Nothing was written."
        )
    write_key(file, key)
