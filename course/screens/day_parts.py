"""Parts of the page for a day's end: who is here, what is open and its way out, the site plan, closing the day."""

from __future__ import annotations

from datetime import date
from typing import get_args
from zlib import crc32

import streamlit as st

from course.access import Act, Sight
from course.actions import courses, slates
from course.actions import day as days
from course.answers.day_end import DayEnd, OpenItem, OpenKind, TabletWaiting, Way, WayOut
from course.answers.day_paper import day_paper, site_texts
from course.answers.day_state import SessionState, open_incidents, session_state, sessions_on, training_days
from course.answers.days import day_words, weekday_words
from course.answers.roll_call import WHEN_WORDS, When, has_to_answer, usual_roll
from course.asker import may_ask
from course.moments import now, observed_at
from course.paper.day_sheet import print_day_sheet
from course.places import PAGES
from course.record.facts import Session
from course.screens import choices, controls, offers, preview, tablets
from course.screens.components import taps_waiting
from course.screens.frame import Screen, literal, plain, told_beside
from course.screens.incident_parts import act, moment
from course.words import STAFF, plural

_URGENT = (OpenKind.MISSING, OpenKind.INCIDENT)
_ASIDE = {"not_used": "Not used", "lost": "Lost", "unreadable": "Cannot be read"}
_ELSEWHERE = {Way.OPEN_PAD: "mark", Way.COPY_IN: "slate", Way.CLEAR_FAULT: "units"}
"""Ways out that lie on another page."""
_RIGHTS = {
    Way.OPEN_PAD: Act.PRACTISE, Way.CLEAR_FAULT: Act.CARE, Way.CLOSE_SESSION: Act.CLOSE, Way.RESUME: Act.CLOSE,
}  # fmt: skip


def choose_day(screen: Screen) -> date:
    """The day: the one that has a session and is nearest to today, unless another is chosen."""
    days_of = training_days(screen.course)
    today = screen.course.today()
    nearest = min(days_of, key=lambda day: (abs((day - today).days), day))
    words = {day.isoformat(): f"{weekday_words(day)} {day_words(day)}" for day in (nearest, *days_of)}
    return date.fromisoformat(choices.one_of_many("Day", words, "end-day"))


def choose_session(screen: Screen, day: date) -> Session:
    """The session of the day that roll, freezing and plan are about."""
    found = {session.id: session for session in sessions_on(screen.course, day)}
    words = {s.id: f"{s.start.local:%H:%M} {s.title}" for s in found.values()}
    key, kept = f"session-{day}", st.session_state.setdefault("kept-choices", {})
    wanted = st.session_state.pop("end-session", None)
    if wanted in found:  # a way out in the list leads to this session
        st.session_state.pop(key, None)
        kept[key] = wanted
    at = now()
    nearest = min(found.values(), key=lambda s: (abs(s.start.moment - at), s.id)).id
    chosen = st.pills(
        f"Session on {day_words(day)}", list(words), format_func=lambda one: literal(words[one]), key=key,
        default=kept.get(key) or nearest, required=True,
    )  # fmt: skip
    kept[key] = chosen or nearest
    return found[kept[key]]


def choose_actor(screen: Screen) -> str | None:
    """Who is acting; whoever only looks is not asked."""
    if not may_ask(Act.RUN_DAY):
        return None
    names = {person: screen.course.name(person) for person in screen.course.course.people(*STAFF)}
    return choices.acting("Who are you?", names, "end-actor")


def waiting_marks(screen: Screen) -> tuple[TabletWaiting, ...]:
    """Marks that had not arrived: on this very device, and on each tablet that told so when it was last heard of."""
    zone = screen.course.course.zone
    here = taps_waiting()
    found = [TabletWaiting("This device", moment(screen), here)] if here else []
    for tablet in tablets.seen():
        if tablet.waiting or tablet.refused:
            last = observed_at(tablet.last_seen, zone, "second")
            found.append(TabletWaiting(tablet.label.capitalize(), last, tablet.waiting + tablet.refused))
    return tuple(found)


def state_part(session: Session) -> None:
    """Say it where the session takes no entries."""
    state = session_state(session)
    if state.state != SessionState.OPEN:
        st.warning(plain(state.sentence))


