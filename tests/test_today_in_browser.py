"""Today in a real browser on the real server: one tap signs in, nothing moves under a finger, targets are large."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

import pytest
from centre_builder import ZONE, Centre
from playwright.sync_api import Page, expect
from running_centre import RunningCentre, chromium

from course.actions import courses
from course.moments import now, observed_at
from course.record.facts import Session
from course.storage.ledger import open_ledger

SIZES = {"tablet": {"width": 820, "height": 1180}, "phone": {"width": 390, "height": 844}}
TOUCH, APART = 48, 8
PLACES = """[...document.querySelectorAll('[class*="st-key-row-"]')].map(
  (row) => { const box = row.getBoundingClientRect(); return [row.className.match(/st-key-row-[^ ]+/)[0],
    Math.round(box.top + document.querySelector('[data-testid="stMain"]').scrollTop), Math.round(box.height)] })"""
BUTTONS = """[...document.querySelectorAll('[class*="st-key-in-"] button, [class*="st-key-out-"] button')].map(
  (button) => { const box = button.getBoundingClientRect(); return [box.left, box.top, box.width, box.height] })"""


@dataclass
class Pool:
    """A running centre whose pool session began half an hour ago; P is Tamsin, Lien, Amaru and Zoë."""

    server: RunningCentre
    centre: Centre
    session: str
    group: str

    def key(self, what: str, person: str) -> str:
        return f".st-key-{what}-{self.session}-{self.group}-{person}-RUN_DAY"

    def spans(self) -> list[tuple[str, str, bool]]:
        """Person, role and whether they are still in, as the ledger has it; the server is stopped for it."""
        self.server.stop()
        with open_ledger(self.server.folder) as ledger:
            fact = ledger.fact("session", self.session)
            assert isinstance(fact, Session)
            return [(span.person, span.role.value, span.end is None) for span in fact.spans]


@pytest.fixture
def pool(small_centre: Centre) -> Iterator[Pool]:
    c = small_centre
    start, end = (observed_at(now() + timedelta(minutes=m), ZONE, "minute") for m in (-30, 120))
    session = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Pool now", setting="pool", start=start, end=end
    )
    group = courses.make_group(
        c.ledger, c.lead, session, name="Group P", staff=[c.lead, c.assistant], students=[c.amaru, c.zoe]
    )
    c.ledger.close()
    server = RunningCentre(c.ledger.folder)
    server.start()
    yield Pool(server, c, session, group)
    server.stop()


def open_today(page: Page, pool: Pool) -> None:
    page.goto(f"{pool.server.address}/?session={pool.session}")
    expect(page.locator(f"{pool.key('in', pool.centre.lead)} button")).to_be_enabled(timeout=60_000)
    expect(page.get_by_text("What stands open")).to_be_visible(timeout=30_000)
    page.wait_for_function("document.fonts.check('400 17px \\'Fira Sans\\'')")


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
def test_one_tap_signs_in_and_out_and_no_row_moves(pool: Pool, size: dict[str, int]) -> None:
    centre = pool.centre
    with chromium() as browser:
        page = browser.new_page(viewport=size)
        open_today(page, pool)
        before = page.evaluate(PLACES)
        assert len(before) >= 4
        boxes = page.evaluate(BUTTONS)
        assert all(width >= TOUCH and height >= TOUCH for _, _, width, height in boxes), boxes
        for (left, top, width, _), (next_left, next_top, _, _) in zip(boxes[::2], boxes[1::2], strict=True):
            assert abs(top - next_top) < 1
            assert next_left - (left + width) >= APART
        for person in (centre.lead, centre.amaru, centre.zoe):
            page.locator(f"{pool.key('in', person)} button").click()
            expect(page.locator(f"{pool.key('out', person)} button")).to_be_enabled(timeout=20_000)
            assert page.evaluate(PLACES) == before
        expect(page.get_by_text("2 students to 1 instructor; limit 3.")).to_be_visible()
        page.locator(f"{pool.key('in', centre.assistant)} button").dblclick()
        expect(page.get_by_text("2 students to 1 instructor and 1 assistant; limit 4.")).to_be_visible(timeout=20_000)
        expect(page.get_by_text("If Lien Ito leaves: 2 to 1, limit 3.")).to_be_visible()
        page.locator(f"{pool.key('out', centre.zoe)} button").click()
        expect(page.locator(f"{pool.key('in', centre.zoe)} button")).to_be_enabled(timeout=20_000)
        assert page.evaluate(PLACES) == before
    assert sorted(pool.spans()) == sorted(
        [
            (centre.lead, "teaching", True),
            (centre.amaru, "student", True),
            (centre.zoe, "student", False),
            (centre.assistant, "assisting", True),
        ]
    )
