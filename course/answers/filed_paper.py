"""What a paper for the file says: facts, then sections of lines. Each kind is one answer that fills this one form."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from course.answers.course_view import CourseView
from course.answers.days import as_of_words, day_words
from course.answers.record_answer import LedgerHead
from course.moments import training_day

COURSE_FILE = "Course file"
STATEMENT = "Statement of what was done"
UNIT_HISTORY = "Unit history"
BENCH_SHEET = "Bench sheet"
CANDIDATE_FILE = "Candidate's file"
TRANSFER_FILE = "Transfer file"


@dataclass(frozen=True)
class FiledLine:
    """One line. `strong` begins it; `label` stands left of it in our own words, `figures` right of it in columns."""

    text: str
    strong: str = ""
    label: str = ""
    figures: tuple[str, ...] = ()
    critical: bool = False
    """Marked with a bar: what somebody has to look at."""


@dataclass(frozen=True)
class FiledSection:
    """A heading with its lines. Without lines it says `nothing`."""

    title: str
    lines: tuple[FiledLine, ...]
    note: str = ""
    nothing: str = ""
    captions: tuple[str, ...] = ()
    """Over the figures, in our own words."""


@dataclass(frozen=True)
class FiledPaper:
    """One paper for the file, as of one day."""

    kind: str
    centre: str
    about: str
    sentence: str
    facts: tuple[tuple[str, str], ...]
    sections: tuple[FiledSection, ...]
    caution: str
    head: LedgerHead
    asked: tuple[tuple[str, str], ...]
    """What it answers, so that the same can be asked again."""


def as_of_label(seen: CourseView, as_of: date) -> str:
    """Return the day that a paper is as of, in words that do not depend on when it is printed."""
    return as_of_words(as_of, seen.last_day, seen.today()) if as_of == seen.last_day else day_words(as_of)


def plain_lines(texts: Iterable[str]) -> tuple[FiledLine, ...]:
    """Return sentences as lines."""
    return tuple(FiledLine(text) for text in texts)


def sessions_until(seen: CourseView, as_of: date) -> tuple[str, ...]:
    """Return the ids of a course's sessions up to a training day, in order."""
    return tuple(one.id for one in seen.sessions.values() if training_day(one.start) <= as_of)
