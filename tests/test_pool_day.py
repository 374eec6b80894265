"""A whole pool day in a real browser: two tablets at once, a cut connection, reloads, a second server refused.

One journey: people come in, sheets are given out and printed, two students are marked at once on two tablets, a sheet
is copied in by keyboard alone, everybody leaves, the day is closed. Every page is looked at on a phone on the way.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from centre_builder import POOL_SKILL, ZONE, Centre, shipped_standards
from live_centre import DEAF_MS, all_saved, close_attempt, is_pressed, stroke
from playwright.sync_api import Browser, Locator, Page, Request, expect
from pypdf import PdfReader
from running_centre import RunningCentre, chromium, free_port
from screen_measures import PHONE, SIDEWAYS, TABLET, TARGETS, faults_of, resize, settled
from test_journey import TAPPED
from test_slate_grid import check_and_save, choose_observer, type_out
from wire import Wire

from course.actions import courses
from course.errors import ExitCode
from course.moments import now, observed_at, zone_named
from course.record.facts import Attempt, Checkpoint, Session
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.lookup import all_of
from course.words import Mark

SLATE_SKILL = "bas-mask"
STEPS = ("co-hand", "co-close", "co-out", "co-hold")
SLOW, SECONDS = 60_000, 8_000
OWN = [
    ".pad button", ".pad summary", ".slate button", ".slate select", ".slate input", ".matrix button", ".units button",
    '[class*="st-key-row-"] button', '[class*="st-key-all-"] button', ".st-key-freeze-FREEZE button",
    '[class*="st-key-roll-"] button',
]  # fmt: skip
"""What can be tapped in our own parts. Boxes of the copying grid touch as on paper, and a tap on one marks nothing."""


@dataclass
class Sent:
    """What the two tablets sent, by id, and every host that was asked for anything."""

    taps: set[str] = field(default_factory=set)
    columns: set[str] = field(default_factory=set)
    hosts: set[str] = field(default_factory=set)

    def seen(self, request: Request) -> None:
        if not request.url.startswith(("data:", "blob:")):
            self.hosts.add(urlsplit(request.url).netloc)
        if request.url.endswith("/course/marks") and request.post_data:
            self.taps |= {item["id"] for item in json.loads(request.post_data)["items"]}
        if request.url.endswith("/course/slate") and request.post_data:
            asked = json.loads(request.post_data)
            if asked["act"] == "save":
                self.columns |= {column["id"] for column in asked["copy"]["columns"]}


@dataclass
class Pool:
    """A running centre whose pool session is on now: Tamsin and Bruno with Amaru and Zoë in one group."""

    server: RunningCentre
    ids: Centre
    session: str
    group: str

    @property
    def today(self) -> str:
        """Today on this session: the small course had its days in autumn 2026."""
        return f"{self.server.address}/?session={self.session}"

    def button(self, page: Page, what: str, person: str = "") -> Locator:
        """A button on Today."""
        key = "-".join(filter(None, (what, self.session, self.group, person)))
        return page.locator(f".st-key-{key}-RUN_DAY button")

    def code(self) -> str:
        """The number of the sheet that was given out; read beside the running server."""
        with open_ledger(self.server.folder) as ledger:
            fact = ledger.fact("session", self.session)
        assert isinstance(fact, Session)
        (slate,) = fact.slates
        return slate.code


@pytest.fixture
def pool(small_centre: Centre) -> Iterator[Pool]:
    c = small_centre
    midnight = now().astimezone(zone_named(ZONE)).replace(hour=0, minute=0, second=0, microsecond=0)
    start = max(now() - timedelta(minutes=30), midnight)  # a session of yesterday would be a record
    session = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Pool now", setting="pool",
        start=observed_at(start, ZONE, "minute"), end=observed_at(now() + timedelta(hours=2), ZONE, "minute"),
    )  # fmt: skip
    group = courses.make_group(
        c.ledger, c.lead, session, name="Group P", staff=[c.lead, c.second], students=[c.amaru, c.zoe]
    )
    c.ledger.close()
    server = RunningCentre(c.ledger.folder)
    server.start()
    yield Pool(server, c, session, group)
    server.stop()


def two_tablets(browser: Browser, sent: Sent) -> tuple[Page, Page]:
    made = []
    for _ in range(2):
        page = browser.new_context(viewport=TABLET, has_touch=True).new_page()  # type: ignore[arg-type]
        page.on("request", sent.seen)
        made.append(page)
    return made[0], made[1]


def look(page: Page, least: int = 0) -> None:
    """On a tablet and on a phone nothing scrolls sideways, and a wet finger finds its target: `least` are there."""
    for size in (TABLET, PHONE):
        resize(page, size)
        for _ in range(50):  # a page that was turned is drawn anew a little later
            targets = page.evaluate(TARGETS, OWN)
            told = [*page.evaluate(SIDEWAYS), *faults_of(targets)]
            if len(targets) >= least and not told:
                break
            page.wait_for_timeout(100)
        assert told == [], (page.url, size)
        assert len(targets) >= least, (page.url, size)
    resize(page, TABLET)


def press(page: Page, target: Locator) -> None:
    """Tap a button of Streamlit's once the page stays as it is: a tap into a page that is drawn anew is lost."""
    expect(target).to_be_visible(timeout=SLOW)
    settled(page)
    target.click(timeout=SLOW)


