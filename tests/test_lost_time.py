"""Sound lost without a word is seen from the device's own stamps; a late block alone is not lost sound."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.bouts.lost_time import LEAST_LOST_S, Pace

RATE_HZ, BLOCK = 48_000, 512


def found(stamps_s):
    """All that is noticed where blocks bear these stamps."""
    pace = Pace(RATE_HZ)
    told = [pace.stamped(float(stamp_s), n * BLOCK) for n, stamp_s in enumerate(stamps_s)]
    return [one for one in told if one]


def steady(seconds, start_s=100.0):
    return start_s + np.arange(round(seconds * RATE_HZ / BLOCK)) * BLOCK / RATE_HZ


@given(at=st.integers(100, 700), lost_s=st.floats(LEAST_LOST_S + 0.03, 30.0), seed=st.integers(0, 99))
def test_a_jump_that_lasts_is_lost_sound_of_that_length_at_that_place(at, lost_s, seed):
    late_s = np.random.default_rng(seed).exponential(0.004, 900).clip(0, 0.02)
    stamps_s = steady(9.6) + late_s
    stamps_s[at:] += lost_s
    (lost,) = found(stamps_s)
    assert lost.frame == at * BLOCK
    assert lost.lost_s == pytest.approx(lost_s, abs=0.025)


@given(seed=st.integers(0, 99), held_up_s=st.floats(0.1, 5.0))
def test_a_program_held_up_that_finds_all_its_sound_waiting_has_lost_none(seed, held_up_s):
    """By the computer's clock the blocks of that time come late, and all at once."""
    rng = np.random.default_rng(seed)
    stamps_s = steady(12.0) + rng.exponential(0.004, steady(12.0).size)
    goes_on_s = stamps_s[200] + held_up_s
    held = (stamps_s > stamps_s[200]) & (stamps_s < goes_on_s)
    stamps_s[held] = goes_on_s + np.arange(held.sum()) * 1e-4
    assert found(stamps_s) == []


@pytest.mark.parametrize("ppm", [-300, 300])
def test_a_clock_that_runs_off_for_an_hour_loses_nothing(ppm):
    assert found(steady(3600) * (1 + ppm * 1e-6)) == []


def test_two_losses_are_two():
    stamps_s = steady(10)
    stamps_s[300:] += 0.2
    stamps_s[600:] += 0.4
    assert [lost.frame // BLOCK for lost in found(stamps_s)] == [300, 600]
    assert [lost.lost_s for lost in found(stamps_s)] == pytest.approx([0.2, 0.4], abs=0.02)


@pytest.mark.parametrize("stamp_s", [0.0, 5.0])
def test_a_device_that_stamps_nothing_is_believed(stamp_s):
    assert found(np.full(900, stamp_s)) == []


def test_the_false_stamps_of_a_beginning_count_for_nothing():
    stamps_s = steady(5)
    stamps_s[:20] -= 3.0
    assert found(stamps_s) == []
