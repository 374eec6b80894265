"""What happened to the demo centre's units, in the order of time: care, readings, planted faults, answers, lists."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from course.actions import faults, unit_care
from course.actions.readings import take_reading
from course.moments import Observed
from course.sample.files import Files, amounts_of
from course.sample.tables import Row
from course.storage.ledger import Ledger
from course.words import Care, ReadingKind, SlipAnswer, SlipKind


@dataclass(frozen=True)
class Act:
    """One thing that somebody did, with its line in a table. Of two at one minute the lower `place` came first."""

    when: datetime
    place: int
    row: Row
    what: str
    do: Callable[[], object]


@dataclass
class UnitActs:
    """Makes the acts from the tables; keeps the id of each slip as it is made."""

    ledger: Ledger
    files: Files
    people: Mapping[str, str]
    units: Mapping[str, str]
    sessions: Mapping[str, str]
    slips: dict[str, str] = field(default_factory=dict)

    def in_order(self) -> list[Act]:
        """Everything that was done, by time."""
        acts = [*map(self._care, self.files.care), *map(self._reading, self.files.readings)]
        acts += map(self._answer, self.files.answers)
        acts += [act for key, row in self.files.slips.items() for act in self._slip(key, row)]
        acts += self._passed()
        return sorted(acts, key=lambda act: (act.when, act.place))

    def _care(self, row: Row) -> Act:
        done, cells = row.moment("done"), row.cells

        def do() -> object:
            return unit_care.record_care(
                self.ledger,
                self.people[cells["by"]],
                self.units[cells["unit"]],
                row.choice("what", Care),
                done,
                good_until=cells["good_until"] or None,
                good_minutes=row.number("good_minutes") if cells["good_minutes"] else None,
            )

        return Act(done.moment, 0, row, "care", do)

    def _reading(self, row: Row) -> Act:
        cells, read = row.cells, row.moment("read")

        def do() -> object:
            return take_reading(
                self.ledger,
                self.people[cells["by"]],
                self.units[cells["unit"]],
                row.choice("what", ReadingKind),
                amounts_of(row),
                read,
                cell=row.number("cell") if cells["cell"] else None,
            )

        return Act(read.moment, 0, row, "readings", do)

    def _slip(self, key: str, row: Row) -> Iterator[Act]:
        cells, planted = row.cells, row.moment("planted")

        def plant() -> None:
            self.slips[key] = faults.set_fault(
                self.ledger,
                self.people[cells["by"]],
                session=self.sessions[cells["session"]],
                how=SlipKind.PLANTED,
                fault=cells["fault"],
                observed=planted,
                unit=self.units[cells["unit"]],
                for_whom=[self.people[one] for one in self.files.members(row, "for_whom")],
                bag=cells["bag"] or None,
            )

        yield Act(planted.moment, 1, row, "fault slips", plant)
        if cells["cleared"]:
            cleared, by = row.moment("cleared"), self.people[cells["cleared_by"]]
            yield Act(
                cleared.moment, 3, row, "", lambda: faults.clear_fault(self.ledger, by, self.slips[key], cleared)
            )  # fmt: skip

    def _answer(self, row: Row) -> Act:
        cells, at = row.cells, row.moment("at")

        def do() -> None:
            faults.answer_fault(
                self.ledger,
                self.people[cells["by"]],
                self.slips[cells["slip"]],
                self.people[cells["person"]],
                row.choice("answer", SlipAnswer),
                at,
            )

        return Act(at.moment, 2, row, "fault answers", do)

    def _passed(self) -> Iterator[Act]:
        """A list is passed once for a unit, however many faults were in it."""
        lists: dict[tuple[str, str], tuple[Row, Observed]] = {}
        for row in self.files.slips.values():
            if row.cells["passed"]:
                at = row.moment("passed")
                lists.setdefault((row.cells["unit"], at.utc), (row, at))
        for (unit, _), (row, at) in lists.items():
            yield self._pass(self.units[unit], row, at)

    def _pass(self, unit: str, row: Row, at: Observed) -> Act:
        by = self.people[row.cells["passed_by"]]
        return Act(
            at.moment, 4, row, "", lambda: faults.pass_list_again(self.ledger, by, unit, at, passed_by=by)
        )  # fmt: skip
