"""Which standards a course is on: those it was made on, or those that its lead moved it to.

A move names the moves whose place it takes. Two moves from two laptops that do not know of each other have no stricter
side: the course stays on what both found, and the field is contested until a move takes the place of both.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from course.record import events as kinds
from course.record.standards_facts import StandardsMove
from course.record.statements import Statements


def build_standards(made: dict[str, Any], statements: Statements, shared: dict[str, Any]) -> dict[str, Any]:
    """Return a course's public and shared fields, with the standards that it is on now.

    Args:
        made: the public fields of the event that made the course.
        statements: every statement about the course.
        shared: what every fact carries.
    """
    moves = tuple(
        StandardsMove(
            event=statement.event.id,
            adoption=body.adoption,
            profile=body.profile,
            revision=body.revision,
            moved_by=statement.event.actor,
            observed=body.observed,
        )
        for statement, body in statements.holding(kinds.CourseStandardsMoved)
    )
    replaces = {s.event.id: body.replaces for s, body in statements.holding(kinds.CourseStandardsMoved)}
    replaced = {earlier for of in replaces.values() for earlier in of}
    heads = [move for move in moves if move.event not in replaced]
    holds = _agreed(moves, heads, replaces)
    contested = {*shared["contested"], *(("standards",) if len({_content(head) for head in heads}) > 1 else ())}
    on = {"adoption": holds.adoption, "profile": holds.profile, "revision": holds.revision} if holds else {}
    return {
        **made,
        **shared,
        **on,
        "contested": tuple(sorted(contested)),
        "moves": moves,
        "unreplaced": tuple(head.event for head in heads),
    }


def _agreed(
    moves: Sequence[StandardsMove], heads: Sequence[StandardsMove], replaces: dict[str, tuple[str, ...]]
) -> StandardsMove | None:
    """The move that holds; of heads that disagree the latest that all of them knew of; None: as the course was made."""
    if len({_content(head) for head in heads}) == 1:
        return heads[-1]
    known = [_before(head.event, replaces) for head in heads]
    common = set.intersection(*known) if known else set()
    return next((move for move in reversed(moves) if move.event in common), None)


def _before(event: str, replaces: dict[str, tuple[str, ...]]) -> set[str]:
    """Every move whose place was taken on the way to this one."""
    found: set[str] = set()
    waiting = list(replaces.get(event, ()))
    while waiting:
        earlier = waiting.pop()
        if earlier not in found:
            found.add(earlier)
            waiting.extend(replaces.get(earlier, ()))
    return found


def _content(move: StandardsMove) -> tuple[str, str, str]:
    return (move.adoption, move.profile, move.revision)
