"""Which attack is tried at which kind of place, read out of `hostile_input.csv`; where none is, why it cannot occur.

Which rows belong to an attack is told by their family and by signs in their text. The attacks are of the kinds that the
OWASP Application Security Verification Standard 5.0.0 asks to be tested for; the list itself is our own (common
practice).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Protocol

PLACES = ("field", "page", "pdf", "csv", "qr", "bundle", "url", "route", "upload", "download", "yaml", "command")
AS = {"role": "field"}
"""A row by another role stands for the place that it acts on."""


class Row(Protocol):
    """What is needed of a row."""

    id: str
    family: str
    where: str
    input: str
    role: str

    @property
    def text(self) -> str:
        """The input as it goes in."""


PAPER, MARKDOWN, FORMULA, YAML, PACKED = (
    "markup on paper",
    "markdown, HTML",
    "formula",
    "YAML",
    "paths, links, swelling",
)
SHEETS, DATABASE, GUESSING, SESSIONS = "a spreadsheet's file", "database", "guessing", "sessions: fixed, stolen, ended"
ADDRESSES, CODES, LARGE = "by address, or made up", "forged, replayed, taken back", "too large, too deep"
NAMES, UNSEEN, STRANGERS, FONTS = "names of files, headers", "unseen, look-alike", "unknown laptop", "no font for it"
LINES = (
    PAPER, MARKDOWN, FORMULA, YAML, PACKED, SHEETS, DATABASE, GUESSING, SESSIONS, ADDRESSES, CODES, LARGE, NAMES,
    UNSEEN, STRANGERS, FONTS,
)  # fmt: skip

SIGNS = {
    PAPER: re.compile(r"<(?:img|a|b|i|script|font|para|br|link)\b|</|<!"),
    MARKDOWN: re.compile(r"\]\(|\*\w+\*|`|\$x\$|!\[|<\w+>"),
    FORMULA: re.compile(r"(?:^|\")[\s\u00a0\u200b\ufeff]*[=+@\uff1d\uff0b\uff0d\uff20]\w|^-\d|[\t\r]=|^'=|=\$code"),
    PACKED: re.compile(r"\.\./|\.\.%2f|/etc|[Cc]:\\|outside|a link|hard link|device|a lying size|swells|bomb|%00"),
    DATABASE: re.compile(r"OR '?1|DROP TABLE|1=1"),
    UNSEEN: re.compile(
        r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u00a0\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]"
        r"|u0000|u202e|u200b|ud800|\\0|udcff"
    ),
    LARGE: re.compile(
        r"deep|nested|bracket|indent|MB|without end|million|swells|bomb|3000|below nothing|any disk|9{20}"
    ),
    STRANGERS: re.compile(r"^accept "),
}
"""Signs of an attack in a row's text."""
FAMILIES = {
    PAPER: {"markup"}, FORMULA: {"formula"}, YAML: {"rubric file"}, DATABASE: {"sql"}, GUESSING: {"guess", "sign-in"},
    SESSIONS: {"forged session", "not signed in", "another page"}, ADDRESSES: {"another role", "another's ids"},
    CODES: {"forged code", "forged file", "forged", "handed over"}, LARGE: {"length", "giant", "number"},
    NAMES: {"file name", "header"}, UNSEEN: {"direction", "control marks", "half a letter", "look-alikes"},
    FONTS: {"letters without a font"},
}  # fmt: skip
_LONG = 1000

_KEPT = "what is kept came through a field, which refused it"
_OWN = "its name and kind are the program's own"
ONLY_AT: dict[str, tuple[set[str], str]] = {
    YAML: ({"yaml"}, "rubric files alone are read as YAML, from the folder; forms write theirs themselves"),
    SHEETS: (set(), "no file of a spreadsheet is read or written: tables are CSV"),
    GUESSING: (
        {"field", "route"},
        "passwords and PINs are given on forms of their own and to acts that confirm",
    ),
    SESSIONS: ({"route"}, "whose session it is goes with each request, whatever is asked for"),
    ADDRESSES: (
        {"field", "page", "url", "route", "upload", "download"},
        "whoever may is asked as the file is taken, the act is done or the command's folder is opened",
    ),
    CODES: ({"qr", "bundle", "upload", "route"}, "nothing that somebody else could have made or signed is read there"),
    NAMES: ({"download", "route"}, "no file is named and no header written by what is typed or handed over there"),
    STRANGERS: ({"bundle"}, "events come from another laptop in bundles alone"),
    FONTS: ({"pdf"}, "only paper is set in a typeface of the program's own; all else shows what the screen has"),
}
"""Where an attack can occur, and why it cannot elsewhere."""
REASONS: dict[str, dict[str, str]] = {
    FORMULA: {
        "page": "no spreadsheet opens a page",
        "download": _OWN,
        "yaml": "no table is made of a rubric file as such",
        "command": "no table holds a command's words",
    },
    PACKED: {"page": "no file is opened by a name that stands on a page", "download": _OWN},
    DATABASE: {
        "page": "a page asks by fields and addresses alone",
        "download": _OWN,
        "yaml": "a rubric's texts reach the database as a bound value alone, like a field's",
    },
    LARGE: {"page": _KEPT, "download": _OWN},
    UNSEEN: {"page": _KEPT, "pdf": _KEPT, "download": _OWN},
}
"""Why an attack that can occur at most places cannot at some."""


def why_not(line: str, place: str) -> str:
    """Why an attack cannot occur at a kind of place; empty where it can."""
    places, reason = ONLY_AT.get(line, (set(PLACES), ""))
    return reason if place not in places else REASONS.get(line, {}).get(place, "")


def lines_of(row: Row) -> set[str]:
    """The attacks that a row tries."""
    kind, told = kind_of(row), f"{row.text[:5000]}\n{row.input}"
    found = {line for line, sign in SIGNS.items() if sign.search(told)}
    found |= {line for line, families in FAMILIES.items() if row.family in families}
    found |= {LARGE} if len(row.text) > _LONG else set()
    found |= {ADDRESSES} if row.role else set()
    return {line for line in found if line not in ONLY_AT or kind in ONLY_AT[line][0]}


def kind_of(row: Row) -> str:
    """The kind of its place."""
    kind = row.where.partition(": ")[0]
    return AS.get(kind, kind)


def matrix(rows: Iterable[Row]) -> dict[tuple[str, str], list[str]]:
    """Ids of rows by attack and kind of place."""
    found: dict[tuple[str, str], list[str]] = {(line, place): [] for line in LINES for place in PLACES}
    for row in rows:
        for line in lines_of(row):
            found[line, kind_of(row)].append(row.id)
    return found
