"""Oxygen exposure of a course's days: by set point, for students and staff, in any 24 hours, against the requirements.

NOAA Diving Manual, 4th edition (2001), seen in stored copies: 0.7 ata 570 min in both rows; 1.3 ata 180 min single and
210 min in 24 h. Units of lung exposure: Bardin and Lambertsen 1970, exponent 5/6.
"""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest
from centre_builder import LAST_DAY, Centre, seen_at
from click.testing import CliRunner
from finding_examples import in_water, set_clock, there
from opened_page import app_at
from streamlit.testing.v1 import AppTest
from test_actions import refused

from course.actions.pad import take
from course.actions.set_points import From, note_set_point, take_back_set_point
from course.answers.oxygen import OxygenAnswer, oxygen
from course.answers.set_points import set_points
from course.commands import main
from course.hours.oxygen import DayExposure, exposure_days
from course.moments import observed_at
from course.record.facts import Session
from course.screens import serve
from course.standards.profile import OxygenRule

ATA = 1.01325


@pytest.fixture(autouse=True)
def _after_the_course(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch)


def note(c: Centre, session: str, bar: str, **more: Any) -> None:
    note_set_point(c.ledger, more.pop("by", c.lead), c.sessions[session], bar, seen_at(25), **more)


def days(c: Centre, person: str, assumed: str | None = None) -> tuple[DayExposure, ...]:
    return exposure_days(c.view().sessions.values(), person, assumed)


def answer(c: Centre, people: list[str] | None = None) -> OxygenAnswer:
    return oxygen(c.view(), LAST_DAY, people)


def wet(c: Centre, session: str, person: str, minutes: int, **more: Any) -> None:
    in_water(c, c.sessions[session], person, loop=minutes, **more)


# --- counted ---------------------------------------------------------------------------------------------------------


def test_a_pool_day_counts_at_the_set_point_although_it_was_never_deep(small_centre: Centre) -> None:
    """180 min at 0.7 ata: 100 x 180 / 570 = 31.58 %, and 180 x 0.4^(5/6) = 83.9 OTU; air at 4 m would have 0.29 bar."""
    wet(small_centre, "pool-22", small_centre.amaru, 180, max_depth_m="4")
    note(small_centre, "pool-22", str(0.7 * ATA)[:8])
    (day,) = days(small_centre, small_centre.amaru)
    assert day.minutes == 180
    assert day.assumed_minutes == 0
    assert day.cns_single == pytest.approx(31.58, abs=0.01)
    assert day.cns_24h == pytest.approx(31.58, abs=0.01)
    assert day.otu_24h == pytest.approx(83.9, abs=0.1)


def test_staff_who_were_in_the_water_have_lines_of_their_own(small_centre: Centre) -> None:
    wet(small_centre, "pool-22", small_centre.amaru, 60)
    wet(small_centre, "pool-22", small_centre.lead, 90)
    told = answer(small_centre)
    assert [one.name for one in told.lines] == ["Amaru Tendelle", "Tamsin Okoro-Vale"]


def test_several_sessions_of_a_day_add_up_and_bailout_minutes_count_too(small_centre: Centre) -> None:
    for minutes in (40, 30):
        wet(small_centre, "pool-22", small_centre.amaru, minutes, bailout_minutes=5)
    (day,) = days(small_centre, small_centre.amaru, "1.3")
    assert day.minutes == 80
    assert day.cns_single == pytest.approx(100 * 80 / 180)
    assert day.cns_24h == pytest.approx(100 * 80 / 210)


def test_24_hours_roll_over_midnight_and_are_not_the_calendar_day(small_centre: Centre) -> None:
    """60 min in the evening of the 24th, 60 next noon: 120 within 24 h on the 25th, 60 on the 24th."""
    c = small_centre
    evening = observed_at(seen_at(24, 20).moment, "Atlantic/Azores", "minute")
    noon = observed_at(seen_at(25, 12).moment, "Atlantic/Azores", "minute")
    wet(c, "open-24", c.amaru, 60, entered=evening, left=observed_at(evening.moment + timedelta(hours=1), evening.zone))
    wet(c, "open-25", c.amaru, 60, entered=noon, left=observed_at(noon.moment + timedelta(hours=1), noon.zone))
    first, second = days(c, c.amaru, "1.3")
    assert first.cns_24h == pytest.approx(100 * 60 / 210)
    assert second.cns_24h == pytest.approx(100 * 120 / 210)
    assert second.cns_single == pytest.approx(100 * 60 / 180)


