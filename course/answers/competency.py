"""What a competency record says: every skill of one student on one course, as of one day."""

from __future__ import annotations

from datetime import date

from course.access import Sight
from course.answers.amendments import changes_by_skill
from course.answers.course_view import CourseView, standing_word
from course.answers.days import as_of_words, day_words, days_words
from course.answers.decisions import HELD, decision_detail, signed_word
from course.answers.elsewhere import elsewhere_lines
from course.answers.gate_view import adjustment_lines
from course.answers.missing import StudentMissing, student_missing
from course.answers.other_forms import sentence_with_other_forms
from course.answers.record_answer import (
    CompetencyRecord,
    CriticalSeen,
    DecisionLine,
    HoursLine,
    PhaseLines,
    SkillLine,
)
from course.answers.record_requirements import (
    asked_lines,
    assessors_of,
    confirmations,
    consent_lines,
    deciders_of,
    signers,
)
from course.answers.record_steps import with_steps
from course.answers.sign_off import exception_lines, sign_off_lines, sign_off_state
from course.asker import question
from course.assessment.history import CriticalSeen as SeenCritical
from course.assessment.history import Effect
from course.assessment.sentences import rule_sentence
from course.assessment.standing import Standing
from course.record.chain import evidence_hash
from course.standards.rubric import Skill
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.words import (
    EXAMPLE_NOTE,
    OUTCOME_WORDS,
    RECORD_NOTE,
    DecisionKind,
    plural,
)

HOURS_NOTE = (
    "Minutes are unions over the student's own time, never sums of overlapping times; minutes on the loop are those "
    "written down in water."
)
_FEW = 3


