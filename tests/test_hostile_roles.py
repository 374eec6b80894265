"""Hostile input by each role and office, by password and by PIN: in every field by direct call.

What a role may not do is refused before the text is looked at, in the same sentence whatever the text is; what it may
do ends as for anybody else. The table of `test_hostile_input.py` holds the texts; here they are tried by everybody.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre
from hostile_desk import Desk, Drive, Said
from hostile_fields import READY
from hostile_roles import CHEAP, asking_as, somebody
from hostile_screens import LEAKED
from test_hostile_input import field

from course.access import Holder
from course.asker import Asker
from course.storage import passwords
from course.words import Office, Role, listed

NASTY = "<img src=x onerror=alert(1)>\u202e'; DROP TABLE event;--"
"""Markup, a mark that nobody sees, and a command of a database in one."""


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
                by_pin = Asker(people[holder], frozenset({holder}), by_pin=True)
                said = _by_pin(drive, (centre, taking), by_pin) or drive.act((centre, taking), NASTY)
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


def _by_pin(drive: Drive, made: tuple[Centre, Any], asker: Asker) -> Said | None:
    """The same by PIN first: None where that is refused, so that nothing was changed; else it comes to the same."""
    before = made[0].count()
    with asking_as(asker):
        said = drive.act(made, NASTY)
    if not said.refused:
        return said
    assert made[0].count() == before
    assert not LEAKED.search(said.refused)
    return None
