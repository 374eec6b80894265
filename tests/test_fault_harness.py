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


TOGETHER = (
    ("tablets",),
    ("power", "kills", "copies"),
    ("room", "wal", "clock"),
    ("flips", "server"),
    ("steps", "merges", "readonly", "programs"),
)
"""Kinds that one process brings about: each process takes seconds until it has loaded the program."""


def test_every_kind_is_brought_about() -> None:
    assert sorted(name for names in TOGETHER for name in names) == sorted(NAMES)


@pytest.mark.parametrize("names", TOGETHER, ids=" ".join)
def test_nothing_acknowledged_is_lost_nothing_is_doubled_and_every_loss_is_told(names: tuple[str, ...]) -> None:
    """In a process of their own, since they fork, and put other functions in the place of the program's."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults", *names],
        cwd=ROOT,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        timeout=280,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert all(f"\n{name:<9} {NAMES[name]}" in done.stdout for name in names)
    assert "Nothing acknowledged was lost without a word, nothing is there twice." in done.stdout
