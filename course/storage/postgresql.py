"""What only PostgreSQL knows: how its server is reached, what keeps a save safe there, and who may write.

Sources: postgresql.org, "Reliability and the Write-Ahead Log", "Explicit Locking" (advisory locks), "Transaction
Isolation" and "PostgreSQL Error Codes". Several centres can share one database; all tables are in a schema of our own.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Engine, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from course.errors import RefusedError, StorageError
from course.storage import tables
from course.storage.database import Way
from course.storage.lock import busy
from course.storage.patience import patient

SCHEMA = "loopledger"
_DRIVER = "postgresql+psycopg"
_EXAMPLE = "postgresql+psycopg://user@host:5432/database"
_LOCK_WAIT = "1s"
"""How long the end of another program, or of our own lost connection, is waited for."""
_HELD_WAIT = "10s"
"""How long a row or table that another program holds is waited for: else tablet after tablet would come to wait too."""
_MOVING_WAIT = "30s"
"""How long the end of those who read is waited for when tables are moved."""
_PATIENCE = {
    "connect_timeout": 10, "keepalives_idle": 10, "keepalives_interval": 5, "keepalives_count": 3,
    "tcp_user_timeout": 20_000,
}  # fmt: skip
"""So that neither end waits for ever on a line that was cut; what the URL says goes first. Seconds, the last in ms."""
_SESSION = """SELECT set_config('search_path', %s, false), set_config('default_transaction_isolation', %s, false),
set_config('default_transaction_read_only', %s, false), set_config('tcp_keepalives_idle', '10', false),
set_config('tcp_keepalives_interval', '5', false), set_config('tcp_keepalives_count', '3', false),
set_config('lock_timeout', %s, false)"""
_SAFETY = ("fsync", "synchronous_commit", "full_page_writes")
_COLLIDED = ("40001", "40P01")
_DAMAGED = ("XX001", "XX002")
_LIMITS = ("57014", "25P03", "25P04", "57P05")
_LOST = ("57P01", "57P02", "57P03")
_SENTENCES = {
    "53100": "the database server's disk is full. Make room on it, then do it again",
    "53300": "the database server takes no more connections. Close other programs, then do it again",
    "25006": "the database can only be read (a standby, or set so). Name the one that can be written in ledger.url",
    "42501": "the database does not let this user do that. Ask whoever runs the server",
    "55P03": "another program holds what this needs in the database. Wait until it is done, then do it again",
    "58030": "the database server's disk reports a fault. Have it checked, then do it again",
} | dict.fromkeys(_DAMAGED, "the database is damaged on its server. Restore the newest backup into an empty folder") | (
    dict.fromkeys(_COLLIDED, "others were saving at the same moment. Do it again")
) | dict.fromkeys(
    _LIMITS,
    "it took longer than the database server lets this user take. Do it again; where it stays so, ask "
    "whoever runs the server for more time",
)  # fmt: skip
_NO_MORE_LINES = ("too many clients", "too many connections for", "remaining connection slots are reserved")
"""How a server says 53300 to whoever connects: the driver hands on no state then, only what it says."""
_ROW, _DELETE_OR_UPDATE, _BEFORE, _TRUNCATE = 1, 8 + 16, 2, 32  # bits of pg_trigger.tgtype
_GUARD_TYPES = {
    "event_no_change": _ROW + _BEFORE + _DELETE_OR_UPDATE,
    "event_no_truncate": _BEFORE + _TRUNCATE,
}


@dataclass(frozen=True)
class Server:
    """A database on a PostgreSQL server, and which of the centres in it is meant.

    The URL may hold a password: it is in no text that this class gives but `line`.
    """

    url: URL = field(repr=False)
    centre: str

    @property
    def line(self) -> str:
        """The URL as it is kept in ledger.url, with its password where it has one."""
        return self.url.render_as_string(hide_password=False)

    @property
    def where(self) -> str:
        """Which database is meant, in words."""
        named = self.url.host or self.url.query.get("host") or "this machine"
        host = named if isinstance(named, str) else ", ".join(named)
        return f"PostgreSQL database {self.url.database or self.url.username or 'of this user'} on {host}"

    @property
    def storage_mode(self) -> str:
        """How what is saved is kept safe there, in a sentence."""
        return f"{self.where}; each save is on the server's disk before it is acknowledged."


def read_url(text: str) -> URL:
    """Read a database's URL. No error repeats what was written, since it may hold a password.

    Raises:
        RefusedError: it is none, or of another kind of database.
    """
    try:
        url = make_url(text.strip())
        port = url.port
    except (ArgumentError, ValueError):
        url, port = None, None
    if url is None or text.count("@") > 1 or (port is not None and not 0 < port < 65536):
        raise RefusedError(
            f"That is no URL of a database. It looks like {_EXAMPLE}; characters such as @ : / in a name or password "
            "are written as %40 %3A %2F. Nothing was changed."
        )
    if url.drivername not in ("postgresql", _DRIVER):
        raise RefusedError(f"Only PostgreSQL can be named by a URL, such as {_EXAMPLE}. Nothing was changed.")
    return url.set(drivername=_DRIVER)


def engine_for(server: Server, way: Way, folder: Path) -> Engine:
    """Return an engine on one centre's database.

    To write there is one connection, which holds the centre's lock as long as it lives: whoever comes back after a
    broken line has to get the lock again before it can write. To read, each transaction sees one moment.

    Raises:
        StorageError: the driver is missing here.
    """
    pool = {"pool_size": 1, "max_overflow": 0} if way == "write" else {"pool_size": 4, "max_overflow": 16}
    try:
        engine = sa.create_engine(server.url, pool_pre_ping=True, hide_parameters=True, **pool)
    except ImportError:
        raise StorageError(
            "This centre's ledger is in PostgreSQL, and what speaks with it is not installed here. Install it: "
            "pip install 'loopledger[postgresql]'. Nothing was changed."
        ) from None

    @sa.event.listens_for(engine, "do_connect")
    def _connect(_dialect: Any, _record: Any, args: Any, values: dict[str, Any]) -> Any:
        connection = _line(*args, **(_PATIENCE | {"client_encoding": "utf8"} | values))
        try:
            _prepare(connection, server, way, folder)
        except BaseException:
            connection.close()
            raise
        return connection

    return engine


def _line(*args: Any, **values: Any) -> Any:
    from course.storage.line import Line  # noqa: PLC0415 - needs the driver, which is not installed everywhere

    return Line.connect(*args, **values)


def _prepare(connection: Any, server: Server, way: Way, folder: Path) -> None:
    modes = ("read committed", "off") if way == "write" else ("repeatable read", "on")
    connection.execute(_SESSION, (SCHEMA, *modes, _HELD_WAIT))
    if way == "write":
        _refuse_unsafe(connection)
        _lock(connection, server.centre, folder)
    connection.commit()


def _refuse_unsafe(connection: Any) -> None:
    """Read back that the server keeps what it acknowledges, and that no text is bent on its way."""
    asked = "SELECT name, setting FROM pg_settings WHERE name = ANY(%s)"
    kept = dict(connection.execute(asked, ([*_SAFETY, "server_encoding"],)).fetchall())
    if off := [name for name in _SAFETY if kept[name] == "off"]:
        raise StorageError(
            f"NOT saved: the database server runs with {off[0]} off, so that a power cut could take what was saved. "
            "Have it set to on, then do it again."
        )
    if kept["server_encoding"] != "UTF8":
        raise StorageError(
            f"NOT saved: the database keeps text as {kept['server_encoding']}. Name one that was made with UTF8."
        )
    # From here on a new setting for everybody does not reach this session.
    connection.execute("SELECT set_config('synchronous_commit', %s, false)", (kept["synchronous_commit"],))


def _lock(connection: Any, centre: str, folder: Path) -> None:
    """Hold a centre for writing until the connection ends; the server lets it go by itself when it does."""
    connection.execute("SELECT set_config('lock_timeout', %s, true)", (_LOCK_WAIT,))
    try:
        connection.execute("SELECT pg_advisory_lock(%s)", (_number(f"centre {centre}"),))
    except Exception as error:
        if _state(error) == "55P03":
            raise busy(folder) from None
        raise


def _number(of: str) -> int:
    return int.from_bytes(hashlib.sha256(f"loopledger {of}".encode()).digest()[:8], "big", signed=True)


def make_tables(connection: sa.Connection) -> None:
    """Make what is missing of schema and tables; two centres that arrive at once wait for each other."""
    with patient():  # a whole restore may be waited for
        connection.execute(sa.text("SET LOCAL lock_timeout = 0"))
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_number("tables"))))
    if not sa.inspect(connection).has_schema(SCHEMA):
        connection.execute(sa.schema.CreateSchema(SCHEMA))
    if sa.inspect(connection).has_table(tables.event.name) and tables.layout_of(connection) != tables.NEWEST_LAYOUT:
        raise StorageError(
            "NOT saved: the tables of this database have another layout than this version of the program makes. Have "
            "their owner move them first (course layout FOLDER --move), with the folder of a centre that is there."
        )
    tables.metadata.create_all(connection)


def hold_tables(connection: sa.Connection, folder: Path) -> None:
    """Hold every centre of a database for the length of a transaction.

    Raises:
        BusyError: a program has one of them open for writing.
    """
    connection.execute(sa.text(f"SET LOCAL lock_timeout = '{_MOVING_WAIT}'"))
    connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_number("tables"))))
    for centre in connection.execute(sa.select(tables.meta.c.centre).distinct()).scalars().all():
        got = connection.execute(sa.select(sa.func.pg_try_advisory_xact_lock(_number(f"centre {centre}")))).scalar()
        if not got:
            raise busy(folder)


def faulty_guards(connection: sa.Connection) -> tuple[list[str], list[str]]:
    """Return the names of guards that are missing or altered, and of triggers and rules that are not the program's."""
    asked = sa.text(
        "SELECT c.relname, t.tgname, t.tgtype, t.tgenabled, p.prosrc, t.tgqual IS NULL AND t.tgattr::text = '' "
        "FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid "
        "WHERE NOT t.tgisinternal AND c.relnamespace = to_regnamespace(:schema) AND c.relname = ANY(:tables)"
    )
    ours = {"schema": SCHEMA, "tables": [*tables.metadata.tables, "login"]}
    there = {tuple(row[:2]): tuple(row[2:]) for row in connection.execute(asked, ours)}
    wanted = {
        (tables.event.name, name): (kind, "A", tables.POSTGRESQL_REFUSAL, True) for name, kind in _GUARD_TYPES.items()
    }
    rules = connection.execute(
        sa.text("SELECT rulename FROM pg_rules WHERE schemaname = :schema AND tablename = ANY(:tables)"), ours
    )
    strange = sorted({*(name for _, name in there.keys() - wanted.keys()), *rules.scalars()})
    missing = [of[1] for of, guard in wanted.items() if there.get(of) != guard]
    return sorted([*missing, *_centres_not_kept_apart(connection)]), strange


