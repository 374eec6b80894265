"""Each gate stops its own stage and no other, and says which: one paper that shuts each of the five in turn."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import pytest
from centre_builder import FIRST_DAY, LAST_DAY, ZONE, Centre, seen_at
from test_gate_pages import gates_page, words
from test_gate_papers import newcomer, refused

from course.actions import courses as planning
from course.actions import gate_papers as noting
from course.actions import presence, signing
from course.actions.pad import take
from course.actions.standards import adopt_revision
from course.answers.decisions import to_sign
from course.hours.gates import STAGE_WORDS, STAGES
from course.record.facts import Adoption
from course.screens import serve
from course.words import Role

PAPER, LABEL = "pq-waiver", "Risk statement, revision in force"
OWN_DAY = {
    "enrolment": "20 Oct 2026", "dry": "21 Oct 2026", "pool": "22 Oct 2026", "open_water": "24 Oct 2026",
    "signoff": "25 Oct 2026",
}  # fmt: skip


def course_where(c: Centre, stage: str) -> Centre:
    """The small centre with a course like its own, on which the one paper shuts this stage alone."""
    fact = c.ledger.fact("adoption", c.adoption)
    assert isinstance(fact, Adoption)
    files = json.loads(json.dumps(fact.files))
    for content in files.values():
        for profile in content.get("profiles", ()):
            for asked in profile.get("prerequisites", ()):
                if asked["id"] == PAPER:
                    asked["blocks"] = stage
    adoption = adopt_revision(c.ledger, c.lead, files, c.adoption) if stage != "dry" else c.adoption
    course = planning.make_course(
        c.ledger, c.lead, title="Five gates", zone=ZONE, adoption=adoption, profile="ex-first-unit", revision="r1",
        first_day=FIRST_DAY.isoformat(), last_day=LAST_DAY.isoformat(),
    )  # fmt: skip
    sessions = {
        key: planning.plan_session(
            c.ledger, c.lead, course=course, title=key, setting=setting, start=seen_at(int(key[-2:]), 13, 30),
            end=seen_at(int(key[-2:]), 16, 20),
        )
        for key, setting in (
            ("dry-21", "dry"), ("pool-22", "pool"), ("pool-23", "pool"), ("open-24", "open_water"),
            ("open-25", "open_water"),
        )
    }  # fmt: skip
    return replace(c, adoption=adoption, course=course, sessions=sessions)


def all_papers_but_one(c: Centre) -> str:
    """Somebody of whom every paper was seen but the one."""
    person = newcomer(c)
    for asked in c.view().profile.prerequisites:
        if asked.id != PAPER:
            cleared = True if asked.proof == "medical_form" else None
            noting.note_proof(c.ledger, c.lead, c.course, person, asked.id, "2026-10-01", cleared=cleared)
    return person


def acts(c: Centre, person: str) -> dict[str, Callable[[], object]]:
    """What each stage is entered by."""

    def come(key: str) -> Callable[[], object]:
        at = seen_at(int(key[-2:]), 13, 30)
        return lambda: presence.sign_in(c.ledger, c.lead, c.sessions[key], person, at)

    def enrol() -> None:
        planning.enrol(c.ledger, c.lead, c.course, person, Role.STUDENT)
        planning.assign_unit(c.ledger, c.lead, c.course, person, c.unit_a, FIRST_DAY.isoformat())

    def sign_off() -> None:
        (ready,) = to_sign(c.view(), person, LAST_DAY)
        signing.sign_all(
            c.ledger, c.lead, course=c.course, student=person, as_of=LAST_DAY, rests_on={ready.skill: ready.rests_on}
        )

    doors = {"dry": come("dry-21"), "pool": come("pool-22"), "open_water": come("open-24")}
    return {"enrolment": enrol, **doors, "signoff": sign_off}


@pytest.mark.parametrize("shut", STAGES)
def test_each_gate_stops_its_own_stage_and_says_which(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, shut: str
) -> None:
    monkeypatch.setattr("course.actions.gates.now", lambda: seen_at(20).moment)
    c = course_where(small_centre, shut)
    planning.enrol(c.ledger, c.lead, c.course, c.second, Role.INSTRUCTOR)
    person = all_papers_but_one(c)
    for stage, act in acts(c, person).items():
        if stage == "signoff":
            c.hold(person)
        if stage != shut:
            act()
            continue
        told = refused(c, act)
        assert f"not seen by {OWN_DAY[stage]}" in told
        assert f"This holds {STAGE_WORDS[stage]} shut." in told
        assert told.count("This holds") == 1
        noting.note_proof(c.ledger, c.lead, c.course, person, PAPER, "2026-10-20")
        act()


@pytest.mark.parametrize("shut", [stage for stage in STAGES if stage != "enrolment"])
def test_the_page_of_gates_names_the_stage_that_is_shut(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, shut: str
) -> None:
    """Enrolment is told where a person is put on the course; see the page of People in test_gate_pages.py."""
    monkeypatch.setattr("course.answers.course_view.now", lambda: seen_at(20).moment)
    c = course_where(small_centre, shut)
    person = all_papers_but_one(c)
    acts(c, person)["enrolment"]()
    serve.start(c.ledger, take)
    told = words(gates_page(c, c.lead, person))
    assert f"Shut for Ravi Soltmere: {STAGE_WORDS[shut]}." in told.replace("\\", "")
