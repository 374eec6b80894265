"""One invented body of every kind of event, filled as far as the kind goes; and events made of bodies, unsealed."""

from __future__ import annotations

from course.moments import Observed, observed_at, read_stored
from course.record.arrival_events import ArrivedAmount, ArrivedSkill
from course.record.chain import Event, canonical
from course.record.events import (
    AccountClosed,
    AccountClosedAsLast,
    AccountMade,
    AdjustmentApproved,
    ArrivedFromElsewhere,
    AttemptClosed,
    AttemptOpened,
    AttemptsJoined,
    Body,
    CentreKeyMade,
    CentreKeyReplaced,
    CentreMade,
    ChainStarted,
    ChainStartedAfterLoss,
    CheckOutRecorded,
    CheckpointMade,
    CheckpointSigned,
    ConsentGiven,
    Corrected,
    CourseMade,
    CourseStandardsMoved,
    DeviceAccepted,
    ElsewhereAccepted,
    ElsewhereAnswered,
    Enrolled,
    ExamTaken,
    ExceptionProposed,
    ExceptionSeconded,
    FaultAnswered,
    FaultCleared,
    FaultSet,
    FindingAnswered,
    GapClosed,
    GroupMade,
    IncidentNoted,
    InterestNoted,
    JointLineAgreed,
    KnownHead,
    LedgerMerged,
    LeftCourse,
    MarkGiven,
    MarksGiven,
    OfficesGiven,
    OrderAnswered,
    OrderAnswered2,
    PasswordSet,
    PersonAdded,
    PersonAddedForOffice,
    PersonErased,
    PinSet,
    Predecessor,
    ProofSeen,
    ReadingSetAside,
    ReadingTaken,
    RetentionSet,
    Returned,
    RollCalled,
    RubricAdopted,
    RubricAdoptedAfter,
    SessionClosed,
    SessionFrozen,
    SessionPlanned,
    SessionReopened,
    SessionResumed,
    SetPointNoted,
    SetPointReached,
    SheetStarted,
    Signed,
    SignedConfirmed,
    SignedIn,
    SignedOff,
    SignedOut,
    SigningPinLetGo,
    SigningPinSet,
    SignOffCountersigned,
    SignOffWithdrawn,
    SitePlanned,
    SlateIssued,
    SlateSetAside,
    SpanEnded,
    SpanRecorded,
    TransferAgreed,
    UnitAdded,
    UnitAssigned,
    UnitCared,
    UnitHeld,
    UnitReleased,
    ValueMeasured,
    VisibilityCalled,
    WaterTimeRecorded,
    WaterTimeSeen,
    WholeAttemptClean,
    Withdrawn,
    WithdrawnConfirmed,
)
from course.record.unit_events import Amount
from course.words import (
    Authority,
    Capacity,
    Care,
    Closing,
    DecisionKind,
    Mark,
    Office,
    ReadingKind,
    Role,
    SheetSource,
    SlipAnswer,
    SlipKind,
    SpanRole,
)

HIDDEN = "Canary Waldorf"  # stands in every private field and nowhere else
HASH = "0" * 64
SECRET_HASH = (  # of a canary, made up
    "$argon2id$v=19$m=65536,t=3,p=4$Q2FuYXJ5V2FsZG9yZg$Q2FuYXJ5V2FsZG9yZkNhbmFyeVdhbGRvcmY"  # noqa: S105
)


def an_id(number: int) -> str:
    """The same id for the same number."""
    return f"0192d000-0000-7000-8000-{number:012x}"


def at(minute: int = 0) -> Observed:
    """A minute of 22 October 2026."""
    return observed_at(read_stored(f"2026-10-22T14:{minute:02}:00.000000Z"), "Atlantic/Azores", "minute")


