"""The ledger of one centre: make it, open it, add to it, read it. Nothing in it is changed or removed.

`append` returns when its events are on the disk; anything else is an error whose text begins with "NOT saved".
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import replace
from datetime import timedelta
from functools import lru_cache
from pathlib import Path
from types import TracebackType
from typing import Any, Self, TypeVar

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from course.errors import DamageError, RefusedError, StorageError
from course.record.chain import Event
from course.record.events import CentreMade, Draft
from course.record.facts import Fact
from course.record.projection import read_fact
from course.storage import tables
from course.storage.appending import Head, Stamp, read_head, read_heads, write_all_facts
from course.storage.centre_key import key_folder, set_apart
from course.storage.database import Way
from course.storage.device import Home, forgotten_here, read_state, remember_chain, remember_forgotten
from course.storage.ending import Ending, left_open, mark_closed, mark_open
from course.storage.entries import refuse_plain_private, sealed_entry
from course.storage.faults import FAULTS, not_saved, unreadable
from course.storage.founding import write_first
from course.storage.layout import bring_up_to_date, move_tables
from course.storage.lock import locked
from course.storage.opening import Opened, clock_notice, damage_in, erased_people, identify, no_ledger, settle
from course.storage.patience import patient
from course.storage.postgresql import Server, read_url
from course.storage.remembered import remember_ending
from course.storage.site import FILE, Site, site_of
from course.storage.tables import HASHED, event, fact
from course.storage.vault import Vault, without_secrets
from course.storage.witness import Seen, Witness, read_witness
from course.storage.writer import Writer

_T = TypeVar("_T")
_LONG = 50_000  # characters; only the rubric files of an adoption are, which every tap asks for
_read_long_fact = lru_cache(maxsize=8)(read_fact)


class Ledger:
    """One open ledger. Safe to share between threads; close it, or use it as a context.

    Attributes:
        folder: the centre's folder.
        key_folder: where this machine keeps the key that signs the centre's papers: not in that folder.
        write: whether it was opened for writing.
        centre_id: the centre's id.
        damage: what is wrong, as a sentence; while it is set nothing can be added, and reading works.
        vault: the private data's keys.
    """

    def __init__(
        self, site: Site, opened: Opened, vault: Vault, read: Engine, writer: Writer | None, held: ExitStack
    ) -> None:
        self.folder = site.folder
        self.write = writer is not None
        self.centre_id = opened.stamp.centre
        self.key_folder = key_folder(opened.stamp.centre)
        self.damage = opened.damage
        self.vault = vault
        self._site = site
        self._opened = opened
        self._read = read
        self._writer = writer
        self._held = held

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @property
    def storage_mode(self) -> str:
        """How what is saved is kept safe here, in a sentence."""
        return self._site.storage_mode

    @property
    def clock_went_back(self) -> timedelta:
        """The largest step back of the computer's clock that a save met since opening."""
        return self._writer.clock_went_back if self._writer else timedelta(0)

    @property
    def ending(self) -> Ending | None:
        """What was looked at because it had not been closed when it was last open; None after a proper end."""
        return self._opened.ending

    @property
    def notices(self) -> tuple[str, ...]:
        """What to tell the person about the ledger that is no damage."""
        ending = (self.ending.words,) if self.ending else ()
        return (*ending, *self._opened.notices, *clock_notice(self.clock_went_back))

    def append(self, drafts: Sequence[Draft]) -> list[Event]:
        """Add events, all of them or none, and return them as stored once they are on the disk.

        A draft whose id is in the ledger with the same content adds nothing and gives the stored event back.

        Raises:
            ConflictError: an id is in the ledger with other content.
            RefusedError: a draft cannot be stored as it is, or the ledger is open for reading only.
            StorageError: NOT saved; the sentence says why.
            DamageError: the ledger is damaged.
        """
        writer = self._sound_writer()
        if not drafts:
            return []
        refuse_plain_private(drafts, self.event)
        return writer.save(lambda: [sealed_entry(draft, self.vault, self.centre_id) for draft in drafts])

    def facts(
        self,
        kind: str,
        *,
        course: str | None = None,
        person: str | None = None,
        skill: str | None = None,
        session: str | None = None,
    ) -> list[Fact]:
        """Return what is true now of one kind of thing, narrowed by what is given, in the order of ids (of making)."""
        asked = sa.select(fact.c.fact).where(fact.c.centre == self.centre_id, fact.c.kind == kind).order_by(fact.c.id)
        for column, wanted in (
            (fact.c.course, course),
            (fact.c.person, person),
            (fact.c.skill, skill),
            (fact.c.session, session),
        ):
            if wanted is not None:
                asked = asked.where(self._few(column == wanted))
        with self._reading() as connection:
            texts = connection.execute(asked).scalars().all()
        return [self._told(kind, text) for text in texts]

    def _few(self, narrowed: sa.ColumnElement[bool]) -> sa.ColumnElement[bool]:
        """Tell SQLite, which keeps no statistics here, that few rows fit: else it goes through all of the kind."""
        if self._read.dialect.name != "sqlite":
            return narrowed
        return sa.func.likelihood(narrowed, sa.literal_column("0.001"))

    def fact(self, kind: str, id: str) -> Fact | None:  # noqa: A002 - the field's name
        """Return what is true now of one thing, None when there is no such thing."""
        if not tables.may_be_id(id):
            return None
        own = (fact.c.centre == self.centre_id) & (fact.c.kind == kind) & (fact.c.id == id)
        with self._reading() as connection:
            text = connection.execute(sa.select(fact.c.fact).where(own)).scalar()
        return None if text is None else self._told(kind, text)

    def events(self, subject: str | None = None) -> Iterator[Event]:
        """Yield the events about one thing in the order that settles them, or all events as they arrived."""
        with self._reading() as connection:
            if subject is not None:
                yield from tables.subject_events(connection, self.centre_id, subject)
            else:
                asked = sa.select(*HASHED).where(event.c.centre == self.centre_id).order_by(event.c.pos)
                yield from tables.read_events(connection, asked)

    def chain_events(self) -> Iterator[Event]:
        """Yield all events in order of (chain, seq, hash): the same events, the same order, whatever arrived first."""
        own = event.c.centre == self.centre_id
        asked = sa.select(*HASHED).where(own).order_by(event.c.chain, event.c.seq, event.c.hash)
        with self._reading() as connection:
            yield from tables.read_events(connection, asked)

    def count_events(self) -> int:
        """Return how many events there are, of all chains."""
        asked = sa.select(sa.func.count()).select_from(event).where(event.c.centre == self.centre_id)
        with self._reading() as connection:
            return int(connection.execute(asked).scalar_one())

    def event(self, id: str) -> Event | None:  # noqa: A002 - the field's name
        """Return one event, None when it is not here."""
        return self._first_event(event.c.id == id) if tables.may_be_id(id) else None

    def event_at(self, chain: str, seq: int) -> Event | None:
        """Return the event at a place of a chain, the first that came where it forks; None when there is none."""
        return self._first_event((event.c.chain == chain) & (event.c.seq == seq))

    def _first_event(self, narrowed: sa.ColumnElement[bool]) -> Event | None:
        asked = sa.select(*HASHED).where((event.c.centre == self.centre_id) & narrowed).order_by(event.c.pos)
        with self._reading() as connection:
            row = connection.execute(asked).first()
        return tables.event_of(row) if row else None

    def head(self) -> Head:
        """Return how far this database's own chain has come."""
        with self._reading() as connection:
            return read_head(connection, self.centre_id, self._opened.stamp.chain)

    def heads(self) -> list[Head]:
        """Return how far each chain in this database has come."""
        with self._reading() as connection:
            return read_heads(connection, self.centre_id)

    def private(self, of: Fact) -> dict[str, Any]:
        """Return a fact's private fields, with `by_event`; what was erased is left out. See `Vault.open_pieces`."""
        return without_secrets(self.vault.open_pieces(of.private))

    def secrets(self, of: Fact) -> dict[str, Any]:
        """As `private`, with the hashes of passwords and PINs: for signing in and confirming alone."""
        return self.vault.open_pieces(of.private)

    def private_of(self, one: Event) -> dict[str, Any]:
        """Return the private part of one event, empty when it has none or it was erased."""
        try:
            sealed = json.loads(one.body).get("sealed")
        except ValueError as error:
            raise DamageError(f"The content of event {one.id} cannot be read: it is not what was saved.") from error
        return without_secrets(self.vault.open_one(sealed["of"], one.kind, one.id, sealed["data"])) if sealed else {}

    def forget(self, owner: str) -> None:
        """Erase an owner's private data for good, here and in any older vault that is put back on this device.

        Raises:
            RefusedError: the ledger is open for reading only.
            StorageError: they could not be erased.
        """
        self.vault.forget(owner)
        remember_forgotten(owner)

    def close(self) -> None:
        """Save what waits and let the folder go."""
        self._held.close()

    def _told(self, kind: str, text: str) -> Fact:
        try:
            told = _read_long_fact(kind, text) if len(text) > _LONG else read_fact(kind, text)
        except ValueError as error:
            raise DamageError(
                f"The tables hold a {kind} that cannot be read. Have them written anew from the events."
            ) from error
        return told.labelled(self.private(told)) if told.labels else told

    def alone(self, act: Callable[[sa.Connection, Stamp], _T]) -> _T:
        """Do something in one transaction of its own, while whoever saves waits; see `Writer.do`."""
        return self._sound_writer().do(lambda connection: act(connection, self._opened.stamp))

    @contextmanager
    def changing(self) -> Iterator[sa.Connection]:
        """One transaction that changes what is no event; for this module's own acts."""
        with patient(), self._any_writer().engine.begin() as connection:
            yield connection

    def _sound_writer(self) -> Writer:
        writer = self._any_writer()
        if self.damage:
            raise DamageError(f"NOT saved: {self.damage}")
        return writer

    def _any_writer(self) -> Writer:
        if self._writer is None:
            raise RefusedError("The ledger is open for reading only. Nothing was saved.")
        return self._writer

    @contextmanager
    def _reading(self) -> Iterator[sa.Connection]:
        try:
            with self._read.connect() as connection:
                yield connection
        except FAULTS as error:
            raise unreadable(error, "The ledger cannot be read") from error


