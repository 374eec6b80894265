"""Forms of Gates: a paper that was seen, a consent, an exam and its gaps, an adjustment, leaving and coming back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import streamlit as st

from course.access import Act
from course.actions import amending, gate_papers
from course.answers.gate_view import gate_choices, is_medical
from course.answers.missing import student_exam
from course.hours.gates import left_on
from course.screens import choices, controls
from course.screens.frame import Screen, done, fresh, plain, telling
from course.words import STAFF

_CLEARED = {"yes": "Cleared", "no": "Not cleared"}
_STAGES = {"pool": "Pool", "open_water": "Open water"}


def proof_form(screen: Screen, actor: str, person: str) -> None:
    """A paper of the requirements: seen when, good until when; of a medical one only whether it clears."""
    seen = screen.course
    asked = gate_choices(seen)
    if not asked:
        st.text("These requirements ask for no paper.")
        return
    prerequisite = choices.one_of_many("Which paper?", asked, "proof-kind")
    medical = is_medical(seen, prerequisite)
    with st.form(fresh("proof")):
        if medical:
            st.caption(
                "Only whether a doctor clears is kept, and until when. The answers stay with the doctor's paper."
            )
            cleared = st.segmented_control(
                "Does it clear the person?", list(_CLEARED), format_func=_CLEARED.__getitem__
            )
        else:
            cleared = None
        first, second = st.columns(2)
        day = first.date_input("Seen on", seen.today(), format="YYYY-MM-DD")
        until = second.date_input("Good until, if it says so", None, format="YYYY-MM-DD")
        paper = st.text_input("Name and revision of the paper", max_chars=200)
        if controls.submit(Act.SET_UP, "Note that I saw it", type="primary"):
            _do(
                lambda: gate_papers.note_proof(
                    screen.ledger, actor, seen.course.id, person, prerequisite, str(day),
                    good_until=_iso(until), cleared=None if cleared is None else cleared == "yes", paper=paper,
                ),
                f"Noted: {asked[prerequisite]} of {seen.name(person)}.",
            )  # fmt: skip


def consent_form(screen: Screen, actor: str, person: str) -> None:
    """What a guardian agreed to."""
    seen = screen.course
    under = seen.profile.consent_under_years
    st.caption(
        f"Needed below {under} years for each stage in the water, on the day of each session. Local law decides."
    )
    with st.form(fresh("consent")):
        stages = st.pills("Agreed to", list(_STAGES), format_func=_STAGES.__getitem__, selection_mode="multi")
        guardian = st.text_input("Who agreed", max_chars=200)
        first, second = st.columns(2)
        day = first.date_input("Given on", seen.today(), format="YYYY-MM-DD", key="consent-day")
        until = second.date_input("Until, if it says so", None, format="YYYY-MM-DD", key=fresh("consent-until"))
        if controls.submit(Act.SET_UP, "Note the consent", type="primary"):
            _do(
                lambda: gate_papers.note_consent(
                    screen.ledger, actor, seen.course.id, person, stages=stages, day=str(day), guardian=guardian,
                    until=_iso(until),
                ),
                f"The consent for {seen.name(person)} is noted.",
            )  # fmt: skip


def exam_form(screen: Screen, actor: str, person: str) -> None:
    """The mark and the items missed, one a line; then the gaps that are still open."""
    seen = screen.course
    with st.form(fresh("exam")):
        first, second, third = st.columns(3)
        mark = first.text_input("Right", max_chars=12, placeholder="44")
        of = second.text_input("Out of", max_chars=12, placeholder="50")
        day = third.date_input("On", seen.today(), format="YYYY-MM-DD", key="exam-day")
        form = st.text_input("Which form of the exam", max_chars=200)
        items = st.text_area("Items missed, one a line: each is a gap to talk through on the dry day", max_chars=4000)
        if controls.submit(Act.SET_UP, "Note the exam", type="primary"):
            _do(
                lambda: gate_papers.note_exam(
                    screen.ledger, actor, seen.course.id, person, day=str(day), mark=mark.strip(), of=of.strip(),
                    items=items.splitlines(), form=form,
                ),
                f"The exam of {seen.name(person)} is noted.",
            )  # fmt: skip
    if person in seen.people:
        _gaps(screen, actor, person)


def _gaps(screen: Screen, actor: str, person: str) -> None:
    """One button a gap that is still open."""
    seen = screen.course
    for gap in student_exam(seen, person, max(seen.today(), seen.last_day)).gaps:
        if controls.button(
            Act.EVALUATE, f"Talked through: {plain(gap.item)}", key=f"gap-{gap.exam}-{gap.gap}", width="stretch"
        ):
            _do(
                lambda gap=gap: gate_papers.close_gap(  # type: ignore[misc]
                    screen.ledger, actor, person, gap.exam, gap.gap, day=str(seen.today())
                ),
                "The gap is closed.",
            )


def adjustment_form(screen: Screen, actor: str, person: str) -> None:
    """Another way of doing a skill, approved by the lead; a critical step goes only with the agency's waiver."""
    seen = screen.course
    skills = {skill.id: skill.title for skill in seen.skills()}
    skill = choices.one_of_many("Skill", skills, "adjust-skill")
    steps = {step.id: step.do for step in seen.adopted.skill(skill).steps}
    with st.form(fresh("adjustment")):
        how = st.text_area("How it is done instead: another hand, another signal", max_chars=1000)
        without = st.multiselect("Steps that are not asked", list(steps), format_func=steps.__getitem__)
        waiver = st.text_input("The agency's written waiver, needed where something critical can happen", max_chars=200)
        day = st.date_input("Approved on", seen.today(), format="YYYY-MM-DD", key="adjust-day")
        st.caption("Approved by the lead of the course alone. It stands on paper sheets, on the pad and on the record.")
        if controls.submit(Act.SET_UP, "Approve the adjustment", type="primary"):
            _do(
                lambda: gate_papers.approve_adjustment(
                    screen.ledger, actor, seen.course.id, person, skill, how=how, day=str(day), without=without,
                    waiver=waiver,
                ),
                f"The adjustment for {seen.name(person)} is approved.",
            )  # fmt: skip


