"""A unit's own three cells: written down in one go, and what their vote hides told from what they showed.

Voting by the nearest two and 0.95 to 1.05 of a straight cell are common practice; the arithmetic is our own.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest
from centre_builder import Centre, seen_at, tap
from finding_examples import set_clock
from opened_page import app_at
from test_actions import refused

from course.actions.pad import take
from course.actions.readings import ForStep, readings_now, take_reading, take_readings
from course.answers.figures import figure_table
from course.answers.pad import pad
from course.answers.unit_readings import UnitReadings, unit_readings
from course.answers.units import units_answer
from course.assessment.cell_votes import Vote, votes
from course.physics.registry import quantity
from course.physics.result import Result
from course.record.facts import Unit
from course.record.unit_events import Amount
from course.record.unit_facts import Reading
from course.screens import serve
from course.words import ReadingKind

ABOVE = {"mv_calibration": "48 48 48", "po2_calibration": "1.0", "po2_check": "1.6", "set_point": "1.3"}
AIR = {"humidity": "0.5", "temperature": "20", "least": "8", "most": "13"}
IN_GAS = {"gas_oxygen": "1", "pressure": "1.01325", "humidity": "0", "temperature": "20"}
FLUSH = {"po2": "1.2", "diluent_oxygen": "0.21", "depth": "15"}


@pytest.fixture(autouse=True)
def _after_the_course(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch)


def keep(c: Centre, what: ReadingKind, typed: dict[str, str], **more: Any) -> tuple[str, ...]:
    return take_readings(c.ledger, c.lead, c.unit_a, what, typed, more.pop("at", seen_at(22)), **more)


def history(c: Centre) -> UnitReadings:
    return unit_readings(c.ledger, c.view(), c.unit_a)


def unit_of(c: Centre) -> Unit:
    fact = c.ledger.fact("unit", c.unit_a)
    assert isinstance(fact, Unit)
    return fact


def reading(what: ReadingKind, cell: int, at: Any = None, **amounts: str) -> Reading:
    told = tuple(Amount(key=key, value=value) for key, value in amounts.items())
    return Reading(
        id=str(cell), event="", what=what, cell=cell, amounts=told, observed=at or seen_at(22), taken_by="lead"
    )


def above(*millivolts: str, at: Sequence[Any] = ()) -> Vote | None:
    """The vote of cells calibrated to 48 mV at 1.0 bar and read at 1.6, where a straight one shows 76.8 mV."""
    readings = [
        reading(
            ReadingKind.CELL_HIGH, cell, at[cell - 1] if at else None,
            mv_calibration="48", po2_calibration="1.0", mv_check=mv, po2_check="1.6", set_point="1.3",
        )
        for cell, mv in enumerate(millivolts, 1)
    ]  # fmt: skip
    return next(iter(votes(readings)), None)


# --- what the vote hides ---------------------------------------------------------------------------------------------


def test_two_limited_cells_that_agree_outvote_the_good_one_and_the_loops_real_po2_is_told() -> None:
    """57.6 and 58.6 of 76.8 mV: 1.20 and 1.22 bar of 1.60. Held at 1.30 by 0.7565 of what there is: 1.72 bar."""
    found = above("57.6", "58.6", "76.8")
    assert found is not None
    assert found.outvoted
    assert found.told == (
        "Cells 1 and 2 agree on 1.20 and 1.22 bar at a PO2 of 1.60 bar and outvote cell 3, which shows 1.60 bar. "
        "Believed, the unit shows 1.21 bar where there are 1.60. Held by them at a set point of 1.30 the loop would be "
        "at 1.72 bar if they read low by a share; if they have stopped there they never show the set point, and oxygen "
        "is added without end."
    )


def test_two_cells_that_agree_too_high_leave_the_loop_below_its_set_point() -> None:
    """86.4 of 76.8 mV are 1.125: a set point of 1.30 is held at 1.16."""
    found = above("86.4", "76.8", "86.4")
    assert found is not None
    assert found.outvoted
    assert "Cells 1 and 3 agree on 1.80 and 1.80 bar" in found.told
    assert found.told.endswith("Held by them at a set point of 1.30 the loop would be at 1.16 bar.")


def test_one_limited_cell_is_voted_out_and_a_second_one_would_win() -> None:
    found = above("76.8", "57.6", "76.0")
    assert found is not None
    assert not found.outvoted
    assert found.told.startswith("Cell 2 shows 1.20 bar at a PO2 of 1.60 bar, and the vote is still right.")
    assert "A second one that is wrong like it would outvote the good one." in found.told


def test_three_good_cells_hide_nothing() -> None:
    found = above("76.8", "76.0", "77.0")
    assert found is not None
    assert not found.outvoted
    assert "here their vote hides nothing. What they do at a higher PO2 this does not say." in found.told


@pytest.mark.parametrize(
    ("millivolts", "told"),
    [
        (("57.6", "58.0", "67.2"), "cells 1 and 2 are nearest and are believed."),
        (("57.6", "67.2", "76.8"), "no two agree, and cell 2 in the middle is believed."),
    ],
)
def test_cells_that_are_wrong_without_a_good_one_against_them_are_told_too(
    millivolts: tuple[str, ...], told: str
) -> None:
    found = above(*millivolts)
    assert found is not None
    assert found.outvoted
    assert told in found.told


def test_only_cells_that_were_read_together_are_compared() -> None:
    apart = above("57.6", "58.6", "76.8", at=(seen_at(20), seen_at(22), seen_at(22)))
    assert apart is not None
    assert not apart.outvoted
    assert "Only 2 cells were read together above the set point" in apart.told
    assert above("57.6") is None
    readings = [
        reading(
            ReadingKind.CELL_HIGH, cell, mv_calibration="48", po2_calibration="1.0", mv_check="60", po2_check=po2,
            set_point="1.3",
        )
        for cell, po2 in ((1, "1.6"), (2, "1.6"), (3, "1.4"))
    ]  # fmt: skip
    (uneven,) = votes(readings)
    assert "not read at one PO2" in uneven.told


def test_a_later_reading_of_a_cell_takes_the_place_of_its_earlier_one() -> None:
    amounts = {"mv_calibration": "48", "po2_calibration": "1.0", "po2_check": "1.6", "set_point": "1.3"}
    first = [reading(ReadingKind.CELL_HIGH, cell, mv_check="57.6", **amounts) for cell in (1, 2)]
    third = reading(ReadingKind.CELL_HIGH, 3, mv_check="76.8", **amounts)
    mended = reading(ReadingKind.CELL_HIGH, 2, seen_at(22, 15), mv_check="76.8", **amounts)
    assert [one.outvoted for one in votes([*first, third])] == [True]
    assert [one.outvoted for one in votes([*first, third, mended])] == [False]


def test_after_a_flush_two_cells_outside_the_expected_band_outvote_the_one_inside() -> None:
    """0.21 x (2.5 + 0.01325 - 0.0628) = 0.51 bar of diluent, up to 0.65 with a fifth of the loop left over."""
    found = votes(
        [reading(ReadingKind.FLUSH, cell, **FLUSH, shown=one) for cell, one in ((1, "0.9"), (2, "0.92"), (3, "0.55"))]
    )
    (vote,) = found
    assert vote.outvoted
    assert "Cells 1 and 2 agree on 0.90 and 0.92 bar where 0.51 to 0.65 bar are expected" in vote.told
    assert "outvote cell 3, which shows 0.55 bar" in vote.told
    assert vote.told.endswith("Believed, the unit shows 0.91 bar there.")


def test_in_the_calibration_gas_shares_are_told_and_that_calibrating_hides_them() -> None:
    """Dry: 4.773 x 10 = 47.7 mV in oxygen; 40 mV are 0.84 of it."""
    cells = ((1, "40"), (2, "40.2"), (3, "47.7"))
    (vote,) = votes([reading(ReadingKind.CELL_GAS, n, **IN_GAS, mv_air="10", mv_gas=mv) for n, mv in cells])
    assert vote.outvoted
    assert "Cells 1 and 2 agree on 0.84 and 0.84 of what their readings in air lead to" in vote.told
    assert "Calibrated in this gas all three show the same" in vote.told


def test_the_registered_quantity_gives_the_same_po2_and_knows_its_ranges() -> None:
    found = quantity("voted-po2").answer(set_point=1.3, gain_1=0.75, gain_2=0.763, gain_3=1.0)
    assert isinstance(found, Result)
    assert found.exact == pytest.approx(1.3 / ((0.75 + 0.763) / 2))
    assert "oxygen is added without end" in found.validity
    assert not quantity("voted-po2").answer(set_point=1.3, gain_1=0.1, gain_2=0.1, gain_3=1.0).has_number


# --- three cells in one go -------------------------------------------------------------------------------------------


def test_three_cells_are_written_down_in_one_append_each_as_a_reading_of_its_own(small_centre: Centre) -> None:
    c = small_centre
    before = len(c.view().units[c.unit_a].readings)
    assert before == 0
    ids = keep(c, ReadingKind.CELL_AIR, {**AIR, "mv_air": "10.4 10.2 / 7.6"}, note="Before the pool.")
    kept = c.view().units[c.unit_a].readings
    shown = [(one.cell, next(a.value for a in one.amounts if a.key == "mv_air")) for one in kept]
    assert shown == [(1, "10.4"), (2, "10.2"), (3, "7.6")]
    assert {one.id for one in kept} == set(ids)
    assert sum("Before the pool." in line.sentence for line in history(c).lines) == 1
    assert "cell 3 in air is outside" in history(c).sentence


def test_a_dash_leaves_a_cell_out_and_numbers_begin_at_the_cell_that_is_said(small_centre: Centre) -> None:
    keep(small_centre, ReadingKind.CELL_AIR, {**AIR, "mv_air": "10.4 - 10.2"}, first=2)
    assert [one.cell for one in small_centre.view().units[small_centre.unit_a].readings] == [2, 4]


@pytest.mark.parametrize(
    ("what", "typed", "first", "said"),
    [
        (ReadingKind.CELL_GAS, {**IN_GAS, "mv_air": "10 10 10", "mv_gas": "47 47"}, 1, "Every cell needs a number"),
        (ReadingKind.CELL_GAS, {**IN_GAS, "mv_air": "10 -", "mv_gas": "47 47"}, 1, "Cell 2 has no number for Milliv"),
        (ReadingKind.CELL_AIR, {**AIR, "mv_air": "- -"}, 1, "is missing"),
        (ReadingKind.CELL_AIR, {**AIR}, 1, "is missing"),
        (ReadingKind.CELL_AIR, {**AIR, "mv_air": "10.4 10,2 10"}, 1, "'10,2' is no plain decimal number"),
        (ReadingKind.CELL_AIR, {**AIR, "mv_air": "10.4 10.2 900"}, 1, "900 is outside of 1 to 100 mV"),
        (ReadingKind.CELL_AIR, {**AIR, "mv_air": "10 10 10"}, 8, "at most 9 cells"),
    ],
)
def test_if_one_cell_cannot_be_read_none_is_kept(
    small_centre: Centre, what: ReadingKind, typed: dict[str, str], first: int, said: str
) -> None:
    assert said in refused(small_centre, lambda c: keep(c, what, typed, first=first))


def test_before_it_is_kept_the_three_are_told_with_their_vote(small_centre: Centre) -> None:
    told = readings_now(
        unit_of(small_centre), ReadingKind.CELL_HIGH, {**ABOVE, "mv_check": "57.6 58.6 76.8"}, seen_at(22)
    )
    assert len(told) == 4
    assert "outvote cell 3" in told[3]


def test_the_worst_of_three_is_the_value_of_the_step(small_centre: Centre) -> None:
    """The step asks for at least 8 mV: the lowest one counts, and the other two stay readings."""
    c = small_centre
    at = c.open("dry-21", skill="chk-cells")
    marks = [{"step": s.id, "mark": "done"} for s in c.skill("chk-cells").steps]
    assert not take(c.ledger, [tap(c, at, "marks_given/1", {"marks": marks})]).refused
    step = ForStep(at.attempt, at.sheet, "cell-air")
    keep(c, ReadingKind.CELL_AIR, {**AIR, "mv_air": "10.4 7.4 9"}, at=seen_at(21), for_step=step)
    (value,) = c.attempt(at.attempt).sheets[0].values
    assert (value.step, value.value) == ("cell-air", "7.4")
    kept = c.view().units[c.unit_a].readings
    assert [(one.cell, one.step) for one in kept] == [(1, None), (2, "cell-air"), (3, None)]


# --- where it is told ------------------------------------------------------------------------------------------------


def test_the_vote_leads_on_units_stands_in_its_history_and_in_figures(small_centre: Centre) -> None:
    c = small_centre
    keep(c, ReadingKind.CELL_HIGH, {**ABOVE, "mv_check": "57.6 58.6 76.8"})
    (vote,) = history(c).votes
    assert vote.outvoted
    assert vote.picture is not None
    assert vote.picture.series.quantity == "voting-hides"
    assert any("outvote cell 3" in one for one in units_answer(c.ledger, c.view()).findings)


def test_the_pad_tells_an_outvoted_cell_at_the_step_that_reads_it(small_centre: Centre) -> None:
    c = small_centre
    at = c.open("dry-21", skill="chk-cells")
    step = next(one for one in c.skill("chk-cells").steps if one.reading == ReadingKind.CELL_GAS)
    keep(c, ReadingKind.CELL_GAS, {**IN_GAS, "mv_air": "10 10 10", "mv_gas": "40 40.2 47.7"}, at=seen_at(21))
    assert "outvote cell 3" in pad(c.ledger, at.attempt, at.sheet)["read"][step.id]
    row = next(one for one in figure_table(c.view(), c.unit_a).rows if "outvote cell 3" in one.last)
    assert row.outside


def test_a_single_reading_still_says_nothing_of_a_vote(small_centre: Centre) -> None:
    c = small_centre
    take_reading(
        c.ledger, c.lead, c.unit_a, ReadingKind.CELL_HIGH, {**ABOVE, "mv_calibration": "48", "mv_check": "60"},
        seen_at(22), cell=1,
    )  # fmt: skip
    assert history(c).votes == ()


def test_the_units_page_takes_three_numbers_in_one_field(small_centre: Centre) -> None:
    c = small_centre
    serve.start(c.ledger, take)
    app = app_at("units")
    app.query_params["unit"] = c.unit_a
    app.run()
    next(group for group in app.button_group if group.key == "carer").set_value(c.lead)
    next(group for group in app.button_group if group.key == "reading-what").set_value(ReadingKind.CELL_HIGH.value)
    app.run()
    for key, text in {**ABOVE, "mv_check": "57.6 58.6 76.8"}.items():
        app.text_input(key=f"reading-cell_high-{key}").set_value(text)
    next(one for one in app.button if one.label == "What does it say?").click().run()
    assert any("outvote cell 3" in one.value for one in app.markdown)
    for key, text in {**ABOVE, "mv_check": "57.6 58.6 76.8"}.items():
        app.text_input(key=f"reading-cell_high-{key}").set_value(text)
    next(one for one in app.button if one.label == "Keep it").click().run()
    assert not app.exception
    assert any("outvote cell 3" in one.value for one in app.text)
    assert len(c.view().units[c.unit_a].readings) == 3
