"""A made-up room: how a performance sounds at the microphone, and when.

Sound takes 1 s for 343 m, so a landing at distance d is heard d/343 s after it happened; the times of
a `Take` are those at the microphone. The direct sound falls off with distance, the room's own sound
does not; they are equal at the critical distance 0.057 sqrt(Q V/T) m (formula from memory; Q is 2
for a source on a hard floor, which sends its sound into half the space). The room answers with a few
early reflections and noise that dies away exponentially, faster the higher the frequency; it answers
a little differently from three parts of the floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
import soxr

from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.events import Recording
from cuekit.hearing.recordings import recording_of
from cuekit.simulation.simulate import Landing, Performance
from cuekit.simulation.simulate_feet import Feet, band_gain, model_feet

SOUND_M_PER_S = 343.0
LEVEL_WINDOW_S = 0.020
FLOOR_Q = 2.0
PARTS_OF_FLOOR = 3

DECAY_BANDS = ((40.0, 180.0, 1.10), (180.0, 700.0, 1.00), (700.0, 2800.0, 0.85), (2800.0, 11200.0, 0.55))
"""Low and high edge, Hz, and reverberation time against that at 500 Hz: air and soft things take the
highs first (from memory)."""


class NoiseColour(Enum):
    """Fall of a noise's power with frequency, as the exponent of 1/f."""

    WHITE = 0
    PINK = 1
    FAN = 2


@dataclass(frozen=True)
class Room:
    """A room with a microphone.

    Attributes:
        rt60_s: reverberation time at 500 Hz, s; 0 for no room at all (open air).
        volume_m3: of the room, for how near one has to be to hear the feet rather than the room.
        path: where the learner is: (time in s, distance from the microphone in m), straight between,
            the first and last holding before and after.
        noise_below_feet_db: how far the steady noise (RMS) lies below the feet (median over the
            landings of the loudest 20 ms, RMS), dB; None for no noise.
        noise_colour: of that noise.
        peak_db: of the loudest sample of the recording against full scale, dB.
    """

    rt60_s: float = 0.6
    volume_m3: float = 500.0
    path: tuple[tuple[float, float], ...] = ((0.0, 3.0),)
    noise_below_feet_db: float | None = 40.0
    noise_colour: NoiseColour = NoiseColour.PINK
    peak_db: float = -12.0

    def distance_m(self, time_s: np.ndarray | float) -> np.ndarray:
        """Distance of the learner from the microphone, m."""
        times_s, distances_m = np.array(self.path).T
        return np.interp(time_s, times_s, distances_m)

    @property
    def critical_m(self) -> float:
        """Distance at which direct and reverberant sound are equal, m; infinite in open air."""
        return 0.057 * math.sqrt(FLOOR_Q * self.volume_m3 / self.rt60_s) if self.rt60_s else math.inf


@dataclass(frozen=True, eq=False)
class Leak:
    """The cue, heard by the same microphone.

    Attributes:
        samples: at `SAMPLE_RATE_HZ`.
        start_s: when the loudspeaker begins to play them, s.
        above_feet_db: its loudest 20 ms (RMS) against the feet's median, dB.
        distance_m: of the loudspeaker from the microphone, m.
    """

    samples: np.ndarray
    start_s: float = 0.0
    above_feet_db: float = 0.0
    distance_m: float = 1.0


@dataclass(frozen=True, eq=False)
class Take:
    """A made recording and its truth.

    Attributes:
        samples: mono float32, full scale 1.
        sample_rate_hz: Hz.
        landings: in order, with times at the microphone.
    """

    samples: np.ndarray
    sample_rate_hz: int
    landings: tuple[Landing, ...]

    @property
    def times_s(self) -> np.ndarray:
        """First contacts as they arrive at the microphone, s."""
        return np.array([landing.time_s for landing in self.landings])

    def recording(self, name: str = "made") -> Recording:
        """As if read from a file."""
        return recording_of(self.samples, self.sample_rate_hz, name)


