"""Roll calls, the site plan, the one list of what is open, and the checkpoint that closes a day."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from centre_builder import Centre, seen_at
from day_builder import POOL, POOL_DAY, Day
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from course.actions import day as days
from course.actions import keys, slates
from course.actions.attempts import close_draft
from course.answers import roll_call
from course.answers.day_end import OpenKind, TabletWaiting, Way
from course.answers.day_paper import site_texts
from course.answers.day_state import SessionState, named_sessions, sessions_on, training_days
from course.asker import Asker, asked_as
from course.errors import NotFoundError, RefusedError
from course.moments import observed_at, read_stored
from course.record.day_facts import RollCall
from course.record.facts import Checkpoint, Session
from course.storage.inspection import verify
from course.storage.ledger import open_ledger
from course.storage.mending import mark_put_back
from course.words import Closing, Role, SpanRole


@pytest.fixture
def pool(small_centre: Centre) -> Day:
    """The pool day; nothing has happened yet."""
    return Day(small_centre)


def kinds(pool: Day) -> list[OpenKind]:
    """Kinds of open things but sessions that are not closed, in the list's order."""
    return [item.kind for item in pool.end().items if item.kind is not OpenKind.SESSION]


# --- the list ------------------------------------------------------------------------------------------------------


def test_nothing_open_says_close_the_day_and_a_closed_day_says_so(pool: Day) -> None:
    assert pool.end().sentence == "Nothing is open: close the day."
    with asked_as(Asker(pool.centre.assistant, frozenset({Role.ASSISTANT}))):  # who may not close it
        assert pool.end().sentence == "Nothing is open: the day can be closed."
    assert [item.kind for item in pool.end().items] == [OpenKind.SESSION]
    pool.close()
    assert pool.end().items == ()
    assert pool.end().sentence == "The day is closed, and nothing is open."


def test_a_day_without_a_session_has_nothing_to_close(pool: Day) -> None:
    day, centre = date(2026, 10, 20), pool.centre
    assert days.day_end(centre.ledger, centre.view(), day).sentence == "No session on this day: nothing to close."
    with pytest.raises(RefusedError, match="no session on 20 Oct 2026"):
        days.close_day(centre.ledger, centre.lead, centre.course, day, pool.at(), shown_open=0)


def test_each_open_thing_says_what_it_is_and_has_a_way_out(pool: Day) -> None:
    pool.comes(pool.centre.amaru)
    pool.roll("going_in", [pool.centre.amaru, pool.centre.zoe])
    pool.centre.open()
    pool.sheet()
    pool.plant()
    tablet = TabletWaiting("Tablet 2", pool.at(15, 20), 3)
    told = {item.kind: item for item in pool.end(tablet).items}
    assert set(told) == set(OpenKind) - {OpenKind.MISSING, OpenKind.INCIDENT}
    assert all(item.ways and all(way.label and way.target for way in item.ways) for item in told.values())
    assert "Amaru Tendelle (student) is in Pool Of The 22 since 13:40" in told[OpenKind.SPAN].sentence
    assert "it was planned until 16:20" in told[OpenKind.SPAN].sentence
    assert "open since 14:00, marked by Tamsin Okoro-Vale" in told[OpenKind.ATTEMPT].sentence
    assert "not copied in yet: all 2 columns" in told[OpenKind.SHEET].sentence
    assert "Planted fault in A-05 not cleared" in told[OpenKind.SLIP].sentence
    assert "Tablet 2: 3 marks waiting when it was last heard of, at 15:20" in told[OpenKind.TABLET].sentence
    assert "went in, and no roll was called for them coming out" in told[OpenKind.ROLL_OUT].sentence
    assert pool.end(tablet).sentence == (
        "Six things are open: a roll call coming out, a time without an end, an open attempt, a sheet to copy in, "
        "a planted fault and a tablet with waiting marks."
    )


def test_two_of_a_kind_are_counted(pool: Day) -> None:
    pool.roll("other", [pool.centre.amaru])
    pool.comes(pool.centre.amaru)
    pool.comes(pool.centre.zoe)
    assert pool.end().sentence == "Two things are open: 2 times without an end."


def test_a_sheet_names_the_columns_that_are_not_copied_in(pool: Day) -> None:
    slate = pool.sheet(tries=2)
    (item,) = (item for item in pool.end().items if item.kind is OpenKind.SHEET)
    assert "all 4 columns" in item.sentence
    code = pool.session.slates[0].code
    assert [way.target for way in item.ways if way.way is Way.COPY_IN] == [(pool.id, slate, code)]
    slates.set_aside(pool.centre.ledger, pool.centre.lead, pool.id, slate, "not_used")
    assert OpenKind.SHEET not in kinds(pool)


