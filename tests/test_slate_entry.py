"""Saving a copied sheet: all in one append or nothing, once however often it is sent, and the same as by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from centre_builder import Centre, build_centre, note_papers, seen_at, sheet_of, shipped_standards
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from course.actions import amending
from course.actions import attempts as trying
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions.attempts import SheetContent, Value
from course.actions.drafting import body, draft
from course.actions.slate_entry import amend_from_slate, enter_slate, is_saved
from course.actions.slates import give_out, set_aside
from course.answers.course_view import view
from course.answers.slate_check import check_slate
from course.answers.slate_copy import CopiedColumn, CopiedSheet, SeenTime, read_copy
from course.answers.slate_sheet import entered_from
from course.errors import ConflictError, NotFoundError, RefusedError
from course.moments import from_wall_clock, new_id, observed_at
from course.record.events import MarkGiven, SessionClosed, SessionFrozen, SessionReopened
from course.record.facts import Attempt
from course.standards.rubric import Skill
from course.words import Capacity, Closing, Mark, Role, SheetSource

SKILL, VALUED = "mp-close-out", "bo-separate"
AT = seen_at(22, 18).moment
"""Two hours after the session of the 22nd."""


def given_out(centre: Centre, skill: str = SKILL, session: str = "pool-22", tries: int = 1) -> str:
    """Give out a sheet for both students; returns its id."""
    students = (centre.amaru, centre.zoe)
    (slate,) = give_out(
        centre.ledger, centre.lead, centre.sessions[session], skills=[skill], students=students, tries=tries
    )
    return slate


def done(skill: Skill, *marks: MarkGiven) -> tuple[MarkGiven, ...]:
    given = {mark.step for mark in marks}
    return (*(MarkGiven(step=step.id, mark=Mark.DONE) for step in skill.steps if step.id not in given), *marks)


def column(student: str, *marks: MarkGiven, **more: Any) -> CopiedColumn:
    return CopiedColumn(id=more.pop("id", None) or new_id(), student=student, marks=marks, **more)


def copied(centre: Centre, slate: str, *columns: CopiedColumn, session: str = "pool-22", **more: Any) -> CopiedSheet:
    more.setdefault("observer", centre.lead)
    return CopiedSheet(slate=slate, session=centre.sessions[session], columns=columns, **more)


def attempts_of(centre: Centre) -> list[Attempt]:
    return [fact for fact in centre.ledger.facts("attempt") if isinstance(fact, Attempt)]


# --- what saving makes -------------------------------------------------------------------------------------------


def test_a_whole_sheet_is_saved_in_one_append_and_empty_columns_make_no_attempt(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    skill, slate = small_centre.skill(), given_out(small_centre, tries=2)
    appended: list[int] = []
    append = small_centre.ledger.append
    monkeypatch.setattr(small_centre.ledger, "append", lambda drafts: (appended.append(len(drafts)), append(drafts))[1])
    copy = copied(
        small_centre,
        slate,
        column(small_centre.amaru, *done(skill)),
        column(small_centre.amaru, *done(skill), attempt_try=2),
        column(small_centre.zoe, *done(skill)),
        column(small_centre.zoe, attempt_try=2),
    )
    entered = enter_slate(small_centre.ledger, copy, AT)
    assert len(appended) == 1
    assert entered.attempts == tuple(one.id for one in copy.columns[:3])
    assert entered.sentence.endswith("3 attempts saved.")
    first, second, zoes = (small_centre.attempt(one) for one in entered.attempts)
    assert (first.number, second.number, zoes.number) == (1, 2, 1)
    assert [(s.source, s.slate, s.slate_try) for s in second.sheets] == [(SheetSource.SLATE, slate, 2)]
    assert entered_from(small_centre.ledger, copy.session, slate).keys() == {
        (small_centre.amaru, 1), (small_centre.amaru, 2), (small_centre.zoe, 1)
    }  # fmt: skip


def test_numbers_go_on_from_what_is_in_the_ledger(small_centre: Centre) -> None:
    small_centre.enter("dry-21")
    small_centre.enter("pool-23")
    slate = given_out(small_centre)
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(small_centre.skill())))
    (made,) = enter_slate(small_centre.ledger, copy, AT).attempts
    assert small_centre.attempt(made).number == 3


def test_both_times_are_kept(small_centre: Centre) -> None:
    """When it was seen stands in the facts, when it was entered in the events."""
    slate = given_out(small_centre)
    own = column(small_centre.amaru, *done(small_centre.skill()), seen=SeenTime(start="14:40", end="14:55"))
    copy = copied(
        small_centre, slate, own, column(small_centre.zoe, *done(small_centre.skill())),
        seen=SeenTime(start="14:05", end="15:10"),
    )  # fmt: skip
    amaru, zoe = (small_centre.attempt(one) for one in enter_slate(small_centre.ledger, copy, AT).attempts)
    assert (zoe.observed, zoe.ending and zoe.ending.observed) == (seen_at(22, 14, 5), seen_at(22, 15, 10))
    assert (amaru.observed, amaru.sheets[0].started) == (seen_at(22, 14, 40), seen_at(22, 14, 40))
    recorded = {event.recorded_at for event in small_centre.ledger.events(zoe.id)}
    assert all(text > zoe.observed.utc for text in recorded)


def test_without_a_time_the_session_stands_for_it_and_says_so(small_centre: Centre) -> None:
    copy = copied(small_centre, given_out(small_centre), column(small_centre.amaru, *done(small_centre.skill())))
    (made,) = enter_slate(small_centre.ledger, copy, AT).attempts
    observed = small_centre.attempt(made).observed
    assert (observed.utc, observed.precision) == (seen_at(22, 13, 30).utc, "session")


def test_not_seen_and_unreadable_stay_apart_from_each_other_and_from_done(small_centre: Centre) -> None:
    steps = [step.id for step in small_centre.skill().steps]
    marks = (
        MarkGiven(step=steps[0], mark=Mark.NOT_SEEN),
        MarkGiven(step=steps[1], mark=Mark.NOT_SEEN, unreadable=True),
        MarkGiven(step=steps[2], mark=Mark.DONE),
    )
    copy = copied(small_centre, given_out(small_centre), column(small_centre.amaru, *marks))
    (made,) = enter_slate(small_centre.ledger, copy, AT).attempts
    lines = {m.step: (m.mark, m.unreadable) for m in small_centre.attempt(made).sheets[0].marks}
    assert lines == {
        steps[0]: (Mark.NOT_SEEN, False), steps[1]: (Mark.NOT_SEEN, True), steps[2]: (Mark.DONE, False)
    }  # fmt: skip


def test_a_column_that_was_only_stopped_is_an_attempt(small_centre: Centre) -> None:
    own = column(small_centre.amaru, how=Closing.STOPPED, stopped_by="student")
    (made,) = enter_slate(small_centre.ledger, copied(small_centre, given_out(small_centre), own), AT).attempts
    ending = small_centre.attempt(made).ending
    assert ending is not None
    assert (ending.how, ending.stopped_by) == (Closing.STOPPED, "student")


def test_a_sheet_of_somebody_who_may_not_evaluate_is_a_practice_sheet(small_centre: Centre) -> None:
    slate = given_out(small_centre)
    copy = copied(
        small_centre, slate, column(small_centre.amaru, *done(small_centre.skill())), observer=small_centre.candidate
    )
    assert any("practice sheets" in one.sentence for one in check_slate(small_centre.ledger, copy, AT).consequences)
    (made,) = enter_slate(small_centre.ledger, copy, AT).attempts
    assert small_centre.attempt(made).sheets[0].capacity == Capacity.PRACTICE


# --- twice -------------------------------------------------------------------------------------------------------


def test_the_same_copy_sent_twice_is_saved_once(small_centre: Centre) -> None:
    """Also where the next attempt's number has gone on and the session was closed in between."""
    steps = [step.id for step in small_centre.skill().steps]
    other = MarkGiven(step=steps[0], mark=Mark.ERROR, errors=("x",))
    own = column(small_centre.amaru, other, notes={steps[0]: "Hose caught in the harness"}, whole_clean=True)
    copy = copied(small_centre, given_out(small_centre), own)
    first = enter_slate(small_centre.ledger, copy, AT)
    small_centre.enter("pool-23")
    close(small_centre)
    count = small_centre.count()
    assert is_saved(small_centre.ledger, copy)
    assert enter_slate(small_centre.ledger, copy, AT) == first
    assert small_centre.count() == count


