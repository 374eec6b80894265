"""A page of the screens under test, asked for by its address as a browser does: no other page runs before it."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest
from streamlit.util import calc_hash

from course.places import SCREENS
from course.screens import menu


def app_at(name: str) -> AppTest:
    """The screens at one page, by its name or its file's, before they run."""
    page = name.removesuffix(".py")
    app = AppTest.from_file(str(SCREENS / "app.py"), default_timeout=120)
    app.switch_page(f"../../pages/{page}.py")
    if page in menu.ADDRESSES:  # before the first run AppTest takes the address from the file's name
        app._page_hash = calc_hash(menu.ADDRESSES[page])
    return app
