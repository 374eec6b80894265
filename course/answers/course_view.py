"""One course as it stands now, read once and kept until the ledger grows: what every other answer starts from."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from course.answers.record_answer import LedgerHead
from course.assessment.attempts import SeenAttempt
from course.assessment.standing import Standing, standing
from course.errors import NotFoundError
from course.moments import day_after, now, training_day, zone_named
from course.record.facts import Attempt, Centre, Course, Decision, Join, Person, Session, Unit
from course.record.projection import join_attempts
from course.standards.profile import Profile
from course.standards.rubric import Skill
from course.standards.units import UnitType, applies
from course.storage.ledger import Ledger
from course.storage.lookup import Adopted, adopted, all_of, needed
from course.words import STANDING_WORDS, Role, StandingState


@dataclass(frozen=True)
class Known:
    """A person as shown: two of one name are told apart by a tag."""

    id: str
    name: str
    tag: str
    birth_year: str | None
    roles: tuple[Role, ...]

    @property
    def shown(self) -> str:
        """The name, with its tag where another person has the same."""
        return f"{self.name} ({self.tag})" if self.tag else self.name


@dataclass(frozen=True)
class CourseView:
    """Everything of one course, as of the ledger's head."""

    centre: Centre
    course: Course
    adopted: Adopted
    profile: Profile
    people: dict[str, Known]
    units: dict[str, Unit]
    sessions: dict[str, Session]
    attempts: tuple[Attempt, ...]
    decisions: tuple[Decision, ...]
    check_outs: dict[str, tuple[tuple[str, str], ...]]
    head: LedgerHead

    @property
    def students(self) -> tuple[str, ...]:
        """Ids of the students, in the order in which they were enrolled."""
        return self.course.people(Role.STUDENT)

    @cached_property
    def names(self) -> dict[str, str]:
        """Names of everybody as shown, by id."""
        return {person: known.shown for person, known in self.people.items()}

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
                if attempt.session in self.sessions:
                    found.setdefault((student, attempt.skill), []).append(self._seen(attempt))
        return {key: tuple(seen) for key, seen in found.items()}

    def _seen(self, attempt: Attempt) -> SeenAttempt:
        session = self.sessions[attempt.session]
        day = training_day(session.start)
        observers = {sheet.observer for sheet in attempt.sheets}
        lapsed = frozenset(o for o in observers if self.is_lapsed(o, attempt.unit_type, day))
        unit_type = self.adopted.standards.unit_types.get(attempt.unit_type or "")
        features = unit_type.feature_set if unit_type else None
        return SeenAttempt(attempt, day, session.start.moment, lapsed, features)

    def is_lapsed(self, observer: str, unit_type: str | None, day: date) -> bool:
        """Whether an instructor's last check on a unit type was too long ago on that day.

        Somebody without any check entered for the type counts as current; the People page says so.
        """
        checks = [date.fromisoformat(d) for t, d in self.check_outs.get(observer, ()) if t == unit_type]
        good = [c for c in checks if c <= day <= day_after(c, self.profile.instructor_currency_days)]
        return bool(checks) and not good

    def unit_type_of(self, student: str, as_of: date) -> UnitType | None:
        """The type of the unit that a student dives on a day."""
        assigned = self.course.assignment(student, as_of.isoformat())
        return self.adopted.standards.unit_types.get(assigned.unit_type) if assigned else None

    def unit_of(self, student: str, as_of: date) -> Unit | None:
        """The unit that a student dives on a day."""
        assigned = self.course.assignment(student, as_of.isoformat())
        return self.units.get(assigned.unit) if assigned else None

    def skills(self) -> tuple[Skill, ...]:
        """Skills that the course requires or offers, in the order of their phases."""
        wanted = {*self.profile.required_skills, *self.profile.optional_skills}
        return tuple(skill for skill in self.adopted.standards.skills.values() if skill.id in wanted)

    def is_required(self, skill: Skill) -> bool:
        """Whether the course requires a skill."""
        return skill.id in self.profile.required_skills

    def seen(self, student: str, skill: Skill) -> tuple[SeenAttempt, ...]:
        """A student's attempts at a skill by the rubric in force; by an earlier one see `earlier_rubric`."""
        rubric = self.adopted.hashes[skill.id]
        return tuple(s for s in self.by_student_and_skill.get((student, skill.id), ()) if s.attempt.rubric == rubric)

    def earlier_rubric(self, student: str, skill: Skill) -> tuple[SeenAttempt, ...]:
        """Attempts marked by another form of the skill: kept and shown, never counted."""
        rubric = self.adopted.hashes[skill.id]
        return tuple(s for s in self.by_student_and_skill.get((student, skill.id), ()) if s.attempt.rubric != rubric)

    def standing(self, student: str, skill: Skill, as_of: date) -> Standing:
        """Where a student stands with a skill on a day."""
        unit_type = self.unit_type_of(student, as_of)
        return standing(
            self.seen(student, skill),
            skill,
            unit_type.id if unit_type else None,
            unit_type.feature_set if unit_type else frozenset(),
            as_of,
            applies=applies(skill, unit_type),
        )

    def decision(self, student: str, skill: str) -> Decision | None:
        """The decision on a standing that holds: the latest that no other takes the place of."""
        own = [d for d in self.decisions if d.student == student and d.skill == skill]
        replaced = {earlier for d in own for earlier in d.replaces}
        return max((d for d in own if d.id not in replaced), key=lambda d: d.id, default=None)

    def name(self, person: str) -> str:
        """A person's name as shown."""
        return self.people[person].shown if person in self.people else "somebody from elsewhere"

    def today(self) -> date:
        """The day it is now where the course is."""
        return now().astimezone(zone_named(self.course.zone)).date()


