"""The command that tells what does not fit in a course."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from course.answers.findings import course_findings
from course.commands.group import FOLDER, as_json_option, course_view, day_asked, main, of_course
from course.errors import ExitCode
from course.storage.ledger import open_ledger


@main.command()
@click.argument("folder", type=FOLDER)
@of_course
@as_json_option
def findings(folder: Path, title: str | None, day: str | None, *, as_json: bool) -> None:
    """Tell what does not fit in the course, the worst first, with answers. Ends with 1 while one is not answered."""
    with open_ledger(folder) as ledger:
        seen = course_view(ledger, title)
        answer = course_findings(ledger, seen, day_asked(seen, day))
    click.echo(json.dumps(answer.plain(), ensure_ascii=False) if as_json else answer.text())
    sys.exit(ExitCode.FOUND if answer.open else ExitCode.FINE)
