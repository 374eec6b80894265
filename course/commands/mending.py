"""Commands for a ledger that cannot simply be opened: tables of an older layout, going on after a loss."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path

import click

from course.commands.group import FOLDER, as_json_option, main
from course.errors import ExitCode
from course.storage import layout as layouts
from course.storage.mending import Loss, continue_after_loss, look_at_loss
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


@main.command("go-on")
@click.argument("folder", type=FOLDER)
@click.option("--after", type=click.IntRange(min=0), metavar="N", help="Go on after event N, the last that is left.")
def go_on(folder: Path, after: int | None) -> None:
    """Go on with what is left of the damaged ledger in FOLDER, once you have read what is missing.

    Without --after it tells what is missing and changes nothing. What is lost stays a finding of every later check.
    Ends with 1 while nothing was decided.
    """
    if after is None:
        click.echo("\n".join(_loss_lines(folder, look_at_loss(folder))))
        sys.exit(ExitCode.FOUND)
    with continue_after_loss(folder, after=after) as ledger:
        click.echo("\n".join(ledger.notices))
    click.echo(f"The ledger goes on after event {after}. Back up now: course backup {folder} FILE")


def _loss_lines(folder: Path, loss: Loss) -> list[str]:
    last = f", recorded {loss.last_recorded_at[:16]} UTC" if loss.last_recorded_at else ""
    kept = (
        f"The newest back-up made on this machine is {loss.backup.file}, of {loss.backup.at[:16]} UTC. If it has more "
        "than what is left, restore it into an empty folder instead."
        if loss.backup
        else "If you have a back-up that has more than what is left, restore it into an empty folder instead."
    )
    means = (
        "Going on begins a new chain after that event. What is missing stays missing, and every later check says so; "
        "papers and other laptops may still hold it, and a merge brings it back."
    )
    return [
        loss.damage, *(one for one in loss.findings if one != loss.damage),
        f"What is left of this ledger's own chain ends with event {loss.last}{last}.", kept, means,
        f"Nothing was changed. If you have read this and want to go on: course go-on {folder} --after {loss.last}",
    ]  # fmt: skip
