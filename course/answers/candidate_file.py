"""A candidate's file: where they were, what their practice sheets hit and missed, which faults they found."""

from __future__ import annotations

import unicodedata
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import day_words, days_words
from course.answers.faults import counts
from course.answers.filed_paper import (
    CANDIDATE_FILE,
    FiledLine,
    FiledPaper,
    FiledSection,
    as_of_label,
    plain_lines,
    sessions_until,
)
from course.answers.hours import hours
from course.answers.observers import practice_of
from course.asker import question
from course.errors import NotFoundError
from course.moments import training_day
from course.storage.ledger import Ledger
from course.words import RECORD_NOTE, SETTING_WORDS, SPAN_ROLE_WORDS, Role, listed

CAUTION = f"{RECORD_NOTE} For the candidate and their trainer. Practice sheets never count for a student."
PRACTICE_NOTE = (
    "Against the evaluating sheets of the same attempts. Where the two differ it is not said who was right; few sheets "
    "say little."
)
_CAPTIONS = ("compared", "hit", "missed", "not seen", "invented")


@question(Sight.FILED_FILE)
def candidate_file(ledger: Ledger, seen: CourseView, candidate: str, as_of: date) -> FiledPaper:
    """Return what is known of one candidate on a course, as of a day.

    Raises:
        NotFoundError: they are no candidate on this course.
    """
    if candidate not in seen.course.people(Role.CANDIDATE):
        raise NotFoundError("This person is no candidate on this course. Nothing was printed.")
    found = practice_of(seen, candidate, as_of)
    return FiledPaper(
        kind=CANDIDATE_FILE,
        centre=seen.centre.name,
        about=seen.name(candidate),
        sentence=found.words if found else f"{seen.name(candidate)} has written no practice sheet yet.",
        facts=(
            ("Course", f"{seen.course.title}, {days_words(date.fromisoformat(seen.course.first_day), seen.last_day)}"),
            ("Unit", seen.unit_words(candidate, as_of) or "no unit assigned"),
            ("As of", as_of_label(seen, as_of)),
        ),
        sections=(
            _there(seen, candidate, as_of),
            _minutes(seen, candidate, as_of),
            _practice(seen, candidate, as_of),
            _faults(ledger, seen, candidate),
            _checks(seen, candidate, as_of),
        ),
        caution=CAUTION,
        head=seen.head,
        asked=(("course", seen.course.id), ("student", candidate), ("as_of", as_of.isoformat())),
    )


@question(Sight.FILED_FILE)
def find_candidate(seen: CourseView, wanted: str) -> str:
    """Return a candidate's id by id or an unmistakable part of the name.

    Raises:
        NotFoundError: nobody fits, or several do.
    """
    known = seen.course.people(Role.CANDIDATE)
    asked = unicodedata.normalize("NFC", wanted).strip().casefold()
    fits = [one for one in known if asked and (one == wanted or asked in seen.name(one).casefold())]
    if len(fits) != 1:
        names = listed([seen.name(one) for one in known]) or "nobody"
        raise NotFoundError(f"No one candidate is called {wanted!r}. On this course: {names}. Nothing was printed.")
    return fits[0]


def _there(seen: CourseView, candidate: str, as_of: date) -> FiledSection:
    lines = []
    for session in (seen.sessions[one] for one in sessions_until(seen, as_of)):
        roles = dict.fromkeys(SPAN_ROLE_WORDS[span.role] for span in session.spans if span.person == candidate)
        if roles:
            where = ", ".join(filter(None, (SETTING_WORDS[session.setting], session.place, listed(list(roles)))))
            lines.append(FiledLine(where, session.title, day_words(training_day(session.start))))
    return FiledSection("Sessions they were in", tuple(lines), nothing="No time of theirs is written down.")


def _minutes(seen: CourseView, candidate: str, as_of: date) -> FiledSection:
    told = hours(seen, as_of, [candidate])
    lines = [FiledLine(one.role, figures=(str(one.session), str(one.loop), str(one.bailout))) for one in told.totals]
    note = " ".join((told.cautions[0], *told.notes))
    return FiledSection("Minutes", tuple(lines), note, "No minutes are written down.", ("session", "loop", "bailout"))


def _practice(seen: CourseView, candidate: str, as_of: date) -> FiledSection:
    found = practice_of(seen, candidate, as_of)
    lines = [
        FiledLine(
            one.step,
            f"{one.title}:",
            figures=tuple(str(n) for n in (one.compared, one.hit, one.missed, one.unseen, one.invented)),
            critical=one.can_be_critical and one.missed > 0,
        )
        for one in (found.lines if found else ())
        if one.anything
    ]
    nothing = "There was no error to hit, and none was invented." if found else "No practice sheet is written."
    return FiledSection("Practice sheets, step by step", tuple(lines), PRACTICE_NOTE, nothing, _CAPTIONS)


def _faults(ledger: Ledger, seen: CourseView, candidate: str) -> FiledSection:
    own = [one.count.sentence for one in counts(ledger, seen) if one.person == candidate]
    lines = plain_lines(f"{one[:1].upper()}{one[1:].rstrip('.')}." for one in own)
    return FiledSection("Faults set for training", lines, nothing="None was set for them.")


def _checks(seen: CourseView, candidate: str, as_of: date) -> FiledSection:
    types = seen.adopted.standards.unit_types
    lines = []
    for one in seen.person(candidate).check_outs:
        if one.day <= as_of.isoformat():
            title = types[one.unit_type].title if one.unit_type in types else one.unit_type
            lines.append(FiledLine(title, label=day_words(date.fromisoformat(one.day))))
    return FiledSection("Own checks on unit types", tuple(lines), nothing="None is entered.")
