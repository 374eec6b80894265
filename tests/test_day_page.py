"""The page for a day's end: what an act on it does, and once in Chromium how large its targets are."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from centre_builder import Centre
from day_builder import Day
from opened_page import app_at
from running_centre import TABLET, RunningCentre, chromium
from streamlit.testing.v1 import AppTest

from course.actions import centre as founding
from course.actions.pad import take
from course.answers.day_end import OpenKind
from course.answers.day_paper import site_texts
from course.answers.day_state import SessionState
from course.answers.roll_call import missing_now
from course.places import SCREENS
from course.screens import serve, theme
from course.words import SpanRole

APP = str(SCREENS / "app.py")


@pytest.fixture
def pool(small_centre: Centre) -> Day:
    """The pool day, which the pages work on."""
    serve.start(small_centre.ledger, take)
    return Day(small_centre)


def page(pool: Day) -> AppTest:
    """The page on the pool day."""
    app = app_at("day").run()
    assert not app.exception
    box = next(box for box in app.selectbox if box.label == "Day")
    return box.set_value("2026-10-22").run()


def words(app: AppTest) -> str:
    """Everything that is told."""
    parts = [*app.title, *app.subheader, *app.markdown, *app.text, *app.caption, *app.warning, *app.error, *app.success]
    return "\n".join(str(part.value) for part in parts)


def press(app: AppTest, label: str) -> AppTest:
    """Tap the first button with a label that begins so."""
    next(button for button in app.button if button.label.startswith(label)).click()
    app.run()
    assert not app.exception
    return app


def tapped(app: AppTest, label: str, chosen: object) -> AppTest:
    """Choose in a group of buttons: a person's id, or several."""
    next(group for group in app.pills if group.label == label).set_value(chosen)
    app.run()
    assert not app.exception
    return app


def labels(app: AppTest) -> list[str]:
    """What can be tapped."""
    return [button.label for button in app.button]


def test_a_centre_without_a_session_is_taught_the_next_act(tmp_path: Path) -> None:
    with founding.make_centre(tmp_path / "c", name="Harbour House", lead_name="Ines Duarte", zone="UTC") as ledger:
        serve.start(ledger, take)
        app = app_at("day").run()
        assert "Plan a session" in {button.label for button in app.button}


def test_freezing_takes_one_tap_and_ones_name_and_nothing_is_typed(pool: Day) -> None:
    pool.comes(pool.centre.amaru)
    opened = pool.centre.open()
    app = press(page(pool), "✕ Something went wrong")
    assert pool.session.incidents == ()
    assert "Kept: 1 person in, their units. 1 attempt under way will be void" in words(app)
    app = press(app, "Freeze: I am Lien Ito")
    (held,) = pool.session.frozen_by
    assert (held.frozen_by, held.attempts, held.people) == (
        pool.centre.assistant, (opened.attempt,), (pool.centre.amaru,)
    )  # fmt: skip
    assert "is frozen since" in words(app)
    assert not any(label.startswith("✕ Something went wrong") for label in labels(app))


def test_freezing_can_be_left_before_it_is_done(pool: Day) -> None:
    app = press(press(page(pool), "✕ Something went wrong"), "Do not freeze")
    assert pool.session.incidents == ()
    assert "✕ Something went wrong: freeze this session" in labels(app)


def test_a_note_and_letting_it_go_on_are_kept_with_who_and_why(pool: Day) -> None:
    pool.freeze()
    app = tapped(page(pool), "Who are you?", pool.centre.lead)
    next(area for area in app.text_area if area.label.startswith("What did you see")).set_value("Bubbles *here*.")
    app = press(app, "Keep this note")
    assert "The note is kept." in words(app)
    assert any("Bubbles *here*." in text.value for text in app.text)
    next(box for box in app.text_input if box.label == "Why it can go on").set_value("All are well.")
    assert "goes on" in words(press(app, "Let it go on"))
    assert pool.state.state is SessionState.OPEN


def test_nothing_is_done_for_somebody_who_did_not_say_who_they_are(pool: Day) -> None:
    pool.comes(pool.centre.amaru)
    app = press(page(pool), "Left at 16:20")
    assert "Say who you are first" in words(app)
    assert pool.session.spans[0].end is None


def test_the_roll_names_who_is_missing_loudly(pool: Day) -> None:
    centre = pool.centre
    pool.roll("going_in", [centre.amaru, centre.zoe], 0)
    app = tapped(page(pool), "Who are you?", centre.lead)
    app = tapped(app, "Tap who answers", [centre.zoe])
    app = press(app, "Save the roll: 1 here, 1 MISSING")
    assert [box.value for box in app.error] == ["MISSING: Amaru Tendelle. 1 person answered."] * 2
    assert pool.session.rolls[-1].missing == (centre.amaru,)
    assert "## MISSING\\: Amaru Tendelle\\." in words(app)


