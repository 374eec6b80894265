"""Standards as models: what can be constructed, what holds for every rubric, and the schema for editors."""

from __future__ import annotations

import datetime
import itertools
import json
from decimal import Decimal
from typing import Any, get_args

import jsonschema
import pytest
import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from strategies_rubrics import BOUNDS, RIGHT, rubric_files

from course.errors import NotFoundError, StandardsError
from course.places import RUBRICS
from course.standards.circles import circles
from course.standards.concerns import Concerning, concerns
from course.standards.files import KINDS, json_schema
from course.standards.planted import PlantedFault
from course.standards.profile import Profile, RatioRule
from course.standards.rubric import (
    UNITS,
    Limit,
    Needs,
    Quantity,
    Rule,
    Skill,
    Source,
    Step,
    StepError,
    Unit,
    decimal_of,
    order_closure,
)
from course.standards.standards import Standards, standards_from
from course.standards.units import UnitType, applies
from course.storage.yaml_text import YamlText

WRITTEN: dict[str, Any] = {name: YamlText(name, text).content for name, text in RIGHT.items()}


@pytest.fixture(scope="module")
def standards() -> Standards:
    return standards_from(WRITTEN)


def changed(file: str, change: Any) -> dict[str, Any]:
    """The right data with one file changed in place."""
    copied: dict[str, Any] = json.loads(json.dumps(WRITTEN))
    change(copied[file])
    return copied


# questions


def test_skills_come_in_the_order_of_phases_not_of_files() -> None:
    written = changed("10_bench.yaml", lambda file: file["phase"].update(order=90))
    assert list(standards_from(written).skills) == ["brief-well", "seat-head", "open-valves"]


def test_a_skill_knows_its_phase_and_revision(standards: Standards) -> None:
    assert standards.phase_of["open-valves"] == "bench"
    assert standards.revision_of["brief-well"] == "r1"
    assert [skill.id for skill in standards.skills_of_phase("bench")] == ["seat-head", "open-valves"]


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        (lambda s: s.skill("seat-hed"), 'There is no skill "seat-hed". Did you mean "seat-head"?'),
        (
            lambda s: s.written_skill("zzz"),
            'There is no skill "zzz". Write one of: brief-well, open-valves, seat-head.',
        ),
        (lambda s: s.unit_type("type-b"), 'There is no unit type "type-b". Did you mean "type-a"?'),
        (lambda s: s.planted_fault("loose"), 'There is no planted fault "loose". Did you mean "loose-end"?'),
        (lambda s: s.profile("ex-frist", "r1"), 'There is no profile "ex-frist". Did you mean "ex-first"?'),
        (lambda s: s.profile("ex-first", "r9"), 'There is no revision of ex-first "r9". Write one of: r1, r2.'),
    ],
)
def test_what_is_not_there_is_named_with_what_is(standards: Standards, ask: Any, said: str) -> None:
    with pytest.raises(NotFoundError) as error:
        ask(standards)
    assert str(error.value) == said


def test_the_revision_in_force_is_that_of_the_day(standards: Standards) -> None:
    """The first day of a revision is its own."""
    days = {datetime.date(2026, 9, 14): "r1", datetime.date(2026, 9, 15): "r2", datetime.date(2030, 1, 1): "r2"}
    assert {day: standards.profile_on("ex-first", day).revision for day in days} == days
    with pytest.raises(NotFoundError, match="the first begins on 2026-01-01"):
        standards.profile_on("ex-first", datetime.date(2025, 12, 31))


def test_a_skill_that_needs_what_a_unit_lacks_is_not_for_it(standards: Standards) -> None:
    profile, bare = (
        standards.profile("ex-first", "r2"),
        standards.unit_type("type-a").model_copy(update={"features": ()}),
    )
    assert [s.id for s in standards.skills_for(profile, standards.unit_type("type-a"))] == ["seat-head", "open-valves"]
    assert [s.id for s in standards.skills_for(profile, bare)] == ["open-valves"]
    assert [s.id for s in standards.skills_for(profile, None)] == ["open-valves"]
    older = standards.profile("ex-first", "r1")
    assert [s.id for s in standards.optional_skills_for(older, None)] == ["open-valves"]


