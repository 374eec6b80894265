"""Show why, asked from a standing, from a signed record, from minutes, from a session."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import as_of_words, day_words, weekday_words
from course.answers.decisions import decision_detail, evidence
from course.answers.missing import student_hours
from course.answers.origin import Asked, Origin, OriginLine, OriginPart, attempt_form, origin, rubric_facts, trail
from course.asker import question
from course.assessment.attempts import SeenAttempt
from course.assessment.sentences import rule_sentence, standing_sentence
from course.assessment.standing import Standing
from course.errors import NotFoundError
from course.hours.minutes import KIND_OF_SETTING, ON_LOOP, Interval, time_by_kind
from course.hours.requirements import KIND_WORDS
from course.moments import now, training_day
from course.record.chain import Event
from course.record.facts import Attempt, Decision, Session, Span
from course.record.projection import project
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import OUTCOME_WORDS, SETTING_WORDS, DecisionKind, SpanRole, listed, plural


@question(Sight.WHY)
def standing_origin(ledger: Ledger, seen: CourseView, student: str, skill: Skill, as_of: date) -> Origin:
    """Return what a standing rests on: each attempt, what it came to, and every entry about it."""
    standing = seen.standing(student, skill, as_of)
    decision = decision_detail(ledger, seen, student, skill, as_of)
    facts = [
        ("As of", as_of_words(as_of, seen.last_day, seen.last_day)),
        ("Rule", rule_sentence(skill)),
        *rubric_facts(ledger, seen, skill, seen.adopted.hashes[skill.id]),
        ("Decision", decision.sentence if decision else "Not signed."),
        ("Rests on", f"{plural(len(standing.events), 'event')}, {evidence(seen, skill, standing)}"),
    ]
    by_id = {one.attempt.id: one for one in seen.seen(student, skill)}
    parts = _attempt_parts(ledger, seen, standing, by_id)
    sentence = standing_sentence(standing, skill, seen.names)
    about = f"{seen.name(student)} · {skill.title}", _of_skill("standing", student, skill, as_of)
    return origin(seen, about, sentence, facts, parts)


def _of_skill(why: str, student: str, skill: Skill, as_of: date) -> Asked:
    return (("why", why), ("student", student), ("skill", skill.id), ("as_of", as_of.isoformat()))


@question(Sight.WHY)
def decided_skills(seen: CourseView, student: str, as_of: date) -> dict[str, str]:
    """Return the skills on which somebody decided, each with the decision, by whom and on which day."""
    found = {}
    for skill in seen.skills():
        if decision := seen.decision(student, skill, as_of):
            word = "held back" if decision.decided == DecisionKind.STRICTER else "signed as met"
            day = day_words(date.fromisoformat(decision.as_of))
            found[skill.id] = f"{skill.title} · {word} by {seen.name(decision.decided_by)}, as of {day}"
    return found


@question(Sight.WHY)
def signed_origin(ledger: Ledger, seen: CourseView, student: str, skill: Skill, as_of: date) -> Origin:
    """Return what a signed record rests on: the decision, its hash, and the record as it was when it was made.

    Raises:
        NotFoundError: nobody decided on this skill.
    """
    decision = seen.decision(student, skill, as_of)
    if decision is None:
        raise NotFoundError(f"Nobody decided on {skill.title} of {seen.name(student)} yet.")
    events = list(ledger.events(decision.id))
    then = _record_then(ledger, seen, decision, skill, events[0])
    standing = seen.standing_of(student, skill, then.values(), date.fromisoformat(decision.as_of))
    same = evidence(seen, skill, standing) == decision.rests_on
    detail = decision_detail(ledger, seen, student, skill, as_of)
    found = "the events below, as they stood then" if same else "events that cannot be put together here any more"
    facts = [
        ("Rests on", decision.rests_on),
        ("That is", f"the hash over {plural(decision.events_used, 'event')} and the rubric's form: {found}"),
        ("The tool said", decision.sentence),
        *rubric_facts(ledger, seen, skill, decision.rubric),
        ("Rule", rule_sentence(skill)),
    ]
    parts = [OriginPart("The decision", (), trail(ledger, seen, events))]
    parts += _attempt_parts(ledger, seen, standing, then, before=events[0])
    sentence = detail.sentence if detail else decision.sentence
    about = f"Signed record: {seen.name(student)} · {skill.title}", _of_skill("signed", student, skill, as_of)
    return origin(seen, about, sentence, facts, parts)


def _record_then(
    ledger: Ledger, seen: CourseView, decision: Decision, skill: Skill, made: Event
) -> dict[str, SeenAttempt]:
    """The student's attempts as they stood when a decision was made: of events that came before it."""
    found = {}
    for fact in ledger.facts("attempt", course=seen.course.id, skill=skill.id):
        told = project([one for one in ledger.events(fact.id) if one.order < made.order])
        if not isinstance(told, Attempt) or told.withdrawn or told.rubric != decision.rubric:
            continue
        if decision.student in (told.claimants or (told.student,)):
            found[told.id] = seen.as_seen(told)
    return found