def test_the_same_copy_with_other_marks_is_no_second_sending(small_centre: Centre) -> None:
    copy = copied(small_centre, given_out(small_centre), column(small_centre.amaru, *done(small_centre.skill())))
    enter_slate(small_centre.ledger, copy, AT)
    count = small_centre.count()
    changed = done(small_centre.skill())[:-1]
    again = copy.model_copy(update={"columns": (copy.columns[0].model_copy(update={"marks": changed}),)})
    with pytest.raises(ConflictError, match="other content"):
        enter_slate(small_centre.ledger, again, AT)
    assert small_centre.count() == count


def test_a_column_entered_before_is_never_doubled(small_centre: Centre) -> None:
    """Equal: nothing to add. Other marks: refused until it is left as it is; the other columns can go on."""
    skill, slate = small_centre.skill(), given_out(small_centre)
    enter_slate(small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *done(skill))), AT)
    equal = copied(small_centre, slate, column(small_centre.amaru, *done(skill)))
    with pytest.raises(RefusedError, match="in the ledger already"):
        enter_slate(small_centre.ledger, equal, AT)
    other = column(small_centre.amaru, *done(skill)[:-1])
    with pytest.raises(RefusedError, match="Column 1, Amaru: was entered before with other marks"):
        enter_slate(small_centre.ledger, copied(small_centre, slate, other), AT)
    left = other.model_copy(update={"leave": True})
    copy = copied(small_centre, slate, left, column(small_centre.zoe, *done(skill)))
    enter_slate(small_centre.ledger, copy, AT)
    assert sorted(a.student for a in attempts_of(small_centre)) == sorted((small_centre.amaru, small_centre.zoe))


