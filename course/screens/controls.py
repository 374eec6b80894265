"""The one way in which a page draws a control: one that acts, for whoever may act by it; one that leads on.

What may be done is asked of the table of rights; the act behind a control asks it once more.
"""

from __future__ import annotations

from typing import Any

import streamlit as st

from course.access import Act, Right, Sight, holders_of, may
from course.asker import asking, may_ask
from course.screens.menu import sight_of
from course.words import listed


def button(right: Right, label: str, *, key: str = "", at: Any = st, **more: Any) -> bool:
    """Draw a button that acts, where whoever asks may act by it; True when it was tapped.

    Args:
        right: what its act, or the file that it makes, asks for.
        label: Markdown.
        key: what tells it from others of its page, where the label does not.
        at: where it is drawn.
        more: what else Streamlit takes.
    """
    return may_ask(right) and bool(at.button(label, key=named(right, key or label), **more))


def submit(right: Right, label: str, *, key: str = "", at: Any = st, **more: Any) -> bool:
    """Draw a form's button that acts; the form itself stands only where `may_ask` says so."""
    return bool(at.form_submit_button(label, key=named(right, key or label), **more))


def turn(label: str, *, at: Any = st, **more: Any) -> bool:
    """Draw a form's button that keeps nothing: it looks, adds a field, or goes to another part of the form."""
    return bool(at.form_submit_button(label, **more))


def way(label: str, *, page: str = "", at: Any = st, **more: Any) -> bool:
    """Draw a button that leads on or changes what is shown; to another page where that is open to whoever asks."""
    return (not page or may_ask(sight_of(page))) and bool(at.button(label, **more))


def named(right: Right, key: str) -> str:
    """Return a control's key, which ends with its right, so that what is on a page can be told by it."""
    return f"{key}-{right.name}"


def right_of(key: str) -> Right | None:
    """Return the right that a control asks for, by its key; None where it acts not at all."""
    name = key.rpartition("-")[2]
    return Act.__members__.get(name) or Sight.__members__.get(name)


def may_or_tell(act: Act, what: str = "") -> bool:
    """Whether whoever asks may do this; where not, one line says whose it is, since an empty place would puzzle.

    `what` says it in the page's own words, where the right is about more than what stands there.
    """
    if may_ask(act):
        return True
    asker = asking()
    by_pin = asker is not None and asker.by_pin and may(asker.roles, act)
    what = what or act.value
    only = f"Only whoever is {listed(holders_of(act), 'or')} may {what}."
    st.caption(f"A PIN is not enough to {what}." if by_pin else only)
    return False
