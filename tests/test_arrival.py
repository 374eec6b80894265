"""A student from another centre: what the file is, what the lead accepts of it, and that it is always told apart."""

from __future__ import annotations

import io
import json
from collections.abc import Callable

import pytest
from arrival_examples import DAYS_ITEM, POOL_ITEM, SKILL_ITEM, Elsewhere, other_centre, shown
from centre_builder import LAST_DAY, POOL_SKILL, Centre
from filed_examples import GOLDEN, words_of
from sign_off_examples import there_on
from test_actions import refused

from course.actions import amending, arrivals
from course.actions.signing import sign
from course.answers.arrival import _lines, arrival_lines, rehearse
from course.answers.competency import competency_record
from course.answers.decisions import to_sign
from course.answers.elsewhere import elsewhere_lines
from course.answers.hours import hours, student_bars
from course.answers.missing import student_counts, student_hours
from course.answers.paper_verdict import Shown
from course.answers.sign_off import sign_off_sheet
from course.answers.skill_detail import skill_detail
from course.answers.statement import statement
from course.answers.transfer import Carried, carried, transfer_file
from course.errors import RefusedError
from course.paper.filed_sheet import print_filed
from course.record.arrival_events import ElsewhereAccepted
from course.record.arrival_facts import Arrival
from course.standards.standards import Standards
from course.words import DecisionKind, StandingState


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory, standards: Standards) -> Elsewhere:
    """Built once: files are only read."""
    return other_centre(tmp_path_factory.mktemp("elsewhere"), standards)


@pytest.fixture
def arrived(small_centre: Centre, elsewhere: Elsewhere) -> tuple[Centre, str]:
    """The receiving centre, and the signed file as it arrived there."""
    return small_centre, note(small_centre, elsewhere, elsewhere.signed)


def note(c: Centre, e: Elsewhere, content: bytes, student: str = "", by: str = "", sure: str | None = None) -> str:
    return arrivals.note_arrival(
        c.ledger, by or c.lead, c.course, student or c.amaru, shown(content), e.keys, sure
    )  # fmt: skip


def accept(
    c: Centre, arrival: str, item: str, amount: int | None = None, by: str = "", reason: str = "I know them"
) -> str:
    return arrivals.accept(
        c.ledger, by or c.lead, arrival, item, as_of=LAST_DAY, amount=amount, reason=reason, confirmed_with="pin"
    )  # fmt: skip


def pool(c: Centre) -> tuple[int, int, int]:
    """Minutes in the pool of here, from elsewhere, and how many are short."""
    one = next(one for one in student_hours(c.view(), c.amaru, LAST_DAY) if one.kind == "pool")
    return one.minutes, one.elsewhere, one.short_by


# --- the file ---------------------------------------------------------------------------------------------------------


def test_without_the_students_consent_there_is_no_transfer_file(small_centre: Centre) -> None:
    c = small_centre
    with pytest.raises(RefusedError, match="That Amaru Tendelle agrees to be given on is not noted"):
        transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY)
    agreed = arrivals.note_consent(c.ledger, c.lead, c.course, c.amaru, day="2026-10-25", given_to="Saltmarsh")
    facts = dict(transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY).facts)
    assert facts["Given to"] == "Saltmarsh; the student agreed on 25 Oct 2026"
    amending.withdraw(c.ledger, c.lead, next(c.ledger.events(agreed)).id, "They changed their mind.")
    with pytest.raises(RefusedError, match="is not noted"):
        transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY)


def test_the_file_carries_skills_with_their_attempts_minutes_and_papers_and_no_medical_one(
    elsewhere: Elsewhere,
) -> None:
    carried = elsewhere.answer.carried
    assert [(one.skill, one.standing, one.attempts, one.counted) for one in carried.skills] == [
        (POOL_SKILL, "met", 5, 5), ("mp-reentry", "not_yet", 1, 1),
    ]  # fmt: skip
    amounts = {one.item: one.amount for one in carried.amounts}
    assert (amounts[POOL_ITEM], amounts[DAYS_ITEM]) == (170, 1)
    papers = [one.what for one in carried.papers]
    assert "Logged dives seen by the instructor" in papers
    assert not any("medical" in one.casefold() for one in papers)
    assert (carried.student, carried.birth_year) == ("Amaru Tendelle", "1998")


