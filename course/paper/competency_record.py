"""The competency record: one student, one course, as of one day, on paper.

The first pages say how things stand against what is asked, and as a map; then comes every skill with its rule and
evidence, the lines to sign by hand and where the ledger stood; at the end every step over the attempts. It prints the
same frozen answer that the page shows.
"""

from __future__ import annotations

from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer

from course.answers.record_answer import CompetencyRecord, PhaseLines, SkillLine
from course.paper.fonts import FIGURES, MEDIUM, set_text
from course.paper.frame import (
    BODY,
    INK,
    LEAD,
    QUIET,
    SMALL,
    TITLE,
    PaperSize,
    Row,
    Sheet,
    column_x,
    draw_rule,
    draw_share,
    draw_words,
    print_paper,
    style,
    text_width,
)
from course.paper.kept import keep_together
from course.paper.marks import draw_shape, draw_strip
from course.paper.record_requirements import ASKED, draw_asked_head, requirement_rows
from course.paper.record_signatures import signature_rows
from course.paper.shapes import outcome_shape, standing_shape
from course.paper.skill_block import SQUARE, draw_skill_head, skill_rows, skill_shape
from course.paper.skill_map import HEAD as MAP
from course.paper.skill_map import draw_map_head, skill_map, states_of
from course.paper.step_appendix import HEAD as STEPS
from course.paper.step_appendix import draw_steps_head, step_appendix
from course.paper.table import table_rows
from course.record.centre_key import grouped
from course.storage.centre_key import SigningKey
from course.words import OUTCOME_WORDS, RECORD_NOTE, STANDING_WORDS, Outcome, StandingState, plural

PAPER_NAME = "Competency record"

_MET = (StandingState.MET, StandingState.MET_WATCH)
_NAME = style(TITLE, 23, MEDIUM)
_LEAD = style(LEAD, 15.5)
_HEADING = style(LEAD, 15, MEDIUM, spaceBefore=5 * mm, spaceAfter=1.5 * mm, keepWithNext=1)
_CAPTIONS = style(SMALL, 12)
_TABLE_HEAD = style(SMALL, 12, spaceBefore=6 * mm)
_PLAIN = style(BODY, 12.5)
_FACT = style(BODY, 12.5, leftIndent=30 * mm)
_NOTE = style(SMALL, 10.5, textColor=QUIET)
_SQUARE_PITCH = 4.2 * mm
_FEW = 3
_NUMBER_NOTES = (
    "In a row and days: of what the rule asks. Attempts: of the number that the rule is meant for.",
    "Weaker evidence: how many in the row rest in part on one stroke for the whole attempt.",
    "Re-teach: attempts that do not count, owed after a critical error. Good for: days since the last that counts.",
)


def print_competency_record(
    record: CompetencyRecord, out: Path | BinaryIO, size: PaperSize = "A4", key: SigningKey | None = None
) -> int:
    """Print a record as PDF and return its pages; a file is written whole or not at all. `key` signs it.

    Raises:
        PaperError: a text has a letter that no font here has, or the file cannot be written.
    """
    sheet = Sheet(
        PAPER_NAME, record.centre, record.student, _short_code(record), RECORD_NOTE, draw_skill_head,
        record, {"course": record.course_id, "student": record.student_id, "as_of": record.as_of},
        {ASKED: draw_asked_head, MAP: partial(draw_map_head, states_of(record.phases)), STEPS: draw_steps_head},
    )  # fmt: skip
    return print_paper(sheet, partial(_story, record, text_width(size)), out, size, key)


def _short_code(record: CompetencyRecord) -> str:
    head = record.head
    return f"evidence {record.evidence[:8]} · chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:16]}"


def _story(record: CompetencyRecord, width: float) -> list[Any]:
    return [
        *_opening(record, width),
        *_overview(record.phases, width),
        *requirement_rows(record, width),
        *_list("Sign-off", record.sign_offs, width),
        *_list("Exceptions", record.exceptions, width),
        *_list("From elsewhere", record.elsewhere, width),
        *_list("Adjustments", record.adjustments, width, "No other way of doing a skill was agreed."),
        *_list("Consent and papers seen", record.consents, width, "Nothing is noted that was agreed to or seen."),
        *_list("Cautions", record.cautions, width),
        _Legend(),
        *skill_map(record.phases, width),
        *_skills(record.phases, width),
        *_closing(record, width),
        *step_appendix(record.phases, width),
    ]


