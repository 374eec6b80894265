"""Another centre, at which Amaru did a part of his course, and the transfer files that it printed of him."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, build_centre, critical_mark
from sign_off_examples import OTHER_SKILL, there_on

from course.actions import arrivals, gate_papers
from course.actions import keys as keeping
from course.answers.centre_keys import centre_keys, paper_key, public_keys
from course.answers.paper_verdict import Shown
from course.answers.transfer import TransferFile, transfer_file
from course.exchange.paper_file import read_paper
from course.paper.attachment import attached
from course.paper.filed_sheet import print_filed
from course.record.centre_key import CentreKey
from course.record.paper_code import read_paper_code
from course.record.paper_document import MEMBER, PaperDocument, signed_document
from course.standards.standards import Standards


@dataclass(frozen=True)
class Elsewhere:
    """What the other centre gave out."""

    answer: TransferFile
    signed: bytes
    unsigned: bytes
    later: bytes
    """Of the same record a day of training later: its minutes are in both."""
    of_zoe: bytes
    keys: tuple[CentreKey, ...]
    key_file: bytes
    altered: bytes
    """The signed file in which somebody gave themselves more minutes."""
    remade: Callable[..., bytes]
    """The signed file with other data in it, signed by the same key: name the fields of `carried` to change."""


def other_centre(folder: Path, standards: Standards) -> Elsewhere:
    """Build it, let Amaru learn there, and print what he takes along."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(folder / "state"))
        with build_centre(folder / "other", standards) as c:
            c.hold()
            c.enter("pool-22", critical_mark(), student=c.zoe)
            c.enter("pool-23", skill=OTHER_SKILL)
            there_on(c, "pool-22")
            for student in (c.amaru, c.zoe):
                arrivals.note_consent(
                    c.ledger, c.lead, c.course, student, day="2026-10-25", given_to="Saltmarsh"
                )  # fmt: skip
            gate_papers.approve_adjustment(
                c.ledger, c.lead, c.course, c.amaru, POOL_SKILL, how="Closes it with the other hand.", day="2026-10-21"
            )
            unsigned = printed(transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY), None)
            keeping.make_key(c.ledger, c.lead)
            key = paper_key(c.ledger)
            assert key is not None
            answer = transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY)
            signed = printed(answer, key)
            of_zoe = printed(transfer_file(c.ledger, c.view(), c.zoe, LAST_DAY), key)
            there_on(c, "pool-23")
            later = printed(transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY), key)
            keys, key_file = centre_keys(c.ledger), public_keys(c.ledger)

    def remade(**changed: Any) -> bytes:
        """As if that centre had printed it so: the code, the data and the signature fit together."""
        document = read_paper(signed).document
        assert document is not None
        pdf = signed[: document.pages.bytes]
        says = document.says | {"carried": document.says["carried"] | changed}
        code = read_paper_code(document.code)
        other = PaperDocument.model_validate(document.model_dump() | {"says": says})
        made = replace(code, says=other.says_hash)
        made = replace(made, signature=key.sign(made.signed_bytes()))
        whole = signed_document(other.model_copy(update={"code": made.text()}), key.sign)
        return attached(pdf, MEMBER, whole.written())

    document = read_paper(signed).document
    assert document is not None
    data = document.written()
    assert b'"amount":170' in data
    altered = attached(signed[: document.pages.bytes], MEMBER, data.replace(b'"amount":170', b'"amount":970'))
    return Elsewhere(answer, signed, unsigned, later, of_zoe, keys, key_file, altered, remade)


def printed(answer: TransferFile, key: Any) -> bytes:
    """The paper as a PDF in memory."""
    file = io.BytesIO()
    print_filed(answer, file, "A4", key)
    return file.getvalue()


def shown(content: bytes) -> Shown:
    """The paper as it is read from its file."""
    return read_paper(content)


POOL_ITEM, DAYS_ITEM = "hours:pool", "count:training_days"
SKILL_ITEM = f"skill:{POOL_SKILL}"
