"""What a reading of a unit says: the registered quantity behind it, and whether it is outside its bounds.

The manual rules on every bound. Those of common practice (0.95 to 1.05) are examples and named so; a manual's own are
written down with the reading. A reading never says that a unit is fit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from course.errors import RefusedError
from course.physics.cells import CellReading
from course.physics.gas import SLACK
from course.physics.quantity import Input, Quantity
from course.physics.registry import REGISTRY
from course.physics.result import Answer, Band, NoResult, Result
from course.record.unit_facts import Reading
from course.words import READING_WORDS, ReadingKind

_SEEN = 0.005
"""Half of the last digit that a display of PO2 shows."""


@dataclass(frozen=True)
class Judged:
    """One reading as its quantity judges it."""

    reading: Reading
    told: str
    """What was read and what that is worth, as a sentence without who and when."""
    outside: bool | None
    """Outside its bounds; None where nobody can tell."""
    drawn: float | None
    unit: str
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True)
class How:
    """How one kind of reading is judged, and what beside the quantity's inputs is written down with it."""

    quantity: str
    shown: str
    """The key of what the unit showed."""
    own: tuple[Input, ...]
    judge: Callable[[Reading, Mapping[str, float], Answer], Judged]
    each: tuple[str, ...] = ()
    """The keys of which every cell has a number of its own; the rest holds for all that are read together."""


def fields(what: ReadingKind) -> tuple[Input, ...]:
    """Return what is written down for a kind of reading, with units and ranges; bands are left to their usual ends."""
    how = HOW[what]
    inputs = [one for one in REGISTRY[how.quantity].inputs if isinstance(one, Input) and not one.banded]
    return (*inputs, *how.own)


def title(reading: Reading) -> str:
    """Return what was read, in a few words: "cell 2 in air"."""
    words = READING_WORDS[reading.what]
    return words.replace("cell", f"cell {reading.cell}", 1) if reading.cell else words


def judged(reading: Reading) -> Judged:
    """Return what a reading says."""
    how = HOW[reading.what]
    known = {one.key: float(one.value) for one in reading.amounts}
    inputs = {one.key for one in REGISTRY[how.quantity].inputs}
    try:
        answer = REGISTRY[how.quantity].answer(**{key: value for key, value in known.items() if key in inputs})
    except RefusedError as refusal:  # from a file, with something left out
        return Judged(reading, _sentence(reading, str(refusal)), None, None, "")
    return how.judge(reading, known, answer)


def last_outside(readings: Iterable[Reading]) -> tuple[Judged, ...]:
    """Return what was outside its bounds the last time that it was read, of each kind and cell."""
    last = {(one.what, one.cell): one for one in readings}
    return tuple(told for told in map(judged, last.values()) if told.outside)


def drift(readings: Iterable[Reading], cell: int | None, zone: str) -> str:
    """Return how a cell's reading in air moves over the unit's history, or why nobody can say."""
    quantity = REGISTRY["cell-drift"]
    found = []
    for one in readings:
        told = judged(one) if one.what == ReadingKind.CELL_AIR and one.cell == cell else None
        if told and told.drawn is not None:
            day = datetime.fromisoformat(one.observed.utc).astimezone(ZoneInfo(zone)).date()
            found.append(CellReading(day, told.drawn))
    name = f"Cell {cell}" if cell else "The cell"
    answer = quantity.point(readings=tuple(found))
    if isinstance(answer, NoResult):
        return f"{name}: {answer.reason}"
    return f"{name} moves by {answer.told} in 30 days, over {len(found)} readings in air."


def _sentence(reading: Reading, said: str) -> str:
    name = title(reading)
    return f"{name[0].upper()}{name[1:]}: {said}"


def _no_number(reading: Reading, answer: Answer) -> Judged:
    reasons = (answer.reason,) if isinstance(answer, NoResult) else answer.reasons if isinstance(answer, Band) else ()
    return Judged(reading, _sentence(reading, " ".join(reasons)), None, None, "")


