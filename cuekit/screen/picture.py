"""A schedule as the picture the page draws: when each foot is due, long or short, and what is counted."""

from __future__ import annotations

from cuekit.patterns.schedule import Role, Schedule
from cuekit.screen.view import Count, Mark, Picture


def picture_of(schedule: Schedule, marker: str, *, live: bool = False, says: str = "") -> Picture:
    """Where footfalls are due, s from the first one.

    Parameters
    ----------
    schedule : a pattern in time
    marker : what shows the beat: "path", "big" or "none"
    live : whether it runs now
    says : what is told while it goes
    """
    go_s, pattern = schedule.go_s, schedule.pattern
    marks = tuple(
        Mark(
            t=_ms(cue.time_s - go_s),
            beat=cue.beat,
            place=cue.place,
            big=cue.role is not Role.SHORT,
            foot=cue.foot.value if cue.foot else "",
            word=cue.word,
            silent=cue.gain_db is None,
        )
        for cue in schedule.footfalls
    )
    count = tuple(Count(_ms(cue.time_s - go_s), cue.word) for cue in schedule.cues if cue.role is Role.COUNT)
    beat_s = _ms(60.0 / schedule.plan.tempo_bpm)
    return Picture(marks, count, _ms(schedule.end_s - go_s), beat_s, pattern.uneven, marker, live, says=says)


def free_picture(beat_s: float, *, live: bool) -> Picture:
    """Of a bout without a cue: footfalls appear as they land."""
    return Picture((), (), 0.0, beat_s, False, "none", live, cued=False, says="moving")


def _ms(time_s: float) -> float:
    """Rounded to the millisecond, which no eye sees."""
    return round(time_s, 3)
