"""A centre's key: made once, kept apart from the ledger, replaced, lost and put back."""

from __future__ import annotations

import shutil
import stat
from pathlib import Path

import pytest
from centre_builder import Centre
from click.testing import CliRunner

from course.actions import keys as keeping
from course.answers.centre_keys import centre_keys, copy_key, key_lines, paper_key, signing_key
from course.commands import main
from course.errors import RefusedError
from course.record.centre_key import fingerprint
from course.storage import backup
from course.storage.centre_key import FILE, SigningKey, new_key, read_key_file, read_keys, set_apart, write_key
from course.storage.ledger import open_ledger


def the_key(centre: Centre) -> SigningKey:
    """The key that signs now."""
    key = paper_key(centre.ledger)
    assert key is not None
    return key


def test_a_key_is_made_once(small_centre: Centre) -> None:
    first = keeping.make_key(small_centre.ledger, small_centre.lead)
    assert (
        keeping.make_key(small_centre.ledger, small_centre.lead) == first == fingerprint(the_key(small_centre).public)
    )
    assert len(centre_keys(small_centre.ledger)) == 1


def test_its_secret_is_in_a_file_of_its_own_that_its_owner_alone_reads(small_centre: Centre, tmp_path: Path) -> None:
    """No file of the centre's folder holds it, the vault neither, and no backup."""
    keeping.make_key(small_centre.ledger, small_centre.lead)
    folder, apart, secret = small_centre.ledger.folder, small_centre.ledger.key_folder, the_key(small_centre).secret
    assert folder not in apart.parents
    assert stat.S_IMODE((apart / FILE).stat().st_mode) == 0o600
    assert stat.S_IMODE(apart.stat().st_mode) == 0o700
    kept = tmp_path / "centre.backup"
    backup.backup(folder, kept)
    for file in (kept, *(one for one in folder.rglob("*") if one.is_file())):
        content = file.read_bytes()
        assert secret not in content
        assert secret.hex().encode() not in content


def test_a_key_that_an_earlier_version_left_in_the_folder_is_moved_and_it_is_told(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    ledger = small_centre.ledger
    keeping.make_key(ledger, small_centre.lead)
    key, folder, apart = the_key(small_centre), ledger.folder, ledger.key_folder
    (apart / FILE).rename(folder / FILE)
    assert the_key(small_centre) == key, "it is read where it lies"
    ledger.close()
    with open_ledger(folder, write=True) as again:
        assert any("lay in its folder" in told for told in again.notices)
        assert not (folder / FILE).exists()
        assert paper_key(again) == key
    with open_ledger(folder, write=True) as again:
        assert not any("lay in its folder" in told for told in again.notices)
    shutil.copytree(folder, tmp_path / "elsewhere")
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "another machine"))
    with open_ledger(tmp_path / "elsewhere") as copied:
        assert paper_key(copied) is None, "a copy of the folder cannot sign as the centre"


def test_a_second_key_in_the_folder_is_set_apart_beside_the_first_and_the_one_in_use_signs(
    small_centre: Centre,
) -> None:
    ledger = small_centre.ledger
    keeping.make_key(ledger, small_centre.lead)
    key, other = the_key(small_centre), new_key()
    (ledger.key_folder / FILE).rename(ledger.folder / FILE)
    write_key(ledger.key_folder / FILE, other)
    assert "lay in its folder" in set_apart(ledger.folder, ledger.key_folder)
    assert not (ledger.folder / FILE).exists()
    assert set(read_keys(ledger.key_folder)) == {key, other}
    assert the_key(small_centre) == key


