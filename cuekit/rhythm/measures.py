"""Numbers of a bout from the beats that were heard. No opinion, no sound.

Definitions are those of the team's rhythm page: a bout is judged by the middle of many beats,
never beat by beat; steadiness is that of the beat period, never the raw variation of the
intervals (a perfect 2:1 has 33 %); computation uses the long share, the ratio is for display.

Source: MAD scaled by 1.4826 to a normal's standard deviation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cuekit.patterns.pattern import USUAL, Accepted, Beat
from cuekit.rhythm.alignment import Alignment, Bout, HeardBeat, Missed, Pause
from cuekit.rhythm.long_share import (
    LongShare,
    RhythmClass,
    classify,
    median_with_interval,
)
from cuekit.rhythm.theil_sen import theil_sen

FEWEST_FOR_DRIFT = 9
LONGEST_GAP_BEATS = 1.6
STEADY_WITHIN = USUAL.beat_within
"""A beat of an even pattern is on the pattern within this share of the local tempo."""


@dataclass(frozen=True)
class Measures:
    """Measures of a bout, or of a whole recording; None where a number does not exist.

    Attributes:
        beats: heard complete + missed inside the bout.
        complete_beats: beats all of whose footfalls were heard.
        beats_on_pattern: as told in `on_pattern`.
        longest_run: most beats on the pattern in a row.
        judged_beats: beats that count, planned changes left out.
        tempo_bpm: 60 / median duration of complete beats.
        tempo_drift_percent: change of tempo over the bout, positive is faster; None under 9 beats.
        long_share: see `LongShare`; for an even pattern of the alternate intervals.
        rhythm: from the long share.
        spread_percent: 1.4826 MAD / median of beat durations after removing the drift.
        missed, extra_s, pauses: with their times (s).
    """

    beats: int
    complete_beats: int
    beats_on_pattern: int
    longest_run: int
    judged_beats: int
    tempo_bpm: float | None
    tempo_drift_percent: float | None
    long_share: LongShare | None
    rhythm: RhythmClass
    spread_percent: float | None
    missed: tuple[Missed, ...]
    extra_s: tuple[float, ...]
    pauses: tuple[Pause, ...]


@dataclass(frozen=True)
class TimedBeat:
    """A heard beat in seconds.

    Attributes:
        heard: the beat of the alignment.
        plan: the beat of the pattern it stands for.
        lead_s, short_s, next_lead_s: footfall times, s; None where unheard.
        stirs_s: sounds without a place in its planned silence (a rest, the air of a leap), s.
    """

    heard: HeardBeat
    plan: Beat
    lead_s: float | None
    short_s: float | None
    next_lead_s: float | None
    stirs_s: tuple[float, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether every footfall of the beat was heard."""
        return self.lead_s is not None and (self.short_s is not None or not self.plan.uneven)

    @property
    def period_s(self) -> float | None:
        """Duration of one beat here, s: to the next lead, a planned rest divided out."""
        if self.lead_s is None or self.next_lead_s is None:
            return None
        return (self.next_lead_s - self.lead_s) / float(self.plan.length)

    @property
    def timed(self) -> bool:
        """Whether its duration can be trusted: complete, and ended by a lead without a pause."""
        return self.complete and self.period_s is not None and not self.heard.paused


def timed_beats(alignment: Alignment, bout: Bout) -> tuple[TimedBeat, ...]:
    """The beats of a bout with their times."""

    def at(index: int | None) -> float | None:
        return None if index is None else alignment.footfalls[index].time_s

    extras_s = [alignment.footfalls[index].time_s for index in bout.extra]
    rows = []
    for beat in bout.beats:
        plan, lead_s, next_s = alignment.pattern.beats[beat.index], at(beat.lead), at(beat.next_lead)
        stirs_s = _in_silence(extras_s, lead_s, next_s, float(plan.length)) if plan.length > 1 else ()
        rows.append(TimedBeat(beat, plan, lead_s, at(beat.short), next_s, stirs_s))
    return tuple(rows)


def _in_silence(
    extras_s: list[float], lead_s: float | None, next_s: float | None, length: float
) -> tuple[float, ...]:
    """The extra sounds between half a beat after a lead and the next one, s."""
    if lead_s is None or next_s is None:
        return ()
    still_s = lead_s + 0.5 * (next_s - lead_s) / length
    return tuple(time_s for time_s in extras_s if still_s < time_s < next_s)


