"""Made bouts for each fault that can be said: one that has it, and its two nearest look-alikes that have not.

Every landing has 20 ms of scatter unless said. Where scatter is nearest to "unsteady" it is 25 or 30 ms:
at 35 ms a steady gallop's spread is 8 %, and of 16 beats one bout in ten is measured above the 12 % from
which it is called unsteady. The numbers F1 to F15 are those of the team's list of faults.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.cue_timing import CueTimes
from cuekit.simulation.simulate import Landing, Learner, Performance, Rest, perform
from cuekit.simulation.simulate_rooms import Room

SCATTER_S = 0.020
BEATS = 16
COULD_NOT_HEAR = "could-not-hear"
"""Told where too little was heard, and so nothing is said of the rhythm."""

NEAR = Room(rt60_s=0.4, path=((0.0, 1.5),), noise_below_feet_db=45.0)


@dataclass(frozen=True)
class Try:
    """One made try: what was done, against which pattern, at which tempo asked, with which cue."""

    pattern: str
    done: Performance
    tempo_bpm: float
    cue: CueTimes | None = None


@dataclass(frozen=True)
class Made:
    """A kind of made bout.

    Attributes:
        what: in words.
        told: id of the fault that should be told first; "" for none.
        make: from a seed to a try.
        room: where it is recorded.
    """

    what: str
    told: str
    make: Callable[[int], Try]
    room: Room = NEAR


@dataclass(frozen=True)
class Trial:
    """A fault with its number in the list, the bout that has it and the two nearest that have not."""

    number: str
    fault: str
    made: tuple[Made, Made, Made]


def moving(pattern: str, tempo_bpm: float = 100.0, beats: int = BEATS, scatter_s: float = SCATTER_S, **how):
    """A learner who moves a pattern, as a function of the seed."""

    def make(seed: int) -> Try:
        learner = Learner(tempo_bpm=tempo_bpm, scatter_s=scatter_s, **how)
        return Try(pattern, perform(load_pattern(pattern), learner, beats=beats, seed=seed), tempo_bpm)

    return make


def gaps(pattern: str, *row: float, units: int = 6, tempo_bpm: float = 160.0):
    """Footfalls with these gaps in beats, over and over, as a function of the seed."""

    def make(seed: int) -> Try:
        due_s = 1.0 + 60.0 / tempo_bpm * np.cumsum([0.0, *np.tile(row, units)])
        return Try(pattern, scattered(due_s, seed), tempo_bpm)

    return make


def scattered(due_s: np.ndarray, seed: int) -> Performance:
    """Landings near these times, s."""
    times_s = np.sort(due_s + np.random.default_rng(seed).normal(0.0, SCATTER_S, due_s.size))
    landings = tuple(Landing(float(time_s), 0.0, n, 0) for n, time_s in enumerate(times_s))
    return Performance(landings, landings[-1].time_s + 0.5)


def against_cue(by_beats: float = 0.0, first: int = 0, before: int = 0, checked: bool = True):
    """Feet in time with a cue, shifted, starting late or in the count-in, as a function of the seed."""
    cue = CueTimes(tuple(3.0 + 0.6 * n for n in range(BEATS)), 0.6, checked)

    def make(seed: int) -> Try:
        due_s = np.array([*(3.0 - 0.6 * n for n in range(before, 0, -1)), *cue.leads_s[first:]])
        return Try("hop", scattered(due_s + 0.6 * by_beats, seed), 100.0, cue)

    return make


def freeze_with_one_sound(seed: int) -> Try:
    """Walk 4, freeze 4, four times, with a stray sound in the middle of the second freeze."""
    one = gaps("walk-freeze", 1, 1, 1, 5, units=4, tempo_bpm=112.0)(seed)
    landings = one.done.landings
    stray = Landing(landings[7].time_s + 2.5 * 60.0 / 112.0, -6.0, None, None)
    row = tuple(sorted((*landings, stray), key=lambda landing: landing.time_s))
    return replace(one, done=replace(one.done, landings=row))


def with_taps(taps: int, steps: int = 24, tempo_bpm: float = 110.0):
    """A walk with so many stray taps, each between two steps of its own, as a function of the seed."""

    def make(seed: int) -> Try:
        one = moving("walk", tempo_bpm, steps)(seed)
        rng = np.random.default_rng([seed, taps])
        after = rng.choice(steps - 1, taps, replace=False)
        times_s = one.done.times_s
        at = rng.uniform(0.35, 0.65, taps)
        strays = times_s[after] + at * (times_s[after + 1] - times_s[after])
        rows = [*one.done.landings, *(Landing(float(time_s), -6.0, None, None) for time_s in strays)]
        landings = tuple(sorted(rows, key=lambda landing: landing.time_s))
        return replace(one, done=replace(one.done, landings=landings))

    return make


def one_side(beats: int, kept: int) -> frozenset[tuple[int, int]]:
    """Short sounds of every other beat, those before `kept` made."""
    return frozenset((beat, 1) for beat in range(1, beats, 2) if beat >= kept)


gallop, skip, walk, jump = (partial(moving, name) for name in ("gallop", "skip", "walk", "jump"))
walk, jump = partial(walk, tempo_bpm=110.0), partial(jump, tempo_bpm=90.0)


def trial(number: str, fault: str, has_it: tuple, *look_alikes: tuple) -> Trial:
    """A trial from (what, how it is made) and two of (what, what should be told, how it is made)."""
    (what, told), (first, second) = has_it, look_alikes
    return Trial(number, fault, (Made(what, fault, told), Made(*first), Made(*second)))


TRIALS = (
    trial(
        "F1",
        "even-for-uneven",
        ("gallop, all even", gallop(long_share=0.5)),
        ("gallop 3:2", "", gallop(long_share=0.62)),
        ("long-short with 30 ms of scatter", "", gallop(scatter_s=0.03)),
    ),
    trial(
        "F1",
        "not-clearly-uneven",
        ("gallop, share 0.56", gallop(long_share=0.56, scatter_s=0.008)),
        ("share 0.62", "", gallop(long_share=0.62, scatter_s=0.008)),
        ("share 0.50", "even-for-uneven", gallop(long_share=0.5, scatter_s=0.008)),
    ),
    trial(
        "F1",
        "changed-to-even",
        ("long-short for 8, then even", gallop(even_from_beat=8)),
        ("even from the first", "even-for-uneven", gallop(long_share=0.5)),
        ("long-short, a little faster", "", gallop(drift_percent=6)),
    ),
    trial(
        "F2",
        "short-not-heard",
        ("gallop, no short sound", gallop(miss_short=1.0)),
        ("one short in ten not heard", "", gallop(miss_short=0.1)),
        ("steps even, twice as many", "even-for-uneven", gallop(long_share=0.5)),
    ),
    trial(
        "F3",
        "every-other-short-not-heard",
        ("skip, hop on one side", skip(not_made=one_side(BEATS, 0))),
        ("the same sound as 2 and 2 gallops", "", moving("gallop-switch-2")),
        ("two soft hops on one side", "", skip(not_made=one_side(BEATS, 13))),
    ),
    trial(
        "F13",
        "clipped",
        ("short stuck to the next", gallop(long_share=0.85, scatter_s=0.01)),
        ("gallop 3:1", "", gallop(long_share=0.75)),
        ("heel and toe in one landing", "", gallop(heel_toe_s=0.06)),
    ),
    trial(
        "",
        "limping",
        ("walk, every other step short", gaps("walk", 1.3, 0.7, units=8, tempo_bpm=110.0)),
        ("walk, 25 ms of scatter", "", walk(scatter_s=0.025)),
        ("walk in hard shoes, heel and toe", "", walk(heel_toe_s=0.08)),
    ),
    trial(
        "F10",
        "split-landing",
        ("jump, feet 60 ms apart", jump(landing_spread_s=0.06)),
        ("jump, feet 15 ms apart", "", jump(landing_spread_s=0.015)),
        ("hops, heel and toe", "", moving("hop", 125.0, heel_toe_s=0.06)),
    ),
    trial(
        "F11",
        "no-air-gap",
        ("leap, just run", gaps("leap", 1, 1, 1)),
        ("leap", "", gaps("leap", 1, 1, 2)),
        ("a low leap", "", gaps("leap", 1, 1, 1.5)),
    ),
    trial(
        "F12",
        "stutter",
        ("steps shrink before the leap", gaps("leap", 1, 0.6, 2)),
        ("leap", "", gaps("leap", 1, 1, 2)),
        ("quick even steps, then the leap", "", gaps("leap", 0.85, 0.85, 2)),
    ),
    trial(
        "",
        "moved-in-stillness",
        ("walks on in the freeze", gaps("walk-freeze", 1, units=24, tempo_bpm=112.0)),
        ("walk 4, freeze 4", "", gaps("walk-freeze", 1, 1, 1, 5, units=4, tempo_bpm=112.0)),
        ("the same, one stray sound in 4 freezes", "", freeze_with_one_sound),
    ),
    trial(
        "F7",
        "stopped",
        ("gallop, stands still after 6", gallop(rests=(Rest(5, 1.2),))),
        ("planned change after 8, a full beat", "", moving("gallop-switch-8")),
        ("one short sound not heard", "", gallop(not_made=frozenset({(6, 1)}))),
    ),
    trial(
        "F5",
        "sped-up",
        ("20 % faster", gallop(drift_percent=20)),
        ("4 % faster", "", gallop(drift_percent=4)),
        ("25 ms of scatter", "", gallop(scatter_s=0.025)),
    ),
    trial(
        "F6",
        "slowed-down",
        ("20 % slower", gallop(drift_percent=-20)),
        ("4 % slower", "", gallop(drift_percent=-4)),
        ("25 ms of scatter", "", gallop(scatter_s=0.025)),
    ),
    trial(
        "F4",
        "extra-sounds",
        ("walk, 10 taps in 24 steps", with_taps(10)),
        ("walk, 2 taps in 24 steps", "", with_taps(2)),
        ("walk in hard shoes, heel and toe", "", walk(beats=24, heel_toe_s=0.08)),
    ),
    trial(
        "F8",
        "unsteady",
        ("walk, 90 ms of scatter", walk(beats=24, scatter_s=0.09)),
        ("walk, 25 ms of scatter", "", walk(beats=24, scatter_s=0.025)),
        ("walk, 6 % faster", "", walk(beats=24, drift_percent=6)),
    ),
    trial(
        "F14",
        "started-early",
        ("two steps in the count-in", against_cue(before=2)),
        ("a fifth of a beat before go", "", against_cue(-0.1)),
        ("on go", "", against_cue()),
    ),
    trial(
        "F14",
        "started-late",
        ("four beats after go", against_cue(first=4)),
        ("a beat after go", "", against_cue(first=1)),
        ("on go", "", against_cue()),
    ),
    trial(
        "F9",
        "ahead-of-cue",
        ("a quarter beat ahead", against_cue(-0.25)),
        ("a little ahead", "", against_cue(-0.1)),
        ("as much, delay never checked", "", against_cue(-0.25, checked=False)),
    ),
    trial(
        "F9",
        "behind-cue",
        ("a quarter beat behind", against_cue(0.25)),
        ("a little behind", "", against_cue(0.1)),
        ("as much, delay never checked", "", against_cue(0.25, checked=False)),
    ),
    trial(
        "F15",
        COULD_NOT_HEAR,
        ("gallop, four sounds in all", gallop(beats=2)),
        ("gallop of six beats", "", gallop(beats=6)),
        ("noise 20 dB below the feet", "", gallop(), replace(NEAR, noise_below_feet_db=20.0)),
    ),
)
