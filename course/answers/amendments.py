"""The trail of an attempt: what was changed after it was closed, by whom, when, from what to what, and why.

A screen names whoever it was. A student's paper names no other student: what was moved here or away says "another
student", and so does a reason that names one.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.names_left_out import ANOTHER, without_names
from course.errors import NotFoundError
from course.moments import read_stored, training_day, zone_named
from course.record import events as kinds
from course.record.chain import Event
from course.record.facts import Attempt, Join
from course.record.statements import live_statements
from course.standards.rubric import OTHER_ERROR, Skill
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, skill_as_marked
from course.words import MARK_WORDS, SETTING_WORDS, UNIT_WORDS, Mark, listed

_TOLD = frozenset(
    one.kind
    for one in (
        kinds.Corrected,
        kinds.Withdrawn,
        kinds.WithdrawnConfirmed,
        kinds.MarksGiven,
        kinds.JointLineAgreed,
        kinds.ElsewhereAnswered,
        kinds.ReadingSetAside,
    )
)
_FIELDS = {
    "how": "ending",
    "observed": "time seen",
    "second": "second instructor",
    "first_done": "step done first",
    "should_come_first": "step that comes first",
}
"""Fields of an attempt's events whose names in code are not their words."""


@dataclass(frozen=True)
class _Change:
    """One amendment: who wrote it when, what it changed and why; a move has who lost the attempt and who got it."""

    event: Event
    what: str
    why: str
    givers: tuple[str, ...] = ()
    takers: tuple[str, ...] = ()

    @property
    def movers(self) -> tuple[str, ...]:
        return (*self.givers, *self.takers)


@dataclass(frozen=True)
class _Trail:
    """What a trail is read with: the skill in the form that the attempt was marked by."""

    ledger: Ledger
    seen: CourseView
    skill: Skill
    notes: Mapping[str, Mapping[str, Any]]


def amendments(
    ledger: Ledger, seen: CourseView, skill: Skill, attempt: Attempt, notes: Mapping[str, Mapping[str, Any]]
) -> tuple[str, ...]:
    """Return one sentence for each change that came with a reason, oldest first, with everybody's name.

    Args:
        ledger: where the events are.
        seen: the course.
        skill: the attempt's skill.
        attempt: the attempt, with those that were joined to it.
        notes: its private texts by event, as far as they are open.
    """
    return tuple(_named(seen, change) for change in _changes(_Trail(ledger, seen, skill, notes), attempt))


def moved_away(ledger: Ledger, seen: CourseView, student: str, skill: Skill) -> tuple[str, ...]:
    """Return a line for each attempt that was entered for this student and is another's now, or was withdrawn."""
    told = []
    for attempt in _amended(ledger, seen, skill.id):
        changes = _changes(_Trail(ledger, seen, skill, {}), attempt)
        if attempt.withdrawn and student in _holders(attempt):
            told += [f"Attempt {attempt.number}: {_named(seen, change)}" for change in changes]
        elif student not in _holders(attempt):
            lines = [_named(seen, change) for change in changes if student in change.givers]
            told += [f"Attempt {attempt.number} was entered here by mistake. {line}" for line in lines]
    return tuple(told)


