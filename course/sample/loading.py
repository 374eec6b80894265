"""Make the demo centre as people would make it, act by act, in a folder that shows only when it is whole."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from course import places
from course.actions import attempts as trying
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions.keys import make_key
from course.actions.set_points import From, note_set_point
from course.errors import NotFoundError, RefusedError
from course.record.events import Draft
from course.record.facts import Centre
from course.sample.files import Files
from course.sample.paper_acts import AFTER, BEFORE, PaperActs
from course.sample.sheets import Try, ending_of
from course.sample.tables import Row
from course.sample.unit_acts import UnitActs
from course.standards.standards import Standards
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.storage.rubric_files import read_folder
from course.words import Role, SheetSource, SpanRole

Progress = Callable[[int, int, str], None]
"""Called with how much is done, of how much, and what it is."""


@dataclass(frozen=True)
class Loaded:
    """What was made: ids by the short keys of the files, how much of each, and what no event takes in yet."""

    folder: Path
    centre: str
    course: str
    people: Mapping[str, str]
    units: Mapping[str, str]
    sessions: Mapping[str, str]
    attempts: Mapping[tuple[str, str, int], str]
    """By the keys of student and skill, and the number."""
    slips: Mapping[str, str]
    counts: Mapping[str, int]
    not_loaded: Mapping[str, int]
    """What stays in later.yaml, under the word for so many of it."""

    @property
    def summary(self) -> str:
        """What was made, as a sentence."""
        made = ", ".join(f"{count} {what}" for what, count in self.counts.items())
        return f"In {self.folder}: {made}. All of it is invented."


def load(folder: Path, progress: Progress, *, source: Path = places.DEMO) -> Loaded:
    """Make the demo centre in a folder that is not there yet or is empty.

    Args:
        folder: where the centre shall be.
        progress: told after each act.
        source: the folder with the tables.

    Raises:
        RefusedError: the folder holds something; or the files have problems, told with file, line and column.
        StorageError: the folder cannot be written. Whatever is raised, nothing is left in the folder.
    """
    _refuse_occupied(folder)
    standards = read_folder(places.RUBRICS)
    files = Files(source, standards)
    files.refuse_problems()
    folder = folder.resolve()
    unfinished = folder.with_name(f".{folder.name}.unfinished")
    shutil.rmtree(unfinished, ignore_errors=True)
    try:
        loader = _Loader(files, standards, progress)
        loader.make(unfinished)
        if folder.exists():
            folder.rmdir()
        unfinished.rename(folder)
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return loader.loaded(folder)


def _refuse_occupied(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise RefusedError(f"{folder} is there already and not empty. Name a folder that is not there yet.")


@contextmanager
def _at(row: Row) -> Iterator[None]:
    """Tell the line of the file with whatever an act refuses."""
    try:
        yield
    except (RefusedError, NotFoundError) as error:
        raise RefusedError(f"{row.file}:{row.line}: {error.sentence} The demo centre was not made.") from error


class _Loader:
    """Goes through the files from the people to the last attempt, and keeps the id of each thing made."""

    def __init__(self, files: Files, standards: Standards, progress: Progress) -> None:
        self.files, self.standards, self.progress = files, standards, progress
        self.people: dict[str, str] = {}
        self.units: dict[str, str] = {}
        self.sessions: dict[str, str] = {}
        self.groups: dict[tuple[str, str], str] = {}
        self.attempts: dict[tuple[str, str, int], str] = {}
        self.slips: dict[str, str] = {}
        self.centre = self.course = self.lead = ""
        self._done = 0
        self._of = sum(map(len, (files.people, files.units, files.sessions, files.groups, files.tries)))
        self._of += sum(map(len, (files.care, files.readings, files.slips, files.answers)))
        self._of += len(files.sessions)  # the times of each session
        self._of += sum(map(len, files.papers.values()))

    def make(self, folder: Path) -> None:
        centre = self.files.centre
        lead_name = self.files.people[centre["lead"]].cells["name"]
        with founding.make_centre(folder, name=centre["name"], lead_name=lead_name, zone=self.files.zone) as ledger:
            fact = all_of(ledger, Centre)[0]
            self.centre, self.lead = fact.id, fact.lead
            adoption = founding.adopt_standards(ledger, self.lead, self.standards)
            self._add_people(ledger)
            self._make_course(ledger, adoption)
            self._note_papers(ledger, BEFORE)
            self._enrol(ledger)
            self._add_units(ledger)
            self._plan_sessions(ledger)
            self._note_papers(ledger, AFTER)
            self._note_times(ledger)
            self._look_after_units(ledger)
            self._enter_attempts(ledger)
            make_key(ledger, self.lead)

    def loaded(self, folder: Path) -> Loaded:
        files = self.files
        sheets = [sheet for one in files.tries.values() for sheet in one.sheets]
        counts = {
            "people": len(self.people),
            "units": len(self.units),
            "check-outs": sum(len(files.check_outs(row)) for row in files.people.values()),
            "sessions": len(self.sessions),
            "groups": len(self.groups),
            "spans": len(files.spans),
            "water times": len(files.water),
            "set points": sum(bool(row.cells["set_point_bar"]) for row in files.sessions.values())
            + len(files.set_points),
            "notes of care": len(files.care),
            "readings": len(files.readings),
            "fault slips": len(self.slips),
            "fault answers": len(files.answers),
            "proofs": len(files.papers["proofs.csv"]),
            "consents": len(files.papers["consents.csv"]),
            "exams": len(files.papers["exams.csv"]),
            "adjustments": len(files.papers["adjustments.csv"]),
            "interest notes": len(files.papers["interests.csv"]),
            "attempts": len(self.attempts),
            "sheets": len(sheets),
        }
        return Loaded(
            folder, self.centre, self.course, self.people, self.units, self.sessions, self.attempts, self.slips, counts,
            files.later,
        )  # fmt: skip

    def _tell(self, what: str) -> None:
        self._done += 1
        self.progress(self._done, self._of, what)

    def _add_people(self, ledger: Ledger) -> None:
        for key, row in self.files.people.items():
            with _at(row):
                if key == self.files.centre["lead"]:
                    self.people[key] = self.lead
                else:
                    self.people[key] = founding.add_person(
                        ledger,
                        self.lead,
                        name=row.cells["name"],
                        roles=(row.choice("role", Role),),
                        birth_date=row.cells["birth_date"],
                        contact=row.cells["contact"],
                        note=row.cells["note"],
                    )
                for unit_type, day in self.files.check_outs(row):
                    founding.record_check_out(ledger, self.lead, self.people[key], unit_type, day)
            self._tell("people")

    def _make_course(self, ledger: Ledger, adoption: str) -> None:
        course = self.files.course
        self.course = planning.make_course(
            ledger,
            self.lead,
            title=course["title"],
            zone=self.files.zone,
            adoption=adoption,
            profile=course["profile"],
            revision=course["revision"],
            first_day=course["first_day"],
            last_day=course["last_day"],
        )

    def _note_papers(self, ledger: Ledger, tables: Sequence[str]) -> None:
        acts = PaperActs(ledger, self.files, self.course, self.people, self.sessions)
        for table in tables:
            for row in self.files.papers[table]:
                with _at(row):
                    acts.do(table, row)
                self._tell("papers")

    def _enrol(self, ledger: Ledger) -> None:
        for key, row in self.files.people.items():
            with _at(row):
                planning.enrol(ledger, self.lead, self.course, self.people[key], row.choice("role", Role))

    def _add_units(self, ledger: Ledger) -> None:
        for key, row in self.files.units.items():
            cells = row.cells
            with _at(row):
                unit = founding.add_unit(
                    ledger, self.lead, label=cells["label"], unit_type=cells["unit_type"], serial=cells["serial"]
                )
                self.units[key] = unit
                if cells["person"]:
                    person = self.people[cells["person"]]
                    planning.assign_unit(ledger, self.lead, self.course, person, unit, cells["from_day"])
            self._tell("units")

    def _plan_sessions(self, ledger: Ledger) -> None:
        for key, row in self.files.sessions.items():
            start, end = row.times("start", "end")
            with _at(row):
                self.sessions[key] = planning.plan_session(
                    ledger,
                    self.lead,
                    course=self.course,
                    title=row.cells["title"],
                    setting=row.cells["setting"],
                    place=row.cells["place"],
                    start=start,
                    end=end,
                )
            self._tell("sessions")
        for row in self.files.groups:
            session = row.cells["session"]
            staff, students = ([self.people[k] for k in self.files.members(row, c)] for c in ("staff", "students"))
            with _at(row):
                self.groups[session, row.cells["group"]] = planning.make_group(
                    ledger, self.lead, self.sessions[session], name=row.cells["name"], staff=staff, students=students
                )
            self._tell("groups")

    def _note_times(self, ledger: Ledger) -> None:
        """Spans and water times of one session go in together, as from one sheet of paper."""
        for key, session in self.sessions.items():
            times: list[Draft] = []
            for row in (row for row in self.files.spans if row.cells["session"] == key):
                start, end = row.times("start", "end")
                person, group = self.people[row.cells["person"]], self.groups[key, row.cells["group"]]
                role = row.choice("role", SpanRole)
                with _at(row):
                    times.append(
                        planning.span(
                            self.lead, session=session, person=person, role=role, group=group, start=start, end=end
                        )
                    )
            times += [self._water_time(row, session) for row in self.files.water if row.cells["session"] == key]
            if times:
                planning.record_times(ledger, self.lead, times)
            self._note_set_points(ledger, key)
            self._tell("times")

    def _note_set_points(self, ledger: Ledger, key: str) -> None:
        row = self.files.sessions[key]
        if bar := row.cells["set_point_bar"]:
            with _at(row):
                note_set_point(ledger, self.lead, self.sessions[key], bar, row.moment("end"))
        noted = row.moment("end")
        for own in (one for one in self.files.set_points if one.cells["session"] == key):
            since = From(own.moment("begins"), own.number("over_minutes")) if own.cells["begins"] else None
            with _at(own):
                note_set_point(
                    ledger, self.lead, self.sessions[key], own.text("bar"), noted,
                    person=self.people[own.cells["person"]], since=since,
                )  # fmt: skip

    def _water_time(self, row: Row, session: str) -> Draft:
        entered, left = row.times("entered", "left")
        with _at(row):
            return planning.water_time(
                self.lead,
                session=session,
                person=self.people[row.cells["person"]],
                unit=self.units.get(row.cells["unit"]),
                entered=entered,
                left=left,
                loop_minutes=row.number("loop_minutes"),
                bailout_minutes=row.number("bailout_minutes"),
                max_depth_m=row.cells["max_depth_m"] or None,
            )

    def _look_after_units(self, ledger: Ledger) -> None:
        acts = UnitActs(ledger, self.files, self.people, self.units, self.sessions)
        for act in acts.in_order():
            with _at(act.row):
                act.do()
            if act.what:
                self._tell(act.what)
        self.slips = acts.slips

    def _enter_attempts(self, ledger: Ledger) -> None:
        for key, one in self.files.tries.items():
            with _at(one.row):
                self.attempts[key] = self._enter(ledger, one, key[2])
            self._tell("attempts")

    def _enter(self, ledger: Ledger, one: Try, number: int) -> str:
        cells = one.row.cells
        closing, stopped_by = ending_of(one.row)
        elsewhere = cells["elsewhere"] or None
        return trying.enter_attempt(
            ledger,
            self.people[one.sheets[0][0]],
            course=self.course,
            session=self.sessions[cells["session"]],
            student=self.people[cells["student"]],
            skill=cells["skill"],
            observed=one.at,
            sheets=[(self.people[observer], content) for observer, content in one.sheets],
            closing=closing,
            stopped_by=stopped_by,
            reason=cells["reason"] or None,
            source=SheetSource.FILE if elsewhere else SheetSource.SLATE,
            elsewhere=elsewhere,
            accepted=one.row.yes("accepted") if elsewhere else None,
            number=number,
        )
