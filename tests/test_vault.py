"""Private data: sealed, opened, erased."""

from __future__ import annotations

import base64
import stat
from collections.abc import Callable
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESSIV
from hypothesis import given
from hypothesis import strategies as st
from ledger_examples import LEAD, a_person, a_unit, copy_of, drafted, new_centre

from course.errors import DamageError, RefusedError
from course.record.events import CheckOutRecorded, Corrected
from course.record.facts import SealedPiece
from course.storage.backup import backup, restore
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.vault import Vault, open_with, seal_with

OWNER, EVENT = "0192d000-0000-7000-8000-0000000000f1", "0192d000-0000-7000-8000-0000000000f2"


@pytest.fixture(autouse=True)
def _own_device(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "device"))


@pytest.mark.parametrize(
    ("key", "bound_to", "plain", "sealed"),
    [
        (
            "fffefdfcfbfaf9f8f7f6f5f4f3f2f1f0f0f1f2f3f4f5f6f7f8f9fafbfcfdfeff",
            ["101112131415161718191a1b1c1d1e1f2021222324252627"],
            "112233445566778899aabbccddee",
            "85632d07c6e8f37f950acd320a2ecc9340c02b9690c4dc04daef7f6afe5c",
        ),
        (
            "7f7e7d7c7b7a79787776757473727170404142434445464748494a4b4c4d4e4f",
            [
                "00112233445566778899aabbccddeeffdeaddadadeaddadaffeeddccbbaa99887766554433221100",
                "102030405060708090a0",
                "09f911029d74e35bd84156c5635688c0",
            ],
            "7468697320697320736f6d6520706c61696e7465787420746f20656e6372797074207573696e67205349562d414553",
            (
                "7bdb6e3b432667eb06f4d14bff2fbd0fcb900f2fddbe404326601965c889bf17"
                "dba77ceb094fa663b7a3f748ba8af829ea64ad544a272e9c485b62a3fd5c0d"
            ),
        ),
    ],
    ids=["A.1", "A.2"],
)
def test_the_cipher_in_use_gives_the_published_vectors(key: str, bound_to: list[str], plain: str, sealed: str) -> None:
    """Source: RFC 5297, appendix A.1 and A.2, as reproduced in public test suites that name them."""
    cipher, data = AESSIV(bytes.fromhex(key)), [bytes.fromhex(one) for one in bound_to]
    assert cipher.encrypt(bytes.fromhex(plain), data).hex() == sealed
    assert cipher.decrypt(bytes.fromhex(sealed), data).hex() == plain


@given(
    st.dictionaries(
        st.sampled_from(["name", "note", "contact"]), st.text(st.characters(exclude_categories=("Cs",))), min_size=1
    )
)
def test_what_was_sealed_opens_again_and_the_same_content_is_the_same_bytes(private: dict[str, str]) -> None:
    """A form that is sent twice must be one event."""
    key = bytes(range(64))
    data = seal_with(key, OWNER, "person_added/1", EVENT, private)
    assert open_with(key, OWNER, "person_added/1", EVENT, data) == private
    assert seal_with(key, OWNER, "person_added/1", EVENT, private) == data


@pytest.mark.parametrize("part", ["key", "owner", "kind", "event", "data"])
def test_a_sealed_part_opens_only_where_it_belongs(part: str) -> None:
    """Moved to another person, kind or event, or changed in one bit, it is damage and not text."""
    right = {"key": bytes(64), "owner": OWNER, "kind": "person_added/1", "event": EVENT}
    data = seal_with(**right, private={"name": "Amaru"})  # type: ignore[arg-type]
    flipped = bytearray(base64.b64decode(data))
    flipped[-1] ^= 1
    wrong = {"key": bytes([1]) * 64, "owner": EVENT, "kind": "unit_added/1", "event": OWNER}
    changed = (
        right
        | {"data": data}
        | ({part: wrong[part]} if part in wrong else {"data": base64.b64encode(flipped).decode()})
    )
    with pytest.raises(DamageError, match="does not open"):
        open_with(**changed)  # type: ignore[arg-type]


def test_no_private_word_is_in_any_file_of_the_folder(tmp_path: Path, either_database: str | None) -> None:
    """Names, birth dates, contacts and notes are sealed before they reach the disk."""
    with new_centre(tmp_path / "c", either_database) as ledger:
        ledger.append(
            [a_person("Canaryname", birth_date="1987-03-09", contact="canary@example.org", note="canary note")]
        )
        held = b"".join(file.read_bytes() for file in (tmp_path / "c").iterdir() if file.name != "lock")
        (fact,) = ledger.facts("person")[1:]
        assert ledger.private(fact)["birth_date"] == "1987-03-09"
    held += b"".join(file.read_bytes() for file in (tmp_path / "c").iterdir())
    for word in (b"Canaryname", b"1987-03-09", b"canary"):
        assert word not in held


