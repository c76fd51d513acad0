"""A measurable goal and its evaluation from stored bouts, exactly as one would count by hand.

Rules, in this order (the trade's criteria rules):

- A bout under other conditions (pattern, mode, cue level, help level, before the goal began) is no bout
  of the goal.
- Never counted, met or missed: voided, full physical help, other feet sounding, not heard well enough,
  no number for what the goal measures, side or eye mark needed and not entered.
- The teacher's own verdict stands. Else a bout is met where the number asked for is reached and, where
  the goal needs it, the eye mark says yes.
- The criterion "4 of 5 on 3 days" looks at every five counted bouts in a row: at least four met, on at
  least three different days. A goal for each side is reached when it is reached on both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from cuekit.errors import RecordError
from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import BoutRecord, HelpLevel, Mode, Seen, Source
from cuekit.records.learner import LONGEST_TEXT


class Measure(StrEnum):
    """What a goal counts."""

    LONGEST_RUN = "longest-run"
    KEPT_BEATS = "kept-beats"
    BEATS_ON_PATTERN = "beats-on-pattern"
    FOOTFALLS = "footfalls"

    def of(self, bout: BoutRecord) -> int | None:
        """The number of a bout; None where it has none."""
        return getattr(bout.numbers, self.value.replace("-", "_"))


@dataclass(frozen=True)
class Criterion:
    """How often, out of how many in a row, and on how many different days."""

    met: int = 4
    of: int = 5
    days: int = 2

    def __post_init__(self) -> None:
        if not 1 <= self.days <= self.met <= self.of <= 50:
            raise RecordError(
                f"a criterion needs days <= met <= bouts, such as 4 of 5 on 3 days; "
                f"got {self.met} of {self.of} on {self.days}"
            )


@dataclass(frozen=True)
class Goal:
    """Condition, behaviour, criterion and how it is measured.

    Attributes:
        learner: the code.
        pattern, mode: the skill and what makes the rhythm.
        measure, at_least: what a bout must reach.
        criterion: how often.
        since: the first day that counts.
        cue_levels: at which the goal counts.
        help_levels: with which help it counts.
        sides: each side that must reach it; empty where sides are not kept apart.
        eye_needed: whether the teacher's eye must say that it was the skill.
        spread_at_most_percent: steadiness a bout must have, %; None where it is not asked for.
        review: the day of the review; None where none is set.
        closed: whether the goal is over.
        note: free text.
    """

    learner: str
    pattern: str
    measure: Measure
    at_least: int
    criterion: Criterion
    since: date
    cue_levels: tuple[CueLevel, ...]
    mode: Mode = Mode.FEET
    help_levels: tuple[HelpLevel, ...] = (HelpLevel.I,)
    sides: tuple[Side, ...] = ()
    eye_needed: bool = True
    spread_at_most_percent: float | None = None
    review: date | None = None
    closed: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        if not 1 <= self.at_least <= 999:
            raise RecordError(f"a goal asks for 1 to 999, got {self.at_least}")
        if not self.cue_levels or not self.help_levels:
            raise RecordError("a goal needs at least one cue level and one help level")
        if HelpLevel.FP in self.help_levels:
            raise RecordError(
                "bouts with full physical help (FP) never count as met: leave FP out of the goal"
            )
        if len(self.note) > LONGEST_TEXT:
            raise RecordError(f"a note may have {LONGEST_TEXT} characters, got {len(self.note)}")


class Uncounted(StrEnum):
    """Why a bout of the goal counts neither as met nor as missed."""

    VOID = "void"
    FULL_HELP = "full_help"
    OTHERS = "others"
    UNHEARD = "unheard"
    NO_NUMBER = "no_number"
    NO_EYE = "no_eye"
    NO_SIDE = "no_side"
    NO_CUE = "no_cue"
    NO_HELP = "no_help"


@dataclass(frozen=True)
class Judged:
    """A bout against a goal: met, missed, or not counted and why (then `met` is None)."""

    kept: KeptBout
    bout: BoutRecord
    met: bool | None
    why: Uncounted | None = None


@dataclass(frozen=True)
class Standing:
    """Where a goal stands on one side (or on no side in particular).

    Attributes:
        side: None where sides are not kept apart.
        counted: bouts that count, in order of time.
        last_met, last_of, last_days: of the last `criterion.of` counted bouts: met, how many there are,
            and days with a met one.
        reached_on: day of the bout that completed the criterion first; None where not yet.
    """

    side: Side | None
    counted: tuple[Judged, ...]
    last_met: int
    last_of: int
    last_days: int
    reached_on: date | None


@dataclass(frozen=True)
class Evaluation:
    """A goal against all bouts: each bout's verdict, and the standing of each side."""

    goal: Goal
    judged: tuple[Judged, ...]
    standings: tuple[Standing, ...]

    @property
    def reached(self) -> bool:
        """Whether every side has reached the criterion at some time."""
        return all(standing.reached_on is not None for standing in self.standings)

    @property
    def uncounted(self) -> tuple[Judged, ...]:
        """Bouts of the goal that count neither way."""
        return tuple(judged for judged in self.judged if judged.met is None)


