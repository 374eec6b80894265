"""Charts and their tables: steps against attempts, a class by place; told in words, to take away, without network."""

from __future__ import annotations

import csv
import io
import struct
from datetime import date
from typing import Any

import pytest
from centre_builder import CRITICAL_ERROR, LAST_DAY, POOL_SKILL, Centre, critical_mark, seen_at, sheet_of
from hypothesis import given
from hypothesis import strategies as st
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course.actions import settling
from course.actions.pad import take
from course.answers.class_practice import class_csv, class_practice
from course.answers.csv_text import csv_text
from course.answers.step_map import StepMap, step_map
from course.record.events import MarkGiven
from course.screens import charts, serve
from course.words import Closing, Mark


def drawn(centre: Centre, skill: str = POOL_SKILL) -> StepMap:
    return step_map(centre.view(), centre.amaru, skill, LAST_DAY)


def marks_of(found: StepMap, step: str) -> list[tuple[str, Mark, str, bool]]:
    return [(c.attempt, c.mark, c.letter, c.critical) for c in found.cells if c.step.startswith(step)]


def rows(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))


# --- the map ---


def test_nobody_attempted_draws_nothing_and_says_so(small_centre: Centre) -> None:
    found = drawn(small_centre)
    assert (found.finding, found.cells) == ("No attempt to draw yet.", ())


