"""What is settled when a ledger is opened: is it whole, is it at home here, are its tables of this version."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import sqlalchemy as sa

from course.errors import CourseError, DamageError, NotFoundError, StorageError
from course.moments import new_id
from course.record.chain import Event, breaks, canonical, event_hash
from course.record.events import ChainStarted, ChainStartedAfterLoss, Predecessor
from course.record.projection import PROJECTION_VERSION
from course.storage import tables
from course.storage.appending import Head, Stamp, add_entries, read_head, write_all_facts
from course.storage.device import Home, State, Why, home_is_elsewhere, remember_chain
from course.storage.ending import Ending, LeftOpen, fault_in_file
from course.storage.entries import Entry
from course.storage.patience import patient
from course.storage.site import Site
from course.storage.tables import HASHED, event
from course.storage.witness import Lines, Seen, loss, read_witness

CHECKED_AT_OPENING = 1000
AFTER_LOSS = "after a loss"
"""Put back from what a loss left, not from a copy."""
_WHY_TOLD = {
    "restored": "This folder was put back from a copy",
    "copied": "This folder is a copy of one that lives elsewhere on this device",
    "other_device": "This folder was last written on another device",
    "after_loss": "This ledger goes on with what a loss left of it",
}


@dataclass(frozen=True)
class Opened:
    """What was found and settled at opening."""

    stamp: Stamp
    head: Head
    damage: str | None
    notices: tuple[str, ...]
    ending: Ending | None = None
    """What was looked at because the ledger had not been closed."""


@dataclass(frozen=True)
class Identity:
    """Which centre and which chain a database is of, and what it needs."""

    centre: str
    chain: str
    device: str
    layout: str
    tables_fit: bool
    put_back: bool
    after_loss: bool


def identify(connection: sa.Connection, site: Site, *, any_layout: bool = False) -> Identity:
    """Read whose ledger this is.

    Args:
        connection: the database.
        site: where it is.
        any_layout: also where a server's tables have an older layout, which only their owner can move.

    Raises:
        NotFoundError: the database holds no ledger yet.
        DamageError: the server's database does not hold this centre.
        StorageError: a newer version of the program made it, or a server's tables have an older layout.
    """
    centre = tables.centre_in(connection, site.centre)
    chain = tables.setting(connection, centre, "chain") if centre else None
    if centre is None or chain is None:
        raise no_ledger(site)
    schema = tables.setting(connection, centre, "schema")
    if schema != tables.SCHEMA:
        raise StorageError(
            f"The ledger in {site.folder} was made by another version of this program ({schema}). Use that one."
        )
    layout = tables.layout_of(connection)
    _refuse_layout(site, layout, any_older=any_layout or site.server is None)
    own = (tables.head.c.centre == centre) & (tables.head.c.chain == chain)
    return Identity(
        layout=layout,
        centre=centre,
        chain=chain,
        device=connection.execute(sa.select(tables.head.c.device).where(own)).scalar() or "",
        tables_fit=tables.setting(connection, centre, "projection_version") == str(PROJECTION_VERSION),
        put_back=(put_back := tables.setting(connection, centre, "put_back")) is not None,
        after_loss=put_back == AFTER_LOSS,
    )


def _refuse_layout(site: Site, layout: str, *, any_older: bool) -> None:
    if layout not in tables.KNOWN_LAYOUTS:
        raise StorageError(
            f"The tables of the ledger in {site.folder} have layout {layout[:20]}, which a newer version of this "
            f"program made; this one knows up to {tables.NEWEST_LAYOUT}. Use the newer one. Nothing was changed."
        )
    if layout != tables.NEWEST_LAYOUT and not any_older:
        raise StorageError(
            f"The tables of {site.name} have layout {layout}; this version needs {tables.NEWEST_LAYOUT}. Whoever owns "
            f"them moves them, for every centre in that database: course layout {site.folder.name} --move --database "
            "URL-OF-THE-OWNER. Nothing was changed."
        )


def no_ledger(site: Site) -> CourseError:
    """Return the error to raise where a ledger was looked for and is not."""
    if site.server:
        return DamageError(
            f"The {site.server.where} does not hold the centre that {site.folder / 'ledger.url'} names, or this login "
            "may not see it. Have the right database back or the login entered for the centre; else restore the "
            "newest backup into an empty folder."
        )
    if not site.there and read_witness(site.folder).seen:
        return DamageError(
            f"ledger.db is missing from {site.folder}, which had one. Restore the newest backup into an empty folder."
        )
    return NotFoundError(f"There is no ledger in {site.folder}. Make a centre there first, or name its folder.")


def damage_in(connection: sa.Connection, identity: Identity, lines: Lines) -> str | None:
    """Compare the newest part of the own chain with itself and with the witness; a sentence when something is wrong."""
    try:
        return _unlike(connection, identity, lines)
    except (AttributeError, TypeError, ValueError):  # a number where a text was: a damaged row may fail in any way
        return _changed(read_head(connection, identity.centre, identity.chain).seq)


def _unlike(connection: sa.Connection, identity: Identity, lines: Lines) -> str | None:
    newest = _newest(connection, identity)
    head = read_head(connection, identity.centre, identity.chain)
    if not newest or (newest[-1].seq, newest[-1].hash) != (head.seq, head.hash):
        return _changed(head.seq)
    if event_hash(newest[0]) != newest[0].hash:
        return _changed(newest[0].seq)
    for found in breaks(newest):
        if found.seq != newest[0].seq:  # what came before the first is not at hand
            return _changed(found.seq)
    kind = connection.dialect.name
    if lines.seen and (latest := lines.seen[-1]).chain != identity.chain:  # an older ledger.db, of before that chain
        end = read_head(connection, identity.centre, latest.chain).seq
        if told := loss(latest, end, lambda _: latest.hash if _is_there(connection, latest) else None, kind):
            return told
    seen = lines.last.get(identity.chain)
    return loss(seen, head.seq, lambda seq: _hash_at(connection, identity, seq), kind) if seen else None


def erased_people(connection: sa.Connection, centre: str) -> tuple[str, ...]:
    """Return the ids of people whose data were erased: no key of theirs holds here, whichever vault was put back."""
    own = (tables.fact.c.centre == centre) & (tables.fact.c.kind == "person")
    asked = sa.select(tables.fact.c.id).where(own, tables.fact.c.fact.like('%"erased":{%'))  # nobody's text is in there
    return tuple(connection.execute(asked).scalars())


def settle(connection: sa.Connection, site: Site, state: State, lines: Lines, left: LeftOpen | None = None) -> Opened:
    """Settle all there is to settle before a ledger is written; within one transaction.

    Args:
        connection: to write.
        site: where the ledger is.
        state: what this device remembers.
        lines: what the witness saw.
        left: the mark of a program that did not close it.
    """
    identity, folder = identify(connection, site), site.folder
    centre, chain = identity.centre, identity.chain
    stamp = Stamp(centre, chain, state.device)
    head = read_head(connection, centre, chain)
    damage = None if identity.put_back else damage_in(connection, identity, lines)
    ending = None
    if left:
        damage = damage or fault_in_file(connection)
        ending = replace(_ending(left, head, lines, site, whole=damage is None), after_loss=identity.after_loss)
    if damage:
        return Opened(stamp, head, damage, (), ending)
    notices = []
    if not lines.there and not identity.put_back:
        notices.append(
            "ledger.head was missing and is written anew: whether the end of the ledger was lost before cannot be seen."
        )
    why = _why_new_chain(connection, identity, folder, state)
    if why:
        stamp, head = _start_chain(connection, folder, stamp, head, why)
        notices.append(f"{_WHY_TOLD[why]}: a new chain begins here and names the last event of the one before.")
    remember_chain(stamp.chain, Home(folder=str(folder), seq=head.seq, hash=head.hash))
    if not identity.tables_fit:
        with patient():
            count = write_all_facts(connection, centre)
        notices.append(f"The tables were of another version and were written anew from the events ({count} rows).")
    return Opened(stamp, head, None, tuple(notices), ending)


def _ending(left: LeftOpen, head: Head, lines: Lines, site: Site, *, whole: bool) -> Ending:
    seen = lines.last.get(head.chain)
    return Ending(
        since=left.since, log_bytes=left.log_bytes, checked=min(head.seq, CHECKED_AT_OPENING),
        beyond=max(0, head.seq - seen.seq) if seen else 0, on_server=site.server is not None, whole=whole,
    )  # fmt: skip


def clock_notice(back: timedelta) -> tuple[str, ...]:
    """Tell that the computer's clock was put back, if it was."""
    if not back:
        return ()
    return (
        (
            f"The computer's clock went back {back.total_seconds():.0f} s since the last save. Nothing is lost, and "
            "the order stands."
        ),
    )