def test_a_fault_planted_on_an_earlier_day_is_open_today_and_not_before_it_was_planted(pool: Day) -> None:
    pool.plant()
    centre = pool.centre
    before, on, after = (days.day_end(centre.ledger, centre.view(), date(2026, 10, d)) for d in (21, 22, 23))
    assert [OpenKind.SLIP in {item.kind for item in end.items} for end in (before, on, after)] == [False, True, True]


def test_a_unit_on_hold_is_a_note_and_does_not_keep_the_day_open(pool: Day) -> None:
    from course.actions.drafting import body, draft
    from course.moments import new_id
    from course.record.events import UnitHeld

    held = body(UnitHeld, unit=pool.centre.unit_a, hold=new_id(), observed=pool.at(15, 10))
    pool.centre.ledger.append([draft(pool.centre.lead, held)])
    assert pool.end().notes == ("A-05 is on hold since 22 Oct 2026, 15:10: not for water.",)
    assert kinds(pool) == []


def test_after_everybody_came_out_the_next_roll_is_going_in_again_while_they_are_signed_in(pool: Day) -> None:
    amaru = pool.centre.amaru
    span = pool.comes(amaru)
    assert roll_call.usual_roll(pool.session) == "going_in"
    pool.roll("going_in", [amaru], 0)
    assert roll_call.usual_roll(pool.session) == "coming_out"
    pool.roll("coming_out", [amaru], 10)
    assert roll_call.usual_roll(pool.session) == "going_in"
    pool.roll("going_in", [amaru], 20)
    assert roll_call.usual_roll(pool.session) == "coming_out"
    pool.roll("coming_out", [amaru], 40)
    pool.leaves(span)
    assert roll_call.usual_roll(pool.session) == "coming_out"


def test_nobody_leaves_together_where_nobody_is_in_or_before_they_came(pool: Day) -> None:
    with pytest.raises(RefusedError, match="nobody is in who could leave"):
        days.everyone_left(pool.centre.ledger, pool.centre.lead, pool.id, pool.at(15))
    pool.comes(pool.centre.amaru)
    with pytest.raises(RefusedError, match="nobody leaves before they came"):
        days.everyone_left(pool.centre.ledger, pool.centre.lead, pool.id, pool.at(13))
    assert [span.end for span in pool.session.spans] == [None]


def test_who_is_missing_comes_first_of_all(pool: Day) -> None:
    pool.roll("going_in", [pool.centre.amaru, pool.centre.zoe], 0)
    pool.centre.open()
    called = pool.roll("coming_out", [pool.centre.zoe])
    assert called.missing == (pool.centre.amaru,)
    assert called.sentence.startswith("MISSING: Amaru Tendelle.")
    end = pool.end()
    assert end.items[0].kind is OpenKind.MISSING
    assert end.items[0].sentence.startswith("MISSING: Amaru Tendelle did not answer in Pool Of The 22 at 15:45")
    assert end.sentence == "MISSING: Amaru Tendelle. One other thing is open."
    pool.roll("other", [pool.centre.amaru], 50)
    assert OpenKind.MISSING not in kinds(pool)
    assert OpenKind.ROLL_OUT in kinds(pool)  # found, and not called out of the water yet
    pool.roll("coming_out", [pool.centre.amaru], 55)
    assert kinds(pool) == [OpenKind.ATTEMPT]


# --- roll calls ----------------------------------------------------------------------------------------------------


def test_coming_out_nobody_drops_out_by_being_forgotten(pool: Day) -> None:
    """Who went in, and who is signed in, has to answer, whether the caller names them or not."""
    pool.roll("going_in", [pool.centre.amaru], 0)
    pool.comes(pool.centre.zoe)
    called = pool.roll("coming_out", [pool.centre.lead])
    assert set(called.missing) == {pool.centre.amaru, pool.centre.zoe}


def test_somebody_who_was_not_there_going_in_is_not_missing(pool: Day) -> None:
    called = pool.roll("going_in", [pool.centre.amaru], 0, missing=[pool.centre.zoe])
    assert called.sentence == "1 person answered; not here: Zoë <i>O'Brien-Ünal</i> =1+1."
    pool.roll("coming_out", [pool.centre.amaru])
    assert kinds(pool) == []


def test_a_roll_that_contradicts_itself_is_refused(pool: Day) -> None:
    with pytest.raises(RefusedError, match="present and missing at once"):
        pool.roll("other", [pool.centre.amaru], missing=[pool.centre.amaru])
    with pytest.raises(RefusedError, match="Nobody was called"):
        pool.roll("going_in", [])
    with pytest.raises(RefusedError, match="not in this centre"):
        pool.roll("other", [pool.id])
    assert pool.session.rolls == ()


