"""Sound that a device lost without a word, seen from its own time stamps.

Each block comes with the time at which its first sample was taken in. By the samples alone that time goes
on with the rate; where it jumps ahead and stays ahead, what lies between was lost. A single late stamp proves
nothing (a busy computer calls late, and catches up), so a jump counts only once it has lasted. The stamps of
the device were seen to tell the truth where the computer's clock does not: a program held up for a second may
find all of its sound waiting.
"""

from __future__ import annotations

from dataclasses import dataclass

LEAST_LOST_S = 0.05
"""Shorter jumps come and go with nothing lost, s (a footfall this near a gap is left out anyway)."""

LASTS_S = 1.0
"""So long every stamp must stay ahead, and as far, s."""

BEGINS_S = 0.5
"""The first stamps of a stream are wrong on some systems, s."""

_DRIFT = 1e-3  # a clock may be so much slower than it says: 1 in 1,000


@dataclass(frozen=True)
class LostTime:
    """Sound that is missing.

    Attributes:
        frame: sample of the recording just after it.
        lost_s: how much, s.
    """

    frame: int
    lost_s: float


class Pace:
    """Holds the stamps of a recording against its samples.

    Parameters:
        rate_hz: of the samples.
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._usual_s: float | None = None
        self._last_stamp_s = 0.0
        self._ahead: LostTime | None = None
        self._since_s = 0.0

    def stamped(self, stamp_s: float, frames: int) -> LostTime | None:
        """A block has come; what turns out now to have been lost, mostly a second ago.

        Parameters
        ----------
        stamp_s : when its first sample was taken in, by any steady clock
        frames : samples recorded before it
        """
        now_s = frames / self._rate_hz
        if now_s < BEGINS_S or stamp_s <= 0.0:
            return None
        late_s = stamp_s - now_s
        if self._usual_s is None:
            self._usual_s = late_s
        else:
            self._usual_s += _DRIFT * max(0.0, min(stamp_s - self._last_stamp_s, LASTS_S))
        self._last_stamp_s = stamp_s
        ahead_s = late_s - self._usual_s
        if ahead_s < LEAST_LOST_S:
            self._usual_s, self._ahead = min(self._usual_s, late_s), None
            return None
        if self._ahead is None or ahead_s < self._ahead.lost_s - LEAST_LOST_S:  # begun, or catching up
            self._since_s = stamp_s
        first = self._ahead or LostTime(frames, ahead_s)
        self._ahead = LostTime(first.frame, min(first.lost_s, ahead_s))
        if stamp_s - self._since_s < LASTS_S:
            return None
        lost, self._ahead = self._ahead, None
        self._usual_s += lost.lost_s
        return lost
