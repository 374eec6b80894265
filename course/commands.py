"""The command line. Every command is thin: it asks an answer or does an action, and tells the result.

Exit codes: 0 fine; 1 what was looked for is there (damage, faulty rubric files, something missing); 2 the command
line is wrong; 3 refused; 4 not found; 5 folder, disk or database; 6 a paper that cannot be printed.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click

from course import places, sample
from course.actions.centre import make_centre
from course.answers.centre_answer import centre
from course.answers.competency import competency_record
from course.answers.course_view import CourseView, find_person, find_skill, view
from course.answers.missing import missing as missing_answer
from course.answers.skill_detail import skill_detail
from course.answers.what_if import if_void
from course.errors import CourseError, ExitCode, NotFoundError, StandardsError
from course.paper.competency_record import print_competency_record
from course.standards.concerns import concerns
from course.storage import backup as backups
from course.storage.inspection import verify as verify_folder
from course.storage.ledger import open_ledger
from course.storage.ledger import rebuild as rebuild_folder
from course.storage.rubric_files import read_folder

_F = TypeVar("_F", bound=Callable[..., Any])
FOLDER = click.Path(path_type=Path, file_okay=False)
FILE = click.Path(path_type=Path, dir_okay=False)
DATABASE = (
    "Keep the ledger in this PostgreSQL database, such as postgresql+psycopg://user@host/database, instead of a file. "
    "Keep its password in PostgreSQL's own password file (~/.pgpass), not in the URL. All else stays in FOLDER."
)


class Group(click.Group):
    """Tells errors for people on standard error and ends with their exit code."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except CourseError as error:
            click.echo(error.sentence, err=True)
            ctx.exit(error.exit_code)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or say which one was probably meant."""
        from difflib import get_close_matches  # noqa: PLC0415 - only on a slip

        if args and self.get_command(ctx, args[0]) is None:
            near = get_close_matches(args[0], self.list_commands(ctx), 1)
            hint = f" Did you mean {near[0]}?" if near else ""
            ctx.fail(f"There is no command {args[0]!r}.{hint}")
        return super().resolve_command(ctx, args)


def _as_json(function: _F) -> _F:
    return click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")(function)


def _of_course(function: _F) -> _F:
    function = click.option("--course", "title", help="The course; the newest one unless named.")(function)
    return click.option(
        "--as-of", "day", help="As of this day (YYYY-MM-DD); else the course's last day, or today while it runs."
    )(function)


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
def main() -> None:
    """Keep a centre's training courses: who holds which skill, who saw it, and what is missing.

    The tool proposes, the instructor decides, the agency certifies.
    """


@main.command()
@click.argument("folder", type=FOLDER)
@click.option("--centre", "name", required=True, help="The centre's name.")
@click.option("--lead", required=True, help="The lead instructor's name.")
@click.option("--zone", default="UTC", show_default=True, help="The centre's time zone, such as Europe/Lisbon.")
@click.option("--database", metavar="URL", help=DATABASE)
def new(folder: Path, name: str, lead: str, zone: str, database: str | None) -> None:
    """Make a centre and its lead in FOLDER."""
    with make_centre(folder, name=name, lead_name=lead, zone=zone, database=database):
        pass
    click.echo(f"{name} is made in {folder}. Next: course open {folder}")


@main.command("sample")
@click.argument("folder", type=FOLDER)
def sample_centre(folder: Path) -> None:
    """Write the demo centre, all of it invented, into FOLDER."""
    with _progress("Writing the demo centre") as step:
        loaded = sample.load(folder, step)
    click.echo(loaded.summary)
    if loaded.not_loaded:
        click.echo(f"Not loaded yet: {', '.join(f'{n} {what}' for what, n in loaded.not_loaded.items())}.")
    click.echo(f"Next: course open {folder}")


@main.command("open")
@click.argument("folder", type=FOLDER)
@click.option("--share", is_flag=True, help="Let other machines on this network in; they need the code that is shown.")
@click.option("--new-code", is_flag=True, help="With --share: make a new code; every machine needs it again.")
@click.option("--port", type=click.IntRange(1024, 65535), default=8571, show_default=True)
def open_centre(folder: Path, *, share: bool, new_code: bool, port: int) -> None:
    """Start the screens on the centre in FOLDER; Ctrl-C ends them."""
    from course.actions.pad import take  # noqa: PLC0415 - the screens take a second to load; other commands need none
    from course.screens import serve  # noqa: PLC0415

    with open_ledger(folder, write=True) as ledger:
        for notice in filter(None, (*ledger.notices, ledger.damage)):
            click.echo(notice, err=True)
        serve.start(ledger, take, writable=lambda: ledger.damage is None)
        serve.serve(folder, port=port, share=share, renew_code=new_code)


@main.command()
@click.argument("path", type=click.Path(path_type=Path), required=False)
@_as_json
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
@click.argument("person", required=False)
@_of_course
@_as_json
def missing(folder: Path, person: str | None, title: str | None, day: str | None, *, as_json: bool) -> None:
    """Say what each student, or PERSON, still needs. Ends with 1 while something is missing."""
    with open_ledger(folder) as ledger:
        seen = _course_view(ledger, title)
        students = [find_person(seen, person)] if person else list(seen.students)
        answer = missing_answer(seen, students, _day(seen, day))
    if as_json:
        click.echo(json.dumps(answer.plain(), ensure_ascii=False))
    else:
        click.echo(answer.text())
    sys.exit(ExitCode.FOUND if answer.anything else ExitCode.FINE)


@main.command()
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.argument("skill")
@click.option("--if-void", "number", type=int, help="Say instead what it would be if attempt NUMBER were void.")
@_of_course
@_as_json
def why(
    folder: Path, person: str, skill: str, number: int | None, title: str | None, day: str | None, *, as_json: bool
) -> None:
    """Show why PERSON stands with SKILL as they do: rule, attempts, marks, sheets, who and when."""
    with open_ledger(folder) as ledger:
        seen = _course_view(ledger, title)
        student, found, as_of = find_person(seen, person), find_skill(seen, skill), _day(seen, day)
        if number is not None:
            what_if = if_void(seen, student, found, number, as_of)
            click.echo(json.dumps(asdict(what_if), ensure_ascii=False) if as_json else what_if.text())
            return
        answer = skill_detail(ledger, seen, student, found.id, as_of)
    click.echo(json.dumps(answer.plain(), ensure_ascii=False) if as_json else answer.text())


@main.command("print")
@click.argument("folder", type=FOLDER)
@click.argument("person")
@click.option("--out", type=FILE, required=True, help="The PDF file to write.")
@click.option("--paper", type=click.Choice(["competency-record"]), default="competency-record", show_default=True)
@click.option("--size", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True)
@_of_course
def print_paper(
    folder: Path, person: str, out: Path, paper: str, size: Any, title: str | None, day: str | None
) -> None:
    """Print PERSON's competency record as PDF."""
    with open_ledger(folder) as ledger:
        seen = _course_view(ledger, title)
        record = competency_record(ledger, seen, find_person(seen, person), _day(seen, day))
    pages = print_competency_record(record, out, size)
    click.echo(f"{out}: {paper.replace('-', ' ')} of {record.student}, {pages} pages, as of {record.as_of_words}.")


