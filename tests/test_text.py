"""Text that people write: one form for what looks the same, and nothing in it that nobody can see."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from course.record.text import Line, Note, clean_line, clean_note

_LINE, _NOTE = TypeAdapter(Line), TypeAdapter(Note)


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("  Zoë  ", "Zoë"),
        ("Zoe\u0308", "Zoë"),
        ("Ana\u00a0Ruiz", "Ana Ruiz"),
        ("Ana\u2003Ruiz", "Ana Ruiz"),
        ("Ana\tRuiz", "Ana Ruiz"),
        ("<b>=1+1</b>", "<b>=1+1</b>"),
        ("\u0646\u0648\u200c\u0647", "\u0646\u0648\u200c\u0647"),
        ("👩\u200d🚀", "👩\u200d🚀"),
    ],
)
def test_a_line_is_kept_in_one_form(written: str, kept: str) -> None:
    assert clean_line(written) == kept


@pytest.mark.parametrize(
    ("hidden", "name"),
    [
        ("\u202e", "RIGHT-TO-LEFT OVERRIDE"),
        ("\u2066", "LEFT-TO-RIGHT ISOLATE"),
        ("\u200b", "ZERO WIDTH SPACE"),
        ("\ufeff", "ZERO WIDTH NO-BREAK SPACE"),
        ("\u00ad", "SOFT HYPHEN"),
        ("\u3164", "HANGUL FILLER"),
        ("\x00", "control character"),
        ("\x1b", "control character"),
        ("\u2028", "LINE SEPARATOR"),
        ("\ue000", "control character"),
    ],
)
def test_a_mark_that_nobody_can_see_is_refused_by_name(hidden: str, name: str) -> None:
    """Names as in the Unicode character database."""
    for clean in (clean_line, clean_note):
        with pytest.raises(ValueError, match=f"U\\+{ord(hidden):04X} {name}"):
            clean(f"Pa{hidden}ul")


def test_a_line_has_no_line_break_and_a_note_may() -> None:
    with pytest.raises(ValueError, match="holds a line break, and is one line"):
        clean_line("one\ntwo")
    assert clean_note("one\r\ntwo\n") == "one\ntwo"


@pytest.mark.parametrize("blank", ["", "   ", "\u200d", "\u00a0\u200c"])
def test_a_name_is_something_to_see(blank: str) -> None:
    for kind in (_LINE, _NOTE):
        with pytest.raises(ValidationError):
            kind.validate_python(blank)


@pytest.mark.parametrize(("kind", "most"), [(_LINE, 200), (_NOTE, 2000)])
def test_text_has_a_length(kind: TypeAdapter[str], most: int) -> None:
    assert kind.validate_python("a" * most) == "a" * most
    with pytest.raises(ValidationError):
        kind.validate_python("a" * (most + 1))


@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=40))
def test_cleaning_twice_is_cleaning_once(text: str) -> None:
    """Whatever is taken is in NFC (Unicode Standard Annex 15, by the standard library) and stays as it is."""
    try:
        kept = clean_note(text)
    except ValueError:
        return
    assert clean_note(kept) == kept
    assert unicodedata.is_normalized("NFC", kept)
