"""Parts of the Hours page: bars against the requirements, a session minute by minute, and totals in three columns."""

from __future__ import annotations

import streamlit as st

from course.access import Sight
from course.answers.hours import BreakLine, HoursAnswer
from course.answers.marking import session_words
from course.answers.session_times import SessionTimes
from course.screens import charts, choices, hours_charts, offers
from course.screens.frame import Screen, plain
from course.screens.wide_table import table
from course.words import plural

_READING = (
    "A full bar teaches, a grey one assists, an open one learns. Below them: students in the group, and dashed how "
    "many the requirements allow at that moment. A shaded band is a break."
)


def bars(answer: HoursAnswer) -> None:
    """One student's bars; whoever is short comes first."""
    found = sorted(answer.students, key=lambda one: not one.short)
    if not found:
        st.markdown("Nobody learns on this course yet. Put students on it on People.")
        return
    names = {one.student: one.name for one in found}
    chosen = choices.one_of("Student", names, "hours-student", usual=found[0].student)
    student = next((one for one in found if one.student == chosen), found[0])
    st.markdown(f"**{plain(student.sentence)}**")
    if student.bars:
        drawn = hours_charts.bars_chart(student)
        data = hours_charts.bars_csv(answer.students)
        charts.show(drawn, student.sentence, data, "against-hours", narrow=(drawn,))


def choose_session(screen: Screen, answer: HoursAnswer) -> str:
    """The session: the one that the address names, else the first with a break, else the first."""
    sessions = screen.course.sessions
    asked = st.query_params.get("session", "")
    first = asked if asked in sessions else next((one.session for one in answer.breaks), next(iter(sessions)))
    marks = {one.session for one in answer.breaks}
    ordered = dict.fromkeys([first, *sessions])
    words = {s: session_words(sessions[s]) + (" · ratio broken" if s in marks else "") for s in ordered}
    return choices.one_of_many("Session", words, f"hours-session-{first}")


def timeline(times: SessionTimes) -> None:
    """Who was where, the ratio line, each break by name, and the attempts inside it."""
    st.markdown(f"**{plain(times.sentence)}**")
    if not times.lanes:
        return
    charts.show(
        hours_charts.session_chart(times), times.sentence, times.csv(), f"times-{times.session[-6:]}",
        narrow=hours_charts.session_parts(times),
    )  # fmt: skip
    st.caption(_READING)
    for one in (line for lane in times.lanes for line in lane.breaks):
        _attempts(one)


def _attempts(one: BreakLine) -> None:
    if not one.attempts:
        st.markdown(f"{plain(one.sentence)} No attempt was seen in it.")
        return
    with st.expander(
        f"{plural(len(one.attempts), 'attempt')} in the break of {one.minutes} minutes, flagged, not void"
    ):
        st.markdown("\n".join(f"- {plain(attempt)}" for attempt in one.attempts))
        st.caption("They count as they were seen. The lead decides, with a reason, whether one is to be void.")


def water_table(times: SessionTimes) -> None:
    """The session's table of times in the water."""
    written = [line for line in times.water if line.water]
    if not written:
        st.markdown("Nobody's time in the water is written down yet.")
        return
    head = ("Who", "Unit", "In", "Out", "Loop min", "Bailout min", "Depth m", "Visibility m")
    rows = [
        (
            line.name, line.unit, line.entered, line.left, str(line.loop_minutes),
            str(line.bailout_minutes), f"{line.max_depth_m}{f' ({line.note})' if line.note else ''}", line.visibility_m,
        )
        for line in written
    ]  # fmt: skip
    table(head, rows, right=(4, 5, 6, 7))
    offers.offer(
        Sight.TIMES_FILE, "Data (CSV)", times.water_csv(), "water-times.csv", "text/csv", key="csv-water-times"
    )


def totals(answer: HoursAnswer) -> None:
    """Three columns for everybody, and the minutes of each unit."""
    rows = [
        (f"{t.name}, {t.role}", str(t.session), str(t.loop), str(t.bailout)) for t in answer.totals
    ]  # fmt: skip
    table(("Who", "Session min", "Loop min", "Bailout min"), rows, right=(1, 2, 3))
    with st.expander("The same by kind"):
        kinds = [
            (f"{t.name}, {t.role}", word, str(session), str(loop), str(bailout))
            for t in answer.totals
            for word, session, loop, bailout in t.kinds
        ]
        table(("Who", "Kind", "Session min", "Loop min", "Bailout min"), kinds, right=(2, 3, 4))
    st.subheader("Units in the water", anchor=False)
    if answer.units:
        units = [(u.label, str(u.times), str(u.loop), str(u.bailout)) for u in answer.units]
        table(("Unit", "Times", "Loop min", "Bailout min"), units, right=(1, 2, 3))
        st.caption("Minutes since a scrubber was filled stand on Units, beside the filling.")
    else:
        st.markdown("No time in the water is written down yet.")


def notes(answer: HoursAnswer) -> None:
    """What does not fit: two places at once, times without an end, attempts whose session was withdrawn."""
    if answer.notes:
        st.markdown("\n".join(f"- {plain(note)}" for note in answer.notes))
