"""The ground of findings: everything that the rules look at, read from the ledger once for a course and a day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from course.access import Sight
from course.answers.after_signing import found_after_signing
from course.answers.course_view import CourseView
from course.answers.decisions import is_stale
from course.answers.exceptions import ENDED, exception_states
from course.answers.filling_times import water_times
from course.answers.gate_view import gates_passed_by
from course.answers.hours import double_bookings
from course.answers.missing import student_counts, student_hours
from course.answers.observers import observer_pairs
from course.answers.ratios import ratio_terms
from course.answers.session_times import depth_limit
from course.answers.sign_off import alone, hash_now, live_issues
from course.answers.standards_move import moved_view
from course.answers.units import booked
from course.answers.unknowing import withdrawn_unknowing
from course.asker import question
from course.assessment.attempts import judge
from course.findings.ground import (
    EndedException,
    Ground,
    OtherRevision,
    SeenTogether,
    SignedCourse,
    SignedStanding,
    Tried,
    WithdrawnApart,
)
from course.hours.oxygen import exposure_days
from course.hours.ratio import presences, ratio_breaks
from course.hours.requirements import Count, Hours
from course.hours.unit_time import filling_minutes, held_times
from course.moments import now, read_stored, training_day
from course.record.events import WITHDRAWALS, Corrected
from course.record.facts import Attempt, Decision, Slip
from course.standards.profile import Profile
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, all_of, in_force


@question(Sight.FINDINGS)
def finding_ground(ledger: Ledger, seen: CourseView, as_of: date, *, papers: bool = True) -> Ground:
    """Return what the rules look at.

    Args:
        ledger: when things were entered, and what was found after signing.
        seen: the course.
        as_of: training days after this one are left out.
        papers: whether people's papers can be opened here. In a file without keys they cannot: no gate is judged.
    """
    sessions = {s.id: s for s in seen.sessions.values() if training_day(s.start) <= as_of and not s.withdrawn}
    entered = presences(sessions.values())
    rules, met = ratio_terms(seen, sessions.values())
    bookings = tuple(one for one in booked(seen) if one.session in sessions)
    times = water_times(ledger, seen)
    return Ground(
        course=seen.course,
        profile=seen.profile,
        as_of=as_of,
        now=now(),
        name=seen.name,
        students=seen.students,
        persons=seen.persons,
        sessions=sessions,
        units=seen.units,
        unit_types={name: one.title for name, one in seen.adopted.standards.unit_types.items()},
        skills=seen.adopted.standards.skills,
        tried=tuple(_tried(ledger, seen, attempt) for attempt in seen.attempts if _day(seen, attempt) <= as_of),
        entered=entered,
        overlaps=double_bookings(seen, as_of),
        breaks=ratio_breaks(entered, rules, now(), met),
        gates=tuple(one for one in gates_passed_by(seen) if one.session in sessions) if papers else (),
        booked=bookings,
        held=held_times(bookings, seen.units),
        filling_minutes={u: used for u in seen.units if (used := filling_minutes(seen.units[u], times)) is not None},
        slips=tuple(slip for slip in all_of(ledger, Slip, course=seen.course.id)),
        short={s: tuple(one for one in _counted(seen, s, as_of) if one.is_short) for s in seen.students},
        depth_limits={
            (session.id, water.person): depth_limit(seen, water.person, training_day(session.start))
            for session in sessions.values()
            for water in session.water
        },
        exposures=tuple(
            one for person in _divers(seen) for one in exposure_days(sessions.values(), person, _assumed(seen))
        ),
        pairs=tuple(SeenTogether(*pair) for pair in observer_pairs(seen, as_of)),
        signed=tuple(_signed(ledger, seen, as_of)),
        apart=tuple(_apart(seen, as_of)),
        withdrawn_apart=tuple(_withdrawn_apart(ledger, seen, as_of)),
        signed_courses=tuple(_signed_courses(seen)),
        exceptions_ended=tuple(_exceptions_ended(ledger, seen, as_of)),
        revisions=tuple(_revisions(ledger, seen, as_of)),
        made_here=_entered_at(ledger, seen.course.id, first=True),
    )  # fmt: skip


def _divers(seen: CourseView) -> tuple[str, ...]:
    """Everybody who may have been in the water: students and staff, each once."""
    return tuple(dict.fromkeys([*seen.students, *(member.person for member in seen.course.members)]))


def _assumed(seen: CourseView) -> str | None:
    return seen.profile.oxygen.assumed_set_point_bar if seen.profile.oxygen else None


def _day(seen: CourseView, attempt: Attempt) -> date:
    return seen.as_seen(attempt).day


def _tried(ledger: Ledger, seen: CourseView, attempt: Attempt) -> Tried:
    one = seen.as_seen(attempt)
    fits = seen.adopted.hashes.get(attempt.skill) == attempt.rubric
    skill = seen.adopted.standards.skills.get(attempt.skill) if fits else None
    unit_type = seen.unit_type_of(attempt.student, one.day)
    features = unit_type.feature_set if unit_type else frozenset()
    judged = judge(one, skill, features) if skill else None
    return Tried(one, skill, judged, _entered_at(ledger, attempt.id))


def _entered_at(ledger: Ledger, subject: str, *, first: bool = False) -> datetime | None:
    """When something was first, or last, entered in the ledger. An amendment is no entry: it shows by itself."""
    amending = (Corrected.kind, *WITHDRAWALS)
    moments = [read_stored(event.recorded_at) for event in ledger.events(subject) if event.kind not in amending]
    return (min if first else max)(moments, default=None)


def _signed(ledger: Ledger, seen: CourseView, as_of: date) -> Iterator[SignedStanding]:
    for student in seen.students:
        for skill in seen.skills():
            decision = seen.decision(student, skill, as_of)
            if decision:
                stale = is_stale(seen, decision, skill, as_of)
                found = found_after_signing(ledger, seen, decision, skill, as_of) if stale else ()
                yield SignedStanding(decision, stale, found)


def _apart(seen: CourseView, as_of: date) -> Iterator[tuple[Decision, ...]]:
    for student in seen.students:
        for skill in seen.skills():
            live = seen.decisions_live(student, skill, as_of)
            if len({(one.decided, one.rests_on) for one in live}) > 1:
                yield tuple(sorted(live, key=lambda one: one.id))


def _withdrawn_apart(ledger: Ledger, seen: CourseView, as_of: date) -> Iterator[WithdrawnApart]:
    for attempt, withdrawn_by, unknown in withdrawn_unknowing(ledger, seen.course.id):
        if _day(seen, attempt) <= as_of:
            yield WithdrawnApart(_tried(ledger, seen, attempt), withdrawn_by, unknown)


def _signed_courses(seen: CourseView) -> Iterator[SignedCourse]:
    for student in seen.students:
        for one in live_issues(seen, student):
            own = alone(seen, student, one.signed_by, date.fromisoformat(one.as_of))
            yield SignedCourse(one, hash_now(seen, one), tuple(skill.id for skill in own))


def _exceptions_ended(ledger: Ledger, seen: CourseView, as_of: date) -> Iterator[EndedException]:
    by_id = {one.id: one for one in seen.exceptions if one.seconds}
    for student in dict.fromkeys(one.student for one in by_id.values()):
        for state in exception_states(ledger, seen, student, as_of, _counted(seen, student, as_of)):
            if state.id in by_id and state.why_not in ENDED:
                yield EndedException(by_id[state.id], state.what, state.why_not)


def _revisions(ledger: Ledger, seen: CourseView, as_of: date) -> Iterator[OtherRevision]:
    """Later revisions of the course's own requirements, in the standards in force or in those that it is on."""
    own, current = seen.profile, in_force(ledger)
    adoptions = dict.fromkeys([*([current.id] if current else []), seen.course.adoption])
    told: set[str] = {own.revision}
    for adoption in adoptions:
        for other in adopted(ledger, adoption).standards.profiles:
            later = own.first_day < other.first_day <= as_of
            if other.id == own.id and later and other.revision not in told:
                told.add(other.revision)
                yield _revision(seen, other, moved_view(ledger, seen, adoption, other.id, other.revision), as_of)


