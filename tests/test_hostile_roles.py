"""Hostile input by each role and office: in every field by direct call, and in every request to a route.

What a role may not do is refused before the text is looked at, in the same sentence whatever the text is; what it may
do ends as for anybody else. The table of `test_hostile_input.py` holds the texts; here they are tried by everybody.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from asgi_call import Reply, call
from centre_builder import Centre
from hostile_desk import Desk, Drive
from hostile_fields import READY
from hostile_roles import CHEAP, somebody
from hostile_routes import OURS, _body, _names, _sent
from hostile_screens import LEAKED
from signed_centre import SignedCentre, signed_centre
from test_hostile_input import Row, field, rows

from course.access import TABLE, Holder, Sight
from course.screens import serve, slate_route
from course.screens.door import COOKIE
from course.storage import passwords
from course.words import Office, Role, listed

NASTY = "<img src=x onerror=alert(1)>\u202e'; DROP TABLE event;--"
"""Markup, a mark that nobody sees, and a command of a database in one."""


BAD = re.compile(f"{LEAKED.pattern}|<img")
OF_ANOTHER = {
    "CentreMade.name", "PersonAdded.name (lead)", "AttemptOpened.elsewhere", "MarksGiven.notes (pad)",
    "AttemptClosed.reason (pad)", "Withdrawn.why (pad)", "SetPointReached.begins", "SetPointReached.over_minutes",
    "SessionFrozen.note",
}  # fmt: skip
"""Here whoever made it ready acts, or what is no time or number is refused before anybody is asked for."""


@pytest.fixture(scope="module")
def desk(built_centre: tuple[Path, Centre], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    base, centre = built_centre
    made = Desk(base, centre, tmp_path_factory.mktemp("roles") / "state")
    yield made
    made.close()


def by_these(name: str, holders: Sequence[Holder]) -> Drive:
    """A field, and people who have each of these roles or offices alone."""

    def ready(c: Centre) -> tuple[Any, dict[Holder, str]]:
        return (c, READY[name](c)), {holder: somebody(c, holder) for holder in holders}

    return replace(field(name), place=f"{name} by {listed([*map(str, holders)])}", ready=ready, again=False)


@pytest.mark.parametrize("name", READY)
def test_a_text_of_a_field_comes_to_the_same_by_every_role_or_to_a_clear_refusal(
    name: str, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Offices come with accounts, so that what has to be confirmed is refused for that: they stand apart."""
    monkeypatch.setattr(passwords, "_hasher", CHEAP)
    ended: dict[Holder, str] = {}
    for holders in (tuple(Role), tuple(Office)):
        drive = by_these(name, holders)
        for holder in holders:
            centre, ((_, taking), people) = desk.at(drive, monkeypatch)
            before, lead, centre.lead = centre.count(), centre.lead, people[holder]
            try:  # what was made ready reads who leads as it acts
                said = drive.act((centre, taking), NASTY)
            finally:
                centre.lead = lead
            ended[holder] = said.refused or said.kept
            if said.refused:
                assert centre.count() == before, holder
                assert said.refused == ended[Role.LEAD] or not set(LEAKED.findall(said.refused)) | (
                    {"<"} & {*said.refused}
                )
            else:
                assert ended[holder] == ended[Role.LEAD]
    told = {ended[one] for one in (Role.STUDENT, Office.AUDITOR)}
    assert (ended[Role.LEAD] in told) is (name in OF_ANOTHER), "a student or an auditor comes as far as the lead"


# --- routes ---------------------------------------------------------------------------------------------------------

ROUTE_ROWS = [row for row in rows() if row.where in ("route: POST marks", "route: GET pulse", "route: POST slate")]
SIGHTS = {serve.MARKS: Sight.MARKS_ROUTE, serve.PULSE: Sight.PULSE_ROUTE, slate_route.SLATE: Sight.SLATE_ROUTE}


@pytest.fixture(scope="module")
def signed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SignedCentre]:
    with signed_centre(tmp_path_factory.mktemp("signed")) as made:
        yield made


def sent(signed: SignedCentre, opened: Any, row: Row, cookie: str) -> Reply:
    """A row of the table as a request behind the door, with a session."""
    asked = _sent(row.text, _names(signed.ids, opened))
    method, path = (row.where.split(" ")[1], {v.rpartition("/")[2]: v for v in SIGHTS}[row.where.split(" ")[2]])
    headers = {k: v for k, v in (OURS | asked.get("headers", {})).items() if v is not None}
    return call(
        signed.app, asked.get("method", method), asked.get("path", path), headers=headers | {"cookie": cookie},
        body=_body(signed.ids, opened, asked),
    )  # fmt: skip


@pytest.fixture(scope="module")
def opened(signed: SignedCentre) -> Any:
    """An attempt, observed by the lead."""
    return signed.ids.open()


@pytest.mark.parametrize("holder", list(TABLE))
def test_every_hostile_request_to_a_route_is_refused_to_every_role(
    holder: Holder, signed: SignedCentre, opened: Any
) -> None:
    """Whoever may not use the route is told that; whoever may gets a sentence. Nothing is written in anybody's name."""
    token = signed.token(holder)
    with signed.served():
        for row in ROUTE_ROWS:
            before = signed.ids.count()
            reply = sent(signed, opened, row, f"{COOKIE}={token}")
            assert not LEAKED.search(reply.text), row.id
            assert reply.status < 500, row.id
            assert signed.ids.count() == before or row.expected != "refused", row.id
