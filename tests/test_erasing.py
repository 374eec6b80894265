"""Erasing one person: no byte of a name is left in any file, nothing that was counted changes, no old vault helps."""

from __future__ import annotations

import json
import shutil
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

import pytest
from centre_builder import LAST_DAY, Centre, build_centre, note_papers, seen_at, shipped_standards
from ledger_examples import look

from course.actions import arrivals, courses, exceptions, incident, presence, privacy, signing
from course.actions.amending import correct, withdraw
from course.actions.centre import add_person
from course.answers.class_practice import class_practice
from course.answers.course_view import CourseView, view
from course.answers.decisions import evidence
from course.answers.erasing import before_erasing, named_in
from course.answers.exceptions import counted_hash
from course.answers.hours import hours
from course.answers.keeping import keeping
from course.answers.missing import missing, student_counts
from course.answers.observers import observers
from course.answers.practice import student_practice
from course.errors import RefusedError, StorageError
from course.record.facts import Person
from course.storage.backup import backup, restore
from course.storage.erasing import drop_erased_keys
from course.storage.inspection import verify
from course.storage.ledger import Ledger, open_ledger
from course.storage.remembered import recalled
from course.storage.vault import Vault
from course.words import Authority, DecisionKind, Role

CANARY = "Quillonbright"
WORDS = (CANARY, "1991-08-17", "quill@example.org", "left-handed canary", "said a canary thing")
LATER = datetime(2027, 3, 1, 12, tzinfo=UTC)


@pytest.fixture
def after(monkeypatch: pytest.MonkeyPatch) -> None:
    """A day on which the course is long over."""
    monkeypatch.setattr("course.answers.keeping.now", lambda: LATER)


@pytest.fixture
def with_canary(small_centre: Centre) -> tuple[Centre, str]:
    """The small centre with one more student, in whose every private field a canary stands, and who did a skill."""
    return small_centre, add_canary(small_centre)


def add_canary(centre: Centre) -> str:
    """A student with a name, birth date, contact and note, an attempt with a reason, an exception, and a consent."""
    person = add_person(
        centre.ledger, centre.lead, name=f"Odile {CANARY}", roles=[Role.STUDENT], birth_date=WORDS[1],
        contact=WORDS[2], note=WORDS[3],
    )  # fmt: skip
    note_papers(centre.ledger, centre.lead, centre.course, person)
    courses.enrol(centre.ledger, centre.lead, centre.course, person, Role.STUDENT)
    courses.assign_unit(centre.ledger, centre.lead, centre.course, person, centre.unit_a, "2026-10-20")
    centre.hold(student=person)
    centre.enter(student=person, closing="void", reason=f"{WORDS[4]} about {CANARY}")
    presence.sign_in(
        centre.ledger, centre.lead, centre.sessions["pool-22"], person, seen_at(22, 13, 35), end=seen_at(22, 15)
    )
    days = next(one for one in student_counts(centre.view(), person, LAST_DAY) if one.kind == "training_days")
    exceptions.propose(
        centre.ledger, centre.lead, course=centre.course, student=person, rule="count:training_days", as_of=LAST_DAY,
        rests_on=counted_hash(days), reason=f"{CANARY} was there before", confirmed_with="pin"
    )  # fmt: skip
    arrivals.note_consent(
        centre.ledger, centre.lead, centre.course, person, day="2026-10-25", given_to=f"{CANARY} and daughters"
    )
    return person


def erase(centre: Centre, person: str, ledger: Ledger | None = None) -> privacy.Erased:
    """Erased as the person asked, in spite of whatever speaks against it."""
    return privacy.erase_person(
        ledger or centre.ledger, centre.lead, person, authority=Authority.PERSON, reason="asked in writing",
        despite="it is a test",
    )  # fmt: skip


def every_byte(*folders: Path) -> dict[str, bytes]:
    """Every file below these folders, whatever it is for."""
    return {str(file): file.read_bytes() for folder in folders for file in folder.rglob("*") if file.is_file()}


