"""The check of a paper: every way in which one can be altered, replayed, cut or of another centre, in its own words."""

from __future__ import annotations

import io
import json
import re
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdf
import pypdfium2
import pytest
import zxingcpp
from centre_builder import LAST_DAY, ODD_NAME, Centre, critical_mark
from click.testing import CliRunner
from ledger_examples import change, drafted
from PIL import Image
from pypdf.generic import NameObject

from course.actions import keys as keeping
from course.actions.privacy import erase_person
from course.answers.centre_keys import centre_keys, paper_key, public_keys
from course.answers.competency import competency_record
from course.answers.paper_changes import changes
from course.answers.paper_check import PaperCheck, check_hash, check_paper
from course.answers.paper_verdict import FINE, UNTRUSTED, FileState, Shown, Verdict
from course.commands import main
from course.errors import RefusedError
from course.exchange.merging import hand_over, merge
from course.exchange.paper_file import read_paper
from course.exchange.paper_pages import check_shown
from course.moments import new_id
from course.paper.attachment import attached
from course.paper.competency_record import print_competency_record
from course.record.centre_key import CentreKey, key_id
from course.record.events import CheckpointMade, KnownHead
from course.record.paper_code import PaperCode, read_paper_code
from course.record.paper_document import MEMBER, PaperDocument, pages_of, read_document, signed_document
from course.storage import backup
from course.storage.centre_key import SigningKey, new_key, read_key_file, write_key
from course.storage.ledger import open_ledger
from course.storage.mending import continue_after_loss
from course.words import Authority


@dataclass
class Desk:
    """A centre with a key, and the record of one student as it was printed."""

    centre: Centre
    key: SigningKey
    pdf: bytes

    def printed(self, student: str = "", key: SigningKey | None = None, *, signed: bool = True) -> bytes:
        """A student's record as printed now."""
        out = io.BytesIO()
        record = competency_record(self.centre.ledger, self.centre.view(), student or self.centre.amaru, LAST_DAY)
        print_competency_record(record, out, "A4", (key or self.key) if signed else None)
        return out.getvalue()

    def check(self, shown: bytes | Shown) -> PaperCheck:
        """Check against the centre's own keys and ledger."""
        found = shown if isinstance(shown, Shown) else read_paper(shown)
        return check_shown(found, centre_keys(self.centre.ledger), self.centre.ledger)

    @property
    def document(self) -> PaperDocument:
        """The data in the printed record."""
        return document_in(self.pdf)

    @property
    def code(self) -> PaperCode:
        """The code of the printed record."""
        return read_paper_code(self.document.code)

    def made_up(self, **changed: Any) -> Shown:
        """A code with other particulars, signed with the centre's key all the same."""
        code = replace(self.code, **changed)
        return Shown(replace(code, signature=self.key.sign(code.signed_bytes())))

    def carrying(self, document: PaperDocument, pdf: bytes | None = None) -> bytes:
        """The printed pages with other data in them."""
        pages = (pdf or self.pdf)[: (document_in(pdf) if pdf else self.document).pages.bytes]
        return attached(pages, MEMBER, document.written())


def document_in(pdf: bytes) -> PaperDocument:
    """The data in a PDF, read by pypdf."""
    return read_document(pypdf.PdfReader(io.BytesIO(pdf)).attachments[MEMBER][0])


def document_code(pdf: bytes) -> PaperCode:
    """The code of a printed paper."""
    return read_paper_code(document_in(pdf).code)


def zxing_picture(text: str) -> Any:
    """A square code of any text."""
    made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode)
    return zxingcpp.write_barcode_to_image(made, scale=6)


def picture_of(pdf: bytes, *, dots_per_inch: int = 150, turned: float = 0.0) -> bytes:
    """The last page as a camera may see it: grey, turned, with noise."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[len(document) - 1].render(scale=dots_per_inch / 72).to_numpy()
    grey = cv2.cvtColor(page, cv2.COLOR_BGR2GRAY)
    height, width = grey.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), turned, 0.9)
    grey = cv2.warpAffine(grey, turn, (width, height), borderValue=200)
    noise = np.random.default_rng(7).normal(0, 12, grey.shape)
    return bytes(cv2.imencode(".jpg", np.clip(grey + noise, 0, 255).astype(np.uint8))[1])


@pytest.fixture
def desk(small_centre: Centre) -> Desk:
    keeping.make_key(small_centre.ledger, small_centre.lead)
    small_centre.hold()
    key = paper_key(small_centre.ledger)
    assert key
    made = Desk(small_centre, key, b"")
    made.pdf = made.printed()
    return made


# --- every verdict, by the way that leads to it ----------------------------------------------------------------------


def _changed(desk: Desk) -> PaperCheck:
    desk.centre.enter("open-25", critical_mark())
    return desk.check(desk.pdf)


def _lost_key_earlier(desk: Desk) -> PaperCheck:
    """Whoever found the key makes a paper up and gives it the place of a real one."""
    says = desk.document.says | {"summary": "50 of 50 required skills held, 50 signed."}
    document = desk.document.model_copy(update={"says": says})
    code = desk.made_up(says=document.says_hash).code
    document = signed_document(document.model_copy(update={"code": code.text()}), desk.key.sign)
    keeping.replace_key(desk.centre.ledger, desk.centre.lead, lost=True)
    return desk.check(desk.carrying(document))


def _changed_by_code(desk: Desk) -> PaperCheck:
    desk.centre.enter("open-25", critical_mark())
    return desk.check(Shown(desk.code))


def _erased(desk: Desk) -> PaperCheck:
    erase_person(
        desk.centre.ledger, desk.centre.lead, desk.centre.amaru, authority=Authority.ORDER, reason="asked for it",
        despite="asked for it",
    )  # fmt: skip
    return desk.check(desk.pdf)


def _other_data(desk: Desk) -> PaperCheck:
    says = desk.document.says | {"summary": "50 of 50 required skills held, 50 signed."}
    return desk.check(desk.carrying(desk.document.model_copy(update={"says": says})))


def _data_of_another(desk: Desk) -> PaperCheck:
    """What another student's record says, under the code of this one."""
    says = document_in(desk.printed(desk.centre.zoe)).says
    return desk.check(desk.carrying(desk.document.model_copy(update={"says": says})))


