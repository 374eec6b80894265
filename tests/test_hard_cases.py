"""Hard cases of real courses, each by its number in the list of the job: what an instructor reads in each.

Cases that turn on papers and days are in test_gate_cases.py (7, 12, 13, 21, 22, 27, 31), on time in test_time_cases.py
(10, 11, 34), on units on hold in test_unit_care.py and test_faults.py (28, 29). Everything here is built through
actions and read as it stands on a page: where a student stands in words, what an attempt did, what is missing.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark, seen_at, sheet_of, tap
from day_builder import Day
from test_slate_entry import AT, column, copied, done, given_out
from test_standards_editing import save, with_rule

from course.actions import amending, incident, settling
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions.pad import take
from course.actions.signing import sign
from course.actions.slate_entry import enter_slate
from course.actions.standards import move_course
from course.answers.competency import competency_record
from course.answers.decisions import changed_since_signed, evidence, signed_word
from course.answers.missing import student_missing
from course.answers.observers import observers
from course.answers.practice import student_practice
from course.answers.skill_detail import AttemptDetail, SkillDetail, skill_detail
from course.answers.slate_check import check_slate
from course.answers.standards_move import move_preview, moves_made
from course.answers.student_page import student_page
from course.answers.unit_change import unit_change
from course.errors import RefusedError
from course.record.events import MarkGiven
from course.record.facts import Decision
from course.words import Closing, DecisionKind, Mark

POOL_TITLE = "Close before it leaves the mouth"
DRY_DAY = "2026-10-21T"


def read(c: Centre, student: str = "", skill: str = POOL_SKILL, as_of: date = LAST_DAY) -> SkillDetail:
    """What stands behind one cell of the course, as the page shows it."""
    return skill_detail(c.ledger, c.view(), student or c.amaru, skill, as_of)


def last(c: Centre, **more: Any) -> AttemptDetail:
    """The newest attempt on that page."""
    return read(c, **more).attempts[-1]


def missing_words(c: Centre, student: str = "", skill: str = POOL_SKILL) -> str:
    """What the list of what is missing says of a skill."""
    (line,) = [one for one in student_missing(c.view(), student or c.amaru, LAST_DAY).skills if one.skill == skill]
    return f"{line.word}: {line.line}" if line.line else line.word


def mark(step: str, what: Mark = Mark.DONE, *errors: str, **more: Any) -> MarkGiven:
    """One step's mark; errors make it an error mark."""
    return MarkGiven(step=step, mark=Mark.ERROR if errors else what, errors=errors, **more)


def sign_as_met(c: Centre) -> str:
    """The lead signs what Amaru holds, as the page shows it."""
    seen = c.view()
    standing = seen.standing(c.amaru, c.skill(), LAST_DAY)
    return sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=DecisionKind.AGREED,
        as_of=LAST_DAY, rests_on=evidence(seen, c.skill(), standing),
    )  # fmt: skip


def test_case_01_a_student_who_stops_a_drill_made_no_error(small_centre: Centre) -> None:
    """It neither counts nor breaks; what was critical before the stop stays critical."""
    c = small_centre
    for session in ("dry-21", "pool-22"):
        c.enter(session)
    c.enter("pool-23", closing=Closing.STOPPED, stopped_by="student")
    stopped = last(c)
    assert (stopped.outcome, stopped.effect) == ("stopped", "neither counts nor breaks")
    assert stopped.ending == "Stopped by the student."
    assert read(c).sentence == "Not yet: 2 in a row of 5; missing 3 on another day, one in open water."
    c.enter("open-24", critical_mark(), closing=Closing.STOPPED, stopped_by="student")
    assert (last(c).outcome, last(c).effect) == ("critical", "critical: back to 0, re-teach first")
    assert read(c).sentence == "Not yet: best 2 in a row of 5, now 0; missing 5 over 3 days; re-teach first."


