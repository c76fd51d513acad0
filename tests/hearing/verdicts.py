"""Does the product say even or uneven rightly, and how far off is its long share?

Every scene with a child is scored against the pattern that a teacher would
have chosen, and children who move evenly also against a gallop, which is the
mistake that matters: an even child praised for a gallop. "nearly even" and
"unclear" are no verdict; true shares of 0.54-0.58 are nobody's mistake.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.hearing.scenes import Scene

PATTERNS = {"gallop 2:1": "gallop", "gallop 3:1": "gallop", "skip 2:1": "skip", "skip 3:2": "skip",
            "walk": "walk", "run": "run", "hop": "hop", "jump": "jump"}
EVEN_BELOW, UNEVEN_ABOVE = 0.54, 0.58
GIVEN = {"even": "even", "uneven": "uneven", "clipped": "uneven"}


@dataclass(frozen=True)
class Verdict:
    """One scoring of one scene; `said` and `true` are even, uneven or None for neither."""

    condition: str
    asked_for: str
    said: str | None
    true: str | None
    long_share: float | None
    true_long_share: float


def verdicts_missing() -> str | None:
    """Return why the product's scorer cannot be run, or None."""
    try:
        from cuekit.telling.scoring import score_recording  # noqa: F401
    except ImportError as error:
        return f"verdicts are left out: {error}"
    return None


def judge(scene: Scene, skill: str) -> tuple[Verdict, ...]:
    """Score a scene as the product does."""
    from cuekit.hearing.recordings import recording_of
    from cuekit.patterns.pattern_files import load_pattern
    from cuekit.telling.scoring import score_recording

    recording = recording_of(scene.samples, scene.sample_rate_hz, scene.name)
    asked = [PATTERNS[skill]] + (["gallop"] if scene.rhythm == "even" else [])
    verdicts = []
    for pattern in asked:
        measures = score_recording(recording, load_pattern(pattern)).measures
        share = measures.long_share.value if measures.long_share else None
        verdicts.append(Verdict(scene.condition, pattern, GIVEN.get(str(measures.rhythm)), _true_class(scene),
                                share, scene.true_long_share))
    return tuple(verdicts)


def _true_class(scene: Scene) -> str | None:
    """The class of what was done; an even skill is even however its pairs fell."""
    if scene.rhythm == "even":
        return "even"
    if scene.true_long_share > UNEVEN_ABOVE:
        return "uneven"
    return None if scene.true_long_share >= EVEN_BELOW else "even"


def given(verdicts: Sequence[Verdict]) -> float:
    """Return the share of scorings that got a verdict."""
    return float(np.mean([v.said is not None for v in verdicts])) if verdicts else float("nan")


def right(verdicts: Sequence[Verdict]) -> float:
    """Return the share of verdicts that were right, where the truth has one."""
    judged = [v.said == v.true for v in verdicts if v.said is not None and v.true is not None]
    return float(np.mean(judged)) if judged else float("nan")


def share_errors(verdicts: Sequence[Verdict]) -> np.ndarray:
    """Return measured minus true long share of uneven children, where measured."""
    return np.array([v.long_share - v.true_long_share for v in verdicts
                     if v.long_share is not None and v.true == "uneven"])
