"""The list of parts of a build, and the audit of known faults: neither says more than it knows."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import known_faults
import parts_list
import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

ROOT = Path(__file__).parent.parent


def test_the_list_is_cyclonedx_as_its_schema_says_and_always_the_same() -> None:
    """Source: the schema of CycloneDX 1.6 that its own library carries."""
    text = parts_list.parts_list()
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(text) is None
    assert parts_list.parts_list() == text


def test_every_library_that_the_program_names_is_in_it_with_its_version_and_what_it_needs() -> None:
    plain = json.loads(parts_list.parts_list())
    project = (ROOT / "pyproject.toml").read_text("utf-8")
    named = re.findall(r'^  "([a-z0-9.-]+)[>=]', project.partition("dev = [")[0], re.M)
    there = {one["name"]: one for one in plain["components"]}
    assert len(named) > 15
    assert {name.replace(".", "-") for name in named} <= there.keys()
    assert all(one["version"] and one["purl"].startswith("pkg:pypi/") for one in there.values())
    needs = {one["ref"]: one.get("dependsOn", []) for one in plain["dependencies"]}
    streamlit = f"streamlit@{there['streamlit']['version']}"
    assert any(need.startswith("starlette@") for need in needs[streamlit])
    assert not {"pytest", "ruff", "mypy", "pip-audit"} & there.keys()


def test_an_audit_that_could_ask_nothing_is_no_pass() -> None:
    """The tool itself calls it one: no known vulnerabilities found, of libraries that it did not find."""
    silent = {
        "dependencies": [{"name": "altair", "skip_reason": "not found"}, {"name": "loopledger", "skip_reason": ""}]
    }
    for found in (None, silent):
        (line,), faulty = known_faults.told(found)
        assert line.startswith("NOT AUDITED")
        assert not faulty


def test_a_known_fault_is_told_with_the_version_that_mends_it_and_who_was_not_asked_about_is_named() -> None:
    fault = {"id": "PYSEC-0000-1", "fix_versions": ["2.0"], "aliases": [], "description": "x"}
    found = {
        "dependencies": [
            {"name": "one", "version": "1.0", "vulns": [fault]},
            {"name": "two", "version": "1.0", "vulns": []},
            {"name": "three", "skip_reason": "not found"},
        ]
    }
    lines, faulty = known_faults.told(found)
    assert faulty
    assert lines == [
        "KNOWN FAULT: one 1.0: PYSEC-0000-1, mended in 2.0.",
        "2 libraries looked up, 1 known faults.",
        "NOT AUDITED: three.",
    ]


@pytest.fixture
def advisory_service(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, str]]:
    """A service on this machine that answers as OSV does, by what it is told to know: library to fault.

    Source: the schema of an answer of https://google.github.io/osv.dev/post-v1-query/, from memory.
    """
    known: dict[str, str] = {}

    class Answers(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            name = json.loads(self.rfile.read(int(self.headers["content-length"])))["package"]["name"]
            range_ = {"type": "ECOSYSTEM", "events": [{"introduced": "0"}, {"fixed": "2.0"}]}
            about = {"package": {"name": name, "ecosystem": "PyPI"}, "ranges": [range_]}
            fault = {"id": known.get(name), "summary": "x", "affected": [about]}
            self.send_response(200)
            self.end_headers()
            self.wfile.write(json.dumps({"vulns": [fault]} if name in known else {}).encode())

        def log_message(self, *_: object) -> None:
            """Says nothing."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Answers) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        monkeypatch.setenv("AUDIT_URL", f"http://127.0.0.1:{server.server_address[1]}/v1/query")
        yield known
        server.shutdown()


def test_a_known_fault_ends_the_build_and_a_service_that_knows_nothing_is_no_pass(
    advisory_service: dict[str, str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.delenv("AUDIT", raising=False)
    there = tmp_path / "kelp-1.0.dist-info"
    there.mkdir()
    (there / "METADATA").write_text("Metadata-Version: 2.1\nName: kelp\nVersion: 1.0\n", "utf-8")
    (there / "INSTALLER").write_text("pip\n", "utf-8")
    assert known_faults.audit("--path", str(tmp_path)) == 0
    assert capsys.readouterr().out.startswith("NOT AUDITED: the advisory service answers and knows no fault at all")
    advisory_service["kelp"] = "PYSEC-0000-1"
    assert known_faults.audit("--path", str(tmp_path)) == 1
    assert capsys.readouterr().out.startswith("KNOWN FAULT: kelp 1.0: PYSEC-0000-1, mended in 2.0.\n")


def test_each_full_run_writes_the_list_and_asks_about_faults() -> None:
    run = (ROOT / "tests" / "run").read_text("utf-8")
    assert "tests/parts_list.py" in run
    assert "tests/known_faults.py &" in run
    assert '\nwait "$faults"\n' in run  # its end is the run's: nothing after it lets a fault through
