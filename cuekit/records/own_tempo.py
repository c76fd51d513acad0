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
from cuekit.records.bout_record import BoutRecord, HelpLevel, Mode
from cuekit.records.learner import Learner

BOUTS = 3
SETTLED_WITHIN_PERCENT = 15.0


@dataclass(frozen=True)
class OwnTempo:
    """A tempo found of a skill, beats/min, on which day, and whether the three bouts agree.

    `side` is the foot or direction that the eye marks of all three name; None where they name none or two.
    """

    pattern: str
    side: Side | None
    bpm: float
    day: date
    settled: bool


def own_tempo(bouts: Sequence[KeptBout], pattern: str, side: Side | None = None) -> OwnTempo | None:
    """The own tempo from the newest day with three free bouts of a pattern in one mode; None without.

    Args:
        bouts: of one learner, in order of time.
        pattern: name of the skill.
        side: only this side; None where sides are not kept apart.
    """
    free: dict[tuple[date, Mode], list[BoutRecord]] = {}  # hands are quicker than feet: never mixed
    for kept in bouts:
        bout = kept.now
        if kept.void_reason is None and _free(bout, pattern) and side in (None, bout.eye.lead):
            free.setdefault((bout.day, bout.conditions.mode), []).append(bout)
    enough = [key for key, rows in free.items() if len(rows) >= BOUTS]
    if not enough:
        return None
    newest = max(enough, key=lambda key: (key[0], key[1] is Mode.FEET))
    three = free[newest][-BOUTS:]
    tempi, leads = [bout.numbers.tempo_bpm for bout in three], {bout.eye.lead for bout in three}
    middle = median(tempi)
    apart_percent = 100.0 * (max(tempi) - min(tempi)) / middle
    seen = leads.pop() if len(leads) == 1 else None
    return OwnTempo(pattern, seen, middle, newest[0], apart_percent <= SETTLED_WITHIN_PERCENT)


def with_own_tempo(learner: Learner, found: OwnTempo) -> Learner:
    """The learner with a tempo found: of its side, and of the skill too as long as that has none."""
    bpm = round(found.bpm, 1)
    changed = learner.with_tempo(found.pattern, bpm, found.side)
    known = any((one.pattern, one.side) == (found.pattern, None) for one in changed.own_tempi)
    return changed if known else changed.with_tempo(found.pattern, bpm)


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
