"""Every role and office, by password and by PIN, at every page, route and file of one running centre, in Chromium.

Each has a tablet of their own. A page that is not open is asked for once by typing its address, the others by changing
the address of the tab that is open, as its button "back" does: that is asked anew each time and spares a loading.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import APIResponse, Browser, BrowserContext, Page
from running_centre import TABLET, RunningCentre, chromium
from signed_centre import PASSWORD, PIN, signed_centre

from course.access import HOLDER_WORDS, TABLE, Act, Holder, Right, Sight, may, may_by_pin
from course.screens import controls, door, menu, serve, slate_route, theme
from course.screens.shown_files import NOT_SHOWN
from course.words import Role

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
    buttons: all('[data-testid=stButton], [data-testid=stFormSubmitButton]')
      .filter(one => one.closest('[class*=st-key-]')).map(key),
    more: document.querySelector('[class*=st-key-menu-more] p')?.textContent.trim(),
    faults: all('[data-testid=stException]').length,
  };
}"""


@dataclass(frozen=True)
class Taken:
    """A file that was tapped, fetched once more by its address, and by somebody else."""

    status: int
    length: int
    elsewhere: tuple[tuple[int, str], ...]


@dataclass(eq=False)
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
    menu: set[str] = field(default_factory=set)
    """The pages in the menu once its list is open."""

    def may(self, sight: Sight) -> bool:
        return (may_by_pin if self.strength == "pin" else may)([self.holder], sight)

    def sees(self, name: str) -> bool:
        return self.may(menu.sight_of(name))

    def may_act(self, right: Right) -> bool:
        return (may_by_pin if self.strength == "pin" else may)([self.holder], right)

    def visited(self) -> list[str]:
        """Every page by password; by PIN those that the password opens."""
        if self.strength == "password":
            return list(TITLES)
        return [name for name in TITLES if may([self.holder], menu.sight_of(name))]

    def first(self) -> str:
        """The page whose address is typed: one that is not open, where there is one."""
        return next((name for name in self.visited() if name != menu.FIRST and not self.sees(name)), "check")

    def send(self, path: str, **fields: str) -> APIResponse:
        ours = {"origin": self.address, "sec-fetch-site": "same-origin"}
        return self.context.request.post(f"{self.address}{path}", form=dict(fields), headers=ours, max_redirects=0)

    def look(self) -> dict[str, Any]:
        """Wait for what was asked for, and return what it shows."""
        assert self.page is not None
        return dict(self.page.wait_for_function(SEEN, timeout=SLOW).json_value())

    def acts(self, name: str) -> set[str]:
        """The controls of a page that act, by their keys: each ends with its right."""
        return {key for key in self.seen[name]["buttons"] if controls.right_of(key)}

    def open_menu(self) -> None:
        """Open the list behind the menu and note all that it leads to."""
        assert self.page is not None
        links = self.page.locator('[data-testid="stPageLink"]')
        others = sum(self.sees(name) for name in menu.OTHERS)
        before = links.count()
        self.page.locator('[class*="st-key-menu-more"] button').click(timeout=SLOW)
        links.nth(before + others - 1).wait_for(timeout=SLOW)
        self.menu = {text.strip() for text in links.all_inner_texts()}


@dataclass
class Place:
    """The running centre with everybody's tablets."""

    tablets: dict[tuple[Holder, str], Tablet]
    query: str

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
    keep({one: one.first() for one in tablets})
    for name in TITLES:
        asking = [one for one in tablets if name in one.visited() and name != one.first()]
        for one in asking:
            assert one.page is not None
            one.page.evaluate(GO, f"{address_of(name)}?{query}")
        keep(dict.fromkeys(asking, name))
        for one in asking:
            take_away(one, name, tablets)
    for one in tablets:
        one.open_menu()


def keep(asked: dict[Tablet, str]) -> None:
    """Keep what each tablet shows once it stays the same: a page may be still for a moment between two of its parts."""
    changing = list(asked)
    while changing:
        before = {one: one.look() for one in changing}
        time.sleep(0.12)
        for one in changing:
            one.seen[asked[one]] = one.look()
        changing = [one for one in changing if one.seen[asked[one]] != before[one]]


