"""The pad in a real browser against the real server: nothing is lost, nothing lands on the wrong student.

Chromium drives the same gate, routes and component that a tablet meets; only the ledger is a file of JSON lines.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from pad_browser import ATTEMPT, OTHER_ATTEMPT, OTHER_STUDENT, SECOND, STUDENT, Store
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect
from running_centre import chromium, free_port

from course.screens import step_pad

SIZES = {"tablet upright": (820, 1180), "phone": (390, 844), "desk": (1440, 900)}
UPRIGHT: ViewportSize = {"width": 820, "height": 1180}
HERE = Path(__file__).parent


class Server:
    """The stub server as a process of its own, so that it can be killed."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        self.folder = folder
        self.arguments = arguments
        self.port = free_port()
        self.store = Store(folder)
        self.start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        path = os.pathsep.join([str(HERE.parent), str(HERE)])
        with (self.folder / "log.txt").open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, str(HERE / "pad_browser.py"), str(self.folder), str(self.port), *self.arguments],
                env={**os.environ, "PYTHONPATH": path}, stdout=log, stderr=log,
            )  # fmt: skip
        for _ in range(300):
            try:
                urllib.request.urlopen(f"{self.address}/course/pulse", timeout=2).read()  # noqa: S310 - our own
            except OSError:
                assert self.process.poll() is None, (self.folder / "log.txt").read_text()
                time.sleep(0.1)
            else:
                return
        pytest.fail("the server did not answer")

    def end(self, how: signal.Signals) -> int:
        self.process.send_signal(how)
        return self.process.wait(timeout=30)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    made = Server(tmp_path_factory.mktemp("pad"))
    yield made
    made.end(signal.SIGKILL)


@pytest.fixture
def start_server(tmp_path: Path) -> Iterator[Callable[..., Server]]:
    """Start a server of the test's own, which is ended with the test, however that ends."""
    started: list[Server] = []

    def start(*arguments: str) -> Server:
        started.append(Server(tmp_path, *arguments))
        return started[-1]

    yield start
    for one in started:
        if one.process.poll() is None:
            one.end(signal.SIGKILL)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as made:
        yield made


@pytest.fixture(autouse=True)
def _nothing_stored(server: Server) -> None:
    server.store.file.unlink(missing_ok=True)
    (server.folder / "full").unlink(missing_ok=True)


@pytest.fixture(scope="module")
def tablet(browser: Browser) -> BrowserContext:
    """One tablet for all tests, so that the scripts of the page are compiled once; it forgets after each."""
    context = browser.new_context(viewport=UPRIGHT, has_touch=True)
    context.new_page()  # while one tab is left, the process stays
    return context


@pytest.fixture
def page(server: Server, tablet: BrowserContext) -> Iterator[Page]:
    opened = open_pad(tablet.new_page(), server)
    yield opened
    forget(opened, server)


def forget(page: Page, server: Server) -> None:
    """Shut a page and all that it left on the tablet."""
    session = page.context.new_cdp_session(page)
    page.goto("about:blank")  # nothing writes any more
    session.send("Storage.clearDataForOrigin", {"origin": server.address, "storageTypes": "all"})
    page.context.set_offline(False)
    page.context.unroute_all()
    page.close()


def open_pad(page: Page, server: Server, attempt: str = ATTEMPT) -> Page:
    page.goto(f"{server.address}/?attempt={attempt}")
    page.locator(".pad").wait_for(timeout=60_000)
    expect(page.locator(".status")).to_have_text("all saved")
    page.wait_for_function("[400, 600, 700].every((weight) => document.fonts.check(`${weight} 17px 'Fira Sans'`))")
    return page


def tap(page: Page, step: str, stroke: str) -> None:
    page.locator(f'.acts .{stroke}[data-step="{step}"]').click()


def pressed(page: Page, step: str) -> list[str]:
    """The strokes of a step that are pressed."""
    found = page.locator(f'.acts [data-step="{step}"][aria-pressed="true"]')
    return [str(one.get_attribute("data-mark")) for one in found.all()]


def all_saved(page: Page) -> None:
    expect(page.locator(".status")).to_have_text("all saved", timeout=20_000)


def lines(store: Store) -> list[tuple[str, str, list[str]]]:
    """Stored marks as (step, mark, errors), in the order in which they came."""
    marks = [item["body"]["marks"][0] for item in store.items() if item["kind"] == "marks_given/1"]
    return [(line["step"], line["mark"], line["errors"]) for line in marks]


def waiting_ids(page: Page) -> list[str]:
    """Ids that wait in the browser's own storage."""
    keys = page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('course.out.')).sort()")
    return [key.rsplit(".", 1)[1] for key in keys]


def paused(page: Page) -> None:
    """Longer than the pad is deaf to a second tap on the same button or where the tray was."""
    page.wait_for_timeout(450)


# --- nothing is lost -----------------------------------------------------------------------------------------------


