"""What is true of a centre's laptops: which were accepted, and what each knew when it last took something in."""

from __future__ import annotations

from typing import ClassVar

from course.record.facts import Fact


class Device(Fact):
    """A device that somebody accepted as one of the centre's own."""

    labels: ClassVar[tuple[str, ...]] = ("note",)

    note: str | None = None
    accepted_by: str


class Merge(Fact):
    """One time that events of other ledgers were taken in."""

    added: int
    chain: str
    """The chain of the laptop that took them in."""
    seq: int
    heads: tuple[tuple[str, int, str], ...]
    """(chain, seq, hash) of each chain as it was known there then."""
