"""The ledger bundle: repeatable bytes, read back as it was, and strict with everything else."""

from __future__ import annotations

import json
import random
import zipfile
from collections.abc import Callable, Sequence
from hashlib import sha256
from pathlib import Path

import orjson
import pytest
import rfc8785
from bundle_examples import CENTRE, an_event, in_order, lines_of, members_of, packed, two_chains, with_lines
from centre_builder import ODD_NAME, Centre
from hypothesis import given, settings
from hypothesis import strategies as st

from course.errors import CourseError, DamageError, NotFoundError, RefusedError, StorageError
from course.exchange.archive import REPACKED
from course.exchange.bundle import EVENTS, MANIFEST, open_bundle, write_bundle
from course.record.chain import Event, canonical, event_hash
from course.record.lines import event_in, line_of

Members = list[tuple[str, bytes]]
CHANCE = random.Random(1)  # noqa: S311 - no secret
ACTOR = "0192d000-0000-7000-8000-0000000000ff"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Seven events in two chains, one forked, and one form of a skill."""
    form = canonical({"id": "skill"})
    write_bundle(tmp_path / "one.zip", CENTRE, two_chains(), rubrics={sha256(form).hexdigest(): form})
    return tmp_path / "one.zip"


# --- there and back --------------------------------------------------------------------------------------------------

_texts = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=12)
_plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | _texts,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text("abcxyz_", min_size=1, max_size=5), inner, max_size=3)
    ),
    max_leaves=8,
)
_bodies = st.dictionaries(st.text("abcxyz_", min_size=1, max_size=6), _plain, max_size=4)


@st.composite
def chains(draw: st.DrawFn) -> list[Event]:
    """One to three chains; each next event follows any of the chain's, so that there are forks of every shape."""
    events: list[Event] = []
    number = 0
    for chain in "abc"[: draw(st.integers(1, 3))]:
        own: list[Event] = []
        for _ in range(draw(st.integers(1, 7))):
            number += 1
            before = own[draw(st.integers(0, len(own) - 1))] if own else None
            own.append(an_event(chain, before, draw(_bodies), number))
        events += own
    return in_order(events)


@settings(max_examples=60, deadline=None)
@given(chains())
def test_what_is_read_back_is_what_was_written_and_twice_written_is_the_same_bytes(
    tmp_path_factory: pytest.TempPathFactory, events: list[Event]
) -> None:
    folder = tmp_path_factory.mktemp("round")
    for name in ("a.zip", "b.zip"):
        write_bundle(folder / name, CENTRE, events)
    assert (folder / "a.zip").read_bytes() == (folder / "b.zip").read_bytes()
    with open_bundle(folder / "a.zip", centre=CENTRE) as read:
        assert list(read.events()) == events
        assert read.notices == ()
        named = {one.prev for one in events}
        tips = {(part.chain, tip.hash) for part in read.manifest.chains for tip in part.heads}
        assert tips == {(one.chain, one.hash) for one in events if one.hash not in named}


@settings(max_examples=200, deadline=None)
@given(_bodies)
def test_a_line_is_rfc_8785_as_another_library_writes_it(body: dict[str, object]) -> None:
    """Oracle: the rfc8785 package."""
    event = an_event("a", None, body, 7)
    line = line_of(event)
    assert line == rfc8785.dumps(json.loads(line))
    assert event_in(line) == event


def test_the_manifest_is_canonical_and_tells_chains_bases_and_heads(file: Path) -> None:
    members = dict(members_of(file))
    manifest = json.loads(members[MANIFEST])
    assert members[MANIFEST] == rfc8785.dumps(manifest)
    assert [(c["chain"], c["events"], c["first"], c["last"]) for c in manifest["chains"]] == [
        ("a", 5, 1, 4),
        ("b", 2, 1, 2),
    ]
    assert [len(c["heads"]) for c in manifest["chains"]] == [2, 1]
    assert {c["base"] for c in manifest["chains"]} == {"0" * 64}
    with open_bundle(file) as read:
        assert list(read.rubrics().values()) == [b'{"id":"skill"}']
    assert list(members)[:2] == [MANIFEST, EVENTS]
    assert [one["path"] for one in manifest["files"]] == list(members)[1:]