@main.command()
@click.argument("folder", type=FOLDER)
@_as_json
def verify(folder: Path, *, as_json: bool) -> None:
    """Check the ledger in FOLDER: its chains, its head witness, its tables against a rebuild."""
    with _progress("Checking", quiet=as_json) as step:
        report = verify_folder(folder, lambda done, of: step(done, of, ""))
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
            lines.append(f"Fine: {report.events} events fit their chains, the witness and the tables. {heads}.")
        click.echo("\n".join(lines))
    sys.exit(ExitCode.FINE if report.fine else ExitCode.FOUND)


@main.command()
@click.argument("folder", type=FOLDER)
def rebuild(folder: Path) -> None:
    """Make the tables in FOLDER again from the ledger; the ledger itself is not touched."""
    with _progress("Making the tables again") as step:
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


def _course_view(ledger: Any, title: str | None) -> CourseView:
    courses = centre(ledger).courses
    if not courses:
        raise NotFoundError("This centre has no course yet. Make one on the People page: course open FOLDER")
    fits = [c for c in courses if title is None or title.casefold() in (c.title.casefold(), c.id)]
    if not fits:
        raise NotFoundError(f"There is no course {title!r}. There are: {', '.join(c.title for c in courses)}.")
    return view(ledger, fits[0].id)


def _day(seen: CourseView, text: str | None) -> date:
    if text is None:
        return seen.usual_day
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is no day like 2026-10-25.", param_hint="--as-of") from None


class _progress:  # noqa: N801 - reads as a verb where it is used
    """A progress bar on standard error, so that standard output stays the result."""

    def __init__(self, label: str, *, quiet: bool = False) -> None:
        self.label, self.quiet, self.done = label, quiet, 0
        self.bar: Any = None

    def __enter__(self) -> Callable[[int, int, str], None]:
        return self.step

    def step(self, done: int, of: int, what: str) -> None:
        """Move the bar on to `done` of `of`."""
        if self.quiet:
            return
        if self.bar is None:
            self.bar = click.progressbar(length=of, label=self.label, file=sys.stderr, item_show_func=lambda w: w)
            self.bar.__enter__()
        self.bar.length = of
        self.bar.update(max(0, done - self.done), what or None)
        self.done = done

    def __exit__(self, *error: Any) -> None:
        if self.bar is not None:
            self.bar.__exit__(*error)
