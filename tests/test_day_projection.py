"""What is true of a day, a unit and a fault slip, from their events in any order."""

from __future__ import annotations

from itertools import permutations

import pytest
from event_examples import FIVE, FOUR, HASH, ONE, THREE, TWO, an_id, at, history

from course.record.body import Body
from course.record.events import (
    CheckpointMade,
    FaultAnswered,
    FaultCleared,
    FaultSet,
    IncidentNoted,
    KnownHead,
    RollCalled,
    SessionClosed,
    SessionFrozen,
    SessionPlanned,
    SessionReopened,
    SessionResumed,
    SitePlanned,
    SlateIssued,
    SlateSetAside,
    UnitAdded,
    UnitCared,
    UnitHeld,
    UnitReleased,
)
from course.record.facts import Checkpoint, Session, Slip, Unit
from course.record.projection import project
from course.words import Care, SlipAnswer, SlipKind


def session_of(*bodies: Body) -> Session:
    """The session that comes of its planning and these."""
    planned = SessionPlanned(session=ONE, course=TWO, title="Pool", setting="pool", start=at(0), end=at(59))
    fact = project(history(planned, *bodies))
    assert isinstance(fact, Session)
    return fact


def unit_of(*bodies: Body) -> Unit:
    """The unit that comes of its entry and these."""
    fact = project(history(UnitAdded(unit=ONE, label="A", unit_type="type-a"), *bodies))
    assert isinstance(fact, Unit)
    return fact


def issued(slate: str = THREE) -> SlateIssued:
    """A sheet for two students."""
    return SlateIssued(
        session=ONE, slate=slate, code="K7QF-2M9TX", skill="bailout", rubric=HASH, students=(FOUR, FIVE), tries=2
    )


def test_a_sheet_that_was_given_out_is_known_with_its_columns_and_one_set_aside_says_how() -> None:
    other = an_id(9)
    (first, second) = session_of(issued(), issued(other), SlateSetAside(session=ONE, slate=other, how="lost")).slates
    assert (first.students, first.tries, first.set_aside) == ((FOUR, FIVE), 2, None)
    assert second.set_aside == "lost"


def test_a_frozen_session_names_who_was_in_until_somebody_lets_it_go_on() -> None:
    frozen = SessionFrozen(session=ONE, incident=TWO, people=(THREE,), attempts=(FIVE,), observed=at(5))
    more = IncidentNoted(session=ONE, incident=TWO, observed=at(6))
    held = session_of(frozen, more)
    assert (held.frozen_by[0].people, len(held.frozen_by[0].lines)) == ((THREE,), 1)
    assert session_of(frozen, more, SessionResumed(session=ONE, incident=TWO, observed=at(9))).frozen_by == ()


def test_a_session_is_closed_until_it_is_opened_again() -> None:
    closed, again = SessionClosed(session=ONE, observed=at(50)), SessionReopened(session=ONE, observed=at(55))
    assert session_of().closed_at is None
    assert session_of(closed).closed_at == at(50)
    assert session_of(closed, again).closed_at is None
    assert session_of(closed, again, SessionClosed(session=ONE, observed=at(58))).closed_at == at(58)


def test_roll_calls_and_site_plans_are_kept_and_a_plan_takes_the_place_of_the_one_it_names() -> None:
    roll = RollCalled(session=ONE, roll=TWO, when="going_in", present=(THREE,), missing=(FOUR,), observed=at())
    planned, first = SitePlanned(session=ONE), session_of(SitePlanned(session=ONE)).site_plans[0]
    told = session_of(planned, roll, SitePlanned(session=ONE, replaces=(first,)))
    assert (told.rolls[0].present, told.rolls[0].missing) == ((THREE,), (FOUR,))
    assert (len(told.site_plans), first in told.site_plans) == (1, False)


def test_a_unit_is_on_hold_until_the_hold_is_lifted_and_the_later_of_two_releases_counts() -> None:
    held = UnitHeld(unit=ONE, hold=TWO, slip=THREE, observed=at(1))
    assert [hold.slip for hold in unit_of(held).held] == [THREE]
    early, late = (UnitReleased(unit=ONE, hold=TWO, observed=at(m), list_passed_by=FOUR) for m in (5, 9))
    for releases in permutations((early, late)):
        unit = unit_of(held, *releases)
        assert unit.held == ()
        assert unit.holds[0].until == at(9)


def test_care_of_a_unit_is_kept_with_how_long_it_is_good_for() -> None:
    care = UnitCared(unit=ONE, care=TWO, what=Care.SCRUBBER, observed=at(), good_minutes=180)
    assert [(c.what, c.good_minutes) for c in unit_of(care).care] == [(Care.SCRUBBER, 180)]


@pytest.mark.parametrize("answer", list(SlipAnswer))
def test_a_fault_slip_holds_each_persons_answer_and_who_cleared_it(answer: SlipAnswer) -> None:
    placed = FaultSet(slip=ONE, course=TWO, session=THREE, how=SlipKind.PLANTED, fault="pf-tag", observed=at(1))
    fact = project(
        history(
            placed,
            FaultAnswered(slip=ONE, person=FOUR, answer=answer, observed=at(2)),
            FaultCleared(slip=ONE, observed=at(3)),
        )
    )
    assert isinstance(fact, Slip)
    assert [(reply.person, reply.answer) for reply in fact.replies] == [(FOUR, answer)]
    assert fact.cleared == at(3)
    assert fact.cleared_by


def test_a_checkpoint_names_every_head() -> None:
    heads = (KnownHead(chain=THREE, seq=7, hash=HASH), KnownHead(chain=FOUR, seq=1, hash=HASH))
    fact = project(history(CheckpointMade(checkpoint=ONE, course=TWO, day="2026-10-22", heads=heads)))
    assert isinstance(fact, Checkpoint)
    assert fact.heads == ((THREE, 7, HASH), (FOUR, 1, HASH))
