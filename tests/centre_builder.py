"""An invented centre made through actions alone, and short ways to mark attempts in it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from pathlib import Path
from typing import Any

from course.actions import attempts as trying
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions import gate_papers
from course.actions.attempts import SheetContent, Value
from course.answers.course_view import CourseView, view
from course.moments import Observed, from_wall_clock, new_id, observed_at
from course.places import RUBRICS
from course.record.events import MarkGiven
from course.record.facts import Attempt, Course
from course.standards.rubric import Skill
from course.standards.standards import Standards
from course.storage.ledger import Ledger
from course.storage.lookup import adopted
from course.storage.rubric_files import read_folder
from course.words import Mark, Role

ZONE = "Atlantic/Azores"
ODD_NAME = "Zoë <i>O'Brien-Ünal</i> =1+1"
FIRST_DAY, LAST_DAY = date(2026, 10, 20), date(2026, 10, 25)
POOL_SKILL, CRITICAL_ERROR = "mp-close-out", ("co-out", "co-open-out")


@cache
def shipped_standards() -> Standards:
    """The rubric files that ship."""
    return read_folder(RUBRICS)


def seen_at(day: int, hour: int = 14, minute: int = 0) -> Observed:
    """A minute in October 2026 on the clock of the Azores."""
    return observed_at(
        from_wall_clock(datetime.fromisoformat(f"2026-10-{day:02}T{hour:02}:{minute:02}"), ZONE), ZONE, "minute"
    )


@dataclass
class Centre:
    """A centre and the ids of what is in it."""

    ledger: Ledger
    lead: str
    second: str
    assistant: str
    candidate: str
    amaru: str
    zoe: str
    unit_a: str
    unit_b: str
    adoption: str
    course: str
    sessions: dict[str, str]

    def view(self) -> CourseView:
        """The course as it stands."""
        return view(self.ledger, self.course)

    def skill(self, skill: str = POOL_SKILL) -> Skill:
        """A skill of the adopted rubrics."""
        return adopted(self.ledger, self.adoption).skill(skill)

    def attempt(self, attempt: str) -> Attempt:
        """An attempt as it stands."""
        fact = self.ledger.fact("attempt", attempt)
        assert isinstance(fact, Attempt)
        return fact

    def count(self) -> int:
        """How many events the ledger has."""
        return int(self.ledger.count_events())

    def open(self, session: str = "pool-22", student: str = "", skill: str = POOL_SKILL, by: str = "") -> Any:
        """Open an attempt on the pad."""
        return trying.open_attempt(
            self.ledger, by or self.lead, course=self.course, session=self.sessions[session],
            student=student or self.amaru, skill=skill, observed=seen_at(int(session[-2:])),
        )  # fmt: skip

    def enter(
        self,
        session: str = "pool-22",
        *marks: MarkGiven,
        student: str = "",
        skill: str = POOL_SKILL,
        by: str = "",
        others: tuple[tuple[str, SheetContent], ...] = (),
        **more: Any,
    ) -> str:
        """Enter a closed attempt; steps without a mark are done, and limits are kept."""
        observer = by or self.lead
        return trying.enter_attempt(
            self.ledger, observer, course=self.course, session=self.sessions[session], student=student or self.amaru,
            skill=skill, observed=more.pop("observed", seen_at(int(session[-2:]))),
            sheets=[(observer, sheet_of(self.skill(skill), *marks)), *others], **more,
        )  # fmt: skip

    def hold(self, student: str = "", skill: str = POOL_SKILL, **more: Any) -> list[str]:
        """Enter what the rule asks for: five clean in a row over three days, dry, in the pool and in open water."""
        sessions = ("dry-21", "pool-22", "pool-23", "open-24", "open-25")
        return [self.enter(session, student=student, skill=skill, **more) for session in sessions]


def note_papers(ledger: Ledger, actor: str, course: str, *people: str, day: str = "2026-10-01") -> None:
    """Every paper that a course asks for was seen of these people, so that no gate but that of age can be shut."""
    fact = ledger.fact("course", course)
    assert isinstance(fact, Course)
    profile = adopted(ledger, fact.adoption).standards.profile(fact.profile, fact.revision)
    for person in people:
        for asked in profile.prerequisites:
            cleared = True if asked.proof == "medical_form" else None
            gate_papers.note_proof(ledger, actor, course, person, asked.id, day, cleared=cleared)


def sheet_of(skill: Skill, *marks: MarkGiven) -> SheetContent:
    """A whole sheet: every step done with its limit's own value, save for the marks given."""
    given = {mark.step for mark in marks}
    done = tuple(MarkGiven(step=step.id, mark=Mark.DONE) for step in skill.steps if step.id not in given)
    values = tuple(
        Value(step.id, step.limit.at_least or step.limit.at_most or "0") for step in skill.steps if step.limit
    )
    return SheetContent(marks=(*done, *marks), values=values)


