"""A merge by the Laptops page while the database server goes away or hangs: what is told there, and what is kept."""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre
from postgresql_server import PostgresqlServer
from streamlit.testing.v1 import AppTest
from test_laptops_page import carried, opened, second_laptop, upload
from test_privacy_page import press

from course.actions.pad import take
from course.answers.centre_answer import centre
from course.exchange import merging as exchange
from course.screens import laptop_parts, serve
from course.storage import merging, patience, postgresql, writer
from course.storage.inspection import verify

_in_earnest: list[bool] = []
"""Holds something while the page merges and does not only rehearse."""
_UNREAD = "The ledger cannot be read: the database server does not answer or sent this program away. See that it runs "
_UNREAD += "and that ledger.url names it rightly, then do it again."


@pytest.fixture
def database_kind() -> str:
    """On a server, which alone can go away."""
    return "postgresql"


@pytest.fixture
def rehearsed(small_centre: Centre, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    """The page with another laptop's bundle rehearsed and its device accepted; a hanging server is given up soon."""
    monkeypatch.setattr(patience, "_WITHIN_S", ContextVar("within_s", default=1.0))
    monkeypatch.setattr(writer, "MERGING_S", 1.0)
    monkeypatch.setitem(postgresql._PATIENCE, "connect_timeout", 2)
    serve.start(small_centre.ledger, take)
    app = upload(opened(small_centre), *carried(second_laptop(small_centre, tmp_path), tmp_path / "b.zip"))
    app.checkbox[0].check().run()
    return app


def _first(before: Callable[[], None], then: Callable[..., Any]) -> Callable[..., Any]:
    """Do something before the first call of what is to be called, once it is in earnest."""
    left = [before]

    def both(*args: Any, **named: Any) -> Any:
        if left and _in_earnest:
            left.pop()()
        return then(*args, **named)

    return both


@pytest.fixture(autouse=True)
def _only_in_earnest(monkeypatch: pytest.MonkeyPatch) -> None:
    """The page rehearses at each run: the server goes away in the merge itself alone."""
    _in_earnest.clear()
    merge = exchange.merge

    def noted(*args: Any, **named: Any) -> Any:
        _in_earnest[:] = [] if named["rehearse"] else [True]
        return merge(*args, **named)

    monkeypatch.setattr(laptop_parts, "merge", noted)


@pytest.mark.parametrize("hangs", [False, True])
@pytest.mark.parametrize(
    ("where", "told"),
    [
        ("within", "NOT saved: the database server does not answer"),
        (
            "at its commit",
            "NOT saved: the database server went away before it said whether it keeps this, so it",
        ),
        (
            "after it",
            "The 2 events of the merge are in; then something went wrong: the ledger cannot be read",
        ),
    ],
)
def test_what_became_of_a_merge_is_told_and_the_same_once_more_is_whole(
    small_centre: Centre, rehearsed: AppTest, postgresql_server: PostgresqlServer, tmp_path: Path, *, hangs: bool,
    where: str, told: str,
) -> None:  # fmt: skip
    """Over the page that cannot be read meanwhile. Nothing is there twice, and nothing in part."""
    server, ledger = postgresql_server, small_centre.ledger
    go, come = (server.stand_still, server.go_on) if hangs else (lambda: server.stop("immediate"), server.start)
    before, dialect = small_centre.count(), ledger._any_writer().engine.dialect
    with pytest.MonkeyPatch.context() as patch:
        what: tuple[Any, str] = {
            "within": (merging, "write_facts"),
            "at its commit": (dialect, "do_commit"),
            "after it": (exchange, "_accept"),
        }[where]  # fmt: skip
        patch.setattr(*what, _first(go, getattr(*what)))
        try:
            press(rehearsed, "Take in")
        finally:
            come()
    assert [error.value[: len(told)] for error in rehearsed.error] == [told, _UNREAD[: len(told)]]
    assert not rehearsed.exception
    assert small_centre.count() in {"within": {before}, "at its commit": {before, before + 2}}.get(where, {before + 2})
    rehearsed.button(key="try-again").click().run()
    again = upload(opened(small_centre), *carried(tmp_path / "second", tmp_path / "again.zip"))
    for box in again.checkbox:
        box.check().run()
    press(again, "Take in")
    assert any(one.shown == "Rhea Solander" for one in centre(ledger).people)
    ids = [event.id for event in ledger.events()]
    assert len(ids) == len(set(ids))
    assert verify(ledger.folder).fine