def _centres_not_kept_apart(connection: sa.Connection) -> list[str]:
    """Name the rules that are off or altered by which a login sees only its own centres."""
    if tables.layout_of(connection) == tables.FIRST_LAYOUT:
        return []
    asked = sa.text(
        "SELECT c.relname, c.relrowsecurity, array_agg(p.polname || pg_get_expr(p.polqual, p.polrelid)) "
        "FROM pg_class c LEFT JOIN pg_policy p ON p.polrelid = c.oid "
        "WHERE c.relnamespace = to_regnamespace(:schema) AND c.relname = ANY(:tables) GROUP BY 1, 2"
    )
    names = [table.name for table in tables.CENTRE_TABLES]
    there = {row[0]: tuple(row[1:]) for row in connection.execute(asked, {"schema": SCHEMA, "tables": names})}
    whole = (True, [f"own_centre{tables.OWN_ROWS}"])
    return [f"own_centre of {name}" for name in names if there.get(name) != whole]


def collided(error: BaseException) -> bool:
    """Whether two transactions stood in each other's way, so that the same again may well go through."""
    return _state(_inner(error)) in _COLLIDED


def damaged(error: BaseException) -> bool:
    """Whether the server tells of damage to the database."""
    return _state(_inner(error)) in _DAMAGED