def test_a_skill_that_an_instructor_held_back_is_carried_with_that_and_the_receiving_lead_reads_it(
    small_centre: Centre,
) -> None:
    c = small_centre
    c.hold()
    (met,) = to_sign(c.view(), c.amaru, LAST_DAY)
    sign(
        c.ledger, c.second, course=c.course, student=c.amaru, skill=met.skill, decided=DecisionKind.STRICTER,
        as_of=LAST_DAY, rests_on=met.rests_on, reason="Too slow in current.",
    )  # fmt: skip
    told = carried(c.view(), c.amaru, LAST_DAY)
    (skill,) = told.skills
    assert skill.sentence.endswith(" Held back by an instructor.")
    assert "Too slow" not in skill.sentence, "the reason is for whoever signs there"
    read_anew = Carried.model_validate(json.loads(told.model_dump_json()))
    assert f"Held back by an instructor there: {skill.title}." in _lines(read_anew, "none", "")


def test_the_paper_says_what_it_said_before(elsewhere: Elsewhere) -> None:
    """After a wanted change: write `words_of` to the file anew and read the difference."""
    assert words_of(elsewhere.answer) == (GOLDEN / "transfer_file.txt").read_text("utf-8")


def test_a_rehearsal_says_whose_key_signed_it_and_changes_nothing(small_centre: Centre, elsewhere: Elsewhere) -> None:
    c, before = small_centre, small_centre.count()
    for content, keys, signature, words in (
        (elsewhere.signed, elsewhere.keys, "pinned", "Signed with a key of that centre that is pinned here"),
        (elsewhere.signed, None, "unknown", "Signed with a key that nobody here has pinned"),
        (elsewhere.unsigned, elsewhere.keys, "none", "Not signed: nothing shows that it is the other centre's"),
    ):
        found = rehearse(c.ledger, c.view(), c.amaru, shown(content), keys)
        assert found.signature == signature
        assert words in found.text()
        assert "Nothing of it counts here until the lead accepts it" in found.text()
        assert " minutes pool there.\n" in found.text()
    assert c.count() == before


