"""Closed lists, and the word that a person reads for each entry, on screen and on paper alike."""

from __future__ import annotations

from enum import StrEnum


class Mark(StrEnum):
    """What a sheet says of one step."""

    DONE = "done"
    ERROR = "error"
    PROMPTED = "prompted"
    NOT_SEEN = "not_seen"
    LEFT_OUT = "left_out"


class Outcome(StrEnum):
    """What an attempt came to; always derived. The first that fits, in this order, is it."""

    VOID = "void"
    CRITICAL = "critical"
    STOPPED = "stopped"
    MINOR = "minor"
    INCOMPLETE = "incomplete"
    CLEAN = "clean"


class StandingState(StrEnum):
    """Where one student stands with one skill; always derived. The first that fits, in this order, is it."""

    NOT_FOR_THIS_UNIT = "not_for_this_unit"
    NOT_STARTED = "not_started"
    AGAIN = "again"
    WAITING = "waiting"
    OUT_OF_DATE = "out_of_date"
    MET_WATCH = "met_watch"
    MET = "met"
    NOT_YET = "not_yet"


class Closing(StrEnum):
    """How an attempt ended."""

    COMPLETED = "completed"
    STOPPED = "stopped"
    VOID = "void"


class Capacity(StrEnum):
    """What a sheet is for: only evaluating sheets count for a student."""

    EVALUATING = "evaluating"
    PRACTICE = "practice"


class SheetSource(StrEnum):
    """Where the marks of a sheet were first written."""

    PAD = "pad"
    SLATE = "slate"
    FILE = "file"


class Role(StrEnum):
    """What somebody is on a course or in a span of time."""

    LEAD = "lead"
    INSTRUCTOR = "instructor"
    ASSISTANT = "assistant"
    CANDIDATE = "candidate"
    TECHNICIAN = "technician"
    STUDENT = "student"


class Office(StrEnum):
    """What somebody is to the centre beside teaching; it comes with an account and stands in no course or sheet."""

    AUDITOR = "auditor"
    ADMINISTRATOR = "administrator"


class SpanRole(StrEnum):
    """What somebody did in a span of time."""

    TEACHING = "teaching"
    ASSISTING = "assisting"
    STUDENT = "student"
    CANDIDATE = "candidate"
    TECHNICIAN = "technician"
    SURFACE = "surface"


class DecisionKind(StrEnum):
    """A person's act on a standing."""

    AGREED = "agreed"
    STRICTER = "stricter"


class Authority(StrEnum):
    """On whose word somebody's personal data were erased."""

    PERSON = "person"
    RETENTION = "retention"
    ORDER = "order"
    MISTAKE = "mistake"


class Care(StrEnum):
    """What was done to a unit, and has an end of being good."""

    SERVICE = "service"
    CELLS = "cells"
    SCRUBBER = "scrubber"


class ReadingKind(StrEnum):
    """What is read of a unit at the bench or in the water, and judged by a registered quantity."""

    CELL_AIR = "cell_air"
    CELL_GAS = "cell_gas"
    CELL_HIGH = "cell_high"
    FLUSH = "flush"
    POSITIVE = "positive_test"
    NEGATIVE = "negative_test"


class SlipKind(StrEnum):
    """A fault is planted on a bench only; in the water it is shown, never made."""

    PLANTED = "planted"
    SHOWN = "shown"


class SlipAnswer(StrEnum):
    """What a person made of a fault."""

    HIT = "hit"
    MISSED = "missed"
    FALSE_ALARM = "false_alarm"


STAFF = (Role.LEAD, Role.INSTRUCTOR, Role.ASSISTANT, Role.CANDIDATE, Role.TECHNICIAN)
EVALUATORS = (Role.LEAD, Role.INSTRUCTOR)
"""Who may give evaluating marks and sign; everyone else's sheets are practice."""

