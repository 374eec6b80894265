"""What a unit's own three cells say together: two that agree outvote the third, whichever of them is right.

Only cells that were read together are compared. The vote is the mean of the nearest two (common practice); units
differ, and the manual says how this one does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from course.assessment.unit_readings import Judged, judged
from course.physics.cells import voted
from course.physics.gas import SLACK
from course.physics.registry import REGISTRY
from course.physics.result import Result
from course.record.unit_facts import Reading
from course.words import ReadingKind, listed, plural

VOTERS = 3
_TOGETHER = timedelta(hours=2)
_LEAST, _MOST = 0.95, 1.05
"""What counts as straight: an example of common practice, as everywhere in `unit_readings`."""
_DISPLAY = 0.005


@dataclass(frozen=True)
class Vote:
    """What the last reading of three cells says of their vote."""

    what: ReadingKind
    told: str
    outvoted: bool
    """Two cells that are wrong agree, and are believed against one that is not, or all three are wrong."""
    gains: tuple[float, ...] = ()
    """What share of the PO2 each cell reads, in the order of the cells; empty where no PO2 is known."""
    po2: float | None = None


@dataclass(frozen=True)
class _Cell:
    number: int
    shown: float
    least: float
    most: float

    @property
    def right(self) -> bool:
        return self.least - SLACK <= self.shown <= self.most + SLACK


def votes(readings: Iterable[Reading]) -> tuple[Vote, ...]:
    """Return what the vote of the cells hides by the last readings above the set point, in gas and after a flush."""
    found = []
    everything = tuple(readings)
    for what, tell in ((ReadingKind.CELL_HIGH, _above), (ReadingKind.CELL_GAS, _in_gas), (ReadingKind.FLUSH, _flush)):
        last = _read_together([one for one in everything if one.what == what and one.cell])
        told = [one for one in map(judged, last) if one.drawn is not None]
        if len(told) == VOTERS:
            found.append(tell(told))
        elif len(told) == VOTERS - 1:
            told_of = f"Only {plural(len(told), 'cell')} were read together {_WHERE[what]}: what a vote of three hides"
            found.append(Vote(what, f"{told_of} nobody can say.", outvoted=False))
    return tuple(found)


_WHERE = {
    ReadingKind.CELL_HIGH: "above the set point",
    ReadingKind.CELL_GAS: "in calibration gas",
    ReadingKind.FLUSH: "after a flush",
}


def _read_together(own: Sequence[Reading]) -> list[Reading]:
    """The last reading of each cell, of those that were made within two hours of the newest; in order of the cells."""
    if not own:
        return []
    newest = max(one.observed.moment for one in own)
    last = {one.cell: one for one in own if newest - one.observed.moment <= _TOGETHER}
    return [last[cell] for cell in sorted(last, key=lambda cell: cell or 0)]


def _above(told: list[Judged]) -> Vote:
    """Above the set point a PO2 is known, so that the vote is told in bar, and what a loop held by it would be at."""
    at = [_known(one) for one in told]
    po2, set_point = at[0]["po2_check"], at[0]["set_point"]
    if max(one["po2_check"] for one in at) - min(one["po2_check"] for one in at) > _DISPLAY:
        return Vote(
            ReadingKind.CELL_HIGH, "The cells were not read at one PO2: no vote can be told of them.", outvoted=False
        )
    gains = tuple(float(one.drawn or 0) for one in told)
    cells = [
        _Cell(number, gain * po2, _LEAST * po2, _MOST * po2) for number, gain in zip(_numbers(told), gains, strict=True)
    ]
    wrong, said = _said(cells, f"at a PO2 of {po2:.2f} bar", "bar")
    if wrong:
        said += f" {_hidden(po2, float(voted([one.shown for one in cells])))} {_held(set_point, gains, cells)}"
    return Vote(ReadingKind.CELL_HIGH, said, wrong, gains, po2)


def _hidden(po2: float, vote: float) -> str:
    return f"Believed, the unit shows {vote:.2f} bar where there are {po2:.2f}."


def _held(set_point: float, gains: Sequence[float], cells: Sequence[_Cell]) -> str:
    """Where a set point that is held by the vote would really be."""
    answer = REGISTRY["voted-po2"].point(
        set_point=set_point, **{f"gain_{number}": gain for number, gain in enumerate(gains, 1)}
    )
    if not isinstance(answer, Result):
        return answer.reason
    told = f"Held by them at a set point of {set_point:.2f} the loop would be at {answer.told}"
    if float(voted([one.shown for one in cells])) < set_point - SLACK:
        return (
            f"{told} if they read low by a share; if they have stopped there they never show the set point, and oxygen "
            "is added without end."
        )
    return f"{told}."


def _in_gas(told: list[Judged]) -> Vote:
    """Calibration makes every cell show the gas's PO2, so that the share is all there is to tell."""
    cells = [
        _Cell(number, float(one.drawn or 0), _LEAST, _MOST) for number, one in zip(_numbers(told), told, strict=True)
    ]
    wrong, said = _said(cells, "of what their readings in air lead to", "")
    if wrong:
        said += " Calibrated in this gas all three show the same; only a PO2 above the set point tells them apart."
    return Vote(ReadingKind.CELL_GAS, said, wrong)