def test_a_tap_is_drawn_at_once_though_the_server_has_not_answered(page, server):
    held: list[Any] = []

    def hold(route: Any) -> None:
        held.append(route)

    page.route("**/course/marks", hold)
    tap(page, "say", "done")
    assert pressed(page, "say") == ["done"]
    assert page.locator(".status").inner_text() == "1 waiting to be saved"
    expect(page.locator('[data-row="say"] .extra')).to_have_text("waiting")
    assert len(waiting_ids(page)) == 1
    held[0].continue_()
    all_saved(page)
    assert waiting_ids(page) == []
    assert lines(server.store) == [("say", "done", [])]


def test_taps_on_a_killed_server_are_all_stored_once_when_it_is_back(browser, start_server):
    """Three taps, SIGKILL, four taps, the same port again: ids in the store are the ids tapped; no reload."""
    server = start_server()
    context = browser.new_context(viewport={"width": 820, "height": 1180})
    page = open_pad(context.new_page(), server)
    page.evaluate("window.neverReloaded = true")
    page.evaluate("""() => {
        window.put = [];
        const set = Storage.prototype.setItem;
        Storage.prototype.setItem = function (key, value) {
            if (key.startsWith("course.out.")) window.put.push(JSON.parse(value).item.id);
            return set.call(this, key, value);
        };
    }""")
    for step in ("say", "shut", "draw"):
        tap(page, step, "done")
    all_saved(page)
    assert server.end(signal.SIGKILL) == -9
    for step, stroke in (("hold", "done"), ("read", "prompted"), ("open", "left_out"), ("list", "not_seen")):
        tap(page, step, stroke)
    expect(page.locator(".status")).to_have_text("No server · 4 waiting to be saved", timeout=20_000)
    assert len(server.store.items()) == 3
    server.start()
    all_saved(page)
    tapped = page.evaluate("window.put")
    assert len(tapped) == 7
    assert [item["id"] for item in server.store.items()] == tapped
    assert page.evaluate("window.neverReloaded") is True
    assert pressed(page, "list") == ["not_seen"]
    assert server.end(signal.SIGTERM) == 0
    context.close()


def test_waiting_taps_survive_a_reload_and_a_pad_of_another_attempt_sends_them(page, server):
    page.route("**/course/marks", lambda route: route.abort())
    tap(page, "say", "done")
    tap(page, "list", "prompted")
    waiting = waiting_ids(page)
    page.reload()
    page.locator(".pad").wait_for()
    expect(page.locator(".status")).to_contain_text("2 waiting to be saved")
    assert (pressed(page, "say"), pressed(page, "list")) == (["done"], ["prompted"])
    page.unroute_all()
    page.goto(f"{server.address}/?attempt={OTHER_ATTEMPT}")
    page.locator(f'[data-attempt="{OTHER_ATTEMPT}"]').wait_for()
    all_saved(page)
    assert [item["id"] for item in server.store.items()] == waiting
    assert {item["attempt"] for item in server.store.items()} == {ATTEMPT}
    assert pressed(page, "say") == []


def test_the_same_button_within_a_fifth_of_a_second_is_stored_once(page, server):
    page.evaluate("""() => {
        const made = document.querySelector("[data-testid=stBidiComponentIsolated]").shadowRoot
            .querySelector('.acts .done[data-step="say"]');
        made.click();
        setTimeout(() => made.click(), 180);
    }""")
    page.wait_for_timeout(400)
    all_saved(page)
    assert lines(server.store) == [("say", "done", [])]


def test_two_different_steps_within_milliseconds_are_both_stored_in_order(page, server):
    page.evaluate("""() => {
        const root = document.querySelector("[data-testid=stBidiComponentIsolated]").shadowRoot;
        for (const step of ["say", "shut", "list"]) root.querySelector(`.acts .done[data-step="${step}"]`).click();
    }""")
    all_saved(page)
    assert [step for step, _, _ in lines(server.store)] == ["say", "shut", "list"]
    ids = [item["id"] for item in server.store.items()]
    assert ids == sorted(ids)


def test_every_tap_carries_what_was_on_the_screen_and_an_id_of_version_7(page, server):
    """RFC 9562, 5.7: version 7, variant 10, first 48 bits the time in milliseconds."""
    tap(page, "say", "done")
    all_saved(page)
    item = server.store.items()[0]
    assert (item["attempt"], item["student"]) == (ATTEMPT, STUDENT)
    bits = item["id"].replace("-", "")
    assert (bits[12], bits[16] in "89ab") == ("7", True)
    at = time.mktime(time.strptime(item["tapped_at"][:19], "%Y-%m-%dT%H:%M:%S")) - time.timezone
    assert abs(int(bits[:12], 16) / 1000 - at) < 2
    assert isinstance(item["clock_offset_ms"], int)


