"""Fault slips: dry only, with their hold; shown in the water; found, missed, false alarms; cleared, list passed."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre, seen_at
from hypothesis import given
from hypothesis import strategies as st
from test_actions import STRANGER, refused

from course import places, sample
from course.actions import courses as planning
from course.actions import faults, unit_care
from course.actions.centre import add_person
from course.answers import faults as asked
from course.answers.course_view import CourseView, view
from course.answers.units import held_in_water, units_answer
from course.assessment.fault_count import count_faults
from course.errors import RefusedError
from course.moments import new_id
from course.record.events import Draft, SessionFrozen
from course.record.facts import Slip, Unit
from course.record.unit_facts import SlipReply
from course.standards.planted import PlantedFault, fits
from course.standards.standards import Standards
from course.storage.ledger import Ledger, open_ledger
from course.words import Role, SlipAnswer, SlipKind

HIT, MISSED, FALSE_ALARM = SlipAnswer.HIT, SlipAnswer.MISSED, SlipAnswer.FALSE_ALARM


@pytest.fixture
def odo(small_centre: Centre) -> str:
    """The technician."""
    c = small_centre
    person = add_person(c.ledger, c.lead, name="Odo Penhallick", roles=[Role.TECHNICIAN])
    planning.enrol(c.ledger, c.lead, c.course, person, Role.TECHNICIAN)
    return person


def plant(c: Centre, by: str = "", **more: Any) -> str:
    """Plant a fault in A-05 on the bench on Wednesday."""
    plain: dict[str, Any] = {
        "session": c.sessions["dry-21"], "how": SlipKind.PLANTED, "fault": "pf-tag", "unit": c.unit_a,
        "observed": seen_at(21, 13, 40),
    }  # fmt: skip
    return faults.set_fault(c.ledger, by or c.lead, **(plain | more))


def show(c: Centre, **more: Any) -> str:
    """Show a fault in the pool on Thursday."""
    plain: dict[str, Any] = {
        "session": c.sessions["pool-22"], "how": SlipKind.SHOWN, "fault": "fl-co2", "for_whom": [c.amaru],
        "observed": seen_at(22),
    }  # fmt: skip
    return faults.set_fault(c.ledger, c.lead, **(plain | more))


def unit_of(c: Centre) -> Unit:
    """A-05 as it stands."""
    fact = c.ledger.fact("unit", c.unit_a)
    assert isinstance(fact, Unit)
    return fact


def slip_of(c: Centre, slip: str) -> Slip:
    """A slip as it stands."""
    fact = c.ledger.fact("slip", slip)
    assert isinstance(fact, Slip)
    return fact


# --- planting -------------------------------------------------------------------------------------------------------


def test_planting_holds_the_unit_in_the_same_save(small_centre: Centre, odo: str) -> None:
    c = small_centre
    before = c.count()
    slip = plant(c, odo, for_whom=[c.amaru], bag="Bag 4")
    assert c.count() == before + 2
    assert [(hold.slip, hold.held_by, hold.since) for hold in unit_of(c).held] == [(slip, odo, seen_at(21, 13, 40))]
    assert (slip_of(c, slip).bag, slip_of(c, slip).set_by) == ("Bag 4", odo)


@pytest.mark.parametrize(("session", "setting"), [("pool-22", "pool"), ("open-24", "open water")])
def test_a_fault_is_never_planted_in_the_water(small_centre: Centre, session: str, setting: str) -> None:
    told = refused(small_centre, lambda c: plant(c, session=c.sessions[session], observed=seen_at(20)))
    assert told.startswith("A fault is planted on a bench only, and ")
    assert f" is {setting}. In the water faults are shown on a slip, never made." in told
    assert unit_of(small_centre).held == ()


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"unit": None}, "Say in which unit"),
        ({"unit": STRANGER}, "no such unit"),
        ({"fault": "pf-tga"}, 'no planted fault "pf-tga"'),
        ({"fault": "fl-co2"}, 'no planted fault "fl-co2"'),
        ({"session": STRANGER}, "no such session"),
        ({"for_whom": [STRANGER]}, "not on the course"),
        ({"bag": "B\u202e"}, "RIGHT-TO-LEFT OVERRIDE"),
    ],
)
def test_a_slip_that_does_not_fit_is_refused_and_holds_nothing(
    small_centre: Centre, more: dict[str, Any], told: str
) -> None:
    assert told in refused(small_centre, lambda c: plant(c, **more))
    assert unit_of(small_centre).held == ()


@pytest.mark.parametrize("by", ["assistant", "candidate", "amaru"])
def test_only_instructors_and_technicians_set_faults(small_centre: Centre, by: str) -> None:
    actor = getattr(small_centre, by)
    assert "look after units" in refused(small_centre, lambda c: plant(c, actor))


def test_whoever_plants_a_fault_does_not_look_for_it(small_centre: Centre) -> None:
    assert "knows it" in refused(small_centre, lambda c: plant(c, for_whom=[c.lead]))
    slip = plant(small_centre)
    assert "knows it" in refused(
        small_centre, lambda c: faults.answer_fault(c.ledger, c.second, slip, c.lead, HIT, seen_at(21, 14))
    )


def test_a_fault_that_no_step_of_the_unit_type_could_find_is_refused(
    small_centre: Centre, standards: Standards
) -> None:
    """Every shipped fault fits both types, so one that only a bailout valve's check could find is made up."""
    shipped = standards.planted_fault("pf-tag")
    made = PlantedFault(**shipped.model_dump() | {"found_in": ("chk-bailout-valve",), "found_step": ("first-draw",)})
    assert fits(made, standards.skills, standards.unit_type("type-a"))
    assert not fits(made, standards.skills, standards.unit_type("type-b"))
    for fault in standards.planted_faults.values():
        for unit_type in standards.unit_types.values():
            assert fits(fault, standards.skills, unit_type)
            assert not fits(fault, {}, unit_type)


