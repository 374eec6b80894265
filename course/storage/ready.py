"""Statements that every save asks, made ready once.

SQLite answers each of them within a few millionths of a second; to put it through SQLAlchemy takes ten times as long.
So on SQLite its text goes to the driver itself. A server is far enough away to be asked the usual way.

What the driver complains of is `database.SQLITE.Error`, not SQLAlchemy's wrapping of it; `faults.FAULTS` holds both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import orjson
import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite

_Values = Mapping[str, Any]


class Ready:
    """One statement over named values: texts, bytes, whole numbers, lists of texts (see `among`).

    Args:
        statement: as a server is asked.
        on_sqlite: where SQLite needs another one.
        sets: of an insert or update, the columns that are given.
    """

    def __init__(
        self, statement: sa.Executable, *, on_sqlite: sa.Executable | None = None, sets: Sequence[str] = ()
    ) -> None:
        self.usual = statement
        asked: Any = statement if on_sqlite is None else on_sqlite
        compiled = asked.compile(dialect=sqlite.dialect(), column_keys=list(sets) or None)
        self._text = str(compiled)
        self._names: tuple[str, ...] = tuple(compiled.positiontup)

    def rows(self, connection: sa.Connection, values: _Values) -> Sequence[Any]:
        """Return the rows that are found."""
        if not is_near(connection):
            return connection.execute(self.usual, values).all()
        return list(_driver(connection).execute(self._text, self._in_order(values)))

    def change(self, connection: sa.Connection, values: _Values) -> int:
        """Insert or update; return how many rows that was."""
        if not is_near(connection):
            return connection.execute(self.usual, values).rowcount
        return int(_driver(connection).execute(self._text, self._in_order(values)).rowcount)

    def change_each(self, connection: sa.Connection, many: Sequence[_Values]) -> int:
        """Insert or update once for each of the values; return how many rows that was, where the database tells."""
        if not is_near(connection):
            return connection.execute(self.usual, many).rowcount
        in_order = [self._in_order(values) for values in many]
        return int(_driver(connection).executemany(self._text, in_order).rowcount)

    def _in_order(self, values: _Values) -> list[Any]:
        return [_as_listed(value) if type(value := values[name]) is list else value for name in self._names]


def among(column: sa.ColumnElement[str], name: str) -> sa.ColumnElement[bool]:
    """Whether a column is one of a list of texts, however many they are, as a server is asked."""
    several: sa.BindParameter[Any] = sa.bindparam(name, type_=postgresql.ARRAY(sa.Text))
    return column == sa.any_(several)


def among_listed(column: sa.ColumnElement[str], name: str) -> sa.ColumnElement[bool]:
    """As `among`, of SQLite: it takes the list as a text of JSON, and answers five times as soon as text by text."""
    several: sa.BindParameter[Any] = sa.bindparam(name)
    return column.in_(sa.select(sa.func.json_each(several).table_valued("value").c.value))


def _as_listed(several: Sequence[str]) -> str:
    return orjson.dumps(several).decode()


@contextmanager
def apart(connection: sa.Connection) -> Iterator[None]:
    """A part of a transaction that is taken back by itself when something goes wrong in it."""
    if not is_near(connection):
        with connection.begin_nested():
            yield
        return
    driver = _driver(connection)
    driver.execute("SAVEPOINT apart")
    try:
        yield
    except BaseException:
        driver.execute("ROLLBACK TO apart")
        driver.execute("RELEASE apart")
        raise
    driver.execute("RELEASE apart")


def is_near(connection: sa.Connection) -> bool:
    """Whether the database is in this program, so that several questions cost no more than one."""
    return connection.dialect.name == "sqlite"


def _driver(connection: sa.Connection) -> Any:
    return connection.connection.driver_connection
