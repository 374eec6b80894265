"""Forms of the People page: each makes one thing through an action and says what came of it."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import available_timezones

import streamlit as st

from course import places
from course.access import Act
from course.actions import centre as centres
from course.actions import courses, gate_papers
from course.answers.alike import alike
from course.answers.days import day_words
from course.answers.gate_view import gate_choices
from course.answers.marking import deciders, session_words
from course.answers.standards_answer import current_standards
from course.asker import may_ask, only_asker
from course.errors import CourseError, RefusedError
from course.moments import from_wall_clock, now, observed_at, zone_named
from course.paper.fonts import why_not_set
from course.record.text import look_alike_note
from course.screens import controls
from course.screens.frame import Screen, done, fresh, literal, plain, telling
from course.standards.standards import Standards
from course.storage.lookup import adopted, in_force
from course.storage.rubric_files import read_folder
from course.words import ROLE_WORDS, SETTING_WORDS, STAFF, Role

_SHOWINGS = {"ask me": None, "I mean the first": False, "I mean the second": True}
_COURSE_ROLES = [Role.STUDENT, *STAFF]


def go_on(screen: Screen) -> None:
    """Once the course is ready, marking is one tap away."""
    ready = screen.seen is not None and screen.seen.students and screen.seen.sessions
    if ready and may_ask(Act.PRACTISE) and controls.way("Go to Mark", page="mark", type="primary"):
        st.switch_page(places.PAGES / "mark.py")


def next_step(screen: Screen) -> str:
    """The one sentence that says what comes next."""
    if screen.seen is None:
        return f"{screen.centre.name} has no course yet. Make one here."
    if not screen.seen.students:
        return "Enter your students, then put them on the course with their units."
    if not screen.seen.sessions:
        return "Plan the first session; then go to Mark."
    return f"{screen.seen.course.title} is ready for marking."


def course_form(screen: Screen) -> None:
    """Make a course on what is in force; before anything is, on the rubrics of the folder or on those that ship."""
    own = screen.ledger.folder / "rubrics"
    standards = current_standards(screen.ledger) or telling(read_folder)(own if own.is_dir() else places.RUBRICS)
    if standards is None:
        st.error("The centre's own rubric files cannot be used: run `course standards` on them to see every problem.")
        return
    profiles = {(p.id, p.revision): p for p in standards.profiles}
    zones = sorted(available_timezones())
    with st.form(fresh("new-course")):
        title = st.text_input("Name of the course", max_chars=120)
        chosen = st.selectbox(
            "Requirements", list(profiles), format_func=lambda key: f"{profiles[key].title}, revision {key[1]}"
        )
        first, last = st.columns(2)
        today = now().astimezone(zone_named(screen.centre.zone)).date()
        first_day = first.date_input("First day", today, format="YYYY-MM-DD")
        last_day = last.date_input("Last day", today + timedelta(days=4), format="YYYY-MM-DD")
        zone = st.selectbox("Time zone", zones, index=zones.index(screen.centre.zone))
        st.caption(plain(profiles[chosen].notice))
        if controls.submit(Act.SET_UP, "Make the course", type="primary"):
            done(
                _make_course(screen, standards, title, zone, chosen, str(first_day), str(last_day)),
                "The course is made.",
            )


@telling
def _make_course(
    screen: Screen,
    standards: Standards,
    title: str,
    zone: str,
    profile: tuple[str, str],
    first_day: str,
    last_day: str,
) -> str:
    current = in_force(screen.ledger)
    adoption = current.id if current else centres.adopt_standards(screen.ledger, screen.actor(), standards)
    course = courses.make_course(
        screen.ledger,
        screen.actor(),
        title=title,
        zone=zone,
        adoption=adoption,
        profile=profile[0],
        revision=profile[1],
        first_day=first_day,
        last_day=last_day,
    )
    st.query_params["course"] = course
    return course


def person_form(screen: Screen) -> None:
    """Enter a person, and put them on the course at once where there is one and its papers were seen."""
    with st.form(fresh("new-person")):
        name = st.text_input("Name", max_chars=200)
        role = st.selectbox("Role", _COURSE_ROLES, format_func=ROLE_WORDS.__getitem__)
        born = st.date_input(
            "Birth date (tells two of one name apart; needed in the water)", None, format="YYYY-MM-DD",
            min_value="1920-01-01",
        )  # fmt: skip
        units = {"": "no unit yet", **{u.id: u.label for u in screen.centre.units}}
        unit = st.selectbox("Unit", list(units), format_func=units.__getitem__)
        papers, by = _papers_seen(screen)
        same = st.session_state.get("may-be-same", ())
        other = bool(same) and st.checkbox(f"It is somebody else than {plain(' and '.join(k.name for k in same))}")
        if controls.submit(Act.SET_UP, "Enter the person", type="primary"):
            day = str(born) if born else None
            st.session_state["may-be-same"] = alike(screen.ledger, name, day)
            others = [known.id for known in same] if other else []
            entered = _enter(screen, name, role, day, others)
            if entered:
                st.session_state.pop("may-be-same")
            done(entered and _onto_course(screen, entered, name.strip(), role, unit, papers, by), "")


def _papers_seen(screen: Screen) -> tuple[list[str], str]:
    """Which papers that the course asks for were seen, and by whom; a medical one is noted on Gates."""
    if screen.seen is None or not (asked := gate_choices(screen.seen, medical=False)):
        return [], screen.actor()
    papers = st.pills(
        "Papers of a student that were seen today (medical: on Gates)",
        list(asked),
        format_func=lambda one: literal(asked[one]),
        selection_mode="multi",
    )
    staff = only_asker(deciders(screen.seen))
    if not staff:
        return [], screen.actor()
    return list(papers), st.selectbox("Seen by", list(staff), format_func=staff.__getitem__)


@telling
def _enter(screen: Screen, name: str, role: Role, born: str | None, others: list[str]) -> str:
    lead = screen.actor()
    return centres.add_person(screen.ledger, lead, name=name, roles=[role], birth_date=born, others=others)


def _onto_course(
    screen: Screen, person: str, name: str, role: Role, unit: str, papers: list[str], by: str
) -> tuple[str, str]:
    """Put a new person on the course; where a gate refuses that they are entered all the same, and it is told."""
    odd = look_alike_note(name)
    told = ("warning" if odd else "done", " ".join(filter(None, (f"{name} is entered.", odd))))
    if screen.seen is None:
        return told
    lead, course = screen.actor(), screen.seen.course
    try:
        for paper in papers if role == Role(screen.seen.profile.for_whom) else []:
            gate_papers.note_proof(screen.ledger, by, course.id, person, paper, str(screen.seen.today()))
        courses.enrol(screen.ledger, lead, course.id, person, role)
        if unit:
            courses.assign_unit(screen.ledger, lead, course.id, person, unit, course.first_day)
    except CourseError as error:
        return "warning", f"{told[1]} {error.sentence}"
    return told


def unit_form(screen: Screen) -> None:
    """Enter a unit."""
    types = _unit_types(screen)
    with st.form(fresh("new-unit")):
        label = st.text_input("Label on the unit, such as A-05", max_chars=40)
        unit_type = st.selectbox("Unit type", list(types), format_func=types.__getitem__)
        serial = st.text_input("Serial number, if there is one", max_chars=80)
        if controls.submit(Act.SET_UP, "Enter the unit", type="primary"):
            made = telling(centres.add_unit)(
                screen.ledger, screen.actor(), label=label, unit_type=unit_type, serial=serial
            )
            odd = look_alike_note(label)
            told = " ".join(filter(None, (f"Unit {label.strip()} is entered.", odd)))
            done(made and ("warning" if odd else "done", told), "")


def enrol_form(screen: Screen) -> None:
    """Put somebody on the course, with a unit."""
    names = {p.id: p.shown for p in screen.centre.people}
    units = {"": "no unit", **{u.id: u.label for u in screen.centre.units}}
    with st.form("enrol"):
        person = st.selectbox("Person", list(names), format_func=names.__getitem__, index=None)
        role = st.selectbox("Role on this course", _COURSE_ROLES, format_func=ROLE_WORDS.__getitem__)
        unit = st.selectbox("Unit", list(units), format_func=units.__getitem__)
        day = st.date_input("Unit from this day on", screen.course.course.first_day, format="YYYY-MM-DD")
        if controls.submit(Act.SET_UP, "Put on the course", type="primary"):
            if person is None:
                st.session_state["told"] = ("warning", "Choose the person first. Nothing was changed.")
                st.rerun()
            done(_enrol(screen, person, role, unit, str(day)), f"{names[person]} is on the course.")


@telling
def _enrol(screen: Screen, person: str, role: Role, unit: str, day: str) -> bool:
    course = screen.course.course.id
    now_on = screen.course.course.assignment(person, day)
    if unit and now_on and now_on.unit != unit:
        raise RefusedError(
            f"{screen.course.name(person)} dives another unit on this course. Change it on Units, which shows first "
            "what carries over and what begins anew. Nothing was changed."
        )
    courses.enrol(screen.ledger, screen.actor(), course, person, role)
    if unit:
        courses.assign_unit(screen.ledger, screen.actor(), course, person, unit, day)
    return True


def session_form(screen: Screen) -> None:
    """Plan a session; an hour that the clocks show twice is asked for."""
    with st.form(fresh("new-session")):
        title = st.text_input("Name of the session, such as Pool 1", max_chars=120)
        setting = st.selectbox("Setting", list(SETTING_WORDS), index=2, format_func=SETTING_WORDS.__getitem__)
        place = st.text_input("Place", max_chars=120)
        day_box, start_box, end_box = st.columns(3)
        day = day_box.date_input("Day", screen.course.today(), format="YYYY-MM-DD")
        start = start_box.time_input("From", time(9, 0), step=timedelta(minutes=5))
        end = end_box.time_input("To", time(12, 0), step=timedelta(minutes=5))
        showing = st.selectbox("If the clocks show that hour twice", list(_SHOWINGS))
        if controls.submit(Act.SET_UP, "Plan the session", type="primary"):
            began, ended = datetime.combine(day, start), datetime.combine(day, end)
            ended = ended + timedelta(days=1) if ended <= began else ended
            done(
                _plan(screen, title, setting, place, began, ended, second=_SHOWINGS[showing]),
                f"{title.strip()} is planned.",
            )


@telling
def _plan(
    screen: Screen, title: str, setting: str, place: str, began: datetime, ended: datetime, *, second: bool | None
) -> str:
    zone = screen.course.course.zone
    start, end = (from_wall_clock(t, zone, second_time=second) for t in (began, ended))
    return courses.plan_session(
        screen.ledger,
        screen.actor(),
        course=screen.course.course.id,
        title=title,
        setting=setting,
        place=place or None,
        start=observed_at(start, zone, "minute"),
        end=observed_at(end, zone, "minute"),
    )


def course_overview(screen: Screen) -> None:
    """Who is on the course and which sessions it has."""
    seen = screen.course
    st.subheader(f"On {plain(seen.course.title)}")
    for member in seen.course.members:
        unit = seen.unit_of(member.person, seen.last_day)
        tail = f" · {unit.label}" if unit and member.role == Role.STUDENT else ""
        st.text(f"{seen.name(member.person)} · {ROLE_WORDS[member.role]}{tail}")
    st.subheader("Sessions")
    for session in seen.sessions.values():
        st.text(session_words(session))


def everybody(screen: Screen) -> None:
    """Everybody in the centre; instructors with their last check on a unit type."""
    st.subheader("In the centre")
    types = _unit_types(screen)
    with st.container():  # one more person leaves the forms after it where they are, open and with what is typed
        for person in screen.centre.people:
            roles = ", ".join(ROLE_WORDS[role] for role in person.roles)
            checks = "; ".join(
                f"checked on {types.get(unit_type, unit_type)} {day_words(datetime.fromisoformat(day).date())}"
                for unit_type, day in screen.centre.check_outs.get(person.id, ())
            )
            st.text(" · ".join(part for part in (person.shown, roles, checks) if part))
    st.caption("An instructor without a check entered for a unit type counts as current on it.")
    for person in screen.centre.people:
        if why := why_not_set(person.shown, "The name"):
            st.warning(literal(f"No paper can name this person. {why}"))


def _unit_types(screen: Screen) -> dict[str, str]:
    if screen.seen is not None:
        types = adopted(screen.ledger, screen.seen.course.adoption).standards.unit_types
    else:
        types = read_folder(places.RUBRICS).unit_types
    return {t.id: t.title for t in types.values()}
