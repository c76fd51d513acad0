"""From a schedule to samples: every sound placed to the sample, overlapping sounds added.

A track is laid out first (which sound begins at which sample, at which level) and then rendered in
blocks of any size, so an hour needs no more memory than a second. Every block is exactly the stretch
of the whole that it stands for.

Each sound is rounded to the sample once, from its own exact time, so that no error accumulates: the
anchor lies within half a sample (10 microseconds) of the cue at any time.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile

from cuekit.cues.cueing import ChosenCues, SoundsFor
from cuekit.cues.glide import Glide
from cuekit.cues.loudness import QUIET_LUFS, Level, integrated_lufs, level_for, true_peak
from cuekit.cues.sounds import SAMPLE_RATE_HZ, Sound
from cuekit.errors import AudioError
from cuekit.files.atomic import replacing
from cuekit.files.filenames import shown
from cuekit.patterns.schedule import Cue, Schedule

LEAD_IN_S = 0.5
"""Silence before the first cue, so that no player swallows its beginning, s."""

TAIL_S = 0.5
"""Silence kept after the last sound, s."""

MEASURED_S = 30.0
"""How much of a track its loudness is measured on, s."""

BLOCK = 16_384
"""Samples rendered at a time."""


@dataclass(frozen=True, eq=False)
class Placed:
    """A sound in its place.

    Attributes:
        first: sample of the schedule it begins on; negative where it begins before time 0.
        sound: what is heard.
        gain: factor against the full cue.
    """

    first: int
    sound: Sound
    gain: float

    @property
    def end(self) -> int:
        """The sample after its last one."""
        return self.first + self.sound.samples.size


@dataclass(frozen=True, eq=False)
class CueTrack:
    """All that will be heard, laid out and levelled, not yet rendered.

    Attributes:
        placed: sounds in the order they begin.
        glide: the continuous voice under them, if any.
        lead_in: samples before time 0 of the schedule.
        size: samples in all.
        level: the level it is rendered at.
    """

    placed: tuple[Placed, ...]
    glide: Glide | None
    lead_in: int
    size: int
    level: Level

    @property
    def lead_in_s(self) -> float:
        """From the first sample to time 0 of the schedule, s."""
        return self.lead_in / SAMPLE_RATE_HZ

    @property
    def duration_s(self) -> float:
        """Length, s."""
        return self.size / SAMPLE_RATE_HZ


def lay_out(
    schedule: Schedule, chosen: ChosenCues, *, loudness_lufs: float = QUIET_LUFS, lead_in_s: float = LEAD_IN_S
) -> CueTrack:
    """Place and level all sounds of a schedule.

    The level is found with every cue at its full level, so that a softer cue, a fading one and a
    silent one keep their distance from it, and a counted beat sounds the same in all of them.

    Parameters
    ----------
    schedule : what is to be heard and when
    chosen : the sounds
    loudness_lufs : integrated loudness of the full cue, LUFS
    lead_in_s : silence before time 0; longer where the first sound begins earlier

    Raises
    ------
    AudioError
        The loudness is out of range.
    """
    full = replace(schedule, cues=tuple(replace(cue, gain_db=0.0) for cue in schedule.cues))
    full_glide = chosen.glide.at_full() if chosen.glide else None
    reference = _track(_place_cues(full.cues, chosen.sounds_for), full_glide, 0.0, lead_in_s)
    level = _level(reference, loudness_lufs)
    placed = _place_cues(schedule.cues, chosen.sounds_for)
    return replace(_track(placed, chosen.glide, schedule.end_s, lead_in_s), level=level)


def place_sounds(
    sounds: Iterable[tuple[float, Sound]], *, loudness_lufs: float = QUIET_LUFS, lead_in_s: float = LEAD_IN_S
) -> CueTrack:
    """Place sounds at given times (s) with their anchors, and level the whole.

    Raises
    ------
    AudioError
        The loudness is out of range.
    """
    track = _track([_place(time_s, sound, 1.0) for time_s, sound in sounds], None, 0.0, lead_in_s)
    return replace(track, level=_level(track, loudness_lufs))


def render_blocks(track: CueTrack, block: int = BLOCK) -> Iterator[np.ndarray]:
    """The samples of a track, in order, as mono float32 blocks of at most `block` samples."""
    waiting = iter(track.placed)
    ahead = next(waiting, None)
    sounding: list[Placed] = []
    for start in range(-track.lead_in, track.size - track.lead_in, block):
        end = min(start + block, track.size - track.lead_in)
        while ahead is not None and ahead.first < end:
            sounding.append(ahead)
            ahead = next(waiting, None)
        yield _mix(sounding, track, start, end)
        sounding = [placed for placed in sounding if placed.end > end]


def render(track: CueTrack) -> np.ndarray:
    """A whole track at once, mono float32; for short ones."""
    return np.concatenate([*render_blocks(track)] or [np.zeros(0, dtype=np.float32)])


def write_cues(path: Path, track: CueTrack) -> None:
    """Write a track to a WAV or FLAC file (16 bit, mono), whole or not at all, in little memory.

    Raises
    ------
    AudioError
        The name ends neither in .wav nor in .flac, the folder is missing or cannot be written to, or the
        disk is full.
    """
    kind = kind_of(path)
    with replacing(path) as temporary:
        try:
            _write(temporary, kind, track)
        except soundfile.LibsndfileError:
            # The library hides the system's reason; the file could be opened, so it is most likely this one.
            raise AudioError(
                f"cannot write {shown(path)}: it stopped half-way, as on a full disk: "
                "make room, or choose another disk"
            ) from None


def kind_of(path: Path) -> str:
    """The kind of sound file that a name asks for, WAV or FLAC.

    Raises
    ------
    AudioError
        The name ends in neither.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in ("wav", "flac"):
        raise AudioError(f'cannot write {shown(path)}: end the name in ".wav" or ".flac"')
    return kind.upper()


