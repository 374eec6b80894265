"""YAML 1.2 as plain data, with the line and column of everything, and no more of the language than rubrics need.

Read straight from the parser's events, so that nothing is resolved, built or run that a rubric does not need: no
anchors, aliases, tags or merge keys, no nesting without end. Plain words get the types of the core schema (YAML
1.2.2, section 10.3.2): `yes` and `no` are texts. Days and numbers with a fraction want quotes, since readers of YAML
differ on what they make of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NoReturn, Self

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, StreamMark
from ruamel.yaml.events import (
    AliasEvent,
    CollectionStartEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.reader import ReaderError

from course.standards import plain
from course.standards.plain import DEEPEST, Flaw

MOST_EVENTS = 200_000
"""Parts of one file, keys and values counted singly."""

Place = tuple[int, int]
"""Line and column, both from 1."""

_DECIMAL = re.compile(r"[-+]?[0-9]{1,20}")
_BASED = re.compile(r"0(?:o([0-7]{1,20})|x([0-9a-fA-F]{1,20}))")
_FRACTION = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_DAY = re.compile(r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?:[Tt ].*)?")
_WORDS = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL"), None),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
}

_WRITE_OUT = "Rubric files say everything where it stands: write it out."
_LOOK = "Look here and at the line above: indentation, colons, quotes and brackets."
_SAYINGS = (
    (r"'\\t'|tab character", "A tab stands here.", "Indent with blanks only."),
    (
        r"mapping values are not allowed|got ':'",
        "A colon stands where no key can be.",
        "Put a text with a colon in quotes.",
    ),
    (r"expected ':'", "This line has no key with a colon.", "Write a colon and a blank after the key."),
    (r"quoted scalar", "A quote was opened and is not closed.", "Close it with the same sign."),
    (
        r"flow sequence",
        "A list in brackets is not closed, or lacks a comma.",
        "Put commas between its items and ] at its end.",
    ),
    (
        r"flow mapping",
        "A block in braces is not closed, or lacks a comma.",
        "Put commas between its keys and } at its end.",
    ),
    (
        r"<block end>",
        "This does not belong where it stands.",
        "Indent the line as far as its neighbours, or put the text in quotes.",
    ),
    (r"cannot start any token", "A text begins with a sign that has a meaning of its own.", "Put the text in quotes."),
    (r"alias|anchor", "An alias or anchor is written wrongly.", "Rubric files have neither: put the text in quotes."),
    (r"<document start>", "A second document begins here.", "Keep one document in each file."),
)
_ESCAPE = re.compile(r"escape|hexadecimal numbers")


class EndOfReading(Exception):  # noqa: N818 - told as a problem, never raised to a person
    """The reading of one file cannot go on: where, what is wrong and what to do. Line 0: the whole file."""

    def __init__(self, line: int, column: int, wrong: str, remedy: str) -> None:
        super().__init__(wrong)
        self.line, self.column, self.wrong, self.remedy = line, column, wrong, remedy

    @classmethod
    def after(cls, before: str, wrong: str, remedy: str) -> Self:
        """Return the end that comes right after a text."""
        return cls(before.count("\n") + 1, len(before) - before.rfind("\n"), wrong, remedy)


class YamlText:
    """One file's text as read: its plain data, where everything stands, and what may not stand in it.

    Attributes:
        content: the plain data; None where `end` is set.
        flaws: what may not stand in a rubric file; reading went on behind it.
        end: why reading ended before the end of the file, if it did.
    """

    def __init__(self, name: str, text: str) -> None:
        self.content: object = None
        self.flaws: list[Flaw] = []
        self.end: EndOfReading | None = None
        self._name = name
        self._values: dict[plain.Path, Place] = {}
        self._keys: dict[plain.Path, Place] = {}
        self._places: dict[Flaw, Place] = {}
        self._events = _counted(_events(text))
        try:
            self.content = self._document()
        except EndOfReading as end:
            self.end = end

    def place_of(self, flaw: Flaw) -> Place:
        """Return where a flaw of this file stands: its own place, else its key or value, else the block around it."""
        if flaw in self._places:
            return self._places[flaw]
        if flaw.on_key and flaw.path in self._keys:
            return self._keys[flaw.path]
        around = (flaw.path[:length] for length in range(len(flaw.path), -1, -1))
        return next((self._values[path] for path in around if path in self._values), (1, 1))

    def _note(self, event: Event, path: plain.Path, wrong: str, remedy: str, *, on_key: bool = False) -> None:
        flaw = Flaw(self._name, path, wrong, remedy, on_key)
        self.flaws.append(flaw)
        self._places[flaw] = _place(event.start_mark)

    def _document(self) -> object:
        """Read the one document of the file."""
        documents = 0
        content: object = None
        for event in self._events:
            if isinstance(event, DocumentStartEvent):
                documents += 1
                if documents > 1:
                    _end(event, "A second document begins here.", "Keep one document in each file.")
                if event.version is not None and tuple(event.version) != (1, 2):
                    _end(event, "Rubric files are YAML 1.2.", "Take the %YAML line out.")
                content = self._value(next(self._events), ())
        if not documents:
            raise EndOfReading(1, 1, "The file is empty.", "Write a rubric into it, or delete it.")
        return content

    def _value(self, event: Event, path: plain.Path) -> object:
        self._values[path] = _place(event.start_mark)
        if len(path) > DEEPEST:
            _end(event, f"Nested more than {DEEPEST} deep.", "A rubric needs far less: look for a stray bracket.")
        if isinstance(event, AliasEvent):
            self._note(event, path, f"*{event.anchor} stands for something written elsewhere.", _WRITE_OUT)
            return None
        self._refuse_marks(event, path)
        if isinstance(event, ScalarEvent):
            return self._scalar(event, path)
        return self._list(path) if isinstance(event, SequenceStartEvent) else self._block(path)

    def _refuse_marks(self, event: Event, path: plain.Path) -> None:
        if not isinstance(event, ScalarEvent | CollectionStartEvent):
            return
        if event.anchor is not None:
            self._note(event, path, f"&{event.anchor} names this for use elsewhere.", _WRITE_OUT, on_key=True)
        if event.tag is not None:
            self._note(
                event, path, "A tag (a word after !) stands here.", "Take it out: a value's writing says its type."
            )

    def _list(self, path: plain.Path) -> list[object]:
        items: list[object] = []
        while not isinstance(event := next(self._events), SequenceEndEvent):
            items.append(self._value(event, (*path, len(items))))
        return items

    def _block(self, path: plain.Path) -> dict[str, object]:
        found: dict[str, object] = {}
        while not isinstance(event := next(self._events), MappingEndEvent):
            key = self._key(event, path)
            place = (*path, key)
            if key in found:
                line = self._keys[place][0]
                self._note(
                    event, place, f'The key "{key}" stands twice; first in line {line}.', "Keep one.", on_key=True
                )
                self._pass_over(next(self._events), place)
            else:
                self._keys[place] = _place(event.start_mark)
                found[key] = self._value(next(self._events), place)
        return found

    def _key(self, event: Event, path: plain.Path) -> str:
        if not isinstance(event, ScalarEvent):
            _end(event, "A key has to be one word.", "Write a word and a colon; put a text with brackets in quotes.")
        if event.value == "<<" and not event.style:
            _end(event, "A merge key (<<) stands here.", _WRITE_OUT)
        self._refuse_marks(event, (*path, str(event.value)))
        return str(event.value)

    def _pass_over(self, event: Event, path: plain.Path) -> None:
        """Read a value that is not kept, so that the places of the one before stay."""
        values, keys, flaws = self._values, self._keys, self.flaws
        self._values, self._keys, self.flaws = {}, {}, []
        self._value(event, path)
        self._values, self._keys, self.flaws = values, keys, flaws

    def _scalar(self, event: ScalarEvent, path: plain.Path) -> object:
        text = str(event.value)
        if event.style:  # in quotes or folded: never anything but text
            return text
        if not text and path in self._keys:  # nothing stands there: the key is the nearest place that can be seen
            self._values[path] = self._keys[path]
        cut = f'"{text[:40]}"'
        if _DAY.fullmatch(text):
            self._note(event, path, f"The day {text[:40]} is not in quotes.", f"Put it in quotes: {cut}.")
            return text
        if _FRACTION.fullmatch(text) and not _DECIMAL.fullmatch(text):
            self._note(
                event, path, f"{text[:40]} is no whole number.", f"Write a whole number, or text in quotes: {cut}."
            )
            return text
        return _resolved(text)


def _resolved(plain_text: str) -> object:
    """Return what a plain word stands for: nothing, true, false, a whole number, or itself."""
    if plain_text in _WORDS:
        return _WORDS[plain_text]
    if _DECIMAL.fullmatch(plain_text):
        return int(plain_text)
    if based := _BASED.fullmatch(plain_text):
        return int(based[1], 8) if based[1] else int(based[2], 16)
    return plain_text


def _events(text: str) -> Iterator[Event]:
    """Yield the parser's events; whatever it stumbles over ends the file with a sentence of ours."""
    try:
        yield from YAML(typ="safe", pure=True).parse(text)
    except ReaderError as error:
        wrong = f"A sign stands here that no text file may hold, U+{ord(text[error.position]):04X}."
        raise EndOfReading.after(text[: error.position], wrong, "Delete it.") from None
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        raise EndOfReading(*(_place(mark) if mark else (1, 1)), *_saying(error)) from None
    except (ValueError, OverflowError, LookupError, AttributeError, TypeError, AssertionError, NotImplementedError):
        raise EndOfReading(1, 1, "The file is not YAML.", _LOOK) from None  # the parser itself stumbled


def _counted(events: Iterator[Event]) -> Iterator[Event]:
    for count, event in enumerate(events, 1):
        if count > MOST_EVENTS:
            _end(event, f"The file has more than {MOST_EVENTS} parts.", "Split it: one phase in one file.")
        yield event


def _end(event: Event, wrong: str, remedy: str) -> NoReturn:
    raise EndOfReading(*_place(event.start_mark), wrong, remedy)


def _saying(error: MarkedYAMLError) -> tuple[str, str]:
    problem, context = error.problem or "", error.context or ""
    if _ESCAPE.search(problem):
        return "There is no such sign after a backslash.", "Write two backslashes, or use single quotes."
    for said in (problem, context):
        for pattern, wrong, remedy in _SAYINGS:
            if re.search(pattern, said):
                return wrong, remedy
    return "The file is not YAML from here on.", _LOOK


def _place(mark: StreamMark) -> Place:
    return mark.line + 1, mark.column + 1