def test_a_better_reading_of_the_clock_turns_no_two_taps_round(page, server):
    """A slow answer puts a tablet's clock wrong by seconds and the next one right: taps stay in the order they had."""
    shifts = [4, 0]

    def misread(route: Any) -> None:
        answer = route.fetch()
        said = answer.json()
        moment = datetime.fromisoformat(said["server_utc"]) + timedelta(seconds=shifts[0])
        said["server_utc"] = moment.isoformat().replace("+00:00", "Z")
        route.fulfill(response=answer, json=said)

    page.route("**/course/pulse*", misread)
    page.route("**/course/marks", misread)
    page.reload()
    tap(page, "say", "done")
    all_saved(page)
    shifts.pop(0)
    tap(page, "shut", "done")
    all_saved(page)
    tap(page, "list", "done")
    all_saved(page)
    moments = [
        datetime.fromisoformat(item["tapped_at"]) + timedelta(milliseconds=item["clock_offset_ms"])
        for item in server.store.items()
    ]
    assert moments == sorted(moments)
    assert server.store.items()[0]["clock_offset_ms"] > 2_000, "the first reading was wrong, or this shows nothing"


def test_a_tap_for_another_student_is_refused_shown_and_kept_until_put_away(page, server):
    """A stale item in the tablet's storage names another student than the attempt has."""
    page.route("**/course/marks", lambda route: route.abort())
    tap(page, "say", "done")
    page.evaluate("""(other) => {
        const key = Object.keys(localStorage).find((one) => one.startsWith("course.out."));
        const entry = JSON.parse(localStorage.getItem(key));
        entry.item.student = other;
        localStorage.setItem(key, JSON.stringify(entry));
    }""", OTHER_STUDENT)  # fmt: skip
    page.unroute_all()
    page.reload()
    expect(page.locator(".status")).to_have_text("all saved · 1 not taken", timeout=20_000)
    assert server.store.items() == []
    assert pressed(page, "say") == []
    page.locator(".see").click()
    expect(page.locator(".refused")).to_contain_text("step 1 done. This tap names another student")
    page.reload()
    expect(page.locator(".status")).to_contain_text("1 not taken")
    page.locator(".see").click()
    paused(page)
    page.locator('[data-act="put-away"]').click()
    all_saved(page)


def test_not_saved_is_said_in_words_and_the_taps_are_kept(page, server):
    sentence = json.dumps({"sentence": "NOT saved: The disk is full."})
    page.route(
        "**/course/marks", lambda route: route.fulfill(status=503, content_type="application/json", body=sentence)
    )
    tap(page, "say", "done")
    expect(page.locator(".status")).to_have_text("NOT saved · 1 waiting to be saved")
    page.locator(".see").click()
    expect(page.locator(".tray")).to_contain_text("NOT saved: The disk is full.")
    page.unroute_all()
    all_saved(page)
    assert len(server.store.items()) == 1


def test_a_folder_that_takes_nothing_is_said_before_the_next_tap(page, server):
    (server.folder / "full").touch()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".status")).to_have_text("NOT saved")


def test_when_the_code_is_asked_again_the_taps_are_kept_and_the_way_is_offered(page, server):
    page.route("**/course/marks", lambda route: route.fulfill(status=401, content_type="application/json", body="{}"))
    tap(page, "say", "done")
    expect(page.locator(".status")).to_have_text("Sign in again · 1 waiting to be saved")
    page.locator(".see").click()
    expect(page.locator('[data-act="sign-in"]')).to_be_visible()
    assert len(waiting_ids(page)) == 1


def test_one_bad_tap_holds_up_no_other(page, server):
    """A whole list refused is sent again one by one; only the tap that is refused alone is taken out."""

    def answer(route: Any) -> None:
        items = route.request.post_data_json["items"]
        bad = any(line["step"] == "shut" for item in items for line in item["body"]["marks"])
        if bad:
            route.fulfill(status=400, content_type="application/json", body='{"sentence": "Cannot be read."}')
        else:
            route.continue_()

    page.route("**/course/marks", lambda route: route.abort())
    for step in ("say", "shut", "list"):
        tap(page, step, "done")
    page.unroute_all()
    page.route("**/course/marks", answer)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".status")).to_have_text("all saved · 1 not taken", timeout=20_000)
    assert [step for step, _, _ in lines(server.store)] == ["say", "list"]


def test_waiting_taps_can_be_saved_as_a_file(page):
    page.route("**/course/marks", lambda route: route.abort())
    tap(page, "say", "done")
    page.locator(".see").click()
    paused(page)
    with page.expect_download() as saving:
        page.locator('[data-act="file"]').click()
    kept = json.loads(Path(saving.value.path()).read_text())
    assert [item["id"] for item in kept["items"]] == waiting_ids(page)
    assert saving.value.suggested_filename.startswith("waiting-taps-")


def test_no_name_of_a_person_is_kept_in_the_tablets_storage(page):
    page.route("**/course/marks", lambda route: route.abort())
    tap(page, "say", "done")
    kept = page.evaluate("JSON.stringify(Object.entries(localStorage))")
    assert "step 1 done" in kept
    assert "Halima" not in kept
    assert "Duarte" not in kept


