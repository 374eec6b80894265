"""Parts of the Privacy page: who is due, giving somebody their own data, erasing, and for how long data are kept."""

from __future__ import annotations

import streamlit as st

from course.access import Act, Sight, may
from course.actions.privacy import Erased, erase_person, set_retention
from course.answers.erasing import DOES, STAYS, before_erasing, named_in
from course.answers.keeping import KeepingAnswer
from course.asker import asking
from course.exchange.own_data import FILE_NAME, own_data_bytes
from course.screens import controls, offers
from course.screens.frame import Screen, plain, telling
from course.words import AUTHORITY_WORDS


def leads(screen: Screen) -> dict[str, str]:
    """Who answers for personal data: id to name."""
    people = {known.id: known.shown for known in screen.centre.people if may(known.roles, Act.ERASE)}
    asker = asking()
    if asker is not None and asker.may(Act.ERASE):  # an office gives the right too
        people[asker.person] = asker.name
    return people


def due(answer: KeepingAnswer) -> None:
    """Whose time is over, and what was set."""
    for one in answer.due:
        st.text(one.sentence)
    for rule in answer.rules:
        st.text(rule)
    st.caption(answer.advice)


def own_data_button(screen: Screen, actor: str, person: str) -> None:
    """Make the file when it is asked for: it reads the whole ledger."""
    st.markdown(
        "Everything that is kept about this person, as a page to read and as data. Others stand in it by their role "
        "alone; texts that speak of several people are left out. Give it to nobody else."
    )
    if controls.button(Act.EXPORT, "Put it together", key=f"gather-{person}"):
        file = telling(own_data_bytes)(screen.ledger, actor, person)
        if file is None:
            st.rerun()
        offers.offer(Sight.OWN_DATA_FILE, "Download own-data.zip", file, FILE_NAME, "application/zip")


def erase_form(screen: Screen, actor: str, person: str) -> None:
    """Say what erasing does and what speaks against it; then ask for the reason and for the name, once more."""
    before = telling(before_erasing)(screen.ledger, person)
    if before is None:
        st.warning(st.session_state.pop("told", ("", ""))[1])
        return
    st.markdown(DOES)
    st.markdown("\n".join(["What is not reached:", "", *(f"- {line}" for line in STAYS)]))
    for line in before.copies:
        st.text(f"A backup that holds the key: {line}")
    if controls.button(Act.ERASE, "Look for other texts that name them", key=f"named-{person}"):
        st.text(named_in(screen.ledger, person).sentence)
    if before.against:
        st.markdown("What speaks against it now:")
    for one in before.against:
        st.warning(plain(one.sentence))
    with st.form(f"erase-{person}"):
        authority = st.selectbox("On whose word", list(AUTHORITY_WORDS), format_func=AUTHORITY_WORDS.__getitem__)
        reason = st.text_area("Reason, without the person's name: it stays", max_chars=2000)
        despite = st.text_area("Why in spite of that", max_chars=2000) if before.against else ""
        typed = st.text_input(f"To be sure, type the name as it stands here: {plain(before.name)}", max_chars=200)
        if not controls.submit(Act.ERASE, "Erase for good"):
            return
        if typed.strip() != before.name:
            st.session_state["told"] = ("warning", "The name that was typed is another one. Nothing was changed.")
        else:
            done: Erased | None = telling(erase_person)(
                screen.ledger, actor, person, authority=authority, reason=reason, despite=despite
            )
            if done:
                st.session_state["told"] = ("done", done.text())
        st.rerun()


def retention_form(screen: Screen, actor: str, answer: KeepingAnswer) -> None:
    """For how many days after the last course data are kept."""
    with st.form("retention"):
        labels = {
            "student_days": "Days for students and candidates",
            "staff_days": "Days for the staff",
            "incident_days": "Days for whoever was in an incident",
        }
        days = {
            name: st.number_input(label, 0, 36_525, answer.days[name], step=1, placeholder="no time set")
            for name, label in labels.items()
        }
        note = st.text_input("Which law, contract or agency asks for it", max_chars=2000)
        if controls.submit(Act.KEEP, "Keep for so long"):
            telling(_set)(screen, actor, days, note)
            st.rerun()


def _set(screen: Screen, actor: str, days: dict[str, int | None], note: str) -> None:
    set_retention(
        screen.ledger, actor, student_days=days["student_days"], staff_days=days["staff_days"],
        incident_days=days["incident_days"], note=note,
    )  # fmt: skip
    st.session_state["told"] = ("done", "The time is set. Nothing is erased by itself.")
