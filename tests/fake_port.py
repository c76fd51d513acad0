"""A sound device that never was: what it hears is given to it, and it fails when told to."""

from dataclasses import dataclass, field

import numpy as np

from cuekit.bouts.audio_port import Ended, Passage, Slip, SlipKind, unwatched
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.errors import DeviceError

BLOCK = 1024
LONGEST_S = 7_500.0
"""A bout nobody stops is a mistake in the test, or in what it tests, s."""


@dataclass(frozen=True)
class Faults:
    """What goes wrong, and when (s from the first sample); None for never.

    Attributes:
        lost_s: no block comes any more.
        zeros_s: nothing but exact zeros comes any more.
        overflow_s, dropped_s: the device drops so much of the sound there, and owns up.
        lag_step_s, lag_by_s: the cue comes later by so much from there on, and nobody is told.
    """

    lost_s: float | None = None
    zeros_s: float | None = None
    overflow_s: float | None = None
    dropped_s: float = 0.05
    lag_step_s: float | None = None
    lag_by_s: float = 0.05


@dataclass
class FakePort:
    """An `AudioPort` in memory, as fast as it can go.

    Attributes:
        child: what the microphone hears beside the cue, mono at 48 kHz; noise follows it.
        lag_s: from handing a cue sample over to hearing it, s.
        cue_gain: of the cue at the microphone.
        noise: RMS of the room.
        faults: what goes wrong.
        sounded: all that was played, in blocks.
        opened: how often the microphone was.
    """

    child: np.ndarray = field(default_factory=lambda: np.zeros(0, np.float32))
    lag_s: float = 0.05
    cue_gain: float = 0.0
    noise: float = 1e-4
    faults: Faults = Faults()
    sounded: list[np.ndarray] = field(default_factory=list)
    opened: int = 0

    def play(self, cue, stop, on_clock=unwatched):
        return self._run(cue, None, stop, on_clock)

    def record(self, listener, stop, on_clock=unwatched):
        self.opened += 1
        return self._run((), listener, stop, on_clock)

    def play_and_record(self, cue, listener, stop, on_clock=unwatched):
        self.opened += 1
        return self._run(cue, listener, stop, on_clock)

    def names(self):
        return "made loudspeaker", "made microphone"

    def _run(self, cue, listener, stop, on_clock):
        rng, out = np.random.default_rng(0), _Stream(cue)
        on_its_way = np.zeros(round(self.lag_s * SAMPLE_RATE_HZ), np.float32)
        at, frames, slips, stepped, faults = 0, 0, [], False, self.faults
        while True:
            now_s = at / SAMPLE_RATE_HZ
            on_clock(now_s)
            assert now_s < LONGEST_S, "nobody stopped the bout"
            if stop():
                return self._passage(Ended.STOPPED, frames, at, slips)
            if faults.lost_s is not None and now_s >= faults.lost_s:
                return self._passage(Ended.LOST, frames, at, slips)
            if listener is None and out.over:
                return Passage(Ended.PLAYED, 0, at)
            block = out.next()
            self.sounded.append(block)
            if faults.lag_step_s is not None and now_s >= faults.lag_step_s and not stepped:
                late = np.zeros(round(faults.lag_by_s * SAMPLE_RATE_HZ), np.float32)
                on_its_way, stepped = np.concatenate([late, on_its_way]), True
            on_its_way = np.concatenate([on_its_way, block])
            heard = self.cue_gain * on_its_way[:BLOCK] + rng.normal(size=BLOCK) * self.noise
            on_its_way = on_its_way[BLOCK:]
            child = self.child[at : at + BLOCK]
            heard[: child.size] += child
            at += BLOCK
            if faults.zeros_s is not None and now_s >= faults.zeros_s:
                heard[:] = 0.0
            if faults.overflow_s is not None and 0 <= now_s - faults.overflow_s < faults.dropped_s:
                slips = slips or [Slip(SlipKind.LOST_INPUT, frames)]
                continue
            if listener is not None:
                listener(heard.astype(np.float32))
                frames += BLOCK

    def _passage(self, ended, frames, at, slips):
        lost = f"the microphone was disconnected after {frames / SAMPLE_RATE_HZ:.1f} s; it is kept"
        lost = lost if ended is Ended.LOST else ""
        return Passage(ended, frames, at, tuple(slips), lost, self.lag_s, 0.0)


class NoDevice:
    """A computer without sound."""

    def play(self, cue, stop, on_clock=unwatched):
        raise DeviceError("the loudspeaker cannot be opened: cues can still be written to a file")

    def record(self, listener, stop, on_clock=unwatched):
        raise DeviceError("the microphone cannot be opened: recordings can still be scored")

    def play_and_record(self, cue, listener, stop, on_clock=unwatched):
        raise DeviceError("loudspeaker and microphone cannot be opened: recordings can still be scored")

    def names(self):
        raise DeviceError("no microphone can be used: recordings can still be scored")


class _Stream:
    """Blocks of one size out of blocks of any; silence after the end."""

    def __init__(self, blocks):
        self._blocks, self._rest, self.over = iter(blocks), np.zeros(0, np.float32), False

    def next(self):
        while self._rest.size < BLOCK and not self.over:
            block = next(self._blocks, None)
            if block is None:
                self.over = True
            else:
                self._rest = np.concatenate([self._rest, block])
        block = np.zeros(BLOCK, np.float32)
        taken = self._rest[:BLOCK]
        block[: taken.size] = taken
        self._rest = self._rest[BLOCK:]
        return block