def person_forms(screen: Screen, actor: str, person: str) -> None:
    """The birth date where it is missing, leaving or coming back, and a tie to somebody of the staff."""
    seen = screen.course
    fact = seen.people.person(person)
    if fact is not None and fact.birth_date is None:
        _birth_date(screen, actor, person)
    if person in seen.students and fact is not None:
        _turn(screen, actor, person, left=left_on(fact, seen.course.id) is not None)
        _interest(screen, actor, person)


def _birth_date(screen: Screen, actor: str, person: str) -> None:
    with st.form(fresh("born")):
        born = st.date_input("Birth date", None, format="YYYY-MM-DD", min_value="1920-01-01", key=fresh("born-day"))
        if controls.submit(Act.SET_UP, "Enter the birth date", type="primary"):
            _do(lambda: _enter_birth_date(screen, actor, person, born), "The birth date is entered.")


def _enter_birth_date(screen: Screen, actor: str, person: str, born: date | None) -> str | None:
    added = next(e.id for e in screen.ledger.events(person) if e.kind == "person_added/1")
    change = {"birth_date": _iso(born)}
    return amending.correct(screen.ledger, actor, added, "The birth date was not entered.", private_change=change)


def _turn(screen: Screen, actor: str, person: str, *, left: bool) -> None:
    seen = screen.course
    with st.form(fresh("turn")):
        day = st.date_input("On", seen.today(), format="YYYY-MM-DD", key="turn-day")
        why = st.text_input("Why, in a few words", max_chars=500, key=fresh("turn-why"))
        if not controls.submit(
            Act.SET_UP, "Comes back to the course" if left else "Leaves the course unfinished", key="leave-or-return"
        ):
            return
    if left:
        _do(
            lambda: gate_papers.return_to_course(
                screen.ledger, actor, seen.course.id, person, day=str(day), note=why
            ),
            f"{seen.name(person)} is back on the course.",
        )  # fmt: skip
    else:
        _do(
            lambda: gate_papers.leave_course(screen.ledger, actor, seen.course.id, person, day=str(day), why=why),
            f"{seen.name(person)} left the course; what was done stays.",
        )


def _interest(screen: Screen, actor: str, student: str) -> None:
    seen = screen.course
    staff = {p: seen.name(p) for p in seen.course.people(*STAFF) if p != student}
    with st.form(fresh("interest")):
        person = st.selectbox("Of the staff", list(staff), format_func=staff.__getitem__)
        note = st.text_input("Tie to this student: relative, employer", max_chars=500)
        if controls.submit(Act.SET_UP, "Note the tie"):
            _do(
                lambda: gate_papers.note_interest(
                    screen.ledger, actor, seen.course.id, person, student, day=str(seen.today()), note=note
                ),
                "The tie is noted for the lead and the audit.",
            )  # fmt: skip


def _do(act: Callable[[], object], sentence: str) -> None:
    """Do it, and say what came of it; a form that was refused keeps what was typed."""

    def whole() -> bool:
        act()
        return True

    done(telling(whole)(), sentence)


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None
