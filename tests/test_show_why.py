"""Show why: from a standing, a signed record, minutes, a session or an entry down to who wrote what, seen when."""

from __future__ import annotations

import io
import json
from datetime import date
from pathlib import Path

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark, seen_at, sheet_of, tap
from click.testing import CliRunner, Result
from day_builder import Day
from opened_page import app_at
from pypdf import PdfReader
from streamlit.testing.v1 import AppTest

from course.actions import amending, courses, signing, times
from course.actions.attempts import SheetContent
from course.actions.pad import take
from course.actions.set_points import From, note_set_point
from course.answers.decisions import evidence
from course.answers.origin import Origin, event_origin
from course.answers.origin_of import minute_origin, session_origin, signed_origin, standing_origin
from course.commands import main
from course.errors import ExitCode, NotFoundError
from course.paper.origin_sheet import print_origin
from course.record.chain import event_hash
from course.record.events import MarkGiven
from course.record.lines import event_in
from course.screens import serve
from course.words import DecisionKind, Mark, SpanRole


def lines_of(answer: Origin) -> list[str]:
    return [line.words for part in answer.parts for line in part.lines]


def why(centre: Centre, student: str = "") -> Origin:
    return standing_origin(centre.ledger, centre.view(), student or centre.amaru, centre.skill(), LAST_DAY)


def signed(centre: Centre) -> str:
    seen, skill = centre.view(), centre.skill()
    shown = evidence(seen, skill, seen.standing(centre.amaru, skill, LAST_DAY))
    return signing.sign(
        centre.ledger, centre.lead, course=centre.course, student=centre.amaru, skill=POOL_SKILL,
        decided=DecisionKind.AGREED, as_of=LAST_DAY, rests_on=shown,
    )  # fmt: skip


def printed(answer: Origin) -> str:
    out = io.BytesIO()
    print_origin(answer, out)
    return " ".join(" ".join(page.extract_text() for page in PdfReader(out).pages).split())


# --- standings -------------------------------------------------------------------------------------------------------


def test_a_standing_goes_down_to_every_entry_with_both_times_who_and_place(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark(), by=small_centre.second)
    answer = why(small_centre)
    assert answer.sentence.startswith("Not yet:")
    (part,) = answer.parts
    assert "Pool Of The 22" in part.title
    assert part.title.endswith("attempt 1 · A-05: critical")
    error = next(line for line in part.lines if line.critical)
    assert error.words.startswith("3 Only then take it out")
    assert (error.observed, error.who) == ("14:00", "Bruno Ashkenar")
    event = small_centre.ledger.event(error.event)
    assert event is not None
    assert (error.hash, error.place) == (event.hash, f"{event.chain[:8]} · {event.seq}")
    assert error.recorded.startswith("20")


def test_it_names_the_rule_the_form_of_the_rubric_and_who_adopted_it(small_centre: Centre) -> None:
    small_centre.hold()
    told = dict(why(small_centre).facts)
    assert told["Rule"].startswith("5 in a row")
    rubric = small_centre.view().adopted.hashes[POOL_SKILL]
    assert f"form {rubric[:16]}, adopted on " in told["Rubric"]
    assert "by Tamsin Okoro-Vale" in told["Rubric"]
    assert told["Requirements"].endswith("revision r1")
    assert told["Rests on"].startswith("20 events, ")


def test_a_correction_is_told_beside_what_it_corrects(small_centre: Centre) -> None:
    attempt = small_centre.enter("pool-22")
    (sheet,) = small_centre.attempt(attempt).sheets
    late = MarkGiven(step="co-out", mark=Mark.ERROR, errors=("co-open-out",))
    amending.amend_marks(
        small_centre.ledger, small_centre.lead, attempt, sheet.id, late, "Seen on the film.", seen_at(23)
    )
    told = lines_of(why(small_centre))
    assert any("done, or no occasion" in words and words.startswith("2 ") for words in told)
    assert any("(in place of an earlier entry): Seen on the film." in words for words in told)


