"""Commands about personal data: give one person theirs, erase them, tell whose are due."""

from __future__ import annotations

from pathlib import Path

import click

from course.actions.privacy import erase_person
from course.answers.erasing import before_erasing, named_in
from course.answers.keeping import keeping
from course.answers.people import find_anybody
from course.commands.group import FILE, FOLDER, main
from course.exchange.own_data import give_own_data
from course.record.facts import Centre
from course.storage.ledger import Ledger, open_ledger
from course.storage.lookup import needed
from course.words import AUTHORITY_WORDS, Authority, plural

_BY = "Who does it: a lead, by name; the centre's lead unless named."


@main.command("own-data")
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.option("--out", type=FILE, required=True, help="The zip file to write; there must be none of that name.")
@click.option("--by", help=_BY)
def give(folder: Path, person: str, out: Path, by: str | None) -> None:
    """Write everything that is kept about PERSON into a file for them; others stand in it by their role alone."""
    with open_ledger(folder) as ledger:
        told = give_own_data(ledger, _actor(ledger, by), find_anybody(ledger, person), out)
    click.echo(f"{out}: {plural(len(told.events), 'line')} of the ledger. {told.note}")


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("person", required=False)
@click.option("--authority", type=click.Choice([one.value for one in Authority]), help="On whose word.")
@click.option("--reason", help="Why, in the centre's words, without the person's name. Without it nothing is erased.")
@click.option("--despite", help="Why, in spite of what speaks against it.")
@click.option("--by", help=_BY)
def erase(
    folder: Path, person: str | None, authority: str | None, reason: str | None, despite: str | None, by: str | None
) -> None:
    """Erase PERSON's personal data for good; without --reason, say what that does and what speaks against it.

    Without PERSON: whose data are due by the time that the centre has set. Nothing is erased by itself.
    """
    with open_ledger(folder, write=bool(person and reason)) as ledger:
        if person is None:
            due = keeping(ledger)
            click.echo("\n".join([due.sentence, *due.rules, *(one.sentence for one in due.due), "", due.advice]))
            return
        who = find_anybody(ledger, person)
        if reason is None:
            before = before_erasing(ledger, who)
            click.echo(f"{before.name}\n{before.text()}\n\n{named_in(ledger, who).sentence}\nNothing was changed.")
            return
        if authority is None:
            told = "; ".join(f"{one.value}: {AUTHORITY_WORDS[one]}" for one in Authority)
            raise click.UsageError(f"Name --authority ({told}). Nothing was changed.")
        done = erase_person(
            ledger, _actor(ledger, by), who, authority=Authority(authority), reason=reason, despite=despite
        )
    click.echo(done.text())


def _actor(ledger: Ledger, by: str | None) -> str:
    return find_anybody(ledger, by) if by else needed(ledger, Centre, ledger.centre_id, "centre").lead
