"""Copying a sheet in at a terminal: keys by line, faults by line and column, the same questions before it saves."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from centre_builder import Centre
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from slate_centre import PoolDay, build_pool_day

from course.answers.slate_sheet import SlateColumn, SlateError, SlateRow, SlateSheet, slate_sheet
from course.answers.slate_typing import read_line
from course.commands import main
from course.errors import ExitCode, RefusedError
from course.record.facts import Attempt, Session
from course.storage.ledger import open_ledger
from course.words import Closing, Mark


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, PoolDay, dict[str, str]]]:
    """A centre with sheets given out; each test copies in a sheet of its own."""
    folder = tmp_path_factory.mktemp("enter") / "centre"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(tmp_path_factory.mktemp("state")))
        with build_pool_day(folder) as made:
            three = made.students[:3]
            skills = ("mp-close-out", "bas-entry", "bas-mask", "fl-flood", "bo-separate", "bas-trim", "po-exit")
            codes = {skill: made.code(made.sheet(skill, three)) for skill in skills}
        yield folder, made, codes


@pytest.fixture(autouse=True)
def _own_state(day: tuple[Path, PoolDay, dict[str, str]], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The device of this test run, so that the ledger's chain goes on in one state folder."""
    monkeypatch.setenv("LOOPLEDGER_STATE", str(day[0].parent / "device"))


def enter(folder: Path, *arguments: object, keys: str = "") -> Result:
    return CliRunner().invoke(main, ["enter", str(folder), *(str(a) for a in arguments)], input=keys)


def attempts(folder: Path, skill: str) -> list[Attempt]:
    with open_ledger(folder) as ledger:
        return [a for a in ledger.facts("attempt") if isinstance(a, Attempt) and a.skill == skill]


def test_a_sheet_is_typed_column_by_column_and_saved_after_the_question(day: Any) -> None:
    folder, made, codes = day
    result = enter(folder, codes["mp-close-out"], "--by", "Tamsin", keys=". . ? -\n\n....\ny\n")
    assert result.exit_code == 0, result.output
    assert "Save 2 attempts?" in result.output
    assert "2 attempts saved." in result.output
    first, second = sorted(attempts(folder, "mp-close-out"), key=lambda a: made.students.index(a.student))
    assert (first.student, second.student) == (made.students[0], made.students[2])
    told = [(line.mark, line.unreadable) for line in first.sheets[0].marks]
    assert told == [(Mark.DONE, False), (Mark.DONE, False), (Mark.NOT_SEEN, True), (Mark.NOT_SEEN, False)]


def test_no_saves_nothing(day: Any) -> None:
    folder, _, codes = day
    result = enter(folder, codes["bas-entry"], "--by", "Tamsin", keys="w..\n\n\nn\n")
    assert result.exit_code == ExitCode.REFUSED
    assert "Nothing was saved." in result.stderr
    assert attempts(folder, "bas-entry") == []


def test_a_line_that_does_not_fit_is_asked_again_with_line_and_column(day: Any) -> None:
    folder, _, codes = day
    result = enter(folder, codes["bas-mask"], "--by", "Tamsin", keys=". z .\n. a .\nu\nw\n\n\ny\n")
    assert result.exit_code == 0, result.output
    assert "Line 1, column 3: step 2 has no error 'z'; its letters are" in result.output
    assert "Type this line again." in result.output
    (one,) = attempts(folder, "bas-mask")
    assert one.sheets[0].whole_clean is not None
    assert one.sheets[0].marks == ()


def test_what_saving_does_is_said_before_the_question(day: Any) -> None:
    folder, _, codes = day
    result = enter(folder, codes["bo-separate"], "--by", "Tamsin", keys="_ _ 9 _ _\n\n\ny\n")
    before = result.output.split("Save 1 attempt?")[0]
    assert "Column 1, Amaru: step 1 is empty. Saved so, it is kept as not seen." in before
    assert "attempt 1: incomplete." in before


def test_a_file_is_read_and_saved_without_asking(day: Any, tmp_path: Path) -> None:
    folder, made, codes = day
    content = {"columns": [{"student": made.students[1], "whole_clean": True, "values": {}}]}
    file = tmp_path / "sheet.json"
    file.write_text(json.dumps(content))
    result = enter(folder, codes["po-exit"], "--by", "Bruno", "--json", file)
    assert result.exit_code == 0, result.output
    assert len(attempts(folder, "po-exit")) == 1
    again = enter(folder, codes["po-exit"], "--by", "Bruno", "--json", file)
    assert "Nothing is to be added." in again.output
    assert len(attempts(folder, "po-exit")) == 1


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("{", "holds no JSON"),
        ("[]", "is no copied sheet"),
        ('{"columns": [{"student": "nobody"}]}', "Column 1: "),
        ('{"columns": [], "session": "01a213d7-f79e-772f-abab-dd49fedf571b"}', "is of another session"),
    ],
)
def test_a_file_that_does_not_fit_is_told_as_a_sentence(day: Any, tmp_path: Path, content: str, told: str) -> None:
    folder, _, codes = day
    file = tmp_path / "sheet.json"
    file.write_text(content)
    result = enter(folder, codes["fl-flood"], "--by", "Tamsin", "--json", file)
    assert result.exit_code == ExitCode.REFUSED
    assert told in result.stderr
    assert attempts(folder, "fl-flood") == []


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (["K7QF"], ExitCode.REFUSED, "nine letters and digits"),
        (["course-slate/1|other|E8YF-ZD8HQ|0"], ExitCode.NOT_FOUND, "belongs to another centre"),
        (["{code}"], ExitCode.NOT_FOUND, "Who wrote the sheet?"),
        (["{code}", "--by", "Nobody"], ExitCode.NOT_FOUND, "Tamsin Okoro-Vale, Bruno Ashkenar"),
        (["{code}", "--by", "Tamsin", "--at", "noon"], ExitCode.REFUSED, "is no time such as 14:05"),
    ],
)
def test_what_was_asked_for_wrongly_is_told_with_what_to_write(
    day: Any, arguments: list[str], code: ExitCode, told: str
) -> None:
    folder, _, codes = day
    result = enter(folder, *(a.replace("{code}", codes["fl-flood"]) for a in arguments))
    assert result.exit_code == code
    assert told in result.stderr


