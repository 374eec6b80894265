"""Rules about attempts: how they were entered, what their sheets say against each other, and how they ended."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from datetime import timedelta

from course.assessment.attempts import evaluating_sheets, pending_critical
from course.assessment.marks import Reason, read_step
from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, Tried, short_day
from course.hours.minutes import session_minutes
from course.record.facts import Session, Sheet
from course.standards.rubric import Limit, Skill, Step, decimal_of, is_decimal
from course.words import SETTING_WORDS, Closing, Mark, Outcome, SpanRole, listed, plural

LATE = timedelta(hours=24)
"""After this a sheet is listed as entered late."""
LEAST_SECONDS = 60
"""The least that an attempt takes, whatever its skill: our choice. A longer time that its steps ask for goes before."""
_COPIED_STUDENTS = 3
_COPIED_MARKS = 2
"""So many students with so many equal marks that say more than "done" are told: our choice."""
_UNIT_SECONDS = {"s": 1, "min": 60}


def entered_late(ground: Ground) -> Iterator[Finding]:
    """Attempts whose marks were entered more than a day after they were seen, session by session.

    Nothing could be entered before the course was written into this ledger: time is counted from then on.
    """
    for session in ground.sessions.values():
        late = [(by, tried) for tried in ground.of_session(session.id) if (by := _late_hours(ground, tried))]
        if late:
            hours = sorted(by for by, _ in late)
            after = " to ".join(dict.fromkeys((_after(hours[0]), _after(hours[-1]))))
            yield Finding(
                rule="entered_late",
                severity=Severity.LOOK,
                about=(session.id,),
                sentence=f"{ground.session_words(session.id)}: {plural(len(late), 'attempt')} had the last entry "
                f"{after} after {'it was' if len(late) == 1 else 'they were'} seen.",
                figures=tuple(
                    f"{attempt} {by}" for attempt, by in sorted((tried.attempt.id, by) for by, tried in late)
                ),
                evidence=tuple(Evidence("attempt", tried.attempt.id) for _, tried in late),
            )


def more_than_time_allows(ground: Ground) -> Iterator[Finding]:
    """A student has more attempts in a session than the minutes there allow, each at the least its steps ask for."""
    for session in ground.sessions.values():
        for student in ground.students:
            there = _seconds_there(ground, session, student)
            own = [t for t in ground.of_session(session.id) if t.attempt.student == student and _takes_time(t)]
            asked = sum(_least_seconds(t) for t in own)
            if there and asked > there:
                yield Finding(
                    rule="more_than_time_allows",
                    severity=Severity.LOOK,
                    about=(session.id, student),
                    sentence=f"{ground.session_words(session.id)}: {ground.name(student)} has "
                    f"{plural(len(own), 'attempt that takes', 'attempts that take')} {-(-asked // 60)} min at the very "
                    f"least, and was there for {there // 60} min.",
                    figures=(str(len(own)), str(asked), str(there)),
                    evidence=(Evidence("session", session.id), *(Evidence("attempt", t.attempt.id) for t in own)),
                )


def same_marks(ground: Ground) -> Iterator[Finding]:
    """One observer gave several students the same errors or values at one skill in one session."""
    found: dict[tuple[str, str, str, frozenset[str]], list[Tried]] = {}
    for tried in ground.tried:
        for sheet in evaluating_sheets(tried.attempt):
            said = _said(sheet, tried.skill)
            if len(said) >= _COPIED_MARKS and not tried.attempt.from_elsewhere:
                key = (tried.attempt.session, tried.attempt.skill, sheet.observer, said)
                found.setdefault(key, []).append(tried)
    for (session, skill, observer, said), own in found.items():
        students = list(dict.fromkeys(t.attempt.student for t in own))
        if len(students) >= _COPIED_STUDENTS:
            yield Finding(
                rule="same_marks",
                severity=Severity.LOOK,
                about=(session, skill, observer, _short(said)),
                sentence=f"{ground.session_words(session)}: {ground.name(observer)} gave {len(students)} students "
                f"the same {plural(len(said), 'mark')} that are not plain done at {ground.title(skill)}: "
                f"{listed([ground.name(student) for student in students])}.",
                figures=tuple(sorted(t.attempt.id for t in own)),
                evidence=tuple(Evidence("attempt", t.attempt.id) for t in own),
            )


def value_against_tick(ground: Ground) -> Iterator[Finding]:
    """A step is ticked as done, and the value beside it is outside the limit: the value counts."""
    for tried in ground.tried:
        void = tried.judged is None or tried.judged.outcome == Outcome.VOID
        for sheet in evaluating_sheets(tried.attempt) if not void else ():
            for reason in _ticked_outside(tried, sheet):
                ends = f" The value counts: {tried.judged.outcome.value}." if tried.judged and _ended(tried) else ""
                yield Finding(
                    rule="value_against_tick",
                    severity=Severity.DANGER if reason.critical else Severity.RULE,
                    about=(tried.attempt.id, sheet.id, reason.step),
                    sentence=f"{ground.attempt_words(tried)}: ticked done by {ground.name(sheet.observer)}, and the "
                    f"value written is outside its limit. {reason.sentence}{ends}",
                    figures=(
                        reason.step,
                        reason.error or "",
                        *(v.value for v in sheet.values if v.step == reason.step),
                    ),
                    evidence=(Evidence("attempt", tried.attempt.id),),
                )


def critical_open(ground: Ground) -> Iterator[Finding]:
    """A critical error stands in an attempt that nobody closed: it is in no standing yet. It is told at once."""
    for tried in ground.tried:
        if critical := _pending(tried):
            yield _open(ground, tried, "critical_open", Severity.DANGER, critical)


def not_closed(ground: Ground) -> Iterator[Finding]:
    """An attempt is still open though its session is over."""
    for tried in _left_open(ground):
        if not _pending(tried):
            yield _open(ground, tried, "not_closed", Severity.LOOK, ())


def corrections_disagree(ground: Ground) -> Iterator[Finding]:
    """Two live corrections of one thing disagree; somebody has to say which holds."""
    contested = [
        *(("attempt", t.attempt.id, ground.attempt_words(t), t.attempt.contested) for t in ground.tried),
        *(("session", s.id, ground.session_words(s.id), s.contested) for s in ground.sessions.values()),
        *(("course", ground.course.id, ground.course.title, c) for c in [ground.course.contested]),
        *(("person", p.id, ground.name(p.id), p.contested) for p in ground.persons.values()),
        *(("unit", u.id, u.label, u.contested) for u in ground.units.values()),
    ]
    for kind, thing, words, fields in contested:
        if fields:
            yield Finding(
                rule="corrections_disagree",
                severity=Severity.RULE,
                about=(thing,),
                sentence=f"{words}: corrections from two devices disagree about "
                f"{listed([name.replace('_', ' ') for name in fields])}. Settle it with a reason.",
                figures=tuple(fields),
                evidence=(Evidence(kind, thing),),  # type: ignore[arg-type]  # one of its words, spelled above
            )


def void_over_critical(ground: Ground) -> Iterator[Finding]:
    """An attempt with a critical error was closed as void."""
    for tried in _voided(ground):
        if not (tried.judged and tried.judged.void_lacks_second):
            yield _void(ground, tried, "void_over_critical", Severity.LOOK, "A second instructor agreed.")


def no_second_person(ground: Ground) -> Iterator[Finding]:
    """An exception that needs a second instructor has none: an attempt with a critical error closed as void by one."""
    for tried in _voided(ground):
        if tried.judged and tried.judged.void_lacks_second:
            yield _void(
                ground, tried, "no_second_person", Severity.RULE, "Nobody else agreed: a second person is missing."
            )


def foreign_setting(ground: Ground) -> Iterator[Finding]:
    """An attempt was made in a setting that its skill is not for; it does not count."""
    for tried in ground.tried:
        if tried.judged and tried.skill and not tried.judged.setting_fits:
            meant = listed([SETTING_WORDS[one] for one in tried.skill.setting], "or")
            yield Finding(
                rule="foreign_setting",
                severity=Severity.LOOK,
                about=(tried.attempt.id,),
                sentence=f"{ground.attempt_words(tried)}: seen in {SETTING_WORDS[tried.attempt.setting]}, and the "
                f"skill is for {meant}. It does not count.",
                figures=(tried.attempt.setting,),
                evidence=(Evidence("attempt", tried.attempt.id),),
            )


def session_withdrawn(ground: Ground) -> Iterator[Finding]:
    """A session was withdrawn, and attempts of it are still there: kept, with no hours behind them."""
    lost: dict[str, list[Tried]] = {}
    for tried in ground.tried:
        session = ground.sessions.get(tried.attempt.session)
        if (session is None or session.withdrawn) and not tried.attempt.withdrawn:
            lost.setdefault(tried.attempt.session, []).append(tried)
    for session_id, own in lost.items():
        day = short_day(min(tried.one.day for tried in own))
        yield Finding(
            rule="session_withdrawn",
            severity=Severity.RULE,
            about=(session_id,),
            sentence=f"A session of {day} was withdrawn, and {plural(len(own), 'attempt')} of it are kept: no hours, "
            "no ratio and no presence stand behind them.",
            figures=tuple(sorted(tried.attempt.id for tried in own)),
            evidence=tuple(Evidence("attempt", tried.attempt.id) for tried in own),
        )


# --- parts -----------------------------------------------------------------------------------------------------------


def _short(said: frozenset[str]) -> str:
    """A short name for what sheets say, however much it is."""
    return hashlib.sha256("\n".join(sorted(said)).encode()).hexdigest()[:16]


def _late_hours(ground: Ground, tried: Tried) -> int:
    """Whole hours from seeing to the last entry; 0 where that was no later than it had to be."""
    seen = tried.attempt.observed.moment
    could = max(seen, tried.one.session_start, ground.made_here or seen)
    if not tried.last_entered or tried.last_entered - could <= LATE or tried.attempt.from_elsewhere:
        return 0
    return int((tried.last_entered - seen).total_seconds()) // 3600


def _after(hours: int) -> str:
    return plural(hours, "hour") if hours < 72 else plural(hours // 24, "day")


def _seconds_there(ground: Ground, session: Session, student: str) -> int:
    parts = session_minutes([session], student, SpanRole(ground.profile.for_whom), now=ground.now)
    return sum(int(part.time.total_seconds()) for part in parts)


def _ended(tried: Tried) -> bool:
    return tried.attempt.ending is not None


def _takes_time(tried: Tried) -> bool:
    """One seen inside another's act takes no time of its own; one of elsewhere took it there."""
    attempt = tried.attempt
    return (
        attempt.within is None and not attempt.from_elsewhere and not attempt.withdrawn and attempt.ending is not None
    )


