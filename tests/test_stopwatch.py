"""The stopwatch, large targets, and that nothing moves under a finger: measured in a real browser."""

from __future__ import annotations

import json
import signal
from collections.abc import Iterator
from typing import Any

import pytest
from pad_browser import ATTEMPT, SHEET, pad_data
from playwright.sync_api import Browser, Page, expect
from running_centre import chromium
from test_pad_in_browser import Server, all_saved, open_pad, paused, tap

from course.places import SCREENS

START, STOP = '[data-act="clock-start"][data-step="hold"]', '[data-act="clock-stop"][data-step="hold"]'
CLOCK_KEY = f"course.clock.{ATTEMPT}.hold"


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    made = Server(tmp_path_factory.mktemp("watch"))
    yield made
    made.end(signal.SIGKILL)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as made:
        yield made


@pytest.fixture(scope="module")
def tablet(browser: Browser) -> Any:
    """One tablet for all tests: it loads the page's files once."""
    return browser.new_context(viewport={"width": 820, "height": 1180}, has_touch=True)


@pytest.fixture
def page(server: Server, tablet: Any) -> Iterator[Page]:
    server.store.file.unlink(missing_ok=True)
    made = tablet.new_page()
    made.goto(f"{server.address}/course/pulse")
    made.evaluate("localStorage.clear()")
    yield open_pad(made, server)
    made.close()


@pytest.fixture(scope="module")
def empty_page(tablet: Any) -> Any:
    return tablet.new_page()


def started_ago(page: Page, seconds: float) -> None:
    """The clock of step 4 runs since so long: what Start writes, moved back."""
    page.evaluate(
        """([key, ago]) => {
            const at = Date.now() - ago;
            localStorage.setItem(key, JSON.stringify({ from: at, tapped: at }));
        }""",
        [CLOCK_KEY, seconds * 1000],
    )
    expect(page.locator(STOP)).to_be_enabled()


def values(server: Server) -> list[dict[str, Any]]:
    return [item["body"] for item in server.store.items() if item["kind"] == "value_measured/1"]


# --- the stopwatch ---------------------------------------------------------------------------------------------------


def test_a_stopwatch_started_twice_goes_on_from_its_first_start(page: Page, server: Server) -> None:
    page.locator(START).click()
    first = page.evaluate("(key) => localStorage.getItem(key)", CLOCK_KEY)
    paused(page)
    page.locator(START).click()
    expect(page.locator(".said")).to_contain_text("The clock of step 4 runs already, for 0:0")
    assert page.evaluate("(key) => localStorage.getItem(key)", CLOCK_KEY) == first
    assert server.store.items() == []


def test_it_runs_on_over_a_reload_and_its_reading_goes_nowhere_before_it_is_kept(page: Page, server: Server) -> None:
    started_ago(page, 41.3)
    page.reload()
    page.locator(".pad").wait_for()
    expect(page.locator(STOP)).to_contain_text("Stop 0:4")
    page.locator(STOP).click()
    expect(page.locator(".tray h2")).to_contain_text("Step 4: 4")
    paused(page)
    page.locator(".tray .shut").click()
    assert values(server) == []
    paused(page)
    page.locator(STOP).click()
    paused(page)
    kept = page.locator(".tray .main .word").inner_text()
    page.locator(".tray .main").click()
    all_saved(page)
    (value,) = values(server)
    assert kept == f"Keep {value['value']} s"
    assert (value["quantity"], value["unit"]) == ("time", "s")
    assert 41.3 <= float(value["value"]) < 60
    assert len(value["value"].split(".")[1]) == 1
    assert page.evaluate("(key) => localStorage.getItem(key)", CLOCK_KEY) is None


def test_a_value_outside_its_limit_overrules_the_tick_at_once(page: Page, server: Server) -> None:
    tap(page, "hold", "done")
    started_ago(page, 41)
    page.locator(STOP).click()
    expect(page.locator(".tray")).to_contain_text("of 60 s asked: kept so, it overrules the tick")
    paused(page)
    page.locator(".tray .main").click()
    expect(page.locator('.value[data-step="hold"] .word')).to_contain_text("s of 60 s asked: critical error a")
    done = page.locator('.acts .done[data-step="hold"]')
    assert "overruled" in str(done.get_attribute("class"))
    assert done.locator(".word").evaluate("(word) => getComputedStyle(word).textDecorationLine") == "line-through"
    cross = page.locator('.acts .error[data-step="hold"]')
    assert (cross.locator(".word").inner_text(), cross.get_attribute("aria-pressed")) == ("a", "true")
    expect(page.locator(".so-far")).to_have_text("critical: step 4 a")
    label = str(page.locator('[data-row="hold"]').get_attribute("aria-label"))
    assert "Mark: done, overruled by the value: 4" in label
    all_saved(page)
    assert [item["kind"] for item in server.store.items()] == ["marks_given/1", "value_measured/1"]


