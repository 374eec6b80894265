"""An act that saved something and then meets a fault is never told as NOT saved: by pages, routes, forms and commands.

Today's server went away between the save and what is read after it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from centre_builder import Centre
from click.testing import CliRunner
from ledger_examples import a_unit, new_centre
from opened_page import app_at
from signed_centre import PASSWORD, SignedCentre, signed_centre

from course.access import Role
from course.actions.pad import take
from course.commands import main
from course.errors import AfterSavingError, ExitCode, StorageError
from course.screens import door, serve, slate_route
from course.screens.frame import telling
from course.screens.laptop_parts import _with_bar
from course.storage.after_saving import told_after_saving
from course.storage.appending import Progress
from course.storage.ledger import Ledger, open_ledger

AWAY = "The ledger cannot be read: the server does not answer. Nothing was changed."
SAVED = "This was saved, as a whole or in part; then something went wrong: the ledger cannot be read: the server does "
SAVED += "not answer. Look what is there before you do it again."


def _away(*_: object, **__: object) -> None:
    raise StorageError(AWAY)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """A small centre's, open."""
    with new_centre(tmp_path / "centre") as ledger:
        yield ledger


@pytest.fixture
def own(tmp_path: Path) -> Iterator[SignedCentre]:
    """A centre with accounts."""
    with signed_centre(tmp_path) as own:
        yield own


def _saves_and_fails(ledger: Ledger, saves: int, fault: str) -> None:
    with told_after_saving():
        for _ in range(saves):
            ledger.append([a_unit()])
        raise StorageError(fault)


@pytest.mark.parametrize(
    ("saves", "fault", "told"),
    [
        (0, AWAY, AWAY),
        (1, AWAY, SAVED),
        (
            2,
            "NOT saved: the disk is full. What was saved before is kept.",
            "something went wrong: the disk is full. Look",
        ),
    ],
)
def test_what_was_saved_before_a_fault_is_told_as_saved_and_else_the_fault_as_it_is(
    ledger: Ledger, saves: int, fault: str, told: str
) -> None:
    """Also where the fault is of a second save; what another act saved before is none of it."""
    ledger.append([a_unit()])
    with pytest.raises(StorageError) as error:
        _saves_and_fails(ledger, saves, fault)
    assert told in error.value.sentence
    assert isinstance(error.value, AfterSavingError) == bool(saves)
    assert ("NOT saved" in error.value.not_saved) == (not saves)


def test_a_page_tells_an_act_that_could_not_read_on_as_saved(ledger: Ledger) -> None:
    def act() -> None:
        ledger.append([a_unit()])
        _away()

    telling(act)()
    assert st.session_state["told"] == ("error", SAVED)
    telling(_away)()
    assert st.session_state.pop("told") == ("error", f"NOT saved: {AWAY}")


def test_an_act_that_runs_beside_the_page_is_told_alike(ledger: Ledger) -> None:
    """As a merge does, behind a bar that says how far it is."""

    def act(_: Progress) -> None:
        ledger.append([a_unit()])
        _away()

    telling(_with_bar)("Taking in", act)
    assert st.session_state.pop("told") == ("error", SAVED)


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        (door.CHANGE, {"before": PASSWORD, "new": "tall-otter-sings-79", "again": "tall-otter-sings-79"}),
        (door.PIN, {"before": PASSWORD, "pin": "739281", "again": "739281"}),
    ],
)
def test_a_password_or_pin_that_was_changed_is_not_told_as_unchanged(
    own: SignedCentre, monkeypatch: pytest.MonkeyPatch, path: str, fields: dict[str, str]
) -> None:
    token = own.token(Role.LEAD)
    with monkeypatch.context() as patch:
        patch.setattr(own.sessions, "_needed_account", _away)
        reply = own.send(path, token, **fields)
    assert reply.status == 503
    assert SAVED in reply.text
    assert "Nothing was changed" not in reply.text


@pytest.mark.parametrize("unread", ["course.screens.frame.centre", "course.answers.matrix.matrix"])
def test_what_was_done_is_told_over_a_page_that_cannot_be_read_afterwards(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, unread: str
) -> None:
    """From its beginning or from its middle on; once it can be read, it is not told again."""
    serve.start(small_centre.ledger, take)
    app = app_at("course")
    app.session_state["told"] = ("done", "It is in the ledger.")
    with monkeypatch.context() as patch:
        patch.setattr(unread, _away)
        app.run()
    assert [one.value for one in app.success] == ["It is in the ledger."]
    assert [one.value for one in app.error] == ["The ledger cannot be read: the server does not answer."]
    app.button(key="try-again").click().run()
    assert [*app.error, *app.success, *app.exception] == []


def test_a_sheet_that_was_amended_is_not_told_as_not_saved(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    def amend(*_: object) -> str:
        ledger.append([a_unit()])
        return "an attempt"

    monkeypatch.setattr(slate_route, "current_ledger", lambda: ledger)
    monkeypatch.setattr(slate_route, "read_copy", lambda _: None)
    monkeypatch.setattr(slate_route, "amend_from_slate", amend)
    monkeypatch.setattr(slate_route, "check_slate", _away)
    answer = slate_route._answered(slate_route._Asked.model_construct(act="amend", copied={}))
    assert (answer.status_code, json.loads(bytes(answer.body))["sentence"]) == (503, SAVED)


def test_a_command_that_saved_and_cannot_read_on_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, run = tmp_path / "mine", CliRunner()
    assert run.invoke(main, ["new", str(folder), "--centre", "Quay", "--lead", "Ines Vale"]).exit_code == ExitCode.FINE
    monkeypatch.setattr("course.commands.accounts.account_lines", _away)
    asked = ["account", "add", str(folder), "Ines", "--name", "ines", "--stdin"]
    done = run.invoke(main, asked, input="tall-otter-sings-79\n")
    assert (done.exit_code, done.stderr) == (ExitCode.STORAGE, f"{SAVED}\n")
    with open_ledger(folder) as ledger:
        assert len(ledger.facts("account")) == 1