def open_list(screen: Screen, answer: DayEnd, actor: str | None) -> None:
    """Everything that is open, each with its ways out as buttons; one for all who are still in stands above them."""
    told_beside("open")
    for together in answer.leaving:
        if controls.button(Act.RUN_DAY, literal(together.label), key=f"everyone-left-{together.session}"):
            act(
                days.everyone_left, screen, actor, together.session, moment(screen),
                done="They have left.", beside="open",
            )  # fmt: skip
    for item in answer.items:
        urgent = "urgent-" if item.kind in _URGENT else ""
        with st.container(key=f"open-{urgent}{'-'.join(item.about)}-{item.kind.name.lower()}"):
            bold = "**" if item.kind in _URGENT else ""
            st.markdown(f"{bold}{'✕ ' if bold else ''}{plain(item.sentence)}{bold}")
            with st.container(horizontal=True):
                for way in item.ways:
                    _way(screen, item, way, actor)
    for note in answer.notes:
        st.text(note)


def _way(screen: Screen, item: OpenItem, way: WayOut, actor: str | None) -> None:
    key = f"{item.kind.name.lower()}-{way.way}-{'-'.join(dict.fromkeys([*item.about, *way.target]))}"
    if not may_ask(_right(way)):
        return
    if way.way == Way.SET_ASIDE:
        with st.popover(way.label):
            for how, words in _ASIDE.items():
                if controls.button(Act.RUN_DAY, words, key=f"{key}-{how}"):
                    act(
                        slates.set_aside, screen, actor, *way.target, how, done="The sheet is set aside.", beside="open"
                    )
        return
    session = screen.course.sessions.get(item.about[0])
    if way.way == Way.END_SPAN_AS_PLANNED and session is not None and session.end.moment > now():
        return  # nobody has left yet at a time that is to come: only "Left now" is true
    page = PAGES / f"{_ELSEWHERE[way.way]}.py" if way.way in _ELSEWHERE else None
    if page is not None and not page.is_file():
        st.text(way.label)
    elif controls.button(_right(way), way.label, key=key):
        if page is not None:
            st.switch_page(page, query_params=_address(screen, way))
        _do(screen, item, way, actor)


def _right(way: WayOut) -> Act:
    return _RIGHTS.get(way.way, Act.RUN_DAY)


def _address(screen: Screen, way: WayOut) -> dict[str, str]:
    names = {Way.OPEN_PAD: ("attempt", "sheet"), Way.COPY_IN: ("session", "slate", "code"), Way.CLEAR_FAULT: ("slip",)}
    return {"course": screen.course.course.id, **dict(zip(names[way.way], way.target, strict=False))}


def _do(screen: Screen, item: OpenItem, way: WayOut, actor: str | None) -> None:
    """What is done on this page itself."""
    session = screen.course.sessions.get(item.about[0])
    match way.way:
        case Way.END_SPAN:
            act(
                courses.end_span,
                screen,
                actor,
                *way.target,
                moment(screen),
                done="The time has its end.",
                beside="open",
            )
        case Way.END_SPAN_AS_PLANNED if session is not None:
            act(courses.end_span, screen, actor, *way.target, session.end, done="The time has its end.", beside="open")
        case Way.CLOSE_SESSION:
            act(
                days.close_session,
                screen,
                actor,
                *way.target,
                moment(screen),
                done="The session is closed.",
                beside="open",
            )
        case _:  # the parts below are about the session that is chosen
            st.session_state["end-session"] = item.about[0]
            if way.way == Way.CALL_ROLL:
                st.session_state["end-roll"] = item.about[0]
            st.rerun()


def roll_part(screen: Screen, session: Session, actor: str | None) -> None:
    """Call the roll: one tap a person, then save; who was not tapped is missing."""
    if not controls.may_or_tell(Act.RUN_DAY, "call the roll"):
        return
    told_beside("roll")
    whens: list[When] = list(get_args(When))
    when_key = f"when-{session.id}-{len(session.rolls)}"
    if st.session_state.get("end-roll") == session.id:  # a way out in the list leads to this roll
        del st.session_state["end-roll"]
        st.session_state[when_key] = "coming_out"
    else:
        st.session_state.setdefault(when_key, "coming_out" if open_incidents(session) else usual_roll(session))
    when = st.segmented_control("Roll call", whens, format_func=WHEN_WORDS.__getitem__, key=when_key) or "other"
    seen = screen.course
    called = has_to_answer(session, when) or seen.course.people(*STAFF)
    called = tuple(dict.fromkeys([*called, *(seen.students if not session.groups and when == "going_in" else ())]))
    names = {person: seen.name(person) for person in called}
    key = f"roll-{session.id}-{when}-{len(session.rolls)}"
    present = st.pills(
        "Tap who answers", list(names), format_func=lambda one: literal(names[one]), selection_mode="multi", key=key,
    )  # fmt: skip
    missing = [person for person in called if person not in present]
    word = "not here" if when == "going_in" else "MISSING"
    label = f"Save the roll: {len(present)} here, {len(missing)} {word}"
    if controls.button(Act.RUN_DAY, label, key=f"save-{key}-{len(present)}", type="primary", disabled=not present):
        act(
            days.call_roll, screen, actor, session.id, when=when, present=present, missing=missing,
            observed=moment(screen), done="The roll is saved.", beside="roll",
        )  # fmt: skip


