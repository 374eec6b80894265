"""How sealing, checking and one course's page grow with the ledger.

    python tests/benchmarks/audit_file.py [EVENTS ...]     (10000 100000 unless given)

Invented courses of about 3,200 events each are laid out in one chain. Printed are seconds of the processor and its
microseconds an event, which must stay level as the ledger grows, and one course's page, which must not grow. The floor
of the same run: two SHA-256 for each event.
"""

from __future__ import annotations

import hashlib
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent))

from centre_builder import shipped_standards

from course.answers import course_view
from course.answers.audit import course_audit
from course.answers.centre_answer import centre as centre_of
from course.answers.missing import missing
from course.exchange.audit_check import check_file
from course.exchange.audit_file import seal
from course.exchange.bundle import open_bundle, write_bundle
from course.moments import new_id, observed_at, read_stored
from course.record import events as kinds
from course.record.chain import FIRST_PREV, Event, canonical, content_hash, event_hash
from course.record.facts import Course
from course.storage.laying_out import lay_out
from course.storage.ledger import Ledger, open_ledger
from course.storage.lookup import all_of
from course.words import Capacity, Closing, Mark, Role, SheetSource, SpanRole

ZONE, RECORDED = "Atlantic/Azores", "2026-10-26T09:00:00.000000Z"
SETTINGS = (("dry", 21), ("pool", 22), ("pool", 23), ("open_water", 24), ("open_water", 25))
STUDENTS, SKILLS = 6, 25
LAST_DAY = date(2026, 10, 25)


def _at(day: int, hour: int, minute: int = 0) -> Any:
    return observed_at(read_stored(f"2026-10-{day:02}T{hour:02}:{minute:02}:00.000000Z"), ZONE, "minute")


class _Centre:
    """An invented centre as a run of bodies."""

    def __init__(self) -> None:
        self.standards = shipped_standards()
        self.centre, self.lead, self.adoption = new_id(), new_id(), new_id()
        self.hashes = {s: content_hash(self.standards.written_skill(s)) for s in self.standards.skills}
        profile = self.standards.profile("ex-first-unit", "r1")
        self.skills = [self.standards.skills[s] for s in profile.required_skills[:SKILLS]]

    def first(self) -> Iterator[kinds.Body]:
        yield kinds.CentreMade(centre=self.centre, zone=ZONE, lead=self.lead)
        yield kinds.PersonAdded(person=self.lead, roles=(Role.LEAD,))
        yield kinds.RubricAdopted(adoption=self.adoption, files=self.standards.written)

    def course(self) -> Iterator[kinds.Body]:
        course, unit = new_id(), new_id()
        students = [new_id() for _ in range(STUDENTS)]
        yield from (kinds.PersonAdded(person=who, roles=(Role.STUDENT,)) for who in students)
        yield kinds.UnitAdded(unit=unit, unit_type="type-a")
        yield kinds.CourseMade(
            course=course, zone=ZONE, adoption=self.adoption, profile="ex-first-unit", revision="r1",
            first_day="2026-10-20", last_day="2026-10-25",
        )  # fmt: skip
        yield kinds.Enrolled(course=course, person=self.lead, role=Role.LEAD)
        for who in students:
            yield kinds.Enrolled(course=course, person=who, role=Role.STUDENT)
            yield kinds.UnitAssigned(course=course, person=who, unit=unit, unit_type="type-a", from_day="2026-10-20")
        for setting, day in SETTINGS:
            yield from self.session(course, unit, students, setting, day)

    def session(self, course: str, unit: str, students: list[str], setting: Any, day: int) -> Iterator[kinds.Body]:
        session, group = new_id(), new_id()
        start, end = _at(day, 13), _at(day, 16)
        yield kinds.SessionPlanned(session=session, course=course, setting=setting, start=start, end=end)
        yield kinds.GroupMade(session=session, group=group, staff=(self.lead,), students=tuple(students))
        for who in (self.lead, *students):
            role = SpanRole.TEACHING if who == self.lead else SpanRole.STUDENT
            yield kinds.SpanRecorded(
                session=session, span=new_id(), person=who, role=role, group=group, start=start, end=end
            )
        for student in students:
            for skill in self.skills:
                yield from self.attempt(course, session, unit, student, skill, setting, day)

    def attempt(
        self, course: str, session: str, unit: str, student: str, skill: Any, setting: Any, day: int
    ) -> Iterator[kinds.Body]:
        attempt, sheet, at = new_id(), new_id(), _at(day, 14)
        yield kinds.AttemptOpened(
            attempt=attempt, course=course, session=session, student=student, skill=skill.id,
            rubric=self.hashes[skill.id], unit=unit, unit_type="type-a", setting=setting, number=day - 20, observed=at,
        )  # fmt: skip
        yield kinds.SheetStarted(
            attempt=attempt, sheet=sheet, observer=self.lead, role=Role.LEAD, capacity=Capacity.EVALUATING,
            source=SheetSource.SLATE, observed=at,
        )  # fmt: skip
        marks = tuple(kinds.MarkGiven(step=step.id, mark=Mark.DONE) for step in skill.steps)
        yield kinds.MarksGiven(attempt=attempt, sheet=sheet, marks=marks, observed=at)
        yield kinds.AttemptClosed(attempt=attempt, how=Closing.COMPLETED, observed=at)