def test_case_02_a_drill_stopped_for_a_real_emergency_counts_neither_for_nor_against(small_centre: Centre) -> None:
    """The session is frozen by one tap: what was marked is kept, and who froze it and when is noted."""
    c = small_centre
    c.enter("dry-21")
    pool, opened = Day(c), c.open()
    pool.mark(opened)
    pool.freeze(minute=6)
    void = last(c)
    assert (void.outcome, void.effect, void.streak) == ("void", "void", 1)
    assert void.ending == "Void: The session was frozen."
    assert [one.words for one in void.sheets[0].marks][:2] == ["done, or no occasion", "not marked"]
    assert read(c).sentence == (
        "Not yet: 1 in a row of 5; missing 4 over 2 other days, one each in the pool and in open water."
    )
    (note,) = pool.session.frozen_by
    assert (note.frozen_by, f"{note.observed.local:%H:%M}") == (c.assistant, "15:06")
    incident.add_note(c.ledger, c.lead, pool.id, note.id, "All are up; the boat was called.", pool.at(15, 9))
    assert pool.session.frozen_by[0].lines


def test_case_03_of_two_sheets_the_stricter_counts_until_both_agree(small_centre: Centre) -> None:
    """It is one attempt; a joint line with a reason takes the place of both lines, and both sheets are kept."""
    c = small_centre
    c.enter("dry-21")
    attempt = c.enter("pool-22", others=((c.second, sheet_of(c.skill(), critical_mark())),))
    assert (last(c).outcome, len(last(c).sheets)) == ("critical", 2)
    assert read(c).sentence == "Not yet: best 1 in a row of 5, now 0; missing 5 over 3 days; re-teach first."
    both, why = (c.lead, c.second), "On the recording it was closed."
    settling.agree_joint_line(c.ledger, c.lead, attempt, mark("co-out"), both, why, seen_at(22, 18))
    agreed = last(c)
    assert (agreed.outcome, agreed.effect, agreed.streak, len(agreed.sheets)) == ("clean", "counts", 2, 2)
    assert agreed.amended[0].startswith("Step 3 agreed as done, or no occasion by Tamsin Okoro-Vale and Bruno Ashkenar")
    assert agreed.amended[0].endswith(why)
    assert read(c).sentence == "Not yet: 2 in a row of 5; missing 3 on another day, one in open water."


def test_case_04_another_unit_of_the_type_counts_and_another_type_has_a_record_of_its_own(small_centre: Centre) -> None:
    """Which unit it was is told with its number; what was seen on the other type holds there again."""
    c = small_centre
    other = founding.add_unit(c.ledger, c.lead, label="A-06", unit_type="type-a", serial="7781")
    c.enter("dry-21")
    planning.assign_unit(c.ledger, c.lead, c.course, c.amaru, other, "2026-10-22")
    c.enter("pool-22")
    assert last(c).head.endswith("attempt 2 · A-06 (serial 7781)")
    assert read(c).sentence == "Not yet: 2 in a row of 5; missing 3 on another day, one in open water."
    planning.assign_unit(c.ledger, c.lead, c.course, c.amaru, c.unit_b, "2026-10-23")
    assert read(c).sentence == "Not started. Kept and not counted: 2 attempts on another unit type."
    assert {one.effect for one in read(c).attempts} == {"another unit type: neither counts nor breaks here"}
    planning.assign_unit(c.ledger, c.lead, c.course, c.amaru, other, "2026-10-24")
    assert read(c).sentence == "Not yet: 2 in a row of 5; missing 3 on another day, one in open water."


def test_case_05_a_unit_change_shows_beforehand_what_carries_over_and_what_is_to_do_again(small_centre: Centre) -> None:
    c = small_centre
    for session in ("dry-21", "pool-22"):
        c.enter(session)
    change = unit_change(c.view(), c.amaru, c.unit_b, date(2026, 10, 23))
    assert change.sentence == (
        "Amaru Tendelle from A-05 · Unit type A to B-05 · Unit type B on 23 Oct 2026: 0 skills carry over, 49 begin "
        "anew, 1 is new, 5 are not for the new unit and in 3 skills other steps apply. Still missing in required "
        "skills: at least 105 attempts then, 112 without the change."
    )
    (row,) = [row for row in change.rows if row.skill == POOL_SKILL]
    assert (row.now, row.after) == ("not yet: 2 of 5, open water, another day", "not started")
    (steps,) = [row.steps for row in change.rows if row.skill == "fl-adv"]
    assert "new: step 3, No shut-off on this unit: shut the diluent valve." in steps
    assert read(c, as_of=date(2026, 10, 23)).sentence.startswith("Not yet: 2 in a row"), "nothing changed by looking"


