"""A skill as its rubric file states it: steps, their errors and order, and the rule for holding it.

Criticality belongs to the error: one miss can injure someone on this dive. A step left out or out of order is
critical only where the rubric says so (`if_left_out`, `after_critical`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal, get_args

from pydantic import Field

from course.standards.figure import Figure
from course.standards.order import CUE, clock_flaws, order_flaws
from course.standards.plain import SLUG, At, Flaw, are_ids, did_you_mean, ids_twice, named_twice
from course.standards.strict import Strict
from course.words import ReadingKind

Setting = Literal["class", "dry", "pool", "open_water"]
Quantity = Literal["time", "oxygen_pressure", "po2", "pressure", "voltage", "volume", "flow", "depth", "count"]
Unit = Literal["s", "min", "bar", "mbar", "mV", "V", "L", "L/min", "m", "1"]
Slug = Annotated[str, Field(pattern=SLUG, max_length=48)]
Text = Annotated[str, Field(min_length=8, max_length=600)]
Label = Annotated[str, Field(min_length=3, max_length=90)]

OTHER_ERROR = "x"
"""The letter for an error that the rubric does not list; it carries a text and is never critical."""

UNITS: dict[str, tuple[str, ...]] = {
    "time": ("s", "min"),
    "oxygen_pressure": ("bar", "mbar"),
    "po2": ("bar", "mbar"),
    "pressure": ("bar", "mbar"),
    "voltage": ("mV", "V"),
    "volume": ("L",),
    "flow": ("L/min",),
    "depth": ("m",),
    "count": ("1",),
}
"""The units in which each quantity may be written."""

_DECIMAL = re.compile(r"-?[0-9]+(\.[0-9]+)?")
_DEFENDED = 30  # a sentence shorter than this does not say how one miss injures
_CITED = 8  # a source shorter than this is no source


class Source(Strict):
    """Where a trade fact comes from."""

    kind: Literal["published", "common_practice", "from_memory"]
    ref: str = ""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """A published source can be looked up."""
        if at["kind"].text == "published" and len(at["ref"].text) < _CITED:
            yield at["ref"].flaw("A published source needs a reference.", "Write ref: with name, year and section.")


class StepError(Strict):
    """One thing that can go wrong in a step."""

    id: Slug
    label: Label
    consequence: Text
    critical: bool = False
    """One miss can injure someone on this dive."""
    figure: Figure | None = None
    """What comes of it in numbers: a registered quantity and what goes into it."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """A critical error is defended by a whole sentence."""
        consequence = at["consequence"]
        short = len(consequence.text) < _DEFENDED or not consequence.text.endswith(".")
        if at["critical"].value is True and consequence.text and short:
            yield consequence.flaw(
                f'The critical error "{at["id"].text}" is not defended.',
                f"Write a whole sentence of {_DEFENDED} letters or more with a full stop: how one miss can injure.",
            )


class Limit(Strict):
    """A value that an observer writes down, and the bounds it has to keep. A bound's own value is good."""

    quantity: Quantity
    unit: Unit
    at_least: str | None = None
    """Decimal number in quotes, in `unit`; the value itself is good."""
    at_most: str | None = None
    """Decimal number in quotes, in `unit`; the value itself is good."""
    from_: Annotated[str, Field(alias="from")] = CUE
    """The step at which a clock starts, or `cue` for the observer's sign."""
    error: Slug | None = None
    """The error of this step that a value outside the bounds stands for."""
    basis: Literal["example", "unit_manual", "agency"] = "example"
    """Whose number it is."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Bounds are decimal numbers that some value can keep, in a unit of their quantity."""
        low, high = (_bound(at[name]) for name in ("at_least", "at_most"))
        for name in ("at_least", "at_most"):
            if at[name].text and _bound(at[name]) is None:
                yield at[name].flaw(
                    f'"{at[name].text}" is no plain decimal number.',
                    'Write digits with a point in quotes, such as "60" or "0.21".',
                )
        if at["at_least"].value is None and at["at_most"].value is None:
            yield at.flaw("This limit has no bound.", "Write at_least, at_most or both.")
        if low is not None and high is not None and low > high:
            yield at["at_least"].flaw(
                f"No value can keep this limit: at least {low} and at most {high}.",
                "Write at_least no greater than at_most.",
            )
        if at["at_least"].value is not None and at["error"].value is None:
            yield at.flaw(
                "This limit has at_least but names no error.",
                "Write error: with the error that a smaller value stands for.",
            )
        yield from cls._unit_flaws(at)

    @classmethod
    def _unit_flaws(cls, at: At) -> Iterator[Flaw]:
        quantity, unit = at["quantity"].text, at["unit"].text
        if quantity in UNITS and unit in get_args(Unit) and unit not in UNITS[quantity]:
            yield at["unit"].flaw(
                f'A {quantity} is not measured in "{unit}".', f"Write unit: {' or '.join(UNITS[quantity])}."
            )
        if quantity in UNITS and quantity != "time" and at["from"].text not in ("", CUE):
            yield at["from"].flaw(f"Only a time runs from a step; this is a {quantity}.", "Take from: out.")

    def kept_by(self, value: Decimal) -> bool:
        """Whether a value keeps both bounds."""
        above = self.at_least is None or value >= decimal_of(self.at_least)
        return above and (self.at_most is None or value <= decimal_of(self.at_most))


