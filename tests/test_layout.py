"""Tables of an older layout: moved whole or not at all, looked at without moving, refused where they are newer.

`stored/centre_0_2_0.tar.gz` is the folder of a centre as version 0.2.0 of this program wrote it: eight events.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic.config import Config
from alembic.script import ScriptDirectory
from click.testing import CliRunner, Result
from ledger_examples import a_unit, change, look, new_centre
from postgresql_server import PostgresqlServer

from course.commands import main
from course.errors import BusyError, DamageError, StorageError
from course.storage import layout as layouts
from course.storage import tables
from course.storage.backup import backup, restore
from course.storage.database import SQLITE, engine_for
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.postgresql import read_url
from course.storage.site import site_of
from course.storage.tables import EARLIER_GUARDS, FIRST_LAYOUT, KNOWN_LAYOUTS, NEWEST_LAYOUT, SQLITE_GUARDS

STORED = Path(__file__).parent / "stored" / "centre_0_2_0.tar.gz"
KEPT = f"ledger-{FIRST_LAYOUT}.db"
LAST = (8, "0e0d1285bd816df4f423408f7afac408a8a8575ec4de92efaa2a6899b7ce4f52")
"""Place and hash of its last event, as they were written down when it was made."""


@pytest.fixture
def stored(tmp_path: Path) -> Path:
    """A centre's folder as 0.2.0 left it."""
    shutil.unpack_archive(STORED, tmp_path / "centre")
    return tmp_path / "centre"


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def everything(file: Path) -> list[Any]:
    """All that a file holds: what it is made of and every row."""
    with closing(SQLITE.connect(str(file))) as connection:
        made = connection.execute("SELECT type, name, sql FROM sqlite_schema ORDER BY type, name").fetchall()
        names = [name for kind, name, _ in made if kind == "table"]
        rows = [connection.execute(f"SELECT * FROM {name}").fetchall() for name in names]  # noqa: S608 - own names
        return [made, rows]


def shape(file: Path) -> set[tuple[str, str, str]]:
    """What a file is made of, whatever the blanks."""
    with closing(SQLITE.connect(str(file))) as connection:
        made = connection.execute("SELECT type, name, sql FROM sqlite_schema").fetchall()
    return {(kind, name, "".join((sql or "").split())) for kind, name, sql in made}


# --- a file ---------------------------------------------------------------------------------------------------------


def test_a_ledger_of_0_2_0_is_moved_when_it_is_opened_to_write_and_the_file_as_it_was_is_kept(stored: Path) -> None:
    before = everything(stored / "ledger.db")
    with open_ledger(stored, write=True) as ledger:
        assert "moved from layout 0001 to 0002" in ledger.notices[0]
        assert KEPT in ledger.notices[0]
        ledger.append([a_unit("Unit 5")])
        assert ledger.event_at(ledger.heads()[0].chain, 1) is not None
        assert {unit.label for unit in ledger.facts("unit")} == {"Unit 4", "Unit 5"}  # type: ignore[attr-defined]
    assert everything(stored / KEPT) == before
    ((seq, hash_),) = look(stored, f"SELECT seq, lower(hex(hash)) FROM event WHERE pos = {LAST[0]}")  # noqa: S608
    assert (seq, hash_) == LAST
    report = verify(stored)
    assert (report.findings, report.notices) == ((), ())
    with open_ledger(stored, write=True) as again:
        assert not again.notices


def test_a_ledger_of_0_2_0_is_read_without_changing_it(stored: Path) -> None:
    before = everything(stored / "ledger.db")
    with open_ledger(stored) as ledger:
        assert [unit.label for unit in ledger.facts("unit")] == ["Unit 4"]  # type: ignore[attr-defined]
    report = verify(stored)
    assert report.fine
    assert "layout 0001" in report.notices[0]
    assert everything(stored / "ledger.db") == before
    assert not (stored / KEPT).exists()


def test_a_moved_file_is_made_as_a_new_one_is(stored: Path, tmp_path: Path) -> None:
    """Also one that is made by the first layout's own statements."""
    open_ledger(stored, write=True).close()
    new_centre(tmp_path / "new").close()
    assert shape(stored / "ledger.db") == shape(tmp_path / "new" / "ledger.db")
    engine = engine_for(tmp_path / "bare.db", "write")
    with engine.begin() as connection:
        _first_layout(connection)
        layouts.move_tables(connection)
    engine.dispose()
    assert shape(tmp_path / "bare.db") == shape(tmp_path / "new" / "ledger.db")


