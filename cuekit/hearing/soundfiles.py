"""Reading a sound file that nobody vouches for.

Nothing the file says of itself is believed: ordinary files only, told by content and not by name,
read block by block until the sound ends, whatever length the header claims. One channel is kept,
not the mean of all (two microphones in opposite phase would cancel): the one in which short bursts
of the footfall band stand out most. It is resampled block by block by soxr, whose delay is taken
out (`cuekit.hearing.recordings`), so that memory does not grow with the length or the rate of the file.

Times in a `Recording` are seconds from the first sample of the file.
"""

from __future__ import annotations

import errno
import math
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

import numpy as np
import soundfile

from cuekit.errors import AudioError
from cuekit.files.filenames import shown
from cuekit.files.quiet import quiet_libraries
from cuekit.hearing.events import Recording, Warned
from cuekit.hearing.filekinds import HEAD_BYTES, READABLE, looks_readable, unreadable_kind
from cuekit.hearing.phone_files import PhoneSound, phone_format
from cuekit.hearing.recordings import Ceiling, Gatherer, loudest_bursts
from cuekit.hearing.soundheaders import DataChunk, SoundBytes, find_data, ogg_is_cut

FORMATS = ("WAV", "WAVEX", "RF64", "W64", "AIFF", "CAF", "FLAC", "OGG", "MP3", "AU")
"""Containers accepted, by the decoder's names. Headerless sound (RAW) never is: rubbish fits it."""

MOST_CHANNELS = 64
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 4_000, 400_000

BLOCK_SAMPLES = 262_144
"""Samples, all channels together, decoded at a time."""

STEP_FRAMES = 4_096
"""Frames asked of the decoder at once: where a FLAC is damaged it gives nothing of the whole request."""

MISSING_S = 0.1
"""A file this much shorter than it says was cut short; less is a format's rounding, s."""

NO_LENGTH_FRAMES = 2**40
"""More frames than this stand for "length unknown" in a header."""


class TooLongError(AudioError):
    """A recording lasts longer than is accepted."""


def read_recording(path: Path, *, limit_s: float = 3600.0) -> Recording:
    """Read a sound file for analysis.

    Parameters:
        path: the file; a link is followed.
        limit_s: the longest recording accepted, s.

    Raises:
        AudioError: the file is missing, not an ordinary file, not permitted, not a sound that can be
            read, empty, too long, or its header is out of bounds.
    """
    with _opened(path) as file:
        head = file.read(HEAD_BYTES)
        phone = phone_format(head)
        if phone is not None:
            return _read_phone(path, file, head, phone, limit_s)
        _check_kind(path, head)
        chunk, cut = find_data(file), ogg_is_cut(file)
        if chunk is not None and chunk.claimed_bytes == 0:
            raise AudioError(_no_sound(path))
        with quiet_libraries():
            source = _Source(path, SoundBytes(file, chunk), chunk, limit_s)
            channel = 0
            if source.channels > 1:
                channel = loudest_bursts(source.blocks(), source.rate_hz, source.channels)
            gatherer = Gatherer(source.rate_hz, source.ceiling)
            for block in source.blocks():
                gatherer.add(block[:, channel])
    claimed_s = source.claimed_s if chunk is None else chunk.claimed_s(gatherer.duration_s)
    warnings = _length_warnings(gatherer.duration_s, claimed_s, broke_off=source.broke_off, cut=cut)
    return gatherer.recording(shown(path.name), source.channels, warnings)


def read_clip(path: Path, *, limit_s: float) -> tuple[np.ndarray, int]:
    """The strongest channel of a short sound file as it is stored, float32, and its rate, Hz.

    Raises:
        AudioError: as `read_recording`.
    """
    with _opened(path) as file:
        _check_kind(path, file.read(HEAD_BYTES))
        chunk = find_data(file)
        with quiet_libraries():
            source = _Source(path, SoundBytes(file, chunk), chunk, limit_s)
            energy = sum((block.astype(np.float64) ** 2).sum(axis=0) for block in source.blocks())
            # Not the mean: two microphones in opposite phase would cancel.
            samples = [block[:, np.argmax(energy)].copy() for block in source.blocks()]
    return np.concatenate(samples), source.rate_hz


