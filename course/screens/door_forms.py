"""The plain forms of signing in: markup alone. What people wrote is escaped, and a password is never written back."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape

from course.screens import theme
from course.screens.plain_http import ENTER, form_page, own_path
from course.storage.passwords import SHORTEST_PASSWORD, SHORTEST_PIN

LEAVE, SWITCH, CHANGE, PIN = "/course/leave", "/course/switch", "/course/change", "/course/pin"
_KEPT = "Taps that wait on this tablet are kept."
_CSS = f"""
a {{ color: {theme.ACCENT}; display: block; min-height: {theme.TOUCH}px; line-height: {theme.TOUCH}px; }}
fieldset {{ border: 0; padding: 0; margin: 24px 0 0; }} legend {{ font-weight: 700; padding: 0; }}
.one {{ display: flex; align-items: center; gap: 16px; min-height: 56px; margin: 0; font-weight: 400;
  border-bottom: 1px solid {theme.RULE}; }}
.one input {{ width: 28px; min-height: 28px; margin: 0; flex: none; }}
"""


def enter_form(sentence: str, then: str, name: str = "") -> str:
    """Name and password."""
    fields = (
        f'<label for="name">Name</label><input id="name" name="name" value="{escape(name, quote=True)}" '
        'autocomplete="username" autocapitalize="none" spellcheck="false" maxlength="200" required autofocus>'
        + _password("password", "Password", "current-password")
    )
    return form_page("Sign in", sentence, f"<p>{_KEPT}</p>{_form(ENTER, fields, 'Sign in', then)}", _CSS)


def first_form(sentence: str, name: str = "") -> str:
    """The first account, for the lead, on this machine."""
    fields = (
        f'<label for="name">Name to sign in with</label><input id="name" name="name" '
        f'value="{escape(name, quote=True)}" autocomplete="username" autocapitalize="none" spellcheck="false" '
        'maxlength="200" required autofocus>' + _new_password() + '<input type="hidden" name="first" value="yes">'
    )
    told = (
        "<p>This makes the first account, for the lead instructor. From then on everybody signs in, each with an "
        "account of their own, on this machine too.</p>"
    )
    return form_page("Make the first account", sentence, told + _form(ENTER, fields, "Make it", "/") + _back(), _CSS)


def leave_form(name: str, sentence: str = "") -> str:
    """Signing out, with the ways to what else one does with one's own account."""
    ways = (
        f'<a href="{SWITCH}">Hand this tablet on by PIN</a><a href="{CHANGE}">Change my password</a>'
        f'<a href="{PIN}">Set my PIN</a>'
    )
    told = f"<p>{escape(name)} is signed in here. {_KEPT}</p>"
    everywhere = '<label class="one"><input type="checkbox" name="everywhere" value="yes">On all my tablets</label>'
    return form_page("Sign out", sentence, f"{told}{_form(LEAVE, everywhere, 'Sign out', '/')}{ways}{_back()}", _CSS)


def switch_form(sentence: str, people: Mapping[str, str], then: str) -> str:
    """Who is at the tablet now, by PIN."""
    if not people:
        told = "<p>Nobody has a PIN yet. Whoever wants one signs in by password and sets it.</p>"
        return form_page("Hand the tablet on", sentence, f"{told}{_back()}", _CSS)
    names = "".join(
        f'<label class="one"><input type="radio" name="person" value="{escape(one, quote=True)}" required>'
        f"{escape(name)}</label>"
        for one, name in people.items()
    )
    fields = (
        f"<fieldset><legend>Who is at the tablet now?</legend>{names}</fieldset>"
        '<label for="pin">PIN</label><input id="pin" name="pin" type="password" inputmode="numeric" '
        'autocomplete="off" maxlength="8" required>'
    )
    told = f"<p>By PIN one marks and runs the day. Signing, changing and taking away ask for a password. {_KEPT}</p>"
    return form_page("Hand the tablet on", sentence, told + _form(SWITCH, fields, "Go on", then) + _back(), _CSS)


def change_form(sentence: str, then: str, *, must: bool = False) -> str:
    """One's own new password."""
    told = "<p>Somebody else chose the password that you have now. Choose one that only you know.</p>" if must else ""
    fields = _password("before", "Password now", "current-password") + _new_password()
    back = _leave() if must else _back()
    return form_page("Choose your password", sentence, told + _form(CHANGE, fields, "Change it", then) + back, _CSS)


def pin_form(sentence: str) -> str:
    """One's own PIN."""
    told = (
        f"<p>{SHORTEST_PIN} digits or more, for taking over a tablet beside the water. "
        "Leave both fields empty to have none.</p>"
    )
    fields = _password("before", "Password", "current-password") + "".join(
        f'<label for="{name}">{label}</label><input id="{name}" name="{name}" type="password" inputmode="numeric" '
        'autocomplete="off" maxlength="8">'
        for name, label in (("pin", "New PIN"), ("again", "Once more"))
    )
    return form_page("Set my PIN", sentence, told + _form(PIN, fields, "Set it", "/") + _back(), _CSS)


def unread_page(sentence: str, then: str, *, leave: bool = False) -> str:
    """Instead of a page, while the ledger cannot be read; with the way out for whoever is signed in."""
    again = f'<a href="{escape(own_path(then), quote=True)}">Try again</a>'
    return form_page(
        "The ledger cannot be read now", sentence, f"<p>{_KEPT}</p>{again}{_leave() if leave else ''}", _CSS
    )


def _form(action: str, fields: str, word: str, then: str) -> str:
    kept = f'<input type="hidden" name="then" value="{escape(own_path(then), quote=True)}">'
    return f'<form method="post" action="{action}">{fields}{kept}<button type="submit">{word}</button></form>'


def _password(name: str, label: str, kind: str) -> str:
    return (
        f'<label for="{name}">{label}</label><input id="{name}" name="{name}" type="password" autocomplete="{kind}" '
        'maxlength="256" required>'
    )


def _new_password() -> str:
    rule = f"<p>{SHORTEST_PASSWORD} signs or more, of any kind. Four words in a row do.</p>"
    return _password("new", "New password", "new-password") + rule + _password("again", "Once more", "new-password")


def _back() -> str:
    return '<a href="/">Back to the pages</a>'


def _leave() -> str:
    return f'<a href="{LEAVE}">Sign out</a>'
