"""What a quantity's answer means on a dive, in two sentences, and its picture along what changes.

The sentences say what happens and what that teaches; each holds its numbers from-to where they are never known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from course.physics.mouthpiece import FLOOD_SENTENCES, FLOODED
from course.physics.quantity import Input, Quantity
from course.physics.registry import REGISTRY
from course.physics.result import DEFERS, Answer, Band, Given, NoResult, Result
from course.physics.series import Curve, Series, co2_breath_by_breath, series

_PLACES = 41
_LONGEST_MIN = 120.0
_BEYOND = 1.15
_BREATHS, _BREATHS_DRAWN = "co2-inspired", 40
_UNFELT = "Nothing of it is felt on the way, and no part of that time is safe: only a display that is read tells it."
_UNFELT_UP = "Nothing of it is felt on the way up: only a display that is read tells it."
_NO_WAIT = "High oxygen may show as a convulsion without warning: there is nothing to wait for."
_CLOSED = "{meaning} Helium comes back only by a diluent flush, and oxygen that the controller adds hides the rest."

_SENTENCES: dict[str, tuple[str, str]] = {
    "oxygen-off-minutes": (
        "With no oxygen added and diluent keeping the volume, PO2 falls from {po2} to {limit} in {told}.",
        _UNFELT,
    ),
    "oxygen-off-po2": ("{minutes} with no oxygen added leave a PO2 of {told} out of {po2}.", _UNFELT),
    "oxygen-off-shrinking-minutes": (
        "With nothing added at all, PO2 falls from {po2} to {limit} at {depth} in {told}, while the loop shrinks.",
        _UNFELT,
    ),
    "ascent-po2": (
        "Going up from {depth} to {depth_to} with no oxygen added leaves a PO2 of {told} out of {po2}.",
        _UNFELT_UP,
    ),
    "ascent-depth-at-po2": (
        "Going up from {depth} on {po2} with no oxygen added, PO2 is down to {limit} at {told}.",
        _UNFELT_UP,
    ),
    "descent-po2": (
        "Going down from {depth} to {depth_to} on {po2}, diluent making up the volume, ends on a PO2 of {told}.",
        "Oxygen that a controller or a hand adds on the way comes on top.",
    ),
    "valve-open-minutes": (
        "With {inflow} of oxygen coming in at {depth}, PO2 rises from {po2} to {limit} in {told}.",
        _NO_WAIT,
    ),
    "valve-open-filling-minutes": (
        "With {inflow} of oxygen coming in at {depth} and nothing vented, PO2 rises from {po2} to {limit} in {told}.",
        _NO_WAIT,
    ),
    "valve-open-filling-po2": (
        "{minutes} of {inflow} oxygen coming in at {depth} and nothing vented end on a PO2 of {told} out of {po2}.",
        _NO_WAIT,
    ),
    "valve-short-minutes": (
        "With only {inflow} of oxygen coming in, PO2 falls from {po2} to {limit} in {told}.",
        _UNFELT,
    ),
    "valve-short-po2": (
        "{minutes} with only {inflow} of oxygen coming in leave a PO2 of {told} out of {po2}.",
        _UNFELT,
    ),
    "oxygen-off-shrinking-po2": (
        "{minutes} with nothing added at {depth} leave a PO2 of {told} out of {po2}, while the loop shrinks.",
        _UNFELT,
    ),
    "valve-open-po2": (
        "{minutes} of {inflow} oxygen coming in at {depth} on {po2} end on a PO2 of {told}.",
        _NO_WAIT,
    ),
    "mouthpiece-narcotic-depth": (
        "Room air that takes {exchanged} of the loop at the surface makes it at {depth} as narcotic as air at {told}.",
        _CLOSED,
    ),
    "mouthpiece-nitrogen-at-depth": (
        "Room air that takes {exchanged} of the loop at the surface makes nitrogen {told} at {depth}.",
        _CLOSED,
    ),
    "co2-inspired": (
        "With {leaks}, {told} of CO2 are breathed in.",
        "Tests of canisters end at 0.5 or 1 kPa; neither is safe, since CO2 may take the will to go off the loop.",
    ),
    "flush-po2": (
        "After a diluent flush at {depth} every cell ought to show {told}.",
        "Another number says that a cell, the gas or the flush is not what it was taken for.",
    ),
    "voting-hides": (
        "At a PO2 of {po2} the unit shows {told} less than there is.",
        "{meaning} Two cells that agree can be wrong together.",
    ),
    "voted-po2": (
        "While the vote of its cells shows a set point of {set_point} the loop is at {told}.",
        "Two cells that agree are believed, whichever is right.",
    ),
}
"""By quantity: what happens, and what it teaches; in braces inputs with their units, `told` and `meaning`."""


_ALONG = {
    "limit": "PO2",
    "times": "times opened",
    "flush": "share flushed",
    "loss": "loss of pressure",
    "depth_to": "depth",
    "beside": "share past the canister",
    "pressure": "pressure of the gas",
    "po2": "PO2",
}
_KEYS = {
    "po2": "PO2",
    "vo2": "metabolism",
    "volume": "loop with lungs",
    "temperature": "gas at",
    "exchanged": "share exchanged",
}
_UNSAID = {("altitude", 0.0), ("place", "surface"), ("times", 1.0), ("mode", "physical")}
"""What an assumption need not say: the usual place, and the mode that counts as usual."""


_DRAWN_AS = {
    "mouthpiece-narcotic-depth": "narcotic depth",
    "mouthpiece-nitrogen-at-depth": "nitrogen",
    "mouthpiece-oxygen": "oxygen share",
    "mouthpiece-nitrogen": "nitrogen share",
    "mouthpiece-helium": "helium share",
    "mouthpiece-helium-after-flush": "helium",
    "oxygen-off-shrinking-volume": "volume left",
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

    @property
    def drawn(self) -> str:
        """What is drawn, in a word or two with its unit: "PO2 (bar)"."""
        name = _DRAWN_AS.get(self.series.quantity, "PO2")
        return f"{name} ({self.series.unit})" if self.series.unit else name

    @property
    def along(self) -> str:
        """Along what it is drawn, with its unit: "minutes", "depth (m)"."""
        name = _ALONG.get(self.series.along, self.series.along.replace("_", " "))
        return f"{name} ({self.series.along_unit})" if self.series.along_unit not in {"", "min"} else name

    def line_words(self, curve: Curve) -> str:
        """What one curve stands for: the end of what is not known that it takes."""
        return ", ".join(f"{_KEYS.get(one.key, one.key.replace('_', ' '))} {_with_unit(one)}" for one in curve.over)


@dataclass(frozen=True)
class _Along:
    """Which quantity is drawn for another one, along which of its inputs, and towards which one of its limits."""

    quantity: str
    key: str
    limit: str = ""
    until: float | None = None
    """Where the picture ends at least, for inputs that are mostly asked at their beginning."""


_DRAWN: dict[str, _Along] = {
    "oxygen-off-minutes": _Along("oxygen-off-po2", "minutes", "limit"),
    "oxygen-off-po2": _Along("oxygen-off-po2", "minutes"),
    "oxygen-off-shrinking-minutes": _Along("oxygen-off-shrinking-po2", "minutes", "limit"),
    "oxygen-off-shrinking-po2": _Along("oxygen-off-shrinking-po2", "minutes"),
    "ascent-po2": _Along("ascent-po2", "depth_to"),
    "ascent-depth-at-po2": _Along("ascent-po2", "depth_to", "limit"),
    "descent-po2": _Along("descent-po2", "depth_to"),
    "valve-open-minutes": _Along("valve-open-po2", "minutes", "limit"),
    "valve-open-filling-minutes": _Along("valve-open-filling-po2", "minutes", "limit"),
    "valve-open-filling-po2": _Along("valve-open-filling-po2", "minutes"),
    "valve-short-minutes": _Along("valve-short-po2", "minutes", "limit"),
    "valve-short-po2": _Along("valve-short-po2", "minutes"),
    "oxygen-off-shrinking-volume": _Along("oxygen-off-shrinking-volume", "limit"),
    "mouthpiece-oxygen": _Along("mouthpiece-oxygen", "times", until=10),
    "mouthpiece-nitrogen": _Along("mouthpiece-nitrogen", "times", until=10),
    "mouthpiece-helium": _Along("mouthpiece-helium", "times", until=10),
    "mouthpiece-helium-after-flush": _Along("mouthpiece-helium-after-flush", "flush", until=1),
    "leak-litres": _Along("leak-litres", "loss"),
    "co2-given-off": _Along("co2-given-off", "minutes"),
    "valve-open-po2": _Along("valve-open-po2", "minutes"),
    "mouthpiece-narcotic-depth": _Along("mouthpiece-narcotic-depth", "depth"),
    "mouthpiece-nitrogen-at-depth": _Along("mouthpiece-nitrogen-at-depth", "depth"),
    "loop-density": _Along("loop-density", "depth"),
    "loop-narcotic-depth": _Along("loop-narcotic-depth", "depth"),
    "flush-po2": _Along("flush-po2", "depth"),
    "co2-inspired": _Along("co2-inspired", "beside"),
    "cell-expected-mv": _Along("cell-expected-mv", "pressure"),
    "voting-hides": _Along("voting-hides", "po2"),
    "voted-po2": _Along("voted-po2", "set_point"),
    "scrubber-minutes": _Along("scrubber-minutes", "minutes"),
}


def has_sentences(quantity: Quantity) -> bool:
    """Whether there are sentences of this quantity's own."""
    return quantity.name in _SENTENCES


