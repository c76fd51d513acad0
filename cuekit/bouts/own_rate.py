"""Devices that will not run at 48 kHz, run at their own rate: cue and recording are converted on the way.

Both conversions keep first sample on first sample (soxr takes its own delay off), so sample n of the
recording still belongs to sample n of the cue.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
import soxr

from cuekit.bouts.audio_port import Listener, Passage
from cuekit.cues.sounds import SAMPLE_RATE_HZ

_QUALITY = "HQ"


def cue_at(cue: Iterable[np.ndarray], rate_hz: int) -> Iterator[np.ndarray]:
    """A cue of 48 kHz in blocks at another rate."""
    stream = soxr.ResampleStream(SAMPLE_RATE_HZ, rate_hz, 1, dtype="float32", quality=_QUALITY)
    for block in cue:
        yield stream.resample_chunk(np.ascontiguousarray(block, np.float32))
    yield stream.resample_chunk(np.zeros(0, np.float32), last=True)


class Converting:
    """A listener that is given blocks at the rate of a device, and gives them on at 48 kHz.

    Parameters:
        listener: whose it is.
        rate_hz: of the device.
    """

    def __init__(self, listener: Listener, rate_hz: int) -> None:
        self._listener = listener
        self._stream = soxr.ResampleStream(rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32", quality=_QUALITY)
        self._given = 0

    def __call__(self, block: np.ndarray) -> None:
        """The next block of the device."""
        self._give(self._stream.resample_chunk(np.ascontiguousarray(block, np.float32)))

    def finish(self, passage: Passage, rate_hz: int) -> Passage:
        """Give on what is still held back; the passage with its places in samples of 48 kHz."""
        self._give(self._stream.resample_chunk(np.zeros(0, np.float32), last=True))
        slips = tuple(replace(slip, frame=_converted(slip.frame, rate_hz)) for slip in passage.slips)
        played = _converted(passage.played, rate_hz)
        return replace(passage, recorded=self._given, played=played, slips=slips)

    def _give(self, block: np.ndarray) -> None:
        if block.size:
            self._given += block.size
            self._listener(block)


def _converted(frames: int, rate_hz: int) -> int:
    return round(frames * SAMPLE_RATE_HZ / rate_hz)
