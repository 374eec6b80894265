"""Enter and mend times afterwards: who was in a session from when to when, and who was in the water how long.

What is entered is checked against its session, the clock and the person's other times. What is mended is corrected with
a reason; nothing is erased. A session's table of times in the water goes in whole or not at all.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal, InvalidOperation
from typing import Any

from course.access import Act
from course.actions import amending, courses
from course.actions.drafting import allow, body, draft, told
from course.actions.presence import role_on
from course.answers.course_view import CourseView, view
from course.errors import NotFoundError, RefusedError
from course.moments import Observed, new_id, now
from course.record.chain import Event
from course.record.day_facts import WaterTime
from course.record.events import Draft, SpanRecorded, VisibilityCalled, WaterTimeRecorded, WaterTimeSeen, Withdrawn
from course.record.facts import Session, Span
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import SPAN_ROLE_WORDS, SpanRole, plural

OVERHANG = timedelta(hours=3)
"""How far a time may reach over its session on either side before it is taken for a slip of the pencil."""
_KEPT = "Nothing was changed."
_STAFF = (SpanRole.TEACHING, SpanRole.ASSISTING)


@dataclass(frozen=True)
class WaterRow:
    """One line of a session's table: one person once in the water. `water` is its id where it stands already."""

    person: str
    loop_minutes: int
    bailout_minutes: int = 0
    entered: Observed | None = None
    left: Observed | None = None
    max_depth_m: str | None = None
    visibility_m: str | None = None
    unit: str | None = None
    water: str | None = None


# --- who was there -------------------------------------------------------------------------------------------------


def enter_time(
    ledger: Ledger,
    actor: str,
    session: str,
    person: str,
    start: Observed,
    end: Observed,
    *,
    role: SpanRole | None = None,
    group: str | None = None,
    event_id: str | None = None,
) -> str:
    """Enter a whole time of a person afterwards, and return its id.

    Args:
        ledger: open for writing.
        actor: who enters it.
        session, person, start, end: where, who, from when to when.
        role: what they did; None: what they are on the course.
        group: which group they were in; None: in none.
        event_id: made where the person taps; the same tap twice adds nothing.

    Raises:
        NotFoundError: there is no such session or group.
        RefusedError: the time cannot be, or the session is closed; nothing was changed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    if event_id and ledger.event(event_id) is not None:
        return event_id
    _refuse_closed(fact)
    seen = view(ledger, fact.course)
    role = role or role_on(seen.course, person)
    _check_time(seen, fact, Span(id="", person=person, role=role, group=group, start=start, end=end))
    event_id = event_id or new_id()
    content = body(
        SpanRecorded, session=session, span=event_id, person=person, role=role, group=group, start=start, end=end
    )
    ledger.append([draft(actor, content, event_id=event_id)])
    return event_id


def mend_time(
    ledger: Ledger,
    actor: str,
    session: str,
    span: str,
    why: str,
    *,
    start: Observed,
    end: Observed,
    role: SpanRole,
    group: str | None,
) -> None:
    """Give a time that stands other values, with a reason; what stood before stays to be read.

    Raises:
        NotFoundError: there is no such session, time or group.
        RefusedError: the time cannot be, nothing is different, or no reason is given; nothing was changed.
    """
    allow(ledger, actor, Act.AMEND)
    fact = needed(ledger, Session, session, "session")
    old = next((one for one in fact.spans if one.id == span), None)
    if old is None:
        raise NotFoundError(f"There is no such time in this session. {_KEPT}")
    new = Span(id=span, person=old.person, role=role, group=group, start=start, end=end)
    change = _changes(old, new, ("start", "end", "role", "group"))
    if not change:
        raise RefusedError(f"The time stands like that already. {_KEPT}")
    _check_time(view(ledger, fact.course), fact, new)
    event = _event_of(ledger, session, "span", span, (SpanRecorded.kind,))
    ledger.append([amending.correction(ledger, actor, event.id, why, change=change)])


def take_back_time(ledger: Ledger, actor: str, session: str, span: str, why: str) -> None:
    """Say that a person was not there at that time after all, with a reason.

    Raises:
        NotFoundError: there is no such time.
        RefusedError: no reason is given.
    """
    amending.withdraw(ledger, actor, _event_of(ledger, session, "span", span, (SpanRecorded.kind,)).id, why)


# --- who was in the water ------------------------------------------------------------------------------------------


def save_water(ledger: Ledger, actor: str, session: str, rows: Sequence[WaterRow], why: str | None = None) -> int:
    """Put a session's table of times in the water into the ledger: new lines entered, changed ones corrected.

    Returns:
        How many lines were new or different; those that stand like that already add nothing.

    Raises:
        NotFoundError: there is no such session, unit or line.
        RefusedError: a line cannot be, told with its person, or one that stood is different and there is no reason;
            nothing of the table was changed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    seen = view(ledger, fact.course)
    standing = {water.id: water for water in fact.water}
    if unknown := [row for row in rows if row.water is not None and row.water not in standing]:
        raise NotFoundError(f"{seen.name(unknown[0].person)}: there is no such line in this session. {_KEPT}")
    new = [row for row in rows if row.water is None]
    changed = [row for row in rows if row.water and _changes(standing[row.water], row, _WATER_FIELDS)]
    if new:
        _refuse_closed(fact)
    _check_water(seen, fact, rows)
    drafts = [_water(actor, session, row) for row in new]
    for row in changed:
        drafts += _corrected_water(ledger, actor, fact, row, told(why))
    ledger.append(drafts)
    return len(new) + len(changed)


