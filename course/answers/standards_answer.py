"""Which rubrics and requirements are in force, which courses are on them, and how they came to be as they are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from course.access import Sight
from course.answers.days import day_words
from course.answers.people import People
from course.asker import question
from course.assessment.sentences import rule_sentence
from course.moments import read_stored, zone_named
from course.record.chain import content_hash
from course.record.facts import Centre, Course
from course.standards.difference import StandardsDifference, difference
from course.standards.profile import Profile
from course.standards.rubric import Skill
from course.standards.standards import Standards
from course.storage.ledger import Ledger
from course.storage.lookup import Adopted, adopted, adoption_heads, adoptions, all_of, in_force, needed
from course.words import EXAMPLE_NOTE, SETTING_WORDS, listed, plural


@dataclass(frozen=True)
class SkillRow:
    """One skill with its rule."""

    skill: str
    title: str
    rule: str
    steps: int
    can_be_critical: bool


@dataclass(frozen=True)
class PhaseStandards:
    """The skills of one phase."""

    title: str
    intro: str
    revision: str
    skills: tuple[SkillRow, ...]


@dataclass(frozen=True)
class ProfileWords:
    """One set of requirements in sentences."""

    title: str
    revision: str
    in_force_from: str
    lines: tuple[str, ...]
    notice: str


@dataclass(frozen=True)
class InForce:
    """What new courses are made on."""

    adoption: str
    sentence: str
    phases: tuple[PhaseStandards, ...]
    profiles: tuple[ProfileWords, ...]
    unit_types: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class AdoptionLine:
    """One adoption: who, when, what changed from the one before it, and who is on it."""

    adoption: str
    when: str
    who: str
    in_force: bool
    courses: tuple[str, ...]
    changes: tuple[str, ...]
    head: str


@question(Sight.STANDARDS)
def standards_in_force(ledger: Ledger) -> InForce | None:
    """Return what new courses are made on; None while nothing was adopted."""
    fact = in_force(ledger)
    if fact is None:
        return None
    standards = adopted(ledger, fact.id).standards
    (last,) = [line for line in history(ledger) if line.in_force]
    on = f"{listed(list(last.courses))} {'is' if len(last.courses) == 1 else 'are'} on them" if last.courses else ""
    return InForce(
        adoption=fact.id,
        sentence=(
            f"{plural(len(standards.skills), 'skill')} and {plural(len(standards.profiles), 'set')} of requirements "
            f"in force since {last.when}; {on or 'no course is on them yet'}."
        ),
        phases=tuple(_phase(standards, phase.id, phase.title, phase.intro) for phase in standards.phases),
        profiles=tuple(_profile(standards, profile) for profile in standards.profiles),
        unit_types=tuple(
            f"{unit.title}: {listed([standards.features[f].title for f in unit.features]) or 'nothing special'}; "
            f"service every {plural(unit.service_days, 'day')}, cells {plural(unit.cell_days, 'day')}."
            for unit in standards.unit_types.values()
        ),
        note=EXAMPLE_NOTE,
    )


@question(Sight.STANDARDS)
def history(ledger: Ledger) -> tuple[AdoptionLine, ...]:
    """Return every adoption, the newest first, each with what it changed."""
    zone = zone_named(needed(ledger, Centre, ledger.centre_id, "centre").zone)
    people = People(ledger, ())
    courses = all_of(ledger, Course)
    lines: list[AdoptionLine] = []
    facts = adoptions(ledger)
    for number, fact in enumerate(facts):
        made = next(ledger.events(fact.id))
        who = people[made.actor].shown if made.actor in people else "somebody who is not in this centre"
        when = day_words(read_stored(made.recorded_at).astimezone(zone).date())
        on = tuple(course.title for course in courses if course.adoption == fact.id)
        changes = changes_between(ledger, facts[number - 1].id, fact.id).sentences if number else ()
        told = f"{plural(len(changes), 'change')}" if number else "the first"
        lines.append(
            AdoptionLine(fact.id, when, who, fact is facts[-1], on, changes, f"{when} · {who} · {told}")
        )  # fmt: skip
    return tuple(reversed(lines))


@question(Sight.STANDARDS)
def changes_between(ledger: Ledger, old: str, new: str) -> StandardsDifference:
    """Return what changed between two adoptions.

    Raises:
        NotFoundError: there is no such adoption.
    """
    return _difference(adopted(ledger, old), adopted(ledger, new))


@lru_cache(maxsize=32)
def _difference(old: Adopted, new: Adopted) -> StandardsDifference:
    return difference(old.standards, new.standards)


@dataclass(frozen=True)
class AdoptionContest:
    """Adoptions that two devices made without knowing of each other, and that do not say the same."""

    sentence: str
    differs: tuple[str, ...]
    """What the one that is in force changes of the other."""


@question(Sight.STANDARDS)
def adoption_contest(ledger: Ledger) -> AdoptionContest | None:
    """Return adoptions that disagree; None where one took the place of all others, or all say the same."""
    heads = adoption_heads(ledger)
    contents = {content_hash(fact.files) for fact in heads}
    if len(contents) < 2:
        return None
    made = {line.adoption: line for line in history(ledger)}
    told = [made[fact.id].head.rsplit(" · ", 1)[0] for fact in heads]
    differs = changes_between(ledger, heads[0].id, heads[-1].id).sentences
    return AdoptionContest(
        f"Rubrics were adopted on different devices without knowing of each other: {listed(told)}. In force is that of "
        f"{told[-1]}. Compare them, then say that it holds or save what should: that takes the place of all.",
        differs,
    )


@question(Sight.STANDARDS)
def waiting_in_folder(standards: Standards | None, ledger: Ledger) -> StandardsDifference:
    """Return what the rubric files of the centre's folder would change; empty where there are none or nothing would."""
    fact = in_force(ledger)
    if standards is None or fact is None:
        return StandardsDifference()
    return difference(adopted(ledger, fact.id).standards, standards)


