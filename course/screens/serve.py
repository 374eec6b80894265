"""Starts the screens in this process and takes the pad's taps on routes of our own.

One process, one ledger, one writer: `start` says which, `current_ledger` hands it to the pages, and a tap goes
straight from its route to `take`, off the event loop. A tap is acknowledged only after `take` has returned.
"""

from __future__ import annotations

import contextlib
import gc
import logging
import signal
import socket
from collections.abc import AsyncIterator, Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import anyio
import click
import streamlit as st
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from course.errors import BusyError, CourseError, NotFoundError, OtherNameError, SignedOutError, StorageError
from course.moments import new_id, now, stored
from course.places import SCREENS
from course.screens import door, menu, tablets, theme
from course.screens.gate import SIGN_IN, Gate, Keys, keys_in
from course.screens.log import Log, Requests, begin, without_server_name
from course.screens.order_picture import drawn_order
from course.screens.own_places import own_address, own_names
from course.screens.pad_items import MOST_ITEMS, Sorted, sort_items
from course.screens.plain_http import is_same_origin
from course.screens.sessions import Sessions, sessions_of
from course.storage import device

PORT = 8571
"""Fixed: a new address would strand the taps that wait in a tablet's browser under the old one."""
MARKS, PULSE = "/course/marks", "/course/pulse"
MOST_BYTES = 256 * 1024
BOOT = new_id()

_log = logging.getLogger(__name__)


class PadAnswer(Protocol):
    """What `take` says of the items it was given."""

    @property
    def saved(self) -> Sequence[str]:
        """Ids that are in the ledger now."""

    @property
    def refused(self) -> Sequence[tuple[str, str]]:
        """Ids that were not taken, each with the sentence to show."""


Take = Callable[[Any, list[dict[str, Any]]], PadAnswer]
State = Callable[[Any, str, str, str], dict[str, Any] | None]
"""`state(ledger, attempt, sheet, observer)`: what a pad shows of an attempt now, None while it is not begun."""
MOST_ASKED = 40


@dataclass(frozen=True)
class Course:
    """What the running screens work on."""

    ledger: Any
    take: Take
    writable: Callable[[], bool]
    state: State


_running: list[Course] = []  # the one course of this process, once it was started
_shared: list[bool] = []


def start(
    ledger: Any,
    take: Take,
    writable: Callable[[], bool] = lambda: True,
    state: State = lambda *_: None,
) -> None:
    """Say which ledger the screens of this process work on, and who takes taps.

    Args:
        ledger: the open ledger; the only writer of its folder.
        take: `take(ledger, items)`; returns only after what it calls saved is on the disk.
        writable: whether the folder takes data at the moment; shown to the pads before they lose a tap.
        state: what a pad shows of an attempt; asked by every open pad every few seconds.
    """
    _running[:] = [Course(ledger, take, writable, state)]


def running() -> Course:
    """Return what was started.

    Raises:
        NotFoundError: nothing was.
    """
    if not _running:
        raise NotFoundError("No course is open. Open one with `course open FOLDER`.")
    return _running[0]


def is_shared() -> bool:
    """Return whether other machines are let in."""
    return any(_shared)


def current_ledger() -> Any:
    """Return the ledger that the screens of this process work on."""
    return running().ledger


# --- the routes ----------------------------------------------------------------------------------------------------


def sentence_answer(status: int, sentence: str) -> JSONResponse:
    """Return an answer that says one sentence."""
    return JSONResponse({"sentence": sentence}, status_code=status, headers={"cache-control": "no-store"})


def not_from_our_page(request: Request) -> Response | None:
    """Return the refusal for a request that our own page would never send."""
    origin, site = request.headers.get("origin"), request.headers.get("sec-fetch-site", "same-origin")
    if request.headers.get("x-course") != "pad" or site not in ("same-origin", "none"):
        return sentence_answer(403, "Taps are taken from this program's own page only.")
    if not is_same_origin(origin, request.headers.get("host", "")):
        return sentence_answer(403, "Taps are taken from this program's own page only.")
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        return sentence_answer(415, "Taps are sent as JSON.")
    return None


async def read_within(request: Request, most: int) -> bytes | None:
    """Return the body, or None as soon as it is larger than allowed."""
    if int(request.headers.get("content-length") or 0) > most:
        return None
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most:
            return None
        parts.append(part)
    return b"".join(parts)


