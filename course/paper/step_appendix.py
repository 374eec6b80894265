"""The appendix of a competency record: of each skill every attempt in order, and every step over the attempts.

One column of marks runs through a skill: an attempt stands at the same place in its trend and in the row of each step.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, NextPageTemplate, Spacer

from course.answers.record_answer import AttemptTold, PhaseLines, SkillLine, StepLine, StepMark, WentWrong
from course.paper.fonts import FIGURES, MEDIUM, set_text
from course.paper.frame import (
    BODY,
    INK,
    LEAD,
    QUIET,
    SMALL,
    Row,
    column_x,
    draw_rule,
    draw_words,
    style,
)
from course.paper.kept import height_of
from course.paper.marks import TONES, draw_shape, draw_strip
from course.paper.shapes import Shape, blank_shape, mark_shape, whole_shape
from course.paper.table import table_rows
from course.paper.trend_picture import IN_ROW, PITCH, SIZE, STRIP_WIDTH, draw_trend, trend_height
from course.words import Mark, listed, plural

HEAD = "steps"
"""The template whose pages repeat the head of this table."""
TITLE = "Steps, attempt by attempt"

_FIGURE_PITCH = 13.5 * mm
_FIGURES_WIDTH = 4 * _FIGURE_PITCH
_TEXT_X = 5 * mm
_RIGHT_INDENT = STRIP_WIDTH + _FIGURES_WIDTH + 3 * mm
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=5 * mm, spaceAfter=1.5 * mm, keepWithNext=1)
_PLAIN = style(BODY, 12.5)
_TABLE_HEAD = style(SMALL, 12, spaceBefore=4 * mm)
_SKILL = style(BODY, 12.5, MEDIUM, rightIndent=STRIP_WIDTH + 22 * mm)
_CAPTION = style(SMALL, 10.5, textColor=QUIET, rightIndent=STRIP_WIDTH + 22 * mm)
_STEP = style(SMALL, 10.5, leftIndent=_TEXT_X, rightIndent=_RIGHT_INDENT)
_WRONG = style(SMALL, 10.5, leftIndent=_TEXT_X + 3 * mm, rightIndent=STRIP_WIDTH + 3 * mm, textColor=QUIET)
_CRITICAL = style(SMALL, 10.5, leftIndent=_TEXT_X + 3 * mm, rightIndent=STRIP_WIDTH + 3 * mm)
_KEPT = 45 * mm
_INTRO = (
    "Each skill with its attempts from the first to the last: how many stood in a row after it, filled where the "
    "standing rests on it, over what came of it. Under it each step in the attempts' own columns, as the deciding "
    "sheet has it. Right counts steps that were marked; what was not seen is neither right nor wrong."
)
_SHAPES: dict[StepMark, Shape] = {
    StepMark.RIGHT: mark_shape(Mark.DONE),
    StepMark.WHOLE: whole_shape(),
    StepMark.ERROR: mark_shape(Mark.ERROR),
    StepMark.CRITICAL: mark_shape(Mark.ERROR, critical=True),
    StepMark.LEFT_OUT: mark_shape(Mark.LEFT_OUT),
    StepMark.CRITICAL_LEFT_OUT: mark_shape(Mark.LEFT_OUT, critical=True),
    StepMark.PROMPTED: mark_shape(Mark.PROMPTED),
    StepMark.NOT_SEEN: mark_shape(Mark.NOT_SEEN),
    StepMark.NOT_ASKED: blank_shape(),
}


def step_appendix(phases: tuple[PhaseLines, ...], width: float) -> list[Any]:
    """Return the rows of the appendix; none where there is no attempt."""
    skills = [skill for phase in phases for skill in phase.skills if skill.tries]
    if not skills:
        return []
    heading = Row(set_text(TITLE), _HEADING, entry=("steps", TITLE, 0), folded=True)
    head = Row("&nbsp;", _TABLE_HEAD, beside=lambda canvas, y, room: draw_steps_head(canvas, 0, y, room))
    opening = [heading, Row(set_text(_INTRO), _PLAIN), _Legend(), head]
    first = _skill(skills[0], 0, width, opening)
    others = [row for number, skill in enumerate(skills[1:], 1) for row in _skill(skill, number, width)]
    return [*first, *others, NextPageTemplate("plain"), *_untried(phases)]


def draw_steps_head(canvas: Any, x: float, y: float, width: float) -> None:
    """Draw the head of the steps' table with its captions at y."""
    draw_words(canvas, x, y, "Skill and its steps", colour=QUIET)
    for column, caption in enumerate(("right", "wrong", "prompted", "not seen")):
        canvas.drawCentredString(x + _figure_x(width, column), y, caption)
    canvas.drawString(x + width - STRIP_WIDTH, y, "attempts, oldest first")


def _figure_x(width: float, column: int) -> float:
    return float(width - STRIP_WIDTH - _FIGURES_WIDTH + (column + 0.5) * _FIGURE_PITCH - 1.5 * mm)


