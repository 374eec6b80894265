"""The slate sheet on paper: measured inside its boxes for every skill, every size and one to eight students.

Measured twice: by the layout's own areas (the whole product), and by the letters that PDFium finds in the file.
"""

from __future__ import annotations

import io
import subprocess
import unicodedata
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pypdf
import pypdfium2
import pytest
from centre_builder import shipped_standards
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf.generic import ContentStream
from slate_examples import column, example

from course.answers.slate_sheet import SlateSheet
from course.errors import PaperError
from course.paper.slate_layout import lay_out
from course.paper.slate_page import MARGIN, Box, Code, Filled, Grey, SlatePage
from course.paper.slate_sheet import print_slates
from course.paper.slate_text import ASCENT, DESCENT, Area, Drawn, Words, width_of
from course.words import MARK_WORDS

MM = 72 / 25.4
ISO_216_MM = {"a4": (210, 297), "a5": (148, 210), "small": (105, 148)}
"""ISO 216, trimmed sizes of the A series: A4, A5 and A6."""
SKILLS = tuple(shipped_standards().skills)
PAPER_SCALE = {8.0, 9.5, 12.0, 18.0}
SAMPLE = ("chk-addition", "chk-cells", "mp-close-out", "fl-adv", "ic-score")
COLOUR_OPERATORS = {b"rg", b"RG", b"k", b"K", b"cs", b"CS", b"sc", b"SC", b"scn", b"SCN", b"sh"}
"""PDF (ISO 32000), table of colour operators: every one but `g` and `G`, which set grey; from memory."""


def corners(areas: list[Area]) -> Any:
    """Left, low, right, top of each."""
    return np.array([(a.x, a.y, a.right, a.top) for a in areas]).reshape(-1, 4)


def overlaps(some: Any, others: Any) -> Any:
    """Which of some lie over which of the others by more than a hair."""
    one, two = some[:, None, :], others[None, :, :]
    across = np.minimum(one[..., 2], two[..., 2]) - np.maximum(one[..., 0], two[..., 0])
    up = np.minimum(one[..., 3], two[..., 3]) - np.maximum(one[..., 1], two[..., 1])
    return (across > 0.02) & (up > 0.02)


def inked(words: Words) -> Area:
    """The rectangle that a string may ink: its width, and the typeface's ascent and descent."""
    return Area(
        words.x,
        words.y - DESCENT * words.size,
        width_of(words.text, words.font, words.size),
        (ASCENT + DESCENT) * words.size,
    )


def check_page(page: SlatePage) -> None:
    """Nothing overflows, overlaps, or stands in the margin; boxes are large enough for a pencil."""
    words = [item for item in page.items if isinstance(item, Words)]
    boxes = [item for item in page.items if isinstance(item, Box)]
    held, text = corners([one.area for one in words]), corners([inked(one) for one in words])
    assert (text[:, :2] >= held[:, :2] - 0.01).all()
    assert (text[:, 2:] <= held[:, 2:] + 0.01).all()
    everything = [item.area for item in page.items if isinstance(item, Words | Box | Grey | Filled | Code | Drawn)]
    every = corners(everything)
    assert every[:, :2].min() >= MARGIN - 0.01
    assert every[:, 2].max() <= page.width - MARGIN + 0.01
    assert every[:, 3].max() <= page.height - MARGIN + 0.01
    assert not (overlaps(text, text) & ~np.eye(len(text), dtype=bool)).any()
    room = corners([box.room for box in boxes if box.what not in ("from", "to", "notes")])
    assert not overlaps(text, room).any()
    outer = corners([box.area for box in boxes])
    assert not (overlaps(outer, outer) & ~np.eye(len(outer), dtype=bool)).any()
    codes = corners([item.area for item in page.items if isinstance(item, Code)])
    assert len(codes) == 1
    assert not overlaps(codes, np.concatenate([text, outer])).any()
    assert {one.size for one in words} <= PAPER_SCALE
    for box in boxes:
        if box.whom and box.what != "attempt":
            assert box.area.width >= 9 * MM
            assert box.room.height >= 6.99 * MM


