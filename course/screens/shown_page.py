"""The menu as whoever asks may see it, and the page that they ask for; another page by its address is refused."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from course.asker import Asker, asking
from course.errors import RefusedError, SignedOutError, StorageError
from course.places import PAGES
from course.screens import serve, signed_in, unread
from course.screens.frame import done_told_at_the_end, literal
from course.screens.menu import ADDRESSES, DAILY, FIRST, OTHERS, sight_of


def run() -> None:
    """Show the menu and the page that is asked for; a ledger that cannot be read just now is told as a sentence."""
    try:
        _run()
    except StorageError as error:
        unread.tell(error.sentence)


def _run() -> None:
    """Run the page where whoever asks may see it; asked anew at each rerun."""
    try:
        asker = asking()
    except SignedOutError as error:
        unread.forget()
        signed_in.ask_to_sign_in(error.sentence)
        return
    pages = {name: _page(name, title) for name, title in (DAILY | OTHERS).items()}
    chosen = st.navigation(list(pages.values()), position="hidden")
    here = next(name for name in pages if pages[name] == chosen)
    open_to = {name: page for name, page in pages.items() if asker is None or asker.may(sight_of(name))}
    _show(open_to, here)
    signed_in.show_who(asker, shared=serve.is_shared())
    if here in open_to:
        with done_told_at_the_end():
            chosen.run()
    elif here == FIRST and open_to:  # where everybody begins, and without an address of its own
        st.switch_page(next((page for name, page in open_to.items() if name != "check"), open_to["check"]))
    elif asker is not None:
        _refuse(asker, here, open_to)


def _page(name: str, title: str) -> Any:
    first = name == FIRST
    return st.Page(PAGES / f"{name}.py", title=title, default=first, url_path=ADDRESSES.get(name, name))


def _show(pages: Mapping[str, Any], here: str) -> None:
    """The menu of the pages that are open to whoever asks."""
    with st.container(horizontal=True, key="menu"):
        for name, title in DAILY.items():
            if name in pages:
                st.page_link(pages[name], label=title)
        others = {name: title for name, title in OTHERS.items() if name in pages}
        if not others:
            return
        # another key on each page, so that the list shuts once it has led there and lies over nothing
        here = here if here in others else ""
        with st.popover(others.get(here, "More"), key=f"menu-more-{here}"):
            for name, title in others.items():
                st.page_link(pages[name], label=title, width="stretch")


def _refuse(asker: Asker, name: str, pages: Mapping[str, Any]) -> None:
    """A page by its address that is not open to whoever asks: why, and what is."""
    st.title((DAILY | OTHERS)[name])
    st.markdown("## This page is not open to you.")
    try:
        asker.require(sight_of(name))
    except RefusedError as error:
        st.markdown(literal(error.sentence))
    st.markdown("Open to you:" if pages else "No page is open to you. A lead gives roles and offices.")
    for other, page in pages.items():
        st.page_link(page, label=(DAILY | OTHERS)[other], width="stretch")
