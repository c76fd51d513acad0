"""`cuekit child`: what the child sees of a bout: a row of pictures and one thing to try."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from cuekit.cli.options import (
    Whole,
    choose_pattern,
    folders_option,
    language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern import Side
from cuekit.telling.child_view import FEWEST_PICTURES, MOST_PICTURES, child_view
from cuekit.telling.phrases import load_phrases
from cuekit.telling.scoring import score_recording


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--pattern", "name", required=True, metavar="NAME", help="What the feet should do.")
@click.option(
    "--target", type=Whole(1, 64, "beats"), default=6, show_default=True, help="Beats that fill all."
)
@click.option(
    "--pictures", type=Whole(FEWEST_PICTURES, MOST_PICTURES), default=5, show_default=True, help="How many."
)
@click.option("--sign", default="*", show_default=True, metavar="TEXT", help="The child's own sign.")
@side_option()
@ratio_option()
@tempo_option("Beats a minute that were asked for; leave out where the learner chose.")
@language_option()
@folders_option()
def command(
    file: Path,
    name: str,
    target: int,
    pictures: int,
    sign: str,
    side: Side | None,
    share: Fraction | None,
    tempo_bpm: float | None,
    language: str,
    folders: tuple[Path, ...],
) -> None:
    """Show the child what was done in the recording FILE: pictures, no numbers, one thing to try."""
    pattern = choose_pattern(name, side=side, share=share, language=language, folders=folders)
    phrases = load_phrases(language)
    score = score_recording(read_recording(file), pattern, tempo_bpm=tempo_bpm, phrases=phrases)
    fault = score.advice.fault.id if score.advice.fault else None
    view = child_view(score.measures, target, phrases, fault=fault, pictures=pictures)
    click.echo(f"\n  {view.row(sign[:8] or '*', '.')}\n\n  {view.words}\n")
