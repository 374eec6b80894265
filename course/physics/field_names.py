"""What an input is called, on a form and inside a sentence: a word for it, what it is, its value and unit."""

from __future__ import annotations

from course.physics.quantity import Choice, Input, Text
from course.physics.result import Given

_IN_SENTENCES = {
    "po2": "PO2",
    "vo2": "metabolism",
    "volume": "loop with lungs",
    "temperature": "gas at",
    "exchanged": "share exchanged",
}

_NAMES = {
    "po2": "PO2",
    "po2_to": "PO2 at the end",
    "po2_calibration": "PO2 at the calibration",
    "po2_check": "PO2 at the check",
    "vo2": "Metabolism",
    "volume": "Loop volume",
    "depth_to": "Depth at the end",
    "descent_rate": "Rate",
    "flow": "Flow",
    "breath": "One breath",
    "seconds": "Seconds",
    "flush_seconds": "Seconds of the flush",
    "rate": "Rate",
    "diluent_oxygen": "Oxygen in the diluent",
    "diluent_helium": "Helium in the diluent",
    "beside": "Past the canister",
    "back": "Back through a valve",
    "quotient": "CO2 for oxygen",
    "mv_air": "Millivolts in air",
    "mv_gas": "Millivolts in the gas",
    "mv_calibration": "Millivolts at the calibration",
    "mv_check": "Millivolts at the check",
    "gas_oxygen": "Oxygen in the gas",
    "shown": "PO2 shown",
    "assumed": "PO2 taken for",
    "figure": "Own figure",
    "made": "Made on",
    "on": "Asked about",
    "temperature_end": "Temperature at the end",
    "temperature_doubt": "Doubt of temperature",
    "gauge_doubt": "Doubt of the gauge",
    "watch": "Time by the manual",
    "watched": "Time watched",
    "allowed": "Loss allowed",
    "start": "Pressure at the start",
    "end": "Pressure at the end",
    **{f"gain_{cell}": f"Cell {cell} reads" for cell in (1, 2, 3)},
    **{f"limit_{cell}": f"Cell {cell} stops at" for cell in (1, 2, 3)},
}


def named(key: str) -> str:
    """Return the word for an input's key."""
    return _NAMES.get(key, key.replace("_", " ").capitalize())


def inside(name: str) -> str:
    """Return a word as it stands inside a sentence: PO2 stays as it is."""
    return name if name[1:2].isupper() else name[0].lower() + name[1:]


def key_word(key: str) -> str:
    """Return what an input is called inside a sentence."""
    return _IN_SENTENCES.get(key, key.replace("_", " "))


def with_unit(one: Given) -> str:
    """Return a value as it is told: "5 to 8 L"."""
    value = one.value.replace("..", " to ") if isinstance(one.value, str) else f"{one.value:.6g}"
    return f"{value} {one.unit.replace('degC', '°C')}".rstrip()


def field_label(one: Input | Choice | Text) -> str:
    """Return an input's label: word, what it is, then unit and how it is written in brackets."""
    name = named(one.key)
    what = one.what.removeprefix(f"{name.lower()}: ").replace("degC", "°C")
    written = [] if not isinstance(one, Input) else _written(one)
    return f"{name}: {what}" + (f" ({', '.join(written)})" if written else "")


def _written(one: Input) -> list[str]:
    unit = one.unit.replace("degC", "°C")
    share = not unit and one.highest == 1 and "0 to 1" not in one.what
    parts = (
        unit,
        "0 to 1" if share else "",
        "from..to" if one.banded else "",
        "may be left out" if one.optional else "",
    )
    return [part for part in parts if part]
