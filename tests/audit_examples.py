"""An audit file's answer made by hand, with fixed ids and days, so that its paper is always the same."""

from __future__ import annotations

from course.answers.audit import (
    LIMITS,
    NAMED_CAUTION,
    AuditAnswer,
    ChainLine,
    CourseAudit,
    DecisionEntry,
    FindingLine,
    FindingsPart,
    LearnerLine,
    LedgerAudit,
)
from course.answers.corrections import Correction
from course.answers.missing import Hours
from course.answers.presence import GroupTime, Lane, RatioStep, SessionTime
from course.answers.record_answer import LedgerHead
from course.words import EXAMPLE_NOTE, RECORD_NOTE, SpanRole

HASH = "0123456789abcdef" * 4
WHOLE = (
    "4670 events in 1 chain fit their hashes; comparing head witness, tables and 1 checkpoint found nothing against "
    "them."
)
ODD = "Zoë <i>O'Brien-Ünal</i> =1+1"


def a_session() -> SessionTime:
    """Four students, an instructor, an assistant who leaves after 96 minutes."""
    names = ("Amaru Tendelle", "Halima Corvanne", "Jonas Thibetsky", ODD)
    students = tuple(
        Lane(name, SpanRole.STUDENT, "student", ((0, 110 if name == ODD else 170),), open_end=False) for name in names
    )
    staff = (
        Lane("Tamsin Okoro-Vale", SpanRole.TEACHING, "teaching", ((0, 170),), open_end=True),
        Lane("Lien Farrowby", SpanRole.ASSISTING, "assisting", ((0, 96),), open_end=False),
        Lane("Odo Penhallick", SpanRole.TECHNICIAN, "technician", ((0, 40), (60, 90)), open_end=False),
    )
    steps = (
        RatioStep(0, 96, "4 to 1+1", broken=False),
        RatioStep(96, 110, "4 to 1", broken=True),
        RatioStep(110, 170, "3 to 1", broken=False),
    )
    finding = "15:06 to 15:20: 4 students to 1 instructor; limit 3: 14 minutes; Lien Farrowby left"
    group = GroupTime("Group P", (*staff, *students), steps, finding, broken=True)
    labels = ((0, "13:30"), (30, "14:00"), (60, "14:30"), (90, "15:00"), (120, "15:30"), (150, "16:00"))
    return SessionTime("0192d000-0000-7000-8000-00000000000b", "Pool 1", "Thu 22 Oct 2026, pool", 170, labels, (group,))


def a_course() -> CourseAudit:
    """One course with something in each part."""
    short = (Hours("pool", "pool", 340, 354), Hours("in_water_on_loop", "in water on the loop", 498, 523))
    fine = (Hours("pool", "pool", 560, 354), Hours("in_water_on_loop", "in water on the loop", 634, None))
    return CourseAudit(
        course="0192d000-0000-7000-8000-00000000000c",
        title="KW-1026",
        days="20 to 25 Oct 2026",
        as_of="25 Oct 2026, the last day of the course",
        requirements="Example: first unit course, revision r1. EXAMPLE: every number here is made up.",
        sentence="2 students, 31 attempts in 1 session; ratio over its limit in 1 group; 1 correction.",
        staff=("Tamsin Okoro-Vale, lead instructor",),
        learners=(
            LearnerLine(
                "Halima Corvanne", "h", "43 of 46 held, 2 signed; short by 25 minutes in water on the loop", short,
            ),
            LearnerLine(ODD, "z", "46 of 46 held, 0 signed", fine),
        ),
        kinds=(("pool", "pool"), ("in_water_on_loop", "in water on the loop")),
        sessions=(a_session(),),
        findings=FindingsPart(
            "2 findings",
            (
                FindingLine(
                    "Pool 1: 4 to 1 for 14 minutes: Lien left.", ("Everybody was at the surface.",),
                    "a rule was not kept", serious=True, follow=("5 attempts were seen in it.",),
                ),
                FindingLine("1 attempt not closed."),
            ),
        ),
        corrections=(
            Correction(
                "22 Oct 2026 18:04", "Pool 1",
                "Corrected: the time of Lien Farrowby: end from 22 Oct 2026 at 16:20 to 22 Oct 2026 at 15:06, by "
                "Tamsin Okoro-Vale: She left early.",
            ),
        ),
        late=("Pool 1, 22 Oct 2026: 31 attempts, last entered 3 days after they were seen.",),
        decisions=(
            DecisionEntry(
                "Halima Corvanne: Close before it leaves the mouth",
                "Signed as met by Tamsin Okoro-Vale on 25 Oct 2026.", HASH, changed_since=True,
            ),
        ),
    )  # fmt: skip


def an_answer() -> AuditAnswer:
    """A file given to somebody."""
    chain = "0192d000-0000-7000-8000-0000000000a1"
    return AuditAnswer(
        centre="Kelpwater Training House",
        given_to="the agency's office",
        sentence=f"1 course. {WHOLE}",
        caution=NAMED_CAUTION.format(whom="the agency's office"),
        courses=(a_course(),),
        ledger=LedgerAudit(
            sentence=WHOLE,
            chains=(ChainLine(chain, 4670, HASH, "The first chain."),),
            findings=(),
            notices=("When 2026-10-22 was closed, chain b was known too, and it is not here.",),
            checkpoints=("22 Oct 2026: 1 head named",),
            limits=LIMITS,
        ),
        notes=(RECORD_NOTE, EXAMPLE_NOTE),
        head=LedgerHead("0192d000-0000-7000-8000-0000000000c0", chain, 4670, HASH),
    )
