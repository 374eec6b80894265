"""Run a day and end it: roll calls, the site plan, closing sessions, closing the day with a checkpoint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from course.access import Act
from course.actions.drafting import allow, body, draft, told
from course.actions.presence import people_out
from course.answers.centre_keys import paper_key
from course.answers.course_view import CourseView, view
from course.answers.day_end import TabletWaiting, day_end
from course.answers.day_state import open_incidents, sessions_on
from course.answers.days import day_words
from course.answers.roll_call import When, has_to_answer, leaving_together, still_in_water
from course.errors import RefusedError
from course.moments import Observed, new_id
from course.record.day_facts import Incident
from course.record.events import (
    CheckpointMade,
    CheckpointSigned,
    KnownHead,
    RollCalled,
    SessionClosed,
    SessionReopened,
    SitePlanned,
)
from course.record.facts import Session
from course.storage.ledger import Ledger
from course.storage.lookup import needed
from course.words import listed, plural


@dataclass(frozen=True)
class Called:
    """A roll that was called, and who did not answer it."""

    roll: str
    missing: tuple[str, ...]
    sentence: str
    alarm: bool
    """Somebody who was in did not answer."""


@dataclass(frozen=True)
class Left:
    """Who left together, in words."""

    sentence: str
    alarm: bool
    """Somebody is missing, and did not leave."""


def call_roll(
    ledger: Ledger,
    actor: str,
    session: str,
    *,
    when: When,
    present: Sequence[str],
    observed: Observed,
    missing: Sequence[str] = (),
) -> Called:
    """Note who answered; coming out, everybody who went in and did not answer is missing, named or not.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: somebody is said to be present and missing, or is not in the centre; or nobody was called.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    seen = view(ledger, fact.course)
    expected = () if when == "going_in" else has_to_answer(fact, when)
    lacking = tuple(dict.fromkeys([*missing, *(p for p in expected if p not in present)]))
    _refuse_odd_roll(seen, tuple(present), lacking, expected)
    content = body(
        RollCalled, session=session, roll=new_id(), when=when, present=tuple(dict.fromkeys(present)), missing=lacking,
        observed=observed,
    )  # fmt: skip
    ledger.append([draft(actor, content)])
    sentence = _roll_sentence(seen, when, content.present, lacking)
    return Called(content.roll, lacking, sentence, alarm=bool(lacking) and when != "going_in")


def everyone_left(ledger: Ledger, actor: str, session: str, observed: Observed) -> Left:
    """Note that everybody who is in left at this moment; not who is missing: nobody may look as if they had come out.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: nobody is in who could leave, somebody came later than that, the time is still to come, or the
            session is closed; nothing was changed.
    """
    allow(ledger, actor, Act.RUN_DAY)
    fact = needed(ledger, Session, session, "session")
    seen = view(ledger, fact.course)
    gone, stay = leaving_together(fact)
    if not gone:
        raise RefusedError(f"{fact.title}: nobody is in who could leave. Nothing was changed.")
    people_out(ledger, actor, session, [span.id for span in gone], observed)
    names = listed(list(dict.fromkeys(seen.name(span.person) for span in gone)))
    mend = "A wrong time is mended on Hours, in this session."
    if not stay:
        return Left(f"Left at {observed.local:%H:%M}: {names}. {mend}", alarm=False)
    missing = listed([seen.name(person) for person in stay])
    return Left(f"Left at {observed.local:%H:%M}: {names}. STILL MISSING: {missing}. {mend}", alarm=True)


def plan_site(ledger: Ledger, actor: str, sessions: Sequence[str], *, emergency: str | None, plan: str | None) -> None:
    """Write what stands on the day sheet for an emergency; for each session it takes the place of what stood there.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: both texts are empty, or one cannot be kept as it is.
    """
    allow(ledger, actor, Act.RUN_DAY)
    if not (emergency or "").strip() and not (plan or "").strip():
        raise RefusedError("Write whom to call, or the plan of the place. Nothing was changed.")
    known = [needed(ledger, Session, session, "session") for session in dict.fromkeys(sessions)]
    ledger.append(
        [
            draft(
                actor,
                body(
                    SitePlanned, session=fact.id, emergency=emergency or None, plan=plan or None,
                    replaces=fact.site_plans,
                ),
            )
            for fact in known
        ]
    )  # fmt: skip


def close_session(ledger: Ledger, actor: str, session: str, observed: Observed) -> None:
    """Close a session: nothing more is entered for it. A frozen one ends so for good once something is written of it.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: it is closed already, somebody is still in the water, or it is frozen and nobody wrote what
            happened.
    """
    allow(ledger, actor, Act.CLOSE)
    fact = needed(ledger, Session, session, "session")
    held = open_incidents(fact)
    if fact.closed_at is not None and not held:
        raise RefusedError(f"{fact.title} is closed already. Nothing was changed.")
    if held and not all(_is_told(ledger, fact, incident) for incident in held):
        raise RefusedError(
            f"{fact.title} is frozen. Write what happened as an incident note first, then close it. "
            "Nothing was changed."
        )
    _refuse_in_water(view(ledger, fact.course), [] if held else [fact])
    ledger.append([draft(actor, body(SessionClosed, session=session, observed=observed))])


