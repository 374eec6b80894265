"""Show why: one student's standing with one skill, and all that it rests on."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, timedelta
from typing import Any

from course.access import Sight
from course.answers.amendments import amendments, moved_away
from course.answers.consequence import Consequence, consequences
from course.answers.course_view import CourseView, standing_word
from course.answers.days import as_of_words, day_words, weekday_words
from course.answers.decisions import HELD, DecisionDetail, decision_detail, evidence
from course.answers.elsewhere import skill_elsewhere
from course.answers.order_told import OrderTold, order_told
from course.answers.other_forms import by_other_forms, sentence_with_other_forms
from course.answers.rule_strictness import Beside, beside
from course.answers.steps import MarkWords, sheet_words
from course.asker import question
from course.assessment.attempts import SeenAttempt
from course.assessment.history import StreakStep, step_faults
from course.assessment.marks import step_name
from course.assessment.sentences import of_asked, rule_sentence
from course.moments import read_stored, zone_named
from course.record.events import ElsewhereAnswered
from course.record.facts import Attempt, Sheet
from course.record.statements import live_statements
from course.standards.rubric import Skill
from course.storage.ledger import Ledger
from course.words import (
    OUTCOME_WORDS,
    ROLE_WORDS,
    SETTING_WORDS,
    Capacity,
    Closing,
    Outcome,
    StandingState,
    listed,
)

_A_DAY = timedelta(hours=24)


@dataclass(frozen=True)
class SheetDetail:
    """One observer's sheet, line by line."""

    observer: str
    capacity: str
    source: str
    marks: tuple[MarkWords, ...]
    whole_clean: bool
    order: OrderTold


@dataclass(frozen=True)
class AttemptDetail:
    """One attempt, with what it is worth and why."""

    attempt: str
    head: str
    """ "Thu 22 Oct 2026 · Pool 1 · pool · attempt 3" """
    outcome: str
    effect: str
    streak: int
    reasons: tuple[str, ...]
    ending: str
    entered: str
    amended: tuple[str, ...]
    """What was changed after closing: by whom, when, from what to what, and why."""
    sheets: tuple[SheetDetail, ...]
    in_numbers: tuple[Consequence, ...] = ()
    """What its errors lead to in numbers, where the rubric names a figure."""


@dataclass(frozen=True)
class SkillDetail:
    """Everything behind one cell."""

    student_id: str
    student: str
    skill: str
    title: str
    purpose: str
    caution: str
    as_of: str
    day: date
    state: StandingState
    word: str
    sentence: str
    rule: str
    outcomes: tuple[Outcome, ...]
    streaks: tuple[int, ...]
    in_a_row: int
    attempts: tuple[AttemptDetail, ...]
    faults: tuple[str, ...]
    """Steps that went wrong, most often first: "“Only then take it out” went wrong in 3 of 11." """
    open_attempts: tuple[tuple[str, str], ...]
    not_counted: tuple[str, ...]
    rests_on: str
    events: int
    decision: DecisionDetail | None
    can_sign: bool
    beside: Beside

    @property
    def in_numbers(self) -> tuple[Consequence, ...]:
        """What the errors of all attempts lead to, each once, the newest first."""
        return tuple(dict.fromkeys(one for attempt in reversed(self.attempts) for one in attempt.in_numbers))

    def text(self) -> str:
        """The answer in lines, for the command line."""
        lines = [
            f"{self.student} · {self.title} · as of {self.as_of}",
            self.sentence,
            *self.faults,
            f"Rule: {self.rule}",
            "",
        ]
        for attempt in self.attempts:
            row = of_asked(attempt.streak, self.in_a_row)
            lines.append(f"{attempt.head} · {attempt.outcome} · {attempt.effect} · {row}")
            lines += [
                f"    {reason}"
                for reason in (*attempt.reasons, attempt.ending, attempt.entered, *attempt.amended)
                if reason
            ]
            lines += [f"    in numbers, {one.error}: {one.told} {one.assumed}" for one in attempt.in_numbers]
            for sheet in attempt.sheets:
                lines.append(f"    sheet of {sheet.observer} ({sheet.capacity}, {sheet.source})")
                lines.append(f"      {sheet.order.sentence}")
                lines += [f"      {mark.number:>2} {mark.words:32} {mark.do}" for mark in sheet.marks]
        lines += [*self.not_counted, self.decision.sentence if self.decision else "Not signed."]
        lines += [self.decision.apart] if self.decision else []
        lines += [f"Rests on {self.events} events, {self.rests_on}."]
        lines += ["", "Beside the standing", *self.beside.sentences, self.beside.note, "", self.caution]
        return "\n".join(lines)

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        return asdict(self) | {"day": self.day.isoformat()}


