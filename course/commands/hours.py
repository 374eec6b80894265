"""The command that tells hours: minutes against the requirements, totals, breaks of the ratio."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path

import click

from course.answers.course_view import find_person
from course.answers.hours import hours as hours_answer
from course.answers.oxygen import oxygen
from course.commands.group import FOLDER, as_json_option, course_view, day_asked, main, of_course
from course.errors import ExitCode
from course.storage.ledger import open_ledger


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("person", required=False)
@of_course
@as_json_option
def hours(folder: Path, person: str | None, title: str | None, day: str | None, *, as_json: bool) -> None:
    """Tell minutes, ratios and oxygen exposure of the course, or of PERSON.

    Ends with 1 while something is short or broken.
    """
    with open_ledger(folder) as ledger:
        seen = course_view(ledger, title)
        people = [find_person(seen, person)] if person else None
        answer = hours_answer(seen, day_asked(seen, day), people)
        exposure = oxygen(seen, day_asked(seen, day), people)
    if as_json:
        click.echo(json.dumps({**answer.plain(), "oxygen": asdict(exposure)}, ensure_ascii=False))
    else:
        click.echo("\n".join((answer.text(), *exposure.text())))
    sys.exit(ExitCode.FOUND if answer.anything else ExitCode.FINE)
