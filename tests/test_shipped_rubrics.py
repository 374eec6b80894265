"""The rubrics that come with the program: whole, sober with what is critical, and safe in their order.

What the trade does is common practice unless a source stands beside it; the numbers are examples.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import jsonschema
import pytest
from centre_builder import shipped_standards

from course.places import RUBRICS
from course.standards.concerns import Concerning, concerns, proves_open, shuts_valve
from course.standards.files import EDITOR_HINT, json_schema
from course.standards.rubric import Skill, Step, order_closure
from course.standards.standards import Standards

FILES = sorted(RUBRICS.glob("*.yaml"))
STANDARDS = shipped_standards()
SKILLS = list(STANDARDS.skills.values())
WATER = {"pool", "open_water"}


@pytest.fixture(scope="module")
def standards() -> Standards:
    return STANDARDS


def comes_before(skill: Skill, earlier: str, later: str) -> bool:
    """Whether the order asks for one step before another, through steps between as well."""
    return (earlier, later) in set(order_closure(skill.steps))


def step_of(skill: Skill, step_id: str) -> Step:
    step = skill.step(step_id)
    assert step is not None, f"{skill.id} has no step {step_id}"
    return step


# files


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_file_tells_editors_where_its_schema_is(path: Path) -> None:
    assert path.read_text("utf-8").splitlines()[0] == EDITOR_HINT


@pytest.mark.parametrize("name", sorted(STANDARDS.written))
def test_a_file_is_valid_by_the_json_schema(name: str) -> None:
    """By the general library jsonschema, draft 2020-12."""
    jsonschema.Draft202012Validator(json.loads(json_schema())).validate(STANDARDS.written[name])


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_a_file_says_that_its_numbers_are_examples_or_holds_none_of_a_rule(path: Path) -> None:
    text = path.read_text("utf-8")
    if "in_a_row" in text or "at_least" in text:
        assert "EXAMPLE" in text


def test_there_are_62_skills_in_11_phases(standards: Standards) -> None:
    assert len(standards.skills) == 62
    assert [phase.id for phase in standards.phases] == [
        "assembly",
        "checks",
        "prebreathe",
        "basics",
        "mouthpiece",
        "bailout",
        "failures",
        "control",
        "rescue",
        "post",
        "candidate",
    ]
    assert set(standards.phase_of.values()) == {phase.id for phase in standards.phases}


def test_candidates_skills_are_those_of_the_last_phase(standards: Standards) -> None:
    for skill in SKILLS:
        assert (skill.audience == "candidate") == (standards.phase_of[skill.id] == "candidate")


def test_nothing_is_warned_of_but_what_its_author_gave_a_reason_for(standards: Standards) -> None:
    assert {concern.why for concern in concerns(standards)} <= {Concerning.LEFT_OUT}


def test_every_skill_is_for_one_of_the_unit_types(standards: Standards) -> None:
    for skill in SKILLS:
        assert any(skill.needs.met_by(unit.feature_set) for unit in standards.unit_types.values()), skill.id


# what is critical


def test_fewer_than_half_of_all_errors_are_critical() -> None:
    errors = [error for skill in SKILLS for step in skill.steps for error in step.errors]
    assert 0 < 2 * sum(error.critical for error in errors) < len(errors)


def test_after_a_critical_error_there_is_always_teaching_first() -> None:
    for skill in SKILLS:
        assert (skill.rule.reteach > 0) == any(step.can_be_critical for step in skill.steps), skill.id


def test_each_critical_error_says_how_it_injures_in_words_of_its_own() -> None:
    said = Counter(
        error.consequence for skill in SKILLS for step in skill.steps for error in step.errors if error.critical
    )
    assert all(text.endswith(".") and len(text) >= 30 for text in said)
    assert max(said.values()) <= 3, said.most_common(1)


# valves


DRILLS_THAT_SHUT = [skill for skill in SKILLS if WATER & set(skill.setting) and any(map(shuts_valve, skill.steps))]


def test_the_drills_that_shut_a_valve_are_known() -> None:
    assert {skill.id for skill in DRILLS_THAT_SHUT} == {"fl-high-po2", "fl-solenoid-open", "fl-adv"}


@pytest.mark.parametrize("skill", DRILLS_THAT_SHUT, ids=lambda skill: skill.id)
def test_a_drill_that_shuts_a_valve_ends_by_proving_it_open(skill: Skill) -> None:
    """Leaving that out is critical, and it comes after every step that shuts."""
    last = skill.steps[-1]
    assert proves_open(last)
    assert last.if_left_out == "critical"
    assert any(error.critical for error in last.errors)
    for step in skill.steps:
        if shuts_valve(step):
            assert comes_before(skill, step.id, last.id), step.id


def test_the_oxygen_drill_that_turns_no_valve_shut_still_ends_with_the_valve_proved_open(standards: Standards) -> None:
    last = standards.skill("fl-oxygen-lost").steps[-1]
    assert proves_open(last)
    assert last.if_left_out == "critical"


def test_no_gas_is_opened_before_the_oxygen_hose_is_on_the_head(standards: Standards) -> None:
    """In assembly gas opens in one place only: with the hose on the head and every hose end followed."""
    opening = [
        (skill.id, step.id)
        for skill in standards.skills_of_phase("assembly")
        for step in skill.steps
        if step.opens_gas and "oxygen" in step.do.lower()
    ]
    assert opening == [("asm-oxygen-hose", "open-slow")]
    skill = standards.skill("asm-oxygen-hose")
    for earlier in ("hose-to-head", "ends-closed"):
        assert earlier in step_of(skill, "open-slow").after_critical


# a safe breath before any talk


TELLS = {
    ("fl-low-po2", "lo-safe", "lo-tell"),
    ("fl-high-po2", "hi-safe", "hi-tell"),
    ("fl-co2", "cd-off", "cd-name"),
    ("fl-flood", "wa-decide", "wa-tell"),
    ("fl-solenoid-open", "so-flush", "so-tell"),
    ("fl-solenoid-shut", "ss-add", "ss-end"),
    ("fl-cells", "ce-choose", "ce-stop"),
    ("fl-oxygen-lost", "ol-safe", "ol-tell"),
    ("bo-separate", "bs-swap", "bs-gas"),
}


@pytest.mark.parametrize(("skill_id", "safe", "tell"), sorted(TELLS))
def test_a_partner_is_told_only_after_the_safe_breath(
    standards: Standards, skill_id: str, safe: str, tell: str
) -> None:
    skill = standards.skill(skill_id)
    assert comes_before(skill, safe, tell)
    assert "partner" in step_of(skill, tell).do


def test_no_failure_drill_tells_a_partner_elsewhere(standards: Standards) -> None:
    known = {(skill, tell) for skill, _, tell in TELLS}
    for skill in standards.skills_of_phase("failures"):
        for step in skill.steps:
            assert "partner" not in step.do or (skill.id, step.id) in known, f"{skill.id}/{step.id}"


# assembly


def test_a_filled_and_tagged_canister_comes_before_the_head(standards: Standards) -> None:
    """An empty or used-up canister under the head can't be seen any more: its order and its omission are critical."""
    head = standards.skill("asm-head")
    assert step_of(head, "scrubber-in").if_left_out == "critical"
    assert "scrubber-in" in step_of(head, "push-straight").after_critical
    assert "tag" in step_of(head, "scrubber-in").do
    assert step_of(standards.skill("asm-scrubber-packed"), "tag")
    assert step_of(standards.skill("asm-scrubber-cartridge"), "tag-use")