def test_a_part_of_a_chain_names_what_it_begins_after(tmp_path: Path) -> None:
    events = [one for one in two_chains() if one.chain == "b"][1:]
    write_bundle(tmp_path / "p.zip", CENTRE, events)
    with open_bundle(tmp_path / "p.zip") as read:
        (part,) = read.manifest.chains
        assert (part.first, part.base) == (2, events[0].prev)


def test_the_date_of_every_member_is_1980_and_nothing_is_compressed(file: Path) -> None:
    with zipfile.ZipFile(file) as read:
        assert {info.date_time for info in read.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert {info.compress_type for info in read.infolist()} == {zipfile.ZIP_STORED}
        assert read.testzip() is None


def test_a_real_centre_goes_out_whole_and_no_name_goes_with_it(small_centre: Centre, tmp_path: Path) -> None:
    small_centre.enter("pool-22")
    write_bundle(tmp_path / "c.zip", small_centre.ledger.centre_id, small_centre.ledger.chain_events())
    with open_bundle(tmp_path / "c.zip") as read:
        assert sorted(e.hash for e in read.events()) == sorted(e.hash for e in small_centre.ledger.events())
    raw = (tmp_path / "c.zip").read_bytes()
    for name in ("Amaru", "Tendelle", ODD_NAME, "Kelpwater", "KW-1026"):
        assert name.encode() not in raw


def test_another_programs_packing_is_read_and_told(file: Path, tmp_path: Path) -> None:
    again = packed(members_of(file), tmp_path / "again.zip")
    with open_bundle(again) as read:
        assert read.notices == (REPACKED,)
        assert len(list(read.events())) == 7


# --- what is refused -------------------------------------------------------------------------------------------------


def _edit(number: int, change: Callable[[dict[str, object]], object]) -> Callable[[Members], Members]:
    def damage(members: Members) -> Members:
        lines = lines_of(members)
        plain = orjson.loads(lines[number - 1])
        change(plain)
        lines[number - 1] = orjson.dumps(plain, option=orjson.OPT_SORT_KEYS)
        return with_lines(members, lines)

    return damage


def _lines(change: Callable[[list[bytes]], Sequence[bytes]]) -> Callable[[Members], Members]:
    return lambda members: with_lines(members, change(lines_of(members)))


def _first(old: bytes, new: bytes) -> Callable[[Members], Members]:
    return _lines(lambda found: [found[0].replace(old, new), *found[1:]])


def _in(part: str, content: bytes) -> Callable[[Members], Members]:
    """Another content in the members whose name has this part."""
    return lambda members: [(name, content if part in name else old) for name, old in members]


def _manifest(change: Callable[[dict[str, object]], object]) -> Callable[[Members], Members]:
    def damage(members: Members) -> Members:
        plain = orjson.loads(dict(members)[MANIFEST])
        change(plain)
        return list((dict(members) | {MANIFEST: canonical(plain)}).items())

    return damage


def _named(name: str) -> Callable[[Members], Members]:
    return lambda members: [*members, (name, b"x")]


DAMAGES: dict[str, tuple[Callable[[Members], Members], str]] = {
    "a mark was changed": (
        _edit(3, lambda e: e["body"].update(n=4)),
        "events.jsonl, line 3: its content is not what was hashed",
    ),
    "another field was changed": (
        _edit(6, lambda e: e.update(actor="somebody")),
        "events.jsonl, line 6: its content is not",
    ),
    "a wrong hash": (
        _edit(7, lambda e: e.update(hash="f" * 64)),
        "events.jsonl, line 7: its content is not what was hashed",
    ),
    "a wrong prev": (_edit(2, lambda e: e.update(prev="f" * 64)), "line 2: it does not name the event before it"),
    "a gap": (_lines(lambda found: [*found[:1], *found[2:]]), "line 2: event 2 is missing before it"),
    "a missing end": (_lines(lambda found: found[:-1]), "manifest.json: it tells of other chains, bases or heads"),
    "an event twice": (_lines(lambda found: [found[0], *found]), "line 2: it is there twice, or not in order"),
    "events in another order": (
        _lines(lambda found: [found[1], found[0], *found[2:]]),
        "line 2: event 1 stands after event 2",
    ),
    "chains in another order": (
        _lines(lambda found: [*found[5:], *found[:5]]),
        "line 3: its chain stands in the wrong place",
    ),
    "the order of statements": (
        _edit(5, lambda e: e.update(lamport=1)),
        "line 5: its place in the order of statements goes back",
    ),
    "another centre": (_edit(1, lambda e: e.update(centre=ACTOR)), "line 1: it is of another centre"),
    "a first event with a predecessor": (
        _edit(1, lambda e: e.update(prev="a" * 64)),
        "line 1: the first event of a chain names",
    ),
    "a field too many": (_edit(1, lambda e: e.update(origin=1)), "line 1: it holds a field that no event has"),
    "a field missing": (_edit(1, lambda e: e.pop("kind")), "line 1: kind is missing"),
    "a body that is text": (_edit(1, lambda e: e.update(body="{}")), "line 1: its body is no object"),
    "a place that is text": (_edit(1, lambda e: e.update(seq="1")), "line 1: seq is no whole number"),
    "a place that is true": (_edit(1, lambda e: e.update(seq=True)), "line 1: seq is no whole number"),
    "a date of another form": (_edit(1, lambda e: e.update(recorded_at="today")), "line 1: recorded_at is not written"),
    "spaces": (_first(b':"a"', b': "a"'), "line 1: it is not in canonical form"),
    "keys in another order": (
        _lines(lambda found: [orjson.dumps(dict(reversed(orjson.loads(found[0]).items()))), *found[1:]]),
        "line 1: it is not in canonical form",
    ),
    "a key twice": (_first(b'"seq":1', b'"seq":1,"seq":1'), "line 1: the key 'seq' is there twice"),
    "a fraction": (_first(b'"seq":1', b'"seq":1.0'), "line 1: 1.0 is a number with a fraction"),
    "not a number": (_first(b'"seq":1', b'"seq":NaN'), "line 1: NaN is no number"),
    "a number too large": (
        _first(b'"seq":1', b'"seq":9007199254740993'),
        "line 1: 9007199254740993 is too large",
    ),
    "no text": (_lines(lambda found: [b"\xff" + found[0], *found[1:]]), "line 1: it is not UTF-8 text"),
    "no JSON": (_lines(lambda found: [b"{", *found[1:]]), "line 1: it is no JSON"),
    "a blank line": (_lines(lambda found: [b"", *found]), "line 1: it is no JSON"),
    "too deep": (_lines(lambda found: [b"[" * 3000 + b"]" * 3000, *found[1:]]), "line 1: "),
    "a last line without an end": (
        lambda m: [(n, c[:-1] if n == EVENTS else c) for n, c in m],
        "line 7: it has no end of line",
    ),
    "an event changed and the manifest not": (
        lambda m: with_lines(m, [lines_of(m)[0].replace(b"thing-1", b"thing-2"), *lines_of(m)[1:]], listed=False),
        "line 1: its content is not what was hashed",
    ),
    "another form of a skill": (_in("rubrics", b"{}"), ".json: it is not the file that"),
    "a form under another name": (
        lambda m: [("rubrics/" + "0" * 64 + ".json" if "rubrics" in n else n, c) for n, c in m],
        "manifest.json: the files that it lists are not those that are there",
    ),
    "no manifest": (lambda m: m[1:], "manifest.json is not in it"),
    "no events": (lambda m: [one for one in m if one[0] != EVENTS], "events.jsonl is not in it"),
    "the manifest after the events": (lambda m: [m[1], m[0], *m[2:]], "manifest.json: the files that it lists"),
    "another format": (
        _manifest(lambda p: p.update(format="other")),
        "manifest.json: it does not say ledger-bundle, version 1",
    ),
    "a newer version": (
        _manifest(lambda p: p.update(version=2)),
        "version 2, which a newer Loopledger made; update this",
    ),
    "a manifest with more in it": (_manifest(lambda p: p.update(proof="x")), "manifest.json: proof: is not known here"),
    "a manifest that is no object": (_in(MANIFEST, b"[]"), "it does not say ledger-bundle"),
    "a manifest with spaces": (_in(MANIFEST, b" {}"), "manifest.json: it is not in canonical form"),
    "a head that is none": (
        _manifest(lambda p: p["chains"][1]["heads"][0].update(hash="e" * 64)),
        "it tells of other chains, bases or heads",
    ),
    "a count that is wrong": (_manifest(lambda p: p.update(events=8)), "it tells of other chains, bases or heads"),
    "another file": (_named("notes.txt"), "it holds 'notes.txt', which does not belong in it"),
    "a name twice": (lambda m: [*m, m[1]], "it holds events.jsonl twice"),
    "a way up": (_named("../events.jsonl"), "which leads out of a folder"),
    "a way up inside": (_named("rubrics/../../x"), "which leads out of a folder"),
    "the root": (_named("/etc/passwd"), "which leads out of a folder"),
    "a backslash": (_named("rubrics\\x.json"), "which leads out of a folder"),
    "a drive": (_named("C:x"), "which leads out of a folder"),
    "a folder": (_named("rubrics/"), "which does not belong in it"),
    "a form that is too large": (
        lambda m: [*m, ("rubrics/" + "1" * 64 + ".json", b" " * 1_000_001)],
        "is larger than 1000000 bytes",
    ),
}


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("name", DAMAGES)
def test_each_damage_is_refused_with_member_and_line(name: str, file: Path, tmp_path: Path) -> None:
    damage, sentence = DAMAGES[name]
    other = packed(damage(members_of(file)), tmp_path / "other.zip", zipfile.ZIP_STORED)
    with pytest.raises(RefusedError) as told:
        open_bundle(other)
    assert sentence in told.value.sentence
    assert told.value.sentence.startswith("other.zip was not read: ")
    assert told.value.sentence.endswith(". Nothing was taken from it.")


def test_what_swells_is_refused_before_it_is_unpacked(file: Path, tmp_path: Path) -> None:
    """Two hundred megabytes of one letter pack into some hundred thousand bytes."""
    members = [(n, b"a" * 200_000_000 if n == EVENTS else c) for n, c in members_of(file)]
    with pytest.raises(RefusedError, match="would swell"):
        open_bundle(packed(members, tmp_path / "bomb.zip"))


def test_a_line_without_an_end_is_not_held_for_ever(file: Path, tmp_path: Path) -> None:
    members = [
        (n, CHANCE.randbytes(17_000_000).replace(b"\n", b"x") if n == EVENTS else c) for n, c in members_of(file)
    ]
    with pytest.raises(RefusedError, match="line 1: it is longer than 16000000 bytes"):
        open_bundle(packed(members, tmp_path / "long.zip"))


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"flag_bits": 1}, "is encrypted or packed in a way that is not read here"),
        ({"external_attr": 0o120777 << 16}, "is no plain file"),
    ],
    ids=["encrypted", "link"],
)
def test_members_of_another_kind_are_refused(
    file: Path, tmp_path: Path, changed: dict[str, int], sentence: str
) -> None:
    """The directory says so; what the members hold does not matter."""
    out = tmp_path / "odd.zip"
    made = zipfile.ZipFile(out, "w")
    for name, content in members_of(file):
        made.writestr(zipfile.ZipInfo(name), content)
    for field, value in changed.items():
        setattr(made.infolist()[1], field, value)
    made.infolist()[1].create_system = 3
    made.close()
    with pytest.raises(RefusedError, match=sentence):
        open_bundle(out)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "it is empty. Have it made or copied again. "),
        (b"PK", "it is no whole zip file: a copy of it may have broken off. Copy it again. "),
        (b"no zip at all" * 9, "it is no zip file. Choose another file. "),
        (b"PK\x05\x06" + b"\x00" * 18, "manifest.json is not in it. "),
    ],
)
def test_what_is_no_bundle_is_told_as_such(tmp_path: Path, content: bytes, told: str) -> None:
    (tmp_path / "x.zip").write_bytes(content)
    with pytest.raises(RefusedError) as refused:
        open_bundle(tmp_path / "x.zip")
    assert refused.value.sentence == f"x.zip was not read: {told}Nothing was taken from it."


