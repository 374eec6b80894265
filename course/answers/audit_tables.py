"""Every table of an audit file: ids, marks, minutes, outcomes, standings, and the events they come from.

Nothing here needs a key: each cell is a function of the events alone, so that whoever holds the file can derive the
same tables again and compare them. Names and texts are tables of their own (`named_tables`), only where asked for.
A time without an end counts to its session's end once the last event is later than that.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any

from course.access import Sight
from course.answers.audit_signing import signing_rows
from course.answers.course_view import CourseView
from course.answers.csv_text import Cell
from course.answers.decisions import evidence
from course.answers.ratios import ratio_terms
from course.asker import question
from course.assessment.attempts import judge
from course.errors import NotFoundError
from course.hours.minutes import learner_minutes
from course.hours.ratio import RatioBreak, presences, ratio_breaks
from course.moments import Observed, stored
from course.record import facts, finding_facts
from course.record.chain import Event
from course.record.events import WITHDRAWALS, Corrected
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, skill_as_marked
from course.words import SpanRole

Row = tuple[str, Sequence[Cell]]
"""A table's name, and one row of it."""

COLUMNS: dict[str, tuple[str, ...]] = {
    "people": ("person", "roles", "withdrawn"),
    "check_outs": ("person", "unit_type", "day"),
    "units": ("unit", "unit_type", "withdrawn"),
    "care": ("unit", "event", "what", "seen_utc", "good_until", "good_minutes", "done_by"),
    "holds": ("unit", "event", "slip", "since_utc", "held_by", "until_utc", "released_by", "list_passed_by"),
    "standards": ("adoption", "skill", "rubric"),
    "courses": ("course", "zone", "adoption", "profile", "revision", "first_day", "last_day", "as_of"),
    "members": ("course", "person", "role"),
    "assignments": ("course", "person", "unit", "unit_type", "from_day"),
    "sessions": ("session", "course", "kind", "start_utc", "end_utc", "tz", "offset", "closed_utc", "withdrawn"),
    "groups": ("session", "group", "staff", "students", "event"),
    "spans": ("session", "span", "person", "role", "group", "start_utc", "end_utc", "tz"),
    "water": (
        "session", "water", "person", "unit", "entered_utc", "left_utc", "loop_minutes", "bailout_minutes",
        "max_depth_m",
    ),
    "rolls": ("session", "roll", "when", "present", "missing", "called_by", "seen_utc"),
    "incidents": ("session", "incident", "people", "units", "attempts", "frozen_by", "seen_utc", "resumed_utc"),
    "sheets_given_out": (
        "session", "slate", "number", "skill", "rubric", "students", "tries", "issued_by", "set_aside",
    ),
    "attempts": (
        "attempt", "course", "session", "student", "skill", "rubric", "unit", "unit_type", "setting", "number",
        "seen_utc", "tz", "ending", "stopped_by", "closed_by", "from_elsewhere", "accepted", "joined", "withdrawn",
        "outcome", "counts",
    ),
    "sheets": ("attempt", "sheet", "observer", "role", "capacity", "source", "slate", "started_utc", "whole_clean"),
    "marks": (
        "attempt", "sheet", "step", "mark", "errors", "prompted", "fixed_self", "unreadable", "seen_utc", "late",
        "event",
    ),
    "values": ("attempt", "sheet", "step", "quantity", "value", "unit", "event"),
    "orders": ("attempt", "sheet", "first_done", "should_come_first", "seen_so", "event"),
    "joint_lines": ("attempt", "step", "mark", "errors", "value", "observers", "event"),
    "standings": (
        "course", "student", "skill", "rubric", "as_of", "standing", "in_a_row", "asked_in_a_row", "days",
        "attempts", "met_on", "good_until", "reteach_left", "events", "rests_on",
    ),
    "decisions": (
        "decision", "course", "student", "skill", "unit_type", "decided", "decided_by", "standing", "as_of", "rubric",
        "rests_on", "events_used", "seen_utc", "replaces", "withdrawn", "confirmed_with",
    ),
    "exceptions": (
        "exception", "course", "student", "rule", "have", "asked", "as_of", "rests_on", "proposed_by", "seconded_by",
        "seen_utc", "replaces", "withdrawn", "confirmed_with", "seconded_with",
    ),
    "sign_offs": (
        "sign_off", "course", "student", "issue", "profile", "revision", "as_of", "rests_on", "rules", "exceptions",
        "assessors", "signed_by", "seen_utc", "confirmed_with", "countersigned_by", "taken_back_by", "replaces",
    ),
    "arrivals": (
        "arrival", "course", "student", "file", "from_centre", "from_course", "as_of", "signature", "key", "noted_by",
        "seen_utc", "withdrawn",
    ),
    "accepted_elsewhere": ("arrival", "item", "told", "accepted", "accepted_by", "seen_utc", "event", "confirmed_with"),
    "finding_answers": ("answer", "course", "finding", "rests_on", "answered_by", "seen_utc", "replaces", "withdrawn"),
    "minutes": ("course", "person", "kind", "minutes", "asked"),
    "ratio_breaks": (
        "course", "session", "group", "start_utc", "end_utc", "minutes", "students", "instructors", "assistants",
        "limit", "left", "came",
    ),
    "slips": ("slip", "course", "session", "how", "fault", "unit", "for_whom", "set_by", "seen_utc", "cleared_utc"),
    "slip_answers": ("slip", "event", "person", "answer", "told_by", "seen_utc"),
    "checkpoints": ("checkpoint", "course", "day", "made_by", "still_open", "chain", "seq", "hash"),
    "corrections": ("event", "kind", "of", "about", "actor", "recorded_utc", "change", "confirmed_with"),
    "events": (
        "chain", "seq", "lamport", "event", "kind", "about", "actor", "device", "recorded_utc", "seen_utc", "tz",
        "precision", "hash",
    ),
}  # fmt: skip
"""Every table with its columns. Times are UTC; several ids in one cell are parted by a blank."""

