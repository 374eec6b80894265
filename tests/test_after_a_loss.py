"""A ledger whose end is lost: what is missing is read first, then a person decides to go on with what is left."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from ledger_examples import LEAD, a_unit, change, copy_of, lose_tail, new_centre, tables_in
from test_merging import laptop

from course.commands import main
from course.errors import RefusedError
from course.exchange.merging import hand_over, merge
from course.storage.backup import backup
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.mending import continue_after_loss


@pytest.fixture
def folder(either_database: str | None, tmp_path: Path) -> Path:
    """A centre of which two of five events are lost."""
    with new_centre(tmp_path / "centre", either_database) as ledger:
        ledger.append([a_unit("Unit 1")])
        ledger.append([a_unit("Unit 2"), a_unit("Unit 3")])
        hand_over(ledger, tmp_path / "all.zip")
    lose_tail(tmp_path / "centre", 2)
    return tmp_path / "centre"


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_what_is_missing_is_told_first_and_nothing_is_changed(folder: Path) -> None:
    before = tables_in(folder), (folder / "ledger.head").read_bytes()
    told = course("go-on", folder)
    assert told.exit_code == 1
    assert told.stdout.startswith("2 events that had been saved are missing at the end of chain")
    assert "What is left of this ledger's own chain ends with event 3, recorded 20" in told.stdout
    assert "If you have a back-up that has more" in told.stdout
    assert (
        f"Nothing was changed. If you have read this and want to go on: course go-on {folder} --after 3" in told.stdout
    )
    assert (tables_in(folder), (folder / "ledger.head").read_bytes()) == before
    with open_ledger(folder) as ledger:
        assert ledger.damage


def test_the_newest_backup_of_this_machine_is_named(tmp_path: Path, either_database: str | None) -> None:
    with new_centre(tmp_path / "c", either_database) as ledger:
        backup(tmp_path / "c", tmp_path / "b.tar")
        ledger.append([a_unit()])
    lose_tail(tmp_path / "c", 1)
    assert f"made on this machine is {tmp_path / 'b.tar'}, of 20" in course("go-on", tmp_path / "c").stdout
    (tmp_path / "b.tar").unlink()
    assert "If you have a back-up" in course("go-on", tmp_path / "c").stdout


def test_whoever_names_the_last_event_that_is_left_goes_on_after_it(folder: Path) -> None:
    (folder / "ledger.open").write_text("{}")  # as a crash leaves it
    done = course("go-on", folder, "--after", 3)
    assert done.exit_code == 0, done.output
    assert "What the loss left was looked at so; what is missing is still missing." in done.stdout
    assert "Everything that was acknowledged is there" not in done.stdout
    assert "goes on after event 3. Back up now" in done.stdout
    with open_ledger(folder, write=True) as ledger:
        assert ledger.damage is None
        ledger.append([a_unit("Unit 4")])
    (told,) = verify(folder).findings
    assert told.startswith("2 events that had been saved are missing at the end of chain ")
    assert "the ledger ends at 3 there, and somebody went on without them" in told
    backed_up = course("backup", folder, folder.parent / "left.tar")
    assert backed_up.exit_code == 0, backed_up.output
    assert course("restore", folder.parent / "left.tar", folder.parent / "again").exit_code == 0


def test_a_ledger_of_before_its_newest_chain_is_told_as_a_loss_at_opening(tmp_path: Path) -> None:
    """An older ledger.db that was put back by hand: its own chain is whole, and a later one is gone."""
    folder = tmp_path / "centre"
    new_centre(folder).close()
    older = (folder / "ledger.db").read_bytes()
    with laptop(tmp_path / "other"):
        with open_ledger(folder, write=True) as ledger:
            ledger.append([a_unit("Unit 1")])
        (folder / "ledger.db").write_bytes(older)
        with open_ledger(folder, write=True) as ledger:
            assert ledger.damage is not None
            assert ledger.damage.startswith("2 events that had been saved are missing at the end of chain")
        assert course("go-on", folder, "--after", 2).exit_code == 0
        with open_ledger(folder, write=True) as ledger:
            assert ledger.damage is None
    assert (verify(folder).damage, len(verify(folder).findings)) == ((), 1)


def test_another_number_than_the_one_that_stands_there_is_refused(folder: Path) -> None:
    refused = course("go-on", folder, "--after", 5)
    assert refused.exit_code == 3
    assert "ends with event 3, not 5. Read again what is missing; nothing was changed." in refused.stderr
    with open_ledger(folder) as ledger:
        assert ledger.damage


def test_a_ledger_that_is_whole_is_not_gone_on_with(tmp_path: Path, either_database: str | None) -> None:
    new_centre(tmp_path / "c", either_database).close()
    for arguments in ((), ("--after", 2)):
        refused = course("go-on", tmp_path / "c", *arguments)
        assert refused.exit_code == 3
        assert "Nothing is missing" in refused.stderr
    with pytest.raises(RefusedError):
        continue_after_loss(tmp_path / "c")


def test_what_was_lost_comes_back_with_a_merge(folder: Path, tmp_path: Path) -> None:
    """Another laptop, or a stick, still had it."""
    course("go-on", folder, "--after", 3)
    with open_ledger(folder, write=True) as ledger:
        assert merge(ledger, LEAD, [tmp_path / "all.zip"]).added == 2
        assert len(ledger.facts("unit")) == 3
    assert verify(folder).fine


def test_a_change_in_the_middle_can_be_gone_on_after_and_stays_a_finding(
    tmp_path: Path, either_database: str | None
) -> None:
    with new_centre(tmp_path / "c", either_database) as ledger:
        ledger.append([a_unit()])
    change(tmp_path / "c", "UPDATE event SET actor = 'x' WHERE seq = 2")
    told = course("go-on", tmp_path / "c")
    assert "changed or damaged at event 2" in told.stdout
    assert course("go-on", tmp_path / "c", "--after", 3).exit_code == 0
    assert any("event 2" in finding for finding in verify(tmp_path / "c").findings)


def test_a_torn_file_is_looked_at_again_until_it_is_put_right(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It was found after a crash: closing it properly does not make it whole."""
    new_centre(tmp_path / "c").close()
    with open_ledger(tmp_path / "c", write=True):
        crashed = copy_of(tmp_path / "c", tmp_path / "crashed")
    monkeypatch.setattr("course.storage.opening.fault_in_file", lambda _: "The database finds a fault in itself.")
    for _ in range(2):
        with open_ledger(crashed, write=True) as ledger:
            assert ledger.damage == "The database finds a fault in itself."