def test_a_time_can_be_typed_while_the_clock_runs_and_ends_it(page: Page, server: Server) -> None:
    page.locator(START).click()
    page.locator('.value[data-step="hold"]').click()
    page.locator(".tray input").fill("60")
    page.locator(".tray input").press("Enter")
    all_saved(page)
    assert [value["value"] for value in values(server)] == ["60"]
    expect(page.locator(STOP)).to_be_disabled()


def test_a_clock_that_runs_from_a_step_proposes_that_step_s_tap_and_starts_only_by_a_tap(
    page: Page, server: Server
) -> None:
    """The limit of step 4 runs from step 3: its tap is proposed; the reading from Start stands beside it."""
    expect(page.locator(START)).to_contain_text("at your tap")
    tap(page, "draw", "done")
    expect(page.locator(START)).to_contain_text("from step 3, 0:0")
    expect(page.locator(STOP)).to_be_disabled()
    page.wait_for_timeout(1200)
    page.locator(START).click()
    expect(page.locator(START)).to_contain_text("since step 3")
    page.locator(STOP).click()
    longer, shorter = page.locator('.tray [data-act="keep-reading"]').all()
    assert "from step 3" in longer.inner_text()
    assert "from your tap on Start" in shorter.inner_text()
    assert float(str(longer.get_attribute("data-value"))) > float(str(shorter.get_attribute("data-value")))
    paused(page)
    shorter.click()
    all_saved(page)
    assert len(values(server)) == 1


@pytest.mark.parametrize("hours", [-1, 7])
def test_a_clock_over_which_the_tablet_s_time_was_changed_is_not_trusted(
    page: Page, server: Server, hours: int
) -> None:
    started_ago(page, hours * 3600)
    page.locator(STOP).click()
    expect(page.locator(".tray .problem")).to_contain_text("the tablet's time was changed. Type the value.")
    assert values(server) == []


@pytest.mark.parametrize(
    ("limit", "milliseconds", "read"),
    [
        ({"unit": "s", "at_least": "60", "at_most": None}, 59_960, "59.9"),
        ({"unit": "s", "at_least": "60", "at_most": None}, 60_000, "60.0"),
        ({"unit": "s", "at_least": None, "at_most": "15"}, 15_001, "15.1"),
        ({"unit": "s", "at_least": None, "at_most": "15"}, 15_000, "15.0"),
        ({"unit": "min", "at_least": "10", "at_most": None}, 599_999, "9.9"),
        ({"unit": "min", "at_least": "4.25", "at_most": None}, 254_990, "4.24"),
        ({"unit": "s", "at_least": "5", "at_most": "10"}, 10_010, "10.1"),
        ({"unit": "s", "at_least": "5", "at_most": "10"}, 4_990, "4.9"),
        ({"unit": "s", "at_least": "0.3", "at_most": None}, 300, "0.3"),
    ],
)
def test_a_reading_is_never_rounded_over_its_bound(
    empty_page: Page, limit: dict[str, Any], milliseconds: int, read: str
) -> None:
    """59.96 s is short of 60 (counting.md, 5: compared as decimals): it must not be read as 60.0."""
    source = (SCREENS / "pad_clock.js").read_text("utf-8")
    assert (
        empty_page.evaluate(f"([limit, ms]) => {{ {source}; return reading(limit, ms); }}", [limit, milliseconds])
        == read
    )


# --- large targets ---------------------------------------------------------------------------------------------------

TARGETS = """(pad) => [...pad.querySelectorAll("button, input, select, summary")]
    .filter((one) => one.getClientRects().length && getComputedStyle(one).visibility !== "hidden")
    .map((one) => { const box = one.getBoundingClientRect(); return [one.textContent, box.width, box.height]; })"""


