"""Hostile input by each role and office, by password and by PIN, by direct call: what is taken away, read or sent.

Each row of `hostile_input.csv` whose place somebody signed in can reach is tried by all of them. Whoever may not reach
it reads the table's refusal, the same whatever the text is; whoever may reads the row's own sentence. Ledger, tables
and folder are byte for byte as before, and no text and no name stands in the log. What is reached by commands alone
(rubric files, back-ups, the check of an audit file) belongs to whoever has the folder: `course/guide/access.md`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from asgi_call import HERE, call
from centre_builder import Centre
from day_builder import Day
from hostile_checks import typed, with_papers
from hostile_fields import from_elsewhere
from hostile_files import code
from hostile_papers import PRINTED, TABLES, Taken, papers
from hostile_roles import asking_as
from hostile_routes import KEYS, OURS, WORDS, _body, _names, _sent, refuse_split_headers
from hostile_screens import LEAKED, file_of
from signed_centre import SignedCentre, signed_centre
from starlette.applications import Starlette
from test_hostile_input import PEOPLE, Row, rows
from test_hostile_screens_by_role import EVERYBODY, NOT_THEIRS, By

from course.access import Act, Sight
from course.actions.waiting_file import read_waiting_file, take_waiting_file
from course.answers.slate_sheet import slate_sheet
from course.errors import CourseError, RefusedError
from course.screens import door_forms, offers, serve, slate_route
from course.screens.door import COOKIE, ENTER, Door
from course.screens.gate import SIGN_IN, Gate

NOT_ALLOWED = ("Only somebody who is ", "A PIN is not enough to ")
everybody = pytest.mark.parametrize("by", EVERYBODY, ids=str)


def at(place: str) -> list[Row]:
    """The rows of a place that name nobody."""
    found = [row for row in rows() if row.where == place and not row.role]
    assert found, place
    return found


@pytest.fixture(scope="module")
def signed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SignedCentre]:
    from_elsewhere()  # made before anybody is signed in
    with signed_centre(tmp_path_factory.mktemp("everybody")) as made:
        papers(made.ids)
        yield made


@pytest.fixture(scope="module")
def opened(signed: SignedCentre) -> Any:
    """An attempt that the lead observes."""
    return signed.ids.open()


@contextmanager
def nothing_changes(c: Centre, caplog: pytest.LogCaptureFixture, *canaries: str) -> Iterator[None]:
    """Neither the ledger nor a byte of the folder; what people are called or somebody typed is in no line logged."""
    before = (c.ledger.head(), c.count(), bytes_of(c.ledger.folder))
    yield
    assert (c.ledger.head(), c.count(), bytes_of(c.ledger.folder)) == before
    assert not [one for one in (*PEOPLE, *canaries) if one in caplog.text]
    assert "Traceback" not in caplog.text


def bytes_of(folder: Path) -> dict[str, str]:
    """Every file of a folder by its hash; what readers of a database share beside it is nobody's data."""
    files = sorted(one for one in folder.rglob("*") if one.is_file() and one.suffix != ".db-shm")
    return {str(one): hashlib.sha256(one.read_bytes()).hexdigest() for one in files}


def refused_to(by: By, signed: SignedCentre, sight: Sight, text: str = "") -> bool:
    """Whether they may not reach it, told so in the one sentence."""
    asker = by.asker(signed)
    if asker.may(sight):
        return False
    with pytest.raises(RefusedError) as refusal:
        asker.require(sight)
    assert refusal.value.sentence.startswith(NOT_ALLOWED)
    assert not text or text not in refusal.value.sentence
    return True


# --- papers and tables that are taken away ---------------------------------------------------------------------------

FILES: dict[str, Taken] = {
    **{f"pdf: {name}": one for name, one in PRINTED.items()},
    **{f"csv: {name}": one for name, one in TABLES.items()},
}


@pytest.mark.parametrize("place", FILES)
def test_a_file_with_a_hostile_text_is_made_for_whoever_may_take_it_and_refused_alike_to_all_others(
    place: str, signed: SignedCentre, caplog: pytest.LogCaptureFixture
) -> None:
    """The first row's is made indeed, for the last who may have it; of the others the text itself is handed out.

    What is in a file does not hang on who takes it: the table's own test makes and reads back each.
    """
    one, first, *others = FILES[place], *at(place)
    one.put(signed.ids, first.text)
    with nothing_changes(signed.ids, caplog, *(row.text for row in (first, *others) if len(row.text) > 8)):
        for row in (first, *others):
            for by in EVERYBODY:
                said = _taken(by, signed, one.sight, row.text)
                if by.asker(signed).may(one.sight):
                    assert said == row.text.encode("utf-8"), (row.id, str(by))
                else:
                    assert isinstance(said, str), (row.id, str(by))
                    assert said.startswith(NOT_ALLOWED), (row.id, str(by))
                    assert not LEAKED.search(said), row.id
        last = [by for by in EVERYBODY if by.asker(signed).may(one.sight)][-1]
        with asking_as(last.asker(signed)):
            assert len(offers._made(one.sight, lambda: one.make(signed.ids), "a session")) > 100


def _taken(by: By, signed: SignedCentre, sight: Sight, text: str) -> bytes | str:
    """What a tap on the download comes to: the file, or why not."""
    asker = by.asker(signed)
    with asking_as(asker):
        try:
            return offers._made(sight, lambda: text, f"a session of {asker.person}")
        except CourseError as error:
            return error.sentence


# --- codes of sheets and of papers -----------------------------------------------------------------------------------


