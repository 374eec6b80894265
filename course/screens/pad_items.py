"""What a pad sends: every item read strictly, field by field, before anything of it comes near the ledger."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Literal

import orjson
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from course.record.body import first_fault
from course.record.events import DecimalText, Id, MarkGiven
from course.record.text import Note
from course.standards.rubric import Quantity, Slug, Unit
from course.words import Closing

MOST_ITEMS = 200


class _Shape(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class _Beginning(_Shape):
    course: Id
    session: Id
    skill: Slug
    observer: Id
    within: Id | None = None


class _Start(_Shape):
    observer: Id


class _Marks(_Shape):
    marks: Annotated[tuple[MarkGiven, ...], Field(min_length=1, max_length=80)]
    notes: dict[Slug, Note] | None = None


class _Clean(_Shape):
    pass


class _Value(_Shape):
    step: Slug
    quantity: Quantity
    unit: Unit
    value: DecimalText
    replaces: tuple[Id, ...] = ()


class _Order(_Shape):
    first_done: Slug
    should_come_first: Slug
    seen_so: bool
    replaces: tuple[Id, ...] = ()


class _Order2(_Order):
    fixed_self: bool = False


class _Withdrawal(_Shape):
    withdraws: Id
    why: Note | None = None


class _Ending(_Shape):
    how: Closing
    stopped_by: Literal["student", "instructor"] | None = None
    reason: Note | None = None
    second: Id | None = None


class _Item(_Shape):
    id: Id
    attempt: Id
    student: Id
    sheet: Id
    tapped_at: Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}\.\d{3}Z$")]
    clock_offset_ms: Annotated[int, Field(ge=-(10**12), le=10**12)] | None = None


class _BeginningItem(_Item):
    kind: Literal["attempt_opened/1"]
    body: _Beginning


class _StartItem(_Item):
    kind: Literal["sheet_started/1"]
    body: _Start


class _MarksItem(_Item):
    kind: Literal["marks_given/1"]
    body: _Marks


class _CleanItem(_Item):
    kind: Literal["whole_attempt_clean/1"]
    body: _Clean


class _ValueItem(_Item):
    kind: Literal["value_measured/1"]
    body: _Value


class _OrderItem(_Item):
    kind: Literal["order_answered/1"]
    body: _Order


class _Order2Item(_Item):
    kind: Literal["order_answered/2"]
    body: _Order2


class _WithdrawalItem(_Item):
    kind: Literal["withdrawn/1"]
    body: _Withdrawal


class _EndingItem(_Item):
    kind: Literal["attempt_closed/1"]
    body: _Ending


_AnyItem = Annotated[
    _BeginningItem
    | _StartItem
    | _MarksItem
    | _CleanItem
    | _ValueItem
    | _OrderItem
    | _Order2Item
    | _WithdrawalItem
    | _EndingItem,
    Field(discriminator="kind"),
]
_ITEM: TypeAdapter[Any] = TypeAdapter(_AnyItem)


class _Parcel(_Shape):
    items: Annotated[list[Any], Field(max_length=MOST_ITEMS)]


@dataclass(frozen=True)
class Sorted:
    """Items that can be read, and those that cannot, each with its sentence."""

    items: list[dict[str, Any]]
    refused: list[tuple[str, str]]


def sort_items(body: bytes) -> Sorted:
    """Read what a pad sent: good items as plain data in their order, the others with the reason.

    Raises:
        ValueError: it is no list of items, so that nothing in it can be answered for by id.
    """
    items: list[dict[str, Any]] = []
    refused: list[tuple[str, str]] = []
    for raw in _Parcel.model_validate_json(body).items:
        try:
            items.append(_ITEM.validate_json(orjson.dumps(raw)).model_dump(mode="json", exclude_unset=True))
        except (ValidationError, TypeError) as error:
            if not isinstance(raw, dict) or not isinstance(raw.get("id"), str):
                raise ValueError("an item without an id") from error  # noqa: TRY004 - the list is at fault
            refused.append((raw["id"][:64], f"This tap cannot be read ({_first_fault(error)}). It was not saved."))
    return Sorted(items, refused)


def _first_fault(error: Exception) -> str:
    if not isinstance(error, ValidationError):
        return "it holds what JSON cannot"
    return first_fault(error, skip=1) if error.errors()[0]["loc"] else "its kind is not known here"
