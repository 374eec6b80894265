"""A line to a database server that is thrown away once the server kept silent for too long; see `patience`."""

from __future__ import annotations

from collections.abc import Generator
from time import monotonic
from typing import Any

import psycopg

from course.storage.patience import within_s


class Line(psycopg.Connection[Any]):
    """As the driver's own, but nobody waits for ever."""

    def wait(self, gen: Generator[Any, Any, Any], *how: Any, **named: Any) -> Any:
        """Wait for all that a statement or a commit sends and hears."""
        return super().wait(self._heard(gen), *how, **named)

    def _heard(self, gen: Generator[Any, Any, Any]) -> Generator[Any, Any, Any]:
        """Hand on what the driver asks and is told; where nothing came it looks up every tenth of a second."""
        silent_since = 0.0
        try:
            wanted = next(gen)
            while True:
                ready = yield wanted
                if ready:
                    silent_since = 0.0
                else:
                    silent_since = silent_since or monotonic()
                    self._refuse_silence(monotonic() - silent_since)
                wanted = gen.send(ready)
        except StopIteration as end:
            return end.value

    def _refuse_silence(self, seconds: float) -> None:
        within = within_s()
        if within is not None and seconds > within:
            self.close()
            raise psycopg.OperationalError(f"the server gave no answer within {within:.0f} s")
