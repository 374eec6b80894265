"""What is true now is a function of the set of events: withdrawals, corrections, replaced marks, joined attempts."""

from __future__ import annotations

import itertools
import random
from typing import Any

import pytest
from event_examples import FIVE, FOUR, HASH, ONE, THREE, TWO, an_id, at, event, history
from hypothesis import given
from hypothesis import strategies as st

from course.record.events import (
    AttemptClosed,
    AttemptOpened,
    AttemptsJoined,
    Body,
    CentreMade,
    Corrected,
    CourseMade,
    ElsewhereAnswered,
    Enrolled,
    JointLineAgreed,
    MarkGiven,
    MarksGiven,
    OrderAnswered,
    PersonAdded,
    SessionPlanned,
    SheetStarted,
    SpanEnded,
    SpanRecorded,
    UnitAdded,
    UnitAssigned,
    ValueMeasured,
    WholeAttemptClean,
    Withdrawn,
)
from course.record.facts import Attempt, Course, Fact, Join, Person, Session
from course.record.projection import fact_text, join_attempts, keys, project, read_fact
from course.words import Capacity, Closing, Mark, Role, SheetSource, SpanRole

SHEET = TWO


def opened(attempt: str = ONE, **more: Any) -> AttemptOpened:
    """One attempt of one student."""
    plain: dict[str, Any] = {
        "attempt": attempt, "course": THREE, "session": FOUR, "student": FIVE, "skill": "bailout", "rubric": HASH,
        "setting": "pool", "number": 1, "observed": at(),
    }  # fmt: skip
    return AttemptOpened(**(plain | more))


def started(sheet: str = SHEET, source: SheetSource = SheetSource.PAD, attempt: str = ONE) -> SheetStarted:
    """An evaluating sheet."""
    return SheetStarted(
        attempt=attempt, sheet=sheet, observer=FOUR, role=Role.LEAD, capacity=Capacity.EVALUATING, source=source,
        observed=at(),
    )  # fmt: skip


def marked(mark: Mark = Mark.DONE, step: str = "out", minute: int = 5, *, replaces: tuple[int, ...] = ()) -> MarksGiven:
    """One tap."""
    errors = ("late",) if mark == Mark.ERROR else ()
    line = MarkGiven(step=step, mark=mark, errors=errors, replaces=tuple(an_id(1000 + n) for n in replaces))
    return MarksGiven(attempt=ONE, sheet=SHEET, marks=(line,), observed=at(minute))


def closed(how: Closing = Closing.COMPLETED, minute: int = 30) -> AttemptClosed:
    """The end of the attempt."""
    return AttemptClosed(
        attempt=ONE, how=how, stopped_by="student" if how == Closing.STOPPED else None, observed=at(minute)
    )


def withdrawn(number: int) -> Withdrawn:
    """The event of this number no longer holds."""
    return Withdrawn(thing=ONE, withdraws=an_id(1000 + number))


def corrected(of: int, /, *, replaces: tuple[int, ...] = (), thing: str = ONE, **change: Any) -> Corrected:
    """Fields of the event of this number are others."""
    earlier = tuple(an_id(1000 + n) for n in replaces)
    return Corrected(thing=thing, corrects=an_id(1000 + of), replaces=earlier, change=change)


def attempt_of(*bodies: Body) -> Attempt:
    """The attempt that comes of a history that begins with its opening and its sheet."""
    fact = project(history(opened(), started(), *bodies))
    assert isinstance(fact, Attempt)
    return fact


def marks_of(*bodies: Body) -> list[Mark]:
    """The live marks of its one sheet."""
    return [line.mark for line in attempt_of(*bodies).sheets[0].marks]


# --- any order ------------------------------------------------------------------------------------------------------

_numbers = st.integers(1, 9)
_statements = st.one_of(
    st.builds(marked, st.sampled_from(Mark), st.sampled_from(["out", "hand"]), st.integers(0, 50)),
    st.builds(lambda number: marked(replaces=(number,)), _numbers),
    st.builds(withdrawn, _numbers),
    st.builds(lambda number, place: corrected(number, number=place), st.just(1), st.integers(1, 3)),
    st.builds(lambda number, student: corrected(number, student=an_id(student)), st.just(1), st.integers(50, 52)),
    st.builds(lambda earlier: corrected(1, replaces=(earlier,), number=7), _numbers),
    st.builds(closed, st.sampled_from(Closing), st.integers(0, 59)),
    st.builds(lambda value: ValueMeasured(
        attempt=ONE, sheet=SHEET, step="hold", quantity="time", unit="s", value=str(value), observed=at()
    ), st.integers(0, 99)),
)  # fmt: skip