@question(Sight.STANDARDS)
def current_standards(ledger: Ledger) -> Standards | None:
    """Return the standards in force; None while nothing was adopted."""
    fact = in_force(ledger)
    return adopted(ledger, fact.id).standards if fact else None


def skill_titles(standards: Standards) -> dict[str, str]:
    """Skills to choose from: id to phase and title, in the order of the phases."""
    phases = {phase.id: phase.title for phase in standards.phases}
    return {name: f"{phases[standards.phase_of[name]]} · {skill.title}" for name, skill in standards.skills.items()}


def _phase(standards: Standards, phase: str, title: str, intro: str) -> PhaseStandards:
    skills = standards.skills_of_phase(phase)
    revision = standards.revision_of[skills[0].id] if skills else ""
    return PhaseStandards(title, intro, revision, tuple(_row(skill) for skill in skills))


def _row(skill: Skill) -> SkillRow:
    critical = any(step.can_be_critical for step in skill.steps)
    return SkillRow(skill.id, skill.title, rule_sentence(skill, brief=True), len(skill.steps), critical)


def _profile(standards: Standards, profile: Profile) -> ProfileWords:
    hours = [f"{rule.at_least_minutes} minutes {rule.of.replace('_', ' ')}" for rule in profile.hours]
    counts = [f"{rule.at_least} {rule.of.replace('_', ' ')}" for rule in profile.counts]
    ratios = [
        f"{SETTING_WORDS[rule.setting]} {rule.students_per_instructor} to 1, at most {rule.most_students}"
        for rule in profile.ratios
    ]
    bounds = (
        f"For a {profile.for_whom} of at least {plural(profile.minimum_age_years, 'year')}; at most "
        f"{plural(profile.max_depth_m, 'metre')}; to be finished within {plural(profile.finish_within_days, 'day')}."
    )
    lines = (
        bounds,
        f"{plural(len(profile.required_skills), 'required skill')}, {len(profile.optional_skills)} optional.",
        f"At least {listed(hours) or 'no minutes'}; {listed(counts) or 'no counts'}.",
        f"Students to an instructor: {'; '.join(ratios)}.",
        f"Proofs: {listed([one.label for one in profile.prerequisites]) or 'none'}.",
        f"Signed by {listed([who.replace('_', ' ') for who in profile.sign_by])}.",
    )
    return ProfileWords(profile.title, profile.revision, day_words(profile.first_day), lines, profile.notice)