def _refuse_in_water(seen: CourseView, sessions: Sequence[Session]) -> None:
    """A session that is closed looks as if everybody were out; a frozen one is told of in its incident instead."""
    for fact in sessions:
        inside = still_in_water(fact)
        if inside:
            names = listed([seen.name(person) for person in inside])
            raise RefusedError(
                f"{fact.title}: {names} {'is' if len(inside) == 1 else 'are'} not out by this record. Sign out who "
                "left and call the roll coming out; then close it. Nothing was changed."
            )


def reopen_session(ledger: Ledger, actor: str, session: str, why: str, observed: Observed) -> None:
    """Let a closed session take entries again, with a reason.

    Raises:
        NotFoundError: there is no such session.
        RefusedError: it is not closed, or no reason is given.
    """
    allow(ledger, actor, Act.CLOSE)
    fact = needed(ledger, Session, session, "session")
    if fact.closed_at is None:
        raise RefusedError(f"{fact.title} is not closed. Nothing was changed.")
    content = body(SessionReopened, session=session, observed=observed, why=told(why))
    ledger.append([draft(actor, content)])


def close_day(
    ledger: Ledger,
    actor: str,
    course: str,
    day: date,
    observed: Observed,
    *,
    shown_open: int,
    tablets: Sequence[TabletWaiting] = (),
    note: str | None = None,
) -> str:
    """Close the day's sessions and make the checkpoint, in one append; return the checkpoint's id.

    The checkpoint names every head that this database knew before these events, its own chain's among them. Where the
    centre's key is on this machine it is signed.

    Args:
        shown_open: how many open things the person was shown; they may stay open, and their number is kept.
        tablets: tablets with waiting marks, as shown.

    Raises:
        RefusedError: the day has no session; one is frozen; somebody is in the water of one that is still on; or
            other things are open than were shown.
    """
    allow(ledger, actor, Act.CLOSE)
    seen = view(ledger, course)
    sessions = sessions_on(seen, day)
    if not sessions:
        raise RefusedError(f"There is no session on {day_words(day)}: nothing to close. Nothing was changed.")
    _refuse_frozen(sessions)
    _refuse_in_water(seen, [s for s in sessions if s.closed_at is None and observed.moment < s.end.moment])
    left = day_end(ledger, seen, day, tablets).still_open
    if left != shown_open:
        raise RefusedError(
            f"The list changed since it was shown: {plural(left, 'thing is', 'things are')} open now, {shown_open} "
            "were shown. Look at it again; nothing was changed."
        )
    closing = [body(SessionClosed, session=s.id, observed=observed) for s in sessions if s.closed_at is None]
    heads = tuple(KnownHead(chain=h.chain, seq=h.seq, hash=h.hash) for h in ledger.heads() if h.seq)
    checkpoint = body(
        CheckpointMade, checkpoint=new_id(), course=course, day=day.isoformat(), heads=heads, still_open=left,
        note=note or None,
    )  # fmt: skip
    signed = _signed(ledger, checkpoint)
    ledger.append([draft(actor, content) for content in (*closing, signed)])
    return checkpoint.checkpoint


def _signed(ledger: Ledger, made: CheckpointMade) -> CheckpointMade:
    """Signed by the centre's key; as it is where no key is at hand, as on a laptop without one."""
    key = paper_key(ledger)
    if key is None:
        return made
    return CheckpointSigned(**dict(made), public=key.public, signed=key.sign(made.said(ledger.centre_id)))


def _refuse_odd_roll(
    seen: CourseView, present: tuple[str, ...], missing: tuple[str, ...], expected: tuple[str, ...]
) -> None:
    if not present and not missing:
        raise RefusedError("Nobody was called. Tap who is here, then save the roll. Nothing was changed.")
    if both := [person for person in present if person in missing]:
        names = listed([seen.name(person) for person in both])
        raise RefusedError(f"{names}: present and missing at once. Say one of them. Nothing was changed.")
    if any(person not in seen.people and person not in expected for person in (*present, *missing)):
        raise RefusedError("Somebody who is not in this centre was called. Reload the page. Nothing was changed.")


def _roll_sentence(seen: CourseView, when: When, present: tuple[str, ...], missing: tuple[str, ...]) -> str:
    answered = f"{plural(len(present), 'person', 'people')} answered"
    if not missing:
        return f"{answered}, nobody is missing."
    names = listed([seen.name(person) for person in missing])
    if when == "going_in":
        return f"{answered}; not here: {names}."
    return f"MISSING: {names}. {answered}."


def _refuse_frozen(sessions: Sequence[Session]) -> None:
    frozen = [session.title for session in sessions if open_incidents(session)]
    if frozen:
        raise RefusedError(
            f"{listed(frozen)} {'is' if len(frozen) == 1 else 'are'} frozen. The lead or an instructor lets it go on "
            "with a reason, or writes what happened and closes it; then the day can be closed. Nothing was changed."
        )


def _is_told(ledger: Ledger, session: Session, incident: Incident) -> bool:
    """Whether anything is written of an incident: with the freezing, or as a note."""
    own = ledger.private(session).get("by_event", {}).get(incident.event, {})
    return bool(incident.lines or own.get("note"))
