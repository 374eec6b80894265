"""This device: its id, and where it knows each chain to live.

Kept in the user's own state folder, never in a centre's folder, so that a folder that is copied or put back is noticed
when it is next opened for writing: the copy then begins a chain of its own.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

import platformdirs
from filelock import FileLock
from pydantic import BaseModel, ConfigDict, ValidationError

from course.errors import StorageError
from course.moments import new_id
from course.storage.database import sync_folder
from course.storage.faults import reason

STATE_FOLDER = "LOOPLEDGER_STATE"
"""Environment variable that names another folder for this device's state."""
_FILE = "device.json"
Why = Literal["restored", "copied", "other_device", "after_loss"]


class Home(BaseModel):
    """Where a chain lives on this device, and the last event known here."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    folder: str
    seq: int
    hash: str


class State(BaseModel):
    """What this device remembers."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    device: str
    chains: dict[str, Home] = {}
    forgotten: tuple[str, ...] = ()
    """Owners whose private data were erased here: an old vault that is put back must not bring them back."""


def read_state() -> State:
    """Return what this device remembers; a device without a memory gets an id now.

    Raises:
        StorageError: the state folder cannot be read or written.
    """
    with _state_file() as file:
        return _read(file)


def remember_chain(chain: str, home: Home) -> None:
    """Remember where a chain lives and how far it had come."""
    with _state_file() as file:
        state = _read(file)
        _write(file, state.model_copy(update={"chains": state.chains | {chain: home}}))


def remember_forgotten(owner: str) -> None:
    """Remember that an owner's private data were erased."""
    with _state_file() as file:
        state = _read(file)
        if owner not in state.forgotten:
            _write(file, state.model_copy(update={"forgotten": (*state.forgotten, owner)}))


def forgotten_here() -> tuple[str, ...]:
    """Return the owners that were erased on this device, without making anything where nothing is remembered."""
    file = state_folder() / _FILE
    return _read(file).forgotten if file.exists() else ()


def home_is_elsewhere(home: Home, folder: Path) -> bool:
    """Whether a chain's own folder is another one and still holds a ledger; a folder that was moved leaves none."""
    there = Path(home.folder)
    return home.folder != str(folder) and any((there / name).exists() for name in ("ledger.db", "ledger.url"))


def state_folder() -> Path:
    """Return where this device's own notes are kept."""
    return Path(os.environ.get(STATE_FOLDER) or platformdirs.user_state_dir("loopledger"))


def log_file() -> Path:
    """Return where the running screens write their log."""
    return state_folder() / "log" / "loopledger.jsonl"


@contextmanager
def _state_file() -> Iterator[Path]:
    folder = state_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        with FileLock(folder / "device.lock", timeout=10):
            yield folder / _FILE
    except OSError as error:
        raise StorageError(
            f"This device's own notes in {folder} cannot be kept: {reason(error)}. Nothing was saved."
        ) from error


def _read(file: Path) -> State:
    if not file.exists():
        state = State(device=new_id())
        _write(file, state)
        return state
    try:
        return State.model_validate(json.loads(file.read_bytes()))
    except (ValueError, ValidationError) as error:
        raise StorageError(
            f"{file} cannot be read as this device's notes. Move it away: the ledgers here then go on as on a new "
            "device, each in a new chain. Nothing was saved."
        ) from error


def _write(file: Path, state: State) -> None:
    beside = file.with_suffix(".new")
    with beside.open("wb") as handle:
        handle.write(state.model_dump_json(indent=1).encode())
        handle.flush()
        os.fsync(handle.fileno())
    beside.replace(file)
    sync_folder(file.parent)
