"""Tablets in a real browser on a real centre: lines, two tablets, two observers, linked acts, files, clocks.

One server for all of them; the last test closes a session.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from centre_builder import seen_at
from live_centre import (
    DEAF_MS,
    LiveCentre,
    all_saved,
    close_attempt,
    is_pressed,
    live_centre,
    open_pad,
    stroke,
)
from playwright.sync_api import Page, expect

from course.actions.drafting import draft
from course.actions.readings import take_reading
from course.moments import now, observed_at, read_stored
from course.record.events import SessionClosed
from course.storage.ledger import open_ledger
from course.words import ReadingKind

WITHIN_SECONDS = 8_000
STEPS = ("co-hand", "co-close", "co-out", "co-hold")


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveCentre]:
    with live_centre(tmp_path_factory.mktemp("live")) as centre:
        yield centre


@pytest.fixture(autouse=True)
def _state_of_the_running_centre(live: LiveCentre, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOOPLEDGER_STATE", str(live.running.folder.parent / "state"))


@pytest.fixture
def tablet(live: LiveCentre) -> Iterator[Page]:
    with live.tablet(0) as page:
        yield page


@pytest.fixture
def other(live: LiveCentre) -> Iterator[Page]:
    with live.tablet(1) as page:
        yield page


def signs(page: Page) -> list[str]:
    return [str(text) for text in page.locator(".turn .small").all_inner_texts()]


def marks_of(live: LiveCentre, attempt: str) -> Counter[str]:
    """How often each step was marked, as events."""
    bodies = [json.loads(e.body) for e in live.events(attempt) if e.kind == "marks_given/1"]
    return Counter(line["step"] for body in bodies for line in body["marks"])


def test_a_line_goes_from_student_to_student_and_every_mark_is_of_who_is_on_the_screen(
    live: LiveCentre, tablet: Page
) -> None:
    line = live.line()
    open_pad(tablet, live.address(line))
    assert signs(tablet) == ["not begun", "not begun"]
    assert live.attempts(line) == []
    for step in STEPS:
        stroke(tablet, step)
    all_saved(tablet)
    assert [a.student for a in live.attempts(line)] == [live.ids.amaru]
    assert signs(tablet) == ["open", "not begun"]
    close_attempt(tablet)
    all_saved(tablet)
    expect(tablet.locator(".turn .small").first).to_have_text("clean", timeout=WITHIN_SECONDS)
    tablet.locator(".next").click()
    expect(tablet.locator(".who .name")).to_contain_text("Zoë")
    assert tablet.locator('.acts [aria-pressed="true"]').count() == 0
    tablet.wait_for_timeout(DEAF_MS)
    stroke(tablet, "co-hand", "left_out")
    tablet.locator(".turn").first.click()
    expect(tablet.locator(".who .name")).to_have_text("Amaru Tendelle")
    all_saved(tablet)
    assert signs(tablet) == ["clean", "open"]
    tablet.wait_for_timeout(DEAF_MS)
    tablet.locator(".again").click()
    expect(tablet.locator(".what")).to_contain_text("attempt 2")
    assert signs(tablet)[0] == "not begun"
    tablet.wait_for_timeout(DEAF_MS)
    stroke(tablet, "co-hold", "prompted")
    all_saved(tablet)
    held = {(a.student, a.number): [(m.step, m.mark.value) for m in a.sheets[0].marks] for a in live.attempts(line)}
    assert held == {
        (live.ids.amaru, 1): [(step, "done") for step in STEPS],
        (live.ids.zoe, 1): [("co-hand", "left_out")],
        (live.ids.amaru, 2): [("co-hold", "prompted")],
    }


def test_a_skill_that_was_mistapped_is_left_and_nothing_is_kept(live: LiveCentre, tablet: Page) -> None:
    line = live.line(live.ids.zoe)
    open_pad(tablet, live.address(line))
    expect(tablet.locator(".leave")).to_contain_text("Leave, nothing kept")
    tablet.locator(".leave").click()
    expect(tablet.get_by_text("Whom do you watch now?")).to_be_visible(timeout=20_000)
    assert live.attempts(line) == []
    open_pad(tablet, live.address(line))
    stroke(tablet, "co-hand")
    expect(tablet.locator(".leave")).to_be_hidden()
    expect(tablet.locator(".close")).to_be_enabled()


def test_two_tablets_on_one_sheet_see_each_other_and_nothing_is_lost_or_doubled(
    live: LiveCentre, tablet: Page, other: Page
) -> None:
    """Both open the line before anything is marked, both mark, one of them at the same moment as the other."""
    line = live.line(live.ids.amaru)
    for page in (tablet, other):
        open_pad(page, live.address(line))
    stroke(tablet, "co-hand")
    is_pressed(other, "co-hand")
    other.wait_for_timeout(DEAF_MS)
    stroke(other, "co-close")
    is_pressed(tablet, "co-close")
    stroke(tablet, "co-out")
    stroke(other, "co-hold")
    for page, step in ((tablet, "co-hold"), (other, "co-out")):
        is_pressed(page, step)
    stroke(other, "co-hand", "prompted")
    is_pressed(tablet, "co-hand", "prompted")
    all_saved(tablet)
    all_saved(other)
    (attempt,) = live.attempts(line)
    assert marks_of(live, attempt.id) == Counter({"co-hand": 2, "co-close": 1, "co-out": 1, "co-hold": 1})
    assert sorted(m.step for m in attempt.sheets[0].marks) == sorted(STEPS)
    assert len(attempt.sheets) == 1
    close_attempt(other)
    expect(tablet.locator(".closed-line")).to_contain_text("Closed.", timeout=WITHIN_SECONDS)
    assert tablet.locator('.acts .done[data-step="co-hand"]').is_disabled()


def test_two_observers_have_a_sheet_each_and_see_that_the_other_marks(
    live: LiveCentre, tablet: Page, other: Page
) -> None:
    """How many steps the other has marked, and not what: two sheets are two observations."""
    line = live.line(live.ids.zoe)
    open_pad(tablet, live.address(line))
    stroke(tablet, "co-hand")
    all_saved(tablet)
    (attempt,) = live.attempts(line)
    open_pad(other, f"{live.running.address}/mark?attempt={attempt.id}&by={live.ids.second}")
    expect(other.locator(".notes")).to_have_text("Tamsin Okoro-Vale marks too: 1 of 4 steps")
    assert other.locator('.acts [aria-pressed="true"]').count() == 0
    for step in ("co-hand", "co-close"):
        stroke(other, step, "left_out")
    expect(tablet.locator(".notes")).to_have_text("Bruno Ashkenar marks too: 2 of 4 steps", timeout=WITHIN_SECONDS)
    assert tablet.locator('.acts [aria-pressed="true"]').count() == 1
    (attempt,) = live.attempts(line)
    held = {sheet.observer: sorted((m.step, m.mark.value) for m in sheet.marks) for sheet in attempt.sheets}
    assert held == {
        live.ids.lead: [("co-hand", "done")],
        live.ids.second: [("co-close", "left_out"), ("co-hand", "left_out")],
    }


def test_a_whole_line_is_marked_while_the_server_is_dead(live: LiveCentre, tablet: Page) -> None:
    """Attempts are begun on the tablet; killed and started again, the ledger holds each tap once."""
    line = live.line()
    open_pad(tablet, live.address(line))
    live.running.kill()
    for step in STEPS:
        stroke(tablet, step)
    close_attempt(tablet)
    assert signs(tablet) == ["closed", "not begun"]
    tablet.locator(".next").click()
    tablet.wait_for_timeout(DEAF_MS)
    stroke(tablet, "co-hand", "not_seen")
    expect(tablet.locator(".status")).to_contain_text("6 waiting to be saved", timeout=20_000)
    live.running.start()
    all_saved(tablet)
    held = {a.student: (marks_of(live, a.id), a.ending is not None) for a in live.attempts(line)}
    assert held == {live.ids.amaru: (Counter(STEPS), True), live.ids.zoe: (Counter(["co-hand"]), False)}


def test_an_act_inside_another_is_one_tap_away_and_both_are_attempts(live: LiveCentre, tablet: Page) -> None:
    line = live.line(live.ids.amaru, skill="bo-separate")
    open_pad(tablet, live.address(line))
    stroke(tablet, "bs-grip")
    tablet.locator(".closing .also").click()
    tablet.wait_for_timeout(DEAF_MS)
    tablet.locator(".tray .choice", has_text="Close before it leaves the mouth").click()
    expect(tablet.locator(".what")).to_contain_text("Close before it leaves the mouth")
    tablet.wait_for_timeout(DEAF_MS)
    stroke(tablet, "co-hand")
    tablet.locator(".tab").first.click()
    is_pressed(tablet, "bs-grip")
    all_saved(tablet)
    tablet.wait_for_timeout(DEAF_MS)
    tablet.locator(".closing .also").click()
    tablet.wait_for_timeout(DEAF_MS)
    tablet.locator(".tray .choice", has_text="Go back on the loop in order").click()
    expect(tablet.locator(".what")).to_contain_text("Go back on the loop in order", timeout=WITHIN_SECONDS)
    found = {a.skill: (a.within, [m.step for m in a.sheets[0].marks]) for a in live.attempts(line)}
    host = line.ids(live.ids.amaru, 0)[0]
    assert found == {"bo-separate": (None, ["bs-grip"]), "mp-close-out": (host, ["co-hand"])}


def test_a_file_of_waiting_marks_is_taken_in_on_another_machine(
    live: LiveCentre, tablet: Page, other: Page, tmp_path: Path
) -> None:
    line, desk = live.line(live.ids.zoe), other
    open_pad(tablet, live.address(line))
    tablet.route("**/course/marks", lambda route: route.abort())
    for step in STEPS:
        stroke(tablet, step)
    tablet.locator(".see").click()
    tablet.wait_for_timeout(DEAF_MS)
    with tablet.expect_download() as saving:
        tablet.locator('[data-act="file"]').click()
    saving.value.save_as(tmp_path / "waiting.json")
    desk.goto(f"{live.running.address}/mark")
    desk.get_by_text("Marks saved as a file on a tablet").click(timeout=30_000)
    desk.locator('input[type="file"]').set_input_files(tmp_path / "waiting.json")
    expect(desk.get_by_text(re.compile(r"^4 taps of 1 attempt from tablet .*: 4 not in the ledger yet"))).to_be_visible(
        timeout=20_000
    )
    expect(desk.get_by_text(re.compile("Close before it leaves the mouth, a new attempt"))).to_be_visible()
    desk.get_by_role("button", name="Take in 4 taps").click()
    expect(desk.get_by_text("All of the file is in the ledger now.")).to_be_visible(timeout=20_000)
    (attempt,) = live.attempts(line)
    assert marks_of(live, attempt.id) == Counter(STEPS)
    tablet.unroute_all()
    all_saved(tablet)
    assert marks_of(live, attempt.id) == Counter(STEPS)
    expect(desk.get_by_text("Heard of since the program started")).to_be_visible()


def test_a_tablet_half_an_hour_behind_is_told_and_its_times_are_put_right(live: LiveCentre, tablet: Page) -> None:
    tablet.add_init_script("const real = Date.now.bind(Date); Date.now = () => real() - 30 * 60 * 1000;")
    line = live.line(live.ids.amaru)
    tablet.goto(live.address(line))
    told = "this tablet's clock is 30 min behind; times are put right"
    expect(tablet.locator(".notes")).to_have_text(told, timeout=30_000)
    stroke(tablet, "co-hand")
    all_saved(tablet)
    attempt = live.attempts(line)[-1]
    mark = attempt.sheets[0].marks[0]
    assert abs(now() - read_stored(mark.utc)) < timedelta(minutes=5)
    body = next(json.loads(e.body) for e in live.events(attempt.id) if e.kind == "marks_given/1")
    assert abs(body["observed"]["clock_offset_ms"] - 30 * 60 * 1000) < 5_000


def test_a_reading_that_was_written_down_meanwhile_comes_to_the_pads_step(live: LiveCentre, tablet: Page) -> None:
    """Kept while the pad is open; it comes with the pulse, without a reload, and is told at the step alone."""
    line = live.line(live.ids.amaru, skill="chk-cells", session="dry-21")
    open_pad(tablet, live.address(line))
    first = tablet.locator(".acts .done").first
    first.click()
    all_saved(tablet)
    told = tablet.locator('[data-row="cell-air"] .read')
    expect(told).to_be_hidden()
    live.running.stop()
    with open_ledger(live.running.folder, write=True) as ledger:
        amounts = {"mv_air": "7", "humidity": "0.5", "temperature": "20", "least": "8", "most": "13"}
        take_reading(
            ledger, live.ids.lead, live.ids.unit_a, ReadingKind.CELL_AIR, amounts, seen_at(21, 15), cell=2
        )  # fmt: skip
    live.running.start()
    expect(told).to_contain_text("Read at 15:00, outside: Cell 2 in air: 7 mV", timeout=30_000)
    assert [text for text in tablet.locator(".read").all_inner_texts() if text] == [told.inner_text()]
    expect(first).to_have_attribute("aria-pressed", "true")


def test_a_closed_session_is_seen_on_the_pad_and_only_what_was_tapped_before_is_kept(
    live: LiveCentre, tablet: Page
) -> None:
    """The machine closes the session while the tablet cannot reach it; what was tapped before the closing is kept."""
    line = live.line(live.ids.zoe, session="pool-23")
    open_pad(tablet, live.address(line))
    live.running.stop()
    stroke(tablet, "co-hand")
    tablet.wait_for_timeout(1500)  # more than the clocks of a busy machine are apart
    with open_ledger(live.running.folder, write=True) as ledger:
        closing = SessionClosed(session=live.ids.sessions["pool-23"], observed=observed_at(now(), "Atlantic/Azores"))
        ledger.append([draft(live.ids.lead, closing)])
    stroke(tablet, "co-close")
    live.running.start()
    expect(tablet.locator(".status")).to_have_text("all saved · 1 not taken", timeout=30_000)
    expect(tablet.locator(".notes")).to_have_text("this session takes no more marks", timeout=WITHIN_SECONDS)
    expect(tablet.locator('.acts .done[data-step="co-out"]')).to_be_disabled()
    expect(tablet.locator(".closed-line")).to_contain_text("until the session is opened again, with a reason.")
    tablet.locator(".see").click()
    expect(tablet.locator(".refused")).to_contain_text("step 2 done. Pool Of The 23 was closed at")
    expect(tablet.locator('[data-act="send-again"]')).to_be_visible()
    (attempt,) = live.attempts(line)
    assert marks_of(live, attempt.id) == Counter(["co-hand"])
