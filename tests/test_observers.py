"""Observers, for the lead alone: two sheets on one attempt, practice sheets, and the rest."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import pytest
from centre_builder import LAST_DAY, ODD_NAME, POOL_SKILL, Centre, critical_mark, sheet_of
from course_text import TAMSIN, all_done, mark, mouthpiece, sheet
from course_text import attempt as invented_attempt
from hypothesis import given, settings
from hypothesis import strategies as st
from opened_page import app_at
from streamlit.testing.v1 import AppTest

from course import sample
from course.actions.pad import take
from course.answers.class_practice import class_practice
from course.answers.course_view import view
from course.answers.observers import ObserversAnswer, observers
from course.answers.observers_export import pairs_csv, practice_csv, severity_csv
from course.answers.practice import student_practice
from course.answers.step_map import step_map
from course.answers.student_page import student_page
from course.assessment.shared import SharedStep, compare, practised, shared_steps, specific_range
from course.errors import RefusedError
from course.record.events import MarkGiven
from course.record.facts import Sheet
from course.screens import serve
from course.storage.ledger import open_ledger
from course.words import Capacity, Closing, Mark, Role

NO_FEATURES: frozenset[str] = frozenset()


def asked(centre: Centre) -> ObserversAnswer:
    return observers(centre.view(), centre.lead, LAST_DAY)


def both(centre: Centre, *first: MarkGiven, second: tuple[MarkGiven, ...] = (), session: str = "pool-22") -> str:
    """One attempt scored by the lead and by the second instructor."""
    return centre.enter(session, *first, others=((centre.second, sheet_of(centre.skill(), *second)),))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


# --- the demo centre ---


def test_the_demo_says_who_recorded_fewer_errors_to_the_unit(loaded: sample.Loaded) -> None:
    """Of 24 attempts scored by both: 14 errors only by Tamsin, 2 only by Bruno, 17 by both; p = 0.0042."""
    with open_ledger(loaded.folder) as ledger:
        seen = view(ledger, loaded.course)
        lead = next(person for person, known in seen.people.everybody().items() if Role.LEAD in known.roles)
        found = observers(seen, lead, seen.last_day)
    (pair,) = found.pairs
    assert pair.shared.attempts == 24
    assert (pair.shared.errors.only_first, pair.shared.errors.only_second, pair.shared.errors.both) == (2, 14, 17)
    assert pair.shared.specific == pytest.approx(2 * 17 / (31 + 19))
    assert found.sentence == (
        "Bruno Ashkenar recorded fewer errors than Tamsin Okoro-Vale on the same 24 attempts: 14 only by Tamsin "
        "Okoro-Vale, 2 only by Bruno Ashkenar, 17 by both; exact two-sided sign test p = 0.0042. It asks for a joint "
        "scoring hour."
    )
    assert pair.between is not None
    assert pair.between[0] < 0.68 < pair.between[1]
    (candidate,) = found.practising
    assert (candidate.name, candidate.sheets, candidate.alone) == ("Ysolde Marrick", 12, 0)
    assert not any(line.measured.said for line in found.severities), "one student in common is too few"


def test_the_demos_weak_step_is_one_step_of_one_skill(loaded: sample.Loaded) -> None:
    """Not "weak at mouthpiece work" in general: one step, in 3 of 11, and all other steps right."""
    with open_ledger(loaded.folder) as ledger:
        seen = view(ledger, loaded.course)
        amaru = next(s for s in seen.students if seen.name(s) == "Amaru Tendelle")
        first = student_practice(seen, amaru, seen.last_day)
        drawn = step_map(seen, amaru, POOL_SKILL, seen.last_day)
        page = student_page(seen, amaru, seen.last_day)
        assert class_practice(seen, seen.last_day).skills
    assert [line.skill for line in first.weak if not line.held] == [POOL_SKILL]
    assert first.weak[0].words == "3 of 11 went wrong, 3 critical"
    assert drawn.finding == (
        "“Only then take it out of the mouth” went wrong in 3 of 11, at attempts 3, 6 and 10; 3 critical. "
        "All other steps right."
    )
    assert [cell.attempt.split(" ")[0] for cell in drawn.cells if cell.critical] == ["3", "6", "10"]
    assert {cell.mark for cell in drawn.cells} == {Mark.DONE, Mark.ERROR}
    assert [one.title for one in page.missing] == ["Close before it leaves the mouth"]


# --- who may look ---


def test_the_lead_alone_may_look(small_centre: Centre) -> None:
    for who in (small_centre.second, small_centre.assistant, small_centre.candidate, small_centre.amaru, "nobody"):
        with pytest.raises(RefusedError, match="Only somebody who is lead instructor may compare observers"):
            observers(small_centre.view(), who, LAST_DAY)
    assert asked(small_centre).pairs == ()


# --- bad input ---


def test_observers_who_share_nothing_are_asked_to_score_the_same(small_centre: Centre) -> None:
    small_centre.enter("pool-22")
    small_centre.enter("pool-22", by=small_centre.second, student=small_centre.zoe)
    found = asked(small_centre)
    assert found.sentence.startswith("No attempt has two evaluating sheets")
    assert found.links == "No student links Tamsin Okoro-Vale with Bruno Ashkenar: they cannot be compared."
    assert all("too few to say" in line.words for line in found.severities)


def test_fewer_students_than_statistics_need_is_too_few_to_say(small_centre: Centre) -> None:
    """Hard case 26: four attempts in common, all of them different, and not a word about anybody."""
    for _ in range(4):
        both(small_centre, critical_mark())
    found = asked(small_centre)
    assert found.sentence == "Too few to say: no two observers share 5 attempts yet."
    (pair,) = found.pairs
    assert pair.agreement_words == "Bruno Ashkenar and Tamsin Okoro-Vale share 4 attempts: too few to say."
    assert pair.difference_words == ""
    (row,) = rows(pairs_csv(found))
    assert (row["attempts"], row["errors only second"], row["sign test p"], row["AC1"]) == ("4", "4", "", "")


def test_void_and_open_attempts_are_not_compared(small_centre: Centre) -> None:
    """Hard case 2: marks made before a real emergency are kept and not counted."""
    for _ in range(6):
        small_centre.enter(
            "pool-22", critical_mark(), others=((small_centre.second, sheet_of(small_centre.skill())),),
            closing=Closing.VOID, reason="A real emergency on the surface.", second=small_centre.second,
        )  # fmt: skip
    small_centre.open()
    assert asked(small_centre).pairs == ()


def test_an_attempt_from_elsewhere_is_in_no_leniency_statistics(small_centre: Centre) -> None:
    """Hard case 8."""
    small_centre.enter("pool-22", critical_mark(), elsewhere="Driftwood Quay", accepted=True)
    found = asked(small_centre)
    assert (found.pairs, found.severities) == ((), ())


def test_contradicting_corrections_are_left_out_and_said(small_centre: Centre) -> None:
    for _ in range(6):
        both(small_centre, critical_mark())
    seen = small_centre.view()
    first, *others = seen.attempts
    contested = (first.model_copy(update={"contested": ("marks",)}), *others)
    found = observers(replace(seen, attempts=contested, _standings={}), small_centre.lead, LAST_DAY)
    assert (found.left_out, found.pairs[0].shared.attempts) == (1, 5)


def test_a_step_that_one_did_not_see_is_not_compared(small_centre: Centre) -> None:
    unseen = MarkGiven(step="co-out", mark=Mark.NOT_SEEN)
    for _ in range(5):
        both(small_centre, critical_mark(), second=(unseen,))
    (pair,) = asked(small_centre).pairs
    steps = len(small_centre.skill().steps)
    assert len(pair.shared.steps) == 5 * (steps - 1)
    assert pair.shared.errors.p_value is None
    assert "neither marked an error" in pair.agreement_words


# --- two sheets on one attempt ---


def test_six_against_none_is_said_with_care_and_changes_no_standing(small_centre: Centre) -> None:
    """Hard case 3: the stricter sheet counts. Sign test: 2 / 2^6 = 0.03125."""
    for _ in range(6):
        both(small_centre, critical_mark())
    before = small_centre.view().standing(small_centre.amaru, small_centre.skill(), LAST_DAY)
    found = asked(small_centre)
    assert found.sentence == (
        "Bruno Ashkenar recorded fewer errors than Tamsin Okoro-Vale on the same 6 attempts: 6 only by Tamsin "
        "Okoro-Vale, 0 only by Bruno Ashkenar, 0 by both; exact two-sided sign test p = 0.0312. It asks for a joint "
        "scoring hour."
    )
    (line,) = found.pairs[0].steps
    assert (line.only_first, line.only_second, line.both, line.attempts) == (0, 6, 0, 6)
    after = small_centre.view().standing(small_centre.amaru, small_centre.skill(), LAST_DAY)
    assert after == before
    assert after.budget_used == 6, "one attempt counts once"


def test_five_against_none_is_no_more_than_chance(small_centre: Centre) -> None:
    """2 / 2^5 = 0.0625."""
    for _ in range(5):
        both(small_centre, critical_mark())
    found = asked(small_centre)
    assert found.sentence == "No two observers differ beyond what chance makes."
    assert "p = 0.0625" in found.pairs[0].difference_words


def test_a_prompt_is_no_error_of_the_students(small_centre: Centre) -> None:
    for _ in range(5):
        both(small_centre, MarkGiven(step="co-hold", mark=Mark.PROMPTED))
    assert asked(small_centre).pairs[0].shared.errors.only_second == 0


def test_a_name_that_looks_like_a_formula_is_no_formula_in_the_table(small_centre: Centre) -> None:
    """A spreadsheet takes a cell that begins with = + - or @ for a formula."""
    for _ in range(5):
        both(small_centre, critical_mark())
    found = asked(small_centre)
    odd = replace(found, pairs=(replace(found.pairs[0], first="=1+1", second=f" @{ODD_NAME}"),))
    (row,) = rows(pairs_csv(odd))
    assert (row["first"], row["second"]) == ("'=1+1", f"' @{ODD_NAME}")


def test_the_export_has_every_chance_corrected_number_with_its_n(small_centre: Centre) -> None:
    for at in range(6):
        both(small_centre, *([critical_mark()] if at < 3 else []), second=(critical_mark(),) if at < 2 else ())
    (row,) = rows(pairs_csv(asked(small_centre)))
    assert (row["attempts"], row["attempts graded by both"], row["errors both"]) == ("6", "6", "2")
    assert row["specific agreement on errors"] == "0.8000"
    assert float(row["AC1"]) > float(row["alpha"])
    # Grades: both critical 2, critical by one alone 1, both clean 3; with two of three ordered grades in use the
    # weights cancel: kappa = (5/6 - 1/2) / (1 - 1/2) = 2/3.
    assert float(row["linear weighted kappa"]) == pytest.approx(2 / 3, abs=5e-5)


_STEPS = st.lists(st.tuples(st.integers(0, 30), st.booleans(), st.booleans()), max_size=80)


@settings(deadline=None, max_examples=60)
@given(_STEPS)
def test_swapping_observers_swaps_their_counts_and_nothing_else(told: list[tuple[int, bool, bool]]) -> None:
    steps = [SharedStep(f"attempt-{at}", "close", "out", one, other) for at, one, other in told]
    swapped = [replace(one, first=one.second, second=one.first) for one in steps]
    one, other = compare(steps, [], 31), compare(swapped, [], 31)
    assert (one.errors.only_first, one.errors.only_second) == (other.errors.only_second, other.errors.only_first)
    assert one.errors.p_value == other.errors.p_value
    assert one.specific == other.specific
    assert specific_range(steps, 7) == specific_range(swapped, 7)


def test_a_range_needs_twenty_attempts_and_holds_the_number() -> None:
    steps = [SharedStep(f"attempt-{at}", "close", "out", at % 2 == 0, at % 3 == 0) for at in range(60)]
    assert specific_range(steps[:19], 7) is None
    found = specific_range(steps, 7)
    specific = compare(steps, [], 60).specific
    assert found is not None
    assert specific is not None
    assert found[0] < specific < found[1]
    assert specific_range(steps, 7) == found, "the same attempts give the same range"


def test_sheets_are_read_as_written_without_the_joint_line() -> None:
    """Agreement is about what each saw; what they settled later is another thing."""
    skill = mouthpiece()
    first, second = all_done(skill, mark("co-out", Mark.ERROR, "co-open-out")), all_done(skill, observer="bruno")
    found = shared_steps(invented_attempt(first, second), skill, NO_FEATURES, first, second)
    assert [(one.step, one.first, one.second) for one in found if one.first != one.second] == [("co-out", True, False)]


# --- candidates ---


def by_candidate(centre: Centre, *practice: MarkGiven, lead: tuple[MarkGiven, ...] = ()) -> None:
    centre.enter("pool-22", *lead, others=((centre.candidate, sheet_of(centre.skill(), *practice)),))


def test_a_candidates_sheet_is_compared_apart_and_never_counts(small_centre: Centre) -> None:
    """Hard case 33: hit, missed and invented per step that can be critical; the student's standing is untouched."""
    by_candidate(small_centre, critical_mark(), lead=(critical_mark(),))
    by_candidate(small_centre, lead=(critical_mark(),))
    by_candidate(small_centre, MarkGiven(step="co-out", mark=Mark.NOT_SEEN), lead=(critical_mark(),))
    by_candidate(small_centre, MarkGiven(step="co-close", mark=Mark.ERROR, errors=("co-half",)))
    by_candidate(small_centre)
    found = asked(small_centre)
    assert found.pairs == (), "a practice sheet is no second evaluating sheet"
    (one,) = found.practising
    assert one.words == (
        "Jorun Vask, 5 practice sheets beside an evaluating one. "
        "Steps that can be critical (10 compared): 1 of 3 errors hit, 1 missed, 1 not seen; 1 invented. "
        "Other steps (10 compared): no error to hit; 0 invented."
    )
    by_step = {row["step"]: (row["hit"], row["missed"], row["not seen"], row["invented"]) for row in _critical(found)}
    assert by_step == {
        "Only then take it out of the mouth": ("1", "1", "1", "0"),
        "Close it fully and feel the stop": ("0", "0", "0", "1"),
    }
    outcomes = [
        s.outcome for s in small_centre.view().standing(small_centre.amaru, small_centre.skill(), LAST_DAY).history
    ]
    assert [outcome.value for outcome in outcomes] == ["critical", "critical", "critical", "clean", "clean"]


