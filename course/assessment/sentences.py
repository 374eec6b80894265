"""Rules, standings and attempts as sentences that can be read aloud; the tone is dry, and it says what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from course.assessment.attempts import AttemptJudgement, Outside
from course.assessment.set_aside import set_aside_sentence
from course.assessment.standing import Standing, WaitingFor
from course.assessment.streak import Missing
from course.moments import day_words
from course.standards.rubric import Setting, Skill
from course.words import OUTCOME_WORDS, SETTING_WORDS, STANDING_WORDS, Outcome, StandingState, listed, plural

_WHERE: dict[Setting, str] = {"class": "in class", "dry": "dry", "pool": "in the pool", "open_water": "in open water"}


def rule_sentence(skill: Skill, *, brief: bool = False) -> str:
    """Read a skill's rule aloud.

    Args:
        skill: the skill.
        brief: for a table, where the budget stands beside it as a number and re-teach is explained once.
    """
    rule = skill.rule
    parts = [_asked(skill), f"{_at_most(rule.prompts_allowed, 'prompt')}, {_minors(rule.minor_errors_allowed)}"]
    if rule.reteach and brief:
        parts.append(f"{rule.reteach} re-teach after a critical error")
    elif rule.reteach:
        one = rule.reteach == 1
        verb = "is re-teach and does" if one else "are re-teach and do"
        parts.append(f"after a critical error {plural(rule.reteach, 'attempt')} {verb} not count")
    if not rule.same_unit_type:
        parts.append("attempts on every unit type count")
    if not brief:
        parts.append(f"meant for about {plural(rule.budget, 'attempt')}")
    parts.append(f"good for {plural(skill.currency_days, 'day')}")
    return "; ".join(parts) + "."


def standing_sentence(standing: Standing, skill: Skill, names: Mapping[str, str] | None = None) -> str:
    """Say where a student stands, what is missing, and what is kept without being counted.

    Args:
        standing: the standing.
        skill: the skill that it is of.
        names: people's names by id, for a standing that waits for somebody.
    """
    told = [_standing_told(standing, skill, names or {}), set_aside_sentence(standing)]
    if standing.open_attempts and standing.state == StandingState.NOT_STARTED:
        told.append(f"{plural(len(standing.open_attempts), 'attempt is', 'attempts are')} still open.")
    if standing.time_to_talk:
        told.append(f"{plural(standing.budget_used, 'attempt')}, meant for about {standing.budget}: time to talk.")
    return " ".join(part for part in told if part)


def standing_line(standing: Standing, skill: Skill) -> str:
    """Say where a student stands in as few words as a table has room for: "not yet: 1 of 2, another day"."""
    word = STANDING_WORDS[standing.state]
    match standing.state:
        case StandingState.NOT_YET | StandingState.AGAIN:
            return f"{word}: {', '.join(_short_parts(standing, skill))}"
        case StandingState.MET | StandingState.MET_WATCH if standing.met_on:
            return f"{word}: {day_words(standing.met_on)}"
        case StandingState.OUT_OF_DATE if standing.good_until:
            return f"{word}: last good day {day_words(standing.good_until)}"
        case StandingState.NOT_STARTED if standing.reteach_left:
            return f"{word}: {_reteach_words(standing.reteach_left)}"
        case StandingState.WAITING:
            lapsed, differing = standing.waiting_for.lapsed_attempts, standing.waiting_for.differing_attempts
            for_whom = [*(["a current instructor"] if lapsed else []), *(["a joint line"] if differing else [])]
            return f"{word} for {listed(for_whom) or 'somebody'}"
        case _:
            return word


def missing_line(standing: Standing, skill: Skill, names: Mapping[str, str] | None = None) -> str:
    """Say only what is missing: "2 more, one in open water, on another day"; empty when nothing is.

    Args:
        standing: the standing.
        skill: the skill that it is of.
        names: people's names by id, for a standing that waits for somebody.
    """
    if standing.state == StandingState.WAITING:
        return _word_needed(standing.waiting_for, names or {})
    missing = standing.missing
    parts = []
    if missing.attempts:
        fresh = standing.streak == 0
        count = f"{missing.attempts} more"
        when = _when(missing, fresh=fresh)
        where = _where_all(skill) if fresh else _where(missing)
        pieces = [f"{count} {when}".rstrip(), where] if fresh else [count, where, when]
        parts.append(", ".join(piece for piece in (*pieces, _by_whom(missing, fresh=fresh)) if piece))
    if missing.reteach:
        parts.append(_reteach_words(missing.reteach))
    return "; ".join(parts)


def in_a_row_words(count: int, asked: int) -> str:
    """Say a count in a row against the rule's number; one that has reached it is not a part of it any more."""
    return f"{count} in a row of {asked}" if count < asked else f"{count} in a row, {asked} asked"


