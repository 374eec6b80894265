"""Commands about paper: print it, give sheets out for the water, copy them in."""

from __future__ import annotations

import json
import re
import sys
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import click

from course.answers.course_view import CourseView, find_person
from course.answers.days import as_of_words
from course.answers.slate_choice import SlatePlan, find_session, find_staff, plan_day, plan_slates, sessions_of_day
from course.commands.group import (
    FILE,
    FOLDER,
    Progress,
    as_json_option,
    course_view,
    date_of,
    day_asked,
    main,
    of_course,
)
from course.errors import ExitCode, NotFoundError
from course.paper.batch import print_batch
from course.paper.day_papers import DAY_PAPERS, print_of_day
from course.paper.filed_papers import FILED_PAPERS, print_filed_paper
from course.paper.slate_giving import give_and_print
from course.paper.student_papers import OF_EVERYBODY
from course.paper.writing import write_paper
from course.storage.ledger import Ledger, open_ledger
from course.words import plural

PAPERS = {name: OF_EVERYBODY[name] for name in ("record", "take-home")}
"""Papers about one student that `print` knows by themselves; a statement is one of the papers for the file."""


@main.command("print")
@click.argument("folder", type=FOLDER)
@click.argument("whom", metavar="PERSON|SESSION|DAY|COURSE|UNIT")
@click.option("--out", type=FILE, required=True, help="The PDF file to write.")
@click.option("--paper", type=click.Choice([*PAPERS, *DAY_PAPERS, *FILED_PAPERS]), default="record", show_default=True)
@click.option("--size", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@of_course
def print_paper(folder: Path, whom: str, out: Path, paper: str, size: Any, title: str | None, day: str | None) -> None:
    """Print a paper as PDF: PERSON's competency record or sheet to take home; of a SESSION or DAY its sheets.

    For the file: course-file of a COURSE, statement of what a PERSON did, unit-history of a UNIT, candidate-file of
    a PERSON, bench-sheet of the standards in force (whatever COURSE is named).
    """
    with open_ledger(folder) as ledger:
        seen = course_view(ledger, whom if paper == "course-file" else title)
        if paper in DAY_PAPERS:
            click.echo(print_of_day(ledger, seen, whom, paper, out, size))
            return
        if paper in FILED_PAPERS:
            click.echo(print_filed_paper(ledger, seen, (paper, whom, day_asked(seen, day)), out, size))
            return
        student, as_of = find_person(seen, whom), day_asked(seen, day)
        pages = PAPERS[paper](ledger, seen, student, as_of, out, size)
        words = as_of_words(as_of, seen.last_day, seen.today())
    what = {"record": "competency record", "take-home": "sheet to take home"}[paper]
    click.echo(f"{out}: {what} of {seen.people[student].name}, {plural(pages, 'page')}, as of {words}.")


@main.command("print-all")
@click.argument("folder", type=FOLDER)
@click.option("--out", type=FILE, required=True, help="The folder to write the PDF files to.")
@click.option("--paper", type=click.Choice([*OF_EVERYBODY]), default="record", show_default=True)
@click.option("--size", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@of_course
def print_all(folder: Path, out: Path, paper: str, size: Any, title: str | None, day: str | None) -> None:
    """Print a paper of every student of a course, a file for each; one that fails does not stop the others."""
    with open_ledger(folder) as ledger, Progress("Printing") as step:
        seen = course_view(ledger, title)
        as_of = day_asked(seen, day)
        people = [(student, seen.name(student)) for student in seen.students]
        if not people:
            raise NotFoundError(
                f"Nobody learns on {seen.course.title} yet. Add students on People. Nothing was printed."
            )
        printing = partial(_print_one, paper, ledger, seen, as_of, size)
        batch = print_batch(people, paper, out, printing, step)
    click.echo(batch.text())
    sys.exit(ExitCode.FOUND if batch.failed else ExitCode.FINE)


def _print_one(paper: str, ledger: Ledger, seen: CourseView, day: date, size: Any, student: str, out: Path) -> int:
    return OF_EVERYBODY[paper](ledger, seen, student, day, out, size)


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("session", required=False)
@click.option("--out", type=FILE, required=True, help="The PDF file to write.")
@click.option("--day", "on", help="Every session of this day (YYYY-MM-DD) instead of one SESSION.")
@click.option("--skill", "skills", multiple=True, help="A skill by id or title; several may be named.")
@click.option("--student", "students", multiple=True, help="A student by name; several may be named.")
@click.option("--group", help="One group of the session; every group unless named.")
@click.option("--tries", type=click.IntRange(1, 3), default=1, show_default=True, help="Columns for each student.")
@click.option("--size", type=click.Choice(["a4", "a5", "small"]), default="a5", show_default=True)
@click.option("--by", help="Who gives the sheets out; the centre's lead unless named.")
@click.option("--course", "title", help="The course; the newest one unless named.")
@as_json_option
def slate(
    folder: Path, session: str | None, out: Path, on: str | None, title: str | None, by: str | None, size: Any,
    *, as_json: bool, **asked: Any,
) -> None:  # fmt: skip
    """Print the sheets that SESSION needs for the water as PDF: one for each skill and group.

    SESSION is a title, an unmistakable part of it, an id, or a day. Without --skill: skills for this setting that are
    still missing for somebody. Printing again is the same sheets and appends nothing.
    """
    with Progress("Printing", quiet=as_json) as step:
        with open_ledger(folder) as ledger:
            plans, actor = _slate_plans(ledger, session, on, title, by, asked)
        with open_ledger(folder, write=any(plan.is_new for plan in plans)) as ledger:
            printed = give_and_print(ledger, actor, plans, size=size, step=step)
    write_paper(printed.pdf, out)
    if as_json:
        click.echo(json.dumps({"out": str(out), "size": size, "sheets": printed.plain()}, ensure_ascii=False))
        return
    click.echo(printed.text())
    pages = sum(printed.pages)
    click.echo(f"\n{out}: {plural(len(printed.sheets), 'sheet')} on {plural(pages, 'page')}, size {size}, one side.")


def _slate_plans(
    ledger: Any, session: str | None, on: str | None, title: str | None, by: str | None, asked: dict[str, Any]
) -> tuple[tuple[SlatePlan, ...], str]:
    """What to print, and who gives it out."""
    if (session is None) == (on is None):
        raise click.UsageError("Name one SESSION, or --day YYYY-MM-DD for every session of a day.")
    seen = course_view(ledger, title)
    actor = find_staff(seen, by)
    if on is not None or re.fullmatch(r"\d{4}-\d\d-\d\d", session or ""):
        day = date_of(on or session or "", "--day")
        return plan_day(ledger, sessions_of_day(ledger, day, seen.course.id if title else None), **asked), actor
    return plan_slates(ledger, find_session(ledger, seen, session or ""), **asked), actor


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("sheet")
@click.option("--by", help="Who wrote the sheet: a name, or an unmistakable part of it.")
@click.option("--at", help="When it was seen, such as 14:05-15:10; else the session's own times.")
@click.option("--json", "content", type=FILE, help="Read the columns from a JSON file and save without asking.")
def enter(folder: Path, sheet: str, by: str | None, at: str | None, content: Path | None) -> None:
    """Copy a paper SHEET in by its number: a line of keys for each column, then what it does, then save."""
    from course.screens.slate_terminal import copy_in  # noqa: PLC0415 - other commands do without

    with open_ledger(folder, write=True) as ledger:
        click.echo(copy_in(ledger, sheet, by, at, content))
