"""What a shut gate refuses, each at its own stage: being enrolled, coming into a session, beginning there, signing.

Gates look forward: what happened is entered all the same, and told by the findings. Whoever is in the water already is
in the water, whatever paper is missing; a person decides, and the time is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from course.errors import RefusedError
from course.hours.gates import ShutGate, Stage, gates_ahead, left_on, shut_gates, shut_in, shut_words
from course.moments import Observed, day_words, now, zone_named
from course.record.facts import Course, Person, Session
from course.standards.profile import Profile
from course.storage.ledger import Ledger
from course.storage.lookup import adopted, needed
from course.words import Role

WHERE = "Note the paper on Gates once you have seen it."


def profile_of(ledger: Ledger, course: Course) -> Profile:
    """Return the requirements that a course is on.

    Raises:
        NotFoundError: the adopted rubrics have no such profile or revision.
    """
    return adopted(ledger, course.adoption).standards.profile(course.profile, course.revision)


def refuse_enrolment(ledger: Ledger, course: Course, person: Person, role: Role) -> None:
    """Refuse to enrol a learner while the gate of enrolment is shut.

    It is asked about on the course's first day; once that is past, a paper that was seen since opens the gate too.

    Raises:
        RefusedError: told which papers are missing.
    """
    profile = profile_of(ledger, course)
    if role != Role(profile.for_whom):
        return
    first, today = date.fromisoformat(course.first_day), now().astimezone(zone_named(course.zone)).date()
    days: dict[Stage, tuple[date, ...]] = {"enrolment": (first,)}
    states = gates_ahead(person, course.id, profile, days, max(first, today))
    _refuse([state.shut for state in states if state.shut], "This person is not put on the course.")


def shut_at_the_door(ledger: Ledger, course: Course, session: Session, person: str) -> str:
    """Return why a learner does not come into a session, as sentences; empty where nothing holds them back."""
    fact = needed(ledger, Person, person, "person")
    if (left := left_on(fact, course.id)) is not None:
        return f"They left the course on {day_words(left)}. Note on Gates that they came back first."
    return shut_words(shut_in(session, fact, course, profile_of(ledger, course)))


def refuse_at_the_door(ledger: Ledger, course: Course, session: Session, person: str) -> None:
    """Refuse to let a learner into a session whose gate is shut for them.

    Raises:
        RefusedError: told which papers are missing and where they are noted.
    """
    if told := shut_at_the_door(ledger, course, session, person):
        raise RefusedError(f"This person is not signed in to {session.title}. {told} {WHERE} Nothing was changed.")


def refuse_unsigned(ledger: Ledger, course: Course, session: Session, student: str, observed: Observed) -> None:
    """Refuse to begin an attempt of a learner whom a gate keeps out and whom nobody has signed in.

    Whoever is signed in is marked, whatever is missing; and so is what is entered after the session.

    Raises:
        RefusedError: told which papers are missing.
    """
    if observed.moment >= session.end.moment or any(span.person == student for span in session.spans):
        return
    if told := shut_at_the_door(ledger, course, session, student):
        raise RefusedError(
            f"{session.title}: this student is not signed in. {told} {WHERE} If they are there all the same, sign them "
            "in on Today first. It was NOT saved."
        )


def refuse_signing(course: Course, profile: Profile, person: Person, day: date) -> None:
    """Refuse to sign for a student for whom the gate of sign-off is shut.

    Raises:
        RefusedError: told which papers are missing.
    """
    _refuse(shut_gates(person, course.id, profile, "signoff", day), "Nothing is signed for this student.")


def _refuse(shut: Sequence[ShutGate], what: str) -> None:
    if shut:
        raise RefusedError(f"{what} {shut_words(shut)} {WHERE} Nothing was changed.")