def _opening(record: CompetencyRecord, width: float) -> list[Any]:
    """Whom it is about, the one sentence that matters, and the facts around it."""
    student = [f"{record.student_id}", f"born {record.birth_year}" if record.birth_year else ""]
    unit = [record.unit_type, record.unit or ""]
    facts = {
        "Student": student,
        "Course": [record.course, record.course_days],
        "Unit": unit,
        "As of": [record.as_of_words],
        **({"Sign-off": [f"{record.sign_off}."]} if record.sign_off else {}),
        "Requirements": [record.requirements],
    }
    rows = [Row(", ".join(map(set_text, filter(None, fact))), _FACT, label=(label, 0)) for label, fact in facts.items()]
    return [
        Row(set_text(record.student, "The name"), _NAME, entry=("summary", "Summary", 0)),
        Spacer(0, 1.5 * mm),
        Row(set_text(record.summary, "The summary"), _LEAD),
        Spacer(0, 4 * mm),
        *rows,
        Row(set_text(record.requirements_notice), style(SMALL, 10.5, leftIndent=30 * mm, textColor=QUIET)),
    ]


def _heading(title: str, key: str) -> list[Any]:
    return [Row(set_text(title), _HEADING, entry=(key, title, 0))]


def _overview(phases: tuple[PhaseLines, ...], width: float) -> list[Any]:
    """Every skill as one square, by phase, under the sentence that says where something is open."""
    if not phases:
        return []
    open_in = [phase.title for phase in phases if _met(phase)[0] < _met(phase)[1]]
    title = "Every phase is met"
    if open_in:
        title = (
            f"Still open: {', '.join(open_in)}"
            if len(open_in) <= _FEW
            else f"Still open in {len(open_in)} of {len(phases)} phases"
        )
    rows = []
    for phase in phases:
        rows.append(Row(set_text(phase.title, "The phase"), _overview_style(width), beside=partial(_draw_phase, phase)))
        rows.append(Spacer(0, max(0.0, (-(-len(phase.skills) // _in_row(width)) - 1) * _SQUARE_PITCH)))
    captions = Row("&nbsp;", _CAPTIONS, beside=_draw_overview_head)
    heading = _heading(f"{title}{_held_back(phases)}", "overview")
    return keep_together([*heading, captions, *rows, *_told(phases)], width)


def _held_back(phases: tuple[PhaseLines, ...]) -> str:
    """Say that an instructor is stricter than the squares."""
    count = sum(bool(skill.decision and skill.decision.held_back) for phase in phases for skill in phase.skills)
    return f"; {plural(count, 'skill')} held back" if count else ""


def _told(phases: tuple[PhaseLines, ...]) -> list[Any]:
    """Say on the first page that something was changed after the fact, and where it is told."""
    amended = [skill for phase in phases for skill in phase.skills if skill.amended]
    if not amended:
        return []
    count = plural(sum(len(skill.amended) for skill in amended), "amendment")
    others = f" and {plural(len(amended) - _FEW, 'other skill')}" if len(amended) > _FEW else ""
    names = ", ".join(skill.title for skill in amended[:_FEW]) + others
    text = f"{count} after the fact, told at the skill: {names}."
    return [Spacer(0, 1.5 * mm), Row(set_text(text, "The skill"), _PLAIN)]


def _overview_style(width: float) -> Any:
    return style(BODY, 14, rightIndent=width - column_x(5, width))


def _in_row(width: float) -> int:
    return int((column_x(8, width) - column_x(5, width)) // _SQUARE_PITCH)


def _draw_overview_head(canvas: Any, y: float, width: float) -> None:
    draw_words(canvas, 0, y, "Phase", colour=QUIET)
    canvas.drawString(column_x(5, width), y, "skills in order")
    canvas.drawCentredString(column_x(9, width) + 4 * mm, y, "met")
    canvas.drawRightString(width, y, "signed")


def _draw_phase(phase: PhaseLines, canvas: Any, y: float, width: float) -> None:
    draw_rule(canvas, 0, y + 11, width)
    shapes = [skill_shape(skill) for skill in phase.skills]
    draw_strip(canvas, shapes, column_x(5, width), y - 1.2 + SQUARE, SQUARE, _SQUARE_PITCH, _in_row(width))
    draw_share(canvas, column_x(9, width) + 4 * mm, y, _met(phase), size=BODY)
    canvas.setFillColor(INK)
    canvas.setFont(FIGURES, BODY)
    canvas.drawRightString(width, y, str(sum(map(_signed, phase.skills))))


def _met(phase: PhaseLines) -> tuple[int, int]:
    """How many skills are met, of those that the course requires and that are for this unit."""
    skills = [s for s in phase.skills if s.required and s.state is not StandingState.NOT_FOR_THIS_UNIT]
    return sum(skill.state in _MET for skill in skills), len(skills)


def _signed(skill: SkillLine) -> bool:
    return skill.decision is not None and skill.decision.agrees and not skill.decision.stale


def _list(title: str, texts: tuple[str, ...], width: float, nothing: str = "") -> list[Any]:
    """Sentences under a heading; `nothing` is said where there are none, else the heading is left out."""
    if not texts and not nothing:
        return []
    first, *others = [Row(set_text(text), _PLAIN) for text in texts or (nothing,)]
    top, apart = [*_heading(title, title.casefold()), first], [[Spacer(0, 1 * mm), row] for row in others]
    middle, ending = chain(*apart[:-2]), [*chain(*apart[-2:])]  # two end it, so that none goes over to a page alone
    if len(others) < 2:
        return keep_together([*top, *ending], width)
    return [*keep_together(top, width), *middle, *keep_together(ending, width)]


class _Legend(Flowable):  # type: ignore[misc]  # ReportLab is not typed
    """Every shape with its word, four to a line."""

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """Return the room it takes."""
        self.width = width
        return width, 34 * mm

    def draw(self) -> None:
        """Draw standings over outcomes."""
        y = 27 * mm
        draw_rule(self.canv, 0, y + 12, self.width)
        shapes = [(standing_shape(state, 0.5), STANDING_WORDS[state]) for state in reversed(StandingState)]
        outcomes = [(outcome_shape(outcome), OUTCOME_WORDS[outcome]) for outcome in reversed(Outcome)]
        for caption, entries in (("Standings", shapes), ("Outcomes", outcomes)):
            draw_words(self.canv, 0, y, caption, colour=QUIET)
            for place, (shape, word) in enumerate(entries):
                x = column_x(2, self.width) + (place % 4) * column_x(10, self.width) / 4
                low = y - place // 4 * 11
                draw_shape(self.canv, shape, x, low - 1, 2.8 * mm)
                draw_words(self.canv, x + 4.2 * mm, low, word)
            y -= 26
        draw_words(self.canv, 0, y, "Numbers", colour=QUIET)
        for place, note in enumerate(_NUMBER_NOTES):
            draw_words(self.canv, column_x(2, self.width), y - place * 11, note)


def _skills(phases: tuple[PhaseLines, ...], width: float) -> list[Any]:
    """All skills as one long table: its head is repeated; a phase's name and its first skill keep together."""
    blocks = []
    for number, phase in enumerate(phases, start=1):
        heading = _heading(phase.title, f"phase-{number}")
        for skill in phase.skills:
            blocks.append([*heading, *skill_rows(skill, width)])
            heading = []
    if not blocks:
        return []
    head = Row("&nbsp;", _TABLE_HEAD, beside=lambda canvas, y, room: draw_skill_head(canvas, 0, y, room))
    return table_rows([head], blocks, width, "rows")


def _closing(record: CompetencyRecord, width: float) -> list[Any]:
    """Lines to sign by hand, and where the ledger stood."""
    provenance = [*_heading("Where this record comes from", "ledger"), *_provenance(record)]
    return [*signature_rows(record, width), *keep_together(provenance, width)]


def _provenance(record: CompetencyRecord) -> list[Any]:
    head = record.head
    holder = set_text(record.centre, "The centre")
    told_by = (
        "Evidence stands for the events and rubrics that this record rests on. Whoever holds the ledger of "
        f"{holder} can look up this event and compare the digits: a change to the ledger shows there."
    )
    facts = {
        "Chain": head.chain,
        "Event": str(head.seq),
        "Hash": grouped(head.hash, 8),
        "Evidence": grouped(record.evidence, 8),
    }
    value = style(SMALL, 10.5, FIGURES, leftIndent=18 * mm)
    rows = [Row(set_text(text), value, label=(label, 0)) for label, text in facts.items()]
    return [*rows, Spacer(0, 1 * mm), Row(told_by, _NOTE)]
