"""`cuekit room`: five seconds of the room and four stamps, and whether it will do."""

from __future__ import annotations

from pathlib import Path

import click
import numpy as np

from cuekit.bouts.sound_card import SoundCard
from cuekit.cli.options import language_option
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.events import Recording
from cuekit.hearing.recordings import recording_of
from cuekit.hearing.room_check import STAMPS, STILL_S, RoomCheck, RoomReason, check_room
from cuekit.hearing.soundfiles import read_recording
from cuekit.telling.phrases import Phrases, load_phrases

STAMPING_S = 7.0


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


def told_room(check: RoomCheck, phrases: Phrases) -> list[str]:
    """What was found and what to do, in words."""
    lines = [
        phrases.say(f"room.{check.verdict.value}"),
        phrases.say("room.stamps", heard=check.stamps, asked=STAMPS),
    ]
    if check.ghosts:
        lines.append(phrases.say("room.ghosts", ghosts=check.ghosts))
    if check.reason is not RoomReason.NONE:
        lines.append(phrases.say(f"room.tip_{check.reason.value}"))
    return lines


def _recorded(phrases: Phrases) -> Recording:
    """Record the still time and the stamps; kept in memory only."""
    blocks: list[np.ndarray] = []
    asked: list[str] = []

    def seconds() -> float:
        return sum(block.size for block in blocks) / SAMPLE_RATE_HZ

    def listener(block: np.ndarray) -> None:
        blocks.append(block.copy())
        if seconds() >= STILL_S and not asked:
            asked.append(phrases.say("room.stamp_now", stamps=STAMPS))
            click.echo(asked[0])

    click.echo(phrases.say("room.keep_still", seconds=round(STILL_S)))
    SoundCard().record(listener, lambda: seconds() >= STILL_S + STAMPING_S)
    samples = np.concatenate(blocks) if blocks else np.zeros(0, np.float32)
    return recording_of(samples, SAMPLE_RATE_HZ, phrases.say("room.name"))
