"""The order of the steps on a real pad and behind the standing: asked, answered, told in a sentence and a picture."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from centre_builder import POOL_SKILL
from live_centre import DEAF_MS, LiveCentre, all_saved, close_attempt, live_centre, open_pad, stroke
from playwright.sync_api import Page, expect

LONG = 60_000


@pytest.fixture(scope="module")
def live(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveCentre]:
    with live_centre(tmp_path_factory.mktemp("live")) as centre:
        yield centre


@pytest.fixture
def tablet(live: LiveCentre, monkeypatch: pytest.MonkeyPatch) -> Iterator[Page]:
    monkeypatch.setenv("LOOPLEDGER_STATE", str(live.running.folder.parent / "state"))
    with live.tablet(0) as page:
        yield page


def is_drawn(page: Page, image: str) -> None:
    """The picture came through whole, is small, and says the sentence."""
    picture = page.locator(image)
    expect(picture).to_be_visible(timeout=LONG)
    width, height = picture.evaluate("image => image.decode().then(() => [image.naturalWidth, image.naturalHeight])")
    assert 0 < width <= 320
    assert 0 < height <= 160


def test_three_steps_out_of_order_are_asked_told_and_drawn(live: LiveCentre, tablet: Page) -> None:
    """Two questions: the critical pair by itself, then the step that came late; that was put right unasked."""
    line = live.line()
    open_pad(tablet, live.address(line))
    told, tray = tablet.locator(".end .order-seen"), tablet.locator(".tray")
    expect(told).to_be_hidden()
    for step in ("co-out", "co-close", "co-hand"):
        stroke(tablet, step)
    expect(tray.locator("h2")).to_have_text("3 before 2: seen so?", timeout=LONG)
    tablet.wait_for_timeout(DEAF_MS)
    tray.locator('[data-act="order-no"]').click()
    expect(tray.locator("h2")).to_have_text("2, 3 before 1: seen so?", timeout=LONG)
    tablet.wait_for_timeout(DEAF_MS)
    tray.locator('[data-act="order-fixed"]').click()
    expect(tray).to_be_hidden(timeout=LONG)
    all_saved(tablet)
    sentence = (
        "Tapped 3, 2, 1: steps 2 and 3 came before step 1, seen so by you, put right unasked and still an error; "
        "out of order: step 1; step 3 before step 2 was only tapped so, no fault."
    )
    expect(told.locator(".order-sentence")).to_have_text(sentence, timeout=LONG)
    expect(told.locator(".order-signs")).to_have_text("full: out of order · F: put right unasked", timeout=LONG)
    expect(told.locator("img")).to_have_attribute("alt", sentence)
    is_drawn(tablet, ".end .order-picture img")
    expect(tablet.locator(".undo")).to_have_text("Undo: 3 before 1: yes, F")
    stroke(tablet, "co-hold")
    all_saved(tablet)
    close_attempt(tablet)
    all_saved(tablet)
    (attempt,) = live.attempts(line)
    assert [(o.first_done, o.seen_so, o.fixed_self) for o in attempt.sheets[0].orders] == [
        ("co-out", False, False),
        ("co-close", True, True),
        ("co-out", True, True),
    ]
    expect(tablet.locator(".turn .small").first).to_have_text("minor", timeout=LONG)
    behind_the_standing(live, tablet)


def behind_the_standing(live: LiveCentre, page: Page) -> None:
    """The attempt, opened on the course page: sentence and picture, with the observer's name."""
    page.goto(f"{live.running.address}/standings?student={live.ids.amaru}&skill={POOL_SKILL}")
    page.locator('[data-testid="stExpander"] summary', has_text="attempt 1").click(timeout=LONG)
    is_drawn(page, '[data-testid="stHtml"] img[alt^="Tapped 3, 2, 1, 4: "]')
    expect(page.get_by_text("full: out of order · F: put right unasked")).to_be_visible(timeout=LONG)


def test_the_question_before_closing_shows_the_order(live: LiveCentre, tablet: Page) -> None:
    line = live.line(live.ids.zoe)
    open_pad(tablet, live.address(line))
    for step in ("co-hand", "co-close", "co-out"):
        stroke(tablet, step)
    stroke(tablet, "co-hold", "left_out")
    all_saved(tablet)
    sentence = "Tapped 1, 2, 3: nothing out of order; step 4 was left out, which is no fault of order."
    expect(tablet.locator(".end .order-sentence")).to_have_text(sentence, timeout=LONG)
    tablet.wait_for_timeout(DEAF_MS)
    tablet.locator('[data-ask="close"]').click()
    expect(tablet.locator(".tray .order-sentence")).to_have_text(sentence, timeout=LONG)
    is_drawn(tablet, ".tray .order-picture img")