def test_amending_brings_the_ledger_to_the_copy_with_a_reason(small_centre: Centre) -> None:
    skill = small_centre.skill(VALUED)
    slate = given_out(small_centre, VALUED)
    valued = next(step.id for step in skill.steps if step.limit)
    first = column(small_centre.amaru, *done(skill), values={valued: "8"})
    (made,) = enter_slate(small_centre.ledger, copied(small_centre, slate, first), AT).attempts
    missed = MarkGiven(step=skill.steps[0].id, mark=Mark.NOT_SEEN)
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(skill, missed), values={valued: "9"}))
    with pytest.raises(RefusedError, match="reason is needed"):
        amend_from_slate(small_centre.ledger, copy, small_centre.amaru, 1, " ")
    assert amend_from_slate(small_centre.ledger, copy, small_centre.amaru, 1, "Misread at first") == made
    (sheet,) = small_centre.attempt(made).sheets
    assert {m.step: m.mark for m in sheet.marks}[skill.steps[0].id] == Mark.NOT_SEEN
    assert [value.value for value in sheet.values] == ["9"]
    assert check_slate(small_centre.ledger, copy, AT).entered[0].identical
    with pytest.raises(RefusedError, match="both say the same"):
        amend_from_slate(small_centre.ledger, copy, small_centre.amaru, 1, "Once more")


