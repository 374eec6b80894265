"""A small course for the browser tests of the pad: an invented student, eight steps, and a store of JSON lines.

Run as a program it starts the real server (gate, routes, Streamlit, component) over that store:
`python tests/pad_browser.py FOLDER PORT`. Killing it and starting it again is what the tests do.
"""

from __future__ import annotations

import json
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ATTEMPT = "0199a000-0000-7000-8000-00000000a001"
OTHER_ATTEMPT = "0199a000-0000-7000-8000-00000000a002"
SHEET = "0199a000-0000-7000-8000-00000000b001"
OTHER_SHEET = "0199a000-0000-7000-8000-00000000b002"
STUDENT = "0199a000-0000-7000-8000-00000000c001"
OTHER_STUDENT = "0199a000-0000-7000-8000-00000000c002"
OBSERVER = "0199a000-0000-7000-8000-00000000d001"
SECOND = "0199a000-0000-7000-8000-00000000d002"
CENTRE = "0199a000-0000-7000-8000-00000000e001"
STUDENTS = {ATTEMPT: STUDENT, OTHER_ATTEMPT: OTHER_STUDENT}


def error(letter: str, id_: str, label: str, consequence: str, *, critical: bool = False) -> dict[str, Any]:
    return {"id": id_, "letter": letter, "label": label, "consequence": consequence, "critical": critical}


def step(number: int, id_: str, do: str, **more: Any) -> dict[str, Any]:
    plain = {
        "id": id_, "number": number, "do": do, "why": "", "can_be_critical": False, "if_left_out": None,
        "applies": True,
        "errors": [error("a", f"{id_}-a", "Done half", "The next step starts from a wrong state.")],
        "limit": None, "after": [], "after_critical": [],
    }  # fmt: skip
    return {**plain, **more}


HOLD = {
    "quantity": "time", "word": "watched for", "unit": "s", "at_least": "60", "at_most": None,
    "from": "draw", "error": "hold-short", "needs_value": True,
}  # fmt: skip
STEPS = [
    step(1, "say", "Say what is about to be shown and point to the parts."),
    step(2, "shut", "Shut the gas, close the dump, keep all additions off.", can_be_critical=True,
         if_left_out="critical",
         errors=[
             error("a", "gas-on", "Gas left on", "The loop refills itself and the leak stays hidden.", critical=True),
             error("b", "dump-open", "Dump left open", "The loop draws no negative and the test says nothing."),
         ]),
    step(3, "draw", "Draw the loop down by mouth, then close the mouthpiece.", after=["shut"], after_critical=["shut"],
         can_be_critical=True),
    step(4, "hold", "Mark how the lungs lie, start the clock and wait the manual's time.", can_be_critical=True,
         if_left_out="critical", after=["shut", "draw"], limit=HOLD,
         errors=[error("a", "hold-short", "Waited less than the manual says",
                       "A slow leak is not seen and water reaches the scrubber on the dive.", critical=True)]),
    step(5, "read", "Read the lungs against the mark and say the result.", after=["shut", "draw", "hold"]),
    step(6, "wing", "Check the second wing the same way.", applies=False),
    step(7, "open", "Open the mouthpiece slowly and let the loop fill.", after=["shut", "draw", "hold", "read"]),
    step(8, "list", "Tick the result on the list and put the initials beside it."),
]  # fmt: skip


def pad_data(attempt: str, marks: list[dict[str, Any]] | None = None, **more: Any) -> dict[str, Any]:
    """The pad's data of one attempt with nothing tapped yet."""
    is_first = attempt == ATTEMPT
    return {
        "attempt": attempt,
        "sheet": SHEET if is_first else OTHER_SHEET,
        "student": {"id": STUDENTS[attempt], **({"name": "Halima Ndiaye", "tag": "cap 4"} if is_first else
                                                {"name": "Halina Nowak", "tag": "cap 7"})},
        "skill": {
            "id": "chk-negative", "title": "Negative pressure test", "purpose": "Shows that the loop keeps water out.",
            "caution": "Times come from the unit's manual; a doubtful test is made again before any water.",
        },
        "unit": "A-05 (Unit type A)", "setting": "pool", "number": 3,
        "observer": {"id": OBSERVER, "name": "Ines Duarte"}, "capacity": "evaluating",
        "persons": [{"id": OBSERVER, "name": "Ines Duarte"}, {"id": SECOND, "name": "Jonas Weber"}],
        "steps": STEPS, "marks": marks or [], "values": [], "whole_clean": None, "orders": [], "first_taps": [],
        "ending": None, "critical_now": [], "turn": STUDENTS[attempt], "unit_type": "type-a", "within": None,
        "outcome": "", "others": [], "opens": None, "shut": "", "frozen": False, "left": "", "version": "",
        "events": [],
        "staff": {OBSERVER: "Ines Duarte", SECOND: "Jonas Weber"}, **more,
    }  # fmt: skip