def _other_data_without_ledger(desk: Desk) -> PaperCheck:
    says = desk.document.says | {"summary": "50 of 50 required skills held, 50 signed."}
    pdf = desk.carrying(desk.document.model_copy(update={"says": says}))
    return check_shown(read_paper(pdf), centre_keys(desk.centre.ledger))


def _forged(desk: Desk) -> PaperCheck:
    """All that the ledger would say, and a signature that nobody gave."""
    return desk.check(Shown(replace(desk.code, signature="5a" * 64)))


def _made_up(desk: Desk) -> PaperCheck:
    return desk.check(Shown(replace(desk.code, says="ab" * 32, day="2026-10-24", head="cd" * 32)))


def _other_data_anew(desk: Desk) -> PaperCheck:
    """The data are changed and the code is made to fit them; the key is missing for it."""
    says = desk.document.says | {"summary": "50 of 50 required skills held, 50 signed."}
    document = desk.document.model_copy(update={"says": says})
    code = replace(desk.code, says=document.says_hash)
    return desk.check(desk.carrying(document.model_copy(update={"code": code.text()})))


def _other_page(desk: Desk) -> PaperCheck:
    """The data of one student's record in the pages of another's."""
    return desk.check(desk.carrying(desk.document, desk.printed(desk.centre.zoe)))


def _unseen_changed(desk: Desk) -> PaperCheck:
    return desk.check(desk.pdf.replace(b"/Title (Competency record)", b"/Title (Competency RECORD)", 1))


def _saved(pdf: bytes, change: Callable[[pypdf.PdfWriter], object] = lambda _: None) -> bytes:
    """As a reader does that takes a note: all of it written anew, with the data still in it."""
    writer, out = pypdf.PdfWriter(clone_from=io.BytesIO(pdf)), io.BytesIO()
    change(writer)
    writer.write(out)
    return out.getvalue()


def _saved_anew(desk: Desk) -> PaperCheck:
    return desk.check(_saved(desk.pdf))


def _drawn_over(drawing: bytes) -> Callable[[pypdf.PdfWriter], object]:
    """Something more on the first page, by the page's own language of drawing (ISO 32000-1, 8 and 9)."""

    def change(writer: pypdf.PdfWriter) -> None:
        page = writer.pages[0]
        content = page.get_contents()
        assert content is not None
        content.set_data(content.get_data() + drawing)
        page[NameObject("/Contents")] = writer._add_object(content)

    return change


def edited(pdf: bytes) -> bytes:
    """Some more words on the first page, in the paper's own type."""
    font = next(iter(pypdf.PdfReader(io.BytesIO(pdf)).pages[0]["/Resources"]["/Font"]))
    words = b"\nBT %s 12 Tf 1 0 0 1 200 700 Tm (50 of 50) Tj ET\n" % font.encode()
    return _saved(pdf, _drawn_over(words))


def _painted_over(desk: Desk) -> PaperCheck:
    """A white field over some words, which are all still there to be read out."""
    return desk.check(_saved(desk.pdf, _drawn_over(b"\nq 1 1 1 rg 50 690 300 40 re f Q\n")))


def _changed_and_not_comparable(desk: Desk) -> PaperCheck:
    return check_shown(read_paper(_saved(desk.pdf)), centre_keys(desk.centre.ledger))


def _data_cut_off(desk: Desk) -> PaperCheck:
    return desk.check(desk.pdf[: desk.document.pages.bytes])


def _page_changed_and_data_told(desk: Desk) -> PaperCheck:
    """The pages are changed and the file's data name the new ones; the key is missing for it."""
    pages = desk.pdf[: desk.document.pages.bytes].replace(b"(Competency record)", b"(Competency RECORD)", 1)
    return desk.check(attached(pages, MEMBER, desk.document.model_copy(update={"pages": pages_of(pages)}).written()))


def _seal_altered(desk: Desk, ledger: bool = True) -> PaperCheck:  # noqa: FBT001, FBT002 - one test goes without
    """The signature over the file is another's; nothing else was touched."""
    document = desk.document.model_copy(update={"signature": "5a" * 64})
    pdf = desk.carrying(document)
    return desk.check(pdf) if ledger else check_shown(read_paper(pdf), centre_keys(desk.centre.ledger))


def _added(desk: Desk) -> PaperCheck:
    writer, out = pypdf.PdfWriter(io.BytesIO(desk.pdf), incremental=True), io.BytesIO()
    writer.add_metadata({"/Subject": "added"})
    writer.write(out)
    return desk.check(out.getvalue())


def _lost_key(desk: Desk) -> PaperCheck:
    keeping.replace_key(desk.centre.ledger, desk.centre.lead, lost=True)
    return desk.check(desk.printed(key=desk.key))