def holding(found: dict[str, bytes], *wanted: bytes) -> list[str]:
    """The files in which one of these stands."""
    return [name for name, content in found.items() if any(one in content for one in wanted)]


def counted(seen: CourseView) -> str:
    """All that is counted of a course, without names."""
    standings = {
        f"{student} {skill.id}": [s.state.value, s.budget_used, list(s.events)]
        for student in seen.students
        for skill in seen.skills()
        for s in (seen.standing(student, skill, seen.last_day),)
    }
    minutes = hours(seen, seen.last_day, None).plain()
    statistics = [
        asdict(class_practice(seen, seen.last_day)),
        asdict(observers(seen, seen.centre.lead, seen.last_day)),
        [asdict(student_practice(seen, student, seen.last_day)) for student in seen.students],
    ]
    return json.dumps([standings, minutes, statistics], sort_keys=True, default=str).replace(CANARY, "")


@pytest.mark.usefixtures("after")
def test_no_byte_of_a_name_or_key_is_left_in_any_file(
    with_canary: tuple[Centre, str], state_folder: Path, tmp_path: Path
) -> None:
    """Ledger, its log, vault, witness, state folder, and a backup made afterwards, while the program runs and after."""
    centre, person = with_canary
    folder = centre.ledger.folder
    key = centre.ledger.vault._known_key(person)
    assert key is not None
    assert holding(every_byte(folder), key) == [str(folder / "vault.db")]
    erase(centre, person)
    wanted = (key, *(word.encode() for word in WORDS))
    assert holding(every_byte(folder, state_folder), *wanted) == []
    backup(folder, tmp_path / "after.tar")
    centre.ledger.close()
    assert holding(every_byte(folder, state_folder, tmp_path), *wanted) == []


@pytest.mark.usefixtures("after")
def test_nothing_that_was_counted_changes_and_the_chain_is_whole(with_canary: tuple[Centre, str]) -> None:
    centre, person = with_canary
    before, events = counted(centre.view()), centre.count()
    hashes = [event.hash for event in centre.ledger.chain_events()]
    erase(centre, person)
    seen = centre.view()
    assert counted(seen).replace(f"erased person {person[-6:]}", "Odile ") == before
    assert centre.count() == events + 1
    assert [event.hash for event in centre.ledger.chain_events()][:-1] == hashes
    assert verify(centre.ledger.folder).fine
    assert seen.name(person) == f"erased person {person[-6:]}"
    assert f"erased person {person[-6:]}" in missing(seen, [person], seen.last_day).text()


@pytest.mark.usefixtures("after")
def test_tables_made_again_from_the_events_are_the_same(with_canary: tuple[Centre, str]) -> None:
    from course.storage.mending import rebuild

    centre, person = with_canary
    erase(centre, person)
    folder = centre.ledger.folder
    centre.ledger.close()
    before = look(folder, "SELECT * FROM fact ORDER BY centre, kind, id")
    rebuild(folder)
    assert look(folder, "SELECT * FROM fact ORDER BY centre, kind, id") == before
    (fact,) = [row for row in before if row[1:3] == ("person", person)]
    assert '"private":[{' in fact[-1]  # the centre's reason alone
    assert fact[-1].count(f'"of":"{person}"') == 0


