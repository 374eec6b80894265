"""Hostile pages, addresses, files that are handed over and files that are taken away, by each role and office.

Each row of `hostile_input.csv` that anybody may try is tried here by everybody who may sign in, with each role or
office alone, by password and by PIN. Whoever may see the place reads the row's own sentence; whoever may
not reads one refusal, the same whatever the text is. Nobody writes anything, and nothing of the inside is told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import hostile_merges
import hostile_screens
import pytest
from hostile_arrivals import arriving
from hostile_checks import LONG, content_of
from hostile_desk import Drive, Said
from hostile_fields import from_elsewhere
from hostile_papers import filled
from hostile_roles import asking_as
from hostile_screens import (
    BAIT,
    GENERATED,
    LEAKED,
    NOT_YOURS,
    PAGES,
    URLS,
    baited,
    not_open,
    refuse_traceback,
    shown,
    told_on,
    unescaped,
    upload,
)
from signed_centre import SignedCentre, signed_centre
from streamlit.elements.widgets.button import ButtonMixin
from test_hostile_input import PEOPLE, Row, rows

from course.access import TABLE, Act, Holder, Sight
from course.asker import Asker
from course.exchange import paper_file
from course.exchange.paper_file import read_paper
from course.screens import check_parts
from course.words import Office, Role

OTHER_NAME = "Somebody is signed in here, and nobody acts in another's name"
NOT_THEIRS = "These taps are somebody else's. They wait on this tablet until that person signs in on it. NOT saved yet."


@dataclass(frozen=True)
class By:
    """Who tries it: one role or office, by password or by PIN."""

    holder: Holder
    by_pin: bool = False

    def __str__(self) -> str:
        return f"{self.holder}{', by PIN' if self.by_pin else ''}"

    def asker_may(self, right: Act) -> bool:
        return Asker("", frozenset({self.holder}), by_pin=self.by_pin).may(right)

    def asker(self, signed: SignedCentre) -> Asker:
        return Asker(signed.people[self.holder], frozenset({self.holder}), by_pin=self.by_pin, name="Somebody")


EVERYBODY = [By(holder, by_pin=by_pin) for by_pin in (False, True) for holder in TABLE]
everybody = pytest.mark.parametrize("by", EVERYBODY, ids=str)
AT_A_PAGE = [one for one in EVERYBODY if not one.by_pin or one.holder == Role.LEAD]
"""Where each row has the page drawn; all others by PIN make the same direct calls in `test_hostile_everybody.py`."""
at_a_page = pytest.mark.parametrize("by", AT_A_PAGE, ids=str)


def of(place: str) -> list[Row]:
    """The rows of a place that anybody may try."""
    found = [row for row in rows() if row.where.startswith(place) and not row.role]
    assert found
    return found


@pytest.fixture(scope="module")
def signed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SignedCentre]:
    from_elsewhere()  # made before anybody is signed in
    with signed_centre(tmp_path_factory.mktemp("by-role")) as made:
        filled(made.ids)
        yield made


@pytest.fixture(scope="module")
def opened(signed: SignedCentre) -> Any:
    """An attempt that the lead observes."""
    return signed.ids.open()


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SignedCentre]:
    """Everybody and everything in it is called by the text."""
    with signed_centre(tmp_path_factory.mktemp("named")) as made:
        baited(made.ids)
        yield made


@pytest.fixture(autouse=True)
def _nothing_is_written_or_logged(request: pytest.FixtureRequest, caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    """The ledger's head, the files of the folder, and what the log may say; for every test here."""
    centre = request.getfixturevalue("named" if "named" in request.fixturenames else "signed").ids
    if "opened" in request.fixturenames:
        request.getfixturevalue("opened")
    folder = centre.ledger.folder
    before = (centre.ledger.head(), centre.count(), sorted(folder.rglob("*")))
    yield
    assert (centre.ledger.head(), centre.count(), sorted(folder.rglob("*"))) == before
    assert not [name for name in (*PEOPLE, BAIT) if name in caplog.text]
    assert "Traceback" not in caplog.text


# --- addresses ------------------------------------------------------------------------------------------------------


