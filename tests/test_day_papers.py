"""Day sheet and incident sheet: read back from the PDF, on one page, hostile text, and the command that prints them."""

from __future__ import annotations

import io
import re
import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdf
import pytest
from centre_builder import ODD_NAME, Centre
from click.testing import CliRunner, Result
from day_builder import Day

from course.actions import amending, courses, day, incident
from course.answers.day_paper import CAUTIONS, DayPaper, SheetGroup, SheetPerson, day_paper
from course.answers.day_state import sessions_on
from course.answers.incident_paper import CONFIDENTIAL, IncidentPaper, NoteLine, incident_paper
from course.commands import main
from course.errors import ExitCode, NotFoundError, PaperError
from course.paper.day_sheet import print_day_sheet
from course.paper.incident_sheet import print_incident_sheet
from course.words import SpanRole

HOSTILE = '<img src="/etc/passwd"> <b>unclosed & {x} \\n **bold** %s'
BLAME = re.compile(
    r"\b(fault of|blame|guilty|negligen|careless|should have|failed to|mistake|pass|fail|mastered)", re.I
)


@pytest.fixture
def pool(small_centre: Centre) -> Day:
    """The pool day, with two people in and an attempt under way."""
    made = Day(small_centre)
    made.comes(small_centre.amaru)
    made.comes(small_centre.lead, SpanRole.TEACHING)
    return made


def paper_of(pool: Day) -> DayPaper:
    """The pool session's day sheet."""
    seen = pool.centre.view()
    return day_paper(pool.centre.ledger, seen, [seen.sessions[pool.id]])


def incident_of(pool: Day, which: str) -> IncidentPaper:
    """One incident, ready to print."""
    return incident_paper(pool.centre.ledger, pool.centre.view(), pool.id, which)


def printed(printing: Any, paper: Any, size: str = "A4") -> tuple[pypdf.PdfReader, bytes]:
    """The paper as a PDF, and its bytes."""
    file = io.BytesIO()
    pages = printing(paper, file, size)
    reader = pypdf.PdfReader(io.BytesIO(file.getvalue()))
    assert len(reader.pages) == pages
    return reader, file.getvalue()


def words(reader: pypdf.PdfReader) -> str:
    """All text with single spaces."""
    return unicodedata.normalize("NFC", " ".join(" ".join(page.extract_text() for page in reader.pages).split()))


def with_group(pool: Day) -> None:
    """Tamsin with both students."""
    centre = pool.centre
    courses.make_group(
        centre.ledger, centre.lead, pool.id, name="Group P", staff=[centre.lead], students=[centre.amaru, centre.zoe]
    )  # fmt: skip


# --- the day sheet -------------------------------------------------------------------------------------------------


def test_the_day_sheet_has_emergency_and_plan_before_the_people_and_their_units(pool: Day) -> None:
    with_group(pool)
    centre = pool.centre
    day.plan_site(centre.ledger, centre.lead, [pool.id], emergency="Call 112 first.", plan="Ladder at the north end.")
    reader, _ = printed(print_day_sheet, paper_of(pool))
    text = words(reader)
    assert len(reader.pages) == 1
    parts = [
        "Pool Of The 22", "Thu 22 Oct 2026, 13:30 to 16:20 · pool", "Emergency contact", "Call 112 first.", "Site plan",
        "Ladder at the north end.", "Group P", "Tamsin Okoro-Vale lead instructor", "Amaru Tendelle student, A-05",
        "In no group", "Lien Ito assistant", *CAUTIONS,
    ]  # fmt: skip
    places = [text.find(part) for part in parts]
    assert -1 not in places
    assert places == sorted(places)
    assert ODD_NAME in text
    assert text.count("in out in out") == 2


def test_the_emergency_contact_is_the_largest_text_but_the_title(pool: Day) -> None:
    day.plan_site(pool.centre.ledger, pool.centre.lead, [pool.id], emergency="Call 112 first.", plan="Ladder.")
    sizes: dict[str, float] = {}

    def seen(text: str, _cm: Any, _tm: Any, _font: Any, size: float) -> None:
        sizes[text.strip()] = size

    reader, _ = printed(print_day_sheet, paper_of(pool))
    reader.pages[0].extract_text(visitor_text=seen)
    largest = {text for text, size in sizes.items() if size >= 18 and text}
    assert largest == {"Pool Of The 22", "Call 112 first."}


