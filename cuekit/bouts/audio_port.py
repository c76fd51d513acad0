"""What is asked of a sound device, whichever it is: play, record, or both on one clock.

Sound comes and goes in blocks, so that an hour costs no more memory than a second. On one clock
means: sample n of the recording was taken in when sample n of the cue was handed to the device. The
two are apart by a delay that differs from take to take; it is read from the recording itself
(`cuekit.bouts.cue_leak`) or, where the cue cannot be heard in it, roughly from the device's own stamps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np

Listener = Callable[[np.ndarray], None]
"""Is given what was recorded as it comes: mono float32 blocks at 48 kHz, in order, each once."""

Stop = Callable[[], bool]
"""Asked several times in 100 ms whether to stop; from then on nothing sounds any more."""

OnClock = Callable[[float], None]
"""Is told some 50 times a second where the take is, s from its first sample: what sounds at the loudspeaker
now (the device still holds what was handed over last), or where nothing is played what was taken in."""


def unwatched(now_s: float) -> None:
    """An `OnClock` for nobody."""


def never() -> bool:
    """A `Stop` that lets it run to the end."""
    return False


class SlipKind(StrEnum):
    """What the device owned up to, or its clock showed."""

    LOST_INPUT = "lost input"  # samples from the microphone were dropped
    LATE_OUTPUT = "late output"  # the loudspeaker ran dry, and the two clocks may have moved apart


@dataclass(frozen=True)
class Slip:
    """A place where the time line of a take is broken.

    Attributes:
        kind: in which way.
        frame: sample of the recording (of the cue, where nothing is recorded) just after it.
        lost_s: how much sound is missing there, s; None where that is not known.
    """

    kind: SlipKind
    frame: int
    lost_s: float | None = None


class Ended(StrEnum):
    """Why the device is quiet again."""

    PLAYED = "played to the end"
    STOPPED = "stopped when asked"
    LOST = "the device was lost"


@dataclass(frozen=True)
class Passage:
    """What became of a playback, a recording, or both.

    Attributes:
        ended: why it is over.
        recorded, played: samples taken in, and handed over (some silence after the cue among them).
        slips: broken places, in order.
        lost: what was lost, for the teacher; empty unless `ended` says so.
        stamped_delay_s: from handing a sample over to taking in its sound as the device claims it, s;
            some ms from the truth, and silent on what the air and a wireless link add. None without.
        first_sample_s: when the first sample was taken in by the device's own clock, s; None without.
    """

    ended: Ended
    recorded: int
    played: int
    slips: tuple[Slip, ...] = ()
    lost: str = ""
    stamped_delay_s: float | None = None
    first_sample_s: float | None = None


class AudioPort(Protocol):
    """A sound device.

    All three raise DeviceError where nothing can be opened; a device lost later is told in the
    `Passage`, and what was heard until then has reached the listener.
    """

    def play(self, cue: Iterable[np.ndarray], stop: Stop, on_clock: OnClock = unwatched) -> Passage:
        """Play mono float32 blocks at 48 kHz to their end."""
        ...

    def record(self, listener: Listener, stop: Stop, on_clock: OnClock = unwatched) -> Passage:
        """Record until stopped."""
        ...

    def play_and_record(
        self, cue: Iterable[np.ndarray], listener: Listener, stop: Stop, on_clock: OnClock = unwatched
    ) -> Passage:
        """Record until stopped, the cue playing from the first sample on; silence follows it."""
        ...


class NamedPort(AudioPort, Protocol):
    """A sound device whose parts have names, by which its check is remembered."""

    def names(self) -> tuple[str, str]:
        """Of the loudspeaker and the microphone that will be used."""
        ...
