"""The health of a centre's storage: what is told as fine, as to be looked at and as bad."""

from __future__ import annotations

import json
import shutil
from collections import namedtuple
from datetime import timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from ledger_examples import a_person, change, lose_tail, new_centre

from course.answers.health import MARKS, HealthLine, State, health
from course.commands import main
from course.moments import new_id, now, observed_at
from course.record.events import CentreKeyMade, Draft
from course.screens import health_parts, serve, tablets
from course.storage.backup import backup
from course.storage.centre_key import new_key, write_key
from course.storage.ledger import open_ledger
from course.storage.remembered import recalled, remember_backup, remember_check
from course.storage.vault import Vault

Usage = namedtuple("Usage", "total used free")


@pytest.fixture
def folder(tmp_path: Path, either_database: str | None) -> Path:
    with new_centre(tmp_path / "centre", either_database) as ledger:
        ledger.append([a_person("Amaru Tendelle")])
        key = new_key()
        write_key(ledger.key_folder / "centre.key", key)
        made = CentreKeyMade(centre=ledger.centre_id, public=key.public, observed=observed_at(now(), "UTC"))
        ledger.append([Draft(new_id(), ledger.centre_id, made)])
    return tmp_path / "centre"


def line(folder: Path, what: str, *, write: bool = False) -> HealthLine:
    with open_ledger(folder, write=write) as ledger:
        return next(one for one in health(ledger).lines if one.what == what)


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_a_centre_that_was_checked_backed_up_and_tried_is_fine(folder: Path, tmp_path: Path) -> None:
    assert course("verify", folder).exit_code == 0
    assert course("backup", folder, tmp_path / "b.tar").exit_code == 0
    assert course("drill", folder, tmp_path / "b.tar").exit_code == 0
    result = course("health", folder)
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("All that was looked at is fine.")
    assert "Amaru" not in result.stdout


def test_without_check_backup_and_drill_each_is_to_be_looked_at_with_the_command_for_it(folder: Path) -> None:
    result = course("health", folder)
    assert result.exit_code == 0
    assert "3 things to look at: Full check, Backup, Restore drill." in result.stdout
    assert "Run: course verify centre" in result.stdout
    plain = json.loads(course("health", folder, "--json").stdout)
    assert {one["what"]: one["state"] for one in plain["lines"]}["Backup"] == "look"
    assert plain["bad"] is False


def test_old_ones_are_to_be_looked_at_too(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    backup(folder, tmp_path / "b.tar")
    remember_check(folder, 3, 0)
    later = now() + timedelta(days=31)
    monkeypatch.setattr("course.answers.health.now", lambda: later)
    assert line(folder, "Backup").state is State.LOOK
    assert line(folder, "Full check").state is State.LOOK
    (tmp_path / "b.tar").unlink()
    assert "no longer where it was made" in line(folder, "Backup").said


def test_without_a_backup_it_tells_how_one_is_made_every_evening(folder: Path) -> None:
    """Source: crontab(5): a percent sign in a command has to be escaped."""
    do = line(folder, "Backup").do
    assert "Every evening by itself: crontab -e" in do
    assert "0 22 * * * course backup PATH/centre OTHER-DISK/centre-$(date +\\%F).tar" in do


def test_a_check_that_found_something_is_bad_and_ends_with_one(folder: Path) -> None:
    remember_check(folder, 3, 2)
    assert line(folder, "Full check").state is State.BAD
    result = course("health", folder)
    assert result.exit_code == 1
    assert "1 thing cannot stay as it is: Full check." in result.stdout


def test_what_a_check_leaves_to_people_is_to_be_looked_at_and_not_bad(folder: Path) -> None:
    """A ledger that was continued twice stays so: it must not keep Health bad for ever."""
    remember_check(folder, 3, 0, for_people=1)
    told = line(folder, "Full check")
    assert told.state is State.LOOK
    assert "it found nothing damaged, and 1 thing for people to look at. Run: course verify" in told.words


def test_a_lost_tail_is_bad(folder: Path) -> None:
    lose_tail(folder, 1)
    assert line(folder, "Ledger").state is State.BAD
    assert "missing at the end" in line(folder, "Ledger").said
    assert line(folder, "Ledger").do.endswith("course go-on centre")
    assert course("health", folder).exit_code == 1


def test_a_witness_that_is_gone_damaged_or_behind_is_told(folder: Path) -> None:
    witness = folder / "ledger.head"
    kept = witness.read_text()
    witness.write_text(kept + "nonsense\n")
    assert line(folder, "Witness").state is State.BAD
    witness.write_text("".join(kept.splitlines(keepends=True)[:-1]))
    assert line(folder, "Witness").said == "ledger.head is 1 event behind the ledger."
    witness.unlink()
    assert line(folder, "Witness").state is State.LOOK


def test_keys_that_others_can_read_are_bad_and_the_way_out_is_told(folder: Path) -> None:
    (folder / "vault.db").chmod(0o644)
    found = line(folder, "Keys")
    assert found.state is State.BAD
    assert found.do == "Run, in the folder: chmod 600 vault.db"
    (folder / "vault.db").unlink()
    assert line(folder, "Keys").state is State.LOOK


def test_the_signing_key_is_told_here_elsewhere_damaged_or_open_to_others(folder: Path) -> None:
    assert line(folder, "Signing").state is State.OK
    with open_ledger(folder) as ledger:
        file = ledger.key_folder / "centre.key"
    file.chmod(0o644)
    assert line(folder, "Keys").do == f"Run, in the folder: chmod 600 {file}"
    shutil.copy(file, folder / "centre.key")
    assert "whoever copies the folder can sign" in line(folder, "Signing").said
    (folder / "centre.key").unlink()
    file.write_text("cut")
    assert line(folder, "Signing").state is State.BAD
    file.unlink()
    assert line(folder, "Signing").said == "The centre's key is not on this machine: papers are not signed."


@pytest.mark.parametrize(("free", "state"), [(10**11, State.OK), (10**9, State.LOOK), (10**7, State.BAD)])
def test_a_disk_that_fills_is_told_in_time(
    folder: Path, free: int, state: State, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10**12, 10**12 - free, free))
    assert line(folder, "Disk").state is state


