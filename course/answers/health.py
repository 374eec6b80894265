"""How the centre's storage is: one line a thing, each fine, to be looked at or bad, and what to do about it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any

from course import __version__
from course.access import Sight
from course.answers.accounts import account_lines, any_account, keepers
from course.answers.centre_keys import centre_keys, signing_key
from course.answers.days import day_words
from course.asker import question
from course.errors import CourseError
from course.moments import now, read_stored, zone_named
from course.record.centre_key import grouped, key_id
from course.record.facts import Centre, Person
from course.storage.centre_key import key_files
from course.storage.condition import Condition, condition
from course.storage.device import log_file
from course.storage.ledger import Ledger
from course.storage.lookup import all_of, needed
from course.storage.remembered import recalled
from course.words import plural

BACKUP_DAYS, CHECK_DAYS, DRILL_DAYS = 7, 30, 90
"""After so many days a backup, a full check or a restore drill is to be looked at. Common practice; a centre may
want it sooner."""
_GIGABYTE = 1_000_000_000
_LITTLE, _LEAST = 2 * _GIGABYTE, _GIGABYTE // 4


class State(StrEnum):
    """How a thing is."""

    OK = "ok"
    LOOK = "look"
    BAD = "bad"


MARKS = {State.OK: "■", State.LOOK: "◪", State.BAD: "✕"}
"""Shape before colour: a full square, a half one, a cross."""


@dataclass(frozen=True)
class HealthLine:
    """One thing that was looked at."""

    what: str
    state: State
    said: str
    do: str = ""
    """What to do, where it is not fine."""

    @property
    def words(self) -> str:
        """The line in one sentence or two."""
        return f"{self.said} {self.do}".strip()


@dataclass(frozen=True)
class HealthAnswer:
    """How the centre's storage is."""

    sentence: str
    lines: tuple[HealthLine, ...]

    @property
    def bad(self) -> bool:
        """Whether anything is bad."""
        return any(line.state is State.BAD for line in self.lines)

    def text(self) -> str:
        """The answer in lines."""
        return "\n".join([self.sentence, "", *(f"{one.state.value:<5}{one.what}: {one.words}" for one in self.lines)])

    def plain(self) -> dict[str, Any]:
        """The answer as plain data."""
        return asdict(self) | {"bad": self.bad}


@question(Sight.HEALTH)
def health(ledger: Ledger, further: Iterable[HealthLine] = ()) -> HealthAnswer:
    """Return how a centre's storage is.

    Args:
        ledger: open in either way.
        further: lines about what only a running program knows.
    """
    found = condition(ledger)
    zone = needed(ledger, Centre, ledger.centre_id, "centre").zone
    lines = (
        _whole(ledger), _storage(ledger, found), _witness(found), _check(ledger, zone), _backup(ledger, zone),
        _drill(ledger, zone), _ending(ledger, zone), _disk(found), _keys(found), _signing(ledger), _erased(ledger),
        *_accounts(ledger), *_clock(ledger), *further, _log(), _versions(found),
    )  # fmt: skip
    worst_first = (State.BAD, State.LOOK, State.OK)
    return HealthAnswer(_sentence(lines), tuple(sorted(lines, key=lambda line: worst_first.index(line.state))))


def _sentence(lines: Iterable[HealthLine]) -> str:
    worse = {state: [one.what for one in lines if one.state is state] for state in (State.BAD, State.LOOK)}
    if worse[State.BAD]:
        told = plural(len(worse[State.BAD]), "thing cannot stay as it is", "things cannot stay as they are")
        return f"{told}: {', '.join(worse[State.BAD])}."
    if worse[State.LOOK]:
        return f"Nothing is bad; {plural(len(worse[State.LOOK]), 'thing')} to look at: {', '.join(worse[State.LOOK])}."
    return "All that was looked at is fine."


def _whole(ledger: Ledger) -> HealthLine:
    if ledger.damage:
        return HealthLine(
            "Ledger", State.BAD, ledger.damage, f"What is left, and going on with it: course go-on {ledger.folder.name}"
        )
    count = plural(ledger.count_events(), "event")
    return HealthLine("Ledger", State.OK, f"{count}; the end fits its chain and its witness.")


def _storage(ledger: Ledger, found: Condition) -> HealthLine:
    if found.journal in ("", "wal"):
        return HealthLine("Storage", State.OK, ledger.storage_mode)
    if not found.wal_is_safe:
        return HealthLine("Storage", State.LOOK, ledger.storage_mode)
    if ledger.write:
        do = "Each save is still on the disk before it is acknowledged; a local disk is quicker."
        return HealthLine("Storage", State.LOOK, f"ledger.db keeps a journal of the kind {found.journal}.", do)
    return HealthLine("Storage", State.OK, f"{ledger.storage_mode} It begins when the centre is opened to write.")