def test_students_and_candidates_call_no_roll(pool: Day) -> None:
    for who in (pool.centre.candidate, pool.centre.amaru):
        with pytest.raises(RefusedError, match="may run the day"):
            pool.roll("going_in", [pool.centre.amaru], by=who)


PEOPLE = ("amaru", "halima", "zoe", "ravi")
ROLLS = st.lists(
    st.tuples(st.sampled_from(["going_in", "coming_out", "other"]), st.sets(st.sampled_from(PEOPLE))), max_size=8
)


@given(ROLLS)
def test_whoever_went_in_is_out_only_by_a_roll_coming_out(called: list[tuple[roll_call.When, set[str]]]) -> None:
    """Against a plain account kept beside it, person by person."""
    inside = dict.fromkeys(PEOPLE, False)
    lost = dict.fromkeys(PEOPLE, False)
    session = empty_session()
    for minute, (when, present) in enumerate(called):
        expected = set() if when == "going_in" else set(roll_call.has_to_answer(session, when))
        missing = tuple(sorted(expected - present))
        for person in PEOPLE:
            if person in present:
                inside[person] = {"going_in": True, "coming_out": False}.get(when, inside[person])
                lost[person] = False
            elif person in missing:
                lost[person] = True
        session = with_roll(session, when, tuple(sorted(present)), missing, minute)
        assert set(roll_call.went_in(session)) == {p for p in PEOPLE if inside[p]}
        assert set(roll_call.missing_now(session)) == {p for p in PEOPLE if lost[p]}
        assert set(roll_call.has_to_answer(session, "coming_out")) == {p for p in PEOPLE if inside[p] or lost[p]}


def empty_session() -> Session:
    """A session without groups or times."""
    return Session(
        id="s", course="c", title="Pool", setting="pool", start=seen_at(22, 13), end=seen_at(22, 16)
    )  # fmt: skip


def with_roll(
    session: Session, when: roll_call.When, present: tuple[str, ...], missing: tuple[str, ...], minute: int
) -> Session:
    """The session with one more roll."""
    at = observed_at(read_stored(f"2026-10-22T14:{minute:02}:00.000000Z"), "Atlantic/Azores")
    roll = RollCall(
        id=f"r{minute}", event="e", when=when, present=present, missing=missing, called_by="x", observed=at
    )  # fmt: skip
    return session.model_copy(update={"rolls": (*session.rolls, roll)})


# --- the site plan -------------------------------------------------------------------------------------------------


def test_a_site_plan_takes_the_place_of_the_one_before_in_every_session_named(pool: Day) -> None:
    centre = pool.centre
    both = [pool.id, centre.sessions["pool-23"]]
    days.plan_site(centre.ledger, centre.assistant, both, emergency="Call 112", plan=None)
    days.plan_site(
        centre.ledger, centre.assistant, [pool.id], emergency="Call 112 first", plan="Ladder at the north end"
    )
    assert site_texts(centre.ledger, pool.session) == (("Call 112 first",), ("Ladder at the north end",))
    assert site_texts(centre.ledger, centre.view().sessions[both[1]]) == (("Call 112",), ())
    with pytest.raises(RefusedError, match="Write whom to call"):
        days.plan_site(centre.ledger, centre.assistant, both, emergency=" ", plan=None)


# --- closing -------------------------------------------------------------------------------------------------------


def test_a_session_is_closed_and_opened_again_with_a_reason(pool: Day) -> None:
    centre = pool.centre
    days.close_session(centre.ledger, centre.lead, pool.id, pool.at(16, 30))
    assert "was closed on 22 Oct 2026 at 16:30" in pool.state.sentence
    with pytest.raises(RefusedError, match="is closed already"):
        days.close_session(centre.ledger, centre.lead, pool.id, pool.at(16, 31))
    with pytest.raises(RefusedError, match="A reason is needed"):
        days.reopen_session(centre.ledger, centre.lead, pool.id, "", pool.at(17))
    days.reopen_session(centre.ledger, centre.lead, pool.id, "A sheet turned up.", pool.at(17))
    assert pool.state.state is SessionState.OPEN
    with pytest.raises(RefusedError, match="is not closed"):
        days.reopen_session(centre.ledger, centre.lead, pool.id, "Again.", pool.at(17))


def test_only_lead_and_instructors_close(pool: Day) -> None:
    with pytest.raises(RefusedError, match="may close a session or a day"):
        days.close_session(pool.centre.ledger, pool.centre.assistant, pool.id, pool.at(17))


