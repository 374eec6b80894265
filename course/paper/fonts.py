"""The papers' typeface, and text made safe for ReportLab's markup.

Fira Sans (package `fontpkg-fira-sans`, OFL) is embedded from our own machine. Chinese, Japanese and Korean come from
Debian's `fonts-wqy-microhei` where that file is there. Letters are set one by one, without shaping, so a script that
joins or stacks its letters is refused by name: a blank box or a broken name on a record is worse than no record.
"""

from __future__ import annotations

import struct
import unicodedata
from functools import lru_cache
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from threading import Lock
from typing import Any
from xml.sax.saxutils import escape

import fontpkg
from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from course.errors import PaperError
from course.words import listed, plural

REGULAR, MEDIUM, BOLD, ITALIC = "Paper", "PaperMedium", "PaperBold", "PaperItalic"
FIGURES, FIGURES_MEDIUM = "PaperFigures", "PaperFiguresMedium"
"""Regular and medium with figures of one width, for columns of numbers."""
RAISED = "PaperRaised"
"""Regular with the accents that go over capitals, for names such as "Ọ̀ṣun" whose letters have no single code."""
HAN = "PaperHan"
HAN_FILE = Path("/usr/share/fonts/truetype/wqy/wqy-microhei.ttc")
LONGEST = 5_000
"""Letters in one text. Longer ones take seconds to set and are no name or note."""

_FACES = {
    REGULAR: (400, "normal"),
    MEDIUM: (500, "normal"),
    BOLD: (700, "normal"),
    ITALIC: (400, "italic"),
    FIGURES: (400, "normal"),
    FIGURES_MEDIUM: (500, "normal"),
    RAISED: (400, "normal"),
}
_HAN_SCRIPTS = ("CJK ", "HIRAGANA", "KATAKANA", "HANGUL", "IDEOGRAPHIC", "FULLWIDTH", "HALFWIDTH", "BOPOMOFO")
NOTHING_PRINTED = "Nothing was printed."
_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_ABOVE = 230  # Unicode's combining class of marks over a letter
_APPLE_GLYPHS = 258  # names that every `post` table knows without spelling them out
_NAMED = 3
_SHOWN = 60
_lock = Lock()

# A paper holds only what we put there: nothing is fetched, and no file is read because a text asks for it.
rl_config.trustedHosts = None
rl_config.trustedSchemes = []
rl_config.useA85 = 0
"""Pages are compressed and not written as letters once more, which takes longer and a quarter more room."""


@lru_cache(maxsize=1)
def register_fonts() -> None:
    """Register the faces with ReportLab, once.

    Raises:
        PaperError: the font package is not installed or has no such face.
    """
    with _lock:
        for name, (weight, style) in _FACES.items():
            pdfmetrics.registerFont(_fira(name, weight, style))
        pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=ITALIC, boldItalic=BOLD)


def set_text(text: str, what: str = "The text") -> str:
    """Return text as ReportLab markup: NFC, escaped, each run of letters in a font that has them.

    Args:
        text: what a person wrote, or a sentence that holds such text.
        what: what it is, for the error: "The name".

    Raises:
        PaperError: it is longer than `LONGEST`, or a letter has no font here.
    """
    return "".join(_marked(run, font) for font, run in runs_of(text, what))


def why_not_set(text: str, what: str = "The text") -> str:
    """Return why no paper can hold a text, in a sentence; empty where one can."""
    try:
        runs_of(text, what)
    except PaperError as error:
        return error.sentence.removesuffix(NOTHING_PRINTED).strip()
    return ""


def runs_of(text: str, what: str = "The text") -> tuple[tuple[str, str], ...]:
    """Return text in NFC as runs of (font that has the letters, letters).

    Raises:
        PaperError: it is longer than `LONGEST`, or a letter has no font here.
    """
    text = unicodedata.normalize("NFC", text)
    if len(text) > LONGEST:
        wrong = f"{what} is {len(text):,} letters long; a paper takes {LONGEST:,}."
        raise PaperError(f"{wrong} Shorten it and print again. Nothing was printed.")
    register_fonts()
    if text.isascii() and text.isprintable():  # most text, and every such letter is in the face
        return ((REGULAR, text),) if text else ()
    text = "".join(map(_plain_space, text))
    fonts = [_font_at(text, place) for place in range(len(text))]
    missing = list(dict.fromkeys(letter for letter, font in zip(text, fonts, strict=True) if font is None))
    if missing:
        raise PaperError(_missing(what, text, missing))
    runs = groupby(zip(text, fonts, strict=True), key=itemgetter(1))
    return tuple((font or REGULAR, "".join(letter for letter, _ in run)) for font, run in runs)


def _marked(run: str, font: str) -> str:
    markup = escape(run).replace("\n", "<br/>")
    return markup if font == REGULAR else f'<font name="{font}">{markup}</font>'


def _plain_space(letter: str) -> str:
    """Spaces of odd widths become plain ones; the ideographic space stays."""
    return " " if letter == "\t" or (unicodedata.category(letter) == "Zs" and letter not in "\u00a0\u3000") else letter


