"""A continuous cue: one voice that glides from landing to landing, with no silence between.

The pitch rises through the long interval and falls through the short one; between two landings of
the same kind it rises and comes down again, like the flight of a hop. The loudness swells towards
each landing and drops after it. So a child hears how far away the landing is, not only that it came;
children with and without coordination disorder stepped more steadily to such a sound than to separate
ones (walking and running, 8-12 years: https://doi.org/10.1111/nyas.15228).

The pitch stays between 1.15 and 1.73 kHz (with a weak octave above), out of the band of the feet.
Pitch and phase are closed forms of the time, so any stretch of it can be computed alone and the
pieces join without a seam.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.patterns.schedule import Role, Schedule

LOW_HZ = 1150.0
"""Pitch of a landing that starts a beat, Hz."""

HIGH_HZ = 1725.0
"""Pitch of a short landing, a fifth above, Hz."""

LEAD_S = 0.40
"""The swell towards the first landing begins this long before it, s."""

FALL_S = 0.060
"""Length of the drop in loudness after a landing, s."""

FLOOR = 0.10
"""Loudness far from a landing, as a share of that at the landing."""

PEAK = 0.20
"""Largest sample of a full landing, before the track is levelled."""

OVERTONE = 0.2
"""Share of the octave above, so that a place in the room where one pitch cancels is not silent."""


@dataclass(frozen=True, eq=False)
class Glide:
    """The line of landings a glide passes through.

    Attributes:
        times_s: where it begins, then its landings, s from the start of the schedule; ascending.
        pitches_hz: pitch at each of them.
        gains: loudness at each of them against the full one; 0 where it begins.
    """

    times_s: np.ndarray
    pitches_hz: np.ndarray
    gains: np.ndarray

    @property
    def peak(self) -> float:
        """No sample exceeds this."""
        return float(PEAK * self.gains.max(initial=0.0))

    @property
    def end_s(self) -> float:
        """When it has died away, s."""
        return float(self.times_s[-1]) + FALL_S if self.times_s.size else 0.0

    @cached_property
    def lengths_s(self) -> np.ndarray:
        """From each of the times to the next; the last one has no end."""
        return np.append(np.diff(self.times_s), np.inf)

    @cached_property
    def arches_hz(self) -> np.ndarray:
        """How far the pitch rises between two landings of one pitch; 0 between different ones."""
        return np.where(np.diff(self.pitches_hz) == 0.0, HIGH_HZ - LOW_HZ, 0.0)

    @cached_property
    def turns(self) -> np.ndarray:
        """Phase at each landing, turns from 0 to 1."""
        mean_hz = (self.pitches_hz[:-1] + self.pitches_hz[1:] + self.arches_hz) / 2.0
        return np.concatenate([[0.0], np.cumsum(np.diff(self.times_s) * mean_hz % 1.0)]) % 1.0

    def samples(self, first: int, count: int) -> np.ndarray:
        """`count` samples from sample `first` of the schedule on; zeros where there is no glide."""
        seconds = np.arange(first, first + count) / SAMPLE_RATE_HZ
        if self.times_s.size < 2 or seconds[-1] < self.times_s[0] or seconds[0] > self.end_s:
            return np.zeros(count)
        out = np.zeros(count)
        reached = np.searchsorted(self.times_s, seconds, side="right") - 1
        inside = (reached >= 0) & (seconds < self.end_s)
        out[inside] = self._wave(seconds[inside], reached[inside])
        return out

    def _wave(self, seconds: np.ndarray, reached: np.ndarray) -> np.ndarray:
        """The sound at instants inside the line; `reached` is the landing last passed."""
        leg = np.minimum(reached, self.times_s.size - 2)
        length_s = self.lengths_s[leg]
        share = (seconds - self.times_s[leg]) / length_s
        start_hz, end_hz, arch_hz = self.pitches_hz[leg], self.pitches_hz[leg + 1], self.arches_hz[leg]
        moved = (
            start_hz * share
            + (end_hz - start_hz) * (share / 2.0 - np.sin(np.pi * share) / (2.0 * np.pi))
            + arch_hz * (share / 2.0 - np.sin(2.0 * np.pi * share) / (4.0 * np.pi))
        )
        angle = 2.0 * np.pi * (self.turns[leg] + length_s * moved)
        voice = (np.sin(angle) + OVERTONE * np.sin(2.0 * angle)) / (1.0 + OVERTONE)
        return PEAK * self._loudness(seconds, reached) * voice

    def _loudness(self, seconds: np.ndarray, reached: np.ndarray) -> np.ndarray:
        """The swell towards the next landing or the drop after the last, whichever is louder."""
        here, following = self.gains[reached], self._next_gains[reached]
        since_s = seconds - self.times_s[reached]
        dropping = 0.5 + 0.5 * np.cos(np.pi * np.minimum(1.0, since_s / FALL_S))
        share = since_s / self.lengths_s[reached]
        floor = FLOOR * (here + (following - here) * share)
        swelling = np.where(following > 0.0, floor + (following - floor) * share**3, 0.0)
        return np.maximum(here * dropping, swelling)

    @cached_property
    def _next_gains(self) -> np.ndarray:
        return np.append(self.gains[1:], 0.0)

    def at_full(self) -> Glide:
        """The same line with every landing at full loudness."""
        return replace(self, gains=np.where(np.arange(self.gains.size) == 0, 0.0, 1.0))


def glide(schedule: Schedule) -> Glide:
    """The glide through the sounded footfalls of a schedule; the count-in is left to tones."""
    landings = [cue for cue in schedule.footfalls if cue.gain_db is not None]
    pitches_hz = [HIGH_HZ if cue.role is Role.SHORT else LOW_HZ for cue in landings]
    gains = [10.0 ** (cue.gain_db / 20.0) for cue in landings]
    if landings:
        begin_s = landings[0].time_s - LEAD_S
        return Glide(
            np.array([begin_s, *(cue.time_s for cue in landings)]),
            np.array([LOW_HZ, *pitches_hz]),
            np.array([0.0, *gains]),
        )
    return Glide(np.zeros(0), np.zeros(0), np.zeros(0))
