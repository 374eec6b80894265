"""Every kind of event: what is written reads back, what is private stays out, and a published kind never changes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from event_examples import EXAMPLES, HIDDEN, ONE, TWO, at
from pydantic import ValidationError

from course.errors import RefusedError
from course.record.chain import canonical
from course.record.events import (
    KINDS,
    AttemptClosed,
    Body,
    CourseMade,
    MarkGiven,
    MarksGiven,
    PersonAdded,
    SessionPlanned,
    SpanRecorded,
    read_body,
)
from course.words import Closing, Mark, Role

GOLDEN = Path(__file__).parent / "golden" / "event_kinds.json"
_BY_KIND = {example.kind: example for example in EXAMPLES}


def _bare(schema: object) -> object:
    """A JSON schema without what is only told to people."""
    if isinstance(schema, dict):
        told = ("title", "description")
        return {k: _bare(v) for k, v in schema.items() if k not in told or not isinstance(v, str)}
    return [_bare(item) for item in schema] if isinstance(schema, list) else schema


def described(model: type[Body]) -> dict[str, Any]:
    """All of a kind that a ledger rests on."""
    schema = _bare(model.model_json_schema(mode="validation"))
    return {"about": model.about, "private": list(model.private_fields()), "schema": schema}


def test_no_published_kind_has_changed_and_no_kind_is_unlisted() -> None:
    """A kind that has to change gets `/2` beside it; a new one is added to golden/event_kinds.json by hand."""
    assert {kind: described(model) for kind, model in KINDS.items()} == json.loads(GOLDEN.read_text("utf-8"))


def test_there_is_an_example_of_every_kind() -> None:
    assert _BY_KIND.keys() == KINDS.keys()
    assert all(kind.rpartition("/")[2].isdigit() for kind in KINDS)


@pytest.mark.parametrize("body", EXAMPLES, ids=lambda body: body.kind)
def test_the_public_part_reads_back_as_it_was(body: Body) -> None:
    plain = json.loads(canonical(body.public_part()))
    read = read_body(body.kind, plain)
    assert read is not None
    assert read == body.model_copy(update=dict.fromkeys(body.private_fields()))
    assert read.public_part() == plain
    assert read.subject == body.subject


@pytest.mark.parametrize("body", EXAMPLES, ids=lambda body: body.kind)
def test_what_is_private_is_never_in_the_public_part(body: Body) -> None:
    public, private = body.public_part(), body.private_part()
    assert HIDDEN not in json.dumps(public)
    assert not public.keys() & set(body.private_fields())
    assert private.keys() == set(body.private_fields())


@pytest.mark.parametrize("body", EXAMPLES, ids=lambda body: body.kind)
def test_a_field_that_the_kind_does_not_have_is_refused(body: Body) -> None:
    with pytest.raises(RefusedError, match="colour: is not known here"):
        read_body(body.kind, body.public_part() | {"colour": "red"})


@pytest.mark.parametrize("body", EXAMPLES, ids=lambda body: body.kind)
def test_the_complaint_about_missing_fields_names_them_and_no_values(body: Body) -> None:
    with pytest.raises(RefusedError, match=r": is missing") as refused:
        read_body(body.kind, {})
    assert "Input" not in refused.value.sentence


def test_a_kind_from_a_newer_version_reads_as_none() -> None:
    assert read_body("marks_given/9", {"anything": 1}) is None


@pytest.mark.parametrize(
    ("plain", "told"),
    [
        ({"step": "out", "mark": "error"}, "an error mark names its errors"),
        ({"step": "out", "mark": "done", "errors": ["x"]}, "an error mark names its errors"),
        ({"step": "out", "mark": "error", "errors": ["x", "x"]}, "the same error twice"),
        ({"step": "out", "mark": "done", "prompted": True}, "a prompt without an error is the mark prompted"),
        ({"step": "out", "mark": "brilliant"}, "brilliant|none of|Input"),
        ({"step": "Out!", "mark": "done"}, "pattern|written"),
    ],
)
def test_a_mark_that_contradicts_itself_is_refused(plain: dict[str, Any], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        MarkGiven.model_validate(plain)


@pytest.mark.parametrize(("how", "by"), [("stopped", None), ("completed", "student"), ("void", "instructor")])
def test_a_stopped_attempt_says_who_stopped_it_and_no_other_does(how: str, by: str | None) -> None:
    with pytest.raises(ValidationError, match="a stopped attempt says who stopped it"):
        AttemptClosed(attempt=ONE, how=Closing(how), stopped_by=by, observed=at())


def test_nothing_ends_before_it_begins() -> None:
    with pytest.raises(ValidationError, match="the session ends before it begins"):
        SessionPlanned(session=ONE, course=TWO, title="Pool", setting="pool", start=at(5), end=at(5))
    with pytest.raises(ValidationError, match="the span ends before it begins"):
        SpanRecorded(session=ONE, span=TWO, person=TWO, role="student", start=at(5), end=at(4))
    with pytest.raises(ValidationError, match="the last day of the course is before its first day"):
        CourseMade(
            course=ONE, title="KW", zone="UTC", adoption=TWO, profile="ex", revision="r1", first_day="2026-10-20",
            last_day="2026-10-19",
        )  # fmt: skip


@pytest.mark.parametrize("day", ["2026-02-29", "20.10.2026", "", "tomorrow"])
def test_the_complaint_about_a_birth_date_does_not_repeat_it(day: str) -> None:
    with pytest.raises(ValidationError) as refused:
        PersonAdded(person=ONE, roles=(Role.STUDENT,), birth_date=day)
    told = refused.value.errors()[0]["msg"]
    assert told == "Value error, is no day of the calendar, written as 2026-10-25"


def test_a_list_of_marks_is_not_empty_and_not_endless() -> None:
    line = MarkGiven(step="out", mark=Mark.DONE)
    for marks, told in (((), "marks: is empty"), ((line,) * 81, "marks: is longer than 80")):
        with pytest.raises(RefusedError, match=told):
            read_body(MarksGiven.kind, {"attempt": ONE, "sheet": TWO, "marks": list(marks), "observed": at()})
