"""Each rule of findings on a small centre: what it says to the word, and the nearest case in which it says nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import orjson
import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark, seen_at
from finding_examples import (
    all_but,
    an_error,
    another,
    changed,
    evidence_of,
    found,
    ground_of,
    in_water,
    set_clock,
    there,
    told,
    with_attempt,
)
from laptops_apart import laptop
from sign_off_examples import course_that_asks, hold_all, propose, second, sign_all, sign_off
from test_gate_papers import without
from test_hard_cases import sign_as_met
from test_unit_readings import LEAK, read

from course.actions import amending, faults, settling, unit_care
from course.actions import attempts as trying
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions import gate_papers as noting
from course.actions import sign_off as signing_off
from course.actions.attempts import SheetContent
from course.actions.drafting import body, draft
from course.actions.set_points import From, note_set_point
from course.answers.decisions import evidence
from course.answers.findings import course_findings
from course.assessment.attempts import judge
from course.exchange.merging import hand_over, merge
from course.findings.finding import Finding, Severity
from course.findings.ground import Ground, Tried
from course.findings.rules import RULES, findings, is_for_lead, rule_words
from course.moments import new_id
from course.record.events import AttemptClosed, Draft, MarkGiven, MarksGiven, Signed, SignedOff
from course.standards.figure import Figure
from course.standards.profile import OxygenRule
from course.storage.backup import backup, restore
from course.storage.ledger import open_ledger
from course.words import Care, Closing, Mark, ReadingKind, SlipKind, SpanRole

POOL = "Thu 22 Oct, Pool Of The 22"
NEGATIVE = "chk-negative"
AT = "2026-10-22T16:00:00+00:00"
"""The Azores were on UTC on that day: their summer time."""


@pytest.fixture(autouse=True)
def _after_the_course(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch)


# --- every rule ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_each_rule_has_a_test_named_for_it_and_says_what_it_looks_for(rule: object) -> None:
    name = rule.__name__  # type: ignore[attr-defined]
    assert [one for one in globals() if one.startswith(f"test_{name}_")], f"no test is named test_{name}_..."
    assert rule_words(name).endswith("."), f"{name} does not say in a sentence what it looks for"


def test_no_two_rules_have_one_name() -> None:
    assert len({rule.__name__ for rule in RULES}) == len(RULES)


def test_a_course_without_attempts_on_its_first_day_has_nothing_but_the_other_revision(small_centre: Centre) -> None:
    c = small_centre
    ground = ground_of(c, date(2026, 10, 20))
    assert [one.rule for one in findings(ground)] == ["other_revision"]


def test_a_rule_of_a_newer_version_is_taken_to_be_for_the_lead() -> None:
    assert is_for_lead("a_rule_to_come")
    assert {rule.__name__ for rule in RULES if is_for_lead(rule.__name__)} == {"fewer_errors"}
    assert rule_words("a_rule_to_come") == ""


def only(findings: list[Finding], severity: Severity, *about: str) -> Finding:
    """The one finding, with its key and its severity."""
    (one,) = findings
    assert one.key == "/".join((one.rule, *about))
    assert one.severity == severity
    return one


# --- who was where ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("hour", "minute", "double"), [(16, 19, True), (16, 20, False)])
def test_double_booking_is_told_once_with_its_minutes_and_half_open_times_that_touch_are_none(
    small_centre: Centre, hour: int, minute: int, *, double: bool
) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    theory = another(c, "Theory", seen_at(22, hour, minute), seen_at(22, 17))
    there(c, pool, c.second, seen_at(22, 13, 30), seen_at(22, 16, 20), role=SpanRole.TEACHING)
    there(c, theory, c.second, seen_at(22, hour, minute), seen_at(22, 17), role=SpanRole.TEACHING)
    if not double:
        assert found(c, "double_booking") == []
        return
    one = only(found(c, "double_booking"), Severity.RULE, c.second, pool, theory, "2026-10-22T16:19:00+00:00")
    assert one.sentence == (
        "Thu 22 Oct: Bruno Ashkenar is in two places 16:19-16:20, 1 min: Pool Of The 22 and Theory. "
        "The time counts where it began first, in Pool Of The 22."
    )
    assert evidence_of(one) == {("person", c.second), ("session", pool), ("session", theory)}


@pytest.mark.parametrize(
    ("role", "sentence"),
    [
        (
            SpanRole.ASSISTING,
            (
                "Thu 22 Oct: Bruno Ashkenar is in two roles 14:00-15:00, 60 min: teaching and assisting in "
                "Pool Of The 22. The time counts where it began first, as teaching."
            ),
        ),
        (SpanRole.TEACHING, ""),
    ],
)
def test_double_booking_in_one_place_is_told_only_for_two_roles(
    small_centre: Centre, role: SpanRole, sentence: str
) -> None:
    """The same time entered twice, as from two laptops, is counted once and contradicts nothing."""
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.second, seen_at(22, 13, 30), seen_at(22, 16), role=SpanRole.TEACHING)
    there(c, pool, c.second, seen_at(22, 14), seen_at(22, 15), role=role)
    assert told(c, "double_booking") == sentence


def test_double_booking_in_two_groups_names_the_groups_session(small_centre: Centre) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    groups = [
        planning.make_group(c.ledger, c.lead, pool, name=name, staff=[c.second], students=[student])
        for name, student in (("P", c.amaru), ("Q", c.zoe))
    ]
    for group, start in zip(groups, (seen_at(22, 14), seen_at(22, 14, 30)), strict=True):
        there(c, pool, c.second, start, seen_at(22, 15), role=SpanRole.TEACHING, group=group)
    assert told(c, "double_booking") == (
        "Thu 22 Oct: Bruno Ashkenar is in two places 14:30-15:00, 30 min: two groups of Pool Of The 22. "
        "The time counts where it began first, in Pool Of The 22."
    )


def test_impossible_presence_of_one_who_learns_and_teaches_is_one_finding_and_no_double_booking(
    small_centre: Centre,
) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.amaru, seen_at(22, 13, 30), seen_at(22, 16))
    there(c, pool, c.amaru, seen_at(22, 15, 30), seen_at(22, 16, 20), role=SpanRole.ASSISTING)
    one = only(
        found(c, "impossible_presence"), Severity.RULE, c.amaru, pool, pool, "2026-10-22T15:30:00+00:00"
    )  # fmt: skip
    assert one.sentence == (
        "Thu 22 Oct: Amaru Tendelle is entered as student and assisting at once, 15:30-16:00, 30 min. "
        "Nobody learns and teaches at the same time."
    )
    assert found(c, "double_booking") == []


@pytest.mark.parametrize(
    ("loop", "came", "went", "sentence"),
    [
        (31, (14, 0), (15, 0), ""),  # times are entered to the minute
        (32, (14, 0), (15, 0), "has 32 min on the loop and on bailout in 30 min in the water"),
        (30, (14, 11), (15, 0), ""),
        (30, (14, 12), (15, 0), "is in the water at 14:10, before they came"),
        (30, (14, 0), (14, 39), ""),
        (30, (14, 0), (14, 38), "leaves the water at 14:40, after they had gone"),
        (30, (14, 0), None, ""),  # nobody wrote that they had gone
    ],
)
def test_impossible_presence_in_the_water_allows_one_minute(
    small_centre: Centre, loop: int, came: tuple[int, int], went: tuple[int, int] | None, sentence: str
) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.amaru, seen_at(22, *came), seen_at(22, *went) if went else None)
    in_water(c, pool, c.amaru, loop, entered=seen_at(22, 14, 10), left=seen_at(22, 14, 40))
    assert told(c, "impossible_presence") == (f"{POOL}: Amaru Tendelle {sentence}." if sentence else "")


def test_impossible_presence_after_the_planned_end_is_none_of_one_who_has_no_end(small_centre: Centre) -> None:
    """A session that ran late: nobody is known to have gone."""
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.amaru, seen_at(22, 13, 30), None)
    there(c, pool, c.lead, seen_at(22, 13, 30), None, role=SpanRole.TEACHING)
    in_water(c, pool, c.amaru, 40, entered=seen_at(22, 15, 50), left=seen_at(22, 16, 40))
    c.enter("pool-22", observed=seen_at(22, 16, 35))
    assert found(c, "impossible_presence") == []


@pytest.mark.parametrize(("minute", "away"), [(1, False), (2, True)])
def test_impossible_presence_of_a_student_who_had_gone_when_an_attempt_was_seen(
    small_centre: Centre, minute: int, *, away: bool
) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.amaru, seen_at(22, 13, 30), seen_at(22, 15))
    there(c, pool, c.lead, seen_at(22, 13, 30), seen_at(22, 16), role=SpanRole.TEACHING)
    attempt = c.enter("pool-22", observed=seen_at(22, 15, minute))
    if not away:
        assert found(c, "impossible_presence") == []
        return
    one = only(found(c, "impossible_presence"), Severity.RULE, pool, c.amaru)
    assert one.sentence == (
        f"{POOL}: Amaru Tendelle was not there by the times entered while 1 attempt was seen: "
        "Close before it leaves the mouth at 15:02."
    )
    assert evidence_of(one) == {("session", pool), ("person", c.amaru), ("attempt", attempt)}


def test_impossible_presence_of_the_only_observer_and_not_of_one_of_two(small_centre: Centre) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.amaru, seen_at(22, 13, 30), seen_at(22, 16))
    there(c, pool, c.lead, seen_at(22, 13, 30), seen_at(22, 16), role=SpanRole.TEACHING)
    c.enter("pool-22", others=((c.second, all_but(c, POOL_SKILL, {})),))
    assert found(c, "impossible_presence") == []
    c.enter("pool-22", by=c.second)
    assert told(c, "impossible_presence") == (
        f"{POOL}: Bruno Ashkenar has no time entered while 1 attempt was seen: "
        "Close before it leaves the mouth at 14:00."
    )


def test_impossible_presence_is_not_read_out_of_a_sheet_that_says_no_time(small_centre: Centre) -> None:
    """A sheet of paper copied without its time stands at the session's start; a student who came late did it later."""
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.amaru, seen_at(22, 14, 30), seen_at(22, 16))
    there(c, pool, c.lead, seen_at(22, 14, 30), seen_at(22, 16), role=SpanRole.TEACHING)
    c.enter("pool-22", observed=seen_at(22, 13, 30).model_copy(update={"precision": "session"}))
    assert found(c, "impossible_presence") == []
    c.enter("pool-22", observed=seen_at(22, 13, 30))
    assert len(found(c, "impossible_presence")) == 2


