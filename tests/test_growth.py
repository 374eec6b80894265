"""What must not grow with the ledger, by counting: statements, and rows that a statement goes through."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from centre_builder import LAST_DAY, Centre, critical_mark
from ledger_examples import a_person, an_attempt, change, new_centre

from course.answers.course_view import view
from course.answers.student_page import StudentPage, student_page
from course.storage import appending, tables
from course.storage.database import SQLITE, connect
from course.storage.inspection import verify
from course.storage.ledger import Ledger, open_ledger
from course.words import Mark


@contextmanager
def statements_of(ledger: Ledger) -> Iterator[list[tuple[str, Any]]]:
    """Every statement that reads while inside, with its values."""
    told: list[tuple[str, Any]] = []

    def note(_connection: Any, _cursor: Any, statement: str, values: Any, *_: Any) -> None:
        if statement.startswith("SELECT"):
            told.append((statement, values))

    sa.event.listen(ledger._read, "before_cursor_execute", note)
    yield told
    sa.event.remove(ledger._read, "before_cursor_execute", note)


def grow(ledger: Ledger, attempts: int) -> None:
    """Attempts of other students on other courses of the same centre."""
    drafts = [a_person("Somebody Else")]
    for _ in range(attempts):
        drafts += an_attempt(*[Mark.DONE] * 8)
    ledger.append(drafts)


def page(centre: Centre) -> tuple[StudentPage, list[tuple[str, Any]]]:
    """Amaru's page as read from the ledger, and the statements that read it."""
    with statements_of(centre.ledger) as told:
        found = student_page(view(centre.ledger, centre.course), centre.amaru, LAST_DAY)
    return found, told


def plan(folder: Path, statement: str, values: Any) -> list[str]:
    connection = connect(folder / "ledger.db", "live")
    rows = connection.execute(f"EXPLAIN QUERY PLAN {statement}", values).fetchall()
    connection.close()
    return [row[3] for row in rows]


def test_a_students_page_takes_as_many_statements_however_much_others_did(small_centre: Centre) -> None:
    small_centre.hold()
    small_centre.enter("pool-22", critical_mark())
    before, few = page(small_centre)
    grow(small_centre.ledger, 30)
    after, many = page(small_centre)
    assert few
    assert len(many) == len(few)
    assert (after.sentence, after.attempts) == (before.sentence, before.attempts)


def test_a_students_page_is_read_by_index_alone(small_centre: Centre) -> None:
    small_centre.hold()
    grow(small_centre.ledger, 5)
    _, told = page(small_centre)
    for statement, values in told:
        steps = plan(small_centre.ledger.folder, statement, values)
        assert not [step for step in steps if step.startswith("SCAN")], (statement, steps)
        if "fact.course = ?" in statement:
            assert any("ix_fact_course" in step and "course=?" in step for step in steps), steps


@pytest.mark.parametrize("by", ["course", "person", "session"])
def test_facts_narrowed_by_one_thing_are_searched_by_its_index_in_the_order_of_ids(
    small_centre: Centre, by: str
) -> None:
    held = small_centre.hold()
    whose = {"course": small_centre.course, "person": small_centre.amaru, "session": small_centre.sessions["pool-22"]}
    with statements_of(small_centre.ledger) as told:
        found = small_centre.ledger.facts("attempt", **{by: whose[by]})
    ((statement, values),) = told
    assert f"ix_fact_{by} (centre=? AND kind=? AND {by}=?)" in plan(small_centre.ledger.folder, statement, values)[0]
    assert [fact.id for fact in found] == (sorted(held) if by != "session" else [held[1]])


def steps_to_insert(folder: Path) -> int:
    """How many steps of SQLite's own machine one insert of an event takes, counted as it runs."""
    connection = SQLITE.connect(str(folder / "ledger.db"), isolation_level=None)
    columns = ", ".join(column.name for column in tables.HASHED)
    row = connection.execute(f"SELECT {columns} FROM event ORDER BY pos DESC LIMIT 1").fetchone()  # noqa: S608
    new = dict(zip([column.name for column in tables.HASHED], row, strict=True))
    new |= {"hash": b"h" * 32, "seq": new["seq"] + 1, "lamport": new["lamport"] + 1, "id": "one more", "origin": 0}
    count = 0

    def step() -> int:
        nonlocal count
        count += 1
        return 0

    connection.execute("BEGIN")
    connection.set_progress_handler(step, 1)
    names, places = ", ".join(new), ", ".join("?" * len(new))
    connection.execute(f"INSERT INTO event ({names}) VALUES ({places})", list(new.values()))  # noqa: S608
    connection.set_progress_handler(None, 0)
    connection.execute("ROLLBACK")
    connection.close()
    return count


