"""Hours of a course: everybody's minutes in three columns, each student against the requirements, breaks of the ratio.

Session time comes from spans and is a union for each person; minutes on the loop and on bailout are those that were
written down in water. Every other page and paper takes its minutes from the same function.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from course.access import Sight
from course.answers.course_view import CourseView
from course.answers.days import as_of_words, day_words, weekday_words
from course.answers.missing import student_counts, student_hours
from course.answers.ratios import break_words, clock, ratio_terms
from course.asker import question
from course.hours.groups import groups_of
from course.hours.minutes import PersonMinutes, person_minutes
from course.hours.overlaps import Overlap, overlaps
from course.hours.ratio import Presence, RatioBreak, presences, ratio_breaks
from course.hours.ratio_attempts import attempts_inside
from course.hours.requirements import KIND_WORDS, Count, Hours
from course.hours.unit_time import unit_minutes
from course.moments import now, training_day
from course.record.facts import Attempt, Session
from course.words import EXAMPLE_NOTE, SPAN_ROLE_WORDS, SpanRole, listed, plural

_EXCUSED = ", let be by exception"
_COUNT_WORDS = {
    "pool_sessions": ("pool session", "under water"),
    "open_water_dives": ("open-water dive", "under water"),
    "training_days": ("training day", ""),
}
HOURS_NOTE = (
    "Session time is a union of each person's own time, never a sum of overlapping times, and true elapsed time over a "
    "change of the clocks. Minutes on the loop and on bailout are those written down in water."
)


@dataclass(frozen=True)
class Bar:
    """One requirement of one student: how much there is of how much is asked."""

    kind: str
    word: str
    have: int
    required: int
    words: str
    """ "498 of 523 min: short by 25 min" """
    elsewhere: int = 0
    """How much of `have` a lead accepted from another centre."""

    @property
    def short_by(self) -> int:
        """How much is missing; 0 where it is met."""
        return max(0, self.required - self.have)


@dataclass(frozen=True)
class StudentBars:
    """One student against the requirements."""

    student: str
    name: str
    bars: tuple[Bar, ...]

    @property
    def short(self) -> tuple[Bar, ...]:
        """What is short."""
        return tuple(bar for bar in self.bars if bar.short_by)

    @property
    def sentence(self) -> str:
        """The finding: what is short, or that nothing is."""
        if not self.bars:
            return f"{self.name}: the requirements ask for no minutes."
        told = [f"{bar.word} {bar.words.partition(': ')[2]}" for bar in self.short]
        return f"{self.name}: {'; '.join(told)}." if told else f"{self.name}: everything that is asked for is there."


@dataclass(frozen=True)
class Totals:
    """Three columns of one person in one role, with the same by kind. All are whole minutes."""

    person: str
    name: str
    role: str
    session: int
    loop: int
    bailout: int
    kinds: tuple[tuple[str, int, int, int], ...]
    """(kind in words, session, loop, bailout)"""


NO_UNIT = "no unit written"


@dataclass(frozen=True)
class UnitTotals:
    """Minutes in water of one unit, whoever dived it."""

    label: str
    loop: int
    bailout: int
    times: int


@dataclass(frozen=True)
class BreakLine:
    """One break of the ratio in a group, and the attempts that were under way in it: flagged, not void."""

    session: str
    group: str | None
    start: datetime
    end: datetime
    minutes: int
    where: str
    """ "Thu 22 Oct, Pool 1, P" """
    words: str
    attempts: tuple[str, ...]
    attempt_ids: tuple[str, ...]
    folded: bool
    """Made by a double booking, under which it belongs."""

    @property
    def sentence(self) -> str:
        """Where, and what."""
        return f"{self.where}: {self.words}"


@dataclass(frozen=True)
class HoursAnswer:
    """Hours of a course, as of one day."""

    course: str
    as_of: str
    sentence: str
    students: tuple[StudentBars, ...]
    totals: tuple[Totals, ...]
    units: tuple[UnitTotals, ...]
    breaks: tuple[BreakLine, ...]
    notes: tuple[str, ...]
    """Who was in two places, whose time has no end, attempts of a session that was withdrawn."""
    cautions: tuple[str, ...]

    @property
    def anything(self) -> bool:
        """Whether something is short or a ratio was broken."""
        return bool(self.breaks) or any(student.short for student in self.students)

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        plain = asdict(self)
        for one in plain["breaks"]:
            one["start"], one["end"] = one["start"].isoformat(), one["end"].isoformat()
        return plain

    def text(self) -> str:
        """The answer in lines."""
        lines = [f"{self.course}, as of {self.as_of}", "", self.sentence]
        for student in self.students:
            lines += ["", student.name, *(f"  {bar.word}: {bar.words}" for bar in student.bars)]
        lines += ["", "Minutes: session, on the loop, on bailout"]
        lines += [f"  {t.name}, {t.role}: {t.session}, {t.loop}, {t.bailout}" for t in self.totals]
        lines += [f"  Unit {u.label}: {u.loop} on the loop, {u.bailout} on bailout" for u in self.units]
        for one in self.breaks:
            lines += ["", f"Ratio: {one.sentence}", *(f"  in it: {attempt}" for attempt in one.attempts)]
        return "\n".join([*lines, *(["", *self.notes] if self.notes else []), "", *self.cautions])


@question(Sight.HOURS)
def hours(seen: CourseView, as_of: date, people: Sequence[str] | None = None) -> HoursAnswer:
    """Return the hours of a course.

    Args:
        seen: the course.
        as_of: training days after this one are left out.
        people: whose; None: everybody's. Breaks of the ratio are of those only in whose group they were.
    """
    chosen = tuple(people) if people is not None else tuple(seen.students)
    students = tuple(student_bars(seen, student, as_of) for student in chosen if student in seen.students)
    breaks = course_breaks(seen, as_of, people)
    return HoursAnswer(
        course=seen.course.title,
        as_of=as_of_words(as_of, seen.last_day, seen.today()),
        sentence=_sentence(students, breaks) if people is None else _sentence_of(students, breaks),
        students=students,
        totals=_totals(seen, as_of, people),
        units=_units(seen, as_of) if people is None else (),
        breaks=breaks,
        notes=_notes(seen, as_of, people),
        cautions=(HOURS_NOTE, EXAMPLE_NOTE, seen.profile.notice),
    )


@question(Sight.HOURS)
def student_bars(seen: CourseView, student: str, as_of: date) -> StudentBars:
    """Return one student's minutes and counts against the requirements."""
    bars = [
        Bar(h.kind, h.word, h.total, h.required, _minutes_words(h, h.required), h.elsewhere)
        for h in student_hours(seen, student, as_of)
        if h.required is not None
    ]
    bars += [_count_bar(one) for one in student_counts(seen, student, as_of)]
    return StudentBars(student, seen.name(student), tuple(bars))


