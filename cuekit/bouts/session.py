"""A bout from the first sample to the verdict, on any sound device.

The take is on the disk while it runs and is handed back with the verdict, for the caller to delete or
to keep. Where scoring itself fails or is broken off the take stays, and is found at the next start.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from cuekit.bouts.audio_port import AudioPort, OnClock, Stop, unwatched
from cuekit.bouts.cued_ear import CuedEar
from cuekit.bouts.interrupts import Interrupt, noted_interrupt
from cuekit.bouts.live import BoutEnd, Course, LiveBout, OnFootfall, cue_and_record_bout, record_bout
from cuekit.bouts.live_verdict import Given, Verdict, judge_alone, judge_cued, judge_seen
from cuekit.bouts.take_file import TakeFile
from cuekit.cues.render import render_blocks
from cuekit.errors import DeviceError, NothingRecordedError
from cuekit.hearing.events import Recording
from cuekit.hearing.live_ear import LiveEar
from cuekit.hearing.recordings import ANALYSIS_RATE_HZ
from cuekit.hearing.soundfiles import read_recording
from cuekit.patterns.pattern import Pattern
from cuekit.patterns.schedule import Schedule
from cuekit.telling.phrases import Phrases

_AFTER_CUE_S = 1.5  # the last footfall lands, its sound travels and the room dies away


@dataclass(frozen=True, eq=False)
class Done:
    """A bout and what is said of it.

    Attributes:
        bout: as it went.
        verdict: what is told.
        take: the recording on the disk, closed.
        interrupted: whether Ctrl-C ended it.
    """

    bout: LiveBout
    verdict: Verdict
    take: TakeFile
    interrupted: bool


def bout_alone(
    port: AudioPort,
    folder: Path,
    pattern: Pattern,
    course: Course,
    phrases: Phrases,
    on_footfall: OnFootfall,
    stop: Stop,
    on_clock: OnClock = unwatched,
) -> Done:
    """Record and judge a bout without a cue.

    Raises:
        DeviceError: there is no microphone, or it gave nothing.
        AudioError: the take cannot be written.
    """
    take, ear = TakeFile(folder), LiveEar()
    with _swept(take), noted_interrupt() as interrupt:
        asked = _either(interrupt, stop)
        bout = record_bout(port, take, ear, course, on_footfall, asked, on_clock)
        stopped = interrupt.asked
    recording = _recorded(take, bout)
    return Done(bout, judge_alone(recording, bout, pattern, phrases), take, stopped)


def bout_to_cue(
    port: AudioPort,
    folder: Path,
    given: Given,
    phrases: Phrases,
    on_footfall: OnFootfall,
    stop: Stop,
    beyond_buffers_s: float | None = None,
    on_clock: OnClock = unwatched,
) -> Done:
    """Play a cue, record and judge the bout to it.

    `beyond_buffers_s` is the delay of these devices from an earlier check, see `judge_cued`.

    Raises:
        DeviceError: there is no microphone or no loudspeaker, or it gave nothing.
        AudioError: the take cannot be written.
    """
    take, ear, course = TakeFile(folder), _cued_ear(given), course_of(given)
    with _swept(take), noted_interrupt() as interrupt:
        asked, cue = _either(interrupt, stop), render_blocks(given.track)
        bout = cue_and_record_bout(port, cue, take, ear, course, on_footfall, asked, on_clock)
        stopped = interrupt.asked
    recording = _recorded(take, bout)
    verdict = judge_cued(recording, bout, given, phrases, beyond_buffers_s)
    return Done(bout, verdict, take, stopped)


def bout_to_marker(
    port: AudioPort,
    folder: Path,
    given: Given,
    phrases: Phrases,
    on_footfall: OnFootfall,
    stop: Stop,
    on_clock: OnClock,
) -> Done:
    """Record and judge a bout to a cue that is only seen; no loudspeaker is opened.

    `on_clock` moves the marker: time 0 of `given.schedule` is `given.track.lead_in_s` on it.

    Raises:
        DeviceError: there is no microphone, or it gave nothing.
        AudioError: the take cannot be written.
    """
    take, ear, course = TakeFile(folder), LiveEar(), course_of(given)
    with _swept(take), noted_interrupt() as interrupt:
        bout = record_bout(port, take, ear, course, on_footfall, _either(interrupt, stop), on_clock)
        stopped = interrupt.asked
    recording = _recorded(take, bout)
    return Done(bout, judge_seen(recording, bout, given, phrases), take, stopped)


def course_of(given: Given) -> Course:
    """How a bout to a cue runs: its length is the cue's, its feet count from the first footfall on."""
    schedule: Schedule = given.schedule
    lead_in_s = given.track.lead_in_s
    end_s = lead_in_s + schedule.end_s + _AFTER_CUE_S
    return Course(longest_s=end_s, listens_from_s=lead_in_s + schedule.go_s, wait_s=end_s)


def _cued_ear(given: Given) -> CuedEar:
    return CuedEar(given.track.lead_in_s + given.schedule.go_s, ANALYSIS_RATE_HZ)


def _either(interrupt: Interrupt, stop: Stop) -> Stop:
    return lambda: interrupt.asked or stop()


@contextmanager
def _swept(take: TakeFile) -> Iterator[None]:
    """Close a take at the end; one without a sample is deleted, as it holds nothing to find again."""
    try:
        yield
    finally:
        take.close()
        if take.duration_s == 0.0:
            take.discard()


def _recorded(take: TakeFile, bout: LiveBout) -> Recording:
    """What was recorded, under a name that tells nothing of where it lies."""
    if take.duration_s == 0.0:
        if bout.end is BoutEnd.ASKED:
            raise NothingRecordedError("stopped before any sound came in: nothing was recorded")
        reason = bout.trouble or "the microphone gave no sound"
        raise DeviceError(f"{reason}: check that it is plugged in and allowed, then start again")
    return replace(read_recording(take.path), name="live")
