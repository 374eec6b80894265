"""People as a course shows them: its own at once, others as they are named, everybody only where they are listed."""

from __future__ import annotations

from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, build_centre, shipped_standards

from course.actions import centre as founding
from course.answers.competency import competency_record
from course.answers.hours import hours
from course.answers.missing import missing
from course.answers.people import People
from course.answers.readiness import readiness
from course.answers.skill_detail import skill_detail
from course.answers.student_page import student_page
from course.record.facts import Fact, Person
from course.words import Role


def add(c: Centre, name: str = "Ines Marbeck", born: str | None = "1990-05-05", role: Role = Role.STUDENT) -> str:
    return founding.add_person(c.ledger, c.lead, name=name, roles=[role], birth_date=born)


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Ids of people whose private part was opened, in order."""
    from course.storage.ledger import Ledger

    found: list[str] = []
    plain = Ledger.private

    def watched(ledger: Ledger, of: Fact) -> dict[str, Any]:
        if isinstance(of, Person):
            found.append(of.id)
        return plain(ledger, of)

    monkeypatch.setattr(Ledger, "private", watched)
    return found


def test_a_courses_pages_open_nobody_who_has_nothing_to_do_with_it(small_centre: Centre, opened: list[str]) -> None:
    c = small_centre
    c.hold()
    strangers = {add(c, f"Stranger {number}", None) for number in range(3)}
    opened.clear()
    seen = c.view()
    missing(seen, seen.students, LAST_DAY)
    readiness(seen, LAST_DAY)
    hours(seen, LAST_DAY)
    student_page(seen, c.amaru, LAST_DAY)
    skill_detail(c.ledger, seen, c.amaru, POOL_SKILL, LAST_DAY)
    competency_record(c.ledger, seen, c.amaru, LAST_DAY)
    assert c.amaru in opened
    assert strangers.isdisjoint(opened)


def test_who_is_not_on_the_course_is_opened_once_as_they_are_named(small_centre: Centre, opened: list[str]) -> None:
    c = small_centre
    stranger, other = add(c), add(c, "Odo Penhallick")
    seen = c.view()
    opened.clear()
    assert [seen.name(stranger) for _ in range(3)] == ["Ines Marbeck"] * 3
    assert set(opened) == {stranger}
    opened.clear()
    assert seen.name(stranger) == "Ines Marbeck"
    assert opened == []
    assert other in seen.people
    assert seen.person(other).id == other
    assert "nobody" not in seen.people
    assert seen.name("nobody") == "somebody who is not in this centre"
    with pytest.raises(KeyError):
        seen.people["nobody"]


def test_a_namesake_elsewhere_gets_a_tag_where_named_beside_the_course_whatever_was_asked_before(
    small_centre: Centre,
) -> None:
    """Those on the course are called the same on every page and paper, whoever else was looked up on the way."""
    c = small_centre
    twin, same_year = add(c, "amaru TENDELLE", "1990-01-01"), add(c, "Amaru Tendelle", "1998-12-31")
    seen = c.view()
    before = seen.name(c.amaru)
    assert seen.name(twin) == "amaru TENDELLE (born 1990)"
    assert seen.name(same_year) == f"Amaru Tendelle (born 1998, no. {same_year[-4:]})"
    assert seen.name(c.amaru) == before == "Amaru Tendelle"


def test_a_list_of_the_whole_centre_tells_all_namesakes_apart(small_centre: Centre) -> None:
    c = small_centre
    twin = add(c, "Amaru Tendelle", "1990-01-01")
    everybody = c.view().people.everybody()
    assert (everybody[c.amaru].shown, everybody[twin].shown) == (
        "Amaru Tendelle (born 1998)",
        "Amaru Tendelle (born 1990)",
    )


def test_without_names_people_are_told_apart_by_number(small_centre: Centre) -> None:
    c = small_centre
    people = c.view().people.without_names()
    assert isinstance(people, People)
    assert people[c.amaru].shown == f"person {c.amaru[-6:]}"
    assert people[c.amaru].birth_date == ""
    assert {known.shown.split()[0] for known in people.everybody().values()} == {"person"}


def test_a_view_never_reads_through_a_ledger_that_was_closed(tmp_path: Any) -> None:
    """The same folder opened again is another view, though nothing was saved in between."""
    from course.answers.course_view import view
    from course.storage.ledger import open_ledger

    with build_centre(tmp_path / "centre", shipped_standards()) as c:
        stranger, course = add(c), c.course
        first = view(c.ledger, course)
    with open_ledger(tmp_path / "centre") as again:
        second = view(again, course)
        assert second is not first
        assert second.name(stranger) == "Ines Marbeck"
