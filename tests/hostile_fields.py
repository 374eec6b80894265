"""Every text that people fill, each by the act that takes it: what goes before, then the act with a text.

The centre is the small one; `READY` makes what an act needs and returns it waiting for its text.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

from arrival_examples import POOL_ITEM, Elsewhere, other_centre, shown
from centre_builder import (
    LAST_DAY,
    POOL_SKILL,
    Centre,
    critical_mark,
    seen_at,
    sheet_of,
    shipped_standards,
    tap,
)
from day_builder import FAULT, POOL_DAY, Day
from sign_off_examples import course_that_asks, hold_all, propose, second, sign_all, sign_off
from test_standards_editing import save, with_rule

from course.actions import (
    accounts,
    amending,
    arrivals,
    attempts,
    courses,
    day,
    exceptions,
    faults,
    incident,
    keys,
    privacy,
    readings,
    set_points,
    settling,
    signing,
    signing_pins,
    slates,
    times,
)  # fmt: skip
from course.actions import centre as founding
from course.actions import gate_papers as noting
from course.actions import sign_off as signing_off
from course.actions import standards as adopting
from course.actions import unit_care as caring
from course.actions.attempts import SheetContent
from course.actions.findings import answer_finding
from course.actions.pad import take
from course.actions.times import WaterRow
from course.answers.decisions import to_sign
from course.answers.exceptions import counted_hash
from course.answers.findings import course_findings
from course.answers.missing import student_counts
from course.errors import RefusedError
from course.record.events import MarkGiven
from course.record.facts import Session
from course.screens.set_point_parts import read_since
from course.words import (
    Authority,
    Care,
    Closing,
    DecisionKind,
    Mark,
    Office,
    ReadingKind,
    Role,
    SlipAnswer,
    SlipKind,
    SpanRole,
)  # fmt: skip

Act = Callable[[str], object]
Ready = Callable[[Centre], Act]
POOL = "pool-22"
DAYS_RULE = "count:training_days"
PASSWORD = "seven grey seals dive"  # noqa: S105
OTHER = MarkGiven(step="co-hand", mark=Mark.ERROR, errors=("x",))


def first_event(c: Centre, subject: str) -> str:
    """The id of the event that made a thing."""
    return next(c.ledger.events(subject)).id


# --- the centre, its people and units -----------------------------------------------------------------------------


def key_reason(c: Centre) -> Act:
    keys.make_key(c.ledger, c.lead)
    return lambda text: keys.replace_key(c.ledger, c.lead, lost=False, reason=text)


def centre_name(c: Centre) -> Act:
    return lambda text: _new_centre(c, text, "Tamsin Okoro-Vale")


def lead_name(c: Centre) -> Act:
    return lambda text: _new_centre(c, "Kelpwater", text)


def _new_centre(c: Centre, name: str, lead: str) -> Path:
    """Another centre beside the first; refused, it leaves no folder behind that holds a ledger."""
    folder = Path(c.ledger.folder).parent / "another"
    try:
        founding.make_centre(folder, name=name, lead_name=lead).close()
    except RefusedError:
        assert not list(folder.rglob("ledger.db"))
        raise
    return folder


def person(field: str) -> Ready:
    plain = {"name": "Ravi Soltmere", "roles": [Role.STUDENT]}
    return lambda c: lambda text: founding.add_person(c.ledger, c.lead, **(plain | {field: text}))


def unit(field: str) -> Ready:
    plain = {"label": "C-07", "unit_type": "type-a"}
    return lambda c: lambda text: founding.add_unit(c.ledger, c.lead, **(plain | {field: text}))


def course_title(c: Centre) -> Act:
    return lambda text: courses.make_course(
        c.ledger, c.lead, title=text, zone="UTC", adoption=c.adoption, profile="ex-first-unit", revision="r1",
        first_day="2026-11-01", last_day="2026-11-05",
    )  # fmt: skip


def move_why(c: Centre) -> Act:
    adoption = save(c, with_rule(in_a_row=6))
    shown = c.view().course.unreplaced
    return lambda text: adopting.move_course(
        c.ledger, c.lead, c.course, adoption=adoption, profile="ex-first-unit", revision="r1", why=text,
        shown_from=shown,
    )  # fmt: skip


def session(field: str) -> Ready:
    def ready(c: Centre) -> Act:
        plain: dict[str, Any] = {
            "course": c.course, "title": "Pool 9", "setting": "pool", "start": seen_at(23, 17), "end": seen_at(23, 19),
        }  # fmt: skip
        return lambda text: courses.plan_session(c.ledger, c.lead, **(plain | {field: text}))

    return ready


def group_name(c: Centre) -> Act:
    return lambda text: courses.make_group(
        c.ledger, c.lead, c.sessions[POOL], name=text, staff=[c.lead], students=[c.amaru]
    )


def sign_in(c: Centre) -> Act:
    return lambda text: accounts.make_account(c.ledger, c.lead, c.lead, name=text, password=PASSWORD)


def office_holder(c: Centre) -> Act:
    accounts.make_account(c.ledger, c.lead, c.lead, name="lead", password=PASSWORD)
    return lambda text: accounts.enter_for_office(
        c.ledger, c.lead, shown_as=text, name="office", password=PASSWORD, offices=[Office.AUDITOR]
    )


# --- attempts -----------------------------------------------------------------------------------------------------


def elsewhere(c: Centre) -> Act:
    return lambda text: c.enter(POOL, elsewhere=text)


def elsewhere_why(c: Centre) -> Act:
    attempt = c.enter(POOL, elsewhere="Far House")
    return lambda text: settling.answer_elsewhere(c.ledger, c.lead, attempt, text, accepted=True)


def slate_note(c: Centre) -> Act:
    """What an error was that no letter stands for, on an attempt entered whole."""
    sheet = sheet_of(c.skill(), OTHER)

    def act(text: str) -> object:
        content = SheetContent(marks=sheet.marks, values=sheet.values, notes={OTHER.step: text})
        return attempts.enter_attempt(
            c.ledger, c.lead, course=c.course, session=c.sessions[POOL], student=c.amaru, skill=POOL_SKILL,
            observed=seen_at(22), sheets=[(c.lead, content)],
        )  # fmt: skip

    return act


def pad_note(c: Centre) -> Act:
    opened = c.open()
    return _tapped(
        c, opened, "marks_given/1",
        lambda text: {"marks": [OTHER.model_dump(mode="json")], "notes": {OTHER.step: text}},
    )  # fmt: skip


def pad_reason(c: Centre) -> Act:
    return _tapped(c, c.open(), "attempt_closed/1", lambda text: {"how": "void", "reason": text})


def pad_undo(c: Centre) -> Act:
    opened = c.open()
    made = tap(c, opened, "marks_given/1", {"marks": [{"step": "co-hand", "mark": "done"}]})
    assert not take(c.ledger, [made]).refused
    return _tapped(c, opened, "withdrawn/1", lambda text: {"withdraws": made["id"], "why": text})


def _tapped(c: Centre, opened: Any, kind: str, content: Callable[[str], dict[str, Any]]) -> Act:
    def act(text: str) -> None:
        answer = take(c.ledger, [tap(c, opened, kind, content(text))])
        if answer.refused:
            raise RefusedError(answer.refused[0][1])

    return act


def void_reason(c: Centre) -> Act:
    return lambda text: c.enter(POOL, closing=Closing.VOID, reason=text)


def amended(field: str) -> Ready:
    """A line of a closed attempt, marked anew with its reason; or what an unlisted error was."""

    def ready(c: Centre) -> Act:
        attempt = c.enter(POOL)
        sheet = c.attempt(attempt).sheets[0].id
        plain = {"why": "Misread.", "note": "The strap slipped."}
        return lambda text: amending.amend_marks(
            c.ledger, c.lead, attempt, sheet, OTHER, plain["why"] if field == "note" else text, seen_at(22, 15),
            note=text if field == "note" else plain["note"],
        )  # fmt: skip

    return ready


def reading_aside_why(c: Centre) -> Act:
    """The unit was read outside its bounds; the tick of the step that reads it is to hold."""
    attempt = c.enter("dry-21", skill="chk-positive")
    leak = {
        "start": "30", "end": "10", "temperature": "20", "temperature_end": "20", "allowed": "5", "watched": "120",
        "watch": "60",
    }  # fmt: skip
    reading = readings.take_reading(c.ledger, c.lead, c.unit_a, ReadingKind.POSITIVE, leak, seen_at(21))
    return lambda text: settling.set_reading_aside(
        c.ledger, c.lead, attempt, "pos-judge", [reading], text, seen_at(21, 16)
    )


def joint_why(c: Centre) -> Act:
    attempt = c.enter(POOL, critical_mark(), others=((c.second, sheet_of(c.skill())),))
    return lambda text: settling.agree_joint_line(
        c.ledger, c.lead, attempt, critical_mark(), [c.lead, c.second], text, seen_at(22, 15)
    )


def join_why(c: Centre) -> Act:
    both = [c.enter(POOL), c.enter(POOL)]
    return lambda text: settling.join_attempts(c.ledger, c.lead, both, text)


def withdraw_why(c: Centre) -> Act:
    event = first_event(c, c.enter(POOL))
    return lambda text: amending.withdraw(c.ledger, c.lead, event, text)


def correct_why(c: Centre) -> Act:
    event = first_event(c, c.amaru)
    return lambda text: amending.correct(
        c.ledger, c.lead, event, text, private_change={"birth_date": "1998-02-04"}
    )  # fmt: skip


def corrected_name(c: Centre) -> Act:
    event = first_event(c, c.amaru)
    return lambda text: amending.correct(c.ledger, c.lead, event, "Misread.", private_change={"name": text})


def move_attempt_why(c: Centre) -> Act:
    attempt = c.enter(POOL)
    return lambda text: amending.move_attempt(c.ledger, c.lead, attempt, c.zoe, text)


def signed_reason(c: Centre) -> Act:
    c.hold()
    shown = next(one for one in to_sign(c.view(), c.amaru, LAST_DAY) if one.skill == POOL_SKILL)
    return lambda text: signing.sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=DecisionKind.STRICTER,
        as_of=LAST_DAY, rests_on=shown.rests_on, reason=text,
    )  # fmt: skip


def confirmed_reason(c: Centre) -> Act:
    c.hold()
    shown = next(one for one in to_sign(c.view(), c.amaru, LAST_DAY) if one.skill == POOL_SKILL)
    return lambda text: signing.sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=DecisionKind.STRICTER,
        as_of=LAST_DAY, rests_on=shown.rests_on, reason=text, confirmed_with="pin",
    )  # fmt: skip


def exception_reason(c: Centre) -> Act:
    shown = day_count(c)
    return lambda text: propose(c, DAYS_RULE, shown, by=c.lead, reason=text)


def seconded_reason(c: Centre) -> Act:
    shown = day_count(c)
    made = propose(c, DAYS_RULE, shown, by=c.second)
    return lambda text: second(c, made, shown, by=c.lead, reason=text)


def day_count(c: Centre) -> str:
    """What an exception to the days of training rests on."""
    days = student_counts(c.view(), c.amaru, LAST_DAY)
    return counted_hash(next(one for one in days if one.kind == "training_days"))


def signed_off(c: Centre) -> tuple[Centre, str]:
    """Amaru, signed off on a course of two skills."""
    made = course_that_asks(c)
    hold_all(made)
    sign_all(made)
    return made, sign_off(made)


def issue_reason(c: Centre) -> Act:
    made, issue = signed_off(c)
    signing_off.take_back(c.ledger, c.second, issue, "Wrong unit.", confirmed_with="pin")
    return lambda text: sign_off(made, by=c.lead, reason=text)


def issue_back_reason(c: Centre) -> Act:
    _, issue = signed_off(c)
    return lambda text: signing_off.take_back(c.ledger, c.lead, issue, text, confirmed_with="pin")


def exception_back_why(c: Centre) -> Act:
    made = propose(c, DAYS_RULE, day_count(c), by=c.lead)
    return lambda text: exceptions.take_back(c.ledger, c.lead, made, text, confirmed_with="pin")


def initials(c: Centre) -> Act:
    _, issue = signed_off(c)
    return lambda text: signing_off.countersign(c.ledger, c.lead, issue, "student", text, confirmed_with="pin")


def given_to(c: Centre) -> Act:
    return lambda text: arrivals.note_consent(
        c.ledger, c.lead, c.course, c.amaru, day="2026-10-25", given_to=text
    )  # fmt: skip


@cache
def from_elsewhere() -> Elsewhere:
    """The other centre, made once."""
    return other_centre(Path(mkdtemp()), shipped_standards())


def arrival_sure(c: Centre) -> Act:
    file = shown(from_elsewhere().remade(student="Amaru de Tendelle"))
    return lambda text: arrivals.note_arrival(
        c.ledger, c.lead, c.course, c.amaru, file, from_elsewhere().keys, text
    )  # fmt: skip


def accepted_reason(c: Centre) -> Act:
    made = from_elsewhere()
    arrival = arrivals.note_arrival(c.ledger, c.lead, c.course, c.amaru, shown(made.signed), made.keys)
    return lambda text: arrivals.accept(
        c.ledger, c.lead, arrival, POOL_ITEM, as_of=LAST_DAY, amount=60, reason=text, confirmed_with="pin"
    )  # fmt: skip


def signing_pin(c: Centre) -> Act:
    return lambda text: signing_pins.choose_signing_pin(c.ledger, c.lead, text, text)


def signing_pin_why(c: Centre) -> Act:
    signing_pins.choose_signing_pin(c.ledger, c.second, "471108", "471108")
    return lambda text: signing_pins.let_go_signing_pin(c.ledger, c.lead, c.second, text)


def finding_reason(c: Centre) -> Act:
    c.enter(POOL)
    one = course_findings(c.ledger, c.view(), LAST_DAY, c.lead).findings[0]
    return lambda text: answer_finding(
        c.ledger, c.lead, course=c.course, finding=one.key, rests_on=one.rests_on, reason=text, as_of=LAST_DAY
    )


# --- the day ------------------------------------------------------------------------------------------------------


def aside_why(c: Centre) -> Act:
    slate = Day(c).sheet()
    return lambda text: slates.set_aside(c.ledger, c.lead, c.sessions[POOL], slate, "lost", text)


def site(field: str) -> Ready:
    plain: dict[str, str | None] = {"emergency": None, "plan": None}
    return lambda c: (
        lambda text: day.plan_site(
            c.ledger,
            c.lead,
            [c.sessions[POOL]],
            **(plain | {field: text}),  # type: ignore[arg-type]
        )
    )


def freeze_note(c: Centre) -> Act:
    return lambda text: incident.freeze(c.ledger, c.assistant, c.sessions[POOL], Day(c).at(15, 6), text)


def incident_note(c: Centre) -> Act:
    which = Day(c).freeze()
    return lambda text: incident.add_note(c.ledger, c.lead, c.sessions[POOL], which, text, Day(c).at(15, 20))


def resume_why(c: Centre) -> Act:
    which = Day(c).freeze()
    return lambda text: incident.resume(c.ledger, c.lead, c.sessions[POOL], which, text, Day(c).at(15, 30))


def reopen_why(c: Centre) -> Act:
    day.close_session(c.ledger, c.lead, c.sessions[POOL], Day(c).at(16, 30))
    return lambda text: day.reopen_session(c.ledger, c.lead, c.sessions[POOL], text, Day(c).at(16, 40))


def close_day_note(c: Centre) -> Act:
    still = Day(c).end().still_open
    return lambda text: day.close_day(c.ledger, c.lead, c.course, POOL_DAY, Day(c).at(17), shown_open=still, note=text)


def close_day_signed_note(c: Centre) -> Act:
    keys.make_key(c.ledger, c.lead)
    return close_day_note(c)


def mend_time_why(c: Centre) -> Act:
    span = Day(c).comes(c.amaru, end=Day(c).at(16))
    return lambda text: times.mend_time(
        c.ledger, c.lead, c.sessions[POOL], span, text, start=Day(c).at(13, 45), end=Day(c).at(16),
        role=SpanRole.STUDENT, group=None,
    )  # fmt: skip


def take_back_time_why(c: Centre) -> Act:
    span = Day(c).comes(c.amaru, end=Day(c).at(16))
    return lambda text: times.take_back_time(c.ledger, c.lead, c.sessions[POOL], span, text)


def _water(c: Centre) -> str:
    Day(c).comes(c.amaru, end=Day(c).at(16))
    times.save_water(c.ledger, c.lead, c.sessions[POOL], [WaterRow(person=c.amaru, loop_minutes=40)])
    fact = c.ledger.fact("session", c.sessions[POOL])
    assert isinstance(fact, Session)
    return fact.water[0].id


def mend_water_why(c: Centre) -> Act:
    water = _water(c)
    row = WaterRow(person=c.amaru, loop_minutes=41, water=water)
    return lambda text: times.save_water(c.ledger, c.lead, c.sessions[POOL], [row], text)


def set_point(field: str) -> Ready:
    """As the page's form reads it: bar, from when on the clock of the place, minutes of the way there."""

    def ready(c: Centre) -> Act:
        fact = c.view().sessions[c.sessions[POOL]]

        def noted(text: str) -> None:
            typed = {"bar": "1.3", "begins": "14:21", "over_minutes": "4"} | {field: text}
            since = read_since(fact, (typed["begins"].strip(), None), typed["over_minutes"])
            set_points.note_set_point(c.ledger, c.lead, fact.id, typed["bar"], seen_at(22, 16), since=since)

        return noted

    return ready


