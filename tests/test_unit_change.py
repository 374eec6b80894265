"""A unit change in mid-course: which evidence carries over, which does not, what is new, which steps change."""

from __future__ import annotations

from collections import Counter
from datetime import date

import pytest
from centre_builder import POOL_SKILL, Centre, seen_at
from course_text import skill, step
from test_actions import STRANGER
from test_actions import _sign as sign_it

from course.actions import courses as planning
from course.actions import unit_care
from course.actions.centre import add_unit
from course.answers.unit_change import unit_change
from course.assessment.sentences import standing_line
from course.assessment.unit_change import Carry, skill_change
from course.errors import NotFoundError
from course.standards.rubric import Needs, Skill
from course.standards.standards import Standards
from course.standards.units import UnitType
from course.words import StandingState

DAY = date(2026, 10, 25)


def kind(name: str, *features: str) -> UnitType:
    """An invented unit type."""
    return UnitType(id=name, title=name, features=features, service_days=365, cell_days=365)


def with_steps(**more: object) -> Skill:
    """A plain step, one for a solenoid, one for an orifice."""
    return skill(
        [
            step("plain"),
            step("solenoid-step", only_if=Needs(all=("solenoid",))),
            step("orifice-step", only_if=Needs(all=("orifice",))),
        ],
        reteach=0,
        **more,
    )


SOLENOID, ORIFICE, BOTH = kind("type-s", "solenoid"), kind("type-o", "orifice"), kind("type-b", "solenoid", "orifice")
NEEDS_SOLENOID = with_steps().model_copy(update={"needs": Needs(all=("solenoid",))})


@pytest.mark.parametrize(
    ("of", "before", "after", "carry"),
    [
        (with_steps(), SOLENOID, SOLENOID, Carry.CARRIES_OVER),
        (with_steps(), SOLENOID, ORIFICE, Carry.ANEW),
        (with_steps(same_unit_type=False), SOLENOID, ORIFICE, Carry.CARRIES_OVER),
        (with_steps(), None, ORIFICE, Carry.ANEW),
        (NEEDS_SOLENOID, SOLENOID, ORIFICE, Carry.GONE),
        (NEEDS_SOLENOID, ORIFICE, SOLENOID, Carry.NEW),
        (NEEDS_SOLENOID, None, SOLENOID, Carry.NEW),
        (NEEDS_SOLENOID, ORIFICE, ORIFICE, None),
        (NEEDS_SOLENOID, SOLENOID, BOTH, Carry.ANEW),
    ],
)
def test_what_becomes_of_a_skill(of: Skill, before: UnitType | None, after: UnitType, carry: Carry | None) -> None:
    found = skill_change(of, before, after)
    assert (found and found.carry) == carry


def test_steps_that_newly_apply_and_that_fall_away_inside_a_skill_that_carries_over() -> None:
    found = skill_change(with_steps(same_unit_type=False), SOLENOID, ORIFICE)
    assert found is not None
    assert [one.id for one in found.steps_new] == ["orifice-step"]
    assert [one.id for one in found.steps_gone] == ["solenoid-step"]
    more = skill_change(with_steps(), SOLENOID, BOTH)
    assert more is not None
    assert ([one.id for one in more.steps_new], more.steps_gone) == (["orifice-step"], ())


def test_a_change_there_and_back_are_each_others_mirror(standards: Standards) -> None:
    """Whatever is new one way is gone the other; steps change sides too."""
    a, b = standards.unit_type("type-a"), standards.unit_type("type-b")
    mirror = {Carry.NEW: Carry.GONE, Carry.GONE: Carry.NEW}
    for one in standards.skills.values():
        there, back = skill_change(one, a, b), skill_change(one, b, a)
        assert (there is None) == (back is None)
        if there and back:
            assert back.carry == mirror.get(there.carry, there.carry)
            assert (back.steps_new, back.steps_gone) == (there.steps_gone, there.steps_new)


