"""Laws of the perceptual centre: known onsets, shift, level, and what is refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cuekit.cues.pcentre import LEAST_UNCERTAINTY_S, find_pcentre
from cuekit.errors import AudioError

HARMONICS_HZ = (150, 300, 450, 600, 750, 900, 1050, 1500, 2400)


def times(sample_rate_hz, duration_s=0.6):
    return np.arange(round(duration_s * sample_rate_hz)) / sample_rate_hz


def vowel(times_s, start_s, end_s, rise_s=0.0):
    """A voiced sound that reaches full level `rise_s` after its start and ends at once."""
    shape = np.clip((times_s - start_s) / max(rise_s, 1e-9), 0, 1) * (times_s < end_s)
    return shape * sum(np.sin(2 * np.pi * f * times_s + k) for k, f in enumerate(HARMONICS_HZ)) / 9


def hiss(times_s, start_s, end_s, sample_rate_hz):
    """Noise above 3.5 kHz, as in /s/."""
    spectrum = np.fft.rfft(np.random.default_rng(3).normal(size=times_s.size))
    spectrum[np.fft.rfftfreq(times_s.size, 1 / sample_rate_hz) < 3500] = 0
    return 0.2 * np.fft.irfft(spectrum, times_s.size) * ((times_s > start_s) & (times_s < end_s))


@pytest.mark.parametrize("sample_rate_hz", [16_000, 22_050, 44_100, 48_000])
@pytest.mark.parametrize("length_s", [0.06, 0.15, 0.3])
def test_a_sudden_vowel_has_its_beat_at_its_onset(sample_rate_hz, length_s):
    t = times(sample_rate_hz)
    found = find_pcentre(vowel(t, 0.2, 0.2 + length_s), sample_rate_hz)
    assert found.time_s == pytest.approx(0.2, abs=0.003)
    assert found.uncertainty_s == LEAST_UNCERTAINTY_S


def test_a_click_is_placed_within_the_smoothing():
    samples = np.zeros(8000)
    samples[3200:3280] = vowel(times(16_000), 0, 0.6)[:80]
    assert find_pcentre(samples, 16_000).time_s == pytest.approx(0.2, abs=0.008)


def test_a_slow_ramp_has_its_beat_inside_the_ramp_and_says_it_is_unsure():
    found = find_pcentre(vowel(times(16_000), 0.2, 0.45, rise_s=0.1), 16_000)
    assert found.time_s == pytest.approx(0.25, abs=0.01)
    assert found.uncertainty_s > 2 * LEAST_UNCERTAINTY_S


def test_a_hiss_before_the_vowel_does_not_draw_the_beat():
    t = times(16_000)
    found = find_pcentre(vowel(t, 0.2, 0.45) + hiss(t, 0.05, 0.19, 16_000), 16_000)
    assert found.time_s == pytest.approx(0.2, abs=0.005)


def test_the_first_strong_syllable_counts_not_a_louder_later_one():
    t = times(16_000, 0.9)
    found = find_pcentre(0.7 * vowel(t, 0.1, 0.3) + vowel(t, 0.45, 0.7), 16_000)
    assert found.time_s == pytest.approx(0.1, abs=0.005)


def test_a_low_murmur_before_the_vowel_does_not_draw_the_beat():
    t = times(16_000)
    murmur = 0.5 * np.sin(2 * np.pi * 150 * t) * ((t > 0.1) & (t < 0.2))
    found = find_pcentre(murmur + vowel(t, 0.2, 0.45), 16_000)
    assert found.time_s == pytest.approx(0.2, abs=0.006)


def test_the_uncertainty_covers_every_estimate():
    found = find_pcentre(vowel(times(16_000), 0.2, 0.5, rise_s=0.15), 16_000)
    for estimate_s in (found.cummins_port_s, found.scott_s, found.mid_band_s, found.steepest_s):
        assert abs(estimate_s - found.time_s) <= found.uncertainty_s + 1e-12


@settings(max_examples=20, deadline=None)
@given(shift=st.integers(0, 4000), gain=st.floats(0.001, 1.0), rise_s=st.floats(0, 0.1))
def test_shifting_shifts_and_level_changes_nothing(shift, gain, rise_s):
    word = vowel(times(16_000, 0.4), 0.05, 0.35, rise_s)
    moved = np.concatenate([np.zeros(shift), gain * word])
    before, after = find_pcentre(word, 16_000), find_pcentre(moved, 16_000)
    assert after.time_s == pytest.approx(before.time_s + shift / 16_000, abs=0.0005)


def test_the_callers_samples_are_left_alone():
    word = vowel(times(16_000), 0.2, 0.4).astype(np.float32)
    kept = word.copy()
    find_pcentre(word, 16_000)
    assert np.array_equal(word, kept)


@pytest.mark.parametrize(
    ("samples", "said"),
    [
        (np.zeros(8000), "silent"),
        (np.full(8000, np.nan), "not numbers"),
        (np.ones(100), "too short"),
        (np.zeros(0), "too short"),
    ],
)
def test_what_is_no_word_is_refused(samples, said):
    with pytest.raises(AudioError, match=said):
        find_pcentre(samples, 16_000)
