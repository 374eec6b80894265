"""Papers, tables and codes that carry what people typed: the text is put in by its act, then looked for."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from bundle_examples import members_of
from centre_builder import LAST_DAY, Centre, critical_mark, sheet_of
from day_builder import Day
from hostile_desk import Drive, Said
from hostile_fields import first_event
from pypdf import PdfReader
from pypdf.generic import IndirectObject

from course.access import Sight
from course.actions import amending, courses, day, gate_papers, incident
from course.answers import observers_export
from course.answers.audit import audit_answer
from course.answers.competency import competency_record
from course.answers.csv_text import csv_text
from course.answers.day_paper import day_paper
from course.answers.findings import course_findings
from course.answers.hours import hours
from course.answers.incident_paper import incident_paper
from course.answers.observers import observers
from course.answers.origin_of import standing_origin
from course.answers.oxygen import oxygen
from course.answers.session_times import session_times
from course.answers.slate_sheet import slate_sheet
from course.answers.student_page import student_page
from course.errors import CourseError
from course.exchange.audit_file import seal
from course.paper.audit_file import print_audit_file
from course.paper.competency_record import print_competency_record
from course.paper.day_sheet import print_day_sheet
from course.paper.incident_sheet import print_incident_sheet
from course.paper.origin_sheet import print_origin
from course.paper.slate_sheet import print_slates
from course.paper.take_home import print_take_home
from course.record.paper_document import MEMBER
from course.screens.finding_parts import as_csv
from course.screens.hours_charts import bars_csv
from course.words import SpanRole

NETWORK_WORDS = ("/URI", "/Launch", "/JavaScript", "/GoToR", "/SubmitForm")


def filled(c: Centre) -> Centre:
    """A pool day with something for every paper and every table."""
    for person, role in ((c.amaru, SpanRole.STUDENT), (c.lead, SpanRole.TEACHING)):
        Day(c).leaves(Day(c).comes(person, role))
    whole = sheet_of(c.skill())
    c.enter("pool-22", critical_mark(), others=((c.second, whole), (c.candidate, whole)))
    courses.record_times(
        c.ledger, c.lead,
        [courses.water_time(c.lead, session=c.sessions["pool-22"], person=c.amaru, loop_minutes=40)],
    )  # fmt: skip
    return c


def renamed(c: Centre, text: str, of: str = "", field: str = "name") -> None:
    """Give somebody or something the hostile text as its name, by the act that corrects it."""
    amending.correct(c.ledger, c.lead, first_event(c, of or c.amaru), "Misread.", private_change={field: text})


@dataclass(frozen=True)
class Taken:
    """Something that is taken away: how it is made, how a text comes into it, and who may take it."""

    make: Callable[[Centre], bytes | str]
    put: Callable[[Centre, str], object]
    sight: Sight
    events: int = 1


# --- PDF ----------------------------------------------------------------------------------------------------------


def _record(c: Centre) -> bytes:
    return _bytes(print_competency_record, competency_record(c.ledger, c.view(), c.amaru, LAST_DAY))


def _take_home(c: Centre) -> bytes:
    return _bytes(print_take_home, student_page(c.view(), c.amaru, LAST_DAY))


def _day_sheet(c: Centre) -> bytes:
    seen = c.view()
    sessions = [one for key, one in seen.sessions.items() if key == c.sessions["pool-22"]]
    return _bytes(print_day_sheet, day_paper(c.ledger, seen, sessions))


def _incident(c: Centre) -> bytes:
    which = Day(c).frozen_events() and next(iter(Day(c).session.incidents)).id
    return _bytes(print_incident_sheet, [incident_paper(c.ledger, c.view(), c.sessions["pool-22"], which)])


def _slate(c: Centre) -> bytes:
    return print_slates([slate_sheet(c.ledger, c.sessions["pool-22"], Day(c).session.slates[0].id)])


def _origin(c: Centre) -> bytes:
    return _bytes(print_origin, standing_origin(c.ledger, c.view(), c.amaru, c.skill(), LAST_DAY))


def _audit(c: Centre) -> bytes:
    return _bytes(print_audit_file, audit_answer(c.ledger, [(c.course, LAST_DAY)], "the agency's office"))


def _bytes(printing: Callable[..., int], answer: Any) -> bytes:
    out = io.BytesIO()
    printing(answer, out)
    return out.getvalue()


def papers(c: Centre) -> Centre:
    """All that the papers and the tables are about, made once: the text is put in again and again."""
    filled(c)
    Day(c).sheet()
    Day(c).freeze(note="All are out.")
    return c


def pdf(one: Taken) -> Drive:
    """A paper that is printed after the text was put in; read back by pypdf, looked through for what is not paper."""

    def act(c: Centre, text: str) -> Said:
        one.put(c, text)
        try:
            printed = one.make(c)
        except CourseError as error:
            return Said(error.sentence, events=one.events)
        assert isinstance(printed, bytes)
        return Said(kept=_read_back(printed, text), events=one.events)

    return Drive("papers", papers, act, again=True)


def _read_back(printed: bytes, text: str) -> str:
    """The text as it stands on the paper: its own words where all of them are there, else what the paper says."""
    refuse_more_than_paper(printed, text)
    said = _bare("".join(page.extract_text() for page in PdfReader(io.BytesIO(printed)).pages))
    return text if _bare(text) in said else said


def _bare(text: str) -> str:
    """Letters alone: a line breaks wherever its column ends."""
    return "".join(text.split())


def refuse_more_than_paper(printed: bytes, text: str) -> None:
    """Nothing but its own data is embedded, nothing linked or run; its description does not tell whom it is about."""
    reader = PdfReader(io.BytesIO(printed))
    words = {key: str(value) for key, value in (reader.metadata or {}).items()}
    assert not any(_bare(text) in _bare(value) for value in words.values()), words
    assert set(reader.attachments) <= {MEMBER}  # a paper's own data, made from the object that it prints
    for page in reader.pages:
        assert not [note for note in page.get("/Annots", []) if note.get_object().get("/Subtype") == "/Link"]
        assert list(page.images) == []
    for number in range(1, int(str(reader.trailer["/Size"]))):
        shown = str(reader.get_object(IndirectObject(number, 0, reader)))
        assert not [word for word in NETWORK_WORDS if word in shown], shown[:200]


def _note(c: Centre, text: str) -> None:
    one = Day(c).session.incidents[0].id
    incident.add_note(c.ledger, c.lead, c.sessions["pool-22"], one, text, Day(c).at(15, 20))


def _plan(c: Centre, text: str) -> None:
    day.plan_site(c.ledger, c.lead, [c.sessions["pool-22"]], emergency=None, plan=text)


def _voided(c: Centre, text: str) -> None:
    attempt = c.enter("pool-23")
    amending.withdraw(c.ledger, c.lead, first_event(c, attempt), text)


def _paper_seen(c: Centre, text: str) -> None:
    asked = next(one for one in c.view().profile.prerequisites if one.proof == "signed_form")
    gate_papers.note_proof(c.ledger, c.lead, c.course, c.amaru, asked.id, "2026-10-20", paper=text)


def _guardian(c: Centre, text: str) -> None:
    gate_papers.note_consent(
        c.ledger, c.lead, c.course, c.amaru, stages=["pool"], day="2026-10-20", guardian=text
    )  # fmt: skip


def _another_way(c: Centre, text: str) -> None:
    gate_papers.approve_adjustment(
        c.ledger, c.lead, c.course, c.amaru, c.skill().id, how=text, day="2026-10-20"
    )  # fmt: skip


PRINTED: dict[str, Taken] = {
    "competency record, paper seen": Taken(_record, _paper_seen, Sight.PAPER_FILE),
    "competency record, guardian": Taken(_record, _guardian, Sight.PAPER_FILE),
    "competency record, another way": Taken(_record, _another_way, Sight.PAPER_FILE),
    "competency record, name": Taken(_record, renamed, Sight.PAPER_FILE),
    "competency record, reason": Taken(_record, _voided, Sight.PAPER_FILE, 5),
    "sheet to take home, name": Taken(_take_home, renamed, Sight.TAKE_HOME_FILE),
    "day sheet, name": Taken(_day_sheet, renamed, Sight.DAY_FILE),
    "day sheet, site plan": Taken(_day_sheet, _plan, Sight.DAY_FILE),
    "incident sheet, name": Taken(_incident, renamed, Sight.INCIDENT_FILE),
    "incident sheet, note": Taken(_incident, _note, Sight.INCIDENT_FILE),
    "slate sheet, skill's session": Taken(
        _slate, lambda c, text: renamed(c, text, c.sessions["pool-22"], "title"), Sight.SHEETS_FILE
    ),
    "show why, name": Taken(_origin, renamed, Sight.WHY_FILE),
    "audit paper, name": Taken(_audit, renamed, Sight.AUDIT_FILE),
    "audit paper, course": Taken(_audit, lambda c, text: renamed(c, text, c.course, "title"), Sight.AUDIT_FILE),
}
PDF: dict[str, Drive] = {name: pdf(one) for name, one in PRINTED.items()}


# --- CSV ----------------------------------------------------------------------------------------------------------


def _findings(c: Centre) -> str:
    return as_csv(course_findings(c.ledger, c.view(), LAST_DAY, c.lead))


def _water(c: Centre) -> str:
    return session_times(c.view(), c.sessions["pool-22"]).water_csv()


def _who_was_where(c: Centre) -> str:
    return session_times(c.view(), c.sessions["pool-22"]).csv()


def _bars(c: Centre) -> str:
    return bars_csv(hours(c.view(), LAST_DAY).students)


def _tables(c: Centre) -> str:
    """Every table of an audit file that was given to somebody, one after the other."""
    out = c.ledger.folder / "sealed.zip"
    out.unlink(missing_ok=True)
    seal(c.ledger, out, as_of=LAST_DAY, given_to="the agency's office")
    found = members_of(out)
    out.unlink()
    return "".join(content.decode("utf-8-sig") for name, content in found if name.endswith(".csv"))


def table(one: Taken) -> Drive:
    """A table with a name in it: the cell that begins with the text, as a reader of RFC 4180 gives it back."""

    def act(c: Centre, text: str) -> Said:
        one.put(c, text)
        made = one.make(c)
        assert isinstance(made, str)
        cells = [cell for row in csv.reader(io.StringIO(made.lstrip("\ufeff"))) for cell in row]
        found = {cell[: cell.index(text) + len(text)] for cell in cells if text in cell[: len(text) + 1]}
        assert len(found) == 1, found
        return Said(kept=found.pop(), events=1)

    return Drive("papers", papers, act, again=True)


def one_cell(_: Centre, text: str) -> Said:
    """A text cell of a table beside numbers that are less than nothing, which stay as they are."""
    read = csv.reader(io.StringIO(csv_text(("a", "b", "c"), [(text, -1.5, -3)])[1:], newline=""))
    (_, (cell, number, whole)) = read
    assert (number, whole) == ("-1.5000", "-3")
    return Said(kept=cell)


TABLES: dict[str, Taken] = {
    "water times": Taken(_water, renamed, Sight.TIMES_FILE),
    "who was where": Taken(_who_was_where, renamed, Sight.TIMES_FILE),
    "hours": Taken(_bars, renamed, Sight.CHART_FILE),
    "observers": Taken(
        lambda c: observers_export.pairs_csv(observers(c.view(), c.lead, LAST_DAY)),
        lambda c, text: renamed(c, text, c.second),
        Sight.OBSERVERS_FILE,
    ),
    "practice sheets": Taken(
        lambda c: observers_export.practice_csv(observers(c.view(), c.lead, LAST_DAY)),
        lambda c, text: renamed(c, text, c.candidate),
        Sight.OBSERVERS_FILE,
    ),
    "findings": Taken(_findings, renamed, Sight.FINDINGS_FILE),
    "oxygen": Taken(lambda c: oxygen(c.view(), LAST_DAY).csv(), renamed, Sight.OXYGEN_FILE),
    "audit tables": Taken(_tables, renamed, Sight.AUDIT_FILE),
}
CSV: dict[str, Drive] = {
    "a cell": Drive("papers", papers, one_cell, again=True),
    **{name: table(one) for name, one in TABLES.items()},
}
