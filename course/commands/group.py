"""What all commands share: the group, errors for people, options, the course that is meant, a progress bar."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click

from course.answers.centre_answer import centre
from course.answers.course_view import CourseView, view
from course.errors import CourseError, ExitCode, NotFoundError, fault_of
from course.storage.after_saving import told_after_saving

_F = TypeVar("_F", bound=Callable[..., Any])
FOLDER = click.Path(path_type=Path, file_okay=False)
FILE = click.Path(path_type=Path, dir_okay=False)
DATABASE = (
    "Keep the ledger in this PostgreSQL database, such as postgresql+psycopg://user@host/database, instead of a file. "
    "Keep its password in PostgreSQL's own password file (~/.pgpass), not in the URL. All else stays in FOLDER."
)


TRACE = "LOOPLEDGER_TRACE"
"""Environment variable of those who work on the program: with it an error is told whole, whatever is in its text."""


class Group(click.Group):
    """Tells errors for people on standard error and ends with their exit code."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command."""
        try:
            with told_after_saving():
                return super().invoke(ctx)
        except CourseError as error:
            click.echo(error.sentence, err=True)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            click.echo(
                "Broken off (Ctrl-C). What was saved before is kept. Look whether it is there; where it is not, do it "
                "again.",
                err=True,
            )
            ctx.exit(ExitCode.BROKEN_OFF)
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except Exception as error:
            if os.environ.get(TRACE):
                raise
            told = fault_of(error)
            click.echo(
                f"The program itself went wrong: {' after '.join(told['error'])} at {'; '.join(told['at'][-3:])}. What "
                "was saved before is kept. Nothing personal is in this line: please report it.",
                err=True,
            )
            ctx.exit(ExitCode.BROKEN)

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


def as_json_option(function: _F) -> _F:
    """Give a command the option --json."""
    return click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")(function)


def of_course(function: _F) -> _F:
    """Give a command the options --course and --as-of."""
    function = click.option("--course", "title", help="The course; the newest one unless named.")(function)
    return click.option(
        "--as-of", "day", help="As of this day (YYYY-MM-DD); else the course's last day, or today while it runs."
    )(function)


@click.group(cls=Group, context_settings={"help_option_names": ["-h", "--help"]})
def main() -> None:
    """Keep a centre's training courses: who holds which skill, who saw it, and what is missing.

    The tool proposes, the instructor decides, the agency certifies.
    """


def course_view(ledger: Any, title: str | None) -> CourseView:
    """Return the course that is meant; the newest one unless named.

    Raises:
        NotFoundError: there is no such course, or none at all.
    """
    courses = centre(ledger).courses
    if not courses:
        raise NotFoundError("This centre has no course yet. Make one on the People page: course open FOLDER")
    fits = [c for c in courses if title is None or title.casefold() in (c.title.casefold(), c.id)]
    if not fits:
        raise NotFoundError(f"There is no course {title!r}. There are: {', '.join(c.title for c in courses)}.")
    return view(ledger, fits[0].id)


def day_asked(seen: CourseView, text: str | None) -> date:
    """Return the day that an answer is asked as of."""
    return seen.usual_day if text is None else date_of(text, "--as-of")


def date_of(text: str, option: str) -> date:
    """Read a day.

    Raises:
        BadParameter: it is none.
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is no day like 2026-10-25.", param_hint=option) from None


class Progress:
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
