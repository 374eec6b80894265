"""From sheets to what one attempt is worth: its outcome, whether it counts, and every reason for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from course.assessment.marks import MINOR_KINDS, Reason, StepReading, read_step, unseen_reason
from course.assessment.overruled import Against, by_step
from course.assessment.step_order import OrderBlame, confirmed_faults, order_blame, order_reasons
from course.record.facts import Attempt, JointLine, Sheet
from course.standards.rubric import Skill
from course.words import EVALUATORS, Capacity, Closing, Outcome

_SETTLED_BY_LINES = frozenset({"marks", "value", "seen_so"})
"""Fields with a stricter side: two live corrections come as two lines, of which the stricter was taken."""


class Worth(StrEnum):
    """What an outcome means for the streak, from the mildest to the strictest."""

    CLEAN = "clean"
    MINOR = "minor that counts"
    NEITHER = "neither counts nor breaks"
    BREAKS = "minor that breaks"
    CRITICAL = "critical"


class Outside(StrEnum):
    """Why an attempt is in no standing at all."""

    OPEN = "open"
    WITHDRAWN = "withdrawn"
    VOID = "void"
    NOT_ACCEPTED = "from elsewhere, not accepted"
    PRACTICE = "practice sheets only"


_WORTHS = list(Worth)
_OUTCOMES = list(Outcome)


@dataclass(frozen=True)
class SeenAttempt:
    """An attempt with what its place in time needs from outside it.

    `lapsed` are the observers who were not current on that day for the attempt's unit type. `features` are those of
    the attempt's own unit type; None stands for the unit type that the standing is asked for.
    """

    attempt: Attempt
    day: date
    session_start: datetime
    lapsed: frozenset[str] = frozenset()
    features: frozenset[str] | None = None
    against: tuple[Against, ...] = ()
    """What the attempt's unit was read to say against a tick, just before and during it."""

    def events_for(self, skill: Skill) -> frozenset[str]:
        """Hashes of the events that its worth rests on: its own, and those of readings that speak against a tick."""
        said = by_step(skill, self.attempt, self.against)
        return frozenset(self.attempt.events) | {one.hash for found in said.values() for one in found}

    @property
    def order(self) -> tuple[date, datetime, int, str]:
        """The attempt's place among others, whatever the order of entry."""
        return (self.day, self.session_start, self.attempt.number, self.attempt.id)


@dataclass(frozen=True)
class SheetJudgement:
    """One observer's sheet, judged whole."""

    sheet: str
    observer: str
    outcome: Outcome
    worth: Worth
    minors: int
    prompts: int
    reasons: tuple[Reason, ...]
    unseen: tuple[str, ...]
    """Steps that can be critical and were not seen."""
    order: OrderBlame
    weak_steps: tuple[str, ...]
    """Steps that are done only by the stroke for a whole clean attempt."""
    doubled: tuple[str, ...]
    """Steps with two live lines, values or answers that disagree; the stricter was taken."""
    unusable_values: tuple[str, ...]

    @property
    def critical_reasons(self) -> tuple[Reason, ...]:
        """What was critical, whatever the outcome."""
        return tuple(reason for reason in self.reasons if reason.critical)

    @property
    def strictness(self) -> tuple[int, int, int, str]:
        """Greater is stricter; the sheet's id settles what nothing else does."""
        return (_WORTHS.index(self.worth), -_OUTCOMES.index(self.outcome), self.minors + self.prompts, self.sheet)


@dataclass(frozen=True)
class AttemptJudgement:
    """What one attempt is worth, under the strict reading or the mild one.

    `counts`, `breaks` and `uses_reteach` say what it does to a standing; `held` is the sheet that decides.
    """

    attempt: str
    outcome: Outcome
    counts: bool
    breaks: bool
    uses_reteach: bool
    uses_budget: bool
    held: SheetJudgement | None
    sheets: tuple[SheetJudgement, ...]
    assessors: frozenset[str]
    outside: Outside | None = None
    lapsed_only: bool = False
    sheets_differ: bool = False
    contested: bool = False
    setting_fits: bool = True
    void_over_critical: bool = False
    void_lacks_second: bool = False

    @property
    def minors(self) -> int:
        """Errors, omissions, missed limits and order faults that use up the minors allowed."""
        return self.held.minors if self.held else 0

    @property
    def prompts(self) -> int:
        """Prompts that use up the prompts allowed."""
        return self.held.prompts if self.held else 0

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """Everything that the deciding sheet has against a clean attempt."""
        return self.held.reasons if self.held else ()

    @property
    def unseen(self) -> tuple[str, ...]:
        """Steps that can be critical and that the deciding sheet did not see."""
        return self.held.unseen if self.held else ()

    @property
    def order(self) -> OrderBlame:
        """The fewest steps out of order on the deciding sheet."""
        return self.held.order if self.held else OrderBlame()

    @property
    def weak_steps(self) -> tuple[str, ...]:
        """Steps of the deciding sheet that rest on "whole attempt clean" alone."""
        return self.held.weak_steps if self.held else ()

    @property
    def critical_reasons(self) -> tuple[Reason, ...]:
        """Everything critical on any evaluating sheet, each once."""
        return tuple(dict.fromkeys(reason for sheet in self.sheets for reason in sheet.critical_reasons))


