"""The course file: who was on a course, its sessions, minutes, ratios, papers, findings with answers, and decisions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from course.access import Sight
from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.answers.days import day_words, days_words, weekday_words
from course.answers.decisions import STALE, decision_detail
from course.answers.elsewhere import elsewhere_lines
from course.answers.filed_paper import (
    COURSE_FILE,
    FiledLine,
    FiledPaper,
    FiledSection,
    as_of_label,
    sessions_until,
)
from course.answers.findings import ShownFinding, course_findings
from course.answers.gate_view import gates_answer
from course.answers.hours import HOURS_NOTE, NO_UNIT, HoursAnswer, hours
from course.answers.missing import student_missing
from course.answers.oxygen import ExposureLine, oxygen
from course.answers.sign_off import exception_lines, sign_off_lines
from course.asker import question
from course.findings.finding import Severity
from course.hours.groups import groups_of
from course.moments import training_day
from course.record.facts import Decision, Session
from course.storage.ledger import Ledger
from course.words import RECORD_NOTE, ROLE_WORDS, SETTING_WORDS, DecisionKind, Role, listed, plural

CAUTION = f"{RECORD_NOTE} Confidential: for whoever leads the course and whoever audits the centre."
PAPERS_NOTE = "What was shown and by whom it was seen; of a medical paper never more than whether the door is open."


@question(Sight.FILED_FILE)
def course_file(ledger: Ledger, seen: CourseView, as_of: date) -> FiledPaper:
    """Return everything of one course for the file, as of one day."""
    told = hours(seen, as_of)
    return FiledPaper(
        kind=COURSE_FILE,
        centre=seen.centre.name,
        about=seen.course.title,
        sentence=told.sentence,
        facts=(
            ("Course", f"{seen.course.title}, {days_words(date.fromisoformat(seen.course.first_day), seen.last_day)}"),
            ("Requirements", f"{seen.profile.title}, revision {seen.profile.revision}. {seen.profile.notice}"),
            ("As of", as_of_label(seen, as_of)),
        ),
        sections=(
            _roster(seen, as_of),
            _sessions(seen, as_of),
            minutes_section(told),
            oxygen_section(seen, as_of),
            _requirements(seen, told, as_of),
            _ratios(told),
            _papers(seen, as_of),
            _findings(ledger, seen, as_of),
            decisions_section(ledger, seen, as_of, seen.students),
        ),
        caution=CAUTION,
        head=seen.head,
        asked=(("course", seen.course.id), ("as_of", as_of.isoformat())),
    )


def _roster(seen: CourseView, as_of: date) -> FiledSection:
    order = list(Role)
    members = sorted(seen.course.members, key=lambda member: order.index(member.role))
    lines = [
        FiledLine(
            " · ".join(filter(None, (ROLE_WORDS[one.role], seen.unit_words(one.person, as_of)))), seen.name(one.person)
        )
        for one in members
    ]
    return FiledSection("Who was on the course", tuple(lines), nothing="Nobody is on this course yet.")


def _sessions(seen: CourseView, as_of: date) -> FiledSection:
    lines = tuple(_session(seen, seen.sessions[one]) for one in sessions_until(seen, as_of))
    return FiledSection("Sessions", lines, nothing="No session up to this day.")


def _session(seen: CourseView, session: Session) -> FiledLine:
    day = training_day(session.start)
    there = dict.fromkeys(span.person for span in session.spans)
    parts = [
        SETTING_WORDS[session.setting],
        session.place or "",
        f"{session.start.local:%H:%M} to {session.end.local:%H:%M}",
        listed(list(groups_of(session).values())),
        f"there: {listed([seen.name(person) for person in there])}" if there else "nobody was signed in",
        f"frozen {plural(len(session.incidents), 'time')}" if session.incidents else "",
    ]
    label = f"{weekday_words(day)} {day_words(day)}"
    return FiledLine(", ".join(filter(None, parts)), session.title, label, critical=bool(session.incidents))


def minutes_section(told: HoursAnswer) -> FiledSection:
    """Return everybody's whole minutes in three columns, as the Hours page has them."""
    lines = [FiledLine(one.role, one.name, figures=(str(one.session), str(one.loop), str(one.bailout)))
             for one in told.totals]  # fmt: skip
    lines += [
        FiledLine(
            f"{'' if one.label == NO_UNIT else 'unit, '}{plural(one.times, 'time')} in water",
            one.label,
            figures=("", str(one.loop), str(one.bailout)),
        )
        for one in told.units
    ]
    note = " ".join((HOURS_NOTE, *told.notes))
    return FiledSection("Minutes", tuple(lines), note, "No minutes are written down.", ("session", "loop", "bailout"))


def oxygen_section(seen: CourseView, as_of: date, people: Sequence[str] | None = None) -> FiledSection:
    """Return each day in the water of each student and instructor, or of some people, as the Hours page has it."""
    answer = oxygen(seen, as_of, people)
    lines = [_exposure(one) for one in answer.lines]
    note = " ".join(
        (
            answer.sentence,
            *answer.unwritten,
            *answer.cautions,
            f"Valid: {answer.validity}.",
            f"Source: {answer.source}.",
        )
    )
    captions = ("CNS, one", "CNS, 24 h", "OTU, 24 h")
    return FiledSection("Oxygen exposure", tuple(lines), note if lines else "", answer.sentence, captions)


def _exposure(one: ExposureLine) -> FiledLine:
    over = f" Over: {'; '.join(one.over)}." if one.over else " Past the table's limit." if one.past_table else ""
    text = f"{one.minutes} min at {one.set_points}.{over} {one.reason}".rstrip()
    figures = (one.cns_single, one.cns_24h, one.otu_24h.removesuffix(" OTU"))
    return FiledLine(text, one.name, one.day, figures, critical=bool(one.over) or one.past_table)