DAMAGE: dict[str, tuple[Callable[[Elsewhere], bytes], str]] = {
    "half a file": (lambda e: e.signed[: len(e.signed) // 2], "The PDF was cut: its end is missing"),
    "altered data": (lambda e: e.altered, "The data in the file are not those of its code"),
    "something added": (lambda e: e.signed + b"\n% more\n", "Something was added to the file|not as it was printed"),
    "a newer version": (lambda e: e.remade(version=2), "A newer version made this file"),
    "not the form of one": (lambda e: e.remade(skills="all of them"), "does not have the form of a transfer file"),
    "another student inside": (
        lambda e: e.remade(from_student=e.answer.carried.from_course), "names another centre, course or student inside",
    ),
}  # fmt: skip


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_file_is_refused_and_nothing_is_taken_in(
    small_centre: Centre, elsewhere: Elsewhere, damage: str
) -> None:
    make, told = DAMAGE[damage]
    assert make(elsewhere) != elsewhere.signed
    before = small_centre.count()
    with pytest.raises(RefusedError, match=told):
        note(small_centre, elsewhere, make(elsewhere))
    assert small_centre.count() == before


def test_a_file_of_another_person_is_refused_and_a_name_written_otherwise_is_asked_about(
    small_centre: Centre, elsewhere: Elsewhere
) -> None:
    assert "The file is of somebody born in another year: another person's." in refused(
        small_centre, lambda c: note(c, elsewhere, elsewhere.of_zoe)
    )
    other = elsewhere.remade(student="Amaru de Tendelle")
    assert refused(small_centre, lambda c: note(c, elsewhere, other)) == (
        "The file calls this person otherwise. If it is the same person, say how you know. Nothing was taken in."
    )
    c = small_centre
    assert rehearse(c.ledger, c.view(), c.amaru, shown(other), elsewhere.keys).person == (
        "The file is of Amaru de Tendelle, born 1998; here it is Amaru Tendelle, born 1998."
    )
    note(small_centre, elsewhere, other, sure="Saw his passport.")
    (line,) = arrival_lines(small_centre.ledger, small_centre.view(), small_centre.amaru, LAST_DAY)
    assert line.sentence.endswith("The file calls them otherwise: Saw his passport.")


def test_the_same_file_again_is_told_and_not_taken_in_twice(arrived: tuple[Centre, str], elsewhere: Elsewhere) -> None:
    c, first = arrived
    for student in (c.amaru, c.zoe):
        told = refused(c, lambda c, s=student: note(c, elsewhere, elsewhere.signed, s))
        assert told.startswith("This very file arrived on ")
        assert "for Amaru Tendelle. It is not taken in a second time." in told
    accept(c, first, POOL_ITEM, 60)
    arrivals.take_back_file(c.ledger, c.lead, first, "The wrong student.", "pin")
    assert "and was taken back; its lead can say that it holds after all" in refused(
        c, lambda c: note(c, elsewhere, elsewhere.signed)
    )
    assert rehearse(c.ledger, c.view(), c.amaru, shown(elsewhere.signed), elsewhere.keys).back
    assert "confirms it with their password or PIN" in refused(
        c, lambda c: arrivals.hold_again(c.ledger, c.lead, first, "It was the right one.")
    )
    arrivals.hold_again(c.ledger, c.lead, first, "It was the right one.", "pin")
    assert pool(c)[1] == 60, "with what was accepted of it"
    assert refused(c, lambda c: arrivals.hold_again(c.ledger, c.lead, first, "Again.", "pin")) == (
        "This file was not taken back. Nothing was changed."
    )


def test_a_file_that_was_printed_here_is_none_from_elsewhere(small_centre: Centre, elsewhere: Elsewhere) -> None:
    own = elsewhere.remade(from_centre=small_centre.ledger.centre_id)
    assert "names another centre" in refused(small_centre, lambda c: note(c, elsewhere, own))


def test_only_the_lead_of_the_course_takes_in_and_accepts(arrived: tuple[Centre, str], elsewhere: Elsewhere) -> None:
    c, arrival = arrived
    for act in (
        lambda c: note(c, elsewhere, elsewhere.later, by=c.second),
        lambda c: accept(c, arrival, POOL_ITEM, 60, by=c.second),
        lambda c: arrivals.take_back(c.ledger, c.second, arrival, POOL_ITEM, "no", confirmed_with="pin"),
        lambda c: arrivals.take_back_file(c.ledger, c.second, arrival, "no", confirmed_with="pin"),
    ):
        assert "by the lead of this course alone" in refused(c, act)
    assert "may sign a standing" in refused(c, lambda c: accept(c, arrival, POOL_ITEM, 60, by=c.assistant))


# --- what is accepted -------------------------------------------------------------------------------------------------


def test_nothing_counts_until_it_is_accepted(arrived: tuple[Centre, str]) -> None:
    c, _ = arrived
    assert pool(c) == (0, 0, 354)
    assert elsewhere_lines(c.ledger, c.view(), c.amaru) == ()


def test_what_is_accepted_counts_and_is_told_as_from_elsewhere_everywhere(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    there_on(c, "pool-22")
    accept(c, arrival, POOL_ITEM, 60, reason="The pool there is ours too.")
    accept(c, arrival, DAYS_ITEM, 1)
    assert pool(c) == (170, 60, 124)
    (days,) = [one for one in student_counts(c.view(), c.amaru, LAST_DAY) if one.kind == "training_days"]
    assert (days.have, days.elsewhere, days.short_by) == (1, 1, 3)
    bars = {bar.kind: bar.words for bar in student_bars(c.view(), c.amaru, LAST_DAY).bars}
    assert bars["pool"] == "230 of 354 min, of them 60 from elsewhere: short by 124 min"
    assert "What the lead accepted from elsewhere for Amaru Tendelle is in the bars and not in these minutes." in (
        hours(c.view(), LAST_DAY).notes
    )
    lines = {line.rule: line.words for line in sign_off_sheet(c.ledger, c.view(), c.amaru, LAST_DAY).lines}
    assert lines[POOL_ITEM] == "short by 124, 60 of 230 from elsewhere"
    record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
    assert [(one.minutes, one.elsewhere, one.total) for one in record.hours if one.kind == "pool"] == [(170, 60, 230)]
    told = record.elsewhere[1]
    assert told.startswith(
        "From elsewhere, Kelpwater, as of 25 Oct 2026: 60 of 170 minutes pool. Accepted by Tamsin Okoro"
    )
    assert told.endswith(": The pool there is ours too.")


def test_a_skill_that_was_seen_elsewhere_is_told_and_has_to_be_shown_again_here(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    accept(c, arrival, SKILL_ITEM)
    detail = skill_detail(c.ledger, c.view(), c.amaru, POOL_SKILL, LAST_DAY)
    assert detail.state == StandingState.NOT_STARTED
    assert any("met there, 5 attempts, 5 of them counted, last on 25 Oct 2026." in line for line in detail.not_counted)
    assert any("It does not count here: it has to be shown again." in line for line in detail.not_counted)
    line = next(one for one in sign_off_sheet(c.ledger, c.view(), c.amaru, LAST_DAY).lines if one.rule == SKILL_ITEM)
    assert not line.met


def test_accepting_anew_takes_the_place_of_what_was_and_taking_back_ends_it(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    accept(c, arrival, POOL_ITEM, 60)
    accept(c, arrival, POOL_ITEM, 30)
    assert pool(c)[1] == 30
    arrivals.take_back(c.ledger, c.lead, arrival, POOL_ITEM, "It was another pool.", confirmed_with="pin")
    assert pool(c)[1] == 0, "what it took the place of does not come back"
    assert "Nothing of this is accepted." in refused(
        c, lambda c: arrivals.take_back(c.ledger, c.lead, arrival, POOL_ITEM, "again", confirmed_with="pin")
    )
    kinds = [event.kind for event in c.ledger.events(arrival)]
    assert kinds == ["arrived_from_elsewhere/1", *["elsewhere_accepted/1"] * 2, "withdrawn/2"]
    (told,) = elsewhere_lines(c.ledger, c.view(), c.amaru)
    assert told.startswith("From elsewhere, Kelpwater, as of 25 Oct 2026: 30 of 170 minutes pool. Accepted by Tamsin ")
    assert "It was taken back by Tamsin Okoro-Vale on " in told
    assert told.endswith(", confirmed by PIN: It was another pool.")


def test_withdrawing_the_arrival_takes_all_of_it_away(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    accept(c, arrival, POOL_ITEM, 60)
    event = next(c.ledger.events(arrival)).id
    for way in (
        lambda c: arrivals.take_back_file(c.ledger, c.lead, arrival, "The wrong course."),
        lambda c: amending.withdraw(c.ledger, c.lead, event, "The wrong course."),
    ):
        assert "confirms it with their password or PIN at the act" in refused(c, way)
    arrivals.take_back_file(c.ledger, c.lead, arrival, "The wrong course.", "password")
    assert pool(c) == (0, 0, 354)
    (told,) = elsewhere_lines(c.ledger, c.view(), c.amaru)
    assert told.startswith("From elsewhere, Kelpwater, as of 25 Oct 2026: the whole file was taken back by Tamsin ")
    assert told.endswith(", confirmed by password: The wrong course.")


def test_no_more_is_accepted_than_the_file_tells_of(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    for item, amount, told in (
        (POOL_ITEM, 171, "The file tells of 170: accept from 1 to 170."),
        (POOL_ITEM, 0, "accept from 1 to 170"),
        (POOL_ITEM, None, "accept from 1 to 170"),
        ("hours:open_water", 10, "The file says nothing of this, or these requirements do not ask for it."),
        ("skill:fl-co2", None, "The file says nothing of this, or these requirements do not ask for it."),
    ):
        assert told in refused(c, lambda c, i=item, a=amount: accept(c, arrival, i, a))
    assert refused(c, lambda c: accept(c, arrival, POOL_ITEM, 60, reason=" ")).startswith("A reason is needed")


def test_more_than_the_file_tells_of_never_counts_whoever_wrote_the_event(arrived: tuple[Centre, str]) -> None:
    """An event that no action of ours wrote."""
    c, arrival = arrived
    made = accept(c, arrival, POOL_ITEM, 60)
    event = c.ledger.event(made)
    assert event is not None
    content = ElsewhereAccepted(
        arrival=arrival, item=POOL_ITEM, amount=9000, replaces=(made,), observed=c.view().arrivals[0].observed,
        reason="All of it.",
    )  # fmt: skip
    c.ledger.append([arrivals.draft(c.lead, content, private_of=c.amaru)])
    assert pool(c)[1] == 170


def test_two_files_of_one_record_tell_of_the_same_minutes(arrived: tuple[Centre, str], elsewhere: Elsewhere) -> None:
    c, first = arrived
    second = note(c, elsewhere, elsewhere.later)
    accept(c, first, POOL_ITEM, 100)
    assert "Another file of the same record counts for this already" in refused(
        c, lambda c: accept(c, second, POOL_ITEM, 340)
    )
    arrivals.take_back(c.ledger, c.lead, first, POOL_ITEM, "The later file tells of more.", confirmed_with="pin")
    accept(c, second, POOL_ITEM, 340)
    assert pool(c) == (0, 340, 14)


def test_a_sign_off_before_something_was_accepted_is_on_an_older_record(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    before = sign_off_sheet(c.ledger, c.view(), c.amaru, LAST_DAY).rests_on
    accept(c, arrival, POOL_ITEM, 60)
    assert sign_off_sheet(c.ledger, c.view(), c.amaru, LAST_DAY).rests_on != before


def test_what_came_from_elsewhere_is_not_carried_on_as_ones_own(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    accept(c, arrival, POOL_ITEM, 60)
    arrivals.note_consent(c.ledger, c.lead, c.course, c.amaru, day="2026-10-25", given_to="A third one")
    carried = transfer_file(c.ledger, c.view(), c.amaru, LAST_DAY).carried
    assert {one.item: one.amount for one in carried.amounts}[POOL_ITEM] == 0


def test_the_other_centres_words_are_sealed_with_the_students_key(arrived: tuple[Centre, str]) -> None:
    c, arrival = arrived
    bodies = "".join(event.body for event in c.ledger.events(arrival))
    for word in ("Kelpwater", "Close before it leaves the mouth", "Amaru"):
        assert word not in bodies
    fact = c.ledger.fact("arrival", arrival)
    assert isinstance(fact, Arrival)
    assert fact.signature == "pinned"
    assert {piece.of for piece in fact.private} == {c.amaru}


def test_a_file_that_was_signed_with_a_lost_key_is_refused(small_centre: Centre, elsewhere: Elsewhere) -> None:
    """Whether the key was lost before the file was made or after: here nothing shows that its ledger ever said so."""
    code = shown(elsewhere.signed).code
    (key,) = elsewhere.keys
    lost = {"ended": "lost", "ended_day": "2026-10-26", "ended_chain": code.chain, "replaced_by": "ab" * 32}
    for seq, told in (
        (code.seq, "after that key was lost"),
        (code.seq + 1, "whoever found the key may have made the paper"),
    ):
        keys = (key.model_copy(update=lost | {"ended_seq": seq}),)
        with pytest.raises(RefusedError, match=told):
            rehearse(small_centre.ledger, small_centre.view(), small_centre.amaru, shown(elsewhere.signed), keys)


def test_the_square_code_alone_carries_nothing_that_could_be_taken_in(
    small_centre: Centre, elsewhere: Elsewhere
) -> None:
    code = Shown(shown(elsewhere.signed).code)
    with pytest.raises(RefusedError, match="Only the PDF of a transfer file carries what it says"):
        rehearse(small_centre.ledger, small_centre.view(), small_centre.amaru, code, elsewhere.keys)


def test_another_paper_is_no_transfer_file(small_centre: Centre, elsewhere: Elsewhere) -> None:
    c = small_centre
    file = io.BytesIO()
    print_filed(statement(c.ledger, c.view(), c.amaru, LAST_DAY), file)
    with pytest.raises(RefusedError, match="This is no transfer file but: Statement of what was done"):
        rehearse(c.ledger, c.view(), c.amaru, shown(file.getvalue()), elsewhere.keys)


def test_what_somebody_else_than_the_lead_accepted_counts_for_nothing(arrived: tuple[Centre, str]) -> None:
    """An event that no action of ours wrote."""
    c, arrival = arrived
    observed = c.view().arrivals[0].observed
    content = ElsewhereAccepted(arrival=arrival, item=POOL_ITEM, amount=60, observed=observed, reason="Mine.")
    c.ledger.append([arrivals.draft(c.second, content, private_of=c.amaru)])
    assert pool(c)[1] == 0


def test_totals_of_the_transfer_file_are_those_of_hours(elsewhere: Elsewhere) -> None:
    (section,) = [one for one in elsewhere.answer.sections if one.title == "Minutes and counts"]
    printed = {line.text: int(line.figures[0]) for line in section.lines}
    amounts = {one.item: one.amount for one in elsewhere.answer.carried.amounts}
    assert list(printed.values()) == list(amounts.values())
    assert printed["minutes pool"] == 170


def test_a_key_that_is_pinned_later_is_noted_with_the_same_file(small_centre: Centre, elsewhere: Elsewhere) -> None:
    c = small_centre
    first = arrivals.note_arrival(c.ledger, c.lead, c.course, c.amaru, shown(elsewhere.signed), None)
    assert c.view().arrivals[0].signature == "unknown"
    accept(c, first, POOL_ITEM, 60)
    assert note(c, elsewhere, elsewhere.signed) == first
    (arrival,) = c.view().arrivals
    assert (arrival.signature, arrival.contested) == ("pinned", ())
    assert pool(c)[1] == 60, "what was accepted stays"
    assert "It is not taken in a second time." in refused(c, lambda c: note(c, elsewhere, elsewhere.signed))
