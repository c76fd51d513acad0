"""Recordings on the disk while they run, and what becomes of them.

A take is written block by block to a WAV file, the one kind of which a killed program leaves every
sample it wrote. After scoring it is deleted, unless the teacher asked to keep it, for a reason and
until a date. What a crash left behind is found at the next start.

A take in the making is written to several times a second; one that has not been for ten seconds is
nobody's any more. (Looking for the program that made it would tell no more, and process numbers are
given out again.)
"""

from __future__ import annotations

import datetime
import json
import math
import secrets
import shutil
import time
import weakref
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
import soundfile

from cuekit.bouts.one_recording import hold, is_held
from cuekit.cues.sounds import SAMPLE_RATE_HZ
from cuekit.errors import AudioError, PatternError, RecordError
from cuekit.files.atomic import write_text
from cuekit.files.filenames import shown
from cuekit.files.places import state_place
from cuekit.files.plain_text import read_text

ABANDONED_AFTER_S = 10.0
LEAST_FREE_BYTES = 100_000_000
"""Room asked of the disk before a take: ten minutes need 58 MB."""

_SAMPLE_BYTES = 2
_HEADER_BYTES = 44


@dataclass(frozen=True)
class LeftTake:
    """A recording a crash left behind.

    Attributes:
        path: where it is.
        duration_s: of the sound in it, s.
        begun: when it was begun, local time.
    """

    path: Path
    duration_s: float
    begun: datetime.datetime


@dataclass(frozen=True)
class KeptTake:
    """A recording kept on purpose.

    Attributes:
        path: where it is.
        reason: why it was kept.
        delete_by: the day it is to be gone.
        gaps_s: where the device lost sound, s.
    """

    path: Path
    reason: str
    delete_by: datetime.date
    gaps_s: tuple[float, ...] = ()


class TakeFile:
    """A recording in the making: mono, 16 bit, 48 kHz.

    Parameters:
        folder: of the takes; made where it is missing, for this account only.

    Raises:
        AudioError: the folder cannot be written to, the disk is nearly full, or another recording is being
            made there.
    """

    def __init__(self, folder: Path) -> None:
        self.trouble = ""
        self._frames = 0
        try:
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            free = shutil.disk_usage(folder).free
            if free < LEAST_FREE_BYTES:
                raise AudioError(
                    f"only {free / 1e6:.0f} MB are free where recordings go ({shown(folder)}), and a long "
                    f"one needs {LEAST_FREE_BYTES / 1e6:.0f}: make room first"
                )
            self.path = folder / f"take-{datetime.datetime.now():%Y%m%d-%H%M%S}-{secrets.token_hex(3)}.wav"
            self.path.touch(mode=0o600, exist_ok=False)
            self._held = _held(self.path)
            if self._held is not None:
                weakref.finalize(self, self._held.close)
            self._file = soundfile.SoundFile(self.path, "w", SAMPLE_RATE_HZ, 1, "PCM_16", format="WAV")
        except (OSError, soundfile.LibsndfileError) as problem:
            raise AudioError(
                f"cannot record to {shown(folder)} ({_reason(problem)}): "
                "set another folder with --takes FOLDER"
            ) from None
        others = [other for other in folder.glob("take-*.wav") if other != self.path]
        if any(is_held(other) for other in others):
            self.discard()
            raise AudioError("another recording is running on this computer: end it first, then try again")

    @property
    def duration_s(self) -> float:
        """What was written so far, s."""
        return self._frames / SAMPLE_RATE_HZ

    def write(self, block: np.ndarray) -> None:
        """Append; where the disk refuses, what is there is kept and `trouble` says so from then on."""
        if self.trouble:
            return
        try:
            self._file.write(block)
            self._frames += block.size
        except (OSError, soundfile.LibsndfileError):
            self.trouble = (
                f"recording stopped after {self.duration_s:.1f} s, as on a full disk: make room on the disk "
                f"of {shown(self.path.parent)}"
            )

    def close(self) -> None:
        """Complete the file; closing twice does no harm."""
        if self._held is not None:
            self._held.close()
        try:
            self._file.close()
        except (OSError, soundfile.LibsndfileError):  # on a full disk the header keeps an old length
            self.trouble = self.trouble or "the recording could not be completed: make room on the disk"

    def discard(self) -> None:
        """Delete the recording.

        Raises:
            RecordError: the system does not let it go.
        """
        self.close()
        discard(self.path)

    def keep(self, reason: str, delete_by: datetime.date, gaps_s: tuple[float, ...] = ()) -> KeptTake:
        """Keep the recording; see `keep`."""
        self.close()
        return keep(self.path, reason, delete_by, gaps_s)


