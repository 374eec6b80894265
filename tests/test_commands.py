"""The command line: every verb on a real folder, errors on standard error, exit codes as the README says."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from course.commands import main
from course.errors import ExitCode

README = (Path(__file__).parent.parent / "README.md").read_text("utf-8")


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo centre, written once by the command itself."""
    folder = tmp_path_factory.mktemp("demo") / "kelpwater"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(tmp_path_factory.mktemp("state")))
        result = course("sample", folder)
    assert result.exit_code == 0, result.output
    assert "Left out, since the ledger has no event for it:" in result.output
    return folder


def test_new_makes_a_centre_and_says_what_comes_next(tmp_path: Path) -> None:
    result = course("new", tmp_path / "c", "--centre", "Harbour House", "--lead", "Ines Duarte")
    assert result.exit_code == 0
    assert "Next: course open" in result.stdout
    assert (tmp_path / "c" / "ledger.db").is_file()


def test_new_over_a_centre_is_refused_and_changes_nothing(tmp_path: Path) -> None:
    course("new", tmp_path / "c", "--centre", "Harbour House", "--lead", "Ines Duarte")
    before = (tmp_path / "c" / "ledger.db").read_bytes()
    result = course("new", tmp_path / "c", "--centre", "Other", "--lead", "Somebody")
    assert result.exit_code == ExitCode.REFUSED
    assert result.stdout == ""
    assert "already" in result.stderr
    assert (tmp_path / "c" / "ledger.db").read_bytes() == before


def test_an_unknown_zone_is_told_with_an_example(tmp_path: Path) -> None:
    result = course("new", tmp_path / "c", "--centre", "A", "--lead", "B", "--zone", "Europe/Lisboa")
    assert result.exit_code == ExitCode.REFUSED
    assert "Europe/Lisbon" in result.stderr
    assert not (tmp_path / "c").exists()


def test_a_slip_in_a_command_gets_a_suggestion() -> None:
    result = course("verifi", "folder")
    assert result.exit_code == ExitCode.USAGE
    assert "Did you mean verify?" in result.stderr


@pytest.mark.parametrize("command", ["missing", "verify", "rebuild", "open"])
def test_a_folder_without_a_centre_is_told_as_such(command: str, tmp_path: Path) -> None:
    result = course(command, tmp_path / "nothing")
    assert result.exit_code in (ExitCode.NOT_FOUND, ExitCode.STORAGE)
    assert "nothing" in result.stderr
    assert "Traceback" not in result.output


def test_missing_in_a_centre_without_a_course_says_what_to_do(tmp_path: Path) -> None:
    course("new", tmp_path / "c", "--centre", "A", "--lead", "B")
    result = course("missing", tmp_path / "c")
    assert result.exit_code == ExitCode.NOT_FOUND
    assert "Make one on the People page" in result.stderr


def test_standards_checks_the_shipped_rubrics_and_lists_what_is_worth_a_look() -> None:
    result = course("standards")
    assert result.exit_code == 0
    assert "62 skills, 11 phases" in result.stdout
    plain = json.loads(course("standards", "--json").stdout)
    assert plain["problems"] == []
    assert plain["counts"]["skills"] == 62


def test_standards_tells_every_problem_with_line_and_column(tmp_path: Path) -> None:
    (tmp_path / "10_a.yaml").write_text("schema: rubric/1\nkind: skils\n", "utf-8")
    (tmp_path / "20_b.yaml").write_text("schema: rubric/1\nkind: [\n", "utf-8")
    result = course("standards", tmp_path)
    assert result.exit_code == ExitCode.FOUND
    assert re.search(r"10_a\.yaml:2:7: kind: .*Did you mean", result.stderr)
    assert re.search(r"20_b\.yaml:\d+:\d+", result.stderr)
    assert "Nothing was loaded" in result.stderr
    plain = json.loads(course("standards", tmp_path, "--json").stdout)
    assert {problem["file"] for problem in plain["problems"]} == {"10_a.yaml", "20_b.yaml"}


def test_missing_lists_each_student_and_ends_with_one_while_something_is_missing(demo: Path) -> None:
    result = course("missing", demo)
    assert result.exit_code == ExitCode.FOUND
    assert "Halima Corvanne" in result.stdout
    assert "short by 25 minutes in water on the loop" in result.stdout


def test_missing_for_a_student_who_has_everything_ends_with_zero(demo: Path) -> None:
    result = course("missing", demo, "Nkechi", "--json")
    assert result.exit_code == 0
    (student,) = json.loads(result.stdout)["students"]
    assert student["name"] == "Nkechi Brandvold"
    assert student["skills"] == []


def test_an_unclear_name_is_answered_with_all_that_fit(demo: Path) -> None:
    result = course("missing", demo, "a")
    assert result.exit_code == ExitCode.NOT_FOUND
    assert "Amaru Tendelle" in result.stderr
    assert "Write more of the name" in result.stderr


def test_why_shows_the_rule_the_attempts_the_value_and_the_sheet(demo: Path) -> None:
    result = course("why", demo, "Jonas", "chk-negative")
    assert result.exit_code == 0
    assert "41 s of 60 s" in result.stdout
    assert "sheet of Bruno Ashkenar" in result.stdout
    assert "1 of 2" in result.stdout
    assert json.loads(course("why", demo, "Jonas", "chk-negative", "--json").stdout)["skill"] == "chk-negative"


def test_print_writes_a_pdf_and_says_what_is_in_it(demo: Path, tmp_path: Path) -> None:
    out = tmp_path / "record.pdf"
    result = course("print", demo, "Amaru", "--out", out)
    assert result.exit_code == 0, result.output
    assert "competency record of Amaru Tendelle" in result.stdout
    assert out.read_bytes().startswith(b"%PDF-")


def test_the_same_record_printed_twice_is_the_same_bytes(demo: Path, tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        course("print", demo, "Ravi", "--out", tmp_path / name, "--size", "Letter")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_verify_is_fine_on_the_demo_and_tells_the_head(demo: Path) -> None:
    result = course("verify", demo)
    assert result.exit_code == 0
    assert result.stdout.startswith("Fine:")
    assert json.loads(course("verify", demo, "--json").stdout)["fine"] is True
    quick = course("verify", demo, "--events")
    assert quick.exit_code == 0
    assert "and the witness; tables and keys were not looked at" in quick.stdout


def test_backup_restore_and_verify_go_round(demo: Path, tmp_path: Path) -> None:
    file, folder = tmp_path / "b.tar", tmp_path / "restored"
    assert course("backup", demo, file).exit_code == 0
    assert course("restore", file, folder).exit_code == 0
    assert course("verify", folder).exit_code == 0
    assert course("rebuild", folder).exit_code == 0
    assert course("missing", folder, "Nkechi").exit_code == 0


def test_backup_does_not_write_over_a_file(demo: Path, tmp_path: Path) -> None:
    file = tmp_path / "b.tar"
    file.write_text("mine")
    assert course("backup", demo, file).exit_code == ExitCode.REFUSED
    assert file.read_text() == "mine"


def test_every_command_has_help_and_stands_in_the_readme() -> None:
    for name, command in main.commands.items():
        assert command.help, name
        assert f"`course {name}" in README, name
        assert course(name, "--help").exit_code == 0