def test_a_key_in_the_folder_stays_until_it_is_on_the_disk_elsewhere(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every folder on the way to its new place is synced before the old file goes."""
    ledger = small_centre.ledger
    keeping.make_key(ledger, small_centre.lead)
    key, folder, apart = the_key(small_centre), ledger.folder, ledger.key_folder
    (apart / FILE).replace(folder / FILE)
    apart.rmdir()
    apart.parent.rmdir()
    with monkeypatch.context() as patch:
        patch.setattr("course.storage.centre_key.sync_folder", _full)
        assert set_apart(folder, apart) == ""
        assert the_key(small_centre) == key
        assert (folder / FILE).exists()
    shutil.rmtree(apart.parent)
    synced: list[tuple[Path, bool]] = []
    monkeypatch.setattr(
        "course.storage.centre_key.sync_folder", lambda one: synced.append((one, (folder / FILE).exists()))
    )
    assert set_apart(folder, apart)
    assert synced == [(apart.parent.parent, True), (apart.parent, True), (apart, True), (folder, False)]
    assert stat.S_IMODE(apart.parent.stat().st_mode) == 0o700


def test_a_damaged_key_that_an_earlier_version_left_is_replaced_as_lost_and_papers_are_signed_again(
    small_centre: Centre,
) -> None:
    ledger = small_centre.ledger
    keeping.make_key(ledger, small_centre.lead)
    (ledger.key_folder / FILE).unlink()
    (ledger.folder / FILE).write_text("cut")
    assert set_apart(ledger.folder, ledger.key_folder) == ""
    assert paper_key(ledger) is None
    keeping.replace_key(ledger, small_centre.lead, lost=True)
    assert signing_key(ledger) is not None


def test_a_copy_of_the_key_is_not_written_into_the_folder_that_is_handed_on(small_centre: Centre) -> None:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    with pytest.raises(RefusedError, match=r"is in the centre's folder.*Nothing was written"):
        copy_key(small_centre.ledger, small_centre.ledger.folder / "rubrics" / "copy")


def test_a_folder_that_is_put_back_on_the_same_machine_finds_its_key(small_centre: Centre, tmp_path: Path) -> None:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    backup.backup(small_centre.ledger.folder, tmp_path / "kept")
    backup.restore(tmp_path / "kept", tmp_path / "again")
    with open_ledger(tmp_path / "again", write=True) as again:
        assert paper_key(again) == the_key(small_centre)


def _full(_: Path) -> None:
    raise OSError(28, "No space left on device")


def test_a_key_that_was_written_before_something_stopped_it_is_taken(small_centre: Centre) -> None:
    key = new_key()
    write_key(small_centre.ledger.key_folder / FILE, key)
    assert paper_key(small_centre.ledger) is None
    assert keeping.make_key(small_centre.ledger, small_centre.lead) == fingerprint(key.public)


def test_a_key_that_is_kept_vouches_for_the_next_one(small_centre: Centre) -> None:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    old = the_key(small_centre)
    keeping.replace_key(small_centre.ledger, small_centre.lead, lost=False, reason="once a year")
    before, now = centre_keys(small_centre.ledger)
    assert (before.public, before.ended, before.replaced_by) == (old.public, "kept", now.public)
    assert now.ended is None
    assert the_key(small_centre).public == now.public
    assert "what it signed before holds" in key_lines((before, now))[0]
    assert len(list(read_keys(small_centre.ledger.key_folder))) == 1


def test_a_lost_key_is_replaced_without_it_and_only_when_that_is_said(small_centre: Centre) -> None:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    (small_centre.ledger.key_folder / FILE).unlink()
    assert paper_key(small_centre.ledger) is None
    for act in (
        lambda: keeping.make_key(small_centre.ledger, small_centre.lead),
        lambda: keeping.replace_key(small_centre.ledger, small_centre.lead, lost=False),
    ):
        with pytest.raises(RefusedError, match=r"not on this machine.*--lost"):
            act()
    keeping.replace_key(small_centre.ledger, small_centre.lead, lost=True)
    before, now = centre_keys(small_centre.ledger)
    assert before.ended == "lost"
    assert "is not to be trusted" in key_lines((before,))[0]
    assert the_key(small_centre).public == now.public


def test_a_key_is_put_back_from_its_copy_unless_it_was_replaced(small_centre: Centre, tmp_path: Path) -> None:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    copy = tmp_path / "copy"
    write_key(copy, the_key(small_centre))
    (small_centre.ledger.key_folder / FILE).unlink()
    keeping.put_back(small_centre.ledger, small_centre.lead, copy)
    assert the_key(small_centre) == read_key_file(copy)
    keeping.replace_key(small_centre.ledger, small_centre.lead, lost=False)
    with pytest.raises(RefusedError, match="was replaced"):
        keeping.put_back(small_centre.ledger, small_centre.lead, copy)
    write_key(tmp_path / "next", the_key(small_centre))
    keeping.replace_key(small_centre.ledger, small_centre.lead, lost=True)
    with pytest.raises(RefusedError, match="was said to be lost"):
        keeping.put_back(small_centre.ledger, small_centre.lead, tmp_path / "next")


def test_a_strange_key_is_not_taken(small_centre: Centre, tmp_path: Path) -> None:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    write_key(tmp_path / "strange", new_key())
    with pytest.raises(RefusedError, match="none of this centre's"):
        keeping.put_back(small_centre.ledger, small_centre.lead, tmp_path / "strange")
    write_key(small_centre.ledger.key_folder / FILE, new_key())
    assert paper_key(small_centre.ledger) is None


@pytest.mark.parametrize("content", ["", "loopledger-centre-key 1", "loopledger-centre-key 1\nabc", "ü", "x" * 900])
def test_a_key_file_that_was_cut_is_told_with_what_to_do(small_centre: Centre, content: str) -> None:
    small_centre.ledger.key_folder.mkdir(parents=True, exist_ok=True)
    (small_centre.ledger.key_folder / FILE).write_text(content, encoding="latin-1")
    with pytest.raises(RefusedError, match=r"is no key of a centre.*--lost"):
        signing_key(small_centre.ledger)


def test_with_a_damaged_key_printing_goes_on_and_it_can_be_said_to_be_lost(small_centre: Centre) -> None:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    (small_centre.ledger.key_folder / FILE).write_text("cut")
    assert paper_key(small_centre.ledger) is None
    keeping.replace_key(small_centre.ledger, small_centre.lead, lost=True)
    assert paper_key(small_centre.ledger) == signing_key(small_centre.ledger) is not None


def test_a_next_key_that_the_old_one_did_not_sign_is_none_of_the_centre_s(small_centre: Centre) -> None:
    """Whoever can write into the ledger, but has not the key, cannot hand it over."""
    from course.actions.drafting import body, draft
    from course.record.key_events import CentreKeyReplaced

    keeping.make_key(small_centre.ledger, small_centre.lead)
    old, forged = the_key(small_centre), new_key()
    content = body(
        CentreKeyReplaced, public=forged.public, replaces=old.public, why="kept", signed=forged.sign(b"I am the next"),
        **keeping._when(small_centre.ledger),
    )  # fmt: skip
    small_centre.ledger.append([draft(small_centre.lead, content)])
    assert [key.public for key in centre_keys(small_centre.ledger)] == [old.public]


def test_only_the_lead_makes_or_replaces_it(small_centre: Centre) -> None:
    for act in (keeping.make_key, lambda *who: keeping.replace_key(*who, lost=True)):
        with pytest.raises(RefusedError, match="make or replace the centre's key"):
            act(small_centre.ledger, small_centre.amaru)


def test_the_command_shows_the_key_gives_out_its_public_part_and_copies_it(tmp_path: Path) -> None:
    folder, run = tmp_path / "centre", CliRunner()
    apart = tmp_path / "state" / "keys"
    made = run.invoke(main, ["new", str(folder), "--centre", "Test House", "--lead", "Ada Vale"]).output
    (kept,) = apart.glob(f"*/{FILE}")
    secret = read_key_file(kept).secret.hex()
    shown = run.invoke(
        main, ["key", str(folder), "--export", str(tmp_path / "public"), "--copy", str(tmp_path / "copy")]
    )
    assert shown.exit_code == 0, shown.output
    with open_ledger(folder) as ledger:
        assert key_lines(centre_keys(ledger))[0] in shown.output
    assert shown.output[:60] in made.replace("papers: ", "papers: \n")
    assert secret not in shown.output + made + (tmp_path / "public").read_text()
    assert secret in (tmp_path / "copy").read_text()
    again = run.invoke(main, ["key", str(folder), "--copy", str(tmp_path / "copy")])
    assert again.exit_code == 3
    assert "is there already" in again.output
    kept.unlink()
    unsigned = run.invoke(main, ["print", str(folder), "any", "--paper", "bench-sheet", "--out", str(tmp_path / "p")])
    assert "This paper is not signed. The centre's key is not on this machine: bring it by its copy" in unsigned.output
    assert "in use.\nThe centre's key is not on this machine" in run.invoke(main, ["key", str(folder)]).output
    put_back = run.invoke(main, ["key", str(folder), "--put-back", str(tmp_path / "copy")])
    assert put_back.output.endswith("in use.\n")
    assert "replaced on" in run.invoke(main, ["key", str(folder), "--replace", "--reason", "once a year"]).output
    assert "lost on" in run.invoke(main, ["key", str(folder), "--lost"]).output