def test_case_06_an_attempt_of_the_wrong_student_is_moved_and_what_was_signed_stays_signed(
    small_centre: Centre,
) -> None:
    """Both standings are derived anew; the moved one keeps when it was seen and tells when it was entered."""
    c = small_centre
    entered = c.hold()
    sign_as_met(c)
    amending.move_attempt(c.ledger, c.lead, entered[2], c.zoe, "It was the next column.")
    assert read(c).sentence == "Not yet: 4 in a row of 5; missing 1."
    (away,) = read(c).not_counted
    assert away.startswith("Attempt 3 was entered here by mistake. Moved to Zoë")
    assert away.endswith(": It was the next column.")
    decision = read(c).decision
    assert decision is not None
    assert decision.sentence.startswith("Signed as met by Tamsin Okoro-Vale on ")
    assert decision.sentence.endswith(" Found after signing: attempt 3 of 23 Oct 2026 was taken away.")
    assert read(c, c.zoe).sentence == (
        "Not yet: 1 in a row of 5; missing 4 over 2 other days, one each dry and in open water."
    )
    assert last(c, student=c.zoe).entered.startswith("Seen on 23 Oct 2026 at 14:00; last entry on ")


def test_case_07_attempts_under_the_form_before_are_kept_and_told_with_how_many_and_why(small_centre: Centre) -> None:
    """The course stays where it is until the lead has seen what a move changes and decides, with a reason."""
    c = small_centre
    c.hold()
    adoption = save(c, with_rule(in_a_row=6))
    assert read(c).sentence == "Met on 25 Oct 2026, good until 23 Jan 2027."
    preview = move_preview(c.ledger, c.view(), adoption, "ex-first-unit", "r1", LAST_DAY)
    (lines,) = [one.lines for one in preview.students if one.student == c.amaru]
    assert lines[0].startswith(f"{POOL_TITLE}: met: 25 Oct 2026 becomes not started ")
    assert lines[0].endswith("(5 attempts by the other form kept and shown, not counted).")
    move_course(
        c.ledger, c.lead, c.course, adoption=adoption, profile="ex-first-unit", revision="r1",
        why="The agency raised it.", shown_from=preview.shown_from,
    )  # fmt: skip
    assert read(c).sentence == (
        "Not started. 5 attempts were marked by another form of this rubric, and are kept and do not count: what was "
        "asked then is not what is asked now."
    )
    assert read(c).not_counted[0].count("attempt ") == 5
    assert moves_made(c.ledger, c.view())[0].sentence.endswith(": The agency raised it.")
    own = [(one.outcome, one.effect) for one in student_page(c.view(), c.amaru, LAST_DAY).attempts]
    assert own == [("marked by another form of this rubric", "kept, does not count")] * 5
    record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
    (line,) = [line for phase in record.phases for line in phase.skills if line.skill == POOL_SKILL]
    assert line.sentence == read(c).sentence


def test_case_08_what_was_seen_elsewhere_counts_only_as_accepted_by_name_and_day(small_centre: Centre) -> None:
    c = small_centre
    attempt = c.enter("dry-21", elsewhere="Driftwood Quay")
    assert read(c).sentence == "Not started. Kept and not counted: 1 attempt from elsewhere, not accepted."
    assert last(c).head.endswith(" · from elsewhere: Driftwood Quay · nobody has accepted it yet")
    settling.answer_elsewhere(c.ledger, c.lead, attempt, "I know who saw it.", accepted=True)
    assert last(c).effect == "counts"
    assert "accepted by Tamsin Okoro-Vale on " in last(c).head
    assert last(c).head.endswith(": I know who saw it.")
    settling.answer_elsewhere(c.ledger, c.second, attempt, "Not on this unit type.", accepted=False)
    assert read(c).sentence == "Not started. Kept and not counted: 1 attempt from elsewhere, not accepted."
    assert " · not accepted by Bruno Ashkenar on " in last(c).head
    assert observers(c.view(), c.lead, LAST_DAY).severities == ()


