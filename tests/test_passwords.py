"""Password hashes, what may be a password, and what may be a PIN."""

from __future__ import annotations

import pytest
from argon2 import extract_parameters
from argon2.low_level import Type
from hypothesis import given
from hypothesis import strategies as st
from zxcvbn import matching

from course.errors import RefusedError, StorageError
from course.storage import passwords
from course.storage.common_passwords import FEWEST_LISTED, check_list, too_easy
from course.storage.passwords import (
    LONGEST_PASSWORD,
    LONGEST_PIN,
    SHORTEST_PASSWORD,
    SHORTEST_PIN,
    hashed_password,
    hashed_pin,
    is_right,
)

GOOD = "seven grey seals dive"


def test_hashes_are_made_as_the_second_recommended_option_says() -> None:
    """RFC 9106, section 4: Argon2id, t=3, p=4, m=2^16 KiB, 128-bit salt, 256-bit tag; version 0x13 (section 3.1)."""
    said = extract_parameters(hashed_password(GOOD))
    assert (said.type, said.version) == (Type.ID, 0x13)
    assert (said.time_cost, said.parallelism, said.memory_cost) == (3, 4, 2**16)
    assert (said.salt_len, said.hash_len) == (128 // 8, 256 // 8)


def test_only_the_right_password_fits_and_no_two_hashes_are_alike() -> None:
    kept = hashed_password("caf\u00e9 by the cold pool")
    assert is_right(kept, "cafe\u0301 by the cold pool")  # the same letters, composed otherwise
    assert not is_right(kept, "cafe by the cold pool")
    assert not is_right(kept, "")
    assert not is_right("no hash", "caf\u00e9 by the cold pool")
    assert kept != hashed_password("caf\u00e9 by the cold pool")
    assert is_right(hashed_pin("0420"), "0420")


def test_an_unknown_name_costs_as_much_work_and_never_fits(monkeypatch: pytest.MonkeyPatch) -> None:
    worked = []

    class Counting:
        def verify(self, kept: str, _: str) -> bool:
            worked.append(extract_parameters(kept))
            return True

    known = hashed_password(GOOD)
    monkeypatch.setattr(passwords, "_hasher", Counting())
    assert is_right(known, "anything")
    assert not is_right(None, "nobody has this")
    assert worked[0] == worked[1]


# --- length and letters ---------------------------------------------------------------------------------------------


def test_the_bounds_of_length_are_those_of_the_sources() -> None:
    """At least 15 where a password is asked for alone, and at least 64 taken.

    NIST SP 800-63B-4, section 3.1.1.2, as quoted in issue 3242 of the OWASP ASVS repository; ASVS 5.0.0, 6.2.1 asks for
    8 and strongly recommends 15, 6.2.9 for at least 64.
    """
    assert SHORTEST_PASSWORD == 15
    assert LONGEST_PASSWORD >= 64


@pytest.mark.parametrize("password", ["", " " * 20, "fourteen chars", "kelp tide moor " * 18, "\n\t" * 10])
def test_an_empty_short_or_endless_password_is_refused(password: str) -> None:
    with pytest.raises(RefusedError, match=r"A password has 15 to 256 characters.*Nothing was changed"):
        hashed_password(password)


@pytest.mark.parametrize(
    "password",
    [
        "kelp tide moor lamp", "nineglassgullsonicefloes",
        "\u043c\u043e\u0440\u0435 \u0438 \u043b\u0435\u0434 \u0442\u0430\u043c\u0430",
        "\U0001f9ad gulls on a red buoy", "kelp tide moor lamp " * 5,
    ],
)  # fmt: skip
def test_any_letters_do_and_nothing_is_asked_of_their_kind(password: str) -> None:
    """ASVS 5.0.0, 6.2.5: no rule of composition. NIST SP 800-63B-4, 3.1.1.2: spaces and Unicode are taken."""
    assert is_right(hashed_password(password), password)


# --- what is tried first --------------------------------------------------------------------------------------------


def test_every_listed_password_that_is_long_enough_is_refused() -> None:
    """ASVS 5.0.0, 6.2.4: at least the 3,000 most common that fit the rules for length; the list has 30,000."""
    listed = matching.RANKED_DICTIONARIES["passwords"]
    assert len(listed) >= 30_000
    long_ones = [one for one in listed if len(one) >= SHORTEST_PASSWORD]
    assert len(long_ones) >= 30
    for one in long_ones:
        for typed in (one, one.upper(), f"{one[:7]} {one[7:]}"):
            assert too_easy(typed)
    with pytest.raises(RefusedError, match="among those that are tried first"):
        hashed_password(long_ones[0])


@pytest.mark.parametrize(
    "password",
    [
        "passwordpassword", "aaaaaaaaaaaaaaaaaaaa", "123456789012345", "qwertyuiopasdfghjkl", "abcdefghijklmnop",
        "Password12345678", "iloveyouiloveyou", "loopledgerloopledger",
    ],
)  # fmt: skip
def test_repeats_runs_rows_of_keys_and_doubled_words_are_refused(password: str) -> None:
    with pytest.raises(RefusedError, match="among those that are tried first"):
        hashed_password(password)


def test_names_of_the_person_and_the_centre_are_worth_nothing_in_a_password() -> None:
    """ASVS 5.0.0, 6.2.11 (words of the context); NIST SP 800-63B-4, 3.1.1.2 (expected passwords)."""
    about = ["Amaru Tendelle", "Kelpwater"]
    assert not too_easy("tendelle-kelpwater")
    assert too_easy("tendelle-kelpwater", about)
    assert not too_easy("tendelle-kelpwater")  # no name is left behind in the library
    with pytest.raises(RefusedError, match="made of names"):
        hashed_password("kelpwaterkelpwater", about)


@pytest.mark.parametrize("left", [{}, {"123456": 1}])
def test_without_a_list_of_common_passwords_none_is_set(left: dict[str, int], monkeypatch: pytest.MonkeyPatch) -> None:
    check_list()
    monkeypatch.setitem(matching.RANKED_DICTIONARIES, "passwords", left)
    for act in (check_list, lambda: hashed_password(GOOD)):
        with pytest.raises(StorageError, match="list of common passwords is missing or empty"):
            act()
    monkeypatch.delitem(matching.RANKED_DICTIONARIES, "passwords")
    with pytest.raises(StorageError, match="so no password can be checked and none is set"):
        check_list()
    assert FEWEST_LISTED == 3000


# --- PINs -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pin", ["", "123", "473820195", "12a4", "\u0661\u0662\u0663\u0664", "12 4", "-482", "4.82"])
def test_a_pin_is_four_to_eight_digits(pin: str) -> None:
    with pytest.raises(RefusedError, match="A PIN has 4 to 8 digits"):
        hashed_pin(pin)


@pytest.mark.parametrize(
    "pin", ["0000", "77777777", "1234", "3456", "9012", "4321", "0987", "12345678", "1212", "48484", "959595"]
)
def test_a_pin_that_is_tried_first_is_refused(pin: str) -> None:
    """Common practice: one digit, a run up or down, two digits again and again."""
    with pytest.raises(RefusedError, match="A PIN is no run such as 3456"):
        hashed_pin(pin)


@given(st.from_regex(rf"[0-9]{{{SHORTEST_PIN},{LONGEST_PIN}}}", fullmatch=True))
def test_few_pins_are_refused_and_each_for_a_reason_that_can_be_seen(pin: str) -> None:
    refused = passwords._trivial(pin)
    run = any(pin in row for row in ("01234567890123456789", "98765432109876543210"))
    assert refused is (run or len(set(pin[::2])) == len(set(pin[1::2])) == 1)
