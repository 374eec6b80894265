"""Who can be signed off, and who is short of what by how much: one line a student."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import as_of_words, day_words
from course.answers.missing import StudentMissing, student_missing
from course.answers.sign_off import is_older, live_issues
from course.asker import question
from course.hours.gates import left_on
from course.hours.requirements import FinishWindow, finish_window
from course.words import listed, plural

_OLDER = ", on an older record"
_NAMED = 2
"""So many open skills are named in the line; more are counted, and stand below it."""


@dataclass(frozen=True)
class ReadyLine:
    """One student: ready, or short of what."""

    student: str
    name: str
    ready: bool
    words: str
    short: tuple[str, ...]
    """Everything that is short, each by how much."""
    first_skill: str
    """The first skill that is not held, else held back: where its cell opens; empty when there is none."""
    left: bool
    all_signed: bool
    """Every required standing is signed as met, or excused."""
    signed_off: str = ""
    """That an issue of the sign-off stands, and whether it is on an older record."""


@dataclass(frozen=True)
class Readiness:
    """Who of a course has all that is asked, and whose standings are signed, as of one day."""

    sentence: str
    as_of: str
    window: str
    """How long the course may still take, told from 14 days before the end on; empty before."""
    is_over: bool
    lines: tuple[ReadyLine, ...]

    @property
    def ready(self) -> tuple[ReadyLine, ...]:
        """Those who have all that is asked: their standings may still have to be signed before they are signed off."""
        return tuple(line for line in self.lines if line.ready)


@question(Sight.READY)
def readiness(seen: CourseView, as_of: date) -> Readiness:
    """Return who has all that is asked and what everybody else is short of; those who are ready come first."""
    lines = sorted(
        (_line(seen, student, as_of) for student in seen.students), key=lambda one: (not one.ready, one.left)
    )
    window = finish_window(seen.course, seen.profile, as_of)
    return Readiness(
        sentence=_sentence(lines),
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        window=_window_words(seen, window, lines),
        is_over=window.is_over,
        lines=tuple(lines),
    )


@question(Sight.COURSE)
def window_line(seen: CourseView, day: date) -> str:
    """Return how long the course may still take as of a day: told 14 days ahead, after the end, and else empty.

    Pages ask as of today: what they show may be as of the course's last day, when the end was far away.
    """
    window = finish_window(seen.course, seen.profile, day)
    return readiness(seen, day).window if window.is_near or window.is_over else ""


def _line(seen: CourseView, student: str, as_of: date) -> ReadyLine:
    state = student_missing(seen, student, as_of)
    left = left_on(seen.persons[student], seen.course.id)
    ready = not state.anything and not state.back and left is None
    signed_off = _signed_off(seen, student)
    return ReadyLine(
        student=student,
        name=state.name,
        ready=ready,
        words="; ".join(filter(None, (signed_off, _words(state, left)))),
        short=(*state.requirements.short, *_held_back(state)),
        first_skill=next(iter((*(one.skill for one in state.skills), *(skill for skill, _ in state.back))), ""),
        left=left is not None,
        all_signed=state.signed + state.excused >= state.required,
        signed_off=signed_off,
    )


def _signed_off(seen: CourseView, student: str) -> str:
    issues = live_issues(seen, student)
    if not issues:
        return ""
    older = is_older(seen, issues[-1])
    return f"signed off, issue {issues[-1].issue}{_OLDER if older else ''}"


def _words(state: StudentMissing, left: date | None) -> str:
    parts = [f"left unfinished on {day_words(left)}"] if left else []
    if state.anything or state.back:
        parts += [*_skill_words(state), *_held_back(state), *(one.short for one in state.short), *state.papers]
    else:
        parts.append(f"all that is asked; {state.signed} of {plural(state.required, 'standing')} signed")
    return "; ".join(parts)


def _skill_words(state: StudentMissing) -> list[str]:
    """Open skills by standing: a few by name with what is missing, several of one kind as a number."""
    told: list[str] = []
    for word in dict.fromkeys(skill.word for skill in state.skills):
        own = [skill for skill in state.skills if skill.word == word]
        lines = dict.fromkeys(skill.line for skill in own)
        if len(own) <= _NAMED:
            told += [f"{skill.title}: {word}{', ' + skill.line if skill.line else ''}" for skill in own]
        else:
            told.append(f"{len(own)} skills {word}{': ' + next(iter(lines)) if len(lines) == 1 else ''}".rstrip(": "))
    return told


def _held_back(state: StudentMissing) -> list[str]:
    return [f"{title}: held back by an instructor" for _, title in state.back]


def _sentence(lines: Sequence[ReadyLine]) -> str:
    if not lines:
        return "Nobody is on this course yet."
    done = [line for line in lines if line.signed_off]
    ready = [line for line in lines if line.ready and not line.signed_off]
    left = sum(line.left and not line.signed_off for line in lines)
    rest = len(lines) - len(ready) - len(done) - left
    groups = {
        "signed off": [one.name for one in done if not one.signed_off.endswith(_OLDER)],
        f"signed off{_OLDER}": [one.name for one in done if one.signed_off.endswith(_OLDER)],
        "can be signed off": [line.name for line in ready if line.all_signed],
        "with all that is asked, their standings to be signed first": [one.name for one in ready if not one.all_signed],
    }
    told = [f"{len(names)} {words}: {listed(names)}" for words, names in groups.items() if names]
    told += [f"{rest} not yet"] if rest and told else []
    told = told or ["Nobody can be signed off yet"]
    return f"{'; '.join([*told, *([f'{left} left unfinished'] if left else [])])}."


def _window_words(seen: CourseView, window: FinishWindow, lines: Sequence[ReadyLine]) -> str:
    """Told only while somebody is not ready: a course that is done has nothing to finish."""
    if all(line.ready or line.left for line in lines):
        return ""
    if window.is_over:
        counted = "later attempts still count by these requirements" if seen.profile.counts_after_window else (
            "later attempts are kept and do not count by these requirements"
        )  # fmt: skip
        return f"The days to finish in ended on {day_words(window.last)}: {counted}."
    if window.is_near:
        left = plural(window.days_left, "day")
        return f"{left} left to finish in: {day_words(window.last)} is the last day that counts."
    return ""
