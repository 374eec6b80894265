"""`course slate`: which sheets a session or a day gets, what is given out, and what is said when it cannot be."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
from centre_builder import Centre, note_papers, seen_at
from click.testing import CliRunner, Result

from course.actions import courses as planning
from course.actions.centre import add_person
from course.actions.slates import give_out, set_aside
from course.answers.slate_choice import MOST_SKILLS, missing_here, plan_slates
from course.answers.slate_sheet import find_slate, slate_sheet, slates_of
from course.commands import main
from course.errors import ExitCode, NotFoundError, PaperError, RefusedError
from course.paper.slate_giving import slates_for
from course.storage.ledger import open_ledger
from course.words import Role


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def closed(built_centre: tuple[Path, Centre], state_folder: Path) -> Iterator[tuple[Path, Centre]]:
    """The small centre's folder with nobody in it, as a command finds it."""
    base, centre = built_centre
    shutil.copytree(base / "kept", base / "centre")
    shutil.copytree(base / "state", state_folder)
    yield base / "centre", centre
    shutil.rmtree(base / "centre")


def events(folder: Path) -> int:
    with open_ledger(folder) as ledger:
        return sum(1 for _ in ledger.events())


def pages(file: Path) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(file).pages]


def test_it_chooses_what_is_missing_gives_it_out_and_says_how_to_choose_others(
    closed: tuple[Path, Centre], tmp_path: Path
) -> None:
    folder, centre = closed
    before = events(folder)
    result = course("slate", folder, "Pool of the 22", "--out", tmp_path / "s.pdf")
    assert result.exit_code == 0, result.output
    assert events(folder) == before + MOST_SKILLS
    assert result.stdout.count("given out") == MOST_SKILLS
    assert "For others, name each with --skill ID." in result.stdout
    assert "6 sheets on 6 pages, size a5, one side." in result.stdout
    with open_ledger(folder) as ledger:
        sheets = slates_of(ledger, centre.sessions["pool-22"])
        assert [sheet.slate.issued_by for sheet in sheets] == [centre.lead] * MOST_SKILLS
        assert all(sheet.slate.code in page for sheet, page in zip(sheets, pages(tmp_path / "s.pdf"), strict=True))


def test_printing_again_is_the_same_sheets_the_same_bytes_and_appends_nothing(
    closed: tuple[Path, Centre], tmp_path: Path
) -> None:
    folder, _ = closed
    course("slate", folder, "Pool of the 22", "--out", tmp_path / "a.pdf")
    before = events(folder)
    again = course("slate", folder, "2026-10-22", "--out", tmp_path / "b.pdf")
    assert again.exit_code == 0, again.output
    assert "given out before, printed again" in again.stdout
    assert events(folder) == before
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_printing_again_works_while_the_screens_have_the_folder(small_centre: Centre, tmp_path: Path) -> None:
    """Nothing is appended, so nothing has to be written."""
    slates_for(small_centre.ledger, small_centre.lead, small_centre.sessions["pool-22"], skills=["mp-close-out"])
    result = course("slate", small_centre.ledger.folder, "Pool of the 22", "--out", tmp_path / "s.pdf")
    assert result.exit_code == 0, result.output
    other = course(
        "slate", small_centre.ledger.folder, "Pool of the 22", "--skill", "bas-entry", "--out", tmp_path / "t.pdf"
    )
    assert other.exit_code == ExitCode.STORAGE
    assert not (tmp_path / "t.pdf").exists()


