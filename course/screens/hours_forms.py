"""Forms of the Hours page: enter and mend who was there and who was in the water, and call the visibility low.

Times are typed as the clock of the place showed them. Near a change of the clocks each time is asked which showing it
was; an hour that never came is refused in words. What stood is corrected with a reason and stays to be read.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from hashlib import sha256

import streamlit as st

from course.access import Act
from course.actions import times as timing
from course.actions.times import WaterRow
from course.answers.session_times import EnteredTime, SessionTimes, WaterLine
from course.asker import may_ask
from course.errors import CourseError, RefusedError
from course.hours.groups import groups_of
from course.moments import Observed, clock_time_near, now, observed_at, read_clock
from course.record.facts import Session
from course.screens import choices, controls
from course.screens.frame import Screen, plain, telling
from course.words import SPAN_ROLE_WORDS, STAFF, SpanRole, plural

_SHOWINGS = {"not in that hour": None, "first showing": False, "second showing": True}
_NARROW, _UNIT = 84, 116
_NEW = "a new time"


def choose_actor(screen: Screen) -> str | None:
    """Who enters or mends."""
    names = {person: screen.course.name(person) for person in screen.course.course.people(*STAFF)}
    return choices.acting("Who are you?", names, "hours-actor")


# --- in the water --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Typed:
    """One line as it was typed."""

    line: WaterLine
    unit: str | None
    clocks: tuple[tuple[str, bool | None], tuple[str, bool | None]]
    loop: str
    bailout: str
    depth: str
    visibility: str

    @property
    def empty(self) -> bool:
        return not any((self.clocks[0][0], self.clocks[1][0], self.loop, self.bailout, self.depth, self.visibility))

    def row(self, session: Session) -> WaterRow:
        """The line as an act takes it.

        Raises:
            RefusedError: something in it cannot be read, told with its person.
        """
        try:
            (came, came_second), (left, left_second) = self.clocks
            return WaterRow(
                person=self.line.person,
                water=self.line.water,
                unit=self.unit,
                entered=at_clock(session.start, came, second=came_second) if came else None,
                left=at_clock(session.end, left, second=left_second) if left else None,
                loop_minutes=_whole(self.loop, "Loop min"),
                bailout_minutes=_whole(self.bailout or "0", "Bailout min"),
                max_depth_m=self.depth.replace(",", ".") or None,
                visibility_m=self.visibility.replace(",", ".") or None,
            )
        except CourseError as error:
            raise RefusedError(f"{self.line.name}: {error.sentence} Nothing was changed.") from None


def water_form(screen: Screen, times: SessionTimes, actor: str | None) -> None:
    """A line for every learner, for others by a tap; saved together or not at all."""
    people = {line.person: line.name for line in times.water}
    if not people:
        st.markdown("Make the session's groups first, on Today.")
        return
    more = choices.some_of("One more line for", people, f"water-more-{times.session}")
    asked = [line for line in times.water if line.water or line.learns or line.person in more]
    lines = [*asked, *(_another(times, person) for person in more if _is_written(times, person))]
    with st.form(f"water-{times.session}"):
        typed = [_line(screen, times, line, number) for number, line in enumerate(lines)]
        why = st.text_input("Reason, where a line that stood is changed", max_chars=500)
        if controls.submit(Act.RUN_DAY, "Save the table", type="primary"):
            _done(lambda: _save(screen, times, actor, typed, why))
    standing = {line.water: f"{line.name} {line.entered}" for line in times.water if line.water}
    if standing and may_ask(Act.AMEND):
        _take_back("water", times, standing, lambda who, line, reason: timing.take_back_water(
            screen.ledger, who, times.session, line, reason), actor)  # fmt: skip


def _is_written(times: SessionTimes, person: str) -> bool:
    return all(line.water for line in times.water if line.person == person)


def _another(times: SessionTimes, person: str) -> WaterLine:
    first = next(line for line in times.water if line.person == person)
    return replace(
        first, water=None, entered="", left="", loop_minutes=None, bailout_minutes=None, max_depth_m="",
        visibility_m="", note="",
    )  # fmt: skip


def _line(screen: Screen, times: SessionTimes, line: WaterLine, number: int) -> _Typed:
    key = f"w{number}-{sha256(repr((times.session, line)).encode()).hexdigest()[:10]}"
    units = {"": "no unit", **{unit.id: unit.label for unit in screen.course.units.values()}}
    st.markdown(f"**{plain(line.name)}**{f' {plain(line.note)}' if line.note else ''}")
    with st.container(horizontal=True, gap="xsmall", key=f"line-{key}"):
        came = clock_field("In", line.entered, times, f"{key}-in")
        left = clock_field("Out", line.left, times, f"{key}-out")
        loop, bailout, depth, visibility = (
            st.text_input(label, value, key=f"{key}-{label[:4]}", width=_NARROW, max_chars=8)
            for label, value in (
                ("Loop min", _number(line.loop_minutes)),
                ("Bailout min", _number(line.bailout_minutes)),
                ("Depth m", line.max_depth_m),
                ("Visibility m", line.visibility_m),
            )
        )
        place = list(units).index(line.unit_id) if line.unit_id in units else 0
        unit = st.selectbox("Unit", list(units), place, format_func=units.__getitem__, key=f"{key}-unit", width=_UNIT)
    return _Typed(line, unit or None, (came, left), loop.strip(), bailout.strip(), depth.strip(), visibility.strip())


def _number(value: int | None) -> str:
    return "" if value is None else str(value)


def _whole(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit()):
        raise RefusedError(f"{what}: write whole minutes, such as 42.")
    return int(text)


def _save(screen: Screen, times: SessionTimes, actor: str | None, typed: list[_Typed], why: str) -> str:
    session = screen.course.sessions[times.session]
    rows = [one.row(session) for one in typed if one.line.water or not one.empty]
    saved = timing.save_water(screen.ledger, _somebody(actor), times.session, rows, why)
    return f"{plural(saved, 'line')} saved." if saved else "Every line stood like that already."


# --- who was there -------------------------------------------------------------------------------------------------


def times_form(screen: Screen, times: SessionTimes, actor: str | None) -> None:
    """Enter a whole time afterwards, or mend one that stands."""
    standing = {one.span: one for one in times.times} if may_ask(Act.AMEND) else {}
    chosen = st.selectbox(
        "Which time", [_NEW, *standing], key=f"span-{times.session}",
        format_func=lambda key: standing[key].words if key in standing else _NEW,
    )  # fmt: skip
    old = standing.get(chosen)
    names = {m.person: screen.course.name(m.person) for m in screen.course.course.members}
    groups = {"": "no group", **groups_of(screen.course.sessions[times.session])}
    key = f"{times.session}-{chosen}"
    with st.form(f"times-{key}"):
        person = old.person if old else st.selectbox("Who", list(names), format_func=names.__getitem__, index=None)
        roles = list(SpanRole)
        first = roles.index(old.role) if old else None
        role = st.selectbox("As", roles, first, format_func=SPAN_ROLE_WORDS.__getitem__, placeholder="as on the course")
        place = list(groups).index(old.group or "") if old and (old.group or "") in groups else 0
        group = st.selectbox("Group", list(groups), place, format_func=groups.__getitem__)
        with st.container(horizontal=True):
            came = clock_field("In", old.start if old else "", times, f"{key}-in")
            left = clock_field("Out", old.end if old else "", times, f"{key}-out")
        why = st.text_input("Reason", max_chars=500) if old else ""
        if controls.submit(
            Act.AMEND if old else Act.RUN_DAY, "Mend the time" if old else "Enter the time", type="primary"
        ):
            _done(lambda: _keep(screen, times, actor, old, (person, role, group or None), (came, left), why))
    if old:
        _take_back("span", times, {old.span: old.words}, lambda who, line, reason: timing.take_back_time(
            screen.ledger, who, times.session, line, reason), actor)  # fmt: skip


def _keep(
    screen: Screen,
    times: SessionTimes,
    actor: str | None,
    old: EnteredTime | None,
    what: tuple[str | None, SpanRole | None, str | None],
    clocks: tuple[tuple[str, bool | None], tuple[str, bool | None]],
    why: str,
) -> str:
    person, role, group = what
    session = screen.course.sessions[times.session]
    if person is None:
        raise RefusedError("Choose the person first. Nothing was changed.")
    (came, came_second), (left, left_second) = clocks
    start = at_clock(session.start, came, second=came_second)
    end = at_clock(session.end, left, second=left_second)
    if old is None:
        timing.enter_time(
            screen.ledger, _somebody(actor), session.id, person, start, end, role=role, group=group
        )  # fmt: skip
        return "The time is entered."
    timing.mend_time(
        screen.ledger, _somebody(actor), session.id, old.span, why, start=start, end=end, role=role or old.role,
        group=group,
    )  # fmt: skip
    return "Mended: the line before it stays to be read."


# --- visibility ----------------------------------------------------------------------------------------------------


def visibility_part(screen: Screen, times: SessionTimes, actor: str | None) -> None:
    """Where the requirements speak of low visibility: what holds, and one tap to call it low or to take that back."""
    if not times.visibility:
        return
    st.markdown(plain(times.visibility))
    label = "The visibility was not low after all" if times.called_low else "Call the visibility low"
    if controls.button(Act.RUN_DAY, label, key=f"visibility-{times.session}"):
        at = observed_at(now(), screen.course.course.zone)
        low = not times.called_low
        _done(lambda: _called(screen, times, _somebody(actor), at, low=low))


def _called(screen: Screen, times: SessionTimes, actor: str, at: Observed, *, low: bool) -> str:
    timing.call_visibility(screen.ledger, actor, times.session, at, low=low)
    return "The stricter ratio holds for this session." if low else "The ordinary ratio holds again."


# --- shared --------------------------------------------------------------------------------------------------------


def at_clock(near: Observed, text: str, *, second: bool | None) -> Observed:
    """Return the moment nearest to another at which the clock of that place showed what was typed.

    Raises:
        RefusedError: it is no time of a day, never came, or came twice and nobody said which.
    """
    return clock_time_near(near, read_clock(text), second_time=second)


def clock_field(label: str, value: str, times: SessionTimes, key: str) -> tuple[str, bool | None]:
    """A time as the clock showed it and, where an hour came twice, which showing it was."""
    text = st.text_input(label, value, key=key, width=_NARROW, max_chars=5, placeholder="hh:mm")
    if not times.twice:
        return text.strip(), None
    shown = st.selectbox(f"{label}: {times.twice} came twice", list(_SHOWINGS), key=f"{key}-showing", width=200)
    return text.strip(), _SHOWINGS[shown]


def _take_back(
    kind: str,
    times: SessionTimes,
    standing: dict[str, str],
    act: Callable[[str, str, str], None],
    actor: str | None,
) -> None:
    with st.form(f"back-{kind}-{times.session}-{len(standing)}"):
        line = st.selectbox("Take a line back", list(standing), format_func=standing.__getitem__)
        why = st.text_input("Reason for taking it back", max_chars=500)
        if controls.submit(Act.AMEND, "Take it back", key=f"back-{kind}"):
            _done(lambda: _taken_back(act, _somebody(actor), line, why))


def _taken_back(act: Callable[[str, str, str], None], actor: str, line: str, why: str) -> str:
    act(actor, line, why)
    return "Taken back: the line stays to be read."


def _somebody(actor: str | None) -> str:
    if actor is None:
        raise RefusedError("Say who you are first. Nothing was changed.")
    return actor


def _done(act: Callable[[], str]) -> None:
    """Run an act and say what came of it; what was typed stays where it was refused."""
    sentence = telling(act)()
    if sentence is not None:
        st.session_state["told"] = ("done", sentence)
    st.rerun()