def _critical(found: ObserversAnswer) -> list[dict[str, str]]:
    return [row for row in rows(practice_csv(found)) if row["can be critical"]]


def test_a_practice_sheet_alone_has_nothing_to_be_compared_with(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark(), by=small_centre.candidate)
    (one,) = asked(small_centre).practising
    assert (one.sheets, one.alone, one.lines) == (1, 1, ())
    assert "too few to say" in one.words


def test_an_error_is_there_when_any_evaluating_sheet_has_it() -> None:
    skill = mouthpiece()
    wrong, right = all_done(skill, mark("co-out", Mark.ERROR, "co-open-out")), all_done(skill, observer="bruno")
    practice: Sheet = all_done(skill, practice=True, observer="ysolde")
    assert practice.capacity == Capacity.PRACTICE
    found = practised(invented_attempt(wrong, right, practice), skill, NO_FEATURES, practice, [right, wrong])
    assert [(one.step, one.missed) for one in found if one.missed] == [("co-out", 1)]


def test_a_step_that_no_evaluating_sheet_saw_is_not_compared() -> None:
    skill = mouthpiece()
    practice = all_done(skill, practice=True, observer="ysolde")
    found = practised(invented_attempt(practice), skill, NO_FEATURES, practice, [sheet(observer=TAMSIN)])
    assert found == []


