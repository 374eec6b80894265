"""The statement for a student who leaves: what was done, from when to when, and what stands open. It judges nobody."""

from __future__ import annotations

from datetime import date

from course.access import Sight
from course.answers.competency import competency_record
from course.answers.course_file import oxygen_section
from course.answers.course_view import CourseView
from course.answers.days import day_words, days_words
from course.answers.filed_paper import (
    STATEMENT,
    FiledLine,
    FiledPaper,
    FiledSection,
    as_of_label,
    plain_lines,
    sessions_until,
)
from course.answers.hours import hours
from course.answers.missing import student_missing
from course.answers.record_answer import CompetencyRecord
from course.asker import question
from course.assessment.attempts import SeenAttempt
from course.hours.gates import left_on
from course.moments import training_day
from course.storage.ledger import Ledger
from course.words import RECORD_NOTE, SETTING_WORDS, StandingState, plural

CAUTION = f"{RECORD_NOTE} It says what was done on these days, not that anybody may dive on it."


@question(Sight.FILED_FILE)
def statement(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> FiledPaper:
    """Return what one student did on a course up to a day, whether they left it or are still on it."""
    record = competency_record(ledger, seen, student, as_of)
    return FiledPaper(
        kind=STATEMENT,
        centre=record.centre,
        about=record.student,
        sentence=_sentence(seen, record, as_of),
        facts=(
            ("Course", f"{record.course}, {record.course_days}"),
            ("Requirements", f"{record.requirements}. {record.requirements_notice}"),
            ("Unit", " · ".join(filter(None, (record.unit, record.unit_type)))),
            ("Finish until", f"{day_words(seen.window_end)}; taken up again up to then, what was done counts on."),
            ("As of", as_of_label(seen, as_of)),
        ),
        sections=(
            _there(seen, student, as_of),
            _minutes(seen, student, as_of),
            oxygen_section(seen, as_of, [student]),
            _skills(seen, record, as_of, held=True),
            _skills(seen, record, as_of, held=False),
            _open(seen, student, as_of),
            FiledSection("Adjustments", plain_lines(record.adjustments), nothing="None was agreed."),
            *((FiledSection("Sign-off", plain_lines(record.sign_offs)),) if record.sign_offs else ()),
        ),
        caution=CAUTION,
        head=record.head,
        asked=(("course", seen.course.id), ("student", student), ("as_of", as_of.isoformat())),
    )


def _sentence(seen: CourseView, record: CompetencyRecord, as_of: date) -> str:
    left = left_on(seen.person(record.student_id), seen.course.id)
    gone = left is not None and left <= as_of
    there = "was on the course to its last day" if as_of >= seen.last_day else "is still on the course"
    where = f"left the course unfinished on {day_words(left)}" if left and gone else there
    return f"{record.student} {where}. {student_missing(seen, record.student_id, as_of).counts}."


def _there(seen: CourseView, student: str, as_of: date) -> FiledSection:
    lines = []
    for session in (seen.sessions[one] for one in sessions_until(seen, as_of)):
        if student in {*(span.person for span in session.spans), *(water.person for water in session.water)}:
            where = ", ".join(filter(None, (SETTING_WORDS[session.setting], session.place)))
            lines.append(FiledLine(where, session.title, day_words(training_day(session.start))))
    return FiledSection("Sessions taken part in", tuple(lines), nothing="No time of theirs is written down.")


def _minutes(seen: CourseView, student: str, as_of: date) -> FiledSection:
    told = hours(seen, as_of, [student])
    lines = [
        FiledLine(kind, figures=(str(session), str(loop), str(bailout)))
        for one in told.totals
        for kind, session, loop, bailout in one.kinds
    ]
    lines += [
        FiledLine("", "Together:", figures=(str(one.session), str(one.loop), str(one.bailout))) for one in told.totals
    ]
    note = " ".join((told.cautions[0], *told.notes))
    return FiledSection("Minutes", tuple(lines), note, "No minutes are written down.", ("session", "loop", "bailout"))


def _skills(seen: CourseView, record: CompetencyRecord, as_of: date, *, held: bool) -> FiledSection:
    """Skills that are held with who signed them, or those that were begun, each with the days it was tried on."""
    lines = []
    for one in (line for phase in record.phases for line in phase.skills):
        tried = seen.seen(record.student_id, seen.adopted.skill(one.skill))
        is_held = one.state in (StandingState.MET, StandingState.MET_WATCH)
        if is_held != held or not tried:
            continue
        told = [one.sentence.rstrip("."), _tries(tried, as_of), one.decision.sentence if one.decision else ""]
        told += [f"Critical error on {seen_one.day}: {seen_one.cleared}" for seen_one in one.criticals]
        text = ". ".join(part.rstrip(".") for part in told if part)
        lines.append(FiledLine(f"{text}.", f"{one.title}:", critical=bool(one.criticals and not is_held)))
    if held:
        return FiledSection("Skills held", tuple(lines), nothing="None is held.")
    return FiledSection("Skills begun and not held", tuple(lines), nothing="None stands open that was begun.")


def _tries(tried: tuple[SeenAttempt, ...], as_of: date) -> str:
    days = sorted({one.day for one in tried if one.day <= as_of})
    count = sum(one.day <= as_of for one in tried)
    if not days:
        return ""
    when = days_words(days[0], days[-1]) if len(days) > 1 else day_words(days[0])
    return f"{plural(count, 'attempt')}, {when}"


def _open(seen: CourseView, student: str, as_of: date) -> FiledSection:
    state = student_missing(seen, student, as_of)
    short = [one.short for one in state.short]
    never = sum(not seen.seen(student, seen.adopted.skill(one.skill)) for one in state.skills)
    told = [*short, *([f"{plural(never, 'required skill')} never tried"] if never else []), *state.papers]
    lines = plain_lines(f"{one[:1].upper()}{one[1:].rstrip('.')}." for one in told)
    return FiledSection("What stands open", lines, nothing="Nothing but what is told above.")
