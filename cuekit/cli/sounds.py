"""`cuekit sounds` and `strike`: the footfalls of a stored bout, and those that were not the learner's."""

from __future__ import annotations

import json
from pathlib import Path

import click

from cuekit.cli.options import Whole, folders_option
from cuekit.cli.record_options import BOUT, data_option, now, open_store, reason_option
from cuekit.errors import RecordError
from cuekit.patterns.pattern_files import load_pattern
from cuekit.records.bout_history import NUMBERS, Amendment, KeptBout
from cuekit.records.record_json import to_text
from cuekit.records.rescoring import measured_without
from cuekit.records.store import Store


@click.command()
@click.argument("number", type=BOUT, metavar="BOUT")
@data_option()
def sounds(number: int, folder: Path | None) -> None:
    """List the footfalls heard in a stored BOUT, each with its number, time and beat."""
    with open_store(folder) as store:
        contract = _heard(store, store.bout(number))
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
        kept = store.bout(number)
        done, before = kept.now.conditions, kept.now.numbers
        learner = store.learner(kept.stored.learner).noun
        pattern = learner.accepting(load_pattern(done.pattern, folders=folders))
        after = measured_without(_heard(store, kept), set(places), pattern, done.tempo_asked_bpm)
        change = Amendment(kept.id, now(), NUMBERS, to_text(before), to_text(after), reason)
        store.add(change, code=kept.stored.learner)
    for what, old, new in change.changes:
        click.echo(f"Bout {number}: {what} {old or '-'} -> {new or '-'}")
    click.echo("Both versions are kept.")


def _heard(store: Store, kept: KeptBout) -> str:
    contract = store.contract(kept.id)
    if contract is None:
        raise RecordError(
            f"bout {kept.number} was counted by hand, so there are no sounds of it: cuekit correct changes it"
        )
    return contract
