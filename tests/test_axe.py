"""axe-core on every page at tablet size: it finds nothing in our own parts, and of Streamlit's only what is listed.

The rules are axe-core's for WCAG 2.0 to 2.2, levels A and AA, its best practices, and the contrast of level AAA, in a
real Chromium, from the script that `axe-playwright-python` carries: nothing is fetched. axe sees only a part of what
can go wrong; what needs a person or a keyboard is looked at in test_slate_grid, test_pad_in_browser, test_pool_day.

Success criteria of WCAG 2.2 (W3C) that the rules stand for, numbers from memory: 1.1.1 `image-alt`; 1.3.1 `label`,
`list`, `heading-order`, `td-headers-attr`, `aria-required-children`; 1.4.3 `color-contrast`; 1.4.6
`color-contrast-enhanced`; 1.4.4 `meta-viewport`; 2.1.1 `scrollable-region-focusable`; 2.4.1 `bypass`; 2.4.2
`document-title`; 2.4.4 `link-name`; 2.5.8 `target-size`; 3.1.1 `html-has-lang`; 4.1.2 `button-name`,
`nested-interactive` and the `aria-` rules.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from centre_builder import POOL_SKILL, ZONE, Centre, build_centre, critical_mark, seen_at, shipped_standards, tap
from playwright.sync_api import Locator, Page, expect
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled

from course.actions import courses, faults, slates, unit_care
from course.actions.pad import take
from course.actions.set_points import From, note_set_point
from course.actions.times import WaterRow, save_water
from course.moments import now, observed_at
from course.screens import door_forms, gate
from course.words import SlipKind

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
OFF_BY_DEFAULT = {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}}
KNOWN = {
    # Streamlit's own: the frame of an uploader is "for show" and has a name all the same; the button in it is the way
    ("presentation-role-conflict", "stFileUploaderDropzone"): ("mark", "check", "forms of ready"),
}
"""What axe finds in Streamlit 1.67: rule and nearest `data-testid`, and the pages that have it. Nothing else may."""
RUN = """async ([tags, rules]) => {
  const moving = () => document.getAnimations().filter((one) => one.effect.getComputedTiming().endTime < Infinity);
  const tall = () => document.querySelector('[data-testid="stMain"]')?.scrollHeight;
  for (let still = 0, was = 0; still < 10; still += 1) { // what folds open or fades in is looked at once it stands
    await new Promise(requestAnimationFrame);
    if (moving().length || tall() !== was) [still, was] = [0, tall()];
  }
  const how = { runOnly: tags, rules, resultTypes: ["violations", "passes"], elementRef: true };
  const told = await axe.run(document, how);
  const near = (node) => node.element?.closest("[data-testid]")?.dataset.testid ?? "our own part";
  const parts = (rule) => rule.nodes.map((node) => [rule.id, near(node), rule.impact, node.html.slice(0, 160)]);
  return { found: told.violations.flatMap(parts), kept: told.passes.map((rule) => rule.id) }; }"""
Found = tuple[str, str, str, str]
"""Rule, nearest `data-testid` of Streamlit, impact, and the element."""
SLOW = 60_000


@dataclass(frozen=True)
class Places:
    """A running centre and the addresses of what is looked at."""

    server: RunningCentre
    paths: dict[str, str]

    def go(self, page: Page, name: str) -> None:
        page.goto(self.server.address + self.paths[name])


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Places]:
    """A centre with something of everything: a skill met, one critical, open things, holds, a slip, people in."""
    base = tmp_path_factory.mktemp("axe")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(base / "state"))
        with build_centre(base / "centre", shipped_standards()) as c:
            paths = fill(c)
        server = RunningCentre(base / "centre")
        server.start()
        yield Places(server, paths)
        server.stop()


def fill(c: Centre) -> dict[str, str]:
    c.hold()
    c.enter("pool-22", critical_mark(), student=c.zoe)
    opened = c.open()
    take(c.ledger, [tap(c, opened, "marks_given/1", {"marks": [{"step": "co-hand", "mark": "done"}]})])
    start, end = (observed_at(now() + timedelta(minutes=m), ZONE, "minute") for m in (-30, 120))
    live = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Pool now", setting="pool", start=start, end=end
    )
    courses.make_group(c.ledger, c.lead, live, name="Group P", staff=[c.lead, c.assistant], students=[c.amaru, c.zoe])
    slip = faults.set_fault(
        c.ledger, c.lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault="pf-tag", unit=c.unit_a,
        observed=seen_at(21, 13, 40),
    )  # fmt: skip
    unit_care.hold(c.ledger, c.lead, c.unit_b, seen_at(22), "Cell 2 reads low.")
    (slate,) = slates.give_out(c.ledger, c.lead, live, skills=[POOL_SKILL])
    entered, turned, left = (observed_at(now() + timedelta(minutes=m), ZONE, "minute") for m in (-25, -20, -5))
    row = WaterRow(c.zoe, 18, entered=entered, left=left)
    save_water(c.ledger, c.lead, live, [row])
    for bar, since in (("0.7", None), ("1.2", From(turned, 3))):
        note_set_point(c.ledger, c.lead, live, bar, left, since=since)
    return {
        "today": f"/?session={live}", "mark": "/mark", "pad": f"/mark?attempt={opened.attempt}&sheet={opened.sheet}",
        "slate": "/slate", "grid": f"/slate?session={live}&slate={slate}", "course": "/standings",
        "cell": f"/standings?student={c.amaru}&skill={POOL_SKILL}", "units": "/units",
        "unit": f"/units?unit={c.unit_b}", "slip": f"/units?slip={slip}", "day": "/day", "papers": "/papers",
        "people": "/people", "class": "/class", "student": f"/student?student={c.amaru}", "observers": "/observers",
        "standards": "/standards", "hours": f"/hours?session={live}", "gates": "/gates", "ready": "/ready",
        "findings": "/findings", "privacy": "/privacy", "health": "/health", "figures": "/figures",
        "laptops": "/laptops", "check": "/check",
        "why": f"/why?student={c.amaru}&skill={POOL_SKILL}",
    }  # fmt: skip


@pytest.fixture(scope="module")
def tablet() -> Iterator[Page]:
    with chromium() as browser:
        yield browser.new_page(viewport=TABLET)  # type: ignore[arg-type]


def looked_at(page: Page) -> list[Found]:
    """What axe finds on the page as it stands; that it looked at all is seen from what it found right."""
    if not page.evaluate("Boolean(window.axe)"):
        page.evaluate(AXE_SCRIPT)
    told = page.evaluate(RUN, [TAGS, OFF_BY_DEFAULT])
    assert {"button-name", "color-contrast", "color-contrast-enhanced", "document-title"} <= set(told["kept"])
    return [(str(rule), str(near), str(impact), str(element)) for rule, near, impact, element in told["found"]]


def open_parts(page: Page) -> None:
    """Open everything that is folded."""
    folded = page.locator('[data-testid="stExpander"] details:not([open]) > summary')
    folded.evaluate_all("(all) => all.forEach((one) => one.click())")
    expect(folded).to_have_count(0, timeout=SLOW)
    settled(page)


def choose(page: Page, name: str) -> None:
    """Tap a name among a few."""
    one = page.get_by_role("radio", name=name, exact=True)
    expect(one).to_be_visible(timeout=SLOW)
    settled(page)  # a tap into a page that is drawn anew is lost
    one.click(timeout=SLOW)
    expect(one).to_be_checked(timeout=SLOW)
    settled(page)


@pytest.mark.parametrize(
    ("name", "told"),
    {
        "today": "Days left against days needed",
        "mark": "Whom do you watch now?",
        "slate": "1 sheet is still out",
        "course": "Tap a cell: it opens",
        "cell": "Decision",
        "figures": "What follows",
        "units": "are on hold and do not go in the water",
        "unit": "The unit",
        "slip": "Planted in A-05",
        "day": "Still open",
        "papers": "Choose a student",
        "people": "In the centre",
        "class": "Class",
        "student": "Amaru Tendelle",
        "observers": "Observers",
        "standards": "Standards",
        "hours": "Against the requirements",
        "gates": "Every stage is open",
        "ready": "can be signed off yet",
        "findings": "Who is looking?",
        "why": "Download as paper",
        "privacy": "Nothing is erased by itself",
        "health": "to look at",
        "check": "Show a paper that was printed here",
        "laptops": "Everything here was written on this laptop",
    }.items(),
)
def test_axe_finds_nothing_on_a_page_with_all_its_parts_open(
    places: Places, tablet: Page, name: str, told: str
) -> None:
    places.go(tablet, name)
    expect(tablet.get_by_text(told).first).to_be_visible(timeout=SLOW)
    settled(tablet)
    open_parts(tablet)
    found = looked_at(tablet)
    assert {one[:2] for one in found} == {rule for rule, page in KNOWN.items() if name in page}, found


SIDEWAYS = """() => [...document.querySelectorAll('[data-testid=stMain] *')].filter(
  (one) => one.scrollWidth > one.clientWidth + 2 && ["auto", "scroll"].includes(getComputedStyle(one).overflowX)
).map((one) => one.className)"""


@pytest.mark.parametrize("name", ["hours", "figures", "unit", "student"])
def test_no_number_or_picture_has_to_be_pushed_sideways_on_a_phone(places: Places, tablet: Page, name: str) -> None:
    """Only the step map grows with the attempts, behind a skill of Course, and is pushed by its nature."""
    phone = tablet.context.browser.new_page(viewport={"width": 390, "height": 844})  # type: ignore[union-attr]
    try:
        places.go(phone, name)
        expect(phone.locator("h1").first).to_be_visible(timeout=SLOW)
        settled(phone)
        open_parts(phone)
        assert phone.evaluate(SIDEWAYS) == []
    finally:
        phone.close()


def test_axe_finds_nothing_where_a_skill_is_chosen(places: Places, tablet: Page) -> None:
    places.go(tablet, "mark")
    choose(tablet, "Tamsin Okoro-Vale")
    tablet.get_by_role("combobox", name=re.compile("Session")).first.click()  # on the bench: the units are on hold
    tablet.get_by_role("option", name=re.compile("Dry Of The 21")).click()
    expect(tablet.get_by_role("listbox")).to_be_hidden(timeout=SLOW)
    settled(tablet)
    choose(tablet, "Amaru Tendelle")
    expect(tablet.locator("[class*=st-key-skill-] button").first).to_be_visible(timeout=SLOW)
    settled(tablet)
    assert looked_at(tablet) == []


def test_axe_finds_nothing_on_the_forms_of_gates(places: Places, tablet: Page) -> None:
    places.go(tablet, "gates")
    choose(tablet, "Tamsin Okoro-Vale")
    expect(tablet.get_by_text("Note what you saw")).to_be_visible(timeout=SLOW)
    open_parts(tablet)
    assert looked_at(tablet) == []


def test_axe_finds_nothing_on_the_forms_of_signing_off_of_exceptions_and_of_what_arrives(
    places: Places, tablet: Page
) -> None:
    places.go(tablet, "ready")
    choose(tablet, "Zoë <i>O'Brien-Ünal</i> =1+1")
    expect(tablet.get_by_text("Not to be signed off yet")).to_be_visible(timeout=SLOW)
    open_parts(tablet)
    expect(tablet.get_by_role("button", name="Propose the exception")).to_be_visible(timeout=SLOW)
    found = looked_at(tablet)
    assert {one[:2] for one in found} == {rule for rule, page in KNOWN.items() if "forms of ready" in page}, found


def test_axe_finds_nothing_where_somebody_can_be_erased(places: Places, tablet: Page) -> None:
    places.go(tablet, "privacy")
    tablet.get_by_role("combobox", name=re.compile("Whose data")).click(timeout=SLOW)
    tablet.get_by_role("option", name="Jorun Vask").click(timeout=SLOW)
    expect(tablet.get_by_text("Erase this person's data")).to_be_visible(timeout=SLOW)
    settled(tablet)
    open_parts(tablet)
    expect(tablet.get_by_role("button", name="Erase for good")).to_be_visible(timeout=SLOW)
    assert looked_at(tablet) == []


def test_axe_finds_nothing_on_a_paper_that_is_previewed(places: Places, tablet: Page) -> None:
    """A picture of a page says that its text is in the PDF (1.1.1)."""
    places.go(tablet, "papers")
    choose(tablet, "Amaru Tendelle")
    expect(tablet.get_by_alt_text("Page 1 as it prints")).to_be_visible(timeout=SLOW)
    settled(tablet)
    assert looked_at(tablet) == []


def test_axe_finds_nothing_on_the_menu_where_it_is_open(places: Places, tablet: Page) -> None:
    places.go(tablet, "mark")
    tablet.locator('[class*="st-key-menu-more"] button').click(timeout=SLOW)
    expect(tablet.get_by_role("link", name="Papers", exact=True)).to_be_visible(timeout=SLOW)
    settled(tablet)
    assert looked_at(tablet) == []


def test_axe_finds_nothing_on_the_pad_and_in_its_tray(places: Places, tablet: Page) -> None:
    places.go(tablet, "pad")
    expect(tablet.locator(".status")).to_have_text("all saved", timeout=SLOW)
    settled(tablet)
    assert looked_at(tablet) == []
    for opener in ('.acts .error[data-step="co-out"]', '[data-ask="close"]', '[data-ask="void"]', '[data-ask="also"]'):
        press_key(tablet.locator(opener).first)
        expect(tablet.locator(".tray")).to_be_visible()
        assert looked_at(tablet) == [], opener
        tablet.locator(".tray").press("Escape")
        expect(tablet.locator(".tray")).to_be_hidden()


def test_axe_finds_nothing_on_the_copying_grid_in_its_tray_and_before_it_is_saved(places: Places, tablet: Page) -> None:
    places.go(tablet, "grid")
    expect(tablet.get_by_role("grid")).to_be_visible(timeout=SLOW)
    settled(tablet)
    assert looked_at(tablet) == []
    tablet.locator("select[data-field='observer']").select_option(label="Tamsin Okoro-Vale")
    tablet.locator("td[data-row='0'][data-col='0']").click()
    expect(tablet.locator(".tray")).to_be_visible()
    assert looked_at(tablet) == []
    tablet.keyboard.press("a")
    tablet.keyboard.press("Control+Enter")
    expect(tablet.locator(".answer h3")).to_have_text(re.compile("."))
    assert looked_at(tablet) == []


def test_axe_finds_nothing_on_the_form_that_asks_for_the_code(places: Places, tablet: Page) -> None:
    places.go(tablet, "mark")  # its address, so that the form's own font is there
    tablet.set_content(gate._form("That is not the code.", "/mark"))
    assert looked_at(tablet) == []


SIGNING_IN = {
    "enter": door_forms.enter_form("The name or the password is not right.", "/mark", "anna"),
    "first": door_forms.first_form(""),
    "leave": door_forms.leave_form("anna"),
    "switch": door_forms.switch_form("That is not this person's PIN.", {"a": "Anna", "b": "Bruno"}, "/"),
    "change": door_forms.change_form("", "/", must=True),
    "pin": door_forms.pin_form(""),
}


@pytest.mark.parametrize("form", SIGNING_IN)
def test_axe_finds_nothing_on_the_forms_of_signing_in(places: Places, tablet: Page, form: str) -> None:
    tablet.goto(f"{places.server.address}/course/pulse")  # its address, so that the form's own font is there
    tablet.set_content(SIGNING_IN[form])
    assert looked_at(tablet) == []


def test_axe_sees_into_our_parts_and_tells_what_is_wrong_there(places: Places, tablet: Page) -> None:
    """Faults put in by hand: a button without a name, grey words (which the look does not allow), a deaf group."""
    places.go(tablet, "pad")
    expect(tablet.locator(".status")).to_have_text("all saved", timeout=SLOW)
    settled(tablet)
    tablet.locator(".clean").evaluate("(one) => one.replaceChildren()")
    tablet.locator(".purpose").evaluate("(one) => { one.style.color = '#6e6e6e'; }")
    tablet.locator(".tag, .what").first.evaluate("(one) => { one.style.color = '#aaaaaa'; }")
    found = [(rule, impact) for rule, _, impact, _ in looked_at(tablet)]
    assert set(found) == {
        ("button-name", "critical"), ("color-contrast", "serious"), ("color-contrast-enhanced", "serious")
    }  # fmt: skip


def press_key(button: Locator) -> None:
    """By keyboard: a finger's second tap on what just opened is not taken, and would have to be waited for."""
    button.press("Enter")
