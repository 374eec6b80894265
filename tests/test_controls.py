"""What can be tapped: every page for every role, by password and by PIN, against the table of rights.

Each control that acts ends its key with the right that it asks for; where it is made says which. The lead's pages are
the measure, in a centre in which much stands open: whoever may act by a control has it too, and nobody else.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from centre_builder import POOL_SKILL, Centre, seen_at
from day_builder import FAULT, Day
from signed_centre import SignedCentre, signed_centre
from test_door import STRENGTHS, allowed, page

from course.access import TABLE, Act, Holder, Right, may, may_by_pin
from course.actions import courses, day, faults, gate_papers, incident, set_points, slates, times, unit_care
from course.actions.times import WaterRow
from course.places import PAGES, SCREENS
from course.screens import controls, menu
from course.screens.amend_forms import MARK, MOVE, WITHDRAW
from course.screens.batch_parts import SEVERAL
from course.screens.day_preview import AUDIT
from course.words import Role, SlipKind


@dataclass(frozen=True)
class Place:
    """A page, what its address asks for, and what was chosen on it."""

    page: str
    query: dict[str, str] = field(default_factory=dict)
    chosen: dict[str, Any] = field(default_factory=dict)


def busy(c: Centre) -> list[Place]:
    """Let things stand open; return every page as it opens, and what opens on some of them."""
    ledger, lead, pool = c.ledger, c.lead, c.sessions["pool-22"]
    c.hold()
    c.open("pool-22", student=c.zoe)
    (slate,) = slates.give_out(ledger, lead, pool, skills=[POOL_SKILL], students=[c.zoe])
    unit_care.hold(ledger, lead, c.unit_b, seen_at(22), "Cell 2 reads low.")
    slip = faults.set_fault(
        ledger, lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault=FAULT, unit=c.unit_a,
        observed=seen_at(21, 14), for_whom=[c.amaru],
    )  # fmt: skip
    courses.make_group(ledger, lead, pool, name="Group P", staff=[lead], students=[c.amaru, c.zoe])
    Day(c).comes(c.amaru)
    times.save_water(ledger, lead, pool, [WaterRow(person=c.amaru, loop_minutes=40)])
    set_points.note_set_point(ledger, lead, pool, "1.2", seen_at(22))
    gate_papers.note_exam(ledger, lead, c.course, c.zoe, day="2026-10-20", mark="40", of="50", items=["Which cell?"])
    incident.freeze(ledger, lead, c.sessions["pool-23"], seen_at(23), None)
    day.close_session(ledger, lead, c.sessions["open-25"], seen_at(25, 17))
    return [*(Place(name) for name in menu.DAILY | menu.OTHERS), *opened(c, slip, slate)]


def opened(c: Centre, slip: str, slate: str) -> list[Place]:
    """Places that an address or a choice opens."""
    pool, cell = c.sessions["pool-22"], {"student": c.amaru, "skill": POOL_SKILL}

    def kept(**choices: str) -> dict[str, Any]:
        return {"kept-choices": {key.replace("_", "-"): value for key, value in choices.items()}}

    return [
        Place("today", {"session": pool}),
        *(Place("course", cell, {"amend-what": what}) for what in (MARK, MOVE, WITHDRAW)),
        Place("ready", {}, kept(sign_off_student=c.amaru)),
        Place("hours", {"session": pool}),
        Place("units", {}, kept(change_student=c.zoe, change_unit=c.unit_b)),
        Place("units", {"unit": c.unit_a}, kept(care_what="service", reading_what="cell_air")),
        Place("units", {"unit": c.unit_b}),
        Place("units", {"slip": slip}),
        Place("slate", {"session": pool, "slate": slate}),
        *(Place("gates", {}, kept(gate_person=person)) for person in (c.zoe, c.candidate)),
        Place("day", {}, {**kept(end_day="2026-10-22"), f"freezing-{pool}": True}),
        Place("day", {}, kept(end_day="2026-10-23")),
        Place("privacy", {}, {"privacy-person": c.candidate}),
        *(Place("papers", {}, {"paper-name": paper}) for paper in (AUDIT, SEVERAL)),
        *(Place("standards", {"view": view}) for view in ("edit", "requirements", "unit-types", "move")),
    ]


@dataclass
class Everything:
    """A busy centre, and what was seen of it so far."""

    signed: SignedCentre
    places: list[Place]
    leads: list[tuple[Place, set[str]]] = field(default_factory=list)
    reached: set[tuple[str, int]] = field(default_factory=set)


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Everything]:
    with signed_centre(tmp_path_factory.mktemp("controls")) as made:
        one = Everything(made, busy(made.ids))
        with pytest.MonkeyPatch.context() as patch, made.served():
            patch.setattr(controls, "named", noting(one.reached))
            one.leads = [(place, tapped(one.signed, place, made.token(Role.LEAD), patch)) for place in one.places]
            yield one


def noting(reached: set[tuple[str, int]]) -> Any:
    """What names a control, noting too where in the source it was made."""
    named = controls.named

    def noted(right: Right, key: str) -> str:
        maker = sys._getframe(2)  # whoever called `button` or `submit`
        reached.add((Path(maker.f_code.co_filename).stem, maker.f_lineno))
        return named(right, key)

    return noted


def tapped(signed: SignedCentre, place: Place, token: str, patch: pytest.MonkeyPatch) -> set[str]:
    """The controls that act, by their keys, on a page as it opens."""
    app = page(signed, place.page, token, patch, chosen=place.chosen, **place.query)
    assert not app.exception, place
    return {str(one.key) for one in app.button if controls.right_of(str(one.key))}


def allowed_by(holder: Holder, strength: str, key: str) -> bool:
    right = controls.right_of(key)
    assert right is not None
    return (may_by_pin if strength == "pin" else may)([holder], right)


OWN = re.compile("(open|beside|go)-.*-PRACTISE")
"""Ways into an attempt, which are its observer's own."""