def _why_new_chain(connection: sa.Connection, identity: Identity, folder: Path, state: State) -> Why | None:
    home = state.chains.get(identity.chain)
    if identity.put_back:
        return "after_loss" if identity.after_loss else "restored"
    if identity.device != state.device:
        return "other_device"
    if home is None or home_is_elsewhere(home, folder):
        return "copied"
    if home.seq and _hash_at(connection, identity, home.seq) != home.hash:
        return "restored"  # what this device saw here before is gone, together with its witness
    return None


def _start_chain(connection: sa.Connection, folder: Path, old: Stamp, head: Head, why: Why) -> tuple[Stamp, Head]:
    stamp = Stamp(old.centre, new_id(), old.device)
    last = Predecessor(chain=head.chain, seq=head.seq, hash=head.hash)
    body = (
        ChainStartedAfterLoss(chain=stamp.chain, why="restored", predecessor=last)
        if why == "after_loss"
        else ChainStarted(chain=stamp.chain, why=why, predecessor=last)
    )
    entry = Entry(new_id(), old.device, stamp.chain, body.kind, canonical(body.public_part()).decode())
    remember_chain(stamp.chain, Home(folder=str(folder), seq=0, hash=head.hash))
    add_entries(connection, stamp, [entry])
    tables.set_setting(connection, old.centre, "chain", stamp.chain)
    tables.set_setting(connection, old.centre, "put_back", None)
    return stamp, read_head(connection, stamp.centre, stamp.chain)