def test_on_a_unit_of_the_same_type_everything_carries_over(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    other = add_unit(c.ledger, c.lead, label="A-06", unit_type="type-a")
    change = unit_change(c.view(), c.amaru, other, DAY)
    assert {row.carry for row in change.rows} == {Carry.CARRIES_OVER}
    assert all(row.now == row.after and row.steps == () for row in change.rows)
    assert change.kept.startswith("Both are of one type")
    assert change.sentence.startswith("Amaru Tendelle from A-05 · Unit type A to A-06 · Unit type A on 25 Oct 2026: ")


def test_on_another_type_the_record_begins_anew_and_holds_again_on_the_way_back(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    change = unit_change(c.view(), c.amaru, c.unit_b, DAY)
    (row,) = [row for row in change.rows if row.skill == POOL_SKILL]
    assert (row.carry, row.now, row.after) == (Carry.ANEW, "met: 25 Oct 2026", "not started")
    assert "shown grey and holds again on Unit type A" in change.kept
    planning.assign_unit(c.ledger, c.lead, c.course, c.amaru, c.unit_b, "2026-10-25")
    assert c.view().standing(c.amaru, c.skill(), DAY).state == StandingState.NOT_STARTED
    back = unit_change(c.view(), c.amaru, c.unit_a, DAY)
    (row,) = [row for row in back.rows if row.skill == POOL_SKILL]
    assert (row.now, row.after) == ("not started", "met: 25 Oct 2026")


def test_what_is_shown_before_is_what_holds_after_it_is_assigned(small_centre: Centre) -> None:
    """The table's last column against the standings once the unit is assigned, skill by skill."""
    c = small_centre
    c.hold()
    change = unit_change(c.view(), c.amaru, c.unit_b, DAY)
    planning.assign_unit(c.ledger, c.lead, c.course, c.amaru, c.unit_b, DAY.isoformat())
    seen = c.view()
    for row in change.rows:
        one = c.skill(row.skill)
        standing = seen.standing(c.amaru, one, DAY)
        assert (standing.state == StandingState.NOT_FOR_THIS_UNIT) == (row.carry == Carry.GONE)
        if row.carry != Carry.GONE:
            assert standing_line(standing, one) == row.after
    shown = {row.skill for row in change.rows if row.carry != Carry.GONE}
    assert {
        s.id for s in seen.skills() if seen.standing(c.amaru, s, DAY).state != StandingState.NOT_FOR_THIS_UNIT
    } == shown


def test_the_numbers_of_the_shipped_rubrics_are_told_before_the_change(small_centre: Centre) -> None:
    """114 attempts at least on unit type A and 105 on B, by the example rules (counted from the rubrics by hand)."""
    c = small_centre
    change = unit_change(c.view(), c.amaru, c.unit_b, DAY)
    carry = Counter(row.carry for row in change.rows)
    assert carry[Carry.CARRIES_OVER] == 0
    assert (carry[Carry.GONE], carry[Carry.NEW]) == (5, 1)
    assert "in 3 skills other steps apply" in change.sentence
    assert change.sentence.endswith("at least 105 attempts then, 114 without the change.")
    steps = {row.skill: row.steps for row in change.rows if row.steps}
    assert any(line.startswith("new: step 3, Measure the constant feed") for line in steps["chk-addition"])
    assert any(line.startswith("falls away: step 2, ") for line in steps["chk-addition"])


def test_what_was_seen_up_to_the_day_is_looked_at_and_no_later(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    (row,) = [r for r in unit_change(c.view(), c.amaru, c.unit_b, date(2026, 10, 22)).rows if r.skill == POOL_SKILL]
    assert row.now.startswith("not yet: 2 of 5")


def test_a_unit_on_hold_and_signatures_are_told(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    sign_it(c)
    unit_care.hold(c.ledger, c.lead, c.unit_b, seen_at(22, 9), "A tear.")
    change = unit_change(c.view(), c.amaru, c.unit_b, DAY)
    assert change.blocked.startswith("B-05 is on hold since Thu 22 Oct 09:00")
    assert "1 signature on Unit type A stays with it." in change.kept


def test_somebody_without_a_unit_and_a_unit_that_is_not_there(small_centre: Centre) -> None:
    c = small_centre
    assert unit_change(c.view(), c.candidate, c.unit_b, DAY).sentence.startswith("Jorun Vask from no unit to B-05")
    with pytest.raises(NotFoundError, match="no such unit"):
        unit_change(c.view(), c.amaru, STRANGER, DAY)
