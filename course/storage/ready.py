"""Statements that every save asks, made ready once.

SQLite answers each of them within a few millionths of a second; to put it through SQLAlchemy takes ten times as long.
So on SQLite its text goes to the driver itself. A server is far enough away to be asked the usual way.

What the driver complains of is `database.SQLITE.Error`, not SQLAlchemy's wrapping of it; `faults.FAULTS` holds both.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import sqlite

_Values = Mapping[str, Any]


class Ready:
    """One statement over named values: texts, bytes, whole numbers.

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

    def change_each(self, connection: sa.Connection, many: Sequence[_Values]) -> None:
        """Insert or update once for each of the values."""
        if not is_near(connection):
            connection.execute(self.usual, many)
        else:
            _driver(connection).executemany(self._text, [self._in_order(values) for values in many])

    def _in_order(self, values: _Values) -> list[Any]:
        return [values[name] for name in self._names]


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
