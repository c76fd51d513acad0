"""Options of a cue that several commands share."""

from __future__ import annotations

import click

from cuekit.cli.options import Decimal, Decorator, Whole
from cuekit.cues.loudness import LOUDEST_LUFS, QUIET_LUFS, SOFTEST_LUFS
from cuekit.cues.tones import tone_set_names


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


def say_option() -> Decorator:
    """--say, as `say`."""
    return click.option("--say", is_flag=True, help="Speak the one sentence too, no louder than the cue.")


def ball_option() -> Decorator:
    """--ball, as `ball`."""
    return click.option("--ball", is_flag=True, help="Show a bouncing ball with the sound.")


def silent_option() -> Decorator:
    """--silent, as `silent`."""
    return click.option("--silent", is_flag=True, help="No sound: the bouncing ball alone is the cue.")
