"""Gates: which missing paper holds which stage shut for a person, on the day of that stage.

A proof is good to the end of its last good day: the earlier of the day that the paper says and of the day it was seen
plus the days that the requirements give it. Of several papers for one requirement any good one does; of medical papers
the one seen last decides, and of two of one day the one that does not clear. Without a birth date the stages in the
water are shut: nobody can tell whether a guardian has to agree.

Years of age are counted whole, on the day asked about. Whoever is born on 29 February comes of age on 1 March in a year
without that day: the later of the two days in use, so that nobody is in the water too young. Local law decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Literal

from course.moments import day_after, day_words, training_day
from course.record.facts import Course, Person, Session
from course.record.paper_facts import Proof
from course.standards.profile import Prerequisite, Profile
from course.words import Role, SpanRole

Stage = Literal["enrolment", "dry", "pool", "open_water", "signoff"]
STAGES: tuple[Stage, ...] = ("enrolment", "dry", "pool", "open_water", "signoff")
STAGE_WORDS: dict[Stage, str] = {
    "enrolment": "enrolment",
    "dry": "the dry sessions",
    "pool": "the pool",
    "open_water": "the open water",
    "signoff": "sign-off",
}
WATER: tuple[Stage, ...] = ("pool", "open_water")
AGE, CONSENT = "age", "consent"
"""Gates that no list of prerequisites names: the profile's ages ask for them."""
_STAGE_OF_SETTING: dict[str, Stage] = {"dry": "dry", "pool": "pool", "open_water": "open_water"}


class Why(StrEnum):
    """Why a gate is shut."""

    MISSING = "missing"
    EXPIRED = "expired"
    NOT_CLEARED = "not cleared"
    TOO_YOUNG = "too young"
    NO_BIRTH_DATE = "birth date missing"


@dataclass(frozen=True)
class ShutGate:
    """A gate that holds one stage shut on one day."""

    gate: str
    """The requirement's id, or `age` or `consent`."""
    label: str
    stage: Stage
    why: Why
    day: date
    """The day that the stage was asked about."""
    ended: date | None = None
    """The last good day, of a proof that has run out."""

    @property
    def sentence(self) -> str:
        """Which gate, what is wrong with it, and which stage it shuts."""
        return shut_words((self,))

    @property
    def for_lead(self) -> str:
        """The same for the lead, who alone is told that a doctor did not clear somebody."""
        return f"{self.label}: not cleared" if self.why == Why.NOT_CLEARED else self.words

    @property
    def words(self) -> str:
        """Which gate, and what is wrong with it; of a medical paper never that it says no."""
        match self.why:
            case Why.EXPIRED:
                return f"{self.label} ran out on {day_words(self.ended or self.day)}"
            case Why.NOT_CLEARED:
                return f"{self.label}: not settled, ask the lead instructor"
            case Why.TOO_YOUNG:
                return f"{self.label}: younger on {day_words(self.day)}"
            case Why.NO_BIRTH_DATE:
                return f"{self.label}: the birth date is not entered"
            case Why.MISSING:
                return f"{self.label}: not seen by {day_words(self.day)}"


@dataclass(frozen=True)
class GateState:
    """One gate of one stage on the stage's day: what it rests on, and why it is shut if it is."""

    gate: str
    label: str
    stage: Stage
    day: date
    shut: ShutGate | None = None
    seen_by: str | None = None
    seen_on: date | None = None
    good_until: date | None = None


@dataclass(frozen=True)
class GatePassed:
    """Somebody took part in a session though a gate of its stage was shut on that day. For the list of findings."""

    person: str
    stage: Stage
    session: str
    missing: ShutGate
    when: datetime
    """When they first were there."""


def shut_words(shut: Sequence[ShutGate]) -> str:
    """Return the gates that hold one stage shut as a sentence, and which stage it is; empty when it is open."""
    if not shut:
        return ""
    return f"{'; '.join(gate.words for gate in shut)}. This holds {STAGE_WORDS[shut[0].stage]} shut."


def stage_of(setting: str) -> Stage | None:
    """Return the stage that a session's setting stands for; None for a class, which no gate shuts."""
    return _STAGE_OF_SETTING.get(setting)


def age_on(born: date, day: date) -> int:
    """Return whole years of age on a day; see the module about 29 February."""
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def good_until(proof: Proof, asked: Prerequisite) -> date | None:
    """Return the last day on which a proof is good; None for one without an end."""
    ends = [date.fromisoformat(proof.good_until)] if proof.good_until else []
    ends += [day_after(date.fromisoformat(proof.day), asked.valid_days)] if asked.valid_days else []
    return min(ends, default=None)


