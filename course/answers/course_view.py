"""One course as it stands now, read once and kept until the ledger grows: what every other answer starts from."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from threading import Lock
from typing import Any

from course.answers.people import People
from course.answers.record_answer import LedgerHead
from course.assessment.attempts import SeenAttempt
from course.assessment.many_standings import AskedRecord
from course.assessment.overruled import Against, against
from course.assessment.standing import Standing, standing
from course.errors import NotFoundError
from course.hours.requirements import finish_window
from course.moments import day_after, now, training_day, zone_named
from course.record.arrival_facts import Arrival
from course.record.facts import Attempt, Centre, Course, Decision, Join, Person, Session, Unit
from course.record.projection import join_attempts
from course.record.signing_facts import MadeException, SignOff
from course.standards.profile import Profile
from course.standards.rubric import Skill
from course.standards.units import UnitType, applies
from course.storage.ledger import Ledger
from course.storage.lookup import Adopted, adopted, all_of, needed
from course.words import STANDING_WORDS, DecisionKind, Role, StandingState


@dataclass(frozen=True)
class CourseView:
    """Everything of one course, as of the ledger's head."""

    centre: Centre
    course: Course
    adopted: Adopted
    profile: Profile
    people: People = field(repr=False, compare=False)
    units: dict[str, Unit]
    sessions: dict[str, Session]
    attempts: tuple[Attempt, ...]
    decisions: tuple[Decision, ...]
    head: LedgerHead
    persons: dict[str, Person] = field(default_factory=dict, repr=False)
    """Those of the course with their papers opened; what is erased is not there. See `person` for others."""
    withdrawn: tuple[Decision, ...] = ()
    """Decisions that were taken back: what they took the place of does not hold again by that."""
    exceptions: tuple[MadeException, ...] = ()
    """Withdrawn ones too, in the order in which they were made."""
    sign_offs: tuple[SignOff, ...] = ()
    """Every issue, in order, those that were taken back too."""
    arrivals: tuple[Arrival, ...] = ()
    """What arrived from other centres, in order, without what was withdrawn."""
    _standings: dict[tuple[str, str, date], Standing] = field(default_factory=dict, repr=False, compare=False)
    worked_out: dict[str, tuple[object, Any]] = field(default_factory=dict, repr=False, compare=False)
    """What an answer worked out of this view, kept with it: name to what it was asked with, and what came out."""

    def changed(self, **fields: Any) -> CourseView:
        """A copy in memory with other fields; nothing that was worked out of this one is kept with it."""
        return replace(self, **fields, _standings={}, worked_out={})

    @property
    def students(self) -> tuple[str, ...]:
        """Ids of those who learn, in the order in which they were enrolled: candidates on a course for candidates."""
        return self.course.people(Role(self.profile.for_whom))

    @cached_property
    def names(self) -> dict[str, str]:
        """Names of those on the course and of who marked in it as shown, by id; see `name` for others."""
        return {person: known.shown for person, known in self.people.circle.items()}

    @property
    def last_day(self) -> date:
        """The course's last day: what answers are as of unless another day is asked for."""
        return date.fromisoformat(self.course.last_day)

    @cached_property
    def by_student_and_skill(self) -> dict[tuple[str, str], tuple[SeenAttempt, ...]]:
        """Attempts as seen on their days, per student and skill."""
        found: dict[tuple[str, str], list[SeenAttempt]] = {}
        for attempt in self.attempts:
            for student in attempt.claimants or (attempt.student,):
                found.setdefault((student, attempt.skill), []).append(self.as_seen(attempt))
        return {key: tuple(seen) for key, seen in found.items()}

    def as_seen(self, attempt: Attempt) -> SeenAttempt:
        """An attempt with its place in time; also one that is not in the ledger yet."""
        session = self.sessions.get(attempt.session)
        start = session.start if session else attempt.observed  # an attempt outlives a session that was withdrawn
        day = training_day(start)
        observers = {sheet.observer for sheet in attempt.sheets}
        lapsed = frozenset(o for o in observers if self.is_lapsed(o, attempt.unit_type, day))
        unit_type = self.adopted.standards.unit_types.get(attempt.unit_type or "")
        features = unit_type.feature_set if unit_type else None
        return SeenAttempt(attempt, day, start.moment, lapsed, features, self.against(attempt))

    def against(self, attempt: Attempt) -> tuple[Against, ...]:
        """What the attempt's unit was read to say against a tick, just before and during it."""
        unit = self.units.get(attempt.unit or "")
        return against(attempt, unit.readings) if unit and unit.readings else ()

    def is_lapsed(self, observer: str, unit_type: str | None, day: date) -> bool:
        """Whether an instructor's last check on a unit type was too long ago on that day.

        Somebody without any check entered for the type up to that day counts as current; the People page says so.
        """
        person = self.people.person(observer)
        checks = person.check_outs if person else ()
        days = [date.fromisoformat(check.day) for check in checks if check.unit_type == unit_type]
        last = max((check for check in days if check <= day), default=None)
        return last is not None and day > day_after(last, self.profile.instructor_currency_days)

    def unit_type_of(self, student: str, as_of: date) -> UnitType | None:
        """The type of the unit that a student dives on a day."""
        assigned = self.course.assignment(student, as_of.isoformat())
        return self.adopted.standards.unit_types.get(assigned.unit_type) if assigned else None

    def unit_of(self, student: str, as_of: date) -> Unit | None:
        """The unit that a student dives on a day."""
        assigned = self.course.assignment(student, as_of.isoformat())
        return self.units.get(assigned.unit) if assigned else None

    def unit_words(self, student: str, as_of: date) -> str:
        """The unit that a student dives on a day, as read by people: "A-05 · Unit type A"; empty without one."""
        unit, unit_type = self.unit_of(student, as_of), self.unit_type_of(student, as_of)
        return " · ".join(part for part in (unit.label if unit else "", unit_type.title if unit_type else "") if part)

    def skills(self) -> tuple[Skill, ...]:
        """Skills that the course requires or offers, in the order of their phases."""
        wanted = {*self.profile.required_skills, *self.profile.optional_skills}
        return tuple(skill for skill in self.adopted.standards.skills.values() if skill.id in wanted)

    def is_required(self, skill: Skill) -> bool:
        """Whether the course requires a skill."""
        return skill.id in self.profile.required_skills

    def title_of(self, skill: str) -> str:
        """A skill's title, also of one that the course does not ask; its id where the rubrics have it no more."""
        known = self.adopted.standards.skills.get(skill)
        return known.title if known else f"{skill}, a skill that the rubrics in force do not have"

    def seen(self, student: str, skill: Skill) -> tuple[SeenAttempt, ...]:
        """A student's attempts at a skill that can count; others see `earlier_rubric` and `after_window`."""
        return tuple(s for s in self._in_force(student, skill) if self.is_in_window(s.day))

    def _in_force(self, student: str, skill: Skill) -> tuple[SeenAttempt, ...]:
        rubric = self.adopted.hashes[skill.id]
        return tuple(s for s in self.by_student_and_skill.get((student, skill.id), ()) if s.attempt.rubric == rubric)

    def after_window(self, student: str, skill: Skill) -> tuple[SeenAttempt, ...]:
        """Attempts made after the days to finish in: kept and shown, never counted unless the profile says so."""
        return tuple(s for s in self._in_force(student, skill) if not self.is_in_window(s.day))

    def is_in_window(self, day: date) -> bool:
        """Whether what was seen on a day counts: the days to finish in are not over, or the profile lets it count."""
        return self.profile.counts_after_window or day <= self.window_end

    @cached_property
    def window_end(self) -> date:
        """The last day of the days to finish in."""
        return finish_window(self.course, self.profile, self.last_day).last

    def earlier_rubric(self, student: str, skill: Skill) -> tuple[SeenAttempt, ...]:
        """Attempts marked by another form of the skill: kept and shown, never counted."""
        rubric = self.adopted.hashes[skill.id]
        return tuple(s for s in self.by_student_and_skill.get((student, skill.id), ()) if s.attempt.rubric != rubric)

    def standing(self, student: str, skill: Skill, as_of: date) -> Standing:
        """Where a student stands with a skill on a day; worked out once for each view."""
        asked = (student, skill.id, as_of)
        if asked not in self._standings:
            self._standings[asked] = self.standing_of(student, skill, self.seen(student, skill), as_of)
        return self._standings[asked]

    def standing_of(self, student: str, skill: Skill, attempts: Iterable[SeenAttempt], as_of: date) -> Standing:
        """Where a student would stand with these attempts under this form of a skill; kept nowhere."""
        asked = self.asked(student, skill, attempts, as_of)
        return standing(asked.attempts, skill, asked.unit_type, asked.features, as_of, applies=asked.applies)

    def asked(self, student: str, skill: Skill, attempts: Iterable[SeenAttempt], as_of: date) -> AskedRecord:
        """What a standing with these attempts rests on, for one standing or for many at once."""
        unit_type = self.unit_type_of(student, as_of)
        return AskedRecord(
            tuple(attempts),
            skill,
            unit_type.id if unit_type else None,
            unit_type.feature_set if unit_type else frozenset(),
            as_of,
            applies=applies(skill, unit_type),
        )

    def decision(self, student: str, skill: Skill, as_of: date) -> Decision | None:
        """The decision that holds on the record that is asked for on a day.

        Of two that do not know of each other, from two laptops, the one that holds back holds.
        """
        live = self.decisions_live(student, skill, as_of)
        return max(live, key=lambda d: (d.decided == DecisionKind.STRICTER, d.id), default=None)

    def decisions_live(self, student: str, skill: Skill, as_of: date) -> tuple[Decision, ...]:
        """Decisions that no other takes the place of; where each unit type has a record of its own, those on it."""
        unit_type = self.unit_type_of(student, as_of) if skill.rule.same_unit_type else None
        own = [d for d in self._decisions.get((student, skill.id), ()) if not unit_type or d.unit_type == unit_type.id]
        back = (d for d in self.withdrawn if (d.student, d.skill) == (student, skill.id))
        replaced = {earlier for d in (*own, *back) for earlier in d.replaces}
        return tuple(d for d in own if d.id not in replaced)

    @cached_property
    def _decisions(self) -> dict[tuple[str, str], tuple[Decision, ...]]:
        found: dict[tuple[str, str], tuple[Decision, ...]] = {}
        for decision in self.decisions:
            key = (decision.student, decision.skill)
            found[key] = (*found.get(key, ()), decision)
        return found

    @property
    def usual_day(self) -> date:
        """The day that answers are as of unless another is asked for: today while the course runs, then its last day.

        Of a course that goes on after the last day it was planned for, the day of its last session.
        """
        today = max(self.today(), date.fromisoformat(self.course.first_day))
        held = [day for session in self.sessions.values() if (day := training_day(session.start)) <= today]
        return min(max([self.last_day, *held]), today)

    def name(self, person: str) -> str:
        """A person's name as shown."""
        known = self.people.get(person)
        return known.shown if known else "somebody who is not in this centre"

    def is_erased(self, person: str) -> bool:
        """Whether somebody's personal data were erased."""
        found = self.persons.get(person) or self.people.person(person)
        return found is not None and found.erased is not None

    def person(self, person: str) -> Person:
        """Somebody of the centre with their papers opened, on the course or not.

        Raises:
            NotFoundError: there is no such person.
        """
        found = self.persons.get(person) or self.people.person(person)
        if found is None:
            raise NotFoundError("There is no such person in this centre. Open the list again.")
        return found

    def today(self) -> date:
        """The day it is now where the course is."""
        return now().astimezone(zone_named(self.course.zone)).date()


