"""What is said before a copied sheet is saved: what it breaks, what it touches, what is missing, what is doubled."""

from __future__ import annotations

import dataclasses
from copy import deepcopy
from datetime import timedelta

import pytest
from centre_builder import LAST_DAY, ODD_NAME, Centre, critical_mark, seen_at
from test_slate_entry import AT, SKILL, VALUED, column, copied, done, given_out

from course.actions.attempts import SheetContent
from course.actions.centre import adopt_standards, record_check_out
from course.actions.courses import plan_session
from course.actions.readings import take_reading
from course.actions.signing import sign
from course.actions.slate_entry import amend_from_slate, enter_slate
from course.actions.slates import give_out, set_aside
from course.actions.standards import move_course
from course.answers.day_end import OpenKind, day_end
from course.answers.decisions import evidence
from course.answers.slate_check import SlateCheck, check_slate
from course.answers.slate_copy import CopiedColumn, CopiedSheet, SeenTime
from course.answers.slate_grid import grid, sheets_out
from course.answers.still_open import still_open
from course.record.events import MarkGiven
from course.standards.standards import standards_from
from course.words import Closing, DecisionKind, Mark, ReadingKind, StandingState


def sentences(check: SlateCheck, *, serious: bool | None = None) -> str:
    return "\n".join(c.sentence for c in check.consequences if serious is None or c.serious is serious)


def check_one(
    centre: Centre, *marks: MarkGiven, skill: str = SKILL, session: str = "pool-22", **more: object
) -> SlateCheck:
    slate = given_out(centre, skill, session)
    own = column(centre.amaru, *done(centre.skill(skill), *marks), **more)
    return check_slate(centre.ledger, copied(centre, slate, own, session=session), AT)


def test_a_calm_sheet_says_how_many_attempts_and_nothing_serious(small_centre: Centre) -> None:
    check = check_one(small_centre)
    assert check.may_save
    assert check.gaps == check.entered == ()
    assert check.sentence == "1 attempt to save."
    assert sentences(check, serious=True) == ""
    assert check.outcomes[0].sentence == "Column 1, Amaru, attempt 1: clean."


def test_a_late_sheet_that_breaks_a_streak_says_whose_before_it_saves(small_centre: Centre) -> None:
    """Seen between attempts that are in the ledger already: the order is that of the days, not of entry."""
    for session in ("dry-21", "pool-23", "open-24"):
        small_centre.enter(session)
    slate = given_out(small_centre)
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(small_centre.skill(), critical_mark())))
    check = check_slate(small_centre.ledger, copy, AT + timedelta(days=3))
    title = small_centre.skill().title
    assert f"This breaks Amaru's 3 in a row at {title}." in sentences(check, serious=True)
    assert "Late entry: seen on 22 Oct 2026, entered 3 days later. Both times are kept." in sentences(
        check, serious=False
    )
    assert check.outcomes[0].critical
    enter_slate(small_centre.ledger, copy, AT)
    seen = small_centre.view()
    assert seen.standing(small_centre.amaru, small_centre.skill(), seen.usual_day).streak < 3


def test_a_standing_that_falls_is_said_and_so_is_one_that_rises(small_centre: Centre) -> None:
    small_centre.hold()
    falls = check_one(small_centre, critical_mark(), session="open-25")
    assert "now “met: 25 Oct 2026”, with this sheet “again: " in sentences(falls, serious=True)
    rises = check_slate(
        small_centre.ledger,
        copied(
            small_centre,
            given_out(small_centre, session="pool-23"),
            column(small_centre.zoe, *done(small_centre.skill())),
            session="pool-23",
        ),
        AT,
    )
    assert "Zoë" in sentences(rises, serious=False)
    assert "now “not started”" in sentences(rises, serious=False)


