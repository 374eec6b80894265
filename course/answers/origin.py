"""Show why: what something rests on, down to each event that was entered, with both its times, who, and its hash.

One frozen answer for a standing, for minutes, a session, a signed record and a single event; the command line, the
page and the paper show the same. A finding is shown by what it names: its session, attempt or event.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from course.access import Sight
from course.answers.corrections import correction_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.event_lines import event_words, observed_words, recorded_words
from course.answers.origin_words import thing_words
from course.answers.record_answer import LedgerHead
from course.asker import question
from course.errors import NotFoundError
from course.moments import Observed, read_stored, zone_named
from course.record import events as kinds
from course.record.chain import Event, event_hash
from course.record.facts import Attempt
from course.record.lines import line_of
from course.record.statements import live_statements
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import skill_as_marked
from course.words import RECORD_NOTE, plural

Asked = tuple[tuple[str, str], ...]
"""Names and values of a question: which one, ids and days."""


@dataclass(frozen=True)
class OriginLine:
    """One thing that an event says. `observed` is empty where it has no time of seeing of its own."""

    observed: str
    recorded: str
    who: str
    words: str
    critical: bool
    holds: bool
    """Nothing took it back."""
    event: str
    place: str
    """ "01a2147d · 812": chain and place in it."""
    hash: str


@dataclass(frozen=True)
class OriginPart:
    """Lines that belong together, under what they come to."""

    title: str
    notes: tuple[str, ...]
    lines: tuple[OriginLine, ...]


@dataclass(frozen=True)
class Origin:
    """What something rests on."""

    about: str
    sentence: str
    facts: tuple[tuple[str, str], ...]
    """Names and values around it: the rule, the rubric's form, the hash."""
    parts: tuple[OriginPart, ...]
    centre: str
    zone: str
    head: LedgerHead
    note: str = RECORD_NOTE
    asked: Asked = ()
    """What it answers, so that the same can be asked again."""

    def text(self) -> str:
        """The answer in lines, for the command line."""
        lines = [self.about, self.sentence, *(f"{name}: {value}" for name, value in self.facts)]
        for part in self.parts:
            lines += ["", part.title, *(f"    {note}" for note in part.notes)]
            for one in part.lines:
                struck = "" if one.holds else " (taken back)"
                seen = f"seen {one.observed}, " if one.observed else ""
                lines.append(f"    {one.words}{struck}")
                lines.append(f"        {seen}recorded {one.recorded} by {one.who} · {one.place} · {one.hash[:16]}")
        return "\n".join([*lines, "", f"Times are of {self.zone}.", self.note])

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        return asdict(self)


def origin(
    seen: CourseView,
    about: tuple[str, Asked],
    sentence: str,
    facts: Iterable[tuple[str, str]],
    parts: Iterable[OriginPart],
) -> Origin:
    """Return an answer of a course; `about` says what it is about, in words and as it was asked."""
    words, asked = about
    return Origin(
        about=words,
        sentence=sentence,
        facts=tuple(facts),
        parts=tuple(parts),
        centre=seen.centre.name,
        zone=seen.course.zone,
        head=seen.head,
        asked=(("course", seen.course.id), *asked),
    )


def trail(
    ledger: Ledger, seen: CourseView, events: Sequence[Event], skill: Skill | None = None, day: date | None = None
) -> tuple[OriginLine, ...]:
    """Return the lines of events about one thing, in the order that settles them.

    Args:
        ledger: opens private text.
        seen: the course, for names and the zone.
        events: all of one subject.
        skill: for an attempt, the form that it is marked by.
        day: times of seeing on another day are told with their date; every date is told unless given.
    """
    gone = {statement.event.id for statement in live_statements(events) if statement.withdrawn}
    said: dict[str, str] = {}
    told: list[OriginLine] = []
    for place, event in enumerate(events):
        words = _words(ledger, seen, event, events[:place], skill, said)
        said[event.id] = "; ".join(text for text, _ in words)
        told += [_line(seen, event, text, critical, event.id not in gone, day) for text, critical in words]
    return tuple(told)


def _words(
    ledger: Ledger, seen: CourseView, event: Event, earlier: Sequence[Event], skill: Skill | None, said: dict[str, str]
) -> list[tuple[str, bool]]:
    body = kinds.read_body(event.kind, json.loads(event.body))
    if body is not None and (text := thing_words(ledger, seen, event, body)):
        return [(text, False)]
    if skill is None and (text := correction_words(ledger, seen, event, earlier)):
        return [(text, False)]
    return event_words(ledger, seen, event, skill, said)


