"""Who may do and see what: one table. Actions ask it for acts; pages, routes, downloads and answers ask for sights.

The lead and the instructors decide; of those who teach, the lead alone compares observers and answers for personal
data. Assistants run the day beside them, technicians look after units; both and candidates may fill practice sheets,
and whoever is on the staff may freeze a session. A student sees their own. Two offices stand beside teaching: an
auditor sees all and changes nothing, an administrator looks after accounts, copies and personal data, and neither marks
nor signs. What several roles may is what any one of them may, and nothing more.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from course.errors import RefusedError
from course.words import OFFICE_WORDS, ROLE_WORDS, Office, Role, listed


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
    ACCOUNT = "make and close accounts"
    BACKUP = "make copies of the centre and put them back"


class Sight(StrEnum):
    """What can be seen or fetched: a page by its file, a route by its path, a download by the module that offers it."""

    TODAY = "page today"
    MARK = "page mark"
    SLATE = "page slate"
    COURSE = "page course"
    READY = "page ready"
    FINDINGS = "page findings"
    GATES = "page gates"
    HOURS = "page hours"
    UNITS = "page units"
    FIGURES = "page figures"
    DAY = "page day"
    CLASS = "page class"
    STUDENT = "page student"
    OBSERVERS = "page observers"
    STANDARDS = "page standards"
    PAPERS = "page papers"
    CHECK = "page check"
    WHY = "page why"
    PEOPLE = "page people"
    PRIVACY = "page privacy"
    LAPTOPS = "page laptops"
    HEALTH = "page health"
    MARKS_ROUTE = "route /course/marks"
    PULSE_ROUTE = "route /course/pulse"
    SLATE_ROUTE = "route /course/slate"
    FONT_ROUTE = "route /course/fonts"
    SHEETS_FILE = "download slate_forms"
    TIMES_FILE = "download hours_parts"
    OWN_DATA_FILE = "download privacy_parts"
    INCIDENT_FILE = "download incident_parts"
    DAY_FILE = "download day_parts"
    DAY_PREVIEW_FILE = "download day_preview"
    BUNDLE_FILE = "download laptop_parts"
    AUDIT_FILE = "download audit_parts"
    WHY_FILE = "download why_parts"
    FIGURES_FILE = "download figure_page"
    OXYGEN_FILE = "download oxygen_parts"
    CHART_FILE = "download charts"
    FILED_FILE = "download filed_preview"
    BATCH_FILE = "download batch_parts"
    PAPER_FILE = "download papers"
    FINDINGS_FILE = "download findings"
    OBSERVERS_FILE = "download observers"
    TAKE_HOME_FILE = "download student"


Right = Act | Sight
Holder = Role | Office
HOLDER_WORDS: dict[Holder, str] = {
    **{role: ROLE_WORDS[role] for role in Role},
    **{office: OFFICE_WORDS[office] for office in Office},
}
OWN_ONLY = frozenset({Sight.STUDENT, Sight.PAPERS, Sight.WHY, Sight.PAPER_FILE, Sight.WHY_FILE, Sight.TAKE_HOME_FILE})
"""What a student sees, and there of themselves alone."""
WRITING_ROUTES = frozenset({Sight.MARKS_ROUTE, Sight.SLATE_ROUTE})
LEAD_ALONE = frozenset({Act.OBSERVE, Act.ERASE, Act.EXPORT, Act.KEEP, Act.KEY, Act.ACCOUNT, Act.BACKUP})
"""Of those who teach, the lead's alone."""
_LEAD_SEES = frozenset({
    Sight.OBSERVERS, Sight.OBSERVERS_FILE, Sight.PRIVACY, Sight.OWN_DATA_FILE, Sight.BUNDLE_FILE, Sight.AUDIT_FILE
})  # fmt: skip
_ALL = frozenset({Sight.CHECK, Sight.FONT_ROUTE})
_POOLSIDE = _ALL | {
    Sight.TODAY, Sight.MARK, Sight.COURSE, Sight.READY, Sight.FIGURES, Sight.STANDARDS, Sight.FIGURES_FILE,
    Sight.CHART_FILE, Sight.MARKS_ROUTE, Sight.PULSE_ROUTE,
}  # fmt: skip
_DAY = frozenset({
    Sight.SLATE, Sight.SLATE_ROUTE, Sight.HOURS, Sight.UNITS, Sight.DAY, Sight.SHEETS_FILE, Sight.DAY_FILE,
    Sight.DAY_PREVIEW_FILE, Sight.INCIDENT_FILE,
})  # fmt: skip
_OFFICE = frozenset({
    Sight.PEOPLE, Sight.PRIVACY, Sight.LAPTOPS, Sight.HEALTH, Sight.OWN_DATA_FILE, Sight.BUNDLE_FILE
})  # fmt: skip
TABLE: dict[Holder, frozenset[Right]] = {
    Role.LEAD: frozenset(Act) | frozenset(Sight),
    Role.INSTRUCTOR: (frozenset(Act) - LEAD_ALONE) | (frozenset(Sight) - _LEAD_SEES),
    Role.ASSISTANT: frozenset({Act.PRACTISE, Act.RUN_DAY, Act.FREEZE}) | _POOLSIDE | _DAY,
    Role.CANDIDATE: frozenset({Act.PRACTISE, Act.FREEZE}) | _POOLSIDE,
    Role.TECHNICIAN: frozenset({Act.PRACTISE, Act.FREEZE, Act.CARE, Act.RELEASE}) | _POOLSIDE | {Sight.UNITS},
    Role.STUDENT: _ALL | OWN_ONLY,
    Office.AUDITOR: frozenset(Sight) - WRITING_ROUTES,
    Office.ADMINISTRATOR: frozenset({Act.ACCOUNT, Act.BACKUP, Act.ERASE, Act.EXPORT, Act.KEEP}) | _ALL | _OFFICE,
}
PIN_RIGHTS: frozenset[Right] = frozenset({
    Act.EVALUATE, Act.PRACTISE, Act.RUN_DAY, Act.FREEZE,
    Sight.TODAY, Sight.MARK, Sight.SLATE, Sight.COURSE, Sight.READY, Sight.FIGURES, Sight.UNITS, Sight.HOURS, Sight.DAY,
    Sight.CHECK, Sight.MARKS_ROUTE, Sight.PULSE_ROUTE, Sight.SLATE_ROUTE, Sight.FONT_ROUTE,
})  # fmt: skip
"""What is left of somebody's rights where they gave a PIN only: the work beside the water, and nothing to take away."""