def line_of(*pads: dict[str, Any]) -> dict[str, Any]:
    """A line of students with one attempt each, as the pad is handed it."""
    students = [{"id": pad["student"]["id"], "name": pad["student"]["name"]} for pad in pads]
    return {"centre": CENTRE, "line": pads[0]["attempt"], "students": students, "pads": list(pads), "also": {}}


@dataclass(frozen=True)
class Answer:
    saved: tuple[str, ...]
    refused: tuple[tuple[str, str], ...]


class Store:
    """Items as JSON lines, each on the disk before it is called saved; an id counts once. A centre without accounts."""

    centre_id = "00000000-0000-7000-8000-000000000000"

    def __init__(self, folder: Path) -> None:
        self.file = folder / "items.jsonl"

    def heads(self) -> tuple[Any, ...]:
        """No chain: what is known of accounts is asked once."""
        return ()

    def facts(self, *_kinds: Any, **_more: Any) -> tuple[Any, ...]:
        """No account, and so no sign-in."""
        return ()

    def items(self) -> list[dict[str, Any]]:
        lines = self.file.read_text(encoding="utf-8").splitlines() if self.file.exists() else []
        return [json.loads(line) for line in lines]

    def add(self, item: dict[str, Any]) -> None:
        with self.file.open("a", encoding="utf-8") as out:
            out.write(json.dumps(item) + "\n")
            out.flush()
            os.fsync(out.fileno())


def take(store: Store, items: list[dict[str, Any]]) -> Answer:
    """Keep what belongs together; refuse what names another student than the attempt's."""
    known = {item["id"] for item in store.items()}
    saved, refused = [], []
    for item in items:
        if STUDENTS.get(item["attempt"]) != item["student"]:
            refused.append(
                (
                    item["id"],
                    "This tap names another student than the attempt has. Open the attempt again and mark it there.",
                )
            )
            continue
        if item["id"] not in known:
            store.add(item)
            known.add(item["id"])
        saved.append(item["id"])
    return Answer(tuple(saved), tuple(refused))


def folded(store: Store, attempt: str) -> dict[str, Any]:
    """The pad's data as the ledger would answer it, with what is in the store."""
    items = [item for item in store.items() if item["attempt"] == attempt]
    gone = {item["body"]["withdraws"] for item in items if item["kind"] == "withdrawn/1"}
    given = [(item, line) for item in items if item["kind"] == "marks_given/1" for line in item["body"]["marks"]]
    live = [(item, line) for item, line in given if item["id"] not in gone]
    replaced = {(line["step"], event) for _, line in live for event in line.get("replaces", [])}
    marks = [
        {"event": item["id"], "note": (item["body"].get("notes") or {}).get(line["step"]),
         **{key: value for key, value in line.items() if key != "replaces"}}
        for item, line in live if (line["step"], item["id"]) not in replaced
    ]  # fmt: skip
    bodies = {kind: [i for i in items if i["kind"] == kind and i["id"] not in gone] for kind in
              ("value_measured/1", "order_answered/1", "whole_attempt_clean/1", "attempt_closed/1")}  # fmt: skip
    taken_over = {event for i in bodies["value_measured/1"] for event in i["body"].get("replaces", [])}
    first: dict[str, str] = {}
    for item, line in given:
        first.setdefault(line["step"], item["tapped_at"])
    lines = {
        kind: [{"event": i["id"], **{k: v for k, v in i["body"].items() if k != "replaces"}} for i in of]
        for kind, of in bodies.items()
    }
    return pad_data(
        attempt,
        marks,
        values=[line for line in lines["value_measured/1"] if line["event"] not in taken_over],
        orders=lines["order_answered/1"],
        whole_clean=next((i["id"] for i in bodies["whole_attempt_clean/1"]), None),
        first_taps=[[step_id, at] for step_id, at in first.items()],
        ending=next((i["body"] for i in bodies["attempt_closed/1"]), None),
        events=[item["id"] for item in items],
    )


SCRIPT = """
import sys
import streamlit as st
from course.screens.serve import current_ledger
from course.screens.step_pad import show_mark_style, show_pad, show_page_style
sys.path.insert(0, {here!r})
from pad_browser import ATTEMPT, folded, line_of

st.set_page_config(page_title="Mark", layout="wide", initial_sidebar_state="collapsed")
show_page_style()
show_mark_style()
told = show_pad(line_of(folded(current_ledger(), st.query_params.get("attempt", ATTEMPT))))
with (current_ledger().file.parent / "told.txt").open("a") as out:
    out.write(f"{{told.saved}} {{told.closed}}\\n")
"""


def main(folder: Path, port: int, *, share: bool = False) -> None:
    from course.screens import serve

    script = folder / "stub_app.py"
    script.write_text(SCRIPT.format(here=str(Path(__file__).parent)), encoding="utf-8")
    serve.start(Store(folder), take, writable=lambda: not (folder / "full").exists())
    serve.serve(folder, port=port, script=script, share=share, state_folder=folder / "state")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), share="--share" in sys.argv)
