"""Sign-off and exceptions on Ready, without a browser."""

from __future__ import annotations

import pytest
from centre_builder import POOL_SKILL, Centre, critical_mark
from sign_off_examples import OTHER_SKILL, course_that_asks, hold_all, sheet, sign_all, sign_off
from streamlit.testing.v1 import AppTest
from test_gate_pages import choose, press, tell
from test_pages import page, words

from course.actions import accounts, signing_pins
from course.actions.pad import take
from course.answers.missing import student_missing
from course.asker import Asker, ask_by
from course.errors import RefusedError
from course.screens import confirming, serve
from course.screens.sessions import sessions_of
from course.storage import passwords
from course.words import Role

PASSWORD, PIN = "seven grey seals dive", "471108"
FOR_SIGNING, AGAIN = "PIN for signing, of whoever signs", "The same once more, where it is chosen now"


@pytest.fixture
def c(small_centre: Centre) -> Centre:
    """A course that asks for two skills, on the screens."""
    made = course_that_asks(small_centre)
    serve.start(made.ledger, take)
    return made


def chosen(app: AppTest, pin: str = PIN) -> AppTest:
    """In every form somebody's PIN for signing, and once more as where it is chosen."""
    for one in app.text_input:
        if one.label in (FOR_SIGNING, AGAIN):
            one.set_value(pin)
    return app


def ready(c: Centre, student: str = "") -> AppTest:
    app = page("ready.py")
    return choose(app, "Student", student or c.amaru)


def test_ready_shows_every_line_and_what_stands_in_the_way(c: Centre) -> None:
    c.enter("pool-22")
    text = words(ready(c))
    assert "1 of 3 lines met." in text
    assert "Not to be signed off yet: Close before it leaves the mouth: not yet: 4 more" in text
    assert "Assessed by Tamsin Okoro" in text


def test_a_student_is_signed_off_countersigned_and_it_is_taken_back_on_ready(c: Centre) -> None:
    hold_all(c)
    sign_all(c)
    app = ready(c)
    app = choose(app, "Who decides?", c.lead)
    captions = " ".join(caption.value for caption in app.caption)
    assert "Assessor and decider are one person, Tamsin Okoro" in captions
    assert "whoever signs is known by a PIN for signing" in captions
    app = press(app, "Sign Amaru Tendelle off")
    assert "chooses a PIN for signing, 6 to 8 digits" in words(app)
    tell(app, FOR_SIGNING, PIN)
    app = press(app, "Sign Amaru Tendelle off")
    assert "chooses a PIN for signing, 6 to 8 digits" in words(app), "once is not enough where it is chosen"
    assert sheet(c).issues == ()
    app = press(chosen(app), "Sign Amaru Tendelle off")
    assert "The sign-off is in the ledger." in words(app)
    tell(app, "Who takes the initials?", c.second)
    tell(app, "Initials of the student", "A.T.")
    app = press(chosen(app, "258036"), "Take the student's initials")
    assert "taken by Bruno Ashkenar" in words(app)
    tell(app, "Who takes it back?", c.second)
    tell(app, "Reason", "Wrong unit.")
    app = press(chosen(app), "Take it back")
    assert "That is not this person's PIN for signing. Nothing was signed." in words(app), "it is the lead's"
    app = press(chosen(app, "258036"), "Take it back")
    assert "The sign-off is taken back." in words(app)
    assert [one.stands for one in sheet(c).issues] == [False]
    assert "Why another issue" in [field.label for field in app.text_input]


def test_an_issue_on_an_older_record_that_cannot_be_signed_anew_is_taken_back_on_ready(c: Centre) -> None:
    hold_all(c)
    sign_all(c)
    sign_off(c)
    c.enter("pool-23", critical_mark())
    app = ready(c)
    assert "signed on an older record" in words(app)
    assert "Not to be signed off yet" in words(app)
    tell(app, "Who takes it back?", c.second)
    tell(app, "Reason", "The mouthpiece came out open.")
    app = press(chosen(app), "Take it back")
    assert "The sign-off is taken back." in words(app)
    assert [one.stands for one in sheet(c).issues] == [False]


def test_a_refused_sign_off_says_why_and_keeps_what_was_typed(c: Centre) -> None:
    hold_all(c)
    sign_all(c)
    sign_off(c)
    app = ready(c)
    tell(app, "Who takes it back?", c.second)
    app = press(chosen(app), "Take it back")
    assert "A reason is needed, in a few words. Nothing was changed." in words(app)
    assert [one.stands for one in sheet(c).issues] == [True]


def test_an_exception_takes_two_people_on_ready(c: Centre) -> None:
    hold_all(c, OTHER_SKILL)
    c.enter("pool-22")
    app = ready(c)
    tell(app, "Who decides?", c.lead)
    tell(app, "Reason", "Seen on the course before.")
    app = press(chosen(app), "Propose the exception")
    assert "a second instructor has to look at it" in words(app)
    assert student_missing(c.view(), c.amaru, sheet(c).day).excused == 0
    second = next(one for one in app.button_group if one.key and one.key.startswith("second-"))
    assert second.options == ["Bruno Ashkenar"], "never the proposer"
    tell(app, "Reason", "I saw it too.")
    app = press(chosen(app), "Agree as the second instructor")
    assert student_missing(c.view(), c.amaru, sheet(c).day).excused == 1


def test_the_page_says_why_no_exception_goes_over_a_critical_error(c: Centre) -> None:
    c.enter("pool-22", critical_mark())
    app = choose(ready(c), "What is let be?", f"skill:{POOL_SKILL}")
    tell(app, "Who decides?", c.lead)
    tell(app, "Reason", "It was my fault.")
    app = press(chosen(app), "Propose the exception")
    assert "No exception goes over it" in words(app)
    assert sheet(c).exceptions == ()