def test_the_same_fault_is_in_a_unit_once_until_it_is_cleared(small_centre: Centre) -> None:
    c = small_centre
    slip = plant(c)
    assert "is planted in A-05 already" in refused(c, plant)
    plant(c, fault="pf-strap")
    faults.clear_fault(c.ledger, c.lead, slip, seen_at(21, 14))
    plant(c, observed=seen_at(21, 14, 30))
    assert len(unit_of(c).held) == 3


def test_no_fault_is_planted_in_a_unit_that_is_booked_for_the_water_this_minute(small_centre: Centre) -> None:
    """The pool session runs from 13:30 to 16:20; its end is free again."""
    c = small_centre
    for minute in ((13, 30), (16, 19)):
        told = refused(c, lambda c, m=minute: plant(c, observed=seen_at(22, *m)))
        assert "A-05 is booked for the water at this very time (Pool Of The 22)" in told
    plant(c, observed=seen_at(22, 16, 20))
    plant(c, unit=c.unit_b, observed=seen_at(22, 14))


def test_no_fault_is_set_in_a_session_that_is_frozen(small_centre: Centre) -> None:
    c = small_centre
    frozen = SessionFrozen(session=c.sessions["dry-21"], incident=new_id(), people=(c.amaru,), observed=seen_at(21))
    c.ledger.append([Draft(id=new_id(), actor=c.lead, body=frozen)])
    assert "is frozen after an incident" in refused(c, plant)


# --- clearing and the list ------------------------------------------------------------------------------------------


def test_the_hold_goes_only_when_the_fault_is_cleared_and_the_list_was_passed_after_it(
    small_centre: Centre, odo: str
) -> None:
    c = small_centre
    slip = plant(c, odo)
    (held,) = unit_of(c).held

    def passed(at: Any, by: str = "") -> Any:
        return lambda c: faults.pass_list_again(c.ledger, odo, c.unit_a, at, passed_by=by or odo)

    def lifted(**more: Any) -> Any:
        return lambda c: unit_care.release(c.ledger, odo, c.unit_a, held.id, seen_at(21, 15), **more)

    assert "still has a planted fault in it: Scrubber tag over its minutes" in refused(c, passed(seen_at(21, 15)))
    assert "still has a planted fault" in refused(c, lifted(why="We are late.", list_passed_by=odo))
    faults.clear_fault(c.ledger, odo, slip, seen_at(21, 14, 30))
    assert unit_of(c).held, "cleared, and still on hold"
    assert "needs its whole list passed again: say who saw it" in refused(c, lifted(why="It is out."))
    assert "counts only when it is passed after the fault was cleared" in refused(c, passed(seen_at(21, 14, 29)))
    for by in (c.assistant, c.candidate, c.amaru):
        assert "Only an instructor or a technician" in refused(c, passed(seen_at(21, 15), by))
    assert "lift a hold" in refused(
        c, lambda c: faults.pass_list_again(c.ledger, c.candidate, c.unit_a, seen_at(21, 15), passed_by=odo)
    )
    assert passed(seen_at(21, 15), c.second)(c) == (held.id,)
    assert (unit_of(c).held, unit_of(c).holds[0].list_passed_by) == ((), c.second)
    assert "not on hold for a planted fault" in refused(c, passed(seen_at(21, 16)))