async def take_marks(request: Request) -> Response:
    """Take a list of taps; answer for each id whether it is saved or why not."""
    refusal = not_from_our_page(request)
    if refusal:
        return refusal
    try:
        body = await read_within(request, MOST_BYTES)
    except (ClientDisconnect, ValueError):
        return sentence_answer(400, "The list of taps did not arrive whole. Nothing of it was saved.")
    if body is None:
        return sentence_answer(413, f"A list of taps may have {MOST_BYTES // 1024} kB. Nothing of it was saved.")
    try:
        read = sort_items(body)
    except ValueError:
        return sentence_answer(400, f"This is no list of up to {MOST_ITEMS} taps. Nothing of it was saved.")
    return await anyio.to_thread.run_sync(_taken, read)


def _taken(read: Sorted) -> JSONResponse:
    try:
        course = running()
        answer = course.take(course.ledger, read.items) if read.items else None
    except (StorageError, NotFoundError) as error:
        return sentence_answer(503, error.not_saved)
    except (OtherNameError, SignedOutError) as error:  # nothing is wrong with the taps: they wait on the tablet
        return sentence_answer(403, error.sentence)
    except CourseError as error:
        return sentence_answer(409, error.sentence)
    except Exception:
        _log.exception("taking taps failed")
        return sentence_answer(500, "NOT saved: something in the program went wrong; the taps stay on the tablet.")
    refused = [*read.refused, *(answer.refused if answer else ())]
    content = {
        "saved": list(answer.saved) if answer else [],
        "refused": [{"id": id_, "sentence": sentence} for id_, sentence in refused],
        "server_utc": stored(now()),
    }
    return JSONResponse(content, headers={"cache-control": "no-store"})


async def pulse(request: Request) -> Response:
    """Say that the server is there, what time it has, whether it can save, and what is new on the pads asked about.

    A pad asks with `of=ATTEMPT.SHEET.OBSERVER.VERSION`, several times, and is told of those that stand otherwise now.
    """
    asked = request.query_params
    of: list[list[str]] = []
    if request.headers.get("x-course") == "pad":  # no page but our own can send it
        tablets.heard(*(asked.get(name, "") for name in ("tablet", "waiting", "refused", "by", "offset")))
        of = [one.split(".") for one in asked.getlist("of")[:MOST_ASKED] if one.count(".") == 3]
    writable, states = await anyio.to_thread.run_sync(_now, of)
    content = {"boot": BOOT, "server_utc": stored(now()), "writable": writable, "states": states}
    return JSONResponse(content, headers={"cache-control": "no-store"})


def _now(of: list[list[str]]) -> tuple[bool, list[dict[str, Any]]]:
    return _can_save(), [state for one in of if (state := _state(*one))]


def _state(attempt: str, sheet: str, observer: str, version: str) -> dict[str, Any] | None:
    """What a pad is to show now, or None where it shows that already or nothing can be said."""
    try:
        course = running()
        state = course.state(course.ledger, attempt, sheet, observer)
    except CourseError:
        return None
    if state is None or state["version"] == version:
        return None
    return {"attempt": attempt, "sheet": sheet, **state, "order": drawn_order(state.get("order"))}


def _can_save() -> bool:
    try:
        return running().writable()
    except (CourseError, OSError):
        return False


async def font(request: Request) -> Response:
    """Send one of the font files of the look."""
    found = theme.font_bytes(request.path_params["name"])
    if found is None:
        return Response(status_code=404)
    return Response(found, media_type="font/ttf", headers={"cache-control": "public, max-age=604800"})


def routes() -> list[Route]:
    """Return the routes of our own that stand beside Streamlit's."""
    return [
        Route(MARKS, take_marks, methods=["POST"]),
        Route(PULSE, pulse, methods=["GET"]),
        Route(theme.FONT_ROUTE + "/{name}", font, methods=["GET"]),
    ]


# --- starting ------------------------------------------------------------------------------------------------------


def streamlit_config(host: str, port: int) -> dict[str, Any]:
    """Return Streamlit's options: our look, nothing sent anywhere, sessions that outlast a sleeping tablet."""
    return {
        "server.address": host,
        "server.port": port,
        "server.headless": True,
        "server.fileWatcherType": "none",
        "server.runOnSave": False,
        "server.disconnectedSessionTTL": 3600,
        "server.maxUploadSize": 16,
        "server.maxMessageSize": 64,
        "server.xsrfCookieSameSite": "strict",
        # without it Streamlit asks a service on the internet for this machine's address
        "browser.serverAddress": "localhost" if host in ("127.0.0.1", "0.0.0.0", "::") else host,  # noqa: S104
        "browser.serverPort": port,
        "browser.gatherUsageStats": False,
        "client.toolbarMode": "minimal",
        "client.showErrorLinks": False,
        "client.showErrorDetails": "none",
        "client.showSidebarNavigation": True,
        "logger.hideWelcomeMessage": True,
        "logger.level": "warning",
        "logger.enableRich": False,  # it would print the text of an error, past the log
        "runner.magicEnabled": False,
        "runner.postScriptGC": False,  # to look through all of memory after each run took longer than the run
        **theme.streamlit_theme(),
    }


