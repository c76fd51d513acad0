"""When the cue reached the microphone, read from the recording itself.

The cue track is known to the sample, so its delay is where the recording looks most like it. That is
looked for in windows of two seconds, each by itself. One window proves nothing: feet in time with a
cue that only the child hears (earphones) look like it too, now a little early, now late. So windows
must agree to a millisecond, as feet never do. A delay that jumps (a wireless link, an overloaded
computer) makes two groups that agree each by itself.

A swelling tone looks like itself a wave earlier or later too, and no window of two seconds stands out. So
where the windows say nothing, thirds of the take are held against what the cue gives by itself.

Method: cross-correlation, its spectrum flattened nearly as far as the phase transform does (Knapp &
Carter 1976, IEEE Trans Acoust Speech Signal Process 24:320-327; the exponent 0.8 was better than 1,
tried on made takes), over the frequencies at which the cue has energy, above those of feet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import soxr

from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.hearing.recordings import ANALYSIS_RATE_HZ

WINDOW_S = 2.0
LONGEST_DELAY_S = 0.6
LOW_HZ, HIGH_HZ = 800.0, 7_800.0
LEAST_QUALITY = 10.0
"""Peak of the correlation over its RMS elsewhere from which a window counts."""

AGREE_S = 0.001
"""Windows agree when neighbours in size differ by no more than this, s."""

FEWEST_AGREEING = 3
FEWEST_AFTER_JUMP = 2

THIRDS, LIKE_ITSELF = 3, 0.5
"""Parts, and the quality of each against that of the cue by itself, from which it counts. In made takes of
the swelling tone set it was .53 and more wherever the cue sounded, and .42 at most where only feet did, which
moreover never agreed."""

_WEAKEST = 1e-4  # bins of the cue's spectrum more than 40 dB under its strongest carry no timing
_BESIDE_S = 0.005
_FLATTEN = 0.8
_NOTHING = 1e-20


@dataclass(frozen=True)
class Arrival:
    """The delay of the cue in one window.

    Attributes:
        at_s: middle of the window, s from the start of the recording.
        delay_s: from the sample of the cue to the sample of the recording, s.
        quality: peak of the correlation over its RMS elsewhere.
    """

    at_s: float
    delay_s: float
    quality: float


@dataclass(frozen=True)
class CueDelay:
    """What the windows say together.

    Attributes:
        delay_s: median over the windows that agree, s; None where the cue was not heard well enough.
        jump_s: to what the second largest group says, s; 0 where there is none.
        jumped_at_s: about when it jumped first; None where it did not.
        agreeing, windows: how many agree, of how many in which the cue sounds.
    """

    delay_s: float | None
    jump_s: float
    jumped_at_s: float | None
    agreeing: int
    windows: int


def for_analysis(cue: Iterable[np.ndarray]) -> np.ndarray:
    """A cue track at the rate of recordings: mono float32 at 16 kHz, first sample to first sample."""
    stream = soxr.ResampleStream(SAMPLE_RATE_HZ, ANALYSIS_RATE_HZ, 1, dtype="float32", quality="HQ")
    parts = [stream.resample_chunk(np.ascontiguousarray(block, np.float32)) for block in cue]
    return np.concatenate([*parts, stream.resample_chunk(np.zeros(0, np.float32), last=True)])


def find_arrivals(heard: np.ndarray, played: np.ndarray) -> tuple[Arrival, ...]:
    """The delay of the cue, window by window, where it sounds.

    Parameters
    ----------
    heard, played : recording and cue, mono at 16 kHz, beginning at the same instant of one clock

    Returns
    -------
    One for each window in which the cue sounds, believable (`LEAST_QUALITY`) or not.
    """
    return tuple(
        Arrival((first + heard_part.size / 2) / ANALYSIS_RATE_HZ, *_delay(heard_part, played_part))
        for first, heard_part, played_part in _windows(heard, played)
        if np.square(played_part).sum() > 0.0
    )


def read_delay(heard: np.ndarray, played: np.ndarray) -> CueDelay:
    """The delay of the cue, and whether it held: by short windows, else by thirds.

    Parameters
    ----------
    heard, played : recording and cue, mono at 16 kHz, beginning at the same instant of one clock
    """
    by_windows = settle(find_arrivals(heard, played))
    return by_windows if by_windows.delay_s is not None else settle_thirds(find_in_thirds(heard, played))


def find_in_thirds(heard: np.ndarray, played: np.ndarray) -> tuple[Arrival, ...]:
    """The delay in each third of the time the cue sounds; `quality` is against that of the cue by itself."""
    sounding = np.flatnonzero(played)
    if not sounding.size:
        return ()
    longest = round(LONGEST_DELAY_S * ANALYSIS_RATE_HZ)
    edges = np.linspace(sounding[0], sounding[-1] + 1, THIRDS + 1).astype(int)
    found = []
    for first, end in pairwise(edges):
        part, there = played[first:end], heard[first : end + longest]
        if there.size >= part.size and part.any():
            delay_s, quality = _delay(there, np.pad(part, (longest, 0)))
            _, by_itself = _delay(np.pad(part, (0, longest)), np.pad(part, (longest, 0)))
            middle_s = (first + end) / 2 / ANALYSIS_RATE_HZ
            found.append(Arrival(middle_s, delay_s, quality / by_itself if by_itself else 0.0))
    return tuple(found)


def settle_thirds(thirds: tuple[Arrival, ...]) -> CueDelay:
    """One delay where two thirds agree; a third that is as sure and says otherwise is a jump."""
    good = [one for one in thirds if one.quality >= LIKE_ITSELF]
    near = [[other for other in good if abs(other.delay_s - one.delay_s) <= AGREE_S] for one in good]
    best = max(near, key=len, default=[])
    if len(best) < 2:
        return CueDelay(None, 0.0, None, len(best), len(thirds))
    main = float(np.median([one.delay_s for one in best]))
    others = [one for one in good if one not in best]
    if not others:
        return CueDelay(main, 0.0, None, len(best), len(thirds))
    jumped_at_s = max(best[0].at_s, others[0].at_s)
    return CueDelay(main, others[0].delay_s - main, jumped_at_s, len(best), len(thirds))


def settle(arrivals: tuple[Arrival, ...]) -> CueDelay:
    """One delay from many windows, and whether it held."""
    groups = _agreeing(arrivals)
    if not groups or len(groups[0]) < max(FEWEST_AGREEING, 0.4 * len(arrivals)):
        return CueDelay(None, 0.0, None, len(groups[0]) if groups else 0, len(arrivals))
    main = float(np.median([arrival.delay_s for arrival in groups[0]]))
    jump_s, jumped_at_s = 0.0, None
    if len(groups) > 1 and len(groups[1]) >= FEWEST_AFTER_JUMP:
        jump_s = float(np.median([arrival.delay_s for arrival in groups[1]])) - main
        jumped_at_s = max(groups[0][0].at_s, groups[1][0].at_s) - WINDOW_S / 2
    return CueDelay(main, jump_s, jumped_at_s, len(groups[0]), len(arrivals))


def _agreeing(arrivals: tuple[Arrival, ...]) -> list[list[Arrival]]:
    """Windows of enough quality in groups that agree, the largest first, each in order of time."""
    good = sorted((one for one in arrivals if one.quality >= LEAST_QUALITY), key=lambda one: one.delay_s)
    groups: list[list[Arrival]] = []
    for arrival in good:
        if groups and arrival.delay_s - groups[-1][-1].delay_s <= AGREE_S:
            groups[-1].append(arrival)
        else:
            groups.append([arrival])
    return sorted((sorted(group, key=lambda one: one.at_s) for group in groups), key=len, reverse=True)


def _windows(heard: np.ndarray, played: np.ndarray) -> Iterator[tuple[int, np.ndarray, np.ndarray]]:
    """First sample, the recording from there on, and the cue that may be in it."""
    size, before = round(WINDOW_S * ANALYSIS_RATE_HZ), round(LONGEST_DELAY_S * ANALYSIS_RATE_HZ)
    padded = np.concatenate([np.zeros(before, np.float32), played])
    for first in range(0, max(heard.size - size // 2, 0), size):
        part = heard[first : first + size]
        yield first, part, padded[first : first + before + part.size]


def _delay(heard: np.ndarray, played: np.ndarray) -> tuple[float, float]:
    """Delay (s) and quality; `played` begins the longest delay before `heard`."""
    before = round(LONGEST_DELAY_S * ANALYSIS_RATE_HZ)
    size = 1 << int(heard.size + played.size - 1).bit_length()
    spectrum = np.fft.rfft(played, size)
    frequencies_hz = np.fft.rfftfreq(size, 1 / ANALYSIS_RATE_HZ)
    power = np.square(np.abs(spectrum))
    band = (frequencies_hz >= LOW_HZ) & (frequencies_hz <= HIGH_HZ)
    used = band & (power > _WEAKEST * power[band].max())
    cross = np.where(used, np.fft.rfft(heard, size) * np.conj(spectrum), 0.0)
    correlation = np.fft.irfft(cross / np.maximum(np.abs(cross), _NOTHING) ** _FLATTEN, size)
    # A delay d puts the peak at d - before, counted round the end of the array.
    correlation = np.roll(correlation, before)[: before + 1]
    peak = int(np.argmax(correlation))
    beside = np.abs(np.arange(correlation.size) - peak) > _BESIDE_S * ANALYSIS_RATE_HZ
    rest = float(np.sqrt(np.mean(np.square(correlation[beside]))))
    quality = float(correlation[peak]) / rest if rest > 0 else 0.0
    return (peak + _between(correlation, peak)) / ANALYSIS_RATE_HZ, quality


def _between(values: np.ndarray, peak: int) -> float:
    """Where between the samples the top of the parabola through three of them lies, -0.5 to 0.5."""
    if not 0 < peak < values.size - 1:
        return 0.0
    left, top, right = values[peak - 1 : peak + 2]
    bend = left - 2 * top + right
    return float(0.5 * (left - right) / bend) if bend < 0 else 0.0