def take_back_water(ledger: Ledger, actor: str, session: str, water: str, why: str) -> None:
    """Say that a person was not in the water at that time after all, with a reason.

    Raises:
        NotFoundError: there is no such line.
        RefusedError: no reason is given.
    """
    amending.withdraw(ledger, actor, _event_of(ledger, session, "water", water, _WATER_KINDS).id, why)


def call_visibility(ledger: Ledger, actor: str, session: str, at: Observed, *, low: bool) -> None:
    """Call a session's visibility low, so that its stricter ratio holds; who evaluates may take it back.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: the session is closed, or it is to be looser and the acting person does not evaluate.
    """
    allow(ledger, actor, Act.RUN_DAY if low else Act.EVALUATE)
    fact = needed(ledger, Session, session, "session")
    if fact.called_low == low:
        return
    _refuse_closed(fact)
    content = body(VisibilityCalled, session=session, low=low, replaces=fact.visibility_calls, observed=at)
    ledger.append([draft(actor, content)])


_WATER_KINDS = (WaterTimeRecorded.kind, WaterTimeSeen.kind)
_WATER_FIELDS = ("unit", "entered", "left", "loop_minutes", "bailout_minutes", "max_depth_m", "visibility_m")


def _water(actor: str, session: str, row: WaterRow) -> Draft:
    fields = {name: getattr(row, name) for name in ("person", "water", *_WATER_FIELDS)}
    return courses.water_time(actor, session=session, **fields)


def _corrected_water(ledger: Ledger, actor: str, fact: Session, row: WaterRow, why: str) -> list[Draft]:
    """A line of the first version has no place for a visibility: it is withdrawn, and entered anew with the same id."""
    allow(ledger, actor, Act.AMEND)
    old = next(water for water in fact.water if water.id == row.water)
    event = _event_of(ledger, fact.id, "water", old.id, _WATER_KINDS)
    change = _changes(old, row, _WATER_FIELDS)
    if event.kind == WaterTimeRecorded.kind and "visibility_m" in change:
        back = body(Withdrawn, thing=fact.id, withdraws=event.id, why=why)
        return [draft(actor, back), _water(actor, fact.id, row)]
    return [amending.correction(ledger, actor, event.id, why, change=change)]


def _changes(old: Span | WaterTime, new: Span | WaterRow, names: Iterable[str]) -> dict[str, Any]:
    """Fields that differ, as plain data; moments are the same when they are the same instant."""
    found: dict[str, Any] = {}
    for name in names:
        was, is_now = getattr(old, name), getattr(new, name)
        if isinstance(was, Observed) and isinstance(is_now, Observed) and was.moment == is_now.moment:
            continue
        if was != is_now:
            found[name] = is_now.model_dump(mode="json", exclude_none=True) if isinstance(is_now, Observed) else is_now
    return found


def _event_of(ledger: Ledger, session: str, field: str, of: str, allowed: Sequence[str]) -> Event:
    """The event that entered a line and still stands: the last one with its id."""
    gone = {json.loads(e.body)["withdraws"] for e in ledger.events(session) if e.kind == Withdrawn.kind}
    found = [e for e in ledger.events(session) if e.kind in allowed and json.loads(e.body).get(field) == of]
    live = [event for event in found if event.id not in gone]
    if not live:
        raise NotFoundError(f"There is no such line in this session. {_KEPT}")
    return live[-1]


# --- what cannot be ------------------------------------------------------------------------------------------------


def _refuse_closed(session: Session) -> None:
    if session.closed_at is not None:
        raise RefusedError(
            f"{session.title} is closed. The lead or an instructor opens it again on Day's end, with a reason; then "
            f"times can be entered. {_KEPT}"
        )


def _check_time(seen: CourseView, session: Session, new: Span) -> None:
    name = seen.name(new.person)
    if new.person not in {member.person for member in seen.course.members}:
        raise RefusedError(f"{name} is not on the course. Put them on it on People first. {_KEPT}")
    if new.group is not None and new.group not in {group.id for group in session.groups}:
        raise NotFoundError(f"This session has no such group. {_KEPT}")
    if new.end is None:
        raise RefusedError(f"{name}: write when they left. {_KEPT}")
    _refuse_impossible(name, session, new.start, new.end)
    for other_session in seen.sessions.values():
        for other in other_session.spans:
            if other.person == new.person and other.id != new.id and _overlap(other, other_session, new):
                _refuse_twice(name, session, new, other_session, other)


