"""Requests as no page of ours sends them: the program's own routes behind its gate, over the small centre.

A row's input is the request in JSON: what differs from a good one. Ids of the centre stand as $names.
"""

from __future__ import annotations

import hashlib
import json
import re
import tempfile
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from asgi_call import HERE, Reply, call
from centre_builder import Centre, tap
from hostile_desk import Act, Ready, Said
from starlette.applications import Starlette

from course.actions.accounts import close_account, make_account, set_password
from course.actions.pad import take
from course.answers.accounts import account_of
from course.answers.pad import state_now
from course.screens import serve, slate_route
from course.screens.door import COOKIE, Door, open_door
from course.screens.gate import Gate, Keys
from course.screens.sessions import Sessions, grounds
from course.storage import passwords
from course.storage.entrance import Entrance

OURS = {"content-type": "application/json", "x-course": "pad", "origin": "http://localhost:8571"}
KEYS = Keys(secret="a-secret-of-tests", code="K7MP-3XQA")  # noqa: S106  (of these tests)
WORDS = "violet anchors rarely whistle"
FAR_ID = "0192d000-0000-7000-8000-0000000000fe"


def _gate(c: Centre, *, shared: bool) -> Gate:
    """One at which nobody guessed before."""
    own = Starlette(routes=[*serve.routes(), *slate_route.routes()])
    guesses = Entrance(Path(tempfile.mkdtemp(dir=c.ledger.folder.parent))) if shared else None
    return Gate(own, port=8571, keys=KEYS if shared else None, names=["kelp.local"], guesses=guesses)


def _names(c: Centre, opened: Any) -> dict[str, str]:
    return {
        "$attempt": opened.attempt, "$sheet": opened.sheet, "$amaru": c.amaru, "$zoe": c.zoe, "$lead": c.lead,
        "$session": c.sessions["pool-22"], "$course": c.course, "$far": FAR_ID, "$adoption": c.adoption,
    }  # fmt: skip


def _sent(text: str, names: dict[str, str]) -> dict[str, Any]:
    for name, own in names.items():
        text = text.replace(name, own)
    asked = json.loads(text, strict=False)
    assert isinstance(asked, dict)
    return asked


def _body(c: Centre, opened: Any, asked: dict[str, Any]) -> bytes:
    """The body that is sent: as it stands, repeated, or taps that differ from a good one."""
    if "taps" in asked:
        good = tap(c, opened, "marks_given/1", {"marks": [{"step": "co-hand", "mark": "done"}]})
        return json.dumps({"items": [good | change for change in asked["taps"]]}).encode()
    raw = asked.get("body", "")
    whole = raw if isinstance(raw, str) else json.dumps(raw)
    return whole.encode("latin-1", "replace") * int(asked.get("times", 1))


def route(method: str, path: str) -> Ready:
    """One route; what it answers as status and sentence."""

    def ready(c: Centre) -> Act:
        opened = c.open()
        names = _names(c, opened)

        def act(text: str) -> Said:
            serve.start(c.ledger, take, state=state_now)
            asked = _sent(text, names)
            reply = call(
                _gate(c, shared="client" in asked), asked.get("method", method), asked.get("path", path),
                headers={k: v for k, v in (OURS | asked.get("headers", {})).items() if v is not None},
                body=_body(c, opened, asked), client=(asked["client"], 5000) if "client" in asked else HERE,
            )  # fmt: skip
            refuse_split_headers(reply)
            words = told(reply)
            kept = reply.status < 400 and not words.startswith("200 saved 0")
            return Said(kept=words) if kept else Said(refused=words)

        return act

    return ready


def form(path: str, *, accounts: bool) -> Ready:
    """A plain form of signing in, behind gate and door: with an account of the lead and a session, or with none."""

    def ready(c: Centre) -> Act:
        if accounts:
            make_account(c.ledger, c.lead, c.lead, name="tamsin", password=WORDS)

        def act(text: str) -> Said:
            sessions = Sessions(Entrance(Path(tempfile.mkdtemp(dir=c.ledger.folder.parent))), lambda: c.ledger)
            account = account_of(c.ledger, c.lead)
            signed = grounds(account, "password") if account else ""
            token = sessions.entrance.begin(c.lead, "password", None, signed)
            asked = _sent(text, {"$lead": c.lead, "$words": WORDS})
            inner = Starlette(routes=[*serve.routes(), *slate_route.routes()])
            app = Gate(Door(inner, sessions=sessions), port=8571, keys=None)
            given = {"cookie": f"{COOKIE}={asked.get('token', token)}"} | OURS | asked.get("headers", {})
            fields = urlencode(asked.get("fields", {})).encode()
            raw = asked.get("body", "").encode("latin-1", "replace") * int(asked.get("times", 1))
            reply = call(app, asked.get("method", "POST"), asked.get("path", path), headers=given, body=fields or raw)
            refuse_split_headers(reply)
            assert not any(one in reply.text for one in asked.get("fields", {}).values() if WORDS in one)
            words, signed_in = told(reply), int("set-cookie" in reply.headers)
            return Said(kept=words, events=signed_in) if reply.status < 400 else Said(refused=words)

        return act

    return ready


