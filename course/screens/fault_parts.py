"""Parts of the Units page about fault slips: set one, hold it up, note its answers, clear it; each person's count."""

from __future__ import annotations

from html import escape

import streamlit as st

from course.access import Act
from course.actions import faults
from course.answers import faults as asked
from course.answers.faults import SlipView
from course.asker import may_ask
from course.screens import choices, controls, theme
from course.screens.frame import Screen, literal, plain
from course.screens.unit_parts import acting, at_now, done, go, said
from course.words import SLIP_ANSWER_WORDS, SlipAnswer, SlipKind

_STYLE = f"""<style>
.slip {{ border: 3px solid {theme.INK}; padding: 24px; font-family: {theme.FONT_STACK}; color: {theme.INK}; }}
.slip p {{ margin: 0 0 16px; font-size: {theme.LEAD}px; line-height: 1.3; }}
.slip .big {{ font-size: clamp(40px, 9vw, 88px); line-height: 1.1; font-weight: 700; overflow-wrap: anywhere; }}
.slip .whom {{ font-size: clamp(28px, 5vw, 48px); line-height: 1.2; overflow-wrap: anywhere; }}
.slip .stop {{ border-left: 12px solid {theme.CRITICAL}; padding-left: 16px; font-weight: 700; }}
</style>"""


def plant_form(screen: Screen, actor: str | None) -> None:
    """Plant a fault in a unit on a bench; the unit is on hold from that moment."""
    seen = screen.course
    sessions = asked.bench_sessions(seen)
    if not sessions:
        st.text("No dry session is planned; a fault is planted on a bench only. Plan one on People.")
        return
    labels = {unit.id: unit.label for unit in sorted(seen.units.values(), key=lambda unit: unit.label)}
    unit = choices.one_of_many("Unit", labels, "plant-unit")
    with st.form("plant"):
        session = st.selectbox("Session", list(sessions), format_func=sessions.__getitem__)
        fits = asked.plantable(seen, unit)
        fault = st.selectbox("Fault", list(fits), format_func=fits.__getitem__, index=None, key=f"plant-{unit}")
        people = asked.members(seen)
        whom = _people("Who is to find it", people, "plant-for")
        bag = st.text_input("Bag of the part that is taken out, if any", max_chars=40)
        st.caption("With this the unit is on hold for the water until the fault is cleared and its whole list passed.")
        if controls.submit(Act.CARE, "Plant it: the unit goes on hold", key="plant-fault", type="primary") and said(
            actor, fault
        ):
            done(
                lambda: faults.set_fault(
                    screen.ledger, str(actor), session=session, how=SlipKind.PLANTED, fault=str(fault),
                    observed=at_now(screen), unit=unit, for_whom=whom, bag=bag or None,
                ),
                f"The fault is planted, and {labels[unit]} is on hold.",
            )  # fmt: skip


def show_form(screen: Screen, actor: str | None) -> None:
    """Show a fault in the water: a slip to hold up, and no unit is touched."""
    seen = screen.course
    sessions = asked.water_sessions(seen)
    if not sessions:
        st.text("No session in the water is planned.")
        return
    session = choices.one_of_many("Session in the water", sessions, "show-session")
    skills = asked.showable(seen, session)
    skill = choices.one_of_many("Which skill answers the fault?", skills, "show-skill")
    with st.form("show"):
        people = asked.askable(seen, session, skill)
        whom = _people("Shown to", people, f"shown-to-{skill}")
        st.caption("In the water faults are shown, never made: nothing is changed on any unit.")
        if controls.submit(Act.CARE, "Show it", type="primary") and said(actor):
            done(
                lambda: _open(
                    faults.set_fault(
                        screen.ledger, str(actor), session=session, how=SlipKind.SHOWN, fault=skill,
                        observed=at_now(screen), for_whom=whom,
                    )
                ),
                "Hold it up. Note each answer below it.",
            )  # fmt: skip


def _people(label: str, people: dict[str, str], key: str) -> list[str]:
    """Several people by a tap on each name."""
    return st.pills(label, list(people), selection_mode="multi", format_func=lambda one: literal(people[one]), key=key)


def _open(slip: str) -> None:
    st.query_params["slip"] = slip


