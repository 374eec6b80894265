"""Copying a paper sheet in by keyboard alone in a real browser against the real server; and by touch, and on a phone.

Keys are counted by listening for keydown events in the page. Nothing is lost over a reload or a killed server.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect
from running_centre import RunningCentre, chromium
from slate_centre import PoolDay, build_pool_day

from course.places import SCREENS
from course.record.facts import Attempt
from course.screens.slate_grid import SCRIPTS
from course.storage.ledger import open_ledger
from course.words import Closing, Mark

DESK, PHONE, TABLET = {"width": 1440, "height": 900}, {"width": 390, "height": 844}, {"width": 820, "height": 1180}
OWN_BOXES = {"bas-entry": (2, 4), "bas-mask": (0, 3), "mp-close-out": (2, 4), "fl-flood": (2, 5), "po-exit": (0, 3)}
"""Five skills of one pool day: boxes where something critical can happen, and all boxes, as the shipped rubrics say."""
TWO_STUDENTS = {
    "draft": "bo-share", "touch": "fl-adv", "keys": "ct-ascent", "lost": "ct-descent", "phone": "rs-surface"
}  # fmt: skip
COUNTING = "window.keys = 0; addEventListener('keydown', () => { window.keys += 1; }, true);"
DEAF_MS = 400  # what just opened is deaf for 350 ms, so that a double tap is one tap
# The request reaches the server and its answer is thrown away: in the page itself, since the browser's own interception
# let a request through unseen now and then.
LOSE_ANSWERS = """() => {
  window.fetchAsItWas = window.fetch;
  window.fetch = async (...asked) => { await window.fetchAsItWas(...asked); throw new TypeError("lost"); };
}"""
LEAST_TARGET = 48
LABELS = "boxes => boxes.map((box) => box.getAttribute('aria-label'))"


@dataclass
class Running:
    """The server on a centre with sheets given out."""

    server: RunningCentre
    day: PoolDay
    sheets: dict[str, str]
    codes: dict[str, str]

    def attempts(self, name: str) -> list[Attempt]:
        """Attempts that came of one sheet, in the order of its columns; read beside the running server."""
        with open_ledger(self.server.folder) as ledger:
            found = [a for a in ledger.facts("attempt") if isinstance(a, Attempt)]
        own = [a for a in found if any(sheet.slate == self.sheets[name] for sheet in a.sheets)]
        return sorted(own, key=lambda a: self.day.students.index(a.student))


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    base: Path = tmp_path_factory.mktemp("slate")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        with build_pool_day(base / "centre") as day:
            sheets = {"steps": day.sheet("pre-list"), "values": day.sheet("bo-separate")}
            sheets |= {skill: day.sheet(skill) for skill in OWN_BOXES}
            two = {
                "draft": "bo-share",
                "touch": "fl-adv",
                "keys": "ct-ascent",
                "lost": "ct-descent",
                "phone": "rs-surface",
            }
            sheets |= {name: day.sheet(skill, day.students[:2]) for name, skill in two.items()}
            codes = {name: day.code(slate) for name, slate in sheets.items()}
        server = RunningCentre(base / "centre")
        server.start()
        yield Running(server, day, sheets, codes)
        server.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as made:
        yield made


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport=DESK)  # type: ignore[arg-type]
    made = context.new_page()
    made.add_init_script(COUNTING)
    yield made
    context.close()


def open_sheet(page: Page, running: Running, name: str) -> None:
    page.goto(f"{running.server.address}/slate?session={running.day.session}&slate={running.sheets[name]}")
    expect(page.locator(f".slate[data-slate='{running.sheets[name]}']")).to_be_visible(timeout=30_000)


def choose_observer(page: Page) -> None:
    """By keyboard: the field has the focus while nobody is chosen; a letter chooses, Enter goes on to the boxes."""
    expect(page.locator("select[data-field='observer']")).to_be_focused()
    press(page, "T", "Enter")
    expect(cursor(page)).to_be_focused()


def cursor(page: Page) -> Locator:
    return page.locator("td[aria-selected='true']")


def at(page: Page, row: int, column: int) -> Locator:
    return page.locator(f"td[data-row='{row}'][data-col='{column}']")


def keys(page: Page) -> int:
    return int(page.evaluate("window.keys"))


def press(page: Page, *names: str) -> None:
    for name in names:
        page.keyboard.press(name)


def type_out(page: Page, text: str) -> None:
    """Press each character as a key of its own; a blank is Enter, the key for done."""
    press(page, *("Enter" if letter == " " else letter for letter in text))


def check_and_save(page: Page, told: str) -> None:
    """By keyboard: the cursor is on Check after the last box, then on Save where nothing serious was said."""
    expect(page.locator("button[data-act='check']")).to_be_focused()
    press(page, "Enter")
    expect(page.locator("button[data-act='save']")).to_be_focused()
    page.wait_for_timeout(DEAF_MS)
    press(page, "Enter")
    expect(page.locator(".answer h3")).to_have_text(told)


# --- by keyboard alone, with its keys counted ----------------------------------------------------------------------


def test_a_sheet_marked_step_by_step_takes_at_most_1_2_keys_a_mark(page: Page, running: Running) -> None:
    """From the typed number to saved: six students, five steps; errors, F, a prompt, not seen, unreadable."""
    page.goto(f"{running.server.address}/slate")
    number = page.get_by_label("Number at the top of the sheet")
    number.focus(timeout=30_000)
    page.keyboard.type(running.codes["steps"].lower())
    press(page, "Enter")
    expect(page.locator(".slate")).to_be_visible(timeout=20_000)
    to_number = keys(page)
    choose_observer(page)
    for column in ("     ", "  a  ", "   - ", "p    ", "  ?  ", "   af "):
        type_out(page, column)
    check_and_save(page, f"Sheet {running.codes['steps']}: 6 attempts saved.")
    used, marks = keys(page) - to_number, 30
    said = f"{used} keys for {marks} marks: {used / marks:.2f} a mark, who, Check and Save with it; number {to_number}"
    assert used / marks <= 1.2, said
    made = [{line.step: line for line in attempt.sheets[0].marks} for attempt in running.attempts("steps")]
    steps = list(made[0])
    assert [len(lines) for lines in made] == [5] * 6, said
    assert (made[2][steps[3]].mark, made[2][steps[3]].unreadable) == (Mark.NOT_SEEN, False)
    assert (made[4][steps[2]].mark, made[4][steps[2]].unreadable) == (Mark.NOT_SEEN, True)
    assert made[3][steps[0]].mark == Mark.PROMPTED
    assert (made[5][steps[3]].mark, made[5][steps[3]].fixed_self) == (Mark.ERROR, True)


def test_values_cost_their_own_digits_and_nothing_more(page: Page, running: Running) -> None:
    """A value, then Enter, which is the tick of its box: a sheet costs a key a mark and a key a digit."""
    open_sheet(page, running, "values")
    before = keys(page)
    choose_observer(page)
    values = ["8", "9", "12", "7", "10", "14"]
    for value in values:
        type_out(page, f"  {value}   ")
    check_and_save(page, f"Sheet {running.codes['values']}: 6 attempts saved.")
    used, marks, digits = keys(page) - before, 30, sum(map(len, values))
    said = f"{used} keys for {marks} marks and {len(values)} values of {digits} digits"
    assert used <= marks + digits + 4, said
    assert used / (marks + digits) <= 1.2, said
    assert [a.sheets[0].values[0].value for a in running.attempts("values")] == values


def test_six_students_and_five_skills_with_the_whole_stroke_take_far_fewer_keys(page: Page, running: Running) -> None:
    """One sheet after the other: once a sheet is saved, the next one is one key away."""
    boxes = 0
    for skill, (own, rows) in OWN_BOXES.items():
        if boxes:
            page.wait_for_timeout(DEAF_MS)
            page.locator(f"button[data-act='open'][data-slate='{running.sheets[skill]}']").press("Enter")
            expect(page.locator(f".slate[data-slate='{running.sheets[skill]}']")).to_be_visible(timeout=20_000)
            expect(page.locator(".slate")).to_have_count(1)  # the sheet before is taken off the page
        else:
            open_sheet(page, running, skill)
            choose_observer(page)
        expect(cursor(page)).to_be_focused()
        for _ in running.day.students:
            type_out(page, "w" + " " * own)
        check_and_save(page, f"Sheet {running.codes[skill]}: 6 attempts saved.")
        boxes += 6 * rows
    used = keys(page)
    said = f"{used} keys for {boxes} marks of 30 attempts: {used / boxes:.2f} a mark"
    assert used / boxes <= 0.75, said
    assert used <= 90, said
    assert all(a.sheets[0].whole_clean for skill in OWN_BOXES for a in running.attempts(skill)), said
    expect(page.locator("button[data-act='open']").first).to_be_focused()


def test_the_keys_move_undo_clear_and_jump_to_the_next_empty_box(page: Page, running: Running) -> None:
    open_sheet(page, running, "keys")
    choose_observer(page)
    press(page, "Enter", "ArrowDown", "o", "u")
    expect(cursor(page)).to_have_attribute("data-row", "2")
    expect(cursor(page)).to_have_attribute("aria-label", expect_label("empty"))
    press(page, "ArrowUp", "ArrowUp", "Tab")
    expect(cursor(page)).to_have_attribute("data-row", "1")
    press(page, "?", "ArrowUp")
    expect(cursor(page)).to_have_attribute("aria-label", expect_label("unreadable"))
    press(page, "Backspace")
    expect(cursor(page)).to_have_attribute("aria-label", expect_label("empty"))
    press(page, "Control+z")
    expect(cursor(page)).to_have_attribute("aria-label", expect_label("unreadable"))
    press(page, "z")
    expect(page.locator(".said")).to_have_text("Step 2 has no error z.")
    press(page, "s", "s")
    expect(page.locator("th.head .state").first).to_have_text("stopped")
    expect(cursor(page)).to_have_attribute("data-col", "1")
    press(page, "x")
    page.keyboard.type("Went up alone")
    press(page, "Enter", "v")
    page.keyboard.type("Lane closed")
    press(page, "Enter")
    expect(page.locator("th.head .state").last).to_have_text("void")
    press(page, "Control+Enter")
    expect(page.locator(".answer h3")).to_contain_text("2 attempts to save")
    page.wait_for_timeout(DEAF_MS)
    page.locator("button[data-act='save']").press("Enter")
    expect(page.locator(".answer h3")).to_contain_text("2 attempts saved.")
    first, second = running.attempts("keys")
    assert [a.ending and a.ending.how for a in (first, second)] == [Closing.STOPPED, Closing.VOID]
    assert second.sheets[0].marks[0].errors == ("x",)


def expect_label(words: str) -> re.Pattern[str]:
    return re.compile(rf"^Amaru, step \d .* {words}$")


def test_the_grid_is_no_trap_and_is_named_for_who_cannot_see_it(page: Page, running: Running) -> None:
    """Escape, then Tab, leaves it (WCAG 2.2, success criterion 2.1.2, from memory); every box says whose it is."""
    open_sheet(page, running, "phone")
    choose_observer(page)
    press(page, "Escape", "Tab")
    expect(page.locator("td:focus")).to_have_count(0)
    grid = page.get_by_role("grid")
    expect(grid.get_by_role("gridcell")).to_have_count(8)
    expect(grid.get_by_role("columnheader")).to_have_count(3)
    labels = [cell.get_attribute("aria-label") or "" for cell in grid.get_by_role("gridcell").all()]
    assert all(", step " in label and label.endswith("empty") for label in labels)
    assert sum(label.startswith("Zoë") for label in labels) == 4


# --- nothing is lost -----------------------------------------------------------------------------------------------


def test_a_copy_survives_a_reload_and_a_killed_server_and_is_saved_once(page: Page, running: Running) -> None:
    open_sheet(page, running, "draft")
    choose_observer(page)
    type_out(page, "  ")
    expect(page.locator(".unsaved")).to_have_text("Not saved yet: 2 marks.")
    page.reload()
    expect(page.locator(".unsaved")).to_have_text("Not saved yet: 2 marks.", timeout=30_000)
    expect(cursor(page)).to_be_focused()
    running.server.kill()
    type_out(page, "    ")
    expect(page.locator(".unsaved")).to_have_text("Not saved yet: 6 marks.")
    press(page, "Control+Enter")
    expect(page.locator(".answer h3")).to_have_text("The server does not answer.", timeout=15_000)
    assert "Nothing typed is lost" in page.locator(".answer").inner_text()
    running.server.start()
    page.wait_for_timeout(DEAF_MS)
    page.locator("button[data-act='again']").press("Enter")
    expect(page.locator("button[data-act='save']")).to_be_focused()
    page.wait_for_timeout(DEAF_MS)
    press(page, "Enter")
    expect(page.locator(".answer h3")).to_have_text(f"Sheet {running.codes['draft']}: 2 attempts saved.")
    assert [len(a.sheets[0].marks) for a in running.attempts("draft")] == [3, 3]
    expect(page.locator(".unsaved")).to_have_text("Nothing to save yet.")


def test_an_answer_that_was_lost_saves_nothing_twice_and_a_second_copy_is_shown_beside(
    page: Page, running: Running
) -> None:
    """The server saved, the answer never came: trying again is acknowledged. A new copy is compared line by line."""
    open_sheet(page, running, "lost")
    choose_observer(page)
    type_out(page, "      ")
    press(page, "Enter")
    expect(page.locator("button[data-act='save']")).to_be_focused()

    page.wait_for_timeout(DEAF_MS)
    page.evaluate(LOSE_ANSWERS)
    press(page, "Enter")
    expect(page.locator(".answer h3")).to_have_text("The server does not answer.")
    assert len(running.attempts("lost")) == 2
    page.evaluate("window.fetch = window.fetchAsItWas")
    page.wait_for_timeout(DEAF_MS)
    press(page, "Enter")
    expect(page.locator(".answer h3")).to_have_text(f"Sheet {running.codes['lost']}: 2 attempts saved.")
    assert len(running.attempts("lost")) == 2
    boxes = page.locator("td[data-row]:not(.grey)")
    for _ in ("just saved", "opened again"):
        expect(page.locator("th.head .state")).to_have_text(["in the ledger"] * 2)
        assert all(label.endswith(" done") for label in boxes.evaluate_all(LABELS))
        expect(page.locator("th.head").first).to_contain_text("attempt 1")
        expect(page.locator(".unsaved")).to_contain_text("Nothing to save yet.")
        open_sheet(page, running, "lost")
    page.locator("td[data-row='0'][data-col='0']").focus()
    type_out(page, "-")
    expect(page.locator("button[data-act='check']")).to_be_focused()
    press(page, "Enter")
    expect(page.locator(".beside")).to_have_count(1)
    differs = page.locator(".beside").first
    expect(differs.locator("tr.differs")).to_have_count(1)
    expect(differs.locator("tr.differs td")).to_have_text(["done", "not seen  (differs)"])
    expect(page.locator("button[data-act='save']")).to_have_count(0)
    differs.locator("[data-field='why']").fill("Read wrongly at first")
    page.wait_for_timeout(DEAF_MS)
    differs.locator("[data-field='why']").press("Enter")
    expect(page.locator(".answer h3")).to_have_text("Nothing is to be added.")
    marks = {line.step: line.mark for line in running.attempts("lost")[0].sheets[0].marks}
    assert list(marks.values()).count(Mark.NOT_SEEN) == 1
    assert len(running.attempts("lost")) == 2


# --- by touch, and on a phone --------------------------------------------------------------------------------------


def test_a_box_is_filled_by_touch_with_targets_that_a_wet_finger_hits(browser: Browser, running: Running) -> None:
    context = browser.new_context(viewport=TABLET, has_touch=True)  # type: ignore[arg-type]
    page = context.new_page()
    open_sheet(page, running, "touch")
    page.locator("select[data-field='observer']").select_option(label="Tamsin Okoro-Vale")
    at(page, 0, 0).tap()
    tray = page.locator(".tray")
    expect(tray).to_be_visible()
    sizes = page.locator(".tray button, .tray input, .foot button, td").evaluate_all(
        "targets => targets.map((one) => one.getBoundingClientRect()).map((box) => Math.min(box.width, box.height))"
    )
    assert len(sizes) > 20
    assert min(sizes) >= LEAST_TARGET
    page.wait_for_timeout(DEAF_MS)
    tray.locator("button.done").tap()
    expect(cursor(page)).to_have_attribute("data-row", "1")
    tray.locator("button.error").first.tap()
    expect(at(page, 1, 0)).to_contain_text("a")
    tray.locator("button[data-act='fixed']").tap()
    expect(at(page, 1, 0)).to_contain_text("a F")
    expect(tray.locator(".still")).to_have_text("Not saved yet: 2 marks.")
    expect(at(page, 2, 0)).to_have_attribute("aria-label", expect_label("not for this unit"))
    tray.locator("button[data-act='next-empty']").tap()
    expect(cursor(page)).to_have_attribute("data-row", "3")
    tray.locator("button[data-act='clean']").tap()
    tray.locator("button[data-act='ask-stopped']").tap()
    tray.locator("button[data-by='instructor']").tap()
    expect(page.locator("th.head .state").first).to_have_text("whole clean · stopped")
    context.close()


def test_a_phone_shows_one_column_at_a_time_and_goes_on_to_the_next(browser: Browser, running: Running) -> None:
    context = browser.new_context(viewport=PHONE, has_touch=True)  # type: ignore[arg-type]
    page = context.new_page()
    open_sheet(page, running, "phone")
    page.locator("select[data-field='observer']").select_option(label="Tamsin Okoro-Vale")
    expect(page.locator("td:visible")).to_have_count(4)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    at(page, 0, 0).tap()
    shut = page.locator(".tray .shut-tray")
    expect(shut).to_be_visible()
    assert shut.evaluate("button => button.scrollWidth <= button.clientWidth")
    assert page.locator(".tray").evaluate("tray => tray.scrollWidth <= tray.clientWidth")
    page.wait_for_timeout(DEAF_MS)
    shut.tap()
    at(page, 0, 0).focus()
    type_out(page, "    ")
    expect(page.locator(".turned")).to_have_text("Zoë · 2 of 2")
    expect(at(page, 0, 0)).to_be_hidden()
    page.locator("button[data-act='turn-back']").tap()
    expect(page.locator(".turned")).to_have_text("Amaru · 1 of 2")
    expect(page.locator(".unsaved")).to_be_in_viewport()
    context.close()


def test_times_of_a_sheet_are_on_the_24_hour_clock_in_every_browser(browser: Browser, running: Running) -> None:
    context = browser.new_context(viewport=DESK, locale="en-US")  # type: ignore[arg-type]
    page = context.new_page()
    open_sheet(page, running, "phone")
    start = page.locator("[data-field='start']")
    assert start.get_attribute("type") == "text"  # a field for times would show the browser's own clock
    for typed, shown in (("1405", "14:05"), ("9:30", "09:30"), ("25:00", "09:30")):
        start.fill(typed)
        start.press("Tab")
        expect(start).to_have_value(shown)
    expect(page.locator(".said")).to_contain_text("24-hour clock")
    context.close()


@pytest.mark.parametrize("part", SCRIPTS)
def test_text_of_people_is_set_as_text_alone(part: str) -> None:
    source = (SCREENS / part).read_text("utf-8")
    for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "new Function"):
        assert word not in source
