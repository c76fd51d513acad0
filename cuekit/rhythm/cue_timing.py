"""When the feet came against the cue: the start, and early or late, where the cue's own times are known.

Nothing here is held against a learner: coming a little ahead of a sound is common, and the sign is
never penalised. Early and late are only told where the round-trip delay of this equipment was
checked; the start is told in beats, which no usual delay can fill.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cuekit.hearing.events import Footfall
from cuekit.rhythm.asynchrony import Asynchrony, asynchrony

START_WITHIN_BEATS = 2.0
"""A first footfall later than this after go is told."""
BEFORE_GO_BEATS = 0.5
"""A first footfall sooner than this before go was meant for go."""
OFFSET_BEATS = 0.15
"""Middle asynchrony against the beat from which early or late is told."""
FEWEST_PAIRS = 6
LEAST_PHASE = 0.5
"""Resultant length below which the feet kept no place in the beat (proposal)."""


@dataclass(frozen=True)
class CueTimes:
    """The cue as it was heard at the microphone.

    Attributes:
        leads_s: when the footfall that starts each beat was due, in order; the first is go, s.
        beat_s: one beat, s.
        delay_checked: whether the delay of this equipment was measured and taken out.
    """

    leads_s: tuple[float, ...]
    beat_s: float
    delay_checked: bool

    @property
    def go_s(self) -> float:
        """When the first footfall was due, s."""
        return self.leads_s[0]


def start_beats(footfalls: Sequence[Footfall], cue: CueTimes) -> float | None:
    """Beats from go to the first footfall where that was no start on time; negative before go.

    None where the start was on time, or nothing was heard.
    """
    if not footfalls:
        return None
    beats = (footfalls[0].time_s - cue.go_s) / cue.beat_s
    return None if -BEFORE_GO_BEATS <= beats <= START_WITHIN_BEATS else beats


def from_go(footfalls: Sequence[Footfall], cue: CueTimes) -> tuple[Footfall, ...]:
    """The footfalls without those of the count-in, which belong to no timing."""
    earliest_s = cue.go_s - BEFORE_GO_BEATS * cue.beat_s
    return tuple(footfall for footfall in footfalls if footfall.time_s >= earliest_s)


def against_cue(leads_s: Sequence[float], cue: CueTimes) -> Asynchrony | None:
    """The footfalls that start beats against the cue, each against the nearest one.

    None where the delay was not checked, under six pairs, or where no phase was kept, so that the
    nearest cue is nobody's.
    """
    if not cue.delay_checked or len(leads_s) < FEWEST_PAIRS:
        return None
    feet, due = np.asarray(leads_s), np.asarray(cue.leads_s)
    nearest = due[np.argmin(np.abs(due[None, :] - feet[:, None]), axis=1)]
    near = np.abs(feet - nearest) < cue.beat_s / 2
    found = asynchrony(nearest[near], feet[near], cue.beat_s)
    kept = found is not None and found.count >= FEWEST_PAIRS and found.resultant_length >= LEAST_PHASE
    return found if kept else None


def early_or_late_s(leads_s: Sequence[float], cue: CueTimes) -> float | None:
    """The middle asynchrony where it is worth telling, s: beyond 15 % of the beat; else None."""
    found = against_cue(leads_s, cue)
    return found.median_s if found and abs(found.median_s) > OFFSET_BEATS * cue.beat_s else None