def _events(centre: _Centre, wanted: int) -> Iterator[Event]:
    """One chain of at least as many events, made one by one."""
    chain, device, prev, seq = new_id(), new_id(), FIRST_PREV, 0
    bodies = centre.first()
    while True:
        for body in bodies:
            seq += 1
            bare = Event(
                id=new_id(), centre=centre.centre, chain=chain, seq=seq, lamport=seq, device=device, actor=centre.lead,
                subject=body.subject, kind=body.kind, recorded_at=RECORDED,
                body=canonical(body.public_part()).decode(), prev=prev, hash="",
            )  # fmt: skip
            made = bare._replace(hash=event_hash(bare))
            prev = made.hash
            yield made
        if seq >= wanted:
            return
        bodies = centre.course()


def _timed(act: Callable[[], Any]) -> tuple[float, Any]:
    """Processor time: what else the machine does does not count, nor does waiting for the disk."""
    start = time.process_time()
    found = act()
    return time.process_time() - start, found


def _floor(ledger: Ledger) -> float:
    def hash_all() -> None:
        for one in ledger.chain_events():
            hashlib.sha256(hashlib.sha256(one.body.encode()).digest() + one.prev.encode()).digest()

    return _timed(hash_all)[0]


def _page(ledger: Ledger, course: str) -> tuple[float, float]:
    """One course's page, with what every page begins with, and its part of an audit, anew; the best of three."""

    def seen() -> Any:
        course_view._KEPT.clear()
        course_view._UNITS.clear()
        centre_of(ledger)
        return course_view.view(ledger, course)

    pages, parts = [], []
    for _ in range(3):
        pages.append(_timed(lambda: missing(view := seen(), view.students, LAST_DAY))[0])
        parts.append(_timed(lambda: course_audit(ledger, seen(), LAST_DAY))[0])
    return min(pages), min(parts)


def _tell(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


def _measure(wanted: int, place: Path) -> None:
    centre, folder = _Centre(), place / "centre"
    folder.mkdir()
    made, _ = _timed(lambda: lay_out(folder, centre.centre, _events(centre, wanted)))
    with open_ledger(folder) as ledger:
        count, floor = ledger.count_events(), _floor(ledger)
        courses = all_of(ledger, Course)
        page, part = _page(ledger, courses[len(courses) // 2].id)
        written, _ = _timed(lambda: write_bundle(place / "b.zip", ledger.centre_id, ledger.chain_events()))
        read, bundle = _timed(lambda: open_bundle(place / "b.zip"))
        with bundle:
            pass
        size = (place / "b.zip").stat().st_size / 1e6
        _tell(f"{count} events, {len(courses)} courses; laid out in {made:.0f} s; bundle {size:.0f} MB")
        _tell(f"  one course's page {page * 1e3:.0f} ms; its part of an audit {part * 1e3:.0f} ms")
        for what, taken in (("bundle written", written), ("bundle read", read)):
            _tell(f"  {what}: {taken / count * 1e6:.0f} us an event; {taken / floor:.1f}x the floor")
        for what, act in (
            ("one course sealed", lambda: seal(ledger, place / "one.zip", course=courses[0].id, as_of=LAST_DAY)),
            ("all sealed", lambda: seal(ledger, place / "all.zip", as_of=LAST_DAY)),
            ("all checked", lambda: check_file(place / "all.zip")),
        ):
            taken, found = _timed(act)
            assert getattr(found, "fine", True), found.findings
            most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
            each = f"{taken / count * 1e6:.0f} us an event; {taken / floor:.1f}x the floor"
            _tell(f"  {what}: {taken:.1f} s, {each}; {most:.0f} MB")


def main() -> None:
    """Measure and print."""
    for wanted in [int(text) for text in sys.argv[1:]] or [10_000, 100_000]:
        with tempfile.TemporaryDirectory() as place:
            os.environ["LOOPLEDGER_STATE"] = f"{place}/device"
            _measure(wanted, Path(place))


if __name__ == "__main__":
    main()