def boxes_of(pages: tuple[SlatePage, ...]) -> Counter[tuple[Any, str, str]]:
    """What each student has to write in, or grey instead: (student and try, step, kind) to how often."""
    found: Counter[tuple[Any, str, str]] = Counter()
    for page in pages:
        for item in page.items:
            if isinstance(item, Box) and item.whom and item.what != "attempt":
                found[item.whom, item.step, item.what] += 1
            if isinstance(item, Grey) and item.hatched:
                found[item.whom, item.step, "grey"] += 1
    return found


def boxes_wanted(sheet: SlateSheet) -> Counter[tuple[Any, str, str]]:
    """One box for every step that the unit has, a second for its value, one for the whole attempt."""
    wanted: Counter[tuple[Any, str, str]] = Counter()
    for one in sheet.columns:
        whom = (one.student, one.attempt_try)
        wanted[whom, "", "whole"] += 1
        here = [row for row in sheet.rows if row.step not in one.not_here]
        wanted.update((whom, row.step, "own mark" if row.own_box else "mark") for row in here)
        wanted.update((whom, row.step, "value") for row in here if row.limit)
        wanted.update((whom, step, "grey") for step in one.not_here)
    return wanted


def check_sheet(sheet: SlateSheet, pages: tuple[SlatePage, ...]) -> None:
    """Every student has one box for every step their unit has, and one for the whole attempt; every word is there."""
    assert boxes_of(pages) == boxes_wanted(sheet)
    told = " ".join(said(page) for page in pages)
    for row in sheet.rows:
        assert row.do in told
        for error in row.errors:
            assert f"{error.letter} {'critical: ' if error.critical else ''}{error.label}" in told
        for bound in filter(None, (row.limit.at_least, row.limit.at_most) if row.limit else ()):
            assert bound in told
    barred = {item.step for page in pages for item in page.items if isinstance(item, Filled)}
    assert barred == {row.step for row in sheet.rows if row.own_box}
    for page in pages:
        attempts = [item.whom for item in page.items if isinstance(item, Box) and item.what == "attempt"]
        assert len(attempts) == len(set(attempts)) > 0
        for words in (sheet.caution, sheet.slate.code, sheet.session, sheet.day, sheet.centre, "seen from"):
            assert words in said(page)


def said(page: SlatePage) -> str:
    """A page's words in the order in which they are drawn."""
    return " ".join(item.text for item in page.items if isinstance(item, Words))


@pytest.mark.parametrize("students", range(1, 9))
@pytest.mark.parametrize("size", ISO_216_MM)
def test_text_stays_in_its_boxes_for_every_skill(size: str, students: int) -> None:
    for skill in SKILLS:
        sheet = example(skill, students)
        pages = lay_out(sheet, size)
        check_sheet(sheet, pages)
        for page in pages:
            check_page(page)


@pytest.mark.parametrize("tries", [2, 3])
@pytest.mark.parametrize("size", ISO_216_MM)
def test_every_try_has_a_column_of_its_own_beside_the_students_other_tries(size: str, tries: int) -> None:
    for skill in SAMPLE:
        sheet = example(skill, 5, tries)
        pages = lay_out(sheet, size)
        check_sheet(sheet, pages)
        for page in pages:
            check_page(page)
            whom = [item.whom for item in page.items if isinstance(item, Box) and item.what == "attempt" and item.whom]
            assert len(whom) == tries * len({student for student, _ in whom})


