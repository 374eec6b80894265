"""Signing in and out, moving between groups, and who is with whom: what comes into the ledger, and what is refused."""

from __future__ import annotations

import pytest
from centre_builder import Centre, seen_at

from course.actions import courses, presence
from course.actions.drafting import body, draft
from course.errors import ConflictError, NotFoundError, RefusedError
from course.hours.groups import members_of
from course.hours.minutes import learner_minutes
from course.moments import new_id
from course.record.day_events import SessionClosed, SessionFrozen, SessionReopened
from course.record.facts import Session, Span
from course.words import Role, SpanRole

POOL = "pool-22"


def session_of(centre: Centre, key: str = POOL) -> Session:
    fact = centre.ledger.fact("session", centre.sessions[key])
    assert isinstance(fact, Session)
    return fact


def spans_of(centre: Centre, person: str) -> list[Span]:
    return sorted((s for s in session_of(centre).spans if s.person == person), key=lambda s: s.start.utc)


def group(centre: Centre, name: str = "P", staff: tuple[str, ...] = (), students: tuple[str, ...] = ()) -> str:
    return courses.make_group(
        centre.ledger, centre.lead, centre.sessions[POOL], name=name, staff=staff, students=students
    )  # fmt: skip


def come(centre: Centre, person: str, minute: int = 30, **more: object) -> str:
    return presence.sign_in(
        centre.ledger, centre.lead, centre.sessions[POOL], person, seen_at(22, 13, minute), **more
    )  # type: ignore[arg-type]  # fmt: skip


def leave(centre: Centre, person: str, hour: int = 15, minute: int = 6, **more: object) -> None:
    presence.sign_out(
        centre.ledger, centre.lead, centre.sessions[POOL], person, seen_at(22, hour, minute), **more
    )  # type: ignore[arg-type]  # fmt: skip


def say(centre: Centre, *bodies: object) -> None:
    centre.ledger.append([draft(centre.lead, one) for one in bodies])  # type: ignore[arg-type]


def freeze(centre: Centre) -> None:
    say(centre, body(SessionFrozen, session=centre.sessions[POOL], incident=new_id(), observed=seen_at(22, 14, 0)))


def close(centre: Centre) -> None:
    say(centre, body(SessionClosed, session=centre.sessions[POOL], observed=seen_at(22, 17, 0)))


@pytest.mark.parametrize(
    ("who", "role"),
    [
        ("lead", SpanRole.TEACHING),
        ("second", SpanRole.TEACHING),
        ("assistant", SpanRole.ASSISTING),
        ("candidate", SpanRole.CANDIDATE),
        ("amaru", SpanRole.STUDENT),
    ],
)
def test_one_tap_signs_somebody_in_as_what_they_are_on_the_course(
    small_centre: Centre, who: str, role: SpanRole
) -> None:
    person = getattr(small_centre, who)
    made = group(small_centre, staff=(small_centre.lead,), students=(small_centre.amaru,))
    before = small_centre.count()
    span_id = come(small_centre, person)
    (span,) = spans_of(small_centre, person)
    assert (span.id, span.role, span.start, span.end) == (span_id, role, seen_at(22, 13, 30), None)
    assert span.group == (made if who in ("lead", "amaru") else None)
    assert small_centre.count() == before + 1


def test_a_technician_and_surface_support_are_signed_in_as_such(small_centre: Centre) -> None:
    from course.actions import centre as centres

    odo = centres.add_person(small_centre.ledger, small_centre.lead, name="Odo", roles=[Role.TECHNICIAN])
    courses.enrol(small_centre.ledger, small_centre.lead, small_centre.course, odo, Role.TECHNICIAN)
    come(small_centre, odo)
    come(small_centre, small_centre.second, role=SpanRole.SURFACE)
    assert spans_of(small_centre, odo)[0].role == SpanRole.TECHNICIAN
    assert spans_of(small_centre, small_centre.second)[0].role == SpanRole.SURFACE


def test_a_tap_that_arrives_twice_adds_nothing(small_centre: Centre) -> None:
    """The same id later, when the clock shows another time already: still one coming and one leaving."""
    tap, tap_out = new_id(), new_id()
    come(small_centre, small_centre.amaru, event_id=tap)
    assert come(small_centre, small_centre.amaru, 31, event_id=tap) == tap
    leave(small_centre, small_centre.amaru, event_id=tap_out)
    before = small_centre.count()
    leave(small_centre, small_centre.amaru, 15, 7, event_id=tap_out)
    come(small_centre, small_centre.amaru, 32, event_id=tap)
    assert small_centre.count() == before
    (span,) = spans_of(small_centre, small_centre.amaru)
    assert (span.start, span.end) == (seen_at(22, 13, 30), seen_at(22, 15, 6))


