"""Asks the advisory service about known faults of every library in this environment, and says what it could not ask.

`python tests/known_faults.py` needs the network. `pip-audit` calls it a pass when nothing could be looked up, so its
own list is read here: a library that was not looked up is told as such. Ends with 1 on a known fault where the
environment variable AUDIT is `strict`; a fault that is found tells of libraries, which change without this program.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any


def asked() -> dict[str, Any] | None:
    """What the advisory service says, None where it does not answer."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "found.json"
        command = [sys.executable, "-m", "pip_audit", "--format", "json", "--output", str(file), "--timeout", "15"]
        try:
            subprocess.run([*command, "--progress-spinner", "off"], capture_output=True, check=False, timeout=180)
            found: dict[str, Any] = json.loads(file.read_text("utf-8"))
        except (OSError, ValueError, subprocess.TimeoutExpired):
            return None
        return found


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


if __name__ == "__main__":
    lines, faulty = told(asked())
    print("\n".join(lines))  # noqa: T201 - what it is for
    sys.exit(1 if faulty and os.environ.get("AUDIT") == "strict" else 0)