def test_each_mark_has_its_own_shape_letter_and_words(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    small_centre.enter("pool-22", MarkGiven(step="co-hold", mark=Mark.LEFT_OUT))
    small_centre.enter("pool-23", MarkGiven(step="co-hold", mark=Mark.PROMPTED))
    small_centre.enter("pool-23", MarkGiven(step="co-out", mark=Mark.NOT_SEEN))
    found = drawn(small_centre)
    assert found.attempts == ("1 · 22 Oct", "2 · 22 Oct", "3 · 23 Oct", "4 · 23 Oct")
    assert [mark for _, mark, _, _ in marks_of(found, "3 ")] == [Mark.ERROR, Mark.DONE, Mark.DONE, Mark.NOT_SEEN]
    assert marks_of(found, "3 ")[0] == ("1 · 22 Oct", Mark.ERROR, "a", True)
    assert [mark for _, mark, _, _ in marks_of(found, "4 ")] == [Mark.DONE, Mark.LEFT_OUT, Mark.PROMPTED, Mark.DONE]


def test_a_map_with_nothing_wrong_says_so(small_centre: Centre) -> None:
    small_centre.enter("pool-22")
    assert drawn(small_centre).finding == "No step went wrong in 1 attempt."


def test_one_attempt_with_an_error_is_too_few_to_say(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    assert drawn(small_centre).finding.startswith(
        "“Only then take it out of the mouth” went wrong in 1 of 1, at attempt 1; 1 critical: too few to say."
    )


def test_all_void_draws_nothing(small_centre: Centre) -> None:
    small_centre.enter("pool-22", closing=Closing.VOID, reason="A real emergency on the surface.")
    assert drawn(small_centre).cells == ()


def test_of_two_sheets_the_stricter_is_drawn_until_a_joint_line_settles_it(small_centre: Centre) -> None:
    """Hard case 3."""
    attempt = small_centre.enter(
        "pool-22", others=((small_centre.second, sheet_of(small_centre.skill(), critical_mark())),)
    )
    assert marks_of(drawn(small_centre), "3 ")[0][1:] == (Mark.ERROR, "a", True)
    settling.agree_joint_line(
        small_centre.ledger, small_centre.lead, attempt, MarkGiven(step=CRITICAL_ERROR[0], mark=Mark.DONE),
        [small_centre.lead, small_centre.second], "The lever was shut; seen again on the film.", seen_at(22, 17),
    )  # fmt: skip
    assert marks_of(drawn(small_centre), "3 ")[0][1:] == (Mark.DONE, "", False)


def test_the_map_is_data_too_one_line_a_step_and_attempt(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    head, *lines = rows(drawn(small_centre).csv())
    assert head == ["step", "attempt", "mark", "letter", "critical", "in words"]
    assert len(lines) == len(small_centre.skill().steps)
    assert lines[2][:5] == ["3 Only then take it out of the mouth", "1 · 22 Oct", "error", "a", "yes"]


# --- pictures ---


def test_a_picture_carries_its_finding_and_its_words_and_asks_no_network(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    found = drawn(small_centre)
    svg = charts.svg_of(charts.step_map_chart(found), found.finding)
    assert "went wrong in 1 of 1" in svg
    assert "1 · 22 Oct" in svg
    assert 'font-family="Fira Sans"' in svg
    assert "<image" not in svg
    assert "url(http" not in svg


def test_a_picture_that_is_as_wide_as_the_screen_keeps_the_height_of_its_rows(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Streamlit would fit the height too, and take its title and axis from the rows: three names lay on each other."""
    small_centre.enter("pool-22")
    map_, shown = drawn(small_centre), list[Any]()
    monkeypatch.setattr(charts.st, "altair_chart", lambda chart, **_: shown.append(chart.to_dict()))
    monkeypatch.setattr(charts, "offer", lambda *_: None)
    chart = charts.step_map_chart(map_)
    charts.show(chart, map_.finding, "", "steps", narrow=(chart,))
    charts.show(chart, map_.finding, "", "steps")
    assert [one.get("autosize") for one in shown] == [{"type": "fit-x", "contains": "padding"}, None]


def test_a_png_is_a_png(small_centre: Centre) -> None:
    small_centre.enter("pool-22")
    found = drawn(small_centre)
    png = charts.png_of(charts.step_map_chart(found), found.finding)
    assert png.startswith(b"\x89PNG")
    width, height = struct.unpack(">II", png[16:24])
    assert min(width, height) > 200


def test_every_mark_is_told_by_shape_and_no_two_are_alike(small_centre: Centre) -> None:
    """Colour never alone: the chart's shapes differ by their lines."""
    small_centre.enter("pool-22")
    spec = charts.step_map_chart(drawn(small_centre)).to_dict()
    scale = spec["layer"][0]["encoding"]["shape"]["scale"]
    assert scale["domain"] == ["done", "error", "prompted", "not seen", "left out"]
    assert len(set(scale["range"])) == 5


def test_a_class_is_drawn_by_place_and_few_attempts_have_no_square(small_centre: Centre) -> None:
    for _ in range(3):
        small_centre.enter("pool-22", critical_mark())
    small_centre.enter("dry-21", critical_mark())
    practice = class_practice(small_centre.view(), LAST_DAY)
    spec = charts.class_chart(practice.skills, practice.sentence).to_dict()
    values = {row["where"]: row for row in _values(spec)}
    assert values["in the pool"]["told"] == "3 of 3"
    assert values["in the pool"]["share"] == 1
    assert values["on the bench"]["told"] == "1 of 1"
    assert values["on the bench"]["share"] == 0
    assert [line[2:6] for line in rows(class_csv(practice))[1:]] == [
        ["on the bench", "1", "1", "1"],
        ["in the pool", "3", "3", "3"],
    ]


def _values(spec: dict[str, Any]) -> list[dict[str, Any]]:
    """The rows of a chart, wherever Altair put them."""
    if "datasets" in spec:
        return list(next(iter(spec["datasets"].values())))
    return list((spec.get("data") or spec["layer"][0]["data"])["values"])


# --- tables ---


@given(st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\r\n\0"), max_size=30))
def test_any_text_comes_back_from_the_table_and_none_begins_as_a_formula(text: str) -> None:
    """Read back by Python's own csv module; one apostrophe at most stands before it."""
    ((cell,),) = rows(csv_text(("text",), [(text,)]))[1:]
    assert cell in (text, f"'{text}")
    assert not cell.lstrip().startswith(("=", "+", "-", "@"))


def test_numbers_and_gaps_are_written_plainly() -> None:
    assert rows(csv_text(("a", "b", "c"), [(3, 0.5, None)]))[1] == ["3", "0.5000", ""]


# --- pages ---


def page(centre: Centre, name: str, **query: str) -> AppTest:
    serve.start(centre.ledger, take)
    app = app_at(name)
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    told = [*app.title, *app.subheader, *app.markdown, *app.caption]
    return "\n".join([str(part.value) for part in told] + [box.label for box in app.expander]).replace("\\", "")


def test_the_class_page_opens_with_where_it_is_weakest(small_centre: Centre) -> None:
    for _ in range(3):
        small_centre.enter("pool-22", critical_mark())
    told = words(page(small_centre, "class.py"))
    assert "The class is weakest at “Close before it leaves the mouth”: 3 of 3 went wrong, 3 critical" in told
    assert "changes no standing" in told
    assert "nobody was seen at it" in told
    assert "In numbers: Open as it leaves the mouth" in told
    assert "Assumed: " in told


def test_the_class_page_without_attempts_says_what_there_is_not(small_centre: Centre) -> None:
    assert "Nobody was seen at anything yet" in words(page(small_centre, "class.py"))


def test_a_skill_of_a_student_shows_its_map_under_its_finding(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    told = words(page(small_centre, "course.py", student=small_centre.amaru, skill=POOL_SKILL))
    assert "Step by step:** “Only then take it out of the mouth” went wrong in 1 of 1" in told


def test_a_skill_nobody_tried_shows_no_map(small_centre: Centre) -> None:
    assert "Step by step" not in words(page(small_centre, "course.py", student=small_centre.amaru, skill=POOL_SKILL))


@pytest.mark.parametrize("as_of", [date(2026, 10, 21), LAST_DAY])
def test_a_map_is_as_of_a_day(small_centre: Centre, as_of: date) -> None:
    small_centre.enter("pool-22")
    found = step_map(small_centre.view(), small_centre.amaru, POOL_SKILL, as_of)
    assert len(found.attempts) == (as_of == LAST_DAY)