def test_without_a_plan_there_is_room_to_write_one(pool: Day) -> None:
    text = words(printed(print_day_sheet, paper_of(pool))[0])
    assert "Not entered. Write it here before anybody goes in." in text
    assert "Everybody on the course; no groups are made yet" in text


def test_a_unit_on_hold_is_said_beside_its_diver_and_by_itself(pool: Day) -> None:
    from course.actions.drafting import body, draft
    from course.moments import new_id
    from course.record.events import UnitHeld

    held = body(UnitHeld, unit=pool.centre.unit_a, hold=new_id(), observed=pool.at(9, 10))
    pool.centre.ledger.append([draft(pool.centre.lead, held)])
    text = words(printed(print_day_sheet, paper_of(pool))[0])
    assert "Amaru Tendelle student, A-05 ON HOLD" in text
    assert "A-05: on hold since 22 Oct 2026, 09:10. Not for water." in text


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_a_session_of_two_full_groups_stays_on_its_page_and_each_session_has_one(pool: Day, size: str) -> None:
    """Twelve students, two instructors, an assistant and a technician, and a plan of some lines."""
    people = tuple(SheetPerson(f"Maximiliane Wolfeschlegel {n}", "student", f"A-{n:02}", held=False) for n in range(8))
    (sheet,) = paper_of(pool).sessions
    full = replace(
        sheet, emergency=("Emergency services 112. Pool desk 292 000 111.",), plans=("Ladder.\nOxygen.\nLimits.",),
        groups=(SheetGroup("Group P", people), SheetGroup("Group Q", people)), holds=("A-05: on hold.",),
    )  # fmt: skip
    reader, _ = printed(print_day_sheet, replace(paper_of(pool), sessions=(full, full, sheet)), size)
    assert len(reader.pages) == 3


def test_a_plan_longer_than_a_page_goes_over_and_loses_nothing(pool: Day) -> None:
    """2,000 letters are the most that a note holds; two laptops may have written one each."""
    (sheet,) = paper_of(pool).sessions
    long = tuple(" ".join(f"{name}{number}" for number in range(270)) for name in ("north", "south"))
    reader, _ = printed(
        print_day_sheet, replace(paper_of(pool), sessions=(replace(sheet, plans=long, emergency=long),))
    )  # fmt: skip
    text = words(reader)
    assert len(reader.pages) > 1
    assert all(text.count(f"{name}{number} ") >= 2 for name in ("north", "south") for number in (0, 130, 269))
    assert text.count("Amaru Tendelle") == 1


# --- who saw what --------------------------------------------------------------------------------------------------


def test_the_incident_sheet_has_every_mark_with_both_times_and_what_came_after(pool: Day) -> None:
    centre = pool.centre
    pool.roll("going_in", [centre.amaru, centre.lead], 1)
    first, second = centre.open(), centre.open(student=centre.zoe)
    pool.mark(first, critical=True)
    which = pool.freeze(by=centre.second, note="Water in the loop.")
    pool.mark(second)  # made at 15:04, arrived after the freezing
    incident.add_note(centre.ledger, centre.lead, pool.id, which, "I saw him at the ladder.", pool.at(15, 20))
    paper = incident_of(pool, which)
    text = words(printed(print_incident_sheet, [paper])[0])
    for part in (
        "Pool Of The 22 was frozen on Thu 22 Oct 2026 at 15:06:00 (2026-10-22T15:06:00Z), recorded 20",
        "Frozen by Bruno Ashkenar", "Units in use A-05", "Amaru Tendelle: student, since 13:40, unit A-05",
        "Tamsin Okoro-Vale: teaching, since 13:40", "15:01, going in, called by Lien Ito. Answered: Amaru Tendelle and",
        "Bruno Ashkenar: seen 15:06, recorded 20", "Water in the loop.", "I saw him at the ladder.",
        "Amaru Tendelle · Close before it leaves the mouth · attempt 1 · A-05",
        "15:04:00 20", "Tamsin Okoro-Vale 3 Only then take it out", "(critical)",
        "Attempt ended: stopped by the instructor: The session was frozen.",
        "Attempt ended: void: The session was frozen.", "The session is still frozen.", CONFIDENTIAL,
    ):  # fmt: skip
        assert part in text, part
    kept, arrived = ([line.words for line in attempt.lines if line.later] for attempt in paper.attempts)
    assert kept == ["Attempt ended: stopped by the instructor: The session was frozen."]
    assert arrived[-1].startswith("1 Put a hand on the lever")
    assert " ".join(re.findall("........", paper.event.hash)) in text
    assert " ".join(re.findall("........", centre.ledger.head().hash)) in text


