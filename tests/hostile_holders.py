"""The same places for somebody who is signed in: by a role, or by an office that stands beside teaching."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import pytest
from centre_builder import Centre
from hostile_desk import Drive, Said

from course.access import TABLE, Holder
from course.actions import accounts
from course.actions import centre as founding
from course.asker import Asker, ask_by
from course.screens import door
from course.storage import passwords
from course.words import Role

PASSWORD = "seven grey seals dive"  # noqa: S105
HOLDERS = {str(holder): holder for holder in TABLE}


def person_of(c: Centre, holder: Holder) -> str:
    """Somebody who has this role or office and no other; entered where nobody is there yet."""
    known: dict[Holder, str] = {
        Role.LEAD: c.lead, Role.INSTRUCTOR: c.second, Role.ASSISTANT: c.assistant, Role.CANDIDATE: c.candidate,
        Role.STUDENT: c.amaru,
    }  # fmt: skip
    if isinstance(holder, Role):
        return known.get(holder) or founding.add_person(c.ledger, c.lead, name="Odo Penhallick", roles=[holder])
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_hasher", passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8))
        accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password=PASSWORD)
        return accounts.enter_for_office(
            c.ledger, c.lead, shown_as="Odo Penhallick", name="odo-here", password=f"{PASSWORD} deep", offices=[holder]
        )


@contextmanager
def asking_as(asker: Asker) -> Iterator[None]:
    """Within it this person asks, on pages too, which run in threads of their own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(door, "page_token", lambda: f"a session of {asker.person}")
        ask_by(lambda: asker)
        try:
            yield
        finally:
            ask_by(None)


def as_holder(drive: Drive, holder: Holder) -> Drive:
    """The same place, for somebody of this role or office who is signed in by password."""

    def ready(c: Centre) -> tuple[Asker, Any]:
        made = drive.ready(c)
        return Asker(person_of(c, holder), frozenset({holder}), name="Somebody"), made

    def act(made: tuple[Asker, Any], text: str) -> Said:
        asker, inner = made
        with asking_as(asker):
            return drive.act(inner, text)

    return replace(drive, place=f"{drive.place} as {holder}", ready=ready, act=act)


def refused_to_everybody(c: Centre, drive: Drive, made: Any, text: str) -> list[str]:
    """What each role and office is told that tries the same act in its own name; each is refused or this fails.

    A role that nobody in the small centre has, and an office, are tried by the instructor with these rights alone.
    """
    told, lead, before = [], c.lead, c.count()
    for holder in TABLE:
        known: dict[Holder, str] = {
            Role.LEAD: lead, Role.ASSISTANT: c.assistant, Role.CANDIDATE: c.candidate, Role.STUDENT: c.amaru,
        }  # fmt: skip
        c.lead = known.get(holder, c.second)  # what was made ready reads it as it acts
        try:
            with asking_as(Asker(c.lead, frozenset({holder}), name="Somebody")):
                said = drive.act(made, text)
        finally:
            c.lead = lead
        assert said.refused, f"{holder} is let in"
        assert c.count() == before, f"{holder} adds something"
        told.append(said.refused)
    return told