def _newest(connection: sa.Connection, identity: Identity) -> list[Event]:
    asked = sa.select(*HASHED).where(_own_chain(identity)).order_by(event.c.seq.desc()).limit(CHECKED_AT_OPENING)
    return list(tables.read_events(connection, asked))[::-1]


def _hash_at(connection: sa.Connection, identity: Identity, seq: int) -> str | None:
    at = _own_chain(identity) & (event.c.seq == seq)
    found = connection.execute(sa.select(event.c.hash).where(at)).scalar()
    return found.hex() if found else None


def _is_there(connection: sa.Connection, seen: Seen) -> bool:
    at = (event.c.chain == seen.chain) & (event.c.hash == bytes.fromhex(seen.hash))
    return connection.execute(sa.select(event.c.pos).where(at)).first() is not None


def _own_chain(identity: Identity) -> sa.ColumnElement[bool]:
    """What was added here; a branch of the same chain that was brought in is another database's."""
    own = (event.c.centre == identity.centre) & (event.c.chain == identity.chain)
    return own & (event.c.origin == 0)


def _changed(seq: int) -> str:
    return (
        f"The ledger was changed or damaged at event {seq} or just before it: it does not fit its own chain. Check "
        "the ledger to see where, and restore the newest backup into an empty folder. Nothing can be added until "
        "then; reading works."
    )
