"""Exceptions: looser than the tool takes a reason and two people, and never goes over an uncleared critical error."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from itertools import permutations

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, ZONE, Centre, critical_mark, seen_at, sheet_of
from sign_off_examples import DAYS, OTHER_SKILL, course_that_asks, propose, second, sheet, there_on
from test_actions import refused
from test_standards_editing import save, with_rule

from course.actions import amending, exceptions, signing
from course.actions import attempts as trying
from course.actions import courses as planning
from course.actions.standards import move_course
from course.answers.audit_tables import event_row
from course.answers.decisions import evidence, to_sign
from course.answers.exceptions import counted_hash
from course.answers.matrix import matrix
from course.answers.missing import student_counts, student_missing
from course.answers.origin import trail
from course.answers.origin_words import thing_words
from course.answers.sign_off import exception_lines
from course.answers.standards_move import move_preview
from course.asker import Asker, asked_as
from course.moments import observed_at
from course.record.events import ExceptionSeconded, Withdrawn, read_body
from course.record.projection import project
from course.record.signing_facts import MadeException
from course.words import DecisionKind, Role

SKILL_RULE = f"skill:{POOL_SKILL}"
WAY_LATER = datetime(2027, 2, 1, 12, tzinfo=UTC)
"""After the days to finish in: 97 from the first day of the course, by the shipped example."""


@pytest.fixture
def c(small_centre: Centre) -> Centre:
    """A course that asks for two skills; Amaru has tried one of them once, clean."""
    made = course_that_asks(small_centre)
    made.enter("pool-22")
    return made


def rests_on(c: Centre, skill: str = POOL_SKILL) -> str:
    seen = c.view()
    found = seen.adopted.skill(skill)
    return evidence(seen, found, seen.standing(c.amaru, found, LAST_DAY))


def fact(c: Centre, made: str) -> MadeException:
    found = c.ledger.fact("madeexception", made)
    assert isinstance(found, MadeException)
    return found


def test_one_person_alone_lets_nothing_be(c: Centre) -> None:
    propose(c, SKILL_RULE, rests_on(c))
    (state,) = sheet(c).exceptions
    assert (state.stands, state.waits) == (False, True)
    assert student_missing(c.view(), c.amaru, LAST_DAY).excused == 0
    assert state.sentence.endswith("It does not count: a second instructor has to look at it.")


def test_with_the_second_instructor_it_counts_and_says_so_everywhere(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    second(c, made, rests_on(c))
    state = student_missing(c.view(), c.amaru, LAST_DAY)
    assert (state.held, state.excused, [one.skill for one in state.skills]) == (0, 1, [OTHER_SKILL])
    assert state.sentence == "Amaru Tendelle: 0 of 2 required skills held, 0 signed, 1 by exception."
    (told,) = sheet(c).exceptions
    assert told.stands
    assert told.sentence.startswith("Exception: Close before it leaves the mouth. The tool said: Not yet: ")
    tail = "Tamsin Okoro-Vale on {}: Seen on an earlier course. Bruno Ashkenar on {}: I saw the same."
    day = told.sentence.split("Tamsin Okoro-Vale on ")[1].split(":")[0]
    assert told.sentence.endswith(tail.format(day, day))


def test_the_second_instructor_is_another_person(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    assert refused(c, lambda c: second(c, made, rests_on(c), by=c.lead)) == (
        "Tamsin Okoro-Vale proposed this exception. It needs a second instructor, who looks at the record themselves. "
        "Nothing was changed."
    )
    for stranger in (c.assistant, c.candidate):
        assert "may sign a standing" in refused(c, lambda c, by=stranger: second(c, made, rests_on(c), by=by))


def test_a_second_word_of_the_same_person_that_came_by_a_merge_counts_for_nothing(c: Centre) -> None:
    """An event that no action of ours wrote: the projection itself asks for another person."""
    made = propose(c, SKILL_RULE, rests_on(c))
    content = ExceptionSeconded(exception=made, rests_on=rests_on(c), observed=seen_at(25), reason="Me again.")
    for actor in (c.lead, c.second):
        c.ledger.append([trying.draft(actor, content, private_of=c.amaru)])
    assert [word.by for word in fact(c, made).seconds] == [c.second]


def test_a_second_word_on_another_record_counts_for_nothing(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    content = ExceptionSeconded(exception=made, rests_on="0" * 64, observed=seen_at(25), reason="Another record.")
    c.ledger.append([trying.draft(c.second, content, private_of=c.amaru)])
    assert fact(c, made).seconds == ()


def test_never_over_a_critical_error_that_nothing_has_cleared(c: Centre) -> None:
    c.enter("pool-23", critical_mark())
    assert "a critical error was seen and nothing has cleared it. No exception goes over it" in refused(
        c, lambda c: propose(c, SKILL_RULE, rests_on(c))
    )


def test_a_critical_error_after_it_ends_it(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    second(c, made, rests_on(c))
    c.enter("pool-23", critical_mark())
    (state,) = sheet(c).exceptions
    assert (state.stands, state.why_not) == (False, "over a critical error that nothing has cleared")
    assert student_missing(c.view(), c.amaru, LAST_DAY).excused == 0


def test_a_critical_error_between_the_two_words_stops_the_second(c: Centre) -> None:
    shown = rests_on(c)
    made = propose(c, SKILL_RULE, shown)
    c.enter("pool-23", critical_mark())
    assert "takes no second word now: over a critical error that nothing has cleared." in refused(
        c, lambda c: second(c, made, shown)
    )


def test_once_the_record_changes_it_counts_no_more(c: Centre) -> None:
    shown = rests_on(c)
    made = propose(c, SKILL_RULE, shown)
    second(c, made, shown)
    c.enter("pool-23")
    (state,) = sheet(c).exceptions
    assert (state.stands, state.why_not) == (False, "made on an older record")
    assert "takes no second word now: made on an older record." in refused(c, lambda c: second(c, made, shown))


def test_an_exception_is_proposed_only_where_there_is_one_to_make(c: Centre) -> None:
    shown = rests_on(c)
    for rule, seen_as, told in (
        (SKILL_RULE, "0" * 64, "The record changed since this page showed it."),
        (f"skill:{OTHER_SKILL}", rests_on(c, OTHER_SKILL), "nothing was seen of it here that counts"),
        ("skill:bo-share", shown, "An exception is made to a required skill, to minutes or to a count"),
        ("count:open_water_dives", shown, "papers and the exam are not let be."),
        ("papers", shown, "papers and the exam are not let be."),
    ):
        assert told in refused(c, lambda c, r=rule, s=seen_as: propose(c, r, s))
    assert refused(c, lambda c: propose(c, SKILL_RULE, shown, reason=" ")) == (
        "A reason is needed, in a few words. Nothing was changed."
    )
    propose(c, SKILL_RULE, shown)
    assert "is proposed already, on this very record" in refused(c, lambda c: propose(c, SKILL_RULE, shown, c.second))


def test_a_skill_that_is_met_or_held_back_takes_no_exception(c: Centre) -> None:
    for session in ("dry-21", "pool-23", "open-24", "open-25"):
        c.enter(session)
    assert "the rule is met, so it is signed and no exception is needed." in refused(
        c, lambda c: propose(c, SKILL_RULE, rests_on(c))
    )


def test_an_open_attempt_is_closed_first(c: Centre) -> None:
    c.open("pool-23")
    assert "an attempt is still open. Close it first." in refused(c, lambda c: propose(c, SKILL_RULE, rests_on(c)))


def test_taking_back_either_word_ends_it_and_it_stays_to_be_read(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    second(c, made, rests_on(c))
    word = fact(c, made).seconds[0].event
    unconfirmed = "confirms it with their password or PIN at the act"
    assert unconfirmed in refused(c, lambda c: amending.withdraw(c.ledger, c.second, word, "Not typed."))
    withdrawn = amending.withdraw(c.ledger, c.second, word, "I had looked at another student.", "pin")
    (waits,) = sheet(c).exceptions
    assert waits.why_not == "a second instructor has to look at it"
    assert "A second word on it was taken back by Bruno Ashkenar on " in waits.sentence
    assert ", confirmed by PIN: I had looked at another student. It does not count" in waits.sentence
    assert unconfirmed in refused(c, lambda c: amending.withdraw(c.ledger, c.lead, withdrawn, "Not typed."))
    amending.withdraw(c.ledger, c.lead, withdrawn, "It was the right one.", "pin")
    assert [one.stands for one in sheet(c).exceptions] == [True]
    assert "may sign a standing" in refused(
        c, lambda c: exceptions.take_back(c.ledger, c.assistant, made, "Not mine.", "pin")
    )
    assert unconfirmed in refused(c, lambda c: exceptions.take_back(c.ledger, c.lead, made, "Not typed."))
    exceptions.take_back(c.ledger, c.lead, made, "Not after all.", "password")
    assert sheet(c).exceptions == ()
    assert fact(c, made).withdrawn
    (told,) = sheet(c).exceptions_back
    assert told.startswith("Exception: Close before it leaves the mouth. The tool said: ")
    assert "It was taken back by Tamsin Okoro-Vale on " in told
    assert told.endswith(", confirmed by password: Not after all.")
    assert exception_lines(c.ledger, c.view(), c.amaru, LAST_DAY) == (told,), "on papers as on Ready"
    events = list(c.ledger.events(made))
    lines = [one.words for one in trail(c.ledger, c.view(), events)]
    assert lines[-1] == ("Taken back: the exception, by Tamsin Okoro-Vale, confirmed by password: Not after all.")
    rows = [row for event in events for name, row in event_row(event) if name == "corrections"]
    assert [(row[1], row[-1]) for row in rows] == [
        ("withdrawn/2", "pin"), ("withdrawn/2", "pin"), ("withdrawn/2", "password")
    ]  # fmt: skip


def test_a_withdrawal_of_before_says_nothing_of_how_it_was_confirmed(c: Centre) -> None:
    """Written as version 0.5.0 did: it was confirmed, and the event does not say by what."""
    made = propose(c, SKILL_RULE, rests_on(c))
    event = next(c.ledger.events(made))
    content = Withdrawn(thing=made, withdraws=event.id, why="Not after all.")
    c.ledger.append([trying.draft(c.lead, content, private_of=c.amaru)])
    (told,) = sheet(c).exceptions_back
    assert "confirmed" not in told.rpartition("It was taken back by")[2]


def test_taking_back_a_decision_asks_whoever_has_a_pin_for_it(c: Centre) -> None:
    for session in ("dry-21", "pool-23", "open-24", "open-25"):
        c.enter(session)
    ready = next(one for one in to_sign(c.view(), c.amaru, LAST_DAY) if one.skill == POOL_SKILL)
    made = signing.sign(
        c.ledger, c.lead, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=DecisionKind.AGREED,
        as_of=LAST_DAY, rests_on=ready.rests_on,
    )  # fmt: skip
    event = next(c.ledger.events(made)).id
    with asked_as(Asker(c.lead, frozenset({Role.LEAD}))):
        assert "confirms it with their password or PIN" in refused(
            c, lambda c: amending.withdraw(c.ledger, c.lead, event, "Not typed.")
        )
        amending.withdraw(c.ledger, c.lead, event, "The wrong student.", "pin")
    words = [one.words for one in trail(c.ledger, c.view(), list(c.ledger.events(made)))]
    assert words[-1] == "Taken back: the decision, by Tamsin Okoro-Vale, confirmed by PIN: The wrong student."


def test_a_count_that_is_short_is_let_be_down_to_what_was_there(small_centre: Centre) -> None:
    c = course_that_asks(small_centre, [DAYS | {"at_least": 3}])
    there_on(c, "pool-22")
    there_on(c, "pool-23")
    (days,) = student_counts(c.view(), c.amaru, LAST_DAY)
    assert days.short == "short by 1 training day"
    made = propose(c, "count:training_days", counted_hash(days))
    second(c, made, counted_hash(days))
    (days,) = student_counts(c.view(), c.amaru, LAST_DAY)
    assert (days.have, days.short_by, days.is_short) == (2, 1, False)
    event = next(one.id for one in c.ledger.events(c.sessions["pool-23"]) if one.kind == "span_recorded/1")
    amending.withdraw(c.ledger, c.lead, event, "Somebody else's.")
    (days,) = student_counts(c.view(), c.amaru, LAST_DAY)
    assert (days.have, days.is_short) == (1, True)
    (state,) = sheet(c).exceptions
    assert state.why_not == "made on an older record"


def test_whoever_holds_a_skill_back_is_stronger_than_an_exception(c: Centre) -> None:
    """The rule was met and held back; then an attempt is taken away, so that it is not met any more."""
    more = [c.enter(session) for session in ("dry-21", "pool-23", "open-24", "open-25")]
    (ready,) = to_sign(c.view(), c.amaru, LAST_DAY)
    signing.sign(
        c.ledger, c.second, course=c.course, student=c.amaru, skill=POOL_SKILL, decided=DecisionKind.STRICTER,
        as_of=LAST_DAY, rests_on=ready.rests_on, reason="Once more.",
    )  # fmt: skip
    opened = next(one.id for one in c.ledger.events(more[0]) if one.kind == "attempt_opened/1")
    amending.withdraw(c.ledger, c.lead, opened, "Entered twice.")
    assert "an instructor holds it back. Take that back first." in refused(
        c, lambda c: propose(c, SKILL_RULE, rests_on(c))
    )
    (decision,) = c.view().decisions_live(c.amaru, c.skill(), LAST_DAY)
    amending.withdraw(c.ledger, c.second, next(c.ledger.events(decision.id)).id, "It was enough.")
    assert propose(c, SKILL_RULE, rests_on(c))


def test_an_exception_counts_for_its_own_student_alone(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    second(c, made, rests_on(c))
    c.enter("pool-22", student=c.zoe)
    assert student_missing(c.view(), c.zoe, LAST_DAY).excused == 0


def test_a_word_of_somebody_who_decides_nothing_here_does_not_make_it_stand(c: Centre) -> None:
    """An event that no action of ours wrote, such as a laptop that was tampered with would bring."""
    made = propose(c, SKILL_RULE, rests_on(c))
    content = ExceptionSeconded(exception=made, rests_on=rests_on(c), observed=seen_at(25), reason="I help.")
    c.ledger.append([trying.draft(c.assistant, content, private_of=c.amaru)])
    (state,) = sheet(c).exceptions
    assert (state.stands, state.waits) == (False, True)
    second(c, made, rests_on(c))
    assert [one.stands for one in sheet(c).exceptions] == [True]


def test_the_course_page_says_by_exception_in_the_cell(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    second(c, made, rests_on(c))
    cells = {
        row.skill: next(cell for cell in row.cells if cell.student == c.amaru)
        for phase in matrix(c.view(), LAST_DAY).phases
        for row in phase.rows
    }
    assert (cells[POOL_SKILL].word, cells[POOL_SKILL].signed) == ("not yet", "by exception")


def test_show_why_tells_both_words_as_lines_of_the_ledger(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    second(c, made, rests_on(c))
    told = [
        thing_words(c.ledger, c.view(), event, read_body(event.kind, json.loads(event.body)) or pytest.fail("unread"))
        for event in c.ledger.events(made)
    ]
    assert told[0].startswith("Exception proposed to skill:mp-close-out, confirmed by PIN; the tool said: Not yet")
    assert told[1] == ("Agreed to the exception as the second instructor, confirmed by PIN. Reason: I saw the same.")


def test_a_critical_error_under_an_earlier_form_of_the_rubric_was_seen_all_the_same(small_centre: Centre) -> None:
    """The course moved to another form since: the old attempts count no more, and their error is not forgotten."""
    c = small_centre
    c.enter("pool-22", critical_mark())
    adoption = save(c, with_rule(in_a_row=4))
    preview = move_preview(c.ledger, c.view(), adoption, "ex-first-unit", "r1", LAST_DAY)
    move_course(
        c.ledger, c.lead, c.course, adoption=adoption, profile="ex-first-unit", revision="r1", why="Raised.",
        shown_from=preview.shown_from,
    )  # fmt: skip
    trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=c.sessions["pool-23"], student=c.amaru, skill=POOL_SKILL,
        observed=seen_at(23), sheets=[(c.lead, sheet_of(c.view().adopted.skill(POOL_SKILL)))],
    )  # fmt: skip
    assert c.view().standing(c.amaru, c.view().adopted.skill(POOL_SKILL), LAST_DAY).criticals == ()
    assert "a critical error was seen and nothing has cleared it." in refused(
        c, lambda c: propose(c, SKILL_RULE, rests_on(c))
    )


def test_a_critical_error_after_the_days_to_finish_in_was_seen_all_the_same(c: Centre) -> None:
    late = planning.plan_session(
        c.ledger, c.lead, course=c.course, title="Long after", setting="pool",
        start=observed_at(WAY_LATER, ZONE, "minute"), end=observed_at(WAY_LATER + timedelta(hours=2), ZONE, "minute"),
    )  # fmt: skip
    trying.enter_attempt(
        c.ledger, c.lead, course=c.course, session=late, student=c.amaru, skill=POOL_SKILL,
        observed=observed_at(WAY_LATER, ZONE, "minute"), sheets=[(c.lead, sheet_of(c.skill(), critical_mark()))],
    )  # fmt: skip
    day = WAY_LATER.date()
    seen = c.view()
    assert [one.attempt.session for one in seen.after_window(c.amaru, c.skill())] == [late]
    shown = evidence(seen, c.skill(), seen.standing(c.amaru, c.skill(), day))
    told = refused(
        c,
        lambda c: exceptions.propose(
            c.ledger,
            c.lead,
            course=c.course,
            student=c.amaru,
            rule=SKILL_RULE,
            as_of=day,
            rests_on=shown,
            reason="x",
            confirmed_with="pin",
        ),
    )
    assert "a critical error was seen and nothing has cleared it." in told


def test_never_over_a_critical_error_of_a_later_day_than_the_page_shows(c: Centre) -> None:
    later = planning.plan_session(
        c.ledger, c.lead, course=c.course, title="One more pool", setting="pool", start=seen_at(28, 13, 30),
        end=seen_at(28, 16, 20),
    )  # fmt: skip
    c.sessions["pool-28"] = later
    shown = rests_on(c)
    made = propose(c, SKILL_RULE, shown)
    second(c, made, shown)
    c.enter("pool-28", critical_mark())
    (state,) = sheet(c).exceptions
    assert (state.stands, state.why_not) == (False, "over a critical error that nothing has cleared")
    assert "a critical error was seen" in refused(c, lambda c: propose(c, SKILL_RULE, shown))


def test_the_order_in_which_laptops_bring_the_words_changes_nothing(c: Centre) -> None:
    made = propose(c, SKILL_RULE, rests_on(c))
    second(c, made, rests_on(c))
    events = list(c.ledger.events(made))
    amending.withdraw(c.ledger, c.second, events[1].id, "Another student.", "pin")
    events = list(c.ledger.events(made))
    found = [project(order) for order in permutations(events)]
    assert len(found) == 6
    assert all(one == found[0] for one in found)
    assert isinstance(found[0], MadeException)
    assert found[0].seconds == ()
    assert project(events[1:]) is None, "a second word without what it is about waits"
