"""Kept n beats after the sound stopped: counted as a teacher would, from typed-in times."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.hearing.events import Footfall
from cuekit.patterns.pattern_files import load_pattern
from cuekit.rhythm.alignment import align
from cuekit.rhythm.kept import kept_beats
from cuekit.rhythm.measures import timed_beats

GALLOP, WALK = load_pattern("gallop"), load_pattern("walk")
PERIOD_S = 0.6


def gallop(periods_s, share=2 / 3):
    """Footfalls of beats that last so long, from 1 s on."""
    starts_s = 1.0 + np.concatenate([[0.0], np.cumsum(periods_s)[:-1]])
    return sorted(
        [*starts_s, *(start + share * period for start, period in zip(starts_s, periods_s, strict=True))]
    )


def kept(times_s, pattern=GALLOP, cued=4, period_s=PERIOD_S):
    """Beats kept where the cue sounds for the first ones."""
    footfalls = tuple(Footfall(float(time_s), -20.0) for time_s in times_s)
    alignment = align(footfalls, pattern, tempo_bpm=60 / period_s)
    row = timed_beats(alignment, alignment.bouts[0])
    return kept_beats(row, 1.0 + cued * period_s, period_s)


# Story 9 of the trade's list: four cued beats, then eight in silence.
def test_eight_silent_beats_at_the_same_tempo_are_kept_8():
    assert kept(gallop([PERIOD_S] * 12)) == 8


def test_a_learner_who_shrinks_by_more_than_15_percent_after_three_silent_beats_kept_3():
    assert kept(gallop([PERIOD_S] * 7 + [0.8 * PERIOD_S] * 5)) == 3


def test_ten_percent_faster_is_still_kept():
    assert kept(gallop([PERIOD_S] * 4 + [0.9 * PERIOD_S] * 8)) == 8


def test_a_gallop_that_becomes_a_run_is_kept_until_then():
    long_short = gallop([PERIOD_S] * 8)
    even = [long_short[0] + 8 * PERIOD_S + n * PERIOD_S / 2 for n in range(8)]
    assert kept([*long_short, *even]) in (3, 4)  # the running median of three may give up one beat early


def test_one_short_sound_unheard_ends_the_count_there():
    times_s = gallop([PERIOD_S] * 12)
    del times_s[2 * 7 + 1]
    assert kept(times_s) == 3


def test_stopping_with_the_sound_is_kept_0():
    assert kept(gallop([PERIOD_S] * 4)) == 0


def test_an_even_walk_is_kept_too():
    times_s = 1.0 + PERIOD_S * np.arange(12)
    assert kept(times_s, WALK) == 8


@given(st.integers(0, 8), st.integers(0, 2**32 - 1))
def test_never_more_than_were_moved_and_never_fewer_for_a_little_scatter(silent, seed):
    rng = np.random.default_rng(seed)
    times_s = np.array(gallop([PERIOD_S] * (4 + silent))) + rng.uniform(-0.008, 0.008, 2 * (4 + silent))
    assert kept(times_s) == silent


@pytest.mark.parametrize("tempo_bpm", [80, 100, 130])
def test_at_any_tempo_of_the_skill(tempo_bpm):
    period_s = 60 / tempo_bpm
    assert kept(gallop([period_s] * 12), period_s=period_s) == 8
