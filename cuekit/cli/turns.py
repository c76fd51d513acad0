"""`cuekit turns`: a small group in one lesson; one key switches the learner, one key records a bout."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from cuekit.bouts.audio_port import NamedPort
from cuekit.bouts.checked_devices import checks_folder, recall
from cuekit.bouts.given import given_of, sound_of
from cuekit.bouts.keys import Keyboard, listening_keyboard, wait_for_key
from cuekit.bouts.live_text import told_live
from cuekit.bouts.preparing import conditions_of, learner_to_record, lesson_cautions
from cuekit.bouts.session import bout_to_cue
from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.eye_marks import Answers, ask_eye
from cuekit.cli.live_bout import bout_kept
from cuekit.cli.live_records import stored
from cuekit.cli.options import Whole, choose_pattern, folders_option
from cuekit.cli.record_options import Code, OneOf, data_option, now, open_store
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.errors import RecordError
from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import CueLevel, Plan
from cuekit.records.bout_record import Mode
from cuekit.records.learner import Learner
from cuekit.records.roster import Roster, roster_of
from cuekit.telling.phrases import load_phrases

KEYS = "space: a bout   n: next   p: before   1-9: that one   q: leave"
_GO, _NEXT, _BEFORE, _LEAVE = (" ", "\r", "\n"), "n", "p", "q"


@dataclass(frozen=True)
class Gym:
    """What the bouts of a group share: device, takes, keyboard, cue, records, own patterns."""

    port: NamedPort
    takes: Path
    keyboard: Keyboard
    level: CueLevel
    beats: int
    folder: Path | None
    folders: tuple[Path, ...]


@click.command()
@click.argument("codes", type=Code(), nargs=-1)
@click.option(
    "--cue", "level", type=OneOf(CueLevel), default=CueLevel.C4, show_default=True, help="What is played."
)
@click.option("--beats", type=Whole(4, 200, "beats"), default=16, show_default=True, help="Beats of a bout.")
@data_option()
@take_option()
@folders_option()
def command(
    codes: tuple[str, ...],
    level: CueLevel,
    beats: int,
    folder: Path | None,
    takes: Path | None,
    folders: tuple[Path, ...],
) -> None:
    """Let a small group take turns: CODES, or those seen today. One key is the next learner.

    Each bout is of the learner's own skill, at their own tempo, with their sounds, under their loudness
    cap, and stored under the code that is shown; what only the eye knows is asked after it, a key a question.
    """
    takes = takes or takes_folder()
    with open_store(folder) as store:
        roster = roster_of(store, codes, now())
    for line in (*told_of_old_takes(takes), KEYS):
        click.echo(line)
    with listening_keyboard() as keyboard:
        if not keyboard.there:
            raise RecordError("turns are taken at the keyboard: run this in a terminal")
        take_turns(roster, Gym(SoundCard(), takes, keyboard, level, beats, folder, folders))


def take_turns(roster: Roster, gym: Gym) -> None:
    """Keys until q: switch, or a bout of the one whose turn it is.

    Raises:
        DeviceError: a device is missing or was lost.
        KeyboardInterrupt: Ctrl-C; what was heard has been told and stored.
    """
    click.echo(told(roster, gym))
    while (key := wait_for_key(gym.keyboard)) != _LEAVE:
        if key in _GO:
            one_bout(roster.turn, gym)
            continue
        switched = _switched(roster, key)
        if switched is not None:
            roster = switched
            click.echo(told(roster, gym))


def told(roster: Roster, gym: Gym) -> str:
    """One line: whose turn it is and how their bout is set up, then the others by their numbers."""
    with open_store(gym.folder) as store:
        learner = store.learner(roster.turn).noun
    tempo_bpm = learner.tempo_bpm(learner.skill)
    parts = [
        learner.code,
        learner.skill or "NO SKILL SET",
        learner.step,
        "" if tempo_bpm is None else f"{tempo_bpm:g}/min",
        "" if learner.ceiling_db is None else f"cap {learner.ceiling_db:g} dB",
        "" if learner.recording_allowed else "NO RECORDING: count by hand",
        learner.restrictions,
    ]
    others = "  ".join(f"{n} {code}" for n, code in enumerate(roster.codes, start=1))
    return f"\n>> {'  '.join(part for part in parts if part)}\n   {others}"


def one_bout(code: str, gym: Gym) -> None:
    """A bout of one learner to their own cue, told and stored; a refusal is told and the turn goes on."""
    try:
        with open_store(gym.folder) as store:
            learner = learner_to_record(store, code)
            pattern = learner.accepting(_pattern(learner, gym))
            phrases = load_phrases(learner.language)
            cautions = lesson_cautions(pattern, phrases, learner, store, now())
        tempo_bpm = learner.tempo_bpm(pattern.name, pattern.side) or pattern.tempo.default
        given = given_of(pattern, Plan(tempo_bpm, gym.beats, gym.level), sound_of(learner))
    except RecordError as refusal:
        click.echo(str(refusal))
        return
    for line in cautions:
        click.echo(line)

    def stop() -> bool:
        return bool(gym.keyboard.pressed())

    pair = recall(checks_folder(), *gym.port.names())
    beyond_s = pair.beyond_buffers_s if pair else None
    with bout_kept(gym.takes, phrases):
        done = bout_to_cue(gym.port, gym.takes, given, phrases, _show, stop, beyond_s)
        ended = now()
        click.echo("\n" + "\n".join(told_live(done, phrases, Mode.FEET)))
        answers = Answers() if done.interrupted else ask_eye(gym.keyboard, pattern, phrases, Mode.FEET)
        conditions = conditions_of(pattern, given.schedule, Mode.FEET, step=learner.step)
        click.echo(stored(done.verdict, code, gym.folder, conditions, answers, ended))
        done.take.discard()


def _show(footfall: Footfall) -> None:
    click.echo("o ", nl=False)


def _pattern(learner: Learner, gym: Gym) -> Pattern:
    if not learner.skill:
        raise RecordError(f"which skill? cuekit learner set {learner.code} --skill gallop")
    return choose_pattern(
        learner.skill, side=None, share=None, language=learner.language, folders=gym.folders
    )


def _switched(roster: Roster, key: str) -> Roster | None:
    """The roster after a key; None where the key does not switch."""
    if key == _NEXT:
        return roster.next()
    if key == _BEFORE:
        return roster.previous()
    if key.isdecimal() and 1 <= int(key) <= len(roster.codes):
        return Roster(roster.codes, int(key) - 1)
    return None
