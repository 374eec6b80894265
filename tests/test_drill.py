"""A restore drill: a backup is tried, and says what would be lost; nothing of it stays."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from ledger_examples import a_person, a_unit, lose_tail, new_centre, tables_in

from course import sample
from course.answers.health import health
from course.commands import main
from course.errors import DamageError, RefusedError
from course.record.chain import Event
from course.storage.backup import backup, restore
from course.storage.drill import drill
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.site import site_of


@pytest.fixture
def folder(tmp_path: Path, either_database: str | None) -> Path:
    """A centre with a student, and a backup of it beside."""
    (tmp_path / "home").mkdir()
    with new_centre(tmp_path / "home" / "centre", either_database) as ledger:
        ledger.append([a_person("Amaru Tendelle")])
    backup(tmp_path / "home" / "centre", tmp_path / "copy.tar")
    return tmp_path / "home" / "centre"


def test_a_backup_comes_back_with_everything_and_nothing_of_it_stays(folder: Path, tmp_path: Path) -> None:
    before = tables_in(folder)
    found = drill(folder, tmp_path / "copy.tar")
    with open_ledger(folder) as ledger:
        assert found.events == ledger.count_events()
        assert found.last_recorded_at == max(one.recorded_at for one in ledger.events())
    assert (found.unread, found.lost) == (0, 0)
    assert [one.name for one in folder.parent.iterdir()] == ["centre"]
    assert tables_in(folder) == before


def test_what_was_added_since_is_told_as_lost(folder: Path, tmp_path: Path) -> None:
    with open_ledger(folder, write=True) as ledger:
        ledger.append([a_unit("Unit 1"), a_unit("Unit 2")])
    assert drill(folder, tmp_path / "copy.tar").lost == 2
    told = CliRunner().invoke(main, ["drill", str(folder), str(tmp_path / "copy.tar")])
    assert told.exit_code == 1
    assert "2 events were added since and would be lost. Back up now." in told.output


def test_a_backup_of_a_ledger_on_a_server_is_tried_on_this_machine(tmp_path: Path, database: str) -> None:
    """The server is only read; what was added since is told."""
    with new_centre(tmp_path / "served", database) as ledger:
        backup(tmp_path / "served", tmp_path / "copy.tar")
        before = ledger.count_events()
        ledger.append([a_unit("Unit 1")])
        found = drill(tmp_path / "served", tmp_path / "copy.tar")
        assert (found.events, found.unread, found.lost) == (before, 0, 1)
        assert ledger.count_events() == before + 1


def test_a_backup_that_holds_what_the_ledger_lost_is_told(folder: Path, tmp_path: Path) -> None:
    """The ledger was set back after the backup: the backup is the better one."""
    earlier = (folder / "ledger.head").read_bytes()
    with open_ledger(folder, write=True) as ledger:
        ledger.append([a_unit("Unit 1")])
    backup(folder, tmp_path / "newer.tar")
    lose_tail(folder, 1)
    (folder / "ledger.head").write_bytes(earlier)
    with pytest.raises(DamageError, match="this ledger does not"):
        drill(folder, tmp_path / "newer.tar")


def test_the_backup_of_another_centre_is_refused(folder: Path, tmp_path: Path, either_database: str | None) -> None:
    with new_centre(tmp_path / "other", either_database):
        pass
    backup(tmp_path / "other", tmp_path / "other.tar")
    with pytest.raises(RefusedError, match="of another centre"):
        drill(folder, tmp_path / "other.tar")


def test_health_asks_for_a_drill_until_there_was_one(folder: Path, tmp_path: Path) -> None:
    def line() -> str:
        with open_ledger(folder) as ledger:
            return next(one.words for one in health(ledger).lines if one.what == "Restore drill")

    assert "No backup was put back on this machine" in line()
    drill(folder, tmp_path / "copy.tar")
    assert line().startswith("A backup was put back to try it on")


def test_the_whole_demo_goes_from_sqlite_to_postgresql_and_back_with_equal_hashes(
    loaded: sample.Loaded, tmp_path: Path, database: str
) -> None:
    """By backups: every event and every hash is the same on each side, and so are the tables."""
    places = (loaded.folder, tmp_path / "served", tmp_path / "again")
    for number, (before, after, url) in enumerate(zip(places[:-1], places[1:], (database, None), strict=True)):
        backup(before, tmp_path / f"{number}.tar")
        restore(tmp_path / f"{number}.tar", after, database=url)
    assert [site_of(place).server is not None for place in places] == [False, True, False]
    first, served, again = ((_every_event(place), tables_in(place)) for place in places)
    assert len(first[0]) > 1000
    assert served == first
    assert again == first
    assert all(verify(place).fine for place in places)


def _every_event(folder: Path) -> list[Event]:
    with open_ledger(folder) as ledger:
        return list(ledger.chain_events())
