"""The trail of an attempt: what was changed after it was closed, by whom, when, from what to what, and why."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.moments import read_stored, zone_named
from course.record.chain import Event
from course.record.events import Corrected, MarksGiven, Withdrawn
from course.record.facts import Attempt
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.words import MARK_WORDS, Mark, listed


def amendments(
    ledger: Ledger, seen: CourseView, skill: Skill, attempt: Attempt, notes: Mapping[str, Mapping[str, Any]]
) -> tuple[str, ...]:
    """Return one sentence for each change that came with a reason, oldest first."""
    events = list(ledger.events(attempt.id))
    told = []
    for event in events:
        why = notes.get(event.id, {}).get("why")
        what = _change(seen, skill, event, events) if why else ""
        if what:
            told.append(f"{what}, by {seen.name(event.actor)} on {_when(seen, event)}: {why}")
    return tuple(told)


def moved_away(ledger: Ledger, seen: CourseView, student: str, skill: Skill) -> tuple[str, ...]:
    """Return a line for each attempt that was entered for this student and turned out to be another's."""
    told = []
    for attempt in seen.attempts:
        if attempt.skill == skill.id and attempt.first_student == student != attempt.student:
            by = ledger.private(attempt).get("by_event", {})
            told += [
                f"Attempt {attempt.number} was entered here by mistake. {line}"
                for line in amendments(ledger, seen, skill, attempt, by)
                if line.startswith("Moved")
            ]
    return tuple(told)


def _change(seen: CourseView, skill: Skill, event: Event, events: list[Event]) -> str:
    body = json.loads(event.body)
    match event.kind:
        case MarksGiven.kind:
            return "; ".join(_marks(skill, line, events) for line in body["marks"])
        case Corrected.kind if "student" in body["change"]:
            return f"Moved to {seen.name(body['change']['student'])}"
        case Corrected.kind:
            return f"Corrected: {listed(sorted(body['change']) or ['private text'])}"
        case Withdrawn.kind:
            return "Something in this attempt was withdrawn"
        case _:
            return ""


def _marks(skill: Skill, line: dict[str, Any], events: list[Event]) -> str:
    """From what to what: the marks that the line names as replaced, then its own."""
    before = [
        _words(skill, old)
        for event in events
        if event.id in line["replaces"] and event.kind == MarksGiven.kind
        for old in json.loads(event.body)["marks"]
        if old["step"] == line["step"]
    ]
    number = next((n for n, step in enumerate(skill.steps, 1) if step.id == line["step"]), 0)
    return f"Step {number} amended from {', '.join(before) or 'not marked'} to {_words(skill, line)}"


def _words(skill: Skill, line: dict[str, Any]) -> str:
    step = skill.step(line["step"])
    labels = [error.label for error in step.errors if error.id in line["errors"]] if step else []
    return f"error ({', '.join(labels) or 'in words'})" if line["errors"] else MARK_WORDS[Mark(line["mark"])]


def _when(seen: CourseView, event: Event) -> str:
    local = read_stored(event.recorded_at).astimezone(zone_named(seen.course.zone))
    return f"{day_words(local.date())} at {local:%H:%M}"
