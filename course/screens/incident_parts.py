"""When it goes wrong, on screen: freeze with one tap and one's name, write what was seen, let it go on, print it."""

from __future__ import annotations

from functools import partial

import streamlit as st

from course.access import Act, Sight
from course.actions import incident as incidents
from course.answers.day_state import open_incidents
from course.answers.days import day_words
from course.answers.incident_paper import incident_paper
from course.answers.roll_call import spans_at
from course.asker import may_ask, only_asker
from course.moments import Observed, now, observed_at
from course.paper.incident_sheet import print_incident_sheet
from course.record.day_facts import Incident
from course.record.facts import Session
from course.screens import controls, offers, preview, theme
from course.screens.frame import Screen, plain, telling, told_beside
from course.words import STAFF, listed, plural

STYLE = f"""
.stApp .st-key-freeze-FREEZE button, .stApp [class*="st-key-freeze-as-"] button,
.stApp [class*="st-key-open-urgent-"] {{
  border-left: 8px solid {theme.CRITICAL}; }}
.stApp .st-key-freeze-FREEZE button, .stApp [class*="st-key-freeze-as-"] button {{ min-height: 64px; }}
.stApp .st-key-freeze-FREEZE button p, .stApp [class*="st-key-freeze-as-"] button p {{ font-weight: 600; }}
.stApp [class*="st-key-open-"] {{ border-top: 1px solid {theme.RULE}; padding: 8px 0; gap: {theme.GAP}px; }}
.stApp [class*="st-key-open-urgent-"] {{ padding-left: 16px; }}
.stApp [class*="st-key-roll-"] [data-testid="stButtonGroup"] button {{ min-height: 64px; }}
.stApp [class*="st-key-roll-"] button p {{ font-size: {theme.LEAD}px; }}
.stApp [data-testid="stButtonGroup"] > div:has(> [data-variant="pills"]) {{ gap: {theme.GAP}px; }}
"""
"""The bold bar at the left that stands for critical everywhere; larger targets where hands shake or are wet."""


def show_style() -> None:
    """Give the page its bars and larger targets; holds no text of a person."""
    st.html(f"<style>{STYLE}</style>")


def moment(screen: Screen) -> Observed:
    """This moment where the course is."""
    return observed_at(now(), screen.course.course.zone)


def freeze_part(screen: Screen, session: Session, tablets_waiting: int) -> None:
    """One tap and one's own name: nothing is typed first. A frozen session shows its incident instead."""
    if open_incidents(session) or not may_ask(Act.FREEZE):
        return
    asked = f"freezing-{session.id}"
    if not st.session_state.get(asked):
        if controls.button(Act.FREEZE, "✕ Something went wrong: freeze this session", key="freeze", width="stretch"):
            st.session_state[asked] = True
            st.rerun()
        return
    people = len({span.person for span in spans_at(session, now())})
    inside = f"{plural(people, 'person', 'people')} in, their units" if people else "nobody is signed in"
    under_way = sum(a.session == session.id and a.ending is None for a in screen.course.attempts)
    ends = (
        f" {plural(under_way, 'attempt')} under way will be void; one with a critical error is kept, as stopped."
        if under_way
        else ""
    )
    st.markdown(f"**Freeze {plain(session.title)} now?** Kept: {inside}.{ends} Tap your name; a note can follow.")
    for person in only_asker({one: screen.course.name(one) for one in screen.course.course.people(*STAFF)}):
        label = f"Freeze: I am {plain(screen.course.name(person))}"
        if controls.button(Act.FREEZE, label, key=f"freeze-as-{session.id}-{person}", width="stretch"):
            del st.session_state[asked]
            telling(incidents.freeze)(
                screen.ledger, person, session.id, moment(screen), tablets_waiting=tablets_waiting
            )  # fmt: skip
            st.rerun()
    if controls.way("Do not freeze", key=f"freeze-not-{session.id}"):
        del st.session_state[asked]
        st.rerun()


def incidents_part(screen: Screen, session: Session, actor: str | None) -> None:
    """Each incident of the session: what was frozen, notes, letting it go on, the sheet."""
    for held in session.incidents:
        at = held.observed.local
        going = "went on" if held.resumed else "frozen"
        st.subheader(f"Incident of {day_words(at.date())}, {at:%H:%M} ({going})", anchor=False)
        told_beside(held.id)
        st.text(_kept(screen, held))
        _notes(screen, session, held, actor)
        if held.resumed is None and may_ask(Act.CLOSE):
            _resume(screen, session, held, actor)
        st.caption("The incident sheet is confidential; the lead decides who may see it.")
        offers.offer(
            Sight.INCIDENT_FILE,
            "Incident sheet: who saw what",
            partial(_printed, screen, session, held.id),
            "incident-sheet.pdf",
            "application/pdf",
            key=f"sheet-{held.id}",
        )


def _kept(screen: Screen, held: Incident) -> str:
    names = listed([screen.course.name(person) for person in held.people]) or "nobody was signed in"
    attempts = plural(len(held.attempts), "attempt")
    return f"In at that moment: {names}. Under way: {attempts}. Frozen by {screen.course.name(held.frozen_by)}."


def _notes(screen: Screen, session: Session, held: Incident, actor: str | None) -> None:
    by_event = screen.ledger.private(session).get("by_event", {})
    own = by_event.get(held.event, {}).get("note")
    if own:
        st.text(f"{held.observed.local:%H:%M} {screen.course.name(held.frozen_by)}: {own}")
    for line in held.lines:
        text = by_event.get(line.event, {}).get("note", "the text was erased")
        st.text(f"{line.observed.local:%H:%M} {screen.course.name(line.written_by)}: {text}")
    if not may_ask(Act.FREEZE):
        return
    with st.form(f"note-{held.id}", clear_on_submit=True):
        note = st.text_area("What did you see? In your own words", max_chars=2000, key=f"note-text-{held.id}")
        if controls.submit(Act.FREEZE, "Keep this note", key=f"note-{held.id}"):
            act(
                incidents.add_note,
                screen,
                actor,
                session.id,
                held.id,
                note,
                moment(screen),
                done="The note is kept.",
                beside=held.id,
            )


def _resume(screen: Screen, session: Session, held: Incident, actor: str | None) -> None:
    with st.form(f"resume-{held.id}", clear_on_submit=True):
        why = st.text_input("Why it can go on", max_chars=500, key=f"why-{held.id}")
        if controls.submit(Act.CLOSE, "Let it go on", key=f"resume-{held.id}"):
            done = f"{session.title} goes on."
            act(incidents.resume, screen, actor, session.id, held.id, why, moment(screen), done=done, beside=held.id)


def act(
    action: object,
    screen: Screen,
    actor: str | None,
    *particulars: object,
    done: str,
    beside: str = "",
    **named: object,
) -> None:
    """Do something as the person who said who they are, tell what came of it, and draw the page anew.

    `beside` names the part of the page that tells it too.
    """
    st.session_state["told-beside"] = beside
    if actor is None:
        st.session_state["told"] = ("warning", "Say who you are first, at the top of the page. Nothing was changed.")
    elif callable(action):
        before = st.session_state.get("told")
        result = telling(action)(screen.ledger, actor, *particulars, **named)
        if st.session_state.get("told") == before:
            kind = "error" if getattr(result, "alarm", False) else "done"
            st.session_state["told"] = (kind, getattr(result, "sentence", done))
    st.rerun()


def _printed(screen: Screen, session: Session, which: str) -> bytes:
    papers = [incident_paper(screen.ledger, screen.course, session.id, which)]
    return preview.as_bytes(print_incident_sheet, screen.ledger, papers, "A4")