def build_app(
    script: Path,
    *,
    port: int,
    keys: Keys | None,
    names: Iterable[str] = (),
    further: Sequence[Route] = (),
    ready: Callable[[], None] = lambda: None,
    log: Log | None = None,
    sessions: Sessions | None = None,
) -> st.App:
    """Return the whole application: log, gate, door, own routes, pages. `ready` is called once it can answer."""

    @contextlib.asynccontextmanager
    async def lifespan(_: st.App) -> AsyncIterator[dict[str, Any] | None]:
        gc.freeze()  # what has been loaded by now is never rubbish: it need not be looked through again
        ready()
        yield None

    own = [*routes(), *further]
    pages, templates = menu.addresses(), [SIGN_IN, *door.PATHS, door.STILL, *(route.path for route in own)]
    requests = Middleware(Requests, log=log, pages=pages, routes=templates)
    gate = Middleware(Gate, port=port, keys=keys, names=tuple(names))
    doors = [Middleware(door.Door, sessions=sessions)] if sessions else []
    return st.App(script, routes=own, middleware=[requests, gate, *doors], lifespan=lifespan)


def refuse_busy_port(host: str, port: int) -> None:
    """Raise BusyError where another program already listens on the port."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise BusyError(
                f"Port {port} on {host} cannot be used: {error.strerror}. Close the other program; or give another "
                "port, knowing that taps waiting on a tablet stay under the old address. Nothing was changed."
            ) from error


def serve(
    folder: Path,
    *,
    host: str | None = None,
    port: int = PORT,
    share: bool = False,
    renew_code: bool = False,
    names: Iterable[str] = (),
    further: Sequence[Route] = (),
    script: Path = SCREENS / "app.py",
    state_folder: Path | None = None,
    say: Callable[[str], None] = click.echo,
    beginning: Mapping[str, Any] | None = None,
) -> None:
    """Start the screens and stay until Ctrl-C or SIGTERM; `start` was called before.

    Args:
        folder: the centre's folder, for the line that is said.
        host: address to listen on; this machine only unless shared.
        port: one port for good, so that waiting taps find their way.
        share: let other machines in, with the code that is said.
        renew_code: make a new code, so that machines known by the old one have to sign in again.
        names: further host names under which this machine is known.
        further: routes of other screens' own.
        script: the entry of the screens.
        state_folder: where the code is kept; the user's own state folder by default.
        say: where the line with the address goes.
        beginning: what else to log of the opening; nothing personal.

    Raises:
        BusyError: the port is taken.
        StorageError: the code or the sessions cannot be kept, or the log not be written.
    """
    running()
    address = host or ("0.0.0.0" if share else "127.0.0.1")  # noqa: S104 - sharing is what was asked for
    refuse_busy_port(address, port)
    keys = keys_in(state_folder or device.state_folder(), renew_code=renew_code) if share else None
    _shared[:] = [share]
    known = [*own_names(), *names] if share else list(names)
    lines, sessions = _lines(folder, port, keys, known), sessions_of(current_ledger)
    log = begin()
    without_server_name()
    app = build_app(
        script, port=port, keys=keys, names=known, further=further, ready=lambda: say("\n".join(lines)), log=log,
        sessions=sessions,
    )  # fmt: skip
    door.open_door(sessions)
    logging.getLogger("uvicorn").setLevel(logging.WARNING)
    log.write(said="open", shared=share, **(beginning or {}))
    before = signal.signal(signal.SIGTERM, _end)
    try:
        app.run(config=streamlit_config(address, port))
    except KeyboardInterrupt:
        say("Closed. Everything that was acknowledged is saved.")
    finally:
        door.open_door(None)
        log.write(said="closed")
        signal.signal(signal.SIGTERM, before)


def _lines(folder: Path, port: int, keys: Keys | None, names: Sequence[str]) -> list[str]:
    lines = [f"{folder.name} is open at http://localhost:{port} (Ctrl-C ends it)"]
    if keys and names:
        places = [f"http://{place}:{port}" for place in (names[0], own_address()) if place]
        lines.append(f"Other machines: {' or '.join(places)} with the code {keys.code}")
    return lines


def _end(*_: object) -> None:
    raise SystemExit(0)  # so that whoever called `serve` closes the ledger on the way out