def test_a_rerun_of_the_page_loses_neither_marks_nor_focus(page, server):
    """Python hears of the saved taps and draws again; the pad keeps its nodes."""
    told = server.folder / "told.txt"
    told.write_text("")
    page.evaluate("""() => {
        const root = document.querySelector("[data-testid=stBidiComponentIsolated]").shadowRoot;
        root.querySelector(".pad").sameNode = true;
        root.querySelector('.acts .done[data-step="say"]').focus();
    }""")
    page.keyboard.press("Enter")
    all_saved(page)
    for _ in range(100):
        if "1 None" in told.read_text():
            break
        page.wait_for_timeout(100)
    assert "1 None" in told.read_text()
    tap(page, "list", "done")
    assert page.locator(".pad").evaluate("(pad) => pad.sameNode") is True
    assert (pressed(page, "say"), pressed(page, "list")) == (["done"], ["done"])
    assert page.locator(".acts .done:focus").get_attribute("data-step") == "list"


def test_nothing_is_asked_of_any_other_host(server, browser):
    context = browser.new_context()
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket_: asked.append(socket_.url))
    open_pad(page, server)
    tap(page, "say", "done")
    all_saved(page)
    ours = (server.address, server.address.replace("http", "ws"), "blob:", "data:")
    assert len(asked) > 10
    assert [url for url in asked if not url.startswith(ours)] == []
    assert any(url.endswith("FiraSans-Bold.ttf") for url in asked)
    assert page.evaluate("document.fonts.check('700 20px \"Fira Sans\"')")
    context.close()


def test_another_machine_gives_the_code_once_and_comes_back_to_its_attempt(browser, start_server, tmp_path):
    """The client's address is set as a proxy on this machine would; the taps that wait are kept over the sign-in."""
    server = start_server("--share")
    context = browser.new_context(extra_http_headers={"X-Forwarded-For": "192.168.7.23"})
    page = context.new_page()
    page.goto(f"{server.address}/?attempt={OTHER_ATTEMPT}")
    page.locator("#code").fill("not the code")
    page.locator("button").click()
    expect(page.locator(".said")).to_contain_text("That is not the code.")
    page.wait_for_timeout(1100)
    code = json.loads((tmp_path / "state" / "gate.json").read_text())["code"]
    assert code in (tmp_path / "log.txt").read_text()
    page.locator("#code").fill(code.lower())
    page.locator("button").click()
    page.locator(f'[data-attempt="{OTHER_ATTEMPT}"]').wait_for(timeout=60_000)
    tap(page, "say", "done")
    all_saved(page)
    assert [item["student"] for item in server.store.items()] == [OTHER_STUDENT]
    context.clear_cookies()
    tap(page, "list", "done")
    expect(page.locator(".status")).to_have_text("Sign in again · 1 waiting to be saved")
    page.locator(".see").click()
    paused(page)
    page.locator('[data-act="sign-in"]').click()
    page.locator("#code").fill(code)
    page.locator("button").click()
    page.locator(f'[data-attempt="{OTHER_ATTEMPT}"]').wait_for(timeout=60_000)
    all_saved(page)
    assert len(server.store.items()) == 2
    context.close()
    assert server.end(signal.SIGINT) == 0


def test_a_name_is_text_and_never_markup(page):
    """The pad sets people's text by textContent only."""
    for part in step_pad.SCRIPTS:
        source = (HERE.parent / "course" / "screens" / part).read_text()
        for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function"):
            assert word not in source
    assert page.locator(".who").inner_text() == "Halima Ndiaye cap 4"


# --- marking -------------------------------------------------------------------------------------------------------


def test_every_mark_takes_at_most_two_taps(page, server):
    for step, stroke in (("say", "done"), ("draw", "prompted"), ("open", "left_out"), ("list", "not_seen")):
        tap(page, step, stroke)
    tap(page, "shut", "error")
    paused(page)
    page.locator('.choice[data-error="gas-on"]').click()
    all_saved(page)
    assert lines(server.store) == [
        ("say", "done", []), ("draw", "prompted", []), ("open", "left_out", []), ("list", "not_seen", []),
        ("shut", "error", ["gas-on"]),
    ]  # fmt: skip
    expect(page.locator(".so-far")).to_have_text("critical: step 2 a")
    expect(page.locator('[data-row="shut"] .hit')).to_have_text("critical")


def test_a_critical_error_is_taken_away_only_by_asking_for_it_twice(page, server):
    """One slip of a finger, or a double tap, must not wipe what may hurt somebody."""
    tap(page, "shut", "error")
    paused(page)
    page.locator('.choice[data-error="gas-on"]').click()
    all_saved(page)
    paused(page)
    tap(page, "shut", "done")
    paused(page)
    expect(page.locator(".so-far")).to_have_text("critical: step 2 a")
    expect(page.get_by_text("Step 2 holds the critical error a: tap done once more to take it away.")).to_be_visible()
    tap(page, "shut", "done")
    all_saved(page)
    assert lines(server.store)[-1] == ("shut", "done", [])


