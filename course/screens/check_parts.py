"""On the page Check a paper: ask for one by file, picture or keyboard, and tell what came of it.

A tablet offers its camera where a picture is asked for. The page itself is not let at it: see `serve`.
"""

from __future__ import annotations

from collections.abc import Iterable

import streamlit as st

from course.answers.centre_keys import ELSEWHERE, centre_keys, key_lines, signing_key
from course.answers.paper_check import NOT_SHOWN, PaperCheck, check_hash, is_hash
from course.answers.paper_verdict import Shown
from course.exchange.paper_file import MOST_FILE_BYTES, read_paper
from course.exchange.paper_pages import check_shown
from course.record.paper_code import read_paper_code
from course.screens.frame import Screen, plain, show_told, telling

FILE, TYPED = "PDF or picture", "Typed"
_KINDS = ["pdf", "png", "jpg", "jpeg", "webp"]


def ask(screen: Screen) -> PaperCheck | None:
    """Ask for a paper in one of two ways and return what came of it."""
    how = st.segmented_control("What you have", [FILE, TYPED], default=FILE, key="check-how") or FILE
    if how == TYPED:
        typed = st.text_area(
            "The rows beside the square code, or the hash at the foot of a page", key="check-typed", max_chars=4000
        )
        return telling(_typed)(screen, typed) if typed.strip() else None
    most = MOST_FILE_BYTES // 2**20
    given = st.file_uploader("The PDF, or a picture of the code", _KINDS, key="check-file", max_upload_size=most)
    return telling(_given)(screen, given.getvalue()) if given else None


def show(found: PaperCheck) -> None:
    """Tell what it comes to, then what it was, how it was signed, where its place is and what changed since."""
    st.markdown(f"## {plain(found.sentence)}")
    _list("What is altered and what is not", found.altered)
    _list("What it was", found.was)
    _list("Signature", found.signed)
    _list("Its place in the ledger", found.place)
    _list("What the ledger says otherwise now" if not found.fine else "What the ledger says now", found.changed)
    if found.says is not None:
        with st.expander("Its own data"):
            st.json(found.says)


def keys(screen: Screen) -> None:
    """The keys that papers are compared with, to be read out to whoever checks elsewhere."""
    st.markdown("### The centre's keys")
    lines = key_lines(centre_keys(screen.ledger))
    if not lines:
        st.markdown("There is none yet, so papers are not signed. Make it: `course key FOLDER`")
    elif telling(signing_key)(screen.ledger) is None:
        st.text(f"What is printed here is not signed. {ELSEWHERE}")
    show_told()
    for line in lines:
        st.text(line)
    st.caption("  \n".join(NOT_SHOWN))


def _typed(screen: Screen, typed: str) -> PaperCheck:
    if is_hash(typed):
        return check_hash(screen.ledger, typed)
    return _compared(screen, Shown(read_paper_code(typed)))


def _given(screen: Screen, content: bytes) -> PaperCheck:
    return _compared(screen, read_paper(content))


def _compared(screen: Screen, shown: Shown) -> PaperCheck:
    return check_shown(shown, centre_keys(screen.ledger), screen.ledger)


def _list(heading: str, lines: Iterable[str]) -> None:
    lines = list(lines)
    if lines:
        st.markdown(f"### {heading}")
        st.markdown("\n".join(f"- {plain(line)}" for line in lines))