def slip_list(screen: Screen) -> None:
    """Every fault slip of the course as a button, those that stand open first; and what each person made of them."""
    found = asked.slips(screen.ledger, screen.course)
    if not found:
        st.text("No fault was planted or shown yet. Plant one on a bench, or show one in the water.")
    for slip in found:
        mark = "**Open** · " if slip.open else ""
        words = f"{mark}{plain(slip.head)}: {plain(slip.title)}  \n{plain(slip.result)}"
        if controls.way(words, key=f"open-{slip.slip}", width="stretch"):
            go(slip=slip.slip)


def count_list(screen: Screen) -> None:
    """What each person found, missed and took for a fault, with its n."""
    found = asked.counts(screen.ledger, screen.course)
    for person in found:
        st.text(person.sentence)
    if not found:
        st.text("No answer is noted yet.")
    st.caption("A fault that somebody met in two tries counts twice. The counts change no standing.")


def show_slip(screen: Screen, slip: SlipView) -> None:
    """One slip, large enough to hold up; below it what the trainer does with it."""
    if controls.way("All units and slips", key="all-slips"):
        go()
    st.html(_STYLE + _card(slip))
    actor = acting(screen)
    st.text(f"{slip.set_words[0].upper()}{slip.set_words[1:]}. {slip.state}")
    for word, text in slip.lines:
        st.markdown(f"**{plain(word)}:** {plain(text)}")
    st.subheader("Answers", anchor=False)
    st.text(slip.result)
    for reply in slip.replies:
        st.text(reply.sentence)
    if controls.may_or_tell(Act.CARE):
        _answer_form(screen, slip, actor)
    if slip.how == SlipKind.PLANTED and not slip.cleared and may_ask(Act.CARE):
        _clear_form(screen, slip, actor)
    if slip.unit and controls.way("Open the unit", key="slip-unit"):
        go(unit=slip.unit)


def _card(slip: SlipView) -> str:
    parts = [f"<p>{escape(slip.head)}{f' · {escape(slip.bag)}' if slip.bag else ''}</p>"]
    parts.append(f'<p class="big">{escape(slip.title)}</p>')
    if slip.for_words:
        parts.append(f'<p class="whom">{escape(slip.for_words)}</p>')
    if slip.stop_before:
        parts.append(f'<p class="stop">{escape(slip.stop_before)}</p>')
    return f'<div class="slip">{"".join(parts)}</div>'


def _answer_form(screen: Screen, slip: SlipView, actor: str | None) -> None:
    everybody = asked.members(screen.course)
    people = {person: everybody[person] for person in slip.for_whom if person in everybody} or everybody
    others = {reply.event: f"instead of: {reply.sentence}" for reply in slip.replies}
    with st.form("answer", clear_on_submit=True):
        person = st.pills("Who", list(people), format_func=lambda one: literal(people[one]), key=f"who-{slip.slip}")
        words = {answer.value: word for answer, word in SLIP_ANSWER_WORDS.items()}
        answer = st.pills("What came of it", list(words), format_func=words.__getitem__, key=f"answer-{slip.slip}")
        earlier = {"": "another try, or the first", **others}
        replaces = st.selectbox("This is", list(earlier), format_func=earlier.__getitem__) if others else ""
        note = st.text_input("Note (if any)", max_chars=200)
        if controls.submit(Act.CARE, "Note the answer", type="primary") and said(actor, person, answer):
            done(
                lambda: faults.answer_fault(
                    screen.ledger, str(actor), slip.slip, str(person), SlipAnswer(str(answer)), at_now(screen),
                    replaces=replaces or None, note=note or None,
                ),
                "The answer is noted.",
            )  # fmt: skip


def _clear_form(screen: Screen, slip: SlipView, actor: str | None) -> None:
    with st.form("clear"):
        st.markdown("**Take the fault out, then say so.** The unit stays on hold until its whole list is passed again.")
        if controls.submit(Act.CARE, "The fault is cleared", type="primary") and said(actor):
            done(
                lambda: faults.clear_fault(screen.ledger, str(actor), slip.slip, at_now(screen)),
                "Cleared. Now the whole list again: open the unit and say who saw it passed.",
            )
