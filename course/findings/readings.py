"""Rules about what was read of a unit, against what was ticked of it and against each other."""

from __future__ import annotations

from collections.abc import Iterator

from course.assessment.attempts import evaluating_sheets
from course.assessment.marks import read_step
from course.assessment.unit_readings import Judged, judged
from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, Tried
from course.hours.unit_time import WATER
from course.record.facts import Sheet
from course.record.unit_facts import Reading
from course.standards.rubric import Step, StepError
from course.words import Mark, Outcome


def reading_against_tick(ground: Ground) -> Iterator[Finding]:
    """A step that reads something of the unit is ticked as done, and what was written down of the unit is outside."""
    for tried in ground.tried:
        void = tried.judged is None or tried.judged.outcome == Outcome.VOID
        for sheet in evaluating_sheets(tried.attempt) if not void else ():
            for step in _ticked(tried, sheet):
                for said in _outside(ground, tried, step):
                    yield _against(ground, tried, sheet, step, said)


def flood_without_hold(ground: Ground) -> Iterator[Finding]:
    """An error that lets water into the loop was seen in the water, and the unit did not go on hold after it."""
    for tried in ground.tried:
        unit = ground.units.get(tried.attempt.unit or "")
        at = tried.attempt.observed
        void = tried.judged is None or tried.judged.outcome == Outcome.VOID
        if unit is None or void or tried.attempt.from_elsewhere or tried.attempt.setting not in WATER:
            continue
        error = next(_flooding(tried), None)
        if error and not any(hold.until is None or hold.until.moment > at.moment for hold in unit.holds):
            yield Finding(
                rule="flood_without_hold",
                severity=Severity.DANGER,
                about=(tried.attempt.id, unit.id, error.id),
                sentence=f"{ground.attempt_words(tried)}: “{error.label}” lets water into the loop, and {unit.label} "
                "did not go on hold after it. Record it as flooded, or say why it was not.",
                figures=(error.id, at.utc),
                evidence=(Evidence("attempt", tried.attempt.id), Evidence("unit", unit.id, "its holds")),
            )


def _flooding(tried: Tried) -> Iterator[StepError]:
    """The errors that were seen and whose figure is a flood."""
    for reason in tried.judged.reasons if tried.judged and tried.skill else ():
        step = tried.skill.step(reason.step) if tried.skill else None
        error = step.error(reason.error) if step and reason.error else None
        if error and error.figure and error.figure.is_flood:
            yield error


def _against(ground: Ground, tried: Tried, sheet: Sheet, step: Step, said: Judged) -> Finding:
    reading = said.reading
    return Finding(
        rule="reading_against_tick",
        severity=Severity.DANGER if step.can_be_critical else Severity.RULE,
        about=(tried.attempt.id, sheet.id, step.id, reading.id),
        sentence=f"{ground.attempt_words(tried)}: ticked done by {ground.name(sheet.observer)}, and the unit was read "
        f"at {ground.clock(reading.observed.moment)}. {said.told}",
        figures=(
            step.id,
            reading.observed.utc,
            *(f"{one.key} {one.value} {one.unit}".rstrip() for one in reading.amounts),
        ),
        evidence=(Evidence("attempt", tried.attempt.id), Evidence("unit", tried.attempt.unit or "", said.told)),
    )


def _ticked(tried: Tried, sheet: Sheet) -> Iterator[Step]:
    """Steps that read something of the unit, with a plain tick."""
    if tried.skill is None:
        return
    steps = tried.skill.steps if tried.one.features is None else tried.skill.steps_for(tried.one.features)
    for step in steps:
        if step.reading and read_step(step, sheet, tried.attempt.joint).mark == Mark.DONE:
            yield step


def _outside(ground: Ground, tried: Tried, step: Step) -> Iterator[Judged]:
    """The last reading of each cell in the attempt's session up to its end, where that one is outside its bounds.

    An earlier one that was mended and read again says nothing against a later tick.
    """
    unit, session = ground.units.get(tried.attempt.unit or ""), ground.sessions.get(tried.attempt.session)
    if unit is None or session is None or tried.attempt.from_elsewhere:
        return
    ending = tried.attempt.ending
    until = ending.observed.moment if ending else session.end.moment
    last: dict[int | None, Reading] = {}
    for one in unit.readings:
        if one.what == step.reading and session.start.moment <= one.observed.moment <= until:
            last[one.cell] = one
    yield from (said for said in map(judged, last.values()) if said.outside)
