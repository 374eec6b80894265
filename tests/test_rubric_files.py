"""Rubric files on disk: each broken file is told of in plain words at its line and column, and nothing is loaded.

YAML 1.2.2 is the specification at yaml.org (October 2021); its sections and examples are named from memory.
"""

from __future__ import annotations

import json
import random
import re
from pathlib import Path
from typing import Any

import pytest
from broken_rubrics import BROKEN, Broken
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML
from strategies_rubrics import BENCH, FAULTS, LEADING, PROFILES, RIGHT, UNITS, rubric_files, write_files

from course.errors import StandardsError
from course.places import RUBRICS
from course.standards.standards import Standards
from course.storage.rubric_files import LARGEST_FILE, read_folder
from course.storage.yaml_text import MOST_EVENTS, YamlText

# what the libraries beneath say in their own English, and our own last resort
LEAKED = re.compile(
    r"input should|field required|extra inputs|valid (string|integer|boolean|list|tuple)|value error"
    r"|while (scanning|parsing)|could not|Traceback|does not fit here|tuple|dict\b|NoneType|tag:yaml",
    re.IGNORECASE,
)


def said_of(folder: Path) -> list[str]:
    """What a person is told of a folder."""
    with pytest.raises(StandardsError) as refused:
        read_folder(folder)
    return [str(problem) for problem in refused.value.problems]


def test_the_right_files_are_read(tmp_path: Path) -> None:
    standards = read_folder(write_files(tmp_path, RIGHT))
    assert list(standards.skills) == ["seat-head", "open-valves", "brief-well"]
    assert list(standards.written) == sorted(RIGHT)


@pytest.mark.parametrize("broken", BROKEN, ids=[broken.name for broken in BROKEN])
def test_a_broken_file_is_told_of_at_its_place(broken: Broken, tmp_path: Path) -> None:
    text = RIGHT[broken.file]
    assert broken.old in text
    write_files(tmp_path, RIGHT | {broken.file: text.replace(broken.old, broken.new, 1)})
    assert said_of(tmp_path) == list(broken.said)


def test_every_problem_of_every_file_is_told_at_once_in_order(tmp_path: Path) -> None:
    files = dict(RIGHT)
    for broken in (
        b for b in BROKEN if b.name in ("unknown step", "budget", "unit feature", "fault step", "open quote")
    ):
        files[broken.file] = files[broken.file].replace(broken.old, broken.new, 1)
    said = said_of(write_files(tmp_path, files))
    assert [line.split(": ")[0] for line in said] == [
        "10_bench.yaml:33:17",
        "10_bench.yaml:43:15",
        "20_leading.yaml:19:1",
        "90_faults.yaml:10:18",
    ], "the unknown feature could stand in the file that cannot be read, so it is not called unknown"


def test_a_file_that_cannot_be_read_makes_nothing_unknown_in_the_others(tmp_path: Path) -> None:
    """Half the names would be missing: they are not reported as mistakes of those who used them."""
    said = said_of(write_files(tmp_path, RIGHT | {"10_bench.yaml": BENCH.replace("purpose:", "purpose: '", 1)}))
    assert len(said) == 1
    assert said[0].startswith("10_bench.yaml:")


def test_what_stands_above_the_end_of_reading_is_told_too(tmp_path: Path) -> None:
    text = LEADING.replace("order: 20", "order: 2.5").replace("currency_days: 365", 'currency_days: "365')
    said = said_of(write_files(tmp_path, RIGHT | {"20_leading.yaml": text}))
    assert [line.split(" ")[0] for line in said] == ["20_leading.yaml:5:45:", "20_leading.yaml:19:1:"]


def test_problems_of_a_right_file_beside_a_broken_one_load_nothing(tmp_path: Path) -> None:
    write_files(tmp_path, RIGHT | {"95_more.yaml": "schema: rubric/1\nkind: skills\n"})
    with pytest.raises(StandardsError, match=r"^3 problems in the rubric files\. Nothing was loaded\."):
        read_folder(tmp_path)


