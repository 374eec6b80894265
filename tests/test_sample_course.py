"""The demo centre: it loads whole, means what it was written to mean, and tells what it leaves for later."""

from __future__ import annotations

import csv
import re
import shutil
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from dateutil import tz
from ruamel.yaml import YAML

from course import moments, places, sample
from course.answers.competency import competency_record
from course.answers.course_view import CourseView, view
from course.answers.gate_view import gates_answer, gates_passed_by, student_stages
from course.answers.missing import student_exam
from course.answers.oxygen import oxygen
from course.answers.readiness import readiness
from course.answers.standards_move import move_preview
from course.errors import RefusedError
from course.hours.minutes import learner_minutes
from course.moments import training_day
from course.record.facts import Attempt, Slip
from course.sample.files import COLUMNS, Files
from course.standards.standards import Standards
from course.standards.units import applies
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.lookup import all_of
from course.words import Capacity, Mark, Outcome, SpanRole, StandingState

STUDENTS = ("amaru", "nkechi", "ravi", "mei-lin", "jonas", "halima")
EXPECTED = YAML(typ="safe").load(places.DEMO / "expected_standings.yaml")


def rows(name: str, folder: Path = places.DEMO) -> list[dict[str, str]]:
    with (folder / name).open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))


def quiet(done: int, of: int, what: str) -> None:
    assert 0 < done <= of, what


@pytest.fixture(scope="module", autouse=True)
def _own_state(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(tmp_path_factory.mktemp("state")))
        yield


@pytest.fixture(scope="module")
def seen(loaded: sample.Loaded) -> CourseView:
    with open_ledger(loaded.folder) as ledger:
        return view(ledger, loaded.course)


# --- what it means ---


@pytest.mark.parametrize("student", STUDENTS)
def test_every_required_skill_stands_as_it_was_written_to(
    loaded: sample.Loaded, seen: CourseView, student: str
) -> None:
    """The expectation was worked out from the rules apart from the program."""
    as_of = date.fromisoformat(EXPECTED["as_of"])
    wanted = {skill: state for state, skills in EXPECTED["students"][student].items() for skill in skills}
    found = {
        skill.id: seen.standing(loaded.people[student], skill, as_of).state.value
        for skill in seen.skills()
        if seen.is_required(skill)
    }
    assert found == wanted


@pytest.mark.parametrize("planted", EXPECTED["planted"], ids=lambda p: f"{p['student']}-{p['skill']}-{p['as_of'][-2:]}")
def test_planted_standings_show_what_they_were_planted_for(
    loaded: sample.Loaded, seen: CourseView, planted: dict[str, object]
) -> None:
    skill = seen.adopted.skill(str(planted["skill"]))
    found = seen.standing(loaded.people[str(planted["student"])], skill, date.fromisoformat(str(planted["as_of"])))
    assert (found.state.value, found.streak, found.best, found.budget_used) == (
        planted["state"],
        planted["streak"],
        planted["best"],
        planted["attempts"],
    )


def test_two_students_are_ready_and_four_are_not_each_for_their_own_reason(seen: CourseView) -> None:
    """A student is ready with the skills when every required one that applies is met."""
    held_up = {
        student: {state for state in states if state not in ("met", "not_for_this_unit")}
        for student, states in EXPECTED["students"].items()
    }
    assert held_up == {
        "amaru": {"not_yet"},
        "nkechi": set(),
        "ravi": set(),
        "mei-lin": {"waiting"},
        "jonas": {"waiting", "not_yet"},
        "halima": {"waiting"},
    }


def test_amaru_misses_five_in_a_row_over_three_days(loaded: sample.Loaded, seen: CourseView) -> None:
    found = seen.standing(loaded.people["amaru"], seen.adopted.skill("mp-close-out"), seen.last_day)
    outcomes = [step.outcome.value for step in found.history]
    assert "".join("X" if outcome == "critical" else outcome[0] for outcome in outcomes) == "ccXccXcccXc"
    assert (found.missing.attempts, found.missing.days) == (5, 3)
    wrong = [reason.step for step in found.history for reason in step.judgement.reasons]
    assert Counter(wrong) == {"co-out": 3}