def take_back_set_point_why(c: Centre) -> Act:
    set_point("bar")(c)("1.3")
    (noted,) = c.view().sessions[c.sessions[POOL]].set_points
    return lambda text: set_points.take_back_set_point(c.ledger, c.lead, c.sessions[POOL], noted.event, text)


def take_back_water_why(c: Centre) -> Act:
    water = _water(c)
    return lambda text: times.take_back_water(c.ledger, c.lead, c.sessions[POOL], water, text)


# --- units --------------------------------------------------------------------------------------------------------


def care_note(c: Centre) -> Act:
    return lambda text: caring.record_care(
        c.ledger, c.lead, c.unit_a, Care.SERVICE, seen_at(21), good_until="2027-10-21", note=text
    )


def hold_why(c: Centre) -> Act:
    return lambda text: caring.hold(c.ledger, c.lead, c.unit_a, seen_at(21), text)


def release_why(c: Centre) -> Act:
    held = caring.hold(c.ledger, c.lead, c.unit_a, seen_at(21), "A hose is worn.")
    return lambda text: caring.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, 10), why=text)


def _planted(c: Centre) -> str:
    return faults.set_fault(
        c.ledger, c.lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault=FAULT, unit=c.unit_a,
        observed=seen_at(21, 14), for_whom=[c.amaru],
    )  # fmt: skip