MARK_WORDS = {
    Mark.DONE: "done, or no occasion",
    Mark.ERROR: "error",
    Mark.PROMPTED: "prompted",
    Mark.NOT_SEEN: "not seen",
    Mark.LEFT_OUT: "left out",
}
OUTCOME_WORDS = {outcome: outcome.value for outcome in Outcome}
STANDING_WORDS = {
    StandingState.NOT_FOR_THIS_UNIT: "not for this unit",
    StandingState.NOT_STARTED: "not started",
    StandingState.AGAIN: "again",
    StandingState.WAITING: "waiting",
    StandingState.OUT_OF_DATE: "out of date",
    StandingState.MET_WATCH: "met (watch)",
    StandingState.MET: "met",
    StandingState.NOT_YET: "not yet",
}
AUTHORITY_WORDS = {
    Authority.PERSON: "the person asked for it",
    Authority.RETENTION: "the time for which the centre keeps data is over",
    Authority.ORDER: "an authority or a court ordered it",
    Authority.MISTAKE: "the person should never have been entered",
}
CARE_WORDS = {Care.SERVICE: "service", Care.CELLS: "oxygen cells", Care.SCRUBBER: "scrubber filling"}
READING_WORDS = {
    ReadingKind.CELL_AIR: "cell in air",
    ReadingKind.CELL_GAS: "cell in calibration gas",
    ReadingKind.CELL_HIGH: "cell above the set point",
    ReadingKind.FLUSH: "PO2 after a diluent flush",
    ReadingKind.POSITIVE: "positive test",
    ReadingKind.NEGATIVE: "negative test",
}
SLIP_KIND_WORDS = {SlipKind.PLANTED: "planted", SlipKind.SHOWN: "shown"}
SLIP_ANSWER_WORDS = {
    SlipAnswer.HIT: "found",
    SlipAnswer.MISSED: "missed",
    SlipAnswer.FALSE_ALARM: "took something sound for a fault",
}
SETTING_WORDS = {"class": "class", "dry": "dry", "pool": "pool", "open_water": "open water"}
ROLE_WORDS = {
    Role.LEAD: "lead instructor",
    Role.INSTRUCTOR: "instructor",
    Role.ASSISTANT: "assistant",
    Role.CANDIDATE: "candidate",
    Role.TECHNICIAN: "technician",
    Role.STUDENT: "student",
}
OFFICE_WORDS = {Office.AUDITOR: "auditor", Office.ADMINISTRATOR: "administrator"}
SPAN_ROLE_WORDS = {
    SpanRole.TEACHING: "teaching",
    SpanRole.ASSISTING: "assisting",
    SpanRole.STUDENT: "student",
    SpanRole.CANDIDATE: "candidate",
    SpanRole.TECHNICIAN: "technician",
    SpanRole.SURFACE: "surface support",
}
QUANTITY_WORDS = {
    "time": "watched for",
    "oxygen_pressure": "oxygen pressure",
    "po2": "PO2",
    "pressure": "pressure",
    "voltage": "cell voltage",
    "volume": "volume",
    "flow": "flow",
    "depth": "depth",
    "count": "number",
}
UNIT_WORDS = {"1": ""}
KIND_OF_EVENT_WORDS = {
    "course_made/1": "the course",
    "enrolled/1": "the enrolment",
    "unit_assigned/1": "the unit",
    "session_planned/1": "the session",
    "group_made/1": "the group",
    "span_recorded/1": "the time",
    "span_ended/1": "the time of leaving",
    "water_time_recorded/1": "the time in the water",
    "slate_issued/1": "the sheet that was given out",
    "roll_called/1": "the roll call",
    "signed/1": "the decision",
    "signed/2": "the decision",
    "exception_proposed/1": "the exception",
    "exception_seconded/1": "the second word on the exception",
    "transfer_agreed/1": "the consent to be given on",
    "arrived_from_elsewhere/1": "what arrived from elsewhere",
    "elsewhere_accepted/1": "what was accepted from elsewhere",
    "corrected/1": "an earlier correction",
    "withdrawn/1": "an earlier taking back",
    "withdrawn/2": "an earlier taking back",
}
"""What a correction corrects, as a sentence says it."""

RECORD_NOTE = (
    "A training record. It certifies nobody. Certification, standards and limits are the certifying agency's, "
    "the maker's manual's and local law's."
)
EXAMPLE_NOTE = (
    "Rule numbers, time limits and currency days in the shipped rubrics are examples. "
    "Your agency's standards and the unit manual decide."
)


def plural(count: int, noun: str, many: str | None = None) -> str:
    """Return the count with its noun, such as "1 attempt" or "3 attempts"."""
    return f"{count} {noun if count == 1 else many or noun + 's'}"


def with_optional(required: int, every: int, noun: str) -> str:
    """Return required and optional ones apart, such as "49 required and 1 optional skill"; "49 skills" without any."""
    optional = every - required
    return f"{required} required and {plural(optional, f'optional {noun}')}" if optional else plural(every, noun)


def begun(text: str) -> str:
    """Return the text as a sentence begins, whatever else stands in it."""
    return text[:1].upper() + text[1:]


def listed(parts: list[str], last: str = "and") -> str:
    """Return the parts as a list in a sentence: "pool, dry and open water"."""
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"
