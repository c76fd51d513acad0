"""`cuekit score`: whether the feet in a recording kept the rhythm of a pattern."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.gaps import scored
from cuekit.bouts.replaying import replay_of
from cuekit.bouts.take_file import noted_gaps_s
from cuekit.cli.options import (
    Decimal,
    choose_pattern,
    folders_option,
    language_option,
    ratio_option,
    side_option,
    takes_unicode,
    tempo_option,
)
from cuekit.cues.render import kind_of, write_cues
from cuekit.drawing.bout_plot import draw_bout
from cuekit.drawing.score_text import score_lines
from cuekit.errors import AudioError
from cuekit.files.atomic import write_text
from cuekit.files.filenames import shown
from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern import Side
from cuekit.telling.contract import as_json
from cuekit.telling.phrases import load_phrases


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--pattern", "name", required=True, metavar="NAME", help="What the feet should do.")
@side_option()
@ratio_option()
@tempo_option("Beats a minute that were asked for; leave out where the learner chose.")
@click.option("--json", "json_wanted", is_flag=True, help="Print one JSON object instead of sentences.")
@click.option(
    "--plot", "plot_path", type=click.Path(path_type=Path), metavar="FILE.svg", help="Draw the bout."
)
@click.option(
    "--replay",
    "replay_path",
    type=click.Path(path_type=Path),
    metavar="FILE.wav",
    help="Write \"yours, then this one\": the learner's rhythm as clean tones, then the target's.",
)
@click.option(
    "--longest",
    "longest_min",
    type=Decimal(1, 600, "minutes"),
    default=60.0,
    show_default=True,
    metavar="MINUTES",
    help="The longest recording to read.",
)
@language_option()
@folders_option()
def command(
    file: Path,
    name: str,
    side: Side | None,
    share: Fraction | None,
    tempo_bpm: float | None,
    json_wanted: bool,
    plot_path: Path | None,
    replay_path: Path | None,
    longest_min: float,
    language: str,
    folders: tuple[Path, ...],
) -> None:
    """Say whether the feet in a recording kept the rhythm.

    FILE is any WAV, FLAC, OGG, MP3, AIFF, CAF or AU recording of one pair of feet. No sound is kept.
    """
    pattern = choose_pattern(name, side=side, share=share, language=language, folders=folders)
    if plot_path is not None and plot_path.suffix.lower() != ".svg":
        raise AudioError(
            f'cannot draw {shown(plot_path)}: end the name in ".svg"; any web browser opens and prints it'
        )
    if replay_path is not None:
        kind_of(replay_path)
    recording = read_recording(file, limit_s=60.0 * longest_min)
    phrases = load_phrases(language)
    hearing = detect_footfalls(recording)
    score = scored(recording, hearing, noted_gaps_s(file), pattern, phrases, tempo_bpm)
    lines = score_lines(score, phrases, unicode=takes_unicode())
    click.echo(as_json(score) if json_wanted else "\n".join(lines))  # told, whatever follows
    if plot_path is not None:
        write_text(plot_path, draw_bout(score))
    if replay_path is not None:
        write_cues(replay_path, replay_of(score, tempo_bpm))
