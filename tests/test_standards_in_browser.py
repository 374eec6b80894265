"""Requirements in a real browser: a number is changed, its difference read, saved, and a course made on it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from centre_builder import Centre
from playwright.sync_api import Page, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeout
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled

from course.record.facts import Course
from course.storage.ledger import open_ledger

WAIT = 60_000
TOUCH = 48
SMALL = """[...document.querySelectorAll('[data-testid="stForm"] button, [data-testid="stForm"] input')]
  .filter((one) => one.offsetParent && one.getBoundingClientRect().height && !one.closest('[data-testid="stCheckbox"]'))
  .map((one) => [one.textContent || one.getAttribute('aria-label'), one.getBoundingClientRect().height])
  .filter(([, height]) => height < %d)"""


@pytest.fixture
def server(small_centre: Centre) -> Iterator[RunningCentre]:
    small_centre.ledger.close()
    running = RunningCentre(small_centre.ledger.folder)
    running.start()
    yield running
    running.stop()


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def test_a_number_is_changed_its_difference_read_and_a_course_made_on_it(server: RunningCentre) -> None:
    with chromium() as browser:
        page = browser.new_page(viewport=TABLET)
        page.goto(f"{server.address}/standards?view=requirements")
        expect(page.get_by_role("button", name="▸ What it is", exact=True)).to_be_visible(timeout=WAIT)
        press(page, "Minutes")
        depth = page.get_by_label("Minutes on the loop in the water, at least")
        expect(depth).to_be_visible(timeout=WAIT)
        depth.fill("601")
        assert page.evaluate(SMALL % TOUCH) == []
        press(page, "Look and save")
        told = page.get_by_text("Minutes on the loop in the water: 556 becomes 601.")
        expect(told).to_be_visible(timeout=WAIT)
        page.get_by_role("radio", name="Tamsin Okoro-Vale").or_(
            page.get_by_role("button", name="Tamsin Okoro-Vale")
        ).first.click()
        press(page, "Save as a new revision")
        expect(page.get_by_text("is saved as revision r3")).to_be_visible(timeout=WAIT)
        page.goto(f"{server.address}/people")
        title = page.get_by_label("Name of the course")
        expect(title).to_be_attached(timeout=WAIT)
        settled(page)  # a list that opens while the page is drawn anew closes again
        if not title.is_visible():
            page.get_by_text("A new course").first.click()
        title.fill("On the new numbers")
        option = page.get_by_role("option", name="Example: first unit course, no stops, revision r3")
        for _ in range(10):  # a list that opens while the page is drawn anew closes again
            page.get_by_label("Requirements").click()
            try:
                option.click(timeout=2_000)
                break
            except PlaywrightTimeout:
                continue
        press(page, "Make the course")
        expect(page.get_by_text("The course is made.")).to_be_visible(timeout=WAIT)
    server.stop()
    with open_ledger(server.folder) as ledger:
        made = [fact for fact in ledger.facts("course") if isinstance(fact, Course)]
        assert sorted(course.revision for course in made) == ["r1", "r3"]
