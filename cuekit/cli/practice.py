"""`cuekit practice`: from the ear to the feet, one stage after the other."""

from __future__ import annotations

from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.given import sound_of
from cuekit.bouts.keys import listening_keyboard
from cuekit.bouts.practice import (
    LARGEST_STEP_PERCENT,
    SMALLEST_STEP_PERCENT,
    Doing,
    TempoWay,
    stages,
)
from cuekit.bouts.preparing import learner_to_record, lesson_cautions
from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.cue_choice import ball_option, loudness_option, say_option, silent_option, sound_option
from cuekit.cli.eye_marks import step_question
from cuekit.cli.live_bout import Speaker
from cuekit.cli.live_view import check_terminal
from cuekit.cli.options import (
    TEMPO_BPM,
    Decimal,
    Whole,
    choose_pattern,
    folders_option,
    own_language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.cli.practice_run import LeftError, Lesson, Room, own_bpm, run_lesson
from cuekit.cli.record_options import STEP_HELP, Code, data_option, now, open_store, step_of_ladder
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.cues.cue_sound import USUAL_TONES
from cuekit.patterns.pattern import Side
from cuekit.records.bout_record import CueKind
from cuekit.telling.phrases import load_phrases


@click.command()
@click.argument("name", metavar="PATTERN")
@side_option()
@ratio_option()
@tempo_option("Beats a minute; the learner's own, or the pattern's, where left out.")
@click.option(
    "--beats",
    type=Whole(4, 200, "beats"),
    default=12,
    show_default=True,
    metavar="N",
    help="Beats of a stage.",
)
@click.option(
    "--from",
    "first",
    type=click.Choice([doing.value for doing in Doing]),
    default=Doing.LISTEN.value,
    help="Begin there.",
)
@sound_option(f"Which sounds; let the child choose. The learner's own, or {USUAL_TONES}, where left out.")
@loudness_option()
@ball_option()
@silent_option()
@say_option()
@take_option()
@click.option(
    "--sets", type=Whole(1, 12), default=1, show_default=True, metavar="N", help="How often it is moved."
)
@click.option(
    "--goal",
    "goal_bpm",
    type=TEMPO_BPM,
    metavar="BPM",
    help="Go there by small steps, each after a set on the pattern; at most 15 % from the first tempo.",
)
@click.option(
    "--change",
    "step_percent",
    type=Decimal(SMALLEST_STEP_PERCENT, LARGEST_STEP_PERCENT, "%"),
    default=4.0,
    show_default=True,
    metavar="PERCENT",
    help="One step of tempo.",
)
@click.option(
    "--learner", "code", type=Code(), metavar="CODE", help="Store each bout for this learner: numbers only."
)
@click.option(
    "--step",
    "ladder_step",
    default="",
    metavar="STEP",
    help=STEP_HELP,
)
@data_option()
@own_language_option()
@folders_option()
def command(
    name: str,
    side: Side | None,
    share: Fraction | None,
    tempo_bpm: float | None,
    beats: int,
    first: str,
    sound: str | None,
    loudness_lufs: float,
    ball: bool,
    silent: bool,
    say: bool,
    takes: Path | None,
    sets: int,
    goal_bpm: float | None,
    step_percent: float,
    code: str | None,
    ladder_step: str,
    folder: Path | None,
    language: str | None,
    folders: tuple[Path, ...],
) -> None:
    """Go from listening over saying, clapping, tapping and stepping in place to moving.

    Any key starts a stage and stops it at once; q leaves. Recordings are deleted after each stage. With
    --learner, whose own tempo is not known yet, it begins with three bouts without a cue.
    """
    check_terminal(ball=ball or silent)
    phrases, takes, learner = load_phrases(language or "en"), takes or takes_folder(), None
    if code is not None:
        with open_store(folder) as store:
            learner = learner_to_record(store, code)
    cue = sound_of(learner, tones=sound, loudness_lufs=loudness_lufs, language=language)
    speaker = Speaker(language or "en", cue.loudness_lufs) if say else None
    pattern = choose_pattern(name, side=side, share=share, language=cue.language, folders=folders)
    asked = choose_pattern(name, side=side, share=share, language=language or "en", folders=folders)
    ladder_step = step_of_ladder(ladder_step, pattern.name, folders)
    cautions = lesson_cautions(pattern, phrases, None, None, now())
    if learner is not None:
        pattern = learner.accepting(pattern)
        with open_store(folder) as store:
            cautions = lesson_cautions(pattern, phrases, learner, store, now())
    for line in (*told_of_old_takes(takes), *cautions):
        click.echo(line)
    kind = CueKind.VISUAL if silent else CueKind.SOUND
    with listening_keyboard() as keyboard, suppress(LeftError):
        room = Room(SoundCard(), takes, keyboard, phrases, kind, ball or silent, learner, folder, speaker)
        first_bpm = tempo_bpm or own_bpm(pattern, room) or pattern.tempo.default
        way = TempoWay(first_bpm, goal_bpm or first_bpm, step_percent)
        bouts, seen = stages(beats, Doing(first)), step_question(ladder_step, language or "en")
        run_lesson(Lesson(pattern, beats, bouts, sets, way, cue, asked, ladder_step, seen), room)
