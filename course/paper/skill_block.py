"""One skill on the competency record: a block of rows that stays together, and the head of its table."""

from __future__ import annotations

from collections import Counter
from functools import partial
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import Spacer

from course.answers.record_answer import CriticalSeen, DecisionLine, SkillLine
from course.paper.fonts import MEDIUM, set_text
from course.paper.frame import BODY, QUIET, SMALL, Row, draw_rule, draw_share, draw_words, style
from course.paper.marks import TONES, draw_shape, draw_strip
from course.paper.shapes import Shape, how_far, outcome_shape, standing_shape
from course.words import SETTING_WORDS, Outcome, StandingState, listed

TEXT_X = 7 * mm
STRIP_WIDTH = 38 * mm
FIGURE_PITCH = 16.5 * mm
FIGURES_WIDTH = STRIP_WIDTH + 3 * FIGURE_PITCH + 4.5 * mm
MARK, MARK_PITCH = 2.8 * mm, 3.7 * mm
MARKS_IN_ROW = int(STRIP_WIDTH // MARK_PITCH)
SQUARE = 3.2 * mm

_TITLE = style(BODY, 13, MEDIUM, leftIndent=TEXT_X, rightIndent=FIGURES_WIDTH)
_DETAIL = style(SMALL, 10.5, leftIndent=TEXT_X, textColor=QUIET)
_ACT = style(SMALL, 10.5, leftIndent=TEXT_X)
_CRITICAL = style(SMALL, 10.5, leftIndent=TEXT_X + 3 * mm)
_GAP = 1.6 * mm


def draw_skill_head(canvas: Any, x: float, y: float, width: float) -> None:
    """Draw the head of the skills' table with its captions at y."""
    draw_words(canvas, x + TEXT_X, y, "Skill, standing, rule and evidence", colour=QUIET)
    for column, caption in enumerate(("in a row", "days", "attempts")):
        canvas.drawCentredString(x + _figure_x(width, column), y, caption)
    canvas.drawString(x + width - STRIP_WIDTH, y, "outcomes, oldest first")


def skill_shape(line: SkillLine) -> Shape:
    """Return the standing's shape, a "not yet" filled by how far it has come."""
    return standing_shape(line.state, how_far(line.streak, line.in_a_row, line.days, line.distinct_days))


def skill_rows(line: SkillLine, width: float) -> list[Any]:
    """Return the rows of one skill, to be kept together on a page."""
    title = Row(set_text(line.title, "The skill"), _TITLE, beside=partial(_draw_figures, line))
    strip = -(-len(line.outcomes) // MARKS_IN_ROW) * MARK_PITCH
    # The sentence runs the full width unless the strip of outcomes comes down beside it.
    beside = STRIP_WIDTH + 2 * mm if strip > title.wrap(width, 1e6)[1] else 0
    rows = [title, Row(_standing_sentence(line), style(BODY, 12.5, leftIndent=TEXT_X, rightIndent=beside))]
    rows += _reserve(rows, strip, width)
    if line.state is not StandingState.NOT_FOR_THIS_UNIT:
        rows.append(Row(_evidence(line), _DETAIL))
        rows += [] if _is_plain(line.decision) else [Row(_act(line.decision), _ACT)]
    for text in line.amended:
        rows += [Spacer(0, 0.6 * mm), Row(_amended(text), _ACT)]
    for critical in line.criticals:
        rows += [Spacer(0, 1 * mm), Row(_critical(critical), _CRITICAL, bar=True)]
    return [*rows, Spacer(0, _GAP)]


def _figure_x(width: float, column: int) -> float:
    return float(width - FIGURES_WIDTH + (column + 0.5) * FIGURE_PITCH)


def _draw_figures(line: SkillLine, canvas: Any, y: float, width: float) -> None:
    """Draw rule, standing, three shares and the strip of outcomes beside a skill's title."""
    draw_rule(canvas, 0, y + 10.5, width)
    draw_shape(canvas, skill_shape(line), 0.4 * mm, y - 1, SQUARE)
    if line.state is StandingState.NOT_FOR_THIS_UNIT:
        return
    shares = ((line.streak, line.in_a_row), (line.days, line.distinct_days), (line.attempts, line.budget))
    for column, (share, word) in enumerate(zip(shares, ("asked", "asked", "meant"), strict=True)):
        draw_share(canvas, _figure_x(width, column), y, share, beyond=word, room=FIGURE_PITCH / 2)
    shapes = [outcome_shape(Outcome(outcome)) for outcome in line.outcomes]
    draw_strip(canvas, shapes, width - STRIP_WIDTH, y - 0.8 + MARK, MARK, MARK_PITCH, MARKS_IN_ROW)


def _reserve(rows: list[Any], strip: float, width: float) -> list[Any]:
    """Return the space that a long strip needs below the text beside it."""
    tall = sum(row.wrap(width, 1e6)[1] for row in rows)
    return [Spacer(0, strip - tall)] if strip > tall else []


def _standing_sentence(line: SkillLine) -> str:
    """Return the sentence led by the standing's word in bold, without saying the word twice, and a plain act."""
    word, sentence = line.state_word, _stopped(line.sentence)
    if sentence.casefold().startswith(word.casefold()):
        word, sentence = sentence[: len(word)], sentence[len(word) :]
    else:
        sentence = f". {sentence}"
    act = ""
    if line.state is not StandingState.NOT_FOR_THIS_UNIT and _is_plain(line.decision):
        act = f" {_act(line.decision)}"
    return f'<font name="{MEDIUM}">{set_text(word)}</font>{set_text(sentence, "The standing")}{act}'


def _evidence(line: SkillLine) -> str:
    """Return rule and evidence as markup, small and quiet; how many attempts there were stands above."""
    parts = [f"Rule: {_stopped(line.rule)}"]
    if line.settings and line.state is not StandingState.MET:  # what is met has every setting of its rule
        parts.append(f"In a row: {listed([SETTING_WORDS.get(word, word) for word in line.settings])}.")
    if line.observers:
        parts.append(f"Seen by {listed(list(line.observers))}.")
    if line.outcomes:
        parts.append(f"Outcomes: {_counted(line.outcomes)}.")
    if line.weaker_evidence:
        parts.append(f"Weaker evidence:\u00a0{line.weaker_evidence}.")
    return " ".join(set_text(part, "The evidence") for part in parts)


def _counted(outcomes: tuple[str, ...]) -> str:
    """Return how often each came; number and word stay on one line."""
    return ", ".join(f"{count}\u00a0{outcome}" for outcome, count in Counter(outcomes).most_common())


def _is_plain(decision: DecisionLine | None) -> bool:
    """Whether nothing is to be told of an act but that it was done, or was not."""
    return decision is None or (decision.agrees and not decision.stale and not decision.reason)


def _act(decision: DecisionLine | None) -> str:
    if decision is None:
        return "Not\u00a0signed."
    words = f'<font name="{MEDIUM}">{set_text(_stopped(decision.sentence), "The decision")}</font>'
    if decision.reason and decision.reason not in decision.sentence:
        words += f" Reason: {set_text(_stopped(decision.reason), 'The reason')}"
    if decision.stale:
        words += f' <font name="{MEDIUM}">Signed on an older record</font>: what it rests on has changed since.'
    return words


def _amended(text: str) -> str:
    """Return a change that was made after the fact, led by the word for it."""
    told = set_text(_stopped(text[:1].lower() + text[1:]), "The amendment")
    return f'<font name="{MEDIUM}">amended</font> {told}'


def _critical(seen: CriticalSeen) -> str:
    """Return the critical error in words: when, where, what, what can follow, and what cleared it."""
    step = seen.step.strip().rstrip(".")
    parts = [f"{seen.day}, {step}: {_stopped(_without_step(step, seen.label))}", _stopped(seen.consequence)]
    if seen.observers:
        parts.insert(1, f"Seen by {listed(list(seen.observers))}.")
    told = " ".join(set_text(part, "The critical error") for part in parts)
    warm = TONES["warm"]
    return (
        f'<font name="{MEDIUM}" color="{warm}">critical</font> {told} '
        f'<font name="{MEDIUM}">{set_text(_stopped(seen.cleared))}</font>'
    )


def _without_step(step: str, label: str) -> str:
    """Return what went wrong without the step's name before it, which stands there already."""
    name, colon, wrong = label.partition(": ")
    return wrong if colon and step.startswith(name) else label


def _stopped(text: str) -> str:
    """Return a sentence with its full stop."""
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."