def test_a_frozen_session_keeps_the_day_open_and_says_who_can_end_that(pool: Day) -> None:
    which = pool.freeze(note="Somebody felt unwell.")
    with pytest.raises(RefusedError, match=r"Pool Of The 22 is frozen\. The lead or an instructor"):
        pool.close()
    assert kinds(pool) == [OpenKind.INCIDENT]
    pool.resume(which)
    pool.close()


def test_a_day_is_closed_with_open_things_only_as_they_were_shown(pool: Day) -> None:
    pool.sheet()
    with pytest.raises(RefusedError, match="1 thing is open now, 0 were shown"):
        pool.close(0)
    assert pool.session.closed_at is None
    tablet = TabletWaiting("Tablet 2", pool.at(), 1)
    checkpoint = pool.centre.ledger.fact("checkpoint", pool.close(2, tablet))
    assert isinstance(checkpoint, Checkpoint)
    assert (checkpoint.still_open, checkpoint.day, checkpoint.made_by) == (2, "2026-10-22", pool.centre.lead)
    assert pool.end().checkpoints[0].sentence == (
        "Closed by Tamsin Okoro-Vale, 2 things left open; it names the head of 1 chain."
    )


def test_the_checkpoint_names_every_head_as_verify_finds_it(pool: Day) -> None:
    """A laptop put back from a copy goes on as a chain of its own; both heads are named, as they were before."""
    folder = pool.centre.ledger.folder
    pool.centre.ledger.close()
    mark_put_back(folder)
    with open_ledger(folder, write=True) as ledger:
        again = Day(replace(pool.centre, ledger=ledger))
        again.comes(again.centre.amaru)
        found = {(c.chain, c.events, c.hash) for c in verify(folder).chains}
        heads = {(h.chain, h.seq, h.hash) for h in ledger.heads()}
        before = again.centre.count()
        checkpoint = ledger.fact("checkpoint", again.close())
        assert isinstance(checkpoint, Checkpoint)
        assert set(checkpoint.heads) == heads == found
        assert len(heads) == 2
        assert [e.kind for e in list(ledger.events())[before:]] == ["session_closed/1", "checkpoint_made/1"]
        assert verify(folder).fine


def test_a_closed_day_can_be_closed_again_and_closes_no_session_twice(pool: Day) -> None:
    pool.close()
    before = pool.centre.count()
    pool.close()
    assert [e.kind for e in list(pool.centre.ledger.events())[before:]] == ["checkpoint_made/1"]
    assert len(pool.end().checkpoints) == 2


def test_where_the_centres_key_is_at_hand_the_checkpoint_is_signed(pool: Day) -> None:
    keys.make_key(pool.centre.ledger, pool.centre.lead)
    checkpoint = pool.centre.ledger.fact("checkpoint", pool.close())
    assert isinstance(checkpoint, Checkpoint)
    assert len(checkpoint.heads) == 1
    assert list(pool.centre.ledger.events())[-1].kind == "checkpoint_made/2"
    assert verify(pool.centre.ledger.folder).fine


# --- the law -------------------------------------------------------------------------------------------------------