def _minutes_words(hours: Hours, required: int) -> str:
    state = f"short by {hours.short_by} min{_EXCUSED if hours.excused else ''}" if hours.short_by else "met"
    return f"{hours.total} of {required} min{_from_elsewhere(hours)}: {state}"


def _from_elsewhere(one: Hours | Count) -> str:
    return f", of them {one.elsewhere} from elsewhere" if one.elsewhere else ""


def _count_bar(count: Count) -> Bar:
    noun, where = _COUNT_WORDS[count.kind]
    each = f" of at least {count.each} min {where}".rstrip() if count.each else ""
    excused = _EXCUSED if count.excused else ""
    state = f"short by {plural(count.short_by, noun)}{excused}" if count.short_by else "met"
    words = f"{count.total} of {count.required}{each}{_from_elsewhere(count)}: {state}"
    return Bar(count.kind, f"{noun}s", count.total, count.required, words, count.elsewhere)


def _totals(seen: CourseView, as_of: date, people: Sequence[str] | None) -> tuple[Totals, ...]:
    """A line for each role that somebody was there in; learners first."""
    everybody = dict.fromkeys([*seen.students, *(member.person for member in seen.course.members)])
    found = []
    for person in everybody if people is None else people:
        roles = {span.role for session in seen.sessions.values() for span in session.spans if span.person == person}
        wet = any(water.person == person for session in seen.sessions.values() for water in session.water)
        if not roles and wet:
            roles = {SpanRole(seen.profile.for_whom)}
        for role in (role for role in SpanRole if role in roles):
            minutes = person_minutes(seen.sessions.values(), person, role, as_of, now())
            found.append(_total(seen, person, role, minutes))
    return tuple(found)


