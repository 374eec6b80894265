"""Commands of a whole centre: make it, open it, check, keep and restore it."""

from __future__ import annotations

import json
import sys
from contextlib import suppress
from pathlib import Path

import click

from course import places, sample
from course.actions.centre import make_centre
from course.actions.keys import make_key
from course.answers.centre_answer import centre
from course.commands.group import (
    DATABASE,
    FILE,
    FOLDER,
    Progress,
    as_json_option,
    main,
)
from course.errors import ExitCode, StandardsError, StorageError
from course.record.centre_key import grouped
from course.standards.concerns import concerns
from course.storage import backup as backups
from course.storage.common_passwords import check_list
from course.storage.drill import drill as try_out
from course.storage.inspection import verify as verify_folder
from course.storage.ledger import Ledger, open_ledger
from course.storage.mending import rebuild as rebuild_folder
from course.storage.remembered import remember_check
from course.storage.rubric_files import read_folder
from course.words import listed, plural


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--centre", "name", required=True, help="The centre's name.")
@click.option("--lead", required=True, help="The lead instructor's name.")
@click.option("--zone", default="UTC", show_default=True, help="The centre's time zone, such as Europe/Lisbon.")
@click.option("--database", metavar="URL", help=DATABASE)
def new(folder: Path, name: str, lead: str, zone: str, database: str | None) -> None:
    """Make a centre and its lead in FOLDER."""
    with make_centre(folder, name=name, lead_name=lead, zone=zone, database=database) as ledger:
        fingerprint = make_key(ledger, centre(ledger).lead)
    click.echo(f"{name} is made in {folder}. Next: course open {folder}")
    click.echo(f"The key that signs its papers: {grouped(fingerprint)}. Keep a copy: course key {folder} --copy FILE")


@main.command("sample")
@click.argument("folder", type=FOLDER)
def sample_centre(folder: Path) -> None:
    """Write the demo centre, all of it invented, into FOLDER."""
    with Progress("Writing the demo centre") as step:
        loaded = sample.load(folder, step)
    click.echo(loaded.summary)
    if loaded.not_loaded:
        left_out = listed([f"{n} {what}" for what, n in loaded.not_loaded.items()])
        click.echo(f"Left out, since the ledger has no event for it: {left_out} (demo_students/later.yaml).")
    click.echo(f"Next: course open {folder}")


@main.command("open")
@click.argument("folder", type=FOLDER)
@click.option("--share", is_flag=True, help="Let other machines on this network in; they need the code that is shown.")
@click.option("--new-code", is_flag=True, help="With --share: make a new code; every machine needs it again.")
@click.option("--port", type=click.IntRange(1024, 65535), default=8571, show_default=True)
def open_centre(folder: Path, *, share: bool, new_code: bool, port: int) -> None:
    """Start the screens on the centre in FOLDER; Ctrl-C ends them."""
    from course.actions.pad import take  # noqa: PLC0415 - the screens take a second to load; other commands need none
    from course.answers.pad import state_now  # noqa: PLC0415
    from course.screens import serve, slate_route  # noqa: PLC0415

    check_list()
    with open_ledger(folder, write=True) as ledger:
        for notice in filter(None, (*ledger.notices, ledger.damage)):
            click.echo(notice, err=True)
        serve.start(ledger, take, writable=lambda: ledger.damage is None, state=state_now)
        serve.serve(
            folder, port=port, share=share, renew_code=new_code, further=slate_route.routes(), beginning=_to_log(ledger)
        )


def _to_log(ledger: Ledger) -> dict[str, object]:
    """What the log is told of an opening: whether the last end was one, and what was found."""
    found = ledger.ending
    return {"not_closed": {"checked": found.checked, "whole": found.whole}} if found else {}


