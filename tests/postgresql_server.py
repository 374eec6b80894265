"""A real PostgreSQL server of the tests' own, from the system's packages: on a socket in a new folder, no network."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path
from typing import Any
from urllib.parse import quote

import psycopg
from sqlalchemy.engine import make_url

_INSTALLED = Path("/usr/lib/postgresql")
_NUMBERS = count(1)


def programs() -> Path:
    """Where the newest installed server's programs are.

    Raises:
        RuntimeError: there is none.
    """
    versions = sorted(_INSTALLED.glob("*/bin/initdb"), key=lambda path: int(path.parent.parent.name))
    if not versions:
        raise RuntimeError("These tests need PostgreSQL's server: apt-get install postgresql (tests/run does it).")
    return versions[-1].parent


class PostgresqlServer:
    """A server that keeps its promises: fsync is on."""

    def __init__(self) -> None:
        self._programs = programs()
        self._empty: list[str] = []
        self._still: list[int] = []
        self.folder = Path(tempfile.mkdtemp(prefix="pg-"))  # short: a socket's path has at most 107 letters
        if os.getuid() == 0:
            shutil.chown(self.folder, "postgres")  # it refuses to run as root
        made = ("--username=postgres", "--auth=trust", "--encoding=UTF8", "--locale=C.UTF-8", "--no-sync")
        self._run("initdb", *made, "--wal-segsize=1")  # a small log: quick to make on a slow disk
        self.start()

    def start(self) -> None:
        """Start, and return when it answers."""
        log = str(self.folder / "log")
        self._run("pg_ctl", "-w", "-l", log, "-o", f"-k {self.folder} -c listen_addresses=''", "start")

    def stop(self, mode: str = "fast") -> None:
        """Stop; `immediate` is as if it were killed."""
        self._run("pg_ctl", "-w", "-m", mode, "stop")

    @contextmanager
    def hanging(self) -> Iterator[None]:
        """Let all of its processes stand still meanwhile: lines stay open, and nobody answers."""
        self.stand_still()
        try:
            yield
        finally:
            self.go_on()

    def stand_still(self) -> None:
        """Stop every process, the first one first, so that none is added."""
        main = int((self.folder / "data" / "postmaster.pid").read_text().split()[0])
        os.kill(main, signal.SIGSTOP)
        children = Path(f"/proc/{main}/task/{main}/children").read_text().split()
        self._still = [main, *map(int, children)]
        for process in self._still[1:]:
            os.kill(process, signal.SIGSTOP)

    def go_on(self) -> None:
        """Let them go on, if they stand still."""
        still, self._still = self._still, []
        for process in still:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGCONT)

    def remove(self) -> None:
        """Stop for good."""
        self.stop("immediate")
        shutil.rmtree(self.folder)

    def url(self, database: str, user: str = "postgres") -> str:
        """The URL of a database, without a password: everybody on the socket is trusted."""
        return f"postgresql+psycopg://{user}@/{database}?host={quote(str(self.folder), safe='')}"

    def new_database(self) -> str:
        """Return the name of an empty database: one that was given back, or else a new one."""
        if self._empty:
            return self._empty.pop()
        name = f"t{next(_NUMBERS)}"
        self.tell("postgres", f"CREATE DATABASE {name}")
        return name

    def give_back(self, name: str) -> None:
        """Empty a database for the next test, which is much quicker than making one."""
        self.tell("postgres", "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", name)
        self.tell(name, "DROP SCHEMA IF EXISTS loopledger CASCADE")
        self._empty.append(name)

    def dump(self, url: str) -> str:
        """Return a ledger's tables, rights, guards and rows as SQL, by the server's own `pg_dump`."""
        asked = ("--host", str(self.folder), "--username=postgres", "--schema=loopledger", "--inserts")
        command = [str(programs() / "pg_dump"), *asked, "--rows-per-insert=500", str(make_url(url).database)]
        told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
        return "\n".join(line for line in told.splitlines() if not line.startswith("\\"))  # those are its shell's own

    def filled(self, dump: str) -> str:
        """Return the name of a database with what was dumped; a copy made by the server costs five times as much.

        To drop such a copy the server writes all that it has not written yet, and waits for it.
        """
        name = self.new_database()
        self.tell(name, f"BEGIN; {dump}; COMMIT")
        return name

    def tell(self, database: str, statement: str, *values: Any) -> list[Any]:
        """Execute one statement, past the program, as whoever runs the server could."""
        with psycopg.connect(self.conninfo(database), autocommit=True) as connection:
            done = connection.execute(statement, values or None)
            return done.fetchall() if done.description else []

    def conninfo(self, database: str, user: str = "postgres") -> str:
        """How the driver itself names a database; tables of the ledger are found without their schema."""
        return f"host={self.folder} user={user} dbname={database} options='-c search_path=loopledger'"

    def _run(self, program: str, *arguments: str) -> None:
        own = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
        command = [*own, str(self._programs / program), "-D", str(self.folder / "data"), *arguments]
        done = subprocess.run(
            command, cwd="/", stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False, text=True
        )
        if done.returncode:
            raise RuntimeError(f"{program}: {done.stdout}")