def _strange_key(desk: Desk) -> PaperCheck:
    return desk.check(desk.printed(key=new_key()))


def _other_centre(desk: Desk) -> PaperCheck:
    """Its data name another centre, and its key is that one's."""
    key = new_key()
    document = document_in(desk.printed(key=key))
    place = document.ledger.model_copy(update={"centre": "another centre"})
    named = signed_document(document.model_copy(update={"ledger": place}), key.sign)
    return desk.check(Shown(read_paper_code(named.code), named, FileState.AS_PRINTED))


STRANGE_CHAIN = "0192d000-0000-7000-8000-00000000000f"


def _of_a_strange_chain(desk: Desk, centre: str) -> PaperCheck:
    """A paper that is right in itself, from a chain that nothing here is of; its data name a centre."""
    code = desk.made_up(chain=STRANGE_CHAIN).code
    place = desk.document.ledger.model_copy(update={"chain": STRANGE_CHAIN, "centre": centre})
    document = desk.document.model_copy(update={"ledger": place, "code": code.text()})
    return desk.check(Shown(code, signed_document(document, desk.key.sign), FileState.AS_PRINTED))


def _not_merged(desk: Desk) -> PaperCheck:
    """When a day was closed that chain was known."""
    heads = (KnownHead(chain=STRANGE_CHAIN, seq=7, hash="ab" * 32),)
    closed = CheckpointMade(checkpoint=new_id(), course=desk.centre.course, day="2026-10-25", heads=heads)
    desk.centre.ledger.append([drafted(closed)])
    found = _of_a_strange_chain(desk, desk.centre.ledger.centre_id)
    assert desk.check(desk.made_up(chain=STRANGE_CHAIN)).verdict is found.verdict, "the code alone is enough for it"
    return found


def _not_yet_here(desk: Desk, tmp_path: Path) -> PaperCheck:
    """Another laptop handed over what it had, and went on."""
    first = desk.centre
    backup.backup(first.ledger.folder, tmp_path / "kept")
    backup.restore(tmp_path / "kept", tmp_path / "second")
    with open_ledger(tmp_path / "second", write=True) as ledger:
        there = Desk(replace(first, ledger=ledger), desk.key, b"")
        there.centre.enter("pool-23")
        hand_over(ledger, tmp_path / "bundle.zip")
        device = list(ledger.events())[-1].device
        there.centre.enter("pool-22")
        pdf = there.printed()
    merge(first.ledger, first.lead, [tmp_path / "bundle.zip"], accept=[device])
    return desk.check(pdf)


def _older_backup(desk: Desk, tmp_path: Path) -> PaperCheck:
    """A backup from before the paper, put back: it goes on as a chain of its own."""
    backup.backup(desk.centre.ledger.folder, tmp_path / "kept")
    desk.centre.enter("pool-22")
    later = desk.printed()
    backup.restore(tmp_path / "kept", tmp_path / "again")
    with open_ledger(tmp_path / "again", write=True) as restored:
        return check_paper(read_paper(later), centre_keys(restored), restored)


def _after_loss(desk: Desk, tmp_path: Path) -> PaperCheck:
    """The end of a ledger is lost, and somebody who read what is missing went on with the rest."""
    backup.backup(desk.centre.ledger.folder, tmp_path / "kept")
    backup.restore(tmp_path / "kept", tmp_path / "lost")
    folder = tmp_path / "lost"
    with open_ledger(folder, write=True) as ledger:
        there = Desk(replace(desk.centre, ledger=ledger), desk.key, b"")
        chain, before = ledger.head().chain, ledger.head().seq
        there.centre.enter("pool-22")
        later = there.printed()
    change(folder, "DELETE FROM event WHERE chain = ? AND seq > ?", chain, before)
    change(
        folder, "UPDATE head SET (seq, hash, lamport) = (SELECT seq, hash, lamport FROM event WHERE chain = ? AND "
        "seq = ?) WHERE chain = ?", chain, before, chain,
    )  # fmt: skip
    with continue_after_loss(folder) as ledger:
        return check_paper(read_paper(later), centre_keys(ledger), ledger)


def _by_an_earlier_version(desk: Desk) -> PaperCheck:
    """The same events, told by a program that said it otherwise."""
    c, out = desk.centre, io.BytesIO()
    record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
    print_competency_record(replace(record, requirements="Example: first unit course"), out, "A4", desk.key)
    return desk.check(out.getvalue())


