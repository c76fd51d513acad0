"""A ball that bounces along a line and hits the floor on each cue: the rhythm for the eye.

A moving ball guides movement almost as well as a sound, and a flash does not (Iversen et al.,
Synchronization to auditory and visual rhythms in hearing and deaf individuals; read as an abstract).
So nothing lights up here: the ball moves, and the line lies still. As it goes from left to right, no place
is passed twice in a line, which lasts more than a second: nothing can flash three times a second.

The ball is big after a landing that starts a beat and small after a short one, and flies the higher the
longer it is to the next. Where the cue falls silent the ball is gone, as the sound would be.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import groupby, pairwise

from cuekit.patterns.schedule import Cue, Role, Schedule

BEATS_A_LINE = 4
FALLS_S = 0.5
"""How long the ball falls before the first cue, s."""

_LOWEST = 0.2  # a short hop can still be seen


@dataclass(frozen=True)
class Spot:
    """Where the ball hits the floor.

    Attributes:
        time_s: when, s of the schedule.
        across: place on the line, 0 at the left to 1 at the right.
        role: what it marks.
        faint: whether the cue is softer than a full one.
    """

    time_s: float
    across: float
    role: Role
    faint: bool

    @property
    def big(self) -> bool:
        """Whether it starts a beat; a short footfall does not."""
        return self.role is not Role.SHORT


@dataclass(frozen=True)
class Ball:
    """Where the ball is.

    Attributes:
        across: place on the line, 0 to 1.
        height: 0 on the floor, 1 at its highest.
        spot: the landing it comes from; before the first one the landing it falls to.
    """

    across: float
    height: float
    spot: Spot


@dataclass(frozen=True)
class Line:
    """Some beats side by side.

    Attributes:
        spots: in order of time; the first of the next line stands at the right end too.
        start_s, end_s: when the ball is at the left end, and at the right, s of the schedule.
    """

    spots: tuple[Spot, ...]
    start_s: float
    end_s: float


@dataclass(frozen=True)
class Bounce:
    """The way of a ball through a schedule.

    Attributes:
        lines: in order of time; none where no cue sounds.
        longest_s: from one landing to the next at most, s.
    """

    lines: tuple[Line, ...]
    longest_s: float

    def line_at(self, now_s: float) -> Line | None:
        """The line at a time of the schedule; None before and after the cue."""
        place = bisect_right([line.start_s for line in self.lines], now_s) - 1
        if place < 0:
            falling = bool(self.lines) and now_s >= self.lines[0].start_s - FALLS_S
            return self.lines[0] if falling else None
        return self.lines[place] if now_s < self.lines[place].end_s else None

    def ball_at(self, now_s: float) -> Ball | None:
        """Where the ball is at a time of the schedule; None before and after the cue."""
        line = self.line_at(now_s)
        if line is None:
            return None
        place = bisect_right([spot.time_s for spot in line.spots], now_s) - 1
        if place < 0:
            gone = (line.start_s - now_s) / FALLS_S
            return Ball(line.spots[0].across, 1.0 - (1.0 - gone) ** 2, line.spots[0])
        spot = line.spots[place]
        lands_s = line.spots[place + 1].time_s if place + 1 < len(line.spots) else line.end_s
        gap_s = lands_s - spot.time_s
        gone = (now_s - spot.time_s) / gap_s
        top = max(_LOWEST, (gap_s / self.longest_s) ** 2)  # as a ball does
        return Ball(_across(now_s, line.start_s, line.end_s), top * 4.0 * gone * (1.0 - gone), spot)


def bounce_of(schedule: Schedule) -> Bounce:
    """The way of a ball through the cues of a schedule that sound.

    Parameters
    ----------
    schedule : silent cues are left out, as they would not be heard either
    """
    seen = [cue for cue in schedule.cues if cue.gain_db is not None]
    rows = [list(row) for _, row in groupby(seen, key=lambda cue: cue.beat // BEATS_A_LINE)]
    starts_s = [row[0].time_s for row in rows]
    ends_s = [*starts_s[1:], _end_s(schedule, seen)] if rows else []
    lines = tuple(_line(*one) for one in zip(rows, starts_s, ends_s, strict=True))
    last = rows[-1][-1] if rows else None
    gaps_s = [later.time_s - cue.time_s for cue, later in pairwise(seen)]
    return Bounce(lines, max([*gaps_s, ends_s[-1] - last.time_s] if last else [1.0]))


def _end_s(schedule: Schedule, seen: list[Cue]) -> float:
    """When the ball leaves: at the first silent landing, or at the end."""
    later = [cue.time_s for cue in schedule.cues if cue.time_s > seen[-1].time_s] if seen else []
    return later[0] if later else schedule.end_s


def _line(row: list[Cue], start_s: float, end_s: float) -> Line:
    spots = tuple(
        Spot(cue.time_s, _across(cue.time_s, start_s, end_s), cue.role, cue.gain_db < 0.0) for cue in row
    )
    return Line(spots, start_s, end_s)


def _across(time_s: float, start_s: float, end_s: float) -> float:
    return (time_s - start_s) / (end_s - start_s)
