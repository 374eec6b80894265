"""A wire between a tablet and a running centre that can be cut and mended: a TCP proxy that changes no byte.

It listens on a second loopback address under the centre's own port, so that the Host a tablet names is still one of
the centre's. Playwright's `set_offline` would leave an open websocket alive; this cuts whatever runs over it.
"""

from __future__ import annotations

import contextlib
import socket
import threading

ADDRESS = "127.0.0.2"
BLOCK = 65536


class Wire:
    """One wire, whole at first."""

    def __init__(self, port: int) -> None:
        self.port = port
        self._open: set[socket.socket] = set()
        self._guard = threading.Lock()
        self._listener: socket.socket | None = None
        self.mend()

    @property
    def address(self) -> str:
        """Where the tablet finds the centre."""
        return f"http://{ADDRESS}:{self.port}"

    def mend(self) -> None:
        """Let connections through, from now on."""
        self._listener = socket.create_server((ADDRESS, self.port), backlog=64)
        threading.Thread(target=self._accept, args=(self._listener,), daemon=True).start()

    def cut(self) -> None:
        """Break every connection at once and take no new one."""
        with self._guard:
            listener, self._listener = self._listener, None
            broken, self._open = self._open, set()
        for one in (*broken, *((listener,) if listener else ())):
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()

    def _accept(self, listener: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                tablet, _ = listener.accept()
                centre = socket.create_connection(("127.0.0.1", self.port))
                with self._guard:
                    whole = self._listener is listener
                    self._open |= {tablet, centre} if whole else set()
                for one, other in ((tablet, centre), (centre, tablet)) if whole else ():
                    threading.Thread(target=self._carry, args=(one, other), daemon=True).start()
                if not whole:
                    tablet.close()
                    centre.close()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while block := one.recv(BLOCK):
                other.sendall(block)
        with contextlib.suppress(OSError):
            other.shutdown(socket.SHUT_WR)
