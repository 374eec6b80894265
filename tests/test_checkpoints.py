"""Verify compares old checkpoints with the chains: what a day's end saw must still stand there."""

from __future__ import annotations

from pathlib import Path

import pytest
from ledger_examples import a_unit, change, copy_of, drafted, look, new_centre

from course.moments import new_id, now, observed_at
from course.record.chain import event_hash
from course.record.events import CentreKeyMade, CentreKeyReplaced, CheckpointMade, CheckpointSigned, KnownHead
from course.storage.centre_key import SigningKey, new_key
from course.storage.inspection import Report, verify
from course.storage.ledger import Ledger, open_ledger


@pytest.fixture
def folder(tmp_path: Path, either_database: str | None) -> Path:
    """Four units, a checkpoint that names the head of then, and two more."""
    folder = tmp_path / "centre"
    with new_centre(folder, either_database) as ledger:
        ledger.append([a_unit() for _ in range(4)])
        chain, seq, digest, _ = ledger.head()
        ledger.append([_checkpoint(KnownHead(chain=chain, seq=seq, hash=digest))])
        ledger.append([a_unit(), a_unit()])
    return folder


def _checkpoint(*heads: KnownHead) -> object:
    return drafted(CheckpointMade(checkpoint=new_id(), course=new_id(), day="2026-10-22", heads=heads))


def _made_anew(folder: Path, from_seq: int) -> None:
    """Every event from a place on with another time of recording, and hashes that fit: what a keeper could do."""
    with open_ledger(folder) as ledger:
        events = sorted(ledger.events(), key=lambda one: one.seq)
    prev = events[from_seq - 2].hash
    for one in events[from_seq - 1 :]:
        new = one._replace(recorded_at="2026-01-01T00:00:00.000000Z", prev=prev)
        new = new._replace(hash=event_hash(new))
        prev = new.hash
        change(
            folder, "UPDATE event SET recorded_at = ?, prev = ?, hash = ? WHERE seq = ?", new.recorded_at,
            bytes.fromhex(new.prev), bytes.fromhex(new.hash), new.seq,
        )  # fmt: skip
    change(folder, "UPDATE head SET hash = ?", bytes.fromhex(prev))
    (folder / "ledger.head").unlink()


def _told(report: Report) -> list[str]:
    return [one for one in report.findings if one.startswith("When ")]


def test_a_ledger_whose_checkpoints_fit_says_nothing_of_them(folder: Path) -> None:
    report = verify(folder)
    assert report.fine
    assert not any("closed" in notice for notice in report.notices)


def test_a_head_that_was_made_anew_is_a_finding_though_its_chain_fits(folder: Path) -> None:
    """Nothing else sees it once the witness is gone: hashes, head and tables agree."""
    _made_anew(folder, 3)
    report = verify(folder)
    (told,) = _told(report)
    assert told.startswith("When 2026-10-22 was closed, event 6 of chain ")
    assert told.endswith(" was seen; another one stands there now.")
    assert not any("content is not what was hashed" in one for one in report.findings)


def test_what_was_made_anew_after_a_checkpoint_is_not_seen_by_it(folder: Path) -> None:
    """Said so that nobody takes a checkpoint for more than it is."""
    _made_anew(folder, 8)
    assert _told(verify(folder)) == []


def _signed(ledger: Ledger, key: SigningKey, *, by: str = "", over: KnownHead | None = None) -> object:
    """A checkpoint of the head as it is, signed; or by whom it was not, or over what it does not name."""
    chain, seq, digest, _ = ledger.head()
    named = KnownHead(chain=chain, seq=seq, hash=digest)
    made = CheckpointMade(checkpoint=new_id(), course=new_id(), day="2026-10-23", heads=(named,))
    said = made.model_copy(update={"heads": (over or named,)}).said(ledger.centre_id)
    return drafted(CheckpointSigned(**dict(made), public=by or key.public, signed=key.sign(said)))


def test_a_signed_checkpoint_holds_only_by_a_key_of_the_centre_over_the_very_heads_and_before_it_was_lost(
    folder: Path,
) -> None:
    """Whoever writes a ledger anew has no key to sign the new heads with."""
    key, other = new_key(), new_key()
    seen = {"observed": observed_at(now(), "UTC", "minute")}
    with open_ledger(folder, write=True) as ledger:
        centre = ledger.centre_id
        ledger.append([drafted(CentreKeyMade(centre=centre, public=key.public, **seen))])
        ledger.append([_signed(ledger, key)])
        assert verify(folder).fine
        last = ledger.head().seq
        wrong = [
            _signed(ledger, other), _signed(ledger, other, by=key.public),
            _signed(ledger, key, over=KnownHead(chain=ledger.head().chain, seq=1, hash="a" * 64)),
        ]  # fmt: skip
        ledger.append(wrong)
        ledger.append([drafted(CentreKeyReplaced(
            centre=centre, public=other.public, replaces=key.public, why="lost", **seen))])  # fmt: skip
        ledger.append([_signed(ledger, key), _signed(ledger, other)])
    told = _told(verify(folder))
    assert [one.partition(" of chain")[0] for one in told] == [
        f"When 2026-10-23 was closed, the checkpoint in event {seq}" for seq in (last + 1, last + 2, last + 3, last + 5)
    ]
    assert all(
        one.endswith("not by a key that the centre trusted then: it may have been written anew.") for one in told
    )


def test_a_chain_that_is_not_merged_yet_is_a_notice(folder: Path) -> None:
    with open_ledger(folder, write=True) as ledger:
        ledger.append([_checkpoint(KnownHead(chain="another", seq=9, hash="a" * 64))])
    report = verify(folder)
    assert report.fine
    assert any("chain another was known too, and it is not here" in one for one in report.notices)


def test_a_head_beyond_the_end_of_a_chain_is_a_finding(folder: Path) -> None:
    with open_ledger(folder, write=True) as ledger:
        chain = ledger.head().chain
        ledger.append([_checkpoint(KnownHead(chain=chain, seq=99, hash="a" * 64))])
    (told,) = _told(verify(folder))
    assert told.endswith("was seen; it is not there now.")


def test_the_folder_is_only_read(folder: Path, tmp_path: Path, database_kind: str) -> None:
    if database_kind == "sqlite":
        before = look(copy_of(folder, tmp_path / "copy"), "SELECT count(*) FROM event")
        verify(folder)
        assert look(folder, "SELECT count(*) FROM event") == before