def test_a_step_that_needs_what_a_unit_lacks_falls_away(standards: Standards) -> None:
    skill = standards.skill("open-valves")
    only = skill.steps[1].model_copy(update={"only_if": Needs(all=("solenoid",), none=("three_cells",))})
    changed_skill = skill.model_copy(update={"steps": (skill.steps[0], only, skill.steps[2])})
    assert len(changed_skill.steps_for(frozenset({"solenoid"}))) == 3
    assert len(changed_skill.steps_for(frozenset({"solenoid", "three_cells"}))) == 2


FEATURES = st.frozensets(st.sampled_from("abcd"))


@given(FEATURES, FEATURES, FEATURES, FEATURES)
def test_needs_are_met_as_their_words_say(
    every: frozenset[str], some: frozenset[str], none: frozenset[str], unit: frozenset[str]
) -> None:
    """Beside Python's own all, any and not any."""
    if every & none or (some and some <= none):
        with pytest.raises(ValidationError):
            Needs(all=tuple(every), any=tuple(some), none=tuple(none))
    else:
        needs = Needs(all=tuple(every), any=tuple(some), none=tuple(none))
        said = (
            all(f in unit for f in every)
            and (not some or any(f in unit for f in some))
            and not any(f in unit for f in none)
        )
        assert needs.met_by(unit) is said


def test_what_is_written_comes_back_without_defaults(standards: Standards) -> None:
    written = standards.written_skill("brief-well")
    assert written == WRITTEN["20_leading.yaml"]["skills"][0]
    assert "currency_days" in written
    assert "needs" not in written
    written["title"] = "Changed"
    assert standards.written_skill("brief-well")["title"] == "Brief a group"


def test_changing_what_was_handed_in_changes_no_standards() -> None:
    handed = json.loads(json.dumps(WRITTEN))
    standards = standards_from(handed)
    handed["20_leading.yaml"]["skills"][0]["title"] = "Changed"
    assert standards.written == WRITTEN


# all problems at once, from plain data


def test_plain_data_from_the_ledger_are_refused_without_lines() -> None:
    written = changed("10_bench.yaml", lambda file: file["skills"][0]["rule"].update(budget=1.5))
    with pytest.raises(StandardsError) as refused:
        standards_from(written)
    assert [str(problem) for problem in refused.value.problems] == [
        (
            "10_bench.yaml: skills[seat-head].rule.budget: 1.5 is no whole number, text, true, false or list. "
            "Put it in quotes if it is meant as text."
        )
    ]


def test_problems_on_every_level_of_one_skill_are_found_at_once() -> None:
    """A flaw inside a block hides none of the block's own."""

    def spoil(file: Any) -> None:
        skill = file["skills"][0]
        skill["title"] = 7
        skill["steps"][0]["after"] = ["hold-test"]  # a circle of all three
        skill["steps"][1]["errors"][0]["consequence"] = "Bad."
        skill["steps"][1]["limit"] = {"quantity": "time", "unit": "m"}
        skill["steps"][2]["prompt_error"] = "too-shrt"
        skill["rule"].update(assessors=3, in_a_row=2, reteach=0)
        skill["before"] = ["open-valve"]

    with pytest.raises(StandardsError) as refused:
        standards_from(changed("10_bench.yaml", spoil))
    assert {problem.field.removeprefix("skills[seat-head].") for problem in refused.value.problems} == {
        "title",
        "before[1]",
        "steps[ring-look].after",
        "steps[push-down].errors[tilted].consequence",
        "steps[push-down].limit",
        "steps[push-down].limit.unit",
        "steps[hold-test].prompt_error",
        "rule.assessors",
        "rule.reteach",
    }


@pytest.mark.parametrize("odd", [1.5, float("nan"), 2**53, -(2**53), b"x", {1: "a"}, {"a"}, "a\ud800", object()])
def test_what_the_ledger_cannot_keep_exactly_is_refused(odd: object) -> None:
    """RFC 7493 (I-JSON), section 2.2: whole numbers up to 2^53 - 1; section 2.1: no lone surrogates."""
    with pytest.raises(StandardsError):
        standards_from(
            changed("20_leading.yaml", lambda file: file["skills"][0].update(note=odd, title="a title")) | {"a": odd}
        )


