"""`cuekit room`: five seconds of the room and four stamps, and whether it will do."""

from __future__ import annotations

from pathlib import Path

import click

from cuekit.bouts.room import record_room, told_room
from cuekit.bouts.sound_card import SoundCard
from cuekit.cli.options import language_option
from cuekit.hearing.events import Recording
from cuekit.hearing.room_check import STAMPS, STILL_S, check_room
from cuekit.hearing.soundfiles import read_recording
from cuekit.telling.phrases import Phrases, load_phrases


@click.command()
@click.argument("file", required=False, type=click.Path(path_type=Path))
@language_option()
def command(file: Path | None, language: str) -> None:
    """Say whether the room will do: keep still for 5 seconds, then stamp 4 times where the learner will be.

    With FILE, a recording made that way is judged instead. Nothing is kept.
    """
    phrases = load_phrases(language)
    recording = _recorded(phrases) if file is None else read_recording(file)
    for line in told_room(check_room(recording), phrases):
        click.echo(line)


def _recorded(phrases: Phrases) -> Recording:
    click.echo(phrases.say("room.keep_still", seconds=round(STILL_S)))
    stamp_now = phrases.say("room.stamp_now", stamps=STAMPS)
    return record_room(SoundCard(), phrases.say("room.name"), lambda: click.echo(stamp_now))
