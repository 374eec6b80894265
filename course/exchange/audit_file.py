"""The audit file: a course's or centre's whole story in one zip, with a check that needs the installed package alone.

It is a bundle with more in it: `audit.pdf` for people, `tables/*.csv` for spreadsheets, the events for the check. What
stands in tables and paper is derived from the very events that are in the file, laid out beside it, so that it fits
them also while the centre works on. Names and texts leave the centre only towards somebody who is named.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from hashlib import file_digest
from pathlib import Path

from course import __version__
from course.answers.audit import audit_answer
from course.answers.audit_tables import COLUMNS, NAMED, centre_rows, course_rows, event_row, named_rows, text_rows
from course.answers.centre_keys import paper_key
from course.answers.course_view import view
from course.errors import RefusedError
from course.exchange.archive import pack
from course.exchange.audit_manifest import AuditCourse, AuditManifest
from course.exchange.bundle import (
    EVENTS,
    MANIFEST,
    Listed,
    Progress,
    listed_bytes,
    manifest_bytes,
    rubric_members,
    skill_forms,
    write_events,
)
from course.exchange.table_files import TableFiles, member_of
from course.moments import read_stored
from course.paper.audit_file import print_audit_file
from course.paper.frame import PaperSize
from course.record.chain import Event
from course.record.facts import Adoption, Course
from course.record.lines import event_in
from course.record.text import clean_line
from course.storage.inspection import verify
from course.storage.laying_out import lay_out
from course.storage.ledger import Ledger, open_ledger
from course.storage.lookup import adopted, all_of

PAPER = "audit.pdf"
PROGRAM = f"Loopledger {__version__}"


@dataclass(frozen=True)
class Sealed:
    """What was sealed."""

    manifest: AuditManifest
    pages: int
    tables: int


Step = Callable[[int, int, str], None]
"""Told (done, of, what)."""


def seal(
    ledger: Ledger, out: Path, *, course: str | None = None, as_of: date | None = None, given_to: str | None = None,
    size: PaperSize = "A4", step: Step | None = None,
) -> Sealed:  # fmt: skip
    """Write an audit file, whole or not at all; the ledger is only read.

    Args:
        ledger: the centre's ledger; it may be in use.
        out: the file to make; there must be none of that name.
        course: its tables and pages are of this course alone; of every course unless given. The events are all.
        as_of: standings and minutes are as of this day; of each course's usual day unless given.
        given_to: who gets the file. Names and texts are in it only where this is said, and it says so.
        size: the paper's.
        step: told (done, of, what).

    Raises:
        RefusedError: there is a file of that name, or nobody can read whom it is for.
        DamageError: the events do not fit their chains.
        StorageError: it cannot be written.
        PaperError: a text has a letter that no font here has.
    """
    if out.exists():
        raise RefusedError(f"{out} is there already. Name another file; nothing was changed.")
    given_to = None if given_to is None else _whom(given_to)
    report = verify(ledger.folder, _part(step, "check"))
    with tempfile.TemporaryDirectory(prefix=".seal-", dir=out.parent) as place:
        beside, lines = Path(place), Path(place) / EVENTS
        chains, listed = write_events(
            lines, ledger.centre_id, ledger.chain_events(), count=ledger.count_events(), progress=_part(step, "events")
        )
        with laid_out(beside / "laid", ledger.centre_id, lambda: events_in(lines), _part(step, "facts")) as laid:
            if given_to:
                laid.ledger.vault = ledger.vault
            courses = _courses(laid.ledger, course, as_of)
            tables = write_tables(
                beside, laid, courses, lambda: events_in(lines), named=bool(given_to), progress=_part(step, "tables")
            )
            answer = audit_answer(
                laid.ledger, [(one.course, date.fromisoformat(one.as_of)) for one in courses], given_to,
                findings=report.findings, notices=report.notices,
            )  # fmt: skip
            pages = print_audit_file(answer, beside / PAPER, size, paper_key(ledger))
            rubrics = rubric_members(_forms(laid.ledger))
        small = [(PAPER, (beside / PAPER).read_bytes()), *rubrics]
        files = (
            listed, *(listed_bytes(*one) for one in small), *(_listed(member_of(t), f) for t, f in tables.items()),
        )  # fmt: skip
        manifest = AuditManifest(
            centre=ledger.centre_id, events=sum(one.events for one in chains), chains=chains, files=files,
            courses=courses, named=bool(given_to), given_to=given_to, program=PROGRAM,
        )  # fmt: skip
        sealed = [(member_of(name), file) for name, file in tables.items()]
        pack(out, [(MANIFEST, manifest_bytes(manifest)), (EVENTS, lines), *small, *sealed])
    return Sealed(manifest, pages, len(tables))


@dataclass(frozen=True)
class Laid:
    """A ledger laid out from the events of a file."""

    ledger: Ledger
    told: tuple[tuple[str, ...], tuple[str, ...]]
    """What checkpoints find changed, and what they say of chains that are not here."""


@contextmanager
def laid_out(
    folder: Path, centre: str, events: Callable[[], Iterator[Event]], progress: Progress | None
) -> Iterator[Laid]:
    """Lay events out as a ledger without keys, for as long as it is asked."""
    folder.mkdir()
    findings, notices = lay_out(folder, centre, events(), progress)
    with open_ledger(folder) as ledger:
        yield Laid(ledger, (tuple(findings), tuple(notices)))


def write_tables(
    folder: Path,
    laid: Laid,
    courses: Sequence[AuditCourse],
    events: Callable[[], Iterator[Event]],
    *,
    named: bool,
    progress: Progress | None = None,
) -> dict[str, Path]:
    """Write every table into a folder; return the files by the tables' names."""
    made = TableFiles(folder, COLUMNS | (NAMED if named else {}))
    try:
        moment = datetime.min.replace(tzinfo=UTC)
        of = laid.ledger.count_events()
        for done, one in enumerate(events(), 1):
            made.write(event_row(one))
            if named:
                made.write(text_rows(laid.ledger, one))
            moment = max(moment, read_stored(one.recorded_at))
            if progress and done % 1000 == 0:
                progress(done, of)
        made.write(centre_rows(laid.ledger))
        if named:
            made.write(named_rows(laid.ledger))
        for course in courses:
            seen = view(laid.ledger, course.course)
            made.write(course_rows(laid.ledger, seen, date.fromisoformat(course.as_of), moment))
    finally:
        made.close()
    return made.files


