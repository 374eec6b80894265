"""Findings of a course as people read them: the worst first, each with what it rests on and what was answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import as_of_words, day_words
from course.answers.finding_ground import finding_ground
from course.asker import question, sees_as_lead
from course.findings.finding import Evidence, Finding, Severity
from course.findings.folding import Folded, folded
from course.findings.ground import Ground, short_day
from course.findings.rules import findings, is_for_lead, rule_words
from course.moments import now, training_day, zone_named
from course.record.finding_facts import FindingAnswer
from course.storage.ledger import Ledger
from course.storage.lookup import all_of
from course.words import SETTING_WORDS, plural

CAUTION = (
    "A finding is what does not fit in what was entered; it judges nobody. An answer takes nothing away: both stay. "
    "Whoever leads decides, and the certifying agency has the last word."
)
WITHOUT_KEYS = "Papers of people cannot be opened here: gates and consents are not looked at."


@dataclass(frozen=True)
class EvidenceLine:
    """One thing that a finding rests on, and where it can be opened."""

    kind: str
    id: str
    words: str
    student: str | None = None
    skill: str | None = None


@dataclass(frozen=True)
class GivenAnswer:
    """What somebody said to a finding."""

    id: str
    reason: str
    who: str
    day: str
    changed: bool
    """The finding is another one now than the one that was answered."""
    replaced: bool
    """A later answer took its place; it is still to be read."""

    @property
    def sentence(self) -> str:
        """Who said what, when."""
        since = " The finding has changed since then." if self.changed and not self.replaced else ""
        return f"{self.who}, {self.day}: {self.reason}{since}"


@dataclass(frozen=True)
class ShownFinding:
    """One finding with those that follow from it."""

    key: str
    code: str
    """Eight signs that stand for the key: what is said aloud and typed."""
    rule: str
    looks_for: str
    """What the rule looks for, in a sentence."""
    severity: Severity
    sentence: str
    rests_on: str
    evidence: tuple[EvidenceLine, ...]
    answers: tuple[GivenAnswer, ...]
    follow: tuple[ShownFinding, ...]
    replaces: tuple[str, ...]
    """Answers whose place the next one takes."""

    @property
    def answered(self) -> bool:
        """Whether somebody answered the finding as it is now."""
        return any(not one.replaced and not one.changed for one in self.answers)

    @property
    def state(self) -> str:
        """Whether it is answered, in words."""
        if self.answered:
            return "answered"
        return "changed since it was answered" if any(not one.replaced for one in self.answers) else "not answered"


@dataclass(frozen=True)
class FindingsAnswer:
    """Everything that does not fit in a course, as of a day."""

    course: str
    as_of: str
    sentence: str
    findings: tuple[ShownFinding, ...]
    gone: tuple[str, ...]
    """Answers to findings that are found no more, each as a sentence."""
    notes: tuple[str, ...]
    caution: str = CAUTION

    @property
    def open(self) -> tuple[ShownFinding, ...]:
        """Those that nobody answered as they are now."""
        return tuple(one for one in self.findings if not one.answered)

    def text(self) -> str:
        """The answer in lines, for the command line."""
        lines = [f"{self.course}, as of {self.as_of}", self.sentence]
        for one in self.findings:
            lines += ["", f"{one.severity.value}: {one.sentence}", f"    {one.state} · {one.code}"]
            lines += [f"    follows from it: {other.sentence}" for other in one.follow]
            lines += [f"    {'earlier answer' if a.replaced else 'answer'}: {a.sentence}" for a in one.answers]
        lines += ["", *(f"Answered, and found no more: {line}" for line in self.gone)] if self.gone else []
        return "\n".join([*lines, "", *self.notes, self.caution])

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        return asdict(self)


@question(Sight.TODAY)
def findings_sentence(ledger: Ledger, seen: CourseView, as_of: date, asker: str) -> str:
    """Return how many findings a course has and which is the worst, for pages of a day; empty where there are none."""
    answer = course_findings(ledger, seen, as_of, asker)
    return answer.sentence if answer.findings else ""


@question(Sight.FINDINGS, Sight.WHY)
def course_findings(
    ledger: Ledger, seen: CourseView, as_of: date, asker: str | None = None, *, papers: bool = True
) -> FindingsAnswer:
    """Return what does not fit in a course.

    Args:
        ledger: where answers are read from.
        seen: the course.
        as_of: training days after this one are left out.
        asker: who looks; what is for the lead alone is left out for others. None: whoever has the folder.
        papers: whether people's papers can be opened here.
    """
    found = _found(ledger, seen, as_of, papers=papers)
    known = seen.people.get(asker) if asker else None
    leads = asker is None or sees_as_lead(known.roles if known else ())
    reader = _Reader(ledger, seen)
    shown = tuple(reader.shown(one) for one in found.folded if leads or not one.finding.for_lead)
    keys = {one.key for whole in found.folded for one in (whole.finding, *whole.follow)}
    notes = [] if papers else [WITHOUT_KEYS]
    return FindingsAnswer(
        course=seen.course.title,
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        sentence=_sentence(shown),
        findings=shown,
        gone=reader.gone(keys, leads=leads),
        notes=(*notes, *_entered_afterwards(found.ground)),
    )


@dataclass(frozen=True)
class _Found:
    ground: Ground
    folded: tuple[Folded, ...]


def _found(ledger: Ledger, seen: CourseView, as_of: date, *, papers: bool) -> _Found:
    """What the rules find, worked out once for each view and minute: time ends sessions."""
    asked = (as_of, papers, now().replace(second=0, microsecond=0))
    kept = seen.worked_out.get("findings")
    if kept is not None and kept[0] == asked and isinstance(kept[1], _Found):
        return kept[1]
    ground = finding_ground(ledger, seen, as_of, papers=papers)
    found = _Found(ground, folded(findings(ground)))
    seen.worked_out["findings"] = (asked, found)
    return found


def _sentence(shown: Sequence[ShownFinding]) -> str:
    if not shown:
        return "Nothing that does not fit was found."
    left = [one for one in shown if not one.answered]
    count = plural(len(shown), "finding")
    if not left:
        return f"{count}, all answered."
    answered = f"{len(shown) - len(left)} answered. " if len(left) < len(shown) else "none answered. "
    return f"{count}, {answered}The worst: {left[0].sentence}"


def _entered_afterwards(ground: Ground) -> tuple[str, ...]:
    """That a course was written down only after it had begun: times of entry before that say nothing."""
    first = min((s.start for s in ground.sessions.values()), key=lambda start: start.utc, default=None)
    if ground.made_here is None or first is None or ground.made_here <= first.moment:
        return ()
    day = ground.made_here.astimezone(zone_named(ground.course.zone)).date()
    return (
        (
            f"This course was written into the ledger on {day_words(day)}, after it had begun: of what happened before "
            "that the time of entry says nothing, and late is counted from that day."
        ),
    )


class _Reader:
    """Puts findings in words for people: what they rest on, and answers."""

    def __init__(self, ledger: Ledger, seen: CourseView) -> None:
        self.ledger, self.seen = ledger, seen
        self.attempts = {attempt.id: attempt for attempt in seen.attempts}
        self.decisions = {decision.id: decision for decision in seen.decisions}
        self.given: dict[str, list[FindingAnswer]] = {}
        for one in all_of(ledger, FindingAnswer, course=seen.course.id):
            if not one.withdrawn:
                self.given.setdefault(one.finding, []).append(one)

    def shown(self, one: Folded) -> ShownFinding:
        """A finding with its followers."""
        return self._shown(one.finding, tuple(self._shown(other) for other in one.follow))

    def _shown(self, finding: Finding, follow: tuple[ShownFinding, ...] = ()) -> ShownFinding:
        own = self.given.get(finding.key, [])
        return ShownFinding(
            key=finding.key,
            code=finding.code,
            rule=finding.rule,
            looks_for=rule_words(finding.rule),
            severity=finding.severity,
            sentence=finding.sentence,
            rests_on=finding.rests_on,
            evidence=tuple(self._evidence(evidence) for evidence in finding.evidence),
            answers=self._answers(own, finding.rests_on),
            follow=follow,
            replaces=tuple(sorted({one.id for one in own} - {earlier for one in own for earlier in one.replaces})),
        )

    def _answers(self, own: Sequence[FindingAnswer], rests_on: str) -> tuple[GivenAnswer, ...]:
        replaced = {earlier for one in own for earlier in one.replaces}
        return tuple(
            GivenAnswer(
                id=one.id,
                reason=str(self.ledger.private(one).get("reason") or "the reason is erased"),
                who=self.seen.name(one.answered_by),
                day=day_words(one.observed.local.date()),
                changed=one.rests_on != rests_on,
                replaced=one.id in replaced,
            )
            for one in sorted(own, key=lambda one: (one.observed.utc, one.id))
        )

    def gone(self, found: set[str], *, leads: bool) -> tuple[str, ...]:
        """Answers to what is found no more; they stay to be read, by whoever could read the finding."""
        left = [one for key, own in sorted(self.given.items()) if key not in found for one in own]
        left = [one for one in left if leads or not is_for_lead(one.finding.partition("/")[0])]
        told = []
        for one in sorted(left, key=lambda one: (one.observed.utc, one.id)):
            (answer,) = self._answers([one], one.rests_on)
            told.append(f"{rule_words(one.finding.partition('/')[0])} {answer.sentence}".strip())
        return tuple(told)

    def _evidence(self, one: Evidence) -> EvidenceLine:
        told, student, skill = self._thing(one)
        return EvidenceLine(one.kind, one.id, f"{told}: {one.words}" if one.words else told, student, skill)

    def _thing(self, one: Evidence) -> tuple[str, str | None, str | None]:
        """What a piece of evidence is called, with the student and the skill that it is of."""
        seen = self.seen
        attempt, decision = self.attempts.get(one.id), self.decisions.get(one.id)
        session, unit = seen.sessions.get(one.id), seen.units.get(one.id)
        if attempt:
            day = short_day(seen.as_seen(attempt).day)
            told = f"{seen.name(attempt.student)} · {seen.title_of(attempt.skill)}, attempt {attempt.number}, {day}"
        elif decision:
            told = f"Decision on {seen.title_of(decision.skill)} of {seen.name(decision.student)}"
        elif sign_off := next((fact for fact in seen.sign_offs if fact.id == one.id), None):
            told = f"Sign-off of {seen.name(sign_off.student)}, issue {sign_off.issue}"
        elif made := next((fact for fact in seen.exceptions if fact.id == one.id), None):
            told = f"Exception for {seen.name(made.student)}"
        elif session:
            told = f"{session.title}, {short_day(training_day(session.start))}, {SETTING_WORDS[session.setting]}"
        elif one.id == seen.course.id:
            told = seen.course.title
        elif one.kind == "person":
            told = seen.name(one.id)
        else:
            told = unit.label if unit else f"{one.kind} {one.id[-6:]}, withdrawn"
        of = attempt or decision
        return told, of.student if of else None, of.skill if of else None


def find_finding(answer: FindingsAnswer, key: str) -> ShownFinding | None:
    """Return a finding by its key or code, also one that follows from another; None where it is found no more."""
    every = (one for whole in answer.findings for one in (whole, *whole.follow))
    return next((one for one in every if key in (one.key, one.code)), None)
