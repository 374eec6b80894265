"""The same events in any order, whichever laptop brought them, in a folder or on a server: all that is told is equal.

What three laptops say does not agree: two attempts of one student at one moment, a mark that all three amended, times
of one person that overlap, an attempt that one moved and another took back; one clock is half an hour off.
"""

from __future__ import annotations

import io
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from datetime import UTC, date, datetime
from hashlib import sha256
from itertools import groupby
from pathlib import Path
from random import Random
from types import FrameType
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from laptops_apart import Apart, arrived, three_laptops
from ledger_examples import look, tables_in

from course.answers.accounts import account_lines
from course.answers.alike import alike
from course.answers.amendable import amendable
from course.answers.amendments import changes_by_skill, course_amendments
from course.answers.arrival import arrival_lines
from course.answers.audit import audit_answer, course_audit, late_entries
from course.answers.bench_sheet import bench_sheet
from course.answers.candidate_file import candidate_file
from course.answers.centre_answer import centre
from course.answers.centre_keys import paper_key
from course.answers.class_practice import class_practice
from course.answers.competency import competency_record
from course.answers.corrections import course_corrections
from course.answers.course_file import course_file
from course.answers.course_view import CourseView
from course.answers.day_end import day_end
from course.answers.day_paper import day_paper
from course.answers.decisions import to_sign
from course.answers.erasing import named_in
from course.answers.faults import counts, slips
from course.answers.figures import figure_table
from course.answers.findings import course_findings
from course.answers.gate_view import gates_answer
from course.answers.hours import double_bookings, hours
from course.answers.incident_paper import incident_paper
from course.answers.keeping import keeping
from course.answers.laptops import laptops
from course.answers.line import line_skills
from course.answers.marking import open_attempts, session_students, sessions, skill_choices
from course.answers.matrix import matrix
from course.answers.missing import missing
from course.answers.observers import observers
from course.answers.origin import event_origin
from course.answers.origin_finding import finding_origin
from course.answers.origin_of import minute_origin, session_origin, standing_origin
from course.answers.own_data import own_data
from course.answers.oxygen import oxygen
from course.answers.pad import pad
from course.answers.paper_data import plain_of
from course.answers.practice import student_practice
from course.answers.readiness import readiness
from course.answers.record_answer import LedgerHead
from course.answers.rule_trial import rule_trial
from course.answers.session_times import session_times
from course.answers.set_points import set_points
from course.answers.sign_off import sign_off_sheet
from course.answers.signing_pins import signing_pin_of
from course.answers.skill_detail import skill_detail
from course.answers.slate_choice import plan_slates
from course.answers.slate_grid import grid, sheets_out
from course.answers.slate_sheet import slates_of
from course.answers.standards_answer import adoption_contest, history
from course.answers.standards_move import course_contest, moves_made
from course.answers.statement import statement
from course.answers.step_map import step_map
from course.answers.student_page import student_page
from course.answers.today import today
from course.answers.transfer import transfer_file
from course.answers.unit_change import unit_change
from course.answers.unit_history import unit_history
from course.answers.units import held_in_water, units_answer
from course.answers.what_if import if_rule
from course.answers.who_is_in import session_now
from course.exchange.audit_file import seal
from course.exchange.merging import hand_over
from course.paper.audit_file import print_audit_file
from course.paper.competency_record import print_competency_record
from course.paper.day_sheet import print_day_sheet
from course.paper.filed_sheet import print_filed
from course.paper.incident_sheet import print_incident_sheet
from course.paper.origin_sheet import print_origin
from course.paper.slate_sheet import print_slates
from course.paper.take_home import print_take_home
from course.record.chain import Event, canonical
from course.record.facts import Fact
from course.record.projection import project
from course.standards.standards import Standards
from course.storage.ledger import Ledger
from course.storage.site import site_of

ROOT = Path(__file__).resolve().parent.parent
POOL_DAY, LATER = date(2026, 10, 22), datetime(2026, 10, 26, tzinfo=UTC)
_EVENTS = "SELECT chain, seq, lamport, hash FROM event ORDER BY chain, seq, hash"
_HEADS = "SELECT * FROM head ORDER BY centre, chain"