NAMED = {"names": ("kind", "id", "name"), "texts": ("event", "kind", "about", "field", "text")}
"""Tables of what is private, for a file that is given to somebody who is named."""
_LEFT_OUT = ("contact", "sign_in")
_NAMED_KINDS = ("centre", "person", "unit", "course", "session")


@question(Sight.AUDIT_FILE)
def centre_rows(ledger: Ledger) -> Iterator[Row]:
    """Yield the rows of what belongs to no course: people, units, standards."""
    for person in _all(ledger, facts.Person):
        yield "people", (person.id, _ids(person.roles), _yes(person.withdrawn))
        yield from (("check_outs", (person.id, one.unit_type, one.day)) for one in person.check_outs)
    for unit in _all(ledger, facts.Unit):
        yield "units", (unit.id, unit.unit_type, _yes(unit.withdrawn))
        for care in unit.care:
            told = (care.what.value, _utc(care.observed), care.good_until, care.good_minutes, care.done_by)
            yield "care", (unit.id, care.event, *told)
        for hold in unit.holds:
            ended = (_utc(hold.until), hold.released_by, hold.list_passed_by)
            yield "holds", (unit.id, hold.event, hold.slip, _utc(hold.since), hold.held_by, *ended)
    for adoption in _all(ledger, facts.Adoption):
        for skill, rubric in adopted(ledger, adoption.id).hashes.items() if not adoption.withdrawn else ():
            yield "standards", (adoption.id, skill, rubric)


def event_row(one: Event) -> Iterator[Row]:
    """Yield the rows of one event: its line in the index, and what it corrects."""
    body = json.loads(one.body)
    seen = body.get("observed")
    seen = seen if isinstance(seen, dict) else {}
    at = (seen.get("utc"), seen.get("zone"), seen.get("precision"))
    placed = (one.chain, one.seq, one.lamport, one.id, one.kind, one.subject, one.actor, one.device)
    yield "events", (*placed, one.recorded_at, *at, one.hash)
    if one.kind in (Corrected.kind, *WITHDRAWALS):
        change = json.dumps(body.get("change", {}), sort_keys=True, ensure_ascii=False) if "change" in body else None
        of = body.get("corrects", body.get("withdraws"))
        told = (of, one.subject, one.actor, one.recorded_at, change, body.get("confirmed_with"))
        yield "corrections", (one.id, one.kind, *told)


@question(Sight.AUDIT_FILE)
def course_rows(ledger: Ledger, seen: CourseView, as_of: date, moment: datetime) -> Iterator[Row]:
    """Yield the rows of one course.

    Args:
        ledger: the ledger, with or without keys.
        seen: the course.
        as_of: standings and minutes are as of this day.
        moment: when the last event was recorded.
    """
    course = seen.course
    days = (course.first_day, course.last_day, as_of.isoformat())
    yield "courses", (course.id, course.zone, course.adoption, course.profile, course.revision, *days)
    yield from (("members", (course.id, one.person, one.role.value)) for one in course.members)
    for one in course.assignments:
        yield "assignments", (course.id, one.person, one.unit, one.unit_type, one.from_day)
    for session in _all(ledger, facts.Session, course.id):
        yield from _session_rows(session)
    for attempt in _all(ledger, facts.Attempt, course.id):
        yield from _attempt_rows(ledger, seen, attempt)
    yield from _standing_rows(seen, as_of)
    for decision in _all(ledger, facts.Decision, course.id):
        yield "decisions", _decision_row(decision)
    yield from signing_rows(ledger, course.id)
    for answer in _all(ledger, finding_facts.FindingAnswer, course.id):
        of = (answer.finding, answer.rests_on, answer.answered_by, _utc(answer.observed))
        yield "finding_answers", (answer.id, answer.course, *of, _ids(answer.replaces), _yes(answer.withdrawn))
    yield from _minute_rows(seen, as_of, moment)
    for broken in breaks_of(seen):
        yield "ratio_breaks", _break_row(course.id, broken)
    yield from _rest(ledger, course.id)


