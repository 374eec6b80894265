"""What every test has: a state folder of its own, centres to work on, and no skipped test that goes unseen."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from centre_builder import Centre, build_centre, shipped_standards

from course import sample
from course.moments import now
from course.standards.standards import Standards
from course.storage.ledger import open_ledger

if TYPE_CHECKING:
    from postgresql_server import PostgresqlServer


@pytest.fixture(autouse=True)
def state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for the device id, so that no test touches the one of whoever runs it."""
    folder = tmp_path / "state"
    monkeypatch.setenv("LOOPLEDGER_STATE", str(folder))
    return folder


@pytest.fixture(autouse=True)
def _after_the_courses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody signs in at a time to come: courses of tests are over whatever the machine's clock says."""
    over = datetime(2026, 12, 1, tzinfo=UTC)
    monkeypatch.setattr("course.actions.presence.now", lambda: max(now(), over))


@pytest.fixture(scope="session")
def standards() -> Standards:
    """The rubric files that ship, read once."""
    return shipped_standards()


@pytest.fixture(scope="session")
def built_centre(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> tuple[Path, Centre]:
    """The small centre, made once and put aside: each test works on a copy of it, in its very place."""
    base = tmp_path_factory.mktemp("small")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        with build_centre(base / "centre", standards) as centre:
            pass
    (base / "centre").rename(base / "kept")
    return base, centre


@pytest.fixture
def small_centre(built_centre: tuple[Path, Centre], state_folder: Path) -> Iterator[Centre]:
    """A centre with a course: lead, second instructor, assistant, candidate, two students, two unit types, sessions."""
    base, centre = built_centre
    shutil.copytree(base / "kept", base / "centre")
    shutil.copytree(base / "state", state_folder)
    try:
        with open_ledger(base / "centre", write=True) as ledger:
            yield replace(centre, ledger=ledger)
    finally:
        shutil.rmtree(base / "centre")


@pytest.fixture(scope="session")
def built_demo(tmp_path_factory: pytest.TempPathFactory) -> sample.Loaded:
    """The demo centre, loaded once and put aside, since that takes seconds."""
    base = tmp_path_factory.mktemp("demo")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        loaded = sample.load(base / "centre", lambda *_: None)
    (base / "centre").rename(base / "kept")
    (base / "state").rename(base / "kept-state")
    return loaded


@pytest.fixture(scope="module")
def loaded(built_demo: sample.Loaded) -> Iterator[sample.Loaded]:
    """The demo centre for the tests of one module: a copy, in its very place."""
    base = built_demo.folder.parent
    shutil.copytree(base / "kept", built_demo.folder)
    shutil.copytree(base / "kept-state", base / "state")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        yield built_demo
    shutil.rmtree(built_demo.folder)
    shutil.rmtree(base / "state")


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[PostgresqlServer]:
    """A real server, one for each process that runs tests."""
    from postgresql_server import PostgresqlServer  # only where a test asks for it: its driver takes time to load

    server = PostgresqlServer()
    yield server
    server.remove()


@pytest.fixture
def database(postgresql_server: PostgresqlServer) -> Iterator[str]:
    """The URL of an empty PostgreSQL database."""
    name = postgresql_server.new_database()
    yield postgresql_server.url(name)
    postgresql_server.give_back(name)


@pytest.fixture(params=["sqlite", "postgresql"])
def database_kind(request: pytest.FixtureRequest) -> str:
    """Both kinds of database, one after the other; a test can ask for one of them."""
    return str(request.param)


@pytest.fixture
def either_database(request: pytest.FixtureRequest, database_kind: str) -> str | None:
    """What to name when a ledger is made: nothing, for one in its folder, or a PostgreSQL database."""
    return None if database_kind == "sqlite" else str(request.getfixturevalue("database"))


class _NoSkips:
    """A skipped test checks nothing: it fails the run. Hears also of what xdist's workers report."""

    def __init__(self) -> None:
        self.skipped: list[str] = []

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.skipped and not hasattr(report, "wasxfail"):
            self.skipped.append(report.nodeid)

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.skipped:
            self.skipped.append(report.nodeid)

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.skipped:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        for nodeid in self.skipped:
            terminalreporter.write_line(f"SKIPPED, which is not allowed: {nodeid}", red=True)


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(_NoSkips(), "no-skips")
