"""What every body of an event is made of: ids, days, private fields, and complaints in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Annotated, Any, ClassVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from course.moments import is_id
from course.record.text import Line, Note
from course.standards.rubric import decimal_of


class Private:
    """Marks a field that is sealed before it is stored."""


class Secret(Private):
    """Marks a sealed field that no list, file or answer holds: it is opened by `Ledger.secrets` alone."""


def _an_id(text: str) -> str:
    if not is_id(text):
        raise ValueError("is not an id")
    return text


def _a_day(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise ValueError("is no day of the calendar, written as 2026-10-25") from None


def _a_decimal(text: str) -> str:
    try:
        decimal_of(text)
    except ValueError:
        raise ValueError("is no plain decimal number such as 60 or 0.21") from None
    return text


Id = Annotated[str, AfterValidator(_an_id)]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Day = Annotated[str, AfterValidator(_a_day)]
DecimalText = Annotated[str, AfterValidator(_a_decimal), Field(max_length=24)]
PrivateLine = Annotated[Line | None, Private()]
PrivateNote = Annotated[Note | None, Private()]
PrivateDay = Annotated[Day | None, Private()]


class Sealed(BaseModel):
    """The private part of one body: whose key opens it, and the sealed bytes in base64."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    of: Id
    data: str


class Body(BaseModel):
    """What every kind of event has in common."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    kind: ClassVar[str]
    about: ClassVar[str]
    """The field that names the event's subject."""
    needed: ClassVar[tuple[str, ...]] = ()
    """Private fields that must be filled; checked as they are sealed, since afterwards nobody can look."""

    sealed: Sealed | None = None

    @classmethod
    @cache
    def private_fields(cls) -> tuple[str, ...]:
        """Names of the fields that are sealed."""
        return tuple(
            name for name, field in cls.model_fields.items() if any(isinstance(m, Private) for m in field.metadata)
        )

    @property
    def subject(self) -> str:
        """The id of the thing that this event is a statement about."""
        return str(getattr(self, self.about))

    def public_part(self) -> dict[str, Any]:
        """The body as plain data without the private fields and without empty ones."""
        return self.model_dump(mode="json", by_alias=True, exclude_none=True, exclude=set(self.private_fields()))

    def private_part(self) -> dict[str, Any]:
        """The private fields that are filled, as plain data."""
        filled = {name for name in self.private_fields() if getattr(self, name) is not None}
        return self.model_dump(mode="json", include=filled, exclude_none=True) if filled else {}


@dataclass(frozen=True)
class Draft:
    """An event on its way into the ledger: made where the person acts, with its id."""

    id: str
    actor: str
    body: Body
    private_of: str | None = None
    """Whose key seals the private fields; None: the centre's."""


def plain_faults(error: ValidationError, labels: Mapping[str, str] | None = None) -> str:
    """Tell a model's complaints as one sentence for people, without any of the values.

    Args:
        error: the complaints.
        labels: what the form that was filled in calls the fields.
    """
    return "; ".join(_told_fault(fault, labels or {}) for fault in error.errors()) + "."


def first_fault(error: ValidationError, skip: int = 0) -> str:
    """Tell the first of a model's complaints in plain words without its value, `skip` places of its path left out."""
    fault = error.errors()[0]
    return _told_fault({**fault, "loc": fault["loc"][skip:]}, {})


def _told_fault(fault: Any, labels: Mapping[str, str]) -> str:
    path = [str(part)[:60] for part in fault["loc"]]
    text = _fault_words(fault["type"], fault.get("ctx", {})) or fault["msg"].removeprefix("Value error, ")
    label = labels.get(".".join(path)) or (labels.get(path[0]) if path else None)
    where = ".".join(path)
    return f"“{label}” {text}" if label else f"{where}: {text}" if where else text


def _fault_words(kind: str, particulars: dict[str, Any]) -> str | None:
    """The commonest complaints in plain words; None for those that say it themselves."""
    words = {
        "missing": "is missing",
        "extra_forbidden": "is not known here",
        "string_pattern_mismatch": "is not written as it should be",
        "enum": f"is none of {particulars.get('expected')}",
        "literal_error": f"is none of {particulars.get('expected')}",
    }
    if kind in ("greater_than_equal", "less_than_equal"):
        least, most = particulars.get("ge"), particulars.get("le")
        return f"is less than {least}" if most is None else f"is more than {most}"
    if kind in ("too_short", "string_too_short"):
        least = particulars["min_length"]
        return "is empty" if least == 1 else f"needs at least {least}"
    if kind in ("too_long", "string_too_long"):
        letters = " letters" if particulars.get("field_type", "Value") == "Value" else ""
        return f"is longer than {particulars['max_length']}{letters}"
    return words.get(kind) or (None if kind in ("value_error", "assertion_error") else words["string_pattern_mismatch"])
