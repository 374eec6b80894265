"""Readings of a unit: kept with all that judges them, drawn with their bounds, the value of a step, against a tick."""

from __future__ import annotations

from typing import Any

import pytest
from centre_builder import LAST_DAY, Centre, seen_at, tap
from finding_examples import set_clock
from opened_page import app_at
from streamlit.testing.v1 import AppTest
from test_actions import refused

from course.actions import amending
from course.actions.attempts import close_draft
from course.actions.courses import plan_session
from course.actions.pad import take
from course.actions.readings import ForStep, readings_now, take_reading
from course.actions.settling import set_reading_aside
from course.actions.signing import sign
from course.actions.unit_care import record_care
from course.answers.amendable import amendable
from course.answers.decisions import decision_detail, evidence
from course.answers.pad import pad, state_now
from course.answers.practice import student_practice
from course.answers.skill_detail import skill_detail
from course.answers.unit_readings import UnitReadings, steps_for_reading, unit_readings
from course.answers.units import units_answer
from course.assessment.unit_readings import HOW, fields
from course.physics.registry import REGISTRY
from course.record.events import Draft, MarkGiven
from course.record.facts import Unit
from course.screens import serve
from course.screens.amend_forms import ASIDE
from course.words import Care, Closing, DecisionKind, Mark, Outcome, ReadingKind

CELLS = "chk-cells"
AIR = {"mv_air": "10.4", "humidity": "0.5", "temperature": "20", "least": "8", "most": "13"}
GAS = {"mv_air": "10", "mv_gas": "40", "gas_oxygen": "1", "pressure": "1.01325", "humidity": "0", "temperature": "20"}
HIGH = {"mv_calibration": "48", "po2_calibration": "1.0", "mv_check": "60", "po2_check": "1.6", "set_point": "1.3"}
LEAK = {
    "start": "30", "end": "10", "temperature": "20", "temperature_end": "20", "allowed": "5", "watched": "120",
    "watch": "60",
}  # fmt: skip


@pytest.fixture(autouse=True)
def _after_the_course(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch)


def read(c: Centre, what: ReadingKind, amounts: dict[str, str], day: int = 22, **more: Any) -> str:
    actor = more.pop("by", c.lead)
    return take_reading(
        c.ledger, actor, more.pop("unit", c.unit_a), what, amounts, more.pop("at", seen_at(day)), **more
    )


def history(c: Centre) -> UnitReadings:
    return unit_readings(c.ledger, c.view(), c.unit_a)


def unit_of(c: Centre) -> Unit:
    fact = c.ledger.fact("unit", c.unit_a)
    assert isinstance(fact, Unit)
    return fact


# --- what a reading says ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "amounts", "said", "outside"),
    [
        # 10.4 mV x 1.01325 / (1.01325 - 0.5 x 0.02339) = 10.52, vapour at 20 degC: 2.339 kPa (tables)
        (ReadingKind.CELL_AIR, AIR, "10.52 mV as in dry air at 1.01325 bar, within the manual's 8 to 13", False),
        # at 2000 m 10 mV at sea level read 7.85: the manual's band is one for sea level (own arithmetic)
        (
            ReadingKind.CELL_AIR,
            {**AIR, "mv_air": "7.85", "humidity": "0", "altitude": "2000"},
            "within the manual's 8 to 13 mV",
            False,
        ),
        (ReadingKind.CELL_AIR, {**AIR, "mv_air": "7.4"}, "outside the manual's 8 to 13 mV", True),
        # dry: 4.773 x 10 = 47.7 mV in pure oxygen; 40 are 0.838 of it
        (
            ReadingKind.CELL_GAS,
            GAS,
            "0.838 of what a straight cell shows. Outside 0.95 to 1.05",
            True,
        ),
        (
            ReadingKind.CELL_HIGH,
            HIGH,  # 60 / 76.8
            "0.781 of what a straight cell shows. Below 0.95",
            True,
        ),
        # 0.21 x (2.5 + 0.01325 - 0.0628) = 0.515 bar of diluent; a fifth of the loop's 1.2 left over: 0.652
        (
            ReadingKind.FLUSH,
            {"po2": "1.2", "diluent_oxygen": "0.21", "depth": "15", "shown": "0.90"},
            "0.90 bar shown, 0.51 to 0.65 bar expected. Cell, gas or flush is not what it was taken for.",
            True,
        ),
        (
            ReadingKind.FLUSH,
            {"po2": "1.2", "diluent_oxygen": "0.21", "depth": "15", "shown": "0.55"},
            "As it should.",
            False,
        ),
        (ReadingKind.POSITIVE, LEAK, "A leak: more than the manual allows.", True),
        (ReadingKind.POSITIVE, {**LEAK, "end": "29", "allowed": "10"}, "No more than the manual allows.", False),
        # 10 K warmer are 34 mbar (ideal gas law): a rise of 14 hides a loss of 20
        (ReadingKind.POSITIVE, {**LEAK, "end": "44", "temperature_end": "30"}, "A leak: more than the manual", True),
        (ReadingKind.POSITIVE, {**LEAK, "end": "25"}, "Cannot tell", None),
        (ReadingKind.NEGATIVE, {**LEAK, "start": "-40", "end": "-20"}, "A leak: more than the manual allows.", True),
    ],
)  # fmt: skip
def test_a_reading_says_what_it_is_worth(
    small_centre: Centre, what: ReadingKind, amounts: dict[str, str], said: str, *, outside: bool | None
) -> None:
    read(small_centre, what, amounts)
    (line,) = history(small_centre).lines
    assert said in line.sentence
    assert line.outside is outside