def test_only_its_own_observer_amends_a_sheet(small_centre: Centre) -> None:
    skill, slate = small_centre.skill(), given_out(small_centre)
    enter_slate(small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *done(skill))), AT)
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(skill)[:-1]), observer=small_centre.second)
    with pytest.raises(RefusedError, match="only Tamsin Okoro-Vale amends"):
        amend_from_slate(small_centre.ledger, copy, small_centre.amaru, 1, "Mine")


# --- what is refused, each as a sentence, and nothing saved ------------------------------------------------------


def close(centre: Centre, session: str = "pool-22") -> None:
    content = body(SessionClosed, session=centre.sessions[session], observed=seen_at(22, 17))
    centre.ledger.append([draft(centre.lead, content)])


def freeze(centre: Centre) -> None:
    content = body(SessionFrozen, session=centre.sessions["pool-22"], incident=new_id(), observed=seen_at(22, 15))
    centre.ledger.append([draft(centre.lead, content)])


def leave_course(centre: Centre) -> None:
    event = next(
        e.id for e in centre.ledger.events(centre.course) if e.kind.startswith("enrolled/") and centre.amaru in e.body
    )
    amending.withdraw(centre.ledger, centre.lead, event, "Moved away")


def _error(step: str, *errors: str) -> MarkGiven:
    return MarkGiven(step=step, mark=Mark.ERROR, errors=errors)


FIRST = "co-out"


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"marks": (MarkGiven(step="no-such", mark=Mark.DONE),)}, "Column 1, Amaru: this sheet has no step 'no-such'"),
        ({"marks": (_error(FIRST, "no-such"),)}, "Column 1, Amaru: step 3 has no error 'no-such'"),
        ({"marks": (_error(FIRST, "x"),)}, "step 3: say in a few words what went wrong"),
        ({"values": {FIRST: "12"}}, "step 3 has no value to write down"),
        ({"marks": (MarkGiven(step=FIRST, mark=Mark.DONE),) * 2}, "a step is marked twice"),
        ({"how": Closing.STOPPED}, "say who stopped it"),
        ({"how": Closing.VOID}, "a void attempt needs its reason"),
        (
            {"how": Closing.VOID, "reason": "Lane closed", "marks": (_error(FIRST, "co-open-out"),)},
            "needs the name of a second instructor",
        ),
        ({"whole_clean": True, "attempt_try": 2}, "this sheet has no such column"),
        ({"out_of_order": ((FIRST, FIRST),)}, "a step cannot come before itself"),
        ({"whole_clean": True, "seen": SeenTime(start="15:00", end="14:00")}, "it ends before it begins"),
    ],
)
def test_what_does_not_fit_is_told_with_its_column_and_nothing_is_saved(
    small_centre: Centre, wrong: dict[str, Any], told: str
) -> None:
    slate = given_out(small_centre)
    count = small_centre.count()
    good = column(small_centre.zoe, *done(small_centre.skill()))
    copy = copied(small_centre, slate, CopiedColumn(id=new_id(), student=small_centre.amaru, **wrong), good)
    with pytest.raises(RefusedError) as refused:
        enter_slate(small_centre.ledger, copy, AT)
    assert told in refused.value.sentence
    assert "Nothing was saved" in refused.value.sentence
    assert small_centre.count() == count
    assert attempts_of(small_centre) == []


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (close, "can be opened again, with a reason, on the Today page"),
        (freeze, "This session is frozen"),
        (leave_course, "Column 1, Amaru: is no student of this course any more"),
    ],
)
def test_a_session_or_student_that_is_not_there_any_more_is_told(
    small_centre: Centre, change: Callable[[Centre], None], told: str
) -> None:
    slate = given_out(small_centre)
    change(small_centre)
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(small_centre.skill())))
    with pytest.raises(RefusedError) as refused:
        enter_slate(small_centre.ledger, copy, AT)
    assert told in refused.value.sentence
    assert attempts_of(small_centre) == []