def fault_bag(c: Centre) -> Act:
    return lambda text: faults.set_fault(
        c.ledger, c.lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault=FAULT, unit=c.unit_a,
        observed=seen_at(21, 14), for_whom=[c.amaru], bag=text,
    )  # fmt: skip


def fault_note(c: Centre) -> Act:
    slip = _planted(c)
    return lambda text: faults.answer_fault(
        c.ledger, c.lead, slip, c.amaru, SlipAnswer.HIT, seen_at(21, 14, 5), note=text
    )


def clear_note(c: Centre) -> Act:
    slip = _planted(c)
    return lambda text: faults.clear_fault(c.ledger, c.lead, slip, seen_at(21, 14, 20), text)


def list_why(c: Centre) -> Act:
    faults.clear_fault(c.ledger, c.lead, _planted(c), seen_at(21, 14, 20))
    return lambda text: faults.pass_list_again(c.ledger, c.lead, c.unit_a, seen_at(21, 15), passed_by=c.lead, why=text)


# --- papers -------------------------------------------------------------------------------------------------------


def proof_paper(c: Centre) -> Act:
    return lambda text: noting.note_proof(c.ledger, c.lead, c.course, c.amaru, "pq-waiver", "2026-10-20", paper=text)


def guardian(c: Centre) -> Act:
    born = {"birth_date": "2010-05-05"}
    amending.correct(c.ledger, c.lead, first_event(c, c.amaru), "Misread.", private_change=born)
    return lambda text: noting.note_consent(
        c.ledger, c.lead, c.course, c.amaru, stages=["pool"], day="2026-10-20", guardian=text
    )


