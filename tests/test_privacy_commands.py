"""Erasing and giving out by the command line: what is told before, what is asked for, and how it ends."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest
from centre_builder import Centre
from click.testing import CliRunner, Result

from course.commands import main
from course.errors import ExitCode
from course.storage.ledger import open_ledger


@pytest.fixture
def folder(small_centre: Centre) -> Path:
    """The small centre's folder, open nowhere."""
    small_centre.hold()
    small_centre.ledger.close()
    return small_centre.ledger.folder


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def count(folder: Path) -> int:
    with open_ledger(folder) as ledger:
        return ledger.count_events()


def test_without_a_reason_it_is_told_what_erasing_does_and_nothing_is_changed(folder: Path) -> None:
    before = count(folder)
    result = course("erase", folder, "Amaru")
    assert result.exit_code == 0, result.output
    for told in ("for good", "Papers that were printed", "No other text holds this name", "Nothing was changed."):
        assert told in result.stdout
    assert count(folder) == before


def test_a_reason_without_on_whose_word_is_asked_back_with_the_words_to_choose(folder: Path) -> None:
    result = course("erase", folder, "Amaru", "--reason", "asked")
    assert result.exit_code == ExitCode.USAGE
    assert "retention: the time for which the centre keeps data is over" in result.stderr


def test_erased_is_erased_and_what_is_left_to_do_is_told(folder: Path, tmp_path: Path) -> None:
    asked = ("erase", folder, "Amaru", "--authority", "person", "--reason", "asked in writing")
    result = course(*asked, "--despite", "so be it")
    assert result.exit_code == 0, result.output
    assert "Left to do:" in result.stdout
    assert "Amaru" not in result.stdout
    assert "erased person" in course("missing", folder).stdout
    assert course("verify", folder).exit_code == 0
    assert course("erase", folder, "Amaru").exit_code == ExitCode.NOT_FOUND
    gone = course("own-data", folder, "erased person", "--out", tmp_path / "a.zip")
    assert gone.exit_code == ExitCode.REFUSED
    assert "were erased on" in gone.stderr


def test_only_a_lead_is_let_do_either(folder: Path, tmp_path: Path) -> None:
    asked = ("erase", folder, "Amaru", "--authority", "person", "--reason", "asked", "--despite", "so be it")
    for result in (
        course(*asked, "--by", "Bruno"),
        course("own-data", folder, "Amaru", "--out", tmp_path / "a.zip", "--by", "Bruno"),
    ):
        assert result.exit_code == ExitCode.REFUSED
        assert "Only somebody who is lead instructor may" in result.stderr
    assert not (tmp_path / "a.zip").exists()


def test_without_a_person_whose_data_are_due_is_told(folder: Path) -> None:
    result = course("erase", folder)
    assert result.exit_code == 0
    assert "No time is set" in result.stdout
    assert "Nothing is erased by itself" in result.stdout


def test_own_data_are_a_file_that_is_not_written_over(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "given.zip"
    result = course("own-data", folder, "Amaru Tendelle", "--out", out)
    assert result.exit_code == 0, result.output
    assert "lines of the ledger" in result.stdout
    with zipfile.ZipFile(out) as file:
        assert json.loads(file.read("own-data.json"))["person"]["name"] == "Amaru Tendelle"
    assert course("own-data", folder, "Amaru Tendelle", "--out", out).exit_code == ExitCode.REFUSED


def test_an_unclear_name_is_answered_with_all_that_fit_and_changes_nothing(folder: Path) -> None:
    result = course("erase", folder, "o")
    assert result.exit_code == ExitCode.NOT_FOUND
    assert "Tamsin Okoro-Vale" in result.stderr
    assert "Nobody in this centre fits" in course("erase", folder, "Nobody At All").stderr
