"""Laptops of one centre that come together: a union of sets, whatever the order; what waits, forks and is refused."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import permutations
from pathlib import Path
from random import Random
from typing import Any

import orjson
import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from laptops_apart import kept_on_a_server
from ledger_examples import (
    LEAD,
    a_person,
    a_unit,
    an_attempt,
    an_erasing,
    copy_of,
    drafted,
    look,
    new_centre,
    tables_in,
)

from course.actions.privacy import erase_person
from course.answers.laptops import laptops
from course.answers.merging import merged_words
from course.commands import main
from course.errors import NotFoundError, RefusedError, StorageError
from course.exchange import merging
from course.exchange.bundle import open_bundle, write_bundle
from course.exchange.merging import hand_over, merge
from course.moments import new_id
from course.record.chain import Event, event_hash
from course.record.events import CheckpointMade, KnownHead
from course.storage.backup import backup, restore
from course.storage.faults import not_saved, unreadable
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.merging import WAITING, Source, parts_of, take_in
from course.words import Authority, Mark

NewDatabase = Callable[[], str | None]
_FORM = "SELECT chain, seq, hash FROM event ORDER BY chain, seq, hash"


@contextmanager
def laptop(place: Path) -> Iterator[None]:
    """A machine of its own, as far as the program knows one."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(place))
        yield


@pytest.fixture
def two(tmp_path: Path, new_database: NewDatabase) -> tuple[Path, Path]:
    """A centre on one laptop, and on another one that began from its backup; both went on by themselves."""
    first, second = tmp_path / "first", tmp_path / "second"
    with laptop(tmp_path / "state-1"):
        with new_centre(first, new_database()) as ledger:
            ledger.append([a_unit("Unit 1")])
        backup(first, tmp_path / "begin.tar")
        with open_ledger(first, write=True) as ledger:
            ledger.append([a_person("Amaru Tendelle"), *an_attempt(Mark.DONE, Mark.ERROR)])
    with laptop(tmp_path / "state-2"):
        restore(tmp_path / "begin.tar", second, database=new_database())
        with open_ledger(second, write=True) as ledger:
            ledger.append([a_person("Jonas Thibetsky"), *an_attempt(Mark.DONE)])
    return first, second


def _bundle(folder: Path, out: Path, keys: Path | None = None) -> Path:
    with open_ledger(folder) as ledger:
        hand_over(ledger, out, keys=keys)
    return out


def _device_of(folder: Path) -> str:
    ((device,),) = look(folder, "SELECT device FROM event ORDER BY pos DESC LIMIT 1")
    return str(device)


def _merge(folder: Path, state: str, *bundles: Path, **given: Any) -> Any:
    with laptop(folder.parent / state), open_ledger(folder, write=True) as ledger:
        return merge(ledger, LEAD, bundles, **given)