@pytest.fixture(scope="module")
def apart(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> Apart:
    return three_laptops(tmp_path_factory.mktemp("apart"), standards)


@pytest.fixture(scope="module")
def asked(apart: Apart) -> tuple[dict[str, str], set[str]]:
    """What the last bundle alone gives, as the third laptop carries what the second has; and who was asked for it."""
    asked: set[str] = set()

    def note(frame: FrameType, what: str, _: object) -> None:
        if what == "call":
            asked.add(frame.f_code.co_filename)

    with arrived(apart, [[len(apart.bundles) - 1]]) as c:
        assert len(c.ledger.heads()) == 3
        sys.setprofile(note)
        try:
            told = everything(c)
        finally:
            sys.setprofile(None)
    return told, asked


@pytest.fixture(scope="module")
def wanted(asked: tuple[dict[str, str], set[str]]) -> dict[str, str]:
    return asked[0]


@pytest.fixture(scope="module")
def facts(apart: Apart) -> list[tuple[list[Event], Fact | None]]:
    """What is true of each subject of which more than one laptop spoke, or one more than once, and its events."""
    with arrived(apart, []) as c:
        events = sorted(c.ledger.events(), key=lambda one: one.subject)
    subjects = [list(own) for _, own in groupby(events, key=lambda one: one.subject)]
    return [(own, project(own)) for own in subjects if len(own) > 1]


def everything(c: Centre) -> dict[str, str]:
    """Tables, answers in canonical form and papers, by name: a hash of each."""
    folder = c.ledger.folder
    told: dict[str, Any] = {
        "events": look(folder, _EVENTS), "heads": look(folder, _HEADS), "tables": tables_in(folder),
        "bundle": _file_of(lambda out: hand_over(c.ledger, out)),
        "audit file": _file_of(lambda out: seal(c.ledger, out, course=c.course, as_of=LAST_DAY, given_to="The agency")),
    }  # fmt: skip
    told |= {name: canonical(plain_of(answer)) for name, answer in answers(c)}
    told |= {f"paper: {name}": pdf for name, pdf in papers(c)}
    return {
        name: sha256(one if isinstance(one, bytes) else repr(one).encode()).hexdigest() for name, one in told.items()
    }


def _file_of(write: Callable[[Path], object]) -> bytes:
    with tempfile.TemporaryDirectory() as place:
        write(Path(place) / "file")
        return (Path(place) / "file").read_bytes()


def answers(c: Centre) -> Iterator[tuple[str, Any]]:
    """Every answer that pages, papers and commands are made of."""
    ledger, seen = c.ledger, c.view()
    whole = centre(ledger)
    yield "centre", [getattr(whole, one.name) for one in fields(whole) if one.name in ("name", "courses", "notices")]
    yield from _of_course(c, seen)
    yield from _of_one_thing(c, seen)
    for who in (c.amaru, c.zoe):
        yield from ((f"{name} of {who}", answer) for name, answer in _of_student(c, seen, who))
    for name, session in c.sessions.items():
        yield f"times of {name}", session_times(seen, session)
        yield f"set points of {name}", set_points(seen, session)
        yield f"why {name}", session_origin(ledger, seen, session)
    yield "keeping", keeping(ledger)
    yield "accounts", account_lines(ledger)
    yield "PINs for signing", [signing_pin_of(ledger, person) for person in (c.lead, c.second)]
    yield "alike", alike(ledger, "Amaru Tendelle", None)
    yield "laptops", laptops(ledger)
    yield "standards", [history(ledger), adoption_contest(ledger), moves_made(ledger, seen), course_contest(seen)]


def _of_course(c: Centre, seen: CourseView) -> Iterator[tuple[str, Any]]:
    ledger = c.ledger
    for name, asked in (
        ("matrix", matrix), ("hours", hours), ("ready", readiness), ("gates", gates_answer), ("oxygen", oxygen),
        ("class", class_practice), ("double bookings", double_bookings),
    ):  # fmt: skip
        yield name, asked(seen, LAST_DAY)
    yield "findings", course_findings(ledger, seen, LAST_DAY, c.lead)
    yield "observers", observers(seen, c.lead, LAST_DAY)
    yield "units", units_answer(ledger, seen)
    yield "slips", [slips(ledger, seen), counts(ledger, seen)]
    yield "today", today(ledger, seen, POOL_DAY, LATER)
    yield "day's end", day_end(ledger, seen, POOL_DAY)
    yield "open attempts", open_attempts(seen)
    yield "audit", course_audit(ledger, seen, LAST_DAY)
    yield "paper of an audit", audit_answer(ledger, [(c.course, LAST_DAY)], None)
    yield "corrections", course_corrections(ledger, seen)
    yield "amendments", [(one.hash, *words) for one, *words in course_amendments(ledger, seen)]
    yield "late entries", late_entries(ledger, seen)


def _of_student(c: Centre, seen: CourseView, who: str) -> Iterator[tuple[str, Any]]:
    ledger, skill = c.ledger, c.skill()
    yield "missing", missing(seen, [who], LAST_DAY)
    yield "practice", student_practice(seen, who, LAST_DAY)
    yield "to sign", to_sign(seen, who, LAST_DAY)
    yield "detail", skill_detail(ledger, seen, who, POOL_SKILL, LAST_DAY)
    yield "steps", step_map(seen, who, POOL_SKILL, LAST_DAY)
    yield "changes", changes_by_skill(ledger, seen, who, LAST_DAY)
    yield "own data", own_data(ledger, who)
    yield "why", standing_origin(ledger, seen, who, skill, LAST_DAY)
    yield "why minutes", [minute_origin(ledger, seen, who, kind, LAST_DAY) for kind in ("pool", "dry")]
    yield "signing off", sign_off_sheet(ledger, seen, who, LAST_DAY)
    yield "arrivals", arrival_lines(ledger, seen, who, LAST_DAY)
    yield "what if", if_rule(seen, who, skill, skill.rule, LAST_DAY)
    yield "another unit", unit_change(seen, who, c.unit_b, LAST_DAY)
    yield "named in", named_in(ledger, who)


def _of_one_thing(c: Centre, seen: CourseView) -> Iterator[tuple[str, Any]]:
    """What is asked of one session, sheet, attempt, unit, finding or event: of every one that there is."""
    ledger, pool = c.ledger, c.sessions["pool-22"]
    yield "events", [event_origin(ledger, seen, one.id) for one in ledger.chain_events()]
    keys = [one.key for one in course_findings(ledger, seen, LAST_DAY, c.lead).findings]
    yield "why found", [finding_origin(ledger, seen, key, LAST_DAY, c.lead) for key in keys]
    for attempt in seen.attempts:
        yield f"amendable {attempt.id}", amendable(ledger, seen, attempt.id)
        yield f"pad {attempt.id}", [pad(ledger, attempt.id, sheet.id) for sheet in attempt.sheets]
    yield "sheets out", sheets_out(seen)
    yield "grids", [grid(ledger, pool, slate.id) for slate in seen.sessions[pool].slates]
    yield "sheets to give", plan_slates(ledger, pool, skills=[POOL_SKILL])
    yield "who is in", [session_now(ledger, seen, one, LATER, live=False) for one in c.sessions.values()]
    yield "lines", line_skills(seen, pool, (c.amaru, c.zoe))
    yield "choices", [skill_choices(seen, pool, c.amaru), session_students(seen, pool), sessions(seen, POOL_DAY, LATER)]
    yield "figures", [figure_table(seen, one) for one in (None, c.unit_a)]
    yield "held in water", held_in_water(ledger, c.course)
    yield "a rule tried", rule_trial(ledger, POOL_SKILL, c.skill().rule)


def papers(c: Centre) -> Iterator[tuple[str, bytes]]:
    """Every paper that is made of a ledger, byte for byte: pages, code and the data in it.

    A code names the chain of the laptop that prints; here each prints as if it were the first one.
    """
    ledger, seen, key = c.ledger, c.view(), paper_key(c.ledger)
    sessions, frozen = list(seen.sessions.values()), c.sessions["pool-23"]
    for name, printing, answer in (
        ("record", print_competency_record, competency_record(ledger, seen, c.zoe, LAST_DAY)),
        ("take home", print_take_home, student_page(seen, c.zoe, LAST_DAY)),
        ("day sheet", print_day_sheet, day_paper(ledger, seen, sessions)),
        ("incident sheet", print_incident_sheet,
         [incident_paper(ledger, seen, frozen, one.id) for one in seen.sessions[frozen].incidents]),
        ("why", print_origin, standing_origin(ledger, seen, c.zoe, c.skill(), LAST_DAY)),
        ("audit", print_audit_file, audit_answer(ledger, [(c.course, LAST_DAY)], None)),
        ("course file", print_filed, course_file(ledger, seen, LAST_DAY)),
        ("statement", print_filed, statement(ledger, seen, c.amaru, LAST_DAY)),
        ("transfer file", print_filed, transfer_file(ledger, seen, c.zoe, LAST_DAY)),
        ("unit history", print_filed, unit_history(ledger, seen, c.unit_a, LAST_DAY)),
        ("bench sheet", print_filed, bench_sheet(ledger)),
        ("candidate's file", print_filed, candidate_file(ledger, seen, c.candidate, LAST_DAY)),
    ):  # fmt: skip
        out = io.BytesIO()
        printing(_as_on_the_first(answer, c.ledger), out, "A4", key)  # type: ignore[operator]
        yield name, out.getvalue()
    yield "slates", print_slates(slates_of(ledger, c.sessions["pool-22"]))


def _as_on_the_first(answer: Any, ledger: Ledger) -> Any:
    if isinstance(answer, list):
        return [_as_on_the_first(one, ledger) for one in answer]
    one = min(ledger.heads(), key=lambda head: head.chain)
    return replace(answer, head=LedgerHead(ledger.centre_id, one.chain, one.seq, one.hash))


def shuffled(seed: int) -> list[list[int]]:
    """Bundles in any order, some of them again, several at once."""
    chance = Random(seed)  # noqa: S311 - the same orders in every run
    numbers = [*chance.sample(range(9), 9), *chance.choices(range(9), k=3)]
    cuts = sorted(chance.sample(range(1, 12), 4))
    return [numbers[a:b] for a, b in zip([0, *cuts], [*cuts, 12], strict=True)]


@pytest.mark.parametrize(
    ("database_kind", "name", "order"),
    [
        ("sqlite", "second", [[2], [7], [6]]),
        ("sqlite", "third", shuffled(1)),
        ("postgresql", "first", shuffled(2)),
        ("postgresql", "second", shuffled(3)),
        ("postgresql", "third", [[0, 8], [1]]),
    ],
)
def test_any_order_of_arrival_on_any_laptop_and_either_kind_of_database_gives_equal_tables_answers_and_papers(
    apart: Apart, wanted: dict[str, str], new_database: Callable[[], str | None], name: str, order: list[list[int]]
) -> None:
    """One set of events, in folders and on a server; `wanted` is of the first laptop, in its folder."""
    database = new_database()
    with arrived(apart, order, name, database) as c:
        assert (site_of(c.ledger.folder).server is None) == (database is None)
        found = everything(c)
    other = {name for name, told in wanted.items() if found[name] != told}
    assert other <= ({"laptops"} if name != "first" else set())  # it says which of them this one is
    assert found.keys() == wanted.keys()


def test_what_the_laptops_said_otherwise_of_one_thing_is_told_to_a_person(apart: Apart) -> None:
    """Closed in two ways, a step amended in three, signed on two records, a number corrected, withdrawn and moved."""
    with arrived(apart, []) as c:
        found = course_findings(c.ledger, c.view(), LAST_DAY, c.lead).findings
    told = Counter(one.rule for top in found for one in (top, *top.follow))
    rules = (
        "closed_differently", "marked_differently", "signed_apart", "corrections_disagree", "signed_on_older",
        "withdrawn_unknowing",
    )  # fmt: skip
    assert {rule: told[rule] for rule in rules} == dict.fromkeys(rules, 1)


NOT_PRINTED = {"batch", "day_papers", "filed_papers", "slate_giving", "student_papers", "curve_picture"}
"""Those that ask for papers by name and print them, and the picture of a rule that is tried out."""
NOT_ASKED = {
    "health": "of one machine",
    "merging": "of one merge",
    "observers_export": "a table of what `observers` answers",
    **dict.fromkeys(("ledger_then", "papers_again"), "of a paper shown"),
    **dict.fromkeys(
        ("paper_changes", "paper_check", "paper_mended", "paper_place", "paper_said", "paper_verdict"),
        "of a paper shown",
    ),
    **dict.fromkeys(
        ("slate_beside", "slate_check", "slate_copy", "slate_foreseen", "slate_typing"), "of what is typed"
    ),
}


def test_every_room_of_answers_and_papers_is_asked_in_every_order(asked: tuple[dict[str, str], set[str]]) -> None:
    """But for those that answer about something else than the set of events."""
    for room in ("answers", "paper"):
        names = {file.stem: str(file) for file in (ROOT / "course" / room).glob("[a-z]*.py")}
        never = {name for name, file in names.items() if file not in asked[1]}
        assert never <= (set(NOT_ASKED) if room == "answers" else NOT_PRINTED)


@settings(max_examples=100, deadline=None, derandomize=True, phases=(Phase.generate,))
@given(chance=st.randoms(use_true_random=False))
def test_every_fact_is_the_same_from_its_events_in_any_order(
    facts: list[tuple[list[Event], Fact | None]], chance: Random
) -> None:
    assert len(facts) > 20
    for events, fact in facts:
        assert project(chance.sample(events, len(events))) == fact
