"""What is still open at the end of a day: one list, each thing with its way out.

The tool lists; people close. A day may be closed with things open, once they were shown: their number is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from course.access import Act, Sight
from course.answers.course_view import CourseView
from course.answers.day_state import open_incidents, sessions_on
from course.answers.days import day_words
from course.answers.roll_call import lacks_roll_out, leaving_together, missing_now, not_called_out
from course.answers.slate_sheet import columns_out, entered_from
from course.asker import may_ask, question
from course.moments import Observed
from course.record.day_facts import Slate
from course.record.facts import Attempt, Checkpoint, Session, Slip
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, skill_as_marked
from course.words import SPAN_ROLE_WORDS, SlipKind, listed, plural


class OpenKind(StrEnum):
    """What can be open, the most urgent first."""

    MISSING = "somebody missing"
    INCIDENT = "a frozen session"
    ROLL_OUT = "a roll call coming out"
    SPAN = "a time without an end"
    ATTEMPT = "an open attempt"
    SHEET = "a sheet to copy in"
    SLIP = "a planted fault"
    TABLET = "a tablet with waiting marks"
    SESSION = "a session not closed"


_MANY = {
    OpenKind.MISSING: "people missing",
    OpenKind.INCIDENT: "frozen sessions",
    OpenKind.ROLL_OUT: "roll calls coming out",
    OpenKind.SPAN: "times without an end",
    OpenKind.ATTEMPT: "open attempts",
    OpenKind.SHEET: "sheets to copy in",
    OpenKind.SLIP: "planted faults",
    OpenKind.TABLET: "tablets with waiting marks",
    OpenKind.SESSION: "sessions not closed",
}
_ORDER = list(OpenKind)
_NUMBERS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve")


class Way(StrEnum):
    """What a person can do about an open thing; a page makes a button or a link of it."""

    CALL_ROLL = "call_roll"
    RESUME = "resume"
    CLOSE_SESSION = "close_session"
    END_SPAN = "end_span"
    END_SPAN_AS_PLANNED = "end_span_as_planned"
    OPEN_PAD = "open_pad"
    COPY_IN = "copy_in"
    SET_ASIDE = "set_aside"
    CLEAR_FAULT = "clear_fault"
    FETCH_TABLET = "fetch_tablet"


@dataclass(frozen=True)
class WayOut:
    """One way out: the act, what it is done to, and the words on its button."""

    way: Way
    target: tuple[str, ...]
    label: str


@dataclass(frozen=True)
class OpenItem:
    """One open thing. `about` are the ids it is about, the session's first where there is one."""

    kind: OpenKind
    sentence: str
    about: tuple[str, ...]
    ways: tuple[WayOut, ...]


@dataclass(frozen=True)
class TabletWaiting:
    """A tablet that holds marks which had not arrived when it was last heard of."""

    label: str
    last_seen: Observed
    waiting: int


@dataclass(frozen=True)
class Leaving:
    """Several people of one session who can be signed out by one tap, and who cannot."""

    session: str
    label: str


@dataclass(frozen=True)
class MadeCheckpoint:
    """A checkpoint that was made for the day."""

    sentence: str
    heads: tuple[tuple[str, int, str], ...]


@dataclass(frozen=True)
class DayEnd:
    """A day as it can be closed now.

    `items` has everything, sessions that are not closed last; closing the day closes those, so `still_open` leaves
    them out. `notes` are units on hold: to know, not to close.
    """

    day: date
    sentence: str
    items: tuple[OpenItem, ...]
    notes: tuple[str, ...]
    checkpoints: tuple[MadeCheckpoint, ...]
    leaving: tuple[Leaving, ...] = ()

    @property
    def still_open(self) -> int:
        """How many things stay open when the day is closed now."""
        return sum(item.kind != OpenKind.SESSION for item in self.items)


@question(Sight.DAY)
def day_end(ledger: Ledger, seen: CourseView, day: date, tablets: Sequence[TabletWaiting] = ()) -> DayEnd:
    """Return what is open on a training day, the most urgent first."""
    sessions = sessions_on(seen, day)
    items = [item for session in sessions for item in _of_session(ledger, seen, session)]
    items += _slips(ledger, seen, day)
    items += [_tablet(tablet) for tablet in tablets if tablet.waiting]
    items.sort(key=lambda item: _ORDER.index(item.kind))
    made = [c for c in all_of(ledger, Checkpoint, course=seen.course.id) if c.day == day.isoformat()]
    return DayEnd(
        day=day,
        sentence=_sentence(seen, items, sessions, made),
        items=tuple(items),
        notes=_holds(seen, day),
        checkpoints=tuple(_made(seen, checkpoint) for checkpoint in made),
        leaving=tuple(one for session in sessions if (one := _leaving(seen, session, alone=len(sessions) == 1))),
    )