def test_of_own_and_shared_set_points_ones_own_holds_and_a_later_note_takes_its_place(small_centre: Centre) -> None:
    c = small_centre
    for person in (c.amaru, c.zoe):
        wet(c, "pool-22", person, 60)
    note(c, "pool-22", "0.7")
    note(c, "pool-22", "1.0", person=c.zoe)
    assert days(c, c.amaru)[0].set_points == ("0.7",)
    assert days(c, c.zoe)[0].set_points == ("1.0",)
    note(c, "pool-22", "0.9")
    assert days(c, c.amaru)[0].set_points == ("0.9",)
    fact = c.ledger.fact("session", c.sessions["pool-22"])
    assert isinstance(fact, Session)
    assert {(one.person, one.bar) for one in fact.set_points} == {(None, "0.9"), (c.zoe, "1.0")}


def ramp(c: Centre, person: str | None = None) -> None:
    """0.7 bar at first, to 1.3 within 4 min from 14:21, over an hour from 14:00."""
    note(c, "pool-22", "0.7", person=person)
    note(c, "pool-22", "1.3", person=person, since=From(seen_at(22, 14, 21), 4))


def hour(c: Centre, *people: str) -> None:
    for person in people:
        wet(c, "pool-22", person, 60, entered=seen_at(22), left=seen_at(22, 15))


def standing(c: Centre) -> list[str]:
    return [line.words for line in set_points(c.view(), c.sessions["pool-22"]).notes]


def test_a_ramp_is_told_and_counted_for_student_and_instructor_alike(small_centre: Centre) -> None:
    """0.7 and 1.3 bar are read at the 0.7 and 1.3 ata lines: 100 x 24 h row; less than level, more than without."""
    c = small_centre
    hour(c, c.amaru, c.lead)
    ramp(c)
    one, other = answer(c).lines
    assert one.set_points == "0.7 bar at first, to 1.3 bar within 4 min from 14:21"
    assert (one.cns_single, one.cns_24h, one.otu_24h) == (other.cns_single, other.cns_24h, other.otu_24h)
    told = days(c, c.amaru)[0]
    assert 100 * (25 / 570 + 35 / 180) < (told.cns_single or 0) < 100 * (21 / 570 + 39 / 180)
    assert "60 min at 0.7 bar at first, to 1.3 bar within 4 min from 14:21: " in one.sentence
    (first, second) = (event.kind for event in list(c.ledger.events())[-2:])
    assert (first, second) == ("set_point_noted/1", "set_point_noted/2")


def test_a_note_takes_the_place_of_the_same_moment_or_of_one_that_is_named_and_can_be_taken_back(
    small_centre: Centre,
) -> None:
    c = small_centre
    ramp(c)
    note(c, "pool-22", "1.2", since=From(seen_at(22, 14, 21), 3))
    at_first, later = standing(c)
    assert later == "1.2 bar within 3 min from 14:21: everybody without one of their own"
    wrong = set_points(c.view(), c.sessions["pool-22"]).notes[1].event
    note(c, "pool-22", "1.2", since=From(seen_at(22, 14, 31)), instead_of=wrong)
    assert standing(c) == [at_first, "1.2 bar from 14:31: everybody without one of their own"]
    take_back_set_point(
        c.ledger, c.lead, c.sessions["pool-22"], set_points(c.view(), c.sessions["pool-22"]).notes[1].event, "misread"
    )
    assert standing(c) == [at_first, later]


