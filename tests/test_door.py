"""The door without a browser: every role at every route, page and download; signing in, handing on, what ends it."""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import timedelta
from itertools import product
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest.mock import MagicMock
from urllib.parse import urlencode

import pytest
import streamlit as st
from asgi_call import ELSEWHERE, Reply, call
from centre_builder import POOL_SKILL, build_centre, shipped_standards, tap
from opened_page import app_at
from signed_centre import OURS, PASSWORD, PIN, SignedCentre, signed_centre, token_in
from streamlit.navigation.page import StreamlitPage
from streamlit.testing.v1 import AppTest

from course.access import TABLE, Act, Holder, Sight, may, may_by_pin, own_only
from course.actions import accounts, amending, privacy
from course.actions.drafting import allow
from course.actions.slates import give_out
from course.answers.accounts import account_fact, any_account
from course.answers.slate_grid import grid
from course.asker import asking, require_sight
from course.errors import OtherNameError, RefusedError, SignedOutError, StorageError
from course.moments import new_id, now
from course.places import SCREENS
from course.screens import door, menu, offers, serve, sessions, shown_page, signed_in, slate_route, theme
from course.screens.gate import Gate, Keys
from course.screens.log import Log, Requests
from course.screens.sessions import NOT_RIGHT, Sessions
from course.screens.shown_files import NOT_SHOWN, ShownFiles
from course.screens.signed_in import SHARED, SINGLE
from course.storage.entrance import ABSOLUTE_SECONDS, IDLE_SECONDS, NOTED_SECONDS, TOGETHER_FREE, Entrance
from course.words import Authority, Office, Role

STRENGTHS = ("password", "pin")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SignedCentre]:
    with signed_centre(tmp_path_factory.mktemp("door")) as made:
        yield made


@pytest.fixture
def signed(kept: SignedCentre) -> Iterator[SignedCentre]:
    """One for many tests, which leave it as it is."""
    with kept.served():
        yield kept


@pytest.fixture
def own(tmp_path: Path) -> Iterator[SignedCentre]:
    """One that a test may change."""
    with signed_centre(tmp_path) as made, made.served():
        yield made


def allowed(holder: Holder, strength: str, sight: Sight) -> bool:
    return (may_by_pin if strength == "pin" else may)([holder], sight)


# --- routes --------------------------------------------------------------------------------------------------------

ROUTES = {
    Sight.MARKS_ROUTE: ("POST", serve.MARKS, {"items": []}),
    Sight.PULSE_ROUTE: ("GET", serve.PULSE, None),
    Sight.SLATE_ROUTE: ("POST", slate_route.SLATE, {"act": "check", "copy": {}}),
}


def test_every_route_of_our_own_is_tried_here() -> None:
    paths = {route.path.removesuffix("/{name}") for route in [*serve.routes(), *slate_route.routes()]}
    assert {path for _, path, _ in ROUTES.values()} | {theme.FONT_ROUTE} == paths


@pytest.mark.parametrize(("holder", "strength", "sight"), list(product(TABLE, STRENGTHS, ROUTES)))
def test_a_route_lets_in_whom_the_table_lets_in(
    signed: SignedCentre, holder: Holder, strength: Any, sight: Sight
) -> None:
    method, path, content = ROUTES[sight]
    token = signed.token(holder, strength)
    reply = signed.post(path, token, content) if method == "POST" else signed.get(path, token)
    assert (reply.status != 403) is allowed(holder, strength, sight)
    if reply.status == 403:
        assert "may see this (route /course/" in reply.content["sentence"] or "A PIN is not enough" in reply.text


@pytest.mark.parametrize(
    "path", [*(path for _, path, _ in ROUTES.values()), "/", "/mark", "/media/a.pdf", "/_stcore/health"]
)
def test_nothing_is_let_in_that_is_not_signed_in(signed: SignedCentre, path: str) -> None:
    method = "POST" if path in (serve.MARKS, slate_route.SLATE) else "GET"
    for cookie in ({}, {"cookie": f"{door.COOKIE}=made-up"}, {"cookie": f"{door.COOKIE}="}):
        reply = call(signed.app, method, path, headers={**OURS, **cookie})
        assert reply.status == 401
        assert "Sign in" in reply.content["sentence"]


def test_a_page_that_is_not_signed_in_is_the_form_and_leads_on_afterwards(signed: SignedCentre) -> None:
    reply = signed.get("/mark?attempt=a&sheet=b")
    assert reply.status == 401
    assert 'name="then" value="/mark?attempt=a&amp;sheet=b"' in reply.text
    sent = signed.send(door.ENTER, name="lead", password=PASSWORD, then="/mark?attempt=a&sheet=b")
    assert (sent.status, sent.headers["location"]) == (303, "/mark?attempt=a&sheet=b")


def test_a_socket_without_a_session_is_shut_before_it_opens(signed: SignedCentre) -> None:
    async def inner(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "websocket.accept"})

    app = door.Door(inner, sessions=signed.sessions)
    assert not call(app, path="/_stcore/stream", kind="websocket").accepted
    cookie = {"cookie": f"{door.COOKIE}={signed.token(Role.LEAD)}"}
    assert call(app, path="/_stcore/stream", kind="websocket", headers=cookie).accepted


def test_fonts_are_there_before_anybody_signs_in(signed: SignedCentre) -> None:
    assert signed.get(f"{theme.FONT_ROUTE}/{theme.FONT_FILES['400']}").status == 200
    assert signed.get(f"{theme.FONT_ROUTE}/a/b").status == 401  # the program's shell is behind the door


# --- pages and downloads -------------------------------------------------------------------------------------------


def page(
    signed: SignedCentre, name: str, token: str, monkeypatch: pytest.MonkeyPatch, *, chosen: Any = None, **query: str
) -> AppTest:
    """A page by its address, as somebody's browser asks for it; `chosen` is what was chosen on it before."""
    monkeypatch.setattr(door, "page_token", lambda: token)
    app = app_at(name)
    app.query_params.update({"course": signed.ids.course, **query})
    for key, value in (chosen or {}).items():
        app.session_state[key] = value
    return app.run()


def words(app: AppTest) -> str:
    return "\n".join(str(part.value) for part in [*app.title, *app.markdown, *app.caption, *app.text])


