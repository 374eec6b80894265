"""Under which names and address other machines find this one."""

from __future__ import annotations

import contextlib
import socket


def own_names() -> list[str]:
    """Return the names under which other machines may know this one."""
    name = socket.gethostname().lower()
    short = name.split(".")[0]
    return list(dict.fromkeys((f"{short}.local", short, name)))


def own_address() -> str | None:
    """Return this machine's address on its network, or None without one. Nothing is sent: a route is looked up."""
    with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for documentation (RFC 5737)
        except OSError:
            return None
        return str(probe.getsockname()[0])
