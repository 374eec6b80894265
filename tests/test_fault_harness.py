"""Faults brought about on purpose, a few of each kind: nothing acknowledged is lost, nothing doubled, every loss told.

`python -m tests.faults --full` tries each as often as a release asks.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from faults.__main__ import NAMES

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize("name", NAMES)
def test_nothing_acknowledged_is_lost_nothing_is_doubled_and_every_loss_is_told(name: str) -> None:
    """In a process of its own, since it forks, and puts other functions in the place of the program's."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults", name],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        timeout=240,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Nothing acknowledged was lost without a word, nothing is there twice." in done.stdout
