"""A ledger that was not closed: noticed at the next opening, looked at, told in a sentence, remembered and logged."""

from __future__ import annotations

import json
import os
import signal
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from ledger_examples import a_person, a_unit, change, copy_of, look, lose_tail, new_centre
from streamlit.testing.v1 import AppTest

from course import sample
from course.actions.pad import take
from course.answers.centre_answer import centre
from course.answers.health import HealthLine, State, health
from course.commands import main
from course.commands.centre import _to_log
from course.errors import BusyError, DamageError, StorageError
from course.places import PAGES
from course.screens import serve
from course.storage import ending
from course.storage.database import SQLITE
from course.storage.ledger import open_ledger


@pytest.fixture
def folder(either_database: str | None, tmp_path: Path) -> Path:
    """A centre with three events, closed."""
    with new_centre(tmp_path / "centre", either_database) as ledger:
        ledger.append([a_person("Amaru Tendelle")])
    return tmp_path / "centre"


def killed_while_open(folder: Path) -> None:
    """A program that has it open, has saved one event more, and is killed."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            ledger = open_ledger(folder, write=True)
            ledger.append([a_unit()])
            os.write(write, b"saved")
            signal.pause()
        finally:
            os._exit(1)
    assert os.read(read, 10) == b"saved"
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    os.close(read)
    os.close(write)


def line(folder: Path, *, write: bool = False) -> HealthLine:
    with open_ledger(folder, write=write) as ledger:
        return next(one for one in health(ledger).lines if one.what == "Closing")


def test_after_a_proper_end_nothing_is_told(folder: Path) -> None:
    with open_ledger(folder, write=True) as ledger:
        assert (folder / ending.FILE).exists()
        assert ledger.ending is None
        assert ledger.notices == ()
        assert centre(ledger).ending == ""
    assert not (folder / ending.FILE).exists()
    assert line(folder).said == "It was closed each time it was open on this machine."


def test_after_a_kill_the_next_opening_says_what_it_checked_and_that_nothing_is_missing(
    folder: Path, database_kind: str
) -> None:
    killed_while_open(folder)
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage is None
        (told,) = ledger.notices
        assert told.startswith("When this ledger was last open, since 20")
        assert "the newest 4 events against their chain, its end against the witness" in told
        assert ("the build of the database file" in told) is (database_kind == "sqlite")
        assert ("waited in its log" in told) is (database_kind == "sqlite")
        assert "Everything that was acknowledged is there." in told
        assert len(ledger.facts("unit")) == 1
        assert centre(ledger).ending == told
        assert _to_log(ledger) == {"not_closed": {"checked": 4, "whole": True}}
    with open_ledger(folder, write=True) as again:
        assert again.notices == ()
        assert _to_log(again) == {}


def test_health_tells_the_last_time_it_was_not_closed(folder: Path) -> None:
    killed_while_open(folder)
    found = line(folder, write=True)
    assert found.state is State.OK
    assert "had not been closed, as after a crash. Checked then: the newest 4 events" in found.said
    assert line(folder).said == found.said
    with open_ledger(folder) as ledger:
        assert [one for one in health(ledger).lines if one.what == "Notice"] == []


def test_a_reader_beside_the_writer_takes_no_mark_away_and_tells_no_crash(folder: Path) -> None:
    with open_ledger(folder, write=True):
        with open_ledger(folder) as reader:
            assert reader.ending is None
        with pytest.raises(BusyError):
            open_ledger(folder, write=True)
        assert (folder / ending.FILE).exists()
    with open_ledger(folder, write=True) as ledger:
        assert ledger.ending is None


def test_what_was_saved_and_not_acknowledged_is_kept_and_counted(folder: Path) -> None:
    """Killed between the commit and the line of the witness."""
    killed_while_open(folder)
    witness = folder / "ledger.head"
    witness.write_text("".join(witness.read_text().splitlines(keepends=True)[:-1]))
    with open_ledger(folder, write=True) as ledger:
        assert ledger.ending
        assert ledger.ending.beyond == 1
        assert "1 event more had reached the disk before anybody was told: kept." in ledger.notices[0]


def test_a_lost_end_is_told_as_damage_and_nothing_is_added(folder: Path) -> None:
    killed_while_open(folder)
    lose_tail(folder, 1)
    with open_ledger(folder, write=True) as ledger:
        assert ledger.ending
        assert not ledger.ending.whole
        assert "Something does not fit" in ledger.notices[0]
        with pytest.raises(DamageError, match="missing at the end"):
            ledger.append([a_unit()])
        assert next(one for one in health(ledger).lines if one.what == "Closing").state is State.BAD


def test_a_change_among_the_newest_events_is_found(folder: Path) -> None:
    killed_while_open(folder)
    change(folder, "UPDATE event SET actor = 'x' WHERE seq = 3")
    with open_ledger(folder, write=True) as ledger:
        assert ledger.ending
        assert not ledger.ending.whole


def test_a_torn_index_is_found_after_a_crash(folder: Path) -> None:
    """Chain and witness fit; the file's own build does not. Source: sqlite.org, "PRAGMA quick_check"."""
    killed_while_open(folder)
    with closing(SQLITE.connect(str(folder / "ledger.db"), isolation_level=None)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (root,) = connection.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'ix_fact_session'").fetchone()
        (size,) = connection.execute("PRAGMA page_size").fetchone()
    with (folder / "ledger.db").open("rb+") as file:
        file.seek((root - 1) * size)
        file.write(b"\xff" * 64)
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage
        assert ledger.damage.startswith("The database finds a fault in itself")
        assert ledger.ending
        assert not ledger.ending.whole


@pytest.mark.parametrize("mark", ["", "{", '{"since": "soon"}', '{"since": 5}', "[]", "x" * 5000])
def test_a_mark_that_cannot_be_read_is_a_mark_all_the_same(
    tmp_path: Path, mark: str, either_database: str | None
) -> None:
    new_centre(tmp_path / "c", either_database).close()
    (tmp_path / "c" / ending.FILE).write_text(mark)
    with open_ledger(tmp_path / "c", write=True) as ledger:
        assert ledger.notices[0].startswith("When this ledger was last open the program did not get to close it")


def test_a_mark_that_cannot_be_written_keeps_nobody_from_working(tmp_path: Path, either_database: str | None) -> None:
    new_centre(tmp_path / "c", either_database).close()
    (tmp_path / "c" / ending.FILE).mkdir()
    with open_ledger(tmp_path / "c", write=True) as ledger:
        ledger.append([a_unit()])


def test_a_full_disk_at_the_end_of_work_does_not_deny_what_was_saved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, either_database: str | None
) -> None:
    """Only this device's note of how far the chain had come is missing, and the next opening needs none."""

    def full(*_: object) -> None:
        raise StorageError("This device's own notes cannot be kept. Nothing was saved.")

    folder = tmp_path / "centre"
    with monkeypatch.context() as patch:
        patch.setattr("course.storage.ledger.remember_chain", full)
        with new_centre(folder, either_database) as ledger:
            ledger.append([a_unit()])
            count = ledger.count_events()
    with open_ledger(folder, write=True) as ledger:
        assert (ledger.count_events(), ledger.damage, len(ledger.heads())) == (count, None, 1)


