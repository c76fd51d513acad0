"""What takes time: a bout, a replay, a check. One at a time, in a thread of its own, stopped at any moment.

While it runs the picture's clock and the footfalls heard are told as they come.
"""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Event

from cuekit.bouts.audio_port import Ended, NamedPort
from cuekit.bouts.checked_devices import checks_folder, recall, remember
from cuekit.bouts.equipment import check_equipment
from cuekit.bouts.equipment_text import told_check
from cuekit.bouts.given import Given, given_of, sound_of
from cuekit.bouts.preparing import FREE_COURSE
from cuekit.bouts.room import record_room, told_room
from cuekit.bouts.session import Done, bout_alone, bout_to_cue, bout_to_marker
from cuekit.cues.render import LEAD_IN_S, CueTrack, render_blocks
from cuekit.errors import DeviceError
from cuekit.hearing.events import Footfall
from cuekit.hearing.room_check import check_room
from cuekit.records.learner import Learner
from cuekit.screen.feed import Feed
from cuekit.screen.plan import Planned
from cuekit.screen.view import HeardMark
from cuekit.telling.phrases import Phrases

LOUD_DB, SOFT_DB = -10.0, -50.0
"""Levels of a footfall drawn largest and smallest, dB against full scale."""
USUAL_DELAY_S = 0.22
"""From a sound at the loudspeaker to its place in the recording, where no check was made and no bout done;
only where a footfall is drawn depends on it, never a number."""
CLOCK_EVERY_S = 0.03


@dataclass(frozen=True)
class Clock:
    """Where the picture is, s from its first footfall, and the time of day at which it was there, s."""

    t: float
    wall: float


@dataclass(frozen=True)
class Landed:
    """A footfall as soon as it is heard: where on the picture, how loud (0 to 1), and the time of day, s."""

    t: float
    size: float
    wall: float


class Runner:
    """Runs things on a sound device and tells a feed of them.

    Parameters:
        port: the sound device.
        takes: folder for recordings while they run.
        feed: who is told.

    Attributes:
        stopping: set to stop what runs.
        heard: footfalls of what runs, so far, for a page that is opened meanwhile.
    """

    def __init__(self, port: NamedPort, takes: Path, feed: Feed) -> None:
        self._port, self._takes, self._feed = port, takes, feed
        self._delay_s: float | None = None
        self.stopping = Event()
        self.heard: list[HeardMark] = []

    def given(self, planned: Planned, learner: Learner | None, language: str) -> Given:
        """The cue of a bout to come, laid out."""
        sound = sound_of(learner, tones=planned.tones, language=language)
        return given_of(planned.pattern, planned.plan, sound)

    def play(self, track: CueTrack, zero_s: float) -> None:
        """Play a cue or a replay to its end, or until stopped; `zero_s` is the picture's time 0 in it.

        Raises:
            DeviceError: there is no loudspeaker, or it was lost.
        """
        passage = self._port.play(render_blocks(track), self.stopping.is_set, self._clock(zero_s))
        if passage.ended is Ended.LOST:
            raise DeviceError(f"{passage.lost}: plug it in again, then start again")

    def show(self, given: Given) -> None:
        """Move the picture only; no device is opened."""
        clock, zero_s = self._clock(0.0), given.schedule.go_s
        begun_s = time.monotonic()
        while not self.stopping.wait(CLOCK_EVERY_S):
            now_s = time.monotonic() - begun_s - LEAD_IN_S - zero_s
            clock(now_s)
            if now_s > given.schedule.end_s - zero_s:
                return

    def bout(self, given: Given, phrases: Phrases, *, sounds: bool) -> Done:
        """A bout to a cue that sounds, or is only seen.

        Raises:
            DeviceError: a device is missing, or gave nothing.
        """
        zero_s = given.track.lead_in_s + given.schedule.go_s
        clock = self._clock(zero_s)
        if not sounds:
            landed = self._landed(zero_s)
            return bout_to_marker(
                self._port, self._takes, given, phrases, landed, self.stopping.is_set, clock
            )
        pair = recall(checks_folder(), *self._port.names())
        beyond_s = pair.beyond_buffers_s if pair else None
        landed = self._landed(zero_s + (self._delay_s or USUAL_DELAY_S))
        done = bout_to_cue(
            self._port, self._takes, given, phrases, landed, self.stopping.is_set, beyond_s, clock
        )
        leak = done.verdict.leak
        heard_s = leak.delay.delay_s if leak is not None else None
        self._delay_s = heard_s or done.bout.passage.stamped_delay_s or self._delay_s
        return done

    def free_bout(self, planned: Planned, phrases: Phrases) -> Done:
        """A bout without a cue.

        Raises:
            DeviceError: there is no microphone, or it gave nothing.
        """
        landed, clock = self._landed(0.0), self._clock(0.0)
        return bout_alone(
            self._port,
            self._takes,
            planned.pattern,
            FREE_COURSE,
            phrases,
            landed,
            self.stopping.is_set,
            clock,
        )

    def room(self, on_stamps: Callable[[], None], phrases: Phrases) -> list[str]:
        """The room check, in words; nothing where it was stopped.

        Raises:
            DeviceError: there is no microphone.
        """
        name = phrases.say("room.name")
        recording = record_room(self._port, name, on_stamps, self.stopping.is_set)
        return [] if self.stopping.is_set() else told_room(check_room(recording), phrases)

    def equipment(self, phrases: Phrases) -> list[str]:
        """The equipment check, in words.

        Raises:
            DeviceError: a device is missing or was lost, or the check was stopped.
        """
        loudspeaker, microphone = self._port.names()
        check = check_equipment(self._port, self.stopping.is_set)
        pair = remember(checks_folder(), loudspeaker, microphone, check, datetime.date.today())
        return told_check(check, remembered=pair is not None, phrases=phrases)

    def _clock(self, zero_s: float) -> Callable[[float], None]:
        last: list[float] = [0.0]
        self.heard = []

        def tell(now_s: float) -> None:
            wall = time.time()
            if wall - last[0] >= CLOCK_EVERY_S:
                last[0] = wall
                self._feed.tell("clock", Clock(round(now_s - zero_s, 4), wall))

        return tell

    def _landed(self, zero_s: float) -> Callable[[Footfall], None]:
        def tell(footfall: Footfall) -> None:
            mark = HeardMark(round(footfall.time_s - zero_s, 4), size_of(footfall))
            self.heard.append(mark)
            self._feed.tell("footfall", Landed(mark.t, mark.size, time.time()))

        return tell


def size_of(footfall: Footfall) -> float:
    """How large a footfall is drawn, 0 to 1, by its level."""
    share = (footfall.level_db - SOFT_DB) / (LOUD_DB - SOFT_DB)
    return round(min(max(share, 0.0), 1.0), 3)