def _write(path: Path, kind: str, track: CueTrack) -> None:
    with soundfile.SoundFile(path, "w", SAMPLE_RATE_HZ, 1, "PCM_16", format=kind) as file:
        for block in render_blocks(track):
            file.write(block)


def _place(time_s: float, sound: Sound, gain: float) -> Placed:
    return Placed(round((time_s - sound.anchor_s) * SAMPLE_RATE_HZ), sound, gain)


def _place_cues(cues: Iterable[Cue], sounds_for: SoundsFor) -> list[Placed]:
    """The sounds of all cues that are not silent."""
    return [
        _place(cue.time_s, sound, 10.0 ** (cue.gain_db / 20.0))
        for cue in cues
        if cue.gain_db is not None
        for sound in sounds_for(cue)
    ]


def _track(placed: list[Placed], glide: Glide | None, end_s: float, lead_in_s: float) -> CueTrack:
    """A track at the level the sounds have by themselves."""
    ordered = tuple(sorted(placed, key=lambda one: one.first))
    begins = [one.first for one in ordered[:1]]
    ends = [one.end for one in ordered] + [round(end_s * SAMPLE_RATE_HZ)]
    if glide is not None and glide.times_s.size:
        begins.append(int(np.floor(glide.times_s[0] * SAMPLE_RATE_HZ)))
        ends.append(int(np.ceil(glide.end_s * SAMPLE_RATE_HZ)))
    lead_in = max(round(lead_in_s * SAMPLE_RATE_HZ), -min(begins, default=0))
    size = lead_in + max(ends) + round(TAIL_S * SAMPLE_RATE_HZ)
    return CueTrack(ordered, glide, lead_in, size, Level(1.0, float("nan"), float("nan"), False))


def _mix(sounding: list[Placed], track: CueTrack, start: int, end: int) -> np.ndarray:
    """The sum of what sounds from sample `start` to `end` of the schedule."""
    mixed = np.zeros(end - start) if track.glide is None else track.glide.samples(start, end - start)
    for one in sounding:
        begin, stop = max(one.first, start), min(one.end, end)
        if begin < stop:
            heard = one.sound.samples[begin - one.first : stop - one.first]
            mixed[begin - start : stop - start] += one.gain * heard
    return (track.level.gain * mixed).astype(np.float32)


def _level(reference: CueTrack, loudness_lufs: float) -> Level:
    """The level for a track, from the loudness of its beginning and a bound on the peak of all of it."""
    measured = reference.lead_in + round(MEASURED_S * SAMPLE_RATE_HZ)
    beginning = replace(reference, size=min(reference.size, measured))
    return level_for(loudness_lufs, integrated_lufs(render(beginning)), peak_bound(reference))


def peak_bound(track: CueTrack) -> float:
    """A true peak that the track, without its level's gain, cannot exceed: the largest sum of the peaks of
    the sounds that overlap, and the glide's."""
    peaks: dict[int, float] = {}
    sounding: list[tuple[int, float]] = []
    together = highest = 0.0
    for one in track.placed:
        while sounding and sounding[0][0] <= one.first:
            together -= heapq.heappop(sounding)[1]
        if id(one.sound) not in peaks:
            peaks[id(one.sound)] = true_peak(one.sound.samples)
        peak = one.gain * peaks[id(one.sound)]
        heapq.heappush(sounding, (one.end, peak))
        together += peak
        highest = max(highest, together)
    return highest + (track.glide.peak if track.glide else 0.0)
