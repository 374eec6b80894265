"""An event as one canonical line (RFC 8785): the ledger's own fields, with the body as it was hashed.

This is how an event leaves the ledger and comes back. The bytes say everything that the event's hash covers, and the
hash; position in a database and origin are a database's own and are not in it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

import orjson

from course.record.chain import Event, canonical

LONGEST_LINE = 16_000_000
"""Bytes of one line; adopted rubrics are the longest there are, well under a million."""
_NAMES = frozenset(Event._fields)
_LONGEST_NUMBER = 40  # signs
_WHOLE = ("seq", "lamport")
_FORMS: dict[str, Callable[[str], object]] = {
    "chain": re.compile(r"[0-9a-z-]{1,64}").fullmatch,
    "hash": re.compile(r"[0-9a-f]{64}").fullmatch,
    "prev": re.compile(r"[0-9a-f]{64}").fullmatch,
    "recorded_at": re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z").fullmatch,
}
_TEXTS = {name: _FORMS.get(name, len) for name in Event._fields if name not in ("body", *_WHOLE)}
"""What is true of a text that is as it should be: of most, that there is one."""


def line_of(event: Event) -> bytes:
    """Return the line of an event, without an end of line.

    Raises:
        ValueError: the body is not canonical, so that a line could not say what was hashed.
    """
    if canonical(json.loads(event.body)) != event.body.encode():
        raise ValueError(f"the content of event {event.seq} of chain {event.chain} is not written as it was hashed")
    plain: dict[str, Any] = event._asdict()
    return orjson.dumps(plain | {"body": orjson.Fragment(event.body)}, option=orjson.OPT_SORT_KEYS)


def event_in(line: bytes) -> Event:
    """Return the event that a line holds.

    Raises:
        ValueError: it is no line of an event; the text says why.
    """
    plain = read_canonical(line)
    if not isinstance(plain, dict) or plain.keys() != _NAMES:
        missing = ", ".join(sorted(_NAMES - (plain.keys() if isinstance(plain, dict) else set())))
        raise ValueError(f"{missing} is missing" if missing else "it holds a field that no event has")
    if not isinstance(plain["body"], dict):
        raise ValueError("its body is no object")  # noqa: TRY004 - one kind of complaint about a line
    for name in _WHOLE:
        value = plain[name]
        if type(value) is not int or value < 1:
            raise ValueError(f"{name} is no whole number from 1 on")
    for name, looks_right in _TEXTS.items():
        value = plain[name]
        if type(value) is not str or not looks_right(value):
            raise ValueError(f"{name} is not written as it should be")
    return _event_of(plain)


def checked_event_in(line: bytes) -> Event:
    """Return the event that a line holds which `event_in` has read before, in a third of the time.

    Raises:
        ValueError: it is no line of an event; not all that is wrong with a line is seen here.
    """
    try:
        return _event_of(orjson.loads(line))
    except (KeyError, TypeError) as error:
        raise ValueError("it is no line of an event") from error


def _event_of(plain: dict[str, Any]) -> Event:
    """The body of a canonical line is canonical as it stands: written in the order in which it was read."""
    return Event(**(plain | {"body": orjson.dumps(plain["body"]).decode()}))


def read_canonical(text: bytes) -> Any:
    """Read JSON that is written in canonical form, and nothing else.

    Raises:
        ValueError: it is not; the text says why.
    """
    try:
        plain = orjson.loads(text)
        if canonical(plain) == text:
            return plain
    except ValueError:
        pass
    raise ValueError(_why_not_canonical(text))


def _why_not_canonical(text: bytes) -> str:
    try:
        plain = json.loads(
            text.decode("utf-8"),
            object_pairs_hook=_no_key_twice,
            parse_float=_no_float,
            parse_constant=_no_constant,
            parse_int=_whole,
        )
        canonical(plain)
    except UnicodeDecodeError:
        return "it is not UTF-8 text"
    except json.JSONDecodeError as error:
        return f"it is no JSON ({error.msg} at sign {error.pos + 1})"
    except RecursionError:
        return "it is nested too deep"
    except ValueError as error:
        return str(error)
    return "it is not in canonical form (RFC 8785): order of keys, spaces or signs differ"


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise ValueError(f"the key {key[:40]!r} is there twice")
        found[key] = value
    return found


def _whole(text: str) -> int:
    if len(text) > _LONGEST_NUMBER:
        raise ValueError(f"{text[:20]}... is too large for a whole number in the ledger")
    return int(text)


def _no_float(text: str) -> Any:
    raise ValueError(f"{text[:40]} is a number with a fraction, which the ledger never has")


def _no_constant(text: str) -> Any:
    raise ValueError(f"{text} is no number")
