"""A unit's history: who dived it, its care, readings, holds and faults, and its minutes on one course."""

from __future__ import annotations

from datetime import date

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import at_words, day_words
from course.answers.faults import slips
from course.answers.filed_paper import UNIT_HISTORY, FiledLine, FiledPaper, FiledSection, plain_lines
from course.answers.hours import hours
from course.answers.unit_readings import READINGS_CAUTION, unit_readings
from course.answers.unit_until import end_of, view_until
from course.answers.units import CAUTION, units_answer
from course.asker import question
from course.errors import NotFoundError
from course.record.facts import Unit
from course.storage.ledger import Ledger
from course.words import CARE_WORDS, plural

FOOT = f"A unit's record. It certifies nobody. For trainers: it names planted faults. {CAUTION}"


@question(Sight.FILED_FILE)
def unit_history(ledger: Ledger, whole: CourseView, unit: str, as_of: date | None) -> FiledPaper:
    """Return everything that is known of one unit up to the end of a day; its minutes are those of one course.

    Args:
        ledger: the ledger.
        whole: the course.
        unit: its id.
        as_of: the day; None for a paper of before it was asked for one, which tells all there is.

    Raises:
        NotFoundError: there is no such unit.
    """
    seen, until = (view_until(whole, as_of), end_of(whole, as_of)) if as_of else (whole, None)
    card = next((one for one in units_answer(ledger, seen, until).units if one.unit == unit), None)
    if card is None:
        raise NotFoundError("There is no such unit in this centre. Nothing was printed.")
    read = unit_readings(ledger, seen, unit)
    faults = [one for one in slips(ledger, seen, until=until) if one.unit == unit]
    holds = [FiledLine(f"{one.sentence} {one.missing}", critical=True) for one in card.holds]
    readings = tuple(FiledLine(one.sentence, critical=bool(one.outside)) for one in read.lines)
    voted = [one.sentence for one in read.votes]
    note = " ".join(filter(None, (read.age, *read.drift, *voted, READINGS_CAUTION)))
    return FiledPaper(
        kind=UNIT_HISTORY,
        centre=seen.centre.name,
        about=card.label,
        sentence=f"{card.label}: {card.state.value}{f': {card.line}' if card.line else ''}. It is not said to be fit.",
        facts=(
            ("Type", "; ".join(filter(None, (card.unit_type, ", ".join(card.features))))),
            ("Serial", card.serial or "not entered"),
            *((("As of", f"{day_words(as_of)}; what was done or read later is left out"),) if as_of else ()),
            (
                "Course",
                f"{seen.course.title}: holders, minutes and faults are of it, all else of its whole time",
            ),
        ),
        sections=(
            FiledSection("What does not fit", _bars(card.findings), nothing="Nothing was found."),
            FiledSection("Dates and fillings", tuple(FiledLine(c.sentence, critical=c.lapsed) for c in card.care)),
            FiledSection("Holds", (*holds, *plain_lines(card.past_holds)), nothing="It was never on hold."),
            _care(seen, seen.units[unit], as_of or whole.last_day),
            FiledSection("Readings, the newest first", readings, note, "Nothing was read of it."),
            FiledSection("Faults set for training", plain_lines(f.sentence for f in faults), nothing="None was set."),
            FiledSection("Who dives it", plain_lines(f"{one}." for one in card.holders), nothing="Nobody."),
            _minutes(whole, card.label, as_of or whole.last_day),
        ),
        caution=FOOT,
        head=seen.head,
        asked=(
            *(("course", seen.course.id), ("unit", unit)),
            *((("as_of", as_of.isoformat()),) if as_of else ()),
        ),
    )


@question(Sight.FILED_FILE)
def find_unit(seen: CourseView, wanted: str) -> str:
    """Return a unit's id by its label or id.

    Raises:
        NotFoundError: no unit has it.
    """
    fits = [one.id for one in seen.units.values() if wanted.strip().casefold() in (one.label.casefold(), one.id)]
    if len(fits) != 1:
        labels = ", ".join(sorted(one.label for one in seen.units.values()))
        raise NotFoundError(f"No one unit is called {wanted!r}. There are: {labels}. Nothing was printed.")
    return fits[0]


def _bars(sentences: tuple[str, ...]) -> tuple[FiledLine, ...]:
    return tuple(FiledLine(one, critical=True) for one in sentences)


def _care(seen: CourseView, unit: Unit, as_of: date) -> FiledSection:
    lines = []
    for one in sorted(unit.care, key=lambda care: care.observed.utc, reverse=True):
        until = f", good until {day_words(date.fromisoformat(one.good_until))}" if one.good_until else ""
        until += f", good for {one.good_minutes} min" if one.good_minutes else ""
        text = f"by {seen.name(one.done_by)}{until}."
        lines.append(FiledLine(text, CARE_WORDS[one.what].capitalize(), at_words(one.observed.local, as_of)))
    return FiledSection("Care, the newest first", tuple(lines), nothing="No care is entered.")


def _minutes(seen: CourseView, label: str, as_of: date) -> FiledSection:
    """The same minutes as the Hours page has for the unit."""
    own = [one for one in hours(seen, as_of).units if one.label == label]
    lines = [FiledLine(f"{plural(o.times, 'time')} in water", figures=(str(o.loop), str(o.bailout))) for o in own]
    return FiledSection("Minutes in water", tuple(lines), "", "None is written down.", ("loop", "bailout"))