def test_a_sqlite_that_is_too_old_and_another_journal_are_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Source: sqlite.org, "Write-Ahead Logging": versions before 3.51.3 but for repaired ones."""
    change(folder, "PRAGMA journal_mode=DELETE")
    assert line(folder, "Storage").state is State.OK  # nobody writes: the log begins at the next opening to write
    monkeypatch.setattr("course.storage.condition.wal_is_safe", lambda _: False)
    assert line(folder, "Storage").state is State.LOOK


def test_a_key_of_an_erased_person_that_came_back_is_bad(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert line(folder, "Erased people").said == "None."
    person = "0192d000-0000-7000-8000-0000000000f1"
    with open_ledger(folder, write=True) as ledger:
        (fact,) = [one for one in ledger.facts("person") if one.id != "0192d000-0000-7000-8000-00000000000a"]
        gone = fact.model_copy(update={"erased": "yes", "id": person})
        monkeypatch.setattr("course.answers.health.all_of", lambda *_: [gone])
        assert "1 person erased" in next(one for one in health(ledger).lines if one.what == "Erased people").said
        monkeypatch.setattr(Vault, "knows", lambda *_: True)
        assert next(one for one in health(ledger).lines if one.what == "Erased people").state is State.BAD


def test_every_state_has_a_mark_and_a_word() -> None:
    assert len(set(MARKS.values())) == len(State) == 3


def test_the_place_of_the_log_is_told_without_the_name_of_a_home(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A shared page shows it to others."""
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    assert line(folder, "Log").said.startswith(str(Path("~") / "state" / "log" / "loopledger.jsonl"))


def test_looking_changes_nothing(folder: Path) -> None:
    before = {file: file.read_bytes() for file in folder.iterdir()}
    course("health", folder)
    assert {file: file.read_bytes() for file in folder.iterdir() if file in before} == before


def test_the_running_program_tells_of_sharing_and_of_tablets(monkeypatch: pytest.MonkeyPatch) -> None:
    tablets.forget_all()
    monkeypatch.setattr(serve, "_shared", [False])
    assert [one.state for one in health_parts.running_lines()] == [State.OK, State.OK]
    monkeypatch.setattr(serve, "_shared", [True])
    tablets.heard("AB12CD34", "3")
    sharing, waiting = health_parts.running_lines()
    assert sharing.state is State.LOOK
    assert "not encrypted" in sharing.do
    assert waiting.said.startswith("3 marks waited on tablets")
    tablets.heard("AB12CD34", "0", "0", "", "600000")
    assert "clock of tablet AB12 is far off" in health_parts.running_lines()[1].said
    tablets.forget_all()


def test_notes_that_cannot_be_read_are_as_if_nothing_was_remembered(state_folder: Path, tmp_path: Path) -> None:
    remember_backup("a centre", tmp_path / "a.tar")
    assert len(recalled().backups["a centre"]) == 1
    (state_folder / "remembered.json").write_text("{")
    assert recalled().backups == {}
    for number in range(102):
        remember_backup("a centre", tmp_path / f"{number}.tar")
    assert len(recalled().backups["a centre"]) == 100
    assert recalled().backups["a centre"][-1].file.endswith("101.tar")
