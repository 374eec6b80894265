"""The audit file: sealed whole or not at all, checked from the file alone, and what was altered is named."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import stat
import zipfile
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import orjson
import pandas as pd
import pytest
from audit_examples import an_answer
from bundle_examples import lines_of, members_of, packed, with_lines
from centre_builder import LAST_DAY, ODD_NAME, POOL_SKILL, Centre, critical_mark, seen_at
from click.testing import CliRunner, Result
from day_builder import Day
from ledger_examples import a_unit, change, lose_tail, new_centre
from opened_page import app_at
from pypdf import PdfReader

from course import sample
from course.actions import courses as planning
from course.actions.centre import add_person, make_centre
from course.actions.drafting import body, draft
from course.actions.pad import take
from course.answers.audit import LIMITS
from course.answers.audit_tables import COLUMNS, NAMED
from course.commands import main
from course.errors import DamageError, ExitCode, PaperError, RefusedError
from course.exchange.audit_check import CheckReport, check_file
from course.exchange.audit_file import PAPER, seal
from course.exchange.bundle import EVENTS, MANIFEST, write_bundle
from course.paper.audit_file import print_audit_file
from course.record.chain import FIRST_PREV, canonical, event_hash
from course.record.events import Corrected
from course.record.lines import event_in, line_of
from course.record.paper_code import PaperCode
from course.screens import serve
from course.storage.ledger import Ledger, open_ledger
from course.words import Role, SpanRole

GOLDEN = Path(__file__).parent / "golden" / "audit_file.txt"
Members = list[tuple[str, bytes]]


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def sealed(ledger: Ledger, out: Path, **more: Any) -> Path:
    seal(ledger, out, **more)
    return out


@pytest.fixture
def worked_centre(small_centre: Centre) -> Centre:
    """A pool day with people in and out, a skill held, a critical error, and a day that was closed."""
    day = Day(small_centre)
    for person in (small_centre.amaru, small_centre.zoe):
        day.leaves(day.comes(person))
    day.comes(small_centre.lead, SpanRole.TEACHING)
    small_centre.hold()
    small_centre.enter("pool-22", critical_mark(), student=small_centre.zoe)
    return small_centre


@pytest.fixture
def file(worked_centre: Centre, tmp_path: Path) -> Path:
    return sealed(worked_centre.ledger, tmp_path / "a.zip", as_of=LAST_DAY)


@pytest.fixture
def named(worked_centre: Centre, tmp_path: Path) -> Path:
    return sealed(worked_centre.ledger, tmp_path / "n.zip", as_of=LAST_DAY, given_to="the agency's office")


def text_of(file: Path) -> str:
    pages = PdfReader(io.BytesIO(dict(members_of(file))[PAPER])).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def table(file: Path, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(dict(members_of(file))[f"tables/{name}.csv"].decode("utf-8-sig"))))


# --- sealing ---------------------------------------------------------------------------------------------------------


def test_a_sealed_file_fits_and_says_what_that_does_not_show(file: Path) -> None:
    report = check_file(file)
    assert report.fine
    assert f"Derived again from the events, {len(COLUMNS)} tables are the same" in report.text()
    assert all(limit in report.text() for limit in LIMITS)
    assert "tamper" not in report.text()


def test_sealing_twice_is_the_same_bytes(worked_centre: Centre, tmp_path: Path) -> None:
    for given_to in (None, "the agency's office"):
        one, two = (
            sealed(worked_centre.ledger, tmp_path / f"{n}-{given_to}.zip", as_of=LAST_DAY, given_to=given_to)
            for n in "ab"
        )
        assert one.read_bytes() == two.read_bytes()


def test_sealing_changes_nothing_in_the_folder(worked_centre: Centre, tmp_path: Path) -> None:
    before = worked_centre.count(), worked_centre.ledger.heads()
    sealed(worked_centre.ledger, tmp_path / "a.zip")
    assert (worked_centre.count(), worked_centre.ledger.heads()) == before


def test_only_its_owner_can_read_the_file(named: Path) -> None:
    assert stat.S_IMODE(named.stat().st_mode) == 0o600


def test_without_a_receiver_no_name_and_no_text_is_in_the_file(file: Path) -> None:
    everything = b"".join(content for _, content in members_of(file)) + text_of(file).encode()
    for name in ("Amaru", "Tendelle", "Tamsin", "Bruno", ODD_NAME, "Zoë", "Kelpwater", "KW-1026"):
        assert name.encode() not in everything
    assert "People are numbers here" in text_of(file)
    assert "erased person" not in text_of(file)
    assert not set(NAMED) & {name.removeprefix("tables/").removesuffix(".csv") for name, _ in members_of(file)}


def test_with_a_receiver_names_and_texts_are_in_it_and_it_says_whom_it_is_for(
    worked_centre: Centre, named: Path
) -> None:
    told = text_of(named)
    assert "It was made for the agency's office." in told
    assert "Amaru Tendelle" in told
    assert ODD_NAME in told
    assert {"kind": "person", "id": worked_centre.amaru, "name": "Amaru Tendelle"} in table(named, "names")
    assert any(row["text"] == "2001-07-30" for row in table(named, "texts"))
    assert check_file(named).fine


def test_whom_it_is_for_must_be_readable(worked_centre: Centre, tmp_path: Path) -> None:
    for given_to in ("", "  ", "a\u202eb"):
        with pytest.raises(RefusedError, match="Who gets the file"):
            seal(worked_centre.ledger, tmp_path / "w.zip", given_to=given_to)


def test_who_was_erased_is_in_no_later_file_and_the_file_still_fits(worked_centre: Centre, tmp_path: Path) -> None:
    worked_centre.ledger.forget(worked_centre.amaru)
    out = sealed(worked_centre.ledger, tmp_path / "e.zip", given_to="X", as_of=LAST_DAY)
    everything = b"".join(content for _, content in members_of(out)) + text_of(out).encode()
    assert b"Amaru" not in everything
    assert f"erased person {worked_centre.amaru[-6:]}" in text_of(out)
    assert check_file(out).fine


def test_a_lost_tail_is_told_on_the_paper(tmp_path: Path) -> None:
    with new_centre(tmp_path / "c") as ledger:
        ledger.append([a_unit() for _ in range(6)])
    lose_tail(tmp_path / "c", 2)
    with open_ledger(tmp_path / "c") as ledger:
        out = sealed(ledger, tmp_path / "l.zip")
    assert "2 events that had been saved are missing at the end of chain" in text_of(out)
    assert re.search(r"found \d+ things against them", text_of(out))
    assert check_file(out).fine


def test_a_damaged_chain_is_not_sealed(tmp_path: Path) -> None:
    with new_centre(tmp_path / "c") as ledger:
        ledger.append([a_unit() for _ in range(6)])
    change(tmp_path / "c", "UPDATE event SET actor = 'x' WHERE seq = 4")
    with open_ledger(tmp_path / "c") as ledger, pytest.raises(DamageError, match="event 4 of chain"):
        seal(ledger, tmp_path / "d.zip")
    assert not (tmp_path / "d.zip").exists()


def test_a_ledger_in_either_database_is_sealed_and_fits(tmp_path: Path, either_database: str | None) -> None:
    with new_centre(tmp_path / "c", either_database) as ledger:
        ledger.append([a_unit("Unit 4"), a_unit("Unit 5")])
        out = sealed(ledger, tmp_path / "a.zip", given_to="X")
    assert check_file(out).fine
    assert {"Unit 4", "Unit 5"} <= {row["name"] for row in table(out, "names")}


def test_a_contact_is_never_given_on(small_centre: Centre, tmp_path: Path) -> None:
    add_person(small_centre.ledger, small_centre.lead, name="Odo", roles=[Role.STUDENT], contact="+351 000 000")
    out = sealed(small_centre.ledger, tmp_path / "c.zip", given_to="X")
    assert not any("351 000" in row["text"] for row in table(out, "texts"))
    assert any(row["text"] == "Odo" for row in table(out, "texts"))


def test_an_empty_centre_can_be_sealed_and_checked(tmp_path: Path) -> None:
    with make_centre(tmp_path / "c", name="Harbour House", lead_name="Ines Duarte", zone="UTC") as ledger:
        out = sealed(ledger, tmp_path / "e.zip", given_to="X")
    assert check_file(out).fine
    assert "Audit file of Harbour House No course yet." in text_of(out)
    assert table(out, "attempts") == []


def test_a_file_that_is_there_is_not_written_over(worked_centre: Centre, file: Path) -> None:
    before = file.read_bytes()
    with pytest.raises(RefusedError, match="is there already"):
        seal(worked_centre.ledger, file)
    assert file.read_bytes() == before


def test_nothing_half_written_is_left_when_the_paper_cannot_be_printed(worked_centre: Centre, tmp_path: Path) -> None:
    """A receiver whose name no font here has."""
    folder = tmp_path / "out"
    folder.mkdir()
    with pytest.raises(PaperError):
        seal(worked_centre.ledger, folder / "a.zip", given_to="ཨ")
    assert list(folder.iterdir()) == []


def test_the_events_are_all_of_them_and_tables_are_of_the_course_alone(worked_centre: Centre, tmp_path: Path) -> None:
    other = planning.make_course(
        worked_centre.ledger, worked_centre.lead, title="Other", zone="UTC", adoption=worked_centre.adoption,
        profile="ex-first-unit", revision="r1", first_day="2027-01-01", last_day="2027-01-02",
    )  # fmt: skip
    out = sealed(worked_centre.ledger, tmp_path / "o.zip", course=other)
    assert check_file(out).fine
    assert len(table(out, "events")) == worked_centre.count()
    assert [row["course"] for row in table(out, "courses")] == [other]
    assert table(out, "attempts") == []


def test_a_part_of_a_chain_and_no_event_at_all_are_told_as_such(worked_centre: Centre, tmp_path: Path) -> None:
    ledger = worked_centre.ledger
    write_bundle(tmp_path / "none.zip", ledger.centre_id, [])
    assert check_file(tmp_path / "none.zip").text().startswith("none.zip: a ledger bundle of 0 events")
    write_bundle(tmp_path / "part.zip", ledger.centre_id, list(ledger.chain_events())[40:])
    report = check_file(tmp_path / "part.zip")
    assert report.fine
    assert "begins after event 40, which is not in it" in report.text()


def test_the_papers_page_seals_and_offers_the_file(small_centre: Centre) -> None:
    serve.start(small_centre.ledger, take)
    app = app_at("papers").run()
    app.segmented_control(key="paper-name").set_value("Audit file").run()
    assert any("people are numbers in it" in one.value for one in app.markdown)
    app.text_input(key="audit-for").set_value("the agency's office").run()
    assert any("the file says that it is for" in one.value for one in app.markdown)
    app.button(key="audit-seal-AUDIT_FILE").click().run()
    assert not app.exception
    assert any("course check audit.zip" in one.value for one in app.markdown)
    app.text_input(key="audit-for").set_value("somebody else").run()
    assert not any("course check audit.zip" in one.value for one in app.markdown)


# --- tables ----------------------------------------------------------------------------------------------------------


def test_every_table_reads_back_as_rfc_4180_and_by_pandas(named: Path) -> None:
    """Oracles: the csv module and pandas; a byte order mark, CRLF, every cell quoted."""
    members = dict(members_of(named))
    for name, columns in (COLUMNS | NAMED).items():
        raw = members[f"tables/{name}.csv"]
        assert raw.startswith(b"\xef\xbb\xbf")
        assert raw.endswith(b'"\r\n')
        rows = list(csv.reader(io.StringIO(raw.decode("utf-8-sig"), newline=""), strict=True))
        assert {len(row) for row in rows} == {len(columns)}
        frame = pd.read_csv(io.BytesIO(raw), dtype=str, keep_default_na=False, encoding="utf-8-sig")
        assert list(frame.columns) == list(columns)
        assert frame.to_numpy().tolist() == [[cell.replace("\r\n", "\n") for cell in row] for row in rows[1:]]


def test_a_name_that_looks_like_a_formula_stays_text(small_centre: Centre, tmp_path: Path) -> None:
    who = add_person(small_centre.ledger, small_centre.lead, name='=HYPERLINK("x")', roles=[Role.STUDENT])
    out = sealed(small_centre.ledger, tmp_path / "f.zip", given_to="X")
    assert {"kind": "person", "id": who, "name": '\'=HYPERLINK("x")'} in table(out, "names")


def test_the_tables_say_outcome_standing_minutes_and_marks(worked_centre: Centre, file: Path) -> None:
    outcomes = [(row["student"], row["outcome"], row["counts"]) for row in table(file, "attempts")]
    assert outcomes.count((worked_centre.amaru, "clean", "yes")) == 5
    assert outcomes.count((worked_centre.zoe, "critical", "no")) == 1
    (standing,) = [
        row for row in table(file, "standings") if (row["student"], row["skill"]) == (worked_centre.amaru, POOL_SKILL)
    ]
    assert (standing["standing"], standing["in_a_row"], standing["days"]) == ("met", "5", "5")
    assert {(row["person"], row["minutes"]) for row in table(file, "minutes") if row["kind"] == "pool"} == {
        (worked_centre.amaru, "140"), (worked_centre.zoe, "140"),
    }  # fmt: skip
    (error,) = [row for row in table(file, "marks") if row["mark"] == "error"]
    assert (error["step"], error["errors"]) == ("co-out", "co-open-out")


# --- what was altered is named ---------------------------------------------------------------------------------------


def _table(name: str, old: bytes, new: bytes, *, listed: bool) -> Callable[[Members], Members]:
    """One cell of a table changed, with or without a manifest that lists it so."""

    def damage(members: Members) -> Members:
        made = dict(members)
        path = f"tables/{name}.csv"
        assert old in made[path]
        made[path] = made[path].replace(old, new, 1)
        if listed:
            manifest = orjson.loads(made[MANIFEST])
            for one in manifest["files"]:
                if one["path"] == path:
                    one |= {"bytes": len(made[path]), "sha256": sha256(made[path]).hexdigest()}
            made[MANIFEST] = canonical(manifest)
        return list(made.items())

    return damage


def altered(file: Path, damage: Callable[[Members], Members]) -> CheckReport:
    return check_file(packed(damage(members_of(file)), file.with_name("altered.zip")))


def one_mark_changed(members: Members) -> tuple[int, list[bytes]]:
    """The line of the critical error, with the mark made done."""
    lines = lines_of(members)
    number = next(n for n, line in enumerate(lines, 1) if b"co-open-out" in line and b"marks_given" in line)
    plain = orjson.loads(lines[number - 1])
    for mark in plain["body"]["marks"]:
        if mark.get("errors"):
            mark |= {"mark": "done"}
            mark.pop("errors")
    lines[number - 1] = canonical(plain)
    return number, lines


@pytest.mark.parametrize("listed", [True, False])
def test_one_changed_mark_is_found_and_its_line_named(file: Path, *, listed: bool) -> None:
    number, lines = one_mark_changed(members_of(file))
    report = altered(file, lambda members: with_lines(members, lines, listed=listed))
    assert report.findings[0].startswith(
        f"events.jsonl, line {number}: its content is not what was hashed (marks_given/1"
    )
    assert "NOT as it was sealed" in report.text()


def _rehashed(members: Members) -> Members:
    """The changed mark by somebody who holds the program: every later hash made anew, and the manifest with it."""
    _, lines = one_mark_changed(members)
    prev = FIRST_PREV
    for place, line in enumerate(lines):
        plain = orjson.loads(line) | {"prev": prev}
        event = event_in(canonical(plain))
        prev = event_hash(event)
        lines[place] = line_of(event._replace(hash=prev))
    made = dict(with_lines(members, lines))
    manifest = orjson.loads(made[MANIFEST])
    manifest["chains"][0]["heads"][0]["hash"] = prev
    made[MANIFEST] = canonical(manifest)
    return list(made.items())


def test_a_chain_made_anew_no_longer_tells_what_the_tables_tell(file: Path) -> None:
    """The hashes fit; the tables are named where the events tell something else."""
    report = altered(file, _rehashed)
    assert any(one.startswith("tables/attempts.csv, line ") and '"critical"' in one for one in report.findings)
    assert any(one.startswith("tables/marks.csv, line ") and '"co-open-out"' in one for one in report.findings)


def test_a_chain_made_anew_by_its_keeper_passes_unless_a_hash_is_held_elsewhere(
    worked_centre: Centre, tmp_path: Path
) -> None:
    """What the check cannot show, shown: with only the events, or with every table made anew, all of it fits."""
    head = worked_centre.ledger.head()
    write_bundle(tmp_path / "b.zip", worked_centre.ledger.centre_id, worked_centre.ledger.chain_events())
    other = packed(_rehashed(members_of(tmp_path / "b.zip")), tmp_path / "other.zip", zipfile.ZIP_STORED)
    assert check_file(other).fine
    held = check_file(other, [head.hash])
    assert not held.fine
    assert "it is not the ledger that this came from" in held.text()


@pytest.mark.parametrize(
    "form",
    [
        lambda h: h, lambda h: h[:16], lambda h: h.upper(), lambda h: f"RECORD:1:AA:CHAIN:9:{h}".upper(),
        lambda h: PaperCode("Day sheet", "", "ab" * 32, "0192d000-0000-7000-8000-00000000000a", 9, h).text(),
    ],
    ids=["whole", "short", "capitals", "a code of an earlier version", "a paper's code"],
)  # fmt: skip
def test_a_hash_from_a_paper_is_found(worked_centre: Centre, file: Path, form: Callable[[str], str]) -> None:
    head = worked_centre.ledger.head()
    report = check_file(file, [form(head.hash)])
    assert report.fine
    assert f"is event {head.seq} of chain {head.chain}" in report.text()


@pytest.mark.parametrize("head", ["abc", "not a hash at all", "0" * 65])
def test_what_is_no_hash_is_told_as_such(file: Path, head: str) -> None:
    with pytest.raises(RefusedError, match="is no hash to compare with"):
        check_file(file, [head])


def test_a_changed_cell_of_a_table_is_named_by_its_line(file: Path) -> None:
    report = altered(file, _table("attempts", b'"critical"', b'"clean"', listed=True))
    (told,) = report.findings
    assert told.startswith("tables/attempts.csv, line ")
    assert told.endswith(': it says "clean" where the events tell "critical".')


def test_a_row_more_and_a_row_less_are_named(file: Path) -> None:
    more = altered(file, _table("check_outs", b'"day"\r\n', b'"day"\r\n"x","y","z"\r\n', listed=True))
    assert 'the events tell nothing of this line: "x", "y", "z"' in more.text()
    lines = dict(members_of(file))["tables/people.csv"].splitlines(keepends=True)
    less = altered(file, _table("people", lines[-1], b"", listed=True))
    assert f"tables/people.csv, line {len(lines)}: it ends here, and the events tell one more" in less.text()


def test_a_table_that_the_manifest_does_not_list_so_is_named(file: Path) -> None:
    report = altered(file, _table("marks", b"co-open-out", b"co-hand", listed=False))
    assert "tables/marks.csv: it is not the file that the manifest was written for." in report.findings


def test_another_paper_is_found(file: Path) -> None:
    report = altered(file, lambda m: [(n, c + b" " if n == PAPER else c) for n, c in m])
    assert report.findings == ["audit.pdf: it is not the file that the manifest was written for."]


def test_a_table_left_out_is_named(file: Path) -> None:
    def without(members: Members) -> Members:
        made = {name: content for name, content in members if name != "tables/marks.csv"}
        manifest = orjson.loads(made[MANIFEST])
        manifest["files"] = [one for one in manifest["files"] if one["path"] != "tables/marks.csv"]
        return list((made | {MANIFEST: canonical(manifest)}).items())

    assert altered(file, without).findings == ["tables/marks.csv is not in it."]


def test_a_checkpoint_that_saw_another_head_is_a_finding(small_centre: Centre, tmp_path: Path) -> None:
    """A chain made anew from the middle on keeps the old checkpoint only by keeping what it names."""
    small_centre.enter("pool-22")
    Day(small_centre).close()
    small_centre.enter("pool-23")
    write_bundle(tmp_path / "b.zip", small_centre.ledger.centre_id, small_centre.ledger.chain_events())
    members = members_of(tmp_path / "b.zip")
    lines = lines_of(members)
    number = next(n for n, line in enumerate(lines) if b"marks_given" in line)
    plain = orjson.loads(lines[number])
    plain["body"]["marks"][0]["mark"] = "not_seen"
    lines[number] = canonical(plain)
    prev = FIRST_PREV
    for place, line in enumerate(lines):
        event = event_in(canonical(orjson.loads(line) | {"prev": prev}))
        prev = event_hash(event)
        lines[place] = line_of(event._replace(hash=prev))
    made = dict(with_lines(members, lines))
    manifest = orjson.loads(made[MANIFEST])
    manifest["chains"][0]["heads"][0]["hash"] = prev
    other = packed(list((made | {MANIFEST: canonical(manifest)}).items()), tmp_path / "o.zip")
    (told,) = check_file(other).findings
    assert told.startswith("When 2026-10-22 was closed, event ")
    assert told.endswith("another one stands there now.")


def test_many_faults_are_told_as_the_first_twenty(file: Path) -> None:
    lines = [line.replace(b'"device":"', b'"device":"x') for line in lines_of(members_of(file))]
    report = altered(file, lambda members: with_lines(members, lines))
    assert len(report.findings) == 21
    assert report.findings[-1].startswith("There is more")


# --- the paper -------------------------------------------------------------------------------------------------------


def test_the_paper_says_what_the_golden_file_says() -> None:
    """Text of every page, in reading order; look at the picture too before taking over a change."""
    out = io.BytesIO()
    pages = print_audit_file(an_answer(), out)
    told = [" ".join(page.extract_text().split()) for page in PdfReader(out).pages]
    assert len(told) == pages
    text = "\n\n".join(told) + "\n"
    if os.environ.get("WRITE_GOLDEN"):
        GOLDEN.write_text(text, "utf-8")
    assert text == GOLDEN.read_text("utf-8")


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_very_much_of_everything_still_prints(size: Any) -> None:
    answer = an_answer()
    whole = answer.courses[0]
    (time,) = whole.sessions
    lanes = time.groups[0].lanes * 12
    crowded = replace(time, groups=(replace(time.groups[0], lanes=lanes, title="Group " * 30),) * 3)
    many = replace(
        whole, sessions=(crowded,) * 2, corrections=whole.corrections * 80, decisions=whole.decisions * 80,
        learners=tuple(replace(one, name="Amaru " * 25) for one in whole.learners * 20),
    )  # fmt: skip
    assert print_audit_file(replace(answer, courses=(many, many)), io.BytesIO(), size) > 10


def test_corrections_are_told_with_from_to_who_and_why(worked_centre: Centre, tmp_path: Path) -> None:
    session = worked_centre.sessions["pool-22"]
    made = next(
        e for e in worked_centre.ledger.events(session)
        if e.kind == "span_recorded/1" and json.loads(e.body)["person"] == worked_centre.lead
    )  # fmt: skip
    change = {"start": seen_at(22, 14, 10).model_dump(mode="json", exclude_none=True)}
    content = body(Corrected, thing=session, corrects=made.id, change=change, why="She came later.")
    worked_centre.ledger.append([draft(worked_centre.second, content)])
    out = sealed(worked_centre.ledger, tmp_path / "k.zip", given_to="X", as_of=LAST_DAY)
    told = (
        "Corrected: the time of Tamsin Okoro-Vale: start from 22 Oct 2026 at 13:40 to 22 Oct 2026 at 14:10, "
        "by Bruno Ashkenar: She came later."
    )
    assert told in text_of(out)
    assert [row["of"] for row in table(out, "corrections")] == [made.id]
    nameless = sealed(worked_centre.ledger, tmp_path / "l.zip", as_of=LAST_DAY)
    assert "the reason is left out here" in text_of(nameless)
    assert check_file(out).fine


# --- commands, and the demo centre -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo(loaded: sample.Loaded) -> Path:
    return loaded.folder


def test_the_demo_centre_is_sealed_checked_and_its_ratio_break_told(demo: Path, tmp_path: Path) -> None:
    out = tmp_path / "demo.zip"
    made = course("seal", demo, "--out", out, "--for", "the agency's office")
    assert made.exit_code == 0, made.output
    assert "with names, for the agency's office" in made.stdout
    assert f"course check {out}" in made.stdout
    checked = course("check", out)
    assert checked.exit_code == 0, checked.output
    assert "everything in it fits" in checked.stdout
    told = text_of(out)
    assert "15:06 to 15:20: 4 students to 1 instructor; limit 3: 14 minutes; Lien Farrowby left" in told
    assert "short by 25 minutes in water on the loop" in told
    assert "Hours: short for 1 of 6" in told


def test_check_ends_with_one_and_names_the_line_when_a_mark_was_changed(demo: Path, tmp_path: Path) -> None:
    course("seal", demo, "--out", tmp_path / "d.zip", "--course", "KW-0926")
    members = members_of(tmp_path / "d.zip")
    number, lines = one_mark_changed(members)
    other = packed(with_lines(members, lines, listed=False), tmp_path / "o.zip")
    checked = course("check", other)
    assert checked.exit_code == ExitCode.FOUND
    assert f"events.jsonl, line {number}: its content is not what was hashed" in checked.stdout
    plain = json.loads(course("check", other, "--json").stdout)
    assert (plain["fine"], plain["kind"]) == (False, "an audit file")


def test_seal_while_the_centre_is_open_for_writing(small_centre: Centre, tmp_path: Path) -> None:
    out = tmp_path / "w.zip"
    assert course("seal", small_centre.ledger.folder, "--out", out).exit_code == 0
    assert course("check", out).exit_code == 0


def test_commands_tell_what_cannot_be_done(demo: Path, tmp_path: Path) -> None:
    (tmp_path / "x.zip").write_bytes(b"no zip")
    for arguments, code in (
        (("check", tmp_path / "none.zip"), ExitCode.NOT_FOUND),
        (("check", tmp_path / "x.zip"), ExitCode.REFUSED),
        (("seal", demo, "--out", tmp_path / "x.zip"), ExitCode.REFUSED),
        (("seal", demo, "--out", tmp_path / "y.zip", "--course", "none"), ExitCode.NOT_FOUND),
        (("seal", tmp_path / "none", "--out", tmp_path / "y.zip"), ExitCode.NOT_FOUND),
    ):
        ran = course(*arguments)
        assert ran.exit_code == code, ran.output
        assert "Traceback" not in ran.output
    assert not (tmp_path / "y.zip").exists()


def test_a_course_reads_the_same_in_the_open_ledger_and_laid_out_from_its_events(demo: Path, tmp_path: Path) -> None:
    """Names apart: what a file without keys derives is what the centre sees."""
    with open_ledger(demo) as ledger:
        one = sealed(ledger, tmp_path / "a.zip", given_to="X")
        two = sealed(ledger, tmp_path / "b.zip")
    first, second = dict(members_of(one)), dict(members_of(two))
    for name in COLUMNS:
        assert first[f"tables/{name}.csv"] == second[f"tables/{name}.csv"]
    assert first[EVENTS] == second[EVENTS]
