"""The way from the ear to the feet: listen, say, clap, tap, step in place, move (the trade's sequence).

The same rhythm each time. In the first two the microphone stays shut; in the last two the sound leaves
half-way, so that it shows what the learner keeps. Claps and taps are heard and judged like feet.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cuekit.errors import PatternError
from cuekit.patterns.schedule import CueLevel, Fade

LARGEST_STEP_PERCENT, SMALLEST_STEP_PERCENT = 5.0, 3.0
FURTHEST_FROM_OWN_PERCENT = 15.0


class Doing(StrEnum):
    """What the learner does."""

    LISTEN = "listen"
    SAY = "say"
    CLAP = "clap"
    TAP = "tap"
    STEP = "step"
    MOVE = "move"


@dataclass(frozen=True)
class Stage:
    """One stage.

    Attributes:
        doing: what the learner does.
        level: of the cue.
        fade: how it leaves within the bout.
        heard: whether the microphone listens.
    """

    doing: Doing
    level: CueLevel
    fade: Fade
    heard: bool


def stages(beats: int) -> tuple[Stage, ...]:
    """The whole sequence for bouts of so many beats."""
    half = Fade(full=beats // 2)
    return (
        Stage(Doing.LISTEN, CueLevel.C5, Fade(), heard=False),
        Stage(Doing.SAY, CueLevel.C5, Fade(), heard=False),
        Stage(Doing.CLAP, CueLevel.C4, Fade(), heard=True),
        Stage(Doing.TAP, CueLevel.C4, Fade(), heard=True),
        Stage(Doing.STEP, CueLevel.C4, half, heard=True),
        Stage(Doing.MOVE, CueLevel.C4, half, heard=True),
    )


def next_tempo_bpm(now_bpm: float, own_bpm: float, goal_bpm: float, step_percent: float) -> float:
    """One small step of tempo towards a goal, never further from the learner's own than a lesson allows.

    Parameters
    ----------
    now_bpm, own_bpm, goal_bpm : tempo now, the learner's own, and the one wanted, beats/min
    step_percent : 3 to 5

    Raises
    ------
    PatternError
        The step is out of that range.
    """
    if not SMALLEST_STEP_PERCENT <= step_percent <= LARGEST_STEP_PERCENT:
        raise PatternError(
            f"tempo changes by {SMALLEST_STEP_PERCENT:g} to {LARGEST_STEP_PERCENT:g} % at a time, "
            f"got {step_percent:g}"
        )
    up = 1.0 + step_percent / 100.0
    stepped = min(goal_bpm, now_bpm * up) if goal_bpm >= now_bpm else max(goal_bpm, now_bpm / up)
    furthest = 1.0 + FURTHEST_FROM_OWN_PERCENT / 100.0
    return min(max(stepped, own_bpm / furthest), own_bpm * furthest)