def _read_phone(path: Path, file: BinaryIO, head: bytes, phone: str, limit_s: float) -> Recording:
    """Read a phone recording, or the sound of a film."""
    kind = unreadable_kind(head)
    with quiet_libraries():
        sound = PhoneSound(file, phone, shown(path), kind.name if kind else "a phone recording")
        _check_shape(path, FORMATS[0], sound.channels, sound.rate_hz)
        if sound.claimed_s is not None and sound.claimed_s > limit_s:
            raise TooLongError(_too_long(path, sound.claimed_s, limit_s))
        channel = 0
        if sound.channels > 1:
            channel = loudest_bursts(sound.blocks(), sound.rate_hz, sound.channels)
        gatherer = Gatherer(sound.rate_hz)
        for block in sound.blocks():
            gatherer.add(block[:, channel])
            if gatherer.duration_s > limit_s:
                raise TooLongError(_too_long(path, None, limit_s))
    claimed_s = gatherer.duration_s if sound.claimed_s is None else sound.claimed_s
    warnings = _length_warnings(gatherer.duration_s, claimed_s, broke_off=sound.broke_off, cut=False)
    if sound.bad:
        warnings += (Warned("parts", (("damaged", sound.bad), ("parts", sound.packets))),)
    return gatherer.recording(shown(path.name), sound.channels, warnings)


@contextmanager
def _opened(path: Path) -> Iterator[BinaryIO]:
    """The file for reading, if it is an ordinary file with something in it; never waits."""
    try:
        _check_ordinary(path, path.stat())
        # Not blocking, and checked again once open: the name may be a pipe by now.
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except (OSError, ValueError) as problem:
        raise AudioError(_why_not_opened(path, problem)) from None
    with os.fdopen(descriptor, "rb", buffering=BLOCK_SAMPLES) as file:
        facts = os.fstat(descriptor)
        _check_ordinary(path, facts)
        if facts.st_size == 0:
            raise AudioError(_no_sound(path))
        yield file


def _check_ordinary(path: Path, facts: os.stat_result) -> None:
    if stat.S_ISDIR(facts.st_mode):
        raise AudioError(f"{shown(path)} is a folder: give the name of a sound file in it")
    if not stat.S_ISREG(facts.st_mode):
        raise AudioError(f"{shown(path)} is a pipe or a device: save the sound to a file, then give that")


def _why_not_opened(path: Path, problem: OSError | ValueError) -> str:
    """Why a file could not be opened, and the mend."""
    code = problem.errno if isinstance(problem, OSError) else errno.ENOENT
    if code in (errno.ENOENT, errno.ENOTDIR):
        if path.is_symlink():
            return f"{shown(path)} is a link to a file that is not there: give the file itself"
        return f"{shown(path)}: there is no such file: check the name and the folder"
    reasons = {
        errno.EACCES: "reading it is not permitted: copy it to your own folder, or ask its owner",
        errno.EPERM: "reading it is not permitted: copy it to your own folder, or ask its owner",
        errno.ELOOP: "the link leads back to itself: give the file itself",
        errno.ENAMETOOLONG: "the name is too long: give the file a shorter one",
    }
    unknown = f"{problem.strerror}: copy it to this computer, then try again"
    return f"{shown(path)}: {reasons.get(code, unknown)}"


def _check_kind(path: Path, head: bytes) -> None:
    """Refuse what does not begin like a sound file that can be read, saying what it seems to be."""
    kind = unreadable_kind(head)
    if kind is not None:
        raise AudioError(f"{shown(path)} seems to be {kind.name}, which cannot be read: {kind.mend}")
    if not looks_readable(head):
        raise AudioError(f"{shown(path)} is no sound file that can be read: give a {READABLE} file")


def _no_sound(path: Path) -> str:
    return f"{shown(path)} holds no sound: record again"


