"""The Units page: what it says first, what its forms do, and that a finger hits everything on it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from centre_builder import Centre, seen_at
from playwright.sync_api import Page, expect
from running_centre import TABLET, RunningCentre, chromium
from streamlit.testing.v1 import AppTest
from test_pages import page, press, words

from course.actions import courses as planning
from course.actions import faults, unit_care
from course.actions.centre import make_centre
from course.actions.pad import take
from course.answers.units import units_answer
from course.moments import now, observed_at
from course.record.facts import Slip, Unit
from course.screens import serve
from course.storage.lookup import all_of
from course.words import SlipKind

TARGETS = "button, summary, input:not([type=file]), textarea, [role=combobox], a[href]"
FIELDS = '[data-testid$="InputField"], [data-testid$="TimeDisplay"]'
"""What a person taps where an input is drawn inside a larger field."""


@pytest.fixture
def c(small_centre: Centre) -> Centre:
    """The small centre behind the pages; its lead is the only one who acts, so that nobody has to be chosen twice."""
    serve.start(small_centre.ledger, take)
    return small_centre


def unit_of(c: Centre, unit: str = "") -> Unit:
    """A unit as it stands."""
    fact = c.ledger.fact("unit", unit or c.unit_a)
    assert isinstance(fact, Unit)
    return fact


def plant(c: Centre) -> str:
    """Plant a fault in A-05 on Wednesday."""
    return faults.set_fault(
        c.ledger, c.lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault="pf-tag", unit=c.unit_a,
        observed=seen_at(21, 13, 40),
    )  # fmt: skip


def units_page(c: Centre, **query: str) -> AppTest:
    """The page, with the lead acting."""
    app = page("units.py")
    for key, value in query.items():
        app.query_params[key] = value
    if query:
        app.run()
    choose(app, "carer", c.lead)
    assert not app.exception
    return app


def choose(app: AppTest, key: str, value: object) -> AppTest:
    """Tap one of the pills with a key."""
    next(group for group in app.button_group if group.key == key).set_value(value)
    return app.run()


def box(app: AppTest, kind: str, label: str) -> object:
    """The first widget of a kind with a label."""
    return next(one for one in getattr(app, kind) if one.label.startswith(label))


def test_without_a_course_the_page_teaches_the_next_act(tmp_path: Path) -> None:
    with make_centre(tmp_path / "centre", name="Harbour House", lead_name="Ines Duarte") as ledger:
        serve.start(ledger, take)
        app = page("units.py")
    assert "Make one first" in words(app)
    assert [button.label for button in app.button] == ["Make a course"]


def test_the_first_sentence_says_which_units_do_not_go_in_the_water(c: Centre) -> None:
    assert "None of 2 units is on hold." in words(units_page(c)).replace("\\", "")
    unit_care.hold(c.ledger, c.lead, c.unit_b, seen_at(22), "A tear.")
    assert "B-05 is on hold and does not go in the water." in words(units_page(c)).replace("\\", "")


def test_the_maker_and_a_licensed_service_decide_stands_on_the_list_the_unit_and_the_slip(c: Centre) -> None:
    slip = plant(c)
    for query in ({}, {"unit": c.unit_a}, {"slip": slip}):
        captions = " ".join(str(caption.value) for caption in units_page(c, **query).caption)
        assert "licensed service" in captions
        assert "judges no unit" in captions


def test_a_unit_is_held_and_lifted_with_reasons(c: Centre) -> None:
    app = units_page(c, unit=c.unit_a)
    box(app, "text_area", "Why it stays").set_value("A tear in the *left* lung")
    app = press(app, "Put on hold")
    assert "A-05 is on hold." in words(app)
    (held,) = unit_of(c).held
    assert "A tear in the \\*left\\* lung" in words(app)
    app = press(app, "Lift the hold")
    assert "A reason is needed" in words(app)
    assert unit_of(c).held == (held,)
    box(app, "text_area", "Reason for lifting").set_value("Mended.")
    app = press(app, "Lift the hold")
    assert unit_of(c).held == ()
    assert "is lifted" in words(app)
    assert any("Mended." in text.value for text in app.text)


def test_water_in_the_loop_puts_a_unit_on_hold_by_one_button(c: Centre) -> None:
    app = choose(units_page(c, unit=c.unit_a), "carer", c.lead)
    app = press(app, "Water was in the loop: put on hold")
    assert "A-05 is recorded as flooded and is on hold." in words(app)
    assert "Flooded: water was in the loop." in words(app).replace("\\", "")
    assert len(c.view().units[c.unit_a].held) == 1


def test_nothing_is_done_while_nobody_is_said_to_act(c: Centre) -> None:
    app = page("units.py")
    app.query_params["unit"] = c.unit_a
    app.run()
    box(app, "text_area", "Why it stays").set_value("A tear.")
    assert "Something is not chosen yet; nothing was changed." in words(press(app, "Put on hold"))
    assert unit_of(c).holds == ()


def test_a_filling_is_entered_with_its_minutes_and_a_service_with_its_day(c: Centre) -> None:
    app = choose(units_page(c, unit=c.unit_a), "care-what", "scrubber")
    assert "needs its minutes" in words(press(app, "Enter it"))
    box(app, "text_input", "Good for how many minutes").set_value("180")
    app = press(app, "Enter it")
    assert "Scrubber filling of A-05 is entered." in words(app)
    app = choose(app, "care-what", "service")
    box(app, "date_input", "Good until").set_value(now().date() + timedelta(days=300))
    app = press(app, "Enter it")
    assert [care.what.value for care in unit_of(c).care] == ["scrubber", "service"]


def test_a_fault_is_planted_answered_cleared_and_the_list_passed_again_by_taps_alone(c: Centre) -> None:
    app = units_page(c)
    app = press(app, "Plant it: the unit goes on hold")
    assert "Something is not chosen yet" in words(app)
    box(app, "selectbox", "Fault").set_value("pf-din-ring")
    box(app, "button_group", "Who is to find it").set_value([c.amaru])
    box(app, "text_input", "Bag").set_value("Bag 7")
    app = press(app, "Plant it: the unit goes on hold")
    assert "The fault is planted, and A-05 is on hold." in words(app)
    (slip,) = all_of(c.ledger, Slip)
    app.query_params["slip"] = slip.id
    app.run()
    assert not app.exception
    next(group for group in app.button_group if group.key == f"who-{slip.id}").set_value(c.amaru)
    box(app, "button_group", "What came of it").set_value("hit")
    app = press(app, "Note the answer")
    assert any(text.value == "Found by Amaru Tendelle." for text in app.text)
    app = press(app, "The fault is cleared")
    assert "Now the whole list again" in words(app)
    assert unit_of(c).held, "still on hold"
    app = press(app, "Open the unit")
    assert "To lift it: the unit's whole list passed again" in words(app).replace("\\", "")
    box(app, "button_group", "Who saw the whole list").set_value(c.second)
    app = press(app, "List passed again: lift the hold")
    assert unit_of(c).held == ()
    assert unit_of(c).holds[0].list_passed_by == c.second


def test_a_unit_with_a_fault_in_it_offers_no_way_to_pass_its_list(c: Centre) -> None:
    plant(c)
    app = units_page(c, unit=c.unit_a)
    labels = {button.label for button in app.button}
    assert "Open the fault slip" in labels
    assert not labels & {"List passed again: lift the hold", "Lift the hold"}


def test_a_fault_is_shown_in_the_water_and_opens_to_be_held_up(c: Centre) -> None:
    app = units_page(c)
    box(app, "selectbox", "Session in the water").set_value(c.sessions["pool-22"])
    app.run()
    box(app, "selectbox", "Which skill answers").set_value("fl-co2")
    app.run()
    assert "Say to whom" in words(press(app, "Show it"))
    box(app, "button_group", "Shown to").set_value([c.zoe])
    app = press(app, "Show it")
    (slip,) = all_of(c.ledger, Slip)
    assert app.query_params["slip"] == slip.id
    assert "Hold it up." in words(app)
    assert "The fault is cleared" not in {button.label for button in app.button}
    assert unit_of(c).holds == ()


def test_a_stale_address_of_a_slip_is_told_and_leads_back(c: Centre) -> None:
    stale = page("units.py")
    stale.query_params["slip"] = "01a21335-5362-72bd-9891-590b262ae6ed"
    stale.run()
    assert not stale.exception
    assert "There is no such fault slip" in words(stale)
    assert "Units" in [title.value for title in stale.title]


def test_a_unit_change_is_shown_before_it_is_assigned(c: Centre) -> None:
    app = choose(units_page(c), "change-student", c.amaru)
    box(app, "selectbox", "Would dive").set_value(c.unit_b)
    app.run()
    assert "begin anew" in words(app)
    assert "shown grey" in words(app)
    before = c.view().course.assignments
    app = press(app, "Assign B-05 to Amaru Tendelle from that day on")
    assert len(c.view().course.assignments) == len(before) + 1
    assert "dives B-05" in words(app)


def test_people_sends_a_unit_change_to_units(c: Centre) -> None:
    app = page("people.py")
    box(app, "selectbox", "Person").set_value(c.amaru)
    next(b for b in reversed(app.selectbox) if b.label == "Unit").set_value(c.unit_b)
    app = press(app, "Put on the course")
    assert "Change it on Units, which shows first what carries over" in words(app)
    assert {a.unit for a in c.view().course.assignments} == {c.unit_a}


def test_marking_on_a_held_unit_in_the_water_is_told_loudly_and_refused(c: Centre) -> None:
    held_at = observed_at(now() - timedelta(minutes=1), c.view().course.zone)
    unit_care.hold(c.ledger, c.lead, c.unit_a, held_at, "A tear.")
    app = page()
    choose(app, "observer", c.lead)
    box(app, "selectbox", "Session").set_value(c.sessions["pool-22"])
    app.run()
    choose(app, f"student-{c.sessions['pool-22']}", c.amaru)
    assert "is on hold since" in words(app)
    assert not [button for button in app.button if str(button.key).startswith("skill-")]
    assert c.view().attempts == ()


def test_a_unit_booked_while_on_hold_is_told_on_the_list_and_on_its_page(c: Centre) -> None:
    held = unit_care.hold(c.ledger, c.lead, c.unit_a, seen_at(22, 9), "A tear.")
    unit_care.release(c.ledger, c.lead, c.unit_a, held, seen_at(22, 15), why="Mended.")
    assert len(units_answer(c.ledger, c.view()).findings) == 2
    for query in ({}, {"unit": c.unit_a}):
        assert "A-05 was on hold Thu 22 Oct 13:30-15:00" in words(units_page(c, **query))


# --- in a browser ---------------------------------------------------------------------------------------------------


@pytest.fixture
def running(small_centre: Centre, tmp_path: Path) -> Iterator[tuple[RunningCentre, Centre]]:
    """The small centre as a server of its own, with a planted fault."""
    c = small_centre
    plant(c)
    planning.assign_unit(c.ledger, c.lead, c.course, c.zoe, c.unit_b, "2026-10-23")
    folder = c.ledger.folder
    c.ledger.close()
    shutil.move(folder, tmp_path / "centre")
    server = RunningCentre(tmp_path / "centre")
    server.start()
    yield server, c
    server.stop()
    shutil.move(tmp_path / "centre", folder)


def small_targets(page: Page) -> list[str]:
    """What can be tapped in the page's body and is lower than 48 px."""
    script = """([targets, FIELDS]) =>
      [...document.querySelector('[data-testid="stMainBlockContainer"]').querySelectorAll(targets)]
      .filter((e) => e.checkVisibility() && !e.closest('h1, h2, h3'))
      .map((e) => [e, e.closest(FIELDS) || e.closest('[role="group"]')])
      .map(([e, field]) => [e, (field || e).getBoundingClientRect()])
      .filter(([e, box]) => box.height < 48)
      .map(([e, box]) => `${e.tagName} ${e.getAttribute('aria-label') || e.textContent} ${box.height}`)"""
    return list(page.evaluate(script, [TARGETS, FIELDS]))


