"""A sheet in words, step by step: the mark, its errors, the value, and text that goes with them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from course.record.facts import JointLine, MarkLine, Sheet
from course.standards.rubric import OTHER_ERROR, Skill, Step
from course.words import MARK_WORDS, UNIT_WORDS, Mark


@dataclass(frozen=True)
class MarkWords:
    """One step of a sheet as read by people."""

    number: int
    step: str
    do: str
    mark: Mark | None
    words: str
    critical: bool


def sheet_words(
    skill: Skill,
    features: frozenset[str] | None,
    sheet: Sheet,
    joint: Sequence[JointLine],
    notes: Mapping[str, Mapping[str, Any]],
) -> tuple[MarkWords, ...]:
    """Return every step that the unit has, with what the sheet says of it, then lines for steps that no rubric has.

    Args:
        features: what the unit has; None: every step is shown.
        notes: private texts by event, as far as their keys are there.
    """
    here = {s.id for s in skill.steps} if features is None else {s.id for s in skill.steps_for(features)}
    known = tuple(
        _words(number, step, sheet, joint, notes) for number, step in enumerate(skill.steps, 1) if step.id in here
    )
    return known + _unknown(skill, sheet)


def _unknown(skill: Skill, sheet: Sheet) -> tuple[MarkWords, ...]:
    """Lines for steps that this form of the skill does not have: kept and shown, and judged by nothing."""
    strange = [line for line in sheet.marks if skill.step(line.step) is None]
    return tuple(
        MarkWords(
            number=len(skill.steps) + place,
            step=line.step,
            do=f"“{line.step}”, a step that this rubric does not have.",
            mark=line.mark,
            words=f"{MARK_WORDS[line.mark]}, not judged",
            critical=False,
        )
        for place, line in enumerate(strange, 1)
    )


def _words(
    number: int, step: Step, sheet: Sheet, joint: Sequence[JointLine], notes: Mapping[str, Mapping[str, Any]]
) -> MarkWords:
    agreed = [line for line in joint if line.step == step.id]
    lines: list[JointLine | MarkLine] = [*agreed] if agreed else [line for line in sheet.marks if line.step == step.id]
    told = [_line(step, line, notes) for line in lines]
    values = [_value(v.value, v.unit) for v in sheet.values if v.step == step.id]
    if agreed:  # a joint line takes the place of the whole line, mark and value
        values = [_value(line.value, step.limit.unit) for line in agreed if line.value and step.limit]
    if not told and sheet.whole_clean and not step.can_be_critical:
        told = ["clean as a whole"]
    critical = any(_is_critical(step, line) for line in lines)
    words = ", ".join([*(told or ["not marked"]), *values]) + (" (agreed by both)" if agreed else "")
    return MarkWords(number, step.id, step.do, lines[0].mark if lines else None, words, critical)


def _line(step: Step, line: JointLine | MarkLine, notes: Mapping[str, Mapping[str, Any]]) -> str:
    words = "not to be read, so not seen" if line.unreadable else MARK_WORDS[line.mark]
    if line.errors:
        own = notes.get(line.event, {})
        text = own.get("why") if isinstance(line, JointLine) else (own.get("notes") or {}).get(step.id)
        words = "; ".join(_label(step, error, text) for error in line.errors)
    extras = [", prompted" if line.prompted else "", ", put right unasked" if line.fixed_self else ""]
    late = ", amended after closing" if isinstance(line, MarkLine) and line.late else ""
    return words + "".join(extras) + late


def _value(value: str, unit: str) -> str:
    return f"{value} {UNIT_WORDS.get(unit, unit)}".strip()


def _label(step: Step, error_id: str, text: str | None) -> str:
    if error_id == OTHER_ERROR:
        return f"another error: {text}" if text else "another error"
    known = step.error(error_id)
    return f"{known.label}{' (critical)' if known.critical else ''}" if known else error_id


def _is_critical(step: Step, line: JointLine | MarkLine) -> bool:
    known = [step.error(error) for error in line.errors]
    return any(e.critical for e in known if e) or (line.mark == Mark.LEFT_OUT and step.if_left_out is not None)
