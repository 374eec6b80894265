"""Bad input of days and times, each with its exact sentence: through the act that a command or form calls, and by page
or command. Nothing is changed by what is refused.

Zone facts: the IANA time zone database as Python's zoneinfo has it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from centre_builder import ZONE, Centre, seen_at
from click.testing import CliRunner
from streamlit.testing.v1 import AppTest
from test_hours_page import opened, press, words

from course.actions import amending, courses, presence, times
from course.actions import day as days
from course.actions.drafting import body, draft
from course.actions.times import WaterRow
from course.answers.hours import hours
from course.answers.origin_of import minute_origin
from course.commands import main
from course.errors import CourseError, RefusedError
from course.hours.minutes import learner_minutes
from course.moments import Observed, clock_time_near, from_wall_clock, observed_at, read_clock, training_day
from course.places import RUBRICS
from course.record.events import Withdrawn
from course.record.facts import Session
from course.words import SpanRole

POOL = "pool-22"


@pytest.fixture(autouse=True)
def _late_in_the_week(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever the machine's clock says."""
    for module in ("times", "courses", "presence"):
        monkeypatch.setattr(f"course.actions.{module}.now", lambda: seen_at(26).moment)


def refusal(c: Centre, act: Callable[[], object]) -> str:
    """The sentence of a refusal; nothing came into the ledger."""
    before = c.count()
    with pytest.raises(CourseError) as told:
        act()
    assert c.count() == before
    return told.value.sentence


def enter(c: Centre, start: Observed, end: Observed, person: str = "", session: str = "", **more: object) -> str:
    return times.enter_time(
        c.ledger,
        c.lead,
        session or c.sessions[POOL],
        person or c.amaru,
        start,
        end,
        **more,  # type: ignore[arg-type]
    )


def typed(c: Centre, came: str, left: str, person: str = "", role: SpanRole | None = None, **more: str) -> AppTest:
    """A whole time typed on Hours; further fields by their labels."""
    app = opened(c)
    next(group for group in app.pills if group.label == "Who are you?").set_value(c.lead).run()
    key = next(box.key for box in app.text_input if str(box.key).endswith("a new time-in"))
    app.text_input(key=key).set_value(came)
    app.text_input(key=str(key).removesuffix("-in") + "-out").set_value(left)
    who = next(box for box in app.selectbox if box.label == "Who")
    who.set_value(person or c.amaru)
    if role:
        next(box for box in app.selectbox if box.label == "As").set_value(role)
    for label, value in more.items():
        next(box for box in app.selectbox if box.label.startswith(label)).set_value(value)
    return press(app, "Enter the time")


# --- a span that cannot be ---

SPANS = [
    (
        "an end before its start", (15, 0), (14, 0),
        "Amaru Tendelle: nobody leaves before they came (15:00 to 14:00). Nothing was changed.",
    ),
    (
        "an end at its start", (15, 0), (15, 0),
        "Amaru Tendelle: nobody leaves before they came (15:00 to 15:00). Nothing was changed.",
    ),
    (
        "outside its session", (9, 0), (10, 0),
        (
            "Amaru Tendelle: 09:00 to 10:00 lies outside; Pool Of The 22 was planned from 13:30 to 16:20. "
            "Nothing was changed."
        ),
    ),
    (
        "far over its session", (10, 0), (15, 0),
        (
            "Amaru Tendelle: 10:00 to 15:00 reaches far over it; Pool Of The 22 was planned from 13:30 to 16:20. If it "
            "went on so long, correct the session first. Nothing was changed."
        ),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("start", "end", "told"), [one[1:] for one in SPANS], ids=[one[0] for one in SPANS])
def test_a_time_that_cannot_be_is_refused_by_act_and_by_page(
    small_centre: Centre, start: tuple[int, int], end: tuple[int, int], told: str
) -> None:
    c = small_centre
    assert refusal(c, lambda: enter(c, seen_at(22, *start), seen_at(22, *end))) == told
    before = c.count()
    clocks = (f"{hour:02}:{minute:02}" for hour, minute in (start, end))
    assert told in words(typed(c, *clocks))
    assert c.count() == before


# --- one person in two roles at once ---


def test_a_person_in_two_roles_at_once_is_refused_by_act_and_by_page(small_centre: Centre) -> None:
    c = small_centre
    enter(c, seen_at(22, 13, 30), seen_at(22, 15), role=SpanRole.STUDENT)
    told = (
        "Amaru Tendelle is entered as student in Pool Of The 22 from 13:30 to 15:00 already, and nobody is there "
        "twice. Nothing was changed."
    )
    assert refusal(c, lambda: enter(c, seen_at(22, 14), seen_at(22, 16), role=SpanRole.ASSISTING)) == told
    assert told in words(typed(c, "14:00", "16:00", role=SpanRole.ASSISTING))
    other = courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Make-up", setting="class", start=seen_at(22, 14), end=seen_at(22, 16)
    )
    assert refusal(
        c, lambda: enter(c, seen_at(22, 14), seen_at(22, 16), session=other, role=SpanRole.ASSISTING)
    ) == (
        "Amaru Tendelle is entered as student in Pool Of The 22 from 13:30 to 15:00: nobody learns and teaches at "
        "once. Mend one of the two. Nothing was changed."
    )  # fmt: skip


