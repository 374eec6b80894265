"""Totals agree to the minute in every paper: one plain count of the demo course against all that tells minutes.

The count here is its own: each second of a person's times is ticked in a set. Nothing of course.hours is asked.
"""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from opened_page import app_at
from pypdf import PdfReader

from course import sample
from course.actions.pad import take
from course.answers.competency import competency_record
from course.answers.course_view import CourseView, view
from course.answers.hours import hours
from course.answers.origin_of import minute_origin
from course.answers.readiness import readiness
from course.answers.session_times import session_times
from course.answers.student_page import student_page
from course.commands import main
from course.exchange.audit_file import seal
from course.paper.competency_record import print_competency_record
from course.paper.take_home import print_take_home
from course.screens import hours_charts, serve
from course.storage.ledger import Ledger, open_ledger

KIND_OF = {"class": "theory", "dry": "dry", "pool": "pool", "open_water": "open_water"}
WORD_OF = {
    "theory": "theory", "dry": "dry", "pool": "pool", "open_water": "open water",
    "in_water_on_loop": "in water on the loop",
}  # fmt: skip


@dataclass(frozen=True)
class Counted:
    """Minutes of one person in one role, by kind of session; those on the loop and on bailout besides."""

    session: dict[str, int]
    loop: int
    bailout: int

    @property
    def kinds(self) -> dict[str, int]:
        """What requirements count."""
        return {kind: n for kind, n in (self.session | {"in_water_on_loop": self.loop}).items() if n}


@dataclass(frozen=True)
class Demo:
    ledger: Ledger
    seen: CourseView
    file: Path
    """Its audit file."""

    def counted(self, person: str, role: str = "student") -> Counted:
        """Second by second; who is in two places counts where they were first."""
        spans = [(one, s) for s in self.seen.sessions.values() for one in s.spans if one.person == person]
        taken: set[int] = set()
        ticked: dict[str, set[int]] = defaultdict(set)
        for span, session in sorted(spans, key=lambda pair: pair[0].start.moment):
            start, end = (int(one.moment.timestamp()) for one in (span.start, span.end or session.end))
            fresh = set(range(start, end)) - taken
            taken |= fresh
            if span.role == role:
                ticked[KIND_OF[session.setting]] |= fresh
        water = [one for s in self.seen.sessions.values() for one in s.water if one.person == person]
        return Counted(
            {kind: len(seconds) // 60 for kind, seconds in ticked.items()},
            sum(one.loop_minutes for one in water) if role == "student" else 0,
            sum(one.bailout_minutes for one in water) if role == "student" else 0,
        )

    def asked(self, kind: str) -> int | None:
        """What the requirements ask of a kind."""
        return next((rule.at_least_minutes for rule in self.seen.profile.hours if rule.of == kind), None)


@pytest.fixture(scope="module")
def demo(loaded: sample.Loaded, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    with open_ledger(loaded.folder, write=True) as ledger:
        seen, file = view(ledger, loaded.course), tmp_path_factory.mktemp("sealed") / "audit.zip"
        seal(ledger, file, given_to="the agency's office", as_of=seen.last_day)
        yield Demo(ledger, seen, file)


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def printed(printing: Callable[..., Any], answer: Any) -> str:
    out = io.BytesIO()
    printing(answer, out)
    return words_of(out.getvalue())


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline="")))


# --- what each page, file and paper says: (student, kind) to minutes ---

Told = dict[tuple[str, str], int]


def on_hours(demo: Demo) -> Told:
    """The answer of the page: its bars, and its table of totals by kind."""
    answer, told = hours(demo.seen, demo.seen.last_day), {}
    for line in answer.totals:
        if line.role == "student":
            told |= {(line.person, kind): session for kind, session, _, _ in line.kinds if session}
            told[line.person, "in water on the loop"] = line.loop
    for student in answer.students:
        for bar in student.bars:
            if (student.student, bar.word) in told:
                assert told[student.student, bar.word] == bar.have
    return told


def in_hours_csv(demo: Demo) -> Told:
    answer = hours(demo.seen, demo.seen.last_day)
    ids = {one.name: one.student for one in answer.students}
    data = rows(hours_charts.bars_csv(answer.students))
    return {(ids[r["student"]], r["what"]): int(r["have"]) for r in data if r["what"] in WORD_OF.values()}


def in_the_sessions_csv(demo: Demo) -> Told:
    """The two tables of each session, added up by person; nobody of the demo's students is in two places at once."""
    told: Told = defaultdict(int)
    ids = {demo.seen.name(student): student for student in demo.seen.students}
    for session in demo.seen.sessions.values():
        times = session_times(demo.seen, session.id)
        for row in rows(times.csv()):
            if row["role"] == "student":
                told[ids[row["person"]], WORD_OF[KIND_OF[session.setting]]] += int(row["minutes"])
        for row in rows(times.water_csv()):
            if row["person"] in ids:
                told[ids[row["person"]], "in water on the loop"] += int(row["loop_minutes"])
    return dict(told)


def by_the_command(demo: Demo) -> Told:
    ran = CliRunner().invoke(main, ["hours", str(demo.ledger.folder), "--json", "--as-of", str(demo.seen.last_day)])
    told: Told = {}
    for line in json.loads(ran.stdout)["totals"]:
        if line["role"] == "student":
            told |= {(line["person"], kind): session for kind, session, _, _ in line["kinds"] if session}
            told[line["person"], "in water on the loop"] = line["loop"]
    return told