def exam(field: str) -> Ready:
    def ready(c: Centre) -> Act:
        def act(text: str) -> object:
            given: dict[str, Any] = {"items": ("Loop volume",), "form": "A"}
            given |= {field: (text,) if field == "items" else text}
            return noting.note_exam(c.ledger, c.lead, c.course, c.amaru, day="2026-10-20", mark="44", of="50", **given)

        return act

    return ready


def gap_note(c: Centre) -> Act:
    taken = noting.note_exam(
        c.ledger, c.lead, c.course, c.amaru, day="2026-10-20", mark="44", of="50", items=["Loop volume"]
    )
    return lambda text: noting.close_gap(c.ledger, c.lead, c.amaru, taken, 1, day="2026-10-21", note=text)


def adjusted(field: str) -> Ready:
    plain = {"how": "Left hand for right.", "waiver": "No. 7"}
    return lambda c: (
        lambda text: noting.approve_adjustment(
            c.ledger, c.lead, c.course, c.amaru, POOL_SKILL, day="2026-10-20", **(plain | {field: text})
        )
    )


def left_why(c: Centre) -> Act:
    return lambda text: noting.leave_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-23", why=text)


def returned_note(c: Centre) -> Act:
    noting.leave_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-23", why="A cold.")
    return lambda text: noting.return_to_course(c.ledger, c.lead, c.course, c.amaru, day="2026-10-24", note=text)


