"""Every error that a person can meet; each says what is wrong, what to do and what was kept.

CourseError
+- RefusedError      an act that cannot be done as asked; nothing was changed
|  +- ConflictError  the same id came with other content
|  +- OtherNameError somebody would act in another's name
|  +- SignedOutError nobody is signed in where somebody has to be
+- NotFoundError     a thing that was named is not there
+- StandardsError    rubric files that cannot be used (carries every problem found)
+- StorageError      the folder, the disk or the database: NOT saved
|  +- AfterSavingError  something was saved all the same, and then this
|  +- BusyError      another program holds the folder
|  +- DamageError    the ledger, its tail or its tables are not what they were
+- PaperError        a paper that cannot be printed as asked
"""

from __future__ import annotations

import traceback
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path
from typing import Any


class ExitCode(IntEnum):
    """What a command returns to the shell; also documented in the README."""

    FINE = 0
    FOUND = 1  # the command ran and what it looks for is there: damage, faulty rubrics, something missing
    USAGE = 2  # the command line itself is wrong (set by the command line library)
    REFUSED = 3
    NOT_FOUND = 4
    STORAGE = 5
    PAPER = 6
    BROKEN = 7  # the program itself went wrong
    BROKEN_OFF = 130  # Ctrl-C, as shells tell it


class CourseError(Exception):
    """Base of all errors for people: its text is a whole sentence."""

    exit_code = ExitCode.REFUSED

    @property
    def sentence(self) -> str:
        """The text to show, as it stands."""
        return str(self)

    @property
    def not_saved(self) -> str:
        """The text to show where something was to be saved; that it was not is said once."""
        return self.sentence if self.sentence.startswith("NOT saved") else f"NOT saved: {self.sentence}"


class RefusedError(CourseError):
    """Something that cannot be done as asked; nothing was changed."""


class ConflictError(RefusedError):
    """An id that is in the ledger already came again with other content."""


class OtherNameError(RefusedError):
    """Somebody who is signed in would act in the name of somebody else."""


class SignedOutError(RefusedError):
    """Nobody is signed in, or the session ended, where somebody has to be."""


class NotFoundError(CourseError):
    """A person, course, skill, attempt or file that was named is not there."""

    exit_code = ExitCode.NOT_FOUND


class StorageError(CourseError):
    """Folder, disk or database would not take or give the data. What was being saved is NOT saved."""

    exit_code = ExitCode.STORAGE


class AfterSavingError(StorageError):
    """A fault that came when what was to be saved was saved, at least in part: it never reads as NOT saved."""

    @property
    def not_saved(self) -> str:
        """The text as it stands: it says what was saved."""
        return self.sentence


class BusyError(StorageError):
    """Another running program holds this centre's folder."""


class DamageError(StorageError):
    """The ledger does not fit its own chain, its witness or its tables."""


class PaperError(CourseError):
    """A paper that cannot be printed as asked; no file was written."""

    exit_code = ExitCode.PAPER


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong in one rubric file, with its place and the way out.

    Lines and columns count from 1; line 0 stands for the whole file.
    """

    file: str
    line: int
    column: int
    field: str
    wrong: str
    remedy: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        where = f" {self.field}:" if self.field else ""
        return f"{place}:{where} {self.wrong} {self.remedy}".rstrip()


class StandardsError(CourseError):
    """Rubric files that cannot be used; nothing was loaded from the folder."""

    exit_code = ExitCode.FOUND

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems)
        count = len(self.problems)
        head = f"{count} problem{'s' if count != 1 else ''} in the rubric files. Nothing was loaded."
        super().__init__("\n".join([head, *map(str, self.problems)]))


# --- errors that nobody foresaw -------------------------------------------------------------------------------------

_FRAMES, _CAUSES = 8, 5


def fault_of(error: BaseException) -> dict[str, Any]:
    """Return kind and place of an error without its text, which may repeat what somebody typed.

    `error` holds its kind and those of the errors behind it, `at` the last places in the program, the innermost last.
    """
    kinds: list[str] = []
    one: BaseException | None = error
    while one is not None and len(kinds) < _CAUSES:
        kinds.append(type(one).__name__)
        one = one.__cause__ or one.__context__
    frames = traceback.extract_tb(error.__traceback__)[-_FRAMES:]
    return {"error": kinds, "at": [f"{end_of_path(frame.filename)}:{frame.lineno} {frame.name}" for frame in frames]}


def end_of_path(file: str) -> str:
    """Return the last three parts of a path: where the program lies may name its owner."""
    return "/".join(Path(file).parts[-3:])