def test_one_list_lifts_all_planted_faults_and_no_other_hold(small_centre: Centre) -> None:
    c = small_centre
    slips = [plant(c), plant(c, fault="pf-strap")]
    own = unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(21, 14), "A tear.")
    faults.clear_fault(c.ledger, c.lead, slips[0], seen_at(21, 14))
    told = refused(c, lambda c: faults.pass_list_again(c.ledger, c.lead, c.unit_a, seen_at(21, 15), passed_by=c.lead))
    assert "Strap folded under the diluent cylinder" in told
    assert "Scrubber tag" not in told
    faults.clear_fault(c.ledger, c.lead, slips[1], seen_at(21, 14))
    assert len(faults.pass_list_again(c.ledger, c.lead, c.unit_a, seen_at(21, 15), passed_by=c.lead)) == 2
    assert [hold.id for hold in unit_of(c).held] == [own]


def test_a_fault_is_cleared_once_and_not_before_it_was_planted(small_centre: Centre) -> None:
    c = small_centre
    slip = plant(c)
    assert "not cleared before it was planted" in refused(
        c, lambda c: faults.clear_fault(c.ledger, c.lead, slip, seen_at(21, 13, 39))
    )
    faults.clear_fault(c.ledger, c.lead, slip, seen_at(21, 14))
    assert "Scrubber tag over its minutes is cleared already" in refused(
        c, lambda c: faults.clear_fault(c.ledger, c.lead, slip, seen_at(21, 15))
    )
    assert "no such fault slip" in refused(c, lambda c: faults.clear_fault(c.ledger, c.lead, STRANGER, seen_at(21, 15)))


# --- shown in the water ---------------------------------------------------------------------------------------------


def test_a_shown_fault_touches_no_unit(small_centre: Centre) -> None:
    c = small_centre
    before = c.count()
    slip = show(c)
    assert c.count() == before + 1
    assert unit_of(c).holds == ()
    assert "only shown: there is nothing to clear" in refused(
        c, lambda c: faults.clear_fault(c.ledger, c.lead, slip, seen_at(22, 15))
    )
    assert c.open("pool-22").attempt


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"unit": "unit_a"}, "In the water faults are shown, never made: a shown fault has no unit and no bag."),
        ({"bag": "Bag 1"}, "In the water faults are shown, never made: a shown fault has no unit and no bag."),
        ({"for_whom": []}, "Say to whom the fault is shown."),
        (
            {"session": "dry-21"},
            "A fault is shown in the water only, and Dry Of The 21 is dry. On a bench it is planted.",
        ),
        ({"fault": "asm-head"}, "Seat the head on the canister is not for pool."),
        ({"fault": "pf-tag"}, 'There is no skill "pf-tag".'),
    ],
)
def test_a_shown_fault_that_does_not_fit_is_refused(small_centre: Centre, more: dict[str, Any], told: str) -> None:
    c = small_centre
    real = {"unit_a": c.unit_a, "dry-21": c.sessions["dry-21"]}
    asked_for = {key: real.get(value, value) if isinstance(value, str) else value for key, value in more.items()}
    assert told in refused(c, lambda c: show(c, **asked_for))


def test_a_fault_is_shown_only_to_those_whose_unit_can_have_it(small_centre: Centre) -> None:
    """Unit type B has no solenoid."""
    c = small_centre
    planning.assign_unit(c.ledger, c.lead, c.course, c.zoe, c.unit_b, "2026-10-20")
    show(c, fault="fl-solenoid-open")
    assert "not for the unit of everybody" in refused(
        c, lambda c: show(c, fault="fl-solenoid-open", for_whom=[c.amaru, c.zoe])
    )
    assert set(asked.askable(c.view(), c.sessions["pool-22"], "fl-solenoid-open")) == {c.amaru}


def test_slips_of_a_session_for_a_student(small_centre: Centre) -> None:
    c = small_centre
    for_amaru, for_both = show(c), show(c, for_whom=[c.amaru, c.zoe], fault="fl-low-po2")
    session = c.sessions["pool-22"]

    def found(student: str, of: str = session) -> set[str]:
        return {slip.slip for slip in asked.slips_for(c.ledger, c.view(), of, student)}

    assert found(c.amaru) == {for_amaru, for_both}
    assert found(c.zoe) == {for_both}
    assert found(c.amaru, c.sessions["pool-23"]) == set()
    (first, *_) = asked.slips(c.ledger, c.view(), session)
    assert (first.how, first.skill, first.title) == (SlipKind.SHOWN, "fl-low-po2", "Falling or low PO2")
    assert first.state == "Shown only: no unit was changed."