@pytest.mark.parametrize("students", [1, 4, 8])
@pytest.mark.parametrize("size", ISO_216_MM)
def test_the_letters_in_the_file_stand_where_the_layout_says(size: Any, students: int) -> None:
    """Read by PDFium: each letter inside the margins and inside one of the layout's areas; the pages of ISO 216."""
    sheets = [example(skill, students) for skill in SAMPLE]
    pages = [page for sheet in sheets for page in lay_out(sheet, size)]
    document = pypdfium2.PdfDocument(print_slates(sheets, size))
    assert len(document) == len(pages)
    for laid, page in zip(pages, document, strict=True):
        assert page.get_size() == pytest.approx([side * MM for side in ISO_216_MM[size]], abs=0.05)
        text = page.get_textpage()
        shown = [n for n in range(text.count_chars()) if text.get_text_range(n, 1).strip()]
        letters = np.array([text.get_charbox(number) for number in shown])
        areas = corners([item.area for item in laid.items if isinstance(item, Words)])
        inside = (letters[:, None, :2] >= areas[None, :, :2] - 0.6) & (letters[:, None, 2:] <= areas[None, :, 2:] + 0.6)
        assert inside.all(axis=2).any(axis=1).all()
        assert Counter("".join(text.get_text_range(n, 1) for n in shown)) == Counter(said(laid).replace(" ", ""))


@pytest.mark.parametrize("size", ISO_216_MM)
def test_nothing_is_inked_in_the_margins(size: Any) -> None:
    """Seen on pages as PDFium draws them: 6 mm all round, a third of a millimetre for the edges of letters."""
    document = pypdfium2.PdfDocument(print_slates([example(skill, 8) for skill in SAMPLE], size))
    for page in document:
        picture = page.render(scale=2, grayscale=True).to_numpy().squeeze()
        rows, columns = np.nonzero(picture < 250)
        margin = 5.7 * MM * 2
        assert min(rows.min(), columns.min()) >= margin
        assert rows.max() <= picture.shape[0] - margin
        assert columns.max() <= picture.shape[1] - margin


@pytest.mark.parametrize("size", ISO_216_MM)
def test_the_file_knows_only_black_white_and_grey_and_has_no_pictures(size: Any, tmp_path: Path) -> None:
    file = tmp_path / "slates.pdf"
    file.write_bytes(print_slates([example(skill, 4) for skill in SAMPLE], size))
    for page in pypdf.PdfReader(file).pages:
        used = {operator for _, operator in ContentStream(page.get_contents(), None).operations}
        assert not used & COLOUR_OPERATORS
        assert b"g" in used
        assert not page.images
        fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]
        assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in fonts)


@pytest.mark.parametrize("size", ISO_216_MM)
def test_the_square_code_is_read_back_from_a_printed_page(size: Any, tmp_path: Path) -> None:
    """Decoded by OpenCV from pages that Poppler drew at 300 dots per inch (QR codes: ISO/IEC 18004)."""
    sheets = [example("mp-close-out", 2), example("asm-bench", 8)]
    pages = [page for sheet in sheets for page in lay_out(sheet, size)]
    (tmp_path / "slates.pdf").write_bytes(print_slates(sheets, size))
    subprocess.run(["pdftoppm", "-r", "300", "-gray", "-png", "slates.pdf", "page"], cwd=tmp_path, check=True)
    pictures = sorted(tmp_path.glob("page*.png"))
    assert len(pictures) == len(pages)
    for page, picture in zip(pages, pictures, strict=True):
        text, _, _ = cv2.QRCodeDetectorAruco().detectAndDecode(cv2.imread(str(picture), cv2.IMREAD_GRAYSCALE))
        assert text == page.code
        assert text.split("|")[:4] == (sheets[page.title == sheets[1].title].square_code).split("|")
        assert text.split("|")[4:] == ([f"{page.part}/{page.parts}"] if page.parts > 1 else [])


def test_a_part_of_a_sheet_says_in_its_code_which_it_is() -> None:
    (one,) = lay_out(example(students=1), "a5")
    assert one.code == example(students=1).square_code
    pages = lay_out(example("asm-bench", 4), "small")
    assert [page.code.rpartition("|")[2] for page in pages] == ["1/2", "2/2"]


