"""Answers to findings: who may give them, what they rest on, that none is ever lost, and who may read them."""

from __future__ import annotations

from pathlib import Path

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, critical_mark
from finding_examples import NOW, all_but, answered, in_water, set_clock, shown
from test_actions import refused

from course.access import Act, may
from course.actions import amending
from course.actions import centre as founding
from course.actions.drafting import body, draft
from course.actions.findings import answer_finding
from course.answers.findings import ShownFinding, find_finding
from course.errors import NotFoundError, RefusedError
from course.moments import new_id, observed_at
from course.record.events import FindingAnswered
from course.record.facts import Person
from course.record.finding_facts import FindingAnswer
from course.storage.inspection import verify
from course.words import Role

REVISION, HOURS = "other_revision", "hours_short"
REASON = "Canaryreason: agreed with the agency before the course."


@pytest.fixture(autouse=True)
def _after_the_course(monkeypatch: pytest.MonkeyPatch) -> None:
    set_clock(monkeypatch)


def answer(c: Centre, rule: str = REVISION, reason: str = REASON, by: str = "", rests_on: str = "") -> str:
    """Answer the one finding of a rule, as somebody sees it who looks at it now."""
    one = shown(c, rule)
    return answer_finding(
        c.ledger, by or c.lead, course=c.course, finding=one.key, rests_on=rests_on or one.rests_on, reason=reason,
        as_of=LAST_DAY,
    )  # fmt: skip


def swum(c: Centre, zoe: int, amaru: int = 523) -> None:
    """Minutes on the loop of both, so that only what is wanted is short."""
    for student, minutes in ((c.amaru, amaru), (c.zoe, zoe)):
        in_water(c, c.sessions["pool-22"], student, minutes)


# --- giving one ------------------------------------------------------------------------------------------------------


def test_an_answer_stands_beside_its_finding_which_stays(small_centre: Centre) -> None:
    c = small_centre
    before = len(answered(c).findings)
    given = answer(c)
    one = shown(c, REVISION)
    assert (one.answered, one.state) == (True, "answered")
    assert [line.sentence for line in one.answers] == [f"Tamsin Okoro-Vale, 2 Nov 2026: {REASON}"]
    assert one.answers[0].id == given
    assert len(answered(c).findings) == before
    assert one not in answered(c).open
    assert f"{before} findings, 1 answered." in answered(c).sentence


@pytest.mark.parametrize("reason", ["", "  \n"])
def test_an_answer_needs_a_reason(small_centre: Centre, reason: str) -> None:
    assert refused(small_centre, lambda c: answer(c, reason=reason)) == (
        "A reason is needed, in a few words. Nothing was changed."
    )


@pytest.mark.parametrize("role", Role)
def test_whoever_may_answer_by_the_table_answers_and_nobody_else(small_centre: Centre, role: Role) -> None:
    c = small_centre
    people = {
        Role.LEAD: c.lead, Role.INSTRUCTOR: c.second, Role.ASSISTANT: c.assistant, Role.CANDIDATE: c.candidate,
        Role.STUDENT: c.amaru,
    }  # fmt: skip
    person = people.get(role) or _technician(c)
    if may([role], Act.ANSWER):
        assert shown(c, REVISION).answered is False
        answer(c, by=person)
        assert shown(c, REVISION).answered
    else:
        assert "may answer a finding" in refused(c, lambda c: answer(c, by=person))
    assert may([role], Act.ANSWER) is (role in (Role.LEAD, Role.INSTRUCTOR))


def _technician(c: Centre) -> str:
    return founding.add_person(c.ledger, c.lead, name="Odo Penhallick", roles=[Role.TECHNICIAN])


def test_an_instructor_who_is_not_on_the_course_does_not_answer(small_centre: Centre) -> None:
    c = small_centre
    stranger = founding.add_person(c.ledger, c.lead, name="Ines Vaz", roles=[Role.INSTRUCTOR])
    assert refused(c, lambda c: answer(c, by=stranger)) == (
        "Findings are answered by those who run the course. Nothing was changed."
    )


# --- what it rests on ------------------------------------------------------------------------------------------------


def test_a_finding_that_changed_since_it_was_shown_is_not_answered(small_centre: Centre) -> None:
    c = small_centre
    swum(c, zoe=500)
    seen_so = shown_of(c, c.zoe).rests_on
    in_water(c, c.sessions["pool-23"], c.zoe, 10)
    with pytest.raises(RefusedError) as error:
        _answer_key(c, f"{HOURS}/{c.zoe}/in_water_on_loop", seen_so)
    assert error.value.sentence == "This finding changed since it was shown. Look at it again; nothing was changed."
    assert shown_of(c, c.zoe).answers == ()


