"""Parts of the Today page: who is in, with one tap in or out; what each student needs; what stands open."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import partial
from typing import Literal

import streamlit as st

from course.access import Act, Sight
from course.actions import presence
from course.answers.course_view import CourseView
from course.answers.gate_view import door_words
from course.answers.needs_today import StudentToday
from course.answers.today import TodayAnswer, day_choices, today
from course.answers.who_is_in import GroupNow, PersonRow, SessionNow, Whereabouts, session_now
from course.asker import may_ask
from course.moments import Observed, clock_time_near, new_id, now, observed_at, training_day
from course.places import PAGES
from course.record.facts import Session
from course.screens import controls
from course.screens.frame import Screen, drawn_alone, plain, show_told, telling
from course.screens.group_picture import group_picture, legend, whereabouts_shape
from course.words import plural

_SHOWINGS = {"the hour comes once": None, "the first showing": False, "the second showing": True}
_STILL = """
[class*="st-key-row-"] { min-height: 64px; } [class*="st-key-ratio-"]:has(img) { min-height: 128px; }
[class*="st-key-row-"] p { margin: 0; } [class*="st-key-row-"] [data-testid="stMarkdownContainer"] { margin: 0; }
@media (max-width: 900px) {
  [class*="st-key-row-"] { min-height: 72px; } [class*="st-key-ratio-"]:has(img) { min-height: 144px; }
  [class*="st-key-ratio-"] { min-height: 56px; } }
