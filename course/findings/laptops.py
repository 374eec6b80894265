"""Rules about what two devices said of one thing without knowing of each other."""

from __future__ import annotations

from collections.abc import Iterator

from course.findings.finding import Evidence, Finding, Severity
from course.findings.ground import Ground
from course.moments import day_words
from course.record.facts import Attempt, Decision, Ending
from course.words import DecisionKind, listed


def closed_differently(ground: Ground) -> Iterator[Finding]:
    """Two devices closed one attempt in different ways; the one that lets it count holds until somebody looks."""
    for tried in ground.tried:
        held = tried.attempt.ending
        others = [one for one in tried.attempt.other_endings if held and _how(one) != _how(held)]
        if held and others:
            told = listed([f"as {one.how} by {ground.name(one.closed_by)}" for one in (held, *others)])
            yield Finding(
                rule="closed_differently",
                severity=Severity.RULE,
                about=(tried.attempt.id,),
                sentence=f"{ground.attempt_words(tried)}: two devices closed it, {told}. It counts as {held.how}; "
                "take back the one that is wrong.",
                figures=tuple(sorted(one.event for one in (held, *others))),
                evidence=(Evidence("attempt", tried.attempt.id),),
            )


def marked_differently(ground: Ground) -> Iterator[Finding]:
    """Two devices marked or amended one step of one sheet differently; the stricter counts until it is amended."""
    for tried in ground.tried:
        for sheet in tried.judged.sheets if tried.judged else ():
            for step in sheet.doubled:
                known = tried.skill.step(step) if tried.skill else None
                what = known.do.rstrip(".") if known else step
                yield Finding(
                    rule="marked_differently",
                    severity=Severity.RULE,
                    about=(tried.attempt.id, sheet.sheet, step),
                    sentence=f"{ground.attempt_words(tried)}: two devices say different things of the step "
                    f'"{what}" on the sheet of {ground.name(sheet.observer)}. The stricter counts; amend it once more, '
                    "with a reason.",
                    figures=_said(tried.attempt, sheet.sheet, step),
                    evidence=(Evidence("attempt", tried.attempt.id),),
                )


def withdrawn_unknowing(ground: Ground) -> Iterator[Finding]:
    """An attempt was withdrawn on one device while another went on with it; it counts for nobody."""
    for one in ground.withdrawn_apart:
        others = listed([ground.name(who) for who in dict.fromkeys(who for _, who in one.unknown)])
        yield Finding(
            rule="withdrawn_unknowing",
            severity=Severity.RULE,
            about=(one.tried.attempt.id,),
            sentence=f"{ground.attempt_words(one.tried)}: withdrawn by {ground.name(one.withdrawn_by)} on a device "
            f"that did not know what {others} entered or corrected of it on another. It counts for nobody; if it "
            "should, enter it anew.",
            figures=tuple(sorted(event for event, _ in one.unknown)),
            evidence=(Evidence("attempt", one.tried.attempt.id),),
        )


def signed_apart(ground: Ground) -> Iterator[Finding]:
    """One standing was decided on two devices, otherwise or on another record; the next decision settles both."""
    for decisions in ground.apart:
        first = decisions[0]
        told = listed([_decided(ground, one) for one in decisions])
        records = len({one.rests_on for one in decisions})
        yield Finding(
            rule="signed_apart",
            severity=Severity.RULE,
            about=tuple(sorted(one.id for one in decisions)),
            sentence=f"{ground.name(first.student)} · {ground.title(first.skill)}: {told}, on devices that did "
            f"not know of each other{' and on different records' if records > 1 else ''}. What holds "
            "back holds; look at the record as it is now and decide anew.",
            figures=tuple(sorted(one.rests_on for one in decisions)),
            evidence=tuple(Evidence("decision", one.id) for one in decisions),
        )


def _said(attempt: Attempt, sheet: str, step: str) -> tuple[str, ...]:
    """The events that say something of a step, by id."""
    sheets = [one for one in attempt.sheets if one.id == sheet]
    lines = [
        *((mark.event, mark.step) for one in sheets for mark in one.marks),
        *((value.event, value.step) for one in sheets for value in one.values),
        *((order.event, order.first_done) for one in sheets for order in one.orders),
    ]
    return tuple(sorted({event for event, of in lines if of == step}))


def _how(ending: Ending) -> tuple[str, str | None]:
    return ending.how, ending.stopped_by


def _decided(ground: Ground, one: Decision) -> str:
    verb = "signed" if one.decided == DecisionKind.AGREED else "held back"
    return f"{verb} by {ground.name(one.decided_by)} on {day_words(one.observed.local.date())}"