def shown_of(c: Centre, student: str) -> ShownFinding:
    """The student's minutes on the loop that are short."""
    found = find_finding(answered(c), f"{HOURS}/{student}/in_water_on_loop")
    assert found is not None
    return found


def _answer_key(c: Centre, key: str, rests_on: str, by: str = "", reason: str = REASON) -> str:
    return answer_finding(
        c.ledger, by or c.lead, course=c.course, finding=key, rests_on=rests_on, reason=reason, as_of=LAST_DAY
    )  # fmt: skip


def test_what_is_found_no_more_is_not_answered(small_centre: Centre) -> None:
    c = small_centre
    swum(c, zoe=500)
    one = shown_of(c, c.zoe)
    in_water(c, c.sessions["pool-23"], c.zoe, 23)
    before = c.count()
    with pytest.raises(NotFoundError, match="found no more"):
        _answer_key(c, one.key, one.rests_on)
    assert c.count() == before


def test_an_answer_stays_beside_a_finding_that_changed_and_says_so(small_centre: Centre) -> None:
    c = small_centre
    swum(c, zoe=500)
    one = shown_of(c, c.zoe)
    _answer_key(c, one.key, one.rests_on)
    in_water(c, c.sessions["pool-23"], c.zoe, 10)
    now = shown_of(c, c.zoe)
    assert now.sentence.endswith("510 of 523 minutes in water on the loop: short by 13 min.")
    assert (now.answered, now.state) == (False, "changed since it was answered")
    assert now.answers[0].sentence.endswith(f"{REASON} The finding has changed since then.")
    assert now.key in {other.key for other in answered(c).open}
    second = _answer_key(c, now.key, now.rests_on, reason="One more dive is planned.")
    again = shown_of(c, c.zoe)
    assert [(line.id == second, line.replaced) for line in again.answers] == [(False, True), (True, False)]
    assert again.answered


def test_an_answer_stays_to_be_read_once_its_finding_is_gone(small_centre: Centre) -> None:
    c = small_centre
    swum(c, zoe=500)
    one = shown_of(c, c.zoe)
    _answer_key(c, one.key, one.rests_on)
    assert answered(c).gone == ()
    in_water(c, c.sessions["pool-23"], c.zoe, 23)
    told = (
        "On the course's last day, and after it, a student is short of minutes or counts; before it everybody is. "
        f"Tamsin Okoro-Vale, 2 Nov 2026: {REASON}"
    )
    assert answered(c).gone == (told,)
    assert answered(c, c.second).gone == (told,)
    assert f"Answered, and found no more: {told}" in answered(c).text()


def test_a_later_answer_takes_the_place_of_the_earlier_which_stays_to_be_read(small_centre: Centre) -> None:
    c = small_centre
    first, second = answer(c), answer(c, reason="The agency has written back.", by=c.second)
    one = shown(c, REVISION)
    assert [(line.id, line.replaced, line.who) for line in one.answers] == [
        (first, True, "Tamsin Okoro-Vale"),
        (second, False, "Bruno Ashkenar"),
    ]
    assert one.replaces == (second,)
    assert "earlier answer: Tamsin Okoro-Vale" in answered(c).text()


def test_answers_of_two_laptops_that_did_not_know_of_each_other_both_stand(small_centre: Centre) -> None:
    """And the next one takes the place of both."""
    c = small_centre
    one = shown(c, REVISION)
    drafts = [
        draft(
            actor,
            body(
                FindingAnswered, answer=new_id(), course=c.course, finding=one.key, rests_on=one.rests_on,
                observed=observed_at(NOW, "Atlantic/Azores"), reason=reason,
            ),
        )
        for actor, reason in ((c.lead, "We keep to r1."), (c.second, "Asked the agency."))
    ]  # fmt: skip
    c.ledger.append(drafts)
    both = shown(c, REVISION)
    assert sorted(line.reason for line in both.answers) == ["Asked the agency.", "We keep to r1."]
    assert [line.replaced for line in both.answers] == [False, False]
    answer(c, reason="Both hold.")
    assert [line.replaced for line in sorted(shown(c, REVISION).answers, key=lambda line: line.reason)] == [
        True, False, True,
    ]  # fmt: skip