def of_asked(count: int, asked: int) -> str:
    """The same in fewest words, for a line of figures."""
    return f"{count} of {asked}" if count <= asked else f"{count}, {asked} asked"


def attempt_sentence(judgement: AttemptJudgement) -> str:
    """Say what an attempt came to, what that does, and every reason for it."""
    head = f"{OUTCOME_WORDS[judgement.outcome].capitalize()}: {_effect_words(judgement)}."
    if judgement.sheets_differ:
        head += " The sheets differ: the stricter holds until the observers agree."
    if judgement.void_over_critical:
        second = "; a second instructor's name is missing" if judgement.void_lacks_second else ""
        head += f" Void over a critical error{second}."
    return " ".join([head, *(reason.sentence for reason in judgement.reasons)])


def _asked(skill: Skill) -> str:
    rule = skill.rule
    over = f" over {rule.distinct_days} days" if rule.distinct_days > 1 else ""
    seen_by = f", seen by at least {rule.assessors} instructors" if rule.assessors > 1 else ""
    where = _where_all(skill) or f"all {_WHERE[rule.settings[0]]}"
    return f"{rule.in_a_row} in a row{over}, {where}{seen_by}"


def _at_most(count: int, noun: str) -> str:
    return f"at most {plural(count, noun)}" if count else f"no {noun}s"


def _minors(count: int) -> str:
    return f"{_at_most(count, 'minor error')} an attempt" if count else "no minor errors"


def _where_all(skill: Skill) -> str:
    """The settings that the rule asks for; empty where the skill has only that one anyway."""
    places = [_WHERE[name] for name in skill.rule.settings]
    if len(skill.setting) == 1:
        return ""
    return f"at least one {'each ' if len(places) > 1 else ''}{listed(places)}"


def _where(missing: Missing) -> str:
    places = [_WHERE[name] for name in missing.settings]
    if not places:
        return ""
    if missing.attempts == 1:
        return places[0]
    return f"one {'each ' if len(places) > 1 else ''}{listed(places)}"


def _when(missing: Missing, *, fresh: bool) -> str:
    if fresh:
        return f"over {missing.days} days" if missing.days > 1 else ""
    if not missing.days:
        return ""
    return "on another day" if missing.days == 1 else f"over {missing.days} other days"


def _by_whom(missing: Missing, *, fresh: bool) -> str:
    """Somebody always sees an attempt: at a count of 0 only a second instructor is worth a word."""
    if not missing.assessors or (fresh and missing.assessors == 1):
        return ""
    if fresh:
        return f"seen by at least {missing.assessors} instructors"
    return "seen by another instructor" if missing.assessors == 1 else f"seen by {missing.assessors} other instructors"


def _reteach_words(count: int) -> str:
    return "re-teach first" if count == 1 else f"{count} re-teach attempts first"


def _short_parts(standing: Standing, skill: Skill) -> list[str]:
    missing, rule = standing.missing, skill.rule
    parts = [f"{min(standing.streak, rule.in_a_row)} of {rule.in_a_row}"]
    if standing.streak:
        parts += [SETTING_WORDS[name] for name in missing.settings]
        if missing.days:
            parts.append("another day" if missing.days == 1 else f"{missing.days} other days")
        if missing.assessors:
            parts.append("another instructor")
    if missing.reteach:
        parts.append(_reteach_words(missing.reteach))
    return parts


def _gap(standing: Standing) -> str:
    """What is missing, inside a sentence; a count of 0 has the whole rule before it, which need not be listed."""
    missing, fresh = standing.missing, standing.streak == 0
    told = []
    if missing.attempts:
        when = _when(missing, fresh=fresh)
        places = "" if fresh else _where(missing)
        by_whom = "" if fresh else _by_whom(missing, fresh=False)
        pieces = [f"missing {missing.attempts} {when}".rstrip(), places, by_whom]
        told.append(", ".join(piece for piece in pieces if piece))
    if missing.reteach:
        told.append(_reteach_words(missing.reteach))
    return "; ".join(told)