def _total(seen: CourseView, person: str, role: SpanRole, minutes: PersonMinutes) -> Totals:
    kinds = tuple(
        (word, minutes.session.get(kind, 0), minutes.loop.get(kind, 0), minutes.bailout.get(kind, 0))
        for kind, word in KIND_WORDS.items()
        if kind in minutes.session or kind in minutes.loop
    )
    return Totals(
        person, seen.name(person), SPAN_ROLE_WORDS[role], minutes.session_total, minutes.loop_total,
        minutes.bailout_total, kinds,
    )  # fmt: skip


def _units(seen: CourseView, as_of: date) -> tuple[UnitTotals, ...]:
    labels = {unit.id: unit.label for unit in seen.units.values()}
    found = [
        UnitTotals(labels.get(one.unit or "", NO_UNIT), one.loop, one.bailout, one.times)
        for one in unit_minutes(seen.course, seen.sessions.values(), as_of)
    ]
    return tuple(sorted(found, key=lambda one: one.label))


# --- ratio ---------------------------------------------------------------------------------------------------------


@question(Sight.HOURS)
def course_breaks(
    seen: CourseView, as_of: date, people: Sequence[str] | None = None, *, folded: bool = False
) -> tuple[BreakLine, ...]:
    """Return every break of the ratio on a course, the earliest first.

    Args:
        seen: the course.
        as_of: training days after this one are left out.
        people: only breaks in which one of these was among the students.
        folded: also those that a double booking makes, and that belong under it.
    """
    told = _until(seen, as_of)
    rules, met = ratio_terms(seen, told)
    entered = presences(told)
    found = [one for one in ratio_breaks(entered, rules, now(), met) if folded or not one.elsewhere]
    wanted = [one for one in found if people is None or set(people) & set(one.worst.students)]
    return tuple(break_line(seen, one, entered) for one in wanted)


def break_line(seen: CourseView, one: RatioBreak, entered: Iterable[Presence]) -> BreakLine:
    """Return a break in words, with the attempts inside it."""
    session = seen.sessions[one.place.session]
    day = training_day(session.start)
    where = [f"{weekday_words(day)} {day_words(day).rsplit(' ', 1)[0]}", session.title]
    if one.place.group is not None:
        where.append(groups_of(session).get(one.place.group, "no group"))
    inside = attempts_inside(seen.attempts, one, entered)
    return BreakLine(
        session=session.id,
        group=one.place.group,
        start=one.start,
        end=one.end,
        minutes=one.minutes,
        where=", ".join(where),
        words=break_words(seen, one),
        attempts=tuple(_attempt_words(seen, attempt) for attempt in inside),
        attempt_ids=tuple(attempt.id for attempt in inside),
        folded=bool(one.elsewhere),
    )


def _attempt_words(seen: CourseView, attempt: Attempt) -> str:
    skill = seen.adopted.standards.skills.get(attempt.skill)
    title = skill.title if skill else attempt.skill
    return f"{attempt.observed.local:%H:%M} {seen.name(attempt.student)} · {title} · attempt {attempt.number}"