def test_a_sheet_that_touches_something_signed_says_who_signed_it(small_centre: Centre) -> None:
    small_centre.hold()
    seen, skill = small_centre.view(), small_centre.skill()
    rests_on = evidence(seen, skill, seen.standing(small_centre.amaru, skill, LAST_DAY))
    sign(
        small_centre.ledger, small_centre.second, course=small_centre.course, student=small_centre.amaru, skill=SKILL,
        as_of=LAST_DAY, decided=DecisionKind.AGREED, rests_on=rests_on,
    )  # fmt: skip
    told = sentences(check_one(small_centre, session="pool-23"), serious=True)
    assert "Bruno Ashkenar signed it as met on " in told
    assert "older record" in told


def test_empty_boxes_are_asked_for_and_not_refused(small_centre: Centre) -> None:
    skill = small_centre.skill()
    slate = given_out(small_centre)
    last = skill.steps[-1]
    part = [line for line in done(skill) if line.step != last.id]
    check = check_slate(small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *part)), AT)
    assert check.may_save
    assert [(g.step, g.attempt_try) for g in check.gaps] == [(last.id, 1)]
    assert check.gaps[0].sentence == "Column 1, Amaru: step 4 is empty. Saved so, it is kept as not seen."


def test_the_whole_stroke_leaves_the_boxes_where_something_critical_can_happen(small_centre: Centre) -> None:
    skill = small_centre.skill()
    own = [step.id for step in skill.steps if step.can_be_critical]
    clean = column(small_centre.amaru, whole_clean=True)
    check = check_slate(small_centre.ledger, copied(small_centre, given_out(small_centre), clean), AT)
    assert [gap.step for gap in check.gaps] == own
    assert 0 < len(own) < len(skill.steps)


@pytest.mark.parametrize("how", [Closing.STOPPED, Closing.VOID])
def test_an_attempt_that_ended_early_has_no_gaps(small_centre: Centre, how: Closing) -> None:
    more = {"stopped_by": "student"} if how == Closing.STOPPED else {"reason": "Lane closed"}
    own = column(small_centre.amaru, *done(small_centre.skill())[:1], how=how, **more)
    check = check_slate(small_centre.ledger, copied(small_centre, given_out(small_centre), own), AT)
    assert check.gaps == ()
    assert f"attempt 1: {how.value}." in check.outcomes[0].sentence


def test_a_tick_without_its_value_is_asked_for(small_centre: Centre) -> None:
    check = check_one(small_centre, skill=VALUED)
    assert len(check.gaps) == 1
    assert "has no value written down" in check.gaps[0].sentence


def test_a_reading_of_the_unit_that_overrules_a_tick_is_said_before_it_is_saved(small_centre: Centre) -> None:
    c = small_centre
    leak = {
        "start": "30", "end": "10", "temperature": "20", "temperature_end": "20", "allowed": "5", "watched": "120",
        "watch": "60",
    }  # fmt: skip
    take_reading(c.ledger, c.lead, c.unit_a, ReadingKind.POSITIVE, leak, seen_at(21, 13, 40))
    told = sentences(check_one(c, skill="chk-positive", session="dry-21"))
    assert "the unit was read at 13:40: Positive test: 20.0 mbar lost" in told
    assert "The reading holds until it is set aside." in told


def test_a_value_that_overrules_a_tick_is_said(small_centre: Centre) -> None:
    """41 s of 60 s is an error whatever was ticked."""
    skill = small_centre.skill("chk-negative")
    valued = next(step.id for step in skill.steps if step.limit)
    told = sentences(check_one(small_centre, skill="chk-negative", session="dry-21", values={valued: "41"}))
    assert "41 s of 60 s" in told
    assert "The value holds, whatever was ticked." in told


def test_a_time_outside_the_session_is_said(small_centre: Centre) -> None:
    copy = copied(
        small_centre, given_out(small_centre), column(small_centre.amaru, *done(small_centre.skill())),
        seen=SeenTime(start="12:00", end="14:00"),
    )  # fmt: skip
    check = check_slate(small_centre.ledger, copy, AT)
    assert "The sheet: seen from 12:00 to 14:00, and the session was 13:30 to 16:20." in sentences(check)
    assert check.may_save


