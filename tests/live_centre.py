"""The small centre behind the real server, and tablets (browser contexts) that mark in it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from centre_builder import POOL_SKILL, Centre, build_centre, shipped_standards
from playwright.sync_api import BrowserContext, Page, expect
from running_centre import TABLET, RunningCentre, chromium

from course.answers.line import Line
from course.moments import new_id
from course.record.facts import Attempt
from course.storage.ledger import open_ledger

DEAF_MS = 450  # what just opened under a finger is deaf for 400 ms


@dataclass
class LiveCentre:
    """A running centre, the ids of what is in it, and two tablets, each with a storage of its own.

    They are used again and again, so that each loads the pages' files once.
    """

    running: RunningCentre
    ids: Centre
    tablets: tuple[BrowserContext, BrowserContext]

    @contextmanager
    def tablet(self, which: int) -> Iterator[Page]:
        """A page on one of the two tablets, with an empty storage; put away in the end."""
        page = self.tablets[which].new_page()
        page.goto(f"{self.running.address}/course/pulse")
        page.evaluate("localStorage.clear()")
        yield page
        page.close()

    def line(self, *students: str, skill: str = POOL_SKILL, by: str = "", session: str = "pool-22") -> Line:
        """A new line of students."""
        ids = self.ids
        return Line(new_id(), ids.sessions[session], skill, by or ids.lead, students or (ids.amaru, ids.zoe))

    def address(self, line: Line) -> str:
        """The line as an address of the Mark page."""
        return f"{self.running.address}/mark?" + "&".join(f"{name}={value}" for name, value in line.address().items())

    def attempts(self, line: Line) -> list[Attempt]:
        """What the ledger holds of a line, in the order of numbers."""
        known = {line.ids(student, number)[0] for student in line.students for number in range(9)}
        with open_ledger(self.running.folder) as ledger:
            own = [a for a in ledger.facts("attempt") if isinstance(a, Attempt) and known & {a.id, a.within or ""}]
        return sorted(own, key=lambda a: (a.number, a.id))

    def events(self, attempt: str) -> list[Any]:
        """The events of one attempt."""
        with open_ledger(self.running.folder) as ledger:
            return list(ledger.events(attempt))


@contextmanager
def live_centre(folder: Path) -> Iterator[LiveCentre]:
    """The small centre, served, with a browser beside it."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with build_centre(folder / "centre", shipped_standards()) as ids:
            pass
        running = RunningCentre(folder / "centre")
        running.start()
        try:
            with chromium() as browser:
                first, second = (browser.new_context(viewport=TABLET, has_touch=True) for _ in range(2))
                yield LiveCentre(running, ids, (first, second))
        finally:
            running.stop()


def open_pad(page: Page, address: str) -> Page:
    """Open a pad and wait until it has spoken with the server."""
    page.goto(address)
    page.locator(".pad").wait_for(timeout=60_000)
    expect(page.locator(".status")).to_have_text("all saved", timeout=20_000)
    return page


def stroke(page: Page, step: str, mark: str = "done") -> None:
    """One tap on a step."""
    page.locator(f'.acts .{mark}[data-step="{step}"]').click()


def is_pressed(page: Page, step: str, mark: str = "done") -> None:
    """The stroke stands on the screen."""
    expect(page.locator(f'.acts .{mark}[data-step="{step}"]')).to_have_attribute("aria-pressed", "true", timeout=8_000)


def all_saved(page: Page) -> None:
    """Nothing waits on the tablet."""
    expect(page.locator(".status")).to_have_text("all saved", timeout=20_000)


def close_attempt(page: Page) -> None:
    """Close the attempt on the screen, as a person would."""
    page.wait_for_timeout(DEAF_MS)
    asked = page.locator('.tray [data-act="close"]')
    page.locator('[data-ask="close"]').click()
    if not asked.is_visible():  # the pad was drawn anew just then: a person taps again
        page.wait_for_timeout(DEAF_MS)
        if not asked.is_visible():
            page.locator('[data-ask="close"]').click()
    page.wait_for_timeout(DEAF_MS)
    page.locator('.tray [data-act="close"]').click()
    page.wait_for_timeout(DEAF_MS)
