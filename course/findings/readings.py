"""Rules about what was read of a unit, against what was ticked of it and against each other."""

from __future__ import annotations

from collections.abc import Iterator

from course.assessment.attempts import evaluating_sheets
from course.assessment.marks import read_step
from course.assessment.overruled import Against, by_step
from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, Tried
from course.hours.unit_time import WATER
from course.record.facts import Sheet
from course.standards.rubric import Step, StepError
from course.words import Mark, Outcome


def reading_against_tick(ground: Ground) -> Iterator[Finding]:
    """A step is ticked as done, and the unit was read outside its bounds: the tick does not hold, or is settled."""
    for tried in ground.tried:
        void = tried.judged is None or tried.judged.outcome == Outcome.VOID
        against = by_step(tried.skill, tried.attempt, tried.one.against) if tried.skill and not void else {}
        for sheet in evaluating_sheets(tried.attempt) if against else ():
            for step in _ticked(tried, sheet):
                for said in against.get(step.id, ()):
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


def _against(ground: Ground, tried: Tried, sheet: Sheet, step: Step, said: Against) -> Finding:
    return Finding(
        rule="reading_against_tick",
        severity=Severity.DANGER if step.can_be_critical else Severity.RULE,
        about=(tried.attempt.id, sheet.id, step.id, said.reading),
        sentence=f"{ground.attempt_words(tried)}: ticked done by {ground.name(sheet.observer)}, and the unit was read "
        f"at {ground.clock(said.at.moment)}. {said.told} The tick does not hold until it is set aside with a reason.",
        figures=(step.id, said.at.utc, said.told),
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
