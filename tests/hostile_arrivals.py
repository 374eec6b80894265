"""Files that are shown as transfer files of another centre: what is none, cut, altered, made up, or malicious."""

from __future__ import annotations

import json
from typing import Any

from centre_builder import Centre
from hostile_desk import Drive, Said
from hostile_fields import from_elsewhere
from hostile_screens import BYTES

from course.actions import arrivals
from course.asker import asking
from course.errors import CourseError
from course.exchange.paper_file import read_paper


def arriving(made: Any, text: str) -> Said:
    """Bytes by a name, or changes to what a good file carries, in JSON, signed by the same key."""
    c: Centre = made
    good, asker = from_elsewhere(), asking()
    actor = asker.person if asker else c.lead
    content = BYTES.get(text) or {"half": good.signed[: len(good.signed) // 2], "altered": good.altered}.get(text)
    if content is None:
        content = b"" if text in BYTES else good.remade(**json.loads(text))
    try:
        arrivals.note_arrival(c.ledger, actor, c.course, c.amaru, read_paper(content), good.keys, "I know him.")
    except CourseError as error:
        return Said(refused=error.sentence)
    (arrived,) = c.view().arrivals
    return Said(kept=str(c.ledger.private(arrived)["centre_name"]), events=1)


def _ready(c: Centre) -> Centre:
    from_elsewhere()  # made before anybody is signed in
    return c


ARRIVALS = {"Ready: transfer file": Drive("arrivals", _ready, arriving)}
