"""Rubric files on disk: a folder read whole, or refused whole with every problem at its line and column."""

from __future__ import annotations

from pathlib import Path

from course.errors import Problem, StandardsError
from course.standards.standards import Standards, examine, problem_of
from course.storage.yaml_text import EndOfReading, YamlText

LARGEST_FILE = 1_000_000
"""Bytes; the largest shipped file has a thirtieth of it."""


def read_folder(folder: Path) -> Standards:
    """Return the standards of a folder's rubric files.

    Every `*.yaml` file directly in the folder is read; hidden files and other folders are not.

    Raises:
        StandardsError: with every problem of every file, its line and column; nothing of the folder is used.
    """
    paths, problems = _files_of(folder)
    files: dict[str, YamlText] = {}
    for path in paths:
        try:
            files[path.name] = YamlText(path.name, _text_of(path, folder))
        except EndOfReading as end:
            problems.append(_end_of(path, end))
    problems += [_end_of(folder / name, file.end) for name, file in files.items() if file.end]
    written = {name: file.content for name, file in files.items() if not file.end}
    noted = [note for file in files.values() for note in file.flaws]
    standards, flaws = examine(written, whole=not problems, found=noted) if files else (None, noted)
    problems += [
        problem_of(flaw, written, *(files[flaw.file].place_of(flaw) if flaw.file else (0, 0))) for flaw in flaws
    ]
    if standards is None or problems:
        raise StandardsError(problems)
    return standards


def _files_of(folder: Path) -> tuple[list[Path], list[Problem]]:
    """Return the files to read, in the order of their names, and what stands in the way."""
    name_it = "Name the folder that holds the rubric files."
    try:
        entries = sorted(entry for entry in folder.iterdir() if not entry.name.startswith("."))
    except FileNotFoundError:
        return [], [Problem(str(folder), 0, 0, "", "There is no such folder.", name_it)]
    except NotADirectoryError:
        return [], [Problem(str(folder), 0, 0, "", "This is no folder.", name_it)]
    except OSError as error:
        return [], [
            Problem(str(folder), 0, 0, "", f"The folder cannot be read ({error.strerror}).", "Allow reading it.")
        ]
    named = [entry for entry in entries if entry.suffix.lower() in (".yaml", ".yml")]
    problems = [
        Problem(entry.name, 0, 0, "", f'The name ends in "{entry.suffix}".', f'Name it "{entry.stem}.yaml".')
        for entry in named
        if entry.suffix != ".yaml"
    ]
    problems += [
        Problem(ascii(entry.name), 0, 0, "", "The name holds other signs than plain letters and digits.", "Rename it.")
        for entry in named
        if not _is_plain(entry)
    ]
    if not named:
        wrong = "There are no rubric files in this folder."
        problems.append(Problem(str(folder), 0, 0, "", wrong, "Put at least one *.yaml file with skills in it."))
    return [entry for entry in named if entry.suffix == ".yaml" and _is_plain(entry)], problems


def _is_plain(entry: Path) -> bool:
    """Whether a file's name can be kept in the ledger, and be shown without steering whoever's terminal shows it."""
    return entry.name.isascii() and entry.name.isprintable()


def _text_of(path: Path, folder: Path) -> str:
    """Return the text of a file, looking no further than the folder and no longer than the limit."""
    try:
        if not path.resolve().is_relative_to(folder.resolve()):
            raise EndOfReading(0, 0, "This is a link to a file outside the folder.", "Put the file itself here.")
        if not path.is_file():
            raise EndOfReading(0, 0, "This is no file that can be read.", "Put a text file here, or rename this.")
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except (OSError, RuntimeError) as error:  # RuntimeError: before Python 3.13, a link that leads to itself
        why = getattr(error, "strerror", None) or "a link that leads to itself"
        raise EndOfReading(
            0, 0, f"The file cannot be read ({why}).", "Allow reading it, or put it here again."
        ) from None
    if len(content) > LARGEST_FILE:
        raise EndOfReading(0, 0, "The file is larger than 1 MB.", "Split it: one phase in one file.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8-sig", errors="ignore")
        raise EndOfReading.after(before, "The file is not UTF-8 here.", "Save it again as UTF-8.") from None


def _end_of(path: Path, end: EndOfReading) -> Problem:
    return Problem(path.name, end.line, end.column, "", end.wrong, end.remedy)
