"""What is true now, per subject: frozen, and a function of the set of events alone.

Private text is not in here: a fact carries the sealed pieces, and only `storage` can open them.
`events` are the hashes of the events that a fact rests on.
"""

from __future__ import annotations

from typing import Any, ClassVar, Literal, Self

from course.moments import Observed
from course.record.centre_key import CentreKey
from course.record.day_facts import Incident, RollCall, SetPoint, Slate, WaterTime
from course.record.frozen import Frozen
from course.record.paper_facts import CheckOut, Papers
from course.record.privacy_facts import Erasure, Retention
from course.record.standards_facts import StandardsMove
from course.record.unit_facts import CareDone, Hold, Reading, SetAside, SlipReply
from course.standards.rubric import Setting
from course.words import Capacity, Closing, DecisionKind, Mark, Role, SheetSource, SlipKind, SpanRole


class SealedPiece(Frozen):
    """Private fields of one event: sealed bytes, whose key opens them, and what is public about them.

    A piece of the founding event holds the thing's own fields; any other belongs to its event alone.
    """

    event: str
    kind: str
    of: str
    data: str
    founding: bool = False
    corrects: str | None = None
    """For a correction: the event whose private fields it changes."""
    replaces: tuple[str, ...] = ()
    """For a correction: earlier ones whose place it takes."""


class Fact(Frozen):
    """What every fact has."""

    id: str
    events: tuple[str, ...] = ()
    private: tuple[SealedPiece, ...] = ()
    unread: tuple[str, ...] = ()
    """Kinds of events from a newer version that this one cannot read; they block signing."""
    contested: tuple[str, ...] = ()
    """Fields for which two live corrections disagree."""
    withdrawn: bool = False

    labels: ClassVar[tuple[str, ...]] = ()
    """Fields that are sealed in the tables; `storage` fills them in as a fact is read."""

    def labelled(self, private: dict[str, Any]) -> Self:
        """The fact with its labels filled in from its opened private fields; its kind and id where they are closed."""
        unnamed = f"{type(self).__name__.lower()} {self.id[-4:]}"
        missing = {name: unnamed for name in self.labels if type(self).model_fields[name].default == ""}
        return self.model_copy(update=missing | {n: private[n] for n in self.labels if private.get(n) is not None})


class Centre(Fact):
    """The centre."""

    labels: ClassVar[tuple[str, ...]] = ("name",)

    name: str = ""
    zone: str
    lead: str
    retention: Retention | None = None
    keys: tuple[CentreKey, ...] = ()


class Person(Papers, Fact):
    """A person; name, birth date and contact are private."""

    labels: ClassVar[tuple[str, ...]] = ("birth_date",)

    roles: tuple[Role, ...]
    birth_date: str | None = None
    check_outs: tuple[CheckOut, ...] = ()
    erased: Erasure | None = None

    def labelled(self, private: dict[str, Any]) -> Self:
        """The person with their birth date, and their papers with what is private of them."""
        return super().labelled(private).model_copy(update=self.opened_papers(private["by_event"]))


class Unit(Fact):
    """A unit."""

    labels: ClassVar[tuple[str, ...]] = ("label",)

    label: str = ""
    unit_type: str
    care: tuple[CareDone, ...] = ()
    holds: tuple[Hold, ...] = ()
    readings: tuple[Reading, ...] = ()

    @property
    def held(self) -> tuple[Hold, ...]:
        """Holds that nobody lifted yet."""
        return tuple(hold for hold in self.holds if hold.until is None)


class Adoption(Fact):
    """Rubric files as written."""

    files: dict[str, Any]
    replaces: tuple[str, ...] | None = None
    """The adoptions whose place it takes; None where that was not recorded: then every one before it in order."""


class Member(Frozen):
    """A person on a course."""

    person: str
    role: Role


class Assignment(Frozen):
    """Which unit a person dives from a day on."""

    person: str
    unit: str
    unit_type: str
    from_day: str


class Course(Fact):
    """A course. Adoption, profile and revision are those that it is on now."""

    labels: ClassVar[tuple[str, ...]] = ("title",)

    title: str = ""
    zone: str
    adoption: str
    profile: str
    revision: str
    first_day: str
    last_day: str
    members: tuple[Member, ...] = ()
    assignments: tuple[Assignment, ...] = ()
    moves: tuple[StandardsMove, ...] = ()
    """Every move to other standards that stands, in order; those of two laptops are both in here."""
    unreplaced: tuple[str, ...] = ()
    """Events of moves that no other takes the place of: the next move names them."""

    def assignment(self, person: str, day: str) -> Assignment | None:
        """The unit that a person dives on a day: the latest assignment from that day or before it, else the first."""
        own = sorted((a for a in self.assignments if a.person == person), key=lambda a: a.from_day)
        until = [a for a in own if a.from_day <= day]
        return until[-1] if until else (own[0] if own else None)

    def people(self, *roles: Role) -> tuple[str, ...]:
        """Ids of the members in these roles, in the order they were enrolled."""
        return tuple(dict.fromkeys(m.person for m in self.members if m.role in roles))


class Group(Frozen):
    """Who is with whom. `event` made it so; a change names it."""

    id: str
    event: str
    name: str = ""
    staff: tuple[str, ...]
    students: tuple[str, ...]


class Span(Frozen):
    """One person's time in a session in a role."""

    id: str
    person: str
    role: SpanRole
    group: str | None
    start: Observed
    end: Observed | None


