"""Pages that stand open in tabs, in Chromium: files about people are taken away from them, every act is tapped.

First what a page offers is taken away and asked for by those who may not have it; then the account is closed elsewhere,
and each act is tapped on a page that was open before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from centre_builder import POOL_SKILL, Centre, seen_at
from playwright.sync_api import Page, expect
from running_centre import TABLET, RunningCentre, chromium
from signed_centre import PASSWORD, signed_centre
from test_accounts_in_browser import close
from test_door_in_browser import stays_as_it_is
from test_roles_in_browser import SLOW, WATCH, Tablet, address_of, sign_in, tap

from course.access import Act, Holder, Sight
from course.actions import accounts, gate_papers, incident, set_points, slates, times, unit_care
from course.actions import centre as founding
from course.actions.times import WaterRow
from course.screens import controls, door
from course.screens.sessions import OUT
from course.screens.shown_files import NOT_SHOWN
from course.storage.ledger import Ledger, open_ledger
from course.words import Office, Role

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
    """A running centre, the lead's tablet with a tab for each act and one that asks for files, and others signed in."""

    folder: Path
    lead: Tablet
    course: str
    acts: dict[Act, Tapped]
    second: Tablet
    others: dict[Holder, Tablet]


def head(ledger: Ledger) -> list[tuple[str, str]]:
    """What another event would change."""
    return [(one.chain, one.hash) for one in ledger.heads()]


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
                lead, *rest = (
                    sign_in(browser, running.address, holder, "password", people[holder])
                    for holder in (Role.LEAD, Role.STUDENT, Role.TECHNICIAN, Office.ADMINISTRATOR)
                )
                lead.context.add_init_script(WATCH)
                second = Tablet(Role.LEAD, "password", browser.new_context(viewport=TABLET), running.address)  # type: ignore[arg-type]
                assert second.send(door.ENTER, name=SECOND, password=PASSWORD).status == 303
                acts: dict[Act, Tapped] = {}
                for name, asked in pages.items():
                    each_act(lead, name, {"course": course, **asked}, acts)
                yield Open(folder / "centre", lead, course, acts, second, {one.holder: one for one in rest})
        finally:
            running.stop()


def each_act(lead: Tablet, name: str, asked: dict[str, str], acts: dict[Act, Tapped]) -> None:
    """Keep a tab for each act that has its first control on this page; those tabs come up beside each other."""
    (page,) = tabs(lead, name, asked, 1)
    keys: dict[Act, str] = {}
    for key in lead.look()["buttons"]:
        right = controls.right_of(key)
        if isinstance(right, Act) and right not in acts and page.locator(control(key)).first.is_enabled():
            keys.setdefault(right, key)
    more = tabs(lead, name, asked, max(len(keys) - 1, 0))
    acts |= {act: Tapped(one, key) for (act, key), one in zip(keys.items(), [page, *more], strict=False)}


def tabs(one: Tablet, name: str, asked: dict[str, str], how_many: int) -> list[Page]:
    """A page in tabs of its own, once it stands; they will not notice by themselves that their session is over."""
    query = "&".join(f"{key}={value}" for key, value in asked.items())
    made = [one.context.new_page() for _ in range(how_many)]
    for page in made:
        stays_as_it_is(page)
        page.goto(f"{one.address}{address_of(name)}?{query}", wait_until="commit")
    for page in made:
        one.page = page
        one.look()
        if name == "privacy":
            choose_person(page)
    return made


def choose_person(page: Page) -> None:
    """Whose personal data: as one does by keyboard."""
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
    standing: dict[str, Page] = {}
    for name, chosen, key, right in FILES:
        if name not in standing:
            (standing[name],) = tabs(opened.lead, name, {"course": opened.course}, 1)
        page = standing[name]
        if chosen:
            choice = page.get_by_role("radio", name=chosen).or_(page.get_by_role("button", name=chosen))
            choice.first.click(timeout=SLOW)
        if key:
            tap(page, key)
        with page.expect_download(timeout=SLOW) as taken:
            page.locator(f'[class*="st-key-{right.name}"] button').first.dispatch_event("click", timeout=SLOW)
        here = opened.lead.context.request.get(taken.value.url, max_retries=3)
        assert (here.status, len(here.body()) > 100) == (200, True), right
        refuse_to(opened.others.values(), right, taken.value.url)
    for page in standing.values():
        page.close()


def refuse_to(others: Iterable[Tablet], right: Sight, url: str) -> None:
    """Whoever the table does not let have a file is refused it by its address."""
    refused = [other for other in others if not other.may(right)]
    assert refused, right
    for other in refused:
        answer = other.context.request.get(url, max_retries=3)
        assert (answer.status, NOT_SHOWN in answer.text()) == (403, True), (right, other.holder)


def test_every_act_is_refused_in_a_sentence_on_a_page_that_was_open_when_its_account_was_closed(opened: Open) -> None:
    assert set(opened.acts) == set(Act) - WITHOUT_CONTROL
    page = opened.second.context.new_page()
    page.goto(f"{opened.second.address}/people")
    expect(page.get_by_role("heading", name="Accounts")).to_be_visible(timeout=SLOW)
    close(page, "Tamsin Okoro-Vale")
    with open_ledger(opened.folder) as ledger:
        before = head(ledger)
        for act, one in opened.acts.items():
            assert one.page.get_by_role("heading", name="Signed out").count() == 0, act
            one.page.locator(control(one.key)).first.dispatch_event("click", timeout=SLOW)
            expect(one.page.get_by_text(OUT).first, act).to_be_visible(timeout=SLOW)
            expect(one.page.locator('[class*="st-key-"] button'), act).to_have_count(0, timeout=SLOW)
            assert head(ledger) == before, act