def test_waiting_is_for_attempts_of_the_last_day_seen_by_bruno_alone(loaded: sample.Loaded, seen: CourseView) -> None:
    """His last good day on type B is 24 October: 24 April and 183 days."""
    bruno = loaded.people["bruno"]
    for student in ("mei-lin", "jonas", "halima"):
        for name in EXPECTED["students"][student]["waiting"]:
            found = seen.standing(loaded.people[student], seen.adopted.skill(name), seen.last_day)
            assert found.waiting_for.lapsed_observers == (bruno,)
            before = seen.standing(loaded.people[student], seen.adopted.skill(name), date(2026, 10, 24))
            assert before.state == StandingState.NOT_YET
    assert not seen.is_lapsed(bruno, "type-b", date(2026, 10, 24))
    assert seen.is_lapsed(bruno, "type-b", date(2026, 10, 25))
    assert not seen.is_lapsed(bruno, "type-a", date(2026, 10, 25))


def test_no_ready_student_tried_more_often_than_the_rule_is_meant_for(loaded: sample.Loaded, seen: CourseView) -> None:
    for student in STUDENTS:
        for skill in seen.skills():
            found = seen.standing(loaded.people[student], skill, seen.last_day)
            assert found.budget_used <= found.budget, (student, skill.id)


@pytest.mark.parametrize(
    ("student", "theory", "dry", "pool"),
    [
        ("amaru", 420, 510, 560),
        ("nkechi", 420, 510, 560),
        ("ravi", 420, 510, 560),
        ("mei-lin", 420, 510, 500),
        ("jonas", 420, 510, 525),
        ("halima", 420, 510, 525),
    ],
)
def test_minutes_add_up(
    loaded: sample.Loaded, seen: CourseView, student: str, theory: int, dry: int, pool: int
) -> None:
    minutes = learner_minutes(list(seen.sessions.values()), loaded.people[student])
    assert (minutes["theory"], minutes["dry"], minutes["pool"]) == (theory, dry, pool)
    assert (minutes["in_water_on_loop"] >= 523) == (student != "halima")


def test_everybody_who_was_in_the_water_is_in_the_oxygen_exposure_staff_too(
    loaded: sample.Loaded, seen: CourseView
) -> None:
    """Bruno dived with both of his groups: 317 min at 1.2 bar on Saturday, 1.184 ata and so the line of 1.2 ata, whose
    240 min are the table's 24 h limit (NOAA, 4th edition): 132.1 %. No student comes near it.
    """
    answer = oxygen(seen, date(2026, 10, 25))
    assert answer.unwritten == ()
    staff = {loaded.people[key] for key in ("tamsin", "bruno", "lien")}
    assert staff <= {one.person for one in answer.lines}
    assert {one.person for one in answer.lines if one.past_table} == {loaded.people["bruno"]}
    (saturday,) = [o for o in answer.lines if o.person == loaded.people["bruno"] and "24 Oct" in o.day]
    assert (saturday.minutes, saturday.cns_24h) == (317, "132.1 %")
    dives = [water for one in seen.sessions.values() for water in one.water if water.person == loaded.people["bruno"]]
    times = sorted((w.entered.moment, w.left.moment) for w in dives if w.entered and w.left)
    assert len(times) == len(dives)
    assert all(left <= entered for (_, left), (entered, _) in pairwise(times)), "no minute of his counts twice"


def test_amaru_changed_the_set_point_on_saturday_afternoon_and_has_less_exposure_than_level(
    loaded: sample.Loaded, seen: CourseView
) -> None:
    """All of Saturday level at 1.2 bar, 193 min of the single limit's 210 at 1.2 ata (NOAA), would be 91.9 %.

    Of the afternoon's 24 min at 0.7 bar or on the way 2 are left out as at the surface and 4 count as on bailout: the
    other 18 count less.
    """
    (saturday,) = [
        o for o in oxygen(seen, date(2026, 10, 24)).lines if o.name.startswith("Amaru") and "24 Oct" in o.day
    ]
    assert saturday.set_points == (
        "1.2 bar; 0.7 bar at first, to 1.2 bar within 3 min from 13:20, to 0.7 bar within 4 min from 14:00, "
        "to 1.2 bar within 3 min from 15:02, to 0.7 bar within 4 min from 15:44"
    )
    assert saturday.minutes == 193
    assert 100 * (193 - 18) / 210 < float(saturday.cns_single.removesuffix(" %")) < 100 * 193 / 210