def breaks_of(seen: CourseView) -> tuple[RatioBreak, ...]:
    """Return every ratio break of a course's sessions, the earliest first, but for what needs a birth date to know."""
    rules, met = ratio_terms(seen, seen.sessions.values(), by_age=False)
    return ratio_breaks(presences(seen.sessions.values()), rules, circumstances=met)


@question(Sight.AUDIT_FILE)
def named_rows(ledger: Ledger) -> Iterator[Row]:
    """Yield what things are called now."""
    for kind in _NAMED_KINDS:
        for fact in ledger.facts(kind):
            private = ledger.private(fact)
            called = private.get("name") or private.get("label") or private.get("title")
            if called:
                yield "names", (kind, fact.id, str(called))


@question(Sight.AUDIT_FILE)
def text_rows(ledger: Ledger, one: Event) -> Iterator[Row]:
    """Yield every private text of an event, field by field; addresses and numbers of people are left out."""
    for name, value in sorted(ledger.private_of(one).items()):
        if name not in _LEFT_OUT:
            text = value if isinstance(value, str) else json.dumps(value, sort_keys=True, ensure_ascii=False)
            yield "texts", (one.id, one.kind, one.subject, name, text)


# --- rows of one thing -----------------------------------------------------------------------------------------------


def _session_rows(session: facts.Session) -> Iterator[Row]:
    own, zone = session.id, session.start.zone
    times = (_utc(session.start), _utc(session.end), zone, session.start.offset, _utc(session.closed_at))
    yield "sessions", (own, session.course, session.setting, *times, _yes(session.withdrawn))
    for group in session.groups:
        yield "groups", (own, group.id, _ids(group.staff), _ids(group.students), group.event)
    for span in sorted(session.spans, key=lambda one: one.id):
        at = (_utc(span.start), _utc(span.end), span.start.zone)
        yield "spans", (own, span.id, span.person, span.role.value, span.group, *at)
    for water in sorted(session.water, key=lambda one: one.id):
        minutes = (water.loop_minutes, water.bailout_minutes)
        yield (
            "water",
            (
                own, water.id, water.person, water.unit, _utc(water.entered), _utc(water.left), *minutes,
                water.max_depth_m,
            ),
        )  # fmt: skip
    for roll in session.rolls:
        people = (_ids(roll.present), _ids(roll.missing))
        yield "rolls", (own, roll.id, roll.when, *people, roll.called_by, _utc(roll.observed))
    for one in session.incidents:
        things = (_ids(one.people), _ids(one.units), _ids(one.attempts))
        yield "incidents", (own, one.id, *things, one.frozen_by, _utc(one.observed), _utc(one.resumed))
    for slate in session.slates:
        told = (slate.skill, slate.rubric, _ids(slate.students), slate.tries, slate.issued_by, slate.set_aside)
        yield "sheets_given_out", (own, slate.id, slate.code, *told)


def _attempt_rows(ledger: Ledger, seen: CourseView, attempt: facts.Attempt) -> Iterator[Row]:
    ending = attempt.ending
    ended = (ending.how.value, ending.stopped_by, ending.closed_by) if ending else (None,) * 3
    flags = (_yes(attempt.from_elsewhere), _yes(attempt.accepted), _ids(attempt.joined), _yes(attempt.withdrawn))
    yield (
        "attempts",
        (
            attempt.id, attempt.course, attempt.session, attempt.student, attempt.skill, attempt.rubric, attempt.unit,
            attempt.unit_type, attempt.setting, attempt.number, _utc(attempt.observed), attempt.observed.zone, *ended,
            *flags, *_worth(ledger, seen, attempt),
        ),
    )  # fmt: skip
    for sheet in attempt.sheets:
        yield from _sheet_rows(attempt.id, sheet)
    for line in attempt.joint:
        told = (line.mark.value, _ids(line.errors), line.value, _ids(line.observers), line.event)
        yield "joint_lines", (attempt.id, line.step, *told)


