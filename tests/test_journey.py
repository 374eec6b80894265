"""One whole journey in a real browser at tablet size, with the server killed in the middle of it."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Locator, Page, Request, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeout
from pypdf import PdfReader
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled

from course.storage.inspection import verify
from course.storage.ledger import open_ledger

SKILL = "asm-bladder"
AS_A_PERSON_MS = 500  # what just opened under a finger is deaf for 400 ms, so that a double tap does not mark
STREAMLIT_NOTICES_MS = 9_000  # by then Streamlit has laid its own dialog over the page, and the pad put it away
TAPPED = {
    "attempt_opened/1", "sheet_started/1", "marks_given/1", "value_measured/1", "attempt_closed/1", "withdrawn/1",
    "order_answered/1",
}  # fmt: skip
STEPS = ["lay-unit", "bladder-flat", "plate-bolts", "inflator", "bladder-wait", "dump-all", "harness-fit"]


@pytest.fixture
def centre(tmp_path: Path) -> Iterator[RunningCentre]:
    running = RunningCentre(tmp_path / "centre")
    made = subprocess.run(
        [sys.executable, "-m", "course", "new", running.folder, "--centre", "Harbour House", "--lead", "Ines Duarte"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    running.start()
    yield running
    running.stop()


class Taps:
    """Every id that the pad sent, and every host that the browser asked for anything."""

    def __init__(self, page: Page) -> None:
        self.ids: set[str] = set()
        self.hosts: set[str] = set()
        page.on("request", self._seen)

    def _seen(self, request: Request) -> None:
        if not request.url.startswith(("data:", "blob:")):
            self.hosts.add(urlsplit(request.url).netloc)
        if request.url.endswith("/course/marks") and request.post_data:
            self.ids |= {item["id"] for item in json.loads(request.post_data)["items"]}


def part(page: Page, title: str) -> Locator:
    return page.locator('[data-testid="stExpander"]').filter(has=page.locator("summary", has_text=title))


def fill(page: Page, title: str, label: str, text: str) -> None:
    part(page, title).get_by_role("textbox", name=label).first.fill(text)


def submit(page: Page, button: str, told: str) -> None:
    page.get_by_role("button", name=button).click()
    expect(page.get_by_text(told)).to_be_visible(timeout=60_000)
    settled(page)  # a form that is drawn anew would lose what is typed into it meanwhile


def open_part(page: Page, title: str) -> None:
    if part(page, title).locator("details").get_attribute("open") is None:
        part(page, title).locator("summary").click()


def choose(page: Page, title: str, label: str, option: str) -> None:
    wanted = page.get_by_role("option", name=option, exact=True)
    for _ in range(5):  # a rerun of the page between the two clicks closes the list again
        part(page, title).get_by_role("combobox", name=label).click()
        try:
            wanted.click(timeout=3_000)
        except PlaywrightTimeout:
            continue
        return
    raise AssertionError(f"{label} offers no {option}")


def make_course(page: Page, centre: RunningCentre) -> None:
    """A newcomer's first steps: the first screen says what to do, then four forms."""
    page.goto(centre.address)
    expect(page.get_by_text("Start here")).to_be_visible(timeout=60_000)
    page.get_by_role("button", name="Make a course").click()
    expect(page.get_by_role("heading", name="People, units and sessions")).to_be_visible(timeout=60_000)
    settled(page)
    fill(page, "A new course", "Name of the course", "First course")
    submit(page, "Make the course", "The course is made.")
    open_part(page, "A new unit")
    fill(page, "A new unit", "Label on the unit", "A-05")
    submit(page, "Enter the unit", "Unit A-05 is entered.")
    open_part(page, "A new person")
    fill(page, "A new person", "Name", "Nguyễn Thị Hạnh")
    choose(page, "A new person", "Unit", "A-05")
    for paper in ("Old enough", "Entry certificate", "Risk statement", "Unit manual"):
        part(page, "A new person").get_by_text(paper).click()
    submit(page, "Enter the person", "Nguyễn Thị Hạnh is entered.")
    open_part(page, "A new session")
    fill(page, "A new session", "Name of the session", "Bench")
    choose(page, "A new session", "Setting", "dry")
    submit(page, "Plan the session", "Bench is planned.")


