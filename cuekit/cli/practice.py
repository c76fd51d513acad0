"""`cuekit practice`: from the ear to the feet, one stage after the other."""

from __future__ import annotations

import time
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.audio_port import AudioPort, Ended
from cuekit.bouts.keys import Keyboard, listening_keyboard
from cuekit.bouts.live_text import told_live
from cuekit.bouts.live_verdict import Given
from cuekit.bouts.practice import Doing, Stage, stages
from cuekit.bouts.session import bout_to_cue
from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.cue_choice import cues_of
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
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.cues.loudness import LOUDEST_LUFS, QUIET_LUFS, SOFTEST_LUFS
from cuekit.cues.render import lay_out, render_blocks
from cuekit.cues.tones import tone_set_names
from cuekit.errors import DeviceError
from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Pattern, Side
from cuekit.patterns.schedule import Plan, make_schedule
from cuekit.teaching.cautions import cautions_for
from cuekit.telling.phrases import Phrases, load_phrases

_POLL_S = 0.02
_LEAVE = "q"


@dataclass(frozen=True)
class Room:
    """What a stage needs beside itself: the device, where takes go, the keyboard, the words."""

    port: AudioPort
    takes: Path
    keyboard: Keyboard
    phrases: Phrases


@click.command()
@click.argument("name", metavar="PATTERN")
@side_option()
@ratio_option()
@tempo_option()
@click.option(
    "--beats",
    type=Whole(4, 200, "beats"),
    default=12,
    show_default=True,
    metavar="N",
    help="Beats of a stage.",
)
@click.option("--from", "first", type=click.Choice([doing.value for doing in Doing]), help="Begin there.")
@click.option("--sound", type=click.Choice(tone_set_names()), default=tone_set_names()[0], show_default=True)
@click.option(
    "--loudness",
    "loudness_lufs",
    type=Decimal(SOFTEST_LUFS, LOUDEST_LUFS, "LUFS"),
    default=QUIET_LUFS,
    show_default=True,
    help="How loud; it cannot go above the ceiling. Start quiet.",
)
@take_option()
@language_option()
@folders_option()
def command(
    name: str,
    side: Side | None,
    share: Fraction | None,
    tempo_bpm: float | None,
    beats: int,
    first: str | None,
    sound: str,
    loudness_lufs: float,
    takes: Path | None,
    language: str,
    folders: tuple[Path, ...],
) -> None:
    """Go from listening over saying, clapping, tapping and stepping in place to moving.

    Any key starts a stage and stops it at once; q leaves. Recordings are deleted after each stage.
    """
    pattern = choose_pattern(name, side=side, share=share, language=language, folders=folders)
    phrases, folder = load_phrases(language), takes or takes_folder()
    for line in (*told_of_old_takes(folder), *cautions_for(pattern, phrases).during):
        click.echo(line)
    begun = first is None
    with listening_keyboard() as keyboard:
        room = Room(SoundCard(), folder, keyboard, phrases)
        for stage in stages(beats):
            begun = begun or stage.doing.value == first
            if not begun:
                continue
            click.echo(f"\n{phrases.say(f'practice.{stage.doing.value}')}")
            if not _wait(keyboard):
                return
            given = _given(pattern, stage, tempo_bpm, beats, sound, loudness_lufs, language)
            run_stage(stage, given, room)


def run_stage(stage: Stage, given: Given, room: Room) -> None:
    """One stage: played only, or played, heard and judged.

    Raises:
        DeviceError: a device is missing or was lost.
        KeyboardInterrupt: Ctrl-C; what was heard has been told.
    """

    def stop() -> bool:
        return bool(room.keyboard.pressed())

    if not stage.heard:
        passage = room.port.play(render_blocks(given.track), stop)
        if passage.ended is Ended.LOST:
            raise DeviceError(f"{passage.lost}: plug it in again, then start again")
        return
    done = bout_to_cue(room.port, room.takes, given, room.phrases, _show, stop)
    done.take.discard()
    click.echo("\n" + "\n".join(told_live(done, room.phrases)))
    click.echo(room.phrases.say("practice.rest"))
    if done.interrupted:
        raise KeyboardInterrupt


def _given(
    pattern: Pattern,
    stage: Stage,
    tempo_bpm: float | None,
    beats: int,
    sound: str,
    loudness_lufs: float,
    language: str,
) -> Given:
    plan = Plan(tempo_bpm or pattern.tempo.default, beats, stage.level, stage.fade)
    schedule = make_schedule(pattern, plan)
    chosen = cues_of(schedule, sound, False, None, language)
    return Given(schedule, lay_out(schedule, chosen, loudness_lufs=loudness_lufs))


def _wait(keyboard: Keyboard) -> bool:
    """Wait for a key where there is a keyboard; whether to go on."""
    while keyboard.there:
        key = keyboard.pressed()
        if key:
            return key != _LEAVE
        time.sleep(_POLL_S)
    return True


def _show(footfall: Footfall) -> None:
    click.echo("o ", nl=False)