@everybody
def test_a_hostile_number_of_a_sheet_comes_to_the_same_for_each_role_or_is_not_asked_for(
    by: By, signed: SignedCentre, caplog: pytest.LogCaptureFixture
) -> None:
    c = signed.ids
    sheet = slate_sheet(c.ledger, c.sessions["pool-22"], Day(c).session.slates[0].id)
    with nothing_changes(c, caplog):
        for row in at("qr: a sheet's number"):
            if refused_to(by, signed, Sight.SLATE, row.text):
                continue
            with asking_as(by.asker(signed)):
                said = code((c, sheet), row.text)
            assert (said.refused or said.kept) == row.says, row.id


@pytest.fixture(scope="module")
def coded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SignedCentre, Any]]:
    """A centre with accounts and a key, and codes of its papers."""
    from_elsewhere()
    with signed_centre(tmp_path_factory.mktemp("coded")) as made:
        yield made, with_papers(made.ids)


@everybody
def test_a_hostile_code_of_a_paper_is_refused_to_each_role_in_the_same_words(
    by: By, coded: tuple[SignedCentre, Any], caplog: pytest.LogCaptureFixture
) -> None:
    """Check a paper is open to everybody. What a code that can be read comes to is searched for, for one of them."""
    signed, codes = coded
    slowly = by == EVERYBODY[-1]
    with nothing_changes(signed.ids, caplog):
        for row in [row for row in at("qr: a paper's code") if slowly or row.expected == "refused"]:
            assert by.asker(signed).may(Sight.CHECK)
            with asking_as(by.asker(signed)):
                said = typed(codes, row.text)
            assert (said.refused or said.kept) == row.says, row.id


# --- files that are handed over by whoever gave a PIN ----------------------------------------------------------------


@pytest.mark.parametrize("by", [one for one in EVERYBODY if one.by_pin], ids=str)
def test_a_hostile_file_of_waiting_marks_writes_nothing_for_whoever_gave_a_pin(
    by: By, signed: SignedCentre, opened: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """By password the page itself is tried, in the file beside this one."""
    with nothing_changes(signed.ids, caplog):
        for row in at("upload: Mark: file of waiting marks"):
            name, content = file_of(signed.ids, opened, row.text)
            if refused_to(by, signed, Sight.MARK) or not by.asker_may(Act.PRACTISE) or not name.endswith(".json"):
                continue
            with asking_as(by.asker(signed)):
                told = _handed_over(signed.ids, content)
            assert told.startswith("in part: ") or told in (row.says, NOT_THEIRS), (row.id, told)
            assert not LEAKED.search(told), row.id


def _handed_over(c: Centre, content: bytes) -> str:
    """What comes of a file of waiting marks of which nothing may be taken in."""
    try:
        answer = take_waiting_file(c.ledger, read_waiting_file(c.ledger, content))
    except CourseError as error:
        return error.sentence
    assert not answer.saved
    return f"in part: {answer.refused}"


# --- requests --------------------------------------------------------------------------------------------------------

PATHS = {
    "POST marks": serve.MARKS, "GET pulse": serve.PULSE, "POST slate": slate_route.SLATE, "GET font": "/course/fonts/x",
    "POST sign-in": SIGN_IN, "POST enter": ENTER, "POST first": ENTER, "POST switch": door_forms.SWITCH,
    "POST change": door_forms.CHANGE, "POST pin": door_forms.PIN, "POST leave": door_forms.LEAVE, "GET any": "/",
}  # fmt: skip
FORMS = {"POST enter", "POST first", "POST switch", "POST change", "POST pin", "POST leave"}


def test_every_route_of_the_table_is_sent_by_everybody() -> None:
    """But those of the rows that say whose session it is, or whose they made up."""
    named = {row.where.removeprefix("route: ") for row in rows() if row.where.startswith("route: ") and not row.role}
    assert {name for name in named if not name.endswith(", signed in")} - {"any"} == set(PATHS) - {"GET any"}


@everybody
def test_a_hostile_request_of_somebody_signed_in_writes_nothing_and_tells_nothing(
    by: By, signed: SignedCentre, opened: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """What is refused in the table is so to everybody; of the rest nothing breaks, whoever sends it."""
    sent = [
        (row, name, path) for name, path in PATHS.items()
        for row in at(f"route: {name.removeprefix('GET ')}" if name == "GET any" else f"route: {name}")
    ]  # fmt: skip
    with signed.served():
        with nothing_changes(signed.ids, caplog, WORDS):
            for row, name, path in sent:
                if row.expected == "refused":
                    _send(by, signed, opened, row, name, path)
        for row, name, path in sent:
            if row.expected != "refused":
                _send(by, signed, opened, row, name, path)


def _send(by: By, signed: SignedCentre, opened: Any, row: Row, name: str, path: str) -> None:
    asked = _sent(row.text, _names(signed.ids, opened) | {"$words": WORDS})
    token = signed.token(by.holder, "pin" if by.by_pin else "password")
    keys = KEYS if "client" in asked else None
    inner = Starlette(routes=[*serve.routes(), *slate_route.routes()])
    headers = {k: v for k, v in (OURS | asked.get("headers", {})).items() if v is not None}
    reply = call(
        Gate(Door(inner, sessions=signed.sessions), port=8571, keys=keys, names=["kelp.local"]),
        asked.get("method", name.split(" ", maxsplit=1)[0]), asked.get("path", path),
        headers={"cookie": f"{COOKIE}={token}"} | headers, body=_content(signed.ids, opened, asked, name),
        client=(asked["client"], 5000) if "client" in asked else HERE,
    )  # fmt: skip
    refuse_split_headers(reply)
    assert reply.status < 500, row.id
    assert not LEAKED.search(reply.text), row.id
    assert token not in reply.text, row.id


def _content(c: Centre, opened: Any, asked: dict[str, Any], name: str) -> bytes:
    if name in FORMS and "fields" in asked:
        return urlencode(asked["fields"]).encode()
    return _body(c, opened, asked)