def interest_note(c: Centre) -> Act:
    return lambda text: noting.note_interest(c.ledger, c.lead, c.course, c.second, c.amaru, day="2026-10-20", note=text)


# --- personal data and readings -----------------------------------------------------------------------------------


def erased(field: str) -> Ready:
    plain = {"reason": "They asked for it.", "despite": "They insist on it."}
    return lambda c: (
        lambda text: privacy.erase_person(
            c.ledger, c.lead, c.zoe, authority=Authority.PERSON, **(plain | {field: text})
        )
    )


def retention_note(c: Centre) -> Act:
    return lambda text: privacy.set_retention(
        c.ledger, c.lead, student_days=400, staff_days=None, incident_days=None, note=text
    )


def reading_note(c: Centre) -> Act:
    plain = {"mv_air": "10.4", "humidity": "0.5", "temperature": "20", "least": "8", "most": "13"}
    return lambda text: readings.take_reading(
        c.ledger, c.lead, c.unit_a, ReadingKind.CELL_AIR, plain, seen_at(21), cell=1, note=text
    )


def flood_note(c: Centre) -> Act:
    return lambda text: caring.flooded(c.ledger, c.lead, c.unit_a, seen_at(21), text)


def cells_note(c: Centre) -> Act:
    around = {"mv_air": "10.4 - 10.2", "humidity": "0.5", "temperature": "20", "least": "8", "most": "13"}
    return lambda text: readings.take_readings(
        c.ledger, c.lead, c.unit_a, ReadingKind.CELL_AIR, around, seen_at(21), note=text
    )


