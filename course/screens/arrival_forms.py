"""Part of Ready: a file from another centre, first only read, then noted, then accepted by the lead thing by thing."""

from __future__ import annotations

from datetime import date

import streamlit as st

from course.access import Act
from course.actions import arrivals
from course.answers.arrival import ArrivalLine, ItemLine, arrival_lines, rehearse
from course.answers.centre_keys import keys_in
from course.exchange.paper_file import MOST_FILE_BYTES, read_paper
from course.record.centre_key import CentreKey
from course.screens import choices, confirming, controls
from course.screens.frame import Screen, plain, show_told, telling
from course.words import Role

_COUNTS, _NOT = "■", "□"


def arrival_part(screen: Screen, student: str, as_of: date) -> None:
    """What arrived of a student, what is accepted of it, and the form for another file."""
    found = arrival_lines(screen.ledger, screen.course, student, as_of)
    with st.expander("From elsewhere: what another centre tells of this student"):
        st.caption(
            "Nothing of a file counts until the lead of the course accepts it, one thing at a time and with a reason. "
            "A skill that was seen elsewhere has to be shown again here."
        )
        for arrival in found:
            _arrival(screen, arrival, as_of)
        _take_in(screen, student)


def _arrival(screen: Screen, arrival: ArrivalLine, as_of: date) -> None:
    st.markdown(f"**{plain(arrival.sentence)}**")
    for item in arrival.items:
        st.markdown(f"{_COUNTS if item.accepted else _NOT} {plain(item.accepted or item.words)}")
    if not arrival.items:
        st.text("Nothing in it is asked for here.")
        return
    chosen = choices.one_of_many("What is accepted?", {one.item: one.words for one in arrival.items}, _key(arrival))
    item = next(one for one in arrival.items if one.item == chosen)
    _accept(screen, arrival, item, as_of)


def _accept(screen: Screen, arrival: ArrivalLine, item: ItemLine, as_of: date) -> None:
    with st.form(_fresh(_key(arrival, "form"))):
        lead = choices.acting("The lead", _leads(screen), _key(arrival, "lead"))
        amount = None
        if item.amount is not None:
            amount = int(st.number_input("How many count", 1, item.amount, item.amount, key=_key(arrival, item.item)))
        reason = st.text_input("Reason", max_chars=500, key=_key(arrival, "reason"))
        given = confirming.given(screen, _key(arrival, "confirm"))
        accepted = controls.submit(Act.SIGN, "Accept it", key=_key(arrival, "accept"), type="primary")
        back = bool(item.accepted) and controls.submit(
            Act.SIGN, "Take back what was accepted", key=_key(arrival, "back")
        )
    if not (accepted or back):
        return
    if lead is None:
        st.warning("Say who leads; nothing was changed.")
        return

    def act() -> bool:
        how = confirming.confirmed_with(screen, lead, given)
        if back:
            arrivals.take_back(screen.ledger, lead, arrival.id, item.item, reason, confirmed_with=how)
        else:
            arrivals.accept(
                screen.ledger, lead, arrival.id, item.item, as_of=as_of, amount=amount, reason=reason,
                confirmed_with=how,
            )  # fmt: skip
        return True

    _done(telling(act)(), "It counts no more." if back else "It is accepted, and told as from elsewhere.")


def _take_in(screen: Screen, student: str) -> None:
    """Read a file and say what it is; only then is there a button to note it."""
    most = MOST_FILE_BYTES // 2**20
    given = st.file_uploader("A transfer file (PDF)", ["pdf"], key=f"arrival-{student}", max_upload_size=most)
    pinned = st.file_uploader(
        "The other centre's public keys, as it gave them out", ["json"], key=f"keys-{student}", max_upload_size=1
    )
    if given is None:
        return

    def read() -> tuple[object, tuple[CentreKey, ...] | None]:
        return read_paper(given.getvalue()), keys_in(pinned.getvalue()) if pinned else None

    content = telling(read)()
    found = telling(rehearse)(screen.ledger, screen.course, student, *content) if content else None  # type: ignore[arg-type]
    if found is None or content is None:
        show_told()
        return
    for line in (*found.lines, found.person, found.known):
        if line:
            st.markdown(f"- {plain(line)}")
    if found.known and not found.now_pinned:
        return
    with st.form(_fresh(f"arrival-note-{student}")):
        lead = choices.acting("The lead", _leads(screen), "arrival-lead")
        sure = st.text_input("How you know that it is the same person", max_chars=500) if found.person else None
        label = "Note that its key is pinned" if found.now_pinned else "Note that it arrived"
        if not controls.submit(Act.SIGN, label, key="note-arrival", type="primary") or lead is None:
            return
    course = screen.course.course.id
    act = telling(arrivals.note_arrival)
    _done(act(screen.ledger, lead, course, student, *content, sure), "It is noted; nothing of it counts yet.")  # type: ignore[arg-type]


def _done(done: object, sentence: str) -> None:
    if done:
        st.session_state["told"] = ("done", sentence)
        st.session_state["forms-done"] = st.session_state.get("forms-done", 0) + 1
    st.rerun()


def _leads(screen: Screen) -> dict[str, str]:
    seen = screen.course
    return {one: seen.name(one) for one in seen.course.people(Role.LEAD) if not seen.is_erased(one)}


def _key(arrival: ArrivalLine, part: str = "item") -> str:
    return f"{part}-{arrival.id}"


def _fresh(form: str) -> str:
    """The form's name; another one after each success, so that it comes back empty."""
    return f"{form}-{st.session_state.get('forms-done', 0)}"
