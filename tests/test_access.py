"""Who may do what: every role with every act."""

from __future__ import annotations

from itertools import product

import pytest

from course.access import LEAD_ALONE, TABLE, Act, may, require
from course.errors import RefusedError
from course.words import EVALUATORS, Role

HELPING = {
    Role.ASSISTANT: {Act.PRACTISE, Act.FREEZE, Act.RUN_DAY},
    Role.CANDIDATE: {Act.PRACTISE, Act.FREEZE},
    Role.TECHNICIAN: {Act.PRACTISE, Act.FREEZE, Act.CARE, Act.RELEASE},
}


@pytest.mark.parametrize(("role", "act"), list(product(Role, Act)))
def test_leads_and_instructors_do_all_others_of_the_staff_their_part_students_nothing(role: Role, act: Act) -> None:
    allowed = (role in EVALUATORS and act not in LEAD_ALONE) or role == Role.LEAD or act in HELPING.get(role, set())
    assert may([role], act) is allowed
    if allowed:
        require([role], act)
    else:
        with pytest.raises(RefusedError, match=act.value):
            require([role], act)


def test_what_touches_personal_data_or_the_key_as_such_is_for_the_lead_alone() -> None:
    assert {Act.ERASE, Act.EXPORT, Act.KEEP, Act.KEY, Act.OBSERVE} == LEAD_ALONE


def test_every_role_stands_in_the_table() -> None:
    assert set(TABLE) == set(Role)


def test_the_refusal_says_who_may() -> None:
    with pytest.raises(RefusedError) as refused:
        require([Role.CANDIDATE], Act.SIGN)
    assert refused.value.sentence == (
        "Only somebody who is lead instructor or instructor may sign a standing; this person is candidate. "
        "Nothing was changed."
    )


def test_somebody_without_a_role_may_nothing() -> None:
    assert not any(may([], act) for act in Act)
    with pytest.raises(RefusedError, match="this person is somebody without a role"):
        require([], Act.PRACTISE)


def test_one_role_that_may_is_enough() -> None:
    require([Role.STUDENT, Role.INSTRUCTOR], Act.SIGN)
