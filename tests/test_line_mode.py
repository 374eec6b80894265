"""A line of students at one skill: ids that two tablets know, attempts begun by their first mark, nothing else kept."""

from __future__ import annotations

from typing import Any

import pytest
from centre_builder import POOL_SKILL, Centre
from hypothesis import given
from hypothesis import strategies as st

from course.actions import courses as planning
from course.actions.pad import take
from course.answers.line import Line, line_at, line_pads, line_skills, sheet_of
from course.errors import CourseError, NotFoundError, RefusedError
from course.moments import derived_id, is_id, new_id
from course.record.facts import Attempt
from course.words import Role

DONE = {"marks": [{"step": "co-hold", "mark": "done"}]}
SEED = "019a0f7c-1234-7abc-8def-0123456789ab"


def line_of(c: Centre, *students: str, skill: str = POOL_SKILL, by: str = "", session: str = "pool-22") -> Line:
    return Line(new_id(), c.sessions[session], skill, by or c.lead, students or (c.amaru, c.zoe))


def item(pad: dict[str, Any], kind: str, body: dict[str, Any], **more: Any) -> dict[str, Any]:
    """A tap on one pad, as the tablet sends it."""
    plain = {
        "id": new_id(), "attempt": pad["attempt"], "student": pad["student"]["id"], "sheet": pad["sheet"], "kind": kind,
        "body": body, "tapped_at": "2026-10-22T15:10:00.000Z", "clock_offset_ms": 0,
    }  # fmt: skip
    return plain | more


def begun(pad: dict[str, Any], *taps: dict[str, Any]) -> list[dict[str, Any]]:
    """What a tablet sends with the first mark: the attempt's beginning, the sheet's, the marks."""
    opens = pad["opens"]
    first = [item(pad, "attempt_opened/1", opens["attempt"])] if opens["attempt"] else []
    first.append(item(pad, "sheet_started/1", opens["sheet"]))
    return first + [tap | {"id": new_id()} for tap in taps]  # ids sort in the order of tapping


def pads_of(c: Centre, line: Line, student: str) -> list[dict[str, Any]]:
    return [pad for pad in line_pads(c.ledger, line)["pads"] if pad["turn"] == student and not pad["within"]]


def attempts(c: Centre) -> list[Attempt]:
    return [fact for fact in c.ledger.facts("attempt") if isinstance(fact, Attempt)]


# --- ids -----------------------------------------------------------------------------------------------------------


@given(st.lists(st.text(max_size=20), max_size=4), st.lists(st.text(max_size=20), max_size=4))
def test_an_id_worked_out_twice_is_the_same_and_of_other_parts_another(one: list[str], other: list[str]) -> None:
    """RFC 9562, 5.7: version 7, variant 10; the first 48 bits are the seed's moment."""
    first = derived_id(SEED, *one)
    assert is_id(first)
    assert (first[:13], first[14], first[19] in "89ab") == (SEED[:13], "7", True)
    assert first == derived_id(SEED, *one)
    assert (first == derived_id(SEED, *other)) is ("\n".join(one) == "\n".join(other) and bool(one) == bool(other))


def test_a_seed_that_is_no_id_is_not_taken() -> None:
    with pytest.raises(ValueError, match="badly formed"):
        derived_id("a line", "x")


# --- nothing is kept before the first mark ---------------------------------------------------------------------------


def test_a_line_is_in_no_ledger_before_a_mark(small_centre: Centre) -> None:
    c = small_centre
    before = c.count()
    data = line_pads(c.ledger, line_of(c))
    assert [student["name"] for student in data["students"]] == ["Amaru Tendelle", c.view().name(c.zoe)]
    assert all(pad["opens"]["attempt"] and pad["events"] == [] for pad in data["pads"])
    assert (c.count(), attempts(c)) == (before, [])


