"""The command that computes one registered quantity."""

from __future__ import annotations

import json
import sys

import click

from course.commands.group import as_json_option, main
from course.errors import ExitCode

_FORM = "Write inputs as key=value, such as po2=1.3bar or vo2=0.5..3."


@main.command()
@click.argument("name", required=False)
@click.argument("inputs", nargs=-1, metavar="[KEY=VALUE]...")
@click.option("--list", "listed", is_flag=True, help="List every quantity; with NAME, all that it takes.")
@as_json_option
def calc(name: str | None, inputs: tuple[str, ...], *, listed: bool, as_json: bool) -> None:
    """Compute quantity NAME from inputs with units. Teaching support: the manual and the agency decide.

    What nobody knows while it happens is given from-to (vo2=0.5..3). Where there is no number the reason is told and
    the command ends with 3.
    """
    # Only this command needs numpy's and scipy's parts behind these, and pint.
    from course.physics import listing, registry, telling, typed  # noqa: PLC0415

    if name is None:
        if not listed:
            raise click.UsageError("Name a quantity, or ask for --list.")
        told = [listing.entry(one) for one in registry.REGISTRY.values()]
        click.echo(json.dumps(told, ensure_ascii=False) if as_json else listing.names(registry.REGISTRY.values()))
        return
    quantity = registry.quantity(name)
    if listed:
        click.echo(json.dumps(listing.entry(quantity), ensure_ascii=False) if as_json else listing.about(quantity))
        return
    answer = quantity.answer(**typed.read(quantity, _pairs(inputs)))
    words = " ".join(telling.sentences(quantity, answer)) if telling.has_sentences(quantity) else ""
    if as_json:
        click.echo(json.dumps({**answer.plain(), "in_words": words}, ensure_ascii=False))
    else:
        click.echo(answer.text() + (f"\nIn words: {words}" if words else ""))
    sys.exit(ExitCode.FINE if answer.has_number else ExitCode.REFUSED)


def _pairs(inputs: tuple[str, ...]) -> dict[str, str]:
    """The inputs by key; one that is given twice is an error, since nobody knows which was meant."""
    pairs: dict[str, str] = {}
    for text in inputs:
        key, is_there, value = text.partition("=")
        if not is_there:
            raise click.UsageError(f"{text!r} is no input. {_FORM}")
        if key in pairs:
            raise click.UsageError(f"{key} is given twice.")
        pairs[key] = value
    return pairs