def measure_bout(alignment: Alignment, bout: Bout) -> Measures:
    """Measure one bout."""
    return _measure(alignment, (bout,))


def measure_recording(alignment: Alignment) -> Measures:
    """Measure all bouts of a recording as one, the time between them taken out."""
    return _measure(alignment, alignment.bouts)


def _measure(alignment: Alignment, bouts: tuple[Bout, ...]) -> Measures:
    """Pool the beats of the bouts given."""
    rows = [timed_beats(alignment, bout) for bout in bouts]
    beats = [beat for row in rows for beat in _inside(row)]
    accepted = alignment.pattern.accepted
    on = [on_pattern(row, accepted) for row in rows]
    periods = [np.array([(b.lead_s, b.period_s) for b in row if b.timed]).reshape(-1, 2) for row in rows]
    complete = sum(beat.complete for beat in beats)
    shares = np.concatenate([long_shares(row, alignment.pattern.uneven) for row in rows] or [np.empty(0)])
    share = median_with_interval(shares)
    pooled = np.concatenate([p[:, 1] for p in periods] or [np.empty(0)])
    drifts = [(_drift(p), p) for p in periods]
    return Measures(
        beats=len(beats),
        complete_beats=complete,
        beats_on_pattern=sum(sum(flags) for flags in on),
        longest_run=max((_longest_run(flags, row) for flags, row in zip(on, rows, strict=True)), default=0),
        judged_beats=sum(beat.plan.judged for beat in beats),
        tempo_bpm=60.0 / float(np.median(pooled)) if pooled.size else None,
        tempo_drift_percent=_drift_percent(drifts),
        long_share=share,
        rhythm=classify(share, complete, accepted),
        spread_percent=_spread_percent(drifts),
        missed=tuple(missed for bout in bouts for missed in bout.missed),
        extra_s=tuple(alignment.footfalls[index].time_s for bout in bouts for index in bout.extra),
        pauses=tuple(pause for bout in bouts for pause in bout.pauses),
    )


def _inside(row: tuple[TimedBeat, ...]) -> tuple[TimedBeat, ...]:
    """The beats that count as tried: begun on the short sound, one has no lead to miss."""
    fresh = (True, *(beat.heard.paused for beat in row))
    return tuple(beat for beat, new in zip(row, fresh, strict=False) if not (new and beat.lead_s is None))


def long_shares(row: tuple[TimedBeat, ...], uneven: bool) -> np.ndarray:
    """Long shares of the judged complete beats of a bout.

    Uneven: (short - lead) / period; where no lead ends the beat (the last one, or before a pause)
    its period is the local one.
    Even: of two neighbouring intervals, alternately the first and the second share, paired from the
    first footfall and never by which is longer, so that an even walk is not pushed away from 0.5.
    """
    if uneven:
        judged = np.array([beat.plan.judged for beat in row], dtype=bool)
        shares = beat_shares(row)[judged]
        return shares[np.isfinite(shares)]
    pairs = [
        (first.heard.number - row[0].heard.number, first.period_s, second.period_s)
        for first, second in zip(row, row[1:], strict=False)
        if first.timed and second.timed and first.plan.judged and second.plan.judged
    ]
    return np.array([(a if place % 2 == 0 else b) / (a + b) for place, a, b in pairs])


def _periods(row: tuple[TimedBeat, ...]) -> np.ndarray:
    """Duration of each beat of a bout, s; NaN where its own or the next lead was not heard."""
    return np.array([beat.period_s if beat.timed else np.nan for beat in row])