def create(folder: Path, drafts: Sequence[Draft], *, database: str | None = None) -> Ledger:
    """Make a centre's ledger in a folder and open it for writing.

    Args:
        folder: made if need be; rubric files may be in it already.
        drafts: the first events; the very first makes the centre.
        database: the URL of a PostgreSQL database to keep the ledger in, instead of the folder's own ledger.db.

    Raises:
        RefusedError: a ledger is there already, the first event is another one, or that is no URL.
        DamageError: the folder's witness knows of a ledger that is not there.
        StorageError: the folder cannot be written.
    """
    if not drafts or not isinstance(drafts[0].body, CentreMade):
        raise RefusedError("The first event of a ledger makes the centre. Nothing was saved.")
    folder, centre = Path(folder).absolute(), drafts[0].body.centre
    server = None if database is None else Server(read_url(database), centre)
    with ExitStack() as held:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            folder = folder.resolve()
            held.enter_context(locked(folder))
            write_first(Site(folder, server), drafts, centre)
        except FAULTS as error:
            raise not_saved(error) from error
    return open_ledger(folder, write=True)


def open_ledger(folder: Path, *, write: bool = False) -> Ledger:
    """Open a centre's ledger. Damage does not keep it from being opened: see `Ledger.damage`.

    Raises:
        NotFoundError: there is no ledger.
        BusyError: another program has it open for writing (only when opening for writing).
        StorageError: the files cannot be opened.
        DamageError: the file is no whole database.
    """
    site = site_of(Path(folder).resolve())
    if not site.there:
        raise no_ledger(site)
    held = ExitStack()
    try:
        return _open_to_write(site, held) if write else _open_to_read(site, held)
    except BaseException as error:
        held.close()
        if isinstance(error, FAULTS):
            raise unreadable(error, f"{site.name} cannot be {'opened for writing' if write else 'read'}") from error
        raise


