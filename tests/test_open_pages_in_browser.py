"""Pages that stay open on a tablet while its owner's account is closed elsewhere, in Chromium: every act is tapped.

Before that, each file that a page makes or shows of people is taken away, and asked for by those who may not have it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from centre_builder import POOL_SKILL, Centre, seen_at
from playwright.sync_api import Page, expect
from running_centre import TABLET, RunningCentre, chromium
from signed_centre import PASSWORD, signed_centre
from test_accounts_in_browser import close
from test_roles_in_browser import SLOW, WATCH, Tablet, address_of, sign_in, tap

from course.access import Act, Holder, Sight
from course.actions import accounts, gate_papers, incident, set_points, slates, times, unit_care
from course.actions import centre as founding
from course.actions.times import WaterRow
from course.screens import controls, door
from course.screens.sessions import OUT
from course.screens.shown_files import NOT_SHOWN
from course.storage.ledger import open_ledger
from course.words import Office, Role

SECOND = "rhona"
WITHOUT_CONTROL = {Act.KEY, Act.OBSERVE}
"""A command, and a page of its own."""
TAP_ALL = """keys => keys.forEach(key => document.querySelector(`[class~="st-key-${key}"] button`).click())"""


def busy(c: Centre) -> dict[str, dict[str, str]]:
    """Let things stand open; return the pages on which every act has a control, with what their addresses ask for."""
    ledger, lead, pool = c.ledger, c.lead, c.sessions["pool-22"]
    c.hold()
    unit_care.hold(ledger, lead, c.unit_b, seen_at(22), "Cell 2 reads low.")
    slates.give_out(ledger, lead, pool, skills=[POOL_SKILL], students=[c.zoe])
    times.save_water(ledger, lead, pool, [WaterRow(person=c.amaru, loop_minutes=40)])
    set_points.note_set_point(ledger, lead, pool, "1.2", seen_at(22))
    gate_papers.note_exam(ledger, lead, c.course, c.amaru, day="2026-10-20", mark="40", of="50", items=["Which cell?"])
    for session in ("dry-21", "open-25"):  # the first and the last day: whichever is nearest to the machine's own
        incident.freeze(ledger, lead, c.sessions[session], seen_at(int(session[-2:])), None)
    return {
        "people": {}, "gates": {}, "findings": {}, "day": {}, "privacy": {}, "laptops": {}, "papers": {}, "slate": {},
        "course": {"student": c.amaru, "skill": POOL_SKILL}, "hours": {"session": pool}, "units": {"unit": c.unit_b},
    }  # fmt: skip


def second_lead(c: Centre) -> None:
    """A lead's account is for a lead to close."""
    person = founding.add_person(c.ledger, c.lead, name="Rhona Pellworth", roles=[Role.LEAD])
    accounts.make_account(c.ledger, c.lead, person, name=SECOND, password=f"{PASSWORD} first")
    accounts.set_password(c.ledger, person, person, PASSWORD, own=True)


@dataclass
class Open:
    """A running centre, the lead's tablet with a page in each tab, another lead's, and others who are signed in."""

    folder: Path
    lead: Tablet
    second: Tablet
    tabs: dict[str, Page]
    others: dict[Holder, Tablet]

    def events(self) -> int:
        with open_ledger(self.folder) as ledger:
            return ledger.count_events()


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    folder: Path = tmp_path_factory.mktemp("open-pages")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with signed_centre(folder) as made:
            people, pages, course = dict(made.people), busy(made.ids), made.ids.course
            second_lead(made.ids)
        running = RunningCentre(folder / "centre")
        running.start()
        try:
            with chromium() as browser:
                signed = {
                    holder: sign_in(browser, running.address, holder, "password", people[holder])
                    for holder in (Role.LEAD, Role.STUDENT, Role.TECHNICIAN, Office.ADMINISTRATOR)
                }
                lead = signed.pop(Role.LEAD)
                second = Tablet(Role.LEAD, "password", browser.new_context(viewport=TABLET), running.address)  # type: ignore[arg-type]
                assert second.send(door.ENTER, name=SECOND, password=PASSWORD).status == 303
                lead.context.add_init_script(WATCH)
                tabs = {name: tab(lead, name, {"course": course, **asked}) for name, asked in pages.items()}
                choose_person(tabs["privacy"])
                yield Open(folder / "centre", lead, second, tabs, signed)
        finally:
            running.stop()


def tab(one: Tablet, name: str, asked: dict[str, str]) -> Page:
    """A page in a tab of its own, once it stands."""
    one.page = one.context.new_page()
    query = "&".join(f"{key}={value}" for key, value in asked.items())
    one.page.goto(f"{one.address}{address_of(name)}?{query}", wait_until="commit")
    one.seen[name] = one.look()
    return one.page


def choose_person(page: Page) -> None:
    """Whose personal data: the second of the list, as one does by keyboard."""
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


def test_every_act_is_refused_in_a_sentence_on_a_page_that_was_open_when_its_account_was_closed(opened: Open) -> None:
    """One control of each act; of one page they are tapped in one go, since the first answer takes the page away."""
    taps: dict[str, list[str]] = {}
    found: set[Act] = set()
    for name, page in opened.tabs.items():
        opened.lead.page = page
        for key in opened.lead.look()["buttons"]:
            right = controls.right_of(key)
            if isinstance(right, Act) and right not in found:
                found.add(right)
                taps.setdefault(name, []).append(key)
    assert found == set(Act) - WITHOUT_CONTROL
    close(tab(opened.second, "people", {}), "Tamsin Okoro-Vale")
    before = opened.events()
    for name, keys in taps.items():
        page = opened.tabs[name]
        assert page.get_by_role("heading", name="Signed out").count() == 0, name
        page.evaluate(TAP_ALL, keys)
        expect(page.get_by_text(OUT)).to_be_visible(timeout=SLOW)
        expect(page.locator('[class*="st-key-"] button')).to_have_count(0, timeout=SLOW)  # nothing is left to tap
    assert opened.events() == before
