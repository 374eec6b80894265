"""Bring about faults and tell in a table what came of them; ends with 1 where the promise did not hold."""

from __future__ import annotations

import importlib
import sys
import tempfile
import time
from pathlib import Path

import click

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from faults.tally import Run, Tally  # noqa: E402 - the tests' own folder has to be known first

NAMES = {
    "kills": "killed while saving",
    "steps": "killed at each step",
    "power": "power cut (images of the disk)",
    "room": "disk full or faulty at each write",
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
    """Bring about one kind of fault in a folder of its own, with a bar where somebody watches."""
    module = importlib.import_module(f"faults.{name}")
    hidden = not sys.stderr.isatty()
    with (
        tempfile.TemporaryDirectory(prefix="faults-", ignore_cleanup_errors=True) as place,
        click.progressbar(length=1000, label=f"{name:<9}", file=sys.stderr, hidden=hidden) as bar,
    ):
        wanted = Run(Path(place), full, seed, lambda done, of: bar.update(1000 * done // of - bar.pos))
        tally: Tally = module.run(wanted)
    return tally


def _row(cells: tuple[object, ...]) -> str:
    return f"{cells[0]:<9} {cells[1]:<34}" + "".join(f"{cell!s:>13}" for cell in cells[2:])


@click.command()
@click.argument("names", nargs=-1, type=click.Choice(list(NAMES)))
@click.option("--full", is_flag=True, help="As often as a release asks.")
@click.option("--seed", default=1, show_default=True, help="Another one, another run of chance.")
def main(names: tuple[str, ...], seed: int, *, full: bool) -> None:
    """Bring about faults of every kind, or of those NAMES."""
    rows, failures = [_row(("fault", "", *_COLUMNS, "seconds"))], []
    for name in names or NAMES:
        start = time.perf_counter()
        tally = brought_about(name, full=full, seed=seed)
        took = f"{time.perf_counter() - start:.1f}"
        rows.append(_row((name, NAMES[name], *(getattr(tally, column) for column in _COLUMNS), took)))
        rows += [f"          {note}" for note in tally.notes]
        failures += [f"{name}: {told}" for told in tally.silent[:10]]
        if not tally.holds and not tally.silent:
            failures.append(f"{name}: {tally.doubled} doubled, {tally.tried} tried")
    click.echo("\n".join(rows))
    click.echo("\n".join(failures) or "Nothing acknowledged was lost without a word, nothing is there twice.")
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main()
