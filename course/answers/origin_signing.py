"""What events of signing and of what comes from elsewhere say, one sentence each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from course.answers.confirmed import confirmed_words
from course.answers.course_view import CourseView
from course.record import events as kinds
from course.standards.field_labels import SIGNER_WORDS
from course.words import DecisionKind, plural

Private = Mapping[str, Any]


def _reason(private: Private) -> str:
    return f" Reason: {private['reason']}" if private.get("reason") else ""


def _signed(private: Private, _: CourseView, body: kinds.Signed) -> str:
    act = "Signed as met" if body.decided == DecisionKind.AGREED else "Held back"
    how = confirmed_words(body.confirmed_with if isinstance(body, kinds.SignedConfirmed) else None)
    return f"{act}{how}, as of {body.as_of}; the tool said: {body.sentence}{_reason(private)}"


def _proposed(private: Private, _: CourseView, body: kinds.ExceptionProposed) -> str:
    how = confirmed_words(body.confirmed_with)
    return f"Exception proposed to {body.rule}{how}; the tool said: {body.sentence}{_reason(private)}"


def _seconded(private: Private, _: CourseView, body: kinds.ExceptionSeconded) -> str:
    how = confirmed_words(body.confirmed_with)
    return f"Agreed to the exception as the second instructor{how}.{_reason(private)}"


def _signed_off(private: Private, _: CourseView, body: kinds.SignedOff) -> str:
    lines, how = plural(body.rules, "line"), confirmed_words(body.confirmed_with)
    return f"Signed off, issue {body.issue}{how}, as of {body.as_of}: {lines} of {body.profile} met.{_reason(private)}"


def _countersigned(_: Private, __: CourseView, body: kinds.SignOffCountersigned) -> str:
    return f"Signed too: {SIGNER_WORDS[body.role]}{confirmed_words(body.confirmed_with)}"


def _back(private: Private, _: CourseView, body: kinds.SignOffWithdrawn) -> str:
    return f"The sign-off was taken back{confirmed_words(body.confirmed_with)}.{_reason(private)}"


def _agreed(private: Private, seen: CourseView, body: kinds.TransferAgreed) -> str:
    to = private.get("given_to") or "another centre"
    return f"{seen.name(body.student)} agreed on {body.day} to be given on to {to}"


def _arrived(private: Private, seen: CourseView, body: kinds.ArrivedFromElsewhere) -> str:
    centre = private.get("centre_name") or "another centre"
    signature = {"pinned": "signed with a pinned key", "unknown": "signed with a key that nobody pinned"}
    told = signature.get(body.signature, "not signed")
    return f"A file of {seen.name(body.student)} arrived from {centre}, as of {body.as_of}, {told}"


def _accepted(private: Private, _: CourseView, body: kinds.ElsewhereAccepted) -> str:
    amount = f", {body.amount}" if body.amount is not None else ""
    return f"Accepted from elsewhere: {body.item}{amount}{confirmed_words(body.confirmed_with)}.{_reason(private)}"


SIGNING_WORDS: dict[type[kinds.Body], Callable[[Private, CourseView, Any], str]] = {
    kinds.Signed: _signed,
    kinds.SignedConfirmed: _signed,
    kinds.ExceptionProposed: _proposed,
    kinds.ExceptionSeconded: _seconded,
    kinds.SignedOff: _signed_off,
    kinds.SignOffCountersigned: _countersigned,
    kinds.SignOffWithdrawn: _back,
    kinds.TransferAgreed: _agreed,
    kinds.ArrivedFromElsewhere: _arrived,
    kinds.ElsewhereAccepted: _accepted,
}