def _open_to_write(site: Site, held: ExitStack) -> Ledger:
    folder = site.folder
    held.enter_context(locked(folder))
    state, left = read_state(), left_open(site)
    write = open_engine(held, site, "write")
    lines = read_witness(folder)
    moved = bring_up_to_date(write, site)
    with write.begin() as connection:
        opened = settle(connection, site, state, lines, left)
        erased = erased_people(connection, opened.stamp.centre)
    vault = Vault(folder, write=True)
    vault.take_tombstones({*state.forgotten, *erased})
    witness = held.enter_context(closing(Witness(folder)))
    if not opened.damage:
        seen = Seen(*opened.head[:3])
        if lines.last.get(seen.chain) != seen:
            witness.write(seen)
        witness.shorten()
    writer = Writer(write, opened.stamp, witness)
    if opened.ending:
        with suppress(StorageError):  # what was found stands, whether it is remembered or not
            remember_ending(folder, opened.ending.checked, whole=opened.ending.whole)
    if not (left and opened.damage):  # else the mark stays, so that the file is looked at again next time
        mark_open(folder)
        held.callback(mark_closed, folder)
    apart = set_apart(folder, key_folder(opened.stamp.centre))
    opened = replace(opened, notices=(*filter(None, (moved, apart)), *opened.notices))
    ledger = Ledger(site, opened, vault, open_engine(held, site, "live"), writer, held)
    held.callback(_remember_end, ledger)
    held.callback(writer.close)
    return ledger


