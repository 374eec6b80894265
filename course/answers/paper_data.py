"""What a paper says as plain data, made from the same frozen answer that is printed; its code holds their hash."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import Enum
from typing import Any

from pydantic import BaseModel

from course.answers.record_answer import LedgerHead

_WHERE = "head"
"""The field of an answer that says where the ledger stood: it stands beside what the paper says, not in it, so that a
paper that is printed again later says the same as long as nothing changed."""


def plain_of(answer: Any) -> Any:
    """Return an answer as plain data that has one canonical form (RFC 8785), without its `head`.

    Numbers with a fraction become text, days ISO text, times between minutes whole seconds; a mapping becomes pairs, as
    its keys may be anybody's words.

    Raises:
        TypeError: a part has no plain form.
    """
    plain: Any
    match answer:
        case None | bool() | int():
            plain = answer
        case Enum():
            plain = plain_of(answer.value)
        case str() | float() | Decimal():
            plain = str(answer)
        case date():
            plain = answer.isoformat()
        case timedelta():
            plain = int(answer.total_seconds())
        case Mapping():
            plain = [[plain_of(key), plain_of(value)] for key, value in answer.items()]
        case set() | frozenset():
            plain = sorted((plain_of(one) for one in answer), key=str)
        case Sequence():
            plain = [plain_of(one) for one in answer]
        case _:
            plain = {name: plain_of(value) for name, value in _parts(answer) if not _is_head(name, value)}
    return plain


def head_of(answer: Any) -> LedgerHead:
    """Return where the ledger stood as an answer was made; of several answers that of the first."""
    first = answer[0] if isinstance(answer, Sequence) else answer
    head = getattr(first, _WHERE)
    if not isinstance(head, LedgerHead):
        raise TypeError(type(first).__name__)
    return head


def _is_head(name: str, value: Any) -> bool:
    return name == _WHERE and isinstance(value, LedgerHead)


def _parts(answer: Any) -> list[tuple[str, Any]]:
    if is_dataclass(answer):
        return [(part.name, getattr(answer, part.name)) for part in fields(answer)]
    if isinstance(answer, BaseModel):
        return [(name, getattr(answer, name)) for name in type(answer).model_fields]
    raise TypeError(f"{type(answer).__name__} has no plain form")
