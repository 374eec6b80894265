"""A backup is whole or it is not there, and a restore too."""

from __future__ import annotations

import io
import os
import stat
import tarfile
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from ledger_examples import a_person, a_unit, change, new_centre

from course.errors import CourseError, DamageError, NotFoundError, RefusedError, StorageError
from course.storage import backup as backup_module
from course.storage.backup import backup, restore
from course.storage.database import SQLITE
from course.storage.faults import not_saved
from course.storage.inspection import verify
from course.storage.ledger import open_ledger


@pytest.fixture(autouse=True)
def _own_device(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "device"))


@pytest.fixture
def folder(tmp_path: Path, either_database: str | None) -> Path:
    """A centre with a person, a unit and a rubric file of its own."""
    with new_centre(tmp_path / "centre", either_database) as ledger:
        ledger.append([a_person("Amaru Tendelle"), a_unit()])
    (tmp_path / "centre" / "rubrics").mkdir()
    (tmp_path / "centre" / "rubrics" / "20_checks.yaml").write_text("skills: []\n")
    return tmp_path / "centre"


def _names(place: Path) -> set[str]:
    return {path.name for path in place.iterdir()}


def test_a_restored_backup_holds_everything_and_begins_a_new_chain(folder: Path, tmp_path: Path) -> None:
    """Events, facts, private data, rubrics; the new chain names the last event of the backup."""
    report = backup(folder, tmp_path / "copy.tar")
    assert report.fine
    assert report.events == 4
    assert restore(tmp_path / "copy.tar", tmp_path / "again") == report
    assert _names(tmp_path / "again") == {"ledger.db", "ledger.head", "vault.db", "rubrics"}
    assert (tmp_path / "again" / "rubrics" / "20_checks.yaml").read_text() == "skills: []\n"
    with open_ledger(folder) as old, open_ledger(tmp_path / "again", write=True) as new:
        assert list(new.events())[:4] == list(old.events())
        assert new.facts("unit") == old.facts("unit")
        assert new.private(new.facts("person")[1])["name"] == "Amaru Tendelle"
        (started,) = list(new.events())[4:]
        assert '"why":"restored"' in started.body
        assert old.head().hash in started.body
    assert verify(tmp_path / "again").fine


def test_a_restored_ledger_begins_its_new_chain_once(folder: Path, tmp_path: Path) -> None:
    """Not at each opening."""
    backup(folder, tmp_path / "copy.tar")
    restore(tmp_path / "copy.tar", tmp_path / "again")
    for _ in range(2):
        with open_ledger(tmp_path / "again", write=True) as ledger:
            assert len(ledger.heads()) == 2