def _three_in_open_water(c: Centre, assistant_until: int, student_until: int) -> str:
    """Three students to Bruno and an assistant, in one group of the open water, where 2 to 1 are allowed."""
    session, third = c.sessions["open-24"], without(c)
    people = {c.amaru: 16, c.zoe: 16, third: student_until}
    group = planning.make_group(
        c.ledger, c.lead, session, name="A", staff=[c.second, c.assistant], students=[*people]
    )  # fmt: skip
    for person, until in people.items():
        there(c, session, person, seen_at(24, 14), seen_at(24, until), group=group)
    there(c, session, c.second, seen_at(24, 14), seen_at(24, 16), role=SpanRole.TEACHING, group=group)
    there(c, session, c.assistant, seen_at(24, 14), seen_at(24, assistant_until), role=SpanRole.ASSISTING, group=group)
    return group


def test_ratio_break_is_told_with_who_left_and_which_attempts_were_in_it(small_centre: Centre) -> None:
    c = small_centre
    group = _three_in_open_water(c, assistant_until=15, student_until=16)
    before = c.enter("open-24", observed=seen_at(24, 14, 59), by=c.second)
    inside = c.enter("open-24", observed=seen_at(24, 15), by=c.second)
    one = only(
        found(c, "ratio_break"), Severity.RULE, c.sessions["open-24"], group, "2026-10-24T15:00:00+00:00"
    )  # fmt: skip
    assert one.sentence == (
        "Sat 24 Oct, Open Of The 24, A: 3 students to 1 instructor without assistant, limit 2: 15:00-16:00, 60 min; "
        "Lien Ito left; 1 attempt was seen in it."
    )
    assert ("attempt", inside) in evidence_of(one)
    assert ("attempt", before) not in evidence_of(one)
    assert one.causes == ()


def test_ratio_break_is_none_where_student_and_assistant_leave_at_the_same_instant(small_centre: Centre) -> None:
    _three_in_open_water(small_centre, assistant_until=15, student_until=15)
    assert found(small_centre, "ratio_break") == []


@pytest.mark.parametrize(("setting", "severity"), [("pool", Severity.DANGER), ("class", Severity.RULE)])
def test_ratio_break_without_an_instructor_weighs_most_in_the_water(
    small_centre: Centre, setting: str, severity: Severity
) -> None:
    c = small_centre
    session = another(c, "Early", seen_at(22, 9), seen_at(22, 10), setting)
    there(c, session, c.amaru, seen_at(22, 9), seen_at(22, 10))
    there(c, session, c.lead, seen_at(22, 9, 2), seen_at(22, 10), role=SpanRole.TEACHING)
    one = only(found(c, "ratio_break"), severity, session, "", "2026-10-22T09:00:00+00:00")
    assert one.sentence == ("Thu 22 Oct, Early: 1 student and no instructor: 09:00-09:02, 2 min; Amaru Tendelle came.")


def test_ratio_break_made_by_a_double_booking_names_it_as_its_cause(small_centre: Centre) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    theory = another(c, "Theory", seen_at(22, 16), seen_at(22, 17))
    there(c, pool, c.second, seen_at(22, 13, 30), seen_at(22, 16, 20), role=SpanRole.TEACHING)
    there(c, theory, c.second, seen_at(22, 16), seen_at(22, 17), role=SpanRole.TEACHING)
    there(c, theory, c.amaru, seen_at(22, 16), seen_at(22, 17))
    (one,) = found(c, "ratio_break")
    assert one.causes == (f"double_booking/{c.second}/{pool}/{theory}/{AT}",)
    assert one.causes[0] == found(c, "double_booking")[0].key


def test_no_end_is_told_once_a_session_is_over(small_centre: Centre) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    for person in (c.amaru, c.zoe):
        there(c, pool, person, seen_at(22, 13, 30), None)
    there(c, pool, c.lead, seen_at(22, 13, 30), seen_at(22, 16, 20), role=SpanRole.TEACHING)
    one = only(found(c, "no_end"), Severity.LOOK, pool)
    assert one.sentence == (
        f"{POOL}: Amaru Tendelle and Zoë <i>O'Brien-Ünal</i> =1+1 have no end of their time; "
        "it counts to the planned end, 16:20."
    )
    ground = ground_of(c)
    ends = seen_at(22, 16, 20).moment
    assert found(replace(ground, now=ends), "no_end") != []
    assert found(replace(ground, now=ends - timedelta(seconds=1)), "no_end") == []


# --- units and the water ---------------------------------------------------------------------------------------------


