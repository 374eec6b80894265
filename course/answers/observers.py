"""Observers on the same attempts, for the lead alone: how far they agree, who records fewer errors, practice sheets.

No number here changes a standing or says who is right; it asks for a joint scoring hour. Attempts from elsewhere, void
ones, open ones and those whose corrections disagree are not compared.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import combinations

from course.access import Act, Sight, require
from course.answers.course_view import CourseView
from course.answers.days import as_of_words
from course.asker import question, sees_as_lead
from course.assessment.attempts import SeenAttempt, evaluating_sheets
from course.assessment.marks import step_name
from course.assessment.severity import Seen, Severity, severity
from course.assessment.shared import (
    FEWEST_SHARED,
    Practised,
    Shared,
    SharedStep,
    compare,
    grade,
    practised,
    shared_steps,
    specific_range,
)
from course.record.facts import Sheet
from course.standards.rubric import Skill
from course.words import Capacity, Closing, Outcome, listed, plural

_SIGNIFICANT = 0.05
_SEED = 1960
"""Of the drawing that gives the range: the same attempts give the same range."""
CAUTION = (
    "Numbers on who recorded what, not on who is right. Sheets that were talked over or copied are not independent, "
    "and attempts chosen by hand overstate agreement. It changes no standing; it asks for a joint scoring hour."
)


@dataclass(frozen=True)
class StepDifference:
    """One step on which two observers differed: how often each alone marked an error."""

    skill: str
    title: str
    step: str
    only_first: int
    only_second: int
    both: int
    attempts: int


@dataclass(frozen=True)
class Pair:
    """Two observers on the attempts that both scored."""

    first: str
    second: str
    shared: Shared
    between: tuple[float, float] | None
    """The middle 95 in 100 of the specific agreement when attempts are drawn again."""
    steps: tuple[StepDifference, ...]

    @property
    def enough(self) -> bool:
        """Whether they share enough attempts for a word."""
        return self.shared.attempts >= FEWEST_SHARED

    @property
    def differs(self) -> bool:
        """Whether one recorded fewer errors by more than chance would make."""
        p_value = self.shared.errors.p_value
        return self.enough and p_value is not None and p_value < _SIGNIFICANT

    @property
    def agreement_words(self) -> str:
        """Specific agreement on errors first, with its counts."""
        if not self.enough:
            return f"{self.first} and {self.second} share {plural(self.shared.attempts, 'attempt')}: too few to say."
        errors, specific = self.shared.errors, self.shared.specific
        if specific is None:
            none = f"neither marked an error at any of the {len(self.shared.steps)} steps that both saw"
            return f"On {plural(self.shared.attempts, 'attempt')} {none}."
        marks = errors.only_first + errors.only_second + 2 * errors.both
        between = (
            f", {self.between[0]:.2f} to {self.between[1]:.2f} when attempts are drawn again" if self.between else ""
        )
        return (
            f"Specific agreement on errors {specific:.2f}{between}: of {marks} error marks by both together "
            f"{2 * errors.both} have their partner ({plural(self.shared.attempts, 'attempt')}, "
            f"{len(self.shared.steps)} steps that both saw)."
        )

    @property
    def difference_words(self) -> str:
        """Who recorded fewer errors on the same attempts, worded with care."""
        errors = self.shared.errors
        if not self.enough or errors.p_value is None:
            return "" if not self.enough else "Neither marked an error that the other did not."
        less, more = (self.first, self.second) if errors.only_first < errors.only_second else (self.second, self.first)
        low, high = sorted((errors.only_first, errors.only_second))
        counts = f"{high} only by {more}, {low} only by {less}, {errors.both} by both"
        test = f"exact two-sided sign test p = {_p_words(errors.p_value)}"
        if self.differs:
            return (
                f"{less} recorded fewer errors than {more} on the same {self.shared.attempts} attempts: "
                f"{counts}; {test}. It asks for a joint scoring hour."
            )
        return f"No difference beyond what chance makes: {counts}; {test}."


@dataclass(frozen=True)
class PracticeLine:
    """One step of practice sheets against evaluating ones."""

    skill: str
    title: str
    step: str
    can_be_critical: bool
    compared: int
    """Attempts in which an evaluating sheet saw the step."""
    hit: int
    missed: int
    invented: int
    unseen: int

    @property
    def anything(self) -> bool:
        """Whether there was something to hit, or something was invented."""
        return bool(self.hit or self.missed or self.invented or self.unseen)


@dataclass(frozen=True)
class Practising:
    """One person's practice sheets against the evaluating sheets of the same attempts."""

    name: str
    sheets: int
    alone: int
    """Practice sheets without an evaluating sheet beside them: nothing to compare with."""
    lines: tuple[PracticeLine, ...]

    @property
    def words(self) -> str:
        """Hit, missed and invented at steps that can be critical, then at all others."""
        compared = self.sheets - self.alone
        head = f"{self.name}, {plural(compared, 'practice sheet')} beside an evaluating one"
        if compared < FEWEST_SHARED:
            return f"{head}: too few to say. {self._counts(critical=True)} {self._counts(critical=False)}"
        return f"{head}. {self._counts(critical=True)} {self._counts(critical=False)}"

    def _counts(self, *, critical: bool) -> str:
        own = [line for line in self.lines if line.can_be_critical == critical]
        hit, missed, unseen = (sum(getattr(line, name) for line in own) for name in ("hit", "missed", "unseen"))
        there = hit + missed + unseen
        where = "Steps that can be critical" if critical else "Other steps"
        invented = sum(line.invented for line in own)
        told = (
            f"{hit} of {plural(there, 'error')} hit, {missed} missed, {unseen} not seen" if there else "no error to hit"
        )
        return f"{where} ({sum(line.compared for line in own)} compared): {told}; {invented} invented."


