"""A tiny language for attempts: "c c X | m:pool c~" are five attempts on two days.

    c  clean                                   s  stopped by the student
    w  minor within the rule                   v  void
    u  minor within the rule, a step unseen    p  practice sheet only
    m  minor that breaks                       o  still open
    X  critical                                e  clean, from elsewhere, not accepted
    i  incomplete                              E  clean, from elsewhere, accepted

After the letter, in this order: `~` seen by a lapsed observer only, `!` two corrections disagree, `:pool` a setting,
`@type-b` a unit type. `|` begins the next day, `|30` the day thirty days later.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from typing import Any

from course.assessment.attempts import SeenAttempt
from course.moments import observed_at
from course.record.facts import Attempt, Ending, MarkLine, OrderLine, Sheet, ValueLine
from course.standards.rubric import Limit, Rule, Skill, Step, StepError
from course.words import Capacity, Closing, Mark, Role, SheetSource

FIRST_DAY = date(2026, 10, 21)
ZONE = "Atlantic/Azores"
TYPE_A = "type-a"
TAMSIN, BRUNO, LIEN = "tamsin", "bruno", "lien"
NO_FEATURES: frozenset[str] = frozenset()

_TOKEN = re.compile(r"^([cwumXisvpoeE])(~?)(!?)(?::(\w+))?(?:@([\w-]+))?$")
_OBSERVED = observed_at(datetime(2026, 10, 21, 9, tzinfo=UTC), ZONE)
_HOW = {"s": Closing.STOPPED, "v": Closing.VOID}


def error(error_id: str, *, critical: bool = False) -> StepError:
    """An invented error."""
    return StepError(
        id=error_id,
        label=f"Wrong by {error_id}",
        consequence="Somebody could be hurt on this very dive.",
        critical=critical,
    )


def step(step_id: str, *errors: StepError, **more: Any) -> Step:
    """An invented step named by its id."""
    plain: dict[str, Any] = {"do": f"Do {step_id} now.", "why": "For the test only."}
    if (more.get("after_critical") or any(one.critical for one in errors)) and "if_left_out" not in more:
        plain["left_out_why"] = "Invented: leaving it out is only a minor thing here."
    return Step(id=step_id, errors=errors, **(plain | more))


def limit(**more: Any) -> Limit:
    """A watched time in seconds, unless told otherwise."""
    plain: dict[str, Any] = {"quantity": "time", "unit": "s"}
    return Limit.model_validate(plain | more)


def rule(**more: Any) -> Rule:
    """Three in a row on one day in one setting, unless told otherwise."""
    plain: dict[str, Any] = {"in_a_row": 3, "settings": ("dry",), "minor_errors_allowed": 1, "reteach": 1, "budget": 12}
    return Rule(**(plain | more))


def skill(steps: Iterable[Step], *, setting: tuple[str, ...] = ("dry", "pool", "open_water"), **more: Any) -> Skill:
    """An invented skill with these steps; what is left is its rule."""
    days = more.pop("currency_days", 90)
    return Skill.model_validate(
        {
            "id": "an-invented-skill",
            "title": "An invented skill",
            "purpose": "To be counted by the tests.",
            "setting": setting,
            "steps": tuple(steps),
            "rule": rule(**more),
            "caution": "None, since it is invented.",
            "currency_days": days,
        }
    )


def mouthpiece(**more: Any) -> Skill:
    """Four steps: a plain one, one that must not be left out, one that must not come early, a plain one."""
    return skill(
        [
            step("co-hand", error("co-no-hand"), error("co-late")),
            step(
                "co-close",
                error("co-half", critical=True),
                error("co-slow"),
                if_left_out="critical",
                after=("co-hand",),
            ),
            step("co-out", error("co-open-out", critical=True), after=("co-close",), after_critical=("co-close",)),
            step("co-hold", error("co-dangles"), after=("co-out",)),
        ],
        **more,
    )


def mark(step_id: str, what: Mark = Mark.DONE, *errors: str, event: str = "e", **more: Any) -> MarkLine:
    """One live mark; errors make it an error mark."""
    return MarkLine(
        event=event,
        step=step_id,
        mark=Mark.ERROR if errors else what,
        errors=errors,
        utc=_OBSERVED.utc,
        **more,
    )


def value(step_id: str, text: str, unit: str = "s", quantity: str = "time") -> ValueLine:
    """One live value."""
    return ValueLine(event="v", step=step_id, quantity=quantity, unit=unit, value=text)


def before(first_done: str, should_come_first: str, *, seen_so: bool = True) -> OrderLine:
    """An observer's answer about the order of two steps."""
    return OrderLine(event="o", first_done=first_done, should_come_first=should_come_first, seen_so=seen_so)


