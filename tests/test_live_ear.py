"""Listening while the feet land: the same decisions as in a file, soon after contact."""

import mir_eval
import numpy as np
import pytest

from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.live_ear import LiveEar
from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_feet import model_feet
from cuekit.simulation.simulate_rooms import Room, record

RATE_HZ = 16_000


@pytest.fixture(scope="module")
def recording():
    learner = Learner(tempo_bpm=100.0, scatter_s=0.03, short_db=-10.0, extra_per_min=6.0)
    performance = perform(load_pattern("skip"), learner, beats=24, seed=11)
    room = Room(rt60_s=1.5, noise_below_feet_db=20.0)
    return record(performance, room, seed=11, feet=model_feet(11)).recording("made")


def heard_live(samples, block):
    ear, found = LiveEar(), []
    for start in range(0, samples.size, block):
        now_s = min(start + block, samples.size) / RATE_HZ
        found += [(footfall, now_s) for footfall in ear.push(samples[start : start + block])]
    return found + [(footfall, samples.size / RATE_HZ) for footfall in ear.finish()]


@pytest.mark.parametrize("block", [171, 341, 1600])
def test_the_same_footfalls_as_in_the_file(recording, block):
    """At least 98 in 100 agree within 2 ms, both ways."""
    live_s = np.array([footfall.time_s for footfall, _ in heard_live(recording.samples, block)])
    file_s = np.array([footfall.time_s for footfall in detect_footfalls(recording).footfalls])
    same = len(mir_eval.util.match_events(file_s, live_s, 0.002))
    assert same >= 0.98 * max(file_s.size, live_s.size)


def test_a_footfall_is_told_within_60_ms_and_a_block(recording):
    block = 341
    waits_s = [now_s - footfall.time_s for footfall, now_s in heard_live(recording.samples, block)]
    assert np.percentile(waits_s, 95) <= 0.060 + block / RATE_HZ


def test_memory_does_not_grow():
    ear = LiveEar()
    for _ in range(400):
        ear.push(np.zeros(800, np.float32))
    assert ear._samples.size < RATE_HZ // 2


def test_nothing_pushed_nothing_heard():
    assert LiveEar().push(np.zeros(0, np.float32)) == ()
    assert LiveEar().finish() == ()