"""
"""Rows and ratio keep their height whatever is said in them."""
_AWAY = (Whereabouts.OUT, Whereabouts.NOT_YET)
_MOST_LINES = 6
"""More of one kind are folded."""


def choose(screen: Screen) -> TodayAnswer:
    """Let the person choose the day and the session; the address holds the session."""
    seen = screen.course
    wanted = st.query_params.get("session", "")
    days = day_choices(seen)
    usual = training_day(seen.sessions[wanted].start) if wanted in seen.sessions else seen.usual_day
    with st.container(horizontal=True):
        day = st.selectbox("Day", list(days), index=list(days).index(usual), format_func=days.__getitem__, width=240)
        answer = today(screen.ledger, seen, day, now(), wanted)
        if answer.session is not None:
            ids = list(answer.sessions)
            chosen = st.selectbox(
                "Session",
                ids,
                index=ids.index(answer.session),
                format_func=answer.sessions.__getitem__,
                key=f"at-{day}",
            )
            if chosen != answer.session:
                st.query_params["session"] = chosen
                st.rerun()
    if wanted and wanted not in answer.sessions:
        del st.query_params["session"]
    return answer


@drawn_alone(Sight.TODAY)
def who_is_in(screen: Screen, session: str, actor: str, *, live: bool) -> None:
    """Everybody of a session, group by group; a tap reads and draws this part alone."""
    show_told()
    st.html(f"<style>{_STILL}</style>")
    seen, at = screen.course, None
    before = session_now(screen.ledger, seen, session, now(), live=live)
    if not live and len(before.instants) > 1:
        word = next(word for word, moment in before.instants.items() if moment == before.at)
        chosen = st.pills("As it was at", list(before.instants), default=word, key=f"as-it-was-{session}")
        at = before.instants.get(chosen or word)
    shown = before if live else session_now(screen.ledger, seen, session, now(), live=live, at=at)
    if shown.held:
        st.warning(plain(shown.held))
    for place in range(0, len(shown.groups), 2):
        for box, group in zip(st.columns(2, gap="medium"), shown.groups[place : place + 2], strict=False):
            with box:
                _group(screen, shown, group, actor)
    st.markdown(_in_all(shown))
    st.html(legend())
    if may_ask(Act.AMEND):
        st.caption("A wrong In or Out is mended on Hours, in this session, under “Enter or mend who was there”.")
    for group in shown.groups:
        _what_follows(group)
    asking = st.session_state.get("asking")
    if isinstance(asking, _Tap) and asking.shown.session == session:
        _ask_time(asking)
    at_the_door = st.session_state.get("at-the-door")
    if isinstance(at_the_door, _Tap) and at_the_door.shown.session == session:
        _ask_at_the_door(at_the_door)


def _in_all(shown: SessionNow) -> str:
    """How many are in, in one line that is always there; nobody in is said too, since it is what one looks for."""
    where = "in the water's session" if shown.in_water else "in"
    return f"{plural(shown.present, 'person', 'people')} {where}." if shown.present else f"Nobody is {where}."


def to_days_end(answer: TodayAnswer, day: date) -> None:
    """The way to where a missing person is called again and an open time gets its end."""
    if answer.at_its_end and controls.way("Go to Day's end", page="day", type="primary", key="to-days-end"):
        st.session_state.setdefault("kept-choices", {})["end-day"] = day.isoformat()
        st.switch_page(PAGES / "day.py")


def _group(screen: Screen, shown: SessionNow, group: GroupNow, actor: str) -> None:
    """Above the people stands only what keeps its height, so that no row moves when somebody comes or goes."""
    st.subheader(plain(group.name), anchor=False)
    with st.container(key=f"ratio-{shown.session}-{group.group or 'none'}", gap="xxsmall"):
        if group.group or not shown.grouped:
            st.html(group_picture(group.figures, in_water=shown.in_water, told=group.ratio))
        bar = "▌ " if group.broken else ""
        st.markdown(f"**{bar}{plain(group.ratio)}** {group.room}")
    for row in group.rows:
        _row(screen, shown, group, row, actor)
    _everyone(screen, shown, group, actor)


def _what_follows(group: GroupNow) -> None:
    """What happens if somebody leaves, and breaks until now; below all rows, since these lines come and go."""
    told = [*(one.sentence for one in group.if_leaves), *group.breaks, group.low_visibility]
    lines = [plain(line) for line in told if line]
    if lines:
        st.markdown("  \n".join([f"**{plain(group.name)}**", *lines]))


def _row(screen: Screen, shown: SessionNow, group: GroupNow, row: PersonRow, actor: str) -> None:
    """In stands left of out and neither moves: a second tap on the same place finds a button that does nothing."""
    key = f"{shown.session}-{group.group or 'none'}-{row.person}"
    inside = row.where == Whereabouts.IN
    came = partial(_tapped, _Tap(screen, shown, group, row, actor, "in"))
    left = partial(_tapped, _Tap(screen, shown, group, row, actor, "out"))
    with st.container(horizontal=True, vertical_alignment="center", wrap=False, key=f"row-{key}", gap="small"):
        st.html(whereabouts_shape(row.where), width=32)
        note = f"  \n**{plain(row.note)}**" if row.note else ""
        st.markdown(f"**{plain(row.name)}**  \n{plain(row.words)}{note}", width="stretch")
        controls.button(
            Act.RUN_DAY, "In", key=f"in-{key}", disabled=inside or bool(shown.held), width=64, on_click=came
        )
        controls.button(
            Act.RUN_DAY, "Out", key=f"out-{key}", disabled=not row.can_leave or shown.closed, width=64, on_click=left
        )


@dataclass(frozen=True)
class _Tap:
    """One tap on in or out, bound to what was on screen as it was made."""

    screen: Screen
    shown: SessionNow
    group: GroupNow
    row: PersonRow
    actor: str
    what: Literal["in", "out"]

    @property
    def id(self) -> str:
        """Made for what is on screen: the same tap twice is one act, and the next one is another."""
        ids: dict[tuple[str, ...], str] = st.session_state.setdefault("tap-ids", {})
        place = (self.shown.session, self.group.group, self.row.person, self.what, str(self.row.times))
        return ids.setdefault(place, new_id())

    def act(self, at: Observed, *, there_already: bool = False) -> None:
        """Come, move or leave at a moment."""
        ledger, session, person = self.screen.ledger, self.shown.session, self.row.person
        group = self.group.group or None
        if self.what == "out":
            presence.sign_out(ledger, self.actor, session, person, at, event_id=self.id)
        elif self.shown.live and self.row.where == Whereabouts.OTHER_GROUP:
            presence.move(ledger, self.actor, session, person, group, at, event_id=self.id)
        else:
            there = there_already or not self.shown.live
            presence.sign_in(
                ledger, self.actor, session, person, at, group=group, there_already=there, event_id=self.id
            )

    @property
    def door(self) -> str:
        """Why a student does not come in; empty where nothing holds them back, or who comes is no student."""
        seen = self.screen.course
        comes = self.what == "in" and self.row.where != Whereabouts.OTHER_GROUP and self.row.person in seen.students
        return door_words(seen, seen.sessions[self.shown.session], self.row.person) if comes else ""


def _tapped(tap: _Tap) -> None:
    """Today it is now, but for a shut gate; a day that is not today is a record, and its time is asked for."""
    if tap.shown.live and tap.door:
        st.session_state["at-the-door"] = tap
    elif tap.shown.live:
        telling(tap.act)(_this_moment(tap.screen))
    else:
        st.session_state["asking"] = tap


def _everyone(screen: Screen, shown: SessionNow, group: GroupNow, actor: str) -> None:
    """Both stand there at all times, so that nothing below them moves."""
    if not shown.live or not group.rows:
        return
    if shown.grouped and not group.group:
        st.caption("“Everyone in” leaves out who is in no group: put them in one below, or tap In for each.")
        return
    key, session, of = f"{shown.session}-{group.group or 'none'}", shown.session, group.group or None

    def all_in() -> None:
        came = telling(presence.everyone_in)(screen.ledger, actor, session, of, _this_moment(screen))
        if came is not None and (out := _kept_out(screen, session, [r for r in group.rows if r.person not in came])):
            st.session_state["told"] = ("warning", out)

    def all_out() -> None:
        telling(presence.everyone_out)(screen.ledger, actor, session, of, _this_moment(screen))

    with st.container(horizontal=True, gap="small"):
        nobody_comes = bool(shown.held) or not group.to_come
        controls.button(Act.RUN_DAY, "Everyone in", key=f"all-in-{key}", disabled=nobody_comes, on_click=all_in)
        controls.button(
            Act.RUN_DAY,
            "Everyone out",
            key=f"all-out-{key}",
            disabled=shown.closed or not group.present,
            on_click=all_out,
        )


def _kept_out(screen: Screen, session: str, rows: list[PersonRow]) -> str:
    """Students who did not come in with the others, each with what holds them back."""
    seen = screen.course
    of = seen.sessions[session]
    held = {r.name: door_words(seen, of, r.person) for r in rows if r.person in seen.students and r.where in _AWAY}
    return " ".join(f"{plain(name)} stays out. {plain(words)}" for name, words in held.items() if words)


def _ask_at_the_door(tap: _Tap) -> None:
    """A gate is shut: what is missing, and the one way on for somebody who is in already."""

    def there() -> None:
        telling(tap.act)(_this_moment(tap.screen), there_already=True)
        st.session_state.pop("at-the-door", None)

    @st.dialog(f"{plain(tap.row.name)} does not come in", on_dismiss=lambda: st.session_state.pop("at-the-door", None))
    def asked() -> None:
        st.markdown(f"{plain(tap.door)} Note the paper on Gates once you have seen it.")
        if controls.way("Open Gates", page="gates", type="primary", key="door-gates"):
            st.session_state.pop("at-the-door", None)
            st.session_state.setdefault("kept-choices", {})["gate-person"] = tap.row.person
            st.switch_page(PAGES / "gates.py")
        st.markdown("If they are there already, their time is noted all the same, and the missing paper is told.")
        if controls.button(Act.RUN_DAY, "They are there already: note the time", key="door-there", on_click=there):
            st.rerun()

    asked()


def _this_moment(screen: Screen) -> Observed:
    return observed_at(now(), screen.course.course.zone)


def _forget_question() -> None:
    st.session_state.pop("asking", None)


def _ask_time(tap: _Tap) -> None:
    """Ask at which time of a record somebody came or left; it stays until it is answered or put away."""
    session, coming = tap.screen.course.sessions[tap.shown.session], tap.what == "in"
    near = session.start if coming else session.end

    def enter() -> None:
        clock, second = st.session_state["late-time"], _SHOWINGS[st.session_state["late-showing"]]
        if clock is not None:
            telling(_at_clock)(tap, session, clock, second_time=second)
            _forget_question()

    @st.dialog(f"When did {plain(tap.row.name)} {'come' if coming else 'leave'}?", on_dismiss=_forget_question)
    def asked() -> None:
        st.time_input("Time", near.local.time().replace(second=0), step=timedelta(minutes=1), key="late-time")
        st.selectbox("If the clocks show that hour twice", list(_SHOWINGS), key="late-showing")
        if controls.button(Act.RUN_DAY, "Enter the time", type="primary", key="late-enter", on_click=enter):
            st.rerun()

    asked()


def _at_clock(tap: _Tap, session: Session, clock: time, *, second_time: bool | None) -> None:
    tap.act(clock_time_near(session.start, clock, second_time=second_time))


def needs(answer: TodayAnswer) -> None:
    """What each student still needs in the session, re-teach and critical first; a unit on hold is told loudly."""
    loud = dict.fromkeys(note.sentence for s in answer.students for note in s.unit_notes if note.loud)
    for sentence in loud:
        st.error(f"**{plain(sentence)}**")
    for student in answer.students:
        head = f"**{plain(student.name)}** · {plain(student.unit)}  \n{plain(student.sentence)}"
        with st.expander(head, key=f"needs-{student.student}"):
            _needs_of(student)


def _needs_of(student: StudentToday) -> None:
    for note in student.unit_notes:
        st.markdown(plain(note.sentence))
    for line in student.adjustments:
        st.markdown(f"**Adjustment.** {plain(line)}")
    if student.gaps:
        gaps = "\n".join(f"- {plain(gap)}" for gap in student.gaps)
        st.markdown(f"Missed in the exam, to talk through; closed on Gates:\n\n{gaps}")
    if student.needs:
        lines = [
            f"- {'▌ ' if need.critical else ''}{plain(need.title)} · {need.word}: {plain(need.line)}"
            for need in student.needs
        ]
        st.markdown("\n".join(lines))
        st.caption("A bar marks skills in which something critical can happen.")
    else:
        st.markdown("Nothing is missing that this session could bring.")


def stands_open(screen: Screen, answer: TodayAnswer, actor: str) -> None:
    """Attempts, times without an end, sheets, holds and faults that stand open, each with its way out."""
    opened = answer.open
    if not opened.count:
        st.markdown("Nothing: every attempt is closed, every sheet entered, everybody signed out.")
    for attempt in opened.attempts:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(plain(attempt.sentence), width="stretch")
            if controls.button(Act.PRACTISE, "Go on", key=f"go-{attempt.attempt}"):
                st.switch_page(PAGES / "mark.py", query_params={"attempt": attempt.attempt, "sheet": attempt.sheet})
    for open_time in opened.times:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.markdown(plain(open_time.sentence), width="stretch")
            label = f"Left at {open_time.planned_end.local:%H:%M}"
            if controls.button(
                Act.RUN_DAY, label, key=f"end-{open_time.session}-{open_time.person}", disabled=open_time.closed
            ):
                telling(presence.sign_out)(
                    screen.ledger, actor, open_time.session, open_time.person, open_time.planned_end
                )
                st.rerun()
    lines = [*opened.slips, *opened.holds, *opened.sheets]
    if lines:
        st.markdown("\n".join(f"- {plain(line)}" for line in lines))


def days_against_days(answer: TodayAnswer) -> None:
    """Skills that can no longer be finished as planned, and those for which every day that is left is needed."""
    if not (answer.lost or answer.tight or answer.last_chance):
        st.markdown("No skill is short of days.")
    if answer.lost:
        st.markdown("\n".join(f"- **{plain(line)}**" for line in answer.lost[:_MOST_LINES]))
        if more := answer.lost[_MOST_LINES:]:
            with st.expander(f"{plural(len(more), 'more skill')} like these", key="lost"):
                st.markdown("\n".join(f"- {plain(line)}" for line in more))
        st.markdown("Plan another day, or tell the student now.")
    if answer.tight:
        st.markdown("\n".join(f"- {plain(line)}" for line in answer.tight))
    if answer.last_chance:
        count = len(answer.last_chance)
        with st.expander(f"{plural(count, 'skill')} with one day left for what is missing", key="last-chance"):
            st.markdown("\n".join(f"- {plain(line)}" for line in answer.last_chance))


def no_session(seen: CourseView, answer: TodayAnswer, day: date) -> None:
    """A day without a session: the next one, and how to plan one."""
    coming = f" The next one: {plain(answer.next_session)}." if answer.next_session else " None is planned after it."
    st.markdown(f"No session of {plain(seen.course.title)} is on this day.{coming}")
    if controls.way("Plan a session on People", page="people", key=f"plan-{day}"):
        st.switch_page(PAGES / "people.py")