def _flush(told: list[Judged]) -> Vote:
    """After a flush what the cells ought to show is a band."""
    cells = [
        _Cell(number, float(one.drawn or 0), (one.least or 0) - _DISPLAY, (one.most or 0) + _DISPLAY)
        for number, one in zip(_numbers(told), told, strict=True)
    ]
    least, most = max(one.least or 0 for one in told), min(one.most or 0 for one in told)
    wrong, said = _said(cells, f"where {least:.2f} to {most:.2f} bar are expected", "bar")
    if wrong:
        vote = float(voted([one.shown for one in cells]))
        said += f" Believed, the unit shows {vote:.2f} bar there."
    return Vote(ReadingKind.FLUSH, said, wrong)


def _said(cells: list[_Cell], where: str, unit: str) -> tuple[bool, str]:
    """Whether the vote is wrong, and the sentence about it."""
    wrong = [one for one in cells if not one.right]
    if not wrong:
        told = f"All three cells show what is expected, {_shown(cells, unit)} {where}: here their vote hides nothing."
        return False, f"{told} What they do at a higher PO2 this does not say."
    vote = float(voted([one.shown for one in cells]))
    if all(one.least - SLACK <= vote <= one.most + SLACK for one in cells):
        verb = "shows" if len(wrong) == 1 else "show"
        return False, (
            f"{_names(wrong)} {verb} {_shown(wrong, unit)} {where}, and the vote is still right. A second one that is "
            "wrong like it would outvote the good one."
        )
    odd = _odd(cells)
    if odd is None:
        middle = sorted(cells, key=lambda one: one.shown)[1]
        return True, (
            f"The cells show {_shown(cells, unit)} {where}: no two agree, and cell {middle.number} in the middle is "
            "believed."
        )
    pair = [one for one in cells if one is not odd]
    if odd.right:
        third = f"outvote cell {odd.number}, which shows {_shown([odd], unit)}"
        return True, f"{_names(pair)} agree on {_shown(pair, unit)} {where} and {third}."
    return True, f"The cells show {_shown(cells, unit)} {where}: {_names(pair).lower()} are nearest and are believed."


def _odd(cells: Sequence[_Cell]) -> _Cell | None:
    """The one that is farther from the middle than the other end is; None where both are as far."""
    low, middle, high = sorted(cells, key=lambda one: one.shown)
    below, above = middle.shown - low.shown, high.shown - middle.shown
    if abs(below - above) < SLACK:
        return None
    return high if below < above else low


def _names(cells: Sequence[_Cell]) -> str:
    word = "Cell" if len(cells) == 1 else "Cells"
    return f"{word} {listed([str(one.number) for one in cells])}"


def _shown(cells: Sequence[_Cell], unit: str) -> str:
    return f"{listed([f'{one.shown:.2f}' for one in cells])} {unit}".rstrip()


def _numbers(told: Sequence[Judged]) -> list[int]:
    return [one.reading.cell or 0 for one in told]


def _known(one: Judged) -> dict[str, float]:
    return {amount.key: float(amount.value) for amount in one.reading.amounts}