WAYS: dict[str, tuple[Verdict, Callable[..., PaperCheck]]] = {
    "as printed": (Verdict.SAME, lambda desk: desk.check(desk.pdf)),
    "its code typed": (Verdict.SAME, lambda desk: desk.check(Shown(desk.code))),
    "a picture of its code": (Verdict.SAME, lambda desk: desk.check(picture_of(desk.pdf))),
    "an older one, with its file": (Verdict.CHANGED, _changed),
    "an older one, by its code": (Verdict.CHANGED, _changed_by_code),
    "by an earlier version, in other words": (Verdict.TOLD_OTHERWISE, _by_an_earlier_version),
    "signed, and never said here": (Verdict.NOT_FOUND_AGAIN, lambda desk: desk.check(desk.made_up(says="ab" * 32))),
    "by the finder of a lost key, earlier": (Verdict.LOST_KEY_EARLIER, _lost_key_earlier),
    "by the finder of a lost key": (Verdict.LOST_KEY, _lost_key),
    "of somebody erased": (Verdict.GONE, _erased),
    "no ledger": (Verdict.GENUINE, lambda desk: check_paper(read_paper(desk.pdf), centre_keys(desk.centre.ledger))),
    "no key to compare with": (Verdict.NO_KEY, lambda desk: check_paper(read_paper(desk.pdf), None)),
    "not signed": (Verdict.UNSIGNED_SAME, lambda desk: desk.check(desk.printed(signed=False))),
    "not signed, no ledger": (Verdict.UNSIGNED, lambda desk: check_paper(read_paper(desk.printed(signed=False)), ())),
    "another centre's": (Verdict.OTHER_CENTRE_NAMED, _other_centre),
    "a stranger's key, and this centre's name": (Verdict.STRANGE_KEY, _strange_key),
    "another centre's, by its code": (
        Verdict.OTHER_CENTRE, lambda desk: desk.check(Shown(document_code(desk.printed(key=new_key())))),
    ),
    "code: the day altered": (Verdict.ALTERED, lambda desk: desk.check(Shown(replace(desk.code, day="2026-10-24")))),
    "code: made to fit other data": (Verdict.ALTERED, _other_data_anew),
    "code: the signature altered": (Verdict.FORGED, _forged),
    "code: made up": (Verdict.MADE_UP, _made_up),
    "data altered": (Verdict.DATA_ALTERED, _other_data),
    "data of another paper put in": (Verdict.DATA_SWAPPED, _data_of_another),
    "data altered, no ledger": (Verdict.OTHER_DATA, _other_data_without_ledger),
    "data and pages of two papers": (Verdict.OTHER_CODE, _other_page),
    "data cut off": (Verdict.WITHOUT_DATA, _data_cut_off),
    "pages: words changed": (Verdict.PAGES_EDITED, lambda desk: desk.check(edited(desk.pdf))),
    "pages: painted over": (Verdict.PAGES_EDITED, _painted_over),
    "pages: changed, and the data told": (Verdict.PAGES_RENAMED, _page_changed_and_data_told),
    "file: its signature altered": (Verdict.SEAL_ALTERED, _seal_altered),
    "file: its signature altered, no ledger": (Verdict.FILE_SIGNATURE, lambda desk: _seal_altered(desk, ledger=False)),
    "saved anew": (Verdict.SAVED_ANEW, _saved_anew),
    "something unseen changed": (Verdict.SAVED_ANEW, _unseen_changed),
    "saved anew, no ledger": (Verdict.PAGES_CHANGED, _changed_and_not_comparable),
    "something added": (Verdict.ADDED, _added),
    "this ledger lost its tail": (Verdict.TAIL_LOST, lambda desk: desk.check(desk.made_up(seq=desk.code.seq + 5))),
    "this ledger was replaced": (Verdict.REPLACED, lambda desk: desk.check(desk.made_up(head="ab" * 32))),
    "another centre's ledger": (Verdict.OTHER_LEDGER, lambda desk: _of_a_strange_chain(desk, "another centre")),
    "of a laptop that nothing knows": (
        Verdict.UNKNOWN_LAPTOP, lambda desk: _of_a_strange_chain(desk, desk.centre.ledger.centre_id),
    ),
    "of a laptop that was not merged": (Verdict.NOT_MERGED, _not_merged),
    "of a chain that nothing knows, by its code": (
        Verdict.UNKNOWN_CHAIN, lambda desk: desk.check(desk.made_up(chain=STRANGE_CHAIN)),
    ),
    "of a laptop that went on": (Verdict.NOT_YET_HERE, _not_yet_here),
    "this ledger is an older backup": (Verdict.OLD_BACKUP, _older_backup),
    "this ledger went on after a loss": (Verdict.AFTER_LOSS, _after_loss),
    "torn: a hash that is here": (
        Verdict.HASH_KNOWN, lambda desk: check_hash(desk.centre.ledger, desk.code.head[:16]),
    ),
    "torn: a hash that is not": (Verdict.HASH_UNKNOWN, lambda desk: check_hash(desk.centre.ledger, "ab" * 8)),
}  # fmt: skip
"""By what was done to the paper, or to what it is compared with."""
TOLD = {
    "pages: words changed": "Page 1: “50 of 50” was added.",
    "pages: painted over": "Page 1 has the words that were printed, and something else is drawn on it.",
    "saved anew": "On its pages stands what was printed, word for word, and they look so.",
    "data of another paper put in": f"The data are those of this paper: Competency record of {ODD_NAME}, as of 25 Oct",
    "code: made to fit other data": "Altered is the hash over what the paper says:",
}
"""The line below the sentence."""


@pytest.mark.parametrize("name", WAYS)
def test_every_way_leads_to_its_own_sentence(desk: Desk, tmp_path: Path, name: str) -> None:
    verdict, way = WAYS[name]
    found = way(desk, tmp_path) if way in (_not_yet_here, _older_backup, _after_loss) else way(desk)
    assert found.verdict is verdict, found.text()
    told = verdict.replace("The paper is", "The paper's code is") if found.code_alone else verdict.value
    assert found.text().startswith(told)
    assert found.fine == (verdict in FINE)
    assert "\n".join(found.altered).startswith(TOLD.get(name, ""))
    if verdict in UNTRUSTED:
        assert found.says is None, "data that are not the signed ones are never shown"
        assert "50 of 50" not in json.dumps(found.plain())


