"""The order of a skill's steps as its file states it: one that can be kept, and in which the steps are written."""

from __future__ import annotations

from collections.abc import Iterator

from course.standards.circles import circles
from course.standards.plain import At, Flaw, are_ids, did_you_mean

CUE = "cue"
"""Where a clock starts that no step starts: the observer's sign."""


def order_flaws(steps: At) -> Iterator[Flaw]:
    """Yield where `after` names no step, runs in a circle, or asks for another order than the written one."""
    ids = [step["id"].text for step in steps.each()]
    if not are_ids(ids) or len(set(ids)) < len(ids):
        return  # which step is meant cannot be said
    rings = circles({step["id"].text: step["after"].texts for step in steps.each()})
    for ring in rings:
        place = next(step for step in steps.each() if step["id"].text == ring[0])
        yield place["after"].flaw(
            f"The order runs in a circle: {', then '.join([*ring, ring[0]])}.", "Take one step out of an after."
        )
    for number, step in enumerate(steps.each()):
        for place in step["after"].each():
            if not place.text:
                continue
            if place.text not in ids:
                yield place.flaw(f'No step "{place.text}" in this skill.', did_you_mean(place.text, ids))
            elif ids.index(place.text) >= number and not any(
                {place.text, step["id"].text} <= set(ring) for ring in rings
            ):
                yield place.flaw(
                    f'"{place.text}" has to come first and is written below.',
                    "Write the steps in an order that may be shown.",
                )


def clock_flaws(steps: At) -> Iterator[Flaw]:
    """Yield where a clock starts at no step, or at one that comes later."""
    ids = [step["id"].text for step in steps.each()]
    for number, step in enumerate(steps.each()):
        start = step["limit"]["from"]
        if not start.text or start.text == CUE or not are_ids(ids):
            continue
        if start.text not in ids:
            yield start.flaw(f'No step "{start.text}" in this skill.', did_you_mean(start.text, [CUE, *ids]))
        elif ids.index(start.text) > number:
            yield start.flaw(
                f'The clock starts at "{start.text}", which comes later.', "Name a step that comes before, or cue."
            )