def _refuse_impossible(name: str, session: Session, start: Observed, end: Observed) -> None:
    """An end before its start, a time that is to come, and a time that is not this session's."""
    if end.moment <= start.moment:
        raise RefusedError(
            f"{name}: nobody leaves before they came ({start.local:%H:%M} to {end.local:%H:%M}). {_KEPT}"
        )
    if end.moment > now():
        raise RefusedError(f"{name}: {end.local:%H:%M} is still to come. {_KEPT}")
    planned = f"{session.title} was planned from {session.start.local:%H:%M} to {session.end.local:%H:%M}"
    if start.moment >= session.end.moment or end.moment <= session.start.moment:
        raise RefusedError(f"{name}: {start.local:%H:%M} to {end.local:%H:%M} lies outside; {planned}. {_KEPT}")
    if session.start.moment - start.moment > OVERHANG or end.moment - session.end.moment > OVERHANG:
        raise RefusedError(
            f"{name}: {start.local:%H:%M} to {end.local:%H:%M} reaches far over it; {planned}. If it went on so long, "
            f"correct the session first. {_KEPT}"
        )


def _overlap(other: Span, of: Session, new: Span) -> bool:
    if of.withdrawn or new.end is None:
        return False
    until = other.end or of.end
    return other.start.moment < new.end.moment and new.start.moment < until.moment


def _refuse_twice(name: str, session: Session, new: Span, other_session: Session, other: Span) -> None:
    until = (other.end or other_session.end).local
    there = f"{SPAN_ROLE_WORDS[other.role]} in {other_session.title} from {other.start.local:%H:%M} to {until:%H:%M}"
    if other_session.id == session.id:
        raise RefusedError(f"{name} is entered as {there} already, and nobody is there twice. {_KEPT}")
    both = {new.role, other.role}
    if SpanRole.STUDENT in both and both.intersection(_STAFF):
        raise RefusedError(
            f"{name} is entered as {there}: nobody learns and teaches at once. Mend one of the two. {_KEPT}"
        )


def _check_water(seen: CourseView, session: Session, rows: Sequence[WaterRow]) -> None:
    members = {member.person for member in seen.course.members}
    for row in rows:
        name = seen.name(row.person)
        if row.person not in members:
            raise RefusedError(f"{name} is not on the course. Put them on it on People first. {_KEPT}")
        if row.unit is not None and row.unit not in seen.units:
            raise NotFoundError(f"{name}: there is no such unit in this centre. {_KEPT}")
        _check_minutes(name, session, row)
        _check_metres(name, "depth", row.max_depth_m, 300)
        _check_metres(name, "visibility", row.visibility_m, 100)
    kept = [w for w in session.water if w.id not in {row.water for row in rows}]
    others = [(w, s) for s in seen.sessions.values() if s.id != session.id for w in s.water]
    _refuse_twice_in_water(seen, session, rows, [*((w, session) for w in kept), *others])


def _check_minutes(name: str, session: Session, row: WaterRow) -> None:
    if min(row.loop_minutes, row.bailout_minutes) < 0:
        raise RefusedError(f"{name}: minutes are 0 or more. {_KEPT}")
    if (row.entered is None) != (row.left is None):
        raise RefusedError(f"{name}: write both, in and out, or neither. {_KEPT}")
    first, last = row.entered or session.start, row.left or session.end
    if row.entered and row.left:
        _refuse_impossible(name, session, row.entered, row.left)
    there = int((last.moment - first.moment).total_seconds()) // 60
    minutes = row.loop_minutes + row.bailout_minutes
    if minutes > there:
        what = "in the water" if row.entered else "in the session"
        raise RefusedError(
            f"{name}: {plural(minutes, 'minute')} on loop and bailout, but only {there} {what} "
            f"({first.local:%H:%M} to {last.local:%H:%M}). {_KEPT}"
        )


def _check_metres(name: str, what: str, text: str | None, most: int) -> None:
    if text is None:
        return
    try:
        metres = Decimal(text)
    except InvalidOperation:
        raise RefusedError(f"{name}: {what} is a number of metres such as 17.5. {_KEPT}") from None
    if not 0 <= metres <= most:
        raise RefusedError(f"{name}: a {what} of {text} m cannot be; write 0 to {most}. {_KEPT}")


def _refuse_twice_in_water(
    seen: CourseView, session: Session, rows: Sequence[WaterRow], others: Iterable[tuple[WaterTime, Session]]
) -> None:
    told_others: list[tuple[WaterTime | WaterRow, Session]] = [*others]
    for row in rows:
        if not (row.entered and row.left):
            continue
        for other, of in told_others:
            if other.person != row.person or not (other.entered and other.left):
                continue
            if other.entered.moment < row.left.moment and row.entered.moment < other.left.moment:
                raise RefusedError(
                    f"{seen.name(row.person)} was in the water from {other.entered.local:%H:%M} to "
                    f"{other.left.local:%H:%M} ({of.title}) already, and nobody is in it twice. {_KEPT}"
                )
        told_others.append((row, session))
