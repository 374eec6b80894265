"""What was seen and agreed of the demo centre's people: proofs, consents, exams and gaps, adjustments, interests."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from course.actions import gate_papers
from course.sample.files import Files
from course.sample.tables import Row
from course.storage.ledger import Ledger

BEFORE = ("proofs.csv", "consents.csv")
"""Tables whose acts come before anybody is enrolled."""
AFTER = ("exams.csv", "adjustments.csv", "interests.csv")


@dataclass(frozen=True)
class PaperActs:
    """Makes the acts of one line of a table."""

    ledger: Ledger
    files: Files
    course: str
    people: Mapping[str, str]
    sessions: Mapping[str, str]

    def do(self, table: str, row: Row) -> None:
        """Do what one line of a table says."""
        acts: dict[str, Callable[[Row], None]] = {
            "proofs.csv": self._proof,
            "consents.csv": self._consent,
            "exams.csv": self._exam,
            "adjustments.csv": self._adjustment,
            "interests.csv": self._interest,
        }
        acts[table](row)

    def _proof(self, row: Row) -> None:
        cells = row.cells
        gate_papers.note_proof(
            self.ledger, self.people[cells["seen_by"]], self.course, self.people[cells["person"]],
            cells["prerequisite"], cells["day"], good_until=cells["good_until"] or None,
            cleared=cells["cleared"] == "yes" if cells["cleared"] else None, paper=cells["paper"] or None,
        )  # fmt: skip

    def _consent(self, row: Row) -> None:
        cells = row.cells
        gate_papers.note_consent(
            self.ledger, self.people[cells["seen_by"]], self.course, self.people[cells["person"]],
            stages=cells["stages"].split(), day=cells["day"], until=cells["until"] or None, guardian=cells["guardian"],
        )  # fmt: skip

    def _exam(self, row: Row) -> None:
        cells, person = row.cells, self.people[row.cells["person"]]
        missed = tuple(row.parts("missed"))
        exam = gate_papers.note_exam(
            self.ledger, self.people[cells["seen_by"]], self.course, person, day=cells["day"], mark=cells["mark"],
            of=cells["of"], items=missed, form=cells["form"] or None, session=self.sessions[cells["session"]],
        )  # fmt: skip
        for gap in range(1, len(missed) + 1 if cells["talked_day"] else 1):
            gate_papers.close_gap(
                self.ledger, self.people[cells["talked_by"]], person, exam, gap, day=cells["talked_day"],
                session=self.sessions[cells["talked_session"]],
            )  # fmt: skip

    def _adjustment(self, row: Row) -> None:
        cells = row.cells
        gate_papers.approve_adjustment(
            self.ledger, self.people[cells["approved_by"]], self.course, self.people[cells["person"]], cells["skill"],
            how=cells["how"], day=cells["day"], without=cells["without"].split(), waiver=cells["waiver"] or None,
        )  # fmt: skip

    def _interest(self, row: Row) -> None:
        cells = row.cells
        gate_papers.note_interest(
            self.ledger, self.people[cells["by"]], self.course, self.people[cells["person"]],
            self.people[cells["student"]], day=cells["day"], note=cells["note"],
        )  # fmt: skip