def test_halima_has_498_minutes_on_the_loop_and_seven_dives_long_enough(
    loaded: sample.Loaded, seen: CourseView
) -> None:
    own = [
        (session.setting, water.loop_minutes)
        for session in sorted(seen.sessions.values(), key=lambda s: s.start.utc)
        for water in session.water
        if water.person == loaded.people["halima"]
    ]
    assert [minutes for setting, minutes in own if setting == "pool"] == [71, 84, 69]
    assert [minutes for setting, minutes in own if setting == "open_water"] == [38, 41, 39, 37, 40, 42, 37]
    assert sum(minutes for _, minutes in own) == 498


def test_the_late_bench_session_lasts_160_minutes_and_belongs_to_saturday(
    loaded: sample.Loaded, seen: CourseView
) -> None:
    """The wall clock shows 100. Reference: python-dateutil's own reading of the time zone database (fold 1)."""
    zone = tz.gettz("Atlantic/Azores")
    start = datetime(2026, 10, 24, 23, 10, tzinfo=zone).astimezone(UTC)
    end = datetime(2026, 10, 25, 0, 50, fold=1, tzinfo=zone).astimezone(UTC)
    assert end - start == timedelta(minutes=160)
    session = seen.sessions[loaded.sessions["night-bench"]]
    assert {(span.start.moment, span.end.moment) for span in session.spans if span.end} == {(start, end)}
    assert training_day(session.start) == date(2026, 10, 24)


def test_ysolde_has_350_dry_minutes_as_candidate(loaded: sample.Loaded, seen: CourseView) -> None:
    minutes = learner_minutes(list(seen.sessions.values()), loaded.people["ysolde"], role=SpanRole.CANDIDATE)
    assert minutes == {"dry": 190 + 160}


def test_two_instructors_scored_24_attempts_both_and_one_marked_fewer_errors(
    loaded: sample.Loaded, seen: CourseView
) -> None:
    tamsin, bruno = loaded.people["tamsin"], loaded.people["bruno"]
    errors: Counter[str] = Counter()
    both = 0
    for attempt in seen.attempts:
        by = {s.observer: {m.step for m in s.marks if m.mark == Mark.ERROR} for s in attempt.sheets}
        if {tamsin, bruno} <= set(by):
            both += 1
            errors["tamsin"] += len(by[tamsin])
            errors["bruno"] += len(by[bruno])
            errors["common"] += len(by[tamsin] & by[bruno])
    assert both == 24
    assert errors == {"tamsin": 31, "bruno": 19, "common": 17}


def test_only_lead_and_instructor_evaluate(loaded: sample.Loaded, seen: CourseView) -> None:
    capacities = {(sheet.observer, sheet.capacity) for attempt in seen.attempts for sheet in attempt.sheets}
    assert capacities == {
        (loaded.people["tamsin"], Capacity.EVALUATING),
        (loaded.people["bruno"], Capacity.EVALUATING),
        (loaded.people["ysolde"], Capacity.PRACTICE),
    }


def test_two_attempts_come_from_elsewhere_and_are_accepted(loaded: sample.Loaded, seen: CourseView) -> None:
    elsewhere = [a for a in seen.attempts if a.elsewhere]
    assert {(a.student, a.skill, a.accepted) for a in elsewhere} == {
        (loaded.people["mei-lin"], "bas-loop-volume", True),
        (loaded.people["mei-lin"], "bas-trim", True),
    }


def test_attempts_were_seen_while_student_and_an_observer_were_there(loaded: sample.Loaded, seen: CourseView) -> None:
    for attempt in seen.attempts:
        session = seen.sessions[attempt.session]
        if attempt.elsewhere:
            continue
        there = {s.person for s in session.spans if s.end and s.start.moment <= attempt.observed.moment < s.end.moment}
        assert attempt.student in there
        assert {sheet.observer for sheet in attempt.sheets} & there


def test_skills_that_come_first_were_shown_first(loaded: sample.Loaded, seen: CourseView) -> None:
    """Before a skill is tried, each skill that it builds on was clean once, where it is for the student's unit."""
    for student in STUDENTS:
        person = loaded.people[student]
        clean: dict[str, datetime] = {}
        for skill in seen.skills():
            history = seen.standing(person, skill, seen.last_day).history
            times = [
                by.attempt.observed.moment
                for by in seen.seen(person, skill)
                for step in history
                if step.attempt == by.attempt.id and step.outcome == Outcome.CLEAN and not by.attempt.elsewhere
            ]
            clean |= {skill.id: min(times)} if times else {}
        unit_type = seen.unit_type_of(person, seen.last_day)
        for attempt in seen.attempts:
            if attempt.student != person or attempt.elsewhere:
                continue
            for earlier in seen.adopted.skill(attempt.skill).before:
                if applies(seen.adopted.skill(earlier), unit_type):
                    assert clean[earlier] < attempt.observed.moment, (student, attempt.skill, earlier)