def test_case_09_what_a_lapsed_instructor_saw_waits_by_the_day_of_the_session(small_centre: Centre) -> None:
    """24 April and 183 days: 24 October is good, the 25th is not, whenever it is entered."""
    c = small_centre
    founding.record_check_out(c.ledger, c.lead, c.second, "type-a", "2026-04-24")
    for session in ("dry-21", "pool-22", "pool-23"):
        c.enter(session)
    for session in ("open-25", "open-24"):
        c.enter(session, by=c.second)
    assert read(c).sentence == (
        "Waiting: met if a current instructor confirms what Bruno Ashkenar saw (1 attempt). "
        "Until then 4 in a row of 5; missing 1."
    )
    assert [one.effect for one in read(c).attempts][-2:] == ["counts", "seen by a lapsed observer: does not count"]
    assert "not current on this unit type that day" in last(c).sheets[0].observer
    assert missing_words(c) == "waiting: a current instructor has to see it again"
    c.enter("open-25")
    assert read(c).sentence == "Met on 25 Oct 2026, good until 23 Jan 2027."


def test_case_14_a_prompt_counts_up_to_what_the_rule_allows_and_never_where_it_could_hurt(small_centre: Centre) -> None:
    c = small_centre
    allowed = next(s for s in c.view().skills() if s.rule.prompts_allowed and "pool" in s.setting)
    plain = next(step for step in allowed.steps if not step.can_be_critical and not step.only_if)
    c.enter("pool-22", mark(plain.id, Mark.PROMPTED), skill=allowed.id)
    assert (last(c, skill=allowed.id).outcome, last(c, skill=allowed.id).effect) == ("minor", "counts")
    c.enter("dry-21")
    c.enter("pool-22", mark("co-hold", Mark.PROMPTED))
    prompted = last(c)
    assert prompted.reasons == ("Keep hold of it: prompted.",)
    assert (prompted.outcome, prompted.effect) == ("minor", "breaks: back to 0"), "the rule allows none here"
    c.enter("pool-23", mark("co-close", Mark.PROMPTED))
    assert (last(c).outcome, last(c).effect) == ("minor", "breaks: back to 0")
    assert read(c).sentence == "Not yet: best 1 in a row of 5, now 0; missing 5 over 3 days."


def test_case_15_an_error_put_right_unasked_is_told_so_and_a_critical_one_stays_critical(small_centre: Centre) -> None:
    c = small_centre
    c.enter("dry-21", mark("co-hand", Mark.ERROR, "co-search", fixed_self=True))
    assert (last(c).outcome, last(c).effect) == ("minor", "counts")
    assert last(c).reasons[0].endswith(": has to look or feel around for the lever, put right unasked.")
    c.enter("pool-22", mark("co-out", Mark.ERROR, "co-open-out", fixed_self=True))
    assert (last(c).outcome, last(c).effect) == ("critical", "critical: back to 0, re-teach first")
    assert last(c).reasons[0].endswith(": open as it leaves the mouth, put right unasked: critical.")


def test_case_16_a_step_that_nobody_saw_is_told_and_is_neither_done_nor_left_out(small_centre: Centre) -> None:
    c = small_centre
    c.enter("dry-21", mark("co-close", Mark.NOT_SEEN))
    assert (last(c).outcome, last(c).effect) == ("incomplete", "neither counts nor breaks")
    assert last(c).reasons == ("Close it fully and feel the stop: not seen.",)
    c.enter("pool-22", mark("co-hold", Mark.NOT_SEEN))
    assert (last(c).outcome, last(c).effect) == ("clean", "counts"), "nothing critical can happen in that step"
    c.enter("pool-23", mark("co-close", Mark.LEFT_OUT))
    assert (last(c).outcome, last(c).reasons) == (
        "critical",
        ("Close it fully and feel the stop: left out: critical.",),
    )


