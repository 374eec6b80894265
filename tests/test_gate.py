"""The gate before the screens: whose Host it answers, whom it asks for the code, how it slows guessing down."""

from __future__ import annotations

import re
import stat
from pathlib import Path
from typing import Any

import pytest
from asgi_call import ELSEWHERE, HERE, Reply, call
from hypothesis import given
from hypothesis import strategies as st

from course.errors import StorageError
from course.moments import now
from course.screens.gate import COOKIE, Gate, Keys, is_this_machine, keys_in, new_code
from course.storage.entrance import Entrance

MOMENT = now()
KEYS = Keys(secret="a secret for tests only", code="K7MP-3XQA")  # noqa: S106
LAN = {"server": ("192.168.7.5", 8571), "client": ELSEWHERE}
LAN_HOST = {"host": "192.168.7.5:8571"}
PAGE = {**LAN_HOST, "accept": "text/html,*/*"}


async def inner(scope: Any, receive: Any, send: Any) -> None:
    """Stands for Streamlit: says that it was reached."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.accept"})
        return
    await send({"type": "http.response.start", "status": 200, "headers": [(b"x-frame-options", b"ALLOWALL")]})
    await send({"type": "http.response.body", "body": b"inside"})


class Clock:
    """Seconds that only move when told."""

    now = 1000.0

    def __call__(self) -> float:
        return self.now


def gate(keys: Keys | None = KEYS, **more: Any) -> Gate:
    return Gate(inner, port=8571, keys=keys, names=["poolside", "poolside.local"], **more)


def give_code(app: Gate, code: str, client: tuple[str, int] = ELSEWHERE, **headers: str) -> Reply:
    server = {**LAN, "client": client}
    body = f"code={code}&then=%2F%3Fattempt%3D1".encode()
    return call(app, "POST", "/course/sign-in", headers={**LAN_HOST, **headers}, body=body, **server)


def cookie_of(reply: Reply) -> str:
    return reply.headers["set-cookie"].split(";")[0]


@pytest.mark.parametrize(
    "host", ["localhost:8571", "127.0.0.1:8571", "[::1]:8571", "poolside:8571", "POOLSIDE.local:8571"]
)
def test_this_machine_passes_under_its_own_names(host):
    assert call(gate(), headers={"host": host}).text == "inside"


@pytest.mark.parametrize(
    "host",
    ["evil.example:8571", "localhost:80", "localhost", "localhost.evil.example:8571", "user@localhost:8571",
     "10.0.0.9:8571", "", "localhost:99999999", "localhost:8571/x", "poolside..:8571x"],
)  # fmt: skip
@pytest.mark.parametrize("kind", ["http", "websocket"])
def test_a_host_that_is_not_ours_is_refused_even_from_this_machine(host, kind):
    """A name turned to point at this machine must not reach it (DNS rebinding)."""
    reply = call(gate(), headers={"host": host, "origin": f"http://{host}"}, kind=kind)
    assert reply.body != b"inside"
    assert not reply.accepted
    assert reply.status in (421, 1008)


def test_an_address_is_ours_when_the_connection_came_in_on_it():
    assert call(gate(), headers=PAGE, **LAN).status == 401
    other = call(gate(), headers={**PAGE, "host": "192.168.7.6:8571"}, **LAN)
    assert other.status == 421


def test_another_machine_gets_the_form_for_a_page_and_a_refusal_for_all_else():
    page = call(gate(), path="/people", headers=PAGE, **LAN)
    assert (page.status, 'name="code"' in page.text, "inside" in page.text) == (401, True, False)
    for method, path in (
        ("GET", "/static/js/index.js"),
        ("POST", "/course/marks"),
        ("GET", "/course/pulse"),
        ("POST", "/"),
    ):
        reply = call(gate(), method, path, headers={**LAN_HOST, "accept": "*/*"}, **LAN)
        assert (reply.status, "sentence" in reply.content) == (401, True)


def test_the_form_remembers_which_attempt_was_asked_for():
    page = call(gate(), path="/?attempt=1&sheet=2", headers=PAGE, **LAN)
    assert 'name="then" value="/?attempt=1&amp;sheet=2"' in page.text


def test_another_machine_without_the_code_gets_no_websocket():
    reply = call(gate(), path="/_stcore/stream", headers=LAN_HOST, kind="websocket", **LAN)
    assert not reply.accepted
    assert reply.status == 1008


def test_a_websocket_from_another_page_is_refused():
    reply = call(gate(), headers={"origin": "http://evil.example"}, kind="websocket")
    assert not reply.accepted
    assert call(gate(), headers={"origin": "http://localhost:8571"}, kind="websocket").accepted


@pytest.mark.parametrize("typed", ["K7MP-3XQA", "k7mp3xqa", "k7mp 3xqa", " K7MP-3xqa "])
def test_the_code_lets_another_machine_in_for_pages_taps_and_websockets(typed):
    app = gate()
    reply = give_code(app, typed)
    assert (reply.status, reply.headers["location"]) == (303, "/?attempt=1")
    known = {**LAN_HOST, "cookie": cookie_of(reply)}
    assert call(app, headers=known, **LAN).text == "inside"
    assert call(app, "POST", "/course/marks", headers=known, **LAN).text == "inside"
    assert call(app, headers=known, kind="websocket", **LAN).accepted


def test_the_cookie_cannot_be_read_by_scripts_or_sent_from_other_sites_and_holds_no_code():
    attributes = give_code(gate(), KEYS.code).headers["set-cookie"]
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= {part.strip() for part in attributes.split(";")}
    assert KEYS.code not in attributes
    assert KEYS.secret not in attributes


def test_the_cookie_survives_a_restart_and_ends_with_a_new_code():
    cookie = {**LAN_HOST, "accept": "text/html", "cookie": cookie_of(give_code(gate(), KEYS.code))}
    assert call(gate(), headers=cookie, **LAN).text == "inside"
    renewed = Keys(secret=KEYS.secret, code="AAAA-BBBB")
    assert call(gate(renewed), headers=cookie, **LAN).status == 401


@pytest.mark.parametrize("forged", ["", "x", "ImFhYSI.abc.def", "a" * 5000, '"; drop', "\x00"])
def test_a_forged_cookie_is_worth_nothing(forged):
    reply = call(gate(), headers={**PAGE, "cookie": f"{COOKIE}={forged}"}, **LAN)
    assert reply.status == 401


def slow_gate(folder: Path, clock: Clock) -> Gate:
    return gate(guesses=Entrance(folder, lambda: MOMENT, clock))


def test_wrong_guesses_wait_longer_each_time_but_never_for_good(tmp_path):
    """Three are free, then waits double from one second to five minutes (OWASP ASVS 5.0.0, 2.4.1)."""
    clock = Clock()
    app = slow_gate(tmp_path, clock)
    assert [give_code(app, "WRONG").status for _ in range(3)] == [401] * 3
    waits = []
    for _ in range(11):
        early = give_code(app, KEYS.code)
        assert early.status == 429  # the right code too: else waiting would not slow guessing
        waits.append(int(early.headers["retry-after"]))
        clock.now += waits[-1]
        assert give_code(app, "WRONG").status == 401
    assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300]
    clock.now += 300
    assert give_code(app, KEYS.code).status == 303


def test_a_restart_shortens_no_wait_after_wrong_codes(tmp_path):
    clock = Clock()
    for _ in range(6):
        give_code(slow_gate(tmp_path, clock), "WRONG")
    assert give_code(slow_gate(tmp_path, clock), KEYS.code).status == 429
    clock.now += 1
    assert give_code(slow_gate(tmp_path, clock), KEYS.code).status == 303


def test_one_guesser_holds_up_no_other_machine_at_first(tmp_path):
    clock = Clock()
    app = slow_gate(tmp_path, clock)
    for _ in range(6):
        give_code(app, "WRONG")
        clock.now += 60
    assert give_code(app, KEYS.code, client=("192.168.7.99", 4)).status == 303


def test_many_addresses_together_are_slowed_to_one_guess_in_five_seconds(tmp_path):
    clock = Clock()
    app = slow_gate(tmp_path, clock)
    assert give_code(app, KEYS.code, client=("192.168.7.98", 4)).status == 303
    answers = [give_code(app, "WRONG", client=(f"10.0.{n}.1", 4)).status for n in range(40)]
    assert answers == [401] * 30 + [429] * 10
    assert give_code(app, KEYS.code, client=("192.168.7.98", 4)).status == 303  # it gave the right one before
    clock.now += 5
    assert give_code(app, KEYS.code, client=("192.168.7.99", 4)).status == 303


def test_addresses_of_one_ipv6_network_count_as_one(tmp_path):
    app = slow_gate(tmp_path, Clock())
    for n in range(3):
        give_code(app, "WRONG", client=(f"fd00:1:2:3::{n}", 4))
    assert give_code(app, KEYS.code, client=("fd00:1:2:3:ffff::9", 4)).status == 429
    assert give_code(app, KEYS.code, client=("fd00:1:2:4::1", 4)).status == 303


def test_where_wrong_codes_cannot_be_counted_none_is_looked_at(tmp_path):
    app = slow_gate(tmp_path, Clock())
    (tmp_path / "entrance.db").write_bytes(b"no database" * 500)
    reply = give_code(app, KEYS.code)
    assert (reply.status, "set-cookie" in reply.headers, "NOT saved" in reply.text) == (503, False, True)


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE"])
def test_the_form_of_the_code_takes_no_other_method(method):
    assert call(gate(), method, "/course/sign-in", headers=LAN_HOST, **LAN).status == 405


def test_a_code_sent_from_another_page_is_refused():
    assert give_code(gate(), KEYS.code, origin="http://evil.example").status == 403


@pytest.mark.parametrize(
    "then", ["//evil.example", "https://evil.example", "/\\evil.example", "/x\r\nset-cookie: a=b", "javascript:x"]
)
def test_after_signing_in_one_stays_on_this_server(then):
    from urllib.parse import urlencode

    body = urlencode({"code": KEYS.code, "then": then}).encode()
    reply = call(gate(), "POST", "/course/sign-in", headers=LAN_HOST, body=body, **LAN)
    where = reply.headers["location"]
    assert where.startswith("/")
    assert not where.startswith(("//", "/\\"))
    assert not re.search(r"[\r\n]", where)


@given(st.text(max_size=60))
def test_the_form_shows_what_was_asked_for_as_text_only(text):
    """No text in the address becomes markup on the form."""
    from urllib.parse import quote

    page = call(gate(), path="/course/sign-in?then=" + quote("/" + text), headers=LAN_HOST, **LAN).text
    value = re.search(r'name="then" value="([^"]*)"', page)
    assert value is not None
    assert not re.search(r"[<>]", value.group(1))


def test_a_form_larger_than_any_code_is_cut_off():
    parts = [b"code=" + b"x" * 1000] + [b"x" * 1000] * 500
    assert call(gate(), "POST", "/course/sign-in", headers=LAN_HOST, body=parts, **LAN).status == 401


def test_without_sharing_other_machines_are_refused_and_told_why():
    reply = call(gate(None), headers=PAGE, **LAN)
    assert (reply.status, "--share" in reply.content["sentence"]) == (403, True)
    assert call(gate(None)).text == "inside"


def test_every_answer_carries_safe_headers():
    """Also where the inner application says otherwise."""
    for reply in (call(gate()), call(gate(), headers=PAGE, **LAN), call(gate(), headers={"host": "evil.example"})):
        assert reply.headers["x-content-type-options"] == "nosniff"
        assert reply.headers["x-frame-options"] == "DENY"
        assert reply.headers["referrer-policy"] == "no-referrer"
        policy = reply.headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert {"frame-ancestors 'none'", "object-src 'none'", "base-uri 'none'"} <= set(policy.split("; "))
        assert "http:" not in policy
        assert "https:" not in policy


def test_a_browser_keeps_nothing_but_what_is_the_same_for_everybody():
    """Also where the inner application says otherwise."""

    async def cached(scope: Any, receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": [(b"cache-control", b"max-age=9")]})
        await send({"type": "http.response.body", "body": b""})

    for path in ("/", "/mark", "/media/a.pdf", "/_stcore/host-config", "/course/pulse"):
        assert call(Gate(cached, port=8571), path=path).headers["cache-control"] == "no-store", path
    for path in ("/static/js/index.js", "/_stcore/bidi-components/a/b.js", "/course/fonts/FiraSans-Bold.ttf"):
        assert call(Gate(cached, port=8571), path=path).headers["cache-control"] == "max-age=9", path


def test_a_host_header_cannot_write_into_the_policy():
    reply = call(gate(), headers={"host": "x; script-src *"})
    assert "script-src *" not in reply.headers["content-security-policy"]


def test_fonts_are_open_so_that_the_form_can_be_read():
    assert call(gate(), path="/course/fonts/FiraSans-Bold.ttf", headers=LAN_HOST, **LAN).text == "inside"


@pytest.mark.parametrize("rest", ["", "a", "a/b", "FiraSans-Bold.ttf/", "../marks", "x/FiraSans-Bold.ttf"])
def test_what_only_begins_like_a_font_is_as_closed_as_all_else(rest):
    assert call(gate(), path=f"/course/fonts/{rest}", headers=LAN_HOST, **LAN).status == 401


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("127.0.0.1", True),
        ("127.8.8.8", True),
        ("::1", True),
        ("::ffff:127.0.0.1", True),
        ("192.168.7.5", False),
        ("", False),
        ("x", False),
    ],
)
def test_only_loopback_is_this_machine(address, expected):
    assert is_this_machine(address) is expected
    assert is_this_machine(HERE[0])


def test_keys_are_kept_and_a_new_code_leaves_the_secret(tmp_path: Path):
    first = keys_in(tmp_path / "state")
    assert keys_in(tmp_path / "state") == first
    renewed = keys_in(tmp_path / "state", renew_code=True)
    assert (renewed.secret, renewed.code != first.code, renewed.mark != first.mark) == (first.secret, True, True)
    assert keys_in(tmp_path / "state") == renewed
    assert stat.S_IMODE((tmp_path / "state" / "gate.json").stat().st_mode) == 0o600


@pytest.mark.parametrize("content", ["", "{", "[]", '{"secret": "x"}', "null"])
def test_a_damaged_key_file_is_made_anew(tmp_path: Path, content: str):
    (tmp_path / "gate.json").write_text(content)
    keys = keys_in(tmp_path)
    assert keys_in(tmp_path) == keys


def test_keys_that_cannot_be_kept_are_an_error_for_people(tmp_path: Path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StorageError, match="cannot be kept"):
        keys_in(tmp_path / "file")


def test_a_code_has_no_letters_that_are_misread():
    codes = {new_code() for _ in range(200)}
    assert len(codes) == 200
    assert all(re.fullmatch(r"[A-HJKMNP-Z2-9]{4}-[A-HJKMNP-Z2-9]{4}", code) for code in codes)