# --- what does not fit ---------------------------------------------------------------------------------------------


def double_bookings(seen: CourseView, as_of: date) -> tuple[Overlap, ...]:
    """Return every time in which somebody was entered twice at once on this course, the earliest first."""
    return overlaps(presences(_until(seen, as_of)))


def overlap_words(seen: CourseView, one: Overlap) -> str:
    """A double booking in words: "Bruno is in two places 16:30 to 17:00, 30 min: Pool 3 counts, where he was first"."""
    first, other = (seen.sessions[presence.place.session].title for presence in (one.counts, one.other))
    when = f"{clock(seen, one.start)} to {clock(seen, one.end)}, {one.minutes} min"
    day = day_words(training_day(seen.sessions[one.counts.place.session].start)).rsplit(" ", 1)[0]
    roles = f"{SPAN_ROLE_WORDS[one.counts.role]} and {SPAN_ROLE_WORDS[one.other.role]} at once"
    what = roles if one.learns_and_teaches else f"in two places, {first} and {other}"
    return f"{seen.name(one.person)} is {what}, {day} {when}: the time counts in {first}, which began first."


def _notes(seen: CourseView, as_of: date, people: Sequence[str] | None) -> tuple[str, ...]:
    told = [overlap_words(seen, one) for one in double_bookings(seen, as_of) if people is None or one.person in people]
    for session in _until(seen, as_of):
        still = dict.fromkeys(
            s.person for s in session.spans if s.end is None and (people is None or s.person in people)
        )
        if still and session.end.moment <= now():
            names = listed([seen.name(person) for person in still])
            verb = "has" if len(still) == 1 else "have"
            told.append(
                f"{names} {verb} no end in {session.title}: counted to its planned end, {session.end.local:%H:%M}."
            )
    if (lost := [a for a in seen.attempts if a.session not in seen.sessions]) and people is None:
        told.append(f"{plural(len(lost), 'attempt')} of a session that was withdrawn: kept, with no hours behind.")
    accepted = dict.fromkeys(
        one.student for one in seen.arrivals if one.accepted and one.student in (people or seen.students)
    )
    if accepted:
        names = listed([seen.name(person) for person in accepted])
        told.append(f"What the lead accepted from elsewhere for {names} is in the bars and not in these minutes.")
    return tuple(told)


def _until(seen: CourseView, as_of: date) -> list[Session]:
    return [session for session in seen.sessions.values() if training_day(session.start) <= as_of]


def _sentence_of(students: Sequence[StudentBars], breaks: Sequence[BreakLine]) -> str:
    """For people who were named: it speaks of them alone, never of the whole course."""
    told = [one.sentence if one.short else f"{one.name} is short of nothing." for one in students]
    if not told:
        return "Whoever was asked for does not learn on this course."
    if breaks:
        return f"{' '.join(told)} {_breaks_words(breaks)}"
    names, verb = listed([one.name for one in students]), "was" if len(students) == 1 else "were"
    return f"{' '.join(told)} No break of the ratio while {names} {verb} there."


def _sentence(students: Sequence[StudentBars], breaks: Sequence[BreakLine]) -> str:
    short = [student for student in students if student.short]
    first = short[0].sentence if len(short) == 1 else ""
    if len(short) > 1:
        first = f"{plural(len(short), 'student')} are short: {listed([student.name for student in short])}."
    first = first or ("Nobody is short of minutes or counts." if students else "Nobody learns on this course yet.")
    if not breaks:
        return f"{first} No break of the ratio."
    return f"{first} {_breaks_words(breaks)}"


def _breaks_words(breaks: Sequence[BreakLine]) -> str:
    worst = max(breaks, key=lambda one: one.minutes)
    often = "once" if len(breaks) == 1 else f"{len(breaks)} times, the longest"
    return f"The ratio was broken {often}: {worst.sentence}"
