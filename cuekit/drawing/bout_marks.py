"""What a drawing of a bout shows, in seconds: places due and heard, by lines, without paper or ink.

A place is drawn where it was due at the learner's own tempo, never at a clock's. A beat is due where
the leads heard up to two beats before and after put it at the local tempo: each of them tells a
time, and their pseudo-median (Hodges & Lehmann 1963, Ann Math Stat 34:598-611) is taken, which
neither one stumble moves nor the alternation of a limp follows. The short footfall is due at the
pattern's long share of the way to the next beat.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cuekit.rhythm.alignment import Alignment, Bout
from cuekit.rhythm.measures import TimedBeat, beat_shares, local_periods, timed_beats

NEAR_BEATS, FURTHEST_BEATS = 2, 3.0
"""Leads that tell where a beat is due: so many beats away, and no further across a planned rest."""


@dataclass(frozen=True)
class Mark:
    """A place of the pattern as it went.

    Attributes:
        beat: number shown, 1 for the first beat of the recording.
        place: 0 for the footfall that starts the beat, 1 for the short one.
        due_s: when it was due at the learner's own tempo, s.
        heard_s: when it was heard, s; None where it was not.
        judged: False beside a planned change.
        spread_s: until the second contact of the same landing, s.
    """

    beat: int
    place: int
    due_s: float
    heard_s: float | None
    judged: bool
    spread_s: float = 0.0


@dataclass(frozen=True)
class Gap:
    """A time that is drawn short, s: a pause, or the way to an extra sound before or after a try.

    Attributes:
        start_s, end_s: what is drawn short.
        pause_s: length of the pause; None where it is none.
    """

    start_s: float
    end_s: float
    pause_s: float | None


@dataclass(frozen=True)
class BoutLine:
    """A few beats in a row, one line of the drawing.

    Attributes:
        bout: number of the try, 1 for the first.
        first: whether it is the first line of its try.
        marks: in order of the pattern.
        extras_s: sounds without a place, s.
        gaps: drawn short, in order of time.
        start_s, end_s: what the line covers; a next line of the same try goes on at its end.
        beat_s: median local beat, s.
    """

    bout: int
    first: bool
    marks: tuple[Mark, ...]
    extras_s: tuple[float, ...]
    gaps: tuple[Gap, ...]
    start_s: float
    end_s: float
    beat_s: float

    @property
    def moved_s(self) -> float:
        """Time of the line without its gaps, s."""
        return self.end_s - self.start_s - sum(gap.end_s - gap.start_s for gap in self.gaps)

    @property
    def beats(self) -> tuple[int, int]:
        """Numbers of the first and last beat of the line."""
        return self.marks[0].beat, self.marks[-1].beat


@dataclass(frozen=True)
class LineScale:
    """How time becomes length on every line of a drawing, so that lines can be compared.

    Attributes:
        per_s: length of a second.
        gap: length of a time drawn short, whatever it lasts.
        before: length kept free before a line, for places due before its first footfall.
    """

    per_s: float
    gap: float
    before: float

    def at(self, line: BoutLine, time_s: float) -> float:
        """Length from the start of the line to a time; beyond the ends of the line, its ends."""
        times_s, lengths = [line.start_s - self.before / self.per_s, line.start_s], [-self.before, 0.0]
        for gap in line.gaps:
            lengths.append(lengths[-1] + (gap.start_s - times_s[-1]) * self.per_s)
            times_s.append(gap.start_s)
            lengths.append(lengths[-1] + self.gap)
            times_s.append(gap.end_s)
        lengths.append(lengths[-1] + (line.end_s - times_s[-1]) * self.per_s)
        times_s.append(line.end_s)
        return float(np.interp(time_s, times_s, lengths))


@dataclass(frozen=True)
class BeatValue:
    """A number of one beat: its long share, or its duration against the local tempo.

    Attributes:
        beat: number shown, 1 for the first beat of the recording.
        value: the share (0-1) or the ratio (1 is the local tempo).
        judged: False beside a planned change.
    """

    beat: int
    value: float
    judged: bool


def bout_lines(alignment: Alignment, beats_a_line: int) -> tuple[BoutLine, ...]:
    """The bouts of a recording in lines of at most so many beats, planned rests and pauses counted in."""
    return tuple(
        line
        for number, bout in enumerate(alignment.bouts, start=1)
        for line in _lines_of(alignment, bout, number, beats_a_line)
    )


def strays(alignment: Alignment) -> tuple[float, ...]:
    """Times of footfalls that belong to no bout, s: too far from any other to be part of a rhythm."""
    extra = {index for bout in alignment.bouts for index in bout.extra}
    return tuple(
        footfall.time_s
        for index, (footfall, place) in enumerate(zip(alignment.footfalls, alignment.places, strict=True))
        if place is None and index not in extra
    )


def scale_to_fit(
    lines: Sequence[BoutLine], room: float, *, gap: float, before: float, longest_beat: float
) -> LineScale:
    """The scale at which the longest line fills the room and no usual beat is longer than told."""
    fitting = min((room - gap * len(line.gaps)) / line.moved_s for line in lines)
    usual_beat_s = float(np.median([line.beat_s for line in lines]))
    return LineScale(min(fitting, longest_beat / usual_beat_s), gap, before)


def long_shares_by_beat(alignment: Alignment) -> tuple[BeatValue, ...]:
    """Long share of every complete long-short beat whose duration is known, or that of a beat near it."""
    return tuple(
        BeatValue(beat.heard.number + 1, float(share), beat.plan.judged)
        for row in (timed_beats(alignment, bout) for bout in alignment.bouts)
        for beat, share in zip(row, beat_shares(row), strict=True)
        if math.isfinite(share)
    )


def durations_by_beat(alignment: Alignment) -> tuple[BeatValue, ...]:
    """Duration of every beat that a footfall ended, against the local tempo (1 is equal)."""
    return tuple(
        BeatValue(beat.heard.number + 1, beat.period_s / local_s, beat.plan.judged)
        for row in (_timed_row(alignment, bout) for bout in alignment.bouts)
        for beat, local_s in zip(row.beats, row.local_s, strict=True)
        if beat.timed
    )


@dataclass(frozen=True, eq=False)
class _Row:
    """The beats of a bout, the local beat period of each and when each was due, s."""

    beats: tuple[TimedBeat, ...]
    local_s: list[float]
    leads_s: list[float]


def _timed_row(alignment: Alignment, bout: Bout) -> _Row:
    beats = timed_beats(alignment, bout)
    local_s = local_periods(beats).tolist()
    if not any(beat.timed for beat in beats):
        local_s = [_mean_period(beats, bout)] * len(beats)
    return _Row(beats, local_s, _due_leads(beats, local_s))


def _lines_of(alignment: Alignment, bout: Bout, number: int, beats_a_line: int) -> Iterator[BoutLine]:
    """The lines of one bout."""
    row = _timed_row(alignment, bout)
    cuts = _cuts(row.beats, beats_a_line)
    over_s = max(row.leads_s[-1] + row.local_s[-1], bout.end_s + 0.25 * row.local_s[-1])
    edges_s = [bout.start_s, *(row.leads_s[cut] for cut in cuts[1:-1]), over_s]
    extras_s = [alignment.footfalls[index].time_s for index in bout.extra]
    last = len(cuts) - 2
    for n, (start_s, end_s) in enumerate(pairwise(edges_s)):
        from_s, to_s = start_s if n else -math.inf, end_s if n < last else math.inf
        marks = (mark for k in range(cuts[n], cuts[n + 1]) for mark in _marks_of(alignment, bout, row, k))
        extras = [time_s for time_s in extras_s if from_s <= time_s < to_s]
        pauses = [pause for pause in bout.pauses if start_s <= pause.start_s < end_s]
        gaps = [Gap(one.start_s, min(one.end_s, end_s), one.end_s - one.start_s) for one in pauses]
        if extras and extras[0] < start_s:
            gaps.insert(0, Gap(extras[0], start_s, None))
        if extras and extras[-1] > end_s:
            gaps.append(Gap(end_s, extras[-1], None))
        yield BoutLine(
            number,
            n == 0,
            tuple(marks),
            tuple(extras),
            tuple(gaps),
            min([start_s, *extras]),
            max([end_s, *extras]),
            float(np.median(row.local_s[cuts[n] : cuts[n + 1]])),
        )


def _mean_period(beats: tuple[TimedBeat, ...], bout: Bout) -> float:
    """Beat period of a bout too short to have a complete beat, s: its length by the beats it spans."""
    at, heard_at = 0.0, []
    for beat in beats:
        if beat.lead_s is not None:
            heard_at.append(at)
        if beat.short_s is not None:
            heard_at.append(at + float(beat.plan.long_share))
        at += float(beat.plan.length)
    return (bout.end_s - bout.start_s) / (heard_at[-1] - heard_at[0])


def _due_leads(beats: tuple[TimedBeat, ...], local_s: list[float]) -> list[float]:
    """When each beat was due, s, from the leads heard near it and not beyond a pause."""
    at = np.concatenate([[0.0], np.cumsum([float(beat.plan.length) for beat in beats])])
    stretch = np.concatenate([[0], np.cumsum([beat.heard.paused for beat in beats])])
    heard = [k for k, beat in enumerate(beats) if beat.lead_s is not None]
    due_s = []
    for n, beat in enumerate(beats):
        near = [
            k
            for k in range(max(0, n - NEAR_BEATS), min(len(beats), n + NEAR_BEATS + 1))
            if beats[k].lead_s is not None
            and stretch[k] == stretch[n]
            and abs(at[k] - at[n]) <= FURTHEST_BEATS
        ]
        if not near:
            same = [k for k in heard if stretch[k] == stretch[n]]
            near = sorted(same, key=lambda k: abs(at[k] - at[n]))[:1]
        if not near:
            due_s.append(beat.short_s - local_s[n] * float(beat.plan.long_share))
            continue
        told_s = np.array([beats[k].lead_s + local_s[n] * (at[n] - at[k]) for k in near])
        i, j = np.triu_indices(told_s.size)
        due_s.append(float(np.median(0.5 * (told_s[i] + told_s[j]))))
    return due_s


def _cuts(beats: tuple[TimedBeat, ...], beats_a_line: int) -> list[int]:
    """Indices of the beats that start a line, and the number of beats."""
    cuts, used = [0], 0.0
    for n, beat in enumerate(beats):
        room = float(beat.plan.length)
        if used and used + room > beats_a_line:
            cuts.append(n)
            used = 0.0
        used += room + beat.heard.paused
    return [*cuts, len(beats)]


def _marks_of(alignment: Alignment, bout: Bout, row: _Row, n: int) -> Iterator[Mark]:
    """The places of a beat that were heard or missed; a try begun on the short sound has no first lead."""
    beat, number = row.beats[n], row.beats[n].heard.number
    places = [(row.leads_s[n], beat.heard.lead)]
    if beat.plan.uneven:
        places.append((_short_due(row, n), beat.heard.short))
    missed = {(one.beat, one.place) for one in bout.missed}
    for place, (due_s, index) in enumerate(places):
        if index is not None:
            footfall = alignment.footfalls[index]
            yield Mark(number + 1, place, due_s, footfall.time_s, beat.plan.judged, footfall.spread_s)
        elif (number, place) in missed:
            yield Mark(number + 1, place, due_s, None, beat.plan.judged)


def _short_due(row: _Row, n: int) -> float:
    """When the short footfall of a beat was due, s."""
    plan, beat_s = row.beats[n].plan, row.local_s[n]
    if n + 1 < len(row.beats) and not row.beats[n].heard.paused and plan.length == 1:
        beat_s = row.leads_s[n + 1] - row.leads_s[n]
    return row.leads_s[n] + float(plan.long_share) * beat_s
