"""Commands that ask: what is missing, and why a standing is what it is."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path

import click

from course.answers.course_view import find_person, find_skill
from course.answers.missing import missing as missing_answer
from course.answers.skill_detail import skill_detail
from course.answers.what_if import if_void
from course.commands.group import (
    FOLDER,
    as_json_option,
    course_view,
    day_asked,
    main,
    of_course,
)
from course.errors import ExitCode
from course.storage.ledger import open_ledger


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("person", required=False)
@of_course
@as_json_option
def missing(folder: Path, person: str | None, title: str | None, day: str | None, *, as_json: bool) -> None:
    """Say what each student, or PERSON, still needs. Ends with 1 while something is missing."""
    with open_ledger(folder) as ledger:
        seen = course_view(ledger, title)
        students = [find_person(seen, person)] if person else list(seen.students)
        answer = missing_answer(seen, students, day_asked(seen, day))
    if as_json:
        click.echo(json.dumps(answer.plain(), ensure_ascii=False))
    else:
        click.echo(answer.text())
    sys.exit(ExitCode.FOUND if answer.anything else ExitCode.FINE)


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.argument("skill")
@click.option("--if-void", "number", type=int, help="Say instead what it would be if attempt NUMBER were void.")
@of_course
@as_json_option
def why(
    folder: Path, person: str, skill: str, number: int | None, title: str | None, day: str | None, *, as_json: bool
) -> None:
    """Show why PERSON stands with SKILL as they do: rule, attempts, marks, sheets, who and when."""
    with open_ledger(folder) as ledger:
        seen = course_view(ledger, title)
        student, found, as_of = find_person(seen, person), find_skill(seen, skill), day_asked(seen, day)
        if number is not None:
            what_if = if_void(seen, student, found, number, as_of)
            click.echo(json.dumps(asdict(what_if), ensure_ascii=False) if as_json else what_if.text())
            return
        answer = skill_detail(ledger, seen, student, found.id, as_of)
    click.echo(json.dumps(answer.plain(), ensure_ascii=False) if as_json else answer.text())