@pytest.mark.parametrize("empty", [{}, {"a.yaml": None}, {"a.yaml": []}, {"a.yaml": {}}])
def test_nothing_is_no_standards(empty: dict[str, object]) -> None:
    with pytest.raises(StandardsError, match=r"^1 problem in the rubric files\."):
        standards_from(empty)


@settings(max_examples=60, deadline=None)
@given(rubric_files())
def test_what_the_ledger_gives_back_makes_equal_standards(files: dict[str, dict[str, Any]]) -> None:
    """Through canonical JSON (RFC 8785; the encoder is the general library rfc8785), as an adopted rubric is kept."""
    standards = standards_from(files)
    again = standards_from(json.loads(rfc8785.dumps(files)))
    assert again.written == standards.written
    assert again.skills == standards.skills
    for skill_id in standards.skills:
        assert rfc8785.dumps(again.written_skill(skill_id)) == rfc8785.dumps(standards.written_skill(skill_id))


# a broken model cannot be made


STEP: dict[str, Any] = {"id": "a", "do": "Do this thing.", "why": "It matters."}
DEFENDED = StepError(id="e", label="Error", consequence="The diver breathes no oxygen and faints.", critical=True)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Source(kind="published"),
        lambda: StepError(id="e", label="Error", consequence="Too short.", critical=True),
        lambda: StepError(
            id="e", label="Error", consequence="A long sentence about harm without an end", critical=True
        ),
        lambda: Limit(quantity="time", unit="s"),
        lambda: Limit(quantity="time", unit="s", at_least="60"),
        lambda: Limit(quantity="time", unit="s", at_least="60", at_most="59.99", error="e"),
        lambda: Limit(quantity="time", unit="s", at_most="1e1"),
        lambda: Limit(quantity="time", unit="bar", at_most="1"),
        lambda: Limit(quantity="po2", unit="bar", at_most="1", from_="step"),
        lambda: Step(**STEP, errors=(DEFENDED,)),
        lambda: Step(**STEP, errors=(DEFENDED,), if_left_out="critical", left_out_why="It is harmless."),
        lambda: Step(**STEP, errors=(DEFENDED, DEFENDED), if_left_out="critical"),
        lambda: Step(**STEP, after_critical=("b",), if_left_out="critical"),
        lambda: Step(**STEP, prompt_error="e"),
        lambda: Step(**STEP, limit=Limit(quantity="time", unit="s", at_most="9", error="e")),
        lambda: Step(**STEP, errors=(StepError(id="x", label="Other", consequence="Something else."),)),
        lambda: Rule(in_a_row=1, distinct_days=2, settings=("dry",), reteach=0, budget=4),
        lambda: Rule(in_a_row=1, settings=("dry", "pool"), reteach=0, budget=4),
        lambda: Rule(in_a_row=2, settings=("dry", "dry"), reteach=0, budget=4),
        lambda: Rule(in_a_row=1, assessors=2, settings=("dry",), reteach=0, budget=4),
        lambda: Rule(in_a_row=3, settings=("dry",), reteach=0, budget=2),
        lambda: RatioRule(
            setting="pool",
            students_per_instructor=2,
            extra_with_assistant=0,
            most_students=4,
            low_visibility_students_per_instructor=3,
        ),
        lambda: UnitType(id="u", title="Unit", features=("a", "a"), service_days=90, cell_days=90),
        lambda: Profile.model_validate(WRITTEN["99_profiles.yaml"]["profiles"][0] | {"in_force_from": "2026-02-30"}),
        lambda: PlantedFault.model_validate(WRITTEN["90_faults.yaml"]["faults"][0] | {"settings": ["pool"]}),
        lambda: PlantedFault.model_validate(WRITTEN["90_faults.yaml"]["faults"][0] | {"found_step": ["a", "b"]}),
        lambda: Skill.model_validate(WRITTEN["10_bench.yaml"]["skills"][1] | {"setting": ["pool"]}),
        lambda: Skill.model_validate(WRITTEN["10_bench.yaml"]["skills"][1] | {"hidden": 1}),
    ],
)
def test_a_model_that_does_not_fit_together_cannot_be_made(make: Any) -> None:
    with pytest.raises(ValidationError):
        make()