def test_two_laptops_end_with_the_same_events_and_the_same_facts(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    there, back = _bundle(second, tmp_path / "b.zip"), _bundle(first, tmp_path / "a.zip")
    merged = _merge(first, "state-1", there, accept=[_device_of(second)])
    assert merged.added == len(look(second, _FORM)) - 3
    _merge(second, "state-2", back)
    _merge(second, "state-2", _bundle(first, tmp_path / "a2.zip"))
    _merge(first, "state-1", _bundle(second, tmp_path / "b2.zip"))
    assert look(first, _FORM) == look(second, _FORM)
    assert tables_in(first) == tables_in(second)
    for folder in two:
        report = verify(folder)
        assert report.fine, report.findings


def test_two_laptops_that_have_all_of_each_other_add_nothing_more(two: tuple[Path, Path], tmp_path: Path) -> None:
    """A note of a merge is no reason for another note."""
    first, second = two
    accept = [_device_of(second)]
    _merge(first, "state-1", _bundle(second, tmp_path / "1.zip"), accept=accept)
    _merge(second, "state-2", _bundle(first, tmp_path / "2.zip"))
    _merge(first, "state-1", _bundle(second, tmp_path / "3.zip"))
    _merge(second, "state-2", _bundle(first, tmp_path / "4.zip"))
    before = look(first, _FORM)
    assert _merge(first, "state-1", _bundle(second, tmp_path / "5.zip")).added == 0
    assert look(first, _FORM) == before == look(second, _FORM)


def test_a_ledger_on_a_server_takes_in_the_same_events_and_facts_as_one_in_its_folder(
    two: tuple[Path, Path], tmp_path: Path, database: str
) -> None:
    """What follows a gap waits there too, in either order, and what came before adds nothing."""
    first, second = two
    served, device = tmp_path / "served", _device_of(second)
    bundles = [_bundle(first, tmp_path / "a.zip"), _bundle(second, tmp_path / "b.zip")]
    _merge(first, "state-1", bundles[1], accept=[device])
    with open_ledger(second) as ledger:
        late = [one for one in ledger.chain_events() if one.chain == ledger.head().chain][1:]
        write_bundle(tmp_path / "late.zip", ledger.centre_id, late)
    with laptop(tmp_path / "state-3"):
        restore(tmp_path / "begin.tar", served, database=database)
    given = {"accept": [device]}
    late_then_whole = [_merge(served, "state-3", one, **given).added for one in (tmp_path / "late.zip", bundles[1])]
    assert late_then_whole == [0, len(late) + 1]
    assert _merge(served, "state-3", bundles[0], accept=[_device_of(first)]).added
    assert _merge(served, "state-3", *bundles).added == 0
    written = {row[2] for file in bundles for row in _rows(file)}
    assert {one[2] for one in look(served, _FORM)} >= written
    facts = {row[:3]: row for row in tables_in(served)}
    both = {row[:3]: row for row in tables_in(first) if row[1] in ("person", "unit", "attempt")}
    assert len(both) >= 5
    assert {key: facts[key] for key in both} == both
    assert verify(served).fine


def _rows(file: Path) -> list[tuple[str, int, str]]:
    with open_bundle(file) as bundle:
        return [(one.chain, one.seq, bytes.fromhex(one.hash)) for one in bundle.events()]


def test_a_rehearsal_tells_the_same_and_changes_nothing(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    bundle, accept = _bundle(second, tmp_path / "b.zip"), [_device_of(second)]
    before = look(first, "SELECT * FROM event ORDER BY pos"), tables_in(first), look(first, "SELECT * FROM head")
    told = _merge(first, "state-1", bundle, accept=accept, rehearse=True)
    after = look(first, "SELECT * FROM event ORDER BY pos"), tables_in(first), look(first, "SELECT * FROM head")
    assert after == before
    assert told.rehearsed
    assert not (first / WAITING).exists()
    assert _merge(first, "state-1", bundle, accept=accept).brought == told.brought


def test_names_from_the_other_laptop_can_be_read_once_its_keys_are_here(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    bundle, keys = _bundle(second, tmp_path / "b.zip", tmp_path / "b.keys"), tmp_path / "b.keys"
    assert b"Jonas" not in bundle.read_bytes()
    assert keys.stat().st_mode & 0o077 == 0
    _merge(first, "state-1", bundle, accept=[_device_of(second)])
    assert _names(first) == {"Tamsin Okoro-Vale", "Amaru Tendelle"}
    assert _merge(first, "state-1", bundle, keys=keys).keys_taken == 1
    assert _names(first) == {"Tamsin Okoro-Vale", "Amaru Tendelle", "Jonas Thibetsky"}


def _names(folder: Path) -> set[str]:
    with open_ledger(folder) as ledger:
        return {name for one in ledger.facts("person") if (name := ledger.private(one).get("name"))}


def test_two_keys_of_one_owner_open_each_what_it_sealed(two: tuple[Path, Path], tmp_path: Path) -> None:
    """A laptop without a person's key makes another one for the next note about them."""
    first, second = two
    _merge(first, "state-1", _bundle(second, tmp_path / "b.zip"), accept=[_device_of(second)])
    with open_ledger(second) as ledger:
        person = next(one.id for one in ledger.facts("person") if ledger.private(one).get("name") == "Jonas Thibetsky")
    with laptop(tmp_path / "state-1"), open_ledger(first, write=True) as ledger:
        sealed = ledger.vault.seal(person, "note/1", "0192d000-0000-7000-8000-0000000000ff", {"note": "tall"})
    _merge(first, "state-1", _bundle(second, tmp_path / "b2.zip", tmp_path / "k"), keys=tmp_path / "k")
    assert "Jonas Thibetsky" in _names(first)
    with open_ledger(first) as ledger:
        opened = ledger.vault.open_one(person, "note/1", "0192d000-0000-7000-8000-0000000000ff", sealed.data)
    assert opened == {"note": "tall"}


def test_who_was_erased_on_one_laptop_is_erased_on_the_other(two: tuple[Path, Path], tmp_path: Path) -> None:
    """A tombstone wins over a key, from whichever side it comes."""
    first, second = two
    _merge(first, "state-1", _bundle(second, tmp_path / "b.zip", tmp_path / "k"), keys=tmp_path / "k",
           accept=[_device_of(second)])  # fmt: skip
    with open_ledger(second) as ledger:
        person = next(one.id for one in ledger.facts("person") if ledger.private(one).get("name") == "Jonas Thibetsky")
    with laptop(tmp_path / "state-2"), open_ledger(second, write=True) as ledger:
        ledger.append([an_erasing(person)])
        ledger.forget(person)
    _merge(first, "state-1", _bundle(second, tmp_path / "b2.zip", tmp_path / "k2"), keys=tmp_path / "k2")
    assert "Jonas Thibetsky" not in _names(first)
    _merge(first, "state-1", tmp_path / "b.zip", keys=tmp_path / "k")
    assert "Jonas Thibetsky" not in _names(first)


def test_an_erased_persons_key_goes_with_the_merge_that_brings_the_word_and_comes_back_with_none(
    two: tuple[Path, Path], tmp_path: Path
) -> None:
    """The word travels in the bundle alone; a file of keys that is older changes nothing."""
    first, second = two
    _merge(first, "state-1", _bundle(second, tmp_path / "b.zip", tmp_path / "k"), keys=tmp_path / "k",
           accept=[_device_of(second)])  # fmt: skip
    with open_ledger(second) as ledger:
        person = next(one.id for one in ledger.facts("person") if ledger.private(one).get("name") == "Jonas Thibetsky")
    with laptop(tmp_path / "state-2"), open_ledger(second, write=True) as ledger:
        erase_person(ledger, LEAD, person, authority=Authority.PERSON, reason="asked in writing", despite="a test")
    bundle = _bundle(second, tmp_path / "b2.zip")
    _merge(first, "state-1", bundle, rehearse=True)
    assert "Jonas Thibetsky" in _names(first)
    _merge(first, "state-1", bundle)
    assert "Jonas Thibetsky" not in _names(first)
    _merge(first, "state-1", bundle, keys=tmp_path / "k")
    assert "Jonas Thibetsky" not in _names(first)
    with open_ledger(first) as ledger:
        assert ledger.vault.is_forgotten(person)


def test_a_file_of_keys_alone_erases_nobody(two: tuple[Path, Path], tmp_path: Path) -> None:
    """What it says of erased people holds only where the ledger says so too."""
    first, second = two
    bundle = _bundle(second, tmp_path / "b.zip", tmp_path / "k")
    with open_ledger(first) as ledger:
        person = next(one.id for one in ledger.facts("person") if ledger.private(one).get("name") == "Amaru Tendelle")
        forged = orjson.loads((tmp_path / "k").read_bytes()) | {"forgotten": [person, ledger.centre_id]}
    (tmp_path / "forged").write_bytes(orjson.dumps(forged, option=orjson.OPT_SORT_KEYS))
    before = _names(first)
    _merge(first, "state-1", bundle, keys=tmp_path / "forged", accept=[_device_of(second)])
    assert {*before, "Jonas Thibetsky"} == set(_names(first))


def test_a_device_that_nobody_accepted_waits_and_is_taken_in_once_somebody_does(
    two: tuple[Path, Path], tmp_path: Path
) -> None:
    first, second = two
    bundle = _bundle(second, tmp_path / "b.zip")
    merged = _merge(first, "state-1", bundle)
    (waiting,) = merged.brought.waiting
    assert (merged.added, waiting.device) == (0, _device_of(second))
    assert len(list((first / WAITING).iterdir())) == 1
    again = _merge(first, "state-1", bundle)
    assert again.brought.waiting == (waiting,)  # once, though a copy of it waits
    bundle.unlink()
    with open_ledger(first) as ledger:
        assert laptops(ledger).sentence == "1 bundle came here and could not be taken in whole yet."
    merged = _merge(first, "state-1", accept=[_device_of(second)])
    assert merged.added > 0
    assert merged.brought.waiting == ()
    assert list((first / WAITING).iterdir()) == []
    with pytest.raises(RefusedError, match="No bundle is named, and none waits here"):
        _merge(first, "state-1")


def test_what_follows_a_gap_waits_until_what_came_before_is_here(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    with open_ledger(second) as ledger:
        events = [one for one in ledger.chain_events() if one.chain == ledger.head().chain]
        centre = ledger.centre_id
    write_bundle(tmp_path / "late.zip", centre, events[2:])
    write_bundle(tmp_path / "early.zip", centre, events[:2])
    accept = [_device_of(second)]
    merged = _merge(first, "state-1", tmp_path / "late.zip", accept=accept)
    (waiting,) = merged.brought.waiting
    assert (merged.added, waiting.device, waiting.events) == (0, None, len(events) - 2)
    merged = _merge(first, "state-1", tmp_path / "early.zip")
    assert (merged.added, merged.brought.waiting) == (len(events), ())
    assert verify(first).fine


def test_a_copied_folder_that_was_used_on_two_machines_forks_and_both_branches_are_kept(tmp_path: Path) -> None:
    """Folder and device's notes were copied together: nothing could tell the copy that it is one."""
    first, second = tmp_path / "one" / "centre", tmp_path / "two" / "centre"
    with laptop(tmp_path / "one" / "state"), new_centre(first) as ledger:
        ledger.append([a_unit("Unit 1")])
    copy_of(tmp_path / "one", tmp_path / "two")
    notes = tmp_path / "two" / "state" / "device.json"
    notes.write_text(notes.read_text().replace(str(first), str(second)))
    for place, label in ((tmp_path / "one", "Unit 2"), (tmp_path / "two", "Unit 3")):
        with laptop(place / "state"), open_ledger(place / "centre", write=True) as ledger:
            ledger.append([a_unit(label)])
    shutil.move(tmp_path / "two", tmp_path / "other")
    bundle = _bundle(tmp_path / "other" / "centre", tmp_path / "b.zip")
    merged = _merge(first, "state", bundle)
    assert [(one.seq, one.branches) for one in merged.brought.forks] == [(4, 2)]
    with open_ledger(first) as ledger:
        assert len(ledger.facts("unit")) == 3
        (shown,) = laptops(ledger).forks
    (told,) = verify(first).findings  # the fork alone: the branch that ledger.head saw is there
    assert "forks at event 4 (1 place with more than one event)" in told
    assert told == shown
    with laptop(tmp_path / "one" / "state"), open_ledger(first, write=True) as ledger:
        assert ledger.damage is None
        ledger.append([a_unit("Unit 4")])
        assert len(ledger.facts("unit")) == 4
        backup(first, tmp_path / "forked.tar")  # a fork stays for ever, and damages nothing
    assert (verify(first).damage, verify(first).fine) == ((), False)
    with laptop(tmp_path / "one" / "state"):
        restore(tmp_path / "forked.tar", tmp_path / "again")
        open_ledger(tmp_path / "again", write=True).close()
    assert verify(tmp_path / "again").findings == (told,)


def test_the_next_event_comes_after_all_that_was_taken_in(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    with laptop(tmp_path / "state-2"), open_ledger(second, write=True) as ledger:
        ledger.append([a_unit(f"Unit {n}") for n in range(40)])
    _merge(first, "state-1", _bundle(second, tmp_path / "b.zip"), accept=[_device_of(second)])
    with laptop(tmp_path / "state-1"), open_ledger(first, write=True) as ledger:
        (event,) = ledger.append([a_unit("Last")])
        assert event.lamport > max(one.lamport for one in ledger.events() if one.id != event.id)


def test_what_the_other_laptop_knew_and_is_not_here_is_told_and_is_no_damage(
    two: tuple[Path, Path], tmp_path: Path, new_database: NewDatabase
) -> None:
    first, second = two
    _merge(first, "state-1", _bundle(second, tmp_path / "b.zip"), accept=[_device_of(second)])
    with laptop(tmp_path / "state-1"), open_ledger(first, write=True) as ledger:
        ledger.append([a_unit("Unit 7")])
    _merge(second, "state-2", _bundle(first, tmp_path / "a.zip"))
    with laptop(tmp_path / "state-2"), open_ledger(second, write=True) as ledger:
        ledger.append([a_unit("Unit 8")])
        tail = [one for one in ledger.chain_events() if one.chain != ledger.head().chain or one.seq < 6]
        centre = ledger.centre_id
    third = tmp_path / "third"
    with laptop(tmp_path / "state-3"):
        restore(tmp_path / "begin.tar", third, database=new_database())
        with open_ledger(third, write=True) as ledger:
            ledger.append([a_unit("Unit 9")])
    write_bundle(tmp_path / "part.zip", centre, tail[:-1])
    merged = _merge(third, "state-3", tmp_path / "part.zip", accept=[_device_of(second)])
    assert merged.added
    report = verify(third)
    assert report.fine, report.findings
    assert any("Merge the ledger that has it" in one for one in report.notices)


# --- the laws --------------------------------------------------------------------------------------------------------


def _sources(events: Sequence[Event], cuts: Sequence[int]) -> list[Source]:
    """Events dealt into piles, each in order, as bundles would hold them; a pile may break a chain anywhere."""
    piles: dict[int, list[Event]] = {}
    for one, pile in zip(events, cuts, strict=True):
        piles.setdefault(pile, []).append(one)
    made = []
    for number, pile in sorted(piles.items()):
        for part, run in enumerate(_runs(sorted(pile, key=lambda e: (e.chain, e.seq, e.hash)))):
            made.append(Source(f"{number}-{part}", parts_of(run), lambda run=run: iter(run)))
    return made


def _runs(pile: Sequence[Event]) -> Iterator[list[Event]]:
    """Runs that a bundle could hold: each event but the first names one that is there."""
    runs: list[list[Event]] = []
    for one in pile:
        for run in runs:
            if one.prev in {other.hash for other in run}:
                run.append(one)
                break
        else:
            runs.append([one])
    yield from runs


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**32))
def test_any_order_and_any_repetition_of_parts_gives_the_same_ledger(
    tmp_path_factory: pytest.TempPathFactory, two_databases: tuple[str | None, str | None], seed: int
) -> None:
    """Commutative, associative, idempotent; the set of forks is that of the events."""
    place, chance = tmp_path_factory.mktemp("laws"), Random(seed)  # noqa: S311 - the same laptops for a seed
    with laptop(place / "state"):
        with new_centre(place / "base") as ledger:
            first = list(ledger.events())
            stamp = ledger.head()
        others = _branches(first, chance)
        found = []
        for turn, database in enumerate(two_databases):
            folder = copy_of(place / "base", place / f"turn-{turn}")
            if database:
                kept_on_a_server(folder, database)
            with laptop(place / f"state-{turn}"), open_ledger(folder, write=True) as ledger:
                cuts = [chance.randint(0, 3) for _ in others]
                sources = _sources(others, cuts)
                order = chance.sample(dealt := sources + sources[:1], len(dealt))
                waiting: list[Source] = []
                for one in order:
                    brought = take_in(ledger, [one, *waiting], accepted=["device-b"])
                    names = {w.source for w in brought.waiting}
                    waiting = [s for s in [one, *waiting] if s.name in names]
                assert waiting == []
                again = take_in(ledger, sources, accepted=["device-b"])
                assert sum(again.added.values()) == 0
                own = ledger.head().chain
                rows = [one for one in ledger.chain_events() if one.chain != own]
                heads = [one for one in ledger.heads() if one.chain != own]
            found.append((rows, heads, [row for row in tables_in(folder) if row[0] == ledger.centre_id]))
        assert found[0] == found[1]
        assert {(one.chain, one.seq) for one in found[0][0] if one.chain != stamp.chain} == {
            (one.chain, one.seq) for one in others
        }


@pytest.fixture
def two_databases(new_database: NewDatabase) -> tuple[str | None, str | None]:
    """For two ledgers of each example; the centres of all examples share them."""
    return new_database(), new_database()


def _branches(first: Sequence[Event], chance: Random) -> list[Event]:
    """A chain of another device, with forks, about things of its own."""
    count = chance.randint(2, 8)
    made: list[Event] = []
    for number in range(count):
        before = chance.choice(made) if made else None
        bare = first[-1]._replace(
            id=f"0192d000-0000-7000-8000-{number + 7:012x}", chain="chain-b", seq=before.seq + 1 if before else 1,
            lamport=(before.lamport if before else 5) + 1, device="device-b", prev=before.hash if before else "0" * 64,
            subject=f"0192d000-0000-7000-8000-{number % 3 + 90:012x}",
            kind="unit_added/1",
            body=f'{{"unit":"0192d000-0000-7000-8000-{number % 3 + 90:012x}","unit_type":"type-{number}"}}',
        )  # fmt: skip
        made.append(bare._replace(hash=event_hash(bare)))
    return sorted(made, key=lambda one: (one.chain, one.seq, one.hash))


def test_attempts_and_corrections_read_the_same_in_every_order_of_arrival(
    tmp_path: Path, new_database: NewDatabase
) -> None:
    """Three laptops, their bundles in all six orders: equal tables."""
    base = tmp_path / "base"
    with laptop(tmp_path / "s0"):
        with new_centre(base, new_database()) as ledger:
            ledger.append(an_attempt(Mark.DONE))
        backup(base, tmp_path / "b.tar")
    bundles, devices = [], []
    for number in (1, 2, 3):
        folder = tmp_path / f"laptop-{number}"
        with laptop(tmp_path / f"s{number}"):
            restore(tmp_path / "b.tar", folder, database=new_database())
            with open_ledger(folder, write=True) as ledger:
                ledger.append([*an_attempt(Mark.DONE, Mark.ERROR), a_person(f"Student {number}")])
        bundles.append(_bundle(folder, tmp_path / f"{number}.zip"))
        devices.append(_device_of(folder))
    seen = set()
    for order in permutations(bundles):
        folder = tmp_path / f"at-{len(list(tmp_path.iterdir()))}"
        with laptop(folder.with_suffix(".state")):
            restore(tmp_path / "b.tar", folder, database=new_database())
            with open_ledger(folder, write=True) as ledger:
                for bundle in order:
                    merge(
                        ledger, LEAD, [bundle], accept=[d for d, b in zip(devices, bundles, strict=True) if b == bundle]
                    )
        seen.add(
            str([row for row in tables_in(folder) if row[1] not in ("device", "merge")])
        )  # each laptop's own notes
    assert len(seen) == 1


# --- bad input -------------------------------------------------------------------------------------------------------


def _refused(folder: Path, bundle: Path, **given: Any) -> str:
    before = look(folder, _FORM)
    with pytest.raises((RefusedError, NotFoundError)) as error:
        _merge(folder, "state-1", bundle, **given)
    assert look(folder, _FORM) == before
    assert not (folder / WAITING).exists()
    return error.value.sentence


def test_half_a_bundle_is_refused(two: tuple[Path, Path], tmp_path: Path) -> None:
    bundle = _bundle(two[1], tmp_path / "b.zip")
    bundle.write_bytes(bundle.read_bytes()[: bundle.stat().st_size // 2])
    assert "was not read" in _refused(two[0], bundle)


def test_an_altered_bundle_is_refused(two: tuple[Path, Path], tmp_path: Path) -> None:
    bundle = _bundle(two[1], tmp_path / "b.zip")
    bundle.write_bytes(bundle.read_bytes().replace(b'"mark":"done"', b'"mark":"errs"'))
    assert "Nothing was taken from it" in _refused(two[0], bundle)


def test_the_bundle_of_another_centre_is_refused(
    two: tuple[Path, Path], tmp_path: Path, either_database: str | None
) -> None:
    with laptop(tmp_path / "state-9"), new_centre(tmp_path / "strange", either_database):
        pass
    assert "it is of another centre" in _refused(two[0], _bundle(tmp_path / "strange", tmp_path / "b.zip"))


def test_a_bundle_that_came_before_adds_nothing(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    bundle = _bundle(second, tmp_path / "b.zip")
    _merge(first, "state-1", bundle, accept=[_device_of(second)])
    before = look(first, _FORM)
    assert _merge(first, "state-1", bundle).added == 0
    assert look(first, _FORM) == before


def test_a_chain_that_claims_to_follow_a_strange_event_is_refused(two: tuple[Path, Path], tmp_path: Path) -> None:
    """Its hashes fit each other; only the ledger that it is to follow can tell."""
    first, _second = two
    with open_ledger(first) as ledger:
        last, centre = list(ledger.events())[-1], ledger.centre_id
    bare = last._replace(chain="zz-other", seq=last.seq + 1, lamport=last.lamport + 1, prev=last.hash)
    write_bundle(tmp_path / "b.zip", centre, [bare._replace(hash=event_hash(bare))])
    assert "which it cannot follow. Nothing was taken in." in _refused(first, tmp_path / "b.zip")


@pytest.mark.parametrize(
    "alter",
    [
        lambda whole: whole.replace(b'"unit_type":"type-a"', b'"unit_type":"type-b"'),
        lambda whole: b'"hush":"'.join(whole.rsplit(b'"hash":"', 1)),
        lambda whole: b'\n"'.join(whole.rsplit(b'Z"', 1)),  # of a time in an event, never of the archive's own bytes
        lambda whole: whole[: len(whole) // 2],
    ],
    ids=["a value", "a field", "a line", "its length"],
)
def test_of_a_bundle_that_is_altered_while_it_is_read_nothing_is_taken_in(
    two: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, alter: Callable[[bytes], bytes]
) -> None:
    """Its bytes are checked first and then taken: what is taken must be what was checked."""
    first, second = two
    with open_ledger(second, write=True) as ledger:
        ledger.append([a_unit("Unit 2")])
    bundle, accept, before = _bundle(second, tmp_path / "b.zip"), [_device_of(second)], look(first, _FORM)
    take_it = merging.take_in

    def altered_then(*given: Any, **more: Any) -> Any:
        whole = bundle.read_bytes()
        bundle.write_bytes(alter(whole))
        assert bundle.read_bytes() != whole
        return take_it(*given, **more)

    monkeypatch.setattr(merging, "take_in", altered_then)
    with pytest.raises(RefusedError, match=r"b\.zip changed while it was being read"):
        _merge(first, "state-1", bundle, accept=accept)
    assert look(first, _FORM) == before
    assert verify(first).fine


def test_two_contents_under_one_id_are_kept_told_and_found(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    with open_ledger(first) as ledger:
        told = next(one for one in ledger.events() if one.kind == "unit_added/1")
    with open_ledger(second) as ledger:
        end = [one for one in ledger.chain_events() if one.chain == ledger.head().chain]
        centre = ledger.centre_id
    bare = end[-1]._replace(
        id=told.id, kind=told.kind, subject=told.subject, seq=end[-1].seq + 1, lamport=end[-1].lamport + 1,
        prev=end[-1].hash, body=told.body.replace("type-a", "type-b"),
    )  # fmt: skip
    write_bundle(tmp_path / "b.zip", centre, [*end, bare._replace(hash=event_hash(bare))])
    merged = _merge(first, "state-1", tmp_path / "b.zip", accept=[_device_of(second)])
    assert merged.brought.doubled == (told.id,)
    assert any(f"The id {told.id} stands for two different events" in one for one in verify(first).findings)
    with open_ledger(first) as ledger:
        assert {one.unit_type for one in ledger.facts("unit")} == {"type-a"}


def test_keys_of_another_centre_or_none_are_refused(
    two: tuple[Path, Path], tmp_path: Path, either_database: str | None
) -> None:
    first, second = two
    bundle = _bundle(second, tmp_path / "b.zip")
    with laptop(tmp_path / "state-9"), new_centre(tmp_path / "strange", either_database):
        pass
    _bundle(tmp_path / "strange", tmp_path / "s.zip", tmp_path / "s.keys")
    accept = [_device_of(second)]
    assert "keys of another centre" in _refused(first, bundle, keys=tmp_path / "s.keys", accept=accept)
    (tmp_path / "odd.keys").write_text('{"keys": 4}')
    assert "is no file of keys" in _refused(first, bundle, keys=tmp_path / "odd.keys", accept=accept)
    assert "There is no file" in _refused(first, bundle, keys=tmp_path / "none.keys", accept=accept)


def test_a_device_that_wrote_nothing_here_cannot_be_accepted(two: tuple[Path, Path], tmp_path: Path) -> None:
    bundle = _bundle(two[1], tmp_path / "b.zip")
    assert "No event here is of the device" in _refused(two[0], bundle, accept=["0192d000-0000-7000-8000-0000000000dd"])


def test_a_disk_that_fills_up_takes_in_nothing(
    two: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = two
    bundle = _bundle(second, tmp_path / "b.zip")
    before = look(first, _FORM), tables_in(first)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("course.storage.merging.write_facts", full)
        with pytest.raises(StorageError, match="NOT saved: the disk is full"):
            _merge(first, "state-1", bundle, accept=[_device_of(second)])
    assert (look(first, _FORM), tables_in(first)) == before
    assert _merge(first, "state-1", bundle, accept=[_device_of(second)]).added


def test_a_disk_that_is_full_for_the_keys_alone_is_told_with_the_events_that_are_in(
    two: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same merge once more does the rest."""
    first, second = two
    bundle = _bundle(second, tmp_path / "b.zip", tmp_path / "b.keys")
    given = {"keys": tmp_path / "b.keys", "accept": [_device_of(second)]}

    def full(*_: object) -> None:
        raise not_saved(OSError(28, "No space left on device"))

    with monkeypatch.context() as patch:
        patch.setattr("course.storage.vault.Vault.take_keys", full)
        with pytest.raises(StorageError, match=r"^The \d events of the merge are in; .*the disk is full") as told:
            _merge(first, "state-1", bundle, **given)
    assert "Merge the same once more" in told.value.sentence
    with open_ledger(first) as ledger:
        assert len(ledger.facts("person")) == 3
    merged = _merge(first, "state-1", bundle, **given)
    assert (merged.added, merged.keys_taken) == (0, 1)


def test_a_server_that_goes_away_after_the_events_are_in_is_not_told_as_if_nothing_were_changed(
    two: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = two
    bundle = _bundle(second, tmp_path / "b.zip", tmp_path / "b.keys")

    def gone(*_: object) -> None:
        raise unreadable(OSError(5, "Input/output error"), "The ledger cannot be read")

    monkeypatch.setattr("course.storage.vault.Vault.take_keys", gone)
    with pytest.raises(
        StorageError, match=r"^The \d events of the merge are in; then .*: the ledger cannot be read: .* Merge the same"
    ) as told:
        _merge(first, "state-1", bundle, keys=tmp_path / "b.keys", accept=[_device_of(second)])
    assert "Nothing was changed" not in told.value.sentence


def test_a_clock_half_an_hour_off_changes_no_order(two: tuple[Path, Path], tmp_path: Path) -> None:
    """Statements are settled by their place in the order, whatever the clocks said."""
    first, second = two
    with open_ledger(second) as ledger:
        events = [one for one in ledger.chain_events() if one.chain == ledger.head().chain]
        centre = ledger.centre_id
    prev, late = events[0].prev, []
    for one in events:
        bare = one._replace(recorded_at="2020-01-01T00:00:00.000000Z", prev=prev)
        late.append(bare._replace(hash=event_hash(bare)))
        prev = late[-1].hash
    write_bundle(tmp_path / "b.zip", centre, late)
    _merge(first, "state-1", tmp_path / "b.zip", accept=[_device_of(second)])
    assert verify(first).fine


def test_what_a_laptop_witnessed_otherwise_is_told_by_the_rehearsal_and_by_the_merge(
    two: tuple[Path, Path], tmp_path: Path
) -> None:
    first, second = two
    with laptop(tmp_path / "state-2"), open_ledger(second, write=True) as ledger:
        other = next(one.chain for one in ledger.heads() if one.chain != ledger.head().chain)
        seen = KnownHead(chain=other, seq=2, hash="a" * 64)
        ledger.append([drafted(CheckpointMade(checkpoint=new_id(), course=new_id(), day="2026-10-22", heads=(seen,)))])
    bundle, accept = _bundle(second, tmp_path / "b.zip"), [_device_of(second)]
    told = f"When 2026-10-22 was closed, event 2 of chain {other} was seen; another one stands there now."
    for rehearse in (True, False):
        merged = _merge(first, "state-1", bundle, accept=accept, rehearse=rehearse)
        assert merged.brought.misfits == (told,)
        words = merged_words(merged.brought, rehearsed=rehearse)
        assert any(line.startswith(f"What a laptop witnessed does not fit. {told}") for line in words)
    assert told in verify(first).findings
    assert _merge(first, "state-1", bundle).brought.misfits == ()


# --- the commands ----------------------------------------------------------------------------------------------------


def test_the_commands_hand_over_rehearse_and_merge(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    run = CliRunner()
    out, keys = str(tmp_path / "b.zip"), str(tmp_path / "b.keys")
    told = run.invoke(main, ["hand-over", str(second), "--out", out, "--keys", keys])
    assert told.exit_code == 0, told.output
    assert "Carry it apart from the bundle" in told.output
    with laptop(tmp_path / "state-1"):
        asked = run.invoke(main, ["merge", str(first), out, "--rehearse"])
        assert asked.exit_code == 1
        assert f"merge once more with --accept {_device_of(second)}" in asked.output
        assert "Nothing can be taken in yet: " in asked.output
        assert "Nothing was changed: this was a rehearsal." in asked.output
        done = run.invoke(main, ["merge", str(first), out, "--keys", keys, "--accept", _device_of(second)])
    assert done.exit_code == 0, done.output
    assert "Among them 1 attempt, 1 person." in done.output
    assert "Where laptops said different things of one attempt or standing, Findings tells it" in done.output
    assert "1 key of private data taken over." in done.output


def test_who_may_not_set_up_the_centre_may_not_merge(two: tuple[Path, Path], tmp_path: Path) -> None:
    first, second = two
    with laptop(tmp_path / "state-1"), open_ledger(first, write=True) as ledger:
        student = next(one.id for one in ledger.facts("person") if one.id != LEAD)
        with pytest.raises(RefusedError, match="Nothing was changed"):
            merge(ledger, student, [_bundle(second, tmp_path / "b.zip")])


def test_a_ledger_open_for_reading_takes_in_nothing(two: tuple[Path, Path]) -> None:
    with open_ledger(two[0]) as ledger, pytest.raises(RefusedError, match="reading only"):
        take_in(ledger, [])
