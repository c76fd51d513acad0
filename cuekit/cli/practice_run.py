"""The stages of a practice in the terminal: say what comes, play, listen, tell, ask the eye, store, rest."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from cuekit.bouts.audio_port import Ended, NamedPort
from cuekit.bouts.given import Given, given_of
from cuekit.bouts.keys import Keyboard, wait_for_key
from cuekit.bouts.live_text import told_live
from cuekit.bouts.practice import Doing, Stage, TempoWay, first_set
from cuekit.bouts.preparing import FREE_COURSE, conditions_of
from cuekit.bouts.session import Done, bout_alone
from cuekit.bouts.storing import keep_own_tempo
from cuekit.cli.eye_marks import Answers, ask_eye
from cuekit.cli.live_bout import Speaker, bout_kept, cued_bout
from cuekit.cli.live_records import stored
from cuekit.cli.live_view import show_silently, view_of
from cuekit.cli.record_options import now, open_store
from cuekit.cues.cue_sound import CueSound
from cuekit.cues.render import render_blocks
from cuekit.errors import DeviceError
from cuekit.patterns.pattern import Pattern
from cuekit.records.bout_record import Conditions, CueKind, Mode
from cuekit.records.learner import Learner
from cuekit.records.own_tempo import BOUTS, OwnTempo, own_tempo
from cuekit.telling.phrases import Phrases

_LEAVE = "q"


@dataclass(frozen=True)
class Room:
    """What a stage needs beside itself.

    Attributes:
        port, takes, keyboard, phrases: the device, where takes go, the keyboard, the words.
        kind: how the cue comes.
        ball: whether a bouncing ball is shown.
        learner: whose bouts are stored; None where nothing is.
        folder: of the records; None for the usual place.
        speaker: speaks the one sentence; None where it is only shown.
    """

    port: NamedPort
    takes: Path
    keyboard: Keyboard
    phrases: Phrases
    kind: CueKind = CueKind.SOUND
    ball: bool = False
    learner: Learner | None = None
    folder: Path | None = None
    speaker: Speaker | None = None

    def stop(self) -> bool:
        """Whether a key was pressed."""
        return bool(self.keyboard.pressed())


@dataclass(frozen=True)
class Lesson:
    """What is practised.

    Attributes:
        pattern, beats, stages: of each bout, and the bouts.
        sets: how often it is moved.
        way: where the tempo may go.
        sound: of the cue.
        asked: the pattern in the language of the teacher, for the eye's questions.
        step_eye: the question of that step; empty for none.
        step: of the teacher's ladder, stored with each set; empty for none.
    """

    pattern: Pattern
    beats: int
    stages: tuple[Stage, ...]
    sets: int
    way: TempoWay
    sound: CueSound
    asked: Pattern
    step: str = ""
    step_eye: str = ""


class LeftError(Exception):
    """The teacher left with q."""


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
        heard = view_of(None, ball=False).heard
        with bout_kept(room.takes, phrases):
            done = bout_alone(room.port, room.takes, pattern, FREE_COURSE, phrases, heard, room.stop)
            tell_and_store(done, pattern, conditions_of(pattern, None, Mode.FEET), room)
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
    table = "practice.seen" if room.kind is CueKind.VISUAL else "practice"
    await_key(room, f"\n{room.phrases.say(f'{table}.{stage.doing.value}')}")
    if not stage.heard:
        play_only(given, room)
        return None
    view = view_of(given, ball=room.ball)
    step = lesson.step if stage.doing is Doing.MOVE else ""
    conditions = conditions_of(lesson.pattern, given.schedule, stage.mode, room.kind, step)
    with bout_kept(room.takes, room.phrases):
        done = cued_bout(room.port, room.takes, given, room.kind, room.phrases, view, room.stop)
        tell_and_store(done, lesson.asked, conditions, room, lesson.step_eye if step else "")
    return done


def play_only(given: Given, room: Room) -> None:
    """Play or show a cue; the microphone stays shut.

    Raises:
        DeviceError: the loudspeaker is missing or was lost.
    """
    view = view_of(given, ball=room.ball)
    if room.kind is CueKind.VISUAL:
        show_silently(given, view.at, room.stop)
        return
    passage = room.port.play(render_blocks(given.track), room.stop, view.at)
    if passage.ended is Ended.LOST:
        raise DeviceError(f"{passage.lost}: plug it in again, then start again")


def tell_and_store(
    done: Done, pattern: Pattern, conditions: Conditions, room: Room, step_eye: str = ""
) -> None:
    """Say what was heard, ask the eye, store both where there is a learner, and only then delete the sound.

    Raises:
        RecordError: it cannot be stored; the recording stays, and is found at the next start.
    """
    ended, answers = now(), Answers()
    click.echo("\n" + "\n".join(told_live(done, room.phrases, conditions.mode)))
    if room.speaker is not None and not done.interrupted:
        room.speaker.say(done.verdict.score.advice.summary, room.port, room.stop)
    if room.learner is not None:
        if not done.interrupted:
            answers = ask_eye(room.keyboard, pattern, room.phrases, conditions.mode, step_eye)
        click.echo(stored(done.verdict, room.learner.code, room.folder, conditions, answers, ended))
    done.take.discard()


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
