"""What an audit file's paper says: per course people, hours, who was there, ratio, corrections, decisions; the ledger.

The same frozen answer whoever asks. Without keys people are numbers and texts are left out; nothing else differs.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from course.access import Sight
from course.answers.audit_signing import signing_entries
from course.answers.corrections import Correction, course_corrections
from course.answers.course_view import CourseView, view
from course.answers.days import as_of_words, day_words, days_words
from course.answers.decisions import decision_detail, is_stale
from course.answers.findings import course_findings
from course.answers.missing import student_missing
from course.answers.presence import SessionTime, session_times
from course.answers.record_answer import LedgerHead
from course.asker import question
from course.findings.finding import Severity
from course.hours.requirements import Hours
from course.moments import read_stored, training_day
from course.record.events import STARTS, ChainStartedAfterLoss
from course.record.facts import Centre, Checkpoint
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.words import EXAMPLE_NOTE, RECORD_NOTE, ROLE_WORDS, plural

LIMITS = (
    (
        "The check shows that no event in the middle was changed, taken out or put in, as far as one later hash is "
        "held elsewhere: on a printed paper, in another laptop's ledger, in an older audit file. Compare with one."
    ),
    "It does not show that what was entered is true, who sat at the keyboard, or that the last events are all there.",
    (
        "Whoever holds the ledger and this program can write all of it anew, with hashes that fit. Only a hash that "
        "was given out before shows that."
    ),
)
"""What the hashes do not prove; said wherever they are shown."""
NAMED_CAUTION = (
    "This file holds names, and texts that people wrote about people. It was made for {whom}. What is given out cannot "
    "be erased from here later: keep a list of who has it, and give on no more than is needed."
)
NAMELESS_CAUTION = (
    "People are numbers here, the last six signs of their id, and texts that people wrote are left out. Somebody who "
    "knows the course may still guess who is meant."
)
_ERASED, _LEFT_OUT = "the reason is erased", "the reason is left out here"
_LATE = timedelta(hours=24)
_HOURS_TOLD, _MOST_TOLD = 72, 50


@dataclass(frozen=True)
class FindingLine:
    """One finding as the paper prints it, with its answer where somebody gave one."""

    sentence: str
    answers: tuple[str, ...] = ()
    """Every answer, also those that a later one took the place of."""
    weight: str = ""
    """How much it weighs, in words."""
    serious: bool = False
    follow: tuple[str, ...] = ()
    """What follows from it."""


@dataclass(frozen=True)
class FindingsPart:
    """What does not fit, and what was answered."""

    title: str
    lines: tuple[FindingLine, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class LearnerLine:
    """One learner: skills and hours."""

    name: str
    number: str
    skills: str
    hours: tuple[Hours, ...]


@dataclass(frozen=True)
class DecisionEntry:
    """One decision."""

    about: str
    sentence: str
    rests_on: str
    changed_since: bool


@dataclass(frozen=True)
class CourseAudit:
    """One course."""

    course: str
    title: str
    days: str
    as_of: str
    requirements: str
    sentence: str
    staff: tuple[str, ...]
    learners: tuple[LearnerLine, ...]
    kinds: tuple[tuple[str, str], ...]
    """Kinds of hours that anybody has or that are asked for: code and word."""
    sessions: tuple[SessionTime, ...]
    findings: FindingsPart
    corrections: tuple[Correction, ...]
    late: tuple[str, ...]
    decisions: tuple[DecisionEntry, ...]


@dataclass(frozen=True)
class ChainLine:
    """One chain."""

    chain: str
    events: int
    hash: str
    began: str


@dataclass(frozen=True)
class LedgerAudit:
    """How the ledger itself stands."""

    sentence: str
    chains: tuple[ChainLine, ...]
    findings: tuple[str, ...]
    notices: tuple[str, ...]
    checkpoints: tuple[str, ...]
    limits: tuple[str, ...]


@dataclass(frozen=True)
class AuditAnswer:
    """Everything on the paper."""

    centre: str
    given_to: str | None
    sentence: str
    caution: str
    courses: tuple[CourseAudit, ...]
    ledger: LedgerAudit
    notes: tuple[str, ...]
    head: LedgerHead
    asked: tuple[tuple[str, str], ...] = ()
    """What it answers, so that the same can be asked again: courses with their days, whom it is for, what was found."""


@question(Sight.AUDIT_FILE)
def audit_answer(
    ledger: Ledger,
    courses: Sequence[tuple[str, date]],
    given_to: str | None,
    *,
    findings: Sequence[str] = (),
    notices: Sequence[str] = (),
) -> AuditAnswer:
    """Return what the paper of an audit file says.

    Args:
        ledger: laid out from the events of the file; with keys where names are to be in it.
        courses: course and the day that it is asked as of.
        given_to: who gets the file; None: people are numbers.
        findings: what the check of the centre's own folder found: witness, tables, checkpoints.
        notices: what it says that is no damage.
    """
    named = given_to is not None
    told = tuple(course_audit(ledger, _seen(ledger, course, named=named), day, named=named) for course, day in courses)
    centre = needed(ledger, Centre, ledger.centre_id, "centre")
    ledger_part = _ledger(ledger, tuple(findings), tuple(notices))
    head = ledger.head()
    answer = AuditAnswer(
        centre=centre.name,
        given_to=given_to,
        sentence=_sentence(told, ledger_part),
        caution=NAMED_CAUTION.format(whom=given_to) if given_to else NAMELESS_CAUTION,
        courses=told,
        ledger=ledger_part,
        notes=(RECORD_NOTE, EXAMPLE_NOTE),
        head=LedgerHead(ledger.centre_id, head.chain, head.seq, head.hash),
        asked=(
            ("courses", " ".join(f"{course}/{day.isoformat()}" for course, day in courses)),
            *((("given_to", given_to),) if given_to is not None else ()),
            ("findings", "\n".join(findings)),
            ("notices", "\n".join(notices)),
        ),
    )
    return answer if named else _left_out(answer)


def _seen(ledger: Ledger, course: str, *, named: bool) -> CourseView:
    """The course; without keys people are told apart by number, and nobody is called erased."""
    seen = view(ledger, course)
    return seen if named else seen.changed(people=seen.people.without_names())


def _left_out(answer: AuditAnswer) -> AuditAnswer:
    """What no key was there for is not erased, it is left out."""
    courses = tuple(
        replace(
            course,
            corrections=tuple(replace(c, words=c.words.replace(_ERASED, _LEFT_OUT)) for c in course.corrections),
            decisions=tuple(replace(d, sentence=d.sentence.replace(_ERASED, _LEFT_OUT)) for d in course.decisions),
            findings=_findings_left_out(course.findings),
        )
        for course in answer.courses
    )
    return replace(answer, courses=courses)


def _findings_left_out(part: FindingsPart) -> FindingsPart:
    return replace(
        part,
        lines=tuple(
            replace(line, answers=tuple(one.replace(_ERASED, _LEFT_OUT) for one in line.answers)) for line in part.lines
        ),
    )


@question(Sight.AUDIT_FILE)
def course_audit(ledger: Ledger, seen: CourseView, as_of: date, *, named: bool = True) -> CourseAudit:
    """Return one course's part; the cost is that of the course, whatever else the ledger holds."""
    learners = [student_missing(seen, student, as_of) for student in seen.students]
    times, corrections, late = session_times(seen), course_corrections(ledger, seen), late_entries(ledger, seen)
    kinds = {hours.kind: hours.word for learner in learners for hours in learner.hours}
    return CourseAudit(
        course=seen.course.id,
        title=seen.course.title,
        days=days_words(date.fromisoformat(seen.course.first_day), seen.last_day),
        as_of=as_of_words(as_of, seen.last_day, seen.today()) if as_of == seen.last_day else day_words(as_of),
        requirements=f"{seen.profile.title}, revision {seen.profile.revision}. {seen.profile.notice}",
        sentence=_course_sentence(seen, learners, times, corrections, late),
        staff=tuple(
            f"{seen.name(m.person)}, {ROLE_WORDS[m.role]}" for m in seen.course.members if m.person not in seen.students
        ),
        learners=tuple(
            LearnerLine(
                name=one.name,
                number=one.student,
                skills=f"{one.held} of {one.required} held, {one.signed} signed"
                + (f", {one.held_back} held back" if one.held_back else "")
                + "".join(f"; {h.short}" for h in one.short),
                hours=one.hours,
            )
            for one in learners
        ),
        kinds=tuple(kinds.items()),
        sessions=times,
        findings=findings_part(ledger, seen, as_of, named=named),
        corrections=corrections,
        late=tuple(line for _, line in late),
        decisions=_decisions(ledger, seen, as_of),
    )