class Book:
    """What is open by a plain account, beside the ledger."""

    def __init__(self, pool: Day) -> None:
        self.pool = pool
        self.open: dict[OpenKind, list[str]] = {kind: [] for kind in OpenKind}
        self.inside: set[str] = set()
        self.wet = bool(pool.session.spans)
        self.called = any(roll.when != "going_in" for roll in pool.session.rolls)
        self.minute = len(pool.session.rolls)

    def comes(self) -> None:
        """Somebody is in."""
        self.open[OpenKind.SPAN].append(self.pool.comes(self.pool.centre.amaru, SpanRole.SURFACE))
        self.wet = True

    def leaves(self) -> None:
        """They leave."""
        if self.open[OpenKind.SPAN]:
            self.pool.leaves(self.open[OpenKind.SPAN].pop())

    def tries(self) -> None:
        """An attempt is opened, unless the session is frozen."""
        if not self.open[OpenKind.INCIDENT]:
            self.open[OpenKind.ATTEMPT].append(self.pool.centre.open().attempt)

    def ends(self) -> None:
        """An attempt is stopped."""
        if self.open[OpenKind.ATTEMPT]:
            attempt = self.pool.centre.attempt(self.open[OpenKind.ATTEMPT].pop())
            ledger, lead = self.pool.centre.ledger, self.pool.centre.lead
            ending = close_draft(ledger, lead, attempt, Closing.STOPPED, self.pool.at(), stopped_by="student")
            ledger.append([ending])

    def gives_out(self) -> None:
        """A sheet is given out; printing it again is the same sheet."""
        slate = self.pool.sheet()
        if slate not in self.open[OpenKind.SHEET]:
            self.open[OpenKind.SHEET].append(slate)

    def sets_aside(self) -> None:
        """It will not be entered."""
        if self.open[OpenKind.SHEET]:
            slate = self.open[OpenKind.SHEET].pop()
            slates.set_aside(self.pool.centre.ledger, self.pool.centre.lead, self.pool.id, slate, "lost")

    def plants(self) -> None:
        """A fault is planted."""
        self.open[OpenKind.SLIP].append(self.pool.plant())

    def clears(self) -> None:
        """It is taken out."""
        if self.open[OpenKind.SLIP]:
            self.pool.clear(self.open[OpenKind.SLIP].pop())

    def goes_in(self) -> None:
        """The roll going in."""
        self._roll("going_in", [self.pool.centre.zoe])
        self.inside = {self.pool.centre.zoe}

    def comes_out(self) -> None:
        """The roll coming out; everybody answers."""
        self._roll("coming_out", [self.pool.centre.zoe, self.pool.centre.amaru])
        self.inside, self.called = set(), True

    def _roll(self, when: roll_call.When, present: list[str]) -> None:
        self.minute += 1
        centre, at = self.pool.centre, observed_at(read_stored("2026-10-22T15:00:00.000000Z"), "Atlantic/Azores")
        at = at.model_copy(update={"utc": f"2026-10-22T15:{self.minute // 60:02}:{self.minute % 60:02}.000000Z"})
        days.call_roll(centre.ledger, centre.lead, self.pool.id, when=when, present=present, observed=at)

    def freezes(self) -> None:
        """The session is frozen; attempts end with it."""
        if not self.open[OpenKind.INCIDENT]:
            self.open[OpenKind.INCIDENT].append(self.pool.freeze())
            self.open[OpenKind.ATTEMPT].clear()

    def goes_on(self) -> None:
        """It goes on."""
        if self.open[OpenKind.INCIDENT]:
            self.pool.resume(self.open[OpenKind.INCIDENT].pop())

    def expected(self) -> set[tuple[OpenKind, str]]:
        """Every open thing, by kind and id."""
        rolls = {(OpenKind.ROLL_OUT, self.pool.id)} if self.inside or (self.wet and not self.called) else set()
        return rolls | {(kind, thing) for kind, things in self.open.items() for thing in things}

    def listed(self) -> set[tuple[OpenKind, str]]:
        """What the list says."""
        items = [item for item in self.pool.end().items if item.kind is not OpenKind.SESSION]
        return {(i.kind, i.about[0] if i.kind is OpenKind.ROLL_OUT else i.about[-1]) for i in items}


OPENING: tuple[Callable[[Book], None], ...] = (
    Book.comes, Book.tries, Book.gives_out, Book.plants, Book.goes_in, Book.freezes,
)  # fmt: skip
ENDING: tuple[Callable[[Book], None], ...] = (
    Book.leaves, Book.ends, Book.sets_aside, Book.clears, Book.comes_out, Book.goes_on,
)  # fmt: skip


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.sampled_from((*OPENING, *ENDING)), max_size=8))
def test_the_list_is_empty_exactly_when_nothing_is_open(pool: Day, acts: list[Callable[[Book], None]]) -> None:
    book = Book(pool)
    for act in acts:
        act(book)
        assert book.listed() == book.expected()
    while any(book.open.values()):
        for act in ENDING:
            act(book)
    book.comes_out()
    assert book.listed() == set()
    assert pool.end().sentence == "Nothing is open: close the day."


# --- sessions by name ----------------------------------------------------------------------------------------------


def test_a_session_is_found_by_title_id_part_or_day(pool: Day) -> None:
    seen = pool.centre.view()
    for wanted in ("Pool Of The 22", "pool of the 22", pool.id, "the 22", "2026-10-22"):
        assert [s.id for s in named_sessions(seen, wanted)] == [pool.id]
    with pytest.raises(NotFoundError, match="Several sessions fit 'pool'"):
        named_sessions(seen, "pool")
    with pytest.raises(NotFoundError, match="no session or session day '2026-11-01'"):
        named_sessions(seen, "2026-11-01")


def test_training_days_are_those_with_a_session(pool: Day) -> None:
    seen = pool.centre.view()
    assert [day.day for day in training_days(seen)] == [21, 22, 23, 24, 25]
    assert [s.id for s in sessions_on(seen, POOL_DAY)] == [pool.centre.sessions[POOL]]