def at_microphone(performance: Performance, room: Room) -> tuple[Landing, ...]:
    """The landings with the times at which their direct sound reaches the microphone."""
    late_s = room.distance_m(performance.times_s) / SOUND_M_PER_S
    return tuple(
        replace(landing, time_s=float(landing.time_s + late))
        for landing, late in zip(performance.landings, late_s, strict=True)
    )


def record(
    performance: Performance,
    room: Room,
    *,
    seed: int,
    feet: Feet | None = None,
    leak: Leak | None = None,
    sample_rate_hz: int = SAMPLE_RATE_HZ,
    after_s: float = 1.0,
) -> Take:
    """Record a performance in a room; the same seed gives the same samples.

    Parameters:
        performance: what the learner does.
        room: where.
        seed: of all that is random in the sound.
        feet: whose landings are heard; None for made-up ones on a floor of their own.
        leak: the cue in the recording; None for none.
        sample_rate_hz: of the recording, Hz.
        after_s: how long the recording goes on after the performance, s.
    """
    rng = np.random.default_rng(seed)
    feet = model_feet(seed) if feet is None else feet
    landings = at_microphone(performance, room)
    end_s = max([performance.end_s, *(each.time_s for each in landings)])
    n = round((end_s + after_s) * SAMPLE_RATE_HZ)
    direct, sent = _placed(performance, landings, room, feet, n, rng)
    tails = [_answer(room, rng) for _ in range(PARTS_OF_FLOOR)]
    samples = _in_room(direct, sent, tails, n)
    feet_level = _feet_level(samples, landings)
    if leak is not None:
        samples = samples + _leaked(leak, room, tails[0], n, feet_level)
    samples = samples + _noise(room, n, feet_level, rng)
    samples *= 10 ** (room.peak_db / 20) / max(float(np.abs(samples).max()), 1e-9)
    if sample_rate_hz != SAMPLE_RATE_HZ:
        samples = soxr.resample(samples, SAMPLE_RATE_HZ, sample_rate_hz)
    return Take(samples.astype(np.float32), sample_rate_hz, landings)