@pytest.mark.parametrize(("holder", "strength"), list(product(TABLE, STRENGTHS)))
def test_every_page_by_its_address_runs_for_whom_the_table_lets_in_and_for_nobody_else(
    signed: SignedCentre, holder: Holder, strength: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The guard that every page runs behind, with Streamlit left out: the test below asks it through that."""
    titles, seen = menu.DAILY | menu.OTHERS, MagicMock()
    seen.Page.side_effect = lambda path, title, **_: SimpleNamespace(title=title, run=lambda: ran.append(path.stem))
    monkeypatch.setattr(shown_page, "st", seen)
    open_to = {name for name in titles if allowed(holder, strength, menu.sight_of(name))}
    with acting_as(signed, holder, strength):
        for name, title in titles.items():
            ran: list[str] = []
            seen.reset_mock()
            seen.navigation.side_effect = lambda pages, title=title, **_: next(p for p in pages if p.title == title)
            shown_page.run()
            assert ran == ([name] if name in open_to else []), name
            offered = {call.kwargs["label"] for call in seen.page_link.call_args_list}
            assert offered == {titles[one] for one in open_to}, name
            told = "\n".join(call.args[0] for call in seen.markdown.call_args_list)
            begins_elsewhere = name == menu.FIRST and bool(open_to)  # it has no address of its own
            assert bool(told) is (name not in open_to and not begins_elsewhere), name
            if told:
                assert "This page is not open to you." in told
                assert f"see this (page {name})" in told
            assert seen.switch_page.called is (name not in open_to and begins_elsewhere), name


@pytest.mark.parametrize(("holder", "strength"), [(Role.STUDENT, "password"), (Role.ASSISTANT, "pin")])
def test_a_page_by_its_address_is_refused_by_what_streamlit_runs(
    signed: SignedCentre, holder: Holder, strength: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same guard, reached as a browser reaches it."""
    ran: list[str] = []
    monkeypatch.setattr(StreamlitPage, "run", lambda one: ran.append(one.title))
    token, titles = signed.token(holder, strength), menu.DAILY | menu.OTHERS
    for name in titles:
        app = page(signed, name, token, monkeypatch)
        refused = not allowed(holder, strength, menu.sight_of(name))
        # the first page has no address of its own: who may not see it begins on one that is open to them
        assert ("see this (page" in words(app)) is (refused and name != menu.FIRST), name
    assert set(ran) == {title for name, title in titles.items() if allowed(holder, strength, menu.sight_of(name))}


@pytest.mark.parametrize("holder", [Role.STUDENT, Office.AUDITOR, Office.ADMINISTRATOR])
def test_pages_open_without_a_fault_for_those_who_act_in_no_course(
    signed: SignedCentre, holder: Holder, monkeypatch: pytest.MonkeyPatch
) -> None:
    token = signed.token(holder)
    for name in menu.DAILY | menu.OTHERS:
        if may([holder], menu.sight_of(name)):
            app = page(signed, name, token, monkeypatch)
            assert not app.exception, name
            assert words(app), name


@pytest.mark.parametrize(("holder", "strength"), list(product(TABLE, STRENGTHS)))
def test_the_menu_shows_the_pages_that_are_open_and_no_other(
    signed: SignedCentre, holder: Holder, strength: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = page(signed, "check", signed.token(holder, strength), monkeypatch)
    shown = {link.proto.label for link in app.get("page_link")}
    titles = menu.DAILY | menu.OTHERS
    assert shown == {title for name, title in titles.items() if allowed(holder, strength, menu.sight_of(name))}


DOWNLOADS = [sight for sight in Sight if sight.value.startswith("download ")]


class Shelf:
    """Where Streamlit keeps files: under an address each, for whoever asks there. Behind the door, as it is."""

    def __init__(self, signed: SignedCentre, monkeypatch: pytest.MonkeyPatch) -> None:
        self.files: dict[str, Any] = {}
        self.app = door.Door(self._answer, sessions=signed.sessions)
        monkeypatch.setattr(st, "download_button", lambda label, data, *_, **__: self.files.update({label: data}))
        monkeypatch.setattr(st, "image", lambda content, caption: self.files.update({caption: content}))

    async def _answer(self, scope: Any, receive: Any, send: Any) -> None:
        assert not {"range", "accept-encoding"} & {name.decode() for name, _ in scope["headers"]}
        found = self.files.get(scope["path"].removeprefix("/media/"))
        content = found() if callable(found) else found or b""
        await send({"type": "http.response.start", "status": 200 if found else 404, "headers": []})
        await send({"type": "http.response.body", "body": content[:3], "more_body": True})
        await send({"type": "http.response.body", "body": content[3:]})

    def fetch(self, label: str, token: str, **headers: str) -> Reply:
        return call(self.app, path=f"/media/{label}", headers={"cookie": f"{door.COOKIE}={token}", **headers})


@pytest.mark.parametrize(("holder", "strength"), list(product(TABLE, STRENGTHS)))
def test_a_file_is_offered_and_handed_out_where_the_table_lets_it_be_taken_away(
    signed: SignedCentre, holder: Holder, strength: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Offered by one function alone, which asks for each; see `test_access.py` for every module that uses it.

    A lead was offered every file before, so that each is there: its address alone is not enough.
    """
    shelf = Shelf(signed, monkeypatch)
    with acting_as(signed, Role.LEAD) as leads:
        for sight in DOWNLOADS:
            offers.offer(sight, sight.value, f"{sight.value} to {holder} by {strength}", "file.txt", "text/plain")
    for sight in DOWNLOADS:
        content, may_take = f"{sight.value} to {holder} by {strength}", allowed(holder, strength, sight)
        with acting_as(signed, holder, strength) as token:
            refused = shelf.fetch(sight.value, token)
            assert (refused.status, refused.content["sentence"]) == (403, NOT_SHOWN)
            offers.offer(sight, sight.value, content, "file.txt", "text/plain")
        answer = shelf.fetch(sight.value, token)
        assert (answer.status, answer.text == content) == ((200, True) if may_take else (403, False)), sight
        assert shelf.fetch(sight.value, leads).text == content


def test_a_file_and_a_picture_are_for_the_session_they_were_shown_to_and_no_part_slips_out(
    signed: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(signed, monkeypatch)
    with acting_as(signed, Role.STUDENT) as mine:
        offers.picture(b"a picture of my record", caption="page")
        offers.offer(Sight.PAPER_FILE, "paper", b"my record", "record.pdf", "application/pdf")
    for label in ("page", "paper"):
        assert shelf.fetch(label, mine, range="bytes=0-3", **{"accept-encoding": "gzip"}).status == 200
        for other in (signed.token(Role.LEAD), signed.token(Role.STUDENT), "made up"):
            for headers in ({}, {"range": "bytes=0-3"}):
                assert b"record" not in shelf.fetch(label, other, **headers).body
    shelf.files["by another way"] = b"nobody noted it"
    assert shelf.fetch("by another way", mine).status == 403
    assert shelf.fetch("not there", mine).status == 404


def test_a_file_that_is_made_when_it_is_asked_for_is_made_for_whom_it_was_offered_to_and_only_while_they_may(
    signed: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = Shelf(signed, monkeypatch)
    with acting_as(signed, Role.LEAD) as leads:
        offers.offer(Sight.DAY_FILE, "day", lambda: f"by {asking().name}", "day.pdf", "application/pdf")  # type: ignore[union-attr]
    made = shelf.files["day"]
    assert made() == b"by lead"  # in a thread of nobody's
    assert (shelf.fetch("day", leads).text, shelf.fetch("day", signed.token(Role.INSTRUCTOR)).status) == (
        "by lead",
        403,
    )
    signed.send(door.LEAVE, leads)
    with pytest.raises(SignedOutError):
        made()


def test_no_more_than_so_many_files_are_remembered_and_the_oldest_are_forgotten_first() -> None:
    shown = ShownFiles(most=2)
    for content in (b"a", b"b", b"a", b"c"):
        shown.note("token", content)
    assert [shown.was_shown("token", content) for content in (b"a", b"b", b"c")] == [True, False, True]
    assert not shown.was_shown(None, shown.note(None, b"d"))


def test_a_student_sees_their_own_page_paper_and_reasons_and_nobody_elses_name(
    signed: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    token, other = signed.token(Role.STUDENT), signed.ids.zoe
    for name in ("student", "papers", "why"):
        assert own_only([Role.STUDENT], menu.sight_of(name))
        app = page(signed, name, token, monkeypatch, student=other)
        assert not app.exception
        everything = words(app) + json.dumps([str(getattr(one, "options", "")) for one in app.get("button_group")])
        assert "Amaru Tendelle" in everything, name
        assert "O'Brien" not in everything, name
        assert "Zoë" not in everything, name


# --- acts: in one's own name ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("holder", "act"), list(product(TABLE, Act)))
def test_an_act_is_for_whom_the_table_says_and_for_whoever_is_signed_in(
    signed: SignedCentre, holder: Holder, act: Act
) -> None:
    ledger, person = signed.ids.ledger, signed.people[holder]
    for strength, right in (("password", may), ("pin", may_by_pin)):
        with acting_as(signed, holder, strength):
            if right([holder], act):
                assert allow(ledger, person, act).id == person
            else:
                with pytest.raises(RefusedError, match=r"Only somebody who is|A PIN is not enough"):
                    allow(ledger, person, act)
            other = signed.people[Role.LEAD if holder != Role.LEAD else Role.INSTRUCTOR]
            with pytest.raises(OtherNameError, match="nobody acts in another's name"):
                allow(ledger, other, act)


class acting_as:  # noqa: N801 - reads as a phrase
    """Within it, whoever has a role or office is the one who asks."""

    def __init__(self, signed: SignedCentre, holder: Holder, strength: Any = "password") -> None:
        self.token = signed.token(holder, strength)

    def __enter__(self) -> str:
        self.kept = door._token.set(self.token)
        return self.token

    def __exit__(self, *_: object) -> None:
        door._token.reset(self.kept)


def test_taps_of_somebody_else_wait_on_the_tablet_and_ones_own_are_saved(own: SignedCentre) -> None:
    with acting_as(own, Role.LEAD):
        mine = own.ids.open()
    with acting_as(own, Role.INSTRUCTOR):
        theirs = own.ids.open(student=own.ids.zoe, by=own.ids.second)
    marks = {"marks": [{"step": own.ids.skill().steps[0].id, "mark": "done"}]}
    items = [tap(own.ids, opened, "marks_given/1", marks) for opened in (theirs, mine)]
    reply = own.post(serve.MARKS, own.token(Role.LEAD, "pin"), {"items": items})
    assert (reply.status, reply.content["saved"], reply.content["refused"]) == (200, [items[1]["id"]], [])
    alone = own.post(serve.MARKS, own.token(Role.LEAD), {"items": items[:1]})
    assert alone.status == 403  # the pad keeps what is answered by 403, and says the sentence
    assert "wait on this tablet until that person signs in" in alone.content["sentence"]
    assert own.post(serve.MARKS, own.token(Role.INSTRUCTOR), {"items": items[:1]}).content["saved"] == [items[0]["id"]]
    again = own.post(serve.MARKS, own.token(Role.LEAD), {"items": items[:1]})
    assert again.content["saved"] == [items[0]["id"]]  # in the ledger already: nothing is done in anybody's name


def test_a_role_that_changes_mid_attempt_keeps_the_marks_and_refuses_the_next_in_a_sentence(own: SignedCentre) -> None:
    ids = own.ids
    token = own.token(Role.INSTRUCTOR)
    with acting_as(own, Role.INSTRUCTOR):
        opened = ids.open(by=ids.second)
    first, second = (
        tap(ids, opened, "marks_given/1", {"marks": [{"step": ids.skill().steps[place].id, "mark": "done"}]})
        for place in (0, 1)
    )
    assert own.post(serve.MARKS, token, {"items": [first]}).content["saved"] == [first["id"]]
    change_roles(own, ids.second, [Role.STUDENT])
    ended = own.post(serve.MARKS, token, {"items": [second]})
    assert ended.status == 401  # its grounds are gone: the session ended by itself
    refused = own.post(serve.MARKS, own.token_of(ids.second), {"items": [second]})
    assert refused.status == 403
    assert "this person is student" in refused.content["sentence"]
    (sheet,) = ids.attempt(opened.attempt).sheets
    assert (sheet.observer, [mark.step for mark in sheet.marks]) == (ids.second, [ids.skill().steps[0].id])


def change_roles(own: SignedCentre, person: str, roles: list[Role]) -> None:
    ledger = own.ids.ledger
    added = next(event for event in ledger.events(person) if event.kind.startswith("person_added/"))
    with acting_as(own, Role.LEAD):
        amending.correct(ledger, own.ids.lead, added.id, "entered wrongly", change={"roles": roles})


# --- signing in, handing on, signing out -----------------------------------------------------------------------------


def test_signing_in_gives_a_cookie_that_no_script_reads_and_no_other_site_sends(signed: SignedCentre) -> None:
    reply = signed.sign_in("lead")
    assert reply.status == 303
    assert re.fullmatch(rf"{door.COOKIE}=[\w-]{{43}}; Path=/; HttpOnly; SameSite=Strict", reply.headers["set-cookie"])
    assert len(token_in(reply)) * 6 >= 256  # bits


def test_under_https_the_cookie_is_secure_and_tied_to_this_host() -> None:
    """The prefix `__Host-`: RFC 6265bis, 4.1.3.2 (from memory)."""
    assert door.set_cookie("t", secure=True) == "__Host-course_session=t; Path=/; HttpOnly; SameSite=Strict; Secure"


@pytest.mark.parametrize(
    ("name", "password"), [("lead", "not this one, no"), ("nobody", PASSWORD), ("", ""), ("lead", "")]
)
def test_a_wrong_name_and_a_wrong_password_are_told_the_same(own: SignedCentre, name: str, password: str) -> None:
    reply = own.sign_in(name, password)
    assert reply.status == 401
    assert NOT_RIGHT in reply.text
    assert "set-cookie" not in reply.headers
    assert not password or password not in reply.text


def time_stands_still(own: SignedCentre, tmp_path: Path) -> None:
    """Else a wait may be over before a slow machine has asked again."""
    moment = now()
    own.sessions.entrance = Entrance(tmp_path / "time stands still", lambda: moment, lambda: 0.0)


@pytest.mark.parametrize("name", ["lead", "nobody here"])
def test_guessing_waits_for_known_and_unknown_names_alike_and_never_for_good(
    own: SignedCentre, name: str, tmp_path: Path
) -> None:
    time_stands_still(own, tmp_path)
    statuses = [own.sign_in(name, "wrong wrong wrong").status for _ in range(5)]
    assert statuses == [401, 401, 401, 429, 429]
    assert int(own.sign_in(name).headers["retry-after"]) >= 1  # the right one waits too


def test_many_wrong_names_slow_the_door_for_strangers_and_nobody_who_is_signed_in(
    own: SignedCentre, tmp_path: Path
) -> None:
    time_stands_still(own, tmp_path)
    token = token_in(own.sign_in("lead"))
    assert own.sessions.sign_in("name", "no password", "10.0.0.7").sentence == NOT_RIGHT
    for n in range(1, TOGETHER_FREE):
        assert own.sessions.entrance.guess(f"name {n}", f"10.0.{n}.7", at_door=True) == 0
    stranger = own.sessions.sign_in("student", PASSWORD, "10.1.0.7")
    assert stranger.sentence.startswith("Too many wrong tries. Wait ")
    assert "nobody is locked out for good" in stranger.sentence
    assert own.get(serve.PULSE, token).status == 200
    assert own.send(door.SWITCH, token, person=own.ids.second, pin=PIN).status == 303
    assert own.sign_in("student").status == 303  # here somebody signed in before
    as_another = own.sessions.sign_in("assistant", PASSWORD, "10.1.0.8", own.token(Role.LEAD))
    assert as_another.token


def test_a_token_from_before_signing_in_is_worth_nothing_afterwards(own: SignedCentre) -> None:
    """Session fixation: what an attacker has set or seen before is not what is used after."""
    before = own.token(Role.STUDENT)
    after = token_in(own.sign_in("lead", token=before))
    assert after not in ("", before)
    assert own.get(serve.PULSE, before).status == 401
    assert own.get(serve.PULSE, after).status == 200
    chosen = "a" * 43
    assert token_in(own.sign_in("lead", token=chosen)) != chosen


def test_signing_out_ends_the_session_and_so_every_copy_of_its_cookie(own: SignedCentre) -> None:
    token = token_in(own.sign_in("lead"))
    copied = token
    assert own.get(serve.PULSE, copied).status == 200  # a copied cookie counts until its session ends: say so
    assert "lead is signed in here" in own.get(door.LEAVE, token).text
    assert own.get(serve.PULSE, token).status == 200  # looking at the form signs nobody out
    reply = own.send(door.LEAVE, token)
    assert (reply.status, reply.headers["location"]) == (303, door.ENTER)
    assert "Max-Age=0" in reply.headers["set-cookie"]
    assert own.get(serve.PULSE, copied).status == 401


def test_signing_out_in_one_browser_leaves_the_other_signed_in(own: SignedCentre) -> None:
    first, second = (token_in(own.sign_in("lead")) for _ in range(2))
    own.send(door.LEAVE, first)
    assert (own.get(serve.PULSE, first).status, own.get(serve.PULSE, second).status) == (401, 200)


def test_signing_out_everywhere_ends_every_session_of_that_person_and_nobody_elses(own: SignedCentre) -> None:
    first, second, pin = own.token(Role.LEAD), own.token(Role.LEAD), own.token(Role.LEAD, "pin")
    other = own.token(Role.INSTRUCTOR)
    own.send(door.LEAVE, first, everywhere="yes")
    assert [own.get(serve.PULSE, token).status for token in (first, second, pin, other)] == [401, 401, 401, 200]


@pytest.mark.parametrize("path", door.PATHS)
@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_form_that_another_page_sends_changes_nothing(own: SignedCentre, path: str, headers: dict[str, str]) -> None:
    token = own.token(Role.LEAD)
    reply = own.send(path, token, headers, name="lead", password=PASSWORD)
    assert (reply.status, "set-cookie" in reply.headers) == (403, False)
    assert own.get(serve.PULSE, token).status == 200


def test_a_first_password_has_to_be_changed_before_anything_is_shown(own: SignedCentre) -> None:
    person = own.people[Role.STUDENT]
    with acting_as(own, Role.LEAD):
        accounts.set_password(own.ids.ledger, own.ids.lead, person, "told them at the desk today", own=False)
    token = token_in(own.sign_in("student", "told them at the desk today"))
    shown = own.get("/", token)
    assert (shown.status, "Somebody else chose the password" in shown.text) == (401, True)
    assert own.get(serve.PULSE, token, accept="*/*").status == 401
    fields = {
        "before": "told them at the desk today",
        "new": "violet anchors rarely whistle",
        "again": "violet anchors rarely whistle",
    }
    assert "not the same" in own.send(door.CHANGE, token, **{**fields, "again": "other"}).text
    assert "not the password that you have now" in own.send(door.CHANGE, token, **{**fields, "before": "x"}).text
    assert "15 to 256 characters" in own.send(door.CHANGE, token, **{**fields, "new": "short", "again": "short"}).text
    reply = own.send(door.CHANGE, token, **fields)
    assert reply.status == 303
    assert token_in(reply) not in ("", token)
    assert own.get("/", token).status == 401
    assert own.sign_in("student", "violet anchors rarely whistle").status == 303


def test_a_new_password_ends_the_sessions_that_rested_on_the_old_one(own: SignedCentre) -> None:
    here, elsewhere, pin = own.token(Role.LEAD), own.token(Role.LEAD), own.token(Role.LEAD, "pin")
    reply = own.send(
        door.CHANGE, here, before=PASSWORD, new="seldom lanterns argue twice", again="seldom lanterns argue twice"
    )
    assert own.get(serve.PULSE, token_in(reply)).status == 200
    assert {own.get(serve.PULSE, old).status for old in (here, elsewhere, pin)} == {401}


def test_several_people_hand_one_tablet_on_by_pin_with_lower_rights(own: SignedCentre) -> None:
    first = token_in(own.sign_in("lead"))
    page_ = own.get(door.SWITCH, first)
    assert "Bruno Ashkenar" in page_.text
    wrong = own.send(door.SWITCH, first, person=own.ids.second, pin="0000")
    assert (wrong.status, own.get(serve.PULSE, first).status) == (401, 200)
    second = token_in(own.send(door.SWITCH, first, person=own.ids.second, pin=PIN))
    assert own.get(serve.PULSE, first).status == 401
    who = own.sessions.who(second)
    assert who is not None
    assert (who.person, who.by_pin) == (own.ids.second, True)
    assert not who.may(Act.SIGN)
    third = token_in(own.send(door.SWITCH, second, person=own.ids.assistant, pin=PIN))
    assert own.sessions.who(third) is not None
    assert own.get(door.CHANGE, third).status == 200
    changed = own.send(door.CHANGE, third, before=PASSWORD, new="b" * 12, again="b" * 12)
    assert (changed.status, "A PIN is not enough" in changed.text) == (401, True)


def test_a_pin_lets_nobody_in_where_nobody_is_signed_in(own: SignedCentre) -> None:
    reply = own.send(door.SWITCH, person=own.ids.lead, pin=PIN)
    assert reply.headers["location"].startswith(door.ENTER)
    assert own.sessions.switch("made up", own.ids.lead, PIN, "here").token == ""


def test_pins_are_guessed_at_no_faster_than_passwords(own: SignedCentre, tmp_path: Path) -> None:
    time_stands_still(own, tmp_path)
    token = own.token(Role.LEAD)
    tried = [own.send(door.SWITCH, token, person=own.ids.second, pin=f"{n:04}").status for n in range(5)]
    assert tried == [401, 401, 401, 429, 429]


def test_everybody_sets_their_own_pin_with_their_password(own: SignedCentre) -> None:
    token = own.token(Role.ASSISTANT)
    assert own.send(door.PIN, token, before="wrong", pin="2468", again="2468").status == 401
    assert "4 to 8 digits" in own.send(door.PIN, token, before=PASSWORD, pin="12", again="12").text
    assert "The two PINs are not the same" in own.send(door.PIN, token, before=PASSWORD, pin="2468", again="2486").text
    token = token_in(own.send(door.PIN, token, before=PASSWORD, pin="2468", again="2468"))
    assert own.sessions.switch(token, own.ids.assistant, "2468", "here").token
    token = own.token(Role.ASSISTANT)
    own.send(door.PIN, token, before=PASSWORD, pin="")
    assert own.ids.assistant not in own.sessions.with_pin()


# --- what ends a session ---------------------------------------------------------------------------------------------


def test_a_closed_account_is_out_at_the_next_request_and_the_next_rerun(
    own: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    token = own.token(Role.INSTRUCTOR)
    app = page(own, "course", token, monkeypatch)
    assert "Still missing" in words(app)
    with acting_as(own, Role.LEAD):
        accounts.close_account(own.ids.ledger, own.ids.lead, own.ids.second)
    assert own.get(serve.PULSE, token).status == 401
    app.run()
    assert "Still missing" not in words(app)
    assert app.title[0].value == "Signed out"
    with pytest.raises(SignedOutError):
        own.sessions.who(token)


def test_somebody_erased_is_out_at_once(own: SignedCentre) -> None:
    token = own.token(Role.CANDIDATE)
    with acting_as(own, Role.LEAD):
        privacy.erase_person(
            own.ids.ledger, own.ids.lead, own.ids.candidate, authority=Authority.PERSON, reason="asked in writing",
            despite="it is a test",
        )  # fmt: skip
    assert own.get(serve.PULSE, token).status == 401


def test_an_act_after_the_session_ended_is_refused_whatever_is_still_on_the_screen(own: SignedCentre) -> None:
    with acting_as(own, Role.LEAD) as token:
        own.sessions.entrance.end(token)
        with pytest.raises(SignedOutError, match="Nobody is signed in here"):
            own.ids.open()
    with pytest.raises(SignedOutError):
        asking()


def test_a_clock_that_goes_back_during_a_session_ends_none_and_prolongs_none(tmp_path: Path) -> None:
    clock, steady = [now()], [0.0]
    entrance = Entrance(tmp_path, lambda: clock[0], lambda: steady[0])
    token = entrance.begin("person", "password")
    clock[0] -= timedelta(days=3)
    assert entrance.who(token) is not None
    for _ in range(int(ABSOLUTE_SECONDS // 3600)):
        steady[0] += 3600
        clock[0] -= timedelta(minutes=5)
        last = entrance.who(token)
    assert last is None


def test_a_pad_that_is_open_and_not_touched_is_signed_out_in_time(
    signed: SignedCentre, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    steady = [0.0]
    monkeypatch.setattr(signed.sessions, "entrance", Entrance(tmp_path, now, lambda: steady[0]))
    untouched, touched = signed.token(Role.LEAD), signed.token(Role.INSTRUCTOR)
    asked = f"{serve.PULSE}?{urlencode({'of': '.'.join([new_id(), new_id(), signed.people[Role.LEAD], ''])})}"
    pulses = []
    for _ in range(4):
        steady[0] += IDLE_SECONDS / 4
        assert signed.post(serve.MARKS, touched, {"items": []}).status == 200
        pulses.append([signed.get(asked, token, **{"x-course": "pad"}).status for token in (untouched, touched)])
        assert signed.get(f"{door.STILL}?of={door.page_mark(touched)}", touched).status == 200
    assert pulses == [[200, 200]] * 3 + [[401, 200]]


def test_a_page_that_is_left_open_learns_that_its_session_ended_or_that_somebody_else_signed_in(
    own: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown, told = own.token(Role.STUDENT), []
    monkeypatch.setattr(signed_in, "watch_session", told.append)
    page(own, "check", shown, monkeypatch)
    (of,) = told

    def still(token: str) -> int:
        return own.get(f"{door.STILL}?of={of}", token).status

    assert (still(shown), still(own.token(Role.STUDENT)), still("")) == (200, 401, 401)
    assert shown not in of
    own.sessions.entrance.end(shown)
    assert still(shown) == 401


def test_a_session_that_another_process_ends_is_over_at_the_next_question(tmp_path: Path) -> None:
    """What is remembered between two questions is dropped once anybody else has written the file."""
    here, there = Entrance(tmp_path), Entrance(tmp_path)
    token = here.begin("person", "password")
    assert here.who(token) is not None
    assert here.who(token) is not None
    there.end(token)
    assert here.who(token) is None


def test_a_session_that_is_used_all_the_time_writes_its_file_every_half_minute_at_most(tmp_path: Path) -> None:
    steady = [0.0]
    entrance = Entrance(tmp_path, now, lambda: steady[0])
    token = entrance.begin("person", "password")
    entrance.who(token)
    before = entrance.file.read_bytes()
    for _ in range(20):
        entrance.who(token)
    assert entrance.file.read_bytes() == before
    steady[0] += NOTED_SECONDS
    entrance.who(token)
    assert entrance.file.read_bytes() != before


def test_pins_prolong_no_day_beyond_the_hours_after_a_password(tmp_path: Path) -> None:
    steady = [0.0]
    entrance = Entrance(tmp_path, now, lambda: steady[0])
    token = entrance.begin("anna", "password")
    for _ in range(2 * ABSOLUTE_SECONDS // 3600 - 1):
        steady[0] += 1800
        token = entrance.begin("bruno", "pin", token)
    assert entrance.who(token) is not None
    steady[0] += 1800
    assert entrance.who(token) is None


# --- single-person mode and the first account ------------------------------------------------------------------------


def test_without_accounts_everybody_on_this_machine_is_let_in_and_every_page_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with build_centre(tmp_path / "centre", shipped_standards()) as ids:
        serve.start(ids.ledger, lambda *_: None)
        sessions = Sessions(Entrance(tmp_path / "state"), lambda: ids.ledger)
        app = door.Door(serve.font, sessions=sessions)
        door.open_door(sessions)
        try:
            assert asking() is None
            for name in menu.DAILY | menu.OTHERS:
                shown = AppTest.from_file(str(SCREENS / "app.py"), default_timeout=60)
                shown.switch_page(f"../../pages/{name}.py").run()
                assert [SINGLE in str(one.proto.body) for one in shown.get("html")].count(True) == 1, name
            monkeypatch.setattr(serve, "_shared", [True])
            assert any(SHARED in str(one.proto.body) for one in shown.run().get("html"))
        finally:
            door.open_door(None)
        assert app._refusal("/", None) is None


def test_the_first_account_is_the_leads_and_is_made_on_this_machine_alone(tmp_path: Path) -> None:
    with build_centre(tmp_path / "centre", shipped_standards()) as ids:
        sessions = Sessions(Entrance(tmp_path / "state"), lambda: ids.ledger)
        app = door.Door(serve.font, sessions=sessions)
        form = b"first=yes&name=tamsin&new=seven+quiet+otters+knit&again=seven+quiet+otters+knit"
        away = call(app, "POST", door.ENTER, headers=OURS, body=form, client=ELSEWHERE)
        assert (away.status, away.headers["location"], any_account(ids.ledger)) == (303, "/", False)
        odd = call(app, "POST", door.ENTER, headers=OURS, body=form.replace(b"again=seven", b"again=other"))
        assert (odd.status, any_account(ids.ledger)) == (400, False)
        short = call(app, "POST", door.ENTER, headers=OURS, body=b"first=yes&name=tamsin&new=short&again=short")
        assert (short.status, any_account(ids.ledger)) == (400, False)
        assert "Make the first account" in call(app, path=door.ENTER).text
        made = call(app, "POST", door.ENTER, headers=OURS, body=form)
        assert made.status == 303
        asker = sessions.who(token_in(made))
        assert asker is not None
        assert (asker.person, asker.name) == (ids.lead, "tamsin")
        with pytest.raises(RefusedError, match="accounts already"):
            sessions.first_account("second", "seven quiet otters knit")


def test_of_two_who_make_the_first_account_at_once_one_is_let_in(tmp_path: Path) -> None:
    with build_centre(tmp_path / "centre", shipped_standards()) as ids:
        sessions = Sessions(Entrance(tmp_path / "state"), lambda: ids.ledger)

        def made(name: str) -> str:
            try:
                return sessions.first_account(name, "seven quiet otters knit").token
            except RefusedError as error:
                return error.sentence

        with ThreadPoolExecutor(2) as pool:
            ended = list(pool.map(made, ["one", "another"]))
        assert sum("Nothing was changed." in one for one in ended) == 1
        assert len(accounts.accounts_of(ids.ledger, ids.lead)) == 1


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_a_form_is_asked_for_or_sent_and_nothing_else(signed: SignedCentre, method: str) -> None:
    assert {call(signed.app, method, path, headers=OURS).status for path in door.PATHS} == {405}


def test_a_file_with_sessions_is_for_its_owner_alone(signed: SignedCentre) -> None:
    file = signed.sessions.entrance.file
    assert (file.stat().st_mode & 0o777, file.parent.stat().st_mode & 0o777) == (0o600, 0o700)


def test_no_token_password_or_pin_stands_in_the_file(own: SignedCentre) -> None:
    token = token_in(own.sign_in("lead"))
    own.sign_in("lead", "a wrong password")
    kept = own.sessions.entrance.file.read_bytes()
    assert all(secret.encode() not in kept for secret in (token, PASSWORD, "a wrong password"))


def test_each_sign_in_and_each_refusal_at_the_door_is_a_line_of_the_log_without_a_name(
    own: SignedCentre, tmp_path: Path
) -> None:
    log = Log(tmp_path / "log.jsonl")
    try:
        app = Requests(own.app, log=log, routes=door.PATHS)
        for password in (PASSWORD, "a wrong one"):
            body = urlencode({"name": "lead", "password": password}).encode()
            call(app, "POST", door.ENTER, headers=OURS, body=body)
        call(app, "POST", serve.MARKS, headers=OURS)
    finally:
        log.close()
    text = (tmp_path / "log.jsonl").read_text()
    lines = [json.loads(line) for line in text.splitlines()]
    assert [(line["route"], line["status"]) for line in lines] == [(door.ENTER, 303), (door.ENTER, 401), ("other", 401)]
    assert "lead" not in text
    assert PASSWORD not in text


def test_what_somebody_may_not_do_or_see_is_a_line_of_the_log_without_a_name(
    signed: SignedCentre, tmp_path: Path
) -> None:
    log = Log(tmp_path / "log.jsonl")
    before = logging.getLogRecordFactory()
    logging.setLogRecordFactory(log.record)  # as `log.begin` has it
    try:
        with acting_as(signed, Role.STUDENT):
            for actor in (signed.people[Role.STUDENT], signed.people[Role.LEAD]):
                with pytest.raises(RefusedError):
                    allow(signed.ids.ledger, actor, Act.SIGN)
            with pytest.raises(RefusedError):
                require_sight(Sight.PRIVACY)
    finally:
        logging.setLogRecordFactory(before)
        log.close()
    said = [json.loads(line)["said"] for line in (tmp_path / "log.jsonl").read_text().splitlines()]
    what = ["sign a standing", "act in another's name", "see this (page privacy)"]
    assert said == [f"not allowed, and refused: {one}" for one in what]


# --- sheets of paper -------------------------------------------------------------------------------------------------


def test_a_sheet_is_copied_in_by_its_writer_or_a_lead_and_the_ledger_names_both(own: SignedCentre) -> None:
    ids, students = own.ids, (own.ids.amaru, own.ids.zoe)
    with acting_as(own, Role.LEAD):
        (slate,) = give_out(ids.ledger, ids.lead, ids.sessions["pool-22"], skills=[POOL_SKILL], students=students)
    marks = [{"step": step.id, "mark": "done"} for step in ids.skill().steps]
    columns = [{"id": new_id(), "student": student, "marks": marks} for student in students]
    copy = {"slate": slate, "session": ids.sessions["pool-22"], "observer": ids.second, "columns": columns}

    def post(holder: Holder, act: str, **more: Any) -> Any:
        return own.post(slate_route.SLATE, own.token(holder), {"act": act, "copy": copy, **more})

    told = post(Role.LEAD, "check").content["check"]["told"]
    refused = post(Role.ASSISTANT, "save", told=told)
    assert (refused.status, "nobody acts in another's name" in refused.content["sentence"]) == (403, True)
    assert post(Role.ASSISTANT, "check").status == 200
    assert len(post(Role.LEAD, "save", told=told).content["saved"]) == 2
    attempt = ids.attempt(columns[0]["id"])
    assert [sheet.observer for sheet in attempt.sheets] == [ids.second]
    actors = {event.kind.partition("/")[0]: event.actor for event in ids.ledger.events(attempt.id)}
    assert actors.pop("attempt_closed") == ids.second
    assert set(actors.values()) == {ids.lead}
    assert post(Role.INSTRUCTOR, "save", told=told).content["saved"] == [one["id"] for one in columns]  # sent again


def test_the_grid_offers_as_writers_whoever_may_be_one_for_the_one_who_is_signed_in(own: SignedCentre) -> None:
    ids = own.ids
    with acting_as(own, Role.LEAD):
        (slate,) = give_out(ids.ledger, ids.lead, ids.sessions["pool-22"], skills=[POOL_SKILL], students=[ids.amaru])
        everybody = grid(ids.ledger, ids.sessions["pool-22"], slate)
    assert len(everybody["observers"]) > 3
    with acting_as(own, Role.INSTRUCTOR):
        alone = grid(ids.ledger, ids.sessions["pool-22"], slate)
    assert [one["id"] for one in alone["observers"]] == [alone["observer"]] == [ids.second]


def test_a_password_of_the_longest_kind_in_any_script_gets_in(own: SignedCentre) -> None:
    longest = "".join(chr(0x1D400 + place * 37 % 251) for place in range(256))  # four bytes each
    with acting_as(own, Role.STUDENT):
        accounts.set_password(own.ids.ledger, own.ids.amaru, own.ids.amaru, longest, own=True)
    assert own.sign_in("student", longest).status == 303
    fields = {"before": longest, "new": longest[::-1], "again": longest[::-1]}
    assert own.send(door.CHANGE, own.token(Role.STUDENT), **fields).status == 303


def test_a_pad_opens_for_its_observer_alone(own: SignedCentre, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is tapped on somebody else's would wait on the tablet; so it is said before anything is tapped."""
    with acting_as(own, Role.LEAD):
        opened = own.ids.open()
    address = {"attempt": opened.attempt, "sheet": opened.sheet}
    theirs = page(own, "mark", own.token(Role.INSTRUCTOR), monkeypatch, **address)
    assert "nobody acts in another" in theirs.warning[0].value
    mine = page(own, "mark", own.token(Role.LEAD), monkeypatch, **address)
    assert not mine.warning
    for holder, offered in ((Role.LEAD, True), (Role.INSTRUCTOR, False)):
        chosen = page(own, "mark", own.token(holder), monkeypatch)
        assert any(one.label.startswith("Go on: Amaru") for one in chosen.button) is offered


def test_another_machine_gives_the_code_first_and_then_signs_in(own: SignedCentre) -> None:
    keys = Keys(secret="of these tests", code="K7MP-3XQA")  # noqa: S106
    app = Gate(own.app, port=8571, keys=keys, names=["kelp.local"])
    there: dict[str, Any] = {"client": ELSEWHERE, "server": ("192.168.7.2", 8571)}
    headers = {"host": "kelp.local:8571", "origin": "http://kelp.local:8571", "accept": "text/html"}
    asked = call(app, path="/mark", headers=headers, **there)
    assert (asked.status, "Code for this course" in asked.text) == (401, True)
    early = call(app, "POST", door.ENTER, headers=headers, body=f"name=lead&password={PASSWORD}".encode(), **there)
    assert (early.status, "set-cookie" in early.headers) == (401, False)
    known = call(app, "POST", "/course/sign-in", headers=headers, body=b"code=k7mp3xqa&then=/mark", **there)
    headers["cookie"] = known.headers["set-cookie"].split(";")[0]
    form = call(app, path="/mark", headers=headers, **there)
    assert (form.status, "Sign in" in form.text, "x-frame-options" in form.headers) == (401, True, True)
    body = urlencode({"name": "lead", "password": PASSWORD}).encode()
    token = token_in(call(app, "POST", door.ENTER, headers=headers, body=body, **there))
    headers["cookie"] += f"; {door.COOKIE}={token}"
    assert call(app, path=serve.PULSE, headers=headers, **there).status == 200
    here = call(app, path=serve.PULSE)  # this machine needs no code, and has to sign in all the same
    assert here.status == 401


def test_who_signed_in_by_what_and_out_again_stands_in_the_ledger_and_wrong_guesses_do_not(own: SignedCentre) -> None:
    ledger, before = own.ids.ledger, own.ids.count()
    own.sign_in("lead", "not the right words")
    assert own.ids.count() == before
    first = token_in(own.sign_in("lead"))
    second = token_in(own.send(door.SWITCH, first, person=own.ids.second, pin=PIN))
    own.send(door.LEAVE, second, everywhere="yes")
    said = [
        (event.kind, event.actor, json.loads(event.body))
        for event in ledger.events()
        if event.kind.startswith("signed_")
    ]
    accounts_of = [fact.id for one in (own.ids.lead, own.ids.second) if (fact := account_fact(ledger, one))]
    assert said == [
        ("signed_in/1", own.ids.lead, {"account": accounts_of[0], "by_pin": False}),
        ("signed_in/1", own.ids.second, {"account": accounts_of[1], "by_pin": True}),
        ("signed_out/1", own.ids.second, {"account": accounts_of[1], "everywhere": True}),
    ]


def test_a_ledger_that_takes_nothing_keeps_nobody_out(own: SignedCentre, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever looks after the centre has to get in to see what is wrong with it."""

    def full(_: object) -> None:
        raise StorageError("NOT saved: the disk is full.")

    monkeypatch.setattr(own.ids.ledger, "append", full)
    token = token_in(own.sign_in("lead"))
    assert own.get(serve.PULSE, token).status == 200


def test_a_ledger_that_cannot_be_read_is_told_on_a_page_with_a_way_to_try_again(
    own: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise StorageError("The ledger cannot be read: <the server> does not answer.")

    monkeypatch.setattr(own.ids.ledger, "heads", stopped)
    answer = own.get("/mark?line=1&by=2")
    assert answer.status == 503
    assert "The ledger cannot be read: &lt;the server&gt; does not answer." in answer.text
    assert '<a href="/mark?line=1&amp;by=2">Try again</a>' in answer.text
    assert own.get(serve.PULSE, accept="*/*").text.startswith('{"sentence"')


@contextmanager
def unread(own: SignedCentre) -> Iterator[None]:
    """Within it the ledger cannot be read."""

    def fails(*_: object, **__: object) -> None:
        raise StorageError("The ledger cannot be read: the server does not answer.")

    with pytest.MonkeyPatch.context() as patch:
        for name in ("heads", "facts", "fact", "append"):
            patch.setattr(own.ids.ledger, name, fails)
        yield


def test_who_signs_out_while_the_ledger_cannot_be_read_is_out_for_good(own: SignedCentre) -> None:
    """A tablet is handed on at once: nobody may be let in as whoever had it, once the server is back."""
    first, second, other = own.token(Role.LEAD), own.token(Role.LEAD), own.token(Role.INSTRUCTOR)
    with unread(own):
        asked = own.get(door.LEAVE, first)
        reply = own.send(door.LEAVE, first, everywhere="yes")
    assert (asked.status, "does not answer" in asked.text, "Sign out</button>" in asked.text) == (503, True, True)
    assert (reply.status, "Max-Age=0" in reply.headers["set-cookie"]) == (303, True)
    assert [own.get(serve.PULSE, token).status for token in (first, second, other)] == [401, 401, 200]


@pytest.mark.parametrize("path", [door.SWITCH, door.CHANGE, door.PIN])
def test_a_form_for_who_is_signed_in_does_not_ask_to_sign_in_while_the_ledger_cannot_be_read(
    own: SignedCentre, path: str
) -> None:
    token = own.token(Role.LEAD)
    with unread(own):
        replies = [own.get(path, token), own.send(path, token, person=own.ids.second, pin=PIN)]
        without = own.get(path).text
    for reply in replies:
        assert (reply.status, "set-cookie" in reply.headers) == (503, False)
        assert f'<a href="/">Try again</a><a href="{door.LEAVE}">Sign out</a>' in reply.text
        assert "<form" not in reply.text
    assert ("Try again" in without, door.LEAVE in without) == (True, False)  # nobody is signed in there
    assert own.get(serve.PULSE, token).status == 200


def test_a_ledger_that_stops_being_read_meanwhile_is_no_wrong_guess(
    own: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    token = own.token(Role.LEAD)

    def fails(*_: object) -> None:
        raise StorageError("The ledger cannot be read: the server does not answer.")

    with monkeypatch.context() as patch:
        patch.setattr(sessions, "account_named", fails)
        patch.setattr(sessions.Sessions, "_account", fails)
        for _ in range(9):
            assert own.sign_in("student").status == 503
            assert own.send(door.SWITCH, token, person=own.ids.second, pin=PIN).status == 503
    assert own.sign_in("student").status == 303
    assert own.send(door.SWITCH, token, person=own.ids.second, pin=PIN).status == 303


def test_a_tablet_that_is_handed_on_as_the_ledger_stops_being_read_is_not_left_with_nobody(
    own: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise StorageError("The ledger cannot be read: the server does not answer.")

    token = own.token(Role.LEAD)
    with monkeypatch.context() as patch:
        patch.setattr(sessions, "account_fact", fails)
        after = token_in(own.send(door.SWITCH, token, person=own.ids.second, pin=PIN))
    assert own.get(serve.PULSE, after).status == 200