def _revision(seen: CourseView, other: Profile, moved: CourseView, as_of: date) -> OtherRevision:
    own = {*seen.profile.required_skills}
    asked = {*other.required_skills}
    more: dict[str, int] = {}
    students = []
    for student in seen.students:
        before = {one.kind: one for one in _counted(seen, student, as_of)}
        for after in _counted(moved, student, as_of):
            was = before.get(after.kind)
            if difference := (after.required or 0) - ((was.required if was else 0) or 0):
                more[after.what] = difference
            if after.short_by != (was.short_by if was else 0):
                students.append((student, after.what, was.short_by if was else 0, after.short_by))
    return OtherRevision(
        revision=other.revision,
        first_day=other.first_day,
        added=tuple(_skill_words(moved, skill) for skill in other.required_skills if skill not in own),
        dropped=tuple(_skill_words(seen, skill) for skill in seen.profile.required_skills if skill not in asked),
        more=tuple(more.items()),
        students=tuple(students),
    )


def _counted(seen: CourseView, student: str, as_of: date) -> tuple[Hours | Count, ...]:
    """Minutes and counts of a student; standings are not asked for here."""
    return (*student_hours(seen, student, as_of), *student_counts(seen, student, as_of))


def _skill_words(seen: CourseView, skill: str) -> str:
    return f"{seen.title_of(skill)} ({skill})"
