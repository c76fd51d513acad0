"""Whether a recording with the cue in it can be trusted, and what to change where it cannot.

Cues are made above the band of feet, and the ear is trained with cues in the room, so as a rule it
hears past them. Whether it did so in this room, with this loudspeaker, is seen in the count-in: the
cue sounds and nobody moves yet, so a footfall reported there is a ghost. A ghost comes exactly in
time, so where there are any, nothing is said of how well the feet kept to the cue.

The counted sounds may stay out of the band of feet where the others do not: a loudspeaker driven too hard
makes ghosts of some sounds only. Those are told by what no foot can do, to land time after time at one delay
from the cue, to a few milliseconds. They are left out, and told.

Blanking the recording around cues is no way out: a learner in time lands there.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import soxr

from cuekit.bouts.cue_arrival import CueDelay
from cuekit.hearing.events import Footfall, Hearing, Recording
from cuekit.hearing.recordings import ANALYSIS_RATE_HZ
from cuekit.patterns.schedule import Role, Schedule

MOST_GHOSTS = 0.1
"""Footfalls reported for each counted beat above which the hearing is not trusted: in 80 made takes
none with fewer had more than 11 % ghosts later, and those with over 0.3 had 59 %."""

LOUD_DB, TOO_LOUD_DB = 20.0, 30.0
"""Cue over feet from which the hearing gets less sure, and from which it fails (made takes)."""

EARLY_S = 0.3
"""So long before the first cued footfall a learner may already land, s."""

EXACT_S, EARLIER_S, LATER_S = 0.005, 0.08, 0.35
SHARE_EXACT, MORE_EXACT = 0.5, 4
"""Ghosts are told by the delay after their cue, which each kind of cue has for itself: within so short a span
lie half of those heard beside cues, and four more. Landings scatter by 15 ms and more about a cue (adults tap
with 20 ms and more, from memory): drawn at random, 1 of 24,000 bouts of 8 to 32 landings with 15 ms was taken
for ghosts, and 10 of 24,000 with 10 ms. Of 23 made takes in which an overdriven loudspeaker alone gave 9
ghosts or more, 22 were seen. Ghosts of words come up to 0.3 s after the beat of the word."""

_FRAME_S = 0.020
_FEET_RATE_HZ = 1_400  # holds what is below 700 Hz: most of a footfall, nothing of a cue
_WHOLE_OVER_LOW_DB = 2.0  # footfalls had 1 to 4 dB less below 500 Hz than in all (recorded ones)
_CUE_LASTS_S, _FOOTFALL_LASTS_S = 0.12, 0.08


class CueLoudness(StrEnum):
    """How loud the cue was against the feet, at the microphone."""

    UNKNOWN = "unknown"
    FINE = "fine"
    LOUD = "loud"
    TOO_LOUD = "too loud"


@dataclass(frozen=True)
class LeakCheck:
    """What the cue did to a recording.

    Attributes:
        delay: of the cue in the recording; None in it where the cue was not heard (earphones).
        ghosts: footfalls reported while nobody was to move.
        counted: beats of the count-in in which none should have been.
        above_feet_db: loudest 20 ms of the cue over those of the feet, medians, dB; None where the
            cue or the feet were not heard.
        loudness: the same in words.
        in_step: footfalls that kept to the cue as no foot can: the cue itself.
    """

    delay: CueDelay
    ghosts: int
    counted: int
    above_feet_db: float | None
    loudness: CueLoudness
    in_step: tuple[Footfall, ...] = ()

    @property
    def trusted(self) -> bool:
        """Whether times against the cue may be shown: no ghosts, and a time line that held."""
        haunted = self.ghosts > MOST_GHOSTS * self.counted or bool(self.in_step)
        return not haunted and self.delay.jumped_at_s is None

    @property
    def advice(self) -> str | None:
        """Key of the sentence to be said ("leak." in the phrases); None where there is none."""
        if self.ghosts > MOST_GHOSTS * self.counted:
            return "leak.ghosts"
        if self.in_step:
            return "leak.in_step"
        if self.delay.jumped_at_s is not None:
            return "leak.jumped"
        return {CueLoudness.LOUD: "leak.loud", CueLoudness.TOO_LOUD: "leak.too_loud"}.get(self.loudness)


def check_leak(
    recording: Recording, hearing: Hearing, delay: CueDelay, schedule: Schedule, lead_in_s: float
) -> LeakCheck:
    """Look at the count-in, the level and the delay of the cue.

    Parameters
    ----------
    recording, hearing : the take and the footfalls in it
    delay : of the cue in the recording (`cue_arrival.read_delay`)
    schedule : of the cue
    lead_in_s : from the first sample of the cue track to time 0 of the schedule, s
    """
    late_s = lead_in_s + (delay.delay_s or 0.0)
    counts_s = [cue.time_s + late_s for cue in schedule.cues if cue.role is Role.COUNT]
    quiet_until_s = schedule.go_s + late_s - EARLY_S
    ghosts = sum(footfall.time_s < quiet_until_s for footfall in hearing.footfalls) if counts_s else 0
    above_db = None
    if delay.delay_s is not None:
        above_db = _above_feet_db(recording, hearing, counts_s, quiet_until_s)
    in_step = _in_step(hearing.footfalls, schedule, late_s) if delay.delay_s is not None else ()
    return LeakCheck(delay, ghosts, len(counts_s), above_db, _in_words(above_db), in_step)


def _in_step(footfalls: tuple[Footfall, ...], schedule: Schedule, late_s: float) -> tuple[Footfall, ...]:
    """Footfalls that come after their cues by one delay, more exactly than feet can; none if few."""
    cues = [cue for cue in schedule.footfalls if cue.gain_db is not None]
    cues_s = np.array([cue.time_s + late_s for cue in cues])
    after: dict[int, list[tuple[float, Footfall]]] = {}
    for each in footfalls:
        last = int(np.searchsorted(cues_s, each.time_s + EARLIER_S, side="right")) - 1
        if last >= 0 and each.time_s - cues_s[last] < LATER_S:
            after.setdefault(cues[last].place, []).append((float(each.time_s - cues_s[last]), each))
    exact = [each for kind in after.values() for each in _densest(kind)]
    beside = sum(map(len, after.values()))
    if len(exact) < SHARE_EXACT * beside + MORE_EXACT:
        return ()
    return tuple(sorted(exact, key=lambda each: each.time_s))


def _densest(delayed: list[tuple[float, Footfall]]) -> list[Footfall]:
    """The most footfalls whose delays lie within one span."""
    firsts_s = [late_s for late_s, _ in delayed]
    spans = [[each for late_s, each in delayed if 0.0 <= late_s - first_s <= EXACT_S] for first_s in firsts_s]
    return max(spans, key=len, default=[])


def _above_feet_db(
    recording: Recording, hearing: Hearing, counts_s: list[float], from_s: float
) -> float | None:
    """Cue over feet, dB. The feet are measured where the cue has nothing, as they may land together."""
    feet_s = [footfall.time_s for footfall in hearing.footfalls if footfall.time_s >= from_s]
    if not feet_s or not counts_s:
        return None
    low = soxr.resample(recording.samples, ANALYSIS_RATE_HZ, _FEET_RATE_HZ)
    cue = _median_peak(recording.samples, ANALYSIS_RATE_HZ, counts_s, _CUE_LASTS_S)
    feet = _median_peak(low, _FEET_RATE_HZ, feet_s, _FOOTFALL_LASTS_S)
    return 10.0 * float(np.log10((cue + 1e-12) / (feet + 1e-12))) - _WHOLE_OVER_LOW_DB


def _median_peak(samples: np.ndarray, rate_hz: int, times_s: list[float], lasts_s: float) -> float:
    """Median over the times of the power of the loudest 20 ms after them."""
    width, span = round(_FRAME_S * rate_hz), round(lasts_s * rate_hz)
    peaks = []
    for time_s in times_s:
        part = samples[max(0, round(time_s * rate_hz)) :][: span + width]
        sums = np.cumsum(np.concatenate([[0.0], np.square(part, dtype=np.float64)]))
        if part.size >= width:
            peaks.append(float((sums[width:] - sums[:-width]).max()) / width)
    return float(np.median(peaks)) if peaks else 0.0


def _in_words(above_db: float | None) -> CueLoudness:
    if above_db is None:
        return CueLoudness.UNKNOWN
    if above_db > TOO_LOUD_DB:
        return CueLoudness.TOO_LOUD
    return CueLoudness.LOUD if above_db > LOUD_DB else CueLoudness.FINE
