"""The nouns of hearing: a recording, a footfall heard in it, and all that was heard."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np


@dataclass(frozen=True)
class Warned:
    """What the teacher should know of a recording.

    Attributes:
        id: which it is.
        values: what its sentence names.
    """

    id: str
    values: tuple[tuple[str, object], ...] = ()


@dataclass(frozen=True, eq=False)
class Recording:
    """A recording ready for analysis.

    Attributes:
        name: of the file, as shown to the teacher.
        samples: mono float32, full scale 1, DC removed, at `sample_rate_hz`; of a long recording they lie
            in a nameless temporary file and are read from it as they are used.
        sample_rate_hz: rate of `samples`, 16,000 whatever the file has: feet are heard below 8 kHz.
        file_rate_hz: rate of the file itself, shown to the teacher.
        channels: channels of the file; the one with the most footfall energy was taken.
        duration_s: of the sound in the file, s.
        clipped_percent: share of the file's samples at full scale, %.
        warnings: what the teacher should know about the file (`cuekit.telling.recording_told`).
    """

    name: str
    samples: np.ndarray
    sample_rate_hz: int
    file_rate_hz: int
    channels: int
    duration_s: float
    clipped_percent: float
    warnings: tuple[Warned, ...]


@dataclass(frozen=True)
class Footfall:
    """A foot, or both landing together, meeting the floor.

    Attributes:
        time_s: onset of contact at the microphone, s from the start of the recording.
        level_db: peak level of the landing, dB against full scale.
        confidence: probability that this is a footfall, 0-1.
        spread_s: between the first and last contact of one landing, s; 0 for a single sound.
    """

    time_s: float
    level_db: float
    confidence: float = 1.0
    spread_s: float = 0.0


class Heard(StrEnum):
    """Whether enough was heard to say anything."""

    CLEAR = "clear"
    SOME_DOUBT = "some doubt"
    NOT_ENOUGH = "not enough"


class Doubt(StrEnum):
    """Why not all could be heard clearly; the words for it are in `cuekit.telling.phrases`."""

    NONE = ""
    NOTHING = "nothing"  # no footfall at all
    FEW = "few"
    NOISE = "noise"  # nearly as loud as the feet
    OTHERS = "others"  # voices, a ball, a second person


@dataclass(frozen=True)
class Hearing:
    """What was heard in a recording.

    Attributes:
        footfalls: in order of time.
        rejected: sounds heard but judged not to be footfalls (speech, cue, ball), in order of time.
        heard: whether enough was heard.
        reason: why not clearly.
        noise_db: level of the room between sounds, dB against full scale.
    """

    footfalls: tuple[Footfall, ...]
    rejected: tuple[Footfall, ...]
    heard: Heard
    reason: Doubt
    noise_db: float
