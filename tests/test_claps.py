"""Claps count like feet (story 21). The claps are made up; no recording of single claps was at hand.

A clap is taken as a burst of noise round the resonance of the cupped hands, 600 to 1800 Hz, that dies away in 4 to
10 ms (from memory). Measured with recorded material of the yardstick's development part, 12 takes of 12 beats in
two rooms, F1 at 25 ms: taps of a hand on a wooden box 1.00, made claps .99, finger snaps .92; feet 1.00. Push
strokes of a wheelchair were never measured.
"""

import numpy as np
from mir_eval.util import match_events

from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.scoring import score_recording

GALLOP = load_pattern("gallop")
CLASSROOM = Room(rt60_s=0.6, volume_m3=190.0, path=((0.0, 2.0),))
GYM = Room(rt60_s=1.4, volume_m3=3800.0, path=((0.0, 2.0),))


class Claps:
    """Two hands."""

    def landing(self, rng, place):
        time_s = np.arange(9600) / 48_000
        resonance_hz = rng.uniform(600, 1800)
        frequencies_hz = np.maximum(np.fft.rfftfreq(time_s.size, 1 / 48_000), 1.0)
        off = 1.2 * (frequencies_hz / resonance_hz - resonance_hz / frequencies_hz)
        noise = np.fft.irfft(np.fft.rfft(rng.normal(size=time_s.size)) / (1.0 + off**2), time_s.size)
        sound = noise * np.exp(-time_s / rng.uniform(0.004, 0.010))
        return sound / np.abs(sound).max()


def test_claps_are_heard_and_scored_as_feet_are():
    found = heard = made = on_pattern = 0
    for seed, room in enumerate((CLASSROOM, GYM, CLASSROOM, GYM)):
        moved = perform(GALLOP, Learner(scatter_s=0.02, short_db=-6.0), beats=12, seed=seed)
        take = record(moved, room, seed=seed, feet=Claps())
        score = score_recording(take.recording(), GALLOP, tempo_bpm=100)
        times_s = np.array([footfall.time_s for footfall in score.hearing.footfalls])
        found += len(match_events(take.times_s, times_s, 0.025))
        heard, made = heard + times_s.size, made + take.times_s.size
        on_pattern += score.measures.beats_on_pattern
    assert 2 * found / (heard + made) >= 0.95
    assert on_pattern >= 0.9 * 4 * 12