def _remember_end(ledger: Ledger) -> None:
    """Note how far the chain had come, where there is room: all is saved by now, and an older note does no harm."""
    if not ledger.damage:
        head = ledger.head()
        with suppress(StorageError):
            remember_chain(head.chain, Home(folder=str(ledger.folder), seq=head.seq, hash=head.hash))


def _open_to_read(site: Site, held: ExitStack) -> Ledger:
    lines = read_witness(site.folder)  # before the database: a save in between must not look like a loss
    engine = open_engine(held, site, site.reading_way)
    with engine.connect() as connection:
        identity = identify(connection, site)
        damage = None if identity.put_back else damage_in(connection, identity, lines)
        head = read_head(connection, identity.centre, identity.chain)
    notices: tuple[str, ...] = ()
    if not identity.tables_fit or identity.layout != tables.NEWEST_LAYOUT:
        copy = Site(Path(held.enter_context(tempfile.TemporaryDirectory(prefix="loopledger-"))))
        site.copy_to(copy.folder / FILE)
        with ExitStack() as writing, open_engine(writing, copy, "write").begin() as connection:
            move_tables(connection)
            write_all_facts(connection, identity.centre)
        engine = open_engine(held, copy, "live")
        notices = (
            "The tables are of another version: what is shown was derived anew from the events, as of this opening.",
        )
    with engine.connect() as connection:
        erased = {*erased_people(connection, identity.centre), *forgotten_here()}
    opened = Opened(Stamp(identity.centre, identity.chain, identity.device), head, damage, notices)
    return Ledger(site, opened, Vault(site.folder, write=False, erased=erased), engine, None, held)


def open_engine(held: ExitStack, site: Site, way: Way) -> Engine:
    """An engine that is let go of together with what else is held."""
    engine = site.engine(way)
    held.callback(engine.dispose)
    return engine
