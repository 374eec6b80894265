"""What a quantity's answer means on a dive, in two sentences, and what was assumed.

The sentences say what happens and what that teaches; each holds its numbers from-to where they are never known.
"""

from __future__ import annotations

from course.physics.field_names import key_word, with_unit
from course.physics.mouthpiece import FLOOD_SENTENCES, FLOODED
from course.physics.quantity import Quantity
from course.physics.result import DEFERS, Answer, Band, NoResult, Result

_UNFELT = "Nothing of it is felt on the way, and no part of that time is safe: only a display that is read tells it."
_UNFELT_UP = "Nothing of it is felt on the way up: only a display that is read tells it."
_NO_WAIT = "High oxygen may show as a convulsion without warning: there is nothing to wait for."
_LASTS = "Helium comes back only by a diluent flush, and oxygen that the controller adds hides the rest."
_CLOSED = f"{{meaning}}; {_LASTS[0].lower()}{_LASTS[1:]}"

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
    "flush-po2-in-time": (
        "After {seconds} of a diluent flush of {flow} at {depth}, PO2 is {told} out of {po2}.",
        "A flush by the clock proves nothing: it ends when the cells that are read show the diluent's number.",
    ),
    "flush-share-in-time": (
        "{seconds} of a diluent flush of {flow} at {depth} replace {told} of the inert gas that was in the loop.",
        "A short flush leaves much of the old gas behind, the more the deeper it is done.",
    ),
    "mouthpiece-exchanged": (
        "{seconds} with the mouthpiece open at the surface put room air in the place of {told} of the loop's gas.",
        _LASTS,
    ),
    "mouthpiece-po2-in-time": (
        "{minutes} after the mouthpiece was opened at the surface, for {seconds}, and down to {depth}: PO2 {told}.",
        _UNFELT,
    ),
    "mouthpiece-narcotic-in-time": (
        "{minutes} on the way down, after {seconds} of open mouthpiece, the loop is as narcotic as air at {told}.",
        _LASTS,
    ),
    "oxygen-off-volume": (
        "{minutes} with nothing added at {depth} leave {told} in a loop of {volume}.",
        "A loop that gets flat is one sign among others, and no safeguard.",
    ),
    "voting-hides": (
        "At a PO2 of {po2} the unit shows {hidden} than there is.",
        "{meaning}; two cells that agree can be wrong together.",
    ),
    "voted-po2": (
        "While the vote of its cells shows a set point of {set_point} the loop is at {told}.",
        "Two cells that agree are believed, whichever is right.",
    ),
}
"""By quantity: what happens, and what it teaches; in braces inputs with their units, `told` and `meaning`."""


_UNSAID = {("altitude", 0.0), ("place", "surface"), ("times", 1.0), ("mode", "physical")}
"""What an assumption need not say: the usual place, and the mode that counts as usual."""


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
    known = {one.key: with_unit(one) for one in answer.inputs}
    known |= {"told": _told(answer), "meaning": _meaning(answer), "what": quantity.what[0].upper() + quantity.what[1:]}
    known |= {"leaks": _leaks(answer)} if quantity.name == "co2-inspired" else {}
    known |= {"hidden": _hidden(answer)} if quantity.name == "voting-hides" else {}
    if second != "{meaning}":  # it goes on in the same sentence
        known["meaning"] = known["meaning"].removesuffix(".")
    told = first.format_map(known), second.format_map(known).strip()
    if isinstance(answer, Band) and answer.reasons:
        return told[0], f"At other ends of what is not known there is no number: {_inside(answer.reasons[0])}"
    return told[0], told[1] or next(iter(quantity.cautions), DEFERS)


def assumed(answer: Answer) -> str:
    """Return what went in, in words: what is never known from-to."""
    told = [f"{key_word(one.key)} {with_unit(one)}" for one in answer.inputs if (one.key, one.value) not in _UNSAID]
    return f"Assumed: {', '.join(told)}."


def _told(answer: Result | Band) -> str:
    """The number, or both ends without the note that other ends have none: that is the second sentence then.

    Where oxygen is gone at other ends, the lowest PO2 is none, whatever the lowest end that has a number says.
    """
    if isinstance(answer, Result) or answer.lowest is None or answer.highest is None:
        return answer.told
    low, high = answer.lowest, answer.highest
    if high.unit == "bar" and any("gone before" in reason for reason in answer.reasons):
        return f"at most {high.told}"
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


def _hidden(answer: Result | Band) -> str:
    """How far what is shown is from what is there, and to which side; less than none is that it shows more."""
    return f"{answer.told.removeprefix('-')} {'more' if answer.told.startswith('-') else 'less'}"


def _inside(reason: str) -> str:
    return reason[0].lower() + reason[1:] if reason[1:2].islower() else reason
