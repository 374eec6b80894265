"""Sign-off of one student on one course: every line met or short by, who assessed and who decides, and every issue.

What is signed is frozen by a hash over every line. A sign-off is never changed: it is taken back with a reason, and the
next issue names it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from course.access import Sight
from course.answers.after_signing import found_after_signing
from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words
from course.answers.decisions import HELD, STALE, assessors_of, evidence, is_stale, signed_word
from course.answers.exceptions import ExceptionState, counted_hash, exception_states, exceptions_taken_back, rule_of
from course.answers.marking import deciders
from course.answers.missing import StudentMissing, student_counts, student_hours, student_missing
from course.asker import question
from course.assessment.sentences import standing_sentence
from course.hours.requirements import Count, Hours
from course.moments import training_day
from course.record.chain import content_hash
from course.record.signing_facts import SignOff
from course.standards.field_labels import SIGNER_WORDS
from course.standards.rubric import Skill
from course.standards.units import applies
from course.storage.ledger import Ledger
from course.words import Role, listed, plural

_NAMED = 3


@dataclass(frozen=True)
class RuleLine:
    """One line of the requirements."""

    rule: str
    what: str
    met: bool
    words: str
    """ "met", by how much it is short, or "by exception"."""
    signed: str = ""
    """What a person did about a skill: signed, held back, or nothing."""


@dataclass(frozen=True)
class IssueLine:
    """One sign-off as it stands now."""

    id: str
    issue: int
    stands: bool
    """Neither taken back nor followed by another issue."""
    older: bool
    """It stands, and the record is another one than it was signed on."""
    sentence: str


@dataclass(frozen=True)
class SignOffSheet:
    """All that whoever signs a student off has to see."""

    student: str
    name: str
    day: date
    lines: tuple[RuleLine, ...]
    to_do: tuple[str, ...]
    """What stands in the way; empty when it can be signed off."""
    exceptions: tuple[ExceptionState, ...]
    exceptions_back: tuple[str, ...]
    """Those that were taken back, as sentences."""
    rests_on: str
    assessors: tuple[str, ...]
    """Ids of those who saw the attempts that count."""
    assessed: str
    """Who assessed how much, as a sentence."""
    issues: tuple[IssueLine, ...]

    @property
    def rules_met(self) -> int:
        """How many lines are met, by themselves or by exception."""
        return sum(line.met for line in self.lines)

    @property
    def standing_issue(self) -> IssueLine | None:
        """The issue that stands, if there is one."""
        return next((one for one in reversed(self.issues) if one.stands), None)


@question(Sight.READY)
def sign_off_sheet(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> SignOffSheet:
    """Return what a sign-off of a student would rest on, and what stands in its way."""
    state = student_missing(seen, student, as_of)
    lines = _lines(seen, student, as_of, state)
    seen_by = _assessed(seen, student, as_of)
    return SignOffSheet(
        student=student,
        name=seen.name(student),
        day=as_of,
        lines=lines,
        to_do=(*state.requirements.short, *_unsigned(lines), *_lost(seen, student, as_of)),
        exceptions=exception_states(ledger, seen, student, as_of, state.requirements.counted),
        exceptions_back=exceptions_taken_back(ledger, seen, student, state.requirements.counted),
        rests_on=hash_of_all(seen, student, last_known(seen, student, as_of)),
        assessors=tuple(sorted({who for people in seen_by.values() for who in people})),
        assessed=_assessed_words(seen, seen_by),
        issues=tuple(issue_line(ledger, seen, one) for one in issues_of(seen, student)),
    )


@question(Sight.READY)
def issues_of(seen: CourseView, student: str) -> tuple[SignOff, ...]:
    """Return every issue of a student, in order."""
    return tuple(one for one in seen.sign_offs if one.student == student)


@question(Sight.READY)
def live_issues(seen: CourseView, student: str) -> tuple[SignOff, ...]:
    """Return the issues that stand: more than one only where two laptops did not know of each other."""
    own = issues_of(seen, student)
    replaced = {earlier for one in own for earlier in one.replaces}
    return tuple(one for one in own if not (one.taken_back or one.withdrawn) and one.id not in replaced)


@question(Sight.READY)
def is_older(seen: CourseView, one: SignOff) -> bool:
    """Whether the record is another one now than a sign-off rests on, by whatever day the change is of."""
    return hash_now(seen, one) != one.rests_on


def hash_now(seen: CourseView, one: SignOff) -> str:
    """Return the hash over every line of now that a sign-off of its day would rest on."""
    return hash_of_all(seen, one.student, last_known(seen, one.student, _day(one)))


def last_known(seen: CourseView, student: str, as_of: date) -> date:
    """Return the day up to which a sign-off looks: its own, or the last on which the student tried or was there.

    So nothing that happened after the day that a page shows is signed over, and what happens later makes it older.
    """
    days = [as_of]
    for (who, _), found in seen.by_student_and_skill.items():
        days += [of.day for of in found if who == student]
    for session in seen.sessions.values():
        people = {*(span.person for span in session.spans), *(water.person for water in session.water)}
        days += [training_day(session.start)] if student in people else []
    return max(days)


def lost_since(seen: CourseView, student: str, skill: Skill, as_of: date) -> str:
    """Say how a skill that is held on a day stands by what was tried later; empty while it is held."""
    since = max((one.day for one in seen.seen(student, skill) if one.day > as_of), default=None)
    if since is None or seen.standing(student, skill, as_of).state not in HELD:
        return ""
    later = seen.standing(student, skill, since)
    if later.state in HELD:
        return ""
    return f"tried again on {day_words(since)}, and since then: {standing_sentence(later, skill).rstrip('.')}"


def alone(seen: CourseView, student: str, decider: str, as_of: date) -> tuple[Skill, ...]:
    """Return the skills that whoever decides alone assessed: nobody else looked."""
    seen_by = _assessed(seen, student, as_of)
    return tuple(skill for skill in _required(seen, student, as_of) if seen_by[skill.id] == {decider})


@question(Sight.READY)
def apart_words(seen: CourseView, student: str, decider: str, as_of: date) -> str:
    """Say whether assessor and decider are two people, or in how many skills they are one."""
    required, own = _required(seen, student, as_of), alone(seen, student, decider, as_of)
    name = seen.name(decider)
    if not own:
        return f"{name} decided; in every skill somebody else assessed too."
    which = f": {', '.join(skill.title for skill in own)}" if len(own) <= _NAMED else ""
    of = plural(len(required), "required skill")
    return f"Assessor and decider are one person, {name}, in {len(own)} of {of}{which}."


def sign_off_lines(ledger: Ledger, seen: CourseView, student: str) -> tuple[str, ...]:
    """Return the history of a student's sign-off as sentences, the first issue first."""
    return tuple(issue_line(ledger, seen, one).sentence for one in issues_of(seen, student))