def test_diluent_is_mounted_before_oxygen_and_labels_are_read_before_both(standards: Standards) -> None:
    skill = standards.skill("asm-cylinders")
    assert comes_before(skill, "mount-diluent", "mount-oxygen")
    assert comes_before(skill, "read-labels", "mount-diluent")


def test_a_skill_rests_on_skills_above_it_but_for_the_valves_that_go_on_with_the_hoses(standards: Standards) -> None:
    """The one-way valves are checked before the hoses hide them, so one assembly skill rests on a check."""
    place = {skill_id: number for number, skill_id in enumerate(standards.skills)}
    below = {(skill.id, name) for skill in SKILLS for name in skill.before if place[name] > place[skill.id]}
    assert below == {("asm-hoses", "chk-one-way-valves")}


def test_positive_pressure_comes_after_negative(standards: Standards) -> None:
    assert "chk-negative" in standards.skill("chk-positive").before


# mouthpiece and pre-breathe


def test_the_mouthpiece_is_closed_before_it_comes_out_and_that_order_is_critical(standards: Standards) -> None:
    assert "co-close" in step_of(standards.skill("mp-close-out"), "co-out").after_critical


def test_po2_is_read_before_anyone_breathes_from_the_loop(standards: Standards) -> None:
    assert "re-look" in step_of(standards.skill("mp-reentry"), "re-open").after_critical
    assert "pb-first" in step_of(standards.skill("pre-breathe"), "pb-open").after_critical


def test_the_pre_breathe_is_said_not_to_prove_the_scrubber(standards: Standards) -> None:
    """Deng and others 2015, Diving and Hyperbaric Medicine 45(1):16-24 (from memory of the abstract)."""
    assert any("does not prove the scrubber" in step.do for step in standards.skill("pre-breathe").steps)


# limits, faults, profiles


def test_every_limit_says_whose_number_it_is() -> None:
    limits = [step.limit for skill in SKILLS for step in skill.steps if step.limit]
    assert len(limits) >= 20
    assert {limit.basis for limit in limits} == {"example", "unit_manual"}, "none claims to be an agency's"


def test_every_planted_fault_is_dry_and_in_a_skill_that_is_taught_dry(standards: Standards) -> None:
    assert len(standards.planted_faults) == 10
    for fault in standards.planted_faults.values():
        assert fault.settings == ("dry",)
        for skill_id, _ in fault.found_at:
            assert "dry" in standards.skill(skill_id).setting


def test_no_unit_type_names_a_maker(standards: Standards) -> None:
    assert [unit.title for unit in standards.unit_types.values()] == ["Unit type A", "Unit type B"]


def test_every_profile_is_an_example_and_says_so(standards: Standards) -> None:
    assert len(standards.profiles) == 5
    for profile in standards.profiles:
        assert profile.example_only
        assert "EXAMPLE" in profile.notice
        assert profile.title.startswith("Example")


def test_every_required_skill_applies_to_some_unit_type(standards: Standards) -> None:
    for profile in standards.profiles:
        applied = {skill.id for unit in standards.unit_types.values() for skill in standards.skills_for(profile, unit)}
        assert applied == set(profile.required_skills), profile.id
