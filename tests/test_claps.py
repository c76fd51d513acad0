"""Claps and push strokes count like feet (story 21). Both are made up; no recording of either was at hand.

A clap is taken as a burst of noise round the resonance of the cupped hands, 600 to 1800 Hz, that dies away in 4 to
10 ms (from memory). Measured with recorded material of the yardstick's development part, 12 takes of 12 beats in
two rooms, F1 at 25 ms: taps of a hand on a wooden box 1.00, made claps .99, finger snaps .92; feet 1.00.

A push stroke is taken as a hand that meets the rim (a soft slap of 6 to 12 ms, 150 to 2500 Hz) and then rubs along it
(300 to 5000 Hz, dying away in 60 to 120 ms); all from memory, and no real chair was ever heard. F1 at 25 ms of 6 takes
in the same rooms, by the slap against the rub: as loud 1.00, 6 dB softer .78, 10 dB softer .54, no slap .00.
"""

import numpy as np
from mir_eval.util import match_events

from cuekit.hearing.events import Heard
from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.scoring import score_recording

GALLOP = load_pattern("gallop")
CLASSROOM = Room(rt60_s=0.6, volume_m3=190.0, path=((0.0, 2.0),))
GYM = Room(rt60_s=1.4, volume_m3=3800.0, path=((0.0, 2.0),))
ROOMS = (CLASSROOM, GYM, CLASSROOM, GYM)


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


class Pushes:
    """A hand on the rim of a wheel, its slap so many dB over the rub that follows."""

    def __init__(self, slap_db):
        self.slap = 10 ** (slap_db / 20)

    def landing(self, rng, place):
        time_s = np.arange(19_200) / 48_000
        slap = _band(rng, time_s.size, 150, 2500) * np.exp(-time_s / rng.uniform(0.006, 0.012))
        swell = (1 - np.exp(-time_s / 0.03)) * np.exp(-time_s / rng.uniform(0.06, 0.12))
        rub = _band(rng, time_s.size, 300, 5000) * swell * np.minimum(1.0, (time_s[-1] - time_s) / 0.02)
        sound = rub / np.abs(rub).max() + self.slap * slap / np.abs(slap).max()
        return sound / np.abs(sound).max()


def _band(rng, size, low_hz, high_hz):
    spectrum, frequencies_hz = np.fft.rfft(rng.normal(size=size)), np.fft.rfftfreq(size, 1 / 48_000)
    return np.fft.irfft(np.where((frequencies_hz > low_hz) & (frequencies_hz < high_hz), spectrum, 0), size)


def pushed(slap_db, room, seed):
    """Twelve long-short beats of push strokes, as made and as scored."""
    moved = perform(GALLOP, Learner(tempo_bpm=80, scatter_s=0.02, short_db=-4.0), beats=12, seed=seed)
    take = record(moved, room, seed=seed, feet=Pushes(slap_db))
    return take, score_recording(take.recording(), GALLOP, tempo_bpm=80)


def as_feet_are(bouts):
    """Bouts of twelve beats are heard, F1 at 25 ms, and scored as those of feet."""
    found = heard = made = on_pattern = 0
    for take, score in bouts:
        times_s = np.array([footfall.time_s for footfall in score.hearing.footfalls])
        found += len(match_events(take.times_s, times_s, 0.025))
        heard, made = heard + times_s.size, made + take.times_s.size
        on_pattern += score.measures.beats_on_pattern
    assert 2 * found / (heard + made) >= 0.95
    assert on_pattern >= 0.9 * len(bouts) * 12


def test_push_strokes_whose_hand_meets_the_rim_are_heard_and_scored_as_feet_are():
    as_feet_are([pushed(0.0, room, seed) for seed, room in enumerate(ROOMS)])


def test_strokes_that_only_rub_are_not_heard_and_no_fault_is_made_of_it():
    for seed, room in enumerate((CLASSROOM, GYM)):
        take, score = pushed(-60.0, room, seed)
        assert len(score.hearing.footfalls) < len(take.times_s) / 4
        assert score.hearing.heard is Heard.NOT_ENOUGH
        assert score.advice.fault is None
        assert "microphone nearer" in score.advice.summary


def test_claps_are_heard_and_scored_as_feet_are():
    bouts = []
    for seed, room in enumerate(ROOMS):
        moved = perform(GALLOP, Learner(scatter_s=0.02, short_db=-6.0), beats=12, seed=seed)
        take = record(moved, room, seed=seed, feet=Claps())
        bouts.append((take, score_recording(take.recording(), GALLOP, tempo_bpm=100)))
    as_feet_are(bouts)
