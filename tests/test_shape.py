"""The shape of the code: layers, size of modules and functions, docstrings, names; and no test that is skipped."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from ledger_kinds import BOTH, ONE_KIND, WHOLE_FILES

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted((ROOT / "course").rglob("*.py"))
PAGES = sorted((ROOT / "pages").glob("*.py"))
MOST_LINES, MOST_PAGE_LINES, MOST_FUNCTION_LINES = 400, 60, 60
NO_NAMES = {"utils", "util", "helpers", "helper", "common", "manager", "misc"}


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def _functions(tree: ast.AST) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    return [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]


@pytest.mark.parametrize("path", [*MODULES, *PAGES], ids=_name)
def test_a_module_says_what_it_is_for_and_is_short_enough_to_read(path: Path) -> None:
    text = path.read_text("utf-8")
    tree = ast.parse(text)
    assert ast.get_docstring(tree)
    most = MOST_PAGE_LINES if path in PAGES else MOST_LINES
    assert len(text.splitlines()) <= most
    long = {f.name: f.end_lineno - f.lineno + 1 for f in _functions(tree) if f.end_lineno is not None}
    assert {name: lines for name, lines in long.items() if lines > MOST_FUNCTION_LINES} == {}


@pytest.mark.parametrize("path", [*MODULES, *PAGES], ids=_name)
def test_nothing_is_named_after_nothing_and_no_page_writes_html_as_it_comes(path: Path) -> None:
    """`unsafe_allow_html` would let a person's name be markup."""
    assert not set(path.relative_to(ROOT).with_suffix("").parts) & NO_NAMES
    assert "unsafe_allow_html" not in path.read_text("utf-8")


def test_only_one_module_reads_the_clock() -> None:
    """By the syntax tree: `datetime.now`, `utcnow`, `date.today`, `time.time`."""
    clocks = {("datetime", "now"), ("datetime", "utcnow"), ("date", "today"), ("time", "time")}
    readers = {
        _name(path)
        for path in (*MODULES, *PAGES)
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and (node.value.id, node.attr) in clocks
    }
    assert readers == {"course/moments.py"}


def _lint_imports(folder: Path) -> subprocess.CompletedProcess[str]:
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache", "--config", "pyproject.toml"]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)


def test_the_layers_hold() -> None:
    ran = _lint_imports(ROOT)
    assert ran.returncode == 0, ran.stdout


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("course/record/facts.py", "import course.storage.ledger", "Data flows one way"),
        ("course/assessment/streak.py", "import sqlalchemy", "Judgement is pure"),
        ("pages/course.py", "import course.storage.ledger", "Pages are thin"),
        ("course/actions/pad.py", "import reportlab", "One tool, one place"),
    ],
)
def test_a_breach_of_the_layers_is_caught(tmp_path: Path, module: str, line: str, contract: str) -> None:
    """The same contracts on a copy into which one wrong import is planted."""
    for folder in ("course", "pages"):
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / "pages" / "__init__.py").touch()  # else an installed checkout's pages are found beside these
    file = tmp_path / module
    file.write_text(f"{file.read_text('utf-8')}\n{line}\n", "utf-8")
    ran = _lint_imports(tmp_path)
    assert ran.returncode == 1, ran.stdout + ran.stderr
    broken = [told for told in ran.stdout.splitlines() if told.endswith("BROKEN")]
    assert any(told.startswith(contract) for told in broken), ran.stdout


SKIPPED = {
    "none": ("def test_one():\n    pass\n", 0),
    "marked": ("import pytest\n\n@pytest.mark.skip\ndef test_one():\n    pass\n\ndef test_two():\n    pass\n", 1),
    "inside": ("import pytest\n\ndef test_one():\n    pytest.skip('later')\n", 1),
    "module": ("import pytest\npytest.skip('all', allow_module_level=True)\n", 1),
    "library": ("import pytest\npytest.importorskip('no_such_library_here')\n", 1),
}
BY_ANOTHER_PROCESS = ("none", "marked", "module")
"""Told from elsewhere in two ways: a test's own report, and that of collecting a file."""


@pytest.mark.parametrize(
    ("name", "workers"),
    [*((one, []) for one in SKIPPED), *((one, ["-n", "1"]) for one in BY_ANOTHER_PROCESS)],
    ids=lambda one: one if isinstance(one, str) else "xdist" if one else "alone",
)
def test_a_run_with_a_skipped_test_fails(tmp_path: Path, name: str, workers: list[str]) -> None:
    """The hooks of this folder's own conftest, in a run of its own."""
    text, exit_code = SKIPPED[name]
    (tmp_path / "test_made.py").write_text(text, "utf-8")
    for needed in ("conftest.py", "centre_builder.py", "ledger_kinds.py"):
        shutil.copy(Path(__file__).parent / needed, tmp_path)
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", str(tmp_path), *workers]
    ran = subprocess.run(
        [*command, str(tmp_path)], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={"PATH": "/usr/bin:/bin", "PYTHONPATH": str(ROOT), "HOME": str(tmp_path)},
    )  # fmt: skip
    assert ran.returncode in ({exit_code} if exit_code == 0 else {1, 5}), ran.stdout + ran.stderr
    assert ("SKIPPED, which is not allowed" in ran.stdout) is (exit_code == 1)


def test_what_is_run_on_one_kind_of_database_alone_is_named_with_its_reason() -> None:
    """Every file that makes a bare ledger is run on both kinds or says why not; no name stands for nothing."""
    trees = {path.name: ast.parse(path.read_text("utf-8")) for path in (ROOT / "tests").glob("test_*.py")}
    bare = {
        name
        for name, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and "new_centre" in {one.name for one in node.names}
    }
    assert bare <= {*BOTH, *WHOLE_FILES}
    assert {*BOTH, *WHOLE_FILES} <= set(trees)
    assert not {*BOTH} & {*WHOLE_FILES}
    assert {*ONE_KIND} <= {*BOTH}
    for name, reasons in ONE_KIND.items():
        there = {function.name for function in _functions(trees[name])}
        named = [test for tests in reasons.values() for test in tests]
        assert set(named) <= there
        assert len(named) == len(set(named))
    assert all(
        len(reason.split()) > 2 for reason in (*WHOLE_FILES.values(), *(r for one in ONE_KIND.values() for r in one))
    )