def test_the_vault_is_readable_by_its_owner_only(tmp_path: Path, either_database: str | None) -> None:
    """Mode 0600."""
    new_centre(tmp_path / "c", either_database).close()
    assert stat.S_IMODE((tmp_path / "c" / "vault.db").stat().st_mode) == 0o600


def test_the_key_is_kept_before_its_event_is_saved(tmp_path: Path, either_database: str | None) -> None:
    """An event whose key was lost in between could never be opened."""
    with new_centre(tmp_path / "c", either_database) as ledger:
        person = a_person("Amaru Tendelle")
        assert person.private_of
        ledger.append([person])
        with pytest.raises(RefusedError):  # refused by the ledger, after it was sealed
            ledger.append([a_unit(), a_person("Bruno Ashkenar"), type(person)(person.id, LEAD, a_unit().body)])
        assert Vault(tmp_path / "c", write=False).knows(person.private_of)


def test_erased_data_cannot_be_read_and_everything_else_stands(tmp_path: Path, either_database: str | None) -> None:
    """Every hash stays valid and every count true; nothing private can be added about them again."""
    folder = tmp_path / "c"
    with new_centre(folder, either_database) as ledger:
        person = a_person("Amaru Tendelle")
        ledger.append([person, a_unit()])
        owner = person.private_of
        assert owner
        count = len(list(ledger.events()))
        ledger.forget(owner)
        assert ledger.private(ledger.facts("person")[1]) == {"by_event": {}}
        note = CheckOutRecorded(person=owner, unit_type="type-a", day="2026-10-22", note="says so himself")
        with pytest.raises(RefusedError, match="erased"):
            ledger.append([drafted(note, private_of=owner)])
        assert len(list(ledger.events())) == count
    assert verify(folder).fine
    with open_ledger(folder) as again:
        assert again.vault.is_forgotten(owner)


def test_an_erased_key_leaves_no_trace_in_the_vault_file(tmp_path: Path) -> None:
    """The bytes are overwritten, not only unlinked."""
    vault = Vault(tmp_path, write=True)
    vault.seal(OWNER, "person_added/1", EVENT, {"name": "Amaru"})
    key = vault._known_key(OWNER)
    assert key is not None
    assert key in vault.file.read_bytes()
    vault.forget(OWNER)
    assert key not in vault.file.read_bytes()


def test_a_tombstone_beats_an_older_vault(tmp_path: Path, new_database: Callable[[], str | None]) -> None:
    """Neither an old vault copied back nor an old backup brings erased data to life on this device."""
    folder, file = tmp_path / "c", tmp_path / "old.tar"
    with new_centre(folder, new_database()) as ledger:
        person = a_person("Amaru Tendelle")
        ledger.append([person])
        owner = person.private_of
        assert owner
    backup(folder, file)
    old_vault = (folder / "vault.db").read_bytes()
    with open_ledger(folder, write=True) as ledger:
        ledger.forget(owner)
    (folder / "vault.db").write_bytes(old_vault)
    restore(file, tmp_path / "again", database=new_database())
    for place in (folder, tmp_path / "again"):
        with open_ledger(place, write=True) as ledger:
            assert not ledger.vault.knows(owner)
            assert ledger.private(ledger.facts("person")[1]) == {"by_event": {}}


def test_later_pieces_take_the_place_of_earlier_ones_and_reasons_stay_with_their_event(tmp_path: Path) -> None:
    """A correction's reason does not become a field of the person."""
    vault = Vault(tmp_path, write=True)
    parts = [
        ("e1", "person_added/1", {"name": "Amaro", "note": "left-handed"}),
        ("e2", "corrected/1", {"private_change": {"name": "Amaru"}, "why": "misspelt"}),
        ("e3", "withdrawn/1", {"why": "twice"}),
    ]
    pieces = [
        SealedPiece(
            event=event,
            kind=kind,
            of=OWNER,
            data=vault.seal(OWNER, kind, event, plain).data,
            founding=event == "e1",
            corrects="e1" if kind == "corrected/1" else None,
        )
        for event, kind, plain in parts
    ]
    opened = vault.open_pieces(pieces)
    assert {name: opened[name] for name in opened if name != "by_event"} == {"name": "Amaru", "note": "left-handed"}
    assert opened["by_event"]["e2"]["why"] == "misspelt"
    assert opened["by_event"]["e3"] == {"why": "twice"}


