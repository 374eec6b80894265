"""The command that checks what was given out: an audit file, a bundle, a paper by its file, picture or code."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from course.answers.centre_keys import centre_keys, read_key_list
from course.answers.paper_check import PaperCheck, check_hash, is_hash
from course.answers.paper_verdict import Shown
from course.commands.group import FILE, FOLDER, Progress, as_json_option, main
from course.errors import ExitCode, RefusedError
from course.exchange.audit_check import check_file
from course.exchange.paper_file import is_paper_file, read_paper_file
from course.exchange.paper_pages import check_shown
from course.record.paper_code import is_typed_code, read_paper_code
from course.storage.ledger import open_ledger

_LONGEST_TYPED = 4000


@main.command()
@click.argument("what", metavar="FILE|CODE")
@click.option("--centre", "folder", type=FOLDER, help="Compare a paper with the ledger of this centre.")
@click.option(
    "--key", "keys", type=FILE, help="Check a paper's signature with these public keys (course key --export)."
)
@click.option(
    "--head", "heads", multiple=True, metavar="HASH",
    help="Of an audit file or bundle: a hash from elsewhere (a paper, another ledger), 16 digits or more, or a paper's "
    "whole code; it must be in the file. Several may be given.",
)  # fmt: skip
@as_json_option
def check(what: str, folder: Path | None, keys: Path | None, heads: tuple[str, ...], *, as_json: bool) -> None:
    """Check a paper, an audit file or a bundle, without a network. Ends with 1 if anything is wrong.

    A paper is its PDF, a picture of its square code, the code as typed (in quotes; - asks for it), or the hash at the
    foot of its pages. With --centre it is compared with the ledger too: whether that still says the same.
    """
    if what == "-":
        what = sys.stdin.read(_LONGEST_TYPED)
    file = Path(what)
    if is_hash(what) and folder:
        with open_ledger(folder) as ledger:
            _tell(check_hash(ledger, what), as_json=as_json)
    elif is_hash(what) and not file.exists():
        raise RefusedError("A hash is compared with a ledger: say which with --centre FOLDER. Nothing was checked.")
    elif is_typed_code(what):
        _tell(_checked(Shown(read_paper_code(what)), folder, keys), as_json=as_json)
    elif is_paper_file(file):
        _tell(_checked(read_paper_file(file), folder, keys), as_json=as_json)
    with Progress("Checking", quiet=as_json) as step:
        _tell(check_file(file, heads, step=step), as_json=as_json)


def _checked(shown: Shown, folder: Path | None, keys: Path | None) -> PaperCheck:
    pinned = read_key_list(keys) if keys else None
    if folder is None:
        return check_shown(shown, pinned)
    with open_ledger(folder) as ledger:
        known = centre_keys(ledger)
        if pinned is not None and not {key.public for key in pinned} & {key.public for key in known}:
            raise RefusedError(f"{keys} and the ledger in {folder} are of two centres: they have no key in common.")
        return check_shown(shown, known if pinned is None else pinned, ledger)


def _tell(report: Any, *, as_json: bool) -> None:
    click.echo(json.dumps(report.plain(), ensure_ascii=False) if as_json else report.text())
    sys.exit(ExitCode.FINE if report.fine else ExitCode.FOUND)
