"""A program that is killed while it saves loses nothing that it acknowledged, and leaves nothing half."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent


def test_fifteen_kills_lose_nothing_acknowledged_and_leave_nothing_half() -> None:
    """Each ended by SIGKILL (-9); the chain goes on over all of them."""
    done = subprocess.run(
        [sys.executable, str(HERE / "kill_harness.py"), "--kills", "15"],
        env=os.environ | {"PYTHONPATH": os.pathsep.join([str(HERE.parent), str(HERE)])},
        capture_output=True,
        text=True,
        check=True,
        timeout=240,
    )
    seen = json.loads(done.stdout)
    assert seen["codes"] == {"-9": 15}
    assert seen["acknowledged"] >= 15
    assert (seen["lost"], seen["half"], seen["damaged"], seen["findings"]) == (0, 0, 0, [])
    assert seen["chains"] == 1
