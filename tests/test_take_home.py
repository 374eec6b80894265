"""The sheet to take home: one page, the student's own record alone, long lists shortened in words."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import pytest
from centre_builder import LAST_DAY, ODD_NAME, POOL_SKILL, Centre, critical_mark
from pypdf import PdfReader

from course.answers.student_page import OpenSkill, StudentPage, student_page
from course.errors import PaperError
from course.paper.frame import PaperSize
from course.paper.take_home import print_take_home


def page_of(centre: Centre, student: str = "") -> StudentPage:
    return student_page(centre.view(), student or centre.amaru, LAST_DAY)


def printed(page: StudentPage, size: PaperSize = "A4") -> str:
    """Print into memory, hold it to one page, and read it back with each stretch of space as one blank."""
    out = io.BytesIO()
    assert print_take_home(page, out, size) == 1
    (only,) = PdfReader(out).pages
    return " ".join(only.extract_text().split())


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_a_student_whom_nobody_saw_has_one_page_that_says_so(small_centre: Centre, size: PaperSize) -> None:
    told = printed(page_of(small_centre), size)
    assert "Amaru Tendelle holds 0 of" in told
    assert "Nothing yet: this is where it will stand." in told
    assert "more, see Course" in told
    assert "My weak steps" not in told
    assert "Who saw my attempts" not in told


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_it_says_what_is_held_missing_weak_next_and_seen_by_whom(small_centre: Centre, size: PaperSize) -> None:
    for mark in "ccXccXcccXc":
        small_centre.enter("pool-22", *([critical_mark()] if mark == "X" else []))
    small_centre.enter("dry-21", skill="asm-bench", by=small_centre.second)
    told = printed(page_of(small_centre), size)
    assert "Close before it leaves the mouth: not yet: 5 more over 3 days" in told
    assert "1 Close before it leaves the mouth: on the bench." in told
    assert "went wrong in 3 of 11, at attempts 3, 6 and 10; 3 critical. Water floods the loop" in told
    assert "Tamsin Okoro-Vale (11 attempts), Bruno Ashkenar (1 attempt)." in told
    assert "This sheet proposes; your instructor decides." in told
    assert "It certifies nobody." in told


def test_what_is_held_is_told_with_how_many_are_signed(small_centre: Centre) -> None:
    small_centre.hold()
    assert "What I hold: 1 skill, 0 signed Close before it leaves the mouth." in printed(page_of(small_centre))


def test_the_foot_says_where_the_ledger_stood(small_centre: Centre) -> None:
    """The same digits as on the competency record, so that a sheet kept at home is a witness too."""
    head = small_centre.view().head
    assert f"chain {head.chain[:8]} · event {head.seq} · hash {head.hash[:16]} page 1 of 1" in printed(
        page_of(small_centre)
    )


def test_nothing_of_another_student_is_on_it(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark(), student=small_centre.zoe)
    told = printed(page_of(small_centre))
    assert "Zoë" not in told
    assert "went wrong" not in told


def test_a_name_with_signs_is_printed_as_it_stands(small_centre: Centre) -> None:
    assert ODD_NAME in printed(page_of(small_centre, small_centre.zoe))


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_longest_lists_and_names_still_make_one_page(small_centre: Centre, size: PaperSize) -> None:
    small_centre.enter("pool-22", critical_mark())
    page = page_of(small_centre)
    many = tuple(OpenSkill(f"s-{n}", f"Skill {n} " + "word " * 40, "not yet: " + "one more, " * 12) for n in range(300))
    crowded = replace(
        page, student="Amaru " * 200, missing=many, weak=page.weak * 100, repeat=page.repeat * 5,
        seen_by=tuple((f"Observer {n} " + "name " * 30, n) for n in range(60)),
    )  # fmt: skip
    told = printed(crowded, size)
    assert "more, see Course" in told
    assert "Amaru Amaru" in told


def test_what_cannot_fit_is_an_error_and_prints_nothing(small_centre: Centre, tmp_path: Path) -> None:
    page = page_of(small_centre)
    long = replace(page, missing=(OpenSkill("s", "Skill", "word " * 900),))
    with pytest.raises(PaperError, match="does not fit on one page"):
        print_take_home(long, tmp_path / "out.pdf")
    assert list(tmp_path.glob("*.pdf")) == []


def test_printed_twice_it_is_the_same_bytes(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    first, second = io.BytesIO(), io.BytesIO()
    print_take_home(page_of(small_centre), first)
    print_take_home(page_of(small_centre), second)
    assert first.getvalue() == second.getvalue()


def test_a_skill_held_again_after_a_critical_error_says_held_since(small_centre: Centre) -> None:
    small_centre.enter("dry-21", critical_mark())
    small_centre.enter("dry-21")
    small_centre.hold()
    page = page_of(small_centre)
    assert [one.skill for one in page.held] == [POOL_SKILL]
    assert "1 critical. Water floods the loop, or air changes the mix that is breathed next. Held since." in printed(
        page
    )
