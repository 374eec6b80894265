"""A paper as it prints, page by page on the screen: the very bytes that are downloaded."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

import pypdfium2 as pdfium
import streamlit as st

from course.answers.centre_keys import paper_key, why_unsigned
from course.screens import controls, offers
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


def tell_unsigned(ledger: Ledger) -> None:
    """Say, before it is taken away, that a paper is not signed since the centre's key is elsewhere."""
    if why := why_unsigned(ledger):
        st.text(why)


def show(pdf: bytes, key: str = "preview") -> None:
    """Show a PDF one page at a time, with a way to the others."""
    pages = _pages(pdf)
    number = _choose_page(pages, key)
    told = f"Page {number} as it prints; its text is in the PDF"  # a picture says nothing to who cannot see it
    offers.picture(_picture(pdf, number), caption=f"Page {number} of {pages}", width="stretch", alt=told)


def _choose_page(pages: int, key: str) -> int:
    """Which page is shown: the one that was shown before, as long as the paper has it."""
    number: int = min(st.session_state.get(f"{key}-page", 1), pages)
    if pages > 1:
        before, after = st.columns(2)
        if controls.way("Page before", at=before, key=f"{key}-before", width="stretch") and number > 1:
            number -= 1
        if controls.way("Next page", at=after, key=f"{key}-next", width="stretch") and number < pages:
            number += 1
    st.session_state[f"{key}-page"] = number
    return number


@st.cache_data(max_entries=8, show_spinner=False)
def _pages(pdf: bytes) -> int:
    document = pdfium.PdfDocument(pdf)
    count = len(document)
    document.close()
    return count


@st.cache_data(max_entries=8, show_spinner=False)
def _picture(pdf: bytes, number: int) -> bytes:
    document = pdfium.PdfDocument(pdf)
    out = BytesIO()
    document[number - 1].render(scale=_SCALE).to_pil().save(out, "PNG")
    document.close()
    return out.getvalue()
