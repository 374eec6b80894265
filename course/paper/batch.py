"""Many papers at once: one file for each person, each whole or not there; one that fails does not stop the others."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from course.errors import CourseError, PaperError
from course.words import plural

_LONGEST_NAME = 120
"""Bytes of a name in a file's name: file systems take 255 in all."""
Step = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Batch:
    """What came of a batch."""

    files: tuple[tuple[Path, int], ...]
    """Each file with its pages."""
    failed: tuple[str, ...]
    """Whose paper was not printed, and why."""

    def text(self) -> str:
        """What was printed, and what was not."""
        pages = sum(count for _, count in self.files)
        lines = [f"{path}: {plural(count, 'page')}" for path, count in self.files]
        lines.append(f"{plural(len(self.files), 'paper')}, {plural(pages, 'page')}.")
        return "\n".join([*lines, *(f"Not printed: {one}" for one in self.failed)])


def print_batch(
    people: Sequence[tuple[str, str]], kind: str, folder: Path, printing: Callable[[str, Path], int], step: Step
) -> Batch:
    """Print one kind of paper of several people into a folder, one after another: only one is ever in memory.

    Args:
        people: id and name, in the order of the numbers in the files' names.
        kind: what the files' names begin with after their number.
        folder: where to; it is made where there is none.
        printing: prints the paper of one person to a path and returns its pages.
        step: told how many of how many are done, and whose is next.

    Raises:
        PaperError: the folder cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        wrong = f'There can be no folder "{folder}" ({error.strerror}).'
        raise PaperError(f"{wrong} Choose another one. Nothing was printed.") from error
    files, failed = [], []
    for number, (person, name) in enumerate(people, 1):
        step(number - 1, len(people), name)
        path = folder / f"{number:03}-{kind}-{file_part(name)}.pdf"
        try:
            files.append((path, printing(person, path)))
        except CourseError as error:
            failed.append(f"{name}: {error}")
        step(number, len(people), "")
    return Batch(tuple(files), tuple(failed))


def file_part(name: str) -> str:
    """Return a name as part of a file's name: letters and digits of any script, all else a hyphen, never too long."""
    plain = "".join(sign if _is_kept(sign) else "-" for sign in unicodedata.normalize("NFC", name))
    short = "-".join(filter(None, plain.split("-"))).encode()[:_LONGEST_NAME].decode(errors="ignore")
    return short.strip("-") or "somebody"


def _is_kept(sign: str) -> bool:
    """Letters, digits and the marks that stand on letters."""
    return sign.isalnum() or unicodedata.category(sign).startswith("M")
