"""Every role and office with every act of the program, found by inspection: a new act without a rule fails here."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from centre_builder import CRITICAL_ERROR, POOL_SKILL, Centre, seen_at, sheet_of, shipped_standards

import course.actions
from course.access import HOLDER_WORDS, TABLE, Act, Holder, may, may_by_pin
from course.actions import accounts, presence, times
from course.actions.accounts import make_account
from course.actions.centre import add_person
from course.actions.day import close_session
from course.actions.drafting import draft
from course.actions.times import WaterRow
from course.answers.accounts import holders_of
from course.asker import Asker, asked_as
from course.errors import CourseError, RefusedError
from course.moments import new_id
from course.record.events import ExceptionProposed, MarkGiven, SignedOff
from course.record.facts import Session
from course.storage import passwords
from course.words import Authority, Closing, Mark, Office, ReadingKind, Role, SlipAnswer, SlipKind

ACTS: dict[str, Act] = {
    "accounts.close_account": Act.ACCOUNT,
    "accounts.enter_for_office": Act.ACCOUNT,
    "accounts.give_office": Act.ACCOUNT,
    "accounts.make_account": Act.ACCOUNT,
    "accounts.set_password": Act.ACCOUNT,
    "accounts.set_pin": Act.ACCOUNT,
    "accounts.take_office": Act.ACCOUNT,
    "amending.amend_marks": Act.PRACTISE,
    "amending.correct": Act.AMEND,
    "amending.correction": Act.AMEND,
    "amending.move_attempt": Act.AMEND,
    "amending.withdraw": Act.AMEND,
    "arrivals.accept": Act.SIGN,
    "arrivals.note_arrival": Act.SIGN,
    "arrivals.note_consent": Act.SET_UP,
    "arrivals.hold_again": Act.SIGN,
    "arrivals.take_back": Act.SIGN,
    "arrivals.take_back_file": Act.SIGN,
    "attempts.enter_attempt": Act.PRACTISE,
    "attempts.open_attempt": Act.PRACTISE,
    "attempts.start_sheet": Act.PRACTISE,
    "centre.add_person": Act.SET_UP,
    "centre.add_unit": Act.SET_UP,
    "centre.adopt_standards": Act.SET_UP,
    "centre.record_check_out": Act.SET_UP,
    "courses.assign_unit": Act.SET_UP,
    "courses.end_span": Act.RUN_DAY,
    "courses.enrol": Act.SET_UP,
    "courses.make_course": Act.SET_UP,
    "courses.make_group": Act.SET_UP,
    "courses.plan_session": Act.SET_UP,
    "courses.record_times": Act.SET_UP,
    "day.call_roll": Act.RUN_DAY,
    "day.close_day": Act.CLOSE,
    "day.close_session": Act.CLOSE,
    "day.everyone_left": Act.RUN_DAY,
    "day.plan_site": Act.RUN_DAY,
    "day.reopen_session": Act.CLOSE,
    "exceptions.propose": Act.SIGN,
    "exceptions.second": Act.SIGN,
    "exceptions.take_back": Act.SIGN,
    "faults.answer_fault": Act.CARE,
    "faults.clear_fault": Act.CARE,
    "faults.pass_list_again": Act.RELEASE,
    "faults.set_fault": Act.CARE,
    "findings.answer_finding": Act.ANSWER,
    "gate_papers.approve_adjustment": Act.SET_UP,
    "gate_papers.close_gap": Act.EVALUATE,
    "gate_papers.leave_course": Act.SET_UP,
    "gate_papers.note_consent": Act.SET_UP,
    "gate_papers.note_exam": Act.SET_UP,
    "gate_papers.note_interest": Act.SET_UP,
    "gate_papers.note_proof": Act.SET_UP,
    "gate_papers.return_to_course": Act.SET_UP,
    "incident.add_note": Act.FREEZE,
    "incident.freeze": Act.FREEZE,
    "incident.resume": Act.CLOSE,
    "keys.make_key": Act.KEY,
    "keys.put_back": Act.KEY,
    "keys.replace_key": Act.KEY,
    "presence.change_group": Act.RUN_DAY,
    "presence.everyone_in": Act.RUN_DAY,
    "presence.everyone_out": Act.RUN_DAY,
    "presence.move": Act.RUN_DAY,
    "presence.people_out": Act.RUN_DAY,
    "presence.sign_in": Act.RUN_DAY,
    "presence.sign_out": Act.RUN_DAY,
    "privacy.erase_person": Act.ERASE,
    "privacy.set_retention": Act.KEEP,
    "readings.take_reading": Act.PRACTISE,
    "readings.take_readings": Act.PRACTISE,
    "set_points.note_set_point": Act.RUN_DAY,
    "set_points.take_back_set_point": Act.AMEND,
    "settling.agree_joint_line": Act.EVALUATE,
    "settling.answer_elsewhere": Act.SIGN,
    "settling.join_attempts": Act.AMEND,
    "settling.set_reading_aside": Act.AMEND,
    "sign_off.countersign": Act.SIGN,
    "sign_off.sign_off": Act.SIGN,
    "sign_off.take_back": Act.SIGN,
    "signing.sign": Act.SIGN,
    "signing.sign_all": Act.SIGN,
    "signing_pins.choose_signing_pin": Act.SIGN,
    "signing_pins.let_go_signing_pin": Act.ACCOUNT,
    "slates.give_out": Act.RUN_DAY,
    "slates.set_aside": Act.RUN_DAY,
    "standards.adopt_revision": Act.SET_UP,
    "standards.move_course": Act.SET_UP,
    "times.call_visibility": Act.RUN_DAY,
    "times.enter_time": Act.RUN_DAY,
    "times.mend_time": Act.AMEND,
    "times.save_water": Act.RUN_DAY,
    "times.take_back_time": Act.AMEND,
    "times.take_back_water": Act.AMEND,
    "unit_care.flooded": Act.CARE,
    "unit_care.hold": Act.CARE,
    "unit_care.record_care": Act.CARE,
    "unit_care.release": Act.RELEASE,
}
"""What each act asks the table of rights for; where that depends on what is given, the least that it asks."""
TOLD = {"readings.take_reading": Act.CARE, "readings.take_readings": Act.CARE}
"""Acts that one of two rights lets somebody do, and the one that a refusal names."""
PARTS = {
    "accounts.closing": "drafts alone, for `close_account` and `erase_person`",
    "attempts.close_draft": "a draft alone, for acts that ask",
    "attempts.opening_draft": "a draft alone, for acts that ask",
    "attempts.sheet_draft": "a draft alone, for acts that ask",
    "courses.span": "a draft alone, for `record_times`",
    "courses.water_time": "a draft alone, for `record_times`",
    "signing.deciding": "the course alone, for acts that sign",
    "signing_pins.letting_go": "drafts alone, for `let_go_signing_pin` and `erase_person`",
    "unit_care.releases": "drafts alone, for acts that ask",
}
"""Functions with an actor that append nothing themselves."""
BY_ITEM = {
    "beginning.begin_attempt", "beginning.begin_sheet", "pad.take", "slate_entry.amend_from_slate",
    "slate_entry.enter_slate", "waiting_file.take_waiting_file",
}  # fmt: skip
"""Acts that find who acts in what they are given: test_pad_route.py, test_hostile_input.py and test_slate_entry.py."""
FOUNDING = {"centre.make_centre"}
_ACTOR = ("actor", "observer")


def every_function() -> dict[str, Callable[..., Any]]:
    """Every public function of every module of acts."""
    found = {}
    for module in pkgutil.iter_modules(course.actions.__path__):
        loaded = importlib.import_module(f"course.actions.{module.name}")
        for name, function in inspect.getmembers(loaded, inspect.isfunction):
            if function.__module__ == loaded.__name__ and not name.startswith("_") and module.name != "drafting":
                found[f"{module.name}.{name}"] = function
    return found


def names_of(function: Callable[..., Any]) -> list[str]:
    return list(inspect.signature(function).parameters)


def appends(function: Callable[..., Any]) -> bool:
    return "ledger.append(" in inspect.getsource(function)


def test_every_function_with_an_actor_or_that_appends_has_a_rule() -> None:
    with_actor = {
        name for name, function in every_function().items() if set(_ACTOR) & set(names_of(function))
    }  # fmt: skip
    assert with_actor == ACTS.keys() | PARTS.keys()
    saving = {name for name, function in every_function().items() if appends(function)}
    assert saving - ACTS.keys() - BY_ITEM - FOUNDING == set()
    assert not any(appends(every_function()[name]) for name in PARTS)
    assert every_function().keys() >= BY_ITEM | FOUNDING


@pytest.fixture
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        passwords, "_hasher", passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)
    )  # fmt: skip


def given(c: Centre) -> dict[str, Any]:
    """Something for every particular that an act asks for, by its name."""
    opened = c.open()
    line = MarkGiven(step=CRITICAL_ERROR[0], mark=Mark.DONE)
    session = c.sessions["pool-22"]
    presence.sign_in(c.ledger, c.lead, session, c.amaru, seen_at(22, 13, 35), end=seen_at(22, 15))
    times.save_water(c.ledger, c.lead, session, [WaterRow(c.amaru, 30, unit=c.unit_a)])
    there = c.ledger.fact("session", session)
    signed = signed_off(c)
    assert isinstance(there, Session)
    return {
        "person": c.zoe, "student": c.zoe, "students": [c.zoe], "staff": [c.second], "present": [c.zoe],
        "course": c.course, "session": session, "sessions": [session], "skill": POOL_SKILL, "skills": [POOL_SKILL],
        "attempt": opened.attempt, "attempts": [opened.attempt, c.enter()], "sheet": opened.sheet, "line": line,
        "unit": c.unit_b, "adoption": c.adoption, "standards": shipped_standards(), "why": "because",
        "reason": "because", "note": "a note", "observed": seen_at(22, 14), "at": seen_at(22, 14),
        "start": seen_at(22, 14), "end": seen_at(22, 15), "day": "2026-10-22", "as_of": date(2026, 10, 22),
        "event_id": first(c, c.zoe), "role": Role.STUDENT, "roles": [Role.STUDENT], "name": "Odo Penhallick",
        "shown_as": "Odo Penhallick", "password": "a lamp under the pier", "pin": None, "again": None, "own": False,
        "office": Office.AUDITOR, "offices": [Office.AUDITOR], "label": "X-9", "unit_type": "type-a",
        "title": "A title", "zone": "UTC", "profile": "ex-first-unit", "revision": "r1", "first_day": "2026-11-01",
        "last_day": "2026-11-05", "from_day": "2026-10-22", "setting": "pool", "span_id": there.spans[0].id,
        "span": there.spans[0].id, "times": [], "when": "before", "emergency": "call", "plan": "a plan",
        "how": SlipKind.PLANTED, "fault": "cell-slow", "answer": SlipAnswer.HIT, "slip": first(c, c.zoe),
        "finding": "x", "rests_on": "0" * 64, "gap": 1, "exam": first(c, c.zoe), "mark": "40", "of": "50", "items": [],
        "stages": ["pool"], "guardian": "A parent", "prerequisite": "pq-med", "incident": first(c, c.zoe),
        "file": Path("nowhere"), "lost": False, "group": None, "authority": Authority.ORDER, "student_days": 1,
        "staff_days": 1, "incident_days": 1, "what": ReadingKind.CELL_AIR, "amounts": {}, "bar": "1.2",
        "observers": [c.lead, c.second], "accepted": True, "decided": "agreed", "slate": first(c, c.zoe), "tries": 1,
        "files": {}, "began_from": None, "shown_from": (), "rows": [], "water": there.water[0].id,
        "good_until": "2027-01-01", "hold_id": first(c, c.zoe), "list_passed_by": c.lead, "passed_by": c.lead,
        "low": True, "sheets": [], "closing": Closing.COMPLETED, "change": {}, "shown_open": (), "tablets": 0,
        "missing": (), "tablets_waiting": 0, "replaces": (),
        "exception": signed[0], "sign_off_id": signed[1], "rule": "hours:on_loop", "typed": {}, "first": 1,
        "given_to": "Saltmarsh", "arrival": first(c, c.zoe), "item": "hours:pool", "shown": None, "keys": None,
        "step": CRITICAL_ERROR[0], "readings": [first(c, c.zoe)],
    }  # fmt: skip


def signed_off(c: Centre) -> tuple[str, str]:
    """An exception that waits for a second word, and a sign-off, as another laptop may have made them."""
    exception, sign_off = new_id(), new_id()
    common: dict[str, Any] = {"course": c.course, "student": c.zoe, "as_of": "2026-10-25", "rests_on": "0" * 64}
    proposed = ExceptionProposed(
        exception=exception, rule="hours:on_loop", sentence="Short.", observed=seen_at(25), reason="because", **common
    )
    signed = SignedOff(
        sign_off=sign_off, issue=1, profile="ex-first-unit", revision="r1", rules=1, observed=seen_at(25), **common
    )
    c.ledger.append([draft(c.lead, one, private_of=c.zoe) for one in (proposed, signed)])
    return exception, sign_off


def first(c: Centre, subject: str) -> str:
    return next(c.ledger.events(subject)).id


def keywords_of(c: Centre, name: str, actor: str, particulars: dict[str, Any]) -> dict[str, Any]:
    """What an act is called with, as somebody."""
    parameters = inspect.signature(every_function()[name]).parameters
    keywords: dict[str, Any] = {}
    for parameter in parameters.values():
        if parameter.name == "ledger":
            keywords["ledger"] = c.ledger
        elif parameter.name in _ACTOR:
            keywords[parameter.name] = actor
        elif parameter.default is inspect.Parameter.empty:
            keywords[parameter.name] = particulars[parameter.name]
    if name == "day.close_day":
        keywords["day"] = date(2026, 10, 22)
    if name == "attempts.enter_attempt":
        keywords["sheets"] = [(actor, sheet_of(c.skill()))]
    return keywords


def called(c: Centre, name: str, actor: str, particulars: dict[str, Any]) -> str:
    """Do an act as somebody; return the refusal, empty where it was not refused or failed for another reason."""
    keywords = keywords_of(c, name, actor, particulars)
    try:
        every_function()[name](**keywords)
    except RefusedError as refused:
        about_rights = re.match("Only somebody who is|Only its observer|A PIN is not", refused.sentence)
        return refused.sentence if about_rights else ""
    except (CourseError, TypeError, AttributeError, KeyError, ValueError):
        return ""  # what was given does not fit: it was looked at, so the rights were passed
    return ""


def holder_of(c: Centre, holder: Holder) -> str:
    """Somebody who is that and nothing else."""
    if isinstance(holder, Office):
        return accounts.enter_for_office(
            c.ledger, c.lead, shown_as=f"Odo {holder}", name=holder.value, password="a lamp under the pier",  # noqa: S106
            offices=[holder],
        )  # fmt: skip
    return add_person(c.ledger, c.lead, name=f"Ada {holder}", roles=[holder])


@pytest.mark.usefixtures("_quick_hashes")
@pytest.mark.parametrize("holder", list(TABLE), ids=str)
def test_nobody_does_what_the_table_does_not_give_them_and_nothing_is_added(
    small_centre: Centre, holder: Holder
) -> None:
    c = small_centre
    make_account(c.ledger, c.lead, c.lead, name="tamsin", password="seven grey seals dive")  # noqa: S106
    make_account(c.ledger, c.lead, c.zoe, name="zoe", password="seven grey seals dive")  # noqa: S106
    close_session(c.ledger, c.lead, c.sessions["pool-23"], seen_at(23, 17))
    particulars, actor = given(c), holder_of(c, holder)
    assert holders_of(c.ledger, actor) == {holder}
    let_in = []
    for name, act in ACTS.items():
        if may([holder], act):
            continue
        before = c.ledger.count_events()
        refusal = called(c, name, actor, particulars)
        if not refusal:
            let_in.append(name)
            continue
        told = TOLD.get(name, act).value
        own = f" may {told}; this person is {HOLDER_WORDS[holder]}. Nothing was changed."
        assert refusal.endswith(own) or name == "amending.amend_marks", (name, refusal)  # another's sheet is nobody's
        assert c.ledger.count_events() == before, name
    assert let_in == []


@pytest.mark.usefixtures("_quick_hashes")
@pytest.mark.parametrize("holder", list(TABLE), ids=str)
def test_nobody_is_refused_what_the_table_gives_them(small_centre: Centre, holder: Holder) -> None:
    c = small_centre
    make_account(c.ledger, c.lead, c.lead, name="tamsin", password="seven grey seals dive")  # noqa: S106
    particulars, actor = given(c), holder_of(c, holder)
    with asked_as(Asker(actor, frozenset({holder}))):  # so that the answers an act asks are asked for them as well
        allowed = [name for name, act in ACTS.items() if may([holder], act) and name != "amending.amend_marks"]
        told = {name: called(c, name, actor, particulars) for name in allowed}
    assert {name: refusal for name, refusal in told.items() if refusal} == {}


@pytest.mark.usefixtures("_quick_hashes")
@pytest.mark.parametrize("holder", [Role.LEAD, Role.ASSISTANT, Role.CANDIDATE], ids=str)
def test_what_a_pin_allows_is_refused_by_no_answer_that_it_asks(small_centre: Centre, holder: Holder) -> None:
    c = small_centre
    particulars, actor = given(c), c.lead if holder == Role.LEAD else holder_of(c, holder)
    allowed = [name for name, act in ACTS.items() if may_by_pin([holder], act) and name != "amending.amend_marks"]
    with asked_as(Asker(actor, frozenset({holder}), by_pin=True)):
        told = {name: called(c, name, actor, particulars) for name in allowed}
    assert {name: said for name, said in told.items() if said and name not in TOLD} == {}
    assert allowed


CONFIRMED = {
    "arrivals.accept", "arrivals.hold_again", "arrivals.take_back", "arrivals.take_back_file", "exceptions.propose",
    "exceptions.second", "exceptions.take_back", "sign_off.countersign",
    "sign_off.sign_off", "sign_off.take_back", "signing.sign", "signing.sign_all",
}  # fmt: skip


def test_every_act_that_is_confirmed_refuses_whoever_is_signed_in_and_gave_nothing(small_centre: Centre) -> None:
    c = small_centre
    particulars = given(c)
    assert {name for name, function in every_function().items() if "confirmed_with" in names_of(function)} == {
        *CONFIRMED,
        "amending.withdraw",  # which asks for it of some lines alone: `tests/test_exceptions.py`
        "amending.withdrawal",  # adds nothing: its callers asked
    }
    before = c.count()
    with asked_as(Asker(c.lead, frozenset({Role.LEAD}))):
        for name in CONFIRMED:
            with pytest.raises(RefusedError, match=r"confirms it with their password or PIN at the act\. Nothing was"):
                every_function()[name](**keywords_of(c, name, c.lead, particulars))
    for name in CONFIRMED - {"signing.sign", "signing.sign_all"}:  # where nobody signs in, these are confirmed too
        with pytest.raises(RefusedError, match=r"confirms it with their password or PIN at the act\. Nothing was"):
            every_function()[name](**keywords_of(c, name, c.lead, particulars))
    assert c.count() == before