def tap(page: Page, step: str, mark: str) -> None:
    page.locator(f'[data-row="{step}"] button[data-mark="{mark}"]').click()


def mark_with_a_dead_server(page: Page, centre: RunningCentre) -> None:
    """Two taps, an error, the kill, three taps on a dead server, and all is saved once it is back."""
    page.get_by_role("link", name="Mark").click()
    expect(page.get_by_text("Whom do you watch now?")).to_be_visible(timeout=60_000)
    settled(page)
    page.locator(f".st-key-skill-{SKILL} button").click()
    status = page.get_by_role("status").first
    expect(page.locator(f'[data-row="{STEPS[0]}"]')).to_be_visible(timeout=60_000)
    tap(page, STEPS[0], "done")
    tap(page, STEPS[1], "error")
    page.wait_for_timeout(AS_A_PERSON_MS)
    page.locator('button[data-act="error"][data-error="bladder-fold"]').click()
    expect(page.locator(f'[data-row="{STEPS[1]}"] button[data-mark="error"]')).to_have_attribute("aria-pressed", "true")
    expect(status).to_contain_text("all saved", timeout=30_000)
    assert centre.kill() == -9
    page.wait_for_timeout(STREAMLIT_NOTICES_MS)
    for step in STEPS[2:5]:
        tap(page, step, "done")
        expect(page.locator(f'[data-row="{step}"] button[data-mark="done"]')).to_have_attribute("aria-pressed", "true")
    expect(status).to_contain_text(re.compile(r"3\b.*wait"), timeout=30_000)
    centre.start()
    expect(status).to_contain_text("all saved", timeout=60_000)
    for step in STEPS[5:]:
        tap(page, step, "done")
    expect(status).to_contain_text("all saved", timeout=30_000)


def close_attempt(page: Page) -> None:
    page.locator('[data-row="bladder-wait"] button[data-act="value"]').click()
    page.wait_for_timeout(AS_A_PERSON_MS)
    page.locator("input[data-field]").first.fill("10")
    page.locator('button[data-act="keep-value"]').click()
    page.wait_for_timeout(AS_A_PERSON_MS)
    page.locator('[data-ask="close"]').click()
    page.wait_for_timeout(AS_A_PERSON_MS)
    page.locator('button[data-act="close"]').click()
    expect(page.get_by_role("status").first).to_contain_text("all saved", timeout=30_000)
    expect(page.get_by_text("Closed. Nothing more can be tapped here").first).to_be_visible(timeout=60_000)


def sign_and_print(page: Page, centre: RunningCentre, folder: Path) -> str:
    page.goto(f"{centre.address}/standings")
    cell = page.locator(f'button[data-cell$="/{SKILL}"]')
    expect(cell).to_contain_text("met", timeout=60_000)
    cell.click()
    page.get_by_role("button", name="Sign as met").click()
    expect(page.get_by_text("The decision is in the ledger.")).to_be_visible(timeout=60_000)
    settled(page)
    page.locator('[class*="st-key-menu-more"] button').click()
    page.get_by_role("link", name="Papers").click()
    with page.expect_download(timeout=60_000) as download:
        page.get_by_role("button", name="Download the PDF").click()
    file = folder / "record.pdf"
    download.value.save_as(file)
    return "\n".join(sheet.extract_text() for sheet in PdfReader(file).pages)


def test_a_newcomer_makes_a_course_marks_over_a_killed_server_signs_and_prints(
    centre: RunningCentre, tmp_path: Path
) -> None:
    with chromium() as browser:
        page = browser.new_page(viewport=TABLET)
        taps = Taps(page)
        make_course(page, centre)
        mark_with_a_dead_server(page, centre)
        close_attempt(page)
        printed = sign_and_print(page, centre, tmp_path)
    centre.stop()

    assert "Nguyễn Thị Hạnh" in printed
    assert "Signed as met by Ines Duarte" in printed
    assert taps.hosts == {f"localhost:{centre.port}"}
    with open_ledger(centre.folder) as ledger:
        marked = [event for event in ledger.events() if event.kind in TAPPED]
        student = {event.body.count("Nguy") for event in ledger.events()}
    assert student == {0}, "a name stands in the ledger in plain text"
    assert sorted(event.id for event in marked) == sorted(taps.ids)
    assert len({event.subject for event in marked}) == 1
    assert verify(centre.folder).fine
