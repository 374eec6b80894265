"""A small course with something of everything that papers for the file tell, at fixed moments."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest
from centre_builder import LAST_DAY, Centre, build_centre, critical_mark, seen_at
from finding_examples import set_clock

from course.actions import findings as answering
from course.actions import signing, unit_care
from course.answers.decisions import to_sign
from course.answers.filed_paper import FiledPaper
from course.answers.findings import course_findings
from course.paper.filed_sheet import print_filed
from course.paper.frame import PaperSize
from course.standards.standards import Standards
from course.words import DecisionKind

GOLDEN = Path(__file__).parent / "golden"


@contextmanager
def told_centre(folder: Path, standards: Standards, patch: pytest.MonkeyPatch) -> Iterator[Centre]:
    """Amaru held one skill and was signed, Zoe had a critical error; a unit was on hold; one finding is answered."""
    set_clock(patch, datetime(2026, 10, 1, 9, tzinfo=UTC))
    with build_centre(folder, standards) as c:
        set_clock(patch, datetime(2026, 10, 25, 20, tzinfo=UTC))
        c.hold()
        c.enter("pool-23", critical_mark(), student=c.zoe)
        unit_care.hold(c.ledger, c.lead, c.unit_b, seen_at(22), "Cell 2 reads low.")
        set_clock(patch)
        (ready,) = to_sign(c.view(), c.amaru, LAST_DAY)
        signing.sign(
            c.ledger, c.second, course=c.course, student=c.amaru, skill=ready.skill, decided=DecisionKind.STRICTER,
            as_of=LAST_DAY, rests_on=ready.rests_on, reason="One more on Sunday.",
        )  # fmt: skip
        signing.sign(
            c.ledger, c.lead, course=c.course, student=c.amaru, skill=ready.skill, decided=DecisionKind.AGREED,
            as_of=LAST_DAY, rests_on=ready.rests_on, reason="Seen once more.",
        )  # fmt: skip
        found = course_findings(c.ledger, c.view(), LAST_DAY).findings[0]
        answering.answer_finding(
            c.ledger, c.lead, course=c.course, finding=found.key, rests_on=found.rests_on, reason="Known; noted.",
            as_of=LAST_DAY,
        )  # fmt: skip
        yield c


def printed(answer: FiledPaper, size: PaperSize = "A4") -> pypdf.PdfReader:
    """The paper as a PDF in memory."""
    file = io.BytesIO()
    pages = print_filed(answer, file, size)
    reader = pypdf.PdfReader(file)
    assert len(reader.pages) == pages
    return reader


def words_of(answer: FiledPaper) -> str:
    """Its text line by line; what is made of ids is told as "·", as ids are never the same twice."""
    return told_words(printed(answer))


def told_words(reader: pypdf.PdfReader) -> str:
    """The text of a paper line by line up to its proof, without what is made of ids."""
    text = "\n".join(page.extract_text() for page in reader.pages)
    lines = (" ".join(line.split()) for line in text.partition("Not signed: the centre had no key")[0].splitlines())
    kept = (line for line in lines if line and not re.fullmatch(r"[0-9A-Z]{1,5}( [0-9A-Z.]{1,5})+", line))
    return "".join(
        re.sub(r"\b[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}\b|^[0-9a-f]{8}$|\b(?=[a-z]*\d)[0-9a-f]{8,64}\b", "·", line)
        + "\n"
        for line in kept
    )
