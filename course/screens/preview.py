"""A paper as it prints, page by page on the screen: the very bytes that are downloaded."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

import pypdfium2 as pdfium
import streamlit as st

from course.answers.centre_keys import paper_key
from course.storage.ledger import Ledger

_SCALE = 1.6  # 115 dots an inch: small print stays readable on a tablet


def as_bytes(printing: Callable[..., int], ledger: Ledger, record: Any, size: str) -> bytes:
    """Print into memory, signed with the centre's key where it is here.

    Raises:
        PaperError: it cannot be printed as asked.
    """
    out = BytesIO()
    printing(record, out, size, paper_key(ledger))
    return out.getvalue()


def show(pdf: bytes) -> None:
    """Show every page of a PDF."""
    for number, picture in enumerate(_pictures(pdf), 1):
        told = f"Page {number} as it prints; its text is in the PDF"  # a picture says nothing to who cannot see it
        st.image(picture, caption=f"Page {number}", width="stretch", alt=told)


@st.cache_data(max_entries=4, show_spinner=False)
def _pictures(pdf: bytes) -> list[bytes]:
    document = pdfium.PdfDocument(pdf)
    pictures = []
    for page in document:
        out = BytesIO()
        page.render(scale=_SCALE).to_pil().save(out, "PNG")
        pictures.append(out.getvalue())
    document.close()
    return pictures