def _untried(phases: tuple[PhaseLines, ...]) -> list[Any]:
    titles = [skill.title for phase in phases for skill in phase.skills if not skill.tries]
    if not titles:
        return []
    return [Spacer(0, 2 * mm), Row(set_text(f"Without an attempt: {'; '.join(titles)}.", "The skill"), _PLAIN)]


def _skill(skill: SkillLine, number: int, width: float, opening: Sequence[Any] = ()) -> list[Any]:
    """One skill: its trend, then its steps. A short one stays on a page, of a longer one each step does.

    Args:
        opening: of the whole table, before its first skill.
    """
    head = _skill_head(skill, number, width)
    steps = [_step(step, width) for step in skill.steps]
    whole = [*head, *(row for rows in steps for row in rows)]
    if height_of(whole, width) < _KEPT:
        head, steps = [], [whole]
    rows = table_rows([*opening, *head], steps, width, HEAD if opening else "")
    return [*(rows[:-1] if opening else rows), Spacer(0, 2.5 * mm)]  # the table goes on with the next skill


def _skill_head(skill: SkillLine, number: int, width: float) -> list[Any]:
    title = Row(
        set_text(skill.title, "The skill"), _SKILL,
        entry=(f"steps-{number}", skill.title, 1), beside=partial(_draw_skill, skill),
    )  # fmt: skip
    rows = [title, Row(set_text(_told(skill)), _CAPTION)]
    tall = sum(row.wrap(width, 1e6)[1] for row in rows)
    return [*rows, Spacer(0, max(1.2 * mm, trend_height(len(skill.tries)) + 1.2 * mm - tall))]


def _told(skill: SkillLine) -> str:
    """How many attempts, from when to when, and how many of them hold the standing."""
    first, last = (_day(one) for one in (skill.tries[0], skill.tries[-1]))
    days = first if first == last else f"{first} to {last}"
    holds = sum(one.holds for one in skill.tries)
    rests = f"{holds} in a row" if holds else "none in a row"
    return f"{plural(len(skill.tries), 'attempt')}, {days}. {skill.state_word.capitalize()}: {rests}."


def _day(one: AttemptTold) -> str:
    return one.label.rpartition(" · ")[2]


def _draw_skill(skill: SkillLine, canvas: Any, y: float, width: float) -> None:
    draw_rule(canvas, 0, y + 10.5, width)
    draw_trend(canvas, skill.tries, skill.in_a_row, width - STRIP_WIDTH, y + 7)


def _step(step: StepLine, width: float) -> list[Any]:
    """A step with its counts and marks, then what went wrong at it, the critical first."""
    number, _, words = step.name.partition(" ")
    rows = [Row(set_text(words, "The step"), _STEP, label=(number, 0), beside=partial(_draw_step, step))]
    rows += [Row(_critical(one), _CRITICAL, bar=True) for one in step.went_wrong if one.critical]
    if minor := [_often(one) for one in step.went_wrong if not one.critical]:
        rows.append(Row(set_text(f"{listed(minor)}.", "What went wrong"), _WRONG))
    strip = -(-len(step.marks) // IN_ROW) * PITCH
    tall = sum(row.wrap(width, 1e6)[1] for row in rows)
    return [*rows, Spacer(0, strip - tall)] if strip > tall else rows


def _critical(one: WentWrong) -> str:
    told = set_text(f" {_often(one)}.", "What went wrong")
    return f'<font name="{MEDIUM}" color="{TONES["warm"]}">critical</font>{told}'


def _often(one: WentWrong) -> str:
    return f"{one.label}, {plural(one.times, 'time')}" if one.times > 1 else one.label


def _draw_step(step: StepLine, canvas: Any, y: float, width: float) -> None:
    canvas.setFont(FIGURES, SMALL)
    for column, count in enumerate((step.right, step.wrong, step.prompted, step.not_seen)):
        canvas.setFillColor(INK if count else QUIET)
        canvas.drawCentredString(_figure_x(width, column), y, str(count))
    shapes = [_SHAPES[mark] for mark in step.marks]
    draw_strip(canvas, shapes, width - STRIP_WIDTH, y - 0.6 + SIZE, SIZE, PITCH, IN_ROW)


class _Legend(Flowable):  # type: ignore[misc]  # ReportLab is not typed
    """Every shape of this table with its word."""

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """Return the room it takes."""
        self.width = width
        return width, 17 * mm

    def draw(self) -> None:
        """Draw the marks, four to a line; outcomes stand in the record's own legend."""
        y = 11 * mm
        draw_words(self.canv, 0, y, "Steps", colour=QUIET)
        for place, (mark, shape) in enumerate(_SHAPES.items()):
            x = column_x(2, self.width) + (place % 4) * column_x(10, self.width) / 4
            low = y - place // 4 * 11
            draw_shape(self.canv, shape, x, low - 1, 2.6 * mm)
            draw_words(self.canv, x + 4.2 * mm, low, mark.value)
