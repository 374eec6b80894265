"""Pages that stay open on a tablet while its owner's account is closed elsewhere, in Chromium: every act is tapped."""

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
from test_door_in_browser import stays_as_it_is
from test_roles_in_browser import SLOW, WATCH, Tablet, address_of, sign_in

from course.access import Act
from course.actions import accounts, gate_papers, incident, set_points, slates, times, unit_care
from course.actions import centre as founding
from course.actions.times import WaterRow
from course.screens import controls, door
from course.screens.sessions import OUT
from course.storage.ledger import Ledger, open_ledger
from course.words import Role

SECOND = "rhona"
WITHOUT_CONTROL = {Act.KEY, Act.OBSERVE}
"""A command, and a page of its own."""


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
        "people": {}, "gates": {}, "findings": {}, "day": {}, "privacy": {}, "laptops": {}, "slate": {},
        "course": {"student": c.amaru, "skill": POOL_SKILL}, "hours": {"session": pool}, "units": {"unit": c.unit_b},
    }  # fmt: skip


def second_lead(c: Centre) -> None:
    """A lead's account is for a lead to close."""
    person = founding.add_person(c.ledger, c.lead, name="Rhona Pellworth", roles=[Role.LEAD])
    accounts.make_account(c.ledger, c.lead, person, name=SECOND, password=f"{PASSWORD} first")
    accounts.set_password(c.ledger, person, person, PASSWORD, own=True)


@dataclass
class Tapped:
    """A control of an act, on a page in a tab of its own."""

    page: Page
    key: str


def control(key: str) -> str:
    """Where a control of this key is tapped."""
    return f'[class~="st-key-{key}"] button'


@dataclass
class Open:
    """A running centre, the lead's tablet with a tab for each act, and another lead's."""

    folder: Path
    acts: dict[Act, Tapped]
    second: Tablet


def head(ledger: Ledger) -> list[tuple[str, str]]:
    """What another event would change."""
    return [(one.chain, one.hash) for one in ledger.heads()]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Open]:
    folder: Path = tmp_path_factory.mktemp("open-pages")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with signed_centre(folder) as made:
            person, pages, course = made.ids.lead, busy(made.ids), made.ids.course
            second_lead(made.ids)
        running = RunningCentre(folder / "centre")
        running.start()
        try:
            with chromium() as browser:
                lead = sign_in(browser, running.address, Role.LEAD, "password", person)
                lead.context.add_init_script(WATCH)
                second = Tablet(Role.LEAD, "password", browser.new_context(viewport=TABLET), running.address)  # type: ignore[arg-type]
                assert second.send(door.ENTER, name=SECOND, password=PASSWORD).status == 303
                acts: dict[Act, Tapped] = {}
                for name, asked in pages.items():
                    each_act(lead, name, {"course": course, **asked}, acts)
                yield Open(folder / "centre", acts, second)
        finally:
            running.stop()


def each_act(lead: Tablet, name: str, asked: dict[str, str], acts: dict[Act, Tapped]) -> None:
    """Keep a tab for each act that has its first control on this page."""
    page = tab(lead, name, asked)
    for key in lead.look()["buttons"]:
        right = controls.right_of(key)
        if isinstance(right, Act) and right not in acts and page.locator(control(key)).first.is_enabled():
            if any(page is one.page for one in acts.values()):
                page = tab(lead, name, asked)
            acts[right] = Tapped(page, key)


def tab(one: Tablet, name: str, asked: dict[str, str]) -> Page:
    """A page in a tab of its own, once it stands; it will not notice by itself that its session is over."""
    one.page = one.context.new_page()
    stays_as_it_is(one.page)
    query = "&".join(f"{key}={value}" for key, value in asked.items())
    one.page.goto(f"{one.address}{address_of(name)}?{query}", wait_until="commit")
    one.look()
    if name == "privacy":
        choose_person(one.page)
    return one.page


def choose_person(page: Page) -> None:
    """Whose personal data: as one does by keyboard."""
    field = page.get_by_label("Whose data?", exact=True)
    field.press_sequentially("Zo", timeout=SLOW)
    page.get_by_role("option").first.click(timeout=SLOW)
    page.locator('[class*="-EXPORT"]').first.wait_for(state="attached", timeout=SLOW)


def test_every_act_is_refused_in_a_sentence_on_a_page_that_was_open_when_its_account_was_closed(opened: Open) -> None:
    assert set(opened.acts) == set(Act) - WITHOUT_CONTROL
    page = opened.second.context.new_page()
    page.goto(f"{opened.second.address}/people", wait_until="commit")
    close(page, "Tamsin Okoro-Vale")
    with open_ledger(opened.folder) as ledger:
        before = head(ledger)
        for act, one in opened.acts.items():
            assert one.page.get_by_role("heading", name="Signed out").count() == 0, act
            one.page.locator(control(one.key)).first.dispatch_event("click", timeout=SLOW)
            expect(one.page.get_by_text(OUT).first, act).to_be_visible(timeout=SLOW)
            expect(one.page.locator('[class*="st-key-"] button'), act).to_have_count(0, timeout=SLOW)
            assert head(ledger) == before, act