@question(Sight.AUDIT_FILE)
def findings_part(ledger: Ledger, seen: CourseView, as_of: date, *, named: bool = True) -> FindingsPart:
    """Return what does not fit, each with what follows from it and every answer."""
    found = course_findings(ledger, seen, as_of, papers=named)
    lines = tuple(
        FindingLine(one.sentence, answers=tuple(a.sentence for a in one.answers), weight=one.severity.value,
                    serious=one.severity != Severity.LOOK, follow=tuple(other.sentence for other in one.follow))
        for one in found.findings
    )  # fmt: skip
    gone = tuple(FindingLine(f"Found no more: {line}") for line in found.gone)
    title = plural(len(lines), "finding") if lines else "Nothing that does not fit was found"
    left = len(found.open)
    title += f", {left} not answered" if left else ", all answered" if lines else ""
    return FindingsPart(title, (*lines, *gone), found.notes)


def late_entries(ledger: Ledger, seen: CourseView) -> tuple[tuple[int, str], ...]:
    """Return (attempts, line) for each session of which attempts had their last entry more than a day after it.

    Nothing could be entered before the course was written into this ledger: late is counted from then on, and the
    findings say so. Both times of every attempt are in the tables.
    """
    made = min((read_stored(event.recorded_at) for event in ledger.events(seen.course.id)), default=None)
    found: dict[str, list[int]] = {}
    for attempt in seen.attempts:
        recorded = max((read_stored(e.recorded_at) for e in ledger.events(attempt.id)), default=None)
        of = seen.as_seen(attempt)
        could = max(filter(None, (attempt.observed.moment, of.session_start, made)))
        if recorded and recorded - could > _LATE:
            found.setdefault(attempt.session, []).append(_hours(recorded - attempt.observed.moment))
    told = []
    for session in (s for s in seen.sessions.values() if s.id in found):
        hours = sorted(found[session.id])
        after = (
            _after(hours[0]) if _after(hours[0]) == _after(hours[-1]) else f"{_after(hours[0])} to {_after(hours[-1])}"
        )
        day = day_words(training_day(session.start))
        count = plural(len(hours), "attempt")
        told.append((len(hours), f"{session.title}, {day}: {count}, last entered {after} after they were seen."))
    return tuple(told)


