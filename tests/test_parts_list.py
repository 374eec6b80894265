"""The list of parts of a build, and the audit of known faults: neither says more than it knows."""

from __future__ import annotations

import json
import re
from pathlib import Path

import known_faults
import parts_list
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


def test_each_full_run_writes_the_list_and_asks_about_faults() -> None:
    run = (ROOT / "tests" / "run").read_text("utf-8")
    assert "tests/parts_list.py" in run
    assert "tests/known_faults.py" in run