def test_the_first_mark_begins_the_attempt_of_that_student_alone(small_centre: Centre) -> None:
    c = small_centre
    line = line_of(c)
    first = pads_of(c, line, c.zoe)[0]
    items = begun(first, item(first, "marks_given/1", DONE))
    answer = take(c.ledger, items)
    assert answer.refused == ()
    (attempt,) = attempts(c)
    assert (attempt.id, attempt.student, attempt.skill, attempt.number) == (first["attempt"], c.zoe, POOL_SKILL, 1)
    assert [mark.step for mark in attempt.sheets[0].marks] == ["co-hold"]
    assert c.ledger.event(items[0]["id"]) is not None
    after = pads_of(c, line, c.zoe)
    assert [(pad["number"], pad["opens"] is None) for pad in after] == [(1, True), (2, False), (3, False)]
    assert [pad["opens"] is None for pad in pads_of(c, line, c.amaru)] == [False, False]


def test_the_beginning_sent_twice_or_by_two_tablets_begins_one_attempt(small_centre: Centre) -> None:
    """The same line on two tablets: other event ids, the same attempt and sheet."""
    c = small_centre
    line = line_of(c)
    pad = pads_of(c, line, c.amaru)[0]
    one = begun(pad, item(pad, "marks_given/1", DONE))
    other = begun(pad, item(pad, "marks_given/1", {"marks": [{"step": "co-hand", "mark": "done"}]}))
    for items in (one, one, other, other):
        answer = take(c.ledger, items)
        assert (answer.refused, answer.saved) == ((), tuple(i["id"] for i in items))
    (attempt,) = attempts(c)
    assert sorted(mark.step for mark in attempt.sheets[0].marks) == ["co-hand", "co-hold"]
    kinds = [event.kind for event in c.ledger.events(attempt.id)]
    assert (kinds.count("attempt_opened/1"), kinds.count("sheet_started/1"), kinds.count("marks_given/1")) == (1, 1, 2)


def test_each_try_has_its_own_number_in_the_order_in_which_it_began(small_centre: Centre) -> None:
    c = small_centre
    line = line_of(c, c.amaru)
    for number in (1, 2, 3):
        pad = next(pad for pad in pads_of(c, line, c.amaru) if pad["opens"])
        assert take(c.ledger, begun(pad, item(pad, "marks_given/1", DONE))).refused == ()
        assert c.attempt(pad["attempt"]).number == number
    assert len(pads_of(c, line, c.amaru)) == 5


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"skill": "no-such-skill"}, "no-such-skill"),
        ({"session": "dry"}, "session: is not an id"),
        ({"observer": "zoe"}, "may fill a practice sheet; this person is student"),
        ({"observer": "amaru"}, "may fill a practice sheet; this person is student"),
        ({"session": new_id()}, "There is no such session"),
        ({"colour": "red"}, "colour: is not known here."),
    ],
)
def test_a_beginning_that_does_not_fit_is_refused_and_nothing_is_opened(
    small_centre: Centre, change: dict[str, Any], told: str
) -> None:
    c = small_centre
    pad = pads_of(c, line_of(c), c.amaru)[0]
    names = {"zoe": c.zoe, "amaru": c.amaru}
    body = pad["opens"]["attempt"] | {key: names.get(value, value) for key, value in change.items()}
    before = c.count()
    answer = take(c.ledger, [item(pad, "attempt_opened/1", body), item(pad, "marks_given/1", DONE)])
    assert (answer.saved, c.count()) == ((), before)
    (_, first), (_, second) = answer.refused
    assert told in first
    assert second.startswith("There is no such attempt")


def test_one_attempt_id_for_another_student_is_refused(small_centre: Centre) -> None:
    c = small_centre
    pad = pads_of(c, line_of(c), c.amaru)[0]
    take(c.ledger, begun(pad, item(pad, "marks_given/1", DONE)))
    odd = item(pad, "attempt_opened/1", pad["opens"]["attempt"], student=c.zoe)
    ((_, told),) = take(c.ledger, [odd]).refused
    assert "for another student, session or skill than this tablet shows" in told


