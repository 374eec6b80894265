"""What one sheet says of one step: the live line that holds, its errors, its value, and why it is what it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from course.assessment.overruled import Against
from course.record.facts import JointLine, MarkLine, Sheet, ValueLine
from course.standards.rubric import OTHER_ERROR, Limit, Step, decimal_of
from course.words import UNIT_WORDS, Mark

Line = MarkLine | JointLine
What = Literal["error", "left_out", "prompt", "limit", "reading", "order", "not_seen"]

MINOR_KINDS: frozenset[What] = frozenset({"error", "left_out", "limit", "reading"})
"""What uses up the minors allowed, step by step; order faults are added from the whole sheet, prompts never."""

_LIMIT_WITHOUT_LETTER = ""
_BASIS_WORDS = {"example": "example", "unit_manual": "unit manual", "agency": "agency"}
_STRICTNESS = {Mark.ERROR: 4, Mark.LEFT_OUT: 3, Mark.PROMPTED: 2, Mark.NOT_SEEN: 1, Mark.DONE: 0}
_CRITICAL = 5


@dataclass(frozen=True)
class Reason:
    """Why an attempt is worth what it is: one thing that was seen, or not seen.

    `step` is empty where no single step can be named (an order fault that lies with one of several).
    """

    step: str
    what: What
    sentence: str
    error: str | None = None
    critical: bool = False


@dataclass(frozen=True)
class StepReading:
    """One step of one sheet, after joint lines, doubled lines, values and "whole attempt clean" are settled."""

    step: Step
    seen: bool
    left_out: bool
    reasons: tuple[Reason, ...] = ()
    filled: bool = False
    """Done only by the one stroke for a whole clean attempt: weaker evidence."""
    doubled: bool = False
    """Two live marks or values disagree; the stricter was taken."""
    unusable_value: bool = False
    """A value in another unit or quantity than the rubric's, or none that can be read; it was not used."""
    mark: Mark = Mark.NOT_SEEN
    """The mark that holds, before its value is looked at."""

    @property
    def blocks(self) -> bool:
        """Whether an error, omission, missed limit or prompt stands where something critical can happen."""
        return self.step.can_be_critical and bool(self.reasons)


def read_step(
    step: Step, sheet: Sheet, joint: Sequence[JointLine] = (), against: Sequence[Against] = ()
) -> StepReading:
    """Settle what a sheet says of one step.

    A joint line takes the place of the sheet's whole line, mark and value. Of two live lines the stricter holds. What
    the unit was read to say against it overrules a tick, on a joint line too, and is no second error beside a value.
    """
    agreed = [line for line in joint if line.step == step.id]
    lines: list[Line] = [*agreed] if agreed else [line for line in sheet.marks if line.step == step.id]
    values, unusable = _values(step, sheet, agreed)
    holding = max(lines, key=lambda line: _strictness(line, step), default=None)
    filled = holding is None and sheet.whole_clean is not None and not step.can_be_critical
    mark = holding.mark if holding else Mark.DONE if filled else Mark.NOT_SEEN
    missed = _missed(step.limit, values)
    return StepReading(
        step=step,
        seen=missed is not None or _is_seen(step, mark, values),
        left_out=mark == Mark.LEFT_OUT,
        reasons=(*_reasons(step, mark, holding, missed), *_overruled(step, mark, missed, against)),
        filled=filled,
        doubled=len({_said(line) for line in lines}) > 1 or len(set(values)) > 1,
        unusable_value=unusable,
        mark=mark,
    )


def is_critical(step: Step, error_id: str) -> bool:
    """Whether the rubric flags this error of this step; `x` and an unknown error never are."""
    error = step.error(error_id)
    return error is not None and error.critical


def step_name(step: Step) -> str:
    """The first clause of what a step asks for; short enough to stand before a colon."""
    clause = step.do
    for stop in (". ", "; ", ": ", ", "):
        clause = clause.split(stop)[0]
    return clause.rstrip(".;:, ")


def unseen_reason(reading: StepReading) -> Reason:
    """Say that a step that can be critical was not seen."""
    needs_value = reading.step.limit is not None and reading.step.limit.at_least is not None
    why = "not seen, or its value not written down" if needs_value else "not seen"
    return Reason(reading.step.id, "not_seen", f"{step_name(reading.step)}: {why}.")


def _said(line: Line) -> tuple[Mark, frozenset[str], bool]:
    return (line.mark, frozenset(line.errors), line.prompted)


def _is_seen(step: Step, mark: Mark, values: Sequence[Decimal]) -> bool:
    """A tick alone does not show that a time was kept, where a shorter one could hurt."""
    needs_value = step.can_be_critical and step.limit is not None and step.limit.at_least is not None
    if mark == Mark.DONE and needs_value:
        return bool(values)
    return mark != Mark.NOT_SEEN


def _marked_errors(line: Line, step: Step) -> list[str]:
    """Errors by letter, and the one that a prompt stands for where the step names it."""
    errors = list(dict.fromkeys(line.errors))
    if _is_prompted(line) and step.prompt_error and step.prompt_error not in errors:
        errors.append(step.prompt_error)
    return errors


def _is_prompted(line: Line) -> bool:
    return line.prompted or line.mark == Mark.PROMPTED


