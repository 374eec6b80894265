"""Read a paper back: from its PDF with the data inside, from a picture of its square code, or from what was typed.

Nothing here needs a network. The file that the data came in is compared with what was printed, byte for byte.
"""

from __future__ import annotations

import base64
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from course.answers.paper_verdict import FileState, Shown
from course.errors import NotFoundError, RefusedError
from course.paper.attachment import attached, own_data
from course.record.paper_code import PREFIX, PaperCode, read_paper_code
from course.record.paper_document import MEMBER, MOST_BYTES, PaperDocument, pages_of, read_document

MOST_FILE_BYTES = 40 * 2**20
_READER = str(Path(__file__).with_name("paper_reader.py"))
_SECONDS = 40
_TOO_MUCH = frozenset({3, -6, -9, -24})
"""How the reader ends where it meets a bound: by its own word, or by signals of Linux (no memory, killed, no time)."""
_LAST_BYTES = 1024
_MADE_HERE = b"/Creator (Loopledger)"
_UNREAD = (subprocess.SubprocessError, OSError, ValueError)
_NO_PICTURE = (
    "The file is no picture that can be read here (PNG, JPEG, WEBP, BMP, TIFF, GIF) and no PDF. Take another picture."
)
_TOO_LARGE = (
    "The picture is too large, or takes more time than any paper, as one does that was made to. Take one of the square "
    "code alone."
)


def read_paper_file(file: Path) -> Shown:
    """Read a paper from its PDF or from a picture; errors as in `read_paper`.

    Raises:
        NotFoundError: there is no such file.
    """
    try:
        if file.stat().st_size > MOST_FILE_BYTES:
            raise RefusedError(f"{file.name} is larger than {MOST_FILE_BYTES // 2**20} MB: no paper is.")
        return read_paper(file.read_bytes())
    except OSError as error:
        raise NotFoundError(f"{file} cannot be read ({error.strerror}). Name a PDF or a picture of a paper.") from error


def is_paper_file(file: Path) -> bool:
    """Whether a file begins as a PDF or a picture does."""
    try:
        with file.open("rb") as source:
            start = source.read(16)
    except OSError:
        return False
    return start.startswith(b"%PDF") or _begins_as_picture(start)


def _begins_as_picture(content: bytes) -> bool:
    signs = (b"\x89PNG", b"\xff\xd8\xff", b"BM", b"II*\0", b"MM\0*", b"GIF8")
    return content.startswith(signs) or content[8:12] == b"WEBP"


def read_paper(content: bytes) -> Shown:
    """Read a paper from the bytes of its PDF or of a picture.

    Raises:
        RefusedError: it is neither, or no paper's code can be read from it.
    """
    if len(content) > MOST_FILE_BYTES:
        raise RefusedError(f"The file is larger than {MOST_FILE_BYTES // 2**20} MB: no paper is.")
    return _of_pdf(content) if content[:1024].lstrip().startswith(b"%PDF") else Shown(_of_picture(content))


def _of_pdf(content: bytes) -> Shown:
    data = own_data(content, MOST_BYTES)
    if data is not None:
        document = read_document(data)
        if _state(content, document) is FileState.AS_PRINTED:
            return Shown(read_paper_code(document.code), document, FileState.AS_PRINTED, content=content)
    found = read_apart(content, MEMBER, str(MOST_BYTES))
    data, codes = found["data"], found["codes"]
    if data is None:
        return Shown(_only(codes, torn=False), file=FileState.WITHOUT_DATA if _MADE_HERE in content else None)
    document = read_document(base64.b64decode(data))
    page_code = _only(codes, torn=False) if any(text.startswith(PREFIX) for text in codes) else None
    return Shown(read_paper_code(document.code), document, _state(content, document), page_code, content)


def read_apart(content: bytes, *asked: str) -> dict[str, Any]:
    """Return what any PDF holds, read in a process of its own: it may be made to fill the memory, or never to end.

    Raises:
        RefusedError: it cannot be read.
    """
    try:
        return _read_apart(content, *asked)
    except _UNREAD as error:
        raise RefusedError(f"{_why_unread(content, error)} Take its square code or type the rows beside it.") from error


def _read_apart(content: bytes, *asked: str) -> dict[str, Any]:
    command = [sys.executable, "-P", _READER, *asked]
    done = subprocess.run(command, input=content, capture_output=True, check=True, timeout=_SECONDS)  # noqa: S603
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def _is_too_much(error: Exception) -> bool:
    out_of_bounds = isinstance(error, subprocess.CalledProcessError) and error.returncode in _TOO_MUCH
    return out_of_bounds or isinstance(error, subprocess.TimeoutExpired)


def _why_unread(content: bytes, error: Exception) -> str:
    if isinstance(error, subprocess.TimeoutExpired):
        return "The PDF cannot be read: it takes more time than any paper, as a file does that was made to."
    if _is_too_much(error):
        return "The PDF cannot be read: it holds too much, as a file does that was made to fill the memory."
    if b"%%EOF" not in content[-_LAST_BYTES:]:
        return "The PDF was cut: its end is missing."
    return "The PDF cannot be read: it is damaged, though its end is there, or is locked with a password."


def _state(content: bytes, document: PaperDocument) -> FileState:
    printed = content[: document.pages.bytes]
    if pages_of(printed) != document.pages:
        return FileState.CHANGED
    try:
        whole = attached(printed, MEMBER, document.written())
    except ValueError:
        return FileState.CHANGED
    return FileState.AS_PRINTED if whole == content else FileState.ADDED_TO


def _of_picture(content: bytes) -> PaperCode:
    if not _begins_as_picture(content):
        raise RefusedError(_NO_PICTURE)
    try:
        found = _read_apart(content, "picture")
    except _UNREAD as error:
        raise RefusedError(_TOO_LARGE if _is_too_much(error) else _NO_PICTURE) from error
    return _only(found["codes"], torn=found["torn"])


def _only(codes: list[str], *, torn: bool) -> PaperCode:
    """The one paper's code among all square codes that were read."""
    papers = {text for text in codes if text.startswith(PREFIX)}
    if len(papers) > 1:
        raise RefusedError("There are the square codes of several papers in it. Show one paper at a time.")
    if papers:
        return read_paper_code(papers.pop())
    if codes:
        raise RefusedError(
            "The square code in it is no paper's: it is that of a sheet for the water, or of something else. Show the "
            "one at the end of the paper."
        )
    if torn:
        raise RefusedError(
            "A square code is in it, but a part of that is torn off, covered or blurred. If it is whole, take the "
            "picture anew, from straight above and in even light; else type the rows beside it."
        )
    raise RefusedError(
        "No square code is seen in it. Take a picture from straight above, all four corners in view and in even "
        "light; or type the rows beside it."
    )