def on_pattern(row: tuple[TimedBeat, ...], accepted: Accepted = USUAL) -> tuple[bool, ...]:
    """For each beat of a bout, whether it kept the pattern.

    Heard complete, judged, still where the pattern is (a rest, the air of a leap), no gap over 1.6
    median beats before the next lead, and: uneven, the
    running median of three neighbouring long shares within 0.58-0.82; even, its duration within
    15 % of the local tempo (or what is accepted instead of either). The last beat, which no lead ends,
    is measured by the local tempo.
    """
    if not row:
        return ()
    periods = _periods(row)
    if np.isnan(periods).all():
        return (False,) * len(row)
    median_s = float(np.nanmedian(periods))
    local = local_periods(row)
    shares = beat_shares(row)
    middles = _middles(shares, 1, 1)
    flags = []
    for n, beat in enumerate(row):
        fits = beat.complete and beat.plan.judged and not beat.stirs_s
        fits = fits and not (periods[n] > LONGEST_GAP_BEATS * median_s)
        if fits and beat.plan.uneven:
            fits = accepted.long_share_from <= middles[n] <= accepted.long_share_to
        elif fits and not np.isnan(periods[n]):
            fits = abs(periods[n] / local[n] - 1.0) <= accepted.beat_within
        flags.append(bool(fits))
    return tuple(flags)


def beat_shares(row: tuple[TimedBeat, ...]) -> np.ndarray:
    """Long share of each beat of a bout; NaN where it has none.

    The last beat, or one before a pause, has no lead to end it and is taken by the local period.
    """
    return np.array(
        [_share_here(beat, local_s) for beat, local_s in zip(row, local_periods(row), strict=True)]
    )


def _share_here(beat: TimedBeat, local_s: float) -> float:
    """Long share of one beat; NaN where it has none."""
    if not (beat.plan.uneven and beat.complete):
        return math.nan
    period_s = beat.period_s
    if period_s is None or period_s > LONGEST_GAP_BEATS * local_s:
        period_s = local_s
    return (beat.short_s - beat.lead_s) / period_s


def local_periods(row: tuple[TimedBeat, ...]) -> np.ndarray:
    """Local beat period at each beat of a bout, s; NaN in a bout without a timed beat.

    The median of the neighbours' pairwise means, so that a limp stays visible.
    """
    periods = _periods(row)
    if np.isnan(periods).all():
        return np.full(periods.size, np.nan)
    local = _middles(0.5 * (periods + np.append(periods[1:], np.nan)), 2, 1)
    return np.where(np.isnan(local), float(np.nanmedian(periods)), local)


def _middles(values: np.ndarray, before: int, after: int) -> np.ndarray:
    """Median of each value and its neighbours, so many before and after it, NaN left out."""
    padded = np.pad(values, (before, after), constant_values=np.nan)
    near = np.sort(np.lib.stride_tricks.sliding_window_view(padded, before + 1 + after), axis=1)
    last = np.isfinite(near).sum(axis=1) - 1
    both = np.take_along_axis(near, np.stack([last // 2, (last + 1) // 2], axis=1), axis=1)
    return both.mean(axis=1)


def _longest_run(flags: tuple[bool, ...], row: tuple[TimedBeat, ...]) -> int:
    """Most beats on the pattern in a row; a planned change between them does not break the run."""
    longest = run = 0
    for flag, beat in zip(flags, row, strict=True):
        if beat.plan.judged or not beat.complete:
            run = run + 1 if flag else 0
        if beat.heard.paused:
            longest, run = max(longest, run), 0
        longest = max(longest, run)
    return longest


def _drift(timed: np.ndarray) -> float:
    """Slope of log beat duration against time, 1/s; 0 under nine beats. `timed` is (lead s, period s)."""
    if len(timed) < FEWEST_FOR_DRIFT:
        return 0.0
    return theil_sen(timed[:, 0], np.log(timed[:, 1]))


def _drift_percent(drifts: list[tuple[float, np.ndarray]]) -> float | None:
    """Change of tempo over the longest bout that has nine beats, %."""
    drift, timed = max(drifts, key=lambda pair: len(pair[1]), default=(0.0, np.empty((0, 2))))
    if len(timed) < FEWEST_FOR_DRIFT:
        return None
    span_s = timed[-1, 0] + timed[-1, 1] - timed[0, 0]
    return 100.0 * math.expm1(-drift * span_s)


def _spread_percent(drifts: list[tuple[float, np.ndarray]]) -> float | None:
    """Robust spread of log beat durations round their drift, %; None under three beats."""
    residuals = []
    for drift, timed in drifts:
        if len(timed):
            level = np.log(timed[:, 1]) - drift * timed[:, 0]
            residuals.append(level - np.median(level))
    pooled = np.concatenate(residuals or [np.empty(0)])
    if pooled.size < 3:
        return None
    return 100.0 * 1.4826 * float(np.median(np.abs(pooled - np.median(pooled))))
