"""The papers of a day by their names: what is asked for in words becomes a printed file and a sentence about it."""

from __future__ import annotations

from pathlib import Path

from course.answers.centre_keys import paper_key
from course.answers.course_view import CourseView
from course.answers.day_paper import day_paper
from course.answers.day_state import named_sessions
from course.answers.incident_paper import incident_paper
from course.errors import NotFoundError
from course.paper.day_sheet import print_day_sheet
from course.paper.frame import PaperSize
from course.paper.incident_sheet import print_incident_sheet
from course.storage.ledger import Ledger
from course.words import listed, plural

DAY_PAPERS = ("day-sheet", "incident")


def print_of_day(ledger: Ledger, seen: CourseView, wanted: str, paper: str, out: Path, size: PaperSize) -> str:
    """Print the day sheet, or the incident sheets, of a session or a whole day; return what was printed.

    Args:
        wanted: a session's title or id, or a day like 2026-10-22.
        paper: one of `DAY_PAPERS`.

    Raises:
        NotFoundError: there is no such session or day, or nothing was frozen in it.
        PaperError: it cannot be printed; no file was written.
    """
    sessions = named_sessions(seen, wanted)
    titles = listed([session.title for session in sessions])
    if paper == "day-sheet":
        pages = print_day_sheet(day_paper(ledger, seen, sessions), out, size, paper_key(ledger))
        return f"{out}: day sheet of {titles}, {plural(pages, 'page')}."
    found = [incident_paper(ledger, seen, s.id, incident.id) for s in sessions for incident in s.incidents]
    if not found:
        raise NotFoundError(f"Nothing was frozen in {titles}, so there is no incident sheet. Nothing was printed.")
    pages = print_incident_sheet(found, out, size, paper_key(ledger))
    return f"{out}: {plural(len(found), 'incident')} in {titles}, {plural(pages, 'page')}. Confidential."