def unreachable(error: BaseException) -> bool:
    """Whether the server was not to be spoken with at all."""
    state = _state(inner := _inner(error))
    if state is None:
        return _from_driver(inner) and any(kind.__name__ == "OperationalError" for kind in type(inner).__mro__)
    return state.startswith("08") or state in _LOST


def reason(error: BaseException) -> str | None:
    """Tell a complaint of the server as part of a sentence, with the way out; None when it is not the server's.

    Of what the driver says only the server's own first line is repeated: it never knows the password in plain.
    """
    inner = _inner(error)
    if unreachable(error):
        _, fatal, told = str(inner).partition("FATAL:")
        if any(words in told for words in _NO_MORE_LINES):
            return _SENTENCES["53300"]
        said = f" ({told.strip().splitlines()[0]})" if fatal and told.strip() else ""
        return (
            f"the database server does not answer or sent this program away{said}. See that it runs and that "
            "ledger.url names it rightly, then do it again"
        )
    state = _state(inner)
    if state in _SENTENCES:
        return _SENTENCES[state]
    if state is not None:
        said = str(inner).partition("\n")[0]
        return f"the database refuses it ({said}). Please report it"
    return None


def _inner(error: BaseException) -> BaseException:
    return error.orig if isinstance(error, DBAPIError) and error.orig is not None else error


def _from_driver(error: BaseException) -> bool:
    return type(error).__module__.partition(".")[0] == "psycopg"


def _state(error: BaseException) -> str | None:
    """The five letters by which the server names what happened, None when it is not from there."""
    return getattr(error, "sqlstate", None) if _from_driver(error) else None
