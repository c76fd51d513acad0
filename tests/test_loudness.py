"""Loudness and peaks against the standards' own signals, and limits nobody can pass."""

import loudness
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cuekit.cues.loudness import (
    LOUDEST_LUFS,
    PEAK_CEILING_DB,
    QUIET_LUFS,
    SOFTEST_LUFS,
    integrated_lufs,
    level_for,
    true_peak,
)
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.errors import AudioError


def sine(frequency_hz, level_db, seconds, phase_degrees=0.0):
    t = np.arange(round(seconds * SAMPLE_RATE_HZ)) / SAMPLE_RATE_HZ
    return 10 ** (level_db / 20) * np.sin(2 * np.pi * frequency_hz * t + np.radians(phase_degrees))


# EBU Tech 3341 (2016), table 1: stereo 1 kHz sines, cases 1-5, expected within 0.1 LU. Levels (dBFS) and
# seconds of cases 3-5 are from memory; the expected readings were seen in public meters' test lists.
EBU_CASES = [
    (((-23, 20),), -23.0),
    (((-33, 20),), -33.0),
    (((-36, 10), (-23, 60), (-36, 10)), -23.0),
    (((-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)), -23.0),
    (((-26, 20), (-20, 20.1), (-26, 20)), -23.0),
]


@pytest.mark.parametrize(("parts", "expected_lufs"), EBU_CASES, ids=["1", "2", "3", "4", "5"])
def test_the_meter_reads_the_signals_of_ebu_tech_3341(parts, expected_lufs):
    one_channel = np.concatenate([sine(1000, level_db, seconds) for level_db, seconds in parts])
    stereo = np.column_stack([one_channel, one_channel]).astype(np.float32)
    assert loudness.integrated_loudness(stereo, SAMPLE_RATE_HZ) == pytest.approx(expected_lufs, abs=0.1)
    # One channel carries half the power of two: 10 log10(2) = 3.01 LU less.
    assert integrated_lufs(one_channel) == pytest.approx(expected_lufs - 3.01, abs=0.1)


def test_the_meter_agrees_with_another_one_on_short_sounds_with_gaps():
    pyloudnorm = pytest.importorskip("pyloudnorm")
    rng = np.random.default_rng(3)
    samples = np.zeros(20 * SAMPLE_RATE_HZ)
    for at_s in np.arange(0.5, 19, 0.6):
        first = round(at_s * SAMPLE_RATE_HZ)
        samples[first : first + 3000] = sine(
            rng.uniform(1000, 3000), -12, 3000 / SAMPLE_RATE_HZ
        ) * np.hanning(3000)
    other = pyloudnorm.Meter(SAMPLE_RATE_HZ).integrated_loudness(samples)
    assert integrated_lufs(samples) == pytest.approx(other, abs=0.1)


def test_silence_has_no_loudness_and_a_very_short_sound_has_one():
    assert integrated_lufs(np.zeros(48_000)) == -np.inf
    assert -60 < integrated_lufs(sine(2000, -10, 0.05)) < -10


# EBU Tech 3341 table 1, cases 15-19: frequency as a part of the rate, amplitude, phase, true peak in dB,
# tolerance +0.2/-0.4 (parameters and readings seen in public meters' test lists).
PEAK_CASES = [
    (4, 0.50, 0.0, -6.0),
    (4, 0.50, 45.0, -6.0),
    (6, 0.50, 60.0, -6.0),
    (8, 0.50, 67.5, -6.0),
    (4, 1.41, 45.0, 3.0),
]


@pytest.mark.parametrize(("part", "amplitude", "phase", "expected_db"), PEAK_CASES)
def test_true_peaks_between_samples_are_found(part, amplitude, phase, expected_db):
    wave = sine(SAMPLE_RATE_HZ / part, 20 * np.log10(amplitude), 0.2, phase)
    fade = np.minimum(1.0, np.minimum(np.arange(wave.size), np.arange(wave.size)[::-1]) / 2000)
    assert expected_db - 0.4 <= 20 * np.log10(true_peak(wave * fade)) <= expected_db + 0.2


def test_a_true_peak_is_never_below_the_largest_sample():
    assert true_peak(np.array([0.0, 0.0, 1.0, 0.0, 0.0])) >= 1.0


def test_the_default_is_quiet_and_the_ceilings_are_strict():
    assert QUIET_LUFS <= -30.0
    assert LOUDEST_LUFS < -23.0  # softer than broadcast speech (EBU R 128)
    assert PEAK_CEILING_DB <= -1.0


@pytest.mark.parametrize("lufs", [LOUDEST_LUFS + 0.1, 0.0, SOFTEST_LUFS - 1, float("nan"), float("inf")])
def test_a_loudness_past_the_ceiling_is_refused(lufs):
    with pytest.raises(AudioError, match=f"from -60 to -24 LUFS, got {lufs:g}"):
        level_for(lufs, -30.0, 0.5)


@given(
    wanted=st.floats(SOFTEST_LUFS, LOUDEST_LUFS),
    measured=st.one_of(st.floats(-70, 0), st.just(-np.inf)),
    peak=st.floats(1e-6, 10),
)
def test_no_level_passes_the_loudness_asked_for_or_the_peak_ceiling(wanted, measured, peak):
    level = level_for(wanted, measured, peak)
    assert level.gain * peak <= 10 ** (PEAK_CEILING_DB / 20) * (1 + 1e-9)
    assert level.lufs <= wanted + 1e-9
    if not level.held_back and np.isfinite(measured):
        assert level.lufs == pytest.approx(wanted)


def test_a_silent_track_is_left_as_it_is():
    assert level_for(-30.0, -np.inf, 0.0).gain == 1.0