def test_the_same_mark_again_does_nothing_and_another_replaces(page, server):
    tap(page, "say", "done")
    paused(page)
    tap(page, "say", "done")
    tap(page, "say", "not_seen")
    all_saved(page)
    first, second = server.store.items()
    assert second["body"]["marks"][0]["replaces"] == [first["id"]]
    assert pressed(page, "say") == ["not_seen"]


def test_an_error_holds_several_letters_a_prompt_and_put_right_unasked(page, server):
    for error in ("gas-on", "dump-open"):
        tap(page, "shut", "error")
        paused(page)
        page.locator(f'.choice[data-error="{error}"]').click()
        paused(page)
    tap(page, "shut", "error")
    paused(page)
    page.locator('[data-act="prompt-too"]').click()
    page.locator('[data-act="fixed"]').click()
    all_saved(page)
    last = server.store.items()[-1]["body"]["marks"][0]
    assert (last["errors"], last["prompted"], last["fixed_self"]) == (["gas-on", "dump-open"], True, True)
    assert pressed(page, "shut") == ["prompted", "error"]
    expect(page.locator(".undo")).to_contain_text("Undo: step 2 error a b, prompted too, F")


def test_a_prompt_marked_before_an_error_is_not_lost(page, server):
    tap(page, "shut", "prompted")
    tap(page, "shut", "error")
    paused(page)
    page.locator('.choice[data-error="dump-open"]').click()
    all_saved(page)
    last = server.store.items()[-1]["body"]["marks"][0]
    assert (last["mark"], last["errors"], last["prompted"]) == ("error", ["dump-open"], True)


def test_another_error_carries_its_words(page, server):
    tap(page, "say", "error")
    paused(page)
    page.locator('[data-act="other"]').click()
    paused(page)
    page.locator('[data-act="keep-other"]').click()
    expect(page.locator(".problem")).to_contain_text("Write a word or two")
    page.locator(".tray input").fill("Pointed to the wrong valve")
    page.locator(".tray input").press("Enter")
    all_saved(page)
    body = server.store.items()[0]["body"]
    assert (body["marks"][0]["errors"], body["notes"]) == (["x"], {"say": "Pointed to the wrong valve"})


def test_a_second_tap_where_the_tray_just_shut_does_nothing(page, server):
    """A wet finger on the letter taps twice: the second must not reach the row under the tray."""
    tap(page, "shut", "error")
    paused(page)
    letter = page.locator('.choice[data-error="gas-on"]').bounding_box()
    at = (letter["x"] + letter["width"] / 2, letter["y"] + letter["height"] / 2)
    under = """([x, y]) => document.querySelector("[data-testid=stBidiComponentIsolated]").shadowRoot
        .elementsFromPoint(x, y).some((one) => one.closest(".acts"))"""
    for _ in range(40):
        if page.evaluate(under, at):
            break
        page.mouse.wheel(0, 15)
        page.wait_for_timeout(30)
    assert page.evaluate(under, at), "no stroke lies under the tray; the test would prove nothing"
    page.mouse.click(*at)
    page.mouse.click(*at)
    all_saved(page)
    assert lines(server.store) == [("shut", "error", ["gas-on"])]


def test_a_wet_finger_on_undo_takes_back_one_tap_and_not_two(page, server):
    tap(page, "say", "done")
    tap(page, "list", "done")
    page.locator(".undo").dblclick(delay=20)
    all_saved(page)
    assert [item["kind"] for item in server.store.items()] == ["marks_given/1", "marks_given/1", "withdrawn/1"]
    assert pressed(page, "say") == ["done"]


def test_undo_names_what_it_takes_back_and_the_mark_before_is_back(page, server):
    tap(page, "say", "done")
    tap(page, "say", "left_out")
    undo = page.locator(".undo")
    expect(undo).to_have_text("Undo: step 1 left out")
    undo.click()
    assert pressed(page, "say") == ["done"]
    expect(undo).to_have_text("Undo: step 1 done")
    paused(page)
    undo.click()
    assert pressed(page, "say") == []
    expect(undo).to_be_disabled()
    all_saved(page)
    kinds = [item["kind"] for item in server.store.items()]
    assert kinds == ["marks_given/1"] * 2 + ["withdrawn/1"] * 2
    given = [item["id"] for item in server.store.items()[:2]]
    assert [item["body"]["withdraws"] for item in server.store.items()[2:]] == given[::-1]