def test_a_decision_of_the_day_asks_for_the_pin_of_whoever_has_one_and_keeps_nobody_else(c: Centre) -> None:
    hold_all(c, POOL_SKILL)
    app = choose(page("course.py"), "Student", c.amaru)
    tell(app, "Who decides?", c.lead)
    press(app, "Sign 1 standing as met")
    assert [one.kind for one in c.ledger.events() if one.kind.startswith("signed/")] == ["signed/1"]
    signing_pins.choose_signing_pin(c.ledger, c.lead, PIN, PIN)
    hold_all(c, OTHER_SKILL)
    with pytest.raises(RefusedError, match="confirms it with their password or PIN at the act"):
        sign_all(c)
    app = choose(page("course.py"), "Student", c.amaru)
    tell(app, "Who decides?", c.lead)
    app = press(app, "Sign 1 standing as met")
    assert "That is not this person's PIN for signing." in words(app)
    tell(app, "Who decides?", c.lead)
    tell(app, FOR_SIGNING, PIN)
    press(app, "Sign 1 standing as met")
    assert [one.kind for one in c.ledger.events() if one.kind.startswith("signed/")] == ["signed/1", "signed/2"]


@pytest.fixture
def with_account(c: Centre, monkeypatch: pytest.MonkeyPatch) -> Centre:
    """The lead has an account with a PIN; hashes are quick here."""
    quick = passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)
    monkeypatch.setattr(passwords, "_hasher", quick)
    accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password=f"{PASSWORD} first")
    accounts.set_password(c.ledger, c.lead, c.lead, PASSWORD, own=True)
    accounts.set_pin(c.ledger, c.lead, c.lead, PIN)
    return c


@pytest.mark.parametrize(("given", "by"), [(PASSWORD, "password"), (PIN, "pin")])
def test_whoever_signs_off_confirms_at_the_act_where_people_have_accounts(
    with_account: Centre, given: str, by: str
) -> None:
    c = with_account
    hold_all(c)
    sign_all(c, confirmed_with="pin")
    app = choose(ready(c), "Who decides?", c.lead)
    for wrong in ("", "0000", "somebody else's words"):
        tell(app, "Password or PIN of whoever signs", wrong)
        app = press(app, "Sign Amaru Tendelle off")
        assert sheet(c).issues == ()
    assert "That is not the password or PIN." in words(app) or "Too many wrong tries." in words(app)
    entrance = sessions_of(lambda: c.ledger).entrance
    entrance.right(f"pin {c.lead}", "")
    entrance.right("tamsin", "")
    tell(app, "Password or PIN of whoever signs", given)
    app = press(app, "Sign Amaru Tendelle off")
    assert f"confirmed by {'PIN' if by == 'pin' else by}" in sheet(c).issues[0].sentence
    bodies = "".join(event.body for event in c.ledger.events())
    assert PASSWORD not in bodies


def test_whoever_signs_a_standing_confirms_it_too(with_account: Centre) -> None:
    c = with_account
    hold_all(c)
    app = choose(page("course.py"), "Student", c.amaru)
    tell(app, "Who decides?", c.lead)
    app = press(app, "Sign 2 standings as met")
    assert not any(event.kind.startswith("signed/") for event in c.ledger.events())
    tell(app, "Who decides?", c.lead)
    tell(app, "Password or PIN of whoever signs", PIN)
    press(app, "Sign 2 standings as met")
    assert [event.kind for event in c.ledger.events() if event.kind.startswith("signed/")] == ["signed/2"] * 2


def test_whoever_may_not_sign_sees_the_lines_and_neither_reasons_nor_forms(c: Centre) -> None:
    hold_all(c)
    sign_all(c)
    sign_off(c)
    ask_by(lambda: Asker(c.assistant, frozenset({Role.ASSISTANT}), name="Lien Ito"))
    try:
        app = ready(c)
        text = words(app)
        assert "3 of 3 lines met." in text
        assert "Issue 1: signed off by" not in text
        assert not [button.label for button in app.button if button.label.startswith(("Take", "Propose", "Sign"))]
    finally:
        ask_by(None)


def test_whoever_is_signed_in_signs_in_their_own_name(c: Centre, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(confirming, "confirmed_with", lambda *_, **__: "pin")
    hold_all(c)
    sign_all(c)
    ask_by(lambda: Asker(c.second, frozenset({Role.INSTRUCTOR}), name="Bruno Ashkenar"))
    try:
        app = ready(c)
        assert "Who decides?" not in [group.label for group in app.button_group]
        asked = [one.value for one in app.caption if one.value.startswith("Who decides?")]
        assert asked == ["Who decides? Tamsin Okoro-Vale; Bruno Ashkenar is signed in."]
        app = press(app, "Sign Amaru Tendelle off")
        assert "nothing was changed" in words(app)
        assert not sheet(c).issues
    finally:
        ask_by(None)


def test_whoever_is_led_to_course_to_sign_for_one_student_finds_that_part_first(c: Centre) -> None:
    hold_all(c)
    press(page("ready.py"), "Sign on Course")  # it leads to the page with the student in the address
    app = page("course.py")
    app.query_params["sign"] = c.amaru
    app.run()
    assert not app.exception
    told = [str(getattr(part, "value", "")) for part in app.main]
    assert told.index("Sign for Amaru Tendelle") < next(at for at, one in enumerate(told) if "Tap a cell" in one)
    assert "Sign for one student" not in told
    assert "Sign 2 standings as met" in [button.label for button in app.button]