_KEPT: dict[tuple[str, str, str], CourseView] = {}


def view(ledger: Ledger, course: str) -> CourseView:
    """Read a course. The same ledger at the same head gives the same object.

    Raises:
        NotFoundError: there is no such course.
    """
    heads = "|".join(head.hash for head in ledger.heads())
    key = (str(ledger.folder), course, heads)
    if key not in _KEPT:
        _KEPT.clear()  # one course at one head is what a page asks for, again and again
        _KEPT[key] = _read(ledger, course)
    return _KEPT[key]


def _read(ledger: Ledger, course_id: str) -> CourseView:
    course = needed(ledger, Course, course_id, "course")
    standards = adopted(ledger, course.adoption)
    people = all_of(ledger, Person)
    attempts = join_attempts(all_of(ledger, Attempt, course=course_id), all_of(ledger, Join, course=course_id))
    return CourseView(
        centre=needed(ledger, Centre, ledger.centre_id, "centre"),
        course=course,
        adopted=standards,
        profile=standards.standards.profile(course.profile, course.revision),
        people=known_people(ledger, people),
        units={unit.id: unit for unit in all_of(ledger, Unit)},
        sessions={s.id: s for s in sorted(all_of(ledger, Session, course=course_id), key=lambda s: s.start.utc)},
        attempts=tuple(attempts),
        decisions=tuple(all_of(ledger, Decision, course=course_id)),
        check_outs={p.id: tuple((c.unit_type, c.day) for c in p.check_outs) for p in people},
        head=head_of(ledger),
    )


def head_of(ledger: Ledger) -> LedgerHead:
    """Where the ledger stands."""
    head = ledger.head()
    return LedgerHead(ledger.centre_id, head.chain, head.seq, head.hash)


def known_people(ledger: Ledger, people: list[Person]) -> dict[str, Known]:
    """Open the names of people; those of the same name get a tag of birth year or id."""
    opened = {person.id: ledger.private(person) for person in people}
    names = {p.id: str(opened[p.id].get("name") or f"erased person {p.id[-6:]}") for p in people}
    often = Counter(name.casefold() for name in names.values())
    known = {}
    for person in people:
        name, born = names[person.id], opened[person.id].get("birth_date")
        year = str(born)[:4] if born else None
        alike = often[name.casefold()] > 1
        known[person.id] = Known(
            id=person.id,
            name=name,
            tag=(f"born {year}" if year else f"no. {person.id[-4:]}") if alike else "",
            birth_year=year,
            roles=person.roles,
        )
    return known


def find_person(seen: CourseView, wanted: str) -> str:
    """Return a student's id by id, whole name or one unmistakable part of it.

    Raises:
        NotFoundError: nobody fits, or several do (all are named).
    """
    if wanted in seen.students:
        return wanted
    fits = [s for s in seen.students if seen.people[s].name.casefold() == wanted.casefold()]
    fits = fits or [s for s in seen.students if wanted.casefold() in seen.people[s].shown.casefold()]
    if len(fits) == 1:
        return fits[0]
    names = ", ".join(seen.name(s) for s in fits or seen.students) or "nobody yet"
    if fits:
        raise NotFoundError(f"Several students fit {wanted!r}: {names}. Write more of the name.")
    raise NotFoundError(f"No student of {seen.course.title} fits {wanted!r}. There are: {names}.")


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
        raise NotFoundError(f"Several skills fit {wanted!r}: {', '.join(s.id for s in fits)}. Write one of these.")
    raise NotFoundError(f"The course has no skill {wanted!r}. `course missing FOLDER` lists their ids.")


def standing_word(state: StandingState) -> str:
    """The word for a standing on screen and on paper."""
    return STANDING_WORDS[state]
