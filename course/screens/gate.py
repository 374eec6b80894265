"""Who gets past the door: this machine freely, other machines only while sharing and with the code that `open` shows.

A plain ASGI layer before everything else, for pages, files, taps and websockets alike. It refuses any Host that is
not ours (a name that was turned to point at this machine), asks other machines for the code on a plain form, slows
guessing down without ever locking anybody out for good, and puts safe headers on every answer.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from html import escape
from ipaddress import IPv6Address, ip_address
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import anyio.to_thread
from itsdangerous import BadSignature, URLSafeTimedSerializer

from course.errors import StorageError
from course.screens import theme
from course.screens.plain_http import (
    Receive,
    Scope,
    Send,
    asked_for,
    body_of,
    cookie_of,
    form_page,
    headers_of,
    neighbourhood,
    own_path,
    refuse,
    same_origin,
    send_page,
    with_plain_cookies,
)
from course.storage.device import state_folder
from course.storage.entrance import Entrance

COOKIE = "course_gate"
SIGN_IN = "/course/sign-in"
KEPT_SECONDS = 14 * 24 * 3600
"""How long a machine that gave the code is remembered."""
_SAME_FOR_EVERYBODY = ("/static/", "/_stcore/bidi-components/", f"{theme.FONT_ROUTE}/")
"""Scripts, styles and fonts, which a browser may keep; all else is forgotten with the page."""
_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"  # without I, L, O, 0 and 1, which are misread on a wet screen
_NOT_OURS = "This address is not one of this program's. Use the address that `course open` shows."
_NOT_SHARED = "This course is open on its own machine only. Sharing is `course open FOLDER --share`."
_NOT_THE_CODE = "That is not the code. It stands on the screen of the machine that shares the course."


@dataclass(frozen=True)
class Keys:
    """What the gate keeps between starts: the secret that signs cookies and the code for other machines."""

    secret: str
    code: str

    @property
    def mark(self) -> str:
        """What a cookie carries in place of the code: a new code makes old cookies worthless."""
        return hmac.new(self.secret.encode(), self.code.encode(), hashlib.sha256).hexdigest()[:32]


def new_code() -> str:
    """Return a code of eight letters and digits, such as `K7MP-3XQA`."""
    drawn = "".join(secrets.choice(_LETTERS) for _ in range(8))
    return f"{drawn[:4]}-{drawn[4:]}"


def keys_in(folder: Path, *, renew_code: bool = False) -> Keys:
    """Return the keys kept in a folder of the user's state, making what is missing; only the user can read the file.

    Raises:
        StorageError: the folder cannot be written.
    """
    file = folder / "gate.json"
    try:
        known = json.loads(file.read_text(encoding="utf-8"))
        keys = Keys(secret=str(known["secret"]), code=str(known["code"]))
    except (OSError, ValueError, KeyError, TypeError):
        keys, renew_code = Keys(secret=secrets.token_urlsafe(32), code=new_code()), False
    else:
        if not renew_code:
            return keys
    if renew_code:
        keys = Keys(secret=keys.secret, code=new_code())
    try:
        folder.mkdir(parents=True, exist_ok=True)
        half = file.with_suffix(".new")
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
            json.dump({"secret": keys.secret, "code": keys.code}, out)
        half.replace(file)
    except OSError as error:
        raise StorageError(f"The code for other machines cannot be kept in {folder}: {error.strerror}.") from error
    return keys


def is_this_machine(address: str | None) -> bool:
    """Whether a client's address is this machine's own loopback."""
    if not address:
        return False
    try:
        parsed = ip_address(address)
    except ValueError:
        return False
    mapped = parsed.ipv4_mapped if isinstance(parsed, IPv6Address) else None
    return (mapped or parsed).is_loopback


class Gate:
    """The ASGI layer. `names` are the host names that are ours; addresses count when the connection came in on them.

    Wrong codes are counted in a file of their own, as wrong guesses at a name are: a restart shortens no wait.
    """

    def __init__(
        self,
        app: Any,
        *,
        port: int,
        keys: Keys | None = None,
        names: Iterable[str] = (),
        guesses: Entrance | None = None,
    ) -> None:
        self.app = app
        self.port = port
        self.keys = keys
        self.names = {"localhost", *(name.lower().rstrip(".") for name in names)}
        self._given_guesses = guesses
        self._signer = URLSafeTimedSerializer(keys.secret, salt="course.gate") if keys else None

    @cached_property
    def _guesses(self) -> Entrance:
        return self._given_guesses or Entrance(state_folder() / "entrance" / "code")

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let through, ask for the code, or refuse."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        scope = with_plain_cookies(scope)
        headers = headers_of(scope)
        sending = _with_safe_headers(send, headers.get("host", ""), scope["path"])
        if not self._host_is_ours(headers.get("host", ""), scope):
            await refuse(
                scope,
                sending,
                421,
                "This address is not one of this program's. Use the address that `course open` shows.",
            )
        elif scope["type"] == "websocket" and not same_origin(headers):
            await refuse(scope, sending, 403, "Opened from another page.")
        elif self._is_known(scope, headers):
            await self.app(scope, receive, sending)
        elif self.keys is None:
            await refuse(
                scope,
                sending,
                403,
                "This course is open on its own machine only. Sharing is `course open FOLDER --share`.",
            )
        elif scope["type"] == "http" and scope["path"] == SIGN_IN:
            await self._sign_in(scope, headers, receive, sending)
        elif scope["type"] == "http" and theme.is_font(scope["path"]):
            await self.app(scope, receive, sending)
        elif scope["type"] == "http" and scope["method"] == "GET" and "text/html" in headers.get("accept", ""):
            await send_page(sending, 401, _form("", asked_for(scope)))
        else:
            await refuse(scope, sending, 401, "Sign in with the code first. Nothing was saved by this request.")

    def _host_is_ours(self, host: str, scope: Scope) -> bool:
        try:
            parts = urlsplit(f"//{host}")
            name, port = parts.hostname or "", parts.port
        except ValueError:
            return False
        if parts.netloc != host or "@" in host or (port or _usual_port(scope)) != self.port:
            return False
        try:
            address = ip_address(name)
        except ValueError:
            return name.rstrip(".") in self.names
        came_in_on = (scope.get("server") or ("",))[0]
        return address.is_loopback or str(address) == came_in_on.removeprefix("::ffff:") or name in self.names

    def _is_known(self, scope: Scope, headers: Mapping[str, str]) -> bool:
        if scope["path"] == SIGN_IN and scope["type"] == "http":
            return self.keys is None
        if is_this_machine((scope.get("client") or (None,))[0]):
            return True
        if self.keys is None or self._signer is None:
            return False
        try:
            mark = self._signer.loads(cookie_of(headers, COOKIE) or "", max_age=KEPT_SECONDS)
        except BadSignature:
            return False
        return isinstance(mark, str) and hmac.compare_digest(mark, self.keys.mark)

    async def _sign_in(self, scope: Scope, headers: Mapping[str, str], receive: Receive, send: Send) -> None:
        if scope["method"] not in ("GET", "HEAD", "POST"):
            await refuse(scope, send, 405, "A form is asked for or sent, and nothing else.")
            return
        if scope["method"] != "POST":
            then = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("then", ["/"])[0]
            await send_page(send, 200, _form("", then))
            return
        if not same_origin(headers):
            await refuse(scope, send, 403, "Sent from another page.")
            return
        fields = parse_qs((await body_of(receive)).decode("utf-8", "replace"))
        then = fields.get("then", ["/"])[0]
        given, place = fields.get("code", [""])[0], neighbourhood((scope.get("client") or ("",))[0])
        try:
            status, answer, extra = await anyio.to_thread.run_sync(self._judge, place, given, then)
        except StorageError as error:
            status, answer, extra = 503, _form(error.sentence, then), []
        if scope.get("scheme") in ("https", "wss"):
            extra = [(name, value + b"; Secure") if name == b"set-cookie" else (name, value) for name, value in extra]
        await send_page(send, status, answer, extra)

    def _judge(self, place: str, given: str, then: str) -> tuple[int, str, list[tuple[bytes, bytes]]]:
        """Return status, page and extra headers for a code that somebody gave."""
        guessed_at = f"the code, at {place}"  # each place by itself: wrong ones elsewhere take no turn away here
        if waiting := self._guesses.guess(guessed_at, place, at_door=True):
            sentence = f"Too many wrong codes. Wait {waiting} s and try again."
            return 429, _form(sentence, then), [(b"retry-after", str(waiting).encode())]
        if self.keys is None or self._signer is None or not hmac.compare_digest(_plain(given), _plain(self.keys.code)):
            return (
                401,
                _form("That is not the code. It stands on the screen of the machine that shares the course.", then),
                [],
            )
        self._guesses.right(guessed_at, place, at_door=True)
        cookie = (
            f"{COOKIE}={self._signer.dumps(self.keys.mark)}; Path=/; Max-Age={KEPT_SECONDS}; HttpOnly; SameSite=Strict"
        )
        return 303, "", [(b"set-cookie", cookie.encode("latin-1")), (b"location", own_path(then).encode("latin-1"))]


def _plain(code: str) -> bytes:
    """Return a code without what people add or leave out: case, hyphens, spaces."""
    return "".join(letter for letter in code.upper() if letter.isalnum()).encode()


def _usual_port(scope: Scope) -> int:
    return 443 if scope.get("scheme") in ("https", "wss") else 80


def safe_headers(host: str) -> list[tuple[bytes, bytes]]:
    """Return the headers that every answer carries: nothing from elsewhere, in no frame, no address passed on."""
    policy = "; ".join(
        (
            "default-src 'self'",
            # Streamlit loads a component as a blob module, and its charts compile expressions
            "script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' data: blob:",
            "media-src 'self' data: blob:",
            "font-src 'self' data:",
            f"connect-src 'self' ws://{host} wss://{host} data: blob:",
            "worker-src 'self' blob:",
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )
    return [
        (b"content-security-policy", policy.encode("latin-1", "replace")),
        (b"x-content-type-options", b"nosniff"),
        (b"x-frame-options", b"DENY"),
        (b"referrer-policy", b"no-referrer"),
        (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
    ]


def _with_safe_headers(send: Send, host: str, path: str) -> Send:
    own = safe_headers("".join(letter for letter in host if letter.isalnum() or letter in ".:-[]"))
    if not path.startswith(_SAME_FOR_EVERYBODY):
        own.append((b"cache-control", b"no-store"))
    names = {name for name, _ in own}

    async def sending(message: Any) -> None:
        if message["type"] == "http.response.start":
            kept = [(name, value) for name, value in message.get("headers", []) if name.lower() not in names]
            message = {**message, "headers": [*kept, *own]}
        await send(message)

    return sending


def _form(sentence: str, then: str) -> str:
    return form_page(
        "Code for this course",
        sentence,
        f"""
<p>The code stands on the screen of the machine that shares the course.
Taps that wait on this tablet are kept.</p>
<form method="post" action="{SIGN_IN}"><label for="code">Code</label>
<input id="code" name="code" autocomplete="off" autocapitalize="characters" spellcheck="false" maxlength="20"
 required autofocus>
<input type="hidden" name="then" value="{escape(own_path(then), quote=True)}">
<button type="submit">Go on</button></form>""",
        "input { letter-spacing: 0.08em; text-transform: uppercase; }",
    )
