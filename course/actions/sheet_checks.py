"""What a sheet may hold by the rubric that its attempt is marked by: steps, errors, values, pairs out of order."""

from __future__ import annotations

from typing import Any

from course.actions.drafting import body
from course.errors import NotFoundError, RefusedError
from course.record.events import MarkGiven, ValueMeasured
from course.standards.rubric import OTHER_ERROR, Skill, Step


def check_mark(skill: Skill, line: MarkGiven, notes: dict[str, str]) -> None:
    """Refuse a mark that the rubric does not know.

    Args:
        skill: in the form that the attempt is marked by.
        line: one step's mark.
        notes: by step, what was written about an error that is not listed.

    Raises:
        NotFoundError: the skill has no such step, or the step no such error.
        RefusedError: an error that is not listed came without a word about it.
    """
    step = _step(skill, line.step)
    for error in line.errors:
        if error == OTHER_ERROR:
            if not notes.get(line.step, "").strip():
                raise RefusedError(f"Say in a few words what went wrong in: {step.do} The mark was NOT saved.")
        elif step.error(error) is None:
            raise NotFoundError(
                f"The step {line.step!r} has no error {error!r}. The mark was NOT saved; reload the page."
            )


def check_order(skill: Skill, first_done: str, should_come_first: str) -> None:
    """Refuse an answer about the order of steps that the rubric does not know.

    Raises:
        NotFoundError: the skill has no such step.
        RefusedError: both are the same step.
    """
    for step in (first_done, should_come_first):
        _step(skill, step)
    if first_done == should_come_first:
        raise RefusedError("A step cannot come before itself. The answer was NOT saved.")


def measured(skill: Skill, step_id: str, value: str, unit: str | None = None, **common: Any) -> ValueMeasured:
    """Return the body of a value for a step, in the quantity and unit that the rubric asks for.

    Args:
        skill: in the form that the attempt is marked by.
        step_id: the step.
        value: decimal text.
        unit: the unit it was read in, where that was said.
        common: the other fields of the body.

    Raises:
        NotFoundError: the step has no value to measure.
        RefusedError: it was read in another unit, or is no decimal number.
    """
    step = _step(skill, step_id)
    if step.limit is None:
        raise NotFoundError(f"{skill.title} asks for no value in step {step_id[:60]!r}. The value was NOT saved.")
    if unit is not None and unit != step.limit.unit:
        raise RefusedError(f"This step is measured in {step.limit.unit}, not in {unit}. The value was NOT saved.")
    return body(ValueMeasured, step=step_id, quantity=step.limit.quantity, unit=step.limit.unit, value=value, **common)


def _step(skill: Skill, step_id: str) -> Step:
    step = skill.step(step_id)
    if step is None:
        raise NotFoundError(
            f"{skill.title} has no step {step_id[:60]!r} in the rubric that this attempt is marked by. "
            "It was NOT saved; reload the page."
        )
    return step