def _font_at(text: str, place: int) -> str | None:
    """Return the font that has the letter at a place; None where there is none."""
    letter = text[place]
    category = unicodedata.category(letter)
    if letter == "\n":
        return REGULAR
    if category in ("Cc", "Cf", "Cs", "Co", "Me"):
        return None
    if ord(letter) in pdfmetrics.getFont(REGULAR).face.charToGlyph:
        return _accent_font(text, place) if category == "Mn" else REGULAR
    if _is_han(letter) and HAN_FILE.is_file() and ord(letter) in _han_face(HAN_FILE).charToGlyph:
        return HAN
    return None


def _accent_font(text: str, place: int) -> str | None:
    """Return the font of an accent: raised over a capital. Two accents over one letter would fall on each other."""
    start = place - 1
    while start > 0 and unicodedata.combining(text[start]):
        start -= 1
    before = unicodedata.normalize("NFD", text[max(start, 0) : place])
    classes = [unicodedata.combining(letter) for letter in before[1:]]
    if not before[:1].isalpha() or unicodedata.combining(text[place]) in classes:
        return None
    return RAISED if before[0].isupper() and unicodedata.combining(text[place]) == _ABOVE else REGULAR


def _is_han(letter: str) -> bool:
    return unicodedata.name(letter, "").startswith(_HAN_SCRIPTS)


@lru_cache(maxsize=2)
def _han_face(file: Path) -> Any:
    """Register the collection's first font (its figures are proportional); loaded only when a text needs it."""
    font = TTFont(HAN, str(file), subfontIndex=0)
    pdfmetrics.registerFont(font)
    return font.face


def _missing(what: str, text: str, missing: list[str]) -> str:
    shown = text if len(text) <= _SHOWN else text[:_SHOWN] + "..."
    named = [f"U+{ord(letter):04X} {unicodedata.name(letter, 'without a name')}" for letter in missing[:_NAMED]]
    left = len(missing) - _NAMED
    more = f" and {plural(left, 'other')}" if left > 0 else ""
    letters = ("the letter " if len(missing) == 1 else "the letters ") + (
        ", ".join(named) + more if more else listed(named)
    )
    if all(map(_is_han, missing)) and not HAN_FILE.is_file():
        remedy = 'Install Debian\'s package fonts-wqy-microhei ("apt install fonts-wqy-microhei") and print again.'
    else:
        remedy = (
            "Scripts that join or stack letters, and pictures, cannot be printed: "
            "write it in letters that can, as a passport does, and print again."
        )
    return f'{what} "{shown}" has {letters}, for which there is no font here. {remedy} Nothing was printed.'


def _fira(name: str, weight: int, style: str) -> Any:
    try:
        path = fontpkg.path("Fira Sans", weight=weight, style=style)
    except fontpkg.FontpkgError as error:
        wrong = f"The papers' typeface is not there ({error})."
        remedy = 'Install it with "pip install fontpkg-fira-sans".'
        raise PaperError(f"{wrong} {remedy} Nothing was printed.") from error
    font = TTFont(name, str(path))
    if name in (FIGURES, FIGURES_MEDIUM):
        _use_forms(
            font.face, {ord(str(figure)): f"{word}.tf" for figure, word in enumerate(_DIGITS)}, b"FiraSansTabular"
        )
    if name == RAISED:
        plain = _glyph_names(font.face.get_table("post"))
        accents = [code for code in font.face.charToGlyph if unicodedata.combining(chr(code)) == _ABOVE]
        _use_forms(
            font.face, {code: f"{plain[font.face.charToGlyph[code]]}.case" for code in accents}, b"FiraSansRaised"
        )
    return font


def _use_forms(face: Any, forms: dict[int, str], family: bytes) -> None:
    """Let letters point to other forms, which the font keeps as glyphs of their own: "one.tf", "gravecomb.case"."""
    glyphs = {glyph: number for number, glyph in enumerate(_glyph_names(face.get_table("post")))}
    advances = face.get_table("hmtx")
    for code, form in forms.items():
        if form in glyphs:
            face.charToGlyph[code] = glyphs[form]
            face.charWidths[code] = face._pdfScale(struct.unpack_from(">H", advances, 4 * glyphs[form])[0])  # noqa: SLF001
    # ReportLab keys embedded fonts by this name; sharing it with the plain face would mix up their letters.
    face.name = face.name.__class__(face.name.replace(b"FiraSans", family))


def _glyph_names(post: bytes) -> list[str]:
    """Return the glyphs' names in order. Source: OpenType specification, `post` table, version 2.0."""
    count = struct.unpack_from(">H", post, 32)[0]
    places = struct.unpack_from(f">{count}H", post, 34)
    names, at = [], 34 + 2 * count
    while at < len(post):
        names.append(post[at + 1 : at + 1 + post[at]].decode("ascii"))
        at += 1 + post[at]
    return ["" if place < _APPLE_GLYPHS else names[place - _APPLE_GLYPHS] for place in places]