def _held(path: Path) -> BinaryIO | None:
    """The take marked as being made; None where the file system has no locks."""
    try:
        return hold(path)
    except OSError:
        return None


def takes_folder() -> Path:
    """Where takes go unless told otherwise: a folder of this account's that no other program shares.

    Raises:
        AudioError: there is no home folder.
    """
    place = state_place()
    if place is None:
        raise AudioError("there is no home folder for recordings: say where with --takes FOLDER")
    return place / "takes"


def discard(path: Path) -> None:
    """Delete a take, and what is noted of it.

    Raises:
        RecordError: the system does not let it go.
    """
    try:
        path.unlink(missing_ok=True)
        _note(path).unlink(missing_ok=True)
    except OSError as problem:
        raise RecordError(
            f"the recording {shown(path)} could not be deleted ({_reason(problem)}): delete it by hand"
        ) from None


def keep(
    path: Path, reason: str, delete_by: datetime.date, gaps_s: tuple[float, ...] = ()
) -> KeptTake:
    """Keep a finished take for a stated reason until a day, and where it has gaps.

    Raises:
        RecordError: no reason is given, or the day is not one to come.
    """
    reason = " ".join(reason.split())
    if not reason:
        raise RecordError("a recording is kept for a reason: say which (for example: for the IEP meeting)")
    if delete_by <= datetime.date.today():
        raise RecordError(f"the day to delete a recording must be one to come, got {delete_by}")
    kept = path.with_name(path.name.replace("take-", "kept-", 1))
    note = {"reason": reason[:500], "delete_by": delete_by.isoformat(), "gaps_s": gaps_s}
    write_text(_note(kept), json.dumps(note, ensure_ascii=False) + "\n", refusal=RecordError)
    path.replace(kept)
    return KeptTake(kept, reason[:500], delete_by, gaps_s)


def left_takes(folder: Path, *, now_s: float | None = None) -> tuple[LeftTake, ...]:
    """Recordings that a crash left behind, the oldest first; those without sound are deleted.

    Parameters:
        folder: of the takes.
        now_s: seconds since 1970; None for now.
    """
    now = time.time() if now_s is None else now_s
    left = []
    for path in sorted(folder.glob("take-*.wav")):
        facts = path.stat()
        if now - facts.st_mtime < ABANDONED_AFTER_S:
            continue
        # The header of an unfinished file tells nothing: its size does.
        duration_s = max(0, facts.st_size - _HEADER_BYTES) / _SAMPLE_BYTES / SAMPLE_RATE_HZ
        if duration_s == 0.0:
            discard(path)
            continue
        begun = datetime.datetime.fromtimestamp(facts.st_mtime - duration_s)
        left.append(LeftTake(path, duration_s, begun))
    return tuple(left)


def kept_takes(folder: Path) -> tuple[KeptTake, ...]:
    """Recordings kept on purpose; one whose note is gone or spoilt counts as due."""
    return tuple(_kept(path) for path in sorted(folder.glob("kept-*.wav")))


def noted_gaps_s(path: Path) -> tuple[float, ...]:
    """Where the device lost sound in a kept take, s; none for any other recording."""
    return _kept(path).gaps_s if path.name.startswith("kept-") else ()


def _kept(path: Path) -> KeptTake:
    try:
        note = json.loads(read_text(_note(path), "note"))
        gaps_s = tuple(sorted(float(gap_s) for gap_s in note.get("gaps_s", ())))
        day = datetime.date.fromisoformat(note["delete_by"])
        return KeptTake(path, str(note["reason"]), day, tuple(filter(math.isfinite, gaps_s)))
    except (PatternError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return KeptTake(path, "unknown: its note is missing", datetime.date.min)


def due(kept: tuple[KeptTake, ...], today: datetime.date) -> tuple[KeptTake, ...]:
    """Those that should be gone by that day."""
    return tuple(take for take in kept if take.delete_by <= today)


def _note(path: Path) -> Path:
    return path.with_suffix(".json")


def _reason(problem: Exception) -> str:
    reason = problem.strerror if isinstance(problem, OSError) else str(problem)
    return (reason or "no reason given")[:80]
