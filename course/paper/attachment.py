"""A file put into a finished PDF, after its last byte: an incremental update, so that no byte of the pages changes.

Source: ISO 32000-1, 7.5.6 (incremental updates), 7.11.4 (embedded files); ISO 32000-2, 14.13 (associated files, with
the relationship Source: the file is what the pages were made from). Written here and not with a library, so that the
same paper and data are the same bytes whatever version of a library is installed, and can be compared years later.
"""

from __future__ import annotations

import re
import zlib

_OWN = re.compile(
    rb"<< /Type /EmbeddedFile /Subtype /application#2Fjson /Filter /FlateDecode /Length (\d{1,9}) "
    rb"/Params << /Size (\d{1,9}) >> >>\nstream\n"
)
_TRAILER = re.compile(rb"trailer\s*<<(.{0,2000}?)>>\s*startxref\s+(\d{1,10})\s+%%EOF\s*$", re.DOTALL)
_CATALOGUE = re.compile(rb"\s*(<<.{0,4000}?)>>\s*endobj", re.DOTALL)
"""Both are looked for at one place, and within bounds: a file may be made so that a search in it never ends."""


def attached(pdf: bytes, name: str, content: bytes) -> bytes:
    """Return a PDF of ours with a JSON file in it.

    Args:
        pdf: as ReportLab wrote it: one cross-reference table, one catalogue that names no files yet.
        name: the file's name, plain letters.
        content: the file.

    Raises:
        ValueError: it is no such PDF.
    """
    found = _TRAILER.match(pdf, max(0, pdf.rfind(b"trailer")))
    if not found:
        raise ValueError("no trailer")
    root, size = _number(rb"/Root (\d+) 0 R", found[1]), _number(rb"/Size (\d+)", found[1])
    keeps = b" ".join(re.findall(rb"/Info \d+ 0 R|/ID\s*\[.*?\]", found[1], re.DOTALL))
    packed = zlib.compress(content, 9)
    stream = (
        f"/Type /EmbeddedFile /Subtype /application#2Fjson /Filter /FlateDecode /Length {len(packed)} "
        f"/Params << /Size {len(content)} >>"
    )
    names = f"({name}) {size + 1} 0 R"
    catalogue = f" /Names << /EmbeddedFiles << /Names [ {names} ] >> >> /AF [ {size + 1} 0 R ] >>"
    objects = {
        root: _catalogue(pdf, root) + catalogue.encode(),
        size: f"<< {stream} >>\nstream\n".encode() + packed + b"\nendstream",
        size + 1: (
            f"<< /Type /Filespec /F ({name}) /UF ({name}) /AFRelationship /Source /Desc (What this paper says) "
            f"/EF << /F {size} 0 R /UF {size} 0 R >> >>"
        ).encode(),
    }
    trailer = f"<< /Size {size + 2} /Root {root} 0 R /Prev {int(found[2])} ".encode() + keeps + b" >>"
    return _updated(pdf, objects, trailer)


def own_data(pdf: bytes, most: int) -> bytes | None:
    """Return the file that `attached` put last into a PDF, None where that is not there in our form or is too long."""
    last = list(_OWN.finditer(pdf))[-1:]
    if not last or int(last[0][2]) > most:
        return None
    found = last[0]
    packed = pdf[found.end() : found.end() + int(found[1])]
    try:
        content = zlib.decompressobj().decompress(packed, most)
    except zlib.error:
        return None
    return content if len(content) == int(found[2]) else None


def _updated(pdf: bytes, objects: dict[int, bytes], trailer: bytes) -> bytes:
    """Write objects, their cross-reference table and a trailer behind the last byte."""
    whole = bytearray(pdf if pdf.endswith(b"\n") else pdf + b"\n")
    table = bytearray(b"xref\n")
    for number, body in sorted(objects.items()):
        table += f"{number} 1\n{len(whole):010d} 00000 n \n".encode()
        whole += f"{number} 0 obj\n".encode() + body + b"\nendobj\n"
    start = len(whole)
    whole += table + b"trailer\n" + trailer + f"\nstartxref\n{start}\n%%EOF\n".encode()
    return bytes(whole)


def _catalogue(pdf: bytes, root: int) -> bytes:
    """The catalogue's dictionary without its closing signs."""
    head = b"\n%d 0 obj" % root
    found = _CATALOGUE.match(pdf, pdf.find(head) + len(head)) if head in pdf else None
    if not found or b"/Names" in found[1]:
        raise ValueError("no catalogue")
    return found[1].rstrip()


def _number(pattern: bytes, text: bytes) -> int:
    found = re.search(pattern, text)
    if not found:
        raise ValueError("no catalogue")
    return int(found[1])
