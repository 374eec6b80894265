"""`course calc`: one registered quantity from what is typed."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner, Result

from course.commands import main
from course.errors import ExitCode
from course.physics.listing import reference
from course.physics.registry import GROUPS, REGISTRY
from course.physics.result import DEFERS
from course.places import ROOT


def calc(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["calc", *arguments])


def test_list_names_every_quantity_and_who_decides() -> None:
    told = calc("--list")
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    assert [line.split()[0] for line in lines[: len(REGISTRY)]] == list(REGISTRY)
    assert DEFERS in told.stdout
    plain = json.loads(calc("--list", "--json").stdout)
    assert [one["name"] for one in plain] == list(REGISTRY)
    assert all(one["equation"] and one["source"] and DEFERS in one["cautions"] for one in plain)


@pytest.mark.parametrize("name", REGISTRY)
def test_a_name_with_list_tells_all_that_it_takes(name: str) -> None:
    told = calc(name, "--list")
    assert told.exit_code == 0
    for one in REGISTRY[name].inputs:
        assert f"  {one.key}: {one.what}" in told.stdout
    assert f"equation: {REGISTRY[name].words}" in told.stdout
    assert json.loads(calc(name, "--list", "--json").stdout)["name"] == name


def test_a_band_is_told_with_its_ends_inputs_source_and_cautions() -> None:
    """1.3 to 0.16 at 1 L/min in 5 to 8 L: 5.0 to 7.9 min, own arithmetic."""
    told = calc("oxygen-off-minutes", "po2=1.3bar", "diluent_oxygen=0", "vo2=0.999..1 L/min", "volume=5..8")
    assert told.exit_code == 0
    assert told.stdout.startswith("oxygen-off-minutes: 4.9 to 7.9 min\n")
    assert "volume=5..8 L" in told.stdout
    assert "never a time that is safe" in told.stdout
    assert "source: " in told.stdout


def test_as_json_the_answer_has_value_unit_mode_inputs_and_cautions() -> None:
    told = json.loads(calc("ambient-pressure", "depth=30", "mode=trade", "--json").stdout)
    assert (told["kind"], told["value"], told["unit"], told["mode"]) == ("result", 4.0, "bar", "trade")
    assert {"key": "depth", "value": 30.0, "unit": "m"} in told["inputs"]
    band = json.loads(calc("oxygen-off-minutes", "po2=1.3", "--json").stdout)
    assert (band["unit"], band["mode"], band["lowest"]["mode"]) == ("min", *["either, both give the same"] * 2)
    assert band["kind"] == "band"
    assert band["lowest"]["value"] < band["highest"]["value"]


def test_the_guides_table_is_made_from_the_registry() -> None:
    """After a wanted change: write `reference(GROUPS)` to the file anew."""
    guide = (ROOT / "course" / "guide" / "figures.md").read_text("utf-8")
    assert guide == reference(GROUPS)
    for name, one in REGISTRY.items():
        (row,) = [line for line in guide.splitlines() if line.startswith(f"| {name} |")]
        assert one.unit in row
        assert row.count(" | ") == 8, "a cell of the table is not one cell"


def test_where_there_is_no_number_the_reason_is_told_and_the_command_ends_with_3() -> None:
    told = calc("cns-share", "po2=1.7 ata", "minutes=10")
    assert told.exit_code == ExitCode.REFUSED
    assert "no number. po2" in told.stdout
    plain = calc("cns-share", "po2=1.7 ata", "minutes=10", "--json")
    assert plain.exit_code == ExitCode.REFUSED
    assert "1.6" in json.loads(plain.stdout)["reason"]


def test_a_number_that_may_mean_two_things_is_asked_back() -> None:
    told = calc("oxygen-pressure", "oxygen=21", "depth=30")
    assert told.exit_code == ExitCode.REFUSED
    assert told.stdout == ""
    assert "oxygen=21% or oxygen=0.21" in told.stderr
    assert calc("oxygen-pressure", "oxygen=21%", "depth=30").stdout.startswith("oxygen-pressure: 0.843 bar")


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        ((), ExitCode.USAGE, "--list"),
        (("ambient-pressure", "depth"), ExitCode.USAGE, "is no input"),
        (("ambient-pressure", "depth=3", "depth=4"), ExitCode.USAGE, "given twice"),
        (("ambient-presure", "depth=3"), ExitCode.NOT_FOUND, "Did you mean ambient-pressure"),
        (("ambient-pressure",), ExitCode.REFUSED, "needs depth"),
        (("oxygen-off-minutes", "po2=1.3", "vo2=1"), ExitCode.REFUSED, "vo2=0.5..3"),
    ],
)
def test_a_slip_is_told_with_what_to_write(arguments: tuple[str, ...], code: ExitCode, told: str) -> None:
    found = calc(*arguments)
    assert found.exit_code == code
    assert told in found.stderr
    assert "Traceback" not in found.output


def test_the_days_of_a_course_are_one_typed_text() -> None:
    days = "exposures=2026-10-24T20:00+02:00 0.7 180; 2026-10-25T09:00+01:00 0.7 180"
    told = calc("days-cns-24h", days)
    assert told.stdout.startswith("days-cns-24h: 63.2 %")
    assert "2026-10-25T09:00+01:00 0.7 180" in told.stdout