def _of_air(reading: Reading, known: Mapping[str, float], answer: Answer) -> Judged:
    if not isinstance(answer, Result):
        return _no_number(reading, answer)
    least, most = known.get("least"), known.get("most")
    said = f"{known['mv_air']:g} mV, {answer.told} as in dry air at 1.01325 bar"
    if least is None and most is None:
        return Judged(
            reading, _sentence(reading, f"{said}. The manual's bounds were not written down."), None, answer.exact,
            answer.unit,
        )  # fmt: skip
    low = least is not None and answer.exact < least - SLACK
    outside = low or (most is not None and answer.exact > most + SLACK)
    bounds = f"{least:g} to {most:g}" if least is not None and most is not None else f"{least or most:g}"
    verdict = "outside" if outside else "within"
    return Judged(
        reading, _sentence(reading, f"{said}, {verdict} the manual's {bounds} mV."), outside, answer.exact, answer.unit,
        least, most,
    )  # fmt: skip


def _of_share(least: float, most: float | None) -> Callable[[Reading, Mapping[str, float], Answer], Judged]:
    def judge(reading: Reading, known: Mapping[str, float], answer: Answer) -> Judged:
        if not isinstance(answer, Result):
            return _no_number(reading, answer)
        outside = answer.exact < least - SLACK or (most is not None and answer.exact > most + SLACK)
        shown = known.get("mv_gas", known.get("mv_check", 0.0))
        within = f"Within {least:g} to {most:g}, an example." if most else f"Not below {least:g}, an example."
        said = f"{shown:g} mV, {answer.told} of what a straight cell shows. {answer.meaning or within}"
        return Judged(reading, _sentence(reading, said), outside, answer.exact, answer.unit, least, most)

    return judge


def _of_flush(reading: Reading, known: Mapping[str, float], answer: Answer) -> Judged:
    if not isinstance(answer, Band) or answer.lowest is None or answer.highest is None:
        return _no_number(reading, answer)
    shown, low, high = known["shown"], answer.lowest.exact, answer.highest.exact
    outside = not low - _SEEN <= shown <= high + _SEEN
    verdict = "Cell, gas or flush is not what it was taken for." if outside else "As it should."
    said = f"{shown:.2f} bar shown, {answer.told} expected. {verdict}"
    return Judged(reading, _sentence(reading, said), outside, shown, "bar", low, high)


def _of_test(reading: Reading, known: Mapping[str, float], answer: Answer) -> Judged:
    if not isinstance(answer, Result):
        return _no_number(reading, answer)
    allowed = known["allowed"]
    said = f"{answer.told} lost in {known['watched']:g} s that temperature does not explain. {answer.meaning}"
    return Judged(
        reading, _sentence(reading, said), answer.exact > allowed, answer.exact, answer.unit, None, allowed
    )  # fmt: skip


_LEAST = Input("least", "least by the manual, in dry air at 1.01325 bar", "mV", 0, 500, optional=True)
_MOST = Input("most", "most by the manual, in dry air at 1.01325 bar", "mV", 0, 500, optional=True)
_SHOWN = Input("shown", "PO2 that the cell shows after the flush", "bar", 0, 3)
HOW: dict[ReadingKind, How] = {
    ReadingKind.CELL_AIR: How("cell-sea-level-mv", "mv_air", (_LEAST, _MOST), _of_air, ("mv_air",)),
    ReadingKind.CELL_GAS: How("cell-straightness", "mv_gas", (), _of_share(0.95, 1.05), ("mv_air", "mv_gas")),
    ReadingKind.CELL_HIGH: How("cell-limit", "mv_check", (), _of_share(0.95, None), ("mv_calibration", "mv_check")),
    ReadingKind.FLUSH: How("flush-po2", "shown", (_SHOWN,), _of_flush, ("shown",)),
    ReadingKind.POSITIVE: How("positive-test", "watched", (), _of_test),
    ReadingKind.NEGATIVE: How("negative-test", "watched", (), _of_test),
}
"""What is read, the quantity that judges it, and the key whose value a step of a skill may ask for."""


def quantity_of(what: ReadingKind) -> Quantity:
    """Return the quantity that judges a kind of reading."""
    return REGISTRY[HOW[what].quantity]
