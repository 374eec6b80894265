"""What changed between two revisions of requirements, in plain sentences. Pure; nothing is left out."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel

from course.standards.field_labels import COUNT_WORDS, HOUR_WORDS, PROOF_WORDS, SIGNER_WORDS, STAGE_WORDS, label_of
from course.standards.profile import CountRule, HourRule, Prerequisite, Profile, RatioRule
from course.words import SETTING_WORDS, listed, plural

_BY_ROWS = ("hours", "counts", "ratios", "prerequisites")
_SKILLS = ("required_skills", "optional_skills")


def profile_sentences(old: Profile, new: Profile, titles: Mapping[str, str]) -> Iterator[str]:
    """Yield what changed, without the name of the revision and its day.

    Args:
        titles: skill id to title.
    """
    yield from _rows(_hours(old), _hours(new), _minutes)
    yield from _rows(_counts(old), _counts(new), _numbers)
    yield from _rows({r.setting: r for r in old.ratios}, {r.setting: r for r in new.ratios}, _students)
    yield from _rows({p.id: p for p in old.prerequisites}, {p.id: p for p in new.prerequisites}, _proof)
    for name in _SKILLS:
        yield from _names(label_of((name,)), getattr(old, name), getattr(new, name), titles)
    skipped = (*_BY_ROWS, *_SKILLS, "revision", "supersedes", "in_force_from")
    for name in (name for name in Profile.model_fields if name not in skipped):
        before, after = getattr(old, name), getattr(new, name)
        if before != after:
            yield f"{label_of((name,))}: {_told(before)} becomes {_told(after)}."


def _hours(profile: Profile) -> dict[str, HourRule]:
    return {rule.of: rule for rule in profile.hours}


def _counts(profile: Profile) -> dict[str, tuple[CountRule, ...]]:
    """Two numbers of the same thing are told together."""
    return {rule.of: tuple(one for one in profile.counts if one.of == rule.of) for rule in profile.counts}


def _rows(old: Mapping[str, Any], new: Mapping[str, Any], words: Callable[[Any], tuple[str, str]]) -> Iterator[str]:
    """What came, went and changed among rows that say what they are of; `words` are a head and what is asked."""
    for name, row in new.items():
        head, asked = words(row)
        if name not in old:
            yield f"{head}: {asked}, which is new."
        elif old[name] != row:
            yield f"{head}: {words(old[name])[1]} becomes {asked}."
    for row in (row for name, row in old.items() if name not in new):
        head, asked = words(row)
        yield f"{head}: not asked any more, was {asked}."
    kept = [[name for name in rows if name in old and name in new] for rows in (old, new)]
    if kept[0] != kept[1]:
        yield f"{listed([words(new[name])[0] for name in kept[1]])}: in another order."


def _minutes(rule: HourRule) -> tuple[str, str]:
    return f"Minutes {HOUR_WORDS[rule.of]}", f"{rule.at_least_minutes}{_rest(rule, 'of', 'at_least_minutes')}"


def _numbers(rules: tuple[CountRule, ...]) -> tuple[str, str]:
    return COUNT_WORDS[rules[0].of].capitalize(), listed([_number(rule) for rule in rules])


def _number(rule: CountRule) -> str:
    each = f" of {plural(rule.each_at_least_minutes, 'minute')} or more" if rule.each_at_least_minutes else ""
    return f"{rule.at_least}{each}{_rest(rule, 'of', 'at_least', 'each_at_least_minutes')}"


def _students(rule: RatioRule) -> tuple[str, str]:
    low = "low_visibility_students_per_instructor"
    told = f"{rule.students_per_instructor} to 1"
    if rule.extra_with_assistant:
        told += f", {rule.extra_with_assistant} more with an assistant"
    if rule.low_visibility_students_per_instructor:
        told += f", {rule.low_visibility_students_per_instructor} to 1 in low visibility"
    told += f", at most {rule.most_students}"
    told += _rest(rule, "setting", "students_per_instructor", "extra_with_assistant", "most_students", low)
    return f"Students to an instructor, {SETTING_WORDS[rule.setting]}", told


def _proof(proof: Prerequisite) -> tuple[str, str]:
    valid = f", valid for {plural(proof.valid_days, 'day')}" if proof.valid_days else ""
    told = f"“{proof.label}”, {PROOF_WORDS[proof.proof]}{valid}, without it no {STAGE_WORDS[proof.blocks]}"
    return "Proof", told + _rest(proof, "id", "label", "proof", "valid_days", "blocks")


def _rest(row: BaseModel, *told: str) -> str:
    """Whatever else a row says, so that no change in it goes untold."""
    others = {name: getattr(row, name) for name in type(row).model_fields if name not in told}
    return "".join(f", {label_of((name,))} {_told(value)}" for name, value in others.items() if value not in (None, ()))


def _names(what: str, old: Sequence[str], new: Sequence[str], titles: Mapping[str, str]) -> Iterator[str]:
    came, went = ([f"“{titles.get(one, one)}”" for one in a if one not in b] for a, b in ((new, old), (old, new)))
    if came:
        yield f"{what}: added {listed(came)}."
    if went:
        yield f"{what}: taken out {listed(went)}."
    if not came and not went and tuple(old) != tuple(new):
        yield f"{what}: in another order."


def _told(value: object) -> str:
    if value is None or value in ((), ""):
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, BaseModel):
        pairs = ((name, getattr(value, name)) for name in type(value).model_fields)
        return ", ".join(f"{label_of((name,))} {_told(one)}" for name, one in pairs if one not in (None, ()))
    if isinstance(value, tuple):
        return listed([_told(one) for one in value])
    text = SIGNER_WORDS.get(str(value), str(value))
    return f"“{text}”" if " " in text and text == value else text