def _line(
    seen: CourseView, event: Event, words: str, critical: bool, holds: bool, day: date | None  # noqa: FBT001
) -> OriginLine:  # fmt: skip
    observed = json.loads(event.body).get("observed")
    told = observed_words(Observed.model_validate(observed), day or date.min) if isinstance(observed, dict) else ""
    return OriginLine(
        observed=told,
        recorded=recorded_words(event, seen.course.zone),
        who=actor_name(seen, event),
        words=words,
        critical=critical,
        holds=holds,
        event=event.id,
        place=f"{event.chain[:8]} · {event.seq}",
        hash=event.hash,
    )


def actor_name(seen: CourseView, event: Event) -> str:
    """Whoever entered an event; a chain is begun by a device."""
    return "this device" if event.actor == event.device else seen.name(event.actor)


def rubric_facts(ledger: Ledger, seen: CourseView, skill: Skill, rubric: str) -> list[tuple[str, str]]:
    """Return which form of the skill was used, and who adopted it when."""
    made = next(ledger.events(seen.course.adoption), None)
    told = ""
    if made:
        local = read_stored(made.recorded_at).astimezone(zone_named(seen.course.zone))
        told = f", adopted on {day_words(local.date())} by {seen.name(made.actor)} ({made.chain[:8]} · {made.seq})"
    profile = f"{seen.profile.title}, revision {seen.profile.revision}"
    return [("Rubric", f"{skill.title}, form {rubric[:16]}{told}"), ("Requirements", profile)]


def attempt_form(ledger: Ledger, attempt: Attempt) -> Skill | None:
    """The form of the skill that an attempt was marked by; None where no ledger here holds it."""
    try:
        return skill_as_marked(ledger, attempt.skill, attempt.rubric)
    except NotFoundError:
        return None


@question(Sight.WHY)
def event_origin(ledger: Ledger, seen: CourseView, wanted: str) -> Origin:
    """Return one event down to its canonical line, with everything else that was said of the same thing.

    Args:
        ledger: the ledger.
        seen: a course, for names.
        wanted: the event's id, or its chain's first signs and its place, such as "01a2147d:812".

    Raises:
        NotFoundError: there is no such event.
    """
    event = find_event(ledger, wanted)
    events = list(ledger.events(event.subject))
    attempt = ledger.fact("attempt", event.subject)
    skill = attempt_form(ledger, attempt) if isinstance(attempt, Attempt) else None
    fits = "fits its content" if event_hash(event) == event.hash else "does NOT fit its content: run course verify"
    facts = [
        ("Kind", event.kind),
        ("About", event.subject),
        ("Entered by", actor_name(seen, event)),
        ("On device", event.device),
        ("Recorded", f"{event.recorded_at} (UTC)"),
        ("Place", f"event {event.seq} of chain {event.chain}; {event.lamport} in the order of statements"),
        ("Hash", f"{event.hash}, which {fits}"),
        ("Before it", event.prev),
        *((f"Sealed {name}", str(value)) for name, value in sorted(ledger.private_of(event).items())),
        ("Canonical line", _canonical(event)),
    ]
    lines = trail(ledger, seen, events, skill)
    own = tuple(one for one in lines if one.event == event.id)
    others = tuple(one for one in lines if one.event != event.id)
    sentence = "; ".join(one.words for one in own) or event.kind
    sentence += "." if all(one.holds for one in own) else ". It was taken back later."
    parts = [OriginPart("What it says", (), own)]
    if others:
        parts.append(OriginPart(f"Everything else about the same thing: {plural(len(others), 'line')}", (), others))
    return origin(seen, (f"Event {event.id}", (("why", "event"), ("event", event.id))), sentence, facts, parts)


def _canonical(event: Event) -> str:
    try:
        return line_of(event).decode()
    except ValueError as error:
        return f"cannot be written: {error}"


_LONGEST_PLACE = 15  # digits: more events than any chain has, and fewer than a database counts


def find_event(ledger: Ledger, wanted: str) -> Event:
    """Return an event by its id, or by its chain's first signs and its place.

    Raises:
        NotFoundError: there is none, or several chains begin so.
    """
    chain, _, place = wanted.strip().lower().replace(" ", "").replace("·", ":").partition(":")
    if not place:
        found = ledger.event(chain)
    elif place.isascii() and place.isdecimal() and len(place) <= _LONGEST_PLACE:
        chains = [head.chain for head in ledger.heads() if chain and head.chain.startswith(chain)]
        found = ledger.event_at(chains[0], int(place)) if len(chains) == 1 else None
    else:
        found = None
    if found is None:
        raise NotFoundError(
            f"There is no event {wanted[:60]!r} here. Write its id, or chain and place as they stand on a paper, "
            "such as 01a2147d:812."
        )
    return found