def test_a_model_cannot_be_changed(standards: Standards) -> None:
    with pytest.raises(ValidationError):
        standards.skill("seat-head").rule.in_a_row = 1  # type: ignore[misc]


# limits


@given(BOUNDS, BOUNDS)
def test_a_bounds_own_value_is_kept(one: str, other: str) -> None:
    low, high = sorted((one, other), key=Decimal)
    limit = Limit(quantity="depth", unit="m", at_least=low, at_most=high, error="e")
    assert limit.kept_by(Decimal(low))
    assert limit.kept_by(Decimal(high))
    assert not limit.kept_by(Decimal(low) - Decimal("0.01"))
    assert not limit.kept_by(Decimal(high) + Decimal("0.01"))


def test_half_a_second_short_is_short() -> None:
    watched = Limit(quantity="time", unit="s", at_least="60", error="short")
    assert [watched.kept_by(Decimal(text)) for text in ("59.5", "60", "60.0", "61")] == [False, True, True, True]


@pytest.mark.parametrize("text", ["1e2", "1_0", " 1", "1.", ".5", "+1", "NaN", "Infinity", "\u0663", "", "0x1"])
def test_only_plain_digits_are_a_decimal_number(text: str) -> None:
    """Python's Decimal takes most of these; a ledger read by other programs should not hold them."""
    with pytest.raises(ValueError, match="no plain decimal number"):
        decimal_of(text)


def test_every_quantity_has_its_units_and_every_unit_a_quantity() -> None:
    assert set(UNITS) == set(get_args(Quantity))
    assert {unit for units in UNITS.values() for unit in units} == set(get_args(Unit))


# order


def steps_of(after: dict[str, list[str]]) -> tuple[Step, ...]:
    return tuple(
        Step(id=name, do="Do this thing.", why="It matters.", after=tuple(before)) for name, before in after.items()
    )


@st.composite
def orders(draw: st.DrawFn) -> dict[str, list[str]]:
    """Steps a to h, each after some of those before it."""
    names = "abcdefgh"[: draw(st.integers(1, 8))]
    return {name: draw(st.lists(st.sampled_from(names[:n]), unique=True)) if n else [] for n, name in enumerate(names)}


@given(orders())
def test_the_whole_order_is_transitive_and_never_before_itself(after: dict[str, list[str]]) -> None:
    pairs = set(order_closure(steps_of(after)))
    assert all(earlier != later for earlier, later in pairs)
    assert {(a, d) for a, b in pairs for c, d in pairs if b == c} <= pairs
    assert {(earlier, later) for later, before in after.items() for earlier in before} <= pairs


@given(orders())
def test_the_whole_order_is_that_of_warshall(after: dict[str, list[str]]) -> None:
    """The transitive closure by Warshall's algorithm (Journal of the ACM 9, 1962; from memory)."""
    reach = {(earlier, later) for later, before in after.items() for earlier in before}
    for through, start, end in itertools.product(after, after, after):
        if (start, through) in reach and (through, end) in reach:
            reach.add((start, end))
    assert set(order_closure(steps_of(after))) == reach


@given(st.dictionaries(st.sampled_from("abcdef"), st.lists(st.sampled_from("abcdefg"), unique=True)))
def test_circles_are_circles_and_none_is_left_without_them(after: dict[str, list[str]]) -> None:
    rings = circles(after)
    for ring in rings:
        assert all(earlier in after[later] for earlier, later in itertools.pairwise([*ring, ring[0]]))
    taken = [name for ring in rings for name in ring]
    assert len(taken) == len(set(taken))
    rest = {name: [e for e in before if e not in taken] for name, before in after.items() if name not in taken}
    while free := [name for name, before in rest.items() if not any(e in rest for e in before)]:
        rest = {name: before for name, before in rest.items() if name not in free}
    assert rest == {}, "Kahn's algorithm (Communications of the ACM 5, 1962; from memory) empties what has no circle"


# warnings


def warned(change: Any, file: str = "10_bench.yaml") -> list[tuple[str, str]]:
    return [(concern.why.value, concern.where) for concern in concerns(standards_from(changed(file, change)))]


def test_the_right_files_give_no_warning(standards: Standards) -> None:
    assert concerns(standards) == []