def _first_layout(connection: sa.Connection) -> None:
    file = Path(layouts.__file__).parent / "layouts" / "versions" / f"r0001.{connection.dialect.name}.sql"
    for statement in file.read_text("utf-8").split("\n\n"):
        connection.exec_driver_sql(statement)


@contextmanager
def breaking_at(number: int) -> Iterator[list[str]]:
    """Let so many statements that change something through and break at the next; the commit counts as one."""
    said: list[str] = []

    def count(statement: str) -> None:
        if statement.lstrip().upper().startswith(("SELECT", "PRAGMA", "BEGIN", "SHOW", "SET LOCAL")):
            return
        said.append(statement)
        if len(said) > number:
            raise OSError(28, "No space left on device")

    def at_statement(_c: Any, _u: Any, statement: str, *_: Any) -> None:
        count(statement)

    def at_commit(_: Any) -> None:
        if said:
            count("COMMIT")

    sa.event.listen(sa.engine.Engine, "before_cursor_execute", at_statement)
    sa.event.listen(sa.engine.Engine, "commit", at_commit)
    try:
        yield said
    finally:
        sa.event.remove(sa.engine.Engine, "before_cursor_execute", at_statement)
        sa.event.remove(sa.engine.Engine, "commit", at_commit)


def moved(folder: Path) -> str | None:
    """Why it was not moved; None when it was."""
    try:
        layouts.move(folder)
    except StorageError as error:
        return error.sentence
    return None


def test_a_move_that_breaks_at_any_statement_leaves_the_file_as_it_was(stored: Path) -> None:
    before = everything(stored / "ledger.db")
    broken = 0
    while True:
        with breaking_at(broken) as said:
            told = moved(stored)
        if told is None:
            break
        assert told.startswith("NOT saved: the disk is full")
        assert everything(stored / "ledger.db") == before, said[-1]
        broken += 1
    assert broken >= 5  # the version's table, its line, the guard off and on, the line moved, the commit
    assert verify(stored).fine
    assert layouts.standing(stored).layout == NEWEST_LAYOUT