def changes_by_skill(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> dict[str, tuple[str, ...]]:
    """Return every amendment of a student's attempts up to a training day, by skill, for that student's paper.

    Attempts that were withdrawn, or moved here or away, are told as well; no other student is named.
    """
    lines: dict[str, list[tuple[date, int, str]]] = {}
    for attempt in _amended(ledger, seen):
        day, skill = _day(seen, attempt), seen.adopted.standards.skills.get(attempt.skill)
        if skill is None or day > as_of:
            continue
        changes = _changes(_Trail(ledger, seen, skill, {}), attempt)
        movers = {mover for change in changes for mover in change.movers}
        for change in changes:
            if student in (*_holders(attempt), *change.movers):
                told = f"Attempt {attempt.number} of {day_words(day)}: {_unnamed(seen, student, change, movers)}"
                lines.setdefault(skill.id, []).append((day, attempt.number, told))
    return {
        skill: tuple(told for *_, told in sorted(of_skill, key=lambda line: line[:2]))
        for skill, of_skill in lines.items()
    }


def course_amendments(ledger: Ledger, seen: CourseView) -> Iterator[tuple[Event, str, str]]:
    """Yield (event, what it is about, sentence) for every change of a course's attempts, with everybody's name."""
    for attempt in _amended(ledger, seen):
        skill = seen.adopted.standards.skills.get(attempt.skill)
        if skill:
            whose = " and ".join(seen.name(one) for one in _holders(attempt))
            about = f"{skill.title}, attempt {attempt.number} of {day_words(_day(seen, attempt))}, {whose}"
            for change in _changes(_Trail(ledger, seen, skill, {}), attempt):
                yield change.event, about, _named(seen, change)


def _amended(ledger: Ledger, seen: CourseView, skill: str | None = None) -> list[Attempt]:
    """The course's attempts that something may have been changed of, withdrawn ones too: only their events are read."""
    kept = ledger.facts("attempt", course=seen.course.id, skill=skill)
    withdrawn = [attempt for attempt in kept if isinstance(attempt, Attempt) and attempt.withdrawn]
    return [
        attempt
        for attempt in (*seen.attempts, *withdrawn)
        if skill in (None, attempt.skill) and (attempt.joined or any(p.kind in _TOLD for p in attempt.private))
    ]


def _holders(attempt: Attempt) -> tuple[str, ...]:
    return attempt.claimants or (attempt.student,)


def _day(seen: CourseView, attempt: Attempt) -> date:
    session = seen.sessions.get(attempt.session)
    return training_day(session.start if session else attempt.observed)


# --- from events to changes ------------------------------------------------------------------------------------------


def _changes(trail: _Trail, attempt: Attempt) -> list[_Change]:
    """Every change of an attempt and of those that were joined to it, in the order that settles them."""
    trail = _Trail(trail.ledger, trail.seen, _as_marked(trail, attempt), trail.notes)
    found = []
    for subject in (attempt.id, *attempt.joined):
        events = list(trail.ledger.events(subject))
        for place, event in enumerate(events):
            change = _change(trail, event, events[:place])
            found += [change] if change else []
    found += _joins(trail, attempt) if attempt.joined else []
    return sorted(found, key=lambda change: change.event.order)


def _as_marked(trail: _Trail, attempt: Attempt) -> Skill:
    if attempt.rubric == trail.seen.adopted.hashes[trail.skill.id]:
        return trail.skill
    try:
        return skill_as_marked(trail.ledger, attempt.skill, attempt.rubric)
    except NotFoundError:
        return trail.skill  # the ledger that adopted that form is not merged yet; steps it lacks are named by their id


def _change(trail: _Trail, event: Event, earlier: Sequence[Event]) -> _Change | None:
    """What an event changed; None for one that only says what was seen."""
    why = _why(trail, event, earlier)
    if event.kind not in _TOLD or why is None:
        return None
    before, after = (_holders_after(events) for events in (earlier, [*earlier, event]))
    if before != after and before:
        givers, takers = (tuple(sorted(one - other)) for one, other in ((before, after), (after, before)))
        return _Change(event, "", why, givers, takers)
    what = _what(trail, event, earlier)
    return _Change(event, what, why) if what else None


def _why(trail: _Trail, event: Event, earlier: Sequence[Event]) -> str | None:
    """The reason; None where none was asked for. A reason whose key is erased was one, which is said."""
    told = trail.notes.get(event.id) or trail.ledger.private_of(event)
    if told.get("why"):
        return str(told["why"])
    if told or "sealed" not in json.loads(event.body):
        return None
    closed = any(one.kind == kinds.AttemptClosed.kind for one in earlier)
    return None if event.kind == kinds.MarksGiven.kind and not closed else "the reason is erased"


def _holders_after(events: Sequence[Event]) -> frozenset[str]:
    """Whose the attempt was once these events were there; several while corrections disagree."""
    for statement in live_statements(events):
        if isinstance(statement.body, kinds.AttemptOpened):
            return frozenset(statement.claims.get("student", (statement.body.student,)))
    return frozenset()


def _joins(trail: _Trail, attempt: Attempt) -> list[_Change]:
    tries = {attempt.id, *attempt.joined}
    found = []
    for join in all_of(trail.ledger, Join, course=attempt.course):
        if tries >= set(join.attempts):
            facts = [trail.ledger.fact("attempt", one) for one in join.attempts]
            numbers = listed([str(fact.number) for fact in facts if isinstance(fact, Attempt)])
            event = next(trail.ledger.events(join.id))
            why = trail.ledger.private_of(event).get("why") or "the reason is erased"
            found.append(_Change(event, f"Joined: attempts {numbers} were one try", why))
    return found


# --- changes in words ------------------------------------------------------------------------------------------------


def _named(seen: CourseView, change: _Change) -> str:
    """A change as a screen tells it, with everybody's name."""
    takers, givers = (listed([seen.name(one) for one in people]) for people in (change.takers, change.givers))
    what = change.what or (f"Moved to {takers}" if takers else f"No longer {givers}'s")
    return f"{what}, {_by(seen, change)}: {change.why}"


def _unnamed(seen: CourseView, student: str, change: _Change, movers: set[str]) -> str:
    """A change as a student's own paper tells it."""
    what = change.what[:1].lower() + change.what[1:] or _move(student, change)
    return f"{what}, {_by(seen, change)}: {without_names(seen, student, change.why, movers)}"


def _move(student: str, change: _Change) -> str:
    if student in change.takers:
        return f"moved here from {ANOTHER}" if change.givers else f"moved here, and claimed for {ANOTHER} too"
    if student in change.givers:
        return f"moved to {ANOTHER}" if change.takers else f"no longer claimed for this student: it is {ANOTHER}'s"
    return "moved between two other students" if change.givers and change.takers else f"claimed for {ANOTHER} too"


def _by(seen: CourseView, change: _Change) -> str:
    local = read_stored(change.event.recorded_at).astimezone(zone_named(seen.course.zone))
    return f"by {seen.name(change.event.actor)} on {day_words(local.date())} at {local:%H:%M}"


def _what(trail: _Trail, event: Event, earlier: Sequence[Event]) -> str:  # noqa: PLR0911 - one for each kind
    body = json.loads(event.body)
    match event.kind:
        case kinds.MarksGiven.kind:
            return "; ".join(_amended_mark(trail.skill, line, earlier) for line in body["marks"])
        case kinds.JointLineAgreed.kind:
            who = listed([trail.seen.name(one) for one in body["observers"]])
            return f"{_step(trail.skill, body['line']['step'])} agreed as {_words(trail.skill, body['line'])} by {who}"
        case kinds.ReadingSetAside.kind:
            return f"{_step(trail.skill, body['step'])}: a reading of the unit was set aside, and the tick holds"
        case kinds.ElsewhereAnswered.kind if body.get("replaces"):
            return f"Seen elsewhere: now {'accepted' if body['accepted'] else 'not accepted'}"
        case kinds.Corrected.kind:
            kept = "whose attempt it is" if "student" in body["change"] else "private text"
            return f"Corrected: {listed(_corrected(trail, body, earlier)) or kept}"
        case kinds.Withdrawn.kind | kinds.WithdrawnConfirmed.kind:
            return _withdrawn(trail, next((one for one in earlier if one.id == body["withdraws"]), None))
        case _:
            return ""


def _amended_mark(skill: Skill, line: dict[str, Any], earlier: Sequence[Event]) -> str:
    """From what to what: the marks that the line names as replaced, then its own."""
    before = [
        _words(skill, old)
        for event in earlier
        if event.id in line.get("replaces", ()) and event.kind == kinds.MarksGiven.kind
        for old in json.loads(event.body)["marks"]
        if old["step"] == line["step"]
    ]
    return f"{_step(skill, line['step'])} amended from {', '.join(before) or 'not marked'} to {_words(skill, line)}"


def _corrected(trail: _Trail, body: dict[str, Any], earlier: Sequence[Event]) -> list[str]:
    """From what to what, field by field, after what was corrected before."""
    old = next((s.body for s in live_statements(earlier) if s.event.id == body["corrects"]), None)
    before = old.model_dump(mode="json", by_alias=True) if old else {}
    told = []
    for name, value in sorted(body["change"].items()):
        if name == "marks":
            told += _corrected_marks(trail.skill, before.get(name, ()), value)
        elif value != before.get(name) and name != "student":
            of = f" of {_step(trail.skill, before['step']).lower()}" if name == "value" and "step" in before else ""
            unit = f" {UNIT_WORDS.get(before['unit'], before['unit'])}" if of else ""
            was, now = (f"{_value(trail, name, one)}{unit}" for one in (before.get(name), value))
            told.append(f"{_FIELDS.get(name, name.replace('_', ' '))}{of} from {was} to {now}")
    return told


def _corrected_marks(skill: Skill, before: Sequence[dict[str, Any]], after: Sequence[dict[str, Any]]) -> list[str]:
    was = {line["step"]: _words(skill, line) for line in before}
    now = {line["step"]: _words(skill, line) for line in after}
    return [
        f"{_step(skill, step)} from {was.get(step, 'not marked')} to {now.get(step, 'not marked')}"
        for step in {**was, **now}
        if was.get(step) != now.get(step)
    ]


def _value(trail: _Trail, name: str, value: Any) -> str:
    """One field's value as people read it."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict) and "utc" in value:
        local = read_stored(value["utc"]).astimezone(zone_named(trail.seen.course.zone))
        return f"{day_words(local.date())} at {local:%H:%M}"
    text = str(value)
    known: dict[str, dict[str, str]] = {
        "session": {one.id: one.title for one in trail.seen.sessions.values()},
        "unit": {one.id: one.label for one in trail.seen.units.values()},
        "setting": {str(key): word for key, word in SETTING_WORDS.items()},
    }
    if name in {"observer", "second"} and text in trail.seen.people:
        return trail.seen.name(text)
    return known.get(name, {}).get(text, text)


def _withdrawn(trail: _Trail, event: Event | None) -> str:
    body = json.loads(event.body) if event else {}
    what = _OTHER_LINES.get(event.kind if event else "", "a line of this attempt")
    if "marks" in body:
        lines = [f"{_step(trail.skill, m['step']).lower()} ({_words(trail.skill, m)})" for m in body["marks"]]
        what = f"the mark of {listed(lines)}"
    elif "quantity" in body:
        value = f"{body['value']} {UNIT_WORDS.get(body['unit'], body['unit'])}".strip()
        what = f"the value of {_step(trail.skill, body['step']).lower()} ({value})"
    elif "observer" in body:
        what = f"the sheet of {trail.seen.name(body['observer'])}"
    elif "line" in body:
        what = f"the joint line on {_step(trail.skill, body['line']['step']).lower()}"
    return f"Withdrawn: {what}"


_OTHER_LINES = {
    kinds.AttemptOpened.kind: "the whole attempt",
    kinds.WholeAttemptClean.kind: "the stroke for the whole attempt",
    kinds.OrderAnswered.kind: "an answer on the order of two steps",
    kinds.OrderAnswered2.kind: "an answer on the order of two steps",
    kinds.AttemptClosed.kind: "the closing",
    kinds.ElsewhereAnswered.kind: "the answer to what was seen elsewhere",
    kinds.ReadingSetAside.kind: "the setting aside of a reading, which overrules the tick again",
    kinds.Corrected.kind: "an earlier correction, which holds no longer",
    **dict.fromkeys(kinds.WITHDRAWALS, "an earlier withdrawal; what it took back holds again"),
}


def _step(skill: Skill, step_id: str) -> str:
    number = next((n for n, step in enumerate(skill.steps, 1) if step.id == step_id), None)
    return f"Step {number}" if number else f"Step “{step_id}”"


def _words(skill: Skill, line: dict[str, Any]) -> str:
    """A mark with its errors: "error (open as it leaves the mouth, critical)"."""
    if not line.get("errors"):
        return MARK_WORDS[Mark(line["mark"])]
    step = skill.step(line["step"])
    errors = step.errors if step else ()
    known = {error.id: f"{error.label}{', critical' if error.critical else ''}" for error in errors}
    labels = [known.get(error, "in words" if error == OTHER_ERROR else error) for error in line["errors"]]
    return f"error ({'; '.join(labels)})"