def _attempt_parts(
    ledger: Ledger,
    seen: CourseView,
    standing: Standing,
    by_id: dict[str, SeenAttempt],
    before: Event | None = None,
) -> Iterator[OriginPart]:
    for step in standing.history:
        of = by_id[step.attempt]
        attempt = of.attempt
        session = seen.sessions.get(attempt.session)
        where = session.title if session else "its session was withdrawn"
        unit = seen.units.get(attempt.unit or "")
        head = [f"{weekday_words(of.day)} {day_words(of.day)}", where, SETTING_WORDS[attempt.setting]]
        head += [f"attempt {attempt.number}", *([unit.label] if unit else [])]
        reasons = step.judgement.held.reasons if step.judgement.held else ()
        lines: list[OriginLine] = []
        for subject in (attempt.id, *attempt.joined):
            events = [one for one in ledger.events(subject) if before is None or one.order < before.order]
            lines += trail(ledger, seen, events, attempt_form(ledger, attempt), of.day)
        title = f"{' · '.join(head)}: {OUTCOME_WORDS[step.outcome]}"
        yield OriginPart(title, (step.note, *(reason.sentence for reason in reasons)), tuple(lines))


# --- minutes and sessions --------------------------------------------------------------------------------------------


@question(Sight.WHY)
def minute_origin(ledger: Ledger, seen: CourseView, student: str, kind: str, as_of: date) -> Origin:
    """Return which times make a person's minutes of a kind, with who entered each and when.

    Args:
        ledger: the ledger.
        seen: the course.
        student: a learner of it.
        kind: theory, dry, pool, open_water or in_water_on_loop.
        as_of: later training days are left out.

    Raises:
        NotFoundError: there is no such kind of minutes.
    """
    if kind not in KIND_WORDS:
        raise NotFoundError(f"There is no kind of minutes {kind!r}. There are: {', '.join(KIND_WORDS)}.")
    hours = next((one for one in student_hours(seen, student, as_of) if one.kind == kind), None)
    total, asked = (hours.minutes, hours.required) if hours else (0, None)
    counted = [s for s in seen.sessions.values() if training_day(s.start) <= as_of]
    loop = kind == ON_LOOP
    parts = _loop_parts(ledger, seen, student, counted) if loop else _span_parts(ledger, seen, student, kind, counted)
    told = f"{plural(total, 'minute')} {KIND_WORDS[kind]}" + (f" of {asked} asked for" if asked is not None else "")
    if hours and hours.elsewhere:
        told += f", and {hours.elsewhere} from elsewhere"
    if hours and hours.short_by:
        told += f": short by {hours.short_by}"
    facts = [
        ("As of", as_of_words(as_of, seen.last_day, seen.last_day)),
        ("Requirements", f"{seen.profile.title}, revision {seen.profile.revision}"),
        ("How it is counted", _COUNTED[loop]),
    ]
    question = (("why", "minutes"), ("student", student), ("kind", kind), ("as_of", as_of.isoformat()))
    return origin(seen, (f"{seen.name(student)} · minutes {KIND_WORDS[kind]}", question), f"{told}.", facts, parts)


_COUNTED = {
    True: "As written down for each time in the water; minutes on bailout are not among them.",
    False: (
        "True elapsed time between in and out. Of two times that overlap the one that began first counts, and the "
        "other from the minute it is over. A time without an end counts to its session's end."
    ),
}