def critical_mark() -> MarkGiven:
    """The mouthpiece came out open."""
    return MarkGiven(step=CRITICAL_ERROR[0], mark=Mark.ERROR, errors=(CRITICAL_ERROR[1],))


def tap(centre: Centre, opened: Any, kind: str, body: dict[str, Any] | None = None, **more: Any) -> dict[str, Any]:
    """A tap as a pad sends it, ten minutes into the session unless told otherwise."""
    attempt = centre.attempt(opened.attempt)
    plain = {
        "id": new_id(), "attempt": opened.attempt, "student": attempt.student, "sheet": opened.sheet, "kind": kind,
        "body": body or {}, "tapped_at": "2026-10-22T15:10:00.000Z",
    }  # fmt: skip
    return plain | more


@contextmanager
def build_centre(folder: Path, standards: Standards, *, database: str | None = None) -> Iterator[Centre]:
    """Make the centre in a folder, its ledger there or in a database; it is closed in the end."""
    named = {"name": "Kelpwater", "lead_name": "Tamsin Okoro-Vale", "zone": ZONE}
    with founding.make_centre(folder, **named, database=database) as ledger:
        lead = next(person.id for person in ledger.facts("person"))
        adoption = founding.adopt_standards(ledger, lead, standards)

        def person(name: str, role: Role, born: str | None = None) -> str:
            return founding.add_person(ledger, lead, name=name, roles=[role], birth_date=born)

        second = person("Bruno Ashkenar", Role.INSTRUCTOR, "1979-02-17")
        assistant, candidate = person("Lien Ito", Role.ASSISTANT), person("Jorun Vask", Role.CANDIDATE)
        amaru, zoe = person("Amaru Tendelle", Role.STUDENT, "1998-02-03"), person(ODD_NAME, Role.STUDENT, "2001-07-30")
        units = [founding.add_unit(ledger, lead, label=f"{t}-05", unit_type=f"type-{t.lower()}") for t in "AB"]
        course = planning.make_course(
            ledger, lead, title="KW-1026", zone=ZONE, adoption=adoption, profile="ex-first-unit", revision="r1",
            first_day=FIRST_DAY.isoformat(), last_day=LAST_DAY.isoformat(),
        )  # fmt: skip
        note_papers(ledger, lead, course, amaru, zoe)
        roles = {second: Role.INSTRUCTOR, assistant: Role.ASSISTANT, candidate: Role.CANDIDATE}
        for who, role in (roles | dict.fromkeys((amaru, zoe), Role.STUDENT)).items():
            planning.enrol(ledger, lead, course, who, role)
        for who in (amaru, zoe):
            planning.assign_unit(ledger, lead, course, who, units[0], FIRST_DAY.isoformat())
        settings = {"dry": "dry", "pool": "pool", "open": "open_water"}
        keys = ("dry-21", "pool-22", "pool-23", "open-24", "open-25")
        sessions = {
            key: planning.plan_session(
                ledger, lead, course=course, title=key.replace("-", " of the ").title(), setting=settings[key[:-3]],
                start=seen_at(int(key[-2:]), 13, 30), end=seen_at(int(key[-2:]), 16, 20),
            )
            for key in keys
        }  # fmt: skip
        yield Centre(ledger, lead, second, assistant, candidate, amaru, zoe, *units, adoption, course, sessions)
