"""A pattern laid out in time: pattern x tempo x beats -> cues at exact seconds. No clock, no sound.

Every time is computed from its place on the grid, never by adding up gaps, so that the last cue
of an hour is as exact as the first. With a steady tempo the time of beat b is b x 60 / tempo; with
a tempo that changes by a factor over the bout it is the closed form of the integral of the beat
period, which grows or shrinks by the same percentage every beat (what a listener hears as steady).

Human limits: cues closer than 0.125 s or further apart than 1.8 s cannot be followed
(Repp 2006, Adv Cogn Psychol 2:163-181, and his review 2005, Psychon Bull Rev 12:969-992).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from itertools import pairwise

from cuekit.errors import PatternError
from cuekit.patterns.pattern import Foot, Pattern

SMALLEST_CHANGE_PERCENT = 1e-9
"""Less makes no sample of difference in hours, and the closed form divides by it, %."""

MOST_BEATS = 100_000
"""Over five hours at the fastest tempo: a plan of more is a mistake, and would be laid out for ever."""

CLOSEST_CUES_S = 0.125
FURTHEST_CUES_S = 1.8


class CueLevel(StrEnum):
    """How much the learner is given to hear; the lower, the more is their own."""

    C5 = "C5"  # words and tone on each footfall
    C4 = "C4"  # tone on each footfall
    C3 = "C3"  # the same, softer
    C2 = "C2"  # the main beat only
    C1 = "C1"  # count-in, then silence
    C0 = "C0"  # no sound at all


class Role(StrEnum):
    """What a cue marks."""

    COUNT = "count"
    LONG = "long"
    SHORT = "short"
    WHOLE = "whole"


@dataclass(frozen=True)
class Cue:
    """One planned moment: a counted beat or a footfall, sounded or silent.

    Attributes:
        time_s: from the start of the schedule, s.
        role: counted beat, or the long, short or only footfall of a beat.
        beat: running number of the beat, 0 at the first footfall; negative while counting in.
        place: 0 for the footfall that starts the beat, 1 for the short one.
        foot: the foot that should land; None while counting in.
        word: the spoken cue, may be empty.
        accent: whether it is stressed.
        gain_db: level against the full cue, dB; None where the cue is silent.
        spoken: whether the word is to be said.
    """

    time_s: float
    role: Role
    beat: int
    place: int
    foot: Foot | None
    word: str
    accent: bool
    gain_db: float | None
    spoken: bool


@dataclass(frozen=True)
class Fade:
    """How the cue leaves within a bout, in beats: full, then softer, then silent to the end.

    Attributes:
        full: beats at full level; None for all of them.
        softer: beats at -6 dB after those (the first half) and -12 dB (the second half).
    """

    full: int | None = None
    softer: int = 0


@dataclass(frozen=True)
class Plan:
    """What is asked of a bout.

    Attributes:
        tempo_bpm: beats/min at the first footfall.
        beats: beats to be moved.
        level: cue level.
        fade: how the cue leaves within the bout.
        tempo_change_percent: tempo at the end against the start, %; positive is faster.
        count_in: counted beats before the first footfall; None takes the pattern's.
    """

    tempo_bpm: float
    beats: int
    level: CueLevel = CueLevel.C4
    fade: Fade = Fade()
    tempo_change_percent: float = 0.0
    count_in: int | None = None


@dataclass(frozen=True)
class Schedule:
    """A pattern in time.

    Attributes:
        pattern: the pattern laid out.
        plan: what was asked.
        cues: in order of time, the count-in first.
        end_s: when the last beat is over, s.
    """

    pattern: Pattern
    plan: Plan
    cues: tuple[Cue, ...]
    end_s: float

    @property
    def footfalls(self) -> tuple[Cue, ...]:
        """The cues a foot should land on, sounded or not."""
        return tuple(cue for cue in self.cues if cue.role is not Role.COUNT)

    @property
    def go_s(self) -> float:
        """Time of the first footfall, s."""
        return self.footfalls[0].time_s


def make_schedule(pattern: Pattern, plan: Plan) -> Schedule:
    """Lay a pattern out in time.

    Raises:
        PatternError: the tempo, the number of beats or the spacing of the cues is one nobody can follow.
    """
    _check(plan)
    count_in = pattern.count_in if plan.count_in is None else plan.count_in
    count_s = count_in * 60.0 / plan.tempo_bpm
    cues = _count_in(pattern, plan, count_in) if plan.level is not CueLevel.C0 else []
    if plan.level is CueLevel.C0:
        count_s = 0.0
    number = 0
    while number < plan.beats:
        cycle, index = divmod(number, len(pattern.beats))
        cues.extend(_beat_cues(pattern, plan, cycle * pattern.length, index, number, count_s))
        number += 1
    cycle, index = divmod(plan.beats - 1, len(pattern.beats))
    last = pattern.beats[index]
    end_s = count_s + seconds_of_beat(cycle * pattern.length + last.at + last.length, plan)
    schedule = Schedule(pattern, plan, tuple(cues), end_s)
    _check_spacing(schedule)
    return schedule


def seconds_of_beat(at: Fraction, plan: Plan) -> float:
    """Time of a position on the beat grid after the first footfall, s (closed form, see above)."""
    period_s = 60.0 / plan.tempo_bpm
    if abs(plan.tempo_change_percent) < SMALLEST_CHANGE_PERCENT:
        return float(at) * period_s
    rate = math.log1p(plan.tempo_change_percent / 100.0) / plan.beats
    return -period_s / rate * math.expm1(-rate * float(at))


def beats_for_seconds(pattern: Pattern, tempo_bpm: float, duration_s: float) -> int:
    """Whole beats of a pattern, at least one, that start within `duration_s` at a steady tempo."""
    positions = duration_s * tempo_bpm / 60.0
    cycles, rest = divmod(positions, float(pattern.length))
    started = sum(float(beat.at) < rest - 1e-9 for beat in pattern.beats)
    return max(1, int(cycles) * len(pattern.beats) + started)


def _count_in(pattern: Pattern, plan: Plan, beats: int) -> list[Cue]:
    """The counted beats."""
    period_s = 60.0 / plan.tempo_bpm
    return [
        Cue(n * period_s, Role.COUNT, n - beats, 0, None, word, n == 0, 0.0, True)
        for n, word in enumerate(pattern.counting.words(beats))
    ]


def _beat_cues(
    pattern: Pattern, plan: Plan, cycle_at: Fraction, index: int, number: int, count_s: float
) -> list[Cue]:
    """The one or two cues of a beat."""
    beat = pattern.beats[index]
    cues = []
    for place, step in enumerate(beat.steps):
        role = Role.SHORT if place else (Role.LONG if beat.uneven else Role.WHOLE)
        gain_db = _gain_db(plan, number, place)
        time_s = count_s + seconds_of_beat(cycle_at + beat.place_at(place), plan)
        spoken = plan.level is CueLevel.C5 and bool(step.word)
        cues.append(Cue(time_s, role, number, place, step.foot, step.word, step.accent, gain_db, spoken))
    return cues


def _gain_db(plan: Plan, number: int, place: int) -> float | None:
    """Level of a footfall's cue, dB against full; None where it is silent."""
    if plan.level in (CueLevel.C1, CueLevel.C0) or (plan.level is CueLevel.C2 and place):
        return None
    base_db = -6.0 if plan.level is CueLevel.C3 else 0.0
    if plan.fade.full is None or number < plan.fade.full:
        return base_db
    gone = number - plan.fade.full
    if gone >= plan.fade.softer:
        return None
    return base_db - (6.0 if gone < (plan.fade.softer + 1) // 2 else 12.0)


def _check(plan: Plan) -> None:
    """Refuse a plan nobody can follow."""
    if not (math.isfinite(plan.tempo_bpm) and 20.0 <= plan.tempo_bpm <= 300.0):
        raise PatternError(f"tempo must be from 20 to 300 beats/min, got {plan.tempo_bpm:g}")
    if not 1 <= plan.beats <= MOST_BEATS:
        raise PatternError(f"a bout has 1 to {MOST_BEATS} beats, got {plan.beats}")
    if not (math.isfinite(plan.tempo_change_percent) and -50.0 <= plan.tempo_change_percent <= 100.0):
        raise PatternError(
            f"the tempo may change by -50 to +100 % over a bout, got {plan.tempo_change_percent:g}"
        )
    if plan.count_in is not None and not 0 <= plan.count_in <= 16:
        raise PatternError(f"count in from 0 to 16 beats, got {plan.count_in}")
    if plan.fade.softer < 0 or (plan.fade.full is not None and plan.fade.full < 0):
        raise PatternError(f"beats of a fade cannot be negative, got {plan.fade.full} and {plan.fade.softer}")


def _check_spacing(schedule: Schedule) -> None:
    """Refuse cues too close or, apart from planned rests, too far apart to be followed."""
    feet = schedule.footfalls
    if len(feet) < 2:
        return
    closest_s = min(b.time_s - a.time_s for a, b in pairwise(feet))
    plan, name = schedule.plan, schedule.pattern.name
    if closest_s < CLOSEST_CUES_S - 1e-9:
        raise PatternError(
            f"{name} at {plan.tempo_bpm:g} beats/min puts two cues {1000 * closest_s:.0f} ms apart; nobody "
            f"can follow closer than {1000 * CLOSEST_CUES_S:.0f} ms: "
            "choose a slower tempo or a ratio nearer 1:1"
        )
    slowest_s = max(60.0 / plan.tempo_bpm, 60.0 / plan.tempo_bpm / (1.0 + plan.tempo_change_percent / 100.0))
    if not schedule.pattern.uneven and slowest_s > FURTHEST_CUES_S:
        raise PatternError(
            f"{name} at {60.0 / slowest_s:.0f} beats/min puts cues {slowest_s:.1f} s apart; nobody can "
            f"follow further than {FURTHEST_CUES_S} s: "
            f"choose a tempo of at least {60.0 / FURTHEST_CUES_S:.0f}"
        )
