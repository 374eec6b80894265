"""Short ways to make something that does not fit in the small centre, and to read what a rule says of it."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest
from centre_builder import LAST_DAY, Centre
from pydantic import ValidationError

from course.actions import courses as planning
from course.actions.attempts import SheetContent, Value
from course.answers.finding_ground import finding_ground
from course.answers.findings import FindingsAnswer, ShownFinding, course_findings
from course.findings.finding import Finding
from course.findings.ground import Ground, Tried
from course.findings.rules import RULES
from course.moments import Observed, observed_at
from course.record.events import FindingAnswered, MarkGiven
from course.record.facts import Attempt
from course.words import Mark, SpanRole

NOW = datetime(2026, 11, 2, 12, tzinfo=UTC)
"""A week after the course: everything in it is over."""
_SAID: dict[tuple[str, str], str] = {}
"""What findings said, by key and by what they rest on: over all tests of one run, as ids are never used again."""
AN_ID = "0192d000-0000-7000-8000-0000000000f1"


def set_clock(patch: pytest.MonkeyPatch, moment: datetime = NOW) -> None:
    """It is this moment for everything that findings look at, whenever the tests run."""
    for name, module in list(sys.modules.items()):
        if name.startswith("course.") and callable(getattr(module, "now", None)):
            patch.setattr(module, "now", lambda: moment)


def ground_of(c: Centre, as_of: date = LAST_DAY) -> Ground:
    """What the rules look at."""
    return finding_ground(c.ledger, c.view(), as_of)


def found(where: Centre | Ground, rule: str, as_of: date = LAST_DAY) -> list[Finding]:
    """What one rule finds: each under the rule's own name, with a key that an answer can name."""
    (function,) = [one for one in RULES if one.__name__ == rule]
    findings = list(function(where if isinstance(where, Ground) else ground_of(where, as_of)))
    for one in findings:
        assert one.rule == rule
        assert can_be_answered(one.key), one.key
        said = _SAID.setdefault((one.key, one.rests_on), one.sentence)
        assert said == one.sentence, "it says something else, and an answer to it would not be told that it changed"
    return findings


def can_be_answered(key: str) -> bool:
    """Whether the event of an answer takes a key."""
    fields = {"answer": AN_ID, "course": AN_ID, "rests_on": "0" * 64, "reason": "So it is.", "finding": key}
    try:
        FindingAnswered.model_validate(fields | {"observed": observed_at(NOW, "UTC")})
    except ValidationError:
        return False
    return True


def told(where: Centre | Ground, rule: str, as_of: date = LAST_DAY) -> str:
    """The sentence of the one finding of a rule; empty where it finds nothing."""
    findings = found(where, rule, as_of)
    assert len(findings) < 2, [one.sentence for one in findings]
    return findings[0].sentence if findings else ""


def answered(c: Centre, asker: str | None = None, as_of: date = LAST_DAY) -> FindingsAnswer:
    """Everything that does not fit, as the page tells it."""
    return course_findings(c.ledger, c.view(), as_of, asker)


def shown(c: Centre, rule: str, asker: str | None = None) -> ShownFinding:
    """The one finding of a rule as the page tells it, also where it follows from another."""
    every = [one for whole in answered(c, asker).findings for one in (whole, *whole.follow)]
    (one,) = [one for one in every if one.rule == rule]
    return one


def evidence_of(finding: Finding) -> set[tuple[str, str]]:
    """Kind and id of everything that a finding rests on."""
    return {(one.kind, one.id) for one in finding.evidence}


def there(
    c: Centre,
    session: str,
    person: str,
    start: Observed,
    end: Observed | None,
    *,
    role: SpanRole = SpanRole.STUDENT,
    group: str | None = None,
) -> None:
    """Somebody's time in a session, as another laptop could have entered it: nothing refuses it."""
    made = planning.span(c.lead, session=session, person=person, role=role, start=start, end=end, group=group)
    planning.record_times(c.ledger, c.lead, [made])


def in_water(c: Centre, session: str, person: str, loop: int, **more: Any) -> None:
    """Somebody's time in the water."""
    made = planning.water_time(c.lead, session=session, person=person, loop_minutes=loop, **more)
    planning.record_times(c.ledger, c.lead, [made])


def another(c: Centre, title: str, start: Observed, end: Observed, setting: str = "class") -> str:
    """One more session of the course."""
    return planning.plan_session(
        c.ledger, c.lead, course=c.course, title=title, setting=setting, start=start, end=end
    )  # fmt: skip


def changed(ground: Ground, *tried: Tried) -> Ground:
    """The ground with these attempts alone."""
    return replace(ground, tried=tried)


def with_attempt(tried: Tried, **fields: Any) -> Tried:
    """An attempt with other fields, as events of another device could have made it."""
    attempt: Attempt = tried.attempt.model_copy(update=fields)
    return replace(tried, one=replace(tried.one, attempt=attempt))


def an_error(step: str, *errors: str) -> MarkGiven:
    """An error mark."""
    return MarkGiven(step=step, mark=Mark.ERROR, errors=errors)


def all_but(c: Centre, skill: str, values: dict[str, str], *marks: MarkGiven) -> SheetContent:
    """A sheet with every step done but for these marks, and with these values alone."""
    marked = {mark.step for mark in marks}
    steps: Iterable[str] = (step.id for step in c.skill(skill).steps)
    done = tuple(MarkGiven(step=step, mark=Mark.DONE) for step in steps if step not in marked)
    return SheetContent(marks=(*done, *marks), values=tuple(Value(step, text) for step, text in values.items()))
