"""Every event about one attempt as a line of plain facts: when it was seen, when it was recorded, by whom, what."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from course.answers.course_view import CourseView
from course.answers.taken_back import withdrawal_confirmed
from course.assessment.marks import step_name
from course.moments import Observed, read_stored, zone_named
from course.record import events as kinds
from course.record.chain import Event
from course.standards.rubric import OTHER_ERROR, Skill, Step
from course.storage.ledger import Ledger
from course.words import MARK_WORDS, UNIT_WORDS, Capacity, Mark


@dataclass(frozen=True)
class EventLine:
    """One line. `observed` is empty where the event has no time of seeing; times are of the session's zone."""

    observed: str
    recorded: str
    who: str
    words: str
    critical: bool
    later: bool
    """Entered after the moment that was asked for."""


def event_lines(
    ledger: Ledger, seen: CourseView, attempt: str, skill: Skill | None, zone: str, day: date, after: Event
) -> tuple[EventLine, ...]:
    """Return a line for each thing that an attempt's events say, in the order that settles them.

    Args:
        skill: in the form that the attempt is marked by; None: steps are named by their ids.
        zone: whose wall clock the times are told by.
        day: times of seeing on another day are told with their date.
        after: events that come later than this one are `later`.
    """
    told: list[EventLine] = []
    said: dict[str, str] = {}
    for event in ledger.events(attempt):
        body = kinds.read_body(event.kind, json.loads(event.body))
        lines = event_words(ledger, seen, event, skill, said)
        said[event.id] = "; ".join(words for words, _ in lines)
        told += [
            EventLine(
                observed=observed_words(getattr(body, "observed", None), day),
                recorded=recorded_words(event, zone),
                who=seen.name(event.actor),
                words=words,
                critical=critical,
                later=event.order > after.order,
            )
            for words, critical in lines
        ]
    return tuple(told)


def event_words(
    ledger: Ledger, seen: CourseView, event: Event, skill: Skill | None, said: Mapping[str, str]
) -> list[tuple[str, bool]]:
    """Return what one event says, line by line, each with whether the rubric calls it critical.

    Args:
        ledger: opens its private text.
        seen: the course, for names.
        event: the event.
        skill: in the form that an attempt is marked by; None: steps are named by their ids.
        said: what earlier events of the same thing say, by their id.
    """
    body = kinds.read_body(event.kind, json.loads(event.body))
    return list(_lines(seen, body, skill, ledger.private_of(event), said)) if body else [_newer(event)]


def observed_words(observed: Observed | None, day: date) -> str:
    """A time of seeing as finely as it is known: "14:06:12", "14:06", "in the session"; its date on another day."""
    if observed is None:
        return ""
    if observed.precision == "session":
        return "in the session"
    time = f"{observed.local:%H:%M:%S}" if observed.precision == "second" else f"{observed.local:%H:%M}"
    return time if observed.local.date() == day else f"{observed.local.date()} {time}"


def recorded_words(event: Event, zone: str) -> str:
    """When an event was appended, with its day: "22 Oct 14:06:13" would hide a late entry without one."""
    return f"{read_stored(event.recorded_at).astimezone(zone_named(zone)):%Y-%m-%d %H:%M:%S}"


def _newer(event: Event) -> tuple[str, bool]:
    return f"An entry of a newer version, which this one cannot read ({event.kind})", False