@everybody
def test_a_hostile_address_comes_to_the_same_for_each_role_or_to_that_pages_one_refusal(
    by: By, signed: SignedCentre
) -> None:
    asker, closed = by.asker(signed), dict[str, dict[str, list[str]]]()
    for row in of("url: "):
        name = row.where.removeprefix("url: ")
        page, _, params = name.partition("?")
        if not asker.may(Sight(f"page {page}")):
            for param in params.split("&"):
                closed.setdefault(page, {}).setdefault(param.rstrip("="), []).append(row.text)
            continue
        with asking_as(asker):
            said = URLS[name].act(signed.ids, row.text)
        assert _as_the_row(row, said, by), (row.id, said)
        assert not LEAKED.search(said.refused), row.id
        assert by.holder != Role.STUDENT or not [one for one in PEOPLE if one != "Amaru Tendelle" and one in _all(said)]
    for page, texts in closed.items():  # nobody reads the address of a page that is not open: all of them at once
        with asking_as(asker):
            app = hostile_screens.app_of(signed.ids, page, texts)
        refuse_traceback(app)
        if page == "today":  # where everybody begins leads to what is open to them
            continue
        sentence = not_open(app)
        assert f"page {page}" in sentence
        assert sentence.startswith(("Only somebody who is", "A PIN is not enough"))
        assert not [one for one in PEOPLE if one in shown(app)]


def _as_the_row(row: Row, said: Said, by: By) -> bool:
    """The row's sentence or title; a student is led to their own, and nobody gives out a line in another's name."""
    if by.holder == Role.STUDENT and said.kept in ("Show why", "Amaru Tendelle"):
        return row.where.startswith(("url: why", "url: student"))
    if row.where == "url: mark?line=" and said.refused.startswith(OTHER_NAME):
        return True
    needs = {"mark": Act.PRACTISE, "slate": Act.RUN_DAY}.get(row.where.removeprefix("url: ").partition("?")[0])
    if needs and not by.asker_may(needs) and said.kept.startswith(NOT_YOURS):
        return True
    return (said.refused or said.kept) == (row.says or row.text)


def _all(said: Said) -> str:
    return f"{said.refused} {said.kept}"


# --- pages, and what they offer to take away -------------------------------------------------------------------------