def is_flood(answer: Answer) -> bool:
    """Whether there is no number because water came in: that is never computed, and puts a unit on hold."""
    reasons = (answer.reason,) if isinstance(answer, NoResult) else getattr(answer, "reasons", ())
    return not answer.has_number and reasons == (FLOODED,)


def sentences(quantity: Quantity, answer: Answer) -> tuple[str, str]:
    """Return what an answer means in two sentences; where there is no number the first says why."""
    if is_flood(answer):
        return FLOOD_SENTENCES
    if isinstance(answer, NoResult) or not answer.has_number:
        reasons = (answer.reason,) if isinstance(answer, NoResult) else getattr(answer, "reasons", ())
        return f"There is no number: {' '.join(reasons)}", "Ask with other inputs, or take the manual's word."
    first, second = _SENTENCES.get(quantity.name, ("{what}: {told}.", "{meaning}"))
    known = {one.key: _with_unit(one) for one in answer.inputs}
    known |= {"told": _told(answer), "meaning": _meaning(answer), "what": quantity.what[0].upper() + quantity.what[1:]}
    known |= {"leaks": _leaks(answer)} if quantity.name == _BREATHS else {}
    told = first.format_map(known), second.format_map(known).strip()
    if isinstance(answer, Band) and answer.reasons:
        return told[0], f"At other ends of what is not known there is no number: {_inside(answer.reasons[0])}"
    return told[0], told[1] or next(iter(quantity.cautions), DEFERS)