def test_order_is_asked_once_and_only_the_yes_makes_a_fault(page, server):
    tap(page, "read", "done")
    tap(page, "hold", "done")
    tray = page.locator(".tray")
    expect(tray).to_contain_text("5 before 4: seen so?")
    paused(page)
    page.locator('[data-act="order-no"]').click()
    expect(tray).to_be_hidden()
    all_saved(page)
    answer = server.store.items()[-1]["body"]
    assert (answer["first_done"], answer["should_come_first"], answer["seen_so"]) == ("read", "hold", False)
    page.reload()
    page.locator(".pad").wait_for()
    expect(tray).to_be_hidden()


def test_one_late_step_is_one_question_and_a_critical_pair_one_of_its_own(page, server):
    for step in ("draw", "hold", "read", "shut"):
        tap(page, step, "done")
    tray = page.locator(".tray h2")
    expect(tray).to_have_text("3 before 2: seen so?")
    expect(page.locator(".tray")).to_contain_text("Seen so, it is critical.")
    paused(page)
    page.locator('[data-act="order-yes"]').click()
    expect(page.locator(".so-far")).to_have_text("critical: step 3 before 2")
    expect(tray).to_have_text("4, 5 before 2: seen so?")
    paused(page)
    page.locator('[data-act="order-no"]').click()
    all_saved(page)
    answers = [item["body"]["seen_so"] for item in server.store.items() if item["kind"] == "order_answered/1"]
    assert answers == [True, False, False]


def test_no_order_is_asked_of_steps_left_out_or_filled_by_whole_attempt_clean(page):
    tap(page, "read", "done")
    tap(page, "shut", "left_out")
    page.locator(".clean").click()
    all_saved(page)
    expect(page.locator(".tray")).to_be_hidden()


def test_whole_attempt_clean_leaves_steps_that_can_be_critical_asking(page, server):
    page.locator(".clean").click()
    assert pressed(page, "say") == ["done"]
    assert pressed(page, "shut") == []
    expect(page.locator('[data-row="shut"] .extra')).to_contain_text("asks for its own stroke")
    expect(page.locator('[data-row="say"] .extra')).to_contain_text("by whole attempt clean")
    assert page.locator(".jumps button").all_inner_texts() == ["Step 2", "Step 3", "Step 4"]
    all_saved(page)
    assert [item["kind"] for item in server.store.items()] == ["whole_attempt_clean/1"]
    tap(page, "say", "left_out")
    assert pressed(page, "say") == ["left_out"]


def test_one_step_that_can_be_critical_asks_for_its_own_stroke_and_several_ask_for_theirs(page, server):
    expect(page.get_by_text("3 still ask for their own stroke")).to_be_visible()
    for step in page.locator(".jumps button").evaluate_all("jumps => jumps.slice(1).map((one) => one.dataset.step)"):
        tap(page, step, "done")
    expect(page.get_by_text("1 still asks for its own stroke")).to_be_visible()
    all_saved(page)


def test_a_value_short_of_its_limit_is_said_beside_the_step(page, server):
    page.locator('.value[data-step="hold"]').click()
    paused(page)
    assert page.locator(".tray input").get_attribute("inputmode") == "decimal"
    page.locator(".tray input").fill("4x")
    page.locator('[data-act="keep-value"]').click()
    expect(page.locator(".problem")).to_contain_text("plain number")
    page.locator(".tray input").fill("41,5")
    paused(page)
    page.locator('[data-act="keep-value"]').click()
    expect(page.locator('.value[data-step="hold"] .word')).to_have_text("41.5 s of 60 s asked: critical error a")
    all_saved(page)
    body = server.store.items()[0]["body"]
    assert (body["quantity"], body["unit"], body["value"]) == ("time", "s", "41.5")


def test_the_limits_own_value_is_good(page):
    page.locator('.value[data-step="hold"]').click()
    page.locator(".tray input").fill("60")
    page.locator(".tray input").press("Enter")
    expect(page.locator('.value[data-step="hold"] .word')).to_have_text("60 s")


def test_a_step_not_for_this_unit_is_grey_and_cannot_be_tapped(page):
    row = page.locator('[data-row="wing"]')
    expect(row).to_contain_text("not for this unit")
    assert row.locator("button").count() == 0


def test_closing_says_what_is_unmarked_and_then_the_pad_is_read_only(page, server):
    tap(page, "say", "done")
    page.locator(".closing .close").click()
    expect(page.locator(".tray")).to_contain_text("6 steps without a mark will be not seen (step 2, 3, 4, 5, 7, 8)")
    expect(page.locator(".tray")).to_contain_text("3 of them can be critical (step 2, 3, 4)")
    paused(page)
    page.locator('.tray [data-act="close"]').click()
    expect(page.locator(".closed-line")).to_contain_text("Closed.")
    all_saved(page)
    assert server.store.items()[-1]["body"] == {"how": "completed"}
    assert all(made.is_disabled() for made in page.locator(".acts button").all())
    expect(page.locator(".closing")).to_be_hidden()
    page.reload()
    expect(page.locator(".closed-line")).to_contain_text("Nothing more can be tapped here")


