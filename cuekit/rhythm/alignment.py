"""Which footfall is which: footfalls of a bout against the places of a pattern.

Contacts of one landing are joined, the recording is cut into tries, and the most probable path of
each (`cuekit.rhythm.decoding`) is told as beats: what was heard, missed, extra, and where a pause was.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Pattern
from cuekit.rhythm.decoding import PathStep, decode
from cuekit.rhythm.place_grid import PlaceGrid, place_grid, sound_cycle

ECHO_S, LANDING_S = 0.060, 0.132
"""Closer than the first no two sounds are two landings; a heel and toe sound up to the second apart."""
UNTIDY, TIDIER = 0.15, 0.5
"""A long-short bout untidier than this is tried as heels and toes, and taken so where that leaves less than
half of it (proposals, checked by `tests/benchmark_faults.py`)."""
ALIKE_S = 0.020
"""Heels and toes of one pair of shoes: their distance differs by this at most, s (from memory)."""
_BOUT_GAP_S = 3.0


@dataclass(frozen=True)
class HeardBeat:
    """A beat of a bout, as far as it was heard.

    Attributes:
        number: running number in the recording, from 0.
        index: which beat of the pattern's cycle.
        lead: index of the footfall that starts it; None where it was missed.
        short: index of the short footfall; None where missed or not planned.
        next_lead: index of the footfall that starts the next beat; None at the end or where missed.
        paused: whether the learner paused before the next beat.
    """

    number: int
    index: int
    lead: int | None
    short: int | None
    next_lead: int | None
    paused: bool


@dataclass(frozen=True)
class Missed:
    """A place nothing was heard at: when it was due (s), and which."""

    time_s: float
    beat: int
    place: int


@dataclass(frozen=True)
class Pause:
    """A gap of more than 1.6 beats inside a bout, s."""

    start_s: float
    end_s: float


@dataclass(frozen=True)
class Bout:
    """One continuous try.

    Attributes:
        beats: in order of time.
        missed: places inside the bout nothing was heard at.
        extra: indices of footfalls without a place.
        pauses: gaps inside the bout.
        start_s, end_s: first and last footfall that has a place, s.
    """

    beats: tuple[HeardBeat, ...]
    missed: tuple[Missed, ...]
    extra: tuple[int, ...]
    pauses: tuple[Pause, ...]
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Alignment:
    """Footfalls of a recording on the places of a pattern.

    Attributes:
        pattern: the target.
        footfalls: the landings, double contacts joined (see `join_landings`).
        places: for each footfall (beat, place), or None where it is extra.
        bouts: in order of time.
    """

    pattern: Pattern
    footfalls: tuple[Footfall, ...]
    places: tuple[tuple[int, int] | None, ...]
    bouts: tuple[Bout, ...]


def align(footfalls: tuple[Footfall, ...], pattern: Pattern, *, tempo_bpm: float | None = None) -> Alignment:
    """Find the place of every footfall, bout by bout.

    In a long-short pattern two close sounds may be a short one and the next lead, or the heel and toe
    of one landing. They are first taken for two landings, and for one only where that explains most of
    what is left over.

    Args:
        footfalls: in order of time.
        pattern: the target.
        tempo_bpm: the tempo that was asked for; None where the learner chose it, when the
            pattern's own tempo decides between a tempo and its double.
    """
    found = _aligned(join_landings(footfalls, closest_landings_s(pattern)), pattern, tempo_bpm)
    if not pattern.uneven or _untidiness(found) <= UNTIDY:
        return found
    landings = join_landings(footfalls, LANDING_S)
    if not _heels_and_toes(landings):
        return found
    joined = _aligned(landings, pattern, tempo_bpm)
    return joined if _untidiness(joined) < TIDIER * _untidiness(found) else found


def _aligned(landings: tuple[Footfall, ...], pattern: Pattern, tempo_bpm: float | None) -> Alignment:
    """Places of landings as they are, no more of them joined."""
    places: list[tuple[int, int] | None] = [None] * len(landings)
    bouts: list[Bout] = []
    first_beat = 0
    for start, stop in _split(landings, pattern):
        steps = decode(landings[start:stop], pattern, tempo_bpm)
        if len(steps) < 2:
            continue
        bout = _assemble(steps, landings[start:stop], pattern, start, first_beat)
        bouts.append(bout)
        for beat in bout.beats:
            for place, index in enumerate((beat.lead, beat.short)):
                if index is not None:
                    places[index] = (beat.number, place)
        first_beat = bout.beats[-1].number + 1
    return Alignment(pattern, landings, tuple(places), tuple(bouts))


def _untidiness(alignment: Alignment) -> float:
    """Sounds without a place and places without a sound, a beat, and the spread of the beats."""
    beats = [beat for bout in alignment.bouts for beat in bout.beats]
    left = sum(len(bout.extra) + len(bout.missed) for bout in alignment.bouts)
    whole = [beat for beat in beats if beat.lead is not None and beat.next_lead is not None]
    times_s = [footfall.time_s for footfall in alignment.footfalls]
    lengths = [float(alignment.pattern.beats[beat.index].length) for beat in whole]
    lasted_s = np.array([times_s[beat.next_lead] - times_s[beat.lead] for beat in whole]) / lengths
    if not lasted_s.size:
        return math.inf
    middle_s = float(np.median(lasted_s))
    return left / len(beats) + 1.4826 * float(np.median(np.abs(lasted_s - middle_s))) / middle_s


def _heels_and_toes(landings: tuple[Footfall, ...]) -> bool:
    """Whether most landings are of two sounds, about equally far apart, as those of one pair of shoes are."""
    spreads_s = np.array([landing.spread_s for landing in landings if landing.spread_s > 0])
    if 2 * spreads_s.size <= len(landings):
        return False
    return 1.4826 * float(np.median(np.abs(spreads_s - np.median(spreads_s)))) <= ALIKE_S


def closest_landings_s(pattern: Pattern) -> float:
    """Contacts closer than this are one landing, s.

    A heel and toe, or the two feet of a jump, sound up to 0.13 s apart; a long-short skill has true
    gaps down to 0.08 s (a clipped gallop at 130 beats/min), so there only an echo is joined at first.
    """
    return ECHO_S if pattern.uneven else LANDING_S


def join_landings(footfalls: tuple[Footfall, ...], closest_s: float) -> tuple[Footfall, ...]:
    """Contacts closer than `closest_s` (s) to the first of a landing become one footfall.

    The landing keeps its first contact's time and its loudest level; `spread_s` is the time to its
    last contact.
    """
    joined: list[Footfall] = []
    for footfall in footfalls:
        if joined and footfall.time_s - joined[-1].time_s < closest_s:
            first = joined[-1]
            spread_s = footfall.time_s + footfall.spread_s - first.time_s
            level_db = max(first.level_db, footfall.level_db)
            confidence = max(first.confidence, footfall.confidence)
            joined[-1] = Footfall(first.time_s, level_db, confidence, spread_s)
        else:
            joined.append(footfall)
    return tuple(joined)


def _split(landings: tuple[Footfall, ...], pattern: Pattern) -> list[tuple[int, int]]:
    """Ranges of landings with no gap longer than a pause: the tries of a recording."""
    longest_rest = float(max(beat.length for beat in pattern.beats)) - 1
    gap_s = _BOUT_GAP_S + longest_rest * 60.0 / pattern.tempo.low
    cuts = [n for n, (a, b) in enumerate(pairwise(landings), start=1) if b.time_s - a.time_s > gap_s]
    edges = [0, *cuts, len(landings)]
    return [(a, b) for a, b in pairwise(edges) if b > a]


def _assemble(
    steps: list[PathStep], landings: tuple[Footfall, ...], pattern: Pattern, start: int, first_beat: int
) -> Bout:
    """Beats, missed places, extras and pauses of the path through landings that start at index `start`."""
    grid = place_grid(pattern)
    visits = list(_visits(steps, landings, grid))
    groups = list(_by_beat(visits, grid))
    beats: list[HeardBeat] = []
    for n, group in enumerate(groups):
        after = groups[n + 1] if n + 1 < len(groups) else None
        paused = after is not None and after[0].anew
        next_lead = None if after is None or paused else _footfall_at(after, 0, grid, start)
        lead, short = (_footfall_at(group, kind, grid, start) for kind in (0, 1))
        index = int(grid.beat[group[0].place])
        if beats and (beats[-1].index + 1 - index) % sound_cycle(pattern) == 0:
            index = (beats[-1].index + 1) % len(pattern.beats)  # the sound repeats before the feet do
        beats.append(HeardBeat(first_beat + n, index, lead, short, next_lead, paused))
    missed = tuple(
        Missed(visit.time_s, first_beat + n, int(grid.kind[visit.place]))
        for n, group in enumerate(groups)
        for visit in group
        if visit.step is None
    )
    pauses = tuple(Pause(a.time_s, b.time_s) for a, b in pairwise(visits) if b.anew)
    placed = {start + step.footfall for step in steps}
    extra = tuple(n for n in range(start, start + len(landings)) if n not in placed)
    return Bout(tuple(beats), missed, extra, pauses, visits[0].time_s, visits[-1].time_s)


@dataclass(frozen=True)
class _Visit:
    """A place the path went through.

    Attributes:
        place: of the cycle.
        time_s: of its footfall, or when it was due.
        step: of the path; None where the place was missed.
        anew: whether the learner began again here after a pause.
    """

    place: int
    time_s: float
    step: PathStep | None
    anew: bool = False


def _visits(steps: list[PathStep], landings: tuple[Footfall, ...], grid: PlaceGrid) -> Iterator[_Visit]:
    """Every place the path went through, the missed ones among them.

    A missed place is due where the pattern has it between the footfalls heard before and after: a
    short one at the long share of its beat, not half way.
    """
    before: PathStep | None = None
    for step in steps:
        time_s = landings[step.footfall].time_s
        if before is not None and step.moved > 1:
            before_s = landings[before.footfall].time_s
            whole = grid.beats_on(before.place, step.moved)
            for on in range(1, step.moved):
                due_s = before_s + (time_s - before_s) * grid.beats_on(before.place, on) / whole
                yield _Visit((before.place + on) % grid.kind.size, due_s, None)
        yield _Visit(step.place, time_s, step, before is not None and step.moved == 0)
        before = step


def _by_beat(visits: list[_Visit], grid: PlaceGrid) -> Iterator[list[_Visit]]:
    """The visits beat by beat: a lead place, or beginning again, starts one."""
    group: list[_Visit] = []
    for visit in visits:
        if group and (visit.anew or grid.kind[visit.place] == 0):
            yield group
            group = []
        group.append(visit)
    yield group


def _footfall_at(group: list[_Visit], kind: int, grid: PlaceGrid, start: int) -> int | None:
    """Index of the footfall at the lead (0) or short (1) place of a beat; None where there is none."""
    found = (visit.step for visit in group if visit.step is not None and grid.kind[visit.place] == kind)
    return next((start + step.footfall for step in found), None)