def _witness(found: Condition) -> HealthLine:
    if not found.witness_there:
        do = "It is written anew at the next opening; a tail lost before then cannot be seen. Make a backup."
        return HealthLine("Witness", State.LOOK, "ledger.head is not there.", do)
    if found.witness_faulty:
        lines = plural(found.witness_faulty, "line")
        return HealthLine("Witness", State.BAD, f"{lines} of ledger.head cannot be read.", "Run a full check.")
    if found.witness_behind:
        behind = plural(found.witness_behind, "event")
        do = "A program may be saving just now; if it stays so, close it and open it again."
        return HealthLine("Witness", State.LOOK, f"ledger.head is {behind} behind the ledger.", do)
    return HealthLine("Witness", State.OK, "ledger.head knows the last event.")


def _check(ledger: Ledger, zone: str) -> HealthLine:
    do = f"Run: course verify {ledger.folder.name}"
    check = recalled().checks.get(str(ledger.folder))
    if check is None:
        return HealthLine("Full check", State.LOOK, "None was made on this machine.", do)
    when = _when(check.at, zone)
    if check.findings:
        return HealthLine("Full check", State.BAD, f"On {when} it found {plural(check.findings, 'fault')}.", do)
    if check.for_people:
        said = f"On {when} it found nothing damaged, and {plural(check.for_people, 'thing')} for people to look at."
        return HealthLine("Full check", State.LOOK, said, do)
    old = now() - read_stored(check.at) > timedelta(days=CHECK_DAYS)
    said = f"The last one, on {when}, found nothing wrong in {plural(check.events, 'event')}."
    return HealthLine("Full check", State.LOOK if old else State.OK, said, do if old else "")


def _backup(ledger: Ledger, zone: str) -> HealthLine:
    do = f"Run: course backup {ledger.folder.name} FILE, and keep the file on another disk. {_schedule(ledger)}"
    made = recalled().backups.get(ledger.centre_id, ())
    if not made:
        return HealthLine("Backup", State.LOOK, "None was made on this machine.", do)
    last = made[-1]
    old = now() - read_stored(last.at) > timedelta(days=BACKUP_DAYS)
    where = "" if last.there else " It is no longer where it was made."
    said = f"The last one was made on {_when(last.at, zone)}.{where}"
    return HealthLine("Backup", State.LOOK if old else State.OK, said, do if old else "")


def _schedule(ledger: Ledger) -> str:
    """How this machine makes a backup every evening by itself, also while the screens are open."""
    name = ledger.folder.name
    if os.name == "nt":
        made = f"a daily task in Task Scheduler: course backup PATH\\{name} OTHER-DISK\\{name}-DAY.tar"
    else:
        made = f"crontab -e, then the line: 0 22 * * * course backup PATH/{name} OTHER-DISK/{name}-$(date +\\%F).tar"
    return f"Every evening by itself: {made}"


def _drill(ledger: Ledger, zone: str) -> HealthLine:
    do = f"Run: course drill {ledger.folder.name} FILE. A backup that was never put back is a hope."
    tried = recalled().drills.get(ledger.centre_id)
    if tried is None:
        return HealthLine("Restore drill", State.LOOK, "No backup was put back on this machine to try it.", do)
    old = now() - read_stored(tried.at) > timedelta(days=DRILL_DAYS)
    said = f"A backup was put back to try it on {_when(tried.at, zone)}."
    return HealthLine("Restore drill", State.LOOK if old else State.OK, said, do if old else "")


def _ending(ledger: Ledger, zone: str) -> HealthLine:
    last = recalled().endings.get(str(ledger.folder))
    if last is None:
        return HealthLine("Closing", State.OK, "It was closed each time it was open on this machine.")
    checked = f"the newest {plural(last.checked, 'event')} against their chain, its end against the witness"
    said = f"On {_when(last.at, zone)} it had not been closed, as after a crash. Checked then: {checked}"
    if last.whole:
        return HealthLine("Closing", State.OK, f"{said}; everything that was acknowledged was there.")
    do = f"Run: course verify {ledger.folder.name}"
    return HealthLine("Closing", State.BAD if ledger.damage else State.LOOK, f"{said}; something did not fit.", do)


