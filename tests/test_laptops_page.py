"""The Laptops page and what it tells: who has what, a rehearsal before anything is taken in, and a bundle to carry."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre
from streamlit.testing.v1 import AppTest
from test_merging import laptop
from test_privacy_page import page, press, words

from course import moments
from course.actions import centre as founding
from course.actions.pad import take
from course.answers.centre_answer import centre
from course.answers.laptops import laptops
from course.errors import StorageError
from course.exchange.merging import hand_over, merge
from course.moments import now
from course.record.chain import event_hash
from course.screens import laptop_parts, serve
from course.storage.backup import backup, restore
from course.storage.ledger import Ledger, open_ledger
from course.storage.merging import Source, parts_of, take_in
from course.words import Role


@pytest.fixture
def shown(small_centre: Centre) -> Centre:
    """The small centre, behind the pages."""
    serve.start(small_centre.ledger, take)
    return small_centre


def second_laptop(c: Centre, place: Path, name: str = "Rhea Solander") -> Path:
    """A laptop that began from a backup and added one person by itself."""
    with laptop(place / "state-2"):
        backup(c.ledger.folder, place / "begin.tar")
        restore(place / "begin.tar", place / "second")
        with open_ledger(place / "second", write=True) as ledger:
            founding.add_person(ledger, c.lead, name=name, roles=[Role.STUDENT])
    return place / "second"


def carried(folder: Path, out: Path) -> tuple[Path, Path]:
    """A bundle and its keys."""
    with open_ledger(folder) as ledger:
        hand_over(ledger, out, keys=out.with_suffix(".json"))
    return out, out.with_suffix(".json")


def device_of(folder: Path) -> str:
    """The device that wrote last."""
    with open_ledger(folder) as ledger:
        head = ledger.head()
        event = ledger.event_at(head.chain, head.seq)
    assert event
    return event.device


def opened(c: Centre) -> AppTest:
    """The page, with the lead acting."""
    app = page("laptops")
    app.button_group(key="laptops-actor").set_value(c.lead).run()
    assert not app.exception
    return app


def upload(app: AppTest, bundle: Path, keys: Path | None = None) -> AppTest:
    """Choose files on the page."""
    app.file_uploader(key="laptops-bundles").set_value([("b.zip", bundle.read_bytes(), "application/zip")])
    if keys:
        app.file_uploader(key="laptops-keys").set_value(("k.json", keys.read_bytes(), "application/json"))
    app.run()
    assert not app.exception
    return app


def merged_into(ledger: Ledger, actor: str, other: Path, bundle: Path, *, accept: bool = True) -> Any:
    """Take in what another laptop has."""
    made, keys = carried(other, bundle)
    return merge(ledger, actor, [made], keys=keys, accept=[device_of(other)] if accept else [])


def test_one_laptop_alone_says_so(shown: Centre) -> None:
    app = page("laptops")
    assert "Everything here was written on this laptop" in words(app)
    (number,) = {one.device[-4:] for one in shown.ledger.events()}
    assert f"■ This laptop, number {number}: " in words(app)


def test_a_ledger_that_was_put_back_ends_with_what_the_program_wrote_and_nobody_unknown(
    small_centre: Centre, tmp_path: Path
) -> None:
    with laptop(tmp_path / "state-2"):
        backup(small_centre.ledger.folder, tmp_path / "kept.tar")
        restore(tmp_path / "kept.tar", tmp_path / "back")
        with open_ledger(tmp_path / "back", write=True) as ledger:
            told = [one.words for one in laptops(ledger).laptops if one.is_this]
    assert len(told) == 1
    assert " here, the last by itself on " in told[0]


def test_a_ledger_that_was_continued_twice_is_told_first_and_explained(shown: Centre) -> None:
    """The last event once more with another time, as a copy of the folder would have written it."""
    last = list(shown.ledger.events())[-1]
    bare = last._replace(recorded_at="2026-10-01T00:00:00.000000Z")
    other = bare._replace(hash=event_hash(bare))
    take_in(shown.ledger, [Source("copy", parts_of([other]), lambda: iter([other]))])
    app = page("laptops")
    assert "A ledger was continued twice, and somebody has to look at both" in words(app)
    (told,) = (one.value for one in app.warning)
    assert f"forks at event {last.seq} (1 place with more than one event)" in told
    assert "Every branch is kept and counts." in told


def test_what_a_laptop_has_still_to_bring_and_to_get_is_counted(shown: Centre, tmp_path: Path) -> None:
    """Told from what merges and days that were closed named as known."""
    c = shown
    other = second_laptop(c, tmp_path)
    merged_into(c.ledger, c.lead, other, tmp_path / "b.zip")
    answer = laptops(c.ledger)
    assert answer.sentence == f"All that is known of is here. To hand over to: Laptop {device_of(other)[-4:]}."
    assert [(one.is_this, one.to_bring, one.to_get) for one in answer.laptops] == [(True, 0, None), (False, 0, None)]
    with laptop(tmp_path / "state-2"), open_ledger(other, write=True) as ledger:
        back = carried(c.ledger.folder, tmp_path / "back.zip")
        merge(ledger, c.lead, [back[0]], keys=back[1], accept=[device_of(c.ledger.folder)])
        founding.add_person(ledger, c.lead, name="Ilvar Menning", roles=[Role.STUDENT])
    merged_into(c.ledger, c.lead, other, tmp_path / "b2.zip", accept=False)
    (_, second) = laptops(c.ledger).laptops
    assert (second.to_bring, second.to_get) == (0, 0)
    founding.add_person(c.ledger, c.lead, name="Osric Vell", roles=[Role.STUDENT])
    (_, second) = laptops(c.ledger).laptops
    assert second.to_get == 1
    assert second.words.endswith("1 event here that it did not know when it last said what it knows.")


def test_a_laptop_whose_clock_is_half_an_hour_ahead_is_told_once_its_events_are_here(
    shown: Centre, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By what it wrote and when that was taken in; a clock that is right is not told of."""
    c = shown
    with monkeypatch.context() as ahead:
        ahead.setattr(moments, "now", lambda: now() + timedelta(minutes=30))
        other = second_laptop(c, tmp_path)
    (tmp_path / "right").mkdir()
    third = second_laptop(c, tmp_path / "right", "Osric Vell")
    merged_into(c.ledger, c.lead, third, tmp_path / "third.zip")
    assert laptops(c.ledger).clocks == ()
    merged_into(c.ledger, c.lead, other, tmp_path / "b.zip")
    (told,) = laptops(c.ledger).clocks
    assert told.startswith(f"The clock of laptop {device_of(other)[-4:]} was at least 29 minutes ahead of that of ")
    assert told in [one.value for one in page("laptops").warning]