_KEPT: dict[tuple[int, str, str], CourseView] = {}
_MOST_KEPT = 4
"""A page asks for one course at one head again and again; a few more for other courses and ledgers."""
_KEEPING = Lock()


def view(ledger: Ledger, course: str) -> CourseView:
    """Read a course. The same ledger at the same head gives the same object.

    Raises:
        NotFoundError: there is no such course.
    """
    key = _key(ledger, course)
    while True:
        with _KEEPING:
            found = _KEPT.get(key)
        if found is not None:
            return found
        found = _read(ledger, course)
        before, key = key, _key(ledger, course)
        if key == before:  # nothing was saved while it was read, so it is all of one moment
            return _keep(key, found)


def forget_views() -> None:
    """Let go of every view that is kept, with the names in it."""
    with _KEEPING:
        _KEPT.clear()
        _UNITS.clear()


def _key(ledger: Ledger, course: str) -> tuple[int, str, str]:
    """A kept view holds its ledger, so that no other ledger has its number."""
    return (id(ledger), course, "|".join(head.hash for head in ledger.heads()))


def _keep(key: tuple[int, str, str], seen: CourseView) -> CourseView:
    with _KEEPING:
        while len(_KEPT) >= _MOST_KEPT and key not in _KEPT:
            _KEPT.pop(next(iter(_KEPT)))
        return _KEPT.setdefault(key, seen)


