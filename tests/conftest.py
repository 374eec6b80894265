"""What every test has: a state folder of its own, centres to work on, and no skipped test that goes unseen."""

from __future__ import annotations

import gc
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import pytest
from centre_builder import Centre, build_centre, shipped_standards
from ledger_kinds import BOTH, KINDS, kinds_of
from pypdf.generic._font import Font
from sqlalchemy.engine import Engine
from streamlit.components.v2 import manifest_scanner

from course import sample
from course.moments import now
from course.standards.standards import Standards
from course.storage.ledger import open_ledger
from course.storage.site import Site

if TYPE_CHECKING:
    from postgresql_server import PostgresqlServer


LONGEST = (
    "test_roles_in_browser", "test_hostile_screens_by_role", "test_pad_in_browser", "test_hostile_input", "test_axe",
    "test_merging", "test_audit_file", "test_open_pages_in_browser", "test_fault_harness", "test_paper_check",
    "test_paper", "test_totals_agree", "test_door", "test_two_tablets", "test_pool_day", "test_journey", "test_wheel",
    "test_slate_grid", "test_controls",
)  # fmt: skip
"""Files of tests in the order in which they begin, before all others: whoever began one of them last would wait for it
alone, however many run beside each other."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the tests of the longest files first; those of a file stay in their order."""
    place = {name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda one: place.get(one.path.stem, len(LONGEST)))


gc.set_threshold(100_000, 20, 20)  # ten thousand tests and what they read stay in memory: looking through it costs time


@pytest.fixture(autouse=True)
def state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for the device id, so that no test touches the one of whoever runs it."""
    folder = tmp_path / "state"
    monkeypatch.setenv("LOOPLEDGER_STATE", str(folder))
    return folder


@pytest.fixture(scope="session", autouse=True)
def _parts_looked_for_once() -> Iterator[None]:
    """Each page under test looks through every installed library for parts of a page; here once for all."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(manifest_scanner, "scan_component_manifests", cache(manifest_scanner.scan_component_manifests))
        yield


@pytest.fixture(scope="session", autouse=True)
def _fonts_of_a_page_read_once() -> Iterator[None]:
    """A page that is read back has its fonts read anew, some forty of them, as if no other page had them; here once."""
    read = Font.from_font_resource

    def read_once(font: Any) -> Font:
        if not hasattr(font, "was_read"):
            font.was_read = read(font)
        return cast(Font, font.was_read)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Font, "from_font_resource", read_once)
        yield


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
def small_centre(request: pytest.FixtureRequest, database_kind: str, state_folder: Path) -> Iterator[Centre]:
    """A centre with a course: lead, second instructor, assistant, candidate, two students, two unit types, sessions."""
    served = database_kind == "postgresql"
    base, centre, *_ = request.getfixturevalue("served_centre" if served else "built_centre")
    shutil.copytree(base / "kept", base / "centre")
    shutil.copytree(base / "state", state_folder)
    if served:
        copied = request.getfixturevalue("copied_database")
        (base / "centre" / "ledger.url").write_text(f"{copied}\n{centre.ledger.centre_id}\n")
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


@pytest.fixture(scope="session")
def served_centre(
    tmp_path_factory: pytest.TempPathFactory, standards: Standards, postgresql_server: PostgresqlServer
) -> tuple[Path, Centre, str]:
    """The small centre in a database, made once, and that database as SQL; each test works on a copy of both."""
    base, url = tmp_path_factory.mktemp("served"), postgresql_server.url(postgresql_server.new_database())
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        with build_centre(base / "centre", standards, database=url) as centre:
            pass
    (base / "centre").rename(base / "kept")
    return base, centre, postgresql_server.dump(url)


@pytest.fixture
def copied_database(served_centre: tuple[Path, Centre, str], postgresql_server: PostgresqlServer) -> Iterator[str]:
    """The URL of a copy of the small centre's database."""
    name = postgresql_server.filled(served_centre[2])
    yield postgresql_server.url(name)
    postgresql_server.give_back(name)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Both kinds of database, one after the other, for what asks for either and for files that hold for both."""
    file = metafunc.definition.path.name
    asked = "either_database" in metafunc.fixturenames or file in BOTH
    if asked and "database_kind" in metafunc.fixturenames:
        metafunc.parametrize("database_kind", kinds_of(file, metafunc.definition.originalname))


@pytest.fixture
def database_kind() -> str:
    """In its folder, where a test is not run on both kinds."""
    return KINDS[0]


@pytest.fixture
def new_database(request: pytest.FixtureRequest, database_kind: str) -> Iterator[Callable[[], str | None]]:
    """What to name when one more ledger is made: nothing, for one in its folder, or an empty PostgreSQL database."""
    if database_kind == "sqlite":
        yield lambda: None
        return
    server, made = request.getfixturevalue("postgresql_server"), list[str]()

    def one_more() -> str:
        made.append(server.new_database())
        return str(server.url(made[-1]))

    yield one_more
    for name in made:
        server.give_back(name)


@pytest.fixture
def either_database(new_database: Callable[[], str | None]) -> str | None:
    """The first of them."""
    return new_database()


@pytest.fixture(autouse=True)
def _asks_the_kind_it_says(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """In a file that holds for both kinds no test opens a ledger of one alone, unless it is named with its reason."""
    file, asked, engine = request.path.name, set[str](), Site.engine
    if file not in BOTH:
        yield
        return

    def told(self: Site, *args: Any, **named: Any) -> Engine:
        asked.add(KINDS[self.server is not None])
        return engine(self, *args, **named)

    monkeypatch.setattr(Site, "engine", told)
    yield
    test = request.node.originalname
    given = getattr(request.node, "callspec", None)
    kinds = [given.params[one] for one in ("database_kind", "shared_database") if one in given.params] if given else []
    if "postgresql" in kinds:
        assert "postgresql" in asked, f"{file}: {test} is run on a server and asks none"
    elif not kinds and asked == {"sqlite"}:
        assert kinds_of(file, test) == KINDS[:1], f"{file}: {test} opens a ledger in its folder alone (ledger_kinds.py)"


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
