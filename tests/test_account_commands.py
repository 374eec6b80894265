"""Accounts by the command line: the first one, others, forgotten passwords, back to single-person mode."""

from __future__ import annotations

from pathlib import Path

import pytest
from centre_builder import Centre
from click.testing import CliRunner, Result
from zxcvbn import matching

from course.answers.accounts import account_named, account_of, any_account
from course.commands import main
from course.errors import ExitCode
from course.storage import passwords
from course.storage.ledger import open_ledger
from course.storage.passwords import is_right
from course.words import Office, Role

FIRST, NEXT = "seven grey seals dive", "a lamp under the pier"


@pytest.fixture(autouse=True)
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same hash with the least work: what it costs is tested in test_passwords.py."""
    monkeypatch.setattr(
        passwords, "_hasher", passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)
    )  # fmt: skip


@pytest.fixture
def folder(small_centre: Centre) -> Path:
    """The small centre's folder, open nowhere."""
    small_centre.ledger.close()
    return small_centre.ledger.folder


def account(*arguments: object, typed: str = "") -> Result:
    return CliRunner().invoke(main, ["account", *map(str, arguments)], input=typed)


def with_lead(folder: Path) -> Path:
    """The folder, its lead with an account."""
    done = account("add", folder, "Tamsin", "--name", "tamsin", "--stdin", typed=f"{FIRST}\n")
    assert done.exit_code == 0, done.output
    return folder


def test_the_first_account_is_told_of_with_what_follows_from_it(folder: Path) -> None:
    assert "There is no account" in account("list", folder).stdout
    done = account("add", folder, "Tamsin", "--name", "tamsin", typed=f"{FIRST}\n{FIRST}\n")
    assert done.exit_code == 0, done.output
    assert FIRST not in done.output
    assert "Tamsin Okoro-Vale signs in as tamsin; lead instructor; no PIN." in done.stdout
    assert "From now on everybody signs in." in done.stdout
    assert account("list", folder).stdout == "Tamsin Okoro-Vale signs in as tamsin; lead instructor; no PIN.\n"
    with open_ledger(folder) as ledger:
        found = account_named(ledger, "tamsin")
    assert found is not None
    assert (is_right(found.password, FIRST), found.must_change) == (True, False)


def test_the_first_account_is_for_the_lead_alone(folder: Path) -> None:
    done = account("add", folder, "Amaru", "--name", "amaru", "--stdin", typed=f"{FIRST}\n")
    assert (done.exit_code, done.stdout) == (ExitCode.REFUSED, "")
    assert "The first account of a centre is for a lead instructor" in done.stderr


def test_two_that_differ_are_asked_for_again_and_none_is_refused(folder: Path) -> None:
    done = account("add", folder, "Tamsin", "--name", "tamsin", typed=f"{FIRST}\n{NEXT}\n{FIRST}\n{FIRST}\n")
    assert done.exit_code == 0, done.output
    assert account("add", folder, "Amaru", "--name", "a", "--stdin", typed="").exit_code == ExitCode.REFUSED


def test_somebody_is_entered_for_an_office_and_offices_come_and_go(folder: Path) -> None:
    with_lead(folder)
    asked = ("add", folder, "Odo Penhallick", "--enter", "--office", "auditor", "--name", "odo", "--stdin")
    done = account(*asked, typed=f"{NEXT}\n")
    assert done.stdout == (
        "Odo Penhallick signs in as odo; auditor; no PIN; has to change the password at the next sign-in.\n"
    )
    assert account("office", folder, "Odo", "administrator").stdout == "Administrator: given.\n"
    assert account("office", folder, "Odo", "auditor", "--take-away").stdout == "Auditor: taken away.\n"
    with open_ledger(folder) as ledger:
        found = account_named(ledger, "odo")
    assert found is not None
    assert found.roles == {Office.ADMINISTRATOR}
    assert account("close", folder, "Tamsin", "--by", "Odo").exit_code == ExitCode.REFUSED  # a lead's account


def test_a_forgotten_password_is_set_anew_and_has_to_be_changed(folder: Path, small_centre: Centre) -> None:
    with_lead(folder)
    assert account("add", folder, "Amaru", "--name", "amaru", "--stdin", typed=f"{NEXT}\n").exit_code == 0
    done = account("password", folder, "Amaru", "--stdin", typed=f"{FIRST}\n")
    assert done.stdout == "The password is set. It has to be changed at the next sign-in.\n"
    assert account("password", folder, "Amaru", "--by", "Amaru", "--stdin", typed=f"{NEXT}\n").exit_code == 0
    with open_ledger(folder) as ledger:
        found = account_of(ledger, small_centre.amaru)
    assert found is not None
    assert (found.must_change, is_right(found.password, NEXT), found.roles) == (False, True, {Role.STUDENT})


def test_a_pin_is_set_by_whoever_knows_the_password_and_taken_away_by_the_lead(folder: Path) -> None:
    with_lead(folder)
    wrong = account("pin", folder, "Tamsin", "--stdin", typed=f"{NEXT}\n4826\n")
    assert (wrong.exit_code, wrong.stderr) == (
        ExitCode.REFUSED, "That is not the password or PIN. Nothing was changed.\n",
    )  # fmt: skip
    assert account("pin", folder, "Tamsin", "--stdin", typed=f"{FIRST}\n1234\n").exit_code == ExitCode.REFUSED
    assert account("pin", folder, "Tamsin", "--stdin", typed=f"{FIRST}\n4826\n").stdout == "The PIN is set.\n"
    assert account("list", folder).stdout.endswith("has a PIN.\n")
    by_pin = account("pin", folder, "Tamsin", "--stdin", typed="4826\n5937\n")
    assert by_pin.exit_code == ExitCode.USAGE
    assert account("pin", folder, "Tamsin", "--take-away").stdout == "The PIN is taken away.\n"


def test_the_only_account_is_closed_on_purpose_alone(folder: Path) -> None:
    with_lead(folder)
    kept = account("close", folder, "Tamsin")
    assert kept.exit_code == ExitCode.REFUSED
    assert "Nobody else with an account may make and close accounts" in kept.stderr
    done = account("close", folder, "Tamsin", "--last")
    assert done.stdout == "Closed. There is no account any more: the screens are open on this machine.\n"
    with open_ledger(folder) as ledger:
        assert not any_account(ledger)


def test_the_screens_do_not_start_without_the_list_of_common_passwords(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(matching.RANKED_DICTIONARIES, "passwords", {})
    done = CliRunner().invoke(main, ["open", str(folder)])
    assert (done.exit_code, done.stdout) == (ExitCode.STORAGE, "")
    assert done.stderr.startswith("The list of common passwords is missing or empty")
    refused = account("add", folder, "Tamsin", "--name", "tamsin", "--stdin", typed=f"{FIRST}\n")
    assert refused.exit_code == ExitCode.STORAGE


def test_every_part_has_help_and_stands_in_the_readme() -> None:
    readme = (Path(__file__).parent.parent / "README.md").read_text("utf-8")
    (row,) = [line for line in readme.splitlines() if line.startswith("| `course account add")]
    group = main.commands["account"]
    for name, command in getattr(group, "commands").items():  # noqa: B009 - a group, which the base does not say
        assert command.help, name
        assert f"`{name}`" in row or f"account {name}" in row
        assert account(name, "--help").exit_code == 0