def judge_sheet(
    sheet: Sheet,
    skill: Skill,
    features: frozenset[str],
    joint: Sequence[JointLine] = (),
    how: Closing = Closing.COMPLETED,
    against: Mapping[str, Sequence[Against]] | None = None,
) -> SheetJudgement:
    """Judge one sheet of a closed attempt by itself.

    Args:
        sheet: the sheet; what its capacity is worth is for `judge` to say.
        skill: the skill as its rubric states it.
        features: what the unit of the attempt has; steps that it lacks are not judged.
        joint: lines agreed between observers; each takes the place of its step's line.
        how: how the attempt was closed.
        against: by step, what the unit was read to say against its tick.
    """
    said = against or {}
    readings = [read_step(step, sheet, joint, said.get(step.id, ())) for step in skill.steps_for(features)]
    left_out = frozenset(reading.step.id for reading in readings if reading.left_out)
    confirmed = [(line.first_done, line.should_come_first) for line in sheet.orders if line.seen_so]
    critical_pairs, minor_pairs = confirmed_faults(skill, features, confirmed, left_out)
    blame = order_blame(minor_pairs)
    unseen = [reading for reading in readings if reading.step.can_be_critical and not reading.seen]
    reasons = [reason for reading in readings for reason in reading.reasons]
    minors = sum(not r.critical and r.what in MINOR_KINDS for r in reasons) + blame.fewest
    prompts = sum(reason.what == "prompt" for reason in reasons)
    reasons += order_reasons(skill, critical_pairs, minor_pairs, blame)
    outcome = _outcome(how, any(reason.critical for reason in reasons), minors + prompts > 0, bool(unseen))
    rule = skill.rule
    within = (
        not any(reading.blocks for reading in readings)
        and minors <= rule.minor_errors_allowed
        and prompts <= rule.prompts_allowed
    )
    return SheetJudgement(
        sheet=sheet.id,
        observer=sheet.observer,
        outcome=outcome,
        worth=_worth(outcome, within=within, all_seen=not unseen),
        minors=minors,
        prompts=prompts,
        reasons=(*reasons, *map(unseen_reason, unseen)),
        unseen=tuple(reading.step.id for reading in unseen),
        order=blame,
        weak_steps=_ids(readings, "filled"),
        doubled=(*_ids(readings, "doubled"), *_answered_both_ways(sheet)),
        unusable_values=_ids(readings, "unusable_value"),
    )


