"""The skill map of a competency record: every skill against every standing, as a page of shapes in columns."""

from __future__ import annotations

from functools import partial
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak

from course.answers.record_answer import PhaseLines, SkillLine
from course.paper.fonts import MEDIUM, set_text
from course.paper.frame import LEAD, QUIET, RULE, SMALL, Row, draw_rule, draw_words, style
from course.paper.kept import height_of
from course.paper.marks import TONES, draw_shape
from course.paper.shapes import mark_shape
from course.paper.skill_block import skill_shape
from course.paper.table import table_rows
from course.words import STANDING_WORDS, Mark, StandingState, plural

HEAD = "map"
"""The template whose pages repeat the head of this table."""
TITLE = "Skill map"

PAPER = HexColor(TONES["paper"])
_STATES = (
    StandingState.NOT_FOR_THIS_UNIT,
    StandingState.NOT_STARTED,
    StandingState.NOT_YET,
    StandingState.AGAIN,
    StandingState.OUT_OF_DATE,
    StandingState.WAITING,
    StandingState.MET_WATCH,
    StandingState.MET,
)
_PITCH = 11.5 * mm
_SHAPE = 2.6 * mm
_TIGHT = 9.2
"""Leading that lets some fifty skills stand on one page of A4."""
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=5 * mm, spaceAfter=1 * mm, keepWithNext=1)
_TABLE_HEAD = style(SMALL, 22)
_WHOLE = 236 * mm
States = tuple[StandingState, ...]


def skill_map(phases: tuple[PhaseLines, ...], width: float) -> list[Any]:
    """Return the rows of the map; none where there is no skill."""
    if not phases:
        return []
    states = states_of(phases)
    heading = Row(set_text(f"{TITLE}: {_finding(phases, states)}"), _HEADING, entry=("map", TITLE, 0))
    beside = partial(_draw_first_head, states)
    lines = [line for phase in phases for line in _phase(phase, states)]
    head = Row("&nbsp;", _TABLE_HEAD, beside=beside)
    room = CondPageBreak(min(height_of([heading, head, *(row for line in lines for row in line)], width), _WHOLE))
    return [room, *table_rows([heading, head], lines, width, HEAD)]


def states_of(phases: tuple[PhaseLines, ...]) -> States:
    """Return the columns: every standing, and "not for this unit" only where a skill has it."""
    found = {skill.state for phase in phases for skill in phase.skills}
    return tuple(state for state in _STATES if state in found or state is not StandingState.NOT_FOR_THIS_UNIT)


def draw_map_head(states: States, canvas: Any, x: float, y: float, width: float) -> None:
    """Draw the head with its captions, in two lines, the lower one at y."""
    draw_words(canvas, x, y, "Phase and skill", colour=QUIET)
    for column, word in enumerate([*(STANDING_WORDS[state] for state in states), "signed"]):
        middle = x + _middle(states, width, column)
        first, last = _two_lines(word)
        canvas.drawCentredString(middle, y + (9.5 if last else 0), first)
        canvas.drawCentredString(middle, y, last)


def _draw_first_head(states: States, canvas: Any, y: float, width: float) -> None:
    draw_map_head(states, canvas, 0, y - 7.5, width)


def _two_lines(word: str) -> tuple[str, str]:
    """A caption of several words in two lines, broken where they come out most alike."""
    words = word.split()
    if len(words) == 1:
        return word, ""
    cut = min(range(1, len(words)), key=lambda at: abs(len(" ".join(words[:at])) - len(" ".join(words[at:]))))
    return " ".join(words[:cut]), " ".join(words[cut:])


def _finding(phases: tuple[PhaseLines, ...], states: States) -> str:
    """How many skills stand where."""
    skills = [skill for phase in phases for skill in phase.skills]
    counts = {state: sum(skill.state is state for skill in skills) for state in reversed(states)}
    told = [f"{count} {STANDING_WORDS[state]}" for state, count in counts.items() if count]
    return f"{plural(len(skills), 'skill')}, {', '.join(told)}"


def _room(states: States) -> float:
    """Width of the columns, with that of the signatures."""
    return float((len(states) + 1) * _PITCH)


def _middle(states: States, width: float, column: int) -> float:
    return float(width - _room(states) + (column + 0.5) * _PITCH)


def _phase(phase: PhaseLines, states: States) -> list[list[Any]]:
    """Its skills, a line each; its name stays with the first of them."""
    room = _room(states)
    told = style(SMALL, 9.5, MEDIUM, spaceBefore=2, rightIndent=room, keepWithNext=1)
    first = Row(set_text(phase.title, "The phase"), told, beside=_draw_phase)
    own = style(SMALL, _TIGHT, leftIndent=3 * mm, rightIndent=room)
    drawn = [partial(_draw, one, states) for one in phase.skills]
    rows = [Row(set_text(one.title, "The skill"), own, beside=d) for one, d in zip(phase.skills, drawn, strict=True)]
    return [[first, *rows[:1]], *([row] for row in rows[1:])]


def _draw_phase(canvas: Any, y: float, width: float) -> None:
    draw_rule(canvas, 0, y + 8, width)


def _draw(line: SkillLine, states: States, canvas: Any, y: float, width: float) -> None:
    """A dotted line to lead the eye, the standing's shape in its column, and a tick where it is signed as it is."""
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.4)
    canvas.setDash(0.4, 2.2)
    canvas.line(width - _room(states), y - 0.2, width, y - 0.2)
    canvas.setDash()
    middle = _middle(states, width, states.index(line.state))
    canvas.setFillColor(PAPER)
    canvas.rect(middle - _SHAPE, y - 1.2, 2 * _SHAPE, _SHAPE, stroke=0, fill=1)
    draw_shape(canvas, skill_shape(line), middle - _SHAPE / 2, y - 1, _SHAPE)
    if line.decision and line.decision.agrees and not line.decision.stale:
        draw_shape(canvas, mark_shape(Mark.DONE), _middle(states, width, len(states)) - _SHAPE / 2, y - 1, _SHAPE)
