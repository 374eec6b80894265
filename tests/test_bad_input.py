"""What every answer, page and paper of assessment says where there is little, nothing or a contradiction to tell.

A plain sentence or an empty state that teaches; never a traceback, a number that is none, or a student forgotten.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Any

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark, seen_at, shipped_standards, tap
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest
from test_standards_editing import form, moved, save, standards_of

from course.actions import amending
from course.actions.attempts import Opened
from course.actions.drafting import body, draft
from course.actions.pad import take
from course.actions.standards import adopt_revision
from course.answers import observers_export as export
from course.answers.class_practice import class_csv, class_practice
from course.answers.competency import competency_record
from course.answers.course_view import CourseView
from course.answers.line import line_at, line_pads
from course.answers.marking import open_attempts, skill_choices
from course.answers.matrix import matrix
from course.answers.missing import missing
from course.answers.observers import observers
from course.answers.practice import student_practice
from course.answers.rule_trial import rule_trial
from course.answers.skill_detail import skill_detail
from course.answers.step_map import step_map
from course.answers.student_page import student_page
from course.paper.competency_record import print_competency_record
from course.paper.take_home import print_take_home
from course.places import SCREENS
from course.record.events import AttemptOpened, MarkGiven, MarksGiven
from course.screens import serve
from course.standards import skill_form
from course.words import Closing, Mark

NO_NUMBER = re.compile(r"\b(nan|NaN|inf|None|Traceback|KeyError)\b")
WHOLE, POOL_TITLE = "Not started.", "Close before it leaves the mouth"
NOTHING_YET = "Nobody was seen at anything yet: there is nothing to say about this class."
NOT_TWICE = "No attempt has two evaluating sheets: let two observers score the same attempts, blind to each other."


def nobody_attempted(c: Centre) -> None:
    """The course as it is planned."""


def one_attempt(c: Centre) -> None:
    c.enter("dry-21")


def all_void(c: Centre) -> None:
    for _ in range(3):
        c.enter("pool-22", critical_mark(), closing=Closing.VOID, reason="Somebody else came up.", second=c.second)


def observers_who_share_nothing(c: Centre) -> None:
    c.enter("pool-22")
    c.enter("pool-22", by=c.second, student=c.zoe)


def contradicting_corrections(c: Centre) -> None:
    """Each of two was written without the other, as on two laptops that were joined afterwards."""
    whose, where = c.enter("pool-22", critical_mark()), c.enter("dry-21")
    for attempt, field, values in (
        (whose, "student", (c.zoe, c.amaru)),
        (where, "session", (c.sessions["pool-22"], c.sessions["pool-23"])),
    ):
        opened = next(event.id for event in c.ledger.events(attempt) if event.kind == AttemptOpened.kind)
        for made in [amending.correction(c.ledger, c.lead, opened, "Misread.", change={field: v}) for v in values]:
            c.ledger.append([made])


def a_step_that_vanished(c: Centre) -> None:
    """Five closed attempts and an open one were marked by a form that had one step more."""
    c.hold()
    opened = c.open("pool-23")
    body_of = {"marks": [{"step": "co-hold", "mark": "done"}]}
    take(c.ledger, [tap(c, opened, "marks_given/1", body_of, tapped_at="2026-10-23T15:00:00Z")])
    moved(c, save(c, skill_form.without_step(form(), "co-hold")))


def a_skill_that_vanished(c: Centre) -> None:
    """The course goes on under rubrics that do not have the skill at all."""
    c.hold()
    c.open("pool-23")

    def without(what: Any) -> Any:
        if isinstance(what, dict):
            return {name: without(one) for name, one in what.items() if name != POOL_SKILL}
        if isinstance(what, list):
            return [without(one) for one in what if POOL_SKILL not in (one, isinstance(one, dict) and one.get("id"))]
        return what

    files = without(json.loads(json.dumps(dict(standards_of(c, c.adoption).written))))
    moved(c, adopt_revision(c.ledger, c.lead, files, c.adoption))


def a_mark_for_a_step_that_no_rubric_has(c: Centre) -> None:
    """As from a device that ran something else; this program would not have taken it."""
    attempt = c.enter("pool-22")
    line = MarkGiven(step="co-gone", mark=Mark.ERROR, errors=("co-what",))
    sheet = c.attempt(attempt).sheets[0].id
    content = body(MarksGiven, attempt=attempt, sheet=sheet, marks=(line,), observed=seen_at(22, 15))
    c.ledger.append([draft(c.lead, content, private_of=c.amaru)])


@dataclass(frozen=True)
class Told:
    """What the answers say of one situation."""

    make: Callable[[Centre], None]
    standing: str
    group: str
    trial: str
    steps: str
    observed: str = NOT_TWICE
    own: tuple[str, ...] = ()
    """What each of the student's own attempts did, newest first."""