def _hours(time: timedelta) -> int:
    return int(time.total_seconds()) // 3600


def _after(hours: int) -> str:
    return plural(hours, "hour") if hours < _HOURS_TOLD else plural(hours // 24, "day")


def _course_sentence(
    seen: CourseView, learners: Sequence[object], times: Sequence[SessionTime], corrections: Sequence[Correction],
    late: Sequence[tuple[int, str]],
) -> str:  # fmt: skip
    broken = sum(group.broken and not group.folded for time in times for group in time.groups)
    who = "candidate" if seen.profile.for_whom == "candidate" else "student"
    attempts, sessions = plural(len(seen.attempts), "attempt"), plural(len(seen.sessions), "session")
    parts = [
        f"{plural(len(learners), who)}, {attempts} in {sessions}",
        f"ratio over its limit in {plural(broken, 'group')}" if broken else "ratio never over its limit",
        plural(len(corrections), "correction"),
    ]
    parts += [f"{plural(sum(count for count, _ in late), 'attempt')} entered more than a day late"] if late else []
    return "; ".join(parts) + "."


def _decisions(ledger: Ledger, seen: CourseView, as_of: date) -> tuple[DecisionEntry, ...]:
    """The decisions that hold, by student and skill, then sign-offs and exceptions; others are in the tables."""
    found = []
    for student in seen.students:
        for skill in seen.skills():
            decision, told = seen.decision(student, skill, as_of), decision_detail(ledger, seen, student, skill, as_of)
            if decision and told:
                about = f"{seen.name(student)}: {skill.title}"
                stale = is_stale(seen, decision, skill, as_of)
                found.append(DecisionEntry(about, told.sentence, decision.rests_on, stale))
    return (*found, *(DecisionEntry(*entry) for entry in signing_entries(ledger, seen, as_of)))


# --- the ledger ------------------------------------------------------------------------------------------------------


def _ledger(ledger: Ledger, findings: tuple[str, ...], notices: tuple[str, ...]) -> LedgerAudit:
    starts = {one.id: one for one in _starts(ledger)}
    chains = tuple(
        ChainLine(h.chain, h.seq, h.hash, starts[h.chain].began if h.chain in starts else "The first chain.")
        for h in ledger.heads()
    )
    made = tuple(
        f"{day_words(date.fromisoformat(one.day))}: {plural(len(one.heads), 'head')} named"
        for one in sorted(all_of(ledger, Checkpoint), key=lambda one: (one.day, one.id))
    )
    compared = f"head witness, tables and {plural(len(made), 'checkpoint')}"
    found = f"found {plural(len(findings), 'thing')} against them" if findings else "found nothing against them"
    whole = f"{plural(ledger.count_events(), 'event')} in {plural(len(chains), 'chain')} fit their hashes"
    if len(findings) > _MOST_TOLD:
        more = f"And {len(findings) - _MOST_TOLD} more, which course verify tells."
        findings = (*findings[:_MOST_TOLD], more)
    return LedgerAudit(f"{whole}; comparing {compared} {found}.", chains, findings, notices, made, LIMITS)


@dataclass(frozen=True)
class _Start:
    id: str
    began: str


def _starts(ledger: Ledger) -> list[_Start]:
    """Chains that began as the next life of another."""
    found = []
    for head in ledger.heads():
        for event in ledger.events(head.chain):  # a chain's start is a statement about the chain
            if event.kind in STARTS:
                body = STARTS[event.kind].model_validate(json.loads(event.body))
                why = {
                    "restored": "a backup was put back",
                    "copied": "the folder was copied",
                    "other_device": "the folder was opened on another device",
                }[body.why]
                why = "somebody went on after a loss" if isinstance(body, ChainStartedAfterLoss) else why
                before = body.predecessor
                found.append(_Start(head.chain, f"Began after event {before.seq} of {before.chain[:8]}: {why}."))
    return found


def _sentence(courses: Sequence[CourseAudit], ledger: LedgerAudit) -> str:
    if not courses:
        return f"No course yet. {ledger.sentence}"
    return f"{plural(len(courses), 'course')}. {ledger.sentence}"