class _Source:
    """A sound file open in the decoder; its blocks can be gone through more than once.

    Attributes:
        broke_off: whether the last going through ended in an error of the decoder.
    """

    def __init__(self, path: Path, content: SoundBytes, chunk: DataChunk | None, limit_s: float) -> None:
        self.broke_off = False
        self._path, self._content, self._limit_s = path, content, limit_s
        with self._decoder() as sound:
            _check_shape(path, sound.format, sound.channels, sound.samplerate)
            self.rate_hz, self.channels = sound.samplerate, sound.channels
            self.ceiling = _CEILINGS.get(sound.subtype, Ceiling())
            known = 0 < sound.frames < NO_LENGTH_FRAMES
            self.claimed_s = sound.frames / self.rate_hz if known else None
        if chunk is not None and self.claimed_s is not None and self.claimed_s > limit_s:
            raise TooLongError(_too_long(path, self.claimed_s, limit_s))  # what the bytes hold, not a claim

    def blocks(self) -> Iterator[np.ndarray]:
        """The sound from its start, as arrays frames x channels; each is overwritten by the next."""
        self.broke_off = False
        steps = max(1, BLOCK_SAMPLES // self.channels // STEP_FRAMES)
        block = np.empty((steps * STEP_FRAMES, self.channels), np.float32)
        left = int(self._limit_s * self.rate_hz)
        with self._decoder() as sound:
            filled = len(block)
            while filled == len(block):
                filled = self._fill(sound, block)
                self._content.raise_problem()
                left -= filled
                if left < 0:
                    raise TooLongError(_too_long(self._path, self.claimed_s, self._limit_s))
                yield block[:filled]

    def _fill(self, sound: soundfile.SoundFile, block: np.ndarray) -> int:
        """Frames read into `block`: all of it unless the sound ends or breaks off."""
        filled = 0
        while filled < len(block):
            try:
                got = len(sound.read(out=block[filled : filled + STEP_FRAMES]))
            except soundfile.SoundFileError:
                self.broke_off = True
                return filled
            if not got:
                return filled
            filled += got
        return filled

    @contextmanager
    def _decoder(self) -> Iterator[soundfile.SoundFile]:
        """The decoder at the start of the sound."""
        self._content.seek(0)
        try:
            sound = _Straight(self._content)
        except (soundfile.SoundFileError, ValueError, OverflowError):
            self._content.raise_problem()
            raise AudioError(
                f"{shown(self._path)} is damaged, or holds sound in a form that cannot be read: "
                f"record again, or save it as ordinary WAV (PCM, 16-bit)"
            ) from None
        with sound:
            yield sound


class _Straight(soundfile.SoundFile):
    """Read straight through: soundfile would seek after every block, which damaged files do not survive."""

    def seekable(self) -> bool:
        return False


_CEILINGS = {
    "PCM_S8": Ceiling(127 / 128),
    "PCM_U8": Ceiling(127 / 128),
    "ULAW": Ceiling(32124 / 32768),
    "ALAW": Ceiling(32256 / 32768),
    "FLOAT": Ceiling(0.9999, 1.0001),  # may go beyond 1 without being clipped
    "DOUBLE": Ceiling(0.9999, 1.0001),
}
"""Full scale by how samples are stored: the largest value there is, ITU-T G.711 for u-law and A-law."""


def _check_shape(path: Path, kind: str, channels: int, rate_hz: int) -> None:
    """Refuse headers out of bounds before anything is allocated for them."""
    if kind not in FORMATS:
        raise AudioError(f"{shown(path)} is no sound file that can be read: give a {READABLE} file")
    if not 1 <= channels <= MOST_CHANNELS:
        raise AudioError(
            f"{shown(path)} says it has {channels} channels; at most {MOST_CHANNELS} are read: "
            f"save it as mono"
        )
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise AudioError(
            f"{shown(path)} says it was recorded at {rate_hz:,} Hz; {LOWEST_RATE_HZ:,} to "
            f"{HIGHEST_RATE_HZ:,} Hz are read: save it at 44,100 or 48,000 Hz"
        )


def _too_long(path: Path, lasts_s: float | None, limit_s: float) -> str:
    longer = lasts_s is not None and lasts_s > limit_s
    lasts = f"lasts {spoken_duration(lasts_s)}" if longer else f"lasts more than {spoken_duration(limit_s)}"
    minutes = math.ceil(max(lasts_s or 0.0, 2 * limit_s if not longer else 0.0) / 60)
    return (
        f"{shown(path)} {lasts}; at most {spoken_duration(limit_s)} is scored: "
        f"cut the file, or pass --longest {minutes} (minutes)"
    )


def spoken_duration(duration_s: float) -> str:
    """A duration as said: "11.2 s", "2 min 5 s", "3 h 0 min"."""
    if duration_s < 60:
        return f"{duration_s:.1f} s"
    if duration_s < 3600:
        return f"{duration_s // 60:.0f} min {duration_s % 60 // 1:.0f} s"
    return f"{duration_s // 3600:.0f} h {duration_s % 3600 // 60:.0f} min"


def _length_warnings(
    held_s: float, claimed_s: float | None, *, broke_off: bool, cut: bool
) -> tuple[Warned, ...]:
    """Where the file holds less than it says, or does not say."""
    held = ("held", spoken_duration(held_s))
    if claimed_s is None:
        return (Warned("unfinished", (held,)),)
    if claimed_s > held_s + MISSING_S:
        return (Warned("shorter", (held, ("claimed", spoken_duration(claimed_s)))),)
    if broke_off or cut:
        return (Warned("broken-off", (held,)),)
    return ()