def test_held_unit_is_one_finding_for_unit_and_session_with_what_was_marked_on_it(small_centre: Centre) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    attempts = [c.enter("pool-22", observed=seen_at(22, 14, minute)) for minute in (29, 30, 59)]
    held = unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, 14, 30), "A tear.")
    unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, 15), why="Mended.")
    one = only(found(c, "held_unit"), Severity.DANGER, c.unit_a, pool)
    assert one.sentence == (
        "A-05 booked while on hold, Thu 22 Oct 14:30-15:00, Pool Of The 22: Amaru Tendelle and "
        "Zoë <i>O'Brien-Ünal</i> =1+1. 2 attempts were marked on it; they stand."
    )
    assert {("unit", c.unit_a), ("session", pool)} <= evidence_of(one)
    assert {id_ for kind, id_ in evidence_of(one) if kind == "attempt"} == set(attempts[1:])


def test_held_unit_tells_two_holds_apart_and_none_that_was_lifted_as_the_session_began(small_centre: Centre) -> None:
    c = small_centre
    for start, end in (((12, 0), (13, 30)), ((14, 0), (14, 10)), ((15, 0), (15, 10))):
        held = unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, *start), "A tear.")
        unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, *end), why="Mended.")
    assert "Thu 22 Oct 14:00-14:10 and 15:00-15:10, Pool Of The 22" in told(c, "held_unit")


def test_held_unit_is_no_finding_for_what_is_only_planned(small_centre: Centre) -> None:
    """A planned booking can still be changed; the pages about units tell it."""
    c = small_centre
    unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(23, 9), "A tear.")
    ground = ground_of(c)
    assert len(found(ground, "held_unit")) == 3
    assert len(found(replace(ground, now=seen_at(23, 13, 30).moment), "held_unit")) == 1
    assert found(replace(ground, now=seen_at(23, 13, 29).moment), "held_unit") == []


@pytest.mark.parametrize(
    ("what", "day", "sentence"),
    [
        (
            Care.SERVICE,
            "2026-10-24",
            "A-05 was in the water on Sun 25 Oct, and its service was good until 24 Oct 2026.",
        ),
        (Care.SERVICE, "2026-10-25", ""),  # the last good day is still good
        (
            Care.CELLS,
            "2026-10-23",
            "A-05 was in the water on Sat 24 Oct and Sun 25 Oct, and its oxygen cells were good until 23 Oct 2026.",
        ),
    ],
)
def test_lapsed_unit_is_told_by_the_day_of_the_session(
    small_centre: Centre, what: Care, day: str, sentence: str
) -> None:
    c = small_centre
    unit_care.record_care(c.ledger, c.lead, c.unit_a, what, seen_at(20), good_until=day)
    assert told(c, "lapsed_unit") == (f"{sentence} Think of a hold; attempts on it stand." if sentence else "")


def test_lapsed_unit_names_the_day_of_the_care_in_force_and_not_of_an_earlier_one(small_centre: Centre) -> None:
    """The service done last is the one that counts, also where an earlier one would have been good for longer."""
    c = small_centre
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.SERVICE, seen_at(1), good_until="2026-10-24")
    unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.SERVICE, seen_at(10), good_until="2026-10-23")
    one = only(found(c, "lapsed_unit"), Severity.DANGER, c.unit_a, "service")
    assert "was good until 23 Oct 2026." in one.sentence
    assert {("unit", c.unit_a), ("session", c.sessions["open-24"])} <= evidence_of(one)


def test_fault_left_is_told_until_it_is_cleared(small_centre: Centre) -> None:
    c, dry = small_centre, small_centre.sessions["dry-21"]
    slip = faults.set_fault(
        c.ledger, c.lead, session=dry, how=SlipKind.PLANTED, fault="pf-din-ring", unit=c.unit_b,
        observed=seen_at(21, 14),
    )  # fmt: skip
    one = only(found(c, "fault_left"), Severity.DANGER, slip)
    assert one.sentence == (
        "B-05: a fault planted Wed 21 Oct, Dry Of The 21 is not cleared. "
        "The unit stays on hold until it is, and its whole list is passed again."
    )
    assert found(replace(ground_of(c), now=seen_at(21, 16, 19).moment), "fault_left") == []
    faults.clear_fault(c.ledger, c.lead, slip, seen_at(21, 16))
    assert found(c, "fault_left") == []


@pytest.mark.parametrize(("minutes", "over"), [(60, ""), (61, "61 min on the loop, 1 more than the 60 written")])
def test_filling_over_begins_one_minute_after_the_minutes_written_beside_it(
    small_centre: Centre, minutes: int, over: str
) -> None:
    c = small_centre
    filled = unit_care.record_care(c.ledger, c.lead, c.unit_a, Care.SCRUBBER, seen_at(22, 9), good_minutes=60)
    in_water(c, c.sessions["pool-22"], c.amaru, 40, bailout_minutes=5)
    in_water(c, c.sessions["pool-23"], c.zoe, minutes - 40)
    if not over:
        assert found(c, "filling_over") == []
        return
    one = only(found(c, "filling_over"), Severity.DANGER, c.unit_a, filled)
    assert one.sentence == (
        f"A-05: its scrubber filling of Thu 22 Oct has {over} beside it. Pre-breathe and surface time are not in it."
    )


@pytest.mark.parametrize(("depth", "deep"), [("27", False), ("27.1", True)])
def test_too_deep_begins_beyond_the_limits_own_depth(small_centre: Centre, depth: str, *, deep: bool) -> None:
    c = small_centre
    in_water(c, c.sessions["open-24"], c.amaru, 40, max_depth_m=depth)
    assert told(c, "too_deep") == (
        "Sat 24 Oct, Open Of The 24: Amaru Tendelle went to 27.1 m, 27 m allowed by the requirements." if deep else ""
    )
    assert all(one.severity == Severity.DANGER for one in found(c, "too_deep"))


# --- papers ----------------------------------------------------------------------------------------------------------


def test_gate_passed_is_one_finding_for_person_gate_and_stage(small_centre: Centre) -> None:
    c = small_centre
    student = without(c, "pq-med")
    for session in ("dry-21", "pool-22", "pool-23"):
        there(c, c.sessions[session], student, seen_at(int(session[-2:]), 13, 30), seen_at(int(session[-2:]), 16))
    one = only(found(c, "gate_passed"), Severity.DANGER, student, "pq-med", "pool")
    assert one.sentence == (
        "Ravi Soltmere took part in Thu 22 Oct, Pool Of The 22 and Fri 23 Oct, Pool Of The 23, though the pool was "
        "shut: Medical statement or a doctor's clearance on file: not seen by 22 Oct 2026."
    )
    assert {("person", student), ("session", c.sessions["pool-22"])} <= evidence_of(one)


def test_gate_passed_never_says_that_a_doctor_did_not_clear_somebody(small_centre: Centre) -> None:
    c = small_centre
    student = without(c, "pq-med")
    noting.note_proof(c.ledger, c.lead, c.course, student, "pq-med", "2026-10-01", cleared=False)
    there(c, c.sessions["pool-22"], student, seen_at(22, 13, 30), seen_at(22, 16))
    assert told(c, "gate_passed").endswith("clearance on file: not settled, ask the lead instructor.")
    assert "cleared" not in told(c, "gate_passed")


@pytest.mark.parametrize(("seen_on", "sentence"), [("2026-04-25", ""), ("2026-04-24", "ran out on 21 Oct 2026")])
def test_gate_passed_is_none_on_the_last_good_day(small_centre: Centre, seen_on: str, sentence: str) -> None:
    """A risk statement is good for 180 days by the example: seen on 25 April, to the end of 22 October."""
    c = small_centre
    student = without(c, "pq-waiver")
    noting.note_proof(c.ledger, c.lead, c.course, student, "pq-waiver", seen_on)
    dry = another(c, "Bench", seen_at(22, 9), seen_at(22, 10), "dry")
    there(c, dry, student, seen_at(22, 9), seen_at(22, 10))
    assert sentence in told(c, "gate_passed")
    assert bool(sentence) == bool(found(c, "gate_passed"))
    assert all(one.severity == Severity.RULE for one in found(c, "gate_passed"))


