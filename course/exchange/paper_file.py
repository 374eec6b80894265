"""Read a paper back: from its PDF with the data inside, from a picture of its square code, or from what was typed.

Nothing here needs a network. The file that the data came in is compared with what was printed, byte for byte.
"""

from __future__ import annotations

import base64
import io
import json
import subprocess
import sys
from pathlib import Path

import zxingcpp
from PIL import Image

from course.answers.paper_check import FileState, Shown
from course.errors import NotFoundError, RefusedError
from course.paper.attachment import attached, own_data
from course.record.paper_code import PREFIX, PaperCode, read_paper_code
from course.record.paper_document import MEMBER, MOST_BYTES, PaperDocument, pages_of, read_document

MOST_FILE_BYTES = 40 * 2**20
_MOST_PIXELS = 60_000_000
_READER = str(Path(__file__).with_name("paper_reader.py"))
_SECONDS = 40
_KINDS = ("PNG", "JPEG", "WEBP", "BMP", "TIFF", "GIF")


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
    pictures = (b"\x89PNG", b"\xff\xd8\xff", b"BM", b"II*\0", b"MM\0*", b"GIF8")
    return start.startswith((b"%PDF", *pictures)) or start[8:12] == b"WEBP"


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
            return Shown(read_paper_code(document.code), document, FileState.AS_PRINTED)
    data, codes = _read_apart(content)
    if data is None:
        return Shown(_only(codes))
    document = read_document(data)
    return Shown(read_paper_code(document.code), document, _state(content, document), _only(codes) if codes else None)


def _read_apart(content: bytes) -> tuple[bytes | None, list[str]]:
    """What any PDF holds, read in a process of its own: it may be made to fill the memory, or never to end."""
    asked = [sys.executable, "-P", _READER, MEMBER, str(MOST_BYTES)]
    try:
        done = subprocess.run(asked, input=content, capture_output=True, check=True, timeout=_SECONDS)  # noqa: S603
        found = json.loads(done.stdout)
    except (subprocess.SubprocessError, OSError, ValueError) as error:
        raise RefusedError(
            "The PDF cannot be read: it was cut or damaged, or holds too much. Take its square code or type the rows "
            "beside it."
        ) from error
    codes = [text for text in found["codes"] if text.startswith(PREFIX)]
    return (base64.b64decode(found["data"]) if found["data"] is not None else None), codes


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
    try:
        picture = Image.open(io.BytesIO(content), formats=_KINDS)
        if picture.width * picture.height > _MOST_PIXELS:
            raise RefusedError("The picture is too large. Take one of the square code alone.")
        codes = _codes(picture.convert("L"))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise RefusedError(
            f"The file is no picture that can be read here ({', '.join(_KINDS)}) and no PDF. Take another picture."
        ) from error
    return _only(codes)


def _codes(picture: Image.Image) -> list[str]:
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    return [one.text for one in found if one.text.startswith(PREFIX)]


def _only(codes: list[str]) -> PaperCode:
    if not codes:
        raise RefusedError(
            "No paper's square code can be read in it. Take a picture from straight above, all four corners in view "
            "and in even light; or type the rows beside it."
        )
    if len(set(codes)) > 1:
        raise RefusedError("There are the square codes of several papers in it. Show one paper at a time.")
    return read_paper_code(codes[0])