@given(st.lists(_statements, max_size=9), st.randoms(use_true_random=False), st.data())
def test_any_order_of_arrival_gives_the_same_fact(
    bodies: list[Body], mixer: random.Random, data: st.DataObject
) -> None:
    """Two laptops' chains with Lamport numbers of their own; some events arrive twice."""
    events = [
        event(number, body, chain=data.draw(st.sampled_from(["one", "two"])), lamport=data.draw(st.integers(1, 12)))
        for number, body in enumerate([opened(), started(), *bodies], 1)
    ]
    told = project(events)
    mixed = [*events, *mixer.sample(events, len(events) // 2)]
    mixer.shuffle(mixed)
    told_of_mixed = project(mixed)
    assert told_of_mixed == told
    assert told is not None
    assert told_of_mixed is not None
    assert fact_text(told_of_mixed) == fact_text(told)
    assert read_fact("attempt", fact_text(told)) == told


# --- withdrawals ----------------------------------------------------------------------------------------------------


def test_a_withdrawn_mark_leaves_the_step_unmarked_and_a_withdrawn_withdrawal_brings_it_back() -> None:
    assert marks_of(marked()) == [Mark.DONE]
    assert marks_of(marked(), withdrawn(3)) == []
    assert marks_of(marked(), withdrawn(3), withdrawn(4)) == [Mark.DONE]
    assert marks_of(marked(), withdrawn(3), withdrawn(4), withdrawn(5)) == []


def test_a_withdrawn_attempt_is_kept_and_says_so() -> None:
    assert attempt_of(marked(), withdrawn(1)).withdrawn
    assert not attempt_of(marked(), withdrawn(1), withdrawn(4)).withdrawn


def test_a_withdrawal_reaches_no_other_subject() -> None:
    other = Withdrawn(thing=TWO, withdraws=an_id(1003))
    assert project([*history(opened(), started(), marked()), event(9, other)]) == project(
        [*history(opened(), started(), marked()), event(9, other)][::-1]
    )
    assert marks_of(marked(), Withdrawn(thing=ONE, withdraws=an_id(9999))) == [Mark.DONE]


def test_a_withdrawn_closing_opens_the_attempt_again() -> None:
    assert attempt_of(closed()).ending is not None
    assert attempt_of(closed(), withdrawn(3)).ending is None


# --- corrections ----------------------------------------------------------------------------------------------------


def test_a_correction_gives_a_field_its_new_value_and_keeps_the_rest() -> None:
    fact = attempt_of(corrected(1, number=4))
    assert (fact.number, fact.setting, fact.contested) == (4, "pool", ())


def test_corrections_of_different_fields_both_hold() -> None:
    fact = attempt_of(corrected(1, number=4), corrected(1, setting="dry"))
    assert (fact.number, fact.setting, fact.contested) == (4, "dry", ())


def test_two_live_corrections_of_one_field_are_contested_and_neither_holds() -> None:
    fact = attempt_of(corrected(1, number=4), corrected(1, number=5))
    assert (fact.number, fact.contested) == (1, ("number",))


def test_two_corrections_to_the_same_value_agree() -> None:
    assert attempt_of(corrected(1, number=4), corrected(1, number=4)).contested == ()


def test_a_correction_takes_the_place_of_an_earlier_one_in_its_own_fields_only() -> None:
    fact = attempt_of(corrected(1, number=4, setting="dry"), corrected(1, number=5, replaces=(3,)))
    assert (fact.number, fact.setting, fact.contested) == (5, "dry", ())


def test_withdrawing_a_correction_brings_back_what_it_replaced() -> None:
    fact = attempt_of(corrected(1, number=4), corrected(1, number=5, replaces=(3,)), withdrawn(4))
    assert (fact.number, fact.contested) == (4, ())


def test_a_correction_can_empty_a_field() -> None:
    fact = project(history(opened(unit=TWO), corrected(1, unit=None)))
    assert isinstance(fact, Attempt)
    assert fact.unit is None


def test_corrections_that_only_clash_together_are_contested_and_not_dropped_unseen() -> None:
    """Each fitted on its own laptop: the span that one makes begin later, the other makes end earlier."""
    span = SpanRecorded(session=ONE, span=TWO, person=THREE, role=SpanRole.STUDENT, start=at(0), end=at(30))
    session = SessionPlanned(session=ONE, course=TWO, title="Pool", setting="pool", start=at(0), end=at(59))
    later = corrected(2, start=at(20).model_dump(mode="json"))
    earlier = corrected(2, end=at(10).model_dump(mode="json"))
    fact = project(history(session, span, later, earlier))
    assert isinstance(fact, Session)
    assert fact.contested == ("end", "start")
    assert (fact.spans[0].start, fact.spans[0].end) == (at(0), at(30))


def test_a_student_corrected_two_ways_is_claimed_by_both() -> None:
    fact = attempt_of(corrected(1, student=an_id(50)), corrected(1, student=an_id(51)))
    assert fact.claimants == (an_id(50), an_id(51))
    assert fact.contested == ("student",)


def test_a_mark_corrected_two_ways_stands_as_both_lines_so_that_the_stricter_can_hold() -> None:
    lines = [
        [{"step": "out", "mark": "left_out"}],
        [{"step": "out", "mark": "error", "errors": ["late"]}],
    ]
    fact = attempt_of(marked(), *(corrected(3, marks=line) for line in lines))
    assert [line.mark for line in fact.sheets[0].marks] == [Mark.LEFT_OUT, Mark.ERROR]
    assert fact.contested == ("marks",)


def test_a_value_and_an_answer_corrected_two_ways_stand_as_both() -> None:
    value = ValueMeasured(attempt=ONE, sheet=SHEET, step="hold", quantity="time", unit="s", value="60", observed=at())
    order = OrderAnswered(
        attempt=ONE, sheet=SHEET, first_done="out", should_come_first="close", seen_so=False, observed=at()
    )
    values = attempt_of(value, corrected(3, value="41"), corrected(3, value="70")).sheets[0].values
    assert [line.value for line in values] == ["41", "70"]
    answers = attempt_of(order, corrected(3, seen_so=True), corrected(3, seen_so=False)).sheets[0].orders
    assert [line.seen_so for line in answers] == [True, False]


# --- marks ----------------------------------------------------------------------------------------------------------


def test_a_mark_that_names_the_one_before_it_takes_its_place() -> None:
    assert marks_of(marked(), marked(Mark.ERROR, replaces=(3,))) == [Mark.ERROR]
    assert marks_of(marked(), marked(Mark.ERROR, replaces=(3,)), withdrawn(4)) == [Mark.DONE]


def test_two_taps_that_do_not_know_of_each_other_both_stand() -> None:
    assert marks_of(marked(), marked(Mark.ERROR)) == [Mark.DONE, Mark.ERROR]


def test_replacing_a_mark_leaves_the_other_marks_of_the_same_event() -> None:
    two = MarksGiven(
        attempt=ONE, sheet=SHEET, observed=at(),
        marks=(MarkGiven(step="out", mark=Mark.DONE), MarkGiven(step="hand", mark=Mark.DONE)),
    )  # fmt: skip
    lines = attempt_of(two, marked(Mark.LEFT_OUT, replaces=(3,))).sheets[0].marks
    assert [(line.step, line.mark) for line in lines] == [("hand", Mark.DONE), ("out", Mark.LEFT_OUT)]


def test_the_first_tap_of_a_step_is_kept_whatever_came_after() -> None:
    taps = attempt_of(marked(minute=5), marked(step="hand", minute=6), withdrawn(3), marked(minute=8)).sheets[0]
    assert [(step, utc[14:16]) for step, utc in taps.first_taps] == [("out", "05"), ("hand", "06")]


def test_a_slate_has_no_taps_to_take_an_order_from() -> None:
    fact = project(history(opened(), started(source=SheetSource.SLATE), marked()))
    assert isinstance(fact, Attempt)
    assert fact.sheets[0].first_taps == ()


def test_a_mark_given_after_the_closing_is_late_and_one_that_only_arrived_after_it_is_not() -> None:
    lines = attempt_of(closed(minute=30), marked(minute=20), marked(minute=40)).sheets[0].marks
    assert [line.late for line in lines] == [False, True]


def test_the_stroke_for_a_whole_clean_attempt_is_kept_with_its_event() -> None:
    stroke = WholeAttemptClean(attempt=ONE, sheet=SHEET, observed=at())
    assert attempt_of(stroke).sheets[0].whole_clean == an_id(1003)
    assert attempt_of(stroke, withdrawn(3)).sheets[0].whole_clean is None


def test_of_two_closings_the_one_that_lets_the_attempt_count_holds() -> None:
    for one, other in itertools.permutations(Closing, 2):
        ending = attempt_of(closed(one), closed(other)).ending
        assert ending is not None
        assert ending.how == min(one, other, key=[Closing.COMPLETED, Closing.STOPPED, Closing.VOID].index)


def test_a_joint_line_takes_the_place_of_an_earlier_one_and_two_that_do_not_know_of_each_other_both_stand() -> None:
    def line(mark: Mark, *replaces: int) -> JointLineAgreed:
        earlier = tuple(an_id(1000 + n) for n in replaces)
        return JointLineAgreed(
            attempt=ONE, line=MarkGiven(step="out", mark=mark, replaces=earlier), observers=(TWO, THREE), observed=at()
        )

    assert [j.mark for j in attempt_of(line(Mark.DONE), line(Mark.LEFT_OUT, 3)).joint] == [Mark.LEFT_OUT]
    assert [j.mark for j in attempt_of(line(Mark.DONE), line(Mark.LEFT_OUT)).joint] == [Mark.DONE, Mark.LEFT_OUT]


def test_an_answer_to_an_attempt_from_elsewhere_can_be_given_anew_and_of_two_the_stricter_holds() -> None:
    no = ElsewhereAnswered(attempt=ONE, accepted=False)
    yes = ElsewhereAnswered(attempt=ONE, accepted=True)
    anew = ElsewhereAnswered(attempt=ONE, accepted=True, replaces=(an_id(1003),))
    assert attempt_of().accepted is None
    assert attempt_of(yes).accepted is True
    assert attempt_of(no, yes).accepted is False
    assert attempt_of(no, anew).accepted is True


# --- ids, newer versions, what founds a fact ------------------------------------------------------------------------


def test_an_id_that_comes_twice_counts_once_and_the_first_in_order_holds() -> None:
    events = history(opened(), started(), marked(Mark.DONE))
    again = event(3, marked(Mark.ERROR), chain="two", lamport=9)._replace(hash="f" * 64)
    for mixed in itertools.permutations([*events, again]):
        fact = project(mixed)
        assert isinstance(fact, Attempt)
        assert [line.mark for line in fact.sheets[0].marks] == [Mark.DONE]
        assert "f" * 64 in fact.events


def test_a_kind_from_a_newer_version_is_kept_and_named() -> None:
    newer = event(4, marked(), kind="marks_given/9")
    fact = project([*history(opened(), started(), marked()), newer])
    assert isinstance(fact, Attempt)
    assert fact.unread == ("marks_given/9",)
    assert newer.hash in fact.events
    assert [line.mark for line in fact.sheets[0].marks] == [Mark.DONE]


def test_there_is_no_fact_without_the_event_that_founds_it() -> None:
    assert project([]) is None
    assert project(history(started(), marked())) is None
    assert project([event(1, opened(), kind="attempt_opened/9")]) is None


@pytest.mark.parametrize(
    ("body", "kind", "by"),
    [
        (opened(), "attempt", (THREE, FIVE, "bailout", FOUR)),
        (CentreMade(centre=ONE, name="K", zone="UTC", lead=TWO), "centre", (None,) * 4),
        (UnitAdded(unit=ONE, label="A", unit_type="type-a"), "unit", (None,) * 4),
        (AttemptsJoined(join=ONE, course=TWO, attempts=(THREE, FOUR)), "join", (TWO, None, None, None)),
        (
            SessionPlanned(session=ONE, course=TWO, title="P", setting="pool", start=at(), end=at(9)),
            "session",
            (TWO, None, None, None),
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else None,
)
def test_a_fact_is_looked_up_by_its_course_person_skill_and_session(body: Body, kind: str, by: tuple[Any, ...]) -> None:
    fact = project([event(1, body)])
    assert isinstance(fact, Fact)
    found = keys(fact)
    assert (found.kind, found.course, found.person, found.skill, found.session) == (kind, *by)


# --- other things ---------------------------------------------------------------------------------------------------


def test_private_pieces_of_what_was_withdrawn_no_longer_speak_for_the_person() -> None:
    """A corrected name that was withdrawn must not go on being shown."""
    person = PersonAdded(person=ONE, roles=(Role.STUDENT,))
    named, renamed, back = history(person, corrected(1), withdrawn(2))
    events = [e._replace(body=e.body[:-1] + f',"sealed":{{"data":"{n}","of":"{ONE}"}}}}') for n, e in
              enumerate((named, renamed))]  # fmt: skip
    told = project(events)
    assert told is not None
    assert [piece.data for piece in told.private] == ["0", "1"]
    told = project([*events, back])
    assert told is not None
    assert [piece.data for piece in told.private] == ["0"]
    assert isinstance(told, Person)


def test_members_are_listed_once_and_the_latest_unit_counts_from_its_day_on() -> None:
    course = CourseMade(
        course=ONE, title="KW", zone="UTC", adoption=TWO, profile="ex", revision="r1", first_day="2026-10-20",
        last_day="2026-10-25",
    )  # fmt: skip
    enrolled = Enrolled(course=ONE, person=FIVE, role=Role.STUDENT)

    def unit(unit: str, day: str) -> UnitAssigned:
        return UnitAssigned(course=ONE, person=FIVE, unit=unit, unit_type="type-a", from_day=day)

    fact = project(history(course, enrolled, enrolled, unit(THREE, "2026-10-23"), unit(FOUR, "2026-10-21")))
    assert isinstance(fact, Course)
    assert fact.people(Role.STUDENT) == (FIVE,)
    by_day = {day: fact.assignment(FIVE, f"2026-10-{day}") for day in (20, 21, 22, 23, 25)}
    assert {day: a.unit for day, a in by_day.items() if a} == {20: FOUR, 21: FOUR, 22: FOUR, 23: THREE, 25: THREE}
    assert fact.assignment(TWO, "2026-10-22") is None


def test_of_two_ends_of_a_span_the_earlier_holds() -> None:
    session = SessionPlanned(session=ONE, course=TWO, title="Pool", setting="pool", start=at(0), end=at(59))
    span = SpanRecorded(session=ONE, span=TWO, person=THREE, role=SpanRole.STUDENT, start=at(0))
    for minutes in ((40, 30), (30, 40)):
        fact = project(history(session, span, *(SpanEnded(session=ONE, span=TWO, end=at(m)) for m in minutes)))
        assert isinstance(fact, Session)
        assert fact.spans[0].end == at(30)


def _plain(attempt: str, *bodies: Body) -> Attempt:
    first = [event(900, opened(attempt)), *(event(900 + n, body) for n, body in enumerate(bodies, 1))]
    fact = project(first)
    assert isinstance(fact, Attempt)
    return fact


def _join(number: int, *attempts: str) -> Join:
    fact = project([event(number, AttemptsJoined(join=an_id(number), course=THREE, attempts=attempts))])
    assert isinstance(fact, Join)
    return fact


def test_joined_attempts_are_one_with_all_sheets_and_what_each_of_them_says() -> None:
    one = _plain(an_id(60), started(an_id(70), attempt=an_id(60)))
    two = _plain(an_id(61), started(an_id(71), attempt=an_id(61))).model_copy(
        update={"unread": ("future/9",), "contested": ("number",)}
    )
    (kept,) = join_attempts([one, two], [_join(80, an_id(60), an_id(61))])
    assert kept.id == an_id(60)
    assert [sheet.id for sheet in kept.sheets] == [an_id(70), an_id(71)]
    assert (kept.joined, kept.unread, kept.contested) == ((an_id(61),), ("future/9",), ("number",))
    assert set(kept.events) >= {*one.events, *two.events}


@pytest.mark.parametrize("order", [(80, 81), (81, 80)])
def test_joins_that_share_an_attempt_make_one_of_all(order: tuple[int, int]) -> None:
    attempts = [_plain(an_id(60 + n), started(an_id(70 + n), attempt=an_id(60 + n))) for n in range(3)]
    joins = [_join(order[0], an_id(60), an_id(61)), _join(order[1], an_id(61), an_id(62))]
    for mixed in itertools.permutations(joins):
        (kept,) = join_attempts(attempts, mixed)
        assert kept.id == an_id(60)
        assert {sheet.id for sheet in kept.sheets} == {an_id(70), an_id(71), an_id(72)}


def test_a_withdrawn_join_and_one_of_attempts_that_are_not_here_change_nothing() -> None:
    attempts = [_plain(an_id(60)), _plain(an_id(61))]
    gone = _join(80, an_id(60), an_id(61)).model_copy(update={"withdrawn": True})
    assert join_attempts(attempts, [gone, _join(81, an_id(98), an_id(99))]) == attempts


def test_of_two_joined_attempts_a_closing_that_counts_goes_before_a_void_one() -> None:
    void = _plain(an_id(60)).model_copy(update={"ending": attempt_of(closed(Closing.VOID)).ending})
    done = _plain(an_id(61)).model_copy(update={"ending": attempt_of(closed()).ending})
    (kept,) = join_attempts([void, done], [_join(80, an_id(60), an_id(61))])
    assert kept.ending is not None
    assert kept.ending.how == Closing.COMPLETED