@pytest.mark.parametrize(
    ("born", "why"),
    [("2008-10-23", "not seen by 22 Oct 2026"), ("2008-10-22", "")],  # 18 on the day: nobody else has to agree
)
def test_consent_missing_is_told_of_a_minor_in_the_water(small_centre: Centre, born: str, why: str) -> None:
    c = small_centre
    student = without(c, born=born)
    there(c, c.sessions["pool-22"], student, seen_at(22, 13, 30), seen_at(22, 16))
    there(c, c.sessions["dry-21"], student, seen_at(21, 13, 30), seen_at(21, 16))
    assert found(c, "gate_passed") == []
    if not why:
        assert found(c, "consent_missing") == []
        return
    one = only(found(c, "consent_missing"), Severity.DANGER, student, "consent", "pool")
    assert one.sentence == (
        f"Ravi Soltmere took part in {POOL}, though the pool was shut: Guardian's consent (under 18): {why}."
    )


@pytest.mark.parametrize(("until", "gone"), [("2026-10-22", False), ("2026-10-21", True)])
def test_consent_missing_is_none_on_the_last_day_of_a_consent(small_centre: Centre, until: str, *, gone: bool) -> None:
    c = small_centre
    student = without(c, born="2009-06-14")
    noting.note_consent(
        c.ledger, c.lead, c.course, student, stages=["pool"], day="2026-10-20", until=until, guardian="Marit"
    )
    there(c, c.sessions["pool-22"], student, seen_at(22, 13, 30), seen_at(22, 16))
    assert bool(found(c, "consent_missing")) == gone
    assert ("ran out on 21 Oct 2026" in told(c, "consent_missing")) == gone


# --- who saw ---------------------------------------------------------------------------------------------------------


def test_observer_not_current_is_told_by_the_day_of_the_session(small_centre: Centre) -> None:
    """24 April and 183 days by the example: 24 October is good, the 25th is not."""
    c = small_centre
    founding.record_check_out(c.ledger, c.lead, c.second, "type-a", "2026-04-24")
    c.enter("open-24", by=c.second)
    assert found(c, "observer_not_current") == []
    alone = c.enter("open-25", by=c.second)
    both = c.enter("open-25", others=((c.second, all_but(c, POOL_SKILL, {})),), student=c.zoe)
    one = only(found(c, "observer_not_current"), Severity.RULE, c.second, "type-a")
    assert one.sentence == (
        "Bruno Ashkenar, Unit type A: last good day 24 Oct 2026. Seen on Sun 25 Oct only: 2 attempts of Amaru Tendelle "
        "and Zoë <i>O'Brien-Ünal</i> =1+1; 1 of them waits for a current instructor. What was seen before stands."
    )
    assert {line.words for line in one.evidence if line.id == alone} == {"waits"}
    assert {line.words for line in one.evidence if line.id == both} == {"also seen by somebody else"}


@pytest.mark.parametrize(("times", "p"), [(5, ""), (6, "p = 0.0312")])
def test_fewer_errors_is_told_of_two_who_differ_by_more_than_chance(small_centre: Centre, times: int, p: str) -> None:
    """Six of six one way: 2 / 2^6 = 0.03125, the exact two-sided sign test (worked by hand)."""
    c = small_centre
    attempts = [
        c.enter("pool-22", critical_mark(), others=((c.second, all_but(c, POOL_SKILL, {})),)) for _ in range(times)
    ]
    if not p:
        assert found(c, "fewer_errors") == []
        return
    one = only(found(c, "fewer_errors"), Severity.LOOK, *sorted((c.lead, c.second)))
    assert one.sentence.startswith(
        "Bruno Ashkenar marks fewer errors than Tamsin Okoro-Vale on the same 6 attempts: 6 seen only by "
        f"Tamsin Okoro-Vale, 0 only by Bruno Ashkenar, 0 in common; exact two-sided sign test {p}. "
    )
    assert one.for_lead
    assert evidence_of(one) == {("attempt", attempt) for attempt in attempts}


def test_tied_observer_is_told_once_and_without_the_note(small_centre: Centre) -> None:
    c = small_centre
    for note in ("Her uncle.", "Her uncle, said twice."):
        noting.note_interest(c.ledger, c.lead, c.course, c.second, c.zoe, day="2026-10-20", note=note)
    c.enter("pool-22", by=c.second)
    assert found(c, "tied_observer") == []
    marked = c.enter("pool-22", by=c.second, student=c.zoe)
    one = only(found(c, "tied_observer"), Severity.LOOK, c.second, c.zoe)
    assert one.sentence == (
        "Bruno Ashkenar marked 1 attempt of Zoë <i>O'Brien-Ünal</i> =1+1; a tie between the two is noted. They count; "
        "let somebody else see some."
    )
    assert evidence_of(one) == {("person", c.second), ("attempt", marked)}


# --- attempts --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("late_by", "late"), [(timedelta(), False), (timedelta(seconds=1), True)])
def test_entered_late_begins_after_24_hours_sharp(small_centre: Centre, late_by: timedelta, *, late: bool) -> None:
    c = small_centre
    attempt = c.enter("pool-22", observed=seen_at(22, 14))
    ground = replace(ground_of(c), made_here=seen_at(1).moment)
    (tried,) = ground.tried
    entered = seen_at(22, 14).moment + timedelta(hours=24) + late_by
    ground = changed(ground, replace(tried, last_entered=entered))
    if not late:
        assert found(ground, "entered_late") == []
        return
    one = only(found(ground, "entered_late"), Severity.LOOK, c.sessions["pool-22"])
    assert one.sentence == f"{POOL}: 1 attempt had the last entry 24 hours after it was seen."
    assert evidence_of(one) == {("attempt", attempt)}


def test_entered_late_does_not_take_a_correction_for_an_entry(small_centre: Centre) -> None:
    """What was written down in time and mended later shows as an amendment, not as entered late."""
    c = small_centre
    attempt = c.enter("pool-22", observed=seen_at(22, 14))
    (before,) = ground_of(c).tried
    marks = next(one for one in c.ledger.events(attempt) if one.kind == "marks_given/1")
    amending.withdraw(c.ledger, c.lead, marks.id, "Tapped at the wrong student.")
    (after,) = ground_of(c).tried
    assert after.last_entered == before.last_entered


def test_entered_late_says_the_shortest_and_the_longest_of_a_session(small_centre: Centre) -> None:
    c = small_centre
    for _ in range(2):
        c.enter("pool-22", observed=seen_at(22, 14))
    ground = replace(ground_of(c), made_here=seen_at(1).moment)
    seen = seen_at(22, 14).moment
    tried = [
        replace(one, last_entered=seen + timedelta(hours=hours))
        for one, hours in zip(ground.tried, (30, 100), strict=True)
    ]
    assert "2 attempts had the last entry 30 hours to 4 days after" in told(changed(ground, *tried), "entered_late")


