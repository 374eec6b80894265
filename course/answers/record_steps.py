"""Of a competency record: every attempt and every step of one skill, and which attempts hold the standing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.decisions import HELD
from course.answers.record_answer import AttemptTold, SkillLine, StepLine, StepMark, WentWrong
from course.answers.step_map import MarkRead, marks_read
from course.assessment.attempts import SeenAttempt
from course.assessment.history import Effect, StreakStep
from course.assessment.marks import step_name
from course.assessment.standing import Standing
from course.standards.rubric import Skill, Step
from course.words import OUTCOME_WORDS, Mark

_PLAIN = {
    Mark.DONE: StepMark.RIGHT,
    Mark.ERROR: StepMark.ERROR,
    Mark.LEFT_OUT: StepMark.LEFT_OUT,
    Mark.PROMPTED: StepMark.PROMPTED,
    Mark.NOT_SEEN: StepMark.NOT_SEEN,
}
_CRITICAL = {Mark.ERROR: StepMark.CRITICAL, Mark.LEFT_OUT: StepMark.CRITICAL_LEFT_OUT}
"""A prompt at a step that can be critical is an error once its rubric says for which one it stands."""
_RIGHT = frozenset({StepMark.RIGHT, StepMark.WHOLE})
_WRONG = frozenset({StepMark.ERROR, StepMark.CRITICAL, StepMark.LEFT_OUT, StepMark.CRITICAL_LEFT_OUT})
_BREAKING = (Effect.BREAKS, Effect.CRITICAL)
_NOT_LOOKED_AT = (Effect.OUTSIDE, Effect.OTHER_TYPE)


def with_steps(line: SkillLine, seen: CourseView, student: str, skill: Skill, standing: Standing) -> SkillLine:
    """Return a skill's line with its attempts and steps; without attempts as it is."""
    if not standing.history:
        return line
    by_id = {one.attempt.id: one for one in seen.seen(student, skill)}
    holding = holding_attempts(standing)
    tries = tuple(_told(by_id[step.attempt], step, holding) for step in standing.history)
    read = [_read(by_id[step.attempt], step, skill) for step in standing.history]
    own = [
        _step_line(number, step, [one.get(step.id) for one in read])
        for number, step in enumerate(skill.steps, 1)
        if any(step.id in one for one in read)
    ]
    return replace(line, tries=tries, steps=tuple(own))


def holding_attempts(standing: Standing) -> frozenset[str]:
    """Return the attempts of the streak that a standing rests on.

    Of a skill that is held it is the streak with which its rule was met last, with what counted on; else the one that
    is under way.
    """
    found: list[str] = []
    met = False
    last_met = max((at for at, step in enumerate(standing.history) if step.met), default=-1)
    for at, step in enumerate(standing.history):
        if step.effect in _BREAKING:
            if met and standing.state in HELD:
                break
            found = []
        elif step.effect == Effect.COUNTS:
            found = [*found, step.attempt][-step.streak :]
        met = met or at == last_met
    return frozenset(found)


def _told(one: SeenAttempt, step: StreakStep, holding: frozenset[str]) -> AttemptTold:
    elsewhere = "from elsewhere " if one.attempt.from_elsewhere else ""
    return AttemptTold(
        label=f"{elsewhere}{one.attempt.number} · {day_words(one.day)}",
        outcome=OUTCOME_WORDS[step.outcome],
        streak=step.streak,
        holds=step.attempt in holding,
    )


def _read(one: SeenAttempt, step: StreakStep, skill: Skill) -> Mapping[str, MarkRead]:
    """The marks of one attempt by step; none of an attempt that is in no standing here."""
    if step.effect in _NOT_LOOKED_AT:
        return {}
    return {read.step.id: read for read in marks_read(one, step.judgement, skill)}


def _step_line(number: int, step: Step, reads: Sequence[MarkRead | None]) -> StepLine:
    marks = tuple(_mark(read) for read in reads)
    return StepLine(
        name=f"{number} {step_name(step)}",
        can_be_critical=step.can_be_critical,
        right=sum(mark in _RIGHT for mark in marks),
        wrong=sum(mark in _WRONG for mark in marks),
        prompted=sum(mark == StepMark.PROMPTED for mark in marks),
        not_seen=sum(mark == StepMark.NOT_SEEN for mark in marks),
        marks=marks,
        went_wrong=_went_wrong(step, [read for read in reads if read]),
    )


def _mark(read: MarkRead | None) -> StepMark:
    if read is None:
        return StepMark.NOT_ASKED
    if read.filled:
        return StepMark.WHOLE
    return _CRITICAL.get(read.mark, _PLAIN[read.mark]) if read.critical else _PLAIN[read.mark]


def _went_wrong(step: Step, reads: Sequence[MarkRead]) -> tuple[WentWrong, ...]:
    """What went wrong at a step, most often first, what was critical before what was not."""
    begin = f"{step_name(step)}: "
    counted: Counter[tuple[str, bool]] = Counter()
    for read in reads:
        for reason in read.reasons:
            label = reason.sentence.removeprefix(begin).rstrip(".").removesuffix(": critical")
            counted[label, reason.critical] += 1
        if read.out_of_order:
            counted["out of order", read.critical and not any(one.critical for one in read.reasons)] += 1
    ordered = sorted(counted.items(), key=lambda one: (not one[0][1], -one[1], one[0][0]))
    return tuple(WentWrong(label, times, critical) for (label, critical), times in ordered)
