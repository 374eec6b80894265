"""The way of an auditor in a real browser: from the list to the picture of a break, and an answer that stays."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Page, expect
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled

from course import sample
from course.answers.course_view import view
from course.answers.findings import course_findings
from course.storage.ledger import open_ledger

WAIT = 60_000
REASON = "Mei-Lin was out of the water and at the wall; Tamsin saw it."


@pytest.fixture
def demo(loaded: sample.Loaded) -> Iterator[tuple[RunningCentre, str]]:
    running = RunningCentre(loaded.folder)
    running.start()
    yield running, loaded.course
    running.stop()


def open_findings(page: Page, address: str, told: str) -> None:
    page.goto(f"{address}/findings")
    expect(page.get_by_role("heading", level=2, name=re.compile(told))).to_be_visible(timeout=WAIT)
    settled(page)


def open_the_break(page: Page) -> None:
    page.get_by_text("4 students to 1 instructor without assistant").click()
    expect(page.get_by_role("button", name="The session on Hours")).to_be_visible(timeout=WAIT)
    settled(page)


def test_a_break_is_looked_at_where_it_happened_and_answered_beside_the_finding(
    demo: tuple[RunningCentre, str],
) -> None:
    server, course = demo
    with chromium() as browser:
        page = browser.new_page(viewport=TABLET)
        open_findings(page, server.address, "^8 findings, none answered")
        open_the_break(page)
        page.get_by_role("button", name="The session on Hours").click()
        expect(page.get_by_text(re.compile("4 to 1, limit 3, for 14 minutes")).first).to_be_visible(timeout=WAIT)
        open_findings(page, server.address, "^8 findings, none answered")
        open_the_break(page)
        said = page.get_by_label(re.compile("What is there to it")).locator("visible=true")
        said.fill(REASON)
        said.press("Tab")  # the box sends its text as it is left
        settled(page)
        page.get_by_role("button", name="Answer it").locator("visible=true").click()
        expect(page.get_by_role("heading", level=2, name=re.compile("1 answered"))).to_be_visible(timeout=WAIT)
        expect(page.get_by_text("The finding stays, with the answer beside it.")).to_be_visible(timeout=WAIT)
    server.stop()
    with open_ledger(server.folder) as ledger:
        seen = view(ledger, course)
        (answered,) = [one for one in course_findings(ledger, seen, seen.last_day).findings if one.answered]
        assert (answered.rule, answered.answers[0].reason) == ("ratio_break", REASON)
        assert not ledger.damage