def rights(roles: Iterable[Holder]) -> frozenset[Right]:
    """Return what somebody in these roles may do and see: what any one of them may, nothing more."""
    return frozenset().union(*(TABLE[role] for role in roles))


def may(roles: Iterable[Holder], right: Right) -> bool:
    """Whether somebody in these roles may do or see this."""
    return any(right in TABLE[role] for role in roles)


def may_by_pin(roles: Iterable[Holder], right: Right) -> bool:
    """Whether somebody in these roles may do or see this where they gave a PIN only."""
    return right in PIN_RIGHTS and may(roles, right)


def own_only(roles: Iterable[Holder], sight: Sight) -> bool:
    """Whether somebody who may see this sees there only what is about themselves."""
    seeing = [role for role in roles if sight in TABLE[role]]
    return sight in OWN_ONLY and bool(seeing) and all(role == Role.STUDENT for role in seeing)


def holders_of(right: Right, *, offices: bool = True) -> list[str]:
    """Return the words for every role, and every office if it is asked for, that this right belongs to."""
    return [
        HOLDER_WORDS[holder] for holder in TABLE if right in TABLE[holder] and (offices or isinstance(holder, Role))
    ]


def require(roles: Iterable[Holder], right: Right, *, offices: bool = False) -> None:
    """Refuse what the roles do not allow.

    Args:
        roles: roles and offices.
        right: what is to be done or seen.
        offices: the centre has accounts, so that the refusal names offices too.

    Raises:
        RefusedError: none of the roles may do or see this; the sentence says whose roles may.
    """
    roles = tuple(roles)
    if not may(roles, right):
        asked = listed(holders_of(right, offices=offices), "or")
        words = listed([HOLDER_WORDS[role] for role in TABLE if role in roles]) or "somebody without a role"
        raise RefusedError(
            f"Only somebody who is {asked} may {words_of(right)}; this person is {words}. Nothing was changed."
        )


def require_by_pin(roles: Iterable[Holder], right: Right) -> None:
    """Refuse what the roles do not allow, or a PIN alone does not.

    Raises:
        RefusedError: told which of both.
    """
    require(roles, right, offices=True)
    if right not in PIN_RIGHTS:
        raise RefusedError(
            f"A PIN is not enough to {words_of(right)}. Sign in with your password for that. Nothing was changed."
        )


def words_of(right: Right) -> str:
    """Return a right as it stands in a sentence after "may"."""
    return right.value if isinstance(right, Act) else f"see this ({right.value})"


def as_text() -> str:
    """Return the table as a page of the guide (Markdown)."""
    top = f"| | {' | '.join(HOLDER_WORDS[role] for role in TABLE)} | by PIN |\n|---|{'---|' * (len(TABLE) + 1)}"
    return "\n".join([
        "# Who may do and see what", "",
        "Made from the table in `course/access.py`; a test holds the two equal.",
        "What may be done is asked by every action, what may be seen by every page, route and download, each time.",
        "Behind them every answer asks anew: it is given to whoever may see one of the pages or files that show it,",
        "and where a cell says “own” about nobody else. What an answer asks in turn is a part of it. Whoever checks a",
        "paper that is not open to them is told whether the ledger still says so, and not what it says instead.",
        "The two offices, auditor and administrator, come with an account, with or without a role.",
        "“own” is what is about that person. The last column is what is left of a role's rights where somebody gave",
        "a PIN only. Where there are no accounts the program is in single-person mode and asks nobody who they are;",
        "commands are tools of whoever owns the folder, and ask no account.", "",
        "## May do", "", top, *(_row(act) for act in Act), "",
        "## May see or fetch", "", top, *(_row(sight) for sight in Sight), "",
    ])  # fmt: skip


def _row(right: Right) -> str:
    cells = [_cell(role, right) for role in TABLE]
    return f"| {right.value} | {' | '.join(cells)} | {'yes' if right in PIN_RIGHTS else '-'} |"


def _cell(role: Holder, right: Right) -> str:
    if right not in TABLE[role]:
        return "-"
    return "own" if isinstance(right, Sight) and own_only([role], right) else "yes"