def take_away(one: Tablet, name: str, tablets: list[Tablet]) -> None:
    """Tap each file that a page offers; while it is there, ask for it here and where nobody was offered it."""
    assert one.page is not None
    for place, key in enumerate(one.seen[name]["files"]):
        if key in one.files:
            continue
        with one.page.expect_download(timeout=SLOW) as taken:
            one.page.locator('[data-testid="stDownloadButton"] button').nth(place).dispatch_event("click")
        here = one.context.request.get(taken.value.url)
        right = Sight[key.partition("-")[0]]  # the very same file is shown to others too, where they may take it
        others = [
            other for other in tablets if not other.may(right) and (one.holder == Role.LEAD or other is tablets[-1])
        ]
        there = [other.context.request.get(taken.value.url) for other in others]
        one.files[key] = Taken(here.status, len(here.body()), tuple((other.status, other.text()) for other in there))


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
                yield Place(tablets, query)
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
            others = [other for other in menu.OTHERS if one.sees(other)]
            assert set(seen["links"]) == {title for other, title in menu.DAILY.items() if one.sees(other)}, name
            assert seen["more"] in (("More", *map(TITLES.__getitem__, others)) if others else (None,)), name
            assert "This page is not open to you." not in seen["text"], name
            continue
        told = seen["text"].partition("This page is not open to you.")[2].strip().splitlines()
        assert seen["title"] == title
        assert f"(page {name})" in told[0]
        words = {"Open to you:", *open_to}
        assert {line for line in told[1:] if line} <= words, name
        assert set(seen["links"]) == set(open_to), name  # in the menu and below the sentence
        assert (seen["files"], seen["buttons"]) == ([], []), name
    assert one.menu == set(open_to)


@pytest.mark.parametrize(("holder", "strength"), EVERYBODY)
def test_the_control_of_an_act_is_there_for_whoever_may_do_it_and_for_nobody_else(
    place: Place, holder: Holder, strength: str
) -> None:
    """Measured by the lead's page; what opens on a page only after a tap: test_controls.py."""
    one, leads = place.of(holder, strength), place.of(Role.LEAD)
    for name in one.visited():
        if one.sees(name):
            wanted = {key for key in leads.acts(name) if (right := controls.right_of(key)) and one.may_act(right)}
            assert one.acts(name) == wanted, name


def test_the_lead_has_a_control_for_these_rights_on_pages_as_they_open(place: Place) -> None:
    """So that the test beside this one is about something."""
    found = {controls.right_of(key) for name in TITLES for key in place.of(Role.LEAD).acts(name)}
    assert found >= {
        Act.SET_UP, Act.RUN_DAY, Act.CLOSE, Act.FREEZE, Act.CARE, Act.ANSWER, Act.KEEP, Act.ACCOUNT, Act.BACKUP,
    }  # fmt: skip


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
        for status, told in taken.elsewhere:
            assert status == 403, key
            assert NOT_SHOWN in told


FETCH = """async asked => Promise.all(asked.map(async ([method, path, content]) => {
  const headers = {'content-type': 'application/json', 'x-course': 'pad'};
  const answer = await fetch(path, {method, ...(method === 'POST' ? {headers, body: content} : {})});
  const kind = (answer.headers.get('content-type') || '').split(';')[0];
  return [answer.status, kind, answer.status === 403 ? await answer.text() : ''];
}))"""


@pytest.mark.parametrize(("holder", "strength"), EVERYBODY)
def test_our_own_routes_answer_a_page_of_whom_the_table_lets_in(place: Place, holder: Holder, strength: str) -> None:
    """Asked from within a page, with its cookie, by the way that a route takes and by the other one."""
    one = place.of(holder, strength)
    assert one.page is not None
    font = f"{theme.FONT_ROUTE}/{theme.FONT_FILES['400']}"
    routes = {
        Sight.MARKS_ROUTE: (serve.MARKS, "POST", '{"items": []}'),
        Sight.SLATE_ROUTE: (slate_route.SLATE, "POST", '{"act": "check"}'),
        Sight.PULSE_ROUTE: (serve.PULSE, "GET", "{}"),
        Sight.FONT_ROUTE: (font, "GET", "{}"),
    }
    asked = [(sight, way) for sight in routes for way in ("GET", "POST")]
    answers = one.page.evaluate(FETCH, [(way, routes[sight][0], routes[sight][2]) for sight, way in asked])
    for (sight, way), (status, kind, told) in zip(asked, answers, strict=True):
        if not one.may(sight):
            assert status == 403, (sight, way)
            assert "A PIN is not enough" in told or HOLDER_WORDS[holder] in told
        elif way != routes[sight][1]:
            assert status == 405 or (way, kind) == ("GET", "text/html"), (sight, way)  # the empty frame of any address
        else:
            assert status not in (403, 405), (sight, way)


