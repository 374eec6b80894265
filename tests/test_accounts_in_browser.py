"""From nobody's account to somebody else's, as a lead does it: the first account, a first password, and its owner."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from centre_builder import build_centre, shipped_standards
from playwright.sync_api import Page, expect
from playwright.sync_api import TimeoutError as NotThereError
from running_centre import TABLET, RunningCentre, chromium
from screen_measures import settled
from test_axe import looked_at, open_parts

SLOW = 60_000
OWN, STUDENTS = "violet anchors rarely whistle", "seldom lanterns argue twice"


@pytest.fixture
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningCentre]:
    """A running centre in which nobody has an account."""
    folder = tmp_path_factory.mktemp("accounts")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with build_centre(folder / "centre", shipped_standards()):
            pass
        centre = RunningCentre(folder / "centre")
        centre.start()
        yield centre
        centre.stop()


def fill(page: Page, **fields: str) -> None:
    """Fill fields by their label and send the form that is on the screen."""
    for label, text in fields.items():
        page.get_by_label(label.replace("_", " "), exact=True).fill(text)


def make_the_first(page: Page, address: str) -> None:
    """From the People page, as it says where nobody has an account."""
    page.goto(f"{address}/people")
    page.get_by_role("link", name="Make the first account").click(timeout=SLOW)
    fill(page, Name_to_sign_in_with="tamsin", New_password=OWN, Once_more=OWN)
    page.get_by_role("button", name="Make it").click()
    expect(page.locator(".who")).to_contain_text("tamsin is signed in.", timeout=SLOW)


def give_one(page: Page, address: str) -> str:
    """Give a student an account, and return the password as it is shown once."""
    page.goto(f"{address}/people")
    expect(page.get_by_role("heading", name="Accounts")).to_be_visible(timeout=SLOW)
    settled(page)
    open_parts(page)
    assert looked_at(page) == []
    page.get_by_label("Who", exact=True).press_sequentially("Amaru")
    page.get_by_role("option", name="Amaru Tendelle").click()
    fill(page, **{"Sign-in name": "amaru"})
    page.get_by_role("button", name="Give the account").click()
    told = page.get_by_text("shown this once")
    expect(told).to_be_visible(timeout=SLOW)
    found = re.search(r"([a-z]{5}-){3}[a-z]{5}", told.inner_text())
    assert found is not None
    return found[0]


STILL = "() => !document.getAnimations().some((one) => one.effect.getComputedTiming().endTime < Infinity)"
"""What folds open stands."""


def close(page: Page, name: str) -> None:
    """Close an account through the form, on a page that was loaded anew.

    The field is brought to the middle of the screen first, as a person does: a list that opens at the lower edge shuts
    as soon as the page scrolls.
    """
    page.reload()
    expect(page.get_by_role("heading", name="Accounts")).to_be_visible(timeout=SLOW)
    settled(page)
    page.get_by_text("Change or close an account").click()
    page.wait_for_function(STILL)
    for label, choice in (("Whose account", name), ("What", "close the account")):
        chosen = page.get_by_label(label, exact=True)
        chosen.evaluate("one => one.scrollIntoView({block: 'center'})")
        for last in (False, False, True):  # a list that shuts as the page is drawn anew is opened again
            chosen.press_sequentially(choice)
            try:
                page.get_by_role("option", name=choice).click(timeout=2_000)
                break
            except NotThereError:
                if last:
                    raise
                chosen.press("Escape")
                settled(page)
    page.get_by_role("button", name="Do it").click()
    expect(page.get_by_text("The account is closed.").first).to_be_visible(timeout=SLOW)
    expect(page.get_by_text(f"{name} signs in as")).to_have_count(0)


def test_the_first_account_then_a_students_whose_first_password_is_good_for_one_thing(running: RunningCentre) -> None:
    with chromium() as browser:
        lead = browser.new_context(viewport=TABLET).new_page()  # type: ignore[arg-type]
        make_the_first(lead, running.address)
        password = give_one(lead, running.address)
        lead.reload()
        expect(lead.get_by_text("Amaru Tendelle signs in as amaru")).to_be_visible(timeout=SLOW)
        assert password not in lead.content()

        student = browser.new_context(viewport=TABLET).new_page()  # type: ignore[arg-type]
        student.goto(f"{running.address}/student")
        fill(student, Name="Amaru", Password=password)
        student.get_by_role("button", name="Sign in").click()
        expect(student.get_by_role("heading", name="Choose your password")).to_be_visible()
        fill(student, Password_now=password, New_password=password, Once_more=password)
        student.get_by_role("button", name="Change it").click()
        expect(student.get_by_role("alert")).to_contain_text("the password that has to be changed")
        fill(student, Password_now=password, New_password=STUDENTS, Once_more=STUDENTS)
        student.get_by_role("button", name="Change it").click()
        expect(student.locator(".who")).to_contain_text("amaru is signed in.", timeout=SLOW)
        student.goto(f"{running.address}/people")
        expect(student.locator(".who")).to_be_visible(timeout=SLOW)
        expect(student.get_by_role("heading", name="Accounts")).to_have_count(0)

        close(lead, "Amaru Tendelle")
        student.reload()
        expect(student.get_by_role("heading", name="Sign in")).to_be_visible(timeout=SLOW)