def test_a_file_that_is_not_there_is_not_found(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="cannot be opened"):
        open_bundle(tmp_path / "none.zip")


def test_the_bundle_of_another_centre_is_refused_where_one_is_asked_for(file: Path) -> None:
    with pytest.raises(RefusedError, match="of another centre"):
        open_bundle(file, centre=ACTOR)


def test_of_two_hundred_bytes_changed_at_random_none_goes_unseen(file: Path, tmp_path: Path) -> None:
    """Refused, or read whole with the same events and a notice: never in silence."""
    raw, chance = file.read_bytes(), random.Random(20261022)  # noqa: S311 - no secret
    refused = told = 0
    for _ in range(200):
        place, other = chance.randrange(len(raw)), chance.randrange(1, 256)
        damaged = bytearray(raw)
        damaged[place] ^= other
        (tmp_path / "d.zip").write_bytes(damaged)
        try:
            with open_bundle(tmp_path / "d.zip") as read:
                assert read.notices == (REPACKED,), place
                assert list(read.events()) == two_chains()
                told += 1
        except CourseError:
            refused += 1
    assert (refused + told, refused > 100) == (200, True)


@pytest.mark.parametrize("kept", [0.2, 0.5, 0.9, 0.99])
def test_a_file_that_was_cut_off_is_refused(file: Path, tmp_path: Path, kept: float) -> None:
    raw = file.read_bytes()
    (tmp_path / "cut.zip").write_bytes(raw[: int(len(raw) * kept)])
    with pytest.raises(RefusedError):
        open_bundle(tmp_path / "cut.zip")


