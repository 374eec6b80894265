"""The check of a whole ledger: chains, witness, tables, private data. It reads and never writes.

What it shows: no event in the middle was changed, taken out or put in, as far as one later hash is held elsewhere (the
witness, a paper, another laptop). What it cannot show: that what was entered is true, who typed it, or that somebody
who holds the program and every file did not write all of it anew.
"""

from __future__ import annotations

import json
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import sqlalchemy as sa

from course.errors import CourseError, NotFoundError
from course.record.events import STARTS
from course.record.facts import Fact, SealedPiece
from course.record.projection import project
from course.storage import postgresql, tables
from course.storage.appending import Progress, events_by_subject, fact_row, read_head
from course.storage.checkpoints import compare_checkpoints
from course.storage.database import connect, reading_way
from course.storage.faults import FAULTS, reason, unreadable
from course.storage.opening import Identity, identify
from course.storage.patience import patient
from course.storage.site import FILE, Site, site_of
from course.storage.tables import event, fact, head
from course.storage.vault import Vault
from course.storage.walking import ChainState, Known, walk_chains
from course.storage.witness import Lines, gone_on_without, loss, read_witness
from course.words import listed, plural


@dataclass(frozen=True)
class Report:
    """What a check found. Each finding and each notice is a sentence; notices are no damage."""

    events: int
    chains: tuple[ChainState, ...]
    findings: tuple[str, ...]
    notices: tuple[str, ...]
    for_people: tuple[str, ...] = ()
    """Those of the findings that damage nothing, and that stay: a chain that was continued twice, two contents under
    one id, a loss after which somebody decided to go on."""

    @property
    def damage(self) -> tuple[str, ...]:
        """The findings that leave something wrong in the files."""
        return tuple(one for one in self.findings if one not in self.for_people)

    @property
    def fine(self) -> bool:
        """Whether nothing is wrong."""
        return not self.findings


@dataclass
class _Found:
    """What gathers during one check."""

    findings: list[str] = field(default_factory=list)
    for_people: list[str] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    chains: list[ChainState] = field(default_factory=list)

    def leave_to_people(self, told: str) -> None:
        """Add a finding that damages nothing."""
        self.findings.append(told)
        self.for_people.append(told)


def verify(folder: Path, progress: Progress | None = None, *, events_only: bool = False) -> Report:
    """Check a whole ledger, also while a program has it open for writing.

    Args:
        folder: the centre's folder.
        progress: told (done, of), counted in events; each event is met twice.
        events_only: leave out what can be made anew (tables, indexes) and the keys: several times as quick, and every
            event is read and hashed all the same.

    Raises:
        NotFoundError: there is no ledger.
        StorageError: the folder cannot be read, or its database server does not answer.
    """
    folder = Path(folder).resolve()
    site = site_of(folder)
    lines = read_witness(folder)  # before the database: a save in between must not look like a loss
    if not site.there and not lines.seen:
        raise NotFoundError(f"There is no ledger in {folder}. Name the folder of a centre.")
    found = _Found()
    if site.there:
        asked = _Asked(site, lines, progress, events_only=events_only)
        found = _looked_at(asked, lenient=False) or _looked_at(asked, lenient=True) or found
    else:
        found.findings.append("ledger.db is missing; ledger.head tells that there was one.")
    chains = tuple(found.chains)
    told = (tuple(found.findings), tuple(found.notices), tuple(found.for_people))
    return Report(sum(one.events for one in chains), chains, *told)


@dataclass(frozen=True)
class _Asked:
    """What is to be checked."""

    site: Site
    lines: Lines
    progress: Progress | None
    events_only: bool


def _looked_at(asked: _Asked, *, lenient: bool) -> _Found | None:
    """Check; None where text that is no text any more has to be read leniently, which costs time with every text."""
    found, site = _Found(), asked.site
    try:
        with patient():
            _check(asked, found, lenient=lenient)
    except FAULTS as error:
        if postgresql.unreachable(error):
            raise unreadable(error, f"{site.name} cannot be checked") from error
        if not lenient:
            return None
        found.findings.append(f"{'The database' if site.server else FILE} cannot be read to its end: {reason(error)}.")
    except CourseError:
        raise
    except Exception as error:  # a damaged row may fail in any way; that it does is the finding
        found.findings.append(f"The ledger cannot be checked to its end: {_first_line(error)}.")
    return found


