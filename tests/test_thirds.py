"""The live way down to 16 kHz against the one for files."""

import numpy as np
import pytest
import soxr
from hypothesis import given
from hypothesis import strategies as st

from cuekit.hearing.thirds import Thirds


def tone(frequency_hz, seconds=0.5):
    return np.sin(2 * np.pi * frequency_hz * np.arange(round(48_000 * seconds)) / 48_000).astype(np.float32)


@pytest.mark.parametrize("frequency_hz", [60, 300, 1000, 5000])
def test_what_feet_and_cues_hold_comes_through_as_from_the_files_resampler(frequency_hz):
    live = Thirds().push(tone(frequency_hz))
    of_file = soxr.resample(tone(frequency_hz), 48_000, 16_000, quality="VHQ")
    middle = slice(500, 7000)
    np.testing.assert_allclose(live[middle], of_file[middle], atol=2e-3)


@pytest.mark.parametrize("frequency_hz", [9_000, 12_000, 20_000])
def test_what_16_khz_cannot_hold_is_gone(frequency_hz):
    assert np.abs(Thirds().push(tone(frequency_hz))[500:7000]).max() < 1e-3


@given(st.lists(st.integers(1, 3000), min_size=1, max_size=12))
def test_blocks_of_any_size_give_the_same_samples_and_none_is_kept_back_for_long(sizes):
    sound = np.random.default_rng(0).normal(size=sum(sizes)).astype(np.float32)
    thirds, parts, pushed = Thirds(), [], 0
    for size in sizes:
        parts.append(thirds.push(sound[pushed : pushed + size]))
        pushed += size
        assert pushed / 48_000 - sum(part.size for part in parts) / 16_000 <= 0.0014
    np.testing.assert_allclose(np.concatenate(parts), Thirds().push(sound), atol=1e-5)
