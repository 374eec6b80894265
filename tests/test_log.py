"""The log of the running program: routes, ends and times; no name, no address as asked, no text of an error."""

from __future__ import annotations

import json
import logging
import stat
import sys
import threading
import urllib.error
import urllib.request
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asgi_call import call
from centre_builder import ODD_NAME, build_centre, shipped_standards
from click.testing import CliRunner
from running_centre import RunningCentre

from course.commands import main
from course.commands.group import TRACE
from course.errors import BusyError, ExitCode, StorageError
from course.screens import log as logs
from course.screens import menu, serve
from course.storage.device import log_file

CANARY = "Quillonbright"


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[logs.Log]:
    """A log through which all of this process goes, taken off again."""
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    before = logging.getLogRecordFactory()
    begun = logs.begin(tmp_path / "log" / "loopledger.jsonl")
    yield begun
    logging.setLogRecordFactory(before)
    logging.captureWarnings(capture=False)
    begun.close()


def lines(log: logs.Log) -> list[dict[str, Any]]:
    return [json.loads(line) for line in log.file.read_text("ascii").splitlines()]


async def inner(scope: Any, receive: Any, send: Any) -> None:
    """Stands for everything behind the log."""
    if scope["path"] == f"/{CANARY}/breaks":
        raise ValueError(f"{CANARY} cannot be read")
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    await send({"type": "http.response.start", "status": 404 if "nothing" in scope["path"] else 200, "headers": []})
    await send({"type": "http.response.body", "body": b"inside"})


def layer(log: logs.Log) -> logs.Requests:
    return logs.Requests(inner, log=log, pages=menu.addresses(), routes=["/course/marks", "/course/font/{name}"])


def test_a_request_is_one_line_with_route_end_and_time_and_the_asker_gets_its_number(log: logs.Log) -> None:
    reply = call(layer(log), path=f"/mark?student={CANARY}")
    (line,) = lines(log)
    assert line.keys() == {"at", "level", "request", "method", "route", "status", "ms"}
    assert (line["method"], line["route"], line["status"]) == ("GET", "/mark", 200)
    assert reply.headers["x-request-id"] == line["request"]
    assert line["ms"] >= 0


@pytest.mark.parametrize(
    ("path", "route"),
    [("/", "/"), ("/standings", "/standings"), ("/course/font/Fira.ttf", "/course/font/{name}"),
     (f"/{CANARY}", "other"), (f"/_stcore/{CANARY}", "/_stcore/*"), ("/privacy", "/privacy")],
)  # fmt: skip
def test_an_address_is_told_as_its_route_and_never_as_it_was_asked(log: logs.Log, path: str, route: str) -> None:
    assert layer(log).route(path) == route


def test_what_says_nothing_is_not_written_and_what_went_wrong_is(log: logs.Log) -> None:
    asked = layer(log)
    for path in ("/static/a.js", "/_stcore/health", "/course/pulse"):
        call(logs.Requests(inner, log=log, routes=["/course/pulse"]), path=path)
    assert lines(log) == []
    call(asked, path="/static/nothing.js")
    call(asked, path="/_stcore/stream", kind="websocket")
    assert [(one["method"], one["route"], one["status"]) for one in lines(log)] == [
        ("GET", "/static/*", 404), ("WEBSOCKET", "/_stcore/*", 101)
    ]  # fmt: skip


def test_an_answer_that_breaks_is_written_down_as_such(log: logs.Log) -> None:
    with pytest.raises(ValueError, match=CANARY):
        call(layer(log), path=f"/{CANARY}/breaks")
    (line,) = lines(log)
    assert (line["route"], line["status"]) == ("other", 500)


