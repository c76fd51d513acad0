"""`cuekit listen`: record one bout, hands-free, and say one sentence."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction
from pathlib import Path

import click

from cuekit.bouts.audio_port import NamedPort, Stop
from cuekit.bouts.checked_devices import checks_folder, recall
from cuekit.bouts.keys import Keyboard, listening_keyboard
from cuekit.bouts.live import Course
from cuekit.bouts.live_text import told_live
from cuekit.bouts.live_verdict import Given
from cuekit.bouts.preparing import (
    conditions_of,
    given_of,
    learner_to_record,
    lesson_cautions,
    sound_of,
)
from cuekit.bouts.session import Done, bout_alone, bout_to_cue
from cuekit.bouts.sound_card import SoundCard
from cuekit.bouts.take_file import takes_folder
from cuekit.cli.cue_choice import full_option, loudness_option, softer_option, sound_option
from cuekit.cli.live_records import stored
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
from cuekit.cli.record_options import Code, OneOf, data_option, now, open_store
from cuekit.cli.takes import take_option, told_of_old_takes
from cuekit.cues.cue_sound import USUAL_TONES
from cuekit.errors import RecordError
from cuekit.files.filenames import shown
from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Pattern, Side
from cuekit.patterns.schedule import CueLevel, Fade, Plan
from cuekit.records.bout_record import Mode
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
@click.option(
    "--mode",
    type=OneOf(Mode),
    default=Mode.FEET.value,
    show_default=True,
    help="What makes the rhythm; each is judged alike.",
)
@click.option("--json", "json_wanted", is_flag=True, help="Print one JSON object instead of sentences.")
@click.option("--keep", "keep_reason", metavar="REASON", help="Keep the recording, for this reason.")
@click.option(
    "--delete-by", type=click.DateTime(["%Y-%m-%d"]), metavar="DATE", help="When a kept one is to be gone."
)
@click.option(
    "--learner", "code", type=Code(), metavar="CODE", help="Store the bout for this learner: numbers only."
)
@data_option()
@take_option()
@language_option()
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
    mode: Mode,
    json_wanted: bool,
    keep_reason: str | None,
    delete_by: object,
    code: str | None,
    folder: Path | None,
    takes: Path | None,
    language: str,
    folders: tuple[Path, ...],
) -> None:
    """Record one bout and say whether the feet kept the rhythm of PATTERN.

    It ends about 3 s after the last footfall, at the set length, or at any key. The recording is deleted
    after scoring unless --keep says why it is kept.
    """
    keep = _keep(keep_reason, delete_by)
    pattern = choose_pattern(name, side=side, share=share, language=language, folders=folders)
    phrases, takes = load_phrases(language), takes or takes_folder()
    learner, cautions, given = None, (), None
    if code is not None:
        with open_store(folder) as store:
            learner = learner_to_record(store, code)
            pattern = learner.accepting(pattern)
            cautions = lesson_cautions(pattern, phrases, learner, store, now())
    if level is not None:
        own_bpm = learner.tempo_bpm(pattern.name, pattern.side) if learner else None
        plan = Plan(
            tempo_bpm or own_bpm or pattern.tempo.default, beats, CueLevel(level.upper()), Fade(full, softer)
        )
        cue = sound_of(learner, tones=sound, loudness_lufs=loudness_lufs, language=language)
        given = given_of(pattern, plan, cue)
    for line in (*told_of_old_takes(takes), *cautions):
        click.echo(line, err=True)
    with listening_keyboard() as keyboard:
        await_start(Start(start), keyboard, phrases, err=json_wanted)
        watch = (lambda footfall: None) if json_wanted else show_footfall
        done = run(
            SoundCard(), takes, pattern, given, longest_s, phrases, watch, lambda: bool(keyboard.pressed())
        )
    told = as_json(done.verdict.score) if json_wanted else "\n" + "\n".join(told_live(done, phrases, mode))
    click.echo(told)
    if code is not None:
        conditions = conditions_of(pattern, given.schedule if given else None, mode)
        click.echo(stored(done.verdict, code, folder, conditions), err=json_wanted)
    if keep is None:
        done.take.discard()
    else:
        kept = done.take.keep(keep.reason, keep.delete_by)
        click.echo(f"kept until {kept.delete_by}: {shown(kept.path)}", err=True)
    if done.interrupted:
        raise KeyboardInterrupt


def run(
    port: NamedPort,
    folder: Path,
    pattern: Pattern,
    given: Given | None,
    longest_s: float,
    phrases: Phrases,
    watch: Callable[[Footfall], None],
    stop: Stop,
) -> Done:
    """One bout, to a cue where there is one."""
    if given is not None:
        pair = recall(checks_folder(), *port.names())
        beyond_s = pair.beyond_buffers_s if pair else None
        return bout_to_cue(port, folder, given, phrases, watch, stop, beyond_s)
    return bout_alone(port, folder, pattern, Course(longest_s), phrases, watch, stop)


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


def show_footfall(footfall: Footfall) -> None:
    """A mark for each landing, as it is heard."""
    click.echo("o ", nl=False)


def _keep(reason: str | None, delete_by: object) -> Keep | None:
    if (reason is None) != (delete_by is None):
        raise RecordError(
            "a recording is kept for a reason and until a day: give --keep and --delete-by together"
        )
    return None if reason is None else Keep(reason, delete_by.date())