# folders


def test_a_folder_that_is_not_there_is_told_of(tmp_path: Path) -> None:
    missing = tmp_path / "missing"
    assert said_of(missing) == [f"{missing}: There is no such folder. Name the folder that holds the rubric files."]


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(UNITS)
    assert said_of(tmp_path / "a.yaml")[0].endswith("This is no folder. Name the folder that holds the rubric files.")


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("nothing")
    said = f"{tmp_path}: There are no rubric files in this folder. Put at least one *.yaml file with skills in it."
    assert said_of(tmp_path) == [said]


def test_hidden_files_and_other_files_are_passed_over(tmp_path: Path) -> None:
    write_files(tmp_path, RIGHT | {"._10_bench.yaml": "\x00", "notes.txt": "- [", "rubric.schema.json": "{}"})
    assert len(read_folder(tmp_path).skills) == 3


@pytest.mark.parametrize("name", ["30_more.yml", "30_more.YAML"])
def test_a_file_with_another_ending_is_not_passed_over_in_silence(name: str, tmp_path: Path) -> None:
    said = said_of(write_files(tmp_path, RIGHT | {name: LEADING}))
    assert said == [f'{name}: The name ends in "{Path(name).suffix}". Name it "30_more.yaml".']


@pytest.mark.parametrize("name", ["\u00e930.yaml", "30_\x1b[2J.yaml", "30\u202elmay.yaml", "30_\udcff.yaml"])
def test_a_file_whose_name_cannot_be_kept_is_told_of_in_plain_signs(name: str, tmp_path: Path) -> None:
    said = said_of(write_files(tmp_path, RIGHT | {name: LEADING}))
    assert said == [f"{name!a}: The name holds other signs than plain letters and digits. Rename it."]


def test_a_link_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    folder, outside = tmp_path / "rubrics", tmp_path / "outside.yaml"
    folder.mkdir()
    write_files(folder, RIGHT)
    outside.write_text(UNITS)
    (folder / "05_link.yaml").symlink_to(outside)
    said = "05_link.yaml: This is a link to a file outside the folder. Put the file itself here."
    assert said_of(folder) == [said]


def test_a_link_within_the_folder_is_followed(tmp_path: Path) -> None:
    write_files(tmp_path, {name: text for name, text in RIGHT.items() if name != "00_units.yaml"})
    (tmp_path / "units.txt").write_text(UNITS)
    (tmp_path / "00_units.yaml").symlink_to(tmp_path / "units.txt")
    assert list(read_folder(tmp_path).unit_types) == ["type-a"]


def test_a_link_to_itself_is_told_of(tmp_path: Path) -> None:
    write_files(tmp_path, RIGHT)
    (tmp_path / "05_link.yaml").symlink_to(tmp_path / "05_link.yaml")
    assert len(said_of(tmp_path)) == 1


def test_a_folder_named_like_a_file_is_told_of(tmp_path: Path) -> None:
    write_files(tmp_path, RIGHT)
    (tmp_path / "05_more.yaml").mkdir()
    said = "05_more.yaml: This is no file that can be read. Put a text file here, or rename this."
    assert said_of(tmp_path) == [said]


def test_a_file_over_the_limit_is_not_read(tmp_path: Path) -> None:
    write_files(tmp_path, RIGHT | {"05_large.yaml": UNITS + "#" * LARGEST_FILE})
    assert said_of(tmp_path) == ["05_large.yaml: The file is larger than 1 MB. Split it: one phase in one file."]


def test_a_file_of_too_many_parts_is_not_read_to_its_end() -> None:
    end = YamlText("a.yaml", "[" + "1,\n" * MOST_EVENTS + "]").end
    assert end is not None
    assert end.wrong == f"The file has more than {MOST_EVENTS} parts."


