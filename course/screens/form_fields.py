"""Small fields that the forms of the Standards page share, and the flaws beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from course.screens.frame import literal
from course.standards.editing import Edited


def flaws(shown: Edited | None, *path: str | int) -> None:
    """Tell what is wrong at a field or inside it, beside it."""
    for told in shown.at(*path) if shown else ():
        st.warning(literal(told))


def own_flaws(shown: Edited | None, *path: str | int) -> None:
    """Tell what is wrong with a block as a whole."""
    for told in shown.exactly_at(*path) if shown else ():
        st.warning(literal(told))


def folded(text: str) -> str:
    """A text as a rubric holds it: one line, no blank at either end."""
    return " ".join(text.split())


def some_of_many(label: str, options: Mapping[str, str], now: Sequence[str], key: str) -> tuple[str, ...]:
    """Several of many; what is chosen now and has gone stays among them, so that it is told and not dropped."""
    known = {**options, **{name: f"{name} (gone)" for name in now if name not in options}}
    return unmoved(st.multiselect(label, list(known), list(now), format_func=known.__getitem__, key=key), now)


def unmoved(chosen: Sequence[str], before: Sequence[str]) -> tuple[str, ...]:
    """The same names in another order are no change."""
    return tuple(before if set(chosen) == set(before) and len(chosen) == len(before) else chosen)


def one_of_these(label: str, options: Mapping[str, str], now: str, key: str) -> str:
    """One of many; what is chosen now and has gone stays among them, so that its flaw can be told."""
    known = options if now in options else {**options, now: f"{now} (gone)"}
    return str(st.selectbox(label, list(known), list(known).index(now), format_func=known.__getitem__, key=key))