def test_what_was_taken_back_is_struck_and_stays(small_centre: Centre) -> None:
    opened = small_centre.open()
    take(
        small_centre.ledger,
        [tap(small_centre, opened, "marks_given/1", {"marks": [{"step": "co-hand", "mark": "done"}]})],
    )
    given = next(e for e in small_centre.ledger.events(opened.attempt) if e.kind == "marks_given/1")
    amending.withdraw(small_centre.ledger, small_centre.lead, given.id, "A slip of the finger.")
    answer = event_origin(small_centre.ledger, small_centre.view(), given.id)
    assert answer.sentence.endswith(". It was taken back later.")
    assert [line.holds for line in answer.parts[0].lines] == [False]
    assert any("A slip of the finger." in words for words in lines_of(answer))
    assert "(taken back)" in printed(answer)


def test_two_sheets_are_both_told(small_centre: Centre) -> None:
    other: tuple[str, SheetContent] = (small_centre.second, sheet_of(small_centre.skill(), critical_mark()))
    small_centre.enter("pool-22", others=(other,))
    told = lines_of(why(small_centre))
    assert "Sheet of Tamsin Okoro-Vale begun" in told
    assert "Sheet of Bruno Ashkenar begun" in told


# --- signed records --------------------------------------------------------------------------------------------------


def test_a_signed_record_rests_on_the_events_that_its_hash_was_made_of(small_centre: Centre) -> None:
    small_centre.hold()
    signed(small_centre)
    answer = signed_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, small_centre.skill(), LAST_DAY)
    told = dict(answer.facts)
    assert told["That is"] == "the hash over 20 events and the rubric's form: the events below, as they stood then"
    assert answer.sentence.startswith("Signed as met by Tamsin Okoro-Vale")
    events = {line.event for part in answer.parts[1:] for line in part.lines}
    assert len(events) == 20
    assert lines_of(answer)[0].startswith(
        "Signed as met, not confirmed by a password or PIN, as of 2026-10-25; the tool said: Met"
    )


def test_a_record_that_changed_since_is_still_shown_as_it_stood_when_it_was_signed(small_centre: Centre) -> None:
    attempts = small_centre.hold()
    signed(small_centre)
    (sheet,) = small_centre.attempt(attempts[0]).sheets
    late = MarkGiven(step="co-out", mark=Mark.ERROR, errors=("co-open-out",))
    amending.amend_marks(small_centre.ledger, small_centre.lead, attempts[0], sheet.id, late, "Film.", seen_at(26))
    answer = signed_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, small_centre.skill(), LAST_DAY)
    assert dict(answer.facts)["That is"].endswith("the events below, as they stood then")
    assert "The record has changed since" in answer.sentence
    assert not any("Film." in words for words in lines_of(answer))


def test_without_a_decision_there_is_nothing_signed(small_centre: Centre) -> None:
    with pytest.raises(NotFoundError, match="Nobody decided on"):
        signed_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, small_centre.skill(), LAST_DAY)


# --- minutes and sessions --------------------------------------------------------------------------------------------


def test_minutes_go_down_to_the_times_that_make_them_and_who_entered_each(small_centre: Centre) -> None:
    day = Day(small_centre)
    day.leaves(day.comes(small_centre.amaru))
    answer = minute_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, "pool", LAST_DAY)
    assert answer.sentence.startswith("140 minutes pool of ")
    (part,) = answer.parts
    assert part.title.endswith("pool: 140 minutes")
    assert [line.words for line in part.lines] == [
        "Amaru Tendelle in, student, from 13:40, still in",
        "Amaru Tendelle out at 16:00",
    ]
    assert {line.who for line in part.lines} == {"Tamsin Okoro-Vale"}


def test_of_two_times_that_overlap_the_minutes_are_told_where_they_count(small_centre: Centre) -> None:
    for hour, minute in ((14, 0), (14, 30)):
        came = courses.span(
            small_centre.lead, session=small_centre.sessions["pool-22"], person=small_centre.amaru,
            role=SpanRole.STUDENT, start=seen_at(22, hour, minute), end=seen_at(22, hour + 1, minute),
        )  # fmt: skip
        courses.record_times(small_centre.ledger, small_centre.lead, [came])
    answer = minute_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, "pool", LAST_DAY)
    assert answer.sentence.startswith("90 minutes pool")
    assert answer.parts[0].title.endswith(": 90 minutes")