# --- what is made and done by a tap; last, since it changes the centre ----------------------------------------------

MADE = (
    ("laptops", "", "hand-over", Sight.BUNDLE_FILE),
    ("papers", "Audit file", "audit-seal", Sight.AUDIT_FILE),
    ("papers", "Several at once", "batch-print", Sight.BATCH_FILE),
)
"""A page, what is chosen on it, what makes the file, and the right to take it away."""


def go(one: Tablet, place: Place, name: str) -> Page:
    assert one.page is not None
    one.page.evaluate(GO, f"{address_of(name)}?{place.query}")
    one.look()
    return one.page


def tap(page: Page, key: str) -> None:
    """Tap the first control of this name, in an expander that is shut too."""
    page.locator(f'[class*="st-key-{key}"] button').first.dispatch_event("click", timeout=SLOW)


def test_a_file_that_is_made_by_a_tap_comes_and_is_of_no_use_to_whom_the_table_does_not_let_have_it(
    place: Place,
) -> None:
    lead = place.of(Role.LEAD)
    for name, chosen, key, right in MADE:
        page = go(lead, place, name)
        if chosen:
            page.get_by_role("radio", name=chosen).or_(page.get_by_role("button", name=chosen)).first.click(
                timeout=SLOW
            )
        tap(page, key)
        offered = page.locator(f'[class*="st-key-{right.name}"] button').first
        with page.expect_download(timeout=SLOW) as taken:
            offered.dispatch_event("click", timeout=SLOW)
        assert lead.context.request.get(taken.value.url).status == 200
        for other in place.tablets.values():
            if not other.may(right):
                answer = other.context.request.get(taken.value.url)
                assert (answer.status, NOT_SHOWN in answer.text()) == (403, True), (right, other.holder)


DONE = (
    (Act.SET_UP, "people", ("Enter-the-unit",), "Unit C-07 is entered."),
    (Act.RUN_DAY, "day", ("Put-it-on-the-day-sheet",), "It stands on the day sheet."),
    (Act.KEEP, "privacy", ("Keep-for-so-long",), "The time is set."),
    (Act.CLOSE, "day", ("close-day-",), "The day is closed, with a checkpoint."),
    (Act.FREEZE, "day", ("freeze-FREEZE", "freeze-as-"), "(frozen)"),
)  # fmt: skip
"""A right, a page, what is tapped one after another, and what the page says then."""
TYPED = {
    "people": ("A new unit", "Label on the unit, such as A-05", "C-07"),
    "day": ("", "Emergency contact: whom to call, with numbers", "112"),
}
"""By page: the part that has to be opened, a field, and what goes in."""


@pytest.mark.parametrize(("act", "name", "taps", "told"), DONE, ids=[act.name for act, *_ in DONE])
def test_a_tap_of_whoever_may_does_it(place: Place, act: Act, name: str, taps: tuple[str, ...], told: str) -> None:
    """A control of each of five rights; that every act refuses whom the table does not let: test_every_act.py."""
    lead = place.of(Role.LEAD)
    assert lead.may_act(act)
    page = go(lead, place, name)
    if act in (Act.SET_UP, Act.RUN_DAY):
        part, label, text = TYPED[name]
        if part:
            page.locator("summary", has_text=part).click(timeout=SLOW)
        page.get_by_label(label, exact=True).first.fill(text, timeout=SLOW)
    for key in taps:
        tap(page, key)
    page.get_by_text(told).first.wait_for(state="attached", timeout=SLOW)
