"""Which tablets were heard of since the program started, when, and how many marks wait on each. In memory only."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from threading import Lock

from course.moments import now
from course.words import plural

MOST_TABLETS = 200
CLOCK_FAR_OFF = timedelta(minutes=2)
"""From here on a tablet is told that its clock is wrong; its times are put right all the same."""
_ID = re.compile(r"^[0-9A-Z]{8}$")


@dataclass(frozen=True)
class Tablet:
    """One tablet, as far as it was heard of."""

    id: str
    last_seen: datetime
    waiting: int
    refused: int = 0
    observer: str = ""
    """Id of the person who marked on it last, where a pad was open."""
    clock_offset_ms: int | None = None
    """How much is added to its clock to have ours."""

    @property
    def label(self) -> str:
        """What it is called on screen; the same stands on the tablet."""
        return f"tablet {self.id[:4]}"

    @property
    def clock_is_far_off(self) -> bool:
        """Whether its clock is so wrong that somebody should set it."""
        return abs(timedelta(milliseconds=self.clock_offset_ms or 0)) >= CLOCK_FAR_OFF


_heard: dict[str, Tablet] = {}
_hearing = Lock()


def heard(tablet: str, waiting: str, refused: str = "0", observer: str = "", clock_offset_ms: str = "") -> None:
    """Note what a tablet tells of itself; what makes no sense is not noted, since marks must not wait for it."""
    numbers = [text for text in (waiting, refused or "0") if text.isascii() and text.isdigit() and len(text) < 6]
    if not _ID.fullmatch(tablet) or len(numbers) != 2:
        return
    offset = int(clock_offset_ms) if re.fullmatch(r"-?[0-9]{1,12}", clock_offset_ms) else None
    one = Tablet(tablet, now(), int(waiting), int(refused or "0"), observer[:36], offset)
    with _hearing:
        before = _heard.pop(tablet, one)
        _heard[tablet] = replace(one, observer=one.observer or before.observer)  # the newest stands last
        while len(_heard) > MOST_TABLETS:
            _heard.pop(next(iter(_heard)))


def forget_all() -> None:
    """Begin anew, as a program that was just started."""
    with _hearing:
        _heard.clear()


def seen() -> list[Tablet]:
    """Every tablet that was heard of since the program started, the newest first.

    A tablet that is asleep is in here with what it told last; one that never opened a pad is not.
    """
    with _hearing:
        return list(reversed(_heard.values()))


def tablets_line(names: dict[str, str], at: datetime) -> str:
    """The tablets in one line for a page: "tablet 3F7A (Bruno) just now, all saved · tablet 88C1 12 min ago, ...".

    Args:
        names: person id to name.
        at: the moment from which "ago" is counted.
    """
    return " · ".join(_words(tablet, names, at) for tablet in seen())


def _words(tablet: Tablet, names: dict[str, str], at: datetime) -> str:
    minutes = int((at - tablet.last_seen).total_seconds() // 60)
    ago = "just now" if minutes < 1 else f"{minutes} min ago" if minutes < 120 else f"{minutes // 60} h ago"
    who = f" ({names[tablet.observer]})" if tablet.observer in names else ""
    waits = f"{plural(tablet.waiting, 'mark')} waiting" if tablet.waiting else "all saved"
    more = [f"{tablet.refused} not taken"] if tablet.refused else []
    more += ["its clock is off"] if tablet.clock_is_far_off else []
    return ", ".join([f"{tablet.label}{who} {ago}", waits, *more])