def test_the_same_person_is_not_staff_and_student_of_one_group(small_centre: Centre) -> None:
    c = small_centre
    assert refusal(
        c,
        lambda: courses.make_group(
            c.ledger, c.lead, c.sessions[POOL], name="P", staff=[c.lead], students=[c.lead, c.amaru]
        ),
    ).startswith("Somebody is named as staff and as student of the same group.")


# --- a profile that names a skill that is gone ---


def test_a_profile_that_names_a_skill_that_is_gone_is_told_with_its_place_by_the_command(tmp_path: Path) -> None:
    for file in RUBRICS.glob("*.yaml"):
        text = file.read_text("utf-8")
        if "mp-close-out" in text and "kind: profiles" not in text:
            text = text.replace("id: mp-close-out", "id: mp-close-oat")
        (tmp_path / file.name).write_text(text, "utf-8")
    ran = CliRunner().invoke(main, ["standards", str(tmp_path)])
    assert ran.exit_code == 1
    assert "mp-close-out" in ran.stderr
    assert "Nothing was loaded" in ran.stderr


# --- a withdrawn session with attempts in it ---


def test_a_session_with_attempts_is_not_withdrawn_and_one_that_was_elsewhere_is_told_on_the_page(
    small_centre: Centre,
) -> None:
    c = small_centre
    c.enter(POOL)
    planned = next(e.id for e in c.ledger.events(c.sessions[POOL]) if e.kind == "session_planned/1")
    told = refusal(c, lambda: amending.withdraw(c.ledger, c.lead, planned, "It did not take place."))
    assert told == "Attempts were seen in this session. Withdraw or move these first. Nothing was changed."
    c.ledger.append([draft(c.lead, body(Withdrawn, thing=c.sessions[POOL], withdraws=planned, why="Not held."))])
    note = "1 attempt of a session that was withdrawn: kept, with no hours behind."
    assert note in hours(c.view(), c.view().last_day).notes
    assert note in words(opened(c))
    ran = CliRunner().invoke(main, ["hours", str(c.ledger.folder)])
    assert note in ran.stdout
    assert len(c.view().attempts) == 1


# --- a zone that does not exist ---


@pytest.mark.parametrize("zone", ["Europe/Lisboa", "Atlantic/Azores ", "../etc/passwd", "", "UTC+1"])
def test_a_zone_that_does_not_exist_is_refused_by_act_and_by_command(
    small_centre: Centre, tmp_path: Path, zone: str
) -> None:
    c = small_centre
    told = refusal(
        c,
        lambda: courses.make_course(
            c.ledger, c.lead, title="A", zone=zone, adoption=c.adoption, profile="ex-first-unit", revision="r1",
            first_day="2026-10-20", last_day="2026-10-25",
        ),
    )  # fmt: skip
    assert told.startswith(f"There is no time zone {zone!r}")
    ran = CliRunner().invoke(
        main, ["new", str(tmp_path / "c"), "--centre", "A", "--lead", "B", "--zone", zone]
    )  # fmt: skip
    assert ran.exit_code != 0
    assert "There is no time zone" in ran.stderr
    assert not (tmp_path / "c").exists()


# --- a day with 26 hours typed ---