def test_skill_student_tries_size_and_who_gives_out_can_be_named(closed: tuple[Path, Centre], tmp_path: Path) -> None:
    folder, centre = closed
    out = tmp_path / "s.pdf"
    result = course(
        "slate", folder, "Pool of the 22", "--out", out, "--skill", "mp-close-out", "--skill", "Enter and check",
        "--student", "Amaru", "--tries", "2", "--size", "small", "--by", "Lien", "--json",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert [sheet["skill"] for sheet in told["sheets"]] == ["mp-close-out", "bas-entry"]
    assert all(sheet["new"] and sheet["tries"] == 2 and sheet["how_chosen"] == "named" for sheet in told["sheets"])
    assert all(sheet["students"] == [centre.amaru] for sheet in told["sheets"])
    page = pypdf.PdfReader(out).pages[0]
    assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(105, abs=0.05)  # ISO 216: A6
    with open_ledger(folder) as ledger:
        assert [s.slate.issued_by for s in slates_of(ledger, centre.sessions["pool-22"])] == [centre.assistant] * 2


def test_each_group_gets_its_own_sheets_and_one_group_can_be_named(small_centre: Centre) -> None:
    ledger, session = small_centre.ledger, small_centre.sessions["pool-22"]
    for name, who in (("P", small_centre.amaru), ("Q", small_centre.zoe)):
        planning.make_group(ledger, small_centre.lead, session, name=name, staff=[small_centre.second], students=[who])
    printed = slates_for(ledger, small_centre.lead, session, skills=["mp-close-out"])
    assert [[one.student for one in sheet.columns] for sheet in printed.sheets] == [
        [small_centre.amaru],
        [small_centre.zoe],
    ]
    assert [sheet.group for sheet in printed.sheets] == ["P", "Q"]
    (one,) = slates_for(ledger, small_centre.lead, session, skills=["mp-close-out"], group="q").sheets
    assert one.slate == printed.sheets[1].slate
    with pytest.raises(NotFoundError, match="There are: P, Q"):
        plan_slates(ledger, session, group="R")


def test_a_day_prints_all_its_sessions_and_each_gets_the_skills_for_its_setting(
    closed: tuple[Path, Centre], tmp_path: Path
) -> None:
    folder, _ = closed
    with open_ledger(folder, write=True) as ledger:
        centre = closed[1]
        planning.plan_session(
            ledger, centre.lead, course=centre.course, title="Bench", setting="dry", start=seen_at(22, 8),
            end=seen_at(22, 9),
        )  # fmt: skip
    skills = ["--skill", "mp-close-out", "--skill", "asm-bench"]
    result = course("slate", folder, "--day", "2026-10-22", "--out", tmp_path / "s.pdf", *skills, "--json")
    assert result.exit_code == 0, result.output
    sheets = json.loads(result.stdout)["sheets"]
    assert [sheet["skill"] for sheet in sheets] == ["mp-close-out", "asm-bench", "mp-close-out"]
    assert len({sheet["session"] for sheet in sheets}) == 2
    text = pages(tmp_path / "s.pdf")
    assert "Bench" in text[0]
    assert "Pool Of The 22" in text[2]


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (["Pool"], ExitCode.NOT_FOUND, "Several sessions fit 'Pool'"),
        (["Harbour"], ExitCode.NOT_FOUND, "has no session 'Harbour'. There are:"),
        (["2026-12-24"], ExitCode.NOT_FOUND, "No session begins on 2026-12-24"),
        (["2026-13-24"], ExitCode.USAGE, "is no day like 2026-10-25"),
        ([], ExitCode.USAGE, "Name one SESSION"),
        (["Pool of the 22", "--day", "2026-10-22"], ExitCode.USAGE, "Name one SESSION"),
        (["Pool of the 22", "--skill", "asm-bench"], ExitCode.REFUSED, "is for dry"),
        (["Pool of the 22", "--skill", "swim"], ExitCode.NOT_FOUND, "no skill 'swim'"),
        (["Pool of the 22", "--student", "Nobody"], ExitCode.NOT_FOUND, "No student of KW-1026 fits"),
        (["Pool of the 22", "--by", "Amaru"], ExitCode.NOT_FOUND, "Nobody on the staff"),
        (["Pool of the 22", "--by", "Jorun"], ExitCode.REFUSED, "may run the day"),
        (["Pool of the 22", "--group", "P"], ExitCode.NOT_FOUND, "has no group 'P'. There are: none"),
    ],
)
def test_what_cannot_be_printed_is_told_and_nothing_is_given_out(
    closed: tuple[Path, Centre], tmp_path: Path, arguments: list[str], code: int, told: str
) -> None:
    folder, _ = closed
    before = events(folder)
    result = course("slate", folder, *arguments, "--out", tmp_path / "s.pdf")
    assert result.exit_code == code, result.output
    assert told in result.stderr
    assert result.stdout == ""
    assert events(folder) == before
    assert not (tmp_path / "s.pdf").exists()


