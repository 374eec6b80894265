"""The standings of very many records at once, by columns: the machine of `streak`, one attempt of each record a round.

`standing` tells one record with its history and its reasons; this tells only where each stands. The two agree in all.
A day is its ordinal (`date.toordinal`), 0 for none; settings are bits in the order of `SETTINGS`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from datetime import date
from typing import Any, Self, get_args

import numpy as np
from numpy.typing import NDArray

from course.assessment.attempts import AttemptJudgement, SeenAttempt
from course.assessment.standing import read_mildly, turns_of
from course.standards.rubric import Rule, Setting, Skill
from course.words import Outcome, StandingState

Column = NDArray[Any]
STATES: tuple[StandingState, ...] = tuple(StandingState)
SETTINGS: tuple[Setting, ...] = get_args(Setting)

IN_STANDING, OWN, CRITICAL, BREAKS, COUNTS, RETEACHES = (1 << place for place in range(6))
"""What an attempt is worth, as bits. 0: in no standing. `OWN`: not on another unit type; only such a one has `BREAKS`
or `COUNTS`. A critical one has neither, nor `RETEACHES`."""

_MET = (STATES.index(StandingState.MET), STATES.index(StandingState.MET_WATCH))
_HELD_BACK = tuple(map(STATES.index, (StandingState.NOT_STARTED, StandingState.NOT_YET, StandingState.OUT_OF_DATE)))
_ONES = np.array([number.bit_count() for number in range(256)], dtype=np.uint8)


@dataclass(frozen=True)
class AskedRecord:
    """One record whose standing is asked for; the fields are the arguments of `standing`."""

    attempts: Sequence[SeenAttempt]
    skill: Skill
    unit_type: str | None
    features: frozenset[str]
    as_of: date
    applies: bool


class _Columns:
    """Columns of one length, cut all alike."""

    def __getitem__(self, rows: Any) -> Self:
        return type(self)(**{name: column[rows] for name, column in self._each()})

    def _each(self) -> Iterator[tuple[str, Column]]:
        return ((field.name, getattr(self, field.name)) for field in fields(self))  # type: ignore[arg-type]


@dataclass(frozen=True)
class AttemptColumns(_Columns):
    """Closed attempts, in any order."""

    record: Column
    """The row of `RecordColumns` that each belongs to."""
    day: Column
    start: Column
    """Start of the session, in seconds."""
    number: Column
    id: Column
    """Settles the order of what is alike in all else."""
    setting: Column
    """One bit."""
    observers: Column
    """Who is its assessor, as bits within the record; shape (attempts, bytes)."""
    strict: Column
    """What it is worth, as bits."""
    mild: Column
    """The same, read as if whoever is asked to confirm did."""


@dataclass(frozen=True)
class RecordColumns(_Columns):
    """What each record is asked: its rule, its window, its day."""

    in_a_row: Column
    distinct_days: Column
    settings: Column
    assessors: Column
    reteach: Column
    currency_days: Column
    as_of: Column
    applies: Column


@dataclass(frozen=True)
class StandingColumns(_Columns):
    """Where each record stands; the fields are those of `Standing` and its `Missing`."""

    state: Column
    """The place in `STATES`."""
    streak: Column
    best: Column
    days: Column
    settings: Column
    reteach_left: Column
    budget_used: Column
    met_on: Column
    good_until: Column
    missing_attempts: Column
    missing_days: Column
    missing_settings: Column
    missing_assessors: Column
    missing_reteach: Column


@dataclass(frozen=True)
class _Places(_Columns):
    """`streak.State` of every record, changed in place."""

    streak: Column
    best: Column
    days: Column
    last_day: Column
    """Of the streak, to tell a new day."""
    settings: Column
    observers: Column
    reteach_left: Column
    met_on: Column
    last_counted: Column
    watch: Column
    ran_out: Column
    again: Column
    started: Column
    used: Column


def many_standings(attempts: AttemptColumns, records: RecordColumns) -> StandingColumns:
    """Derive where each of many records stands.

    Args:
        attempts: of all the records; withdrawn and open ones left out or worth 0.
        records: what each is asked.
    """
    attempts = attempts[attempts.day <= records.as_of[attempts.record]]
    order = np.lexsort((attempts.id, attempts.number, attempts.start, attempts.day, attempts.record))
    attempts = attempts[order]
    strict = _walk(attempts, attempts.strict, records)
    state = _state(strict)
    unsure = np.zeros(len(state), dtype=bool)
    unsure[attempts.record[attempts.strict != attempts.mild]] = True
    unsure &= np.isin(state, _HELD_BACK)
    if unsure.any():
        rows = np.flatnonzero(unsure)
        own = attempts[unsure[attempts.record]]
        again = AttemptColumns(**{**vars(own), "record": np.searchsorted(rows, own.record)})
        mild = _state(_walk(again, again.mild, records[rows]))
        state[rows[np.isin(mild, _MET)]] = STATES.index(StandingState.WAITING)
    state[~records.applies] = STATES.index(StandingState.NOT_FOR_THIS_UNIT)
    return _described(strict, state, records)


def columns_of(asked: Sequence[AskedRecord]) -> tuple[AttemptColumns, RecordColumns]:
    """Judge the attempts of some records and put them in columns."""
    rows = [row for number, one in enumerate(asked) for row in _rows(number, one)]
    record, day, start, attempt_number, id_, setting, observers, strict, mild = (
        zip(*rows, strict=True) if rows else [()] * 9
    )
    width = 1 + max((max(some, default=0) for some in observers), default=0) // 8
    seen_by = np.zeros((len(rows), width), dtype=np.uint8)
    for row, some in enumerate(observers):
        for who in some:
            seen_by[row, who // 8] |= 1 << who % 8
    return (
        AttemptColumns(
            record=np.array(record, dtype=np.int64),
            day=np.array(day, dtype=np.int32),
            start=np.array(start, dtype=np.float64),
            number=np.array(attempt_number, dtype=np.int64),
            id=np.array(id_, dtype=np.str_),
            setting=np.array(setting, dtype=np.uint8),
            observers=seen_by,
            strict=np.array(strict, dtype=np.uint8),
            mild=np.array(mild, dtype=np.uint8),
        ),
        RecordColumns(
            in_a_row=np.array([one.skill.rule.in_a_row for one in asked], dtype=np.int16),
            distinct_days=np.array([one.skill.rule.distinct_days for one in asked], dtype=np.int16),
            settings=np.array([_bits(one.skill.rule) for one in asked], dtype=np.uint8),
            assessors=np.array([one.skill.rule.assessors for one in asked], dtype=np.int16),
            reteach=np.array([one.skill.rule.reteach for one in asked], dtype=np.int16),
            currency_days=np.array([one.skill.currency_days for one in asked], dtype=np.int32),
            as_of=np.array([one.as_of.toordinal() for one in asked], dtype=np.int32),
            applies=np.array([one.applies for one in asked], dtype=bool),
        ),
    )


def _rows(number: int, one: AskedRecord) -> Iterator[tuple[Any, ...]]:
    places: dict[str, int] = {}
    for turn in turns_of(one.attempts, one.skill, one.unit_type, one.features, one.as_of):
        seen, judged = turn.seen, turn.judgement
        mild = read_mildly(turn, one.skill, one.features).judgement
        yield (
            number,
            seen.day.toordinal(),
            seen.session_start.timestamp(),
            seen.attempt.number,
            seen.attempt.id,
            1 << SETTINGS.index(seen.attempt.setting),
            [places.setdefault(who, len(places)) for who in sorted(judged.assessors)],
            _worth(judged, grey=turn.grey),
            _worth(mild, grey=turn.grey),
        )


def _bits(rule: Rule) -> int:
    return sum(1 << SETTINGS.index(name) for name in set(rule.settings))


def _worth(judged: AttemptJudgement, *, grey: bool) -> int:
    if judged.outside is not None:
        return 0
    own = 0 if grey else OWN
    if judged.outcome == Outcome.CRITICAL:
        return IN_STANDING | own | CRITICAL
    worth = IN_STANDING | own | (RETEACHES if judged.uses_reteach else 0)
    if grey:
        return worth
    return worth | (BREAKS if judged.breaks else 0) | (COUNTS if judged.counts else 0)


def _walk(attempts: AttemptColumns, worth: Column, records: RecordColumns) -> _Places:
    """Walk all records on to their days: their first attempts, then their second ones, until the longest has ended.

    Records with most attempts come first, so that each round is a slice.
    """
    count = np.bincount(attempts.record, minlength=len(records.as_of))
    longest_first = np.argsort(-count, kind="stable")
    rank = np.empty_like(longest_first)
    rank[longest_first] = np.arange(len(rank))
    begins = np.cumsum(count) - count
    turn = np.arange(len(attempts.record)) - begins[attempts.record]
    rounds = np.bincount(turn)
    ends = np.cumsum(rounds)
    at_round = np.empty(len(turn), dtype=np.int64)
    at_round[(ends - rounds)[turn] + rank[attempts.record]] = np.arange(len(turn))
    day, setting, seen_by = attempts.day[at_round], attempts.setting[at_round], attempts.observers[at_round]
    worth, asked = worth[at_round], records[longest_first]
    places = _beginning(len(count), attempts.observers.shape[1])
    for size, end in zip(rounds, ends, strict=True):
        part = slice(end - size, end)
        _advance(places[:size], asked[:size], day[part], worth[part], setting[part], seen_by[part])
    _expire(places, asked, asked.as_of)
    return places[rank]


def _beginning(records: int, width: int) -> _Places:
    def none(kind: type) -> Column:
        return np.zeros(records, dtype=kind)

    return _Places(
        streak=none(np.int16), best=none(np.int16), days=none(np.int16), last_day=none(np.int32),
        settings=none(np.uint8), observers=np.zeros((records, width), dtype=np.uint8), reteach_left=none(np.int16),
        met_on=none(np.int32), last_counted=none(np.int32), watch=none(np.bool_), ran_out=none(np.int32),
        again=none(np.bool_), started=none(np.bool_), used=none(np.int32),
    )  # fmt: skip


def _advance(at: _Places, asked: RecordColumns, day: Column, worth: Column, setting: Column, seen_by: Column) -> None:
    """`streak.advance` of each record."""
    _expire(at, asked, day)
    at.used[:] += worth & IN_STANDING
    at.started[:] |= worth & OWN != 0
    owes = at.reteach_left > 0
    at.reteach_left[:] -= owes & (worth & RETEACHES != 0)
    critical = worth & CRITICAL != 0
    if critical.any():
        np.copyto(at.reteach_left, asked.reteach, where=critical)
        _fall(at, critical & (worth & OWN != 0))
    breaks = worth & BREAKS != 0
    at.watch[:] |= breaks & (at.met_on > 0)
    _clear(at, breaks)
    _count(at, asked, np.flatnonzero((worth & COUNTS != 0) & ~owes), day, setting, seen_by)


def _expire(at: _Places, asked: RecordColumns, day: Column) -> None:
    last_good = at.last_counted + asked.currency_days
    gone = (at.met_on > 0) & (day > last_good)
    if gone.any():
        _clear(at, gone)
        np.copyto(at.ran_out, last_good, where=gone)
        at.met_on[gone] = 0
        at.watch[gone] = False


def _fall(at: _Places, critical: Column) -> None:
    """After a critical error on the record's own unit type."""
    at.again[:] |= critical & ((at.met_on > 0) | (at.ran_out > 0))
    _clear(at, critical)
    for column in (at.met_on, at.last_counted, at.watch, at.ran_out):
        column[critical] = 0