def test_an_opening_that_fails_leaves_the_mark_of_the_crash(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, either_database: str | None
) -> None:
    new_centre(tmp_path / "c", either_database).close()
    killed_while_open(tmp_path / "c")
    before = (tmp_path / "c" / ending.FILE).read_bytes()
    with monkeypatch.context() as then:
        then.setattr("course.storage.ledger.settle", lambda *_: (_ for _ in ()).throw(DamageError("no")))
        with pytest.raises(DamageError):
            open_ledger(tmp_path / "c", write=True)
    assert (tmp_path / "c" / ending.FILE).read_bytes() == before


def test_a_copy_of_the_folder_of_a_running_program_is_looked_at_too(
    tmp_path: Path, either_database: str | None
) -> None:
    with new_centre(tmp_path / "c", either_database) as ledger:
        ledger.append([a_unit()])
        copy = copy_of(tmp_path / "c", tmp_path / "copy")
    with open_ledger(copy, write=True) as copied:
        assert copied.ending
        assert len(look(copy, "SELECT 1 FROM event")) == 4


def test_the_command_and_the_first_page_tell_it(loaded: sample.Loaded, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = loaded.folder
    monkeypatch.setenv("LOOPLEDGER_STATE", str(folder.parent / "state"))  # the machine on which it was made
    killed_while_open(folder)
    logged: list[object] = []
    monkeypatch.setattr(serve, "serve", lambda *_, beginning, **__: logged.append(json.dumps(beginning)))
    told = CliRunner().invoke(main, ["open", str(folder)])
    assert "Everything that was acknowledged is there." in told.stderr
    assert logged == ['{"not_closed": {"checked": 1000, "whole": true}}']
    killed_while_open(folder)
    with open_ledger(folder, write=True) as ledger:
        serve.start(ledger, take)
        page = AppTest.from_file(str(PAGES / "today.py"), default_timeout=60).run()
        assert not page.exception
        assert any("Everything that was acknowledged is there." in one.value for one in page.text)