def test_a_paper_from_before_its_key_was_lost_still_checks_and_says_since_when(desk: Desk) -> None:
    """From the loss of the file to the next key: by the ledger's keys and by those that were given out before it."""
    given_out, ledger = centre_keys(desk.centre.ledger), desk.centre.ledger
    (ledger.key_folder / "centre.key").unlink()
    with pytest.raises(RefusedError, match=r"is not on this machine: bring it by its copy .* or say that it is lost"):
        keeping.make_key(ledger, desk.centre.lead)
    out = io.BytesIO()
    record = competency_record(ledger, desk.centre.view(), desk.centre.amaru, LAST_DAY)
    print_competency_record(record, out, key=paper_key(ledger))
    assert desk.check(out.getvalue()).verdict is Verdict.UNSIGNED_SAME, "a paper goes out all the same, and says so"
    keeping.replace_key(ledger, desk.centre.lead, lost=True)
    assert read_key_file(ledger.key_folder / "centre.key") == paper_key(ledger)
    found = desk.check(desk.pdf)
    assert found.verdict is Verdict.SAME
    assert re.search(r"pinned key .*, which was said to be lost on \d+ \w+ \d{4}\.", found.signed[0])
    assert check_paper(read_paper(desk.pdf), given_out).verdict is Verdict.GENUINE
    assert desk.check(desk.printed(key=paper_key(ledger))).verdict is Verdict.SAME


def test_there_is_a_way_to_every_sentence_and_no_two_are_alike() -> None:
    assert {verdict for verdict, _ in WAYS.values()} == set(Verdict)
    assert len({verdict.value for verdict in Verdict}) == len(Verdict)


ALTERED = [
    ("day", "2026-10-24", "Altered is the day that it is as of: 24 Oct 2026 stands there, 25 Oct 2026 was signed."),
    ("day", "", "the day that it is as of: none stands there"),
    ("paper", "Statement of training", "which paper it is: Statement of training stands there"),
    ("seq", 3, "the number of the ledger's last event: 3 stands there"),
    ("head", "ab" * 32, "the hash of the ledger's last event: abababababababab stands there"),
    ("chain", "0192d000-0000-7000-8000-00000000000f", "the chain of the ledger"),
    ("says", "ab" * 32, "the hash over what the paper says: abababababababab stands there"),
    ("key", "ab" * 8, "the key that it names: abab abab abab abab stands there"),
]


def test_what_was_altered_in_a_code_is_named(desk: Desk) -> None:
    """The signature fits once that is put right, which is proof. Before the first of all days none is tried."""
    for field, value, told in ALTERED:
        changes: dict[str, Any] = {field: value}
        found = desk.check(Shown(replace(desk.code, **changes)))
        assert found.verdict is Verdict.ALTERED, field
        assert told in found.altered[0]
    assert desk.check(Shown(replace(desk.code, day="0001-01-01"))).verdict is Verdict.MADE_UP