# --- answers --------------------------------------------------------------------------------------------------------


def answer(c: Centre, slip: str, person: str, what: SlipAnswer, minute: int, **more: Any) -> None:
    """Note an answer on Wednesday afternoon."""
    faults.answer_fault(c.ledger, c.second, slip, person, what, seen_at(21, 14, minute), **more)


def test_hits_misses_and_false_alarms_are_counted_per_person_with_their_n(small_centre: Centre) -> None:
    c = small_centre
    tag, strap = plant(c, for_whom=[c.amaru, c.zoe]), plant(c, fault="pf-strap", for_whom=[c.amaru])
    answer(c, tag, c.amaru, HIT, 1)
    answer(c, strap, c.amaru, MISSED, 2)
    answer(c, strap, c.amaru, FALSE_ALARM, 2)
    told = {p.person: p.sentence for p in asked.counts(c.ledger, c.view())}
    assert told == {c.amaru: "Amaru Tendelle: 1 of 2 found, 1 false alarm"}
    assert "%" not in told[c.amaru]
    by_fault = {slip.title: slip for slip in asked.slips(c.ledger, c.view())}
    assert by_fault["Scrubber tag over its minutes"].result.startswith(
        "Found by Amaru Tendelle; no answer noted of Zoë"
    )
    result = by_fault["Strap folded under the diluent cylinder"].result
    assert result == "Missed by Amaru Tendelle; 1 false alarm (Amaru Tendelle)."
    assert by_fault["Scrubber tag over its minutes"].replies[0].sentence == (
        "Amaru Tendelle: found, Wed 21 Oct 14:01, noted by Bruno Ashkenar"
    )


def test_an_answer_is_another_try_unless_it_replaces_one(small_centre: Centre) -> None:
    c = small_centre
    slip = plant(c)
    answer(c, slip, c.amaru, MISSED, 1)
    answer(c, slip, c.amaru, HIT, 20)
    assert asked.counts(c.ledger, c.view())[0].count.sentence == "1 of 2 found"
    first = slip_of(c, slip).replies[0].event
    answer(c, slip, c.zoe, MISSED, 21, replaces=first)
    assert {p.person: p.count.sentence for p in asked.counts(c.ledger, c.view())} == {
        c.amaru: "1 of 1 found",
        c.zoe: "0 of 1 found",
    }
    assert "no such answer to put right" in refused(c, lambda c: answer(c, slip, c.zoe, HIT, 25, replaces=first))


def test_a_double_tap_is_one_answer(small_centre: Centre) -> None:
    c = small_centre
    slip = plant(c)
    answer(c, slip, c.amaru, HIT, 1)
    assert "noted a moment ago" in refused(c, lambda c: answer(c, slip, c.amaru, HIT, 1))


def test_answers_come_after_the_fault_and_from_people_of_the_course(small_centre: Centre) -> None:
    c = small_centre
    slip = plant(c)
    assert "before it was set" in refused(
        c, lambda c: faults.answer_fault(c.ledger, c.lead, slip, c.amaru, HIT, seen_at(21, 13))
    )
    assert "not on the course" in refused(c, lambda c: answer(c, slip, STRANGER, HIT, 1))


@given(st.lists(st.tuples(st.sampled_from("abc"), st.sampled_from(list(SlipAnswer))), max_size=20))
def test_counts_add_up_to_the_answers(given_answers: list[tuple[str, SlipAnswer]]) -> None:
    replies = [
        SlipReply(event="e", person=who, answer=what, told_by="t", observed=seen_at(21)) for who, what in given_answers
    ]
    found = count_faults(replies)
    assert sum(c.found + c.missed + c.false_alarms for c in found.values()) == len(given_answers)
    for person, count in found.items():
        assert count.met == sum(1 for who, what in given_answers if who == person and what != FALSE_ALARM)
    assert count_faults(reversed(replies)) == found


# --- what the trainer reads -----------------------------------------------------------------------------------------


def test_where_a_later_step_opens_gas_the_slip_says_before_which_step_the_trainer_stops(small_centre: Centre) -> None:
    c = small_centre
    slip = asked.slip_view(c.ledger, c.view(), plant(c, fault="pf-din-ring"))
    skill = c.skill("asm-first-stages")
    assert skill.step("open-slow") or c.skill("asm-oxygen-hose").step("open-slow")
    assert slip.stop_before.startswith("End the attempt, found or not, before step ")
    assert asked.slip_view(c.ledger, c.view(), plant(c)).stop_before == ""
    words = dict(slip.lines)
    assert set(words) == {"How it is set", "How it shows", "Should be found in", "To clear it", "Never"}
    assert words["Should be found in"].startswith(skill.title)


