"""Commands for a ledger that cannot simply be opened: tables of an older layout."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path

import click

from course.commands.group import FOLDER, as_json_option, main
from course.errors import ExitCode
from course.storage import layout as layouts
from course.storage.postgresql import read_url


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--move", is_flag=True, help="Move the tables to this version's layout now.")
@click.option("--database", metavar="URL", help="With --move, on a server: a login that owns the tables.")
@as_json_option
def layout(folder: Path, *, move: bool, database: str | None, as_json: bool) -> None:
    """Tell which layout the tables in FOLDER have, and what would come with today's. Ends with 1 while there is more.

    A file is moved by itself when it is next opened to write, and a copy of it is kept. On a server the owner of the
    tables moves them, for every centre in that database at once. No event is changed.
    """
    done = layouts.move(folder, owner=read_url(database) if database else None) if move else None
    found = layouts.standing(folder)
    if as_json:
        click.echo(json.dumps(asdict(found) | {"done": done}, ensure_ascii=False))
    else:
        click.echo("\n".join([*([done] if done else []), *_lines(found)]))
    sys.exit(ExitCode.FOUND if found.steps else ExitCode.FINE)


def _lines(found: layouts.Standing) -> list[str]:
    if not found.steps:
        return [f"The tables have layout {found.layout}, the newest that this version knows."]
    how = (
        "Their owner moves them, with every program that writes there closed: course layout FOLDER --move --database "
        "URL-OF-THE-OWNER"
        if found.on_server
        else "They are moved when the centre is next opened to write, or now with --move; a copy of the file is kept."
    )
    steps = [f"{step.layout}: {step.words}" for step in found.steps]
    return [f"The tables have layout {found.layout}; this version adds:", *steps, how]
