"""Compare detected footfalls with the truth: found, false, timing, calibration.

A footfall counts as found when a detection lies within the tolerance, one to
one (mir_eval's maximum matching). F1 pools all footfalls of a condition. A
second walker's footfalls are nobody's: detecting them counts as false.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import mir_eval
import numpy as np
from numpy.typing import NDArray

from tests.hearing.recipes import CORE
from tests.hearing.scenes import Scene

TOLERANCES_S = (0.050, 0.025, 0.010)
MAIN_TOLERANCE_S = 0.025
QUIET = "quiet"

Times = NDArray[np.float64]


@dataclass(frozen=True)
class Detection:
    """What one detector said about one scene; `heard` and confidences where it has them."""

    times_s: Times
    confidences: Times
    heard: str | None
    seconds: float


@dataclass(frozen=True)
class Truth:
    """The part of a scene that scoring needs (no audio)."""

    name: str
    condition: str
    duration_s: float
    onsets_s: Times
    followers_s: Times
    follower_db: float

    @property
    def negative(self) -> bool:
        return self.condition.startswith("negative")


@dataclass(frozen=True)
class Timing:
    """Errors of the found footfalls, detected minus true, ms."""

    median_ms: float
    percentile_95_ms: float
    bias_ms: float


def truth_of(scene: Scene) -> Truth:
    return Truth(scene.name, scene.condition, scene.duration_s, scene.onsets_s,
                 scene.onsets_s[~scene.lead_mask], scene.follower_db)


def matched(true_s: Times, found_s: Times, tolerance_s: float) -> list[tuple[int, int]]:
    """Return pairs (true index, found index), one to one."""
    if len(true_s) == 0 or len(found_s) == 0:
        return []
    return list(mir_eval.util.match_events(true_s, np.sort(found_s), tolerance_s))


def f1(truths: Sequence[Truth], detections: Sequence[Detection], tolerance_s: float) -> float:
    """Return the pooled F1 of scenes; NaN where there is nothing to find."""
    hits = sum(len(matched(t.onsets_s, d.times_s, tolerance_s)) for t, d in zip(truths, detections, strict=True))
    true = sum(len(t.onsets_s) for t in truths)
    found = sum(len(d.times_s) for d in detections)
    return 2.0 * hits / (true + found) if true else float("nan")


def timing_errors_s(truths: Sequence[Truth], detections: Sequence[Detection],
                    tolerance_s: float = 0.050) -> Times:
    """Return detected minus true of every found footfall, s."""
    errors = [np.sort(d.times_s)[j] - t.onsets_s[i]
              for t, d in zip(truths, detections, strict=True)
              for i, j in matched(t.onsets_s, d.times_s, tolerance_s)]
    return np.array(errors)


def timing(truths: Sequence[Truth], detections: Sequence[Detection]) -> Timing:
    """Return median absolute error, 95th percentile and median signed error."""
    errors = 1000.0 * timing_errors_s(truths, detections)
    if errors.size == 0:
        return Timing(float("nan"), float("nan"), float("nan"))
    size = np.abs(errors)
    return Timing(float(np.median(size)), float(np.percentile(size, 95)), float(np.median(errors)))


def false_per_minute(truths: Sequence[Truth], detections: Sequence[Detection]) -> float:
    """Return detections per minute in scenes without a moving child."""
    pairs = [(t, d) for t, d in zip(truths, detections, strict=True) if t.negative]
    minutes = sum(t.duration_s for t, _ in pairs) / 60.0
    return sum(len(d.times_s) for _, d in pairs) / minutes if minutes else float("nan")


def followers_found(truths: Sequence[Truth], detections: Sequence[Detection], follower_db: float) -> float:
    """Return the share of followers of one level against the lead that were found in quiet."""
    found = total = 0
    for truth, detection in zip(truths, detections, strict=True):
        if truth.condition != QUIET or truth.follower_db != follower_db:
            continue
        hits = {i for i, _ in matched(truth.onsets_s, detection.times_s, MAIN_TOLERANCE_S)}
        followers = np.nonzero(np.isin(truth.onsets_s, truth.followers_s))[0]
        total += len(followers)
        found += sum(int(i) in hits for i in followers)
    return found / total if total else float("nan")


def calibration_error(truths: Sequence[Truth], detections: Sequence[Detection], bins: int = 10) -> float:
    """Return the expected calibration error of the confidences, all scenes pooled.

    Per tenth of confidence: |mean confidence - share that were true|, weighted
    by how many detections fell there.
    """
    said, true = [], []
    for truth, detection in zip(truths, detections, strict=True):
        order = np.argsort(detection.times_s)
        hits = {j for _, j in matched(truth.onsets_s, detection.times_s, MAIN_TOLERANCE_S)}
        said += list(detection.confidences[order])
        true += [j in hits for j in range(len(order))]
    if not said:
        return float("nan")
    confidence, right = np.array(said), np.array(true, dtype=float)
    number = np.minimum((confidence * bins).astype(int), bins - 1)
    return float(sum(abs(confidence[number == k].mean() - right[number == k].mean()) * np.mean(number == k)
                     for k in range(bins) if np.any(number == k)))


def chosen(truths: Sequence[Truth], detections: Sequence[Detection],
           conditions: Sequence[str]) -> tuple[list[Truth], list[Detection]]:
    """Return the scenes of some conditions."""
    kept = [(t, d) for t, d in zip(truths, detections, strict=True) if t.condition in conditions]
    return [t for t, _ in kept], [d for _, d in kept]


def groups(truths: Sequence[Truth]) -> list[tuple[str, tuple[str, ...]]]:
    """Return (label, conditions) for the rows of the table."""
    positive = tuple(dict.fromkeys(t.condition for t in truths if not t.negative))
    return [("all scenes", positive), ("core", CORE), *((name, (name,)) for name in positive)]
