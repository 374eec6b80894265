"""One centre on three laptops that go on by themselves and do not agree; the clock of one is half an hour off."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import pytest
from centre_builder import LAST_DAY, POOL_SKILL, Centre, build_centre, critical_mark, seen_at

from course import moments
from course.actions import amending, arrivals, incident, presence, readings, settling, signing, slates, unit_care
from course.actions import centre as founding
from course.actions import keys as keeping
from course.actions.attempts import close_draft
from course.actions.set_points import From, note_set_point
from course.actions.times import WaterRow, save_water
from course.answers.course_view import forget_views
from course.answers.decisions import evidence
from course.exchange.bundle import open_bundle, write_bundle
from course.exchange.merging import hand_over
from course.moments import Observed, now
from course.record.events import MarkGiven
from course.standards.standards import Standards
from course.storage import tables
from course.storage.backup import backup, restore
from course.storage.ledger import Ledger, open_ledger
from course.storage.merging import Source, parts_of, take_in
from course.storage.postgresql import Server, read_url
from course.storage.site import Site
from course.words import Closing, DecisionKind, Mark, ReadingKind, Role

HALF_AN_HOUR = timedelta(minutes=30)
LAPTOPS = ("first", "second", "third")


@dataclass(frozen=True)
class Apart:
    """What is left of them: each one's folder and notes, and the bundles that they handed over.

    Attributes:
        bundles: early half, late half and whole of each laptop in turn; the third's whole has what the second has, too.
    """

    place: Path
    centre: Centre
    bundles: tuple[Path, ...]
    devices: frozenset[str]
    keys: tuple[tuple[str, bytes], ...]


@contextmanager
def laptop(place: Path, name: str) -> Iterator[Path]:
    """A machine of its own, as far as the program knows one."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LOOPLEDGER_STATE", str(place / f"{name}.state"))
        yield place / name


def three_laptops(place: Path, standards: Standards) -> Apart:
    """Make them, and put their folders aside: whoever merges does it in a copy, in its very place."""
    with laptop(place, "first") as folder:
        with build_centre(folder, standards) as centre:
            keeping.make_key(centre.ledger, centre.lead)
            begun = centre.enter("dry-21"), centre.enter("pool-22", student=centre.zoe), centre.open().attempt
        backup(folder, place / "begin.tar")
    bundles: list[Path] = []
    devices, keys = set(), []
    for name, acts in zip(LAPTOPS, (_first, _second, _third), strict=True):
        with laptop(place, name) as folder, _clock_of(name):
            if name != "first":
                restore(place / "begin.tar", folder)
                shutil.copytree(place / "first.state" / "keys", place / f"{name}.state" / "keys")
            with open_ledger(folder, write=True) as ledger:
                acts(replace(centre, ledger=ledger), *begun)
                if name == "third":  # it carries what the second has, too
                    _take(ledger, bundles[3:], devices)
                hand_over(ledger, place / f"{name}.zip")
                bundles += [*_halves(ledger, place / name), place / f"{name}.zip"]
                devices |= {one.device for one in ledger.chain_events()}
                keys += ledger.vault.all_keys()
    for name in LAPTOPS:
        (place / name).rename(place / f"{name}.kept")
        (place / f"{name}.state").rename(place / f"{name}.state.kept")
    return Apart(place, centre, tuple(bundles), frozenset(devices), tuple(keys))


@contextmanager
def _clock_of(name: str) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        if name == "second":
            patch.setattr(moments, "now", lambda: now() + HALF_AN_HOUR)
        yield


