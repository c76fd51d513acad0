"""From samples as they come, block by block, to a `Recording` ready for analysis.

Whatever the rate, what is kept is one channel at `ANALYSIS_RATE_HZ`: in memory for ten minutes, in a
nameless temporary file beyond (`cuekit.hearing.spool`). soxr resamples it as a stream and takes its own
delay out again: the first sample kept is the first sample heard.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import soxr

from cuekit.errors import AudioError
from cuekit.hearing.events import Recording, Warned
from cuekit.hearing.spool import KEPT_IN_MEMORY_S, Spool, chunks

ANALYSIS_RATE_HZ = 16_000
"""Footfalls are heard below 8 kHz; a sample lasts 0.06 ms, well below what is asked of timing."""

MOST_BROKEN_PERCENT = 1.0
CLIPPED_PERCENT = 0.1
FAINT_DB = -50.0
LOW_RATE_HZ = 8_000

NO_SAMPLE_ABOVE = 1e6
"""Larger numbers than any scale in use are as broken as NaN."""

BAND_RATE_HZ = 1_000
"""Resampled to this, and differenced, a channel holds about 60 to 500 Hz: where footfalls are."""

FRAME_S = 0.020
BURST_RATIO = 4.0
"""A frame is part of a burst from 6 dB over the quieter frames on: steady noise never gets there."""

QUIET_SHARE = 30
"""Percentile of the frames taken for the level between the bursts."""


@dataclass(frozen=True)
class Ceiling:
    """Between which levels a sample counts as clipped, full scale being 1."""

    low: float = 1.0 - 1.5 * 2.0**-15
    high: float = float("inf")


class Gatherer:
    """Gathers one channel of a sound into a recording.

    Parameters:
        rate_hz: of the samples given, Hz.
        ceiling: of the samples given.
    """

    def __init__(self, rate_hz: int, ceiling: Ceiling = Ceiling()) -> None:
        self.frames = 0
        self._rate_hz, self._ceiling = rate_hz, ceiling
        self._stream = soxr.ResampleStream(rate_hz, ANALYSIS_RATE_HZ, 1, dtype="float32", quality="HQ")
        self._spool = Spool(round(KEPT_IN_MEMORY_S * ANALYSIS_RATE_HZ))
        self._sum = 0.0
        self._broken = self._clipped = 0
        self._peak, self._offset = 0.0, None

    @property
    def duration_s(self) -> float:
        """Length of what was added so far, s."""
        return self.frames / self._rate_hz

    def add(self, samples: np.ndarray) -> None:
        """Add the next samples (one dimension, any float)."""
        samples = np.array(samples, dtype=np.float32)
        self.frames += samples.size
        self._broken += silence_broken(samples)
        magnitude = np.abs(samples)
        self._peak = max(self._peak, float(magnitude.max(initial=0.0)))
        clipped = (magnitude >= self._ceiling.low) & (magnitude <= self._ceiling.high)
        self._clipped += int(np.count_nonzero(clipped))
        if self._offset is None:  # else an offset would begin and end in a jump, heard as a click
            self._offset = np.float32(samples.mean()) if samples.size else None
        if samples.size:
            self._keep(self._stream.resample_chunk(samples - self._offset))

    def recording(self, name: str, channels: int, warnings: tuple[Warned, ...] = ()) -> Recording:
        """All that was added, as a recording; nothing can be added afterwards.

        Parameters:
            name: of the file, as shown.
            channels: of the file.
            warnings: to be told before those found here.

        Raises:
            AudioError: nothing was added, or over 1 % of the samples are not numbers.
        """
        if not self.frames:
            raise AudioError(f"{name} holds no sound: record again")
        if self._broken > MOST_BROKEN_PERCENT / 100 * self.frames:
            raise AudioError(
                f"{name} is damaged: {100 * self._broken / self.frames:.0f} % of its samples are not "
                f"numbers: record again, or copy the file again"
            )
        self._keep(self._stream.resample_chunk(np.empty(0, np.float32), last=True))
        samples = self._spool.samples()
        peak = _centred(samples, self._sum / max(samples.size, 1), max(self._peak, 1.0))
        clipped_percent = 100.0 * self._clipped / self.frames
        found = self._warnings(peak, clipped_percent)
        return Recording(
            name=name,
            samples=samples,
            sample_rate_hz=ANALYSIS_RATE_HZ,
            file_rate_hz=self._rate_hz,
            channels=channels,
            duration_s=self.duration_s,
            clipped_percent=clipped_percent,
            warnings=warnings + found,
        )

    def _keep(self, samples: np.ndarray) -> None:
        self._sum += float(samples.sum(dtype=np.float64))
        self._spool.add(samples)

    def _warnings(self, peak: float, clipped_percent: float) -> tuple[Warned, ...]:
        """What the teacher should know of the sound."""
        found = []
        if self._broken:
            found.append(Warned("broken", (("count", self._broken),)))
        if clipped_percent > CLIPPED_PERCENT:
            found.append(Warned("clipped"))
        if peak < 1e-6:
            found.append(Warned("silent"))
        elif peak < 10 ** (FAINT_DB / 20):
            found.append(Warned("faint"))
        if self._rate_hz < LOW_RATE_HZ:
            found.append(Warned("low-rate", (("rate_hz", self._rate_hz),)))
        return tuple(found)


def _centred(samples: np.ndarray, mean: float, scale: float) -> float:
    """Take the mean away and divide by the scale, in place; the peak that remains."""
    peak = 0.0
    for chunk in chunks(samples):
        chunk -= np.float32(mean)
        if scale != 1.0:
            chunk /= np.float32(scale)
        peak = max(peak, float(chunk.max()), -float(chunk.min()))
    return peak


def recording_of(samples: np.ndarray, rate_hz: int, name: str) -> Recording:
    """A recording of samples in memory (one dimension, full scale 1), as if read from a file.

    Raises:
        AudioError: there are none, or over 1 % are not numbers.
    """
    gatherer = Gatherer(rate_hz)
    for start in range(0, len(samples), 262_144):
        gatherer.add(samples[start : start + 262_144])
    return gatherer.recording(name, 1)


def silence_broken(samples: np.ndarray) -> int:
    """Set what is no number (NaN, infinity, beyond any scale) to 0 in place; return how many there were."""
    with np.errstate(invalid="ignore"):
        fine = np.abs(samples) <= NO_SAMPLE_ABOVE
    broken = samples.size - int(np.count_nonzero(fine))
    if broken:
        samples[~fine] = 0.0
    return broken


def loudest_bursts(blocks: Iterable[np.ndarray], rate_hz: int, channels: int) -> int:
    """The channel in which bursts of the footfall band carry the most energy.

    A channel counts by the energy by which its 20 ms frames exceed four times its quiet level, so
    that hum, hiss or speech-like steady sound in one channel does not outweigh feet in another.
    Where no channel has a burst the one with the most energy is taken; the first of equals.

    Parameters:
        blocks: frames x channels, float32, in order.
        rate_hz: of the blocks.
        channels: number of channels.
    """
    stream = soxr.ResampleStream(rate_hz, BAND_RATE_HZ, channels, dtype="float32", quality="LQ")
    frame = round(FRAME_S * BAND_RATE_HZ)
    rest = np.zeros((1, channels), np.float32)
    energies, broken, frames = [], np.zeros(channels), 0
    for block in blocks:
        frames += len(block)
        for channel in range(channels if not np.isfinite(block).all() else 0):
            broken[channel] += silence_broken(block[:, channel])
        band = np.concatenate([rest, stream.resample_chunk(np.ascontiguousarray(block))])
        whole = (len(band) - 1) // frame * frame
        steps = np.diff(band[: whole + 1], axis=0)
        energies.append(np.square(steps).reshape(-1, frame, channels).sum(axis=1))
        rest = band[whole:]
    energy = np.concatenate(energies) if energies else np.zeros((0, channels), np.float32)
    if not len(energy):
        return 0
    quiet = np.percentile(energy, QUIET_SHARE, axis=0)
    bursts = np.maximum(energy - BURST_RATIO * quiet, 0.0).sum(axis=0)
    usable = broken <= MOST_BROKEN_PERCENT / 100 * frames
    score = np.where(usable, bursts if bursts.any() else energy.sum(axis=0), -1.0)
    return int(np.argmax(score))
