"""The transfer file: what a student who goes on at another centre takes along, readable by people and by a program.

It says what was seen here and certifies nobody. What counts elsewhere, the receiving lead decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from course.access import Sight
from course.answers.competency import competency_record
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.decisions import signed_word
from course.answers.filed_paper import TRANSFER_FILE, FiledLine, FiledPaper, FiledSection, as_of_label, plain_lines
from course.answers.missing import student_counts, student_hours, student_missing
from course.asker import question
from course.assessment.history import Effect
from course.assessment.sentences import standing_sentence
from course.errors import RefusedError
from course.hours.requirements import Count, Hours
from course.record.arrival_events import Amount, ArrivedAmount, ArrivedSkill
from course.record.arrival_facts import Transfer
from course.record.body import Day, Id
from course.record.frozen import Frozen
from course.record.text import Line
from course.standards.rubric import Skill, Slug
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.words import RECORD_NOTE, STANDING_WORDS, plural

CAUTION = (
    f"{RECORD_NOTE} It tells what was seen at one centre by that centre's rubrics. The receiving lead decides what "
    "counts; every skill is shown again there."
)
_STANDINGS = {state.value: word for state, word in STANDING_WORDS.items()}
HELD_BACK = "Held back by an instructor."
_MEDICAL = "Medical papers are not carried: the receiving centre sees them itself."


class CarriedSkill(ArrivedSkill):
    """Where the student stands with one skill, with its title here."""

    title: Line
    sentence: str = Field(max_length=1000)
    criticals: Amount = 0
    """How many critical errors were seen."""
    uncleared: bool = False
    """One of them has not been cleared."""

    @property
    def held_back(self) -> bool:
        """Whether an instructor there held back what the rule calls met: its sentence says so to every reader."""
        return self.sentence.endswith(HELD_BACK)


class CarriedPaper(Frozen):
    """A paper that was seen here; a medical one is not carried."""

    what: Line
    day: Day


class Carried(Frozen):
    """The part of a transfer file that a program reads; another shape of it gets another number."""

    version: Literal[1] = 1
    centre: Line
    course: Line
    requirements: Line
    unit_type: str = Field(default="", max_length=200)
    student: Line
    birth_year: Annotated[str, Field(pattern=r"^(\d{4})?$")] = ""
    from_centre: Id
    from_course: Id
    from_student: Id
    as_of: Day
    skills: Annotated[tuple[CarriedSkill, ...], Field(max_length=500)]
    amounts: Annotated[tuple[ArrivedAmount, ...], Field(max_length=50)]
    papers: Annotated[tuple[CarriedPaper, ...], Field(max_length=100)] = ()
    exam: str = Field(default="", max_length=300)


@dataclass(frozen=True)
class TransferFile(FiledPaper):
    """The paper, and what it carries for a program."""

    carried: Carried


@question(Sight.FILED_FILE)
def consent_to_transfer(ledger: Ledger, seen: CourseView, student: str) -> Transfer | None:
    """Return the student's last consent to be given on that was not taken back; None without one."""
    noted = ledger.facts("transfer", course=seen.course.id, person=student)
    own = [one for one in noted if isinstance(one, Transfer)]
    replaced = {earlier for one in own for earlier in one.replaces}
    live = [one for one in own if not one.withdrawn and one.id not in replaced]
    return max(live, key=lambda one: (one.day, one.id), default=None)


