"""The small centre with an account for every role and office, and its door without a server."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from asgi_call import Reply, call
from centre_builder import Centre, build_centre, shipped_standards
from starlette.applications import Starlette

from course.access import TABLE, Holder
from course.actions import accounts
from course.actions import centre as founding
from course.actions import courses as planning
from course.actions.pad import take
from course.answers.accounts import account_of
from course.answers.pad import state_now
from course.screens import door, serve, slate_route
from course.screens.sessions import Sessions, grounds
from course.storage import passwords
from course.storage.entrance import Entrance, Strength
from course.words import Office, Role

PASSWORD, PIN = "as long as it is", "4711"
OURS = {"origin": "http://localhost:8571", "sec-fetch-site": "same-origin"}
PAD = {**OURS, "content-type": "application/json", "x-course": "pad"}


@dataclass
class SignedCentre:
    """A centre whose people sign in, by the role or office that each of them has alone."""

    ids: Centre
    sessions: Sessions
    people: dict[Holder, str]

    @property
    def app(self) -> Any:
        """Our own routes behind the door."""
        return door.Door(Starlette(routes=[*serve.routes(), *slate_route.routes()]), sessions=self.sessions)

    @contextmanager
    def served(self) -> Iterator[None]:
        """Within it, routes and pages of this process are this centre's, and ask who is signed in."""
        serve.start(self.ids.ledger, take, state=state_now)
        door.open_door(self.sessions)
        try:
            yield
        finally:
            door.open_door(None)

    def token(self, holder: Holder, strength: Strength = "password") -> str:
        """A session of whoever has this role or office."""
        return self.token_of(self.people[holder], strength)

    def token_of(self, person: str, strength: Strength = "password") -> str:
        """A session of somebody, begun as signing in does, without the time that a hash takes."""
        account = account_of(self.ids.ledger, person)
        assert account is not None
        return self.sessions.entrance.begin(person, strength, None, grounds(account, strength))

    def get(self, path: str, token: str = "", **headers: str) -> Reply:
        return call(self.app, path=path, headers={"accept": "text/html", **_cookie(token), **headers})

    def send(self, path: str, token: str = "", headers: dict[str, str] | None = None, **fields: str) -> Reply:
        """Send one of the plain forms."""
        given = {**OURS, **_cookie(token), **(headers or {})}
        return call(self.app, "POST", path, headers=given, body=urlencode(fields).encode())

    def post(self, path: str, token: str, content: Any) -> Reply:
        """Post to a route as a page of ours does."""
        return call(self.app, "POST", path, headers={**PAD, **_cookie(token)}, body=json.dumps(content).encode())

    def sign_in(self, name: str, password: str = PASSWORD, token: str = "", **headers: str) -> Reply:
        return self.send(door.ENTER, token, headers, name=name, password=password)


def token_in(reply: Reply) -> str:
    """The token that an answer puts into the cookie."""
    return reply.headers.get("set-cookie", "=;").split(";")[0].partition("=")[2]


def _cookie(token: str) -> dict[str, str]:
    return {"cookie": f"{door.COOKIE}={token}"} if token else {}


@contextmanager
def signed_centre(folder: Path) -> Iterator[SignedCentre]:
    """Make it: names to sign in with are the words of the roles, such as `lead` and `student`."""
    with pytest.MonkeyPatch.context() as patch, build_centre(folder / "centre", shipped_standards()) as ids:
        patch.setattr(passwords, "_hasher", passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8))
        ledger, lead = ids.ledger, ids.lead
        technician = founding.add_person(ledger, lead, name="Odile Brandt", roles=[Role.TECHNICIAN])
        planning.enrol(ledger, lead, ids.course, technician, Role.TECHNICIAN)
        people: dict[Holder, str] = {
            Role.LEAD: lead, Role.INSTRUCTOR: ids.second, Role.ASSISTANT: ids.assistant, Role.CANDIDATE: ids.candidate,
            Role.TECHNICIAN: technician, Role.STUDENT: ids.amaru,
        }  # fmt: skip
        for role, person in people.items():
            accounts.make_account(ledger, lead, person, name=str(role), password=f"{PASSWORD} first")
            accounts.set_password(ledger, person, person, PASSWORD, own=True)
            accounts.set_pin(ledger, person, person, PIN)
        for office in Office:
            person = accounts.enter_for_office(
                ledger, lead, shown_as=f"Somebody, {office}", name=str(office), password=f"{PASSWORD} first",
                offices=[office],
            )  # fmt: skip
            accounts.set_password(ledger, person, person, PASSWORD, own=True)
            accounts.set_pin(ledger, person, person, PIN)
            people[office] = person
        assert set(people) == set(TABLE)
        yield SignedCentre(ids, Sessions(Entrance(folder / "state"), lambda: ledger), people)
