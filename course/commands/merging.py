"""Commands of several laptops: hand all events over, take them in."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from course.answers.centre_answer import centre
from course.answers.merging import merged_plain, merged_words
from course.commands.group import FILE, FOLDER, Progress, as_json_option, main
from course.errors import ExitCode
from course.exchange import merging
from course.storage.ledger import open_ledger
from course.words import plural


@main.command("hand-over")
@click.argument("folder", type=FOLDER)
@click.option("--out", type=FILE, required=True, help="The bundle to write; there must be none of that name.")
@click.option("--keys", type=FILE, help="Also write the keys of private data into this file, for your own laptop only.")
def hand_over(folder: Path, out: Path, keys: Path | None) -> None:
    """Write all events of the centre in FOLDER into one bundle, for another laptop of the same centre.

    Names and texts travel sealed. Without --keys the other laptop counts everything and can read only what it has keys
    for.
    """
    with Progress("Handing over") as step, open_ledger(folder) as ledger:
        count = merging.hand_over(ledger, out, keys=keys, progress=lambda done, of: step(done, of, ""))
    click.echo(f"{out}: {plural(count, 'event')}. On the other laptop: course merge FOLDER {out.name}")
    if keys:
        click.echo(f"{keys} opens every name and text in it. Carry it apart from the bundle, and delete it afterwards.")


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("bundles", type=FILE, nargs=-1)
@click.option("--keys", type=FILE, help="The file of keys that the other laptop wrote.")
@click.option("--accept", multiple=True, metavar="DEVICE", help="Take in what this device wrote, now and from now on.")
@click.option("--rehearse", is_flag=True, help="Say what it would do, and change nothing.")
@as_json_option
def merge(
    folder: Path,
    bundles: tuple[Path, ...],
    keys: Path | None,
    accept: tuple[str, ...],
    *,
    rehearse: bool,
    as_json: bool,
) -> None:
    """Take into FOLDER what the BUNDLES of the same centre hold. Ends with 1 while something waits or forks.

    So it does where a checkpoint does not fit. Whatever the order and however often, the result is the same. Nothing
    that is here is changed or taken away. What waits in FOLDER is tried each time, also where no bundle is named.
    """
    with Progress("Merging", quiet=as_json) as step, open_ledger(folder, write=True) as ledger:
        merged = merging.merge(
            ledger, centre(ledger).lead, bundles, keys=keys, accept=accept, rehearse=rehearse,
            progress=lambda done, of: step(done, of, ""),
        )  # fmt: skip
        words = (*merged_words(merged.brought, rehearsed=merged.rehearsed, keys=merged.keys_taken), *merged.notes)
    click.echo(json.dumps(merged_plain(merged.brought), ensure_ascii=False) if as_json else "\n".join(words))
    brought = merged.brought
    quiet = not (brought.waiting or brought.forks or brought.doubled or brought.misfits)
    sys.exit(ExitCode.FINE if quiet else ExitCode.FOUND)