def sheet(*marks: MarkLine, observer: str = TAMSIN, practice: bool = False, **more: Any) -> Sheet:
    """One observer's sheet."""
    plain: dict[str, Any] = {
        "id": f"sheet-{observer}",
        "observer": observer,
        "role": Role.CANDIDATE if practice else Role.INSTRUCTOR,
        "capacity": Capacity.PRACTICE if practice else Capacity.EVALUATING,
        "source": SheetSource.PAD,
        "started": _OBSERVED,
        "marks": marks,
    }
    return Sheet(**(plain | more))


def all_done(of: Skill, *other: MarkLine, **more: Any) -> Sheet:
    """A sheet with every step done but for those that other marks are given for."""
    marked = {line.step for line in other}
    return sheet(*(mark(one.id) for one in of.steps if one.id not in marked), *other, **more)


def attempt(*sheets: Sheet, how: Closing | None = Closing.COMPLETED, **more: Any) -> Attempt:
    """One attempt, closed as completed unless told otherwise; None leaves it open."""
    plain: dict[str, Any] = {
        "id": "attempt-1",
        "course": "course",
        "session": "session",
        "student": "amaru",
        "skill": "an-invented-skill",
        "rubric": "0" * 64,
        "unit": None,
        "unit_type": TYPE_A,
        "setting": "dry",
        "number": 1,
        "elsewhere": None,
        "observed": _OBSERVED,
        "sheets": sheets,
        "ending": ending(how) if how else None,
    }
    return Attempt(**(plain | more))


def ending(how: Closing, second: str | None = None) -> Ending:
    """How an attempt was closed, by Tamsin."""
    return Ending(
        event="c",
        how=how,
        stopped_by="student" if how == Closing.STOPPED else None,
        second=second,
        closed_by=TAMSIN,
        observed=_OBSERVED,
    )


def seen(of: Attempt, day: date = FIRST_DAY, lapsed: Iterable[str] = (), **more: Any) -> SeenAttempt:
    """An attempt with its place in time."""
    return SeenAttempt(attempt=of, day=day, session_start=_start(day), lapsed=frozenset(lapsed), **more)


def attempts(text: str, of: Skill, first_day: date = FIRST_DAY) -> list[SeenAttempt]:
    """Read the language; attempts are numbered through and named a1, a2 and so on."""
    day = first_day
    found: list[SeenAttempt] = []
    for token in text.split():
        if token.startswith("|"):
            day += timedelta(days=int(token[1:] or 1))
        else:
            found.append(_attempt(token, of, day, len(found) + 1))
    return found


def last_day(of: Iterable[SeenAttempt]) -> date:
    """The last training day of some attempts."""
    return max(one.day for one in of)


def _attempt(token: str, of: Skill, day: date, number: int) -> SeenAttempt:
    match = _TOKEN.match(token)
    if match is None:
        raise ValueError(f"{token!r} is no word of the language")
    letter, lapsed, contested, setting, unit_type = match.groups()
    one = attempt(
        _sheet(letter, of),
        how=None if letter == "o" else _HOW.get(letter, Closing.COMPLETED),
        id=f"a{number}",
        number=number,
        setting=setting or "dry",
        unit_type=unit_type or TYPE_A,
        from_elsewhere=letter in "eE",
        elsewhere="Another centre" if letter in "eE" else None,
        accepted=True if letter == "E" else None,
        contested=("student",) if contested else (),
        events=(f"{number:064x}",),
    )
    return seen(one, day, [TAMSIN] if lapsed else [])


def _sheet(letter: str, of: Skill) -> Sheet:
    """A sheet of the mouthpiece skill that comes to what the letter stands for."""
    minor, unseen = mark("co-hand", Mark.ERROR, "co-no-hand"), mark("co-close", Mark.NOT_SEEN)
    special = {
        "w": (minor,),
        "u": (minor, unseen),
        "m": (mark("co-close", Mark.ERROR, "co-slow"),),
        "X": (mark("co-out", Mark.ERROR, "co-open-out"),),
        "i": (unseen,),
        "s": (unseen,),
        "p": (),
    }
    return all_done(of, *special.get(letter, ()), practice=letter == "p")


def _start(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)
