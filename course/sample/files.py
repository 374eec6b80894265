"""The demo centre's files, read whole and checked before anything is made: every problem with file, line and column."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path
from typing import Any

from course.errors import Problem, RefusedError
from course.moments import zone_named
from course.sample.sheets import Try, content_of, ending_of
from course.sample.tables import Fault, Row, day_of, known_word, read_table, text_of
from course.standards.standards import Standards
from course.storage.yaml_text import YamlText
from course.words import SETTING_WORDS, Care, ReadingKind, Role, SlipAnswer, SpanRole, plural

COLUMNS = {
    "people.csv": ("person", "name", "role", "birth_date", "contact", "note", "check_outs"),
    "units.csv": ("unit", "label", "unit_type", "serial", "person", "from_day"),
    "sessions.csv": ("session", "title", "setting", "place", "start", "start_fold", "end", "end_fold", "set_point_bar"),
    "groups.csv": ("session", "group", "name", "staff", "students"),
    "spans.csv": ("session", "person", "role", "group", "start", "start_fold", "end", "end_fold"),
    "water.csv": (
        "session", "person", "unit", "entered", "entered_fold", "left", "left_fold", "loop_minutes",
        "bailout_minutes", "max_depth_m",
    ),
    "set_points.csv": ("session", "person", "bar", "begins", "begins_fold", "over_minutes"),
    "care.csv": ("unit", "what", "done", "done_fold", "good_until", "good_minutes", "by"),
    "readings.csv": ("unit", "what", "cell", "read", "read_fold", "amounts", "by"),
    "slips.csv": (
        "slip", "session", "unit", "fault", "for_whom", "bag", "by", "planted", "planted_fold", "cleared",
        "cleared_fold", "cleared_by", "passed", "passed_fold", "passed_by",
    ),
    "answers.csv": ("slip", "person", "answer", "at", "at_fold", "by"),
    "proofs.csv": ("person", "prerequisite", "day", "seen_by", "cleared", "good_until", "paper"),
    "consents.csv": ("person", "stages", "day", "until", "guardian", "seen_by"),
    "exams.csv": (
        "person", "session", "day", "mark", "of", "form", "missed", "seen_by", "talked_session", "talked_day",
        "talked_by",
    ),
    "adjustments.csv": ("person", "skill", "day", "approved_by", "how", "without", "waiver"),
    "interests.csv": ("person", "student", "day", "by", "note"),
    "attempts.csv": (
        "session", "student", "skill", "number", "at", "at_fold", "observer", "whole_clean", "done", "marks", "values",
        "order", "notes", "ending", "reason", "elsewhere", "accepted",
    ),
}  # fmt: skip
"""The tables of the folder and their columns; the README in it says what each means."""
HEAD = {
    "centre": ("name", "zone", "lead"),
    "course": ("title", "profile", "revision", "first_day", "last_day"),
}
"""What course.yaml holds."""
_PAPERS = ("proofs.csv", "consents.csv", "exams.csv", "adjustments.csv", "interests.csv")
_OF_THE_ATTEMPT = ("ending", "reason", "elsewhere", "accepted")


class Files:
    """All files of the folder. `problems` holds everything that is wrong in them."""

    def __init__(self, source: Path, standards: Standards) -> None:
        self.problems: list[Problem] = []
        self._source, self._standards = source, standards
        self._read_head()
        self.later = self._read_later()
        tables = {name: self._table(name) for name in COLUMNS}
        self.people = self._keyed(tables["people.csv"], "person")
        self.units = self._keyed(tables["units.csv"], "unit")
        self.sessions = self._keyed(tables["sessions.csv"], "session")
        self.groups, self.spans, self.water = tables["groups.csv"], tables["spans.csv"], tables["water.csv"]
        self.set_points = tables["set_points.csv"]
        self.care, self.answers = tables["care.csv"], tables["answers.csv"]
        self.readings = tables["readings.csv"]
        self.slips = self._keyed(tables["slips.csv"], "slip")
        self.papers = {name: tables[name] for name in _PAPERS}
        self._unit_types = {row.cells["person"]: row.cells["unit_type"] for row in self.units.values()}
        self._each(self.people.values(), self._check_person)
        self._each(self.units.values(), self._check_unit)
        self._each(self.sessions.values(), self._check_session)
        self._each(self.groups, self._check_group)
        self._each(self.spans, self._check_span)
        self._each(self.water, self._check_water)
        self._each(self.set_points, self._check_set_point)
        self._each(self.care, self._check_care)
        self._each(self.readings, self._check_reading)
        self._each(self.slips.values(), self._check_slip)
        self._each(self.answers, self._check_answer)
        self._each([row for rows in self.papers.values() for row in rows], self._check_paper)
        self.tries: dict[tuple[str, str, int], Try] = {}
        self._each(tables["attempts.csv"], self._read_sheet)

    def refuse_problems(self) -> None:
        """Refuse files in which something is wrong.

        Raises:
            RefusedError: with every problem.
        """
        if self.problems:
            head = f"{plural(len(self.problems), 'problem')} in the files of the demo centre. Nothing was loaded."
            raise RefusedError("\n".join([head, *map(str, sorted(self.problems))]))

    # --- whole files ---

    def _yaml(self, name: str) -> dict[str, Any]:
        text = text_of(self._source, name, self.problems)
        if text is None:
            return {}
        read = YamlText(name, text)
        if read.end:
            self.problems.append(Problem(name, read.end.line, read.end.column, "", read.end.wrong, read.end.remedy))
        self.problems += [Problem(name, *read.place_of(flaw), "", flaw.wrong, flaw.remedy) for flaw in read.flaws]
        return read.content if isinstance(read.content, dict) else {}

    def _read_head(self) -> None:
        head = self._yaml("course.yaml")
        parts = {part: head[part] if isinstance(head.get(part), dict) else {} for part in HEAD}
        for part, keys in HEAD.items():
            for key in keys:
                if not isinstance(parts[part].get(key), str):
                    self._of_head(f"{part}.{key}", "It is missing or no text.", "Write it, in quotes.")
        self.centre, self.course = parts["centre"], parts["course"]
        try:
            self.zone = zone_named(str(self.centre.get("zone"))).key
        except RefusedError as error:
            self._of_head("centre.zone", error.sentence, "")
            self.zone = "UTC"
        for key in ("first_day", "last_day"):
            try:
                day_of(str(self.course.get(key)), key)
            except Fault as fault:
                self._of_head(f"course.{key}", fault.wrong, fault.remedy)

    def _of_head(self, field: str, wrong: str, remedy: str) -> None:
        self.problems.append(Problem("course.yaml", 0, 0, field, wrong, remedy))

    def _read_later(self) -> dict[str, int]:
        """Count what the ledger has no event for, under its name: it is told, never dropped in silence."""
        counts: dict[str, int] = {}
        for key, things in self._yaml("later.yaml").items():
            if not isinstance(things, list) or not things:
                wrong = "It is no list with something in it."
                self.problems.append(Problem("later.yaml", 0, 0, key, wrong, "Write a list, or take it out."))
                continue
            many = key.replace("_", " ")
            counts[many.removesuffix("s") if len(things) == 1 else many] = len(things)
        return counts

    def _table(self, name: str) -> list[Row]:
        text = text_of(self._source, name, self.problems)
        return [] if text is None else read_table(name, text, COLUMNS[name], self.zone, self.problems)

    def _keyed(self, rows: list[Row], column: str) -> dict[str, Row]:
        found: dict[str, Row] = {}
        for row in rows:
            key = row.cells[column]
            if not key or key in found:
                wrong = f'"{key}" stands here for the second time.' if key else "The cell is empty."
                self.problems.append(row.problem(Fault(column, wrong, "Write a key of its own.")))
            found[key] = row
        return found

    # --- single lines ---

    def _each(self, rows: Collection[Row], check: Callable[[Row], object]) -> None:
        """Check every line; of each the first fault is noted."""
        for row in rows:
            try:
                check(row)
            except Fault as fault:
                self.problems.append(row.problem(fault))

    def check_outs(self, row: Row) -> list[tuple[str, str]]:
        """Return unit type and day of each check on a unit type in a line of people.csv."""
        found = []
        for part in row.parts("check_outs"):
            unit_type, _, day = part.partition(" ")
            known_word(unit_type, "check_outs", self._standards.unit_types, "unit type")
            found.append((unit_type, day_of(day, "check_outs")))
        return found

    def members(self, row: Row, column: str) -> tuple[str, ...]:
        """Return the keys of the people in a cell."""
        return row.names(column, self.people, "person")

    def _check_person(self, row: Row) -> None:
        row.text("name")
        role = row.choice("role", Role)
        self.check_outs(row)
        if row.cells["birth_date"]:
            row.day("birth_date")
        is_lead = row.cells["person"] == self.centre.get("lead")
        if is_lead != (role == Role.LEAD):
            raise Fault("role", "The lead is the one person whom course.yaml names.", "Put role or lead right.")
        for column in ("birth_date", "contact", "note"):
            if is_lead and row.cells[column]:
                raise Fault(column, "The lead is made with the centre, by name only.", "Leave this cell empty.")

    def _check_unit(self, row: Row) -> None:
        row.text("label")
        row.name("unit_type", self._standards.unit_types, "unit type")
        if row.cells["person"]:
            row.name("person", self.people, "person")
            row.day("from_day")

    def _check_session(self, row: Row) -> None:
        row.text("title")
        row.name("setting", SETTING_WORDS, "setting")
        row.times("start", "end")

    def _check_group(self, row: Row) -> None:
        self._session(row)
        row.text("group")
        self.members(row, "staff")
        self.members(row, "students")

    def _check_span(self, row: Row) -> None:
        row.name("person", self.people, "person")
        row.choice("role", SpanRole)
        row.name(
            "group", {g.cells["group"] for g in self.groups if g.cells["session"] == row.cells["session"]}, "group"
        )
        self._check_inside(row, "start", "end")

    def _check_water(self, row: Row) -> None:
        row.name("person", self.people, "person")
        row.name("unit", self.units, "unit") if row.cells["unit"] else None
        minutes = row.number("loop_minutes") + row.number("bailout_minutes")
        self._check_inside(row, "entered", "left")
        entered, left = row.times("entered", "left")
        if (left.moment - entered.moment).total_seconds() < minutes * 60:
            raise Fault("loop_minutes", "More minutes are written than there were.", "Put minutes or times right.")

    def _check_set_point(self, row: Row) -> None:
        self._session(row)
        row.name("person", self.people, "person")
        row.text("bar")
        if row.cells["begins"]:
            row.moment("begins")
            row.number("over_minutes")

    def _check_care(self, row: Row) -> None:
        row.name("unit", self.units, "unit")
        row.choice("what", Care)
        row.moment("done")
        row.day("good_until") if row.cells["good_until"] else row.number("good_minutes")
        row.name("by", self.people, "person")

    def _check_reading(self, row: Row) -> None:
        row.name("unit", self.units, "unit")
        row.choice("what", ReadingKind)
        row.moment("read")
        row.number("cell") if row.cells["cell"] else None
        amounts_of(row)
        row.name("by", self.people, "person")

    def _check_slip(self, row: Row) -> None:
        self._session(row)
        row.name("unit", self.units, "unit")
        row.name("fault", self._standards.planted_faults, "planted fault")
        self.members(row, "for_whom")
        times = [row.moment("planted")]
        for act in ("cleared", "passed"):
            if row.cells[act]:
                row.name(f"{act}_by", self.people, "person")
                times.append(row.moment(act))
        row.name("by", self.people, "person")
        if times != sorted(times, key=lambda time: time.utc):
            raise Fault("planted", "It is not planted, cleared and passed in this order.", "Put the times right.")

    def _check_answer(self, row: Row) -> None:
        row.name("slip", self.slips, "slip")
        row.name("person", self.people, "person")
        row.choice("answer", SlipAnswer)
        row.moment("at")
        row.name("by", self.people, "person")

    def _check_paper(self, row: Row) -> None:
        """Whom it is about, who noted it, and its days; what else is in it the act itself checks."""
        columns = row.cells.keys()
        for column in columns & {"person", "student", "seen_by", "approved_by", "by", "talked_by"}:
            if row.cells[column] or column != "talked_by":
                row.name(column, self.people, "person")
        row.day("day")
        for column in columns & {"until", "good_until", "talked_day"}:
            if row.cells[column]:
                row.day(column)
        for column in columns & {"session", "talked_session"}:
            if row.cells[column]:
                row.name(column, self.sessions, "session")
        if row.file == "adjustments.csv":
            row.name("skill", self._standards.skills, "skill")
        if row.file == "proofs.csv":
            asked = {one.id for profile in self._standards.profiles for one in profile.prerequisites}
            row.name("prerequisite", asked, "prerequisite")
        if row.file == "exams.csv" and bool(row.cells["talked_day"]) != bool(row.cells["talked_by"]):
            raise Fault("talked_by", "A day without a person, or the other way round.", "Write both, or neither.")

    def _check_inside(self, row: Row, first: str, last: str) -> None:
        start, end = row.times(first, last)
        opens, closes = self._session(row).times("start", "end")
        if not opens.moment <= start.moment < end.moment <= closes.moment:
            raise Fault(first, "These times do not lie in their session.", "Put time or session right.")

    def _session(self, row: Row) -> Row:
        return self.sessions[row.name("session", self.sessions, "session")]

    # --- attempts ---

    def _read_sheet(self, row: Row) -> None:
        """Read one line of attempts.csv: an observer's sheet; the first one of an attempt also tells the attempt."""
        student, number, at = row.name("student", self.people, "person"), row.number("number"), row.moment("at")
        skill = self._standards.skills[row.name("skill", self._standards.skills, "skill")]
        unit_type = self._standards.unit_types.get(self._unit_types.get(student, ""))
        features = unit_type.feature_set if unit_type else frozenset[str]()
        sheet = (row.name("observer", self.people, "person"), content_of(row, skill, features))
        session, key = self._session(row), (student, skill.id, number)
        first = self.tries.get(key)
        if first is not None:
            _check_second(row, first, sheet[0])
            first.sheets.append(sheet)
            return
        ending_of(row)
        row.yes("accepted")
        opens, closes = session.times("start", "end")
        if not opens.moment <= at.moment < closes.moment:
            raise Fault("at", "This is not within its session.", "Put time or session right.")
        before = self.tries.get((student, skill.id, number - 1))
        if (before is None) != (number == 1) or (before and before.at.moment >= at.moment):
            raise Fault("number", f"Attempt {number} does not follow the one before.", "Number them from 1, by time.")
        self.tries[key] = Try(row, at, [sheet])


def amounts_of(row: Row) -> dict[str, str]:
    """Return what was read, by key: "mv_air=10.4 humidity=0.7"; the act itself checks keys and numbers."""
    found = {}
    for word in row.text("amounts").split():
        key, sign, text = word.partition("=")
        if not (key and sign and text):
            raise Fault("amounts", f'"{word}" is no key and number.', "Write it like mv_air=10.4.")
        found[key] = text
    return found


def _check_second(row: Row, first: Try, observer: str) -> None:
    if observer in [seen for seen, _ in first.sheets]:
        raise Fault("observer", "This observer has a sheet of this attempt already.", "Look at the number.")
    for column in ("session", "at", "at_fold"):
        if row.cells[column] != first.row.cells[column]:
            raise Fault(column, "The attempt's first line says another.", "Look at the number.")
    for column in _OF_THE_ATTEMPT:
        if row.cells[column]:
            raise Fault(column, "This is said on the attempt's first line.", "Leave this cell empty.")