def gate_states(person: Person, course: str, profile: Profile, stage: Stage, day: date) -> tuple[GateState, ...]:
    """Return every gate of one stage as it is on a day.

    Args:
        person: with their papers opened; what was erased is missing.
        course: papers noted for another course do not count here.
        profile: what the course asks.
        stage, day: which stage, and the day on which it takes place.
    """
    own = [asked for asked in profile.prerequisites if asked.blocks == stage]
    states = [_proof_state(person, course, asked, stage, day) for asked in own]
    if stage != "signoff":
        states.append(_age_state(person, profile, stage, day))
    if stage in WATER and _is_minor(person, profile, day):
        states.append(_consent_state(person, course, profile, stage, day))
    return tuple(states)


def shut_gates(person: Person, course: str, profile: Profile, stage: Stage, day: date) -> tuple[ShutGate, ...]:
    """Return the gates that hold a stage shut for a person on a day; empty when it is open."""
    return tuple(state.shut for state in gate_states(person, course, profile, stage, day) if state.shut)


def shut_in(session: Session, person: Person, course: Course, profile: Profile) -> tuple[ShutGate, ...]:
    """Return the gates that hold a session shut for a learner of a course; nothing for staff and in a class."""
    stage = stage_of(session.setting)
    if stage is None or person.id not in course.people(Role(profile.for_whom)):
        return ()
    return shut_gates(person, course.id, profile, stage, training_day(session.start))


def left_on(person: Person, course: str) -> date | None:
    """Return the day on which a person left a course; None while they are on it, or once they came back."""
    last = next((turn for turn in reversed(person.turns) if turn.course == course), None)
    return date.fromisoformat(last.day) if last and last.left else None


def stage_days(course: Course, sessions: Iterable[Session], person: str) -> dict[Stage, tuple[date, ...]]:
    """Return the days on which a person goes through each stage, in order.

    Enrolment is on the course's first day and sign-off on its last; a stage without a planned session has no day. A
    session whose groups leave a person out is not theirs, and one before the course began was another centre's.
    """
    found: dict[Stage, set[date]] = {}
    for session in sessions:
        stage = stage_of(session.setting)
        if stage and not session.withdrawn and _is_in(session, person) and _of_course(session, course):
            found.setdefault(stage, set()).add(training_day(session.start))
    days: dict[Stage, tuple[date, ...]] = {"enrolment": (date.fromisoformat(course.first_day),)}
    days |= {stage: tuple(sorted(found[stage])) for stage in STAGES if stage in found}
    return days | {"signoff": (date.fromisoformat(course.last_day),)}


def gates_ahead(
    person: Person, course: str, profile: Profile, days: Mapping[Stage, Sequence[date]], as_of: date
) -> tuple[GateState, ...]:
    """Return each gate over the days of its stage that are still to come: on the first day on which it is shut.

    A gate that is shut on none is told as on the last of its days. Of a stage that is over the last day decides, and a
    paper that was noted later, up to the day asked about, opens the gate too: that somebody passed it shut stays a
    finding, and nobody is held up by it for ever.

    Args:
        person, course, profile: as for `gate_states`.
        days: of each stage, in order, from `stage_days`.
        as_of: the day asked about.
    """
    found: list[GateState] = []
    for stage, when in days.items():
        coming = [day for day in when if day >= as_of]
        if coming:
            found += _first_shut(person, course, profile, stage, coming)
        else:
            found += _settled(person, course, profile, stage, when[-1], as_of)
    return tuple(found)


def _first_shut(
    person: Person, course: str, profile: Profile, stage: Stage, days: Sequence[date]
) -> Iterable[GateState]:
    """Each gate as on the first day on which it is shut, else as on the last day on which it is asked for."""
    found: dict[str, GateState] = {}
    for day in days:
        for state in gate_states(person, course, profile, stage, day):
            if state.gate not in found or found[state.gate].shut is None:
                found[state.gate] = state
    return found.values()


def _settled(
    person: Person, course: str, profile: Profile, stage: Stage, last: date, as_of: date
) -> Iterable[GateState]:
    """Each gate of a stage that is over: open if it was open on its last day, or is open or asked for no more now."""
    later = {state.gate: state for state in gate_states(person, course, profile, stage, as_of)}
    for state in gate_states(person, course, profile, stage, last):
        if state.shut is None:
            yield state
        elif state.gate in later:
            yield later[state.gate]


