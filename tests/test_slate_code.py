"""A sheet's number: its check character, and what wet paper and cold fingers make of it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from course.errors import RefusedError
from course.moments import new_id
from course.record.slate_code import ALPHABET, check_character, code_of, read_code

CODE = code_of("0192d000-0000-7000-8000-000000000001")


def _plain_check(characters: str) -> str:
    """MOD 37,36 straight from its definition: the doubled running product of the whole string must come to 1."""
    for candidate in ALPHABET:
        product = 36
        for character in characters:
            total = (product + ALPHABET.index(character)) % 36 or 36
            product = 2 * total % 37
        if (product + ALPHABET.index(candidate)) % 36 == 1:
            return candidate
    raise AssertionError(characters)


@pytest.mark.parametrize(
    ("characters", "check"),
    [
        # The Global Release Identifier that documents of ISO/IEC 7064 MOD 37,36 use as their example; from memory
        ("A12425GABC1234002", "M"),
    ],
)
def test_the_check_character_is_that_of_the_standard(characters: str, check: str) -> None:
    assert check_character(characters) == check


@given(st.text(ALPHABET, min_size=1, max_size=20))
def test_the_check_character_keeps_its_definition(characters: str) -> None:
    assert check_character(characters) == _plain_check(characters)


def test_a_code_is_read_back_however_it_is_typed() -> None:
    for typed in (CODE, CODE.lower(), CODE.replace("-", ""), f" {CODE[:4]} {CODE[5:]} ", CODE.replace("0", "o")):
        assert read_code(typed) == CODE


@given(st.integers(0, 8), st.sampled_from("0123456789ABCDEFGHJKMNPQRSTVWXYZ"))
def test_every_single_wrong_character_is_found(at: int, other: str) -> None:
    plain = code_of(new_id()).replace("-", "")
    typed = plain[:at] + other + plain[at + 1 :]
    if typed == plain:
        assert read_code(typed)
    else:
        with pytest.raises(RefusedError, match="is wrong"):
            read_code(typed)


def test_what_is_no_code_is_told_what_one_looks_like() -> None:
    for typed in ("", "K7QF", "K7QF-2M9TXX", "K7QF-2M9T!", "course"):
        with pytest.raises(RefusedError, match="nine letters and digits"):
            read_code(typed)
