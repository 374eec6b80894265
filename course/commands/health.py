"""The command that tells how a centre's storage is."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from course.answers.health import health as health_answer
from course.commands.group import FOLDER, as_json_option, main
from course.errors import ExitCode
from course.storage.ledger import open_ledger


@main.command()
@click.argument("folder", type=FOLDER)
@as_json_option
def health(folder: Path, *, as_json: bool) -> None:
    """Tell how the storage in FOLDER is: witness, last check, backup, disk, keys. Ends with 1 while anything is bad."""
    with open_ledger(folder) as ledger:
        answer = health_answer(ledger)
    click.echo(json.dumps(answer.plain(), ensure_ascii=False) if as_json else answer.text())
    sys.exit(ExitCode.FOUND if answer.bad else ExitCode.FINE)