def _whom(text: str) -> str:
    try:
        if whom := clean_line(text):
            return whom
    except ValueError as error:
        raise RefusedError(f"Who gets the file: {error}. Nothing was written.") from error
    raise RefusedError("Who gets the file is empty. Name somebody, or leave it out. Nothing was written.")


def events_in(lines: Path) -> Iterator[Event]:
    """Yield the events of a file of lines that was written here."""
    with lines.open("rb") as source:
        for line in source:
            yield event_in(line.rstrip(b"\n"))


def _courses(ledger: Ledger, wanted: str | None, as_of: date | None) -> tuple[AuditCourse, ...]:
    found = sorted(all_of(ledger, Course), key=lambda one: (one.first_day, one.id))
    return tuple(
        AuditCourse(course=one.id, as_of=(as_of or view(ledger, one.id).usual_day).isoformat())
        for one in found
        if wanted in (None, one.id)
    )


def _forms(ledger: Ledger) -> dict[str, bytes]:
    """Every form of a skill that was ever adopted, by its hash."""
    forms = []
    for adoption in all_of(ledger, Adoption):
        standards = adopted(ledger, adoption.id).standards
        forms += [standards.written_skill(skill) for skill in standards.skills]
    return skill_forms(forms)


def _listed(name: str, file: Path) -> Listed:
    with file.open("rb") as source:
        return Listed(path=name, bytes=file.stat().st_size, sha256=file_digest(source, "sha256").hexdigest())


def _part(step: Step | None, what: str) -> Progress | None:
    return (lambda done, of: step(done, of, what)) if step else None