def go(page: Page, link: str, told: str) -> None:
    settled(page)
    if not page.get_by_role("link", name=link, exact=True).is_visible():
        page.locator('[class*="st-key-menu-more"] button').click()
    page.get_by_role("link", name=link, exact=True).click()
    expect(page.get_by_text(told).first).to_be_visible(timeout=SLOW)
    settled(page)
    expect(page.get_by_role("link", name="Papers", exact=True)).to_be_hidden()  # the list has shut behind it


def choose(page: Page, name: str, within: str = "body") -> None:
    one = page.locator(within).get_by_role("radio", name=name, exact=True)
    press(page, one)
    expect(one).to_be_checked(timeout=SLOW)
    settled(page)


# --- the parts of the day ------------------------------------------------------------------------------------------


def come_in(page: Page, pool: Pool) -> None:
    """Everybody by one tap of their own."""
    page.goto(pool.today)
    for person in (pool.ids.lead, pool.ids.second, pool.ids.amaru, pool.ids.zoe):
        press(page, pool.button(page, "in", person))
        expect(pool.button(page, "out", person)).to_be_enabled(timeout=SLOW)
    expect(page.get_by_text("2 students to 2 instructors")).to_be_visible(timeout=SLOW)
    settled(page)
    look(page, 10)


def give_out(page: Page, pool: Pool) -> str:
    """One sheet for both students, printed; returns its number."""
    skill = shipped_standards().skill(SLATE_SKILL)
    go(page, "Slate", "No sheet is out.")
    page.get_by_role("combobox", name="Skills, one sheet each").fill(skill.title)
    page.get_by_role("option", name=skill.title, exact=True).click()
    page.keyboard.press("Escape")  # the list stays open for more
    press(page, page.get_by_role("button", name="Give out", exact=True))
    with page.expect_download(timeout=SLOW) as download:
        press(page, page.get_by_role("button", name="Sheets as PDF"))
    printed = "\n".join(sheet.extract_text() for sheet in PdfReader(BytesIO(download.value.path().read_bytes())).pages)
    code = pool.code()
    for word in (code, skill.title, "Amaru", "Zoë"):
        assert word in printed
    settled(page)
    look(page)
    return code


def open_line(page: Page) -> None:
    """Both students of the group, one skill: chosen by taps alone."""
    go(page, "Mark", "Whom do you watch now?")
    choose(page, "Tamsin Okoro-Vale")
    choose(page, "Several, one after another")
    press(page, page.get_by_role("button", name="All of Group P"))
    look(page)
    press(page, page.locator(f".st-key-line-{POOL_SKILL} button"))
    shows(page)
    look(page, 5 * len(STEPS))


def shows(page: Page) -> None:
    """The pad is there and has spoken with the server."""
    expect(page.locator(".status")).to_have_text("all saved", timeout=SLOW)


def turn(page: Page, student: int) -> None:
    page.locator(".turn").nth(student).click()
    expect(page.locator(".turn").nth(student)).to_have_attribute("aria-pressed", "true")
    page.wait_for_timeout(DEAF_MS)


