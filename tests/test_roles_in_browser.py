"""Every role and office, by password and by PIN, at every page, route and file of one running centre, in Chromium.

Each has a tablet of their own. A page that is not open is asked for once by typing its address, the others by changing
the address of the tab that is open, as its button "back" does: that is asked anew each time and spares a loading.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import APIResponse, Browser, BrowserContext, Page
from running_centre import TABLET, RunningCentre, chromium
from signed_centre import PAD, PASSWORD, PIN, signed_centre

from course.access import HOLDER_WORDS, TABLE, Act, Holder, Sight, may, may_by_pin
from course.screens import door, menu, serve, slate_route
from course.screens.shown_files import NOT_SHOWN
from course.words import Office, Role

TITLES = menu.DAILY | menu.OTHERS
EVERYBODY = list(product(TABLE, ("password", "pin")))
SLOW = 60_000
WATCH = """
window.drawn = performance.now();
new MutationObserver(() => { window.drawn = performance.now(); window.asked = true; }).observe(document, {
  subtree: true, childList: true, characterData: true, attributes: true, attributeFilter: ['data-test-script-state']});
"""
GO = """path => {
  window.asked = false;
  history.pushState({}, '', path);
  window.dispatchEvent(new PopStateEvent('popstate', {state: {}}));
}"""
SEEN = """() => {
  const app = document.querySelector('[data-testid=stApp]');
  if (!app || app.dataset.testScriptState !== 'notRunning' || window.asked === false) return null;
  if (!document.querySelector('.who')) return null;
  if (document.querySelector('[data-stale=true], [data-testid=stSkeleton]')) return null;
  if (performance.now() - window.drawn < 300) return null;
  const all = wanted => [...document.querySelectorAll(wanted)];
  const key = part => part.closest('[class*=st-key-]').className.match(/st-key-(\\S+)/)[1];
  return {
    title: document.querySelector('h1')?.textContent,
    text: document.querySelector('[data-testid=stMain]').innerText,
    links: all('[data-testid=stPageLink]').map(one => one.textContent.trim()),
    files: all('[data-testid=stDownloadButton]').map(key),
    buttons: all('[data-testid=stButton] button, [data-testid=stFormSubmitButton] button')
      .map(one => one.textContent.trim()),
    faults: all('[data-testid=stException]').length,
  };
}"""


@dataclass(frozen=True)
class Taken:
    """A file that was tapped, fetched once more by its address, and by somebody else."""

    status: int
    length: int
    elsewhere: tuple[int, str]


@dataclass
class Tablet:
    """Somebody's own, and what each page showed there."""

    holder: Holder
    strength: str
    context: BrowserContext
    address: str
    page: Page | None = None
    seen: dict[str, dict[str, Any]] = field(default_factory=dict)
    files: dict[str, Taken] = field(default_factory=dict)
    """What was taken away here, by its right and label."""

    def may(self, sight: Sight) -> bool:
        return (may_by_pin if self.strength == "pin" else may)([self.holder], sight)

    def sees(self, name: str) -> bool:
        return self.may(menu.sight_of(name))

    def visited(self) -> list[str]:
        """Every page by password; by PIN those that the password opens and a PIN does not, and one that it does."""
        if self.strength == "password":
            return list(TITLES)
        opened = [name for name in TITLES if may([self.holder], menu.sight_of(name))]
        return [*(name for name in opened if not self.sees(name) and name != menu.FIRST), "check"]

    def first(self) -> str:
        """The page whose address is typed: one that is not open, where there is one."""
        return next((name for name in self.visited() if name != menu.FIRST and not self.sees(name)), "check")

    def send(self, path: str, **fields: str) -> APIResponse:
        ours = {"origin": self.address, "sec-fetch-site": "same-origin"}
        return self.context.request.post(f"{self.address}{path}", form=dict(fields), headers=ours, max_redirects=0)

    def look(self, name: str) -> None:
        """Wait for what was asked for, and keep what it shows."""
        assert self.page is not None
        seen = self.page.wait_for_function(SEEN, timeout=SLOW).json_value()
        while True:  # a page may be still for a moment between two of its parts
            self.page.wait_for_timeout(120)
            again = self.page.wait_for_function(SEEN, timeout=SLOW).json_value()
            if again == seen:
                break
            seen = again
        self.seen[name] = seen


