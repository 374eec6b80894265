"""Commands about accounts: a tool of whoever owns the folder, for the first account, and where nobody gets in."""

from __future__ import annotations

from pathlib import Path

import click

from course.actions import accounts, signing_pins
from course.answers.accounts import account_lines, any_account
from course.answers.people import find_anybody
from course.commands.group import FOLDER, main
from course.commands.secrets import STDIN, THIS_MACHINE, entrance_of, secret
from course.record.facts import Centre
from course.storage.ledger import Ledger, open_ledger
from course.storage.lookup import needed
from course.words import OFFICE_WORDS, Office

_BY = click.option("--by", help="Who does it: a lead or administrator, by name; the centre's lead unless named.")
_OFFICES = click.option(
    "--office",
    "offices",
    multiple=True,
    type=click.Choice([one.value for one in Office]),
    help="What they are to the centre beside teaching.",
)


@main.group()
def account() -> None:
    """Make, change and close accounts of the centre in FOLDER, while its screens are shut.

    With the first account everybody has to sign in; without one the screens are open on this machine. Passwords and
    PINs are asked for without being shown.
    """


@account.command("list")
@click.argument("folder", type=FOLDER)
def list_accounts(folder: Path) -> None:
    """Tell who has an account, with roles and offices."""
    with open_ledger(folder) as ledger:
        lines, needed = account_lines(ledger), any_account(ledger)
    if not lines and needed:
        click.echo("Every account is closed, none of them as the last one: nobody gets in. Next: course account add.")
    elif not lines:
        click.echo("There is no account: the screens are open to whoever is at this machine. Next: course account add.")
    for line in lines:
        click.echo(line.sentence)


@account.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.option("--name", required=True, help="The name by which they sign in.")
@_OFFICES
@click.option("--enter", is_flag=True, help="PERSON is not in the centre yet, and is here for an office alone.")
@_BY
@STDIN
def add(
    folder: Path, person: str, name: str, offices: tuple[str, ...], by: str | None, *, enter: bool, from_stdin: bool
) -> None:
    """Give PERSON an account; the first one is for a lead.

    A password that is chosen for somebody else has to be changed at the first sign-in.
    """
    with open_ledger(folder, write=True) as ledger:
        first, actor = not any_account(ledger), _actor(ledger, by)
        who = None if enter else find_anybody(ledger, person)
        password = secret("Password", from_stdin=from_stdin)
        given = [Office(one) for one in offices]
        if who is None:
            who = accounts.enter_for_office(
                ledger, actor, shown_as=person, name=name, password=password, offices=given
            )  # fmt: skip
        else:
            accounts.make_account(ledger, actor, who, name=name, password=password, offices=given)
        click.echo("\n".join(line.sentence for line in account_lines(ledger) if line.person == who))
    if first:
        click.echo("From now on everybody signs in. Whoever has no account sees nothing: give each one theirs.")


@account.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.option("--last", is_flag=True, help="Close the only account, too: the screens are open on this machine again.")
@_BY
def close(folder: Path, person: str, by: str | None, *, last: bool) -> None:
    """Close PERSON's account for good; what they entered stays theirs."""
    with open_ledger(folder, write=True) as ledger:
        accounts.close_account(ledger, _actor(ledger, by), find_anybody(ledger, person), last=last)
        left = any_account(ledger)
    click.echo("Closed." if left else "Closed. There is no account any more: the screens are open on this machine.")


@account.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@_BY
@STDIN
def password(folder: Path, person: str, by: str | None, *, from_stdin: bool) -> None:
    """Set PERSON's password anew, such as when it is forgotten.

    Unless PERSON is who does it, it has to be changed at the next sign-in, and the PIN no longer holds.
    """
    with open_ledger(folder, write=True) as ledger:
        who, actor = find_anybody(ledger, person), _actor(ledger, by)
        accounts.set_password(ledger, actor, who, secret("New password", from_stdin=from_stdin), own=actor == who)
    click.echo("The password is set." + ("" if actor == who else " It has to be changed at the next sign-in."))


@account.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.option("--take-away", is_flag=True, help="Take the PIN away; that needs no password.")
@click.option("--why", help="With --take-away, where nobody has an account: why the PIN for signing is let go.")
@_BY
@STDIN
def pin(folder: Path, person: str, why: str | None, by: str | None, *, take_away: bool, from_stdin: bool) -> None:
    """Set PERSON's own PIN; their password is asked for first.

    Where nobody has an account, --take-away lets PERSON's PIN for signing go: the next signature asks for a new one.
    """
    with open_ledger(folder, write=True) as ledger:
        who = find_anybody(ledger, person)
        if take_away:
            if any_account(ledger):
                accounts.set_pin(ledger, _actor(ledger, by), who, None)
            else:
                signing_pins.let_go_signing_pin(ledger, _actor(ledger, by), who, why or "")
            click.echo("The PIN is taken away.")
            return
        given = secret("Password", from_stdin=from_stdin, twice=False)
        if accounts.confirmed(ledger, entrance_of(ledger), who, given, THIS_MACHINE) != "password":
            raise click.UsageError("A password is asked for, not the PIN. Nothing was changed.")
        accounts.set_pin(ledger, who, who, secret("PIN", from_stdin=from_stdin))
    click.echo("The PIN is set.")


@account.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.argument("given", type=click.Choice([one.value for one in Office]))
@click.option("--take-away", is_flag=True, help="Take the office away.")
@_BY
def office(folder: Path, person: str, given: str, by: str | None, *, take_away: bool) -> None:
    """Give PERSON, who has an account, an office, or take it away."""
    with open_ledger(folder, write=True) as ledger:
        who, change = find_anybody(ledger, person), accounts.take_office if take_away else accounts.give_office
        change(ledger, _actor(ledger, by), who, Office(given))
    click.echo(f"{OFFICE_WORDS[Office(given)].capitalize()}: {'taken away' if take_away else 'given'}.")


def _actor(ledger: Ledger, by: str | None) -> str:
    return find_anybody(ledger, by) if by else needed(ledger, Centre, ledger.centre_id, "centre").lead