def _disk(found: Condition) -> HealthLine:
    said = f"{found.free_bytes / _GIGABYTE:.1f} GB free; the ledger takes {found.ledger_bytes / 1_000_000:.1f} MB."
    if found.free_bytes < max(_LEAST, found.ledger_bytes):
        return HealthLine("Disk", State.BAD, said, "Make room now: a save on a full disk is refused.")
    if found.free_bytes < max(_LITTLE, 3 * found.ledger_bytes):
        return HealthLine("Disk", State.LOOK, said, "Make room: a backup needs as much again.")
    return HealthLine("Disk", State.OK, said)


def _keys(found: Condition) -> HealthLine:
    if found.open_to_others:
        names = " ".join(found.open_to_others)
        said = f"Others on this machine can read {names}."
        return HealthLine("Keys", State.BAD, said, f"Run, in the folder: chmod 600 {names}")
    if not found.vault_there:
        said = "vault.db is not in this folder: names and texts cannot be opened here."
        return HealthLine("Keys", State.LOOK, said, "Bring the vault that belongs to this ledger.")
    return HealthLine("Keys", State.OK, "vault.db can be read by its owner only.")


def _signing(ledger: Ledger) -> HealthLine:
    try:
        key = signing_key(ledger)
        if key and (left := key_files(ledger.folder)):
            said = "A key of the centre lies in its folder: whoever copies the folder can sign as the centre."
            do = (
                "Open the centre to write where its folder can be written: the key moves to this machine's own notes. "
                f"What stays then is no key: take {left[0].name} away by hand."
            )
            return HealthLine("Signing", State.LOOK, said, do)
        if key:
            return HealthLine("Signing", State.OK, f"Papers are signed with the key {grouped(key_id(key.public))}.")
    except CourseError as error:
        return HealthLine("Signing", State.BAD, error.sentence)
    do = f"Run: course key {ledger.folder.name}"
    if any(key.ended is None for key in centre_keys(ledger)):
        do = f"{do} --put-back FILE, with the copy of the key from the machine that has it; or --lost"
        return HealthLine("Signing", State.LOOK, "The centre's key is not on this machine: papers are not signed.", do)
    return HealthLine("Signing", State.LOOK, "The centre has no key yet: papers are not signed.", do)


def _erased(ledger: Ledger) -> HealthLine:
    gone = [one.id for one in all_of(ledger, Person) if one.erased]
    if back := [one for one in gone if ledger.vault.knows(one)]:
        said = f"The keys of {plural(len(back), 'erased person', 'erased people')} are in vault.db."
        return HealthLine("Erased people", State.BAD, said, "Open the centre once to write: they go then.")
    count = plural(len(gone), "person", "people")
    return HealthLine("Erased people", State.OK, f"{count} erased; no key of theirs is here." if gone else "None.")


def _accounts(ledger: Ledger) -> Iterator[HealthLine]:
    """Who can sign in, where people have accounts: nothing of a name is told here."""
    lines = account_lines(ledger)
    if not lines:
        if any_account(ledger):
            said = "All are closed, none of them as the last one, so nobody gets in."
            yield HealthLine("Accounts", State.BAD, said, "Give a lead one on this machine: course account add.")
        return
    many = plural(len(lines), "account")
    back, waiting = sum(bool(line.held_back) for line in lines), sum(line.must_change for line in lines)
    if not keepers(ledger):
        do = "Give a lead one on this machine: course account add."
        yield HealthLine("Accounts", State.BAD, f"{many}, and nobody with one may make and close accounts.", do)
    elif back:
        do = "The People page says why, with what to do."
        yield HealthLine("Accounts", State.LOOK, f"{many}, {back} of which lets nobody in.", do)
    else:
        changing = f" {plural(waiting, 'first password')} still to be changed by whose it is." if waiting else ""
        yield HealthLine("Accounts", State.OK, f"{many}.{changing}")


def _clock(ledger: Ledger) -> Iterator[HealthLine]:
    told = (ledger.ending.words,) if ledger.ending else ()  # it has a line of its own
    for notice in ledger.notices[len(told) :]:
        yield HealthLine("Notice", State.LOOK, notice)


def _log() -> HealthLine:
    file = log_file()
    with suppress(ValueError, RuntimeError):  # a home is often called after its owner, and a shared page shows this
        file = Path("~") / file.relative_to(Path.home())
    return HealthLine("Log", State.OK, f"{file}: what was asked and how long it took, without names.")


def _versions(found: Condition) -> HealthLine:
    return HealthLine("Versions", State.OK, f"Loopledger {__version__}, Python {found.python}, SQLite {found.sqlite}.")


def _when(at: str, zone: str) -> str:
    local: datetime = read_stored(at).astimezone(zone_named(zone))
    return f"{day_words(local.date())} at {local:%H:%M}"
