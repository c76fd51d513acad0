"""Up, hold, down or change the support: what to do next on a ladder, by counts of bouts and days.

Pure rules on what was stored, each with the counts it rests on. They propose; the teacher decides,
and an `Override` starts the count afresh. Bouts that could not be heard, were voided, had other
feet in them or full physical help count neither way. The numbers are the team's proposals (common
practice, no norm); each is a constant here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from cuekit.patterns.schedule import CueLevel
from cuekit.teaching.ladder import Change, Ladder, LadderStep

WINDOW = 5
UP_FROM = 4
DOWN_TO = 1
MISSES_RUNNING = 3
PROBE_AFTER = 3
"""Met in a row on one day: one try of the next step is then allowed, kept as a probe."""
BRANCH_AFTER = timedelta(weeks=2)
TEMPO_CHANGED = 0.025
"""Tempo changes below 2.5 % are not noticed (the team's rhythm page)."""
FULL_HELP = "FP"
_HELP = ("I", "V", "G", "M", "PP", FULL_HELP)
_CUES = tuple(CueLevel)  # the fullest first


@dataclass(frozen=True)
class Outcome:
    """One bout as far as it matters for what comes next.

    Attributes:
        day: when.
        step: key of the ladder's step.
        met: whether its target was met; None where it was not judged.
        cue_level, help_level, tempo_bpm: conditions; None or "" where not entered. Help is I, V, G, M,
            PP or FP.
        side: foot or direction, as entered; each side is counted by itself.
        counted: False where it was void, could not be heard or had other feet in it.
        probe: whether it only tried the next step.
    """

    day: date
    step: str
    met: bool | None
    cue_level: CueLevel | None = None
    help_level: str = ""
    side: str = ""
    tempo_bpm: float | None = None
    counted: bool = True
    probe: bool = False

    @property
    def counts(self) -> bool:
        """Whether it counts as met or missed."""
        return self.counted and self.met is not None and self.help_level != FULL_HELP


@dataclass(frozen=True)
class Override:
    """The teacher's own choice of step; counting starts afresh from here."""

    day: date
    step: str
    reason: str = ""


@dataclass(frozen=True)
class StopSign:
    """A sign to stop (pain, dizziness, "no") that was seen."""

    day: date
    sign: str


Event = Outcome | Override | StopSign


class Move(StrEnum):
    """What is proposed."""

    UP = "up"
    ONE_MORE_DAY = "one more day"
    HOLD = "hold"
    DOWN = "down"
    BRANCH = "branch"
    STOP = "stop and report"
    START = "start"


class Why(StrEnum):
    """The rule that decided."""

    MET = "met"
    ONE_DAY = "one-day"
    MIDDLE = "middle"
    FEW = "few"
    RARELY_MET = "rarely-met"
    MISSES = "misses"
    STOP_SIGN = "stop-sign"
    NO_CHANGE = "no-change"
    LOST = "lost"
    CHOSEN = "chosen"


@dataclass(frozen=True)
class Counts:
    """What a decision rests on.

    Attributes:
        met, tried: of the last five bouts that count, at this step since it was begun.
        days: different days among those met.
        days_needed: for the next step.
        misses_running: the latest misses in a row.
        not_counted: bouts at this step that count neither way.
    """

    met: int = 0
    tried: int = 0
    days: int = 0
    days_needed: int = 0
    misses_running: int = 0
    not_counted: int = 0


@dataclass(frozen=True)
class Decision:
    """What is proposed and why.

    Attributes:
        move, why, counts: the proposal, its rule, its counts.
        step: where the learner is.
        to: the step to do next; the same one unless the move is up or down the ladder.
        undo: what was changed last, to be undone on the way down; several where several things were
            changed at once, which is one too many.
        probe: whether one try of the next step is allowed now.
        side: the foot or direction it is about, as entered.
    """

    move: Move
    why: Why
    counts: Counts
    step: LadderStep
    to: LadderStep
    undo: tuple[Change, ...] = ()
    probe: bool = False
    side: str = ""


def decide(events: Sequence[Event], ladder: Ladder) -> Decision:
    """What to do next.

    Parameters
    ----------
    events: bouts, stop signs and choices of the teacher, in order of time; steps of other ladders
        are left out.
    ladder: of the skill.
    """
    events = [event for event in events if isinstance(event, StopSign) or ladder.has(event.step)]
    side = next((event.side for event in reversed(events) if isinstance(event, Outcome)), "")
    events = [event for event in events if not isinstance(event, Outcome) or event.side == side]
    placed = [event for event in events if not isinstance(event, StopSign) and not _is_probe(event)]
    if not placed:
        return Decision(Move.START, Why.FEW, Counts(), ladder.steps[0], ladder.steps[0])
    step = ladder.step(placed[-1].step)
    here = _since_arrival(events, step)
    bouts = [event for event in here if isinstance(event, Outcome)]
    counts = count(bouts, step)
    outcomes = [event for event in events if isinstance(event, Outcome)]
    move, why = _rule(here, counts, bouts)
    if is_lost(outcomes, ladder):
        move, why = Move.STOP, Why.LOST
    undo = changed_last(outcomes, ladder) if move is Move.DOWN else ()
    to = _destination(move, step, ladder, undo)
    return Decision(move, why, counts, step, to, undo, _probe_allowed(bouts, move), side)


def count(bouts: Sequence[Outcome], step: LadderStep) -> Counts:
    """Counts of the last five bouts that count."""
    counting = [bout for bout in bouts if bout.counts]
    window = counting[-WINDOW:]
    running = 0
    for bout in reversed(counting):
        if bout.met:
            break
        running += 1
    return Counts(
        met=sum(bool(bout.met) for bout in window),
        tried=len(window),
        days=len({bout.day for bout in window if bout.met}),
        days_needed=step.days_needed,
        misses_running=running,
        not_counted=len(bouts) - len(counting),
    )


def changed_last(outcomes: Sequence[Outcome], ladder: Ladder) -> tuple[Change, ...]:
    """What differed when the conditions last changed; empty where they never did."""
    rows = [outcome for outcome in outcomes if not outcome.probe]
    for before, after in zip(rows[-2::-1], rows[:0:-1], strict=True):
        changes = _differences(before, after, ladder)
        if changes:
            return changes
    return ()


def is_lost(outcomes: Sequence[Outcome], ladder: Ladder) -> bool:
    """Whether a skill the learner had is suddenly gone, which is a reason to stop and report.

    Had: of the last five comparable bouts of earlier days at least four met, on two days or more.
    Gone: three bouts or more on the latest day, none met. Comparable bouts were at the same or a
    harder step, with no fuller a cue and no more help than every one of the latest day; what was not
    entered stands in nobody's way, as a needless report does less harm than a missed one.
    """
    counting = [outcome for outcome in outcomes if outcome.counts and not outcome.probe]
    if not counting:
        return False
    today = [outcome for outcome in counting if outcome.day == counting[-1].day]
    if len(today) < MISSES_RUNNING or any(outcome.met for outcome in today):
        return False
    before = [outcome for outcome in counting if outcome.day < today[0].day]
    had = [one for one in before if all(_as_hard(one, other, ladder) for other in today)][-WINDOW:]
    met = [outcome for outcome in had if outcome.met]
    return len(met) >= UP_FROM and len({outcome.day for outcome in met}) >= 2


def _is_probe(event: Event) -> bool:
    return isinstance(event, Outcome) and event.probe


def _since_arrival(events: Sequence[Event], step: LadderStep) -> list[Event]:
    """Bouts at the step and stop signs, from when the learner last came to it."""
    here: list[Event] = []
    for event in reversed(events):
        if isinstance(event, Override):
            break
        if isinstance(event, StopSign):
            here.append(event)
        elif event.probe:
            continue
        elif event.step == step.key:
            here.append(event)
        else:
            break
    while here and isinstance(here[-1], StopSign) and len(here) > 1:
        here.pop()  # a sign seen before the first bout here belongs to where the learner was
    return here[::-1]


def _rule(here: Sequence[Event], counts: Counts, bouts: Sequence[Outcome]) -> tuple[Move, Why]:
    """The first rule that applies, the careful ones first."""
    if any(isinstance(event, StopSign) for event in here):
        return Move.DOWN, Why.STOP_SIGN
    if not bouts:
        return Move.START, Why.CHOSEN
    if counts.misses_running >= MISSES_RUNNING:
        return Move.DOWN, Why.MISSES
    if counts.tried == WINDOW and counts.met <= DOWN_TO:
        return Move.DOWN, Why.RARELY_MET
    if counts.met >= UP_FROM:
        return (Move.UP, Why.MET) if counts.days >= counts.days_needed else (Move.ONE_MORE_DAY, Why.ONE_DAY)
    if bouts[-1].day - bouts[0].day >= BRANCH_AFTER:
        return Move.BRANCH, Why.NO_CHANGE
    return Move.HOLD, Why.MIDDLE if counts.tried == WINDOW else Why.FEW


def _destination(move: Move, step: LadderStep, ladder: Ladder, undo: tuple[Change, ...]) -> LadderStep:
    """Where to go: down the ladder only where nothing smaller was changed last."""
    if move is Move.UP:
        return ladder.harder_than(step) or step
    came_by_step = not undo or step.change in undo
    if move is Move.DOWN and came_by_step:
        return ladder.easier_than(step) or step
    return step


def _probe_allowed(bouts: Sequence[Outcome], move: Move) -> bool:
    """Whether the last three bouts were met on one day, and nothing speaks for less."""
    last = [bout for bout in bouts if bout.counts][-PROBE_AFTER:]
    in_a_row = len(last) == PROBE_AFTER and all(bout.met for bout in last)
    return in_a_row and len({bout.day for bout in last}) == 1 and move in (Move.HOLD, Move.ONE_MORE_DAY)


def _differences(before: Outcome, after: Outcome, ladder: Ladder) -> tuple[Change, ...]:
    """What was changed between two bouts; a new step stands for the one thing it changes."""
    changes: list[Change] = []
    if before.step != after.step:
        changes.append(ladder.step(after.step).change or Change.PATTERN)
    elif before.cue_level is not after.cue_level and None not in (before.cue_level, after.cue_level):
        changes.append(Change.CUE)
    if before.help_level != after.help_level and before.help_level and after.help_level:
        changes.append(Change.SUPPORT)
    if before.tempo_bpm and after.tempo_bpm and abs(after.tempo_bpm / before.tempo_bpm - 1) > TEMPO_CHANGED:
        changes.append(Change.TEMPO)
    return tuple(dict.fromkeys(changes))


def _as_hard(one: Outcome, other: Outcome, ladder: Ladder) -> bool:
    """Whether one bout asked at least as much of the learner as the other."""
    if ladder.step(one.step).number < ladder.step(other.step).number:
        return False
    if one.cue_level and other.cue_level and _CUES.index(one.cue_level) < _CUES.index(other.cue_level):
        return False
    known = one.help_level in _HELP and other.help_level in _HELP
    return not known or _HELP.index(one.help_level) <= _HELP.index(other.help_level)