@question(Sight.COURSE)
def skill_detail(ledger: Ledger, seen: CourseView, student: str, skill_id: str, as_of: date) -> SkillDetail:
    """Return all that a standing rests on."""
    skill = seen.adopted.skill(skill_id)
    standing = seen.standing(student, skill, as_of)
    rests_on = evidence(seen, skill, standing)
    by_id = {s.attempt.id: s for s in seen.seen(student, skill)}
    unit_type = seen.unit_type_of(student, as_of)
    asked = unit_type.feature_set if unit_type else frozenset()
    return SkillDetail(
        student_id=student,
        student=seen.name(student),
        skill=skill.id,
        title=skill.title,
        purpose=skill.purpose,
        caution=skill.caution,
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        day=as_of,
        state=standing.state,
        word=standing_word(standing.state),
        sentence=sentence_with_other_forms(seen, student, skill, standing),
        rule=rule_sentence(skill),
        outcomes=tuple(step.outcome for step in standing.history),
        streaks=tuple(step.streak for step in standing.history),
        in_a_row=skill.rule.in_a_row,
        attempts=tuple(_attempt(ledger, seen, skill, by_id[step.attempt], step, asked) for step in standing.history),
        faults=tuple(
            f"“{_step(skill, fault.step)}” went wrong in {fault.wrong} of {fault.attempts}."
            for fault in step_faults(standing.history)
        ),
        open_attempts=tuple(
            (attempt, by_id[attempt].attempt.sheets[0].id)
            for attempt in standing.open_attempts
            if by_id[attempt].attempt.sheets
        ),
        not_counted=(
            *_not_counted(ledger, seen, student, skill, as_of),
            *skill_elsewhere(ledger, seen, student, skill),
        ),
        rests_on=rests_on,
        events=len(standing.events),
        decision=decision_detail(ledger, seen, student, skill, as_of),
        can_sign=standing.state in HELD,
        beside=beside(standing, skill, {attempt: seen_.attempt.setting for attempt, seen_ in by_id.items()}),
    )


def _attempt(
    ledger: Ledger, seen: CourseView, skill: Skill, of: SeenAttempt, step: StreakStep, asked: frozenset[str]
) -> AttemptDetail:
    """One attempt; `asked` is what the unit has that the standing is asked for, for an attempt without one."""
    attempt, judged = of.attempt, step.judgement
    notes = ledger.private(attempt).get("by_event", {})
    reasons = judged.held.reasons if judged.held else ()
    return AttemptDetail(
        attempt=attempt.id,
        head=" · ".join([_head(seen, of, _serial(ledger, seen, attempt)), *_elsewhere(ledger, seen, attempt)]),
        outcome=OUTCOME_WORDS[step.outcome],
        effect=step.note,
        streak=step.streak,
        reasons=tuple(reason.sentence for reason in reasons),
        ending=_ending(attempt, notes),
        entered=_entered(ledger, of),
        amended=(*amendments(ledger, seen, skill, attempt, notes), *_contested(attempt, judged.contested)),
        sheets=tuple(_sheet(seen, skill, of, sheet, notes, asked) for sheet in attempt.sheets),
        in_numbers=consequences(skill, reasons),
    )


def _head(seen: CourseView, of: SeenAttempt, serial: str = "") -> str:
    session = seen.sessions.get(of.attempt.session)
    parts = [
        f"{weekday_words(of.day)} {day_words(of.day)}",
        session.title if session else "its session was withdrawn",
        SETTING_WORDS[of.attempt.setting],
        f"attempt {of.attempt.number}",
    ]
    if of.attempt.unit in seen.units:
        parts.append(seen.units[of.attempt.unit].label + serial)
    host = next((a for a in seen.attempts if of.attempt.within and a.id == of.attempt.within), None)
    if host:
        parts.append(f"seen within {seen.title_of(host.skill)}")
    if of.attempt.from_elsewhere:
        parts.append(f"from elsewhere: {of.attempt.elsewhere or 'a centre that is not named any more'}")
    return " · ".join(parts)