class Needs(Strict):
    """Which unit features something needs: every one of `all`, one of `any`, not one of `none`."""

    all: tuple[Slug, ...] = ()
    any: tuple[Slug, ...] = ()
    none: tuple[Slug, ...] = ()

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Some unit could meet it."""
        unwanted = at["none"].texts
        for name in ("all", "any", "none"):
            yield from named_twice(at[name])
        for place in at["all"].each():
            if place.text and place.text in unwanted:
                yield place.flaw(f'No unit can have and lack "{place.text}".', "Take it out of all or out of none.")
        if at["any"].texts and set(at["any"].texts) <= set(unwanted):
            yield at["any"].flaw(
                "No unit can have one of these and lack them all.", "Take one out of any or out of none."
            )

    def flags(self) -> frozenset[str]:
        """Every feature that is named."""
        return frozenset({*self.all, *self.any, *self.none})

    def met_by(self, features: frozenset[str]) -> bool:
        """Whether a unit with these features fits."""
        return (
            frozenset(self.all) <= features
            and (not self.any or bool(frozenset(self.any) & features))
            and not frozenset(self.none) & features
        )


def critical_at(step: At) -> bool:
    """Whether something in this step of a file can end in a critical outcome."""
    flagged = any(error["critical"].value is True for error in step["errors"].each())
    return flagged or bool(step["if_left_out"].text or step["after_critical"].texts)


class Step(Strict):
    """One act of a skill, with the errors that belong to it."""

    id: Slug
    do: Text
    why: Text
    if_left_out: Literal["critical"] | None = None
    """Leaving this step out is a critical error."""
    left_out_why: Text | None = None
    """Why leaving out a step that can be critical is not itself critical."""
    opens_gas: bool = False
    """Gas at pressure is opened or flows in this step."""
    after: tuple[Slug, ...] = ()
    """Steps that have to come before this one: only order that matters for safety."""
    after_critical: tuple[Slug, ...] = ()
    """Those of `after` whose order must never be wrong."""
    errors: tuple[StepError, ...] = ()
    limit: Limit | None = None
    reading: ReadingKind | None = None
    """What of the unit this step reads: one outside its bounds, just before or during an attempt, overrules a tick."""
    prompt_error: Slug | None = None
    """The error of this step that a prompt stands for."""
    only_if: Needs | None = None
    """The unit features without which this step falls away."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """A step names its own errors only, each once, and settles what leaving it out means."""
        yield from ids_twice(at["errors"], "errors of this step")
        for error in at["errors"].each():
            if error["id"].text == OTHER_ERROR:
                yield error["id"].flaw(
                    'The error id "x" is kept for an error that the rubric does not list.',
                    "Give this error another id.",
                )
        for name in ("after", "after_critical"):
            yield from named_twice(at[name])
        before = at["after"].texts
        for place in at["after_critical"].each():
            if place.text and place.text not in before:
                yield place.flaw(f'"{place.text}" is not in after.', "Write it into after too, or take it out here.")
        own = [error["id"].text for error in at["errors"].each()]
        for place in (at["limit"]["error"], at["prompt_error"]):
            if place.text and place.text not in own and are_ids(own):
                yield place.flaw(f'"{place.text}" is no error of this step.', did_you_mean(place.text, own))
        yield from cls._left_out_flaws(at)

    @classmethod
    def _left_out_flaws(cls, at: At) -> Iterator[Flaw]:
        settled = at["if_left_out"].value is not None, at["left_out_why"].value is not None
        if critical_at(at) and not any(settled):
            yield at.flaw(
                "This step can be critical, and the file does not say what leaving it out is.",
                "Write if_left_out: critical, or left_out_why: with the reason why it is not.",
            )
        if all(settled):
            yield at["left_out_why"].flaw("if_left_out and left_out_why contradict each other.", "Keep one of them.")

    @property
    def can_be_critical(self) -> bool:
        """Whether something in this step can end in a critical outcome."""
        return bool(self.if_left_out or self.after_critical or any(error.critical for error in self.errors))

    def error(self, error_id: str) -> StepError | None:
        """Return the error of this step with that id, if there is one."""
        return next((error for error in self.errors if error.id == error_id), None)


class Rule(Strict):
    """When a skill counts as held. Its numbers are the agency's or the school's; ours are examples."""

    in_a_row: Annotated[int, Field(ge=1, le=10)]
    """Attempts that count, in a row."""
    distinct_days: Annotated[int, Field(ge=1, le=10)] = 1
    """Training days over which they are spread."""
    settings: Annotated[tuple[Setting, ...], Field(min_length=1)]
    """One attempt that counts in each of these."""
    prompts_allowed: Annotated[int, Field(ge=0, le=5)] = 0
    """In each attempt that counts."""
    minor_errors_allowed: Annotated[int, Field(ge=0, le=5)] = 0
    """In each attempt that counts."""
    assessors: Annotated[int, Field(ge=1, le=3)] = 1
    """Different observers among the attempts that count."""
    same_unit_type: bool = True
    """Each unit type has a record of its own."""
    reteach: Annotated[int, Field(ge=0, le=5)]
    """Attempts that do not count after a critical error."""
    budget: Annotated[int, Field(ge=1, le=60)]
    """Attempts that the rule is meant for; beyond it: talk, not more tries."""

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """The rule can be met."""
        yield from named_twice(at["settings"])
        row = at["in_a_row"].number
        if row is None:
            return
        asked = (
            (at["distinct_days"], at["distinct_days"].number or 0, "days"),
            (at["settings"], len(set(at["settings"].texts)), "settings"),
            (at["assessors"], at["assessors"].number or 0, "observers"),
        )
        for place, needed, what in asked:
            if needed > row:
                yield place.flaw(
                    f"This rule cannot be met: {needed} {what} in {row} in a row.", "Raise in_a_row, or ask for fewer."
                )
        budget = at["budget"].number
        if budget is not None and budget < row:
            yield at["budget"].flaw(
                f"This rule cannot be met: {row} in a row within a budget of {budget}.",
                "Write a budget no smaller than in_a_row.",
            )


class Skill(Strict):
    """One skill of one phase."""

    id: Slug
    title: Label
    audience: Literal["student", "candidate"] = "student"
    purpose: Text
    setting: Annotated[tuple[Setting, ...], Field(min_length=1)]
    """Where it may be tried."""
    needs: Needs = Needs()
    before: tuple[Slug, ...] = ()
    """Skills to show first; without them the tool warns."""
    steps: Annotated[tuple[Step, ...], Field(min_length=3)]
    rule: Rule
    caution: Text
    currency_days: Annotated[int, Field(ge=7, le=1095)]
    """Days for which the skill stays in date after the last attempt that counts."""
    sources: Annotated[tuple[Source, ...], Field(min_length=1)] = (Source(kind="common_practice"),)

    @classmethod
    def flaws(cls, at: At) -> Iterator[Flaw]:
        """Steps name steps of this skill, in an order that can be kept, and the rule fits the skill."""
        for name in ("setting", "before"):
            yield from named_twice(at[name])
        yield from ids_twice(at["steps"], "steps of this skill")
        yield from order_flaws(at["steps"])
        yield from clock_flaws(at["steps"])
        own = at["setting"].texts
        for place in at["rule"]["settings"].each():
            if place.text and place.text not in own and set(own) <= set(get_args(Setting)):
                yield place.flaw(
                    f'The rule asks for "{place.text}", a setting that this skill does not have.',
                    f"Write one of: {', '.join(own)}; or add it to setting.",
                )
        reteach, critical = at["rule"]["reteach"], any(critical_at(step) for step in at["steps"].each())
        if reteach.number == 0 and critical:
            yield reteach.flaw("A critical error can happen here, and reteach is 0.", "Write reteach: 1 or more.")
        if reteach.number and at["steps"].value and not critical:
            yield reteach.flaw("Nothing critical can happen here, and reteach is above 0.", "Write reteach: 0.")

    def step(self, step_id: str) -> Step | None:
        """Return the step with that id, if there is one."""
        return next((step for step in self.steps if step.id == step_id), None)

    def steps_for(self, features: frozenset[str]) -> tuple[Step, ...]:
        """Return the steps that a unit with these features has, in written order."""
        return tuple(step for step in self.steps if step.only_if is None or step.only_if.met_by(features))


def is_decimal(text: str) -> bool:
    """Whether a text is a plain decimal number."""
    return _DECIMAL.fullmatch(text) is not None


def decimal_of(text: str) -> Decimal:
    """Read a decimal string: digits, a point and a minus only.

    Raises:
        ValueError: it is no plain decimal number.
    """
    if not _DECIMAL.fullmatch(text):
        raise ValueError(f'"{text}" is no plain decimal number such as 60 or 0.21.')
    return Decimal(text)


def _bound(place: At) -> Decimal | None:
    return Decimal(place.text) if _DECIMAL.fullmatch(place.text) else None


def order_closure(steps: tuple[Step, ...]) -> Iterator[tuple[str, str]]:
    """Yield every pair (earlier, later) that the order asks for, through steps between as well."""
    direct = {step.id: step.after for step in steps}
    for later, before in direct.items():
        seen: set[str] = set()
        waiting = list(before)
        while waiting:
            earlier = waiting.pop()
            if earlier not in seen:
                seen.add(earlier)
                waiting.extend(direct.get(earlier, ()))
        yield from ((earlier, later) for earlier in sorted(seen))
