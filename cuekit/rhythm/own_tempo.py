"""The learner's own tempo: the middle of three bouts without a cue on one day.

Where the three differ by more than 15 % the middle one is used and said to be not settled (the trade's
tempo rules; a proposal, no norm).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from cuekit.hearing.events import Heard
from cuekit.patterns.pattern import Side
from cuekit.patterns.schedule import CueLevel
from cuekit.records.bout_history import KeptBout
from cuekit.records.bout_record import BoutRecord, HelpLevel

BOUTS = 3
SETTLED_WITHIN_PERCENT = 15.0


@dataclass(frozen=True)
class OwnTempo:
    """A tempo found, beats/min, on which day, and whether the three bouts agree."""

    bpm: float
    day: date
    settled: bool


def own_tempo(bouts: Sequence[KeptBout], pattern: str, side: Side | None = None) -> OwnTempo | None:
    """The own tempo from the newest day with three free bouts of a pattern; None where there is none.

    Args:
        bouts: of one learner, in order of time.
        pattern: name of the skill.
        side: only this side; None where sides are not kept apart.
    """
    free: dict[date, list[float]] = {}
    for kept in bouts:
        bout = kept.now
        if kept.void_reason is None and _free(bout, pattern) and side in (None, bout.eye.lead):
            free.setdefault(bout.day, []).append(bout.numbers.tempo_bpm)
    days = [day for day, tempos in free.items() if len(tempos) >= BOUTS]
    if not days:
        return None
    three = free[max(days)][-BOUTS:]
    middle = median(three)
    apart_percent = 100.0 * (max(three) - min(three)) / middle
    return OwnTempo(middle, max(days), apart_percent <= SETTLED_WITHIN_PERCENT)


def _free(bout: BoutRecord, pattern: str) -> bool:
    """Whether a bout shows a tempo of the learner's own: no cue, no full help, one pair of feet, heard."""
    return (
        bout.conditions.pattern == pattern
        and bout.conditions.cue_level is CueLevel.C0
        and bout.conditions.help_level is not HelpLevel.FP
        and not bout.eye.others
        and bout.numbers.tempo_bpm is not None
        and bout.numbers.heard is not Heard.NOT_ENOUGH
    )