class Session(Fact):
    """A planned gathering and who was there."""

    labels: ClassVar[tuple[str, ...]] = ("title", "place")

    course: str
    title: str = ""
    setting: Setting
    place: str | None = None
    start: Observed
    end: Observed
    groups: tuple[Group, ...] = ()
    spans: tuple[Span, ...] = ()
    water: tuple[WaterTime, ...] = ()
    slates: tuple[Slate, ...] = ()
    rolls: tuple[RollCall, ...] = ()
    incidents: tuple[Incident, ...] = ()
    site_plans: tuple[str, ...] = ()
    """Events that tell what stands on the day sheet; two live ones are two laptops' and both are shown."""
    closed_at: Observed | None = None
    set_points: tuple[SetPoint, ...] = ()
    called_low: bool = False
    """The visibility was called low; of two laptops' words the stricter holds."""
    visibility_calls: tuple[str, ...] = ()
    """Events of calls that no other takes the place of: the next call names them."""

    @property
    def frozen_by(self) -> tuple[Incident, ...]:
        """Incidents after which the session did not go on."""
        return tuple(incident for incident in self.incidents if incident.resumed is None)

    def labelled(self, private: dict[str, Any]) -> Self:
        """The session with its title and place, and its groups with their names."""
        by_event = private["by_event"]
        groups = tuple(
            group.model_copy(update={"name": by_event.get(group.event, {}).get("name", f"group {group.id[-4:]}")})
            for group in self.groups
        )
        return super().labelled(private).model_copy(update={"groups": groups})


class MarkLine(Frozen):
    """One live mark of one step on one sheet. Two of them for one step: the stricter holds."""

    event: str
    step: str
    mark: Mark
    errors: tuple[str, ...] = ()
    prompted: bool = False
    fixed_self: bool = False
    unreadable: bool = False
    utc: str
    late: bool = False
    """Given after the attempt was closed."""


class ValueLine(Frozen):
    """One live measured value of one step on one sheet."""

    event: str
    step: str
    quantity: str
    unit: str
    value: str


class OrderLine(Frozen):
    """One live answer about the order of two steps."""

    event: str
    first_done: str
    should_come_first: str
    seen_so: bool
    fixed_self: bool = False
    """Seen so, and put right unasked: shown, and an order fault all the same."""


class Sheet(Frozen):
    """One observer's marks of one attempt."""

    id: str
    observer: str
    role: Role
    capacity: Capacity
    source: SheetSource
    slate: str | None = None
    slate_try: int | None = None
    started: Observed
    marks: tuple[MarkLine, ...] = ()
    values: tuple[ValueLine, ...] = ()
    orders: tuple[OrderLine, ...] = ()
    whole_clean: str | None = None
    """The event of the one stroke for a whole clean attempt."""
    first_taps: tuple[tuple[str, str], ...] = ()
    """(step, utc) of each step's first tap, by time; corrections keep it."""


class JointLine(Frozen):
    """What two observers agreed was seen of one step."""

    event: str
    step: str
    mark: Mark
    errors: tuple[str, ...] = ()
    prompted: bool = False
    fixed_self: bool = False
    unreadable: bool = False
    value: str | None = None
    observers: tuple[str, ...]


class Ending(Frozen):
    """How an attempt was closed."""

    event: str
    how: Closing
    stopped_by: Literal["student", "instructor"] | None
    second: str | None
    closed_by: str
    observed: Observed


class Attempt(Fact):
    """One try of one student at one skill."""

    labels: ClassVar[tuple[str, ...]] = ("elsewhere",)

    course: str
    session: str
    student: str
    skill: str
    rubric: str
    unit: str | None
    unit_type: str | None
    setting: Setting
    number: int
    within: str | None = None
    from_elsewhere: bool = False
    elsewhere: str | None = None
    accepted: bool | None = None
    """For an attempt from elsewhere: the receiving lead's answer, if there is one."""
    observed: Observed
    sheets: tuple[Sheet, ...] = ()
    joint: tuple[JointLine, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    """Readings of the unit that somebody who decides set aside, step by step."""
    ending: Ending | None = None
    other_endings: tuple[Ending, ...] = ()
    """What other devices closed it as; `ending` holds."""
    first_student: str = ""
    """Whom it was first entered for; another than `student` once a correction moved it."""
    claimants: tuple[str, ...] = ()
    """Students named by corrections that disagree; the attempt counts for none, a critical against each."""
    joined: tuple[str, ...] = ()
    """Other attempts that were the same try and whose sheets are in here."""


class Join(Fact):
    """Attempts that were one try."""

    course: str
    attempts: tuple[str, ...]


class Slip(Fact):
    """A fault set for training: planted on a bench, or shown in the water."""

    labels: ClassVar[tuple[str, ...]] = ("bag",)

    course: str
    session: str
    how: SlipKind
    fault: str
    unit: str | None
    for_whom: tuple[str, ...]
    bag: str | None = None
    set_by: str
    observed: Observed
    replies: tuple[SlipReply, ...] = ()
    cleared: Observed | None = None
    cleared_by: str | None = None


class Checkpoint(Fact):
    """The heads that were known when a day was closed."""

    course: str
    day: str
    heads: tuple[tuple[str, int, str], ...]
    """(chain, seq, hash) of each."""
    still_open: int
    made_by: str


class Decision(Fact):
    """A person's act on a standing."""

    course: str
    student: str
    skill: str
    unit_type: str | None
    decided: DecisionKind
    decided_by: str
    standing: str
    sentence: str
    as_of: str
    rubric: str
    rests_on: str
    events_used: int
    observed: Observed
    replaces: tuple[str, ...] = ()
    confirmed_with: str | None = None
