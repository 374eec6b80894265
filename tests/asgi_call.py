"""Calls an ASGI application as a server would: one request or one websocket handshake, and what came back."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import Any

import anyio

HERE = ("127.0.0.1", 50000)
ELSEWHERE = ("192.168.7.23", 50000)


@dataclass
class Reply:
    status: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    body: bytes = b""
    accepted: bool = False
    """A websocket that was let in."""

    @property
    def content(self) -> Any:
        return json.loads(self.body)

    @property
    def text(self) -> str:
        return self.body.decode()


def call(
    app: Any,
    method: str = "GET",
    path: str = "/",
    *,
    headers: dict[str, str] | None = None,
    body: bytes | list[bytes] = b"",
    client: tuple[str, int] = HERE,
    server: tuple[str, int] = ("127.0.0.1", 8571),
    kind: str = "http",
) -> Reply:
    """Send one request; `body` as a list arrives in parts without a content length."""
    given = {"host": "localhost:8571", **(headers or {})}
    parts = body if isinstance(body, list) else [body]
    if not isinstance(body, list) and method == "POST":
        given.setdefault("content-length", str(len(body)))
    path, _, query = path.partition("?")
    scope = {
        "type": kind, "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
        "path": path, "raw_path": path.encode(), "query_string": query.encode(), "root_path": "",
        "client": client, "server": server,
        "headers": [(name.lower().encode(), value.encode("latin-1")) for name, value in given.items()],
        "subprotocols": [],
    }  # fmt: skip
    reply, left = Reply(), list(parts)

    async def receive() -> dict[str, Any]:
        if kind == "websocket":
            return {"type": "websocket.connect"}
        if not left:
            return {"type": "http.disconnect"}
        return {"type": "http.request", "body": left.pop(0), "more_body": bool(left)}

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            reply.status = message["status"]
            reply.headers = {name.decode(): value.decode("latin-1") for name, value in message["headers"]}
        elif message["type"] == "http.response.body":
            reply.body += message.get("body", b"")
        elif message["type"] == "websocket.accept":
            reply.accepted = True
        elif message["type"] == "websocket.close":
            reply.status = message["code"]

    anyio.run(app, scope, receive, send)
    return reply
