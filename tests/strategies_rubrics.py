"""A small set of rubric files that is right in every way, and strategies that draw others."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hypothesis import strategies as st

BENCH = """\
# yaml-language-server: $schema=rubric.schema.json
schema: rubric/1
kind: skills
revision: r1
phase: {id: bench, title: Bench work, order: 10, intro: Building the unit on a bench.}
skills:
  - id: seat-head
    title: Seat the head
    purpose: The head seals the canister.
    setting: [dry]
    needs: {all: [three_cells]}
    steps:
      - id: ring-look
        do: Look at both rings.
        why: A torn ring leaks.
        errors:
          - {id: not-looked, label: Rings not looked at, consequence: A torn ring is not seen.}
          - {id: not-wiped, label: Rings not wiped, consequence: A grain stays on the seat.}
      - id: push-down
        do: Push the head down level.
        why: A tilted head leaks.
        if_left_out: critical
        after: [ring-look]
        after_critical: [ring-look]
        errors:
          - id: tilted
            label: Head left tilted
            consequence: CO2 passes beside the scrubber and nothing shows it.
            critical: true
      - id: hold-test
        do: Watch the test for its time.
        why: A slow leak needs time.
        after: [push-down]
        limit: {quantity: time, unit: s, at_least: "60", from: push-down, error: too-short}
        prompt_error: too-short
        errors:
          - {id: too-short, label: Watched too short, consequence: A slow leak is not seen.}
    rule:
      in_a_row: 3
      distinct_days: 2
      settings: [dry]
      reteach: 1
      budget: 8
    caution: The unit manual decides.
    currency_days: 90
  - id: open-valves
    title: Open the valves
    purpose: Gas comes on slowly.
    setting: [dry, pool]
    before: [seat-head]
    steps:
      - {id: look-first, do: Look at every hose end., why: A free end whips., errors: []}
      - {id: turn-slow, do: Turn each valve slowly., why: Fast opening heats., opens_gas: true}
      - {id: read-both, do: Read both gauges aloud., why: The record needs them.}
    rule: {in_a_row: 2, settings: [dry], reteach: 0, budget: 6}
    caution: The unit manual decides.
    currency_days: 90
"""

LEADING = """\
# yaml-language-server: $schema=rubric.schema.json
schema: rubric/1
kind: skills
revision: r1
phase: {id: leading, title: Leading, order: 20, intro: What a candidate shows.}
skills:
  - id: brief-well
    title: Brief a group
    audience: candidate
    purpose: Everyone knows the plan.
    setting: [class]
    steps:
      - {id: say-aim, do: Say the aim of the day., why: An aim can be checked.}
      - {id: say-plan, do: Say the plan step by step., why: A plan can be followed.}
      - {id: ask-back, do: Ask one person to repeat it., why: Hearing is not knowing.}
    rule: {in_a_row: 1, settings: [class], reteach: 0, budget: 4}
    caution: The agency decides.
    currency_days: 365
"""

UNITS = """\
# yaml-language-server: $schema=rubric.schema.json
schema: rubric/1
kind: features
features:
  - {id: three_cells, title: Three oxygen cells}
  - {id: solenoid, title: Electrically driven oxygen}
unit_types:
  - {id: type-a, title: Unit type A, features: [three_cells, solenoid], service_days: 365, cell_days: 365}
"""

FAULTS = """\
# yaml-language-server: $schema=rubric.schema.json
schema: rubric/1
kind: faults
faults:
  - id: loose-end
    title: One hose end left free
    how_set: A hose is taken off its plug.
    tell: The end hangs free.
    found_in: [open-valves]
    found_step: [look-first]
    stop_before: turn-slow
    settings: [dry]
    clear_by: The hose is back on its plug.
    never: Never with gas in the cylinder.
"""

PROFILES = """\
# yaml-language-server: $schema=rubric.schema.json
schema: rubric/1
kind: profiles
profiles:
  - id: ex-first
    title: Example of a first course
    example_only: true
    notice: EXAMPLE with made-up numbers.
    revision: r1
    in_force_from: "2026-01-01"
    supersedes: null
    for_whom: student
    unit_bound: true
    minimum_age_years: 18
    hours:
      - {of: pool, at_least_minutes: 300}
    counts:
      - {of: training_days, at_least: 3, each_at_least_minutes: 0}
    ratios:
      - {setting: pool, students_per_instructor: 3, extra_with_assistant: 1, most_students: 6}
    max_depth_m: 20
    prerequisites:
      - {id: pq-med, label: Medical form on file, proof: medical_form, valid_days: 365, blocks: pool}
    required_skills: [seat-head]
    optional_skills: [open-valves]
    sign_by: [lead_instructor, student]
    finish_within_days: 90
    instructor_currency_days: 180
  - id: ex-first
    title: Example of a first course
    example_only: true
    notice: EXAMPLE with made-up numbers.
    revision: r2
    in_force_from: "2026-09-15"
    supersedes: r1
    for_whom: student
    unit_bound: true
    minimum_age_years: 18
    hours: []
    counts: []
    ratios:
      - {setting: pool, students_per_instructor: 3, extra_with_assistant: 1, most_students: 6}
    max_depth_m: 20
    prerequisites: []
    required_skills: [seat-head, open-valves]
    sign_by: [lead_instructor, student]
    finish_within_days: 90
    instructor_currency_days: 180
