"""What it costs that every request is asked who it comes from; and signing in, against one hash of a password.

Two servers with the same small centre run beside each other: one without accounts, one where the lead is signed in.
Each is asked in turn, over a new connection each time (a kept one waits for the acknowledgement of the answer's head,
40 ms, which would hide everything), and the ratio of the medians is told: of the pads' pulse, of an empty
list of taps, and of one tap that is saved. Signing in is told against `is_right` alone, with the parameters in use.

Run: `python tests/benchmarks/guarded_request.py [REQUESTS]`. Milliseconds belong to this machine; the ratios are aimed
at: a guarded request under 1.3 of an unguarded one.
"""

from __future__ import annotations

import http.client
import json
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from urllib.parse import urlencode

sys.path.insert(0, str(Path(__file__).parent.parent))
os.environ.setdefault("LOOPLEDGER_STATE", tempfile.mkdtemp())

from centre_builder import Centre, build_centre, shipped_standards
from running_centre import RunningCentre

from course.actions import accounts
from course.answers.accounts import account_of
from course.moments import new_id, now
from course.screens.door import COOKIE
from course.storage.ledger import open_ledger
from course.storage.passwords import is_right

REQUESTS, SIGN_INS = 300, 5
NAME, WORDS = "tamsin", "violet anchors rarely whistle"


class Client:
    """Asks one server."""

    def __init__(self, running: RunningCentre, cookie: str = "") -> None:
        self.port = running.port
        self.headers = {"X-Course": "pad", "Content-Type": "application/json"}
        if cookie:
            self.headers["Cookie"] = cookie

    def ask(self, method: str, path: str, body: str | None = None, headers: dict[str, str] | None = None) -> str:
        """Send one request; return the cookie that it was answered with."""
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)) as connection:
            connection.request(method, path, body, headers or self.headers)
            answer = connection.getresponse()
            answer.read()
        if answer.status not in (200, 303):
            raise RuntimeError(f"{method} {path}: {answer.status}")
        return (answer.headers.get("set-cookie") or "").split(";")[0]


def made(folder: Path, *, with_account: bool) -> tuple[Centre, str, str]:
    """The small centre with one attempt open on the pad, with or without an account."""
    with build_centre(folder, shipped_standards()) as ids:
        opened = ids.open()
        if with_account:
            accounts.make_account(ids.ledger, ids.lead, ids.lead, name=NAME, password=WORDS)
        return ids, opened.attempt, opened.sheet


def a_tap(ids: Centre, attempt: str, sheet: str) -> str:
    """One mark as a pad sends it; a new one each time."""
    step = shipped_standards().skills["mp-close-out"].steps[0].id
    item = {
        "id": new_id(), "attempt": attempt, "student": ids.amaru, "sheet": sheet, "kind": "marks_given/1",
        "body": {"marks": [{"step": step, "mark": "done"}]}, "clock_offset_ms": 0,
        "tapped_at": f"{now():%Y-%m-%dT%H:%M:%S.000Z}",
    }  # fmt: skip
    return json.dumps({"items": [item]})


def seconds(act: Callable[[], object]) -> float:
    """How long it takes once."""
    began = time.perf_counter()
    act()
    return time.perf_counter() - began


def told(what: str, floor: list[float], measured: list[float]) -> None:
    """Print the medians and their ratio."""
    low, high = statistics.median(floor), statistics.median(measured)
    sys.stdout.write(f"{what}: {low * 1000:.2f} ms -> {high * 1000:.2f} ms, ratio {high / low:.2f}\n")


def requests(count: int, folder: Path) -> None:
    """Unguarded against guarded."""
    centres = [made(folder / name, with_account=name == "guarded") for name in ("open", "guarded")]
    running = [RunningCentre(folder / "open"), RunningCentre(folder / "guarded")]
    try:
        for one in running:
            one.start()
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        cookie = Client(running[1]).ask("POST", "/course/enter", urlencode({"name": NAME, "password": WORDS}), form)
        assert cookie.startswith(COOKIE)
        clients = (Client(running[0]), Client(running[1], cookie))
        kinds: dict[str, Callable[[int], object]] = {
            "pulse": lambda n: clients[n].ask("GET", "/course/pulse"),
            "empty list": lambda n: clients[n].ask("POST", "/course/marks", '{"items": []}'),
            "one tap saved": lambda n: clients[n].ask("POST", "/course/marks", a_tap(*centres[n])),
        }
        for what, act in kinds.items():
            times: tuple[list[float], list[float]] = ([], [])
            for turn in range(count + 10):
                for n in (turn % 2, 1 - turn % 2):
                    took = seconds(lambda act=act, n=n: act(n))  # type: ignore[misc]
                    if turn >= 10:
                        times[n].append(took)
            told(what, *times)
    finally:
        for one in running:
            one.stop()


def signing_in(folder: Path) -> None:
    """One look at a password against the whole of signing in."""
    with open_ledger(folder / "guarded") as ledger:
        person = next(one.id for one in ledger.facts("person") if account_of(ledger, one.id))
        account = account_of(ledger, person)
    running = RunningCentre(folder / "guarded")
    running.start()
    try:
        form = {"Content-Type": "application/x-www-form-urlencoded"}
        body = urlencode({"name": NAME, "password": WORDS})
        client = Client(running)
        whole = [seconds(lambda: client.ask("POST", "/course/enter", body, form)) for _ in range(SIGN_INS)]
    finally:
        running.stop()
    assert account is not None
    told("signing in, against one hash", [seconds(lambda: is_right(account.password, WORDS)) for _ in range(5)], whole)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as where:
        requests(int(sys.argv[1]) if len(sys.argv) > 1 else REQUESTS, Path(where))
        signing_in(Path(where))
