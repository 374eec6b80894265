"""How long somebody who gave wrong codes has to wait before the next one is looked at."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from ipaddress import IPv6Address, ip_address


@dataclass
class Guesses:
    """Slows wrong guesses down: for each address ever more, up to a minute, and for all together a little.

    `clock` gives seconds that never run backwards.
    """

    clock: Callable[[], float] = time.monotonic
    most_addresses: int = 1000
    _wrong: dict[str, tuple[int, float]] = field(default_factory=dict)
    _spare: float = 20.0
    _at: float = 0.0

    def wait_seconds(self, address: str) -> int:
        """Return how many whole seconds this address has to wait before a guess is looked at; 0: none."""
        now = self.clock()
        _, free_at = self._wrong.get(neighbourhood(address), (0, 0.0))
        own = free_at - now
        together = 0.0 if self._refilled(now) >= 1 else 3.0
        waiting = max(own, together)
        return max(0, int(waiting) + (waiting > int(waiting)))

    def missed(self, address: str) -> None:
        """Note a wrong guess."""
        now, place = self.clock(), neighbourhood(address)
        count = self._wrong.pop(place, (0, 0.0))[0] + 1
        self._wrong[place] = (count, now + min(2.0 ** (count - 1), 60.0))
        self._spare, self._at = self._refilled(now) - 1, now
        while len(self._wrong) > self.most_addresses:
            self._wrong.pop(next(iter(self._wrong)))

    def right(self, address: str) -> None:
        """Forget the wrong guesses of an address that gave the code."""
        self._wrong.pop(neighbourhood(address), None)

    def _refilled(self, now: float) -> float:
        return min(20.0, self._spare + (now - self._at) / 3.0)  # one guess every three seconds comes back


def neighbourhood(address: str) -> str:
    """Return the address, or for IPv6 its /64: one machine has all of those."""
    try:
        parsed = ip_address(address)
    except ValueError:
        return address
    return ":".join(parsed.exploded.split(":")[:4]) if isinstance(parsed, IPv6Address) else address
