"""Which files and pictures were shown to which session, so that their address alone hands them to nobody else.

Streamlit gives a file to whoever asks for its address. What a page offers or shows is noted here by its content, with
the session that it was shown to; on the way out an answer is let go only where its content was. The content is judged,
not the address: what nobody noted is refused, whatever put it there.
"""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict
from typing import Any

from course.screens.plain_http import Receive, Scope, Send, refuse

MEDIA = "/media/"
NOT_SHOWN = "This file was not offered to whoever is signed in here. Open the page that offers it. Nothing was sent."
_MOST = 20_000
"""Files in all sessions together; the oldest are forgotten first, and a page that is drawn anew notes its own again."""
_AS_IT_IS = (b"range", b"if-range", b"accept-encoding")
"""Headers that would have a part of the file sent, or sent otherwise than it is, so that it could not be told."""


class ShownFiles:
    """What was shown to each session. Safe to share between threads."""

    def __init__(self, most: int = _MOST) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._shown: OrderedDict[tuple[str, bytes], None] = OrderedDict()

    def note(self, token: str | None, content: bytes) -> bytes:
        """Note that a file is shown to a session, and return it; without a session there is nobody to note."""
        if token is not None:
            one = _kept(token, content)
            with self._lock:
                self._shown[one] = None
                self._shown.move_to_end(one)
                while len(self._shown) > self._most:
                    self._shown.popitem(last=False)
        return content

    def was_shown(self, token: str | None, content: bytes) -> bool:
        """Whether a session was shown this very content."""
        with self._lock:
            return token is not None and _kept(token, content) in self._shown


SHOWN = ShownFiles()
"""This process's."""


async def hand_out(app: Any, scope: Scope, receive: Receive, send: Send, token: str | None) -> None:
    """Answer a request for a file of Streamlit's, where the session was shown it; refuse it otherwise."""
    whole = {**scope, "headers": [(name, value) for name, value in scope["headers"] if name.lower() not in _AS_IT_IS]}
    start: list[Any] = []
    parts: list[bytes] = []

    async def held(message: Any) -> None:
        if message["type"] == "http.response.start":
            start.append(message)
            return
        parts.append(message.get("body", b""))
        if message.get("more_body"):
            return
        content = parts[0] if len(parts) == 1 else b"".join(parts)
        if start[0]["status"] == 200 and not SHOWN.was_shown(token, content):
            await refuse(scope, send, 403, NOT_SHOWN)
            return
        await send(start[0])
        await send({"type": "http.response.body", "body": content})

    await app(whole, receive, held)


def _kept(token: str, content: bytes) -> tuple[str, bytes]:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest(), hashlib.sha256(content).digest()
