"""Print how well footfalls are heard, beside general-purpose onset detectors.

    python -m tests.hearing.run                      development part (default)
    python -m tests.hearing.run --part untouched     for figures to report; note it in README.md
    python -m tests.hearing.run --only cuekit        without the peers
    python -m tests.hearing.run --worst 10           also list the worst scenes
    python -m tests.hearing.run --live               also the detector that hears block by block
    python -m tests.hearing.run --long               instead: time and memory for a file of three hours

Speed is measured on one core, per detector, analysis only.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import inspect
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from tests.hearing import scoring, verdicts
from tests.hearing.long_file import three_hours
from tests.hearing.peers import PEERS
from tests.hearing.recipes import CORE, FIRST_SEED, FOLLOWERS_DB, benchmark_recipes
from tests.hearing.scenes import Scene, make_scene
from tests.hearing.scoring import Detection, Truth
from tests.hearing.sources import DEVELOPMENT, PARTS
from tests.hearing.verdicts import Verdict

CUEKIT, LIVE = "cuekit", "cuekit live"
LIVE_BLOCK = 800
"""Samples that the live detector gets at a time, 50 ms; what it decides does not depend on it."""
NOT_ENOUGH = "not enough"


@dataclass(frozen=True)
class Heard:
    """What every detector said about one scene, and how cuekit scored it."""

    truth: Truth
    detections: tuple[Detection, ...]
    verdicts: tuple[Verdict, ...]


def cuekit_missing() -> str | None:
    """Return why cuekit's detector cannot be run, or None."""
    try:
        from cuekit.hearing.detection import detect_footfalls  # noqa: F401
        from cuekit.hearing.recordings import recording_of  # noqa: F401
    except ImportError as error:
        return f"cuekit's detector is left out: {error}"
    return None


def detect_with_cuekit(scene: Scene) -> Detection:
    """Run the product's detector; cue times are handed over where it can take them."""
    from cuekit.hearing.detection import detect_footfalls
    from cuekit.hearing.recordings import recording_of

    recording = recording_of(scene.samples, scene.sample_rate_hz, scene.name)
    known = {}
    if len(scene.cue_times_s) and "cue_times_s" in inspect.signature(detect_footfalls).parameters:
        known = {"cue_times_s": scene.cue_times_s}
    start = time.process_time()
    hearing = detect_footfalls(recording, **known)
    seconds = time.process_time() - start
    return Detection(np.array([f.time_s for f in hearing.footfalls], dtype=float),
                     np.array([f.confidence for f in hearing.footfalls], dtype=float),
                     str(hearing.heard), seconds)


def detect_live(scene: Scene) -> Detection:
    """Run the product's live detector over the same samples, block by block."""
    from cuekit.hearing.live_ear import LiveEar
    from cuekit.hearing.recordings import recording_of

    samples = recording_of(scene.samples, scene.sample_rate_hz, scene.name).samples
    ear, found = LiveEar(), []
    start = time.process_time()
    for at in range(0, samples.size, LIVE_BLOCK):
        found += ear.push(samples[at : at + LIVE_BLOCK])
    found += ear.finish()
    seconds = time.process_time() - start
    return Detection(np.array([f.time_s for f in found], dtype=float),
                     np.array([f.confidence for f in found], dtype=float), None, seconds)


def hear(job: tuple[str, int, tuple[str, ...]]) -> Heard:
    """Make one scene and let the named detectors hear it."""
    part, number, names = job
    recipe = benchmark_recipes()[number]
    scene = make_scene(recipe, FIRST_SEED[part] + number, part)
    detections = []
    for name in names:
        if name == CUEKIT:
            detections.append(detect_with_cuekit(scene))
            continue
        if name == LIVE:
            detections.append(detect_live(scene))
            continue
        peer = next(peer for peer in PEERS if peer.name == name)
        start = time.process_time()
        times = peer.detect(scene.samples, scene.sample_rate_hz)
        detections.append(Detection(times, np.full(len(times), np.nan), None, time.process_time() - start))
    scored = CUEKIT in names and recipe.skill and verdicts.verdicts_missing() is None
    return Heard(scoring.truth_of(scene), tuple(detections), verdicts.judge(scene, recipe.skill) if scored else ())


def print_f1(names: Sequence[str], truths: Sequence[Truth], columns: Sequence[Sequence[Detection]]) -> None:
    """Print F1 at 50 / 25 / 10 ms by condition."""
    print("\nF1 at 50 / 25 / 10 ms")
    print(f"{'':24}{'scenes':>7}  " + "  ".join(f"{name:>18}" for name in names))
    for label, conditions in scoring.groups(truths):
        cells = []
        for detections in columns:
            kept, heard = scoring.chosen(truths, detections, conditions)
            cells.append(" / ".join(f"{scoring.f1(kept, heard, t):.3f}"[1:] if scoring.f1(kept, heard, t) < 1
                                    else "1.00" for t in scoring.TOLERANCES_S))
        count = sum(t.condition in conditions for t in truths)
        print(f"{label:24}{count:7d}  " + "  ".join(f"{cell:>18}" for cell in cells))