def _within(session: Session, hour: int) -> bool:
    start, end = session.start.local, session.end.local
    return start <= start.replace(hour=hour, minute=5) and start.replace(hour=hour, minute=20) <= end


def test_the_time_of_observing_is_that_of_the_option(day: Any) -> None:
    folder, made, codes = day
    with open_ledger(folder) as ledger:
        session = ledger.fact("session", made.session)
    assert isinstance(session, Session)
    hour = next(hour for hour in (9, 15) if not _within(session, hour))  # it is three hours long, whenever this runs
    at = f"{hour:02}:05-{hour:02}:20"
    result = enter(folder, codes["bas-trim"], "--by", "Tamsin", "--at", at, keys="w 120\n\n\ny\n")
    assert result.exit_code == 0, result.output
    assert f"seen from {at.replace('-', ' to ')}, and the session was" in result.output
    (one,) = attempts(folder, "bas-trim")
    assert f"{one.observed.local:%H:%M}" == at[:5]
    assert [value.value for value in one.sheets[0].values] == ["120"]


# --- one line, by itself -----------------------------------------------------------------------------------------


@pytest.fixture
def paper(small_centre: Centre) -> SlateSheet:
    from course.actions.slates import give_out

    session = small_centre.sessions["pool-22"]
    (slate,) = give_out(
        small_centre.ledger, small_centre.lead, session, skills=["bo-separate"], students=(small_centre.amaru,)
    )
    return slate_sheet(small_centre.ledger, session, slate)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (". . .", "Line 4, column 1: 3 boxes are typed, and 5 are to be marked: 1 2 3 4 5."),
        ("7 . . . .", "Line 4, column 1: step 1 has no value to write down."),
        (". . 9z . .", "Line 4, column 6: step 3 has no error 'z'"),
        (". f 9 . .", "Line 4, column 3: 'f' goes with an error"),
        (". . a9 . .", "Line 4, column 5: 'a9' cannot be read. A value comes first"),
        (". s:me", "Line 4, column 3: write s:student or s:instructor"),
        ("v:", "Line 4, column 1: a void attempt needs its reason"),
    ],
)
def test_a_key_that_does_not_fit_is_told_with_line_and_column(paper: SlateSheet, text: str, told: str) -> None:
    with pytest.raises(RefusedError) as refused:
        read_line(paper, paper.columns[0], text, 4)
    assert refused.value.sentence.startswith(told)


def test_a_line_may_say_how_the_attempt_ended(paper: SlateSheet) -> None:
    stopped = read_line(paper, paper.columns[0], ". . . _ _ s:student", 1)
    assert (stopped.how, stopped.stopped_by, len(stopped.marks)) == (Closing.STOPPED, "student", 3)
    void = read_line(paper, paper.columns[0], "v: lane closed", 1)
    assert (void.how, void.reason, void.marks) == (Closing.VOID, "lane closed", ())


_ROWS = tuple(
    SlateRow(f"step-{n}", n, f"Do {n}", own_box=n % 2 == 0, left_out_critical=False,
             limit=None, not_before=(), clock_from=None, errors=tuple(
        SlateError(letter, f"e-{letter}", letter, critical=False) for letter in "abc"
    ))
    for n in range(1, 8)
)  # fmt: skip
_KEYS = {
    ".": (Mark.DONE, ()), "p": (Mark.PROMPTED, ()), "-": (Mark.NOT_SEEN, ()), "?": (Mark.NOT_SEEN, ()),
    "o": (Mark.LEFT_OUT, ()), "a": (Mark.ERROR, ("e-a",)), "c": (Mark.ERROR, ("e-c",)),
}  # fmt: skip


@given(st.lists(st.sampled_from(sorted(_KEYS)), min_size=7, max_size=7), st.sampled_from(["", " ", "  "]))
def test_any_line_is_read_box_by_box_with_or_without_blanks(keys: list[str], blank: str) -> None:
    sheet = replace(_EMPTY, rows=_ROWS)
    read = read_line(sheet, _COLUMN, blank.join(keys), 1)
    assert [(m.mark, m.errors) for m in read.marks] == [_KEYS[key] for key in keys]
    assert [m.unreadable for m in read.marks] == [key == "?" for key in keys]


_COLUMN = SlateColumn("student", 1, "Amaru", "AT", "", "Amaru", "A-05", None, 1, frozenset())
_COLUMN = replace(_COLUMN, student="01a213d7-f79e-772f-abab-dd49fedf571b")
_EMPTY = SlateSheet(
    slate=None, centre_id="", centre="", course_id="", course="", session_id="", session="", day="", where="",  # type: ignore[arg-type]
    group="", staff=(), skill="", title="", caution="", columns=(_COLUMN,), rows=(),
)  # fmt: skip