def test_it_says_what_was_taken_back_and_amended_and_that_the_session_went_on(pool: Day) -> None:
    from centre_builder import tap

    from course.actions.pad import take

    centre = pool.centre
    opened = centre.open()
    pool.mark(opened)
    (mark,) = centre.attempt(opened.attempt).sheets[0].marks
    take(centre.ledger, [tap(centre, opened, "withdrawn/1", {"withdraws": mark.event, "why": "Slipped."})])
    which = pool.freeze()
    amending.move_attempt(centre.ledger, centre.lead, opened.attempt, centre.zoe, "The columns were mixed up.")
    pool.resume(which)
    text = words(printed(print_incident_sheet, [incident_of(pool, which)])[0])
    assert "Taken back: 1 Put a hand on the lever while the mouthpiece is still in the mouth: done" in text
    assert f"moved to {ODD_NAME}: The columns were mixed up." in text
    assert "Tamsin Okoro-Vale let it go on, 22 Oct 2026 at 15:30." in text


def test_it_uses_no_word_of_blame_of_its_own(pool: Day) -> None:
    centre = pool.centre
    pool.mark(centre.open(), critical=True)
    text = words(printed(print_incident_sheet, [incident_of(pool, pool.freeze())])[0])
    assert BLAME.findall(text) == []
    assert "No note was written" in text
    assert "No roll was called" in text


def test_an_incident_of_an_attempt_that_is_not_here_still_prints(pool: Day) -> None:
    """After a merge the freezing may be here before the attempt is."""
    from course.actions.drafting import body, draft
    from course.moments import new_id
    from course.record.events import SessionFrozen

    which = new_id()
    frozen = body(SessionFrozen, session=pool.id, incident=which, attempts=(new_id(),), observed=pool.at())
    pool.centre.ledger.append([draft(pool.centre.lead, frozen)])
    text = words(printed(print_incident_sheet, [incident_of(pool, which)])[0])
    assert "An attempt that this ledger does not hold" in text
    assert "Nobody was signed in" in text


def test_an_incident_that_is_not_there_is_told(pool: Day) -> None:
    with pytest.raises(NotFoundError, match="no such incident"):
        incident_of(pool, pool.id)


def test_a_note_of_another_day_carries_its_date(pool: Day) -> None:
    from centre_builder import seen_at

    which = pool.freeze()
    incident.add_note(pool.centre.ledger, pool.centre.lead, pool.id, which, "Remembered today.", seen_at(24, 9, 5))
    assert [note.observed for note in incident_of(pool, which).notes] == ["2026-10-24 09:05"]


# --- both papers ---------------------------------------------------------------------------------------------------


def test_text_of_people_is_printed_as_letters_and_brings_no_picture(pool: Day) -> None:
    centre = pool.centre
    day.plan_site(centre.ledger, centre.lead, [pool.id], emergency=HOSTILE, plan=HOSTILE)
    courses.make_group(centre.ledger, centre.lead, pool.id, name=HOSTILE, staff=[centre.lead], students=[centre.zoe])
    which = pool.freeze(note=HOSTILE)
    for reader, count in (
        (printed(print_day_sheet, paper_of(pool))[0], 3),
        (printed(print_incident_sheet, [incident_of(pool, which)])[0], 1),
    ):
        assert words(reader).count(HOSTILE) == count
        assert not any(page.images or "/Annots" in page for page in reader.pages)


def test_a_note_of_the_longest_kind_goes_over_pages_and_loses_nothing(pool: Day) -> None:
    which = pool.freeze()
    paper = incident_of(pool, which)
    note = NoteLine("15:06", "2026-10-22 15:06:12", "Tamsin Okoro-Vale", " ".join(f"word{n}" for n in range(600)))
    text = words(printed(print_incident_sheet, [replace(paper, notes=(note,) * 8)])[0])
    assert text.count("word599") == 8


