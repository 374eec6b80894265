"""What is asked for without being shown: passwords and PINs, on the terminal or from standard input."""

from __future__ import annotations

import sys

import click

from course.actions.signing_pins import confirm
from course.answers.accounts import any_account
from course.answers.signing_pins import signing_pin_of
from course.record.signing_events import Confirmed
from course.storage.device import state_folder
from course.storage.entrance import Entrance
from course.storage.ledger import Ledger

THIS_MACHINE = "this machine"
STDIN = click.option("--stdin", "from_stdin", is_flag=True, help="Read what is secret from standard input, by line.")


def secret(what: str, *, from_stdin: bool, twice: bool = True) -> str:
    """Ask for something without showing it, twice where it is new; or read one line of standard input."""
    if from_stdin:
        return sys.stdin.readline().rstrip("\r\n")
    return str(click.prompt(what, hide_input=True, confirmation_prompt=twice, err=True))


def entrance_of(ledger: Ledger) -> Entrance:
    """Return where wrong guesses at this centre are counted."""
    folder = state_folder() / "entrance" / ledger.centre_id
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    return Entrance(folder)


def confirmed_signer(ledger: Ledger, person: str, *, from_stdin: bool) -> Confirmed:
    """Let whoever signs confirm that it is them; a PIN for signing that is chosen now is asked for twice.

    Raises:
        RefusedError: it is not theirs, the next try has to wait, or a PIN that is chosen now cannot be used.
    """
    entrance = entrance_of(ledger)
    if any_account(ledger):
        given = secret("Password or PIN of whoever signs", from_stdin=from_stdin, twice=False)
        return confirm(ledger, entrance, person, given, "", THIS_MACHINE)
    new = signing_pin_of(ledger, person) is None
    given = secret("A PIN for signing, chosen now" if new else "PIN for signing", from_stdin=from_stdin, twice=new)
    return confirm(ledger, entrance, person, given, given, THIS_MACHINE)