@dataclass(frozen=True)
class SeverityLine:
    """One observer against the others on the same students and skills, where nobody else scored the same attempt."""

    name: str
    words: str
    measured: Severity


@dataclass(frozen=True)
class ObserversAnswer:
    """What the lead sees of observers."""

    sentence: str
    as_of: str
    pairs: tuple[Pair, ...]
    practising: tuple[Practising, ...]
    severities: tuple[SeverityLine, ...]
    links: str
    """Who cannot be compared with whom; empty where all are linked through students."""
    left_out: int
    """Attempts that are not compared since corrections of them disagree."""


@question(Sight.OBSERVERS)
def observers(seen: CourseView, asker: str, as_of: date) -> ObserversAnswer:
    """Return what two sheets on one attempt, and sheets on the same student and skill, say of observers.

    Raises:
        RefusedError: who asks is not the lead.
    """
    roles = seen.people[asker].roles if asker in seen.people else ()
    if not sees_as_lead(roles):
        require(roles, Act.OBSERVE)
    usable = [one for one in _attempts(seen, as_of) if not one[0].attempt.contested]
    pairs = tuple(_pairs(seen, usable))
    severities = tuple(_severities(seen, usable))
    return ObserversAnswer(
        sentence=_sentence(pairs),
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        pairs=pairs,
        practising=tuple(_practising(seen, usable)),
        severities=severities,
        links=_links(severities),
        left_out=sum(bool(one.attempt.contested) for one, _ in _attempts(seen, as_of)),
    )


@question(Sight.OBSERVERS)
def observer_pairs(seen: CourseView, as_of: date) -> tuple[tuple[str, str, Shared, bool], ...]:
    """Return every two observers who scored the same attempts, with whether one marked fewer errors than chance makes.

    For the list of findings, which shows it to the lead alone.
    """
    usable = [one for one in _attempts(seen, as_of) if not one[0].attempt.contested]
    return tuple((first, second, pair.shared, pair.differs) for (first, second), pair in _pairs_by_id(seen, usable))