def _least_seconds(tried: Tried) -> int:
    if tried.skill is None or (tried.attempt.ending and tried.attempt.ending.how != Closing.COMPLETED):
        return LEAST_SECONDS
    sheets = tried.attempt.sheets
    return max(LEAST_SECONDS, sum(_step_seconds(step.id, step.limit, sheets) for step in _steps(tried)))


def _step_seconds(step: str, limit: Limit | None, sheets: Sequence[Sheet]) -> int:
    """The time that a step asks to be watched for, or the shorter one that is written beside it."""
    if limit is None or limit.at_least is None or limit.unit not in _UNIT_SECONDS:
        return 0
    own = [v.value for s in sheets for v in s.values if v.step == step and v.unit == limit.unit]
    written = [decimal_of(text) for text in own if is_decimal(text)]
    shortest = min([decimal_of(limit.at_least), *written])
    return max(0, int(shortest * _UNIT_SECONDS[limit.unit]))


def _steps(tried: Tried) -> Sequence[Step]:
    if tried.skill is None:
        return ()
    return tried.skill.steps if tried.one.features is None else tried.skill.steps_for(tried.one.features)


def _said(sheet: Sheet, skill: Skill | None) -> frozenset[str]:
    """What a sheet says besides plain "done" and "not seen", mark by mark; free notes are not compared.

    A value that is the limit itself, 60 s where 60 s are asked, says no more than "done": everybody writes it.
    """
    bounds = {(s.id, b) for s in (skill.steps if skill else ()) if s.limit for b in (s.limit.at_least, s.limit.at_most)}
    marks = {
        f"{line.step} {line.mark.value} {'+'.join(sorted(line.errors))}{' prompted' if line.prompted else ''}"
        for line in sheet.marks
        if line.mark not in (Mark.DONE, Mark.NOT_SEEN) or line.errors or line.prompted
    }
    values = {f"{v.step} {v.value} {v.unit}" for v in sheet.values if (v.step, v.value) not in bounds}
    return frozenset(marks | values)