def test_an_opened_session_takes_its_sheet_again(small_centre: Centre) -> None:
    slate = given_out(small_centre)
    close(small_centre)
    content = body(
        SessionReopened, session=small_centre.sessions["pool-22"], why="A sheet was found", observed=seen_at(22, 18)
    )
    small_centre.ledger.append([draft(small_centre.lead, content)])
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(small_centre.skill())))
    assert len(enter_slate(small_centre.ledger, copy, AT).attempts) == 1


def test_a_sheet_of_another_session_or_centre_is_told(small_centre: Centre) -> None:
    slate = given_out(small_centre)
    own = column(small_centre.amaru, *done(small_centre.skill()))
    with pytest.raises(RefusedError, match="is of another session: Thu 22 Oct"):
        enter_slate(small_centre.ledger, copied(small_centre, slate, own, session="pool-23"), AT)
    with pytest.raises(NotFoundError, match="No such sheet was given out by this centre"):
        enter_slate(small_centre.ledger, copied(small_centre, new_id(), own), AT)
    with pytest.raises(RefusedError, match="does not teach on this course"):
        enter_slate(small_centre.ledger, copied(small_centre, slate, own, observer=small_centre.zoe), AT)


def test_a_mark_for_a_step_that_the_unit_lacks_is_told_with_its_number(small_centre: Centre) -> None:
    """The shipped skill has steps that only one unit type has."""
    skill = next(
        s for s in shipped_standards().skills.values() if any(step.only_if for step in s.steps) and len(s.setting) == 1
    )
    session = {"dry": "dry-21", "pool": "pool-22", "open_water": "open-24"}[skill.setting[0]]
    slate = given_out(small_centre, skill.id, session)
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(skill)), session=session)
    with pytest.raises(RefusedError, match=r"Column 1, Amaru: step \d+ is marked, and A-05 has no such step"):
        enter_slate(small_centre.ledger, copy, AT)


def test_a_value_that_is_no_number_is_told_and_a_comma_is_a_point(small_centre: Centre) -> None:
    skill, slate = small_centre.skill(VALUED), given_out(small_centre, VALUED)
    valued = next(step.id for step in skill.steps if step.limit)
    bad = copied(small_centre, slate, column(small_centre.amaru, *done(skill), values={valued: "4l"}))
    with pytest.raises(RefusedError, match="'4l' is no number"):
        enter_slate(small_centre.ledger, bad, AT)
    good = copied(small_centre, slate, column(small_centre.amaru, *done(skill), values={valued: "8,5"}))
    (made,) = enter_slate(small_centre.ledger, good, AT).attempts
    assert small_centre.attempt(made).sheets[0].values[0].value == "8.5"


def test_plain_data_that_cannot_be_read_names_its_column(small_centre: Centre) -> None:
    plain = copied(small_centre, given_out(small_centre), column(small_centre.amaru)).model_dump(mode="json")
    plain["columns"].append({"id": "x", "student": small_centre.zoe, "marks": [{"step": "co-out", "mark": "donne"}]})
    with pytest.raises(RefusedError, match=r"^Column 2: .*Nothing was saved"):
        read_copy(plain)


def test_an_hour_that_came_twice_has_to_be_chosen(small_centre: Centre) -> None:
    """On 25 October 2026 the clocks of the Azores went back from 1:00 to 0:00 (tz database, EU rule of 01:00 UTC)."""
    zone = "Atlantic/Azores"
    session = planning.plan_session(
        small_centre.ledger, small_centre.lead, course=small_centre.course, title="Night", setting="pool",
        start=seen_at(24, 22), end=observed_at(seen_at(24, 22).moment + timedelta(hours=6), zone, "minute"),
    )  # fmt: skip
    (slate,) = give_out(small_centre.ledger, small_centre.lead, session, skills=[SKILL], students=(small_centre.amaru,))
    own = column(small_centre.amaru, *done(small_centre.skill()))

    def at(**seen: Any) -> CopiedSheet:
        copy = CopiedSheet(slate=slate, session=session, observer=small_centre.lead, columns=(own,))
        return copy.model_copy(update={"seen": SeenTime(start="23:30", end="00:30", **seen)})

    check = check_slate(small_centre.ledger, at(), AT)
    assert check.twice == ("end",)
    assert "came twice" in " ".join(check.faults)
    (made,) = enter_slate(small_centre.ledger, at(end_second=True), AT).attempts
    ending = small_centre.attempt(made).ending
    assert ending is not None
    second = from_wall_clock(seen_at(25).local.replace(tzinfo=None, hour=0, minute=30), zone, second_time=True)
    assert ending.observed.moment == second
    assert ending.observed.moment - small_centre.attempt(made).observed.moment == timedelta(hours=2)


