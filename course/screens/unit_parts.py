"""Parts of the Units page: the list, one unit with its holds and dates, and the forms that hold, lift and care."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, time, timedelta

import streamlit as st

from course.access import Act
from course.actions import faults, unit_care
from course.answers.units import OpenHold, UnitCard, UnitsAnswer, UnitState, carers
from course.asker import may_ask
from course.moments import Observed, from_wall_clock, now, observed_at, zone_named
from course.paper.shapes import standing_shape
from course.screens import choices, controls
from course.screens.components import unit_list
from course.screens.drawing import shape_plain
from course.screens.frame import Screen, literal, plain, telling
from course.words import CARE_WORDS, Care, StandingState

_SHAPES = {
    UnitState.HELD: StandingState.AGAIN,
    UnitState.LAPSED: StandingState.OUT_OF_DATE,
    UnitState.NO_HOLD: StandingState.NOT_YET,
}
"""Crossed, a square in a square, an empty square: none of them is the full one that stands for met."""


def choose_unit(answer: UnitsAnswer) -> None:
    """The units as large buttons; a tap opens one."""
    rows = [
        {
            "unit": card.unit,
            "label": card.label,
            "type": card.unit_type,
            "state": card.state.value,
            "held": card.state == UnitState.HELD,
            "line": card.line,
            "who": "; ".join(card.holders),
            "shape": shape_plain(standing_shape(_SHAPES[card.state])),
        }
        for card in answer.units
    ]
    if tapped := unit_list(rows):
        go(unit=tapped)


def show_findings(sentences: tuple[str, ...]) -> None:
    """What does not fit, each as a sentence beside a bar."""
    for sentence in sentences:
        st.text(f"▌ {sentence}")


def acting(screen: Screen) -> str | None:
    """Who acts on this page; asked once and kept. Whoever only looks is not asked."""
    return (
        None if not controls.may_or_tell(Act.CARE) else choices.acting("Who is acting?", carers(screen.course), "carer")
    )


def show_unit(screen: Screen, card: UnitCard) -> str | None:
    """One unit: what holds it and what would lift that, its dates, what it has, and the forms; returns who acts."""
    if controls.way("All units", key="all-units"):
        go()
    st.title(literal(f"{card.label} · {card.unit_type}"))
    st.markdown(f"## {plain(_first(card))}")
    show_findings(card.findings)
    actor = acting(screen)
    for hold in card.holds:
        _open_hold(screen, card, hold, actor)
    if card.planted_cleared and may_ask(Act.RELEASE):
        _list_form(screen, card, actor)
    st.subheader("Dates", anchor=False)
    for line in card.care:
        st.text(("▌ " if line.lapsed else "") + line.sentence)
    if may_ask(Act.CARE):
        with st.expander("Enter a service, new cells or a scrubber filling"):
            _care_form(screen, card, actor)
        with st.expander("Hold this unit back, or record it as flooded"):
            _flood_form(screen, card, actor)
            _hold_form(screen, card, actor)
    st.subheader("The unit", anchor=False)
    st.text(f"Serial number: {card.serial or 'none entered'}")
    for holder in card.holders or ("Nobody dives it on this course.",):
        st.text(holder)
    st.text(f"Has: {', '.join(card.features).lower() or 'nothing that the rubrics know'}.")
    if card.past_holds:
        with st.expander("Holds that were lifted"):
            for past in card.past_holds:
                st.text(past)
    return actor


def _first(card: UnitCard) -> str:
    if card.state == UnitState.HELD:
        return f"On hold: {card.label} does not go in the water."
    if card.state == UnitState.LAPSED:
        return f"No hold is open; {card.line}: run out."
    return "No hold is open."


def _open_hold(screen: Screen, card: UnitCard, hold: OpenHold, actor: str | None) -> None:
    st.markdown(f"**{plain(hold.sentence)}**  \n{plain(hold.missing)}")
    if hold.slip:
        if controls.way("Open the fault slip", key=f"slip-{hold.hold}"):
            go(slip=hold.slip)
        return
    if not may_ask(Act.RELEASE):
        return
    with st.form(f"release-{hold.hold}"):
        why = st.text_area("Reason for lifting it", max_chars=1000, key=f"release-why-{hold.hold}")
        if controls.submit(Act.RELEASE, "Lift the hold", key=f"release-{hold.hold}", type="primary") and said(actor):
            done(
                lambda: unit_care.release(
                    screen.ledger, str(actor), card.unit, hold.hold, at_now(screen), why=why
                ),
                f"The hold of {card.label} is lifted.",
            )  # fmt: skip


def _list_form(screen: Screen, card: UnitCard, actor: str | None) -> None:
    with st.form("list-passed"):
        st.markdown("**Every planted fault is cleared. The whole list again, from its first line to its last:**")
        names = carers(screen.course)
        passed_by = choices.one_of("Who saw the whole list passed?", names, f"passed-by-{card.unit}")
        if controls.submit(
            Act.RELEASE, "List passed again: lift the hold", key="list-passed-again", type="primary"
        ) and said(actor, passed_by):
            done(
                lambda: faults.pass_list_again(
                    screen.ledger, str(actor), card.unit, at_now(screen), passed_by=str(passed_by)
                ),
                f"The list of {card.label} was passed again; its planted faults hold it no longer.",
            )


def _hold_form(screen: Screen, card: UnitCard, actor: str | None) -> None:
    count = len(card.holds) + len(card.past_holds)  # a refusal keeps what was typed; the next hold begins empty
    with st.form("hold"):
        why = st.text_area("Why it stays out of the water", max_chars=1000, key=f"hold-why-{card.unit}-{count}")
        if controls.submit(Act.CARE, "Put on hold", type="primary") and said(actor):
            done(
                lambda: unit_care.hold(screen.ledger, str(actor), card.unit, at_now(screen), why),
                f"{card.label} is on hold.",
            )


def _flood_form(screen: Screen, card: UnitCard, actor: str | None) -> None:
    """Water in the loop: nothing is computed of it, and the unit goes on hold."""
    count = len(card.holds) + len(card.past_holds)
    with st.form("flooded"):
        note = st.text_input(
            "What was seen of the water (if anything)", max_chars=300, key=f"flood-{card.unit}-{count}"
        )
        if controls.submit(Act.CARE, "Water was in the loop: put on hold", key="flood", type="primary") and said(actor):
            done(
                lambda: unit_care.flooded(screen.ledger, str(actor), card.unit, at_now(screen), note),
                f"{card.label} is recorded as flooded and is on hold.",
            )


def _care_form(screen: Screen, card: UnitCard, actor: str | None) -> None:
    here = now().astimezone(zone_named(screen.course.course.zone))
    what = choices.one_of("What was done?", {care.value: CARE_WORDS[care] for care in Care}, "care-what")
    if what is None:
        return
    care = Care(what)
    with st.form("care"):
        first, second = st.columns(2)
        day = first.date_input("Done on", here.date(), format="YYYY-MM-DD")
        clock = second.time_input("At", time(here.hour, here.minute), step=timedelta(minutes=1))
        until, minutes = None, None
        if care == Care.SCRUBBER:
            text = st.text_input("Good for how many minutes, by the maker's manual", max_chars=5).strip()
            minutes = int(text) if text.isascii() and text.isdigit() else None
        else:
            until = st.date_input("Good until, by the maker's manual", None, format="YYYY-MM-DD")
        note = st.text_area("Note (if any)", max_chars=1000)
        if controls.submit(Act.CARE, "Enter it", type="primary") and said(actor):
            done(
                lambda: unit_care.record_care(
                    screen.ledger, str(actor), card.unit, care, _on_the_clock(screen, datetime.combine(day, clock)),
                    good_until=str(until) if until else None, good_minutes=minutes, note=note or None,
                ),
                f"{CARE_WORDS[care].capitalize()} of {card.label} is entered.",
            )  # fmt: skip


def _on_the_clock(screen: Screen, local: datetime) -> Observed:
    zone = screen.course.course.zone
    return observed_at(from_wall_clock(local, zone), zone, "minute")


def go(**query: str) -> None:
    """Open a unit, a slip or the list of both; the chosen course stays in the address."""
    course = st.query_params.get("course")
    st.query_params.from_dict(query | ({"course": course} if course else {}))
    st.rerun()


def at_now(screen: Screen) -> Observed:
    """This moment where the course is."""
    return observed_at(now(), screen.course.course.zone)


def said(*chosen: str | None) -> bool:
    """Whether everything that has to be chosen was; told where not."""
    if not all(chosen):
        st.warning("Something is not chosen yet; nothing was changed.")
    return all(chosen)


def done(act: Callable[[], object], sentence: str) -> None:
    """Do an act, say what came of it, and draw the page anew."""
    st.session_state.pop("told", None)
    telling(act)()
    if "told" not in st.session_state:
        st.session_state["told"] = ("done", sentence)
    st.rerun()