def test_a_session_that_has_not_begun_is_said(small_centre: Centre) -> None:
    copy = copied(small_centre, given_out(small_centre), column(small_centre.amaru, *done(small_centre.skill())))
    check = check_slate(small_centre.ledger, copy, AT - timedelta(days=2))
    assert "has not begun yet" in sentences(check, serious=True)


def test_a_sheet_entered_twice_is_laid_side_by_side(small_centre: Centre) -> None:
    """Equal: nothing to add. Different: both are shown, line by line, and nothing is doubled."""
    skill, slate = small_centre.skill(), given_out(small_centre)
    enter_slate(small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *done(skill))), AT)
    (equal,) = check_slate(
        small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *done(skill))), AT
    ).entered
    assert equal.identical
    assert "Both say the same: nothing is to be added." in equal.sentence
    unread = MarkGiven(step=skill.steps[0].id, mark=Mark.NOT_SEEN, unreadable=True)
    check = check_slate(
        small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *done(skill, unread))), AT
    )
    (differs,) = check.entered
    assert not check.may_save
    assert (differs.identical, differs.may_amend) == (False, True)
    assert [(row.ledger, row.typed) for row in differs.rows if not row.same] == [("done", "unreadable")]
    assert "They differ in 1 line. Leave it as it is, or amend it with a reason." in differs.sentence


def test_what_is_empty_on_a_second_copy_stays_as_it_is_in_the_ledger(small_centre: Centre) -> None:
    skill, slate = small_centre.skill(), given_out(small_centre)
    enter_slate(small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *done(skill))), AT)
    prompted = MarkGiven(step=skill.steps[0].id, mark=Mark.PROMPTED)
    copy = copied(small_centre, slate, column(small_centre.amaru, prompted))
    (one,) = check_slate(small_centre.ledger, copy, AT).entered
    assert one.may_amend
    assert one.sentence.endswith("or amend it with a reason. Amending brings 1 line; the others stay.")
    made = amend_from_slate(small_centre.ledger, copy, small_centre.amaru, 1, "Prompted, on a second look")
    marks = [line.mark for line in small_centre.attempt(made).sheets[0].marks]
    assert sorted(marks) == sorted([Mark.PROMPTED, *[Mark.DONE] * (len(skill.steps) - 1)])


def test_another_observers_copy_may_be_left_and_not_amended_here(small_centre: Centre) -> None:
    skill, slate = small_centre.skill(), given_out(small_centre)
    enter_slate(small_centre.ledger, copied(small_centre, slate, column(small_centre.amaru, *done(skill))), AT)
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(skill)[1:]), observer=small_centre.second)
    (one,) = check_slate(small_centre.ledger, copy, AT).entered
    assert not one.may_amend
    assert "Only Tamsin Okoro-Vale amends that sheet." in one.sentence


def test_two_tries_of_one_student_are_numbered_and_judged_in_order(small_centre: Centre) -> None:
    skill, slate = small_centre.skill(), given_out(small_centre, tries=2)
    copy = copied(
        small_centre,
        slate,
        column(small_centre.amaru, *done(skill)),
        column(small_centre.amaru, *done(skill, critical_mark()), attempt_try=2),
    )
    check = check_slate(small_centre.ledger, copy, AT)
    assert [one.sentence.split(":")[0] for one in check.outcomes] == [
        "Column 1, Amaru, try 1, attempt 1",
        "Column 2, Amaru, try 2, attempt 2",
    ]


def test_what_was_told_changes_when_the_ledger_does(small_centre: Centre) -> None:
    """So that nothing is saved over news that nobody has read."""
    for session in ("dry-21", "pool-23"):
        small_centre.enter(session)
    copy = copied(
        small_centre, given_out(small_centre), column(small_centre.amaru, *done(small_centre.skill(), critical_mark()))
    )
    before = check_slate(small_centre.ledger, copy, AT)
    assert check_slate(small_centre.ledger, copy, AT).told == before.told
    small_centre.enter("open-24")
    assert check_slate(small_centre.ledger, copy, AT).told != before.told