def test_two_who_are_missing_are_two_lines_and_everybody_answers_each_roll_anew(pool: Day) -> None:
    centre = pool.centre
    pool.roll("going_in", [centre.amaru, centre.zoe, centre.second], 0)
    pool.comes(centre.second, SpanRole.SURFACE)
    pool.roll("coming_out", [centre.second])
    app = page(pool)
    assert not app.exception
    assert len([label for label in labels(app) if label == "Call the roll"]) == 2
    (answers,) = (group for group in app.button_group if group.label == "Tap who answers")
    assert answers.value == []
    app = press(tapped(app, "Who are you?", centre.lead), "Call the roll")
    app = tapped(app, "Tap who answers", [centre.second, centre.amaru])
    press(app, "Save the roll: 2 here, 1 MISSING")
    assert pool.session.rolls[-1].when == "coming_out"
    assert missing_now(pool.session) == (centre.zoe,)


def test_a_way_out_to_the_roll_calls_it_coming_out(pool: Day) -> None:
    pool.comes(pool.centre.amaru)
    app = page(pool)
    (when,) = (group for group in app.button_group if group.label == "Roll call")
    assert when.value == "going_in"
    app = press(app, "Call the roll")
    (when,) = (group for group in app.button_group if group.label == "Roll call")
    assert when.value == "coming_out"


def test_a_refusal_floats_and_stands_again_in_the_part_that_was_tapped(pool: Day) -> None:
    pool.comes(pool.centre.amaru)
    app = press(page(pool), "Left at 16:20")
    (floating,) = app.toast
    assert [box.value for box in app.warning] == [floating.value] * 2
    still_open = [part.value for part in app.main if part.type in ("subheader", "warning")]
    assert still_open.index("Still open") < len(still_open) - 1 == still_open.index(floating.value, 1)
    assert not app.run().warning


def test_everybody_who_is_in_leaves_by_one_tap_but_never_who_is_missing(pool: Day) -> None:
    centre = pool.centre
    for person in (centre.amaru, centre.zoe, centre.second):
        pool.comes(person)
    pool.roll("other", [centre.amaru, centre.second, centre.zoe], 0)
    app = tapped(page(pool), "Who are you?", centre.lead)
    assert "Everyone left now (3)" in labels(app)
    pool.roll("coming_out", [centre.amaru, centre.second])
    app = press(app.run(), "Everyone left now (2), but Zoë")
    assert [span.person for span in pool.session.spans if span.end is None] == [centre.zoe]
    assert "STILL MISSING: Zoë" in app.error[0].value
    assert not any(label.startswith("Everyone left") for label in labels(app))


def test_a_day_that_is_closed_is_closed_again_by_a_plain_button(pool: Day) -> None:
    app = press(tapped(page(pool), "Who are you?", pool.centre.lead), "Close the day")
    assert "Close the day" not in labels(app)
    assert any(label.startswith("Close the day again") for label in labels(app))


def test_ways_out_are_buttons_that_do_what_they_say(pool: Day) -> None:
    centre = pool.centre
    pool.comes(centre.amaru, SpanRole.SURFACE)
    pool.sheet()
    pool.roll("other", [centre.amaru])
    app = tapped(page(pool), "Who are you?", centre.lead)
    app = press(app, "Left at 16:20")
    assert pool.session.spans[0].end == pool.session.end
    app = press(app, "Lost")
    assert pool.session.slates[0].set_aside == "lost"
    app = press(app, "Close this session")
    assert pool.state.state is SessionState.CLOSED
    next(box for box in app.text_input if box.label == "Why it is opened again").set_value("A sheet turned up.")
    press(app, "Open this session again")
    assert pool.state.state is SessionState.OPEN


def test_an_open_attempt_leads_to_its_pad(pool: Day) -> None:
    opened = pool.centre.open()
    app = press(page(pool), "Open it on Mark and end it")
    assert opened.attempt in app.query_params["attempt"]
    assert opened.sheet in app.query_params["sheet"]


def test_closing_the_day_says_how_much_stays_open_and_shows_the_checkpoint(pool: Day) -> None:
    pool.sheet()
    app = tapped(page(pool), "Who are you?", pool.centre.lead)
    app = press(app, "Close the day with 1 thing open")
    told = words(app)
    assert "The day is closed, with a checkpoint." in told
    assert "Closed by Tamsin Okoro-Vale, 1 thing left open; it names the head of 1 chain." in told
    assert [item.kind for item in pool.end().items] == [OpenKind.SHEET]