def test_a_taps_id_for_another_person_is_refused(small_centre: Centre) -> None:
    tap = come(small_centre, small_centre.amaru, event_id=new_id())
    with pytest.raises(ConflictError, match="stands for another act"):
        come(small_centre, small_centre.zoe, event_id=tap)
    with pytest.raises(ConflictError, match="stands for another act"):
        leave(small_centre, small_centre.amaru, event_id=tap)
    assert spans_of(small_centre, small_centre.zoe) == []


def test_who_left_may_come_again(small_centre: Centre) -> None:
    come(small_centre, small_centre.amaru)
    leave(small_centre, small_centre.amaru, 14, 0)
    presence.sign_in(
        small_centre.ledger, small_centre.lead, small_centre.sessions[POOL], small_centre.amaru, seen_at(22, 14, 30)
    )
    assert [s.end is None for s in spans_of(small_centre, small_centre.amaru)] == [False, True]


@pytest.mark.parametrize(
    ("act", "sentence"),
    [
        (lambda c: come(c, c.amaru, 40), "in already"),
        (lambda c: come(c, c.amaru, 0), "in already"),
        (lambda c: leave(c, c.zoe), "not in, so they cannot leave"),
        (lambda c: leave(c, c.amaru, 13, 30), "nobody leaves before they came"),
        (lambda c: leave(c, c.amaru, 13, 10), "came at 13:30"),
        (lambda c: come(c, c.zoe, 30, end=seen_at(22, 13, 30)), "Nobody leaves before they came"),
        (lambda c: come(c, c.second, 10), "from 13:05 to 13:25 already"),
    ],
)
def test_what_does_not_fit_is_refused_in_a_sentence_and_changes_nothing(
    small_centre: Centre, act: object, sentence: str
) -> None:
    come(small_centre, small_centre.amaru)
    come(small_centre, small_centre.second, 5, end=seen_at(22, 13, 25))
    before = small_centre.count()
    with pytest.raises(RefusedError, match=sentence):
        act(small_centre)  # type: ignore[operator]
    assert small_centre.count() == before


def test_somebody_who_is_not_on_the_course_is_not_signed_in(small_centre: Centre) -> None:
    from course.actions import centre as centres

    stranger = centres.add_person(small_centre.ledger, small_centre.lead, name="Sol", roles=[Role.STUDENT])
    with pytest.raises(RefusedError, match="not on the course"):
        come(small_centre, stranger)


def test_a_group_that_is_not_there_is_told(small_centre: Centre) -> None:
    with pytest.raises(NotFoundError, match="no such group"):
        come(small_centre, small_centre.amaru, group=new_id())


def test_only_who_runs_the_day_signs_people_in(small_centre: Centre) -> None:
    c = small_centre
    with pytest.raises(RefusedError, match="run the day"):
        presence.sign_in(c.ledger, c.candidate, c.sessions[POOL], c.amaru, seen_at(22, 13, 30))
    presence.sign_in(c.ledger, c.assistant, c.sessions[POOL], c.amaru, seen_at(22, 13, 30))


def test_moving_ends_one_time_and_begins_the_next_at_one_instant(small_centre: Centre) -> None:
    c = small_centre
    p, q = group(c, "P", (c.lead,), (c.amaru, c.zoe)), group(c, "Q", (c.second,))
    come(c, c.amaru)
    tap = new_id()
    for _ in range(2):
        presence.move(c.ledger, c.lead, c.sessions[POOL], c.amaru, q, seen_at(22, 14, 10), event_id=tap)
    first, second = spans_of(c, c.amaru)
    assert (first.group, first.end) == (p, seen_at(22, 14, 10))
    assert (second.group, second.start, second.end, second.role) == (q, seen_at(22, 14, 10), None, SpanRole.STUDENT)
    minutes = learner_minutes([session_of(c)], c.amaru)
    assert minutes["pool"] == 170, "13:30 to 16:20 without a gap and without a minute counted twice"
    with pytest.raises(RefusedError, match="in that group already"):
        presence.move(c.ledger, c.lead, c.sessions[POOL], c.amaru, q, seen_at(22, 14, 20))
    with pytest.raises(RefusedError, match="not in"):
        presence.move(c.ledger, c.lead, c.sessions[POOL], c.zoe, q, seen_at(22, 14, 20))


def test_an_instructor_named_in_two_groups_comes_into_the_one_they_have_not_been_in(small_centre: Centre) -> None:
    c = small_centre
    b, b2 = group(c, "B", (c.second,), (c.amaru,)), group(c, "B2", (c.second,), (c.zoe,))
    come(c, c.second)
    leave(c, c.second, 14, 0)
    presence.sign_in(c.ledger, c.lead, c.sessions[POOL], c.second, seen_at(22, 14, 0))
    assert [s.group for s in spans_of(c, c.second)] == [b, b2]


