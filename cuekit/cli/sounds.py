"""`cuekit sounds` and `strike`: the footfalls of a stored bout, and those that were not the learner's."""

from __future__ import annotations

import json
from pathlib import Path

import click

from cuekit.cli.options import Whole, folders_option
from cuekit.cli.record_options import BOUT, data_option, now, open_store, reason_option
from cuekit.records import correcting


@click.command()
@click.argument("number", type=BOUT, metavar="BOUT")
@data_option()
def sounds(number: int, folder: Path | None) -> None:
    """List the footfalls heard in a stored BOUT, each with its number, time and beat."""
    with open_store(folder) as store:
        contract = correcting.sounds_of(store, store.bout(number))
    for place, row in enumerate(json.loads(contract)["footfalls"], start=1):
        short = ", short" if row["place"] else ""
        beat = "extra" if row["beat"] is None else f"beat {row['beat'] + 1}{short}"
        click.echo(f"{place:>4}  {row['time_s']:8.2f} s  {row['level_db']:6.1f} dB  {beat}")


@click.command()
@click.argument("number", type=BOUT, metavar="BOUT")
@click.argument("places", type=Whole(1, 99_999), nargs=-1, required=True, metavar="SOUND...")
@reason_option()
@folders_option()
@data_option()
def strike(
    number: int, places: tuple[int, ...], reason: str, folders: tuple[Path, ...], folder: Path | None
) -> None:
    """Strike out SOUNDs of a BOUT that were not the learner's and measure it anew; both versions are kept.

    The numbers of the sounds are those of cuekit sounds BOUT; name all that are to be left out.
    """
    with open_store(folder) as store:
        change = correcting.strike(store, store.bout(number), places, reason, now(), folders)
    for what, old, new in change.changes:
        click.echo(f"Bout {number}: {what} {old or '-'} -> {new or '-'}")
    click.echo("Both versions are kept.")
