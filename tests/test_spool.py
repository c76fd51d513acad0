"""A long recording lies in a file meanwhile, and nobody can tell but by the memory it takes."""

from __future__ import annotations

import errno
from pathlib import Path

import numpy as np
import pytest

from cuekit.errors import AudioError
from cuekit.hearing import recordings, spool
from cuekit.hearing.detection import detect_footfalls, frame_levels_db
from cuekit.hearing.recordings import recording_of
from cuekit.hearing.soundfiles import read_recording

RATE_HZ = 16_000
GALLOP = Path(__file__).parents[1] / "demo_audio" / "gallop-even.flac"


@pytest.fixture
def spooled(monkeypatch):
    """Every recording longer than a second goes to a file."""
    monkeypatch.setattr(recordings, "KEPT_IN_MEMORY_S", 1.0)


def noise(seconds):
    return (0.1 * np.random.default_rng(1).standard_normal(round(seconds * RATE_HZ))).astype(np.float32) + 0.3


def test_a_recording_in_a_file_holds_the_same_samples(monkeypatch):
    kept = recording_of(noise(40.0), RATE_HZ, "noise")
    monkeypatch.setattr(recordings, "KEPT_IN_MEMORY_S", 1.0)
    filed = recording_of(noise(40.0), RATE_HZ, "noise")
    assert isinstance(filed.samples, np.memmap)
    assert not isinstance(kept.samples, np.memmap)
    assert np.array_equal(kept.samples, filed.samples)
    assert abs(filed.samples.mean()) < 1e-6


def test_samples_let_go_are_read_again(spooled):
    filed = recording_of(noise(40.0), RATE_HZ, "noise").samples
    before = np.array(filed)
    spool.let_go(filed[100:])
    assert np.array_equal(before, filed)


def test_the_same_footfalls_are_heard_in_a_file(monkeypatch):
    kept = detect_footfalls(read_recording(GALLOP))
    monkeypatch.setattr(recordings, "KEPT_IN_MEMORY_S", 1.0)
    filed = detect_footfalls(read_recording(GALLOP))
    assert kept == filed
    assert len(kept.footfalls) > 10


def test_levels_are_those_of_one_piece():
    samples = noise(130.0)
    whole = samples[: samples.size // 320 * 320].reshape(-1, 320)
    assert frame_levels_db(samples) == pytest.approx(10 * np.log10(np.mean(whole**2, axis=1) + 1e-12), abs=1e-3)
    assert frame_levels_db(np.zeros(0, np.float32)) == pytest.approx([-120.0])


def test_a_full_disk_is_told(spooled, monkeypatch):
    class Full:
        def write(self, data):
            raise OSError(errno.ENOSPC, "No space left on device")

        def close(self):
            """Nothing is open."""

    monkeypatch.setattr(spool.tempfile, "TemporaryFile", Full)
    with pytest.raises(AudioError, match="does not fit on the disk"):
        recording_of(noise(5.0), RATE_HZ, "noise")
