"""Who may do what: every role with every act."""

from __future__ import annotations

import re
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from course.access import (
    LEAD_ALONE,
    OWN_ONLY,
    PIN_RIGHTS,
    TABLE,
    WRITING_ROUTES,
    Act,
    Holder,
    Right,
    Sight,
    as_text,
    may,
    may_by_pin,
    own_only,
    require,
    require_by_pin,
    rights,
)
from course.errors import RefusedError
from course.places import PAGES, ROOT, SCREENS
from course.screens import menu, serve, slate_route, theme
from course.words import EVALUATORS, Office, Role

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
    """Of those who teach; an administrator handles accounts, copies and personal data too."""
    assert {Act.ERASE, Act.EXPORT, Act.KEEP, Act.KEY, Act.OBSERVE, Act.ACCOUNT, Act.BACKUP} == LEAD_ALONE


def test_every_role_stands_in_the_table() -> None:
    assert set(TABLE) == {*Role, *Office}


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


# --- the offices, the sights and the law of the table ---------------------------------------------------------------


def test_an_auditor_sees_all_and_changes_nothing() -> None:
    assert TABLE[Office.AUDITOR] == frozenset(Sight) - WRITING_ROUTES
    assert not TABLE[Office.AUDITOR] & frozenset(Act)


def test_an_administrator_looks_after_accounts_and_data_and_neither_marks_nor_signs() -> None:
    acts = {Act.ACCOUNT, Act.BACKUP, Act.ERASE, Act.EXPORT, Act.KEEP}
    assert TABLE[Office.ADMINISTRATOR] & frozenset(Act) == acts
    assert may([Office.ADMINISTRATOR], Sight.HEALTH)
    assert not may([Office.ADMINISTRATOR], Sight.MARKS_ROUTE)


def test_a_student_sees_their_own_and_what_is_about_nobody() -> None:
    assert TABLE[Role.STUDENT] == OWN_ONLY | {Sight.CHECK, Sight.FONT_ROUTE}
    assert all(own_only([Role.STUDENT], sight) for sight in OWN_ONLY)
    assert not own_only([Role.STUDENT], Sight.CHECK)
    assert not own_only([Role.STUDENT, Role.INSTRUCTOR], Sight.PAPERS)
    assert own_only([Role.STUDENT, Role.CANDIDATE], Sight.PAPERS)  # a candidate sees no papers, so adds nothing here


@given(st.lists(st.sampled_from([*Role, *Office])), st.lists(st.sampled_from([*Role, *Office])))
def test_nobody_gains_by_combining_roles(some: list[Holder], others: list[Holder]) -> None:
    both = rights([*some, *others])
    assert both == rights(some) | rights(others)
    for right in (*Act, *Sight):
        assert may([*some, *others], right) is (right in both) is any(right in TABLE[role] for role in some + others)


def _named(first_word: str) -> set[str]:
    return {sight.value.removeprefix(f"{first_word} ") for sight in Sight if sight.value.startswith(f"{first_word} ")}


def test_every_page_is_in_the_table() -> None:
    assert _named("page") == set(menu.DAILY | menu.OTHERS) == {file.stem for file in PAGES.glob("*.py")}


def test_every_route_of_our_own_is_in_the_table() -> None:
    paths = {route.path.removesuffix("/{name}") for route in [*serve.routes(), *slate_route.routes()]}
    assert _named("route") == paths
    assert theme.FONT_ROUTE in paths


def test_every_module_that_offers_a_download_asks_its_own_right_to_it() -> None:
    """Found in the source: a file is offered by `offers.offer` alone, with the right that is named after the module."""
    files = [*PAGES.glob("*.py"), *SCREENS.glob("*.py")]
    asked = {file.stem: set(re.findall(r"offers?\.?offer\(\s*Sight\.(\w+)", file.read_text("utf-8"))) for file in files}
    for shown in (".download_button(", ".image("):
        assert [file.stem for file in files if shown in file.read_text("utf-8")] == ["offers"]
    found = {name for name, sights in asked.items() if sights}
    assert found == _named("download")
    assert all({Sight[one].value for one in asked[name]} == {f"download {name}"} for name in found)


def test_the_refusal_of_a_sight_says_who_may() -> None:
    with pytest.raises(RefusedError, match=r"Only somebody who is lead instructor may see this \(page observers\)"):
        require([Role.ASSISTANT], Sight.OBSERVERS)


def test_the_guide_shows_the_table_as_it_is() -> None:
    """After a wanted change: write `as_text()` to the file anew."""
    assert (ROOT / "course" / "guide" / "access.md").read_text("utf-8") == as_text()


# --- by PIN ----------------------------------------------------------------------------------------------------------


def test_a_pin_is_for_marking_and_running_the_day_and_takes_nothing_away() -> None:
    assert PIN_RIGHTS & frozenset(Act) == {Act.EVALUATE, Act.PRACTISE, Act.RUN_DAY, Act.FREEZE}
    assert not [right for right in PIN_RIGHTS if isinstance(right, Sight) and right.value.startswith("download ")]
    assert not PIN_RIGHTS & {Sight.PEOPLE, Sight.PRIVACY, Sight.PAPERS, Sight.FINDINGS, Sight.LAPTOPS, Sight.STANDARDS}


@pytest.mark.parametrize(("role", "right"), list(product(TABLE, [*Act, *Sight])))
def test_a_pin_gives_nobody_more_than_their_password(role: Holder, right: Right) -> None:
    assert may_by_pin([role], right) is (may([role], right) and right in PIN_RIGHTS)
    if may([role], right) and right not in PIN_RIGHTS:
        with pytest.raises(RefusedError, match=r"A PIN is not enough to .* Sign in with your password"):
            require_by_pin([role], right)


def test_a_part_of_a_page_that_is_drawn_alone_asks_anew() -> None:
    """Found in the source: a bare fragment would go on being drawn for somebody who was signed out."""
    files = [*PAGES.glob("*.py"), *SCREENS.glob("*.py")]
    assert [file.stem for file in files if "st.fragment" in file.read_text("utf-8")] == ["frame"]


def test_who_acts_is_asked_in_one_way_alone() -> None:
    """Found in the source: other choices of a person would offer names in which nobody may act."""
    asked = re.compile(r"choices\.(?:one_of|one_of_many)\(\s*\"(Who[^\"]*)\"")
    files = [*PAGES.glob("*.py"), *SCREENS.glob("*.py")]
    assert [found for file in files for found in asked.findall(file.read_text("utf-8"))] == [
        "Who saw the whole list passed?"  # somebody else may have; whoever enters it is asked beside it
    ]
