"""Laws that hold for every ledger: once is once, every change shows, order of arrival is nothing."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ledger_examples import a_person, a_unit, an_attempt, change, copy_of, lose_tail, new_centre, tables_in

from course.record.events import Draft
from course.record.projection import project
from course.storage import tables
from course.storage.appending import write_all_facts
from course.storage.database import SQLITE, engine_for
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.mending import rebuild
from course.storage.tables import HASHED
from course.words import Mark

LAW = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
_THINGS = st.lists(
    st.one_of(
        st.builds(lambda: [a_unit()]),
        st.builds(lambda name: [a_person(name)], st.sampled_from(["Amaru", "Brünhild", "陳"])),
        st.builds(lambda marks: an_attempt(*marks), st.lists(st.sampled_from([Mark.DONE, Mark.ERROR]), max_size=4)),
    ),
    min_size=1,
    max_size=6,
)


@contextmanager
def _place() -> Iterator[Path]:
    """A folder with a device of its own; hypothesis runs many examples in one test."""
    with tempfile.TemporaryDirectory() as place, mock.patch.dict(os.environ, {"LOOPLEDGER_STATE": f"{place}/device"}):
        yield Path(place)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shared_database(request: pytest.FixtureRequest) -> str | None:
    """None for ledgers in their folders, or the URL of one database for the centres of all examples."""
    if request.param == "sqlite":
        return None
    server = request.getfixturevalue("postgresql_server")
    return str(server.url(server.new_database()))


@LAW
@given(_THINGS, st.data())
def test_saving_twice_is_saving_once(
    shared_database: str | None, things: list[list[Draft]], data: st.DataObject
) -> None:
    """Whatever comes again, in whatever lists, adds nothing and gives the stored events."""
    drafts = [draft for thing in things for draft in thing]
    with _place() as place, new_centre(place / "c", shared_database) as ledger:
        stored = {event.id: event for thing in things for event in ledger.append(thing)}
        head = ledger.head()
        again = data.draw(st.lists(st.sampled_from(drafts), max_size=8))
        assert ledger.append(again) == [stored[draft.id] for draft in again]
        assert ledger.head() == head


@LAW
@given(_THINGS)
def test_the_tables_are_what_a_rebuild_gives(shared_database: str | None, things: list[list[Draft]]) -> None:
    """Event by event or all at once: the same facts, byte for byte."""
    with _place() as place:
        with new_centre(place / "c", shared_database) as ledger:
            for thing in things:
                for draft in thing:
                    ledger.append([draft])
        before = tables_in(place / "c")
        rebuild(place / "c")
        assert tables_in(place / "c") == before
        assert verify(place / "c").fine


@LAW
@given(_THINGS, st.randoms(use_true_random=False))
def test_facts_are_the_same_for_any_order_of_arrival(
    shared_database: str | None, things: list[list[Draft]], chance: Any
) -> None:
    """The same events in another order in another database, which is a file each time."""
    with _place() as place:
        with new_centre(place / "c", shared_database) as ledger:
            for thing in things:
                ledger.append(thing)
            centre = ledger.centre_id
            events = list(ledger.events())
        for subject in dict.fromkeys(event.subject for event in events):
            own = [event for event in events if event.subject == subject]
            told = project(own)
            chance.shuffle(own)
            assert project(own) == told
        chance.shuffle(events)
        (place / "other").mkdir()
        engine = engine_for(place / "other" / "ledger.db", "write")
        with engine.begin() as connection:
            tables.metadata.create_all(connection)
            connection.execute(sa.insert(tables.event), [tables.row_of(event, origin=1) for event in events])
            write_all_facts(connection, centre)
        engine.dispose()
        assert tables_in(place / "other") == [row for row in tables_in(place / "c") if row[0] == centre]


@pytest.mark.parametrize("field", [column.name for column in HASHED])
@settings(max_examples=6, deadline=None, derandomize=True)
@given(seq=st.integers(1, 6), at=st.integers(0, 10**6), flip=st.integers(1, 255))
def test_any_changed_byte_of_any_hashed_field_is_found(field: str, seq: int, at: int, flip: int) -> None:
    """Text, number or hash, in any event, first or last; the database itself sees nothing wrong in most of them."""
    with _place() as place:
        folder = copy_of(_sample(), place / "c")
        with closing(SQLITE.connect(str(folder / "ledger.db"))) as connection:
            asked = f"SELECT CAST({field} AS BLOB), typeof({field}) FROM event WHERE seq = ?"  # noqa: S608 - our own names
            raw, kind = connection.execute(asked, (seq,)).fetchone()
        changed = bytearray(raw)
        changed[at % len(raw)] ^= flip
        value: Any = bytes(changed)
        if kind == "integer":
            value = int.from_bytes(raw, "big") ^ flip
        cast = "CAST(? AS TEXT)" if kind == "text" else "?"
        change(folder, f"UPDATE event SET {field} = {cast} WHERE seq = ?", value, seq)  # noqa: S608 - our own names
        assert verify(folder).findings


_SAMPLES: list[Any] = []


def _sample() -> Path:
    """One centre with six events, made once."""
    if not _SAMPLES:
        _SAMPLES.append(tempfile.TemporaryDirectory())
        home = mock.patch.dict(os.environ, {"LOOPLEDGER_STATE": f"{_SAMPLES[0].name}/device"})
        with home, new_centre(Path(_SAMPLES[0].name) / "c") as ledger:
            ledger.append([*an_attempt(Mark.DONE), a_person("Brünhild 陳")])
    return Path(_SAMPLES[0].name) / "c"


@LAW
@given(st.integers(1, 12), st.integers(1, 12))
def test_a_lost_tail_of_any_length_is_found_by_the_witness(shared_database: str | None, count: int, lost: int) -> None:
    """Though the chain that is left fits in itself."""
    lost = min(lost, count)
    with _place() as place:
        with new_centre(place / "c", shared_database) as ledger:
            for _ in range(count):
                ledger.append([a_unit()])
        lose_tail(place / "c", lost)
        rest = [finding for finding in verify(place / "c").findings if "no event tells of" not in finding]
        assert len(rest) == 1
        assert rest[0].startswith(f"{lost} event")
        with open_ledger(place / "c") as ledger:
            assert ledger.damage