def test_no_session_holds_more_attempts_than_its_instructors_can_see(seen: CourseView) -> None:
    """At two and a half minutes or more for each attempt of an instructor."""
    per: Counter[tuple[str, str]] = Counter((a.session, a.sheets[0].observer) for a in seen.attempts)
    for (session, _), count in per.items():
        fact = seen.sessions[session]
        assert (fact.end.moment - fact.start.moment) / count >= timedelta(minutes=2.5)


# --- nothing is left out ---


def test_everything_in_the_tables_is_in_the_ledger(loaded: sample.Loaded, seen: CourseView) -> None:
    lines = {name: len(rows(name)) for name in COLUMNS}
    sessions = seen.sessions.values()
    sheets = [sheet for attempt in seen.attempts for sheet in attempt.sheets]
    assert loaded.counts == {
        "people": len(seen.people.everybody()),
        "units": len(seen.units),
        "check-outs": sum(len(person.check_outs) for person in seen.persons.values()),
        "sessions": len(sessions),
        "groups": sum(len(s.groups) for s in sessions),
        "spans": sum(len(s.spans) for s in sessions),
        "water times": sum(len(s.water) for s in sessions),
        "set points": sum(len(s.set_points) for s in sessions),
        "notes of care": sum(len(unit.care) for unit in seen.units.values()),
        "readings": lines["readings.csv"],
        "fault slips": lines["slips.csv"],
        "fault answers": lines["answers.csv"],
        "proofs": sum(len(person.proofs) for person in seen.persons.values()),
        "consents": sum(len(person.consents) for person in seen.persons.values()),
        "exams": sum(len(person.exams) for person in seen.persons.values()),
        "adjustments": sum(len(person.adjustments) for person in seen.persons.values()),
        "interest notes": sum(len(person.interests) for person in seen.persons.values()),
        "attempts": len(seen.attempts),
        "sheets": len(sheets),
    }
    assert [lines[name] for name in ("people.csv", "units.csv", "sessions.csv", "groups.csv", "spans.csv")] == [
        loaded.counts[what] for what in ("people", "units", "sessions", "groups", "spans")
    ]
    assert (lines["water.csv"], lines["attempts.csv"]) == (loaded.counts["water times"], len(sheets))
    with open_ledger(loaded.folder) as ledger:
        slips = all_of(ledger, Slip)
    assert (len(slips), sum(len(slip.replies) for slip in slips)) == (lines["slips.csv"], lines["answers.csv"])
    assert lines["care.csv"] == loaded.counts["notes of care"]
    assert lines["readings.csv"] == sum(len(unit.readings) for unit in seen.units.values())
    shared = sum(bool(row["set_point_bar"]) for row in rows("sessions.csv"))
    assert (loaded.counts["set points"], shared) == (shared + lines["set_points.csv"], 6)


def test_every_mark_value_order_and_note_of_the_sheets_is_kept(loaded: sample.Loaded, seen: CourseView) -> None:
    written: Counter[str] = Counter()
    for row in rows("attempts.csv"):
        written["marks"] += len(row["done"].split()) + row["marks"].count(";") + bool(row["marks"])
        written["values"] += len(row["values"].split())
        written["orders"] += len([part for part in row["order"].split(";") if part])
        written["whole"] += row["whole_clean"] == "yes"
        written["notes"] += len([part for part in row["notes"].split(";") if part])
        written["reasons"] += bool(row["reason"])
    kept: Counter[str] = Counter()
    with open_ledger(loaded.folder) as ledger:
        for attempt in all_of(ledger, Attempt):
            for sheet in attempt.sheets:
                kept["marks"] += len(sheet.marks)
                kept["values"] += len(sheet.values)
                kept["orders"] += len(sheet.orders)
                kept["whole"] += sheet.whole_clean is not None
            for private in ledger.private(attempt)["by_event"].values():
                kept["notes"] += len(private.get("notes", {}))
                kept["reasons"] += "reason" in private
    assert kept == written


