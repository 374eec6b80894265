"""Sessions and wrong guesses, as a library."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from course.storage.entrance import (
    ABSOLUTE_SECONDS,
    FILE,
    FORGOTTEN_AFTER_SECONDS,
    IDLE_SECONDS,
    KNOWN_SECONDS,
    LONGEST_WAIT_SECONDS,
    TOGETHER_FREE,
    TOGETHER_SECONDS,
    Entrance,
    Session,
)

ANNA = "person-a"


class Clock:
    """A clock that the test turns."""

    def __init__(self) -> None:
        self.at = datetime(2026, 3, 1, 9, tzinfo=UTC)
        self.steadily = 0.0

    def __call__(self) -> datetime:
        return self.at

    def turn(self, seconds: float) -> None:
        """Only the clock on the wall."""
        self.at += timedelta(seconds=seconds)

    def steady(self) -> float:
        return self.steadily

    def pass_by(self, seconds: float) -> None:
        """Time passes, and both clocks go on."""
        self.turn(seconds)
        self.steadily += seconds


def guess_wrong(entrance: Entrance, clock: Clock, times: int, account: str = "anna", address: str = "10.0.0.7") -> None:
    """Guess as soon as each wait is over."""
    for _ in range(times):
        while wait := entrance.guess(account, address):
            clock.pass_by(wait)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def entrance(tmp_path: Path, clock: Clock) -> Entrance:
    return Entrance(tmp_path, clock, clock.steady)


def test_a_token_says_who_also_after_a_restart(entrance: Entrance, tmp_path: Path, clock: Clock) -> None:
    token = entrance.begin(ANNA, "password")
    assert entrance.who(token) == Session(ANNA, "password")
    assert Entrance(tmp_path, clock).who(token) == Session(ANNA, "password")


@pytest.mark.parametrize("made_up", ["", "x", "a" * 43, "\ud800", "' OR 1=1 --"])
def test_a_made_up_token_is_nobodys(entrance: Entrance, made_up: str) -> None:
    entrance.begin(ANNA, "password")
    assert entrance.who(made_up) is None


def test_the_file_holds_no_token_and_no_name_that_was_tried_and_is_for_its_owner_alone(
    entrance: Entrance, tmp_path: Path
) -> None:
    token = entrance.begin(ANNA, "password")
    entrance.guess("anna's password by mistake", "10.0.0.7")
    content = (tmp_path / FILE).read_bytes()
    assert ANNA.encode() in content
    assert token.encode() not in content
    assert b"by mistake" not in content
    assert (tmp_path / FILE).stat().st_mode & 0o777 == 0o600
    with sqlite3.connect(tmp_path / FILE) as connection:
        kept = connection.execute("SELECT token FROM session").fetchone()[0]
    assert entrance.who(kept) is None


def test_a_new_token_replaces_the_one_before(entrance: Entrance) -> None:
    before = entrance.begin(ANNA, "password")
    after = entrance.begin("person-b", "pin", instead_of=before)
    assert before != after
    assert entrance.who(before) is None
    assert entrance.who(after) == Session("person-b", "pin")


def test_signing_out_in_one_browser_leaves_the_other_and_ending_all_leaves_none(entrance: Entrance) -> None:
    one, two, other = (entrance.begin(person, "password") for person in (ANNA, ANNA, "person-b"))
    entrance.end(one)
    assert entrance.who(one) is None
    assert entrance.who(two) is not None
    assert entrance.end_all_of(ANNA) == 1
    assert entrance.who(two) is None
    assert entrance.who(other) is not None


def test_an_unused_session_ends_and_a_used_one_ends_at_the_absolute_limit(entrance: Entrance, clock: Clock) -> None:
    unused, used = entrance.begin(ANNA, "password"), entrance.begin(ANNA, "password")
    for _ in range(ABSOLUTE_SECONDS // 3600 - 1):
        clock.turn(3600)
        assert entrance.who(used) is not None
    clock.turn(3599)
    assert entrance.who(used) is not None
    assert entrance.who(unused) is None
    clock.turn(1)
    assert entrance.who(used) is None


def test_the_idle_limit_is_counted_from_the_last_use(entrance: Entrance, clock: Clock) -> None:
    token = entrance.begin(ANNA, "password")
    clock.turn(IDLE_SECONDS - 1)
    assert entrance.who(token) is not None
    clock.turn(IDLE_SECONDS)
    assert entrance.who(token) is None


@pytest.mark.parametrize("back", [60, 3600, 400 * 24 * 3600])
def test_a_clock_that_goes_back_ends_no_session_and_prolongs_none(entrance: Entrance, clock: Clock, back: int) -> None:
    token = entrance.begin(ANNA, "password")
    clock.turn(-back)
    clock.pass_by(IDLE_SECONDS - 1)
    assert entrance.who(token) is not None
    clock.pass_by(IDLE_SECONDS)
    clock.turn(-back)
    assert entrance.who(token) is None


def test_after_a_restart_a_clock_turned_back_still_ends_sessions_in_time(tmp_path: Path, clock: Clock) -> None:
    token = Entrance(tmp_path, clock, clock.steady).begin(ANNA, "password")
    clock.turn(-7 * 24 * 3600)
    again = Entrance(tmp_path, clock, clock.steady)
    clock.pass_by(IDLE_SECONDS)
    assert again.who(token) is None


def test_guessing_is_slowed_for_the_account_and_the_address_and_a_restart_does_not_help(
    entrance: Entrance, tmp_path: Path, clock: Clock
) -> None:
    waits = []
    for _ in range(6):
        guess_wrong(entrance, clock, 1)
        waits.append(_wait_now(entrance))
    assert waits == [0, 0, 1, 2, 4, 8]
    again = Entrance(tmp_path, clock, clock.steady)
    assert again.guess("anna", "10.0.0.8") == 8  # one account from everywhere
    assert again.guess("ben", "10.0.0.7") == 8  # one address at every account
    assert again.guess("ben", "10.0.0.8") == 0


def _wait_now(entrance: Entrance) -> int:
    """The wait at an account nobody tried, from that address, as a guess that is right at once."""
    wait = entrance.guess("carla", "10.0.0.7")
    if not wait:
        entrance.right("carla", "10.0.0.7")
    return wait


def test_guessing_at_many_accounts_from_many_addresses_is_slowed_together_and_a_restart_does_not_help(
    tmp_path: Path, clock: Clock
) -> None:
    entrance = Entrance(tmp_path, clock, clock.steady)
    entrance.guess("anna", "at the desk", at_door=True)
    entrance.right("anna", "at the desk", at_door=True)
    looked_at = [entrance.guess(f"name {n}", f"10.0.{n}.7", at_door=True) for n in range(TOGETHER_FREE)]
    assert looked_at == [0] * TOGETHER_FREE  # the right one was taken back
    again = Entrance(tmp_path, clock, clock.steady)
    assert again.guess("one more", "10.1.0.7", at_door=True) == TOGETHER_SECONDS
    assert again.guess("one more", "10.1.0.7", at_door=True) == TOGETHER_SECONDS  # asking does not prolong it
    assert again.guess("anna", "at the desk", at_door=True) == 0  # an address from which somebody signed in
    assert again.guess("ben", "10.1.0.8") == 0  # somebody who is signed in confirms an act
    for n in range(3):  # never for good: one in so many seconds, whoever asks first
        clock.pass_by(2 * TOGETHER_SECONDS if n == 0 else TOGETHER_SECONDS)
        assert again.guess(f"late {n}", f"10.2.{n}.7", at_door=True) == 0
        assert again.guess(f"later {n}", f"10.3.{n}.7", at_door=True) == TOGETHER_SECONDS
    clock.pass_by(TOGETHER_FREE * TOGETHER_SECONDS)
    assert [again.guess(f"then {n}", f"10.4.{n}.7", at_door=True) for n in range(TOGETHER_FREE)] == [0] * TOGETHER_FREE


def test_an_address_is_known_for_a_month_after_somebody_signed_in_from_it(entrance: Entrance, clock: Clock) -> None:
    def crowded() -> None:
        n = 0
        while not entrance.guess(f"name {n}", f"10.0.{n}.7", at_door=True):
            n += 1

    entrance.guess("anna", "at the desk", at_door=True)
    entrance.right("anna", "at the desk", at_door=True)
    clock.pass_by(KNOWN_SECONDS - 1)
    crowded()
    assert entrance.guess("ben", "at the desk", at_door=True) == 0
    clock.pass_by(1)
    assert entrance.guess("carla", "at the desk", at_door=True) > 0


def test_many_guesses_at_once_get_no_more_looks_than_one_after_the_other(entrance: Entrance) -> None:
    with ThreadPoolExecutor(8) as pool:
        waits = list(pool.map(lambda _: entrance.guess("anna", "10.0.0.7"), range(16)))
    assert waits.count(0) == 3


def test_nobody_is_locked_out_for_good_and_a_clock_turned_back_shortens_no_wait(
    entrance: Entrance, clock: Clock
) -> None:
    guess_wrong(entrance, clock, 30)
    assert entrance.guess("anna", "10.0.0.7") == LONGEST_WAIT_SECONDS
    clock.turn(-3600)
    assert entrance.guess("anna", "10.0.0.7") == LONGEST_WAIT_SECONDS  # asking does not prolong it either
    clock.pass_by(LONGEST_WAIT_SECONDS)
    assert entrance.guess("anna", "10.0.0.7") == 0
    clock.pass_by(FORGOTTEN_AFTER_SECONDS)
    assert [entrance.guess("anna", "10.0.0.7") for _ in range(3)] == [0, 0, 0]


def test_a_right_password_frees_the_account_but_not_the_address(entrance: Entrance, clock: Clock) -> None:
    guess_wrong(entrance, clock, 5)
    clock.pass_by(4)
    assert entrance.guess("anna", "10.0.0.7") == 0
    entrance.right("anna", "10.0.0.7")
    assert entrance.guess("anna", "10.0.0.8") == 0
    assert entrance.guess("ben", "10.0.0.7") == 0  # looked at, since the wait was over
    assert entrance.guess("ben", "10.0.0.7") == 8  # and the next wrong one counts on


def test_on_a_tablet_that_goes_from_hand_to_hand_a_right_one_makes_nobody_wait(
    entrance: Entrance, clock: Clock
) -> None:
    """Else twelve wrong ones would hold up each hand-over by five minutes, for as long as the tablet is in use."""
    guess_wrong(entrance, clock, 12, account="pin anna")
    clock.pass_by(LONGEST_WAIT_SECONDS)
    for _ in range(2):
        for person in ("ben", "carla", "dora"):
            assert entrance.guess(f"pin {person}", "10.0.0.7") == 0
            entrance.right(f"pin {person}", "10.0.0.7")
    for _ in range(2):  # right ones do not keep the wrong ones young
        clock.pass_by(FORGOTTEN_AFTER_SECONDS // 2)
        assert entrance.guess("pin ben", "10.0.0.7") == 0
        entrance.right("pin ben", "10.0.0.7")
    assert [entrance.guess("pin carla", "10.0.0.7") for _ in range(4)] == [0, 0, 0, 1]


def test_right_ones_of_an_own_account_hurry_no_wrong_ones_at_another(entrance: Entrance, clock: Clock) -> None:
    guess_wrong(entrance, clock, 5)
    for wait in (4, 8, 16):
        clock.pass_by(wait - 1)
        assert entrance.guess("own", "10.0.0.7") == 1
        clock.pass_by(1)
        assert entrance.guess("own", "10.0.0.7") == 0
        entrance.right("own", "10.0.0.7")
        assert entrance.guess("anna", "10.0.0.7") == 0


def test_two_who_count_in_one_file_count_the_same_time_once(tmp_path: Path, clock: Clock) -> None:
    """Else a wait would pass twice as fast, and a session too."""
    one, other = (Entrance(tmp_path, clock, clock.steady) for _ in range(2))
    token = one.begin(ANNA, "password")
    guess_wrong(one, clock, 5)
    assert one.guess("anna", "10.0.0.7") == 4
    for entrance in (other, one, other):
        clock.pass_by(1)
        wait = entrance.guess("anna", "10.0.0.7")
    assert wait == 1
    for _ in range(11):  # 11 hours and more, short of the absolute limit
        for entrance in (other, one):
            clock.pass_by(1800)
            assert entrance.who(token) is not None


def test_whoever_never_stops_guessing_at_a_name_keeps_nobody_from_where_they_signed_in_before(
    entrance: Entrance, clock: Clock
) -> None:
    """Else each turn that comes would go to whoever asks all the time, and its owner would never get in."""
    entrance.guess("anna", "at the desk", at_door=True)
    entrance.right("anna", "at the desk", at_door=True)
    for _ in range(3):
        guess_wrong(entrance, clock, 9, address="10.9.0.1")
        assert entrance.guess("anna", "at the desk", at_door=True) == 0
        entrance.right("anna", "at the desk", at_door=True)
        assert entrance.guess("anna", "10.9.0.2", at_door=True) > 0  # a right one there frees no stranger
    waits = [entrance.guess("anna", "at the desk", at_door=True) for _ in range(4)]
    assert waits == [0, 0, 0, 1]  # and from there it is slowed by its own


def test_what_a_page_asks_by_itself_is_no_use_of_a_session(entrance: Entrance, clock: Clock) -> None:
    token = entrance.begin(ANNA, "password")
    for _ in range(3):  # used within what is remembered of the page's own question
        assert entrance.who(token, used=False) is not None
        clock.pass_by(IDLE_SECONDS // 2)
        assert entrance.who(token) is not None
    for _ in range(9):
        clock.pass_by(IDLE_SECONDS // 10)
        assert entrance.who(token, used=False) is not None
    clock.pass_by(IDLE_SECONDS // 10 - 5)
    assert entrance.who(token, used=False) is not None
    clock.pass_by(5)
    assert entrance.who(token, used=False) is None
