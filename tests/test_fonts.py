"""Text on paper: every letter has a font or is refused by name, and nothing in a text is taken for markup."""

import io
import re
import unicodedata
from pathlib import Path
from xml.sax.saxutils import unescape

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import getFont, stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from course.errors import PaperError
from course.paper import fonts
from course.paper.fonts import FIGURES, FIGURES_MEDIUM, LONGEST, REGULAR, register_fonts, set_text
from course.paper.frame import QUIET, SMALL, Row, style

NAMES = {
    "Latin": "Søren Œdegård-Łukasiewicz",
    "Vietnamese": "Nguyễn Thị Ánh Tuyết",
    "Yoruba, accents without a code of their own": "Adébọ̀wálé Ọ̀ṣun",
    "Greek": "Ωμέγα Παπαδοπούλου",
    "Greek with breathings": "Ἀλέξανδρος ᾠδή",
    "Cyrillic": "Щукина Ёлка Їжак",
    "Chinese": "李小龍",
    "Japanese": "さくら カタナ 山田",
    "Korean": "김민준",
    "mixed": "Anh 李 & Ωμέγα <b>",
}


def printed(text: str) -> pypdf.PdfReader:
    """One page with the text on it."""
    file = io.BytesIO()
    register_fonts()
    canvas = Canvas(file, pagesize=(500, 200), initialFontName=REGULAR)
    paragraph = Paragraph(set_text(text), style(12, 16))
    paragraph.wrapOn(canvas, 480, 180)
    paragraph.drawOn(canvas, 10, 20)
    canvas.save()
    return pypdf.PdfReader(file)


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_a_name_reads_back_as_it_was_written(name: str) -> None:
    """Read back by pypdf, a library of its own."""
    text = printed(name).pages[0].extract_text()
    assert unicodedata.normalize("NFC", " ".join(text.split())) == unicodedata.normalize("NFC", name)


def test_a_name_in_two_forms_prints_the_same() -> None:
    """Unicode Standard Annex 15: canonical equivalents are the same text."""
    assert set_text(unicodedata.normalize("NFD", "Nguyễn")) == set_text(unicodedata.normalize("NFC", "Nguyễn"))


@pytest.mark.parametrize(
    ("name", "letter"),
    [
        ("สมชาย", "U+0E2A THAI CHARACTER SO SUA"),
        ("محمد", "U+0645 ARABIC LETTER MEEM"),
        ("देवी", "U+0926 DEVANAGARI LETTER DA"),
        ("דוד", "U+05D3 HEBREW LETTER DALET"),
        ("Amaru 😀", "U+1F600 GRINNING FACE"),
        ("a\u202eb", "U+202E RIGHT-TO-LEFT OVERRIDE"),
        ("a\u0000b", "U+0000 without a name"),
        ("a\ue000b", "U+E000 without a name"),
        ("n\u0301\u0304", "U+0304 COMBINING MACRON"),
        ("\u0301n", "U+0301 COMBINING ACUTE ACCENT"),
    ],
)
def test_a_letter_without_a_font_is_refused_by_name(name: str, letter: str) -> None:
    """Never a blank box, and never letters that fall on each other."""
    with pytest.raises(PaperError) as caught:
        set_text(name, "The name")
    assert letter in str(caught.value)
    assert str(caught.value).startswith(f'The name "{unicodedata.normalize("NFC", name)}" has the letter')
    assert "for which there is no font here" in str(caught.value)
    assert str(caught.value).endswith("Nothing was printed.")


def test_many_missing_letters_are_named_in_the_order_written() -> None:
    with pytest.raises(PaperError, match=r"U\+0E2A .*, U\+0E21 .*, U\+0E0A .* and 2 others, for which"):
        set_text("สมชาย", "The name")


