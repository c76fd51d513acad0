"""A small trained network that tells feet from voices, balls and cues.

Every 5 ms it looks at two spectra of the moment, a short one (16 ms: when) and a long one (64 ms:
what, since voices and whistles have harmonics and a landing has none), and at about a second of the
past, and gives the probability that a foot met the floor there and how far from the middle of the
step. It is a temporal convolution network (Bai, Kolter & Koltun 2018, arXiv:1803.01271): causal but
for 30 ms, so that live listening decides as listening to a file does.

Trained by `tools/train_ear.py` on made scenes of recorded feet in simulated rooms
(`tests/hearing`, development part only); the weights are shipped and run with numpy alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from cuekit.hearing.spool import let_go

SAMPLE_RATE_HZ = 16_000
HOP = 80
HOP_S = HOP / SAMPLE_RATE_HZ

_SHORT, _LONG = 256, 1024
_SHORT_BANDS, _LONG_BANDS = 24, 40
_LONG_AHEAD = 256
"""Samples of the long window that lie after the moment: 16 ms, so that little has to be waited for."""

LONG_AHEAD_S = _LONG_AHEAD / SAMPLE_RATE_HZ
MARGIN = _LONG
"""Samples that a step may need on either side."""

QUIETEST = 1e-9
AHEAD_STEPS = 6
"""Steps after a moment that its probability depends on."""
PAST_STEPS = 520
"""Steps before a moment that its probability depends on, rounded up."""
EARLIEST_STEPS = 4
"""Steps before the first whose long window reaches into the sound."""

CHUNK_STEPS = 2_000
_FRAMES_AT_ONCE = 30
"""Spectra worked on at once: as many as a processor keeps at hand, which makes them twice as quick, and each
array under the 128 kB from which the C library asks the system for memory anew each time."""


@dataclass(frozen=True, eq=False)
class Layer:
    """One convolution in time.

    Attributes:
        weight: shape (taps, channels in, channels out).
        bias: shape (channels out,).
        dilation: steps between taps.
        ahead: taps after the moment.
    """

    weight: np.ndarray
    bias: np.ndarray
    dilation: int
    ahead: int


@dataclass(frozen=True, eq=False)
class Ear:
    """The trained network.

    Attributes:
        layers: the first ones widen the features, the others add to what they get (residual).
        head: last, linear: one column for the logit of a footfall, one for its offset in steps.
    """

    layers: tuple[Layer, ...]
    head: Layer


@dataclass(frozen=True, eq=False)
class Impression:
    """What the network makes of a sound, step by step of 5 ms.

    Attributes:
        logit: of a footfall at each step, shape (steps,).
        offset_s: from the step to the contact where there is one, s, shape (steps,).
    """

    logit: np.ndarray
    offset_s: np.ndarray


@cache
def load_ear() -> Ear:
    """The shipped network."""
    with files("cuekit.hearing").joinpath("ear.npz").open("rb") as file, np.load(file) as stored:
        plan = stored["plan"]
        layers = tuple(
            Layer(
                stored[f"weight{n}"].astype(np.float32), stored[f"bias{n}"].astype(np.float32), int(d), int(a)
            )
            for n, (d, a) in enumerate(plan)
        )
    return Ear(layers[:-1], layers[-1])


def listen(samples: np.ndarray, ear: Ear) -> Impression:
    """Run the network over mono samples at 16 kHz, in pieces, so that hours cost little memory.

    What lies before and after the sound is silence, as in training.
    """
    steps = samples.size // HOP + 1
    flow, pieces = Flow(ear), []
    for start in range(-EARLIEST_STEPS, steps + AHEAD_STEPS, CHUNK_STEPS):
        stop = min(start + CHUNK_STEPS, steps + AHEAD_STEPS)
        pieces.append(flow.feed(features_of(_between(samples, start, stop), 0, stop - start)))
        let_go(samples)
    return impression_of(np.concatenate(pieces)[EARLIEST_STEPS + AHEAD_STEPS :])


def impression_of(outputs: np.ndarray) -> Impression:
    """The two outputs of the network, (steps, 2), as an impression."""
    return Impression(outputs[:, 0], np.clip(outputs[:, 1], -3, 3) * HOP_S)


def _between(samples: np.ndarray, start: int, stop: int) -> np.ndarray:
    """The samples that steps `start` to `stop` look at, silence where there are none."""
    first, last = start * HOP - MARGIN, stop * HOP + MARGIN
    inside = samples[max(first, 0) : max(last, 0)]
    before = max(-first, 0)
    return np.pad(inside, (before, last - first - before - inside.size))


def features_of(padded: np.ndarray, start: int, stop: int) -> np.ndarray:
    """Log band energies of steps `start` to `stop` of samples padded by `MARGIN` on both sides.

    Returns:
        shape (steps, 64): 24 bands of the short spectrum, 40 of the long one, about -1 to 1.
    """
    count = stop - start
    first = MARGIN + start * HOP
    short = _frames(padded, first - _SHORT // 2, _SHORT, count)
    long = _frames(padded, first - _LONG + _LONG_AHEAD, _LONG, count)
    return np.concatenate(
        [
            _bands(short, _bank(_SHORT, _SHORT_BANDS, 60.0, 7800.0)),
            _bands(long, _bank(_LONG, _LONG_BANDS, 40.0, 5000.0)),
        ],
        axis=1,
    )


def _frames(padded: np.ndarray, first: int, size: int, count: int) -> np.ndarray:
    """Windows of `size` samples every step."""
    every = np.lib.stride_tricks.sliding_window_view(padded, size)
    return every[first : first + (count - 1) * HOP + 1 : HOP]


def _bands(frames: np.ndarray, bank: np.ndarray) -> np.ndarray:
    """Log energies of the bands of a windowed spectrum."""
    size, top = frames.shape[1], int(np.flatnonzero(bank.any(axis=1))[-1]) + 1
    window = np.hanning(size + 1)[:-1].astype(np.float32)
    scale = 2.0 / (float(window @ window) * size)
    energies = np.empty((frames.shape[0], bank.shape[1]), np.float32)
    for start in range(0, frames.shape[0], _FRAMES_AT_ONCE):
        block = slice(start, start + _FRAMES_AT_ONCE)
        spectrum = np.fft.rfft(frames[block] * window)[:, :top]
        power = np.square(spectrum.real)
        power += np.square(spectrum.imag)
        energies[block] = power @ bank[:top]
    return 0.5 * np.log10(energies * np.float32(scale) + np.float32(QUIETEST)) + 2.0


@cache
def _bank(size: int, bands: int, low_hz: float, high_hz: float) -> np.ndarray:
    """Triangular bands from `low_hz` to `high_hz`, evenly spaced on the ear's mel scale; (bins, bands)."""
    mel = np.linspace(*(2595 * np.log10(1 + np.array([low_hz, high_hz]) / 700)), bands + 2)
    edges_hz = 700 * (10 ** (mel / 2595) - 1)
    bins_hz = np.arange(size // 2 + 1) * SAMPLE_RATE_HZ / size
    width_hz = SAMPLE_RATE_HZ / size
    left, centre, right = edges_hz[:-2], edges_hz[1:-1], edges_hz[2:]
    left, right = np.minimum(left, centre - width_hz), np.maximum(right, centre + width_hz)
    rising = (bins_hz[:, None] - left) / (centre - left)
    falling = (right - bins_hz[:, None]) / (right - centre)
    return np.clip(np.minimum(rising, falling), 0, None).astype(np.float32)


class Flow:
    """The network fed step by step: the same outputs as over the whole, `AHEAD_STEPS` later."""

    def __init__(self, ear: Ear) -> None:
        self._ear = ear
        self._rows = [_past_of(layer) for layer in (*ear.layers, ear.head)]
        self.feed(features_of(np.zeros(2 * MARGIN + PAST_STEPS * HOP, np.float32), 0, PAST_STEPS))

    def feed(self, features: np.ndarray) -> np.ndarray:
        """Outputs, (steps, 2), of as many steps as were fed, delayed by the steps ahead."""
        signal = features
        for n, layer in enumerate(self._ear.layers):
            rows = np.concatenate([self._rows[n], signal])
            steps = max(rows.shape[0] - _reach(layer), 0)
            before = _reach(layer) - layer.ahead * layer.dilation
            grown = np.maximum(_dot(rows, steps, layer), 0)
            signal = grown + rows[before : before + steps] if grown.shape[1] == rows.shape[1] else grown
            self._rows[n] = rows[steps:]
        return _dot(signal, signal.shape[0], self._ear.head)


def _past_of(layer: Layer) -> np.ndarray:
    """Nothing heard yet: the rows before the first that a layer looks back on."""
    before = _reach(layer) - layer.ahead * layer.dilation
    return np.zeros((before, layer.weight.shape[1]), np.float32)


def _reach(layer: Layer) -> int:
    """Steps from the first tap of a layer to its last."""
    return (layer.weight.shape[0] - 1) * layer.dilation


def _dot(rows: np.ndarray, steps: int, layer: Layer) -> np.ndarray:
    """The first `steps` results of a layer over rows that hold all its taps."""
    summed = rows[:steps] @ layer.weight[0]
    for tap in range(1, layer.weight.shape[0]):
        summed += rows[tap * layer.dilation :][:steps] @ layer.weight[tap]
    summed += layer.bias
    return summed
