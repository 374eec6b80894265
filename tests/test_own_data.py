"""One person's own data: all of it, readable twice, and nobody else's name in it."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest
from centre_builder import ODD_NAME, Centre, seen_at

from course.actions import courses, incident, presence, privacy
from course.actions.centre import add_person
from course.actions.set_points import From, note_set_point
from course.answers.own_data import own_data
from course.errors import RefusedError
from course.exchange.own_data import FILE_NAME, give_own_data, own_data_bytes, page
from course.words import Authority, Role

OTHERS = ("Tamsin", "Okoro", "Bruno", "Ashkenar", "Lien", "Jorun", "Vask", "Zoë", "Ünal")


@pytest.fixture
def told(small_centre: Centre) -> Centre:
    """Amaru did something, somebody wrote about him, and he was there when something went wrong."""
    centre = small_centre
    centre.hold()
    centre.enter("open-24", closing="void", reason="Bruno Ashkenar waved, and bruno's slate was lost; Amaru was calm")
    presence.sign_in(
        centre.ledger, centre.lead, centre.sessions["pool-22"], centre.amaru, seen_at(22, 13, 35), end=seen_at(22, 15)
    )
    for who in (centre.amaru, centre.zoe):
        presence.sign_in(
            centre.ledger, centre.lead, centre.sessions["pool-23"], who, seen_at(23, 13, 40), there_already=True
        )
    incident.freeze(
        centre.ledger, centre.lead, centre.sessions["pool-23"], seen_at(23, 14), note="Zoë came up fast, Amaru helped"
    )
    centre.enter(student=centre.zoe, by=centre.second)
    return centre


def test_everything_about_one_person_is_in_it_and_others_are_there_by_role_alone(told: Centre) -> None:
    plain = own_data(told.ledger, told.amaru).plain()
    text = json.dumps(plain, ensure_ascii=False)
    assert plain["person"]["name"] == "Amaru Tendelle"
    assert plain["person"]["birth_date"] == "1998-02-03"
    assert [course["title"] for course in plain["courses"]] == ["KW-1026"]
    assert len(plain["courses"][0]["record"]["attempts"]) == 6
    assert {session["session"] for session in plain["sessions"]} == {"Pool Of The 22", "Pool Of The 23"}
    assert plain["sessions"][1]["incidents"]
    for name in OTHERS:
        assert name not in text, name
    for who in (told.lead, told.second, told.assistant, told.candidate, told.zoe):
        assert who not in text


def test_a_text_about_the_person_is_there_with_a_role_in_the_place_of_other_names(told: Centre) -> None:
    texts = json.dumps([line.get("text") for line in own_data(told.ledger, told.amaru).events], ensure_ascii=False)
    assert "an instructor waved, and an instructor's slate was lost; Amaru was calm" in texts
    assert "came up fast" not in texts
    assert "a text that is not about this person alone is left out" in texts


def test_whoever_was_in_the_water_has_their_oxygen_exposure_with_the_set_point_noted_for_them(told: Centre) -> None:
    session = told.sessions["pool-22"]
    line = courses.water_time(
        told.lead, session=session, person=told.amaru, loop_minutes=61, entered=seen_at(22), left=seen_at(22, 15, 1)
    )
    courses.record_times(told.ledger, told.lead, [line])
    note_set_point(told.ledger, told.lead, session, "0.7", seen_at(22), person=told.amaru)
    since = From(seen_at(22, 14, 21), 4)
    note_set_point(told.ledger, told.lead, session, "1.3", seen_at(22), person=told.amaru, since=since)
    given = own_data(told.ledger, told.amaru)
    (said,) = given.courses[0]["oxygen_exposure"]
    assert said.startswith(
        "Amaru Tendelle, 22 Oct 2026: 61 min at 0.7 bar at first, to 1.3 bar within 4 min from 14:21: "
    )
    assert {"set_point_noted/1", "set_point_noted/2"} <= {event["kind"] for event in given.events}
    assert "oxygen_exposure" not in own_data(told.ledger, told.second).courses[0]


def test_what_somebody_entered_about_others_is_told_as_numbers(told: Centre) -> None:
    given = own_data(told.ledger, told.second)
    assert given.acts["marks given"] >= 1
    assert "a lead instructor" in json.dumps(given.plain())
    assert ODD_NAME not in json.dumps(given.plain(), ensure_ascii=False)


def test_the_file_holds_the_same_as_a_page_and_as_data_and_its_name_names_nobody(told: Centre, tmp_path: Path) -> None:
    given = give_own_data(told.ledger, told.lead, told.amaru, tmp_path / "a.zip")
    again = own_data_bytes(told.ledger, told.lead, told.amaru)
    assert (tmp_path / "a.zip").read_bytes() == again
    with zipfile.ZipFile(io.BytesIO(again)) as file:
        assert file.namelist() == ["own-data.html", "own-data.json"]
        assert json.loads(file.read("own-data.json")) == json.loads(json.dumps(given.plain()))
        html = file.read("own-data.html").decode()
    assert html == page(given)
    assert "<script" not in html
    assert "http://" not in html
    assert FILE_NAME == "own-data.zip"
    assert list(tmp_path.rglob("*.zip")) == [tmp_path / "a.zip"]


def test_markup_in_a_name_is_text_on_the_page(small_centre: Centre) -> None:
    assert "<i>O" not in page(own_data(small_centre.ledger, small_centre.zoe))


def test_a_short_name_of_somebody_else_does_not_eat_into_words(small_centre: Centre) -> None:
    """Only whole words are taken for a name."""
    add_person(small_centre.ledger, small_centre.lead, name="Pool Ma", roles=[Role.STUDENT])
    small_centre.enter(closing="void", reason="in the pools and in the pool")
    texts = json.dumps(own_data(small_centre.ledger, small_centre.amaru).plain())
    assert "in the pools and in the a student" in texts
    assert "Amaru" in texts


def test_only_a_lead_gives_them_out_and_an_erased_person_has_none(small_centre: Centre, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="lead instructor may give out"):
        give_own_data(small_centre.ledger, small_centre.second, small_centre.amaru, tmp_path / "a.zip")
    privacy.erase_person(
        small_centre.ledger, small_centre.lead, small_centre.amaru, authority=Authority.PERSON, reason="asked",
        despite="a test",
    )  # fmt: skip
    with pytest.raises(RefusedError, match="were erased"):
        own_data(small_centre.ledger, small_centre.amaru)
    assert not list(tmp_path.glob("*.zip"))


def test_giving_them_out_changes_nothing_in_the_ledger(told: Centre, tmp_path: Path) -> None:
    count = told.count()
    give_own_data(told.ledger, told.lead, told.amaru, tmp_path / "a.zip")
    assert told.count() == count
