"""How long a learner kept the rhythm after the sound had stopped.

A beat is kept when it is on the pattern (for an uneven one the running median of three long shares is
long-short) and lasts as long as a cued one, give or take 15 %. Children drift towards their own tempo
when the sound stops: that is expected and no fault, so the count says how far the rhythm carried.
"""

from __future__ import annotations

from collections.abc import Iterable

from cuekit.patterns.pattern import USUAL, Accepted
from cuekit.rhythm.measures import STEADY_WITHIN, TimedBeat, on_pattern

_EARLY_BEATS = 0.5  # a beat belongs to the cue it is nearest to


def kept_beats(
    row: tuple[TimedBeat, ...], silent_from_s: float, cued_period_s: float, accepted: Accepted = USUAL
) -> int:
    """Beats kept in a row from the first silent cue on.

    Parameters
    ----------
    row : the beats of the bout, in order
    silent_from_s : when the first cue that is not sounded is due, on the clock of the recording, s
    cued_period_s : of one beat while the cue sounded, s
    accepted : what counts as on the pattern
    """
    from_s = silent_from_s - _EARLY_BEATS * cued_period_s
    flags = on_pattern(row, accepted)
    alone = ((beat, flag) for beat, flag in zip(row, flags, strict=True) if _start_s(beat) >= from_s)
    return _first_kept(alone, cued_period_s)


def _first_kept(beats: Iterable[tuple[TimedBeat, bool]], cued_period_s: float) -> int:
    """How many are kept before the first that is not; a planned change between them is passed over."""
    kept = 0
    for beat, on in beats:
        if not beat.plan.judged:
            continue
        period_s = beat.period_s
        in_time = period_s is None or abs(period_s / cued_period_s - 1.0) <= STEADY_WITHIN
        if not (on and in_time):
            break
        kept += 1
        if beat.heard.paused:
            break
    return kept


def _start_s(beat: TimedBeat) -> float:
    """When a beat began, as far as it was heard; long ago where nothing of it was."""
    heard = [time_s for time_s in (beat.lead_s, beat.short_s) if time_s is not None]
    return heard[0] if heard else float("-inf")