def _lines(
    seen: CourseView, body: kinds.Body, skill: Skill | None, private: Mapping[str, Any], said: Mapping[str, str]
) -> Iterator[tuple[str, bool]]:
    """What a body says, line by line, each with whether the rubric calls it critical."""
    match body:
        case kinds.MarksGiven():
            notes = private.get("notes") or {}
            for line in body.marks:
                words, critical = _mark(line, skill, notes)
                yield words + _amends(line.replaces) + _reason(private), critical
        case kinds.JointLineAgreed():
            words, critical = _mark(body.line, skill, {body.line.step: private.get("why", "")})
            value = f", {body.value}" if body.value else ""
            yield f"Agreed by {' and '.join(seen.name(o) for o in body.observers)}: {words}{value}", critical
        case kinds.ReadingSetAside():
            yield f"{_step(skill, body.step)}: a reading of the unit was set aside" + _reason(private), False
        case kinds.WholeAttemptClean():
            yield "Whole attempt clean, by one stroke", False
        case kinds.ValueMeasured():
            unit = UNIT_WORDS.get(body.unit, body.unit)
            yield f"{_step(skill, body.step)}: {body.value} {unit}".rstrip() + _amends(body.replaces), False
        case kinds.OrderAnswered():
            yes = "seen so" if body.seen_so else "not seen so"
            if isinstance(body, kinds.OrderAnswered2) and body.seen_so and body.fixed_self:
                yes += ", put right unasked"
            first, second = _step(skill, body.first_done), _step(skill, body.should_come_first)
            yield f"{first} before {second}: {yes}" + _amends(body.replaces), False
        case _:
            yield _act(seen, body, private, said), False


def _act(seen: CourseView, body: kinds.Body, private: Mapping[str, Any], said: Mapping[str, str]) -> str:
    """An act on the attempt that says nothing of a step."""
    match body:
        case kinds.AttemptOpened():
            return f"Attempt {body.number} opened"
        case kinds.SheetStarted():
            practice = ", practice" if body.capacity == Capacity.PRACTICE else ""
            return f"Sheet of {seen.name(body.observer)} begun{practice}"
        case kinds.AttemptClosed():
            return _ending(seen, body, private)
        case kinds.Withdrawn():
            return f"Taken back{withdrawal_confirmed(body)}: {said.get(body.withdraws, 'an entry')}" + _reason(private)
        case kinds.Corrected():
            return f"Corrected ({', '.join(sorted(body.change)) or 'text'}){_moved(seen, body)}" + _reason(private)
        case _:
            return body.kind.rsplit("/", 1)[0].replace("_", " ").capitalize() + _reason(private)


def _mark(line: kinds.MarkGiven, skill: Skill | None, notes: Mapping[str, str]) -> tuple[str, bool]:
    step = skill.step(line.step) if skill else None
    critical = line.mark == Mark.LEFT_OUT and step is not None and step.if_left_out is not None
    words = MARK_WORDS[line.mark]
    if line.errors:
        words = "; ".join(_error(step, error, notes.get(line.step, "")) for error in line.errors)
        critical = any(known.critical for error in line.errors if step and (known := step.error(error)))
    flags = ((line.prompted, "prompted"), (line.fixed_self, "put right unasked"), (line.unreadable, "not to be read"))
    words += "".join(f", {word}" for flag, word in flags if flag)
    return f"{_step(skill, line.step)}: {words}{' (critical)' if critical else ''}", critical


def _error(step: Step | None, error: str, note: str) -> str:
    if error == OTHER_ERROR:
        return f"another error: {note}" if note else "another error"
    known = step.error(error) if step else None
    return known.label if known else error


def _step(skill: Skill | None, step_id: str) -> str:
    """A step with its number, as on the pad and on the slate: "3 Only then take it out"."""
    for number, step in enumerate(skill.steps if skill else (), 1):
        if step.id == step_id:
            return f"{number} {step_name(step)}"
    return step_id


def _amends(replaces: Iterable[str]) -> str:
    return " (in place of an earlier entry)" if tuple(replaces) else ""


def _ending(seen: CourseView, body: kinds.AttemptClosed, private: Mapping[str, Any]) -> str:
    by = f" by the {body.stopped_by}" if body.stopped_by else ""
    second = f", with {seen.name(body.second)}" if body.second else ""
    reason = f": {private['reason']}" if private.get("reason") else ""
    return f"Attempt ended: {body.how.value}{by}{second}{reason}"


def _moved(seen: CourseView, body: kinds.Corrected) -> str:
    return f", moved to {seen.name(body.change['student'])}" if "student" in body.change else ""


def _reason(private: Mapping[str, Any]) -> str:
    return f": {private['why']}" if private.get("why") else ""