def _clear(at: _Places, broken: Column) -> None:
    for column in (at.streak, at.days, at.last_day, at.settings, at.observers):
        column[broken] = 0


def _count(at: _Places, asked: RecordColumns, rows: Column, day: Column, setting: Column, seen_by: Column) -> None:
    """After an attempt that counts, in these rows."""
    today = day[rows]
    streak = at.streak[rows] + 1
    days = at.days[rows] + (today != at.last_day[rows])
    filled = at.settings[rows] | setting[rows]
    at.streak[rows], at.days[rows], at.settings[rows] = streak, days, filled
    at.best[rows] = np.maximum(at.best[rows], streak)
    at.last_day[rows] = at.last_counted[rows] = today
    at.observers[rows] |= seen_by[rows]
    wanted = asked.settings[rows]
    enough = (streak >= asked.in_a_row[rows]) & (days >= asked.distinct_days[rows]) & (filled & wanted == wanted)
    newly = rows[enough & ((at.met_on[rows] == 0) | at.watch[rows])]
    newly = newly[_observers(at.observers[newly]) >= asked.assessors[newly]]
    at.met_on[newly] = day[newly]
    at.watch[newly] = at.again[newly] = False
    at.ran_out[newly] = 0


def _observers(bits: Column) -> Column:
    many: Column = _ONES[bits].sum(axis=1, dtype=np.int16)
    return many