def test_the_picture_is_drawn_for_everybody_and_for_who_has_notes_of_their_own(small_centre: Centre) -> None:
    c = small_centre
    hour(c, c.amaru, c.zoe)
    ramp(c)
    note(c, "pool-22", "1.0", person=c.zoe)
    (shared,) = set_points(c.view(), c.sessions["pool-22"]).pictures
    assert shared.line == ((0, 0.7), (21, 0.7), (21, 0.7), (25, 1.3), (25, 1.3), (60, 1.3))
    assert (shared.begins, shared.wet) == ("14:00", ((0, 60),))
    assert shared.sentence.startswith("Set point held, everybody without one of their own: 0.7 bar at first, to 1.3")
    note(c, "pool-22", "0.7", person=c.zoe, since=From(seen_at(22, 14, 30)))
    assert [one.whose for one in set_points(c.view(), c.sessions["pool-22"]).pictures][1:] == [c.view().name(c.zoe)]


# --- not counted -----------------------------------------------------------------------------------------------------


def test_without_a_set_point_there_is_a_reason_and_no_number(small_centre: Centre) -> None:
    wet(small_centre, "pool-22", small_centre.amaru, 60)
    (day,) = days(small_centre, small_centre.amaru)
    assert (day.cns_single, day.cns_24h, day.otu_24h) == (None, None, None)
    assert day.reason.startswith("No set point was noted")


def test_times_of_one_session_over_each_other_count_one_after_the_other(small_centre: Centre) -> None:
    c = small_centre
    at = seen_at(22)
    for _ in range(2):
        wet(c, "pool-22", c.amaru, 60, entered=at, left=seen_at(22, 15))
    (day,) = days(c, c.amaru, "1.3")
    assert day.minutes == 120
    assert day.cns_single == pytest.approx(100 * 120 / 180)


def test_who_was_there_without_a_time_in_the_water_is_named(small_centre: Centre) -> None:
    there(small_centre, small_centre.sessions["pool-22"], small_centre.amaru, seen_at(22), seen_at(22, 15))
    assert "not counted: Amaru Tendelle (1 session)" in " ".join(answer(small_centre).unwritten)


@pytest.mark.parametrize(
    ("session", "bar", "by", "said"),
    [
        ("pool-22", "13", "lead", "is no set point: write 0.16 to 1.6 bar"),
        ("pool-22", "high", "lead", "is no set point"),
        ("pool-22", "1.7", "lead", "is no set point"),
        ("dry-21", "0.7", "lead", "is not in the water"),
        ("pool-22", "0.7", "amaru", "run the day"),
        ("pool-22", "NaN", "lead", "is no set point"),
        ("pool-22", "-0.7", "lead", "is no set point"),
    ],
)
def test_what_cannot_be_a_set_point_is_refused(
    small_centre: Centre, session: str, bar: str, by: str, said: str
) -> None:
    assert said in refused(small_centre, lambda c: note(c, session, bar, by=getattr(c, by)))


def test_a_time_that_cannot_be_is_refused_and_changes_nothing(small_centre: Centre) -> None:
    def since(hour: int, minutes: int) -> str:
        return refused(small_centre, lambda c: note(c, "pool-22", "1.3", since=From(seen_at(22, hour), minutes)))

    assert "08:00 lies far outside; Pool Of The 22 was planned from 13:30 to 16:20." in since(8, 0)
    assert "-1 minutes to get there cannot be: write 0, where it was at once, to 240." in since(14, -1)
    assert "241 minutes to get there cannot be" in since(14, 241)
    absent = "0192d000-0000-7000-8000-0000000000ff"
    named = refused(small_centre, lambda c: note(c, "pool-22", "1.3", instead_of=absent))
    assert named == "There is no such set point in this session. Nothing was changed."


def test_what_lies_outside_of_the_time_in_the_water_is_told_with_whom_it_is_not_counted_for(
    small_centre: Centre,
) -> None:
    c = small_centre
    hour(c, c.amaru, c.zoe)
    ramp(c)
    before = answer(c)
    note(c, "pool-22", "1.5", since=From(seen_at(22, 15, 10)))
    told = answer(c)
    (line,) = told.unwritten
    assert line.startswith("Not counted, 22 Oct 2026: 1.5 bar from 15:10: Amaru Tendelle and ")
    assert line.endswith(" were not in the water then.")
    assert [one.cns_24h for one in told.lines] == [one.cns_24h for one in before.lines]
    head, first, *_ = told.csv().splitlines()
    assert head.endswith('"reason","not_counted","source","validity"')
    assert "1.5 bar from 15:10" in first
    assert told.source in first
    assert told.validity in first


