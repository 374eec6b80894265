"""Every paper of the demo's course tells the same minutes, skills and ratios: they come from the same answers."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from finding_examples import set_clock

from course import sample
from course.answers.candidate_file import candidate_file
from course.answers.competency import competency_record
from course.answers.course_file import course_file
from course.answers.course_view import CourseView, view
from course.answers.filed_paper import FiledPaper, FiledSection
from course.answers.hours import course_breaks
from course.answers.missing import student_missing
from course.answers.oxygen import oxygen
from course.answers.statement import statement
from course.answers.transfer import carried
from course.answers.unit_history import unit_history
from course.storage.ledger import Ledger, open_ledger
from course.words import Role


@pytest.fixture(scope="module")
def demo(loaded: sample.Loaded) -> Iterator[tuple[Ledger, CourseView, FiledPaper]]:
    with pytest.MonkeyPatch.context() as patch:
        set_clock(patch)
        with open_ledger(loaded.folder) as ledger:
            seen = view(ledger, loaded.course)
            yield ledger, seen, course_file(ledger, seen, seen.last_day)


def section(paper: FiledPaper, title: str) -> FiledSection:
    (found,) = [one for one in paper.sections if one.title == title]
    return found


def test_each_students_minutes_are_the_same_in_course_file_statement_and_record(
    demo: tuple[Ledger, CourseView, FiledPaper],
) -> None:
    ledger, seen, whole = demo
    told = {line.strong: line.figures for line in section(whole, "Minutes").lines if line.text == "student"}
    assert len(told) == len(seen.students) == 6
    for student in seen.students:
        lines = section(statement(ledger, seen, student, seen.last_day), "Minutes").lines
        assert lines[-1].strong == "Together:"
        assert lines[-1].figures == told[seen.name(student)]
        for place in range(3):
            assert sum(int(line.figures[place]) for line in lines[:-1]) == int(lines[-1].figures[place])
        record = competency_record(ledger, seen, student, seen.last_day)
        (loop,) = [line.minutes for line in record.hours if line.kind == "in water on the loop"]
        assert str(loop) == told[seen.name(student)][1]


def test_oxygen_exposure_is_the_same_on_hours_in_course_file_and_in_each_statement(
    demo: tuple[Ledger, CourseView, FiledPaper],
) -> None:
    ledger, seen, whole = demo
    title, answer = "Oxygen exposure", oxygen(seen, seen.last_day)
    told = section(whole, title).lines
    assert [(one.strong, one.label, *one.figures) for one in told] == [
        (one.name, one.day, one.cns_single, one.cns_24h, one.otu_24h.removesuffix(" OTU")) for one in answer.lines
    ]
    over = {(one.name, one.day) for one in answer.lines if one.over or one.past_table}
    assert {(one.strong, one.label) for one in told if one.critical} == over
    assert over  # an instructor's two days are more than all of the table's limit
    assert {one.strong for one in told} >= {seen.name(one) for one in (*seen.students, *seen.course.people(Role.LEAD))}
    for student in seen.students:
        own = section(statement(ledger, seen, student, seen.last_day), title)
        assert own.lines == tuple(one for one in told if one.strong == seen.name(student))
        assert "none says that one more session is" in own.note


def test_each_students_transfer_file_carries_the_minutes_and_attempts_of_the_record(
    demo: tuple[Ledger, CourseView, FiledPaper],
) -> None:
    _, seen, _ = demo
    for student in seen.students:
        state = student_missing(seen, student, seen.last_day)
        told = carried(seen, student, seen.last_day)
        amounts = {one.item: one.amount for one in told.amounts}
        assert amounts == {
            **{f"hours:{one.kind}": one.minutes for one in state.hours},
            **{f"count:{one.kind}": one.have for one in state.requirements.counts},
        }
        for one in told.skills:
            standing = seen.standing(student, seen.adopted.skill(one.skill), seen.last_day)
            assert (one.attempts, one.standing) == (len(standing.history), standing.state.value)


def test_each_units_minutes_are_the_same_in_course_file_and_unit_history(
    demo: tuple[Ledger, CourseView, FiledPaper],
) -> None:
    ledger, seen, whole = demo
    told = {line.strong: line.figures[1:] for line in section(whole, "Minutes").lines if line.text.startswith("unit,")}
    labels = {unit.label: unit.id for unit in seen.units.values() if unit.label in told}
    assert len(labels) >= 6
    for label, unit in labels.items():
        (line,) = section(unit_history(ledger, seen, unit, seen.last_day), "Minutes in water").lines
        assert line.figures == told[label]


def test_skills_held_are_as_many_in_course_file_record_and_statement(
    demo: tuple[Ledger, CourseView, FiledPaper],
) -> None:
    ledger, seen, whole = demo
    told = {line.strong: line.text for line in section(whole, "Requirements met, or short by").lines}
    for student in seen.students:
        state = student_missing(seen, student, seen.last_day)
        count = f"{state.held} of {state.required} required skills held"
        assert told[seen.name(student)].startswith(count)
        assert competency_record(ledger, seen, student, seen.last_day).summary.startswith(count)
        paper = statement(ledger, seen, student, seen.last_day)
        assert count in paper.sentence
        assert len(section(paper, "Skills held").lines) >= state.held


def test_the_course_file_has_every_break_of_the_ratio_and_the_candidates_minutes(
    demo: tuple[Ledger, CourseView, FiledPaper],
) -> None:
    ledger, seen, whole = demo
    breaks = course_breaks(seen, seen.last_day)
    assert [line.strong for line in section(whole, "Breaks of the ratio").lines] == [one.where for one in breaks] != []
    (candidate,) = seen.course.people(Role.CANDIDATE)
    (line,) = section(candidate_file(ledger, seen, candidate, seen.last_day), "Minutes").lines
    assert line.figures in [
        one.figures for one in section(whole, "Minutes").lines if one.strong == seen.name(candidate)
    ]