def _placed(
    performance: Performance,
    landings: tuple[Landing, ...],
    room: Room,
    feet: Feet,
    n: int,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """The direct sound, and what each part of the floor sends into the room, as samples."""
    direct, sent = np.zeros(n), np.zeros((PARTS_OF_FLOOR, n))
    for made, heard in zip(performance.landings, landings, strict=True):
        part = rng.integers(PARTS_OF_FLOOR)
        near = 1.0 / max(float(room.distance_m(made.time_s)), 0.3)
        contacts = [(0.0, 0.0)] if not made.spread_s else [(0.0, 0.0), (made.spread_s, rng.normal(-2.0, 1.5))]
        for later_s, softer_db in contacts:
            sound = feet.landing(rng, heard.place or 0) * 10 ** ((heard.level_db + softer_db) / 20)
            start = round((heard.time_s + later_s) * SAMPLE_RATE_HZ)
            if start < 0:
                continue
            sound = sound[: max(0, n - start)]
            direct[start : start + sound.size] += near * sound
            sent[part, start : start + sound.size] += sound
    return direct, sent


def _answer(room: Room, rng: np.random.Generator) -> np.ndarray:
    """The room's answer to an impulse from one part of its floor; no samples in open air.

    Around 500 Hz its energy is that of the direct sound at the critical distance.
    """
    if not room.rt60_s:
        return np.zeros(0)
    n = round(1.3 * room.rt60_s * SAMPLE_RATE_HZ)
    t = np.arange(n) / SAMPLE_RATE_HZ
    frequencies_hz = np.fft.rfftfreq(n, 1 / SAMPLE_RATE_HZ)
    late = np.zeros(n)
    for low_hz, high_hz, against in DECAY_BANDS:
        band = np.fft.irfft(np.fft.rfft(rng.normal(size=n)) * band_gain(frequencies_hz, low_hz, high_hz), n)
        late += band * 10 ** (-3.0 * t / (against * room.rt60_s))
    first_s = rng.uniform(0.002, 0.010)  # the room is silent until the first wall has answered
    late *= np.clip((t - first_s) / 0.005, 0.0, 1.0)
    middle = (frequencies_hz > 250.0) & (frequencies_hz < 1000.0)
    late /= np.sqrt(np.mean(np.square(np.abs(np.fft.rfft(late)[middle]))))
    for delay_s in first_s + np.sort(rng.uniform(0.0, 0.05, 6)):
        late[min(round(delay_s * SAMPLE_RATE_HZ), n - 1)] += rng.choice([-1.0, 1.0]) * rng.uniform(0.1, 0.3)
    return late / np.sqrt(np.mean(np.square(np.abs(np.fft.rfft(late)[middle])))) / room.critical_m


def _in_room(direct: np.ndarray, sent: np.ndarray, tails: list[np.ndarray], n: int) -> np.ndarray:
    """Direct sound and the room's answers together."""
    if not tails[0].size:
        return direct
    size = _fast_length(n + tails[0].size)
    spectrum = sum(
        np.fft.rfft(part, size) * np.fft.rfft(tail, size) for part, tail in zip(sent, tails, strict=True)
    )
    return direct + np.fft.irfft(spectrum, size)[:n]


def _fast_length(n: int) -> int:
    """The smallest length of at least n that has no prime factor above 5, for the FFT."""
    best = 1 << (n - 1).bit_length()
    for fives in range(round(math.log(best, 5)) + 1):
        for threes in range(round(math.log(best, 3)) + 1):
            odd = 5**fives * 3**threes
            if odd < best:
                best = min(best, odd << max(0, (-(-n // odd) - 1).bit_length()))
    return best


def _loudest_rms(samples: np.ndarray) -> float:
    """RMS of the loudest 20 ms."""
    width = round(LEVEL_WINDOW_S * SAMPLE_RATE_HZ)
    energy = np.concatenate([[0.0], np.cumsum(np.square(samples, dtype=float))])
    if samples.size < width:
        return 0.0
    return float(np.sqrt(max((energy[width:] - energy[:-width]).max(), 0.0) / width))


def _feet_level(samples: np.ndarray, landings: tuple[Landing, ...]) -> float:
    """Median over the landings of their loudest 20 ms, RMS; 0.03 where nobody moves."""
    after = round(0.08 * SAMPLE_RATE_HZ)
    starts = [max(0, round(landing.time_s * SAMPLE_RATE_HZ)) for landing in landings]
    levels = [_loudest_rms(samples[start : start + after]) for start in starts]
    return float(np.median(levels)) if levels else 0.03


def _leaked(leak: Leak, room: Room, tail: np.ndarray, n: int, feet_level: float) -> np.ndarray:
    """The cue at the microphone, with the room's answer, at its level."""
    start = round((leak.start_s + leak.distance_m / SOUND_M_PER_S) * SAMPLE_RATE_HZ)
    played = np.zeros(n)
    cue = leak.samples[: max(0, n - start)]
    played[start : start + cue.size] = cue
    silent = np.zeros((PARTS_OF_FLOOR - 1, n))
    sent = np.concatenate([played[None], silent])
    heard = _in_room(played / leak.distance_m, sent, [tail] * PARTS_OF_FLOOR, n)
    return heard * 10 ** (leak.above_feet_db / 20) * feet_level / max(_loudest_rms(heard), 1e-12)


def _noise(room: Room, n: int, feet_level: float, rng: np.random.Generator) -> np.ndarray:
    """Steady noise of the room's colour, at its level below the feet."""
    if room.noise_below_feet_db is None:
        return np.zeros(n)
    size = _fast_length(n)
    frequencies_hz = np.fft.rfftfreq(size, 1 / SAMPLE_RATE_HZ)
    gain = np.maximum(frequencies_hz, 20.0) ** (-room.noise_colour.value / 2) * (frequencies_hz > 15.0)
    noise = np.fft.irfft(np.fft.rfft(rng.normal(size=size)) * gain, size)[:n]
    return noise * feet_level * 10 ** (-room.noise_below_feet_db / 20) / np.sqrt(np.mean(np.square(noise)))