def test_letters_that_are_not_utf_8_are_told_of_at_their_place(tmp_path: Path) -> None:
    """E9 is an e with an acute accent in ISO 8859-1, and no whole letter in UTF-8 (RFC 3629, section 3)."""
    write_files(tmp_path, RIGHT)
    (tmp_path / "05_old.yaml").write_bytes(b"schema: rubric/1\nkind: caf\xe9\n")
    assert said_of(tmp_path) == ["05_old.yaml:2:10: The file is not UTF-8 here. Save it again as UTF-8."]


def test_a_byte_order_mark_is_allowed(tmp_path: Path) -> None:
    """YAML 1.2.2, section 5.2."""
    write_files(tmp_path, RIGHT)
    (tmp_path / "00_units.yaml").write_bytes(b"\xef\xbb\xbf" + UNITS.encode())
    assert list(read_folder(tmp_path).unit_types) == ["type-a"]


def test_line_ends_of_another_system_move_no_place(tmp_path: Path) -> None:
    """YAML 1.2.2, section 5.4: a carriage return with a line feed is one line end."""
    text = FAULTS.replace("found_step: [look-first]", "found_step: [look-fist]").replace("\n", "\r\n")
    assert said_of(write_files(tmp_path, RIGHT | {"90_faults.yaml": text}))[0].startswith("90_faults.yaml:10:18:")


def test_nothing_in_a_file_is_run(tmp_path: Path) -> None:
    mark = tmp_path / "ran"
    text = LEADING.replace(
        "Brief a group", f"!!python/object/apply:pathlib.Path.touch [!!python/object/apply:pathlib.Path [{mark}]]"
    )
    said_of(write_files(tmp_path, RIGHT | {"20_leading.yaml": text}))
    assert not mark.exists()


def test_aliases_that_would_grow_without_end_are_read_in_no_time() -> None:
    """Ten lists of ten aliases each stand for 10^10 items; here each alias is one flaw and nothing else."""
    lines = ["a0: &a0 [1]"] + [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 11)]
    assert len(YamlText("a.yaml", "\n".join(lines)).flaws) == 111


# YAML 1.2 beside its specification and another reader


@pytest.mark.parametrize(
    ("written", "value"),
    [
        *((word, None) for word in ("null", "Null", "NULL", "~", "")),
        *((word, True) for word in ("true", "True", "TRUE")),
        *((word, False) for word in ("false", "False", "FALSE")),
        *(("0", 0), ("-19", -19), ("+12", 12), ("017", 17), ("0o7", 7), ("0x3A", 58)),
        *((word, word) for word in ("yes", "No", "on", "OFF", "y", "1_000", "1:30", "0b1", "0o8", "nUll", "tRUE", "=")),
        *(('"true"', "true"), ("'12'", "12"), ('"2026-01-01"', "2026-01-01"), ('""', "")),
    ],
)
def test_plain_words_have_the_types_of_the_core_schema(written: str, value: object) -> None:
    """YAML 1.2.2, section 10.3.2; what YAML 1.1 took for truth values and grouped digits is text."""
    read = YamlText("a.yaml", f"key: {written}\n")
    assert read.content == {"key": value}
    assert type(read.content["key"]) is type(value)
    assert read.flaws == []


@pytest.mark.parametrize("written", ["0.", "-0.0", ".5", "+12e03", "-2E+05", ".inf", "-.Inf", "+.INF", ".NAN"])
def test_numbers_with_a_fraction_are_refused(written: str) -> None:
    """The floats of YAML 1.2.2, section 10.3.2, example 10.9."""
    assert [flaw.wrong for flaw in YamlText("a.yaml", f"key: {written}\n").flaws] == [f"{written} is no whole number."]


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**15), 10**15)
    | st.text(st.characters(categories=["L", "N", "P", "Zs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abcxyz-_ ", max_size=8), inner, max_size=4),
    max_leaves=12,
)