@question(Sight.OBSERVERS)
def practice_of(seen: CourseView, person: str, as_of: date) -> Practising | None:
    """Return one person's practice sheets against the evaluating ones; None where they wrote none."""
    usable = [one for one in _attempts(seen, as_of) if not one[0].attempt.contested]
    return next((one for one in _practising(seen, usable) if one.name == seen.name(person)), None)


_Tried = tuple[SeenAttempt, Skill]


def _attempts(seen: CourseView, as_of: date) -> Iterator[_Tried]:
    """Closed attempts of this centre's own, each once, by the rubric in force."""
    told: set[str] = set()
    for student, skill_id in seen.by_student_and_skill:
        skill = seen.adopted.standards.skills.get(skill_id)
        for one in seen.seen(student, skill) if skill else ():
            attempt = one.attempt
            plain = attempt.ending is not None and attempt.ending.how != Closing.VOID and not attempt.withdrawn
            if skill and plain and not attempt.from_elsewhere and one.day <= as_of and attempt.id not in told:
                told.add(attempt.id)
                yield one, skill


def _features(seen: CourseView, one: SeenAttempt) -> frozenset[str]:
    if one.features is not None:
        return one.features
    unit_type = seen.unit_type_of(one.attempt.student, one.day)
    return unit_type.feature_set if unit_type else frozenset()


def _pairs(seen: CourseView, tried: Iterable[_Tried]) -> Iterator[Pair]:
    return (pair for _, pair in _pairs_by_id(seen, tried))


def _pairs_by_id(seen: CourseView, tried: Iterable[_Tried]) -> Iterator[tuple[tuple[str, str], Pair]]:
    """Every two observers who evaluated the same attempt, those who share most first."""
    found: dict[tuple[str, str], list[tuple[SeenAttempt, Skill, Sheet, Sheet]]] = {}
    for one, skill in tried:
        sheets = sorted(evaluating_sheets(one.attempt), key=lambda sheet: seen.name(sheet.observer))
        for first, second in combinations(sheets, 2):
            if first.observer != second.observer:
                found.setdefault((first.observer, second.observer), []).append((one, skill, first, second))
    for (first_id, second_id), own in sorted(found.items(), key=lambda item: -len(item[1])):
        steps: list[SharedStep] = []
        grades: list[tuple[Outcome, Outcome]] = []
        for one, skill, first, second in own:
            features = _features(seen, one)
            steps += shared_steps(one.attempt, skill, features, first, second)
            grades.append((grade(one.attempt, skill, features, first), grade(one.attempt, skill, features, second)))
        shared = compare(steps, grades, len(own))
        between = specific_range(steps, _SEED)
        pair = Pair(seen.name(first_id), seen.name(second_id), shared, between, _differences(seen, steps))
        yield (first_id, second_id), pair


def _differences(seen: CourseView, steps: Iterable[SharedStep]) -> tuple[StepDifference, ...]:
    """Steps on which they differed, most one-sided first."""
    by_step: dict[tuple[str, str], list[SharedStep]] = {}
    for one in steps:
        by_step.setdefault((one.skill, one.step), []).append(one)
    found = [
        StepDifference(
            skill=skill,
            title=seen.adopted.skill(skill).title,
            step=_step_words(seen.adopted.skill(skill), step),
            only_first=sum(one.first and not one.second for one in own),
            only_second=sum(one.second and not one.first for one in own),
            both=sum(one.first and one.second for one in own),
            attempts=len(own),
        )
        for (skill, step), own in by_step.items()
        if any(one.first != one.second for one in own)
    ]
    return tuple(sorted(found, key=lambda d: (-abs(d.only_first - d.only_second), d.skill, d.step)))


