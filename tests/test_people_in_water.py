"""A session does not look finished while people are in the water: neither it nor its day is closed over them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from centre_builder import Centre
from day_builder import Day
from opened_page import app_at

from course.actions import day as days
from course.actions.pad import take
from course.answers import marking
from course.errors import RefusedError
from course.moments import training_day
from course.screens import day_parts, serve


@pytest.fixture
def pool(small_centre: Centre) -> Day:
    """The pool day; nothing has happened yet."""
    return Day(small_centre)


def test_a_session_with_somebody_in_the_water_is_not_closed_until_they_are_out(pool: Day) -> None:
    centre = pool.centre
    span = pool.comes(centre.amaru)
    before = centre.count()
    with pytest.raises(RefusedError, match=r"Amaru Tendelle is not out by this record\."):
        days.close_session(centre.ledger, centre.lead, pool.id, pool.at(16, 30))
    assert centre.count() == before
    pool.leaves(span)
    days.close_session(centre.ledger, centre.lead, pool.id, pool.at(16, 30))
    assert pool.session.closed_at is not None


def test_a_session_with_somebody_missing_at_the_roll_is_not_closed_until_they_answer(pool: Day) -> None:
    centre = pool.centre
    pool.leaves(pool.comes(centre.amaru))
    pool.roll("going_in", [centre.amaru], minute=1)
    pool.roll("coming_out", [], minute=45, missing=[centre.amaru])
    with pytest.raises(RefusedError, match="Amaru Tendelle is not out"):
        days.close_session(centre.ledger, centre.lead, pool.id, pool.at(16, 30))
    pool.roll("coming_out", [centre.amaru], minute=50)
    days.close_session(centre.ledger, centre.lead, pool.id, pool.at(16, 30))
    assert pool.session.closed_at is not None


def test_a_frozen_session_of_which_something_is_written_closes_whoever_is_still_in_it(pool: Day) -> None:
    """What happened to them stands in the incident note; the record must have an end."""
    centre = pool.centre
    pool.comes(centre.amaru)
    pool.freeze(note="Taken to hospital.")
    days.close_session(centre.ledger, centre.lead, pool.id, pool.at(16, 30))
    assert pool.session.closed_at is not None


def test_a_day_is_not_closed_while_its_session_is_on_with_people_in_it(pool: Day) -> None:
    centre = pool.centre
    pool.comes(centre.amaru)
    shown = pool.end().still_open
    during = pool.session.start.moment + timedelta(hours=1)
    at = pool.at(during.hour, 30)
    assert at.moment < pool.session.end.moment
    with pytest.raises(RefusedError, match="Amaru Tendelle is not out"):
        days.close_day(
            centre.ledger, centre.lead, centre.course, training_day(pool.session.start), at, shown_open=shown
        )
    assert pool.close()  # after its end the list is shown with the number of open things, and the person decides


def test_a_session_that_is_over_comes_after_those_of_the_day_that_are_still_on(small_centre: Centre) -> None:
    """Marks and sheets must not fall into the morning's session in the evening."""
    seen = small_centre.view()
    day = date(2026, 10, 22)
    here = [s for s in seen.sessions.values() if training_day(s.start) == day]
    first = next(iter(marking.sessions(seen, day, datetime(2026, 10, 22, 0, 0, tzinfo=UTC))))
    assert first == min(here, key=lambda s: s.start.utc).id
    ended = seen.sessions[first].end.moment
    after = list(marking.sessions(seen, day, ended))
    assert set(after[: len(here)]) == {s.id for s in here}
    assert after[len(here) - 1] == first


def test_a_time_that_is_to_come_is_not_offered_as_the_time_at_which_somebody_left(
    pool: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else one tap early in the day would count them out, and give them the hours, while they are in the water."""

    pool.comes(pool.centre.amaru)
    serve.start(pool.centre.ledger, take)
    early = pool.session.end.moment - timedelta(hours=1)
    for moment, offered in ((early, False), (pool.session.end.moment, True)):
        monkeypatch.setattr(day_parts, "now", lambda moment=moment: moment)
        app = app_at("day").run()
        next(box for box in app.selectbox if box.label == "Day").set_value("2026-10-22").run()
        assert not app.exception
        labels = [button.label for button in app.button]
        assert "Left now" in labels
        assert any(label.startswith("Left at ") for label in labels) is offered