@pytest.mark.parametrize("name", ["李小龍", "さくら", "김민준"])
def test_without_the_font_for_chinese_japanese_and_korean_the_package_is_named(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(fonts, "HAN_FILE", Path("/nowhere/wqy-microhei.ttc"))
    with pytest.raises(PaperError, match="fonts-wqy-microhei"):
        set_text(name, "The name")


def test_a_missing_typeface_is_an_error_with_the_way_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_family(*_: object, **__: object) -> None:
        raise fonts.fontpkg.FamilyNotInstalled("Fira Sans")

    monkeypatch.setattr(fonts.fontpkg, "path", no_family)
    with pytest.raises(PaperError, match="pip install fontpkg-fira-sans"):
        fonts._fira(REGULAR, 400, "normal")


@pytest.mark.parametrize(
    "text",
    [
        '<img src="/etc/passwd">',
        "<b>bold",
        "</para>",
        "AT&T &lt;",
        '<a href="http://example.org">x</a>',
        "<font color=white>hidden</font>",
        "]]>",
        "<br/>",
    ],
)
def test_markup_in_a_text_is_printed_as_letters(text: str) -> None:
    page = printed(text).pages[0]
    assert " ".join(page.extract_text().split()) == text
    assert not page.images
    assert "/Annots" not in page


@given(st.text(max_size=60))
def test_a_text_is_set_whole_or_refused(text: str) -> None:
    """What is between the font tags, unescaped, is the text in NFC; only spaces of odd widths become plain."""
    try:
        markup = set_text(text)
    except PaperError:
        return
    plain = unescape(re.sub(r"</?font[^>]*>", "", markup).replace("<br/>", "\n"))
    expected = unicodedata.normalize("NFC", text)
    assert len(plain) == len(expected)
    assert all(
        a == b or (a == " " and (b == "\t" or unicodedata.category(b) == "Zs"))
        for a, b in zip(plain, expected, strict=True)
    )


@given(st.text(alphabet="<>&/\"'ab \n", max_size=60))
def test_escaped_markup_never_opens_a_tag(text: str) -> None:
    assert "<" not in set_text(text).replace("<br/>", "")


def test_the_longest_text_is_set_and_one_letter_more_is_refused() -> None:
    assert set_text("<" * LONGEST) == "&lt;" * LONGEST
    with pytest.raises(PaperError, match=r"5,001 letters long; a paper takes 5,000"):
        set_text("a" * (LONGEST + 1))


@pytest.mark.parametrize("face", [FIGURES, FIGURES_MEDIUM])
def test_figures_of_a_table_have_one_width(face: str) -> None:
    register_fonts()
    assert len({stringWidth(figure, face, 10) for figure in "0123456789"}) == 1
    assert len({stringWidth(figure, REGULAR, 10) for figure in "0123456789"}) > 1


def test_faces_do_not_share_a_name_in_the_file() -> None:
    """ReportLab keys embedded fonts by the face's name; two of one name would mix up their letters."""
    register_fonts()
    names = [getFont(face).face.name for face in fonts._FACES]
    assert len(set(names)) == len(names)


def test_every_font_is_embedded() -> None:
    resources = printed(NAMES["mixed"]).pages[0]["/Resources"]
    descriptors = [font.get_object().get("/FontDescriptor") for font in resources["/Font"].values()]
    assert len(descriptors) == 2
    assert all("/FontFile2" in descriptor.get_object() for descriptor in descriptors)


def test_nothing_is_fetched_because_a_text_asks_for_it() -> None:
    from reportlab import rl_config

    assert not rl_config.trustedHosts
    assert not rl_config.trustedSchemes


@pytest.mark.parametrize(
    "text", ["plain words", "  two  blanks\n and a line ", "Ünal\u00a0Ōe", "Nguyễn", "", "a &lt; b <b>c</b>"]
)
def test_a_text_that_is_not_parsed_is_set_as_if_it_had_been(text: str) -> None:
    """Compared with what ReportLab's own paragraph makes of it."""
    register_fonts()
    told = style(SMALL, 10, textColor=QUIET)
    ours, parsed = Row(text, told).frags, Paragraph(text, told).frags
    assert [vars(one) for one in ours] == [vars(one) for one in parsed]