@pytest.mark.parametrize("what", ReadingKind)
def test_every_kind_has_a_quantity_and_fields_with_units_and_no_band(what: ReadingKind) -> None:
    assert HOW[what].quantity in REGISTRY
    assert HOW[what].shown in {one.key for one in fields(what)}
    assert not any(one.banded for one in fields(what))


def test_without_the_manuals_bounds_nobody_says_that_a_cell_is_inside(small_centre: Centre) -> None:
    read(small_centre, ReadingKind.CELL_AIR, {"mv_air": "10", "humidity": "0", "temperature": "20"})
    (line,) = history(small_centre).lines
    assert "The manual's bounds were not written down." in line.sentence
    assert line.outside is None


def test_a_reading_can_be_looked_at_before_it_is_kept(small_centre: Centre) -> None:
    before = small_centre.count()
    (told_now,) = readings_now(unit_of(small_centre), ReadingKind.POSITIVE, LEAK, seen_at(22))
    assert "A leak" in told_now
    assert small_centre.count() == before


# --- kept ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("what", "amounts", "said"),
    [
        (ReadingKind.CELL_AIR, {"mv_air": "10"}, "Humidity (relative, of the air at the cell, 0 to 1) is missing."),
        (ReadingKind.CELL_AIR, {**AIR, "mv_air": "ten"}, "'ten' is no plain decimal number such as 10.4."),
        (ReadingKind.CELL_AIR, {**AIR, "humidity": "50"}, "50 is outside of 0 to 1."),
        (ReadingKind.CELL_AIR, {**AIR, "depth": "5"}, "A cell in air has no depth."),
    ],
)
def test_what_cannot_be_a_reading_is_refused(
    small_centre: Centre, what: ReadingKind, amounts: dict[str, str], said: str
) -> None:
    assert said in refused(small_centre, lambda c: read(c, what, amounts))


@pytest.mark.parametrize("by", ["assistant", "candidate"])
def test_whoever_may_hold_a_sheet_may_read_a_unit(small_centre: Centre, by: str) -> None:
    read(small_centre, ReadingKind.CELL_AIR, AIR, by=getattr(small_centre, by))
    assert len(history(small_centre).lines) == 1


def test_a_student_writes_no_reading(small_centre: Centre) -> None:
    assert "look after units" in refused(small_centre, lambda c: read(c, ReadingKind.CELL_AIR, AIR, by=c.amaru))