def test_a_disk_that_cannot_take_the_copy_keeps_the_file_from_being_moved(
    stored: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = everything(stored / "ledger.db")

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as then:
        then.setattr(layouts, "copy_database", full)
        with pytest.raises(StorageError, match="the disk is full"):
            open_ledger(stored, write=True)
    assert everything(stored / "ledger.db") == before
    assert {file.name for file in stored.glob("ledger*")} == {"ledger.db", "ledger.head"}
    with open_ledger(stored) as ledger:
        assert ledger.facts("unit")
    open_ledger(stored, write=True).close()
    assert (stored / KEPT).exists()


def test_a_move_that_would_lose_events_is_taken_back(stored: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def losing(settings: Config, _: str) -> None:
        connection = settings.attributes["connection"]
        for guard in SQLITE_GUARDS:
            connection.exec_driver_sql(f"DROP TRIGGER {guard}")
        connection.exec_driver_sql("DELETE FROM event WHERE seq = 8")

    before = everything(stored / "ledger.db")
    monkeypatch.setattr("alembic.command.upgrade", losing)
    with pytest.raises(DamageError, match="would have lost events"):
        layouts.move(stored)
    assert everything(stored / "ledger.db") == before


def test_a_guard_that_somebody_else_wrote_is_not_replaced_but_found(stored: Path) -> None:
    with closing(SQLITE.connect(str(stored / "ledger.db"))) as connection:
        connection.execute("DROP TRIGGER event_no_replace")
        connection.execute(EARLIER_GUARDS["event_no_replace"].replace("append-only", "open"))
    open_ledger(stored, write=True).close()
    assert "taken off or altered: event_no_replace" in verify(stored).findings[0]


def test_the_command_tells_what_is_to_come_and_moves_when_asked(stored: Path) -> None:
    told = course("layout", stored)
    assert told.exit_code == 1
    assert told.stdout.startswith("The tables have layout 0001; this version adds:\n0002: In a file, the guard")
    plain = json.loads(course("layout", stored, "--json").stdout)
    assert (plain["layout"], [step["layout"] for step in plain["steps"]], plain["done"]) == ("0001", ["0002"], None)
    assert layouts.standing(stored).layout == FIRST_LAYOUT
    done = course("layout", stored, "--move")
    assert done.exit_code == 0, done.output
    assert "moved from layout 0001 to 0002" in done.stdout
    assert "the newest that this version knows" in done.stdout
    assert course("layout", stored, "--move").stdout.count("\n") == 1
    assert course("layout", stored, "--move", "--database", "postgresql://x@/y").exit_code == 3
    assert course("layout", stored.parent / "none").exit_code == 4
    with open_ledger(stored, write=True):
        assert course("layout", stored, "--move").exit_code == 5


def test_a_backup_of_an_older_layout_comes_back_in_todays(stored: Path, tmp_path: Path, database: str) -> None:
    """As a file and on a server, with the same events."""
    assert backup(stored, tmp_path / "b.tar").events == 8
    hashes = look(stored, "SELECT lower(hex(hash)) FROM event ORDER BY pos")
    restore(tmp_path / "b.tar", tmp_path / "file")
    restore(tmp_path / "b.tar", tmp_path / "server", database=database)
    for folder in ("file", "server"):
        assert layouts.standing(tmp_path / folder).layout == NEWEST_LAYOUT
        assert verify(tmp_path / folder).fine
    assert look(tmp_path / "server", "SELECT encode(hash, 'hex') FROM event ORDER BY pos") == hashes


def test_a_ledger_whose_layout_is_newer_is_refused_and_left_alone(either_database: str | None, tmp_path: Path) -> None:
    folder = tmp_path / "centre"
    new_centre(folder, either_database).close()
    change(folder, "UPDATE alembic_version SET version_num = ?", "0003")
    for act in (
        lambda: open_ledger(folder), lambda: open_ledger(folder, write=True), lambda: layouts.move(folder),
        lambda: layouts.standing(folder),
    ):  # fmt: skip
        with pytest.raises(StorageError, match="layout 0003, which a newer version"):
            act()
    assert look(folder, "SELECT version_num FROM alembic_version") == [("0003",)]


def test_the_layouts_that_are_known_are_those_that_have_steps() -> None:
    found = ScriptDirectory(str(Path(layouts.__file__).parent / "layouts")).walk_revisions()
    assert tuple(one.revision for one in found)[::-1] == KNOWN_LAYOUTS


# --- a server -------------------------------------------------------------------------------------------------------


@pytest.fixture
def on_server(stored: Path, tmp_path: Path, database: str, postgresql_server: PostgresqlServer) -> Path:
    """The same centre on a server whose tables have the first layout."""
    backup(stored, tmp_path / "b.tar")
    restore(tmp_path / "b.tar", tmp_path / "server", database=database)
    set_back(postgresql_server, str(read_url(database).database))
    return tmp_path / "server"


_SHAPE = """
SELECT 'column', table_name || '.' || column_name,
       concat_ws(' ', ordinal_position, data_type, collation_name, is_nullable, identity_generation)
  FROM information_schema.columns WHERE table_schema = 'loopledger'
UNION ALL SELECT 'constraint', conname::text, pg_get_constraintdef(oid) FROM pg_constraint
 WHERE connamespace = 'loopledger'::regnamespace
UNION ALL SELECT 'index', indexname::text, indexdef FROM pg_indexes WHERE schemaname = 'loopledger'
UNION ALL SELECT 'trigger', tgname::text, pg_get_triggerdef(t.oid) || tgenabled::text FROM pg_trigger t
  JOIN pg_class c ON c.oid = tgrelid WHERE c.relnamespace = 'loopledger'::regnamespace AND NOT tgisinternal
UNION ALL SELECT 'function', proname::text, prosrc FROM pg_proc WHERE pronamespace = 'loopledger'::regnamespace
UNION ALL SELECT 'policy', tablename::text || policyname::text, concat_ws(' ', permissive, roles, cmd, qual, with_check)
  FROM pg_policies WHERE schemaname = 'loopledger'
UNION ALL SELECT 'rights', relname::text, concat_ws(' ', relacl, relrowsecurity) FROM pg_class
 WHERE relnamespace = 'loopledger'::regnamespace
UNION ALL SELECT 'line', 'alembic_version', version_num FROM loopledger.alembic_version
ORDER BY 1, 2, 3
"""


def _server_shape(server: PostgresqlServer, name: str) -> list[Any]:
    return server.tell(name, _SHAPE)


def test_tables_that_were_moved_on_a_server_are_as_new_ones(
    on_server: Path, tmp_path: Path, postgresql_server: PostgresqlServer
) -> None:
    """Also those that are made by the first layout's own statements."""
    new = postgresql_server.new_database()
    new_centre(tmp_path / "new", postgresql_server.url(new)).close()
    wanted = _server_shape(postgresql_server, new)
    layouts.move(on_server)
    assert _server_shape(postgresql_server, _name(on_server)) == wanted
    bare = postgresql_server.new_database()
    postgresql_server.tell(bare, "CREATE SCHEMA loopledger")
    engine = sa.create_engine(postgresql_server.url(bare), connect_args={"options": "-c search_path=loopledger"})
    with engine.begin() as connection:
        _first_layout(connection)
        layouts.move_tables(connection)
    engine.dispose()
    assert _server_shape(postgresql_server, bare) == wanted


def _name(folder: Path) -> str:
    server = site_of(folder).server
    assert server
    return str(server.url.database)


def test_older_tables_on_a_server_are_moved_by_their_owner_alone_and_whoever_read_before_reads_on(
    on_server: Path, postgresql_server: PostgresqlServer
) -> None:
    name, url = _name(on_server), (on_server / "ledger.url").read_text()
    granted = (
        "CREATE ROLE porter LOGIN", "GRANT USAGE ON SCHEMA loopledger TO porter",
        "GRANT SELECT, INSERT ON ALL TABLES IN SCHEMA loopledger TO porter",
        "GRANT UPDATE ON loopledger.head, loopledger.fact, loopledger.meta TO porter",
        "GRANT DELETE ON loopledger.fact, loopledger.meta TO porter",
    )  # fmt: skip
    for line in granted:
        postgresql_server.tell(name, line)
    try:
        (on_server / "ledger.url").write_text(url.replace("postgres@", "porter@"))
        for write in (False, True):
            with pytest.raises(StorageError, match=r"course layout server --move --database URL-OF-THE-OWNER"):
                open_ledger(on_server, write=write)
        told = course("layout", on_server)
        assert told.exit_code == 1
        assert "Their owner moves them" in told.stdout
        assert "this version needs 0002: their owner moves them, as course layout says." in verify(on_server).notices[0]
        with pytest.raises(StorageError, match="does not let this user do that"):
            layouts.move(on_server)
        assert layouts.standing(on_server).layout == FIRST_LAYOUT
        done = course("layout", on_server, "--move", "--database", url.splitlines()[0])
        assert done.exit_code == 0, done.output
        assert "for every centre in it" in done.stdout
        with open_ledger(on_server, write=True) as ledger:
            ledger.append([a_unit("Unit 5")])
        assert verify(on_server).fine
    finally:
        (on_server / "ledger.url").write_text(url)
        postgresql_server.tell(name, "DROP OWNED BY porter")
        postgresql_server.tell(name, "DROP ROLE porter")


def test_tables_on_a_server_are_not_moved_while_a_program_writes_into_any_centre_of_it(
    on_server: Path, tmp_path: Path, postgresql_server: PostgresqlServer
) -> None:
    url = postgresql_server.url(_name(on_server))
    with pytest.raises(StorageError, match="Have their owner move them first"):
        new_centre(tmp_path / "other", url)
    layouts.move(on_server)
    with new_centre(tmp_path / "other", url):
        set_back(postgresql_server, _name(on_server))
        with pytest.raises(BusyError):
            layouts.move(on_server)
    assert layouts.standing(on_server).layout == FIRST_LAYOUT
    layouts.move(on_server)
    assert verify(tmp_path / "other").fine


def set_back(server: PostgresqlServer, name: str) -> None:
    """Take off what the second layout added."""
    for table in tables.CENTRE_TABLES:
        server.tell(name, f"DROP POLICY own_centre ON {table.name}")
        server.tell(name, f"ALTER TABLE {table.name} DISABLE ROW LEVEL SECURITY")
    server.tell(name, "DROP TABLE login, alembic_version")


def test_a_move_on_a_server_that_breaks_at_any_statement_leaves_all_as_it_was(
    on_server: Path, postgresql_server: PostgresqlServer
) -> None:
    asked = _SHAPE.replace(
        "UNION ALL SELECT 'line', 'alembic_version', version_num FROM loopledger.alembic_version", ""
    )
    before = postgresql_server.tell(_name(on_server), asked)
    broken = 0
    while True:
        with breaking_at(broken) as said:
            told = moved(on_server)
        if told is None:
            break
        assert told.startswith("NOT saved: ")
        assert postgresql_server.tell(_name(on_server), asked) == before, said[-1]
        broken += 1
    assert broken >= 15
    assert verify(on_server).fine
