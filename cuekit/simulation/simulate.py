"""A made-up learner: footfall times that are known because they were invented.

A learner moves a pattern at a tempo and deviates from it in stated ways; what comes out is the truth
against which hearing and scoring are checked. Nothing here is measured from a child. The same seed
gives the same bout.

Timing follows Wing & Kristofferson 1973 (Perception & Psychophysics 14, 5-12): a timekeeper whose
errors add up from beat to beat, and a landing error that does not. Beat intervals then have variance
`timekeeper_s**2 + 2 scatter_s**2` and a correlation with the next of
`-scatter_s**2 / (timekeeper_s**2 + 2 scatter_s**2)`.

Times are where the foot meets the floor, s from the start of the recording; sound still has to
travel to the microphone (`cuekit.simulation.simulate_rooms`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cuekit.errors import PatternError
from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern import Beat, Foot, Pattern
from cuekit.patterns.schedule import Plan, Schedule, seconds_of_beat

EXTRA_APART_S = 0.12
"""An extra sound this near a landing could not be told from it, so none is put there, s."""


@dataclass(frozen=True)
class Rest:
    """A pause that is not in the pattern: so long, after the beat of that number (0 is the first)."""

    after_beat: int
    duration_s: float


@dataclass(frozen=True)
class Learner:
    """How a learner moves.

    Attributes:
        tempo_bpm: own tempo at the start; not used where a cue is followed.
        long_share: of uneven beats; None takes what the pattern (or the cue) asks.
        scatter_s: standard deviation of each landing about its place, independent, s.
        timekeeper_s: standard deviation of the inner clock over one beat; it adds up, s.
        drift_percent: tempo at the end against the start, %; positive is faster.
        even_from_beat: from this beat on long and short are equal (a gallop that becomes a run).
        miss_lead, miss_short: chance that a landing of that place is not made or not heard, 0-1.
        not_made: landings left out for certain, as (beat, place).
        start_on_short: whether the very first lead footfall is left out.
        extra_per_min: taps that belong to nothing, a minute.
        rests: unplanned pauses.
        short_db: level of the short footfall against the lead one, dB.
        level_scatter_db: standard deviation of the level from landing to landing, dB.
        landing_spread_s: between the two feet of a two-foot landing, s.
        heel_toe_s: between heel and toe of a one-foot landing, s; 0 for one contact.
        asynchrony_s: all landings late (early where negative) by this, s.
    """

    tempo_bpm: float = 100.0
    long_share: float | None = None
    scatter_s: float = 0.0
    timekeeper_s: float = 0.0
    drift_percent: float = 0.0
    even_from_beat: int | None = None
    miss_lead: float = 0.0
    miss_short: float = 0.0
    not_made: frozenset[tuple[int, int]] = frozenset()
    start_on_short: bool = False
    extra_per_min: float = 0.0
    rests: tuple[Rest, ...] = ()
    short_db: float = 0.0
    level_scatter_db: float = 1.5
    landing_spread_s: float = 0.0
    heel_toe_s: float = 0.0
    asynchrony_s: float = 0.0


@dataclass(frozen=True)
class Landing:
    """One landing as it was, the truth.

    Attributes:
        time_s: first contact, s from the start of the recording.
        level_db: of the landing against a usual one, dB.
        beat, place: of the pattern (beats counted from 0); None for an extra tap.
        spread_s: until the second contact of the same landing, s; 0 where there is none.
    """

    time_s: float
    level_db: float
    beat: int | None
    place: int | None
    spread_s: float = 0.0


@dataclass(frozen=True)
class Performance:
    """What a learner did.

    Attributes:
        landings: in order of time.
        end_s: when the last beat was over, s.
    """

    landings: tuple[Landing, ...]
    end_s: float

    @property
    def times_s(self) -> np.ndarray:
        """First contacts, s."""
        return np.array([landing.time_s for landing in self.landings])

    @property
    def footfalls(self) -> tuple[Footfall, ...]:
        """The landings as a perfect ear would hear them at no distance."""
        return tuple(Footfall(each.time_s, each.level_db, 1.0, each.spread_s) for each in self.landings)


@dataclass(frozen=True)
class _Place:
    """Where a landing should be: its beat's start and share, and its time without deviation."""

    beat: int
    place: int
    share: float
    time_s: float
    foot: Foot


def perform(
    pattern: Pattern, learner: Learner, *, beats: int, seed: int, start_s: float = 1.0
) -> Performance:
    """A learner moves a pattern without a cue, the first footfall due at `start_s`.

    Raises:
        PatternError: the tempo or the number of beats is out of bounds.
    """
    _check(learner, beats)
    plan = Plan(learner.tempo_bpm, beats, tempo_change_percent=learner.drift_percent)
    places = []
    for number in range(beats):
        beat, at = pattern.beats[number % len(pattern.beats)], _start_of(pattern, number)
        for place, step in enumerate(beat.steps):
            share = _share(learner, beat, number) if place else 0.0
            time_s = start_s + seconds_of_beat(at + share, plan)
            places.append(_Place(number, place, share, time_s, step.foot))
    end_s = start_s + seconds_of_beat(_start_of(pattern, beats), plan)
    return _deviated(places, learner, end_s, seed)