def gates_passed(
    sessions: Iterable[Session], people: Mapping[str, Person], course: Course, profile: Profile
) -> tuple[GatePassed, ...]:
    """Return every gate that was shut on the day of a session in which its person was there as a learner.

    Args:
        sessions: of the course.
        people: by id, with their papers opened.
        course: whose papers count.
        profile: what the course asks.
    """
    role = SpanRole(profile.for_whom)
    found: list[GatePassed] = []
    for session in sorted(sessions, key=lambda one: one.start.utc):
        stage = stage_of(session.setting)
        if stage is None or session.withdrawn or not _of_course(session, course):
            continue
        there = _learners(session, role)
        for learner, came in ((one, at) for one, at in there.items() if one in people):  # not who left the centre
            shut = shut_gates(people[learner], course.id, profile, stage, training_day(session.start))
            found += [GatePassed(learner, stage, session.id, gate, came) for gate in shut]
    return tuple(found)


def _learners(session: Session, role: SpanRole) -> dict[str, datetime]:
    """Who was there as a learner, and when each first came."""
    came: dict[str, datetime] = {}
    for span in sorted(session.spans, key=lambda one: one.start.utc):
        if span.role == role:
            came.setdefault(span.person, span.start.moment)
    for water in session.water:  # a time in the water of somebody whom nobody signed in
        if not any(span.person == water.person for span in session.spans):
            came.setdefault(water.person, (water.entered or session.start).moment)
    return came


def _of_course(session: Session, course: Course) -> bool:
    """Whether a session took place once the course had begun; an earlier one is there for attempts from elsewhere."""
    return training_day(session.start).isoformat() >= course.first_day


def _is_in(session: Session, person: str) -> bool:
    named = {one for group in session.groups for one in (*group.students, *group.staff)}
    return not named or person in named or any(span.person == person for span in session.spans)


def _proof_state(person: Person, course: str, asked: Prerequisite, stage: Stage, day: date) -> GateState:
    own = [p for p in person.proofs if (p.course, p.prerequisite) == (course, asked.id) and p.day <= day.isoformat()]
    proof = _deciding(own, asked)
    if proof is None:
        return GateState(asked.id, asked.label, stage, day, ShutGate(asked.id, asked.label, stage, Why.MISSING, day))
    end = good_until(proof, asked)
    shut = None
    if asked.proof == "medical_form" and proof.cleared != "yes":
        # an erased clearance is no clearance; only a written no is told as one
        why = Why.NOT_CLEARED if proof.cleared == "no" else Why.MISSING
        shut = ShutGate(asked.id, asked.label, stage, why, day)
    elif end is not None and day > end:
        shut = ShutGate(asked.id, asked.label, stage, Why.EXPIRED, day, end)
    return GateState(asked.id, asked.label, stage, day, shut, proof.by, date.fromisoformat(proof.day), end)


def _deciding(proofs: Sequence[Proof], asked: Prerequisite) -> Proof | None:
    """The paper that decides: the last medical one, the stricter of two of one day; of others the one good longest."""
    if asked.proof == "medical_form":
        return max(proofs, key=lambda p: (p.day, p.cleared != "yes", p.event), default=None)
    return max(proofs, key=lambda p: (good_until(p, asked) or date.max, p.day, p.event), default=None)


def _age_state(person: Person, profile: Profile, stage: Stage, day: date) -> GateState:
    label = f"At least {profile.minimum_age_years} years old"
    why = None
    if person.birth_date is None:
        why = Why.NO_BIRTH_DATE if stage in WATER else None  # nobody can tell whether a guardian has to agree
    elif age_on(date.fromisoformat(person.birth_date), day) < profile.minimum_age_years:
        why = Why.TOO_YOUNG
    return GateState(AGE, label, stage, day, ShutGate(AGE, label, stage, why, day) if why else None)


def _is_minor(person: Person, profile: Profile, day: date) -> bool:
    """Without a birth date the gate of age is shut already."""
    born = person.birth_date
    return born is not None and age_on(date.fromisoformat(born), day) < profile.consent_under_years


def _consent_state(person: Person, course: str, profile: Profile, stage: Stage, day: date) -> GateState:
    label = f"Guardian's consent (under {profile.consent_under_years})"
    given = [
        (date.fromisoformat(c.until) if c.until else date.max, c)
        for c in person.consents
        if c.course == course and stage in c.stages and c.day <= day.isoformat()
    ]
    if not given:
        return GateState(CONSENT, label, stage, day, ShutGate(CONSENT, label, stage, Why.MISSING, day))
    end, consent = max(given, key=lambda pair: (pair[0], pair[1].event))
    shut = ShutGate(CONSENT, label, stage, Why.EXPIRED, day, end) if day > end else None
    until = end if end != date.max else None
    return GateState(CONSENT, label, stage, day, shut, consent.by, date.fromisoformat(consent.day), until)
