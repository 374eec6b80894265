"""The signer confirms at the act that it is them: by password or PIN, or without accounts by a PIN for signing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import streamlit as st

from course.actions.signing_pins import confirm
from course.answers.accounts import any_account
from course.answers.signing_pins import signing_pin_of
from course.errors import RefusedError
from course.record.signing_events import Confirmed
from course.screens.frame import Screen, done, telling
from course.screens.plain_http import neighbourhood
from course.screens.sessions import sessions_of

SINGLE = (
    "Nobody has an account here, so whoever signs is known by a PIN for signing: at the first signature it is chosen "
    "and typed twice. It shows that the same person signs again; that the first time it was them, only people can say."
)
SINGLE_DECISION = (
    "Nobody has an account here: whoever has a PIN for signing gives it. Without one, screen and paper will say that "
    "it was not confirmed by a password or PIN."
)
_NO_PIN_YET = (
    "This person has no PIN for signing yet. It is chosen on Ready, at their first sign-off. Leave the field empty to "
    "decide without one. Nothing was signed."
)
_LONGEST = 200
_GIVEN = "confirmations"
"""How often somebody confirmed in this session: a field that was used once comes back empty, whatever its form does."""


@dataclass(frozen=True)
class Typed:
    """What was typed to confirm an act; never shown again."""

    given: str = field(repr=False)
    again: str = field(repr=False, default="")


def given(screen: Screen, key: str, *, decision: bool = False) -> Typed:
    """Ask for the password or PIN of whoever signs.

    Args:
        screen: what is on the screen.
        key: the form's own.
        decision: a decision of the pool's day, which nobody is kept from for want of a PIN.
    """
    if any_account(screen.ledger):
        return Typed(_secret("Password or PIN of whoever signs", f"confirm-{key}"))
    pin = _secret("PIN for signing, of whoever signs", f"confirm-{key}")
    again = "" if decision else _secret("The same once more, where it is chosen now", f"confirm-again-{key}")
    st.caption(SINGLE_DECISION if decision else SINGLE)
    return Typed(pin, again)


def confirmed_with(screen: Screen, person: str, typed: Typed, *, decision: bool = False) -> Confirmed | None:
    """Return by what somebody confirmed that it is them; None for a decision of somebody who has neither.

    Raises:
        RefusedError: it is not theirs, the next try has to wait, or a PIN that is chosen now cannot be used.
    """
    ledger = screen.ledger
    if decision and not any_account(ledger) and signing_pin_of(ledger, person) is None:
        if typed.given:
            raise RefusedError(_NO_PIN_YET)
        return None
    entrance = sessions_of(lambda: ledger).entrance
    how = confirm(ledger, entrance, person, typed.given, typed.again, neighbourhood(st.context.ip_address or ""))
    st.session_state[_GIVEN] = st.session_state.get(_GIVEN, 0) + 1
    return how


def do(
    screen: Screen, who: str | None, typed: Typed, act: Callable[[str, Confirmed | None], object], sentence: str
) -> None:
    """Let somebody confirm, do it, and say what came of it; a form that was refused keeps what was typed."""
    if who is None:
        st.warning("Say whose act it is; nothing was changed.")
        return

    def whole() -> bool:
        act(who, confirmed_with(screen, who, typed))
        return True

    done(telling(whole)(), sentence)


def _secret(label: str, key: str) -> str:
    fresh = f"{key}-{st.session_state.get(_GIVEN, 0)}"  # a keyed field is known by its key, not by its form
    return st.text_input(label, type="password", max_chars=_LONGEST, key=fresh, autocomplete="off")
