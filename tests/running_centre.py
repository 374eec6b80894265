"""A centre's server as a child process, and a real Chromium at tablet size: for journeys and for pictures."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

TABLET = {"width": 820, "height": 1180}
CHROMIUM = "/usr/bin/chromium-headless-shell"
"""Chromium without windows of its own."""
QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--process-per-site",  # tabs share what one of them compiled
]  # fmt: skip


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class RunningCentre:
    """`course open` on a folder, on a port that stays the same over restarts."""

    folder: Path
    port: int = field(default_factory=free_port)
    child: subprocess.Popen[str] | None = None

    @property
    def address(self) -> str:
        return f"http://localhost:{self.port}"

    def start(self) -> None:
        command = [sys.executable, "-m", "course", "open", str(self.folder), "--port", str(self.port)]
        log = self.folder.with_suffix(".log").open("a", encoding="utf-8")
        self.child = subprocess.Popen(command, stdout=log, stderr=log, text=True, env=os.environ.copy())
        until = time.monotonic() + 60
        while not self._answers():
            if self.child.poll() is not None or time.monotonic() > until:
                raise RuntimeError(self.folder.with_suffix(".log").read_text())
            time.sleep(0.1)

    def _answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.address}/course/pulse", timeout=2) as answer:  # noqa: S310 - our own
                return bool(answer.status == 200)
        except urllib.error.HTTPError as error:
            return error.code == 401  # it asks to sign in
        except (urllib.error.URLError, OSError):
            return False

    def kill(self) -> int:
        """SIGKILL, in the middle of whatever it does; returns the return code."""
        if self.child is None:
            raise RuntimeError("the server was not started")
        self.child.send_signal(signal.SIGKILL)
        return self.child.wait(timeout=20)

    def stop(self) -> None:
        if self.child and self.child.poll() is None:
            self.child.terminate()
            try:
                self.child.wait(timeout=20)
            except subprocess.TimeoutExpired:
                self.kill()


@contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser
        browser.close()
