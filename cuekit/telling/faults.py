"""What can be heard to differ from the pattern, by rules on the measures.

A fault is said only with its other explanation and with the question the eye must answer; its
sentences live in `cuekit.telling.phrases`. Planned changes belong to the pattern and are never faults.
The rules ask what a pattern *is* (uneven, sides taking turns, two feet, a flight), never its name.
Their numbers are the team's proposals (common practice, no source) unless a source stands beside.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cuekit.patterns.pattern import Pattern
from cuekit.rhythm.alignment import Alignment
from cuekit.rhythm.bout_changes import stuttered, turned_even
from cuekit.rhythm.long_share import FEWEST_BEATS, RhythmClass
from cuekit.rhythm.measures import Measures, TimedBeat, timed_beats

SPLIT_LANDING_S = 0.030
"""Two feet this far apart land as two sounds, s (from memory: the ear joins what is closer)."""
STEADY_PERCENT = 12.0
"""Spread of the beat up to which a bout is called steady, % (proposal; a child's own replaces it)."""
DRIFT_PERCENT = 10.0
"""Change of tempo told, %, where it is also twice what the spread makes by chance: the standard error of a
slope over n beats, times their span, is spread x sqrt(12 / n) (least squares, beats evenly spaced)."""
STILLNESS_BEATS = 3
"""A beat that long holds a planned stillness; a shorter one is a flight, a turn or a breath."""
AIR_GAP, NO_AIR_GAP = 1.4, 1.2
"""A leap's longest gap against its other gaps: heard from the first on, not heard below the second."""


@dataclass(frozen=True)
class Fault:
    """A difference that was heard.

    Attributes:
        id: key of its sentences, for example "short-not-heard".
        values: numbers that fill the sentences, as (name, text).
    """

    id: str
    values: tuple[tuple[str, object], ...] = ()


def find_faults(alignment: Alignment, measures: Measures) -> tuple[Fault, ...]:
    """All faults heard, the most teachable first."""
    found = (rule(alignment, measures) for rule in _RULES)
    return tuple(fault for fault in found if fault is not None)


def sides_take_turns(pattern: Pattern) -> bool:
    """Whether uneven beats alternate their lead foot, so that every other one belongs to one side."""
    feet = [beat.lead.foot for beat in pattern.beats]
    return len(feet) == 2 and feet[0] is feet[1].mirrored and all(beat.uneven for beat in pattern.beats)


def air_gap(alignment: Alignment) -> float | None:
    """Longest gaps of a pattern with a flight against its other gaps; None where it has none.

    Read from the sounds themselves and not from their places, so that an even run cannot hide
    behind places it never kept.
    """
    lengths = [beat.length for beat in alignment.pattern.beats]
    flights = sum(length == 2 for length in lengths)
    if alignment.pattern.uneven or not flights or set(lengths) - {1, 2}:
        return None
    ratios = []
    for bout in alignment.bouts:
        inside = [f.time_s for f in alignment.footfalls if bout.start_s <= f.time_s <= bout.end_s]
        gaps = np.sort(np.diff(inside))
        longest = round(gaps.size * flights / len(lengths))
        if longest and gaps.size > longest:
            ratios.append(float(np.median(gaps[-longest:]) / np.median(gaps[:-longest])))
    return float(np.median(ratios)) if ratios else None


def _every_other_short(alignment: Alignment, measures: Measures) -> Fault | None:
    if not sides_take_turns(alignment.pattern):
        return None
    heard = [beat.short_s is not None for row in _rows(alignment) for beat in _whole(row)]
    for silent in (0, 1):
        quiet, loud = heard[silent::2], heard[1 - silent :: 2]
        missed = len(quiet) - sum(quiet)
        if missed >= 3 and missed >= 0.75 * len(quiet) and sum(loud) >= 0.75 * len(loud) >= 2:
            return Fault("every-other-short-not-heard", (("missed", missed), ("beats", len(heard))))
    return None


def _short_not_heard(alignment: Alignment, measures: Measures) -> Fault | None:
    beats = [beat for row in _rows(alignment) for beat in _whole(row) if beat.plan.uneven]
    missed = sum(beat.short_s is None for beat in beats)
    if _every_other_short(alignment, measures) is not None:  # the same sounds, told better
        return None
    if missed >= 3 and missed > 0.4 * len(beats):
        return Fault("short-not-heard", (("missed", missed), ("beats", len(beats))))
    return None


def _changed_to_even(alignment: Alignment, measures: Measures) -> Fault | None:
    beats = turned_even(alignment)
    return None if beats is None else Fault("changed-to-even", (("beats", beats),))


def _even_for_uneven(alignment: Alignment, measures: Measures) -> Fault | None:
    if not alignment.pattern.uneven or measures.long_share is None:
        return None
    value = ("share", f"{measures.long_share.value:.2f}")
    if measures.rhythm is RhythmClass.EVEN:
        return Fault("even-for-uneven", (value,))
    return Fault("not-clearly-uneven", (value,)) if measures.rhythm is RhythmClass.NEARLY_EVEN else None


def _clipped(alignment: Alignment, measures: Measures) -> Fault | None:
    if alignment.pattern.uneven and measures.rhythm is RhythmClass.CLIPPED:
        return Fault("clipped", (("share", f"{measures.long_share.value:.2f}"),))
    return None


def _limping(alignment: Alignment, measures: Measures) -> Fault | None:
    plain = all(beat.length == 1 for beat in alignment.pattern.beats)
    if alignment.pattern.uneven or not plain:
        return None
    believed = 4 * len(measures.extra_s) <= measures.beats  # a limp is never said of sounds half left out
    if believed and measures.rhythm in (RhythmClass.UNEVEN, RhythmClass.CLIPPED):
        return Fault("limping", (("share", f"{measures.long_share.value:.2f}"),))
    return None


def _split_landing(alignment: Alignment, measures: Measures) -> Fault | None:
    if not alignment.pattern.two_feet:
        return None
    landings = [f for f, place in zip(alignment.footfalls, alignment.places, strict=True) if place]
    split = sum(landing.spread_s >= SPLIT_LANDING_S for landing in landings)
    if split >= 2 and 3 * split > len(landings):
        return Fault("split-landing", (("split", split), ("landings", len(landings))))
    return None


def _no_air_gap(alignment: Alignment, measures: Measures) -> Fault | None:
    gap = air_gap(alignment)
    if gap is not None and gap < NO_AIR_GAP and len(alignment.footfalls) >= FEWEST_BEATS:
        return Fault("no-air-gap", (("gap", f"{gap:.1f}"),))
    return None


def _stutter(alignment: Alignment, measures: Measures) -> Fault | None:
    found = stuttered(alignment)
    if found is not None and found.stutters >= 2 and 2 * found.stutters >= found.leaps:
        return Fault("stutter", (("stutters", found.stutters), ("leaps", found.leaps)))
    return None


def _moved_in_stillness(alignment: Alignment, measures: Measures) -> Fault | None:
    rests = [beat for row in _rows(alignment) for beat in row if beat.plan.length >= STILLNESS_BEATS]
    sounds = sum(len(beat.stirs_s) for beat in rests)
    if sounds >= 2 and 2 * sum(bool(beat.stirs_s) for beat in rests) >= len(rests):
        return Fault("moved-in-stillness", (("sounds", sounds), ("rests", len(rests))))
    return None


def _stopped(alignment: Alignment, measures: Measures) -> Fault | None:
    for row in _rows(alignment):
        for number, beat in enumerate(row, start=1):
            if beat.heard.paused:
                pause = measures.pauses[0]
                return Fault("stopped", (("beat", number), ("pause", f"{pause.end_s - pause.start_s:.1f}")))
    return None


def _drifted(alignment: Alignment, measures: Measures) -> Fault | None:
    drift, spread = measures.tempo_drift_percent, measures.spread_percent
    if drift is None or spread is None:
        return None
    by_chance = 2.0 * spread * math.sqrt(12.0 / measures.complete_beats)
    if abs(drift) <= max(DRIFT_PERCENT, by_chance):
        return None
    return Fault("sped-up" if drift > 0 else "slowed-down", (("drift", f"{abs(drift):.0f}"),))


def _extra_sounds(alignment: Alignment, measures: Measures) -> Fault | None:
    if len(measures.extra_s) >= 2 and 4 * len(measures.extra_s) > measures.beats:
        return Fault("extra-sounds", (("extra", len(measures.extra_s)), ("beats", measures.beats)))
    return None


def _unsteady(alignment: Alignment, measures: Measures) -> Fault | None:
    if air_gap(alignment) is not None:  # the air of a leap may be short or long: no beat to be steady by
        return None
    spread = measures.spread_percent
    if spread is not None and measures.complete_beats >= FEWEST_BEATS and spread > STEADY_PERCENT:
        return Fault("unsteady", (("spread", f"{spread:.0f}"),))
    return None


_RULES: tuple[Callable[[Alignment, Measures], Fault | None], ...] = (
    _every_other_short,
    _short_not_heard,
    _changed_to_even,
    _even_for_uneven,
    _clipped,
    _limping,
    _split_landing,
    _no_air_gap,
    _stutter,
    _moved_in_stillness,
    _stopped,
    _drifted,
    _extra_sounds,
    _unsteady,
)


def _rows(alignment: Alignment) -> list[tuple[TimedBeat, ...]]:
    """The beats of each bout with their times."""
    return [timed_beats(alignment, bout) for bout in alignment.bouts]


def _whole(row: tuple[TimedBeat, ...]) -> list[TimedBeat]:
    """Beats whose lead was heard and that another lead follows: the last may have stopped on its lead."""
    return [beat for beat, after in pairwise(row) if beat.lead_s is not None and after.lead_s is not None]
