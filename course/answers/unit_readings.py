"""What was read of a unit: each reading with what it says, the pictures over its history, and how its cells move."""

from __future__ import annotations

from dataclasses import dataclass

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import at_words, day_words
from course.asker import question
from course.assessment.cell_votes import Vote, votes
from course.assessment.unit_readings import HOW, Judged, drift, judged, last_outside, title
from course.hours.unit_time import in_force
from course.moments import training_day
from course.physics import pictures
from course.physics.field_names import inside, named
from course.physics.pictures import Picture
from course.physics.registry import REGISTRY
from course.physics.result import DEFERS
from course.record.facts import Attempt, Sheet, Unit
from course.record.unit_facts import Reading
from course.standards.rubric import Step
from course.storage.ledger import Ledger
from course.words import READING_WORDS, Care, ReadingKind, listed, plural

READINGS_CAUTION = (
    f"{DEFERS} Bounds of common practice are examples. A reading inside its bounds does not say that a unit is fit, "
    "and none of them permits a dive. The manual says which readings are good and when a cell is replaced."
)


@dataclass(frozen=True)
class ReadingLine:
    """One reading in words."""

    reading: str
    event: str
    sentence: str
    """ "Thu 22 Oct 13:40, Bruno Ashkenar. Cell 2 in air: ..." """
    outside: bool | None


@dataclass(frozen=True)
class Point:
    """One reading in a picture."""

    when: str
    """UTC."""
    value: float
    cell: str
    outside: bool
    least: float | None
    most: float | None


@dataclass(frozen=True)
class ReadingPicture:
    """One kind of reading over a unit's history."""

    what: ReadingKind
    finding: str
    unit: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class VoteLine:
    """What the vote of a unit's own three cells hides, with its picture where a PO2 is known."""

    sentence: str
    outvoted: bool
    picture: Picture | None


@dataclass(frozen=True)
class UnitReadings:
    """Everything that was read of a unit, the newest first."""

    sentence: str
    lines: tuple[ReadingLine, ...]
    pictures: tuple[ReadingPicture, ...]
    age: str
    """How old its cells were at the last reading of them; empty where nobody can say."""
    drift: tuple[str, ...]
    votes: tuple[VoteLine, ...]
    grounds: tuple[str, ...]
    """For each kind that was read: what its number is, where it holds, from where it is, and its own cautions."""
    caution: str = READINGS_CAUTION


@dataclass(frozen=True)
class StepChoice:
    """A step of an open attempt on this unit for which a reading can be the value."""

    attempt: str
    sheet: str
    step: str
    words: str


@question(Sight.UNITS)
def unit_readings(ledger: Ledger, seen: CourseView, unit_id: str) -> UnitReadings:
    """Return what was read of a unit of this centre, in whatever course."""
    unit = seen.units[unit_id]
    notes = {event: fields.get("note") for event, fields in ledger.private(unit).get("by_event", {}).items()}
    told = [judged(one) for one in unit.readings]
    cells = dict.fromkeys(one.cell for one in unit.readings if one.what == ReadingKind.CELL_AIR)
    return UnitReadings(
        sentence=_sentence(unit, told),
        lines=tuple(_line(seen, one, notes.get(one.reading.event)) for one in reversed(told)),
        pictures=tuple(_pictures(told)),
        age=_age(unit),
        drift=tuple(drift(unit.readings, cell, seen.course.zone) for cell in sorted(cells, key=lambda cell: cell or 0)),
        votes=tuple(map(_vote, votes(unit.readings))),
        grounds=tuple(map(grounds_of, sorted({one.what for one in unit.readings}, key=list(ReadingKind).index))),
    )


def grounds_of(what: ReadingKind) -> str:
    """Return where what a kind of reading says holds and is from, with its quantity's cautions."""
    quantity = REGISTRY[HOW[what].quantity]
    named = READING_WORDS[what][0].upper() + READING_WORDS[what][1:]
    return " ".join((f"{named}: valid {quantity.validity}. Source: {quantity.source}.", *quantity.cautions))