def _leaving(seen: CourseView, session: Session, *, alone: bool) -> Leaving | None:
    """One is signed out by their own button; who is missing is named, so that nobody takes them for gone."""
    gone, stay = leaving_together(session)
    if len(gone) < 2 or session.closed_at is not None:
        return None
    where = "" if alone else f" {session.title}"
    but = f", but {listed([seen.name(person) for person in stay])}: MISSING" if stay else ""
    return Leaving(session.id, f"Everyone left{where} now ({len(gone)}){but}")


def _of_session(ledger: Ledger, seen: CourseView, session: Session) -> Iterable[OpenItem]:
    yield from _rolls(seen, session)
    yield from _incidents(seen, session)
    yield from _spans(seen, session)
    yield from _attempts(ledger, seen, session)
    yield from _sheets(ledger, seen, session)
    if session.closed_at is None:
        yield OpenItem(
            OpenKind.SESSION,
            f"{session.title} ({_span_words(session)}) is not closed.",
            (session.id,),
            (WayOut(Way.CLOSE_SESSION, (session.id,), "Close this session"),),
        )


def _rolls(seen: CourseView, session: Session) -> Iterable[OpenItem]:
    ways = (WayOut(Way.CALL_ROLL, (session.id,), "Call the roll"),)
    for person in missing_now(session):
        rolls = [roll for roll in session.rolls if person in roll.missing and roll.when != "going_in"]
        at = max(roll.observed.local for roll in rolls)
        sentence = f"MISSING: {seen.name(person)} did not answer in {session.title} at {at:%H:%M}, nor since."
        yield OpenItem(OpenKind.MISSING, sentence, (session.id, person), ways)
    inside = not_called_out(session)
    if inside:
        names = listed([seen.name(person) for person in inside])
        sentence = f"{session.title}: {names} went in, and no roll was called for them coming out."
        yield OpenItem(OpenKind.ROLL_OUT, sentence, (session.id, *inside), ways)
    elif lacks_roll_out(session):
        sentence = f"{session.title}: people were in the water, and no roll was called coming out."
        yield OpenItem(OpenKind.ROLL_OUT, sentence, (session.id,), ways)


def _incidents(seen: CourseView, session: Session) -> Iterable[OpenItem]:
    for incident in open_incidents(session):
        yield OpenItem(
            OpenKind.INCIDENT,
            f"{session.title} is frozen since {incident.observed.local:%H:%M}, by {seen.name(incident.frozen_by)}.",
            (session.id, incident.id),
            (
                WayOut(Way.RESUME, (session.id, incident.id), "Let it go on, with a reason"),
                WayOut(Way.CLOSE_SESSION, (session.id,), "Close this session"),
            ),
        )


def _spans(seen: CourseView, session: Session) -> Iterable[OpenItem]:
    for span in session.spans:
        if span.end is not None:
            continue
        yield OpenItem(
            OpenKind.SPAN,
            f"{seen.name(span.person)} ({SPAN_ROLE_WORDS[span.role]}) is in {session.title} since "
            f"{span.start.local:%H:%M}, without an end; it was planned until {session.end.local:%H:%M}.",
            (session.id, span.id),
            (
                WayOut(Way.END_SPAN, (session.id, span.id), "Left now"),
                WayOut(Way.END_SPAN_AS_PLANNED, (session.id, span.id), f"Left at {session.end.local:%H:%M}"),
            ),
        )


def _attempts(ledger: Ledger, seen: CourseView, session: Session) -> Iterable[OpenItem]:
    for attempt in all_of(ledger, Attempt, session=session.id):
        if attempt.ending is not None:
            continue
        observers = listed([seen.name(sheet.observer) for sheet in attempt.sheets]) or "nobody"
        target = (attempt.id, attempt.sheets[0].id) if attempt.sheets else (attempt.id,)
        yield OpenItem(
            OpenKind.ATTEMPT,
            f"{seen.name(attempt.student)}, {_skill_title(ledger, seen, attempt.skill, attempt.rubric)}: open since "
            f"{attempt.observed.local:%H:%M}, marked by {observers}.",
            (session.id, attempt.id),
            (WayOut(Way.OPEN_PAD, target, "Open it on Mark and end it"),),
        )


def _sheets(ledger: Ledger, seen: CourseView, session: Session) -> Iterable[OpenItem]:
    for slate in session.slates:
        if columns := columns_out(slate, entered_from(ledger, session.id, slate.id)):
            title = _skill_title(ledger, seen, slate.skill, slate.rubric)
            yield OpenItem(
                OpenKind.SHEET,
                f"Sheet {slate.code}, {title}: not copied in yet: {_columns(seen, slate, columns)}.",
                (session.id, slate.id),
                (
                    WayOut(Way.COPY_IN, (session.id, slate.id, slate.code), "Copy it in"),
                    WayOut(Way.SET_ASIDE, (session.id, slate.id), "Set it aside"),
                ),
            )


