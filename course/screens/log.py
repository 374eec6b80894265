"""What the running program writes down about itself: what was asked, how it ended, how long it took. Nothing personal.

One JSON object a line, in the user's state folder, turned over by size. A line holds a route and never an address as
it was asked, since an address may hold anything. Of an error it holds kind and place and never the text, since texts
of errors repeat what people typed; the same goes for what other libraries say, on the screen of whoever runs it too.
"""

from __future__ import annotations

import json
import logging
import os
import sys
import threading
import time
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from functools import partial
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType
from typing import Any

import uvicorn

from course.errors import StorageError, end_of_path, fault_of
from course.moments import new_id
from course.storage.device import log_file

MOST_BYTES, KEPT_FILES = 2_000_000, 5
_OWN = "course"
_PREFIXES = ("/_stcore/", "/static/", "/component/", "/media/")
"""Of Streamlit's own files; successes of these and of what pages ask by themselves are not written down."""
_REQUEST_ID = b"x-request-id"
Scope = Mapping[str, Any]


class _Record(logging.LogRecord):
    """A record that forgets the texts of errors, and what other libraries put into their words."""

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.fault: dict[str, Any] = {}
        if self.exc_info and self.exc_info[1] is not None:
            self.fault = fault_of(self.exc_info[1])
        self.exc_info = self.exc_text = self.stack_info = None
        self.args = ()
        if self.name.partition(".")[0] != _OWN:
            self.msg = f"{self.name} said something at {end_of_path(self.pathname)}:{self.lineno}; its text is left out"
        if self.fault:
            places = self.fault["at"][-1:] or ["a place that is not known"]
            self.msg = f"{self.msg} ({self.fault['error'][0]} at {places[0]})"


class _Lines(logging.Formatter):
    """One JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line of a record."""
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        told = {"at": at, "level": record.levelname.lower(), **getattr(record, "told", {"said": record.msg})}
        return json.dumps(told | getattr(record, "fault", {}), ensure_ascii=True)


class _OwnersFile(RotatingFileHandler):
    """Each file that is begun is for its owner alone, also those after the first."""

    def _open(self) -> Any:
        return open(self.baseFilename, self.mode, encoding=self.encoding, opener=partial(os.open, mode=0o600))


class Log:
    """The log of one running program.

    Args:
        file: where the lines go; made with its folder, readable by its owner only.

    Raises:
        StorageError: the file cannot be written.
    """

    def __init__(self, file: Path) -> None:
        self.file = file
        try:
            file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            file.touch(mode=0o600)
            self._handler = _OwnersFile(file, maxBytes=MOST_BYTES, backupCount=KEPT_FILES, encoding="utf-8")
        except OSError as error:
            raise StorageError(f"The log {file} cannot be written: {error.strerror}. Nothing was changed.") from error
        self._handler.setFormatter(_Lines())

    def write(self, **told: Any) -> None:
        """Write one line."""
        record = _Record(_OWN, logging.INFO, __file__, 0, "", (), None)
        record.told = told
        self._handler.handle(record)

    def record(self, *args: Any, **named: Any) -> logging.LogRecord:
        """Make a record as `logging` asks for one; what warns or is worse gets a line, whoever says it."""
        made = _Record(*args, **named)
        if made.levelno >= logging.WARNING:
            self._handler.handle(made)
        return made

    def close(self) -> None:
        """Let the file go."""
        self._handler.close()


def begin(file: Path | None = None) -> Log:
    """Open the log, and have everything that is logged or breaks in this process go through it from now on.

    Raises:
        StorageError: the file cannot be written.
    """
    log = Log(file or log_file())
    logging.setLogRecordFactory(log.record)
    logging.captureWarnings(capture=True)
    sys.excepthook = _broke
    threading.excepthook = lambda told: _broke(told.exc_type, told.exc_value, told.exc_traceback)
    return log


def _broke(kind: type[BaseException], error: BaseException | None, trace: TracebackType | None) -> None:
    logging.getLogger(_OWN).error("the program broke", exc_info=(kind, error or kind(), trace))


def without_server_name() -> None:
    """Have the server not name itself in its answers; Streamlit starts it and hands no option through."""
    if not isinstance(uvicorn.Config, partial):
        uvicorn.Config = partial(uvicorn.Config, server_header=False)  # type: ignore[assignment,misc]


class Requests:
    """The ASGI layer that writes a line for each request, and gives the request's id back to whoever asked.

    Args:
        app: what answers.
        log: where the lines go; None: nowhere.
        pages: addresses that are pages, such as `/mark`.
        routes: routes of our own, as templates such as `/course/font/{name}`.
    """

    def __init__(self, app: Any, *, log: Log | None, pages: Iterable[str] = (), routes: Iterable[str] = ()) -> None:
        self.app = app
        self.log = log
        self._known = {"/", *pages, *(route for route in routes if "{" not in route)}
        self._prefixes = {route.partition("{")[0]: route for route in routes if "{" in route}
        self._prefixes |= {prefix: f"{prefix}*" for prefix in _PREFIXES}

    async def __call__(self, scope: Scope, receive: Any, send: Any) -> None:
        """Let the request through, and write down how it ended."""
        if self.log is None or scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        request, began, ended = new_id(), time.perf_counter(), {"status": 0}

        async def sending(message: Any) -> None:
            if message["type"] == "http.response.start":
                ended["status"] = message["status"]
                message = {**message, "headers": [*message.get("headers", []), (_REQUEST_ID, request.encode())]}
            elif message["type"] == "websocket.accept":
                ended["status"] = 101
            elif message["type"] == "websocket.close" and not ended["status"]:
                ended["status"] = 403
            await send(message)

        try:
            await self.app(scope, receive, sending)
        except Exception:
            ended["status"] = ended["status"] or 500
            raise
        finally:
            self._write(scope, request, ended["status"], time.perf_counter() - began)

    def route(self, path: str) -> str:
        """Return the route that a path belongs to, as a template; a path that is none of ours is not repeated."""
        if path in self._known:
            return path
        return next((route for prefix, route in self._prefixes.items() if path.startswith(prefix)), "other")

    def _write(self, scope: Scope, request: str, status: int, seconds: float) -> None:
        route = self.route(scope["path"])
        quiet = route in ("/course/pulse", "/course/still", *(f"{prefix}*" for prefix in _PREFIXES)) and status < 400
        if self.log is None or (quiet and scope["type"] == "http"):
            return
        how = scope.get("method", "") if scope["type"] == "http" else "WEBSOCKET"
        self.log.write(request=request, method=how, route=route, status=status, ms=round(seconds * 1000, 1))
