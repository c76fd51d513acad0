"""`cuekit score`: whether the feet in a recording kept the rhythm of a pattern."""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

import click

from cuekit.atomic import write_text
from cuekit.bout_plot import draw_bout
from cuekit.bout_text import draw_bout_text
from cuekit.cli.options import (
    Decimal,
    choose_pattern,
    folders_option,
    language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.cli.replays import write_replay
from cuekit.contract import as_json
from cuekit.errors import AudioError
from cuekit.filenames import shown
from cuekit.pattern import Side
from cuekit.phrases import load_phrases
from cuekit.scoring import Score, score_recording
from cuekit.soundfiles import read_recording


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
    recording = read_recording(file, limit_s=60.0 * longest_min)
    score = score_recording(recording, pattern, tempo_bpm=tempo_bpm, phrases=load_phrases(language))
    click.echo(
        as_json(score) if json_wanted else "\n".join(told(score, _takes_unicode()))
    )  # kept whatever follows
    if plot_path is not None:
        write_text(plot_path, draw_bout(score))
    if replay_path is not None:
        write_replay(replay_path, score, tempo_bpm)


def told(score: Score, unicode: bool) -> list[str]:
    """The lines a teacher reads: the sentence first, then what it rests on."""
    advice, pattern = score.advice, score.alignment.pattern
    lines = [
        advice.summary,
        "",
        f"{pattern.title}, {score.recording.name}, {score.recording.duration_s:.0f} s",
    ]
    lines += [f"  Note: {warning}" for warning in score.recording.warnings]
    if score.hearing.reason:
        lines.append(f"  Heard: {score.hearing.heard.value}: {score.hearing.reason}")
    if score.measures.beats:
        lines += ["", *draw_bout_text(score, unicode=unicode), "", *_numbers(score)]
    if advice.fault is not None:
        fault = advice.fault
        lines += [
            "",
            f"  Heard: {fault.heard}",
            f"  It may also be: {fault.may_also_be}",
            f"  Ask your eye: {fault.ask}",
        ]
        lines += [f"  Also heard: {other.heard}" for other in advice.other_faults]
    lines += ["", f"  A microphone cannot tell {_listed(advice.cannot_tell)}."]
    return lines


def _numbers(score: Score) -> list[str]:
    """The measures in plain words, each with how many it rests on."""
    measures = score.measures
    lines = [
        f"  On the pattern: {measures.beats_on_pattern} of {measures.judged_beats} beats, "
        f"longest run {measures.longest_run}."
    ]
    if measures.tempo_bpm is not None:
        drift = measures.tempo_drift_percent
        steady = "" if measures.spread_percent is None else f", spread {measures.spread_percent:.0f} %"
        change = (
            "" if drift is None else f", {abs(drift):.0f} % {'faster' if drift > 0 else 'slower'} by the end"
        )
        lines.append(f"  Tempo: {measures.tempo_bpm:.0f} beats a minute{steady}{change}.")
    share = measures.long_share
    if share is not None and score.alignment.pattern.uneven:
        lines.append(
            f"  Long part: {share.value:.2f} of the beat ({share.low:.2f}-{share.high:.2f}), "
            f"about {share.ratio:.1f} to 1: {measures.rhythm.value}."
        )
    return lines


def _listed(parts: tuple[str, ...]) -> str:
    """Parts as a sentence: "a, b or c"."""
    return " or ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else parts[0]


def _takes_unicode() -> bool:
    return (sys.stdout.encoding or "").lower().startswith("utf")