def test_the_history_is_newest_first_with_who_and_the_numbers_and_a_picture_with_bounds(small_centre: Centre) -> None:
    read(small_centre, ReadingKind.CELL_AIR, AIR, cell=2, note="After the wash.")
    read(small_centre, ReadingKind.CELL_AIR, {**AIR, "mv_air": "7"}, day=23, cell=2)
    found_here = history(small_centre)
    assert found_here.lines[0].sentence.startswith("Fri 23 Oct 14:00, Tamsin Okoro-Vale. Cell 2 in air: 7 mV")
    assert found_here.lines[1].sentence.endswith("After the wash.")
    assert "With humidity 0.5, temperature 20 °C." in found_here.lines[1].sentence
    assert "cell 2 in air is outside the bounds at the last reading. Think of a hold." in found_here.sentence
    assert units_answer(small_centre.ledger, small_centre.view()).findings == (
        "A-05: cell 2 in air was outside its bounds at the last reading, Fri 23 Oct 14:00. Think of a hold.",
    )
    (picture,) = found_here.pictures
    assert [(p.cell, p.outside, p.least, p.most) for p in picture.points] == [
        ("cell 2", False, 8, 13), ("cell 2", True, 8, 13)
    ]  # fmt: skip
    assert "Too few readings to say" in found_here.drift[0]
    (grounds,) = found_here.grounds
    quantity = REGISTRY[HOW[ReadingKind.CELL_AIR].quantity]
    for part in ("Cell in air: valid ", quantity.validity, quantity.source, *quantity.cautions):
        assert part in grounds


def test_drift_is_told_over_the_units_history(small_centre: Centre) -> None:
    """10.0, 9.5, 9.0 mV at 15 days from each other: -10 % in 30 days of the 10.0 at the start (own arithmetic)."""
    dry = {"humidity": "0", "temperature": "20"}
    for day, mv in ((1, "10.0"), (16, "9.5"), (31, "9.0")):
        read(small_centre, ReadingKind.CELL_AIR, {"mv_air": mv, **dry}, day=day, cell=1)
    assert history(small_centre).drift[0].startswith("Cell 1 moves by -10.0 % in 30 days, over 3 readings in air.")


def test_the_age_of_the_cells_is_told_at_the_last_reading_in_air(small_centre: Centre) -> None:
    c = small_centre
    read(c, ReadingKind.CELL_AIR, AIR, day=22)
    assert history(c).age == ""
    record_care(c.ledger, c.lead, c.unit_a, Care.CELLS, seen_at(12), good_until="2027-10-12")
    assert history(c).age.startswith("New cells went in on 12 Oct 2026, 10 days before the last reading in air.")


def test_a_withdrawn_reading_is_out_of_the_history_and_stays_in_the_ledger(small_centre: Centre) -> None:
    read(small_centre, ReadingKind.POSITIVE, LEAK)
    (line,) = history(small_centre).lines
    amending.withdraw(small_centre.ledger, small_centre.lead, line.event, "Read of another unit.")
    assert history(small_centre).lines == ()
    assert small_centre.ledger.event(line.event) is not None


# --- the value of a step ---------------------------------------------------------------------------------------------


def opened(c: Centre) -> Any:
    return c.open("dry-21", skill=CELLS)


def test_a_reading_is_the_value_of_a_step_and_beats_its_tick(small_centre: Centre) -> None:
    c = small_centre
    at = opened(c)
    (step,) = steps_for_reading(c.view(), c.unit_a, c.lead, ReadingKind.CELL_AIR)
    assert (step.attempt, step.sheet, step.step) == (at.attempt, at.sheet, "cell-air")
    marks = [{"step": s.id, "mark": "done"} for s in c.skill(CELLS).steps]

    taken = take(c.ledger, [tap(c, at, "marks_given/1", {"marks": marks})])
    assert not taken.refused
    read(
        c, ReadingKind.CELL_AIR, {**AIR, "mv_air": "7.4"}, at=seen_at(21),
        for_step=ForStep(at.attempt, at.sheet, "cell-air"),
    )  # fmt: skip
    (value,) = c.attempt(at.attempt).sheets[0].values
    assert (value.step, value.value, value.unit) == ("cell-air", "7.4", "mV")
    assert not take(c.ledger, [tap(c, at, "attempt_closed/1", {"how": Closing.COMPLETED.value})]).refused
    detail = skill_detail(c.ledger, c.view(), c.amaru, CELLS, LAST_DAY)
    (attempt,) = detail.attempts
    assert attempt.outcome == "minor"
    assert any("7.4 mV of 8 mV, at least 8 mV asked" in reason for reason in attempt.reasons)


