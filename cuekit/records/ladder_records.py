"""Stored bouts as the events a ladder is climbed by: which step, met or not, and whether it counts.

A bout is of a step where its `step` is the key of one ("gallop-alone"); with "probe " before it, it
only tried that step. The teacher's own verdict stands. Else the step's target is asked, and where it
needs the eye, the eye mark; a bout whose eye mark was not entered waits and counts neither way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from cuekit.hearing.events import Heard
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import BoutRecord, Seen
from cuekit.records.learner import NO_OTHERS, Tolerances
from cuekit.records.step_choice import StepChoice, StopSeen
from cuekit.teaching.ladder import Judge, Ladder, LadderStep
from cuekit.teaching.progression import Event, Outcome, Override, StopSign

PROBE = "probe "
"""Before the step of a bout that only tries it."""
_FAULTS_OF_A_TARGET = {"air_gap": "no-air-gap", "split_landings": "split-landing"}


@dataclass(frozen=True)
class Climb:
    """What is stored of a learner on one ladder.

    Attributes:
        events: in order of time.
        waiting: numbers of the bouts whose eye mark was not entered.
    """

    events: tuple[Event, ...]
    waiting: tuple[int, ...]


def climb(
    ladder: Ladder,
    bouts: Sequence[KeptBout],
    choices: Sequence[StepChoice] = (),
    stops: Sequence[StopSeen] = (),
    faults: Mapping[str, str] | None = None,
    tolerances: Tolerances = NO_OTHERS,
) -> Climb:
    """The events of a learner on a ladder.

    Parameters
    ----------
    ladder: of the skill.
    bouts, choices, stops: what is stored of one learner.
    faults: id of what was heard, by the identity of the bout, where a recording was scored.
    tolerances: of the learner, in place of what a step asks.
    """
    faults = faults or {}
    rows = [(kept.now.at, outcome_of(kept, ladder, faults.get(kept.id, ""), tolerances)) for kept in bouts]
    timed = [(at, outcome) for at, outcome in rows if outcome is not None]
    waiting = tuple(kept.number for kept in bouts if waits_for_the_eye(kept, ladder))
    timed += [(one.at, Override(one.day, one.step, one.reason)) for one in choices if ladder.has(one.step)]
    timed += [(one.at, StopSign(one.day, one.sign)) for one in stops]
    return Climb(tuple(event for _, event in sorted(timed, key=lambda row: row[0])), waiting)


def step_of(bout: BoutRecord, ladder: Ladder) -> LadderStep | None:
    """The step a bout was done at; None where it is of no step of this ladder."""
    key = bout.conditions.step.removeprefix(PROBE)
    return ladder.step(key) if ladder.has(key) else None


def outcome_of(
    kept: KeptBout, ladder: Ladder, fault: str = "", tolerances: Tolerances = NO_OTHERS
) -> Outcome | None:
    """A stored bout as it counts on a ladder; None where it is of no step of it."""
    bout = kept.now
    step = step_of(bout, ladder)
    if step is None:
        return None
    heard = bout.numbers.heard is not Heard.NOT_ENOUGH or bout.met_by_teacher is not None
    return Outcome(
        day=bout.day,
        step=step.key,
        met=met(step, bout, fault, tolerances),
        cue_level=bout.conditions.cue_level,
        help_level=bout.conditions.help_level or "",
        side=bout.eye.lead or "",
        tempo_bpm=bout.conditions.tempo_asked_bpm,
        counted=heard and kept.void_reason is None and not bout.eye.others,
        probe=bout.conditions.step.startswith(PROBE),
    )


def met(
    step: LadderStep, bout: BoutRecord, fault: str = "", tolerances: Tolerances = NO_OTHERS
) -> bool | None:
    """Whether a bout reached the target of a step; None where nobody can say yet."""
    if bout.met_by_teacher is not None:
        return bout.met_by_teacher
    judge, seen = step.target.judge, bout.eye.skill
    if judge is not Judge.EAR and seen is Seen.NO:
        return False
    if judge is Judge.EYE or step.target.out_of is not None:
        return True if seen is Seen.YES and step.target.out_of is None else None
    reached = _reached(step, bout, fault, tolerances)
    if judge is Judge.BOTH and reached and seen is not Seen.YES:
        return None
    return reached


def waits_for_the_eye(kept: KeptBout, ladder: Ladder) -> bool:
    """Whether a bout would count once its eye mark, or the teacher's verdict, is entered."""
    step = step_of(kept.now, ladder)
    outcome = outcome_of(kept, ladder)
    asked = step is not None and step.target.judge is not Judge.EAR
    return asked and outcome is not None and outcome.counted and outcome.met is None


def _reached(step: LadderStep, bout: BoutRecord, fault: str, tolerances: Tolerances) -> bool | None:
    """Whether what was heard reaches the target; None where the number it needs is not there."""
    spread_percent = _own(tolerances.spread_percent, step.target.spread_percent)
    tempo_within_percent = _own(tolerances.tempo_within_percent, step.target.tempo_within_percent)
    target, numbers = step.target, bout.numbers
    if numbers.longest_run is None:
        return None
    if numbers.longest_run < target.count or _over(numbers.spread_percent, spread_percent):
        return False
    asked, tempo = bout.conditions.tempo_asked_bpm, numbers.tempo_bpm
    off_percent = 100 * abs(tempo / asked - 1) if asked and tempo else None
    limits = [name for name in _FAULTS_OF_A_TARGET if getattr(target, name) is not None]
    broken = any(fault == _FAULTS_OF_A_TARGET[name] for name in limits)
    return not broken and not _over(off_percent, tempo_within_percent)


def _own(learners: float | None, asked: float | None) -> float | None:
    """The learner's number where the step asks for one at all."""
    return asked if asked is None or learners is None else learners


def _over(value: float | None, most: float | None) -> bool:
    """Whether a value is known, limited, and above its limit."""
    return value is not None and most is not None and value > most