def test_a_step_that_may_be_left_out_is_shown_with_the_authors_reason() -> None:
    """Where a step can be critical and leaving it out is not, the author says why."""

    def change(file: Any) -> None:
        del file["skills"][0]["steps"][1]["if_left_out"]
        file["skills"][0]["steps"][1]["left_out_why"] = "It cannot be left out."

    found = concerns(standards_from(changed("10_bench.yaml", change)))
    assert [(c.why, c.where) for c in found] == [(Concerning.LEFT_OUT, "seat-head/push-down")]
    assert "It cannot be left out." in str(found[0])


@pytest.mark.parametrize(
    "label", ["Pushed before looking at the rings", "Looks at no ring first", "Rings out of order"]
)
def test_an_error_that_says_the_order_again_is_shown(label: str) -> None:
    """One lapse would count twice: as an error and as an order fault."""
    found = warned(lambda file: file["skills"][0]["steps"][1]["errors"][0].update(label=label))
    assert found == [("restates_order", "seat-head/push-down")]


@pytest.mark.parametrize("label", ["Pushed before the tea", "Head pushed before it is level", "Ring not looked at"])
def test_an_error_of_its_own_is_not_shown(label: str) -> None:
    assert warned(lambda file: file["skills"][0]["steps"][1]["errors"][0].update(label=label)) == []


def test_a_drill_that_leaves_a_valve_shut_is_shown() -> None:
    def shut(file: Any) -> None:
        file["skills"][1]["steps"][0]["do"] = "Shut the oxygen valve."

    def shut_and_open(file: Any) -> None:
        shut(file)
        file["skills"][1]["steps"][2]["do"] = "Open the oxygen valve and read PO2."

    assert warned(shut) == [("left_shut", "open-valves/look-first")]
    assert warned(shut_and_open) == []


def test_a_skill_for_no_unit_and_a_label_that_stands_twice_are_shown() -> None:
    def change(file: Any) -> None:
        file["skills"][0]["steps"][0]["errors"][1]["label"] = "Rings not looked at"
        file["skills"][0]["needs"]["none"] = ["solenoid"]

    assert warned(change) == [("no_unit", "seat-head"), ("same_label", "seat-head")]


# the schema for editors


SCHEMA: dict[str, Any] = json.loads(json_schema())


def test_the_schema_on_disk_is_up_to_date() -> None:
    assert (RUBRICS / "rubric.schema.json").read_text("utf-8") == json_schema()


def test_the_schema_is_a_valid_schema_of_draft_2020_12() -> None:
    """By the metaschema of JSON Schema 2020-12, as the general library jsonschema carries it."""
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert len(SCHEMA["oneOf"]) == len(KINDS)


@pytest.mark.parametrize("name", sorted(RIGHT))
def test_the_schema_takes_what_the_program_takes(name: str) -> None:
    assert jsonschema.Draft202012Validator(SCHEMA).is_valid(WRITTEN[name])


@pytest.mark.parametrize(
    "change",
    [
        lambda file: file.update(schema="rubric/2"),
        lambda file: file.update(kind="skill"),
        lambda file: file.update(extra=1),
        lambda file: file.pop("phase"),
        lambda file: file["skills"][0].update(id="Seat Head"),
        lambda file: file["skills"][0].update(setting=["lake"]),
        lambda file: file["skills"][0]["rule"].update(in_a_row="3"),
        lambda file: file["skills"][0]["rule"].update(in_a_row=11),
        lambda file: file["skills"][0].update(steps=[]),
        lambda file: file["skills"][0]["steps"][2]["limit"].update(at_least=60),
        lambda file: file["skills"][0]["steps"][2]["limit"].update(from_="cue"),
    ],
)
def test_the_schema_refuses_what_the_program_refuses(change: Any) -> None:
    written = changed("10_bench.yaml", change)
    assert not jsonschema.Draft202012Validator(SCHEMA).is_valid(written["10_bench.yaml"])
    with pytest.raises(StandardsError):
        standards_from(written)


def test_applies_without_a_unit_asks_for_skills_that_need_nothing(standards: Standards) -> None:
    assert [applies(skill, None) for skill in standards.skills.values()] == [False, True, True]
