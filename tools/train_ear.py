"""Train the network that tells feet from other sounds (`cuekit/hearing/ear.py`), on development scenes only.

    python tools/train_scenes.py --cues cues.npz
    python tools/train_ear.py --minutes 9 --cues cues.npz --out ear.npz [--start ear.npz] [--hold SOURCE ...]

Needs torch, scipy and the built material of `tests/hearing` (see its README). Scenes are mixed by
worker processes and kept in a pool from which batches are drawn with new levels and new spectral tilts,
some of them with a scene without feet laid over; sources named by --hold are left out of training and
scored at the end, to see how the network takes to feet it never met.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # one core a worker

import argparse
import multiprocessing
import queue
import sys
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[1])]

import numpy as np
import torch
from torch import nn
from torch.optim.swa_utils import AveragedModel, get_ema_multi_avg_fn
from train_scenes import MOST_ONSETS, SCENE_S, produce

from cuekit.hearing import ear

SCENE = round(SCENE_S * ear.SAMPLE_RATE_HZ)
STEPS = SCENE // ear.HOP
WIDTH = 64
PLAN = (
    *((3, 1, 1), (3, 1, 1), (3, 2, 1), (3, 2, 1)),
    *((3, 4, 0), (3, 8, 0), (3, 16, 0), (3, 32, 0), (3, 64, 0), (3, 128, 0)),
)
"""(taps, dilation, taps ahead) of each layer: 6 steps ahead; 2.5 s back, for some bounces of a ball."""
LAID_OVER = 0.3
"""Share of the scenes of a batch that get a scene without feet laid over."""
TILTED_DB = 4.5
"""Standard deviation of the spectrum a scene is given, octave by octave; half of it for its slope, dB."""
NARROWED = 0.35
"""Share of the scenes of a batch whose highest frequencies are cut off, as recordings of a low rate are."""
FIRST_SCENES = 1_500
"""Scenes in the pool before training begins."""
AVERAGED = 0.999
"""Of the averaged weights, which are what is kept, this share stays at every step."""


class Network(nn.Module):
    """The network of `cuekit.hearing.ear` in torch."""

    def __init__(self) -> None:
        super().__init__()
        self.layers = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, taps, dilation=d) for taps, d, _ in PLAN)
        self.head = nn.Conv1d(WIDTH, 2, 1)

    def forward(self, signal: torch.Tensor) -> torch.Tensor:
        """(batch, 64, past + steps + ahead) to (batch, 2, steps)."""
        for layer, (taps, dilation, ahead) in zip(self.layers, PLAN, strict=True):
            after = ahead * dilation
            padded = nn.functional.pad(signal, ((taps - 1) * dilation - after, after))
            signal = signal + torch.relu(layer(padded))
        return self.head(signal)[:, :, ear.PAST_STEPS : ear.PAST_STEPS + STEPS]


def features(samples: torch.Tensor) -> torch.Tensor:
    """`ear.features_of` for a batch of whole scenes, the silence before and after them included.

    (batch, samples) to (batch, 64, past + steps + ahead).
    """
    margin, past = ear._LONG, ear.PAST_STEPS * ear.HOP
    padded = nn.functional.pad(samples, (margin + past, margin + ear.AHEAD_STEPS * ear.HOP))
    rows = []
    for size, bands, low, high, first in (
        (ear._SHORT, ear._SHORT_BANDS, 60.0, 7800.0, margin - ear._SHORT // 2),
        (ear._LONG, ear._LONG_BANDS, 40.0, 5000.0, margin - ear._LONG + ear._LONG_AHEAD),
    ):
        frames = padded[:, first:].unfold(1, size, ear.HOP)[:, : STEPS + ear.PAST_STEPS + ear.AHEAD_STEPS]
        window = torch.hann_window(size, device=samples.device)
        power = torch.fft.rfft(frames * window).abs() ** 2
        scale = 2.0 / (float((window**2).sum()) * size)
        bank = torch.from_numpy(ear._bank(size, bands, low, high)).to(samples.device)
        rows.append(0.5 * torch.log10(power @ bank * scale + ear.QUIETEST) + 2.0)
    return torch.cat(rows, dim=2).transpose(1, 2)


def targets(onsets: torch.Tensor, others: torch.Tensor) -> tuple[torch.Tensor, ...]:
    """Soft labels, offsets (steps) and weights of every step."""
    at = torch.arange(STEPS, device=onsets.device)[None, :, None] * ear.HOP_S
    away = (torch.nan_to_num(onsets, nan=1e6)[:, None, :] - at) / ear.HOP_S
    nearest = away.abs().min(dim=2)
    offset = torch.gather(away, 2, nearest.indices[..., None])[..., 0]
    label = torch.where(nearest.values <= 0.5, 1.0, torch.where(nearest.values <= 1.5, 0.5, 0.0))
    other = ((torch.nan_to_num(others, nan=1e6)[:, None, :] - at).abs().min(dim=2).values < 0.03) & (
        label == 0
    )
    early = nearest.values.new_zeros(nearest.values.shape, dtype=torch.bool)
    early[:, :3] = (torch.nan_to_num(onsets, nan=1e6).min(dim=1).values < 0.005)[
        :, None
    ]  # cut through a landing
    weight = torch.where(other, 0.25, 1.0) * torch.where(early, 0.0, 1.0)
    return label, offset, weight


def varied(samples: torch.Tensor) -> torch.Tensor:
    """New level and spectrum for each scene of a batch; minimum phase, so that onsets stay."""
    batch, device, size = samples.shape[0], samples.device, 1024
    gain = 10 ** (torch.empty(batch, 1, device=device).uniform_(-30, 4) / 20)
    octave = torch.log2(torch.linspace(0, 8000, size // 2 + 1, device=device).clamp(min=40) / 500)
    points = torch.randn(batch, 9, device=device) * TILTED_DB
    shape = nn.functional.interpolate(points[:, None], size=256, mode="linear", align_corners=True)[:, 0]
    index = ((octave + 4) / 8 * 255).clamp(0, 255).long()
    slope = torch.randn(batch, 1, device=device) * TILTED_DB / 2
    curve = (shape[:, index] + slope * octave) * (np.log(10) / 20)
    cepstrum = torch.fft.irfft(curve, n=size)
    fold = torch.ones(size, device=device)
    fold[1 : size // 2], fold[size // 2 + 1 :] = 2.0, 0.0
    response = torch.fft.irfft(torch.exp(torch.fft.rfft(cepstrum * fold)), n=size)
    length = samples.shape[1] + size
    product = torch.fft.rfft(samples, n=length) * torch.fft.rfft(response, n=length)
    product *= open_below(batch, product.shape[1], device)
    return torch.fft.irfft(product, n=length)[:, : samples.shape[1]] * gain


def open_below(batch: int, bins: int, device: torch.device) -> torch.Tensor:
    """Share let through of each frequency: all, or in some scenes what is below an edge of 2.6 to 7.8 kHz.

    Many recorded voices and balls are of a low rate, so an edge must not tell them from feet.
    """
    edge_hz = torch.empty(batch, 1, device=device).uniform_(2600, 7800)
    edge_hz += torch.where(torch.rand(batch, 1, device=device) < NARROWED, 0.0, 1e4)
    hz = torch.linspace(0, 8000, bins, device=device)
    return ((edge_hz - hz) / 150).clamp(0, 1)


class Pool:
    """Scenes kept on the device; new ones replace the oldest."""

    def __init__(self, size: int, device: str) -> None:
        self.samples = torch.zeros(size, SCENE, dtype=torch.int16, device=device)
        self.onsets = torch.full((size, MOST_ONSETS), torch.nan, device=device)
        self.others = torch.full((size, MOST_ONSETS), torch.nan, device=device)
        self.empty = torch.zeros(size, dtype=torch.bool, device=device)
        self.made = 0

    def take(self, scenes: multiprocessing.Queue, most: int) -> None:
        """Move what the workers have made into the pool."""
        for _ in range(most):
            try:
                samples, onsets, others, _ = scenes.get_nowait()
            except queue.Empty:
                return
            slot = self.made % len(self.samples)
            self.samples[slot] = torch.from_numpy(samples).to(self.samples.device)
            self.onsets[slot] = torch.from_numpy(onsets).to(self.samples.device)
            self.others[slot] = torch.from_numpy(others).to(self.samples.device)
            self.empty[slot] = bool(np.isnan(onsets).all() and np.isnan(others).all())
            self.made += 1

    def batch(self, size: int) -> tuple[torch.Tensor, ...]:
        """Scenes at random."""
        pick = torch.randint(min(self.made, len(self.samples)), (size,), device=self.samples.device)
        return self._laid_over(self.samples[pick].float() / 32768), self.onsets[pick], self.others[pick]

    def _laid_over(self, samples: torch.Tensor) -> torch.Tensor:
        """Scenes without feet, shifted in time, laid over some of a batch: 18 dB below to 6 dB above."""
        device, empty = samples.device, torch.nonzero(self.empty)[:, 0]
        if not len(empty):
            return samples
        pick = empty[torch.randint(len(empty), (len(samples),), device=device)]
        over = torch.roll(self.samples[pick].float() / 32768, int(torch.randint(SCENE, (1,))), dims=1)
        over = varied(over)
        wanted = 10 ** (torch.empty(len(samples), 1, device=device).uniform_(-18, 6) / 20)
        gain = wanted * samples.std(dim=1, keepdim=True) / over.std(dim=1, keepdim=True).clamp(min=1e-4)
        laid = torch.rand(len(samples), 1, device=device) < LAID_OVER
        return samples + torch.where(laid, gain, 0.0) * over


def loss_of(network: nn.Module, batch: tuple[torch.Tensor, ...], vary: bool) -> torch.Tensor:
    """Cross-entropy of footfalls and absolute error of their offsets."""
    samples, onsets, others = batch
    label, offset, weight = targets(onsets, others)
    out = network(features(varied(samples) if vary else samples))
    cross = nn.functional.binary_cross_entropy_with_logits(out[:, 0], label, reduction="none")
    near = (offset.abs() <= 2.0).float() * weight
    late = (out[:, 1] - offset).abs() * near
    return (cross * weight * (1 + 4 * label)).sum() / weight.sum() + 0.02 * late.sum() / near.sum().clamp(
        min=1
    )


def f_measure(network: nn.Module, batch: tuple[torch.Tensor, ...]) -> str:
    """F1 at 25 ms at the best of a few thresholds, median error, and false footfalls without feet."""
    samples, onsets, _ = batch
    with torch.no_grad():
        out = network(features(samples))
    probability = torch.sigmoid(out[:, 0])
    largest = nn.functional.max_pool1d(probability[:, None], 13, 1, 6)[:, 0]
    best = (0.0, 0.0, 0.0, 0.0)
    for threshold in (0.4, 0.5, 0.6):
        hits = found = true = 0
        errors, false, empty = [], 0, 0
        for row in range(len(samples)):
            steps = torch.nonzero((probability[row] >= threshold) & (probability[row] == largest[row]))[:, 0]
            times = ((steps + out[row, 1, steps].clamp(-3, 3)) * ear.HOP_S).cpu().numpy()
            truth = onsets[row].cpu().numpy()
            truth = truth[np.isfinite(truth) & (truth >= 0)]
            found, true = found + times.size, true + truth.size
            false, empty = false + (times.size if not truth.size else 0), empty + (not truth.size)
            for time_s in truth:
                if times.size and np.abs(times - time_s).min() <= 0.025:
                    hits += 1
                    errors.append(times[np.abs(times - time_s).argmin()] - time_s)
        best = max(
            best,
            (
                2 * hits / max(found + true, 1),
                threshold,
                float(np.median(np.abs(errors or [1]))),
                60 * false / max(empty * SCENE_S, 1),
            ),
        )
    said = f"F1 {best[0]:.4f} at {best[1]:.1f}, median error {1000 * best[2]:.2f} ms"
    return f"{said}, {best[3]:.1f} false a minute"


def save(network: Network, path: Path) -> None:
    """Write the weights as `cuekit.hearing.ear.load_ear` reads them."""
    arrays: dict[str, np.ndarray] = {}
    plan = [(d, ahead) for _, d, ahead in PLAN] + [(1, 0)]
    for n, layer in enumerate([*network.layers, network.head]):
        arrays[f"weight{n}"] = layer.weight.detach().cpu().numpy().transpose(2, 1, 0).astype(np.float16)
        arrays[f"bias{n}"] = layer.bias.detach().cpu().numpy().astype(np.float16)
    np.savez_compressed(path, plan=np.array(plan, np.int16), **arrays)


def restore(network: Network, path: Path) -> None:
    """Take the weights that `save` wrote; layers that they lack begin small."""
    with np.load(path) as stored:
        known = len(stored["plan"]) - 1
        for layer in network.layers[known:]:
            layer.weight.data *= 0.1
        for n, layer in enumerate([*network.layers[:known], network.head]):
            weight = stored[f"weight{n}"].astype(np.float32).transpose(2, 1, 0)
            layer.weight.data = torch.from_numpy(np.ascontiguousarray(weight))
            layer.bias.data = torch.from_numpy(stored[f"bias{n}"].astype(np.float32))


def main() -> None:
    """Train for so many minutes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=8.0)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--cues", type=Path, required=True, help="made by train_scenes.py --cues")
    parser.add_argument("--start", type=Path, help="weights to go on from")
    parser.add_argument("--rate", type=float, default=2e-3, help="highest learning rate")
    parser.add_argument("--hold", nargs="*", default=[])
    parser.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 1))
    parser.add_argument("--seed", type=int, default=1_000_000, help="of the first scene")
    parser.add_argument("--pool", type=int, default=120_000)
    parser.add_argument("--batch", type=int, default=128)
    choice = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(0)
    torch.set_float32_matmul_precision("high")
    end = time.monotonic() + 60 * choice.minutes
    held = tuple(choice.hold)
    context = multiprocessing.get_context("spawn")
    made, test = context.Queue(2000), context.Queue(500)
    jobs = [(choice.seed + n, choice.workers, held, False, choice.cues, made) for n in range(choice.workers)]
    jobs += [(500_000_000 + n, 2, held, True, choice.cues, test) for n in range(2)]
    workers = [context.Process(target=produce, args=job, daemon=True) for job in jobs]
    for worker in workers:
        worker.start()
    pool, seen = Pool(choice.pool, device), Pool(300, device)
    while pool.made < FIRST_SCENES or seen.made < 300:
        pool.take(made, 2000)
        seen.take(test, 300 - seen.made)
        time.sleep(0.2)
    for worker in workers[-2:]:
        worker.terminate()
    network = Network()
    if choice.start:
        restore(network, choice.start)
    network = network.to(device)
    print(f"{sum(p.numel() for p in network.parameters())} weights on {device}", flush=True)
    averaged = AveragedModel(network, multi_avg_fn=get_ema_multi_avg_fn(AVERAGED))
    optimiser = torch.optim.AdamW(network.parameters(), lr=choice.rate, weight_decay=1e-3)
    start, step, told = time.monotonic(), 0, 0.0
    check = (seen.samples.float() / 32768, seen.onsets, seen.others)
    while time.monotonic() < end:
        share = (time.monotonic() - start) / max(end - start, 1)
        for group in optimiser.param_groups:
            group["lr"] = (
                choice.rate
                * min(1.0, (step + 1) / 300)
                * (0.02 + 0.98 * 0.5 * (1 + np.cos(np.pi * min(share, 1))))
            )
        pool.take(made, 400)
        loss = loss_of(network, pool.batch(choice.batch), vary=True)
        optimiser.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(network.parameters(), 1.0)
        optimiser.step()
        averaged.update_parameters(network)
        step += 1
        if time.monotonic() - told > 30:
            told = time.monotonic()
            print(
                f"{told - start:5.0f} s step {step} scenes {pool.made} loss {loss.item():.4f} "
                f"{f_measure(averaged.module, check)}",
                flush=True,
            )
            save(averaged.module, choice.out)
    print(f"end: step {step} scenes {pool.made} {f_measure(averaged.module, check)}", flush=True)
    save(averaged.module, choice.out)


if __name__ == "__main__":
    main()
