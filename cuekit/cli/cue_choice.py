"""Which sounds a schedule is given, by what was asked for on the command line."""

from __future__ import annotations

from pathlib import Path

import click

from cuekit.cli.options import Decimal, Decorator, Whole
from cuekit.cues.cueing import ChosenCues, choose_cues, choose_glide
from cuekit.cues.loudness import LOUDEST_LUFS, QUIET_LUFS, SOFTEST_LUFS
from cuekit.cues.tones import tone_set, tone_set_names
from cuekit.cues.voice import Voice
from cuekit.cues.words import joined, load_own_voice, load_voice
from cuekit.patterns.schedule import Schedule

USUAL_SOUND = tone_set_names()[0]


def sound_option(help_text: str) -> Decorator:
    """--sound, as `sound`; None where left out."""
    names = click.Choice(tone_set_names(), case_sensitive=False)
    return click.option("--sound", type=names, help=help_text)


def loudness_option() -> Decorator:
    """--loudness, as `loudness_lufs`."""
    return click.option(
        "--loudness",
        "loudness_lufs",
        type=Decimal(SOFTEST_LUFS, LOUDEST_LUFS, "LUFS"),
        default=QUIET_LUFS,
        show_default=True,
        help="How loud; it cannot go above the ceiling. Start quiet.",
    )


def full_option() -> Decorator:
    """--full, as `full`: the first part of a fade."""
    help_text = "Fade: full cue for N beats, then less."
    return click.option("--full", type=Whole(0, 10_000, "beats"), metavar="N", help=help_text)


def softer_option() -> Decorator:
    """--softer, as `softer`: the second part of a fade."""
    help_text = "Fade: softer for N beats after."
    return click.option("--softer", type=Whole(0, 10_000, "beats"), default=0, metavar="N", help=help_text)


def cues_of(schedule: Schedule, sound: str, glide: bool, folder: Path | None, language: str) -> ChosenCues:
    """The sounds asked for; a voice is loaded only where words are to be said."""
    tones = tone_set(sound)
    if glide:
        return choose_glide(schedule, tones)
    if not any(cue.spoken for cue in schedule.cues):
        return choose_cues(schedule, tones)
    return choose_cues(schedule, tones, _voice(schedule, folder, language))


def _voice(schedule: Schedule, folder: Path | None, language: str) -> Voice:
    """The teacher's own words first, the shipped ones for the rest."""
    said = {cue.word for cue in schedule.cues if cue.spoken and cue.word}
    if folder is None:
        return load_voice(language, only=said)
    own = load_own_voice(folder)
    return joined(own, load_voice(language, only=said - set(own.texts)))
