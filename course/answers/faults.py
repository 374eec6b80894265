"""Fault slips as read by people: what was set, by whom, for whom, who found it; and each person's count."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import at_words
from course.answers.marking import session_words
from course.answers.unit_until import slips_until
from course.asker import question
from course.assessment.fault_count import FaultCount, count_faults
from course.errors import NotFoundError
from course.record.facts import Slip, Unit
from course.record.unit_facts import SlipReply
from course.standards.planted import PlantedFault, finding_steps, fits
from course.standards.rubric import Skill
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import SLIP_ANSWER_WORDS, SLIP_KIND_WORDS, SlipAnswer, SlipKind, listed, plural


@dataclass(frozen=True)
class Reply:
    """What one person made of a fault, as a sentence."""

    event: str
    person: str
    answer: SlipAnswer
    sentence: str


@dataclass(frozen=True)
class SlipView:
    """One fault slip. A planted one is for the trainer's eyes; a shown one is held up in the water."""

    slip: str
    how: SlipKind
    session: str
    unit: str | None
    skill: str | None
    """For a shown fault the skill that answers it."""
    title: str
    head: str
    set_words: str
    bag: str
    for_whom: tuple[str, ...]
    for_words: str
    stop_before: str
    """For a planted fault where a later step opens gas: before which step the trainer ends the attempt."""
    lines: tuple[tuple[str, str], ...]
    """For the trainer: (word, text) of how it is set, found and cleared, and what must never be done with it."""
    replies: tuple[Reply, ...]
    result: str
    state: str
    cleared: bool
    open: bool

    @property
    def sentence(self) -> str:
        """The slip in one line."""
        return f"{self.head}: {self.title}. {self.result} {self.state}".strip()


@dataclass(frozen=True)
class PersonCount:
    """What one person made of the faults, with its n."""

    person: str
    name: str
    count: FaultCount

    @property
    def sentence(self) -> str:
        """Name and count: "Ysolde Marrick: 3 of 4 found, 1 false alarm"."""
        return f"{self.name}: {self.count.sentence}"


@question(Sight.UNITS)
def slips(
    ledger: Ledger, seen: CourseView, session: str | None = None, until: datetime | None = None
) -> tuple[SlipView, ...]:
    """Return the fault slips of a course or of one session, those that stand open first, then the newest.

    Until a moment: those set by then, with what was noted of them by then.
    """
    newest = [_view(seen, slip) for slip in slips_until(reversed(_facts(ledger, seen, session)), until)]
    return tuple(sorted(newest, key=lambda slip: not slip.open))


@question(Sight.UNITS)
def slip_view(ledger: Ledger, seen: CourseView, slip: str) -> SlipView:
    """Return one fault slip of a course.

    Raises:
        NotFoundError: there is no such slip.
    """
    found = next((fact for fact in _facts(ledger, seen) if fact.id == slip), None)
    if found is None:
        raise NotFoundError("There is no such fault slip on this course. Go back to Units.")
    return _view(seen, found)


@question(Sight.UNITS)
def slips_for(ledger: Ledger, seen: CourseView, session: str, student: str) -> tuple[SlipView, ...]:
    """Return the fault slips of a session that are for a student: named on them, or planted for whoever builds."""
    found = slips(ledger, seen, session)
    return tuple(slip for slip in found if student in slip.for_whom or not slip.for_whom)


@question(Sight.UNITS)
def counts(ledger: Ledger, seen: CourseView, session: str | None = None) -> tuple[PersonCount, ...]:
    """Return what each person found, missed and took for a fault, on a course or in one session, by name."""
    replies = [reply for slip in _facts(ledger, seen, session) for reply in slip.replies]
    found = count_faults(replies)
    return tuple(
        sorted((PersonCount(person, seen.name(person), count) for person, count in found.items()), key=lambda p: p.name)
    )


@question(Sight.UNITS)
def plantable(seen: CourseView, unit: str) -> dict[str, str]:
    """Planted faults that fit a unit: id to title, with the step before which the trainer stops."""
    standards = seen.adopted.standards
    unit_type = standards.unit_types.get(seen.units[unit].unit_type)
    return {
        fault.id: fault.title + (" · stop before gas is opened" if fault.stop_before else "")
        for fault in standards.planted_faults.values()
        if fits(fault, standards.skills, unit_type)
    }


@question(Sight.UNITS)
def showable(seen: CourseView, session: str) -> dict[str, str]:
    """Skills that answer a fault in a water session: id to title, those of failures and bailout first."""
    setting = seen.sessions[session].setting
    phase, first = seen.adopted.standards.phase_of, ("failures", "bailout")
    fit = [skill for skill in seen.skills() if setting in skill.setting and skill.audience == "student"]
    fit.sort(key=lambda skill: first.index(phase[skill.id]) if phase[skill.id] in first else len(first))
    return {skill.id: skill.title for skill in fit}


@question(Sight.UNITS)
def members(seen: CourseView) -> dict[str, str]:
    """Who can be asked to find a fault: students, then candidates and everybody else of the course."""
    own = dict.fromkeys([*seen.students, *(member.person for member in seen.course.members)])
    return {person: seen.name(person) for person in own}


@question(Sight.UNITS)
def bench_sessions(seen: CourseView) -> dict[str, str]:
    """Sessions in which a fault may be planted: id to words, the newest first."""
    return _sessions(seen, ("dry",))


@question(Sight.UNITS)
def water_sessions(seen: CourseView) -> dict[str, str]:
    """Sessions in which a fault may be shown: id to words, the newest first."""
    return _sessions(seen, ("pool", "open_water"))


def _sessions(seen: CourseView, settings: tuple[str, ...]) -> dict[str, str]:
    fit = [session for session in reversed(seen.sessions.values()) if session.setting in settings]
    return {session.id: session_words(session) for session in fit}


