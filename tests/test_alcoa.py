"""Data integrity letter by letter: what the program does for each of the nine words, on a real small centre.

Source: MHRA, 'GXP' Data Integrity Guidance and Definitions, Revision 1, March 2018: "ALCOA" (attributable, legible and
permanent, contemporaneous, original or a true copy, accurate) and the four words after it (complete, consistent,
enduring, available). Numbers of its sections stand beside each test from memory. The guidance is for medicines; it is
taken here as a list of what a reader asks of a record, and nothing here claims to comply with it.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, build_centre, critical_mark, seen_at
from finding_examples import all_but, answered, ground_of, set_clock, shown
from ledger_examples import copy_of

from course.actions import amending
from course.actions import attempts as trying
from course.answers.course_view import view
from course.answers.findings import WITHOUT_KEYS, course_findings
from course.answers.origin import Origin, event_origin
from course.answers.origin_of import standing_origin
from course.errors import NotFoundError
from course.exchange.bundle import open_bundle, write_bundle
from course.moments import read_stored
from course.paper.origin_sheet import print_origin
from course.record.chain import event_hash
from course.record.facts import Person
from course.standards.standards import Standards
from course.storage.backup import backup, restore
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.lookup import all_of
from course.storage.mending import rebuild
from course.words import Closing, Outcome

NEGATIVE = "chk-negative"


@pytest.fixture(autouse=True)
def _after_the_course(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch)


def why(c: Centre) -> Origin:
    """Show why Amaru stands as he does."""
    return standing_origin(c.ledger, c.view(), c.amaru, c.skill(), LAST_DAY)


def amended(c: Centre, attempt: str) -> None:
    """A critical error that was seen later on the film."""
    sheet = c.attempt(attempt).sheets[0].id
    amending.amend_marks(c.ledger, c.lead, attempt, sheet, critical_mark(), "Seen on the film.", seen_at(23))


def told(c: Centre) -> list[tuple[str, str]]:
    """Every finding with its key."""
    return [(one.key, one.sentence) for whole in answered(c).findings for one in (whole, *whole.follow)]


# --- A, L, C, O, A ---------------------------------------------------------------------------------------------------


def test_attributable_every_entry_names_a_person_and_a_device_and_who_saw_is_not_who_typed(
    small_centre: Centre,
) -> None:
    """MHRA 2018, 6.1 (from memory): data are attributable to the person who generated them."""
    c = small_centre
    attempt = c.enter("pool-22", others=((c.second, all_but(c, POOL_SKILL, {})),))
    people = {person.id for person in all_of(c.ledger, Person)}
    for event in c.ledger.events():
        assert event.actor in people
        assert event.device
    sheets = c.attempt(attempt).sheets
    assert {sheet.observer for sheet in sheets} == {c.lead, c.second}
    assert {event.actor for event in c.ledger.events(attempt)} <= {c.lead, c.second}
    with pytest.raises(NotFoundError):
        c.enter("pool-22", by="0192d000-0000-7000-8000-00000000dead")


def test_legible_every_entry_is_told_in_words_and_on_paper_and_twice_alike(small_centre: Centre) -> None:
    """MHRA 2018, 6.1 (from memory): legible and permanent. The form of the rubric is kept with the record."""
    c = small_centre
    c.enter("pool-22", critical_mark())
    seen = c.view()
    for event in c.ledger.events():
        json.loads(event.body)  # plain text that any program reads
        lines = [line.words for part in event_origin(c.ledger, seen, event.id).parts for line in part.lines]
        assert lines, event.kind
        assert not any(re.search(r"[0-9a-f]{8}-[0-9a-f]{4}-7", words) for words in lines), lines
    words = [line.words for part in why(c).parts for line in part.lines]
    assert any("Open as it leaves the mouth" in line for line in words)
    first, second = io.BytesIO(), io.BytesIO()
    for out in (first, second):
        print_origin(why(c), out)
    assert first.getvalue() == second.getvalue() != b""
    adoption = c.ledger.fact("adoption", c.adoption)
    assert adoption is not None
    assert "Only then take it out of the mouth" in adoption.model_dump_json()


def test_contemporaneous_seen_and_entered_are_two_times_and_a_day_between_them_is_found(
    tmp_path: Path, standards: Standards, either_database: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """MHRA 2018, 6.1 and 6.13 (from memory): recorded as the work is done, with date and time."""
    set_clock(monkeypatch, datetime(2026, 10, 1, 9, tzinfo=UTC))
    with build_centre(tmp_path / "centre", standards, database=either_database) as c:
        seen, entered = seen_at(22), seen_at(22).moment + timedelta(hours=25)
        set_clock(monkeypatch, entered)
        attempt = c.enter("pool-22", observed=seen)
        events = list(c.ledger.events(attempt))
        assert {read_stored(event.recorded_at) for event in events} == {entered}
        assert {json.loads(event.body)["observed"]["utc"] for event in events} == {seen.utc}
        set_clock(monkeypatch)
        assert "25 hours after it was seen" in shown(c, "entered_late").sentence


def test_original_the_first_entry_stays_as_it_was_written_under_every_correction(small_centre: Centre) -> None:
    """MHRA 2018, 6.2 and 6.11 (from memory): the first record, or a copy that is verified to be true."""
    c = small_centre
    attempt = c.enter("pool-22")
    before = list(c.ledger.events(attempt))
    amended(c, attempt)
    after = list(c.ledger.events(attempt))
    assert after[: len(before)] == before
    assert len(after) > len(before)
    words = [line.words for part in why(c).parts for line in part.lines]
    assert any(line.startswith("3 ") and "done" in line for line in words)
    assert any("(in place of an earlier entry): Seen on the film." in line for line in words)


def test_accurate_a_value_goes_before_the_tick_beside_it_and_the_contradiction_is_found(small_centre: Centre) -> None:
    """MHRA 2018, 6.1 (from memory): accurate; a number is kept as it was written, digit by digit."""
    c = small_centre
    attempt = trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["dry-21"], student=c.amaru, skill=NEGATIVE,
        observed=seen_at(21), sheets=[(c.lead, all_but(c, NEGATIVE, {"neg-mark": "59.90"}))],
    )  # fmt: skip
    assert [value.value for value in c.attempt(attempt).sheets[0].values] == ["59.90"]
    (tried,) = ground_of(c).tried
    assert tried.judged is not None
    assert tried.judged.outcome == Outcome.CRITICAL
    assert "59.90 s of 60 s" in shown(c, "value_against_tick").sentence


# --- complete, consistent, enduring, available -----------------------------------------------------------------------


def test_complete_nothing_that_was_entered_is_left_out_of_a_copy_and_what_does_not_count_is_kept_with_why(
    small_centre: Centre, tmp_path: Path
) -> None:
    """MHRA 2018, 6.10 (from memory): data are left out only with a reason, and stay in the record with it."""
    c = small_centre
    stopped = c.enter("pool-22", critical_mark())
    trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-22"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(22), sheets=[(c.lead, all_but(c, POOL_SKILL, {}, critical_mark()))], closing=Closing.VOID,
        reason="A boat came over.", second=c.second,
    )  # fmt: skip
    amending.withdraw(c.ledger, c.lead, next(iter(c.ledger.events(stopped))).id, "Entered for the wrong student.")
    write_bundle(tmp_path / "whole.zip", c.ledger.centre_id, c.ledger.chain_events())
    with open_bundle(tmp_path / "whole.zip") as read:
        assert {event.hash for event in read.events()} == {event.hash for event in c.ledger.events()}
    assert len(list(c.ledger.events(stopped))) > 2
    assert "closed as void by Tamsin Okoro-Vale over a critical error" in shown(c, "void_over_critical").sentence


def test_consistent_each_entry_follows_the_one_before_and_tables_written_anew_say_the_same(
    small_centre: Centre,
) -> None:
    """MHRA 2018, 3.10 and 6.4 (from memory): the same whoever works it out, in an order that no clock can change."""
    c = small_centre
    for session in ("pool-22", "pool-23"):
        c.enter(session)
    events = sorted(c.ledger.events(), key=lambda event: event.seq)
    assert [event.seq for event in events] == list(range(events[0].seq, events[0].seq + len(events)))
    for before, after in pairwise(events):
        assert after.prev == before.hash
        assert after.lamport > before.lamport
    assert all(event_hash(event) == event.hash for event in events)
    folder, before_ = Path(c.ledger.folder), told(c)
    c.ledger.close()
    rebuild(folder)
    assert verify(folder).fine
    with open_ledger(folder) as again:
        seen = view(again, c.course)
        after_ = course_findings(again, seen, LAST_DAY).findings
    assert [(one.key, one.sentence) for whole in after_ for one in (whole, *whole.follow)] == before_


def test_enduring_a_backup_put_back_tells_the_same(
    small_centre: Centre, new_database: Callable[[], str | None], tmp_path: Path
) -> None:
    """MHRA 2018, 6.17 (from memory): kept for as long as it is needed, and the way back is tried."""
    c = small_centre
    c.enter("pool-22", critical_mark())
    folder, before = Path(c.ledger.folder), told(c)
    backup(folder, tmp_path / "kept.tar")
    restore(tmp_path / "kept.tar", tmp_path / "again", database=new_database())
    assert verify(tmp_path / "again").fine
    with open_ledger(tmp_path / "again") as again:
        found = course_findings(again, view(again, c.course), LAST_DAY).findings
        assert [event.hash for event in again.events()] == [event.hash for event in c.ledger.events()]
    assert [(one.key, one.sentence) for whole in found for one in (whole, *whole.follow)] == before


def test_available_years_later_from_a_folder_that_is_only_read_and_also_without_the_keys(
    small_centre: Centre, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """MHRA 2018, 6.17 (from memory): open to who has to review it, at any time that it is kept for."""
    c = small_centre
    c.enter("pool-22", critical_mark())
    before = told(c)
    copy = copy_of(Path(c.ledger.folder), tmp_path / "copy")
    set_clock(monkeypatch, datetime(2036, 10, 25, tzinfo=UTC))
    with open_ledger(copy) as read:
        found = course_findings(read, view(read, c.course), LAST_DAY).findings
        assert [(one.key, one.sentence) for whole in found for one in (whole, *whole.follow)] == before
    closed_copy = copy_of(copy, tmp_path / "closed")
    (closed_copy / "vault.db").unlink()
    with open_ledger(closed_copy) as read:
        closed = course_findings(read, view(read, c.course), LAST_DAY, papers=False)
    assert {one.key for one in closed.findings} == {key for key, _ in before}
    assert WITHOUT_KEYS in closed.notes
    assert "Amaru" not in closed.text()