def _halves(ledger: Ledger, out: Path) -> tuple[Path, Path]:
    """Its own chain in two bundles, of which the later one has to wait for the earlier."""
    own = [one for one in ledger.chain_events() if one.chain == ledger.head().chain]
    files = out.with_suffix(".early.zip"), out.with_suffix(".late.zip")
    for file, events in zip(files, (own[: len(own) // 2], own[len(own) // 2 :]), strict=True):
        write_bundle(file, ledger.centre_id, events)
    return files


def _first(c: Centre, mine: str, hers: str, left: str) -> None:
    c.enter("pool-22", critical_mark())
    c.hold(student=c.zoe)
    _sign(c, c.zoe)
    _close(c, left, Closing.STOPPED, "student")
    _number(c, hers, 3)
    _amend(c, hers, "Her hand was in front of it.", Mark.PROMPTED)
    presence.sign_in(c.ledger, c.lead, c.sessions["pool-22"], c.amaru, _at(22, 13, 40), end=_at(22, 15, 0))
    amending.move_attempt(c.ledger, c.lead, mine, c.zoe, "It was her.")
    unit_care.hold(c.ledger, c.lead, c.unit_a, _at(22), "Cell 2 reads low.")
    row = WaterRow(c.amaru, 50, 5, _at(22, 13, 50), _at(22, 15, 0))
    save_water(c.ledger, c.lead, c.sessions["pool-22"], [row])
    _set_points(c, "1.2", 4)
    slates.give_out(c.ledger, c.lead, c.sessions["pool-22"], skills=[POOL_SKILL])
    incident.freeze(c.ledger, c.assistant, c.sessions["pool-23"], _at(23, 15, 6), "He stopped.")
    arrivals.note_consent(c.ledger, c.lead, c.course, c.zoe, day="2026-10-25", given_to="Saltmarsh")
    ticked = c.enter("dry-21", student=c.zoe, skill="chk-positive")
    settling.set_reading_aside(c.ledger, c.lead, ticked, "pos-judge", [_leak(c, 40)], "She said so.", _at(21, 16))


def _second(c: Centre, mine: str, hers: str, left: str) -> None:
    c.enter("pool-22", student=c.zoe, by=c.second)
    _close(c, left, Closing.VOID)
    _number(c, hers, 4)
    _amend(c, hers, "Seen from the other side.", Mark.LEFT_OUT)
    presence.sign_in(c.ledger, c.second, c.sessions["pool-22"], c.amaru, _at(22, 14, 0), end=_at(22, 15, 30))
    presence.sign_in(c.ledger, c.second, c.sessions["pool-22"], c.second, _at(22, 13, 30), end=_at(22, 16, 0))
    founding.add_person(c.ledger, c.lead, name="Marek Ilves", roles=[Role.STUDENT])
    opened = next(one.id for one in c.ledger.events(mine) if one.kind.startswith("attempt_opened"))
    amending.withdraw(c.ledger, c.lead, opened, "Entered twice.")
    slates.give_out(c.ledger, c.second, c.sessions["pool-22"], skills=[POOL_SKILL], students=[c.zoe], tries=2)


def _third(c: Centre, mine: str, hers: str, left: str) -> None:
    c.hold()
    c.hold(student=c.zoe)
    _sign(c, c.zoe)
    c.enter("pool-23", MarkGiven(step=critical_mark().step, mark=Mark.NOT_SEEN), student=c.zoe)
    _amend(c, hers, "Not seen after all.", Mark.NOT_SEEN)
    unit_care.hold(c.ledger, c.lead, c.unit_a, _at(23), "A hose is worn.")
    _set_points(c, "1.3", 9)
    founding.add_unit(c.ledger, c.lead, label="A-06", unit_type="type-a")
    _leak(c, 50)
    presence.sign_in(c.ledger, c.lead, c.sessions["pool-23"], c.zoe, _at(23, 13, 40), end=_at(23, 15, 10))
    which = incident.freeze(c.ledger, c.lead, c.sessions["pool-23"], _at(23, 15, 7), tablets_waiting=1)
    incident.add_note(c.ledger, c.second, c.sessions["pool-23"], which, "Seen from the ladder.", _at(23, 15, 20))


def _leak(c: Centre, minute: int) -> str:
    """A positive test that lost too much, just before an attempt that ticks it: a reading that overrules the tick."""
    leak = {
        "start": "30", "end": "10", "temperature": "20", "temperature_end": "20", "allowed": "5", "watched": "120",
        "watch": "60",
    }  # fmt: skip
    return readings.take_reading(c.ledger, c.lead, c.unit_a, ReadingKind.POSITIVE, leak, _at(21, 13, minute))


def _amend(c: Centre, attempt: str, why: str, mark: Mark) -> None:
    sheet = c.attempt(attempt).sheets[0]
    line = MarkGiven(step=sheet.marks[0].step, mark=mark)
    amending.amend_marks(c.ledger, sheet.observer, attempt, sheet.id, line, why, _at(22, 18))


def _set_points(c: Centre, bar: str, minutes: int) -> None:
    """One that was held at first, and one of which the laptops differ."""
    note_set_point(c.ledger, c.lead, c.sessions["pool-22"], "0.7", _at(22, 16))
    since = From(_at(22, 14, 21), minutes)
    note_set_point(c.ledger, c.lead, c.sessions["pool-22"], bar, _at(22, 16), since=since)


def _sign(c: Centre, student: str) -> None:
    """Agree to what they hold, on the record as this laptop has it."""
    seen = c.view()
    rests_on = evidence(seen, c.skill(), seen.standing(student, c.skill(), LAST_DAY))
    signing.sign(
        c.ledger, c.lead, course=c.course, student=student, skill=POOL_SKILL, decided=DecisionKind.AGREED,
        as_of=LAST_DAY, rests_on=rests_on,
    )  # fmt: skip


def _close(c: Centre, attempt: str, how: Closing, by: str | None = None) -> None:
    c.ledger.append(
        [close_draft(c.ledger, c.lead, c.attempt(attempt), how, _at(22, 15), stopped_by=by, reason="Cold.")]
    )


def _number(c: Centre, attempt: str, number: int) -> None:
    opened = next(one.id for one in c.ledger.events(attempt) if one.kind.startswith("attempt_opened"))
    amending.correct(c.ledger, c.lead, opened, "By the slate.", change={"number": number})


def _at(day: int, hour: int = 14, minute: int = 0) -> Observed:
    return seen_at(day, hour, minute)


def kept_on_a_server(folder: Path, database: str) -> None:
    """The same ledger, row for row and on the same chain, in a database instead of its folder.

    A backup that is restored there begins a new chain with an event of its own: the set would not be the same.
    """
    with open_ledger(folder) as ledger:
        site = Site(folder, Server(read_url(database), ledger.centre_id))
    there, here = site.engine("write"), Site(folder).engine("live")
    with there.begin() as served, here.connect() as rows:
        site.make_tables(served)
        tables.copy_centre(rows, served, str(site.centre))
    for engine in (there, here):
        engine.dispose()
    Site(folder).take_back()
    site.write_url()


@contextmanager
def arrived(
    apart: Apart, order: Sequence[Sequence[int]], name: str = "first", database: str | None = None
) -> Iterator[Centre]:
    """A laptop after bundles came in this order, each list by one merge, and at last all of them once more.

    Its own ledger is in its folder, or in a database.
    """
    place = apart.place
    homes = [place / name, place / f"{name}.state"]
    for home in homes:
        shutil.copytree(f"{home}.kept", home)
    try:
        with laptop(place, name) as folder:
            if database:
                kept_on_a_server(folder, database)
            with open_ledger(folder, write=True) as ledger:
                for some in order:
                    _take(ledger, [apart.bundles[number] for number in some], apart.devices)
                _take(ledger, apart.bundles, apart.devices)
                ledger.vault.take_keys(apart.keys)
                forget_views()
                yield replace(apart.centre, ledger=ledger)
    finally:
        forget_views()
        for home in homes:
            shutil.rmtree(home)


def _take(ledger: Ledger, bundles: Sequence[Path], devices: frozenset[str] | set[str]) -> None:
    """Without the note that a merge makes, which is an event of its own: the set is to be the same."""
    with ExitStack() as held:
        opened = [held.enter_context(open_bundle(file, centre=ledger.centre_id)) for file in bundles]
        sources = [
            Source(str(file), parts_of(one.events()), one.events) for file, one in zip(bundles, opened, strict=True)
        ]
        take_in(ledger, sources, accepted=devices)