def test_the_pad_tells_at_the_step_what_was_read_of_the_unit_that_day(small_centre: Centre) -> None:
    c = small_centre
    at = opened(c)

    def told() -> dict[str, str]:
        read_at: dict[str, str] = pad(c.ledger, at.attempt, at.sheet)["read"]
        return read_at

    read(c, ReadingKind.CELL_AIR, {**AIR, "mv_air": "7"}, at=seen_at(20), cell=2)  # the day before
    assert told() == {}
    read(c, ReadingKind.CELL_AIR, AIR, at=seen_at(21), cell=1)
    read(c, ReadingKind.CELL_AIR, AIR, at=seen_at(21), cell=2)
    assert told() == {"cell-air": "2 readings of this unit by 14:00, none outside its bounds."}
    read(c, ReadingKind.CELL_AIR, {**AIR, "mv_air": "7"}, at=seen_at(21, 15), cell=2)
    assert told()["cell-air"].startswith("▌ Read at 15:00, outside: Cell 2 in air: 7 mV")


def test_a_pad_that_is_open_is_told_of_a_reading_by_its_next_pulse(small_centre: Centre) -> None:
    """The pulse asks for the state by its version: a reading makes another one, and a reading of another day none."""
    c = small_centre
    at = opened(c)

    def state() -> Any:
        return state_now(c.ledger, at.attempt, at.sheet, c.lead)

    before = state()
    read(c, ReadingKind.CELL_AIR, {**AIR, "mv_air": "7"}, at=seen_at(20), cell=2)
    assert state() == before
    read(c, ReadingKind.CELL_AIR, {**AIR, "mv_air": "7"}, at=seen_at(21, 15), cell=2)
    assert state()["version"] != before["version"]
    assert state()["read"]["cell-air"].startswith("▌ Read at 15:00, outside: Cell 2 in air: 7 mV")


def test_the_pads_tray_has_an_errors_numbers_where_its_rubric_names_a_figure(small_centre: Centre) -> None:
    c = small_centre
    at = c.open("pool-22", skill="mp-close-out")
    errors = {e["id"]: e["numbers"] for s in pad(c.ledger, at.attempt, at.sheet)["steps"] for e in s["errors"]}
    numbers = [told for told in errors.values() if told]
    assert len(numbers) == 1
    assert "as narcotic as air at" in numbers[0]


def test_a_time_is_written_in_the_unit_that_the_step_asks_for(small_centre: Centre) -> None:
    at = small_centre.open("dry-21", skill="chk-negative")
    amounts = {**LEAK, "start": "-40", "end": "-39", "watched": "45"}
    where = ForStep(at.attempt, at.sheet, "neg-mark")
    read(small_centre, ReadingKind.NEGATIVE, amounts, at=seen_at(21), for_step=where)
    (value,) = small_centre.attempt(at.attempt).sheets[0].values
    assert (value.value, value.unit) == ("45", "s")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"by": "second"}, "Only its observer writes a value on a sheet."),
        ({"unit": "unit_b"}, "This attempt is not on"),
        ({"step": "cell-cal"}, "This step does not ask for a cell in air."),
    ],
)
def test_a_value_goes_only_where_it_belongs_and_else_nothing_is_kept(
    small_centre: Centre, change: dict[str, str], said: str
) -> None:
    c, at = small_centre, opened(small_centre)
    more = {key: getattr(c, name) for key, name in change.items() if key != "step"}
    step = ForStep(at.attempt, at.sheet, change.get("step", "cell-air"))
    assert said in refused(c, lambda _: read(c, ReadingKind.CELL_AIR, AIR, at=seen_at(21), for_step=step, **more))


# --- a reading overrules a tick --------------------------------------------------------------------------------------

BELOW = {**AIR, "mv_air": "7.4"}
INSIDE = AIR


def judged_as(c: Centre) -> tuple[str, tuple[str, ...]]:
    """The outcome of the one attempt at the cells, and its reasons."""
    (attempt,) = skill_detail(c.ledger, c.view(), c.amaru, CELLS, LAST_DAY).attempts
    return attempt.outcome, attempt.reasons


def ticked(c: Centre, skill: str = CELLS) -> str:
    """An attempt at the cells with every step ticked, entered as seen at 14:00 on 21 Oct."""
    return c.enter("dry-21", skill=skill, observed=seen_at(21))


