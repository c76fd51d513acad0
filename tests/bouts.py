"""Made bouts: a learner's known footfalls, scored as a perfect ear would hear them, and their truth."""

import numpy as np

from cuekit.hearing.events import Footfall, Heard, Hearing, Recording
from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.place_grid import sound_cycle
from cuekit.simulation.simulate import Learner, perform
from cuekit.telling.scoring import score_hearing


def recording(duration_s=20.0):
    return Recording("feet.wav", np.zeros(1, np.float32), 16_000, 48_000, 1, duration_s, 0.0, ())


def hearing(footfalls, heard=None):
    enough = heard or (Heard.CLEAR if len(footfalls) >= 5 else Heard.NOT_ENOUGH)
    return Hearing(tuple(footfalls), (), enough, "", -60.0)


def score_of(footfalls, pattern, *, tempo_bpm=None):
    """Score footfalls, or their times, against a pattern or its name."""
    target = load_pattern(pattern) if isinstance(pattern, str) else pattern
    falls = [one if isinstance(one, Footfall) else Footfall(float(one), -20.0) for one in footfalls]
    return score_hearing(recording(), hearing(falls), target, tempo_bpm=tempo_bpm)


def moves(pattern, *, beats=12, seed=1, **learner):
    """A learner moves a pattern; the tempo is the pattern's own where none is said."""
    target = load_pattern(pattern) if isinstance(pattern, str) else pattern
    learner.setdefault("tempo_bpm", target.tempo.default)
    return perform(target, Learner(**learner), beats=beats, seed=seed)


def scored(pattern, **how):
    """Score a made bout of a pattern."""
    return score_of(moves(pattern, **how).footfalls, pattern)


def train(*intervals_s, times, start_s=1.0):
    """Footfall times of intervals repeated so many times."""
    return start_s + np.concatenate([[0.0], np.cumsum(intervals_s * times)])


def rough_gaps_s(seed):
    """Gaps between sounds of any kind: a rhythm half kept, stops, double contacts, s."""
    rng = np.random.default_rng(seed)
    gaps_s = rng.choice([0.2, 0.3, 0.4, 0.6], rng.integers(5, 60)) * rng.lognormal(
        0.0, rng.choice([0.02, 0.3]), 1
    )
    gaps_s = gaps_s * rng.lognormal(0.0, 0.1, gaps_s.size)
    odd = rng.random(gaps_s.size) < 0.15
    return np.where(odd, rng.uniform(0.02, 5.0, gaps_s.size), gaps_s).tolist()


def right_places(alignment, performance):
    """Footfalls put where they belong, taps called extra; one flag each.

    What sounds alike (the two leads of a figure) may be taken for each other, but all beats of a try
    must be shifted by the same. Contacts joined into one landing are right where one of them is.
    """
    cycle = sound_cycle(alignment.pattern)
    index = {beat.number: beat.index for bout in alignment.bouts for beat in bout.beats}
    truths = [_contacts(footfall, performance) for footfall in alignment.footfalls]
    pairs = list(zip(alignment.places, truths, strict=True))
    shifts = [
        found[0] - true.beat for found, near in pairs for true in near if found and true.beat is not None
    ]
    shift = max(set(shifts), key=shifts.count) if shifts else 0

    def fits(found, true):
        if found is None or true.beat is None:
            return found is None and true.beat is None
        return found == (true.beat + shift, true.place) and (index[found[0]] - true.beat) % cycle == 0

    return [any(fits(found, true) for true in near) for found, near in pairs]


def _contacts(footfall, performance):
    """The true landings that a heard one is made of."""
    end_s = footfall.time_s + footfall.spread_s + 1e-6
    return [each for each in performance.landings if footfall.time_s - 1e-6 <= each.time_s <= end_s]
