"""How well feet are heard while the cue sounds, and whether the cue alone is heard as feet.

`python -m tests.benchmark_leak [--seeds 3]` prints F1 at 25 ms for a cue 10 dB under, as loud as, and 10 dB over the
feet, in a classroom and a gym, every tone set, children in time (within 50 ms of the cue), with recorded single
footfalls where the yardstick's development part is built (`tests/hearing/README.md`), else with made ones. Then
scenes with the cue and nobody moving, -10 to +20 dB.
"""

import argparse
from functools import cache

import numpy as np
from mir_eval.util import match_events

from cuekit.bouts.cue_leak import EARLY_S
from cuekit.bouts.cued_ear import hear_cued
from cuekit.cues.cue_sound import CueSound, laid_out
from cuekit.cues.render import render
from cuekit.cues.tones import tone_set_names
from cuekit.patterns.pattern_files import load_pattern
from cuekit.patterns.schedule import CueLevel, Plan, make_schedule
from cuekit.simulation.simulate import Learner, follow, nobody
from cuekit.simulation.simulate_rooms import Leak, Room, record
from tests.hearing.material import CONTACT_LEAD_S, load_material, material_file
from tests.hearing.sources import DEVELOPMENT

ROOMS = {"classroom": Room(rt60_s=0.6, volume_m3=190.0), "gym": Room(rt60_s=1.4, volume_m3=3800.0)}
BARS = {-10.0: 0.93, 0.0: 0.90, 10.0: 0.80}
"""From the issue "Live practice"."""
STILL_DB = (-10.0, 0.0, 10.0, 20.0)
DELAY_S, SPEAKER_M = 0.12, 1.0


class RecordedFeet:
    """Landings of one recording."""

    def __init__(self, clips, lead):
        self.clips = [clip.samples[lead:].astype(float) for clip in clips]

    def landing(self, rng, place):
        clip = self.clips[rng.integers(len(self.clips))]
        return clip / np.abs(clip).max() * 10 ** (rng.normal(0, 1.0) / 20)


@cache
def recorded_feet():
    """Feet of the development part, one for each recording; none where it is not built."""
    if not material_file(DEVELOPMENT, 48_000).is_file():
        return (None,)
    material, lead = load_material(DEVELOPMENT), round(CONTACT_LEAD_S * 48_000)
    return tuple(RecordedFeet(material.feet_of(source), lead) for source in material.foot_sources())


@cache
def cue(sound, level):
    """Schedule, track and samples of a gallop's cue."""
    schedule = make_schedule(load_pattern("gallop"), Plan(100, 16, level))
    track = laid_out(schedule, CueSound(sound))
    return schedule, track, render(track)


def heard_s(take, schedule, track):
    """Footfalls as a bout to a cue hears them, s."""
    go_s = schedule.go_s + track.lead_in_s + DELAY_S
    return np.array([footfall.time_s for footfall in hear_cued(take.recording(), go_s, go_s - EARLY_S).footfalls])


def moving(sound, level, room, above_db, seed):
    """Found, heard and made footfalls of one take."""
    schedule, track, samples = cue(sound, level)
    in_time = Learner(scatter_s=0.02, short_db=-6.0)  # within 50 ms of the cue, but for one landing in eighty
    done = follow(schedule, in_time, seed=seed, start_s=track.lead_in_s + DELAY_S)
    feet = recorded_feet()[seed % len(recorded_feet())]
    take = record(done, room, seed=seed, feet=feet, leak=Leak(samples, DELAY_S, above_db, SPEAKER_M))
    times_s = heard_s(take, schedule, track)
    found = match_events(take.times_s, times_s, 0.025)
    return np.array([len(found), times_s.size, take.times_s.size])


def still(sound, level, room, above_db, seed):
    """Footfalls reported where nobody moves."""
    schedule, track, samples = cue(sound, level)
    take = record(nobody(track.duration_s), room, seed=seed, leak=Leak(samples, DELAY_S, above_db, SPEAKER_M))
    return heard_s(take, schedule, track).size


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=3)
    seeds = range(parser.parse_args().seeds)
    kinds = [(sound, CueLevel.C4) for sound in tone_set_names()] + [(tone_set_names()[0], CueLevel.C5)]
    print("feet:", "recorded" if recorded_feet()[0] else "made")
    for above_db, bar in BARS.items():
        for name, room in ROOMS.items():
            counts = {kind: sum(moving(*kind, room, above_db, seed) for seed in seeds) for kind in kinds}
            found, heard, made = sum(counts.values())
            worst = min(counts, key=lambda kind: counts[kind][0] / sum(counts[kind][1:]))
            low = 2 * counts[worst][0] / sum(counts[worst][1:])
            line = f"{name:9} {above_db:+4.0f} dB  F1 {2 * found / (heard + made):.3f} (asked {bar:.2f})"
            print(f"{line}, worst {'/'.join(worst)} {low:.3f}, {made} footfalls", flush=True)
    scenes = [
        still(*kind, room, above_db, seed)
        for kind in kinds
        for room in ROOMS.values()
        for above_db in STILL_DB
        for seed in seeds
    ]
    silent = sum(count == 0 for count in scenes)
    print(f"nobody moving: no footfalls in {silent} of {len(scenes)} ({100 * silent / len(scenes):.1f} %, asked 98)")


if __name__ == "__main__":
    main()
