"""`cuekit listen`: record one bout, hands-free, and say one sentence."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.gaps import gaps_of
from cuekit.bouts.given import given_of, sound_of
from cuekit.bouts.keys import Keyboard, listening_keyboard
from cuekit.bouts.live import Course
from cuekit.bouts.live_text import told_live
from cuekit.bouts.preparing import conditions_of, learner_to_record, lesson_cautions
from cuekit.bouts.session import bout_alone
from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.cue_choice import (
    ball_option,
    full_option,
    loudness_option,
    say_option,
    silent_option,
    softer_option,
    sound_option,
)
from cuekit.cli.eye_marks import Answers, ask_eye, step_question
from cuekit.cli.live_bout import Speaker, bout_kept, cued_bout, nothing_recorded
from cuekit.cli.live_records import stored
from cuekit.cli.live_view import NoView, view_of
from cuekit.cli.options import (
    Decimal,
    Whole,
    choose_pattern,
    folders_option,
    own_language_option,
    ratio_option,
    side_option,
    tempo_option,
)
from cuekit.cli.record_options import STEP_HELP, Code, OneOf, data_option, now, open_store, step_of_ladder
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.cues.cue_sound import USUAL_TONES
from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.patterns.pattern import Pattern, Side
from cuekit.patterns.schedule import CueLevel, Fade, Plan
from cuekit.records.bout_record import CueKind, Mode
from cuekit.records.learner import Learner
from cuekit.telling.contract import as_json
from cuekit.telling.phrases import Phrases, load_phrases

COUNTDOWN_S = 5
_POLL_S = 0.02


class Start(StrEnum):
    """What starts a bout."""

    KEY = "key"
    COUNTDOWN = "countdown"
    FOOTFALL = "footfall"


@dataclass(frozen=True)
class Keep:
    """That a recording is to be kept, why and until when."""

    reason: str
    delete_by: date


@click.command()
@click.argument("name", metavar="PATTERN")
@side_option()
@ratio_option()
@tempo_option("Beats a minute of the cue; the learner's own, or the pattern's, where left out.")
@click.option(
    "--start",
    type=click.Choice([start.value for start in Start]),
    default=Start.KEY.value,
    show_default=True,
    help="Any key (a clicker is one), a countdown of 5 s, or the first footfall.",
)
@click.option(
    "--longest",
    "longest_s",
    type=Decimal(5, 3600, "s"),
    default=60.0,
    show_default=True,
    metavar="S",
    help="When a bout without a cue ends at the latest.",
)
@click.option(
    "--cue",
    "level",
    type=click.Choice([level.value for level in CueLevel], case_sensitive=False),
    help="Play the cue while listening: C5 words ... C1 count-in only. Silent where left out.",
)
@click.option(
    "--beats",
    type=Whole(1, 1000, "beats"),
    default=16,
    show_default=True,
    metavar="N",
    help="How many beats of cue, the silent ones of a fade among them.",
)
@full_option()
@softer_option()
@sound_option(f"Which sounds; let the child choose. The learner's own, or {USUAL_TONES}, where left out.")
@loudness_option()
@ball_option()
@silent_option()
@click.option(
    "--mode",
    type=OneOf(Mode),
    default=Mode.FEET.value,
    show_default=True,
    help="What makes the rhythm; each is judged alike.",
)
@say_option()
@click.option("--json", "json_wanted", is_flag=True, help="Print one JSON object instead of sentences.")
@click.option("--keep", "keep_reason", metavar="REASON", help="Keep the recording, for this reason.")
@click.option(
    "--delete-by", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="When a kept one is to be gone."
)
@click.option(
    "--learner", "code", type=Code(), metavar="CODE", help="Store the bout for this learner: numbers only."
)
@click.option("--step", default="", metavar="STEP", help=STEP_HELP)
@data_option()
@take_option()
@own_language_option()
@folders_option()
def command(
    name: str,
    side: Side | None,
    share: Fraction | None,
    tempo_bpm: float | None,
    start: str,
    longest_s: float,
    level: str | None,
    beats: int,
    full: int | None,
    softer: int,
    sound: str | None,
    loudness_lufs: float,
    ball: bool,
    silent: bool,
    mode: Mode,
    say: bool,
    json_wanted: bool,
    keep_reason: str | None,
    delete_by: object,
    code: str | None,
    step: str,
    folder: Path | None,
    takes: Path | None,
    language: str | None,
    folders: tuple[Path, ...],
) -> None:
    """Record one bout and say whether the feet kept the rhythm of PATTERN.

    It ends about 3 s after the last footfall, at the set length, or at any key. The recording is deleted
    after scoring unless --keep says why it is kept.
    """
    if (ball or silent) and (level is None or json_wanted):
        raise click.UsageError("--ball and --silent show a cue: give --cue, and leave out --json")
    keep, phrases = _keep(keep_reason, delete_by), load_phrases(language or "en")
    takes, learner = takes or takes_folder(), None
    if code is not None:
        with open_store(folder) as store:
            learner = learner_to_record(store, code)
    cue = sound_of(learner, tones=sound, loudness_lufs=loudness_lufs, language=language)
    speaker = Speaker(language or "en", cue.loudness_lufs) if say else None
    pattern = choose_pattern(name, side=side, share=share, language=cue.language, folders=folders)
    pattern = pattern if learner is None else learner.accepting(pattern)
    step = step_of_ladder(step, pattern.name, folders)
    given, kind = None, CueKind.VISUAL if silent else CueKind.SOUND
    if level is not None:
        own_bpm = learner.tempo_bpm(pattern.name, pattern.side) if learner else None
        asked_bpm = tempo_bpm or own_bpm or pattern.tempo.default
        given = given_of(pattern, Plan(asked_bpm, beats, CueLevel(level.upper()), Fade(full, softer)), cue)
    view = NoView() if json_wanted else view_of(given, ball=ball or silent)
    for line in (*told_of_old_takes(takes), *_cautions(pattern, phrases, learner, folder)):
        click.echo(line, err=True)
    conditions = conditions_of(pattern, given.schedule if given else None, mode, kind, step)
    answers = Answers()
    with listening_keyboard() as keyboard:
        with nothing_recorded(phrases):
            await_start(Start(start), keyboard, phrases, err=json_wanted)
        with bout_kept(takes, phrases):
            card, stop = SoundCard(), lambda: bool(keyboard.pressed())
            if given is not None:
                done = cued_bout(card, takes, given, kind, phrases, view, stop)
            else:
                done = bout_alone(card, takes, pattern, Course(longest_s), phrases, view.heard, stop)
            ended, told = now(), "\n" + "\n".join(told_live(done, phrases, mode))
            verdict = done.verdict
            text = as_json(verdict.score, asynchrony=verdict.asynchrony, kept_beats=verdict.kept)
            click.echo(text if json_wanted else told)
            if speaker is not None and not done.interrupted:
                speaker.say(verdict.score.advice.summary, card, stop)
            if code is not None and not json_wanted and not done.interrupted:
                spoken = language or "en"
                asked = choose_pattern(name, side=side, share=share, language=spoken, folders=folders)
                answers = ask_eye(keyboard, asked, phrases, mode, step_question(step, spoken))
            if code is not None:
                click.echo(stored(done.verdict, code, folder, conditions, answers, ended), err=json_wanted)
            if keep is None:
                done.take.discard()
            else:
                kept = done.take.keep(keep.reason, keep.delete_by, gaps_of(done.bout.passage.slips))
                click.echo(f"kept until {kept.delete_by}: {shown(kept.path)}", err=True)


def await_start(start: Start, keyboard: Keyboard, phrases: Phrases, *, err: bool = False) -> None:
    """Wait for what starts the bout; where there is no keyboard a key counts as pressed."""
    if start is Start.KEY and keyboard.there:
        click.echo(phrases.say("live.press"), err=err)
        while not keyboard.pressed():
            time.sleep(_POLL_S)
    elif start is Start.COUNTDOWN:
        for left in range(COUNTDOWN_S, 0, -1):
            click.echo(f"{left} ", nl=False, err=err)
            time.sleep(1.0)
    click.echo(phrases.say("live.listening"), err=err)


def _cautions(
    pattern: Pattern, phrases: Phrases, learner: Learner | None, folder: Path | None
) -> tuple[str, ...]:
    """What is shown before a stored bout: once a lesson, so not where no lesson is kept."""
    if learner is None:
        return ()
    with open_store(folder) as store:
        return lesson_cautions(pattern, phrases, learner, store, now())


def _keep(reason: str | None, delete_by: object) -> Keep | None:
    if (reason is None) != (delete_by is None):
        raise RecordError(
            "a recording is kept for a reason and until a day: give --keep and --delete-by together"
        )
    return None if reason is None else Keep(reason, delete_by.date())
