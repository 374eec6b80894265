"""Part of Ready: a file from another centre, first only read, then noted, then accepted by the lead thing by thing."""

from __future__ import annotations

from datetime import date

import streamlit as st

from course.access import Act
from course.actions import arrivals
from course.answers.arrival import ArrivalLine, ItemLine, arrival_lines, rehearse
from course.answers.centre_keys import keys_in
from course.answers.elsewhere import elsewhere_taken_back
from course.exchange.paper_file import MOST_FILE_BYTES, read_paper
from course.record.centre_key import CentreKey
from course.screens import choices, confirming, controls
from course.screens.frame import Screen, done, fresh, plain, show_told, telling
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
        for told in elsewhere_taken_back(screen.ledger, screen.course, student):
            st.markdown(f"{_NOT} {plain(told)}")
        _take_in(screen, student)


def _arrival(screen: Screen, arrival: ArrivalLine, as_of: date) -> None:
    st.markdown(f"**{plain(arrival.sentence)}**")
    for one in arrival.items:
        st.markdown(f"{_COUNTS if one.accepted else _NOT} {plain(one.accepted or one.words)}")
    item: ItemLine | None = None
    if arrival.items:
        chosen = choices.one_of_many("What is accepted?", {one.item: one.words for one in arrival.items}, _key(arrival))
        item = next(one for one in arrival.items if one.item == chosen)
    else:
        st.text("Nothing in it is asked for here.")
    _decide(screen, arrival, item, as_of)


def _decide(screen: Screen, arrival: ArrivalLine, item: ItemLine | None, as_of: date) -> None:
    """Accept one thing of a file, take that back, or take the whole file back: each confirmed by the lead."""
    with st.form(fresh(_key(arrival, "form"))):
        lead, amount = choices.acting("The lead", _leads(screen), _key(arrival, "lead")), None
        if item is not None and item.amount is not None:
            amount = int(st.number_input("How many count", 1, item.amount, item.amount, key=_key(arrival, item.item)))
        reason = st.text_input("Reason", max_chars=500, key=fresh(_key(arrival, "reason")))
        given = confirming.given(screen, _key(arrival, "confirm"))
        accepted = item is not None and controls.submit(
            Act.SIGN, "Accept it", key=_key(arrival, "accept"), type="primary"
        )
        back = item is not None and bool(item.accepted) and controls.submit(
            Act.SIGN, "Take back what was accepted", key=_key(arrival, "back")
        )  # fmt: skip
        whole = controls.submit(Act.SIGN, "Take the whole file back", key=_key(arrival, "whole"))
    ledger, one = screen.ledger, item.item if item else ""
    if whole:
        confirming.do(
            screen, lead, given, lambda who, how: arrivals.take_back_file(ledger, who, arrival.id, reason, how),
            "Nothing of this file counts any more.",
        )  # fmt: skip
    elif back:
        confirming.do(
            screen, lead, given, lambda who, how: arrivals.take_back(ledger, who, arrival.id, one, reason, how),
            "It counts no more.",
        )  # fmt: skip
    elif accepted:
        confirming.do(
            screen, lead, given,
            lambda who, how: arrivals.accept(
                ledger, who, arrival.id, one, as_of=as_of, amount=amount, reason=reason, confirmed_with=how
            ),
            "It is accepted, and told as from elsewhere.",
        )  # fmt: skip


def _take_in(screen: Screen, student: str) -> None:
    """Read a file and say what it is; only then is there a button to note it."""
    most = MOST_FILE_BYTES // 2**20
    given = st.file_uploader("A transfer file (PDF)", ["pdf"], key=f"arrival-{student}", max_upload_size=most)
    pinned = st.file_uploader(
        "The other centre's public keys, as it gave them out", ["json"], key=f"keys-{student}", max_upload_size=1
    )
    st.caption("Compare their fingerprint with that centre by voice: keys that came with the file prove nothing.")
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
    if found.back:
        _hold_again(screen, found.id)
    if found.known and not found.now_pinned:
        return
    with st.form(fresh(f"arrival-note-{student}")):
        lead = choices.acting("The lead", _leads(screen), "arrival-lead")
        sure = st.text_input("How you know that it is the same person", max_chars=500) if found.person else None
        label = "Note that its key is pinned" if found.now_pinned else "Note that it arrived"
        if not controls.submit(Act.SIGN, label, key="note-arrival", type="primary") or lead is None:
            return
    course = screen.course.course.id
    act = telling(arrivals.note_arrival)
    done(act(screen.ledger, lead, course, student, *content, sure), "It is noted; nothing of it counts yet.")  # type: ignore[arg-type]


def _hold_again(screen: Screen, arrival: str) -> None:
    with st.form(fresh(f"arrival-again-{arrival}")):
        lead = choices.acting("The lead", _leads(screen), "arrival-again-lead")
        reason = st.text_input("Why it holds after all", max_chars=500, key=fresh("arrival-again-reason"))
        given = confirming.given(screen, "arrival-again")
        st.caption("What was accepted of it counts again.")
        if not controls.submit(Act.SIGN, "It holds after all", key="arrival-again"):
            return
    confirming.do(
        screen, lead, given, lambda who, how: arrivals.hold_again(screen.ledger, who, arrival, reason, how),
        "It holds again.",
    )  # fmt: skip


def _leads(screen: Screen) -> dict[str, str]:
    seen = screen.course
    return {one: seen.name(one) for one in seen.course.people(Role.LEAD) if not seen.is_erased(one)}


def _key(arrival: ArrivalLine, part: str = "item") -> str:
    return f"{part}-{arrival.id}"