def _opened(tmp_path: Path, *parts: tuple[str, str, dict[str, object], tuple[str, ...]]) -> dict[str, object]:
    """Private fields of a person of whom these were said: (event, kind, private part, corrections replaced)."""
    vault = Vault(tmp_path, write=True)
    return vault.open_pieces(
        SealedPiece(
            event=event, kind=kind, of=OWNER, data=vault.seal(OWNER, kind, event, plain).data, founding=event == "e1",
            corrects="e1" if kind == "corrected/1" else None, replaces=replaces,
        )
        for event, kind, plain, replaces in parts
    )  # fmt: skip


def test_a_corrected_note_is_found_with_the_event_it_was_given_for(tmp_path: Path) -> None:
    opened = _opened(
        tmp_path,
        ("e1", "person_added/1", {"name": "Amaru", "note": "left-handed"}, ()),
        ("e2", "corrected/1", {"private_change": {"note": "right-handed"}}, ()),
    )
    assert opened["note"] == "right-handed"
    assert opened["by_event"]["e1"] == {"name": "Amaru", "note": "right-handed"}  # type: ignore[index]


def test_of_two_private_corrections_that_disagree_neither_holds_until_settled(tmp_path: Path) -> None:
    """The one that was made knowing the other takes its place, and only in the fields that it changes."""
    first = ("e1", "person_added/1", {"name": "Amaro", "note": "left"}, ())
    one = ("e2", "corrected/1", {"private_change": {"name": "Amaru", "note": "right"}}, ())
    other = ("e3", "corrected/1", {"private_change": {"name": "Amara"}}, ())
    opened = _opened(tmp_path, first, one, other)
    assert (opened["name"], opened["note"], opened["contested"]) == ("Amaro", "right", ("name",))
    settled = _opened(
        tmp_path, first, one, other, ("e4", "corrected/1", {"private_change": {"name": "A"}}, ("e2", "e3"))
    )
    assert (settled["name"], settled["note"]) == ("A", "right")
    assert "contested" not in settled


def test_the_note_of_a_check_out_is_not_the_persons_note(tmp_path: Path) -> None:
    opened = _opened(
        tmp_path,
        ("e1", "person_added/1", {"name": "Amaru", "note": "left-handed"}, ()),
        ("e2", "check_out_recorded/1", {"note": "by Tamsin"}, ()),
    )
    assert opened["note"] == "left-handed"


def test_a_correction_of_private_data_goes_through_the_ledger_sealed(
    tmp_path: Path, either_database: str | None
) -> None:
    """In plain text it is refused."""
    with new_centre(tmp_path / "c", either_database) as ledger:
        person = a_person("Amaro")
        owner = person.private_of
        assert owner
        ledger.append([person])
        plain = Corrected(thing=owner, corrects=person.id, change={"name": "Amaru"})
        with pytest.raises(RefusedError, match="private"):
            ledger.append([drafted(plain, private_of=owner)])
        sealed = Corrected(thing=owner, corrects=person.id, private_change={"name": "Amaru"}, why="misspelt")
        (event,) = ledger.append([drafted(sealed, private_of=owner)])
        assert ledger.private(ledger.facts("person")[1])["name"] == "Amaru"
        assert ledger.private_of(event)["why"] == "misspelt"


def test_a_folder_without_its_vault_can_be_read_but_for_the_private_data(
    tmp_path: Path, either_database: str | None
) -> None:
    """And the check says what is missing, without calling it damage."""
    new_centre(tmp_path / "c", either_database).close()
    copy = copy_of(tmp_path / "c", tmp_path / "copy")
    (copy / "vault.db").unlink()
    with open_ledger(copy) as ledger:
        assert ledger.private(ledger.facts("person")[0]) == {"by_event": {}}
    report = verify(copy)
    assert report.fine
    assert "private data of 2 owners" in report.notices[0]


def test_another_vaults_key_is_a_finding(tmp_path: Path, either_database: str | None) -> None:
    """A key that was changed opens nothing, and the check tells."""
    new_centre(tmp_path / "c", either_database).close()
    other = Vault(tmp_path, write=True)
    other.seal(LEAD, "person_added/1", EVENT, {"name": "x"})
    (tmp_path / "c" / "vault.db").write_bytes(other.file.read_bytes())
    assert "does not open" in verify(tmp_path / "c").findings[0]
