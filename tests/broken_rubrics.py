"""Broken rubric files: what is changed in the right ones, and the exact problems that a person is told."""

from __future__ import annotations

from typing import NamedTuple

from strategies_rubrics import LEADING, UNITS


class Broken(NamedTuple):
    """One thing broken in one of the right files, and what is then said."""

    name: str
    file: str
    old: str
    new: str
    said: tuple[str, ...]


BROKEN = (
    Broken(
        "unknown key",
        "10_bench.yaml",
        "    caution: The unit manual decides.\n    currency_days: 90\n  - id: open",
        "    cauton: The unit manual decides.\n    currency_days: 90\n  - id: open",
        (('10_bench.yaml:44:5: skills[seat-head].cauton: There is no key "cauton" here. Did you mean "caution"?'),),
    ),
    Broken(
        "unknown key, nothing near",
        "10_bench.yaml",
        "    setting: [dry]\n",
        "    setting: [dry]\n    zzz: 1\n",
        (
            (
                '10_bench.yaml:11:5: skills[seat-head].zzz: There is no key "zzz" here. Write one '
                "of: audience, before, caution, currency_days, id, needs, purpose, rule, setting, "
                "sources, steps, title."
            ),
        ),
    ),
    Broken(
        "missing key",
        "10_bench.yaml",
        "        why: A torn ring leaks.\n",
        "",
        (
            (
                '10_bench.yaml:13:9: skills[seat-head].steps[ring-look]: The key "why" is missing. '
                "Add why: to this block."
            ),
        ),
    ),
    Broken(
        "duplicate key",
        "10_bench.yaml",
        "    title: Seat the head\n",
        "    title: Seat the head\n    title: Seat it\n",
        (('10_bench.yaml:9:5: skills[seat-head].title: The key "title" stands twice; first in line 8. Keep one.'),),
    ),
    Broken(
        "anchor",
        "10_bench.yaml",
        "setting: [dry]\n    needs",
        "setting: &where [dry]\n    needs",
        (
            (
                "10_bench.yaml:10:14: skills[seat-head].setting: &where names this for use "
                "elsewhere. Rubric files say everything where it stands: write it out."
            ),
        ),
    ),
    Broken(
        "alias",
        "10_bench.yaml",
        "setting: [dry]\n    needs",
        "setting: *where\n    needs",
        (
            (
                "10_bench.yaml:10:14: skills[seat-head].setting: *where stands for something written "
                "elsewhere. Rubric files say everything where it stands: write it out."
            ),
            (
                '10_bench.yaml:41:18: skills[seat-head].rule.settings[1]: The rule asks for "dry", a '
                "setting that this skill does not have. Write one of: ; or add it to setting."
            ),
        ),
    ),
    Broken(
        "tag",
        "10_bench.yaml",
        "title: Seat the head",
        "title: !!str Seat the head",
        (
            (
                "10_bench.yaml:8:12: skills[seat-head].title: A tag (a word after !) stands here. "
                "Take it out: a value's writing says its type."
            ),
        ),
    ),
    Broken(
        "python tag",
        "10_bench.yaml",
        "title: Seat the head",
        "title: !!python/object/apply:os.system [echo]",
        (
            (
                "10_bench.yaml:8:12: skills[seat-head].title: A tag (a word after !) stands here. "
                "Take it out: a value's writing says its type."
            ),
        ),
    ),
    Broken(
        "merge key",
        "10_bench.yaml",
        "    title: Seat the head\n",
        "    <<: {title: Seat the head}\n",
        (
            (
                "10_bench.yaml:8:5: A merge key (<<) stands here. Rubric files say everything where "
                "it stands: write it out."
            ),
        ),
    ),
    Broken(
        "deep",
        "00_units.yaml",
        "unit_types:",
        (
            "unit_types: "
            "[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]]\nold:"
        ),
        (("00_units.yaml:7:53: Nested more than 40 deep. A rubric needs far less: look for a stray bracket."),),
    ),
    Broken(
        "float",
        "10_bench.yaml",
        'at_least: "60"',
        "at_least: 59.5",
        (
            (
                "10_bench.yaml:34:52: skills[seat-head].steps[hold-test].limit.at_least: 59.5 is no "
                'whole number. Write a whole number, or text in quotes: "59.5".'
            ),
        ),
    ),
    Broken(
        "infinity",
        "10_bench.yaml",
        "budget: 8",
        "budget: .inf",
        (
            (
                "10_bench.yaml:43:15: skills[seat-head].rule.budget: .inf is no whole number. Write "
                'a whole number, or text in quotes: ".inf".'
            ),
        ),
    ),
    Broken(
        "day not in quotes",
        "99_profiles.yaml",
        '"2026-01-01"',
        "2026-01-01",
        (
            (
                "99_profiles.yaml:10:20: profiles[ex-first].in_force_from: The day 2026-01-01 is not "
                'in quotes. Put it in quotes: "2026-01-01".'
            ),
        ),
    ),
    Broken(
        "no such day",
        "99_profiles.yaml",
        '"2026-01-01"',
        '"2026-02-30"',
        (
            (
                '99_profiles.yaml:10:20: profiles[ex-first].in_force_from: "2026-02-30" is no day of '
                'the calendar. Write year, month and day: "2026-01-31".'
            ),
        ),
    ),
    Broken(
        "day not written as one",
        "99_profiles.yaml",
        '"2026-01-01"',
        '"1.1.2026"',
        (
            (
                '99_profiles.yaml:10:20: profiles[ex-first].in_force_from: "1.1.2026" is no day of '
                'the calendar. Write year, month and day: "2026-01-31".'
            ),
        ),
    ),
    Broken(
        "yes is text",
        "99_profiles.yaml",
        "unit_bound: true",
        "unit_bound: yes",
        (
            (
                '99_profiles.yaml:13:17: profiles[ex-first].unit_bound: "yes" is text; true or false '
                "is expected. YAML 1.2 reads yes as text: write true, without quotes."
            ),
        ),
    ),
    Broken(
        "no is text",
        "99_profiles.yaml",
        "unit_bound: true",
        "unit_bound: No",
        (
            (
                '99_profiles.yaml:13:17: profiles[ex-first].unit_bound: "No" is text; true or false '
                "is expected. YAML 1.2 reads No as text: write false, without quotes."
            ),
        ),
    ),
    Broken(
        "true in quotes",
        "10_bench.yaml",
        "critical: true",
        'critical: "true"',
        (
            (
                "10_bench.yaml:29:23: skills[seat-head].steps[push-down].errors[tilted].critical: "
                '"true" is text; true or false is expected. YAML 1.2 reads true as text: write true, '
                "without quotes."
            ),
        ),
    ),
    Broken(
        "number in quotes",
        "10_bench.yaml",
        "in_a_row: 3",
        'in_a_row: "3"',
        (
            (
                '10_bench.yaml:39:17: skills[seat-head].rule.in_a_row: "3" is text; a whole number '
                "is expected. Write 3 without quotes."
            ),
        ),
    ),
    Broken(
        "number in words",
        "10_bench.yaml",
        "in_a_row: 3",
        "in_a_row: three",
        (
            (
                '10_bench.yaml:39:17: skills[seat-head].rule.in_a_row: "three" is text; a whole '
                "number is expected. Write a whole number such as 2."
            ),
        ),
    ),
    Broken(
        "grouped digits",
        "10_bench.yaml",
        "budget: 8",
        "budget: 1_0",
        (
            (
                '10_bench.yaml:43:15: skills[seat-head].rule.budget: "1_0" is text; a whole number '
                "is expected. Write a whole number such as 2."
            ),
        ),
    ),
    Broken(
        "truth for number",
        "10_bench.yaml",
        "in_a_row: 3",
        "in_a_row: true",
        (
            (
                "10_bench.yaml:39:17: skills[seat-head].rule.in_a_row: true is a truth value; a "
                "whole number is expected. Write a whole number such as 2."
            ),
        ),
    ),
    Broken(
        "bound without quotes",
        "10_bench.yaml",
        'at_least: "60"',
        "at_least: 60",
        (
            (
                "10_bench.yaml:34:52: skills[seat-head].steps[hold-test].limit.at_least: 60 is a "
                'whole number; text is expected. Put it in quotes: "60".'
            ),
        ),
    ),
    Broken(
        "unit without quotes",
        "10_bench.yaml",
        "quantity: time, unit: s,",
        "quantity: count, unit: 1,",
        (
            (
                "10_bench.yaml:34:40: skills[seat-head].steps[hold-test].limit.unit: 1 is a whole "
                'number; text is expected. Put it in quotes: "1".'
            ),
            (
                "10_bench.yaml:34:65: skills[seat-head].steps[hold-test].limit.from: Only a time "
                "runs from a step; this is a count. Take from: out."
            ),
        ),
    ),
    Broken(
        "text for list",
        "10_bench.yaml",
        "after: [push-down]",
        "after: push-down",
        (
            (
                '10_bench.yaml:33:16: skills[seat-head].steps[hold-test].after: "push-down" is text; '
                "a list is expected. Put it in brackets: [push-down]."
            ),
        ),
    ),
    Broken(
        "list for text",
        "10_bench.yaml",
        "title: Seat the head",
        "title: [Seat the head]",
        (
            (
                "10_bench.yaml:8:12: skills[seat-head].title: Here stands a list; text is expected. "
                "Write one text, without brackets."
            ),
        ),
    ),
    Broken(
        "text for block",
        "10_bench.yaml",
        "needs: {all: [three_cells]}",
        "needs: three_cells",
        (
            (
                '10_bench.yaml:11:12: skills[seat-head].needs: "three_cells" is text; a block of '
                "keys is expected. Write keys and values, one in each line."
            ),
        ),
    ),
    Broken(
        "nothing",
        "10_bench.yaml",
        "title: Seat the head",
        "title:",
        (
            (
                "10_bench.yaml:8:5: skills[seat-head].title: Nothing stands here; text is expected. "
                "Write it after the colon, or take the key out if it may be left out."
            ),
        ),
    ),
    Broken(
        "too small",
        "10_bench.yaml",
        "currency_days: 90\n  - id",
        "currency_days: 1\n  - id",
        ("10_bench.yaml:45:20: skills[seat-head].currency_days: 1 is too small. Write 7 or more.",),
    ),
    Broken(
        "too large",
        "10_bench.yaml",
        "in_a_row: 3",
        "in_a_row: 11",
        (
            "10_bench.yaml:39:17: skills[seat-head].rule.in_a_row: 11 is too large. Write 10 or less.",
            (
                "10_bench.yaml:43:15: skills[seat-head].rule.budget: This rule cannot be met: 11 in "
                "a row within a budget of 8. Write a budget no smaller than in_a_row."
            ),
        ),
    ),
    Broken(
        "text too short",
        "10_bench.yaml",
        "title: Seat the head",
        "title: Hm",
        (
            (
                "10_bench.yaml:8:12: skills[seat-head].title: The text has 2 characters; at least 3 "
                "are needed. Write it out."
            ),
        ),
    ),
    Broken(
        "text too long",
        "10_bench.yaml",
        "title: Seat the head",
        (
            "title: Seat Seat Seat Seat Seat Seat Seat Seat Seat Seat Seat Seat Seat Seat Seat "
            "Seat Seat Seat Seat Seat it"
        ),
        (("10_bench.yaml:8:12: skills[seat-head].title: The text has 102 characters; at most 90 fit. Shorten it."),),
    ),
    Broken(
        "list too short",
        "10_bench.yaml",
        "    setting: [dry]\n",
        "    setting: []\n",
        (
            (
                "10_bench.yaml:10:14: skills[seat-head].setting: The list has 0; at least 1 is "
                "needed. Add what is missing."
            ),
            (
                '10_bench.yaml:41:18: skills[seat-head].rule.settings[1]: The rule asks for "dry", a '
                "setting that this skill does not have. Write one of: ; or add it to setting."
            ),
        ),
    ),
    Broken(
        "no id",
        "10_bench.yaml",
        "id: seat-head",
        "id: Seat Head",
        (
            (
                '10_bench.yaml:7:9: skills[Seat Head].id: "Seat Head" is no id: an id has small '
                'letters and digits, with - or _ between them. Write "seat-head", for example.'
            ),
        ),
    ),
    Broken(
        "unknown word",
        "10_bench.yaml",
        "    setting: [dry]\n",
        "    setting: [dri]\n",
        (('10_bench.yaml:10:15: skills[seat-head].setting[1]: "dri" is not allowed here. Did you mean "dry"?'),),
    ),
    Broken(
        "only one word allowed",
        "10_bench.yaml",
        "if_left_out: critical",
        "if_left_out: minor",
        (
            (
                '10_bench.yaml:22:22: skills[seat-head].steps[push-down].if_left_out: "minor" is not '
                "allowed here. Write critical."
            ),
        ),
    ),
    Broken(
        "wet fault",
        "90_faults.yaml",
        "settings: [dry]",
        "settings: [pool]",
        (('90_faults.yaml:12:16: faults[loose-end].settings[1]: "pool" is not allowed here. Write dry.'),),
    ),
    Broken(
        "not an example",
        "99_profiles.yaml",
        "example_only: true\n    notice: EXAMPLE with made-up numbers.\n    revision: r1",
        "example_only: false\n    notice: EXAMPLE with made-up numbers.\n    revision: r1",
        (("99_profiles.yaml:7:19: profiles[ex-first].example_only: false is not allowed here. Write true."),),
    ),
    Broken(
        "unknown kind",
        "00_units.yaml",
        "kind: features",
        "kind: feature",
        ('00_units.yaml:3:7: kind: "feature" is no kind of rubric file. Did you mean "features"?',),
    ),
    Broken(
        "no kind",
        "00_units.yaml",
        "kind: features\n",
        "",
        (
            (
                "00_units.yaml:2:1: The file does not say its kind. Add kind: with one of skills, "
                "features, faults, profiles."
            ),
        ),
    ),
    Broken(
        "other schema",
        "00_units.yaml",
        "rubric/1",
        "rubric/2",
        (
            (
                '00_units.yaml:2:9: schema: This file is written for "rubric/2"; this program reads '
                "rubric/1. Write schema: rubric/1."
            ),
        ),
    ),
    Broken(
        "list for file",
        "00_units.yaml",
        UNITS,
        "- one\n- two\n",
        (
            (
                "00_units.yaml:1:1: Here stands a list; a block of keys is expected. Write keys and "
                "values, one in each line."
            ),
        ),
    ),
    Broken(
        "unknown step",
        "10_bench.yaml",
        "after: [push-down]",
        "after: [push-dwn]",
        (
            (
                "10_bench.yaml:33:17: skills[seat-head].steps[hold-test].after[1]: No step "
                '"push-dwn" in this skill. Did you mean "push-down"?'
            ),
        ),
    ),
    Broken(
        "circle of two",
        "10_bench.yaml",
        "        why: A torn ring leaks.\n",
        "        why: A torn ring leaks.\n        after: [hold-test]\n",
        (
            (
                "10_bench.yaml:16:16: skills[seat-head].steps[ring-look].after: The order runs in a "
                "circle: ring-look, then push-down, then hold-test, then ring-look. Take one step "
                "out of an after."
            ),
        ),
    ),
    Broken(
        "after itself",
        "10_bench.yaml",
        "after: [push-down]",
        "after: [hold-test]",
        (
            (
                "10_bench.yaml:33:16: skills[seat-head].steps[hold-test].after: The order runs in a "
                "circle: hold-test, then hold-test. Take one step out of an after."
            ),
        ),
    ),
    Broken(
        "circle in the middle",
        "10_bench.yaml",
        "        after: [ring-look]\n        after_critical: [ring-look]\n",
        "        after: [hold-test]\n",
        (
            (
                "10_bench.yaml:23:16: skills[seat-head].steps[push-down].after: The order runs in a "
                "circle: push-down, then hold-test, then push-down. Take one step out of an after."
            ),
        ),
    ),
    Broken(
        "written order",
        "10_bench.yaml",
        "whips., errors: []",
        "whips., after: [read-both]",
        (
            (
                '10_bench.yaml:52:87: skills[open-valves].steps[look-first].after[1]: "read-both" '
                "has to come first and is written below. Write the steps in an order that may be "
                "shown."
            ),
        ),
    ),
    Broken(
        "after critical",
        "10_bench.yaml",
        "after_critical: [ring-look]",
        "after_critical: [ring-lok]",
        (
            (
                "10_bench.yaml:24:26: skills[seat-head].steps[push-down].after_critical[1]: "
                '"ring-lok" is not in after. Write it into after too, or take it out here.'
            ),
        ),
    ),
    Broken(
        "twice in list",
        "10_bench.yaml",
        "after: [push-down]",
        "after: [push-down, push-down]",
        (
            (
                '10_bench.yaml:33:28: skills[seat-head].steps[hold-test].after[2]: "push-down" '
                "stands twice in this list. Take one out."
            ),
        ),
    ),
    Broken(
        "error id twice",
        "10_bench.yaml",
        "id: not-wiped",
        "id: not-looked",
        (
            (
                "10_bench.yaml:18:18: skills[seat-head].steps[ring-look].errors[not-looked].id: Two "
                'errors of this step have the id "not-looked". Give one of them another id.'
            ),
        ),
    ),
    Broken(
        "error id x",
        "10_bench.yaml",
        "id: not-wiped",
        "id: x",
        (
            (
                "10_bench.yaml:18:18: skills[seat-head].steps[ring-look].errors[x].id: The error id "
                '"x" is kept for an error that the rubric does not list. Give this error another id.'
            ),
        ),
    ),
    Broken(
        "step id twice",
        "10_bench.yaml",
        "id: hold-test",
        "id: push-down",
        (
            (
                "10_bench.yaml:30:13: skills[seat-head].steps[push-down].id: Two steps of this skill "
                'have the id "push-down". Give one of them another id.'
            ),
        ),
    ),
    Broken(
        "limit error",
        "10_bench.yaml",
        "error: too-short}",
        "error: to-short}",
        (
            (
                '10_bench.yaml:34:82: skills[seat-head].steps[hold-test].limit.error: "to-short" is '
                'no error of this step. Did you mean "too-short"?'
            ),
        ),
    ),
    Broken(
        "prompt error",
        "10_bench.yaml",
        "prompt_error: too-short",
        "prompt_error: late",
        (
            (
                '10_bench.yaml:35:23: skills[seat-head].steps[hold-test].prompt_error: "late" is no '
                "error of this step. Write one of: too-short."
            ),
        ),
    ),
    Broken(
        "limit start",
        "10_bench.yaml",
        "from: push-down",
        "from: pushdown",
        (
            (
                "10_bench.yaml:34:64: skills[seat-head].steps[hold-test].limit.from: No step "
                '"pushdown" in this skill. Did you mean "push-down"?'
            ),
        ),
    ),
    Broken(
        "limit start later",
        "10_bench.yaml",
        "        if_left_out: critical\n",
        ('        if_left_out: critical\n        limit: {quantity: time, unit: s, at_most: "9", from: hold-test}\n'),
        (
            (
                "10_bench.yaml:23:62: skills[seat-head].steps[push-down].limit.from: The clock "
                'starts at "hold-test", which comes later. Name a step that comes before, or cue.'
            ),
        ),
    ),
    Broken(
        "no bound",
        "10_bench.yaml",
        'at_least: "60", ',
        "",
        (
            (
                "10_bench.yaml:34:16: skills[seat-head].steps[hold-test].limit: This limit has no "
                "bound. Write at_least, at_most or both."
            ),
        ),
    ),
    Broken(
        "no value can keep",
        "10_bench.yaml",
        'at_least: "60"',
        'at_least: "60", at_most: "9.5"',
        (
            (
                "10_bench.yaml:34:52: skills[seat-head].steps[hold-test].limit.at_least: No value "
                "can keep this limit: at least 60 and at most 9.5. Write at_least no greater than "
                "at_most."
            ),
        ),
    ),
    Broken(
        "bound is no number",
        "10_bench.yaml",
        'at_least: "60"',
        'at_least: "1e2"',
        (
            (
                '10_bench.yaml:34:52: skills[seat-head].steps[hold-test].limit.at_least: "1e2" is no '
                'plain decimal number. Write digits with a point in quotes, such as "60" or "0.21".'
            ),
        ),
    ),
    Broken(
        "at least without error",
        "10_bench.yaml",
        ", error: too-short}",
        "}",
        (
            (
                "10_bench.yaml:34:16: skills[seat-head].steps[hold-test].limit: This limit has "
                "at_least but names no error. Write error: with the error that a smaller value "
                "stands for."
            ),
        ),
    ),
    Broken(
        "unit of quantity",
        "10_bench.yaml",
        "unit: s,",
        "unit: bar,",
        (
            (
                "10_bench.yaml:34:39: skills[seat-head].steps[hold-test].limit.unit: A time is not "
                'measured in "bar". Write unit: s or min.'
            ),
        ),
    ),
    Broken(
        "only time runs",
        "10_bench.yaml",
        "quantity: time, unit: s,",
        "quantity: depth, unit: m,",
        (
            (
                "10_bench.yaml:34:65: skills[seat-head].steps[hold-test].limit.from: Only a time "
                "runs from a step; this is a depth. Take from: out."
            ),
        ),
    ),
    Broken(
        "not defended",
        "10_bench.yaml",
        "consequence: CO2 passes beside the scrubber and nothing shows it.",
        "consequence: CO2 passes by.",
        (
            (
                "10_bench.yaml:28:26: skills[seat-head].steps[push-down].errors[tilted].consequence: "
                'The critical error "tilted" is not defended. Write a whole sentence of 30 letters '
                "or more with a full stop: how one miss can injure."
            ),
        ),
    ),
    Broken(
        "left out not settled",
        "10_bench.yaml",
        "        if_left_out: critical\n",
        "",
        (
            (
                "10_bench.yaml:19:9: skills[seat-head].steps[push-down]: This step can be critical, "
                "and the file does not say what leaving it out is. Write if_left_out: critical, or "
                "left_out_why: with the reason why it is not."
            ),
        ),
    ),
    Broken(
        "left out contradicts",
        "10_bench.yaml",
        "        if_left_out: critical\n",
        "        if_left_out: critical\n        left_out_why: It is harmless.\n",
        (
            (
                "10_bench.yaml:23:23: skills[seat-head].steps[push-down].left_out_why: if_left_out "
                "and left_out_why contradict each other. Keep one of them."
            ),
        ),
    ),
    Broken(
        "more days than attempts",
        "10_bench.yaml",
        "distinct_days: 2",
        "distinct_days: 4",
        (
            (
                "10_bench.yaml:40:22: skills[seat-head].rule.distinct_days: This rule cannot be met: "
                "4 days in 3 in a row. Raise in_a_row, or ask for fewer."
            ),
        ),
    ),
    Broken(
        "budget",
        "10_bench.yaml",
        "budget: 8",
        "budget: 2",
        (
            (
                "10_bench.yaml:43:15: skills[seat-head].rule.budget: This rule cannot be met: 3 in a "
                "row within a budget of 2. Write a budget no smaller than in_a_row."
            ),
        ),
    ),
    Broken(
        "settings of rule",
        "10_bench.yaml",
        "      settings: [dry]\n",
        "      settings: [pool]\n",
        (
            (
                '10_bench.yaml:41:18: skills[seat-head].rule.settings[1]: The rule asks for "pool", '
                "a setting that this skill does not have. Write one of: dry; or add it to setting."
            ),
        ),
    ),
    Broken(
        "reteach 0",
        "10_bench.yaml",
        "reteach: 1",
        "reteach: 0",
        (
            (
                "10_bench.yaml:42:16: skills[seat-head].rule.reteach: A critical error can happen "
                "here, and reteach is 0. Write reteach: 1 or more."
            ),
        ),
    ),
    Broken(
        "reteach above 0",
        "10_bench.yaml",
        "settings: [dry], reteach: 0",
        "settings: [dry], reteach: 1",
        (
            (
                "10_bench.yaml:55:51: skills[open-valves].rule.reteach: Nothing critical can happen "
                "here, and reteach is above 0. Write reteach: 0."
            ),
        ),
    ),
    Broken(
        "source",
        "10_bench.yaml",
        "    caution: The unit manual decides.\n    currency_days: 90\n  - id",
        ("    caution: The unit manual decides.\n    sources: [{kind: published}]\n    currency_days: 90\n  - id"),
        (
            (
                "10_bench.yaml:45:15: skills[seat-head].sources[1].ref: A published source needs a "
                "reference. Write ref: with name, year and section."
            ),
        ),
    ),
    Broken(
        "unknown feature",
        "10_bench.yaml",
        "all: [three_cells]",
        "all: [three_cell]",
        (
            (
                '10_bench.yaml:11:19: skills[seat-head].needs.all[1]: No feature "three_cell". Did '
                'you mean "three_cells"?'
            ),
        ),
    ),
    Broken(
        "needs both",
        "10_bench.yaml",
        "{all: [three_cells]}",
        "{all: [three_cells], none: [three_cells]}",
        (
            (
                "10_bench.yaml:11:19: skills[seat-head].needs.all[1]: No unit can have and lack "
                '"three_cells". Take it out of all or out of none.'
            ),
        ),
    ),
    Broken(
        "unit feature",
        "00_units.yaml",
        "[three_cells, solenoid]",
        "[three_cells, solenid]",
        (('00_units.yaml:8:62: unit_types[type-a].features[2]: No feature "solenid". Did you mean "solenoid"?'),),
    ),
    Broken(
        "unknown skill before",
        "10_bench.yaml",
        "before: [seat-head]",
        "before: [seat-hed]",
        (('10_bench.yaml:50:14: skills[open-valves].before[1]: No skill "seat-hed". Did you mean "seat-head"?'),),
    ),
    Broken(
        "skill circle",
        "10_bench.yaml",
        "    needs: {all: [three_cells]}\n",
        "    needs: {all: [three_cells]}\n    before: [open-valves]\n",
        (
            (
                "10_bench.yaml:51:13: skills[open-valves].before: Skills ask for each other in a "
                "circle: open-valves, then seat-head, then open-valves. Take one skill out of a "
                "before."
            ),
            (
                '99_profiles.yaml:24:23: profiles[ex-first].required_skills[1]: "seat-head" asks for '
                '"open-valves" first, which this profile does not require. Add "open-valves" to '
                'required_skills, or take "seat-head" out.'
            ),
        ),
    ),
    Broken(
        "skill twice",
        "20_leading.yaml",
        "id: brief-well",
        "id: seat-head",
        (
            (
                '20_leading.yaml:7:9: skills[seat-head].id: Two skills have the id "seat-head"; the '
                "first stands in 10_bench.yaml. Give one of them another id."
            ),
        ),
    ),
    Broken(
        "phase twice",
        "20_leading.yaml",
        "id: leading",
        "id: bench",
        (
            (
                '20_leading.yaml:5:13: phase.id: Two phases have the id "bench"; the first stands in '
                "10_bench.yaml. Give one of them another id."
            ),
        ),
    ),
    Broken(
        "phase order",
        "20_leading.yaml",
        "order: 20",
        "order: 10",
        (
            (
                "20_leading.yaml:5:45: phase.order: Two phases have the order 10; the first stands "
                "in 10_bench.yaml. Give one of them another order."
            ),
        ),
    ),
    Broken(
        "profile skill",
        "99_profiles.yaml",
        "required_skills: [seat-head]",
        "required_skills: [seat-heads]",
        (
            (
                "99_profiles.yaml:24:23: profiles[ex-first].required_skills[1]: No skill "
                '"seat-heads". Did you mean "seat-head"?'
            ),
        ),
    ),
    Broken(
        "profile audience",
        "99_profiles.yaml",
        "required_skills: [seat-head]",
        "required_skills: [seat-head, brief-well]",
        (
            (
                '99_profiles.yaml:24:34: profiles[ex-first].required_skills[2]: "brief-well" is a '
                "skill for a candidate; this profile is for a student. Take it out."
            ),
        ),
    ),
    Broken(
        "profile before",
        "99_profiles.yaml",
        "required_skills: [seat-head, open-valves]",
        "required_skills: [open-valves]",
        (
            (
                '99_profiles.yaml:45:23: profiles[ex-first].required_skills[1]: "open-valves" asks '
                'for "seat-head" first, which this profile does not require. Add "seat-head" to '
                'required_skills, or take "open-valves" out.'
            ),
        ),
    ),
    Broken(
        "required and optional",
        "99_profiles.yaml",
        "optional_skills: [open-valves]",
        "optional_skills: [seat-head]",
        (
            (
                '99_profiles.yaml:25:23: profiles[ex-first].optional_skills[1]: "seat-head" is '
                "required and optional at once. Take it out of one of the two lists."
            ),
        ),
    ),
    Broken(
        "revision twice",
        "99_profiles.yaml",
        "revision: r2\n",
        "revision: r1\n",
        (
            (
                '99_profiles.yaml:33:15: profiles[ex-first].revision: Two profiles "ex-first" have '
                'the revision "r1". Give one of them another revision.'
            ),
        ),
    ),
    Broken(
        "supersedes",
        "99_profiles.yaml",
        "supersedes: r1",
        "supersedes: r0",
        (
            (
                '99_profiles.yaml:35:17: profiles[ex-first].supersedes: No revision "r0" of '
                '"ex-first". Write one of: r1, r2.'
            ),
        ),
    ),
    Broken(
        "supersedes later",
        "99_profiles.yaml",
        '"2026-09-15"',
        '"2025-09-15"',
        (
            (
                "99_profiles.yaml:35:17: profiles[ex-first].supersedes: This revision is in force no "
                'later than "r1", which it supersedes. Write a later in_force_from, or another '
                "supersedes."
            ),
        ),
    ),
    Broken(
        "two rules",
        "99_profiles.yaml",
        "      - {of: pool, at_least_minutes: 300}\n",
        "      - {of: pool, at_least_minutes: 300}\n      - {of: pool, at_least_minutes: 30}\n",
        (('99_profiles.yaml:17:14: profiles[ex-first].hours[2].of: "pool" has two rules here. Keep one of them.'),),
    ),
    Broken(
        "low visibility",
        "99_profiles.yaml",
        "most_students: 6}\n    max_depth_m: 20\n    prerequisites:\n",
        ("most_students: 6, low_visibility_students_per_instructor: 4}\n    max_depth_m: 20\n    prerequisites:\n"),
        (
            (
                "99_profiles.yaml:20:136: "
                "profiles[ex-first].ratios[1].low_visibility_students_per_instructor: More students "
                "in low visibility (4) than else (3). Write 3 or fewer."
            ),
        ),
    ),
    Broken(
        "fault skill",
        "90_faults.yaml",
        "found_in: [open-valves]",
        "found_in: [open-valve]",
        (('90_faults.yaml:9:16: faults[loose-end].found_in[1]: No skill "open-valve". Did you mean "open-valves"?'),),
    ),
    Broken(
        "fault step",
        "90_faults.yaml",
        "found_step: [look-first]",
        "found_step: [look-fist]",
        (
            (
                '90_faults.yaml:10:18: faults[loose-end].found_step[1]: No step "look-fist" in '
                '"open-valves". Did you mean "look-first"?'
            ),
        ),
    ),
    Broken(
        "fault pairs",
        "90_faults.yaml",
        "found_step: [look-first]",
        "found_step: [look-first, turn-slow]",
        (
            (
                "90_faults.yaml:10:17: faults[loose-end].found_step: found_in names 1 and found_step "
                "2; they go in pairs. Write one step for each skill."
            ),
        ),
    ),
    Broken(
        "fault stop missing",
        "90_faults.yaml",
        "    stop_before: turn-slow\n",
        "",
        (
            (
                '90_faults.yaml:10:18: faults[loose-end].found_step[1]: Later in "open-valves" the '
                'step "turn-slow" opens gas with this fault in place. Write stop_before: turn-slow, '
                'or a step between "look-first" and it.'
            ),
        ),
    ),
    Broken(
        "fault stop late",
        "90_faults.yaml",
        "stop_before: turn-slow",
        "stop_before: read-both",
        (
            (
                '90_faults.yaml:11:18: faults[loose-end].stop_before: Later in "open-valves" the '
                'step "turn-slow" opens gas with this fault in place. Write stop_before: turn-slow, '
                'or a step between "look-first" and it.'
            ),
        ),
    ),
    Broken(
        "fault stop unknown",
        "90_faults.yaml",
        "stop_before: turn-slow",
        "stop_before: turn-slo",
        (
            (
                '90_faults.yaml:11:18: faults[loose-end].stop_before: "turn-slo" is no step at or '
                'after the one that finds this fault. Did you mean "turn-slow"?'
            ),
        ),
    ),
    Broken(
        "line break",
        "10_bench.yaml",
        "title: Seat the head",
        'title: "Seat\\nthe head"',
        (
            (
                "10_bench.yaml:8:12: skills[seat-head].title: The text has a line break in it. Write "
                "it in one line, or fold it with >- after the colon."
            ),
        ),
    ),
    Broken(
        "unseen sign",
        "10_bench.yaml",
        "title: Seat the head",
        'title: "Seat \\u202Ethe head"',
        (
            (
                "10_bench.yaml:8:12: skills[seat-head].title: The text holds a sign that cannot be "
                "seen, U+202E. Delete it and type the text anew."
            ),
        ),
    ),
    Broken(
        "blank",
        "10_bench.yaml",
        "title: Seat the head",
        'title: "Seat the head "',
        (("10_bench.yaml:8:12: skills[seat-head].title: The text begins or ends with a blank. Take the blank out."),),
    ),
    Broken(
        "folded with line end",
        "10_bench.yaml",
        "title: Seat the head",
        "title: >\n      Seat the head",
        (
            (
                "10_bench.yaml:8:12: skills[seat-head].title: The text has a line break in it. Write "
                "it in one line, or fold it with >- after the colon."
            ),
        ),
    ),
    Broken(
        "large number",
        "10_bench.yaml",
        "budget: 8",
        "budget: 9007199254740992",
        (
            (
                "10_bench.yaml:43:15: skills[seat-head].rule.budget: This number is too large to be "
                "kept exactly. Write a smaller whole number."
            ),
        ),
    ),
    Broken(
        "tab",
        "10_bench.yaml",
        "    title: Seat the head",
        "\ttitle: Seat the head",
        ("10_bench.yaml:8:1: A tab stands here. Indent with blanks only.",),
    ),
    Broken(
        "colon in text",
        "10_bench.yaml",
        "title: Seat the head",
        "title: Seat: the head",
        (("10_bench.yaml:8:16: A colon stands where no key can be. Put a text with a colon in quotes."),),
    ),
    Broken(
        "open quote",
        "20_leading.yaml",
        "currency_days: 365",
        'currency_days: "365',
        ("20_leading.yaml:19:1: A quote was opened and is not closed. Close it with the same sign.",),
    ),
    Broken(
        "open bracket",
        "10_bench.yaml",
        "setting: [dry]\n",
        "setting: [dry\n",
        (("10_bench.yaml:11:10: A colon stands where no key can be. Put a text with a colon in quotes."),),
    ),
    Broken(
        "open brace",
        "20_leading.yaml",
        "why: A plan can be followed.}",
        "why: A plan can be followed.",
        (
            (
                "20_leading.yaml:15:9: A block in braces is not closed, or lacks a comma. Put commas "
                "between its keys and } at its end."
            ),
        ),
    ),
    Broken(
        "indent",
        "10_bench.yaml",
        "    purpose: The head",
        "   purpose: The head",
        (
            (
                "10_bench.yaml:9:4: This does not belong where it stands. Indent the line as far as "
                "its neighbours, or put the text in quotes."
            ),
        ),
    ),
    Broken(
        "odd sign",
        "10_bench.yaml",
        "title: Seat the head",
        "title: @Seat the head",
        (("10_bench.yaml:8:12: A text begins with a sign that has a meaning of its own. Put the text in quotes."),),
    ),
    Broken(
        "escape",
        "10_bench.yaml",
        "title: Seat the head",
        'title: "Seat \\q"',
        (
            (
                "10_bench.yaml:8:19: There is no such sign after a backslash. Write two backslashes, "
                "or use single quotes."
            ),
        ),
    ),
    Broken(
        "no colon",
        "10_bench.yaml",
        "revision: r1\n",
        "revision: r1\nlonely\n",
        (("10_bench.yaml:6:1: This line has no key with a colon. Write a colon and a blank after the key."),),
    ),
    Broken(
        "two documents",
        "20_leading.yaml",
        "currency_days: 365\n",
        "currency_days: 365\n---\nschema: rubric/1\n",
        ("20_leading.yaml:19:1: A second document begins here. Keep one document in each file.",),
    ),
    Broken(
        "yaml 1.1",
        "20_leading.yaml",
        "# yaml-language-server: $schema=rubric.schema.json\n",
        "%YAML 1.1\n---\n",
        ("20_leading.yaml:2:1: Rubric files are YAML 1.2. Take the %YAML line out.",),
    ),
    Broken(
        "empty",
        "20_leading.yaml",
        LEADING,
        "# nothing yet\n",
        ("20_leading.yaml:1:1: The file is empty. Write a rubric into it, or delete it.",),
    ),
    Broken(
        "bracket key",
        "20_leading.yaml",
        "revision: r1",
        "[revision]: r1",
        (
            (
                "20_leading.yaml:4:1: A key has to be one word. Write a word and a colon; put a text "
                "with brackets in quotes."
            ),
        ),
    ),
    Broken(
        "control sign",
        "10_bench.yaml",
        "title: Seat the head",
        "title: Seat \x01 head",
        ("10_bench.yaml:8:17: A sign stands here that no text file may hold, U+0001. Delete it.",),
    ),
    Broken(
        "share",
        "10_bench.yaml",
        (
            "        prompt_error: too-short\n        errors:\n          - {id: too-short, label: "
            "Watched too short, consequence: A slow leak is not seen.}\n"
        ),
        (
            "        left_out_why: It is found later.\n        errors:\n          - {id: "
            "too-short, label: Watched too short, consequence: A slow leak lets water in and "
            "burns the mouth., critical: true}\n"
        ),
        (
            (
                "all files: 2 of 4 errors are critical: where half are, none stands out. Keep "
                "critical for what can injure someone on this dive by one miss."
            ),
        ),
    ),
    Broken(
        "merge key of an alias",
        "10_bench.yaml",
        "    title: Seat the head\n",
        "    <<: *base\n",
        (
            (
                "10_bench.yaml:8:5: A merge key (<<) stands here. Rubric files say everything where "
                "it stands: write it out."
            ),
        ),
    ),
    Broken(
        "anchor of an item",
        "00_units.yaml",
        "- {id: solenoid,",
        "- &one {id: solenoid,",
        (
            (
                "00_units.yaml:6:5: features[solenoid]: &one names this for use elsewhere. Rubric "
                "files say everything where it stands: write it out."
            ),
        ),
    ),
    Broken(
        "key that is a number",
        "00_units.yaml",
        "  - {id: solenoid,",
        "  - {2: b, id: solenoid,",
        (('00_units.yaml:6:6: features[solenoid].2: There is no key "2" here. Write one of: id, note, title.'),),
    ),
    Broken(
        "text that begins with a bracket",
        "10_bench.yaml",
        "title: Seat the head",
        "title: [dry] seat the head",
        (
            (
                "10_bench.yaml:8:18: This does not belong where it stands. Indent the line as far as "
                "its neighbours, or put the text in quotes."
            ),
        ),
    ),
    Broken(
        "mix of both",
        "99_profiles.yaml",
        "required_skills: [seat-head]",
        "required_skills: []",
        (
            (
                "99_profiles.yaml:24:22: profiles[ex-first].required_skills: The list has 0; at "
                "least 1 is needed. Add what is missing."
            ),
        ),
    ),
    Broken(
        "days apart",
        "99_profiles.yaml",
        "supersedes: null",
        "supersedes: 2025",
        (
            (
                "99_profiles.yaml:11:17: profiles[ex-first].supersedes: 2025 is a whole number; text "
                'is expected. Put it in quotes: "2025".'
            ),
        ),
    ),
)
