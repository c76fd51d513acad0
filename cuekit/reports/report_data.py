"""What a report says, as numbers: the goal's standing, groups of like conditions, what does not count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.agreement import Agreement
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import HelpLevel, Mode, Source
from cuekit.records.goals import Evaluation, Goal, Judged, Measure, Uncounted, evaluate
from cuekit.records.progress import (
    Change,
    Level,
    Point,
    Trend,
    change,
    enough,
    level,
    repeat_difference,
    repeat_error,
    trend,
)
from cuekit.records.step_choice import StepChoice

FEWEST_REPEATS = 3
"""Second and further bouts of a day, all days together, before it is told by how much they differ."""


@dataclass(frozen=True)
class Period:
    """From the first to the last day, both included."""

    first: date
    last: date

    def holds(self, day: date) -> bool:
        """Whether a day lies in it."""
        return self.first <= day <= self.last


@dataclass(frozen=True)
class Group:
    """Bouts under the same conditions, which alone may be compared.

    Attributes:
        cue_level, help_level, side, mode: what is the same; None where it was not entered.
        level: middle and range of the goal's number.
        met, judged: bouts met, of those that count for the goal; 0 of 0 outside its conditions.
        days: first and last day.
        halves: days that are compared, as (first, last): the baseline against the period, where there is
            enough of it, else the earlier half of the period against the later.
        change: earlier against later days; None where that is not enough.
        trend: None where that is not enough.
        repeat_difference: difference that bouts of one day seldom pass; None under three repeats.
    """

    cue_level: CueLevel | None
    help_level: HelpLevel | None
    side: Side | None
    mode: Mode
    level: Level
    met: int
    judged: int
    days: tuple[date, date]
    halves: tuple[tuple[date, date], tuple[date, date]] | None
    change: Change | None
    trend: Trend | None
    repeat_difference: float | None = None


@dataclass(frozen=True)
class StepSpan:
    """Bouts in a row at one step of a ladder, and how many of those that count were met."""

    step: str
    first: date
    last: date
    bouts: int
    met: int
    judged: int


@dataclass(frozen=True)
class ReportData:
    """All that a page shows, of one goal in one period.

    Attributes:
        evaluation: the goal against the bouts of the period.
        groups: by conditions, fullest help and cue first.
        baseline: the same of the bouts before the goal began.
        steps: of the ladder, in the order in which they were worked at.
        choices: steps that the teacher chose over the program's.
        uncounted: bouts of the goal that count neither way, by reason; voided ones are apart.
        voided: voided bouts of the goal's pattern.
        corrected: bouts of the goal's pattern with corrections.
        sources: how many bouts of the goal's pattern came from where.
        agreements: see there.
        minutes, owed: of service in the period.
        places: where its lessons were, each once.
        doubtful: bouts of the goal's pattern that were heard with some doubt.
    """

    goal: Goal
    period: Period
    evaluation: Evaluation
    groups: tuple[Group, ...]
    baseline: tuple[Group, ...]
    steps: tuple[StepSpan, ...]
    choices: tuple[StepChoice, ...]
    uncounted: tuple[tuple[Uncounted, int], ...]
    voided: tuple[KeptBout, ...]
    corrected: tuple[KeptBout, ...]
    sources: tuple[tuple[Source, int], ...]
    agreements: tuple[Agreement, ...]
    minutes: int
    owed: int
    places: tuple[str, ...]
    doubtful: int


def report_data(
    goal: Goal,
    bouts: Sequence[KeptBout],
    period: Period,
    *,
    agreements: Sequence[Agreement] = (),
    choices: Sequence[StepChoice] = (),
    minutes: int = 0,
    owed: int = 0,
    places: Sequence[str] = (),
) -> ReportData:
    """Gather a report from the bouts of one learner."""
    ever = [kept for kept in bouts if kept.stored.conditions.pattern == goal.pattern]
    mine = [kept for kept in ever if period.holds(kept.stored.day)]
    earlier = [kept for kept in ever if kept.stored.day < min(goal.since, period.first)]
    evaluation = evaluate(goal, mine)
    reasons = Counter(judged.why for judged in evaluation.uncounted if judged.why is not Uncounted.VOID)
    return ReportData(
        goal,
        period,
        evaluation,
        _groups(goal, mine, evaluation, _alike(goal, earlier)),
        _groups(goal, earlier, evaluation),
        _steps(mine, evaluation),
        tuple(one for one in choices if period.holds(one.day)),
        tuple(sorted(reasons.items())),
        tuple(kept for kept in mine if kept.void_reason is not None),
        tuple(kept for kept in mine if kept.corrections),
        tuple(sorted(Counter(kept.stored.source for kept in mine).items())),
        tuple(agreements),
        minutes,
        owed,
        tuple(dict.fromkeys(place for place in places if place)),
        sum(kept.now.numbers.heard is Heard.SOME_DOUBT for kept in mine if kept.void_reason is None),
    )


Alike = dict[tuple, list[KeptBout]]
"""Bouts by the conditions they share: cue level, help level, side, mode."""


def _groups(
    goal: Goal, bouts: Sequence[KeptBout], evaluation: Evaluation, earlier: Alike | None = None
) -> tuple[Group, ...]:
    verdicts = {judged.kept.id: judged for judged in evaluation.judged}
    groups, before = _alike(goal, bouts), earlier or {}
    order = sorted(groups, key=lambda key: [_rank(part) for part in key])
    return tuple(_group(key, goal, groups[key], verdicts, before.get(key, [])) for key in order)


def _alike(goal: Goal, bouts: Sequence[KeptBout]) -> Alike:
    """Bouts that have the goal's number, by their conditions."""
    groups: Alike = {}
    for kept in bouts:
        bout = kept.now
        if kept.void_reason is None and not bout.eye.others and _told(goal.measure, kept) is not None:
            done = bout.conditions
            key = (done.cue_level, done.help_level, bout.eye.lead, done.mode)
            groups.setdefault(key, []).append(kept)
    return groups