def test_a_bundle_is_rehearsed_the_device_asked_for_and_then_taken_in(shown: Centre, tmp_path: Path) -> None:
    """Nothing is changed before the button; afterwards the name can be read."""
    c = shown
    other = second_laptop(c, tmp_path)
    before = c.count()
    app = upload(opened(c), *carried(other, tmp_path / "b.zip"))
    assert f"nobody accepted laptop {device_of(other)[-4:]} yet" in words(app)
    assert "tick it above" in words(app)
    assert "--accept" not in words(app)
    assert c.count() == before
    app.checkbox[0].check().run()
    assert "Among them 1 person." in words(app)
    assert c.count() == before
    press(app, "Take in")
    assert "Among them 1 person." in words(app)
    assert any(one.shown == "Rhea Solander" for one in centre(c.ledger).people)


def test_a_rehearsal_that_fails_once_a_laptop_is_accepted_says_why(
    shown: Centre, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when a database server goes away between two taps: else the page would end there without a word."""
    rehearse = laptop_parts.merge

    def goes_away(*args: Any, **named: Any) -> Any:
        if named["accept"]:
            raise StorageError("The ledger cannot be read: the server does not answer.")
        return rehearse(*args, **named)

    monkeypatch.setattr(laptop_parts, "merge", goes_away)
    app = upload(opened(shown), *carried(second_laptop(shown, tmp_path), tmp_path / "b.zip"))
    app.checkbox[0].check().run()
    assert "The ledger cannot be read: the server does not answer." in words(app)
    assert "Take in" not in {button.label for button in app.button}


def test_what_waits_is_told_and_can_be_taken_in_without_the_stick(shown: Centre, tmp_path: Path) -> None:
    """Somebody took a bundle in before its laptop was accepted, and the stick is gone."""
    c = shown
    other = second_laptop(c, tmp_path)
    before = c.count()
    press(upload(opened(c), *carried(other, tmp_path / "b.zip")), "Take in")
    assert c.count() == before
    app = opened(c)
    assert "1 bundle came here and could not be taken in whole yet" in words(app)
    app.checkbox(key="laptops-waiting").check().run()
    app.checkbox[1].check().run()
    press(app, "Take in")
    assert c.count() > before
    assert "Among them 1 person." in words(app)
    assert "could not be taken in whole" not in words(app)
    assert "Findings tells it" not in words(app)  # nothing came that laptops can say otherwise


def test_a_file_that_is_no_bundle_is_told_and_nothing_is_changed(shown: Centre, tmp_path: Path) -> None:
    c, before = shown, shown.count()
    (tmp_path / "x.zip").write_bytes(b"PK no")
    app = upload(opened(c), tmp_path / "x.zip")
    (told,) = (one.value for one in app.warning)
    assert told.startswith("b.zip was not read: it is no whole zip file: a copy of it may have broken off.")
    assert shown.count() == before
    assert not [button for button in app.button if button.label == "Take in"]


def test_a_bundle_to_carry_away_is_whole(shown: Centre) -> None:
    app = press(opened(shown), "Put the bundle together")
    bundle, keys = app.session_state["laptops-handed"][1]
    with zipfile.ZipFile(io.BytesIO(bundle)) as packed:
        assert packed.testzip() is None
    assert b'"ledger-keys"' in keys