def _facts(ledger: Ledger, seen: CourseView, session: str | None = None) -> list[Slip]:
    found = all_of(ledger, Slip, course=seen.course.id, session=session)
    return sorted(found, key=lambda slip: (slip.observed.utc, slip.id))


def _view(seen: CourseView, slip: Slip) -> SlipView:
    unit = seen.units.get(slip.unit or "")
    planted = seen.adopted.standards.planted_faults.get(slip.fault) if slip.how == SlipKind.PLANTED else None
    skill = seen.adopted.standards.skills.get(slip.fault) if slip.how == SlipKind.SHOWN else None
    title = planted.title if planted else skill.title if skill else slip.fault
    answered = {reply.person for reply in slip.replies}
    held = unit is not None and any(hold.slip == slip.id for hold in unit.held)
    waits = [person for person in slip.for_whom if person not in answered]
    return SlipView(
        slip=slip.id,
        how=slip.how,
        session=slip.session,
        unit=slip.unit,
        skill=skill.id if skill else None,
        title=title,
        head=f"{SLIP_KIND_WORDS[slip.how].capitalize()}{f' in {unit.label}' if unit else ''}",
        set_words=_set_words(seen, slip),
        bag=slip.bag or "",
        for_whom=slip.for_whom,
        for_words=listed([seen.name(person) for person in slip.for_whom]),
        stop_before=_stop_before(seen, planted) if planted else "",
        lines=_lines(seen, planted, unit) if planted else (),
        replies=tuple(_reply(seen, reply) for reply in slip.replies),
        result=_result(seen, slip, waits),
        state=_state(seen, slip, unit, held=held),
        cleared=slip.cleared is not None,
        open=held or (slip.how == SlipKind.PLANTED and slip.cleared is None) or bool(waits),
    )


def _set_words(seen: CourseView, slip: Slip) -> str:
    session = seen.sessions.get(slip.session)
    where = f", {session.title}" if session else ""
    return f"{SLIP_KIND_WORDS[slip.how]} {at_words(slip.observed.local)} by {seen.name(slip.set_by)}{where}"


def _stop_before(seen: CourseView, fault: PlantedFault) -> str:
    """Where gas would be opened later the trainer ends the attempt, found or not."""
    skills = [seen.adopted.standards.skills[name] for name in fault.found_in if name in seen.adopted.standards.skills]
    for skill in skills if fault.stop_before else ():
        if step := skill.step(str(fault.stop_before)):
            number = skill.steps.index(step) + 1
            return f"End the attempt, found or not, before step {number} of {skill.title}: {step.do}"
    return ""


def _lines(seen: CourseView, fault: PlantedFault, unit: Unit | None) -> tuple[tuple[str, str], ...]:
    standards = seen.adopted.standards
    unit_type = standards.unit_types.get(unit.unit_type) if unit else None
    found = [_step_words(standards.skills[s], step) for s, step in finding_steps(fault, standards.skills, unit_type)]
    return (
        ("How it is set", fault.how_set),
        ("How it shows", fault.tell),
        ("Should be found in", "; ".join(found)),
        ("To clear it", fault.clear_by),
        ("Never", fault.never),
    )


def _step_words(skill: Skill, step_id: str) -> str:
    number = next(n for n, step in enumerate(skill.steps, 1) if step.id == step_id)
    return f"{skill.title}, step {number}"


def _reply(seen: CourseView, reply: SlipReply) -> Reply:
    told = f"{seen.name(reply.person)}: {SLIP_ANSWER_WORDS[reply.answer]}, {at_words(reply.observed.local)}"
    return Reply(reply.event, reply.person, reply.answer, f"{told}, noted by {seen.name(reply.told_by)}")


def _result(seen: CourseView, slip: Slip, waits: list[str]) -> str:
    """Who found it, who missed it, false alarms, and whose answer is not noted."""
    by = {answer: [r.person for r in slip.replies if r.answer == answer] for answer in SlipAnswer}
    parts = []
    for answer, word in ((SlipAnswer.HIT, "found by"), (SlipAnswer.MISSED, "missed by")):
        if by[answer]:
            parts.append(f"{word} {listed([seen.name(person) for person in dict.fromkeys(by[answer])])}")
    if by[SlipAnswer.FALSE_ALARM]:
        who = listed([seen.name(person) for person in dict.fromkeys(by[SlipAnswer.FALSE_ALARM])])
        parts.append(f"{plural(len(by[SlipAnswer.FALSE_ALARM]), 'false alarm')} ({who})")
    if waits:
        parts.append(f"no answer noted of {listed([seen.name(person) for person in waits])}")
    told = "; ".join(parts) or "nobody's answer is noted"
    return f"{told[0].upper()}{told[1:]}."


def _state(seen: CourseView, slip: Slip, unit: Unit | None, *, held: bool) -> str:
    if slip.how == SlipKind.SHOWN:
        return "Shown only: no unit was changed."
    label = unit.label if unit else "the unit"
    if slip.cleared is None:
        return f"Not cleared: {label} is on hold." if held else f"Not cleared, and no hold is open: hold {label} now."
    told = f"Cleared {at_words(slip.cleared.local)} by {seen.name(slip.cleared_by or '')}."
    return (
        f"{told} {label} stays on hold until its whole list is passed again." if held else f"{told} List passed again."
    )


@question(Sight.UNITS)
def askable(seen: CourseView, session: str, skill: str) -> dict[str, str]:
    """Students of a session whose unit a shown fault's skill is for: id to name."""
    day = seen.sessions[session].start.local.date()
    fit = seen.adopted.skill(skill)
    return {s: seen.name(s) for s in seen.students if applies(fit, seen.unit_type_of(s, day))}