def test_a_corrected_time_is_told_with_from_to_and_why(small_centre: Centre) -> None:
    day = Day(small_centre)
    day.leaves(day.comes(small_centre.amaru))
    (span,) = day.session.spans
    assert span.end is not None
    times.mend_time(
        small_centre.ledger, small_centre.lead, day.id, span.id, "She came late.",
        start=seen_at(22, 14), end=span.end, role=span.role, group=span.group,
    )  # fmt: skip
    answer = minute_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, "pool", LAST_DAY)
    assert answer.sentence.startswith("120 minutes pool")
    assert (
        "Corrected: the time of Amaru Tendelle: start from 22 Oct 2026 at 13:40 to 22 Oct 2026 at 14:00, "
        "by Tamsin Okoro-Vale: She came late."
    ) in lines_of(answer)


def test_nothing_of_a_kind_is_zero_minutes_and_no_part(small_centre: Centre) -> None:
    answer = minute_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, "in_water_on_loop", LAST_DAY)
    assert answer.sentence.startswith("0 minutes in water on the loop of ")
    assert answer.parts == ()
    with pytest.raises(NotFoundError, match="no kind of minutes"):
        minute_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, "bath", LAST_DAY)


def test_later_days_are_left_out(small_centre: Centre) -> None:
    Day(small_centre).comes(small_centre.amaru, end=seen_at(22, 15))
    early = minute_origin(small_centre.ledger, small_centre.view(), small_centre.amaru, "pool", date(2026, 10, 21))
    assert early.parts == ()


def test_a_session_tells_everything_entered_for_it_and_what_was_marked_in_it(small_centre: Centre) -> None:
    Day(small_centre).comes(small_centre.amaru, end=seen_at(22, 15))
    small_centre.enter("pool-22")
    answer = session_origin(small_centre.ledger, small_centre.view(), small_centre.sessions["pool-22"])
    assert answer.sentence == "1 person signed in, 1 attempt, not closed."
    assert "Session planned: pool, 22 Oct 2026, 13:30 to 16:20" in lines_of(answer)
    assert answer.parts[1].title == "Amaru Tendelle · Close before it leaves the mouth · attempt 1"


def test_a_session_tells_the_set_point_that_was_noted_and_whose(small_centre: Centre) -> None:
    c = small_centre
    for bar, person in (("0.7", None), ("1.0", c.amaru)):
        note_set_point(c.ledger, c.lead, c.sessions["pool-22"], bar, seen_at(22), person=person)
    told = lines_of(session_origin(c.ledger, c.view(), c.sessions["pool-22"]))
    assert "Set point 0.7 bar, everybody without one of their own" in told
    assert "Set point 1.0 bar, Amaru Tendelle" in told
    for hour, minutes in ((14, 4), (15, 0)):
        note_set_point(
            c.ledger, c.lead, c.sessions["pool-22"], "1.3", seen_at(22), since=From(seen_at(22, hour), minutes)
        )
    told = lines_of(session_origin(c.ledger, c.view(), c.sessions["pool-22"]))
    assert "Set point 1.3 bar from 14:00, got to within 4 min, everybody without one of their own" in told
    assert "Set point 1.3 bar from 15:00, everybody without one of their own" in told


# --- one entry -------------------------------------------------------------------------------------------------------