def _span_parts(
    ledger: Ledger, seen: CourseView, student: str, kind: str, sessions: Sequence[Session]
) -> Iterator[OriginPart]:
    role, moment = SpanRole(seen.profile.for_whom), now()
    spans = [(session, span) for session in sessions for span in session.spans if _is_counted(span, student, role)]
    over = [pair for pair in spans if pair[1].end is not None or pair[0].end.moment <= moment]
    worth = time_by_kind(
        Interval(span.start.moment, (span.end or session.end).moment, span.id) for session, span in over
    )
    for session in sessions:
        own = [span for of, span in over if of is session and KIND_OF_SETTING[session.setting] == kind]
        if own:
            minutes = sum(int(worth[span.id].total_seconds()) // 60 for span in own if span.id in worth)
            notes = tuple(
                "Nobody wrote down when they left: it counts to the session's end." for span in own if span.end is None
            )
            lines = lines_about(ledger, seen, session, {span.id for span in own})
            yield OriginPart(f"{_session_head(session)}: {plural(minutes, 'minute')}", notes, lines)


def _is_counted(span: Span, student: str, role: SpanRole) -> bool:
    return span.person == student and span.role == role


def _loop_parts(ledger: Ledger, seen: CourseView, student: str, sessions: Sequence[Session]) -> Iterator[OriginPart]:
    for session in sessions:
        own = [water for water in session.water if water.person == student]
        if own:
            minutes = sum(water.loop_minutes for water in own)
            lines = lines_about(ledger, seen, session, {water.id for water in own})
            yield OriginPart(f"{_session_head(session)}: {plural(minutes, 'minute')} on the loop", (), lines)


def lines_about(ledger: Ledger, seen: CourseView, session: Session, things: set[str]) -> tuple[OriginLine, ...]:
    """Return lines of a session's events about some of its spans and water times, and of what corrects them."""
    events = list(ledger.events(session.id))
    bodies = {event.id: json.loads(event.body) for event in events}
    own = {event for event, body in bodies.items() if {body.get("span"), body.get("water")} & things}
    for event, body in bodies.items():  # in order, so that a correction of a correction is found too
        if {body.get("corrects"), body.get("withdraws")} & own:
            own.add(event)
    return tuple(line for line in trail(ledger, seen, events, None, training_day(session.start)) if line.event in own)


@question(Sight.WHY)
def session_origin(ledger: Ledger, seen: CourseView, session_id: str) -> Origin:
    """Return everything that was entered for a session of the course, and what was marked in it.

    Raises:
        NotFoundError: there is no such session.
    """
    session = needed(ledger, Session, session_id, "session")
    attempts = [one for one in seen.attempts if one.session == session.id]
    people = {span.person for span in session.spans}
    sentence = (
        f"{plural(len(people), 'person', 'people')} signed in, {plural(len(attempts), 'attempt')}, "
        f"{'closed' if session.closed_at else 'not closed'}."
    )
    facts = [
        ("Place", session.place or "not entered"),
        ("Planned", f"{session.start.local:%H:%M} to {session.end.local:%H:%M} ({session.start.zone})"),
        ("Groups", listed([group.name for group in session.groups]) or "none"),
    ]
    own = trail(ledger, seen, list(ledger.events(session.id)), None, training_day(session.start))
    parts = [OriginPart("Entered for the session", (), own), *_attempts_of(ledger, seen, attempts)]
    about = _session_head(session), (("why", "session"), ("session", session.id))
    return origin(seen, about, sentence, facts, parts)


def _attempts_of(ledger: Ledger, seen: CourseView, attempts: Iterable[Attempt]) -> Iterator[OriginPart]:
    for attempt in attempts:
        form = attempt_form(ledger, attempt)
        title = f"{seen.name(attempt.student)} · {form.title if form else attempt.skill} · attempt {attempt.number}"
        day = seen.as_seen(attempt).day
        yield OriginPart(title, (), trail(ledger, seen, list(ledger.events(attempt.id)), form, day))


def _session_head(session: Session) -> str:
    day = training_day(session.start)
    return f"{session.title} · {weekday_words(day)} {day_words(day)} · {SETTING_WORDS[session.setting]}"