@pytest.mark.parametrize(("holder", "strength"), list(product(TABLE, STRENGTHS)))
def test_a_control_is_there_for_whom_the_table_lets_act_by_it_and_for_nobody_else(
    everything: Everything, holder: Holder, strength: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    people, token = everything.signed.people, everything.signed.token(holder, strength)
    shown: set[tuple[str, str]] = set()
    wanted: set[tuple[str, str]] = set()
    for place, of_lead in everything.leads:
        if not of_lead or not allowed(holder, strength, menu.sight_of(place.page)):
            continue  # where the lead has no control there is none: test_door.py opens the rest
        keys = tapped(everything.signed, place, token, monkeypatch)
        assert all(allowed_by(holder, strength, key) for key in keys), place
        shown |= {(place.page, key.replace(f"{people[holder]}-FREEZE", "me")) for key in keys}
        wanted |= {
            (place.page, key.replace(f"{people[Role.LEAD]}-FREEZE", "me"))
            for key in of_lead
            if allowed_by(holder, strength, key)
        }
    assert not [key for _, key in shown ^ wanted if not OWN.fullmatch(key)]


FILES = [*PAGES.glob("*.py"), *SCREENS.glob("*.py")]


def made_in_source() -> dict[tuple[str, int], str]:
    """Where controls that act are made, by module and line, and the words or name of each."""
    found = {}
    for file in FILES:
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) in ("controls.button", "controls.submit"):
                found[file.stem, node.lineno] = ast.unparse(node.args[1])
    return found


def test_every_control_is_made_where_its_right_is_asked_for() -> None:
    """Found in the source: a button of Streamlit's own is drawn by `controls` alone."""
    own = [
        file.stem for file in FILES if re.search(r"(?<!controls)\.button\(|form_submit_button", file.read_text("utf-8"))
    ]
    assert own == ["controls"]


NOT_HERE = {
    "amend_forms: 'Accept it'",
    "amend_forms: 'Do not accept it'",
    "amend_forms: 'Set the reading aside'",
    "arrival_forms: 'Accept it'",
    "arrival_forms: 'It holds after all'",
    "arrival_forms: 'Take back what was accepted'",
    "arrival_forms: 'Take the whole file back'",
    "arrival_forms: label",
    "day_parts: literal(together.label)",
    "detail: 'Go on with the open attempt'",
    "drafts: SAVE",
    "gate_forms: 'Enter the birth date'",
    "hours_forms: label",
    "laptop_parts: 'Take in'",
    "mark_choice: frame.literal(words)",
    "moving_forms: 'Move the course'",
    "rubric_forms: TAKE_OUT",
    "sign_off_forms: 'Take it back'",
    "sign_off_forms: f'Sign {plain(sheet.name)} off'",
    "sign_off_forms: label",
    "signing_pin_form: 'Let it go'",
    "standards_parts: 'Take them into use'",
    "standards_parts: 'Take these files into use'",
    "standards_parts: 'What is in force holds'",
    "today_parts: 'Enter the time'",
    "today_parts: 'Everyone in'",
    "today_parts: 'Everyone out'",
    "today_parts: 'They are there already: note the time'",
    "transfer_forms: 'The student agrees'",
    "unit_parts: 'List passed again: lift the hold'",
    "waiting_form: f\"Take in {plural(file.new, 'tap')}\"",
}
"""Controls that come only after a tap or with a file, or in a centre that stands otherwise: not compared here."""


def test_the_leads_pages_show_every_control_but_those_that_are_named_here(everything: Everything) -> None:
    """So that one that is added is compared with the table, or is named here."""
    missing = {place: said for place, said in made_in_source().items() if place not in everything.reached}
    assert {f"{stem}: {said}" for (stem, _), said in missing.items()} == NOT_HERE
    rights = {controls.right_of(key) for _, keys in everything.leads for key in keys}
    assert rights >= set(Act) - {Act.KEY, Act.OBSERVE}  # a command, and a page of its own
