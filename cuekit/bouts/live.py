"""One bout as it happens: the cue out, the recording to the disk, footfalls told as they land.

It ends by itself, as the teacher's hands are full: some seconds after the last footfall, or at the set
length. Whatever ends it, a pulled plug and Ctrl-C among them, what was recorded is in the take.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np

from cuekit.bouts.audio_port import AudioPort, Ended, OnClock, Passage, Stop, unwatched
from cuekit.bouts.take_file import TakeFile
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.events import Footfall
from cuekit.hearing.thirds import Thirds


class StreamingEar(Protocol):
    """Hears footfalls in samples as they come (`cuekit.hearing.live_ear.LiveEar`)."""

    def push(self, samples: np.ndarray) -> tuple[Footfall, ...]:
        """Add mono samples at 16 kHz; footfalls decided now, s from the first sample pushed."""
        ...


OnFootfall = Callable[[Footfall], None]


@dataclass(frozen=True)
class Course:
    """How a bout runs. Times from the first sample, s.

    Attributes:
        longest_s: when it ends at the latest.
        listens_from_s: when footfalls begin to count; those before are in the take only.
        wait_s: how long the first footfall is waited for after that.
        quiet_s: silence of the feet that ends the bout.
        dead_s: exact zeros that mean a microphone cut off; a live one always has some noise.
    """

    longest_s: float
    listens_from_s: float = 0.0
    wait_s: float = 30.0
    quiet_s: float = 3.0
    dead_s: float = 2.0


class BoutEnd(StrEnum):
    """Why a bout is over."""

    QUIET = "no more footfalls"
    NOBODY = "no footfall came"
    LENGTH = "the set length"
    ASKED = "stopped by hand"
    LOST = "the device was lost"
    DEAD = "the microphone went dead"
    DISK = "the disk refused"


@dataclass(frozen=True)
class LiveBout:
    """What happened.

    Attributes:
        end: why it is over.
        passage: what the device says of it.
        footfalls: as heard live.
        trouble: what went wrong, one sentence; empty for nothing.
        until_s: until when there is sound, s.
    """

    end: BoutEnd
    passage: Passage
    footfalls: tuple[Footfall, ...]
    trouble: str
    until_s: float


def record_bout(
    port: AudioPort,
    take: TakeFile,
    ear: StreamingEar,
    course: Course,
    on_footfall: OnFootfall,
    asked: Stop,
    on_clock: OnClock = unwatched,
) -> LiveBout:
    """Record a bout without a cue that sounds.

    Raises:
        DeviceError: there is no microphone.
    """
    attention = _Attention(take, ear, course, on_footfall, asked)
    return attention.bout(port.record(attention.hear, attention.over, on_clock))


def cue_and_record_bout(
    port: AudioPort,
    cue: Iterable[np.ndarray],
    take: TakeFile,
    ear: StreamingEar,
    course: Course,
    on_footfall: OnFootfall,
    asked: Stop,
    on_clock: OnClock = unwatched,
) -> LiveBout:
    """Record a bout while the cue plays from the first sample on.

    Raises:
        DeviceError: there is no microphone or no loudspeaker.
    """
    attention = _Attention(take, ear, course, on_footfall, asked)
    return attention.bout(port.play_and_record(cue, attention.hear, attention.over, on_clock))


class _Attention:
    """Follows the sound as it comes, and knows when it is over."""

    def __init__(
        self, take: TakeFile, ear: StreamingEar, course: Course, on_footfall: OnFootfall, asked: Stop
    ) -> None:
        self._take, self._ear, self._course = take, ear, course
        self._on_footfall, self._asked = on_footfall, asked
        self._thirds = Thirds()
        self._frames = self._zeros = 0
        self._alive = False
        self._footfalls: list[Footfall] = []
        self._last_s: float | None = None
        self._end: BoutEnd | None = None

    def hear(self, block: np.ndarray) -> None:
        """The next block of the microphone."""
        self._take.write(block)
        self._frames += block.size
        if block.any():
            self._alive, self._zeros = True, 0
        else:
            self._zeros += block.size
        for footfall in self._ear.push(self._thirds.push(block)):
            self._footfalls.append(footfall)
            if footfall.time_s >= self._course.listens_from_s:
                self._last_s = footfall.time_s
            self._on_footfall(footfall)

    def over(self) -> bool:
        """Whether the bout is over."""
        self._end = self._end or self._reason()
        return self._end is not None

    def bout(self, passage: Passage) -> LiveBout:
        """What happened, once the device is quiet."""
        lost = passage.ended is Ended.LOST
        end = BoutEnd.LOST if lost else self._end or BoutEnd.LENGTH
        trouble = self._trouble(end, passage)
        return LiveBout(end, passage, tuple(self._footfalls), trouble, self._until_s(end))

    def _reason(self) -> BoutEnd | None:
        """Why it is over; None while it is not."""
        now_s, course = self._frames / SAMPLE_RATE_HZ, self._course
        if self._asked():
            return BoutEnd.ASKED
        if self._take.trouble:
            return BoutEnd.DISK
        if self._alive and self._zeros >= course.dead_s * SAMPLE_RATE_HZ:
            return BoutEnd.DEAD
        if now_s >= course.longest_s:
            return BoutEnd.LENGTH
        if self._last_s is None:
            return BoutEnd.NOBODY if now_s >= course.listens_from_s + course.wait_s else None
        return BoutEnd.QUIET if now_s >= self._last_s + course.quiet_s else None

    def _trouble(self, end: BoutEnd, passage: Passage) -> str:
        if end is BoutEnd.LOST:
            return passage.lost
        if end is BoutEnd.DISK:
            return self._take.trouble
        if end is BoutEnd.DEAD:
            return f"the microphone went dead after {self._until_s(end):.1f} s; what was heard so far is kept"
        return ""

    def _until_s(self, end: BoutEnd) -> float:
        if end is BoutEnd.DISK:
            return self._take.duration_s
        return (self._frames - (self._zeros if end is BoutEnd.DEAD else 0)) / SAMPLE_RATE_HZ