@dataclass
class Place:
    """The running centre with everybody's tablets."""

    tablets: dict[tuple[Holder, str], Tablet]

    def of(self, holder: Holder, strength: str = "password") -> Tablet:
        return self.tablets[holder, strength]


def sign_in(browser: Browser, address: str, holder: Holder, strength: str, person: str) -> Tablet:
    """A tablet on which somebody is signed in through the forms."""
    one = Tablet(holder, strength, browser.new_context(viewport=TABLET), address)  # type: ignore[arg-type]
    assert one.send(door.ENTER, name=str(holder), password=PASSWORD).status == 303
    if strength == "pin":
        assert one.send(door.SWITCH, person=person, pin=PIN).status == 303
    return one


def address_of(name: str) -> str:
    return "/" if name == menu.FIRST else f"/{menu.ADDRESSES.get(name, name)}"


def visit(tablets: list[Tablet], query: str) -> None:
    """Every page on every tablet, on all of them at a time."""
    for one in tablets:
        one.context.add_init_script(WATCH)
        one.page = one.context.new_page()
        one.page.goto(f"{one.address}{address_of(one.first())}?{query}", wait_until="commit")
    for one in tablets:
        one.look(one.first())
    for name in TITLES:
        asking = [one for one in tablets if name in one.visited() and name != one.first()]
        for one in asking:
            assert one.page is not None
            one.page.evaluate(GO, f"{address_of(name)}?{query}")
        for one in asking:
            one.look(name)
            take_away(one, name, next(tablet for tablet in tablets if tablet.holder == Office.ADMINISTRATOR))


def take_away(one: Tablet, name: str, other: Tablet) -> None:
    """Tap each file that a page offers; while it is there, ask for it here and where nobody was offered it."""
    assert one.page is not None
    for place, key in enumerate(one.seen[name]["files"]):
        if key in one.files:
            continue
        with one.page.expect_download(timeout=SLOW) as taken:
            one.page.locator('[data-testid="stDownloadButton"] button').nth(place).dispatch_event("click")
        here, there = (tablet.context.request.get(taken.value.url) for tablet in (one, other))
        one.files[key] = Taken(here.status, len(here.body()), (there.status, there.text()))


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Place]:
    folder: Path = tmp_path_factory.mktemp("roles")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with signed_centre(folder) as made:
            people, query = dict(made.people), f"course={made.ids.course}&student={made.ids.amaru}"
        running = RunningCentre(folder / "centre")
        running.start()
        try:
            with chromium() as browser:
                tablets = {
                    (holder, strength): sign_in(browser, running.address, holder, strength, people[holder])
                    for holder, strength in EVERYBODY
                }
                for strength in ("password", "pin"):
                    visit([tablets[holder, strength] for holder in TABLE], query)
                yield Place(tablets)
        finally:
            running.stop()


@pytest.mark.parametrize(("holder", "strength"), EVERYBODY)
def test_each_page_shows_itself_or_says_whose_it_is_and_nothing_of_what_is_in_it(
    place: Place, holder: Holder, strength: str
) -> None:
    one = place.of(holder, strength)
    open_to = [title for name, title in TITLES.items() if one.sees(name)]
    for name in one.visited():
        title, seen = TITLES[name], one.seen[name]
        assert seen["faults"] == 0, name
        if one.sees(name) or (name == menu.FIRST and open_to):
            assert "This page is not open to you." not in seen["text"], name
            continue
        told = seen["text"].partition("This page is not open to you.")[2].strip().splitlines()
        assert seen["title"] == title
        assert f"(page {name})" in told[0]
        words = {"Open to you:", *open_to}
        assert {line for line in told[1:] if line} <= words, name
        assert set(seen["links"]) == set(open_to), name  # in the menu and below the sentence
        assert (seen["files"], seen["buttons"]) == ([], []), name