def test_an_unknown_letter_or_sheet_keeps_the_other_columns_judgement(small_centre: Centre) -> None:
    """Every fault is told at once, and nothing is foreseen while one stands."""
    bad = MarkGiven(step=small_centre.skill().steps[0].id, mark=Mark.ERROR, errors=("nothing",))
    copy = copied(
        small_centre,
        given_out(small_centre),
        column(small_centre.amaru, bad),
        column(small_centre.zoe, *done(small_centre.skill()), values={"co-hand": "3"}),
    )
    check = check_slate(small_centre.ledger, copy, AT)
    assert len(check.faults) == 2
    assert not check.may_save
    assert check.outcomes == ()


def test_a_lapsed_observer_is_said(small_centre: Centre) -> None:
    record_check_out(small_centre.ledger, small_centre.lead, small_centre.lead, "type-a", "2020-01-01")
    assert "was not current on" in sentences(check_one(small_centre), serious=True)


def adopt_another_form(centre: Centre) -> None:
    """The centre words one skill anew, and the course goes over to it."""
    files = deepcopy(centre.ledger.fact("adoption", centre.adoption).files)
    for file in files.values():
        for skill in file.get("skills", ()):
            if skill["id"] == SKILL:
                skill["caution"] += " Worded anew."
    adoption = adopt_standards(centre.ledger, centre.lead, standards_from(files))
    course = centre.view().course
    move_course(
        centre.ledger, centre.lead, centre.course, adoption=adoption, profile=course.profile,
        revision=course.revision, why="The rubric was worded anew", shown_from=course.unreplaced,
    )  # fmt: skip


def test_a_changed_rubric_keeps_the_printed_form_and_says_so(small_centre: Centre) -> None:
    """The sheet's own form is pinned; a course on another form shows the marks and does not count them."""
    slate, printed = given_out(small_centre), small_centre.view().adopted.hashes[SKILL]
    adopt_another_form(small_centre)
    assert small_centre.view().adopted.hashes[SKILL] != printed
    copy = copied(small_centre, slate, column(small_centre.amaru, *done(small_centre.skill(), critical_mark())))
    check = check_slate(small_centre.ledger, copy, AT)
    assert "has changed since the sheet was printed" in sentences(check)
    assert check.may_save
    assert grid(small_centre.ledger, copy.session, slate)["older_form"] is True
    (made,) = enter_slate(small_centre.ledger, copy, AT).attempts
    assert small_centre.attempt(made).rubric == printed


def test_a_sheet_is_out_until_every_column_is_in_or_it_is_set_aside_wherever_it_is_told(small_centre: Centre) -> None:
    c = small_centre
    first, second = given_out(c), given_out(c, "fl-flood")
    assert {one.slate for one in sheets_out(c.view())} == {first, second}
    enter_slate(c.ledger, copied(c, first, column(c.amaru, *done(c.skill()))), AT)
    half = next(one for one in sheets_out(c.view()) if one.slate == first)
    assert half.words == f"1 of 2 columns in; not yet: {ODD_NAME}"
    session = c.view().sessions[c.sessions["pool-22"]]
    told = [sheet.slate for sheet in sheets_out(c.view())]
    ending = [item.about[1] for item in day_end(c.ledger, c.view(), AT.date()).items if item.kind == OpenKind.SHEET]
    assert sorted(told) == sorted(ending) == sorted((first, second))
    today = still_open(c.ledger, c.view(), [session], AT, AT).sheets
    assert any(half.code in line and f"{ODD_NAME} not entered yet" in line for line in today)
    set_aside(c.ledger, c.lead, session.id, first, "not_used", "The others did not try")
    assert [one.slate for one in sheets_out(c.view())] == [second]
    enter_slate(c.ledger, copied(c, second, *(column(s, *done(c.skill("fl-flood"))) for s in (c.amaru, c.zoe))), AT)
    assert sheets_out(c.view()) == ()