def _worth(ledger: Ledger, seen: CourseView, attempt: facts.Attempt) -> tuple[str | None, str | None]:
    """Outcome and whether it counts, by the form of the skill that it was marked by; none while it is open."""
    if attempt.withdrawn or attempt.ending is None:
        return None, None
    try:
        skill = skill_as_marked(ledger, attempt.skill, attempt.rubric)
    except NotFoundError:
        return None, None
    judged = judge(seen.as_seen(attempt), skill, frozenset())
    return judged.outcome.value, _yes(judged.counts)


def _sheet_rows(attempt: str, sheet: facts.Sheet) -> Iterator[Row]:
    told = (sheet.role.value, sheet.capacity.value, sheet.source.value, sheet.slate, _utc(sheet.started))
    yield "sheets", (attempt, sheet.id, sheet.observer, *told, sheet.whole_clean)
    for line in sheet.marks:
        flags = (_yes(line.prompted), _yes(line.fixed_self), _yes(line.unreadable))
        of = (line.step, line.mark.value, _ids(line.errors))
        yield "marks", (attempt, sheet.id, *of, *flags, line.utc, _yes(line.late), line.event)
    for value in sheet.values:
        yield "values", (attempt, sheet.id, value.step, value.quantity, value.value, value.unit, value.event)
    for order in sheet.orders:
        yield (
            "orders",
            (attempt, sheet.id, order.first_done, order.should_come_first, _yes(order.seen_so), order.event),
        )


def _standing_rows(seen: CourseView, as_of: date) -> Iterator[Row]:
    for student in seen.students:
        for skill in seen.skills():
            standing = seen.standing(student, skill, as_of)
            dates = (_day(standing.met_on), _day(standing.good_until))
            yield (
                "standings",
                (
                    seen.course.id, student, skill.id, seen.adopted.hashes[skill.id], as_of.isoformat(),
                    standing.state.value, standing.streak, skill.rule.in_a_row, len(standing.days),
                    standing.budget_used, *dates, standing.reteach_left, len(standing.events),
                    evidence(seen, skill, standing),
                ),
            )  # fmt: skip


def _decision_row(one: facts.Decision) -> Sequence[Cell]:
    return (
        one.id, one.course, one.student, one.skill, one.unit_type, one.decided.value, one.decided_by, one.standing,
        one.as_of, one.rubric, one.rests_on, one.events_used, _utc(one.observed), _ids(one.replaces),
        _yes(one.withdrawn), one.confirmed_with,
    )  # fmt: skip


def _minute_rows(seen: CourseView, as_of: date, moment: datetime) -> Iterator[Row]:
    asked: dict[str, int] = {rule.of: rule.at_least_minutes for rule in seen.profile.hours}
    role = SpanRole(seen.profile.for_whom)
    for student in seen.students:
        minutes = learner_minutes(list(seen.sessions.values()), student, as_of, role, moment)
        for kind in sorted({*minutes, *asked}):
            yield "minutes", (seen.course.id, student, kind, minutes.get(kind, 0), asked.get(kind))


def _break_row(course: str, one: RatioBreak) -> Sequence[Cell]:
    at = (stored(one.start), stored(one.end), one.minutes)
    who = (_ids(one.worst.students), _ids(one.worst.instructors), _ids(one.worst.assistants), one.worst.limit)
    return (course, one.place.session, one.place.group, *at, *who, _ids(one.left), _ids(one.came))


def _rest(ledger: Ledger, course: str) -> Iterator[Row]:
    for slip in _all(ledger, facts.Slip, course):
        times = (_utc(slip.observed), _utc(slip.cleared))
        of = (slip.how.value, slip.fault, slip.unit, _ids(slip.for_whom), slip.set_by)
        yield "slips", (slip.id, slip.course, slip.session, *of, *times)
        for reply in slip.replies:
            told = (reply.person, reply.answer.value, reply.told_by, _utc(reply.observed))
            yield "slip_answers", (slip.id, reply.event, *told)
    for one in _all(ledger, facts.Checkpoint, course):
        for chain, seq, hash_ in one.heads:
            yield "checkpoints", (one.id, one.course, one.day, one.made_by, one.still_open, chain, seq, hash_)


def _all(ledger: Ledger, model: type[Any], course: str | None = None) -> list[Any]:
    """Facts of a kind, withdrawn ones too."""
    return ledger.facts(model.__name__.lower(), course=course)


def _ids(ids: Sequence[str]) -> str:
    return " ".join(str(one) for one in ids)


def _utc(observed: Observed | None) -> str | None:
    return observed.utc if observed else None


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _yes(flag: bool | None) -> str | None:  # noqa: FBT001 - a cell
    return None if flag is None else "yes" if flag else "no"
