"""Hostile input: each row of `hostile_input.csv` goes through the real code, and what is said or kept is the table's.

A row is refused with its very sentence and adds nothing, or its text is kept and shown as nothing but text, or what
cannot be kept of it is cleaned away. No answer tells of the program's inside, of a path or of somebody else. The attack
families are those that the OWASP Application Security Verification Standard 5.0.0 asks to be tested for; the table
itself is our own (common practice). `course/guide/verification.md` names the items.
"""

from __future__ import annotations

import csv
import json
import re
import socket
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre
from hostile_arrivals import ARRIVALS
from hostile_checks import CHECKS, PAPER_CODES
from hostile_desk import Desk, Drive, Said, driven
from hostile_fields import NOBODY_FILLS, READY
from hostile_files import BUNDLES, CODES, COMMANDS, YAML
from hostile_merges import MERGES
from hostile_papers import CSV, PDF
from hostile_roles import HOLDERS, as_holder, somebody_cheap
from hostile_routes import ROUTES
from hostile_screens import DOWNLOADS, LEAKED, PAGES, UPLOADS, URLS, app_of, refuse_traceback

from course.access import Holder
from course.actions import centre as founding
from course.errors import CourseError, RefusedError
from course.record.body import Private
from course.record.events import KINDS
from course.record.text import look_alike_note
from course.storage.ledger import open_ledger
from course.words import Role

TABLE = Path(__file__).parent / "hostile_input.csv"
PEOPLE = ("Bruno Ashkenar", "Lien Ito", "Jorun Vask", "Amaru Tendelle", "O'Brien")


@dataclass(frozen=True)
class Row:
    """One row: what goes in where, and what is to come of it."""

    id: str
    family: str
    where: str
    input: str
    expected: str
    says: str
    role: str = ""
    """Who is signed in, by their one role or office; empty: whoever has the folder, or whom the place names."""

    @property
    def text(self) -> str:
        """The input; `@WORD N` is a word N times, the rest is escaped as in JSON."""
        if found := re.fullmatch(r"@(.+) (\d+)", self.input):
            return str(json.loads(f'"{found[1]}"')) * int(found[2])
        return str(json.loads(f'"{self.input}"'))


