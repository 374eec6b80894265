"""What of an account leaves the centre: its events sealed, its sign-in name to its owner, its hashes to nobody."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from centre_builder import Centre
from ledger_examples import look, tables_in

from course.actions import accounts
from course.actions.privacy import erase_person
from course.answers.accounts import account_named, account_of, any_account
from course.answers.own_data import own_data
from course.exchange.audit_check import check_file
from course.exchange.audit_file import seal
from course.exchange.merging import hand_over, merge
from course.exchange.own_data import own_data_bytes, page
from course.storage import passwords
from course.storage.backup import backup, restore
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.mending import rebuild
from course.storage.passwords import is_right
from course.words import Authority, Office

SIGN_IN, PASSWORD, NEXT = "Glasswort", "seven grey seals dive", "a lamp under the pier"


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes that are quick to make; how slow they are is in test_passwords."""
    monkeypatch.setattr(passwords, "_hasher", passwords.PasswordHasher(time_cost=1, parallelism=1, memory_cost=8))


@pytest.fixture
def with_accounts(small_centre: Centre) -> Centre:
    """The lead and a student with accounts, the student with a PIN and a second password."""
    c = small_centre
    accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password=PASSWORD)
    accounts.make_account(c.ledger, c.lead, c.amaru, name=SIGN_IN, password=PASSWORD, offices=[Office.AUDITOR])
    accounts.set_password(c.ledger, c.amaru, c.amaru, NEXT, own=True)
    accounts.set_pin(c.ledger, c.amaru, c.amaru, "4826")
    return c


def hashes(c: Centre) -> list[str]:
    """Every hash that the accounts have, and the salt and tag of each."""
    found = [
        text
        for fact in c.ledger.facts("account")
        for part in c.ledger.secrets(fact)["by_event"].values()
        for text in part.values()
        if text.startswith("$argon2id$")
    ]
    assert len(found) == 4
    return [piece for one in found for piece in (one, *one.split("$")[-2:])]


def test_one_persons_own_data_tell_the_name_and_offices_and_no_hash(with_accounts: Centre) -> None:
    c = with_accounts
    told = own_data(c.ledger, c.amaru)
    assert told.person["accounts"] == [
        {"closed": False, "sign_in_name": SIGN_IN, "offices": ["auditor"], "has_a_pin": True}
    ]
    kinds = [line["kind"] for line in told.events if line["kind"].startswith(("account", "pass", "pin", "off"))]
    assert kinds == ["account_made/1", "offices_given/1", "password_set/1", "pin_set/1"]
    for text in (json.dumps(told.plain()), page(told), own_data_bytes(c.ledger, c.lead, c.amaru).decode("latin-1")):
        assert "argon2" not in text
        assert not [one for one in hashes(c) if one in text]


def test_an_audit_file_with_names_has_neither_hashes_nor_sign_in_names(with_accounts: Centre, tmp_path: Path) -> None:
    c = with_accounts
    seal(c.ledger, tmp_path / "a.zip", given_to="Harbour Office")
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        for name in archive.namelist():
            content = archive.read(name)
            assert b"Amaru Tendelle" in content or name != "tables/names.csv"
            for secret in ("argon2", SIGN_IN, *hashes(c)):
                assert secret.encode() not in content, name


def test_an_audit_file_of_a_centre_with_accounts_is_found_whole(with_accounts: Centre, tmp_path: Path) -> None:
    c = with_accounts
    accounts.enter_for_office(c.ledger, c.lead, shown_as="Odo", name="odo", password=PASSWORD, offices=[Office.AUDITOR])
    for given_to in (None, "Harbour Office"):
        file = tmp_path / f"{given_to}.zip"
        seal(c.ledger, file, given_to=given_to)
        assert check_file(file).fine


def test_files_of_a_folder_rows_and_a_bundle_hold_accounts_sealed(with_accounts: Centre, tmp_path: Path) -> None:
    c, secrets = with_accounts, hashes(with_accounts)
    hand_over(c.ledger, tmp_path / "b.zip")
    c.ledger.close()
    for file in (*c.ledger.folder.iterdir(), tmp_path / "b.zip"):
        content = file.read_bytes() if file.is_file() else b""
        for secret in ("argon2", SIGN_IN, *secrets):
            assert secret.encode() not in content, file.name
    for row in (*look(c.ledger.folder, "SELECT body FROM event"), *tables_in(c.ledger.folder)):
        assert not [secret for secret in ("argon2", SIGN_IN, *secrets) if secret in repr(row)]
    assert verify(c.ledger.folder).findings == ()
    rebuild(c.ledger.folder)
    with open_ledger(c.ledger.folder) as ledger:
        found = account_named(ledger, SIGN_IN)
    assert found is not None
    assert is_right(found.password, NEXT)


def test_another_laptop_of_the_centre_lets_people_in_once_it_has_their_keys(
    small_centre: Centre, new_database: Callable[[], str | None], tmp_path: Path
) -> None:
    """Accounts travel in bundles sealed; without the keys the laptop knows that there are some, and lets nobody in."""
    c, second = small_centre, tmp_path / "second"
    backup(c.ledger.folder, tmp_path / "begin.tar")
    accounts.make_account(c.ledger, c.lead, c.lead, name="tamsin", password=PASSWORD)
    late = accounts.enter_for_office(
        c.ledger, c.lead, shown_as="Odo Penhallick", name="odo", password=PASSWORD, offices=[Office.AUDITOR]
    )
    hand_over(c.ledger, tmp_path / "b.zip", keys=tmp_path / "k.json")
    device = next(iter(c.ledger.events(c.lead))).device
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(tmp_path / "state-2"))
        restore(tmp_path / "begin.tar", second, database=new_database())
        with open_ledger(second, write=True) as ledger:
            assert not any_account(ledger)
            merge(ledger, c.lead, [tmp_path / "b.zip"], accept=[device])
            assert any_account(ledger)
            assert account_of(ledger, late) is None  # whose key came into being after the backup
            assert account_named(ledger, "tamsin") is not None
            merge(ledger, c.lead, [tmp_path / "b.zip"], keys=tmp_path / "k.json")
            found = account_named(ledger, "odo")
            assert found is not None
            assert is_right(found.password, PASSWORD)


def test_what_an_account_held_is_gone_with_the_key_once_its_owner_is_erased(with_accounts: Centre) -> None:
    c = with_accounts
    (fact,) = c.ledger.facts("account", person=c.amaru)
    erase_person(c.ledger, c.lead, c.amaru, authority=Authority.PERSON, reason="asked in writing", despite="so be it")
    assert (account_of(c.ledger, c.amaru), account_named(c.ledger, SIGN_IN)) == (None, None)
    assert c.ledger.secrets(c.ledger.fact("account", fact.id) or fact)["by_event"] == {}
    assert all(not c.ledger.private_of(one) for one in c.ledger.events(fact.id))
    assert c.ledger.secrets(fact)["by_event"] == {}  # read before, and asked again after
