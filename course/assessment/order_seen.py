"""What is known of the order in which one sheet's steps were done: kept apart from drawing, told as one sentence.

Known are the first taps of a pad and the observer's answers, nothing else: a slate, a file and the stroke for a whole
clean attempt carry no order. Nothing in here changes what an attempt is worth; pairs and blame are those it is judged
by. "Put right unasked" is the observer's own word: a second mark of a step is a correction of the sheet far more often
than a second doing, so no such mark is read as one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from course.assessment.marks import read_step
from course.assessment.step_order import Pair, confirmed_faults, order_blame, order_parts, proposed_order_questions
from course.record.facts import JointLine, Sheet
from course.standards.rubric import Skill
from course.words import Mark, SheetSource, listed

_DONE = (Mark.DONE, Mark.ERROR, Mark.PROMPTED)
_LEAST = 2  # one step alone has no order
_COUNTS = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 8: "eight", 9: "nine"}


@dataclass(frozen=True)
class PairSeen:
    """A confirmed fault: the step that was done first, and the one that should have come before it."""

    first_done: int
    should_come_first: int
    critical: bool = False
    fixed_self: bool = False
    """Put right unasked, says the observer: shown, and a fault all the same."""


@dataclass(frozen=True)
class AnyOf:
    """Steps of which any `count` explain what was seen, and nobody can tell which."""

    steps: tuple[int, ...]
    count: int = 1


@dataclass(frozen=True)
class OrderSeen:
    """The order of one sheet, in the numbers that the steps have in the rubric.

    `certain` and `possible` are the fewest steps that explain the minor faults; a critical pair stands for itself.
    """

    source: SheetSource
    sequence: tuple[int, ...] = ()
    """Steps done, by their first tap."""
    left_out: tuple[int, ...] = ()
    faults: tuple[PairSeen, ...] = ()
    only_tapped: tuple[tuple[int, int], ...] = ()
    """Tapped the wrong way round, and the observer said that it was not seen so."""
    unanswered: tuple[tuple[int, int], ...] = ()
    """Tapped the wrong way round, and nobody has said yet whether it was seen so."""
    certain: tuple[int, ...] = ()
    possible: tuple[AnyOf, ...] = ()
    whole_clean: bool = False

    @property
    def is_known(self) -> bool:
        """Whether there is a sequence: of two steps at least."""
        return len(self.sequence) >= _LEAST


def order_seen(sheet: Sheet, skill: Skill, features: frozenset[str], joint: Sequence[JointLine] = ()) -> OrderSeen:
    """Return what one sheet says of the order of its steps.

    Args:
        sheet: the sheet.
        skill: the skill as its rubric states it.
        features: what the unit of the attempt has; steps that it lacks are not told.
        joint: lines agreed between observers; each takes the place of its step's line.
    """
    readings = [read_step(step, sheet, joint) for step in skill.steps_for(features)]
    number = {step.id: place for place, step in enumerate(skill.steps, 1)}
    done = {reading.step.id for reading in readings if reading.mark in _DONE and not reading.filled}
    left_out = frozenset(reading.step.id for reading in readings if reading.left_out)
    taps = [(step, utc) for step, utc in sheet.first_taps if step in done]
    answers = {(line.first_done, line.should_come_first): False for line in sheet.orders}
    answers |= {(line.first_done, line.should_come_first): True for line in sheet.orders if line.seen_so}
    asked = [(first, second) for first, second, _ in proposed_order_questions(skill, features, taps, left_out)]
    critical, minor = confirmed_faults(skill, features, [pair for pair, yes in answers.items() if yes], left_out)
    certain, possible = _blamed(minor, number)
    return OrderSeen(
        source=sheet.source,
        sequence=tuple(number[step] for step, _ in taps),
        left_out=_numbers(number, left_out),
        faults=_faults(sheet, critical, minor, number),
        only_tapped=_pairs(number, (pair for pair in asked if answers.get(pair) is False)),
        unanswered=_pairs(number, (pair for pair in asked if pair not in answers)),
        certain=certain,
        possible=possible,
        whole_clean=sheet.whole_clean is not None,
    )


def order_sentence(seen: OrderSeen, observer: str) -> str:
    """Tell the order of one sheet as one sentence.

    Args:
        seen: the order.
        observer: whose sheet it is, by name.
    """
    if not seen.is_known and not seen.faults:
        return _nothing_known(seen)
    if not seen.is_known:
        told = [*_faults_told(seen.faults), *_blame_told(seen)]
        return f"Nothing is known of the order but what {observer} wrote: {'; '.join(told)}."
    told = [*_faults_told(seen.faults, f", seen so by {observer}"), *_blame_told(seen), *_taps_told(seen)]
    told = [*(told or ["nothing out of order"]), *_apart_told(seen)]
    return f"Tapped {', '.join(map(str, seen.sequence))}: {'; '.join(told)}."


def _numbers(number: dict[str, int], steps: Iterable[str]) -> tuple[int, ...]:
    return tuple(sorted(number[step] for step in steps))


def _pairs(number: dict[str, int], pairs: Iterable[Pair]) -> tuple[tuple[int, int], ...]:
    return tuple(sorted((number[first], number[second]) for first, second in pairs))


def _blamed(minor: frozenset[Pair], number: dict[str, int]) -> tuple[tuple[int, ...], tuple[AnyOf, ...]]:
    """The fewest steps that explain the minor pairs: those that are certain, and the others part by part."""
    parts = [order_blame(part) for part in order_parts(minor)]
    certain = _numbers(number, (step for part in parts for step in part.certain))
    open_ones = [AnyOf(_numbers(number, p.possible), p.fewest - len(p.certain)) for p in parts if p.possible]
    return certain, tuple(sorted(open_ones, key=lambda one: one.steps))


def _faults(
    sheet: Sheet, critical: frozenset[Pair], minor: frozenset[Pair], number: dict[str, int]
) -> tuple[PairSeen, ...]:
    """The critical ones first; of two live answers one without "put right" is the stricter, and holds."""
    by_pair: dict[Pair, list[bool]] = {}
    for line in sheet.orders:
        if line.seen_so:
            by_pair.setdefault((line.first_done, line.should_come_first), []).append(line.fixed_self)
    found = [
        PairSeen(number[pair[0]], number[pair[1]], critical=pair in critical, fixed_self=all(by_pair[pair]))
        for pair in critical | minor
    ]
    return tuple(sorted(found, key=lambda one: (not one.critical, one.first_done, one.should_come_first)))


def _nothing_known(seen: OrderSeen) -> str:
    if seen.source == SheetSource.SLATE:
        return "No order is known: the marks were copied from a slate."
    if seen.source == SheetSource.FILE:
        return "No order is known: the marks came from a file."
    if seen.whole_clean:
        return "No order is known: one stroke for the whole attempt says nothing of it."
    return "No order is known: fewer than two steps were tapped as done."


def _faults_told(faults: Sequence[PairSeen], seen_so: str = "") -> list[str]:
    """Faults of one kind in one clause; who saw it is said once: "step 4 came before step 3, seen so by Tamsin"."""
    told: list[str] = []
    for kind in dict.fromkeys((fault.critical, fault.fixed_self) for fault in faults):
        critical, fixed = kind
        pairs = [(f.first_done, f.should_come_first) for f in faults if (f.critical, f.fixed_self) == kind]
        words = _pairs_told(pairs, "came before") + ("" if told else seen_so)
        words += ", critical" if critical else ""
        told.append(words + (", put right unasked and still an error" if fixed else ""))
    return told


def _blame_told(seen: OrderSeen) -> list[str]:
    parts = [_steps(seen.certain)] if seen.certain else []
    for one in seen.possible:
        if one.count == 1:
            parts.append(" or ".join(f"step {step}" for step in one.steps))
        else:
            parts.append(f"{_COUNTS.get(one.count, one.count)} of {_steps(one.steps)}")
    if not parts:
        return []
    words = f"out of order: {', and '.join(parts)}"
    single = not seen.certain and len(seen.possible) == 1 and seen.possible[0].count == 1
    return [f"{words} (one of them explains it)" if single else words]


def _taps_told(seen: OrderSeen) -> list[str]:
    told = []
    if seen.unanswered:
        told.append(f"nobody has said yet whether {_pairs_told(seen.unanswered, 'before')} was seen so")
    if seen.only_tapped:
        told.append(f"{_pairs_told(seen.only_tapped, 'before')} was only tapped so, no fault")
    return told


def _apart_told(seen: OrderSeen) -> list[str]:
    """What has no place in the sequence."""
    told = []
    if seen.left_out:
        was = "was" if len(seen.left_out) == 1 else "were"
        told.append(f"{_steps(seen.left_out)} {was} left out, which is no fault of order")
    if seen.whole_clean:
        told.append("what one stroke marked clean has no order")
    return told


def _pairs_told(pairs: Sequence[tuple[int, int]], verb: str) -> str:
    """Pairs in as few words as they take: "steps 3, 4 and 5 came before step 1"."""
    by_first, by_second = _grouped(pairs, lambda pair: pair), _grouped(pairs, lambda pair: (pair[1], pair[0]))
    if len(by_second) < len(by_first):
        return listed([f"{_steps(firsts)} {verb} step {second}" for second, firsts in by_second.items()])
    return listed([f"step {first} {verb} {_steps(seconds)}" for first, seconds in by_first.items()])


def _grouped(
    pairs: Sequence[tuple[int, int]], turned: Callable[[tuple[int, int]], tuple[int, int]]
) -> dict[int, list[int]]:
    groups: dict[int, list[int]] = {}
    for key, other in sorted(map(turned, pairs)):
        groups.setdefault(key, []).append(other)
    return groups


def _steps(numbers: Sequence[int]) -> str:
    return f"step{'' if len(numbers) == 1 else 's'} {listed([str(number) for number in numbers])}"