def follow(schedule: Schedule, learner: Learner, *, seed: int, start_s: float = 0.0) -> Performance:
    """A learner moves to the cues of a schedule that begins at `start_s`, and on where they fall silent."""
    pattern, places, lead_s = schedule.pattern, [], 0.0
    for cue in schedule.footfalls:
        beat, share, time_s = pattern.beats[cue.beat % len(pattern.beats)], 0.0, cue.time_s
        if cue.place:
            share = _share(learner, beat, cue.beat)
            time_s = lead_s + (cue.time_s - lead_s) * share / float(beat.long_share)
        else:
            lead_s = cue.time_s
        places.append(_Place(cue.beat, cue.place, share, start_s + time_s, cue.foot))
    return _deviated(places, learner, start_s + schedule.end_s, seed)


def nobody(duration_s: float) -> Performance:
    """A recording of that length in which nobody moves."""
    return Performance((), duration_s)


def _check(learner: Learner, beats: int) -> None:
    if not 20.0 <= learner.tempo_bpm <= 400.0:
        raise PatternError(f"a learner's tempo must be from 20 to 400 beats/min, got {learner.tempo_bpm:g}")
    if beats < 1:
        raise PatternError(f"a bout needs at least 1 beat, got {beats}")


def _start_of(pattern: Pattern, number: int) -> float:
    """Start of the beat of that running number, beats."""
    cycle, index = divmod(number, len(pattern.beats))
    return cycle * float(pattern.length) + float(pattern.beats[index].at)


def _share(learner: Learner, beat: Beat, number: int) -> float:
    """The long share this learner gives to that beat."""
    if learner.even_from_beat is not None and number >= learner.even_from_beat:
        return 0.5
    return float(beat.long_share) if learner.long_share is None else learner.long_share


def _deviated(places: list[_Place], learner: Learner, end_s: float, seed: int) -> Performance:
    """The learner's own deviations laid over the places."""
    rng = np.random.default_rng(seed)
    beats = np.array([place.beat for place in places])
    shares = np.array([place.share for place in places])
    times_s = np.array([place.time_s for place in places]) + learner.asynchrony_s
    clock_s = np.concatenate([[0.0], np.cumsum(rng.normal(0.0, 1.0, beats.max() + 1)) * learner.timekeeper_s])
    times_s += (1.0 - shares) * clock_s[beats] + shares * clock_s[beats + 1]
    times_s += rng.normal(0.0, 1.0, times_s.size) * learner.scatter_s
    for rest in learner.rests:
        times_s[beats > rest.after_beat] += rest.duration_s
    end_s += sum(rest.duration_s for rest in learner.rests) + clock_s[-1]
    levels_db = rng.normal(0.0, 1.0, times_s.size) * learner.level_scatter_db
    lots = rng.random(times_s.size)
    landings = [
        Landing(
            float(time_s), float(level_db + learner.short_db * place.place), place.beat, place.place, spread_s
        )
        for place, time_s, level_db, lot in zip(places, times_s, levels_db, lots, strict=True)
        for spread_s in [_spread_s(learner, place)]
        if _made(learner, place, lot)
    ]
    landings += _extras(landings, learner, end_s, rng)
    return Performance(tuple(sorted(landings, key=lambda landing: landing.time_s)), float(end_s))


def _spread_s(learner: Learner, place: _Place) -> float:
    return learner.landing_spread_s if place.foot is Foot.BOTH else learner.heel_toe_s


def _made(learner: Learner, place: _Place, lot: float) -> bool:
    """Whether the landing is made at all; `lot` is drawn between 0 and 1."""
    if (place.beat, place.place) in learner.not_made or (
        learner.start_on_short and (place.beat, place.place) == (0, 0)
    ):
        return False
    return lot >= (learner.miss_short if place.place else learner.miss_lead)


def _extras(
    landings: list[Landing], learner: Learner, end_s: float, rng: np.random.Generator
) -> list[Landing]:
    """Taps at random times of the bout, none so near a landing that it would be one with it."""
    if not landings or not learner.extra_per_min:
        return []
    start_s = min(landing.time_s for landing in landings)
    taken = [landing.time_s for landing in landings]
    extras = []
    for time_s in rng.uniform(start_s, end_s, rng.poisson(learner.extra_per_min * (end_s - start_s) / 60)):
        if np.abs(np.array(taken) - time_s).min() >= EXTRA_APART_S:
            taken.append(time_s)
            extras.append(Landing(float(time_s), float(rng.normal(-6.0, 3.0)), None, None))
    return extras


def moved(performance: Performance, by_s: float) -> Performance:
    """The same performance, later by that much."""
    landings = tuple(replace(each, time_s=each.time_s + by_s) for each in performance.landings)
    return Performance(landings, performance.end_s + by_s)


def joined(*performances: Performance) -> Performance:
    """Several performances in one recording: bouts one after the other, or a second walker beside."""
    landings = sorted((each for one in performances for each in one.landings), key=lambda each: each.time_s)
    return Performance(tuple(landings), max(one.end_s for one in performances))
