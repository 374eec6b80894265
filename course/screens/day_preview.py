"""On the Papers page: which paper; the day sheet and the incident sheet, previewed as they print."""

from __future__ import annotations

from functools import partial

import streamlit as st

from course.access import Sight
from course.answers.day_paper import day_paper
from course.answers.day_state import sessions_on
from course.answers.days import day_words
from course.answers.incident_paper import CONFIDENTIAL, incident_paper
from course.asker import only_own
from course.paper.day_sheet import print_day_sheet
from course.paper.incident_sheet import print_incident_sheet
from course.screens import audit_parts, batch_parts, day_parts, filed_preview, offers, preview
from course.screens.batch_parts import SEVERAL
from course.screens.frame import Screen, end, show_told, telling

RECORD, HOME, DAY, INCIDENT = "Competency record", "Sheet to take home", "Day sheet", "Incident sheet"
AUDIT = "Audit file"


def choose(screen: Screen) -> str:
    """Which paper; one of a day is shown at once, and the page ends with it."""
    filed = filed_preview.names(screen)
    of_all = [*([DAY, INCIDENT] if screen.course.sessions else []), *filed, SEVERAL, AUDIT]
    papers = [RECORD, HOME, *([] if only_own(Sight.PAPERS) else of_all)]
    chosen = st.segmented_control("Which paper", papers, default=RECORD, key="paper-name") or RECORD
    if chosen == AUDIT:
        audit_parts.seal_file(screen)
        end()
    if chosen == SEVERAL:
        batch_parts.show(screen)
        end()
    if chosen in filed:
        filed_preview.show(screen, chosen)
        end()
    if chosen in (DAY, INCIDENT):
        _show_of_day(screen, chosen)
        end()
    return chosen


def _show_of_day(screen: Screen, paper: str) -> None:
    day = day_parts.choose_day(screen)
    size = st.segmented_control("Paper size", ["A4", "Letter"], default="A4", key="paper-size") or "A4"
    sessions = sessions_on(screen.course, day)
    if paper == DAY:
        printing = partial(
            preview.as_bytes, print_day_sheet, screen.ledger, day_paper(screen.ledger, screen.course, sessions)
        )
    else:
        found = [incident_paper(screen.ledger, screen.course, s.id, i.id) for s in sessions for i in s.incidents]
        if not found:
            st.markdown(f"## Nothing was frozen on {day_words(day)}.")
            return
        st.caption(CONFIDENTIAL)
        printing = partial(preview.as_bytes, print_incident_sheet, screen.ledger, found)
    pdf = telling(printing)(size)
    if pdf is None:
        show_told()
        return
    preview.tell_unsigned(screen.ledger)
    name = f"{paper.lower().replace(' ', '-')}.pdf"
    offers.offer(Sight.DAY_PREVIEW_FILE, "Download the PDF", pdf, name, "application/pdf", type="primary")
    preview.show(pdf)