def test_a_list_that_changed_since_it_was_shown_closes_nothing(pool: Day) -> None:
    """Something came in from another tablet between drawing and tapping: that button is not there any more."""
    app = tapped(page(pool), "Who are you?", pool.centre.lead)
    button = next(button for button in app.button if button.label == "Close the day")
    pool.sheet()
    button.click()
    app.run()
    assert pool.end().checkpoints == ()
    assert "Close the day with 1 thing open" in labels(app)


def test_the_site_plan_is_put_on_the_day_sheet_from_the_page(pool: Day) -> None:
    app = tapped(page(pool), "Who are you?", pool.centre.assistant)
    next(area for area in app.text_area if area.label.startswith("Emergency contact")).set_value("Call 112.")
    assert "It stands on the day sheet." in words(press(app, "Put it on the day sheet"))
    assert site_texts(pool.centre.ledger, pool.session) == (("Call 112.",), ())


def test_a_name_with_markup_is_shown_as_it_stands(pool: Day) -> None:
    pool.comes(pool.centre.zoe)
    assert "Zoë \\<i\\>O'Brien" in words(page(pool))


MEASURE = """() => [...document.querySelectorAll(
    '[data-testid=stMain] button:not([data-testid=stSelectbox] *), [data-testid=stSelectbox] > div > div')]
  .map(e => [e.dataset.variant === 'segmented_control' ? 'joined' : e.innerText, e.getBoundingClientRect()])
  .filter(([, r]) => r.width && r.height).map(([t, r]) => [t, r.x, r.y, r.width, r.height])"""


def apart(one: list[float], other: list[float]) -> float:
    """The gap between two boxes (x, y, width, height), in CSS pixels; below zero where they overlap."""
    across = max(one[0], other[0]) - min(one[0] + one[2], other[0] + other[2])
    down = max(one[1], other[1]) - min(one[1] + one[3], other[1] + other[3])
    return max(across, down)


def test_targets_are_large_and_apart_and_freezing_works_by_touch(pool: Day, state_folder: Path, tmp_path: Path) -> None:
    """On a tablet held upright: 48 px or more, 8 px apart (our own rule; WCAG 2.2, 2.5.8 asks 24)."""
    pool.comes(pool.centre.amaru)
    pool.roll("going_in", [pool.centre.amaru, pool.centre.lead, pool.centre.zoe], 0)
    folder = pool.centre.ledger.folder
    pool.centre.ledger.close()
    running = RunningCentre(folder)
    running.start()
    try:
        with chromium() as browser:
            tab = browser.new_page(viewport=TABLET, has_touch=True)
            tab.goto(f"{running.address}/day")
            tab.get_by_text("Still open").wait_for(timeout=60_000)
            tab.get_by_role("combobox").first.tap()
            tab.get_by_role("option", name="Thu 22 Oct 2026").first.tap()
            tab.get_by_text("MISSING").or_(tab.get_by_text("Left at 16:20")).first.wait_for()
            boxes = [(text, box) for text, *box in tab.evaluate(MEASURE)]
            assert [(text, box) for text, box in boxes if box[3] < theme.TOUCH] == []
            assert [box[3] for text, box in boxes if text == "Amaru Tendelle"] == [64]
            single = [box for text, box in boxes if text not in ("joined", "")]
            assert len(single) > 10
            assert min(apart(*pair) for pair in combinations(single, 2)) >= theme.GAP
            bar = tab.locator(".st-key-freeze-FREEZE button")
            assert bar.evaluate("e => getComputedStyle(e).borderLeftWidth") == "8px"
            bar.tap()
            tab.get_by_text("Freeze: I am Lien Ito").tap()
            tab.get_by_text("is frozen since").first.wait_for()
    finally:
        running.stop()
    from course.storage.ledger import open_ledger

    with open_ledger(folder) as ledger:
        session = ledger.fact("session", pool.id)
        assert [i.frozen_by for i in session.incidents] == [pool.centre.assistant]  # type: ignore[union-attr]


@pytest.mark.parametrize(("paper", "told"), [("Day sheet", "Page 1 of 1"), ("Incident sheet", "Page 1 of 1")])
def test_papers_of_a_day_are_previewed_on_papers(pool: Day, paper: str, told: str) -> None:
    pool.freeze()
    app = app_at("papers").run()
    next(group for group in app.segmented_control if group.label == "Which paper").set_value(paper)
    app.run()
    next(box for box in app.selectbox if box.label == "Day").set_value("2026-10-22").run()
    assert not app.exception
    assert [image.proto.imgs[0].caption for image in app.image] == [told]


def test_a_day_on_which_nothing_was_frozen_has_no_incident_sheet(pool: Day) -> None:
    app = app_at("papers").run()
    next(group for group in app.segmented_control if group.label == "Which paper").set_value("Incident sheet")
    app.run()
    assert "Nothing was frozen on" in words(app)
