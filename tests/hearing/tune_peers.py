"""Find each peer's best threshold, method, least gap and constant delay.

    python -m tests.hearing.tune_peers

Maximises the pooled F1 at 25 ms over all scenes of the development part that
have a moving child, and prints settings to copy into `peers`. Never looks at
the untouched part.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np

from tests.hearing.peers import AUBIO, MADMOM, SUPERFLUX, Peer, Settings
from tests.hearing.recipes import FIRST_SEED, benchmark_recipes
from tests.hearing.scenes import make_scene
from tests.hearing.scoring import MAIN_TOLERANCE_S, Detection, Truth, f1, timing_errors_s, truth_of
from tests.hearing.sources import DEVELOPMENT

AUBIO_METHODS = ("energy", "hfc", "complex", "phase", "specdiff", "kl", "mkl", "specflux")
MADMOM_NETWORKS = ("recurrent", "recurrent online", "convolutional")
COARSE_STEP = 4
"""aubio has no reusable curve, so its methods are first compared on every fourth scene."""


def _curves(job: tuple[Peer, str, int]) -> tuple[Truth, np.ndarray]:
    peer, kind, number = job
    recipe = benchmark_recipes()[number]
    scene = make_scene(recipe, FIRST_SEED[DEVELOPMENT] + number, DEVELOPMENT)
    return truth_of(scene), np.asarray(peer.curve(scene.samples, scene.sample_rate_hz, kind), dtype=np.float32)


def _picked(job: tuple[Peer, np.ndarray, Settings]) -> np.ndarray:
    peer, curve, settings = job
    return peer.pick(curve, settings)


def score(peer: Peer, data: Sequence[tuple[Truth, np.ndarray]], settings: Settings,
          pool: ProcessPoolExecutor) -> tuple[float, Settings]:
    """Return (F1 at 25 ms with the best constant delay, settings with that delay)."""
    none = np.zeros(0)
    truths = [truth for truth, _ in data]
    picked = list(pool.map(_picked, [(peer, curve, settings) for _, curve in data], chunksize=8))
    raw = [Detection(times, none, None, 0.0) for times in picked]
    errors = timing_errors_s(truths, raw)
    delay = -float(np.median(errors)) if errors.size else 0.0
    moved = [Detection(times + delay, none, None, 0.0) for times in picked]
    return f1(truths, moved, MAIN_TOLERANCE_S), replace(settings, delay_s=round(delay, 4))


def best(peer: Peer, data: Sequence[tuple[Truth, np.ndarray]], grid: Iterable[Settings],
         pool: ProcessPoolExecutor) -> tuple[float, Settings]:
    return max((score(peer, data, settings, pool) for settings in grid), key=lambda pair: pair[0])


def tune_superflux(pool: ProcessPoolExecutor, numbers: Sequence[int]) -> tuple[float, Settings]:
    data = list(pool.map(_curves, [(SUPERFLUX, "", k) for k in numbers]))
    grid = [Settings(t, gap_s=g, scaled=True) for t in (0.03, 0.05, 0.07, 0.1, 0.14, 0.2, 0.28)
            for g in (0.03, 0.06, 0.09)]
    grid += [Settings(t, gap_s=g, scaled=False) for t in (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
             for g in (0.03, 0.06, 0.09)]
    return best(SUPERFLUX, data, grid, pool)


def tune_madmom(pool: ProcessPoolExecutor, numbers: Sequence[int]) -> tuple[float, Settings]:
    found = []
    for kind in MADMOM_NETWORKS:
        data = list(pool.map(_curves, [(MADMOM, kind, k) for k in numbers]))
        grid = [Settings(t, gap_s=g, kind=kind)
                for t in (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9) for g in (0.03, 0.06, 0.09)]
        found.append(best(MADMOM, data, grid, pool))
        print("madmom", found[-1], flush=True)
    return max(found, key=lambda pair: pair[0])


def tune_aubio(pool: ProcessPoolExecutor, numbers: Sequence[int]) -> tuple[float, Settings]:
    data = list(pool.map(_curves, [(AUBIO, "", k) for k in numbers]))
    ranked = []
    for kind in AUBIO_METHODS:
        grid = [Settings(t, gap_s=0.06, kind=kind) for t in (0.05, 0.15, 0.3, 0.6, 1.0, 1.6, 2.5)]
        ranked.append(best(AUBIO, data[::COARSE_STEP], grid, pool))
        print("aubio, every fourth scene", ranked[-1], flush=True)
    first = max(ranked, key=lambda pair: pair[0])[1]
    grid = [replace(first, threshold=round(first.threshold * f, 3), gap_s=g)
            for f in (0.3, 0.45, 0.6, 0.8, 1.0, 1.25) for g in (0.05, 0.08, 0.11)]
    return best(AUBIO, data, grid, pool)


def main() -> None:
    numbers = [k for k, recipe in enumerate(benchmark_recipes()) if not recipe.negative]
    with ProcessPoolExecutor(2) as pool:
        for tune in (tune_superflux, tune_madmom, tune_aubio):
            print(tune.__name__, tune(pool, numbers), flush=True)


if __name__ == "__main__":
    main()