def _contested(attempt: Attempt, counts_for_nobody: bool) -> tuple[str, ...]:  # noqa: FBT001 - what is told
    """That corrections from two devices disagree, about what, what that does, and the way out."""
    if not attempt.contested:
        return ()
    about = listed([name.replace("_", " ") for name in attempt.contested])
    does = (
        "it counts for nobody, and a critical error counts against each"
        if counts_for_nobody
        else "the stricter of them holds"
    )
    return (f"Two corrections disagree about its {about}: {does}, until one is corrected once more.",)


def _serial(ledger: Ledger, seen: CourseView, attempt: Attempt) -> str:
    """The maker's number of the unit that an attempt was seen on, where it is entered."""
    unit = seen.units.get(attempt.unit or "")
    serial = ledger.private(unit).get("serial") if unit else None
    return f" (serial {serial})" if serial else ""


def _elsewhere(ledger: Ledger, seen: CourseView, attempt: Attempt) -> tuple[str, ...]:
    """Whether what was seen at another centre is accepted here, by whom and when."""
    if not attempt.from_elsewhere:
        return ()
    told = "nobody has accepted it yet"
    live = [one for one in live_statements(ledger.events(attempt.id)) if not one.withdrawn]
    for statement in live:
        if isinstance(statement.body, ElsewhereAnswered) and statement.body.accepted == attempt.accepted:
            day = read_stored(statement.event.recorded_at).astimezone(zone_named(seen.course.zone)).date()
            word = "accepted" if statement.body.accepted else "not accepted"
            told = f"{word} by {seen.name(statement.event.actor)} on {day_words(day)}"
            why = ledger.private_of(statement.event).get("why")
            told += f": {why}" if why and not statement.body.replaces else ""  # later answers are told as amendments
    return (told,)


def _sheet(
    seen: CourseView,
    skill: Skill,
    of: SeenAttempt,
    sheet: Sheet,
    notes: dict[str, dict[str, Any]],
    asked: frozenset[str],
) -> SheetDetail:
    practice = "practice sheet: does not count" if sheet.capacity == Capacity.PRACTICE else "evaluating"
    lapsed = ", not current on this unit type that day" if sheet.observer in of.lapsed else ""
    return SheetDetail(
        observer=f"{seen.name(sheet.observer)}, {ROLE_WORDS[sheet.role]}{lapsed}",
        capacity=practice,
        source={"pad": "tapped on the pad", "slate": "copied from a slate", "file": "from a file"}[sheet.source.value],
        marks=sheet_words(skill, of.features, sheet, of.attempt.joint, notes),
        whole_clean=sheet.whole_clean is not None,
        order=order_told(
            skill, asked if of.features is None else of.features, sheet, of.attempt.joint, seen.name(sheet.observer)
        ),
    )


def _ending(attempt: Attempt, notes: dict[str, dict[str, Any]]) -> str:
    if attempt.ending is None or attempt.ending.how == Closing.COMPLETED:
        return ""
    reason = notes.get(attempt.ending.event, {}).get("reason")
    who = f" by the {attempt.ending.stopped_by}" if attempt.ending.stopped_by else ""
    return f"{attempt.ending.how.value.capitalize()}{who}" + (f": {reason}" if reason else ".")


def _entered(ledger: Ledger, of: SeenAttempt) -> str:
    """When it was seen and when it was entered, where the entry is more than a day after the session or the seeing."""
    attempt = of.attempt
    recorded = [read_stored(event.recorded_at) for event in ledger.events(attempt.id)]
    if not recorded or max(recorded) - min(attempt.observed.moment, of.session_start) <= _A_DAY:
        return ""
    local, entered = attempt.observed.local, max(recorded).astimezone(zone_named(attempt.observed.zone))
    return (
        f"Seen on {day_words(local.date())} at {local:%H:%M}; "
        f"last entry on {day_words(entered.date())} at {entered:%H:%M} ({attempt.observed.zone})."
    )


def _step(skill: Skill, step_id: str) -> str:
    step = skill.step(step_id)
    return step_name(step) if step else step_id


def _not_counted(ledger: Ledger, seen: CourseView, student: str, skill: Skill, as_of: date) -> tuple[str, ...]:
    older = [_head(seen, of) for of in by_other_forms(seen, student, skill, as_of)]
    told = [f"Marked by another form of this rubric, kept but not counted: {'; '.join(older)}."] if older else []
    late = [_head(seen, of) for of in seen.after_window(student, skill)]
    if late:
        end = day_words(seen.window_end)
        told.append(
            f"After {end}, the last day to finish on: kept, not counted by these requirements: {'; '.join(late)}."
        )
    return (*told, *moved_away(ledger, seen, student, skill))