def _requirements(seen: CourseView, told: HoursAnswer, as_of: date) -> FiledSection:
    lines = []
    for one in told.students:
        state = student_missing(seen, one.student, as_of)
        bars = "; ".join(f"{bar.word} {bar.words}" for bar in one.bars)
        lines.append(FiledLine(f"{'; '.join(filter(None, (state.counts, *state.papers, bars)))}.", one.name))
    return FiledSection("Requirements met, or short by", tuple(lines), nothing="Nobody learns on this course yet.")


def _ratios(told: HoursAnswer) -> FiledSection:
    lines = []
    for one in told.breaks:
        inside = f" Under way in it: {'; '.join(one.attempts)}. Flagged, not void." if one.attempts else ""
        lines.append(FiledLine(f"{one.words}{inside}", one.where, critical=True))
    return FiledSection("Breaks of the ratio", tuple(lines), nothing="No break of the ratio.")


def _papers(seen: CourseView, as_of: date) -> FiledSection:
    """One line a paper and state with everybody of whom it is so, then what is one person's own."""
    answer = gates_answer(seen, as_of)
    whose: dict[str, list[str]] = {}
    for one in answer.students:
        for words in dict.fromkeys(gate.words for stage in one.stages for gate in stage.gates):
            whose.setdefault(words.rstrip("."), []).append(one.name)
    lines = [FiledLine(f"{listed(names)}.", f"{words}:") for words, names in whose.items()]
    for one in answer.students:
        own = [f"age: {one.age}", *one.adjustments, *([one.left] if one.left else [])]
        lines.append(FiledLine("; ".join(part.rstrip(".") for part in own) + ".", one.name))
    lines += [FiledLine(tie, "Noted tie:") for tie in answer.interests]
    return FiledSection("Papers seen", tuple(lines), PAPERS_NOTE, "Nobody learns on this course yet.")


def _findings(ledger: Ledger, seen: CourseView, as_of: date) -> FiledSection:
    answer = course_findings(ledger, seen, as_of)
    lines = [line for one in answer.findings for line in _finding(one)]
    lines += [FiledLine(text, "Answered, and found no more:") for text in answer.gone]
    note = " ".join((answer.sentence, *answer.notes, answer.caution))
    return FiledSection("Findings and answers", tuple(lines), note)


def _finding(one: ShownFinding) -> list[FiledLine]:
    follow = f" {plural(len(one.follow), 'other follows', 'others follow')} from it." if one.follow else ""
    text = f"{one.sentence}{follow} {one.state.capitalize()}."
    danger = one.severity == Severity.DANGER and not one.answered
    lines = [FiledLine(text, f"{one.severity.value.capitalize()}.", one.code, critical=danger)]
    lines += [
        FiledLine(answer.sentence, "Earlier answer:" if answer.replaced else "Answer:", label=" ")
        for answer in one.answers
    ]
    return lines


def decisions_section(ledger: Ledger, seen: CourseView, as_of: date, students: Sequence[str]) -> FiledSection:
    """Return what people decided on the standings of some students; plain signatures of one day are told together."""
    lines = [line for student in students for line in _decisions(ledger, seen, student, as_of)]
    lines += [line for student in students for line in _signed(ledger, seen, student, as_of)]
    return FiledSection("Decisions", tuple(lines), nothing="Nobody has decided on a standing yet.")


def _signed(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> list[FiledLine]:
    """Every issue of the sign-off, exceptions, and what was accepted from elsewhere."""
    told = (
        *sign_off_lines(ledger, seen, student),
        *exception_lines(ledger, seen, student, as_of),
        *elsewhere_lines(ledger, seen, student),
    )
    return [FiledLine(one, seen.name(student), critical=STALE in one) for one in told]


def _decisions(ledger: Ledger, seen: CourseView, student: str, as_of: date) -> list[FiledLine]:
    together: dict[str, list[str]] = {}
    alone = []
    for skill in seen.skills():
        one = decision_detail(ledger, seen, student, skill, as_of)
        if one is None:
            continue
        if one.decided == DecisionKind.AGREED and not one.stale and not one.reason:
            together.setdefault(one.sentence.rstrip("."), []).append(skill.title)
        else:
            alone.append(FiledLine(f"{skill.title}: {one.sentence}", seen.name(student), critical=one.stale))
    earlier = _earlier(ledger, seen, student)
    joined = [
        FiledLine(f"{told}, {plural(len(titles), 'skill')}: {'; '.join(titles)}.", seen.name(student))
        for told, titles in together.items()
    ]
    return [*joined, *alone, *earlier]


def _earlier(ledger: Ledger, seen: CourseView, student: str) -> list[FiledLine]:
    """Decisions whose place a later one took: they stay to be read."""
    own: list[Decision] = [one for one in seen.decisions if one.student == student]
    replaced = {earlier for one in own for earlier in one.replaces}
    lines = []
    for one in own:
        if one.id in replaced:
            what = "held back" if one.decided == DecisionKind.STRICTER else "signed as met"
            told = f"{seen.title_of(one.skill)}: {what} by {seen.name(one.decided_by)} on "
            told += day_words(one.observed.local.date()) + confirmed_words(one.confirmed_with)
            if reason := ledger.private(one).get("reason"):
                told += f": {str(reason).rstrip('.')}"
            told += "; a later one took its place."
            lines.append(FiledLine(told, seen.name(student)))
    return lines