def rows() -> list[Row]:
    """The table as it stands."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        return [Row(**plain) for plain in csv.DictReader(file, restval="")]


ADDED = {"CentreMade", "PersonAdded", "SessionPlanned", "GroupMade", "CourseMade"}
"""Kinds of which there may be one more any time."""

# --- fields -------------------------------------------------------------------------------------------------------


def field(name: str) -> Drive:
    """A text that people fill: the act takes it or refuses it; what was kept is read out of the ledger again."""

    def ready(c: Centre) -> tuple[Centre, Any]:
        return c, READY[name](c)

    def act(made: tuple[Centre, Any], text: str) -> Said:
        c, taking = made
        before = c.count()
        try:
            folder = taking(text)
        except CourseError as error:
            return Said(refused=error.sentence)
        if isinstance(folder, Path):
            with open_ledger(folder) as other:
                return Said(kept=_kept(list(other.events()), other, text))
        new = list(c.ledger.events())[before:]
        return Said(kept=_kept(new, c.ledger, text), events=len(new))

    return Drive(f"field {name}", ready, act, again=name.partition(".")[0] in ADDED)


def _kept(events: list[Any], ledger: Any, text: str) -> str:
    """The sealed text that comes nearest to what was given: the same letters, however they were written."""
    found = list(_texts([ledger.private_of(event) for event in events]))
    return text if text in found else min(found, key=lambda kept: abs(len(kept) - len(text)), default="")


def _texts(plain: Any) -> Iterator[str]:
    for inner in plain.values() if isinstance(plain, dict) else plain if isinstance(plain, list) else ():
        yield from [inner] if isinstance(inner, str) else _texts(inner)


# --- roles --------------------------------------------------------------------------------------------------------


def by_role(holder: Holder, name: str) -> Drive:
    """The same act by somebody of another role or office."""

    def ready(c: Centre) -> tuple[Centre, Any]:
        if isinstance(holder, Role):
            actor, taking = somebody_cheap(c, holder), READY[name](c)
        else:
            taking, actor = READY[name](c), somebody_cheap(c, holder)
        c.lead = actor  # what was made ready reads it as it acts
        return c, taking

    return replace(field(name), place=f"role {holder} {name}", ready=ready)


# --- the table ----------------------------------------------------------------------------------------------------

PLACES: dict[str, dict[str, Drive]] = {
    "field": {name: field(name) for name in READY},
    "role": {f"{holder}, {name}": by_role(holder, name) for holder in HOLDERS.values() for name in READY},
    "page": PAGES,
    "url": URLS,
    "upload": UPLOADS | ARRIVALS | CHECKS,
    "download": DOWNLOADS,
    "pdf": PDF,
    "csv": CSV,
    "route": {name: driven(f"route {name}", ready) for name, ready in ROUTES.items()},
    "yaml": YAML,
    "bundle": BUNDLES | MERGES,
    "qr": CODES | PAPER_CODES,
    "command": COMMANDS,
}


def drive_of(row: Row) -> Drive:
    """What drives a row: its place, such as `field: PersonAdded.name`, for whoever is signed in."""
    kind, _, name = row.where.partition(": ")
    drive = PLACES[kind][name]
    return as_holder(drive, HOLDERS[row.role]) if row.role else drive


@pytest.fixture(scope="module")
def desk(built_centre: tuple[Path, Centre], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """The copies that the rows work on; put away in the end."""
    base, centre = built_centre
    made = Desk(base, centre, tmp_path_factory.mktemp("hostile") / "state")
    yield made
    made.close()


@pytest.fixture
def own_centre(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Centre:
    """The small centre as it was built, for a test that is no row."""
    centre, _ = desk.at(Drive("alone", lambda c: c, lambda made, text: Said()), monkeypatch)
    return centre


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of what is typed sends anything anywhere."""

    def refused(own: socket.socket, address: Any) -> None:
        raise AssertionError(f"a connection to {address}")

    monkeypatch.setattr(socket.socket, "connect", refused)


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("row", sorted(rows(), key=lambda row: drive_of(row).place), ids=lambda row: row.id)
def test_hostile_input_is_refused_in_a_sentence_or_taken_as_text_and_changes_nothing_else(
    row: Row, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    drive = drive_of(row)
    centre, made = desk.at(drive, monkeypatch)
    before = centre.count()
    said = drive.act(made, row.text)
    grown = centre.count() - before
    if row.expected == "refused":
        assert (said.refused, grown) == (row.says, said.events)
        assert not LEAKED.search(said.refused)
        if not row.where.startswith("command: "):  # whoever has the folder is told who there is to name
            assert not [name for name in PEOPLE if name in said.refused]
    elif row.expected == "literal":
        assert said.refused == ""
        assert (said.kept, grown) == (row.text, said.events)
    else:
        assert row.expected == "cleaned"
        assert said.refused == ""
        assert (said.kept, grown) == (str(json.loads(f'"{row.says}"')), said.events)


def test_the_table_has_every_place_and_no_row_twice() -> None:
    found = rows()
    assert len(found) >= 1100
    assert len({row.id for row in found}) == len(found) == len({(row.where, row.input, row.role) for row in found})
    assert {row.where.partition(": ")[0] for row in found} == set(PLACES)
    assert all(row.says for row in found if row.expected != "literal")
    acting = {row.where.removeprefix("role: ").partition(",")[0] for row in found if row.where.startswith("role: ")}
    assert acting == {*HOLDERS} - {Role.LEAD}  # whose rows are those without a role
    assert {row.role for row in found} == {"", *HOLDERS} - {Role.LEAD}
    assert min(Counter(row.family for row in found).values()) >= 2


def test_every_text_that_people_fill_is_in_the_table() -> None:
    """Every private text of every kind of event has an act here; the table tries it with markup and unseen marks."""
    texts = {
        f"{model.__name__}.{name}"
        for model in KINDS.values()
        for name, part in model.model_fields.items()
        if any(isinstance(mark, Private) for mark in part.metadata)
        and re.search("clean_(line|note)", str(part.annotation))
    }
    driven_texts = {name.partition(" (")[0] for name in READY}
    assert texts - NOBODY_FILLS - driven_texts == set()
    tried = Counter(row.where.partition(": ")[2] for row in rows() if row.where.startswith("field: "))
    assert [name for name in READY if tried[name] < 3] == []


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("P\u0430ul Tendelle", "“P\u0430ul” has Latin and Cyrillic letters in one word."),
        ("\u0391maru", "“\u0391maru” has Latin and Greek letters in one word."),
        ("Tamsin \uff21maru", "“\uff21maru” has Latin and Fullwidth letters in one word."),
        ("Amaru \u0422\u0435\u043d\u0434\u0435\u043b", ""), ("Zo\u00eb O'Brien-\u00dcnal", ""),
        ("\u0391\u03b8\u03b7\u03bd\u03ac", ""),
    ],
)  # fmt: skip
def test_letters_of_two_alphabets_in_one_word_are_told_and_kept(typed: str, told: str) -> None:
    """Unicode Technical Standard 39, section 5 (mixed scripts), simplified; from memory."""
    assert look_alike_note(typed).startswith(told) if told else look_alike_note(typed) == ""


def test_a_name_that_only_looks_like_another_is_asked_about_and_never_taken_for_it(own_centre: Centre) -> None:
    """Two people, one with a Cyrillic letter: the second is told of, and is entered as somebody else."""
    c = own_centre
    before, odd = c.count(), "Am\u0430ru Tendelle"
    plain = {"name": odd, "roles": [Role.STUDENT], "birth_date": "1998-02-03"}
    with pytest.raises(RefusedError, match="Amaru Tendelle, born on the same day, is in the centre already"):
        founding.add_person(c.ledger, c.lead, **plain)
    assert c.count() == before
    other = founding.add_person(c.ledger, c.lead, **plain, others=[c.amaru])
    assert (other != c.amaru, c.count()) == (True, before + 1)


def test_the_page_tells_of_look_alike_letters_as_a_person_is_entered(own_centre: Centre) -> None:
    app = app_of(own_centre, "people", {})
    app.text_input[1].set_value("P\u0430ul Ashkenar")
    next(button for button in app.button if button.label == "Enter the person").click().run()
    refuse_traceback(app)
    (told,) = (str(one.value) for one in app.warning)
    assert told.startswith("P\u0430ul Ashkenar is entered. “P\u0430ul” has Latin and Cyrillic letters in one word.")