@question(Sight.FILED_FILE)
def transfer_file(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> TransferFile:
    """Return what a student takes along to another centre, as of one day.

    Raises:
        RefusedError: the student's consent is not noted, or their data were erased.
    """
    if seen.is_erased(student):
        raise RefusedError("The personal data of this person were erased: there is nothing to give on.")
    agreed = consent_to_transfer(ledger, seen, student)
    if agreed is None:
        raise RefusedError(
            f"That {seen.name(student)} agrees to be given on is not noted. Note it on Papers first, with whom it goes "
            "to. Nothing was printed."
        )
    given_to = ledger.private(agreed).get("given_to") or "another centre"
    told = carried(seen, student, as_of)
    record = competency_record(ledger, seen, student, as_of)
    return TransferFile(
        kind=TRANSFER_FILE,
        centre=seen.centre.name,
        about=told.student,
        sentence=f"{told.student} goes on at another centre. {student_missing(seen, student, as_of).counts}.",
        facts=(
            ("Given to", f"{given_to}; the student agreed on {day_words(date.fromisoformat(agreed.day))}"),
            ("Student", ", born ".join(filter(None, (told.student, told.birth_year)))),
            ("Course", f"{told.course}, {record.course_days}"),
            ("Requirements", f"{told.requirements}. {seen.profile.notice}"),
            ("Unit", told.unit_type or "no unit assigned"),
            ("As of", as_of_label(seen, as_of)),
        ),
        sections=(
            _skill_section(told),
            _amount_section(seen, student, as_of),
            _paper_section(told),
            FiledSection("Adjustments", plain_lines(record.adjustments), nothing="None was agreed."),
            FiledSection("Sign-off", plain_lines(record.sign_offs), nothing="The student was not signed off."),
        ),
        caution=CAUTION,
        head=seen.head,
        asked=(("course", seen.course.id), ("student", student), ("as_of", as_of.isoformat())),
        carried=told,
    )


@question(Sight.FILED_FILE)
def carried(seen: CourseView, student: str, as_of: date) -> Carried:
    """Return what a program reads of a student's transfer file."""
    unit_type = seen.unit_type_of(student, as_of)
    skills = [_skill(seen, student, skill, as_of) for skill in seen.skills() if applies(skill, unit_type)]
    hours, counts = student_hours(seen, student, as_of), student_counts(seen, student, as_of)
    exam = student_missing(seen, student, as_of).requirements.exam.exam
    return Carried(
        centre=seen.centre.name,
        course=seen.course.title,
        requirements=f"{seen.profile.title}, revision {seen.profile.revision}",
        unit_type=unit_type.title if unit_type else "",
        student=seen.people[student].name,
        birth_year=seen.people[student].birth_year or "",
        from_centre=seen.centre.id,
        from_course=seen.course.id,
        from_student=student,
        as_of=as_of.isoformat(),
        skills=tuple(one for one in skills if one.attempts),
        amounts=(*(_minutes(one) for one in hours), *(_times(one) for one in counts)),
        papers=_papers(seen, student, as_of),
        exam=f"{exam.mark} of {exam.of} on {day_words(date.fromisoformat(exam.day))}" if exam else "",
    )


def _skill(seen: CourseView, student: str, skill: Skill, as_of: date) -> CarriedSkill:
    standing = seen.standing(student, skill, as_of)
    counted = [one for one in standing.history if one.effect == Effect.COUNTS]
    back = signed_word(seen, student, skill, as_of) == "held back"
    return CarriedSkill(
        skill=skill.id,
        rubric=seen.adopted.hashes[skill.id],
        standing=standing.state.value,
        attempts=len(standing.history),
        counted=len(counted),
        last_day=max((one.day.isoformat() for one in standing.history), default=None),
        title=skill.title,
        sentence=f"{standing_sentence(standing, skill)}{f' {HELD_BACK}' if back else ''}",
        criticals=len(standing.criticals),
        uncleared=any(one.met_on is None for one in standing.criticals),
    )


def _minutes(one: Hours) -> ArrivedAmount:
    """Minutes of this centre alone: what came here from elsewhere is that centre's to tell."""
    return ArrivedAmount(item=f"hours:{one.kind}", amount=one.minutes)


def _times(one: Count) -> ArrivedAmount:
    return ArrivedAmount(item=f"count:{one.kind}", amount=one.have)


def _papers(seen: CourseView, student: str, as_of: date) -> tuple[CarriedPaper, ...]:
    asked: dict[Slug, str] = {one.id: one.label for one in seen.profile.prerequisites if one.proof != "medical_form"}
    proofs = [one for one in seen.person(student).proofs if one.prerequisite in asked and one.day <= as_of.isoformat()]
    return tuple(CarriedPaper(what=asked[one.prerequisite], day=one.day) for one in proofs)


def _skill_section(carried: Carried) -> FiledSection:
    lines = [
        FiledLine(
            _skill_words(one), f"{one.title}:", _STANDINGS.get(one.standing, one.standing),
            (str(one.attempts), str(one.counted)), critical=one.uncleared,
        )
        for one in carried.skills
    ]  # fmt: skip
    note = "By the rubrics of this centre. Skills that were never tried are not listed."
    return FiledSection("Skills", tuple(lines), note, "None was tried.", ("attempts", "counted"))


def _skill_words(one: CarriedSkill) -> str:
    last = f"Last tried on {day_words(date.fromisoformat(one.last_day))}." if one.last_day else ""
    critical = f"{plural(one.criticals, 'critical error')} seen{', not cleared' if one.uncleared else ', cleared'}."
    return " ".join(filter(None, (one.sentence, last, critical if one.criticals else "")))


def _amount_section(seen: CourseView, student: str, as_of: date) -> FiledSection:
    hours, counts = student_hours(seen, student, as_of), student_counts(seen, student, as_of)
    lines = [FiledLine(one.what, figures=(str(one.minutes), str(one.required or "-"))) for one in hours]
    lines += [FiledLine(one.what, figures=(str(one.have), str(one.required))) for one in counts]
    note = "Of this centre alone: what came here from elsewhere is that centre's to tell."
    return FiledSection("Minutes and counts", tuple(lines), note, "None is written down.", ("here", "asked here"))


def _paper_section(carried: Carried) -> FiledSection:
    lines = [f"{one.what}: seen on {day_words(date.fromisoformat(one.day))}." for one in carried.papers]
    lines += [f"Exam: {carried.exam}."] if carried.exam else []
    return FiledSection("Papers and exam", plain_lines(lines), _MEDICAL, "No paper was noted.")
