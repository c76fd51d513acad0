"""Hearing the first step after a count-in, on which what was heard while it counted must not weigh.

The network looks 2.5 s back. Where it heard nothing there but cues that were no feet, it takes the first foot
that lands on a cue for one more of them: in made takes with the cue as loud as the feet it missed the first
footfall in 15 of 24, the third in one. So the beginning is heard anew, from shortly before the learner may
move; then it missed none of the 24.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cuekit.hearing.detection import FEWEST_FOOTFALLS, detect_footfalls
from cuekit.hearing.events import Footfall, Hearing, Recording
from cuekit.hearing.live_ear import LiveEar

ANEW_S = 0.5
"""So long before the first cued footfall the network begins anew: after the last count, as a rule."""

LIVE_ANEW_S = 0.65
"""The same as it happens: with no count heard at all, a cue where nobody moved was now and then a foot."""

BEGINNING_S = 1.2
"""What is heard anew counts so long from the first cued footfall on; from then on both say the same."""

_ROUND_S = 1.0  # heard beyond that, as what follows a footfall has a say
_APART_S = 0.05  # two footfalls are at least 95 ms apart


def hear_cued(recording: Recording, go_s: float, from_s: float) -> Hearing:
    """Footfalls of a take with a count-in.

    Where hardly any feet are heard at all the beginning is left as it is: nobody moved.

    Parameters
    ----------
    recording : the take
    go_s : of the first cued footfall, s from the start of the recording
    from_s : from when on a landing may be the learner's, s
    """
    hearing = detect_footfalls(recording)
    moved = [one for one in hearing.footfalls if one.time_s > go_s + BEGINNING_S]
    rate_hz = recording.sample_rate_hz
    first, end = round((go_s - ANEW_S) * rate_hz), round((go_s + BEGINNING_S + _ROUND_S) * rate_hz)
    if len(moved) < FEWEST_FOOTFALLS or first <= 0:
        return hearing
    anew = detect_footfalls(replace(recording, samples=recording.samples[first:end]))
    until_s = min(moved[0].time_s, end / rate_hz) - _APART_S  # in a gap, so that no footfall is there twice

    def both(whole: tuple[Footfall, ...], part: tuple[Footfall, ...]) -> tuple[Footfall, ...]:
        heard = (replace(one, time_s=one.time_s + first / rate_hz) for one in part)
        before = (one for one in whole if one.time_s < from_s)
        after = (one for one in whole if one.time_s >= until_s)
        return (*before, *(one for one in heard if from_s <= one.time_s < until_s), *after)

    return replace(
        hearing,
        footfalls=both(hearing.footfalls, anew.footfalls),
        rejected=both(hearing.rejected, anew.rejected),
    )


class CuedEar:
    """The same as it happens (`cuekit.hearing.live_ear.LiveEar`).

    Parameters:
        go_s: of the first cued footfall, s from the first sample pushed.
        rate_hz: of the samples.
    """

    def __init__(self, go_s: float, rate_hz: int) -> None:
        self._counting, self._moving = LiveEar(), LiveEar()
        self._rate_hz = rate_hz
        self._anew = max(0, round((go_s - LIVE_ANEW_S) * rate_hz))
        self._pushed = 0

    def push(self, samples: np.ndarray) -> tuple[Footfall, ...]:
        """Add the next samples; footfalls decided now, times from the first sample pushed."""
        before, after = np.split(samples, [max(0, self._anew - self._pushed)])
        self._pushed += samples.size
        counted = self._counting.push(before) if before.size else ()
        moved = self._moving.push(after) if after.size else ()
        anew_s = self._anew / self._rate_hz
        return (*counted, *(replace(one, time_s=one.time_s + anew_s) for one in moved))