def test_a_long_skill_goes_on_to_a_second_sheet_that_says_so() -> None:
    first, second = lay_out(example("asm-bench", 4), "small")
    assert "sheet 1 of 2, goes on" in said(first)
    assert "goes on: sheet 2 of 2" in said(first)
    number = {row.step: row.number for row in example("asm-bench").rows}
    steps = [number[item.step] for item in second.items if isinstance(item, Box) and item.step]
    assert f"sheet 2 of 2, goes on from step {min(steps)}" in said(second)
    for page in (first, second):
        assert example("asm-bench").slate.code in said(page)
        assert "seen from" in said(page)
        assert "observer's initials" in said(page)
        assert "Amaru" in said(page)
    whole = [
        [item for item in page.items if isinstance(item, Box) and item.what == "whole"] for page in (first, second)
    ]
    assert [len(found) for found in whole] == [0, 4]


def test_more_students_than_have_room_go_on_by_students() -> None:
    pages = lay_out(example("mp-close-out", 8), "a5")
    for page, told in zip(pages, ("students 1 to 4 of 8", "students 5 to 8 of 8"), strict=True):
        assert told in said(page)
    assert "goes on" not in said(pages[0])


def test_the_largest_type_that_takes_the_fewest_pages_is_used() -> None:
    for size, step_size in (("a4", 18.0), ("a5", 12.0)):
        (page,) = lay_out(example("mp-close-out", 2), size)
        do = example("mp-close-out").rows[0].do.split()[0]
        assert any(
            item.text.startswith(do) and item.size == step_size for item in page.items if isinstance(item, Words)
        )


def test_every_mark_of_the_slate_is_explained_at_the_foot_of_every_page() -> None:
    for size in ISO_216_MM:
        for page in lay_out(example("asm-bench", 4), size):
            shapes = [item for item in page.items if isinstance(item, Drawn)]
            assert len(shapes) == len(MARK_WORDS)
            legend = said(page)
            for word in MARK_WORDS.values():
                assert (word if word != "error" else "error + letter") in legend
            assert "Small F beside it: put right unasked before anything came of it" in legend
            assert "Agency standards, maker's manual and local law rule." in legend


def test_grey_is_printed_only_where_the_unit_lacks_the_step() -> None:
    """Type A has a solenoid, type B a constant feed: two rows of `chk-addition` are grey in turn."""
    sheet = example("chk-addition", 2)
    (page,) = lay_out(sheet, "a4")
    grey = {(item.whom[0], item.step) for item in page.items if isinstance(item, Grey) and item.hatched and item.whom}
    assert grey == {(one.student, step) for one in sheet.columns for step in one.not_here}
    assert len(grey) >= 2
    (plain,) = lay_out(example("mp-close-out", 2), "a4")
    assert not [item for item in plain.items if isinstance(item, Grey)]


def test_a_row_that_no_unit_here_has_is_grey_from_edge_to_edge() -> None:
    sheet = example("chk-addition", 1)
    (page,) = lay_out(sheet, "a4")
    whole = {item.step for item in page.items if isinstance(item, Grey) and not item.hatched}
    assert whole == set(sheet.columns[0].not_here)


def test_a_student_whose_unit_has_none_of_the_skill_has_nothing_to_write_in() -> None:
    sheet = example("mp-close-out", 2)
    none = replace(sheet.columns[1], not_here=frozenset(row.step for row in sheet.rows))
    (page,) = lay_out(replace(sheet, columns=(sheet.columns[0], none)), "a5")
    boxes = {item.whom for item in page.items if isinstance(item, Box) and item.whom and item.what != "attempt"}
    assert boxes == {(sheet.columns[0].student, 1)}


def test_two_of_one_first_name_are_told_apart_over_and_under_their_columns() -> None:
    (page,) = lay_out(example("mp-close-out", 6), "a4")
    assert said(page).count("1998") == said(page).count("2001") == 2


