"""Asks the advisory service about known faults of every library in this environment, and says what it could not ask.

`python tests/known_faults.py` needs the network: PyPI, or with AUDIT_URL a service that answers as OSV does.
`pip-audit` calls it a pass when nothing could be looked up, so its own list is read here: a library that was not looked
up is told as such. A library with a fault of long ago is asked about too: a service that does not know that one knows
nothing. Ends with 1 on a known fault, unless the environment variable AUDIT is `told`.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

LONG_KNOWN = "jinja2==2.4.1"
"""Its faults were published in 2014 (PYSEC-2014-8, CVE-2014-1402; from memory); it is asked about, never fetched."""


def asked(*about: str) -> dict[str, Any] | None:
    """What the advisory service says about this environment, or what is named; None where it does not answer."""
    url = os.environ.get("AUDIT_URL")
    service = ["--vulnerability-service", "osv", "--osv-url", url] if url else []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "found.json"
        command = [sys.executable, "-m", "pip_audit", "--format", "json", "--output", str(file), "--timeout", "15"]
        quiet = ["--progress-spinner", "off", "--cache-dir", folder]
        try:
            subprocess.run([*command, *quiet, *service, *about], capture_output=True, check=False, timeout=180)
            found: dict[str, Any] = json.loads(file.read_text("utf-8"))
        except (OSError, ValueError, subprocess.TimeoutExpired):
            return None
        return found


def knows_faults() -> bool:
    """Whether the service tells the fault of long ago."""
    with tempfile.TemporaryDirectory() as folder:
        named = Path(folder) / "named.txt"
        named.write_text(LONG_KNOWN, "utf-8")
        found = asked("--requirement", str(named), "--no-deps", "--disable-pip")
    return bool(found) and any(one.get("vulns") for one in found["dependencies"])


def told(found: dict[str, Any] | None) -> tuple[list[str], bool]:
    """The lines that say it, and whether a fault is known."""
    if found is None:
        return ["NOT AUDITED: the advisory service does not answer. Nothing is known of faults in libraries."], False
    libraries = found["dependencies"]
    looked = [one for one in libraries if "vulns" in one]
    others = [one["name"] for one in libraries if "vulns" not in one and one["name"] != "loopledger"]
    faults = [
        f"KNOWN FAULT: {one['name']} {one['version']}: {fault['id']}, mended in "
        f"{', '.join(fault['fix_versions']) or 'no version yet'}."
        for one in looked
        for fault in one["vulns"]
    ]
    if not looked:
        return [f"NOT AUDITED: none of {len(others)} libraries could be looked up. Nothing is known of faults."], False
    lines = [*faults, f"{len(looked)} libraries looked up, {len(faults)} known faults."]
    return [*lines, *([f"NOT AUDITED: {', '.join(others)}."] if others else [])], bool(faults)


def audit(*about: str) -> int:
    """Ask, say what came of it, and return how to end."""
    found = asked(*about)
    lines, faulty = told(found)
    if found and not faulty and any("vulns" in one for one in found["dependencies"]) and not knows_faults():
        lines = ["NOT AUDITED: the advisory service answers and knows no fault at all, not even one of long ago."]
    print("\n".join(lines))  # noqa: T201 - what it is for
    return 1 if faulty and os.environ.get("AUDIT") != "told" else 0


if __name__ == "__main__":
    sys.exit(audit())