def test_a_sheet_that_was_set_aside_is_taken_and_told(small_centre: Centre) -> None:
    slate = given_out(small_centre)
    set_aside(small_centre.ledger, small_centre.lead, small_centre.sessions["pool-22"], slate, "lost")
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(small_centre.skill())))
    assert any("set aside as lost" in c.sentence for c in check_slate(small_centre.ledger, copy, AT).consequences)
    assert enter_slate(small_centre.ledger, copy, AT).attempts


# --- the same as by hand -----------------------------------------------------------------------------------------

_SKILL = shipped_standards().skill(VALUED)


def _marks(step: Any) -> st.SearchStrategy[MarkGiven]:
    plain = st.sampled_from([Mark.DONE, Mark.PROMPTED, Mark.NOT_SEEN, Mark.LEFT_OUT]).map(
        lambda mark: MarkGiven(step=step.id, mark=mark)
    )
    errors = st.lists(st.sampled_from([e.id for e in step.errors]), min_size=1, unique=True)
    wrong = st.builds(
        lambda e, prompted, fixed: MarkGiven(
            step=step.id, mark=Mark.ERROR, errors=tuple(e), prompted=prompted, fixed_self=fixed
        ),
        errors, st.booleans(), st.booleans(),
    )  # fmt: skip
    return plain | wrong | st.just(MarkGiven(step=step.id, mark=Mark.NOT_SEEN, unreadable=True))


@st.composite
def columns(draw: st.DrawFn) -> dict[str, Any]:
    """What may stand in one column of a sheet, as plain fields."""
    steps = draw(st.lists(st.sampled_from(_SKILL.steps), unique_by=lambda step: step.id))
    values = {
        step.id: draw(st.decimals(0, 40, places=1).map(str))
        for step in _SKILL.steps
        if step.limit and draw(st.booleans())
    }
    return {
        "marks": tuple(draw(_marks(step)) for step in steps),
        "values": values,
        "whole_clean": draw(st.booleans()),
        **draw(st.sampled_from([{}, {"how": Closing.STOPPED, "stopped_by": "student"}])),
    }


