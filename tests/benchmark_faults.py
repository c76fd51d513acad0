"""For each fault a made bout that has it and its two nearest look-alikes that have not: what is told first.

    python -m tests.benchmark_faults --seeds 20 [--recorded] [--jobs 2]

prints, for each made bout of `tests.made_faults`, how often which fault was told, and in how many of 100
that was right. With `--recorded` each bout is made into a recording and heard by the detector; without
it the footfall times are taken as a perfect ear would hear them. The whole chain of `cuekit score`
follows either way.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.events import Heard, Hearing
from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.alignment import Alignment
from cuekit.rhythm.cue_timing import from_go
from cuekit.simulation.simulate_rooms import record
from cuekit.telling.advice import FEWEST_FOOTFALLS
from cuekit.telling.cue_faults import cue_faults
from cuekit.telling.scoring import Score, score_hearing
from tests.bouts import hearing, recording
from tests.made_faults import COULD_NOT_HEAR, TRIALS, Made, Try

LEAST_RIGHT = 0.95

Hear = Callable[[Try, Made, int], Hearing]


def perfect_ear(one: Try, made: Made, seed: int) -> Hearing:
    """The landings as they were."""
    return hearing(one.done.footfalls)


def recorded(one: Try, made: Made, seed: int) -> Hearing:
    """The landings as the detector hears them in a recording."""
    return detect_footfalls(record(one.done, made.room, seed=seed, sample_rate_hz=44_100).recording())


def told_first(one: Try, heard: Hearing) -> str:
    """Id of the fault told first; "" for none."""
    feet = heard.footfalls if one.cue is None else from_go(heard.footfalls, one.cue)
    after_go = Hearing(feet, heard.rejected, heard.heard, heard.reason, heard.noise_db)
    score = score_hearing(recording(), after_go, load_pattern(one.pattern), tempo_bpm=one.tempo_bpm)
    if too_little(score):
        return COULD_NOT_HEAR
    against = cue_faults(heard.footfalls, leads_s(score.alignment), one.cue) if one.cue else ()
    if against:
        return against[0].id
    return score.advice.fault.id if score.advice.fault else ""


def too_little(score: Score) -> bool:
    """Whether nothing was said of the rhythm, as too little was heard."""
    few = len(score.hearing.footfalls) < FEWEST_FOOTFALLS
    return score.hearing.heard is Heard.NOT_ENOUGH or few or score.measures.beats == 0


def leads_s(alignment: Alignment) -> list[float]:
    """Footfalls that start beats, s."""
    rows = zip(alignment.footfalls, alignment.places, strict=True)
    return [foot.time_s for foot, place in rows if place and place[1] == 0]


def told(made: Made, seeds: int, hear: Hear = perfect_ear) -> Counter[str]:
    """How often which fault was told first."""
    tries = ((seed, made.make(seed)) for seed in range(seeds))
    return Counter(told_first(one, hear(one, made, seed)) for seed, one in tries)


def _told(place: tuple[int, int], seeds: int, hear: Hear) -> Counter[str]:
    """Of one made bout by its place in the trials, as functions made on the spot cannot be sent."""
    return told(TRIALS[place[0]].made[place[1]], seeds, hear)


def counted(seeds: int, hear: Hear, jobs: int) -> list[Counter[str]]:
    """How often which fault was told of each made bout, in so many processes."""
    places = [(n, m) for n, trial in enumerate(TRIALS) for m in range(len(trial.made))]
    with ProcessPoolExecutor(jobs) as pool:
        return list(pool.map(partial(_told, seeds=seeds, hear=hear), places))


def table(counts: list[Counter[str]], seeds: int) -> list[str]:
    """The confusion table, one made bout a line, and what it comes to."""
    lines, right, wrong = [], 0, []
    rows = iter(counts)
    for trial in TRIALS:
        lines.append(f"{trial.fault} {trial.number}".rstrip())
        for made in trial.made:
            row = next(rows)
            right += row[made.told]
            if row[made.told] < LEAST_RIGHT * seeds:
                wrong.append(made.what)
            shown = ", ".join(f"{name or 'none'} {count}" for name, count in row.most_common())
            percent = 100 * row[made.told] / seeds
            lines.append(f"  {made.what:<38} {made.told or 'none':<28} {percent:4.0f} %   {shown}")
    bouts = len(counts) * seeds
    lines.append(f"right: {right} of {bouts} ({100 * right / bouts:.1f} %), {seeds} seeds each")
    lines.append(f"under {100 * LEAST_RIGHT:.0f} %: {', '.join(wrong) or 'none'}")
    return lines


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--recorded", action="store_true", help="hear made recordings instead of times")
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    asked = parser.parse_args()
    ear = recorded if asked.recorded else perfect_ear
    print("\n".join(table(counted(asked.seeds, ear, asked.jobs), asked.seeds)))
