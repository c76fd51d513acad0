"""Gaps in a recording, where the device lost sound: no interval is measured across one.

A gap is of unknown length. For alignment it is opened so far that it ends a bout; what is told, drawn and
kept has the times of the recording again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from cuekit.bouts.audio_port import Slip
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.events import Footfall, Hearing, Recording
from cuekit.patterns.pattern import Pattern
from cuekit.rhythm.alignment import Alignment, Bout, Missed, Pause
from cuekit.rhythm.measures import Measures
from cuekit.telling.phrases import Phrases
from cuekit.telling.scoring import Score, score_hearing

GAP_S = 4.0
"""Put in place of a gap while footfalls are aligned: longer than any pause inside a bout, s."""

_AT_GAP_S = 0.06  # a footfall this near a gap may be the gap itself
_ONE_GAP_S = 0.25  # a device owns up to one gap several times

Clock = Callable[[float], float]


def gaps_of(slips: tuple[Slip, ...]) -> tuple[float, ...]:
    """Where a recording has gaps, s."""
    gaps_s = [slip.frame / SAMPLE_RATE_HZ for slip in slips if slip.frame > 0]
    before_s = [-1.0, *gaps_s]
    return tuple(gap for gap, before in zip(gaps_s, before_s, strict=False) if gap - before > _ONE_GAP_S)


def parted(hearing: Hearing, gaps_s: tuple[float, ...]) -> Hearing:
    """Footfalls with each gap opened by `GAP_S`; those at a gap left out."""
    if not gaps_s:
        return hearing
    edges = np.array(gaps_s)

    def apart(footfalls: tuple[Footfall, ...]) -> tuple[Footfall, ...]:
        return tuple(
            replace(each, time_s=each.time_s + GAP_S * int(np.searchsorted(edges, each.time_s)))
            for each in footfalls
            if np.abs(edges - each.time_s).min() > _AT_GAP_S
        )

    return replace(hearing, footfalls=apart(hearing.footfalls), rejected=apart(hearing.rejected))


def scored(
    recording: Recording,
    hearing: Hearing,
    gaps_s: tuple[float, ...],
    pattern: Pattern,
    phrases: Phrases,
    tempo_bpm: float | None = None,
) -> Score:
    """Score what was heard in a recording with gaps; see `score_hearing`."""
    apart = parted(hearing, gaps_s)
    return closed(score_hearing(recording, apart, pattern, tempo_bpm=tempo_bpm, phrases=phrases), gaps_s)


def closed(score: Score, gaps_s: tuple[float, ...]) -> Score:
    """A score of parted footfalls with the times of the recording again."""
    if not gaps_s:
        return score
    opened = np.array(gaps_s) + GAP_S * np.arange(1, len(gaps_s) + 1)

    def back(time_s: float) -> float:
        return time_s - GAP_S * int(np.searchsorted(opened, time_s, side="right"))

    hearing = score.hearing
    return replace(
        score,
        hearing=replace(
            hearing,
            footfalls=_footfalls(hearing.footfalls, back),
            rejected=_footfalls(hearing.rejected, back),
        ),
        alignment=_alignment(score.alignment, back),
        bouts=tuple(_measures(one, back) for one in score.bouts),
        measures=_measures(score.measures, back),
    )


def _footfalls(footfalls: tuple[Footfall, ...], back: Clock) -> tuple[Footfall, ...]:
    return tuple(replace(each, time_s=back(each.time_s)) for each in footfalls)


def _alignment(alignment: Alignment, back: Clock) -> Alignment:
    bouts = tuple(_bout(bout, back) for bout in alignment.bouts)
    return replace(alignment, footfalls=_footfalls(alignment.footfalls, back), bouts=bouts)


def _bout(bout: Bout, back: Clock) -> Bout:
    return replace(
        bout,
        missed=_missed(bout.missed, back),
        pauses=_pauses(bout.pauses, back),
        start_s=back(bout.start_s),
        end_s=back(bout.end_s),
    )


def _measures(measures: Measures, back: Clock) -> Measures:
    return replace(
        measures,
        missed=_missed(measures.missed, back),
        extra_s=tuple(back(time_s) for time_s in measures.extra_s),
        pauses=_pauses(measures.pauses, back),
    )


def _missed(missed: tuple[Missed, ...], back: Clock) -> tuple[Missed, ...]:
    return tuple(replace(each, time_s=back(each.time_s)) for each in missed)


def _pauses(pauses: tuple[Pause, ...], back: Clock) -> tuple[Pause, ...]:
    return tuple(replace(each, start_s=back(each.start_s), end_s=back(each.end_s)) for each in pauses)
