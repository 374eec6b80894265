"""The door behind the gate: signing in and out on plain forms, and who may ask for what, asked at every request.

The session's token is a cookie that no script reads and no other site sends along; it is judged here alone. Pages ask
by the cookie of the connection that they came in on, at each rerun, so that a session that was ended shows nothing more
in a page that was left open.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import partial
from typing import Any
from urllib.parse import parse_qs, urlencode

import anyio
import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from course.access import Sight
from course.asker import Asker, ask_by
from course.errors import CourseError, RefusedError, SignedOutError, StorageError
from course.screens import door_forms, theme
from course.screens.door_forms import CHANGE, LEAVE, PIN, SWITCH
from course.screens.gate import is_this_machine
from course.screens.plain_http import (
    ENTER,
    Receive,
    Scope,
    Send,
    asked_for,
    body_of,
    cookie_of,
    headers_of,
    own_path,
    refuse,
    same_origin,
    send_page,
)
from course.screens.sessions import OUT, Entered, Sessions
from course.screens.shown_files import MEDIA, hand_out
from course.storage.after_saving import told_after_saving

COOKIE, SECURE_COOKIE = "course_session", "__Host-course_session"
STILL = "/course/still"
"""Whether the session that a page was shown to still holds."""
PATHS = (ENTER, LEAVE, SWITCH, CHANGE, PIN)
_SIGHTS = {sight.value.removeprefix("route "): sight for sight in Sight if sight.value.startswith("route ")}
_FORM_BYTES = 16 * 1024
"""Three passwords of 256 signs, each of four bytes that are sent as three letters."""
_token: ContextVar[str | None] = ContextVar("token", default=None)
_used: ContextVar[bool] = ContextVar("used", default=True)


@dataclass(frozen=True)
class Answer:
    """What a form is answered with."""

    status: int
    html: str = ""
    to: str = ""
    token: str | None = None
    """A new token for the cookie; empty: the cookie is taken back; None: it stays."""
    wait_seconds: int = 0


@dataclass(frozen=True)
class Asked:
    """A form that was asked for or sent."""

    path: str
    sent: bool
    fields: Mapping[str, str]
    token: str | None
    address: str

    def field(self, name: str) -> str:
        """What stands in a field; empty where nothing does."""
        return self.fields.get(name, "")

    @property
    def then(self) -> str:
        """Where to go on."""
        return own_path(self.field("then") or "/")


class Door:
    """The ASGI layer. Without accounts it lets everybody through that the gate let in."""

    def __init__(self, app: Any, *, sessions: Sessions) -> None:
        self.app = app
        self.sessions = sessions

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a form of our own, let through, ask to sign in, or refuse."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers, http = headers_of(scope), scope["type"] == "http"
        token = cookie_of(headers, SECURE_COOKIE if _is_secure(scope) else COOKIE)
        if http and scope["path"] in PATHS:
            await self._own(scope, headers, token, receive, send)
            return
        if http and scope["path"] == STILL:
            await self._still(scope, token, send)
            return
        if http and theme.is_font(scope["path"]):
            await self.app(scope, receive, send)
            return
        refusal = await anyio.to_thread.run_sync(self._refusal, scope["path"], token)
        if refusal is None:
            with as_token(token, used=_is_use(scope["path"])):
                await self._through(scope, receive, send, token)
            return
        status, sentence = refusal
        wants_page = http and scope["method"] == "GET" and "text/html" in headers.get("accept", "")
        if wants_page and status == 503:
            begun = await anyio.to_thread.run_sync(self._is_begun, token)
            await send_page(send, 503, door_forms.unread_page(sentence, asked_for(scope), leave=begun))
        elif wants_page and status == 401:
            page = await anyio.to_thread.run_sync(self._way_in, token, asked_for(scope))
            await send_page(send, 401, page)
        else:
            await refuse(scope, send, status, sentence)

    async def _still(self, scope: Scope, token: str | None, send: Send) -> None:
        """Say whether a page is still to be seen: not after its session, nor once somebody else signed in beside it."""
        of = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("of", [""])[0]
        refusal: tuple[int, str] | None = await anyio.to_thread.run_sync(self._refusal, STILL, token)
        status, sentence = refusal or (200, "")
        if of != page_mark(token or ""):
            status, sentence = 401, OUT
        await refuse(scope, send, status, sentence)

    async def _through(self, scope: Scope, receive: Receive, send: Send, token: str | None) -> None:
        if scope["type"] == "http" and scope["path"].startswith(MEDIA) and self.sessions.needed():
            await hand_out(self.app, scope, receive, send, token)
        else:
            await self.app(scope, receive, send)

    def _refusal(self, path: str, token: str | None) -> tuple[int, str] | None:
        """Why a request is not let through; None where it is."""
        try:
            asker = self.sessions.who(token, used=_is_use(path))
            if asker is not None and path in _SIGHTS:
                asker.require(_SIGHTS[path])
        except SignedOutError as error:
            return 401, error.sentence
        except RefusedError as error:
            return 403, error.sentence
        except StorageError as error:
            return 503, error.sentence
        return None

    def _is_begun(self, token: str | None) -> bool:
        try:
            return self.sessions.is_begun(token)
        except StorageError:
            return False

    def _way_in(self, token: str | None, then: str) -> str:
        if self.sessions.session(token) is not None:
            return door_forms.change_form("", then, must=True)
        return door_forms.enter_form("", then)

    async def _own(
        self, scope: Scope, headers: Mapping[str, str], token: str | None, receive: Receive, send: Send
    ) -> None:
        """One of the forms: shown, or what was sent in it looked at."""
        if scope["method"] not in ("GET", "HEAD", "POST"):
            await refuse(scope, send, 405, "A form is asked for or sent, and nothing else. Nothing was changed.")
            return
        sent = scope["method"] == "POST"
        if sent and not (same_origin(headers) and headers.get("sec-fetch-site", "none") in ("same-origin", "none")):
            await refuse(scope, send, 403, "Sent from another page. Nothing was changed.")
            return
        text = (await body_of(receive, _FORM_BYTES) if sent else scope.get("query_string", b"")).decode(
            "utf-8", "replace"
        )
        fields = {name: values[0] for name, values in parse_qs(text, keep_blank_values=True).items()}
        asked = Asked(scope["path"], sent, fields, token, (scope.get("client") or ("",))[0])
        with as_token(token):
            answer = await anyio.to_thread.run_sync(self.answer, asked)
        extra = [(b"location", answer.to.encode("latin-1"))] if answer.to else []
        if answer.token is not None:
            extra.append((b"set-cookie", set_cookie(answer.token, secure=_is_secure(scope)).encode("latin-1")))
        if answer.wait_seconds:
            extra.append((b"retry-after", str(answer.wait_seconds).encode()))
        await send_page(send, answer.status, answer.html, extra)

    def answer(self, asked: Asked) -> Answer:
        """Answer one of the forms."""
        try:
            with told_after_saving():
                return self._answered(asked)
        except StorageError as error:
            return self._unread(asked, error.sentence)

    def _answered(self, asked: Asked) -> Answer:
        needed = self.sessions.needed()
        if asked.path == ENTER:
            return self._enter(asked) if needed else self._first(asked)
        if not needed:
            return Answer(303, to="/")
        found = self.sessions.session(asked.token)
        if found is None:
            return Answer(303, to=f"{ENTER}?{urlencode({'then': asked.then})}")
        ways = {LEAVE: self._leave, SWITCH: self._switch, CHANGE: self._change, PIN: self._pin}
        return ways[asked.path](asked, found[1].name)

    def _unread(self, asked: Asked, sentence: str) -> Answer:
        """The ledger cannot be read. Who signs out is out all the same: the tablet may be handed on at once."""
        if asked.path == ENTER:
            return Answer(503, door_forms.enter_form(sentence, asked.then))
        begun = self._is_begun(asked.token)
        if begun and asked.path == LEAVE:
            try:
                if not asked.sent:
                    return Answer(503, door_forms.leave_form("Somebody", sentence))
                return self._leave(asked, "")
            except StorageError as error:  # the session itself could not be ended
                sentence = error.sentence
        return Answer(503, door_forms.unread_page(sentence, asked.then, leave=begun))

    def _enter(self, asked: Asked) -> Answer:
        if not asked.sent:
            return Answer(200, door_forms.enter_form("", asked.then))
        entered = self.sessions.sign_in(asked.field("name"), asked.field("password"), asked.address, asked.token)
        form = partial(door_forms.enter_form, then=asked.then, name=asked.field("name"))
        return _after(entered, form, asked.then)

    def _first(self, asked: Asked) -> Answer:
        """Only on this machine, where nobody is kept out yet."""
        if not is_this_machine(asked.address):
            return Answer(303, to=asked.then)
        form = partial(door_forms.first_form, name=asked.field("name"))
        if not asked.sent or not asked.field("first"):
            return Answer(200, form(""))
        if asked.field("new") != asked.field("again"):
            return Answer(400, form("The two passwords are not the same. Nothing was changed."))
        return _tried(lambda: self.sessions.first_account(asked.field("name"), asked.field("new")), form, "/")

    def _leave(self, asked: Asked, name: str) -> Answer:
        if not asked.sent:
            return Answer(200, door_forms.leave_form(name))
        if asked.token:
            self.sessions.sign_out(asked.token, everywhere=bool(asked.field("everywhere")))
        return Answer(303, to=ENTER, token="")

    def _switch(self, asked: Asked, _: str) -> Answer:
        form = partial(door_forms.switch_form, people=self.sessions.with_pin(), then=asked.then)
        if not asked.sent:
            return Answer(200, form(""))
        entered = self.sessions.switch(asked.token, asked.field("person"), asked.field("pin"), asked.address)
        return _after(entered, form, asked.then)

    def _change(self, asked: Asked, _: str) -> Answer:
        found = self.sessions.session(asked.token)
        form = partial(door_forms.change_form, then=asked.then, must=found is not None and found[1].must_change)
        if not asked.sent:
            return Answer(200, form(""))
        if asked.field("new") != asked.field("again"):
            return Answer(400, form("The two passwords are not the same. Nothing was changed."))
        return _tried(
            lambda: self.sessions.change_password(
                asked.token or "", asked.field("before"), asked.field("new"), asked.address
            ),
            form,
            asked.then,
        )

    def _pin(self, asked: Asked, _: str) -> Answer:
        if not asked.sent:
            return Answer(200, door_forms.pin_form(""))
        if asked.field("pin") != asked.field("again"):
            return Answer(400, door_forms.pin_form("The two PINs are not the same. Nothing was changed."))
        return _tried(
            lambda: self.sessions.change_pin(
                asked.token or "", asked.field("before"), asked.field("pin"), asked.address
            ),
            door_forms.pin_form,
            "/",
        )


def set_cookie(token: str, *, secure: bool) -> str:
    """Return the header's value that sets the session's cookie, or takes it back for an empty token.

    It has no time of its own: the browser forgets it when it is closed, and how long it counts is judged here.
    """
    name = SECURE_COOKIE if secure else COOKIE
    over = "" if token else "; Max-Age=0"
    return f"{name}={token}; Path=/; HttpOnly; SameSite=Strict{over}{'; Secure' if secure else ''}"


def open_door(sessions: Sessions | None) -> None:
    """Have this process ask these sessions who asks; None: nobody is asked any more."""
    ask_by(partial(_asking, sessions) if sessions else None)


def _asking(sessions: Sessions) -> Asker | None:
    return sessions.who(asking_token(), used=_used.get())


def asking_token() -> str | None:
    """Return the token of who asks: a page's is the one its connection came with, a request's its own."""
    return page_token() if get_script_run_ctx(suppress_warning=True) else _token.get()


@contextmanager
def as_token(token: str | None, *, used: bool = True) -> Iterator[None]:
    """Within it, outside of a page, a request with this token is answered; `used` where somebody made it."""
    before, used_before = _token.set(token), _used.set(used)
    try:
        yield
    finally:
        _token.reset(before)
        _used.reset(used_before)


def _is_use(path: str) -> bool:
    """Whether somebody asks. A page that stands open asks all day, with nobody there."""
    return path != STILL and _SIGHTS.get(path) is not Sight.PULSE_ROUTE


def page_mark(token: str) -> str:
    """Return by what a page says to which session it was shown; it opens nothing."""
    return hashlib.sha256(f"page {token}".encode("utf-8", "surrogatepass")).hexdigest()[:16]


def page_token() -> str | None:
    """Return the token that the page's connection came with."""
    cookies = st.context.cookies
    return cookies.get(SECURE_COOKIE) or cookies.get(COOKIE)


def _tried(act: Callable[[], Entered], form: Callable[[str], str], then: str) -> Answer:
    try:
        return _after(act(), form, then)
    except StorageError:
        raise
    except CourseError as error:
        return Answer(400, form(error.sentence))


def _after(entered: Entered, form: Callable[[str], str], then: str) -> Answer:
    if entered.token:
        return Answer(303, to=then, token=entered.token)
    if entered.wait_seconds:
        return Answer(429, form(entered.sentence), wait_seconds=entered.wait_seconds)
    return Answer(401, form(entered.sentence or OUT))


def _is_secure(scope: Scope) -> bool:
    return scope.get("scheme") in ("https", "wss")