def test_a_second_observer_begins_a_sheet_of_their_own_with_the_first_mark(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    line = line_at(c.ledger, {"attempt": opened.attempt, "by": c.second})
    pad = line_pads(c.ledger, line)["pads"][0]
    assert pad["opens"] == {"attempt": None, "sheet": {"observer": c.second}}
    assert pad["others"] == [{"observer": c.lead, "marked": 0, "whole": False}]
    assert take(c.ledger, begun(pad, item(pad, "marks_given/1", DONE))).refused == ()
    sheets = c.attempt(opened.attempt).sheets
    assert [(sheet.observer, len(sheet.marks)) for sheet in sheets] == [(c.lead, 0), (c.second, 1)]
    again = line_pads(c.ledger, line_at(c.ledger, {"attempt": opened.attempt, "by": c.second}))["pads"][0]
    assert (again["sheet"], again["opens"]) == (sheet_of(opened.attempt, c.second), None)


def test_a_second_sheet_of_one_observer_is_refused(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open()
    pad = {"attempt": opened.attempt, "student": {"id": c.amaru}, "sheet": new_id()}
    ((_, told),) = take(c.ledger, [item(pad, "sheet_started/1", {"observer": c.lead})]).refused
    assert told.startswith("This observer has a sheet of this attempt already")


# --- the line's address ----------------------------------------------------------------------------------------------


def test_the_address_holds_the_line(small_centre: Centre) -> None:
    line = line_of(small_centre)
    assert line_at(small_centre.ledger, line.address()) == line


@pytest.mark.parametrize(
    "change",
    [
        {"line": "x"}, {"students": ""}, {"students": "x"}, {"by": ""}, {"session": new_id()}, {"skill": "none"},
        {"students": ",".join(new_id() for _ in range(13))}, {"students": new_id()}, {"skill": "asm-bench"},
    ],
)  # fmt: skip
def test_an_address_that_names_nothing_gets_a_sentence(small_centre: Centre, change: dict[str, str]) -> None:
    c = small_centre
    with pytest.raises(CourseError):
        line_pads(c.ledger, line_at(c.ledger, line_of(c).address() | change))


def test_a_stale_attempt_in_the_address_gets_a_sentence(small_centre: Centre) -> None:
    c = small_centre
    with pytest.raises(NotFoundError, match="There is no such attempt"):
        line_at(c.ledger, {"attempt": new_id(), "sheet": new_id()})
    with pytest.raises(NotFoundError, match="no such sheet"):
        line_at(c.ledger, {"attempt": c.open().attempt, "sheet": new_id()})


def test_a_skill_for_nobody_in_the_line_is_refused(small_centre: Centre) -> None:
    c = small_centre
    for who in (c.amaru, c.zoe):
        planning.assign_unit(c.ledger, c.lead, c.course, who, c.unit_b, "2026-10-20")
    standards = c.view().adopted.standards
    unit = standards.unit_types["type-b"]
    only_a = next(s for s in c.view().skills() if "pool" in s.setting and not s.needs.met_by(unit.feature_set))
    with pytest.raises(RefusedError, match="not for the unit of anybody in this line"):
        line_pads(c.ledger, line_of(c, skill=only_a.id))


def test_a_skill_of_some_units_names_whom_it_leaves_out(small_centre: Centre) -> None:
    c = small_centre
    planning.assign_unit(c.ledger, c.lead, c.course, c.zoe, c.unit_b, "2026-10-20")
    unit = c.view().adopted.standards.unit_types["type-b"]
    found = {s.skill: s for _, skills in line_skills(c.view(), c.sessions["pool-22"], (c.amaru, c.zoe)) for s in skills}
    only_a = next(s for s in c.view().skills() if "pool" in s.setting and not s.needs.met_by(unit.feature_set))
    assert found[only_a.id].students == (c.amaru,)
    assert found[only_a.id].line.endswith(f"not for the unit of {c.view().name(c.zoe)}")
    assert found[POOL_SKILL].line == "2 students: 2 not started"


def test_a_candidate_s_line_is_of_practice_sheets(small_centre: Centre) -> None:
    c = small_centre
    pad = pads_of(c, line_of(c, c.amaru, by=c.candidate), c.amaru)[0]
    assert pad["capacity"] == "practice"
    take(c.ledger, begun(pad, item(pad, "marks_given/1", DONE)))
    assert c.attempt(pad["attempt"]).sheets[0].role == Role.CANDIDATE
