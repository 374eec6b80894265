"""Several centres in one PostgreSQL database: a login sees the centres that are entered for it, and no other.

Source: postgresql.org, "Row Security Policies": owners of a table and superusers are not held by them.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from ledger_examples import a_person, a_unit, new_centre, tables_in
from postgresql_server import PostgresqlServer

from course.errors import DamageError, StorageError
from course.storage.backup import backup, restore
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.mending import rebuild
from course.storage.site import site_of

_SAVES = (
    "GRANT USAGE ON SCHEMA loopledger TO {login}",
    "GRANT SELECT, INSERT ON loopledger.event TO {login}",
    "GRANT SELECT, INSERT, UPDATE ON loopledger.head TO {login}",
    "GRANT SELECT, INSERT, UPDATE, DELETE ON loopledger.fact, loopledger.meta TO {login}",
)


@pytest.fixture
def two(tmp_path: Path, database: str) -> tuple[Path, Path]:
    """Two centres in one database."""
    with new_centre(tmp_path / "east", database) as ledger:
        ledger.append([a_unit("Unit 4")])
    with new_centre(tmp_path / "west", database) as ledger:
        ledger.append([a_unit("Unit 5"), a_person("Amaru Tendelle")])
    return tmp_path / "east", tmp_path / "west"


def _name(folder: Path) -> str:
    server = site_of(folder).server
    assert server
    return str(server.url.database)


def _centre(folder: Path) -> str:
    return (folder / "ledger.url").read_text().splitlines()[1]


@contextmanager
def login_of(server: PostgresqlServer, folder: Path, login: str) -> Iterator[None]:
    """Have a folder use a login of its own, which may save and sees that centre alone."""
    name, own = _name(folder), (folder / "ledger.url").read_text()
    server.tell(name, f"CREATE ROLE {login} LOGIN")
    for line in _SAVES:
        server.tell(name, line.format(login=login))
    server.tell(name, "INSERT INTO login VALUES (%s, %s)", login, _centre(folder))
    (folder / "ledger.url").write_text(own.replace("postgres@", f"{login}@"))
    try:
        yield
    finally:
        (folder / "ledger.url").write_text(own)
        server.tell(name, f"DROP OWNED BY {login}")
        server.tell(name, f"DROP ROLE {login}")


def _as(server: PostgresqlServer, folder: Path, login: str, statement: str, *values: Any) -> list[Any]:
    with psycopg.connect(server.conninfo(_name(folder), login), autocommit=True) as connection:
        done = connection.execute(statement, values or None)
        return done.fetchall() if done.description else []


@pytest.mark.parametrize("table", ["event", "fact", "head", "meta", "login"])
def test_a_login_sees_no_row_of_another_centre(
    two: tuple[Path, Path], postgresql_server: PostgresqlServer, table: str
) -> None:
    east, west = two
    with login_of(postgresql_server, east, "eastern"), login_of(postgresql_server, west, "western"):
        asked = f"SELECT DISTINCT centre FROM {table}"  # noqa: S608 - our own names
        assert _as(postgresql_server, east, "eastern", asked) == [(_centre(east),)]
        assert _as(postgresql_server, west, "western", asked) == [(_centre(west),)]


def test_each_saves_checks_and_backs_up_its_own_with_its_own_login(
    two: tuple[Path, Path], postgresql_server: PostgresqlServer, tmp_path: Path
) -> None:
    """Both at once, and neither changes a row of the other."""
    east, west = two
    before = [row for row in tables_in(west) if row[0] == _centre(west)]
    with login_of(postgresql_server, east, "eastern"), login_of(postgresql_server, west, "western"):
        with open_ledger(west, write=True), open_ledger(east, write=True) as ledger:
            ledger.append([a_unit("Unit 6")])
        rebuild(east)
        assert verify(east).findings == ()
        assert backup(east, tmp_path / "east.tar").events == 4
        assert verify(west).findings == ()
    assert before
    assert [row for row in tables_in(west) if row[0] == _centre(west)] == before


@pytest.mark.parametrize(
    "statement",
    [
        (
            "INSERT INTO event OVERRIDING SYSTEM VALUE SELECT 999, %s, hash, prev, chain, seq, lamport, id, device, "
            "actor, subject, recorded_at, kind, body, 1 FROM event LIMIT 1"
        ),
        "INSERT INTO fact VALUES (%s, 'unit', 'x', NULL, NULL, NULL, NULL, '{}')",
        "INSERT INTO meta VALUES (%s, 'schema', 'ledger/1')",
        "UPDATE meta SET centre = %s WHERE name = 'schema'",
    ],
)
def test_a_login_cannot_write_a_row_of_another_centre(
    two: tuple[Path, Path], postgresql_server: PostgresqlServer, statement: str
) -> None:
    east, west = two
    with (
        login_of(postgresql_server, east, "eastern"),
        pytest.raises(psycopg.errors.InsufficientPrivilege, match="row-level security"),
    ):
        _as(postgresql_server, east, "eastern", statement, _centre(west))


def test_a_login_cannot_enter_itself_for_another_centre_nor_take_the_rules_off(
    two: tuple[Path, Path], postgresql_server: PostgresqlServer
) -> None:
    east, west = two
    with login_of(postgresql_server, east, "eastern"):
        for statement, *values in (
            ("INSERT INTO login VALUES ('eastern', %s)", _centre(west)),
            ("ALTER TABLE event DISABLE ROW LEVEL SECURITY",),
            ("DROP POLICY own_centre ON event",),
        ):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                _as(postgresql_server, east, "eastern", statement, *values)


def test_a_folder_that_names_another_centre_than_its_login_may_see_is_told_so(
    two: tuple[Path, Path], postgresql_server: PostgresqlServer
) -> None:
    east, west = two
    with login_of(postgresql_server, east, "eastern"):
        url = east / "ledger.url"
        own = url.read_text()
        url.write_text(own.replace(_centre(east), _centre(west)))
        for act in (open_ledger, verify):
            with pytest.raises(DamageError, match="or this login may not see it"):
                act(east)
        url.write_text(own)


def test_a_login_that_may_only_save_makes_no_further_centre(
    two: tuple[Path, Path], tmp_path: Path, postgresql_server: PostgresqlServer
) -> None:
    """Neither a new one nor one that is put back; nothing of it stays."""
    east, west = two
    backup(west, tmp_path / "west.tar")
    with login_of(postgresql_server, east, "eastern"):
        url = postgresql_server.url(_name(east), "eastern")
        with pytest.raises(StorageError, match="does not let this user do that"):
            new_centre(tmp_path / "third", url)
        with pytest.raises(StorageError, match="does not let this user do that"):
            restore(tmp_path / "west.tar", tmp_path / "again", database=url)
    assert not (tmp_path / "again").exists()
    assert postgresql_server.tell(_name(east), "SELECT count(DISTINCT centre) FROM event") == [(2,)]


@pytest.mark.parametrize(
    "statement",
    [
        "ALTER TABLE head DISABLE ROW LEVEL SECURITY",
        "DROP POLICY own_centre ON head",
        "ALTER POLICY own_centre ON head USING (true)",
        "CREATE POLICY other ON head USING (true)",
    ],
)
def test_rules_that_were_taken_off_altered_or_added_to_are_found(
    two: tuple[Path, Path], postgresql_server: PostgresqlServer, statement: str
) -> None:
    east, _ = two
    assert verify(east).fine
    postgresql_server.tell(_name(east), statement)
    (finding,) = verify(east).findings
    assert "taken off or altered: own_centre of head" in finding
