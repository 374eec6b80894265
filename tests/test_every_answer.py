"""Every role and office, by password and by PIN, with every answer, found by inspection: one without a rule fails here.

What is refused is refused before anything is read, so that most is tried without a ledger; what an answer asks in turn,
and what a check of a paper tells of it, is tried in the small centre.
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from dataclasses import is_dataclass
from datetime import date
from functools import cache
from itertools import product
from pathlib import Path
from types import UnionType
from typing import Any, get_args, get_type_hints

import pytest
from centre_builder import POOL_SKILL, Centre

import course.answers
from course.access import PIN_RIGHTS, TABLE, Holder, Right, Sight, own_only
from course.answers.candidate_file import candidate_file
from course.answers.competency import competency_record
from course.answers.course_file import course_file
from course.answers.course_view import CourseView, view
from course.answers.own_data import own_data
from course.answers.paper_data import plain_of
from course.answers.paper_said import ask_ledger
from course.answers.papers_again import AGAIN, asked_again
from course.answers.statement import statement
from course.answers.student_page import student_page
from course.asker import RIGHTS_OF, Asker, asked_as, question
from course.errors import RefusedError, SignedOutError
from course.places import PAGES, ROOT
from course.record.paper_code import PaperCode
from course.record.paper_document import PaperDocument
from course.words import Office, Role

EVERYBODY = list(product(TABLE, (False, True)))
GROUND = {
    "accounts": "the door asks it before anybody is known, and every act whose roles count",
    "centre_answer": "what every page begins with; it is narrowed there to the courses of whoever asks",
    "course_view": "the course as it was read, which answers are made from; nothing shows it",
    "signing_pins": "asked by what confirms a signature, of whoever signs",
}
"""Modules that are asked from outside without a right, with the reason."""


@cache
def every_function() -> dict[str, Callable[..., Any]]:
    """Every public function of every module of answers that reads the ledger or a course."""
    found = {}
    for module in pkgutil.iter_modules(course.answers.__path__):
        loaded = importlib.import_module(f"course.answers.{module.name}")
        for name, function in inspect.getmembers(loaded, inspect.isfunction):
            own = function.__module__ == loaded.__name__ and not name.startswith("_")
            if own and re.search(r"\b(Ledger|CourseView)\b", str(inspect.signature(function))):
                found[f"{module.name}.{name}"] = function
    return found


@cache
def asked_from_outside() -> frozenset[str]:
    """Which of the functions of answers pages, papers, commands and acts name."""
    own = ROOT / "course" / "answers"
    files = [one for place in (ROOT / "course", PAGES) for one in place.rglob("*.py") if own not in one.parents]
    return frozenset(name for file in files for name in named_in(file))


def named_in(file: Path) -> Iterator[str]:
    tree = ast.parse(file.read_text("utf-8"))
    modules: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == "course.answers":
            modules |= {one.asname or one.name: one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("course.answers."):
            yield from (f"{str(node.module).rpartition('.')[2]}.{one.name}" for one in node.names)
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in modules:
            yield f"{modules[node.value.id]}.{node.attr}"


def questions() -> dict[str, Callable[..., Any]]:
    return {name: function for name, function in every_function().items() if function in RIGHTS_OF}


def test_whatever_is_asked_from_outside_has_a_rule() -> None:
    """What answers alone ask of each other is a part: from a page, paper, command or act it cannot be reached."""
    open_to_all = {name for name in asked_from_outside() & every_function().keys() if name not in questions()}
    assert {name.partition(".")[0] for name in open_to_all} == GROUND.keys()
    assert len(questions()) == len(RIGHTS_OF)


def test_what_tells_of_somebody_as_an_answer_has_a_rule_also_where_answers_alone_ask_it() -> None:
    """An answer is frozen and of a shape of its own; lines and words of one are parts."""
    answers = {name for name, function in every_function().items() if is_answer(get_type_hints(function)["return"])}
    own = {name for name in answers - questions().keys() if name.partition(".")[0] not in GROUND}
    assert own == {
        "course_file.decisions_section", "course_file.oxygen_section",  # sections of files, which are asked for whole
        "hours.break_line", "oxygen.exposure_line", "record_steps.with_steps",  # lines alone
        "origin.origin",  # puts together what it is given
        "paper_mended.altered_by_ledger", "paper_said.ask_ledger",  # parts of a check
        "unit_until.view_until", "standards_move.moved_view",  # courses
    }  # fmt: skip


def is_answer(told: Any) -> bool:
    shapes = get_args(told) if isinstance(told, UnionType) else (told,)
    return any(is_dataclass(one) and str(one.__module__).startswith("course.answers") for one in shapes)


# --- each holder with each question --------------------------------------------------------------------------------


def allowed(holder: Holder, right: Right, *, by_pin: bool) -> bool:
    return right in TABLE[holder] and (not by_pin or right in PIN_RIGHTS)


def refusal(function: Callable[..., Any], student: str) -> str:
    """Why a question is refused, asked about somebody of a centre that is not there; empty where it was looked at."""
    needed = inspect.signature(function).parameters.values()
    given = {one.name: None for one in needed if one.default is inspect.Parameter.empty}
    try:
        function(**given | ({"student": student} if "student" in given else {}))
    except RefusedError as refused:
        return refused.sentence
    except Exception:  # nothing was given to answer from: it was let through
        return ""
    return ""


@pytest.mark.parametrize(("holder", "by_pin"), EVERYBODY)
def test_a_question_is_refused_exactly_to_whom_the_table_does_not_give_what_it_is_for(
    holder: Holder, *, by_pin: bool
) -> None:
    asker = Asker("them", frozenset({holder}), by_pin=by_pin)
    with asked_as(asker):
        for name, function in questions().items():
            held = [right for right in RIGHTS_OF[function] if allowed(holder, right, by_pin=by_pin)]
            own = bool(held) and all(isinstance(one, Sight) and own_only([holder], one) for one in held)
            about_one = "student" in inspect.signature(function).parameters
            assert (refusal(function, "them") == "") is (bool(held) and (about_one or not own)), name
            told = refusal(function, "somebody else")
            assert (told == "") is (bool(held) and not own), name
            if told:
                assert re.search("may see this|may sign|may make or replace|PIN is not enough|about yourself", told)


@pytest.mark.parametrize(("holder", "by_pin"), EVERYBODY)
def test_nobody_is_answered_who_is_not_signed_in(holder: Holder, *, by_pin: bool, monkeypatch: Any) -> None:
    def out() -> Asker:
        raise SignedOutError("Nobody is signed in.")

    monkeypatch.setattr("course.asker._ways", [out])
    with pytest.raises(SignedOutError):
        competency_record(None, None, "them", date(2026, 10, 25))  # type: ignore[arg-type]
    with asked_as(Asker("them", frozenset({holder}), by_pin=by_pin)), contextlib.suppress(RefusedError, AttributeError):
        student_page(None, "them", date(2026, 10, 25))  # type: ignore[arg-type]


def open_to(holder: Holder) -> set[str]:
    found = {name for name, function in questions().items() if set(RIGHTS_OF[function]) & TABLE[holder]}
    if holder != Role.STUDENT:
        return found
    with asked_as(Asker("them", frozenset({holder}))):
        return {name for name in found if not refusal(questions()[name], "them")}


TO_EVERYBODY = {
    "centre_keys.centre_keys", "centre_keys.paper_key", "centre_keys.public_keys", "centre_keys.signing_key",
    "centre_keys.why_unsigned", "paper_check.check_hash", "paper_check.check_paper", "paper_said.answer_of",
}  # fmt: skip


def test_students_are_answered_about_themselves_and_an_administrator_about_accounts_and_personal_data() -> None:
    """Named here once more, so that a right that stands beside the wrong answer is seen."""
    assert open_to(Role.STUDENT) - TO_EVERYBODY == {
        "competency.competency_record", "origin_of.decided_skills", "origin_of.minute_origin",
        "origin_of.signed_origin", "origin_of.standing_origin", "student_page.student_page",
    }  # fmt: skip
    assert open_to(Office.ADMINISTRATOR) - TO_EVERYBODY == {
        "accounts.account_lines", "alike.alike", "erasing.before_erasing", "erasing.named_in", "health.health",
        "keeping.keeping", "laptops.laptops", "marking.deciders", "own_data.own_data", "people.find_anybody",
    }  # fmt: skip
    assert open_to(Role.LEAD) == questions().keys()


OF_WHO_DECIDES = {
    "accounts", "alike", "arrival", "audit", "audit_tables", "bench_sheet", "candidate_file", "class_practice",
    "competency", "corrections", "course_file", "erasing", "finding_ground", "health", "keeping", "laptops",
    "observers", "origin", "origin_finding", "origin_of", "own_data", "people", "practice", "statement",
    "student_page", "transfer", "unit_history",
}  # fmt: skip
"""Modules that nobody is answered from who helps, tends units or is a candidate."""


@pytest.mark.parametrize("holder", [Role.ASSISTANT, Role.CANDIDATE, Role.TECHNICIAN])
def test_whoever_helps_is_not_answered_what_is_for_those_who_decide(holder: Holder) -> None:
    assert not {name for name in open_to(holder) if name.partition(".")[0] in OF_WHO_DECIDES}
    assert {name.partition(".")[0] for name in questions()} >= OF_WHO_DECIDES


# --- what an answer asks in turn -----------------------------------------------------------------------------------


def test_what_an_answer_asks_in_turn_is_not_asked_again_and_the_next_question_is() -> None:
    @question(Sight.OBSERVERS)
    def inner() -> str:
        return "told"

    @question(Sight.CHECK)
    def outer() -> str:
        return inner()

    @question(Sight.CHECK)
    def failing() -> str:
        raise ValueError

    for made in (inner, outer, failing):
        RIGHTS_OF.pop(made)
    with asked_as(Asker("them", frozenset({Role.STUDENT}))):
        assert outer() == "told"
        with pytest.raises(ValueError, match=r"^$"):
            failing()
        with pytest.raises(RefusedError, match=r"may see this \(page observers\); this person is student"):
            inner()
    assert inner() == "told"


DAY = date(2026, 10, 25)


@pytest.fixture
def course_seen(small_centre: Centre) -> CourseView:
    small_centre.enter()
    return view(small_centre.ledger, small_centre.course)


def test_a_student_is_told_of_themselves_with_what_is_said_of_the_class_and_of_nobody_else(
    small_centre: Centre, course_seen: CourseView
) -> None:
    c, seen, ledger = small_centre, course_seen, small_centre.ledger
    with asked_as(Asker(c.amaru, frozenset({Role.STUDENT}), name="Amaru")):
        assert competency_record(ledger, seen, c.amaru, DAY).student
        assert student_page(seen, c.amaru, DAY).student
        for told in (
            lambda: competency_record(ledger, seen, c.zoe, DAY),
            lambda: student_page(seen, student=c.zoe, as_of=DAY),
            lambda: asked_again(ledger, "Competency record", _asked(c, c.zoe)),  # not as a part of a check
        ):
            with pytest.raises(RefusedError, match="about yourself alone"):
                told()
        for closed in (
            lambda: statement(ledger, seen, c.amaru, DAY),
            lambda: candidate_file(ledger, seen, c.candidate, DAY),
            lambda: course_file(ledger, seen, DAY),
            lambda: own_data(ledger, c.amaru),
        ):
            with pytest.raises(RefusedError, match="Only somebody who is"):
                closed()


# --- what a check tells of a paper about somebody else -------------------------------------------------------------


def _asked(c: Centre, student: str) -> dict[str, str]:
    return {"course": c.course, "student": student, "as_of": DAY.isoformat()}


def _paper(c: Centre, student: str) -> tuple[PaperCode, PaperDocument]:
    answer = competency_record(c.ledger, view(c.ledger, c.course), student, DAY)
    head = c.ledger.head()
    code = PaperCode("Competency record", DAY.isoformat(), "0" * 64, head.chain, head.seq, head.hash)
    given = {"paper": code.paper, "asked": _asked(c, student), "says": plain_of(answer)}
    return code, PaperDocument.model_construct(**given)


def test_a_check_tells_whoever_may_not_see_a_paper_that_it_changed_and_not_what_it_would_say(
    small_centre: Centre, course_seen: CourseView
) -> None:
    c = small_centre
    code, document = _paper(c, c.zoe)
    same = {}
    for person, role in ((c.amaru, Role.STUDENT), (c.candidate, Role.CANDIDATE), (c.lead, Role.LEAD)):
        with asked_as(Asker(person, frozenset({role}))):
            same[role] = _told(c, code, document)
    assert {one.now for one in same.values()} == {"same"}
    c.enter(student=c.zoe)
    with asked_as(Asker(c.lead, frozenset({Role.LEAD}))):
        told = _told(c, code, document)
    assert told.now == "changed"
    assert any(f"{POOL_SKILL}" in line or "and now" in line for line in told.lines)
    for person, role in ((c.amaru, Role.STUDENT), (c.candidate, Role.CANDIDATE), (c.assistant, Role.ASSISTANT)):
        with asked_as(Asker(person, frozenset({role}))):
            said = _told(c, code, document)
        assert said.now == "changed"
        assert not [line for line in said.lines if "and now" in line]
        assert said.lines[-1].endswith("What the ledger says now is told to whoever may see this paper here.")
    with asked_as(Asker(c.zoe, frozenset({Role.STUDENT}))):
        assert _told(c, code, document).lines == told.lines  # their own


def _told(c: Centre, code: PaperCode, document: PaperDocument) -> Any:
    """As the check of a paper asks it, whose signature is looked at before."""
    checked = question(Sight.CHECK)(ask_ledger)
    RIGHTS_OF.pop(checked)
    return checked(c.ledger, code, document)


def test_only_the_check_asks_papers_again() -> None:
    """So that there is one way past the rights of what it asks."""
    modules = [*(ROOT / "course").rglob("*.py"), *PAGES.glob("*.py")]
    asking = {one.stem for one in modules if re.search(r"import .*\basked_again\b", one.read_text("utf-8"))}
    assert asking == {"paper_said"}
    said = {one.stem for one in modules if "from course.answers.paper_said import" in one.read_text("utf-8")}
    assert said == {"paper_check", "paper_mended", "paper_pages"}
    assert AGAIN.keys() >= {"Competency record", "Audit file"}
