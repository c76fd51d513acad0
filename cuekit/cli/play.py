"""`cuekit play`: the rhythm of a skill to the loudspeaker, or to a file."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.audio_port import AudioPort, Ended, OnClock, never, unwatched
from cuekit.bouts.given import Given, sound_of
from cuekit.bouts.sound_card import SoundCard
from cuekit.cli.cue_choice import (
    ball_option,
    full_option,
    loudness_option,
    silent_option,
    softer_option,
    sound_option,
)
from cuekit.cli.live_view import check_terminal, show_silently, view_of
from cuekit.cli.options import (
    Code,
    Decimal,
    Whole,
    choose_pattern,
    data_option,
    folders_option,
    own_language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.cues.cue_sound import USUAL_TONES, chosen_cues
from cuekit.cues.render import CueTrack, lay_out, render_blocks, write_cues
from cuekit.errors import DeviceError
from cuekit.files.filenames import shown
from cuekit.patterns.pattern import Side
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Fade, Plan, beats_for_seconds, make_schedule
from cuekit.records.learner import Learner
from cuekit.telling.cue_told import bout_told
from cuekit.telling.phrases import load_phrases

USUAL_BEATS = 16


@click.command()
@click.argument("name", metavar="PATTERN")
@side_option()
@ratio_option()
@tempo_option("Beats a minute; the learner's own, or the pattern's, where left out.")
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
@sound_option(f"Which sounds; let the child choose. The learner's own, or {USUAL_TONES}, where left out.")
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
@ball_option()
@silent_option()
@click.option(
    "--learner", "code", type=Code(), metavar="CODE",
    help="With this learner's tempo, sounds, language and loudness cap.",
)
@data_option()
@click.option(
    "--out", "out_path", type=click.Path(path_type=Path), metavar="FILE.wav",
    help="Write, do not play.",
)
@own_language_option()
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
    ball: bool,
    silent: bool,
    code: str | None,
    folder: Path | None,
    out_path: Path | None,
    language: str | None,
    folders: tuple[Path, ...],
) -> None:
    """Play the rhythm of a skill: a count-in, then the pattern. Ctrl-C stops it at once."""
    if beats is not None and seconds is not None:
        raise click.UsageError("give --beats or --seconds, not both")
    if out_path is not None and (ball or silent):
        raise click.UsageError("--out writes a file: leave out --ball and --silent, which show")
    check_terminal(ball=ball or silent)
    learner = _learner(code, folder) if code is not None else None
    cue = sound_of(learner, tones=sound, loudness_lufs=loudness_lufs, language=language)
    cue = replace(cue, glide=glide, own_voice=voice_folder)
    pattern = choose_pattern(name, side=side, share=share, language=cue.language, folders=folders)
    own_bpm = learner.tempo_bpm(pattern.name, pattern.side) if learner else None
    tempo = tempo_bpm or own_bpm or pattern.tempo.default
    count = beats or (USUAL_BEATS if seconds is None else beats_for_seconds(pattern, tempo, seconds))
    plan = Plan(tempo, count, CueLevel(level.upper()), Fade(full, softer), change_percent, count_in)
    schedule = make_schedule(pattern, plan)
    chosen = chosen_cues(schedule, cue)
    given = Given(schedule, lay_out(schedule, chosen, loudness_lufs=cue.loudness_lufs))
    title = load_pattern(name, language=language or "en", folders=folders).title
    click.echo(bout_told(title, schedule, chosen.took, load_phrases(language or "en")))
    if learner is not None and learner.restrictions:
        click.echo(learner.restrictions)
    if out_path is not None:
        write_cues(out_path, given.track)
        click.echo(f"written: {shown(out_path)}, {given.track.duration_s:.1f} s")
        return
    on_clock = view_of(given, ball=True).at if ball or silent else unwatched
    if silent:
        show_silently(given, on_clock, never)
    else:
        play_aloud(SoundCard(), given.track, on_clock)


def _learner(code: str, folder: Path | None) -> Learner:
    from cuekit.records.store_waiting import (
        open_store,  # takes a twentieth of a second, and a cue is to sound
    )

    with open_store(folder) as store:
        return store.learner(code).noun


def play_aloud(port: AudioPort, track: CueTrack, on_clock: OnClock = unwatched) -> None:
    """Play a track to its end; Ctrl-C silences it at once and is passed on.

    Raises:
        DeviceError: there is no loudspeaker, or it was lost.
    """
    passage = port.play(render_blocks(track), never, on_clock)
    if passage.ended is Ended.LOST:
        raise DeviceError(f"{passage.lost}: plug it in again, then start again")
