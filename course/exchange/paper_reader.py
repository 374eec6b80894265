"""Read what a PDF holds in a process of its own, with bounds: whatever a PDF is made to do, the program goes on.

It is run by its path with the PDF on standard input: attachment's name and the most bytes of it as arguments. It writes
one line of JSON: the attachment in base64, or null, and the square codes on the last page that has any. With `pages` as
its only argument it writes of each page its words, and how it looks in grey, packed; with `picture` what square codes
are in a picture, and whether a torn one is. It ends with 3 if it is too much, with another code if it cannot be read.
"""

from __future__ import annotations

import base64
import contextlib
import io
import json
import os
import sys
import zlib
from typing import Any

_TOO_MUCH = 3
_MEMORY_BYTES = 1_500_000_000
_SECONDS = 20
_DOTS_PER_INCH = 200
_DOTS_LOOKED_AT, _SIDE_LOOKED_AT, _PAGES_LOOKED_AT, _WORDS_LOOKED_AT = 100, 1300, 80, 4000
_MOST_PAGES, _MOST_SIDE = 30, 4000
_MOST_PIXELS = 60_000_000
_PICTURES = ("PNG", "JPEG", "WEBP", "BMP", "TIFF", "GIF")


def main() -> None:
    """Read, and write what was found; any error ends the process with another code than 0."""
    with contextlib.suppress(ImportError):  # Windows has no such bounds; the caller's own time holds there too
        import resource  # noqa: PLC0415

        resource.setrlimit(resource.RLIMIT_AS, (_MEMORY_BYTES, _MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CPU, (_SECONDS, _SECONDS))
    try:
        found = (_picture if sys.argv[1] == "picture" else _pdf)(sys.stdin.buffer.read())
    except (MemoryError, OverflowError):
        sys.exit(_TOO_MUCH)
    sys.stdout.write(json.dumps(found))


def _pdf(content: bytes) -> dict[str, Any]:
    import pypdfium2 as pdfium  # noqa: PLC0415 - only under the bounds

    with contextlib.closing(pdfium.PdfDocument(content)) as pdf:
        return {"pages": _pages(pdf)} if sys.argv[1] == "pages" else _found(pdf, sys.argv[1], int(sys.argv[2]))


def _picture(content: bytes) -> dict[str, Any]:
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # each of many would ask for memory of its own, past the bound
    import zxingcpp  # noqa: PLC0415
    from PIL import Image  # noqa: PLC0415

    from course.exchange.paper_torn import has_a_corner  # noqa: PLC0415

    picture = Image.open(io.BytesIO(content), formats=_PICTURES)
    if picture.width * picture.height > _MOST_PIXELS:
        raise OverflowError
    grey = picture.convert("L")
    found = zxingcpp.read_barcodes(grey, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    return {"codes": [one.text for one in found], "torn": not found and has_a_corner(grey)}


def _found(pdf: Any, name: str, most: int) -> dict[str, Any]:
    data = _attachment(pdf, name, most)
    return {"data": data and base64.b64encode(data).decode(), "codes": _codes(pdf)}


def _pages(pdf: Any) -> list[dict[str, Any]]:
    """Every page's size in points, its words, and its picture in grey as a reader draws it, notes on it too."""
    if len(pdf) > _PAGES_LOOKED_AT:
        raise OverflowError
    told = []
    for number in range(len(pdf)):
        page = pdf[number]
        width, height = page.get_size()
        scale = min(_DOTS_LOOKED_AT / 72, _SIDE_LOOKED_AT / max(width, height))
        picture, words = page.render(scale=scale).to_pil().convert("L"), page.get_textpage().get_text_bounded().split()
        if len(words) > _WORDS_LOOKED_AT:
            raise OverflowError
        told.append(
            {
                "size": [width, height],
                "words": words,
                "shape": picture.size,
                "grey": base64.b64encode(zlib.compress(picture.tobytes())).decode(),
            }
        )
    return told


def _attachment(pdf: Any, name: str, most: int) -> bytes | None:
    for place in range(pdf.count_attachments()):
        one = pdf.get_attachment(place)
        if one.get_name() == name:
            data = bytes(one.get_data())
            if len(data) > most:
                raise OverflowError(name)
            return data
    return None


def _codes(pdf: Any) -> list[str]:
    """The square codes on the last page that has any: a paper ends with its own."""
    import zxingcpp  # noqa: PLC0415

    kinds = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
    for number in range(len(pdf) - 1, max(-1, len(pdf) - 1 - _MOST_PAGES), -1):
        page = pdf[number]
        scale = min(_DOTS_PER_INCH / 72, _MOST_SIDE / max(page.get_size()))
        found = zxingcpp.read_barcodes(page.render(scale=scale).to_pil(), formats=kinds)
        if texts := [one.text for one in found]:
            return texts
    return []


if __name__ == "__main__":
    main()
