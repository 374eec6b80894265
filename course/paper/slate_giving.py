"""Give out the sheets that a session needs and print them: what the Slate page and the command do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from course.actions.slates import give_out, refuse_other_setting
from course.answers.course_view import view
from course.answers.slate_choice import SlatePlan, plan_slates
from course.answers.slate_sheet import SlateSheet, group_words, sheet_of, slate_sheet
from course.errors import NotFoundError
from course.paper.slate_layout import lay_out
from course.paper.slate_page import SlateSize
from course.paper.slate_sheet import Step, print_slates
from course.record.day_facts import Slate
from course.storage.ledger import Ledger
from course.words import listed, plural


@dataclass(frozen=True)
class PrintedSlates:
    """Sheets as one PDF, in its order; `new` are the ids of those that were given out by this."""

    pdf: bytes
    sheets: tuple[SlateSheet, ...]
    plans: tuple[SlatePlan, ...]
    new: frozenset[str]
    pages: tuple[int, ...]
    """Pages of each sheet."""

    def text(self) -> str:
        """What was printed, in lines: sheet by sheet, and how others are chosen."""
        told = iter(zip(self.sheets, self.pages, strict=True))
        lines = []
        for plan in self.plans:
            group = f", {group_words(plan.group_name)}" if plan.group_name else ""
            lines += ["", f"{plan.session_words}{group}: {listed(list(plan.names))}"]
            for sheet, pages in islice(told, len(plan.skills)):
                how = "given out" if sheet.slate.id in self.new else "given out before, printed again"
                lines.append(f"  {sheet.slate.code}  {sheet.title} ({sheet.skill}), {plural(pages, 'page')}, {how}")
            lines += _choice_lines(plan)
        return "\n".join(lines[1:])

    def plain(self) -> list[dict[str, Any]]:
        """The same as plain data: one entry for each sheet."""
        plans = [plan for plan in self.plans for _ in plan.skills]
        return [
            {
                "number": sheet.slate.code, "id": sheet.slate.id, "session": sheet.session_id, "group": plan.group,
                "skill": sheet.skill, "title": sheet.title, "students": list(plan.students), "tries": plan.tries,
                "pages": pages, "new": sheet.slate.id in self.new, "how_chosen": plan.how,
            }
            for plan, sheet, pages in zip(plans, self.sheets, self.pages, strict=True)
        ]  # fmt: skip


def _choice_lines(plan: SlatePlan) -> list[str]:
    """How the skills came to be these, and how to choose others."""
    if plan.how == "named":
        return []
    lines = ["  Those that were given out to them before."]
    if plan.how == "chosen":
        lines = ["  Chosen: required skills that are missing for somebody; first what has to be seen in this setting."]
    if plan.left:
        lines.append(f"  Missing too: {', '.join(plan.left)}.")
    return [*lines, "  For others, name each with --skill ID."]


def slates_for(
    ledger: Ledger,
    actor: str,
    session: str,
    *,
    skills: Sequence[str] = (),
    students: Sequence[str] = (),
    group: str | None = None,
    tries: int = 1,
    size: SlateSize = "a5",
    step: Step | None = None,
) -> PrintedSlates:
    """Choose what a session needs (see `plan_slates`), give it out by `actor`, and return the PDF.

    Sheets that were given out already are printed again and nothing is appended.

    Raises:
        NotFoundError: no such session, skill, student or group, or nothing that fits is missing.
        RefusedError: a skill is not for this setting, or the actor may not give out sheets.
        PaperError: something cannot be printed; nothing was given out.
    """
    plans = plan_slates(ledger, session, skills=skills, students=students, group=group, tries=tries)
    return give_and_print(ledger, actor, plans, size=size, step=step)


def give_and_print(
    ledger: Ledger, actor: str, plans: Sequence[SlatePlan], *, size: SlateSize = "a5", step: Step | None = None
) -> PrintedSlates:
    """Give out what was planned and return the PDF. It is laid out before anything is appended.

    Raises:
        NotFoundError: nothing is planned.
        RefusedError: a skill is not for this setting, or the actor may not give out sheets.
        PaperError: something cannot be printed; nothing was given out.
    """
    if not plans:
        raise NotFoundError(
            "Nothing that fits this setting is still missing for anybody. Name skills to print sheets all the same."
        )
    for plan in plans:
        _try_out(ledger, plan, size)
    sheets: list[SlateSheet] = []
    new: set[str] = set()
    for plan in plans:
        given = give_out(
            ledger, actor, plan.session, skills=plan.skills, students=plan.students, group=plan.group, tries=plan.tries
        )
        new |= set(given) - set(plan.given)
        sheets += [slate_sheet(ledger, plan.session, slate) for slate in given]
    pages = tuple(len(lay_out(sheet, size)) for sheet in sheets)
    return PrintedSlates(print_slates(sheets, size, step), tuple(sheets), tuple(plans), frozenset(new), pages)


def _try_out(ledger: Ledger, plan: SlatePlan, size: SlateSize) -> None:
    """Lay out what would be given out: a name that cannot be printed is told before a sheet has a number."""
    seen = view(ledger, plan.course)
    for skill in plan.skills:
        refuse_other_setting(seen.sessions[plan.session], seen.adopted.skill(skill))
        slate = Slate(
            id="", event="", code="0000-00000", skill=skill, rubric=seen.adopted.hashes[skill], students=plan.students,
            tries=plan.tries, group=plan.group, issued_by="",
        )  # fmt: skip
        lay_out(sheet_of(seen, seen.sessions[plan.session], seen.adopted.skill(skill), slate), size)