def test_an_entry_goes_down_to_its_canonical_line_and_its_hash_fits(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    stored = next(e for e in small_centre.ledger.events() if e.kind == "marks_given/1")
    told = dict(event_origin(small_centre.ledger, small_centre.view(), stored.id).facts)
    again = event_in(told["Canonical line"].encode())
    assert again == stored
    assert told["Hash"] == f"{event_hash(stored)}, which fits its content"
    assert told["Before it"] == stored.prev


@pytest.mark.parametrize("form", ["id", "place", "a paper's words"])
def test_an_entry_is_found_by_its_id_and_by_its_place(small_centre: Centre, form: str) -> None:
    stored = list(small_centre.ledger.events())[5]
    wanted = {"id": stored.id, "place": f"{stored.chain[:8]}:6", "a paper's words": f"{stored.chain[:8]} · 6"}[form]
    assert event_origin(small_centre.ledger, small_centre.view(), wanted).about == f"Event {stored.id}"


@pytest.mark.parametrize("wanted", ["", ":", ":3", "zz:3", "01", "01:x", "0192d000-0000-7000-8000-0000000000ff"])
def test_an_entry_that_is_not_there_is_told_with_how_to_name_one(small_centre: Centre, wanted: str) -> None:
    with pytest.raises(NotFoundError, match="Write its id, or chain and place"):
        event_origin(small_centre.ledger, small_centre.view(), wanted)


def test_every_kind_of_entry_can_be_followed_back_and_printed(small_centre: Centre) -> None:
    day = Day(small_centre)
    day.comes(small_centre.amaru)
    day.sheet()
    day.plant()
    day.freeze(note="Somebody felt dizzy.")
    small_centre.hold()
    signed(small_centre)
    seen = small_centre.view()
    for event in small_centre.ledger.events():
        answer = event_origin(small_centre.ledger, seen, event.id)
        assert answer.parts[0].lines, event.kind
        assert event.id in answer.text()


# --- paper, commands, page -------------------------------------------------------------------------------------------


def test_the_paper_says_what_the_answer_says_and_is_the_same_twice(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    answer = why(small_centre)
    told = printed(answer)
    assert "Amaru Tendelle · Close before it leaves the mouth" in told
    assert "when it was seen, then when it was recorded" in told
    assert "(critical)" in told
    one, two = io.BytesIO(), io.BytesIO()
    print_origin(answer, one)
    print_origin(answer, two)
    assert one.getvalue() == two.getvalue()


def course(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def test_the_command_shows_why_in_each_form(small_centre: Centre, tmp_path: Path) -> None:
    Day(small_centre).comes(small_centre.amaru, end=seen_at(22, 15))
    small_centre.hold()
    signed(small_centre)
    folder, stored = small_centre.ledger.folder, next(iter(small_centre.ledger.events()))
    for arguments, told in (
        (("Amaru", "--minutes", "pool"), "80 minutes pool"),
        (("Amaru", POOL_SKILL, "--signed"), "Signed record: Amaru Tendelle"),
        (("--session", "Pool of the 22"), "1 person signed in"),
        (("--event", stored.id), "Canonical line: {"),
    ):
        ran = course("why", folder, *arguments)
        assert ran.exit_code == 0, ran.output
        assert told in ran.stdout
        assert json.loads(course("why", folder, *arguments, "--json").stdout)["parts"]
    out = tmp_path / "why.pdf"
    assert course("why", folder, "Amaru", POOL_SKILL, "--out", out).exit_code == 0
    assert out.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize("arguments", [(), ("Amaru",), ("--minutes", "pool"), ("Amaru", "--signed")])
def test_the_command_says_what_it_has_to_be_told(small_centre: Centre, arguments: tuple[str, ...]) -> None:
    ran = course("why", small_centre.ledger.folder, *arguments)
    assert ran.exit_code == ExitCode.USAGE
    assert "Name PERSON and SKILL" in ran.stderr


def page(centre: Centre, **query: str) -> AppTest:
    serve.start(centre.ledger, take)
    app = app_at("why")
    for key, value in query.items():
        app.query_params[key] = value
    app.run()
    assert not app.exception
    return app


def test_the_page_shows_an_entry_that_an_address_names(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    app = page(small_centre)
    app.segmented_control(key="why-what").set_value("An entry").run()
    stored = next(e for e in small_centre.ledger.events() if e.kind == "marks_given/1")
    app.text_input(key="why-event").set_value(stored.id).run()
    assert not app.exception
    told = "\n".join(str(one.value) for one in app.markdown)
    assert "Canonical line" in told
    assert "▌ **critical**" in told


def test_the_page_shows_minutes_and_a_session(small_centre: Centre) -> None:
    Day(small_centre).comes(small_centre.amaru, end=seen_at(22, 15))
    app = page(small_centre)
    app.segmented_control(key="why-what").set_value("A session").run()
    assert not app.exception
    app.segmented_control(key="why-what").set_value("Minutes").run()
    assert not app.exception
    assert "Choose what to follow back" in "\n".join(str(one.value) for one in app.markdown)


def test_a_signed_record_is_chosen_among_those_that_somebody_decided(small_centre: Centre) -> None:
    app = page(small_centre)
    app.button_group(key="why-what").set_value("A signed record").run()
    app.button_group(key="why-student").set_value(small_centre.amaru).run()
    assert any("Nobody decided on a standing of Amaru Tendelle yet." in text.value for text in app.text)
    small_centre.hold()
    signed(small_centre)
    app.run()
    assert not app.exception
    assert app.selectbox(key="why-signed").options == [
        f"{small_centre.skill().title} · signed as met by Tamsin Okoro-Vale, as of 25 Oct 2026"
    ]


WHY = {
    "standing": (
        ("Amaru", POOL_SKILL), {"why-what": "A standing"}, why,
    ),
    "minute": (
        ("Amaru", "--minutes", "pool"), {"why-what": "Minutes", "why-kind": "pool"},
        lambda c: minute_origin(c.ledger, c.view(), c.amaru, "pool", LAST_DAY),
    ),
    "signed record": (
        ("Amaru", POOL_SKILL, "--signed"), {"why-what": "A signed record"},
        lambda c: signed_origin(c.ledger, c.view(), c.amaru, c.skill(), LAST_DAY),
    ),
}  # fmt: skip


@pytest.mark.parametrize("of", WHY)
def test_from_standing_minute_and_signed_record_page_command_and_paper_go_down_to_the_same_entries(
    small_centre: Centre, tmp_path: Path, of: str
) -> None:
    """Each line with when it was seen, when it was recorded, by whom, and its place in the ledger."""
    c = small_centre
    day = Day(c)
    day.leaves(day.comes(c.amaru))
    c.hold()
    signed(c)
    arguments, chosen, ask = WHY[of]
    answer = ask(c)
    lines = [line for part in answer.parts for line in part.lines]
    assert lines
    assert all(line.recorded and line.who and line.place for line in lines)
    if of == "minute":  # when it was seen is the time itself
        assert any("13:40" in line.words for line in lines)
    else:
        assert any(line.observed for line in lines)
        assert "rubric" in json.dumps(answer.plain()).lower()
        assert any("done" in line.words for line in lines)
    plain = course("why", c.ledger.folder, *arguments, "--as-of", LAST_DAY, "--json").stdout
    if of == "standing":  # without a flag the command tells the page behind a cell; with paper asked for, the entries
        assert json.loads(plain)["sentence"] == c_sentence(c)
    else:
        assert json.loads(plain) == json.loads(json.dumps(answer.plain()))
    out = tmp_path / "why.pdf"
    assert course("why", c.ledger.folder, *arguments, "--as-of", LAST_DAY, "--out", out).exit_code == 0
    told = " ".join(" ".join(one.extract_text() for one in PdfReader(out).pages).split())
    app = page(c)
    app.segmented_control(key="why-what").set_value(chosen["why-what"]).run()
    app.button_group(key="why-student").set_value(c.amaru).run()
    if "why-kind" in chosen:
        app.button_group(key="why-kind").set_value(chosen["why-kind"]).run()
    else:
        next(box for box in app.selectbox if box.label == "Skill").set_value(POOL_SKILL).run()
    assert not app.exception
    shown = "\n".join(str(one.value) for one in app.markdown).replace("\\", "")
    for line in lines:
        assert line.place in shown
        assert line.place in told
    assert answer.sentence in shown


def c_sentence(centre: Centre) -> str:
    from course.answers.skill_detail import skill_detail

    return skill_detail(centre.ledger, centre.view(), centre.amaru, POOL_SKILL, LAST_DAY).sentence