@pytest.mark.parametrize(
    ("times", "holds"),
    [
        ([("BELOW", 11, 59)], True),  # more than two hours before it began
        ([("BELOW", 12, 0)], False),
        ([("BELOW", 14, 0)], False),
        ([("BELOW", 14, 1)], True),  # after its end
        ([("BELOW", 13, 0), ("INSIDE", 13, 50)], True),  # mended and read again
        ([("INSIDE", 13, 0), ("BELOW", 13, 50)], False),
    ],
)
def test_a_reading_outside_just_before_or_during_an_attempt_overrules_its_tick_by_itself(
    small_centre: Centre, times: list[tuple[str, int, int]], *, holds: bool
) -> None:
    c = small_centre
    attempt = ticked(c)
    assert c.view().standing(c.amaru, c.skill(CELLS), LAST_DAY).history[0].judgement.outcome == Outcome.CLEAN
    for name, hour, minute in times:
        amounts = BELOW if name == "BELOW" else INSIDE
        read(c, ReadingKind.CELL_AIR, amounts, at=seen_at(21, hour, minute), cell=2)
    outcome, reasons = judged_as(c)
    assert outcome == ("clean" if holds else "minor")
    told = [one for one in reasons if "ticked done, and the unit was read at" in one]
    assert len(told) == (0 if holds else 1)
    if told:
        (weak,) = student_practice(c.view(), c.amaru, LAST_DAY).weak
        assert told[0] in weak.steps[0].why  # what the student reads of it, on the page and on the sheet to take home
        assert "Cell 2 in air: 7.4 mV" in told[0]
        assert "outside the manual's 8 to 13 mV" in told[0]
    (marked,) = [one for one in c.attempt(attempt).sheets[0].marks if one.step == "cell-air"]
    assert marked.mark == Mark.DONE  # the observer's own line stays as it was written


def test_a_void_over_what_a_reading_makes_critical_asks_for_a_second_instructor(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a centre's own rubric calls a number outside its bounds critical; none that ships does."""
    monkeypatch.setattr("course.assessment.marks.is_critical", lambda _step, error: error == "mv-out-air")
    c = small_centre
    opened = c.open("dry-21", skill=CELLS)
    ticked = {"marks": [{"step": "cell-air", "mark": "done"}]}
    assert not take(c.ledger, [tap(c, opened, "marks_given/1", ticked)]).refused

    def void(second: str | None) -> Draft:
        attempt, at = c.attempt(opened.attempt), seen_at(21, 15)
        return close_draft(c.ledger, c.lead, attempt, Closing.VOID, at, reason="a swimmer", second=second)

    assert void(None)
    read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21), cell=2)
    assert "a second instructor" in refused(c, lambda c: void(None))
    assert void(c.second)


def test_a_reading_inside_its_bounds_makes_no_step_done_and_one_of_another_unit_says_nothing(
    small_centre: Centre,
) -> None:
    c = small_centre
    c.enter("dry-21", MarkGiven(step="cell-air", mark=Mark.LEFT_OUT), skill=CELLS, observed=seen_at(21))
    before = judged_as(c)
    assert any("left out" in one for one in before[1])
    read(c, ReadingKind.CELL_AIR, INSIDE, at=seen_at(21))
    read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21), unit=c.unit_b)
    assert judged_as(c) == before
    read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21))  # no tick is there to be overruled
    assert judged_as(c) == before


def test_who_decides_sets_a_reading_aside_with_a_reason_and_a_later_one_overrules_again(small_centre: Centre) -> None:
    c = small_centre
    attempt = ticked(c)
    first = read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21), cell=2)
    (step,) = amendable(c.ledger, c.view(), attempt).overruled
    assert (step.step, step.readings) == ("cell-air", (first,))
    aside = (c.ledger, c.lead, attempt, "cell-air", step.readings)
    assert "reason" in refused(c, lambda _: set_reading_aside(*aside, " ", seen_at(21, 15)))
    assert "no such reading" in refused(
        c, lambda _: set_reading_aside(*aside[:4], [c.unit_a], "She saw it.", seen_at(21, 15))
    )
    assert "does not read that" in refused(
        c, lambda _: set_reading_aside(*aside[:3], "cell-oxygen", [first], "She saw it.", seen_at(21, 15))
    )
    set_reading_aside(*aside, "She told it and stopped.", seen_at(21, 15))
    outcome, _ = judged_as(c)
    assert outcome == "clean"
    assert amendable(c.ledger, c.view(), attempt).overruled == ()
    (line,) = skill_detail(c.ledger, c.view(), c.amaru, CELLS, LAST_DAY).attempts[0].amended
    assert "a reading of the unit was set aside, and the tick holds" in line
    assert line.endswith("She told it and stopped.")
    read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21, 13, 5), cell=3)
    assert judged_as(c)[0] == "minor"