def test_entered_late_counts_from_when_the_course_was_written_down_and_not_for_what_came_from_elsewhere(
    small_centre: Centre,
) -> None:
    """Nothing could be entered before the ledger had the course."""
    c = small_centre
    c.enter("pool-22")
    ground, late = ground_of(c), seen_at(30).moment
    (tried,) = ground.tried
    ground = changed(ground, replace(tried, last_entered=late))
    assert found(replace(ground, made_here=late - timedelta(hours=24)), "entered_late") == []
    assert found(replace(ground, made_here=late - timedelta(hours=25)), "entered_late") != []
    assert found(replace(ground, made_here=None), "entered_late") != []
    elsewhere = replace(with_attempt(tried, from_elsewhere=True), last_entered=late)
    assert found(changed(replace(ground, made_here=None), elsewhere), "entered_late") == []


@pytest.mark.parametrize(("tries", "asked"), [(2, ""), (3, "3 attempts that take 3 min at the very least")])
def test_more_than_time_allows_is_none_for_60_of_60_seconds(small_centre: Centre, tries: int, asked: str) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    there(c, pool, c.amaru, seen_at(22, 14), seen_at(22, 14, 2))
    attempts = [c.enter("pool-22", observed=seen_at(22, 14, 1)) for _ in range(tries)]
    if not asked:
        assert found(c, "more_than_time_allows") == []
        return
    one = only(found(c, "more_than_time_allows"), Severity.LOOK, pool, c.amaru)
    assert one.sentence == f"{POOL}: Amaru Tendelle has {asked}, and was there for 2 min."
    assert evidence_of(one) == {("session", pool), *(("attempt", attempt) for attempt in attempts)}


@pytest.mark.parametrize(
    ("watched", "closing", "minutes"),
    [("300", Closing.COMPLETED, 5), ("170", Closing.COMPLETED, 3), ("300", Closing.STOPPED, 1)],
)
def test_more_than_time_allows_takes_the_time_that_steps_ask_for_or_the_shorter_one_written(
    small_centre: Centre, watched: str, closing: Closing, minutes: int
) -> None:
    """A pre-breathe asks for 300 s (example): whoever wrote 170 s, or stopped it, took no longer."""
    c, dry = small_centre, small_centre.sessions["dry-21"]
    there(c, dry, c.amaru, seen_at(21, 14), seen_at(21, 14).model_copy(update={"utc": "2026-10-21T14:00:59.000000Z"}))
    skill = c.skill("pre-breathe")
    (step,) = [step for step in skill.steps if step.limit and step.limit.at_least == "300"]
    trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=dry, student=c.amaru, skill=skill.id, observed=seen_at(21, 14),
        sheets=[(c.lead, all_but(c, skill.id, {step.id: watched}))], closing=closing,
        stopped_by="student" if closing == Closing.STOPPED else None,
    )  # fmt: skip
    assert told(c, "more_than_time_allows").endswith(
        f"has 1 attempt that takes {minutes} min at the very least, and was there for 0 min."
    )


def _three(c: Centre, *marks: MarkGiven, skill: str = POOL_SKILL, session: str = "pool-22") -> list[str]:
    """The same marks for three students."""
    return [c.enter(session, *marks, student=student, skill=skill) for student in (c.amaru, c.zoe, without(c))]


def test_same_marks_is_told_from_two_marks_and_three_students_on(small_centre: Centre) -> None:
    c = small_centre
    marks = (an_error("co-hand", "co-search"), an_error("co-hold", "co-dangles"))
    for student in (c.amaru, c.zoe, c.zoe):
        c.enter("pool-22", *marks, student=student)
    assert found(c, "same_marks") == []
    c.enter("pool-22", *marks, student=without(c))
    (one,) = found(c, "same_marks")
    assert one.key.startswith(f"same_marks/{c.sessions['pool-22']}/{POOL_SKILL}/{c.lead}/")
    assert one.sentence == (
        f"{POOL}: Tamsin Okoro-Vale gave 3 students the same 2 marks that are not plain done at Close before it leaves "
        "the mouth: Amaru Tendelle, Zoë <i>O'Brien-Ünal</i> =1+1 and Ravi Soltmere."
    )
    assert len(evidence_of(one)) == 4


@pytest.mark.parametrize("marks", [(), (an_error("co-hand", "co-search"),)])
def test_same_marks_is_none_for_all_done_or_for_one_mark(small_centre: Centre, marks: tuple[MarkGiven, ...]) -> None:
    _three(small_centre, *marks)
    assert found(small_centre, "same_marks") == []


def test_same_marks_is_none_for_values_that_are_the_limit_itself(small_centre: Centre) -> None:
    """60 s of 60 s says "done": everybody writes it. 71 s for each of three is told."""
    c = small_centre
    skill = next(
        skill for skill in c.view().skills() if "dry" in skill.setting and len([s for s in skill.steps if s.limit]) > 1
    )  # fmt: skip
    students = [c.amaru, c.zoe, without(c)]
    for student in students:
        c.enter("dry-21", skill=skill.id, student=student)
    assert found(c, "same_marks") == []
    values = {step.id: "71" for step in skill.steps if step.limit}
    for student in students:
        trying.enter_attempt(
            c.ledger, c.lead, course=c.course, session=c.sessions["dry-21"], student=student, skill=skill.id,
            observed=seen_at(21), sheets=[(c.lead, all_but(c, skill.id, values))],
        )  # fmt: skip
    assert f"the same {len(values)} marks that are not plain done" in told(c, "same_marks")


def negative(c: Centre, watched: str | None, *marks: MarkGiven, **more: Any) -> str:
    """A negative pressure test of Amaru that was watched for so many seconds."""
    values = {"neg-mark": watched} if watched else {}
    return trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["dry-21"], student=c.amaru, skill=NEGATIVE,
        observed=seen_at(21), sheets=[(c.lead, all_but(c, NEGATIVE, values, *marks))], **more,
    )  # fmt: skip


def test_value_against_tick_says_the_value_the_limit_and_what_counts(small_centre: Centre) -> None:
    c = small_centre
    attempt = negative(c, "59.9")
    sheet = c.attempt(attempt).sheets[0].id
    one = only(found(c, "value_against_tick"), Severity.DANGER, attempt, sheet, "neg-mark")
    assert one.sentence == (
        "Amaru Tendelle · Negative pressure test, attempt 1, Wed 21 Oct: ticked done by Tamsin Okoro-Vale, and the "
        "value written is outside its limit. Mark how the lungs lie and wait the manual's time by the clock: "
        "59.9 s of 60 s, at least 60 s asked (example): critical. The value counts: critical."
    )


def test_value_against_tick_is_none_where_value_and_mark_agree_or_nothing_counts(small_centre: Centre) -> None:
    c = small_centre
    negative(c, "60")
    negative(c, "41", an_error("neg-mark", "neg-short"))
    negative(c, None)
    negative(c, "41", closing=Closing.VOID, reason="The alarm went.", second=c.second)
    assert found(c, "value_against_tick") == []


def test_value_against_tick_is_none_once_both_observers_agreed(small_centre: Centre) -> None:
    c = small_centre
    attempt = c.enter("dry-21", skill=NEGATIVE, others=((c.second, all_but(c, NEGATIVE, {"neg-mark": "41"})),))
    assert len(found(c, "value_against_tick")) == 1
    line = MarkGiven(step="neg-mark", mark=Mark.DONE)
    settling.agree_joint_line(
        c.ledger,
        c.lead,
        attempt,
        line,
        [c.lead, c.second],
        "The 41 was the student before.",
        seen_at(21, 16),
        value="71",
    )
    assert found(c, "value_against_tick") == []


