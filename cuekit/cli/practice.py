"""`cuekit practice`: from the ear to the feet, one stage after the other."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.audio_port import AudioPort, Ended
from cuekit.bouts.keys import Keyboard, listening_keyboard, wait_for_key
from cuekit.bouts.live_text import told_live
from cuekit.bouts.practice import (
    LARGEST_STEP_PERCENT,
    SMALLEST_STEP_PERCENT,
    Doing,
    Stage,
    TempoWay,
    first_set,
    stages,
)
from cuekit.bouts.preparing import (
    FREE_COURSE,
    conditions_of,
    given_of,
    learner_to_record,
    lesson_cautions,
    sound_of,
)
from cuekit.bouts.session import Done, bout_alone, bout_to_cue
from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.storing import keep_own_tempo
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.cue_choice import loudness_option, sound_option
from cuekit.cli.live_records import stored
from cuekit.cli.options import (
    TEMPO_BPM,
    Decimal,
    Whole,
    choose_pattern,
    folders_option,
    language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.cli.record_options import Code, data_option, now, open_store
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.cues.cue_sound import USUAL_TONES, CueSound
from cuekit.cues.render import render_blocks
from cuekit.errors import DeviceError
from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Pattern, Side
from cuekit.records.bout_record import Conditions, Mode
from cuekit.records.learner import Learner
from cuekit.records.own_tempo import BOUTS, OwnTempo, own_tempo
from cuekit.telling.phrases import Phrases, load_phrases

_LEAVE = "q"


@dataclass(frozen=True)
class Room:
    """What a stage needs beside itself.

    Attributes:
        port, takes, keyboard, phrases: the device, where takes go, the keyboard, the words.
        learner: whose bouts are stored; None where nothing is.
        folder: of the records; None for the usual place.
    """

    port: AudioPort
    takes: Path
    keyboard: Keyboard
    phrases: Phrases
    learner: Learner | None = None
    folder: Path | None = None

    def stop(self) -> bool:
        """Whether a key was pressed."""
        return bool(self.keyboard.pressed())


@dataclass(frozen=True)
class Lesson:
    """What is practised: the pattern, beats of a bout, stages, how often it is moved, the tempo, the cue."""

    pattern: Pattern
    beats: int
    stages: tuple[Stage, ...]
    sets: int
    way: TempoWay
    sound: CueSound


class LeftError(Exception):
    """The teacher left with q; caught in this module."""


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
@data_option()
@language_option()
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
    takes: Path | None,
    sets: int,
    goal_bpm: float | None,
    step_percent: float,
    code: str | None,
    folder: Path | None,
    language: str,
    folders: tuple[Path, ...],
) -> None:
    """Go from listening over saying, clapping, tapping and stepping in place to moving.

    Any key starts a stage and stops it at once; q leaves. Recordings are deleted after each stage. With
    --learner, whose own tempo is not known yet, it begins with three bouts without a cue.
    """
    pattern = choose_pattern(name, side=side, share=share, language=language, folders=folders)
    phrases, takes = load_phrases(language), takes or takes_folder()
    learner, cautions = None, lesson_cautions(pattern, phrases, None, None, now())
    if code is not None:
        with open_store(folder) as store:
            learner = learner_to_record(store, code)
            pattern = learner.accepting(pattern)
            cautions = lesson_cautions(pattern, phrases, learner, store, now())
    for line in (*told_of_old_takes(takes), *cautions):
        click.echo(line)
    cue = sound_of(learner, tones=sound, loudness_lufs=loudness_lufs, language=language)
    with listening_keyboard() as keyboard, suppress(LeftError):
        room = Room(SoundCard(), takes, keyboard, phrases, learner, folder)
        first_bpm = tempo_bpm or own_bpm(pattern, room) or pattern.tempo.default
        way = TempoWay(first_bpm, goal_bpm or first_bpm, step_percent)
        run_lesson(Lesson(pattern, beats, stages(beats, Doing(first)), sets, way, cue), room)


def own_bpm(pattern: Pattern, room: Room) -> float | None:
    """The learner's own tempo, beats/min: as kept, else found now from bouts without a cue, and kept.

    Raises:
        LeftError: q was pressed.
        DeviceError: a device is missing or was lost.
    """
    learner, phrases = room.learner, room.phrases
    known_bpm = learner.tempo_bpm(pattern.name, pattern.side) if learner else None
    if learner is None or known_bpm is not None:
        return known_bpm
    found, number = _own_in_records(pattern, learner.code, room.folder), 0
    while found is None and number < BOUTS:
        number += 1
        await_key(room, "\n" + phrases.say("practice.own", number=number, of=BOUTS))
        done = bout_alone(room.port, room.takes, pattern, FREE_COURSE, phrases, _show, room.stop)
        tell_and_store(done, conditions_of(pattern, None, Mode.FEET), room)
        rest(done, room)
        found = _own_in_records(pattern, learner.code, room.folder)
    if found is None:
        click.echo(phrases.say("practice.own_not_found"))
        return None
    with open_store(room.folder) as store:
        keep_own_tempo(store, found, learner.code)
    key = "practice.own_found" if found.settled else "practice.own_unsettled"
    click.echo(phrases.say(key, bpm=found.bpm, code=learner.code))
    return found.bpm


def run_lesson(lesson: Lesson, room: Room) -> None:
    """All stages, one after the other; the last one, moving, in sets. Raises as `run_stage`."""
    for stage in lesson.stages:
        if stage.doing is Doing.MOVE:
            run_sets(stage, lesson, room)
            continue
        done = run_stage(stage, lesson, lesson.way.first_bpm, room)
        if done is not None:
            rest(done, room)


def run_sets(stage: Stage, lesson: Lesson, room: Room) -> None:
    """Move, rest, and again, the tempo of each set by how the one before went. Raises as `run_stage`."""
    one = first_set(lesson.sets, lesson.way)
    while True:
        if one.of > 1:
            said = room.phrases.say("practice.set", number=one.number, of=one.of, bpm=one.tempo_bpm)
            click.echo(f"\n{said}")
        done = run_stage(stage, lesson, one.tempo_bpm, room)
        later = one.after(done.verdict.score.measures) if done is not None else None
        if later is None:
            return
        rest(done, room)
        one = later


def run_stage(stage: Stage, lesson: Lesson, tempo_bpm: float, room: Room) -> Done | None:
    """One stage: played only, or played, heard, judged, told and stored; None where it is played only.

    Raises:
        LeftError: q was pressed.
        DeviceError: a device is missing or was lost.
        KeyboardInterrupt: Ctrl-C; what was heard has been told.
    """
    plan = stage.plan(tempo_bpm, lesson.beats)
    given = given_of(lesson.pattern, plan, lesson.sound)  # refused before anything sounds
    await_key(room, f"\n{room.phrases.say(f'practice.{stage.doing.value}')}")
    if not stage.heard:
        passage = room.port.play(render_blocks(given.track), room.stop)
        if passage.ended is Ended.LOST:
            raise DeviceError(f"{passage.lost}: plug it in again, then start again")
        return None
    done = bout_to_cue(room.port, room.takes, given, room.phrases, _show, room.stop)
    note = room.phrases.say("practice.in_place") if stage.doing is Doing.STEP else ""
    tell_and_store(done, conditions_of(lesson.pattern, given.schedule, stage.mode), room, note)
    return done


def tell_and_store(done: Done, conditions: Conditions, room: Room, note: str = "") -> None:
    """Say what was heard, store it where there is a learner, and only then delete the sound.

    Raises:
        KeyboardInterrupt: Ctrl-C ended the bout.
        RecordError: it cannot be stored; the recording stays, and is found at the next start.
    """
    click.echo("\n" + "\n".join(told_live(done, room.phrases, conditions.mode)))
    if room.learner is not None:
        click.echo(stored(done.verdict, room.learner.code, room.folder, conditions, note))
    done.take.discard()
    if done.interrupted:
        raise KeyboardInterrupt


def rest(done: Done, room: Room) -> None:
    """Rest as long as the work was, or until a key; where there is no keyboard a key counts as pressed.

    Raises:
        LeftError: the key was q.
    """
    rest_s = done.verdict.score.recording.duration_s
    click.echo(room.phrases.say("practice.rest", rest_s=rest_s))
    _or_leave(wait_for_key(room.keyboard, rest_s))


def await_key(room: Room, sentence: str) -> None:
    """Say what comes and wait for a key; where there is no keyboard it counts as pressed.

    Raises:
        LeftError: the key was q.
    """
    click.echo(sentence)
    _or_leave(wait_for_key(room.keyboard))


def _or_leave(key: str) -> None:
    if key == _LEAVE:
        raise LeftError


def _own_in_records(pattern: Pattern, code: str, folder: Path | None) -> OwnTempo | None:
    with open_store(folder) as store:
        return own_tempo(store.bouts(code), pattern.name)


def _show(footfall: Footfall) -> None:
    click.echo("o ", nl=False)