def test_case_17_what_the_unit_has_decides_which_steps_there_are_and_no_hand_does(small_centre: Centre) -> None:
    """Unit type A has no constant feed: its step is not asked for, not shown and not taken."""
    c, skill = small_centre, "chk-addition"
    opened = c.open("dry-21", skill=skill)
    items = [
        tap(c, opened, "marks_given/1", {"marks": [{"step": step.id, "mark": "done"}]}, tapped_at=f"{DRY_DAY}15:00:00Z")
        for step in c.skill(skill).steps
    ]
    closing = tap(c, opened, "attempt_closed/1", {"how": "completed"}, tapped_at=f"{DRY_DAY}15:10:00Z")
    (refused,) = take(c.ledger, [*items, closing]).refused
    assert refused[1].startswith("Step 3 of Check oxygen and diluent addition is not for this student's unit.")
    closed = last(c, skill=skill)
    assert (closed.outcome, [one.number for one in closed.sheets[0].marks]) == ("clean", [1, 2, 4, 5, 6, 7])


def test_case_18_the_same_sheet_entered_twice_stops_and_shows_both(small_centre: Centre) -> None:
    c = small_centre
    slate = given_out(c)
    enter_slate(c.ledger, copied(c, slate, column(c.amaru, *done(c.skill()))), AT)
    count = c.count()
    equal = copied(c, slate, column(c.amaru, *done(c.skill())))
    other = copied(c, slate, column(c.amaru, *done(c.skill(), critical_mark())))
    for copy, told, refused in (
        (equal, "Both say the same: nothing is to be added.", "Nothing is written on this copy that is not in the"),
        (other, "They differ in 1 line. Leave it as it is, or amend it with a reason.", "with other marks"),
    ):
        (beside,) = check_slate(c.ledger, copy, AT).entered
        assert beside.sentence.startswith("Column 1, Amaru: is in the ledger already, as attempt 1, seen by Tamsin")
        assert beside.sentence.endswith(told)
        assert beside.identical == (copy is equal)
        with pytest.raises(RefusedError, match=refused):
            enter_slate(c.ledger, copy, AT)
    assert c.count() == count
    assert [(row.ledger, row.typed) for row in beside.rows if row.ledger != row.typed] == [("done", "error a")]


def test_case_19_what_cannot_be_read_counts_as_not_seen_and_says_so(small_centre: Centre) -> None:
    c = small_centre
    smudge = mark("co-close", Mark.NOT_SEEN, unreadable=True)
    enter_slate(c.ledger, copied(c, given_out(c), column(c.amaru, *done(c.skill(), smudge))), AT)
    assert (last(c).outcome, last(c).effect) == ("incomplete", "neither counts nor breaks")
    assert {one.step: one.words for one in last(c).sheets[0].marks}["co-close"] == "not to be read, so not seen"