def see_each_other(one: Page, two: Page) -> None:
    """Amaru is marked on one tablet and Zoë on the other; what one marks the other sees."""
    turn(two, 1)
    stroke(one, STEPS[0])
    stroke(two, STEPS[0], "prompted")
    for page, own, other, mark in ((one, 0, 1, "prompted"), (two, 1, 0, "done")):
        expect(page.locator(".turn .small").nth(other)).to_have_text("open", timeout=SECONDS)
        turn(page, other)
        is_pressed(page, STEPS[0], mark)
        turn(page, own)


def lose_the_connection(one: Page, two: Page, wire: Wire) -> None:
    """The second tablet goes on marking without it; the first marks on and is reloaded in the middle."""
    wire.cut()
    for step in STEPS[1:3]:
        stroke(two, step)
    stroke(one, STEPS[1])
    one.reload()
    expect(two.locator(".status")).to_have_text("No server · 2 waiting to be saved", timeout=SECONDS)
    for step in STEPS[1:3]:
        is_pressed(two, step)
    shows(one)
    is_pressed(one, STEPS[1])
    wire.mend()
    shows(two)
    stroke(two, STEPS[3], "not_seen")
    two.reload()
    shows(two)
    turn(two, 1)
    for step, mark in zip(STEPS, ("prompted", "done", "done", "not_seen"), strict=True):
        is_pressed(two, step, mark)
    stroke(one, STEPS[2])
    stroke(one, STEPS[3])
    all_saved(one)


def close_both(one: Page, two: Page) -> None:
    for page in (one, two):
        close_attempt(page)
        all_saved(page)
    for page in (one, two):
        expect(page.locator(".turn .small").nth(0)).to_have_text("clean", timeout=SECONDS)


def tab_to(page: Page, target: Locator) -> None:
    """Go there with the Tab key alone."""
    expect(target).to_be_visible(timeout=SLOW)
    for _ in range(60):
        if target.evaluate("(one) => one.matches(':focus')"):
            return
        page.keyboard.press("Tab")
    raise AssertionError("the Tab key does not lead there")


def copy_in(page: Page, code: str) -> None:
    """From the menu to what is saved, without a finger or a mouse (2.1.1 of WCAG 2.2, from memory)."""
    tab_to(page, page.get_by_role("link", name="Slate", exact=True))
    page.keyboard.press("Enter")
    expect(page.get_by_text("1 sheet is still out")).to_be_visible(timeout=SLOW)
    settled(page)
    tab_to(page, page.get_by_label("Number at the top of the sheet"))
    page.keyboard.type(code.lower())
    expect(page.get_by_text("Press Enter to submit form")).to_be_visible(timeout=SLOW)  # before that it does nothing
    settled(page)  # nor does it within a few thousandths of a second after the last letter, where no person presses it
    page.keyboard.press("Enter")
    expect(page.get_by_role("grid")).to_be_visible(timeout=SLOW)
    settled(page)
    look(page, 5)
    choose_observer(page)
    type_out(page, "  a   ")
    check_and_save(page, f"Sheet {code}: 2 attempts saved.")


def look_round(page: Page) -> None:
    """The pages that nothing was done on."""
    go(page, "Course", "Tap a cell: it opens")
    look(page, 50)
    go(page, "Units", "Plant a fault on a bench")
    look(page, 2)
    go(page, "Papers", "Choose a student")
    choose(page, "Amaru Tendelle")
    expect(page.get_by_alt_text("Page 1 as it prints")).to_be_visible(timeout=SLOW)
    look(page)
    go(page, "People", "In the centre")
    look(page)


def close_the_day(page: Page, pool: Pool) -> None:
    page.goto(pool.today)
    press(page, pool.button(page, "all-out"))
    expect(pool.button(page, "in", pool.ids.zoe)).to_be_enabled(timeout=SLOW)
    go(page, "Day's end", "Still open")
    choose(page, "Tamsin Okoro-Vale", ".st-key-end-actor")
    choose(page, "coming out")
    names = page.locator('[class*="st-key-roll-"][class*="coming_out"] button')
    expect(names).to_have_count(4, timeout=SLOW)  # who answers on coming out, not on going in
    look(page, 5)
    for place in range(4):
        press(page, names.nth(place))
        told = f"Save the roll: {place + 1} here, {3 - place} MISSING"
        expect(page.get_by_role("button", name=told)).to_be_visible(timeout=SLOW)
    press(page, page.get_by_role("button", name=told))
    expect(page.get_by_text("4 people answered, nobody is missing.").first).to_be_visible(timeout=SLOW)
    press(page, page.get_by_role("button", name="Close the day", exact=True))
    expect(page.get_by_text("The day is closed, with a checkpoint.").first).to_be_visible(timeout=SLOW)
    expect(page.get_by_role("heading", name="The day is closed, and nothing is open.")).to_be_visible()