ONE, TWO, THREE, FOUR, FIVE = map(an_id, range(1, 6))
ERROR_LINE = MarkGiven(step="out", mark=Mark.ERROR, errors=("x",), prompted=True, fixed_self=True, replaces=(FIVE,))
EXAMPLES: tuple[Body, ...] = (
    ChainStarted(chain=ONE, why="restored", predecessor=Predecessor(chain=TWO, seq=7, hash=HASH)),
    ChainStartedAfterLoss(chain=ONE, why="restored", predecessor=Predecessor(chain=TWO, seq=7, hash=HASH)),
    CentreMade(centre=ONE, name=HIDDEN, zone="Atlantic/Azores", lead=TWO),
    PersonAdded(person=ONE, roles=(Role.STUDENT,), name=HIDDEN, birth_date="1999-09-09", contact=HIDDEN, note=HIDDEN),
    CheckOutRecorded(person=ONE, unit_type="type-a", day="2026-09-01", note=HIDDEN),
    UnitAdded(unit=ONE, label=HIDDEN, unit_type="type-a", serial=HIDDEN),
    RubricAdopted(adoption=ONE, files={"a.yaml": {"schema": "rubric/1", "left": None, "list": [1, True, "x"]}}),
    RubricAdoptedAfter(adoption=ONE, files={"a.yaml": {"schema": "rubric/1"}}, replaces=(TWO,)),
    CourseMade(
        course=ONE, title=HIDDEN, zone="UTC", adoption=TWO, profile="ex", revision="r1", first_day="2026-10-20",
        last_day="2026-10-25",
    ),
    Enrolled(course=ONE, person=TWO, role=Role.CANDIDATE),
    UnitAssigned(course=ONE, person=TWO, unit=THREE, unit_type="type-a", from_day="2026-10-20"),
    SessionPlanned(session=ONE, course=TWO, title=HIDDEN, setting="pool", place=HIDDEN, start=at(), end=at(59)),
    GroupMade(session=ONE, group=TWO, name=HIDDEN, staff=(THREE,), students=(FOUR,), replaces=(FIVE,)),
    SpanRecorded(session=ONE, span=TWO, person=THREE, role=SpanRole.STUDENT, group=FOUR, start=at(), end=at(9)),
    SpanEnded(session=ONE, span=TWO, end=at(9)),
    WaterTimeRecorded(
        session=ONE, water=TWO, person=THREE, unit=FOUR, entered=at(), left=at(50), loop_minutes=40,
        bailout_minutes=3, max_depth_m="17.5",
    ),
    AttemptOpened(
        attempt=ONE, course=TWO, session=THREE, student=FOUR, skill="bailout", rubric=HASH, unit=FIVE,
        unit_type="type-a", setting="pool", number=2, within=ONE, from_elsewhere=True, elsewhere=HIDDEN,
        observed=at(), note=HIDDEN,
    ),
    SheetStarted(
        attempt=ONE, sheet=TWO, observer=THREE, role=Role.LEAD, capacity=Capacity.EVALUATING, source=SheetSource.PAD,
        slate=FOUR, slate_try=2, observed=at(),
    ),
    MarksGiven(attempt=ONE, sheet=TWO, marks=(ERROR_LINE,), observed=at(), why=HIDDEN, notes={"out": HIDDEN}),
    WholeAttemptClean(attempt=ONE, sheet=TWO, observed=at()),
    ValueMeasured(
        attempt=ONE, sheet=TWO, step="hold", quantity="time", unit="s", value="59.5", replaces=(FIVE,), observed=at()
    ),
    OrderAnswered(
        attempt=ONE, sheet=TWO, first_done="out", should_come_first="close", seen_so=True, replaces=(FIVE,),
        observed=at(),
    ),
    OrderAnswered2(
        attempt=ONE, sheet=TWO, first_done="out", should_come_first="close", seen_so=True, replaces=(FIVE,),
        observed=at(), fixed_self=True,
    ),
    AttemptClosed(attempt=ONE, how=Closing.STOPPED, stopped_by="student", second=TWO, observed=at(), reason=HIDDEN),
    AttemptsJoined(join=ONE, course=TWO, attempts=(THREE, FOUR), why=HIDDEN),
    JointLineAgreed(
        attempt=ONE, line=ERROR_LINE, value="60", observers=(TWO, THREE), observed=at(), why=HIDDEN
    ),
    ReadingSetAside(attempt=ONE, step="out", readings=(TWO, THREE), observed=at(), why=HIDDEN),
    ElsewhereAnswered(attempt=ONE, accepted=True, replaces=(FIVE,), why=HIDDEN),
    Corrected(
        thing=ONE, corrects=TWO, replaces=(FIVE,), change={"setting": "dry"},
        private_change={"name": HIDDEN}, why=HIDDEN,
    ),
    Withdrawn(thing=ONE, withdraws=TWO, why=HIDDEN),
    WithdrawnConfirmed(thing=ONE, withdraws=TWO, why=HIDDEN, confirmed_with="pin"),
    Signed(
        decision=ONE, course=TWO, student=THREE, skill="bailout", unit_type="type-a", decided=DecisionKind.STRICTER,
        standing="met", sentence="Met.", as_of="2026-10-25", rubric=HASH, rests_on=HASH, events_used=3,
        replaces=(FOUR,), observed=at(), reason=HIDDEN,
    ),
    SignedConfirmed(
        decision=ONE, course=TWO, student=THREE, skill="bailout", unit_type="type-a", decided=DecisionKind.AGREED,
        standing="met", sentence="Met.", as_of="2026-10-25", rubric=HASH, rests_on=HASH, events_used=3,
        replaces=(FOUR,), observed=at(), reason=HIDDEN, confirmed_with="pin",
    ),
    ExceptionProposed(
        exception=ONE, course=TWO, student=THREE, rule="hours:on_loop", unit_type="type-a", sentence="Short by 9.",
        as_of="2026-10-25", have=91, required=100, rests_on=HASH, events_used=3, replaces=(FOUR,), observed=at(),
        confirmed_with="password", reason=HIDDEN,
    ),
    ExceptionSeconded(exception=ONE, rests_on=HASH, observed=at(), confirmed_with="pin", reason=HIDDEN),
    SignedOff(
        sign_off=ONE, course=TWO, student=THREE, issue=2, replaces=(FOUR,), profile="ex-first-unit", revision="r1",
        as_of="2026-10-25", rests_on=HASH, rules=60, exceptions=(FIVE,), assessors=(FOUR,), observed=at(),
        confirmed_with="password", reason=HIDDEN,
    ),
    SignOffCountersigned(sign_off=ONE, role="student", observed=at(), confirmed_with="pin", initials=HIDDEN),
    SignOffWithdrawn(sign_off=ONE, observed=at(), confirmed_with="pin", reason=HIDDEN),
    TransferAgreed(transfer=ONE, course=TWO, student=THREE, day="2026-10-26", replaces=(FOUR,), given_to=HIDDEN),
    ArrivedFromElsewhere(
        arrival=ONE, course=TWO, student=THREE, file=HASH, from_centre=FOUR, from_course=FIVE, from_student=TWO,
        as_of="2026-10-25", signature="pinned", key="0a1b2c3d",
        skills=(ArrivedSkill(skill="bailout", rubric=HASH, standing="met", attempts=6, counted=5,
                             last_day="2026-10-24"),),
        amounts=(ArrivedAmount(item="hours:pool", amount=90),), observed=at(), centre_name=HIDDEN,
        titles={"bailout": HIDDEN}, sure=HIDDEN,
    ),
    ElsewhereAccepted(
        arrival=ONE, item="hours:pool", amount=60, replaces=(FIVE,), observed=at(), confirmed_with="pin", reason=HIDDEN
    ),
    SlateIssued(
        session=ONE, slate=TWO, code="K7QF-2M9TX", skill="bailout", rubric=HASH, students=(THREE, FOUR), tries=2,
        group=FIVE,
    ),
    SlateSetAside(session=ONE, slate=TWO, how="not_used", why=HIDDEN),
    SitePlanned(session=ONE, emergency=HIDDEN, plan=HIDDEN, replaces=(FIVE,)),
    RollCalled(session=ONE, roll=TWO, when="going_in", present=(THREE,), missing=(FOUR,), observed=at()),
    SessionFrozen(
        session=ONE, incident=TWO, people=(THREE,), units=(FOUR,), attempts=(FIVE,), tablets_waiting=1, observed=at(),
        note=HIDDEN,
    ),
    IncidentNoted(session=ONE, incident=TWO, observed=at(), note=HIDDEN),
    SessionResumed(session=ONE, incident=TWO, observed=at(), why=HIDDEN),
    SessionClosed(session=ONE, observed=at()),
    SessionReopened(session=ONE, observed=at(), why=HIDDEN),
    CheckpointMade(
        checkpoint=ONE, course=TWO, day="2026-10-22", heads=(KnownHead(chain=THREE, seq=7, hash=HASH),), still_open=2,
        note=HIDDEN,
    ),
    CheckpointSigned(
        checkpoint=ONE, course=TWO, day="2026-10-22", heads=(KnownHead(chain=THREE, seq=7, hash=HASH),), note=HIDDEN,
        public=HASH, signed="cd" * 64,
    ),
    DeviceAccepted(device=ONE, note=HIDDEN),
    LedgerMerged(merge=ONE, added=7, heads=(KnownHead(chain=THREE, seq=7, hash=HASH),)),
    FindingAnswered(
        answer=ONE, course=TWO, finding="ratio_break/x/y", rests_on=HASH, replaces=(THREE,), observed=at(),
        reason=HIDDEN,
    ),
    PersonErased(
        person=ONE, authority=Authority.ORDER, against=("retention",), observed=at(), reason=HIDDEN, despite=HIDDEN
    ),
    RetentionSet(
        centre=ONE, student_days=3650, staff_days=0, incident_days=36_525, replaces=(TWO,), observed=at(), note=HIDDEN
    ),
    CentreKeyMade(centre=ONE, public="ab" * 32, observed=at()),
    CentreKeyReplaced(
        centre=ONE, public="cd" * 32, replaces="ab" * 32, why="kept", signed="ef" * 64, observed=at(), reason=HIDDEN
    ),
    UnitCared(
        unit=ONE, care=TWO, what=Care.SCRUBBER, observed=at(), good_until="2026-12-31", good_minutes=180, note=HIDDEN
    ),
    ReadingTaken(
        unit=ONE, reading=TWO, what=ReadingKind.CELL_AIR, cell=2, observed=at(), attempt=THREE, step="cell-air",
        amounts=(Amount(key="mv_air", value="10.4", unit="mV"),), note=HIDDEN,
    ),
    SetPointNoted(session=ONE, person=TWO, set_point_bar="1.3", replaces=(FIVE,), observed=at()),
    SetPointReached(session=ONE, person=TWO, set_point_bar="1.3", begins=at(), over_minutes=4, observed=at()),
    UnitHeld(unit=ONE, hold=TWO, observed=at(), slip=THREE, why=HIDDEN),
    UnitReleased(unit=ONE, hold=TWO, observed=at(), list_passed_by=THREE, why=HIDDEN),
    FaultSet(
        slip=ONE, course=TWO, session=THREE, how=SlipKind.PLANTED, fault="pf-tag", unit=FOUR, for_whom=(FIVE,),
        bag=HIDDEN, observed=at(),
    ),
    FaultAnswered(slip=ONE, person=TWO, answer=SlipAnswer.HIT, replaces=(FIVE,), observed=at(), note=HIDDEN),
    FaultCleared(slip=ONE, observed=at(), note=HIDDEN),
    CourseStandardsMoved(
        course=ONE, adoption=TWO, profile="ex", revision="r2", replaces=(FIVE,), observed=at(), why=HIDDEN
    ),
    WaterTimeSeen(
        session=ONE, water=TWO, person=THREE, unit=FOUR, entered=at(), left=at(50), loop_minutes=40,
        bailout_minutes=3, max_depth_m="17.5", visibility_m="2.5",
    ),
    VisibilityCalled(session=ONE, low=True, replaces=(FIVE,), observed=at()),
    ProofSeen(
        person=ONE, course=TWO, prerequisite="pq-med", day="2026-10-20", good_until="2027-09-09", cleared="yes",
        paper=HIDDEN, replaces=(FIVE,),
    ),
    ConsentGiven(
        person=ONE, course=TWO, stages=("pool", "open_water"), day="2026-09-30", until="2027-03-29", guardian=HIDDEN,
        replaces=(FIVE,),
    ),
    ExamTaken(
        person=ONE, course=TWO, exam=THREE, session=FOUR, day="2026-10-21", mark="44.5", of="50", gaps=1,
        items=(HIDDEN,), form=HIDDEN, replaces=(FIVE,),
    ),
    GapClosed(person=ONE, exam=THREE, gap=1, session=FOUR, day="2026-10-22", note=HIDDEN),
    AdjustmentApproved(
        person=ONE, course=TWO, adjustment=THREE, skill="mp-close-out", day="2026-10-20", without=("co-hold",),
        how=HIDDEN, waiver=HIDDEN, replaces=(FIVE,),
    ),
    LeftCourse(person=ONE, course=TWO, day="2026-10-23", why=HIDDEN),
    Returned(person=ONE, course=TWO, day="2026-11-20", note=HIDDEN),
    InterestNoted(person=ONE, course=TWO, student=THREE, day="2026-10-20", note=HIDDEN),
    AccountMade(account=ONE, person=TWO, sign_in=HIDDEN, password_hash=SECRET_HASH, must_change=True),
    PasswordSet(account=ONE, password_hash=SECRET_HASH, must_change=False),
    PinSet(account=ONE, pin_hash=SECRET_HASH),
    SigningPinSet(signing_pin=ONE, person=TWO, pin_hash=SECRET_HASH),
    SigningPinLetGo(signing_pin=ONE, why=HIDDEN),
    OfficesGiven(account=ONE, offices=(Office.AUDITOR, Office.ADMINISTRATOR), replaces=(FIVE,)),
    AccountClosed(account=ONE),
    AccountClosedAsLast(account=ONE),
    SignedIn(account=ONE, by_pin=True),
    SignedOut(account=ONE, everywhere=False),
    PersonAddedForOffice(person=ONE, roles=(), name=HIDDEN, birth_date="1999-09-09", contact=HIDDEN, note=HIDDEN),
)  # fmt: skip


def event(number: int, body: Body, *, chain: str = "one", lamport: int | None = None, kind: str = "") -> Event:
    """An event of a body: its id, place and hash follow from the number."""
    plain = body.public_part()
    return Event(
        id=an_id(1000 + number), centre="c", chain=chain, seq=number, lamport=lamport or number, device="d",
        actor=ONE, subject=body.subject, kind=kind or body.kind, recorded_at="2026-10-22T15:00:00.000000Z",
        body=canonical(plain).decode(), prev=HASH, hash=f"{number:064x}",
    )  # fmt: skip


def history(*bodies: Body) -> list[Event]:
    """Events numbered from 1 in the order of statements."""
    return [event(number, body) for number, body in enumerate(bodies, 1)]