def test_a_slip_tells_its_state_from_planting_to_the_list(small_centre: Centre) -> None:
    c = small_centre
    slip = plant(c)

    def state() -> tuple[str, bool]:
        seen = asked.slip_view(c.ledger, c.view(), slip)
        return seen.state, seen.open

    assert state() == ("Not cleared: A-05 is on hold.", True)
    faults.clear_fault(c.ledger, c.second, slip, seen_at(21, 14))
    cleared = "Cleared Wed 21 Oct 14:00 by Bruno Ashkenar."
    assert state() == (f"{cleared} A-05 stays on hold until its whole list is passed again.", True)
    faults.pass_list_again(c.ledger, c.lead, c.unit_a, seen_at(21, 15), passed_by=c.lead)
    assert state() == (f"{cleared} List passed again.", False)
    assert "no such fault slip" in refused(c, lambda c: asked.slip_view(c.ledger, c.view(), STRANGER))


# --- the demo centre ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[sample.Loaded, Ledger, CourseView]]:
    """The demo centre without its attempts."""
    base = tmp_path_factory.mktemp("demo")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        shutil.copytree(places.DEMO, base / "source")
        text = (base / "source" / "attempts.csv").read_text(encoding="utf-8")
        kept = [line for line in text.splitlines(keepends=True)[1:] if ",amaru,mp-close-out," in line]
        head = text.splitlines(keepends=True)[0]
        (base / "source" / "attempts.csv").write_text(head + "".join(kept), encoding="utf-8")
        loaded = sample.load(base / "centre", lambda *_: None, source=base / "source")
        with open_ledger(loaded.folder) as ledger:
            yield loaded, ledger, view(ledger, loaded.course)


def test_a_05_was_booked_while_on_hold_and_a_07_was_not(demo: tuple[sample.Loaded, Ledger, CourseView]) -> None:
    """A-05 was cleared only on Friday morning; A-07 was cleared and passed before the pool on Thursday."""
    loaded, ledger, _ = demo
    (found,) = held_in_water(ledger, loaded.course)
    assert (found.label, found.person) == ("A-05", loaded.people["amaru"])
    assert (found.start, found.end) == (seen_at(22, 13, 30), seen_at(22, 16, 20))
    assert found.sentence.startswith("A-05 was on hold Thu 22 Oct 13:30-16:20, and Amaru Tendelle was booked on it")


def test_ysolde_found_three_of_four_in_the_night(demo: tuple[sample.Loaded, Ledger, CourseView]) -> None:
    loaded, ledger, seen = demo
    (night,) = asked.counts(ledger, seen, loaded.sessions["night-bench"])
    assert night.sentence == "Ysolde Marrick: 3 of 4 found, 1 false alarm"
    told = [count.sentence for count in asked.counts(ledger, seen)]
    assert told == [
        "Amaru Tendelle: 1 of 2 found", "Nkechi Brandvold: 2 of 2 found", "Ysolde Marrick: 5 of 6 found, 1 false alarm",
    ]  # fmt: skip


def test_only_a_09_is_on_hold_at_the_end_and_no_date_has_run_out(
    demo: tuple[sample.Loaded, Ledger, CourseView],
) -> None:
    _, ledger, seen = demo
    answer = units_answer(ledger, seen)
    assert answer.sentence == "A-09 is on hold and does not go in the water."
    assert [line.sentence for card in answer.units for line in card.care if line.lapsed] == []
    (held,) = [card for card in answer.units if card.holds]
    assert held.line == "faults cleared, list not passed"
    assert len({hold.hold for hold in held.holds}) == 2


def test_a_demo_line_that_breaks_a_rule_is_told_with_its_place(tmp_path: Path) -> None:
    source = tmp_path / "source"
    shutil.copytree(places.DEMO, source)
    text = (source / "slips.csv").read_text(encoding="utf-8")
    (source / "slips.csv").write_text(text.replace("tag,checks,", "tag,pool-1,"), encoding="utf-8")
    with pytest.raises(
        RefusedError, match=r"^slips\.csv:2: A fault is planted on a bench only, and Pool 1.* is pool\."
    ):
        sample.load(tmp_path / "centre", lambda *_: None, source=source)
    assert not (tmp_path / "centre").exists()