def test_pages_that_this_version_would_print_otherwise_are_never_called_changed(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is made again has to be proven to be what was printed; else both ways are named."""
    saved = _saved(desk.pdf)
    monkeypatch.setattr("course.paper.competency_record.RECORD_NOTE", "Other words of a later version.")
    found = desk.check(saved)
    assert (found.verdict, found.altered) == (Verdict.PAGES_CHANGED, ())


@pytest.mark.parametrize("too_many", ["pages", "words"])
def test_more_pages_or_words_than_are_looked_at_are_not_compared(desk: Desk, too_many: str) -> None:
    """Whoever adds a hundred pages is never told that all of them look as printed."""

    def more(writer: pypdf.PdfWriter) -> None:
        for _ in range(100 if too_many == "pages" else 0):
            writer.add_blank_page(200, 200)
        if too_many == "words":
            font = next(iter(writer.pages[0]["/Resources"]["/Font"]))
            lines = b"(%s) Tj T* " % (b"a " * 400) * 20
            _drawn_over(b"\nBT %s 1 Tf 2 TL 1 0 0 1 20 700 Tm %s ET\n" % (font.encode(), lines))(writer)

    assert desk.check(_saved(desk.pdf, more)).verdict is Verdict.PAGES_CHANGED


def test_a_page_that_was_cut_or_put_in_is_named_and_the_others_are_as_they_were(desk: Desk) -> None:
    assert desk.check(_saved(desk.pdf, lambda made: made.remove_page(2))).altered == ("Page 3 is missing.",)
    put_in = desk.check(_saved(desk.pdf, lambda made: made.insert_blank_page(200, 200, 1)))
    assert put_in.altered == ("Page 2 was not printed.",)


def test_words_that_were_changed_on_an_unsigned_paper_are_told_too(desk: Desk) -> None:
    found = desk.check(edited(desk.printed(signed=False)))
    assert found.verdict is Verdict.UNSIGNED
    assert found.altered == ("Page 1: “50 of 50” was added.",)


def test_pages_are_compared_as_of_the_paper_s_own_place(desk: Desk) -> None:
    """The ledger says something else since: what was printed is made again from what it said then."""
    saved = _saved(desk.pdf)
    desk.centre.enter("open-25", critical_mark())
    found = desk.check(saved)
    assert found.verdict is Verdict.SAVED_ANEW
    assert found.changed


# --- what is told beside it ------------------------------------------------------------------------------------------


def test_what_changed_since_is_told_place_by_place(desk: Desk) -> None:
    told = _changed(desk).changed
    where = f"Mouthpiece discipline · {desk.centre.skill().title}"
    assert f"{where} · state word: “met”, and now “again”." in told
    assert f"{where} · attempts: “5”, and now “6”." in told
    assert all("evidence" not in line for line in told)


def test_a_code_alone_tells_too_what_it_was_and_what_changed_since(desk: Desk) -> None:
    """The ledger is laid out as it was at the paper's place, and everybody's record of then is tried."""
    found = _changed_by_code(desk)
    assert found.changed[0] == f"At event {desk.code.seq} the ledger said what the paper says."
    assert any("state word: “met”, and now “again”" in line for line in found.changed)
    assert found.was[0].startswith("Competency record of Amaru Tendelle")
    assert desk.check(desk.pdf).changed == found.changed


def test_a_paper_that_the_key_s_finder_made_up_does_not_pass_for_an_old_one(desk: Desk) -> None:
    """The same paper, really printed before, is shown by the ledger itself, also once it has changed since."""
    made_up = _lost_key_earlier(desk)
    assert "cannot be shown here" in made_up.changed[0]
    desk.centre.enter("open-25", critical_mark())
    found = desk.check(desk.pdf)
    assert found.verdict is Verdict.CHANGED
    assert "the ledger said what the paper says" in found.changed[0]
    assert check_paper(read_paper(desk.pdf), centre_keys(desk.centre.ledger)).verdict is Verdict.LOST_KEY_EARLIER


def test_a_code_alone_finds_whose_paper_it_is(desk: Desk) -> None:
    """Copied to somebody else's paper, name and summary on the screen are still those that it was printed with."""
    name, pdf = desk.centre.view().name(desk.centre.zoe), desk.printed(desk.centre.zoe)
    found, whole = desk.check(picture_of(pdf)), desk.check(pdf)
    assert found.was[0].startswith(f"Competency record of {name}, as of")
    assert found.was[1] == document_in(pdf).says["summary"]
    assert found.verdict is whole.verdict is Verdict.SAME
    assert found.sentence.startswith("The paper's code is as it was signed")
    assert "Only its code was looked at" in found.text()
    assert whole.sentence.startswith("The paper is as it was signed")
    assert "Only its code was looked at" not in whole.text()


def test_a_record_printed_twice_is_the_same_file_and_the_older_of_two_issues_says_what_changed(desk: Desk) -> None:
    assert desk.printed() == desk.printed()
    desk.centre.enter("open-25", critical_mark())
    newer = desk.printed()
    assert desk.check(newer).verdict is Verdict.SAME
    assert desk.check(desk.pdf).verdict is Verdict.CHANGED


def test_a_paper_signed_before_its_key_was_replaced_or_lost_still_holds(desk: Desk) -> None:
    for lost in (False, True):
        keeping.replace_key(desk.centre.ledger, desk.centre.lead, lost=lost)
        found = desk.check(desk.pdf)
        assert found.verdict is Verdict.SAME
        assert "which was replaced on" in found.signed[0]


def test_a_key_is_pinned_and_never_taken_from_the_paper(desk: Desk) -> None:
    """A paper that is right in itself, signed with a stranger's key, and with that key named in it."""
    stranger = new_key()
    shown = read_paper(desk.printed(key=stranger))
    assert shown.code.is_signed_by(stranger.public)
    assert shown.code.key == key_id(stranger.public)
    assert check_paper(shown, centre_keys(desk.centre.ledger), desk.centre.ledger).verdict is Verdict.STRANGE_KEY
    assert check_paper(shown, [CentreKey(public=stranger.public, since="2026-10-01")]).verdict is Verdict.GENUINE


def test_a_paper_is_a_witness_of_the_ledger_s_head(desk: Desk) -> None:
    assert "it is still the last one" in desk.check(desk.pdf).place[0]
    desk.centre.enter("pool-22", student=desk.centre.zoe)
    assert "so nothing before it was changed; " in desk.check(desk.pdf).place[0]
    assert "came after it" in desk.check(desk.pdf).place[0]


def test_a_paper_of_another_laptop_is_known_once_the_two_have_merged(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second laptop began from a backup, which has no key in it: it was brought there by its copy."""
    first = desk.centre
    backup.backup(first.ledger.folder, tmp_path / "kept")
    write_key(tmp_path / "copy", desk.key)
    with monkeypatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(tmp_path / "other machine"))
        backup.restore(tmp_path / "kept", tmp_path / "second")
        with open_ledger(tmp_path / "second", write=True) as ledger:
            assert paper_key(ledger) is None
            keeping.put_back(ledger, first.lead, tmp_path / "copy")
            there = Desk(replace(first, ledger=ledger), desk.key, b"")
            there.centre.enter("pool-23")
            pdf = there.printed()
            device = list(ledger.events())[-1].device
            hand_over(ledger, tmp_path / "bundle.zip")
    assert desk.check(pdf).verdict is Verdict.UNKNOWN_LAPTOP
    merge(first.ledger, first.lead, [tmp_path / "bundle.zip"], accept=[device])
    assert desk.check(pdf).verdict is Verdict.SAME
    first.enter("open-25", critical_mark())
    found = desk.check(pdf)
    assert found.verdict is Verdict.CHANGED
    assert "the ledger said what the paper says" in found.changed[0]


# --- cut, torn, unreadable -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_file_that_was_cut_is_refused_or_told(desk: Desk, share: float) -> None:
    cut = desk.pdf[: int(len(desk.pdf) * share)]
    with pytest.raises(RefusedError, match=r"The PDF was cut: its end is missing\. Take its square code"):
        desk.check(cut)


def test_the_pages_without_their_data_are_read_by_their_square_code(desk: Desk) -> None:
    found = read_paper(desk.pdf[: desk.document.pages.bytes])
    assert (found.document, found.code, found.file) == (None, desk.code, FileState.WITHOUT_DATA)


@pytest.mark.parametrize("turned", [0, 4, 90, 180])
def test_a_picture_is_read_turned_and_in_bad_light(desk: Desk, turned: float) -> None:
    assert read_paper(picture_of(desk.pdf, dots_per_inch=200, turned=turned)).code == desk.code


def png(*pictures: Any) -> bytes:
    """Pictures side by side as one file."""
    return bytes(cv2.imencode(".png", np.hstack([np.asarray(one, np.uint8) for one in pictures]))[1])


def grey(pdf: bytes) -> Any:
    return cv2.imdecode(np.frombuffer(picture_of(pdf), np.uint8), cv2.IMREAD_GRAYSCALE)


def torn(picture: Any) -> Any:
    """20 of the 34 mm of the square code are gone."""
    middle, tear = picture.shape[1] / 2, 38 / 25.4 * 150
    picture[:, : int(middle + 0.9 * (tear - middle))] = 255
    return picture


def other_letter(row: str) -> str:
    return row[:7] + ("2" if row[7] != "2" else "3") + row[8:]


UNREAD: dict[str, tuple[Callable[[Desk], object], str]] = {
    "file: cut": (lambda desk: read_paper(desk.pdf[: len(desk.pdf) // 2]), "The PDF was cut: its end is missing."),
    "file: damaged": (lambda _: read_paper(b"%PDF-1.7\n%%EOF\n"), "it is damaged, though its end is there"),
    "file: data of another form": (
        lambda desk: read_paper(attached(desk.pdf[: desk.document.pages.bytes], MEMBER, b"{}")),
        "The data in this paper cannot be read",
    ),
    "file: none of ours": (lambda _: read_paper(b"plain text"), "no picture that can be read here"),
    "code: torn": (lambda desk: read_paper(png(torn(grey(desk.pdf)))), "a part of that is torn off"),
    "code: none": (lambda desk: read_paper(png(grey(desk.pdf)[:200])), "No square code is seen in it"),
    "code: of something else": (lambda _: read_paper(png(zxing_picture("HTTP://A"))), "is no paper's: it is that of"),
    "code: of two papers": (
        lambda desk: read_paper(png(grey(desk.pdf), grey(desk.printed(desk.centre.zoe)))), "several papers in it",
    ),
    "typed: a letter wrong": (
        lambda desk: read_paper_code(other_letter(desk.code.rows()[0])), "in row 1 is wrong",
    ),
    "typed: a letter missing": (
        lambda desk: read_paper_code("\n".join([desk.code.rows()[0][1:], *desk.code.rows()[1:]])), "Row 1 has 49",
    ),
    "typed: the end torn off": (lambda desk: read_paper_code("\n".join(desk.code.rows()[:-1])), "The code is torn"),
    "typed: none of ours": (lambda _: read_paper_code("?" * 90), "This is no paper's code"),
}  # fmt: skip
"""By what was done to a paper so that nothing of it can be read."""


def test_every_way_of_being_unreadable_is_refused_in_its_own_words(desk: Desk) -> None:
    said = {}
    for name, (way, told) in UNREAD.items():
        with pytest.raises(RefusedError, match=re.escape(told)) as refused:
            way(desk)
        said[name] = refused.value.sentence
    assert len(set(said.values())) == len(UNREAD)
    assert not set(said.values()) & {verdict.value for verdict in Verdict}


def test_data_made_to_fill_the_memory_are_refused(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """More than a gigabyte of blanks in a file of five megabytes: a process of its own reads it, within bounds."""
    packing = zlib.compressobj(1)
    bomb = b"".join([*(packing.compress(b" " * 2**20) for _ in range(1100)), packing.flush()])
    with monkeypatch.context() as patch:
        patch.setattr("course.paper.attachment.zlib.compress", lambda *_: bomb)
        made = attached(desk.pdf[: desk.document.pages.bytes], MEMBER, b"x")
    with pytest.raises(RefusedError, match="holds too much"):
        read_paper(made)


def test_a_picture_of_more_points_than_any_camera_s_is_refused() -> None:
    out = io.BytesIO()
    Image.new("1", (9000, 9000)).save(out, "PNG")
    with pytest.raises(RefusedError, match="too large"):
        read_paper(out.getvalue())


@pytest.mark.parametrize("content", [b"", b"%PDF-1.4 nothing", b"\x89PNG\r\n", b"plain text", b"PK\x03\x04"])
def test_what_is_no_paper_is_refused_with_a_sentence(content: bytes) -> None:
    with pytest.raises(RefusedError):
        read_paper(content)


@pytest.mark.parametrize(
    "data", [b"", b"{}", b"[1]", b'{"format":"loopledger-paper"}', b"\xff", b"[" * 5000, b'{"a":' * 900]
)
def test_data_that_are_none_of_a_paper_are_refused(data: bytes) -> None:
    with pytest.raises(RefusedError, match="cannot be read"):
        read_document(data)


def test_data_written_in_another_form_are_refused(desk: Desk) -> None:
    """One paper's data have one form in bytes: no second key of a name, no blanks, no other order."""
    written = desk.document.written()
    for other in (written + b"\n", written.replace(b'"version":1', b'"version":2,"version":1', 1)):
        with pytest.raises(RefusedError, match="cannot be read"):
            read_document(other)


def test_a_paper_of_a_kind_that_cannot_be_asked_again_says_so(desk: Desk) -> None:
    found = desk.check(desk.made_up(paper="Some other paper"))
    assert found.verdict is Verdict.GENUINE
    assert "cannot be asked of this kind of paper" in found.changed[0]


def test_a_document_s_own_signature_is_over_all_of_it(desk: Desk) -> None:
    document = desk.document
    assert document.is_signed_by(desk.key.public)
    for changed in ({"paper": "x"}, {"asked": {}}, {"says": {}}, {"code": "x"}):
        assert not document.model_copy(update=changed).is_signed_by(desk.key.public)
    assert signed_document(document, None).signature is None


def test_differences_are_named_by_the_titles_on_the_way() -> None:
    def record(streak: int, settings: list[str], note: str) -> Any:
        skill = {"title": "Loop", "streak": streak, "settings": settings}
        return {"phases": [{"title": "Checks", "skills": [skill]}], "note": note}

    then, now = record(2, ["pool"], ""), record(3, [], "new")
    assert changes(then, now) == [
        "Checks · Loop · in a row: “2”, and now “3”.",
        "Checks · Loop · settings: “pool”, and now nothing.",
        "note: nothing, and now “new”.",
    ]
    assert changes(then, then) == []
    assert changes({"evidence": "1"}, {"evidence": "2"}) == ["What it rests on changed, and nothing that it says."]
    assert changes({"a": 1}, {"a": 1, "came with a later version": 2}) == []
    assert changes({"a": [{"title": "x"}]}, {"a": []}) == ["x: is there, and now nothing."]
    first, later = ({"lines": [{"label": "", "strong": "Loop:", "text": text}]} for text in "12")
    assert changes(first, later) == ["Loop · text: “1”, and now “2”."]


def test_of_long_texts_that_begin_alike_the_place_where_they_part_is_told() -> None:
    first = "Issue 1: signed off by Tamsin Okoro-Vale on 27 Nov 2026. " + "Assessor and decider are one person. " * 5
    then, now = [first.strip()], [f"{first}Taken back on 28 Nov 2026: wrong unit.", "Issue 2: signed off."]
    last = "Assessor and decider are one person."
    assert changes({"sign_offs": then}, {"sign_offs": now}) == [
        f"sign-off: “…{last}”, and now “…{last} Taken back on 28 Nov 2026: wrong unit.”.",
        "sign-off: nothing, and now “Issue 2: signed off.”.",
    ]
    assert changes({"note": then[0]}, {"note": now[0]})[0].endswith("Taken back on 28 Nov 2026: wrong unit.”.")


# --- the command -----------------------------------------------------------------------------------------------------


def test_the_command_checks_a_file_a_picture_a_typed_code_and_a_hash(desk: Desk, tmp_path: Path) -> None:
    folder, run = str(desk.centre.ledger.folder), CliRunner()
    (tmp_path / "record.pdf").write_bytes(desk.pdf)
    (tmp_path / "record.jpg").write_bytes(picture_of(desk.pdf))
    rows = "\n".join(desk.code.rows())
    for what, typed in (
        (str(tmp_path / "record.pdf"), ""), (str(tmp_path / "record.jpg"), ""), (desk.code.text(), ""), (rows, ""),
        ("-", rows),
    ):  # fmt: skip
        ran = run.invoke(main, ["check", what, "--centre", folder], input=typed)
        assert ran.exit_code == 0, ran.output
        what_it_is = "The paper" if what.endswith(".pdf") else "The paper's code"
        assert ran.output.startswith(f"{what_it_is} is as it was signed, and the ledger still says exactly this.")
    assert run.invoke(main, ["check", desk.code.head[:16], "--centre", folder]).output.startswith(Verdict.HASH_KNOWN)
    assert run.invoke(main, ["check", desk.code.head[:16]]).exit_code == 3
    ran = run.invoke(main, ["check", rows[:-60], "--centre", folder])
    assert ran.exit_code == 3
    assert "torn" in ran.output


def test_the_code_of_a_paper_of_an_earlier_version_is_a_witness_still(desk: Desk) -> None:
    """Those codes held evidence, chain, place and hash, without a signature."""
    head = desk.centre.ledger.head()
    code = f"RECORD:1:{'AB' * 16}:{head.chain}:{head.seq}:{head.hash}".upper()
    ran = CliRunner().invoke(main, ["check", code, "--centre", str(desk.centre.ledger.folder)])
    assert ran.output.startswith(Verdict.HASH_KNOWN)


def test_the_command_needs_no_centre_where_its_public_keys_are_given(desk: Desk, tmp_path: Path) -> None:
    file, keys, run = tmp_path / "record.pdf", tmp_path / "keys", CliRunner()
    file.write_bytes(desk.pdf)
    keys.write_bytes(public_keys(desk.centre.ledger))
    ran = run.invoke(main, ["check", str(file), "--key", str(keys), "--json"])
    assert json.loads(ran.output)["verdict"] == "GENUINE"
    assert ran.exit_code == 0
    assert run.invoke(main, ["check", str(file)]).output.startswith(Verdict.NO_KEY.value)
    keys.write_text("{}")
    assert "holds no public keys" in run.invoke(main, ["check", str(file), "--key", str(keys)]).output


def test_checking_changes_nothing(desk: Desk) -> None:
    before = desk.centre.count()
    desk.check(desk.pdf)
    desk.check(Shown(desk.code))
    assert desk.centre.count() == before


def test_a_file_state_is_as_printed_only_to_the_last_byte(desk: Desk) -> None:
    assert read_paper(desk.pdf).file is FileState.AS_PRINTED
    assert read_paper(desk.pdf + b"\n").file is FileState.ADDED_TO
