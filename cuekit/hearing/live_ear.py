"""The same ear, block by block: footfalls as they land, decided as in a file that is read whole.

A footfall is given 50 ms after contact, plus the length of a block: the network looks 16 ms of its long
window and 30 ms of steps ahead, and the maximum must be past. What was decided is never taken back.
"""

from __future__ import annotations

import math
from collections import deque

import numpy as np

from cuekit.hearing.belief import (
    FEWEST_NEAR,
    LEAST_PROBABILITY,
    NEAR_S,
    SURE_PROBABILITY,
    calibrated,
)
from cuekit.hearing.detection import FIRST_S, frame_levels_db
from cuekit.hearing.ear import (
    AHEAD_STEPS,
    HOP,
    HOP_S,
    LONG_AHEAD_S,
    MARGIN,
    Flow,
    features_of,
    impression_of,
    load_ear,
)
from cuekit.hearing.events import Footfall

_WINDOW_AHEAD = math.floor(LONG_AHEAD_S / HOP_S)
"""Steps that the windows of a step reach ahead; the last millisecond of the window weighs nothing."""

APART_STEPS = 7
"""Maxima are the largest within this many steps: 35 ms; a file, which can wait, is searched more widely."""


class LiveEar:
    """Hears footfalls in mono samples at 16 kHz as they come."""

    def __init__(self) -> None:
        self._flow = Flow(load_ear())
        self._fed = -_WINDOW_AHEAD - 1  # the first steps whose windows reach into the sound
        self._samples = np.zeros(MARGIN - self._fed * HOP, np.float32)  # from `MARGIN` before the next step
        self._recent: deque[tuple[int, float, float]] = deque(maxlen=APART_STEPS + 1)
        self._last_step = -APART_STEPS - 1
        self._sure_s: deque[float] = deque([-math.inf] * FEWEST_NEAR, maxlen=FEWEST_NEAR)

    def push(self, samples: np.ndarray) -> tuple[Footfall, ...]:
        """Add the next samples; footfalls that can be decided now, times from the first sample pushed."""
        self._samples = np.concatenate([self._samples, np.asarray(samples, np.float32)])
        return self._hear((self._samples.size - MARGIN) // HOP + 1 - _WINDOW_AHEAD)

    def finish(self) -> tuple[Footfall, ...]:
        """The footfalls still open when nothing more comes."""
        return self.push(np.zeros((AHEAD_STEPS + _WINDOW_AHEAD + 1) * HOP, np.float32))

    def _hear(self, steps: int) -> tuple[Footfall, ...]:
        """Feed so many steps to the network and look for maxima in what comes out."""
        if steps <= 0:
            return ()
        features = features_of(np.pad(self._samples, (0, MARGIN)), 0, steps)
        impression = impression_of(self._flow.feed(features))
        first = self._fed - AHEAD_STEPS
        found = []
        for n, (logit, offset_s) in enumerate(zip(impression.logit, impression.offset_s, strict=True)):
            self._recent.append((first + n, 1.0 / (1.0 + math.exp(-logit)), float(offset_s)))
            if footfall := self._maximum():
                found.append(footfall)
        self._fed += steps
        self._samples = self._samples[steps * HOP :]
        return tuple(found)

    def _maximum(self) -> Footfall | None:
        """A footfall if the step before the last was a maximum.

        A file is searched for the largest value on both sides. Here what follows is waited for 5 ms
        only: by then the curve has fallen.
        """
        if len(self._recent) < 2:
            return None
        step, peak, offset_s = self._recent[-2]
        time_s = step * HOP_S + offset_s
        if peak < self._least(time_s) or step - self._last_step <= APART_STEPS:
            return None
        if time_s < FIRST_S or any(other > peak for _, other, _ in self._recent):
            return None
        self._last_step = step
        if peak >= SURE_PROBABILITY:
            self._sure_s.append(time_s)
        return Footfall(time_s, self._level_db(step), float(calibrated(peak)))

    def _least(self, time_s: float) -> float:
        """Probability it takes: after sure sounds a doubtful one is believed; what follows is not known."""
        return LEAST_PROBABILITY if time_s - self._sure_s[0] <= NEAR_S else SURE_PROBABILITY

    def _level_db(self, step: int) -> float:
        """Level of what has come since a step, dB against full scale."""
        since = self._samples[max(MARGIN + (step - self._fed) * HOP, 0) :]
        return float(frame_levels_db(since).max())
