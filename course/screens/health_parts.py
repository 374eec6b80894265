"""What only the running program knows of its health: whether it is shared, and the tablets it heard of."""

from __future__ import annotations

from course.answers.health import HealthLine, State
from course.screens import serve, tablets
from course.words import plural


def running_lines() -> tuple[HealthLine, ...]:
    """Lines about sharing and tablets."""
    return (_sharing(), _tablets())


def _sharing() -> HealthLine:
    if serve.is_shared():
        said = "Other machines on this network are let in with the code that was shown at the start."
        do = "Share on a network that you trust; what goes over it is not encrypted."
        return HealthLine("Sharing", State.LOOK, said, do)
    return HealthLine("Sharing", State.OK, "This machine only; nobody else is let in.")


def _tablets() -> HealthLine:
    known = tablets.seen()
    waiting = sum(one.waiting for one in known)
    if waiting:
        said = f"{plural(waiting, 'mark')} waited on tablets when they were last heard of."
        return HealthLine("Tablets", State.LOOK, said, "Keep the pads open until they say that all is saved.")
    wrong = [one.label for one in known if one.clock_is_far_off]
    if wrong:
        said = f"The clock of {', '.join(wrong)} is far off."
        return HealthLine("Tablets", State.LOOK, said, "Set it; times of marks are put right all the same.")
    return HealthLine("Tablets", State.OK, f"{plural(len(known), 'tablet')} heard of, nothing waits.")