def test_critical_open_is_told_at_once_and_not_closed_only_after_the_session(small_centre: Centre) -> None:
    c = small_centre
    bad, plain = c.enter("pool-22", critical_mark()), c.enter("pool-22")
    ground = ground_of(c)
    ground = changed(ground, *(with_attempt(one, ending=None) for one in ground.tried))
    one = only(found(ground, "critical_open"), Severity.DANGER, bad)
    assert one.sentence == (
        "Amaru Tendelle · Close before it leaves the mouth, attempt 1, Thu 22 Oct: nobody closed it; while it is open "
        "it is in no standing. Only then take it out of the mouth: open as it leaves the mouth: critical."
    )
    left = only(found(ground, "not_closed"), Severity.LOOK, plain)
    assert left.sentence.endswith("attempt 2, Thu 22 Oct: nobody closed it; while it is open it is in no standing.")
    during = replace(ground, now=seen_at(22, 16, 19).moment)
    assert [one.about for one in found(during, "critical_open")] == [(bad,)]
    assert found(during, "not_closed") == []


def test_not_closed_is_told_of_an_attempt_opened_on_the_pad(small_centre: Centre) -> None:
    c = small_centre
    opened = c.open("pool-22")
    assert [one.about for one in found(c, "not_closed")] == [(opened.attempt,)]
    c.enter("pool-22")
    assert len(found(c, "not_closed")) == 1


def test_corrections_disagree_is_told_of_two_that_did_not_know_of_each_other(small_centre: Centre) -> None:
    c = small_centre
    attempt = c.enter("pool-22")
    opening = next(iter(c.ledger.events(attempt))).id
    first = amending.correction(c.ledger, c.lead, opening, "It was the third.", change={"number": 3})
    second = amending.correction(c.ledger, c.second, opening, "It was the fourth.", change={"number": 4})
    c.ledger.append([first])
    assert found(c, "corrections_disagree") == []
    c.ledger.append([second])
    one = only(found(c, "corrections_disagree"), Severity.RULE, attempt)
    assert one.sentence.endswith(
        "Thu 22 Oct: corrections from two devices disagree about number. Settle it with a reason."
    )
    amending.correct(c.ledger, c.lead, opening, "The third, by the slate.", change={"number": 3})
    assert found(c, "corrections_disagree") == []


def test_closed_differently_names_both_and_says_which_counts(small_centre: Centre) -> None:
    """Two laptops closed one attempt by themselves, and the two came together."""
    c = small_centre
    opened = c.open()
    ways = [(c.lead, Closing.COMPLETED, None), (c.second, Closing.STOPPED, "student")]
    apart = [
        draft(actor, body(AttemptClosed, attempt=opened.attempt, how=how, stopped_by=by, observed=seen_at(22)))
        for actor, how, by in ways
    ]
    c.ledger.append(apart[:1])
    assert found(c, "closed_differently") == []
    c.ledger.append(apart[1:])
    one = only(found(c, "closed_differently"), Severity.RULE, opened.attempt)
    assert one.sentence.endswith(
        "two devices closed it, as completed by Tamsin Okoro-Vale and as stopped by Bruno Ashkenar. "
        "It counts as completed; take back the one that is wrong."
    )
    again = draft(c.lead, body(AttemptClosed, attempt=opened.attempt, how=Closing.COMPLETED, observed=seen_at(22)))
    amending.withdraw(c.ledger, c.lead, apart[1].id, "The other tablet was wrong.")
    c.ledger.append([again])
    assert found(c, "closed_differently") == []


def test_marked_differently_names_the_step_and_goes_with_an_amendment_of_both(small_centre: Centre) -> None:
    """Two laptops amended one step by themselves, and the two came together."""
    c = small_centre
    attempt = c.enter()
    (sheet,) = c.attempt(attempt).sheets
    step = sheet.marks[0].step

    def amended(mark: Mark, replaces: tuple[str, ...]) -> Draft:
        line = MarkGiven(step=step, mark=mark, replaces=replaces)
        return draft(c.lead, body(MarksGiven, attempt=attempt, sheet=sheet.id, marks=(line,), observed=seen_at(22, 18)))

    c.ledger.append([amended(Mark.PROMPTED, (sheet.marks[0].event,))])
    assert found(c, "marked_differently") == []
    c.ledger.append([amended(Mark.NOT_SEEN, (sheet.marks[0].event,))])
    one = only(found(c, "marked_differently"), Severity.RULE, attempt, sheet.id, step)
    known = c.skill().step(step)
    assert known
    assert f'two devices say different things of the step "{known.do.rstrip(".")}" on the sheet of' in one.sentence
    assert one.sentence.endswith("The stricter counts; amend it once more, with a reason.")
    line = MarkGiven(step=step, mark=Mark.PROMPTED)
    amending.amend_marks(c.ledger, c.lead, attempt, sheet.id, line, "She prompted her.", seen_at(22, 19))
    assert found(c, "marked_differently") == []


def test_withdrawn_unknowing_is_told_until_whoever_withdrew_knew_what_the_other_laptop_said(
    small_centre: Centre, tmp_path: Path
) -> None:
    """One laptop withdraws an attempt that another moves to her; once it was merged, a withdrawal is meant so."""
    c = small_centre
    attempt = c.enter("pool-22")
    opening = next(iter(c.ledger.events(attempt))).id
    backup(c.ledger.folder, tmp_path / "begin.tar")
    with laptop(tmp_path, "other") as folder:
        restore(tmp_path / "begin.tar", folder)
        with open_ledger(folder, write=True) as ledger:
            amending.move_attempt(ledger, c.second, attempt, c.zoe, "It was her.")
            device = ledger.event_at(ledger.head().chain, 1).device  # type: ignore[union-attr]  # it began
            hand_over(ledger, tmp_path / "other.zip")
    gone = amending.withdraw(c.ledger, c.lead, opening, "Entered twice.")
    assert found(c, "withdrawn_unknowing") == []
    merge(c.ledger, c.lead, [tmp_path / "other.zip"], accept=[device])
    one = only(found(c, "withdrawn_unknowing"), Severity.RULE, attempt)
    assert one.sentence.endswith(
        "Thu 22 Oct: withdrawn by Tamsin Okoro-Vale on a device that did not know what Bruno Ashkenar entered or "
        "corrected of it on another. It counts for nobody; if it should, enter it anew."
    )
    amending.withdraw(c.ledger, c.lead, gone, "It was hers.")
    assert found(c, "withdrawn_unknowing") == []
    amending.withdraw(c.ledger, c.lead, opening, "Entered twice all the same.")
    assert found(c, "withdrawn_unknowing") == []


def test_signed_apart_is_told_until_somebody_decides_anew(small_centre: Centre) -> None:
    """Two laptops signed on records that differ, and the two came together."""
    c = small_centre
    c.hold()
    decisions = {sign_as_met(c)}
    (first,) = [one for one in c.ledger.events() if one.kind == Signed.kind]
    plain = {name: value for name, value in orjson.loads(first.body).items() if name != "sealed"}
    other = {
        "decision": new_id(),
        "rests_on": "ab" * 32,
        "decided": "stricter",
        "sentence": "Not yet.",
        "reason": "Why.",
    }
    assert found(c, "signed_apart") == []
    c.ledger.append([draft(c.second, body(Signed, **plain | other))])
    one = only(found(c, "signed_apart"), Severity.RULE, *sorted([*decisions, str(other["decision"])]))
    assert one.sentence == (
        "Amaru Tendelle · Close before it leaves the mouth: signed by Tamsin Okoro-Vale on 2 Nov 2026 and held back by "
        "Bruno Ashkenar on 2 Nov 2026, on devices that did not know of each other and on different records. What holds "
        "back holds; look at the record as it is now and decide anew."
    )
    sign_as_met(c)
    assert found(c, "signed_apart") == []


def _signed_off(small_centre: Centre) -> tuple[Centre, str]:
    """Amaru, signed off by the lead, who alone saw all of it, on a course of two skills."""
    c = course_that_asks(small_centre)
    hold_all(c)
    sign_all(c)
    return c, sign_off(c)