# --- told ------------------------------------------------------------------------------------------------------------


def test_numbers_are_rounded_up_once_with_what_was_assumed_and_the_source(small_centre: Centre) -> None:
    """100 x 61 / 210 = 29.047... % in the 24 h row."""
    wet(small_centre, "pool-22", small_centre.amaru, 61)
    told = answer(small_centre)
    assert told.lines[0].cns_24h == "29.1 %"
    assert told.lines[0].set_points == "1.3 bar (61 min assumed)"
    assert "the requirements assume 1.3 bar" in " ".join(told.cautions)
    assert "next line up" in " ".join(told.cautions)
    assert "where a set point without a time was changed, note the highest" in " ".join(told.cautions)
    assert "NOAA" in told.source
    assert "to 1.6 ata, above which there is no value" in told.validity
    assert all(part in told.text() for part in (f"  source: {told.source}", f"  valid: {told.validity}"))
    assert told.sentence == (
        "1 day in the water, all within the table's limit; the requirements hold no limit of their own against them."
    )


def test_more_than_all_of_the_table_leads_and_is_marked_although_no_limit_is_required(small_centre: Centre) -> None:
    """181 of 180 minutes at 1.3 ata."""
    for minutes in (100, 81):
        wet(small_centre, "pool-22", small_centre.amaru, minutes)
    told = answer(small_centre)
    assert told.sentence == "More than all of the table's limit: Amaru Tendelle on 22 Oct 2026."
    assert told.lines[0].past_table
    assert "Past the table's limit" in told.lines[0].sentence
    assert told.lines[0].over == ()


def test_over_the_requirements_limit_leads_the_answer(small_centre: Centre) -> None:
    for _ in range(2):
        wet(small_centre, "pool-22", small_centre.amaru, 100)
    seen = small_centre.view()
    rule = OxygenRule(assumed_set_point_bar="1.3", cns_percent_24h=80)
    seen.__dict__["profile"] = seen.profile.model_copy(update={"oxygen": rule})
    told = oxygen(seen, LAST_DAY)
    assert told.sentence == "Over the requirements' limit: Amaru Tendelle on 22 Oct 2026."
    assert told.lines[0].over == ("95.3 %, 80 % asked at most in 24 h",)


def test_the_command_and_the_page_tell_it_beside_the_hours(small_centre: Centre) -> None:
    wet(small_centre, "pool-22", small_centre.amaru, 61, entered=seen_at(22), left=seen_at(22, 15, 1))
    serve.start(small_centre.ledger, take)
    app = app_at("hours")
    app.run()
    assert not app.exception
    assert any("29.1 %" in str(one.proto.body) for one in app.get("html"))
    at = small_centre.sessions["pool-22"]
    next(one for one in app.button_group if one.label == "Who are you?").set_value(small_centre.lead)
    next(one for one in app.selectbox if one.label == "Session").set_value(at).run()
    _type(app, f"set-point-{at}", bar="1.0")
    _type(app, f"set-point-{at}", bar="1.3", begins="14:20", over="x")
    assert any("Minutes to get there: write whole minutes" in str(one.value) for one in app.warning)
    _type(app, f"set-point-{at}", bar="1.3", begins="14:20", over="4")
    assert not app.exception
    assert any("Set point held, everybody" in str(one.value) for one in app.markdown)
    folder = str(small_centre.ledger.folder)
    told = CliRunner().invoke(main, ["hours", folder, "--json"])
    plain = json.loads(told.stdout)
    assert plain["oxygen"]["lines"][0]["set_points"] == "1.0 bar at first, to 1.3 bar within 4 min from 14:20"


def _type(app: AppTest, form: str, bar: str, begins: str = "", over: str = "") -> None:
    next(one for one in app.text_input if one.label.startswith("Set point that was held")).input(bar)
    app.text_input(key=f"{form}-from").input(begins)
    app.text_input(key=f"{form}-over").input(over)
    next(one for one in app.button if one.label == "Note it").click()
    app.run()
