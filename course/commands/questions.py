"""Commands that ask: what is missing, and why a standing is what it is."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any

import click

from course.answers.centre_keys import paper_key
from course.answers.course_view import CourseView, find_person, find_skill
from course.answers.missing import missing as missing_answer
from course.answers.origin import Origin, event_origin
from course.answers.origin_finding import finding_origin
from course.answers.origin_of import minute_origin, session_origin, signed_origin, standing_origin
from course.answers.skill_detail import skill_detail
from course.answers.slate_choice import find_session
from course.answers.what_if import if_void
from course.commands.group import (
    FILE,
    FOLDER,
    as_json_option,
    course_view,
    day_asked,
    main,
    of_course,
)
from course.errors import ExitCode
from course.hours.requirements import KIND_WORDS
from course.paper.origin_sheet import print_origin
from course.storage.ledger import Ledger, open_ledger
from course.words import plural

_WHY = "Name PERSON and SKILL, or PERSON with --minutes, or --session, --finding or --event."


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
@click.argument("person", required=False)
@click.argument("skill", required=False)
@click.option("--if-void", "number", type=int, help="Say instead what it would be if attempt NUMBER were void.")
@click.option("--minutes", "kind", type=click.Choice(list(KIND_WORDS)), help="Why PERSON has these minutes.")
@click.option("--session", help="Why a session reads as it does: a title, an unmistakable part of it, or an id.")
@click.option("--signed", is_flag=True, help="What the decision on PERSON's SKILL rests on.")
@click.option("--event", help="One event by its id, or chain and place such as 01a2147d:812, to its canonical line.")
@click.option("--finding", help="What a finding rests on: its name as course findings tells it.")
@click.option("--out", type=FILE, help="Print it as this PDF instead.")
@of_course
@as_json_option
def why(
    folder: Path, person: str | None, skill: str | None, number: int | None, title: str | None, day: str | None,
    out: Path | None, *, as_json: bool, **asked: Any,
) -> None:  # fmt: skip
    """Show why PERSON stands with SKILL as they do: rule, attempts, marks, sheets, who and when.

    Or, with an option, why somebody has their minutes, what a session or a signed record rests on, or one event.
    """
    with open_ledger(folder) as ledger:
        seen = course_view(ledger, title)
        if out or any(asked.values()):
            answer_ = _origin(ledger, seen, person, skill, day_asked(seen, day), **asked)
            if out:
                pages = print_origin(answer_, out, key=paper_key(ledger))
                click.echo(f"{out}: why, {answer_.about}, {plural(pages, 'page')}.")
            else:
                click.echo(json.dumps(answer_.plain(), ensure_ascii=False) if as_json else answer_.text())
            return
        if not (person and skill):
            raise click.UsageError(_WHY)
        student, found, as_of = find_person(seen, person), find_skill(seen, skill), day_asked(seen, day)
        if number is not None:
            what_if = if_void(seen, student, found, number, as_of)
            click.echo(json.dumps(asdict(what_if), ensure_ascii=False) if as_json else what_if.text())
            return
        answer = skill_detail(ledger, seen, student, found.id, as_of)
    click.echo(json.dumps(answer.plain(), ensure_ascii=False) if as_json else answer.text())


def _origin(
    ledger: Ledger, seen: CourseView, person: str | None, skill: str | None, as_of: date, *, kind: str | None,
    session: str | None, signed: bool, event: str | None, finding: str | None,
) -> Origin:  # fmt: skip
    """What is asked for, told down to its events."""
    if event:
        return event_origin(ledger, seen, event)
    if finding:
        return finding_origin(ledger, seen, finding, as_of)
    if session:
        return session_origin(ledger, seen, find_session(ledger, seen, session))
    if person and kind:
        return minute_origin(ledger, seen, find_person(seen, person), kind, as_of)
    if not (person and skill):
        raise click.UsageError(_WHY)
    ask = signed_origin if signed else standing_origin
    return ask(ledger, seen, find_person(seen, person), find_skill(seen, skill), as_of)
