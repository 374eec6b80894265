"""On the competency record: every step over the attempts, what holds a standing, what is asked, consent, the map."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pypdf
import pytest
from centre_builder import LAST_DAY, Centre, critical_mark
from record_examples import skill, small_record, steps
from test_paper import on_paper, pictures, printed, words

from course.actions import gate_papers
from course.answers.competency import competency_record
from course.answers.missing import student_missing
from course.answers.record_answer import AskedLine, CompetencyRecord, PhaseLines, SkillLine, StepMark
from course.paper.competency_record import print_competency_record
from course.record.events import MarkGiven
from course.words import Mark, StandingState

SIX_SCRIPTS = ("Ábç" * 26, "Ωμέγ" * 20, "Щука" * 20, "李小龍" * 26, "김민준" * 26, "Nguyễn Thị " * 7)


def crowded_record() -> CompetencyRecord:
    """One skill with 120 attempts and steps of 80 letters in six scripts, and every other text as long."""
    outcomes = "cccxmcsciv" * 11 + "cccccccccc"
    line = skill("Close before it leaves the mouth", StandingState.MET, "Met.", outcomes, budget=20)
    long = tuple(skill(name, StandingState.MET, f"Met by {name}.", "ccc") for name in SIX_SCRIPTS)
    asked = tuple(AskedLine(name, "3 of 5", met=False, words=f"short by {name}") for name in SIX_SCRIPTS)
    return small_record(
        student=SIX_SCRIPTS[3], asked=asked, consents=SIX_SCRIPTS, assessors=SIX_SCRIPTS, deciders=(),
        phases=(
            PhaseLines("Many attempts", (replace(line, steps=steps(outcomes, SIX_SCRIPTS)),)),
            PhaseLines(SIX_SCRIPTS[1], long),
        ),
    )  # fmt: skip


def tried(record: CompetencyRecord) -> list[SkillLine]:
    """The skills that have attempts."""
    return [line for phase in record.phases for line in phase.skills if line.tries]


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_a_hundred_and_twenty_attempts_and_long_names_read_back_whole_within_the_margins(
    size: Any, tmp_path: Path
) -> None:
    """Names of 80 letters in six scripts stand in every place; nobody has decided on anything."""
    record, file = crowded_record(), tmp_path / "record.pdf"
    print_competency_record(record, file, size)
    reader = pypdf.PdfReader(file)
    text = unicodedata.normalize("NFC", "".join("".join(page.extract_text().split()) for page in reader.pages))
    for name in SIX_SCRIPTS:
        plain = "".join(unicodedata.normalize("NFC", name).split())
        assert text.count(plain) >= 7, name
    assert "Decidedby:nobodyyet." in text
    assert "120attempts,20Oct2026to" in text
    assert all(f"{first}to{first + 15}" in text for first in range(1, 112, 16))
    for picture in pictures(file, tmp_path, 100):
        rows, columns = np.nonzero(picture < 250)
        margin, (height, width) = 17.5 / 25.4 * 100, picture.shape
        assert rows.min() >= margin
        assert columns.min() >= margin
        assert rows.max() <= height - margin
        assert columns.max() <= width - margin


def test_a_skill_in_the_appendix_counts_what_its_attempts_were_marked_with(small_centre: Centre) -> None:
    """The counts of a step, its marks and the attempts are of the same length and agree; critical stands by name."""
    c = small_centre
    c.enter("pool-22", critical_mark())
    c.hold()
    record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
    (line,) = tried(record)
    assert [one.outcome for one in line.tries] == list(line.outcomes)
    assert sum(one.holds for one in line.tries) == line.streak
    for step in line.steps:
        asked = [mark for mark in step.marks if mark is not StepMark.NOT_ASKED]
        assert len(step.marks) == len(line.tries)
        assert step.right + step.wrong + step.prompted + step.not_seen == len(asked)
    (wrong,) = (step for step in line.steps if step.went_wrong)
    assert wrong.marks.count(StepMark.CRITICAL) == wrong.wrong == 1
    (error,) = wrong.went_wrong
    assert error.critical
    text = on_paper(c, c.amaru)
    assert f"critical {error.label}." in text
    assert f"{len(line.tries)} attempts, " in text


def test_a_minor_error_after_the_rule_was_met_leaves_the_row_that_met_it(small_centre: Centre) -> None:
    """Met (watch): nothing stands in a row now, and the five that met the rule are still what it rests on."""
    c = small_centre
    c.hold()
    minors = [
        MarkGiven(step=step.id, mark=Mark.ERROR, errors=(step.errors[0].id,))
        for step in c.skill().steps
        if step.errors and not step.errors[0].critical
    ]
    c.enter("open-25", *minors[: c.skill().rule.minor_errors_allowed + 1])
    (line,) = tried(competency_record(c.ledger, c.view(), c.amaru, LAST_DAY))
    assert line.state is StandingState.MET_WATCH
    assert [one.holds for one in line.tries] == [True] * 5 + [False]
    assert line.tries[-1].streak == 0


def test_attempts_before_a_critical_error_do_not_hold_what_was_met_anew(small_centre: Centre) -> None:
    c = small_centre
    c.enter("dry-21")
    c.enter("dry-21", critical_mark())
    c.enter("dry-21")
    c.hold()
    (line,) = tried(competency_record(c.ledger, c.view(), c.amaru, LAST_DAY))
    holding = [one.label.split(" ")[0] for one in line.tries if one.holds]
    assert line.state is StandingState.MET
    assert len(holding) == line.streak
    assert not {"1", "2"} & set(holding)


def test_every_requirement_is_met_or_short_by_and_consent_is_told(small_centre: Centre) -> None:
    c = small_centre
    person, day = c.amaru, "2026-10-20"
    seen = c.view()
    waiver = next(one for one in seen.profile.prerequisites if one.proof == "signed_form")
    medical = next(one for one in seen.profile.prerequisites if one.proof == "medical_form")
    gate_papers.note_proof(c.ledger, c.lead, c.course, person, waiver.id, day, paper="Form <4>, revision 2")
    gate_papers.note_proof(c.ledger, c.lead, c.course, person, medical.id, day, cleared=True)
    gate_papers.note_consent(
        c.ledger, c.lead, c.course, person, stages=["pool", "open_water"], day=day, guardian="Ida & Bo"
    )
    record = competency_record(c.ledger, c.view(), person, LAST_DAY)
    seen_by = "by Tamsin Okoro-Vale"
    assert f"{waiver.label} (Form <4>, revision 2): seen {seen_by} on 20 Oct 2026." in record.consents
    agreed = "Ida & Bo agreed on 20 Oct 2026 to the stages pool and open water; noted"
    assert f"{agreed} {seen_by}." in record.consents
    assert not any(medical.label in line for line in record.consents)
    state = student_missing(c.view(), person, LAST_DAY)
    named = {one.name: one for one in record.asked}
    assert named["Required skills held"].words == f"short by {state.required - state.held} skills"
    for count in state.requirements.counts:
        line = named[count.what[:1].upper() + count.what[1:]]
        assert line.met == (count.short_by == 0)
        assert line.words == ("met" if line.met else f"short by {count.lacking}")
    labels = [one.label for one in seen.profile.prerequisites]
    assert all(any(name.startswith(label) for name in named) for label in labels)
    assert "Form <4>, revision 2" in on_paper(c, person)


def test_who_has_to_sign_comes_from_the_requirements_and_a_second_always_has_a_line(small_centre: Centre) -> None:
    c = small_centre
    record = competency_record(c.ledger, c.view(), c.amaru, LAST_DAY)
    assert record.signers == ("lead instructor", "student")
    text = words(printed(record))
    for caption in ("Lead instructor: signature", "Student: signature", "Second instructor, where one signs too"):
        assert caption in text


def test_the_map_says_how_many_stand_where() -> None:
    text = words(printed(small_record()))
    assert "Skill map: 9 skills, 1 met, 1 met (watch), 1 waiting, 1 out of date, 1 again, 2 not yet, 1 not" in text