def test_a_save_takes_as_many_steps_in_a_large_ledger_as_in_a_small_one(tmp_path: Path) -> None:
    """The guard against replacing asks by index; it once went through every event of the centre at each save."""
    with new_centre(tmp_path / "centre") as ledger:
        few = steps_to_insert(ledger.folder)
        grow(ledger, 100)
        many = steps_to_insert(ledger.folder)
    assert 0 < many <= few + 20


def test_what_is_here_of_a_save_is_found_by_index(tmp_path: Path) -> None:
    """Asked with OR for ids and subjects, SQLite would go through every event of the centre."""
    asked = appending._MET
    given = {"of_centre": "c", "ids": '["i"]', "subjects": '["s"]'}
    with new_centre(tmp_path / "centre") as ledger:
        steps = plan(ledger.folder, asked._text, [given[name] for name in asked._names])
    searches = [step for step in steps if step.startswith("SEARCH")]
    by = ("PRIMARY KEY (rowid=?)", "(centre=? AND id=?)", "(centre=? AND subject=?)")
    assert [step for step in searches if step.endswith(by)] == searches
    assert len(searches) == 3


@pytest.fixture
def earlier(tmp_path: Path) -> Path:
    """A ledger with the guard of an earlier version."""
    folder = tmp_path / "centre"
    new_centre(folder).close()
    _put_guard(folder, tables.EARLIER_GUARDS["event_no_replace"])
    return folder


def _put_guard(folder: Path, sql: str) -> None:
    change(folder, "DROP TRIGGER event_no_replace", guarded=True)
    change(folder, sql, guarded=True)


def _guard(folder: Path) -> str:
    connection = connect(folder / "ledger.db", "live")
    (sql,) = connection.execute("SELECT sql FROM sqlite_schema WHERE name = 'event_no_replace'").fetchone()
    connection.close()
    return str(sql)


def test_an_earlier_versions_guard_is_no_finding(earlier: Path) -> None:
    """A ledger that is opened to read alone keeps its layout: `test_layout.py` moves it."""
    assert not verify(earlier).findings
    open_ledger(earlier).close()
    assert _guard(earlier) == tables.EARLIER_GUARDS["event_no_replace"]


def test_a_guard_that_somebody_else_wrote_stays_a_finding(earlier: Path) -> None:
    strange = tables.SQLITE_GUARDS["event_no_replace"].replace("NEW.origin = 0", "NEW.origin = 7")
    _put_guard(earlier, strange)
    open_ledger(earlier, write=True).close()
    assert _guard(earlier) == strange
    assert any("event_no_replace" in finding for finding in verify(earlier).findings)


@pytest.mark.parametrize("key", ["pos", "hash", "id", "seq"])
def test_the_guard_refuses_each_way_of_replacing(tmp_path: Path, key: str) -> None:
    """INSERT OR REPLACE with one key of a stored event, all others new."""
    folder = tmp_path / "centre"
    new_centre(folder).close()
    new = {"pos": "99", "hash": "randomblob(32)", "id": "'another'", "seq": "seq + 100"} | {key: key}
    rest = ["centre", "prev", "chain", "lamport + 200", "device", "actor", "subject", "recorded_at", "kind", "body"]
    names = ", ".join([*new, *(name.split()[0] for name in rest), "origin"])
    values = ", ".join([*new.values(), *rest, "0"])
    with pytest.raises(SQLITE.IntegrityError, match="append-only"):
        change(
            folder,
            f"INSERT OR REPLACE INTO event ({names}) SELECT {values} FROM event WHERE pos = 1",  # noqa: S608
            guarded=True,
        )
