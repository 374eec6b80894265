"""Plain answers of our own layers in front of Streamlit: forms and sentences, and what they read of a request."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping
from html import escape
from ipaddress import IPv6Address, ip_address
from typing import Any
from urllib.parse import quote, urlsplit

from course.screens import theme

Scope = Mapping[str, Any]
Receive = Callable[[], Any]
Send = Callable[[Any], Any]
FORM_BYTES = 2048
ENTER = "/course/enter"
"""Where people sign in."""
_COOKIE = re.compile(r"[!#$%&'*+.^_`|~0-9A-Za-z-]+=[!#-+\--:<-\[\]-~]*")


def asked_for(scope: Scope) -> str:
    """Return the path of a request with its query: an attempt is named there."""
    query = scope.get("query_string", b"").decode("latin-1")
    return str(scope["path"]) + (f"?{query}" if query else "")


def own_path(path: str) -> str:
    """Return a path on this server: never another site's address."""
    ours = path.startswith("/course/") and not path.startswith(f"{ENTER}?")
    if not path.startswith("/") or path.startswith(("//", "/\\")) or ours:
        return "/"
    return quote(path, safe="/?=&-_.~%")


def headers_of(scope: Scope) -> dict[str, str]:
    """Return a request's headers by their names in small letters; one that came twice is both, and so neither."""
    found: dict[str, str] = {}
    for raw_name, raw_value in scope["headers"]:
        name, value = raw_name.decode("latin-1").lower(), raw_value.decode("latin-1")
        between = "; " if name == "cookie" else ", "
        found[name] = f"{found[name]}{between}{value}" if name in found else value
    return found


def neighbourhood(address: str) -> str:
    """Return the address, or for IPv6 its /64: one machine has all of those."""
    try:
        parsed = ip_address(address)
    except ValueError:
        return address
    return ":".join(parsed.exploded.split(":")[:4]) if isinstance(parsed, IPv6Address) else address


def same_origin(headers: Mapping[str, str]) -> bool:
    """Whether a request says that it comes from our own page, or from no page at all."""
    return is_same_origin(headers.get("origin"), headers.get("host", ""))


def is_same_origin(origin: str | None, host: str) -> bool:
    """Whether an Origin is the host's own, or there is none; what is no address at all is a stranger's."""
    try:
        return origin is None or urlsplit(origin).netloc == host
    except ValueError:
        return False


async def body_of(receive: Receive, most: int = FORM_BYTES) -> bytes:
    """Return what a form sent, cut where no form of ours is that long."""
    body = b""
    while len(body) <= most:
        message = await receive()
        body += message.get("body", b"")
        if not message.get("more_body"):
            break
    return body[:most]


async def refuse(scope: Scope, send: Send, status: int, sentence: str) -> None:
    """Refuse a request with a sentence, or a websocket without one."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": ""})  # before accepting: the browser gets a 403
        return
    body = json.dumps({"sentence": sentence}).encode()
    await _answer(send, status, body, b"application/json", [])


async def send_page(send: Send, status: int, html: str, extra: Iterable[tuple[bytes, bytes]] = ()) -> None:
    """Send a page of our own."""
    await _answer(send, status, html.encode(), b"text/html; charset=utf-8", extra)


async def _answer(send: Send, status: int, body: bytes, kind: bytes, extra: Iterable[tuple[bytes, bytes]]) -> None:
    headers = [
        (b"content-type", kind),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        *extra,
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


FORM_CSS = f"""
@font-face {{ font-family: "Fira Sans"; src: url("{theme.FONT_ROUTE}/{theme.FONT_FILES["400"]}"); font-weight: 400; }}
@font-face {{ font-family: "Fira Sans"; src: url("{theme.FONT_ROUTE}/{theme.FONT_FILES["700"]}"); font-weight: 700; }}
body {{ font: {theme.BODY}px/1.45 {theme.FONT_STACK}; color: {theme.INK}; background: {theme.PAPER}; margin: 0; }}
main {{ max-width: 400px; margin: 12vh auto; padding: 0 16px; }}
h1 {{ font-size: {theme.TITLE}px; line-height: 1.2; margin: 0 0 16px; }}
label {{ display: block; font-weight: 700; margin: 24px 0 8px; }}
input, button {{ font: inherit; box-sizing: border-box; width: 100%; min-height: 56px; border-radius: 4px; }}
input {{ border: 2px solid {theme.INK}; padding: 0 16px; font-size: {theme.LEAD}px; color: {theme.INK}; }}
button {{ margin-top: 16px; border: 0; background: {theme.ACCENT}; color: {theme.PAPER}; font-weight: 700; }}
:focus-visible {{ outline: 3px solid {theme.ACCENT}; outline-offset: 3px; }}
.said {{ border-left: 8px solid {theme.INK}; padding: 8px 16px; margin: 16px 0; }}
"""


def plain_cookies(header: str) -> dict[str, str]:
    """Return the cookies of a header that are written as they ought to be (RFC 6265, 4.1.1), by their names.

    What another program of this machine left is passed over, and not the whole header with it. Of two of one name the
    last counts: a browser sends those of a longer path first, and ours have the shortest. Written here since Python's
    own reader gives up at the first odd one, and takes a time that grows with the square of a quoted one.
    """
    parts = [part.strip() for part in header.split(";")]
    return dict(part.split("=", 1) for part in parts if _COOKIE.fullmatch(part))


def with_plain_cookies(scope: Scope) -> Scope:
    """Return the request without cookies that are not plainly written, so that whoever reads it next reads the same."""
    header = headers_of(scope).get("cookie")
    if header is None:
        return scope
    plain = "; ".join(f"{name}={value}" for name, value in plain_cookies(header).items()).encode("latin-1")
    return {**scope, "headers": [*(one for one in scope["headers"] if one[0].lower() != b"cookie"), (b"cookie", plain)]}


def cookie_of(headers: Mapping[str, str], name: str) -> str | None:
    """Return a cookie's value; None where it was not sent."""
    return plain_cookies(headers.get("cookie", "")).get(name)


def form_page(title: str, sentence: str, inside: str, more_css: str = "") -> str:
    """Return a page with one form; `inside` is markup, title and sentence are text."""
    # its own referrer policy: under "no-referrer" a browser sends a form with `Origin: null`, as a stranger would
    said = f'<p class="said" role="alert">{escape(sentence)}</p>' if sentence else ""
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="same-origin">
<title>{escape(title)}</title><style>{FORM_CSS}{more_css}</style></head><body><main><h1>{escape(title)}</h1>
{said}{inside}</main></body></html>"""