def _in_a_row(standing: Standing, skill: Skill) -> str:
    asked = skill.rule.in_a_row
    if standing.best > standing.streak:
        return f"best {in_a_row_words(standing.best, asked)}, now {standing.streak}"
    return in_a_row_words(standing.streak, asked)


def _standing_told(standing: Standing, skill: Skill, names: Mapping[str, str]) -> str:
    match standing.state:
        case StandingState.NOT_FOR_THIS_UNIT:
            return "Not for this unit."
        case StandingState.NOT_STARTED:
            owed = f"; {_reteach_words(standing.reteach_left)}" if standing.reteach_left else ""
            return f"Not started{owed}."
        case StandingState.NOT_YET:
            return f"Not yet: {_in_a_row(standing, skill)}; {_gap(standing)}."
        case StandingState.AGAIN:
            return f"Again: a critical error since it was met; now {standing.streak} in a row; {_gap(standing)}."
        case StandingState.WAITING:
            return f"Waiting: {_waiting_told(standing.waiting_for, names)}. {_until_then(standing, skill)}"
        case _:
            return _dated_told(standing, skill)


def _dated_told(standing: Standing, skill: Skill) -> str:
    until = day_words(standing.good_until) if standing.good_until else "an unknown day"
    if standing.state == StandingState.OUT_OF_DATE or standing.met_on is None:
        return f"Out of date: last good day {until}. {_renewal(standing, skill)}"
    met = f"on {day_words(standing.met_on)}, good until {until}"
    if standing.state == StandingState.MET:
        owed = f"; {_reteach_words(standing.reteach_left)}" if standing.reteach_left else ""
        return f"Met {met}{owed}."
    now = in_a_row_words(standing.streak, skill.rule.in_a_row)
    return f"Met (watch) {met}: an attempt broke the count since, now {now}; {_gap(standing)}."


def _renewal(standing: Standing, skill: Skill) -> str:
    """What brings a skill back in date: the rule from its beginning, with what is there of it by now."""
    now = f"now {in_a_row_words(standing.streak, skill.rule.in_a_row)}, " if standing.streak else ""
    return f"The whole rule renews it: {now}{_gap(standing)}."


def _until_then(standing: Standing, skill: Skill) -> str:
    """Where the student stands without the word that is waited for, and what else would do."""
    if standing.good_until:
        return f"Until then out of date, last good day {day_words(standing.good_until)}; {_gap(standing)}."
    return f"Until then {in_a_row_words(standing.streak, skill.rule.in_a_row)}; {_gap(standing)}."


def _waiting_told(waiting: WaitingFor, names: Mapping[str, str]) -> str:
    told = []
    if waiting.lapsed_attempts:
        who = _people(waiting.lapsed_observers, names, "an observer who was not current")
        count = plural(len(waiting.lapsed_attempts), "attempt")
        told.append(f"if a current instructor confirms what {who} saw ({count})")
    if waiting.differing_attempts:
        who = _people(waiting.differing_observers, names, "the observers")
        count = plural(len(waiting.differing_attempts), "attempt")
        told.append(f"if {who} agree on a joint line where their sheets differ ({count})")
    return f"met {', and '.join(told) or 'if somebody confirms'}"


def _word_needed(waiting: WaitingFor, names: Mapping[str, str]) -> str:
    """Whose word is missing and about what, for a line of a list."""
    acts = ["a current instructor has to see it again"] if waiting.lapsed_attempts else []
    if waiting.differing_attempts:
        who = _people(waiting.differing_observers, names, "")
        acts.append(f"two sheets differ: {f'{who} agree' if who else 'agree'} on a joint line")
    return "; ".join(acts)


def _people(ids: Iterable[str], names: Mapping[str, str], unnamed: str) -> str:
    known = [names[one] for one in ids if one in names]
    return listed(known) if known else unnamed


def _effect_words(judgement: AttemptJudgement) -> str:
    if judgement.outside is not None:
        return "not the student's doing" if judgement.outside == Outside.VOID else judgement.outside.value
    if judgement.breaks:
        owed = ", re-teach first" if judgement.outcome == Outcome.CRITICAL else ""
        return f"in a row back to 0{owed}"
    ladder = (
        (judgement.counts, "counts"),
        (not judgement.setting_fits, "a setting that this skill does not have, does not count"),
        (judgement.contested, "two corrections disagree, does not count"),
        (judgement.lapsed_only, "seen by a lapsed observer only, does not count"),
    )
    return next((words for fits, words in ladder if fits), "neither counts nor breaks")