"""

RIGHT = {
    "00_units.yaml": UNITS,
    "10_bench.yaml": BENCH,
    "20_leading.yaml": LEADING,
    "90_faults.yaml": FAULTS,
    "99_profiles.yaml": PROFILES,
}


def write_files(folder: Path, files: dict[str, str]) -> Path:
    """Write texts as files of a folder, each with its own line ends."""
    for name, text in files.items():
        (folder / name).write_bytes(text.encode("utf-8"))
    return folder


SLUGS = st.sampled_from(("ring", "seat-2", "valve_open", "a", "no", "null", "cue-3", "0x1f", "y", "2026-01"))
# texts that other readers of YAML take for truth values, days, numbers, comments or keys
TEXTS = st.sampled_from(
    (
        "2026-01-01",
        "1.5000000",
        "0x1F2E3D",
        "#no comment",
        "key: value",
        "- a dash",
        "[brackets]",
        'it\'s "quoted"',
        "100 % \u00e9t\u00e9",
    )
)
SENTENCES = TEXTS.map("Breathed on, {} reaches the mouth in the water.".format)
BOUNDS = st.decimals(min_value=0, max_value=10_000, places=2).map(str)


@st.composite
def errors(draw: st.DrawFn, *, critical: bool) -> list[dict[str, Any]]:
    """Errors of a step: at most one critical, and always more that are not."""
    ids = draw(st.lists(SLUGS, min_size=3, max_size=4, unique=True))
    drawn: list[dict[str, Any]] = [{"id": slug, "label": draw(TEXTS), "consequence": draw(SENTENCES)} for slug in ids]
    if critical:
        drawn[0]["critical"] = True
    return drawn


@st.composite
def limits(draw: st.DrawFn, error: str, starts: list[str]) -> dict[str, Any]:
    """A limit that a value can keep; a time may run from a step before."""
    low, high = sorted((draw(BOUNDS), draw(BOUNDS)), key=float)
    quantity, unit = draw(st.sampled_from([("time", "s"), ("po2", "bar"), ("voltage", "mV"), ("count", "1")]))
    drawn = {"quantity": quantity, "unit": unit, "at_least": low, "at_most": high, "error": error}
    if quantity == "time" and starts:
        drawn["from"] = draw(st.sampled_from(starts))
    return drawn


@st.composite
def skills(draw: st.DrawFn, skill_id: str, before: list[str]) -> dict[str, Any]:
    """A skill of three to five steps in an order that can be kept."""
    ids = draw(st.lists(SLUGS, min_size=3, max_size=5, unique=True))
    critical = draw(st.booleans())
    steps: list[dict[str, Any]] = []
    for number, slug in enumerate(ids):
        step: dict[str, Any] = {"id": slug, "do": draw(TEXTS), "why": draw(TEXTS)}
        earlier = draw(st.lists(st.sampled_from(ids[:number]), unique=True)) if number else []
        if earlier:
            step["after"] = earlier
        step["errors"] = draw(errors(critical=critical))
        if critical:
            key = draw(st.sampled_from(["if_left_out", "left_out_why"]))
            step[key] = "critical" if key == "if_left_out" else draw(TEXTS)
        if draw(st.booleans()):
            step["limit"] = draw(limits(step["errors"][0]["id"], ids[:number]))
        steps.append(step)
    row = draw(st.integers(1, 10))
    rule = {
        "in_a_row": row,
        "distinct_days": draw(st.integers(1, row)),
        "settings": ["pool"],
        "reteach": draw(st.integers(1, 5)) if critical else 0,
        "budget": draw(st.integers(row, 60)),
    }
    return {
        "id": skill_id,
        "title": draw(TEXTS),
        "purpose": draw(TEXTS),
        "setting": ["dry", "pool"],
        "before": draw(st.lists(st.sampled_from(before), unique=True)) if before else [],
        "steps": steps,
        "rule": rule,
        "caution": draw(TEXTS),
        "currency_days": draw(st.integers(7, 1095)),
    }


@st.composite
def rubric_files(draw: st.DrawFn) -> dict[str, dict[str, Any]]:
    """One or two files of skills that fit together, as plain data by file name."""
    ids = draw(st.lists(SLUGS, min_size=1, max_size=3, unique=True))
    files: dict[str, dict[str, Any]] = {}
    for number, skill_id in enumerate(ids):
        files[f"{number}0_phase.yaml"] = {
            "schema": "rubric/1",
            "kind": "skills",
            "revision": draw(SLUGS),
            "phase": {"id": f"phase-{number}", "title": draw(TEXTS), "order": number + 1, "intro": draw(TEXTS)},
            "skills": [draw(skills(skill_id, ids[:number]))],
        }
    return files
