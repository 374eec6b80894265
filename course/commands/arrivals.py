"""Commands for a student who goes on at another centre, or comes from one."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import click

from course.actions import arrivals
from course.answers.arrival import ArrivalLine, arrival_lines, rehearse
from course.answers.centre_keys import read_key_list
from course.answers.course_view import CourseView, find_person
from course.answers.elsewhere import elsewhere_taken_back
from course.answers.people import find_anybody
from course.commands.group import FILE, FOLDER, as_json_option, course_view, day_asked, main, of_course
from course.commands.secrets import STDIN, confirmed_signer
from course.errors import ExitCode
from course.exchange.paper_file import read_paper_file
from course.paper.filed_papers import print_filed_paper
from course.record.facts import Centre
from course.record.signing_events import Confirmed
from course.storage.ledger import Ledger, open_ledger
from course.storage.lookup import needed

_BY = "Who does it, by name; the centre's lead unless named."


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.option("--out", type=FILE, required=True, help="The PDF file to write.")
@click.option("--to", "given_to", help="Note first that PERSON agrees to be given on to this centre.")
@click.option("--size", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@click.option("--by", help=_BY)
@of_course
def transfer(
    folder: Path, person: str, out: Path, given_to: str | None, size: Any, by: str | None, title: str | None,
    day: str | None,
) -> None:  # fmt: skip
    """Print what PERSON takes along to another centre, as PDF with its own data in it; their consent comes first."""
    if given_to:
        with open_ledger(folder, write=True) as ledger:
            seen = course_view(ledger, title)
            student, today = find_person(seen, person), seen.today().isoformat()
            actor = _actor(ledger, by)
            arrivals.note_consent(ledger, actor, seen.course.id, student, day=today, given_to=given_to)
    with open_ledger(folder) as ledger:
        seen = course_view(ledger, title)
        click.echo(print_filed_paper(ledger, seen, ("transfer-file", person, day_asked(seen, day)), out, size))


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.argument("file", type=FILE, required=False)
@click.option("--key", "keys", type=FILE, help="Public keys of the other centre, as it gave them out.")
@click.option("--note", is_flag=True, help="Note that it arrived. Nothing of it counts by that.")
@click.option("--sure", help="How you know that it is the same person, where the file calls them otherwise.")
@click.option(
    "--accept", "accepted", multiple=True, metavar="ITEM[=AMOUNT]",
    help="Accept one thing of the last file that arrived: hours:pool=60, count:pool_sessions=1, skill:ID.",
)  # fmt: skip
@click.option(
    "--take-back", "back", multiple=True, metavar="ITEM",
    help="Take back what was accepted of one thing; or “file”: the whole last file that arrived.",
)  # fmt: skip
@click.option("--again", is_flag=True, help="With FILE, which was taken back: say that it holds after all.")
@click.option("--reason", help="Why it is accepted, taken back, or holds after all.")
@click.option("--by", help=_BY)
@STDIN
@of_course
@as_json_option
def arrival(
    folder: Path, person: str, file: Path | None, keys: Path | None, sure: str | None, accepted: tuple[str, ...],
    back: tuple[str, ...], reason: str | None, by: str | None, title: str | None, day: str | None, *, note: bool,
    again: bool, from_stdin: bool, as_json: bool,
) -> None:  # fmt: skip
    """Say what a transfer FILE from another centre is and tells of PERSON; with --note it is kept as arrived.

    Without FILE: what arrived of PERSON, and what of it the lead accepted. The lead alone notes and accepts,
    and to accept or take back confirms by password or PIN.
    """
    with open_ledger(folder, write=note or again or bool(accepted or back)) as ledger:
        seen = course_view(ledger, title)
        student, as_of = find_person(seen, person), day_asked(seen, day)
        if file is not None:
            shown, pinned = read_paper_file(file), read_key_list(keys) if keys else None
            found = rehearse(ledger, seen, student, shown, pinned)
            if note:
                arrivals.note_arrival(ledger, _actor(ledger, by), seen.course.id, student, shown, pinned, sure)
            if again:
                lead = _actor(ledger, by)
                confirmed = confirmed_signer(ledger, lead, from_stdin=from_stdin)
                arrivals.hold_again(ledger, lead, found.id, reason or "", confirmed)
            click.echo(json.dumps(found.plain(), ensure_ascii=False) if as_json else found.text())
            done = "It is noted as arrived." if note else "It holds after all." if again else "Nothing was changed."
            click.echo(done, err=as_json)
            sys.exit(ExitCode.FOUND if found.signature != "pinned" or found.person or found.known else ExitCode.FINE)
        how = confirmed_signer(ledger, _actor(ledger, by), from_stdin=from_stdin) if accepted or back else None
        for item in accepted:
            _accept(ledger, _actor(ledger, by), course_view(ledger, title), student, item, as_of, reason or "", how)
        for item in back:
            _take_back(ledger, _actor(ledger, by), course_view(ledger, title), student, item, as_of, reason or "", how)
        seen = course_view(ledger, title)
        lines = arrival_lines(ledger, seen, student, as_of)
        if as_json:
            click.echo(json.dumps([one.plain() for one in lines], ensure_ascii=False))
            return
        told = (*(one.text() for one in lines), *elsewhere_taken_back(ledger, seen, student))
        click.echo("\n".join(told) or "Nothing arrived of this person.")


def _accept(
    ledger: Ledger, actor: str, seen: CourseView, student: str, wanted: str, as_of: date, reason: str,
    how: Confirmed | None,
) -> None:  # fmt: skip
    """Accept a thing of the newest file that tells of it."""
    item, _, amount = wanted.partition("=")
    if amount and not re.fullmatch(r"\d{1,6}", amount):
        raise click.UsageError(f"{amount[:40]!r} is no whole number. Nothing was changed.")
    newest = _newest(ledger, seen, student, as_of, lambda one: item in {part.item for part in one.items})
    arrivals.accept(
        ledger, actor, newest.id, item, as_of=as_of, amount=int(amount) if amount else None, reason=reason,
        confirmed_with=how,
    )  # fmt: skip


def _take_back(
    ledger: Ledger, actor: str, seen: CourseView, student: str, item: str, as_of: date, reason: str,
    how: Confirmed | None,
) -> None:  # fmt: skip
    """Take back a thing of the newest file of which it is accepted, or the newest file."""
    if item == "file":
        newest = _newest(ledger, seen, student, as_of, lambda _: True)
        arrivals.take_back_file(ledger, actor, newest.id, reason, how)
        return
    newest = _newest(ledger, seen, student, as_of, lambda one: any(p.accepted for p in one.items if p.item == item))
    arrivals.take_back(ledger, actor, newest.id, item, reason, how)


def _newest(
    ledger: Ledger, seen: CourseView, student: str, as_of: date, fits: Callable[[ArrivalLine], bool]
) -> ArrivalLine:  # fmt: skip
    """The newest file that fits, else the newest."""
    lines = arrival_lines(ledger, seen, student, as_of)
    if not lines:
        raise click.UsageError("Nothing arrived of this person yet: name the FILE first, with --note.")
    return next((one for one in reversed(lines) if fits(one)), lines[-1])


def _actor(ledger: Ledger, by: str | None) -> str:
    return find_anybody(ledger, by) if by else needed(ledger, Centre, ledger.centre_id, "centre").lead
