"""The room check as it happens: five seconds of nobody moving, then the stamps; and what is told of it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from cuekit.bouts.audio_port import AudioPort, OnClock, Stop, never, unwatched
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.events import Recording
from cuekit.hearing.recordings import recording_of
from cuekit.hearing.room_check import STAMPS, STILL_S, RoomCheck, RoomReason
from cuekit.telling.phrases import Phrases

STAMPING_S = 7.0


def record_room(
    port: AudioPort,
    name: str,
    on_stamps: Callable[[], None],
    stop: Stop = never,
    on_clock: OnClock = unwatched,
) -> Recording:
    """Record the still time and the stamps; kept in memory only.

    Parameters
    ----------
    port : the microphone
    name : of the recording
    on_stamps : called once, when it is time to stamp
    stop, on_clock : see `AudioPort`

    Raises
    ------
    DeviceError
        There is no microphone.
    """
    blocks: list[np.ndarray] = []
    asked: list[bool] = []

    def seconds() -> float:
        return sum(block.size for block in blocks) / SAMPLE_RATE_HZ

    def listener(block: np.ndarray) -> None:
        blocks.append(block.copy())
        if seconds() >= STILL_S and not asked:
            asked.append(True)
            on_stamps()

    port.record(listener, lambda: stop() or seconds() >= STILL_S + STAMPING_S, on_clock)
    samples = np.concatenate(blocks) if blocks else np.zeros(0, np.float32)
    return recording_of(samples, SAMPLE_RATE_HZ, name)


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