def on_the_record(demo: Demo) -> Told:
    """The table of the printed competency record, read from its page."""
    told: Told = {}
    for student in demo.seen.students:
        text = printed(
            print_competency_record, competency_record(demo.ledger, demo.seen, student, demo.seen.last_day)
        )  # fmt: skip
        table = text[text.index("Kind minutes of what is asked for") : text.index("Minutes are unions")]
        for word in WORD_OF.values():
            if found := re.search(rf"\b{word} (\d+)\b", table, re.IGNORECASE):
                told[student, word] = int(found[1])
    return told


def in_the_audit_table(demo: Demo) -> Told:
    with zipfile.ZipFile(demo.file) as file:
        data = rows(file.read("tables/minutes.csv").decode())
    return {(r["person"], WORD_OF[r["kind"]]): int(r["minutes"]) for r in data if r["person"] in demo.seen.students}


def on_the_audit_paper(demo: Demo) -> Told:
    """One line a student, the kinds in the order of the table's head."""
    with zipfile.ZipFile(demo.file) as file:
        text = words_of(file.read("audit.pdf"))
    told: Told = {}
    for student in demo.seen.students:
        cells = r" (\d+)(?: of (?:\d+))?" * len(WORD_OF)
        found = re.search(rf"{re.escape(demo.seen.name(student))}{cells}", text)
        assert found, text
        told |= {(student, word): int(n) for word, n in zip(WORD_OF.values(), found.groups(), strict=True)}
    return told


def behind_each(demo: Demo) -> Told:
    """Show why of minutes."""
    told: Told = {}
    for student in demo.seen.students:
        for kind, word in WORD_OF.items():
            origin = minute_origin(demo.ledger, demo.seen, student, kind, demo.seen.last_day)
            told[student, word] = int(origin.sentence.split()[0])
    return told


@pytest.mark.parametrize(
    "tell",
    [on_hours, in_hours_csv, in_the_sessions_csv, by_the_command, on_the_record, in_the_audit_table,
     on_the_audit_paper, behind_each],
)  # fmt: skip
def test_totals_agree_to_the_minute_in_every_paper(demo: Demo, tell: Callable[[Demo], Told]) -> None:
    """Whoever tells minutes tells the same of every student and kind; what tells of few kinds tells these alike."""
    want = {
        (student, WORD_OF[kind]): minutes
        for student in demo.seen.students
        for kind, minutes in demo.counted(student).kinds.items()
    }
    told = tell(demo)
    assert {key: want.get(key) for key in told} == told
    left_out = set() if tell is not in_hours_csv else {"open water"}
    assert {word for _, word in want} - {word for _, word in told} == left_out
    assert len(told) == len([key for key in want if key[1] not in left_out])


def test_everybodys_session_loop_and_bailout_minutes_agree_and_add_up(demo: Demo) -> None:
    """Also staff, candidate and technician, each in their role; bailout has no line in the requirements."""
    answer = hours(demo.seen, demo.seen.last_day)
    for line in answer.totals:
        counted = demo.counted(line.person, line.role)
        assert line.session == sum(counted.session.values()), line
        assert {kind: session for kind, session, _, _ in line.kinds if session} == {
            WORD_OF[kind]: minutes for kind, minutes in counted.session.items()
        }
        if line.role == "student":
            assert (line.loop, line.bailout) == (counted.loop, counted.bailout)
            written = [
                int(row["bailout_minutes"])
                for session in demo.seen.sessions.values()
                for row in rows(session_times(demo.seen, session.id).water_csv())
                if row["person"] == line.name
            ]
            assert sum(written) == counted.bailout
    assert {line.role for line in answer.totals} == {"teaching", "assisting", "student", "candidate", "technician"}


def test_what_is_short_is_short_by_the_same_on_ready_own_page_own_paper_record_and_audit(demo: Demo) -> None:
    seen, day = demo.seen, demo.seen.last_day
    ready = {line.student: line.words for line in readiness(seen, day).lines}
    with zipfile.ZipFile(demo.file) as file:
        audit = words_of(file.read("audit.pdf"))
    short = 0
    for student in seen.students:
        page = student_page(seen, student, day)
        record = printed(print_competency_record, competency_record(demo.ledger, seen, student, day))
        own = printed(print_take_home, page)
        for kind, word in WORD_OF.items():
            asked, have = demo.asked(kind) or 0, demo.counted(student).kinds.get(kind, 0)
            told = f"short by {asked - have} minutes {word}" if asked > have else f"minutes {word}"
            for text in (ready[student], " ".join(page.hours), own):
                assert (told in text) == (asked > have), (word, text)
            if asked > have:
                short += 1
                assert f"{have} of {asked} short by {asked - have} min" in record
                assert told in audit
    assert short == 1


def test_the_page_of_hours_shows_the_numbers(demo: Demo) -> None:
    """Every student's total and the one that is short, as they are drawn."""
    serve.start(demo.ledger, take)
    app = app_at("hours").run()
    assert not app.exception
    tables = [part.proto.body for part in app.get("html")]
    drawn = " ".join(str(said) for said in (*tables, *(part.value for part in (*app.markdown, *app.text))))
    for line in hours(demo.seen, demo.seen.last_day).totals:
        counted = sum(demo.counted(line.person, line.role).session.values())
        assert re.search(rf"\b{counted}\b", drawn), (line, drawn)
