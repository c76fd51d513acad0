"""`cuekit takes`: recordings still on this computer, and how to get rid of them."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from cuekit.bouts.take_file import discard, due, kept_takes, left_takes, takes_folder
from cuekit.cli.options import Decorator, Whole
from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.hearing.soundfiles import spoken_duration


def take_option() -> Decorator:
    """--takes, as `takes`; None for the usual place."""
    return click.option(
        "--takes",
        type=click.Path(file_okay=False, path_type=Path),
        envvar="CUEKIT_TAKES",
        metavar="FOLDER",
        help="Where recordings go while they run; also set by CUEKIT_TAKES.",
    )


def told_of_old_takes(folder: Path) -> list[str]:
    """What the teacher should know at the start: recordings a crash left, and kept ones that are due."""
    left, over = left_takes(folder), due(kept_takes(folder), datetime.date.today())
    lines = [f"An unfinished recording of {spoken_duration(take.duration_s)} was found." for take in left]
    lines += [f"A recording kept ({take.reason}) was to be deleted by {take.delete_by}." for take in over]
    return [*lines, "cuekit takes shows them and deletes them."] if lines else []


@click.command()
@click.option("--delete", "number", type=Whole(1, 10_000), metavar="N", help="Delete that one.")
@click.option("--delete-due", is_flag=True, help="Delete kept recordings whose day has come.")
@take_option()
def command(number: int | None, delete_due: bool, takes: Path | None) -> None:
    """List recordings left by a crash or kept on purpose; score one with cuekit score FILE."""
    folder = takes or takes_folder()
    kept = kept_takes(folder)
    if delete_due:
        over = due(kept, datetime.date.today())
        for take in over:
            discard(take.path)
        click.echo(f"deleted: {len(over)}")
        return
    rows = [
        (take.path, f"unfinished, {spoken_duration(take.duration_s)}, {take.begun:%Y-%m-%d %H:%M}")
        for take in left_takes(folder)
    ] + [(take.path, f"kept until {take.delete_by}: {take.reason}") for take in kept]
    if number is not None:
        if number > len(rows):
            raise RecordError(f"there is no recording {number}: cuekit takes lists {len(rows)}")
        discard(rows[number - 1][0])
        click.echo(f"deleted: {shown(rows[number - 1][0])}")
        return
    for place, (path, what) in enumerate(rows, 1):
        click.echo(f"{place}  {what}\n   {shown(path)}")
    if not rows:
        click.echo("No recording is on this computer.")