def test_a_stop_says_who_stopped(page, server):
    page.locator('[data-ask="stop"]').click()
    paused(page)
    page.locator('[data-by="student"]').click()
    all_saved(page)
    assert server.store.items()[-1]["body"] == {"how": "stopped", "stopped_by": "student"}
    expect(page.locator(".closed-line")).to_contain_text("Stopped by the student.")


def test_void_needs_a_reason_and_over_a_critical_error_a_second_person(page, server):
    tap(page, "shut", "left_out")
    page.locator('[data-ask="void"]').click()
    paused(page)
    page.locator('[data-act="void"]').click()
    expect(page.locator(".problem")).to_have_text("Void needs a reason.")
    page.locator(".tray input").fill("Pool cleared for lightning")
    paused(page)
    page.locator('[data-act="void"]').click()
    expect(page.locator(".problem")).to_contain_text("second person")
    assert page.locator(".tray option").all_inner_texts() == ["Choose", "Jonas Weber"]
    page.locator(".tray select").select_option(SECOND)
    paused(page)
    page.locator('[data-act="void"]').click()
    all_saved(page)
    assert server.store.items()[-1]["body"] == {"how": "void", "reason": "Pool cleared for lightning", "second": SECOND}


def test_the_whole_attempt_can_be_marked_by_keyboard_alone(page, server):
    page.locator('[data-row="say"]').focus()
    for key in (
        "Enter",
        "ArrowDown",
        "a",
        "f",
        "ArrowDown",
        "p",
        "ArrowDown",
        " ",
        "ArrowDown",
        "-",
        "ArrowDown",
        "ArrowDown",
        "o",
    ):
        page.keyboard.press(key)
    page.keyboard.press("ArrowDown")
    page.keyboard.press("x")
    page.keyboard.type("Initials missing")
    page.keyboard.press("Enter")
    page.keyboard.press("w")
    page.keyboard.press("u")
    all_saved(page)
    assert lines(server.store) == [
        ("say", "done", []), ("shut", "error", ["gas-on"]), ("shut", "error", ["gas-on"]), ("draw", "prompted", []),
        ("hold", "done", []), ("read", "not_seen", []), ("open", "left_out", []), ("list", "error", ["x"]),
    ]  # fmt: skip
    assert server.store.items()[2]["body"]["marks"][0]["fixed_self"] is True
    assert [item["kind"] for item in server.store.items()[-2:]] == ["whole_attempt_clean/1", "withdrawn/1"]
    page.keyboard.press("?")
    expect(page.locator(".legend")).to_have_attribute("open", "")


def test_keys_in_a_field_are_text_and_escape_leaves_it(page, server):
    page.locator('[data-row="say"]').focus()
    page.keyboard.press("x")
    page.keyboard.type("upopaw -")
    page.keyboard.press("Escape")
    expect(page.locator(".tray")).to_be_hidden()
    assert server.store.items() == []
    assert page.locator('[data-row="say"]:focus').count() == 1


# --- what it looks like --------------------------------------------------------------------------------------------


@pytest.fixture(params=SIZES.values(), ids=SIZES.keys())
def sized(request: pytest.FixtureRequest, server: Server, browser: Browser) -> Iterator[Page]:
    width, height = request.param
    context = browser.new_context(viewport={"width": width, "height": height})
    yield open_pad(context.new_page(), server)
    context.close()


def boxes(page: Page) -> list[dict[str, Any]]:
    """Every visible target of the pad with its place."""
    return page.locator(".pad").evaluate("""(pad) => [...pad.querySelectorAll("button, input, select, summary")]
        .filter((one) => one.getClientRects().length && getComputedStyle(one).visibility !== "hidden")
        .map((one) => { const box = one.getBoundingClientRect(); const inTray = Boolean(one.closest(".tray"));
            return { name: one.getAttribute("aria-label") || one.textContent, inTray,
                     x: box.x, y: box.y, w: box.width, h: box.height,
                     inHead: Boolean(one.closest(".head")) }; })""")  # fmt: skip


def test_every_target_is_48_wide_and_high_and_8_from_the_next(sized):
    """WCAG 2.2, 2.5.8 asks 24 by 24; wet fingers ask more (common practice)."""
    tap(sized, "shut", "error")
    found = boxes(sized)
    assert len(found) > 40
    assert [one for one in found if one["w"] < 48 or one["h"] < 48] == []
    for layer in ("inTray", "inHead", None):
        same = [one for one in found if (one[layer] if layer else not (one["inTray"] or one["inHead"]))]
        near = [
            (one["name"], other["name"])
            for place, one in enumerate(same)
            for other in same[place + 1 :]
            if max(gap(one, other, "x", "w"), gap(one, other, "y", "h")) < 7.9
        ]
        assert near == []


def gap(one: dict[str, Any], other: dict[str, Any], at: str, size: str) -> float:
    first, second = sorted((one, other), key=lambda box: box[at])
    return float(second[at] - first[at] - first[size])


