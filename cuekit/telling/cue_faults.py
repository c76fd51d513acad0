"""What is told of the start and of early and late, where the cue's times are known."""

from __future__ import annotations

from collections.abc import Sequence

from cuekit.hearing.events import Footfall
from cuekit.rhythm.cue_timing import CueTimes, early_or_late_s, start_beats
from cuekit.telling.faults import Fault


def cue_faults(footfalls: Sequence[Footfall], leads_s: Sequence[float], cue: CueTimes) -> tuple[Fault, ...]:
    """What was heard against the cue, the start first.

    Parameters
    ----------
    footfalls: all of the recording, those of the count-in too, in order of time.
    leads_s: of the bout, the footfalls that start beats, s.
    cue: its times at the microphone.
    """
    found = []
    beats = start_beats(footfalls, cue)
    if beats is not None:
        name = "started-early" if beats < 0 else "started-late"
        found.append(Fault(name, (("beats", f"{abs(beats):.0f}"),)))
    late_s = early_or_late_s(leads_s, cue)
    if late_s is not None and late_s < 0:
        found.append(Fault("ahead-of-cue", (("ahead", f"{-late_s:.2f}"),)))
    elif late_s is not None:
        found.append(Fault("behind-cue", (("behind", f"{late_s:.2f}"),)))
    return tuple(found)