def test_a_reading_that_comes_from_another_laptop_after_signing_is_told_as_new_since(small_centre: Centre) -> None:
    c = small_centre
    skill = c.skill(CELLS)
    ticked(c)
    c.sessions["dry-22"] = plan_session(
        c.ledger, c.lead, course=c.course, title="Dry again", setting="dry", start=seen_at(22, 9), end=seen_at(22, 11)
    )
    c.enter("dry-22", skill=CELLS, observed=seen_at(22, 10))
    sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=CELLS, decided=DecisionKind.AGREED, as_of=LAST_DAY,
        rests_on=evidence(c.view(), skill, c.view().standing(c.amaru, skill, LAST_DAY)),
    )  # fmt: skip

    def told() -> str:
        detail = decision_detail(c.ledger, c.view(), c.amaru, skill, LAST_DAY)
        assert detail is not None
        return detail.sentence

    assert "changed since" not in told()
    reading = read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21))
    assert "The record has changed since: signed on an older record." in told()
    assert "attempt 1 of 21 Oct 2026, minor, is overruled by a later reading of its unit" in told()
    (fact,) = [one for one in unit_of(c).readings if one.id == reading]
    amending.withdraw(c.ledger, c.lead, fact.event, "Read of another unit.")
    assert "changed since" not in told()


def test_the_mark_page_says_that_a_tick_does_not_hold_against_what_was_read(small_centre: Centre) -> None:
    c = small_centre
    at = opened(c)
    marks = [{"step": s.id, "mark": "done"} for s in c.skill(CELLS).steps]
    assert not take(c.ledger, [tap(c, at, "marks_given/1", {"marks": marks})]).refused
    reading = read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21), cell=2)
    told = state_now(c.ledger, at.attempt, at.sheet, c.lead)
    assert told is not None
    assert "outside: Cell 2 in air: 7.4 mV" in told["read"]["cell-air"]
    assert "A tick does not hold against it" in told["read"]["cell-air"]
    set_reading_aside(c.ledger, c.lead, at.attempt, "cell-air", [reading], "Another cell.", seen_at(21, 15))
    told = state_now(c.ledger, at.attempt, at.sheet, c.lead)
    assert told is not None
    assert told["read"]["cell-air"].endswith("was set aside with a reason, and the tick holds.")


# --- on the page -----------------------------------------------------------------------------------------------------


def page(c: Centre) -> AppTest:
    serve.start(c.ledger, take)
    app = app_at("units")
    app.query_params["unit"] = c.unit_a
    app.run()
    assert not app.exception
    return app


def button(app: AppTest, label: str) -> Any:
    return next(one for one in app.button if one.label == label)


def test_the_units_page_judges_a_reading_before_it_is_kept_and_then_keeps_it(small_centre: Centre) -> None:
    app = page(small_centre)
    next(group for group in app.button_group if group.key == "reading-what").set_value(ReadingKind.POSITIVE.value)
    app.run()
    for key, text in LEAK.items():
        app.text_input(key=f"reading-positive_test-{key}").set_value(text)
    button(app, "What does it say?").click().run()
    assert any("A leak: more than the manual allows." in one.value.replace("\\", "") for one in app.markdown)
    assert history(small_centre).lines == ()
    next(group for group in app.button_group if group.key == "carer").set_value(small_centre.lead)
    for key, text in LEAK.items():
        app.text_input(key=f"reading-positive_test-{key}").set_value(text)
    button(app, "Keep it").click().run()
    assert not app.exception
    assert len(history(small_centre).lines) == 1
    assert any("A leak: more than the manual allows." in one.value for one in app.text)


def test_a_reading_is_set_aside_on_the_course_page_with_a_reason(small_centre: Centre) -> None:
    c = small_centre
    ticked(c)
    read(c, ReadingKind.CELL_AIR, BELOW, at=seen_at(21), cell=2)
    serve.start(c.ledger, take)
    app = app_at("course")
    app.query_params["student"], app.query_params["skill"] = c.amaru, CELLS
    app.run()
    assert not app.exception
    app.radio(key="amend-what").set_value(ASIDE).run()
    next(one for one in app.selectbox if one.label == "Step whose tick holds")
    next(group for group in app.button_group if group.key == "amend-actor").set_value(c.lead)
    next(area for area in app.text_area if area.label == "Reason" and area.max_chars == 1000).set_value("She told it.")
    button(app, "Set the reading aside").click().run()
    assert not app.exception
    assert judged_as(c)[0] == "clean"
