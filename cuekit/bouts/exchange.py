"""Blocks on their way between PortAudio's thread and ours.

The callbacks only move blocks between two queues and note what PortAudio says of them; everything else is
done by the caller's thread.
"""

from __future__ import annotations

import statistics
import threading
import time
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any

import numpy as np

from cuekit.bouts.audio_port import Ended, Listener, Passage, Slip, SlipKind
from cuekit.bouts.lost_time import Pace
from cuekit.bouts.own_rate import cue_at
from cuekit.cues.sounds import SAMPLE_RATE_HZ

BLOCK, HEARING_BLOCK = 1024, 512
"""Frames of a block: small ones where nothing plays. Where something does, larger ones kept the time line
best on a busy computer."""

AHEAD_S = 1.0
"""Cue kept waiting in the queue: the caller may be busy this long, s."""

FLUSH_S = 0.4
"""Silence played after a cue: some systems drop what is still queued when told to end, s."""

FIRST_BLOCK_S, NEXT_BLOCK_S = 3.0, 1.0
"""A device that gives no block for so long is lost, s. Some take long to begin."""

_STAMPS = 256


@dataclass(frozen=True)
class Wish:
    """What is wanted of the device: a cue (None for none), to hear, to end with the cue."""

    cue: Iterable[np.ndarray] | None
    hears: bool
    ends: bool

    @property
    def sounds(self) -> bool:
        """Whether anything is played."""
        return self.cue is not None

    @property
    def block(self) -> int:
        """Frames of a block."""
        return BLOCK if self.sounds else HEARING_BLOCK

    @property
    def what(self) -> str:
        """The device, in words."""
        names = {(True, True): "loudspeaker and microphone", (True, False): "the loudspeaker"}
        return names.get((self.sounds, self.hears), "the microphone")


class Exchange:
    """The two queues between PortAudio's thread and ours, and what is noted on the way.

    Parameters:
        wish: what is wanted.
        rate_hz: of the device.
        over: raised in PortAudio's thread when all has been played.
    """

    def __init__(self, wish: Wish, rate_hz: int, over: type[Exception]) -> None:
        self.rate_hz, self.what, self.block = rate_hz, wish.what, wish.block
        self.sounds, self.hears = wish.sounds, wish.hears
        self.finished = threading.Event()
        self.last_block_s = time.monotonic() + FIRST_BLOCK_S - NEXT_BLOCK_S
        self.held_back_s = 0.0
        self._ends = wish.ends
        flush = np.zeros(round(FLUSH_S * SAMPLE_RATE_HZ), np.float32)
        sound = chain(wish.cue or (), [flush])
        self._waiting = _blocks_of(sound if rate_hz == SAMPLE_RATE_HZ else cue_at(sound, rate_hz), self.block)
        self._out: deque[np.ndarray] = deque()
        self._in: deque[np.ndarray] = deque()
        self._all_queued = wish.cue is None
        self._recorded = self._played = self._handed = 0
        self._slips: list[Slip] = []
        self._pace = Pace(rate_hz)
        self._delays_s: deque[float] = deque(maxlen=_STAMPS)
        self._first_sample_s: float | None = None
        self._over = over

    @property
    def now_s(self) -> float:
        """Where the take is, see `OnClock`; between two blocks it goes on with the clock of the computer."""
        frames = self._handed if self.sounds else self._recorded
        since_s = min(max(time.monotonic() - self.last_block_s, 0.0), NEXT_BLOCK_S) if frames else 0.0
        return max(0.0, frames / self.rate_hz + since_s - self.held_back_s)

    @property
    def all_played(self) -> bool:
        """Whether the whole cue has been handed over and nothing else is wanted."""
        return self._ends and self._all_queued and not self._out

    def fill(self) -> None:
        """Render ahead, as much as is kept waiting."""
        while not self._all_queued and len(self._out) * self.block < AHEAD_S * self.rate_hz:
            block = next(self._waiting, None)
            if block is None:
                self._all_queued = True
            else:
                self._out.append(block)

    def pass_on(self, listener: Listener) -> None:
        """Give the listener what has come in."""
        while self._in:
            listener(self._in.popleft())

    def both(self, taken: np.ndarray, given: np.ndarray, frames: int, stamps: Any, status: Any) -> None:
        """PortAudio has a block and wants one."""
        self._delays_s.append(stamps.outputBufferDacTime - stamps.inputBufferAdcTime)
        self.take_in(taken, frames, stamps, status)
        self.give_out(given, frames, stamps, status)

    def take_in(self, taken: np.ndarray, frames: int, stamps: Any, status: Any) -> None:
        """PortAudio has a block."""
        self.last_block_s = time.monotonic()
        if status.input_overflow:
            self._slips.append(Slip(SlipKind.LOST_INPUT, self._recorded))
        if lost := self._pace.stamped(stamps.inputBufferAdcTime, self._recorded):
            self._slips.append(Slip(SlipKind.LOST_INPUT, lost.frame, lost.lost_s))
        if self._first_sample_s is None:
            self._first_sample_s = stamps.inputBufferAdcTime
        self._in.append(taken[:, 0].copy())
        self._recorded += frames

    def give_out(self, given: np.ndarray, frames: int, stamps: Any, status: Any) -> None:
        """PortAudio wants a block."""
        self.last_block_s = time.monotonic()
        given.fill(0.0)
        self._handed += frames
        at = self._recorded if self.hears else self._played
        if status.output_underflow:
            self._slips.append(Slip(SlipKind.LATE_OUTPUT, at))
        if self._out:
            block = self._out.popleft()
            given[: block.size, 0] = block
            self._played += block.size
        elif not self._all_queued:  # we were too slow, and the rest of the cue will come late
            self._slips.append(Slip(SlipKind.LATE_OUTPUT, at))
        if self.all_played:
            raise self._over

    def passage(self, ended: Ended) -> Passage:
        """What was noted."""
        seconds = (self._recorded if self.hears else self._played) / self.rate_hz
        lost = f"{self.what} was disconnected after {seconds:.1f} s; what was heard so far is kept"
        return Passage(
            ended=ended,
            recorded=self._recorded,
            played=self._played,
            slips=tuple(sorted(self._slips, key=lambda slip: slip.frame)),
            lost=lost if ended is Ended.LOST else "",
            # The first stamps are wrong on some systems: the middle one of many is taken.
            stamped_delay_s=statistics.median(self._delays_s) if self._delays_s else None,
            first_sample_s=self._first_sample_s,
        )


def _blocks_of(sound: Iterable[np.ndarray], size: int) -> Iterator[np.ndarray]:
    """The same samples in blocks of one size, the last one shorter."""
    rest = np.zeros(0, np.float32)
    for block in sound:
        rest = np.concatenate([rest, block])
        whole = rest.size // size * size
        yield from rest[:whole].reshape(-1, size)
        rest = rest[whole:]
    if rest.size:
        yield rest