def _check(asked: _Asked, found: _Found, *, lenient: bool) -> None:
    site, whole = asked.site, not asked.events_only
    if whole and site.server is None:
        _check_database(site.folder / FILE, found)
    engine = site.engine(site.reading_way, lenient=lenient)
    try:
        with engine.connect() as connection:
            identity = identify(connection, site, any_layout=True)
            counted = sa.select(sa.func.count()).select_from(event).where(_own(site, event))
            count = connection.execute(counted).scalar_one()
            _check_guards(connection, site, found)
            first = _half(asked.progress, 0, count) if whole else asked.progress
            _check_chains(connection, identity, site, asked.lines, found, first)
            _check_witness(connection, identity, site, asked.lines, found)
            if whole:
                vault = Vault(site.folder, write=False)
                _check_facts(connection, identity, vault, found, _half(asked.progress, count, count))
    finally:
        engine.dispose()


def _half(progress: Progress | None, before: int, count: int) -> Progress | None:
    return (lambda done, _: progress(before + done, 2 * count)) if progress else None


def _check_database(file: Path, found: _Found) -> None:
    with closing(connect(file, reading_way(file), lenient=True)) as connection:
        for (said,) in connection.execute("PRAGMA integrity_check(20)"):
            if said != "ok":
                found.findings.append(f"The database finds a fault in itself: {said}.")


def _own(site: Site, table: sa.Table) -> sa.ColumnElement[bool]:
    """The rows to check: all that ledger.db holds; on a server, where other centres are too, the centre's own."""
    return table.c.centre == site.centre if site.server else sa.true()


def _check_guards(connection: sa.Connection, site: Site, found: _Found) -> None:
    missing, strange = postgresql.faulty_guards(connection) if site.server else _faulty_guards(connection)
    if missing:
        found.findings.append(f"The guards that refuse changes were taken off or altered: {listed(missing)}.")
    if strange:
        found.findings.append(f"The database holds triggers that are not the program's: {listed(strange)}.")