def test_signed_off_on_older_is_told_once_the_record_changes(small_centre: Centre) -> None:
    c, issue = _signed_off(small_centre)
    assert found(c, "signed_off_on_older") == []
    c.enter("pool-23", critical_mark())
    one = only(found(c, "signed_off_on_older"), Severity.RULE, issue)
    assert one.sentence == (
        "Amaru Tendelle: issue 1 was signed off by Tamsin Okoro-Vale on 2 Nov 2026, and the record has changed since: "
        "signed on an older record. Look at it again; take it back or sign the next issue."
    )
    signing_off.take_back(c.ledger, c.lead, issue, "A critical error was found.", confirmed_with="pin")
    assert found(c, "signed_off_on_older") == []


def test_signed_off_apart_is_told_until_the_next_issue_takes_the_place_of_both(small_centre: Centre) -> None:
    """Two laptops signed the same student off, and came together."""
    c, issue = _signed_off(small_centre)
    first = next(one for one in c.ledger.events(issue) if one.kind == SignedOff.kind)
    plain = {name: value for name, value in orjson.loads(first.body).items() if name != "sealed"}
    other = new_id()
    assert found(c, "signed_off_apart") == []
    c.ledger.append([draft(c.second, body(SignedOff, **plain | {"sign_off": other}))])
    one = only(found(c, "signed_off_apart"), Severity.RULE, *sorted([issue, other]))
    assert "stand beside each other. Sign the next issue, which takes the place of both" in one.sentence
    assert sign_off(c, reason="Put together.")
    assert found(c, "signed_off_apart") == []


def test_assessor_decides_is_told_where_nobody_else_assessed(small_centre: Centre) -> None:
    c, issue = _signed_off(small_centre)
    one = only(found(c, "assessor_decides"), Severity.LOOK, issue)
    assert one.sentence == (
        "Amaru Tendelle: issue 1 was signed off by Tamsin Okoro-Vale on 2 Nov 2026, who alone assessed 2 required "
        "skills of it: assessor and decider are one person there."
    )


def test_assessor_decides_is_not_told_where_another_saw_it_too(small_centre: Centre) -> None:
    c = course_that_asks(small_centre)
    hold_all(c, by=c.second)
    sign_all(c)
    sign_off(c)
    assert found(c, "assessor_decides") == []


def test_exception_ended_is_told_once_it_counts_no_more(small_centre: Centre) -> None:
    c = course_that_asks(small_centre)
    c.enter("pool-22")
    shown = evidence(c.view(), c.skill(), c.view().standing(c.amaru, c.skill(), LAST_DAY))
    made = propose(c, f"skill:{POOL_SKILL}", shown)
    second(c, made, shown)
    assert found(c, "exception_ended") == []
    c.enter("pool-23", critical_mark())
    one = only(found(c, "exception_ended"), Severity.RULE, made)
    assert one.sentence == (
        "Amaru Tendelle · Close before it leaves the mouth: the exception by Tamsin Okoro-Vale and Bruno Ashkenar "
        "counts no more, over a critical error that nothing has cleared."
    )
    answer = course_findings(c.ledger, c.view(), LAST_DAY)
    shown_one = next(one for one in answer.findings if one.key == f"exception_ended/{made}")
    assert shown_one.evidence[0].words == "Exception for Amaru Tendelle"


def _void(c: Centre, *marks: MarkGiven, second: str | None = None) -> str:
    return trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22), sheets=[(c.lead, SheetContent(marks=marks))], closing=Closing.VOID,
        reason="A boat came over.", second=second,
    )  # fmt: skip


def test_void_over_critical_is_told_also_where_a_second_instructor_agreed(small_centre: Centre) -> None:
    c = small_centre
    _void(c)
    assert found(c, "void_over_critical") == []
    attempt = _void(c, critical_mark(), second=c.second)
    one = only(found(c, "void_over_critical"), Severity.LOOK, attempt)
    assert one.sentence == (
        "Amaru Tendelle · Close before it leaves the mouth, attempt 2, Thu 22 Oct: closed as void by Tamsin Okoro-Vale "
        "over a critical error. Only then take it out of the mouth: open as it leaves the mouth: critical. "
        "A second instructor agreed."
    )
    assert found(c, "no_second_person") == []


def test_no_second_person_is_told_where_a_critical_came_to_light_after_one_alone_had_closed_it_as_void(
    small_centre: Centre,
) -> None:
    c = small_centre
    attempt = _void(c)
    assert found(c, "no_second_person") == []
    amending.amend_marks(
        c.ledger, c.lead, attempt, c.attempt(attempt).sheets[0].id, critical_mark(), "On film.", seen_at(22, 18)
    )
    one = only(found(c, "no_second_person"), Severity.RULE, attempt)
    assert one.sentence.endswith("Nobody else agreed: a second person is missing.")
    assert found(c, "void_over_critical") == []


def test_foreign_setting_says_where_it_was_and_what_the_skill_is_for(small_centre: Centre) -> None:
    c = small_centre
    attempt = c.enter("dry-21", skill=NEGATIVE)
    ground = ground_of(c)
    assert found(ground, "foreign_setting") == []
    (tried,) = ground.tried
    moved = with_attempt(tried, setting="pool")
    assert tried.skill is not None
    judged = judge(moved.one, tried.skill, frozenset())
    one = only(
        found(changed(ground, replace(moved, judged=judged)), "foreign_setting"), Severity.LOOK, attempt
    )  # fmt: skip
    assert one.sentence == (
        "Amaru Tendelle · Negative pressure test, attempt 1, Wed 21 Oct: seen in pool, and the skill is for dry. "
        "It does not count."
    )


def test_session_withdrawn_is_one_finding_with_the_attempts_that_are_kept(small_centre: Centre) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    attempts = [c.enter("pool-22") for _ in range(2)]
    ground = ground_of(c)
    assert found(ground, "session_withdrawn") == []
    without_it = replace(ground, sessions={key: one for key, one in ground.sessions.items() if key != pool})
    one = only(found(without_it, "session_withdrawn"), Severity.RULE, pool)
    assert one.sentence == (
        "A session of Thu 22 Oct was withdrawn, and 2 attempts of it are kept: no hours, no ratio and no presence "
        "stand behind them."
    )
    assert evidence_of(one) == {("attempt", attempt) for attempt in attempts}


# --- what the course has to come to ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "short"), [(523, ""), (522, "522 of 523 minutes in water on the loop: short by 1 min")]
)
def test_hours_short_is_told_to_the_minute_from_the_last_day_on(small_centre: Centre, minutes: int, short: str) -> None:
    c = small_centre
    for session, loop in (("pool-22", 300), ("pool-23", minutes - 300)):
        in_water(c, c.sessions[session], c.amaru, loop)
    own = [one for one in found(c, "hours_short") if one.about == (c.amaru, "in_water_on_loop")]
    assert [one.sentence for one in own] == ([f"Amaru Tendelle: {short}."] if short else [])
    assert all(evidence_of(one) >= {("person", c.amaru), ("session", c.sessions["pool-22"])} for one in own)
    assert found(c, "hours_short", LAST_DAY - timedelta(days=1)) == []


def test_hours_short_is_not_told_of_whoever_left_the_course(small_centre: Centre) -> None:
    c = small_centre
    assert {one.about[0] for one in found(c, "hours_short")} == {c.amaru, c.zoe}
    noting.leave_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-23", why="Ill.")
    assert {one.about[0] for one in found(c, "hours_short")} == {c.zoe}