def print_figures(names: Sequence[str], truths: Sequence[Truth], columns: Sequence[Sequence[Detection]]) -> None:
    """Print timing, false footfalls, soft followers and speed, one detector a column."""
    cored = [scoring.chosen(truths, detections, CORE) for detections in columns]
    timings = [scoring.timing(*kept) for kept in cored]
    negatives = tuple(dict.fromkeys(t.condition for t in truths if t.negative))
    seconds = sum(t.duration_s for t in truths)
    rows = [
        ("core: median error, ms", [f"{t.median_ms:.1f}" for t in timings]),
        ("core: 95 % within, ms", [f"{t.percentile_95_ms:.1f}" for t in timings]),
        ("core: bias, ms", [f"{t.bias_ms:+.1f}" for t in timings]),
        *((f"quiet: followers {db:+.0f} dB found", [f"{scoring.followers_found(truths, d, db):.1%}" for d in columns])
          for db in FOLLOWERS_DB),
        ("false a minute", [f"{scoring.false_per_minute(truths, d):.1f}" for d in columns]),
    ]
    for condition in negatives:
        kept = [scoring.chosen(truths, d, (condition,)) for d in columns]
        rows.append((f"  {condition.removeprefix('negative: ')}",
                     [f"{scoring.false_per_minute(*pair):.1f}" for pair in kept]))
    speeds = [seconds / max(1e-9, sum(d.seconds for d in detections)) for detections in columns]
    rows.append(("speed, x real time", [f"{speed:.0f}" for speed in speeds]))
    print()
    for label, cells in rows:
        print(f"{label:31}  " + "  ".join(f"{cell:>18}" for cell in cells))


def print_confidence(truths: Sequence[Truth], detections: Sequence[Detection]) -> None:
    """Print what only cuekit says: calibration and whether enough was heard."""
    print(f"\n{CUEKIT}: calibration error {scoring.calibration_error(truths, detections):.3f}")
    for label, wanted in (("negatives", True), ("scenes with a child", False)):
        heard = [d.heard for t, d in zip(truths, detections, strict=True) if t.negative is wanted]
        share = sum(h == NOT_ENOUGH for h in heard) / max(1, len(heard))
        print(f"{CUEKIT}: 'not enough' in {share:.1%} of {len(heard)} {label}")


def print_verdicts(scored: Sequence[Verdict]) -> None:
    """Print how often the product's even/uneven verdict was given and right, and the long share's errors."""
    loud = [v for v in scored if v.condition in (*CORE, "noise 10 dB")]
    core = verdicts.share_errors([v for v in scored if v.condition in CORE])
    errors = verdicts.share_errors(scored)
    asked = [v for v in scored if v.asked_for == "gallop" and v.true == "even"]
    print(f"\n{CUEKIT}: even/uneven right {verdicts.right(scored):.1%} of those given; "
          f"given {verdicts.given(loud):.1%} at 10 dB or better, {verdicts.given(scored):.1%} of all")
    print(f"{CUEKIT}: even child asked to gallop: right {verdicts.right(asked):.1%}, given {verdicts.given(asked):.1%}")
    if core.size:
        print(f"{CUEKIT}: long share bias {np.median(core):+.3f} core, {np.median(errors):+.3f} all; "
              f"within 0.03 in {np.mean(np.abs(core) <= 0.03):.1%} of core scenes measured")


def print_worst(truths: Sequence[Truth], detections: Sequence[Detection], count: int) -> None:
    """List the scenes with the lowest F1 at 25 ms."""
    scored = sorted(
        (scoring.f1([t], [d], scoring.MAIN_TOLERANCE_S), t.name, len(t.onsets_s), len(d.times_s))
        for t, d in zip(truths, detections, strict=True) if not t.negative)
    print("\nworst scenes: F1 at 25 ms, true, detected, scene")
    for value, name, true, found in scored[:count]:
        print(f"  {value:.3f}  {true:3d}  {found:3d}  {name}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--part", choices=PARTS, default=DEVELOPMENT)
    parser.add_argument("--only", action="append", help="a detector's name; may be repeated")
    parser.add_argument("--worst", type=int, default=0, help="list this many of the first detector's worst scenes")
    parser.add_argument("--live", action="store_true", help="add the live detector")
    parser.add_argument("--long", action="store_true", help="measure a file of three hours instead")
    parser.add_argument("--jobs", type=int, default=2, help="processes")
    options = parser.parse_args()
    if options.long:
        print(three_hours())
        return
    missing = cuekit_missing()
    known = ((CUEKIT,) if missing is None else ()) + tuple(peer.name for peer in PEERS)
    names = tuple(options.only or known)
    if missing:
        print(missing)
    if unknown := [name for name in names if name not in known]:
        raise SystemExit(f"no detector called {unknown[0]!r}; there are: {', '.join(known)}")
    names += (LIVE,) if options.live and missing is None else ()
    start = time.monotonic()
    jobs = [(options.part, number, names) for number in range(len(benchmark_recipes()))]
    with ProcessPoolExecutor(options.jobs) as pool:
        heard = list(pool.map(hear, jobs))
    truths = [one.truth for one in heard]
    columns = [[one.detections[k] for one in heard] for k in range(len(names))]
    minutes = sum(t.duration_s for t in truths) / 60.0
    print(f"{options.part} part: {len(truths)} scenes, {minutes:.1f} min, "
          f"{sum(len(t.onsets_s) for t in truths)} footfalls")
    print_f1(names, truths, columns)
    print_figures(names, truths, columns)
    if CUEKIT in names:
        print_confidence(truths, columns[names.index(CUEKIT)])
        scored = [verdict for one in heard for verdict in one.verdicts]
        print_verdicts(scored) if scored else print(verdicts.verdicts_missing())
    if options.worst:
        print_worst(truths, columns[0], options.worst)
    print(f"\n{time.monotonic() - start:.0f} s")


if __name__ == "__main__":
    main()