def test_letters_without_a_font_are_refused_by_name_and_no_file_appears(pool: Day, tmp_path: Path) -> None:
    which = pool.freeze(note="สมชาย saw it.")
    with pytest.raises(PaperError, match="THAI CHARACTER SO SUA"):
        print_incident_sheet([incident_of(pool, which)], tmp_path / "i.pdf")
    assert list(tmp_path.glob("*.pdf")) == []


def test_same_data_gives_the_same_bytes_and_other_data_others(pool: Day) -> None:
    which = pool.freeze()
    for printing, make in ((print_day_sheet, paper_of), (print_incident_sheet, lambda p: [incident_of(p, which)])):
        first, second = (printed(printing, make(pool))[1] for _ in range(2))
        assert first == second
    before = printed(print_incident_sheet, [incident_of(pool, which)])[1]
    incident.add_note(pool.centre.ledger, pool.centre.lead, pool.id, which, "More.", pool.at(15, 20))
    assert printed(print_incident_sheet, [incident_of(pool, which)])[1] != before


def test_title_and_language_are_told_and_nobody_is_named_in_the_metadata(pool: Day) -> None:
    which = pool.freeze()
    for title, reader in (
        ("Day sheet", printed(print_day_sheet, paper_of(pool))[0]),
        ("Incident sheet", printed(print_incident_sheet, [incident_of(pool, which)])[0]),
    ):
        told = {key: str(value) for key, value in reader.metadata.items()}
        assert told["/Title"] == title
        assert reader.trailer["/Root"]["/Lang"] == "en"
        assert not any("Tamsin" in value or "Kelpwater" in value for value in told.values())


# --- the command ---------------------------------------------------------------------------------------------------


def run(pool: Day, *arguments: object) -> Result:
    return CliRunner().invoke(main, ["print", str(pool.centre.ledger.folder), *map(str, arguments)])


def test_print_takes_a_day_or_a_session_for_the_day_sheet(pool: Day, tmp_path: Path) -> None:
    for wanted in ("2026-10-22", "pool of the 22"):
        out = tmp_path / "day.pdf"
        result = run(pool, wanted, "--paper", "day-sheet", "--out", out)
        assert result.exit_code == 0, result.output
        assert result.stdout == f"{out}: day sheet of Pool Of The 22, 1 page.\n"
        assert "Amaru Tendelle" in words(pypdf.PdfReader(out))


def test_print_takes_a_session_for_its_incidents_and_says_that_they_are_confidential(pool: Day, tmp_path: Path) -> None:
    out = tmp_path / "incident.pdf"
    refused = run(pool, "2026-10-22", "--paper", "incident", "--out", out)
    assert refused.exit_code == ExitCode.NOT_FOUND
    assert "Nothing was frozen in Pool Of The 22" in refused.stderr
    assert not out.exists()
    pool.resume(pool.freeze())
    pool.freeze(minute=40)
    result = run(pool, "2026-10-22", "--paper", "incident", "--out", out)
    assert result.exit_code == 0, result.output
    assert "2 incidents in Pool Of The 22, 2 pages. Confidential." in result.stdout


def test_print_tells_a_session_that_is_not_there_with_those_that_are(pool: Day, tmp_path: Path) -> None:
    result = run(pool, "Pool 9", "--paper", "day-sheet", "--out", tmp_path / "x.pdf")
    assert result.exit_code == ExitCode.NOT_FOUND
    assert "Pool Of The 22 (2026-10-22)" in result.stderr


def test_the_competency_record_is_still_what_is_printed_unless_named(pool: Day, tmp_path: Path) -> None:
    for more in ((), ("--paper", "record")):
        result = run(pool, "Amaru", "--out", tmp_path / "r.pdf", *more)
        assert result.exit_code == 0, result.output
        assert "competency record of Amaru Tendelle" in result.stdout


def test_the_sheets_of_a_whole_day_are_one_paper(pool: Day) -> None:
    seen = pool.centre.view()
    sessions = sessions_on(seen, pool.end().day)
    assert len(day_paper(pool.centre.ledger, seen, sessions).sessions) == len(sessions) == 1