def _faulty_guards(connection: sa.Connection) -> tuple[list[str], list[str]]:
    asked = sa.text("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
    there = {row.name: row.sql for row in connection.execute(asked)}
    known = {name: {sql, tables.EARLIER_GUARDS.get(name, sql)} for name, sql in tables.SQLITE_GUARDS.items()}
    missing = sorted(name for name, texts in known.items() if there.get(name) not in texts)
    return missing, sorted(there.keys() - tables.SQLITE_GUARDS.keys())


def _check_chains(
    connection: sa.Connection, identity: Identity, site: Site, lines: Lines, found: _Found, progress: Progress | None
) -> None:
    own = _own(site, event)
    walked = walk_chains(connection, Known(identity.centre, identity.chain), own, lines, progress)
    found.findings += walked.findings
    found.for_people += walked.forks
    found.notices += walked.notices
    found.chains += walked.chains
    _check_heads(connection, site, found)
    _check_ids(connection, site, found)
    _check_starts(connection, site, found)
    there = {one.chain for one in found.chains}
    wrong, told = compare_checkpoints(connection, own, there, identity.chain)
    found.findings += wrong
    found.notices += told


def _check_heads(connection: sa.Connection, site: Site, found: _Found) -> None:
    kept = set(connection.execute(sa.select(head.c.chain).where(_own(site, head), head.c.seq > 0)).scalars())
    for chain in sorted(kept - {one.chain for one in found.chains}):
        found.findings.append(f"Chain {chain} is kept as having events, and none is there.")


def _check_ids(connection: sa.Connection, site: Site, found: _Found) -> None:
    """One id counts once; two contents under one id are two laptops' word against each other, or a forgery."""
    many = sa.select(event.c.id).where(_own(site, event)).group_by(event.c.id).having(sa.func.count() > 1)
    for one in connection.execute(many.order_by(event.c.id)).scalars().all():
        asked = sa.select(event.c.kind, event.c.subject, event.c.body).where(_own(site, event), event.c.id == one)
        if len({tuple(row) for row in connection.execute(asked)}) > 1:
            found.leave_to_people(
                f"The id {one} stands for two different events. The first in the order of statements counts; look at "
                "both with course why --event and correct what is wrong."
            )


def _check_starts(connection: sa.Connection, site: Site, found: _Found) -> None:
    """A chain that began as the next life of another must name an event that is there."""
    asked = sa.select(event.c.chain, event.c.kind, event.c.body).where(
        _own(site, event), event.c.kind.in_(list(STARTS))
    )
    there = {one.chain for one in found.chains}
    for chain, kind, body in connection.execute(asked).all():
        try:
            before = STARTS[kind].model_validate(json.loads(body)).predecessor
        except ValueError:
            found.findings.append(f"Chain {chain}: what it began after cannot be read.")
            continue
        named = (event.c.chain == before.chain) & (event.c.hash == bytes.fromhex(before.hash))
        at = sa.select(event.c.pos).where(_own(site, event), named)
        if before.chain in there and not connection.execute(at).first():
            found.findings.append(
                f"Chain {chain} began after event {before.seq} of chain {before.chain}, which is not there."
            )


def _check_witness(connection: sa.Connection, identity: Identity, site: Site, lines: Lines, found: _Found) -> None:
    if not lines.there:
        found.notices.append("There is no ledger.head: whether the end of the ledger was lost cannot be seen.")
    if lines.faulty:
        places = listed([str(number) for number in lines.faulty[:5]])
        found.findings.append(f"ledger.head was changed or damaged: line {places} cannot be read.")
    for chain, seen in lines.last.items():
        at = (event.c.chain == chain) & (event.c.seq == seen.seq)
        hashes = connection.execute(sa.select(event.c.hash).where(_own(site, event), at)).scalars()
        there = next(iter({hash_.hex() for hash_ in hashes} & {seen.hash}), None)  # of a fork, the branch that was seen
        end = read_head(connection, identity.centre, chain).seq
        if seen.seq > end and chain != lines.seen[-1].chain:  # whoever opened it since was told, and went on
            found.leave_to_people(gone_on_without(seen, end))
        elif told := loss(seen, end, lambda _, there=there: there, connection.dialect.name):  # type: ignore[misc]
            found.findings.append(told)


def _check_facts(
    connection: sa.Connection, identity: Identity, vault: Vault, found: _Found, progress: Progress | None
) -> None:
    if identity.layout != tables.NEWEST_LAYOUT:
        how = (
            f"are moved to {tables.NEWEST_LAYOUT} when the ledger is next opened for writing."
            if connection.dialect.name == "sqlite"
            else f"this version needs {tables.NEWEST_LAYOUT}: their owner moves them, as course layout says."
        )
        found.notices.append(f"The tables have layout {identity.layout} and {how}")
    if not identity.tables_fit:
        found.notices.append(
            "The tables are of another version and are written anew when the ledger is next opened for writing."
        )
    asked = sa.select(fact).where(fact.c.centre == identity.centre)
    rows = connection.execute(asked, execution_options=tables.STREAMED)
    kept = {(row.kind, row.id): hash(tuple(row)) for row in rows}
    sealed: dict[str, SealedPiece] = {}
    for subject, events in events_by_subject(connection, identity.centre, progress):
        try:
            told = project(events)
            row = fact_row(identity.centre, told) if told else None
        except Exception as error:  # a damaged event may fail in any way; that it does is the finding
            found.findings.append(f"What is true of {subject} cannot be derived from its events: {_first_line(error)}.")
            continue
        if told is None or row is None:
            continue
        sealed.update((piece.of, piece) for piece in told.private if piece.of not in sealed)
        if kept.pop((row["kind"], told.id), None) != hash(tuple(row.values())) and identity.tables_fit:
            found.findings.append(_unlike(row["kind"], told))
    found.findings += [f"The tables hold a {kind} {thing} that no event tells of." for kind, thing in sorted(kept)]
    _check_vault(vault, sealed, found)


def _unlike(kind: str, told: Fact) -> str:
    return f"The tables hold something else of the {kind} {told.id} than its events tell. Have the tables written anew."


def _first_line(error: Exception) -> str:
    return str(error).split("\n", maxsplit=1)[0].rstrip(".")


def _check_vault(vault: Vault, sealed: dict[str, SealedPiece], found: _Found) -> None:
    try:
        gone = set(vault.forgotten())
        lost = [owner for owner in sealed if not vault.knows(owner) and owner not in gone]
        for piece in sealed.values():
            vault.open_one(piece.of, piece.kind, piece.event, piece.data)
    except CourseError as error:
        found.findings.append(error.sentence)
        return
    if lost:
        found.notices.append(
            f"The private data of {plural(len(lost), 'owner')} cannot be opened with this folder's vault.db. Bring "
            "the vault that belongs to this ledger; everything else can be read."
        )
