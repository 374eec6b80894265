"""Parts of Gates and Ready: each student's stages and papers, and one line a student of who has what is asked."""

from __future__ import annotations

import streamlit as st

from course.access import Act
from course.answers.course_view import CourseView
from course.answers.gate_view import GatesAnswer, StageLine, StudentGates
from course.answers.readiness import Readiness, ReadyLine
from course.asker import may_ask
from course.places import PAGES
from course.screens import controls
from course.screens.frame import plain
from course.words import Role, plural

_OPEN, _SHUT = "■", "□"
"""A full square is open or ready; the word beside it says so too."""


def is_lead(seen: CourseView, person: str) -> bool:
    """Whether somebody leads the course: the lead alone is told that a doctor did not clear a student."""
    return person in seen.course.people(Role.LEAD)


def student_gates(student: StudentGates, *, lead: bool) -> None:
    """One student: a line, and behind it every stage with its papers, age, exam and adjustments."""
    mark = _SHUT if any(not stage.open for stage in student.stages) else _OPEN
    tail = f" · {student.left}" if student.left else ""
    with st.expander(f"{mark} **{plain(student.name)}** · {plain(student.sentence)}{plain(tail)}"):
        for stage in student.stages:
            _stage(stage, lead=lead)
        more = [f"Age: {student.age}", *student.runs_out, *_exam_words(student)]
        st.markdown("\n".join(f"- {plain(line)}" for line in more))
        for line in student.adjustments:
            st.markdown(f"**Adjustment.** {plain(line)}")


def _stage(stage: StageLine, *, lead: bool) -> None:
    word = "open" if stage.open else "shut"
    st.markdown(f"{_OPEN if stage.open else _SHUT} **{stage.word.capitalize()}: {word}** · on {stage.days}")
    lines = [f"- {'' if gate.open else '**'}{plain(gate.for_lead if lead else gate.words)}{'' if gate.open else '**'}"
             for gate in stage.gates]  # fmt: skip
    st.markdown("\n".join(lines))


def _exam_words(student: StudentGates) -> list[str]:
    exam = student.exam.exam
    if exam is None:
        return ["No exam noted"]
    form = f", {exam.form}" if exam.form else ""
    gaps = student.exam.gaps
    told = f"{plural(len(gaps), 'gap')} open: {'; '.join(gap.item for gap in gaps)}" if gaps else "no gap open"
    return [f"Exam{form}: {exam.mark} of {exam.of}; {told}", *([student.exam.short] if student.exam.short else [])]


def interests(answer: GatesAnswer) -> None:
    """Ties between staff and students, for the lead and the audit."""
    st.subheader("Ties between staff and students", anchor=False)
    st.markdown("\n".join(f"- {plain(line)}" for line in answer.interests) or "None noted.")


def ready_lines(answer: Readiness) -> None:
    """One line a student, those who have all that is asked first; behind each what is short, and where to go."""
    for line in answer.lines:
        signable = "can be signed off" if line.all_signed else "standings to sign first"
        mark, word = (_OPEN, signable) if line.ready else (_SHUT, "not yet")
        word = "left" if line.left else word
        told = " · ".join([f"**{plain(line.name)}**", *([] if line.signed_off else [word]), plain(line.words)])
        with st.expander(f"{mark} {told}", key=f"ready-{line.student}"):
            st.markdown("\n".join(f"- {plain(one)}" for one in line.short) or "Nothing is short.")
            _ways(line)


def _ways(line: ReadyLine) -> None:
    """Where what is short can be looked at, or signed."""
    with st.container(horizontal=True, gap="small"):
        to_sign = line.ready and not line.signed_off and may_ask(Act.SIGN)
        if to_sign and controls.way("Sign on Course", page="course", key=f"sign-{line.student}", type="primary"):
            st.session_state.setdefault("kept-choices", {})["sign-student"] = line.student
            st.switch_page(PAGES / "course.py", query_params={"sign": line.student})
        if line.first_skill and controls.way("First open skill", page="course", key=f"skill-{line.student}"):
            query = {"student": line.student, "skill": line.first_skill}
            st.switch_page(PAGES / "course.py", query_params=query)
        if controls.way("Gates", page="gates", key=f"gates-{line.student}"):
            st.session_state.setdefault("kept-choices", {})["gate-person"] = line.student
            st.switch_page(PAGES / "gates.py")