def sign_off_state(seen: CourseView, student: str) -> str:
    """Say in a few words whether a student is signed off now; empty while no issue was ever signed."""
    issues, live = issues_of(seen, student), live_issues(seen, student)
    if not issues:
        return ""
    if not live:
        return "None in force: what was signed was taken back"
    last = live[-1]
    older = ", signed on an older record" if is_older(seen, last) else ""
    open_ = [SIGNER_WORDS[role] for role in still_to_sign(seen, last)]
    return f"Issue {last.issue} in force{older}{f', still to sign: {listed(open_)}' if open_ else ''}"


def exception_lines(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> tuple[str, ...]:
    """Return the exceptions made for a student as sentences: those that do not count say why, the taken back last."""
    counted = student_missing(seen, student, as_of).requirements.counted if seen.exceptions else ()
    now = [one.sentence for one in exception_states(ledger, seen, student, as_of, counted)]
    return (*now, *exceptions_taken_back(ledger, seen, student, counted))


def _required(seen: CourseView, student: str, as_of: date) -> list[Skill]:
    unit_type = seen.unit_type_of(student, as_of)
    return [skill for skill in seen.skills() if seen.is_required(skill) and applies(skill, unit_type)]


def _lines(seen: CourseView, student: str, as_of: date, state: StudentMissing) -> tuple[RuleLine, ...]:
    by_skill = {one.skill: one for one in state.requirements.skills}
    found = []
    for skill in _required(seen, student, as_of):
        one, signed = by_skill[skill.id], signed_word(seen, student, skill, as_of)
        met = one.held or one.excused
        found.append(RuleLine(rule_of(skill), skill.title, met, one.line, signed))
    for counted in state.requirements.counted:
        if counted.required:
            short = f"short by {counted.short_by}" if counted.short_by else "met"
            words = "by exception" if counted.excused else short
            words += f", {counted.elsewhere} of {counted.total} from elsewhere" if counted.elsewhere else ""
            found.append(RuleLine(rule_of(counted), counted.what, not counted.is_short, words))
    papers = state.requirements.papers_short
    found += [RuleLine("papers", "exam and papers", not papers, "; ".join(papers) or "met")]
    return tuple(found)


def _unsigned(lines: tuple[RuleLine, ...]) -> list[str]:
    """Skills that are held and that nobody signed as they are, and those that somebody holds back."""
    open_, back = [], []
    for line in lines:
        if line.rule.startswith("skill:") and line.met and line.signed == "held back":
            back.append(f"{line.what}: held back by an instructor")
        elif line.rule.startswith("skill:") and line.met and line.signed != "signed" and line.words != "by exception":
            open_.append(f"{line.what}: {line.signed}" if line.signed == STALE else line.what)
    told = [f"not signed as met yet: {listed(open_)}"] if 0 < len(open_) <= _NAMED else []
    told += [f"{plural(len(open_), 'standing')} not signed as met yet"] if len(open_) > _NAMED else []
    return [*told, *back]


def _lost(seen: CourseView, student: str, as_of: date) -> list[str]:
    told = {skill.title: lost_since(seen, student, skill, as_of) for skill in _required(seen, student, as_of)}
    return [f"{title}: {words}" for title, words in told.items() if words]


def hash_of_all(seen: CourseView, student: str, as_of: date) -> str:
    """Return the hash over every line: evidence of each skill with what people did, minutes, counts and the exam.

    Papers are left out: from a hash over them a doctor's no could be guessed.
    """
    state = student_missing(seen, student, as_of).requirements
    skills = [
        [skill.id, evidence(seen, skill, seen.standing(student, skill, as_of)),
         signed_word(seen, student, skill, as_of)]
        for skill in _required(seen, student, as_of)
    ]  # fmt: skip
    excused = sorted(one.skill for one in state.skills if one.excused)
    hours = [[one.kind, one.minutes, one.elsewhere, one.required or 0, one.excused] for one in state.hours]
    counts = [[one.kind, one.have, one.elsewhere, one.required, one.each, one.excused] for one in state.counts]
    exam = [state.exam.exam.id if state.exam.exam else "", len(state.exam.gaps)]
    profile = [seen.profile.id, seen.profile.revision]
    return content_hash([profile, skills, excused, hours, counts, exam])


def _assessed(seen: CourseView, student: str, as_of: date) -> dict[str, set[str]]:
    """By required skill, who saw the attempts that count."""
    required = _required(seen, student, as_of)
    return {skill.id: assessors_of(seen.standing(student, skill, as_of)) for skill in required}


def _assessed_words(seen: CourseView, seen_by: dict[str, set[str]]) -> str:
    people = {who for some in seen_by.values() for who in some}
    counts = {seen.name(who): sum(who in some for some in seen_by.values()) for who in people}
    told = [f"{name} ({plural(count, 'skill')})" for name, count in sorted(counts.items())]
    return f"Assessed by {listed(told)}." if told else "Nobody assessed anything that counts yet."


@question(Sight.READY)
def issue_line(ledger: Ledger, seen: CourseView, one: SignOff) -> IssueLine:
    """Return one sign-off as it stands now."""
    stands = one in live_issues(seen, one.student)
    older = stands and is_older(seen, one)
    told = [_signed_words(ledger, seen, one), apart_words(seen, one.student, one.signed_by, _day(one))]
    told += _beside_words(ledger, seen, one)
    if one.exceptions:
        told.append(f"{plural(len(one.exceptions), 'exception')} stood in for what was short.")
    told += [_back_words(ledger, seen, one)] if one.taken_back else []
    told += ["A later issue took its place."] if not (stands or one.taken_back) else []
    told += [f"The record has changed since: {STALE}.", *_found_since(ledger, seen, one)] if older else []
    return IssueLine(one.id, one.issue, stands, older, " ".join(told))


def _found_since(ledger: Ledger, seen: CourseView, one: SignOff) -> list[str]:
    """What was entered, amended or taken away since, skill by skill, where it is about a skill."""
    day = last_known(seen, one.student, _day(one))
    told = []
    for skill in _required(seen, one.student, day):
        decision = seen.decision(one.student, skill, day)
        if decision and is_stale(seen, decision, skill, day):
            found = found_after_signing(ledger, seen, decision, skill, day)
            told += [f"{skill.title}: {'; '.join(found)}"] if found else []
    return [f"Found after sign-off: {'. '.join(told)}."] if told else []


def _day(one: SignOff) -> date:
    return date.fromisoformat(one.as_of)


def _signed_words(ledger: Ledger, seen: CourseView, one: SignOff) -> str:
    told = f"Issue {one.issue}: signed off by {seen.name(one.signed_by)} on {day_words(one.observed.local.date())}"
    told += f", as of {day_words(_day(one))}{confirmed_words(one.confirmed_with)}."
    reason = ledger.private(one).get("reason")
    return f"{told} {str(reason).rstrip('.')}." if reason else told


@question(Sight.READY)
def still_to_sign(seen: CourseView, one: SignOff) -> tuple[str, ...]:
    """Return whose signature the requirements ask for that an issue does not have yet."""
    signed = {"lead_instructor", *(other.role for other in one.countersigned)}
    return tuple(role for role in seen.profile.sign_by if role not in signed)


@question(Sight.READY)
def who_signs(seen: CourseView) -> dict[str, str]:
    """Who may sign an issue, id to name: the lead alone where the requirements ask for the lead's own signature."""
    alone = "lead_instructor" in seen.profile.sign_by
    return {one: name for one, name in deciders(seen).items() if not alone or one in seen.course.people(Role.LEAD)}


@question(Sight.READY)
def who_signs_too(seen: CourseView, student: str, role: str) -> dict[str, str]:
    """Who may sign the issue that stands besides, id to name: nobody signs it twice; initials are taken by anybody."""
    live = live_issues(seen, student)
    signed = signers_of(live[-1]) if live and role != "student" else frozenset()
    return {one: name for one, name in deciders(seen).items() if one not in signed}


def signers_of(one: SignOff) -> frozenset[str]:
    """Return who signed an issue, in whichever office; whoever only took the student's initials did not."""
    return frozenset({one.signed_by, *(other.by for other in one.countersigned if other.role != "student")})


@question(Sight.READY)
def still_asked(seen: CourseView, student: str) -> tuple[str, ...]:
    """Return whose signature is still asked for under the issue of a student that stands."""
    return next((still_to_sign(seen, one) for one in reversed(live_issues(seen, student))), ())


@question(Sight.READY)
def exception_rules(seen: CourseView, sheet: SignOffSheet) -> dict[str, tuple[str, str, str]]:
    """Return the lines that an exception could be proposed to: what it is, how it is short, what it would rest on."""
    done = {(one.rule, one.rests_on) for one in sheet.exceptions}
    found = {}
    for line in sheet.lines:
        rests_on = "" if line.met else _line_hash(seen, sheet, line.rule)
        if rests_on and (line.rule, rests_on) not in done:
            found[line.rule] = (line.what, line.words, rests_on)
    return found


def _line_hash(seen: CourseView, sheet: SignOffSheet, rule: str) -> str:
    kind, _, name = rule.partition(":")
    if kind == "skill":
        skill = seen.adopted.skill(name)
        return evidence(seen, skill, seen.standing(sheet.student, skill, sheet.day))
    hours, counts = student_hours(seen, sheet.student, sheet.day), student_counts(seen, sheet.student, sheet.day)
    counted: list[Hours | Count] = [*hours, *counts]
    return next((counted_hash(one) for one in counted if rule_of(one) == rule), "")


def _beside_words(ledger: Ledger, seen: CourseView, one: SignOff) -> list[str]:
    by_event = ledger.private(one).get("by_event", {})
    told = []
    for other in one.countersigned:
        initials = by_event.get(other.event, {}).get("initials")
        day, word = day_words(other.observed.local.date()), SIGNER_WORDS[other.role]
        who, how = seen.name(other.by), confirmed_words(other.confirmed_with)
        if other.role == "student":
            told.append(f"Initials of the student on {day}: {initials or 'erased'}, taken by {who}{how}.")
        else:
            told.append(f"Signed too by {who}, {word}, on {day}{how}.")
    open_ = [] if one.taken_back else [SIGNER_WORDS[role] for role in still_to_sign(seen, one)]
    return [*told, *([f"Still to sign: {listed(open_)}."] if open_ else [])]


def _back_words(ledger: Ledger, seen: CourseView, one: SignOff) -> str:
    word = one.taken_back[0]
    reason = ledger.private(one).get("by_event", {}).get(word.event, {}).get("reason")
    why = f": {str(reason).rstrip('.')}" if reason else ""
    how = confirmed_words(word.confirmed_with)
    return f"Taken back by {seen.name(word.by)} on {day_words(word.observed.local.date())}{how}{why}."
