"""The pictures of quantities: over time where time is in it, along depth or what else changes otherwise.

A curve for each end of what is never known. A way up or down, and what is exchanged breath by breath, are drawn by the
clock at a pace that stands with the picture: no plan, and no advice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from course.physics.field_names import key_word, with_unit
from course.physics.loop import loop_bar_l
from course.physics.quantity import Input, Quantity
from course.physics.registry import REGISTRY
from course.physics.result import Answer, Band, Given, Result
from course.physics.series import Curve, Series, co2_breath_by_breath, series

_PLACES = 81
_LONGEST_MIN = 120.0
_BEYOND = 1.15
_BREATHS, _BREATHS_DRAWN = "co2-inspired", 40
_ALONG = {
    "limit": "PO2",
    "seconds": "seconds",
    "flush_seconds": "seconds",
    "loss": "loss of pressure",
    "beside": "share past the canister",
    "pressure": "pressure of the gas",
    "po2": "PO2",
}
_DRAWN_AS = {
    "mouthpiece-oxygen-in-time": "oxygen share",
    "mouthpiece-nitrogen-in-time": "nitrogen share",
    "mouthpiece-helium-in-time": "helium share",
    "mouthpiece-nitrogen-down-in-time": "nitrogen",
    "mouthpiece-helium-flush-in-time": "helium",
    "oxygen-off-volume": "volume left",
    "flush-share-in-time": "share replaced",
    "mouthpiece-exchanged": "share exchanged",
    "mouthpiece-narcotic-in-time": "narcotic depth",
    "leak-litres": "gas lost",
    "co2-given-off": "CO2 breathed out",
    "loop-density": "density",
    "loop-narcotic-depth": "narcotic depth",
    "co2-inspired": "CO2 breathed in",
    "cell-expected-mv": "cell",
    "voting-hides": "hidden PO2",
    "scrubber-minutes": "time on the loop",
}
"""What stands at the axis; PO2 for all others that are drawn."""


@dataclass(frozen=True)
class Picture:
    """A quantity along one input, with the value that is looked for where there is one."""

    series: Series
    limit: float | None = None
    pace: str = ""
    """At what pace time runs in it, where that is taken and not told: "up at 9 m/min"."""

    @property
    def drawn(self) -> str:
        """What is drawn, in a word or two with its unit: "PO2 (bar)"."""
        name = _DRAWN_AS.get(self.series.quantity, "PO2")
        return f"{name} ({self.series.unit})" if self.series.unit else name

    @property
    def along(self) -> str:
        """Along what it is drawn, with its unit and pace: "minutes up at 9 m/min", "depth (m)"."""
        name = _ALONG.get(self.series.along, self.series.along.replace("_", " "))
        told = f"{name} ({self.series.along_unit})" if self.series.along_unit not in {"", "min", "s"} else name
        return f"{told} {self.pace}".rstrip()

    @property
    def unknown(self) -> str:
        """What is not known, of which each curve takes an end: "metabolism, loop with lungs"."""
        return ", ".join(key_word(one.key) for one in self.series.curves[0].over) if self.series.curves else ""

    def line_words(self, curve: Curve) -> str:
        """What one curve stands for: the end of what is not known that it takes."""
        return ", ".join(f"{key_word(one.key)} {with_unit(one)}" for one in curve.over)

    def end_words(self, curve: Curve) -> str:
        """The same, short, beside `unknown`: "0.5 L/min, 8 L"."""
        return ", ".join(map(with_unit, curve.over))


@dataclass(frozen=True)
class _Clock:
    """How a place along an input becomes a time: so much of it in one `unit`, and what that pace is called."""

    along: str
    unit: str
    rate: str | float
    """The key of the input that says it, or what is common practice."""
    pace: str
    """In braces the rate."""


_UP = _Clock("minutes", "min", "rate", "up at {} m/min")
_DOWN = _Clock("minutes", "min", "descent_rate", "down at {} m/min")


@dataclass(frozen=True)
class _Along:
    """Which quantity is drawn for another one, along which of its inputs, and towards which one of its limits."""

    quantity: str
    key: str
    limit: str = ""
    until: float | None = None
    """Where the picture ends at least, for inputs that are mostly asked at their beginning."""
    ends: Callable[[Mapping[str, Any]], float] | None = None
    """Where it ends, out of what was asked, for inputs that are drawn and not asked."""
    clock: _Clock | None = None
    pace: str = ""
    """What the picture takes beside what was asked, in braces inputs of what is drawn."""


def _oxygen_gone(values: Mapping[str, Any]) -> float:
    """Minutes until the last oxygen is gone with nothing added, at the slow end."""
    return float(values["po2"] * values["volume"][1] / loop_bar_l(values["vo2"][0]))


def _down(values: Mapping[str, Any]) -> float:
    """Minutes until the depth is reached, after those at the surface."""
    return _way_down(values) + float(values["seconds"]) / 60


def _way_down(values: Mapping[str, Any]) -> float:
    """Minutes of going down."""
    return float(values["depth"] / values["descent_rate"])


_FLUSHING = "of diluent at {flow}"
_OPEN = "open at the surface"
_OPEN_THEN_DOWN = "from opening, open {seconds}, down at {descent_rate}"
_CLOSED_DOWN = "down at {descent_rate}, open {seconds} before"
_OPEN_THEN_FLUSHED = f"{_FLUSHING}, open {{seconds}} before"
_DRAWN: dict[str, _Along] = {
    "oxygen-off-minutes": _Along("oxygen-off-po2", "minutes", "limit"),
    "oxygen-off-po2": _Along("oxygen-off-po2", "minutes"),
    "oxygen-off-shrinking-minutes": _Along("oxygen-off-shrinking-po2", "minutes", "limit"),
    "oxygen-off-shrinking-po2": _Along("oxygen-off-shrinking-po2", "minutes"),
    "ascent-po2": _Along("ascent-po2", "depth_to", clock=_UP),
    "ascent-depth-at-po2": _Along("ascent-po2", "depth_to", "limit", clock=_UP),
    "descent-po2": _Along("descent-po2", "depth_to", clock=_DOWN),
    "valve-open-minutes": _Along("valve-open-po2", "minutes", "limit"),
    "valve-open-filling-minutes": _Along("valve-open-filling-po2", "minutes", "limit"),
    "valve-open-filling-po2": _Along("valve-open-filling-po2", "minutes"),
    "valve-short-minutes": _Along("valve-short-po2", "minutes", "limit"),
    "valve-short-po2": _Along("valve-short-po2", "minutes"),
    "oxygen-off-shrinking-volume": _Along("oxygen-off-volume", "minutes", ends=_oxygen_gone),
    "oxygen-off-volume": _Along("oxygen-off-volume", "minutes"),
    **{
        f"mouthpiece-{gas}{name}": _Along(f"mouthpiece-{gas}-in-time", "seconds", until=60, pace=_OPEN)
        for gas, name in product(("oxygen", "nitrogen", "helium"), ("", "-in-time"))
    },
    "mouthpiece-exchanged": _Along("mouthpiece-exchanged", "seconds", until=60, pace=_OPEN),
    "mouthpiece-po2-in-time": _Along("mouthpiece-po2-in-time", "minutes", ends=_down, pace=_OPEN_THEN_DOWN),
    **{
        name: _Along(f"mouthpiece-{drawn}-in-time", "minutes", ends=_way_down, pace=_CLOSED_DOWN)
        for name, drawn in (
            ("mouthpiece-narcotic-depth", "narcotic"),
            ("mouthpiece-narcotic-in-time", "narcotic"),
            ("mouthpiece-nitrogen-at-depth", "nitrogen-down"),
            ("mouthpiece-nitrogen-down-in-time", "nitrogen-down"),
        )
    },
    **{
        f"mouthpiece-helium-{name}": _Along(
            "mouthpiece-helium-flush-in-time", "flush_seconds", until=60, pace=_OPEN_THEN_FLUSHED
        )
        for name in ("after-flush", "flush-in-time")
    },
    "flush-po2-in-time": _Along("flush-po2-in-time", "seconds", until=60, pace=_FLUSHING),
    "flush-share-in-time": _Along("flush-share-in-time", "seconds", until=60, pace=_FLUSHING),
    "leak-litres": _Along("leak-litres", "loss"),
    "co2-given-off": _Along("co2-given-off", "minutes"),
    "valve-open-po2": _Along("valve-open-po2", "minutes"),
    "loop-density": _Along("loop-density", "depth"),
    "loop-narcotic-depth": _Along("loop-narcotic-depth", "depth"),
    "flush-po2": _Along("flush-po2-in-time", "seconds", until=60, pace=_FLUSHING),
    "co2-inspired": _Along("co2-inspired", "beside"),
    "cell-expected-mv": _Along("cell-expected-mv", "pressure"),
    "voting-hides": _Along("voting-hides", "po2"),
    "voted-po2": _Along("voted-po2", "set_point"),
    "scrubber-minutes": _Along("scrubber-minutes", "minutes"),
}


def picture(quantity: Quantity, given: Mapping[str, Any]) -> Picture | None:
    """Return a quantity's picture along time, depth or what else changes; None for one that has none.

    Args:
        quantity: which.
        given: its inputs, as it takes them; the rest has its usual values.

    Raises:
        RefusedError: an input is unknown, missing, or a band is one number.
    """
    how = _DRAWN.get(quantity.name)
    if how is None:
        return None
    drawn, values = REGISTRY[how.quantity], quantity.filled(given)
    if quantity.name == _BREATHS:
        return _breath_by_breath(quantity, values)
    fitting = {one.key for one in drawn.inputs} - {how.key}
    kept = {key: value for key, value in values.items() if key in fitting and value is not None}
    known = {**drawn.filled({**kept, how.key: 1.0}), **values}
    if how.key not in values:  # nobody asked for a place: the picture goes as far as what was found
        known[how.key] = None
    places = _places(drawn, how, known, quantity.answer(**values))
    places = _from_first_valid(drawn, how.key, places, kept)
    taken = drawn.filled({**kept, how.key: places[0]})
    curves = series(drawn, how.key, places, **kept)
    limit = values.get(how.limit) if how.limit else None
    if how.clock is None:
        return Picture(curves, limit, how.pace.format_map(_told_inputs(drawn, taken)))
    rate = taken[how.clock.rate] if isinstance(how.clock.rate, str) else how.clock.rate
    began = float(taken["depth"]) if how.key == "depth_to" else 0.0
    return Picture(_by_the_clock(curves, how.clock, began, float(rate)), limit, how.clock.pace.format(f"{rate:g}"))


def _told_inputs(drawn: Quantity, taken: Mapping[str, Any]) -> dict[str, str]:
    """Single inputs with their units, for the words of a pace."""
    numbers = [one for one in drawn.inputs if isinstance(one, Input) and isinstance(taken[one.key], int | float)]
    return {one.key: with_unit(Given(one.key, float(taken[one.key]), one.unit)) for one in numbers}


def _by_the_clock(curves: Series, clock: _Clock, began: float, rate: float) -> Series:
    """The same curves over the time at which each place is reached."""
    timed = [replace(one, places=tuple(abs(place - began) / rate for place in one.places)) for one in curves.curves]
    return replace(curves, along=clock.along, along_unit=clock.unit, curves=tuple(timed))


def _from_first_valid(drawn: Quantity, key: str, places: list[float], kept: Mapping[str, Any]) -> list[float]:
    """The places from the first on where every end of what is not known gives a number, or all of them."""
    ends = drawn.corners(kept)
    valid = [
        np.broadcast_to(drawn.over(**{**kept, **end, key: np.asarray(places)}).valid, (len(places),)) for end in ends
    ]
    held = np.logical_and.reduce(valid)
    return places[int(np.argmax(held)) :] if held.any() else places


def _breath_by_breath(quantity: Quantity, values: Mapping[str, Any]) -> Picture:
    """Carbon dioxide from a clean loop over the first minutes, for both ends of the work."""
    curves = co2_breath_by_breath(
        _BREATHS_DRAWN, beside=values["beside"], back=values["back"], vo2=(0.5, 3.0), ventilation=values["ventilation"]
    )
    drawn = Series(
        quantity.name, "minutes", "min", quantity.unit, curves, quantity.source, quantity.validity, quantity.cautions
    )
    return Picture(drawn)


def _places(drawn: Quantity, how: _Along, values: Mapping[str, Any], answer: Answer) -> list[float]:
    """Where the curves are asked: up to beyond what was given or found, within the input's own range."""
    line = next(one for one in drawn.inputs if isinstance(one, Input) and one.key == how.key)
    start, asked = line.lowest, values.get(how.key)
    if how.ends is not None:
        end = how.ends(values) * _BEYOND
    elif how.key == "depth_to":
        start, end = float(values["depth"]), float(values.get("depth_to", 0.0) or 0.0)
    elif asked is not None:
        end = float(asked) * _BEYOND
    else:
        last = answer.highest if isinstance(answer, Band) else answer
        end = last.exact * _BEYOND if isinstance(last, Result) else _LONGEST_MIN
        end = min(end, _LONGEST_MIN)
    end = min(max(end, line.lowest), line.highest)
    end = max(end, how.until or end)
    if end == start:
        end = line.highest
    return [float(one) for one in np.linspace(start, end, _PLACES)]