def test_a_backup_over_the_lost_original_begins_a_new_chain_too(folder: Path, tmp_path: Path) -> None:
    """Also in the very folder that it was made from."""
    backup(folder, tmp_path / "copy.tar")
    for path in sorted(folder.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    restore(tmp_path / "copy.tar", folder)
    with open_ledger(folder, write=True) as ledger:
        assert len(ledger.heads()) == 2


def test_a_backup_made_while_people_save_is_whole_and_holds_all_that_was_acknowledged(
    folder: Path, tmp_path: Path
) -> None:
    """The server need not stop."""
    done = threading.Event()
    with open_ledger(folder, write=True) as ledger:

        def save() -> None:
            while not done.is_set():
                ledger.append([a_unit(), a_person("Bruno Ashkenar")])

        hand = threading.Thread(target=save)
        hand.start()
        for number in range(3):
            before = ledger.head().seq
            report = backup(folder, tmp_path / f"{number}.tar")
            assert report.fine
            assert report.notices == ()
            assert report.events >= before
        done.set()
        hand.join()


def test_a_backup_is_readable_by_its_owner_only(folder: Path, tmp_path: Path) -> None:
    """It holds the keys of the private data."""
    backup(folder, tmp_path / "copy.tar")
    assert stat.S_IMODE((tmp_path / "copy.tar").stat().st_mode) == 0o600


def test_a_backup_never_takes_the_place_of_another_file(folder: Path, tmp_path: Path) -> None:
    """The older one stays as it is."""
    (tmp_path / "copy.tar").write_bytes(b"older")
    with pytest.raises(RefusedError, match="there already"):
        backup(folder, tmp_path / "copy.tar")
    assert (tmp_path / "copy.tar").read_bytes() == b"older"


def test_no_backup_of_a_damaged_ledger_passes_for_a_good_one(folder: Path, tmp_path: Path) -> None:
    """Only when asked for, and the report says what is wrong."""
    change(folder, "UPDATE event SET actor = 'x' WHERE seq = 2")
    with pytest.raises(DamageError, match="No backup was made"):
        backup(folder, tmp_path / "copy.tar")
    assert "copy.tar" not in _names(tmp_path)
    assert not backup(folder, tmp_path / "copy.tar", even_damaged=True).fine
    with pytest.raises(DamageError, match="Nothing was restored"):
        restore(tmp_path / "copy.tar", tmp_path / "again")
    assert "again" not in _names(tmp_path)


@pytest.mark.parametrize("step", ["_pack", "write_witness", "sync_folder", "verify"])
def test_a_disk_that_fills_up_leaves_no_half_backup(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """At whatever step it happens; the folder is as it was."""
    before = _names(tmp_path) | ({"copy.tar"} if step == "sync_folder" else set())
    monkeypatch.setattr(backup_module, step, _no_room)
    with pytest.raises(StorageError, match="NOT saved: the disk is full"):
        backup(folder, tmp_path / "copy.tar")
    assert _names(tmp_path) == before


@pytest.mark.parametrize("step", ["verify", "mark_put_back", "_sync_all"])
def test_a_disk_that_fills_up_leaves_no_half_restored_folder(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """At whatever step it happens."""
    backup(folder, tmp_path / "copy.tar")
    before = _names(tmp_path)
    monkeypatch.setattr(backup_module, step, _no_room)
    with pytest.raises(StorageError, match="NOT saved: the disk is full"):
        restore(tmp_path / "copy.tar", tmp_path / "again")
    assert _names(tmp_path) == before


def _no_room(*_: object) -> None:
    raise OSError(28, os.strerror(28))


def test_a_folder_that_holds_something_is_left_alone(folder: Path, tmp_path: Path) -> None:
    """Restoring never mixes two ledgers."""
    backup(folder, tmp_path / "copy.tar")
    (tmp_path / "again").mkdir()
    (tmp_path / "again" / "letter.txt").write_text("mine")
    with pytest.raises(RefusedError, match="not empty"):
        restore(tmp_path / "copy.tar", tmp_path / "again")
    assert _names(tmp_path / "again") == {"letter.txt"}
    (tmp_path / "again" / "letter.txt").unlink()
    assert restore(tmp_path / "copy.tar", tmp_path / "again").fine


def test_what_is_not_there_is_told(folder: Path, tmp_path: Path) -> None:
    """No ledger to back up, no file to restore."""
    with pytest.raises(NotFoundError, match="no ledger"):
        backup(tmp_path / "none", tmp_path / "copy.tar")
    with pytest.raises(NotFoundError, match="no file"):
        restore(tmp_path / "none.tar", tmp_path / "again")
    assert folder.exists()


def _member(
    name: str, kind: bytes = tarfile.REGTYPE, size: int = 4, link: str = ""
) -> Callable[[tarfile.TarFile], None]:
    def add(tar: tarfile.TarFile) -> None:
        info = tarfile.TarInfo(name)
        info.type, info.size, info.linkname = kind, size if kind == tarfile.REGTYPE else 0, link
        tar.addfile(info, io.BytesIO(b"x" * size) if kind == tarfile.REGTYPE else None)

    return add


@pytest.mark.parametrize(
    "strange",
    [
        _member("../outside"),
        _member("/tmp/outside"),  # noqa: S108 - a hostile name, never written
        _member("rubrics/../../outside.yaml"),
        _member("rubrics/.hidden.yaml"),
        _member("rubrics/deep/er.yaml"),
        _member("C:\\outside"),
        _member("notes.txt"),
        _member("ledger.db"),
        _member("rubrics/big.yaml", size=1_000_001),
        _member("rubrics/a.yaml", tarfile.SYMTYPE, link="/etc/passwd"),
        _member("rubrics/a.yaml", tarfile.LNKTYPE, link="ledger.db"),
        _member("rubrics/a.yaml", tarfile.FIFOTYPE),
        _member("rubrics/a.yaml", tarfile.CHRTYPE),
        _member("rubrics/a.yaml", tarfile.GNUTYPE_SPARSE),
        _member("rubrics", tarfile.DIRTYPE),
    ],
)
def test_a_file_with_anything_else_in_it_is_refused_and_nothing_is_written(
    folder: Path, tmp_path: Path, strange: Callable[[tarfile.TarFile], None]
) -> None:
    """Names that lead outside, links, devices, holes, doubles, things too large."""
    backup(folder, tmp_path / "copy.tar")
    with tarfile.open(tmp_path / "copy.tar", "a") as tar:
        strange(tar)
    before = _names(tmp_path)
    with pytest.raises(RefusedError, match="no backup that can be restored"):
        restore(tmp_path / "copy.tar", tmp_path / "again")
    assert _names(tmp_path) == before


def test_a_file_with_very_many_members_is_refused(folder: Path, tmp_path: Path) -> None:
    """Before any of them is written."""
    backup(folder, tmp_path / "copy.tar")
    with tarfile.open(tmp_path / "copy.tar", "a") as tar:
        for number in range(600):
            _member(f"rubrics/{number}.yaml")(tar)
    with pytest.raises(RefusedError, match="too many"):
        restore(tmp_path / "copy.tar", tmp_path / "again")


@pytest.mark.parametrize("kept", [0, 100, 3000, 20_000])
def test_a_backup_cut_short_is_refused(folder: Path, tmp_path: Path, kept: int) -> None:
    """Wherever it ends."""
    backup(folder, tmp_path / "copy.tar")
    whole = (tmp_path / "copy.tar").read_bytes()
    assert len(whole) > 20_000
    (tmp_path / "copy.tar").write_bytes(whole[:kept])
    with pytest.raises(CourseError, match=r"no backup|damage"):
        restore(tmp_path / "copy.tar", tmp_path / "again")
    assert "again" not in _names(tmp_path)


def test_a_backup_that_changed_on_its_disk_is_refused(folder: Path, tmp_path: Path) -> None:
    """One letter of one event."""
    backup(folder, tmp_path / "copy.tar")
    whole = (tmp_path / "copy.tar").read_bytes()
    assert whole.count(b'"unit_type":"type-a"') == 2  # the event and the fact
    (tmp_path / "copy.tar").write_bytes(whole.replace(b'"unit_type":"type-a"', b'"unit_type":"type-b"'))
    with pytest.raises(DamageError, match="Nothing was restored"):
        restore(tmp_path / "copy.tar", tmp_path / "again")
    assert "again" not in _names(tmp_path)


def test_a_packed_file_that_reads_back_otherwise_is_no_backup(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that lies is caught while the original is still there."""
    monkeypatch.setattr(backup_module, "_sum_in", lambda *_: "0" * 64)
    with pytest.raises(DamageError, match="read back"):
        backup(folder, tmp_path / "copy.tar")
    assert "copy.tar" not in _names(tmp_path)


def test_a_full_disk_met_by_the_online_backup_is_told_in_plain_words() -> None:
    """Its driver carries no result code for that, only SQLite's text."""
    complaint = SQLITE.OperationalError("database or disk is full")
    assert str(not_saved(complaint)).startswith("NOT saved: the disk is full. Make room on it")