def site_part(screen: Screen, session: Session, actor: str | None, day: date) -> None:
    """What stands on the day sheet for an emergency, and the sheet itself."""
    told_beside("site")
    emergency, plans = site_texts(screen.ledger, session)
    if may_ask(Act.RUN_DAY):
        _site_form(screen, session, actor, day, "\n".join(emergency), "\n".join(plans))
    else:
        st.text("\n".join([*emergency, *plans]) or "Nothing is written yet.")
    offers.offer(
        Sight.DAY_FILE,
        "Day sheet of this day",
        lambda: _printed(screen, day),
        "day-sheet.pdf",
        "application/pdf",
        key="day-sheet",
    )


def _site_form(
    screen: Screen, session: Session, actor: str | None, day: date, emergency: str, plans: str
) -> None:  # fmt: skip
    with st.form(f"site-{session.id}-{len(session.events)}"):
        told = st.text_area("Emergency contact: whom to call, with numbers", emergency, max_chars=2000)
        plan = st.text_area("Site plan: way in and out, oxygen, first aid, limits", plans, max_chars=2000)
        whole_day = st.checkbox("For every session of this day", value=False)
        if controls.submit(Act.RUN_DAY, "Put it on the day sheet"):
            these = [s.id for s in sessions_on(screen.course, day)] if whole_day else [session.id]
            act(
                days.plan_site, screen, actor, these, emergency=told, plan=plan, done="It stands on the day sheet.",
                beside="site",
            )  # fmt: skip


def close_part(screen: Screen, answer: DayEnd, actor: str | None, waiting: tuple[TabletWaiting, ...]) -> None:
    """Close the day with the list as it is shown: another list is another button, so nobody closes what they missed."""
    told_beside("close")
    if controls.may_or_tell(Act.CLOSE):
        _close_button(screen, answer, actor, waiting)
    st.caption(
        "Closing notes how far the record of each laptop had come, so that a later change would show; the centre's key "
        "signs that where it is on this machine."
    )
    for made in answer.checkpoints:
        st.text(made.sentence)
        for chain, seq, digits in made.heads:
            st.caption(f"chain {chain[:8]} at event {seq}: {digits[:16]}")


def _close_button(screen: Screen, answer: DayEnd, actor: str | None, waiting: tuple[TabletWaiting, ...]) -> None:
    left = answer.still_open
    again = " again" if answer.checkpoints else ""
    label = f"Close the day{again}" if not left else f"Close the day{again} with {plural(left, 'thing')} open"
    note = st.text_input("Note on the day (may be empty)", max_chars=200, key=f"day-note-{answer.day}")
    shown = "-".join(sorted(part for item in answer.items for part in item.about))
    key, kind = f"close-day-{answer.day}-{crc32(shown.encode()):x}", "secondary" if left or again else "primary"
    if controls.button(Act.CLOSE, label, key=key, type=kind):
        act(
            days.close_day, screen, actor, screen.course.course.id, answer.day, moment(screen), shown_open=left,
            tablets=waiting, note=note, done="The day is closed, with a checkpoint.", beside="close",
        )  # fmt: skip


def reopen_part(screen: Screen, session: Session, actor: str | None) -> None:
    """Open a closed session again, with a reason."""
    told_beside("reopen")
    if session.closed_at is None:
        st.text("This session is not closed.")
        return
    with st.form(f"reopen-{session.id}", clear_on_submit=True):
        why = st.text_input("Why it is opened again", max_chars=500)
        if controls.submit(Act.CLOSE, "Open this session again"):
            act(
                days.reopen_session,
                screen,
                actor,
                session.id,
                why,
                moment(screen),
                done="It takes entries again.",
                beside="reopen",
            )


def _printed(screen: Screen, day: date) -> bytes:
    paper = day_paper(screen.ledger, screen.course, sessions_on(screen.course, day))
    return preview.as_bytes(print_day_sheet, screen.ledger, paper, "A4")