def _practising(seen: CourseView, tried: Iterable[_Tried]) -> Iterator[Practising]:
    sheets: dict[str, int] = {}
    alone: dict[str, int] = {}
    steps: dict[str, list[Practised]] = {}
    for one, skill in tried:
        evaluating = evaluating_sheets(one.attempt)
        for sheet in (s for s in one.attempt.sheets if s.capacity == Capacity.PRACTICE):
            who = sheet.observer
            sheets[who] = sheets.get(who, 0) + 1
            alone[who] = alone.get(who, 0) + (not evaluating)
            found = practised(one.attempt, skill, _features(seen, one), sheet, evaluating)
            steps.setdefault(who, []).extend(found)
    for who, count in sheets.items():
        yield Practising(seen.name(who), count, alone[who], _practice_lines(seen, steps[who]))


def _practice_lines(seen: CourseView, steps: Iterable[Practised]) -> tuple[PracticeLine, ...]:
    """Step by step, those that can be critical first."""
    by_step: dict[tuple[str, str], list[Practised]] = {}
    for one in steps:
        by_step.setdefault((one.skill, one.step), []).append(one)
    found = [
        PracticeLine(
            skill=skill,
            title=seen.adopted.skill(skill).title,
            step=_step_words(seen.adopted.skill(skill), step),
            can_be_critical=own[0].can_be_critical,
            compared=len(own),
            hit=sum(one.hit for one in own),
            missed=sum(one.missed for one in own),
            invented=sum(one.invented for one in own),
            unseen=sum(one.unseen for one in own),
        )
        for (skill, step), own in by_step.items()
    ]
    return tuple(sorted(found, key=lambda line: (not line.can_be_critical, -line.missed, line.skill, line.step)))


def _severities(seen: CourseView, tried: Iterable[_Tried]) -> Iterator[SeverityLine]:
    """Of attempts that one observer alone evaluated: clean or not, against the others on the same student and skill."""
    sheets = []
    for one, skill in tried:
        evaluating = evaluating_sheets(one.attempt)
        if len(evaluating) == 1:
            outcome = grade(one.attempt, skill, _features(seen, one), evaluating[0])
            if outcome in (Outcome.CLEAN, Outcome.MINOR, Outcome.CRITICAL):
                wrong = outcome != Outcome.CLEAN
                attempt = one.attempt
                sheets.append(Seen(evaluating[0].observer, attempt.student, attempt.skill, attempt.number, wrong))
    for found in severity(sheets):
        yield SeverityLine(seen.name(found.observer), _severity_words(seen.name(found.observer), found), found)


def _severity_words(name: str, found: Severity) -> str:
    compared = f"{plural(found.strata, 'comparison')} over {plural(found.students, 'student')}"
    if found.said and found.shrunk is not None:
        more = "more" if found.shrunk > 0 else "fewer"
        return f"{name} recorded {more} errors than others on the same student and skill ({compared})."
    if not found.enough:
        return f"{name}: too few to say ({compared} on the same student and skill)."
    if not found.same_attempts:
        return f"{name}: not compared, since others saw earlier or later attempts of the same students ({compared})."
    return f"{name}: no difference that is worth saying ({compared})."


def _links(severities: Iterable[SeverityLine]) -> str:
    groups: dict[int, list[str]] = {}
    for line in severities:
        groups.setdefault(line.measured.group, []).append(line.name)
    if len(groups) < 2:
        return ""
    return f"No student links {listed([listed(names) for names in groups.values()], 'with')}: they cannot be compared."


def _sentence(pairs: tuple[Pair, ...]) -> str:
    if not pairs:
        return "No attempt has two evaluating sheets: let two observers score the same attempts, blind to each other."
    differing = [pair for pair in pairs if pair.differs]
    if differing:
        return differing[0].difference_words
    if not any(pair.enough for pair in pairs):
        return f"Too few to say: no two observers share {FEWEST_SHARED} attempts yet."
    return "No two observers differ beyond what chance makes."


def _step_words(skill: Skill, step_id: str) -> str:
    step = skill.step(step_id)
    return step_name(step) if step else step_id


def _p_words(p_value: float) -> str:
    return f"{p_value:.4f}" if p_value >= 0.0001 else "below 0.0001"
