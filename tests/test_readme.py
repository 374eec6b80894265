"""The README's promises: its two commands are the ones that CI runs, and what it points to is there."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"```sh\n(.*?)```", README, re.S)


def test_the_first_command_sets_up_and_runs_the_main_job_on_the_demo() -> None:
    steps = BLOCKS[0].strip().split(" && ")
    assert [step.split()[-1] if "venv .venv" in step else step.split()[1] for step in steps] == [
        ".venv", "install", "sample", "print", "open",
    ]  # fmt: skip


def test_ci_runs_the_test_command_of_the_readme() -> None:
    command = BLOCKS[1].strip()
    assert command == "bash tests/run"
    assert command in (ROOT / ".ci" / "run").read_text("utf-8")


def test_every_file_and_picture_that_is_named_is_there() -> None:
    for target in re.findall(r"\]\(([^)#h][^)]*)\)", README):
        assert (ROOT / target).is_file(), target


def test_nothing_new_stands_at_the_top_level() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    allowed |= {"course", "pages", "rubrics", "tests", "demo_students"}
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in listed.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= allowed


def test_every_dependency_has_its_reason() -> None:
    developers = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    project = (ROOT / "pyproject.toml").read_text("utf-8")
    named = re.findall(r'^  "([a-z0-9.-]+)[>=]', project, re.M)
    assert named
    assert not [name for name in named if name not in developers]