def test_what_has_no_event_yet_is_counted_and_named(loaded: sample.Loaded) -> None:
    later = YAML(typ="safe").load(places.DEMO / "later.yaml")
    assert loaded.not_loaded == {
        key.replace("_", " ").removesuffix("s" if len(things) == 1 else "?"): len(things)
        for key, things in later.items()
    }
    assert loaded.not_loaded["candidate sheets"] == 2
    assert loaded.not_loaded["candidate proofs"] == 4


def test_what_stays_for_later_names_only_people_and_units_of_the_tables(standards: Standards) -> None:
    later = YAML(typ="safe").load(places.DEMO / "later.yaml")
    people, units = ({row[key] for row in rows(f)} for f, key in (("people.csv", "person"), ("units.csv", "unit")))
    for thing in (thing for things in later.values() for thing in things):
        assert thing.get("person", "odo") in people
        assert thing.get("by", "odo") in people
        assert thing.get("unit", "a-05") in units
        assert thing.get("fault", "pf-tag") in standards.planted_faults


def test_the_ledger_of_the_demo_fits(loaded: sample.Loaded) -> None:
    report = verify(loaded.folder)
    assert report.findings == ()
    assert report.fine


def test_two_can_be_signed_off_and_four_are_short_each_for_its_own_reason(
    loaded: sample.Loaded, seen: CourseView
) -> None:
    found = readiness(seen, seen.last_day)
    assert found.sentence == (
        "2 with all that is asked, their standings to be signed first: Nkechi Brandvold and Ravi Soltmere; 4 not yet."
    )
    words = {line.name.split()[0]: line.words for line in found.lines if not line.ready}
    assert words.keys() == {"Amaru", "Mei-Lin", "Jonas", "Halima"}
    assert "5 more over 3 days" in words["Amaru"]
    assert words["Mei-Lin"] == "3 skills waiting: a current instructor has to see it again"
    assert words["Jonas"].startswith("Negative pressure test: not yet, 1 more, on another day; 3 skills waiting")
    assert words["Halima"].endswith("; short by 25 minutes in water on the loop")
    assert found.window == ""


def test_every_gate_of_the_demo_is_open_and_none_was_passed_shut(loaded: sample.Loaded, seen: CourseView) -> None:
    """Jonas is a minor of age for the profile, with his guardian's consent for both stages in the water."""
    assert gates_answer(seen, seen.last_day).sentence == "Every stage is open for 6 students."
    assert gates_passed_by(seen) == ()
    jonas = student_stages(seen, loaded.people["jonas"], seen.last_day)
    assert (
        jonas.age
        == "17 years on the first day, 17 asked; guardian's consent seen by Tamsin Okoro-Vale until 29 Mar 2027"
    )
    with_consent = {stage.stage for stage in jonas.stages if any(gate.gate == "consent" for gate in stage.gates)}
    assert with_consent == {"pool", "open_water"}


def test_ravis_adjustment_stands_on_his_record_and_the_exams_gaps_are_all_talked_through(
    loaded: sample.Loaded, seen: CourseView
) -> None:
    ravi = loaded.people["ravi"]
    with open_ledger(loaded.folder) as ledger:
        record = competency_record(ledger, seen, ravi, seen.last_day)
    (line,) = record.adjustments
    assert line == (
        "Close before it leaves the mouth: Closes the mouthpiece with the right hand; approved by Tamsin Okoro-Vale on "
        "20 Oct 2026."
    )
    thursday, friday = date(2026, 10, 21), date(2026, 10, 23)
    assert len(student_exam(seen, ravi, thursday).gaps) == 4
    assert all(student_exam(seen, student, friday).gaps == () for student in seen.students)


def test_on_r2_halima_would_be_58_short_instead_of_25(loaded: sample.Loaded, seen: CourseView) -> None:
    with open_ledger(loaded.folder) as ledger:
        preview = move_preview(ledger, seen, seen.course.adoption, "ex-first-unit", "r2", seen.last_day)
    lines = {one.name: one.lines for one in preview.students}
    assert lines["Halima Corvanne"] == (
        "Required, optional so far: Care after the rescue, and keeping the unit as it is.",
        "Minutes in water on the loop: 556 asked instead of 523; short by 58 instead of 25.",
    )
    assert "Minutes in water on the loop: 556 asked instead of 523; still met." in lines["Nkechi Brandvold"]