@question(Sight.PAPERS)
def competency_record(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> CompetencyRecord:
    """Return the record of one student: the object that page and paper show alike."""
    unit, unit_type = seen.unit_of(student, as_of), seen.unit_type_of(student, as_of)
    amended = changes_by_skill(ledger, seen, student, as_of)
    lines = {
        skill.id: _skill_line(ledger, seen, student, skill, as_of, amended.get(skill.id, ()))
        for skill in seen.skills()
        if applies(skill, unit_type) or skill.id in amended
    }
    standings = [seen.standing(student, seen.adopted.skill(skill), as_of) for skill in lines]
    events = sorted({event for standing in standings for event in standing.events})
    phases = _phases(seen, lines)
    state = student_missing(seen, student, as_of)
    return CompetencyRecord(
        centre=seen.centre.name,
        course=seen.course.title,
        course_days=days_words(date.fromisoformat(seen.course.first_day), seen.last_day),
        requirements=f"{seen.profile.title}, revision {seen.profile.revision}",
        requirements_notice=seen.profile.notice,
        student=seen.name(student),
        student_id=student,
        birth_year=seen.people[student].birth_year,
        unit_type=unit_type.title if unit_type else "no unit assigned",
        unit=unit.label if unit else None,
        as_of=as_of.isoformat(),
        as_of_words=as_of_words(as_of, seen.last_day, seen.today()) if as_of == seen.last_day else day_words(as_of),
        summary=_summary(seen, state, as_of),
        phases=phases,
        hours=tuple(HoursLine(h.word, h.minutes, h.required, h.elsewhere) for h in state.hours),
        hours_note=HOURS_NOTE,
        adjustments=adjustment_lines(seen, student),
        cautions=(RECORD_NOTE, EXAMPLE_NOTE),
        head=seen.head,
        course_id=seen.course.id,
        sign_off=sign_off_state(seen, student),
        sign_offs=sign_off_lines(ledger, seen, student),
        exceptions=exception_lines(ledger, seen, student, as_of),
        elsewhere=elsewhere_lines(ledger, seen, student),
        evidence=evidence_hash(events, evidence_hash([seen.adopted.hashes[skill] for skill in lines], "0" * 64)),
        asked=asked_lines(seen, state, as_of),
        consents=consent_lines(seen, student, as_of),
        signers=signers(seen),
        assessors=assessors_of(phases),
        deciders=deciders_of(phases),
        confirmed=confirmations(seen, student, lines, as_of),
    )


def _phases(seen: CourseView, lines: dict[str, SkillLine]) -> tuple[PhaseLines, ...]:
    phase_of = seen.adopted.standards.phase_of
    found = [
        PhaseLines(phase.title, tuple(line for skill, line in lines.items() if phase_of[skill] == phase.id))
        for phase in seen.adopted.standards.phases
    ]
    return tuple(phase for phase in found if phase.skills)


def _summary(seen: CourseView, state: StudentMissing, as_of: date) -> str:
    back = [skill.title for skill in seen.skills() if signed_word(seen, state.student, skill, as_of) == "held back"]
    counts = [f"{state.held} of {plural(state.required, 'required skill')} held", f"{state.signed} signed"]
    counts += [f"{state.excused} by exception"] if state.excused else []
    counts += [f"{len(back)} held back by an instructor"] if back else []
    short = [f"{one.short.capitalize()}." for one in state.short]
    missing = [_first("Not held", [s.title for s in state.skills]), _first("Held back", back)]
    return " ".join([f"{', '.join(counts)}.", *filter(None, missing), *short])


def _first(what: str, titles: list[str]) -> str:
    """The first few by name: the overview and the table have them all."""
    if not titles:
        return ""
    return f"{what}: {', '.join(titles[:_FEW])}{' and others' if len(titles) > _FEW else ''}."


def _skill_line(
    ledger: Ledger, seen: CourseView, student: str, skill: Skill, as_of: date, amended: tuple[str, ...]
) -> SkillLine:
    standing = seen.standing(student, skill, as_of)
    observers = {o for step in standing.history for o in step.judgement.assessors}
    weak = [
        s for s in standing.history if s.effect == Effect.COUNTS and s.judgement.held and s.judgement.held.weak_steps
    ]
    optional = "" if seen.is_required(skill) else " (optional)"
    line = SkillLine(
        skill=skill.id,
        title=skill.title + optional,
        state=standing.state,
        state_word=standing_word(standing.state),
        sentence=sentence_with_other_forms(seen, student, skill, standing),
        rule=rule_sentence(skill, brief=True),
        streak=standing.streak,
        in_a_row=skill.rule.in_a_row,
        days=len(standing.days),
        distinct_days=skill.rule.distinct_days,
        settings=standing.settings,
        attempts=standing.budget_used,
        budget=skill.rule.budget,
        observers=tuple(sorted(seen.name(o) for o in observers)),
        outcomes=tuple(OUTCOME_WORDS[step.outcome] for step in standing.history),
        weaker_evidence=len(weak),
        criticals=tuple(_critical(seen, skill, standing, c) for c in standing.criticals),
        decision=_decision(ledger, seen, student, skill, standing),
        required=seen.is_required(skill),
        amended=amended,
    )
    return with_steps(line, seen, student, skill, standing)


def _critical(seen: CourseView, skill: Skill, standing: Standing, critical: SeenCritical) -> CriticalSeen:
    reason = critical.reasons[0] if critical.reasons else None
    step = skill.step(reason.step) if reason else None
    error = step.error(reason.error) if step and reason and reason.error else None
    turn = next(s for s in standing.history if s.attempt == critical.attempt)
    return CriticalSeen(
        day=day_words(critical.day),
        step=step.do if step else "",
        label=" ".join(r.sentence for r in critical.reasons),
        consequence=error.consequence if error else (step.why if step else ""),
        observers=tuple(sorted(seen.name(o) for o in turn.judgement.assessors)),
        cleared=_cleared(standing, critical),
    )


def _cleared(standing: Standing, critical: SeenCritical) -> str:
    days = {step.attempt: step.day for step in standing.history}
    retaught = (
        f"Re-taught on {day_words(days[critical.retaught_by[-1]])}" if critical.retaught_by else "Not re-taught yet"
    )
    if critical.met_on is not None:
        return f"{retaught}; cleared when the rule was met anew on {day_words(critical.met_on)}."
    return f"{retaught}; not cleared yet: the rule has not been met since."


def _decision(ledger: Ledger, seen: CourseView, student: str, skill: Skill, standing: Standing) -> DecisionLine | None:
    detail = decision_detail(ledger, seen, student, skill, standing.as_of)
    if detail is None:
        return None
    return DecisionLine(
        sentence=detail.sentence,
        decided_by=detail.decided_by,
        day=detail.day,
        reason=detail.reason,
        agrees=detail.decided == DecisionKind.AGREED and standing.state in HELD,
        stale=detail.stale,
        held_back=detail.decided == DecisionKind.STRICTER,
    )