# --- the rest ---


def test_severity_goes_out_with_its_counts_and_no_number_where_there_is_too_little(small_centre: Centre) -> None:
    small_centre.enter("pool-22", critical_mark())
    small_centre.enter("pool-22", by=small_centre.second)
    found = asked(small_centre)
    told = {row["observer"]: row for row in rows(severity_csv(found))}
    assert told["Bruno Ashkenar"]["comparisons"] == "1"
    assert told["Bruno Ashkenar"]["odds ratio (Mantel-Haenszel)"] == ""
    assert found.links == ""


# --- the page ---


def page(centre: Centre) -> AppTest:
    serve.start(centre.ledger, take)
    app = app_at("observers").run()
    assert not app.exception
    return app


def words(app: AppTest) -> str:
    told = [*app.title, *app.subheader, *app.markdown, *app.caption, *app.warning]
    return "\n".join(str(part.value) for part in told).replace("\\", "")


def test_the_page_asks_who_is_looking_and_refuses_all_but_the_lead(small_centre: Centre) -> None:
    for _ in range(6):
        both(small_centre, critical_mark())
    app = page(small_centre)
    assert "Say who is looking" in words(app)
    assert "recorded fewer" not in words(app)
    app.button_group(key="looker").set_value(small_centre.second).run()
    assert "Only somebody who is lead instructor" in words(app)
    assert "recorded fewer" not in words(app)
    app.button_group(key="looker").set_value(small_centre.lead).run()
    assert "Bruno Ashkenar recorded fewer errors than Tamsin Okoro-Vale" in words(app)
    assert "not on who is right" in words(app)


def test_the_page_without_attempts_teaches_the_next_act(small_centre: Centre) -> None:
    assert [button.label for button in page(small_centre).button] == ["Mark an attempt"]


def test_no_observer_is_compared_on_a_students_page(small_centre: Centre) -> None:
    for _ in range(6):
        both(small_centre, critical_mark())
    told = str(student_page(small_centre.view(), small_centre.amaru, LAST_DAY).plain())
    assert "fewer" not in told
    assert "sign test" not in told


def test_nothing_of_it_is_written_to_the_ledger(small_centre: Centre, tmp_path: Path) -> None:
    both(small_centre, critical_mark())
    before = small_centre.count()
    asked(small_centre)
    assert small_centre.count() == before