def cells_typed(c: Centre) -> Act:
    around = {"humidity": "0.5", "temperature": "20", "least": "8", "most": "13"}
    return lambda text: readings.take_readings(
        c.ledger, c.lead, c.unit_a, ReadingKind.CELL_AIR, {"mv_air": text, **around}, seen_at(21)
    )


READY: dict[str, Ready] = {
    "CentreMade.name": centre_name,
    "PersonAdded.name": person("name"),
    "PersonAdded.name (lead)": lead_name,
    "PersonAdded.contact": person("contact"),
    "PersonAdded.note": person("note"),
    "UnitAdded.label": unit("label"),
    "UnitAdded.serial": unit("serial"),
    "CourseMade.title": course_title,
    "CourseStandardsMoved.why": move_why,
    "SessionPlanned.title": session("title"),
    "SessionPlanned.place": session("place"),
    "GroupMade.name": group_name,
    "AttemptOpened.elsewhere": elsewhere,
    "ElsewhereAnswered.why": elsewhere_why,
    "MarksGiven.notes": slate_note,
    "MarksGiven.notes (pad)": pad_note,
    "MarksGiven.notes (amended)": amended("note"),
    "MarksGiven.why": amended("why"),
    "AttemptClosed.reason": void_reason,
    "AttemptClosed.reason (pad)": pad_reason,
    "AttemptsJoined.why": join_why,
    "JointLineAgreed.why": joint_why,
    "ReadingSetAside.why": reading_aside_why,
    "Withdrawn.why": withdraw_why,
    "WithdrawnConfirmed.why": exception_back_why,
    "Withdrawn.why (pad)": pad_undo,
    "Withdrawn.why (time)": take_back_time_why,
    "Withdrawn.why (water)": take_back_water_why,
    "Withdrawn.why (set point)": take_back_set_point_why,
    "SetPointReached.bar": set_point("bar"),
    "SetPointReached.begins": set_point("begins"),
    "SetPointReached.over_minutes": set_point("over_minutes"),
    "Corrected.why": correct_why,
    "Corrected.why (attempt)": move_attempt_why,
    "Corrected.why (time)": mend_time_why,
    "Corrected.why (water)": mend_water_why,
    "Corrected.private_change": corrected_name,
    "Signed.reason": signed_reason,
    "SignedConfirmed.reason": confirmed_reason,
    "ExceptionProposed.reason": exception_reason,
    "ExceptionSeconded.reason": seconded_reason,
    "SignedOff.reason": issue_reason,
    "SignOffWithdrawn.reason": issue_back_reason,
    "SignOffCountersigned.initials": initials,
    "TransferAgreed.given_to": given_to,
    "ArrivedFromElsewhere.sure": arrival_sure,
    "ElsewhereAccepted.reason": accepted_reason,
    "SigningPinSet.pin_hash": signing_pin,
    "SigningPinLetGo.why": signing_pin_why,
    "FindingAnswered.reason": finding_reason,
    "SlateSetAside.why": aside_why,
    "CentreKeyReplaced.reason": key_reason,
    "SitePlanned.emergency": site("emergency"),
    "SitePlanned.plan": site("plan"),
    "SessionFrozen.note": freeze_note,
    "IncidentNoted.note": incident_note,
    "SessionResumed.why": resume_why,
    "SessionReopened.why": reopen_why,
    "CheckpointMade.note": close_day_note,
    "CheckpointSigned.note": close_day_signed_note,
    "UnitCared.note": care_note,
    "UnitHeld.why": hold_why,
    "UnitReleased.why": release_why,
    "UnitReleased.why (list)": list_why,
    "FaultSet.bag": fault_bag,
    "FaultAnswered.note": fault_note,
    "FaultCleared.note": clear_note,
    "ProofSeen.paper": proof_paper,
    "ConsentGiven.guardian": guardian,
    "ExamTaken.items": exam("items"),
    "ExamTaken.form": exam("form"),
    "GapClosed.note": gap_note,
    "AdjustmentApproved.how": adjusted("how"),
    "AdjustmentApproved.waiver": adjusted("waiver"),
    "LeftCourse.why": left_why,
    "Returned.note": returned_note,
    "InterestNoted.note": interest_note,
    "PersonErased.reason": erased("reason"),
    "PersonErased.despite": erased("despite"),
    "RetentionSet.note": retention_note,
    "ReadingTaken.note": reading_note,
    "AccountMade.sign_in": sign_in,
    "PersonAddedForOffice.name": office_holder,
    "ReadingTaken.note (several cells)": cells_note,
    "ReadingTaken.amounts (several cells)": cells_typed,
    "UnitHeld.why (flooded)": flood_note,
}
NOBODY_FILLS = {
    "CheckOutRecorded.note", "AttemptOpened.note", "DeviceAccepted.note", "ArrivedFromElsewhere.centre_name",
    "PersonAddedForOffice.contact", "PersonAddedForOffice.note",
}  # fmt: skip
"""Fields that no act of this program fills, or that another centre's file does, which is read strictly."""
