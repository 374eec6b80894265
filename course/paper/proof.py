"""The proof at the end of a paper: its code as a square code and in letters, and its own data as a file within the PDF.

Any paper gets both from `print_paper`, once its sheet holds the frozen answer that it prints.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

import zxingcpp
from reportlab.lib.units import mm

from course.answers.paper_data import head_of, plain_of
from course.answers.record_answer import LedgerHead
from course.paper.attachment import attached
from course.record.centre_key import grouped, key_id
from course.record.paper_code import GROUP, PaperCode
from course.record.paper_document import MEMBER, PaperDocument, Place, pages_of, says_hash, signed_document
from course.storage.centre_key import SigningKey

QR_SIDE = 30 * mm
_DARK = 0


@dataclass(frozen=True)
class Proof:
    """A paper's code and data."""

    code: PaperCode
    head: LedgerHead
    asked: Mapping[str, str]
    says: Any
    key: SigningKey | None

    def put_into(self, pdf: bytes) -> bytes:
        """Return the finished PDF with the paper's data in it."""
        head = self.head
        document = PaperDocument(
            paper=self.code.paper,
            asked=dict(self.asked),
            says=self.says,
            ledger=Place(centre=head.centre, chain=self.code.chain, seq=head.seq, hash=head.hash),
            code=self.code.text(),
            pages=pages_of(pdf),
        )
        signed = signed_document(document, self.key.sign if self.key else None)
        return attached(pdf, MEMBER, signed.written())


def prove(paper: str, answer: Any, asked: Mapping[str, str], key: SigningKey | None) -> Proof:
    """Return the proof of a paper.

    Args:
        paper: which paper it is, plain letters.
        answer: the frozen answer that it prints, or several; the first says where the ledger stood.
        asked: what the answer was asked about, by ids and days, so that it can be asked again; `as_of` is its day.
        key: the centre's; None: the paper says that it is not signed.
    """
    says, head = plain_of(answer), head_of(answer)
    code = PaperCode(
        paper=paper,
        day=asked.get("as_of", ""),
        says=says_hash(paper, asked, says),
        chain=head.chain,
        seq=head.seq,
        head=head.hash,
        key=key_id(key.public) if key else "",
    )
    if key:
        code = replace(code, signature=key.sign(code.signed_bytes()))
    return Proof(code, head, asked, says, key)


def proof_lines(code: PaperCode) -> tuple[str, ...]:
    """Return the code's rows in groups of five, to be typed."""
    return tuple(grouped(row, GROUP) for row in code.rows())


def proof_note(proof: Proof) -> str:
    """Return what the code is and how it is checked, in sentences."""
    key = proof.code.key
    signed = (
        f"Signed with the centre's key {grouped(key)}: compare its fingerprint with the centre, never with this page."
        if key
        else "Not signed: the centre had no key here when this was printed."
    )
    return (
        f"{signed} Check it with course check or on the page Check a paper: the square code, these rows, or this file "
        f"with its data in it ({MEMBER}). It shows what the ledger said and certifies nobody."
    )


def draw_square_code(canvas: Any, text: str, x: float, top: float, side: float = QR_SIDE) -> None:
    """Draw a square code with its upper edge at `top`, in the canvas's own colour."""
    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    picture: Any = zxingcpp.write_barcode_to_image(made, scale=1, add_quiet_zones=False)
    dots: Any = memoryview(picture).tolist()
    square = side / len(dots)
    # Drawn here, as one path: ReportLab's own drawing of a widget brings in a typeface that is not embedded.
    path = canvas.beginPath()
    for row, line in enumerate(dots):
        column, low = 0, top - (row + 1) * square
        for is_dark, run in groupby(dot == _DARK for dot in line):
            count = len(list(run))
            if is_dark:
                path.rect(x + column * square, low, count * square, square)
            column += count
    canvas.drawPath(path, stroke=0, fill=1)