def test_everything_on_the_page_is_large_enough_for_a_finger_and_one_tap_opens_a_unit(
    running: tuple[RunningCentre, Centre],
) -> None:
    server, _ = running
    with chromium() as browser:
        page = browser.new_page(viewport=TABLET)
        page.goto(f"{server.address}/units")
        first = page.locator(".units button").first
        expect(first).to_contain_text("on hold", timeout=30_000)
        for title in ("Plant a fault", "Show a fault", "Fault slips", "What a unit change"):
            page.locator("summary", has_text=title).click()
            page.wait_for_timeout(500)
        assert small_targets(page) == []
        assert first.locator("svg path").count() == 3, "crossed: a square and two strokes"
        first.click()
        expect(page.get_by_role("heading", name="A-05 · Unit type A")).to_be_visible(timeout=20_000)
        details = page.locator("details", has=page.locator("summary", has_text="Enter a service"))
        page.wait_for_timeout(2_000)  # a rerun of the page that just opened shuts what was opened before it
        details.locator("summary").click()
        expect(details).to_have_attribute("open", "")
        page.get_by_role("radio", name="scrubber filling").click()
        expect(page.get_by_role("button", name="Enter it")).to_be_visible(timeout=20_000)
        assert small_targets(page) == []
        page.get_by_role("button", name="Open the fault slip").click()
        title = page.locator(".slip .big")
        expect(title).to_have_text("Scrubber tag over its minutes", timeout=20_000)
        assert title.evaluate("e => parseFloat(getComputedStyle(e).fontSize)") >= 60
        assert small_targets(page) == []