def _state(at: _Places) -> Column:
    """The first that fits, of those that one walk can tell."""
    ladder = (
        (~at.started, StandingState.NOT_STARTED),
        (at.again, StandingState.AGAIN),
        (at.ran_out > 0, StandingState.OUT_OF_DATE),
        (at.watch, StandingState.MET_WATCH),
        (at.met_on > 0, StandingState.MET),
    )
    numbers = [np.uint8(STATES.index(state)) for _, state in ladder]
    return np.select([fits for fits, _ in ladder], numbers, default=np.uint8(STATES.index(StandingState.NOT_YET)))


def _described(at: _Places, state: Column, asked: RecordColumns) -> StandingColumns:
    open_ = asked.applies & ((at.met_on == 0) | at.watch)
    settings = np.where(open_, asked.settings & ~at.settings, 0).astype(np.uint8)
    days = np.where(open_, np.maximum(asked.distinct_days - at.days, 0), 0)
    assessors = np.where(open_, np.maximum(asked.assessors - _observers(at.observers), 0), 0)
    attempts = np.where(open_, np.maximum(asked.in_a_row - at.streak, 0), 0)
    for other in (days, _ONES[settings], np.minimum(assessors, 1)):
        attempts = np.maximum(attempts, other)
    return StandingColumns(
        state=state,
        streak=at.streak,
        best=at.best,
        days=at.days,
        settings=at.settings & asked.settings,
        reteach_left=at.reteach_left,
        budget_used=at.used,
        met_on=at.met_on,
        good_until=np.where(at.met_on > 0, at.last_counted + asked.currency_days, at.ran_out),
        missing_attempts=attempts,
        missing_days=days,
        missing_settings=settings,
        missing_assessors=assessors,
        missing_reteach=np.where(asked.applies, at.reteach_left, 0),
    )
