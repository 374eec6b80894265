"""Signing in as people do it: one server with accounts, real browsers, and what a cookie that was copied is worth."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from centre_builder import POOL_SKILL, Centre, build_centre, shipped_standards
from live_centre import DEAF_MS, all_saved, is_pressed, open_pad, stroke
from playwright.sync_api import Browser, BrowserContext, Page, expect
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled

from course.actions import accounts
from course.answers.line import Line
from course.moments import new_id
from course.record.facts import Attempt
from course.screens import door
from course.storage.ledger import open_ledger

LEAD, SECOND, PIN = "violet anchors rarely whistle", "seldom lanterns argue twice", "4711"


@dataclass
class Place:
    """A running centre in which the lead and an instructor have accounts."""

    running: RunningCentre
    ids: Centre
    browser: Browser

    def tablet(self) -> BrowserContext:
        """Another tablet: cookies and storage of its own."""
        return self.browser.new_context(viewport=TABLET, has_touch=True)

    def url(self, path: str = "/") -> str:
        return f"{self.running.address}{path}"

    def pad(self, by: str) -> str:
        """The address of a pad on which nothing is marked yet."""
        line = Line(new_id(), self.ids.sessions["pool-22"], POOL_SKILL, by, (self.ids.amaru,))
        return self.url("/mark?" + "&".join(f"{name}={value}" for name, value in line.address().items()))

    def observers(self) -> list[str]:
        """Who marked something, in the order of attempts."""
        with open_ledger(self.running.folder) as ledger:
            found = sorted((a for a in ledger.facts("attempt") if isinstance(a, Attempt)), key=lambda a: a.id)
            return [sheet.observer for attempt in found for sheet in attempt.sheets if sheet.marks]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Place]:
    folder = tmp_path_factory.mktemp("door")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with build_centre(folder / "centre", shipped_standards()) as ids:
            for person, name, password in ((ids.lead, "tamsin", LEAD), (ids.second, "bruno", SECOND)):
                accounts.make_account(ids.ledger, ids.lead, person, name=name, password=f"{password} first")
                accounts.set_password(ids.ledger, person, person, password, own=True)
            accounts.set_pin(ids.ledger, ids.second, ids.second, PIN)
        running = RunningCentre(folder / "centre")
        running.start()
        try:
            with chromium() as browser:
                yield Place(running, ids, browser)
        finally:
            running.stop()


def sign_in(page: Page, name: str = "tamsin", password: str = LEAD) -> None:
    """Fill the form that is on the screen."""
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()


def signed_in(page: Page, words: str) -> None:
    expect(page.locator(".who")).to_contain_text(words, timeout=60_000)


def test_from_the_form_to_the_page_and_out_again(place: Place) -> None:
    with place.tablet() as tablet:
        page = tablet.new_page()
        page.goto(place.url("/health"))
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
        sign_in(page, "tamsin", "not the right one")
        expect(page.get_by_role("alert")).to_have_text("The name or the password is not right.")
        expect(page.get_by_label("Password")).to_have_value("")
        before = {cookie["name"] for cookie in tablet.cookies()}
        assert door.COOKIE not in before
        page.get_by_label("Password").fill(LEAD)
        page.get_by_role("button", name="Sign in").click()
        signed_in(page, "tamsin is signed in.")
        assert page.url == place.url("/health")
        (cookie,) = (one for one in tablet.cookies() if one["name"] == door.COOKIE)
        assert (cookie["httpOnly"], cookie["sameSite"], cookie["expires"]) == (True, "Strict", -1)
        assert door.COOKIE not in page.evaluate("document.cookie")

        page.get_by_role("link", name="Sign out").click()
        page.get_by_role("button", name="Sign out").click()
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
        page.go_back()
        page.reload()
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def stays_as_it_is(page: Page) -> None:
    """It asks in vain whether its session still holds, as where the network is cut, and so can still be tapped."""
    page.route(f"**{door.STILL}*", lambda route: route.abort())


def test_a_copied_cookie_counts_until_its_owner_signs_out_and_a_planted_one_never(place: Place) -> None:
    with place.tablet() as own, place.tablet() as thief, place.tablet() as other:
        planted = {"name": door.COOKIE, "value": "a" * 43, "url": place.url(), "httpOnly": True}
        own.add_cookies([planted])  # type: ignore[list-item]
        page = own.new_page()
        page.goto(place.url("/check"))
        sign_in(page)
        signed_in(page, "tamsin")
        (cookie,) = (one for one in own.cookies() if one["name"] == door.COOKIE)
        assert cookie["value"] != "a" * 43
        second = other.new_page()
        second.goto(place.url("/check"))
        sign_in(second)
        signed_in(second, "tamsin")

        thief.add_cookies([{"name": door.COOKIE, "value": cookie["value"], "url": place.url()}])
        stolen, watching = thief.new_page(), thief.new_page()
        stays_as_it_is(stolen)
        for one in (stolen, watching):
            one.goto(place.url("/check"))
            signed_in(one, "tamsin")

        page.goto(place.url(door.LEAVE))
        page.get_by_role("button", name="Sign out").click()
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
        watching.evaluate("document.dispatchEvent(new Event('visibilitychange'))")  # it asks at once, not in 20 s
        expect(watching.get_by_role("heading", name="Sign in")).to_be_visible(timeout=20_000)
        settled(stolen)
        stolen.get_by_role("link", name="Mark", exact=True).click()  # the socket is still open: the rerun asks
        expect(stolen.get_by_role("heading", name="Signed out")).to_be_visible(timeout=20_000)
        stolen.reload()
        expect(stolen.get_by_role("heading", name="Sign in")).to_be_visible()
        second.reload()
        signed_in(second, "tamsin")


def test_two_people_mark_on_one_tablet_by_pin_and_each_mark_is_its_writers(place: Place) -> None:
    first = place.ids.skill().steps[0].id
    with place.tablet() as tablet:
        page = tablet.new_page()
        page.goto(place.url("/check"))
        sign_in(page)
        signed_in(page, "tamsin")
        open_pad(page, place.pad(place.ids.lead))
        stroke(page, first)
        is_pressed(page, first)
        all_saved(page)
        page.goto(place.url(door.SWITCH))
        page.get_by_label("Bruno Ashkenar").check()
        page.get_by_label("PIN").fill(PIN)
        page.get_by_role("button", name="Go on").click()
        signed_in(page, "bruno is signed in by PIN.")
        page.goto(place.url("/papers"))
        expect(page.get_by_text("A PIN is not enough to see this")).to_be_visible(timeout=60_000)
        open_pad(page, place.pad(place.ids.second))
        stroke(page, first)
        is_pressed(page, first)
        all_saved(page)
        assert place.observers()[-2:] == [place.ids.lead, place.ids.second]


def test_a_session_ended_elsewhere_mid_attempt_keeps_what_was_marked_and_the_next_tap_waits(
    place: Place,
) -> None:
    first, second = (step.id for step in place.ids.skill().steps[:2])
    with place.tablet() as theirs, place.tablet() as elsewhere:
        page = theirs.new_page()
        page.goto(place.url("/check"))
        sign_in(page, "bruno", SECOND)
        signed_in(page, "bruno")
        stays_as_it_is(page)
        open_pad(page, place.pad(place.ids.second))
        stroke(page, first)
        all_saved(page)
        marked = place.observers()

        other = elsewhere.new_page()
        other.goto(place.url(door.LEAVE))
        sign_in(other, "bruno", SECOND)
        other.goto(place.url(door.LEAVE))
        other.get_by_label("On all my tablets").check()
        other.get_by_role("button", name="Sign out").click()
        expect(other.get_by_role("heading", name="Sign in")).to_be_visible()

        stroke(page, second)
        expect(page.locator(".status")).to_contain_text(re.compile("Sign in again"), timeout=20_000)
        assert place.observers() == marked
        page.locator('[data-act="see"]').first.click()
        page.wait_for_timeout(DEAF_MS)
        page.locator('[data-act="sign-in"]').click()
        expect(page.get_by_role("heading", name="Sign in")).to_be_visible(timeout=20_000)
        assert page.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('course.out.')).length") == 1