def test_a_practice_sheet_changes_no_standing(small_centre: Centre) -> None:
    small_centre.enter("pool-22", others=((small_centre.candidate, SheetContent(marks=done(small_centre.skill()))),))
    slate = given_out(small_centre)
    copy = copied(
        small_centre, slate, column(small_centre.amaru, *done(small_centre.skill(), critical_mark())),
        observer=small_centre.candidate,
    )  # fmt: skip
    check = check_slate(small_centre.ledger, copy, AT)
    assert "practice sheets" in sentences(check, serious=True)
    assert "in a row" not in sentences(check)


def test_the_grid_lists_what_stands_on_the_paper(small_centre: Centre) -> None:
    skill = small_centre.skill(VALUED)
    plain = grid(small_centre.ledger, small_centre.sessions["pool-22"], given_out(small_centre, VALUED))
    assert [row["number"] for row in plain["rows"]] == list(range(1, len(skill.steps) + 1))
    assert [column["student"] for column in plain["columns"]] == [small_centre.amaru, small_centre.zoe]
    assert plain["observer"] == ""
    assert (plain["start"], plain["end"]) == ("13:30", "16:20")


def test_a_sheet_that_is_opened_again_shows_the_attempts_and_marks_that_came_of_it(small_centre: Centre) -> None:
    c = small_centre
    slate = given_out(c)
    own = column(c.amaru, *done(c.skill(), critical_mark()))
    (made,) = enter_slate(c.ledger, copied(c, slate, own), AT).attempts
    c.enter("pool-23")
    first, other = grid(c.ledger, c.sessions["pool-22"], slate)["columns"]
    assert (first["entered"], first["number"]) == (True, c.attempt(made).number)
    wrong = critical_mark()
    assert first["saved"]["marks"][wrong.step] == {
        "mark": "error", "errors": list(wrong.errors), "prompted": False, "fixed_self": False, "unreadable": False,
    }  # fmt: skip
    assert set(first["saved"]["marks"]) == {step.id for step in c.skill().steps}
    assert (other["entered"], other["saved"]) == (False, None)


def test_a_check_is_frozen_and_told_as_plain_data(small_centre: Centre) -> None:
    check = check_one(small_centre)
    assert check.plain()["may_save"] is True
    with pytest.raises(dataclasses.FrozenInstanceError):
        check.marks = 3  # type: ignore[misc]


def test_an_empty_copy_says_that_nothing_is_written(small_centre: Centre) -> None:
    slate = given_out(small_centre)
    empty = CopiedSheet(
        slate=slate, session=small_centre.sessions["pool-22"], observer=small_centre.lead,
        columns=(CopiedColumn(id="01a213d7-f79e-772f-abab-dd49fedf571b", student=small_centre.amaru),),
    )  # fmt: skip
    check = check_slate(small_centre.ledger, empty, AT)
    assert (check.may_save, check.sentence) == (False, "Nothing is written on this copy yet.")
    assert small_centre.view().standing(
        small_centre.amaru, small_centre.skill(), small_centre.view().usual_day
    ).state == StandingState.NOT_STARTED  # fmt: skip


def test_a_night_session_takes_the_time_after_midnight_for_the_next_day(small_centre: Centre) -> None:
    session = plan_session(
        small_centre.ledger, small_centre.lead, course=small_centre.course, title="Night", setting="pool",
        start=seen_at(22, 22), end=seen_at(23, 1),
    )  # fmt: skip
    (slate,) = give_out(small_centre.ledger, small_centre.lead, session, skills=[SKILL], students=(small_centre.amaru,))
    own = column(small_centre.amaru, *done(small_centre.skill()))
    copy = CopiedSheet(
        slate=slate, session=session, observer=small_centre.lead, columns=(own,),
        seen=SeenTime(start="23:30", end="00:20"),
    )  # fmt: skip
    (made,) = enter_slate(small_centre.ledger, copy, AT).attempts
    ending = small_centre.attempt(made).ending
    assert ending is not None
    assert ending.observed == seen_at(23, 0, 20)