@main.command()
@click.argument("path", type=click.Path(path_type=Path), required=False)
@as_json_option
def standards(path: Path | None, *, as_json: bool) -> None:
    """Check the rubric files in PATH (those that ship, unless named): every problem at once."""
    folder = path or places.RUBRICS
    try:
        found = read_folder(folder)
    except StandardsError as error:
        if not as_json:
            raise
        click.echo(json.dumps({"problems": [vars(problem) for problem in error.problems]}, ensure_ascii=False))
        sys.exit(ExitCode.FOUND)
    told = [str(concern) for concern in concerns(found)]
    steps = [step for skill in found.skills.values() for step in skill.steps]
    errors = [error for step in steps for error in step.errors]
    counts = {
        "skills": len(found.skills), "phases": len(found.phases), "steps": len(steps), "errors": len(errors),
        "critical_errors": sum(error.critical for error in errors), "unit_types": len(found.unit_types),
        "planted_faults": len(found.planted_faults), "profiles": len(found.profiles),
    }  # fmt: skip
    if as_json:
        click.echo(json.dumps({"problems": [], "counts": counts, "concerns": told}, ensure_ascii=False))
        return
    click.echo("\n".join(["Worth a look, no fault:", *told, ""] if told else []), nl=False)
    click.echo(f"{folder}: fine. " + ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in counts.items()) + ".")


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--events", is_flag=True, help="Leave out tables and keys: several times as quick.")
@as_json_option
def verify(folder: Path, *, events: bool, as_json: bool) -> None:
    """Check the ledger in FOLDER: its chains, its head witness, its tables against a rebuild."""
    with Progress("Checking", quiet=as_json) as step:
        report = verify_folder(folder, lambda done, of: step(done, of, ""), events_only=events)
    if not events or not report.fine:
        with suppress(StorageError):  # the check stands, whether it is remembered or not
            remember_check(folder, report.events, len(report.damage), len(report.for_people))
    if as_json:
        plain = {
            "fine": report.fine, "events": report.events, "findings": list(report.findings),
            "notices": list(report.notices), "chains": [vars(chain) for chain in report.chains],
        }  # fmt: skip
        click.echo(json.dumps(plain, ensure_ascii=False))
    else:
        lines = [*report.findings, *report.notices]
        if report.fine:
            heads = "; ".join(f"chain {c.chain[:8]} ends at {c.events} with {c.hash[:16]}" for c in report.chains)
            fit = "the witness; tables and keys were not looked at" if events else "the witness and the tables"
            lines.append(f"Fine: {report.events} events fit their chains{' and' if events else ','} {fit}. {heads}.")
        click.echo("\n".join(lines))
    sys.exit(ExitCode.FINE if report.fine else ExitCode.FOUND)


@main.command()
@click.argument("folder", type=FOLDER)
def rebuild(folder: Path) -> None:
    """Make the tables in FOLDER again from the ledger; the ledger itself is not touched."""
    with Progress("Making the tables again") as step:
        count = rebuild_folder(folder, lambda done, of: step(done, of, ""))
    click.echo(f"{count} facts made again from the ledger.")


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("file", type=FILE)
def backup(folder: Path, file: Path) -> None:
    """Back up the centre in FOLDER into FILE: database, keys and head witness together. Works while it is open.

    A ledger in PostgreSQL is copied into the same kind of file, row for row.
    """
    report = backups.backup(folder, file)
    click.echo(
        f"{file}: {report.events} events, checked. It holds the keys to private data: keep it as safe as the folder."
    )


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("file", type=FILE)
def drill(folder: Path, file: Path) -> None:
    """Put the back-up FILE back beside FOLDER to try it, compare the two, and take it away again.

    Ends with 1 where somebody's data could not be read from it, or where it lacks what was added since.
    """
    found = try_out(folder, file)
    click.echo(
        f"{file} comes back: {plural(found.events, 'event')}, checked, the last of {found.last_recorded_at[:16]} UTC."
    )
    if found.unread:
        click.echo(f"The data of {plural(found.unread, 'person', 'people')} cannot be read from it.")
    else:
        click.echo(f"The data of {plural(found.people, 'person', 'people')} can be read from it, or were erased.")
    if found.lost:
        click.echo(f"{plural(found.lost, 'event')} were added since and would be lost. Back up now.")
    sys.exit(ExitCode.FOUND if found.lost or found.unread else ExitCode.FINE)


@main.command()
@click.argument("file", type=FILE)
@click.argument("folder", type=FOLDER)
@click.option("--database", metavar="URL", help=DATABASE)
def restore(file: Path, folder: Path, database: str | None) -> None:
    """Restore a back-up FILE into a new FOLDER; the ledger goes on there as a new chain that names the old one.

    It comes back as a file in FOLDER, also where it was in PostgreSQL before, unless --database says otherwise.
    """
    report = backups.restore(file, folder, database=database)
    into = "the PostgreSQL database" if database else "its own ledger.db"
    click.echo(f"{folder}: {report.events} events restored into {into} and checked. Next: course open {folder}")
