"""Which published rows and which known traps no test of gas, loop, exposure or unit checks stands for, and why."""

from __future__ import annotations

_NO_PLAN = "no gas is planned here: neither contents of a cylinder, nor bailout, nor how long oxygen lasts"
_NO_STOPS = "no stops are computed here"

QUANTITIES_LEFT_OUT = {
    "altitude_stop_depth": _NO_STOPS,
    "z20": _NO_PLAN,
    "z20_mix": _NO_PLAN,
    "free_gas_ideal": _NO_PLAN,
    "free_gas_real": _NO_PLAN,
    "bailout_litres": _NO_PLAN,
    "o2_minutes": _NO_PLAN,
}
"""By the quantity of a row; all its rows are left out of the copied table."""

TRAPS_LEFT_OUT = {
    27: f"ideal fill: {_NO_PLAN}",
    28: f"compressibility of a mixture with helium: {_NO_PLAN}",
    29: f"litres, real litres and a cylinder's rating: {_NO_PLAN}",
    30: f"mean pressure of a bailout: {_NO_PLAN}",
}

TRAPS_HELD_ELSEWHERE = {
    35: (
        ("test_ratio.py", "test_the_sweep_finds_what_a_count_minute_by_minute_finds"),
        ("test_ratio.py", "test_the_limit_is_so_many_for_each_instructor_and_assistant_up_to_the_most"),
        ("test_hours_page.py", "test_the_demo_says_who_is_short_and_where_the_ratio_was_broken"),
    ),
    36: (
        ("test_minutes.py", "test_each_minute_counts_once_where_the_person_was_first"),
        ("test_hours_page.py", "test_columns_add_up_by_kind_and_by_unit"),
    ),
}
"""Traps of hours: a ratio at a moment instead of by day, and students' minutes added up as if they had passed."""

TRAPS = range(1, 40)
"""Every known one."""