@pytest.mark.parametrize("size", ISO_216_MM)
@pytest.mark.parametrize(
    "name",
    [
        "<b>Bold</b> <img src='/etc/passwd'>",
        "Wolfeschlegelsteinhausen" * 9,
        "W W W W W",
        "Nguyễn Thị Ánh",
        "李小龍 王",
        "Ọ̀ṣun Ẹ̀là",
        "&amp; Fish",
    ],
)
def test_hostile_names_stay_in_their_boxes_and_are_letters(size: Any, name: str) -> None:
    sheet = example("mp-close-out", 4)
    columns = (sheet.columns[0], column(name, "no. ab12", student="student-1"), *sheet.columns[2:])
    hostile = replace(sheet, columns=columns, session=name, group=name, centre=name, staff=(name, name))
    pages = lay_out(hostile, size)
    for page in pages:
        check_page(page)
        assert "…" in said(page) or len(name) < 60
    words = unicodedata.normalize(
        "NFC", pypdfium2.PdfDocument(print_slates([hostile], size))[0].get_textpage().get_text_range()
    )
    initials = columns[1].initials
    assert unicodedata.normalize("NFC", initials) in words


@pytest.mark.parametrize(
    ("name", "letter"),
    [("Amaru\u202eelledneT", "U+202E RIGHT-TO-LEFT OVERRIDE"), ("محمد", "U+0645 ARABIC LETTER MEEM")],
)
def test_a_name_that_cannot_be_set_is_refused_by_name(name: str, letter: str) -> None:
    sheet = example("mp-close-out", 1)
    with pytest.raises(PaperError, match="The name") as caught:
        print_slates([replace(sheet, columns=(column(name, student="student-0"),))], "a5")
    assert letter in str(caught.value)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.text("aWÜ.l iß-'", min_size=1, max_size=30), min_size=1, max_size=8), st.sampled_from(list(ISO_216_MM))
)
def test_any_names_stay_in_their_boxes(names: list[str], size: str) -> None:
    sheet = example("mp-close-out", len(names))
    named = [column(name if name.split() else "?", name[:8].strip()) for name in names]
    columns = tuple(
        replace(one, first_name=like.first_name, initials=like.initials, tag=like.tag)
        for one, like in zip(sheet.columns, named, strict=True)
    )
    for page in lay_out(replace(sheet, columns=columns), size):
        check_page(page)


def test_the_same_sheets_give_the_same_bytes_and_name_nobody_in_the_metadata() -> None:
    sheets = [example(skill, 3) for skill in SAMPLE]
    pdf = print_slates(sheets, "a5")
    assert pdf == print_slates(sheets, "a5")
    assert pdf != print_slates(sheets[:-1], "a5")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert reader.metadata.title == "Slate sheets"
    assert reader.trailer["/Root"]["/Lang"] == "en"
    preferences = reader.trailer["/Root"]["/ViewerPreferences"]
    assert preferences["/PrintScaling"] == "/None"
    assert preferences["/Duplex"] == "/Simplex"
    assert not any(name in str(reader.metadata) for name in ("Amaru", "Kelpwater", "Tamsin"))
    assert reader.metadata.creation_date.year == 2000


def test_a_size_that_is_not_there_and_no_sheet_at_all_are_refused() -> None:
    with pytest.raises(PaperError, match="Take a4, a5 or small"):
        print_slates([example()], "a3")  # type: ignore[arg-type]
    with pytest.raises(PaperError, match="no sheet to print"):
        print_slates([], "a5")


def test_a_step_too_long_for_a_small_sheet_is_refused_with_the_way_out() -> None:
    sheet = example("mp-close-out", 4)
    long = replace(sheet.rows[0], do="Do this and then that again. " * 40)
    with pytest.raises(PaperError, match="Take a larger one"):
        lay_out(replace(sheet, rows=(long, *sheet.rows[1:])), "small")