def test_a_day_with_26_hours_is_refused_by_act_and_by_page(small_centre: Centre) -> None:
    c = small_centre
    with pytest.raises(RefusedError) as typed_so:
        read_clock("26:00")
    told = typed_so.value.sentence
    assert told == "'26:00' is no time of a day. Write hours and minutes, such as 13:30."
    before = c.count()
    assert told in words(typed(c, "13:30", "26:00"))
    assert c.count() == before
    row = WaterRow(person=c.amaru, loop_minutes=26 * 60)
    assert refusal(c, lambda: times.save_water(c.ledger, c.lead, c.sessions[POOL], [row])) == (
        "Amaru Tendelle: 1560 minutes on loop and bailout, but only 170 in the session (13:30 to 16:20). Nothing was "
        "changed."
    )


# --- a time that is still to come ---

COMING = "20:00 on 22 Oct 2026 is still to come: people come and go at the time at which they do. Nothing was changed."


@pytest.mark.parametrize("what", ["in", "in and out", "out", "move", "everyone in", "everyone out", "everyone left"])
def test_nobody_comes_or_goes_at_a_time_that_is_still_to_come(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    c, pool = small_centre, small_centre.sessions[POOL]
    group = courses.make_group(c.ledger, c.lead, pool, name="P", staff=[c.lead], students=[c.amaru])
    monkeypatch.setattr("course.actions.presence.now", lambda: seen_at(22, 15).moment)
    presence.sign_in(c.ledger, c.lead, pool, c.amaru, seen_at(22, 15), group=group)
    late = seen_at(22, 20)
    act = {
        "in": lambda: presence.sign_in(c.ledger, c.lead, pool, c.zoe, late),
        "in and out": lambda: presence.sign_in(c.ledger, c.lead, pool, c.zoe, seen_at(22, 14), end=late),
        "out": lambda: presence.sign_out(c.ledger, c.lead, pool, c.amaru, late),
        "move": lambda: presence.move(c.ledger, c.lead, pool, c.amaru, None, late),
        "everyone in": lambda: presence.everyone_in(c.ledger, c.lead, pool, group, late),
        "everyone out": lambda: presence.everyone_out(c.ledger, c.lead, pool, group, late),
        "everyone left": lambda: days.everyone_left(c.ledger, c.lead, pool, late),
    }[what]
    assert refusal(c, act) == COMING
    monkeypatch.setattr("course.actions.presence.now", lambda: late.moment)
    act()


@pytest.mark.parametrize("kind", ["span_recorded/1", "span_ended/1", "water_time_recorded/2"])
def test_a_time_is_corrected_only_where_it_is_checked_and_the_place_is_named(small_centre: Centre, kind: str) -> None:
    c, pool = small_centre, small_centre.sessions[POOL]
    presence.sign_in(c.ledger, c.lead, pool, c.amaru, seen_at(22, 13, 30))
    presence.sign_out(c.ledger, c.lead, pool, c.amaru, seen_at(22, 15))
    times.save_water(c.ledger, c.lead, pool, [WaterRow(person=c.amaru, loop_minutes=40)])
    found = {e.kind: e.id for e in c.ledger.events(pool)}
    water = kind.startswith("water")
    event = next(i for k, i in found.items() if k == kind or (water and k.startswith("water_time")))
    change = {"loop_minutes": 900} if water else {"start" if "recorded" in kind else "end": wire(seen_at(22, 23))}
    place = "time in the water" if water else "who was there"
    assert refusal(c, lambda: amending.correct(c.ledger, c.lead, event, "Slip.", change=change)) == (
        f"A time is mended on Hours, under “Enter or mend {place}”: there it is checked against its session, the clock "
        "and the person's other times. Nothing was changed."
    )


def wire(at: Observed) -> dict[str, object]:
    return at.model_dump(mode="json", exclude_none=True)


# --- clocks, by act and by page ---


def late_bench(c: Centre) -> str:
    """23:10 on Saturday to the second 00:50 on Sunday, as in the demo."""

    def at(text: str, *, second: bool | None = None) -> Observed:
        return observed_at(from_wall_clock(datetime.fromisoformat(text), ZONE, second_time=second), ZONE, "minute")

    return courses.plan_session(
        c.ledger, c.lead, course=c.course, title="Late bench", setting="dry", start=at("2026-10-24T23:10"),
        end=at("2026-10-25T00:50", second=True),
    )  # fmt: skip


@pytest.mark.parametrize(("showing", "minutes"), [("first showing", 100), ("second showing", 160)])
def test_the_ambiguous_hour_is_asked_on_the_page_and_kept_as_it_was_said(
    small_centre: Centre, showing: str, minutes: int
) -> None:
    """Elapsed time is true elapsed time; the whole of it belongs to the Saturday on which it began."""
    late = late_bench(small_centre)
    c = replace(small_centre, sessions={POOL: late})
    before = c.count()
    unsaid = typed(c, "23:10", "00:50")
    assert "came twice" in words(unsaid)
    assert c.count() == before
    app = typed(c, "23:10", "00:50", **{"Out: 00:00 to 01:00 came twice": showing})
    assert "The time is entered." in words(app)
    fact = c.ledger.fact("session", late)
    assert isinstance(fact, Session)
    assert learner_minutes([fact], c.amaru) == {"dry": minutes}
    assert training_day(fact.spans[0].start).isoformat() == "2026-10-24"
    told = minute_origin(c.ledger, c.view(), c.amaru, "dry", training_day(fact.start))
    assert told.sentence.startswith(f"{minutes} minutes dry")


@pytest.mark.parametrize(
    ("zone", "start", "end", "minutes"),
    [
        ("Asia/Kolkata", "2026-10-22T23:30", "2026-10-23T01:15", 105),
        ("Australia/Lord_Howe", "2026-10-04T00:30", "2026-10-04T03:00", 120),
        ("Australia/Lord_Howe", "2026-04-05T00:30", "2026-04-05T03:00", 180),
        ("Pacific/Apia", "2011-12-29T23:00", "2011-12-31T01:00", 120),
        ("Europe/Lisbon", "2026-03-29T00:30", "2026-03-29T03:00", 90),
    ],
)
def test_a_course_in_another_zone_counts_true_minutes_on_the_local_day_it_began(
    small_centre: Centre, monkeypatch: pytest.MonkeyPatch, zone: str, start: str, end: str, minutes: int
) -> None:
    """Through the acts of a course there; oracle: datetime arithmetic over the offsets that zoneinfo tells."""
    c = small_centre
    monkeypatch.setattr("course.actions.times.now", lambda: datetime(2026, 12, 1, tzinfo=ZoneInfo("UTC")))
    first, last = (datetime.fromisoformat(text) for text in (start, end))
    course = courses.make_course(
        c.ledger, c.lead, title="There", zone=zone, adoption=c.adoption, profile="ex-first-unit", revision="r1",
        first_day=start[:10], last_day=end[:10],
    )  # fmt: skip
    courses.enrol(c.ledger, c.lead, course, c.second, "candidate")  # type: ignore[arg-type]
    begin, finish = (observed_at(from_wall_clock(at, zone), zone, "minute") for at in (first, last))
    session = courses.plan_session(
        c.ledger, c.lead, course=course, title="Night", setting="dry", start=begin, end=finish
    )  # fmt: skip
    enter(c, begin, finish, person=c.second, session=session)
    offsets = [ZoneInfo(zone).utcoffset(at) for at in (first, last)]
    assert offsets[0] is not None
    assert offsets[1] is not None
    oracle = ((last - offsets[1]) - (first - offsets[0])).total_seconds() / 60
    fact = c.ledger.fact("session", session)
    assert isinstance(fact, Session)
    assert learner_minutes([fact], c.second, role=SpanRole.CANDIDATE) == {"dry": minutes} == {"dry": oracle}
    assert training_day(fact.start) == first.date()


@pytest.mark.parametrize(
    ("zone", "near", "text", "told"),
    [
        ("Atlantic/Azores", "2026-10-24T23:10", "00:30", "came twice"),
        ("Australia/Lord_Howe", "2026-04-05T00:30", "01:45", "came twice"),
        ("Australia/Lord_Howe", "2026-10-04T01:30", "02:15", "never came"),
        ("Atlantic/Azores", "2026-03-28T23:30", "00:30", "never came"),
    ],
)
def test_a_clock_time_that_is_typed_asks_or_refuses_near_a_change(zone: str, near: str, text: str, told: str) -> None:
    """Both changes, and a change of half an hour."""
    at = observed_at(from_wall_clock(datetime.fromisoformat(near), zone), zone, "minute")
    with pytest.raises(RefusedError, match=told):
        clock_time_near(at, read_clock(text))
