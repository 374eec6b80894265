"""Each file about people is taken away from its page in Chromium, and asked for by those who may not have it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from centre_builder import POOL_SKILL, Centre, seen_at
from playwright.sync_api import Page
from running_centre import RunningCentre, chromium
from signed_centre import signed_centre
from test_roles_in_browser import SLOW, WATCH, Tablet, address_of, sign_in, tap

from course.access import Holder, Sight
from course.actions import incident, slates
from course.screens.shown_files import NOT_SHOWN
from course.words import Office, Role

PAGES = ("day", "privacy", "papers", "slate")


def busy(c: Centre) -> None:
    """Let a sheet be out and something be frozen: on the first and the last day, whichever is nearest to today."""
    slates.give_out(c.ledger, c.lead, c.sessions["pool-22"], skills=[POOL_SKILL], students=[c.zoe])
    for session in ("dry-21", "open-25"):
        incident.freeze(c.ledger, c.lead, c.sessions[session], seen_at(int(session[-2:])), None)


@dataclass
class Open:
    """A running centre, the lead's tablet with a page in each tab, and others who are signed in."""

    lead: Tablet
    tabs: dict[str, Page]
    others: dict[Holder, Tablet]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    folder: Path = tmp_path_factory.mktemp("files")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with signed_centre(folder) as made:
            busy(made.ids)
            people, course = dict(made.people), made.ids.course
        running = RunningCentre(folder / "centre")
        running.start()
        try:
            with chromium() as browser:
                signed = {
                    holder: sign_in(browser, running.address, holder, "password", people[holder])
                    for holder in (Role.LEAD, Role.STUDENT, Role.TECHNICIAN, Office.ADMINISTRATOR)
                }
                lead = signed.pop(Role.LEAD)
                lead.context.add_init_script(WATCH)
                tabs = {name: tab(lead, name, course) for name in PAGES}
                yield Open(lead, tabs, signed)
        finally:
            running.stop()


def tab(one: Tablet, name: str, course: str) -> Page:
    """A page in a tab of its own, once it stands."""
    one.page = one.context.new_page()
    one.page.goto(f"{one.address}{address_of(name)}?course={course}", wait_until="commit")
    one.look()
    return one.page


def choose_person(page: Page) -> None:
    """Whose personal data, as one does by keyboard."""
    field = page.get_by_label("Whose data?", exact=True)
    field.press_sequentially("Zo", timeout=SLOW)
    page.get_by_role("option").first.click(timeout=SLOW)
    page.locator('[class*="-EXPORT"]').first.wait_for(state="attached", timeout=SLOW)


FILES = (
    ("privacy", "", "gather-", Sight.OWN_DATA_FILE),
    ("papers", "Course file", "", Sight.FILED_FILE),
    ("papers", "Day sheet", "", Sight.DAY_PREVIEW_FILE),
    ("day", "", "", Sight.INCIDENT_FILE),
    ("slate", "", "", Sight.SHEETS_FILE),
)
"""A page, what is chosen on it, what makes the file where it is not made as the page opens, and its right."""


def test_a_file_about_people_comes_and_is_of_no_use_to_whom_the_table_does_not_let_have_it(opened: Open) -> None:
    choose_person(opened.tabs["privacy"])
    for name, chosen, key, right in FILES:
        page = opened.tabs[name]
        if chosen:
            page.get_by_role("radio", name=chosen).or_(page.get_by_role("button", name=chosen)).first.click(
                timeout=SLOW
            )
        if key:
            tap(page, key)
        with page.expect_download(timeout=SLOW) as taken:
            page.locator(f'[class*="st-key-{right.name}"] button').first.dispatch_event("click", timeout=SLOW)
        here = opened.lead.context.request.get(taken.value.url, max_retries=3)
        assert (here.status, len(here.body()) > 100) == (200, True), right
        refused = [other for other in opened.others.values() if not other.may(right)]
        assert refused, right
        for other in refused:
            answer = other.context.request.get(taken.value.url, max_retries=3)
            assert (answer.status, NOT_SHOWN in answer.text()) == (403, True), (right, other.holder)
