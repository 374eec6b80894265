"""Texts without markup are set without being parsed: most rows of a paper, and the same bytes as if they had been."""

from __future__ import annotations

from copy import copy
from typing import Any

from reportlab.platypus.paragraph import cleanBlockQuotedText
from reportlab.platypus.paraparser import ParaParser

_MARKUP = frozenset("<&")
_parts: dict[tuple[str, float, str], Any] = {}
"""What the parser makes of one letter, by face, size and colour: a paper has a dozen of them."""


def plain_part(text: str, style: Any) -> list[Any] | None:
    """Return a text as the one part that ReportLab's parser makes of it; None where there is something to parse."""
    if not _MARKUP.isdisjoint(text) or style.textTransform or not (cleaned := cleanBlockQuotedText(text)):
        return None
    look = (style.fontName, style.fontSize, style.textColor.hexval())
    if look not in _parts:
        _, (_parts[look],), _ = ParaParser().parse("x", style)
    part = copy(_parts[look])
    part.text, part.link, part.us_lines, part.textColor = cleaned, [], [], style.textColor
    return [part]
