"""What a standing would be if: the same judgement on a copy, and nothing written."""

from __future__ import annotations

import pytest
from centre_builder import Centre, critical_mark
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from course.actions import amending
from course.answers.what_if import Supposed, attempts_by_number, if_attempt, if_rule, if_void, suppositions
from course.assessment.sentences import standing_sentence
from course.commands import main
from course.errors import NotFoundError
from course.words import Closing, StandingState


def asked(centre: Centre, attempt: str, supposed: Supposed):  # type: ignore[no-untyped-def]
    seen = centre.view()
    return if_attempt(seen, centre.amaru, centre.skill(), attempt, supposed, seen.last_day)


def test_without_the_critical_attempt_the_rule_would_be_met(small_centre: Centre) -> None:
    small_centre.hold()
    wrong = small_centre.enter("open-25", critical_mark())
    before = small_centre.count()
    found = asked(small_centre, wrong, Supposed.VOID)
    assert (found.state_before, found.state_after) == (StandingState.AGAIN, StandingState.MET)
    assert found.sentence.startswith("If attempt 6 were void: Met on 25 Oct 2026")
    assert small_centre.count() == before


def test_supposing_it_away_is_what_withdrawing_it_does(small_centre: Centre) -> None:
    """The answer is checked against the real act, done afterwards."""
    attempts = small_centre.hold()
    supposed = asked(small_centre, attempts[2], Supposed.WITHDRAWN)
    opened = next(e.id for e in small_centre.ledger.events(attempts[2]) if e.kind == "attempt_opened/1")
    amending.withdraw(small_centre.ledger, small_centre.lead, opened, "It was another student's.")
    seen, skill = small_centre.view(), small_centre.skill()
    assert supposed.after == standing_sentence(
        seen.standing(small_centre.amaru, skill, seen.last_day), skill, seen.names
    )


@pytest.mark.parametrize(
    ("supposed", "state"),
    [
        (Supposed.VOID, StandingState.NOT_YET),
        (Supposed.WITHDRAWN, StandingState.NOT_YET),
        (Supposed.CLEAN, StandingState.MET),
        (Supposed.MINOR, StandingState.NOT_YET),
        (Supposed.CRITICAL, StandingState.NOT_YET),
        (Supposed.STOPPED, StandingState.NOT_YET),
        (Supposed.NOT_SEEN, StandingState.NOT_YET),
    ],
)
def test_every_outcome_can_be_supposed_of_the_last_attempt(
    small_centre: Centre, supposed: Supposed, state: StandingState
) -> None:
    last = small_centre.hold()[-1]
    assert asked(small_centre, last, supposed).state_after == state


@pytest.mark.parametrize(
    ("supposed", "streak"),
    [(Supposed.MINOR, 0), (Supposed.CRITICAL, 0), (Supposed.STOPPED, 4), (Supposed.NOT_SEEN, 4), (Supposed.VOID, 4)],
)
def test_what_breaks_breaks_and_what_neither_counts_nor_breaks_does_not(
    small_centre: Centre, supposed: Supposed, streak: int
) -> None:
    last = small_centre.hold()[-1]
    told = asked(small_centre, last, supposed).after
    assert f"now {streak}" in told or f"{streak} in a row" in told


def test_a_clean_attempt_supposed_clean_changes_nothing_and_says_so(small_centre: Centre) -> None:
    found = asked(small_centre, small_centre.hold()[0], Supposed.CLEAN)
    assert not found.differs
    assert "nothing would change" in found.sentence


def test_under_another_rule_the_attempts_stay_as_they_are(small_centre: Centre) -> None:
    small_centre.enter("dry-21")
    small_centre.enter("pool-22")
    seen, skill = small_centre.view(), small_centre.skill()
    milder = skill.rule.model_copy(update={"in_a_row": 2, "distinct_days": 2, "settings": ("dry",)})
    found = if_rule(seen, small_centre.amaru, skill, milder, seen.last_day)
    assert (found.state_before, found.state_after) == (StandingState.NOT_YET, StandingState.MET)
    assert "Under the other rule (2 in a row over 2 days" in found.question


def test_the_rule_in_force_as_the_other_rule_changes_nothing(small_centre: Centre) -> None:
    small_centre.hold()
    seen, skill = small_centre.view(), small_centre.skill()
    assert not if_rule(seen, small_centre.amaru, skill, skill.rule, seen.last_day).differs


def test_nobody_attempted_leaves_nothing_to_suppose(small_centre: Centre) -> None:
    seen, skill = small_centre.view(), small_centre.skill()
    assert attempts_by_number(seen, small_centre.amaru, skill, seen.last_day) == {}
    with pytest.raises(NotFoundError, match="no such closed attempt"):
        asked(small_centre, "nothing", Supposed.VOID)


def test_all_void_is_not_started_and_one_of_them_can_be_supposed_clean(small_centre: Centre) -> None:
    only = small_centre.enter("pool-22", closing=Closing.VOID, reason="The pool was cleared.")
    found = asked(small_centre, only, Supposed.CLEAN)
    assert (found.state_before, found.state_after) == (StandingState.NOT_STARTED, StandingState.NOT_YET)


def test_nothing_critical_is_supposed_where_nothing_can_be(small_centre: Centre) -> None:
    harmless = small_centre.skill("po-store")
    assert not any(step.can_be_critical for step in harmless.steps)
    assert Supposed.CRITICAL not in suppositions(harmless)
    assert Supposed.NOT_SEEN not in suppositions(harmless)


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.sampled_from(list(Supposed)), st.integers(0, 4))
def test_no_question_writes_anything_or_changes_what_stands(
    small_centre: Centre, supposed: Supposed, number: int
) -> None:
    seen, skill = small_centre.view(), small_centre.skill()
    if not seen.attempts:
        small_centre.hold()
        seen = small_centre.view()
    count, before = small_centre.count(), seen.standing(small_centre.amaru, skill, seen.last_day)
    attempt = list(attempts_by_number(seen, small_centre.amaru, skill, seen.last_day))[number]
    if_attempt(seen, small_centre.amaru, skill, attempt, supposed, seen.last_day)
    assert small_centre.count() == count
    assert small_centre.view().standing(small_centre.amaru, skill, seen.last_day) == before


def test_the_command_asks_by_number_and_names_those_that_are_there(small_centre: Centre) -> None:
    folder = str(small_centre.ledger.folder)
    small_centre.hold()
    small_centre.enter("open-25", critical_mark())
    why = ["why", folder, "Amaru", "mp-close-out", "--as-of", "2026-10-25", "--if-void"]
    told = CliRunner().invoke(main, [*why, "6"])
    assert told.exit_code == 0
    assert told.output.splitlines() == [
        "If attempt 6 were void: Met on 25 Oct 2026, good until 23 Jan 2027.",
        "As it is: Again: a critical error since it was met; now 0 in a row; missing 5 over 3 days; re-teach first.",
        "Nothing was written: this is a question, not a correction.",
    ]
    wrong = CliRunner().invoke(main, [*why, "9"])
    assert wrong.exit_code == 4
    assert "no closed attempt 9. There are: 1, 2, 3, 4, 5, 6." in wrong.stderr


def test_asking_by_number_is_asking_for_that_attempt(small_centre: Centre) -> None:
    attempts = small_centre.hold()
    seen, skill = small_centre.view(), small_centre.skill()
    by_number = if_void(seen, small_centre.amaru, skill, 3, seen.last_day)
    assert by_number == if_attempt(seen, small_centre.amaru, skill, attempts[2], Supposed.VOID, seen.last_day)
