"""Case 35, no network on the boat, and case 30, a person asks for erasure; and a file checked where nothing else is."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, build_centre, shipped_standards
from click.testing import CliRunner
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest

from course.actions.pad import take
from course.actions.signing import sign
from course.answers.competency import competency_record
from course.answers.course_view import view
from course.answers.decisions import evidence
from course.answers.hours import hours
from course.answers.readiness import readiness
from course.commands import main
from course.exchange.audit_check import check_file
from course.exchange.audit_file import seal
from course.paper.competency_record import print_competency_record
from course.places import PAGES, SCREENS
from course.screens import serve
from course.storage.backup import backup
from course.words import DecisionKind


@pytest.fixture
def no_network(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Nothing reaches another machine, and what tries to is written down."""
    tried: list[str] = []

    def refuse(name: str) -> Callable[..., Any]:
        def none(*asked: Any, **_: Any) -> Any:
            tried.append(f"{name} {asked}")
            raise OSError("no network")

        return none

    for name in ("getaddrinfo", "gethostbyname", "create_connection"):
        monkeypatch.setattr(socket, name, refuse(name))
    monkeypatch.setattr(socket.socket, "connect", refuse("connect"))
    return tried


def test_case_35_everything_works_from_a_local_file_without_network_or_sign_in(
    tmp_path: Path, no_network: list[str]
) -> None:
    """From an empty folder to a signed record on paper, an audit file and a backup; then every page is drawn."""
    with build_centre(tmp_path / "centre", shipped_standards()) as c:
        c.hold()
        seen, skill = c.view(), c.skill()
        sign(
            c.ledger, c.lead, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=DecisionKind.AGREED,
            as_of=LAST_DAY, rests_on=evidence(seen, skill, seen.standing(c.amaru, skill, LAST_DAY)),
        )  # fmt: skip
        out = BytesIO()
        print_competency_record(competency_record(c.ledger, c.view(), c.amaru, LAST_DAY), out)
        assert "Competency record: Amaru Tendelle" in PdfReader(out).pages[0].extract_text()
        seal(c.ledger, tmp_path / "a.zip", as_of=LAST_DAY)
        assert check_file(tmp_path / "a.zip").fine
        backup(c.ledger.folder, tmp_path / "b.zip")
        serve.start(c.ledger, take)
        app = AppTest.from_file(str(SCREENS / "app.py"), default_timeout=60).run()
        for page in sorted(PAGES.glob("*.py")):
            app.switch_page(str(page)).run()
            assert not app.exception, page
            assert app.title
    for arguments in (("verify",), ("missing",), ("hours",), ("why", "Amaru", POOL_SKILL)):
        ran = CliRunner().invoke(main, [arguments[0], str(tmp_path / "centre"), *arguments[1:]])
        assert ran.exit_code in (0, 1), ran.output
    assert no_network == []


def test_case_30_erasing_a_person_keeps_every_count_under_a_number(small_centre: Centre, tmp_path: Path) -> None:
    """The key is deleted; the attempts that the law asks for stay, and whoever knows the course may still guess.

    Only the ledger erases so far: there is no act, page or command for it, and no export of one person's own file
    beyond the competency record, the own page and the sheet to take home.
    """
    c = small_centre
    c.hold()
    before = c.view()
    ready, minutes = readiness(before, LAST_DAY), hours(before, LAST_DAY)
    standing = before.standing(c.amaru, c.skill(), LAST_DAY)
    c.ledger.forget(c.amaru)
    seen = view(c.ledger, c.course) if c.enter("dry-21", student=c.zoe) else before
    assert seen.name(c.amaru) == f"erased person {c.amaru[-6:]}"
    assert seen.standing(c.amaru, c.skill(), LAST_DAY) == standing
    assert len(seen.seen(c.amaru, c.skill())) == 5
    assert len(readiness(seen, LAST_DAY).lines) == len(ready.lines)
    assert [line.session for line in hours(seen, LAST_DAY).totals] == [line.session for line in minutes.totals]
    seal(c.ledger, tmp_path / "a.zip", given_to="the agency's office", as_of=LAST_DAY)
    assert check_file(tmp_path / "a.zip").fine
    for file in (*c.ledger.folder.rglob("*"), tmp_path / "a.zip"):
        if file.is_file():
            assert b"Amaru" not in file.read_bytes(), file
    ran = CliRunner().invoke(main, ["verify", str(c.ledger.folder)])
    assert ran.exit_code == 0, ran.output


def test_check_needs_the_installed_package_and_the_file_alone(small_centre: Centre, tmp_path: Path) -> None:
    """In an empty folder, with an empty home and state, no centre, no keys, and a Python that has no sockets."""
    small_centre.hold()
    place = tmp_path / "elsewhere"
    place.mkdir()
    seal(small_centre.ledger, place / "a.zip", as_of=LAST_DAY)
    blocked = (
        "import socket, sys\n"
        "def none(*a, **k): raise SystemExit('network was asked for')\n"
        "socket.socket.connect = socket.getaddrinfo = socket.create_connection = none\n"
        "from course.commands import main\n"
        "main(['check', 'a.zip', '--json'])\n"
    )
    bare = {
        "PATH": os.environ["PATH"], "HOME": str(tmp_path / "home"), "LOOPLEDGER_STATE": str(tmp_path / "nothing"),
        "PYTHONPATH": os.pathsep.join(sys.path[1:]), "LANG": "C.UTF-8",
    }  # fmt: skip
    ran = subprocess.run(
        [sys.executable, "-c", blocked], cwd=place, env=bare, capture_output=True, text=True, check=False, timeout=300
    )
    assert ran.returncode == 0, ran.stderr
    told = json.loads(ran.stdout)
    assert (told["fine"], told["kind"]) == (True, "an audit file")
    assert [one.name for one in place.iterdir()] == ["a.zip"]
    assert not (tmp_path / "nothing").exists()
    assert not (tmp_path / "home").exists()
