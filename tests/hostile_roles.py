"""Somebody of each role and office in the small centre, to try hostile input by each."""

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
from course.actions import courses as planning
from course.answers.accounts import account_of
from course.asker import Asker, ask_by
from course.screens import door
from course.storage import passwords
from course.words import Office, Role

PASSWORD = "violet anchors rarely whistle"  # noqa: S105  (of these tests)
CHEAP = passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)
HOLDERS = {str(holder): holder for holder in TABLE}


def somebody(c: Centre, holder: Holder) -> str:
    """Return who has this role or office alone; they are entered where the small centre has nobody."""
    known: dict[Holder, str] = {
        Role.LEAD: c.lead, Role.INSTRUCTOR: c.second, Role.ASSISTANT: c.assistant, Role.CANDIDATE: c.candidate,
        Role.STUDENT: c.amaru,
    }  # fmt: skip
    if holder in known:
        return known[holder]
    if isinstance(holder, Office):
        if account_of(c.ledger, c.lead) is None:
            accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password=PASSWORD)
        return accounts.enter_for_office(
            c.ledger, c.lead, shown_as=f"Somebody, {holder}", name=str(holder), password=PASSWORD, offices=[holder]
        )
    entered = founding.add_person(c.ledger, c.lead, name="Odile Brandt", roles=[holder])
    planning.enrol(c.ledger, c.lead, c.course, entered, holder)
    return entered


def somebody_cheap(c: Centre, holder: Holder) -> str:
    """The same, with a hash that takes no time."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_hasher", CHEAP)
        return somebody(c, holder)


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


def everybody(c: Centre) -> dict[Holder, str]:
    """Somebody of each role and office alone."""
    return {holder: somebody_cheap(c, holder) for holder in TABLE}


def as_holder(drive: Drive, holder: Holder) -> Drive:
    """The same place, for somebody of this role or office who is signed in by password; made once for all of them."""

    def ready(c: Centre) -> tuple[dict[Holder, str], Any]:
        made = drive.ready(c)
        return everybody(c), made

    def act(made: tuple[dict[Holder, str], Any], text: str) -> Said:
        people, inner = made
        with asking_as(Asker(people[holder], frozenset({holder}), name="Somebody")):
            return drive.act(inner, text)

    return replace(drive, place=f"{drive.place}, signed in", ready=ready, act=act)
