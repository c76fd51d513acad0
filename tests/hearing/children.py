"""Models of a moving child: when which foot lands, with scatter, drift, misses and pauses.

Ranges after the project's trade notes (tempo 80-150, scatter 10-50 ms per
landing, 3:1 no faster than 120 beats/min); a model, not measured children.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SHORTEST_GAP_S = 0.095
"""Two landings never come closer than this; the shortest true gap of the trade notes is 100 ms."""

ASYNCHRONY_S = -0.015
"""A child who follows a cue lands a little before it, s (taps and steps lead the beat)."""


@dataclass(frozen=True)
class Skill:
    """A way of moving: long share of a beat (None: one landing a beat), tempo range in beats/min."""

    name: str
    long_share: float | None
    tempo_bpm: tuple[float, float]

    @property
    def rhythm(self) -> str:
        return "even" if self.long_share is None else "uneven"


SKILLS = {skill.name: skill for skill in (
    Skill("gallop 2:1", 2 / 3, (85.0, 140.0)),
    Skill("skip 2:1", 2 / 3, (80.0, 120.0)),
    Skill("skip 3:2", 0.6, (80.0, 130.0)),
    Skill("gallop 3:1", 0.75, (80.0, 118.0)),
    Skill("walk", None, (95.0, 140.0)),
    Skill("run", None, (150.0, 200.0)),
    Skill("hop", None, (100.0, 160.0)),
    Skill("jump", None, (70.0, 120.0)),
    Skill("stamp", None, (35.0, 75.0)),
)}


@dataclass(frozen=True)
class Child:
    """One child in one bout."""

    skill: Skill
    tempo_bpm: float
    scatter_s: float
    drift: float
    missed: float
    pause_s: float
    n_beats: int

    @property
    def beat_s(self) -> float:
        return 60.0 / self.tempo_bpm


@dataclass(frozen=True)
class Landings:
    """What the child did. Times are contacts on the floor, s.

    `planned_s` and `planned_lead` are the landings as intended (what a cue
    would have played); `lead` marks those that start a beat.
    """

    times_s: NDArray[np.float64]
    lead: NDArray[np.bool_]
    planned_s: NDArray[np.float64]
    planned_lead: NDArray[np.bool_]
    long_share: float


def random_child(skill: Skill, rng: np.random.Generator, follows_cue: bool = False,
                 duration_s: float = 10.0) -> Child:
    """Draw a child for about `duration_s` of movement."""
    tempo = float(rng.uniform(*skill.tempo_bpm))
    steady = follows_cue or rng.random() < 0.5
    return Child(
        skill=skill,
        tempo_bpm=tempo,
        scatter_s=float(rng.uniform(0.010, 0.050 if skill.rhythm == "even" else 0.040)),
        drift=0.0 if steady else float(rng.uniform(-0.12, 0.12)),
        missed=float(rng.choice([0.0, 0.0, 0.04, 0.08])),
        pause_s=0.0 if follows_cue or rng.random() < 0.7 else float(rng.uniform(0.8, 1.8)),
        n_beats=max(7, round(duration_s * tempo / 60.0)),
    )


def land(child: Child, start_s: float, rng: np.random.Generator, follows_cue: bool = False) -> Landings:
    """Let the child move from `start_s` on."""
    planned, lead, beat_of = _plan(child, start_s)
    times = planned + rng.normal(0.0, child.scatter_s, len(planned))
    if follows_cue:
        times = times + ASYNCHRONY_S
    gaps = np.maximum(np.diff(times), SHORTEST_GAP_S)
    times = times[0] + np.concatenate([[0.0], np.cumsum(gaps)]) if len(times) > 1 else times
    kept = rng.random(len(times)) >= np.where(lead, 0.4, 1.0) * child.missed
    kept[0] = True
    share = realised_long_share(times, lead, beat_of, kept, child)
    return Landings(times[kept], lead[kept], planned, lead, share)


def _plan(child: Child, start_s: float) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.int_]]:
    """Return intended times (s), lead marks and beat numbers, drift and pause included."""
    slowing = 1.0 - child.drift * np.arange(child.n_beats) / max(1, child.n_beats - 1)
    beats = child.beat_s * slowing
    starts = start_s + np.concatenate([[0.0], np.cumsum(beats[:-1])])
    if child.pause_s:
        starts[child.n_beats // 2 :] += child.pause_s
    if child.skill.long_share is None:
        return starts, np.ones(child.n_beats, dtype=bool), np.arange(child.n_beats)
    followers = starts + child.skill.long_share * beats
    times = np.stack([starts, followers], axis=1).ravel()
    return times, np.tile([True, False], child.n_beats), np.repeat(np.arange(child.n_beats), 2)


def realised_long_share(times_s: NDArray[np.float64], lead: NDArray[np.bool_], beat_of: NDArray[np.int_],
                        kept: NDArray[np.bool_], child: Child) -> float:
    """Return the median long share of the beats that were made complete.

    For an even skill: of neighbouring intervals, paired from the first landing.
    A perfect detector followed by a perfect alignment would measure this.
    """
    if child.skill.long_share is None:
        gaps = np.diff(times_s[kept])
        gaps = gaps[gaps < 1.6 * np.median(gaps)]
        pairs = gaps[: len(gaps) // 2 * 2].reshape(-1, 2)
        return float(np.median(pairs[:, 0] / pairs.sum(axis=1)))
    shares = []
    for beat in range(int(beat_of.max())):
        at = 2 * beat
        whole = times_s[at + 2] - times_s[at]
        if kept[at : at + 3].all() and whole < 1.6 * child.beat_s:
            shares.append((times_s[at + 1] - times_s[at]) / whole)
    return float(np.median(shares)) if shares else float(child.skill.long_share)