# --- writing ---------------------------------------------------------------------------------------------------------


def test_a_damaged_ledger_is_not_handed_over_and_nothing_is_left_behind(tmp_path: Path) -> None:
    events = two_chains()
    events[1] = events[1]._replace(body='{"flag":false}')
    with pytest.raises(DamageError, match="event 2 of chain a does not fit: its content is not what was hashed"):
        write_bundle(tmp_path / "x.zip", CENTRE, events)
    assert list(tmp_path.iterdir()) == []


def test_a_body_that_is_not_canonical_is_not_handed_over(tmp_path: Path) -> None:
    with pytest.raises(DamageError, match="not written as it was hashed"):
        write_bundle(tmp_path / "x.zip", CENTRE, [_uncanonical()])
    assert list(tmp_path.iterdir()) == []


def _uncanonical() -> Event:
    spaced = two_chains()[0]._replace(body='{"text": "x"}')
    return spaced._replace(hash=event_hash(spaced))


def test_a_file_that_is_there_is_not_written_over(file: Path) -> None:
    before = file.read_bytes()
    with pytest.raises(RefusedError, match="is there already"):
        write_bundle(file, CENTRE, two_chains())
    assert file.read_bytes() == before
    assert [one.name for one in file.parent.iterdir() if one.is_file()] == ["one.zip"]


def test_a_full_disk_leaves_nothing_behind_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("course.exchange.archive.os.fsync", full)
    with pytest.raises(StorageError, match=r"No space left on device\)\. Nothing was written"):
        write_bundle(tmp_path / "x.zip", CENTRE, two_chains())
    assert list(tmp_path.iterdir()) == []


def test_long_work_tells_how_far_it_is(tmp_path: Path) -> None:
    events, before = [], None
    for number in range(1, 1202):
        before = an_event("a", before, {"n": number}, number)
        events.append(before)
    told: list[tuple[int, int]] = []
    write_bundle(tmp_path / "l.zip", CENTRE, events, count=1201, progress=lambda done, of: told.append((done, of)))
    assert told == [(500, 1201), (1000, 1201), (1201, 1201)]
    again: list[tuple[int, int]] = []
    with open_bundle(tmp_path / "l.zip", progress=lambda done, of: again.append((done, of))):
        assert again == told
