"""The wheel holds all that runs: pages, rubrics, demo; installed in a fresh environment it works from any folder."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--outdir", out, ROOT)
    return next(out.glob("*.whl"))


def run(*command: object, cwd: Path | None = None) -> str:
    ours = ("PYTHONPATH", "PYTHONHOME", "PYTHONDONTWRITEBYTECODE")  # the first command compiles what the next ones use
    clean = {key: value for key, value in os.environ.items() if key not in ours}
    done = subprocess.run([str(c) for c in command], cwd=cwd, env=clean, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_wheel_holds_pages_rubrics_demo_and_the_screens_files(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    for wanted in (
        "course/_data/pages/mark.py",
        "course/_data/rubrics/10_assembly.yaml",
        "course/_data/demo_students/people.csv",
        "course/screens/step_pad.js",
    ):
        assert wanted in names
    assert not [name for name in names if name.startswith(("tests/", ".ci/"))]


@pytest.mark.timeout(900)
def test_installed_fresh_it_writes_checks_and_prints_the_demo_from_another_folder(wheel: Path, tmp_path: Path) -> None:
    run(sys.executable, "-m", "venv", "--without-pip", tmp_path / "fresh")
    binaries = tmp_path / "fresh" / "bin"
    pip = (sys.executable, "-m", "pip", "--python", binaries / "python", "--quiet", "--disable-pip-version-check")
    run(*pip, "install", "--no-compile", wheel)  # most of what it brings is never imported: compiling it takes longest
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    run(binaries / "course", "sample", "kelpwater", cwd=elsewhere)
    assert run(binaries / "course", "verify", "kelpwater", cwd=elsewhere).startswith("Fine:")
    told = run(binaries / "course", "print", "kelpwater", "Nkechi", "--out", "n.pdf", cwd=elsewhere)
    assert "Nkechi Brandvold" in told
    assert (elsewhere / "n.pdf").stat().st_size > 10_000
