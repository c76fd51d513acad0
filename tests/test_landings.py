"""A two-foot landing is one sound or two."""

import numpy as np
import pytest

from cuekit.hearing.detection import detect_footfalls
from cuekit.hearing.landings import second_contacts_s
from cuekit.patterns.pattern_files import load_pattern
from cuekit.simulation.simulate import Learner, perform
from cuekit.simulation.simulate_feet import model_feet
from cuekit.simulation.simulate_rooms import Room, record
from cuekit.telling.scoring import score_recording


def jumps(spread_s, *, rt60_s, seed):
    learner = Learner(tempo_bpm=90.0, scatter_s=0.02, landing_spread_s=spread_s)
    performance = perform(load_pattern("jump"), learner, beats=10, seed=seed)
    return record(performance, Room(rt60_s=rt60_s), seed=seed, feet=model_feet(seed)).recording("jumps")


def knock(at_s, gain=1.0):
    """A dry knock of 20 ms at a time, in a second of near silence."""
    rng = np.random.default_rng(0)
    sound = 1e-4 * rng.standard_normal(16_000)
    burst = rng.standard_normal(800) * np.exp(-np.arange(800) / 160)
    start = round(at_s * 16_000)
    sound[start : start + 800] += gain * burst
    return sound


def second_contact_s(sound, time_s):
    return second_contacts_s(sound, np.array([time_s]))[0]


def test_two_dry_knocks_are_told_to_the_millisecond():
    for apart_s in (0.04, 0.06, 0.1, 0.12):
        sound = (knock(0.3) + knock(0.3 + apart_s, 0.6)).astype(np.float32)
        assert second_contact_s(sound, 0.3) == pytest.approx(apart_s, abs=0.003)


def test_one_knock_is_one_sound_and_a_far_one_is_another_footfall():
    assert second_contact_s(knock(0.3).astype(np.float32), 0.3) == 0.0
    assert second_contact_s((knock(0.3) + knock(0.5)).astype(np.float32), 0.3) == 0.0
    assert second_contact_s(np.zeros(1600, np.float32), 0.05) == 0.0


@pytest.mark.parametrize("rt60_s", [0.4, 1.0])
def test_feet_landing_one_after_the_other_are_said_so_and_together_are_not(rt60_s):
    """Story 23: 60 ms double landings are a fault, single ones are none."""
    split = [score_recording(jumps(0.06, rt60_s=rt60_s, seed=n), load_pattern("jump")) for n in range(5)]
    whole = [score_recording(jumps(0.0, rt60_s=rt60_s, seed=n), load_pattern("jump")) for n in range(5)]
    named = [score.advice.fault is not None and score.advice.fault.id == "split-landing" for score in split]
    assert sum(named) >= 4
    assert not any(
        score.advice.fault is not None and score.advice.fault.id == "split-landing" for score in whole
    )


def test_the_next_footfall_is_no_second_contact():
    hearing = detect_footfalls(jumps(0.0, rt60_s=0.4, seed=3))
    for one, following in zip(hearing.footfalls, hearing.footfalls[1:], strict=False):
        assert one.time_s + one.spread_s < following.time_s - 0.02
