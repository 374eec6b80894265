"""Rules about who was where: two places at once, times that cannot be, the ratio, times without an end."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, Tried, moment_figure
from course.hours.overlaps import Overlap
from course.hours.ratio import STILL_THERE, Ratio, RatioBreak
from course.hours.ratio_attempts import attempts_inside
from course.hours.unit_time import WATER
from course.moments import Observed
from course.record.day_facts import WaterTime
from course.record.facts import Session
from course.words import SPAN_ROLE_WORDS, listed, plural

_NEAR = timedelta(minutes=1)
"""Times are entered to the minute: less is no contradiction."""


def double_booking(ground: Ground) -> Iterator[Finding]:
    """Somebody is entered in two places, or in two roles, at once; the time counts where they were first."""
    for one in ground.overlaps:
        same = (one.counts.place, one.counts.role) == (one.other.place, one.other.role)
        if not one.learns_and_teaches and not same:  # entered twice alike: counted once, and nothing contradicts
            what, where, first = _double_words(ground, one)
            sentence = (
                f"{_day_of(ground, one)}: {ground.name(one.person)} is in {what} "
                f"{ground.times(one.start, one.end)}, {_minutes(one.minutes)}: {where}. "
                f"The time counts where it began first, {first}."
            )
            yield _overlap(ground, one, "double_booking", Severity.RULE, sentence)


def impossible_presence(ground: Ground) -> Iterator[Finding]:
    """Somebody learns and teaches at once, is in the water before they came, or was seen where they were not."""
    for one in ground.overlaps:
        if one.learns_and_teaches:
            roles = listed([SPAN_ROLE_WORDS[p.role] for p in (one.counts, one.other)])
            sentence = (
                f"{_day_of(ground, one)}: {ground.name(one.person)} is entered as {roles} at once, "
                f"{ground.times(one.start, one.end)}, {_minutes(one.minutes)}. "
                "Nobody learns and teaches at the same time."
            )
            yield _overlap(ground, one, "impossible_presence", Severity.RULE, sentence)
    for session in ground.sessions.values():
        yield from _water_that_cannot_be(ground, session)
        yield from _seen_while_away(ground, session)


def ratio_break(ground: Ground) -> Iterator[Finding]:
    """A group had more students than its staff may have at that instant; attempts in it are flagged, not void."""
    for one in ground.breaks:
        attempts = attempts_inside((t.attempt for t in ground.tried), one, ground.entered)
        told = f"; {plural(len(attempts), 'attempt was', 'attempts were')} seen in it" if attempts else ""
        where = ground.place_words(one.place.session, one.place.group)
        yield Finding(
            rule="ratio_break",
            severity=Severity.DANGER if _alone_in_water(ground, one) else Severity.RULE,
            about=(one.place.session, one.place.group or "", moment_figure(one.start)),
            sentence=f"{where}: {_ratio_words(one.worst)}: {ground.times(one.start, one.end)}, "
            f"{_minutes(one.minutes)}{_why_broken(ground, one)}{told}.",
            figures=(
                *(moment_figure(at) for at in (one.start, one.end)),
                *(str(len(who)) for who in (one.worst.students, one.worst.instructors, one.worst.assistants)),
            ),
            evidence=(
                Evidence("session", one.place.session),
                *(Evidence("attempt", attempt.id, "seen during the break") for attempt in attempts),
            ),
            causes=tuple(
                _overlap_key(overlap) for overlap in ground.overlaps if _makes(overlap, one)
            ),
        )  # fmt: skip


def no_end(ground: Ground) -> Iterator[Finding]:
    """Nobody wrote down when somebody left a session that is over."""
    for session in ground.sessions.values():
        still = [span for span in session.spans if span.end is None]
        if still and ground.is_over(session):
            names = listed(list(dict.fromkeys(ground.name(span.person) for span in still)))
            verb = "has" if len({span.person for span in still}) == 1 else "have"
            yield Finding(
                rule="no_end",
                severity=Severity.LOOK,
                about=(session.id,),
                sentence=f"{ground.session_words(session.id)}: {names} {verb} no end of their time; it counts to the "
                f"planned end, {ground.clock(session.end.moment)}.",
                figures=tuple(sorted(span.id for span in still)),
                evidence=(Evidence("session", session.id),),
            )


# --- words and parts -------------------------------------------------------------------------------------------------


def _minutes(minutes: int) -> str:
    return f"{minutes} min" if minutes else "under a minute"


def _double_words(ground: Ground, one: Overlap) -> tuple[str, str, str]:
    """In two of what, which two, and where the time counts."""
    first, other = (ground.sessions[p.place.session].title for p in (one.counts, one.other))
    if one.counts.place == one.other.place:
        roles = [SPAN_ROLE_WORDS[p.role] for p in (one.counts, one.other)]
        return "two roles", f"{listed(roles)} in {first}", f"as {roles[0]}"
    return "two places", f"{first} and {other}" if first != other else f"two groups of {first}", f"in {first}"


def _alone_in_water(ground: Ground, one: RatioBreak) -> bool:
    session = ground.sessions.get(one.place.session)
    return not one.worst.instructors and session is not None and session.setting in WATER


def _overlap(ground: Ground, one: Overlap, rule: str, severity: Severity, sentence: str) -> Finding:
    sessions = dict.fromkeys((one.counts.place.session, one.other.place.session))
    return Finding(
        rule=rule,
        severity=severity,
        about=_overlap_about(one),
        sentence=sentence,
        figures=(moment_figure(one.start), moment_figure(one.end)),
        evidence=(Evidence("person", one.person), *(Evidence("session", session) for session in sessions)),
    )


def _overlap_about(one: Overlap) -> tuple[str, ...]:
    return (one.person, one.counts.place.session, one.other.place.session, moment_figure(one.start))


def _overlap_key(one: Overlap) -> str:
    rule = "impossible_presence" if one.learns_and_teaches else "double_booking"
    return "/".join((rule, *_overlap_about(one)))


def _makes(overlap: Overlap, one: RatioBreak) -> bool:
    """Whether a break is there since somebody of the staff counts in another place: it belongs under that."""
    return (
        overlap.person in one.elsewhere
        and overlap.other.place == one.place
        and overlap.start < one.end
        and one.start < overlap.end
    )


def _day_of(ground: Ground, one: Overlap) -> str:
    return ground.session_words(one.counts.place.session).partition(",")[0]


def _ratio_words(ratio: Ratio) -> str:
    """The ratio in words: "4 students to 1 instructor without assistant, limit 3"."""
    told = ratio.sentence.replace("; ", ", ")
    helps = ratio.rule is not None and ratio.rule.extra_with_assistant and not ratio.assistants
    return told.replace(", limit", " without assistant, limit", 1) if helps and ratio.instructors else told


def _why_broken(ground: Ground, one: RatioBreak) -> str:
    told = [
        f"{listed([ground.name(person) for person in people])} {what}"
        for people, what in ((one.left, "left"), (one.came, "came"), (one.elsewhere, "counted elsewhere"))
        if people
    ]
    return f"; {'; '.join(told)}" if told else ""


def _water_that_cannot_be(ground: Ground, session: Session) -> Iterator[Finding]:
    for water in session.water:
        why = _water_fault(session, water)
        if why:
            yield Finding(
                rule="impossible_presence",
                severity=Severity.RULE,
                about=(session.id, water.id),
                sentence=f"{ground.session_words(session.id)}: {ground.name(water.person)} {why}.",
                figures=_water_figures(water),
                evidence=(Evidence("session", session.id), Evidence("person", water.person)),
            )


def _water_figures(water: WaterTime) -> tuple[str, ...]:
    times = [moment_figure(one.moment) if one else "" for one in (water.entered, water.left)]
    return (str(water.loop_minutes), str(water.bailout_minutes), *times)


def _water_fault(session: Session, water: WaterTime) -> str:
    """What cannot be of a time in the water, or nothing."""
    minutes = water.loop_minutes + water.bailout_minutes
    if water.entered and water.left:
        there = (water.left.moment - water.entered.moment + _NEAR).total_seconds() // 60
        if minutes > there:
            return f"has {minutes} min on the loop and on bailout in {there - 1:.0f} min in the water"
    spans = [span for span in session.spans if span.person == water.person]
    if not spans:
        return ""
    came = min(span.start.moment for span in spans)
    gone = max(span.end.moment if span.end else STILL_THERE for span in spans)
    if water.entered and water.entered.moment + _NEAR < came:
        return f"is in the water at {water.entered.local:%H:%M}, before they came"
    if water.left and water.left.moment - _NEAR > gone:
        return f"leaves the water at {water.left.local:%H:%M}, after they had gone"
    return ""


def _seen_while_away(ground: Ground, session: Session) -> Iterator[Finding]:
    """Attempts seen while their student, or all who saw them, were entered as not there: one finding for each."""
    if not session.spans:
        return
    away: dict[str, list[Tried]] = {}
    for tried in ground.of_session(session.id):
        attempt = tried.attempt
        if attempt.from_elsewhere or attempt.withdrawn:
            continue
        observers = {sheet.observer for sheet in attempt.sheets}
        missing = [] if _there(session, attempt.student, attempt.observed) else [attempt.student]
        if observers and not any(_there(session, who, attempt.observed) for who in observers):
            missing += sorted(observers)
        for person in missing:
            away.setdefault(person, []).append(tried)
    for person, tries in away.items():
        entered = any(span.person == person for span in session.spans)
        told = listed(
            [f"{ground.title(t.attempt.skill)} at {ground.clock(t.attempt.observed.moment)}" for t in tries[:3]]
        )
        more = f" and {len(tries) - 3} more" if len(tries) > 3 else ""
        yield Finding(
            rule="impossible_presence",
            severity=Severity.RULE,
            about=(session.id, person),
            sentence=f"{ground.session_words(session.id)}: {ground.name(person)} "
            f"{'was not there by the times entered' if entered else 'has no time entered'} while "
            f"{plural(len(tries), 'attempt was', 'attempts were')} seen: {told}{more}.",
            figures=tuple(sorted(moment_figure(t.attempt.observed.moment) for t in tries)),
            evidence=(
                Evidence("session", session.id),
                Evidence("person", person),
                *(Evidence("attempt", t.attempt.id) for t in tries),
            ),
        )


def _there(session: Session, person: str, observed: Observed) -> bool:
    """Whether somebody was there by what was entered; nobody who has no end is known to have gone."""
    own = [span for span in session.spans if span.person == person]
    if observed.precision == "session":  # copied from a sheet that says no time: at some time in the session
        return bool(own)
    at = observed.moment
    return any(s.start.moment - _NEAR <= at and (s.end is None or at - _NEAR <= s.end.moment) for s in own)
