"""Who may do what: one table, asked by every action. One role set from the start; more of it comes with accounts.

The lead and the instructors decide; the lead alone compares observers and answers for personal data. Assistants run
the day beside them, technicians look after units; both and candidates may fill practice sheets, and whoever is on the
staff may freeze a session. Nobody else writes.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from course.errors import RefusedError
from course.words import ROLE_WORDS, Role, listed


class Act(StrEnum):
    """What can be done in a centre."""

    SET_UP = "set up people, units, courses and sessions"
    EVALUATE = "give marks that count for a student"
    PRACTISE = "fill a practice sheet"
    AMEND = "correct or withdraw what stands in the ledger"
    SIGN = "sign a standing"
    ANSWER = "answer a finding"
    RUN_DAY = "run the day: sign people in and out, call the roll, give out sheets"
    CLOSE = "close a session or a day, or open it again"
    FREEZE = "freeze a session when something goes wrong"
    CARE = "look after units: service, holds, planted faults"
    RELEASE = "lift a hold from a unit"
    OBSERVE = "compare observers"
    ERASE = "erase somebody's personal data"
    EXPORT = "give out what is kept about one person"
    KEEP = "set how long personal data are kept"
    KEY = "make or replace the centre's key"


LEAD_ALONE = frozenset({Act.OBSERVE, Act.ERASE, Act.EXPORT, Act.KEEP, Act.KEY})
TABLE: dict[Role, frozenset[Act]] = {
    Role.LEAD: frozenset(Act),
    Role.INSTRUCTOR: frozenset(Act) - LEAD_ALONE,
    Role.ASSISTANT: frozenset({Act.PRACTISE, Act.RUN_DAY, Act.FREEZE}),
    Role.CANDIDATE: frozenset({Act.PRACTISE, Act.FREEZE}),
    Role.TECHNICIAN: frozenset({Act.PRACTISE, Act.FREEZE, Act.CARE, Act.RELEASE}),
    Role.STUDENT: frozenset(),
}


def may(roles: Iterable[Role], act: Act) -> bool:
    """Whether somebody in these roles may do this."""
    return any(act in TABLE[role] for role in roles)


def require(roles: Iterable[Role], act: Act) -> None:
    """Refuse what the roles do not allow.

    Raises:
        RefusedError: none of the roles may do this; the sentence says whose roles may.
    """
    roles = tuple(roles)
    if not may(roles, act):
        asked = listed([ROLE_WORDS[role] for role in TABLE if act in TABLE[role]], "or")
        words = listed([ROLE_WORDS[role] for role in roles]) or "somebody without a role"
        raise RefusedError(
            f"Only somebody who is {asked} may {act.value}; this person is {words}. Nothing was changed."
        )
