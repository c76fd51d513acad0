"""`cuekit play`: the rhythm of a skill to the loudspeaker, or to a file."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.audio_port import AudioPort, Ended, never
from cuekit.bouts.sound_card import SoundCard
from cuekit.cli.cue_choice import full_option, loudness_option, softer_option, sound_option
from cuekit.cli.options import (
    Decimal,
    Whole,
    choose_pattern,
    folders_option,
    language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.cues.cue_sound import USUAL_TONES, CueSound, chosen_cues
from cuekit.cues.cueing import ChosenCues
from cuekit.cues.render import CueTrack, lay_out, render_blocks, write_cues
from cuekit.errors import DeviceError
from cuekit.files.filenames import shown
from cuekit.patterns.pattern import Pattern, Side
from cuekit.patterns.schedule import CueLevel, Fade, Plan, beats_for_seconds, make_schedule

USUAL_BEATS = 16


@click.command()
@click.argument("name", metavar="PATTERN")
@side_option()
@ratio_option()
@tempo_option()
@click.option(
    "--beats", type=Whole(1, 10_000, "beats"), metavar="N",
    help="How many beats; 16 where left out.",
)
@click.option("--seconds", type=Decimal(1, 7200, "s"), metavar="S", help="How long, instead of --beats.")
@click.option(
    "--level",
    type=click.Choice([level.value for level in CueLevel], case_sensitive=False),
    default=CueLevel.C4.value,
    show_default=True,
    help="C5 words and tones, C4 tones, C3 softer, C2 main beat only, C1 count-in only, C0 nothing.",
)
@full_option()
@softer_option()
@click.option(
    "--change",
    "change_percent",
    type=Decimal(-50, 100, "%"),
    default=0.0,
    metavar="PERCENT",
    help="Tempo at the end against the start; 5 is faster.",
)
@click.option(
    "--count-in", type=Whole(0, 16, "beats"), metavar="N",
    help="Beats counted first; the pattern's own.",
)
@sound_option(f"Which sounds; let the child choose. {USUAL_TONES} where left out.")
@click.option(
    "--glide", is_flag=True,
    help="One gliding sound from landing to landing instead of single ones.",
)
@click.option(
    "--voice",
    "voice_folder",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="A folder of words in your own voice (step.wav, hop.wav ...), for level C5.",
)
@loudness_option()
@click.option(
    "--out", "out_path", type=click.Path(path_type=Path), metavar="FILE.wav",
    help="Write, do not play.",
)
@language_option()
@folders_option()
def command(
    name: str,
    side: Side | None,
    share: Fraction | None,
    tempo_bpm: float | None,
    beats: int | None,
    seconds: float | None,
    level: str,
    full: int | None,
    softer: int,
    change_percent: float,
    count_in: int | None,
    sound: str | None,
    glide: bool,
    voice_folder: Path | None,
    loudness_lufs: float,
    out_path: Path | None,
    language: str,
    folders: tuple[Path, ...],
) -> None:
    """Play the rhythm of a skill: a count-in, then the pattern. Ctrl-C stops it at once."""
    if beats is not None and seconds is not None:
        raise click.UsageError("give --beats or --seconds, not both")
    pattern = choose_pattern(name, side=side, share=share, language=language, folders=folders)
    tempo = pattern.tempo.default if tempo_bpm is None else tempo_bpm
    count = beats or (USUAL_BEATS if seconds is None else beats_for_seconds(pattern, tempo, seconds))
    plan = Plan(tempo, count, CueLevel(level.upper()), Fade(full, softer), change_percent, count_in)
    schedule = make_schedule(pattern, plan)
    cue = CueSound(sound or USUAL_TONES, loudness_lufs, language, glide, voice_folder)
    chosen = chosen_cues(schedule, cue)
    track = lay_out(schedule, chosen, loudness_lufs=loudness_lufs)
    click.echo(_told(pattern, plan, chosen))
    if out_path is not None:
        write_cues(out_path, track)
        click.echo(f"written: {shown(out_path)}, {track.duration_s:.1f} s")
    else:
        play_aloud(SoundCard(), track)


def play_aloud(port: AudioPort, track: CueTrack) -> None:
    """Play a track to its end; Ctrl-C silences it at once and is passed on.

    Raises:
        DeviceError: there is no loudspeaker, or it was lost.
    """
    passage = port.play(render_blocks(track), never)
    if passage.ended is Ended.LOST:
        raise DeviceError(f"{passage.lost}: plug it in again, then start again")


def _told(pattern: Pattern, plan: Plan, chosen: ChosenCues) -> str:
    """What is about to sound."""
    share = f", {float(pattern.share.default):.2f} long" if pattern.share else ""
    return f"{pattern.title}: {plan.beats} beats at {plan.tempo_bpm:g} a minute{share}. Cue: {chosen.took}."