SOME = (
    " attempts here, and none is in a standing (void, withdrawn, open, practice only or by another form of the "
    "rubric): there is nothing to compare."
)
SAME = "Under this rule 0 of {} would differ."
NOBODY = "Nobody has attempted this skill here yet: there is no standing to compare."
KEPT = "kept, does not count"

SITUATIONS = [
    Told(nobody_attempted, WHOLE, NOTHING_YET, NOBODY, "No attempt to draw yet."),
    Told(
        one_attempt,
        "Not yet: 1 in a row of 5; missing 4 over 2 other days, one each in the pool and in open water.",
        "Nothing went wrong in 1 attempt that counts or breaks a row.",
        SAME.format("1 standing"), "No step went wrong in 1 attempt.", own=("counts",),
    ),
    Told(
        all_void, f"{WHOLE} Kept and not counted: 3 attempts void.", NOTHING_YET,
        f"3{SOME}", "No attempt to draw yet.", own=("in no standing",) * 3,
    ),
    Told(
        observers_who_share_nothing,
        "Not yet: 1 in a row of 5; missing 4 over 2 other days, one each dry and in open water.",
        "Nothing went wrong in 2 attempts that count or break a row.",
        SAME.format("2 standings"), "No step went wrong in 1 attempt.", own=("counts",),
    ),
    Told(
        contradicting_corrections,
        (
            "Not yet: 0 in a row of 5; missing 5 over 3 days; re-teach first. "
            "Kept and not counted: 1 attempt on which two corrections disagree."
        ),
        "Too few to say: no skill with an error has 3 attempts yet.", SAME.format("2 standings"),
        (
            "“Only then take it out of the mouth” went wrong in 1 of 2, at attempt 1; 1 critical: too few to say. "
            "All other steps right."
        ),
        own=("critical: back to 0, re-teach first", "two corrections disagree: does not count"),
    ),
    Told(
        a_step_that_vanished,
        (
            f"{WHOLE} 6 attempts were marked by another form of this rubric, and are kept and do not count: what was "
            "asked then is not what is asked now."
        ),
        NOTHING_YET, f"6{SOME}", "No attempt to draw yet.", own=(KEPT,) * 6,
    ),
    Told(a_skill_that_vanished, "", NOTHING_YET, NOBODY, "", own=(KEPT,) * 6),
    Told(
        a_mark_for_a_step_that_no_rubric_has,
        "Not yet: 1 in a row of 5; missing 4 over 2 other days, one each dry and in open water.",
        "Nothing went wrong in 1 attempt that counts or breaks a row.",
        SAME.format("1 standing"), "No step went wrong in 1 attempt.", own=("counts",),
    ),
]  # fmt: skip
EACH = pytest.mark.parametrize("told", SITUATIONS, ids=[told.make.__name__ for told in SITUATIONS])


def words_of(printing: Callable[..., Any], answer: Any) -> str:
    """The words of a paper, each between single blanks."""
    out = BytesIO()
    printing(answer, out)
    return " ".join(" ".join(page.extract_text() for page in PdfReader(out).pages).split())


def standing_words(c: Centre, seen: CourseView) -> str:
    """The whole page behind the cell, where the rubrics in force have the skill."""
    if POOL_SKILL not in seen.adopted.standards.skills:
        return ""
    return skill_detail(c.ledger, seen, c.amaru, POOL_SKILL, LAST_DAY).text()


@EACH
def test_every_answer_says_it_in_a_plain_sentence(small_centre: Centre, told: Told) -> None:
    c = small_centre
    told.make(c)
    seen = c.view()
    detail = standing_words(c, seen)
    assert told.standing in detail.splitlines() or detail == told.standing == ""
    assert class_practice(seen, LAST_DAY).sentence == told.group
    assert rule_trial(c.ledger, POOL_SKILL, shipped_standards().skill(POOL_SKILL).rule).sentence == told.trial
    compared = observers(seen, c.lead, LAST_DAY)
    assert compared.sentence == told.observed
    if detail:
        assert step_map(seen, c.amaru, POOL_SKILL, LAST_DAY).finding == told.steps
    page = student_page(seen, c.amaru, LAST_DAY)
    assert tuple(one.effect for one in page.attempts) == told.own
    everything = [
        detail, json.dumps(page.plain()), class_csv(class_practice(seen, LAST_DAY)), matrix(seen, LAST_DAY).sentence,
        export.pairs_csv(compared), export.practice_csv(compared), export.severity_csv(compared),
        missing(seen, seen.students, LAST_DAY).text(), " ".join(one.words for one in compared.severities),
        " ".join(one.words for one in student_practice(seen, c.amaru, LAST_DAY).weak),
        " ".join(one.title for one in open_attempts(seen)),
        " ".join(one.title for one in skill_choices(seen, c.sessions["pool-22"], c.amaru)),
    ]  # fmt: skip
    assert [text for text in everything if NO_NUMBER.search(text.replace("null", ""))] == []