def test_error_stands_apart_from_the_other_strokes(sized):
    for row in sized.locator(".acts").all():
        left_out, done, cross = (row.locator(f".{name}").bounding_box() for name in ("left_out", "done", "error"))
        beside = done if abs(done["y"] - cross["y"]) < 1 and left_out["y"] > done["y"] else left_out
        assert cross["x"] - beside["x"] - beside["width"] >= 24


def test_nothing_runs_off_the_side_and_no_text_is_cut_or_small(sized):
    over = sized.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert over <= 0
    small = sized.locator(".pad").evaluate("""(pad) => [...pad.querySelectorAll("*")]
        .filter((one) => one.getClientRects().length)
        .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
        .filter((one) => parseFloat(getComputedStyle(one).fontSize) < 14).map((one) => one.textContent)""")
    assert small == []
    cut = sized.locator(".pad").evaluate("""(pad) => [...pad.querySelectorAll("button")]
        .filter((one) => one.getClientRects().length && one.scrollWidth > one.clientWidth + 1)
        .map((one) => one.textContent)""")
    assert cut == []


def test_name_saved_and_undo_stay_in_view_while_the_steps_scroll(sized):
    sized.locator(".legend summary").scroll_into_view_if_needed()
    for part in (".who", ".status", ".undo"):
        expect(sized.locator(part)).to_be_in_viewport()


def test_no_row_moves_when_a_tap_is_drawn_saved_or_asked_about(sized):
    row = sized.locator('[data-row="read"]')
    sized.route("**/course/marks", lambda route: route.abort())
    before = row.bounding_box()
    tap(sized, "shut", "error")
    paused(sized)
    sized.locator('.choice[data-error="gas-on"]').click()
    sized.locator(".clean").evaluate("(made) => made.click()")
    expect(sized.locator(".status")).to_have_text("No server · 2 waiting to be saved")
    assert from_top(sized, row) == pytest.approx((before["y"], before["height"]), abs=1)
    sized.unroute_all()
    all_saved(sized)
    assert from_top(sized, row) == pytest.approx((before["y"], before["height"]), abs=1)


def from_top(page: Page, part: Any) -> tuple[float, float]:
    """How far below the pad's top a part begins, and how high it is."""
    box = part.bounding_box()
    return box["y"] - page.locator(".pad").evaluate("(pad) => pad.getBoundingClientRect().top"), box["height"]


def test_every_control_has_a_name_and_a_state_and_the_status_is_spoken(page):
    """By hand what a checker would ask: names, roles, states, one first heading, a language."""
    missing = page.locator(".pad").evaluate("""(pad) => [...pad.querySelectorAll("button, input, select")]
        .map((one) => one.getAttribute("aria-label") || one.textContent || one.closest("label")?.textContent)
        .filter((name) => !name.trim()).length""")
    assert missing == 0
    assert page.locator(".status").get_attribute("role") == "status"
    assert page.locator(".pad h1").count() == 1
    assert page.evaluate("document.documentElement.lang") == "en"
    row = page.locator('[data-row="shut"]')
    assert row.get_attribute("role") == "group"
    assert row.get_attribute("aria-label").startswith("Step 2, critical: Shut the gas")
    for made in page.locator(".acts button").all():
        assert made.get_attribute("aria-pressed") == "false"
        visible, name = made.locator(".word").inner_text(), made.get_attribute("aria-label")
        assert name.startswith(visible)  # WCAG 2.2, 2.5.3: the name begins with the label
    assert page.locator('[data-row][tabindex="0"]').count() == 1


def test_marks_differ_without_colour(page):
    """Grey alone tells pressed from not pressed: the ground turns from paper to ink (WCAG 2.2, 1.4.1)."""
    tap(page, "say", "done")
    grounds = page.locator('.acts [data-step="say"]').evaluate_all(
        "(all) => all.map((one) => getComputedStyle(one).backgroundColor)"
    )
    assert grounds == ["rgb(17, 17, 17)", *["rgb(255, 255, 255)"] * 4]
    shapes = page.locator('.acts [data-step="say"]').evaluate_all(
        "(all) => all.map((one) => one.querySelector('path')?.getAttribute('d') ?? 'P')"
    )
    assert len(set(shapes)) == 5


def test_an_order_question_put_off_is_asked_again_before_the_attempt_is_closed(page):
    """Afterwards nobody could answer it any more."""
    tap(page, "read", "done")
    tap(page, "shut", "done")
    expect(page.locator(".tray")).to_contain_text("seen so?")
    paused(page)
    page.locator('.tray [data-act="shut"]').click()
    expect(page.locator(".tray")).to_be_hidden()
    paused(page)
    page.locator('[data-ask="close"]').click()
    expect(page.locator(".tray")).to_contain_text("seen so?")
    paused(page)
    page.locator('[data-act="order-no"]').click()
    paused(page)
    page.locator('[data-ask="close"]').click()
    expect(page.locator(".tray")).to_contain_text("Close attempt")