def assumed(answer: Answer) -> str:
    """Return what went in, in words: what is never known from-to."""
    told = [
        f"{_KEYS.get(one.key, one.key.replace('_', ' '))} {_with_unit(one)}"
        for one in answer.inputs
        if (one.key, one.value) not in _UNSAID
    ]
    return f"Assumed: {', '.join(told)}."


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
    places = _places(drawn, how, values, quantity.answer(**values))
    places = _from_first_valid(drawn, how.key, places, kept)
    return Picture(series(drawn, how.key, places, **kept), values.get(how.limit) if how.limit else None)


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
    if how.key == "depth_to":
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


def _told(answer: Result | Band) -> str:
    """The number, or both ends without the note that other ends have none: that is the second sentence then."""
    if isinstance(answer, Result) or answer.lowest is None or answer.highest is None:
        return answer.told
    low, high = answer.lowest, answer.highest
    return low.told if low.value == high.value else f"{low.value:.{low.decimals}f} to {high.told}"


def _meaning(answer: Result | Band) -> str:
    if isinstance(answer, Band):
        return answer.lowest.meaning if answer.lowest else ""
    return answer.meaning


def _leaks(answer: Answer) -> str:
    """Which ways past the absorbent there are: one of none is not told."""
    ways = {"beside": "of the breath out past the canister", "back": "of the breath in back through a valve"}
    shares = {one.key: float(one.value) for one in answer.inputs if one.key in ways}
    told = [f"{100 * share:.4g} % {ways[key]}" for key, share in shares.items() if share] or [
        "nothing past the canister"
    ]
    return " and ".join(told)


def _inside(reason: str) -> str:
    return reason[0].lower() + reason[1:] if reason[1:2].islower() else reason


def _with_unit(one: Given) -> str:
    value = one.value.replace("..", " to ") if isinstance(one.value, str) else f"{one.value:.6g}"
    return f"{value} {one.unit.replace('degC', '°C')}".rstrip()
