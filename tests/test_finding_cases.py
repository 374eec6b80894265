"""Hard cases of real courses that end in a finding: from what people enter to the sentence that they read."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from centre_builder import LAST_DAY, Centre, build_centre, critical_mark, seen_at
from finding_examples import another, answered, set_clock, shown, there
from test_actions import refused
from test_gate_papers import without
from test_hard_cases import sign_as_met

from course.actions import amending, faults, unit_care
from course.actions import centre as founding
from course.actions import courses as planning
from course.answers.units import UnitState, units_answer
from course.record.facts import Decision
from course.standards.standards import Standards
from course.words import Care, SlipKind, SpanRole, StandingState


@pytest.fixture(autouse=True)
def _after_the_course(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch)


def rules_found(c: Centre) -> set[str]:
    """Rules of everything that is found, also what follows from something else."""
    return {one.rule for whole in answered(c).findings for one in (whole, *whole.follow)}


def test_case_9_an_instructor_who_lapsed_is_found_by_the_day_of_the_session_and_what_he_saw_waits(
    small_centre: Centre,
) -> None:
    c = small_centre
    founding.record_check_out(c.ledger, c.lead, c.second, "type-a", "2026-04-24")
    for session in ("dry-21", "pool-22", "pool-23"):
        c.enter(session)
    for session in ("open-25", "open-24"):
        c.enter(session, by=c.second)
    assert shown(c, "observer_not_current").sentence == (
        "Bruno Ashkenar, Unit type A: last good day 24 Oct 2026. Seen on Sun 25 Oct only: 1 attempt of Amaru Tendelle; "
        "it waits for a current instructor. What was seen before stands."
    )
    assert c.view().standing(c.amaru, c.skill(), LAST_DAY).state == StandingState.WAITING
    founding.record_check_out(c.ledger, c.lead, c.second, "type-a", "2026-10-25")
    assert "observer_not_current" not in rules_found(c)


def test_case_11_an_assistant_who_leaves_early_breaks_the_ratio_until_a_student_leaves(small_centre: Centre) -> None:
    """What was seen meanwhile is told beside it and stands."""
    c, session = small_centre, small_centre.sessions["open-24"]
    third = without(c)
    group = planning.make_group(
        c.ledger, c.lead, session, name="A", staff=[c.second, c.assistant], students=[c.amaru, c.zoe, third]
    )  # fmt: skip
    ends = {c.amaru: seen_at(24, 16), c.zoe: seen_at(24, 16), third: seen_at(24, 15, 20)}
    for person, end in ends.items():
        there(c, session, person, seen_at(24, 13, 30), end, group=group)
    there(c, session, c.second, seen_at(24, 13, 30), seen_at(24, 16), role=SpanRole.TEACHING, group=group)
    there(c, session, c.assistant, seen_at(24, 13, 30), seen_at(24, 15, 6), role=SpanRole.ASSISTING, group=group)
    inside = c.enter("open-24", by=c.second, observed=seen_at(24, 15, 10))
    one = shown(c, "ratio_break")
    assert one.sentence == (
        "Sat 24 Oct, Open Of The 24, A: 3 students to 1 instructor without assistant, limit 2: 15:06-15:20, 14 min; "
        "Lien Ito left; 1 attempt was seen in it."
    )
    assert inside in {line.id for line in one.evidence}
    assert c.view().standing(c.amaru, c.skill(), LAST_DAY).streak == 1


def test_case_20_what_is_entered_days_later_is_listed_with_how_late(
    tmp_path: Path, standards: Standards, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_clock(monkeypatch, datetime(2026, 10, 1, 9, tzinfo=UTC))
    with build_centre(tmp_path / "centre", standards) as c:
        for session, hours in (("pool-22", 96), ("pool-23", 24)):
            observed = seen_at(int(session[-2:]))
            set_clock(monkeypatch, observed.moment + timedelta(hours=hours))
            c.enter(session, observed=observed)
        set_clock(monkeypatch)
        one = shown(c, "entered_late")
        assert one.sentence == "Thu 22 Oct, Pool Of The 22: 1 attempt had the last entry 4 days after it was seen."
        assert answered(c).notes == ()
        assert c.view().standing(c.amaru, c.skill(), LAST_DAY).streak == 2


def test_case_28_a_planted_fault_that_is_not_cleared_keeps_the_unit_out_of_the_water_and_a_booking_is_found(
    small_centre: Centre,
) -> None:
    c, dry = small_centre, small_centre.sessions["dry-21"]
    slip = faults.set_fault(
        c.ledger, c.lead, session=dry, how=SlipKind.PLANTED, fault="pf-din-ring", unit=c.unit_a,
        observed=seen_at(21, 14),
    )  # fmt: skip
    assert "A-05 is on hold" in refused(c, lambda c: c.open("pool-22"))
    assert shown(c, "fault_left").sentence == (
        "A-05: a fault planted Wed 21 Oct, Dry Of The 21 is not cleared. "
        "The unit stays on hold until it is, and its whole list is passed again."
    )
    faults.clear_fault(c.ledger, c.lead, slip, seen_at(23, 8))
    faults.pass_list_again(c.ledger, c.lead, c.unit_a, seen_at(23, 8, 10), passed_by=c.lead)
    assert shown(c, "held_unit").sentence == (
        "A-05 booked while on hold, Thu 22 Oct 13:30-16:20, Pool Of The 22: Amaru Tendelle and "
        "Zoë <i>O'Brien-Ünal</i> =1+1."
    )
    assert "fault_left" not in rules_found(c)


def test_case_28_a_fault_that_was_cleared_before_the_water_is_no_finding(small_centre: Centre) -> None:
    c = small_centre
    slip = faults.set_fault(
        c.ledger, c.lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault="pf-din-ring", unit=c.unit_a,
        observed=seen_at(21, 14),
    )  # fmt: skip
    faults.clear_fault(c.ledger, c.lead, slip, seen_at(22, 13))
    faults.pass_list_again(c.ledger, c.lead, c.unit_a, seen_at(22, 13, 30), passed_by=c.lead)
    assert rules_found(c).isdisjoint({"held_unit", "fault_left"})


def test_case_29_cells_out_of_date_on_a_dive_day_are_found_and_the_attempts_stand(small_centre: Centre) -> None:
    c = small_centre
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.CELLS, seen_at(20), good_until="2026-10-23")
    c.enter("open-24")
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.CELLS, seen_at(25, 9), good_until="2027-10-25")
    assert shown(c, "lapsed_unit").sentence == (
        "A-05 was in the water on Sat 24 Oct, and its oxygen cells were good until 23 Oct 2026. Think of a hold; "
        "attempts on it stand."
    )
    assert c.view().standing(c.amaru, c.skill(), LAST_DAY).streak == 1
    (card,) = [one for one in units_answer(c.ledger, c.view()).units if one.unit == c.unit_a]
    assert card.state == UnitState.LAPSED  # the page about units says the same
    assert "held_unit" not in rules_found(c)


def test_case_32_an_error_found_after_signing_is_listed_and_the_signature_stays_as_it_was(
    small_centre: Centre,
) -> None:
    c = small_centre
    entered = c.hold()
    signed = sign_as_met(c)
    before = list(c.ledger.events(signed))
    sheet = c.attempt(entered[4]).sheets[0].id
    amending.amend_marks(c.ledger, c.lead, entered[4], sheet, critical_mark(), "On the recording.", seen_at(25, 18))
    assert shown(c, "signed_on_older").sentence == (
        "Amaru Tendelle · Close before it leaves the mouth: signed by Tamsin Okoro-Vale on 2 Nov 2026 on an older "
        "record. Found after signing: attempt 5 of 25 Oct 2026, critical, was amended."
    )
    assert list(c.ledger.events(signed)) == before
    fact = c.ledger.fact("decision", signed)
    assert isinstance(fact, Decision)
    assert fact.sentence == "Met on 25 Oct 2026, good until 23 Jan 2027."


def test_case_34_one_who_teaches_in_two_places_counts_where_they_were_first_and_the_ratio_stands_under_it(
    small_centre: Centre,
) -> None:
    """In the second place they count from the minute in which they are free; an empty group needs nobody."""
    c, pool = small_centre, small_centre.sessions["pool-22"]
    theory = another(c, "Make-up", seen_at(22, 15, 30), seen_at(22, 16, 15))
    there(c, pool, c.second, seen_at(22, 13, 30), seen_at(22, 16), role=SpanRole.TEACHING)
    there(c, pool, c.zoe, seen_at(22, 13, 30), seen_at(22, 15, 25))
    there(c, theory, c.second, seen_at(22, 15, 30), seen_at(22, 16, 15), role=SpanRole.TEACHING)
    there(c, theory, c.amaru, seen_at(22, 15, 30), seen_at(22, 16, 15))
    (one,) = [one for one in answered(c).findings if one.rule == "double_booking"]
    assert one.sentence == (
        "Thu 22 Oct: Bruno Ashkenar is in two places 15:30-16:00, 30 min: Pool Of The 22 and Make-up. "
        "The time counts where it began first, in Pool Of The 22."
    )
    (under,) = one.follow
    assert under.sentence == (
        "Thu 22 Oct, Make-up: 1 student and no instructor: 15:30-16:00, 30 min; Amaru Tendelle came; "
        "Bruno Ashkenar counted elsewhere."
    )
    assert [other.rule for other in answered(c).findings].count("ratio_break") == 0