def judge(seen: SeenAttempt, skill: Skill, features: frozenset[str], *, mild: bool = False) -> AttemptJudgement:
    """Judge a closed attempt; of several evaluating sheets the stricter holds.

    Args:
        seen: the attempt and its place in time.
        skill: the skill as its rubric states it.
        features: what the unit has that the standing is asked for; the attempt's own unit goes before it.
        mild: read it as if whoever is asked to confirm did: lapsed observers count, and the looser sheet holds.
    """
    attempt = seen.attempt
    own = features if seen.features is None else seen.features
    how = attempt.ending.how if attempt.ending else Closing.COMPLETED
    said = by_step(skill, attempt, seen.against)
    sheets = tuple(judge_sheet(sheet, skill, own, attempt.joint, how, said) for sheet in evaluating_sheets(attempt))
    pick = min if mild else max
    held = pick(sheets, key=lambda sheet: sheet.strictness, default=None)
    current = frozenset(sheet.observer for sheet in sheets) - seen.lapsed
    lapsed_only = bool(sheets) and not current
    contested = _is_contested(attempt, sheets)
    setting_fits = attempt.setting in skill.setting
    outside = _outside(attempt)
    worth = Worth.NEITHER if held is None or outside else held.worth
    in_order = outside is None and setting_fits and not contested
    confirmed = in_order and (mild or not lapsed_only)
    outcome = held.outcome if held else _outcome(how, critical=False, minor=False, unseen=True)
    over_critical = how == Closing.VOID and any(sheet.critical_reasons for sheet in sheets)
    return AttemptJudgement(
        attempt=attempt.id,
        outcome=outcome,
        counts=confirmed and worth in (Worth.CLEAN, Worth.MINOR),
        breaks=worth == Worth.CRITICAL or (in_order and worth == Worth.BREAKS),
        uses_reteach=confirmed and outcome in (Outcome.CLEAN, Outcome.MINOR),
        uses_budget=outside is None,
        held=held,
        sheets=sheets,
        assessors=current or frozenset(sheet.observer for sheet in sheets),
        outside=outside,
        lapsed_only=lapsed_only,
        sheets_differ=len({sheet.worth for sheet in sheets}) > 1,
        contested=contested,
        setting_fits=setting_fits,
        void_over_critical=over_critical,
        void_lacks_second=over_critical and (attempt.ending is None or _lacks_second(attempt)),
    )


def pending_critical(
    attempt_open: Attempt, skill: Skill, features: frozenset[str], against: Sequence[Against] = ()
) -> tuple[Reason, ...]:
    """Return what was marked critical so far in an attempt that is still open; it is shown at once."""
    if attempt_open.ending is not None or attempt_open.withdrawn:
        return ()
    said = by_step(skill, attempt_open, against)
    sheets = [
        judge_sheet(sheet, skill, features, attempt_open.joint, against=said)
        for sheet in evaluating_sheets(attempt_open)
    ]
    return tuple(dict.fromkeys(reason for sheet in sheets for reason in sheet.critical_reasons))


def evaluating_sheets(attempt: Attempt) -> tuple[Sheet, ...]:
    """Return the sheets that can count: given as evaluation, by somebody who may evaluate."""
    return tuple(s for s in attempt.sheets if s.capacity == Capacity.EVALUATING and s.role in EVALUATORS)


def _is_contested(attempt: Attempt, sheets: Sequence[SheetJudgement]) -> bool:
    """Whether corrections disagree without a stricter side, or about lines of which only one came through."""
    fields = frozenset(attempt.contested)
    return bool(fields - _SETTLED_BY_LINES) or bool(fields and not any(sheet.doubled for sheet in sheets))


def _answered_both_ways(sheet: Sheet) -> tuple[str, ...]:
    answers = {(line.first_done, line.should_come_first, line.seen_so) for line in sheet.orders}
    return tuple(sorted({first for first, second, yes in answers if yes and (first, second, False) in answers}))


def _outcome(how: Closing, critical: bool, minor: bool, unseen: bool) -> Outcome:  # noqa: FBT001
    """The first that fits."""
    if how == Closing.VOID:
        return Outcome.VOID
    if critical:
        return Outcome.CRITICAL
    if how == Closing.STOPPED:
        return Outcome.STOPPED
    if minor:
        return Outcome.MINOR
    return Outcome.INCOMPLETE if unseen else Outcome.CLEAN


def _worth(outcome: Outcome, *, within: bool, all_seen: bool) -> Worth:
    match outcome:
        case Outcome.CRITICAL:
            return Worth.CRITICAL
        case Outcome.MINOR if not within:
            return Worth.BREAKS
        case Outcome.MINOR if all_seen:
            return Worth.MINOR
        case Outcome.CLEAN:
            return Worth.CLEAN
        case _:
            return Worth.NEITHER


def _outside(attempt: Attempt) -> Outside | None:
    if attempt.withdrawn:
        return Outside.WITHDRAWN
    if attempt.ending is None:
        return Outside.OPEN
    if attempt.from_elsewhere and attempt.accepted is not True:
        return Outside.NOT_ACCEPTED
    if attempt.ending.how == Closing.VOID:
        return Outside.VOID
    return None if evaluating_sheets(attempt) else Outside.PRACTICE


def _lacks_second(attempt: Attempt) -> bool:
    """A second instructor is somebody else than the one who closed it."""
    ending = attempt.ending
    return ending is not None and (ending.second is None or ending.second == ending.closed_by)


def _ids(readings: Sequence[StepReading], flag: str) -> tuple[str, ...]:
    return tuple(reading.step.id for reading in readings if getattr(reading, flag))
