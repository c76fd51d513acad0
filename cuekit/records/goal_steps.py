"""A step of a ladder as a measurable goal: the ready-made objectives of a skill."""

from __future__ import annotations

from datetime import date

from cuekit.errors import RecordError
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_record import HelpLevel, Mode
from cuekit.records.goals import Criterion, Goal, Measure
from cuekit.records.learner import Learner
from cuekit.teaching import ladder
from cuekit.teaching.ladder import Judge, Ladder, LadderStep, Sides

USUAL_MET, USUAL_OF = 4, 5
_MODES = {
    ladder.Mode.MOVE: Mode.FEET,
    ladder.Mode.STEP: Mode.STEP,
    ladder.Mode.CLAP: Mode.CLAP,
    ladder.Mode.TAP: Mode.TAP,
    ladder.Mode.PUSH: Mode.PUSH,
}


def countable(step: LadderStep) -> bool:
    """Whether bouts of a step can be counted by their beats: tries and eye-only steps are the teacher's."""
    return step.target.out_of is None and step.target.judge is not Judge.EYE and _mode(step) is not None


def goal_of_step(step: LadderStep, learner: Learner, since: date) -> Goal:
    """The goal that a step asks for, with this learner's own steadiness where one is set.

    Args:
        step: of a ladder.
        learner: whose goal it is.
        since: the first day that counts.

    Raises:
        RecordError: its bouts are not counted by beats.
    """
    if not countable(step):
        raise RecordError(f"{step.key} is judged by the eye alone: it is a step to teach, no goal to count")
    own, asked = learner.tolerances.spread_percent, step.target.spread_percent
    return Goal(
        learner.code,
        step.pattern,
        _measure(step),
        step.target.count,
        Criterion(USUAL_MET, USUAL_OF, step.days_needed),
        since,
        (step.level,),
        mode=_mode(step) or Mode.FEET,
        help_levels=(HelpLevel.I,),
        sides=tuple(Side) if step.side is Sides.EACH else (),
        eye_needed=step.target.judge is Judge.BOTH,
        spread_at_most_percent=asked if asked is None or own is None else own,
    )


def proposed(ladder: Ladder, learner: Learner, since: date) -> tuple[tuple[LadderStep, Goal], ...]:
    """The steps of a ladder whose bouts can be counted, each with the goal that it asks for."""
    return tuple((step, goal_of_step(step, learner, since)) for step in ladder.steps if countable(step))


def _measure(step: LadderStep) -> Measure:
    """Beats in a row; where the sound leaves within the bout, those kept after it."""
    leaves = step.sound_beats is not None and step.level is not CueLevel.C1
    return Measure.KEPT_BEATS if leaves else Measure.LONGEST_RUN


def _mode(step: LadderStep) -> Mode | None:
    """What makes the rhythm: the usual way that makes a sound."""
    return next((_MODES[mode] for mode in step.modes if mode in _MODES), None)