def _vote(one: Vote) -> VoteLine:
    quantity, picture = REGISTRY["voting-hides"], None
    if one.outvoted and one.po2 is not None:
        given = {"po2": one.po2, **{f"gain_{place}": gain for place, gain in enumerate(one.gains, 1)}}
        picture = pictures.picture(quantity, given) if quantity.point(**given).has_number else None
    return VoteLine(one.told, one.outvoted, picture)


def _age(unit: Unit) -> str:
    read = [one.observed for one in unit.readings if one.what == ReadingKind.CELL_AIR]
    last = max(read, key=lambda one: one.utc, default=None)
    fitted = in_force(unit, Care.CELLS, training_day(last)) if last else None
    if last is None or fitted is None:
        return ""
    day = training_day(fitted.observed)
    days = plural((training_day(last) - day).days, "day")
    return (
        f"New cells went in on {day_words(day)}, {days} before the last reading in air. A manual may count from the "
        "day that stands on the cell."
    )


@question(Sight.UNITS)
def steps_for_reading(seen: CourseView, unit_id: str, observer: str, what: ReadingKind) -> tuple[StepChoice, ...]:
    """Return the steps of open attempts on a unit, on an observer's own sheets, that a kind of reading belongs to."""
    return tuple(
        StepChoice(attempt.id, sheet.id, step.id, f"{seen.name(attempt.student)}: {step.do}")
        for attempt in seen.attempts
        if attempt.unit == unit_id and attempt.ending is None and not attempt.withdrawn
        for sheet in _own(attempt, observer)
        for step in _steps(seen, attempt)
        if step.reading == what and step.limit is not None
    )


def _own(attempt: Attempt, observer: str) -> tuple[Sheet, ...]:
    return tuple(sheet for sheet in attempt.sheets if sheet.observer == observer)


def _steps(seen: CourseView, attempt: Attempt) -> tuple[Step, ...]:
    skill = seen.adopted.standards.skills.get(attempt.skill)
    return skill.steps if skill and seen.adopted.hashes.get(attempt.skill) == attempt.rubric else ()


def _sentence(unit: Unit, told: list[Judged]) -> str:
    outside = [title(one.reading) for one in last_outside(unit.readings)]
    if not told:
        return f"Nothing was read of {unit.label} yet."
    if not outside:
        return f"{plural(len(told), 'reading')} of {unit.label}; no last one is outside its bounds."
    verb = "is" if len(outside) == 1 else "are"
    return f"{unit.label}: {listed(outside)} {verb} outside the bounds at the last reading. Think of a hold."


def _line(seen: CourseView, one: Judged, note: str | None) -> ReadingLine:
    reading = one.reading
    head = f"{at_words(reading.observed.local, seen.last_day)}, {seen.name(reading.taken_by)}."
    told = {HOW[reading.what].shown, "least", "most"}  # the sentence has them already
    beside = [one for one in reading.amounts if one.key not in told]
    given = ", ".join(
        f"{inside(named(one.key))} {one.value} {one.unit.replace('degC', '°C')}".rstrip() for one in beside
    )
    sentence = " ".join((head, one.told, *([f"With {given}."] if given else []), *([note] if note else [])))
    return ReadingLine(reading.id, reading.event, sentence, one.outside)


def _pictures(told: list[Judged]) -> list[ReadingPicture]:
    found = []
    for what in ReadingKind:
        own = [one for one in told if one.reading.what == what and one.drawn is not None]
        if len({one.reading.observed.utc for one in own}) > 1:  # one moment is no picture
            wrong = sum(bool(one.outside) for one in own)
            finding = (
                f"{READING_WORDS[what].capitalize()}: {wrong} of {plural(len(own), 'reading')} outside the bounds."
            )
            points = tuple(_point(one.reading, one, one.drawn) for one in own if one.drawn is not None)
            found.append(ReadingPicture(what, finding, own[0].unit or "share", points))
    return found


def _point(reading: Reading, one: Judged, value: float) -> Point:
    cell = f"cell {reading.cell}" if reading.cell else "unit"
    return Point(reading.observed.utc, value, cell, bool(one.outside), one.least, one.most)
