"""The order of one sheet's steps, ready to be told and drawn: the sentence, and what stands behind it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from course.assessment.order_seen import OrderSeen, order_seen, order_sentence
from course.record.facts import JointLine, Sheet
from course.standards.rubric import Skill


@dataclass(frozen=True)
class OrderTold:
    """One sheet's order in one sentence, and what a picture of it is drawn from."""

    sentence: str
    seen: OrderSeen


def order_told(
    skill: Skill, features: frozenset[str], sheet: Sheet, joint: Sequence[JointLine], observer: str
) -> OrderTold:
    """Return the order of a sheet; `observer` is the name of whose sheet it is."""
    seen = order_seen(sheet, skill, features, joint)
    return OrderTold(order_sentence(seen, observer), seen)
