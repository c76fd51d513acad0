"""What a report says, as numbers: the goal's standing, groups of like conditions, what does not count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.agreement import Agreement
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import HelpLevel, Mode, Source
from cuekit.records.goals import Evaluation, Goal, Judged, Measure, Uncounted, evaluate
from cuekit.records.progress import Change, Level, Point, Trend, change, level, trend


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
        halves: days of the earlier and the later half that are compared, as (first, last).
        change: earlier against later half; None where that is not enough.
        trend: None where that is not enough.
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


@dataclass(frozen=True)
class ReportData:
    """All that a page shows, of one goal in one period.

    Attributes:
        evaluation: the goal against the bouts of the period.
        groups: by conditions, fullest help and cue first.
        uncounted: bouts of the goal that count neither way, by reason; voided ones are apart.
        voided: voided bouts of the goal's pattern.
        corrected: bouts of the goal's pattern with corrections.
        sources: how many bouts of the goal's pattern came from where.
        agreements: see there.
        minutes, owed: of service in the period.
    """

    goal: Goal
    period: Period
    evaluation: Evaluation
    groups: tuple[Group, ...]
    uncounted: tuple[tuple[Uncounted, int], ...]
    voided: tuple[KeptBout, ...]
    corrected: tuple[KeptBout, ...]
    sources: tuple[tuple[Source, int], ...]
    agreements: tuple[Agreement, ...]
    minutes: int
    owed: int


def report_data(
    goal: Goal,
    bouts: Sequence[KeptBout],
    period: Period,
    *,
    agreements: Sequence[Agreement] = (),
    minutes: int = 0,
    owed: int = 0,
) -> ReportData:
    """Gather a report from the bouts of one learner."""
    mine = [kept for kept in bouts if kept.stored.conditions.pattern == goal.pattern]
    mine = [kept for kept in mine if period.holds(kept.stored.day)]
    evaluation = evaluate(goal, mine)
    reasons = Counter(judged.why for judged in evaluation.uncounted if judged.why is not Uncounted.VOID)
    return ReportData(
        goal,
        period,
        evaluation,
        _groups(goal, mine, evaluation),
        tuple(sorted(reasons.items())),
        tuple(kept for kept in mine if kept.void_reason is not None),
        tuple(kept for kept in mine if kept.corrections),
        tuple(sorted(Counter(kept.stored.source for kept in mine).items())),
        tuple(agreements),
        minutes,
        owed,
    )


def _groups(goal: Goal, bouts: Sequence[KeptBout], evaluation: Evaluation) -> tuple[Group, ...]:
    verdicts = {judged.kept.id: judged for judged in evaluation.judged}
    groups: dict[tuple, list[KeptBout]] = {}
    for kept in bouts:
        bout = kept.now
        if kept.void_reason is None and not bout.eye.others and _told(goal.measure, kept) is not None:
            done = bout.conditions
            key = (done.cue_level, done.help_level, bout.eye.lead, done.mode)
            groups.setdefault(key, []).append(kept)
    order = sorted(groups, key=lambda key: [_rank(part) for part in key])
    return tuple(_group(key, goal, groups[key], verdicts) for key in order)


def _group(key: tuple, goal: Goal, bouts: Sequence[KeptBout], verdicts: dict[str, Judged]) -> Group:
    points = [Point(kept.now.day, float(_told(goal.measure, kept))) for kept in bouts]
    days = sorted({point.day for point in points})
    judged = [verdicts[kept.id].met for kept in bouts if kept.id in verdicts]
    middle = len(days) // 2
    early, late = days[:middle], days[middle:]
    before = [point for point in points if point.day in early]
    after = [point for point in points if point.day in late]
    halves = ((early[0], early[-1]), (late[0], late[-1])) if early else None
    return Group(
        *key,
        level(points),
        sum(met is True for met in judged),
        sum(met is not None for met in judged),
        (days[0], days[-1]),
        halves,
        change(before, after),
        trend(points),
    )


def _told(measure: Measure, kept: KeptBout) -> int | None:
    """The goal's number of a bout; None where it has none that can be trusted."""
    bout = kept.now
    if bout.source is Source.MICROPHONE and bout.numbers.heard is Heard.NOT_ENOUGH:
        return None
    return measure.of(bout)


def _rank(part: object) -> tuple[bool, int]:
    """Order of a condition: as its list has it, not entered last."""
    return (part is None, 0 if part is None else list(type(part)).index(part))