@pytest.fixture(scope="module")
def shared_centre(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """One centre that the examples share: each adds attempts and looks only at its own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(tmp_path_factory.mktemp("state")))
        with build_centre(tmp_path_factory.mktemp("shared") / "centre", shipped_standards()) as centre:
            yield centre


def told(attempt: Attempt) -> dict[str, Any]:
    """An attempt as told, without what differs by its nature: ids, hashes, number and the paper it is of."""
    plain = attempt.model_dump(exclude={"id", "events", "number", "private"})
    for sheet in plain["sheets"]:
        del sheet["id"], sheet["slate"], sheet["slate_try"]
        sheet["whole_clean"] = sheet["whole_clean"] is not None
        for line in (*sheet["marks"], *sheet["values"], *sheet["orders"]):
            del line["event"]
        sheet["marks"] = sorted(sheet["marks"], key=lambda line: line["step"])
    if plain["ending"]:
        del plain["ending"]["event"]
    return plain


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(written=columns())
def test_a_copied_column_is_the_same_facts_as_the_marks_entered_by_hand_and_twice_is_once(
    shared_centre: Centre, written: dict[str, Any]
) -> None:
    """The check foretold the standing that came of it, and sending the copy again added nothing."""
    session = planning.plan_session(
        shared_centre.ledger, shared_centre.lead, course=shared_centre.course, title="One", setting="pool",
        start=seen_at(22, 14), end=seen_at(22, 14, 30),
    )  # fmt: skip
    (slate,) = give_out(
        shared_centre.ledger, shared_centre.lead, session, skills=[VALUED], students=(shared_centre.amaru,)
    )
    own = CopiedColumn(id=new_id(), student=shared_centre.amaru, **written)
    copy = CopiedSheet(
        slate=slate, session=session, observer=shared_centre.lead, columns=(own,),
        seen=SeenTime(start="14:00", end="14:00"),
    )  # fmt: skip
    if own.is_empty:
        with pytest.raises(RefusedError, match="Nothing is written"):
            enter_slate(shared_centre.ledger, copy, AT)
        return
    check = check_slate(shared_centre.ledger, copy, AT)
    assert check.faults == ()
    (made,) = enter_slate(shared_centre.ledger, copy, AT).attempts
    count = shared_centre.count()
    assert enter_slate(shared_centre.ledger, copy, AT).attempts == (made,)
    assert shared_centre.count() == count
    content = SheetContent(
        marks=own.marks, values=tuple(Value(s, v) for s, v in own.values.items()), whole_clean=own.whole_clean
    )
    by_hand = trying.enter_attempt(
        shared_centre.ledger, shared_centre.lead, course=shared_centre.course, session=session,
        student=shared_centre.amaru, skill=VALUED, observed=seen_at(22, 14), sheets=[(shared_centre.lead, content)],
        closing=own.how, stopped_by=own.stopped_by,
    )  # fmt: skip
    assert told(shared_centre.attempt(made)) == told(shared_centre.attempt(by_hand))
    seen = view(shared_centre.ledger, shared_centre.course)
    step = next(
        s
        for s in seen.standing(shared_centre.amaru, shared_centre.skill(VALUED), seen.usual_day).history
        if s.attempt == made
    )
    assert f": {step.outcome.value}." in check.outcomes[0].sentence


def test_a_whole_copied_sheet_counts_as_one_entered_by_hand(small_centre: Centre) -> None:
    """`sheet_of` is the way in which every other test enters attempts."""
    skill = small_centre.skill()
    slate = given_out(small_centre)
    whole = sheet_of(skill)
    copy = copied(small_centre, slate, column(small_centre.amaru, *whole.marks))
    enter_slate(small_centre.ledger, copy, AT)
    small_centre.enter("pool-22", student=small_centre.zoe)
    seen = small_centre.view()
    amaru, zoe = (seen.standing(who, skill, seen.usual_day) for who in (small_centre.amaru, small_centre.zoe))
    assert (amaru.state, amaru.streak, amaru.missing) == (zoe.state, zoe.streak, zoe.missing)


def test_nobody_marks_their_own_attempt(small_centre: Centre) -> None:
    """Somebody who learns on this course and teaches too writes no column of their own."""
    note_papers(small_centre.ledger, small_centre.lead, small_centre.course, small_centre.second)
    planning.enrol(small_centre.ledger, small_centre.lead, small_centre.course, small_centre.second, Role.STUDENT)
    founding.add_person(small_centre.ledger, small_centre.lead, name="Somebody", roles=[Role.STUDENT])
    (slate,) = give_out(
        small_centre.ledger, small_centre.lead, small_centre.sessions["pool-22"], skills=[SKILL],
        students=(small_centre.second,),
    )  # fmt: skip
    copy = copied(
        small_centre, slate, column(small_centre.second, *done(small_centre.skill())), observer=small_centre.second
    )
    with pytest.raises(RefusedError, match="nobody marks their own attempt"):
        enter_slate(small_centre.ledger, copy, AT)
