"""Rules about what was read of a unit, against what was ticked of it and against each other."""

from __future__ import annotations

from collections.abc import Iterator

from course.assessment.attempts import evaluating_sheets
from course.assessment.marks import read_step
from course.assessment.unit_readings import Judged, judged
from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, Tried
from course.record.facts import Sheet
from course.record.unit_facts import Reading
from course.standards.rubric import Step
from course.words import Mark, Outcome


def reading_against_tick(ground: Ground) -> Iterator[Finding]:
    """A step that reads something of the unit is ticked as done, and what was written down of the unit is outside."""
    for tried in ground.tried:
        void = tried.judged is None or tried.judged.outcome == Outcome.VOID
        for sheet in evaluating_sheets(tried.attempt) if not void else ():
            for step in _ticked(tried, sheet):
                for said in _outside(ground, tried, step):
                    yield _against(ground, tried, sheet, step, said)


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