@EACH
def test_the_papers_print_it(small_centre: Centre, told: Told) -> None:
    """The record has the very sentence; the sheet to take home begins with what comes next."""
    c = small_centre
    told.make(c)
    seen = c.view()
    record = words_of(print_competency_record, competency_record(c.ledger, seen, c.amaru, LAST_DAY))
    assert told.standing in record
    home = words_of(print_take_home, student_page(seen, c.amaru, LAST_DAY))
    assert "Amaru Tendelle holds 0 of " in home
    assert not NO_NUMBER.search(record + home)


def shown(app: AppTest, name: str, **query: str) -> str:
    """Go to a page and return what it says; it must draw without an exception."""
    app.switch_page(f"../../pages/{name}")
    app.query_params.clear()
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    boxes = [box.label for box in app.expander] + [button.label for button in app.button]
    parts = [*app.title, *app.subheader, *app.markdown, *app.text, *app.caption, *app.warning, *app.error]
    text = "\n".join([*(str(part.value) for part in parts), *boxes]).replace("\\", "")
    assert not NO_NUMBER.search(text)
    return text


@EACH
def test_the_pages_show_it(small_centre: Centre, told: Told) -> None:
    """Course, its cell, a student's own page, class, observers, the trial of a rule, papers, mark and today."""
    c = small_centre
    told.make(c)
    serve.start(c.ledger, take)
    app = AppTest.from_file(str(SCREENS / "app.py"), default_timeout=60).run()
    assert told.group in shown(app, "class.py")
    assert "Still missing. Amaru Tendelle: " in shown(app, "course.py")
    assert told.standing in shown(app, "course.py", student=c.amaru, skill=POOL_SKILL)
    assert "Amaru Tendelle holds 0 of " in shown(app, "student.py", student=c.amaru)
    assert "Whom do you watch now?" in shown(app, "mark.py")
    next(one for one in app.button_group if one.label == "Who is marking?").set_value(c.lead).run()
    assert not app.exception
    assert "nobody has all that is asked yet" in shown(app, "today.py")
    trial = shown(app, "standards.py", view="try", skill=POOL_SKILL)
    assert told.trial in trial if told.standing else "meets this rule" in trial
    assert "Choose a student" in shown(app, "papers.py")
    app.button_group(key="paper-student").set_value(c.amaru).run()
    assert not app.exception
    text = shown(app, "observers.py")
    if told.make is nobody_attempted:
        assert "Observers are compared on attempts that both scored; there is none yet." in text
        return
    app.button_group(key="looker").set_value(c.lead).run()
    assert not app.exception
    assert any(told.observed in str(part.value).replace("\\", "") for part in app.markdown)


def test_corrections_that_disagree_are_told_with_the_way_out(small_centre: Centre) -> None:
    c = small_centre
    contradicting_corrections(c)
    where, whose = skill_detail(c.ledger, c.view(), c.amaru, POOL_SKILL, LAST_DAY).attempts
    for attempt, field in ((where, "session"), (whose, "student")):
        assert attempt.amended[-1] == (
            f"Two corrections disagree about its {field}: it counts for nobody, and a critical error counts against "
            "each, until one is corrected once more."
        )
    amending.move_attempt(c.ledger, c.lead, whose.attempt, c.zoe, "It was hers.")
    assert skill_detail(c.ledger, c.view(), c.zoe, POOL_SKILL, LAST_DAY).sentence.endswith("; re-teach first.")
    told = skill_detail(c.ledger, c.view(), c.amaru, POOL_SKILL, LAST_DAY).sentence
    assert "re-teach" not in told


def test_a_mark_for_a_step_that_no_rubric_has_is_shown_and_judged_by_nothing(small_centre: Centre) -> None:
    c = small_centre
    a_mark_for_a_step_that_no_rubric_has(c)
    (attempt,) = skill_detail(c.ledger, c.view(), c.amaru, POOL_SKILL, LAST_DAY).attempts
    strange = attempt.sheets[0].marks[-1]
    assert (strange.number, strange.words) == (5, "error, not judged")
    assert strange.do == "“co-gone”, a step that this rubric does not have."
    assert (attempt.outcome, attempt.effect) == ("clean", "counts")


def test_an_open_attempt_at_a_skill_that_vanished_can_still_be_marked_and_ended(small_centre: Centre) -> None:
    c = small_centre
    a_skill_that_vanished(c)
    (still,) = open_attempts(c.view())
    assert still.title == "mp-close-out, a skill that the rubrics in force do not have"
    (pad,) = line_pads(c.ledger, line_at(c.ledger, {"attempt": still.attempt, "sheet": still.sheet}))["pads"]
    assert POOL_TITLE in json.dumps(pad)
    stop = {"how": "stopped", "stopped_by": "instructor"}
    opened = Opened(still.attempt, still.sheet)
    assert not take(c.ledger, [tap(c, opened, "attempt_closed/1", stop, tapped_at="2026-10-23T15:10:00Z")]).refused
    assert open_attempts(c.view()) == ()