def test_no_signature_is_loaded(seen: CourseView) -> None:
    assert seen.decisions == ()


def test_the_readme_explains_every_file_and_column() -> None:
    text = (places.DEMO / "README.md").read_text(encoding="utf-8")
    names = {*COLUMNS, *(column for columns in COLUMNS.values() for column in columns)}
    assert [name for name in sorted(names) if f"`{name}`" not in text] == []
    assert "invented" in text


# --- whatever the day, and whatever is wrong ---


def small_copy(folder: Path) -> Path:
    """The demo with the attempts of two planted rows only."""
    shutil.copytree(places.DEMO, folder)
    lines = (folder / "attempts.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [s for s in lines[1:] if ",amaru,mp-close-out," in s or ",jonas,chk-negative," in s]
    (folder / "attempts.csv").write_text("".join([lines[0], *kept]), encoding="utf-8")
    return folder


def test_loaded_years_later_it_means_the_same(
    seen: CourseView, loaded: sample.Loaded, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Later(datetime):
        @classmethod
        def now(cls, zone: object = None) -> datetime:  # type: ignore[override]
            return datetime(2034, 3, 1, 12, tzinfo=UTC)

    monkeypatch.setattr(moments, "datetime", Later)
    again = sample.load(tmp_path / "centre", quiet, source=small_copy(tmp_path / "source"))
    with open_ledger(again.folder) as ledger:
        then = view(ledger, again.course)
    for student, name in (("amaru", "mp-close-out"), ("jonas", "chk-negative")):
        first, second = (
            v.standing(made.people[student], v.adopted.skill(name), v.last_day)
            for v, made in ((seen, loaded), (then, again))
        )
        assert (second.state, second.streak, second.best) == (first.state, first.streak, first.best)
        assert [step.outcome for step in second.history] == [step.outcome for step in first.history]
    times = [sorted((s.start.utc, s.end.utc) for s in v.sessions.values()) for v in (seen, then)]
    assert times[0] == times[1]


FAULTS = [
    ("attempts.csv", ",co-hand co-close co-hold,", ",co-hand co-clse co-hold,", 9, 'There is no step "co-clse".'),
    ("attempts.csv", "error co-open-out", "error co-open", 10, 'There is no error "co-open".'),
    ("attempts.csv", "neg-mark=41", "neg-mark=41s", 11, '"41s" is no plain decimal number'),
    ("attempts.csv", "neg-mark=41", "neg-judge=41", 11, 'The step "neg-judge" asks for no value.'),
    ("attempts.csv", "checks,jonas,chk-negative,2", "checks,jonas,chk-negative,5", 4, "does not follow the one before"),
    ("attempts.csv", "checks,jonas,", "checks,jons,", 2, 'There is no person "jons". Did you mean "jonas"?'),
    ("attempts.csv", "checks,jonas,chk-negative", "pool-1,jonas,chk-negative", 5, "This is not within its session."),
    ("attempts.csv", "chk-negative,2", "chk-negativ,2", 3, 'There is no skill "chk-negativ".'),
    ("sessions.csv", "2026-10-25 00:50,1", "2026-10-25 00:50,", 7, "came twice in Atlantic/Azores"),
    ("sessions.csv", "2026-10-22 13:30", "22/10/2026 13:30", 5, '"22/10/2026 13:30" is no time.'),
    ("sessions.csv", '"Pool 2: bailout, failures"', "Pool 2: bailout, failures", 0, "10 cells where 9 belong"),
    ("spans.csv", "2026-10-22 15:06", "2026-10-22 17:06", 5, "do not lie in their session"),
    ("spans.csv", "lien,assisting", "lien,helping", 3, 'There is no role "helping".'),
    ("groups.csv", "tamsin ysolde", "tamsin isolde", 4, 'There is no person "isolde"'),
    ("water.csv", ",84,16,", ",184,16,", 8, "More minutes are written than there were."),
    ("people.csv", "2009-06-14", "14.6.2009", 4, '"14.6.2009" is no day.'),
    ("people.csv", "odo,Odo", "bruno,Odo", 1, '"bruno" stands here for the second time.'),
    ("units.csv", "type-b,KT-B-0001", "type-c,KT-B-0001", 3, 'There is no unit type "type-c".'),
    ("care.csv", ",service,2026-04-09", ",servicing,2026-04-09", 2, 'There is no what "servicing".'),
    ("slips.csv", ",pf-strap,", ",pf-starp,", 4, 'There is no planted fault "pf-starp". Did you mean "pf-strap"?'),
    ("slips.csv", "2026-10-22 11:52", "2026-10-22 13:52", 8, "not planted, cleared and passed in this order"),
    ("answers.csv", "strap,amaru,hit", "stap,amaru,hit", 1, 'There is no slip "stap".'),
    ("proofs.csv", "jonas,pq-med", "jonas,pq-mde", 2, 'There is no prerequisite "pq-mde". Did you mean "pq-med"?'),
    ("consents.csv", "2027-03-29", "in spring", 4, '"in spring" is no day.'),
    ("exams.csv", "2026-10-22,tamsin", "2026-10-22,", 11, "A day without a person"),
    ("adjustments.csv", "ravi,mp-close-out", "ravi,mp-close", 2, 'There is no skill "mp-close".'),
    ("interests.csv", "lien,nkechi", "lien,nkeshi", 2, 'There is no person "nkeshi". Did you mean "nkechi"?'),
    ("units.csv", "unit,label", "unit,name", 0, "The first line does not name the columns."),
]


@pytest.mark.parametrize(("name", "right", "wrong", "column", "told"), FAULTS, ids=lambda value: str(value)[:24])
def test_a_fault_is_told_with_file_line_and_column(
    standards: Standards, tmp_path: Path, name: str, right: str, wrong: str, column: int, told: str
) -> None:
    source = small_copy(tmp_path / "source")
    text = (source / name).read_text(encoding="utf-8")
    line = text[: text.index(right)].count("\n") + 1
    (source / name).write_text(text.replace(right, wrong, 1), encoding="utf-8")
    places_told = [
        (p.file, p.line, p.column)
        for p in Files(source, standards).problems
        if re.search(told, p.wrong + " " + p.remedy)
    ]
    assert (name, line, column) in places_told


def test_files_with_a_fault_make_nothing(tmp_path: Path) -> None:
    source = small_copy(tmp_path / "room" / "source")
    (source / "water.csv").unlink()
    (source / "later.yaml").write_text("proofs: 3\n", encoding="utf-8")
    with pytest.raises(RefusedError, match=r"(?s)2 problems .*Nothing was loaded.*later\.yaml.*water\.csv"):
        sample.load(tmp_path / "room" / "centre", quiet, source=source)
    assert [entry.name for entry in (tmp_path / "room").iterdir()] == ["source"]


def test_what_an_act_refuses_is_told_with_its_line_and_leaves_nothing(tmp_path: Path) -> None:
    """A skill that is not for the student's setting is refused by the action itself."""
    source = small_copy(tmp_path / "room" / "source")
    text = (source / "sessions.csv").read_text(encoding="utf-8")
    pool = next(line for line in text.splitlines() if 'mouthpiece",pool' in line)
    changed = text.replace(pool, pool.replace('mouthpiece",pool', 'mouthpiece",class').removesuffix("0.7"))
    assert 'mouthpiece",class' in changed
    (source / "sessions.csv").write_text(changed, encoding="utf-8")
    with pytest.raises(RefusedError, match=r"^attempts\.csv:\d+: .* is class\..*The demo centre was not made\."):
        sample.load(tmp_path / "room" / "centre", quiet, source=source)
    assert [entry.name for entry in (tmp_path / "room").iterdir()] == ["source"]


def test_a_loading_that_is_broken_off_leaves_nothing(tmp_path: Path) -> None:
    def stop(done: int, of: int, what: str) -> None:
        if what == "sessions":
            raise KeyboardInterrupt

    (tmp_path / "room").mkdir()
    with pytest.raises(KeyboardInterrupt):
        sample.load(tmp_path / "room" / "centre", stop)
    assert list((tmp_path / "room").iterdir()) == []


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    room = tmp_path / "room"
    room.mkdir()
    (room / "own.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(RefusedError, match="not empty"):
        sample.load(room, quiet)
    assert [entry.name for entry in room.iterdir()] == ["own.txt"]


def test_progress_is_told_to_the_end(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    sample.load(
        tmp_path / "centre", lambda done, of, _: told.append((done, of)), source=small_copy(tmp_path / "source")
    )
    assert [done for done, _ in told] == list(range(1, len(told) + 1))
    assert {of for _, of in told} == {len(told)}
