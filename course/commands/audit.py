"""The command of an audit: seal a centre into one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from course.commands.group import FILE, FOLDER, Progress, course_view, date_of, main, of_course
from course.exchange.audit_file import seal as seal_file
from course.storage.ledger import open_ledger
from course.words import plural


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--out", type=FILE, required=True, help="The audit file to write; there must be none of that name.")
@click.option(
    "--for", "given_to", metavar="WHOM",
    help="Put names and what people wrote into the file, which is then made for WHOM and says so.",
)  # fmt: skip
@click.option("--size", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@of_course
def seal(folder: Path, out: Path, given_to: str | None, size: Any, title: str | None, day: str | None) -> None:
    """Seal the centre in FOLDER into one file for an auditor: paper, tables, every event, and what checks them.

    Every course is in it; with --course its paper and tables are of that one. The events are always all of them, since
    a chain is checked as a whole. Without --for people are numbers and texts are left out. Nothing is changed.
    """
    as_of = date_of(day, "--as-of") if day else None
    with Progress("Sealing") as step, open_ledger(folder) as ledger:
        course = course_view(ledger, title).course.id if title else None
        sealed = seal_file(ledger, out, course=course, as_of=as_of, given_to=given_to, size=size, step=step)
    names = f"with names, for {given_to}" if given_to else "without names (--for WHOM puts them in)"
    count, pages = plural(sealed.manifest.events, "event"), plural(sealed.pages, "page")
    click.echo(f"{out}: {count}, {plural(sealed.tables, 'table')} and {pages} of paper, {names}.")
    click.echo(f"Whoever has it can check it: course check {out}")
