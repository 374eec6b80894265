"""Many papers at once: one file for each person, each whole or not there; one that fails does not stop the others.

They go into a folder, or into one zip. No file's name tells whose it is, since names of files are seen by more people
than the files are: `contents.txt` beside them does.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from course.errors import CourseError, PaperError
from course.paper.fonts import NOTHING_PRINTED
from course.paper.writing import write_paper
from course.words import plural

CONTENTS = "contents.txt"
Step = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Batch:
    """What came of a batch."""

    files: tuple[tuple[Path, int], ...]
    """Each file with its pages."""
    failed: tuple[str, ...]
    """Whose paper was not printed, and why."""
    names: tuple[str, ...] = ()
    """Whose each file is."""

    def contents(self) -> str:
        """Whose each file is, and whose paper was not printed: a line each."""
        lines = [f"{path.name}  {name}" for (path, _), name in zip(self.files, self.names, strict=True)]
        return "\n".join([*lines, *(f"not printed  {one}" for one in self.failed), ""])

    def text(self) -> str:
        """What was printed, and what was not."""
        pages = sum(count for _, count in self.files)
        lines = [
            f"{path}: {name}, {plural(count, 'page')}"
            for (path, count), name in zip(self.files, self.names, strict=True)
        ]
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
        PaperError: the folder cannot be made, or `contents.txt` in it not be written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        wrong = f'There can be no folder "{folder}" ({error.strerror}).'
        raise PaperError(f"{wrong} Choose another one. Nothing was printed.") from error

    def one(number: int, person: str) -> tuple[Path, int]:
        path = folder / f"{number:03}-{kind}.pdf"
        return path, printing(person, path)

    batch = _one_by_one(people, one, step)
    write_paper(batch.contents().encode(), folder / CONTENTS)
    return batch


def zip_batch(
    people: Sequence[tuple[str, str]],
    kind: str,
    out: BinaryIO,
    printing: Callable[[str, BinaryIO], int],
    step: Step,
) -> Batch:
    """Print one kind of paper of several people into one zip; only the paper that is being printed is in memory.

    The same papers make the same bytes.

    Args:
        people, kind, step: as for `print_batch`.
        out: where the zip is written to.
        printing: prints the paper of one person to a file in memory and returns its pages.
    """
    with zipfile.ZipFile(out, "w") as packed:

        def one(number: int, person: str) -> tuple[Path, int]:
            paper = io.BytesIO()
            pages = printing(person, paper)
            path = Path(f"{number:03}-{kind}.pdf")
            packed.writestr(zipfile.ZipInfo(path.name), paper.getvalue())
            return path, pages

        batch = _one_by_one(people, one, step)
        packed.writestr(zipfile.ZipInfo(CONTENTS), batch.contents())
    return batch


def _one_by_one(
    people: Sequence[tuple[str, str]], printing: Callable[[int, str], tuple[Path, int]], step: Step
) -> Batch:
    """Print person by person; who cannot be printed is named and stops nobody else's."""
    files: list[tuple[Path, int]] = []
    names, failed = [], []
    for number, (person, name) in enumerate(people, 1):
        step(number - 1, len(people), name)
        try:
            files.append(printing(number, person))
            names.append(name)
        except CourseError as error:
            failed.append(f"{name}: {error}".removesuffix(NOTHING_PRINTED).rstrip())  # of the others something was
        step(number, len(people), "")
    return Batch(tuple(files), tuple(failed), tuple(names))