def test_an_answer_that_was_taken_back_stands_beside_no_finding(small_centre: Centre) -> None:
    c = small_centre
    given = answer(c)
    (event,) = c.ledger.events(given)
    amending.withdraw(c.ledger, c.lead, event.id, "Meant for another.")
    assert shown(c, REVISION).answers == ()
    assert len(list(c.ledger.events(given))) == 2


# --- for the lead alone ----------------------------------------------------------------------------------------------


def compared(c: Centre) -> list[str]:
    """Six attempts of which one observer saw the error and the other did not."""
    other = all_but(c, POOL_SKILL, {})
    return [c.enter("pool-22", critical_mark(), others=((c.second, other),)) for _ in range(6)]


@pytest.mark.parametrize("who", ["second", "assistant", "candidate", "amaru"])
def test_who_marks_fewer_errors_is_for_the_lead_alone(small_centre: Centre, who: str) -> None:
    c = small_centre
    compared(c)
    person = getattr(c, who)
    key = shown(c, "fewer_errors").key
    answer(c, "fewer_errors", "Canaryreason: a joint hour on Monday.")
    own, other = answered(c, c.lead), answered(c, person)
    assert find_finding(own, key) is not None
    assert find_finding(other, key) is None
    assert len(other.findings) == len(own.findings) - 1
    assert other.sentence.startswith(f"{len(own.findings) - 1} findings, none answered.")
    for told in (other.text(), repr(other.plain())):
        assert "fewer" not in told
        assert "Canaryreason" not in told


def test_an_instructor_cannot_answer_what_is_for_the_lead(small_centre: Centre) -> None:
    c = small_centre
    compared(c)
    one = shown(c, "fewer_errors")
    before = c.count()
    with pytest.raises(NotFoundError, match="found no more"):
        _answer_key(c, one.key, one.rests_on, by=c.second)
    assert c.count() == before


def test_its_answer_does_not_show_to_others_once_it_is_found_no_more(small_centre: Centre) -> None:
    c = small_centre
    attempts = compared(c)
    answer(c, "fewer_errors")
    answer(c)
    opening = next(iter(c.ledger.events(attempts[0]))).id
    amending.withdraw(c.ledger, c.lead, opening, "Entered twice.")
    assert len(answered(c, c.lead).gone) == 1
    assert answered(c, c.second).gone == ()
    assert "fewer" not in answered(c, c.second).text()


def test_who_has_the_folder_sees_everything(small_centre: Centre) -> None:
    """Whoever can read the folder and its keys can read this too: nothing pretends otherwise."""
    compared(small_centre)
    assert shown(small_centre, "fewer_errors", asker=None).sentence


# --- the reason is private -------------------------------------------------------------------------------------------


def _bytes_of(folder: Path) -> bytes:
    return b"".join(file.read_bytes() for file in sorted(folder.iterdir()) if file.is_file() and file.name != "lock")


def test_no_word_of_a_reason_is_in_any_file(small_centre: Centre) -> None:
    c = small_centre
    given = answer(c)
    assert b"Canaryreason" not in _bytes_of(Path(c.ledger.folder))
    assert b"other_revision" in _bytes_of(Path(c.ledger.folder))  # what is answered is open, what was said is not
    fact = c.ledger.fact("findinganswer", given)
    assert isinstance(fact, FindingAnswer)
    assert "Canaryreason" not in fact.model_dump_json()


def test_a_reason_about_one_student_goes_with_them_and_one_about_the_course_stays(small_centre: Centre) -> None:
    """Erasing takes the key: the answer stays, and says that its reason is erased."""
    c = small_centre
    swum(c, zoe=500, amaru=500)
    for student in (c.zoe, c.amaru):
        one = shown_of(c, student)
        _answer_key(c, one.key, one.rests_on)
    answer(c)
    c.ledger.forget(c.zoe)
    fresh = c.ledger.facts("person")
    assert any(isinstance(person, Person) and person.id == c.zoe for person in fresh)
    c.enter("pool-22")  # one entry more, so that everything is read anew
    assert [line.reason for line in shown_of(c, c.zoe).answers] == ["the reason is erased"]
    assert [line.reason for line in shown_of(c, c.amaru).answers] == [REASON]
    assert [line.reason for line in shown(c, REVISION).answers] == [REASON]
    assert verify(Path(c.ledger.folder)).fine


def test_about_one_who_was_erased_no_new_reason_is_taken(small_centre: Centre) -> None:
    c = small_centre
    swum(c, zoe=500)
    c.ledger.forget(c.zoe)
    c.enter("pool-22")
    one = shown_of(c, c.zoe)
    assert "private data were erased" in refused(c, lambda c: _answer_key(c, one.key, one.rests_on))
