"""One person's own data as a file for them: the same twice, for people to read and for programs."""

from __future__ import annotations

import json
from collections.abc import Iterator
from html import escape
from pathlib import Path
from typing import Any

from course.access import Act
from course.actions.drafting import allow
from course.answers.own_data import OwnData, own_data
from course.exchange.archive import pack, packed
from course.storage.ledger import Ledger

FILE_NAME = "own-data.zip"
"""Without a name in it: file names are seen by others."""
_PAGE, _DATA = "own-data.html", "own-data.json"
_TITLES = {
    "person": "You",
    "papers": "Papers that were seen",
    "courses": "Courses",
    "sessions": "Where you were",
    "acts": "What you entered about others, as numbers",
    "events": "Every line of the ledger about you",
}
_STYLE = (
    "body{font:17px/1.45 sans-serif;color:#14181a;background:#fff;max-width:60rem;margin:2rem auto;padding:0 1rem}"
    "dl{display:grid;grid-template-columns:minmax(8rem,auto) 1fr;gap:0 1rem;margin:0}dt{font-weight:700}"
    "dd{margin:0;overflow-wrap:anywhere}li{margin:.5rem 0}"
)


def give_own_data(ledger: Ledger, actor: str, person: str, out: Path) -> OwnData:
    """Write everything that is kept about one person into a zip file, and return it. The ledger is not changed.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: the acting person may not, the data were erased, or there is a file of that name.
        StorageError: the file cannot be written.
    """
    told = _gathered(ledger, actor, person)
    pack(out, _members(told))
    return told


def own_data_bytes(ledger: Ledger, actor: str, person: str) -> bytes:
    """Return the same file as bytes, for a browser.

    Raises:
        NotFoundError: there is no such person.
        RefusedError: the acting person may not, or the data were erased.
    """
    return packed(_members(_gathered(ledger, actor, person)))


def _gathered(ledger: Ledger, actor: str, person: str) -> OwnData:
    allow(ledger, actor, Act.EXPORT)
    return own_data(ledger, person)


def _members(told: OwnData) -> list[tuple[str, Path | bytes]]:
    data = json.dumps(told.plain(), ensure_ascii=False, indent=1).encode()
    return [(_PAGE, page(told).encode()), (_DATA, data)]


def page(told: OwnData) -> str:
    """Return the data as one page without scripts, that asks nothing of any network."""
    plain = told.plain()
    parts = [f"<h2>{escape(title)}</h2>{_shown(plain[name])}" for name, title in _TITLES.items()]
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Own data</title>'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{_STYLE}</style></head><body><h1>Own data</h1><p>{escape(told.note)}</p>{''.join(parts)}</body></html>"
    )


def _shown(plain: Any) -> str:
    if isinstance(plain, dict):
        return f"<dl>{''.join(_pairs(plain))}</dl>" if plain else "<p>nothing</p>"
    if isinstance(plain, list):
        return f"<ul>{''.join(f'<li>{_shown(one)}</li>' for one in plain)}</ul>" if plain else "<p>nothing</p>"
    return escape("yes" if plain is True else "no" if plain is False else "" if plain is None else str(plain))


def _pairs(plain: dict[str, Any]) -> Iterator[str]:
    for name, value in plain.items():
        if value not in (None, [], {}):
            yield f"<dt>{escape(str(name).replace('_', ' '))}</dt><dd>{_shown(value)}</dd>"
