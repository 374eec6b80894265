"""Somebody of each role and office in the small centre, to try hostile input by each."""

from __future__ import annotations

from centre_builder import Centre

from course.access import Holder
from course.actions import accounts
from course.actions import centre as founding
from course.actions import courses as planning
from course.answers.accounts import account_of
from course.storage import passwords
from course.words import Office, Role

PASSWORD = "violet anchors rarely whistle"  # noqa: S105  (of these tests)
CHEAP = passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8)


def somebody(c: Centre, holder: Holder) -> str:
    """Return who has this role or office alone; they are entered where the small centre has nobody."""
    known: dict[Holder, str] = {
        Role.LEAD: c.lead, Role.INSTRUCTOR: c.second, Role.ASSISTANT: c.assistant, Role.CANDIDATE: c.candidate,
        Role.STUDENT: c.amaru,
    }  # fmt: skip
    if holder in known:
        return known[holder]
    if isinstance(holder, Office):
        if account_of(c.ledger, c.lead) is None:
            accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password=PASSWORD)
        return accounts.enter_for_office(
            c.ledger, c.lead, shown_as=f"Somebody, {holder}", name=str(holder), password=PASSWORD, offices=[holder]
        )
    entered = founding.add_person(c.ledger, c.lead, name="Odile Brandt", roles=[holder])
    planning.enrol(c.ledger, c.lead, c.course, entered, holder)
    return entered