def open_again(folder: Path) -> subprocess.Popen[str]:
    """A second server on the same folder, on a port that is free."""
    command = [sys.executable, "-m", "course", "open", str(folder), "--port", str(free_port())]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.parametrize(
    ("second", "told"),
    [
        ((56, 0, 104, 48), []),
        ((0, 56, 48, 104), []),
        ((55, 0, 103, 48), ["first and second: 7.0 apart"]),
        ((40, 40, 88, 88), ["first and second: -8.0 apart"]),
        ((60, 0, 107, 48), ["second: 47.0 x 48.0"]),
    ],
)
def test_a_target_too_small_or_too_near_is_told(second: tuple[int, ...], told: list[str]) -> None:
    sides = ("left", "top", "right", "bottom")
    targets = [{"name": "first", "left": 0, "top": 0, "right": 48, "bottom": 48}]
    assert faults_of([*targets, {"name": "second", **dict(zip(sides, second, strict=True))}]) == told


def test_a_pool_day_on_two_tablets_over_a_cut_connection_is_whole_in_the_ledger(pool: Pool) -> None:
    sent = Sent()
    wire = Wire(pool.server.port)
    with chromium() as browser:
        one, two = two_tablets(browser, sent)
        come_in(one, pool)
        code = give_out(one, pool)
        open_line(one)
        two.goto(wire.address + one.url.removeprefix(pool.server.address))
        shows(two)
        second_server = open_again(pool.server.folder)
        see_each_other(one, two)
        lose_the_connection(one, two, wire)
        close_both(one, two)
        press(one, one.get_by_role("button", name="Mark another attempt"))
        expect(one.get_by_text("Whom do you watch now?")).to_be_visible(timeout=SLOW)
        copy_in(one, code)
        look_round(one)
        close_the_day(one, pool)
    _, told = second_server.communicate(timeout=60)
    wire.cut()
    pool.server.stop()
    assert second_server.returncode == ExitCode.STORAGE
    assert f"Another program has {pool.server.folder} open for writing. Use that one, or close it" in told
    assert sent.hosts == {f"localhost:{pool.server.port}", f"127.0.0.2:{pool.server.port}"}
    check_ledger(pool, sent)


def check_ledger(pool: Pool, sent: Sent) -> None:
    """Every tap once, with its own id; every time with its end; every mark as it was given."""
    with open_ledger(pool.server.folder) as ledger:
        attempts = list(all_of(ledger, Attempt, session=pool.session))
        session = ledger.fact("session", pool.session)
        days = all_of(ledger, Checkpoint, course=pool.ids.course)
        events = list(ledger.events())
    copied = {one.id for one in attempts if one.sheets[0].slate}
    tapped = [event for event in events if event.kind in TAPPED and event.subject not in copied]
    assert Counter(event.id for event in tapped) == Counter(sent.taps)
    assert copied == sent.columns
    given: dict[tuple[str, bool], Any] = {
        (one.student, one.id in copied): [(line.step, line.mark) for line in one.sheets[0].marks] for one in attempts
    }
    amaru, zoe = pool.ids.amaru, pool.ids.zoe
    assert len(attempts) == 4
    assert given[amaru, False] == [(step, Mark.DONE) for step in STEPS]
    assert given[zoe, False] == list(zip(STEPS, (Mark.PROMPTED, Mark.DONE, Mark.DONE, Mark.NOT_SEEN), strict=True))
    assert [mark for _, mark in given[amaru, True]] == [Mark.DONE, Mark.DONE, Mark.ERROR]
    assert [mark for _, mark in given[zoe, True]] == [Mark.DONE] * 3
    assert all(one.ending is not None for one in attempts)
    assert isinstance(session, Session)
    assert sorted((span.person, span.end is not None) for span in session.spans) == sorted(
        (person, True) for person in (pool.ids.lead, pool.ids.second, amaru, zoe)
    )
    assert session.closed_at is not None
    assert [day.still_open for day in days] == [0]
    assert verify(pool.server.folder).fine
