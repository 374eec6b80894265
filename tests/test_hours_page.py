"""Hours of the demo centre: one number for each minute on every page and paper, the page, its charts, the command."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from centre_builder import Centre, seen_at
from click.testing import CliRunner
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course import sample
from course.actions import courses
from course.actions.pad import take
from course.answers.competency import competency_record
from course.answers.course_view import CourseView, view
from course.answers.hours import HoursAnswer, hours
from course.answers.missing import student_missing
from course.answers.session_times import session_times
from course.answers.student_page import student_page
from course.commands import main
from course.places import SCREENS
from course.screens import charts, hours_charts, serve
from course.storage.ledger import Ledger, open_ledger
from course.words import SpanRole


@pytest.fixture(scope="module")
def demo(loaded: sample.Loaded) -> Iterator[tuple[Ledger, sample.Loaded]]:
    with open_ledger(loaded.folder) as ledger:
        yield ledger, loaded


@pytest.fixture(scope="module")
def seen(demo: tuple[Ledger, sample.Loaded]) -> CourseView:
    return view(demo[0], demo[1].course)


@pytest.fixture(scope="module")
def answer(seen: CourseView) -> HoursAnswer:
    return hours(seen, seen.last_day)


def test_minutes_agree_on_hours_today_student_and_the_printed_record(
    demo: tuple[Ledger, sample.Loaded], seen: CourseView, answer: HoursAnswer
) -> None:
    for student in answer.students:
        bars = {bar.word: (bar.have, bar.required) for bar in student.bars}
        record = competency_record(demo[0], seen, student.student, seen.last_day)
        assert record.hours
        for line in record.hours:
            if line.required_minutes is not None:
                assert bars[line.kind] == (line.minutes, line.required_minutes)
        missing = student_missing(seen, student.student, seen.last_day)
        assert all(bars[one.word] == (one.minutes, one.required) for one in missing.hours if one.required)
        page = student_page(seen, student.student, seen.last_day)
        kinds = {one.kind for one in missing.hours}
        assert len(page.hours) == len([bar for bar in student.short if bar.kind in kinds])


def test_columns_add_up_by_kind_and_by_unit(answer: HoursAnswer) -> None:
    for line in answer.totals:
        assert (line.session, line.loop, line.bailout) == tuple(sum(kind[n] for kind in line.kinds) for n in (1, 2, 3))
    assert sum(unit.loop for unit in answer.units) == sum(line.loop for line in answer.totals)
    assert sum(unit.bailout for unit in answer.units) == sum(line.bailout for line in answer.totals)


def test_the_demo_says_who_is_short_and_where_the_ratio_was_broken(answer: HoursAnswer) -> None:
    assert answer.sentence == (
        "Halima Corvanne: in water on the loop short by 25 min. The ratio was broken once: Thu 22 Oct, Pool 1: basics, "
        "mouthpiece, Group P: 4 to 1, limit 3, for 14 minutes, 15:06 to 15:20: Lien Farrowby left."
    )
    halima = next(one for one in answer.students if one.name == "Halima Corvanne")
    words = {bar.kind: bar.words for bar in halima.bars}
    assert words["in_water_on_loop"] == "498 of 523 min: short by 25 min"
    assert words["theory"] == "420 of 417 min: met"
    assert words["open_water_dives"] == "7 of 7 of at least 37 min under water: met"
    totals = {(line.name, line.role): line.session for line in answer.totals}
    assert totals["Ysolde Marrick", "candidate"] == 350
    assert totals["Odo Penhallick", "technician"] == 160
    assert len(answer.notes) == 1
    assert "Bruno Ashkenar is in two places" in answer.notes[0]
    assert "16:30 to 17:00, 30 min" in answer.notes[0]


def test_a_session_is_drawn_minute_by_minute_and_may_be_taken_away(
    demo: tuple[Ledger, sample.Loaded], seen: CourseView
) -> None:
    times = session_times(seen, demo[1].sessions["pool-1"])
    assert times.sentence.endswith("15:06 to 15:20: Lien Farrowby left. No break in Group Q.")
    svg = charts.svg_of(hours_charts.session_chart(times), times.sentence)
    assert "14 min" in svg
    assert "assisting, 13:30 to 15:06, 96 min" in svg
    assert charts.png_of(hours_charts.session_chart(times), times.sentence).startswith(b"\x89PNG")
    assert '"Lien Farrowby","assisting"' in times.csv()
    late = session_times(seen, demo[1].sessions["night-bench"])
    assert (late.length, late.twice) == (160, "00:00 to 01:00")
    assert [word for _, word in late.ticks][-2:] == ["00:00 again", "00:30 again"]


def test_the_command_tells_one_student_and_ends_with_1_while_something_is_short(
    demo: tuple[Ledger, sample.Loaded],
) -> None:
    def run(*more: str) -> tuple[int, str]:
        result = CliRunner().invoke(main, ["hours", str(demo[1].folder), *more])
        return result.exit_code, result.stdout

    code, told = run("Halima")
    assert code == 1
    assert "in water on the loop: 498 of 523 min: short by 25 min" in told
    assert "Amaru" not in told
    code, told = run("--json", "--as-of", "2026-10-21")
    plain = json.loads(told)
    assert (code, plain["breaks"]) == (1, [])
    assert plain["totals"][0]["session"] == 420 - 0 + 260


def words(app: AppTest) -> str:
    parts = [*app.title, *app.subheader, *app.markdown, *app.caption, *app.warning, *app.error, *app.success]
    return "\n".join(str(part.value) for part in parts).replace("\\", "")


def opened(c: Centre) -> AppTest:
    serve.start(c.ledger, take)
    app = app_at("hours")
    app.query_params["session"] = c.sessions["pool-22"]
    app.run()
    assert not app.exception
    return app


def press(app: AppTest, label: str) -> AppTest:
    next(button for button in app.button if button.label == label).click()
    app.run()
    assert not app.exception
    return app


def test_an_empty_course_draws_nothing_and_says_so(small_centre: Centre) -> None:
    told = words(opened(small_centre))
    assert "nobody's time is entered yet" in told
    assert "Nobody's time in the water is written down yet." in told


def test_a_table_of_the_water_is_typed_saved_and_refused_from_the_page(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch
) -> None:
    c = small_centre
    monkeypatch.setattr("course.actions.times.now", lambda: seen_at(25).moment)
    app = opened(c)
    next(group for group in app.pills if group.label == "Who are you?").set_value(c.lead)
    app.run()
    boxes = [next(box for box in app.text_input if box.label == label) for label in ("In", "Out", "Loop min")]
    for box, text in zip(boxes, ("13:50", "15:00", "71"), strict=True):
        box.set_value(text)
    app = press(app, "Save the table")
    assert "71 minutes on loop and bailout, but only 70 in the water" in words(app)
    next(box for box in app.text_input if box.label == "Loop min").set_value("64")
    assert "1 line saved." in words(press(app, "Save the table"))
    (water,) = c.view().sessions[c.sessions["pool-22"]].water
    assert (water.person, water.loop_minutes, water.unit) == (c.amaru, 64, c.unit_a)


def test_a_break_is_shown_with_its_attempts_and_names_with_markup_stand_as_they_are(small_centre: Centre) -> None:
    c, pool = small_centre, small_centre.sessions["pool-22"]
    span = courses.span(
        c.lead, session=pool, person=c.zoe, role=SpanRole.STUDENT, start=seen_at(22, 14), end=seen_at(22, 14, 30)
    )
    courses.record_times(c.ledger, c.lead, [span])
    c.enter("pool-22", student=c.zoe, observed=seen_at(22, 14, 10))
    app = opened(c)
    told = words(app)
    assert "1 student and no instructor for 30 minutes, 14:00 to 14:30" in told
    assert any("1 attempt in the break of 30 minutes" in box.label for box in app.expander)
    assert "<i>O'Brien" in told


def test_the_page_is_thin() -> None:
    page = Path(SCREENS).parent.parent / "pages" / "hours.py"
    assert len(page.read_text("utf-8").splitlines()) <= 60
