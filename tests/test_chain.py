"""Canonical bytes against RFC 8785's vectors and an independent library; hashes and chains."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from course.record.chain import FIRST_PREV, Event, breaks, canonical, event_hash, evidence_hash

JCS = Path(__file__).parent / "published" / "jcs"  # source and licence: SOURCE.txt there
_ASCII = st.text(st.characters(max_codepoint=127), max_size=8)
_TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
_PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | _TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_ASCII, inner, max_size=4),
    max_leaves=12,
)


@pytest.mark.parametrize("name", ["arrays", "structures", "unicode"])
def test_canonical_gives_the_bytes_of_the_published_vectors(name: str) -> None:
    """`structures` writes one whole number as 56.0, which is read as the whole number that it is."""
    read = json.loads((JCS / "input" / f"{name}.json").read_bytes(), parse_float=lambda text: int(float(text)))
    assert canonical(read) == (JCS / "output" / f"{name}.json").read_bytes()


@pytest.mark.parametrize("name", ["french", "values", "weird"])
def test_canonical_refuses_the_vectors_outside_its_plain_part_instead_of_writing_them_another_way(name: str) -> None:
    """Keys beyond ASCII and fractions are not stored."""
    with pytest.raises(ValueError, match=r"plain key|not allowed"):
        canonical(json.loads((JCS / "input" / f"{name}.json").read_bytes()))


@given(_PLAIN)
def test_canonical_gives_the_same_bytes_as_the_rfc8785_package(value: object) -> None:
    """Oracle: the rfc8785 package, written from the standard by others."""
    assert canonical(value) == rfc8785.dumps(value)  # type: ignore[arg-type]


@given(_PLAIN)
def test_what_is_written_reads_back_as_it_was(value: object) -> None:
    """Nothing is rounded, reordered within lists or dropped."""
    assert json.loads(canonical(value)) == value


@pytest.mark.parametrize("value", [1.0, 2**53, -(2**53), {"ä": 1}, {1: 1}, "\ud800", b"x", {"a": [0.5]}])
def test_canonical_refuses_what_two_programs_could_write_differently(value: object) -> None:
    """Fractions, numbers beyond 2^53, other keys, half a character."""
    with pytest.raises(ValueError, match=r"\w"):
        canonical(value)


def test_canonical_refuses_what_is_nested_too_deep() -> None:
    """A body of brackets alone must not end the program."""
    value: object = 1
    for _ in range(200):
        value = [value]
    with pytest.raises(ValueError, match="nested deeper"):
        canonical(value)


def _chain(count: int) -> list[Event]:
    made: list[Event] = []
    prev = FIRST_PREV
    for seq in range(1, count + 1):
        bare = Event(f"id-{seq}", "centre", "chain", seq, seq * 2, "device", "actor", "subject", "kind/1",
                     "2026-10-22T09:30:00.000000Z", '{"a":"é"}', prev, "")  # fmt: skip
        made.append(bare._replace(hash=event_hash(bare)))
        prev = made[-1].hash
    return made


def test_event_hash_is_what_the_description_says() -> None:
    """Worked out here with hashlib and the rfc8785 package alone, from the description of the format."""
    (event,) = _chain(1)
    body = hashlib.sha256('{"a":"é"}'.encode()).hexdigest()
    line: list[str | int] = [
        "centre", "chain", 1, 2, "id-1", "device", "actor", "subject", "2026-10-22T09:30:00.000000Z", "kind/1",
        body, "0" * 64,
    ]  # fmt: skip
    assert event.hash == hashlib.sha256(b"course.event.v1\n" + rfc8785.dumps(line)).hexdigest()


def test_a_whole_chain_has_no_breaks() -> None:
    """The empty chain neither."""
    assert list(breaks(_chain(5))) == []
    assert list(breaks([])) == []


@pytest.mark.parametrize(
    ("damage", "told"),
    [
        (lambda c: [*c[:2], *c[3:]], "should follow"),
        (lambda c: [c[0], c[2], c[1], *c[3:]], "should follow"),
        (lambda c: [*c[:2], c[2]._replace(body="{}"), *c[3:]], "content"),
        (lambda c: [*c[:2], c[2]._replace(lamport=1), *c[3:]], "order of statements"),
        (lambda c: [*c[:2], c[2]._replace(prev="1" * 64), *c[3:]], "before it"),
        (lambda c: c[1:], "should follow"),
    ],
)
def test_each_kind_of_damage_is_named(damage: object, told: str) -> None:
    """Taken out, swapped, changed, out of order, unhooked, begun late."""
    broken = list(breaks(damage(_chain(5))))  # type: ignore[operator]
    assert any(told in one.wrong for one in broken)


def test_evidence_does_not_depend_on_the_order_in_which_events_are_named() -> None:
    """And does depend on the rubric."""
    assert evidence_hash(["b", "a"], "r") == evidence_hash(["a", "b"], "r")
    assert evidence_hash(["a", "b"], "r") != evidence_hash(["a", "b"], "s")