@pytest.mark.usefixtures("after")
@pytest.mark.parametrize("write", [True, False], ids=["to write", "to read"])
def test_an_old_vault_that_is_put_back_opens_nothing_even_on_another_device(
    with_canary: tuple[Centre, str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, *, write: bool
) -> None:
    centre, person = with_canary
    folder = centre.ledger.folder
    old = (folder / "vault.db").read_bytes()
    erase(centre, person)
    centre.ledger.close()
    (folder / "vault.db").write_bytes(old)
    monkeypatch.setenv("LOOPLEDGER_STATE", str(tmp_path / "another"))
    with open_ledger(folder, write=write) as ledger:
        assert not ledger.vault.knows(person)
        assert view(ledger, centre.course).name(person) == f"erased person {person[-6:]}"
    with open_ledger(folder, write=True):
        pass
    assert not Vault(folder, write=True).knows(person)


@pytest.mark.usefixtures("after")
def test_a_backup_made_before_comes_back_without_the_key_on_this_device(
    with_canary: tuple[Centre, str], tmp_path: Path
) -> None:
    """Its ledger does not know of the erasing: this device does."""
    centre, person = with_canary
    key = centre.ledger.vault._known_key(person)
    assert key is not None
    backup(centre.ledger.folder, tmp_path / "before.tar")
    assert key in (tmp_path / "before.tar").read_bytes()
    assert [one.file for one in recalled().backups[centre.ledger.centre_id]] == [str(tmp_path / "before.tar")]
    record = centre.ledger.folder / "record.pdf"
    record.write_bytes(b"printed into the centre's own folder")
    told = before_erasing(centre.ledger, person)
    assert [line.split(",")[0] for line in told.copies] == [str(tmp_path / "before.tar"), str(record)]
    erased = erase(centre, person)
    assert str(tmp_path / "before.tar") in erased.text()
    restore(tmp_path / "before.tar", tmp_path / "again")
    assert holding(every_byte(tmp_path / "again"), key) == []
    with open_ledger(tmp_path / "again") as ledger:
        assert not ledger.vault.knows(person)


@pytest.mark.usefixtures("after")
def test_a_backup_is_clean_even_where_an_old_vault_was_put_into_the_folder(
    with_canary: tuple[Centre, str], tmp_path: Path
) -> None:
    centre, person = with_canary
    folder = centre.ledger.folder
    old, key = (folder / "vault.db").read_bytes(), centre.ledger.vault._known_key(person)
    assert key is not None
    erase(centre, person)
    centre.ledger.close()
    (folder / "vault.db").write_bytes(old)
    backup(folder, tmp_path / "after.tar")
    assert key not in (tmp_path / "after.tar").read_bytes()
    drop_erased_keys(folder)
    assert key not in (folder / "vault.db").read_bytes()


@pytest.mark.usefixtures("after")
def test_an_erasing_that_stopped_half_way_is_finished_by_the_next_opening(
    with_canary: tuple[Centre, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The ledger holds it first; the key goes after."""
    centre, person = with_canary
    folder = centre.ledger.folder
    with monkeypatch.context() as patch:

        def full(*_: object) -> None:
            raise StorageError("NOT saved: the disk is full.")

        patch.setattr(Vault, "forget", full)
        with pytest.raises(StorageError):
            erase(centre, person)
    assert centre.ledger.vault.knows(person)
    centre.ledger.close()
    with open_ledger(folder, write=True) as ledger:
        assert not ledger.vault.knows(person)


@pytest.mark.usefixtures("after")
def test_an_erased_person_is_not_enrolled_marked_signed_or_acting(with_canary: tuple[Centre, str]) -> None:
    centre, person = with_canary
    erase(centre, person)
    seen = centre.view()
    skill = seen.adopted.skill("mp-close-out")
    acts = (
        lambda: courses.enrol(centre.ledger, centre.lead, centre.course, person, Role.STUDENT),
        lambda: courses.assign_unit(centre.ledger, centre.lead, centre.course, person, centre.unit_b, "2026-10-21"),
        lambda: centre.enter(student=person),
        lambda: centre.open(student=person),
        lambda: presence.sign_in(
            centre.ledger, centre.lead, centre.sessions["pool-23"], person, seen_at(23), end=seen_at(23, 15)
        ),
        lambda: signing.sign(
            centre.ledger, centre.lead, course=centre.course, student=person, skill=skill.id,
            decided=DecisionKind.AGREED, as_of=seen.last_day,
            rests_on=evidence(seen, skill, seen.standing(person, skill, seen.last_day)),
        ),
        lambda: erase(centre, person),
    )  # fmt: skip
    count = centre.count()
    for act in acts:
        with pytest.raises(RefusedError, match="erased"):
            act()
    assert centre.count() == count


@pytest.mark.usefixtures("after")
def test_of_the_staff_the_name_goes_and_the_signature_stays_by_number(small_centre: Centre) -> None:
    centre = small_centre
    centre.enter(by=centre.second)
    attempt = centre.view().attempts[0]
    erase(centre, centre.second)
    seen = centre.view()
    assert [sheet.observer for sheet in seen.attempts[0].sheets] == [centre.second]
    assert seen.attempts[0].sheets == attempt.sheets
    assert seen.name(centre.second) == f"erased person {centre.second[-6:]}"
    with pytest.raises(RefusedError, match="were erased"):
        centre.enter("pool-23", by=centre.second)


@pytest.mark.usefixtures("after")
def test_only_a_lead_erases_and_never_the_centres_lead_nor_oneself(small_centre: Centre) -> None:
    centre = small_centre
    kept = {"authority": Authority.PERSON, "reason": "asked"}
    with pytest.raises(RefusedError, match="lead instructor may erase"):
        privacy.erase_person(centre.ledger, centre.second, centre.zoe, **kept)  # type: ignore[arg-type]
    with pytest.raises(RefusedError, match="own data"):
        privacy.erase_person(centre.ledger, centre.lead, centre.lead, **kept)  # type: ignore[arg-type]
    another = add_person(centre.ledger, centre.lead, name="Mirella Stranding", roles=[Role.LEAD])
    with pytest.raises(RefusedError, match="centre's lead cannot be erased"):
        privacy.erase_person(centre.ledger, another, centre.lead, **kept)  # type: ignore[arg-type]


def test_a_person_in_the_middle_of_an_attempt_is_not_erased(small_centre: Centre) -> None:
    small_centre.open()
    for person in (small_centre.amaru,):
        with pytest.raises(RefusedError, match="Close it first"):
            erase(small_centre, person)


@pytest.mark.usefixtures("after")
def test_a_reason_that_names_the_person_is_refused(with_canary: tuple[Centre, str]) -> None:
    centre, person = with_canary
    for reason, despite, told in (
        (f"odile {CANARY.lower()} wrote to us", "so ordered", "holds the name"),
        (f"letter of Ms {CANARY.upper()}, 3 May", "so ordered", f"holds “{CANARY}”, a part of the name"),
        ("she wrote to us", "ODILE's own wish", "holds “Odile”, a part of the name"),
    ):
        with pytest.raises(RefusedError, match=told):
            privacy.erase_person(
                centre.ledger, centre.lead, person, authority=Authority.ORDER, despite=despite, reason=reason
            )
    assert not centre.ledger.vault.is_forgotten(person)


def test_a_running_course_an_open_incident_and_the_retention_time_ask_for_a_word_of_their_own(
    with_canary: tuple[Centre, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each is told; with a word for it the erasing goes through, and the ledger holds what spoke against it."""
    centre, person = with_canary
    monkeypatch.setattr("course.answers.keeping.now", lambda: datetime(2026, 10, 24, tzinfo=UTC))
    privacy.set_retention(centre.ledger, centre.lead, student_days=3650, staff_days=None, incident_days=None)
    presence.sign_in(
        centre.ledger, centre.lead, centre.sessions["pool-23"], person, seen_at(23, 13, 40), there_already=True
    )
    incident.freeze(centre.ledger, centre.lead, centre.sessions["pool-23"], seen_at(23, 14))
    with pytest.raises(RefusedError) as refused:
        privacy.erase_person(centre.ledger, centre.lead, person, authority=Authority.PERSON, reason="asked")
    for told in ("runs until 25 Oct 2026", "when it was frozen", "until 22 Oct 2036", "in spite of that"):
        assert told in refused.value.sentence
    erase(centre, person)
    fact = centre.ledger.fact("person", person)
    assert isinstance(fact, Person)
    assert fact.erased is not None
    assert set(fact.erased.against) >= {"running_course", "open_incident", "retention"}


@pytest.mark.usefixtures("after")
def test_a_worst_finding_that_nobody_answered_speaks_against_it(with_canary: tuple[Centre, str]) -> None:
    """They were in the water with nobody beside them."""
    centre, person = with_canary
    (against,) = before_erasing(centre.ledger, person).against
    assert against.kind == "worst_finding"
    assert against.sentence.startswith("KW-1026 has 1 finding about them that nobody answered")
    assert before_erasing(centre.ledger, centre.zoe).against == ()


@pytest.mark.usefixtures("after")
def test_an_erasing_is_neither_corrected_nor_withdrawn(with_canary: tuple[Centre, str]) -> None:
    centre, person = with_canary
    erase(centre, person)
    fact = centre.ledger.fact("person", person)
    assert isinstance(fact, Person)
    assert fact.erased is not None
    for act in (withdraw, correct):
        with pytest.raises(RefusedError, match="does not come back"):
            act(centre.ledger, centre.lead, fact.erased.event, "a slip")


def test_texts_of_others_that_name_somebody_are_counted_by_kind(with_canary: tuple[Centre, str]) -> None:
    """They are sealed with other keys, and stay."""
    centre, person = with_canary
    assert named_in(centre.ledger, person).texts == 0
    centre.enter("pool-23", student=centre.amaru, closing="void", reason=f"{CANARY} swam into us")
    courses.make_group(
        centre.ledger,
        centre.lead,
        centre.sessions["pool-22"],
        name=f"With {CANARY}",
        staff=[centre.lead],
        students=[person],
    )
    told = named_in(centre.ledger, person)
    assert told.texts == 2
    assert "2 other texts hold this name" in told.sentence
    assert "1 in the group" in told.sentence


# --- how long data are kept -----------------------------------------------------------------------------------------


@pytest.mark.usefixtures("after")
def test_who_is_due_is_told_by_role_and_nothing_is_erased_by_itself(small_centre: Centre) -> None:
    centre = small_centre
    assert keeping(centre.ledger).sentence == "No time is set for keeping people's data."
    privacy.set_retention(centre.ledger, centre.lead, student_days=100, staff_days=400, incident_days=None)
    answer = keeping(centre.ledger)
    assert {one.person for one in answer.due} == {centre.amaru, centre.zoe, centre.candidate}
    assert {one.sentence.partition(": ")[2] for one in answer.due} == {
        "last there on 25 Oct 2026, kept for 100 days, due since 3 Feb 2027."
    }
    assert len(answer.rules) == 2
    erase(centre, centre.amaru)
    assert {one.person for one in keeping(centre.ledger).due} == {centre.zoe, centre.candidate}
    assert [p.erased for p in centre.ledger.facts("person") if isinstance(p, Person) and p.id == centre.zoe] == [None]


@pytest.mark.usefixtures("after")
def test_whoever_was_there_when_something_went_wrong_is_kept_for_the_longer_time(small_centre: Centre) -> None:
    centre = small_centre
    presence.sign_in(
        centre.ledger, centre.lead, centre.sessions["pool-23"], centre.amaru, seen_at(23, 13, 40), there_already=True
    )
    incident.freeze(centre.ledger, centre.lead, centre.sessions["pool-23"], seen_at(23, 14))
    privacy.set_retention(centre.ledger, centre.lead, student_days=10, staff_days=None, incident_days=5000)
    assert {one.person for one in keeping(centre.ledger).due} == {centre.zoe, centre.candidate}


def test_only_the_lead_sets_how_long_and_a_wrong_number_is_named(small_centre: Centre) -> None:
    kept = {"student_days": 10, "staff_days": None, "incident_days": None}
    with pytest.raises(RefusedError, match="may set how long"):
        privacy.set_retention(small_centre.ledger, small_centre.second, **kept)  # type: ignore[arg-type]
    with pytest.raises(RefusedError, match="Days for students"):
        privacy.set_retention(small_centre.ledger, small_centre.lead, **kept | {"student_days": -1})  # type: ignore[arg-type]


def test_of_two_laptops_words_the_longer_time_holds_and_a_later_word_takes_both_places(small_centre: Centre) -> None:
    from course.actions.drafting import body, draft
    from course.answers.keeping import days_kept
    from course.record.events import RetentionSet

    ledger, lead = small_centre.ledger, small_centre.lead
    for days in (100, 50):
        content = body(RetentionSet, centre=ledger.centre_id, student_days=days, observed=seen_at(22))
        ledger.append([draft(lead, content)])
    assert days_kept(ledger)["student_days"] == 100
    privacy.set_retention(ledger, lead, student_days=20, staff_days=None, incident_days=None)
    assert days_kept(ledger) == {"student_days": 20, "staff_days": None, "incident_days": None}


# --- in both databases ----------------------------------------------------------------------------------------------


@pytest.fixture
def in_postgresql(tmp_path: Path, database: str) -> Path:
    """The small centre with the canary, moved into PostgreSQL."""
    with build_centre(tmp_path / "made", shipped_standards()) as centre:
        person = add_canary(centre)
        (tmp_path / "ids").write_text(f"{centre.lead} {person} {centre.course}")
    backup(tmp_path / "made", tmp_path / "moving.tar")
    restore(tmp_path / "moving.tar", tmp_path / "centre", database=database)
    (tmp_path / "moving.tar").unlink()
    shutil.rmtree(tmp_path / "made")
    return tmp_path / "centre"


@pytest.mark.usefixtures("after")
def test_in_postgresql_no_byte_is_left_in_folder_server_or_backup(
    in_postgresql: Path, postgresql_server: object, tmp_path: Path, state_folder: Path
) -> None:
    lead, person, course = (tmp_path / "ids").read_text().split()
    with open_ledger(in_postgresql, write=True) as ledger:
        key = ledger.vault._known_key(person)
        assert key is not None
        before = counted(view(ledger, course))
        privacy.erase_person(ledger, lead, person, authority=Authority.RETENTION, reason="time is over", despite="test")
        assert counted(view(ledger, course)).replace(f"erased person {person[-6:]}", "Odile ") == before
    assert verify(in_postgresql).fine
    backup(in_postgresql, tmp_path / "after.tar")
    server = Path(postgresql_server.folder)  # type: ignore[attr-defined]
    found = every_byte(in_postgresql, state_folder, server / "data")
    found["after.tar"] = (tmp_path / "after.tar").read_bytes()
    assert len(found) > 100
    assert holding(found, key, *(word.encode() for word in WORDS)) == []


# --- from events to facts -------------------------------------------------------------------------------------------


def test_an_erasing_that_another_program_withdrew_holds_all_the_same_in_whatever_order_events_came() -> None:
    """A key does not come back by saying so; the first erasing in the order of statements is the one that is told."""
    from itertools import permutations

    from event_examples import ONE, at, history

    from course.record.events import PersonAdded, PersonErased, Withdrawn
    from course.record.projection import project

    added = PersonAdded(person=ONE, roles=(Role.STUDENT,), name=CANARY)
    first = PersonErased(person=ONE, authority=Authority.ORDER, observed=at(1), reason="ordered")
    second = PersonErased(person=ONE, authority=Authority.PERSON, observed=at(2), reason="asked")
    made = history(added, first, second)
    gone = history(added, first, second, Withdrawn(thing=ONE, withdraws=made[1].id))
    told = set()
    for events in permutations(gone):
        fact = project(events)
        assert isinstance(fact, Person)
        assert fact.erased is not None
        told.add((fact.erased.authority, fact.erased.observed.utc))
    assert told == {(Authority.ORDER, at(1).utc)}