@pytest.mark.parametrize("size", [(820, 1180), (390, 844)], ids=["tablet", "phone"])
def test_with_large_targets_each_is_72_or_more_and_less_is_on_the_screen(page: Page, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    parts = "(pad) => [...pad.querySelectorAll('*')].filter((one) => one.getClientRects().length).length"
    before = page.locator(".pad").evaluate(parts)
    page.locator(".large-switch").click()
    page.locator(".see").evaluate("(made) => { made.style.visibility = 'visible'; }")
    assert page.locator(".pad").evaluate(parts) < before
    assert [one for one in page.locator(".pad").evaluate(TARGETS) if min(one[1:]) < 72] == []
    paused(page)
    tap(page, "shut", "error")
    expect(page.locator(".tray")).to_be_visible()
    assert [one for one in page.locator(".pad").evaluate(TARGETS) if min(one[1:]) < 72] == []
    over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert over <= 0
    cut = page.locator(".pad").evaluate("""(pad) => [...pad.querySelectorAll("button")]
        .filter((one) => one.getClientRects().length && one.scrollWidth > one.clientWidth + 1)
        .map((one) => one.textContent)""")
    assert cut == []


def test_large_targets_are_kept_on_the_tablet_and_have_the_same_keys(page: Page, server: Server) -> None:
    page.locator(".large-switch").click()
    page.reload()
    page.locator(".pad.large").wait_for()
    expect(page.locator(".large-switch")).to_have_attribute("aria-pressed", "true")
    page.locator('[data-row="say"]').focus()
    for key in ("Enter", "ArrowDown", "a", "ArrowDown", "p"):
        page.keyboard.press(key)
    all_saved(page)
    marks = [item["body"]["marks"][0] for item in server.store.items()]
    assert [(mark["step"], mark["mark"]) for mark in marks] == [
        ("say", "done"), ("shut", "error"), ("draw", "prompted"),
    ]  # fmt: skip
    page.locator(".large-switch").click()
    expect(page.locator(".pad.large")).to_have_count(0)


def test_cautions_are_shown_with_large_targets_too(page: Page) -> None:
    page.locator(".large-switch").click()
    expect(page.locator(".caution")).to_be_visible()


# --- nothing moves under a finger ------------------------------------------------------------------------------------

PLACES = """(pad) => [...pad.querySelectorAll(
        "[data-row], .acts button, .limit button, .clean, .closing, .closing button, .undo, .head, .large-switch")]
    .filter((one) => one.getClientRects().length)
    .map((one) => {
        const box = one.getBoundingClientRect();
        const { row, act, mark, step, ask } = one.dataset;
        const size = one.matches(".undo, .clean") ? [] : [Math.round(box.width), Math.round(box.height)];
        return [[row, act, mark, step, ask].join(" "), Math.round(box.x), Math.round(box.y), ...size];
    })"""


def places(page: Page) -> list[Any]:
    """Where everything is that a finger may be on its way to. Undo and clean keep their place, not their width."""
    found = page.locator(".pad").evaluate(PLACES)
    assert len(found) > 40
    return list(found)


@pytest.mark.parametrize("size", [(820, 1180), (390, 844), (1440, 900)], ids=["tablet", "phone", "desk"])
def test_nothing_moves_under_a_finger(page: Page, size: tuple[int, int]) -> None:
    """Marks, errors, values, order questions, waiting, trouble, saved again, undo: every box stays where it was."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.wait_for_timeout(300)
    tap(page, "say", "done")  # the page is where the first tap brought it
    page.locator(".closing").evaluate("(one) => one.scrollIntoView({ block: 'end' })")
    still = places(page)

    def unmoved(what: str) -> None:
        page.wait_for_timeout(60)
        assert places(page) == still, what

    page.route("**/course/marks", lambda route: route.abort())

    def press(selector: str) -> None:
        """A tap where the button lies, without the browser scrolling to it first."""
        page.locator(selector).first.evaluate("(one) => one.click()")

    for what, selector in (
        ("a tick", '.acts .done[data-step="read"]'),
        ("an order question", '.acts .done[data-step="hold"]'),
        ("its answer", '.tray [data-act="order-no"]'),
        ("the list of errors", '.acts .error[data-step="shut"]'),
        ("an error", '.choice[data-error="gas-on"]'),
        ("the clock", START),
        ("the clock's reading", STOP),
        ("a value outside its limit", ".tray .main"),
        ("whole attempt clean", ".clean"),
        ("what waits", ".see"),
        ("back", ".tray .shut"),
        ("undo", ".undo"),
    ):
        press(selector)
        unmoved(what)
    expect(page.locator(".status")).to_contain_text("waiting to be saved")
    page.unroute_all()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    all_saved(page)
    unmoved("saved")
    page.route(
        "**/course/marks",
        lambda route: route.fulfill(status=400, content_type="application/json", body=json.dumps({"sentence": "No."})),
    )
    press('.acts .prompted[data-step="list"]')
    expect(page.locator(".status")).to_contain_text("not taken")
    unmoved("a tap that was not taken")


# --- a session that takes no more -------------------------------------------------------------------------------------


def test_in_a_frozen_session_an_attempt_can_only_be_stopped_or_made_void(page: Page, server: Server) -> None:
    """The server tells it with the pulse; the strokes are shut, what ends an attempt is not."""
    tap(page, "say", "done")
    all_saved(page)
    events = [item["id"] for item in server.store.items()]
    shut = pad_data(ATTEMPT, shut="The pool was frozen at 15:30.", frozen=True, version="frozen")
    shut |= {"attempt": ATTEMPT, "sheet": SHEET, "events": events}
    told = {
        "server_utc": "2026-05-04T10:00:00.000000Z", "writable": True,
        "states": [shut],
    }  # fmt: skip
    page.route(
        "**/course/pulse?*",
        lambda route: route.fulfill(status=200, content_type="application/json", body=json.dumps(told)),
    )
    expect(page.locator(".notes")).to_contain_text("this session takes no more marks", timeout=8_000)
    expect(page.locator(".closed-line")).to_have_text("The pool was frozen at 15:30.")
    made = page.locator(".acts button, .limit button, .clean, .undo, .close")
    assert made.count() > 0
    for one in made.all():
        expect(one).to_be_disabled()
    page.locator('[data-ask="stop"]').click()
    paused(page)
    page.locator('[data-by="instructor"]').click()
    expect(page.locator(".closed-line")).to_contain_text("Stopped by the instructor.")