def test_case_20_what_is_entered_days_later_is_taken_in_its_place_and_says_when(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The later slate was entered first; the standing is that of the order in which things were seen."""
    c = small_centre
    for hours, session in ((20, "pool-23"), (96, "pool-22")):
        moment = seen_at(int(session[-2:])).moment + timedelta(hours=hours)
        monkeypatch.setattr("course.moments.now", lambda moment=moment: moment)
        c.enter(session, *([critical_mark()] if session == "pool-22" else []))
    early, late = read(c).attempts
    assert early.entered == "Seen on 22 Oct 2026 at 14:00; last entry on 26 Oct 2026 at 13:00 (Atlantic/Azores)."
    assert (late.entered, late.effect) == ("", "re-teach: does not count")
    assert read(c).sentence == "Not yet: 0 in a row of 5; missing 5 over 3 days."


def test_case_23_a_critical_error_after_met_asks_for_the_re_teach_and_then_the_rule_anew(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    c.enter("open-25", critical_mark())
    again = "Again: a critical error since it was met; now "
    assert read(c).sentence == f"{again}0 in a row; missing 5 over 3 days; re-teach first."
    assert missing_words(c).endswith("in the pool and in open water; re-teach first")
    c.enter("open-25")
    assert (last(c).effect, read(c).sentence) == (
        "re-teach: does not count",
        f"{again}0 in a row; missing 5 over 3 days.",
    )
    c.enter("open-25")
    assert read(c).sentence == f"{again}1 in a row; missing 4 over 2 other days, one each dry and in the pool."
    assert read(c, as_of=date(2026, 10, 24)).sentence == "Not yet: 4 in a row of 5; missing 1."


def test_case_24_clean_in_one_setting_only_is_not_yet_and_names_the_other(small_centre: Centre) -> None:
    c = small_centre
    for session in ("dry-21", "dry-21", "pool-22", "pool-23", "pool-23"):
        c.enter(session)
    assert read(c).sentence == "Not yet: 5 in a row, 5 asked; missing 1, in open water."
    assert missing_words(c) == "not yet: 1 more, in open water"


def test_case_25_three_clean_in_one_hour_are_not_met_where_two_days_are_asked(small_centre: Centre) -> None:
    c, skill = small_centre, "chk-one-way-valves"
    for minute in (0, 20, 40):
        c.enter("dry-21", skill=skill, observed=seen_at(21, 14, minute))
    found = read(c, skill=skill)
    assert found.rule.startswith("3 in a row over 2 days, all dry; ")
    assert found.sentence == "Not yet: 3 in a row, 3 asked; missing 1 on another day."
    assert missing_words(c, skill=skill) == "not yet: 1 more, on another day"


def test_case_26_with_fewer_than_statistics_need_nothing_is_said_of_anybody(small_centre: Centre) -> None:
    c = small_centre
    for student in (c.amaru, c.zoe):
        c.enter("dry-21", critical_mark(), student=student)
        c.enter("pool-22", student=student, by=c.second)
    found = observers(c.view(), c.lead, LAST_DAY)
    assert found.severities
    assert all("too few to say" in one.words for one in found.severities)
    (weak,) = student_practice(c.view(), c.amaru, LAST_DAY).weak
    assert weak.words == "1 of 2 went wrong, 1 critical: too few to say"


def test_case_32_what_is_found_after_signing_is_told_and_the_signature_stays_as_it_was(small_centre: Centre) -> None:
    c = small_centre
    entered = c.hold()
    signed = sign_as_met(c)
    lines = list(c.ledger.events(signed))
    sheet = c.attempt(entered[4]).sheets[0].id
    amending.amend_marks(c.ledger, c.lead, entered[4], sheet, critical_mark(), "On the recording.", seen_at(25, 18))
    since = (
        " The record has changed since: signed on an older record. "
        "Found after signing: attempt 5 of 25 Oct 2026, critical, was amended."
    )
    (listed,) = changed_since_signed(c.ledger, c.view(), LAST_DAY)
    assert listed.startswith(f"Amaru Tendelle · {POOL_TITLE}: Signed as met by Tamsin Okoro-Vale on ")
    assert listed.endswith(since)
    record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
    (line,) = [line for phase in record.phases for line in phase.skills if line.skill == POOL_SKILL]
    assert line.decision is not None
    assert line.decision.sentence.endswith(since)
    assert not line.decision.agrees
    assert signed_word(c.view(), c.amaru, c.skill(), LAST_DAY) == "signed on an older record"
    fact = c.ledger.fact("decision", signed)
    assert isinstance(fact, Decision)
    assert fact.sentence == "Met on 25 Oct 2026, good until 23 Jan 2027."
    assert list(c.ledger.events(signed)) == lines


def test_case_33_a_candidates_sheet_is_practice_and_cannot_count_for_the_student(small_centre: Centre) -> None:
    c = small_centre
    c.enter("dry-21", critical_mark(), by=c.candidate)
    assert read(c).sentence == "Not started. Kept and not counted: 1 attempt with practice sheets only."
    assert last(c).sheets[0].observer == "Jorun Vask, candidate"
    assert last(c).sheets[0].capacity == "practice sheet: does not count"
    assert student_missing(c.view(), c.amaru, LAST_DAY).held == 0