def behind_door(method: str, path: str) -> Ready:
    """A route of the pad where people sign in: the cookie is of a session that holds, of one that ended, or forged.

    `as` sends a good request in the name of that person; `cookie` is the whole header, in which $kept is what the disk
    holds of the lead's session, $left a token whose session was signed out, $shut one whose account was closed since.
    """

    def ready(c: Centre) -> Act:
        opened = c.open()
        sessions = Sessions(Entrance(Path(tempfile.mkdtemp(dir=c.ledger.folder.parent))), lambda: c.ledger)
        tokens = _tokens(c, sessions)
        app = Gate(
            Door(Starlette(routes=[*serve.routes(), *slate_route.routes()]), sessions=sessions), port=8571, keys=None
        )

        def act(text: str) -> Said:
            serve.start(c.ledger, take, state=state_now)
            open_door(sessions)
            try:
                asked = _sent(text, _names(c, opened) | tokens)
                cookie = asked.get("cookie", f"{COOKIE}={tokens['$' + asked['as']]}" if "as" in asked else "")
                given = OURS | {"cookie": cookie}
                reply = call(app, method, asked.get("path", path), headers=given, body=_body(c, opened, asked))
            finally:
                open_door(None)
            refuse_split_headers(reply)
            assert not [one for one in tokens.values() if one in reply.text]
            words = told(reply)
            kept = reply.status < 400 and not words.startswith("200 saved 0")
            return Said(kept=words) if kept else Said(refused=words)

        return act

    return ready


def _tokens(c: Centre, sessions: Sessions) -> dict[str, str]:
    """Tokens of sessions by name, each begun as signing in does."""
    people = {"lead": c.lead, "instructor": c.second, "candidate": c.candidate, "student": c.amaru, "shut": c.assistant}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_hasher", passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8))
        for name, person in people.items():
            make_account(c.ledger, c.lead, person, name=f"{name}-here", password=WORDS)
            set_password(c.ledger, person, person, f"{WORDS} again", own=True)

    def begun(name: str) -> str:
        account = account_of(c.ledger, people[name])
        assert account is not None
        return sessions.entrance.begin(people[name], "password", None, grounds(account, "password"))

    made = {f"${name}": begun(name) for name in people} | {"$left": begun("lead")}
    sessions.entrance.end(made["$left"])
    close_account(c.ledger, c.lead, people["shut"])
    return made | {"$kept": hashlib.sha256(made["$lead"].encode()).hexdigest(), "$cut": made["$lead"][:-1]}


def told(reply: Reply) -> str:
    """An answer in one line: status, then the sentence, what was refused, or where it leads."""
    if "location" in reply.headers:
        return f"{reply.status} to {reply.headers['location']}"
    if reply.headers.get("content-type", "").startswith("application/json"):
        content = reply.content
        if "sentence" in content:
            return f"{reply.status} {content['sentence']}"
        if "states" in content:
            return f"{reply.status} states {len(content['states'])}"
        return f"{reply.status} saved {len(content['saved'])}; " + "; ".join(
            one["sentence"] for one in content["refused"]
        )
    then = re.search(r'name="then" value="([^"]*)"', reply.text)
    said = re.search(r'role="alert">([^<]*)<', reply.text)
    page = " ".join(part for part in (said and said[1], then and f"then {then[1]}") if part)
    return f"{reply.status} {page or reply.text[:80]}".strip()


def refuse_split_headers(reply: Reply) -> None:
    """No line of a header was made of what was sent, and every answer has the safe headers."""
    assert not [value for value in reply.headers.values() if "\r" in value or "\n" in value]
    assert reply.headers.get("x-content-type-options") == "nosniff"
    assert "default-src 'self'" in reply.headers.get("content-security-policy", "")


ROUTES: dict[str, Ready] = {
    "POST marks": route("POST", serve.MARKS),
    "GET pulse": route("GET", serve.PULSE),
    "POST slate": route("POST", slate_route.SLATE),
    "GET font": route("GET", "/course/fonts/x"),
    "POST sign-in": route("POST", "/course/sign-in"),
    "POST enter": form("/course/enter", accounts=True),
    "POST first": form("/course/enter", accounts=False),
    "POST switch": form("/course/switch", accounts=True),
    "POST change": form("/course/change", accounts=True),
    "POST pin": form("/course/pin", accounts=True),
    "POST marks, signed in": behind_door("POST", serve.MARKS),
    "GET pulse, signed in": behind_door("GET", serve.PULSE),
    "POST slate, signed in": behind_door("POST", slate_route.SLATE),
    "POST leave": form("/course/leave", accounts=True),
    "any": route("GET", "/"),
}
