"""Changes inside a bout: long-short that turns even, steps that stutter before a leap."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.alignment import align
from cuekit.rhythm.bout_changes import stuttered, turned_even
from cuekit.simulation.simulate import Learner, Rest, joined, moved, perform

GALLOP, LEAP = load_pattern("gallop"), load_pattern("leap")


def gallop(seed=1, beats=16, **how):
    bout = perform(GALLOP, Learner(scatter_s=0.02, **how), beats=beats, seed=seed)
    return align(bout.footfalls, GALLOP, tempo_bpm=100)


def leaps(*gaps, units=6, seed=1, beat_s=60 / 160):
    """Leaps of so many units, each made of these gaps in beats, with 15 ms of scatter a landing."""
    times_s = 1.0 + beat_s * np.cumsum([0.0, *np.tile(gaps, units)])
    times_s += np.random.default_rng(seed).normal(0.0, 0.015, times_s.size)
    return align(tuple(Footfall(float(time_s), -20.0, 1.0) for time_s in times_s), LEAP, tempo_bpm=160)


@pytest.mark.parametrize("kept", [5, 6, 8, 10])
def test_long_short_for_n_beats_then_even_is_told_with_its_count(kept):
    assert abs(turned_even(gallop(even_from_beat=kept)) - kept) <= 1


@pytest.mark.parametrize(
    "how", [{}, {"long_share": 0.5}, {"long_share": 0.6}, {"drift_percent": 20}, {"miss_short": 0.3}]
)
def test_what_does_not_change_is_not_told_to(how):
    assert [turned_even(gallop(seed, **how)) for seed in range(5)] == [None] * 5


def test_even_first_and_long_short_later_is_no_turning_even():
    bout = perform(GALLOP, Learner(long_share=0.5), beats=8, seed=1)
    later = moved(perform(GALLOP, Learner(), beats=8, seed=2), bout.end_s - 1.0)
    assert turned_even(align(joined(bout, later).footfalls, GALLOP, tempo_bpm=100)) is None


def test_the_count_runs_from_the_start_of_the_bout_that_changed():
    bout = perform(GALLOP, Learner(scatter_s=0.02, even_from_beat=6, rests=(Rest(2, 0.8),)), beats=16, seed=1)
    assert turned_even(align(bout.footfalls, GALLOP, tempo_bpm=100)) in (5, 6, 7)


def test_an_even_pattern_cannot_turn_even():
    walk = load_pattern("walk")
    assert turned_even(align(perform(walk, Learner(), beats=16, seed=1).footfalls, walk)) is None


@pytest.mark.parametrize(
    "gaps", [(1, 0.6, 2), (1, 0.8, 0.55, 2)], ids=["late step early", "an extra small step"]
)
def test_steps_that_get_shorter_before_the_leap_are_counted(gaps):
    found = stuttered(leaps(*gaps))
    assert found.stutters >= 5
    assert 6 <= found.leaps <= 7


@pytest.mark.parametrize("gaps", [(1, 1, 2), (0.85, 0.85, 2), (1, 0.85, 2), (1, 1, 1), (1, 2)], ids=str)
def test_even_running_steps_are_no_stutter(gaps):
    assert stuttered(leaps(*gaps)).stutters <= 1


def test_a_pattern_without_a_flight_has_no_stutter():
    assert stuttered(gallop()) is None


@settings(max_examples=20, deadline=None)
@given(st.lists(st.floats(0.1, 20.0), max_size=12, unique=True))
def test_any_sounds_give_a_count_that_makes_sense(times_s):
    found = stuttered(align(tuple(Footfall(time_s, -20.0, 1.0) for time_s in sorted(times_s)), LEAP))
    assert 0 <= found.stutters <= found.leaps
