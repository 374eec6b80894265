"""Bring about faults and tell in a table, row by row, what came of them; ends with 1 where the promise did not hold."""

from __future__ import annotations

import importlib
import sys
import tempfile
import textwrap
import time
import traceback
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import click

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from faults.tally import Run, Tally  # noqa: E402 - the tests' own folder has to be known first

NAMES = {
    "kills": "killed while saving",
    "steps": "killed at each step",
    "power": "power cut (images of the disk)",
    "room": "disk full or faulty at each write",
    "merges": "disk full while laptops merge",
    "readonly": "a folder that may only be read",
    "flips": "a bit turned round",
    "wal": "write-ahead log cut or changed",
    "clock": "clock put back",
    "copies": "a copied folder on two machines",
    "programs": "two programs on one chain",
    "tablets": "12 tablets, server killed and moved",
    "server": "PostgreSQL killed, and its line cut",
}
_COLUMNS = ("tried", "acknowledged", "lost", "doubled", "named")


def brought_about(name: str, *, full: bool, seed: int) -> Tally:
    """Bring about one kind of fault in a folder of its own, with a bar where somebody watches.

    A kind that cannot be brought to its end is a failure like any other, and the next one has its turn.
    """
    hidden = not sys.stderr.isatty()
    with (
        tempfile.TemporaryDirectory(prefix="faults-", ignore_cleanup_errors=True) as place,
        click.progressbar(length=1000, label=f"{name:<9}", file=sys.stderr, hidden=hidden) as bar,
    ):
        wanted = Run(Path(place), full, seed, lambda done, of: bar.update(1000 * done // of - bar.pos))
        try:
            tally: Tally = _module(name).run(wanted)
        except Exception as error:
            traceback.print_exc()
            tally = Tally()
            tally.wrong(f"it stopped half-way: {type(error).__name__}: {error}")
    return tally


def _module(name: str) -> ModuleType:
    return importlib.import_module(f"faults.{name}")


def _row(cells: tuple[object, ...]) -> str:
    return f"{cells[0]:<9} {cells[1]:<34}" + "".join(f"{cell!s:>13}" for cell in cells[2:])


def _told(name: str, tally: Tally, took: str) -> Iterator[str]:
    """The row of a kind, under it what is done, as its module says, what is worth a note, and what went wrong."""
    yield _row((name, NAMES[name], *(getattr(tally, column) for column in _COLUMNS), took))
    what = " ".join((_module(name).__doc__ or "").partition("\n\n")[0].split())
    for line in (*textwrap.wrap(what, 110), *tally.notes, *(f"WRONG: {told}" for told in tally.failures)):
        yield f"          {line}"


@click.command()
@click.argument("names", nargs=-1, type=click.Choice(list(NAMES)))
@click.option("--full", is_flag=True, help="As often as a release asks.")
@click.option("--seed", default=1, show_default=True, help="Another one, another run of chance.")
def main(names: tuple[str, ...], seed: int, *, full: bool) -> None:
    """Bring about faults of every kind, or of those NAMES; each kind's row is told as it ends."""
    click.echo(_row(("fault", "", *_COLUMNS, "seconds")))
    failures = []
    for name in names or NAMES:
        start = time.perf_counter()
        tally = brought_about(name, full=full, seed=seed)
        for line in _told(name, tally, f"{time.perf_counter() - start:.1f}"):
            click.echo(line)
        failures += [f"{name}: {told}" for told in tally.failures]
    click.echo("\n".join(failures) or "Nothing acknowledged was lost without a word, nothing is there twice.")
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
