"""What can be tapped: every page for every role, by password and by PIN, against the table of rights.

Each control that acts ends its key with the right that it asks for; where it is made says which. The lead's pages are
the measure, in a centre in which much stands open: whoever may act by a control has it too, and nobody else.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from centre_builder import POOL_SKILL, Centre, seen_at
from day_builder import FAULT
from signed_centre import SignedCentre, signed_centre
from test_door import STRENGTHS, allowed, page

from course.access import TABLE, Holder, Right, may, may_by_pin
from course.actions import day, faults, incident, slates, unit_care
from course.places import PAGES, SCREENS
from course.screens import controls, menu
from course.words import Role, SlipKind

Place = tuple[str, tuple[tuple[str, str], ...]]
"""A page and what its address asks for."""


def busy(c: Centre) -> list[Place]:
    """Let things stand open; return every page, and what opens on some of them."""
    ledger, lead = c.ledger, c.lead
    c.hold()
    c.open("pool-22", student=c.zoe)
    (slate,) = slates.give_out(ledger, lead, c.sessions["pool-22"], skills=[POOL_SKILL], students=[c.zoe])
    unit_care.hold(ledger, lead, c.unit_b, seen_at(22), "Cell 2 reads low.")
    slip = faults.set_fault(
        ledger, lead, session=c.sessions["dry-21"], how=SlipKind.PLANTED, fault=FAULT, unit=c.unit_a,
        observed=seen_at(21, 14), for_whom=[c.amaru],
    )  # fmt: skip
    incident.freeze(ledger, lead, c.sessions["pool-23"], seen_at(23), None)
    day.close_session(ledger, lead, c.sessions["open-25"], seen_at(25, 17))
    opened: list[tuple[str, dict[str, str]]] = [
        ("course", {"student": c.amaru, "skill": POOL_SKILL}),
        ("units", {"unit": c.unit_a}),
        ("units", {"unit": c.unit_b}),
        ("units", {"slip": slip}),
        ("slate", {"session": c.sessions["pool-22"], "slate": slate}),
        ("student", {"student": c.amaru}),
        *(("standards", {"view": view}) for view in ("try", "edit", "requirements", "unit-types", "history", "move")),
    ]
    return [*((name, ()) for name in menu.DAILY | menu.OTHERS), *((n, tuple(query.items())) for n, query in opened)]


@dataclass
class Everything:
    """A busy centre, and what was seen of it so far."""

    signed: SignedCentre
    places: list[Place]
    leads: dict[Place, set[str]] = field(default_factory=dict)
    reached: set[tuple[str, int]] = field(default_factory=set)


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Everything]:
    with signed_centre(tmp_path_factory.mktemp("controls")) as made:
        one = Everything(made, busy(made.ids))
        with pytest.MonkeyPatch.context() as patch, made.served():
            patch.setattr(controls, "named", noting(one.reached))
            one.leads = {place: tapped(one.signed, place, made.token(Role.LEAD), patch) for place in one.places}
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
    name, query = place
    app = page(signed, name, token, patch, **dict(query))
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
    token = everything.signed.token(holder, strength)
    for place, of_lead in everything.leads.items():
        if not of_lead or not allowed(holder, strength, menu.sight_of(place[0])):
            continue  # where the lead has no control there is none: test_door.py opens the rest
        shown = tapped(everything.signed, place, token, monkeypatch)
        leads = {key for key in of_lead if allowed_by(holder, strength, key)}
        assert {key for key in shown if not OWN.fullmatch(key)} == {key for key in leads if not OWN.fullmatch(key)}, (
            place
        )
        assert all(allowed_by(holder, strength, key) for key in shown), place


FILES = [*PAGES.glob("*.py"), *SCREENS.glob("*.py")]


def test_every_control_is_made_where_its_right_is_asked_for() -> None:
    """Found in the source: a button of Streamlit's own is drawn by `controls` alone."""
    own = [
        file.stem for file in FILES if re.search(r"(?<!controls)\.button\(|form_submit_button", file.read_text("utf-8"))
    ]
    assert own == ["controls"]