def test_other_revision_says_what_it_would_add_and_for_whom_from_its_first_day_on(small_centre: Centre) -> None:
    c = small_centre
    in_water(c, c.sessions["pool-22"], c.amaru, 540)
    assert found(c, "other_revision", date(2026, 9, 14)) == []
    assert len(found(c, "other_revision", date(2026, 9, 15))) == 1
    one = only(found(c, "other_revision"), Severity.LOOK, c.course, "r2")
    assert one.sentence == (
        "KW-1026 is on r1; r2, in force since 15 Sep 2026, would add Care after the rescue, and keeping the unit as it "
        "is (rs-after) and ask 33 minutes in water on the loop more: Amaru Tendelle would be short by 16 minutes in "
        "water on the loop instead of 0; Zoë <i>O'Brien-Ünal</i> =1+1 would be short by 556 minutes in water on the "
        "loop instead of 523. It stays on its own until its lead moves it."
    )


def test_signed_on_older_is_told_with_what_was_found_after_signing(small_centre: Centre) -> None:
    c = small_centre
    c.hold()
    decision = sign_as_met(c)
    assert found(c, "signed_on_older") == []
    later = c.enter("open-25", critical_mark())
    one = only(found(c, "signed_on_older"), Severity.RULE, decision)
    assert one.sentence == (
        "Amaru Tendelle · Close before it leaves the mouth: signed by Tamsin Okoro-Vale on 2 Nov 2026 on an older "
        "record. Found after signing: attempt 6 of 25 Oct 2026, critical, was entered."
    )
    assert {("decision", decision), ("attempt", later)} <= evidence_of(one)


# --- readings and oxygen ---------------------------------------------------------------------------------------------


def test_reading_against_tick_is_told_with_the_units_own_reading(small_centre: Centre) -> None:
    read(small_centre, ReadingKind.NEGATIVE, {**LEAK, "start": "-40", "end": "-20"}, at=seen_at(21, 13, 50))
    attempt = small_centre.enter("dry-21", skill="chk-negative")
    (finding,) = found(small_centre, "reading_against_tick")
    assert finding.severity == Severity.DANGER
    assert "ticked done by Tamsin Okoro-Vale, and the unit was read at 13:50." in finding.sentence
    assert "A leak: more than the manual allows." in finding.sentence
    assert ("attempt", attempt) in evidence_of(finding)


def test_reading_against_tick_says_nothing_after_a_later_good_reading_or_a_seen_error(small_centre: Centre) -> None:
    c = small_centre
    for minute, end in ((40, "-20"), (50, "-39.9")):
        read(c, ReadingKind.NEGATIVE, {**LEAK, "start": "-40", "end": end}, at=seen_at(21, 13, minute))
    c.enter("dry-21", skill="chk-negative")
    assert told(c, "reading_against_tick") == ""
    read(c, ReadingKind.NEGATIVE, {**LEAK, "start": "-40", "end": "-20"}, at=seen_at(21, 13, 55))
    c.enter("dry-21", an_error("neg-judge", "neg-leak-passed"), skill="chk-negative", student=c.zoe)
    assert [one.about[0] for one in found(c, "reading_against_tick")] == [
        attempt.id for attempt in c.view().attempts if attempt.student == c.amaru
    ]


def that_floods(tried: Tried) -> Tried:
    """The same attempt by a rubric whose errors all tell of a flood; the shipped ones leave that to the centre."""
    assert tried.skill is not None
    figure = Figure(quantity="mouthpiece-oxygen", inputs={"po2": "0.7 bar", "place": "underwater"})
    steps = tuple(
        step.model_copy(update={"errors": tuple(e.model_copy(update={"figure": figure}) for e in step.errors)})
        for step in tried.skill.steps
    )
    return replace(tried, skill=tried.skill.model_copy(update={"steps": steps}))


def test_flood_without_hold_is_told_until_the_unit_is_recorded_as_flooded(small_centre: Centre) -> None:
    c = small_centre
    attempt = c.enter("pool-22", critical_mark())
    ground = ground_of(c)
    (finding,) = found(changed(ground, *map(that_floods, ground.tried)), "flood_without_hold")
    assert finding.severity == Severity.DANGER
    assert "“Open as it leaves the mouth” lets water into the loop, and A-05 did not go on hold" in finding.sentence
    assert evidence_of(finding) == {("attempt", attempt), ("unit", c.unit_a)}
    unit_care.flooded(c.ledger, c.lead, c.unit_a, seen_at(22, 15))
    ground = ground_of(c)
    assert told(changed(ground, *map(that_floods, ground.tried)), "flood_without_hold") == ""


def test_flood_without_hold_says_nothing_of_a_clean_attempt_a_dry_one_or_an_error_that_lets_no_water_in(
    small_centre: Centre,
) -> None:
    c = small_centre
    c.enter("pool-22")
    c.enter("pool-23", critical_mark())
    ground = ground_of(c)
    assert told(ground, "flood_without_hold") == ""
    clean, wet = ground.tried
    dry = with_attempt(that_floods(wet), setting="dry")
    assert told(changed(ground, that_floods(clean), dry), "flood_without_hold") == ""
    assert told(changed(ground, that_floods(wet)), "flood_without_hold") != ""


def with_oxygen(c: Centre, **limits: int) -> Ground:
    """The ground under requirements with limits of their own; the shipped ones hold none."""
    ground = ground_of(c)
    rule = OxygenRule(assumed_set_point_bar="1.3", **limits)
    return replace(ground, profile=ground.profile.model_copy(update={"oxygen": rule}))


def test_oxygen_over_is_told_of_students_and_staff_with_the_limit_and_what_was_assumed(small_centre: Centre) -> None:
    """130 and 130 min at 1.3 bar, the 1.3 ata line: 2 x 100 x 130 / 210 = 123.81 %, in the 24 h row of the table."""
    c = small_centre
    for person in (c.amaru, c.second):
        for _ in range(2):
            in_water(c, c.sessions["open-24"], person, loop=130)
    one, other = found(with_oxygen(c, cns_percent_24h=80), "oxygen_over")
    assert {one.about[0], other.about[0]} == {c.amaru, c.second}
    assert one.about[1] == "2026-10-24"
    assert "123.9 % of the 24 h limit, 80 % asked at most" in one.sentence
    assert "260 min at an assumed set point" in one.sentence


def test_oxygen_over_tells_what_was_held_where_it_changed(small_centre: Centre) -> None:
    c = small_centre
    session = c.sessions["pool-22"]
    in_water(c, session, c.amaru, loop=150, entered=seen_at(22, 13, 30), left=seen_at(22, 16))
    note_set_point(c.ledger, c.lead, session, "0.7", seen_at(22, 17))
    note_set_point(c.ledger, c.lead, session, "1.3", seen_at(22, 17), since=From(seen_at(22, 14), 4))
    (one,) = found(with_oxygen(c, cns_percent_24h=50), "oxygen_over")
    held = "0.7 bar at first, to 1.3 bar within 4 min from 14:00"
    assert one.sentence.endswith(f"50 % asked at most; held: {held}.")
    assert held in one.figures


def test_oxygen_over_says_nothing_within_the_limit_or_where_the_requirements_have_none(small_centre: Centre) -> None:
    """130 min at 1.283 ata: 130 x 1.566^(5/6) = 188.9 OTU, own arithmetic."""
    c = small_centre
    in_water(c, c.sessions["open-24"], c.amaru, loop=130)
    assert told(with_oxygen(c, cns_percent_24h=80, otu_24h=189), "oxygen_over") == ""
    assert "189.0 OTU, 188 OTU asked at most" in told(with_oxygen(c, otu_24h=188), "oxygen_over")
    assert told(c, "oxygen_over") == ""