def _group(
    key: tuple,
    goal: Goal,
    bouts: Sequence[KeptBout],
    verdicts: dict[str, Judged],
    earlier: Sequence[KeptBout],
) -> Group:
    points = _points(goal, bouts)
    judged = [verdicts[kept.id].met for kept in bouts if kept.id in verdicts]
    before, after = _compared(_points(goal, earlier), points)
    repeats = len(points) - len({point.day for point in points})
    error = repeat_error(points) if repeats >= FEWEST_REPEATS else None
    return Group(
        *key,
        level(points),
        sum(met is True for met in judged),
        sum(met is not None for met in judged),
        _days_of(points),
        (_days_of(before), _days_of(after)) if before and after else None,
        change(before, after),
        trend(points),
        None if error is None else repeat_difference(error),
    )


def _points(goal: Goal, bouts: Sequence[KeptBout]) -> list[Point]:
    return [Point(kept.now.day, float(_told(goal.measure, kept))) for kept in bouts]


def _compared(baseline: list[Point], points: list[Point]) -> tuple[list[Point], list[Point]]:
    """What is compared with what: see `Group.halves`."""
    if enough(baseline):
        return baseline, points
    days = sorted({point.day for point in points})
    early = days[: len(days) // 2]
    return [one for one in points if one.day in early], [one for one in points if one.day not in early]


def _days_of(points: Sequence[Point]) -> tuple[date, date]:
    days = [point.day for point in points]
    return min(days), max(days)


def _steps(bouts: Sequence[KeptBout], evaluation: Evaluation) -> tuple[StepSpan, ...]:
    """The steps in order of time; a step that was left and taken up again is told twice."""
    verdicts = {judged.kept.id: judged.met for judged in evaluation.judged}
    counting = [kept for kept in bouts if kept.void_reason is None and kept.now.conditions.step]
    spans = []
    for step, row in groupby(counting, key=lambda kept: kept.now.conditions.step):
        rows = list(row)
        judged = [met for met in (verdicts.get(kept.id) for kept in rows) if met is not None]
        days = [kept.now.day for kept in rows]
        spans.append(StepSpan(step, min(days), max(days), len(rows), sum(judged), len(judged)))
    return tuple(spans)


def _told(measure: Measure, kept: KeptBout) -> int | None:
    """The goal's number of a bout; None where it has none that can be trusted."""
    bout = kept.now
    if bout.source is Source.MICROPHONE and bout.numbers.heard is Heard.NOT_ENOUGH:
        return None
    return measure.of(bout)


def _rank(part: object) -> tuple[bool, int]:
    """Order of a condition: as its list has it, not entered last."""
    return (part is None, 0 if part is None else list(type(part)).index(part))