def test_of_an_error_kind_and_place_are_kept_and_its_text_is_not(
    log: logs.Log, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever logs it: we ourselves, another library with a handler of its own, a thread, the interpreter."""
    other = logging.getLogger("some.library")
    other.addHandler(logging.StreamHandler())
    other.propagate = False

    def broken() -> None:
        try:
            {}[CANARY]
        except KeyError as error:
            raise ValueError(f"no {CANARY}") from error

    try:
        broken()
    except ValueError as error:
        logging.getLogger("course.screens.serve").exception("taking taps failed")
        other.error("could not do %s", CANARY, exc_info=error)
        other.warning(f"{CANARY} was late")
        sys.excepthook(ValueError, error, error.__traceback__)
    thread = threading.Thread(target=broken)
    thread.start()
    thread.join()
    warnings.warn(f"{CANARY} is old", stacklevel=1)
    told = lines(log)
    assert len(told) == 6
    assert told[0]["said"].startswith("taking taps failed (ValueError at ")
    assert told[0]["error"] == ["ValueError", "KeyError"]
    assert "test_log.py" in told[0]["at"][-1]
    assert CANARY not in log.file.read_text() + "".join(capsys.readouterr())


def test_a_page_that_breaks_leaves_no_text_on_the_screen_of_whoever_runs_it(
    log: logs.Log, capsys: pytest.CaptureFixture[str]
) -> None:
    """Streamlit would print the text with a drawing around it; the options that it is started with forbid that."""
    from streamlit import config, error_util

    assert serve.streamlit_config("127.0.0.1", 8571)["logger.enableRich"] is False
    before = config.get_option("logger.enableRich")
    config.set_option("logger.enableRich", False)
    try:
        error_util._log_uncaught_app_exception(ValueError(f"{CANARY} is no day"))
    finally:
        config.set_option("logger.enableRich", before)
    assert lines(log)[-1]["error"] == ["ValueError"]
    assert CANARY not in log.file.read_text() + "".join(capsys.readouterr())


def test_the_log_is_its_owners_and_turns_over_by_size(log: logs.Log, monkeypatch: pytest.MonkeyPatch) -> None:
    assert stat.S_IMODE(log.file.stat().st_mode) == 0o600
    monkeypatch.setattr(log._handler, "maxBytes", 500)
    for number in range(40):
        log.write(said="open", number=number)
    files = sorted(file.name for file in log.file.parent.iterdir())
    assert files == ["loopledger.jsonl", *(f"loopledger.jsonl.{n}" for n in range(1, logs.KEPT_FILES + 1))]
    assert all(file.stat().st_size <= 500 for file in log.file.parent.iterdir())
    assert {stat.S_IMODE(file.stat().st_mode) for file in log.file.parent.iterdir()} == {0o600}


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "log").write_text("a file")
    with pytest.raises(StorageError, match="cannot be written"):
        logs.Log(tmp_path / "log" / "loopledger.jsonl")


def test_a_command_that_is_broken_off_says_that_it_has_to_be_looked_after_and_finds_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ctrl-C may come just after what was asked for was saved; and 1 would say that `verify` found damage."""

    def pressed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("course.commands.health.open_ledger", pressed)
    result = CliRunner().invoke(main, ["health", str(tmp_path)])
    assert result.exit_code == ExitCode.BROKEN_OFF
    assert result.stderr.startswith("Broken off (Ctrl-C). What was saved before is kept. Look whether it is there")


def test_a_command_that_breaks_tells_kind_and_place_and_ends_with_seven(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object, **__: object) -> None:
        raise ValueError(f"{CANARY} is no number")

    monkeypatch.setattr("course.commands.health.open_ledger", breaks)
    result = CliRunner().invoke(main, ["health", str(tmp_path)])
    assert result.exit_code == ExitCode.BROKEN
    assert "ValueError at" in result.stderr
    assert "test_log.py" in result.stderr
    assert CANARY not in result.output
    monkeypatch.setenv(TRACE, "1")
    assert CANARY in str(CliRunner().invoke(main, ["health", str(tmp_path)]).exception)


def test_nothing_personal_is_in_log_output_state_or_headers_of_a_running_server(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Names are in the pages that are asked for, in an address, in taps that are refused."""
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "state"))
    with build_centre(tmp_path / "centre", shipped_standards()):
        pass
    server = RunningCentre(tmp_path / "centre")
    server.start()
    try:
        tap = json.dumps([{"id": CANARY, "kind": f"{CANARY}/1", "body": {"note": ODD_NAME}}]).encode()
        answers = [
            ask(server, f"/mark?student={CANARY}"),
            ask(server, f"/{CANARY}"),
            ask(server, "/course/marks", tap, {"x-course": "pad", "content-type": "application/json"}),
            ask(server, "/course/marks", CANARY.encode(), {"x-course": "pad", "content-type": "application/json"}),
            ask(server, f"/course/pulse?by={CANARY}", headers={"x-course": "pad"}),
        ]
    finally:
        server.stop()
    for headers in answers:
        assert "server" not in headers
        assert headers["cross-origin-opener-policy"] == "same-origin"
        assert headers["permissions-policy"].startswith("camera=()")
        assert CANARY not in str(headers)
    routes = [line.get("route") for line in map(json.loads, log_file().read_text().splitlines())]
    assert routes.count("/course/marks") == 2
    assert "/mark" in routes
    written = {file: file.read_bytes() for file in (tmp_path / "state").rglob("*") if file.is_file()}
    written[server.folder.with_suffix(".log")] = server.folder.with_suffix(".log").read_bytes()
    for word in (CANARY, "Amaru", "Tendelle", "Okoro", "Zoë"):
        assert [file for file, content in written.items() if word.encode() in content] == []


@pytest.mark.parametrize(("shared", "address"), [(False, "127.0.0.1"), (True, "0.0.0.0")])  # noqa: S104
def test_it_listens_on_this_machine_alone_unless_it_is_shared(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, *, shared: bool, address: str
) -> None:
    asked: list[str] = []

    def taken(host: str, _: int) -> None:
        asked.append(host)
        raise BusyError("the port is taken")

    monkeypatch.setattr(serve, "refuse_busy_port", taken)
    monkeypatch.setattr(serve, "_running", [])
    monkeypatch.setattr(serve, "_shared", [])
    serve.start(object(), take=lambda *_: None)  # type: ignore[arg-type,return-value]
    with pytest.raises(BusyError):
        serve.serve(tmp_path, share=shared, state_folder=tmp_path)
    assert asked == [address]


def test_the_code_is_kept_with_what_else_this_device_keeps(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, state_folder: Path
) -> None:
    asked: list[Path] = []

    def no_room(folder: Path, **_: object) -> None:
        asked.append(folder)
        raise StorageError("the code cannot be kept")

    monkeypatch.setattr(serve, "refuse_busy_port", lambda *_: None)
    monkeypatch.setattr(serve, "keys_in", no_room)
    monkeypatch.setattr(serve, "_running", [])
    serve.start(object(), take=lambda *_: None)  # type: ignore[arg-type,return-value]
    with pytest.raises(StorageError):
        serve.serve(tmp_path, share=True)
    assert asked == [state_folder]


def ask(server: RunningCentre, path: str, body: bytes | None = None, headers: dict[str, str] | None = None) -> Any:
    """The headers of an answer, whatever its status."""
    request = urllib.request.Request(f"{server.address}{path}", body, headers or {})  # noqa: S310 - our own
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:  # noqa: S310 - our own
            return {name.lower(): value for name, value in answer.headers.items()}
    except urllib.error.HTTPError as error:
        return {name.lower(): value for name, value in error.headers.items()}