@everybody
def test_a_page_shows_a_hostile_text_as_text_to_each_role_that_may_see_it_and_to_nobody_else(
    by: By, named: SignedCentre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The files that it offers are named by the program, for whoever is offered them."""
    offered, names = ButtonMixin._download_button, list[str]()

    def noted(*given: Any, **more: Any) -> Any:
        names.append(str(more["file_name"]))
        return offered(*given, **more)

    monkeypatch.setattr(ButtonMixin, "_download_button", noted)
    asker, silent, closed = by.asker(named), set[str](), set[str]()
    for name, drive in PAGES.items():
        if name == "papers, several" and by.holder == Role.STUDENT:
            continue  # a student is offered their own paper alone: the choice is not there
        page = name.partition(",")[0]
        if page in closed:
            continue  # of a page that is not open nothing is drawn, whatever its address asks for
        with asking_as(asker):
            if asker.may(Sight(f"page {page}")):
                if not _shown(drive, named):
                    silent.add(name)
                continue
            closed.add(page)
            before = len(names)
            app = hostile_screens.app_of(named.ids, page, {})
        refuse_traceback(app)
        if page != "today":
            assert f"page {page}" in not_open(app)
            assert BAIT not in unescaped(shown(app))
            own = {"take-home.pdf"} if page == "course" else set()  # their first page was drawn before it
            assert set(names[before:]) <= own, name
    assert all(GENERATED.fullmatch(one) for one in names)
    assert silent == {name for name in SILENT.get(by.holder, set()) if asker.may(Sight(f"page {name}"))}


def _shown(drive: Drive, named: SignedCentre) -> bool:
    """Whether the page shows the text, and then as text; a page that shows nothing of it says so to the test."""
    try:
        said = drive.act(named.ids, BAIT)
    except AssertionError as error:
        if "the page does not show it" not in str(error):
            raise
        return False
    assert said.kept == BAIT, said.kept
    return True


SILENT: dict[Holder, set[str]] = {Office.AUDITOR: {"mark", "privacy", "slate"}}
"""Pages that are open to them and have nothing of theirs to show there."""


# --- files that are handed over -------------------------------------------------------------------------------------


@at_a_page
def test_a_file_of_waiting_marks_comes_to_the_same_for_each_role_or_is_not_taken(
    by: By, signed: SignedCentre, opened: Any
) -> None:
    """Taps of somebody else wait for them; where the page is not open, it says so whatever the file is."""
    asker, told = by.asker(signed), set[str]()
    for row in of("upload: Mark: "):
        with asking_as(asker):
            said = upload((signed.ids, opened), row.text).refused
        if not asker.may(Sight.MARK):
            told.add(said)
            break  # nothing is there to hand a file over to
        if not asker.may(Act.PRACTISE):
            assert said == "not offered", row.id
        else:
            assert said == row.says or (said == NOT_THEIRS and by.holder != Role.LEAD), row.id
    assert len(told) == (not asker.may(Sight.MARK))
    assert all("page mark" in one for one in told)


@everybody
def test_a_hostile_transfer_file_is_taken_from_nobody_and_another_role_is_told_who_takes_them_in(
    by: By, signed: SignedCentre
) -> None:
    """By direct call: what is no such file is refused before it is asked who shows it."""
    asker, told = by.asker(signed), set[str]()
    for row in of("upload: Ready: transfer file"):
        with asking_as(asker):
            said = arriving(signed.ids, row.text)
        assert said.refused, row.id
        if said.refused != row.says:
            told.add(said.refused)
    if by == By(Role.LEAD):
        assert told == set()
    else:
        (sentence,) = told
        assert sentence.endswith("Nothing was changed.")
        assert ("sign a standing" in sentence) is (not asker.may(Act.SIGN)) or "lead of this course alone" in sentence


@pytest.fixture(scope="module")
def _papers_read_once() -> Iterator[None]:
    """What is read of a file does not hang on who shows it: it is read once, and told to each."""
    kept: dict[bytes, Any] = {}

    def once(content: bytes) -> Any:
        if content not in kept:
            try:
                with pytest.MonkeyPatch.context() as sooner:
                    if content in [content_of(name) for name in LONG]:
                        sooner.setattr(paper_file, "_SECONDS", 2)
                    kept[content] = read_paper(content)
            except Exception as error:
                kept[content] = error
        if isinstance(kept[content], Exception):
            raise kept[content]
        return kept[content]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(check_parts, "read_paper", once)
        yield


@at_a_page
@pytest.mark.usefixtures("_papers_read_once")
def test_a_hostile_paper_is_told_the_same_on_the_page_to_every_role(by: By, signed: SignedCentre) -> None:
    """Check a paper is open to everybody, a PIN too."""
    with asking_as(by.asker(signed)):
        for row in of("upload: Check a paper: file"):
            app = hostile_screens.app_of(signed.ids, "check", {})
            (box,) = app.file_uploader
            app = box.set_value(("paper.pdf", content_of(row.text), "application/pdf")).run()
            refuse_traceback(app)
            heading = next(str(one.value) for one in app.markdown if str(one.value).startswith("## "))
            assert row.says in (told_on(app)[:1] or [unescaped(heading.removeprefix("## "))]), row.id


def test_everybody_who_may_sign_in_tries_every_row() -> None:
    assert {(by.holder, by.by_pin) for by in EVERYBODY} == {(one, by_pin) for one in TABLE for by_pin in (False, True)}


# bundles and keys of another laptop

BUNDLES = ("bundle: a bundle of another laptop", "bundle: a file of keys")


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SignedCentre, Any]]:
    """A centre with accounts, and what another laptop of it hands over."""
    folder = tmp_path_factory.mktemp("bundles")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with signed_centre(folder) as made:
            centre, there = hostile_merges.from_elsewhere(made.ids)
            patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
            yield made, (centre, there)


@everybody
def test_a_hostile_bundle_or_file_of_keys_of_another_laptop_is_refused_alike_to_whoever_may_not_merge(
    by: By, elsewhere: tuple[SignedCentre, Any]
) -> None:
    made, (centre, there) = elsewhere
    asker, before = by.asker(made), (centre.ledger.head(), sorted(Path(centre.ledger.folder).rglob("*")))
    for place, drive in zip(BUNDLES, (hostile_merges.bundle, hostile_merges.keys), strict=True):
        for row in of(place):
            if asker.may(Act.SET_UP) and row.expected != "refused":
                continue  # what is taken in of it stays: once is enough, in the table's own test
            with asking_as(asker):
                said = drive((replace(centre, lead=asker.person), there), row.text)
            if asker.may(Act.SET_UP):
                assert said.refused == row.says, row.id
                continue
            assert said.refused.startswith(("Only somebody who is", "A PIN is not enough")), (row.id, said)
            assert "set up people, units, courses and sessions" in said.refused
    assert (centre.ledger.head(), sorted(Path(centre.ledger.folder).rglob("*"))) == before