@given(JSON)
def test_every_json_text_reads_as_json_does(value: object) -> None:
    """YAML 1.2.2, section 1.2: a JSON file (RFC 8259) is a YAML file. The other reader is Python's json."""
    text = json.dumps(value, ensure_ascii=False)
    read = YamlText("a.json", text)
    assert (read.end, read.flaws) == (None, [])
    assert read.content == json.loads(text)


@pytest.mark.parametrize("path", sorted(RUBRICS.glob("*.yaml")), ids=lambda path: path.name)
def test_a_shipped_file_reads_as_a_general_yaml_library_reads_it(path: Path) -> None:
    """The other reader is ruamel.yaml's own safe loader."""
    text = path.read_text("utf-8")
    assert YamlText(path.name, text).content == YAML(typ="safe", pure=True).load(text)


SIGNS = "ab: -[]{},&*!|>#%@`\"'\\\n\t?0.~<=\x85\u2028\ufeff\x00\u00e9"


@settings(max_examples=300)
@given(st.text(SIGNS, max_size=60) | st.text(max_size=40))
def test_any_text_at_all_is_read_or_told_of(text: str) -> None:
    read = YamlText("a.yaml", text)
    if read.end is not None:
        assert read.end.line >= 1
        assert not LEAKED.search(f"{read.end.wrong} {read.end.remedy}")
    else:
        json.dumps(read.content)


# laws


def _mutated(value: Any, chance: random.Random) -> Any:
    """The same plain data with one place changed, dropped or added."""
    odd: list[Any] = [None, True, 0, -3, 2**60, "", "yes", "3", "x" * 700, [], [1], {}, {"id": 1}]
    if isinstance(value, dict) and value and chance.random() < 0.85:
        key = chance.choice(list(value))
        if chance.random() < 0.1:
            return {name: item for name, item in value.items() if name != key}
        if chance.random() < 0.05:
            return value | {key[:-1] + "q": chance.choice(odd)}
        return value | {key: _mutated(value[key], chance)}
    if isinstance(value, list) and value and chance.random() < 0.85:
        place = chance.randrange(len(value))
        return [_mutated(item, chance) if number == place else item for number, item in enumerate(value)]
    return chance.choice(odd)


@settings(max_examples=250, deadline=None)
@given(st.sampled_from(sorted(RIGHT)), st.randoms(use_true_random=False), st.integers(1, 3))
def test_whatever_is_wrong_is_told_in_our_words_with_a_place_and_a_way_out(
    tmp_path_factory: pytest.TempPathFactory, name: str, chance: random.Random, times: int
) -> None:
    content: Any = YamlText(name, RIGHT[name]).content
    for _ in range(times):
        content = _mutated(content, chance)
    folder = write_files(tmp_path_factory.mktemp("rubrics"), RIGHT | {name: json.dumps(content, indent=1)})
    try:
        assert isinstance(read_folder(folder), Standards)
    except StandardsError as refused:
        for problem in refused.problems:
            assert not LEAKED.search(f"{problem.wrong} {problem.remedy}"), problem
            assert problem.wrong[-1] in ".?", problem
            assert problem.remedy, problem
            assert problem.line >= 1 or problem.file == "all files", problem


@settings(max_examples=60, deadline=None)
@given(rubric_files())
def test_rubrics_written_as_yaml_and_read_again_are_the_same(
    tmp_path_factory: pytest.TempPathFactory, files: dict[str, dict[str, Any]]
) -> None:
    folder = tmp_path_factory.mktemp("rubrics")
    for name, content in files.items():
        with (folder / name).open("w", encoding="utf-8") as stream:
            YAML(typ="safe", pure=True).dump(content, stream)
    standards = read_folder(folder)
    assert standards.written == files
    for content in files.values():
        for skill in content["skills"]:
            assert standards.written_skill(skill["id"]) == skill


def test_the_table_of_broken_files_covers_every_kind_of_file() -> None:
    assert {broken.file for broken in BROKEN} == set(RIGHT)
    assert len({broken.name for broken in BROKEN}) == len(BROKEN) >= 45
    assert PROFILES in RIGHT.values()