def _read(ledger: Ledger, course_id: str) -> CourseView:
    course = needed(ledger, Course, course_id, "course")
    standards = adopted(ledger, course.adoption)
    own_centre = needed(ledger, Centre, ledger.centre_id, "centre")
    attempts = join_attempts(all_of(ledger, Attempt, course=course_id), all_of(ledger, Join, course=course_id))
    members = [member.person for member in course.members]
    decided = [one for one in ledger.facts("decision", course=course_id) if isinstance(one, Decision)]
    exceptions = [one for one in ledger.facts("madeexception", course=course_id) if isinstance(one, MadeException)]
    sign_offs = [one for one in ledger.facts("signoff", course=course_id) if isinstance(one, SignOff)]
    people = People(ledger, [*members, own_centre.lead, *(s.observer for a in attempts for s in a.sheets)])
    return CourseView(
        centre=own_centre,
        course=course,
        adopted=standards,
        profile=standards.standards.profile(course.profile, course.revision),
        people=people,
        units=_units(ledger),
        sessions={s.id: s for s in sorted(all_of(ledger, Session, course=course_id), key=lambda s: s.start.utc)},
        attempts=tuple(attempts),
        decisions=tuple(one for one in decided if not one.withdrawn),
        withdrawn=tuple(one for one in decided if one.withdrawn),
        exceptions=tuple(sorted(exceptions, key=lambda one: (one.observed.utc, one.id))),
        arrivals=tuple(sorted(all_of(ledger, Arrival, course=course_id), key=lambda one: (one.observed.utc, one.id))),
        sign_offs=tuple(sorted(sign_offs, key=lambda one: (one.issue, one.observed.utc, one.id))),
        head=head_of(ledger),
        persons={one: person for one in people.circle if (person := people.person(one))},
    )