def test_a_name_that_cannot_be_printed_is_told_before_a_sheet_has_a_number(small_centre: Centre) -> None:
    ledger = small_centre.ledger
    thai = add_person(ledger, small_centre.lead, name="สมชาย", roles=[Role.STUDENT], birth_date=None)
    note_papers(ledger, small_centre.lead, small_centre.course, thai)
    planning.enrol(ledger, small_centre.lead, small_centre.course, thai, Role.STUDENT)
    before = small_centre.count()
    with pytest.raises(PaperError, match="THAI CHARACTER"):
        slates_for(ledger, small_centre.lead, small_centre.sessions["pool-22"], skills=["mp-close-out"])
    assert small_centre.count() == before


def test_a_skill_of_another_setting_stops_all_sheets_of_the_call(small_centre: Centre) -> None:
    before = small_centre.count()
    with pytest.raises(RefusedError, match="Nothing was given out"):
        slates_for(
            small_centre.ledger,
            small_centre.lead,
            small_centre.sessions["pool-22"],
            skills=["mp-close-out", "asm-bench"],
        )
    assert small_centre.count() == before


def test_what_is_held_by_everybody_is_not_proposed(small_centre: Centre) -> None:
    """Held after Sunday's session for one student only: still proposed; for both: no more."""
    seen = small_centre.view()
    late = seen.sessions[small_centre.sessions["open-25"]]
    after = late.model_copy(update={"start": seen_at(28, 10), "end": seen_at(28, 12)})
    both = (small_centre.amaru, small_centre.zoe)
    small_centre.hold()
    assert "mp-close-out" in [skill.id for skill in missing_here(small_centre.view(), after, both)]
    small_centre.hold(student=small_centre.zoe)
    found = missing_here(small_centre.view(), after, both)
    assert "mp-close-out" not in [skill.id for skill in found]
    assert all("open_water" in skill.setting for skill in found)
    asked = ["open_water" in skill.rule.settings for skill in found]
    assert asked == sorted(asked, reverse=True)


def test_a_sheet_that_was_set_aside_is_not_printed_again(small_centre: Centre) -> None:
    ledger, session = small_centre.ledger, small_centre.sessions["pool-22"]
    (lost,) = give_out(ledger, small_centre.lead, session, skills=["mp-close-out"])
    set_aside(ledger, small_centre.lead, session, lost, "lost")
    printed = slates_for(ledger, small_centre.lead, session, skills=["mp-close-out"])
    assert printed.new == {printed.sheets[0].slate.id}
    assert lost not in printed.new


def test_the_day_stands_on_the_sheet_and_a_page_of_several_is_found_by_its_code(small_centre: Centre) -> None:
    ledger, session = small_centre.ledger, small_centre.sessions["pool-22"]
    (given,) = give_out(ledger, small_centre.lead, session, skills=["mp-close-out"])
    sheet = slate_sheet(ledger, session, given)
    assert sheet.day == "Thu 22 Oct 2026"
    assert find_slate(ledger, f"{sheet.square_code}|2/3") == find_slate(ledger, sheet.square_code) == (session, given)


def test_a_whole_skill_that_is_not_for_a_unit_is_grey_for_its_student(small_centre: Centre) -> None:
    """`fl-solenoid-open` needs a solenoid, which unit type B has not."""
    ledger, session = small_centre.ledger, small_centre.sessions["pool-22"]
    planning.assign_unit(
        ledger, small_centre.lead, small_centre.course, small_centre.zoe, small_centre.unit_b, "2026-10-21"
    )
    (sheet,) = slates_for(ledger, small_centre.lead, session, skills=["fl-solenoid-open"]).sheets
    amaru, zoe = sheet.columns
    assert amaru.not_here == frozenset()
    assert zoe.not_here == {row.step for row in sheet.rows}