def _strictness(line: Line, step: Step) -> tuple[int, int, bool, list[str], int, bool, tuple[str, ...]]:
    """The last three settle nothing but the words: of two lines of one weight, the order they came in chooses none."""
    errors = _marked_errors(line, step)
    critical_omission = line.mark == Mark.LEFT_OUT and step.if_left_out is not None
    if critical_omission or any(is_critical(step, error) for error in errors):
        rank = _CRITICAL
    else:
        rank = _STRICTNESS[Mark.ERROR] if errors else _STRICTNESS[line.mark]
    said = (len(line.errors), not line.fixed_self, line.errors)
    return (rank, len(errors), _is_prompted(line), sorted(errors), *said)


def _values(step: Step, sheet: Sheet, agreed: Sequence[JointLine]) -> tuple[list[Decimal], bool]:
    """Values that can be compared with the step's limit, and whether some could not be.

    A joint line's value is in the rubric's unit.
    """
    limit = step.limit
    if limit is None:
        return [], False
    if agreed:
        texts = [line.value for line in agreed if line.value is not None]
        fitting = texts
    else:
        own = [value for value in sheet.values if value.step == step.id]
        texts = [value.value for value in own]
        fitting = [value.value for value in own if _fits(value, limit)]
    values = [value for text in fitting if (value := _decimal_or_none(text)) is not None]
    return values, len(values) < len(texts)


def _fits(value: ValueLine, limit: Limit) -> bool:
    return value.unit == limit.unit and value.quantity == limit.quantity


def _decimal_or_none(text: str) -> Decimal | None:
    try:
        return decimal_of(text)
    except ValueError:
        return None


def _missed(limit: Limit | None, values: Sequence[Decimal]) -> Decimal | None:
    """The worst value outside the limit: the shortest below at least, else the longest above at most."""
    if limit is None:
        return None
    outside = [value for value in values if not limit.kept_by(value)]
    if not outside:
        return None
    least = limit.at_least
    short = least is not None and min(outside) < decimal_of(least)
    return min(outside) if short else max(outside)


def _reasons(step: Step, mark: Mark, line: Line | None, missed: Decimal | None) -> Iterable[Reason]:
    limit_error = _LIMIT_WITHOUT_LETTER
    if missed is not None and step.limit is not None:
        limit_error = step.limit.error or _LIMIT_WITHOUT_LETTER
        yield _limit_reason(step, step.limit, missed)
    if mark == Mark.LEFT_OUT and (missed is None or step.if_left_out):
        # A value outside is the error whatever was ticked: an omission beside it says no second thing.
        yield _left_out_reason(step)
    if line is not None:
        said = set() if missed is None else {limit_error}
        yield from (_error_reason(step, error, line) for error in _marked_errors(line, step) if error not in said)
        if _is_prompted(line) and step.prompt_error is None:
            yield Reason(step.id, "prompt", f"{step_name(step)}: prompted.")


def _overruled(step: Step, mark: Mark, missed: Decimal | None, against: Sequence[Against]) -> Iterable[Reason]:
    """A tick against which the unit was read; a value outside on the sheet is told already."""
    if against and mark == Mark.DONE and missed is None:
        error = step.limit.error if step.limit else None
        critical = error is not None and is_critical(step, error)
        told = " ".join(one.words for one in against)
        sentence = f"{step_name(step)}: ticked done, and the unit was {told}{' Critical.' if critical else ''}"
        yield Reason(step.id, "reading", sentence, error, critical)


def _ending(critical: bool) -> str:  # noqa: FBT001 - the flag is what the word says
    return ": critical." if critical else "."


def _limit_reason(step: Step, limit: Limit, value: Decimal) -> Reason:
    unit = UNIT_WORDS.get(limit.unit, limit.unit)
    measured, basis = f"{value} {unit}".rstrip(), _BASIS_WORDS[limit.basis]
    if limit.at_least is not None and value < decimal_of(limit.at_least):
        bound = f"{limit.at_least} {unit}".rstrip()
        text = f"{measured} of {bound}, at least {bound} asked ({basis})"
    else:
        text = f"{measured}, at most {limit.at_most} {unit}".rstrip() + f" asked ({basis})"
    critical = limit.error is not None and is_critical(step, limit.error)
    return Reason(step.id, "limit", f"{step_name(step)}: {text}{_ending(critical)}", limit.error, critical)


def _left_out_reason(step: Step) -> Reason:
    critical = step.if_left_out is not None
    return Reason(step.id, "left_out", f"{step_name(step)}: left out{_ending(critical)}", critical=critical)


def _error_reason(step: Step, error_id: str, line: Line) -> Reason:
    known = step.error(error_id)
    label = "another error, not listed" if error_id == OTHER_ERROR or known is None else _inside(known.label)
    if error_id not in line.errors:
        label = f"prompted, which stands for: {label}"
    elif line.fixed_self:
        label += ", put right unasked"
    critical = is_critical(step, error_id)
    return Reason(step.id, "error", f"{step_name(step)}: {label}{_ending(critical)}", error_id, critical)


def _inside(label: str) -> str:
    """The label as it stands inside a sentence; abbreviations such as PO2 keep their capitals."""
    return label[0].lower() + label[1:] if label[1:2].islower() else label