_UNITS: dict[tuple[int, str, str], tuple[Ledger, dict[str, Unit]]] = {}
"""The units at the head that was asked for last: an audit reads one course after another at one head."""


def _units(ledger: Ledger) -> dict[str, Unit]:
    key = _key(ledger, "")
    with _KEEPING:
        if kept := _UNITS.get(key):
            return kept[1]
    found = {unit.id: unit for unit in all_of(ledger, Unit)}
    if key == _key(ledger, ""):
        with _KEEPING:
            _UNITS.clear()
            _UNITS[key] = (ledger, found)
    return found


def head_of(ledger: Ledger) -> LedgerHead:
    """Where the ledger stands."""
    head = ledger.head()
    return LedgerHead(ledger.centre_id, head.chain, head.seq, head.hash)


def find_person(seen: CourseView, wanted: str) -> str:
    """Return a student's id by id, whole name or one unmistakable part of it.

    Raises:
        NotFoundError: nobody fits, or several do (all are named).
    """
    if wanted in seen.students:
        return wanted
    asked = unicodedata.normalize("NFC", wanted).strip().casefold()
    known = [found for s in seen.students if (found := seen.people.get(s))]
    fits = [p.id for p in known if asked in (p.name.casefold(), p.shown.casefold())]
    fits = fits or [p.id for p in known if asked and asked in p.shown.casefold()]
    if len(fits) == 1:
        return fits[0]
    names = ", ".join(seen.name(s) for s in fits or seen.students) or "nobody yet"
    if fits:
        raise NotFoundError(f"Several students fit {wanted[:60]!r}: {names}. Write more of the name.")
    raise NotFoundError(f"No student of {seen.course.title} fits {wanted[:60]!r}. There are: {names}.")


def find_skill(seen: CourseView, wanted: str) -> Skill:
    """Return a skill of the course by its id or its title.

    Raises:
        NotFoundError: none fits.
    """
    skills = seen.skills()
    exact = [s for s in skills if wanted.casefold() in (s.id, s.title.casefold())]
    fits = exact or [s for s in skills if wanted.casefold() in s.title.casefold() or wanted.casefold() in s.id]
    if len(fits) == 1:
        return fits[0]
    if fits:
        raise NotFoundError(f"Several skills fit {wanted[:60]!r}: {', '.join(s.id for s in fits)}. Write one of these.")
    raise NotFoundError(f"The course has no skill {wanted[:60]!r}. `course missing FOLDER` lists their ids.")


def standing_word(state: StandingState) -> str:
    """The word for a standing on screen and on paper."""
    return STANDING_WORDS[state]
