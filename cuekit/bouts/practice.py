"""The way from the ear to the feet: listen, say, clap, tap, step in place, move (the trade's sequence).

The same rhythm each time. In the first two the microphone stays shut; in the last two the sound leaves
half-way, so that it shows what the learner keeps. Claps and taps are heard and judged like feet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from cuekit.errors import PatternError
from cuekit.patterns.schedule import CueLevel, Fade, Plan
from cuekit.records.bout_record import Mode
from cuekit.rhythm.measures import Measures

LARGEST_STEP_PERCENT, SMALLEST_STEP_PERCENT = 5.0, 3.0
FURTHEST_FROM_OWN_PERCENT = 15.0

FEWEST_BEATS, ON_PATTERN = 4, 0.75
"""Beats judged, and the share of them on the pattern, from which a bout was on it (a proposal, no norm)."""

SPREAD_GROWN = 1.25
"""Spread against that at the first tempo from which no further step is taken (the trade's tempo rules)."""


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

    @property
    def mode(self) -> Mode:
        """What makes the rhythm."""
        modes = {Doing.CLAP: Mode.CLAP, Doing.TAP: Mode.TAP, Doing.STEP: Mode.STEP}
        return modes.get(self.doing, Mode.FEET)

    def plan(self, tempo_bpm: float, beats: int) -> Plan:
        """What is asked of a bout of this stage."""
        return Plan(tempo_bpm, beats, self.level, self.fade)


@dataclass(frozen=True)
class TempoWay:
    """From where to where the tempo of a lesson may go.

    Attributes:
        first_bpm: where the lesson begins, beats/min: the learner's own where it is known.
        goal_bpm: the one wanted, beats/min.
        step_percent: of one step, 3 to 5.
    """

    first_bpm: float
    goal_bpm: float
    step_percent: float


@dataclass(frozen=True)
class MoveSet:
    """One of the sets in which a learner moves; the next one follows from how it went.

    Attributes:
        number, of: which of how many, from 1.
        way: where the tempo may go.
        tempo_bpm: of this set, beats/min.
        first_spread_percent: spread of the first set that had one, %.
    """

    number: int
    of: int
    way: TempoWay
    tempo_bpm: float
    first_spread_percent: float | None = None

    def after(self, done: Measures) -> MoveSet | None:
        """The next set: a step of tempo after one on the pattern, the last of three or more at the
        first tempo again (the trade's tempo rules); None after the last."""
        if self.number == self.of:
            return None
        number, first_bpm = self.number + 1, self.way.first_bpm
        tempo_bpm = tempo_after_bpm(done, self.tempo_bpm, self.first_spread_percent, self.way)
        if number == self.of and self.of > 2:
            tempo_bpm = first_bpm
        spread = self.first_spread_percent or done.spread_percent
        return replace(self, number=number, tempo_bpm=tempo_bpm, first_spread_percent=spread)


def first_set(of: int, way: TempoWay) -> MoveSet:
    """The first of so many sets, at the first tempo."""
    return MoveSet(1, of, way, way.first_bpm)


def stages(beats: int, first: Doing = Doing.LISTEN) -> tuple[Stage, ...]:
    """The sequence from a stage on, for bouts of so many beats."""
    half = Fade(full=beats // 2)
    whole = (
        Stage(Doing.LISTEN, CueLevel.C5, Fade(), heard=False),
        Stage(Doing.SAY, CueLevel.C5, Fade(), heard=False),
        Stage(Doing.CLAP, CueLevel.C4, Fade(), heard=True),
        Stage(Doing.TAP, CueLevel.C4, Fade(), heard=True),
        Stage(Doing.STEP, CueLevel.C4, half, heard=True),
        Stage(Doing.MOVE, CueLevel.C4, half, heard=True),
    )
    return whole[list(Doing).index(first) :]


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


def tempo_after_bpm(
    done: Measures, now_bpm: float, first_spread_percent: float | None, way: TempoWay
) -> float:
    """The tempo of the next set: a step further after a bout on the pattern, else the same again.

    Parameters
    ----------
    done : of the set just moved
    now_bpm : its tempo, beats/min
    first_spread_percent : spread of the first set, %; None where it had none
    way : where the tempo may go

    Raises
    ------
    PatternError
        The step is out of its range.
    """
    if done.judged_beats < FEWEST_BEATS or done.beats_on_pattern < ON_PATTERN * done.judged_beats:
        return now_bpm
    spread = done.spread_percent
    if first_spread_percent and spread is not None and spread >= SPREAD_GROWN * first_spread_percent:
        return now_bpm
    return next_tempo_bpm(now_bpm, way.first_bpm, way.goal_bpm, way.step_percent)
