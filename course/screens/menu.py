"""The menu: the four pages of a pool day in view on every screen, the others behind one tap."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from course.places import PAGES

DAILY = {"today": "Today", "mark": "Mark", "slate": "Slate", "course": "Course"}
"""File in pages/ to the word in the menu."""
OTHERS = {
    "ready": "Ready",
    "findings": "Findings",
    "gates": "Gates",
    "hours": "Hours",
    "units": "Units",
    "figures": "Figures",
    "day": "Day's end",
    "class": "Class",
    "student": "Student's own",
    "observers": "Observers",
    "standards": "Standards",
    "papers": "Papers",
    "check": "Check a paper",
    "why": "Show why",
    "people": "People",
    "privacy": "Privacy",
    "laptops": "Laptops",
    "health": "Health",
}
_ADDRESSES = {"course": "standings"}
"""Where the address is another word than the file's: Streamlit would take /course for our own routes."""
_FIRST = "today"


def addresses() -> tuple[str, ...]:
    """Return the address of every page."""
    return tuple(f"/{_ADDRESSES.get(name, name)}" for name in DAILY | OTHERS)


def run() -> None:
    """Show the menu and run the page that is asked for."""
    pages = {name: _page(name, title) for name, title in (DAILY | OTHERS).items()}
    chosen = st.navigation(list(pages.values()), position="hidden")
    _show(pages, chosen)
    chosen.run()


def _page(name: str, title: str) -> Any:
    first = name == _FIRST
    return st.Page(PAGES / f"{name}.py", title=title, default=first, url_path=_ADDRESSES.get(name, name))


def _show(pages: Mapping[str, Any], chosen: Any) -> None:
    with st.container(horizontal=True, key="menu"):
        for name, title in DAILY.items():
            st.page_link(pages[name], label=title)
        here = next((name for name in OTHERS if pages[name] == chosen), "")
        # another key on each page, so that the list shuts once it has led there and lies over nothing
        with st.popover(OTHERS.get(here, "More"), key=f"menu-more-{here}"):
            for name, title in OTHERS.items():
                st.page_link(pages[name], label=title, width="stretch")