def _ticked_outside(tried: Tried, sheet: Sheet) -> Iterator[Reason]:
    for step in (one for one in _steps(tried) if one.limit):
        reading = read_step(step, sheet, tried.attempt.joint)
        if reading.mark == Mark.DONE:
            yield from (reason for reason in reading.reasons if reason.what == "limit")


def _left_open(ground: Ground) -> Iterator[Tried]:
    for tried in ground.tried:
        session = ground.sessions.get(tried.attempt.session)
        if tried.attempt.ending is None and not tried.attempt.withdrawn and session and ground.is_over(session):
            yield tried


def _pending(tried: Tried) -> Sequence[Reason]:
    if tried.skill is None:
        return ()
    return pending_critical(tried.attempt, tried.skill, tried.one.features or frozenset(), tried.one.against)


def _open(ground: Ground, tried: Tried, rule: str, severity: Severity, critical: Sequence[Reason]) -> Finding:
    told = f" {' '.join(reason.sentence for reason in critical)}" if critical else ""
    return Finding(
        rule=rule,
        severity=severity,
        about=(tried.attempt.id,),
        sentence=f"{ground.attempt_words(tried)}: nobody closed it; while it is open it is in no standing.{told}",
        figures=tuple(sorted(f"{reason.step} {reason.error or ''}" for reason in critical)),
        evidence=(Evidence("attempt", tried.attempt.id),),
    )


def _voided(ground: Ground) -> Iterator[Tried]:
    return (tried for tried in ground.tried if tried.judged and tried.judged.void_over_critical)


def _void(ground: Ground, tried: Tried, rule: str, severity: Severity, second: str) -> Finding:
    reasons = tried.judged.critical_reasons if tried.judged else ()
    closed_by = ground.name(tried.attempt.ending.closed_by) if tried.attempt.ending else "somebody"
    return Finding(
        rule=rule,
        severity=severity,
        about=(tried.attempt.id,),
        sentence=f"{ground.attempt_words(tried)}: closed as void by {closed_by} over a critical error. "
        f"{' '.join(reason.sentence for reason in reasons)} {second}",
        figures=tuple(sorted(f"{reason.step} {reason.error or ''}" for reason in reasons)),
        evidence=(Evidence("attempt", tried.attempt.id),),
    )
