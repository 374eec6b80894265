"""Signing off in a real browser: signed, taken back and signed again until the third issue; the page tells all."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from centre_builder import Centre
from playwright.sync_api import Locator, Page, expect
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled
from sign_off_examples import course_that_asks, hold_all, sign_all

PIN, AGAIN = "PIN for signing, of whoever signs", "The same once more, where it is chosen now"
LEADS, SECONDS = "471108", "258036"
SLOW = 60_000


@pytest.fixture
def ready(small_centre: Centre, tmp_path: Path) -> Iterator[Page]:
    """Ready of a student of whom all is met, at the size of a tablet."""
    c = course_that_asks(small_centre)
    hold_all(c)
    sign_all(c)
    c.ledger.close()
    server = RunningCentre(c.ledger.folder)
    server.start()
    try:
        with chromium() as browser:
            page = browser.new_page(viewport=TABLET)  # type: ignore[arg-type]
            page.goto(f"{server.address}/ready?course={c.course}")
            decides(page, "Student", "Amaru Tendelle")
            yield page
    finally:
        server.stop()


def within(page: Page, label: str) -> Locator:
    """A choice of few by its label."""
    return page.get_by_role("radiogroup", name=label, exact=True)


def form_of(page: Page, button: str) -> Locator:
    """The form that a button sends."""
    return page.locator('[data-testid="stForm"]').filter(has=page.get_by_role("button", name=button, exact=True))


def send(page: Page, button: str, pin: str, *, chooses: bool = False, **typed: str) -> None:
    """Fill a form of Ready and send it."""
    settled(page)
    form = form_of(page, button)
    for label, text in typed.items():
        form.get_by_label(label.replace("_", " "), exact=True).fill(text)
    form.get_by_label(PIN, exact=True).fill(pin)
    if chooses:
        form.get_by_label(AGAIN, exact=True).fill(pin)
    form.get_by_role("button", name=button, exact=True).click()


def told(page: Page, sentence: str) -> None:
    expect(page.get_by_text(sentence).first).to_be_visible(timeout=SLOW)


def decides(page: Page, label: str, name: str) -> None:
    settled(page)
    one = within(page, label).first.get_by_role("radio", name=name, exact=True)
    if not one.is_checked(timeout=SLOW):  # a second tap would let it go again
        one.click(timeout=SLOW)
    expect(one).to_be_checked(timeout=SLOW)


def take_back(page: Page, reason: str, *, chooses: bool = False) -> None:
    settled(page)
    page.get_by_text("Take this issue back", exact=True).click()
    decides(page, "Who takes it back?", "Bruno Ashkenar")
    send(page, "Take it back", SECONDS, chooses=chooses, Reason=reason)
    told(page, "The sign-off is taken back.")


def test_a_record_is_signed_taken_back_and_signed_anew_until_its_third_issue(ready: Page) -> None:
    page, sign = ready, "Sign Amaru Tendelle off"
    decides(page, "Who decides?", "Tamsin Okoro-Vale")
    send(page, sign, LEADS, chooses=True)
    told(page, "The sign-off is in the ledger.")
    take_back(page, "Wrong unit.", chooses=True)
    for again in ("The unit is right now.", "The date is right now."):
        decides(page, "Who decides?", "Tamsin Okoro-Vale")
        send(page, sign, SECONDS, Why_another_issue=again)
        told(page, "That is not this person's PIN for signing.")
        settled(page)
        expect(form_of(page, sign).get_by_label("Why another issue", exact=True)).to_have_value(again)
        send(page, sign, LEADS)
        told(page, "The sign-off is in the ledger.")
        if again.startswith("The unit"):
            take_back(page, "Wrong date.")
    page.reload()
    decides(page, "Student", "Amaru Tendelle")
    for number, ending in ((1, "Wrong unit."), (2, "Wrong date."), (3, "")):
        line = page.get_by_text(f"Issue {number}: signed off by Tamsin Okoro-Vale")
        expect(line).to_contain_text(ending, timeout=SLOW)
        expect(line).to_contain_text("confirmed by PIN")
