"""The code of a paper: what it holds, how it is typed, and what is said when it was typed wrong, cut or made up."""

from __future__ import annotations

import csv
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from course.errors import RefusedError
from course.record.centre_key import fits, key_id
from course.record.paper_code import ROW, PaperCode, read_paper_code
from course.record.slate_code import CLEAR, READ_AS, check_character
from course.storage.centre_key import key_from

VECTORS = list(csv.DictReader((Path(__file__).parent / "published" / "ed25519.csv").open(encoding="utf-8")))
KEY = key_from(bytes(range(32)))


def a_code(**changes: object) -> PaperCode:
    """A signed code of an invented paper."""
    code = replace(
        PaperCode(
            paper="Competency record", day="2026-10-25", says="ab" * 32, chain="0192d000-0000-7000-8000-000000000001",
            seq=1204, head="cd" * 32, key=key_id(KEY.public),
        ),
        **changes,
    )  # fmt: skip
    return replace(code, signature=KEY.sign(code.signed_bytes()))


@pytest.mark.parametrize("row", VECTORS, ids=lambda row: row["source"])
def test_a_key_signs_as_the_published_vectors_do(row: dict[str, str]) -> None:
    key = key_from(bytes.fromhex(row["secret"]))
    assert key.public == row["public"]
    assert key.sign(bytes.fromhex(row["message"])) == row["signature"]
    assert fits(row["public"], bytes.fromhex(row["message"]), row["signature"])
    assert not fits(row["public"], bytes.fromhex(row["message"] + "00"), row["signature"])


def test_a_key_never_shows_its_secret() -> None:
    assert KEY.secret.hex() not in repr(KEY)
    assert repr(KEY.secret) not in repr(KEY)


def test_a_code_reads_back_as_it_was() -> None:
    for code in (a_code(), a_code(day=""), replace(a_code(), key="", signature="")):
        assert read_paper_code(code.text()) == code
        assert read_paper_code("\n".join(code.rows())) == code


@pytest.mark.parametrize(
    "typed",
    [
        lambda text: text.lower(),
        lambda text: " ".join(text[at : at + 5] for at in range(0, len(text), 5)),
        lambda text: text.replace("0", "O").replace("1", "l"),
        lambda text: text.removeprefix("PAPER:1:"),
    ],
    ids=["small letters", "groups of five", "letters for digits", "without its beginning"],
)
def test_a_code_is_read_however_it_is_typed(typed: object) -> None:
    assert read_paper_code(typed(a_code().text())) == a_code()  # type: ignore[operator]


def told_by_its_row(rows: list[str], row: int) -> None:
    """A slip is told by its row, but for check characters that are read alike (0 and O, 1, I and L).

    There it is another code, which nobody signed.
    """
    read_alike = check_character(rows[row][:-1]).translate(READ_AS) == rows[row][-1]
    if not read_alike:
        with pytest.raises(RefusedError, match=f"A character in row {row + 1} is wrong"):
            read_paper_code("\n".join(rows))
        return
    with suppress(RefusedError):
        assert read_paper_code("\n".join(rows)) != a_code()


@given(st.integers(0, 5), st.integers(0, ROW - 2), st.sampled_from(CLEAR))
def test_a_single_wrong_character_is_told_by_its_row(row: int, at: int, other: str) -> None:
    """ISO/IEC 7064, MOD 37,36 finds every single wrong character (see test_slate_code.py)."""
    rows = list(a_code().rows())
    at = min(at, len(rows[row]) - 2)
    if rows[row][at] == other:
        return
    rows[row] = rows[row][:at] + other + rows[row][at + 1 :]
    told_by_its_row(rows, row)


@given(st.integers(0, 5), st.integers(0, ROW - 3))
def test_two_neighbours_that_changed_places_are_told(row: int, at: int) -> None:
    rows = list(a_code().rows())
    at = min(at, len(rows[row]) - 3)
    one, two = rows[row][at], rows[row][at + 1]
    if one == two:
        return
    rows[row] = rows[row][:at] + two + one + rows[row][at + 2 :]
    told_by_its_row(rows, row)


def test_of_all_swaps_of_neighbours_only_some_in_a_hundred_are_left_to_the_signature() -> None:
    """Counted over every place of a whole code."""
    unseen, swaps = 0, 0
    for row in a_code().rows():
        for at in range(len(row) - 2):
            if row[at] != row[at + 1]:
                swapped = row[:at] + row[at + 1] + row[at] + row[at + 2 :]
                swaps += 1
                unseen += check_character(swapped[:-1]).translate(READ_AS) == swapped[-1]
    assert swaps > 200
    assert unseen / swaps < 0.03


def test_a_row_with_a_character_missing_or_too_many_is_told() -> None:
    rows = list(a_code().rows())
    for changed in (rows[2][:-1], rows[2] + "7"):
        with pytest.raises(RefusedError, match=r"Row 3 has (49|51) characters where it should have 50"):
            read_paper_code("\n".join([*rows[:2], changed, *rows[3:]]))


@given(st.integers(1, 5))
def test_a_code_with_rows_torn_off_says_so(kept: int) -> None:
    with pytest.raises(RefusedError, match="torn: its end is missing"):
        read_paper_code("\n".join(a_code().rows()[:kept]))


def test_what_is_no_code_is_told_where_one_stands() -> None:
    for typed in (
        "",
        "   ",
        "K7QF-2M9TX",
        "https://example.org",
        "PAPER:1:",
        "RECORD:1:AB:CD:12:EF",
        "ü" * 50,
        "7" * 5000,
    ):
        with pytest.raises(RefusedError, match="code"):
            read_paper_code(typed)


def test_a_code_of_a_later_version_says_so() -> None:
    later = "ZZZZ" + a_code().rows()[0][4:-1]
    from course.record.slate_code import check_character

    with pytest.raises(RefusedError, match="a later version"):
        read_paper_code(later + check_character(later))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("paper", "Competency recorD"), ("day", "2026-10-26"), ("says", "ba" * 32), ("seq", 1205), ("head", "dc" * 32),
        ("chain", "0192d000-0000-7000-8000-000000000002"), ("key", "0" * 16),
    ],
)  # fmt: skip
def test_no_part_of_a_signed_code_can_be_changed(field: str, value: object) -> None:
    assert a_code().is_signed_by(KEY.public)
    assert not replace(a_code(), **{field: value}).is_signed_by(KEY.public)


def test_an_unsigned_code_is_signed_by_nobody() -> None:
    assert not replace(a_code(), key="", signature="").is_signed_by(KEY.public)


def test_a_code_holds_letters_and_digits_alone() -> None:
    assert set(a_code().text()) <= set("PAPER:1:0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")