ACTS = {
    ("people", "Make the course"): Act.SET_UP,
    ("people", "Enter the person"): Act.SET_UP,
    ("people", "Plan the session"): Act.SET_UP,
    ("people", "Give the account"): Act.ACCOUNT,
    ("slate", "Give out"): Act.RUN_DAY,
    ("hours", "Enter the time"): Act.RUN_DAY,
    ("units", "Plant it: the unit goes on hold"): Act.CARE,
    ("findings", "Answer it"): Act.ANSWER,
    ("gates", "Note that I saw it"): Act.EVALUATE,
    ("privacy", "Keep for so long"): Act.KEEP,
    ("laptops", "Put the bundle together"): Act.BACKUP,
}
"""Buttons of forms that stand on pages as they open; the acts behind them refuse for themselves."""


@pytest.mark.parametrize("holder", TABLE)
def test_the_button_of_an_act_is_there_for_whoever_may_do_it_and_for_nobody_else(place: Place, holder: Holder) -> None:
    one = place.of(holder)
    for (name, button), act in ACTS.items():
        assert (button in one.seen[name]["buttons"]) is (one.sees(name) and may([holder], act)), (name, button)


@pytest.mark.parametrize("holder", [holder for holder in TABLE if holder != Role.STUDENT])
def test_a_page_offers_the_files_that_the_table_lets_be_taken_away_and_no_other(place: Place, holder: Holder) -> None:
    """Measured by what the same page offers the lead, whom the table lets take every one."""
    leads, one, pin = place.of(Role.LEAD), place.of(holder), place.of(holder, "pin")
    for name in TITLES:
        if one.sees(name):
            offered = [key for key in leads.seen[name]["files"] if one.may(Sight[key.partition("-")[0]])]
            assert one.seen[name]["files"] == offered, name
    assert not any(seen["files"] for seen in pin.seen.values())


def test_the_lead_and_the_student_are_offered_these_files_on_pages_as_they_open(place: Place) -> None:
    """So that the tests beside this one are about something; the student's own pages are about nobody else."""
    offered = {holder: {key.partition("-")[0] for key in place.of(holder).files} for holder in TABLE}
    assert offered[Role.LEAD] >= {"CHART_FILE", "FIGURES_FILE", "DAY_FILE", "TAKE_HOME_FILE", "FINDINGS_FILE"}
    assert offered[Role.STUDENT] == {"PAPER_FILE", "WHY_FILE", "TAKE_HOME_FILE"}


@pytest.mark.parametrize("holder", TABLE)
def test_a_file_comes_whole_and_its_address_is_of_no_use_to_anybody_else(place: Place, holder: Holder) -> None:
    one = place.of(holder)
    for key, taken in one.files.items():
        assert one.may(Sight[key.partition("-")[0]])
        assert taken.status == 200, key
        assert taken.length > 100, key
        assert taken.elsewhere[0] == 403, key
        assert NOT_SHOWN in taken.elsewhere[1]


@pytest.mark.parametrize(("holder", "strength"), EVERYBODY)
def test_our_own_routes_answer_whom_the_table_lets_in(place: Place, holder: Holder, strength: str) -> None:
    one = place.of(holder, strength)

    def post(path: str, content: str) -> APIResponse:
        return one.context.request.post(
            f"{one.address}{path}", data=content, headers=PAD | {"origin": one.address}, max_redirects=0
        )

    asked = {
        Sight.MARKS_ROUTE: lambda: post(serve.MARKS, '{"items": []}'),
        Sight.SLATE_ROUTE: lambda: post(slate_route.SLATE, '{"act": "check"}'),
        Sight.PULSE_ROUTE: lambda: one.context.request.get(f"{one.address}{serve.PULSE}"),
    }
    for sight, ask in asked.items():
        answer = ask()
        assert (answer.status != 403) is one.may(sight), sight
        if answer.status == 403:
            assert "A PIN is not enough" in answer.text() or HOLDER_WORDS[holder] in answer.text()
