"""One act seen at two skills: by the observer's stroke, an attempt of its own, once for each skill."""

from __future__ import annotations

from typing import Any

from centre_builder import POOL_SKILL, Centre
from test_line_mode import attempts, begun, item, line_of

from course.actions.pad import take
from course.answers.line import line_pads
from course.answers.skill_detail import skill_detail
from course.moments import new_id

HOST = "bo-separate"
STROKE = {"marks": [{"step": "bs-grip", "mark": "done"}]}
INSIDE = {"marks": [{"step": "co-hold", "mark": "done"}]}


def host_and_inside(c: Centre) -> tuple[dict[str, Any], dict[str, Any]]:
    """The pads of a bailout and of the mouthpiece that is closed inside it."""
    pads = line_pads(c.ledger, line_of(c, c.amaru, skill=HOST))["pads"]
    host = next(pad for pad in pads if pad["skill"]["id"] == HOST)
    return host, next(pad for pad in pads if pad["within"] == host["attempt"] and pad["skill"]["id"] == POOL_SKILL)


def test_what_comes_before_a_skill_is_ready_to_be_marked_inside_it(small_centre: Centre) -> None:
    """`before` of the rubric: without it the act could not be done; other skills are a choice away."""
    c = small_centre
    data = line_pads(c.ledger, line_of(c, c.amaru, skill=HOST))
    inside = {pad["skill"]["id"] for pad in data["pads"] if pad["within"]}
    skill = c.skill(HOST)
    assert inside == {s.id for s in c.view().skills() if s.id in skill.before and "pool" in s.setting}
    listed = [one["id"] for one in data["also"]["type-a"]]
    assert POOL_SKILL in listed[: len(skill.before)]
    assert HOST not in listed


def test_a_skill_that_the_observer_names_is_ready_too(small_centre: Centre) -> None:
    c = small_centre
    line = line_of(c, c.amaru, skill=HOST)
    plain = {pad["skill"]["id"] for pad in line_pads(c.ledger, line)["pads"]}
    other = next(one["id"] for one in line_pads(c.ledger, line)["also"]["type-a"] if one["id"] not in plain)
    named = line_pads(c.ledger, type(line)(**{**vars(line), "also": (other, "no-such-skill")}))
    assert {pad["skill"]["id"] for pad in named["pads"]} == plain | {other}


def test_two_attempts_come_of_one_act_and_each_is_closed_by_itself(small_centre: Centre) -> None:
    c = small_centre
    host, inside = host_and_inside(c)
    items = [*begun(host, item(host, "marks_given/1", STROKE)), *begun(inside, item(inside, "marks_given/1", INSIDE))]
    items.append(item(inside, "attempt_closed/1", {"how": "completed"}))
    assert take(c.ledger, items).refused == ()
    first, second = (c.attempt(pad["attempt"]) for pad in (host, inside))
    assert (first.within, first.ending) == (None, None)
    assert second.within == first.id
    assert second.ending is not None
    assert (first.number, second.number) == (1, 1)


def test_it_counts_once_for_each_skill(small_centre: Centre) -> None:
    """Another tablet, another id, the same act: refused, and nothing is opened."""
    c = small_centre
    host, inside = host_and_inside(c)
    take(c.ledger, [*begun(host, item(host, "marks_given/1", STROKE)), *begun(inside)])
    again = {**inside, "attempt": new_id(), "sheet": new_id()}
    ((_, told), *_) = take(c.ledger, begun(again, item(again, "marks_given/1", INSIDE))).refused
    assert told.endswith("is marked inside this attempt already and counts once. It was NOT saved.")
    assert len(attempts(c)) == 2


def test_after_a_void_one_it_can_be_seen_anew(small_centre: Centre) -> None:
    c = small_centre
    host, inside = host_and_inside(c)
    take(c.ledger, [*begun(host, item(host, "marks_given/1", STROKE)), *begun(inside)])
    take(c.ledger, [item(inside, "attempt_closed/1", {"how": "void", "reason": "a swimmer came between"})])
    again = {**inside, "attempt": new_id(), "sheet": new_id()}
    assert take(c.ledger, begun(again, item(again, "marks_given/1", INSIDE))).refused == ()


def test_an_act_is_inside_one_of_the_same_student_and_not_inside_another_that_is_inside(small_centre: Centre) -> None:
    c = small_centre
    host, inside = host_and_inside(c)
    missing = take(c.ledger, begun(inside)).refused[0][1]
    assert missing.startswith("There is no such attempt that this one was seen in")
    take(c.ledger, [*begun(host, item(host, "marks_given/1", STROKE)), *begun(inside)])
    for change, told in (
        ({"within": inside["attempt"], "skill": "bo-unannounced"}, "add it to the attempt that this act belongs to"),
        ({"within": host["attempt"], "skill": HOST}, "of the same student in the same session only"),
        ({"within": host["attempt"], "session": c.sessions["pool-23"]}, "of the same student in the same session only"),
    ):
        fresh = {**inside, "attempt": new_id(), "sheet": new_id()}
        body = inside["opens"]["attempt"] | change
        ((_, said),) = take(c.ledger, [item(fresh, "attempt_opened/1", body)]).refused
        assert told in said
    other = {**inside, "attempt": new_id(), "sheet": new_id(), "student": {"id": c.zoe}}
    ((_, said),) = take(c.ledger, [item(other, "attempt_opened/1", inside["opens"]["attempt"])]).refused
    assert "of the same student in the same session only" in said


def test_the_course_page_says_inside_what_it_was_seen(small_centre: Centre) -> None:
    c = small_centre
    host, inside = host_and_inside(c)
    take(
        c.ledger,
        [*begun(host, item(host, "marks_given/1", STROKE)), *begun(inside, item(inside, "marks_given/1", INSIDE))],
    )
    take(c.ledger, [item(inside, "attempt_closed/1", {"how": "completed"})])
    seen = c.view()
    (attempt,) = skill_detail(c.ledger, seen, c.amaru, POOL_SKILL, seen.last_day).attempts
    assert attempt.head.endswith("seen within " + c.skill(HOST).title)
