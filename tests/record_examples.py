"""Invented competency records for tests: a small one, a large one, and one with any name."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from course.answers.record_answer import (
    AskedLine,
    AttemptTold,
    CompetencyRecord,
    CriticalSeen,
    DecisionLine,
    HoursLine,
    LedgerHead,
    PhaseLines,
    SkillLine,
    StepLine,
    StepMark,
    WentWrong,
)
from course.words import STANDING_WORDS, StandingState

LEAD, SECOND = "Tamsin Okoro-Vale", "Bruno Ashkenar"
STUDENT = "Amaru Tendelle"
PHASE_TITLES = (
    "Assembly",
    "Checks",
    "Prebreathe",
    "Basics in the pool",
    "Mouthpiece",
    "Bailout",
    "Failures",
    "Control of the loop",
    "Rescue",
    "After the dive",
    "Own drills of this centre",
)


def hex_digits(of: str) -> str:
    """64 invented hex digits."""
    return hashlib.sha256(of.encode()).hexdigest()


def signed(day: str = "25 Oct 2026", *, stale: bool = False) -> DecisionLine:
    """A standing agreed to by the lead."""
    return DecisionLine(f"Signed as met by {LEAD} on {day}.", LEAD, day, None, agrees=True, stale=stale)


def held_back(reason: str) -> DecisionLine:
    """A standing that an instructor is stricter about than the tool."""
    return DecisionLine(f"{SECOND} holds it back", SECOND, "25 Oct 2026", reason, agrees=False, stale=False)


def open_mouthpiece(day: str, cleared: str) -> CriticalSeen:
    """One critical error with its consequence."""
    return CriticalSeen(
        day,
        "Mouthpiece out",
        "the mouthpiece came out open",
        "Water runs into the loop, reaches the scrubber and may leave nothing to breathe on this dive.",
        (LEAD,),
        cleared,
    )


_COUNTS = {"c": 1, "s": 0, "i": 0, "v": 0}
_MARKS = {
    "c": (StepMark.RIGHT, StepMark.RIGHT, StepMark.WHOLE),
    "m": (StepMark.ERROR, StepMark.RIGHT, StepMark.PROMPTED),
    "x": (StepMark.RIGHT, StepMark.CRITICAL, StepMark.RIGHT),
    "s": (StepMark.RIGHT, StepMark.NOT_SEEN, StepMark.NOT_SEEN),
    "i": (StepMark.LEFT_OUT, StepMark.CRITICAL_LEFT_OUT, StepMark.NOT_SEEN),
    "v": (StepMark.NOT_ASKED,) * 3,
}


def tries(outcomes: str, words: dict[str, str]) -> tuple[AttemptTold, ...]:
    """Attempts on days from 20 Oct on, three a day; those of the last row hold the standing."""
    rows, row = [], 0
    for letter in outcomes:
        row = row + _COUNTS[letter] if letter in _COUNTS else 0
        rows.append(row)
    last = max((at for at, letter in enumerate(outcomes) if letter not in _COUNTS), default=-1)
    return tuple(
        AttemptTold(
            f"{at + 1} · {20 + at // 3 % 6} Oct 2026", words[letter], rows[at], holds=at > last and letter in "c"
        )
        for at, letter in enumerate(outcomes)
    )


def steps(
    outcomes: str, names: tuple[str, ...] = ("Take it in the hand", "Close it in the mouth", "Wait")
) -> tuple[StepLine, ...]:
    """Three steps or more, marked as the outcomes say."""
    made = []
    for number, name in enumerate(names, 1):
        marks = tuple(_MARKS[letter][(number - 1) % 3] for letter in outcomes)
        count = {mark: marks.count(mark) for mark in StepMark}
        wrong = [
            WentWrong("came out open", count[StepMark.CRITICAL], critical=True),
            WentWrong("left out", count[StepMark.CRITICAL_LEFT_OUT], critical=True),
            WentWrong("taken with the other hand", count[StepMark.ERROR], critical=False),
            WentWrong("left out", count[StepMark.LEFT_OUT], critical=False),
        ]
        made.append(
            StepLine(
                name=f"{number} {name}",
                can_be_critical=number % 3 == 2,
                right=count[StepMark.RIGHT] + count[StepMark.WHOLE],
                wrong=sum(one.times for one in wrong),
                prompted=count[StepMark.PROMPTED],
                not_seen=count[StepMark.NOT_SEEN],
                marks=marks,
                went_wrong=tuple(one for one in wrong if one.times),
            )
        )
    return tuple(made)


def skill(title: str, state: StandingState, sentence: str, outcomes: str = "", **changes: object) -> SkillLine:
    """A skill line; `outcomes` has one letter per attempt: clean, minor, x critical, stopped, incomplete, void."""
    words = {"c": "clean", "m": "minor", "x": "critical", "s": "stopped", "i": "incomplete", "v": "void"}
    line = SkillLine(
        skill=title.casefold().replace(" ", "-")[:48],
        title=title,
        state=state,
        state_word=STANDING_WORDS[state],
        sentence=sentence,
        rule="3 in a row over 2 days, in pool and open water",
        streak=3,
        in_a_row=3,
        days=2,
        distinct_days=2,
        settings=("pool", "open_water"),
        attempts=len(outcomes),
        budget=8,
        observers=(LEAD, SECOND) if outcomes else (),
        outcomes=tuple(words[letter] for letter in outcomes),
        weaker_evidence=0,
        criticals=(),
        decision=None,
        tries=tries(outcomes, words),
        steps=steps(outcomes) if outcomes else (),
    )
    return replace(line, **changes)  # type: ignore[arg-type]


def every_standing() -> tuple[SkillLine, ...]:
    """One skill in each standing, with everything that can stand beside one."""
    none = {"streak": 0, "days": 0, "settings": ()}
    return (
        skill(
            "Build the unit by the list",
            StandingState.MET,
            "Met on 24 Oct 2026.",
            "ccmcc",
            decision=signed(),
            weaker_evidence=1,
        ),
        skill(
            "Close before it leaves the mouth",
            StandingState.NOT_YET,
            "Not yet: best 2 in a row of 5, now 0; missing 5 over 3 days. The mouthpiece came out open in 3 of 11.",
            "ccxccxcccxc",
            rule="5 in a row over 3 days, in pool and open water; 1 re-teach after a critical error",
            in_a_row=5,
            distinct_days=3,
            budget=12,
            criticals=(
                open_mouthpiece("22 Oct 2026", "Cleared: re-teach on 22 Oct 2026."),
                open_mouthpiece("25 Oct 2026", "Not cleared yet."),
            ),
            **none,
        ),
        skill(
            "Test the loop for leaks",
            StandingState.NOT_YET,
            "Not yet: 2 of 3, another day.",
            "cc",
            streak=2,
            days=1,
            settings=("pool",),
        ),
        skill(
            "Bail out at rest",
            StandingState.AGAIN,
            "Again: was met on 23 Oct 2026, critical error since.",
            "cccx",
            **none,
        ),
        skill(
            "Check the cells",
            StandingState.OUT_OF_DATE,
            "Out of date since 20 Oct 2026.",
            "ccc",
            decision=signed("2 Apr 2026", stale=True),
        ),
        skill(
            "Swim a square on the loop",
            StandingState.WAITING,
            f"Waiting for a current instructor to confirm: {SECOND}'s of 25 Oct.",
            "cccs",
        ),
        skill(
            "Hold a stop at 6 m",
            StandingState.MET_WATCH,
            "Met (watch): met on 23 Oct 2026, a minor error since.",
            "cccmvi",
            decision=held_back("The stop was held by the line; I want to see it once more without."),
        ),
        skill("Drain the unit", StandingState.NOT_STARTED, "Not started.", "", observers=(), **none),
        skill(
            "Switch the spare head",
            StandingState.NOT_FOR_THIS_UNIT,
            "Not for this unit: it has no second head.",
            "",
            rule="",
            **none,
        ),
    )


def small_record(**changes: object) -> CompetencyRecord:
    """Nine skills in two phases, one in each standing."""
    skills = every_standing()
    record = CompetencyRecord(
        centre="Kelpwater Training House",
        course="KW-0926, first course on unit type A",
        course_days="20 to 25 Oct 2026",
        requirements="ex-first-unit, revision r1",
        requirements_notice="EXAMPLE numbers. Your agency's standards and the unit manual decide.",
        student=STUDENT,
        student_id="KW-S-014",
        birth_year="1991",
        unit_type="type A",
        unit="A-05",
        as_of="2026-10-25",
        as_of_words="25 Oct 2026, the last day of the course",
        summary="2 of 8 skills met, 1 signed; closing the mouthpiece is short of 5 in a row over 3 days.",
        phases=(PhaseLines("Mouthpiece and bailout", skills[:4]), PhaseLines("Control of the loop", skills[4:])),
        hours=(
            HoursLine("theory", 420, 417),
            HoursLine("dry", 510, 366),
            HoursLine("pool", 560, 354),
            HoursLine("on the loop", 498, 523),
            HoursLine("surface support", 35, None),
        ),
        hours_note="Minutes are counted once, even where two entries overlap.",
        adjustments=(
            "Close before it leaves the mouth is marked with the right hand; approved by the lead on 20 Oct 2026.",
        ),
        cautions=("Standings are proposals from marks. The instructor decides; the agency certifies.",),
        head=LedgerHead("kelpwater", hex_digits("chain")[:32], 1204, hex_digits("head")),
        evidence=hex_digits("evidence"),
        asked=(
            AskedLine("Required skills held", "2 of 8", met=False, words="short by 6 skills"),
            AskedLine("Training days", "6, 5 asked", met=True, words="met"),
            AskedLine("Risk statement read and signed (for the pool)", "", met=True, words="met"),
            AskedLine(
                "Logged dives seen (for the open water)",
                "",
                met=False,
                words="shut: nobody has noted that logged dives were seen",
            ),
        ),
        consents=(
            "Ida Tendelle agreed on 18 Oct 2026 to the stages pool and open water; noted by Tamsin Okoro-Vale.",
            "Risk statement read and signed (revision 4): seen by Tamsin Okoro-Vale on 20 Oct 2026.",
        ),
        signers=("lead instructor", "second instructor", "student"),
        assessors=(SECOND, LEAD),
        deciders=(LEAD,),
    )
    return replace(record, **changes)  # type: ignore[arg-type]


def large_record(**changes: object) -> CompetencyRecord:
    """Fifty skills in eleven phases; most are met."""
    pattern = every_standing()
    phases, made = [], 0
    for place, title in enumerate(PHASE_TITLES):
        count = 5 if place < 6 else 4
        lines = []
        for number in range(count):
            line = pattern[made % 9] if made % 4 == 3 else pattern[0]
            lines.append(replace(line, skill=f"skill-{made}", title=f"{title}: {line.title.casefold()} ({number + 1})"))
            made += 1
        phases.append(PhaseLines(title, tuple(lines)))
    return small_record(
        phases=tuple(phases), summary="40 of 49 skills met, 39 signed; 5 phases still have something open.", **changes
    )
