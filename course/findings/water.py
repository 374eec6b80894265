"""Rules about units and the water: on hold, out of date, a planted fault still out, deeper than is allowed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal

from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground, Tried, moment_figure, short_day
from course.hours.unit_time import HeldTime, in_force, lapsed_days, last_filling
from course.moments import day_words, training_day
from course.physics.gas import SLACK
from course.physics.result import Side, rounded
from course.record.facts import Unit
from course.words import CARE_WORDS, Care, SlipKind, listed, plural


def held_unit(ground: Ground) -> Iterator[Finding]:
    """A unit was booked in the water while it was on hold. One finding for each unit and session, whoever dived it."""
    found: dict[tuple[str, str], list[HeldTime]] = {}
    for held in ground.held:
        if held.start <= ground.now:  # what is planned ahead can still be changed: pages about units tell it
            found.setdefault((held.booking.unit, held.booking.session), []).append(held)
    for (unit, session), own in found.items():
        people = listed(list(dict.fromkeys(ground.name(held.booking.person) for held in own)))
        times = _joined(own)
        title = ground.sessions[session].title
        attempts = [tried for tried in ground.of_session(session) if _marked_on(tried, unit, times)]
        told = f" {plural(len(attempts), 'attempt was', 'attempts were')} marked on it; they stand." if attempts else ""
        yield Finding(
            rule="held_unit",
            severity=Severity.DANGER,
            about=(unit, session),
            sentence=f"{ground.units[unit].label} booked while on hold, {_day(ground, session)} "
            f"{listed([ground.times(*one) for one in times])}, {title}: {people}.{told}",
            figures=(
                *(moment_figure(one) for pair in times for one in pair),
                *sorted({held.booking.person for held in own}),
            ),
            evidence=(
                Evidence("unit", unit, "its holds"),
                Evidence("session", session),
                *(Evidence("attempt", t.attempt.id, "marked on this unit") for t in attempts),
            ),
        )


def lapsed_unit(ground: Ground) -> Iterator[Finding]:
    """A unit was in the water on a day on which its service or its cells were out of date."""
    days: dict[str, dict[date, set[str]]] = {}
    for booking in ground.booked:
        session = ground.sessions[booking.session]
        if session.start.moment <= ground.now:
            days.setdefault(booking.unit, {}).setdefault(training_day(session.start), set()).add(session.id)
    for unit_id, own in days.items():
        unit = ground.units.get(unit_id)
        for what in (Care.SERVICE, Care.CELLS):
            lapsed = lapsed_days(unit, what, sorted(own)) if unit else ()
            if unit and lapsed:
                yield _lapsed(unit, what, lapsed, sorted({s for day in lapsed for s in own[day]}))


def fault_left(ground: Ground) -> Iterator[Finding]:
    """A planted fault is still in a unit though its session is over."""
    for slip in ground.slips:
        session = ground.sessions.get(slip.session)
        if slip.how == SlipKind.PLANTED and slip.cleared is None and not slip.withdrawn and session and slip.unit:
            if not ground.is_over(session):
                continue
            unit = ground.units.get(slip.unit)
            yield Finding(
                rule="fault_left",
                severity=Severity.DANGER,
                about=(slip.id,),
                sentence=f"{unit.label if unit else 'A unit'}: a fault planted {ground.session_words(session.id)} "
                "is not cleared. The unit stays on hold until it is, and its whole list is passed again.",
                figures=(slip.observed.utc,),
                evidence=(Evidence("unit", slip.unit), Evidence("session", session.id)),
            )


def too_deep(ground: Ground) -> Iterator[Finding]:
    """Somebody went deeper than the requirements let them."""
    for session in ground.sessions.values():
        for water in session.water:
            limit = ground.depth_limits.get((session.id, water.person))
            if water.max_depth_m is not None and limit is not None and Decimal(water.max_depth_m) > limit:
                yield Finding(
                    rule="too_deep",
                    severity=Severity.DANGER,
                    about=(session.id, water.id),
                    sentence=f"{ground.session_words(session.id)}: {ground.name(water.person)} went to "
                    f"{water.max_depth_m} m, {limit} m allowed by the requirements.",
                    figures=(water.max_depth_m, str(limit)),
                    evidence=(Evidence("session", session.id), Evidence("person", water.person)),
                )


def filling_over(ground: Ground) -> Iterator[Finding]:
    """A scrubber filling was longer on the loop than the minutes that the centre wrote beside it."""
    for unit_id, used in ground.filling_minutes.items():
        unit = ground.units[unit_id]
        filling = last_filling(unit)
        if filling and filling.good_minutes is not None and used > filling.good_minutes:
            yield Finding(
                rule="filling_over",
                severity=Severity.DANGER,
                about=(unit_id, filling.id),
                sentence=f"{unit.label}: its scrubber filling of {short_day(filling.observed.local.date())} has {used} "
                f"min on the loop, {used - filling.good_minutes} more than the {filling.good_minutes} written beside "
                "it. Pre-breathe and surface time are not in it.",
                figures=(str(used), str(filling.good_minutes)),
                evidence=(Evidence("unit", unit_id),),
            )


def oxygen_over(ground: Ground) -> Iterator[Finding]:
    """Somebody's oxygen exposure in 24 hours was more than the requirements' own limit."""
    rule = ground.profile.oxygen
    for one in ground.exposures:
        parts = []
        if rule and rule.cns_percent_24h and one.cns_24h is not None and one.cns_24h > rule.cns_percent_24h + SLACK:
            parts.append((f"{rounded(one.cns_24h, Side.UP, 1):.1f} % of the 24 h limit", f"{rule.cns_percent_24h} %"))
        if rule and rule.otu_24h and one.otu_24h is not None and one.otu_24h > rule.otu_24h + SLACK:
            parts.append((f"{rounded(one.otu_24h, Side.UP, 1):.1f} OTU", f"{rule.otu_24h} OTU"))
        if parts:
            told = listed([f"{value}, {most} asked at most" for value, most in parts])
            told += f"; held: {'; '.join(one.changes)}" if one.changes else ""
            told += f"; {one.assumed_minutes} min at an assumed set point" if one.assumed_minutes else ""
            yield Finding(
                rule="oxygen_over",
                severity=Severity.DANGER,
                about=(one.person, one.day.isoformat()),
                sentence=f"{ground.name(one.person)} had in the 24 hours to {short_day(one.day)} {told}.",
                figures=(*(text for pair in parts for text in pair), *one.changes, str(one.assumed_minutes)),
                evidence=(
                    Evidence("person", one.person),
                    *(
                        Evidence("session", session.id)
                        for session in ground.sessions.values()
                        if training_day(session.start) == one.day and any(w.person == one.person for w in session.water)
                    ),
                ),
            )


def _lapsed(unit: Unit, what: Care, lapsed: tuple[date, ...], sessions: list[str]) -> Finding:
    care = [in_force(unit, what, day) for day in lapsed]
    ends = sorted({date.fromisoformat(one.good_until) for one in care if one and one.good_until})
    last = listed([day_words(day) for day in ends])
    were = "were" if what == Care.CELLS else "was"
    return Finding(
        rule="lapsed_unit",
        severity=Severity.DANGER,
        about=(unit.id, what.value),
        sentence=f"{unit.label} was in the water on {listed([short_day(day) for day in lapsed])}, and its "
        f"{CARE_WORDS[what]} {were} good until {last}. Think of a hold; attempts on it stand.",
        figures=tuple(day.isoformat() for day in (*lapsed, *ends)),
        evidence=(Evidence("unit", unit.id, f"its {CARE_WORDS[what]}"), *(Evidence("session", s) for s in sessions)),
    )


def _joined(own: list[HeldTime]) -> list[tuple[datetime, datetime]]:
    """The times of some bookings on hold, those that touch or overlap joined into one."""
    joined: list[tuple[datetime, datetime]] = []
    for start, end in sorted((held.start, held.end) for held in own):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return joined


def _marked_on(tried: Tried, unit: str, times: list[tuple[datetime, datetime]]) -> bool:
    """Whether an attempt was marked on a unit in these times; one that says no time of its own is taken to be in."""
    attempt = tried.attempt
    if attempt.unit != unit or attempt.from_elsewhere:
        return False
    at = attempt.observed.moment
    return attempt.observed.precision == "session" or any(start <= at < end for start, end in times)


def _day(ground: Ground, session: str) -> str:
    return short_day(training_day(ground.sessions[session].start))
