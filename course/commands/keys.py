"""The command about the centre's key."""

from __future__ import annotations

from pathlib import Path

import click

from course.actions.keys import make_key, put_back, replace_key
from course.answers.centre_answer import centre
from course.answers.centre_keys import ELSEWHERE, centre_keys, copy_key, key_lines, public_keys, why_unsigned
from course.commands.group import FILE, FOLDER, main
from course.paper.writing import write_paper
from course.storage.ledger import open_ledger


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--export", "export", type=FILE, help="Write the public keys to this file, for whoever checks papers.")
@click.option("--copy", "copy", type=FILE, help="Write the secret key to this file, to be kept in a safe place.")
@click.option("--put-back", "back", type=FILE, help="Put the key back from its copy.")
@click.option("--replace", "replacing", is_flag=True, help="Replace the key; the old one vouches for the new one.")
@click.option("--lost", is_flag=True, help="Replace a key that is gone, or that somebody else may have.")
@click.option("--reason", help="Why it is replaced.")
def key(
    folder: Path, export: Path | None, copy: Path | None, back: Path | None, reason: str | None,
    *, replacing: bool, lost: bool,
) -> None:  # fmt: skip
    """Show the key that signs the papers of the centre in FOLDER, or make it where there is none.

    Compare its fingerprint with whoever checks papers, once and not by paper. The secret part is among this machine's
    own notes, not in FOLDER, and in no backup and no bundle; keep a copy of it elsewhere (--copy) and bring it to
    another machine with --put-back. Nothing that was signed is lost with it.
    """
    with open_ledger(folder, write=bool(replacing or lost or back) or _has_none(folder)) as ledger:
        if back:
            put_back(ledger, centre(ledger).lead, back)
        elif replacing or lost:
            replace_key(ledger, centre(ledger).lead, lost=lost, reason=reason)
        elif ledger.write:
            make_key(ledger, centre(ledger).lead)
        keys = centre_keys(ledger)
        if export:
            write_paper(public_keys(ledger), export)
        if copy:
            copy_key(ledger, copy)
        elsewhere = bool(why_unsigned(ledger))
    click.echo("\n".join(key_lines(keys)))
    told = {export: "the public keys, for whoever checks papers", copy: "the secret key: keep it in a safe place"}
    for file, what in told.items():
        if file:
            click.echo(f"{file}: {what}.")
    if elsewhere:
        click.echo(ELSEWHERE)


def _has_none(folder: Path) -> bool:
    with open_ledger(folder) as ledger:
        return not centre_keys(ledger)
