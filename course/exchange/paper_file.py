"""Read a paper back: from its PDF with the data inside, from a picture of its square code, or from what was typed.

Nothing here needs a network. The file that the data came in is compared with what was printed, byte for byte.
"""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

import pypdfium2 as pdfium
import zxingcpp
from PIL import Image

from course.answers.paper_check import FileState, Shown
from course.errors import NotFoundError, RefusedError
from course.paper.attachment import attached
from course.record.paper_code import PREFIX, PaperCode, read_paper_code
from course.record.paper_document import MEMBER, MOST_BYTES, PaperDocument, pages_of, read_document

MOST_FILE_BYTES = 40 * 2**20
_MOST_PIXELS = 100_000_000
_DOTS_PER_INCH = 200
_MOST_PAGES, _MOST_SIDE = 300, 4000
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
    try:
        with contextlib.closing(pdfium.PdfDocument(content)) as pdf:
            data = _data_in(pdf)
            if data is None:
                return Shown(_only(_on_pages(pdf)))
            document = read_document(data)
            code, state = read_paper_code(document.code), _state(content, document)
            on_pages = [] if state is FileState.AS_PRINTED else _on_pages(pdf)
            return Shown(code, document, state, _only(on_pages) if on_pages else None)
    except pdfium.PdfiumError as error:
        raise RefusedError(
            "The PDF cannot be read: it was cut or damaged. Take its square code or type the rows beside it."
        ) from error


def _data_in(pdf: pdfium.PdfDocument) -> bytes | None:
    for place in range(pdf.count_attachments()):
        one = pdf.get_attachment(place)
        if one.get_name() == MEMBER:
            data = bytes(one.get_data())
            if len(data) > MOST_BYTES:
                raise RefusedError("The data in the PDF are larger than a paper's are. Nothing was read.")
            return data
    return None


def _state(content: bytes, document: PaperDocument) -> FileState:
    printed = content[: document.pages.bytes]
    if pages_of(printed) != document.pages:
        return FileState.CHANGED
    try:
        whole = attached(printed, MEMBER, document.written())
    except ValueError:
        return FileState.CHANGED
    return FileState.AS_PRINTED if whole == content else FileState.ADDED_TO


def _on_pages(pdf: pdfium.PdfDocument) -> list[str]:
    """The square codes on the last page that has any: a paper ends with its own."""
    for number in reversed(range(min(len(pdf), _MOST_PAGES))):
        page = pdf[number]
        scale = min(_DOTS_PER_INCH / 72, _MOST_SIDE / max(page.get_size()))
        if codes := _codes(page.render(scale=scale).to_pil()):
            return codes
    return []


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