def _columns(seen: CourseView, slate: Slate, columns: Sequence[tuple[str, int]]) -> str:
    """Columns in words, such as "all 4 columns" or "Amaru Tendelle, and Zoë (try 2)"."""
    if len(columns) == len(slate.students) * slate.tries:
        return "all of it" if len(columns) == 1 else f"all {len(columns)} columns"
    told = [seen.name(student) + (f" (try {turn})" if slate.tries > 1 else "") for student, turn in columns]
    return listed(told)


def _skill_title(ledger: Ledger, seen: CourseView, skill: str, rubric: str) -> str:
    known: Skill | None = seen.adopted.standards.skills.get(skill)
    return known.title if known else skill_as_marked(ledger, skill, rubric).title


def _slips(ledger: Ledger, seen: CourseView, day: date) -> Iterable[OpenItem]:
    """Planted faults that nobody took out again, of this day or an earlier one: they do not go away overnight."""
    for slip in all_of(ledger, Slip, course=seen.course.id):
        set_on = slip.observed.local
        if slip.how != SlipKind.PLANTED or slip.cleared is not None or set_on.date() > day:
            continue
        unit = seen.units[slip.unit].label if slip.unit in seen.units else "no unit named"
        faults = {fault.id: fault.title for fault in seen.adopted.standards.planted_faults.values()}
        yield OpenItem(
            OpenKind.SLIP,
            f"Planted fault in {unit} not cleared: {faults.get(slip.fault, slip.fault)}, by {seen.name(slip.set_by)} "
            f"on {day_words(set_on.date())} at {set_on:%H:%M}.",
            (slip.session, slip.id),
            (WayOut(Way.CLEAR_FAULT, (slip.id,), "Clear it on Units"),),
        )


def _tablet(tablet: TabletWaiting) -> OpenItem:
    return OpenItem(
        OpenKind.TABLET,
        f"{tablet.label}: {plural(tablet.waiting, 'mark')} waiting when it was last heard of, at "
        f"{tablet.last_seen.local:%H:%M}. Keep its Mark page open within reach of this machine until all are saved.",
        (tablet.label,),
        (WayOut(Way.FETCH_TABLET, (tablet.label,), "Look at it again"),),
    )


def _holds(seen: CourseView, day: date) -> tuple[str, ...]:
    told = []
    for unit in sorted(seen.units.values(), key=lambda unit: unit.label):
        since = [hold.since.local for hold in unit.held if hold.since.local.date() <= day]
        if since and not unit.withdrawn:
            told.append(
                f"{unit.label} is on hold since {day_words(min(since).date())}, {min(since):%H:%M}: not for water."
            )
    return tuple(told)


def _made(seen: CourseView, checkpoint: Checkpoint) -> MadeCheckpoint:
    left = f"{plural(checkpoint.still_open, 'thing')} left open" if checkpoint.still_open else "nothing left open"
    heads = plural(len(checkpoint.heads), "chain")
    sentence = f"Closed by {seen.name(checkpoint.made_by)}, {left}; it names the head of {heads}."
    return MadeCheckpoint(sentence, checkpoint.heads)


def _sentence(
    seen: CourseView, items: Sequence[OpenItem], sessions: Sequence[Session], made: Sequence[Checkpoint]
) -> str:
    """The one sentence that matters now; who is missing comes before everything else."""
    missing = [item.about[1] for item in items if item.kind == OpenKind.MISSING]
    left = [item for item in items if item.kind != OpenKind.SESSION]
    if missing:
        others = len(left) - len(missing)
        more = f" {_number(others)} other {'thing is' if others == 1 else 'things are'} open." if others else ""
        return f"MISSING: {listed([seen.name(person) for person in dict.fromkeys(missing)])}.{more}"
    if left:
        counts = {kind: sum(item.kind == kind for item in left) for kind in OpenKind}
        told = [f"{count} {_MANY[kind]}" if count > 1 else kind.value for kind, count in counts.items() if count]
        return f"{_number(len(left))} {'thing is' if len(left) == 1 else 'things are'} open: {listed(told)}."
    if not sessions:
        return "No session on this day: nothing to close."
    if items or not made:
        return f"Nothing is open: {'close the day' if may_ask(Act.CLOSE) else 'the day can be closed'}."
    return "The day is closed, and nothing is open."


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _span_words(session: Session) -> str:
    return f"{session.start.local:%H:%M} to {session.end.local:%H:%M}"
