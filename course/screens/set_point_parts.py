"""Set points on the Hours page: what was held over the time in the water as a picture, and the forms that note it."""

from __future__ import annotations

import altair as alt
import streamlit as st

from course.access import Act
from course.actions.set_points import MOST_MINUTES, From, note_set_point, take_back_set_point
from course.answers.session_times import SessionTimes
from course.answers.set_points import EVERYBODY, HeldPicture, SetPointsAnswer
from course.asker import may_ask
from course.errors import RefusedError
from course.record.facts import Session
from course.screens import charts, controls, theme
from course.screens.frame import Screen, plain
from course.screens.hours_forms import at_clock, clock_field
from course.screens.unit_parts import at_now, done, said

_WIDTH, _HEIGHT = 340, 200


def pictures(answer: SetPointsAnswer) -> None:
    """What was held, each under its sentence."""
    for one in answer.pictures:
        st.markdown(plain(one.sentence))
        charts.show_small(_drawn(one), one.sentence)


def _drawn(one: HeldPicture) -> charts.LayeredChart:
    """PO2 over minutes; thick strokes at the foot are the times in the water."""
    along = alt.X("minute:Q", title=f"min after {one.begins}; thick: in the water")
    line = alt.Chart(alt.InlineData(values=[{"minute": minute, "bar": bar} for minute, bar in one.line]))
    wet = alt.Chart(alt.InlineData(values=[{"minute": came, "left": left, "bar": 0} for came, left in one.wet]))
    return alt.layer(
        line.mark_line(aria=False, color=theme.INK, strokeWidth=1.8).encode(
            x=along,
            y=alt.Y("bar:Q", title="bar", scale=alt.Scale(zero=True)),
            tooltip=[alt.Tooltip("minute:Q", format=".0f"), alt.Tooltip("bar:Q", format=".2f")],
        ),
        wet.mark_rule(aria=False, color=theme.INK, strokeWidth=6).encode(x=along, x2="left:Q", y="bar:Q"),
    ).properties(width=_WIDTH, height=_HEIGHT)


def forms(screen: Screen, times: SessionTimes, answer: SetPointsAnswer, actor: str | None) -> None:
    """Note a set point of one person or of everybody else, from a time on or at first; take one back."""
    st.markdown("  \n".join(plain(f"{line.words}.") for line in answer.notes))
    session = screen.course.sessions[times.session]
    people = dict.fromkeys(water.person for water in session.water)
    names = {"": EVERYBODY, **{person: screen.course.name(person) for person in people}}
    standing = {line.event: line.words for line in answer.notes}
    with st.form(f"set-point-{times.session}"):
        bar = st.text_input(
            "Set point that was held, in bar; the highest, if nobody knows when it was changed", max_chars=5
        )
        whose = st.selectbox("Whose", list(names), format_func=names.__getitem__)
        with st.container(horizontal=True):
            begins = clock_field("From", "", times, f"set-point-{times.session}-from")
            over = st.text_input(
                "Minutes to get there", key=f"set-point-{times.session}-over", width=180, max_chars=4,
                placeholder="0: at once",
            )  # fmt: skip
        st.caption(
            "Without a time it is what was held at first. With minutes the loop went there evenly from what was held "
            "before. Somebody's own notes stand alone: write for them what was held at first too."
        )
        old = st.selectbox(
            "It takes the place of",
            ["", *(standing if may_ask(Act.AMEND) else ())],
            format_func=lambda event: standing.get(event, "one of the same time"),
        )
        if controls.submit(Act.RUN_DAY, "Note it", key=f"set-point-{times.session}", type="primary") and said(actor):
            done(
                lambda: note_set_point(
                    screen.ledger, str(actor), times.session, bar, at_now(screen), person=whose or None,
                    since=read_since(session, begins, over), instead_of=old or None,
                ),
                "The set point is noted; exposure follows it.",
            )  # fmt: skip
    if standing and may_ask(Act.AMEND):
        _take_back(screen, times, standing, actor)


def read_since(session: Session, begins: tuple[str, bool | None], over: str) -> From | None:
    """Read from when a set point held and the minutes of the way there, as they were typed; None where neither was.

    Raises:
        RefusedError: one of them cannot be read, or there are minutes without a time.
    """
    clock, second = begins
    if not clock:
        if over.strip():
            raise RefusedError("Write from when it went there, or no minutes. Nothing was changed.")
        return None
    try:
        at = at_clock(session.start, clock, second=second)
    except RefusedError as error:
        raise RefusedError(f"{error.sentence} Nothing was changed.") from None
    digits = over.strip() or "0"
    if not (digits.isascii() and digits.isdigit() and len(digits) <= 4):
        raise RefusedError(
            f"Minutes to get there: write whole minutes, 0, where it was at once, to {MOST_MINUTES}. "
            "Nothing was changed."
        )
    return From(at, int(digits))


def _take_back(screen: Screen, times: SessionTimes, standing: dict[str, str], actor: str | None) -> None:
    with st.form(f"set-point-back-{times.session}-{len(standing)}"):
        event = st.selectbox("Take a set point back", list(standing), format_func=standing.__getitem__)
        why = st.text_input("Reason for taking it back", max_chars=500, key=f"set-point-why-{times.session}")
        if controls.submit(Act.AMEND, "Take it back", key=f"set-point-back-{times.session}") and said(actor):
            done(
                lambda: take_back_set_point(screen.ledger, str(actor), times.session, event, why),
                "Taken back: the note stays to be read; one whose place it took holds again.",
            )