def evaluate(goal: Goal, bouts: Sequence[KeptBout]) -> Evaluation:
    """Count the bouts of a goal."""
    pairs = sorted(((kept, kept.now) for kept in bouts), key=lambda pair: (pair[1].at, pair[0].number))
    judged = tuple(judge(goal, kept, bout) for kept, bout in pairs if belongs(goal, bout))
    return Evaluation(goal, judged, tuple(_standing(goal, side, judged) for side in goal.sides or (None,)))


def belongs(goal: Goal, bout: BoutRecord) -> bool:
    """Whether a bout was done under the conditions of a goal; a level not entered does not shut it out."""
    done = bout.conditions
    return (
        bout.learner == goal.learner
        and bout.day >= goal.since
        and (done.pattern, done.mode) == (goal.pattern, goal.mode)
        and (done.cue_level is None or done.cue_level in goal.cue_levels)
        and (done.help_level in (None, HelpLevel.FP) or done.help_level in goal.help_levels)
        and (bout.eye.lead is None or not goal.sides or bout.eye.lead in goal.sides)
    )


def judge(goal: Goal, kept: KeptBout, bout: BoutRecord) -> Judged:
    """One bout of a goal: met, missed or not counted."""
    why = _why_uncounted(goal, kept, bout)
    if why is not None:
        return Judged(kept, bout, None, why)
    if bout.met_by_teacher is not None:
        return Judged(kept, bout, bout.met_by_teacher)
    value, spread, limit = goal.measure.of(bout), bout.numbers.spread_percent, goal.spread_at_most_percent
    if value is None or (limit is not None and spread is None):
        return Judged(kept, bout, None, Uncounted.NO_NUMBER)
    if value < goal.at_least or (limit is not None and spread > limit):
        return Judged(kept, bout, False)
    if goal.eye_needed and bout.eye.skill in (None, Seen.NOT_SEEN):
        return Judged(kept, bout, None, Uncounted.NO_EYE)
    return Judged(kept, bout, not goal.eye_needed or bout.eye.skill is Seen.YES)


def verdicts_by_ear(goal: Goal, bouts: Sequence[KeptBout]) -> dict[str, bool]:
    """What the program alone says of each bout that a microphone heard: no eye, no person, no correction."""
    by_ear = replace(goal, eye_needed=False)
    found = {}
    for kept in bouts:
        stored = replace(kept.stored, met_by_teacher=None)
        if stored.rules and belongs(goal, stored):
            found[kept.id] = judge(by_ear, replace(kept, amendments=()), stored).met
    return {bout: met for bout, met in found.items() if met is not None}


def running(judged: Sequence[Judged], of: int) -> tuple[int, ...]:
    """For each counted bout, how many of the last `of` counted ones were met, itself included."""
    met = [one.met for one in judged if one.met is not None]
    return tuple(sum(met[max(0, end - of) : end]) for end in range(1, len(met) + 1))


def _why_uncounted(goal: Goal, kept: KeptBout, bout: BoutRecord) -> Uncounted | None:
    if kept.void_reason is not None:
        return Uncounted.VOID
    if bout.conditions.help_level is HelpLevel.FP:
        return Uncounted.FULL_HELP
    if bout.eye.others:
        return Uncounted.OTHERS
    if bout.conditions.cue_level is None:
        return Uncounted.NO_CUE
    if bout.conditions.help_level is None:
        return Uncounted.NO_HELP
    if bout.source is Source.MICROPHONE and bout.numbers.heard is Heard.NOT_ENOUGH:
        return Uncounted.UNHEARD
    return Uncounted.NO_SIDE if goal.sides and bout.eye.lead is None else None


def _standing(goal: Goal, side: Side | None, judged: Sequence[Judged]) -> Standing:
    counted = tuple(one for one in judged if one.met is not None and side in (None, one.bout.eye.lead))
    rule = goal.criterion
    windows = [counted[end - rule.of : end] for end in range(rule.of, len(counted) + 1)]
    reached = next((window[-1].bout.day for window in windows if _fulfils(window, rule)), None)
    last = counted[-rule.of :]
    met = [one for one in last if one.met]
    return Standing(side, counted, len(met), len(last), len({one.bout.day for one in met}), reached)


def _fulfils(window: Sequence[Judged], rule: Criterion) -> bool:
    met = [one.bout.day for one in window if one.met]
    return len(met) >= rule.met and len(set(met)) >= rule.days
