"""A reason as a student's own paper tells it: without the names of other students."""

from __future__ import annotations

import re
import unicodedata

from course.answers.course_view import CourseView
from course.words import Role

ANOTHER = "another student"
_SHORTEST_NAME = 3


def without_names(seen: CourseView, student: str, why: str, movers: set[str]) -> str:
    """A reason without the names of other students; of those who had this attempt, without parts of the name too."""
    own = _parts(seen.name(student))
    if not why:
        return why
    names = set()
    for person, known in seen.people.everybody().items():
        if person != student and (person in seen.students or Role.STUDENT in known.roles):
            names |= {_plain(known.name)} | (_parts(known.name) - own if person in movers else set())
    if not names:
        return why
    longest_first = "|".join(re.escape(name) for name in sorted(names, key=lambda name: (-len(name), name)))
    text, told, done = unicodedata.normalize("NFC", why), "", 0
    for found in re.finditer(rf"(?<!\w)(?:{longest_first})(?!\w)", _plain(why)):
        told += f"{text[done : found.start()]}[{ANOTHER}]"
        done = found.end()
    return told + text[done:]


def _parts(name: str) -> set[str]:
    return {part for part in re.findall(r"\w+", _plain(name)) if len(part) >= _SHORTEST_NAME}


def _plain(text: str) -> str:
    """The text in small letters without accents, letter for letter, so that places in it are those in the text."""
    return "".join(unicodedata.normalize("NFD", one)[0].casefold()[0] for one in unicodedata.normalize("NFC", text))