def test_everyone_comes_and_goes_at_one_instant(small_centre: Centre) -> None:
    c = small_centre
    p = group(c, "P", (c.lead, c.assistant), (c.amaru, c.zoe))
    come(c, c.amaru, 20)
    came = presence.everyone_in(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 13, 30))
    assert came == (c.lead, c.assistant, c.zoe)
    before = c.count()
    assert presence.everyone_in(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 13, 31)) == ()
    assert c.count() == before
    leave(c, c.zoe, 14, 0)
    assert presence.everyone_in(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 14, 5)) == (), "Zoe left on purpose"
    gone = presence.everyone_out(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 16, 20))
    assert set(gone) == {c.lead, c.assistant, c.amaru}
    assert presence.everyone_out(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 16, 21)) == ()
    assert all(s.end is not None for s in session_of(c).spans)
    again = presence.everyone_in(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 16, 30))
    assert set(again) == {c.lead, c.assistant, c.amaru, c.zoe}, "after a break in which all were out"


def test_a_session_without_groups_takes_everybody_of_the_course(small_centre: Centre) -> None:
    c = small_centre
    came = presence.everyone_in(c.ledger, c.lead, c.sessions[POOL], None, seen_at(22, 13, 30))
    assert set(came) == {c.lead, c.second, c.assistant, c.candidate, c.amaru, c.zoe}


def test_from_a_frozen_session_people_leave_and_nobody_comes(small_centre: Centre) -> None:
    c = small_centre
    p = group(c, "P", (c.lead,), (c.amaru, c.zoe))
    come(c, c.amaru)
    come(c, c.lead)
    freeze(c)
    for act in (
        lambda: come(c, c.zoe),
        lambda: presence.everyone_in(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 14, 5)),
        lambda: presence.move(c.ledger, c.lead, c.sessions[POOL], c.amaru, None, seen_at(22, 14, 5)),
    ):
        with pytest.raises(RefusedError, match="frozen since 14:00"):
            act()
    leave(c, c.amaru, 14, 5)
    presence.everyone_out(c.ledger, c.lead, c.sessions[POOL], p, seen_at(22, 14, 6))
    assert all(s.end is not None for s in session_of(c).spans)


def test_a_closed_session_is_opened_again_before_anybody_leaves(small_centre: Centre) -> None:
    c = small_centre
    come(c, c.amaru)
    close(c)
    for act in (lambda: leave(c, c.amaru), lambda: come(c, c.zoe)):
        with pytest.raises(RefusedError, match="is closed"):
            act()
    say(c, body(SessionReopened, session=c.sessions[POOL], observed=seen_at(22, 18), why="Amaru was still in."))
    leave(c, c.amaru, 16, 20)
    assert spans_of(c, c.amaru)[0].end == seen_at(22, 16, 20)


def test_two_laptops_that_both_signed_somebody_in_are_both_ended(small_centre: Centre) -> None:
    """After a merge a person can have two open times; one tap on out ends both."""
    c = small_centre
    times = [
        courses.span(c.lead, session=c.sessions[POOL], person=c.amaru, role=SpanRole.STUDENT, start=seen_at(22, 13, m))
        for m in (30, 31)
    ]
    courses.record_times(c.ledger, c.lead, times)
    leave(c, c.amaru)
    assert [s.end for s in spans_of(c, c.amaru)] == [seen_at(22, 15, 6)] * 2


def test_changing_a_group_takes_the_place_of_the_earlier_line_and_moves_nobody(small_centre: Centre) -> None:
    c = small_centre
    p = group(c, "P", (c.lead, c.assistant), (c.amaru, c.zoe))
    come(c, c.zoe)
    presence.change_group(c.ledger, c.lead, c.sessions[POOL], p, staff=[c.lead], students=[c.amaru])
    (live,) = session_of(c).groups
    assert (live.id, live.name, live.staff, live.students) == (p, "P", (c.lead,), (c.amaru,))
    assert [(s.person, s.group, s.end) for s in session_of(c).spans] == [(c.zoe, p, None)]
    before = c.count()
    presence.change_group(c.ledger, c.lead, c.sessions[POOL], p, staff=[c.lead], students=[c.amaru])
    assert c.count() == before
    with pytest.raises(RefusedError, match="as staff and as student"):
        presence.change_group(c.ledger, c.lead, c.sessions[POOL], p, staff=[c.amaru], students=[c.amaru])


def test_two_changes_of_one_group_are_both_seen_until_one_takes_the_place_of_both(small_centre: Centre) -> None:
    c = small_centre
    p = group(c, "P", (c.lead,), (c.amaru,))
    (first,) = session_of(c).groups
    from course.record.events import GroupMade

    say(c, *(
        body(GroupMade, session=c.sessions[POOL], group=p, name="P", staff=staff, students=(c.amaru,),
             replaces=(first.event,))
        for staff in ((c.lead, c.second), (c.assistant,))
    ))  # fmt: skip
    assert set(members_of(session_of(c), p)) == {c.lead, c.second, c.assistant, c.amaru}
    presence.change_group(c.ledger, c.lead, c.sessions[POOL], p, staff=[c.second], students=[c.amaru])
    assert [g.staff for g in session_of(c).groups] == [(c.second,)]
