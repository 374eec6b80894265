"""Choosing on a page: large buttons, one thing at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import streamlit as st

from course.answers.line import LineSkill
from course.answers.marking import SkillChoice
from course.asker import asking
from course.screens import controls, unread
from course.screens.frame import literal
from course.screens.step_pad import show_mark_style
from course.words import listed, plural


def one_of(label: str, options: dict[str, str], key: str, usual: str | None = None) -> str | None:
    """Choose one of a few by tapping; a single or usual one is chosen already, and a choice is kept."""
    if not options:
        return None
    default = _kept(key, options) or (next(iter(options)) if len(options) == 1 else usual)
    return _keep(key, st.pills(label, list(options), format_func=_shown(options), key=key, default=default))


def acting(label: str, people: dict[str, str], key: str, usual: str | None = None) -> str | None:
    """Choose who acts or looks, id to name; where people sign in it is whoever did, if it can be them at all."""
    asker = asking()
    if asker is None:
        return one_of(label, people, key, usual)
    if asker.person in people:
        return asker.person
    st.caption(literal(f"{label} {listed(list(people.values()), 'or') or 'Nobody here'}; {asker.name} is signed in."))
    return None


def looking(label: str, people: dict[str, str], key: str, usual: str | None = None) -> str | None:
    """Choose who looks; where people sign in it is whoever did, and what they see is for the answer to say."""
    asker = asking()
    return one_of(label, people, key, usual) if asker is None else asker.person


def acting_of_many(label: str, people: dict[str, str], key: str) -> str:
    """Choose who acts from a list; where people sign in it is whoever did, and the act refuses whom it has to."""
    asker = asking()
    return one_of_many(label, people, key) if asker is None else asker.person


def one_of_many(label: str, options: dict[str, str], key: str) -> str:
    """Choose one of many from a list; the choice is kept for the next attempt."""
    names = list(options)
    place = names.index(kept) if (kept := _kept(key, options)) else 0
    chosen = st.selectbox(label, names, format_func=options.__getitem__, key=key, index=place)
    return _keep(key, chosen) or names[0]


def _shown(options: dict[str, str]) -> Callable[[str], str]:
    """What stands on each: a button's words are Markdown, those of a list are not."""
    return lambda one: literal(options[one])


def _kept(key: str, options: dict[str, str]) -> str | None:
    """What was chosen before; a widget forgets it as soon as it is not drawn for once."""
    kept = st.session_state.get("kept-choices", {}).get(key)
    return kept if kept in options else None


def _keep(key: str, chosen: str | None) -> str | None:
    st.session_state.setdefault("kept-choices", {})[key] = chosen
    return chosen


def some_of(label: str, options: dict[str, str], key: str) -> tuple[str, ...]:
    """Choose several by tapping; they come in the order in which they were tapped."""
    kept = [one for one in st.session_state.get("kept-choices", {}).get(key, ()) if one in options]
    chosen = st.pills(label, list(options), format_func=_shown(options), key=key, default=kept, selection_mode="multi")
    st.session_state.setdefault("kept-choices", {})[key] = list(chosen)
    return tuple(chosen)


def line_button(skill: LineSkill) -> bool:
    """A skill for a whole line, with where its students stand; True when it was tapped."""
    return controls.way(
        f"**{literal(skill.title)}**  \n{literal(skill.line)}", key=f"line-{skill.skill}", width="stretch"
    )


def skill_button(skill: SkillChoice) -> bool:
    """A skill with its standing and what is missing; True when it was tapped."""
    count = f"{plural(skill.attempts, 'attempt')} of about {skill.budget}" if skill.attempts else "no attempt yet"
    text = (
        f"**{literal(skill.title)}**  \n{skill.word}: {literal(skill.line or count)}"
        if skill.attempts
        else f"**{literal(skill.title)}**  \n{count}"
    )
    return controls.way(text, key=f"skill-{skill.skill}", width="stretch")


def open_pad(data: dict[str, Any] | None) -> None:
    """Show the pad of a line, or why it cannot be shown, with the way to the next one."""
    if controls.way("Mark another attempt", key="another"):
        leave_pad()
    if data is None:
        return
    show_mark_style()
    if any(pad["older_rubric"] for pad in data["pads"]):
        st.warning("The rubric changed after this attempt began: it is marked by the form it began with.")
    news = unread.show_pad_and_keep(data)
    if news.leave:
        leave_pad()
    if news.also:
        known = [part for part in st.query_params.get("also", "").split(",") if part]
        st.query_params["also"] = ",".join(dict.fromkeys([*known, news.also]))
        st.rerun()


def leave_pad() -> None:
    """Go back to choosing; what was marked is in the ledger or waits on the tablet, and nothing else is kept."""
    st.query_params.clear()
    st.rerun()


def go_to(address: dict[str, str]) -> None:
    """Open the pad on an attempt or a line; the address holds it, so that a reload resumes."""
    st.query_params.clear()
    st.query_params.update(address)
    st.rerun()
