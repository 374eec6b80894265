"""Forms of the Slate page: give sheets out, find one to copy in, set one aside."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import streamlit as st

from course.access import Act, Sight
from course.actions.slates import give_out, set_aside
from course.answers import marking
from course.answers.slate_grid import SheetOut, sheets_out
from course.answers.slate_sheet import find_slate, slate_sheet
from course.asker import may_ask
from course.moments import now
from course.paper.slate_page import SlateSize
from course.paper.slate_sheet import print_slates
from course.screens import choices, controls, offers, preview
from course.screens.frame import Screen, plain, show_told, telling
from course.words import plural

ACTS = "give out sheets, copy them in and set them aside"
_PAPERS: dict[SlateSize, str] = {"a4": "A4", "a5": "A5", "small": "Small, for the water (A6)"}
_SETTLES = timedelta(seconds=10)
_ASIDE = {"not_used": "Not used", "lost": "Lost", "unreadable": "Unreadable"}
_OTHERS = {"others": "The others did not try"}
"""Of a sheet of which something is in: kept as not used, with these words as the reason."""


def remember_way(session: str, slate: str) -> None:
    """Remember which sheet was opened just now; empty texts: the list."""
    st.session_state["sheet-way"] = (session, slate, now())


def keep_to_way() -> None:
    """Keep to a sheet that was opened just now.

    A rerun that the browser asked for before it knew the new address, as when a field loses the focus, carries the old
    one and must not lead back to the list.
    """
    session, slate, at = st.session_state.get("sheet-way", ("", "", now()))
    if slate and "slate" not in st.query_params and now() - at < _SETTLES:
        st.query_params.update({"session": session, "slate": slate})


def summary(screen: Screen) -> str:
    """The one sentence that says what is still to be copied in."""
    waiting = sheets_out(screen.course)
    if not waiting:
        return "No sheet is out."
    return f"{plural(len(waiting), 'sheet is', 'sheets are')} still out: copy each in, or set it aside."


def print_button(screen: Screen, session: str, slates: Sequence[str], place: str) -> None:
    """Offer these sheets on paper, previewed: the very bytes that are downloaded; one sheet may stand in two places."""
    sheets = [slate_sheet(screen.ledger, session, slate) for slate in slates]
    for sheet in sheets:
        st.markdown(f"**{sheet.slate.code}** · {plain(sheet.title)} · {plural(len(sheet.columns), 'column')}")
    names = list(_PAPERS)
    key = f"slate-size-{place}-{slates[0]}"
    size = st.segmented_control("Paper size", names, default="a5", format_func=_PAPERS.__getitem__, key=key) or "a5"
    pdf = telling(print_slates)(sheets, size)
    if pdf is None:
        show_told()
        return
    offers.offer(
        Sight.SHEETS_FILE,
        "Sheets as PDF",
        pdf,
        "slate-sheets.pdf",
        "application/pdf",
        key=f"pdf-{place}-{slates[0]}",
    )
    preview.show(pdf, f"preview-{place}-{slates[0]}")


def print_again(screen: Screen) -> None:
    """Print the sheets of one session that are still out: the same sheets, the same numbers."""
    waiting = sheets_out(screen.course)
    words = {one.session: one.session_words for one in waiting}
    session = choices.one_of("Session", words, "print-again")
    if session:
        print_button(screen, session, [one.slate for one in waiting if one.session == session], "again")


def give_out_form(screen: Screen) -> None:
    """Choose a session, its skills and students; each skill becomes one numbered sheet."""
    seen = screen.course
    session = choices.one_of_many("Session", marking.sessions(seen, seen.today(), now()), "slate-session")
    names = {student: seen.name(student) for student in seen.students}
    setting = seen.sessions[session].setting
    titles = {skill.id: skill.title for skill in seen.skills() if setting in skill.setting}
    grouped = list(marking.session_students(seen, session))
    with st.form(f"give-out-{session}"):
        skills = st.multiselect("Skills, one sheet each", list(titles), format_func=titles.__getitem__)
        students = st.multiselect("Students, in the order of the columns", list(names), grouped, names.__getitem__)
        tries = st.segmented_control("Tries of each student", [1, 2, 3], default=1) or 1
        given = controls.submit(Act.RUN_DAY, "Give out", type="primary")
    if given and skills and students:
        made = telling(give_out)(
            screen.ledger, _giver(screen), session, skills=skills, students=students, tries=int(tries)
        )
        if made:
            st.session_state["given-out"] = (session, list(made))
            st.rerun()  # the head of the page and the list of sheets count them too
    elif given:
        st.session_state["told"] = ("warning", "Choose at least one skill and one student. Nothing was given out.")
    if given:
        show_told()
    given_in, slates = st.session_state.get("given-out", ("", []))
    if given_in == session:
        st.markdown("Given out:")
        print_button(screen, session, slates, "given")


def _giver(screen: Screen) -> str:
    """Who gives out: whoever is signed in, or the centre's lead where nobody has to be."""
    return screen.actor()


def find_form(screen: Screen) -> tuple[str, str] | None:
    """Type a sheet's number; returns (session, slate) once one is found."""
    with st.form("find-sheet", border=False):
        typed = st.text_input("Number at the top of the sheet", key="sheet-number", max_chars=200)
        asked = controls.submit(Act.RUN_DAY, "Copy this sheet in", type="primary")
    return telling(find_slate)(screen.ledger, typed) if asked else None


def out_list(screen: Screen) -> tuple[str, str] | None:
    """Sheets that are still out: copy one in, or set it aside; returns the one that was chosen."""
    chosen = None
    for one in sheets_out(screen.course):
        words, act, aside = st.columns([6, 2, 2], vertical_alignment="center")
        words.markdown(f"**{one.code}** · {plain(one.title)}  \n{plain(one.session_words)} · {plain(one.words)}")
        if controls.button(Act.RUN_DAY, "Copy in", at=act, key=f"copy-{one.slate}", width="stretch"):
            chosen = (one.session, one.slate)
        if not may_ask(Act.RUN_DAY):
            continue
        with aside.popover("Set aside", width="stretch"):
            _aside_form(screen, one)
    return chosen


def _aside_form(screen: Screen, one: SheetOut) -> None:
    with st.form(f"aside-{one.slate}", border=False):
        ways = _OTHERS | _ASIDE if one.columns_in else _ASIDE
        how = st.radio("Why is it not entered?", list(ways), format_func=ways.__getitem__)
        why = st.text_input("More, if needed", max_chars=450)
        if controls.submit(Act.RUN_DAY, "Set aside", key=f"aside-{one.slate}"):
            telling(_set_aside)(screen, one, str(how), why)
            st.rerun()


def _set_aside(screen: Screen, one: SheetOut, how: str, why: str) -> None:
    words = (_OTHERS | _ASIDE)[how]
    if how in _OTHERS:
        how, why = "not_used", ": ".join(filter(None, (words, why)))
    set_aside(screen.ledger, _giver(screen), one.session, one.slate, how, why or None)
    st.session_state["told"] = ("done", f"Sheet {one.code} is set aside: {words[0].lower()}{words[1:]}.")
